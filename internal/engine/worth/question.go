package worth

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/pool"
	"spile/internal/engine/sure"
	"spile/internal/trade/practice"
)

// Question is a decision that a trial may change, made ready. It may be shared between goroutines.
type Question struct {
	Use    Use
	points int // of each scramble, an even number

	m      *sure.Model
	books  *sure.Books
	at     map[practice.Treatment]int
	mean   []float64     // of the log gains
	g      *mat.SymDense // their covariance
	base   []float64     // how log(1 + base gain) hangs on the log gains
	shift  []float64     // (σ²_u + σ²_v)/2, 0 for unsanitized
	log0   float64       // log(1 + base gain) at the mean
	adjust float64       // part of a trial's gain that a farm gets
	yield  float64       // baseline
	unsure []float64     // what each margin gains by its assumptions being unsure, and not at their means
	cycles [][]int       // of each option, its treatments
	tested [][]int       // of each option, the treatments of its practice

	now    []float64 // margins of the options as gains are known now
	best   int       // of those that may be chosen now
	chosen []int     // options that some knowledge of the gains would choose, best among them
	needed []int     // the treatments that their yields are of

	perfect, perfectError float64

	kept *kept
}

// kept is what is worked out once, whoever uses the answer.
type kept struct {
	mutex sync.Mutex
	sets  map[seen]*set
	found map[string]Worth
}

// seen is a site, and how many components.
type seen struct {
	site string
	n    int
}

// How many equally likely components stand for what is known: one normal of the same mean and covariance to look
// around, few for what is near the best, many for what is told.
const (
	around = 1
	few    = 64
	many   = 256
)

// Of makes a decision ready, to be looked at with so many points of each scramble: fewer for a quick look, 0 for as
// many as ever. average is what each option brings on average over all that is unsure, against any one of them: by that
// the choice is made as things stand. Where it is nil, assumptions stand at their means. The error is note.Faults.
func Of(m *sure.Model, use Use, points int, average []float64) (*Question, error) {
	if f := append(m.Faults(), use.Faults()...); len(f) > 0 {
		return nil, f
	}
	n := len(m.Gains.Treatments)
	q := &Question{Use: use, points: cmp.Or(points+points%2, usual), m: m, at: map[practice.Treatment]int{},
		unsure: make([]float64, len(m.Options)), shift: make([]float64, n),
		kept: &kept{sets: map[seen]*set{}, found: map[string]Worth{}}}
	values := make([]float64, len(m.Assumptions))
	for i, a := range m.Assumptions {
		values[i] = a.Dist.Mean()
	}
	q.books = m.Open()(values)
	parts := m.Gains.Components("", q.finest())
	whole := matched(parts)
	q.mean, q.g = whole.Mean[:n], mat.NewSymDense(n, nil)
	for i, t := range m.Gains.Treatments {
		q.at[t] = i
		if t.Practice != practice.Unsanitized {
			q.shift[i] = whole.LongRun()
		}
		for j := range i + 1 {
			q.g.SetSym(i, j, whole.Cov.At(i, j))
		}
	}
	q.baseline()
	for _, o := range m.Options {
		var cycle, tested []int
		for _, t := range o.Choice.Seasons() {
			cycle = append(cycle, q.at[t])
		}
		for i, t := range m.Gains.Treatments {
			if t.Practice == o.Choice.Practice {
				tested = append(tested, i)
			}
		}
		q.cycles, q.tested = append(q.cycles, cycle), append(q.tested, tested)
	}
	q.know(parts, average)
	return q, nil
}

// finest is how many components tell what is told; few are enough for a quick look.
func (q *Question) finest() int {
	if q.points < usual {
		return few
	}
	return many
}

// matched is one normal of the mean and covariance of a mixture.
func matched(parts []pool.Component) pool.Component {
	n := len(parts[0].Mean)
	c := pool.Component{Weight: 1, Mean: make([]float64, n), Cov: mat.NewSymDense(n, nil)}
	for _, p := range parts {
		c.Spread = c.Plus(p.Weight, p.Spread)
		for i, x := range p.Mean {
			c.Mean[i] += p.Weight * x
		}
	}
	for _, p := range parts {
		for i := range n {
			for j := range i + 1 {
				c.Cov.SetSym(i, j, c.Cov.At(i, j)+
					p.Weight*(p.Cov.At(i, j)+(p.Mean[i]-c.Mean[i])*(p.Mean[j]-c.Mean[j])))
			}
		}
	}
	return c
}

// baseline reads from the books what the yield without any practice hangs on.
func (q *Question) baseline() {
	l, n := q.books.Ledger, len(q.mean)
	q.base = make([]float64, n)
	q.yield, q.adjust = l.Unsanitized(0), l.Yield(1, 1)-1
	// log(1 + adjust·g) of the baseline is linear in the log gain where adjust is 1 and one treatment is the baseline;
	// else it is made linear at the mean.
	g := 0.0
	for _, t := range q.m.Baseline {
		i := q.at[t]
		e := q.adjust * math.Exp(q.mean[i]+q.shift[i]) / float64(len(q.m.Baseline))
		q.base[i] += e
		g += e - q.adjust/float64(len(q.m.Baseline))
	}
	for i := range q.base {
		q.base[i] /= 1 + g
	}
	q.log0 = math.Log1p(g)
}

// logYield is the logarithm of a treatment's yield where the log gains are as given; that of unsanitized for −1. It is
// linear in them.
func (q *Question) logYield(treatment int, logs []float64) float64 {
	x := math.Log(q.yield) - q.log0
	for i, c := range q.base {
		x -= c * (logs[i] - q.mean[i])
	}
	if treatment >= 0 {
		x += logs[treatment] + q.shift[treatment]
	}
	return x
}

// slope is how logYield hangs on the log gains.
func (q *Question) slope(treatment int) []float64 {
	a := make([]float64, len(q.base))
	for i, c := range q.base {
		a[i] = -c
	}
	if treatment >= 0 {
		a[treatment]++
	}
	return a
}

// purse works out margins from yields.
type purse struct {
	*Question
	gains, cycle []float64
}

func (q *Question) purse() *purse {
	longest := 0
	for _, c := range q.cycles {
		longest = max(longest, len(c))
	}
	return &purse{q, make([]float64, len(q.mean)), make([]float64, longest)}
}

// of adds some options' margins, each times a weight. yields holds those of some treatments, and last that of
// unsanitized.
func (p *purse) of(options, treatments []int, yields []float64, weight float64, to []float64) {
	y0 := yields[len(treatments)]
	for i, t := range treatments {
		p.gains[t] = yields[i]/y0 - 1 // as a trial has it: the ledger makes the farm adjustment
	}
	for _, k := range options {
		cycle := p.cycle[:len(p.cycles[k])]
		for a, t := range p.cycles[k] {
			cycle[a] = p.gains[t]
		}
		to[k] += weight * (p.books.Ledger.Margin(&p.books.Plans[k], y0, cycle) + p.unsure[k])
	}
}

// indices are 0 to n − 1.
func indices(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i
	}
	return list
}

// hopeless is the part of what it is worth to know every gain that an option adds to it at most, where it is no longer
// looked at.
const hopeless = .005

// know works out margins and what is best as gains are known now, and what knowing every gain would be worth.
func (q *Question) know(parts []pool.Component, average []float64) {
	all, treatments := indices(len(q.m.Options)), indices(len(q.mean))
	q.chosen, q.needed = all, treatments
	s := q.newSet(parts)
	q.now = make([]float64, len(all))
	q.expected(s, q.now)
	for k := range average {
		q.unsure[k] = average[k] - q.now[k]
		q.now[k] = average[k]
	}
	q.best = q.top(q.now, all, func(k int) bool { return !q.m.Options[k].Awaits })
	roots := s.roots()
	each, lead := make([]float64, scrambles), make([]float64, len(all))
	p, n := q.purse(), 8*q.points
	yields, margins := make([]float64, len(treatments)+1), make([]float64, len(all))
	for r, z := range normals(1+len(yields), n) {
		for i := range n {
			row := z.RawRowView(i)
			k := s.at(row[len(yields)])
			for j := range yields {
				x := s.parts[k].yields[j]
				for c, v := range roots[k][j*len(yields) : j*len(yields)+j+1] {
					x += v * row[c]
				}
				yields[j] = math.Exp(x)
			}
			clear(margins)
			p.of(all, treatments, yields, 1, margins)
			best := q.top(margins, all, nil)
			each[r] += (margins[best] - margins[q.best]) / float64(n)
			for k := range lead {
				lead[k] += max(0, margins[k]-margins[q.best]) / float64(n*scrambles)
			}
		}
	}
	q.perfect, q.perfectError = spreadOf(each)
	q.chosen, q.needed = nil, nil
	for _, k := range all {
		if k == q.best || q.m.Options[k].Open && lead[k] > hopeless*q.perfect {
			q.chosen = append(q.chosen, k)
			for _, t := range q.cycles[k] {
				if !slices.Contains(q.needed, t) {
					q.needed = append(q.needed, t)
				}
			}
		}
	}
}

// top is the best of some options that are open, and meet a condition.
func (q *Question) top(margins []float64, among []int, may func(k int) bool) int {
	best := -1
	for _, k := range among {
		if q.m.Options[k].Open && (may == nil || may(k)) && (best < 0 || margins[k] > margins[best]) {
			best = k
		}
	}
	return best
}

// Perfect is what knowing every long-run gain would be worth, money a tap and season: no trial is worth more. What is
// not known of variances changes no money but by the gains.
func (q *Question) Perfect() (evppi, err float64) { return q.perfect, q.perfectError }

// For is the same decision for others who use the answer; what a trial tells, a tap and season, is the same for all.
// The error is note.Faults.
func (q *Question) For(use Use) (*Question, error) {
	if f := use.Faults(); len(f) > 0 {
		return nil, f
	}
	other := *q
	other.Use = use
	return &other, nil
}

// hopeful is true of a treatment whose practice knowing the gains might put first.
func (q *Question) hopeful(t practice.Treatment) bool {
	return slices.ContainsFunc(q.chosen, func(k int) bool { return q.m.Options[k].Choice.Practice == t.Practice })
}

// Best is the option that is chosen as things stand.
func (q *Question) Best() int { return q.best }
