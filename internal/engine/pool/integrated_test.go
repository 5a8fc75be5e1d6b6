package pool

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/engine/mixture"
	"spile/internal/trade/practice"
)

// six is the reference table of package mixture, as evidence: practices 1 to 3 are spouts.
func six() effect.Effects {
	keys := []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.SilverSpout}
	type arm struct {
		k      int
		log, v float64
	}
	var e effect.Effects
	for i, s := range []struct {
		site, season int
		arms         []arm
	}{
		{0, 0, []arm{{0, 0, .010}, {1, .28, .010}, {2, .45, .012}}},
		{0, 1, []arm{{0, 0, .006}, {1, .36, .006}}},
		{1, 1, []arm{{0, 0, .02}, {1, .17, .02}, {3, .62, .02}}},
		{1, 2, []arm{{0, 0, .008}, {2, .31, .008}}},
		{2, 2, []arm{{1, 0, .005}, {2, .12, .005}, {3, .21, .005}}},
		{3, 3, []arm{{0, 0, .015}, {1, .50, .015}}},
	} {
		n := len(s.arms) - 1
		x := effect.StudyEffects{Study: fmt.Sprint("s", i+1), Site: fmt.Sprint("site", s.site), Season: 2010 + s.season,
			V: mat.NewSymDense(n, nil)}
		for j, a := range s.arms {
			x.Arms = append(x.Arms, practice.Treatment{Practice: keys[a.k]})
			if j == 0 {
				continue
			}
			x.Rows = append(x.Rows, effect.Row{Arm: j, Y: a.log - s.arms[0].log,
				GainPct: percent(a.log - s.arms[0].log)})
			for k := 1; k <= j; k++ {
				x.V.SetSym(j-1, k-1, s.arms[0].v)
			}
			x.V.SetSym(j-1, j-1, s.arms[0].v+a.v)
		}
		e.Studies = append(e.Studies, x)
	}
	return e
}

// The values were worked out by three programs that share no code, one of them JAGS; those of Kenward-Roger, without a
// component of the season, by R.
func TestSixIntegrated(t *testing.T) {
	o := Default()
	o.Prior = mixture.Default()
	o.Prior.Wild = 0
	r := fit(t, six(), o)
	for i, want := range []struct{ mean, sd, low, high, seasonLow, seasonHigh, longRun float64 }{
		{.3243, .1334, .0570, .5937, -.1839, .8342, 41.5},
		{.4439, .1449, .1591, .7404, -.0697, .9720, 59.7},
		{.5869, .1671, .2617, .9290, .0517, 1.1421, 84.9},
	} {
		g := r.Gains[i]
		for _, x := range [][2]float64{
			{g.Log, want.mean}, {g.SE, want.sd}, {math.Log1p(g.LowPct / 100), want.low},
			{math.Log1p(g.HighPct / 100), want.high},
			{math.Log1p(g.SeasonLowPct / 100), want.seasonLow}, {math.Log1p(g.SeasonHighPct / 100), want.seasonHigh},
		} {
			if math.Abs(x[0]-x[1]) > .0006 {
				t.Errorf("%s: %.4f, want %.4f", g.Treatment, x[0], x[1])
			}
		}
		near(t, "long run", g.LongRunPct, want.longRun, 2e-3)
	}
	for i, want := range [][2]float64{{.3215, .0655}, {.4226, .0760}, {.5568, .0947}} {
		if g := r.KR[i]; math.Abs(g.Log-want[0]) > .0001 || math.Abs(g.SE-want[1]) > .0001 || math.Abs(g.DF-6) > .05 {
			t.Errorf("Kenward-Roger: %s is %.4f (%.4f) with %.2f df, want %v with 6", g.Treatment, g.Log, g.SE,
				g.DF, want)
		}
	}
	if len(r.Variances) != 4 {
		t.Errorf("variances: %+v", r.Variances)
	}
}

// One study of 48 % says that it is from far less to three times as much, and that one new season says less.
func TestOneStudyIntegrated(t *testing.T) {
	o := Default()
	r := fit(t, effect.Effects{Studies: []effect.StudyEffects{pair("a", "a", math.Log(1.48), .008, practice.NewSpout)}},
		o)
	g := r.Gains[0]
	near(t, "low", g.LowPct, percent(-.3347), 2e-3)
	near(t, "high", g.HighPct, percent(1.1188), 2e-3)
	if !(g.SeasonLowPct < g.LowPct && g.SeasonHighPct > g.HighPct) {
		t.Errorf("the range for a season, %v to %v, is not wider than the interval, %v to %v", g.SeasonLowPct,
			g.SeasonHighPct, g.LowPct, g.HighPct)
	}
}

// Everything that is reported comes of one posterior: gains by age, points of the curves, what leaving out does, and
// what a moderator adds.
func TestAllIntegrated(t *testing.T) {
	e := trade(24, .02, .01).effects(rand.New(rand.NewPCG(1, 2)))
	for i := range e.Studies {
		e.Studies[i].Moderators = map[string]float64{"vacuum": 60 + float64(i*7%11)}
	}
	o := Default()
	o.Moderators = []string{"vacuum"}
	r := fit(t, e, o)
	if !r.Ageing.Estimable || len(r.Apart) != 24 || len(r.Moderators) != 1 || len(r.Between) == 0 ||
		len(r.Shares) == 0 {
		t.Fatalf("ageing %v, %d chances, moderators %v", r.Ageing.Why, len(r.Apart), r.Moderators)
	}
	for _, c := range r.Ageing.Curves {
		if !(c.HalfLifeLow < c.HalfLife && c.HalfLife < c.HalfLifeHigh) {
			t.Errorf("half-life %v, from %v to %v", c.HalfLife, c.HalfLifeLow, c.HalfLifeHigh)
		}
	}
	for _, age := range []int{0, 1, 3} {
		young, _ := r.Gain(at(practice.NewDrop, age))
		old, _ := r.Gain(at(practice.NewDrop, age+1))
		if !(old.Pct < young.Pct) {
			t.Errorf("drops of age %d gain %v %%, a season older %v %%", age, young.Pct, old.Pct)
		}
	}
	for _, g := range append(r.Gains, r.Ageing.ByAge()...) {
		if !math.IsInf(g.DF, 1) || !(g.LowPct < g.Pct && g.Pct < g.HighPct && g.SeasonLowPct < g.LowPct) {
			t.Errorf("%s: %+v", g.Treatment, g)
		}
	}
	mean, _ := gainAt(r, at(practice.NewSpout, 0), nil)
	above, ok := gainAt(r, at(practice.NewSpout, 0), map[string]float64{"vacuum": r.Moderators[0].Mean + 1})
	if !ok || math.Abs(above.Log-mean.Log-r.Moderators[0].Slope) > 1e-9 {
		t.Errorf("a unit of the moderator moves the gain by %v, its slope is %v", above.Log-mean.Log,
			r.Moderators[0].Slope)
	}
	for _, i := range []int{0, 5} {
		without, ok := r.Left(func(s *effect.StudyEffects) bool { return s.Study == e.Studies[i].Study })
		if !ok {
			t.Fatalf("nothing is left without study %d", i)
		}
		rest := e
		rest.Studies = slices.Delete(slices.Clone(e.Studies), i, i+1)
		alone := fit(t, rest, o)
		for k, g := range alone.Gains {
			if d := math.Abs(without.Gains[k].Log - g.Log); d > .01 {
				t.Errorf("without study %d the gain of %s is off by %v", i, g.Treatment, d)
			}
		}
	}
}

// Gains alone are those of the whole fit, also where drops are so old that no curve can be fitted to them.
func TestGainsAlone(t *testing.T) {
	old := exact(map[practice.Treatment]float64{at(practice.NewSpout, 0): 0.27})
	for age := 30; age <= 32; age++ {
		name := fmt.Sprint("old ", age)
		old.Studies = append(old.Studies,
			versus(name, name, at(practice.NewDrop, age), at(practice.Unsanitized, 0), 0.3, 1e-4))
	}
	for _, e := range []effect.Effects{old, six(), trade(12, .02, .01).effects(rand.New(rand.NewPCG(1, 2)))} {
		for _, o := range []Options{Default(), {Inference: KenwardRoger, Site: true}} {
			whole := fit(t, e, o)
			alone, err := Gains(e, practice.Shipped(), o)
			if err != nil {
				t.Fatal(err)
			}
			if alone.Studies != whole.Studies || alone.Ageing.Oldest != whole.Ageing.Oldest ||
				!reflect.DeepEqual(alone.Gains, whole.Gains) {
				t.Errorf("%+v, of the whole fit %+v", alone.Gains, whole.Gains)
			}
		}
	}
}

// Where money takes gains as the studies say, it does so without a study too.
func TestLeftUnshrunk(t *testing.T) {
	o := Default()
	o.Unshrunk = true
	r := fit(t, six(), o)
	left, ok := r.Left(func(s *effect.StudyEffects) bool { return s.Study == "s2" })
	if !ok {
		t.Fatal("nothing is left")
	}
	for _, g := range left.Gains {
		if money, ok := left.Money(g.Treatment); !ok || money.Log != g.Log {
			t.Errorf("%s: money rests on %v, the studies say %v", g.Treatment, money.Log, g.Log)
		}
	}
}

// gainAt is a gain as the studies say it where the moderators of the model stand at values.
func gainAt(r *Result, t practice.Treatment, at map[string]float64) (Gain, bool) {
	return r.gainOf(r.members, t, append(r.shifts(at), of(t, 1))...)
}
