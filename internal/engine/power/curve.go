package power

import (
	"math"
	"slices"
)

// Curve is the power to find one gain, by the replicates of each practice.
type Curve struct {
	GainPct float64
	Rows    []Row // ascending replicates; SmallestPct is not worked out, and NaN
	// the fewest replicates with the power asked for; 0: not among those worked out, or not known from them
	Needed int
}

// Simulated power is worked out at fewer points, with fewer runs.
const (
	exactPoints     = 30
	simulatedPoints = 6
	simulatedRuns   = 1000
)

// Curves is power by replicates for the gain asked about and for some smaller and larger ones, up to twice the
// replicates that the gain asked about needs. Where power is simulated there are fewer gains and points, each with its
// error. The error is note.Faults.
func (t Trial) Curves(gainPct float64) ([]Curve, error) {
	t.Runs = min(t.Runs, simulatedRuns)
	needed, c, err := t.Needed(gainPct)
	if err != nil {
		return nil, err
	}
	parts, points := []float64{0.5, 0.75, 1, 1.5, 2}, exactPoints
	if !c.Exact {
		parts, points = []float64{0.75, 1, 1.5}, simulatedPoints
	}
	step := t.Step()
	first := max(2, step)
	last := max(2*needed, first+4*step)
	at := []int{needed}
	for i := range points { // closer where curves are steep
		part := math.Pow(float64(i)/float64(points-1), 1.5)
		at = append(at, first+int(math.Round(float64(last-first)*part/float64(step)))*step)
	}
	var gains []float64
	for _, part := range parts {
		gain := gainPct * part
		if !within(gain) {
			continue
		}
		gains = append(gains, gain)
		if c.Exact { // where its own curve passes the power asked for
			if n, _, err := t.Needed(gain); err == nil && n < last {
				at = append(at, n)
			}
		}
	}
	slices.Sort(at)
	at = slices.Compact(at)
	var curves []Curve
	for _, gain := range gains {
		c, err := t.curve(gain, at, needed)
		if err != nil {
			return nil, err
		}
		curves = append(curves, c)
	}
	return curves, nil
}

// curve is that of one gain at some replicates; needed is what the gain asked about needs.
func (t Trial) curve(gainPct float64, at []int, needed int) (Curve, error) {
	c := Curve{GainPct: gainPct}
	passed := false
	for k, n := range at {
		here := t.at(n)
		r := Row{Replicates: n, GainPct: gainPct, SmallestPct: math.NaN(),
			Chance: Chance{Units: here.Units(), Exact: true}}
		if !here.hopeless() {
			var err error
			if r.Chance, err = here.Chance(gainPct); err != nil {
				return c, err
			}
		}
		if r.Chance.Power >= t.Asked && !passed {
			passed = true
			if known := r.Chance.Exact || n == needed || k == 0 || at[k-1] == n-t.Step(); known {
				c.Needed, r.Needed = n, true
			}
		}
		c.Rows = append(c.Rows, r)
	}
	return c, nil
}
