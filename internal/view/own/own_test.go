package own_test

import (
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/own"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// station is the demo's answer, and what was frozen of it after it went through JSON.
var station = sync.OnceValues(func() (*advice.Advice, *advice.Thawed) {
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		panic(err)
	}
	a, err := memo.Of(advice.Usual(in))
	if err != nil {
		panic(err)
	}
	z, err := memo.Freeze(a)
	if err != nil {
		panic(err)
	}
	data, err := z.Pack()
	if err != nil {
		panic(err)
	}
	back, err := advice.Unpack(data)
	if err != nil {
		panic(err)
	}
	return a, back.Thaw()
})

var memo advice.Memo

func desk(lang string) own.Desk {
	_, thawed := station()
	return own.Desk{Thawed: thawed, V: say.In(lang)}
}

// What a reader types is what the program answers over all studies: here 18 gallons a tap under check valves at a wage
// of 31 and a price of 2.60, typed in English and, in litres and with commas, in French.
func TestTypedAsTheProgramHasIt(t *testing.T) {
	a, _ := station()
	in := a.Input
	in.Prices = in.Prices.Clone()
	p := in.Prices
	p.Wage = price.Value{Best: 31}
	p.Baseline.Yield = price.Value{Best: 18 * 3.785411784}
	p.Baseline.Done = price.Done{Treatment: practice.Treatment{Practice: practice.CheckValve}}
	p.Today = price.Done{Treatment: practice.Treatment{Practice: practice.CheckValve}}
	for i := range p.Sells.Grades {
		g := &p.Sells.Grades[i]
		g.Price = price.Value{Best: g.Price.Best}
		if g.Name == "amber" {
			g.Price.Best = 2.60 / 0.45359237
		}
	}
	p.Sells.Retail.Price = price.Value{Best: p.Sells.Retail.Price.Best}
	p.Sells.GainPrice = &price.Value{Best: p.Sells.GainPrice.Best}
	want, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	best, _ := want.Best()
	for lang, typed := range map[string]own.Typed{
		"en": {"1.yield": "18", "1.practice": "check-valve", "wage": "31", "sells.bulk.amber.price": "2.60"},
		"fr": {"1.yield": "68,1374", "1.practice": "check-valve", "wage": "31,0", "sells.bulk.amber.price": "2,60"},
	} {
		d := desk(lang)
		got := d.Rank(typed, false)
		if len(got.Faults) > 0 {
			t.Fatalf("%s: %v", lang, got.Faults)
		}
		for _, net := range []float64{best.Today.Average(), best.Today.NetLow, best.Today.NetHigh} {
			if text := d.V.Money(net, "USD"); !strings.Contains(got.HTML, text) {
				t.Errorf("%s: %s is not on the page", lang, text)
			}
		}
	}
}

// Left blank, the page says what the station says.
func TestBlanksAreTheStations(t *testing.T) {
	a, thawed := station()
	got, err := thawed.Of(&thawed.Prices)
	if err != nil {
		t.Fatal(err)
	}
	for i, o := range a.Ranking {
		if x := got.Ranking[i]; x.ID() != o.ID() || math.Abs(x.Today.Average()-o.Today.Average()) > 1e-4 {
			t.Errorf("%s nets %v, and %s %v at the station", x.ID(), x.Today.Average(), o.ID(), o.Today.Average())
		}
	}
}

// What cannot be is told beside its field, what is unusual is asked there, and nothing else is said.
func TestFaultsAndDoubtsStandBesideTheirFields(t *testing.T) {
	for _, c := range []struct {
		typed         own.Typed
		faults, asked string
	}{
		{own.Typed{"1.taps": "many"}, "1.taps", ""},
		{own.Typed{"2.taps": "40", "2.yield": "-3"}, "2.yield", ""},
		{own.Typed{"wage": "24,00,1"}, "wage", ""},
		{own.Typed{"1.yield": "200"}, "", "1.yield"},
		{own.Typed{"wage": "0.4"}, "", "wage"},
		// parts of a whole are typed and told in percents
		{own.Typed{"sells.retail.share": "140"}, "sells.retail.share", ""},
		{own.Typed{"sells.retail.share": "45"}, "", ""}, // beside 55 and 35
	} {
		a := desk("en").Rank(c.typed, false)
		_, wrong := a.Faults[c.faults]
		_, asked := a.Asks[c.asked]
		if c.faults != "" && (!wrong || a.HTML != "") || c.asked != "" && (!asked || a.HTML == "") {
			t.Errorf("%v: faults %v, questions %v, %d bytes", c.typed, a.Faults, a.Asks, len(a.HTML))
		}
		told := map[string]string{"140": "140 is out of bounds; allowed: 0 to 100",
			"45": "sum to 135 %; they must sum to 100 %"}
		if text := told[c.typed["sells.retail.share"]]; !strings.Contains(a.Faults[c.faults], text) {
			t.Errorf("%v: %q, and it is %q", c.typed, a.Faults[c.faults], text)
		}
	}
}

// Thousands are read as people write them, and where a mark could be either it is said.
func TestThousandsAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct{ lang, text, shown string }{
		{"en", "2,400", "2,400"}, {"en", "2 400", "2,400"}, {"fr", "2 400", "2\u202f400"},
		{"fr", "2\u00a0400", "2\u202f400"},
	} {
		got := desk(c.lang).Rank(own.Typed{"1.taps": c.text}, false)
		text := strings.ReplaceAll(got.HTML, "\u00a0", "\u202f")
		if got.Faults != nil || !strings.Contains(text, c.shown) {
			t.Errorf("%s %q: %v, and no word of %s", c.lang, c.text, got.Faults, c.shown)
		}
	}
	for _, text := range []string{"2.400", "2,400"} { // no taps: two and four tenths
		if got := desk("fr").Rank(own.Typed{"1.taps": text}, false); got.Faults["1.taps"] == "" {
			t.Errorf("%q taps in French: %v", text, got.Faults)
		}
	}
}

// Where all studies were made at one place the reader's own answer says so, as the station's does.
func TestOnePlaceIsSaid(t *testing.T) {
	a, _ := station()
	in := a.Input
	in.Studies = slices.Clone(in.Studies)
	for i := range in.Studies {
		in.Studies[i].Site = "Alder Nook"
	}
	one, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	z, err := memo.Freeze(one)
	if err != nil {
		t.Fatal(err)
	}
	if x, ok := z.Narrow[practice.Unsanitized]; ok {
		t.Errorf("of unsanitized nothing is said, and %+v is held", x)
	}
	data, err := z.Pack()
	if err != nil {
		t.Fatal(err)
	}
	back, err := advice.Unpack(data)
	if err != nil {
		t.Fatal(err)
	}
	d := own.Desk{Thawed: back.Thaw(), V: say.In("en")}
	const said = "were made at one place, Alder Nook, and tell nothing of others"
	station := strings.Join(show.Of(one, d.V).Recommendation(), " ")
	page := d.Rank(own.Typed{"wage": "25"}, false).HTML
	if !strings.Contains(station, said) || !strings.Contains(page, said) {
		t.Errorf("the station says %q, and the page %.2000s", station, page)
	}
}

// The file that is saved is read as the sugarbush that was typed, and its plan is the page's.
func TestSavedFileIsPlannedAlike(t *testing.T) {
	a, _ := station()
	typed := own.Typed{"1.taps": "2600", "1.yield": "17,5", "2.taps": "900", "2.practice": "unsanitized",
		"place":              "CA-QC",
		"sells.retail.share": "40", "sells.bulk.amber.share": "25", "window.before-tapping.people": "2",
		"window.before-tapping.days": "6"}
	d := desk("fr")
	page := d.Plan(typed)
	if len(page.Faults) > 0 {
		t.Fatal(page.Faults)
	}
	b, err := sheet.SugarbushOf("sugarbush.toml", []byte(d.File(typed)), a.Input.Prices, a.Input.Practices)
	if err != nil {
		t.Fatal(err)
	}
	if len(b.Sections) != 2 || b.Sections[0].Taps != 2600 || b.Prices.Sells.Retail.Share != 0.4 {
		t.Errorf("read as %+v", b.Sections)
	}
	p, err := memo.Plan(a.Input, b)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range (show.PlanView{P: p, V: d.V, Set: a.Input.Practices}).Handout().Marks {
		if !strings.Contains(page.HTML, m.Value) {
			t.Errorf("%s (%s) is not on the page's sheet", m.Value, m.Label)
		}
	}
}

func TestGradesAreNamedInTheReadersLanguage(t *testing.T) {
	var labels []string
	for _, g := range desk("fr").Form() {
		for _, f := range g.Fields {
			labels = append(labels, f.Label)
		}
	}
	for _, want := range []string{"vendu en vrac\u00a0: ambré", "prix du sirop en vrac, ambré"} {
		if !slices.Contains(labels, want) {
			t.Errorf("no %q among %q", want, labels)
		}
	}
}
