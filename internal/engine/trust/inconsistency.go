package trust

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/pool"
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
)

// Inconsistency is a test that the network agrees with itself: that studies which compare different sets of practices
// tell one set of gains (design by treatment; Higgins et al. 2012, Research Synthesis Methods 3:98).
type Inconsistency struct {
	Designs  int // sets of practices that were compared together
	DF       int // ways in which they may disagree
	Chi2     float64
	ChiP     float64 // Wald's test
	F, P     float64 // Kenward and Roger's, with Residual degrees of freedom; P is ChiP where there is none
	Residual float64
}

// Designs tests the network; false where no two designs can disagree, or no freedom is left to tell it. Drops of all
// ages are one practice here: how they age is another question.
func Designs(l pool.Linear) (Inconsistency, bool) {
	designs, added := interaction(l)
	out := Inconsistency{Designs: designs, DF: len(added)}
	if len(added) == 0 {
		return out, false
	}
	n, p := l.Model.X.Dims()
	x := mat.NewDense(n, p+len(added), nil)
	for i := range n {
		copy(x.RawRowView(i), l.Model.X.RawRowView(i))
		for k, c := range added {
			x.Set(i, p+k, c[i])
		}
	}
	m := l.Model
	m.X = x
	_, columns, f, err := settle(m)
	if err != nil || len(columns) < p+len(added) {
		return out, false
	}
	c := mat.NewDense(len(added), p+len(added), nil)
	b := mat.NewVecDense(len(added), nil)
	for k := range added {
		c.Set(k, p+k, 1)
		b.SetVec(k, f.Beta[p+k])
	}
	var chol mat.Cholesky
	var solved mat.VecDense
	if !chol.Factorize(f.Contrasts(c, reml.Wald)) || chol.SolveVecTo(&solved, b) != nil {
		return out, false
	}
	out.Chi2 = mat.Dot(b, &solved)
	out.ChiP = distuv.ChiSquared{K: float64(len(added))}.Survival(out.Chi2)
	j := f.Joint(c)
	out.F, out.P, out.Residual = j.F, j.P, j.Residual
	if math.IsNaN(j.P) {
		out.F, out.P, out.Residual = out.Chi2/float64(len(added)), out.ChiP, math.Inf(1)
	}
	return out, true
}

// interaction counts the designs and gives the columns of design by practice that the effects do not determine.
func interaction(l pool.Linear) (designs int, columns [][]float64) {
	n, p := l.Model.X.Dims()
	_, of := groups(l.Rows, study)
	design := make([]string, n)
	met := map[string]bool{}
	for _, rows := range of {
		var keys []string
		for _, i := range rows {
			keys = append(keys, string(l.Rows[i].Arm.Practice), string(l.Rows[i].Ref.Practice))
		}
		slices.Sort(keys)
		name := strings.Join(slices.Compact(keys), "\x00")
		met[name] = true
		for _, i := range rows {
			design[i] = name
		}
	}
	type cell struct {
		design   string
		practice practice.Key
	}
	at := map[cell]int{}
	var all [][]float64
	put := func(i int, k practice.Key, v float64) {
		c := cell{design[i], k}
		j, ok := at[c]
		if !ok {
			j = len(all)
			at[c] = j
			all = append(all, make([]float64, n))
		}
		all[j][i] += v
	}
	for i, r := range l.Rows {
		put(i, r.Arm.Practice, 1)
		put(i, r.Ref.Practice, -1)
	}
	var basis [][]float64 // orthonormal: the effects, then what is added
	grow := func(c []float64) bool {
		v := slices.Clone(c)
		size := floats.Norm(v, 2)
		for range 2 {
			for _, q := range basis {
				floats.AddScaled(v, -floats.Dot(q, v), q)
			}
		}
		left := floats.Norm(v, 2)
		if left <= 1e-8*size || size == 0 {
			return false
		}
		floats.Scale(1/left, v)
		basis = append(basis, v)
		return true
	}
	for j := range p {
		grow(mat.Col(nil, j, l.Model.X))
	}
	for _, c := range all {
		if grow(c) {
			columns = append(columns, c)
		}
	}
	return len(met), columns
}
