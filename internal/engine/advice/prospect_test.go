package advice_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/advice"
	"spile/internal/engine/sure"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// scenario is the demo's evidence and prices.
func scenario(t testing.TB) *advice.Advice {
	t.Helper()
	a, err := answered()
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// answered is the demo's answer, and memo what was worked out for it: one for all tests, since a fit takes most of the
// time and is the same where prices change.
var (
	memo     advice.Memo
	answered = sync.OnceValues(func() (*advice.Advice, error) {
		in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
		if err != nil {
			return nil, err
		}
		return memo.Of(advice.Usual(in))
	})
)

// What is drawn of a gain has the interval that money's gain has (M7), its mean ratio is money's gain, and both are the
// ranking's.
func TestDrawnIntervalsAreMoneys(t *testing.T) {
	a := scenario(t)
	m, _, err := advice.SureModel(a, advice.DrawOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range m.Gains.Treatments {
		g, ok := a.Money.ForMoney(x)
		if !ok || x.Practice == practice.Unsanitized {
			continue
		}
		at := func(y float64) (below float64) {
			for _, n := range m.Gains.Members {
				v := 0.0
				for _, c := range n.Root.RawRowView(i) {
					v += c * c
				}
				below += n.Weight * distuv.UnitNormal.CDF((y-n.Mean[i])/math.Sqrt(v))
			}
			return below
		}
		near(t, x.String()+": below its low end", at(math.Log1p(g.LowPct/100)), .025, .004)
		near(t, x.String()+": below its high end", at(math.Log1p(g.HighPct/100)), .975, .004)
		near(t, x.String()+": best guess", m.Gains.Best[i], math.Log1p(g.LongRunPct/100), 1e-12)
	}
}

// Best guesses of the drawn model are those of the ranking: the same nets, swings around them, and at a break-even the
// two options net the same by the whole chain.
func TestBreakEvenByTheChain(t *testing.T) {
	a := scenario(t)
	r, err := a.Prospect(advice.DrawOptions{Draws: 2000})
	if err != nil {
		t.Fatal(err)
	}
	h, err := r.Hangs()
	if err != nil {
		t.Fatal(err)
	}
	best := r.Model.Options[r.Best].ID
	found := 0
	for _, b := range h.Breaks {
		for _, side := range []struct {
			at    *float64
			takes string
		}{{b.Below, b.BelowTakes}, {b.Above, b.AboveTakes}} {
			if side.at == nil {
				continue
			}
			found++
			if b.Treatment >= 0 {
				if x := r.Model.Gains.Treatments[b.Treatment]; x.DropAge > 0 {
					t.Errorf("%v is moved without the new drop", x)
				}
				continue // a gain cannot be put into the chain
			}
			in, err := a.Input.With(b.Key, price.Value{Best: *side.at})
			if err != nil {
				t.Fatal(err)
			}
			there, err := memo.Ranked(in)
			if err != nil {
				t.Fatal(err)
			}
			x, y := option(t, there, best).Unsanitized.Net, option(t, there, side.takes).Unsanitized.Net
			if math.Abs(x-y) > 1e-6 {
				t.Errorf("%s at %v: %s nets %v, %s %v", b.Key, *side.at, best, x, side.takes, y)
			}
		}
	}
	if found == 0 {
		t.Error("nothing breaks even: the case does not test what it is to test")
	}
	for _, s := range h.Swings {
		if s.Treatment >= 0 {
			continue
		}
		in, err := a.Input.With(s.Key, price.Value{Best: s.Low})
		if err != nil {
			t.Fatal(err)
		}
		there, err := memo.Ranked(in)
		if err != nil {
			t.Fatal(err)
		}
		near(t, s.Key, s.NetLow, option(t, there, best).Today.Net, 1e-6)
	}
}

// What would change the recommendation is told of a number that is not sure, as long as one turns it.
func TestTurnsAreOfWhatIsUnsure(t *testing.T) {
	a := new(advice.Memo).Sure(scenario(t))
	if a.Sure == nil || len(a.Sure.Turns) != 2 || a.Sure.Turns[0].Gain == nil {
		t.Fatalf("%+v", a.Sure)
	}
	x := a.Sure.Turns[1]
	if x.Assumption.Value.Low == nil || x.Now != x.Assumption.Value.Best || x.Below != (x.At < x.Now) {
		t.Errorf("%s, now %v, turns at %v (below: %v), low %v", x.Assumption.Key, x.Now, x.At, x.Below,
			x.Assumption.Value.Low)
	}
}

// The map agrees with the chain at its corners.
func TestMapByTheChain(t *testing.T) {
	a := scenario(t)
	m, assumptions, err := advice.SureModel(a, advice.DrawOptions{})
	if err != nil {
		t.Fatal(err)
	}
	at := func(key string) int {
		return slices.IndexFunc(assumptions, func(x price.Assumption) bool { return x.Key == key })
	}
	x, y := []float64{15, 60}, []float64{30, 110}
	over, err := m.Over(at("wage"), at("baseline.yield"), x, y)
	if err != nil {
		t.Fatal(err)
	}
	for j := range y {
		for i := range x {
			in, _ := a.Input.With("wage", price.Value{Best: x[i]})
			in, _ = in.With("baseline.yield", price.Value{Best: y[j]})
			there, err := memo.Ranked(in)
			if err != nil {
				t.Fatal(err)
			}
			best, _ := there.Best()
			if got := m.Options[over.Winner[j][i]].ID; got != best.ID() {
				t.Errorf("wage %v, yield %v: %s wins on the map, %s by the chain", x[i], y[j], got, best.ID())
			}
			near(t, "net on the map", over.Net[j][i], best.Today.Net, 1e-6)
		}
	}
}

func TestProspectFaults(t *testing.T) {
	a := scenario(t)
	for want, o := range map[string]advice.DrawOptions{
		"no assumption named wages":  {Kinds: map[string]sure.Kind{"wages": sure.Even}},
		"allowed: held, likely":      {Kinds: map[string]sure.Kind{"wage": "triangle"}},
		"no option uses it":          {Correlations: []sure.Correlation{{A: "wage", B: "rain", Rank: .2}}},
		"all is to be drawn 3 times": {Draws: 3},
	} {
		var faults note.Faults
		if _, err := a.Prospect(o); !errors.As(err, &faults) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}

// Where today's practice is the best, the swings are those of its lead over the next best, not all nothing.
func TestSwingsOfTodaysPractice(t *testing.T) {
	in := scenario(t).Input
	in.Against = practice.Choice{Practice: practice.CheckValve}
	a, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	best, _ := a.Best()
	if !best.IsToday {
		t.Fatalf("%s is recommended: the case does not test what it is to test", best.ID())
	}
	r, err := a.Prospect(advice.DrawOptions{Draws: 2000})
	if err != nil {
		t.Fatal(err)
	}
	h, err := r.Hangs()
	if err != nil {
		t.Fatal(err)
	}
	next := r.Model.Options[r.Against()].ID
	if next == best.ID() || len(h.Swings) == 0 {
		t.Fatalf("swings of %s against %s: %d", best.ID(), next, len(h.Swings))
	}
	for _, s := range h.Swings[:4] {
		if s.NetLow == s.NetHigh {
			t.Errorf("%s, among the widest, swings nothing", s.Key)
		}
		if s.Treatment >= 0 {
			continue
		}
		in, err := a.Input.With(s.Key, price.Value{Best: s.High})
		if err != nil {
			t.Fatal(err)
		}
		there, err := memo.Ranked(in)
		if err != nil {
			t.Fatal(err)
		}
		near(t, s.Key, s.NetHigh, option(t, there, best.ID()).Unsanitized.Net-option(t, there, next).Unsanitized.Net,
			1e-6)
	}
}

// Everything the choice hangs on, its map, and what it is worth to know, on the demo.
func BenchmarkHangs(b *testing.B) {
	r, err := scenario(b).Prospect(advice.DrawOptions{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		h, err := r.Hangs()
		if err != nil {
			b.Fatal(err)
		}
		x, y, _ := r.Pair(h, "", "")
		if _, err := r.Contest(x, y); err != nil {
			b.Fatal(err)
		}
		if _, err := r.Knowing(); err != nil {
			b.Fatal(err)
		}
	}
}

// 10,000 draws of both outlooks with their summary, on the demo.
func BenchmarkProspect(b *testing.B) {
	a := scenario(b)
	for b.Loop() {
		if _, err := a.Prospect(advice.DrawOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Where nothing is unsure but gains, what would turn the choice is never that a thing which is fitted once a season is
// bought oftener.
func TestNoTurnBelowASeason(t *testing.T) {
	in := scenario(t).Input
	in.Prices = in.Prices.Clone()
	for _, s := range in.Prices.Slots() {
		if v := s.Value(); v != nil {
			v.Low, v.High = nil, nil
		}
	}
	a, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range a.Sure.Turns {
		if x.Gain == nil && x.Assumption.Measure == price.Seasons && x.At < 1 {
			t.Errorf("%s at %v", x.Assumption.Key, x.At)
		}
	}
}
