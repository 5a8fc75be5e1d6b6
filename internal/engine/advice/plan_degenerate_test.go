package advice_test

import (
	"math"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/trade/bush"
	"spile/internal/trade/evidence"
	"spile/internal/trade/unit"
)

// restated is a dozen of the demo's studies with vacuum (inches of mercury) and age of tubing as given for each; NaN:
// not stated.
func restated(vacuum, age func(study int) float64) func(*advice.Input) {
	return func(in *advice.Input) {
		list := make([]evidence.Study, 12)
		for i, s := range in.Studies[:12] {
			arms := make([]evidence.Arm, len(s.Arms))
			for k, a := range s.Arms {
				a.Vacuum, a.LineAge = nil, nil
				if x := vacuum(i); !math.IsNaN(x) {
					a.Vacuum = new(unit.InchOfMercury.Of(x))
				}
				if x := age(i); !math.IsNaN(x) {
					a.LineAge = &x
				}
				arms[k] = a
			}
			s.Arms = arms
			list[i] = s
		}
		in.Studies = list
	}
}

// What studies hardly differ in tells nothing of a sugarbush: where vacuum and tubing's age are stated by one study, by
// all alike, or alike but for the rounding of another unit, its plan is that of studies that state neither, drawn
// together or not. Of two studies that differ by little, little comes.
func TestPropertiesThatHardlyDiffer(t *testing.T) {
	alike := func(x, by float64) func(int) float64 {
		return func(i int) float64 { return x + by*float64(i%3-1) }
	}
	only := func(studies int, x func(int) float64) func(int) float64 {
		return func(i int) float64 {
			if i < studies {
				return x(i)
			}
			return math.NaN()
		}
	}
	for _, c := range []struct {
		name        string
		vacuum, age func(int) float64
		unshrunk    bool
		within      float64 // of profit, a part
	}{
		{"one study", only(1, alike(22.5, 0)), only(1, alike(6.5, 0)), false, 1e-9},
		{"all alike", alike(22.5, 0), alike(6.5, 0), false, 1e-9},
		{"rounded", alike(22.5, 0.002), alike(6.5, 0.002), false, 1e-9},
		{"rounded, not drawn together", alike(22.5, 0.002), alike(6.5, 0.002), true, 1e-9},
		{"a little apart", alike(22.5, 0.2), alike(6.5, 0.2), false, 0.05},
		{"two studies", only(2, alike(22, 1)), only(2, alike(6, 1)), false, 0.05},
	} {
		told := func(more func(*advice.Input)) float64 {
			p := changed(t, func(b *bush.Sugarbush) {
				b.Sections, b.Crews, b.Cash = b.Sections[:1], nil, nil
				b.Sections[0].Vacuum, b.Sections[0].LineAge = new(unit.InchOfMercury.Of(22.5)), new(6.5)
			}, more, func(in *advice.Input) { in.Pool.Unshrunk = c.unshrunk })
			if len(p.Sections) != 1 {
				t.Fatalf("%s: %+v", c.name, p.Unplanned)
			}
			return p.Profit.Expected
		}
		none := func(int) float64 { return math.NaN() }
		got, want := told(restated(c.vacuum, c.age)), told(restated(none, none))
		if !(math.Abs(got-want) <= c.within*want) {
			t.Errorf("%s: a profit of %.0f, of studies that state neither %.0f", c.name, got, want)
		}
	}
}
