package mvt

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// However little freedom there is, several comparisons together are told between Bonferroni's bound and one alone.
func TestHardlyAnyFreedom(t *testing.T) {
	r := mat.NewSymDense(2, []float64{1, 0.5, 0.5, 1})
	for _, df := range []float64{1, 0.3, 0.1, 0.03, 0.01, 0.003, 1e-3, 1e-4, 1e-6, 1e-9} {
		for _, at := range []float64{1e-3, 1, 1e3} {
			one := 2 * Tail(at, df)
			p, err := Within(at, r, df)
			if !(p >= 1-2*one-1e-6) || !(p <= 1-one+1e-6) || math.IsNaN(err) {
				t.Errorf("%v degrees of freedom, t %v: %v ± %v, one alone %v", df, at, p, err, 1-one)
			}
		}
		if c := Critical(0.95, r, df); !(c >= Quantile(0.975, df)*(1-1e-9)) {
			t.Errorf("%v degrees of freedom: all within %v, one within %v", df, c, Quantile(0.975, df))
		}
	}
}
