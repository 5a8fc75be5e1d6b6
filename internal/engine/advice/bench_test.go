package advice_test

import (
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/trade/price"
)

// The answer again after one price changed: the fit is kept, the money is new.
func BenchmarkChangedPrice(b *testing.B) {
	var m advice.Memo
	in := asked()
	wage := 20.
	for b.Loop() {
		wage += 0.001
		changed, err := in.With("wage", price.Value{Best: wage})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := m.Of(changed); err != nil {
			b.Fatal(err)
		}
	}
}

// The whole chain from studies to ranking.
func BenchmarkChain(b *testing.B) {
	in := asked()
	for b.Loop() {
		if _, err := new(advice.Memo).Of(in); err != nil {
			b.Fatal(err)
		}
	}
}
