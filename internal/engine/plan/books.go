package plan

import (
	"math/rand/v2"

	"spile/internal/engine/budget"
	"spile/internal/engine/sure"
	"spile/internal/engine/year"
	"spile/internal/trade/price"
)

// books are the prices of a section as they are drawn, with the plans of what is done there.
type books struct {
	ledger *budget.Ledger
	unsure []unsure
	plans  []budget.Plan
	places map[*action]int
	in     []budget.Ledger // by season
}

// unsure is a number with a low and a high.
type unsure struct {
	key   string
	at    *price.Value
	best  float64
	shape func(z float64) float64
}

// openBooks finds what is unsure of a section's prices. The rate at which money is discounted stands, since it weighs
// the seasons of all plans alike.
func openBooks(t *table) *books {
	b := &books{ledger: t.ledger, places: map[*action]int{}}
	for _, s := range t.prices.Tried() {
		v := s.Value()
		if v == nil || v.Low == nil && v.High == nil || s.Key == "discount" {
			continue
		}
		d := sure.Dist{Kind: sure.Likely, Low: v.Best, Best: v.Best, High: v.Best}
		if v.Low != nil {
			d.Low = *v.Low
		}
		if v.High != nil {
			d.High = *v.High
		}
		b.unsure = append(b.unsure, unsure{s.Key, v, v.Best, d.Shape()})
	}
	return b
}

// take makes a plan of an action one that is drawn.
func (b *books) take(a *action) {
	if _, have := b.places[a]; !have {
		b.places[a] = len(b.plans)
		b.plans = append(b.plans, a.plan)
	}
}

// of is the plan of an action as drawn.
func (b *books) of(a *action) *budget.Plan { return &b.plans[b.places[a]] }

// draw draws what is unsure, by normals that sections share, and opens a ledger for each season.
func (b *books) draw(normals map[string]float64, random *rand.Rand, good [][3]float64) {
	for _, u := range b.unsure {
		z, have := normals[u.key]
		if !have {
			z = random.NormFloat64()
			normals[u.key] = z
		}
		u.at.Best = u.shape(z)
	}
	b.ledger.Reprice(b.plans)
	b.in = b.in[:0]
	for _, f := range good {
		b.in = append(b.in, b.ledger.In(f[year.Sugar], f[year.Price]))
	}
}

// close puts the best guesses back.
func (b *books) close() {
	for _, u := range b.unsure {
		u.at.Best = u.best
	}
	b.ledger.Reprice(nil)
}
