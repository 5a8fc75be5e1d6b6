package report_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// bushes are the plans of invented sugarbushes: 300 to 42,000 taps, organic, under a quota that binds, with few hours,
// with little cash, half without evidence, last season already best, all under check valves, with very old drops, at
// half the price; then those that a sheet is easily wrong of (odd has what theirs must say).
func bushes(t *testing.T) map[string]show.PlanView {
	t.Helper()
	list, err := ofBushes()
	if err != nil {
		t.Fatal(err)
	}
	return maps.Clone(list)
}

var ofBushes = sync.OnceValues(func() (map[string]show.PlanView, error) {
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		return nil, err
	}
	files, err := filepath.Glob("testdata/bush/*.toml")
	if err != nil || len(files) < 10 {
		return nil, fmt.Errorf("%v: %w", files, err)
	}
	list := map[string]show.PlanView{}
	for _, file := range files {
		b, err := sheet.Sugarbush(file, in.Prices, in.Practices)
		if err != nil {
			return nil, err
		}
		p, err := memo.Plan(advice.Usual(in), b)
		if err != nil {
			return nil, err
		}
		list[strings.TrimSuffix(filepath.Base(file), ".toml")] = show.PlanView{P: p, V: say.In("en"), Set: in.Practices}
	}
	return list, nil
})

// A row of several seasons tells their mean, never the first as if it were the rest: what lasts is bought in one of
// them. So the rows of a section, each times its seasons, hold all its money and cash.
func TestRowsOfSeveralSeasons(t *testing.T) {
	for name, w := range bushes(t) {
		rows := w.Steps().Rows
		for _, s := range w.P.Sections {
			var net, cash float64
			for _, x := range s.Steps {
				net, cash = net-x.Net, cash-x.Cash
			}
			for _, r := range rows {
				if r.Cells[0].Text != s.Section.Name {
					continue
				}
				n := 1.
				var from, to float64
				if k, _ := fmt.Sscanf(r.Cells[1].Text, "%f to %f", &from, &to); k == 2 {
					n += to - from
				}
				net, cash = net+n**r.Cells[4].Number, cash+n**r.Cells[6].Number
			}
			if math.Abs(net) > 1e-6 || math.Abs(cash) > 1e-6 {
				t.Errorf("%s: %s: rows tell %.0f and %.0f more than its seasons", name, s.Section.Name, net, cash)
			}
		}
	}
}

// told is what the JSON of a plan says that a buying list can be counted from.
type told struct {
	OverLast struct{ Expected float64 } `json:"over_last"`
	Sections []toldSection
	Idle     []toldSection `json:"unplanned"`
	Seasons  []struct {
		Season int
		Buy    []struct {
			Material    string
			Need, Count float64
		}
		Doses []struct {
			Chemical string
			Litres   float64
		}
	}
}

type toldSection struct {
	Section string
	Taps    float64
	Steps   []struct {
		Season   int
		Practice string
		Replaced bool `json:"drops_replaced"`
	}
}

// perTap is what each practice takes a tap, counted by hand from the price list of the demo: a silver-bearing spout
// serves two seasons.
var perTap = map[string]string{"new-spout": "spout", "new-drop": "spout", "new-lateral": "spout",
	"check-valve": "check-valve-spout", "silver-spout": "silver-spout"}

// Each brings no less than going on as last season, and its buying list is what its sections take, counted
// again from the plan as JSON, every season, to the piece.
func TestBuyingListsByHand(t *testing.T) {
	for name, w := range bushes(t) {
		text, err := json.Marshal(w.JSON())
		if err != nil {
			t.Fatal(err)
		}
		var p told
		if err := json.Unmarshal(text, &p); err != nil {
			t.Fatal(err)
		}
		if p.OverLast.Expected < -1e-6 {
			t.Errorf("%s: %v less than going on as last season", name, -p.OverLast.Expected)
		}
		want := map[int]map[string]float64{}
		for _, s := range append(p.Sections, p.Idle...) {
			worn := 0 // the season in which a silver-bearing spout is
			for _, x := range s.Steps {
				if want[x.Season] == nil {
					want[x.Season] = map[string]float64{}
				}
				need := want[x.Season]
				switch piece := perTap[x.Practice]; {
				case x.Practice == "silver-spout" && x.Season < worn:
				case piece != "":
					need[piece] += s.Taps
					worn = x.Season + 2
				}
				if x.Practice != "silver-spout" {
					worn = 0
				}
				if x.Replaced {
					need["drop"] += s.Taps
					need["tee"] += s.Taps
					if x.Practice == "new-lateral" {
						need["lateral"] += s.Taps
					}
				}
				if x.Practice == "peroxide-rinse" { // a hundredth of a US gallon
					need["peroxide"] += s.Taps * 0.01 * 3.785411784
				}
			}
		}
		for _, s := range p.Seasons {
			got := map[string]float64{}
			for _, b := range s.Buy {
				got[b.Material] = b.Need
				if count := math.Ceil(b.Need*1.05 - 1e-9); b.Count != count {
					t.Errorf("%s, %d: %v × %s with the spare, want %v", name, s.Season, b.Count, b.Material, count)
				}
			}
			for _, d := range s.Doses {
				got[d.Chemical] = d.Litres / 1.05
			}
			if !maps.EqualFunc(got, want[s.Season], func(a, b float64) bool { return math.Abs(a-b) < 1e-6 }) {
				t.Errorf("%s, %d: %v, want %v", name, s.Season, got, want[s.Season])
			}
		}
	}
}

// foolish is what no sheet says: one of many, many of one, nothing as if it were something, a number without a unit, a
// unit of elsewhere.
var foolish = map[string]*regexp.Regexp{
	"en": regexp.MustCompile(`(?i)\b1 (taps|seasons|hours|weeks|bags|studies|stations|sections|pieces|more hours)\b` +
		`|NaN|Inf\b|%!|\$0(\.00)? (more|less)|−\$[\d,.]+ (more|less)|took [\d,.]+ in cash|\bkg\b`),
	"fr": regexp.MustCompile(`(?i)\b[01] (entailles|saisons|heures|semaines|sacs|études|stations|sections|pièces)\b` +
		`|NaN|Inf\b|%!|\b0(,00)? \$ (US )?de (plus|moins)|−[\d ,]+ \$ (US )?de (plus|moins)|\b(de|que|le|la) [aeiouéè]` +
		`|\d (de|en) liquidités|[^\x{a0}\x{202f}] ?:|\d %|1er\b`),
}

// The sheets of all are two sides and one, in both languages, and none says what is foolish. So are those of a
// sugarbush of one section, one tap, one season and one hour. Of which no study speaks has one side where all stands on
// it.
func TestSheetsSayNothingFoolish(t *testing.T) {
	list := bushes(t)
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"04-labour", "06-half", "05-cash"} { // one of each, limits and what is not known
		b := list[name].P.Sugarbush
		b.Name, b.Seasons, b.Sections, b.Crews = "One", 1, slices.Clone(b.Sections[:1]), maps.Clone(b.Crews)
		if name == "06-half" {
			b.Sections = slices.Clone(list[name].P.Sugarbush.Sections)
		}
		for i := range b.Sections {
			b.Sections[i].Taps = 1
		}
		for w := range b.Crews {
			b.Crews[w] = bush.Crew{People: 1, Days: 1, HoursADay: 1}
		}
		p, err := memo.Plan(advice.Usual(in), b)
		if err != nil {
			t.Fatal(err)
		}
		list["one of "+name] = show.PlanView{P: p, Set: in.Practices}
	}
	for name, w := range list {
		for _, lang := range []string{"en-US", "fr-CA"} {
			w.V = say.In(lang)
			for pages, write := range map[int]func(show.PlanView, string) ([]byte, error){1: report.HandoutLarge,
				2: report.Handout} {
				file, err := write(w, "1.2.3")
				if err != nil {
					t.Fatal(err)
				}
				n := keepsToPage(t, name+" "+lang, file, 612, 792)
				if n != pages && !(n == 1 && len(w.P.Sections) == 0) {
					t.Errorf("%s, %s: %d pages, want %d", name, lang, n, pages)
				}
			}
			for _, text := range words(w) {
				if at := foolish[w.V.Language()].FindString(text); at != "" {
					t.Errorf("%s, %s: %q in %q", name, lang, at, text)
				}
			}
		}
	}
}

// words are the sentences of a sheet and of what a terminal prints of its plan.
func words(w show.PlanView) []string {
	h := w.Handout()
	list := append([]string{h.Title, h.Kicker, h.Lead, h.Foot}, h.Why...)
	list = append(list, w.Answer()...)
	for _, m := range h.Marks {
		list = append(list, m.Value+" "+m.Label)
	}
	tables := []show.Table{h.Do, h.Buy, h.Hours, h.Years, h.Inputs, w.Schedule(), w.Steps(), w.Buy(), w.Hours(),
		w.Rules(), w.Worth()}
	for _, p := range append(h.Left, h.Right...) {
		list = append(append(append(append(list, p.Title), p.Text...), p.Steps...), p.Bullets...)
		if p.Table != nil {
			tables = append(tables, *p.Table)
		}
	}
	for _, t := range tables {
		list = append(list, t.Title, t.Lead)
		for _, n := range t.Notes {
			list = append(list, n.Text)
		}
		for _, r := range t.Rows {
			for _, c := range r.Cells {
				list = append(list, c.Text)
			}
		}
	}
	return list
}

// Farms that no scenario has: every tap is on the sheet as it is printed, what must stop is said, and no nought is told
// as money.
func TestSheetsOfOddFarms(t *testing.T) {
	organic := bushes(t)["02-organic"]
	base, set := organic.P.Sugarbush, organic.Set
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	none := 0.
	everything := []practice.Key{"new-spout", "check-valve", "new-drop", "new-lateral", "chlorine-rinse",
		"peroxide-rinse", "alcohol-flush", "silver-spout"}
	for name, x := range map[string]struct {
		change    func(*bush.Sugarbush)
		want, not []string
	}{
		"what is not permitted stops, also where no study speaks": {func(b *bush.Sugarbush) {
			b.Sections[0].Practice, b.Sections[1].Practice = "silver-spout", "silver-spout"
			b.Sections[1].Species = "red maple"
		}, []string{"Stop: silver-bearing spout is not permitted in Upper and Lower.", "new spout each season",
			"900"}, []string{"keep doing what you do"}},
		"no section is studied": {func(b *bush.Sugarbush) {
			b.Sections[0].Species, b.Sections[1].Species = "red maple", "walnut"
		}, []string{"Carry on as last season", "1,200", "900", "To buy for 2026", "Hours in 2026"}, nil},
		"nothing is wanted": {func(b *bush.Sugarbush) {
			for i := range b.Sections {
				b.Sections[i].Practice, b.Sections[i].Unwanted = "new-spout", everything
			}
		}, []string{"Stop: new spout each season is not wanted in Upper and Lower.", "Nothing is to be bought"},
			[]string{"$0 to $0", "$0.00 to $0.00", "carry on as last season", "order what is on the list"}},
		"no cash and no hours": {func(b *bush.Sugarbush) {
			b.Cash = &none
			b.Crews = map[price.Window]bush.Crew{price.Tapping: {}}
			b.Sections[0].Practice, b.Sections[1].Practice = "new-spout", "new-spout"
		}, []string{"carry on as last season: a new spout on 2,100 taps", "What your limits cost",
			"the best, were there no limits", "In 2026 that would be"}, nil},
	} {
		b := base
		b.Sections = slices.Clone(base.Sections)
		x.change(&b)
		p, err := memo.Plan(advice.Usual(in), b)
		if err != nil {
			t.Fatal(err)
		}
		w := show.PlanView{P: p, V: say.In("en-US"), Set: set}
		file, err := report.Handout(w, "1.2.3")
		if err != nil {
			t.Fatal(err)
		}
		says(t, name, file, x.want, x.not)
		for _, text := range words(w) {
			if at := foolish["en"].FindString(text); at != "" {
				t.Errorf("%s: %q in %q", name, at, text)
			}
		}
	}
}

// What a sheet says of limits, of a single tap, and of plastic that is replaced rarely.
func TestSheetsOfTightFarms(t *testing.T) {
	list := bushes(t)
	for name, x := range map[string]struct{ want, not []string }{
		// 11,000 taps at 0.1 minutes are 18.3 hours, 5,000 as last season 8.3; ten hours at $20
		"04-labour": {[]string{"10 more hours (tapping) and about $200 of wages"}, []string{"best simple rule"}},
		"05-cash":   {[]string{"your limits allow nothing better"}, []string{"nothing else pays enough more"}},
		// two valves at $0.72, 0.15 minutes at $20 an hour, 0.01 to be rid of one
		"30-one":     {[]string{"$1.44", "It takes $1.50 in cash"}, nil},
		"32-big":     {[]string{"your limits allow nothing better"}, []string{"rinse on"}},
		"34-nothing": {nil, []string{"would bring $0 more"}},
		"35-short":   {[]string{"A wash is done once the sap has run: it counts from the spring of 2027 on."}, nil},
		"18-height":  {[]string{"at the 28.0 inHg"}, nil},
		"02-organic": {[]string{"Where a row has several sections it is the mean of their taps.",
			"No other plan nets more, counted"}, []string{"hours and cash nets more"}},
	} {
		w := list[name]
		w.V = say.In("en-US")
		file, err := report.Handout(w, "1.2.3")
		if err != nil {
			t.Fatal(err)
		}
		says(t, name, file, x.want, x.not)
	}
	if got := list["32-big"].RulesFigure().Key.Out; !strings.Contains(got, "takes from a section what pays there") ||
		strings.Contains(got, "permitted") {
		t.Errorf("bars are hatched since %q", got)
	}
	for _, r := range list["26-laterals"].P.Rules {
		if r.Last && r.Profit < 0 { // new laterals every tenth season, and the other section unsanitized
			t.Errorf("going on as last season brings %v over doing nothing", r.Profit)
		}
	}
}

// Nothing is washed that is not used again the spring after: for want of cash a section had been told to rinse 10,000
// taps instead of fitting new spouts, and to fit new ones the season after.
func TestNoWashIsForNothing(t *testing.T) {
	for name, w := range bushes(t) {
		for _, s := range w.P.Sections {
			for i := 1; i < len(s.Steps); i++ {
				was, now := s.Steps[i-1], s.Steps[i]
				p, _ := w.Set.Find(was.Practice)
				if p.Wash != practice.WashNone && now.Treatment.Practice != was.Practice {
					t.Errorf("%s: %s: %s in %d, then %s", name, s.Section.Name, was.Practice, was.Season, now.Practice)
				}
			}
		}
	}
}

// Two hundred sections are two sides as well.
func TestASheetOfVeryManySections(t *testing.T) {
	w := bushes(t)["08-valves"]
	p := *w.P
	p.Sections = nil
	for i := range 200 {
		s := w.P.Sections[i%3]
		s.Section.Name, s.AsLast, s.OverLast = fmt.Sprintf("Section %d of the hill", i), i%2 == 0, float64(i-100)
		s.Steps = slices.Clone(s.Steps)
		s.Steps[0].Practice = [...]practice.Key{"check-valve", "new-spout", "silver-spout", "peroxide-rinse"}[i%4]
		p.Sections = append(p.Sections, s)
	}
	w.P = &p
	file, err := report.Handout(w, "1.2.3")
	if err != nil {
		t.Fatal(err)
	}
	if n := keepsToPage(t, "200 sections", file, 612, 792); n != 2 {
		t.Errorf("%d pages", n)
	}
}

// says holds what a sheet must and must not say, its lines run together.
func says(t *testing.T, name string, pdf []byte, want, not []string) {
	t.Helper()
	text := run(poppler(t, pdf, "pdftotext", "-raw"))
	for _, s := range want {
		if !strings.Contains(text, run(s)) {
			t.Errorf("%s: no %q", name, s)
		}
	}
	for _, s := range not {
		if strings.Contains(text, run(s)) {
			t.Errorf("%s: %q", name, s)
		}
	}
}
