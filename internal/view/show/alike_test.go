package show

import (
	"math"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/say"
)

// contradicting is two studies that each find first what the other finds second, with a check valve so dear that the
// nets of the two practices lie 0.04 apart, to either side.
func contradicting(t *testing.T, today practice.Key, apart float64) *advice.Advice {
	t.Helper()
	study := func(name string, season int, spout, valve float64) evidence.Study {
		s := evidence.Study{Name: name, Site: name, Season: season, Kind: evidence.Replicated, Unit: evidence.Chamber}
		for _, x := range []struct {
			of   practice.Key
			mean float64
		}{{practice.Unsanitized, 10}, {practice.NewSpout, spout}, {practice.CheckValve, valve}} {
			s.Arms = append(s.Arms, evidence.Arm{Practice: x.of, Reference: x.of == practice.Unsanitized,
				Mean: new(x.mean), SD: new(x.mean / 10), N: new(6.)})
		}
		return s
	}
	answer := func(dear float64) *advice.Advice {
		p := price.Default()
		p.Currency, p.AsOf, p.Place, p.SyrupBrix = "USD", "2026-01-15", "US-VT", 66.9
		p.Today = price.Done{Treatment: practice.Treatment{Practice: today}}
		p.Baseline = price.Baseline{Yield: price.Value{Best: 60}, Brix: price.Value{Best: 2},
			Done: price.Done{Treatment: practice.Treatment{Practice: practice.Unsanitized}}}
		p.Sells.Sap = &price.Outlet{Share: 1, Price: price.Value{Best: 0.1}}
		p.Materials = []price.Material{{Name: "spout", Price: price.Value{Best: 0.4}},
			{Name: "valve", Price: price.Value{Best: dear}}}
		of := func(k practice.Key, what string) price.Use {
			return price.Use{Practice: k, Materials: []price.MaterialUse{{Material: what, Count: 1,
				Life: price.Value{Best: 1}}}}
		}
		p.Uses = []price.Use{of(practice.NewSpout, "spout"), of(practice.CheckValve, "valve")}
		a, err := new(advice.Memo).Of(advice.Usual(input.Input{Prices: &p, Practices: practice.Shipped(),
			Rules: practice.ShippedRules(), Studies: []evidence.Study{study("Alder", 2021, 14.5, 12),
				study("Birch", 2022, 11.6, 15)}}))
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	more := func(a *advice.Advice) float64 { // what the check valve nets more
		net := map[practice.Key]float64{}
		for _, o := range a.Ranking {
			net[o.Practice] = o.Unsanitized.Average()
		}
		return net[practice.CheckValve] - net[practice.NewSpout]
	}
	a := answer(0.4 + more(answer(0.4)) - apart)
	if math.Abs(more(a)-apart) > 1e-9 {
		t.Fatalf("the nets lie %v apart, not %v: nothing is tried here", more(a), apart)
	}
	return a
}

// Two studies that contradict each other tell nothing apart: that is what is said first, whatever is done today, and
// nowhere beside it does anything pay best, or give the most sap where no prices are known.
func TestContradictingStudiesTellNothingApart(t *testing.T) {
	for _, apart := range []float64{0.04, -0.04} {
		for _, today := range []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve,
			practice.PeroxideRinse} { // of the last nothing is known
			a := contradicting(t, today, apart)
			w := Of(a, say.In("en"))
			said := w.Recommendation()
			if !strings.HasPrefix(said[0], "These cannot be told apart: ") ||
				!strings.Contains(said[0], "new spout each season and check-valve") &&
					!strings.Contains(said[0], "check-valve spout each season and new spout") {
				t.Errorf("today %s: %s", today, said[0])
			}
			all := append(said, w.Ranking().Title, w.Net().Title)
			all = append(all, w.Warnings()...)
			for _, x := range w.Talk("", "", nil) {
				all = append(append(all, x.Title), x.Points...)
			}
			for _, x := range all {
				if strings.Contains(x, "pays best") {
					t.Errorf("today %s: %q beside what cannot be told apart", today, x)
				}
			}
		}
	}
	a := *contradicting(t, practice.NewSpout, 0.04)
	a.Input.Prices, a.Ranking = nil, nil
	if said := Of(&a, say.In("en")).Recommendation()[0]; !strings.HasPrefix(said, "No practice is shown to give "+
		"more sap than unsanitized.") || !strings.Contains(said, "cannot be told apart from") {
		t.Error(said)
	}
}
