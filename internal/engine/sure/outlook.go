package sure

import (
	"math"
	"slices"

	"spile/internal/engine/pool"
)

// Outlook is what an option nets against today's practice, money a tap and season. The Error beside a figure is the
// standard error of the simulation alone.
type Outlook struct {
	Mean, MeanError        float64
	P5, P25, P50, P75, P95 float64
	Poor, Good             float64 // one in ten nets less, and one in ten more
	// what a tap brings in one season less all that the option costs: one in ten brings less, half do, and one in ten
	// brings more; not told of the long run
	Brings                      [3]float64
	Best, BestError             float64 // chance that no other open option nets more
	Lose, LoseError             float64 // chance of netting less than today's practice
	BeatSpouts, BeatSpoutsError float64 // chance of netting more than yearly new spouts
	Regret, RegretError         float64 // expected shortfall from the open option that turns out best
	// certainty equivalent: the sure net that is as good, at the aversion asked; NaN where it hangs on few draws
	Certainty, CertaintyError float64
	// options that dominate it stochastically, to the first and to the second degree only
	First, Second []string
}

// Row is an option with its two outlooks: they answer different questions.
type Row struct {
	Option
	Long, Season Outlook
}

// Summary is what the draws say of every option, in the model's order.
type Summary struct {
	Rows      []Row
	Draws     int
	Aversion  float64 // of the certainty equivalents
	EVPI      float64 // expected value of perfect information, long run, money a tap and season
	EVPIError float64
}

// Summary sums the draws up. aversion is the constant absolute aversion to risk, per unit of money a tap: at 0 the
// certainty equivalent is the mean; else −ln(mean of e^(−aversion·net))/aversion (Pratt 1964, Econometrica 32:122). It
// is not told where the worst draws outweigh all others, since more draws would have worse ones: losses have no floor.
func (d *Draws) Summary(aversion float64) Summary {
	p := d.p
	s := Summary{Draws: d.N, Aversion: aversion, Rows: make([]Row, len(p.Options))}
	for k, o := range p.Options {
		s.Rows[k].Option = o
	}
	tallies, tall := d.tallies(aversion)
	long := d.outlooks(d.Long, tallies, aversion)
	var season []Outlook
	if d.Season != nil {
		season = d.outlooks(d.Season, tall, aversion)
		p.each(len(season), func(k int) { season[k].Brings = tenths(slices.Clone(d.Season[k])) })
	}
	for k := range s.Rows {
		s.Rows[k].Long = long[k]
		if season != nil {
			s.Rows[k].Season = season[k]
		}
	}
	best := p.most(tallies) // knowing everything is worth what is then not regretted
	s.EVPI, s.EVPIError = long[best].Regret, long[best].RegretError
	return s
}

// Single is what a single season brings and nets, in so many draws, and no more of a Summary than that: a poor season,
// a usual and a good one. The error is note.Faults.
func (m *Model) Single(n int, seed uint64) (Summary, error) {
	p, faults := m.drawable()
	if err := faults.Err(); err != nil {
		return Summary{}, err
	}
	d := &Draws{N: n, p: p, seed: seed, Season: matrix(len(p.Options), min(n, Kept))}
	d.fill()
	s := Summary{Draws: n, Rows: make([]Row, len(p.Options))}
	p.each(len(p.Options), func(k int) {
		s.Rows[k].Option = p.Options[k]
		o, nets := &s.Rows[k].Season, tenths(d.Nets(d.Season, k))
		o.Poor, o.P50, o.Good = nets[0], nets[1], nets[2]
	})
	p.each(len(p.Options), func(k int) { s.Rows[k].Season.Brings = tenths(d.Season[k]) })
	return s, nil
}

// tenths are what one in ten of x is below, half are, and all but one in ten. It puts x in another order.
func tenths(x []float64) [3]float64 {
	return [3]float64{pool.Quantile(x, .1), pool.Quantile(x, .5), pool.Quantile(x, .9)}
}

// Nets are the draws kept of an option against today's practice.
func (d *Draws) Nets(margins [][]float64, option int) []float64 {
	nets := make([]float64, len(margins[option]))
	for i := range nets {
		nets[i] = margins[option][i] - margins[d.p.Today][i]
	}
	return nets
}

// tally is what is summed up of an option over draws: its margins and their squares against today's practice, how often
// it is best (those that tie share), nets less than today's practice and more than yearly new spouts, what it falls
// short of the best and the square of that, and e^(−aversion·(net − floor)) and its square.
type tally struct {
	sum, squares, wins, loses, beats, short, shorts, utility, utilities float64
}

func (t *tally) add(o *tally) {
	t.sum, t.squares = t.sum+o.sum, t.squares+o.squares
	t.wins, t.loses, t.beats = t.wins+o.wins, t.loses+o.loses, t.beats+o.beats
	t.short, t.shorts = t.short+o.short, t.shorts+o.shorts
	t.utility, t.utilities = t.utility+o.utility, t.utilities+o.utilities
}

// tallies sums up all draws, by option, chunk by chunk, so that it is the same on any number of cores.
func (d *Draws) tallies(aversion float64) (long, season []tally) {
	floors := [2][]float64{d.floors(d.Long), d.floors(d.Season)}
	const group = 4 * chunk
	parts := make([][2][]tally, (d.N+group-1)/group)
	d.p.share(d.N, group, func(c *clerk, from, to int) {
		sums := [2][]tally{make([]tally, len(d.Long)), make([]tally, len(d.Season))}
		for at := from; at < to; at += chunk {
			for i, margins := range d.at(c, at, min(to, at+chunk)) {
				d.p.count(margins, floors[i], aversion, sums[i])
			}
		}
		parts[from/group] = sums
	})
	long, season = make([]tally, len(d.Long)), make([]tally, len(d.Season))
	for _, x := range parts {
		for k := range x[0] {
			long[k].add(&x[0][k])
		}
		for k := range x[1] {
			season[k].add(&x[1][k])
		}
	}
	return long, season
}

// floors are the least nets kept, by option: utilities are counted from them, so that none runs over.
func (d *Draws) floors(margins [][]float64) []float64 {
	list := make([]float64, len(margins))
	for k := range margins {
		list[k] = math.Inf(1)
		for i, x := range margins[k] {
			list[k] = min(list[k], x-margins[d.p.Today][i])
		}
	}
	return list
}

// count adds up a range of draws.
func (p *prepared) count(margins [][]float64, floors []float64, aversion float64, to []tally) {
	if len(margins) == 0 {
		return
	}
	for i := range margins[0] {
		top, ties := math.Inf(-1), 0.0
		for k := range p.Options {
			if p.Options[k].Open {
				switch x := margins[k][i]; {
				case x > top:
					top, ties = x, 1
				case x == top:
					ties++
				}
			}
		}
		today := margins[p.Today][i]
		for k := range to {
			t, x := &to[k], margins[k][i]
			net, short := x-today, top-x
			if short < 0 { // not max, of which a browser makes a call
				short = 0
			}
			t.sum, t.squares = t.sum+net, t.squares+net*net
			t.short, t.shorts = t.short+short, t.shorts+short*short
			if net < 0 {
				t.loses++
			}
			if p.Spouts >= 0 && x > margins[p.Spouts][i] {
				t.beats++
			}
			if x == top && p.Options[k].Open {
				t.wins += 1 / ties
			}
			if aversion != 0 {
				u := math.Exp(-aversion * (net - floors[k]))
				t.utility, t.utilities = t.utility+u, t.utilities+u*u
			}
		}
	}
}

// most is the open option with the highest mean.
func (p *prepared) most(tallies []tally) int {
	best := -1
	for k, o := range p.Options {
		if o.Open && (best < 0 || tallies[k].sum > tallies[best].sum) {
			best = k
		}
	}
	return best
}

// deviation is the standard error of the mean of n numbers, by their sum and that of their squares.
func deviation(sum, squares, n float64) float64 {
	return math.Sqrt(max(0, squares/n-sum/n*sum/n) / n)
}

// share is x of n with the standard error of the simulation.
func share(x, n float64) (chance, err float64) { return x / n, math.Sqrt(x / n * (1 - x/n) / n) }

// Chance is how likely an option is to be best and to lose money over the long run, as in Outlook.
type Chance struct {
	Best, BestError float64
	Lose, LoseError float64
}

// Chances are those of every option, in the model's order: what a ranking shows of a Summary, at a fraction of its
// work.
func (d *Draws) Chances() []Chance {
	n := float64(d.N)
	list := make([]Chance, len(d.p.Options))
	tallies, _ := d.tallies(0)
	for k, t := range tallies {
		list[k].Best, list[k].BestError = share(t.wins, n)
		list[k].Lose, list[k].LoseError = share(t.loses, n)
	}
	return list
}

// weighty is the part of the draws, one in so many, that a certainty equivalent rests on at least: the effective number
// of draws of weights e^(−aversion·net) (Kish 1965, Survey Sampling). Of 10,000 its standard error is a twentieth of
// 1/aversion then.
const weighty = 25

func (d *Draws) outlooks(margins [][]float64, tallies []tally, aversion float64) []Outlook {
	p, n := d.p, float64(d.N)
	list := make([]Outlook, len(p.Options))
	sorted := make([][]float64, len(p.Options))
	p.each(len(p.Options), func(k int) {
		o, t := &list[k], &tallies[k]
		nets := d.Nets(margins, k)
		slices.Sort(nets)
		o.Mean, o.MeanError = t.sum/n, deviation(t.sum, t.squares, n)
		o.P5, o.P25, o.P50, o.P75, o.P95 = at(nets, .05), at(nets, .25), at(nets, .5), at(nets, .75), at(nets, .95)
		o.Poor, o.Good = at(nets, .1), at(nets, .9)
		o.Best, o.BestError = share(t.wins, n)
		o.Lose, o.LoseError = share(t.loses, n)
		o.BeatSpouts, o.BeatSpoutsError = share(t.beats, n)
		o.Regret, o.RegretError = t.short/n, deviation(t.short, t.shorts, n)
		o.Certainty, o.CertaintyError = o.Mean, o.MeanError
		if aversion != 0 {
			o.Certainty = nets[0] - math.Log(t.utility/n)/aversion
			o.CertaintyError = deviation(t.utility, t.utilities, n) / (t.utility / n) / aversion // by the delta method
			if t.utility*t.utility/t.utilities < n/weighty {
				o.Certainty, o.CertaintyError = math.NaN(), math.NaN()
			}
		}
		sorted[k] = nets
	})
	p.each(len(p.Options), func(k int) {
		for j, o := range p.Options {
			if j == k || !o.Open {
				continue
			}
			switch first, second := dominates(sorted[j], sorted[k]); {
			case first:
				list[k].First = append(list[k].First, o.ID)
			case second:
				list[k].Second = append(list[k].Second, o.ID)
			}
		}
	})
	return list
}

// each runs work for every option on all cores.
func (p *prepared) each(n int, work func(k int)) {
	done := make(chan struct{})
	for k := range n {
		go func() { work(k); done <- struct{}{} }()
	}
	for range n {
		<-done
	}
}

// at is a quantile of a sorted list.
func at(sorted []float64, p float64) float64 {
	x := p * float64(len(sorted)-1)
	i := int(x)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}

// dominates says whether draws a, sorted, dominate b: to the first degree no quantile of a is below that of b; to the
// second no partial sum from the worst upward is (Hadar & Russell 1969, American Economic Review 59:25).
func dominates(a, b []float64) (first, second bool) {
	first, second = true, true
	differ := false
	sum := 0.0
	for i := range a {
		first = first && a[i] >= b[i]
		differ = differ || a[i] != b[i]
		sum += a[i] - b[i]
		if second = second && sum >= 0; !second {
			return false, false
		}
	}
	return first && differ, second && differ
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
