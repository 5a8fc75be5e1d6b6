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

// A title is heard in one breath: twelve words at most, whatever comes first, however long its name, and whatever is
// done today; a number with its unit is one.
func TestTitlesHaveTwelveWords(t *testing.T) {
	long := "new-drop"
	for _, lang := range []string{"en", "fr"} {
		for i := range fixture().Ranking {
			for _, c := range []func(a *advice.Advice){
				func(*advice.Advice) {},
				func(a *advice.Advice) { a.Ranking[i].IsToday = true },
				func(a *advice.Advice) { a.Ranking[i].ChanceOver, a.Ranking[(i+1)%2].ChanceOver = 0, 0.4 },
				func(a *advice.Advice) {
					a.Ranking[i].Practice, a.Ranking[i].Every, a.Ranking[i].With = practice.Key(long), 10, "check-valve"
				},
				func(a *advice.Advice) {
					for k := range a.Pool.Gains {
						a.Pool.Gains[k].LowPct = -1
					}
				},
			} {
				a := fixture()
				a.Recommended = i
				c(a)
				weighed := *a
				weighed.Weighed = &advice.Weighed{Prospect: &advice.Prospect{Summary: sure.Summary{
					Rows: []sure.Row{{Season: sure.Outlook{Poor: -1234.56}}}}}}
				w := Of(a, say.In(lang))
				titles := slices.Concat(w.barsSay(), w.netsSay(), Of(&weighed, w.V).outlooksSay())
				for _, s := range w.Talk("", "", nil) {
					if !s.Opening {
						titles = append(titles, strings.TrimSuffix(s.Title, w.V.Text("%s, continued", "")))
					}
				}
				for _, title := range titles {
					n := 0
					for word := range strings.SplitSeq(title, " ") {
						if strings.Trim(word, "«»–:$,.%\u00a0\u202f") != "" {
							n++
						}
					}
					if n > 12 {
						t.Errorf("%s: %d words: %s", lang, n, title)
					}
				}
			}
		}
	}
}

// Who speaks reads a sentence first, not a row of a table.
func TestNotesBeginWithASentence(t *testing.T) {
	for _, s := range Of(fixture(), say.In("en")).Talk("", "", nil) {
		if len(s.Notes) > 0 && !strings.HasPrefix(s.Notes[0], s.Title) {
			t.Errorf("%s: %s", s.Title, s.Notes[0])
		}
	}
}

// The second slide is for who hears nothing else: what to do, what it brings, how surely, and why; the last does not
// tell the numbers again.
func TestATalkBeginsWithTheAnswer(t *testing.T) {
	for _, lang := range []string{"en", "fr"} {
		a := fixture()
		a.Ranking[a.Recommended].ChanceBest = new(0.37)
		w := Of(a, say.In(lang))
		o, _ := a.Best()
		list := w.Talk("", "", nil)
		said := list[1].Title + " " + strings.Join(list[1].Points, " ")
		for _, want := range []string{w.Deed(), w.V.Money(o.Today.Average(), w.currency()), w.V.Percent(o.GainPct),
			Chance(w.V, *o.ChanceBest)} {
			if !strings.Contains(said, want) {
				t.Errorf("%s: no %q in %s", lang, want, said)
			}
		}
		last := list[len(list)-1]
		if !strings.Contains(last.Title, w.Deed()) ||
			strings.Contains(strings.Join(last.Points, " "), w.V.Money(o.Today.Average(), w.currency())) {
			t.Errorf("%s: %q", lang, last.Title)
		}
	}
}

// Nobody is told to give up what is done today on the word of one study.
func TestOneStudyChangesNothing(t *testing.T) {
	for alone, want := range map[int]string{1: "too little was studied to change anything",
		2: "unsanitized, by little"} {
		a := fixture()
		none := advice.Option{Practice: practice.Unsanitized, Verdict: practice.Permitted, Studied: true}
		none.Today.Net = 0.04
		a.Ranking, a.Recommended = append([]advice.Option{none}, a.Ranking...), 0
		for i := range a.Ranking {
			if o := &a.Ranking[i]; o.Practice == practice.NewSpout {
				o.IsToday, o.ChanceOver = true, 0.43
			}
		}
		for i := range a.Pool.Gains {
			a.Pool.Gains[i].Trials, a.Pool.Gains[i].Studies = alone, alone
		}
		w := Of(a, say.In("en"))
		if deed := w.Deed(); deed != want {
			t.Errorf("%d studies: %s", alone, deed)
		}
		said := w.Recommendation()[0]
		if strings.HasPrefix(said, "Too little was studied to change anything from today's practice, new spout each "+
			"season.") != (alone == 1) {
			t.Errorf("%d studies: %s", alone, said)
		}
	}
}
