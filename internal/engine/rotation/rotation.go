// Package rotation finds the interval at which replacing drops pays best, from the joint model's ageing curve and
// the budget (M4, M5). Yearly gains are averaged as percents, never as logs.
package rotation

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"spile/internal/engine/pool"
	"spile/internal/note"
)

// Interval is drops replaced every N seasons, a 1/N part of them each season.
type Interval struct {
	Every                    int
	GainPct, LowPct, HighPct float64 // mean of the yearly percents over unsanitized; 95 %
	Studied                  bool    // its oldest drops lie within the ages studied
	// Money a tap and season against unsanitized, 0 without prices: at every best guess; and the average over what is
	// unsure with its 95 % interval.
	Net, Expected, NetLow, NetHigh float64
	Best                           float64 // chance that this interval is the best of those studied, 0 to 1
	Loss                           float64 // expected, beside the one that turns out best; money, or percent
}

// Result is every interval from 1 to the longest asked, and the best.
type Result struct {
	Intervals  []Interval
	Best       int // of those studied the one of the highest expected net, or gain; 0 where ageing is not estimable
	FlatFrom   int // the intervals from FlatFrom to FlatTo lie within FlatWithin of the best
	FlatTo     int
	FlatWithin float64 // money a tap and season, or percent of sap without prices
	Priced     bool
	Chances    bool // chances and losses are stated: there are draws
	Notes      note.List
}

// Longest is the longest interval studied; 0 where there is none.
func (r Result) Longest() (every int) {
	for _, in := range r.Intervals {
		if in.Studied {
			every = max(every, in.Every)
		}
	}
	return every
}

// flat is the part of the best net (or gain) that an interval may fall short of it and still be called as good.
const flat = 0.05

// Gains is what the joint model, or a table of the user's own, says of drops as they age. All gains are fractions over
// unsanitized as the trials have them. Draws of one index belong together.
type Gains struct {
	Ages   []float64   // by seasons in use from 0
	Draws  [][]float64 // the same, by age and draw; all of one length, which may be 0
	Oldest int         // oldest drops studied, seasons in use
}

// Money is what each interval, from 1 on, nets against unsanitized, a tap and season: at every best guess, and over the
// draws of all that is unsure (by interval and draw). Without draws the best guess stands for them.
type Money struct {
	Net   []float64
	Draws [][]float64
}

// Search looks at every interval from 1 to the number of ages. Without money it gives gains only.
func Search(g Gains, m *Money) Result {
	res := Result{Priced: m != nil}
	draws := 0
	if len(g.Draws) > 0 {
		draws = len(g.Draws[0])
	}
	worth := make([][]float64, len(g.Ages)) // by interval and draw, what is to be made large
	sum := make([]float64, draws)           // of the yearly gains
	for i := range g.Ages {
		n := i + 1
		in := Interval{Every: n, Studied: i <= g.Oldest, GainPct: 100 * stat.Mean(g.Ages[:n], nil)}
		in.LowPct, in.HighPct = in.GainPct, in.GainPct
		if draws > 0 {
			floats.Add(sum, g.Draws[i])
			worth[i] = floats.ScaleTo(make([]float64, draws), 100/float64(n), sum)
			in.LowPct, in.HighPct = pool.Middle(slices.Clone(worth[i]))
		}
		if m != nil {
			in.Net, in.Expected, in.NetLow, in.NetHigh = m.Net[i], m.Net[i], m.Net[i], m.Net[i]
			if worth[i] = nil; len(m.Draws) > 0 {
				worth[i] = m.Draws[i]
				in.Expected = stat.Mean(worth[i], nil)
				in.NetLow, in.NetHigh = pool.Middle(slices.Clone(worth[i]))
			}
		}
		res.Intervals = append(res.Intervals, in)
	}
	if len(worth) > 0 && len(worth[0]) > 0 {
		res.Chances = true
		res.chances(worth, len(worth[0]))
	}
	res.best()
	return res
}

// value is what an interval is judged by.
func (r *Result) value(i int) float64 {
	if r.Priced {
		return r.Intervals[i].Expected
	}
	return r.Intervals[i].GainPct
}

// chances counts over the draws how often each interval studied is the best of them, and what it falls short of the
// best on average. An interval beyond what was studied has no chance stated, and falls short of the best studied.
func (r *Result) chances(worth [][]float64, draws int) {
	for d := range draws {
		best := -1
		for i, in := range r.Intervals {
			if in.Studied && (best < 0 || worth[i][d] > worth[best][d]) {
				best = i
			}
		}
		if best < 0 {
			return
		}
		r.Intervals[best].Best += 1 / float64(draws)
		for i := range r.Intervals {
			r.Intervals[i].Loss += max(0, worth[best][d]-worth[i][d]) / float64(draws)
		}
	}
}

// best finds the best interval studied and how flat the optimum is about it, and says what hangs on ages not studied.
func (r *Result) best() {
	best, longest := -1, -1
	for i, in := range r.Intervals {
		if !in.Studied {
			continue
		}
		longest = i
		if best < 0 || r.value(i) > r.value(best) {
			best = i
		}
	}
	if best < 0 {
		return
	}
	r.Best = r.Intervals[best].Every
	r.FlatWithin = flat * math.Abs(r.value(best))
	from, to := best, best
	for from > 0 && r.value(best)-r.value(from-1) <= r.FlatWithin {
		from--
	}
	for to < longest && r.value(best)-r.value(to+1) <= r.FlatWithin {
		to++
	}
	r.FlatFrom, r.FlatTo = r.Intervals[from].Every, r.Intervals[to].Every
	if !r.Priced {
		return
	}
	top := best
	for i := range r.Intervals {
		if r.value(i) > r.value(top) {
			top = i
		}
	}
	if top != best {
		r.Notes.Add(
			"drops kept %d seasons would net more if they went on ageing as the curve does, but none that old were "+
				"studied: no evidence here",
			r.Intervals[top].Every)
	}
}
