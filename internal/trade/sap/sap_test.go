package sap

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/trade/unit"
)

// weightInAir is what a balance with brass weights (8.4 kg/L) shows in air (0.0012 kg/L): what the tables of the
// Circular give by the gallon.
func weightInAir(v unit.Volume, brix float64) unit.Mass {
	const air, brass = 0.0012, 8.4
	return unit.Mass(float64(v) * (Density(brix) - air) / (1 - air/brass))
}

// National Bureau of Standards Circular C440 (1942): weight in air at 20 °C of a US gallon, and the sucrose in it, pounds.
func TestCircularC440(t *testing.T) {
	for _, tt := range []struct{ brix, weight, sucrose float64 }{
		{1, 8.354, 0.084}, {2, 8.387, 0.168}, {3, 8.419, 0.253}, {5, 8.486, 0.424},
	} {
		gallon := unit.USGallon.Of(1)
		if got := weightInAir(gallon, tt.brix).In(unit.Pound); math.Abs(got-tt.weight) > 0.0005 {
			t.Errorf("%v °Bx: weight %.4f lb, want %v", tt.brix, got, tt.weight)
		}
		// The Circular's sucrose is weighed in air too; its mass is one part in a thousand more.
		if got := weightInAir(gallon, tt.brix).In(unit.Pound) * tt.brix / 100; math.Abs(got-tt.sucrose) > 0.0005 {
			t.Errorf("%v °Bx: sucrose %.4f lb in air, want %v", tt.brix, got, tt.sucrose)
		}
		if got := Sugar(gallon, tt.brix).In(unit.Pound); math.Abs(got-tt.sucrose) > 0.001*tt.sucrose+0.0005 {
			t.Errorf("%v °Bx: sucrose %.4f lb, want %v", tt.brix, got, tt.sucrose)
		}
	}
	// Specific gravity 20/20 (from memory).
	for _, tt := range []struct{ brix, sg float64 }{{66, 1.3248}, {67, 1.3309}} {
		if got := Density(tt.brix) / Density(0); math.Abs(got-tt.sg) > 0.00005 {
			t.Errorf("%v °Bx: specific gravity %.5f, want %v", tt.brix, got, tt.sg)
		}
	}
}

// The polynomial that others fitted to the Circular's table of apparent specific gravity in air, good to 0.0009 °Bx (root
// mean square, 0.005 at 0 °Bx) up to 40 °Bx: °Bx = 182.4601 S³ − 775.6821 S² + 1262.7794 S − 669.5622 (Wikipedia, "Brix", section Specific gravity).
func TestPolynomialOfTheCircular(t *testing.T) {
	for brix := 0.0; brix <= 40; brix += 0.5 {
		s := float64(weightInAir(1, brix) / weightInAir(1, 0))
		got := ((182.4601*s-775.6821)*s+1262.7794)*s - 669.5622
		if math.Abs(got-brix) > 0.005 {
			t.Errorf("%v °Bx: the polynomial reads %.4f", brix, got)
		}
	}
}

// CRC Handbook of Chemistry and Physics, Concentrative Properties of Aqueous Solutions, sucrose: density at 20 °C.
func TestHandbookDensities(t *testing.T) {
	for _, tt := range []struct{ brix, density float64 }{
		{0, 0.9982}, {0.5, 1.0002}, {1.5, 1.0040}, {2.5, 1.0079}, {3.5, 1.0119}, {5.5, 1.0198}, {12, 1.0465}, {18, 1.0722},
		{22, 1.0899}, {28, 1.1175}, {32, 1.1366}, {38, 1.1663}, {42, 1.1868}, {48, 1.2186}, {52, 1.2406}, {58, 1.2747},
		{62, 1.2983}, {64, 1.3103}, {66, 1.3224}, {68, 1.3348}, {70, 1.3472},
	} {
		if got := Density(tt.brix); math.Abs(got-tt.density) > 0.00011 {
			t.Errorf("%v °Bx: density %.5f, want %v", tt.brix, got, tt.density)
		}
	}
}

func TestSapPerSyrup(t *testing.T) {
	// 2 °Bx sap to a volume of syrup: about 43.4 at 66.0 °Bx and 44.2 at 66.9 by the mass balance (the old Rule of 86,
	// Jones 1946, says 43).
	for _, tt := range []struct{ got, want float64 }{
		{SapPerSyrup(2, 66.0), 43.4}, {SapPerSyrup(2, 66.9), 44.2},
	} {
		if math.Abs(tt.got-tt.want) > 0.05 {
			t.Errorf("got %.3f, want %v", tt.got, tt.want)
		}
	}
	// A US gallon of syrup weighs about 11 lb (common practice, no source).
	if got := Mass(unit.USGallon.Of(1), 66.9).In(unit.Pound); math.Abs(got-11) > 0.1 {
		t.Errorf("a gallon of syrup weighs %.3f lb", got)
	}
	if SyrupBrix("US-VT") != 66.9 || SyrupBrix("CA-QC") != 66.0 || SyrupBrix("") != 66.0 {
		t.Error("the syrup density of a place")
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.1, 69).Draw(t, "brix")
		step := rapid.Float64Range(0.001, 1).Draw(t, "step")
		if Density(a+step) <= Density(a) {
			t.Fatalf("density falls from %v to %v °Bx", a, a+step)
		}
		// What is boiled away is water: the sugar of the syrup is that of the sap.
		v := unit.Volume(rapid.Float64Range(0.1, 1e4).Draw(t, "litres"))
		sugar, kept := Sugar(v, a), Sugar(Syrup(v, a, 66), 66)
		if math.Abs(float64(sugar-kept)) > 1e-9*float64(sugar) {
			t.Fatalf("%v kg of sugar became %v", sugar, kept)
		}
	})
	for _, brix := range []float64{-1, 70.1, math.NaN(), math.Inf(1)} {
		if !math.IsNaN(Density(brix)) {
			t.Errorf("density at %v °Bx is not refused", brix)
		}
	}
}
