package budget

import (
	"math"
	"testing"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// A season whose sap is sweeter and whose prices are higher is that of prices that say so.
func TestIn(t *testing.T) {
	for _, limits := range []bool{false, true} {
		p := price.Default()
		p.Baseline = price.Baseline{Yield: price.Value{Best: 80}, Brix: price.Value{Best: 2}}
		p.Sells = price.Sells{Grades: []price.Grade{{Name: "amber", Share: 0.6, Price: price.Value{Best: 5}}},
			Retail: &price.Outlet{Share: 0.3, Price: price.Value{Best: 12}},
			Sap:    &price.Outlet{Share: 0.1, Price: price.Value{Best: 0.1}}}
		if limits {
			p.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 1.1}, PriceBeyond: price.Value{Best: 0.6}}
			p.Sells.CapacityL = &price.Value{Best: 90}
		}
		p.Processing, p.Hauling = price.Value{Best: 1.2}, price.Value{Best: 0.004}
		l := Of(&p)
		const sugar, dear = 1.13, 0.88
		// as much sweeter in sugar a litre, which the °Brix of no table of degrees hits: syrup a litre of sap is scaled
		want := Of(&p)
		want.syrup, want.added = sugar*want.syrup, sugar*want.added
		want.bulkPrice, want.retailPrice = dear*want.bulkPrice, dear*want.retailPrice
		want.sapPrice = sugar * dear * want.sapPrice
		want.sliced = [kinds]sold{
			usual: want.slice(want.syrup, 1, 1), usualBeyond: want.slice(want.syrup, 1, want.beyond),
			more:       want.slice(want.added, want.gainPrice, 1),
			moreBeyond: want.slice(want.added, want.gainPrice, want.beyond),
		}
		got := l.In(sugar, dear)
		plan := l.Plan(practice.Choice{Practice: practice.Unsanitized})
		for _, gain := range []float64{0, 0.2, 0.7} {
			x, y := got.Margin(&plan, 80, []float64{gain}), want.sell(80, want.Yield(80, gain)).margin()
			if math.Abs(x-y) > 1e-12*math.Abs(y) {
				t.Errorf("limits %v, gain %v: %v, want %v", limits, gain, x, y)
			}
		}
	}
}
