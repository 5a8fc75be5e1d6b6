package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// inverse is V⁻¹, V the covariance of all rows; false where nothing tells the error, or whole matrices are too dear.
func (f *fitted) inverse() (*mat.SymDense, bool) {
	const most = 2000 // rows
	m := f.m
	n := len(m.rows)
	if f.f == nil || n > most {
		return nil, false
	}
	same := map[string]func(i, j int) bool{
		"block":    func(i, j int) bool { return m.blocks[i] == m.blocks[j] },
		"unit":     func(i, j int) bool { return m.ids[i] == m.ids[j] },
		"residual": func(i, j int) bool { return i == j },
	}
	v := mat.NewSymDense(n, nil)
	for k, name := range f.fittedTo {
		for i := range n {
			for j := i; j < n; j++ {
				if same[name](i, j) {
					v.SetSym(i, j, v.At(i, j)+f.f.Theta[k])
				}
			}
		}
	}
	var chol mat.Cholesky
	var inv mat.SymDense
	if !chol.Factorize(v) || chol.InverseTo(&inv) != nil {
		return nil, false
	}
	return &inv, true
}

// residuals are conditional: with V the covariance of all rows, ê = θ_e V⁻¹(y − Xβ), whose covariance is
// θ_e²(V⁻¹ − V⁻¹XΦX'V⁻¹) (Robinson 1991, Stat Sci 6:15).
func (a *Analysis) residuals(f *fitted) {
	m := a.model
	n := len(m.rows)
	inv, ok := f.inverse()
	if !ok {
		return
	}
	residual := f.f.Theta[len(f.fittedTo)-1]
	fit := mat.NewVecDense(n, nil)
	fit.MulVec(m.x, mat.NewVecDense(len(f.beta), f.beta))
	raw := mat.NewVecDense(n, nil)
	raw.SubVec(mat.NewVecDense(n, m.y), fit)
	e := mat.NewVecDense(n, nil)
	e.MulVec(inv, raw)
	var vx, both mat.Dense
	vx.Mul(inv, m.x)
	both.Mul(&vx, f.f.Phi)
	order := make([]int, n)
	for i := range n {
		row := i
		part := 0.0
		for j := range len(f.beta) {
			part += both.At(row, j) * vx.At(row, j)
		}
		r := Residual{UnitSeason: m.rows[i], Residual: residual * e.AtVec(i)}
		r.Fitted = m.y[i] - r.Residual
		r.Standardized = e.AtVec(i) / math.Sqrt(max(0, inv.At(i, i)-part))
		if inv.At(i, i)-part < 1e-9*inv.At(i, i) {
			r.Standardized = math.NaN() // an effect of its own explains it wholly
		}
		a.Residuals = append(a.Residuals, r)
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch x, y := a.Residuals[i].Residual, a.Residuals[j].Residual; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	for rank, i := range order {
		a.Residuals[i].NormalScore = math.Sqrt2 * math.Erfinv(2*(float64(rank+1)-0.375)/(float64(n)+0.25)-1)
		if s := a.Residuals[i].Standardized; math.Abs(s) > 3.5 {
			a.Notes.Add("the yield of unit %s in %d lies %.1f standard errors from what its practice, season, block "+
				"and unit explain: look at its readings",
				m.rows[i].Unit, m.rows[i].Season, s)
		}
	}
}
