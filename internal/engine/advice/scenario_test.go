package advice_test

import (
	"math"
	"testing"

	"spile/internal/engine/plan"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// A scenario is the answer to prices that say the same, with what is limited or not: its nets on average, and with them
// what comes first, are those of a ranking asked with them.
func TestScenariosAreAnswers(t *testing.T) {
	in := scenario(t).Input
	in.Prices = in.Prices.Clone()
	in.Prices.Sells.CapacityL = &price.Value{Best: 75.7} // a poor year has room that others have not
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
				if o.Choice() == x.Choice() && math.Abs(o.Today.Average()-x.Today.Average()) > 1e-9 {
					t.Errorf("%s, %s: nets %v, asked by itself %v", s.ID, o.ID(), o.Today.Average(),
						x.Today.Average())
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

// A plan in the usual state is the plan; what is sold at low and high prices brings less and more. Made anew for a
// state it brings no less there than the plan does, and as much as a plan asked for with the prices of that state.
func TestPlanInStates(t *testing.T) {
	for _, name := range []string{"gravity", "organic"} {
		in, b := ofDemo(t, name)
		p := planned(t, name)
		at := map[string]plan.InState{}
		for _, s := range p.States {
			at[s.ID] = s
			brings := s.Expected.Profit + s.More
			if s.Fits && s.More < 0 || s.Anew == nil && s.More != 0 {
				t.Errorf("%s, %s: made anew it brings %v more", name, s.ID, s.More)
			}
			if s.Of == nil {
				continue
			}
			x := b
			x.Prices, x.Sections = *s.Of(&b.Prices), nil
			times := x.Prices.Baseline.Yield.Best / b.Prices.Baseline.Yield.Best
			for _, y := range b.Sections {
				if y.YieldL != nil {
					y.YieldL = new(times * *y.YieldL)
				}
				x.Sections = append(x.Sections, y)
			}
			want, err := memo.Plan(in, x)
			if err != nil {
				t.Fatal(err)
			}
			// what is sold is not unsure in a state of its price, and what else is, is drawn otherwise
			slack := 0.01*math.Abs(want.Profit.Expected) + want.Slight()/want.PerTap(1)
			if math.Abs(brings-want.Profit.Expected) > slack {
				t.Errorf("%s, %s: made anew it brings %v, a plan asked for then %v", name, s.ID, brings,
					want.Profit.Expected)
			}
		}
		u := at["usual"]
		close := func(x, y float64) bool { return math.Abs(x-y) <= 1e-9*math.Abs(y)+1e-9 }
		if u.Anew != nil || !close(u.Best.Profit, p.Profit.Best) || !close(u.Expected.Profit, p.Profit.Expected) ||
			p.OverLast != nil && (!close(*u.Best.OverLast, p.OverLast.Best) ||
				!close(*u.Expected.OverLast, p.OverLast.Expected)) {
			t.Errorf("%s: usual is %+v, the plan %+v", name, u, p.Profit)
		}
		if at["low-price"].Expected.Profit >= u.Expected.Profit ||
			at["high-price"].Expected.Profit <= u.Expected.Profit {
			t.Errorf("%s: %+v", name, at)
		}
	}
}

// Where syrup brings next to nothing no spout is bought: the plan made anew says what is done then.
func TestAdviceChangesInAState(t *testing.T) {
	in, b := ofDemo(t, "organic")
	b.Prices = *b.Prices.Clone()
	b.Prices.Scenarios = []price.Scenario{{Name: "as it is", Yield: 1}, {Name: "syrup for nothing", Price: 0.02}}
	in.Prices = &b.Prices
	p, err := memo.Plan(in, b)
	if err != nil {
		t.Fatal(err)
	}
	// the best guess is at the best guesses, whatever was drawn last
	if s := p.States[len(p.States)-2]; math.Abs(s.Best.Profit-p.Profit.Best) > 0.01*p.Profit.Best {
		t.Errorf("as it is the plan brings %v at the best guesses, and itself says %v", s.Best.Profit, p.Profit.Best)
	}
	s := p.States[len(p.States)-1]
	if s.ID != "syrup for nothing" || s.Anew == nil || s.More <= 0 {
		t.Fatalf("%+v", s)
	}
	for i, steps := range s.Anew {
		if steps[0].Practice != practice.Unsanitized {
			t.Errorf("%s still gets %s", p.Sections[i].Section.Name, steps[0].Practice)
		}
	}
}
