package reml

import "math"

// state is a plan evaluated at one θ.
type state struct {
	pl    *plan
	ml    bool
	sum   *moments // over all super-blocks; columns X, then y
	ws    *workspace
	theta []float64

	beta   []float64 // less the plan's beta0
	phi    []float64 // p × p
	rss    float64   // y'Py
	loglik float64

	// Derivatives, after a deep evaluation: of the restricted likelihood, or of the likelihood if ml.
	score    []float64   // k
	expected []float64   // k × k expected information
	average  []float64   // k × k average information ½ y'PK_kPK_lPy
	expREML  []float64   // k × k expected restricted information, for Kenward-Roger
	hb       [][]float64 // h[k]·(−β, 1), p + 1
	x        []float64   // scratch, p²
}

func newState(pl *plan, ml bool) *state {
	return &state{pl: pl, ml: ml, sum: newMoments(pl.p+1, pl.k), ws: newWorkspace(pl)}
}

// eval evaluates at θ; deep also the derivatives. False where V or X'V⁻¹X is not positive definite.
func (st *state) eval(theta []float64, deep bool) bool {
	for _, set := range st.pl.own {
		some := false
		for k, v := range theta {
			some = some || v > 0 && set>>k&1 == 1
		}
		if !some {
			return false
		}
	}
	st.sum.reset(st.pl.p+1, deep)
	for i := range st.pl.supers {
		if !st.pl.sum(st.sum, st.ws, &st.pl.supers[i], theta, deep) {
			return false
		}
	}
	return st.finish(theta, deep)
}

// finish goes from the sums to the likelihood. With b = (−β, 1) a moment m of (X, y) gives b'mb, the same moment of
// the residual, and a moment of P is one of V less its part through Φ:
//
//	P = V⁻¹ − V⁻¹XΦX'V⁻¹, Φ = (X'V⁻¹X)⁻¹,
//	log L_R = −½[(n−p) log 2π + log|V| + log|X'V⁻¹X| − log|X'X| + y'Py]  (Harville 1974),
//	∂/∂θ_k = ½(y'PK_kPy − tr PK_k), expected information ½ tr PK_kPK_l.
func (st *state) finish(theta []float64, deep bool) bool {
	pl, s := st.pl, st.sum
	p, w, k := pl.p, pl.p+1, pl.k
	if st.phi == nil {
		all := make([]float64, 2*p*p+p+2*k+3*k*k+k*w)
		take := func(n int) []float64 {
			part := all[:n:n]
			all = all[n:]
			return part
		}
		st.phi, st.x, st.beta = take(p*p), take(p*p), take(p)
		st.theta, st.score = take(k), take(k)
		st.expected, st.average, st.expREML = take(k*k), take(k*k), take(k*k)
		st.hb = make([][]float64, k)
		for i := range k {
			st.hb[i] = take(w)
		}
	}
	copy(st.theta, theta)
	for i := range p {
		copy(st.phi[i*p:(i+1)*p], s.m0[i*w:i*w+p])
	}
	if !cholesky(st.phi, p) {
		return false
	}
	logxx := 2 * logDiagonal(st.phi, p)
	invert(st.phi, st.x, p)
	for i := range p {
		st.beta[i] = 0
		for j := range p {
			st.beta[i] += st.phi[i*p+j] * s.m0[j*w+p]
		}
	}
	st.rss = st.residual(s.m0)
	st.loglik = -(s.logdet + st.rss + float64(pl.n)*math.Log(2*math.Pi)) / 2
	if !st.ml {
		st.loglik -= (logxx - pl.xtx - float64(p)*math.Log(2*math.Pi)) / 2
	}
	if math.IsNaN(st.loglik) || math.IsInf(st.loglik, 0) {
		return false
	}
	if !deep {
		return true
	}
	for i := range k {
		for c := range w {
			row := s.h[i][c*w : (c+1)*w]
			st.hb[i][c] = row[p] - dot(st.beta, row[:p])
		}
		trace := s.t[i]
		if !st.ml {
			trace -= st.traceProduct(st.phi, s.h[i])
		}
		st.score[i] = (st.hb[i][p] - dot(st.beta, st.hb[i][:p]) - trace) / 2
	}
	for i := range k {
		// x = Φ·h_i
		for r := range p {
			for c := range p {
				v := 0.0
				for o := range p {
					v += st.phi[r*p+o] * s.h[i][o*w+c]
				}
				st.x[r*p+c] = v
			}
		}
		for l := range i + 1 {
			kl := pair(i, l)
			restricted := s.tt[kl] - 2*st.traceProduct(st.phi, s.j[kl])
			through := 0.0 // h_i's residual column through Φ to h_l's
			for r := range p {
				for c := range p {
					v := 0.0 // (Φ·h_l)[c, r]
					for o := range p {
						v += st.phi[c*p+o] * s.h[l][o*w+r]
					}
					restricted += st.x[r*p+c] * v
				}
				through += st.hb[i][r] * dot(st.phi[r*p:(r+1)*p], st.hb[l][:p])
			}
			st.set(st.expREML, i, l, restricted/2)
			if st.ml {
				st.set(st.expected, i, l, s.tt[kl]/2)
			} else {
				st.set(st.expected, i, l, restricted/2)
			}
			st.set(st.average, i, l, (st.residual(s.j[kl])-through)/2)
		}
	}
	return true
}

func (st *state) set(m []float64, i, l int, v float64) { m[i*st.pl.k+l], m[l*st.pl.k+i] = v, v }

// residual is b'mb, b = (−β, 1).
func (st *state) residual(m []float64) float64 {
	p, w := st.pl.p, st.pl.p+1
	last := m[p*w : p*w+w]
	v := last[p] - 2*dot(st.beta, last[:p])
	for i, b := range st.beta {
		v += b * dot(st.beta, m[i*w:i*w+p])
	}
	return v
}

// traceProduct is the trace of a (p × p) times the X part of a moment.
func (st *state) traceProduct(a, m []float64) float64 {
	p, w := st.pl.p, st.pl.p+1
	v := 0.0
	for i := range p {
		v += dot(a[i*p:(i+1)*p], m[i*w:i*w+p])
	}
	return v
}
