package trial

import (
	"math"
	"slices"
)

// PowerCurve is the power to find one gain, by the replicates of each practice.
type PowerCurve struct {
	GainPct float64
	Rows    []PowerRow // ascending replicates; SmallestPct is not worked out, and NaN
	Needed  int        // the fewest replicates with the power asked for; 0: not among those worked out, or not known from them
}

// Simulated power is worked out at fewer points, with fewer runs.
const (
	exactPoints     = 30
	simulatedPoints = 6
	simulatedRuns   = 1000
)

// Curves is power by replicates for the gain asked about and for some smaller and larger ones, up to twice the replicates that the
// gain asked about needs. Where power is simulated there are fewer gains and points, each with its error.
func (s Scheme) Curves(sp Spread, gainPct, alpha, power float64, runs int) ([]PowerCurve, error) {
	if runs == 0 || runs > simulatedRuns {
		runs = simulatedRuns
	}
	needed, c, err := s.Needed(sp, gainPct, alpha, power, runs)
	if err != nil {
		return nil, err
	}
	step, parts, points := 1, []float64{0.5, 0.75, 1, 1.5, 2}, exactPoints
	if s.Design == Latin {
		step = latinRows(s.Practices) / s.Practices
	}
	if !c.Exact {
		parts, points = []float64{0.75, 1, 1.5}, simulatedPoints
	}
	first := max(2, step)
	last := max(2*needed, first+4*step)
	at := []int{needed}
	for i := range points { // closer where curves are steep
		part := math.Pow(float64(i)/float64(points-1), 1.5)
		at = append(at, first+int(math.Round(float64(last-first)*part/float64(step)))*step)
	}
	var curves []PowerCurve
	for _, part := range parts {
		gain := gainPct * part
		if !(gain > -99 && gain <= 1000) {
			continue
		}
		curves = append(curves, PowerCurve{GainPct: gain})
		if c.Exact { // where its own curve passes the power asked for
			if n, _, err := s.Needed(sp, gain, alpha, power, runs); err == nil && n < last {
				at = append(at, n)
			}
		}
	}
	slices.Sort(at)
	at = slices.Compact(at)
	for i := range curves {
		c := &curves[i]
		passed := false
		for k, n := range at {
			s.Replicates = n
			r := PowerRow{Replicates: n, GainPct: c.GainPct, SmallestPct: math.NaN(), Chance: Chance{Units: s.Units(), Exact: true}}
			if _, df, ok := s.exact(sp); !ok || df > 0 { // else nothing tells the error, and nothing is ever found
				if r.Chance, err = s.Power(sp, c.GainPct, alpha, runs); err != nil {
					return nil, err
				}
			}
			if r.Chance.Power >= power && !passed {
				passed = true
				if known := r.Chance.Exact || n == needed || k == 0 || at[k-1] == n-step; known {
					c.Needed, r.Needed = n, true
				}
			}
			c.Rows = append(c.Rows, r)
		}
	}
	return curves, nil
}
