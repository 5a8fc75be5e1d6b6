package mixture

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Place is what is known of some lines together with a site: its u, and the w of practices there.
type Place struct {
	s         *Sampler
	practices []int
	index     int  // of the site; −1: one that has no studies
	site      site // closely
	columns   []int
	work      worker
}

// Place is the lines of a sampler with a site, and with practices there, as Arm.Practice has them. A site without
// studies has u and w as any new one.
func (s *Sampler) Place(name string, practices []int) *Place {
	m := s.p.f.m
	p := &Place{s: s, practices: practices, index: -1}
	if i, ok := m.named[name]; ok {
		p.index, p.site = i, m.newSite(m.groups[i], true)
		p.work = worker{workspace: m.newWorkspace(), whole: m.newSum()}
		p.work.site = make([]float64, max(len(p.work.site), p.site.wide*p.site.wide))
		var own []int // practices of the site's own columns
		if last := p.site.places[len(p.site.places)-1]; !last.trial {
			own = m.practicesOf(m.groups[i], last.shared)
		}
		for _, k := range practices {
			p.columns = append(p.columns, slices.Index(own, k))
		}
	}
	return p
}

// practicesOf is the practices of the studies of a site that are of no trial, in the order of their columns.
func (m *model) practicesOf(studies []int, n int) []int {
	own := make([]int, n)
	list := slices.DeleteFunc(slices.Clone(studies), func(i int) bool { return m.table.Studies[i].Trial != "" })
	for k, c := range repeated(m.table, list, 0) {
		own[c] = k
	}
	return own
}

// Normal is, in a part, the joint normal of the lines, u, and the w of the practices, in this order.
func (p *Place) Normal(part int) (mean []float64, cov *mat.SymDense) {
	if p.index < 0 {
		return p.fresh(part)
	}
	s, x := p.s, &p.s.p.parts[part]
	y := &s.p.points[x.point]
	known, told := p.system(y, x.curve)
	var c mat.Cholesky
	c.Factorize(known)
	var at mat.VecDense
	_ = c.SolveVecTo(&at, told)
	t, own := p.lines(y, x.curve, known.SymmetricDim())
	var spread, all mat.Dense
	_ = c.SolveTo(&spread, t.T())
	all.Mul(t, &spread)
	n, _ := t.Dims()
	mean, cov = make([]float64, n), mat.NewSymDense(n, nil)
	for i := range n {
		mean[i] = mat.Dot(t.RowView(i), &at)
		for j := range i + 1 {
			cov.SetSym(i, j, (all.At(i, j)+all.At(j, i))/2)
		}
		cov.SetSym(i, i, cov.At(i, i)+own[i])
	}
	return mean, cov
}

// fresh is Normal at a site without studies.
func (p *Place) fresh(part int) (mean []float64, cov *mat.SymDense) {
	n, at := len(p.s.lines), p.s.SD(part)
	size := n + 1 + len(p.practices)
	mean, cov = make([]float64, size), mat.NewSymDense(size, nil)
	rows := mat.NewDense(n, p.s.Width(), nil)
	for i := range n {
		own, row := p.s.Normal(part, i)
		mean[i] = own
		rows.SetRow(i, row)
		for j := range i + 1 {
			cov.SetSym(i, j, mat.Dot(rows.RowView(i), rows.RowView(j)))
		}
	}
	cov.SetSym(n, n, square(at[SiteSD]))
	for k := range p.practices {
		cov.SetSym(n+1+k, n+1+k, square(at[PracticeSD])/2)
	}
	return mean, cov
}

// system is the mixed-model equations at a point and curve, the seasons taken out (Henderson 1975, Biometrics 31:423):
// the precision of w and u of the site, each in its own standard deviations, of the fixed columns and of δ, and what
// they are multiplied by with their means.
func (p *Place) system(y *point, curve int) (*mat.SymDense, *mat.VecDense) {
	f := p.s.p.f
	m, l, x, w := f.m, &y.from.look[p.s.p.look], &p.site, &p.work
	det := one()
	w.whole.set(y.from.sums[y.index/len(l.toward)/y.from.grid[SeasonSD].n])
	m.add([]spot{{to: &w.whole, at: y.at}}, p.index, y.from.c, -1, &w.workspace)
	clear(w.site[:x.wide*x.wide])
	last := len(x.places) - 1
	for i := range x.places {
		x.collect(i, y.at, y.from.c, &det, &w.workspace)
		if i < last || x.places[i].trial {
			x.takePractices(i, y.at, y.from.c, &det, &w.workspace)
		}
	}
	own := p.own()
	n := m.columns + own + 1
	s := make([]float64, n*n)
	at := func(c int) int { // where a column of the whole stands: w and u come after the seasons
		if c < m.seasons {
			return c
		}
		return c + own + 1
	}
	for i := range m.columns {
		for j := i; j < m.columns; j++ {
			s[at(i)*n+at(j)] = w.whole.s[i*m.columns+j]
		}
	}
	place := func(c int) int { // the same of a column of the site
		if c <= x.own {
			return m.seasons + c - x.own + own
		}
		return at(x.at[c-x.own-1])
	}
	for i := x.own - own; i < x.wide; i++ {
		for j := i; j < x.wide; j++ {
			a, b := place(i), place(j)
			s[min(a, b)*n+max(a, b)] += w.site[i*x.wide+j]
		}
	}
	for k := range m.seasons {
		eliminate(s, n, k, square(y.at[SeasonSD]))
	}
	left := n - m.seasons
	all := mat.NewSymDense(left, nil)
	for i := range left {
		for j := i; j < left; j++ {
			all.SetSym(i, j, s[(m.seasons+i)*n+m.seasons+j])
		}
	}
	fixed := own + 1 + m.fixed
	scale := mat.NewDense(left, fixed+m.drops, nil)
	for i := range fixed {
		scale.Set(i, i, p.scale(y.at, i))
	}
	for a, arm := range m.ages {
		scale.Set(fixed+a, fixed+arm.Drop-1, f.bends[curve*len(m.ages)+a])
	}
	var half, whole mat.Dense
	half.Mul(all, scale)
	whole.Mul(scale.T(), &half)
	known, told := mat.NewSymDense(fixed+m.drops, nil), mat.NewVecDense(fixed+m.drops, nil)
	told.MulVec(scale.T(), mat.NewVecDense(left, mat.Col(nil, left-1, all)))
	q := l.toward[y.index%len(l.toward)].q
	for i := range fixed + m.drops {
		for j := i; j < fixed+m.drops; j++ {
			known.SetSym(i, j, (whole.At(i, j)+whole.At(j, i))/2)
		}
		switch e := i - own - 1; {
		case e < 0:
			known.SetSym(i, i, known.At(i, i)+1)
		case i >= fixed:
			known.SetSym(i, i, known.At(i, i)+1/square(l.delta))
		case q != nil:
			for j := e; j < m.fixed; j++ {
				known.SetSym(i, own+1+j, known.At(i, own+1+j)+q[e*m.fixed+j])
			}
		}
	}
	return known, told
}

// own is how many practices of the site itself have been studied.
func (p *Place) own() int {
	if last := p.site.places[len(p.site.places)-1]; !last.trial {
		return last.shared
	}
	return 0
}

// scale is what a column of system is counted in.
func (p *Place) scale(at SD, i int) float64 {
	switch own := p.own(); {
	case i < own:
		return at[PracticeSD] / math.Sqrt2
	case i == own:
		return at[SiteSD]
	}
	return 1
}

// lines is the rows of what is asked over the columns of system, and the variance that each has besides.
func (p *Place) lines(y *point, curve, width int) (*mat.Dense, []float64) {
	s, own, n := p.s, p.own(), len(p.s.lines)
	t := mat.NewDense(n+1+len(p.practices), width, nil)
	besides := make([]float64, n+1+len(p.practices))
	for i, l := range s.lines {
		for j, c := range l.Fixed {
			t.Set(i, own+1+j, c)
		}
		for j, b := range l.Drops {
			k := own + s.p.f.m.fixed + b.Drop
			t.Set(i, k, t.At(i, k)+s.bends[i][curve*len(l.Drops)+j])
		}
	}
	t.Set(n, own, y.at[SiteSD])
	for k, c := range p.columns {
		if c >= 0 {
			t.Set(n+1+k, c, p.scale(y.at, c))
		} else {
			besides[n+1+k] = square(y.at[PracticeSD]) / 2
		}
	}
	return t, besides
}
