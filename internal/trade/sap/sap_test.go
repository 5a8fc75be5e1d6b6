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

// National Bureau of Standards Circular C440 (1942): weight in air at 20 °C of a US gallon, and the sucrose in it,
// pounds.
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
}

// Asadi 2006, Beet-Sugar Handbook, Table A.1, density of pure sucrose solutions at 20 °C over that of water at 20 °C,
// to the five digits of the table; the row of 5 °Bx is left out, where it has the density over water at 4 °C.
func TestRelativeDensities(t *testing.T) {
	for _, tt := range []struct{ brix, relative float64 }{
		{1, 1.00389}, {2, 1.00779}, {3, 1.01172}, {4, 1.01567}, {6, 1.02366}, {7, 1.02770}, {8, 1.03176}, {9, 1.03586},
		{10, 1.03998}, {11, 1.04413}, {12, 1.04831}, {13, 1.05252}, {14, 1.05677}, {15, 1.06104}, {16, 1.06534},
		{17, 1.06968}, {18, 1.07404}, {19, 1.07844}, {20, 1.08287}, {21, 1.08733},
	} {
		if got := Density(tt.brix) / Density(0); math.Abs(got-tt.relative) > 0.00001 {
			t.Errorf("%v °Bx: %.6f, want %v", tt.brix, got, tt.relative)
		}
	}
}

// The polynomial that others fitted to the Circular's table of apparent specific gravity in air, good to 0.0009 °Bx
// (root mean square, 0.005 at 0 °Bx) up to 40 °Bx: °Bx = 182.46007 S³ − 775.68212 S² + 1262.7794 S − 669.56218
// (Wikipedia, "Brix", section Specific gravity).
func TestPolynomialOfTheCircular(t *testing.T) {
	for brix := 0.0; brix <= 40; brix += 0.5 {
		s := float64(weightInAir(1, brix) / weightInAir(1, 0))
		got := ((182.46007*s-775.68212)*s+1262.7794)*s - 669.56218
		if math.Abs(got-brix) > 0.005 {
			t.Errorf("%v °Bx: the polynomial reads %.4f", brix, got)
		}
	}
}

// CRC Handbook of Chemistry and Physics, Concentrative Properties of Aqueous Solutions, sucrose: density at 20 °C,
// every row to 70 %, to its four digits. The measurements differ from the Circular's by less than one in the last.
func TestHandbookDensities(t *testing.T) {
	for _, tt := range []struct{ brix, density float64 }{
		{0, 0.9982}, {0.5, 1.0002}, {1, 1.0021}, {1.5, 1.0040}, {2, 1.0060}, {2.5, 1.0079}, {3, 1.0099},
		{3.5, 1.0119}, {4, 1.0139}, {4.5, 1.0158}, {5, 1.0178}, {5.5, 1.0198}, {6, 1.0218}, {6.5, 1.0238},
		{7, 1.0259}, {7.5, 1.0279}, {8, 1.0299}, {8.5, 1.0320}, {9, 1.0340}, {9.5, 1.0361}, {10, 1.0381},
		{11, 1.0423}, {12, 1.0465}, {13, 1.0507}, {14, 1.0549}, {15, 1.0592}, {16, 1.0635}, {17, 1.0678},
		{18, 1.0722}, {19, 1.0766}, {20, 1.0810}, {22, 1.0899}, {24, 1.0990}, {26, 1.1082}, {28, 1.1175},
		{30, 1.1270}, {32, 1.1366}, {34, 1.1464}, {36, 1.1562}, {38, 1.1663}, {40, 1.1765}, {42, 1.1868},
		{44, 1.1972}, {46, 1.2079}, {48, 1.2186}, {50, 1.2295}, {52, 1.2406}, {54, 1.2518}, {56, 1.2632},
		{58, 1.2747}, {60, 1.2864}, {62, 1.2983}, {64, 1.3103}, {66, 1.3224}, {68, 1.3348}, {70, 1.3472},
	} {
		if got := Density(tt.brix); math.Abs(got-tt.density) > 0.0001 {
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
