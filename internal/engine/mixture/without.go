package mixture

import (
	"math"
	"slices"
)

// fewParts is how many parts, about, are looked at again when studies are left out.
const fewParts = 2048

// Without is what is known with some studies left out, each told apart by its index. Components, the box and the
// situations are those of the whole, thinned; each is weighed anew by how likely the studies that are left are under
// it. The error is ErrUntold where an effect or a moderator is then in no study. It may be asked by goroutines at once.
func (a *Answer) Without(studies []int) (flat, shrunk *Posterior, err error) {
	m := a.f.m
	out := a.f.gone()
	var sites []int
	for _, i := range studies {
		out[i] = true
		if k := m.site[i]; !slices.Contains(sites, k) {
			sites = append(sites, k)
		}
	}
	if !m.told(out) {
		return nil, nil, ErrUntold
	}
	if flat, err = a.Studies.thinner().without(out, sites); err == nil {
		shrunk, err = a.Shrunk.thinner().without(out, sites)
	}
	return flat, shrunk, err
}

// gone is a list of its own of the studies left out from the start.
func (f *fit) gone() []bool {
	out := make([]bool, len(f.m.site))
	copy(out, f.out)
	return out
}

// thinner is the posterior with fewer parts; they are not to be changed.
func (p *Posterior) thinner() *Posterior {
	q := newPosterior(p.f, p.look, p.points)
	thin := thinned{unit: 1. / fewParts, over: .5 / fewParts}
	for _, x := range p.parts {
		if w := thin.of(x.weight); w > 0 {
			x.weight = w
			q.parts = append(q.parts, x)
		}
	}
	return q
}

// without is the posterior without some studies, which stand at some sites.
func (p *Posterior) without(out []bool, sites []int) (*Posterior, error) {
	return p.weighed(func(to *sum, x *weights, outer int, at SD, w *worker) {
		c := x.c
		c.out = out
		to.set(x.sums[outer])
		p.f.m.change([]spot{{to: to, at: at}}, x.c, c, sites, &w.workspace)
	})
}

// weighed is the posterior with other sums in the place of those of its sites.
func (p *Posterior) weighed(add func(to *sum, x *weights, outer int, at SD, w *worker)) (*Posterior, error) {
	q := p.copy()
	before := q.logs()
	q.read(add)
	logs := make([]float64, len(q.parts))
	for i, x := range q.parts {
		logs[i] = math.Log(x.weight) + x.log - before[i]
	}
	whole := logSum(logs)
	if math.IsNaN(whole) || math.IsInf(whole, 0) {
		return nil, ErrUntold
	}
	for i := range q.parts {
		q.parts[i].weight = math.Exp(logs[i] - whole)
	}
	return q, nil
}

// copy is the posterior with the same components, whose normals are to be read anew.
func (p *Posterior) copy() *Posterior {
	m, q := p.f.m, newPosterior(p.f, p.look, nil)
	for i, x := range p.parts {
		if i == 0 || x.point != p.parts[i-1].point {
			y := m.newPoint()
			z := p.points[x.point]
			y.from, y.cells, y.index, y.at = z.from, z.cells, z.index, z.at
			q.points = append(q.points, y)
		}
		y := m.newPart()
		y.weight, y.log, y.curve, y.point = x.weight, x.log, x.curve, len(q.points)-1
		q.parts = append(q.parts, y)
	}
	return q
}

// logs is the logarithms of the parts' likelihoods.
func (p *Posterior) logs() []float64 {
	logs := make([]float64, len(p.parts))
	for i, x := range p.parts {
		logs[i] = x.log
	}
	return logs
}
