package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/note"
)

// residuals are conditional: with V the covariance of all rows, ê = θ_e V⁻¹(y − Xβ), whose covariance is
// θ_e²(V⁻¹ − V⁻¹XΦX'V⁻¹) (Robinson 1991, Stat Sci 6:15).
func (a *Analysis) residuals(f *fitted) {
	m := a.model
	const most = 2000 // rows; beyond, whole matrices are too dear for a plot
	n := len(m.rows)
	if f.f == nil || n > most {
		return
	}
	v := mat.NewSymDense(n, nil)
	residual := 0.0
	for k, name := range f.components {
		theta := f.f.Theta[k]
		for i := range n {
			for j := i; j < n; j++ {
				if name == "block" && m.blocks[i] == m.blocks[j] || name == "unit" && m.ids[i] == m.ids[j] || name == "residual" && i == j {
					v.SetSym(i, j, v.At(i, j)+theta)
				}
			}
		}
		if name == "residual" {
			residual = theta
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(v) {
		return
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return
	}
	fit := mat.NewVecDense(n, nil)
	fit.MulVec(m.x, mat.NewVecDense(len(f.beta), f.beta))
	raw := mat.NewVecDense(n, nil)
	raw.SubVec(mat.NewVecDense(n, m.y), fit)
	e := mat.NewVecDense(n, nil)
	e.MulVec(&inv, raw)
	var vx, both mat.Dense
	vx.Mul(&inv, m.x)
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
			a.Notes = append(a.Notes, note.New("the yield of unit %s in %d lies %.1f standard errors from what its practice, season, block and unit explain: look at its readings",
				m.rows[i].Unit, m.rows[i].Season, s))
		}
	}
}
