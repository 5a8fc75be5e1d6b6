package advice_test

import (
	"fmt"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
)

// BenchmarkPlan is a whole plan of 60 and of 200 sections over 15 seasons within hours and cash that do not suffice,
// from pooled gains to chances: the demo's sugarbush of Québec again and again, each copy a little different.
func BenchmarkPlan(b *testing.B) {
	read, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		b.Fatal(err)
	}
	in := advice.Usual(read)
	for _, n := range []int{60, 200} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			owned, err := sheet.Sugarbush("../../demo/sugarbush-quebec.toml", in.Prices, in.Practices)
			if err != nil {
				b.Fatal(err)
			}
			var sections []bush.Section
			for i := range n {
				x := owned.Sections[i%len(owned.Sections)]
				x.Name = fmt.Sprintf("%s %d", x.Name, i)
				x.Taps += 13 * i
				x.YieldL = new(*x.YieldL * (1 + 0.001*float64(i%7)))
				sections = append(sections, x)
			}
			times := float64(n) / float64(len(owned.Sections))
			owned.Sections, owned.Seasons, owned.Cash = sections, 15, new(40000*times)
			for w, c := range owned.Crews {
				c.People *= times
				owned.Crews[w] = c
			}
			m := new(advice.Memo)
			b.ReportAllocs()
			for b.Loop() {
				p, err := m.Plan(in, owned)
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(100*(p.Gap-p.Plainer)/p.Bound, "gap_pct")
			}
		})
	}
}
