package mixture

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// The same model, written without any of the package's ideas: the covariance of every two arms, contrasts of each study
// against its first arm (or its rows), and generalized least squares with one dense matrix.

// dense is y = Xβ + error with covariance V.
type dense struct {
	y    []float64
	x    *mat.Dense // effects, moderators, drops
	v    *mat.SymDense
	p, d int // columns but those of drops; those of drops
}

// place is one arm of one study.
type armOf struct {
	s Study
	a Arm
	i int // study
	k int // arm of it
}

func (x armOf) sanitized() bool { return x.a.Effect >= 0 }

// together is the covariance of two arms, the sampling errors of reported contrasts apart.
func together(p, q armOf, at SD, wild func(study int) bool, shift float64) float64 {
	c := 0.0
	same := p.i == q.i && p.k == q.k
	unit := p.i == q.i || p.s.Trial != "" && p.s.Trial == q.s.Trial
	sameSite := p.i == q.i || p.s.Site != "" && p.s.Site == q.s.Site
	samePlace := sameSite && p.s.Trial == q.s.Trial && p.a.Practice == q.a.Practice
	if same {
		c += at[StudySD] * at[StudySD] / 2 / float64(len(p.s.seasons(p.a)))
		if p.s.Rows == nil {
			c += p.a.V
		}
	}
	if samePlace {
		c += at[PracticeSD] * at[PracticeSD] / 2
	}
	if unit && wild(p.i) && (same || p.s.Trial != "" && samePlace) {
		c += shift * shift / 2
	}
	if p.sanitized() && q.sanitized() {
		if sameSite {
			c += at[SiteSD] * at[SiteSD]
		}
		for _, a := range p.s.seasons(p.a) {
			if slices.Contains(q.s.seasons(q.a), a) {
				c += at[SeasonSD] * at[SeasonSD] / float64(len(p.s.seasons(p.a))*len(q.s.seasons(q.a)))
			}
		}
	}
	return c
}

func newDense(t Table, at SD, bend func(age float64) float64, wild func(study int) bool, shift float64) dense {
	d := dense{p: len(t.Families) + len(t.Moderators), d: t.Drops}
	var arms []armOf
	var rows [][]float64 // contrasts over all arms
	var sampling []struct{ i, j, study int }
	count := 0
	for _, s := range t.Studies {
		count += len(s.Arms)
	}
	for i, s := range t.Studies {
		first := len(arms)
		for k, a := range s.Arms {
			arms = append(arms, armOf{s: s, a: a, i: i, k: k})
		}
		list := s.Rows
		if list == nil {
			for k := 1; k < len(s.Arms); k++ {
				list = append(list, Row{Arm: k, Ref: 0, Y: s.Arms[k].Log - s.Arms[0].Log})
			}
		}
		for k, r := range list {
			c := make([]float64, count)
			c[first+r.Arm]++
			c[first+r.Ref]--
			rows = append(rows, c)
			d.y = append(d.y, r.Y)
			sampling = append(sampling, struct{ i, j, study int }{k, len(d.y) - 1, i})
		}
	}
	cov := mat.NewSymDense(count, nil)
	all := mat.NewDense(count, d.p+d.d, nil)
	for i, p := range arms {
		for j, q := range arms[:i+1] {
			cov.SetSym(i, j, together(p, q, at, wild, shift))
		}
		if p.sanitized() {
			all.Set(i, p.a.Effect, 1)
			for k, m := range p.s.Moderators {
				all.Set(i, len(t.Families)+k, m)
			}
			if p.a.Drop > 0 {
				all.Set(i, d.p+p.a.Drop-1, bend(p.a.Age))
			}
		}
	}
	n := len(rows)
	c := mat.NewDense(n, count, slices.Concat(rows...))
	var left, v mat.Dense
	left.Mul(c, cov)
	v.Mul(&left, c.T())
	d.v, d.x = mat.NewSymDense(n, nil), new(mat.Dense)
	d.x.Mul(c, all)
	for i := range n {
		for j := range i + 1 {
			x := v.At(i, j)
			if a, b := sampling[i], sampling[j]; a.study == b.study && t.Studies[a.study].Rows != nil {
				x += t.Studies[a.study].V.At(a.i, b.i)
			}
			d.v.SetSym(i, j, x)
		}
	}
	return d
}

// solve integrates the fixed columns, flat, and the drops, N(0, delta²): the logarithm of the likelihood, mean and
// covariance of the fixed columns and of the drops.
func (d dense) solve(delta float64) (log float64, mean *mat.VecDense, cov *mat.SymDense) {
	var chol mat.Cholesky
	if !chol.Factorize(d.v) {
		panic("V")
	}
	n, k := d.x.Dims()
	var wx, a mat.Dense
	if err := chol.SolveTo(&wx, d.x); err != nil {
		panic(err)
	}
	a.Mul(d.x.T(), &wx)
	s := mat.NewSymDense(k, nil)
	for i := range k {
		for j := range i + 1 {
			s.SetSym(i, j, (a.At(i, j)+a.At(j, i))/2)
		}
	}
	for i := d.p; i < k; i++ {
		s.SetSym(i, i, s.At(i, i)+1/(delta*delta))
		log -= math.Log(delta)
	}
	y := mat.NewVecDense(n, d.y)
	var wy, b mat.VecDense
	if err := chol.SolveVecTo(&wy, y); err != nil {
		panic(err)
	}
	b.MulVec(d.x.T(), &wy)
	var inner mat.Cholesky
	if !inner.Factorize(s) {
		panic("X'V⁻¹X")
	}
	mean, cov = new(mat.VecDense), mat.NewSymDense(k, nil)
	if err := inner.SolveVecTo(mean, &b); err != nil {
		panic(err)
	}
	if err := inner.InverseTo(cov); err != nil {
		panic(err)
	}
	return log - (chol.LogDet()+inner.LogDet()+mat.Dot(y, &wy)-mat.Dot(mean, &b))/2, mean, cov
}

// shrunk is the model with β = m + family·f + ω b in place of flat effects, and N(0, slope²) for each standard
// deviation of a moderator: their prior covariance goes into V, and the mean m in the place of both.
func (d dense) shrunk(t Table, family, omega, slope float64) dense {
	p, q := len(t.Families), len(t.Moderators)
	n, k := d.x.Dims()
	sigma := mat.NewSymDense(p+q, nil)
	one := make([]float64, p+q)
	for i, f := range t.Families {
		one[i] = 1
		for j, g := range t.Families[:i+1] {
			x := 0.0
			if f == g {
				x += family * family
			}
			if i == j {
				x += omega * omega
			}
			sigma.SetSym(i, j, x)
		}
	}
	for i, sd := range t.Moderators {
		sigma.SetSym(p+i, p+i, slope*slope/(sd*sd))
	}
	effects := d.x.Slice(0, n, 0, p+q)
	var left, v mat.Dense
	left.Mul(effects, sigma)
	v.Mul(&left, effects.T())
	out := dense{y: d.y, p: 1, d: d.d, v: mat.NewSymDense(n, nil), x: mat.NewDense(n, k-p-q+1, nil)}
	var m mat.VecDense
	m.MulVec(effects, mat.NewVecDense(p+q, one))
	for i := range n {
		for j := range i + 1 {
			out.v.SetSym(i, j, d.v.At(i, j)+v.At(i, j))
		}
		out.x.Set(i, 0, m.AtVec(i))
		for j := p + q; j < k; j++ {
			out.x.Set(i, j-p-q+1, d.x.At(i, j))
		}
	}
	return out
}

// tables draws tables of every sort: sites shared and not, trials over seasons, studies of several seasons, measured
// arms and reported contrasts, moderators, drops of several ages.
func tables() *rapid.Generator[Table] {
	return rapid.Custom(func(t *rapid.T) Table {
		effects := rapid.IntRange(1, 4).Draw(t, "effects")
		table := Table{Drops: rapid.IntRange(0, 2).Draw(t, "drops")}
		if rapid.Bool().Draw(t, "moderator") {
			table.Moderators = []float64{rapid.Float64Range(.1, 5).Draw(t, "sd")}
		}
		for range effects {
			table.Families = append(table.Families, rapid.IntRange(0, 1).Draw(t, "family"))
		}
		logs, variances := rapid.Float64Range(-1, 1), rapid.Float64Range(.002, .05)
		studies := rapid.IntRange(effects+3, effects+8).Draw(t, "studies")
		for i := range studies {
			s := Study{
				Site:   rapid.SampledFrom([]string{"", "a", "b", "c"}).Draw(t, "site"),
				Season: rapid.IntRange(0, 3).Draw(t, "season"),
				Trial:  rapid.SampledFrom([]string{"", "", "", "one", "two"}).Draw(t, "trial"),
			}
			if s.Trial != "" {
				s.Site = "site of " + s.Trial
			}
			for range table.Moderators {
				s.Moderators = append(s.Moderators, float64(i)-float64(studies-1)/2)
			}
			s.Arms = append(s.Arms, Arm{Effect: -1})
			for k := range effects {
				if k == i%effects || rapid.Bool().Draw(t, "arm") {
					s.Arms = append(s.Arms, Arm{Practice: k + 1, Effect: k})
				}
			}
			if table.Drops > 0 && rapid.Bool().Draw(t, "old drops") {
				d := rapid.IntRange(1, table.Drops).Draw(t, "drop")
				age := rapid.IntRange(0, 3).Draw(t, "age")
				s.Arms = append(s.Arms, Arm{Practice: 10 + d, Effect: 0, Drop: d, Age: float64(age)})
			}
			for k := range s.Arms {
				if s.Trial != "" {
					s.Arms[k].Seasons = rapid.SampledFrom([][]int{nil, {2}, {1, 2}}).Draw(t, "seasons")
				}
				s.Arms[k].Log, s.Arms[k].V = logs.Draw(t, "log"), variances.Draw(t, "variance")
			}
			if rapid.Bool().Draw(t, "reported") {
				s = reported(s)
			}
			table.Studies = append(table.Studies, s)
		}
		return table
	})
}

// reported is a study of measured arms as contrasts with its last arm.
func reported(s Study) Study {
	n := len(s.Arms) - 1
	s.Arms = slices.Clone(s.Arms)
	s.V = mat.NewSymDense(n, nil)
	for i := range n {
		s.Rows = append(s.Rows, Row{Arm: i, Ref: n, Y: s.Arms[i].Log - s.Arms[n].Log})
		for j := range i + 1 {
			s.V.SetSym(i, j, s.Arms[n].V)
		}
		s.V.SetSym(i, i, s.Arms[i].V+s.Arms[n].V)
	}
	for i := range s.Arms {
		s.Arms[i].Log, s.Arms[i].V = 0, 0
	}
	return s
}

// At any standard deviations, the likelihood and the effects are those of the dense model.
func TestTakenApartAsWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := tables().Draw(t, "table")
		var at SD
		for k := range at {
			at[k] = rapid.SampledFrom([]float64{0, .01, .1, .3}).Draw(t, "sd")
		}
		at[ShrinkSD] += .02
		f := newFit(table, Default(), nil)
		apart := rapid.IntRange(-1, len(table.Studies)-1).Draw(t, "stands apart")
		c := situation{shift: .6}
		if apart >= 0 {
			c = f.wild([]int{f.m.unit[apart]})
		}
		k := rapid.IntRange(0, len(f.curves)-1).Draw(t, "curve")
		wild := func(study int) bool { return apart >= 0 && f.m.unit[study] == f.m.unit[apart] }
		d := newDense(table, at, f.curves[k].at, wild, .6)

		w := f.crew[0]
		f.m.total([]spot{{to: &w.whole, at: at}}, c, &w.workspace)
		seasons := f.takeSeasons(w.whole, at[SeasonSD], w)
		s := Default().newShrinkage(table, at[ShrinkSD])
		for _, x := range []struct {
			what  string
			q     []float64
			log   float64
			delta float64
			d     dense
		}{{"flat", nil, 0, 1, d}, {"shrunk", s.q, s.log, .35, d.shrunk(table, .25, at[ShrinkSD], .1)}} {
			log := x.log - (seasons+f.takeEffects(x.q, w))/2
			det, yy := f.takeDrops(k, x.delta, w)
			want, mean, cov := x.d.solve(x.delta)
			if got := log - (det+yy)/2; !(math.Abs(got-want) <= 1e-7*(1+math.Abs(want))) {
				t.Fatalf("%s: log likelihood %v, want %v", x.what, got, want)
			}
			if x.q != nil {
				continue
			}
			p := &Posterior{f: f, points: []point{f.m.newPoint()}, parts: []part{f.m.newPart()}}
			p.points[0].read(f.m, w)
			p.parts[0].curve, p.parts[0].weight = k, 1
			p.parts[0].read(f.m, w)
			agree := func(what string, m Marginal, mean, v float64) {
				if !(math.Abs(m.Mean()-mean) <= 1e-6) || !(math.Abs(m.SD()-math.Sqrt(v)) <= 1e-6) {
					t.Fatalf("%s: %v (%v), want %v (%v)", what, m.Mean(), m.SD(), mean, math.Sqrt(v))
				}
			}
			for i := range table.Families {
				agree("effect", p.Of(lineOf(i)), mean.AtVec(i), cov.At(i, i))
			}
			for j := range table.Drops {
				line := Line{Fixed: []float64{1}, Drops: []Bend{{Drop: j + 1, Age: 1, C: 1}}}
				b, k := f.curves[k].at(1), d.p+j
				v := cov.At(0, 0) + 2*b*cov.At(0, k) + b*b*cov.At(k, k)
				agree("old drops", p.Of(line), mean.AtVec(0)+b*mean.AtVec(k), v)
			}
		}
	})
}
