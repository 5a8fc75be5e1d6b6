package show

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/trade/price"
	"spile/internal/view/say"
)

// What is printed as net where an evaporator may be full is the mean of the draws of How sure, in two price files and
// in these at any capacity. In the files it lies far below the best guess.
func TestNetUnderACapacityIsTheMeanOfTheDraws(t *testing.T) {
	var memo advice.Memo
	for _, file := range []string{"capacity-pan.toml", "capacity-litres.toml"} {
		read, err := sheet.Read("../../demo/evidence.csv", "testdata/"+file)
		if err != nil {
			t.Fatal(err)
		}
		in := advice.Usual(read)
		net := func(t interface{ Fatalf(string, ...any) }, in advice.Input) (best, average float64) {
			a, err := memo.Of(in)
			if err != nil {
				t.Fatalf("%v", err)
			}
			r, err := a.Prospect(advice.DrawOptions{})
			if err != nil {
				t.Fatalf("%v", err)
			}
			w := Of(a, say.In("en"))
			for _, row := range w.Ranking().Rows {
				for k, o := range r.Model.Options {
					if o.ID != row.ID {
						continue
					}
					sum := 0.
					for _, x := range r.Draws.Nets(r.Draws.Long, k) {
						sum += x
					}
					if mean := sum / float64(r.Draws.N); math.Abs(mean-*row.Cells[1].Number) > 1e-9 {
						t.Fatalf("%s: %s is printed as %v, and its draws have a mean of %v", file, o.ID,
							*row.Cells[1].Number, mean)
					}
				}
			}
			o, _ := a.Best()
			if text := w.V.Money(*o.Today.Expected, w.currency()); o.Today.Net != 0 &&
				!strings.Contains(strings.Join(w.Recommendation(), " "), text) {
				t.Fatalf("%s: %s is not in %q", file, text, w.Recommendation())
			}
			return o.Today.Net, *o.Today.Expected
		}
		best, average := net(t, in)
		if t.Logf("%s: %.3f at the best guess, %.3f on average", file, best, average); average > best*2/3 {
			t.Errorf("%s: %.3f at the best guess, %.3f on average: nothing is full", file, best, average)
		}
		cases := 0
		rapid.Check(t, func(t *rapid.T) {
			if cases++; cases > 5 {
				return // each takes a tenth of a second
			}
			tried := in
			tried.Prices = in.Prices.Clone()
			tried.Prices.Sells.CapacityL = new(price.Value{Best: rapid.Float64Range(.7, 1.8).Draw(t, "part") *
				in.Prices.Baseline.Yield.Best})
			net(t, tried)
		})
	}
}
