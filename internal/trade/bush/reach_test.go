package bush

import (
	"math"
	"testing"

	"spile/internal/trade/unit"
)

// The standard atmosphere (ISO 2533:1975): 101.325 kPa at the sea, 95.461 at 500 m, 89.875 at 1,000 m, 79.495 at 2,000
// m.
func TestReach(t *testing.T) {
	for metres, air := range map[float64]float64{0: 101.325, 500: 95.461, 1000: 89.875, 2000: 79.495} {
		b := Sugarbush{Attainable: unit.InchOfMercury.Of(29), Elevation: new(unit.Metre.Of(metres))}
		if got, want := float64(b.Reach()), air-float64(unit.InchOfMercury.Of(3)); math.Abs(got-want) > 0.01 {
			t.Errorf("at %v m %.3f kPa, want %.3f", metres, got, want)
		}
	}
	vacuum := unit.InchOfMercury.Of(28.4) // of 27.6 inHg that the air has at 2,200 ft by the same formula
	x := Section{Name: "Hill", Taps: 1, Vacuum: &vacuum}
	for feet, want := range map[float64]int{100: 0, 2200: 1} {
		b := Sugarbush{Seasons: 1, Sections: []Section{x}, Elevation: new(unit.Foot.Of(feet))}
		if f := b.Faults(nil); len(f) != want {
			t.Errorf("28.4 inHg at %v ft: %v", feet, f)
		}
	}
	if got := new(Sugarbush).Reach(); got != Tight {
		t.Errorf("%v where nothing is said, want %v", got, Tight)
	}
}
