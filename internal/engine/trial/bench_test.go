package trial

import (
	"testing"

	"spile/internal/trade/practice"
)

// BenchmarkAnalyse is 48 unit-seasons (those that crosscheck/bench.R gives to lmer with its summary) with all that an
// analysis says: adjusted p, pairs, seasons, residuals.
func BenchmarkAnalyse(b *testing.B) {
	rows, _ := stored(b, "invented-trial")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Analyse(rows, practice.Shipped(), Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkFit is the same rows with what lmer and its summary give: the fit, and gains with Kenward-Roger intervals.
func BenchmarkFit(b *testing.B) {
	rows, _ := stored(b, "invented-trial")
	b.ReportAllocs()
	for b.Loop() {
		m, err := newModel(rows, practice.Shipped(), Options{})
		if err != nil {
			b.Fatal(err)
		}
		f, err := m.fit()
		if err != nil {
			b.Fatal(err)
		}
		m.gains(f)
	}
}

// BenchmarkSimulate is 10,000 simulated trials of 48 unit-seasons, each through the analysis.
func BenchmarkSimulate(b *testing.B) {
	s, sp := Scheme{Design: Blocks, Practices: 4, Replicates: 6, Seasons: 2}, Spread{Unit: 0.12, Season: 0.1, Block: 0.15}
	for b.Loop() {
		if _, err := s.Simulate(sp, 25, 10000, 7); err != nil {
			b.Fatal(err)
		}
	}
}
