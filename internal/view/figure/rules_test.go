package figure_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/view/figure"
)

// Whatever the words and numbers of a plan beside its rules, nothing overlaps and nothing leaves the sheet.
func TestRulesKeepClear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom(sizes[:2]).Draw(t, "size") // a handout has no slides
		word := rapid.StringOfN(rapid.SampledFrom([]rune("aéèmWllœ  -'ç")), 1, 60, -1)
		number := rapid.OneOf(rapid.Float64Range(-100, 300),
			rapid.SampledFrom([]float64{0, 1e9, -1e9, math.NaN(), math.Inf(1)}))
		f := figure.Rules{Words: figure.Words{Title: word.Draw(t, "title")}, Axis: word.Draw(t, "axis"),
			Key: figure.RulesKey{Range: word.Draw(t, "key"), Out: word.Draw(t, "key")}}
		for i := range rapid.IntRange(0, 12).Draw(t, "rows") {
			r := figure.RulesRow{Name: word.Draw(t, "name"), Net: number.Draw(t, "net"),
				Value: fmt.Sprintf("$%.2f", float64(i)/3), Best: i == 0, Out: rapid.Bool().Draw(t, "out")}
			if rapid.Bool().Draw(t, "ranged") {
				r.Range = figure.Range{Low: number.Draw(t, "low"), High: number.Draw(t, "high")}
			}
			f.Rows = append(f.Rows, r)
		}
		if err := check(f.Draw(size.size), size.size); err != nil {
			t.Fatalf("%s: %v", size.name, err)
		}
	})
}
