package own

import (
	"spile/internal/engine/advice"
	"spile/internal/engine/plan"
	"spile/internal/trade/bush"
	"spile/internal/trade/price"
)

// Asked is what is asked of the engine where so much is typed.
func (d Desk) Asked(t Typed) (bush.Sugarbush, *price.Prices, Answer) {
	b, out := d.bush(t)
	if out.Faults != nil {
		return b, nil, out
	}
	return b, d.prices(b), out
}

// Told is how the page shows an answer.
func (d Desk) Told(a *advice.Advice, b bush.Sugarbush) string { return d.told(a, b, true) }

// Sheet is how the page shows a plan.
func (d Desk) Sheet(p *plan.Plan) string { return d.sheet(p) }
