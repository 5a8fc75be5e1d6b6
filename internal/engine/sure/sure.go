// Package sure decides under uncertainty: draws of gains, prices and seasons together, what each option is likely to
// net, what the choice hangs on, and what it would be worth to know more (M7). It knows no key of a file: assumptions
// are numbers with names, and whoever calls says what a ledger they make.
package sure

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/engine/year"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Option is one of the things that may be done.
type Option struct {
	ID     string
	Choice practice.Choice
	Open   bool // may be chosen: permitted and studied. The others are drawn too, but are never the best
	Awaits bool // a study more is wanted before it may come first
	// Way is the first seasons of the choice, where drops of several ages stand side by side; nil: it goes on as its
	// cycle has it
	Way [][]Lot
}

// Lot is a share of the taps that has one treatment.
type Lot struct {
	practice.Treatment
	Share float64
}

// Assumption is one number that the money rests on. Assumptions of one Group ("prices", "labour") are looked at
// together; one that is correlated with another joins its group.
type Assumption struct {
	Key   string
	Group string
	Dist  Dist
}

// Correlation is a rank correlation (Spearman) between two assumptions, by key.
type Correlation struct {
	A, B string
	Rank float64
}

// Books is a ledger and the plans of the options in their order.
type Books struct {
	Ledger *budget.Ledger
	Plans  []budget.Plan
}

// Model is everything that a decision rests on.
type Model struct {
	Options      []Option
	Today        int // the option that nets are against
	Spouts       int // yearly new spouts; −1 where they are not among the options
	Assumptions  []Assumption
	Correlations []Correlation
	// Open opens a set of books for one goroutine: what it gives works out the values of the assumptions, in their
	// order, and is good until it is called again.
	Open     func() func(values []float64) *Books
	Year     year.Year            // what all options share in one single season
	Gains    *pool.Posterior      // of every treatment in the options' seasons and in Baseline
	Baseline []practice.Treatment // whose mean gain the baseline's yield holds already; none: it is unsanitized
}

// lot is a Lot by the index of its treatment.
type lot struct {
	treatment int
	share     float64
}

// Group is the gains' group; the name is not to be used for another.
const Group = "gains"

// prepared is a model made ready to be drawn from.
type prepared struct {
	*Model
	shapers []shaper
	best    []float64 // values at the best guesses
	unsure  []int     // assumptions that are not fixed
	copula  *mat.TriDense
	seasons [][][]lot // by option and season, what makes up its gain
	base    []int
	control int // index of unsanitized, −1
	// by treatment, the first of the same practice: what a place makes of a practice is common to drops of every age
	practice []int
	lines    int // of a draw: treatments, then slopes
	width    int
	open     func()    // fills what follows, once: what was drawn already does not ask for it
	rows     []row     // of the members' roots, by member and treatment
	below    []float64 // weights of a member and those before it
	groups   []string
	group    []int // of each assumption, index into groups; −1 for a fixed one. Gains are group 0
}

// Faults are all faults of the model.
func (m *Model) Faults() note.Faults {
	_, f := m.prepare()
	return f
}

// prepare makes a model ready to be chosen from.
func (m *Model) prepare() (*prepared, note.Faults) {
	p, faults := m.drawable()
	if !slices.ContainsFunc(m.Options, func(o Option) bool { return o.Open }) {
		faults.Add("there is nothing to choose among: no option is permitted and studied")
	}
	return p, faults
}

// drawable makes a model ready to be drawn from, be anything of it chosen or not.
func (m *Model) drawable() (*prepared, note.Faults) {
	var faults note.Faults
	p := &prepared{Model: m, control: -1}
	at := map[practice.Treatment]int{}
	for i, t := range m.Gains.Treatments {
		at[t] = i
		p.practice = append(p.practice, slices.IndexFunc(m.Gains.Treatments,
			func(x practice.Treatment) bool { return x.Practice == t.Practice }))
		if t.Practice == practice.Unsanitized {
			p.control = i
		}
	}
	index := func(seasons []practice.Treatment) []int {
		var list []int
		for _, t := range seasons {
			i, ok := at[t]
			if !ok {
				faults.Add("the studies say nothing of %s", note.Term(t.Practice))
			}
			list = append(list, i)
		}
		return list
	}
	for _, o := range m.Options {
		way := o.Way
		if way == nil {
			for _, t := range o.Choice.Seasons() {
				way = append(way, []Lot{{t, 1}})
			}
		}
		seasons := make([][]lot, len(way))
		for s, parts := range way {
			for _, x := range parts {
				seasons[s] = append(seasons[s], lot{index([]practice.Treatment{x.Treatment})[0], x.Share})
			}
		}
		p.seasons = append(p.seasons, seasons)
	}
	p.base = index(m.Baseline)
	for _, n := range m.Gains.Members {
		_, w := n.Root.Dims()
		p.width = max(p.width, w)
	}
	p.lines = len(m.Gains.Treatments) + m.Gains.Slopes
	p.open = sync.OnceFunc(p.rowed)
	known := map[string]int{}
	for i, a := range m.Assumptions {
		faults = append(faults, a.Dist.faults(a.Key)...)
		known[a.Key] = i
	}
	sound := len(faults) == 0
	p.groups = []string{Group}
	for i, a := range m.Assumptions {
		if sound {
			p.shapers = append(p.shapers, a.Dist.shaper())
		}
		p.best = append(p.best, a.Dist.Best)
		g := -1
		if !a.Dist.fixed() {
			p.unsure = append(p.unsure, i)
			if g = slices.Index(p.groups, a.Group); g < 0 {
				g = len(p.groups)
				p.groups = append(p.groups, a.Group)
			}
		}
		p.group = append(p.group, g)
	}
	if faults = append(faults, p.correlate(known)...); len(faults) > 0 {
		return nil, faults
	}
	return p, nil
}

// correlate makes the root of the Gaussian copula's correlation matrix: a rank correlation ρ asks the normals for
// r = 2 sin(πρ/6) (Pearson 1907). A set of correlations that no joint distribution has is refused, named.
func (p *prepared) correlate(known map[string]int) note.Faults {
	var faults note.Faults
	if len(p.Correlations) == 0 {
		return nil
	}
	n := len(p.unsure)
	place := map[int]int{}
	for j, i := range p.unsure {
		place[i] = j
	}
	r := mat.NewSymDense(n, nil)
	for j := range n {
		r.SetSym(j, j, 1)
	}
	var asked []pair
	for k, c := range p.Correlations {
		i, ok1 := known[c.A]
		j, ok2 := known[c.B]
		a, sure1 := place[i]
		b, sure2 := place[j]
		switch {
		case !ok1 || !ok2:
			name := c.A
			if ok1 {
				name = c.B
			}
			faults.Add("%s is to move with another number, and no option uses it", name)
		case !sure1 || !sure2:
			name := c.A
			if sure1 {
				name = c.B
			}
			faults.Add("%s is to move with another number, and stands still: give it a low and "+
				"a high", name)
		case slices.ContainsFunc(p.Correlations[:k], func(o Correlation) bool {
			return o == Correlation{c.A, c.B, o.Rank} || o == Correlation{c.B, c.A, o.Rank}
		}):
			faults.Add("how %s and %s move together is given twice; allowed: once", c.A, c.B)
		case i == j || !(math.Abs(c.Rank) <= 1):
			faults.Add("%s and %s are to move together by %v; allowed: two assumptions, −1 to 1",
				c.A, c.B, c.Rank)
		default:
			r.SetSym(a, b, whole*2*math.Sin(math.Pi*c.Rank/6))
			p.merge(p.group[i], p.group[j])
			asked = append(asked, pair{c, a, b})
		}
	}
	if len(faults) > 0 {
		return faults
	}
	var c mat.Cholesky
	if !c.Factorize(r) {
		return note.Faults{note.New("these cannot all move together so, where pairs that are not among them do not: %s",
			culprits(r, asked))}
	}
	p.copula = mat.NewTriDense(n, mat.Lower, nil)
	c.LTo(p.copula)
	return nil
}

// whole is a correlation of 1, as nearly as leaves a matrix of them a root.
const whole = 1 - 1e-9

// pair is a correlation and its place in the matrix.
type pair struct {
	Correlation
	a, b int
}

// culprits names a smallest set of the correlations that cannot hold: without any one of it, the rest can. A pair that
// is not named has none.
func culprits(r *mat.SymDense, asked []pair) string {
	var c mat.Cholesky
	var names []string
	for _, x := range asked {
		had := r.At(x.a, x.b)
		r.SetSym(x.a, x.b, 0)
		if c.Factorize(r) {
			r.SetSym(x.a, x.b, had)
			names = append(names, fmt.Sprintf("%s × %s = %g", x.A, x.B, x.Rank))
		}
	}
	return strings.Join(names, ", ")
}

// merge makes one group of two.
func (p *prepared) merge(a, b int) {
	if a == b {
		return
	}
	a, b = min(a, b), max(a, b)
	p.groups[a] += " + " + p.groups[b]
	p.groups = slices.Delete(p.groups, b, b+1)
	for i, g := range p.group {
		switch {
		case g == b:
			p.group[i] = a
		case g > b:
			p.group[i]--
		}
	}
}

// clerk works out margins on books of its own; one serves one goroutine.
type clerk struct {
	*prepared
	work   func([]float64) *Books
	books  *Books
	values []float64
	at     []float64 // values that the books are open at; nil: none yet
	cycle  []float64
	y      []float64 // room of shape

	all       []part // that are asked for, and by index among them: by the baseline, by unsanitized, by each option
	baseline  int
	untreated int
	asks      [][]int
	gains     []float64 // of them, in the state that is drawn

	dear         budget.Ledger // of the season that is drawn
	long, season [][]float64   // draws that are not kept
}

func (p *prepared) clerk() *clerk {
	c := &clerk{prepared: p, work: p.Open(), values: slices.Clone(p.best), y: make([]float64, len(p.unsure))}
	for _, s := range p.seasons {
		c.cycle = append(c.cycle, make([]float64, max(0, len(s)-len(c.cycle)))...)
	}
	return c
}

// reprice opens the books at the clerk's values, unless they are open there.
func (c *clerk) reprice() {
	if c.at == nil || !slices.Equal(c.at, c.values) {
		c.books, c.at = c.work(c.values), append(c.at[:0], c.values...)
	}
}

// unsanitized is the long-run yield without any practice, where gains holds the long-run gains of the treatments.
func (c *clerk) unsanitized(gains []float64) float64 {
	sum := 0.0
	for _, t := range c.base {
		sum += gains[t]
	}
	if len(c.base) > 0 {
		sum /= float64(len(c.base))
	}
	return c.books.Ledger.Unsanitized(sum)
}

// margin is that of one option.
func (c *clerk) margin(option int, y0 float64, gains []float64) float64 {
	cycle := c.cycle[:len(c.seasons[option])]
	for a, parts := range c.seasons[option] {
		cycle[a] = 0
		for _, x := range parts {
			cycle[a] += x.share * gains[x.treatment]
		}
	}
	return c.books.Ledger.Margin(&c.books.Plans[option], y0, cycle)
}

// share runs work over the parts of n on all cores; what it does must not hang on which core does which part.
func (p *prepared) share(n, part int, work func(c *clerk, from, to int)) {
	OnCores(n, part, func() func(from, to int) {
		c := p.clerk()
		return func(from, to int) { work(c, from, to) }
	})
}

// OnCores opens a worker on each core, and has them do the parts of n.
func OnCores(n, part int, open func() func(from, to int)) {
	var group sync.WaitGroup
	jobs := make(chan int)
	for range min(runtime.GOMAXPROCS(0), (n+part-1)/part) {
		group.Go(func() {
			work := open()
			for from := range jobs {
				work(from, min(n, from+part))
			}
		})
	}
	for from := 0; from < n; from += part {
		jobs <- from
	}
	close(jobs)
	group.Wait()
}
