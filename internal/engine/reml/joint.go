package reml

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Joint is a test that several contrasts are all 0: F with DF and Residual degrees of freedom.
type Joint struct {
	F, P     float64
	DF       int
	Residual float64
}

// Joint tests that the contrasts in the rows of c (q × p, independent) are all 0, by the scaled F of Kenward & Roger
// (1997, Biometrics 53:983): with Θ = C'(CΦC')⁻¹C,
//
//	A1 = Σ W_kl tr(ΘΦP_kΦ) tr(ΘΦP_lΦ), A2 = Σ W_kl tr(ΘΦP_kΦ ΘΦP_lΦ),
//
// from which come the scale and the residual degrees of freedom. A NaN says that there are too few rows for it.
func (f *Fitted) Joint(c *mat.Dense) Joint {
	q, p := c.Dims()
	w := f.information()
	phi := mat.NewSymDense(p, f.at.phi)
	own := mat.DenseCopyOf(c)
	if turn := f.plan.turn; turn != nil {
		own.Mul(c, turn)
	}
	var inv, theta, left mat.Dense
	if err := inv.Inverse(between(own, phi)); err != nil {
		return Joint{F: math.NaN(), P: math.NaN(), DF: q, Residual: math.NaN()}
	}
	left.Mul(own.T(), &inv)
	theta.Mul(&left, own)
	// ΘΦP_kΦ of every component, P_k = −H_k
	m := make([]*mat.Dense, len(f.kept))
	for i, k := range f.kept {
		var a, b, d mat.Dense
		a.Mul(&theta, phi)
		b.Mul(&a, xPart(f.at.sum.h[k], p))
		d.Mul(&b, phi)
		d.Scale(-1, &d)
		m[i] = &d
	}
	a1, a2 := 0.0, 0.0
	for i := range m {
		for j := range m {
			var prod mat.Dense
			prod.Mul(m[i], m[j])
			a1 += w.At(i, j) * mat.Trace(m[i]) * mat.Trace(m[j])
			a2 += w.At(i, j) * mat.Trace(&prod)
		}
	}
	n := float64(q)
	b := (a1 + 6*a2) / (2 * n)
	g := ((n+1)*a1 - (n+4)*a2) / ((n + 2) * a2)
	over := 3*n + 2*(1-g)
	c1, c2, c3 := g/over, (n-g)/over, (n+2-g)/over
	e := 1 / (1 - a2/n)
	v := 2 / n * (1 + c1*b) / ((1 - c2*b) * (1 - c2*b) * (1 - c3*b))
	rho := v / (2 * e * e)
	df := 4 + (n+2)/(n*rho-1)
	scale := df / (e * (df - 2))

	beta := mat.NewVecDense(p, f.Beta)
	var value, solved mat.VecDense
	value.MulVec(c, beta)
	if err := solved.SolveVec(between(c, f.Adjusted()), &value); err != nil {
		return Joint{F: math.NaN(), P: math.NaN(), DF: q, Residual: math.NaN()}
	}
	j := Joint{F: scale / n * mat.Dot(&value, &solved), DF: q, Residual: df}
	j.P = math.NaN()
	if j.F >= 0 && df > 0 {
		j.P = distuv.F{D1: n, D2: df}.Survival(j.F)
	}
	return j
}
