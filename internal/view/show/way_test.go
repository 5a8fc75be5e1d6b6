package show

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/engine/advice"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
)

// Nothing comes first on its long run that loses to another over the seasons that are asked about without saying so,
// and the table of the way marks that other.
func TestFirstOverTheSeasonsIsSaid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := fixture()
		a.Input.Over = 5
		for i := range a.Ranking {
			a.Ranking[i].Way = &advice.Way{Net: make([]float64, 5),
				Expected: float64(rapid.IntRange(-300, 300).Draw(t, "cents")) / 100}
		}
		w := Of(a, say.In("en"))
		best := a.Ranking[a.Recommended]
		first := best
		for _, o := range a.Ranking {
			if o.Studied && o.Verdict == practice.Permitted && o.Promising == "" &&
				o.Way.Expected > first.Way.Expected {
				first = o
			}
		}
		said := strings.Join(w.Recommendation(), " ")
		if first.ID() != best.ID() != strings.Contains(strings.ToLower(said), "over the first 5 seasons") ||
			first.ID() != best.ID() && !strings.Contains(strings.ToLower(said), w.Option(first)+" nets more: ") {
			t.Fatalf("%s is recommended, %s nets more at first: %s", best.ID(), first.ID(), said)
		}
		marked := ""
		for _, r := range w.Way().Rows {
			if r.Best {
				marked += r.ID
			}
		}
		if marked != first.ID() {
			t.Fatalf("%q is marked, and %s nets most", marked, first.ID())
		}
	})
}
