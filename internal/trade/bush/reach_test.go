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
		b := Sugarbush{Elevation: new(unit.Metre.Of(metres))}
		want := min(float64(Tight), air-float64(unit.InchOfMercury.Of(3)))
		if got := float64(b.Reach()); math.Abs(got-want) > 0.01 {
			t.Errorf("at %v m %.3f kPa, want %.3f", metres, got, want)
		}
		// What is stated is what this system attains: as the air allows.
		b.Attainable = unit.InchOfMercury.Of(28)
		want = min(float64(b.Attainable), air)
		if got := float64(b.Reach()); math.Abs(got-want) > 0.01 {
			t.Errorf("at %v m where 28 inHg is stated %.3f kPa, want %.3f", metres, got, want)
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
