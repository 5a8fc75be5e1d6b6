package worth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
	"gonum.org/v1/gonum/stat/samplemv"
)

// Quasi-random points: scrambles of so many points each, whose spread gives the error.
const (
	scrambles = 8
	usual     = 64
	hasty     = 16 // while it is looked for
)

// drawn keeps the scrambles by their width and number: every candidate is asked of the same ones.
var drawn sync.Map

// normals are the scrambles of n standard normal points, an even number: half of them, and the same mirrored.
func normals(width, n int) []*mat.Dense {
	key := [2]int{width, n}
	if have, ok := drawn.Load(key); ok {
		return have.([]*mat.Dense)
	}
	normal, _ := distmv.NewNormal(make([]float64, width), identity(width), nil)
	var list []*mat.Dense
	for s := range scrambles {
		z := mat.NewDense(n, width, nil)
		half := z.Slice(0, n/2, 0, width).(*mat.Dense)
		samplemv.Halton{Kind: samplemv.Owen, Q: normal, Src: rand.NewPCG(1, uint64(s))}.Sample(half)
		z.Slice(n/2, n, 0, width).(*mat.Dense).Scale(-1, half)
		list = append(list, z)
	}
	drawn.Store(key, list)
	return list
}

func identity(n int) *mat.SymDense {
	i := mat.NewSymDense(n, nil)
	for k := range n {
		i.SetSym(k, k, 1)
	}
	return i
}

// spreadOf is the mean of the scrambles and its standard error.
func spreadOf(each []float64) (mean, err float64) {
	for _, x := range each {
		mean += x / float64(len(each))
	}
	for _, x := range each {
		err += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(err / float64(len(each)*(len(each)-1)))
}

// finding is a result of a trial: the means of its contrasts, and the sums of squares in the strata.
type finding struct {
	means   []float64
	squares [strata][2]float64
}

// find makes the result that a component gives at standard normals z; the sums of squares come of a stream.
func (l *lesson) find(k int, z []float64, random *rand.Rand, f *finding) {
	u := &l.parts[k]
	for i := range l.rows {
		f.means[i] = u.mean[i]
		for c := range i + 1 {
			f.means[i] += u.root[i*l.rows+c] * z[c]
		}
	}
	for i, both := range l.df {
		for c, d := range both {
			f.squares[i][c] = 0
			for range d {
				x := random.NormFloat64()
				f.squares[i][c] += u.spread[i][c] * x * x
			}
		}
	}
}

// class is what is to be done with a result: the expected margins after it, at the yields that are then expected.
type class struct {
	*purse
	l                      *lesson
	straight               bool
	logs, e, moved, yields []float64
}

func (q *Question) class(l *lesson, straight bool) *class {
	ny := len(q.needed) + 1
	return &class{q.purse(), l, straight, make([]float64, len(l.parts)), make([]float64, len(l.parts)*l.rows),
		make([]float64, ny), make([]float64, ny)}
}

// negligible is the logarithm of the weight, of the likeliest, below which a component is left out.
const negligible = -12

// after adds up the expected margins of the options after a result: the mean over the components, each by how likely it
// is now.
func (c *class) after(f *finding, to []float64) {
	l, r, top := c.l, c.l.rows, math.Inf(-1)
	for k := range l.parts {
		u := &l.parts[k]
		e, log := c.e[k*r:(k+1)*r], u.log
		for i := range e {
			x := f.means[i] - u.mean[i]
			for j, y := range e[:i] {
				x -= u.root[i*r+j] * y
			}
			e[i] = x / u.root[i*r+i]
			log -= e[i] * e[i] / 2
		}
		for i, both := range l.df {
			for a, d := range both {
				if d > 0 {
					log -= f.squares[i][a] / u.spread[i][a] / 2
				}
			}
		}
		c.logs[k] = log
		top = max(top, log)
	}
	whole := 0.0
	for k, log := range c.logs {
		c.logs[k] = 0
		if log-top > negligible {
			c.logs[k] = math.Exp(log - top)
			whole += c.logs[k]
		}
	}
	clear(to)
	c.weigh(c.logs, whole, to)
}

// weigh adds up margins at the yields expected by each component, or at its views of them.
func (c *class) weigh(weights []float64, whole float64, to []float64) {
	r, ny := c.l.rows, len(c.yields)
	clear(c.yields)
	for k, w := range weights {
		if w == 0 {
			continue
		}
		u := &c.l.parts[k]
		clear(c.moved)
		for j, e := range c.e[k*r : (k+1)*r] {
			for i, b := range u.slope[j*ny:][:len(c.moved)] {
				c.moved[i] += b * e
			}
		}
		part := w / whole
		for v := 0; v < len(u.yields); v += ny {
			moved := c.moved[:ny]
			if c.straight {
				for i, x := range u.yields[v : v+ny] {
					c.yields[i] += part * exp(x+moved[i])
				}
			} else {
				for i, x := range u.yields[v : v+ny] {
					c.yields[i] = exp(x + moved[i])
				}
				c.of(c.chosen, c.needed, c.yields, part*float64(ny)/float64(len(u.yields)), to)
			}
		}
	}
	if c.straight {
		c.of(c.chosen, c.needed, c.yields, 1, to)
	}
}

// exp is e^x in half the time of math.Exp, which nearly all of the search goes into: a power of 2, in 64th parts from a
// table, times the polynomial of what is left of x (Tang 1989, ACM Transactions on Mathematical Software 15:144).
func exp(x float64) float64 {
	const high, low = 0x1.62e42fefap-1 / pieces, 0x1.cf79abc9e3b39p-40 / pieces // ln 2 in two pieces
	if !(math.Abs(x) < 700) {
		return math.Exp(x)
	}
	k := math.Floor(x*(pieces/math.Ln2) + .5)
	r, n := x-k*high-k*low, int64(k)
	y := powers[n&(pieces-1)] * (1 + r*(1+r*(1./2+r*(1./6+r*(1./24+r*(1./120))))))
	return math.Float64frombits(math.Float64bits(y) + uint64(n>>6)<<52)
}

// pieces of a power of 2, 2⁶ of them, and their powers.
const pieces = 1 << 6

var powers = func() (list [pieces]float64) {
	for i := range list {
		list[i] = math.Exp2(float64(i) / pieces)
	}
	return list
}()

// views are the looks at what a component leaves unknown, where margins are no straight lines of yields.
const views = 2

// straight is true where margins are straight lines of yields, as nearly as so many components are to tell.
func (q *Question) straight(n int) bool { return n == around || !q.books.Ledger.Limited() }

// expected is the margins of all options as gains are known now.
func (q *Question) expected(s *set, to []float64) {
	l := &lesson{parts: make([]update, len(s.parts))}
	weights := make([]float64, len(s.parts))
	straight, looks := q.straight(len(s.parts)), 0
	if !straight {
		looks = views
	}
	for k := range s.parts {
		l.parts[k].yields = make([]float64, max(1, looks)*len(s.parts[k].yields))
		q.look(&s.parts[k], &l.parts[k], k, 0, looks)
		weights[k] = math.Exp(s.parts[k].log)
	}
	q.class(l, straight).weigh(weights, s.below[len(s.below)-1], to)
}

// worth is EVSI, its error and the chance of a change, by so many components and points a scramble. That what is best
// now is known, and not looked for among few points, keeps it unbiased.
func (q *Question) worth(t Trial, arms []int, components, points int) (worth, err, changes float64) {
	s := q.set(t.Site, components)
	straight, looks := q.straight(components), 0
	if !straight {
		looks = views
	}
	l := q.learns(t, arms, s, looks)
	c, margins := q.class(l, straight), make([]float64, len(q.m.Options))
	may := func(k int) bool {
		if !q.m.Options[k].Awaits {
			return true
		}
		for _, x := range q.tested[k] {
			for _, a := range arms {
				if a == x {
					return true
				}
			}
		}
		return false
	}
	each, f := make([]float64, scrambles), finding{means: make([]float64, l.rows)}
	for r, z := range normals(1+l.rows, points) {
		random := rand.New(rand.NewPCG(2, uint64(r)))
		for i := range points {
			row := z.RawRowView(i)
			l.find(s.at(row[l.rows]), row, random, &f)
			c.after(&f, margins)
			best := q.top(margins, q.chosen, may)
			each[r] += (margins[best] - margins[q.best]) / float64(points)
			if best != q.best {
				changes += 1 / float64(points*scrambles)
			}
		}
	}
	worth, err = spreadOf(each)
	return worth, err, changes
}

// Trial says what one trial is worth. The error is note.Faults.
func (q *Question) Trial(t Trial) (Worth, error) {
	w := Worth{Trial: t}
	if f := t.Faults(); len(f) > 0 {
		return w, f
	}
	arms, faults := q.armsOf(t)
	if len(faults) > 0 {
		return w, faults
	}
	return q.told(t, arms, q.finest()), nil
}

// told is what a trial is worth, as told by so many components; it is worked out once.
func (q *Question) told(t Trial, arms []int, components int) Worth {
	cost := t.Cost
	t.Cost = Cost{}
	key := fmt.Sprint(t, components)
	q.kept.mutex.Lock()
	w, ok := q.kept.found[key]
	q.kept.mutex.Unlock()
	if !ok {
		w = Worth{Trial: t}
		points := q.points
		if components < many {
			points = min(points, hasty)
		}
		w.EVSI, w.Error, w.Changes = q.worth(t, arms, components, points)
		q.kept.mutex.Lock()
		q.kept.found[key] = w
		q.kept.mutex.Unlock()
	}
	w.Trial.Cost = cost
	q.price(&w, arms)
	return w
}

// price lays taps, seasons and costs over the worth a tap. The trial is paid season by season; its use begins after it.
func (q *Question) price(w *Worth, arms []int) {
	t := w.Trial
	v := 1 / (1 + q.Use.Discount)
	for s := range q.Use.Seasons {
		w.Benefit += w.EVSI * q.Use.Taps * q.Use.Adoption * math.Pow(v, float64(t.Seasons+s))
	}
	sites, _ := t.size()
	units := float64(t.Blocks*t.Units) * sites // of one treatment
	poorer := 0.0
	for _, a := range arms {
		poorer += q.poorer(a)
	}
	w.Cost = t.Cost.Fixed
	for s := range t.Seasons {
		d := math.Pow(v, float64(s))
		forgone := poorer * units * float64(t.Taps)
		w.Forgone += d * forgone
		w.Cost += d * (sites*t.Cost.Season + units*float64(len(arms))*t.Cost.Unit + forgone)
	}
	w.Net = w.Benefit - w.Cost
}

// poorer is what an arm brings less, a tap and season, than what is best today: by the best of what is done with its
// practice.
func (q *Question) poorer(arm int) float64 {
	most := math.Inf(-1)
	for k, o := range q.m.Options {
		if o.Choice.With == "" && o.Choice.Practice == q.m.Gains.Treatments[arm].Practice {
			most = max(most, q.now[k])
		}
	}
	if math.IsInf(most, -1) {
		return 0
	}
	return max(0, q.now[q.best]-most)
}
