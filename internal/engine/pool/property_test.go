package pool

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"spile/internal/engine/effect"
	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

func fit(t testing.TB, e effect.Effects, o Options) *Result {
	t.Helper()
	r, err := Fit(e, practice.Shipped(), o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// alike fails where two answers differ by more than rounding.
func alike(t *rapid.T, a, b *Result, tolerance float64) {
	if len(a.Gains) != len(b.Gains) || len(a.Variances) != len(b.Variances) || len(a.Between) != len(b.Between) ||
		a.Rows != b.Rows {
		t.Fatalf("%+v\n%+v", a, b)
	}
	close := func(what string, x, y float64) {
		if !(math.Abs(x-y) <= tolerance*max(1, math.Abs(x))) && !(math.IsInf(x, 1) && math.IsInf(y, 1)) {
			t.Fatalf("%s: %.15g and %.15g", what, x, y)
		}
	}
	for i, g := range a.Gains {
		h := b.Gains[i]
		if g.Treatment != h.Treatment || g.Comparisons != h.Comparisons || g.Studies != h.Studies {
			t.Fatalf("%+v\n%+v", g, h)
		}
		close("log", g.Log, h.Log)
		close("se", g.SE, h.SE)
		close("df", g.DF, h.DF)
		close("season", g.SeasonHighPct, h.SeasonHighPct)
		if g.PlainMeanPct != nil {
			close("plain mean", *g.PlainMeanPct, *h.PlainMeanPct)
		}
	}
	for i, d := range a.Between {
		close("difference", d.Log, b.Between[i].Log)
		close("p", d.P, b.Between[i].P)
	}
	for i, v := range a.Variances {
		close(v.Name, v.Value, b.Variances[i].Value)
	}
	close("Q", a.Q, b.Q)
	close("I²", a.I2Pct, b.I2Pct)
	weights := func(r *Result) map[string]float64 {
		m := map[string]float64{}
		for _, w := range r.Weights {
			m[w.Study+" "+string(w.Practice.Practice)] += w.WeightPct
		}
		return m
	}
	v := weights(b)
	for k, w := range weights(a) {
		close("weight of "+k, w, v[k])
	}
}

// world draws studies as a user would have them.
func world(t *rapid.T) []evidence.Study {
	w := trade(rapid.IntRange(6, 20).Draw(t, "studies"), rapid.Float64Range(0, 0.1).Draw(t, "between studies"),
		rapid.Float64Range(0, 0.05).Draw(t, "between sites"))
	return w.draw(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
}

func answer(t *rapid.T, studies []evidence.Study) (effect.Effects, *Result) {
	e, err := effect.Of(studies, practice.Shipped(), evidence.Options{})
	if err != nil {
		t.Skip(err)
	}
	r, err := Fit(e, practice.Shipped(), kr)
	if err != nil {
		t.Fatal(err)
	}
	return e, r
}

// What must not change an answer: each is tried on tables of its own.
func TestPropertyChangesNothing(t *testing.T) {
	changes := []struct {
		name      string
		tolerance float64
		change    func(*rapid.T, []evidence.Study) []evidence.Study
	}{
		{"all yields of a study scaled", 1e-9, func(t *rapid.T, studies []evidence.Study) []evidence.Study {
			s := &studies[rapid.IntRange(0, len(studies)-1).Draw(t, "study")]
			c := rapid.Float64Range(0.1, 10).Draw(t, "scale")
			for i := range s.Arms {
				s.Arms[i].Mean, s.Arms[i].SD = new(*s.Arms[i].Mean*c), new(*s.Arms[i].SD*c)
			}
			return studies
		}},
		// sums in another order; the ascent stops within its tolerance
		{"another order of rows", 1e-6, func(t *rapid.T, studies []evidence.Study) []evidence.Study {
			studies = rapid.Permutation(studies).Draw(t, "order")
			for i := range studies {
				studies[i].Arms = rapid.Permutation(studies[i].Arms).Draw(t, "arms")
			}
			return studies
		}},
		{"another arm named as reference", 1e-9, func(t *rapid.T, studies []evidence.Study) []evidence.Study {
			for i := range studies {
				arms := slices.Clone(studies[i].Arms)
				k := rapid.IntRange(0, len(arms)-1).Draw(t, "reference")
				for j := range arms {
					arms[j].Reference = j == k
				}
				studies[i].Arms = arms
			}
			return studies
		}},
	}
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(changes).Draw(t, "change")
		studies := world(t)
		_, a := answer(t, studies)
		_, b := answer(t, c.change(t, studies))
		alike(t, a, b, c.tolerance)
	})
}

func TestPropertyInfiniteVariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := trade(7, 0.03, 0.01)
		e := w.effects(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		a, err := Fit(e, practice.Shipped(), kr)
		if err != nil {
			t.Fatal(err)
		}
		v := rapid.SampledFrom([]float64{math.Inf(1), 1e6, 1e300}).Draw(t, "variance")
		e.Studies = slices.Insert(slices.Clone(e.Studies), rapid.IntRange(0, len(e.Studies)).Draw(t, "place"),
			pair("wide", "elsewhere", 3, v, practice.CheckValve))
		r, err := Fit(e, practice.Shipped(), kr)
		if err != nil {
			t.Fatal(err)
		}
		if !said(r, "its error is so wide") {
			t.Error("a row that says nothing is not named")
		}
		alike(t, a, r, 0)
	})
}

// The draws' quantiles are the intervals of the gains that money uses, and their mean is the ratio that it takes.
func TestDraws(t *testing.T) {
	r := fit(t, trade(35, 0.02, 0.01).effects(rand.New(rand.NewPCG(3, 1))), Default())
	const n = 40000
	var all []practice.Treatment
	for _, g := range r.Gains {
		all = append(all, g.Treatment)
	}
	drawn, _ := r.Draw(n, 5, append(all, at(practice.Unsanitized, 0), at(practice.SilverSpout, 0),
		at(practice.NewDrop, 3))...)
	for i, x := range all {
		g, _ := r.ForMoney(x)
		sum := 0.0
		for _, y := range drawn[i] {
			sum += math.Exp(y) / n
		}
		near(t, string(x.Practice)+": mean of the draws", sum, 1+g.Pct/100, 1e-3)
		own := slices.Sorted(slices.Values(drawn[i]))
		for _, q := range []struct{ p, pct float64 }{{0.025, g.LowPct}, {0.975, g.HighPct}} {
			// The Monte Carlo error of a 2.5 % quantile of a normal: sqrt(p(1−p)/n)/density.
			mc := math.Sqrt(q.p*(1-q.p)/n) / 0.0584 * g.SE
			if got := stat.Quantile(q.p, stat.Empirical, own, nil); math.Abs(got-math.Log1p(q.pct/100)) > 4*mc {
				t.Errorf("%s: quantile %v of the draws %.4f, of the table %.4f", x.Practice, q.p, got,
					math.Log1p(q.pct/100))
			}
		}
	}
	if x := drawn[len(all)]; slices.Max(x) != 0 || slices.Min(x) != 0 {
		t.Error("the reference gains nothing over itself")
	}
	if drawn[len(all)+1] != nil {
		t.Error("draws of a practice that no study holds")
	}
	if len(drawn[len(all)+2]) != n {
		t.Error("no draws of an older drop")
	}
	if alone, _ := r.Draw(n, 5, all[1]); !slices.Equal(alone[0], drawn[1]) {
		t.Error("draws of one seed do not belong together")
	}
}

// FuzzFit: whatever the numbers, an answer without NaN, or faults.
func FuzzFit(f *testing.F) {
	f.Add(uint64(1), 5, 20., 0.2, 4., 30., uint8(0))
	f.Add(uint64(2), 1, 1e-3, 3., 1., -50., uint8(3))
	f.Add(uint64(3), 12, 1e300, 1e-9, 2., 1e9, uint8(255))
	f.Add(uint64(4), 3, math.Inf(1), math.NaN(), -1., -100., uint8(7))
	f.Fuzz(func(t *testing.T, seed uint64, n int, mean, cv, units, pct float64, how uint8) {
		r := rand.New(rand.NewPCG(seed, 0))
		set := practice.Shipped()
		var studies []evidence.Study
		for i := range min(max(n, 0), 12) {
			s := evidence.Study{Name: string(rune('a' + i)), Site: string(rune('A' + r.IntN(4))),
				Unit: evidence.Chamber, Weather: "freak"}
			if how&1 != 0 {
				s.Trial = "T"
			}
			for _, k := range r.Perm(len(set))[:1+r.IntN(4)] {
				a := evidence.Arm{Practice: set[k].Key, DropAge: new(r.IntN(5)), LineAge: new(float64(r.IntN(9)))}
				m := mean * math.Exp(r.NormFloat64())
				switch {
				case how&2 != 0 && r.IntN(2) == 0:
					a.Gain = &evidence.Reported{Pct: pct * r.Float64()}
					if how&4 != 0 {
						a.Gain.SEPct = new(math.Abs(cv) * 100)
					}
				default:
					a.Mean, a.N = &m, &units
					if how&8 == 0 {
						a.SD = new(m * cv)
					}
				}
				s.Arms = append(s.Arms, a)
			}
			if how&16 != 0 {
				s.Arms[0].Reference = true
			}
			studies = append(studies, s)
		}
		e, err := effect.Of(studies, set, evidence.Options{})
		if err != nil {
			var faults note.Faults
			if !errors.As(err, &faults) {
				t.Fatal(err)
			}
			return
		}
		o := Default()
		if how&32 != 0 {
			o.Moderators = []string{"line-age", "season-class"}
		}
		if how&64 != 0 {
			o.Inference = reml.KenwardRoger
		}
		x, err := Fit(e, set, o)
		if err != nil {
			var faults note.Faults
			if !errors.As(err, &faults) {
				t.Fatalf("not faults: %v", err)
			}
			return
		}
		sound(t, x)
		for _, s := range x.table.studies {
			site := s.effects.Site
			w, ok := x.Left(func(s *effect.StudyEffects) bool { return s.Site == site })
			if !ok || site == "" {
				continue
			}
			for _, g := range w.Gains {
				if math.IsNaN(g.Log + g.SE + g.DF) {
					t.Fatalf("without %s: %+v", site, g)
				}
			}
		}
		for _, g := range x.Gains {
			if o.Inference != Mixture {
				break
			}
			drawn, _ := x.Draw(10, 1, g.Treatment)
			for _, l := range drawn[0] {
				if math.IsNaN(l) {
					t.Fatalf("a draw of %v is NaN", g.Treatment)
				}
			}
		}
	})
}

// sound fails on a NaN anywhere that JSON would carry.
func sound(t *testing.T, r *Result) {
	t.Helper()
	check := func(what string, x ...float64) {
		for _, v := range x {
			if math.IsNaN(v) {
				t.Fatalf("%s: %v", what, x)
			}
		}
	}
	for _, g := range slices.Concat(r.Gains, r.Ageing.ByAge()) {
		check("gain", g.Log, g.SE, g.DF, g.Pct, g.LowPct, g.HighPct, g.LongRunPct, g.SeasonLowPct, g.SeasonHighPct)
		if g.PlainMeanPct != nil {
			check("plain mean", *g.PlainMeanPct)
		}
	}
	for _, d := range r.Between {
		check("difference", d.Log, d.SE, d.DF, d.Low, d.High, d.P)
	}
	for _, s := range r.Shares {
		if s.Share != nil {
			check("share", *s.Share, *s.Low, *s.High)
		}
	}
	for _, v := range r.Variances {
		check(v.Name, v.Value, v.Low, v.High)
	}
	total := map[practice.Key]float64{}
	for _, w := range r.Weights {
		check("weight", w.Y, w.V, w.WeightPct)
		total[w.Practice.Practice] += w.WeightPct
	}
	for k, w := range total {
		if w != 0 && math.Abs(w-100) > 1e-6 {
			t.Fatalf("the weights of %s sum to %v", k, w)
		}
	}
	for _, c := range r.Ageing.Curves {
		check("curve", c.HalfLife, c.HalfLifeLow, c.HalfLifeHigh, c.Delta, c.LogLik, c.Weight)
	}
	for _, p := range slices.Concat(r.Ageing.Points...) {
		check("point", p.Pct, p.LowPct, p.HighPct)
	}
	for _, m := range r.Moderators {
		check("moderator", m.Mean, m.Slope, m.SE, m.DF, m.P)
	}
	check("Q", r.Q, r.QP, r.I2Pct)
}

// Between the half-lives where all variances are looked through, the profile that follows its neighbour is the same as
// the one that looks through all there too.
func TestProfileFollows(t *testing.T) {
	for seed := range uint64(12) {
		w := trade(12+int(5*seed), []float64{0, 0.01, 0.08}[seed%3], []float64{0.02, 0}[seed%2])
		e := w.effects(rand.New(rand.NewPCG(seed, 3)))
		for i := range e.Studies {
			if seed%2 == 1 && i%3 != 0 {
				e.Studies[i].Trial = string(rune('A' + i/4))
			}
		}
		r := fit(t, e, kr)
		plain := best(r.members).layout
		for _, c := range []shape{exponential, linear} {
			var near []float64
			for h := shortest; h < longest; h *= 1.2 {
				l := plain.at(c, h, nil)
				all, _ := r.profile(l, nil)
				follows, theta := r.profile(l, near)
				if math.Abs(all-follows) > 1e-9*(1+math.Abs(all)) {
					t.Errorf("world %d, %s, half-life %.2f: %v, and following %v", seed, string(c), h, all, follows)
				}
				near = theta
			}
		}
	}
}
