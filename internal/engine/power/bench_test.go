package power

import (
	"testing"
)

// BenchmarkSimulate is 10,000 simulated trials of 48 unit-seasons, each through the analysis.
func BenchmarkSimulate(b *testing.B) {
	t := Trial{Scheme: fortyEight, Spread: Spread{Unit: 0.12, Season: 0.1, Block: 0.15}, Runs: 10000}
	for b.Loop() {
		if _, err := t.Simulate(25, 7); err != nil {
			b.Fatal(err)
		}
	}
}
