package unit

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestConversions(t *testing.T) {
	tests := []struct {
		what      string
		got, want float64
		within    float64
	}{
		// NIST Handbook 44, Appendix C: 1 gallon = 231 cubic inches = 3.785 412 L; 1 pound = 453.592 37 g exactly.
		{"US gallon in cubic inches", float64(USGallon.Of(1)) * 1e-3 / math.Pow(float64(Inch.Of(1)), 3), 231, 1e-9},
		{"US gallon in litres", float64(USGallon.Of(1)), 3.785412, 5e-7},
		{"pound in grams", float64(Pound.Of(1)) * 1000, 453.59237, 1e-9},
		// NIST Special Publication 811, Appendix B.8: gallon [Canadian and U.K. (Imperial)] 4.54609 E−03 m³.
		{"imperial gallon in litres", float64(ImperialGallon.Of(1)), 4.54609, 1e-12},
		// The US gallon is 0.8327 imperial gallon (common practice, no source).
		{"US gallon in imperial gallons", USGallon.Of(1).In(ImperialGallon), 0.8327, 5e-5},
		// 1 inHg = 3.386 kPa (common practice, no source; SP 811 has 3.386 389 for the conventional inch).
		{"inch of mercury in kPa", float64(InchOfMercury.Of(1)), 3.386, 5e-4},
		// SP 811: an inch of mercury, conventional, is 3.386 389 E+03 Pa.
		{"standard atmosphere in inHg", Pressure(101.325).In(InchOfMercury), 101.325 / 3.386389, 1e-5},
		// Fixed points of the scales.
		{"freezing", float64(Fahrenheit.Of(32)), 0, 1e-12},
		{"boiling", Celsius.Of(100).In(Fahrenheit), 212, 1e-12},
		{"scales meet", Celsius.Of(-40).In(Fahrenheit), -40, 1e-12},
		{"foot in inches", Foot.Of(1).In(Inch), 12, 1e-12},
	}
	for _, tt := range tests {
		if math.Abs(tt.got-tt.want) > tt.within {
			t.Errorf("%s: got %v, want %v", tt.what, tt.got, tt.want)
		}
	}
}

func TestAtmosphere(t *testing.T) {
	// U.S. Standard Atmosphere 1976, altitude in feet against inches of mercury, by quadrature in R
	// (crosscheck/values.R).
	for _, tt := range []struct{ ft, inHg float64 }{
		{0, 29.92125}, {1000, 28.85568}, {2000, 27.82105}, {5000, 24.89592}, {10000, 20.57698},
	} {
		if got := Atmosphere(Foot.Of(tt.ft)).In(InchOfMercury); math.Abs(got-tt.inHg) > 1.5e-5 {
			t.Errorf("%v ft: got %.5f inHg, want %v", tt.ft, got, tt.inHg)
		}
	}
}

func TestBadGauge(t *testing.T) {
	// More than 28.9 inHg at 1,000 ft is a bad gauge (common practice; 28.86 by the standard atmosphere).
	for _, tt := range []struct {
		inHg, ft float64
		bad      bool
	}{{28.9, 1000, true}, {28.5, 1000, false}, {28.9, 0, false}, {27, 2500, false}, {28, 2500, true}} {
		if got := BadGauge(InchOfMercury.Of(tt.inHg), Foot.Of(tt.ft)); got != tt.bad {
			t.Errorf("%v inHg at %v ft: bad %v, want %v", tt.inHg, tt.ft, got, tt.bad)
		}
	}
}

func TestParse(t *testing.T) {
	volumes := map[string]VolumeUnit{"gal": USGallon, "Gallon": USGallon, "gal_us": USGallon, "gal_imp": ImperialGallon,
		" L ": Litre, "litres": Litre, "quart": "", "": ""}
	for word, want := range volumes {
		if got, ok := ParseVolume(word); got != want || ok != (want != "") {
			t.Errorf("volume %q: got %q, %v", word, got, ok)
		}
	}
	for word, want := range map[string]bool{"gal": true, "GALLONS": true, "gal_us": false, "gal_imp": false,
		"l": false} {
		if got := BareGallon(word); got != want {
			t.Errorf("bare gallon %q: got %v", word, got)
		}
	}
	for word, want := range map[string]MassUnit{"lb": Pound, "KG": Kilogram, "g": ""} {
		if got, ok := ParseMass(word); got != want || ok != (want != "") {
			t.Errorf("mass %q: got %q, %v", word, got, ok)
		}
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-1e6, 1e6).Draw(t, "x")
		for what, got := range map[string]float64{
			"gal": USGallon.Of(x).In(USGallon), "gal_imp": ImperialGallon.Of(x).In(ImperialGallon),
			"l":  Litre.Of(x).In(Litre),
			"lb": Pound.Of(x).In(Pound), "inhg": InchOfMercury.Of(x).In(InchOfMercury),
			"f": Fahrenheit.Of(x).In(Fahrenheit), "ft": Foot.Of(x).In(Foot),
		} {
			if math.Abs(got-x) > 1e-9*max(1, math.Abs(x)) {
				t.Fatalf("%s: %v came back as %v", what, x, got)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"gal", "gal_imp", "l", "quart", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if u, ok := ParseVolume(s); ok && math.IsNaN(float64(u.Of(1))) {
			t.Errorf("%q parses to a unit without a size", s)
		}
	})
}
