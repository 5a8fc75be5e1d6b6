package mixture

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// fit is the work on one table.
type fit struct {
	m      *model
	prior  Prior
	curves []curve
	bends  []float64 // curves × ages: f(a)
	out    []bool    // by study: left out from the start; nil: none
	known  int       // units that are not
	quick  *fit      // the same with few curves, by which boxes are found; itself, where nothing ages
	crew   []*worker
	busy   sync.Mutex // the crew is, with what is asked of the answer
}

func newFit(t Table, p Prior, out []int) *fit {
	f := &fit{m: newModel(t), prior: p, curves: []curve{{prior: 1}}}
	in := map[int]bool{}
	if len(out) > 0 {
		f.out = make([]bool, len(t.Studies))
	}
	for _, i := range out {
		f.out[i] = true
	}
	for i, u := range f.m.unit {
		if f.out == nil || !f.out[i] {
			in[u] = true
		}
	}
	f.known = len(in)
	if t.Drops > 0 {
		f.along(newCurves(halfLives))
	}
	for range runtime.GOMAXPROCS(0) {
		f.crew = append(f.crew, f.newWorker())
	}
	f.quick = f
	if t.Drops > 0 {
		f.quick = &fit{m: f.m, prior: p, out: f.out, known: f.known, crew: f.crew}
		f.quick.along(newCurves(fewHalfLives))
	}
	return f
}

// along sets the curves.
func (f *fit) along(curves []curve) {
	f.curves = curves
	for _, c := range f.curves {
		for _, a := range f.m.ages {
			f.bends = append(f.bends, c.at(a.Age))
		}
	}
}

// worker is what one goroutine computes in, so that no loop allocates.
type worker struct {
	workspace
	whole   sum
	run     []spot    // points that are added up at once
	seasons []float64 // the whole while the seasons are taken out
	effects []float64 // over effects, moderators, ages and y
	last    []float64 // the same while the effects are taken out
	drops   []float64 // over drops and y
	ages    []float64 // over ages and y, row after row from the diagonal on
	curves  []float64 // of one point, and as many y'y
}

func (f *fit) newWorker() *worker {
	m := f.m
	n := m.width()
	return &worker{
		workspace: m.newWorkspace(),
		whole:     m.newSum(),
		seasons:   make([]float64, m.columns*m.columns),
		effects:   make([]float64, n*n),
		last:      make([]float64, n*n),
		drops:     make([]float64, (m.drops+1)*(m.drops+1)),
		ages:      make([]float64, (len(m.ages)+1)*(len(m.ages)+2)/2),
		curves:    make([]float64, 2*len(f.curves)),
	}
}

// share gives out n pieces of work to the crew. What each piece writes is its own, so that the answer does not depend
// on who does it.
func share(crew []*worker, n int, work func(w *worker, i int)) {
	if len(crew) == 1 {
		for i := range n {
			work(crew[0], i)
		}
		return
	}
	var next atomic.Int64
	var group sync.WaitGroup
	for _, w := range crew {
		group.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(w, i)
			}
		})
	}
	group.Wait()
}

// takeSeasons leaves what a sum says of effects, moderators, ages and y in w.effects, and returns the logarithm of the
// determinants so far.
func (f *fit) takeSeasons(from sum, season float64, w *worker) float64 {
	m := f.m
	copy(w.seasons, from.s)
	det := one()
	for k := range m.seasons {
		det.times(eliminate(w.seasons, m.columns, k, season*season))
	}
	n := m.width()
	for i := range n {
		copy(w.effects[i*n+i:(i+1)*n], w.seasons[(m.seasons+i)*m.columns+m.seasons+i:])
	}
	det.by(from.det, 1)
	return det.log()
}

// takeEffects takes effects and moderators out of w.effects, with a prior precision (nil: flat), leaves
// the pivots' rows and what remains of ages and y in w.last, and returns the logarithm of the determinant; +Inf where
// an effect is told by nothing.
func (f *fit) takeEffects(q []float64, w *worker) float64 {
	m := f.m
	n := m.width()
	copy(w.last, w.effects)
	if q != nil {
		for i := range m.fixed {
			for j := i; j < m.fixed; j++ {
				w.last[i*n+j] += q[i*m.fixed+j]
			}
		}
	}
	det := one()
	for k := range m.fixed {
		if !(w.last[k*n+k] > told*w.effects[k*n+k]) {
			return math.Inf(1)
		}
		det.times(eliminateFlat(w.last, n, k))
	}
	return det.log()
}

// told is the part of an effect's information that must be its own, not that of the effects before it.
const told = 1e-11

// takeDrops takes out what new drops gain by one curve, δ ~ N(0, delta²) each, leaves the pivots' rows in w.drops, and
// returns the logarithm of |S|·delta² and y'y less what δ tells:
//
//	S = F'RF + I/delta²
func (f *fit) takeDrops(curve int, delta float64, w *worker) (log, yy float64) {
	m := f.m
	n := m.width()
	if m.drops == 0 {
		return 0, w.last[n*n-1]
	}
	if m.drops == 1 {
		f.gatherAges(w)
		factor, yy := f.takeDrop(curve, delta, w)
		return math.Log(factor), yy
	}
	k := m.drops + 1
	s := w.drops
	clear(s)
	bend := f.bends[curve*len(m.ages):]
	for i, a := range m.ages {
		row := w.last[(m.fixed+i)*n:]
		for j := i; j < len(m.ages); j++ {
			x := bend[i] * bend[j] * row[m.fixed+j]
			low, high := min(a.Drop, m.ages[j].Drop)-1, max(a.Drop, m.ages[j].Drop)-1
			if i != j && low == high {
				x *= 2
			}
			s[low*k+high] += x
		}
		s[(a.Drop-1)*k+m.drops] += bend[i] * row[n-1]
	}
	s[k*k-1] = w.last[n*n-1]
	det := one()
	for i := range m.drops {
		s[i*k+i] += 1 / (delta * delta)
		det.times(eliminateFlat(s, k, i) * delta * delta)
	}
	return det.log(), s[k*k-1]
}

// gatherAges copies what is left of ages and y for takeDrop.
func (f *fit) gatherAges(w *worker) {
	n, at := f.m.width(), 0
	for i := f.m.fixed; i < n; i++ {
		at += copy(w.ages[at:], w.last[i*n+i:(i+1)*n])
	}
}

// takeDrop is takeDrops of one, as nearly always and where the time goes; it returns |S|·delta² itself.
func (f *fit) takeDrop(curve int, delta float64, w *worker) (factor, yy float64) {
	bend := f.bends[curve*len(f.m.ages):][:len(f.m.ages)]
	s, r, row := 1/(delta*delta), 0.0, w.ages
	for i, b := range bend {
		x, y := b*row[0], row[len(bend)-i]
		for j, v := range row[1 : len(bend)-i] {
			x += 2 * bend[i+1+j] * v
		}
		s += b * x
		r += b * y
		row = row[len(bend)-i+1:]
	}
	yy = row[0] - r*r/s
	w.drops[0], w.drops[1], w.drops[3] = s, r, yy
	return s * delta * delta, yy
}

// weighCurves gives the part that each curve has in the weight of a cell, with a prior of the effects, and returns the
// logarithm of the whole:
//
//	w_k ∝ p_k |S_k|^(−½) e^(−yy_k/2),  p_k the curve's prior
//
// Where one practice ages no curve costs a logarithm.
func (f *fit) weighCurves(to []float64, log float64, q []float64, delta float64, w *worker) float64 {
	if log -= f.takeEffects(q, w) / 2; math.IsInf(log, -1) {
		clear(to)
		return log
	}
	n, least := len(f.curves), math.Inf(1)
	yy := w.curves[n:][:n]
	if f.m.drops == 1 {
		f.gatherAges(w)
	}
	for k, c := range f.curves {
		if f.m.drops == 1 {
			to[k], yy[k] = f.takeDrop(k, delta, w)
			to[k] = c.prior / math.Sqrt(to[k])
		} else {
			det, left := f.takeDrops(k, delta, w)
			to[k], yy[k] = c.prior, left+det
		}
		least = min(least, yy[k])
	}
	whole := 0.0
	for k := range to {
		to[k] *= math.Exp((least - yy[k]) / 2)
		whole += to[k]
	}
	part := 1 / whole
	for k := range to {
		to[k] *= part
	}
	return log - least/2 + math.Log(whole)
}

// The two ways in which effects are looked at.
const (
	flat   = iota // as the studies say
	shrunk        // toward the means of their families
	looks
)

// weights is what all components of a situation weigh over a grid.
type weights struct {
	grid grid
	c    situation
	sd   margins // standard deviations of its points
	sums []sum   // of the sites, at each outer point
	look [looks]look
}

// look is the weights of one way to look at effects.
type look struct {
	toward []shrinkage // at each ω; flat: one, of nothing
	delta  float64     // prior standard deviation of what new drops gain
	curves int
	cells  []float64 // outer × seasons × toward: logarithms of the weights over all curves
	parts  []float64 // of each curve in its cell
	whole  float64   // logarithm of the sum of the weights
}

// adder gives the sums of the sites at outer points that differ in σ_u alone.
type adder func(run []spot, w *worker)

// weigh looks at every point of a grid.
func (f *fit) weigh(g grid, c situation, crew []*worker, add adder) *weights {
	return f.weighWhere(g, c, crew, add, func(int) bool { return true })
}

// weighWhere is weigh where a point, outer and season, matters; all others weigh nothing.
func (f *fit) weighWhere(g grid, c situation, crew []*worker, add adder, matters func(point int) bool) *weights {
	outer, seasons, curves, size := g.outer(), g[SeasonSD].n, len(f.curves), f.m.columns*f.m.columns
	x := &weights{grid: g, c: c, sd: g.points(), sums: make([]sum, outer)}
	store := make([]float64, outer*size)
	for o := range x.sums {
		x.sums[o].s = store[o*size : (o+1)*size]
	}
	prior := f.priors(g)
	x.look[flat] = look{toward: make([]shrinkage, 1), delta: f.prior.Delta, curves: curves}
	x.look[shrunk] = look{delta: f.prior.Shrunk, curves: curves}
	for i := range g[ShrinkSD].n {
		s := f.prior.newShrinkage(f.m.table, g[ShrinkSD].at(i))
		s.log += prior[ShrinkSD][i]
		x.look[shrunk].toward = append(x.look[shrunk].toward, s)
	}
	for k := range x.look {
		n := outer * seasons * len(x.look[k].toward)
		x.look[k].parts, x.look[k].cells = make([]float64, n*curves), make([]float64, n)
	}
	share(crew, outer/g[SiteSD].n, func(w *worker, run int) {
		w.run = w.run[:0]
		for o := run * g[SiteSD].n; o < (run+1)*g[SiteSD].n; o++ {
			some := false
			for i := o * seasons; i < (o+1)*seasons; i++ {
				some = some || matters(i)
			}
			if some {
				w.run = append(w.run, spot{&x.sums[o], x.at(g.cells(o*seasons, 0)), o})
			}
		}
		if len(w.run) > 0 {
			add(w.run, w)
		}
		for i := run * g[SiteSD].n * seasons; i < (run+1)*g[SiteSD].n*seasons; i++ {
			if !matters(i) {
				for k := range x.look {
					x.look[k].nothing(i)
				}
				continue
			}
			cells, log := g.cells(i, 0), 0.0
			for k := range ShrinkSD {
				log += prior[k][cells[k]]
			}
			log -= f.takeSeasons(x.sums[i/seasons], x.sd[SeasonSD][cells[SeasonSD]], w) / 2
			for k := range x.look {
				l := &x.look[k]
				for j, s := range l.toward {
					at := i*len(l.toward) + j
					l.cells[at] = f.weighCurves(l.parts[at*curves:(at+1)*curves], log+s.log, s.q, l.delta, w)
				}
			}
		}
	})
	for k := range x.look {
		x.look[k].whole = logSum(x.look[k].cells)
	}
	return x
}

// nothing is what a point weighs that was not looked at.
func (l *look) nothing(point int) {
	n := len(l.toward)
	for i := point * n; i < (point+1)*n; i++ {
		l.cells[i] = math.Inf(-1)
	}
}

// matters is true of a point that weighs more than e⁻²⁰ of the heaviest in either look: where one study more or less
// stands apart, none of the others comes to weigh anything.
func (x *weights) matters(point int) bool {
	for k := range x.look {
		l := &x.look[k]
		n := len(l.toward)
		for _, log := range l.cells[point*n : (point+1)*n] {
			if log-l.whole > -20 {
				return true
			}
		}
	}
	return false
}

// priors is the logarithm of the prior weight of each cell along each standard deviation.
func (f *fit) priors(g grid) margins {
	var m margins
	for k, a := range g {
		for i := range a.n {
			m[k] = append(m[k], f.prior.log(k, a.at(i))+math.Log(a.size(i)))
		}
	}
	return m
}

// points is the standard deviations looked at.
func (g grid) points() margins {
	var m margins
	for k, a := range g {
		for i := range a.n {
			m[k] = append(m[k], a.at(i))
		}
	}
	return m
}

// at is the standard deviations of some cells.
func (x *weights) at(cells [sds]int) SD {
	var at SD
	for k, points := range x.sd {
		at[k] = points[cells[k]]
	}
	return at
}

// added gives the sums by adding up all sites.
func (f *fit) added(c situation) adder {
	return func(run []spot, w *worker) { f.m.total(run, c, &w.workspace) }
}

// logSum is the logarithm of the sum of exponentials.
func logSum(logs []float64) float64 {
	top := math.Inf(-1)
	for _, x := range logs {
		top = max(top, x)
	}
	if math.IsInf(top, -1) || len(logs) == 1 {
		return top
	}
	s := 0.0
	for _, x := range logs {
		s += math.Exp(x - top)
	}
	return top + math.Log(s)
}

// margin gives the weight of each cell in one look.
func (x *weights) margin(k int) margins {
	g, l, m := x.grid, &x.look[k], margins{}
	omegas := len(l.toward)
	for d, a := range g {
		if d != ShrinkSD || omegas > 1 {
			m[d] = make([]float64, a.n)
		}
	}
	for i, log := range l.cells {
		w := math.Exp(log - l.whole)
		c := g.cells(i/omegas, i%omegas)
		for d := range m {
			if m[d] != nil {
				m[d][c[d]] += w
			}
		}
	}
	return m
}

// both is the weights of the cells in either look.
func (x *weights) both() []margins { return []margins{x.margin(flat), x.margin(shrunk)} }

// evidence is the logarithm of what a situation weighs, effects flat.
func (x *weights) evidence() float64 { return x.look[flat].whole }

// How often the box is looked for, and its edges moved. Thousands of studies need more passes: each narrows a box by a
// third or so.
const (
	passes, mostPasses = 4, 16
	mostMoves          = 3
)

// settle finds the box of a situation, from a first one in a number of passes at least, and weighs it.
func (f *fit) settle(c situation, g grid, least int) *weights {
	g = g.cut(rough)
	for pass := 1; ; pass++ {
		by := f.quick
		if pass >= least { // few half-lives may all lie off one that the studies tell well
			by = f
		}
		box, settled := g.around(by.weigh(g, c, f.crew, f.added(c)).both()...)
		g = box
		if pass >= least && settled || pass >= mostPasses {
			break
		}
	}
	return f.widen(c, g.cut(fine))
}

// widen weighs a situation over a box, whose edges are moved where much weighs there.
func (f *fit) widen(c situation, g grid) *weights {
	x := f.weigh(g, c, f.crew, f.added(c))
	for range mostMoves {
		box, moved := g.widened(x.both()...)
		if !moved {
			break
		}
		g = box
		x = f.weigh(g, c, f.crew, f.added(c))
	}
	return x
}

// pilot is a first box of a situation.
func (f *fit) pilot(c situation) grid {
	points, jacobian := pilot(f.prior)
	logs := make([]float64, len(points))
	share(f.crew, len(points), func(w *worker, i int) {
		f.m.total([]spot{{to: &w.whole, at: points[i]}}, c, &w.workspace)
		logs[i] = jacobian[i] + f.quick.evidence(w.whole, points[i][SeasonSD], w)
		for k := range ShrinkSD {
			logs[i] += f.prior.log(k, points[i][k])
		}
	})
	whole := logSum(logs)
	for i, l := range logs {
		logs[i] = math.Exp(l - whole)
	}
	return pilotBox(f.prior, points, logs)
}
