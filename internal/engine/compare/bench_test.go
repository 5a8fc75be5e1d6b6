package compare

import (
	"testing"

	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// BenchmarkAnalyse is 48 unit-seasons (those that crosscheck/bench.R gives to lmer with its summary) with all that an
// analysis says: adjusted p, pairs, seasons, residuals.
func BenchmarkAnalyse(b *testing.B) {
	rows, _ := stored(b, "invented-trial")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Analyse(rows, practice.Shipped(), trial.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkFit is the same rows with what lmer and its summary give: the fit, and gains with Kenward-Roger intervals.
func BenchmarkFit(b *testing.B) {
	rows, _ := stored(b, "invented-trial")
	b.ReportAllocs()
	for b.Loop() {
		m, err := newModel(rows, practice.Shipped(), trial.Options{})
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
