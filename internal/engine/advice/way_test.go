package advice_test

import (
	"math"
	"testing"

	"spile/internal/trade/practice"
)

// The way to staged drops from old ones, by hand from the gains of the ranking: in the first season a third are new and
// the rest as a new spout on old drops, in the second a third one season old, and so on; the renewal of a third costs
// (3 + 3/60 × 30)/3 in every season. A litre of sap is 1, and seasons count 1, 1/1.05, …
func TestWayThereByHand(t *testing.T) {
	in := asked()
	in.Prices.Discount.Best = .05
	in.Over = 4
	a := answer(t, in)
	pct := func(id string) float64 { return option(t, a, id).GainPct / 100 }
	spout, g := pct("new-spout"), []float64{pct("new-drop/1"), 0, 0}
	g[1] = 2*pct("new-drop/2") - g[0]
	g[2] = 3*pct("new-drop/3") - g[0] - g[1]
	y0 := 25 / (1 + spout)
	path := []float64{(g[0] + 2*spout) / 3, (g[0] + g[1] + spout) / 3, (g[0] + g[1] + g[2]) / 3,
		(g[0] + g[1] + g[2]) / 3}
	sum, weights := 0., 0.
	drops := option(t, a, "new-drop/3").Way
	for s, x := range path {
		net := y0*(x-spout) - 1.5
		near(t, "season", drops.Net[s], net, 1e-9)
		v := math.Pow(1.05, -float64(s))
		sum, weights = sum+v*net, weights+v
	}
	near(t, "equal yearly net", drops.Expected, sum/weights, .01) // next to nothing is unsure, but a little is
	near(t, "net present value", drops.Present, sum, .04)
	near(t, "outlay", drops.Outlay, 1.5, 1e-9)
	cash := 0. // paid back at the end of the first season from which on it stays above nothing
	payback := 0
	for s := range path {
		if cash += drops.Net[s]; cash < 0 {
			payback = 0
		} else if payback == 0 {
			payback = s + 1
		}
	}
	if drops.Payback != payback {
		t.Errorf("paid back in season %d, by hand %d", drops.Payback, payback)
	}
	valve := option(t, a, "check-valve")
	near(t, "a change that is whole at once", valve.Way.Expected, *valve.Today.Expected, 1e-9)
	if valve.Way.Payback != 1 || valve.Way.Outlay != 0 {
		t.Errorf("a valve at the price of a spout: %+v", valve.Way)
	}
	in.Prices.AllAtOnce = true
	if drops = option(t, answer(t, in), "new-drop/3").Way; math.Abs(drops.Outlay-4.5) > 1e-9 {
		t.Errorf("all at once the first season takes %v more", drops.Outlay)
	}
}

// Over very many seasons the way is the long run; from a rotation that goes on it is so at once, and a new spout on
// drops that a rotation left is better off at first.
func TestWayEndsInTheLongRun(t *testing.T) {
	in := asked()
	in.Prices.Discount.Best, in.Over = 0, 50
	a := answer(t, in)
	for _, o := range a.Ranking {
		if o.Way == nil {
			continue
		}
		near(t, o.ID(), o.Way.Net[49], o.Today.Net, 1e-9)
		if gap := *o.Today.Expected - o.Way.Expected; gap < -1e-9 || gap > 12*float64(o.Every)/50 {
			t.Errorf("%s: %v over fifty seasons, %v in the long run", o.ID(), o.Way.Expected, *o.Today.Expected)
		}
	}
	in.Against = practice.Choice{Practice: practice.NewDrop, Every: 3}
	a = answer(t, in)
	if w := option(t, a, "new-drop/3").Way; w.Expected != 0 {
		t.Errorf("as today: %+v", w)
	}
	if w := option(t, a, "new-spout").Way; !(w.Net[0] > w.Net[1] && w.Net[1] > w.Net[2]) ||
		math.Abs(w.Net[49]-option(t, a, "new-spout").Today.Net) > 1e-9 {
		t.Errorf("a new spout on the drops that are there: %v", w.Net)
	}
	in.Over = 51
	if _, err := memo.Of(in); err == nil {
		t.Error("51 seasons ahead are taken")
	}
}
