package trust

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/mvt"
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
	f, p, ok := besides(l, added...)
	if !ok {
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

// besides fits the whole model with columns more, the first of them at p; false where the effects determine one of
// them, or no freedom is left.
func besides(l pool.Linear, added ...[]float64) (f *reml.Fitted, p int, ok bool) {
	n, p := l.Whole.X.Dims()
	m := l.Whole
	m.X = mat.NewDense(n, p+len(added), nil)
	for i := range n {
		copy(m.X.RawRowView(i), l.Whole.X.RawRowView(i))
		for k, c := range added {
			m.X.Set(i, p+k, c[i])
		}
	}
	_, columns, f, err := settle(m)
	return f, p, err == nil && len(columns) == p+len(added)
}

// Split is what studies that hold two practices say of their difference beside what the others say of it (Dias et al.
// 2010, Statistics in Medicine 29:932).
type Split struct {
	Practice, Against        practice.Key
	DirectLog, DirectSE      float64
	IndirectLog, IndirectSE  float64
	DifferenceLog, SE, DF, P float64
}

// Splits are those of every pair of practices that some studies hold side by side: one more column in these studies
// shifts the pair's difference. Where the effects determine it there is no indirect evidence. It takes a fit for each.
func Splits(l pool.Linear) []Split {
	_, of := groups(l.Rows, study)
	keys := []practice.Key{practice.Unsanitized}
	for _, t := range l.Gains() {
		keys = append(keys, t.Practice)
	}
	var list []Split
	for i, a := range keys {
		for _, b := range keys[:i] {
			if s, ok := split(l, of, a, b); ok {
				list = append(list, s)
			}
		}
	}
	return list
}

func split(l pool.Linear, studies [][]int, a, b practice.Key) (Split, bool) {
	s, n := Split{Practice: a, Against: b}, len(l.Rows)
	shift, held := make([]float64, n), 0
	for _, rows := range studies {
		holds := map[practice.Key]bool{}
		for _, i := range rows {
			holds[l.Rows[i].Arm.Practice], holds[l.Rows[i].Ref.Practice] = true, true
		}
		if !holds[a] || !holds[b] {
			continue
		}
		for _, i := range rows {
			if held++; l.Rows[i].Arm.Practice == a {
				shift[i]++
			}
			if l.Rows[i].Ref.Practice == a {
				shift[i]--
			}
		}
	}
	c, ok := l.Of(practice.Treatment{Practice: a})
	less, has := l.Of(practice.Treatment{Practice: b})
	if !ok || !has || held == 0 || held == n {
		return s, false
	}
	f, p, ok := besides(l, shift)
	if !ok {
		return s, false
	}
	floats.Sub(c, less)
	indirect := f.Contrast(append(slices.Clone(c), 0), l.Inference())
	direct := f.Contrast(append(c, 1), l.Inference())
	d := f.Effect(p, l.Inference())
	s.DirectLog, s.DirectSE, s.IndirectLog, s.IndirectSE = direct.Value, direct.SE, indirect.Value, indirect.SE
	s.DifferenceLog, s.SE, s.DF, s.P = d.Value, d.SE, d.DF, mvt.TwoSided(d.Value/d.SE, d.DF)
	return s, true
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
