package pool

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

func at(k practice.Key, age int) practice.Treatment {
	return practice.Treatment{Practice: k, DropAge: age}
}

// versus is one study with one contrast of any two treatments.
func versus(name, site string, arm, ref practice.Treatment, y, v float64) effect.StudyEffects {
	return effect.StudyEffects{Study: name, Site: site, Arms: []practice.Treatment{ref, arm},
		Rows: []effect.Row{{Arm: 1, Ref: 0, Y: y, GainPct: percent(y)}}, V: mat.NewSymDense(1, []float64{v})}
}

// kr is the model as papers have it: its variances estimated, and no season.
var kr = Options{Inference: reml.KenwardRoger, Site: true}

// exact is a table without error: two studies of each treatment at its true log gain.
func exact(gains map[practice.Treatment]float64) effect.Effects {
	var e effect.Effects
	for _, p := range practice.Shipped() {
		for age := range 10 {
			if y, ok := gains[at(p.Key, age)]; ok {
				for i := range 2 {
					name := fmt.Sprintf("%s %d %d", p.Key, age, i)
					e.Studies = append(e.Studies,
						versus(name, name, at(p.Key, age), at(practice.Unsanitized, 0), y, 1e-4))
				}
			}
		}
	}
	return e
}

// Where a new spout gives 31 %, a check valve 63 % and a new drop 72 %, the new spout is 49 % of the second and 43 % of
// the third (common practice, no source).
func TestSharesOfTheTrade(t *testing.T) {
	r := fit(t, exact(map[practice.Treatment]float64{
		at(practice.NewSpout, 0): math.Log(1.31), at(practice.CheckValve, 0): math.Log(1.63),
		at(practice.NewDrop, 0): math.Log(1.72), at(practice.ChlorineRinse, 0): math.Log(1.15),
	}), kr)
	if len(r.Shares) != 2 {
		t.Fatalf("the new spout is in the valve and in the drop, not in the rinse: %+v", r.Shares)
	}
	for i, want := range []struct {
		of    practice.Key
		share float64
	}{{practice.CheckValve, 0.49}, {practice.NewDrop, 0.43}} {
		s := r.Shares[i]
		if s.Of != want.of || math.Abs(*s.Share-want.share) > 0.005 || !(*s.Low < *s.Share && *s.Share < *s.High) {
			t.Errorf("share in %s: %v (%v to %v), want %v", s.Of, *s.Share, *s.Low, *s.High, want.share)
		}
	}
}

func TestShareUndefined(t *testing.T) {
	var e effect.Effects
	for i, y := range []float64{-0.2, 0.3, 0.1, -0.1} {
		e.Studies = append(e.Studies, pair(fmt.Sprint("v", i), fmt.Sprint("v", i), y, 0.04, practice.CheckValve),
			pair(fmt.Sprint("s", i), fmt.Sprint("s", i), y+0.2, 0.04, practice.NewSpout))
	}
	if s := fit(t, e, kr).Shares[0]; s.Share != nil || s.Low != nil || s.High != nil {
		t.Errorf("the valve's interval holds 0, so there is nothing to share: %+v", s)
	}
}

// The share's interval against Fieller 1954, J R Stat Soc B 16:175, where both gains are small, so that percents and
// logs agree: bounds of a/b from a ± and b ± independent, df the pool's.
func TestShareFieller(t *testing.T) {
	var e effect.Effects
	for i := range 40 {
		e.Studies = append(e.Studies,
			pair(fmt.Sprint("v", i), fmt.Sprint("v", i), 0.002+1e-4*float64(i%2), 1e-6, practice.CheckValve),
			pair(fmt.Sprint("s", i), fmt.Sprint("s", i), 0.001+1e-4*float64(i%2), 1e-6, practice.NewSpout))
	}
	r := fit(t, e, Options{Inference: reml.Wald})
	a, b := r.Gains[0], r.Gains[1]
	z2 := math.Pow(1.959963984540054, 2)
	g := z2 * b.SE * b.SE / (b.Log * b.Log)
	q := a.Log / b.Log
	half := 1.959963984540054 / b.Log / (1 - g) * math.Sqrt(a.SE*a.SE+q*q*b.SE*b.SE-g*a.SE*a.SE)
	s := r.Shares[0]
	near(t, "low", *s.Low, q/(1-g)-half, 2e-3)
	near(t, "high", *s.High, q/(1-g)+half, 2e-3)
}

// k studies of equal variance: standard error s/√k with k − 1 degrees of freedom exactly (method of moments and
// Student 1908 agree), whatever part of s² is sampling.
func TestEqualVariances(t *testing.T) {
	y := []float64{0.31, 0.1, 0.42, 0.22, 0.55, 0.18}
	mean, squares := 0.0, 0.0
	for _, x := range y {
		mean += x / 6
	}
	var e effect.Effects
	for i, x := range y {
		squares += (x - mean) * (x - mean)
		e.Studies = append(e.Studies, pair(fmt.Sprint(i), fmt.Sprint(i), x, 0.005, practice.CheckValve))
	}
	s := math.Sqrt(squares / 5)
	r := fit(t, e, kr)
	g := r.Gains[0]
	near(t, "log", g.Log, mean, 1e-9)
	near(t, "se", g.SE, s/math.Sqrt(6), 1e-7)
	near(t, "df", g.DF, 5, 1e-7)
	near(t, "low", g.LowPct, percent(mean-2.570581836*s/math.Sqrt(6)), 1e-6) // t(0.975; 5), any t table
	near(t, "range of a season", g.SeasonHighPct, percent(mean+2.570581836*math.Sqrt(s*s/6+s*s-0.005)), 1e-6)
	near(t, "Q", r.Q, squares/0.005, 1e-9)
	near(t, "plain mean", *g.PlainMeanPct,
		(percent(0.31)+percent(0.1)+percent(0.42)+percent(0.22)+percent(0.55)+percent(0.18))/6, 1e-12)
	for _, w := range r.Weights {
		near(t, "weight", w.WeightPct, 100./6, 1e-6)
	}
}

func TestNotEstimable(t *testing.T) {
	u, s, v, c := at(practice.Unsanitized, 0), at(practice.NewSpout, 0), at(practice.CheckValve, 0),
		at(practice.ChlorineRinse, 0)
	peroxide := at(practice.PeroxideRinse, 0)
	e := effect.Effects{Studies: []effect.StudyEffects{
		versus("1", "1", s, u, 0.3, 0.01), versus("2", "2", s, u, 0.2, 0.01), versus("3", "3", v, s, 0.2, 0.01),
		versus("4", "4", peroxide, c, 0.1, 0.01),
	}}
	r := fit(t, e, kr)
	if !slices.Equal(r.NotEstimable, []practice.Key{practice.ChlorineRinse, practice.PeroxideRinse}) ||
		len(r.Gains) != 2 || r.Rows != 3 {
		t.Errorf("not estimable %v, %d gains, %d rows", r.NotEstimable, len(r.Gains), r.Rows)
	}
	if !said(r, "chlorine-rinse is not estimable") {
		t.Errorf("%v", r.Notes)
	}
	// By a chain: the valve was only ever held against the new spout, and has no percentage against unsanitized.
	if g := r.Gains[1]; g.Treatment != v || g.PlainMeanPct != nil || g.Comparisons != 1 {
		t.Errorf("%+v", g)
	}
	_, err := Fit(effect.Effects{Studies: e.Studies[3:]}, practice.Shipped(), kr)
	var faults note.Faults
	if !errors.As(err, &faults) {
		t.Errorf("nothing is linked to unsanitized: %v", err)
	}
	if _, err := Fit(effect.Effects{}, practice.Shipped(), kr); !errors.As(err, &faults) {
		t.Errorf("no studies: %v", err)
	}
}

func TestBadInput(t *testing.T) {
	good := pair("a", "a", 0.3, 0.01, practice.NewSpout)
	var faults note.Faults
	for name, fit := range map[string]func() (*Result, error){
		"NaN": func() (*Result, error) {
			return Fit(effect.Effects{Studies: []effect.StudyEffects{good,
				pair("b", "b", math.NaN(), 0.01, practice.NewSpout)}}, practice.Shipped(), kr)
		},
		"variance of 0": func() (*Result, error) {
			return Fit(effect.Effects{Studies: []effect.StudyEffects{good, pair("b", "b", 0.2, 0, practice.NewSpout)}},
				practice.Shipped(), kr)
		},
		"unknown practice": func() (*Result, error) {
			return Fit(effect.Effects{Studies: []effect.StudyEffects{good, pair("b", "b", 0.2, 0.01, "moonlight")}},
				practice.Shipped(), kr)
		},
		"unknown moderator": func() (*Result, error) {
			return Fit(effect.Effects{Studies: []effect.StudyEffects{good}}, practice.Shipped(),
				Options{Moderators: []string{"moon"}})
		},
		"unknown inference": func() (*Result, error) {
			return Fit(effect.Effects{Studies: []effect.StudyEffects{good}}, practice.Shipped(),
				Options{Inference: "guess"})
		},
		"covariance not positive definite": func() (*Result, error) {
			s := good
			s.Study, s.Arms = "b", []practice.Treatment{at(practice.Unsanitized, 0), at(practice.NewSpout, 0),
				at(practice.CheckValve, 0)}
			s.Rows = []effect.Row{{Arm: 1, Y: 0.3}, {Arm: 2, Y: 0.5}}
			s.V = mat.NewSymDense(2, []float64{0.01, 0.02, 0.02, 0.01})
			return Fit(effect.Effects{Studies: []effect.StudyEffects{good, pair("c", "c", 0.2, 0.01, practice.NewSpout),
				s}}, practice.Shipped(), kr)
		},
	} {
		if _, err := fit(); !errors.As(err, &faults) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// One study: its own gain, with the widest interval there is, and no claim on the spread between studies.
func TestOneStudy(t *testing.T) {
	r := fit(t, effect.Effects{Studies: []effect.StudyEffects{pair("a", "a", 0.3, 0.01, practice.NewSpout)}}, kr)
	g := r.Gains[0]
	near(t, "log", g.Log, 0.3, 1e-12)
	near(t, "se", g.SE, 0.1, 1e-12)
	near(t, "high", g.HighPct, percent(0.3+12.7062047362*0.1), 1e-9) // t(0.975; 1), any t table
	if !said(r, "no more comparisons than effects") || !said(r, "fewer than 4") {
		t.Errorf("%v", r.Notes)
	}
	sound(t, r)
}

// A table without error gives back the curve that it was made from.
func TestAgeingRecovered(t *testing.T) {
	spout, delta := math.Log(1.31), math.Log(1.72/1.31)
	for _, c := range []struct {
		kind     string
		halfLife float64
		f        func(age float64) float64
	}{
		{"exponential", 1.7, func(a float64) float64 { return math.Pow(0.5, a/1.7) }},
		{"linear", 2.6, func(a float64) float64 { return max(0, 1-a/5.2) }},
	} {
		gains := map[practice.Treatment]float64{at(practice.NewSpout, 0): spout}
		for age := range 5 {
			gains[at(practice.NewDrop, age)] = spout + delta*c.f(float64(age))
		}
		r := fit(t, exact(gains), kr)
		if !r.Ageing.Estimable || len(r.Ageing.Curves) != 2 || r.Ageing.Oldest != 4 || len(r.Ageing.ByAge()) != 5 {
			t.Fatalf("%+v", r.Ageing)
		}
		i := slices.IndexFunc(r.Ageing.Curves, func(x Curve) bool { return x.Kind == c.kind })
		x := r.Ageing.Curves[i]
		near(t, c.kind+" half-life", x.HalfLife, c.halfLife, 1e-6)
		near(t, c.kind+" δ", x.Delta, delta, 1e-6)
		if x.AtBound || !(x.HalfLifeLow < x.HalfLife && x.HalfLife < x.HalfLifeHigh) ||
			x.Weight < r.Ageing.Curves[1-i].Weight {
			t.Errorf("%+v", r.Ageing.Curves)
		}
		for age := range 5 {
			g := r.Ageing.ByAge()[age]
			near(t, fmt.Sprint("by age ", age), g.Log, gains[at(practice.NewDrop, age)], 1e-9)
		}
		if p := r.Ageing.Points[i]; p[0].Age != 0 || !p[0].Studied || p[len(p)-1].Studied ||
			math.Abs(p[0].Pct-72) > 0.01 {
			t.Errorf("%+v", p)
		}
		if g, ok := r.Gain(at(practice.NewDrop, 9)); !ok || !(g.Log > spout-0.05 && g.Log < spout+0.1) {
			t.Errorf("an old drop is all but a yearly new spout: %+v", g)
		}
	}
}

func TestAgeingNotEstimable(t *testing.T) {
	gains := map[practice.Treatment]float64{at(practice.NewSpout, 0): 0.27, at(practice.NewDrop, 0): 0.54,
		at(practice.NewDrop, 2): 0.4}
	r := fit(t, exact(gains), kr)
	if r.Ageing.Estimable || r.Ageing.Curves != nil || len(r.Ageing.ByAge()) != 2 || r.Ageing.Why.Key == "" {
		t.Errorf("two ages make no curve: %+v", r.Ageing)
	}
	if g, ok := r.Gain(at(practice.NewDrop, 2)); !ok || math.Abs(g.Log-0.4) > 1e-9 {
		t.Errorf("an age studied has its gain: %+v", g)
	}
	if _, ok := r.Gain(at(practice.NewDrop, 1)); ok {
		t.Error("an age not studied has none")
	}
	if i := slices.IndexFunc(r.Gains, func(g Gain) bool { return g.Treatment.Practice == practice.NewDrop }); i < 0 ||
		math.Abs(r.Gains[i].Log-0.54) > 1e-9 {
		t.Errorf("gains means age 0: %+v", r.Gains)
	}
	if g, ok := r.Gain(at(practice.Unsanitized, 0)); !ok || g.Pct != 0 || g.SE != 0 || g.LowPct != 0 ||
		g.SeasonHighPct != 0 || math.IsNaN(g.DF) {
		t.Errorf("unsanitized gains nothing over itself: %+v", g)
	}
	if d, ok := r.Difference(at(practice.NewSpout, 0), at(practice.NewSpout, 0)); !ok || d.Log != 0 || d.P != 1 ||
		math.IsNaN(d.DF) {
		t.Errorf("%+v", d)
	}
	// Three ages, but nothing links the new spout.
	gains = map[practice.Treatment]float64{at(practice.NewDrop, 0): 0.54, at(practice.NewDrop, 1): 0.45,
		at(practice.NewDrop, 2): 0.4}
	if r = fit(t, exact(gains), kr); r.Ageing.Estimable || len(r.Ageing.ByAge()) != 3 {
		t.Errorf("%+v", r.Ageing)
	}
	// Drops far older than any half-life looked at: no curve tells them apart, and the gains by age still stand.
	gains = map[practice.Treatment]float64{at(practice.NewSpout, 0): 0.27}
	e := exact(gains)
	for age := 30; age <= 32; age++ {
		name := fmt.Sprint("old ", age)
		e.Studies = append(e.Studies,
			versus(name, name, at(practice.NewDrop, age), at(practice.Unsanitized, 0), 0.3, 1e-4))
	}
	if r = fit(t, e, kr); r.Ageing.Estimable || len(r.Ageing.ByAge()) != 3 || r.Ageing.Why.Key == "" ||
		len(r.Gains) != 1 {
		t.Errorf("%+v", r.Ageing)
	}
	// Never studied in its first season.
	gains = map[practice.Treatment]float64{at(practice.NewSpout, 0): 0.27, at(practice.NewDrop, 1): 0.45,
		at(practice.NewDrop, 2): 0.4}
	if r = fit(t, exact(gains), kr); len(r.Gains) != 1 || !said(r, "not studied in its first season") ||
		len(r.NotEstimable) != 0 {
		t.Errorf("%+v %v", r.Gains, r.Notes)
	}
}

// Drops that do not age within what was studied: the half-life runs to its bound and the answer is an average.
func TestAgeingAtBound(t *testing.T) {
	r := fit(t, exact(map[practice.Treatment]float64{at(practice.NewSpout, 0): 0.27, at(practice.NewDrop, 0): 0.54,
		at(practice.NewDrop, 1): 0.54, at(practice.NewDrop, 2): 0.54, at(practice.NewDrop, 3): 0.54}), kr)
	if c := r.Ageing.Curves[0]; !c.AtBound || c.HalfLifeHigh != longest || len(r.members) < 3 ||
		!said(r, "hardly told") {
		t.Errorf("%+v, %d members", c, len(r.members))
	}
	total := 0.0
	for _, m := range r.members {
		total += m.weight
	}
	near(t, "weights of the members", total, 1, 1e-12)
	sound(t, r)
}

func TestModerators(t *testing.T) {
	var e effect.Effects
	for i := range 12 {
		s := pair(fmt.Sprint(i), fmt.Sprint(i), 0.3+0.02*(float64(i)-5.5), 0.001, practice.NewSpout)
		s.Moderators = map[string]float64{"vacuum": 60 + float64(i), "tubing": 0.3125}
		e.Studies = append(e.Studies, s)
	}
	delete(e.Studies[3].Moderators, "vacuum")
	o := kr
	o.Moderators = []string{"vacuum", "tubing"}
	r := fit(t, e, o)
	if len(r.Moderators) != 1 || r.Moderators[0].Name != "vacuum" {
		t.Fatalf("tubing is the same everywhere: %+v", r.Moderators)
	}
	m := r.Moderators[0]
	if math.Abs(m.Slope-0.02) > 0.003 || m.P > 0.01 || math.Abs(m.Mean-(60*12+66-63)/11.) > 1e-9 {
		t.Errorf("%+v", m)
	}
	if !said(r, "the studies hardly differ in tubing") || !said(r, "vacuum is not stated by 3") {
		t.Errorf("%v", r.Notes)
	}
}

// Where money takes gains as the studies say, it takes slopes as they say too; drawn together, a slope lies between
// none and that. A property in which the studies hardly differ, or that one alone states, moves nothing.
func TestSlopesForMoney(t *testing.T) {
	var e effect.Effects
	for i := range 12 {
		y := 0.3 + 0.02*(float64(i)-5.5) + 0.1*float64(i*i%3-1)
		s := pair(fmt.Sprint(i), fmt.Sprint(i), y, 0.001, practice.NewSpout)
		s.Moderators = map[string]float64{evidence.Vacuum: 60 + float64(i), evidence.LineAge: 6 + 1e-3*float64(i%2)}
		if i == 4 {
			s.Moderators[evidence.Tubing] = 0.3125
		}
		e.Studies = append(e.Studies, s)
	}
	o := Default()
	o.Moderators = []string{evidence.Vacuum, evidence.LineAge, evidence.Tubing}
	spout := practice.Treatment{Practice: practice.NewSpout}
	moves := func(unshrunk bool) (money, says float64) { // from the least vacuum to the most
		o.Unshrunk = unshrunk
		r := fit(t, e, o)
		if len(r.Moderators) != 1 || r.Moderators[0].Name != evidence.Vacuum ||
			!said(r, "the studies hardly differ in line-age") || !said(r, "the studies hardly differ in tubing") {
			t.Errorf("%+v, %v", r.Moderators, r.Notes)
		}
		for sign, at := range map[float64]map[string]float64{-1: {evidence.Vacuum: 60, evidence.LineAge: 6.001},
			1: {evidence.Vacuum: 71, evidence.Tubing: 0.1875}} {
			m, ok := r.ForMoneyAt(spout, at)
			g, fine := gainAt(r, spout, at)
			if !ok || !fine || math.IsNaN(m.LowPct+m.HighPct+m.LongRunPct+m.SeasonLowPct+m.SeasonHighPct) {
				t.Fatalf("at %v: %+v", at, m)
			}
			if unshrunk {
				near(t, "as the studies say", m.Log, g.Log, 1e-12)
			}
			x, shrunk := r.Moderated(), r.integrated.shrunk
			lessAt := func(at map[string]float64) float64 {
				l, _ := r.integrated.layout.line(append(r.shifts(at), of(spout, 1))...)
				return less(shrunk.LongRun(l))
			}
			by, i := x.Shift(at), slices.Index(x.Treatments, spout)
			near(t, "k at a vacuum", x.More(i, by), // by the mixture of the line itself
				lessAt(at)-lessAt(nil), 1e-6)
			money, says = money+sign*m.Log, says+sign*g.Log
		}
		near(t, "eleven kilopascals", says, 11*r.Moderators[0].Slope, 1e-9)
		return money, says
	}
	money, says := moves(true)
	near(t, "unshrunk", money, says, 1e-12)
	if drawn, _ := moves(false); !(0.5*says < drawn && drawn < 0.98*says) {
		t.Errorf("the slope moves the gain for money by %v, as the studies say by %v", drawn, says)
	}
}

// A trial repeated on the same units: its arms' deviation is one over its seasons, so ten seasons of one trial tell
// less than ten trials.
func TestTrialComponent(t *testing.T) {
	var e effect.Effects
	for i := range 24 {
		trial := i / 6
		y := 0.3 + []float64{0.2, -0.15, 0.1, -0.2}[trial] + []float64{0.02, -0.02, 0.01, -0.03, 0.03, -0.01}[i%6]
		s := pair(fmt.Sprint(i), fmt.Sprint("site ", i), y, 0.001, practice.NewSpout)
		s.Trial = fmt.Sprint("trial ", trial)
		e.Studies = append(e.Studies, s)
	}
	with := fit(t, e, Options{Inference: reml.KenwardRoger})
	i := slices.IndexFunc(with.Variances, func(v Variance) bool { return v.Name == trialComponent })
	if i < 0 || with.Variances[i].Value < 0.02 {
		t.Fatalf("%+v", with.Variances)
	}
	// Balanced: the standard error is that of the four trials' means, s/√4 with 3 degrees of freedom.
	mean, squares := 0.3-0.0125, 0.0
	for _, d := range []float64{0.2, -0.15, 0.1, -0.2} {
		squares += (d + 0.0125) * (d + 0.0125)
	}
	near(t, "log", with.Gains[0].Log, mean, 1e-9)
	near(t, "se", with.Gains[0].SE, math.Sqrt(squares/3/4), 1e-6)
	near(t, "df", with.Gains[0].DF, 3, 1e-6)
}

// Leaving a study out is the fit of the others.
func TestWithout(t *testing.T) {
	w := trade(12, 0.03, 0.01)
	w.arms = [][]practice.Treatment{{at(practice.Unsanitized, 0), at(practice.NewSpout, 0)},
		{at(practice.Unsanitized, 0), at(practice.CheckValve, 0), at(practice.ChlorineRinse, 0)}}
	e := w.effects(rand.New(rand.NewPCG(9, 9)))
	e.Studies[0].Caveats = []evidence.Caveat{evidence.FreakSeason}
	e.Studies = append(e.Studies, pair("silver", "site 0", 0.2, 0.01, practice.SilverSpout))
	r := fit(t, e, kr)
	for i, s := range e.Studies {
		rest := effect.Effects{Studies: slices.Delete(slices.Clone(e.Studies), i, i+1)}
		want := fit(t, rest, kr)
		got, ok := r.Left(func(x *effect.StudyEffects) bool { return x.Study == s.Study })
		if !ok || got.Studies != 12 || len(got.Gains) != len(want.Gains) {
			t.Fatalf("%+v", got)
		}
		for j, g := range got.Gains {
			h := want.Gains[j]
			near(t, "log without "+s.Study, g.Log, h.Log, 1e-6)
			near(t, "se without "+s.Study, g.SE, h.SE, 1e-6)
			near(t, "df without "+s.Study, g.DF, h.DF, 1e-5)
			if g.Comparisons != h.Comparisons || g.Studies != h.Studies {
				t.Errorf("%+v %+v", g, h)
			}
		}
	}
	site, ok := r.Left(func(s *effect.StudyEffects) bool { return s.Site == "site 0" })
	if !ok || site.Studies != 9 || len(site.Gains) != 3 {
		t.Errorf("%+v", site)
	}
	for c, studies := range map[evidence.Caveat]int{evidence.FreakSeason: 12, evidence.Gravity: 13} {
		got, ok := r.Left(func(s *effect.StudyEffects) bool { return slices.Contains(s.Caveats, c) })
		if !ok || got.Studies != studies || (studies == 13) != (got == r) {
			t.Errorf("without %s: %+v", c, got)
		}
	}
}

// With ageing the half-lives stay to first order, so that an answer without a study lies close to the full fit.
func TestWithoutAgeing(t *testing.T) {
	e := trade(35, 0.02, 0.01).effects(rand.New(rand.NewPCG(4, 9)))
	r := fit(t, e, kr)
	for i, s := range e.Studies {
		got, ok := r.Left(func(x *effect.StudyEffects) bool { return x.Study == s.Study })
		if !ok {
			t.Fatalf("nothing is left without %s", s.Study)
		}
		want := fit(t, effect.Effects{Studies: slices.Delete(slices.Clone(e.Studies), i, i+1)}, kr)
		for j, g := range got.Gains {
			if h := want.Gains[j]; math.Abs(g.Log-h.Log) > 0.15*h.SE || math.Abs(g.SE/h.SE-1) > 0.1 {
				t.Errorf("without %s: %s %.4f ± %.4f, full fit %.4f ± %.4f", s.Study, g.Treatment.Practice, g.Log,
					g.SE, h.Log, h.SE)
			}
		}
		if i == 8 {
			break
		}
	}
}

// Weights against their definition, by moving one comparison at a time at the same θ, where a site ties studies
// together.
func TestWeightsHeldTheta(t *testing.T) {
	w := trade(12, 0.03, 0.03)
	w.arms = [][]practice.Treatment{{at(practice.Unsanitized, 0), at(practice.NewSpout, 0)},
		{at(practice.Unsanitized, 0), at(practice.CheckValve, 0), at(practice.NewSpout, 0)}}
	r := fit(t, w.effects(rand.New(rand.NewPCG(2, 9))), kr)
	x := r.table.model(r.members[0].layout).X
	var inv, left, phi, hat mat.Dense
	var all []int
	for i := range r.table.rows {
		all = append(all, i)
	}
	if err := inv.Inverse(r.table.covariance(r.members[0].theta)(all)); err != nil {
		t.Fatal(err)
	}
	left.Mul(x.T(), &inv)
	phi.Mul(&left, x)
	if err := phi.Inverse(&phi); err != nil {
		t.Fatal(err)
	}
	hat.Mul(&phi, &left) // β = hat y; the new spout's is the first
	total := 0.0
	for i, row := range r.table.rows {
		if row.arm.Practice == practice.NewSpout {
			total += math.Abs(hat.At(0, i))
		}
	}
	for i, x := range r.Weights {
		if x.Practice.Practice == practice.NewSpout {
			near(t, "weight of "+x.Study, x.WeightPct, 100*math.Abs(hat.At(0, i))/total, 1e-8)
		}
	}
}

// The seasons of a trial on the same units weigh together what the trial does, and no season of it is worth nothing
// because the others stand in for it: three exact seasons of one trial against one exact study are a half each.
func TestWeightsOfATrial(t *testing.T) {
	var e effect.Effects
	for i, y := range []float64{0.4, 0.42, 0.41, 1.2} {
		s := pair(fmt.Sprint("s", i), fmt.Sprint("site", i/3), y, 1e-6, practice.NewSpout)
		if s.Season = 2015 + i; i < 3 {
			s.Trial = "long"
		}
		e.Studies = append(e.Studies, s)
	}
	r := fit(t, e, Options{Inference: reml.KenwardRoger})
	near(t, "the gain half way between the trial and the study", r.Gains[0].Log, (0.41+1.2)/2, 0.001)
	for i, w := range r.Weights {
		want := 50.
		if i < 3 {
			want = 50. / 3
		}
		near(t, "weight of "+w.Study, w.WeightPct, want, 0.02)
	}
}

// A trial of four seasons weighs the same as a live study of four seasons and as four studies of one trial.
func TestLiveSeasons(t *testing.T) {
	un, spout, valve := at(practice.Unsanitized, 0), at(practice.NewSpout, 0), at(practice.CheckValve, 0)
	var others []effect.StudyEffects
	for i, y := range []float64{0.21, 0.34, 0.12, 0.40, 0.27, 0.19} {
		name, site := fmt.Sprint("s", i), fmt.Sprint("site", i%4)
		others = append(others, versus(name, site, spout, un, y, 0.01+0.002*float64(i)))
	}
	live := effect.StudyEffects{Study: "live", Site: "site1", Season: 2023, Live: true, V: mat.NewSymDense(8, nil)}
	rows := effect.Effects{Studies: slices.Clone(others)}
	for k, y := range [][2]float64{{0.30, 0.42}, {0.11, 0.30}, {0.36, 0.55}, {0.21, 0.33}} {
		v := mat.NewSymDense(2, []float64{0.008, 0.004, 0.004, 0.009})
		season := 2020 + k
		one := effect.StudyEffects{Study: fmt.Sprint("live ", season), Site: "site1", Trial: "live", Season: season,
			Arms: []practice.Treatment{un, spout, valve}, V: v}
		for i := range 2 {
			one.Rows = append(one.Rows, effect.Row{Arm: i + 1, Y: y[i]})
			live.Rows = append(live.Rows, effect.Row{Arm: 3*k + i + 1, Ref: 3 * k, Y: y[i]})
			for j := range i + 1 {
				live.V.SetSym(2*k+i, 2*k+j, v.At(i, j))
			}
		}
		live.Arms = append(live.Arms, one.Arms...)
		live.Seasons = append(live.Seasons, []int{season}, []int{season}, []int{season})
		rows.Studies = append(rows.Studies, one)
	}
	integrated := [2]*Result{fit(t, effect.Effects{Studies: append(others, live)}, Default()), fit(t, rows, Default())}
	for i, g := range integrated[1].Gains {
		near(t, "gain, integrated", integrated[0].Gains[i].Log, g.Log, 1e-6)
		near(t, "standard deviation, integrated", integrated[0].Gains[i].SE, g.SE, 1e-6)
	}
	a, b := fit(t, effect.Effects{Studies: append(others, live)}, kr), fit(t, rows, kr)
	for i, g := range b.Gains {
		near(t, "gain", a.Gains[i].Log, g.Log, 1e-9)
		near(t, "standard error", a.Gains[i].SE, g.SE, 1e-9)
		near(t, "degrees of freedom", a.Gains[i].DF, g.DF, 1e-6)
	}
	if len(a.Variances) != 3 || len(b.Variances) != 3 {
		t.Fatalf("%v and %v", a.Variances, b.Variances)
	}
	for i, v := range b.Variances {
		if math.Abs(a.Variances[i].Value-v.Value) > 1e-9 {
			t.Errorf("variance %s: %v, as rows %v", v.Name, a.Variances[i].Value, v.Value)
		}
	}
}

// The seasons of a trial on the same units are several studies and one trial: what it holds alone does not come first,
// whichever of its seasons is left out. A name that stands at two sites is of two trials.
func TestSeasonsOfATrialCountOnce(t *testing.T) {
	season := func(year int, trial, site string, y float64, k practice.Key) effect.StudyEffects {
		s := pair(fmt.Sprint(trial, year, site), site, y, 0.01, k)
		s.Season, s.Trial = 2015+year, trial
		return s
	}
	studies := []effect.StudyEffects{pair("a", "a", 0.25, 0.01, practice.NewSpout),
		pair("b", "b", 0.3, 0.01, practice.NewSpout)}
	for i := range 3 {
		studies = append(studies, season(i, "long", "c", 0.6, practice.CheckValve))
	}
	alone := "one trial of several seasons, which counts as one study"
	for _, c := range []struct {
		what    string
		more    []effect.StudyEffects
		without string
		trials  int
		alone   string
	}{
		{"one trial", nil, "", 1, alone},
		{"one trial less a season", nil, "long1c", 1, alone},
		{"and a study", []effect.StudyEffects{pair("d", "d", 0.5, 0.01, practice.CheckValve)}, "", 2, ""},
		{"which is left out", []effect.StudyEffects{pair("d", "d", 0.5, 0.01, practice.CheckValve)}, "d", 1, alone},
		{"the name at another site", []effect.StudyEffects{season(0, "long", "d", 0.5, practice.CheckValve)}, "", 2,
			""},
	} {
		for _, o := range []Options{kr, Default()} {
			r := fit(t, effect.Effects{Studies: append(slices.Clone(studies), c.more...)}, o)
			if c.without != "" {
				left, ok := r.Left(func(s *effect.StudyEffects) bool { return s.Study == c.without })
				if r = left; !ok {
					t.Fatal(c.what)
				}
			}
			spout, valve := r.Gains[0], r.Gains[1]
			if valve.Trials != c.trials || string(valve.Alone()) != c.alone ||
				spout.Trials != 2 || spout.Alone() != "" {
				t.Errorf("%s: %+v", c.what, valve)
			}
			best, promising := Most(r.Gains)
			if c.alone != "" && (best != spout || promising != valve) || c.alone == "" && best != valve {
				t.Errorf("%s: %s leads, %s is promising", c.what, best.Treatment, promising.Treatment)
			}
		}
	}
	if g := fit(t, effect.Effects{Studies: studies[:1]}, kr).Gains; g[0].Alone() != "one study" {
		t.Errorf("%+v", g[0])
	} else if best, _ := Most(g); best.Treatment.Practice != "" {
		t.Errorf("%s is put first, of one study", best.Treatment)
	}
}

// A gain hangs on what is assumed as far as the priors move it, however many studies there are: that of twenty studies
// at one site does, since its place is one, and that of two among many others does not, where these tell the spread.
func TestWhatHangsOnThePrior(t *testing.T) {
	var oneSite, two effect.Effects
	for i := range 20 {
		y := 0.3 + 0.02*float64(i%5-2)
		oneSite.Studies = append(oneSite.Studies, pair(fmt.Sprint("a", i), "a", y, 0.005, practice.NewSpout))
		s := pair(fmt.Sprint("b", i), fmt.Sprint("b", i%10), y, 0.005, practice.NewSpout)
		s.Season = 2000 + i
		two.Studies = append(two.Studies, s)
	}
	for i := range 2 {
		s := pair(fmt.Sprint("c", i), fmt.Sprint("b", i), 0.5, 0.005, practice.CheckValve)
		s.Season = 2030 + i
		two.Studies = append(two.Studies, s)
	}
	for _, c := range []struct {
		what  string
		e     effect.Effects
		of    int
		hangs bool
	}{{"one study", effect.Effects{Studies: oneSite.Studies[:1]}, 0, true}, {"twenty at one site", oneSite, 0, true},
		{"two among many", two, 1, false}} {
		r := fit(t, c.e, Default())
		if got := r.Gains[c.of].Hangs(r.Halved()[c.of], r.Doubled()[c.of]); got != c.hangs {
			t.Errorf("%s: %v; %+v, halved %+v, doubled %+v", c.what, got, r.Gains[c.of], r.Halved()[c.of],
				r.Doubled()[c.of])
		}
	}
}

// Of very many rows the half-life is found with the variances held. There the likelihood over all of them must be
// highest too: a step of Gauss and Newton from it, its variances estimated anew, is none to speak of beside the
// interval.
func TestHalfLivesOfManyRows(t *testing.T) {
	r, err := Fit(trade(900, 0.02, 0.01).effects(rand.New(rand.NewPCG(3, 1))), practice.Shipped(), kr)
	if err != nil {
		t.Fatal(err)
	}
	if r.Rows <= manyRows {
		t.Fatalf("%d rows are few", r.Rows)
	}
	for i, c := range r.Ageing.Curves {
		var own []member
		for _, m := range r.members {
			if m.curve == i {
				own = append(own, m)
			}
		}
		if c.AtBound || len(own) != 1 {
			t.Fatalf("%s curve: the half-life %v lies at a bound", c.Kind, c.HalfLife)
		}
		l := own[0].layout
		f, err := reml.FitML(r.table.model(l))
		if err != nil {
			t.Fatal(err)
		}
		step := f.Beta[l.slope] / f.Beta[l.delta[l.ageing[0]]]
		if wide := c.HalfLifeHigh - c.HalfLifeLow; math.Abs(step) > 0.01*wide {
			t.Errorf("%s curve: the likelihood is highest %v beside a half-life of %v (%v to %v)", c.Kind, step,
				c.HalfLife, c.HalfLifeLow, c.HalfLifeHigh)
		}
	}
}
