package advice_test

import (
	"fmt"
	"math"
	"sync"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/engine/trust"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// trusted is one answer with its checks, and its memo, for all tests.
var (
	checked advice.Memo
	trusted = sync.OnceValues(func() (*advice.Advice, error) {
		a, err := checked.Of(asked())
		if err != nil {
			return nil, err
		}
		return checked.Trust(a)
	})
)

// What a check says is what the whole chain says where the same is asked of it from the start: without each study, and
// under other assumptions.
func TestChecksAreTheChainAgain(t *testing.T) {
	a, err := trusted()
	if err != nil {
		t.Fatal(err)
	}
	same := func(what string, got *trust.Answer, in advice.Input, within float64) {
		t.Helper()
		want, err := new(advice.Memo).Of(in)
		if err != nil || got == nil {
			if (err == nil) != (got != nil) {
				t.Errorf("%s: %v, %v", what, got, err)
			}
			return
		}
		if got.First != want.First() || got.Left != want.Pool.Studies || len(got.Gains) != len(want.Pool.Gains) {
			t.Fatalf("%s: %s first with %d studies, want %s with %d", what, got.First, got.Left, want.First(),
				want.Pool.Studies)
		}
		for i, g := range want.Pool.Gains {
			if math.Abs(got.Gains[i].Log-g.Log) > within {
				t.Errorf("%s: %s gains %v, want %v", what, g.Treatment, got.Gains[i].Log, g.Log)
			}
		}
	}
	asked := map[string]int{}
	for _, c := range a.Trust.Checks {
		for _, x := range c.Asked {
			in := a.Input
			switch c.Key {
			case "study": // the box stays that of the whole
				in.Evidence.Exclude = append(in.Evidence.Exclude[:0:0], x.What)
				same(x.What, x.Answer, in, 0.02)
			case "prior-half":
				in.Pool.Prior = a.Pool.Prior().Times(0.5)
				same(c.Key, x.Answer, in, 1e-9)
			case "no-site":
				in.Pool.Site = false
				same(c.Key, x.Answer, in, 1e-9)
			case "moderate", "severe":
				for i, g := range x.Gains {
					if now := a.Pool.Gains[i]; x.Answer == nil || g.Treatment != now.Treatment {
						t.Errorf("%s: %+v", c.Key, g)
					}
				}
			}
			asked[c.Key]++
		}
	}
	if asked["study"] != 4 || asked["site"] != 4 || asked["prior-half"] != 1 || asked["no-wild"] != 1 {
		t.Errorf("%v", asked)
	}
	if len(a.Influence) != 4+4+4 && len(a.Influence) == 0 || len(a.Trust.Others) == 0 || a.Weighed != nil {
		t.Errorf("%d left out, %d foretold", len(a.Influence), len(a.Trust.Others))
	}
}

// Under selection no gain grows, and the severer takes more; what was not compared with unsanitized stays.
func TestSelectionTakesAway(t *testing.T) {
	a, err := trusted()
	if err != nil {
		t.Fatal(err)
	}
	gains := map[string][]pool.Gain{"": a.Pool.Gains}
	for _, c := range a.Trust.Checks {
		if c.Key == "moderate" || c.Key == "severe" {
			gains[c.Key] = c.Asked[0].Gains
		}
	}
	for i, g := range a.Pool.Gains {
		if !(gains["severe"][i].Log <= gains["moderate"][i].Log && gains["moderate"][i].Log <= g.Log+1e-12) {
			t.Errorf("%s: %v, %v, %v", g.Treatment, g.Log, gains["moderate"][i].Log, gains["severe"][i].Log)
		}
	}
}

// One or two studies read sensibly: what cannot be asked is left out, and nothing fails.
func TestTrustOfFewStudies(t *testing.T) {
	for n, inference := range []pool.Inference{pool.Mixture, "kr"} {
		n++
		in := asked()
		in.Studies = in.Studies[:n]
		in.Pool.Inference = inference
		in.Search = input.Search([]string{" \n", "Reports of three stations, 2024; talks left out"}[n-1])
		var m advice.Memo
		a, err := m.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		if a, err = m.Trust(a); err != nil {
			t.Fatal(err)
		}
		if len(a.Trust.Criteria) != 8 || len(a.Influence) < n {
			t.Errorf("%d studies, %s: %+v", n, inference, a.Trust)
		}
		if c := a.Trust.Criteria[0]; c.Key != "search" || c.Met != (n == 2) {
			t.Errorf("%q: %+v", in.Search, c)
		}
		if n == 1 && (a.Trust.Small != nil || a.Trust.Designs != nil) {
			t.Errorf("one study is tested: %+v", a.Trust)
		}
		if w, err := m.Why(a); err != nil || len(w.Why) != len(a.Pool.Gains) || len(w.Why[0].Parts) == 0 {
			t.Errorf("%d studies, %s: %v", n, inference, err)
		}
	}
}

// What takes a gain apart is that of the practices asked for, and leaves the answer as it was.
func TestWhyOfOne(t *testing.T) {
	a, err := trusted()
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range a.Pool.Gains {
		w, err := checked.Why(a, g.Treatment.Practice)
		if err != nil || len(w.Why) != 1 || w.Why[0].Treatment != g.Treatment || len(a.Why) != 0 {
			t.Fatal(fmt.Sprint(g.Treatment), err, w.Why)
		}
		x := w.Why[0]
		last := len(x.Parts) - 1
		money, _ := a.Money.ForMoney(g.Treatment)
		said, used := x.Parts[last-2].Log, 100*math.Expm1(x.Parts[last].Log)
		if math.Abs(said-g.Log) > 1e-9 || math.Abs(used-money.LongRunPct) > 1e-7 {
			t.Errorf("%s: the parts end at %v and %v %%, the gains are %v and %v %%", g.Treatment, said, used, g.Log,
				money.LongRunPct)
		}
		for i, s := range x.Movers[:max(0, len(x.Movers)-1)] {
			if math.Abs(s.Moves) < math.Abs(x.Movers[i+1].Moves) {
				t.Errorf("%s: %+v", g.Treatment, x.Movers)
			}
		}
	}
}

// By Kenward-Roger and without prices what is assumed of the spread moves nothing, and is not asked.
func TestChecksThatMoveNothing(t *testing.T) {
	for _, c := range []struct {
		with   pool.Inference
		priced bool
		asked  int
	}{{pool.KenwardRoger, false, 0}, {pool.KenwardRoger, true, 3}, {pool.Mixture, false, 3}} {
		in := asked()
		in.Pool.Inference = c.with
		if !c.priced {
			in.Prices = nil
		}
		var m advice.Memo
		a, err := m.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		if a, err = m.Trust(a); err != nil {
			t.Fatal(err)
		}
		n, listed := 0, 0
		for _, x := range a.Trust.Checks {
			if x.Integrated() {
				listed++
				if x.Asked != nil {
					n++
				}
			}
		}
		if listed != 3 || n != c.asked {
			t.Errorf("%+v: %d of %d are asked", c, n, listed)
		}
	}
}

// Of two studies that contradict each other each, left alone, names what it found best at the same cost, and not
// today's practice because none is left that two studies hold; the same without prices, by the most sap.
func TestChecksOfTwoStudiesNameWhatIsLeft(t *testing.T) {
	rows := func(name string, season int, spout, valve float64) (list []string) {
		for _, x := range []struct {
			of   practice.Key
			mean float64
		}{{practice.Unsanitized, 10}, {practice.NewSpout, spout}, {practice.CheckValve, valve}} {
			list = append(list, fmt.Sprintf("%s,%s,%d,%s,replicated,chamber,%g,6,1", name, name, season, x.of, x.mean))
		}
		return list
	}
	in := typed(t, measured, append(rows("Alder", 2021, 14.5, 12), rows("Birch", 2022, 11.6, 15)...)...)
	for _, p := range []*price.Prices{prices(), nil} {
		in.Prices = p
		var m advice.Memo
		a, err := m.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		if a, err = m.Trust(a); err != nil {
			t.Fatal(err)
		}
		for _, c := range a.Trust.Checks {
			for _, x := range c.Asked {
				want := practice.CheckValve // Birch alone
				if x.What == "Birch" || x.What == "2022" {
					want = practice.NewSpout
				}
				if len(c.Asked) > 1 && (x.Answer == nil || x.First != string(want)) {
					t.Errorf("prices %v: without %s %s comes first, want %s", p != nil, x.What, x.First, want)
				}
			}
		}
	}
}
