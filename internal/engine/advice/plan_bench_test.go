package advice_test

import (
	"fmt"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/engine/plan"
	"spile/internal/files/sheet"
)

// BenchmarkPlan60 is a whole plan of 60 sections over 15 seasons within hours and cash that do not suffice, from pooled
// gains to chances: the demo's sugarbush of Québec four times over, each copy a little different.
func BenchmarkPlan60(b *testing.B) {
	in, _, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		b.Fatal(err)
	}
	bush, err := sheet.Sugarbush("../../demo/sugarbush-quebec.toml", in)
	if err != nil {
		b.Fatal(err)
	}
	var sections []plan.Section
	for i := range 60 {
		x := bush.Sections[i%len(bush.Sections)]
		x.Name = fmt.Sprintf("%s %d", x.Name, i)
		x.Taps += 13 * i
		*x.YieldL *= 1 + 0.001*float64(i%7)
		sections = append(sections, x)
	}
	times := 60 / float64(len(bush.Sections))
	bush.Sections, bush.Seasons, bush.Cash = sections, 15, new(40000*times)
	for w, c := range bush.Crews {
		c.People *= times
		bush.Crews[w] = c
	}
	m := new(advice.Memo)
	for b.Loop() {
		p, err := m.Plan(in, bush)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(100*p.Gap/p.Bound, "gap_pct")
	}
}
