package mixture

import (
	"slices"
	"testing"
)

// A table without some studies, in boxes and with sets held, is next to the same table from the start: also where what
// stood apart is gone, and where nothing may stand apart.
func TestNear(t *testing.T) {
	calmed := Default()
	calmed.Wild = 0
	aged := trade(12, 5, 4, true, 4)
	linked(&aged)
	for name, c := range map[string]struct {
		table Table
		gone  []int
		prior Prior
	}{
		"three less":             {aged, []int{0, 1, 2}, Default()},
		"one less":               {twelve(), []int{3}, Default()},
		"what stands apart less": {twelve(), []int{11}, Default()},
		"nothing apart":          {twelve(), nil, calmed},
	} {
		rest, held := c.table, Near{Answer: integrated(t, c.table, Default())}
		rest.Studies = nil
		for i, s := range c.table.Studies {
			if !slices.Contains(c.gone, i) {
				rest.Studies, held.Index = append(rest.Studies, s), append(held.Index, i)
			}
		}
		got, err := held.Of(rest, c.prior)
		if err != nil {
			t.Fatal(err)
		}
		want := integrated(t, rest, c.prior)
		for i, p := range got.Apart {
			near(t, name+": chance of standing apart", p, want.Apart[i], .01)
		}
		for i := range rest.Families {
			for _, p := range [][2]*Posterior{{got.Studies, want.Studies}, {got.Shrunk, want.Shrunk}} {
				for _, q := range []float64{.025, .5, .975} {
					near(t, name, p[0].Of(lineOf(i)).Quantile(q), p[1].Of(lineOf(i)).Quantile(q), .004)
				}
			}
		}
	}
}
