package web

import (
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"reflect"
	"slices"
	"strings"
	"testing"

	"spile/internal/files/book"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// twice is what two people do who both have a form of the workbook open: the first saves, then the second.
type twice struct {
	page          func(d atDesk) url.Values // the form that both have
	first, second map[string]string         // what each changes in it
	code          int                       // that the second is answered with; 0: a conflict
	says          []string                  // and what the answer says
}

// ofTwo is what two people do at every form there is.
func ofTwo(t *testing.T) map[string]twice {
	const on = "2025-03-27"
	same := func(f url.Values) func(atDesk) url.Values {
		return func(d atDesk) url.Values {
			own := maps.Clone(f)
			own.Set(page.SeenKey, "2")
			return own
		}
	}
	form := func(page, action string) func(atDesk) url.Values {
		return func(d atDesk) url.Values {
			f := d.form(d.get(page), action)
			f.Set("do", "save")
			return f
		}
	}
	season := url.Values{"name": {"Marsh 2025"}, "season": {"2025"}}
	log := func(more ...string) map[string]string {
		m := map[string]string{}
		for i := 0; i < len(more); i += 2 {
			m[more[i]] = more[i+1]
		}
		return m
	}
	return map[string]twice{
		"/study": {page: form("/study?name=Larkmoor+2014", "/study"),
			first:  map[string]string{"own-caveat": "late tapping"},
			second: map[string]string{"own-caveat": "deep snow"},
			says:   []string{"Ada changed the study Larkmoor 2014", "late-tapping</td>", "deep-snow</td>"}},
		"/search": {page: form("/search", "/search"), first: map[string]string{"text": "looked in May"},
			second: map[string]string{"text": "looked in June"}, says: []string{"Ada changed", "looked in May"}},
		"/exclude": {page: form("/exclude?name=Larkmoor+2014", "/exclude"),
			first: map[string]string{"reason": "the pump failed"}, second: map[string]string{"reason": "a leak"},
			says: []string{"Ada changed whether Larkmoor 2014 is left out", "<td>the pump failed</td><td>a leak</td>"}},
		"/take": {page: same(url.Values{}), first: map[string]string{"toml": "wage = 30.25"},
			second: map[string]string{"toml": "wage = 29.75"},
			says:   []string{"Ada changed the prices", "30.25", "29.75", "theirs, in the workbook"}},
		"/prices": {page: form("/prices", "/prices"), first: map[string]string{"best.wage": "30.25"},
			second: map[string]string{"best.wage": "29.75"},
			says:   []string{"Ada changed the prices", "30.25", "29.75", "theirs, in the workbook"}},
		"/prices/list": {page: form("/prices/list", "/prices/list"), first: map[string]string{"wage": "30.25"},
			second: map[string]string{"wage": "29.75"},
			says:   []string{"Ada changed the prices", "30.25", "29.75", "theirs, in the workbook"}},
		"/practices": {page: form("/practices", "/practices"),
			first:  map[string]string{"key.0": "steam-rinse", "name.0": "steam of the first"},
			second: map[string]string{"key.0": "steam-rinse", "name.0": "steam of the second"},
			says: []string{"Ada changed the practice steam-rinse",
				"<td>steam of the first</td><td>steam of the second</td>"}},
		"/past": {page: same(url.Values{"rows": {"1"}}), first: map[string]string{"r0": "2021|17.5|1.9||2.25"},
			second: map[string]string{"r0": "2021|17.5|2.1||2.25"},
			says:   []string{"Ada changed the season 2021", "<td>1.9</td><td>2.1</td>"}},
		"/rule": {page: form("/rule", "/rule"),
			first: map[string]string{"wash": "alcohol", "place": "US", "reason": "asked in May", "verdict": "permitted",
				"checked": "2025-11-01"},
			second: map[string]string{"wash": "alcohol", "place": "US", "reason": "asked in June", "verdict": "never",
				"checked": "2025-10-31"},
			says: []string{"Ada changed a rule on what is permitted", "<td>asked in May</td><td>asked in June</td>"}},
		"/keep": {page: func(d atDesk) url.Values { return d.form(d.get("/profit?wage=30.25"), "/profit") },
			first: map[string]string{"wage": "30.25"}, second: map[string]string{"wage": "29.75"},
			says: []string{"Ada changed the prices", "30.25", "29.75", "theirs, in the workbook"}},
		"/sugarbush/keep": {page: func(d atDesk) url.Values {
			return sent(t, d.get("/sugarbush?of=Quillback+Ridge"), "/sugarbush")
		}, first: map[string]string{"h.cash": "1234"}, second: map[string]string{"h.cash": "5678"},
			says: []string{"Ada changed the sugarbush Quillback Ridge", "<td>1234</td><td>5678</td>"}},
		page.ReadPath: {page: same(typing("2", on)), first: map[string]string{"amount.0": "531"},
			second: map[string]string{"amount.0": "513"},
			says:   []string{"Stored: 531 dumps", "Typed now: 513 dumps"}},
		"/trials/new": {page: form("/trials/new", "/trials/new"),
			first:  map[string]string{"name": "Fen", "site": "Fen"},
			second: map[string]string{"name": "Fen", "site": "Bog"}, code: http.StatusUnprocessableEntity,
			says: []string{"There is a trial Fen already"}},
		"/trials/decide": {page: form(page.TrialAddress("Marsh 2025"), "/trials/decide"),
			first:  map[string]string{"do": "out", "reason": "read wrong"},
			second: map[string]string{"do": "keep", "reason": "a reset"},
			says:   []string{"Ada changed the decision Marsh 2025", "taken out: read wrong"}},
		"/trials/take": {page: form("/trials/take?name=Marsh+2025", "/trials/take"),
			first:  map[string]string{"pasted": "unit\tdate\tcounter\n1\t2025-04-02\t900\n"},
			second: map[string]string{"replace": "yes", "pasted": "unit\tdate\tcounter\n1\t2025-04-02\t901\n"},
			says:   []string{"Ada changed the reading Marsh 2025, 1"}},
		page.LogPath: {page: same(season), first: log("table", "tanks", "unit", "5", "lines", "10 25"),
			second: log("table", "tanks", "unit", "5", "lines", "10 26"),
			says:   []string{"written down already", "holds 25 gal"}},
		page.LogPath + " dump": {page: same(season),
			first:  log("table", "calibrations", "unit", "4", "date", "2025-03-02", "flow", "fast", "dump_gal", "0.81"),
			second: log("table", "calibrations", "unit", "4", "date", "2025-03-02", "flow", "fast", "dump_gal", "0.82"),
			says:   []string{"written down already", "0.81"}},
		page.LogPath + " taps": {page: same(season),
			first:  log("table", "counts", "unit", "4", "date", "2025-03-02", "taps", "21"),
			second: log("table", "counts", "unit", "4", "date", "2025-03-02", "taps", "20"),
			says:   []string{"written down already", "21 taps"}},
		page.LogPath + " event": {page: same(season),
			first:  log("table", "events", "kind", "leak", "from", "2025-03-12", "to", "2025-03-14", "units", "4"),
			second: log("table", "events", "kind", "leak", "from", "2025-03-12", "to", "2025-03-13", "units", "4"),
			says:   []string{"written down already"}},
		trees.SpringPath: {page: form(page.TrialAddress("Marsh 2025"), trees.SpringPath),
			first: map[string]string{"hot": "47"}, second: map[string]string{"hot": "53"},
			says: []string{"Ada changed the trial Marsh 2025", "<td>47</td><td>53</td>"}},
	}
}

// sendsOf is a form with what somebody changes in it.
func (d atDesk) sendsOf(path string, f url.Values, change map[string]string) *httptest.ResponseRecorder {
	f = maps.Clone(f)
	for k, v := range change {
		f[k] = []string{v}
	}
	switch path {
	case "/past":
		f["r0"] = strings.Split(f.Get("r0"), "|")
	case "/take":
		text := strings.Replace(string(tomlOfScenario()), "\nwage     = ", "\n"+f.Get("toml")+" # ", 1)
		return d.upload("p.toml", text, url.Values{"replace": {"yes"}, page.SeenKey: f[page.SeenKey]})
	case "/prices/list":
		f.Set("text", strings.Replace(f.Get("text"), "\nwage     = ", "\nwage = "+f.Get("wage")+" # ", 1))
	}
	return d.post(path, f)
}

// Of two people on one workbook, at every form there is: what the first saved stands when the second saves, and the
// second is told.
func TestTheSecondIsToldAtEveryForm(t *testing.T) {
	long(t)
	cases := ofTwo(t)
	d := sit(t, true)
	first := d.Handler.(tongues[*desk]).in["en"]
	s, err := first.current(always)
	if err != nil {
		t.Fatal(err)
	}
	// A file is read into a form, which is not saved yet; what is taken back is back; an undo names the change it is
	// of; what a phone sent is decided once.
	none := []string{"/sugarbush", "/take/words", "/meant", "/restore", "/undo", "/phones/forget", "/phones/refused",
		"/crossed"}
	for _, p := range s.patterns {
		if path, post := strings.CutPrefix(p, "POST "); post && !slices.Contains(none, path) &&
			cases[path].page == nil {
			t.Errorf("%s is not tried", path)
		}
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			path, _, _ := strings.Cut(name, " ")
			x := marsh(false)
			x.Days = []weather.Day{{Date: day(2025, 3, 1), Min: new(unit.Celsius.Of(-4)), Max: new(unit.Celsius.Of(6))}}
			d := sit(t, true)
			again := &desk{Config: first.Config, memo: first.memo, kit: first.kit} // which need not fit anew
			again.Book = d.book
			d.Handler = tongues[*desk]{"en", map[string]*desk{"en": again}}
			if _, err := d.book.Save(book.Edit{At: day(2025, 3, 1), Who: "Ada", What: "trial"},
				book.TrialItems(x)...); err != nil {
				t.Fatal(err)
			}
			if _, err := d.book.Save(book.Edit{At: day(2025, 3, 1), Who: "Ada", What: "sugarbush",
				Seen: book.Sight{Change: 2}},
				book.Keep(ridge())); err != nil {
				t.Fatal(err)
			}
			f := c.page(d)
			before := d.contents()
			if w := d.sendsOf(path, f, c.first); w.Code != http.StatusSeeOther && w.Code != http.StatusOK {
				t.Fatalf("the first is answered %d: %.900s", w.Code, w.Body)
			}
			kept := d.contents()
			if kept.Change != before.Change+1 {
				t.Fatalf("the first changed nothing")
			}
			code := c.code
			if code == 0 {
				code = http.StatusConflict
			}
			d.wants(d.sendsOf(path, f, c.second), code, c.says...)
			if now := d.contents(); !reflect.DeepEqual(now, kept) {
				t.Error("what the first saved is overwritten, unseen")
			}
		})
	}
}

// A sugarbush that was planned before it is kept remembers what it was made from, and one that was typed anew or read
// from a file does not take the place of another of its name.
func TestASugarbushOfTwo(t *testing.T) {
	d := sit(t, true)
	keep := func() int64 { return d.contents().Change }
	if _, err := d.book.Save(book.Edit{At: day(2025, 3, 1), Who: "Ada", What: "sugarbush", Seen: book.Sight{Change: 1}},
		book.Keep(ridge())); err != nil {
		t.Fatal(err)
	}
	mine := sent(t, d.get("/sugarbush?of=Quillback+Ridge"), "/sugarbush")
	theirs := maps.Clone(mine)
	theirs.Set("h.cash", "1234")
	d.wants(d.post("/sugarbush/keep", theirs), http.StatusSeeOther)
	mine.Set("h.cash", "5678")
	mine = sent(t, d.get("/sugarbush?"+mine.Encode()), "/sugarbush") // planned
	was := keep()
	answer := d.wants(d.post("/sugarbush/keep", mine), http.StatusConflict, "<td>1234</td><td>5678</td>")
	again := sent(t, answer, "/sugarbush")
	if again.Get("h.cash") != "5678" || keep() != was {
		t.Fatalf("what was typed is lost, or kept unseen: %q", again.Get("h.cash"))
	}
	d.wants(d.post("/sugarbush/keep", again), http.StatusSeeOther)
	anew := maps.Clone(again)
	anew.Set(page.SeenKey, "0") // as the empty form and one read from a file have it
	anew.Set("h.cash", "99")
	if f := sent(t, d.get("/sugarbush"), "/sugarbush"); f.Get(page.SeenKey) != "0" {
		t.Errorf("the empty form was made from change %q", f.Get(page.SeenKey))
	}
	d.wants(d.post("/sugarbush/keep", anew), http.StatusConflict, "<td>5678</td><td>99</td>")
}

// What is of a name that is taken is not saved in its place.
func TestANameThatIsTaken(t *testing.T) {
	d := sit(t, true)
	f := d.form(d.get("/practices"), "/practices")
	f.Set("key.0", "steam-rinse")
	f.Set("name.0", "steam rinse")
	d.wants(d.post("/practices", f), http.StatusSeeOther)
	f = d.form(d.get("/practices"), "/practices")
	f.Set("key.1", "steam-rinse")
	f.Set("name.1", "another steam rinse")
	d.wants(d.post("/practices", f), http.StatusUnprocessableEntity, "is a practice already")
	rule := d.form(d.get("/rule"), "/rule")
	for k, v := range map[string]string{"do": "save", "wash": "alcohol", "place": "US", "reason": "asked in May",
		"verdict": "permitted", "checked": "2025-11-01"} {
		rule.Set(k, v)
	}
	d.wants(d.post("/rule", rule), http.StatusSeeOther)
	rule.Set("reason", "asked in June")
	rule.Set(page.SeenKey, fmt.Sprint(d.contents().Change)) // another new rule, by one who might have seen the first
	d.wants(d.post("/rule", rule), http.StatusUnprocessableEntity, "There is a rule of yours for this case already")
	if r := d.contents().Rules; len(r) != 1 || r[0].Reason != "asked in May" {
		t.Errorf("%+v", r)
	}
	if p := d.contents().Own(); len(p) != 1 || p[0].Name != "steam rinse" {
		t.Errorf("%+v", p)
	}
}

// Before there is any study two people may differ about prices as well.
func TestFirstPricesOfTwo(t *testing.T) {
	d := sit(t, false)
	d.wants(d.post("/prices/list", d.form(d.get("/prices/list"), "/prices/list")), http.StatusSeeOther)
	first, second := d.form(d.get("/prices/list"), "/prices/list"), d.form(d.get("/prices/list"), "/prices/list")
	first.Set("text", strings.Replace(first.Get("text"), "\nwage = ", "\nwage = 21 # ", 1))
	second.Set("text", strings.Replace(second.Get("text"), "\nwage = ", "\nwage = 22 # ", 1))
	d.wants(d.post("/prices/list", first), http.StatusSeeOther)
	d.wants(d.post("/prices/list", second), http.StatusConflict, "<td>21</td><td>22</td>")
}
