package price

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"spile/internal/trade/practice"
)

func best(x float64) Value { return Value{Best: x} }

// sound is prices of an invented sugarbush, with something under every key.
func sound() Prices {
	p := Default()
	p.Currency, p.AsOf, p.Place = "USD", "2026-01-15", "US-VT"
	p.Baseline = Baseline{Yield: best(95), Done: Done{Treatment: practice.Treatment{Practice: practice.NewSpout}},
		Brix: best(2), GainBrix: &Value{Best: 1.8}}
	p.Sells = Sells{
		Grades: []Grade{{"golden", 0.3, best(5.2)}, {"dark", 0.4, best(4.6)}}, Retail: &Outlet{0.2, best(14)},
		Sap: &Outlet{0.1, best(0.2)}, GainPrice: &Value{Best: 0.95}, CapacityL: &Value{Best: 90},
		Quota: &Quota{best(2), best(0.5), best(1)}, Peak: &Peak{best(4), &Value{Best: 0.4}, &Value{Best: 5}},
	}
	p.Scenarios = []Scenario{{"glut", 0.7, 1.2, 1.1, 1.05}}
	p.Seasons = Stray{&Value{Best: 0.25}, &Value{Best: 0.1}, &Value{Best: 0.15}, &Value{Best: -0.3}}
	p.Boiling = &Value{Best: 0.03}
	p.Processing, p.Hauling, p.Wage, p.Discount = best(1.1), best(0.002), best(21), best(0.05)
	p.Materials = []Material{{"spout", best(0.3), 5, 0, 0}, {"check-valve spout", best(0.55), 7, 100, 6},
		{"drop and tee", best(0.8), 40, 0, 0}}
	p.Chemicals = []Chemical{{Name: "bleach", Price: best(1.2)}}
	p.Uses = []Use{
		{Practice: practice.NewSpout, Materials: []MaterialUse{{"spout", 1, best(1)}}},
		{Practice: practice.CheckValve, Materials: []MaterialUse{{"check-valve spout", 1, best(1)}}},
		{Practice: practice.NewDrop, Materials: []MaterialUse{{"spout", 1, best(1)}}, GainPct: []float64{50, 40},
			Renewal: &Renewal{Materials: []MaterialUse{{Material: "drop and tee", Count: 1}},
				Minutes: map[Window]*Value{Shop: {Best: 1}, BeforeTapping: {Best: 1.5}}, Disposal: best(0.02)}},
		{Practice: practice.ChlorineRinse, Chemical: "bleach", ChemicalL: best(0.02), LostSapL: best(0.8),
			Minutes: map[Window]*Value{AfterSeason: {Best: 1.2}}, Repairs: best(0.05)},
	}
	return p
}

// Every field has a slot of its own: what is put at one stands there and nowhere else, in no copy either, and is kept
// in JSON.
func TestSlots(t *testing.T) {
	p := sound()
	seen := map[string]bool{}
	for i, s := range p.Slots() {
		seen[s.Field.Key] = true
		q := p.Clone()
		at := q.Slots()[i]
		if v := s.Value(); v != nil && v == at.Value() {
			t.Errorf("%s: a copy shares its value", s.Key)
		}
		switch {
		case s.IsValue():
			at.Put(Value{Best: 0.123})
		case s.Kind.Numeric() && reflect.TypeOf(s.Get(s.Spot)) == reflect.TypeFor[float64]():
			at.Set(at.Spot, 0.123)
		default:
			continue
		}
		if !reflect.DeepEqual(p, sound()) {
			t.Fatalf("%s: a copy shares it", s.Key)
		}
		differs := 0
		for j, x := range q.Slots() {
			y := p.Slots()[j]
			if x.IsValue() && *x.Value() != *y.Value() || !x.IsValue() && x.Get(x.Spot) != y.Get(y.Spot) {
				differs++
			}
		}
		text, err := json.Marshal(q)
		var back Prices
		if err != nil || json.Unmarshal(text, &back) != nil || !reflect.DeepEqual(*q, back) || differs != 1 {
			t.Errorf("%s: %d numbers changed; kept: %v, %s", s.Key, differs, err, text)
		}
	}
	for _, f := range Fields {
		if !seen[f.Key] {
			t.Errorf("%s: sound prices have none", f.Key)
		}
	}
}

// What a file names is built, and only that.
func TestBuild(t *testing.T) {
	want, p := sound(), Default()
	p.Build(func(key string) []string {
		var below []string
		for _, s := range want.Slots() {
			if rest, ok := strings.CutPrefix(s.Key, key+"."); ok {
				if name, _, _ := strings.Cut(rest, "."); !slices.Contains(below, name) {
					below = append(below, name)
				}
			}
		}
		return below
	})
	keys := func(p Prices) (list []string) {
		for _, s := range p.Slots() {
			list = append(list, s.Key)
		}
		return list
	}
	if got := keys(p); !slices.Equal(got, keys(want)) {
		t.Errorf("built %q", got)
	}
	if bare := Default(); len(keys(bare)) >= len(keys(want)) {
		t.Error("what is not there has keys")
	}
}

func TestFaults(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(*Prices)
		want  []string // each in a fault, one a fault
	}{
		{"none", func(p *Prices) {}, nil},
		{"shares", func(p *Prices) { p.Sells.Grades[0].Share = 0.4 },
			[]string{"column sells: the shares of what is sold sum to 1.1"}},
		{"a share of 2 is one fault", func(p *Prices) { p.Sells.Grades[0].Share = 2 },
			[]string{"column sells.bulk.golden.share: 2 stands here"}},
		{"nothing sold", func(p *Prices) { p.Sells = Sells{} }, []string{"nothing is sold"}},
		{"negative price", func(p *Prices) { p.Materials[1].Price.Best = -1 },
			[]string{"material.check-valve spout.price: -1"}},
		{"discount", func(p *Prices) { p.Discount.Best = -1 }, []string{"discount: -1 stands here"}},
		{"discount of 5 %, typed as 5", func(p *Prices) { p.Discount.Best = 5 },
			[]string{"discount: 5 stands here"}},
		{"every thousand seasons", func(p *Prices) { p.Today.Every = 1000 }, []string{"today.every: 1000"}},
		{"not a number", func(p *Prices) { p.Wage.Best = math.NaN() }, []string{"wage: NaN"}},
		{"huge", func(p *Prices) { p.Hauling.Best = 1e308 }, []string{"hauling: 1e+308"}},
		{"low above best", func(p *Prices) { p.Wage.Low = new(30.0) }, []string{"wage.low: low is 30"}},
		{"high below best", func(p *Prices) { p.Wage.High = new(3.0) }, []string{"wage.high: high is 3"}},
		{"low not a number", func(p *Prices) { p.Wage.Low = new(math.Inf(-1)) }, []string{"wage.low: -Inf"}},
		{"yield", func(p *Prices) { p.Baseline.Yield.Best = 0 }, []string{"baseline.yield: 0"}},
		{"syrup for sap", func(p *Prices) { p.Baseline.Brix.Best = 66 }, []string{"baseline.brix: 66"}},
		{"currency and date", func(p *Prices) { p.Currency, p.AsOf = "dollars", "last spring" },
			[]string{"currency: \"dollars\"", "as_of: \"last spring\""}},
		{"place", func(p *Prices) { p.Place = "Vermont" }, []string{"place: \"Vermont\""}},
		{"today", func(p *Prices) { p.Today.Practice = "hope" },
			[]string{"today.practice: there is no practice named \"hope\""}},
		{"baseline's practice", func(p *Prices) { p.Baseline.Practice = "" },
			[]string{"baseline.practice"}},
		{"unknown material", func(p *Prices) { p.Uses[0].Materials[0].Material = "gold" },
			[]string{"use.new-spout.material.gold: there is no material"}},
		{"unknown chemical", func(p *Prices) { p.Uses[3].Chemical = "gin" },
			[]string{"use.chlorine-rinse.chemical: there is no chemical"}},
		{"life", func(p *Prices) { p.Uses[0].Materials[0].Life.Best = 0 },
			[]string{"use.new-spout.material.spout.life: 0"}},
		{"unknown practice", func(p *Prices) { p.Uses[0].Practice = "hope" },
			[]string{"use.hope: there is no practice"}},
		{"twice", func(p *Prices) { p.Uses[1].Practice = practice.NewSpout },
			[]string{"use.new-spout: \"new-spout\" stands here twice"}},
		{"no renewal", func(p *Prices) { p.Uses[2].Renewal = nil }, []string{"use.new-drop.renewal"}},
		{"renewal of nothing", func(p *Prices) { p.Uses[0].Renewal = &Renewal{} },
			[]string{"use.new-spout.renewal: \"new-spout\" replaces no drops"}},
		{"window", func(p *Prices) { p.Uses[3].Minutes["midnight"] = &Value{Best: 3} },
			[]string{"minutes.midnight: there is no window"}},
		{"all at once", func(p *Prices) {
			p.Wage.Best, p.Hauling.Best, p.Sells.Quota = -1, -2, &Quota{PriceBeyond: Value{Best: 3}}
		}, []string{"sells.quota.price_beyond: 3", "hauling: -2", "wage: -1"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := sound()
			p.Units = map[string]string{"units.sap": "l", "units.syrup": "l", "units.mass": "kg", "units.chemical": "l"}
			tt.spoil(&p)
			faults := p.Faults(practice.Shipped())
			if len(faults) != len(tt.want) {
				t.Fatalf("want %d faults, got:\n%v", len(tt.want), faults.Error())
			}
			for i, f := range faults {
				if !strings.Contains(f.English(), tt.want[i]) {
					t.Errorf("fault %q, want %q in it", f.English(), tt.want[i])
				}
			}
		})
	}
}

func TestFaultPlace(t *testing.T) {
	p := sound()
	p.Wage.Best = -1
	p.Where.File, p.Lines = "prices.toml", map[string]int{"wage": 12}
	if got := p.Faults(practice.Shipped()).Error(); !strings.HasPrefix(got, "prices.toml, row 12, column wage: -1") {
		t.Error(got)
	}
}

func TestNotes(t *testing.T) {
	p := sound()
	if n := p.Notes(); len(n) != 0 {
		t.Errorf("notes of sound prices: %v", n)
	}
	p.Baseline.GainBrix, p.Sells.GainPrice = nil, nil
	if n := p.Notes(); len(n) != 2 {
		t.Errorf("want two notes, got %v", n)
	}
}

// What is not said is not known, and never nothing: of a practice that nothing is said of, of one without minutes, of
// one whose plastic has no weight, of a wash without its amount.
func TestWhatIsTold(t *testing.T) {
	p := &Prices{Materials: []Material{{Name: "spout", Grams: 5}, {Name: "drop"}}, Uses: []Use{
		{Practice: practice.NewSpout, Materials: []MaterialUse{{Material: "spout"}},
			Minutes: map[Window]*Value{Tapping: {Best: 0.1}}},
		{Practice: practice.NewDrop, Minutes: map[Window]*Value{Tapping: {Best: 0.1}},
			Renewal: &Renewal{Materials: []MaterialUse{{Material: "drop"}}}},
		{Practice: practice.ChlorineRinse},
	}}
	for key, want := range map[practice.Key][3]bool{practice.Unsanitized: {true, true, true},
		practice.NewSpout: {true, true, true}, practice.NewDrop: {true, false, true},
		practice.ChlorineRinse: {false, true, false}, practice.SilverSpout: {false, false, false}} {
		minutes, plastic, chemical := p.Told(practice.Shipped(), practice.Unsanitized, key)
		if got := [3]bool{minutes, plastic, chemical}; got != want {
			t.Errorf("of %s minutes, plastic and chemical are told: %v, want %v", key, got, want)
		}
	}
}
