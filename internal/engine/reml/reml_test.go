package reml_test

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"spile/internal/crosscheck"
	"spile/internal/engine/reml"
	"spile/internal/note"
)

func stored(t testing.TB, name string) reml.Model {
	t.Helper()
	c, err := crosscheck.Read("../../crosscheck/testdata", name)
	if err != nil {
		t.Fatal(err)
	}
	return c.Model()
}

func ones(n int) *mat.Dense {
	x := mat.NewDense(n, 1, nil)
	for i := range n {
		x.Set(i, 0, 1)
	}
	return x
}

// alone is a known variance for each row.
func alone(v ...float64) (blocks []reml.Block) {
	for i, s := range v {
		blocks = append(blocks, reml.Block{Rows: []int{i}, V: mat.NewSymDense(1, []float64{s})})
	}
	return blocks
}

// Printed values, to the digits printed. The data are the R packages' copies; crosscheck compares to more digits.
func TestPublished(t *testing.T) {
	for _, c := range []struct {
		name           string
		source         string
		effect         int
		value, se, df  float64 // Kenward-Roger, 0: not given
		wald           float64
		theta          []float64
		q              float64
		tolDF, tolRest float64
	}{
		{name: "curtis1998", source: "Curtis & Wang 1998, metafor 3.8.1 rma(); Kenward-Roger by base R 4.2.2",
			value: 0.2553, wald: 0.0198, se: 0.01984, df: 89.3, theta: []float64{0.0262}, q: 769.02, tolDF: 0.05},
		{name: "colditz1994", source: "Colditz et al. 1994, metafor 3.8.1 rma(); Kenward-Roger by base R 4.2.2",
			value: -0.7145, wald: 0.1798, se: 0.18154, df: 10.93, theta: []float64{0.3132}, q: 152.23, tolDF: 0.005},
		{name: "konstantopoulos2011-reml",
			source: "Konstantopoulos 2011, tables 4 and 5; Kenward-Roger by base R 4.2.2",
			value:  0.1847, wald: 0.0846, se: 0.08476, df: 9.84, theta: []float64{0.0651, 0.0327}, q: 578.864,
			tolDF: 0.005},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := stored(t, c.name)
			f, err := reml.Fit(m)
			if err != nil {
				t.Fatal(err)
			}
			check := func(what string, got, want, tol float64) {
				t.Helper()
				if !(math.Abs(got-want) <= tol) {
					t.Errorf("%s: %s %v, printed %v", c.source, what, got, want)
				}
			}
			kr := f.Effect(c.effect, reml.KenwardRoger)
			check("value", kr.Value, c.value, 0.5e-4)
			check("Kenward-Roger standard error", kr.SE, c.se, 0.5e-5)
			check("Kenward-Roger degrees of freedom", kr.DF, c.df, c.tolDF)
			wald := f.Effect(c.effect, reml.Wald)
			check("standard error", wald.SE, c.wald, 0.5e-4)
			if !math.IsInf(wald.DF, 1) {
				t.Error("Wald inference has degrees of freedom", wald.DF)
			}
			for k, v := range c.theta {
				check("variance", f.Theta[k], v, 0.5e-4)
			}
			h, err := m.Heterogeneity()
			if err != nil {
				t.Fatal(err)
			}
			check("Q", h.Q, c.q, 0.005)
			if h.DF != len(m.Y)-1 {
				t.Error("Q has", h.DF, "degrees of freedom")
			}
		})
	}
}

// Balanced analyses of variance in textbooks are exact: the split plot of Halekoh & Højsgaard 2014 (beets, section 2)
// tests harvests on 2 degrees of freedom (three blocks, two harvests) and sowing dates on 20.
func TestBalancedDegreesOfFreedom(t *testing.T) {
	f, err := reml.Fit(stored(t, "beets"))
	if err != nil {
		t.Fatal(err)
	}
	p := len(f.Beta)
	if df := f.Effect(p-1, reml.KenwardRoger).DF; math.Abs(df-2) > 1e-6 {
		t.Error("harvest:", df)
	}
	if df := f.Effect(3, reml.KenwardRoger).DF; math.Abs(df-20) > 1e-6 {
		t.Error("sowing:", df)
	}
}

// k independent rows of one variance: the mean has standard error s/√k on k − 1 degrees of freedom, exactly.
func TestEqualVariances(t *testing.T) {
	y := []float64{3.1, 2.2, 4.9, 3.3, 5.8, 1.7, 2.9}
	k := float64(len(y))
	mean, ss := 0.0, 0.0
	for _, v := range y {
		mean += v / k
	}
	for _, v := range y {
		ss += (v - mean) * (v - mean)
	}
	s2 := ss / (k - 1)
	for _, known := range []float64{0, 0.4} { // all residual; a known part, of which REML finds the rest
		m := reml.Model{Y: y, X: ones(len(y)), Components: []reml.Component{reml.Identity("rest", len(y))}}
		if known > 0 {
			m.V0 = alone(slices.Repeat([]float64{known}, len(y))...)
		}
		f, err := reml.Fit(m)
		if err != nil {
			t.Fatal(err)
		}
		e := f.Effect(0, reml.KenwardRoger)
		if math.Abs(f.Theta[0]-(s2-known)) > 1e-10 || math.Abs(e.Value-mean) > 1e-12 ||
			math.Abs(e.SE-math.Sqrt(s2/k)) > 1e-10 || math.Abs(e.DF-(k-1)) > 1e-8 {
			t.Errorf("known %v: θ %v, %+v", known, f.Theta, e)
		}
	}
}

// At a boundary: a component at exactly 0, said so; dropped, the degrees of freedom are held at n − p.
func TestBoundary(t *testing.T) {
	y := []float64{0.1, 0.12, 0.09, 0.11, 0.1}
	m := reml.Model{Y: y, X: ones(5), V0: alone(1, 1, 1, 1, 1), Components: []reml.Component{reml.Identity("study", 5)},
		AtZero: reml.Drop}
	f, err := reml.Fit(m)
	if err != nil {
		t.Fatal(err)
	}
	if f.Theta[0] != 0 {
		t.Error("θ is", f.Theta[0])
	}
	if !slices.ContainsFunc(f.Notes, func(n note.Note) bool { return strings.Contains(n.Key, "estimated at 0") }) {
		t.Error("the boundary is not noted:", f.Notes)
	}
	if e := f.Effect(0, reml.KenwardRoger); e.DF != 4 || math.Abs(e.SE-math.Sqrt(0.2)) > 1e-12 {
		t.Errorf("dropped: %+v", e)
	}
	p, err := f.Profile(0, 0.95)
	if err != nil || p.Low != 0 || !(p.High > 0) {
		t.Error("profile", p, err)
	}
	m.AtZero = reml.Keep
	f, err = reml.Fit(m)
	if err != nil {
		t.Fatal(err)
	}
	if e := f.Effect(0, reml.KenwardRoger); math.Abs(e.DF-4) > 1e-9 { // equal variances: k − 1 all the same
		t.Errorf("kept: %+v", e)
	}
}

// Two tops of the likelihood: five sure rows that agree and five unsure that do not, with a variance for each half's
// groups. Fit must find the higher, as a fine grid does.
func TestHighestTop(t *testing.T) {
	m := reml.Model{
		Y:  []float64{0, 0.1, -0.1, 0.05, -0.05, 6, -6, 5, -7, 8},
		X:  ones(10),
		V0: alone(0.01, 0.01, 0.01, 0.01, 0.01, 4, 4, 4, 4, 4),
		Components: []reml.Component{reml.Identity("row", 10),
			reml.Grouping("half", []int{0, 0, 0, 0, 0, 1, 1, 1, 1, 1})},
	}
	f, err := reml.Fit(m)
	if err != nil {
		t.Fatal(err)
	}
	for a := 1e-6; a < 1e4; a *= 1.5 {
		for b := 1e-6; b < 1e4; b *= 1.5 {
			g, err := reml.At(m, []float64{a, b})
			if err != nil {
				t.Fatal(err)
			}
			if g.LogLik > f.LogLik+1e-9 {
				t.Fatalf("θ %v has log likelihood %v; %v has %v", f.Theta, f.LogLik, g.Theta, g.LogLik)
			}
		}
	}
}

// Pools and trials of many shapes, some with no variance between studies or sites: no θ among many has a higher
// likelihood than the one fitted.
func TestNoHigherPlace(t *testing.T) {
	for seed := range uint64(400) {
		r := rand.New(rand.NewPCG(seed, 1998))
		spread := []float64{0, 0.05, 0.15, 0.4}
		between, across := spread[r.IntN(4)], spread[r.IntN(4)]
		studies := 8 + r.IntN(30)
		sites := make([]float64, 3+r.IntN(studies/2))
		for i := range sites {
			sites[i] = across * r.NormFloat64()
		}
		var m reml.Model
		var study, site []int
		for s := range studies {
			at, effect := r.IntN(len(sites)), between*r.NormFloat64()
			for range 1 + r.IntN(3) {
				v := math.Exp(-5 + 1.5*r.NormFloat64())
				m.Y = append(m.Y, sites[at]+effect+math.Sqrt(v)*r.NormFloat64())
				m.V0 = append(m.V0, reml.Block{Rows: []int{len(study)}, V: mat.NewSymDense(1, []float64{v})})
				study, site = append(study, s), append(site, at)
			}
		}
		m.X = ones(len(m.Y))
		m.Components = []reml.Component{reml.Grouping("study", study), reml.Grouping("site", site)}
		if seed%2 == 1 { // a trial
			m.V0 = nil
			m.Components = append(m.Components, reml.Identity("residual", len(m.Y)))
		}
		f, err := reml.Fit(m)
		if err != nil {
			t.Fatal(seed, err)
		}
		for range 40 {
			theta := make([]float64, len(f.Theta))
			for k := range theta {
				if r.IntN(4) > 0 {
					theta[k] = 0.02 * math.Exp(2*r.NormFloat64())
				}
			}
			if g, err := reml.At(m, theta); err == nil && g.LogLik > f.LogLik+1e-7 {
				t.Errorf("seed %d: log likelihood %v at %v; only %v at %v", seed, g.LogLik, theta, f.LogLik, f.Theta)
			}
		}
	}
}

func TestFaults(t *testing.T) {
	six := []float64{1, 2, 4, 3, 5, 7}
	residual := []reml.Component{reml.Identity("residual", 6)}
	twice := mat.NewDense(6, 2, []float64{1, 2, 1, 2, 1, 2, 1, 2, 1, 2, 1, 2})
	groups := reml.Grouping("site", []int{0, 0, 1, 1, 2, 2})
	renamed := groups
	renamed.Name = "place"
	indefinite := mat.NewSymDense(2, []float64{1, 2, 2, 1})
	for _, c := range []struct {
		name string
		m    reml.Model
		kind reml.FaultKind
		says string
	}{
		{"nothing", reml.Model{}, reml.Malformed, "no fixed effects"},
		{"sizes", reml.Model{Y: six[:5], X: ones(6)}, reml.Malformed, "5 values of y and 6 rows of X"},
		{"NaN", reml.Model{Y: []float64{1, math.NaN(), 3, 4, math.Inf(1), 6}, X: ones(6), Components: residual},
			reml.NotFinite, "rows 2, 5"},
		{"huge", reml.Model{Y: []float64{1, 1e308, 3, 4, 5, 6}, X: ones(6), Components: residual}, reml.NotFinite,
			"row 2"},
		{"V0 NaN", reml.Model{Y: six, X: ones(6), V0: alone(1, 1, math.NaN(), 1, 1, 1)}, reml.NotFinite, "row 3"},
		{"V0 zero", reml.Model{Y: six, X: ones(6), V0: alone(1, 1, 1, 0, 1, 1)}, reml.NotPositive, "row 4"},
		{"V0 indefinite", reml.Model{Y: six, X: ones(6), V0: []reml.Block{{Rows: []int{2, 5}, V: indefinite}},
			Components: residual}, reml.NotPositive, "rows 3, 6"},
		{"V0 row twice", reml.Model{Y: six, X: ones(6), V0: []reml.Block{{Rows: []int{1, 1}, V: indefinite}}},
			reml.Malformed, "row 2 stands twice"},
		{"V0 size", reml.Model{Y: six, X: ones(6), V0: []reml.Block{{Rows: []int{1}, V: indefinite}}}, reml.Malformed,
			"differ in size"},
		{"V0 row unknown", reml.Model{Y: six, X: ones(6), V0: []reml.Block{{Rows: []int{1, 6}, V: indefinite}}},
			reml.Malformed, "row 7 of 6"},
		{"no variance", reml.Model{Y: six, X: ones(6), V0: alone(1, 1, 1, 1)}, reml.NotPositive, "rows 5, 6"},
		{"group without residual", reml.Model{Y: six, X: ones(6), Components: []reml.Component{groups}},
			reml.NotPositive, "residual"},
		{"component row unknown",
			reml.Model{Y: six, X: ones(6), Components: []reml.Component{reml.Identity("residual", 7)}}, reml.Malformed,
			"residual names row 7 of 6"},
		{"component row twice", reml.Model{Y: six, X: ones(6),
			Components: []reml.Component{
				{Name: "site", Z: []reml.Column{
					{Rows: []int{1, 1}, Values: []float64{1, 1}}}}}}, reml.Malformed, "row 2 twice"},
		{"component sizes", reml.Model{Y: six, X: ones(6),
			Components: []reml.Component{
				{Name: "site", Z: []reml.Column{{Rows: []int{1}}}}}}, reml.Malformed, "1 rows and 0 values"},
		{"singular", reml.Model{Y: six, X: twice, Components: residual}, reml.Singular, "column 2"},
		{"no freedom", reml.Model{Y: six[:1], X: ones(1), V0: alone(1)}, reml.NoFreedom,
			"1 rows cannot tell 1 effects"},
		{"same twice", reml.Model{Y: six, X: ones(6), V0: alone(1, 1, 1, 1, 1, 1),
			Components: []reml.Component{groups, renamed}}, reml.Confounded, "site and place"},
		{"group of one row each",
			reml.Model{Y: six, X: ones(6),
				Components: []reml.Component{residual[0],
					reml.Grouping("unit", []int{0, 1, 2, 3, 4, 5})}}, reml.Confounded, "residual and unit"},
		{"one group", reml.Model{Y: six, X: ones(6),
			Components: []reml.Component{residual[0], reml.Grouping("site", make([]int, 6))}}, reml.Idle, "site"},
		{"empty component", reml.Model{Y: six, X: ones(6), Components: []reml.Component{residual[0], {Name: "site"}}},
			reml.Idle, "site"},
		{"exact fit", reml.Model{Y: []float64{2, 2, 2, 2, 2, 2}, X: ones(6), Components: residual}, reml.ExactFit,
			"exactly"},
		{"groups fit exactly", reml.Model{Y: []float64{1, 1, 2, 2, 4, 4}, X: ones(6),
			Components: []reml.Component{residual[0], groups}}, reml.ExactFit, "residual"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := reml.Fit(c.m)
			var f *reml.Fault
			if !errors.As(err, &f) || f.Kind != c.kind || !strings.Contains(f.Error(), c.says) {
				t.Errorf("%v, want kind %d with %q", err, c.kind, c.says)
			}
		})
	}
	t.Run("given variances", func(t *testing.T) {
		m := reml.Model{Y: six, X: ones(6), Components: residual}
		for _, theta := range [][]float64{{}, {-1}, {math.NaN()}, {0}, {1, 1}} {
			if _, err := reml.At(m, theta); err == nil {
				t.Error("no fault at", theta)
			}
		}
	})
}

// FuzzFit makes a tiny model of any bytes: whatever it is, no panic, and no number that is not one.
func FuzzFit(f *testing.F) {
	f.Add([]byte{5, 1, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20})
	f.Add([]byte{8, 2, 3, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0})
	f.Add([]byte("a group of rows and another group of other rows, none the wiser"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		at := 0
		next := func() int {
			if at >= len(raw) {
				return 0
			}
			at++
			return int(raw[at-1])
		}
		number := func() float64 {
			switch b := next(); {
			case b < 240:
				return float64(b-120) / 8
			case b < 250: // any bits at all
				var w [8]byte
				for i := range w {
					w[i] = byte(next())
				}
				return math.Float64frombits(binary.LittleEndian.Uint64(w[:]))
			default:
				return float64(b) * 1e12
			}
		}
		n, p := 1+next()%9, 1+next()%3
		m := reml.Model{X: mat.NewDense(n, p, nil), AtZero: reml.AtZero(next() % 2)}
		for i := range n {
			m.Y = append(m.Y, number())
			for j := range p {
				m.X.Set(i, j, number())
			}
		}
		for range next() % 5 {
			k := 1 + next()%3
			b := reml.Block{V: mat.NewSymDense(k, nil)}
			for i := range k {
				b.Rows = append(b.Rows, next()%(n+1))
				for j := range i {
					b.V.SetSym(i, j, number()/10)
				}
				b.V.SetSym(i, i, math.Abs(number()))
			}
			m.V0 = append(m.V0, b)
		}
		for c := range next() % 4 {
			if next()%2 == 0 {
				m.Components = append(m.Components, reml.Identity("residual", n))
				continue
			}
			k := reml.Component{Name: string(rune('a' + c))}
			for range next() % 4 {
				var z reml.Column
				for range next() % 4 {
					z.Rows = append(z.Rows, next()%n)
					z.Values = append(z.Values, number())
				}
				k.Z = append(k.Z, z)
			}
			m.Components = append(m.Components, k)
		}
		for _, fit := range []func(reml.Model) (*reml.Fitted, error){reml.Fit, reml.FitML} {
			f, err := fit(m)
			if err != nil {
				var fault *reml.Fault
				if !errors.As(err, &fault) || fault.Error() == "" {
					t.Fatal("not a fault:", err)
				}
				continue
			}
			for k, v := range f.Theta {
				if !(v >= 0) || math.IsInf(v, 0) {
					t.Fatal("θ", f.Theta)
				}
				if in, err := f.Profile(k, 0.95); err == nil && !(in.Low >= 0 && in.Low <= v && v <= in.High) {
					t.Fatal("profile", in, "around", v)
				}
			}
			for j := range f.Beta {
				if e := f.Effect(j, reml.KenwardRoger); math.IsNaN(e.Value) || math.IsInf(e.Value, 0) ||
					math.IsNaN(e.SE) || math.IsNaN(e.DF) {
					t.Fatalf("effect %d: %+v", j, e)
				}
			}
			if g, err := f.Without([]int{0}); err == nil && math.IsNaN(g.Beta[0]) {
				t.Fatal("NaN with a row left out")
			}
		}
	})
}

// Blocks that differ far more than their rows: the top is found to rounding, and another origin of y does not move it.
func TestTopWithinRounding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blocks := rapid.IntRange(3, 6).Draw(t, "blocks")
		noise := rapid.Float64Range(0.001, 0.05).Draw(t, "noise")
		origin := rapid.Float64Range(-3, 3).Draw(t, "origin")
		var y, z []float64
		var of []int
		x := mat.NewDense(2*blocks-1, 2, nil)
		for b := range blocks {
			level := rapid.Float64Range(-2, 2).Draw(t, "level")
			for treated := range 2 {
				if b == 0 && treated == 1 {
					continue // a row is missing
				}
				x.SetRow(len(y), []float64{1, float64(treated)})
				v := level + noise*rapid.Float64Range(-1, 1).Draw(t, "row")
				y, z, of = append(y, v), append(z, v+origin), append(of, b)
			}
		}
		fit := func(y []float64) (*reml.Fitted, error) {
			return reml.Fit(reml.Model{Y: y, X: x,
				Components: []reml.Component{reml.Grouping("block", of), reml.Identity("residual", len(y))}})
		}
		f, err := fit(y)
		g, other := fit(z)
		if err != nil || other != nil {
			var fault *reml.Fault
			if errors.As(errors.Join(err, other), &fault) && fault.Kind != reml.NotConverged {
				return // rows that are alike
			}
			t.Fatal(err, other)
		}
		if math.Abs(f.LogLik-g.LogLik) > 1e-6*(1+math.Abs(f.LogLik)) {
			t.Fatalf("%v %v and %v %v", f.Theta, f.LogLik, g.Theta, g.LogLik)
		}
	})
}
