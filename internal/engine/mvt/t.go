package mvt

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Critical is the t within which all |T_i| lie with probability p.
func Critical(p float64, r *mat.SymDense, df float64) float64 {
	low := Quantile((1+p)/2, df)
	high := Quantile(1-(1-p)/2/float64(r.SymmetricDim()), df) // Bonferroni
	if r.SymmetricDim() == 1 || !(high < math.Inf(1)) {
		return low
	}
	// False position, with the last end halved (Dowell & Jarratt 1971): few evaluations, each dear.
	near := 1e-8
	f := func(t float64) float64 {
		v, err := Within(t, r, df)
		near = max(near, err/5)
		return v - p
	}
	fl, fh := f(low), f(high)
	for range 40 {
		if fl >= 0 {
			return low
		}
		if fh <= 0 || high-low < 1e-7*high {
			return high
		}
		t := (low*fh - high*fl) / (fh - fl)
		switch ft := f(t); {
		case math.Abs(ft) < near:
			return t
		case ft > 0:
			high, fh, fl = t, ft, fl/2
		default:
			low, fl, fh = t, ft, fh/2
		}
		if high-low < 1e-6 {
			break
		}
	}
	return (low + high) / 2
}

// Noncentral is P(T ≤ t) of Student's t with df degrees of freedom and noncentrality δ: ∫ f(s) Φ(ts − δ) ds.
func Noncentral(t, df, delta float64) float64 {
	last := math.NaN()
	for n := 32; ; n *= 2 {
		p := 0.0
		g := scaleRule(n, df)
		for i, s := range g.x {
			p += g.w[i] * normal(t*s-delta)
		}
		if math.Abs(p-last) < 1e-11 || n > 2000 {
			return p
		}
		last = p
	}
}
