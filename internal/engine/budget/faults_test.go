package budget

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// Whatever numbers stand in the prices, they are a fault or they give a budget in numbers.
func TestFaultOrNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t)
		p = *p.Clone()
		odd := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{
			0, -1, 1, 2, 5, 60, 66, 70, 99, 1e12, 1e308, -1e308, 1e-308, math.NaN(), math.Inf(1), math.Inf(-1),
		}))
		for range rapid.IntRange(1, 4).Draw(t, "spoilt") {
			switch s := rapid.SampledFrom(p.Slots()).Draw(t, "number"); {
			case s.IsValue():
				s.Put(price.Value{Best: odd.Draw(t, "value")})
			case s.Kind == column.Number:
				s.Set(s.Spot, odd.Draw(t, "value"))
			}
		}
		if p.Faults(practice.Shipped()).Err() != nil {
			return
		}
		l := Of(&p)
		y0 := l.Unsanitized(0.31)
		for _, c := range choices() {
			b := Compare(l.Account(c, y0, gains[c]),
				l.Account(practice.Choice{Practice: practice.Unsanitized}, y0, []float64{0}))
			if math.IsNaN(b.Net) || math.IsInf(b.Net, 0) || math.IsNaN(b.PlasticG) || math.IsInf(b.PlasticG, 0) {
				t.Fatalf("%+v: net %v, plastic %v", c, b.Net, b.PlasticG)
			}
		}
	})
}
