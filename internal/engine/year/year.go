// Package year is the good or bad year that all practices share: how the yield, the sugar and the prices of a season
// stray from their means, and how they move together
package year

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"spile/internal/trade/past"
)

// What strays, in this order.
const (
	Yield = iota
	Sugar
	Price
	parts
)

// Year is a multivariate lognormal: logarithms with standard deviations and correlations. The zero value is a year as
// every other.
type Year struct {
	SD       [parts]float64
	Together [parts][parts]float64 // correlations of the logarithms; the diagonal is 1
	root     [parts][parts]float64 // lower triangle L with LL' the covariance
}

// Assumed is the year of standard deviations that are parts of the mean (coefficients of variation), with a correlation
// of yield and price. Of a lognormal σ² = ln(1 + CV²).
func Assumed(yield, sugar, price, together float64) Year {
	var y Year
	for i, cv := range [parts]float64{yield, sugar, price} {
		y.SD[i] = math.Sqrt(math.Log1p(cv * cv))
		y.Together[i][i] = 1
	}
	y.Together[Yield][Price], y.Together[Price][Yield] = together, together
	return y.Rooted()
}

// least is the fewest seasons that a spread or a correlation is taken from.
const least = 5

// Told says which parts the seasons tell of: those that stand in at least five.
type Told [parts]int

// Of is the year that past seasons tell of, in logarithms about their means: standard deviations with n − 1, and
// correlations over the seasons that hold both. What they do not tell of is as assumed. A price is the mean of those
// grades that every season with prices has.
func Of(seasons []past.Season, assumed Year) (Year, Told) {
	logs := make([][parts]float64, len(seasons))
	grades := past.Grades(seasons)
	var told Told
	for i, s := range seasons {
		price := math.NaN()
		if mean, ok := s.Mean(grades); ok {
			price = mean
		}
		for j, x := range [parts]float64{or(s.YieldL), or(s.Brix), price} {
			if logs[i][j] = math.Log(x); !math.IsNaN(x) {
				told[j]++
			}
		}
	}
	y := assumed
	column := func(a, b int) (x, w []float64) { // of the seasons that hold both
		for _, l := range logs {
			if !math.IsNaN(l[a]) && !math.IsNaN(l[b]) {
				x, w = append(x, l[a]), append(w, l[b])
			}
		}
		return x, w
	}
	for a := range parts {
		if told[a] < least {
			continue
		}
		x, _ := column(a, a)
		y.SD[a] = stat.StdDev(x, nil)
		for b := range a {
			if x, w := column(a, b); told[b] >= least && len(x) >= least && y.SD[a] > 0 && y.SD[b] > 0 {
				r := stat.Correlation(x, w, nil)
				y.Together[a][b], y.Together[b][a] = r, r
			}
		}
	}
	return y.Rooted(), told
}

func or(x *float64) float64 {
	if x == nil {
		return math.NaN()
	}
	return *x
}

// Rooted is the year ready to be drawn from, with the root of its covariance. Correlations that no joint distribution
// has, as few seasons with gaps may give, are drawn toward none until one has.
func (y Year) Rooted() Year {
	for shrink := 1.; ; shrink *= 0.95 {
		s := mat.NewSymDense(parts, nil)
		for i := range parts {
			for j := range i {
				y.Together[i][j] *= shrink
				y.Together[j][i] = y.Together[i][j]
				s.SetSym(i, j, whole*y.Together[i][j])
			}
			s.SetSym(i, i, 1)
			y.Together[i][i] = 1
		}
		var c mat.Cholesky
		if !c.Factorize(s) {
			continue
		}
		var l mat.TriDense
		c.LTo(&l)
		for i := range parts {
			for j := range i + 1 {
				y.root[i][j] = y.SD[i] * l.At(i, j)
			}
		}
		return y
	}
}

// whole is a correlation of 1, as nearly as leaves a matrix of them a root.
const whole = 1 - 1e-9

// CV is the standard deviation of a lognormal as a part of its mean, of that of the logarithm.
func CV(sd float64) float64 { return math.Sqrt(math.Expm1(sd * sd)) }

// Calm is true of years that are all alike.
func (y *Year) Calm() bool { return y.SD == [parts]float64{} }

// Of three independent standard normals Draw makes the factors of a season, each of mean 1: of the yield, of the sugar
// and of the prices.
func (y *Year) Draw(z [parts]float64) (factors [parts]float64) {
	for i := range factors {
		sum := -y.SD[i] * y.SD[i] / 2
		for j := range i + 1 {
			sum += y.root[i][j] * z[j]
		}
		factors[i] = math.Exp(sum)
	}
	return factors
}
