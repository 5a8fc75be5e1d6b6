package show

import (
	"fmt"
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

// A talk has a slide of the scenarios, whose title counts those in which another practice nets five cents more than
// what is advised.
func TestATalkHasScenarios(t *testing.T) {
	read, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	in := advice.Usual(read)
	for _, c := range []struct {
		own    []price.Scenario
		change string
	}{{nil, "The advice "}, {[]price.Scenario{{Name: "syrup for nothing", Price: .01}}, "The advice changes in "}} {
		in.Prices = in.Prices.Clone()
		in.Prices.Scenarios = c.own
		a, err := new(advice.Memo).Of(in)
		if err != nil {
			t.Fatal(err)
		}
		best, _ := a.Best()
		change, all := 0, 0
		for _, s := range a.Scenarios() {
			first, _ := s.Best()
			o, _ := s.Find(best.Choice())
			all++
			if first.Today.Average()-o.Today.Average() >= .05 {
				change++
			}
		}
		want := fmt.Sprintf("The advice changes in %d of %d states of the world", change, all)
		if change == 0 {
			want = fmt.Sprintf("The advice holds in all %d states of the world", all)
		}
		rows := 0
		for _, s := range Of(a, say.In("en")).Talk("", "", nil) {
			if s.Table == nil || s.Table.ID != "scenarios" {
				continue
			}
			if rows += len(s.Table.Rows); !strings.HasPrefix(s.Title, want) || !strings.HasPrefix(want, c.change) {
				t.Errorf("%q, want %q, which begins %q", s.Title, want, c.change)
			}
		}
		if rows != 4+len(c.own) {
			t.Errorf("%d scenarios are shown", rows)
		}
	}
}
