package advice_test

import (
	"testing"

	"spile/advice"
	"spile/pool"
	"spile/sheet"
)

func demoInput(t testing.TB) advice.Input {
	t.Helper()
	in, notes, err := sheet.Read("../demo/evidence.csv", "../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	in.Notes = notes
	in.Pool = pool.Default()
	return in
}

func TestTry(t *testing.T) {
	a, err := advice.Of(demoInput(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range a.Pool.Gains {
		t.Logf("%-16s %5.1f (%5.1f to %5.1f) season %5.1f to %5.1f  df %.1f", g.Treatment.Practice, g.Pct, g.LowPct, g.HighPct, g.SeasonLowPct, g.SeasonHighPct, g.DF)
	}
	for _, o := range a.Ranking {
		t.Logf("%-24s gain %5.1f  vs un %6.2f (%6.2f to %6.2f) vs today %6.2f (%6.2f to %6.2f) %v %v", o.ID(), o.GainPct, o.Unsanitized.Net, o.Unsanitized.NetLow, o.Unsanitized.NetHigh, o.Today.Net, o.Today.NetLow, o.Today.NetHigh, o.Verdict, o.Studied)
	}
	for _, n := range a.Notes {
		t.Log(n.English())
	}
}
