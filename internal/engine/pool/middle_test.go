package pool

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Hyndman & Fan's definition 7 by sorting, for draws of any size and with ties.
func TestMiddle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.OneOf(rapid.Float64Range(-10, 10), rapid.SampledFrom([]float64{0, 1})), 1, 200).
			Draw(t, "x")
		sorted := slices.Sorted(slices.Values(x))
		want := func(p float64) float64 {
			h := p * float64(len(x)-1)
			k := int(math.Floor(h))
			return sorted[k] + (h-float64(k))*(sorted[min(k+1, len(x)-1)]-sorted[k])
		}
		low, high := Middle(x)
		if math.Abs(low-want(0.025)) > 1e-12 || math.Abs(high-want(0.975)) > 1e-12 {
			t.Fatalf("%v to %v, want %v to %v", low, high, want(0.025), want(0.975))
		}
		if !slices.Equal(slices.Sorted(slices.Values(x)), sorted) {
			t.Fatal("a draw was lost")
		}
	})
}
