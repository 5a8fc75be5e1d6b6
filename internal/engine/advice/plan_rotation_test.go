package advice_test

import (
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/trade/practice"
)

// A section left to rotation alone, without caps, replaces its drops at the interval that package rotation finds best:
// two ways to the same answer, one by equivalent annual amounts over a cycle, one by backward induction.
func TestPlanAgreesWithRotation(t *testing.T) {
	read, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	in := advice.Usual(read)
	for _, s := range in.Studies { // so that both rest on one fit
		for i := range s.Arms {
			s.Arms[i].LineAge, s.Arms[i].Vacuum = nil, nil
		}
	}
	p := *in.Prices
	p.AllAtOnce = true
	in.Prices = &p
	a, err := new(advice.Memo).Of(in)
	if err != nil {
		t.Fatal(err)
	}
	b, err := sheet.SugarbushOf("b.toml", []byte(`name = "one"
first_season = 2026
seasons = 15
[section.a]
taps = 1000
practice = "new-spout"
unwanted = ["check-valve", "silver-spout", "new-lateral", "peroxide-rinse", "chlorine-rinse", "alcohol-flush"]
`), in.Prices, in.Practices)
	if err != nil {
		t.Fatal(err)
	}
	got, err := memo.Plan(in, b)
	if err != nil {
		t.Fatal(err)
	}
	var when []int
	for i, s := range got.Sections[0].Steps {
		if s.Renew {
			when = append(when, i)
		}
	}
	if len(when) < 3 {
		t.Fatalf("drops are replaced in %v of 15 seasons", when)
	}
	for i := 1; i < len(when); i++ {
		if n := when[i] - when[i-1]; n != a.Rotation.Best {
			t.Errorf("replaced after %d seasons; rotation: %d", n, a.Rotation.Best)
		}
	}
	for _, s := range got.Sections[0].Steps {
		if s.Practice != practice.NewSpout && s.Practice != practice.NewDrop {
			t.Errorf("%s in %d", s.Practice, s.Season)
		}
	}
	t.Logf("replaced in %v; rotation's best is every %d", when, a.Rotation.Best)
}
