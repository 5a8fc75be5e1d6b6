// Package sap is the arithmetic of sap and syrup: sugar by mass balance, with the density of sucrose solutions.
package sap

import (
	"math"

	"gonum.org/v1/gonum/interp"

	"spile/internal/trade/unit"
)

// table is the density of sucrose solutions, 20 °C over water at 4 °C, by °Brix (percent of sucrose by mass): National
// Bureau of Standards Circular C440 (1942), table of densities after Plato. The litre of 1942 was 28 parts in a
// million larger than today's; that is left out, and the numbers are read as kilograms a litre.
var table = [...]struct{ brix, density float64 }{
	{0, 0.998234}, {1, 1.002120}, {2, 1.006015}, {3, 1.009934}, {4, 1.013881}, {5, 1.017854},
	{6, 1.021855}, {7, 1.025885}, {8, 1.029942}, {9, 1.034029}, {10, 1.038143}, {15, 1.059165},
	{20, 1.080959}, {25, 1.103557}, {30, 1.126984}, {35, 1.151275}, {40, 1.176447}, {45, 1.202540},
	{50, 1.229567}, {55, 1.257535}, {60, 1.286456}, {65, 1.316334}, {70, 1.347174},
}

// density is the cubic spline through the table whose third derivative does not jump at the second row and the last but
// one (not-a-knot). Its second derivatives solve so small a system that no library of linear algebra is asked.
var density = func() (spline interp.PiecewiseCubic) {
	const n = len(table)
	var xs, ys, slopes [n]float64
	for i, row := range table {
		xs[i], ys[i] = row.brix, row.density
	}
	h := func(i int) float64 { return xs[i+1] - xs[i] }
	rise := func(i int) float64 { return (ys[i+1] - ys[i]) / h(i) }
	var a [n][n + 1]float64 // of second derivatives, and the right side
	for i := 1; i < n-1; i++ {
		a[i][i-1], a[i][i], a[i][i+1], a[i][n] = h(i-1), 2*(h(i-1)+h(i)), h(i), 6*(rise(i)-rise(i-1))
	}
	for _, end := range [][2]int{{0, 0}, {n - 1, n - 3}} {
		i, k := end[0], end[1]
		a[i][k], a[i][k+1], a[i][k+2] = 1/h(k), -1/h(k)-1/h(k+1), 1/h(k+1)
	}
	for i := range n { // Gauss and Jordan; every pivot is far from zero
		for k := range n {
			if c := a[k][i] / a[i][i]; k != i && c != 0 {
				for j := i; j <= n; j++ {
					a[k][j] -= c * a[i][j]
				}
			}
		}
	}
	bend := func(i int) float64 { return a[i][n] / a[i][i] }
	for i := range n - 1 {
		slopes[i] = rise(i) - h(i)*(2*bend(i)+bend(i+1))/6
	}
	slopes[n-1] = rise(n-2) + h(n-2)*(bend(n-2)+2*bend(n-1))/6
	spline.FitWithDerivatives(xs[:], ys[:], slopes[:])
	return spline
}()

// MaxBrix is the end of the density table.
const MaxBrix = 70

// Density is kilograms a litre at 20 °C; NaN outside 0 to 70 °Bx.
func Density(brix float64) float64 {
	if !(brix >= 0 && brix <= MaxBrix) {
		return math.NaN()
	}
	return density.Predict(brix)
}

// Mass is the mass of a volume of sap or syrup at 20 °C.
func Mass(v unit.Volume, brix float64) unit.Mass { return unit.Mass(float64(v) * Density(brix)) }

// Sugar is the sucrose in a volume of sap or syrup: volume × density × °Brix/100.
func Sugar(v unit.Volume, brix float64) unit.Mass { return Mass(v, brix) * unit.Mass(brix/100) }

// SapPerSyrup is how many volumes of sap make one of syrup: the sugar of a volume of syrup over that of a volume of
// sap.
func SapPerSyrup(sapBrix, syrupBrix float64) float64 {
	return float64(Sugar(1, syrupBrix)) / float64(Sugar(1, sapBrix))
}

// Syrup is the syrup that a volume of sap makes.
func Syrup(v unit.Volume, sapBrix, syrupBrix float64) unit.Volume {
	return v / unit.Volume(SapPerSyrup(sapBrix, syrupBrix))
}

// SyrupBrix is the density at which syrup is finished at a place: 66.9 °Bx where the law asks it, else 66.0.
func SyrupBrix(place string) float64 {
	if place == "US-VT" {
		return 66.9
	}
	return 66.0
}
