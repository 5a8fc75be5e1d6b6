package sure

import (
	"math"
)

// Part is what one group of assumptions has in the variance of a net: First alone, Total with all its interactions.
type Part struct {
	Group                  string
	First, Total           float64
	FirstError, TotalError float64 // standard errors of the simulation
}

// parts is how many times anew a variance share or a worth is worked out: their mean is told, and their spread is its
// error.
const parts = 8

// spreadOf is the mean of what was worked out anew so many times, with its standard error.
func spreadOf(x []float64) (centre, err float64) {
	centre = mean(x)
	for _, v := range x {
		err += (v - centre) * (v - centre)
	}
	n := float64(len(x))
	return centre, math.Sqrt(err / (n * (n - 1)))
}

// Sobol gives the variance shares of margin(option) − margin(against), by group, from n draws: first order after
// Saltelli et al. 2010 (Computer Physics Communications 181:259), total after Jansen 1999 (the same 117:35).
func (m *Model) Sobol(option, against, n int, seed uint64) ([]Part, error) {
	p, faults := m.prepare()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	first, total := matrix(len(p.groups), parts), matrix(len(p.groups), parts)
	p.share(parts, 1, func(c *clerk, r, _ int) {
		a, b := p.worlds(n/parts, seed+uint64(2*r)), p.worlds(n/parts, seed+uint64(2*r+1))
		value := matrix(len(p.groups)+2, n/parts) // all a, all b, then a with one group of b
		v := p.viewer(c)
		for i := range a {
			for j := range value {
				v.mix(&a[i], &b[i], func(g int) bool { return j == 1 || j == g+2 })
				value[j][i] = v.net(option, against)
			}
		}
		one, all := indices(value)
		for g := range one {
			first[g][r], total[g][r] = one[g], all[g]
		}
	})
	list := make([]Part, len(p.groups))
	for g, name := range p.groups {
		list[g].Group = name
		list[g].First, list[g].FirstError = spreadOf(first[g])
		list[g].Total, list[g].TotalError = spreadOf(total[g])
	}
	return list, nil
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
	v.longRun(g.member, v.s.logsAt(g.member, g.z, v.s.out), v.gains)
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

func (v *viewer) net(option, against int) float64 {
	return v.margin(option, v.y0, v.gains) - v.margin(against, v.y0, v.gains)
}

// Known is what it would be worth to know a group of assumptions, or the first-season gain of one treatment, before
// choosing: money a tap and season.
type Known struct {
	Group     string // "" for one treatment
	Treatment int    // −1 for a group
	EVPPI     float64
	Error     float64 // standard error of the simulation
}

// Know gives the expected value of perfect information on every group, and on the gain of each treatment asked: the
// mean over outer draws of the group of the best conditional mean, less the best mean. The conditional means are over
// one and the same inner draws of all the rest, so that the choice that is best without knowing is so in the same
// sample.
func (m *Model) Know(treatments []int, outer, inner int, seed uint64) ([]Known, error) {
	p, faults := m.prepare()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	list := make([]Known, 0, len(p.groups)+len(treatments))
	for _, name := range p.groups {
		list = append(list, Known{Group: name, Treatment: -1})
	}
	for _, t := range treatments {
		list = append(list, Known{Treatment: t})
	}
	worths := matrix(len(list), parts)
	p.share(parts, 1, func(c *clerk, r, _ int) {
		a, b := p.worlds(outer/parts, seed+uint64(2*r)), p.worlds(inner/parts, seed+uint64(2*r+1))
		v := p.viewer(c)
		for k := range list {
			set := func(i, j int) { v.mix(&b[j], &a[i], func(x int) bool { return x == k }) }
			if t := list[k].Treatment; t >= 0 {
				set = func(i, j int) { v.knowing(t, &a[i], &b[j]) }
			}
			worths[k][r] = v.worth(len(a), len(b), set)
		}
	})
	for k := range list {
		list[k].EVPPI, list[k].Error = spreadOf(worths[k])
	}
	return list, nil
}

// knowing takes the gain of treatment t from a, all else from b: the gain hangs on one direction of z, and the rest of
// z stays as b has it.
func (v *viewer) knowing(t int, a, b *world) {
	row := v.Gains.Members[b.member].Root.RawRowView(t)
	norm, inside := 0.0, 0.0
	for q, c := range row {
		norm += c * c
		inside += c * b.z[q]
	}
	norm = math.Sqrt(norm)
	z := append(v.s.z[:0], b.z...)
	if norm > 0 {
		for q, c := range row {
			z[q] += c / norm * (a.z[0] - inside/norm)
		}
	}
	v.longRun(b.member, v.s.logsAt(b.member, z, v.s.out), v.gains)
	copy(v.values, b.values)
	v.reprice()
	v.y0 = v.unsanitized(v.gains)
}

// worth is the mean over outer states of the best mean over inner ones, less the best mean over all.
func (v *viewer) worth(outer, inner int, set func(i, j int)) float64 {
	rows := matrix(outer, len(v.Options))
	for j := range inner { // one inner draw after another, since most of what is known leaves its prices as they are
		for i, row := range rows {
			set(i, j)
			for k, o := range v.Options {
				if o.Open {
					row[k] += v.margin(k, v.y0, v.gains)
				}
			}
		}
	}
	sum, most := make([]float64, len(v.Options)), 0.0
	for _, row := range rows {
		best, _ := v.best2(row)
		most += row[best]
		for k, x := range row {
			sum[k] += x
		}
	}
	now, _ := v.best2(sum)
	return (most - sum[now]) / float64(outer*inner)
}
