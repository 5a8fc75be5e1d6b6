package mixture

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// The half-lives looked at, seasons.
const (
	ShortestHalfLife = 0.5
	LongestHalfLife  = 12.
	halfLives        = 12
	fewHalfLives     = 4 // where a box is only found
)

// curve is how what a new drop gains over its effect fades with age.
type curve struct {
	linear   bool
	halfLife float64 // seasons
	prior    float64 // its weight before any study
}

// at is 1 at age 0 and one half at the half-life: e^(−λa), or max(0, 1 − a/2h).
func (c curve) at(age float64) float64 {
	if c.linear {
		return max(0, 1-age/(2*c.halfLife))
	}
	return math.Exp(-math.Ln2 * age / c.halfLife)
}

// newCurves is both kinds of curve, each with prior one half, over n half-lives whose logarithm is uniform, at the
// points of Gauss and Legendre.
func newCurves(n int) []curve {
	x, w := make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, math.Log(ShortestHalfLife), math.Log(LongestHalfLife))
	slices.Sort(x) // they come from the longest on; the weights are the same from either end
	whole := math.Log(LongestHalfLife / ShortestHalfLife)
	var list []curve
	for _, linear := range []bool{false, true} {
		for i := range x {
			list = append(list, curve{linear: linear, halfLife: math.Exp(x[i]), prior: w[i] / whole / 2})
		}
	}
	return list
}
