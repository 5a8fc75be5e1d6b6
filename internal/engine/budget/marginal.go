package budget

import (
	"cmp"
	"slices"
)

// Point is a choice on the net-benefit curve: its costs that vary and its net benefit, against the same reference.
type Point struct{ Costs, Net float64 }

// Marginal is what the marginal analysis says of a point.
type Marginal struct {
	Dominated bool // another point nets no less and costs no more
	// marginal rate of return from the undominated point next cheaper: 100 Δnet/Δcosts; nil without one
	RatePct *float64
}

// Analyse is the dominance and marginal analysis (CIMMYT 1988, From Agronomic Data to Farmer Recommendations, chapters
// 4 and 5): by rising costs, whatever nets no more than something cheaper is dominated; over the rest the marginal rate
// of return is the added net over the added costs. The answer is in the order of the points. Of equal points the first
// stands.
func Analyse(points []Point) []Marginal {
	order := make([]int, len(points))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		if c := cmp.Compare(points[i].Costs, points[j].Costs); c != 0 {
			return c
		}
		return cmp.Compare(points[j].Net, points[i].Net)
	})
	out := make([]Marginal, len(points))
	last := -1
	for _, i := range order {
		switch {
		case last < 0:
			last = i
		case points[i].Net <= points[last].Net:
			out[i].Dominated = true
		default:
			rate := 100 * (points[i].Net - points[last].Net) / (points[i].Costs - points[last].Costs)
			out[i].RatePct = &rate
			last = i
		}
	}
	return out
}

// Point is the budget's place on the net-benefit curve of its reference.
func (b Budget) Point() Point { return Point{Costs: b.AddedCosts - b.ReducedCosts, Net: b.Net} }

// Combined is the range of the gain of two practices done together that no study holds: from the better of them alone
// to the sum of their log gains, less once the gain that both hold (a new spout). Gains are fractions.
func Combined(a, b, shared float64) (low, high float64) {
	alone, both := max(a, b), (1+a)*(1+b)/(1+shared)-1
	return min(alone, both), max(alone, both)
}
