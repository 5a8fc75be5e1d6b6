package advice_test

import (
	"math"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
)

// What was frozen and read again answers as the studies do, at the station's prices and at others, to less than a
// hundredth of the last digit shown; and no study, site or source stands in it.
func TestFrozen(t *testing.T) {
	a := scenario(t)
	z, err := memo.Freeze(a)
	if err != nil {
		t.Fatal(err)
	}
	text, err := z.Pack()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range a.Input.Studies {
		for _, name := range []string{s.Name, s.Site, s.Source} {
			if name != "" && strings.Contains(string(text), name) {
				t.Errorf("%s stands in what was frozen", name)
			}
		}
	}
	back, err := advice.Unpack(text)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{0, 1, len(text) / 2, len(text) - 1} {
		if _, err := advice.Unpack(text[:n]); err == nil {
			t.Errorf("%d bytes of %d are read", n, len(text))
		}
	}
	thawed := back.Thaw()
	for _, wage := range []float64{a.Input.Prices.Wage.Best, 41} {
		in := a.Input
		in.Prices = in.Prices.Clone()
		in.Prices.Wage.Best, in.Prices.Wage.Low, in.Prices.Wage.High = wage, nil, nil
		want, err := memo.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		got, err := thawed.Of(in.Prices)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Ranking) != len(want.Ranking) {
			t.Fatalf("%d options are ranked, %d by the studies", len(got.Ranking), len(want.Ranking))
		}
		for i, o := range want.Ranking {
			x := got.Ranking[i]
			for _, n := range [][2]float64{{x.GainPct, o.GainPct}, {100 * x.Today.Average(), 100 * o.Today.Average()},
				{x.LowPct, o.LowPct}, {x.Says.GainPct, o.Says.GainPct},
				{20 * x.ChanceOver, 20 * o.ChanceOver}} { // five of 10,000 draws may fall on the other side
				if math.Abs(n[0]-n[1]) > 0.01 {
					t.Errorf("%s at a wage of %v: %v, and %v by the studies", o.ID(), wage, n[0], n[1])
				}
			}
		}
		if got.Recommended != want.Recommended || len(got.Sure.Turns) != len(want.Sure.Turns) {
			t.Errorf("it recommends %d, the studies %d", got.Recommended, want.Recommended)
		}
	}
}

// The plan of a sugarbush that rests on what was frozen is that of the studies.
func TestFrozenPlan(t *testing.T) {
	a := scenario(t)
	z, err := memo.Freeze(a)
	if err != nil {
		t.Fatal(err)
	}
	b, err := sheet.Sugarbush("../../demo/sugarbush-quebec.toml", a.Input.Prices, a.Input.Practices)
	if err != nil {
		t.Fatal(err)
	}
	want, err := memo.Plan(a.Input, b)
	if err != nil {
		t.Fatal(err)
	}
	got, err := z.Thaw().Plan(b)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Profit.Best/want.Profit.Best-1) > 1e-5 || math.Abs(got.Profit.Low/want.Profit.Low-1) > 1e-3 {
		t.Errorf("the plan nets %+v, by the studies %+v", got.Profit, want.Profit)
	}
	for i, s := range want.Sections {
		for k, step := range s.Steps {
			if x := got.Sections[i].Steps[k].Treatment; x != step.Treatment {
				t.Errorf("%s, season %d: %v, by the studies %v", s.Section.Name, k, x, step.Treatment)
			}
		}
	}
}
