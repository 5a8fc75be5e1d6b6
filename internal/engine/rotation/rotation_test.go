package rotation

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/engine/budget"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, within)
	}
}

// simple is prices of which only a renewal costs anything: one piece at the price given, and syrup pays 1 a kilogram of
// a sap so sweet that a litre makes about that.
func simple(piece float64) *price.Prices {
	p := price.Default()
	p.Currency, p.AsOf = "USD", "2026-01-15"
	p.Baseline = price.Baseline{Yield: price.Value{Best: 60},
		Done: price.Done{Treatment: practice.Treatment{Practice: practice.Unsanitized}}, Brix: price.Value{Best: 2}}
	p.Sells.Grades = []price.Grade{{Name: "all", Share: 1, Price: price.Value{Best: 4}}}
	p.Materials = []price.Material{{Name: "drop", Price: price.Value{Best: piece}}}
	p.Uses = []price.Use{{Practice: practice.NewDrop,
		Renewal: &price.Renewal{Materials: []price.MaterialUse{{Material: "drop", Count: 1}}}}}
	return &p
}

// money searches with what each interval nets under a ledger, in every draw of the gains.
func money(g Gains, l *budget.Ledger) Result {
	var m Money
	none := l.Plan(practice.Choice{Practice: practice.Unsanitized})
	y0 := l.Unsanitized(0)
	net := func(plan *budget.Plan, gains []float64) float64 {
		return l.Margin(plan, y0, gains) - l.Margin(&none, y0, []float64{0})
	}
	for i := range g.Ages {
		plan := l.Plan(practice.Choice{Practice: practice.NewDrop, Every: i + 1})
		m.Net = append(m.Net, net(&plan, g.Ages[:i+1]))
		if g.Draws == nil {
			continue
		}
		drawn := make([]float64, len(g.Draws[0]))
		for d := range drawn {
			var cycle []float64
			for _, x := range g.Draws[:i+1] {
				cycle = append(cycle, x[d])
			}
			drawn[d] = net(&plan, cycle)
		}
		m.Draws = append(m.Draws, drawn)
	}
	return Search(g, &m)
}

// Yearly gains of 72, 61 and 50 % over a three-season rotation average 61 %: percents, not logs, whose mean is 60.7 %
// (common practice, no source).
func TestMeanOfPercents(t *testing.T) {
	res := Search(Gains{Ages: []float64{0.72, 0.61, 0.50}, Oldest: 2}, nil)
	near(t, "three seasons", res.Intervals[2].GainPct, 61, 1e-12)
	near(t, "two seasons", res.Intervals[1].GainPct, 66.5, 1e-12)
	if res.Best != 1 {
		t.Errorf("without prices the freshest drops gain most; best is %d", res.Best)
	}
}

// The best time to replace, as every engineering-economy textbook reckons it (the economic life of an asset): the age
// at which the yearly average of the price and of what ageing costs is least. A price of 600 and running costs of 100,
// 200, 300, 400, 500 give averages of 700, 450, 400, 400 and 420: three and four years are as good (arithmetic by
// hand).
func TestEconomicLife(t *testing.T) {
	p := simple(600)
	p.Baseline.Yield.Best = 1
	l := budget.Of(p)
	// Sap is money: a litre of added sap is worth this much.
	plan := l.Plan(practice.Choice{Practice: practice.SilverSpout})
	litre := l.Margin(&plan, 1, []float64{1}) - l.Margin(&plan, 1, []float64{0})
	const most = 1000 // what a drop that had no running cost would bring
	ages := make([]float64, 5)
	for a := range ages {
		ages[a] = (most - 100*float64(a+1)) / litre
	}
	res := money(Gains{Ages: ages, Oldest: 4}, l)
	for i, cost := range []float64{700, 450, 400, 400, 420} {
		near(t, "net", res.Intervals[i].Net, most-cost, 1e-9)
	}
	if res.Best != 3 && res.Best != 4 {
		t.Errorf("best is %d", res.Best)
	}
	if res.FlatFrom > 3 || res.FlatTo < 5 || res.FlatFrom < 3 {
		t.Errorf("flat from %d to %d within %v", res.FlatFrom, res.FlatTo, res.FlatWithin)
	}
}

func TestBeyondTheStudied(t *testing.T) {
	l := budget.Of(simple(3))
	g := Gains{Ages: []float64{0.7, 0.69, 0.68, 0.67, 0.66, 0.65}, Oldest: 2}
	g.Draws = repeat(g.Ages, 4)
	res := money(g, l)
	if res.Best != 3 || len(res.Notes) != 1 {
		t.Errorf("best %d with notes %v: what nobody studied is never first, and is told", res.Best, res.Notes)
	}
	for _, in := range res.Intervals {
		if in.Studied != (in.Every <= 3) || !in.Studied && in.Best != 0 {
			t.Errorf("%+v", in)
		}
	}
}

func repeat(ages []float64, n int) [][]float64 {
	out := make([][]float64, len(ages))
	for a := range out {
		for range n {
			out[a] = append(out[a], ages[a])
		}
	}
	return out
}

// Two draws that disagree: by hand, with a litre of sap worth w, replacing each season nets 60 w g0 − c, every second
// season 60 w (g0 + g1)/2 − c/2.
func TestChanceAndLoss(t *testing.T) {
	const c = 2
	l := budget.Of(simple(c))
	plan := l.Plan(practice.Choice{Practice: practice.SilverSpout})
	w := l.Margin(&plan, 60, []float64{1}) / 60 / 2
	g := Gains{
		Ages: []float64{0.6, 0.3}, Oldest: 1,
		// The first three draws do not age at all, the last loses everything in a season.
		Draws: [][]float64{{0.6, 0.6, 0.6, 0.6}, {0.6, 0.6, 0.6, 0}},
	}
	res := money(g, l)
	near(t, "chance that every season is best", res.Intervals[0].Best, 0.25, 1e-12)
	near(t, "chance that every second is", res.Intervals[1].Best, 0.75, 1e-12)
	near(t, "loss of every season", res.Intervals[0].Loss, 0.75*c/2, 1e-9)
	near(t, "loss of every second", res.Intervals[1].Loss, 0.25*(60*w*0.3-c/2.), 1e-9)
	if !res.Chances {
		t.Error("the chances are not stated")
	}
	near(t, "net of every second", res.Intervals[1].Net, 60*w*0.45-c/2., 1e-9)
	near(t, "expected of every second", res.Intervals[1].Expected, 60*w*(0.75*0.6+0.25*0.3)-c/2., 1e-9)
}

// The intervals of normal draws are those of the normal distribution: 1.959964 standard errors either side.
func TestIntervals(t *testing.T) {
	const n = 1_000_000
	r := rand.New(rand.NewPCG(1, 2))
	g := Gains{Ages: []float64{0.5, 0.4}, Oldest: 1, Draws: [][]float64{make([]float64, n), make([]float64, n)}}
	for i := range n {
		g.Draws[0][i] = 0.5 + 0.1*r.NormFloat64()
		g.Draws[1][i] = 0.4 + 0.1*r.NormFloat64()
	}
	res := Search(g, nil)
	near(t, "low", res.Intervals[0].LowPct, 50-19.59964, 0.15)
	near(t, "high", res.Intervals[0].HighPct, 50+19.59964, 0.15)
	near(t, "two seasons, low", res.Intervals[1].LowPct, 45-19.59964/math.Sqrt2, 0.1)
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ages, n := rapid.IntRange(1, 8).Draw(t, "ages"), rapid.IntRange(1, 30).Draw(t, "draws")
		g := Gains{Oldest: rapid.IntRange(0, 8).Draw(t, "oldest")}
		for range ages {
			g.Ages = append(g.Ages, rapid.Float64Range(-0.3, 1).Draw(t, "gain"))
			d := make([]float64, n)
			for i := range d {
				d[i] = rapid.Float64Range(-0.3, 1).Draw(t, "draw")
			}
			g.Draws = append(g.Draws, d)
		}
		res := Search(g, nil)
		if rapid.Bool().Draw(t, "priced") {
			res = money(g, budget.Of(simple(rapid.Float64Range(0, 5).Draw(t, "piece"))))
		}
		chance := 0.0
		for _, in := range res.Intervals {
			chance += in.Best
			if in.Loss < 0 || in.LowPct > in.HighPct || in.NetLow > in.NetHigh {
				t.Fatalf("%+v", in)
			}
		}
		if math.Abs(chance-1) > 1e-9 {
			t.Fatalf("the chances sum to %v", chance)
		}
		if res.Best < res.FlatFrom || res.Best > res.FlatTo || res.Best > g.Oldest+1 {
			t.Fatalf("best %d, flat from %d to %d, oldest studied %d", res.Best, res.FlatFrom, res.FlatTo, g.Oldest)
		}
	})
}
