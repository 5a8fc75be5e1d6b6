package advice_test

import (
	"math"
	"testing"

	"spile/internal/trade/price"
)

// A scenario is the answer to prices that say the same: its best guesses are those of a ranking asked with them.
func TestScenariosAreAnswers(t *testing.T) {
	in := scenario(t).Input
	in.Prices = in.Prices.Clone()
	in.Prices.Scenarios = []price.Scenario{{Name: "dear labour", Wage: 1.5}, {Name: "glut", Price: 0.6, Yield: 1.3}}
	a, err := memo.Ranked(in)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, s := range a.Scenarios() {
		seen[s.ID] = true
		asked := in
		asked.Prices = s.Input.Prices
		want, err := memo.Ranked(asked)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range want.Ranking {
			for _, o := range s.Ranking {
				if o.Choice() == x.Choice() && math.Abs(o.Today.Net-x.Today.Net) > 1e-9 {
					t.Errorf("%s, %s: nets %v, asked by itself %v", s.ID, o.ID(), o.Today.Net, x.Today.Net)
				}
			}
		}
		p, was := s.Input.Prices, in.Prices
		if s.ID == "glut" && (math.Abs(p.Sells.Retail.Price.Best/was.Sells.Retail.Price.Best-0.6) > 1e-12 ||
			math.Abs(p.Baseline.Yield.Best/was.Baseline.Yield.Best-1.3) > 1e-12) {
			t.Errorf("a glut has prices %v and yields %v", p.Sells.Retail.Price, p.Baseline.Yield)
		}
		if s.ID == "low-price" && p.Sells.Grades[0].Price.Best != *was.Sells.Grades[0].Price.Low {
			t.Errorf("a low price is %v", p.Sells.Grades[0].Price)
		}
	}
	for _, id := range []string{"low-price", "usual", "high-price", "poor-year", "dear labour", "glut"} {
		if !seen[id] {
			t.Errorf("no scenario %s", id)
		}
	}
}

// A plan in the usual state is the plan; what is sold at low and high prices brings less and more.
func TestPlanInStates(t *testing.T) {
	for _, name := range []string{"gravity", "organic", "quebec"} {
		p := planned(t, name)
		at := map[string]float64{}
		for _, s := range p.States {
			at[s.ID] = s.Profit
			if s.ID == "usual" && p.OverLast != nil && (s.OverLast == nil ||
				math.Abs(*s.OverLast-p.OverLast.Best) > 1e-6*math.Abs(p.OverLast.Best)+1e-6) {
				t.Errorf("%s: over last season it is %v, the plan's %v", name, *s.OverLast, p.OverLast.Best)
			}
		}
		if u := at["usual"]; math.Abs(u-p.Profit.Best) > 1e-6*p.Profit.Best || at["low-price"] >= u ||
			at["high-price"] <= u {
			t.Errorf("%s: %v; the plan has %v", name, at, p.Profit.Best)
		}
	}
}
