package advice_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"spile/advice"
	"spile/note"
	"spile/practice"
	"spile/risk"
	"spile/sheet"
)

// scenario is the demo's evidence and prices.
func scenario(t testing.TB) *advice.Advice {
	t.Helper()
	in, _, err := sheet.Read("../demo/evidence.csv", "../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	a, err := advice.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// The 95 % interval of what is drawn of a gain is that of the table (M7). Drops that age are averaged over two curves, and
// agree less closely.
func TestDrawnIntervalsAreTheTables(t *testing.T) {
	a := scenario(t)
	m, _, err := advice.RiskModel(a, advice.RiskOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range m.Gains.Treatments {
		g, ok := a.Pool.Gain(x)
		if !ok || x.DropAge > 0 || x.Practice == practice.Unsanitized {
			continue
		}
		centre, v := 0.0, 0.0
		for _, n := range m.Gains.Members {
			centre += n.Weight * n.Mean[i]
		}
		for _, n := range m.Gains.Members {
			v += n.Weight * (n.Mean[i] - centre) * (n.Mean[i] - centre)
			for _, c := range n.Root.RawRowView(i) {
				v += n.Weight * c * c
			}
		}
		half := 1.959964 * math.Sqrt(v)
		for _, c := range []struct{ got, want float64 }{{centre - half, math.Log1p(g.LowPct / 100)}, {centre + half, math.Log1p(g.HighPct / 100)}} {
			if math.Abs(c.got-c.want) > 2e-3 {
				t.Errorf("%s: a draw's interval ends at %v, the table's at %v", x.Practice, c.got, c.want)
			}
		}
	}
}

// Best guesses of the risk model are those of the ranking: the same nets, swings around them, and at a break-even the
// two options net the same by the whole chain.
func TestBreakEvenByTheChain(t *testing.T) {
	a := scenario(t)
	r, err := a.Risk(advice.RiskOptions{Draws: 2000})
	if err != nil {
		t.Fatal(err)
	}
	h, err := r.Hangs()
	if err != nil {
		t.Fatal(err)
	}
	best := r.Model.Options[r.Best].ID
	var memo advice.Memo // the fit is the same
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
				continue // a gain cannot be put into the chain
			}
			in, err := a.Input.With(b.Key, *side.at)
			if err != nil {
				t.Fatal(err)
			}
			there, err := memo.Of(in)
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
		in, err := a.Input.With(s.Key, s.Low)
		if err != nil {
			t.Fatal(err)
		}
		there, err := memo.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		near(t, s.Key, s.NetLow, option(t, there, best).Today.Net, 1e-6)
	}
}

// The map agrees with the chain at its corners.
func TestMapByTheChain(t *testing.T) {
	a := scenario(t)
	m, levers, err := advice.RiskModel(a, advice.RiskOptions{})
	if err != nil {
		t.Fatal(err)
	}
	at := func(key string) int {
		return slices.IndexFunc(levers, func(x advice.Assumption) bool { return x.Key == key })
	}
	x, y := []float64{15, 60}, []float64{30, 110}
	over, err := m.Over(at("wage"), at("baseline.yield"), x, y)
	if err != nil {
		t.Fatal(err)
	}
	for j := range y {
		for i := range x {
			in, _ := a.Input.With("wage", x[i])
			in, _ = in.With("baseline.yield", y[j])
			there, err := advice.Of(in)
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

func TestRiskFaults(t *testing.T) {
	a := scenario(t)
	for want, o := range map[string]advice.RiskOptions{
		"no assumption named wages": {Kinds: map[string]risk.Kind{"wages": risk.Uniform}},
		"allowed: fixed, pert":      {Kinds: map[string]risk.Kind{"wage": "triangle"}},
		"which no option uses":      {Correlations: []risk.Correlation{{A: "wage", B: "rain", Rank: .2}}},
		"the draws are 3":           {Draws: 3},
	} {
		var faults note.Faults
		if _, err := a.Risk(o); !errors.As(err, &faults) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}

// The ranked candidates keep their promises: sorted, and none worth more than knowing the gains.
func TestNext(t *testing.T) {
	a := scenario(t)
	n, err := a.Next(a.TrialDefaults())
	if err != nil {
		t.Fatal(err)
	}
	oldest := false
	for i, w := range n.Ranked {
		if i > 0 && w.Net > n.Ranked[i-1].Net {
			t.Error("the candidates are not sorted")
		}
		if w.EVSI > n.Perfect+4*(n.Error+w.Error) {
			t.Errorf("a trial is worth %v, knowing the gains %v", w.EVSI, n.Perfect)
		}
		for _, x := range w.Trial.Treatments {
			oldest = oldest || x.DropAge == 4
		}
	}
	if !oldest {
		t.Error("a trial of drops at age 4 is not among the candidates")
	}
}

// Everything the choice hangs on and what it is worth to know, on the demo.
func BenchmarkHangs(b *testing.B) {
	r, err := scenario(b).Risk(advice.RiskOptions{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := r.Hangs(); err != nil {
			b.Fatal(err)
		}
	}
}

// 10,000 draws of both outlooks with their summary, on the demo.
func BenchmarkRisk(b *testing.B) {
	a := scenario(b)
	for b.Loop() {
		if _, err := a.Risk(advice.RiskOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

// The ranked candidates of the next trial, on the demo.
func BenchmarkNext(b *testing.B) {
	a := scenario(b)
	for b.Loop() {
		if _, err := a.Next(a.TrialDefaults()); err != nil {
			b.Fatal(err)
		}
	}
}
