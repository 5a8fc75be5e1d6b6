package mixture

import (
	"math"
	"sync"
)

// Posterior is a mixture of normals: what the studies leave known of effects, moderators and of what new drops gain.
type Posterior struct {
	f      *fit
	look   int
	points []point
	parts  []part
	means  func() means // worked out when first asked for
}

func newPosterior(f *fit, look int, points []point) *Posterior {
	p := &Posterior{f: f, look: look, points: points}
	p.means = sync.OnceValue(p.newMeans)
	return p
}

// point is one choice of the standard deviations in one situation. Given δ, what new drops gain, the fixed columns are
//
//	β = mean − Σ_a age_a f(a) δ + root·z,  z standard normal
type point struct {
	at    SD
	from  *weights // of its situation
	index int      // among its points: outer, season and ω
	cells [sds]int
	mean  []float64 // fixed
	root  []float64 // fixed × fixed, upper triangle
	age   []float64 // fixed × ages
}

// part is a point with one curve of ageing: δ = delta + spread·z.
type part struct {
	weight float64
	log    float64 // of the likelihood, but for the prior
	point  int
	curve  int
	delta  []float64 // drops
	spread []float64 // drops × drops, upper triangle
}

// pivots reads a matrix whose first k columns were taken out: S = U'DU there, and column c holds what was on the right.
type pivots struct {
	s    []float64
	n, k int
}

// solve is S⁻¹ times column c, by back substitution, every stride numbers.
func (p pivots) solve(c int, to []float64, stride int) {
	for i := p.k - 1; i >= 0; i-- {
		x := p.s[i*p.n+c]
		for j := i + 1; j < p.k; j++ {
			x -= p.s[i*p.n+j] * to[j*stride]
		}
		to[i*stride] = x / p.s[i*p.n+i]
	}
}

// root is the upper triangle C with CC' = S⁻¹: U⁻¹D^(−1/2), column by column.
func (p pivots) root(to []float64) {
	for c := range p.k {
		to[c*p.k+c] = 1 / math.Sqrt(p.s[c*p.n+c])
		for i := c - 1; i >= 0; i-- {
			x := 0.0
			for j := i + 1; j <= c; j++ {
				x -= p.s[i*p.n+j] * to[j*p.k+c]
			}
			to[i*p.k+c] = x / p.s[i*p.n+i]
		}
	}
}

// Components that weigh less than a part in so many of the whole are thinned: of their sum, in the order of the grid,
// each such part is given to the component on which it falls. So whatever there is to look at, there are about as many
// parts.
const mostParts = 8192

// unheard is the weight below which a component is not even thinned.
const unheard = 1.4e-11

// thinned is what is left of components by thinning.
type thinned struct{ unit, over float64 }

// of is the weight that a component of some weight gets.
func (t *thinned) of(w float64) float64 {
	if w >= t.unit {
		return w
	}
	if t.over += w; t.over < t.unit {
		return 0
	}
	t.over -= t.unit
	return t.unit
}

// posterior is the mixture over some situations, each with the logarithm of its part of the whole.
func (f *fit) posterior(k int, situations []*weights, logs []float64) *Posterior {
	p := newPosterior(f, k, nil)
	thin := thinned{unit: 1. / mostParts, over: .5 / mostParts}
	for i, x := range situations {
		l := &x.look[k]
		norm := logs[i] - l.whole
		from := len(p.points)
		cell := 0.0
		for j, part := range l.parts {
			at := j / l.curves
			if j%l.curves == 0 {
				cell = math.Exp(l.cells[at] + norm)
			}
			if cell*part < unheard {
				continue
			}
			weight := thin.of(cell * part)
			if weight == 0 {
				continue
			}
			if n := len(p.points); n == from || p.points[n-1].index != at {
				y := f.m.newPoint()
				y.from, y.index, y.cells = x, at, x.grid.cells(at/len(l.toward), at%len(l.toward))
				if y.at = x.at(y.cells); k == flat {
					y.at[ShrinkSD] = 0
				}
				p.points = append(p.points, y)
			}
			y := f.m.newPart()
			y.weight, y.point, y.curve = weight, len(p.points)-1, j%l.curves
			p.parts = append(p.parts, y)
		}
	}
	p.read(func(to *sum, x *weights, outer int, _ SD, _ *worker) { to.set(x.sums[outer]) })
	return p
}

// read works out the normals of all points and parts, and the logarithms of the parts' likelihoods up to what is the
// same whatever the studies; add gives the sum of the sites.
func (p *Posterior) read(add func(to *sum, x *weights, outer int, at SD, w *worker)) {
	f := p.f
	var runs []int // first part of each situation, outer point and season
	for i, x := range p.parts {
		if i == 0 || !p.points[x.point].near(&p.points[p.parts[i-1].point], p.look) {
			runs = append(runs, i)
		}
	}
	runs = append(runs, len(p.parts))
	f.busy.Lock()
	defer f.busy.Unlock()
	share(f.crew, len(runs)-1, func(w *worker, k int) {
		var last *point
		seasons, effects := 0.0, 0.0
		for i := runs[k]; i < runs[k+1]; i++ {
			y := &p.parts[i]
			at := &p.points[y.point]
			l := &at.from.look[p.look]
			if last == nil {
				add(&w.whole, at.from, at.index/len(l.toward)/at.from.grid[SeasonSD].n, at.at, w)
				seasons = f.takeSeasons(w.whole, at.at[SeasonSD], w)
			}
			if at != last {
				effects = f.takeEffects(l.toward[at.index%len(l.toward)].q, w)
				at.read(f.m, w)
				last = at
			}
			det, yy := f.takeDrops(y.curve, l.delta, w)
			y.log = -(seasons + effects + det + yy) / 2
			y.read(f.m, w)
		}
	})
}

// near is true of points of one situation that differ in ω alone.
func (x *point) near(y *point, k int) bool {
	omegas := len(x.from.look[k].toward)
	return x.from == y.from && x.index/omegas == y.index/omegas
}

func (m *model) newPoint() point {
	a, n := len(m.ages), m.fixed
	s := make([]float64, n*(1+n+a))
	return point{mean: s[:n], root: s[n : n+n*n], age: s[n+n*n:]}
}

func (m *model) newPart() part {
	s := make([]float64, m.drops*(1+m.drops))
	return part{delta: s[:m.drops], spread: s[m.drops:]}
}

// read takes a point's normal from the effects taken out.
func (x *point) read(m *model, w *worker) {
	n := m.width()
	read := pivots{w.last, n, m.fixed}
	read.solve(n-1, x.mean, 1)
	read.root(x.root)
	for a := range m.ages {
		read.solve(m.fixed+a, x.age[a:], len(m.ages))
	}
}

// read takes a part's δ from the drops taken out.
func (x *part) read(m *model, w *worker) {
	read := pivots{w.drops, m.drops + 1, m.drops}
	read.solve(m.drops, x.delta, 1)
	read.root(x.spread)
}
