package sure

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/trade/practice"
)

// Best guesses: what the choice hangs on when one number moves and all others stay.

// Swing is what one assumption, or the gain of one treatment, does to the net of an option against another.
// Low and High are the ends of the assumption (the 5 and 95 % points where it has no ends), or of a log gain's 95 %
// interval.
type Swing struct {
	Key             string // of the assumption; "" for a gain
	Treatment       int    // index into the gains' treatments; −1 for an assumption
	Low, High       float64
	NetLow, NetHigh float64
	BestLow         string // option that is best there
	BestHigh        string
}

// guess is the state of the world at the best guesses: long-run gains and values.
type guess struct {
	*clerk
	sd    []float64
	gains []float64
	all   []float64 // margins
	moved []int     // treatments whose gain is moved by itself; one with older drops takes those along
}

func (c *clerk) guess() *guess {
	p, n := c.prepared, len(c.Gains.Treatments)
	copy(c.values, p.best)
	g := &guess{clerk: c, sd: make([]float64, n), gains: make([]float64, n),
		all: make([]float64, len(p.Options))}
	_, v := p.Gains.Moments()
	for t := range n {
		g.sd[t] = math.Sqrt(v.At(t, t))
		g.gains[t] = math.Expm1(p.Gains.Best[t])
	}
	for t, x := range p.Gains.Treatments {
		first := slices.Index(p.Gains.Treatments, practice.Treatment{Practice: x.Practice})
		if led := x.DropAge > 0 && first >= 0 && g.sd[first] > 0; g.sd[t] > 0 && !led {
			g.moved = append(g.moved, t)
		}
	}
	return g
}

// gain moves the gain of treatment t so many standard errors from its best guess, on the log scale, and where its drops
// are new those of the same practice's older drops as far as they are expected to move with it: they rest on the same
// studies.
func (g *guess) gain(t int, z float64) {
	of := g.Gains.Treatments[t]
	_, v := g.Gains.Moments()
	for s, x := range g.Gains.Treatments {
		if s != t && (of.DropAge > 0 || x.Practice != of.Practice) {
			continue
		}
		g.gains[s] = math.Expm1(g.Gains.Best[s] + z*v.At(s, t)/g.sd[t])
	}
}

// margins of the open options and of today's now.
func (g *guess) margins() []float64 {
	g.reprice()
	y0 := g.unsanitized(g.gains)
	for k, o := range g.Options {
		if o.Open || k == g.Today {
			g.all[k] = g.margin(k, y0, g.gains)
		}
	}
	return g.all
}

// best open option by margins, and the next best; −1 where there is none.
func (p *prepared) best2(margins []float64) (best, next int) {
	best, next = -1, -1
	for k, o := range p.Options {
		switch {
		case !o.Open:
		case best < 0 || margins[k] > margins[best]:
			best, next = k, best
		case next < 0 || margins[k] > margins[next]:
			next = k
		}
	}
	return best, next
}

// Swings moves every unsure assumption and the gain of every practice to its low and its high end, one at a time:
// the net of an open option against another open one or today's, widest first. The error is note.Faults.
func (m *Model) Swings(option, against int) ([]Swing, error) {
	p, faults := m.prepare()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	g := p.clerk().guess()
	var list []Swing
	side := func() (net float64, best string) {
		x := g.margins()
		b, _ := p.best2(x)
		return x[option] - x[against], p.Options[b].ID
	}
	for _, i := range p.unsure {
		s := Swing{Key: p.Assumptions[i].Key, Treatment: -1}
		s.Low, s.High = p.Assumptions[i].Dist.Low, p.Assumptions[i].Dist.High
		g.values[i] = s.Low
		s.NetLow, s.BestLow = side()
		g.values[i] = s.High
		s.NetHigh, s.BestHigh = side()
		g.values[i] = p.best[i]
		list = append(list, s)
	}
	still := slices.Clone(g.gains)
	for _, t := range g.moved {
		s := Swing{Treatment: t}
		g.gain(t, -1.96)
		s.Low = g.gains[t]
		s.NetLow, s.BestLow = side()
		g.gain(t, 1.96)
		s.High = g.gains[t]
		s.NetHigh, s.BestHigh = side()
		copy(g.gains, still)
		list = append(list, s)
	}
	slices.SortStableFunc(list, func(a, b Swing) int {
		wa, wb := math.Abs(a.NetHigh-a.NetLow), math.Abs(b.NetHigh-b.NetLow)
		switch {
		case wa > wb:
			return -1
		case wa < wb:
			return 1
		}
		return 0
	})
	return list, nil
}

// Pair is two swings at once: the net by the end of A and of B, the low first, and the option that is best there.
type Pair struct {
	A, B Swing
	Net  [2][2]float64
	Best [2][2]string
}

// Pairs moves the first so many of some swings two at a time, each of a pair to both its ends: the net of one option
// against another, the widest pair first. Two gains of one practice are no pair. The error is note.Faults.
func (m *Model) Pairs(option, against int, swings []Swing, most int) ([]Pair, error) {
	p, faults := m.prepare()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	g := p.clerk().guess()
	still := slices.Clone(g.gains)
	move := func(s Swing, end int) {
		if s.Treatment >= 0 {
			g.gain(s.Treatment, [2]float64{-1.96, 1.96}[end])
			return
		}
		i := slices.IndexFunc(p.Assumptions, func(a Assumption) bool { return a.Key == s.Key })
		g.values[i] = [2]float64{s.Low, s.High}[end]
	}
	var list []Pair
	swings = swings[:min(most, len(swings))]
	for i, a := range swings {
		for _, b := range swings[i+1:] {
			if a.Treatment >= 0 && b.Treatment >= 0 &&
				p.Gains.Treatments[a.Treatment].Practice == p.Gains.Treatments[b.Treatment].Practice {
				continue
			}
			pair := Pair{A: a, B: b}
			for x := range 2 {
				for y := range 2 {
					move(a, x)
					move(b, y)
					all := g.margins()
					best, _ := p.best2(all)
					pair.Net[x][y], pair.Best[x][y] = all[option]-all[against], p.Options[best].ID
					copy(g.gains, still)
					copy(g.values, p.best)
				}
			}
			list = append(list, pair)
		}
	}
	slices.SortStableFunc(list, func(a, b Pair) int { return cmp.Compare(b.width(), a.width()) })
	return list, nil
}

// width is how far its ends lie apart.
func (p Pair) width() float64 {
	all := []float64{p.Net[0][0], p.Net[0][1], p.Net[1][0], p.Net[1][1]}
	return slices.Max(all) - slices.Min(all)
}

// Range is where an assumption is looked for: no number outside it makes sense.
type Range struct{ Low, High float64 }

// BreakEven is the value of one assumption, or of the gain of one treatment, at which another option comes to net as
// much as the option asked about, all else at its best guess: the nearest below and above the best guess, nil where
// there is none within the range.
type BreakEven struct {
	Key                    string // of the assumption; "" for a gain
	Treatment              int    // index into the gains' treatments; −1 for an assumption
	Best                   float64
	Low, High              float64 // the ends that it may well have, as a Swing's; both Best where it is fixed
	Below, Above           *float64
	BelowTakes, AboveTakes string // option that then takes over
}

// BreakEvens looks in the range of each assumption (in the model's order), and then in that of each practice's gain:
// four standard errors on either side on the log scale.
func (m *Model) BreakEvens(option int, ranges []Range) ([]BreakEven, error) {
	p, faults := m.prepare()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	n := len(p.Assumptions)
	unsure := p.clerk().guess().moved
	list := make([]BreakEven, n+len(unsure))
	p.share(len(list), 4, func(c *clerk, from, to int) {
		g := c.guess()
		for i := from; i < to; i++ {
			if i < n {
				a := p.Assumptions[i]
				b := BreakEven{Key: a.Key, Treatment: -1, Best: p.best[i], Low: p.best[i], High: p.best[i]}
				if !a.Dist.fixed() {
					b.Low, b.High = a.Dist.Low, a.Dist.High
				}
				g.turns(option, &b, func(x float64) { g.values[i] = x }, ranges[i])
				list[i] = b
				continue
			}
			t, still := unsure[i-n], slices.Clone(g.gains)
			best := p.Gains.Best[t]
			end := func(z float64) float64 { return math.Expm1(best + z*g.sd[t]) }
			b := BreakEven{Treatment: t, Best: g.gains[t], Low: end(-1.96), High: end(1.96)}
			g.turns(option, &b, func(x float64) { g.gain(t, (math.Log1p(x)-best)/g.sd[t]) },
				Range{end(-4), end(4)})
			copy(g.gains, still)
			list[i] = b
		}
	})
	return list, nil
}

// turns looks for where the option loses its lead as the number that set sets goes to either end of a range, and puts
// it back.
func (g *guess) turns(option int, b *BreakEven, set func(x float64), within Range) {
	best := b.Best
	lead := func(x float64) (float64, int) {
		set(x)
		all := g.margins()
		rival, top := -1, math.Inf(-1)
		for k, o := range g.Options {
			if o.Open && k != option && all[k] > top {
				rival, top = k, all[k]
			}
		}
		return all[option] - top, rival
	}
	find := func(end float64) (*float64, string) {
		const cells = 32
		if !(math.Abs(end-best) > 0) {
			return nil, ""
		}
		last := best
		for c := 1; c <= cells; c++ {
			f := float64(c) / cells
			x := best + (end-best)*f*f // finer near the best guess
			l, rival := lead(x)
			if l > 0 {
				last = x
				continue
			}
			if math.IsNaN(l) || rival < 0 {
				return nil, ""
			}
			in, out := last, x
			for range 40 {
				mid := (in + out) / 2
				if l, r := lead(mid); l > 0 {
					in = mid
				} else {
					out, rival = mid, r
				}
			}
			return new((in + out) / 2), g.Options[rival].ID
		}
		return nil, ""
	}
	if l, _ := lead(best); l > 0 {
		b.Below, b.BelowTakes = find(min(within.Low, best))
		b.Above, b.AboveTakes = find(max(within.High, best))
	}
	set(best)
}

// Map is which option wins over two assumptions, all others at their best guesses.
type Map struct {
	X, Y   []float64
	Winner [][]int     // by y and x: index of the best open option
	Lead   [][]float64 // by how much it nets more than the next best
	Net    [][]float64 // its net against today's practice
}

// Over draws the map of assumptions a and b at the values given.
func (m *Model) Over(a, b int, x, y []float64) (Map, error) {
	p, faults := m.prepare()
	if err := faults.Err(); err != nil {
		return Map{}, err
	}
	r := Map{X: x, Y: y, Winner: make([][]int, len(y)), Lead: matrix(len(y), len(x)), Net: matrix(len(y), len(x))}
	p.share(len(y), 1, func(c *clerk, j, _ int) {
		g := c.guess()
		r.Winner[j] = make([]int, len(x))
		g.values[b] = y[j]
		for i, v := range x {
			g.values[a] = v
			all := g.margins()
			best, next := p.best2(all)
			r.Winner[j][i], r.Net[j][i] = best, all[best]-all[p.Today]
			if next >= 0 {
				r.Lead[j][i] = all[best] - all[next]
			}
		}
	})
	return r, nil
}
