package advice_test

import (
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
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

// Going on as today needs no second study: what is done already stays first where it nets most.
func TestTodayNeedsNoSecondStudy(t *testing.T) {
	in := asked()
	in.Studies = slices.Clone(in.Studies)
	for i := range in.Studies[1:] {
		s := &in.Studies[1+i]
		s.Arms = slices.DeleteFunc(slices.Clone(s.Arms),
			func(x evidence.Arm) bool { return x.Practice == practice.CheckValve })
	}
	in.Against = practice.Choice{Practice: practice.CheckValve}
	a := answer(t, in)
	best, ok := a.Best()
	if !ok || best.Practice != practice.CheckValve || !best.IsToday || best.Promising != "" {
		t.Errorf("%s is recommended, %q", best.ID(), best.Promising)
	}
}

// A study that no chain links to unsanitized is not in the pool, and nothing is asked of the answer without it.
func TestUnlinkedStudiesAreNotLeftOut(t *testing.T) {
	in := asked()
	island := evidence.Study{Name: "island", Site: "Island", Season: 2019, Kind: evidence.Replicated}
	for i, k := range []practice.Key{practice.ChlorineRinse, practice.AlcoholFlush} {
		island.Arms = append(island.Arms, evidence.Arm{Practice: k, Reference: i == 0, Mean: new(20. + float64(i)),
			SD: new(2.), N: new(6.)})
	}
	for i := range in.Studies {
		in.Studies[i].Arms = slices.DeleteFunc(slices.Clone(in.Studies[i].Arms), func(x evidence.Arm) bool {
			return x.Practice == practice.ChlorineRinse || x.Practice == practice.AlcoholFlush
		})
	}
	in.Studies = append(slices.Clone(in.Studies), island)
	var m advice.Memo
	a, err := m.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	if a, err = m.Trust(a); err != nil || len(a.Pool.NotEstimable) != 2 {
		t.Fatal(err, a.Pool.NotEstimable)
	}
	for _, x := range a.Influence {
		if x.What == "island" || x.What == "Island" {
			t.Errorf("%s is left out: %+v", x.What, x)
		}
	}
	for _, c := range a.Trust.Criteria {
		if c.Key == "weights" || c.Key == "references" && !c.Met {
			if n, of := c.Why.Args[0].(int), c.Why.Args[1].(int); n > of {
				t.Errorf("%s: %d of %d studies", c.Key, n, of)
			}
		}
	}
}
