package reml

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// plain is everything written out with whole n × n matrices, straight from the formulas.
type plain struct {
	loglik, ml         float64
	beta               []float64
	phi                *mat.Dense
	phiA               *mat.Dense
	score, scoreML     []float64
	expected, expectML *mat.Dense
	average            *mat.Dense
	df                 func(c []float64) float64
}

func product(ms ...mat.Matrix) *mat.Dense {
	out := mat.DenseCopyOf(ms[0])
	for _, m := range ms[1:] {
		var next mat.Dense
		next.Mul(out, m)
		out = &next
	}
	return out
}

func inverse(m mat.Matrix) *mat.Dense {
	var out mat.Dense
	if err := out.Inverse(m); err != nil {
		if _, ok := err.(mat.Condition); !ok {
			panic(err)
		}
	}
	return &out
}

func minus(a, b mat.Matrix) *mat.Dense {
	var out mat.Dense
	out.Sub(a, b)
	return &out
}

func components(m *Model) []*mat.Dense {
	n := len(m.Y)
	var ks []*mat.Dense
	for _, c := range m.Components {
		k := mat.NewDense(n, n, nil)
		for _, z := range c.Z {
			for i, r := range z.Rows {
				for j, s := range z.Rows {
					k.Set(r, s, k.At(r, s)+z.Values[i]*z.Values[j])
				}
			}
		}
		ks = append(ks, k)
	}
	return ks
}

func writtenOut(m *Model, theta []float64) plain {
	n, p := m.X.Dims()
	v := mat.NewDense(n, n, nil)
	for _, b := range m.V0 {
		for i, r := range b.Rows {
			for j, s := range b.Rows {
				v.Set(r, s, b.V.At(i, j))
			}
		}
	}
	ks := components(m)
	for i, k := range ks {
		var scaled mat.Dense
		scaled.Scale(theta[i], k)
		v.Add(v, &scaled)
	}
	y := mat.NewDense(n, 1, m.Y)
	w := inverse(v)
	xwx := product(m.X.T(), w, m.X)
	phi := inverse(xwx)
	proj := minus(w, product(w, m.X, phi, m.X.T(), w))
	beta := product(phi, m.X.T(), w, y)
	logdet := func(a mat.Matrix) float64 { d, _ := mat.LogDet(a); return d }
	rss := product(y.T(), proj, y).At(0, 0)
	out := plain{beta: beta.RawMatrix().Data, phi: phi}
	out.ml = -(float64(n)*math.Log(2*math.Pi) + logdet(v) + rss) / 2
	out.loglik = -(float64(n-p)*math.Log(2*math.Pi) + logdet(v) + logdet(xwx) - logdet(product(m.X.T(), m.X)) + rss) / 2
	nk := len(ks)
	out.expected, out.expectML, out.average = mat.NewDense(nk, nk, nil), mat.NewDense(nk, nk, nil),
		mat.NewDense(nk, nk, nil)
	for i, k := range ks {
		quad := product(y.T(), proj, k, proj, y).At(0, 0)
		out.score = append(out.score, (quad-mat.Trace(product(proj, k)))/2)
		out.scoreML = append(out.scoreML, (quad-mat.Trace(product(w, k)))/2)
		for j, l := range ks {
			out.expected.Set(i, j, mat.Trace(product(proj, k, proj, l))/2)
			out.expectML.Set(i, j, mat.Trace(product(w, k, w, l))/2)
			out.average.Set(i, j, product(y.T(), proj, k, proj, l, proj, y).At(0, 0)/2)
		}
	}
	// Kenward & Roger 1997, all components in the information.
	info := inverse(out.expected)
	pk := make([]*mat.Dense, nk)
	for i, k := range ks {
		pk[i] = product(m.X.T(), w, k, w, m.X)
		pk[i].Scale(-1, pk[i])
	}
	sum := mat.NewDense(p, p, nil)
	for i, k := range ks {
		for j, l := range ks {
			part := minus(product(m.X.T(), w, k, w, l, w, m.X), product(pk[i], phi, pk[j]))
			part.Scale(2*info.At(i, j), part)
			sum.Add(sum, part)
		}
	}
	out.phiA = mat.DenseCopyOf(phi)
	out.phiA.Add(out.phiA, product(phi, sum, phi))
	out.df = func(c []float64) float64 {
		cv := mat.NewDense(p, 1, c)
		g := mat.NewDense(nk, 1, nil)
		for i := range pk {
			g.Set(i, 0, -product(cv.T(), phi, pk[i], phi, cv).At(0, 0))
		}
		variance := product(cv.T(), phi, cv).At(0, 0)
		return 2 * variance * variance / product(g.T(), info, g).At(0, 0)
	}
	return out
}

// someModel draws a small model of any shape: known covariance or a residual, groups, slopes, columns that cross.
func someModel(t *rapid.T) *Model {
	n := rapid.IntRange(9, 16).Draw(t, "rows")
	p := rapid.IntRange(1, 3).Draw(t, "effects")
	number := rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(-50, 50).Draw(t, "tenths")) / 10 })
	m := &Model{X: mat.NewDense(n, p, nil)}
	for i := range n {
		m.Y = append(m.Y, number.Draw(t, "y"))
		m.X.Set(i, 0, 1)
		for j := 1; j < p; j++ {
			m.X.Set(i, j, number.Draw(t, "x"))
		}
	}
	if p > 1 && rapid.Bool().Draw(t, "far from 0") { // nearly the mean over again
		for i := range n {
			m.X.Set(i, 1, m.X.At(i, 1)+500)
		}
	}
	order := rapid.Permutation(seq(n)).Draw(t, "order")
	if rapid.Bool().Draw(t, "known") {
		for from := 0; from < n; {
			to := min(n, from+rapid.IntRange(1, 3).Draw(t, "block"))
			b := Block{Rows: order[from:to], V: mat.NewSymDense(to-from, nil)}
			for i := range to - from {
				for j := range i {
					b.V.SetSym(i, j, 0.3)
				}
				b.V.SetSym(i, i, 0.5+rapid.Float64Range(0, 2).Draw(t, "v"))
			}
			m.V0 = append(m.V0, b)
			from = to
		}
	}
	if len(m.V0) == 0 || rapid.Bool().Draw(t, "residual") {
		m.Components = append(m.Components, Identity("residual", n))
	}
	for g := range rapid.IntRange(1, 2).Draw(t, "groupings") {
		groups := rapid.IntRange(2, 6).Draw(t, "groups")
		of := make([]int, n)
		for i := range of {
			of[i] = rapid.IntRange(0, groups-1).Draw(t, "group")
		}
		c := Grouping(fmt.Sprint("grouping ", g), of)
		if rapid.Bool().Draw(t, "slopes") {
			for _, z := range c.Z {
				for i := range z.Values {
					z.Values[i] = number.Draw(t, "z")
				}
			}
		}
		m.Components = append(m.Components, c)
	}
	return m
}

func seq(n int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = i
	}
	return s
}

func near(a, b, size float64) bool {
	return a == b || math.Abs(a-b) <= 1e-7*(math.Abs(a)+math.Abs(b)+size)
}

// Sums over blocks, whichever components are made to link, give what whole matrices give.
func TestEveryCutEqualsWholeMatrices(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := someModel(t)
		pl, err := newPlan(m)
		if err != nil {
			t.Skip(err)
		}
		theta := make([]float64, pl.k)
		for i := range theta {
			theta[i] = rapid.Float64Range(0.05, 3).Draw(t, "theta")
			if rapid.IntRange(0, 3).Draw(t, "zero") == 0 && (len(m.V0) > 0 || i > 0) {
				theta[i] = 0
			}
		}
		want := writtenOut(m, theta)
		for subset := range 1 << pl.k {
			links := make([]bool, pl.k)
			for k := range links {
				links[k] = subset>>k&1 == 1
			}
			cutting := *pl
			cutting.supers, cutting.maxBlock, cutting.maxLocal, cutting.maxWide, cutting.maxSuper = nil, 0, 0, 0, 0
			cutting.build(pl.blocks(links), pl.blocks(make([]bool, pl.k)))
			for _, ml := range []bool{false, true} {
				st := newState(&cutting, ml)
				if !st.eval(theta, true) {
					t.Fatalf("links %v: no value at %v", links, theta)
				}
				check := func(what string, got, want, size float64) {
					if !near(got, want, size) {
						t.Fatalf("links %v ml %v: %s %v, whole matrices %v", links, ml, what, got, want)
					}
				}
				if ml {
					check("log likelihood", st.loglik, want.ml, 1)
				} else {
					check("log likelihood", st.loglik, want.loglik, 1)
				}
				f, err := newFitted(&cutting, st, ml)
				if err != nil {
					t.Fatal(err)
				}
				for j := range pl.p {
					check("effect", f.Beta[j], want.beta[j], math.Sqrt(want.phi.At(j, j)))
				}
				for k := range pl.k {
					score := want.score[k]
					if ml {
						score = want.scoreML[k]
					}
					check("score", st.score[k], score, 1)
					for l := range pl.k {
						expected := want.expected.At(k, l)
						if ml {
							expected = want.expectML.At(k, l)
						}
						check("expected information", st.expected[k*pl.k+l], expected, 1)
						check("average information", st.average[k*pl.k+l], want.average.At(k, l), 1)
					}
				}
				if mat.Cond(want.expected, 2) > 1e4 ||
					slices.ContainsFunc(seq(pl.k),
						func(k int) bool { return want.expected.At(k, k) < 1e-3*want.expectML.At(k, k) }) {
					continue // components that can hardly be told: whole matrices lose the digits
				}
				for j := range pl.p {
					c := make([]float64, pl.p)
					c[j] = 1
					e := f.Contrast(c, KenwardRoger)
					check("adjusted variance", e.SE*e.SE, want.phiA.At(j, j), want.phi.At(j, j))
					check("1/degrees of freedom", 1/e.DF, 1/want.df(c), 1e-2)
				}
			}
		}
	})
}

// permuted is the model with row i moved to place to[i].
func permuted(m *Model, to []int) *Model {
	n, p := m.X.Dims()
	out := &Model{Y: make([]float64, n), X: mat.NewDense(n, p, nil), AtZero: m.AtZero}
	for i, r := range to {
		out.Y[r] = m.Y[i]
		out.X.SetRow(r, m.X.RawRowView(i))
	}
	move := func(rows []int) (moved []int) {
		for _, r := range rows {
			moved = append(moved, to[r])
		}
		return moved
	}
	for _, b := range slices.Backward(m.V0) {
		out.V0 = append(out.V0, Block{Rows: move(b.Rows), V: b.V})
	}
	for _, c := range m.Components {
		d := Component{Name: c.Name}
		for _, z := range slices.Backward(c.Z) {
			d.Z = append(d.Z, Column{Rows: move(z.Rows), Values: z.Values})
		}
		out.Components = append(out.Components, d)
	}
	return out
}

func sameFault(a, b error) bool { return (a == nil) == (b == nil) }

// The order of rows, blocks and columns changes nothing; a scale of y only the scale; another basis of X nothing but β.
func TestInvariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := someModel(t)
		f, err := Fit(*m)
		if err != nil {
			t.Skip(err)
		}
		top := slices.Max(f.Theta)
		if len(m.V0) == 0 && f.Theta[0] < 1e-4*top {
			t.Skip("a residual of next to nothing: rounding decides between that and a fault")
		}
		same := func(what string, g *Fitted, scale float64) {
			if !near(g.LogLik, f.LogLik-float64(f.Rows-f.Rank)*math.Log(scale), 1) {
				t.Fatalf("%s: log likelihood %v, was %v", what, g.LogLik, f.LogLik)
			}
			for k := range f.Theta {
				// Flat tops leave θ looser than the likelihood.
				if math.Abs(g.Theta[k]/scale/scale-f.Theta[k]) > 1e-4*(top+1e-6) {
					t.Fatalf("%s: θ %v, was %v", what, g.Theta, f.Theta)
				}
			}
		}
		g, err := Fit(*permuted(m, rapid.Permutation(seq(f.Rows)).Draw(t, "to")))
		if err != nil {
			t.Fatal("row order: ", err)
		}
		same("row order", g, 1)
		for j := range f.Beta {
			if math.Abs(g.Beta[j]-f.Beta[j]) > 1e-4*math.Sqrt(f.Phi.At(j, j)) {
				t.Fatalf("row order: β %v, was %v", g.Beta, f.Beta)
			}
		}

		const scale = 1024.0
		big := *m
		big.Y, big.V0 = nil, nil
		for _, v := range m.Y {
			big.Y = append(big.Y, scale*v)
		}
		for _, b := range m.V0 {
			v := mat.NewSymDense(len(b.Rows), nil)
			v.ScaleSym(scale*scale, b.V)
			big.V0 = append(big.V0, Block{Rows: b.Rows, V: v})
		}
		if g, err = Fit(big); err != nil {
			t.Fatal("scale: ", err)
		}
		same("scale", g, scale)

		basis := mat.NewDense(f.Rank, f.Rank, nil)
		for i := range f.Rank {
			basis.Set(i, i, 2)
			for j := range i {
				basis.Set(j, i, 1)
			}
		}
		turned := *m
		turned.X = product(m.X, basis)
		if g, err = Fit(turned); err != nil {
			t.Fatal("basis: ", err)
		}
		same("basis", g, 1)
	})
}

// A fit with rows left out equals a fit of the other rows at the same θ.
func TestWithoutEqualsFitOfTheRest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := someModel(t)
		f, err := Fit(*m)
		if err != nil {
			t.Skip(err)
		}
		var gone, kept []int
		for i := range f.Rows {
			if rapid.IntRange(0, 4).Draw(t, "out") == 0 {
				gone = append(gone, i)
			} else {
				kept = append(kept, i)
			}
		}
		if len(kept) <= f.Rank {
			var fault *Fault
			if _, err := f.Without(gone); !errors.As(err, &fault) || fault.Kind != NoFreedom {
				t.Fatalf("%d rows left for %d effects: %v", len(kept), f.Rank, err)
			}
			return
		}
		at := map[int]int{}
		rest := Model{X: mat.NewDense(len(kept), f.Rank, nil), AtZero: m.AtZero}
		for i, r := range kept {
			at[r] = i
			rest.Y = append(rest.Y, m.Y[r])
			rest.X.SetRow(i, m.X.RawRowView(r))
		}
		for _, b := range m.V0 {
			if slices.ContainsFunc(b.Rows, func(r int) bool { _, ok := at[r]; return ok }) {
				rest.V0 = append(rest.V0, b.among(at))
			}
		}
		for _, c := range m.Components {
			d := Component{Name: c.Name}
			for _, z := range c.Z {
				var part Column
				for i, r := range z.Rows {
					if w, ok := at[r]; ok {
						part.Rows = append(part.Rows, w)
						part.Values = append(part.Values, z.Values[i])
					}
				}
				d.Z = append(d.Z, part)
			}
			rest.Components = append(rest.Components, d)
		}
		want, wantErr := At(rest, f.Theta)
		got, err := f.Without(gone)
		if !sameFault(err, wantErr) {
			t.Fatalf("without %v: %v; fit of the rest: %v", gone, err, wantErr)
		}
		if err != nil {
			return
		}
		if !near(got.LogLik, want.LogLik, 1) {
			t.Fatalf("log likelihood %v, rest %v", got.LogLik, want.LogLik)
		}
		for j := range f.Rank {
			if g, w := got.Effect(j, Wald), want.Effect(j, Wald); math.Abs(g.Value-w.Value) > 1e-7*w.SE ||
				!near(g.SE, w.SE, 0) {
				t.Fatalf("effect %d: %v, rest %v", j, g, w)
			}
			g, w := got.Effect(j, KenwardRoger), want.Effect(j, KenwardRoger)
			if w.DF < 0.1 {
				continue // the rows left hardly tell a component; rounding decides
			}
			if !near(g.SE, w.SE, 0) || !near(1/g.DF, 1/w.DF, 1e-2) {
				t.Fatalf("effect %d: %v, rest %v", j, g, w)
			}
		}
	})
}
