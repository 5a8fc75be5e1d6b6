package sure

import (
	"math"
	"slices"
)

// Outlook is what an option nets against today's practice, money a tap and season. The Error beside a figure is the
// standard error of the simulation alone.
type Outlook struct {
	Mean, MeanError             float64
	P5, P25, P50, P75, P95      float64
	Best, BestError             float64 // chance that no other open option nets more
	Lose, LoseError             float64 // chance of netting less than today's practice
	BeatSpouts, BeatSpoutsError float64 // chance of netting more than yearly new spouts
	Regret, RegretError         float64 // expected shortfall from the open option that turns out best
	Certainty, CertaintyError   float64 // certainty equivalent: the sure net that is as good, at the aversion asked
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
// certainty equivalent is the mean; else −ln(mean of e^(−aversion·net))/aversion (Pratt 1964, Econometrica 32:122).
func (d *Draws) Summary(aversion float64) Summary {
	p := d.p
	s := Summary{Draws: d.N, Aversion: aversion, Rows: make([]Row, len(p.Options))}
	for k, o := range p.Options {
		s.Rows[k].Option = o
	}
	long := d.outlooks(d.Long, aversion)
	var season []Outlook
	if d.Season != nil {
		season = d.outlooks(d.Season, aversion)
	}
	for k := range s.Rows {
		s.Rows[k].Long = long[k]
		if season != nil {
			s.Rows[k].Season = season[k]
		}
	}
	s.EVPI, s.EVPIError = d.evpi()
	return s
}

// Nets are the draws of an option against today's practice.
func (d *Draws) Nets(margins [][]float64, option int) []float64 {
	nets := make([]float64, d.N)
	for i := range nets {
		nets[i] = margins[option][i] - margins[d.p.Today][i]
	}
	return nets
}

// wins gives, of each draw, the most that an open option brings, and how often each is the one; those that tie share.
func (d *Draws) wins(margins [][]float64) (top, wins []float64) {
	p := d.p
	top, wins = make([]float64, d.N), make([]float64, len(p.Options))
	for i := range top {
		top[i] = math.Inf(-1)
		ties := 0
		for k, o := range p.Options {
			if o.Open {
				switch x := margins[k][i]; {
				case x > top[i]:
					top[i], ties = x, 1
				case x == top[i]:
					ties++
				}
			}
		}
		for k, o := range p.Options {
			if o.Open && margins[k][i] == top[i] {
				wins[k] += 1 / float64(ties)
			}
		}
	}
	return top, wins
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
	_, wins := d.wins(d.Long)
	for k := range list {
		loses := 0.0
		for i, x := range d.Long[k] {
			if x < d.Long[d.p.Today][i] {
				loses++
			}
		}
		list[k].Best, list[k].BestError = share(wins[k], n)
		list[k].Lose, list[k].LoseError = share(loses, n)
	}
	return list
}

func (d *Draws) outlooks(margins [][]float64, aversion float64) []Outlook {
	p, n := d.p, float64(d.N)
	list := make([]Outlook, len(p.Options))
	top, wins := d.wins(margins)
	sorted := make([][]float64, len(p.Options))
	chance := func(x float64) (float64, float64) { return share(x, n) }
	p.each(len(p.Options), func(k int) {
		o := &list[k]
		nets := d.Nets(margins, k)
		sum, squares, loses, beats, regret, regrets := 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
		for i, x := range nets {
			sum += x
			squares += x * x
			if x < 0 {
				loses++
			}
			if p.Spouts >= 0 && margins[k][i] > margins[p.Spouts][i] {
				beats++
			}
			short := max(0, top[i]-margins[k][i])
			regret += short
			regrets += short * short
		}
		slices.Sort(nets)
		o.Mean, o.MeanError = sum/n, deviation(sum, squares, n)
		o.P5, o.P25, o.P50, o.P75, o.P95 = at(nets, .05), at(nets, .25), at(nets, .5), at(nets, .75), at(nets, .95)
		o.Best, o.BestError = chance(wins[k])
		o.Lose, o.LoseError = chance(loses)
		o.BeatSpouts, o.BeatSpoutsError = chance(beats)
		o.Regret, o.RegretError = regret/n, deviation(regret, regrets, n)
		o.Certainty, o.CertaintyError = o.Mean, o.MeanError
		if aversion != 0 {
			utility, utilities := 0.0, 0.0
			for _, x := range nets {
				u := math.Exp(-aversion * (x - nets[0]))
				utility += u
				utilities += u * u
			}
			o.Certainty = nets[0] - math.Log(utility/n)/aversion
			o.CertaintyError = deviation(utility, utilities, n) / (utility / n) / aversion // by the delta method
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

// evpi is the mean of the best open option's margin less the best mean, with its simulation error.
func (d *Draws) evpi() (float64, float64) {
	p, n := d.p, float64(d.N)
	best, top := -1, math.Inf(-1)
	for k, o := range p.Options {
		if o.Open {
			if m := mean(d.Long[k]); m > top {
				best, top = k, m
			}
		}
	}
	sum, squares := 0.0, 0.0
	for i := range d.N {
		most := math.Inf(-1)
		for k, o := range p.Options {
			if o.Open {
				most = max(most, d.Long[k][i])
			}
		}
		x := most - d.Long[best][i]
		sum += x
		squares += x * x
	}
	return sum / n, deviation(sum, squares, n)
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
