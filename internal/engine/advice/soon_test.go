package advice_test

import (
	"math"
	"slices"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/trade/evidence"
)

// Of many studies one is changed: the answer that is given soon says so, and is the whole one's to what is shown. The
// same studies, and few, are answered whole.
func TestSoon(t *testing.T) {
	var m advice.Memo
	in := scenario(t).Input
	few := in
	in.Studies = many(in.Studies, 520)
	before, err := m.Ranked(in)
	if err != nil {
		t.Fatal(err)
	}
	says := func(a *advice.Advice) bool {
		return slices.ContainsFunc(a.Notes, func(n note.Note) bool { return n.English() == soonKey })
	}
	if same, err := m.Soon(in, before); err != nil || same != before {
		t.Errorf("the same studies are answered anew (%v)", err)
	}
	if a, err := m.Soon(few, before); err != nil || a.Held || says(a) {
		t.Errorf("few studies are answered soon (%v)", err)
	}
	in.Studies = slices.Clone(in.Studies)
	changed := 0
	for i := 100; changed < 2; i++ { // the arms of one study
		s := &in.Studies[i]
		s.Arms = slices.Clone(s.Arms)
		for j := range s.Arms {
			if a := &s.Arms[j]; a.Mean != nil && !slices.Contains(in.Evidence.Exclude, s.Name) {
				a.Mean = new(*a.Mean * math.Pow(1.15, float64(j)))
				changed++
			}
		}
	}
	soon, err := m.Soon(in, before)
	if err != nil {
		t.Fatal(err)
	}
	dearer, err := in.With("wage", in.Prices.Wage)
	if err != nil {
		t.Fatal(err)
	}
	dearer.Prices.Wage.Best++
	again, err := m.Soon(dearer, soon)
	if err != nil || again.Pool != soon.Pool || !again.Held {
		t.Errorf("a price that is changed after it works out the studies anew (%v)", err)
	}
	whole, err := m.Ranked(in)
	if err != nil {
		t.Fatal(err)
	}
	if !soon.Held || !says(soon) || whole.Held || says(whole) {
		t.Errorf("held: %v and %v; said: %v and %v", soon.Held, whole.Held, says(soon), says(whole))
	}
	moved := 0.0
	for i, g := range whole.Pool.Gains {
		h := soon.Pool.Gains[i]
		near(t, "gain", h.Pct, g.Pct, .05)
		near(t, "low", h.LowPct, g.LowPct, .1)
		near(t, "high", h.HighPct, g.HighPct, .1)
		moved = max(moved, math.Abs(g.Pct-before.Pool.Gains[i].Pct))
	}
	if moved < .02 {
		t.Errorf("the change moves no gain by more than %v: the case does not test what it is to test", moved)
	}
	for i, o := range whole.Ranking {
		if s := soon.Ranking[i]; s.ID() != o.ID() || math.Abs(s.Today.Average()-o.Today.Average()) > .01 {
			t.Errorf("%s nets %v whole, %s %v soon", o.ID(), o.Today.Average(), s.ID(), s.Today.Average())
		}
	}
}

// A few of many studies come to stand far apart: the answer given soon sees that they do, and is off by tenths of a
// percent where it would be off by percents.
func TestSoonSeesWhatStandsApart(t *testing.T) {
	var m advice.Memo
	in := scenario(t).Input
	in.Studies = many(in.Studies, 520)
	before, err := m.Ranked(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Studies = slices.Clone(in.Studies)
	for i := range 3 {
		s := &in.Studies[60+i]
		s.Arms = slices.Clone(s.Arms)
		for j := range s.Arms {
			if a := &s.Arms[j]; a.Mean != nil {
				a.Mean = new(*a.Mean * math.Exp(.8*math.Sin(float64(7*(60+i)+3*j))))
			}
		}
	}
	soon, err := m.Soon(in, before)
	if err != nil || !soon.Held {
		t.Fatal("changes are not answered soon", err)
	}
	whole, err := m.Ranked(in)
	if err != nil {
		t.Fatal(err)
	}
	for i, g := range whole.Pool.Gains {
		h := soon.Pool.Gains[i]
		near(t, "gain", h.Pct, g.Pct, .5)
		near(t, "low", h.LowPct, g.LowPct, 1)
		near(t, "high", h.HighPct, g.HighPct, 1)
	}
}

// What is more than a few changes is answered whole: a table grown from few studies to many, one of the same names
// whose every study was changed, other rules of evidence, and few changes upon few.
func TestSoonOnlyOfFewChanges(t *testing.T) {
	var m advice.Memo
	in := scenario(t).Input
	few, err := m.Ranked(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Studies = many(in.Studies, 520)
	whole := func(what string, in advice.Input, before *advice.Advice) *advice.Advice {
		t.Helper()
		a, err := m.Soon(in, before)
		if err != nil {
			t.Fatal(what, err)
		}
		if w, err := m.Ranked(in); err != nil || a != w || a.Held {
			t.Errorf("%s is not answered whole (%v)", what, err)
		}
		return a
	}
	before := whole("a table grown from few studies", in, few)
	changed := func(n int) advice.Input {
		in, left := in, n
		in.Studies = slices.Clone(in.Studies)
		for i := range in.Studies {
			s := &in.Studies[i]
			of := func(a evidence.Arm) bool { return a.Mean != nil }
			if left == 0 || slices.Contains(in.Evidence.Exclude, s.Name) || !slices.ContainsFunc(s.Arms, of) {
				continue
			}
			s.Arms = slices.Clone(s.Arms)
			for j := range s.Arms {
				if a := &s.Arms[j]; a.Mean != nil {
					a.Mean = new(*a.Mean * math.Exp(.3*math.Sin(float64(7*i+3*j))))
				}
			}
			left--
		}
		return in
	}
	whole("a table of the same names", changed(-1), before)
	six, err := m.Soon(changed(6), before)
	if err != nil || !six.Held {
		t.Fatal("six changes are not answered soon", err)
	}
	whole("six changes upon six", changed(12), six)
	in.Evidence.Variance = evidence.PooledCV
	whole("another rule of evidence", in, before)
}

const soonKey = "the studies have just been changed: how much they differ is taken as before, which may move a gain " +
	"by tenths of a percent; the whole answer follows within a minute"
