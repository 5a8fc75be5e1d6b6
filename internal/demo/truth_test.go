package demo

import (
	"math"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/trade/practice"
)

// The whole chain on the scenario finds the truth that it was drawn from, within its intervals; and the answer is worth
// showing: several choices lie close together at the top.
func TestTruth(t *testing.T) {
	in, err := sheet.Read("evidence.csv", "prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range in.Notes {
		t.Errorf("the scenario reads with a warning: %s", n.English())
	}
	a, err := new(advice.Memo).Of(advice.Usual(in))
	if err != nil {
		t.Fatal(err)
	}
	found := map[practice.Key]bool{}
	for _, g := range a.Pool.Gains {
		found[g.Treatment.Practice] = true
		if want := 100 * truth[string(g.Treatment.Practice)]; want < g.LowPct || want > g.HighPct {
			t.Errorf("%s: the true gain of %.0f %% lies outside %.0f to %.0f %%", g.Treatment.Practice, want, g.LowPct,
				g.HighPct)
		}
	}
	for k := range truth {
		if k != "unsanitized" && !found[practice.Key(k)] {
			t.Errorf("%s is not estimable", k)
		}
	}
	if !a.Pool.Ageing.Estimable {
		t.Error("ageing is not estimable")
	}
	for _, c := range a.Pool.Ageing.Curves {
		if c.HalfLifeLow > halfLife || c.HalfLifeHigh < halfLife {
			t.Errorf("the true half-life of %v seasons lies outside %v to %v", halfLife, c.HalfLifeLow, c.HalfLifeHigh)
		}
	}
	close := 0
	for _, o := range a.Ranking {
		if o.Studied && o.Verdict == practice.Permitted && math.Abs(o.Today.Net-a.Ranking[0].Today.Net) < 0.5 {
			close++
		}
	}
	if close < 3 || !a.Ranking[0].Studied {
		t.Errorf("%d choices lie within $0.50 of the first", close)
	}
}
