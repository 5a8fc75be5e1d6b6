package mixture

import "slices"

// Foretold is what the other studies say of a row of a study, with its sampling error, as if it did not stand apart.
type Foretold struct {
	Near    Marginal // at its site and in its season
	Far     Marginal // where it is not known where and when it was made
	Effects float64  // by the effects alone
}

// Foretell is what all other studies say of each row of one of contrasts, effects flat. Components, the box and the
// situations are those of the whole, as for Without. The error is ErrUntold.
//
// Each row of the study gets a fixed column of its own, so that it says nothing of anything else, and what the others
// leave between it and that column is what they foretell of it: ŷ = y − γ, with γ's variance (the mean-shift model;
// Cook & Weisberg 1982, Residuals and Influence in Regression).
func (a *Answer) Foretell(study int) ([]Foretold, error) {
	m, out := a.f.m, a.f.gone()
	out[study] = true
	if !m.told(out) {
		return nil, ErrUntold
	}
	out[study] = false
	wide := m.shifted(study)
	f := &fit{m: wide, prior: a.f.prior, curves: a.f.curves, bends: a.f.bends}
	for range a.f.crew {
		f.crew = append(f.crew, f.newWorker())
	}
	thin := a.Studies.thinner()
	from := newPosterior(f, flat, thin.points)
	from.parts = thin.parts
	others, err := from.weighed(func(to *sum, x *weights, outer int, at SD, w *worker) {
		c := x.c
		c.out, c.wild = out, slices.Clone(x.c.wild)
		if u := m.unit[study]; c.wild != nil && m.alone(study) {
			c.wild[u] = false
		}
		m.spread(to, x.sums[outer], wide)
		run := []spot{{to: to, at: at}}
		wide.add(run, bare, x.c, -1, &w.workspace)
		wide.add(run, shifted, c, 1, &w.workspace)
	})
	if err != nil {
		return nil, err
	}
	b := m.study(study)
	var list []Foretold
	for i := range b.rows() {
		x := others.far(m, study, i)
		own := Line{Fixed: make([]float64, wide.fixed)}
		own.Fixed[m.fixed+i] = -1
		x.Near = others.Of(own)
		for k := range x.Near {
			x.Near[k].Mean += b.data[(i+1)*len(b.at)-1]
		}
		list = append(list, x)
	}
	return list, nil
}

// The sites of a shifted model: that of the study as it is, and with a column for each of the study's rows.
const (
	bare = iota
	shifted
)

// shifted is the model with a fixed column for each row of a study, after the others, and of its sites that of the
// study.
func (m *model) shifted(study int) *model {
	k, first := m.study(study).rows(), m.seasons+m.fixed
	x, wide := m.sites[m.site[study]], *m
	wide.fixed, wide.columns = m.fixed+k, m.columns+k
	at, _ := slices.BinarySearch(x.at, first)
	from := x.own + 1 + at // where the columns come in the site
	plain := site{own: x.own, wide: x.wide + k, at: slices.Clone(x.at[:at])}
	for i := range k {
		plain.at = append(plain.at, first+i)
	}
	for _, c := range x.at[at:] {
		plain.at = append(plain.at, c+k)
	}
	own := plain
	for _, p := range x.places {
		p.studies = slices.Clone(p.studies)
		for i := range p.studies {
			b := &p.studies[i]
			b.at = slices.Clone(b.at)
			for j, c := range b.at {
				if c >= from {
					b.at[j] = c + k
				}
			}
		}
		q := p
		q.studies = slices.Clone(p.studies)
		for i := range q.studies {
			if b := &q.studies[i]; b.index == study {
				b.shift(from, k)
			}
		}
		plain.places, own.places = append(plain.places, p), append(own.places, q)
	}
	wide.sites, wide.widest = []site{bare: plain, shifted: own}, plain.wide
	return &wide
}

// shift gives each row a column of its own, from one of the site on.
func (b *study) shift(from, k int) {
	at, _ := slices.BinarySearch(b.at, from)
	wide := len(b.at)
	var data []float64
	for i := range k {
		row := b.data[i*wide : (i+1)*wide]
		ones := make([]float64, k)
		ones[i] = 1
		data = slices.Concat(data, row[:at], ones, row[at:])
	}
	columns := make([]int, k)
	for i := range columns {
		columns[i] = from + i
	}
	b.at, b.data = slices.Concat(b.at[:at], columns, b.at[at:]), data
}

// spread writes a sum at the columns of a shifted model.
func (m *model) spread(to *sum, from sum, wide *model) {
	clear(to.s)
	to.det = from.det
	first, k := m.seasons+m.fixed, wide.columns-m.columns
	for i := range m.columns {
		row := from.s[i*m.columns : (i+1)*m.columns]
		at := i
		if i >= first {
			at += k
		}
		copy(to.s[at*wide.columns:], row[:first])
		copy(to.s[at*wide.columns+first+k:], row[first:])
	}
}

// far reads from a row's columns what it is a combination of, and how it differs besides.
func (p *Posterior) far(m *model, study, row int) Foretold {
	b := m.study(study)
	x := m.sites[m.site[study]]
	l := Line{Fixed: make([]float64, m.fixed)}
	var part SD // of each variance
	for i, a := range b.arms {
		c := square(b.loads[row*len(b.arms)+i])
		part[StudySD] += c * a.share / 2
		if a.alone {
			part[PracticeSD] += c / 2
		}
	}
	for i, k := range b.at[:len(b.at)-1] {
		c := b.data[row*len(b.at)+i]
		switch {
		case k < x.own:
			part[PracticeSD] += c * c / 2
		case k == x.own:
			part[SiteSD] += c * c
		case x.at[k-x.own-1] < m.seasons:
			part[SeasonSD] += c * c
		case x.at[k-x.own-1] < m.seasons+m.fixed:
			l.Fixed[x.at[k-x.own-1]-m.seasons] = c
		default:
			age := m.ages[x.at[k-x.own-1]-m.seasons-m.fixed]
			l.Drops = append(l.Drops, Bend{Drop: age.Drop, Age: age.Age, C: c})
		}
	}
	return Foretold{Effects: p.Mean(l), Far: p.of(l, func(at SD) (float64, float64) {
		v := b.v[row*b.rows()+row]
		for k, c := range part {
			v += c * square(at[k])
		}
		return 0, v
	})[0]}
}

// alone is true of a study that is a unit of its own.
func (m *model) alone(study int) bool {
	for i, u := range m.unit {
		if i != study && u == m.unit[study] {
			return false
		}
	}
	return true
}

// study is the data of one study.
func (m *model) study(index int) *study {
	for _, p := range m.sites[m.site[index]].places {
		for i := range p.studies {
			if b := &p.studies[i]; b.index == index {
				return b
			}
		}
	}
	return nil
}

// rows is how many contrasts a study has.
func (b *study) rows() int {
	if b.v == nil {
		return 0
	}
	return len(b.data) / len(b.at)
}
