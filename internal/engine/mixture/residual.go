package mixture

import "math"

// residuals is, by unit, how far its studies lie from the effects, seasons and site as they are estimated at some
// standard deviations: of its studies the greatest r = (e'B⁻¹e − df)/√(2 df), e what the study's rows depart by, B
// their covariance, w within it.
func (f *fit) residuals(at SD, w *worker) []float64 {
	m := f.m
	all := f.estimates(at, w)
	far := make([]float64, m.units)
	for i := range far {
		far[i] = math.Inf(-1)
	}
	apart := at // w is taken as one more error of each arm
	apart[StudySD], apart[PracticeSD] = math.Hypot(at[StudySD], at[PracticeSD]), 0
	for i := range m.sites {
		x := &m.sites[i]
		n := x.wide
		own := make([]float64, n)
		det := one()
		for j, c := range x.at {
			own[x.own+1+j] = all[c]
		}
		x.gather(at, situation{out: f.out}, &det, &w.workspace)
		own[x.own] = toldBy(w.site, n, x.own, square(at[SiteSD]), own)
		for _, p := range x.places {
			for j := range p.studies {
				b := &p.studies[j]
				clear(w.site[:n*n])
				b.add(w.site, n, apart, p.trial, 0, &det, &w.workspace)
				r := (quadratic(w.site, n, own) - b.df()) / math.Sqrt(2*b.df())
				far[b.unit] = max(far[b.unit], r)
			}
		}
	}
	return far
}

// df is the number of contrasts in a study.
func (b *study) df() float64 {
	rows := len(b.data) / len(b.at)
	if b.v == nil {
		rows--
	}
	return float64(rows)
}

// estimates is what each column of the whole is estimated to be, under the likeliest curve of ageing; −1 stands for y,
// so that a row's product with them is what it departs by.
func (f *fit) estimates(at SD, w *worker) []float64 {
	m := f.m
	all := make([]float64, m.columns)
	rest := all[m.seasons:]
	n := m.width()
	f.m.total([]spot{{to: &w.whole, at: at}}, situation{out: f.out}, &w.workspace)
	f.evidence(w.whole, at[SeasonSD], w)
	best := 0
	for k, part := range w.curves[:len(f.curves)] {
		if part > w.curves[best] {
			best = k
		}
	}
	rest[n-1] = -1
	if m.drops > 0 {
		f.takeDrops(best, f.prior.Delta, w)
		delta := make([]float64, m.drops)
		pivots{w.drops, m.drops + 1, m.drops}.solve(m.drops, delta, 1)
		for a, arm := range m.ages {
			rest[m.fixed+a] = f.bends[best*len(m.ages)+a] * delta[arm.Drop-1]
		}
	}
	for k := m.fixed - 1; k >= 0; k-- {
		rest[k] = toldBy(w.last, n, k, math.Inf(1), rest)
	}
	for k := m.seasons - 1; k >= 0; k-- {
		all[k] = toldBy(w.seasons, m.columns, k, square(at[SeasonSD]), all)
	}
	return all
}

// toldBy is what a column taken out with variance v (+Inf: flat) is estimated to be, those after it being known.
func toldBy(s []float64, n, k int, v float64, known []float64) float64 {
	x := 0.0
	for j := k + 1; j < n; j++ {
		x -= s[k*n+j] * known[j]
	}
	if math.IsInf(v, 1) {
		return x / s[k*n+k]
	}
	return x * v / (1 + v*s[k*n+k])
}

// quadratic is e'Se of a symmetric matrix whose upper triangle is kept.
func quadratic(s []float64, n int, e []float64) float64 {
	q := 0.0
	for i, x := range e {
		if x == 0 {
			continue
		}
		q += x * x * s[i*n+i]
		for j := i + 1; j < n; j++ {
			q += 2 * x * e[j] * s[i*n+j]
		}
	}
	return q
}
