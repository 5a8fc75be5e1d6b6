package power

import (
	"math"
	"os"
	"testing"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/trade/trial"
)

// fortyEight is six blocks of four practices over two seasons.
var fortyEight = design.Scheme{Design: trial.Blocks, Practices: 4, Replicates: 6, Seasons: 2}

// TestCoverage: how often 95 % intervals of simulated trials of 48 unit-seasons hold the true gain (93 to 97 %), and
// how often any of three gains that are zero is found by the adjusted p (4.3 to 5.7 %), with the Monte Carlo error.
// Where units do not differ at all, their variance is estimated at 0 or above and never below, and Kenward-Roger
// inference is cautious: the intervals hold the truth more often and the familywise error is less. A short run by
// default; SPILE_COVERAGE=1 runs 10,000 trials each.
func TestCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	runs := 600
	if os.Getenv("SPILE_COVERAGE") != "" {
		runs = 10000
	}
	for _, c := range []struct {
		name           string
		sp             Spread
		covers, family [2]float64 // least and most
	}{
		{"blocks, units and seasons", Spread{Unit: 0.12, Season: 0.10, Block: 0.15}, [2]float64{93, 97},
			[2]float64{4.3, 5.7}},
		{"blocks alike", Spread{Unit: 0.12, Season: 0.10}, [2]float64{93, 97}, [2]float64{4.3, 5.7}},
		{"units alike", Spread{Unit: 0.01, Season: 0.15, Block: 0.10}, [2]float64{93, 98.5}, [2]float64{1.5, 5.7}},
	} {
		t.Run(c.name, func(t *testing.T) {
			share := func(what string, gain, low, high float64, hit func(compare.Gain) bool) {
				t.Helper()
				sim, err := Trial{Scheme: fortyEight, Spread: c.sp, Runs: runs}.Simulate(gain, 2026)
				if err != nil {
					t.Fatal(err)
				}
				n := 0
				for _, g := range sim {
					if hit(g) {
						n++
					}
				}
				got := 100 * float64(n) / float64(runs)
				se := math.Sqrt(got * (100 - got) / float64(runs))
				t.Logf("%s: %.2f %% (Monte Carlo error %.2f) of %d trials", what, got, se, runs)
				slack := 0.0
				if runs < 10000 {
					slack = 2.5 * se
				}
				if got < low-slack || got > high+slack {
					t.Errorf("%s: %.2f %%, want %v to %v %%", what, got, low, high)
				}
			}
			share("coverage of 95 % intervals", 25, c.covers[0], c.covers[1],
				func(g compare.Gain) bool { return g.Low <= math.Log(1.25) && math.Log(1.25) <= g.High })
			share("familywise error", 0, c.family[0], c.family[1],
				func(g compare.Gain) bool { return g.PAdjusted < 0.05 })
		})
	}
}
