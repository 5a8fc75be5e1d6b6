package mixture

import "math"

// situation is which studies stand apart, by unit, and which are left out, by study; nil: none.
type situation struct {
	wild, out []bool
	shift     float64 // standard deviation of a contrast's shift
}

func (c situation) apart(unit int) bool { return c.wild != nil && c.wild[unit] }

// extra is the variance that an arm of a unit has for standing apart.
func (c situation) extra(unit int) float64 {
	if c.apart(unit) {
		return c.shift * c.shift / 2
	}
	return 0
}

// workspace is what sites are added up in.
type workspace struct {
	site  []float64 // the columns of a site
	rows  []float64 // of a study
	inner []float64 // covariance of its contrasts
	arms  []float64 // their variances
}

func (m *model) newWorkspace() workspace {
	rows, inner, arms := 0, 0, 0
	for _, x := range m.sites {
		for _, p := range x.places {
			for _, b := range p.studies {
				n := len(b.data) / len(b.at)
				rows, inner, arms = max(rows, len(b.data)), max(inner, n*n), max(arms, len(b.arms))
			}
		}
	}
	return workspace{
		site:  make([]float64, m.widest*m.widest),
		rows:  make([]float64, rows),
		inner: make([]float64, inner),
		arms:  make([]float64, arms),
	}
}

// sum is what sites leave of the likelihood once w and u are out: the upper triangle over the columns of the whole, and
// the determinants met.
type sum struct {
	s   []float64
	det product
}

func (m *model) newSum() sum { return sum{s: make([]float64, m.columns*m.columns), det: one()} }

// set copies another sum.
func (x *sum) set(from sum) {
	copy(x.s, from.s)
	x.det = from.det
}

// spot is a point at which a sum is asked for.
type spot struct {
	to    *sum
	at    SD
	outer int // its number in a grid
}

// total adds up the sites at points that differ in σ_u alone.
func (m *model) total(run []spot, c situation, w *workspace) {
	for _, p := range run {
		clear(p.to.s)
		p.to.det = one()
	}
	for i := range m.sites {
		m.add(run, i, c, 1, w)
	}
}

// add adds a site to the sums at points that differ in σ_u alone, or with sign −1 takes it off. Its studies are added
// up once for all of them.
func (m *model) add(run []spot, site int, c situation, sign float64, w *workspace) {
	x, studies := &m.sites[site], one()
	x.gather(run[0].at, c, &studies, w)
	u := w.site[x.own*x.wide+x.own:]
	for _, p := range run {
		det, v := studies, square(p.at[SiteSD])
		factor := 1 + v*u[0]
		det.times(factor)
		x.scatter(p.to.s, m.columns, sign, w.site, v/factor)
		p.to.det.by(det, sign)
	}
}

// scatter adds what was gathered of a site, its u taken out as eliminate does, to the columns of the whole.
func (x *site) scatter(to []float64, columns int, sign float64, s []float64, scale float64) {
	u := s[x.own*x.wide+x.own+1:][:len(x.at)]
	for i, a := range x.at {
		from := s[(x.own+1+i)*x.wide+x.own+1:][:len(x.at)]
		row, c := to[a*columns:][:columns], u[i]*scale
		for j := i; j < len(u); j++ {
			row[x.at[j]] += sign * (from[j] - c*u[j])
		}
	}
}

// gather leaves what the studies of a site say, with w taken out, in the workspace.
func (x *site) gather(at SD, c situation, det *product, w *workspace) {
	n, s := x.wide, w.site
	clear(s[x.own*n : n*n])
	for i := range x.places {
		x.collect(i, at, c, det, w)
		x.takePractices(i, at, c, det, w)
	}
}

// collect adds up the studies of a place.
func (x *site) collect(i int, at SD, c situation, det *product, w *workspace) {
	n, s, p := x.wide, w.site, &x.places[i]
	clear(s[(x.own-p.shared)*n : x.own*n])
	for j := range p.studies {
		if b := &p.studies[j]; c.out == nil || !c.out[b.index] {
			b.add(s, n, at, p.trial, c.extra(b.unit), det, w)
		}
	}
}

// takePractices takes the w of a place out.
func (x *site) takePractices(i int, at SD, c situation, det *product, w *workspace) {
	p, practice := &x.places[i], square(at[PracticeSD])/2
	if p.trial {
		practice += c.extra(p.unit)
	}
	for k := x.own - p.shared; k < x.own; k++ {
		det.times(eliminate(w.site, x.wide, k, practice))
	}
}

// add adds a study to its site's columns.
func (b *study) add(s []float64, n int, at SD, trial bool, extra float64, det *product, w *workspace) {
	study, practice := at[StudySD]*at[StudySD]/2, at[PracticeSD]*at[PracticeSD]/2
	for i, a := range b.arms {
		v := a.v + a.share*study
		if a.alone {
			v += practice
		}
		if a.alone || !trial {
			v += extra
		}
		w.arms[i] = v
	}
	if b.v == nil {
		b.addArms(s, n, det, w)
	} else {
		b.addContrasts(s, n, det, w)
	}
}

// addArms adds measured arms, the study's level taken out. With g = 1/variance of each arm and W = Σ g,
//
//	A += Σ g d d' − (Σ g d)(Σ g d)'/W,  determinant: ln W − Σ ln g
func (b *study) addArms(s []float64, n int, det *product, w *workspace) {
	wide := len(b.at)
	level := w.rows[:wide]
	clear(level)
	total := 0.0
	for i := range b.arms {
		v := w.arms[i]
		det.times(v)
		g := 1 / v
		total += g
		d := b.data[i*wide : (i+1)*wide]
		for k, x := range d {
			level[k] += g * x
		}
		gram(s, n, b.at, d, g)
	}
	gram(s, n, b.at, level, -1/total)
	det.times(total)
}

// addContrasts adds contrasts with their covariance B = V + C diag(h) C', row by row: each row less what the rows
// before tell of it, e_i = d_i − Σ_j l_ij e_j, has the variance D_i, and
//
//	A += Σ e e'/D,  determinant: Σ ln D
func (b *study) addContrasts(s []float64, n int, det *product, w *workspace) {
	wide, arms := len(b.at), len(b.arms)
	rows := len(b.data) / wide
	l := w.inner // l_ij D_j left of the diagonal, D on it
	for i := range rows {
		e := w.rows[i*wide : (i+1)*wide]
		copy(e, b.data[i*wide:(i+1)*wide])
		for j := range i + 1 {
			v := b.v[i*rows+j]
			for k, h := range w.arms[:arms] {
				v += b.loads[i*arms+k] * b.loads[j*arms+k] * h
			}
			for k := range j {
				v -= l[i*rows+k] * l[j*rows+k] / l[k*rows+k]
			}
			l[i*rows+j] = v
			if j < i {
				f := v / l[j*rows+j]
				for k, x := range w.rows[j*wide : (j+1)*wide] {
					e[k] -= f * x
				}
			}
		}
		d := l[i*rows+i]
		det.times(d)
		gram(s, n, b.at, e, 1/d)
	}
}

// gram adds g·d d' at some columns.
func gram(s []float64, n int, at []int, d []float64, g float64) {
	for i, x := range d {
		x *= g
		if x == 0 {
			continue
		}
		row := s[at[i]*n:]
		for j := i; j < len(d); j++ {
			row[at[j]] += x * d[j]
		}
	}
}

// product is a product of positive numbers, kept from running over, whose logarithm costs one call.
type product struct{ x, logs float64 }

func one() product { return product{x: 1} }

func (p *product) times(x float64) {
	p.x *= x
	if p.x > 1e150 || p.x < 1e-150 { // so that two of them multiplied do not run over either
		p.logs += math.Log(p.x)
		p.x = 1
	}
}

// by multiplies by another product, or with sign −1 divides.
func (p *product) by(q product, sign float64) {
	p.logs += sign * q.logs
	if sign < 0 {
		q.x = 1 / q.x
	}
	p.times(q.x)
}

func (p *product) log() float64 { return p.logs + math.Log(p.x) }

// eliminate takes column k out of a symmetric matrix of which the upper triangle is kept, n × n in rows of length n: a
// random column of variance v,
//
//	S_ij ← S_ij − S_ik S_kj v/(1 + v S_kk),  determinant × (1 + v S_kk)
//
// and returns that factor. No variance is divided by, so that it may be 0. Row k stays as it was.
func eliminate(s []float64, n, k int, v float64) float64 {
	factor := 1 + v*s[k*n+k]
	sweep(s, n, k, v/factor)
	return factor
}

// eliminateFlat takes out a column that is flat: S_ij ← S_ij − S_ik S_kj/S_kk, determinant × S_kk.
func eliminateFlat(s []float64, n, k int) float64 {
	factor := s[k*n+k]
	sweep(s, n, k, 1/factor)
	return factor
}

func sweep(s []float64, n, k int, scale float64) {
	row := s[k*n : k*n+n]
	for i := k + 1; i < n; i++ {
		x := row[i] * scale
		if x == 0 {
			continue
		}
		to := s[i*n+i : i*n+n]
		from := row[i:]
		from = from[:len(to)]
		for j, v := range from {
			to[j] -= x * v
		}
	}
}
