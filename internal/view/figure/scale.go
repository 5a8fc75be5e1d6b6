package figure

import (
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
)

// scale maps values to places along one axis.
type scale struct {
	low, high float64   // values at the ends
	from, to  vg.Length // places of the ends
}

func (s scale) at(v float64) vg.Length {
	return s.from + vg.Length((v-s.low)/(s.high-s.low))*(s.to-s.from)
}

// kept is the place of a value, held within the axis.
func (s scale) kept(v float64) vg.Length {
	return s.at(min(max(v, s.low), s.high))
}

func (s scale) holds(v float64) bool { return v >= s.low && v <= s.high }

// ticks are round values within the axis, at most n, with the decimals they need.
func (s scale) ticks(n int) (at []float64, decimals int) {
	if n < 1 || !(s.high > s.low) {
		return nil, 0
	}
	raw := (s.high - s.low) / float64(n)
	power := math.Floor(math.Log10(raw))
	step := math.Pow(10, power)
	for _, m := range []float64{1, 2, 5, 10} {
		if m*step >= raw*(1-1e-9) {
			if m == 10 {
				power++
			}
			step *= m
			break
		}
	}
	decimals = max(0, int(-power))
	first := math.Ceil(s.low/step - 1e-9)
	for i := range n + 2 {
		v := (first + float64(i)) * step
		if v > s.high+1e-9*step {
			break
		}
		if v == 0 {
			v = 0 // no minus zero
		}
		at = append(at, v)
	}
	return at, decimals
}

// english writes a number with a true minus.
func english(x float64, decimals int) string {
	t := strconv.FormatFloat(x, 'f', decimals, 64)
	return strings.Replace(t, "-", "−", 1)
}

// finite keeps a number that cannot be drawn from spoiling the sheet: what is none counts as zero, as does what is next
// to nothing, and what is beyond a thousand million stops there.
func finite(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) || math.Abs(x) < 1e-6 {
		return 0
	}
	return min(max(x, -1e9), 1e9)
}
