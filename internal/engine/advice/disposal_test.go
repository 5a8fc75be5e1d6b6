package advice_test

import (
	"strings"
	"testing"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// What more sap can cost at most is what the practice itself costs: sap that does not pay to boil is not boiled, under
// a quota of 4.6 lb of which what is beyond brings a tenth after two seasons, and at 60 a gallon for boiling, where
// nothing pays and unsanitized comes first, whatever a gain does.
func TestSapThatDoesNotPayIsNotBoiled(t *testing.T) {
	for name, change := range map[string]func(p *price.Prices){
		"quota": func(p *price.Prices) {
			p.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 4.6 * 0.45359237},
				PriceBeyond: price.Value{Best: .1}, DelaySeasons: price.Value{Best: 2}}
		},
		"dear fuel": func(p *price.Prices) { p.Processing = price.Value{Best: 60 / 3.785411784} },
	} {
		in := scenario(t).Input
		in.Prices = in.Prices.Clone()
		change(in.Prices)
		a, err := memo.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range a.Ranking {
			costs := 0.
			for _, l := range o.Unsanitized.Lines {
				switch l.Name {
				case "boiling and packing", "hauling of sap", "sap rinsed away or discarded", "bulk syrup",
					"retail syrup":
				default:
					costs -= l.Amount
				}
			}
			if o.Unsanitized.Net < -costs-1e-9 {
				t.Errorf("%s: %s nets %v, and costs %v by itself", name, o.ID(), o.Unsanitized.Net, costs)
			}
		}
		if name != "dear fuel" {
			continue
		}
		if best, _ := a.Best(); best.Practice != practice.Unsanitized {
			t.Errorf("%s comes first where no sap pays", best.ID())
		}
		for _, x := range a.Sure.Turns {
			if x.Gain != nil {
				t.Errorf("%s would come first if a gain were %v, where none brings anything", x.Takes, x.At)
			}
		}
	}
}

// Where sap brings nothing and nothing costs anything, nobody is told to do anything.
func TestOfWhatNetsTheSameNothingIsDone(t *testing.T) {
	in := scenario(t).Input
	in.Prices = in.Prices.Clone()
	for _, s := range in.Prices.Tried() {
		if v := s.Value(); v != nil && strings.Contains(s.Key, "price") {
			s.Put(price.Value{})
		}
	}
	in.Prices.Wage, in.Prices.Processing, in.Prices.Hauling = price.Value{}, price.Value{}, price.Value{}
	a, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	if best, _ := a.Best(); best.Practice != practice.Unsanitized {
		t.Errorf("%s is advised", best.ID())
	}
}
