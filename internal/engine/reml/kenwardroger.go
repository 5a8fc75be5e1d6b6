package reml

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Adjusted is the covariance of Beta after Kenward & Roger (1997, Biometrics 53:983), for a covariance linear in θ:
//
//	Φ_A = Φ + 2Φ{Σ_kl W_kl (Q_kl − P_kΦP_l)}Φ,
//	P_k = −X'V⁻¹K_kV⁻¹X, Q_kl = X'V⁻¹K_kV⁻¹K_lV⁻¹X,
//
// with W the inverse of the expected restricted information at θ.
func (f *Fitted) Adjusted() *mat.SymDense {
	if f.phiA != nil {
		return f.phiA
	}
	p, st := f.Rank, f.at
	w := p + 1
	wk := f.information()
	phi := mat.NewSymDense(p, st.phi)
	inner := mat.NewDense(p, p, nil)
	var hp, php mat.Dense
	for a, k := range f.kept {
		hk := xPart(st.sum.h[k], p)
		hp.Mul(hk, phi)
		for b, l := range f.kept {
			c := wk.At(a, b)
			php.Mul(&hp, xPart(st.sum.h[l], p))
			j := st.sum.j[pair(k, l)]
			for i := range p {
				for o := range p {
					inner.Set(i, o, inner.At(i, o)+c*(j[i*w+o]-php.At(i, o)))
				}
			}
		}
	}
	var left, both mat.Dense
	left.Mul(phi, inner)
	both.Mul(&left, phi)
	adjusted := mat.NewSymDense(p, nil)
	for i := range p {
		for j := i; j < p; j++ {
			adjusted.SetSym(i, j, phi.At(i, j)+both.At(i, j)+both.At(j, i))
		}
	}
	f.phiA = f.plan.users(adjusted)
	return f.phiA
}

// xPart copies the X rows and columns of a moment.
func xPart(m []float64, p int) *mat.Dense {
	x := mat.NewDense(p, p, nil)
	for i := range p {
		x.SetRow(i, m[i*(p+1):i*(p+1)+p])
	}
	return x
}

// information is W on the components kept. Where they cannot be told apart (which fitting refuses, but a given θ or
// rows left out may bring), the inverse is the generalised one: that of their sum.
func (f *Fitted) information() *mat.SymDense {
	if f.w != nil || len(f.kept) == 0 {
		return f.w
	}
	n, k := len(f.kept), f.plan.k
	a, scale := make([]float64, n*n), make([]float64, n)
	for i, r := range f.kept {
		if v := f.at.expREML[r*k+r]; v > idle*f.at.sum.tt[pair(r, r)]/2 {
			scale[i] = 1 / math.Sqrt(v)
		}
	}
	for i, r := range f.kept {
		for j, c := range f.kept {
			a[i*n+j] = f.at.expREML[r*k+c] * scale[i] * scale[j]
		}
	}
	f.w = mat.NewSymDense(n, slices.Clone(a))
	if cholesky(a, n) && !slices.ContainsFunc(diagonal(a, n), func(d float64) bool { return d*d < alike }) {
		invert(a, make([]float64, n*n), n)
		f.w = mat.NewSymDense(n, a)
	} else {
		var e mat.EigenSym
		var v mat.Dense
		e.Factorize(f.w, true)
		e.VectorsTo(&v)
		f.w.Zero()
		for i, l := range e.Values(nil) {
			if l > alike {
				f.w.SymRankOne(f.w, 1/l, v.ColView(i))
			}
		}
	}
	for i := range n {
		for j := i; j < n; j++ {
			f.w.SetSym(i, j, f.w.At(i, j)*scale[i]*scale[j])
		}
	}
	return f.w
}

// Contrast is c'β with its standard error and degrees of freedom. c has p entries. Under Kenward-Roger, with Φ
// unadjusted,
//
//	df = 2(c'Φc)² / (g'Wg), g_k = −c'ΦP_kΦc,
//
// and the standard error is from Φ_A. Components estimated at 0 stay in g and W or not as Model.AtZero says.
func (f *Fitted) Contrast(c []float64, inf Inference) Estimate {
	p := f.Rank
	v := mat.NewVecDense(p, c)
	e := Estimate{Value: dot(c, f.Beta), DF: math.Inf(1)}
	if inf == Wald {
		e.SE = math.Sqrt(mat.Inner(v, f.Phi, v))
		return e
	}
	e.SE = math.Sqrt(mat.Inner(v, f.Adjusted(), v))
	own := v // the contrast in terms of the plan's X
	if turn := f.plan.turn; turn != nil {
		own = mat.NewVecDense(p, nil)
		own.MulVec(turn.T(), v)
	}
	var u mat.VecDense // Φc
	u.MulVec(mat.NewSymDense(p, f.at.phi), own)
	variance := mat.Dot(own, &u)
	g := make([]float64, len(f.kept))
	for i, k := range f.kept {
		h := f.at.sum.h[k]
		for r := range p {
			g[i] += u.AtVec(r) * dot(u.RawVector().Data, h[r*(p+1):r*(p+1)+p])
		}
	}
	if len(g) > 0 {
		gv := mat.NewVecDense(len(g), g)
		gv.ScaleVec(1/variance, gv)
		e.DF = 2 / mat.Inner(gv, f.information(), gv) // +Inf where no component touches the contrast
	}
	if f.plan.m.AtZero == Drop {
		e.DF = min(max(e.DF, 1), float64(f.Rows-f.Rank))
	}
	return e
}

// Effect is the contrast that picks one coefficient.
func (f *Fitted) Effect(j int, inf Inference) Estimate {
	c := make([]float64, f.Rank)
	c[j] = 1
	return f.Contrast(c, inf)
}
