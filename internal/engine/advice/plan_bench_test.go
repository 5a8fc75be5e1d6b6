package advice_test

import (
	"fmt"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
)

// BenchmarkPlan60 is a whole plan of 60 sections over 15 seasons within hours and cash that do not suffice, from pooled
// gains to chances: the demo's sugarbush of Québec four times over, each copy a little different.
func BenchmarkPlan60(b *testing.B) {
	read, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		b.Fatal(err)
	}
	in := advice.Usual(read)
	owned, err := sheet.Sugarbush("../../demo/sugarbush-quebec.toml", in.Prices, in.Practices)
	if err != nil {
		b.Fatal(err)
	}
	var sections []bush.Section
	for i := range 60 {
		x := owned.Sections[i%len(owned.Sections)]
		x.Name = fmt.Sprintf("%s %d", x.Name, i)
		x.Taps += 13 * i
		*x.YieldL *= 1 + 0.001*float64(i%7)
		sections = append(sections, x)
	}
	times := 60 / float64(len(owned.Sections))
	owned.Sections, owned.Seasons, owned.Cash = sections, 15, new(40000*times)
	for w, c := range owned.Crews {
		c.People *= times
		owned.Crews[w] = c
	}
	m := new(advice.Memo)
	for b.Loop() {
		p, err := m.Plan(in, owned)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(100*(p.Gap-p.Plainer)/p.Bound, "gap_pct")
	}
}
