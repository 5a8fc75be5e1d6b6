package worth

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/pool"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// set is the components that stand for what is known, seen with one site, or with new ones.
type set struct {
	parts []part
	below []float64 // weight of a component and those before it
}

// part is a component as a question sees it: the logarithms of yields (of the treatments needed, then of unsanitized)
// and what an arm of each treatment would show there, its gain with u and w of the site, are jointly normal.
type part struct {
	log    float64   // of its weight
	yields []float64 // means of the yields
	vary   []float64 // their covariance, row by row
	arms   []float64 // means of the arms
	gains  []float64 // covariance of the arms by what is known of gains
	place  []float64 // by u and w, and by how they go with the gains
	cross  []float64 // of yields with arms

	study, site, season, practice float64 // variances of what is new
}

// newSet makes components ready.
func (q *Question) newSet(list []pool.Component) *set {
	n, rows := len(q.mean), len(q.needed)+1
	slopes := make([][]float64, rows)
	for i := range rows {
		slopes[i] = q.slope(q.yieldOf(i))
	}
	s := new(set)
	sum := 0.0
	for _, c := range list {
		sum += c.Weight
		s.below = append(s.below, sum)
		p := part{log: math.Log(c.Weight), yields: make([]float64, rows), vary: make([]float64, rows*rows),
			arms: make([]float64, n), gains: make([]float64, n*n), place: make([]float64, n*n),
			cross: make([]float64, rows*n), study: c.Study, site: c.Site, season: c.Season, practice: c.Practice}
		along := make([]float64, n)
		for i := range rows {
			p.yields[i] = q.logYield(q.yieldOf(i), c.Mean[:n])
			clear(along)
			for j, x := range slopes[i] {
				if x != 0 {
					for k := range n {
						along[k] += x * c.Cov.At(j, k)
						p.cross[i*n+k] += x * (c.Cov.At(j, k) + q.sanitized(k)*c.Cov.At(j, n) + c.Cov.At(j, n+1+k))
					}
				}
			}
			for j := range rows {
				for k, x := range slopes[j] {
					p.vary[i*rows+j] += x * along[k]
				}
			}
		}
		for i := range n {
			u := q.sanitized(i)
			p.arms[i] = c.Mean[i] + u*c.Mean[n] + c.Mean[n+1+i]
			for j := range n {
				v := q.sanitized(j)
				p.gains[i*n+j] = c.Cov.At(i, j)
				p.place[i*n+j] = u*v*c.Cov.At(n, n) + c.Cov.At(n+1+i, n+1+j) +
					u*c.Cov.At(n, n+1+j) + v*c.Cov.At(n, n+1+i) +
					u*c.Cov.At(n, j) + v*c.Cov.At(n, i) + c.Cov.At(n+1+i, j) + c.Cov.At(n+1+j, i)
			}
		}
		s.parts = append(s.parts, p)
	}
	return s
}

// roots are, by component, the root of the covariance of the yields.
func (s *set) roots() [][]float64 {
	var list [][]float64
	for _, p := range s.parts {
		r := slices.Clone(p.vary)
		factor(r, len(p.yields))
		list = append(list, r)
	}
	return list
}

// yieldOf is the treatment that a row of yields is of; −1: unsanitized.
func (q *Question) yieldOf(row int) int {
	if row == len(q.needed) {
		return -1
	}
	return q.needed[row]
}

// sanitized is 1 for every treatment but unsanitized, which has neither u nor v.
func (q *Question) sanitized(treatment int) float64 {
	if q.m.Gains.Treatments[treatment].Practice == practice.Unsanitized {
		return 0
	}
	return 1
}

// at is the component that a standard normal number falls on.
func (s *set) at(z float64) int {
	if len(s.parts) == 1 {
		return 0
	}
	u := distuv.UnitNormal.CDF(z) * s.below[len(s.below)-1]
	return min(sort.SearchFloat64s(s.below, u), len(s.below)-1)
}

// set is what is known, seen with a site, as so many components.
func (q *Question) set(site string, n int) *set {
	key := seen{site, n}
	q.kept.mutex.Lock()
	defer q.kept.mutex.Unlock()
	s, ok := q.kept.sets[key]
	if !ok {
		list := q.m.Gains.Components(site, max(n, few))
		if n == around {
			list = []pool.Component{matched(list)}
		}
		s = q.newSet(list)
		q.kept.sets[key] = s
	}
	return s
}

// The strata in which the readings of several sites and seasons tell how large variances are, besides what their means
// tell of gains: of sites, of seasons, and of both together.
const strata = 3

// lesson is what a trial would show and teach.
type lesson struct {
	rows  int // contrasts of its arms
	parts []update
	// In each stratum degrees of freedom: of the contrast of sanitized arms with unsanitized, and of all others.
	df [strata][2]int
}

// update is what it would teach if a component were true. Its means y ~ N(mean, RR'); e = R⁻¹(y − mean) moves the
// logarithms of the yields by slope·e, and what is left of their variance raises what is expected of them.
type update struct {
	log    float64 // of its weight, less all that does not hang on what is found
	mean   []float64
	root   []float64          // R, rows × rows
	yields []float64          // expected logarithms of the yields; of each view in turn
	slope  []float64          // rows × yields
	spread [strata][2]float64 // variances in the strata
}

// contrasts are orthonormal contrasts of arms, row by row. Where some arms are sanitized and others not the first is
// between these, and lies along their indicator z: squared is the square of what z adds to it.
func (q *Question) contrasts(arms []int) (h []float64, squared float64) {
	n := len(arms)
	var basis [][]float64
	add := func(x []float64) {
		mean := 0.0
		for _, v := range x {
			mean += v / float64(n)
		}
		for i := range x {
			x[i] -= mean
		}
		for _, b := range basis {
			along := 0.0
			for i, v := range b {
				along += v * x[i]
			}
			for i, v := range b {
				x[i] -= along * v
			}
		}
		length := 0.0
		for _, v := range x {
			length += v * v
		}
		if length > 1e-9 {
			for i := range x {
				x[i] /= math.Sqrt(length)
			}
			basis = append(basis, x)
		}
	}
	z := make([]float64, n)
	for i, t := range arms {
		z[i] = q.sanitized(t)
	}
	add(slices.Clone(z))
	if len(basis) > 0 {
		along := 0.0
		for i, v := range basis[0] {
			along += v * z[i]
		}
		squared = along * along
	}
	for i := range n {
		x := make([]float64, n)
		x[i] = 1
		if len(basis) < n-1 {
			add(x)
		}
	}
	return slices.Concat(basis...), squared
}

// armsOf is the treatments of a trial by number.
func (q *Question) armsOf(t Trial) (arms []int, faults note.Faults) {
	for _, x := range t.Treatments {
		k, ok := q.at[x]
		if !ok {
			faults.Add("the studies say nothing yet of %s, so that nothing can be said of a "+
				"trial of it", note.Term(x.Practice))
		}
		arms = append(arms, k)
	}
	return arms, faults
}

// size is the sites and seasons of a trial.
func (t Trial) size() (sites, seasons float64) {
	if t.Site != "" {
		return 1, float64(t.Seasons)
	}
	return float64(max(1, t.Sites)), float64(t.Seasons)
}

// learns is what a trial would teach. An arm of a site and season shows
//
//	α + gain + z(u + v) + w + e,  Var(e) = sampling + τ²/2
//
// where u and w of new sites are shared by their seasons, and v by the sites of a season. Of arms of one practice the
// strata take each w to be its own. views is how many looks each component gets at margins that are no straight line of
// yields; 0: they are.
func (q *Question) learns(t Trial, arms []int, s *set, views int) *lesson {
	n, ny, r := len(q.mean), len(q.needed)+1, len(arms)-1
	sites, seasons := t.size()
	h, squared := q.contrasts(arms)
	l := &lesson{rows: r, parts: make([]update, len(s.parts))}
	for i, d := range []float64{sites - 1, seasons - 1, (sites - 1) * (seasons - 1)} {
		l.df[i] = [2]int{0, int(d) * r}
		if squared > 0 {
			l.df[i] = [2]int{int(d), int(d) * (r - 1)}
		}
	}
	sampling := math.Log1p(t.CV*t.CV) / float64(t.Blocks*t.Units)
	looks := max(1, views)
	store := make([]float64, len(s.parts)*(r+r*r+looks*ny+ny*r))
	take := func(n int) []float64 {
		x := store[:n:n]
		store = store[n:]
		return x
	}
	wide := make([]float64, (r+ny)*len(arms)) // Cov(arms, arms)H', then Cov(yields, arms)H', to be
	for k := range s.parts {
		p, u := &s.parts[k], &l.parts[k]
		u.mean, u.root, u.yields, u.slope = take(r), take(r*r), take(looks*ny), take(ny*r)
		e := sampling + p.study/2
		ours := [strata + 1][2]float64{ // of z and of each arm
			{p.site, p.practice/2 + e/seasons}, {p.season, e / sites}, {0, e},
			{p.season / seasons, e / (sites * seasons)},
		}
		u.log = p.log
		for i, x := range ours {
			axes := [2]float64{squared*x[0] + x[1], x[1]}
			if i == strata {
				for c := range r {
					u.root[c*r+c] = axes[1]
				}
				if squared > 0 {
					u.root[0] = axes[0]
				}
				break
			}
			u.spread[i] = axes
			for c, d := range l.df[i] {
				if d > 0 {
					u.log -= float64(d) * math.Log(axes[c]) / 2
				}
			}
		}
		for c := range r {
			for i := range arms {
				sum := 0.0
				for j, b := range arms {
					at := arms[i]*n + b
					sum += h[c*len(arms)+j] * (p.gains[at] + p.place[at]/sites)
				}
				wide[c*len(arms)+i] = sum
			}
			for j, b := range arms {
				u.mean[c] += h[c*len(arms)+j] * p.arms[b]
			}
		}
		for c := range r {
			for d := range c + 1 {
				for j := range arms {
					u.root[c*r+d] += h[c*len(arms)+j] * wide[d*len(arms)+j]
				}
			}
		}
		factor(u.root, r)
		for c := range r {
			u.log -= math.Log(u.root[c*r+c])
		}
		for i := range ny {
			for c := range r {
				b := 0.0
				for j, a := range arms {
					b += h[c*len(arms)+j] * p.cross[i*n+a]
				}
				for d := range c {
					b -= u.root[c*r+d] * u.slope[d*ny+i]
				}
				u.slope[c*ny+i] = b / u.root[c*r+c]
			}
		}
		q.look(p, u, k, r, views)
	}
	return l
}

// factor turns the lower triangle of a symmetric matrix into its root R, RR' = A, in place; it may be singular.
func factor(a []float64, n int) {
	for j := range n {
		whole := a[j*n+j]
		for k := range j {
			a[j*n+j] -= a[j*n+k] * a[j*n+k]
		}
		if !(a[j*n+j] > 1e-12*whole) {
			for i := j; i < n; i++ {
				a[i*n+j] = 0
			}
			continue
		}
		a[j*n+j] = math.Sqrt(a[j*n+j])
		for i := j + 1; i < n; i++ {
			for k := range j {
				a[i*n+j] -= a[i*n+k] * a[j*n+k]
			}
			a[i*n+j] /= a[j*n+j]
		}
	}
}

// look fills in what is expected of the yields by what is left unknown of them: raised by half its variance where
// margins are straight lines of yields, else at views of it, in opposite pairs, the same whatever is found.
func (q *Question) look(p *part, u *update, k, r, views int) {
	ny := len(p.yields)
	left := func(i, j int) float64 {
		v := p.vary[i*ny+j]
		for c := range r {
			v -= u.slope[c*ny+i] * u.slope[c*ny+j]
		}
		return v
	}
	if views == 0 {
		for i, x := range p.yields {
			u.yields[i] = x + left(i, i)/2
		}
		return
	}
	root := make([]float64, ny*ny)
	for i := range ny {
		for j := range i + 1 {
			root[i*ny+j] = left(i, j)
		}
	}
	factor(root, ny)
	z := normals(ny, 2*many)[0]
	for v := range views {
		sign := 1 - 2*float64(v%2)
		row := z.RawRowView((k*(views/2) + v/2) % many) // the first half; the other is its mirror image
		for i, x := range p.yields {
			for c := range i + 1 {
				x += sign * root[i*ny+c] * row[c]
			}
			u.yields[v*ny+i] = x
		}
	}
}
