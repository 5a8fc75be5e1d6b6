package input

import (
	"testing"

	"spile/internal/trade/evidence"
	"spile/internal/trade/price"
	"spile/internal/trade/trial"
)

// What is invented says so by its source, in either language; an inventory is no invention. A trial of one's own has no
// source, and is not told as one that is real.
func TestInvented(t *testing.T) {
	prices := price.Default()
	prices.Wage.Source = "invented for the demo"
	for source, want := range map[string]int{"invented: station notes 2014": 1, "Inventé pour l’exemple": 1,
		" invented": 1, "inventory of 2019": 0, "inventaire 2019": 0, "bulletin that is not invented": 0, "": 0} {
		in := Input{Studies: []evidence.Study{{Source: source}, {Source: "thesis, 2018"}},
			Trials: []trial.Trial{{Name: "of our own"}}}
		list := in.Invented()
		if len(list) != want || want == 1 && (list[0].Args[0] != 1 || list[0].Args[1] != 2 || !SaysInvented(list[0])) {
			t.Errorf("%q: %v", source, list)
		}
		in.Prices = &prices
		if more := in.Invented(); len(more) != want+1 || !SaysInvented(more[want]) {
			t.Errorf("%q with prices: %v", source, more)
		}
	}
}
