package compare

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/note"
)

// overflow gives each gain the range that it may have because some units gave at least what was read: from the units of
// the other side alone to those of its own alone having given plausibly more. Plausibly is up to the 97.5th percentile
// of what a unit may have given, knowing every row that was read in full and that it gave no less than was read.
//
// With P = V⁻¹ − V⁻¹XΦX'V⁻¹ the rows C, foretold from all others, miss by e = P_CC⁻¹(Py)_C, with covariance P_CC⁻¹
// (Haslett & Hayes 1998, Journal of the Royal Statistical Society B 60:201). A gain is linear in the yields, so each
// moves it by its own weight; variances stay as estimated.
func (a *Analysis) overflow(f *fitted) {
	m := a.model
	var at []int
	for i, r := range m.rows {
		if r.AtLeast {
			at = append(at, i)
		}
	}
	if len(at) == 0 {
		return
	}
	more, ok := f.plausibly(at)
	if !ok {
		a.Notes.Add("nothing tells how much more the units that overflowed gave: " +
			"gains are as read, and their intervals know nothing of it")
		return
	}
	for i := range a.Gains {
		g := &a.Gains[i]
		if i == a.reference || !g.estimable {
			continue
		}
		low, high := g.Log, g.Log
		weights := f.weights(m.own(g.contrast))
		for k, row := range at {
			d := weights[row] * more[k]
			low, high = low+min(d, 0), high+max(d, 0)
		}
		g.OverflowLowPct, g.OverflowHighPct = percent(low), percent(high)
		name, read := note.Term(g.Practice), note.Percent(g.Pct)
		if g.OverflowHighPct-g.OverflowLowPct < 0.5 { // what nobody could see in whole percents
			a.Notes.Add("what the units that overflowed may have given beyond what was read "+
				"hardly moves the gain of %s, %v", name, read)
			continue
		}
		a.Notes.Add("had the units that overflowed given plausibly more than was read, "+
			"the gain of %s would be %v to %v; as read it is %v", name, note.Percent(g.OverflowLowPct),
			note.Percent(g.OverflowHighPct), read)
	}
}

// plausibly is how much more, on the log scale, some rows may have given; false where the other rows do not tell.
func (f *fitted) plausibly(at []int) ([]float64, bool) {
	m := f.m
	inv, ok := f.inverse()
	if !ok {
		return nil, false
	}
	var wx, wxp, hat mat.Dense
	wx.Mul(inv, m.x)
	wxp.Mul(&wx, f.f.Phi)
	hat.Mul(&wxp, wx.T())
	p := mat.NewSymDense(len(at), nil)
	py := mat.NewVecDense(len(at), nil)
	for k, i := range at {
		for j, y := range m.y {
			py.SetVec(k, py.AtVec(k)+(inv.At(i, j)-hat.At(i, j))*y)
		}
		for l, j := range at {
			p.SetSym(k, l, inv.At(i, j)-hat.At(i, j))
		}
	}
	var c mat.Cholesky
	if !c.Factorize(p) || c.Cond() > 1e10 {
		return nil, false
	}
	var miss mat.VecDense
	var cov mat.SymDense
	if c.SolveVecTo(&miss, py) != nil || c.InverseTo(&cov) != nil {
		return nil, false
	}
	more := make([]float64, len(at))
	for k := range at {
		sd := math.Sqrt(cov.At(k, k))
		read := miss.AtVec(k) / sd // above what the others foretell, in standard deviations
		if upper := -distuv.UnitNormal.Quantile(0.025 * distuv.UnitNormal.Survival(read)); !math.IsInf(upper, 0) {
			more[k] = max(0, sd*(upper-read))
		}
	}
	return more, true
}

// weights is what each row adds to a contrast of the columns kept: V⁻¹XΦc.
func (f *fitted) weights(c []float64) []float64 {
	inv, ok := f.inverse()
	w := mat.NewVecDense(len(f.m.rows), nil)
	if !ok {
		return w.RawVector().Data
	}
	var pc, xpc mat.VecDense
	pc.MulVec(f.f.Phi, mat.NewVecDense(len(c), c))
	xpc.MulVec(f.m.x, &pc)
	w.MulVec(inv, &xpc)
	return w.RawVector().Data
}
