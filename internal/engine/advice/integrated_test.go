package advice_test

import (
	"slices"
	"strings"
	"testing"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// Money under inference by mixture: the best guess of every net is the mean of its draws (k takes out of a gain what
// its being poorly known would pay), every chance is stated, and what leads with one study is not recommended.
func TestMoneyFromTheMixture(t *testing.T) {
	b := scenario(t)
	if b.Recommended < 0 || b.Sure == nil {
		t.Fatal("nothing is recommended")
	}
	for _, o := range b.Ranking {
		if o.Verdict == practice.Permitted && o.Studied && o.ChanceBest == nil {
			t.Errorf("%s has no chance of being best", o.ID())
		}
		if !(o.Today.NetLow <= o.Today.Net+1e-9 && o.Today.Net <= o.Today.NetHigh+1e-9) {
			t.Errorf("%s nets %v, from %v to %v", o.ID(), o.Today.Net, o.Today.NetLow, o.Today.NetHigh)
		}
	}
}

// A practice that leads with one study, or with several seasons of one trial, is promising; first place goes to the
// best of those that have two.
func TestFirstPlaceNeedsTwoStudies(t *testing.T) {
	for _, says := range []string{"rests on one study", "rests on one trial of several seasons"} {
		in := asked()
		in.Studies = slices.Clone(in.Studies)
		for i := range in.Studies {
			s := &in.Studies[i]
			if says != "rests on one study" && i < 3 {
				s.Trial, s.Site = "one", in.Studies[0].Site
			} else if i > 0 {
				s.Arms = slices.DeleteFunc(slices.Clone(s.Arms),
					func(x evidence.Arm) bool { return x.Practice == practice.CheckValve })
			}
		}
		a := answer(t, in)
		if a.Ranking[0].Practice != practice.CheckValve {
			t.Fatalf("%s leads, so that nothing is tried here", a.Ranking[0].ID())
		}
		if best, ok := a.Best(); !ok || best.Practice == practice.CheckValve {
			t.Errorf("%s is recommended, and %s", best.ID(), says)
		}
		if !slices.ContainsFunc(a.Notes, func(n note.Note) bool { return strings.Contains(n.English(), says) }) {
			t.Errorf("nothing says that it %s: %v", says, a.Notes)
		}
	}
}
