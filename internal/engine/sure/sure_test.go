package sure_test

import (
	"math"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/engine/sure"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

func treatment(k practice.Key) practice.Treatment { return practice.Treatment{Practice: k} }

// bush is a decision among eight practices that takes sap alone, at a price a litre, and whose wage and price are not
// known for sure. Gains are independent normals on the log scale.
func bush(season float64) *sure.Model {
	keys := []practice.Key{
		practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.ChlorineRinse,
		practice.PeroxideRinse, practice.AlcoholFlush, practice.SilverSpout, practice.NewLateral,
	}
	logs := []float64{0, .27, .42, .12, .10, .20, .33, .45}
	p := new(pool.Posterior)
	root := mat.NewDense(len(keys), len(keys), nil)
	m := &sure.Model{Today: 1, Spouts: 1, Baseline: []practice.Treatment{treatment(practice.NewSpout)}}
	prices := price.Default()
	prices.Baseline = price.Baseline{Yield: price.Value{Best: 80},
		Done: price.Done{Treatment: treatment(practice.NewSpout)},
		Brix: price.Value{Best: 2}}
	prices.Sells.Sap = &price.Outlet{Share: 1, Price: price.Value{Best: .15}}
	prices.Wage.Best = 24
	for i, k := range keys {
		p.Treatments = append(p.Treatments, treatment(k))
		if i > 0 {
			root.Set(i, i, .08)
			prices.Uses = append(prices.Uses,
				price.Use{Practice: k, Minutes: map[price.Window]*price.Value{price.Tapping: {Best: float64(i)}}})
		}
		c := practice.Choice{Practice: k}
		m.Options = append(m.Options, sure.Option{ID: string(k), Choice: c, Open: true})
	}
	for _, part := range []float64{0, 2} { // half of what is known has no spread at all
		v := part * season
		p.Members = append(p.Members, pool.Normal{Weight: .5, Mean: logs, Root: root,
			Spread: pool.Spread{Study: v, Site: v / 4, Season: v / 4, Practice: v / 2}})
	}
	p.Best = logs
	m.Gains = p
	m.Assumptions = []sure.Assumption{
		{Key: "price", Group: "prices", Dist: sure.Dist{Kind: sure.Likely, Low: .10, Best: .15, High: .22}},
		{Key: "wage", Group: "labour", Dist: sure.Dist{Kind: sure.Likely, Low: 18, Best: 24, High: 32}},
	}
	m.Open = func() func([]float64) *sure.Books {
		own := prices
		outlet := *prices.Sells.Sap
		own.Sells.Sap = &outlet
		b := &sure.Books{Plans: make([]budget.Plan, len(m.Options))}
		b.Ledger = budget.Of(&own)
		for k, o := range m.Options {
			b.Plans[k] = b.Ledger.Plan(o.Choice)
		}
		return func(v []float64) *sure.Books {
			outlet.Price.Best, own.Wage.Best = v[0], v[1]
			b.Ledger.Reprice(b.Plans)
			return b
		}
	}
	return m
}

func draw(t *testing.T, m *sure.Model, n int) *sure.Draws {
	t.Helper()
	d, err := m.Draw(n, 1, true)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The moments of a beta-PERT: mean (a + 4b + c)/6 and variance (mean − a)(c − mean)/7 (Clark 1962, Operations Research
// 10:405, in the form of Vose 2008, Risk Analysis). A net that is the wage alone shows them.
func TestPERTMoments(t *testing.T) {
	for _, best := range []float64{24, 18, 32, 18.2} {
		m := bush(0)
		m.Assumptions[0].Dist = sure.Dist{Kind: sure.Held, Best: 0}
		m.Assumptions[1].Dist.Best = best
		d := draw(t, m, 200_000)
		mean, variance := moments(d.Nets(d.Long, 2)) // one minute more than today's
		want := (18. + 4*best + 32) / 6
		near(t, "mean", mean, -want/60, 5e-4)
		near(t, "variance", variance, (want-18)*(32-want)/7/3600, 5e-5)
	}
}

// Jensen's gap of a concave quota: with a log gain N(μ, σ²), a full price of a litre up to K and part of it beyond,
// E min(y, K) is E y − E(y − K)⁺, of which the last is M Φ(d + σ) − K Φ(d) with d = (μ' − ln K)/σ and M = E y (the
// expected excess of a lognormal: Black & Scholes 1973, Journal of Political Economy 81:637, at no interest).
func TestJensensGapOfAQuota(t *testing.T) {
	const mu, sigma, beyond = .42, .3, .4
	for _, kg := range []float64{2.2, 3.6, 5} {
		m := bush(0)
		root := mat.NewDense(8, 8, nil)
		root.Set(2, 2, sigma)
		m.Gains.Members = []pool.Normal{{Weight: 1, Mean: m.Gains.Members[0].Mean, Root: root}}
		m.Baseline, m.Today, m.Assumptions = nil, 0, nil
		own := price.Default()
		own.Baseline = price.Baseline{Yield: price.Value{Best: 80}, Brix: price.Value{Best: 2}}
		own.Sells = price.Sells{Grades: []price.Grade{{Name: "all", Share: 1, Price: price.Value{Best: 5}}},
			Quota: &price.Quota{SyrupKg: price.Value{Best: kg}, PriceBeyond: price.Value{Best: beyond}}}
		l := budget.Of(&own)
		m.Open = func() func([]float64) *sure.Books {
			b := &sure.Books{Ledger: l}
			for _, o := range m.Options {
				b.Plans = append(b.Plans, l.Plan(o.Choice))
			}
			return func([]float64) *sure.Books { return b }
		}
		none := l.Plan(practice.Choice{Practice: practice.Unsanitized})
		perLitre := l.Made(&none, 80, 0).Kg / 80
		room := kg / perLitre
		mean := 80 * math.Exp(mu+sigma*sigma/2)
		d := (mu + math.Log(80/room)) / sigma
		over := mean*distuv.UnitNormal.CDF(d+sigma) - room*distuv.UnitNormal.CDF(d)
		worth := func(y, over float64) float64 { return 5 * perLitre * (y - over + beyond*over) }
		row := draw(t, m, 100_000).Summary(0).Rows[2].Long
		near(t, "net on average", row.Mean, worth(mean, over)-worth(80, max(0, 80-room)), 4*row.MeanError)
	}
}

// Two swings at once, by hand: a check valve over new spouts brings p × 80 (e^0.42 − e^0.27)/e^0.27 litres' worth and
// takes a minute more.
func TestPairsByHand(t *testing.T) {
	m := bush(0)
	swings, err := m.Swings(2, 1)
	if err != nil {
		t.Fatal(err)
	}
	swings = slices.DeleteFunc(swings, func(s sure.Swing) bool { return s.Treatment >= 0 })
	pairs, err := m.Pairs(2, 1, swings, 6)
	if err != nil || len(pairs) != 1 || pairs[0].A.Key != "price" {
		t.Fatalf("%v, %v", pairs, err)
	}
	for i, price := range []float64{.10, .22} {
		for j, wage := range []float64{18, 32} {
			near(t, "net", pairs[0].Net[i][j], price*80*(math.Exp(.42-.27)-1)-wage/60, 1e-9)
		}
	}
}

func moments(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		variance += (v - mean) * (v - mean) / float64(len(x))
	}
	return mean, variance
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %v, want %v ± %v", what, got, want, within)
	}
}

// The mean of a season is the mean of the long run, within the simulation's error; the season is wider (M7).
func TestSeasonAndLongRunAgree(t *testing.T) {
	d := draw(t, bush(0.04), 100_000)
	for k, r := range d.Summary(0).Rows {
		if k == 1 {
			continue
		}
		near(t, r.ID, r.Season.Mean, r.Long.Mean, 4*(r.Season.MeanError+r.Long.MeanError))
		if wide, narrow := r.Season.P95-r.Season.P5, r.Long.P95-r.Long.P5; wide <= narrow {
			t.Errorf("option %d: a season ranges over %v, the long run over %v", k, wide, narrow)
		}
	}
}

// What a place makes of a practice is common to its drops of every age: where nothing else deviates, drops of two ages
// that gain alike bring the same in every season as drops of one.
func TestAgesShareTheirPlace(t *testing.T) {
	m := bush(0)
	drop := func(age int) practice.Treatment { return practice.Treatment{Practice: practice.NewDrop, DropAge: age} }
	g := m.Gains
	g.Treatments = append(g.Treatments, drop(0), drop(1))
	g.Best = append(slices.Clip(g.Best), .4, .4)
	n := len(g.Treatments)
	for i := range g.Members {
		x := &g.Members[i]
		x.Mean, x.Root = append(slices.Clip(x.Mean), .4, .4), mat.NewDense(n, 1, nil)
		x.Spread = pool.Spread{Practice: .04}
	}
	for _, every := range []int{1, 2} {
		c := practice.Choice{Practice: practice.NewDrop, Every: every}
		m.Options = append(m.Options, sure.Option{ID: "drops", Choice: c, Open: true})
	}
	for i := range m.Assumptions {
		m.Assumptions[i].Dist.Kind = sure.Held
	}
	d := draw(t, m, 200)
	first := d.Season[n-2][0]
	for i := range d.N {
		one, two := d.Season[n-2][i], d.Season[n-1][i]
		near(t, "two ages", two, one, 1e-9)
		if i > 0 && one == first {
			t.Fatal("a season deviates by nothing")
		}
	}
}

// The same seed gives the same draws on one core and on two.
func TestSameOnAnyCores(t *testing.T) {
	many := draw(t, bush(0.02), 5000)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one := draw(t, bush(0.02), 5000)
	if !reflect.DeepEqual(many.Long, one.Long) || !reflect.DeepEqual(many.Season, one.Season) {
		t.Error("draws differ with the number of cores")
	}
}

func TestFaults(t *testing.T) {
	for name, spoil := range map[string]func(*sure.Model){
		"low is 30 and high 20": func(m *sure.Model) {
			m.Assumptions[1].Dist.Low, m.Assumptions[1].Dist.High = 30,
				20
		},
		"lies outside low to high": func(m *sure.Model) { m.Assumptions[1].Dist.Best = 50 },
		"allowed: held, likely":    func(m *sure.Model) { m.Assumptions[1].Dist.Kind = "triangle" },
		"no option uses it": func(m *sure.Model) {
			m.Correlations = []sure.Correlation{{A: "wage", B: "rain", Rank: .5}}
		},
		"given twice": func(m *sure.Model) {
			m.Correlations = []sure.Correlation{{A: "wage", B: "price", Rank: .5}, {A: "price", B: "wage", Rank: -.5}}
		},
		"allowed: two assumptions": func(m *sure.Model) {
			m.Correlations = []sure.Correlation{{A: "wage", B: "price", Rank: 1.5}}
		},
		"do not: price × rival = -0.6, price × wage = 0.6, wage × rival = 0.6": func(m *sure.Model) {
			d := m.Assumptions[1].Dist
			m.Assumptions = append(m.Assumptions, sure.Assumption{Key: "rival", Group: "x", Dist: d})
			m.Correlations = []sure.Correlation{{A: "price", B: "rival", Rank: -.6}, {A: "price", B: "wage", Rank: .6},
				{A: "wage", B: "rival", Rank: .6}}
		},
	} {
		m := bush(0)
		spoil(m)
		if _, err := m.Draw(10, 1, false); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A million draws over eight practices, gains and prices, the long run alone, and the chances that they give.
func BenchmarkMillionDraws(b *testing.B) {
	m := bush(0.02)
	for b.Loop() {
		d, err := m.Draw(1_000_000, 1, false)
		if err != nil {
			b.Fatal(err)
		}
		d.Chances()
	}
}

// The same with prices known.
func BenchmarkMillionDrawsOfGains(b *testing.B) {
	m := bush(0.02)
	for i := range m.Assumptions {
		m.Assumptions[i].Dist.Kind = sure.Held
	}
	for b.Loop() {
		d, err := m.Draw(1_000_000, 1, false)
		if err != nil {
			b.Fatal(err)
		}
		d.Chances()
	}
}

// What is not kept of many draws is drawn again for what is summed up, which is then as if all were kept.
func TestSumsOfWhatIsNotKept(t *testing.T) {
	d := draw(t, bush(0.02), 50*1024+100)
	all := d.Summary(0)
	for _, margins := range [][][]float64{d.Long, d.Season} {
		for k := range margins {
			margins[k] = margins[k][:3*1024]
		}
	}
	for k, few := range d.Summary(0).Rows {
		for _, o := range [][2]sure.Outlook{{all.Rows[k].Long, few.Long}, {all.Rows[k].Season, few.Season}} {
			for i := range o {
				o[i].P5, o[i].P25, o[i].P50, o[i].P75, o[i].P95, o[i].First, o[i].Second = 0, 0, 0, 0, 0, nil, nil
				o[i].Poor, o[i].Good, o[i].Brings = 0, 0, [3]float64{}
			}
			if !reflect.DeepEqual(o[0], o[1]) {
				t.Errorf("%s: %+v where all are kept, %+v", few.ID, o[0], o[1])
			}
		}
	}
}

// A certainty equivalent is −ln of the mean of e^(−a·net), over a (Pratt 1964), as the draws themselves give it, and is
// at most the mean; it is told where (Σw)²/Σw² of its weights, the effective number of draws of Kish 1965, is one in
// 25 of them or more.
func TestSureWorth(t *testing.T) {
	d := draw(t, bush(.05), 10000)
	told, not := 0, 0
	for _, a := range []float64{0, .05, .5, 5, 50} {
		for k, row := range d.Summary(a).Rows {
			var sum, squares float64
			nets := d.Nets(d.Season, k)
			least := slices.Min(nets)
			for _, x := range nets {
				w := math.Exp(-a * (x - least))
				sum, squares = sum+w, squares+w*w
			}
			o := row.Season
			switch want := least - math.Log(sum/float64(d.N))/a; {
			case sum*sum/squares < float64(d.N)/25:
				not++
				if !math.IsNaN(o.Certainty) {
					t.Errorf("%s at %g: %g rests on %.0f draws", row.ID, a, o.Certainty, sum*sum/squares)
				}
			case a == 0 && o.Certainty != o.Mean || a > 0 && math.Abs(o.Certainty-want) > 1e-9 ||
				o.Certainty > o.Mean+1e-9:
				t.Errorf("%s at %g: %g of a mean of %g; want %g", row.ID, a, o.Certainty, o.Mean, want)
			default:
				told++
			}
		}
	}
	if told < 10 || not < 5 {
		t.Errorf("%d are told and %d are not", told, not)
	}
}
