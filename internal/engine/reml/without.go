package reml

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/note"
)

// Without is the fit with some rows left out and θ held. Only the super-blocks that hold the rows are computed anew, so
// that leaving out each of thousands of studies is cheap. The result gives inference; it has no Profile or Without of
// its own. The error is a *Fault: Singular where the rows alone carried an effect.
func (f *Fitted) Without(rows []int) (*Fitted, error) {
	pl := f.plan
	if pl.supers == nil {
		return nil, noData()
	}
	n, p := pl.n, pl.p
	gone := map[int]bool{}
	for _, r := range rows {
		if r < 0 || r >= n {
			return nil, &Fault{Kind: Malformed, Note: note.New("row %d of %d cannot be left out", r+1, n)}
		}
		gone[r] = true
	}
	left := n - len(gone)
	if left <= p {
		return nil, &Fault{Kind: NoFreedom, Note: note.New("%d rows cannot tell %d effects from their error", left, p)}
	}
	xtx, err := f.crossWithout(gone)
	if err != nil {
		return nil, err
	}

	var touched []int
	for r := range gone {
		touched = append(touched, pl.superOf[r])
	}
	slices.Sort(touched)
	touched = slices.Compact(touched)
	old := newMoments(p+1, pl.k)
	var keep []int
	for _, i := range touched {
		s := &pl.supers[i]
		if !pl.sum(old, f.at.ws, s, f.Theta, true) {
			return nil, badVariance(pl)
		}
		for _, b := range s.blocks {
			for _, r := range b.rows {
				if !gone[r] {
					keep = append(keep, r)
				}
			}
		}
	}
	slices.Sort(keep)
	rest := *pl
	rest.n, rest.xtx, rest.supers = left, xtx, nil
	st := &state{pl: &rest, ml: f.ml, sum: newMoments(p+1, pl.k)}
	if len(keep) > 0 {
		part, err := f.restrict(keep)
		if err != nil {
			return nil, err
		}
		ws := newWorkspace(part)
		for i := range part.supers {
			if !part.sum(st.sum, ws, &part.supers[i], f.Theta, true) {
				return nil, badVariance(part)
			}
		}
	}
	if len(touched) < len(pl.supers) {
		st.sum.exchange(f.at.sum, old)
	}
	if !st.finish(f.Theta, true) {
		return nil, numeric()
	}
	return newFitted(&rest, st, f.ml)
}

func noData() *Fault {
	return &Fault{Kind: Malformed, Note: note.New("a fit with rows left out gives inference only")}
}

// exchange adds all less old.
func (s *moments) exchange(all, old *moments) {
	part := func(to, a, o []float64) {
		for i := range to {
			to[i] += a[i] - o[i]
		}
	}
	part(s.m0, all.m0, old.m0)
	for k := range s.h {
		part(s.h[k], all.h[k], old.h[k])
	}
	for k := range s.j {
		part(s.j[k], all.j[k], old.j[k])
	}
	part(s.t, all.t, old.t)
	part(s.tt, all.tt, old.tt)
	s.logdet += all.logdet - old.logdet
}

// crossWithout is log|X'X| over the rows kept, and refuses what they leave singular.
func (f *Fitted) crossWithout(gone map[int]bool) (float64, error) {
	pl := f.plan
	p, x := pl.p, pl.m.X
	if f.cross == nil {
		var c mat.SymDense
		c.SymOuterK(1, x.T())
		f.cross = c.RawSymmetric().Data // upper triangle
	}
	c := make([]float64, p*p) // lower triangle
	for i := range p {
		for j := range i + 1 {
			c[i*p+j] = f.cross[j*p+i]
		}
	}
	for r := range gone {
		row := x.RawRowView(r)
		for i, v := range row {
			if v != 0 {
				axpy(-v, row[:i+1], c[i*p:i*p+i+1])
			}
		}
	}
	var lost []int
	for i := range p { // a Cholesky factorisation that passes over what is lost
		ci := c[i*p : i*p+i+1]
		for j := range i {
			if c[j*p+j] == 0 {
				ci[j] = 0
				continue
			}
			ci[j] = (ci[j] - dot(ci[:j], c[j*p:j*p+j])) / c[j*p+j]
		}
		d := ci[i] - dot(ci[:i], ci[:i])
		if !(d > 1e-11*f.cross[i*p+i]) {
			lost = append(lost, i)
			ci[i] = 0
			continue
		}
		ci[i] = math.Sqrt(d)
	}
	if len(lost) > 0 {
		return 0, singular(lost)
	}
	return 2 * logDiagonal(c, p), nil
}

// place is a column of Z that a row stands in.
type place struct{ k, column int }

// restrict is the plan of some rows alone, in ascending order.
func (f *Fitted) restrict(rows []int) (*plan, error) {
	pl := f.plan
	m := pl.m
	if f.columns == nil {
		f.columns, f.block = make([][]place, pl.n), make([]int, pl.n)
		for k, c := range m.Components {
			for i, z := range c.Z {
				for _, r := range z.Rows {
					f.columns[r] = append(f.columns[r], place{k, i})
				}
			}
		}
		for i, b := range m.V0 {
			for _, r := range b.Rows {
				f.block[r] = i + 1
			}
		}
	}
	at := make(map[int]int, len(rows))
	for i, r := range rows {
		at[r] = i
	}
	sub := &Model{X: mat.NewDense(len(rows), pl.p, nil), Components: make([]Component, pl.k), AtZero: m.AtZero}
	for k, c := range m.Components {
		sub.Components[k].Name = c.Name
	}
	y := make([]float64, len(rows))
	blocks, columns := map[int]bool{}, map[place]bool{}
	for i, r := range rows {
		y[i] = pl.y[r]
		sub.X.SetRow(i, m.X.RawRowView(r))
		if b := f.block[r]; b > 0 && !blocks[b] {
			blocks[b] = true
			sub.V0 = append(sub.V0, m.V0[b-1].among(at))
		}
		for _, c := range f.columns[r] {
			if columns[c] {
				continue
			}
			columns[c] = true
			var part Column
			z := m.Components[c.k].Z[c.column]
			for o, q := range z.Rows {
				if w, ok := at[q]; ok {
					part.Rows = append(part.Rows, w)
					part.Values = append(part.Values, z.Values[o])
				}
			}
			sub.Components[c.k].Z = append(sub.Components[c.k].Z, part)
		}
	}
	return cut(sub, y)
}

// among is the part of a block in some rows, renumbered.
func (b Block) among(at map[int]int) Block {
	var out Block
	var from []int
	for i, r := range b.Rows {
		if w, ok := at[r]; ok {
			out.Rows = append(out.Rows, w)
			from = append(from, i)
		}
	}
	out.V = mat.NewSymDense(len(from), nil)
	for i, r := range from {
		for j := i; j < len(from); j++ {
			out.V.SetSym(i, j, b.V.At(r, from[j]))
		}
	}
	return out
}
