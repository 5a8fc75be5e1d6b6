package sheet

import (
	"strings"
	"testing"

	"spile/internal/trade/input"
	"spile/internal/trade/practice"
)

// station is the input that the sugarbushes of the demo stand beside.
func station(t testing.TB) input.Input {
	t.Helper()
	in, err := Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func TestSugarbushesOfTheDemo(t *testing.T) {
	in := station(t)
	for name, want := range map[string]struct {
		taps, sections int
		currency       string
	}{
		"gravity": {400, 3, "USD"}, "organic": {6500, 6, "USD"}, "quebec": {42000, 14, "CAD"},
	} {
		b, err := Sugarbush("../../demo/sugarbush-"+name+".toml", in.Prices, in.Practices)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		taps := 0
		for _, x := range b.Sections {
			taps += x.Taps
		}
		if taps != want.taps || len(b.Sections) != want.sections || b.Prices.Currency != want.currency {
			t.Errorf("%s: %d taps in %d sections, %s", name, taps, len(b.Sections), b.Prices.Currency)
		}
		if f := b.Prices.Faults(in.Practices); f != nil {
			t.Errorf("%s: %v", name, f)
		}
	}
}

// What a sugarbush does not say is the station's, in its own money; what it says stands.
func TestSugarbushOverPrices(t *testing.T) {
	in := station(t)
	b, err := SugarbushOf("b.toml", []byte(`name = "B"
place = "CA-QC"
currency = "CAD"
exchange = 2
first_season = 2026
wage = 30
[quota]
syrup = 2.20462262185
price_beyond = 0.5
[units]
mass = "lb"
[section.a]
taps = 2
practice = "new-spout"
`), in.Prices, in.Practices)
	if err != nil {
		t.Fatal(err)
	}
	p := b.Prices
	if p.Wage.Best != 30 || p.Currency != "CAD" || p.Place != "CA-QC" {
		t.Errorf("own: wage %v %s in %s", p.Wage.Best, p.Currency, p.Place)
	}
	if got, want := p.Materials[0].Price.Best, 2*in.Prices.Materials[0].Price.Best; got != want {
		t.Errorf("material: %v, want %v", got, want)
	}
	if got := p.Sells.Quota.SyrupKg.Best; got < 0.4999999 || got > 0.5000001 { // 1 kg over two taps
		t.Errorf("quota a tap: %v", got)
	}
	if in.Prices.Currency != "USD" || in.Prices.Sells.Quota != nil {
		t.Error("the station's prices were changed")
	}
}

func TestSugarbushFaults(t *testing.T) {
	in := station(t)
	for text, want := range map[string][]string{
		"seasons = 3":            {"name", "first_season", "section"},
		"name = \"x\"\nseasns=3": {"seasns", "did you mean seasons"},
		"name='x'\nfirst_season=2026\ncurrency='CAD'\n[section.a]\ntaps=1\npractice='new-spout'": {
			"exchange"},
		"name='x'\nfirst_season=2026\nseasons=16\n[section.a]\ntaps=0\npractice='nwe-spout'\nyield=3": {
			"16", "taps", "new-spout", "units.sap"},
		"name='x'\nfirst_season=2026\n[section.a]\ntaps=5\npractice='new-spout'\nevery=2\ntubing_in='big'": {
			"every", "tubing_in"},
		"name='x'\nfirst_season=2026\n[window.lunch]\npeople=2\ndays=2\n[section.a]\ntaps=5\npractice='new-spout'": {
			"lunch"},
		"name='x'\nfirst_season=2026\n[section.a]\ntaps=5\npractice='new-spout'\nunwanted=['unsanitized']": {
			"unsanitized"},
		"name='x'\nfirst_season=2026\n[section.a]\ntaps=5\npractice='new-spout'\ndrops_replaced=2030": {
			"2030"},
		"name='x'\nfirst_season=2026\n[material.gold]\nprice=1\n[section.a]\ntaps=5\npractice='new-spout'": {
			"gold"},
		"name='x'\nfirst_season=2026\n[section.a]\ntaps=5\npractice='new-spout'\nvacuum_inhg=20\nvacuum_kpa=70": {
			"vacuum_kpa"},
		"name='x'\nfirst_season=2026\nattainable_inhg=0\n[section.a]\ntaps=5\npractice='new-spout'": {
			"attainable_inhg"},
		"name='x'\nplace='CA-QC'\nfirst_season=2026\n[units]\nsap='gallon'\n[section.a]\ntaps=5\n" +
			"practice='new-spout'\nyield=20": {"gallon"},
	} {
		_, err := SugarbushOf("b.toml", []byte(text), in.Prices, in.Practices)
		if err == nil {
			t.Errorf("%q has no fault", text)
			continue
		}
		for _, w := range want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%q: %v does not speak of %s", text, err, w)
			}
		}
	}
}

func FuzzSugarbush(f *testing.F) {
	in := station(f)
	f.Add("name='x'\nfirst_season=2026\n[section.a]\ntaps=5\npractice='new-spout'")
	f.Add("[section.a]\ntaps=1e308\nunwanted=[['x'],{a=1}]\nquota=3\nsells=2")
	f.Fuzz(func(t *testing.T, text string) {
		b, err := SugarbushOf("b.toml", []byte(text), in.Prices, in.Practices)
		if err == nil && (len(b.Sections) == 0 || b.Faults(practice.Shipped()) != nil) {
			t.Errorf("no fault, and no sugarbush")
		}
	})
}
