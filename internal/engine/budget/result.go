package budget

import "spile/internal/trade/price"

// Part is the quarter of a partial budget that a line stands in.
type Part string

const (
	AddedReturns   Part = "added-returns"
	ReducedCosts   Part = "reduced-costs"
	AddedCosts     Part = "added-costs"
	ReducedReturns Part = "reduced-returns"
)

// Line is one amount of a partial budget, money a tap and season. Amount is signed: what helps is positive.
type Line struct {
	Name   string // English text, the id of its translation
	Part   Part
	Amount float64
}

// Budget is a partial budget of one choice against a reference; Net is the sum of its lines. The four quarters are
// all positive or zero: Net = AddedReturns + ReducedCosts − AddedCosts − ReducedReturns.
type Budget struct {
	AddedReturns, ReducedCosts, AddedCosts, ReducedReturns float64
	Net                                                    float64
	Lines                                                  []Line

	// Differences from the reference, a tap and season.
	Minutes   map[price.Window]float64
	PlasticG  float64 // grams
	ChemicalL float64 // litres
}

// TotalMinutes is the sum over the windows.
func (b Budget) TotalMinutes() float64 {
	sum := 0.0
	for _, w := range price.Windows {
		sum += b.Minutes[w]
	}
	return sum
}
