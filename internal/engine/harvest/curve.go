package harvest

import (
	"math"
	"slices"
	"time"

	"spile/internal/engine/mvt"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// Point is where a practice's mean accumulated yield stood at a time, litres a tap, with its 95 % band over units.
type Point struct {
	At              time.Time
	Mean, Low, High unit.Volume // Low and High are NaN for a single unit
}

// Curve is a practice's season.
type Curve struct {
	Practice practice.Key
	Points   []Point
}

// Accumulation is the season run by run, per practice, without the runs taken out: a point where a round over all units
// ends.
func Accumulation(r trial.Record, t *Total) []Curve {
	s := season{r}
	var dates []time.Time
	for _, r := range s.rounds(func(trial.Plot) string { return "" }).of {
		dates = append(dates, r.last)
	}
	of := map[string][]Run{} // of a unit, in order
	for _, r := range t.Runs {
		of[r.Unit] = append(of[r.Unit], r)
	}
	slices.SortFunc(dates, time.Time.Compare)
	dates = slices.CompactFunc(dates, time.Time.Equal)
	var out []Curve
	for _, p := range s.Plots {
		if slices.ContainsFunc(out, func(c Curve) bool { return c.Practice == p.Practice }) {
			continue
		}
		c := Curve{Practice: p.Practice}
		var runs [][]Run // still to come, of each unit
		var taps, sums []float64
		for _, row := range t.Rows {
			if row.Practice == p.Practice {
				runs, taps, sums = append(runs, of[row.Unit]), append(taps, row.Taps), append(sums, 0)
			}
		}
		for _, d := range dates {
			if len(runs) == 0 {
				break
			}
			for i := range runs {
				for len(runs[i]) > 0 && !runs[i][0].To.After(d) {
					if !runs[i][0].Out {
						sums[i] += float64(runs[i][0].Volume) / taps[i]
					}
					runs[i] = runs[i][1:]
				}
			}
			c.Points = append(c.Points, point(d, sums))
		}
		out = append(out, c)
	}
	return out
}

// point is the mean of units and its t interval.
func point(at time.Time, x []float64) Point {
	n := float64(len(x))
	mean, ss := 0.0, 0.0
	for _, v := range x {
		mean += v / n
	}
	for _, v := range x {
		ss += (v - mean) * (v - mean)
	}
	p := Point{At: at, Mean: unit.Volume(mean), Low: unit.Volume(math.NaN()), High: unit.Volume(math.NaN())}
	if n > 1 {
		half := mvt.Quantile(0.975, n-1) * math.Sqrt(ss/(n-1)/n)
		p.Low, p.High = unit.Volume(max(0, mean-half)), unit.Volume(mean+half)
	}
	return p
}
