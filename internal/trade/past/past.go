// Package past is the seasons that a producer looks back on: what a tap gave, how sweet it was, and what syrup brought
package past

import (
	"maps"
	"math"
	"slices"
)

// Season is one of them. A nil number and a price that is not there are not known.
type Season struct {
	Year   int                `json:"season"`           // that of the spring
	YieldL *float64           `json:"yield,omitempty"`  // litres of sap a tap
	Brix   *float64           `json:"brix,omitempty"`   // °Brix of the sap
	Prices map[string]float64 `json:"prices,omitempty"` // money a kilogram of syrup, by grade
	Source string             `json:"source,omitempty"`
}

// Grades are those that every season with prices has a price of, in their order; where there is none such, all that
// stand in any.
func Grades(seasons []Season) (list []string) {
	n, in := 0, map[string]int{}
	for _, s := range seasons {
		if len(s.Prices) > 0 {
			n++
		}
		for g := range s.Prices {
			in[g]++
		}
	}
	for _, g := range slices.Sorted(maps.Keys(in)) {
		if in[g] == n {
			list = append(list, g)
		}
	}
	if list == nil {
		list = slices.Sorted(maps.Keys(in))
	}
	return list
}

// Mean is the mean price of those of the grades that the season has, the geometric one, so that no grade weighs more
// for being dear; false where it has none.
func (s Season) Mean(grades []string) (mean float64, ok bool) {
	sum, n := 0., 0.
	for _, g := range grades {
		if x, have := s.Prices[g]; have {
			sum, n = sum+math.Log(x), n+1
		}
	}
	return math.Exp(sum / n), n > 0
}
