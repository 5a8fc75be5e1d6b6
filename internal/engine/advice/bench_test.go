package advice_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/trade/evidence"
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

// Whether the pool can be trusted, all checks, on the demo's studies and on 300 made of them.
func BenchmarkTrust(b *testing.B) {
	in := scenario(b).Input
	for _, n := range []int{len(in.Studies), 300} {
		b.Run(fmt.Sprint(n, " studies"), func(b *testing.B) {
			in.Studies = many(in.Studies, n)
			for b.Loop() {
				var m advice.Memo
				a, err := m.Ranked(in)
				if err == nil {
					_, err = m.Trust(a)
				}
				if err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// many is so many studies made of some: at four sites for each of theirs, and with yields that differ by a few percent.
func many(of []evidence.Study, n int) []evidence.Study {
	r := rand.New(rand.NewPCG(1, 2))
	var list []evidence.Study
	for i := range n {
		s, copies := of[i%len(of)], i/len(of)
		if copies > 0 {
			s.Name = fmt.Sprint(s.Name, " ", copies)
			s.Site = fmt.Sprint(s.Site, " ", copies%4)
			s.Arms = slices.Clone(s.Arms)
			for j := range s.Arms {
				if a := &s.Arms[j]; a.Mean != nil {
					a.Mean = new(*a.Mean * math.Exp(0.05*r.NormFloat64()))
				}
			}
		}
		list = append(list, s)
	}
	return list
}
