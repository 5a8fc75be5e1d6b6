package show

import (
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/engine/sure"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
)

// The titles of a talk are true of what was found, not of what is found as a rule.
func TestTitlesOfATalkAreTrue(t *testing.T) {
	chemical := func(o advice.Option) bool {
		p, _ := practice.Shipped().Find(o.Practice)
		return p.Chemical()
	}
	low := func(a *advice.Advice) {
		for i := range a.Pool.Gains {
			a.Pool.Gains[i].LowPct = -1
		}
	}
	alike := func(a *advice.Advice) { a.Ranking[1].ChanceOver = 0.4 }
	today := func(a *advice.Advice) { a.Ranking[0].IsToday = true }
	paid := func(a *advice.Advice) {
		a.Input.Over = 2
		for i := range a.Ranking {
			a.Ranking[i].Way = &advice.Way{Cash: []float64{-1, 3}, Payback: 2}
		}
	}
	young := func(a *advice.Advice) {
		a.Rotation.Best = 1
		for i := range a.Rotation.Intervals {
			a.Rotation.Intervals[i].Studied = i == 0
		}
	}
	for name, c := range map[string]struct {
		change     func(a *advice.Advice)
		want, lack string
	}{
		"settled": {func(*advice.Advice) {}, "Check-valve spout each season gave 63\u00a0% more sap",
			"not settled"},
		"held back":         {func(*advice.Advice) {}, "Held back here: 1 of ", "Nothing that was compared"},
		"a chemical":        {func(*advice.Advice) {}, "Chemicals and valves: the label is the law", "Cautions"},
		"what to do":        {func(*advice.Advice) {}, "What to do: check-valve spout each season", ", by little"},
		"the interval":      {low, "more sap, which is not settled", "Surely"},
		"alike":             {alike, "What to do: check-valve spout each season, by little", "stay with"},
		"today comes first": {today, "What to do: stay with check-valve spout each season", "by little"},
		"paid back":         {paid, "Check-valve spout each season is paid back in season 2", "When a change"},
		"one interval":      {young, "Of rotations, only every season was studied", "pays best"},
		"no chemical": {func(a *advice.Advice) { a.Ranking = slices.DeleteFunc(a.Ranking, chemical) }, "Cautions",
			"the label is the law"},
		"all permitted": {func(a *advice.Advice) {
			held := func(o advice.Option) bool { return o.Verdict != practice.Permitted }
			a.Ranking = slices.DeleteFunc(a.Ranking, held)
		}, "Nothing that was compared is held back here", "Held back here"},
		"one caveat of one": {func(a *advice.Advice) {
			a.CaveatEffects = []advice.CaveatEffect{{Best: "new-drop/3"}}
		}, "Leaving out the one caveat changes the answer", "1 of 1"},
	} {
		a := fixture()
		c.change(a)
		var titles []string
		for _, s := range Of(a, say.In("en")).Talk("", "", nil) {
			titles = append(titles, s.Title)
		}
		said := strings.Join(titles, "\n")
		if !strings.Contains(said, c.want) || strings.Contains(said, c.lack) {
			t.Errorf("%s: no %q, or %q, among\n%s", name, c.want, c.lack, said)
		}
	}
}

// What a hall must be told is not left out for want of room: what does not fit one slide stands on the next.
func TestNothingUnknownIsLeftOut(t *testing.T) {
	a := fixture()
	a.Pool.NotEstimable = nil
	for range 9 {
		a.Pool.NotEstimable = append(a.Pool.NotEstimable, practice.SilverSpout)
	}
	told := 0
	for _, s := range Of(a, say.In("fr")).Talk("", "", nil) {
		if strings.HasPrefix(s.Title, "Ce que nous ne savons pas") {
			told += len(s.Points)
		}
	}
	if want := len(Of(a, say.In("fr")).Open()); told != want {
		t.Errorf("%d of %d", told, want)
	}
}

// A poor spring is everywhere one in ten, not one in twenty.
func TestAPoorSpringIsOneInTen(t *testing.T) {
	for poor, want := range map[float64]string{-0.42: "One spring in ten loses $0.42 a tap or more against today",
		0.1: "Even a poor spring loses nothing against today"} {
		a := fixture()
		a.Weighed = &advice.Weighed{Prospect: &advice.Prospect{Summary: sure.Summary{Rows: []sure.Row{{
			Season: sure.Outlook{P5: -0.77, Poor: poor}}}}}}
		if said := Of(a, say.In("en")).outlooksSay(); !slices.Contains(said, want) {
			t.Errorf("%v: %q", poor, said)
		}
	}
}

// Of one interval alone none is called the best, and no chance is told of it.
func TestOneIntervalIsNotTheBest(t *testing.T) {
	a := fixture()
	a.Rotation.Best, a.Rotation.Chances = 1, true
	a.Rotation.Intervals = a.Rotation.Intervals[:1]
	a.Rotation.Intervals[0].Every, a.Rotation.Intervals[0].Studied, a.Rotation.Intervals[0].Best = 1, true, 1
	w := Of(a, say.In("en"))
	if said := w.Flat(); strings.Contains(said, "Best") {
		t.Error(said)
	}
	table := w.Rotation()
	for i, c := range table.Columns {
		if c.ID == "chance_best" && table.Rows[0].Cells[i].Number != nil {
			t.Errorf("a chance of %v", *table.Rows[0].Cells[i].Number)
		}
	}
}
