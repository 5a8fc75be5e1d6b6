package risk

import (
	"math"
)

// Part is what one group of assumptions has in the variance of a net: First alone, Total with all its interactions.
type Part struct {
	Group        string
	First, Total float64
}

// Sobol gives the variance shares of margin(option) − margin(against), by group, from n draws: first order after
// Saltelli et al. 2010 (Computer Physics Communications 181:259), total after Jansen 1999 (the same 117:35).
func (m *Model) Sobol(option, against, n int, seed uint64) ([]Part, error) {
	p, faults := m.prepare()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	a, b := p.worlds(n, seed), p.worlds(n, seed+1)
	value := make([][]float64, len(p.groups)+2) // all a, all b, then a with one group of b
	for j := range value {
		value[j] = make([]float64, n)
	}
	p.share(n, 256, func(c *clerk, from, to int) {
		v := p.viewer(c)
		for i := from; i < to; i++ {
			for j := range value {
				v.mix(&a[i], &b[i], func(g int) bool { return j == 1 || j == g+2 })
				value[j][i] = v.net(option, against)
			}
		}
	})
	first, total := indices(value)
	parts := make([]Part, len(p.groups))
	for g, name := range p.groups {
		parts[g] = Part{name, first[g], total[g]}
	}
	return parts, nil
}

// indices are the Sobol indices from f(A), f(B) and f(A with group g of B).
func indices(f [][]float64) (first, total []float64) {
	n := float64(len(f[0]))
	centre, variance := (mean(f[0])+mean(f[1]))/2, 0.0
	for i := range f[0] {
		variance += ((f[0][i]-centre)*(f[0][i]-centre) + (f[1][i]-centre)*(f[1][i]-centre)) / (2 * n)
	}
	for _, ab := range f[2:] {
		s, t := 0.0, 0.0
		for i, x := range ab {
			s += (f[1][i] - centre) * (x - f[0][i])
			t += (f[0][i] - x) * (f[0][i] - x)
		}
		if variance > 0 {
			s, t = s/n/variance, t/(2*n)/variance
		}
		first, total = append(first, s), append(total, t)
	}
	return first, total
}

// viewer works out margins of worlds mixed from two.
type viewer struct {
	*clerk
	s     *stream
	gains []float64
	y0    float64
}

func (p *prepared) viewer(c *clerk) *viewer {
	return &viewer{clerk: c, s: p.stream(0, 0), gains: make([]float64, len(p.Gains.Treatments))}
}

// mix takes from b the groups for which pick holds, the rest from a.
func (v *viewer) mix(a, b *world, pick func(group int) bool) {
	g := a
	if pick(0) {
		g = b
	}
	v.know(v.s.logsAt(g.member, g.z, v.s.out))
	for _, i := range v.unsure {
		if pick(v.group[i]) {
			v.values[i] = b.values[i]
		} else {
			v.values[i] = a.values[i]
		}
	}
	v.reprice()
	v.y0 = v.unsanitized(v.gains)
}

func (v *viewer) know(logs []float64) {
	for t, x := range logs {
		v.gains[t] = math.Exp(x+v.shift(t)) - 1
	}
}

func (v *viewer) net(option, against int) float64 {
	return v.margin(option, v.y0, v.gains) - v.margin(against, v.y0, v.gains)
}

// Known is what it would be worth to know a group of assumptions, or the first-season gain of one treatment, before
// choosing: money a tap and season.
type Known struct {
	Group     string // "" for one treatment
	Treatment int    // −1 for a group
	EVPPI     float64
	Error     float64 // standard error of the simulation over what is known
}

// Know gives the expected value of perfect information on every group, and on the gain of each treatment asked: the mean
// over outer draws of the group of the best conditional mean, less the best mean. The conditional means are over one and
// the same inner draws of all the rest, so that the choice that is best without knowing is so in the same sample.
func (m *Model) Know(treatments []int, outer, inner int, seed uint64) ([]Known, error) {
	p, faults := m.prepare()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	var list []Known
	a, b := p.worlds(outer, seed), p.worlds(inner, seed+1)
	for g, name := range p.groups {
		k := Known{Group: name, Treatment: -1}
		k.EVPPI, k.Error = p.known(outer, inner, func(v *viewer, i, j int) {
			v.mix(&b[j], &a[i], func(x int) bool { return x == g })
		})
		list = append(list, k)
	}
	for _, t := range treatments {
		k := Known{Treatment: t}
		k.EVPPI, k.Error = p.known(outer, inner, func(v *viewer, i, j int) {
			// The gain of t hangs on one direction of z; the rest of z stays as the inner draw has it.
			w := b[j]
			row := p.Gains.Members[w.member].Root.RawRowView(t)
			norm, inside, outside := 0.0, 0.0, a[i].z[0]
			for q, c := range row {
				norm += c * c
				inside += c * w.z[q]
			}
			norm = math.Sqrt(norm)
			z := append(v.s.z[:0], w.z...)
			if norm > 0 {
				for q, c := range row {
					z[q] += c / norm * (outside - inside/norm)
				}
			}
			v.know(v.s.logsAt(w.member, z, v.s.out))
			copy(v.values, w.values)
			v.reprice()
			v.y0 = v.unsanitized(v.gains)
		})
		list = append(list, k)
	}
	return list, nil
}

func (p *prepared) known(outer, inner int, set func(v *viewer, i, j int)) (evppi, err float64) {
	mean := matrix(outer, len(p.Options)) // conditional means by outer draw and option
	p.share(outer, 64, func(c *clerk, from, to int) {
		v := p.viewer(c)
		for j := range inner { // one inner draw after another, since most of what is known leaves its prices as they are
			for i := from; i < to; i++ {
				row := mean[i]
				set(v, i, j)
				for k, o := range p.Options {
					if o.Open {
						row[k] += v.margin(k, v.y0, v.gains) / float64(inner)
					}
				}
			}
		}
	})
	return p.gainOf(mean)
}

// gainOf is the mean of the best less the best mean over rows of one state each.
func (p *prepared) gainOf(rows [][]float64) (worth, err float64) {
	n := float64(len(rows))
	sum := make([]float64, len(p.Options))
	for _, r := range rows {
		for k, x := range r {
			sum[k] += x
		}
	}
	now, _ := p.best2(sum)
	s, ss := 0.0, 0.0
	for _, r := range rows {
		best, _ := p.best2(r)
		x := r[best] - r[now]
		s += x
		ss += x * x
	}
	return s / n, math.Sqrt(max(0, ss/n-s/n*s/n) / n)
}
