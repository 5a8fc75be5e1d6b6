package show

import (
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/plan"
	"spile/internal/note"
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
		if said := Chance(say.In("en"), x); strings.Contains(said, " ") {
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

// years is a plan of two sections, one that goes on and one that turns to washing in its third season.
func years() PlanView {
	var steps [2][]plan.Step
	seasons := make([]plan.Season, 4)
	for i := range seasons {
		seasons[i] = plan.Season{Season: 2026 + i}
		for j := range steps {
			steps[j] = append(steps[j], plan.Step{Season: 2026 + i, Practice: practice.Unsanitized,
				Treatment: practice.Treatment{Practice: practice.Unsanitized}})
		}
		if i > 1 {
			steps[1][i].Practice = "peroxide-rinse"
			seasons[i].Doses = []plan.Dose{{Chemical: "peroxide", Litres: 40}}
			seasons[i].Hours = map[price.Window]float64{price.AfterSeason: 25}
		}
	}
	section := func(name string, steps []plan.Step) plan.SectionPlan {
		return plan.SectionPlan{Section: bush.Section{Name: name, Taps: 500, Practice: practice.Unsanitized},
			Steps: steps, AsLast: name == "North", OverLast: 300}
	}
	return PlanView{V: say.In("en"), P: &plan.Plan{Seasons: seasons,
		Sugarbush: bush.Sugarbush{First: 2026, Prices: price.Prices{Currency: "USD"}}, OverLast: &plan.Profit{},
		Sections: []plan.SectionPlan{section("North", steps[0]), section("South", steps[1])}}}
}

// Seasons that differ in their chemical or hours alone are not told as one; and a section that changes later does not
// read as if to go on paid more than to go on.
func TestSeasonsThatDifferAreToldApart(t *testing.T) {
	w := years()
	rows := w.Years().Rows
	if len(rows) != 2 || rows[0].Cells[0].Text != "2026 to 2027" ||
		!strings.Contains(rows[1].Cells[2].Text, "peroxide") {
		t.Errorf("%+v", rows)
	}
	if got := w.whyHere(w.P.Sections[1]); got != "as last season for now, changes later" {
		t.Error(got)
	}
}

// Who gives up what does not pay is told the money of it, against last season; only where nothing new was done then too
// is there none to tell. Nowhere is clean plastic praised and then left out.
func TestStoppingWhatDoesNotPayIsTold(t *testing.T) {
	idle := practice.Treatment{Practice: practice.Unsanitized}
	steps := []plan.Step{{Practice: idle.Practice, Treatment: idle}}
	for _, last := range []practice.Key{"check-valve", practice.Unsanitized} {
		same := last == practice.Unsanitized
		over := plan.Profit{Expected: 26900, Low: 12000, High: 41000}
		if same {
			over = plan.Profit{}
		}
		w := PlanView{V: say.In("en"), P: &plan.Plan{OverLast: &over, Gap: 300, Seasons: []plan.Season{{Season: 2026}},
			Sugarbush: bush.Sugarbush{First: 2026, Seasons: 1, Prices: price.Prices{Currency: "USD"}},
			Sections: []plan.SectionPlan{{Section: bush.Section{Name: "North", Taps: 500, Practice: last}, AsLast: same,
				Steps: steps, OverLast: over.Expected}}}}
		h := w.Handout()
		if same != (h.Figure == nil) || same != (h.Marks == nil) {
			t.Errorf("last season %s: figure %v, marks %+v", last, h.Figure != nil, h.Marks)
		}
		text := strings.Join(append(w.surePanel().Text, h.Why...), "\n")
		if strings.Contains(text, "Microbes") || strings.ContainsAny(text, "∞") || strings.Contains(text, "Inf") {
			t.Error(text)
		}
		if !same && (!strings.Contains(text, "$26,900 more than going on as last season") ||
			!strings.Contains(text, "by no more than $300") || strings.Contains(h.Marks[1].Label, "spread evenly")) {
			t.Errorf("%s\n%+v", text, h.Marks)
		}
	}
}

// What the plan would be in another state of the world is told where it is another plan, and that it is the same where
// it is; of one that then takes too much no sum is told.
func TestAdviceInOtherStatesIsTold(t *testing.T) {
	w := years()
	one := func(key practice.Key) [][]plan.Step {
		return [][]plan.Step{{{Season: 2026, Practice: key}}, {{Season: 2026, Practice: key}}}
	}
	state := func(name string, fits bool, more float64, anew [][]plan.Step) plan.InState {
		x := plan.InState{State: plan.State{ID: name, Name: note.New("%s", name)}, Fits: fits, More: more, Anew: anew}
		x.Expected.OverLast = new(40.)
		return x
	}
	w.Set = practice.Shipped()
	w.P.States = []plan.InState{state("usual", true, 0, nil), state("low price", true, 0, nil),
		state("glut", true, 1230, one(practice.NewSpout)), state("later", true, 77, one(practice.Unsanitized)),
		state("dear labour", false, -300, one(practice.CheckValve))}
	said := strings.Join(w.inStates(), "\n")
	for _, want := range []string{"stay the same, were every season so: low price.",
		"(glut), we would advise otherwise: a new spout on 1,000 taps. That would net $1,230 more over 4 seasons",
		"(later), we would advise otherwise: the same in 2026, and other practices later",
		"(dear labour), the plan would take more hours or cash than there are, and we would advise: a new " +
			"check-valve spout on 1,000 taps"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	const roomy = "In a poor year more of the added sap stays within the quota"
	poor := state("poor-year", true, 0, nil)
	for _, over := range []float64{39, 41} { // 40 in a usual year
		poor.Expected.OverLast = &over
		x := w
		x.P = new(*w.P)
		x.P.States = append(slices.Clone(w.P.States), poor)
		if sure := strings.Join(x.surePanel().Text, " "); strings.Contains(sure, roomy) != (over > 40) {
			t.Errorf("%v in a poor year: %s", over, sure)
		}
	}
	rows := w.States().Rows
	for i, want := range [][2]string{{"–", "the same"}, {"–", "the same"}, {"1,230", "A new spout on 1,000 taps"},
		{"77", "The same in 2026, and other practices later"}, {"–", "A new check-valve spout on 1,000 taps"}} {
		if got := rows[i].Cells; got[3].Text != want[0] || got[4].Text != want[1] {
			t.Errorf("%s: %q, %q", rows[i].ID, got[3].Text, got[4].Text)
		}
	}
}
