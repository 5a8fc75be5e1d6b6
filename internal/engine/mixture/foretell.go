package mixture

import (
	"math"
	"slices"
)

// Foretold is what the other studies say of a row of a study, with its sampling error, as if it did not stand apart.
type Foretold struct {
	Near    Marginal // at its site and in its season
	Far     Marginal // where it is not known where and when it was made
	Effects float64  // by the effects alone
}

// Foretell is what all other studies say of each row of one of contrasts, effects flat. Components, the box and the
// situations are those of the whole, as for Without. The error is ErrUntold.
func (a *Answer) Foretell(study int) ([]Foretold, error) {
	m, out := a.f.m, a.f.gone()
	known := !out[study]
	out[study] = true
	if !m.told(out) {
		return nil, ErrUntold
	}
	others := a.Studies.thinner()
	if known {
		var err error
		if others, err = others.without(out, []int{m.site[study]}); err != nil {
			return nil, err
		}
	}
	out[study] = false
	room := others.copy()
	var list []Foretold
	for i := range m.study(study).rows() {
		f := others.far(study, i)
		f.Near = others.near(study, i, out, room)
		list = append(list, f)
	}
	return list, nil
}

// far reads from a row's columns what it is a combination of, and how it differs besides.
func (p *Posterior) far(study, row int) Foretold {
	m, b := p.f.m, p.f.m.study(study)
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
	})}
}

// near is what a posterior without a study says of a row of it. In a part the row is normal, and the logarithm of its
// density is a parabola in what the row may be, which three values give: with l₋, l₀ and l₊ at −1, 0 and 1,
//
//	1/variance = 2l₀ − l₊ − l₋,  mean = variance (l₊ − l₋)/2
func (p *Posterior) near(study, row int, out []bool, room *Posterior) Marginal {
	m := p.f.m
	var logs [3][]float64
	for k := range logs {
		probe := *m
		probe.sites = slices.Clone(m.sites)
		probe.sites[m.site[study]] = m.sites[m.site[study]].only(study, row, float64(k-1))
		room.read(func(to *sum, x *weights, outer int, at SD, w *worker) {
			c := x.c
			c.out, c.wild = out, slices.Clone(x.c.wild)
			if u := m.unit[study]; c.wild != nil && m.alone(study) {
				c.wild[u] = false
			}
			copySum(to.s, x.sums[outer])
			to.log = x.sums[outer].log
			m.add(to, m.site[study], at, x.c, -1, &w.workspace)
			probe.add(to, m.site[study], at, c, 1, &w.workspace)
		})
		logs[k] = room.logs()
	}
	told := make(Marginal, len(p.parts))
	for i, x := range p.parts {
		v := 1 / (2*logs[1][i] - logs[2][i] - logs[0][i])
		told[i] = Normal{Weight: x.weight, Mean: v * (logs[2][i] - logs[0][i]) / 2, SD: math.Sqrt(v)}
	}
	return told.merged()
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

// only is a site of whose study one row alone is left, at some value.
func (x site) only(index, row int, y float64) site {
	x.places = slices.Clone(x.places)
	for i := range x.places {
		p := &x.places[i]
		p.studies = slices.Clone(p.studies)
		for j := range p.studies {
			b := &p.studies[j]
			if b.index != index {
				continue
			}
			wide, arms, n := len(b.at), len(b.arms), b.rows()
			b.data = slices.Clone(b.data[row*wide : (row+1)*wide])
			b.data[wide-1] = y
			b.loads = b.loads[row*arms : (row+1)*arms]
			b.v = []float64{b.v[row*n+row]}
		}
	}
	return x
}
