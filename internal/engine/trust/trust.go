// Package trust asks whether a pool of studies can be trusted: whether small studies tell another story, what studies
// that were not published would change, whether each study falls where the others foretell it, which study, site or
// season the answer rests on, and whether the network of comparisons agrees with itself. Values in, values out.
//
// The files follow the ideas: funnel (small studies), selection (what was not published), foretell (each study beside
// the others), influence (what the answer rests on), inconsistency (the network), robust (errors by site), parts (why a
// pooled gain is what it is), criteria (what a meta-analysis must tell). Package pool's linear model is what they take
// apart; its numbers are those of Kenward-Roger or Wald inference, as it was asked to infer.
package trust

import (
	"errors"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/pool"
	"spile/internal/engine/reml"
)

// part is the joint model on some of its rows: those columns that they tell, those components that they can tell apart.
type part struct {
	all     pool.Linear
	rows    []int // of the whole
	columns []int // of the whole
	space   *mat.Dense
	model   reml.Model
	fit     *reml.Fitted
}

// on fits the model to some of its rows. The error is of package reml: no freedom is left, or rounding won.
func on(l pool.Linear, rows []int) (*part, error) {
	m := restrict(l.Model, rows)
	p := &part{all: l, rows: rows, space: rowSpace(m.X)}
	var err error
	p.model, p.columns, p.fit, err = settle(m)
	return p, err
}

// settle fits a model, giving up the columns that those before them determine, and the components that cannot be told
// apart or leave no trace: the last of them, so that what lies between studies takes in the others.
func settle(m reml.Model) (reml.Model, []int, *reml.Fitted, error) {
	x := m.X
	_, width := x.Dims()
	columns := make([]int, width)
	for j := range columns {
		columns[j] = j
	}
	for {
		m.X = pick(x, columns)
		f, err := reml.Fit(m)
		if err == nil {
			return m, columns, f, nil
		}
		var fault *reml.Fault
		if !errors.As(err, &fault) {
			return m, nil, nil, err
		}
		i := lastIndex(m.Components, fault.Components)
		switch {
		case fault.Kind == reml.Singular && len(fault.Columns) < len(columns):
			for _, k := range slices.Backward(slices.Sorted(slices.Values(fault.Columns))) {
				columns = slices.Delete(columns, k, k+1)
			}
		case (fault.Kind == reml.Confounded || fault.Kind == reml.Idle) && i >= 0:
			m.Components = slices.Delete(slices.Clone(m.Components), i, i+1)
		default:
			return m, nil, nil, err
		}
	}
}

func lastIndex(components []reml.Component, names []string) int {
	for i := len(components) - 1; i >= 0; i-- {
		if slices.Contains(names, components[i].Name) {
			return i
		}
	}
	return -1
}

// restrict is a model on some of its rows, in ascending order.
func restrict(m reml.Model, rows []int) reml.Model {
	at := map[int]int{}
	y, x := make([]float64, len(rows)), pickRows(m.X, rows)
	for i, r := range rows {
		at[r] = i
		y[i] = m.Y[r]
	}
	out := reml.Model{Y: y, X: x, AtZero: m.AtZero}
	for _, b := range m.V0 {
		var old []int
		var block reml.Block
		for i, r := range b.Rows {
			if k, in := at[r]; in {
				block.Rows, old = append(block.Rows, k), append(old, i)
			}
		}
		if old == nil {
			continue
		}
		block.V = mat.NewSymDense(len(old), nil)
		for i, a := range old {
			for j, c := range old[:i+1] {
				block.V.SetSym(i, j, b.V.At(a, c))
			}
		}
		out.V0 = append(out.V0, block)
	}
	for _, c := range m.Components {
		k := reml.Component{Name: c.Name}
		for _, z := range c.Z {
			var col reml.Column
			for i, r := range z.Rows {
				if n, in := at[r]; in {
					col.Rows, col.Values = append(col.Rows, n), append(col.Values, z.Values[i])
				}
			}
			if col.Rows != nil {
				k.Z = append(k.Z, col)
			}
		}
		if k.Z != nil {
			out.Components = append(out.Components, k)
		}
	}
	return out
}

func pickRows(x *mat.Dense, rows []int) *mat.Dense {
	_, p := x.Dims()
	out := mat.NewDense(len(rows), p, nil)
	for i, r := range rows {
		out.SetRow(i, x.RawRowView(r))
	}
	return out
}

func pick(x *mat.Dense, columns []int) *mat.Dense {
	n, _ := x.Dims()
	out := mat.NewDense(n, len(columns), nil)
	for k, j := range columns {
		for i := range n {
			out.Set(i, k, x.At(i, j))
		}
	}
	return out
}

// rowSpace is an orthonormal basis of the combinations of columns that the rows tell.
func rowSpace(x *mat.Dense) *mat.Dense {
	var s mat.SVD
	if !s.Factorize(x, mat.SVDThin) {
		return nil
	}
	var v mat.Dense
	s.VTo(&v)
	values := s.Values(nil)
	rank := 0
	for rank < len(values) && values[rank] > 1e-9*values[0] {
		rank++
	}
	_, p := x.Dims()
	return mat.DenseCopyOf(v.Slice(0, p, 0, rank))
}

// estimable is true of a combination of all columns that the rows determine.
func (p *part) estimable(c []float64) bool {
	if p.space == nil {
		return false
	}
	v := mat.NewVecDense(len(c), slices.Clone(c))
	var along, back mat.VecDense
	along.MulVec(p.space.T(), v)
	back.MulVec(p.space, &along)
	back.SubVec(v, &back)
	return mat.Norm(&back, 2) <= 1e-7*max(1, mat.Norm(v, 2))
}

// own is a combination of all columns in terms of the part's.
func (p *part) own(c []float64) []float64 {
	out := make([]float64, len(p.columns))
	for i, j := range p.columns {
		out[i] = c[j]
	}
	return out
}

// covariance of rows of the whole model with other rows, at a part's variances: components that the part gave up are 0.
func (p *part) covariance(rows, others []int) *mat.Dense {
	v := mat.NewDense(len(rows), len(others), nil)
	m := p.all.Model
	add := func(at []int, value func(i, j int) float64) {
		in := map[int]int{}
		for i, r := range at {
			in[r] = i
		}
		for i, r := range rows {
			a, ok := in[r]
			if !ok {
				continue
			}
			for j, s := range others {
				if b, ok := in[s]; ok {
					v.Set(i, j, v.At(i, j)+value(a, b))
				}
			}
		}
	}
	for _, b := range m.V0 {
		add(b.Rows, b.V.At)
	}
	for _, c := range m.Components {
		k := slices.IndexFunc(p.model.Components, func(x reml.Component) bool { return x.Name == c.Name })
		if k < 0 || p.fit.Theta[k] == 0 {
			continue
		}
		for _, z := range c.Z {
			add(z.Rows, func(i, j int) float64 { return p.fit.Theta[k] * z.Values[i] * z.Values[j] })
		}
	}
	return v
}

// whole is the model on all rows, as it was fitted.
func whole(l pool.Linear) *part {
	p := &part{all: l, model: l.Model, fit: l.Fit, space: rowSpace(l.Model.X)}
	n, width := l.Model.X.Dims()
	for i := range n {
		p.rows = append(p.rows, i)
	}
	for j := range width {
		p.columns = append(p.columns, j)
	}
	return p
}

// groups gathers the rows by a name, in order of first appearance.
func groups(rows []pool.Contrast, by func(pool.Contrast) string) (names []string, of [][]int) {
	at := map[string]int{}
	for i, r := range rows {
		k, ok := at[by(r)]
		if !ok {
			k = len(names)
			at[by(r)] = k
			names, of = append(names, by(r)), append(of, nil)
		}
		of[k] = append(of[k], i)
	}
	return names, of
}

func study(c pool.Contrast) string { return c.Study }
func site(c pool.Contrast) string  { return c.Site }

// without are the rows of n that some ascending list does not hold.
func without(n int, gone []int) []int {
	var kept []int
	for i := range n {
		if _, out := slices.BinarySearch(gone, i); !out {
			kept = append(kept, i)
		}
	}
	return kept
}
