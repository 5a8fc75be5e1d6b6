package advice_test

import (
	"testing"

	"spile/advice"
	"spile/plan"
	"spile/sheet"
)

func planned(t testing.TB, name string) *plan.Plan {
	t.Helper()
	in, _, err := sheet.Read("../demo/evidence.csv", "../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	b, err := sheet.Sugarbush("../demo/sugarbush-"+name+".toml", in)
	if err != nil {
		t.Fatal(err)
	}
	p, err := new(advice.Memo).Plan(in, b)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The plan keeps within hours and cash, no simple rule that does brings more, and the gap is never negative.
func TestPlanOfTheDemo(t *testing.T) {
	for _, name := range []string{"gravity", "organic", "quebec"} {
		p := planned(t, name)
		t.Logf("%s: profit %.0f (%.0f to %.0f), uncapped %.0f, gap %.2f, left %.0f, unplanned %d", name, p.Profit.Best, p.Profit.Low, p.Profit.High, p.Uncapped, p.Gap, p.Left, len(p.Unplanned))
		if p.Gap > 0.01*p.Profit.Best {
			t.Errorf("%s: a gap of %.1f %%", name, 100*p.Gap/p.Profit.Best)
		}
		if p.Gap < 0 || p.Bound < p.Profit.Best || p.Uncapped < p.Profit.Best-1e-6 {
			t.Errorf("%s: profit %v, bound %v, uncapped %v", name, p.Profit.Best, p.Bound, p.Uncapped)
		}
		for _, w := range p.Worth {
			t.Logf("  %q cap %.0f used %.0f, worth %.2f", w.Window, w.Cap, w.Used, w.Mean)
			for _, u := range w.Used {
				if u > w.Cap*(1+1e-6) {
					t.Errorf("%s: %s takes %v of %v", name, w.Window, u, w.Cap)
				}
			}
		}
		for _, r := range p.Rules {
			t.Logf("  rule last=%v %s/%d: %.0f, fits %v, permitted %v", r.Last, r.Practice, r.Every, r.Profit, r.Fits, r.Permitted)
			if r.Fits && r.Permitted && r.Profit > p.Profit.Best+p.Gap+1e-6 {
				t.Errorf("%s: the rule %s/%d brings %v, the plan %v", name, r.Practice, r.Every, r.Profit, p.Profit.Best)
			}
		}
		for _, s := range p.Sections {
			text := ""
			for _, x := range s.Steps {
				text += " " + string(x.Practice)
			}
			t.Logf("  %s:%s", s.Section.Name, text)
		}
	}
}
