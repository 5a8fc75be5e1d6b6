package show

import (
	"strings"
	"testing"

	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
	"spile/internal/view/figure"
	"spile/internal/view/say"
)

// text is a table as a terminal shows it, with plain blanks.
func text(t *testing.T, x Table) string {
	t.Helper()
	var b strings.Builder
	if err := x.Terminal(&b, 200); err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(b.String(), "\u00a0", " ")
}

// The ends of the range looked at are no interval that studies give.
func TestHalfLifeBounds(t *testing.T) {
	w := Of(fixture(), say.In("en"))
	for want, c := range map[string]pool.Curve{
		"1.1 to 6.4": {HalfLifeLow: 1.1, HalfLifeHigh: 6.4},
		"from 1.1; not bounded above by these studies":  {HalfLifeLow: 1.1, HalfLifeHigh: pool.LongestHalfLife},
		"up to 6.4; not bounded below by these studies": {HalfLifeLow: pool.ShortestHalfLife, HalfLifeHigh: 6.4},
		"not bounded by these studies": {HalfLifeLow: pool.ShortestHalfLife,
			HalfLifeHigh: pool.LongestHalfLife},
	} {
		if got := w.halfLives(c); got != want {
			t.Errorf("%v to %v: %q, want %q", c.HalfLifeLow, c.HalfLifeHigh, got, want)
		}
	}
}

// A study that no chain links to unsanitized is in no gain, and its row says so.
func TestUnlinkedStudyIsOut(t *testing.T) {
	a := fixture()
	a.Pool.NotEstimable = []practice.Key{practice.CheckValve}
	got := text(t, Of(a, say.In("en")).Evidence())
	if n := strings.Count(got, "out: no chain of studies links it to unsanitized"); n != 1 {
		t.Errorf("%d rows are out, want 1:\n%s", n, got)
	}
}

// A plain mean of fewer studies than the pooled gain says of how many.
func TestPlainMeanSaysItsStudies(t *testing.T) {
	if got := text(t, Of(fixture(), say.In("en")).Gains()); !strings.Contains(got, "a plain mean of 5 comparisons") {
		t.Errorf("the check valve's plain mean is of 5 of its 7 studies:\n%s", got)
	}
}

// One way to tell the age of drops in tables and figures: seasons in use, 0 in the first.
func TestOneWayToTellAge(t *testing.T) {
	w := Of(fixture(), say.In("en"))
	x := w.Ageing()
	if x.Rows[0].Cells[0].Text != "0" || x.Rows[0].ID != "0" {
		t.Errorf("the first season is %q, want 0", x.Rows[0].Cells[0].Text)
	}
	if got := w.Treatment(practice.Treatment{Practice: practice.NewDrop, DropAge: 2}); got != "new drop, drop age 2" {
		t.Error(got)
	}
}

// Money that counts less than the whole gain says so in the sentence and below the table.
func TestFarmAdjustIsSaid(t *testing.T) {
	a := fixture()
	w := Of(a, say.In("en"))
	said := func() (table, sentence bool) {
		return strings.Contains(text(t, w.Ranking()), "Money counts 90 % of the gain"),
			strings.Contains(strings.ReplaceAll(w.Recommendation()[0], "\u00a0", " "),
				"A farm is taken to get 90 % of that gain.")
	}
	if table, sentence := said(); table || sentence {
		t.Error("all of the gain counts, and is said not to")
	}
	a.Input.Prices.FarmAdjust.Best = 0.9
	if table, sentence := said(); !table || !sentence {
		t.Errorf("farm_adjust 0.9 is said below the table: %v, in the sentence: %v", table, sentence)
	}
}

// The figures say what a ring is, name the curves in words of an audience, and speak of money only with prices.
func TestFigureWords(t *testing.T) {
	a := fixture()
	w := Of(a, say.In("en"))
	if w.Intervals().Key.Out == "" {
		t.Error("what is out has no word in the key")
	}
	f := w.AgeingFigure()
	if f.Gain.Curves[0].Name != "same part lost each season" ||
		f.Gain.Curves[1].Name != "same amount lost each season" {
		t.Errorf("curves %q and %q", f.Gain.Curves[0].Name, f.Gain.Curves[1].Name)
	}
	for _, lang := range []string{"en", "fr"} {
		fig := Of(a, say.In(lang)).AgeingFigure()
		if svg := string(fig.Draw(figure.Slide).SVG()); strings.Contains(svg, "…") {
			t.Errorf("%s: a name of the key is cut on a slide", lang)
		}
	}
	a.Rotation.Priced = false
	if f := w.AgeingFigure(); strings.Contains(f.Desc, "net") {
		t.Errorf("without prices: %q", f.Desc)
	}
	if got := w.Bars().Groups[3].Value; got != "8\u00a0%" {
		t.Errorf("a mean of %q beside bars without tenths", got)
	}
}

// A dollar of another country is not a bare one.
func TestDollarsAreTold(t *testing.T) {
	if got := say.In("en").Money(1.5, "CAD"); got != "CA$1.50" {
		t.Error(got)
	}
}
