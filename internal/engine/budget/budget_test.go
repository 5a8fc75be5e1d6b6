package budget

import (
	"maps"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/sap"
	"spile/internal/trade/unit"
)

func near(t interface {
	Helper()
	Errorf(string, ...any)
}, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, within)
	}
}

// example is the prices of an invented sugarbush.
func example() price.Prices {
	p := price.Default()
	p.Currency, p.AsOf, p.Place = "USD", "2026-01-15", "US-VT"
	p.Baseline = price.Baseline{
		Yield:    price.Value{Best: float64(unit.USGallon.Of(25))},
		Done:     price.Done{Treatment: practice.Treatment{Practice: practice.NewSpout}},
		Brix:     price.Value{Best: 2},
		GainBrix: &price.Value{Best: 1.8},
	}
	p.Sells = price.Sells{
		Grades: []price.Grade{{Name: "golden", Share: 0.3, Price: price.Value{Best: 5.2}},
			{Name: "dark", Share: 0.5, Price: price.Value{Best: 4.6}}},
		Retail:    &price.Outlet{Share: 0.2, Price: price.Value{Best: 14}},
		GainPrice: &price.Value{Best: 0.95},
	}
	p.Processing, p.Hauling, p.Wage = price.Value{Best: 1.1}, price.Value{Best: 0.002}, price.Value{Best: 21}
	p.Discount = price.Value{Best: 0.05}
	p.Materials = []price.Material{
		{Name: "spout", Price: price.Value{Best: 0.3}, Grams: 5},
		{Name: "check-valve spout", Price: price.Value{Best: 0.55}, Grams: 7},
		{Name: "drop and tee", Price: price.Value{Best: 0.8}, Grams: 40},
	}
	p.Chemicals = []price.Chemical{{Name: "bleach", Price: price.Value{Best: 1.2}}}
	p.Uses = []price.Use{
		{Practice: practice.NewSpout,
			Materials: []price.MaterialUse{{Material: "spout", Count: 1, Life: price.Value{Best: 1}}},
			Disposal:  price.Value{Best: 0.01}},
		{Practice: practice.CheckValve,
			Materials: []price.MaterialUse{{Material: "check-valve spout", Count: 1, Life: price.Value{Best: 1}}},
			Disposal:  price.Value{Best: 0.01}},
		{
			Practice:  practice.NewDrop,
			Materials: []price.MaterialUse{{Material: "spout", Count: 1, Life: price.Value{Best: 1}}},
			Disposal:  price.Value{Best: 0.01},
			Renewal: &price.Renewal{
				Materials: []price.MaterialUse{{Material: "drop and tee", Count: 1}},
				Minutes:   map[price.Window]*price.Value{price.Shop: {Best: 1}, price.BeforeTapping: {Best: 1.5}},
				Disposal:  price.Value{Best: 0.02},
			},
		},
		{
			Practice: practice.ChlorineRinse, Chemical: "bleach", ChemicalL: price.Value{Best: 0.02},
			LostSapL: price.Value{Best: 0.8},
			Minutes:  map[price.Window]*price.Value{price.AfterSeason: {Best: 1.2}}, Repairs: price.Value{Best: 0.05},
		},
	}
	return p
}

// gains is the trial gains of the example, fractions.
var gains = map[practice.Choice][]float64{
	{Practice: practice.Unsanitized}:                                  {0},
	{Practice: practice.NewSpout}:                                     {0.31},
	{Practice: practice.CheckValve}:                                   {0.63},
	{Practice: practice.NewDrop, Every: 1}:                            {0.72},
	{Practice: practice.NewDrop, Every: 3}:                            {0.72, 0.61, 0.50},
	{Practice: practice.NewDrop, Every: 3, With: practice.CheckValve}: {0.9, 0.8, 0.7},
	{Practice: practice.ChlorineRinse}:                                {0.2},
	{Practice: practice.NewDrop, Every: 4}:                            {0.72, 0.61, 0.50, 0.41},
}

func choices() []practice.Choice {
	return slices.SortedFunc(maps.Keys(gains), func(a, b practice.Choice) int {
		return strings.Compare(string(a.Practice)+string(rune('0'+a.Every))+string(a.With),
			string(b.Practice)+string(rune('0'+b.Every))+string(b.With))
	})
}

// A baseline of 25 gal measured on yearly new spouts (+31 %) is 19.1 unsanitized, and a check valve (+63 %) then gives
// 31.1, not 40.8 (common practice, no source).
func TestBaseline(t *testing.T) {
	p := example()
	l := Of(&p)
	y0 := l.Unsanitized(0.31)
	gallons := func(litres float64) float64 { return unit.Volume(litres).In(unit.USGallon) }
	near(t, "unsanitized", gallons(y0), 19.1, 0.05)
	near(t, "check valve", gallons(l.Yield(y0, 0.63)), 31.1, 0.05)
	near(t, "the baseline itself", gallons(l.Yield(y0, 0.31)), 25, 1e-12)
}

// A partial budget by hand: 10 L of sap a tap unsanitized at 2 °Bx, a practice that adds half; syrup of 66 °Bx at 4 a
// kilogram; 1 a litre of syrup made, 0.01 a litre of sap hauled; a piece at 0.50 that lasts two seasons, no discount;
// 3 minutes at 20 an hour. The added 5 L hold 5 × 1.006015 × 0.02 = 0.1006015 kg of sugar (density from Circular C440),
// so 0.152427 kg of syrup worth 0.609706, or 0.115263 L at 1.322425 kg/L.
func TestPartialBudgetByHand(t *testing.T) {
	p := price.Default()
	p.Currency, p.AsOf = "USD", "2026-01-15"
	p.Baseline = price.Baseline{Yield: price.Value{Best: 10},
		Done: price.Done{Treatment: practice.Treatment{Practice: practice.Unsanitized}}, Brix: price.Value{Best: 2}}
	p.SyrupBrix = 66
	p.Sells.Grades = []price.Grade{{Name: "all", Share: 1, Price: price.Value{Best: 4}}}
	p.Processing, p.Hauling, p.Wage = price.Value{Best: 1}, price.Value{Best: 0.01}, price.Value{Best: 20}
	p.Materials = []price.Material{{Name: "piece", Price: price.Value{Best: 0.5}, Grams: 6}}
	p.Uses = []price.Use{{
		Practice:  practice.NewSpout,
		Materials: []price.MaterialUse{{Material: "piece", Count: 1, Life: price.Value{Best: 2}}},
		Minutes:   map[price.Window]*price.Value{price.Tapping: {Best: 3}},
	}}
	if err := p.Faults(practice.Shipped()).Err(); err != nil {
		t.Fatal(err)
	}
	l := Of(&p)
	b := Compare(l.Account(practice.Choice{Practice: practice.NewSpout}, 10, []float64{0.5}),
		l.Account(practice.Choice{Practice: practice.Unsanitized}, 10, []float64{0}))
	near(t, "added returns", b.AddedReturns, 0.609706, 1e-5)
	near(t, "added costs", b.AddedCosts, 0.115263+0.05+0.25+1, 1e-5)
	near(t, "net", b.Net, 0.609706-1.415263, 1e-5)
	near(t, "reduced", b.ReducedCosts+b.ReducedReturns, 0, 0)
	near(t, "minutes", b.TotalMinutes(), 3, 0)
	near(t, "plastic", b.PlasticG, 3, 0)
	if len(b.Lines) != 5 {
		t.Errorf("lines: %+v", b.Lines)
	}
}

// Marginal analysis after CIMMYT 1988, From Agronomic Data to Farmer Recommendations: net over costs that vary, and its
// rise over theirs. Worked by hand: 86/30, 45/25 and 9/25; the fifth costs more than the fourth and nets less.
func TestMarginalAnalysis(t *testing.T) {
	gross := []float64{400, 516, 586, 620, 638}
	costs := []float64{0, 30, 55, 80, 105}
	net := []float64{400, 486, 531, 540, 533}
	rates := []float64{math.NaN(), 287, 180, 36, math.NaN()}
	points := make([]Point, len(gross))
	for i := range gross {
		points[i] = Point{Costs: costs[i], Net: gross[i] - costs[i]}
		near(t, "net", points[i].Net, net[i], 0)
	}
	slices.Reverse(points) // the answer does not hang on the order
	got := Analyse(points)
	slices.Reverse(got)
	for i, m := range got {
		if m.Dominated != (i == 4) {
			t.Errorf("treatment %d: dominated %v", i, m.Dominated)
		}
		if (m.RatePct == nil) != math.IsNaN(rates[i]) {
			t.Errorf("treatment %d: rate %v", i, m.RatePct)
		} else if m.RatePct != nil {
			near(t, "marginal rate", *m.RatePct, rates[i], 0.5)
		}
	}
}

// A point is dominated where another costs no more and nets no less; over the rest every rate is above 0.
func TestDominance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.Map(rapid.IntRange(-5, 5), func(i int) float64 { return float64(i) }) // so that ties are met
		points := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Point {
			return Point{Costs: whole.Draw(t, "costs"), Net: whole.Draw(t, "net")}
		}), 1, 8).Draw(t, "points")
		first := 0
		for i, m := range Analyse(points) {
			p, beaten := points[i], false
			for j, q := range points {
				beaten = beaten || q.Costs <= p.Costs && q.Net >= p.Net && (q != p || j < i)
			}
			if m.Dominated != beaten {
				t.Fatalf("%v among %v: dominated %v", p, points, m.Dominated)
			}
			switch {
			case m.Dominated && m.RatePct != nil, m.RatePct != nil && *m.RatePct <= 0:
				t.Fatalf("%v among %v: rate %v", p, points, *m.RatePct)
			case !m.Dominated && m.RatePct == nil:
				first++
			}
		}
		if first != 1 {
			t.Fatalf("%v: %d points begin the curve", points, first)
		}
	})
}

// The payback rule by Brealey, Myers & Allen, Principles of Corporate Finance (why use net present value?): projects A,
// B and C cost 2,000 at once and bring 500, 500, 5,000; 500, 1,800, 0; 1,800, 500, 0 at the ends of three years. They
// are back after 3, 2 and 2 years. The book counts years from its outlay, we the outlay as season 1.
func TestPayback(t *testing.T) {
	for _, c := range []struct {
		cash []float64
		want int
	}{
		{[]float64{-2000, 500, 500, 5000}, 3 + 1}, {[]float64{-2000, 500, 1800, 0}, 2 + 1},
		{[]float64{-2000, 1800, 500, 0}, 2 + 1}, {[]float64{-2000, 500, 500}, 0},
		{[]float64{-10, 20, -30, 40}, 4}, // back once, and then not
		{[]float64{0, 5}, 1}, {[]float64{1, -2}, 0}, {nil, 0},
	} {
		if got := Payback(c.cash); got != c.want {
			t.Errorf("%v: season %d, want %d", c.cash, got, c.want)
		}
	}
}

// Capital recovery factors A/P, added up year by year in R (crosscheck/values.R). They count from the end of a year and
// Annuity from its start, hence 1 + r.
func TestAnnuity(t *testing.T) {
	for _, tt := range []struct{ r, n, ap float64 }{
		{0.10, 3, 0.4021148036}, {0.08, 5, 0.2504564546}, {0.12, 10, 0.1769841642}, {0.05, 20, 0.0802425872},
	} {
		near(t, "A/P", (1+tt.r)/Annuity(tt.r, tt.n), tt.ap, 1e-10)
	}
	near(t, "without discount", Annuity(0, 7), 7, 0)
	// A machine of 10,000 that is worth 2,000 after 5 years at 8 %, running costs of 1,000 at each year's end, costs
	// 3,163.6516 a year (crosscheck/values.R): 10,000 × 0.25046 − 2,000 × 0.17046 + 1,000, since A/F = A/P − i.
	r := 0.08
	flows := []float64{10000, 1000, 1000, 1000, 1000, 1000 - 2000}
	end := 0.0
	for k, x := range flows {
		end += x * math.Pow(1+r, -float64(k))
	}
	near(t, "equivalent annual cost", equivalentAnnual([]float64{end, 0, 0, 0, 0}, r)*(1+r), 3163.6516, 1e-4)
}

// equivalentAnnual is the yearly amount worth as much as a cycle of amounts, each at the start of its season:
// Σ_{a<N} x_a v^a / Σ_{a<N} v^a, v = 1/(1+r).
func equivalentAnnual(x []float64, r float64) float64 {
	sum := 0.0
	for a, amount := range x {
		sum += amount * math.Pow(1+r, -float64(a))
	}
	return sum / Annuity(r, float64(len(x)))
}

func TestRotation(t *testing.T) {
	p := example()
	l := Of(&p)
	y0 := l.Unsanitized(0.31)
	// Yearly gains of 72, 61 and 50 % average 61 % (percents, not logs; common practice, no source).
	a := l.Account(practice.Choice{Practice: practice.NewDrop, Every: 3}, y0, []float64{0.72, 0.61, 0.50})
	near(t, "mean of the yearly percents", a.GainPct, 61, 1e-12)
	near(t, "minutes", a.Minutes[price.Shop]+a.Minutes[price.BeforeTapping], 2.5/3, 1e-12)
	near(t, "plastic", a.PlasticG, 5+40.0/3, 1e-12)

	// With all drops replaced at once the net is the equivalent annual amount of the seasons of the cycle, each worked
	// out alone as a cycle of one season.
	p.AllAtOnce = true
	l = Of(&p)
	c := practice.Choice{Practice: practice.NewDrop, Every: 3}
	pl := l.Plan(c)
	yearly := l.Plan(practice.Choice{Practice: practice.NewDrop}) // without a renewal
	renewed := l.Plan(practice.Choice{Practice: practice.NewDrop, Every: 1})
	flows := []float64{
		l.Margin(&renewed, y0, []float64{0.72}), l.Margin(&yearly, y0, []float64{0.61}),
		l.Margin(&yearly, y0, []float64{0.50}),
	}
	near(t, "equivalent annual margin", l.Margin(&pl, y0, []float64{0.72, 0.61, 0.50}), equivalentAnnual(flows, 0.05),
		1e-12)
}

func TestCombined(t *testing.T) {
	low, high := Combined(0.31, 0.63, 0)
	near(t, "better part alone", low, 0.63, 0)
	near(t, "sum of the log gains", math.Log1p(high), math.Log(1.31)+math.Log(1.63), 1e-12)
	low, high = Combined(-0.1, 0.2, 0)
	if low > high {
		t.Error("the range of a harmful part is turned round")
	}
	// A drop of 72 % and a valve of 63 % both hold the 31 % of a new spout.
	low, high = Combined(0.72, 0.63, 0.31)
	near(t, "the better alone", low, 0.72, 1e-12)
	near(t, "both, the spout once", high, 1.72*1.63/1.31-1, 1e-12)
}

func TestQuotaAndCapacity(t *testing.T) {
	p := example()
	p.Sells = price.Sells{Grades: []price.Grade{{Name: "all", Share: 1, Price: price.Value{Best: 5}}}}
	l := Of(&p)
	free := l.sell(60, 90)
	p.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: l.syrup * 60}, PriceBeyond: price.Value{Best: 0.8},
		DelaySeasons: price.Value{Best: 2}}
	l = Of(&p)
	limited := l.sell(60, 90)
	near(t, "within the quota", l.sell(60, 60).bulk, 5*l.syrup*60, 1e-12)
	near(t, "beyond it", limited.bulk-l.sell(60, 60).bulk, (free.bulk-l.sell(60, 60).bulk)*0.8/1.05/1.05, 1e-12)

	p.Sells.Quota = nil
	p.Sells.CapacityL = &price.Value{Best: 70}
	l = Of(&p)
	if l.sell(60, 90) != l.sell(60, 70) {
		t.Error("sap beyond what can be boiled is worth something")
	}
}

// Fuel by the litre of sap boiled, by hand: 60 litres of the tap's own and 30 added cost 90 × 0.03, however thin the
// added sap is; a litre of syrup of sap half as sweet then takes twice the fuel. At one sweetness it is the same as so
// much a litre of syrup.
func TestBoilingByTheSap(t *testing.T) {
	p := example()
	p.Sells = price.Sells{Grades: []price.Grade{{Name: "all", Share: 1, Price: price.Value{Best: 5}}}}
	p.Boiling, p.Processing = &price.Value{Best: 0.03}, price.Value{Best: 0.5}
	l := Of(&p)
	near(t, "fuel", l.sell(60, 90).boiling, 2.70, 1e-12)
	perKg := func(brix float64) float64 {
		p.Baseline.GainBrix = &price.Value{Best: brix}
		l := Of(&p)
		more, less := l.sell(60, 90), l.sell(60, 60)
		return (more.boiling - less.boiling) / (more.bulk - less.bulk)
	}
	near(t, "half as sweet", perKg(1)/perKg(2), float64(sap.Sugar(1, 2)/sap.Sugar(1, 1)), 1e-9)

	p.Baseline.GainBrix = nil
	split := Of(&p).margin(60, 90)
	litre := l.syrup / sap.Density(sap.SyrupBrix("US-VT")) // of syrup in a litre of sap
	p.Processing.Best += p.Boiling.Best / litre
	p.Boiling = nil
	near(t, "all of it by the syrup", Of(&p).margin(60, 90), split, 1e-9)
}

// What can be boiled in a day, by hand: 40 % of the sap runs on five days, of which 4 litres a tap can be boiled, 20 in
// all. Of 45 litres 18 run then, and none is lost; of 60, 24, and 4 are lost; of 90, 36, and 16.
func TestPeakByHand(t *testing.T) {
	p := example()
	p.Sells = price.Sells{Grades: []price.Grade{{Name: "all", Share: 1, Price: price.Value{Best: 5}}}}
	p.Sells.Peak = &price.Peak{FlowL: price.Value{Best: 4}, Share: &price.Value{Best: 0.4}, Days: &price.Value{Best: 5}}
	l := Of(&p)
	none := l.Plan(practice.Choice{Practice: practice.Unsanitized})
	for y, want := range map[float64]float64{45: 45, 60: 56, 90: 74} {
		near(t, "boiled", l.Made(&none, y, 0).Litres, want, 1e-9)
	}
	if !l.Limited() {
		t.Error("nothing is said to bend what sap brings")
	}
}

// No more sap ever brings less, and no limit or cost ever brings more, whatever is sold and however it is boiled; where
// added sap is worth no more than the other, each litre brings no more than the one before.
func TestMarginsNeverFall(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t)
		p.Baseline.GainBrix.Best = min(p.Baseline.GainBrix.Best, p.Baseline.Brix.Best)
		p.Hauling.Best = 0                        // sap that is sold as sap is hauled whatever it brings
		p.Discount.Best = max(0, p.Discount.Best) // else a delay pays
		l := Of(&p)
		y0, y := rapid.Float64Range(1, 150).Draw(t, "y0"), rapid.Float64Range(1, 250).Draw(t, "y")
		step := rapid.Float64Range(0.1, 50).Draw(t, "step")
		a, b, c := l.margin(y0, y), l.margin(y0, y+step), l.margin(y0, y+2*step)
		if slack := 1e-9 * (1 + math.Abs(c)); b < a-slack || c-b > b-a+slack {
			t.Fatalf("%v litres bring %v, %v more %v, and as many again %v", y, a, step, b, c)
		}
		p.Sells.Peak, p.Sells.CapacityL, p.Sells.Quota, p.Boiling = nil, nil, nil, nil
		if free := Of(&p).margin(y0, y); a > free+1e-9*(1+free) {
			t.Fatalf("with limits %v, and without %v", a, free)
		}
	})
}

// Sap that does not pay to boil is not boiled: more of it never brings less, under any quota, price beyond it, capacity
// and cost of boiling; and where all of it is sold at one price, what is brought is the best of a linear program, whose
// corners are to boil nothing, up to the quota, or all.
func TestFreeDisposal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t)
		p.Sells.Retail, p.Sells.Sap, p.Sells.CapacityL, p.Sells.GainPrice, p.Sells.Peak = nil, nil, nil, nil, nil
		p.Baseline.GainBrix, p.Discount.Best = nil, max(0, p.Discount.Best)
		f := func(lo, hi float64, label string) float64 { return rapid.Float64Range(lo, hi).Draw(t, label) }
		p.Processing.Best, p.Hauling.Best = f(0, 80, "processing"), f(0, 0.1, "hauling")
		p.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: f(0, 5, "quota of")},
			PriceBeyond: price.Value{Best: f(0, 1, "beyond")}, DelaySeasons: price.Value{Best: 2}}
		l := Of(&p)
		y := f(0, 200, "yield")
		best := 0.0
		for _, boiled := range []float64{min(y, p.Sells.Quota.SyrupKg.Best/l.syrup), y} {
			kg := l.syrup * boiled
			within := min(kg, p.Sells.Quota.SyrupKg.Best)
			best = max(best, l.bulkPrice*(within+l.beyond*(kg-within))-l.processing*kg-
				(l.boiling+l.hauling)*boiled)
		}
		near(t, "the best corner", l.sell(y, y).margin(), best, 1e-9*(1+best))
		if less, more := l.margin(y, y), l.margin(y, y+f(0, 100, "more")); more < less-1e-9 {
			t.Fatalf("more sap brings %v, less %v", more, less)
		}
	})
}

// Sap sold by its sugar is paid in proportion to the sugar it holds.
func TestSapBySugar(t *testing.T) {
	p := example()
	p.Sells = price.Sells{Sap: &price.Outlet{Share: 1, Price: price.Value{Best: 0.1}}}
	l := Of(&p)
	got := l.sell(60, 90)
	near(t, "sap", got.sap, 0.1*(60+30*float64(sap.Sugar(1, 1.8)/sap.Sugar(1, 2))), 1e-12)
	near(t, "nothing is boiled", got.bulk+got.retail+got.processing, 0, 0)
}

func TestNetIsTheSumOfItsLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t)
		l := Of(&p)
		g := rapid.Float64Range(-0.2, 1).Draw(t, "baseline gain")
		y0 := l.Unsanitized(g)
		list := choices()
		c, ref := rapid.SampledFrom(list).Draw(t, "choice"), rapid.SampledFrom(list).Draw(t, "reference")
		a, r := l.Account(c, y0, gains[c]), l.Account(ref, y0, gains[ref])
		b := Compare(a, r)
		sum := 0.0
		for _, line := range b.Lines {
			sum += line.Amount
			if line.Amount == 0 || (line.Amount > 0) != (line.Part == AddedReturns || line.Part == ReducedCosts) {
				t.Fatalf("line on the wrong side: %+v", line)
			}
		}
		if sum != b.Net {
			t.Fatalf("net %v, lines sum to %v", b.Net, sum)
		}
		scale := 1e-9 * (1 + b.AddedReturns + b.ReducedCosts + b.AddedCosts + b.ReducedReturns)
		if d := b.AddedReturns + b.ReducedCosts - b.AddedCosts - b.ReducedReturns - b.Net; math.Abs(d) > scale {
			t.Fatalf("quarters are off by %v", d)
		}
		// The fast path tells the same.
		pa, pr := l.Plan(c), l.Plan(ref)
		if d := l.Margin(&pa, y0, gains[c]) - l.Margin(&pr, y0, gains[ref]) - b.Net; math.Abs(d) > scale {
			t.Fatalf("margins are off by %v", d)
		}
		// The other way round it is the negative.
		if back := Compare(r, a); math.Abs(back.Net+b.Net) > scale {
			t.Fatalf("net %v one way, %v the other", b.Net, back.Net)
		}
		if same := Compare(a, a); same.Net != 0 || len(same.Lines) != 0 {
			t.Fatalf("a choice differs from itself: %+v", same)
		}
	})
}

func TestAnotherCurrency(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(0.01, 100).Draw(t, "rate of exchange")
		p := draw(t)
		q := scaled(p, k)
		y0 := Of(&p).Unsanitized(0.31)
		for _, c := range choices() {
			a := net(&p, c, y0)
			if b := net(&q, c, y0); math.Abs(b-k*a) > 1e-9*(1+math.Abs(k*a)) {
				t.Fatalf("%+v: net %v became %v at %v", c, a, b, k)
			}
		}
	})
}

// The same sugarbush reckoned in US gallons, imperial gallons or litres, pounds or kilograms, is the same money. The
// arithmetic in the other units is done here, as one would on paper: yields in gallons, sugar in pounds a gallon,
// syrup in pounds at a price a pound, boiling by the gallon of syrup, hauling by the gallon of sap.
func TestUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := example()
		u := rapid.SampledFrom([]unit.VolumeUnit{unit.USGallon, unit.ImperialGallon, unit.Litre}).Draw(t, "volume")
		m := rapid.SampledFrom([]unit.MassUnit{unit.Kilogram, unit.Pound}).Draw(t, "mass")
		f := func(lo, hi float64, label string) float64 { return rapid.Float64Range(lo, hi).Draw(t, label) }
		yield, gain := f(5, 40, "yield, in the unit"), f(0, 1, "gain")
		pound := f(0, 10, "price a mass of syrup")
		boiling, hauling := f(0, 10, "boiling a volume of syrup"), f(0, 0.1, "hauling a volume of sap")
		p.Baseline = price.Baseline{Yield: price.Value{Best: float64(u.Of(yield))},
			Done: price.Done{Treatment: practice.Treatment{Practice: practice.Unsanitized}},
			Brix: price.Value{Best: f(1, 4, "brix")}}
		kilogram := price.Value{Best: pound / float64(m.Of(1))}
		p.Sells = price.Sells{Grades: []price.Grade{{Name: "all", Share: 1, Price: kilogram}}}
		p.Processing.Best, p.Hauling.Best = boiling/float64(u.Of(1)), hauling/float64(u.Of(1))
		l := Of(&p)
		y0 := l.Unsanitized(0)
		got := Compare(l.Account(practice.Choice{Practice: practice.SilverSpout}, y0, []float64{gain}),
			l.Account(practice.Choice{Practice: practice.Unsanitized}, y0, []float64{0})).Net

		added := yield * gain
		sugar := sap.Sugar(u.Of(1), p.Baseline.Brix.Best).In(m)
		syrup := added * sugar / 0.669
		volume := syrup / sap.Mass(u.Of(1), 66.9).In(m)
		want := max(0, syrup*pound-volume*boiling-added*hauling) // what does not pay is not boiled
		if math.Abs(got-want) > 1e-9*(1+syrup*pound+volume*boiling+added*hauling) {
			t.Fatalf("%s, %s: net %v, want %v", u, m, got, want)
		}
	})
}

func TestBaselineIdentity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t)
		l := Of(&p)
		g := rapid.Float64Range(-0.5, 2).Draw(t, "gain")
		if got := l.Yield(l.Unsanitized(g), g); math.Abs(got-p.Baseline.Yield.Best) > 1e-9*got {
			t.Fatalf("the practice the baseline was measured under yields %v, not %v", got, p.Baseline.Yield.Best)
		}
	})
}

func net(p *price.Prices, c practice.Choice, y0 float64) float64 {
	l := Of(p)
	return Compare(l.Account(c, y0, gains[c]),
		l.Account(practice.Choice{Practice: practice.Unsanitized}, y0, []float64{0})).Net
}

// draw varies the example.
func draw(t *rapid.T) price.Prices {
	p := example()
	f := func(lo, hi float64, label string) float64 { return rapid.Float64Range(lo, hi).Draw(t, label) }
	p.Baseline.Yield.Best = f(10, 200, "yield")
	p.Baseline.Brix.Best = f(1, 4, "brix")
	p.Baseline.GainBrix.Best = f(1, 4, "gain brix")
	p.Sells.Grades[0].Price.Best = f(0, 10, "price")
	p.Wage.Best = f(0, 60, "wage")
	p.Discount.Best = f(-0.1, 0.3, "discount")
	p.FarmAdjust.Best = f(0.2, 1, "farm adjustment")
	p.AllAtOnce = rapid.Bool().Draw(t, "all at once")
	if rapid.Bool().Draw(t, "quota") {
		p.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: f(0, 5, "quota of")},
			PriceBeyond: price.Value{Best: f(0, 1, "beyond")}, DelaySeasons: price.Value{Best: 2}}
	}
	if rapid.Bool().Draw(t, "capacity") {
		p.Sells.CapacityL = &price.Value{Best: f(1, 300, "capacity of")}
	}
	if rapid.Bool().Draw(t, "boiling by sap") {
		p.Boiling = &price.Value{Best: f(0, 0.2, "boiling")}
	}
	if rapid.Bool().Draw(t, "peak") {
		p.Sells.Peak = &price.Peak{FlowL: price.Value{Best: f(0.5, 20, "flow")},
			Share: &price.Value{Best: f(0.1, 1, "share")}, Days: &price.Value{Best: f(1, 15, "days")}}
	}
	if rapid.Bool().Draw(t, "sells sap") {
		p.Sells.Retail = nil
		p.Sells.Sap = &price.Outlet{Share: 0.2, Price: price.Value{Best: f(0, 0.3, "sap price")}}
	}
	return p
}

// scaled is the prices in a currency of which k make one.
func scaled(p price.Prices, k float64) price.Prices {
	by := func(v price.Value) price.Value { return price.Value{Best: k * v.Best} }
	p.Sells.Grades = slices.Clone(p.Sells.Grades)
	for i := range p.Sells.Grades {
		p.Sells.Grades[i].Price = by(p.Sells.Grades[i].Price)
	}
	for _, o := range []**price.Outlet{&p.Sells.Retail, &p.Sells.Sap} {
		if *o != nil {
			*o = &price.Outlet{Share: (*o).Share, Price: by((*o).Price)}
		}
	}
	p.Processing, p.Hauling, p.Wage = by(p.Processing), by(p.Hauling), by(p.Wage)
	if p.Boiling != nil {
		p.Boiling = new(by(*p.Boiling))
	}
	p.Materials, p.Chemicals, p.Uses = slices.Clone(p.Materials), slices.Clone(p.Chemicals), slices.Clone(p.Uses)
	for i := range p.Materials {
		p.Materials[i].Price = by(p.Materials[i].Price)
	}
	for i := range p.Chemicals {
		p.Chemicals[i].Price = by(p.Chemicals[i].Price)
	}
	for i := range p.Uses {
		u := &p.Uses[i]
		u.Repairs, u.Disposal = by(u.Repairs), by(u.Disposal)
		if u.Renewal != nil {
			u.Renewal = new(*u.Renewal)
			u.Renewal.Disposal = by(u.Renewal.Disposal)
		}
	}
	return p
}

// BenchmarkMillionDraws is a million draws of the gains over eight choices, on every core.
func BenchmarkMillionDraws(b *testing.B) {
	const draws = 1_000_000
	p := example()
	l := Of(&p)
	list := choices()
	plans := make([]Plan, len(list))
	gain := make([][]float64, len(list))
	for i, c := range list {
		plans[i], gain[i] = l.Plan(c), gains[c]
	}
	cores := runtime.GOMAXPROCS(0)
	sums := make([]float64, cores)
	b.ReportAllocs()
	for b.Loop() {
		var wait sync.WaitGroup
		for core := range cores {
			wait.Go(func() {
				sum := 0.0
				for range draws / cores {
					y0 := l.Unsanitized(0.31)
					for i := range plans {
						sum += l.Margin(&plans[i], y0, gain[i])
					}
				}
				sums[core] = sum
			})
		}
		wait.Wait()
	}
}

// A ledger whose prices change under it and that is told so says what a new one says, of every plan.
func TestReprice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t)
		list := choices()
		l := Of(&p)
		var plans []Plan
		for _, c := range list {
			plans = append(plans, l.Plan(c))
		}
		number := func(name string, now price.Value) price.Value {
			return price.Value{Best: now.Best * rapid.Float64Range(.5, 2).Draw(t, name)}
		}
		p.Wage, p.Processing, p.Hauling, p.Discount = number("wage", p.Wage), number("processing", p.Processing),
			number("hauling", p.Hauling), number("discount", p.Discount)
		p.Baseline.Yield, p.Baseline.Brix = number("yield", p.Baseline.Yield), number("brix", p.Baseline.Brix)
		for i := range p.Sells.Grades {
			p.Sells.Grades[i].Price = number("price", p.Sells.Grades[i].Price)
		}
		for i := range p.Materials {
			p.Materials[i].Price = number("material", p.Materials[i].Price)
		}
		for i := range p.Uses {
			u := &p.Uses[i]
			u.Repairs, u.LostSapL = number("repairs", u.Repairs), number("lost", u.LostSapL)
			for j := range u.Materials {
				u.Materials[j].Life = number("life", u.Materials[j].Life)
			}
			for _, m := range u.Minutes {
				*m = number("minutes", *m)
			}
		}
		l.Reprice(plans)
		fresh := Of(&p)
		for i, c := range list {
			want := fresh.Plan(c)
			gains := make([]float64, len(c.Seasons()))
			for a := range gains {
				gains[a] = .5 - .04*float64(a)
			}
			y0 := fresh.Unsanitized(.2)
			got, wanted := l.Margin(&plans[i], l.Unsanitized(.2), gains), fresh.Margin(&want, y0, gains)
			if math.Abs(got-wanted) > 1e-9*(1+math.Abs(wanted)) ||
				math.Abs(plans[i].Cost()-want.Cost()) > 1e-9*(1+want.Cost()) {
				t.Fatalf("%v: margin %v and cost %v, want %v and %v", c, got, plans[i].Cost(), wanted, want.Cost())
			}
		}
	})
}

// Syrup in bulk beside the Rule of 86 (Jones 1946): 43 litres of sap of 2 °Bx give one of syrup, which weighs 1.32 kg
// (at 66 °Bx and 20 °C). The rule is within two percent of the mass balance.
func TestBulkSyrupByTheRuleOf86(t *testing.T) {
	p := example()
	p.Place, p.SyrupBrix = "CA-QC", 0
	p.Sells.Retail = nil
	p.Baseline.Brix, p.Baseline.GainBrix = price.Value{Best: 2}, nil
	l := Of(&p)
	none := l.Plan(practice.Choice{Practice: practice.Unsanitized})
	for gain, want := range map[float64]float64{0: 86 / 43 * 1.32, 0.5: 1.5 * 86 / 43 * 1.32} {
		near(t, "kilograms of 86 litres", l.Made(&none, 86, gain).BulkKg, want, 0.02*want)
	}
}

// The equal yearly amount of unequal seasons, in R: v <- 1.05^-(0:4); x <- c(44.66667, 54.66667, 61, 61, 61);
// sum(v*x)/sum(v) is 56.08022, and over ten seasons of which the rest are 61, 58.24154. Sap is sold at 1 a litre.
func TestWay(t *testing.T) {
	p := example()
	p.Sells = price.Sells{Sap: &price.Outlet{Share: 1, Price: price.Value{Best: 1}}}
	p.Baseline.GainBrix, p.Hauling.Best = nil, 0
	l := Of(&p)
	gains := []float64{(72 - 2*-31.) / 300, (72 + 61 + 31) / 300., .61, .61, .61, .61, .61, .61, .61, .61}
	for seasons, want := range map[int]float64{5: 56.08022, 10: 58.24154} {
		pl := l.Way(practice.Choice{Practice: practice.Unsanitized}, seasons)
		near(t, "equal yearly amount", 100*(l.Margin(&pl, 1, gains[:seasons])-1), want, 1e-4)
	}

	// What is bought and kept one to five years, a problem of economic life with its printed solution (Blank & Tarquin,
	// Basics of Engineering Economy, 9.5: the title from memory): 10,000 at first, then 1,000, 1,200, 1,500, 2,000 and
	// 3,000 a year, and 7,000, 5,000, 4,200, 3,000 or 2,000 for it in the end, at 10 %, come to these equal amounts a
	// year; two years, by tables of compound interest, to 10,000 × 0.57619 + 1,000 + 200 × 0.47619 − 5,000 × 0.47619.
	// They stand at the ends of years, ours at the starts of seasons.
	p.Discount.Best = .1
	l = Of(&p)
	costs, sold := []float64{1000, 1200, 1500, 2000, 3000}, []float64{7000, 5000, 4200, 3000, 2000}
	for n, want := range []float64{-5000, -4476, -3970, -3894, -3961} {
		var flows []float64
		for year, cost := range costs[:n+1] {
			flows = append(flows, -cost/20_000)
			if year == 0 {
				flows[0] -= 10_000 * 1.1 / 20_000
			}
			if year == n {
				flows[year] += sold[n] / 20_000
			}
		}
		pl := l.Way(practice.Choice{Practice: practice.Unsanitized}, n+1)
		near(t, "equal amount a year", 20_000*(l.Margin(&pl, 1, flows)-1), want, 1) // the book's are of factors rounded
	}
}

// What is paid in a season, by hand: a piece of 6 that lasts two seasons is bought in the first and the third, one that
// lasts half a season twice in each; a third of the drops and tees, or all of them every third season.
func TestPaid(t *testing.T) {
	p := example()
	p.Wage.Best = 0
	p.Materials[0].Price.Best, p.Uses[0].Disposal.Best = 6, 0
	life := &p.Uses[0].Materials[0].Life
	drops := practice.Choice{Practice: practice.NewDrop, Every: 3}
	paid := func(c practice.Choice) (list []float64) {
		l := Of(&p)
		pl := l.Plan(c)
		for s := range 4 {
			list = append(list, math.Round(1e9*pl.Paid(l, s))/1e9)
		}
		return list
	}
	for at, want := range map[float64][]float64{2: {6, 0, 6, 0}, .5: {12, 12, 12, 12}, 2.5: {6, 0, 6, 0}} {
		life.Best = at
		if got := paid(practice.Choice{Practice: practice.NewSpout}); !slices.Equal(got, want) {
			t.Errorf("lasting %v: %v", at, got)
		}
	}
	p.Uses[2].Disposal.Best, p.Materials[0].Price.Best = 0, 0
	if got := paid(drops); !slices.Equal(got, []float64{.273333333, .273333333, .273333333, .273333333}) {
		t.Errorf("staged: %v", got)
	}
	p.AllAtOnce = true
	if got := paid(drops); !slices.Equal(got, []float64{.82, 0, 0, .82}) {
		t.Errorf("at once: %v", got)
	}
}
