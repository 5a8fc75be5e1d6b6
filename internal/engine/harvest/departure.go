package harvest

import (
	"math"
	"slices"
	"time"

	"spile/internal/note"
)

// departures are runs whose log ratio to the rest of the block lies far from the unit's usual one: robust z from
// medians and the median absolute deviation over all runs (Iglewicz & Hoaglin 1993). A unit is held against the others
// of its block, each less its own usual level, so that neither practices nor the unit itself hide it.
func (s season) departures(t *Total, rounds rounds) []Finding {
	b := s.beside(t, rounds)
	x, apart := make([]float64, len(b.runs)), []float64{}
	for i := range b.runs {
		if x[i] = b.departs(i); !math.IsNaN(x[i]) {
			apart = append(apart, math.Abs(x[i]))
		}
	}
	if len(apart) < 8 {
		return nil
	}
	scale := max(1.4826*median(apart), 0.02)
	var out []Finding
	for i, r := range b.runs {
		z := x[i] / scale
		if !(math.Abs(z) > far) || r.Out {
			continue
		}
		block := s.plot(r.Unit).Block
		f := Finding{Kind: Departs, Block: block, Units: []string{r.Unit}, From: r.From, To: r.To,
			Evidence: note.New("unit %s gave %v of what it usually gives beside its block on the run to %s (robust z "+
				"%.1f)",
				r.Unit, note.Percent(100*math.Exp(x[i])), note.Day(r.To), z)}
		f.Remedy, f.Exclusion = s.wholeBlock(t, rounds, block, r)
		out = append(out, f)
	}
	return out
}

// beside is runs beside those of their block between the same rounds.
type beside struct {
	runs     []Run
	logs     []float64            // of each, ln litres a tap
	together [][]int              // of each, the runs of its block between the same rounds, itself among them
	own      map[string][]float64 // log ratios of a unit's runs to their block
}

func (s season) beside(t *Total, rounds rounds) beside {
	type place struct {
		block    string
		from, to time.Time
	}
	taps := map[string]float64{}
	for _, r := range t.Rows {
		taps[r.Unit] = r.Taps
	}
	b := beside{own: map[string][]float64{}}
	at := map[place][]int{}
	var places []place
	for _, r := range t.Runs {
		if r.Volume > 0 && taps[r.Unit] > 0 {
			block := s.plot(r.Unit).Block
			from, to := rounds.span(block, r)
			p := place{block, from, to}
			at[p] = append(at[p], len(b.runs))
			places = append(places, p)
			b.runs = append(b.runs, r)
			b.logs = append(b.logs, math.Log(float64(r.Volume)/taps[r.Unit]))
		}
	}
	for i, r := range b.runs {
		b.together = append(b.together, at[places[i]])
		if len(b.together[i]) >= 3 {
			b.own[r.Unit] = append(b.own[r.Unit], b.logs[i]-b.middle(i, true, func(j int) float64 { return b.logs[j] }))
		}
	}
	return b
}

// middle is the median of something over the runs that are together with one, that one among them or not.
func (b beside) middle(i int, among bool, of func(j int) float64) float64 {
	var x []float64
	for _, j := range b.together[i] {
		if among || j != i {
			x = append(x, of(j))
		}
	}
	return median(x)
}

// departs is how far a run lies from what its unit usually gives beside its block, as a log ratio; NaN where too few
// runs tell what is usual.
func (b beside) departs(i int) float64 {
	if len(b.together[i]) < 3 || len(b.own[b.runs[i].Unit]) < 4 {
		return math.NaN()
	}
	level := func(j int) float64 {
		if o := b.own[b.runs[j].Unit]; len(o) > 0 {
			return b.logs[j] - median(o)
		}
		return b.logs[j]
	}
	return level(i) - b.middle(i, false, level)
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}
