package harvest

import (
	"math"
	"slices"
	"time"

	"spile/internal/note"
)

// departures are runs whose log ratio to the rest of the block lies far from the unit's usual one: robust z from medians
// and the median absolute deviation over all runs (Iglewicz & Hoaglin 1993). A unit is held against the others of its
// block, each less its own usual level, so that neither practices nor the unit itself hide it.
func (s season) departures(t *Total, rounds rounds) []Finding {
	type place struct {
		block    string
		from, to time.Time
	}
	placeOf := func(r Run) place {
		b := s.plot(r.Unit).Block
		from, to := rounds.span(b, r)
		return place{b, from, to}
	}
	taps := map[string]float64{}
	for _, r := range t.Rows {
		taps[r.Unit] = r.Taps
	}
	var runs []Run
	var logs []float64
	together := map[place][]int{} // runs of a block between the same rounds
	for _, r := range t.Runs {
		if r.Volume > 0 && taps[r.Unit] > 0 {
			k := placeOf(r)
			together[k] = append(together[k], len(runs))
			runs = append(runs, r)
			logs = append(logs, math.Log(float64(r.Volume)/taps[r.Unit]))
		}
	}
	of := func(at []int, but int, f func(i int) float64) float64 {
		var x []float64
		for _, i := range at {
			if i != but {
				x = append(x, f(i))
			}
		}
		return median(x)
	}
	own := map[string][]float64{} // a unit's log ratios to its block
	for i, r := range runs {
		if at := together[placeOf(r)]; len(at) >= 3 {
			own[r.Unit] = append(own[r.Unit], logs[i]-of(at, -1, func(j int) float64 { return logs[j] }))
		}
	}
	x, apart := make([]float64, len(runs)), []float64{}
	for i, r := range runs {
		at := together[placeOf(r)]
		x[i] = math.NaN()
		if len(at) < 3 || len(own[r.Unit]) < 4 {
			continue // too few to know what is usual
		}
		usual := func(j int) float64 {
			if o := own[runs[j].Unit]; len(o) > 0 {
				return logs[j] - median(o)
			}
			return logs[j]
		}
		x[i] = usual(i) - of(at, i, usual)
		apart = append(apart, math.Abs(x[i]))
	}
	if len(apart) < 8 {
		return nil
	}
	scale := max(1.4826*median(apart), 0.02)
	var out []Finding
	for i, r := range runs {
		z := x[i] / scale
		if !(math.Abs(z) > far) || r.Out {
			continue
		}
		block := s.plot(r.Unit).Block
		f := Finding{Kind: Departs, Block: block, Units: []string{r.Unit}, From: r.From, To: r.To,
			Evidence: note.New("unit %s gave %v of what it usually gives beside its block on the run to %s (robust z %.1f)",
				r.Unit, note.Percent(100*math.Exp(x[i])), note.Day(r.To), z)}
		f.Remedy, f.Exclusion = s.wholeBlock(t, rounds, block, r)
		out = append(out, f)
	}
	return out
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}
