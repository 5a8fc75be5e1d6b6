package show

import (
	"strings"
	"testing"

	"spile/internal/engine/plan"
	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/say"
)

// A plan that brings less in a poor season says so, and not that it brings less than minus something more.
func TestSingleSeasonSaysLess(t *testing.T) {
	p := &plan.Plan{Sugarbush: bush.Sugarbush{Prices: price.Prices{Currency: "USD"}}, OverLast: &plan.Profit{},
		Sections: make([]plan.SectionPlan, 1),
		Single:   plan.Single{Brings: [3]float64{52100, 75100, 108000}, Over: [3]float64{-537, 3820, 9540}}}
	for lang, want := range map[string]string{
		"en": "$537 less than going on as last season, or worse, in one season of ten, $3,820 more",
		"fr": "537\u00a0$\u00a0US de moins qu’en continuant comme la saison passée, ou pire, une saison sur dix",
	} {
		said := PlanView{P: p, V: say.In(lang)}.single()
		if !strings.Contains(said, want) || strings.ContainsAny(said, "−-") {
			t.Errorf("%s: %s", lang, said)
		}
	}
}

// A chance is not parted from its sign where a narrow table breaks lines.
func TestChanceIsNotParted(t *testing.T) {
	for _, x := range []float64{0.03, 0.5} {
		if said := (PlanView{V: say.In("en")}).chance(x); strings.Contains(said, " ") {
			t.Errorf("%q", said)
		}
	}
}

// A section whose last way is not wanted does not carry on, even where what it starts from is the plan; and a plan of
// nothing says so in words, without a range of nothing.
func TestStoppingIsNoCarryingOn(t *testing.T) {
	p := &plan.Plan{Sugarbush: bush.Sugarbush{Prices: price.Prices{Currency: "USD"}}, OverLast: &plan.Profit{},
		Sections: []plan.SectionPlan{{AsLast: true, Steps: []plan.Step{{Practice: practice.Unsanitized,
			Treatment: practice.Treatment{Practice: practice.Unsanitized}}}}},
		Stops:   []plan.Stop{{Section: "North", Practice: "new-spout", Instead: practice.Unsanitized}},
		Seasons: make([]plan.Season, 10)}
	w := PlanView{P: p, V: say.In("en")}
	text := strings.Join(append(w.Answer(), w.lead()), "\n")
	for _, not := range []string{"is to go on as last season", "carry on", "$0.00 more than unsanitized"} {
		if strings.Contains(text, not) {
			t.Errorf("%q in\n%s", not, text)
		}
	}
	if !strings.Contains(text, "Nothing new is done") {
		t.Error(text)
	}
	if hours := w.Hours(); len(hours.Rows) > 0 {
		t.Errorf("a table of hours without a crew and without work: %v", hours.Rows)
	}
}
