package trust

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"spile/internal/engine/effect"
	"spile/internal/engine/mvt"
	"spile/internal/engine/pool"
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-6*max(1e-3, math.Abs(want))) {
		t.Errorf("%s = %.8g, want %.8g", what, got, want)
	}
}

var (
	un    = practice.Treatment{Practice: practice.Unsanitized}
	spout = practice.Treatment{Practice: practice.NewSpout}
	valve = practice.Treatment{Practice: practice.CheckValve}
)

// one is a study of one comparison.
func one(name, site string, season int, arm, ref practice.Treatment, y, v float64) effect.StudyEffects {
	return effect.StudyEffects{Study: name, Site: site, Season: season, Arms: []practice.Treatment{ref, arm},
		Rows: []effect.Row{{Arm: 1, Y: y}}, V: mat.NewSymDense(1, []float64{v})}
}

var gains = []float64{0.21, 0.48, 0.35, 0.10, 0.62, 0.27}

// alike are studies of one precision, each at a site of its own, one a season: gains of a new spout.
func alike(v float64) effect.Effects {
	var e effect.Effects
	for i, y := range gains {
		e.Studies = append(e.Studies, one(fmt.Sprint("s", i), fmt.Sprint("site ", i), 2015+i, spout, un, y, v))
	}
	return e
}

func linear(t *testing.T, e effect.Effects, o pool.Options) pool.Linear {
	t.Helper()
	r, err := pool.Fit(e, practice.Shipped(), o)
	if err != nil {
		t.Fatal(err)
	}
	l, ok := r.Linear()
	if !ok {
		t.Fatal("no linear model")
	}
	return l
}

var kr = pool.Options{Inference: reml.KenwardRoger}

// Studies of one precision are a normal sample, whose prediction interval for one more is m ± t(n−1)·s·√(1 + 1/n), and
// whose mean has s²/n with n − 1 degrees of freedom, by any of these ways.
func TestANormalSample(t *testing.T) {
	e := alike(0.004)
	l := linear(t, e, kr)
	for i, f := range Others(l) {
		rest := slices.Delete(slices.Clone(gains), i, i+1)
		m, s := stat.MeanStdDev(rest, nil)
		n := float64(len(rest))
		half := mvt.Half(n-1) * s * math.Sqrt(1+1/n)
		near(t, "foretold", f.Log, m)
		near(t, "low", f.Low, m-half)
		near(t, "high", f.High, m+half)
		near(t, "studentized", f.Studentized, (f.Y-m)/(s*math.Sqrt(1+1/n)))
		if f.Inside != (math.Abs(f.Y-m) <= half) {
			t.Errorf("%+v", f)
		}
	}
	before := Before(l)
	for i, f := range before {
		if f.Told != (i > 1) { // two studies leave a degree of freedom
			t.Errorf("study %d: %+v", i, f)
		}
		if f.Told {
			m, s := stat.MeanStdDev(gains[:i], nil)
			half := mvt.Half(float64(i-1)) * s * math.Sqrt(1+1/float64(i))
			near(t, "low", f.Low, m-half)
			near(t, "high", f.High, m+half)
		}
	}
	if years := ByYear(before); len(years) != 6 || years[0] != (Year{Season: 2015}) || years[5].Told != 1 {
		t.Errorf("%+v", years)
	}
	robust, ok := BySite(l)
	if !ok || len(robust) != 1 {
		t.Fatalf("%+v", robust)
	}
	m, s := stat.MeanStdDev(gains, nil)
	near(t, "mean", robust[0].Log, m)
	near(t, "its error by sites", robust[0].SE, s/math.Sqrt(6))
	near(t, "its degrees of freedom", robust[0].DF, 5)

	// A gain that one site alone tells has no error by sites: its residual there is 0.
	e.Studies = append(e.Studies, one("v", "", 2021, valve, un, 0.5, 0.01))
	if robust, ok := BySite(linear(t, e, pool.Options{})); !ok || len(robust) != 1 {
		t.Errorf("%+v", robust)
	}
}

// By mixture a study at a place and in a season of its own, measured all but exactly, is foretold as the range of one
// new season of a fit of the others; one of which they know nothing is not foretold.
func TestForetoldByMixture(t *testing.T) {
	e := alike(1e-6)
	e.Studies = append(e.Studies, one("v", "", 2021, valve, un, 0.5, 1e-6))
	o := pool.Options{Inference: pool.Mixture, Site: true}
	l := linear(t, e, o)
	others, before := Others(l), Before(l)
	told := func(what string, f Foretold, rest []effect.StudyEffects, within float64) {
		t.Helper()
		r, err := pool.Fit(effect.Effects{Studies: rest}, practice.Shipped(), o)
		if err != nil {
			t.Fatal(err)
		}
		g, _ := r.Gain(f.Arm)
		for _, x := range [][2]float64{{f.Log, g.Log}, {f.Low, math.Log1p(g.SeasonLowPct / 100)},
			{f.High, math.Log1p(g.SeasonHighPct / 100)}, {f.Residual, f.Y - g.Log}} {
			if !f.Told || math.Abs(x[0]-x[1]) > within {
				t.Errorf("%s of %s: %+v, want %v", what, f.Study, f, x[1])
			}
		}
		if f.Inside != (math.Abs(f.Studentized) < 1.96) || f.Studentized*f.Residual < 0 {
			t.Errorf("%s of %s: %+v", what, f.Study, f)
		}
	}
	for i := range gains {
		told("from the others", others[i], slices.Delete(slices.Clone(e.Studies), i, i+1), 0.02)
		if i > 0 {
			told("from those before", before[i], e.Studies[:i], 0.002)
		}
	}
	if before[0].Told || others[6].Told || before[6].Told || others[6].Study != "v" || others[6].Y != 0.5 {
		t.Errorf("%+v, %+v, %+v", before[0], others[6], before[6])
	}
}

// A study at a site that others were made at is foretold with what they say of the site.
func TestAKnownSite(t *testing.T) {
	var e effect.Effects
	for i := range 12 {
		y := 0.3 + []float64{0.25, -0.2, 0.05, -0.15}[i%4] + []float64{0.02, -0.03, 0.01}[i/4]
		e.Studies = append(e.Studies, one(fmt.Sprint(i), fmt.Sprint("site ", i%4), 2010+i/4, spout, un, y, 0.001))
	}
	list := Others(linear(t, e, pool.Options{Inference: reml.KenwardRoger, Site: true}))
	for i, f := range list {
		if own := e.Studies[i].Rows[0].Y; math.Abs(f.Log-own) > 0.08 || f.High-f.Low > 0.5 {
			t.Errorf("%d: %.3f foretold as %.3f (%.3f to %.3f)", i, own, f.Log, f.Low, f.High)
		}
		if all := f.Y - f.Residual; math.Abs(all-0.29) > 0.08 { // that of a site not known
			t.Errorf("%d: the residual is over %.3f", i, all)
		}
	}
}

// Even weights select nothing; and selection takes from a gain that small errors do not hold up.
func TestSelection(t *testing.T) {
	e := alike(0.004)
	for i := range e.Studies {
		e.Studies[i].V.SetSym(0, 0, 0.002+0.02*gains[i])
	}
	l := linear(t, e, kr)
	even := Selection{Weights: make([]float64, len(bounds))}
	for i := range even.Weights {
		even.Weights[i] = 0.5
	}
	for _, s := range even.Under(l) {
		near(t, "even weights", s.Log, s.Plain)
	}
	last := math.Inf(1)
	for _, s := range Selections() {
		got := s.Under(l)
		if len(got) != 1 || got[0].Comparisons != 6 || !(got[0].Log < got[0].Plain && got[0].Log < last) {
			t.Errorf("%s: %+v", s.Name, got)
		}
		last = got[0].Log
	}
}

// A study that stands apart counts in selection as in the pooled gain, and widens the spread of none. By R: metafor
// 3.8-1, rma(method = "ML") and selmodel(type = "stepfun") on these numbers without the last; with it, where no study
// may stand apart.
func TestSelectionBesideAStudyApart(t *testing.T) {
	var e effect.Effects
	for i, y := range []float64{.35, .30, .41, .33, .38, .29, .36, .44, .31, .35, .37, 1.6} {
		e.Studies = append(e.Studies, one(fmt.Sprint("s", i), fmt.Sprint("site ", i%8), 2015+i%6, spout, un, y, 0.016))
	}
	for _, c := range []struct {
		with             pool.Inference
		plain            float64
		moderate, severe float64
		within           float64
	}{
		{pool.Mixture, 0.3536364, 0.3449156, 0.3394240, 0.003},
		{reml.KenwardRoger, 0.4575, 0.3924169, 0.2535228, 1e-4},
	} {
		l := linear(t, e, pool.Options{Inference: c.with, Site: true})
		for i, want := range []float64{c.moderate, c.severe} {
			g := Selections()[i].Under(l)[0]
			if math.Abs(g.Plain-c.plain) > c.within || math.Abs(g.Log-want) > c.within {
				t.Errorf("%s: %+v, want %v from %v", c.with, g, want, c.plain)
			}
		}
	}
}

func TestSmallStudies(t *testing.T) {
	if _, ok := SmallStudies(linear(t, alike(0.004), kr)); ok {
		t.Error("studies of one precision are tested for small ones")
	}
	e := alike(0.004)
	for i, y := range gains { // errors that follow the gain exactly: y = 0.05 + 2·se
		e.Studies[i].V.SetSym(0, 0, math.Pow((y-0.05)/2, 2))
	}
	g, ok := SmallStudies(linear(t, e, kr))
	if !ok || math.Abs(g.Slope-2) > 1e-6 || g.Comparisons != 6 {
		t.Errorf("%+v", g)
	}
	points := Funnel(linear(t, e, kr))
	if len(points) != 6 || math.Abs(points[3].SE-0.025) > 1e-12 || points[3].Y != gains[3] {
		t.Errorf("%+v", points)
	}
	near(t, "contour", Contour(0.05, 0.1), 0.1959963985)
}

// The power of a t test, by R: power.t.test(n = 17, delta = 1, sd = 1, strict = TRUE) has 32 degrees of freedom and a
// noncentrality of √(17/2).
func TestPower(t *testing.T) {
	near(t, "power", power(math.Sqrt(8.5), 32), 0.8070367)
	near(t, "what is found at 80 %", power(found(0.8, 7), 7), 0.8)
}

func TestDesigns(t *testing.T) {
	e := alike(0.004)
	if d, ok := Designs(linear(t, e, kr)); ok || d.DF != 0 {
		t.Errorf("one design disagrees with itself: %+v", d)
	}
	for i, y := range []float64{0.50, 0.62, 0.41} {
		e.Studies = append(e.Studies, one(fmt.Sprint("v", i), "", 2020, valve, un, y, 0.004))
	}
	for i, y := range []float64{0.80, 0.95, 0.71} { // a loop that does not close: 0.52 − 0.34 is not 0.82
		e.Studies = append(e.Studies, one(fmt.Sprint("w", i), "", 2021, valve, spout, y, 0.004))
	}
	d, ok := Designs(linear(t, e, kr))
	if !ok || d.Designs != 3 || d.DF != 1 || d.P > 0.01 || d.ChiP > 0.01 {
		t.Errorf("%+v", d)
	}
}

// Indirect evidence by Bucher et al. 1997, J Clin Epidemiol 50:683: d_ab = d_a − d_b with the sum of the variances,
// here with nothing between studies.
func TestSplits(t *testing.T) {
	e := effect.Effects{Studies: []effect.StudyEffects{
		one("1", "1", 2020, spout, un, 0.3, 0.01), one("2", "2", 2020, spout, un, 0.3, 0.01),
		one("3", "3", 2020, valve, un, 0.5, 0.02), one("4", "4", 2020, valve, un, 0.5, 0.02),
		one("5", "5", 2020, valve, spout, 0.05, 0.03), one("6", "6", 2020, valve, spout, 0.05, 0.03),
	}}
	list := Splits(linear(t, e, pool.Options{Inference: reml.Wald}))
	i := slices.IndexFunc(list, func(s Split) bool {
		return s.Practice == practice.CheckValve && s.Against == practice.NewSpout
	})
	if i < 0 {
		t.Fatalf("%+v", list)
	}
	s := list[i]
	near(t, "direct", s.DirectLog, 0.05)
	near(t, "direct se", s.DirectSE, math.Sqrt(0.015))
	near(t, "indirect", s.IndirectLog, 0.2)
	near(t, "indirect se", s.IndirectSE, math.Sqrt(0.015))
	near(t, "difference", s.DifferenceLog, -0.15)
	near(t, "p", s.P, math.Erfc(0.15/math.Sqrt(0.03)/math.Sqrt2))
	// A pair with no way round has no indirect evidence.
	if list := Splits(linear(t, effect.Effects{Studies: e.Studies[:4]}, kr)); len(list) != 0 {
		t.Errorf("%+v", list)
	}
}

// All studies of one set of practices stand in one good season. What knows that seasons differ finds nothing; the
// answer for papers, which knows of none, finds that they disagree.
func TestDesignsOfAGoodSeason(t *testing.T) {
	var e effect.Effects
	for i, y := range []float64{0.05, 0.38, 0.61, 0.12, 0.44, 0.27} {
		for k, off := range []float64{-0.02, 0.02} {
			e.Studies = append(e.Studies, one(fmt.Sprint("s", i, k), "", 2015+i, spout, un, y+off, 0.001))
		}
	}
	for i, off := range []float64{-0.03, 0, 0.03, -0.01, 0.02, -0.02} {
		e.Studies = append(e.Studies, one(fmt.Sprint("v", i), "", 2021, valve, un, 0.9+off, 0.001),
			one(fmt.Sprint("w", i), "", 2022, valve, spout, 0.2+off, 0.001))
	}
	whole := linear(t, e, pool.Options{Inference: pool.Mixture, Site: true})
	d, ok := Designs(whole)
	if !ok || d.P < 0.1 {
		t.Errorf("knowing of seasons: %+v", d)
	}
	for _, s := range Splits(whole) {
		if s.P < 0.1 {
			t.Errorf("knowing of seasons: %+v", s)
		}
	}
	if d, ok := Designs(linear(t, e, kr)); !ok || d.P > 0.01 {
		t.Errorf("for papers: %+v", d)
	}
}

// What is left out, and what follows.
func TestWithout(t *testing.T) {
	e := alike(0.004)
	e.Studies[1].Site = "site 0"
	e.Studies = append(e.Studies, effect.StudyEffects{Study: "live", Site: "site 0", Season: 2016, Live: true,
		Arms: []practice.Treatment{un, valve, un, valve}, Seasons: [][]int{{2015}, {2015}, {2016}, {2016}},
		Rows: []effect.Row{{Arm: 1, Ref: 0, Y: 0.5}, {Arm: 3, Ref: 2, Y: 0.7}},
		V:    mat.NewSymDense(2, []float64{0.01, 0.002, 0.002, 0.01})})
	mean := func(e effect.Effects) (Answer, bool) {
		var y []float64
		for _, s := range e.Studies {
			for _, r := range s.Rows {
				y = append(y, r.Y)
			}
		}
		a := Answer{Gains: []pool.Gain{gainOf(spout, stat.Mean(y, nil))}, First: "new-spout"}
		if len(y) < 7 {
			a.First = "check-valve"
		}
		return a, len(y) > 5
	}
	whole, _ := mean(e)
	list := Without(e, whole, mean)
	if len(list) != 7+5+6 {
		t.Fatalf("%d", len(list))
	}
	live, site, season := list[6], list[7], list[13]
	if live.Kind != Study || live.What != "live" || live.Answer == nil || !live.Turns {
		t.Errorf("%+v", live)
	}
	near(t, "shift", live.Shift, stat.Mean(gains, nil)-whole.Gains[0].Log)
	if site.Kind != Site || site.What != "site 0" || site.Studies != 3 || site.Answer != nil {
		t.Errorf("%+v", site)
	}
	if season.Kind != Season || season.Season != 2016 || season.Studies != 2 || season.Answer == nil {
		t.Errorf("%+v", season)
	}
}

// The parts of a pooled gain add up to it, whatever the studies hold and however it is inferred; the first two are by
// hand.
func TestParts(t *testing.T) {
	drop := func(age int) practice.Treatment { return practice.Treatment{Practice: practice.NewDrop, DropAge: age} }
	e := alike(0.004)
	for i := range e.Studies {
		e.Studies[i].Rows[0].GainPct = 100 * math.Expm1(gains[i])
	}
	pct := 0.0
	for _, y := range gains {
		pct += 100 * math.Expm1(y) / 6
	}
	indirect := append(slices.Clone(e.Studies), one("v", "site 1", 2020, valve, un, 0.5, 0.01),
		one("w", "", 2020, valve, spout, 0.1, 0.01))
	older := append(slices.Clone(indirect), one("x", "", 2021, drop(0), un, 0.6, 0.01),
		one("y", "", 2021, drop(2), spout, 0.1, 0.01))
	ageing := append(slices.Clone(older), one("z", "", 2022, drop(1), un, 0.5, 0.01),
		one("a", "site 2", 2022, drop(4), un, 0.35, 0.01))
	for _, c := range []struct {
		what    string
		studies []effect.StudyEffects
		of      practice.Treatment
		with    pool.Inference
		keys    string
	}{
		{"drawn toward nothing", ageing, drop(0), "unshrunk",
			"percents logs precision indirect places ageing wild long-run"},
		{"one study", e.Studies[:1], spout, pool.Mixture, "percents logs precision indirect places shrinkage long-run"},
		{"its own comparisons", e.Studies, spout, reml.KenwardRoger, "percents logs precision indirect places"},
		{"another practice's", indirect, spout, reml.KenwardRoger, "percents logs precision indirect places"},
		{"older drops, no curve", older, spout, reml.KenwardRoger, "percents logs precision indirect places ageing"},
		{"a curve", ageing, spout, reml.KenwardRoger, "percents logs precision indirect places ageing"},
		{"a curve, integrated", ageing, drop(0), pool.Mixture,
			"percents logs precision indirect places ageing wild shrinkage long-run"},
		{"no curve, integrated", older, spout, pool.Mixture,
			"percents logs precision indirect places ageing wild shrinkage long-run"},
		{"not against unsanitized", []effect.StudyEffects{e.Studies[0], indirect[7]}, valve, reml.KenwardRoger,
			"indirect places"},
	} {
		o := pool.Options{Inference: c.with, Site: true}
		if c.with == "unshrunk" {
			o.Inference, o.Unshrunk = pool.Mixture, true
		}
		all := effect.Effects{Studies: c.studies}
		r, err := pool.Fit(all, practice.Shipped(), o)
		if err != nil {
			t.Fatal(c.what, err)
		}
		parts := NewLadder(all, practice.Shipped(), o, r).Parts(c.of)
		var keys []string
		sum := parts[0].Log
		for _, p := range parts {
			keys = append(keys, p.Key)
			sum += p.Change
		}
		if strings.Join(keys, " ") != c.keys {
			t.Errorf("%s: %v, want %v", c.what, keys, c.keys)
		}
		for n := len(parts) - 1; keys[n] == "shrinkage" || keys[n] == "long-run"; n-- {
			if keys[n] == "long-run" {
				m, _ := r.ForMoney(c.of)
				near(t, c.what+": as used for money", 100*math.Expm1(sum), m.LongRunPct)
			}
			sum -= parts[n].Change
		}
		g, _ := r.Gain(c.of)
		near(t, c.what+": pooled", sum, g.Log)
		if len(c.studies) >= 6 && c.of == spout {
			near(t, c.what+": mean of percents", parts[0].Log, math.Log1p(pct/100))
			near(t, c.what+": mean of logs", parts[1].Log, stat.Mean(gains, nil))
		}
	}
}

func gainOf(t practice.Treatment, log float64) pool.Gain { return pool.Gain{Treatment: t, Log: log} }

func TestMovers(t *testing.T) {
	whole := Answer{Gains: []pool.Gain{gainOf(spout, 0.30), gainOf(valve, 0.5)}}
	without := func(study string, log float64) Influence {
		return Influence{Kind: Study, What: study,
			Answer: &Answer{Gains: []pool.Gain{gainOf(valve, 0.4), gainOf(spout, log)}}}
	}
	list := []Influence{without("a", 0.31), without("b", 0.24), {Kind: Study, What: "none"}, without("c", 0.38),
		without("d", 0.3),
		{Kind: Site, What: "b", Answer: &Answer{Gains: []pool.Gain{gainOf(spout, 0.9)}}}}
	got := Movers(list, whole, spout, 2)
	if len(got) != 2 || got[0].Study != "c" || got[1].Study != "b" {
		t.Fatalf("%+v", got)
	}
	near(t, "what c takes away", got[0].Moves, -0.08)
	near(t, "the gain without it", got[0].Without, 0.38)
}

func TestCriteria(t *testing.T) {
	all := Told{Search: "Reports of three stations, 2024-11; talks left out", Studies: 5, OwnErrors: 4,
		Spare: 3, Sensitivity: true, SmallStudies: true, Selections: true, Data: true}
	for _, c := range []struct {
		key    string
		change func(*Told)
	}{
		{"", func(*Told) {}},
		{"search", func(t *Told) { t.Search = " " }},
		{"references", func(t *Told) { t.Unsourced = []string{"Hill 2020"} }},
		{"weights", func(t *Told) { t.OwnErrors = 0 }},
		{"heterogeneity", func(t *Told) { t.Spare = 2 }},
		{"sensitivity", func(t *Told) { t.Sensitivity = false }},
		{"bias", func(t *Told) { t.SmallStudies, t.Selections = false, false }},
		{"data", func(t *Told) { t.Data = false }},
	} {
		told := all
		c.change(&told)
		list := Criteria(told)
		if len(list) != 8 {
			t.Fatalf("%d criteria", len(list))
		}
		for _, x := range list {
			if x.Met == (x.Key == c.key) || x.Why.Key == "" {
				t.Errorf("without %q, %s is met: %v (%s)", c.key, x.Key, x.Met, x.Why.English())
			}
		}
	}
}

// Of arms with one spread, what gives more has the smaller error of its logarithm: errors that differ by no more than
// gains make them differ are no small studies, and nothing is asked of them.
func TestErrorsOfOneSizeAreNotAsked(t *testing.T) {
	var e effect.Effects
	for i, gain := range []float64{1.29, 1.43, 1.57, 1.71} {
		q := func(mean float64) float64 { return 0.25 / (mean * mean * 4000) } // SD 0.5, 4,000 units
		e.Studies = append(e.Studies, one(fmt.Sprint("s", i), fmt.Sprint("site ", i), 2015+i, spout, un,
			math.Log(gain), q(14)+q(14*gain)))
	}
	if x, ok := SmallStudies(linear(t, e, kr)); ok {
		t.Errorf("a slope of %v (p %v) is told", x.Slope, x.P)
	}
}
