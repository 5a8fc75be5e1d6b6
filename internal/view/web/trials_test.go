package web

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"golang.org/x/net/html"

	"spile/internal/engine/design"
	"spile/internal/engine/harvest"
	"spile/internal/files/book"
	"spile/internal/trade/practice"
	trials "spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// marsh is an invented trial: three practices in four blocks on counters, read on six days, with a counter that went
// back.
func marsh(blind bool) trials.Trial {
	q := trials.Question{Practices: []practice.Key{"unsanitized", "new-spout", "check-valve"}, Reference: "unsanitized",
		Design:     trials.Blocks,
		Replicates: 4, Taps: 20, Seasons: 1, FirstSeason: 2025, Seed: 7, Blind: blind}
	l, err := design.Draw(q, practice.Shipped())
	if err != nil {
		panic(err)
	}
	t := trials.Trial{Name: "Marsh 2025", Site: "Marsh", Question: &l.Question, Records: l.Records(),
		Options: trials.Options{Reference: "unsanitized"}}
	r := &t.Records[0]
	random := rand.New(rand.NewPCG(5, 6))
	gain := map[practice.Key]float64{"unsanitized": 1, "new-spout": 1.15, "check-valve": 1.3}
	r.Calibrations = []trials.Calibration{{Unit: "", At: day(2025, 3, 1), Flow: trials.Slow, Dump: 3},
		{Unit: "", At: day(2025, 3, 1), Flow: trials.Fast, Dump: 3.2}}
	for _, p := range r.Plots {
		at, own := 100.0, math.Exp(0.06*random.NormFloat64())
		for n := range 6 {
			r.Readings = append(r.Readings,
				trials.Reading{Unit: p.Unit, At: day(2025, 3, 3+4*n), Counter: new(at), Brix: new(2.1),
					Vacuum: new(unit.InchOfMercury.Of(24))})
			at += math.Round(60 * gain[p.Practice] * own * math.Exp(0.04*random.NormFloat64()))
		}
	}
	r.Readings[3].Counter = new(90.0) // unit 1, 15 March
	r.Readings[4].Counter, r.Readings[5].Counter = new(150.0), new(215.0)
	return t
}

func day(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }

// atTrial is a desk whose workbook also holds the trial.
func atTrial(t testing.TB, full bool, x trials.Trial) atDesk {
	d := sit(t, full)
	if _, err := d.book.Save(book.Edit{At: day(2025, 3, 1), Who: "Ada", What: "trial"},
		book.TrialItems(x)...); err != nil {
		t.Fatal(err)
	}
	return d
}

func readings(name string, on string) string {
	return page.ReadPath + "?" + url.Values{"trial": {name}, "season": {"2025"}, "date": {on}}.Encode()
}

var trialPages = []string{"/trials", "/trials/new", page.TrialAddress("Marsh 2025"), "/trials/layout?name=Marsh+2025",
	"/trials/take?name=Marsh+2025", readings("Marsh 2025", "2025-03-27"), readings("Marsh 2025", "2025-03-23"),
	page.LogAddress("Marsh 2025", 2025)}

func TestTrialPages(t *testing.T) {
	d := atTrial(t, true, marsh(true))
	for _, p := range append(trialPages, page.TrialAddress("Marsh 2025")+"&syrup=yes&vacuum=yes") {
		body := d.get(p)
		sound(t, p, body)
		if strings.Contains(body, "NaN") || strings.Contains(body, "%!") || strings.Contains(body, "ZgotmplZ") {
			t.Errorf("%s holds a number or word gone wrong", p)
		}
	}
}

func TestEveryWordOfTrialPagesIsSaid(t *testing.T) {
	d := atTrial(t, false, marsh(true))
	h, err := New(Config{Book: d.book, Who: "Ada", Voice: say.In(say.Pseudo), Version: "1",
		Now:    func() time.Time { return day(2025, 3, 27) },
		Phones: trees.NewPhones([]string{lan}, func(string, string) {})})
	if err != nil {
		t.Fatal(err)
	}
	everyWordIsSaid(t, h, trialPages,
		[]string{"Marsh 2025", "Marsh", "spile", "SVG", "PNG", "CSV", "XLSX", "PDF", "Ada", "w.spile", "http://"})
}

// Every page of trials by day and at night, on a phone and on a desk: nothing is cut off, all of it can be read.
func TestTrialPagesInTheBrowser(t *testing.T) {
	d := atTrial(t, true, marsh(true))
	b := browseOn(t, d, nil)
	for _, width := range []int64{390, 1280} {
		for _, scheme := range []string{"light", "dark"} {
			b.do(chromedp.EmulateViewport(width, 900))
			if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}); err != nil {
				t.Fatal(err)
			}
			for i, p := range trialPages {
				b.open(p)
				if wide := eval[float64](b, "document.documentElement.scrollWidth"); wide > float64(width) {
					widest := eval[string](b,
						`[...document.querySelectorAll("body *")].filter(e => !e.closest(".scroll, svg, .hush") && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.tagName + "." + e.className + "#" + e.id).slice(0, 5).join(" ")`)
					t.Errorf("%s is %v px wide on %d (%s)", p, wide, width, widest)
				}
				if low := eval[string](b, contrast); low != "" {
					t.Errorf("%s, %s: too little contrast: %s", p, scheme, low)
				}
				if dir := os.Getenv("SPILE_SHOTS"); dir != "" {
					picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(90))
					if err == nil {
						os.WriteFile(fmt.Sprintf("%s/trial-%02d-%s-%d.jpg", dir, i, scheme, width), picture, 0o644)
					}
				}
			}
		}
	}
	// At the tree a finger hits every field.
	b.do(chromedp.EmulateViewport(390, 844))
	b.open(readings("Marsh 2025", "2025-03-27"))
	if low := eval[string](b,
		`[...document.querySelectorAll("#readings :is(input:not([type=hidden]), select, button)")].filter(e => e.offsetParent && e.getBoundingClientRect().height < 44).map(e => e.id + e.name + e.getBoundingClientRect().height).slice(0, 5).join(" ")`); low != "" {
		t.Errorf("lower than 44 px: %s", low)
	}
}

// typing is a form of one card of the trial Marsh 2025.
func typing(unit, on string, more ...string) url.Values {
	f := url.Values{"trial": {"Marsh 2025"}, "season": {"2025"}, "date": {on}, "do": {"0"}, "unit.0": {unit}}
	for i := 0; i < len(more); i += 2 {
		f.Set(more[i]+".0", more[i+1])
	}
	return f
}

func (d atDesk) read(unit, on string) *trials.Reading {
	for _, r := range d.contents().Trials[0].Records[0].Readings {
		if r.Unit == unit && r.At.Format(time.DateOnly) == on {
			return &r
		}
	}
	return nil
}

// A reading is stored, is there, is not stored twice, and gives way to another only when both values have been seen.
func TestAReadingIsEntered(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	const on = "2025-03-27"
	if w := d.post(page.ReadPath,
		typing("2", on, "amount", "531", "brix", "1,9", "vacuum", "23.5", "note",
			"windy")); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	r := d.read("2", on)
	if r == nil || *r.Counter != 531 || *r.Brix != 1.9 || r.Note != "windy" ||
		math.Abs(r.Vacuum.In(unit.InchOfMercury)-23.5) > 1e-9 {
		t.Fatalf("stored: %+v", r)
	}
	if body := d.get(readings("Marsh 2025", on)); !strings.Contains(body,
		"stored: 531 dumps, 1.9 °Bx, 23.5 inHg, “windy”") || !strings.Contains(body, "1 of 12 units stored") {
		t.Error("the page does not show what is stored")
	}
	change := d.contents().Change
	same := typing("2", on, "amount", "531", "brix", "1.9", "vacuum", "23.5", "note", "windy")
	if w := d.post(page.ReadPath, same); w.Code != http.StatusSeeOther || d.contents().Change != change {
		t.Errorf("the same again: %d, change %d after %d", w.Code, d.contents().Change, change)
	}
	other := typing("2", on, "amount", "513")
	d.wants(d.post(page.ReadPath, other), http.StatusConflict, "Stored: 531 dumps", "Typed now: 513 dumps")
	if *d.read("2", on).Counter != 531 {
		t.Fatal("replaced without being seen")
	}
	other.Set("over.0", fmt.Sprint(change))
	if w := d.post(page.ReadPath, other); w.Code != http.StatusSeeOther || *d.read("2", on).Counter != 513 {
		t.Errorf("%d: not replaced", w.Code)
	}
	// Somebody else corrects it in the meantime: what they wrote is not overwritten.
	late := typing("2", on, "amount", "600")
	late.Set("over.0", fmt.Sprint(change))
	d.wants(d.post(page.ReadPath, late), http.StatusConflict, "changed")
	if *d.read("2", on).Counter != 513 {
		t.Error("a correction was overwritten unseen")
	}
	if body := d.get("/history"); !strings.Contains(body, "read 2 of Marsh 2025, March 27") {
		t.Error("the history does not say what was read")
	}
}

// A reading of a unit that a newer layout lacks is refused with words, and never told as stored; what was sent with it
// is, and named by its place in the form.
func TestAUnitThatIsNotThereIsRefused(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	f := typing("2", "2025-03-27", "amount", "520")
	f.Set("unit.41", "B77")
	f.Set("amount.41", "118")
	f.Set("do", "all")
	w := d.post(page.ReadPath, f)
	body := d.wants(w, http.StatusUnprocessableEntity, "B77", "is not known", "not stored")
	if got := w.Header().Get("Spile-Stored"); got != "0" || strings.Contains(body, "B77 is stored") {
		t.Errorf("stored: %q", got)
	}
	if r := d.read("2", "2025-03-27"); r == nil || *r.Counter != 520 {
		t.Error("what was sent with it is lost")
	}
	// Alone it is refused, too.
	f = url.Values{"trial": f["trial"], "season": f["season"], "date": f["date"], "unit.0": {"B77"},
		"amount.0": {"118"}, "do": {"all"}}
	if w := d.post(page.ReadPath, f); w.Code != http.StatusUnprocessableEntity || w.Header().Get("Spile-Stored") != "" {
		t.Errorf("%d, stored %q", w.Code, w.Header().Get("Spile-Stored"))
	}
}

// A counter that went back is stored as it was read, and said.
func TestACounterThatWentBackIsSeen(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	if w := d.post(page.ReadPath, typing("2", "2025-03-27", "amount", "12")); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code)
	}
	if body := d.get(readings("Marsh 2025", "2025-03-27")); !strings.Contains(body, "The counter went back, from ") {
		t.Error("it is not said")
	}
}

// What a tank held that ran over is at least that, typed as the printed sheet has it or said in a field of its own: it
// is kept with an overflow, and both are mended and taken away together.
func TestATankThatRanOver(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	const on = "2025-03-27"
	overflows := func() (n int) {
		for _, e := range d.contents().Trials[0].Records[0].Events {
			if e.Kind == trials.Overflow && e.From.Format(time.DateOnly) == on && slices.Equal(e.Units, []string{"2"}) {
				n++
			}
		}
		return n
	}
	before := overflows()
	f := func(more ...string) url.Values {
		f := typing("2", on, more...)
		f.Set("way", "volume")
		return f
	}
	for _, c := range [][]string{{"amount", "≥ 120"}, {"amount", ">=120"}, {"amount", "120", "least", "yes"}} {
		if w := d.post(page.ReadPath, f(c...)); w.Code != http.StatusSeeOther || overflows() != before+1 ||
			d.read("2", on).Volume == nil {
			t.Fatalf("%v: %d, %d overflows", c, w.Code, overflows()-before)
		}
	}
	if body := d.get(readings("Marsh 2025", on)); !strings.Contains(body, "stored: ≥\u00a0120 gal") {
		t.Error("it is not said")
	}
	d.wants(d.post(page.ReadPath, f("amount", "120")), http.StatusConflict,
		"Stored: ≥\u00a0120 gal. Typed now: 120 gal")
	over := f("amount", "120")
	over.Set("over.0", fmt.Sprint(d.contents().Change))
	if w := d.post(page.ReadPath, over); w.Code != http.StatusSeeOther || overflows() != before {
		t.Errorf("mended: %d, %d overflows", w.Code, overflows()-before)
	}
	over = f("amount", "≥ 130")
	over.Set("over.0", fmt.Sprint(d.contents().Change))
	if w := d.post(page.ReadPath, over); w.Code != http.StatusSeeOther || overflows() != before+1 {
		t.Errorf("mended again: %d, %d overflows", w.Code, overflows()-before)
	}
	gone := url.Values{"trial": {"Marsh 2025"}, "season": {"2025"}, "date": {on}, "drop": {"1"},
		"seen": {fmt.Sprint(d.contents().Change)}}
	if w := d.post(page.ReadPath, gone); w.Code != http.StatusSeeOther || overflows() != before ||
		d.read("2", on) != nil {
		t.Errorf("taken away: %d, %d overflows", w.Code, overflows()-before)
	}
	for _, c := range [][]string{{"amount", "≥"}, {"least", "yes"}, {"least", "yes", "brix", "2"}, {"amount", "≥ x"}} {
		d.wants(d.post(page.ReadPath, f(c...)), http.StatusUnprocessableEntity)
	}
	if overflows() != before {
		t.Error("an overflow is kept without its reading")
	}
	// One that the log has at that time keeps its words.
	d.wants(d.post(page.LogPath,
		url.Values{"name": {"Marsh 2025"}, "season": {"2025"}, "table": {"events"}, "kind": {"overflow"}, "from": {on},
			"units": {"2"}, "note": {"ice in the lid"}}), http.StatusSeeOther)
	if w := d.post(page.ReadPath, f("amount", "≥ 120")); w.Code != http.StatusSeeOther || d.read("2", on) == nil ||
		overflows() != before+1 {
		t.Errorf("%d, %d overflows", w.Code, overflows()-before)
	}
	if !slices.ContainsFunc(d.contents().Trials[0].Records[0].Events,
		func(e trials.Event) bool { return e.Note == "ice in the lid" }) {
		t.Error("what the log said is lost")
	}
}

// Faults stand beside their fields, and nothing of the form is kept.
func TestReadingsAtFault(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	change := d.contents().Change
	f := typing("2", "2025-03-27", "amount", "6oo", "brix", "31", "vacuum", "-1")
	f.Set("do", "all")
	f.Set("unit.1", "3")
	f.Set("amount.1", "500")
	body := d.wants(d.post(page.ReadPath, f), http.StatusUnprocessableEntity, `"6oo"`, `"31"`, `"-1"`)
	if !strings.Contains(body, `value="6oo"`) || !strings.Contains(body, `value="500"`) {
		t.Error("what was typed is lost")
	}
	for _, bad := range []url.Values{typing("2", "2025-13-40", "amount", "1"),
		typing("2", "2024-03-01", "amount", "1")} {
		d.wants(d.post(page.ReadPath, bad), http.StatusUnprocessableEntity, "2025")
	}
	d.wants(d.post(page.ReadPath, url.Values{"trial": {"none"}}), http.StatusNotFound)
	if d.contents().Change != change {
		t.Error("something was kept")
	}
	// Early sap of the winter before is of the season, as in the files.
	if w := d.post(page.ReadPath, typing("2", "2024-12-20", "amount", "1")); w.Code != http.StatusSeeOther ||
		d.read("2", "2024-12-20") == nil {
		t.Errorf("a reading of December: %d", w.Code)
	}
}

// From a question to a layout that is kept, and that gives the same again from its seed.
func TestATrialIsLaidOut(t *testing.T) {
	d := sit(t, false)
	f := d.form(d.get("/trials/new"), "/trials/new")
	f.Set("practice", "")
	f["practice"] = []string{"unsanitized", "check-valve"}
	f.Set("replicates", "5")
	f.Set("seed", "11")
	d.wants(d.post("/trials/new", f), http.StatusUnprocessableEntity, "Give the trial a name", "at which site")
	f.Set("name", "Fen valves")
	f.Set("site", "Fen")
	if w := d.post("/trials/new", f); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	x := d.contents().Trials[0]
	again, err := design.Draw(*x.Question, practice.Shipped())
	if err != nil || len(x.Records) != 1 || len(x.Records[0].Plots) != 10 {
		t.Fatalf("kept: %+v, %v", x, err)
	}
	for i, p := range x.Records[0].Plots {
		if again.Places[i].Unit.Name != p.Unit || again.Places[i].Practice != p.Practice {
			t.Errorf("unit %s: %s, and %s again from the seed", p.Unit, p.Practice, again.Places[i].Practice)
		}
	}
	d.wants(d.post("/trials/new", f), http.StatusUnprocessableEntity, "There is a trial Fen valves already")
	for key, bad := range map[string]string{"replicates": "0", "cv": "x", "seed": "-1", "design": "spiral",
		"gain": "0"} {
		g := maps.Clone(f)
		g.Set(key, bad)
		d.wants(ask(d, "GET", "/trials/new?"+g.Encode()), http.StatusUnprocessableEntity, "allowed")
	}
	g := maps.Clone(f)
	g.Set("units", "unit,block\nA,1\nA,1\n")
	d.wants(ask(d, "GET", "/trials/new?"+g.Encode()), http.StatusUnprocessableEntity, "row 3", "twice")
}

// Correcting a reading moves the pooled gain, and undo takes it back.
func TestACorrectedReadingMovesThePool(t *testing.T) {
	d := atTrial(t, true, marsh(false))
	body := d.get("/evidence")
	if !strings.Contains(body, "Marsh 2025") ||
		!strings.Contains(html.UnescapeString(body), page.TrialAddress("Marsh 2025")) {
		t.Fatal("the page Evidence does not show that the trial is live")
	}
	gain := func() string { return ask(d, "GET", "/table/gains.csv").Body.String() }
	before := gain()
	f := typing("2", "2025-03-23", "amount", "900")
	f.Set("over.0", fmt.Sprint(d.contents().Change))
	if w := d.post(page.ReadPath, f); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code)
	}
	if gain() == before {
		t.Error("the pooled gains stay")
	}
	if w := d.post("/undo", url.Values{"change": {fmt.Sprint(d.contents().Change)}}); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code)
	}
	if gain() != before {
		t.Error("undone, the pooled gains are others")
	}
}

// A run is taken out for its whole block, with a reason, and the analysis follows.
func TestADecision(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	body := d.get(page.TrialAddress("Marsh 2025"))
	gains := func() string { return ask(d, "GET", "/trials/table/trial.csv?name=Marsh+2025").Body.String() }
	before := gains()
	summed, err := harvest.Of(d.contents().Trials[0])
	if err != nil {
		t.Fatal(err)
	}
	all := summed.Totals[0].Findings
	i := slices.IndexFunc(all, func(f harvest.Finding) bool { return f.Kind == harvest.Backwards })
	if i < 0 || !strings.Contains(body, "counter went back") {
		t.Fatal("the counter that went back is not found")
	}
	f := url.Values{"name": {"Marsh 2025"}, "season": {"2025"}, "finding": {all[i].ID()}, "do": {"out"},
		"seen": {fmt.Sprint(d.contents().Change)}}
	d.wants(d.post("/trials/decide", f), http.StatusUnprocessableEntity, "say why")
	f.Set("reason", "read wrong")
	if w := d.post("/trials/decide", f); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	if x := d.contents().Trials[0].Decisions; len(x) != 1 || !x[0].Out || x[0].Taken == nil ||
		x[0].Taken.Block != all[i].Block {
		t.Errorf("decided: %+v", x)
	}
	if !strings.Contains(d.get(page.TrialAddress("Marsh 2025")), "taken out: read wrong") {
		t.Error("the page does not say what was decided")
	}
	if gains() == before {
		t.Errorf("the gains stay: %s", before)
	}
	f.Set("do", "keep")
	f.Set("seen", fmt.Sprint(d.contents().Change))
	f.Set("reason", "a reset")
	if w := d.post("/trials/decide", f); w.Code != http.StatusSeeOther || gains() != before {
		t.Errorf("%d: decided otherwise, the gains are not those of before", w.Code)
	}
	f.Set("finding", "departs/none")
	d.wants(d.post("/trials/decide", f), http.StatusUnprocessableEntity, "no longer found")
}

// What happens is written down one by one, and taken away again; a leak is then found.
func TestTheLog(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	form := func(more ...string) url.Values {
		f := url.Values{"name": {"Marsh 2025"}, "season": {"2025"}}
		for i := 0; i < len(more); i += 2 {
			f.Set(more[i], more[i+1])
		}
		return f
	}
	for _, f := range []url.Values{
		form("table", "events", "kind", "leak", "from", "2025-03-12", "to", "2025-03-14", "units", "4, 5", "note",
			"squirrel"),
		form("table", "calibrations", "unit", "4", "date", "2025-03-02", "flow", "fast", "dump_gal", "0,81"),
		form("table", "counts",
			"unit", "4", "date", "2025-03-02", "taps", "21", "again", "1", "note", "shavings white"),
		form("table", "tanks", "unit", "5", "lines", "10 25\n20 50,5"),
	} {
		if w := d.post(page.LogPath, f); w.Code != http.StatusSeeOther {
			t.Fatalf("%v: %d %.900s", f, w.Code, w.Body)
		}
	}
	r := d.contents().Trials[0].Records[0]
	if len(r.Events) != 1 || !slices.Equal(r.Events[0].Units, []string{"4", "5"}) ||
		!r.Events[0].To.Equal(day(2025, 3, 15).Add(-time.Second)) {
		t.Errorf("events: %+v", r.Events)
	}
	if c := r.Calibrations[len(r.Calibrations)-1]; math.Abs(c.Dump.In(unit.USGallon)-0.81) > 1e-12 || c.Unit != "4" {
		t.Errorf("dump: %+v", c)
	}
	if len(r.Counts) != 1 || r.Counts[0].Again != 1 || r.Counts[0].Note != "shavings white" || len(r.Tanks) != 1 ||
		math.Abs(r.Tanks[0].Depths[2].In(unit.Inch)-20) > 1e-9 {
		t.Errorf("counts %+v, tanks %+v", r.Counts, r.Tanks)
	}
	if body := d.get(page.TrialAddress("Marsh 2025")); !strings.Contains(body, "something happened") {
		t.Error("the leak is not among what may spoil the comparison")
	}
	for _, bad := range []url.Values{
		form("table", "events", "kind", "leak", "from", "2024-03-12"),
		form("table", "events", "kind", "flood", "from", "2025-03-12"),
		form("table", "events", "kind", "leak", "from", "2025-03-12", "from-time", "25:10"),
		form("table", "events", "kind", "leak", "from", "2025-03-12", "units", "99"),
		form("table", "calibrations", "date", "2025-03-12", "flow", "slow", "dump_gal", "0"),
		form("table", "counts", "unit", "4", "date", "2025-03-12", "taps", "2", "again", "2"),
		form("table", "counts", "unit", "4", "date", "2025-03-12", "taps", "20.7"),
		form("table", "events", "kind", "leak", "from", "2025-03-12", "to", "2025-03-11"),
		form("table", "tanks", "unit", "5", "lines", "10"), form("table", "x"),
	} {
		if w := d.post(page.LogPath, bad); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%v: %d", bad, w.Code)
		}
	}
	// What is wrong stands beside its field, all of it at once, and what was typed stays.
	w := d.wants(d.post(page.LogPath, form("table", "counts", "unit", "99", "date", "2024-03-12", "taps", "many")),
		http.StatusUnprocessableEntity, "2 faults", `id="counts-taps" name="taps" value="many" aria-invalid="true"`,
		`id="counts-date-fault"`)
	if strings.Contains(w, `id="tanks-lines-fault"`) {
		t.Error("the fault of one form stands at another")
	}
	d.wants(d.post(page.LogPath, form("table", "tanks", "unit", "5", "lines", "10 25\n20 x")),
		http.StatusUnprocessableEntity, `id="tanks-lines-fault">row 2: `)
	// A form with nothing in it writes nothing down, and says so.
	change := d.contents().Change
	for _, f := range []url.Values{form("table", "tanks", "unit", "", "lines", ""),
		form("table", "tanks", "unit", "5", "lines", " \n "), form("table", "counts", "unit", "4"),
		form("table", "calibrations"), form("table", "events")} {
		d.wants(d.post(page.LogPath, f), http.StatusUnprocessableEntity, `class="fault"`)
	}
	if d.contents().Change != change {
		t.Error("a form with nothing in it was kept")
	}
	// A count far from the layout is asked about, and kept once somebody says that it is meant.
	far := form("table", "counts", "unit", "5", "date", "2025-03-12", "taps", "2")
	w = d.wants(d.post(page.LogPath, far), http.StatusUnprocessableEntity, "2 taps were counted", "Nothing was kept")
	id := regexp.MustCompile(`name="accept" value="([0-9a-f]{8})"`).FindStringSubmatch(w)
	if id == nil {
		t.Fatal("no question can be answered")
	}
	far.Set("accept", id[1])
	if w := d.post(page.LogPath, far); w.Code != http.StatusSeeOther || len(d.contents().Answers) != 1 {
		t.Errorf("answered: %d", w.Code)
	}
	body := d.get(page.LogAddress("Marsh 2025", 2025))
	f := d.form(body, page.LogPath) // the last: a tank
	if w := d.post(page.LogPath, f); w.Code != http.StatusSeeOther ||
		len(d.contents().Trials[0].Records[0].Tanks) != 0 {
		t.Errorf("taken away: %d", w.Code)
	}
	d.wants(d.post(page.LogPath, f), http.StatusUnprocessableEntity, "look again")
	// A reading of a wrong day is taken away too, and undone like all else.
	on := url.Values{"trial": {"Marsh 2025"}, "season": {"2025"}, "date": {"2025-03-23"}, "drop": {"1"},
		"seen": {fmt.Sprint(d.contents().Change)}}
	if w := d.post(page.ReadPath, on); w.Code != http.StatusSeeOther || d.read("2", "2025-03-23") != nil {
		t.Errorf("a reading taken away: %d", w.Code)
	}
}

// The trial of docs/walk.md, step by step in the browser: from the question to a pooled gain that moves.
func TestTheWalkedTrial(t *testing.T) {
	d := sit(t, true)
	b := browseOn(t, d, nil)
	b.quiet.Store(true) // 409 is noted by the browser
	b.open("/trials")
	b.do(chromedp.Click(`a[href="/trials/new"]`))
	b.until(`document.getElementById("w-seed")?.value === "1" && document.documentElement?.classList.contains("js") === true`)
	lead := eval[string](b, `document.querySelector("#lead .first").innerText`)
	set := func(id, value string) {
		eval[any](b, fmt.Sprintf(
			`(e => { e.value = %q; e.dispatchEvent(new Event("input", {bubbles: true})); })(document.getElementById(%q)); 0`, value, id))
	}
	for _, k := range []string{"new-spout", "new-drop"} {
		b.do(chromedp.Click(`input[name=practice][value=` + k + `]`))
	}
	set("w-design", "pairs")
	set("w-replicates", "4")
	set("w-seed", "3")
	b.until(`document.querySelectorAll(".map .lies").length === 4 && document.querySelectorAll(".map li").length === 8`)
	if now := eval[string](b, `document.querySelector("#lead .first").innerText`); now == lead ||
		!strings.Contains(now, "With 4 replicates") {
		t.Errorf("the power stays: %s", now)
	}
	if !eval[bool](b, `document.querySelector("#first svg") !== null && document.getElementById("said").textContent.includes("With 4 replicates")`) {
		t.Error("no figure, or it is not announced")
	}
	set("w-name", "Fen valves")
	set("w-site", "Fen")
	b.do(chromedp.Click(`button[formaction="/trials/new"]`))
	b.until(`location.pathname === "/trials/of"`)
	b.do(chromedp.Click(`.doors a`))
	b.until(`location.pathname === "/trials/read" && document.documentElement?.classList.contains("js") === true`)
	readme, err := os.ReadFile("../../../docs/walk.md")
	if err != nil {
		t.Fatal(err)
	}
	days := []string{"2025-03-12", "2025-03-20", "2025-03-28"}
	var rows [][]string
	for _, m := range regexp.MustCompile(`(?m)^   \| (\d) \| (\d+) \| (\d+) \| (\d+) \|$`).
		FindAllStringSubmatch(string(readme), -1) {
		rows = append(rows, m[1:])
	}
	if len(rows) != 8 {
		t.Fatalf("%d rows in the walk", len(rows))
	}
	for n, on := range days {
		set("date", on)
		b.until(`document.getElementById("sum").innerText.startsWith("0 of 8")`)
		for i, r := range rows {
			set(fmt.Sprintf("amount-%d", i), r[n+1])
		}
		b.do(chromedp.Click(`button[value=all]`))
		b.until(`document.getElementById("sum").innerText.startsWith("8 of 8")`)
	}
	b.do(chromedp.Click(`section.lead .aside a`))
	b.until(`location.pathname === "/trials/of" && document.querySelector("#gains svg") !== null`)
	said := eval[string](b, `document.querySelector("section.lead").innerText`)
	if !strings.Contains(said, "more sap a tap than unsanitized") || !strings.Contains(said, "95 % interval") ||
		!strings.Contains(said, "counted in the pooled gains") {
		t.Errorf("the trial says %s", said)
	}
	pooled := func() string {
		b.open("/gains")
		b.until(`location.pathname === "/gains" && document.readyState === "complete" && document.querySelector("#beside table") !== null`)
		return eval[string](b, `document.querySelector("#beside table").innerText`)
	}
	before := pooled()
	got := eval[string](b, `document.querySelector("#first").textContent`)
	if !strings.Contains(got, "Fen valves, live") {
		t.Errorf("the page Gains does not mark it: %s", got)
	}
	b.open("/evidence")
	if !eval[bool](b, `document.getElementById("beside").textContent.includes("live: a trial of the workbook")`) {
		t.Error("the page Evidence does not mark it")
	}
	b.open(page.ReadPath + "?trial=Fen+valves&season=2025")
	b.until(`document.documentElement?.classList.contains("js") === true && document.getElementById("readings") !== null`)
	set("date", "2025-03-28")
	b.until(`document.getElementById("sum").innerText.startsWith("8 of 8")`)
	set("amount-7", "136")
	b.do(chromedp.Click(`#u-7 > button`))
	b.until(`document.querySelector("#u-7-mark button[name^=over]") !== null`)
	b.do(chromedp.Click(`#u-7-mark button[name^=over]`))
	b.until(`document.getElementById("u-7-mark").innerText.includes("stored: 136 gal")`)
	if pooled() == before {
		t.Error("the pooled gains stay")
	}
	b.open("/history")
	changes := eval[int](b, `document.querySelectorAll(".changes li").length`)
	b.do(chromedp.Click(".changes form button"))
	b.until(fmt.Sprintf(`document.readyState === "complete" && document.querySelectorAll(".changes li").length === %d`,
		changes+1))
	if pooled() != before {
		t.Error("undone, the pooled gains are others")
	}
}

// What a crew wrote down is taken in from a file or pasted rows, all of it or nothing, with faults beside their rows.
func TestATrialsFilesAreTakenIn(t *testing.T) {
	d := atTrial(t, true, marsh(false))
	at := "/trials/take?name=Marsh+2025"
	f := d.form(d.get(at), "/trials/take")
	f.Set("pasted", "unit\tdate\tcounter\n1\t2025-04-02\t900\n99\t2025-04-02\t7\n2\tsoon\t8\n")
	before := d.contents().Change
	d.wants(d.post("/trials/take", f), http.StatusUnprocessableEntity, "2 faults", "is none of the trial", "soon",
		"Rows at fault")
	if d.contents().Change != before {
		t.Fatal("half of it was taken in")
	}
	f.Set("pasted", "unit\tdate\tcounter\n1\t2025-04-02\t900\n2\t2025-04-02\t905\n")
	d.wants(d.post("/trials/take", f), http.StatusOK, "Taken in", "stored: 2 readings")
	c := d.contents()
	if c.Change != before+1 {
		t.Fatalf("change %d after %d", c.Change, before)
	}
	f = d.form(d.get(at), "/trials/take")
	f.Set("pasted", "unit\tdate\tcounter\n1\t2025-04-02\t901\n")
	d.wants(d.post("/trials/take", f), http.StatusUnprocessableEntity, "with other content")
	f.Set("replace", "yes")
	d.wants(d.post("/trials/take", f), http.StatusOK, "put in the place of others: 1 reading")
	f.Set("pasted", " ")
	d.wants(d.post("/trials/take", f), http.StatusUnprocessableEntity, "Choose a file")
	// What is unusual is asked beside the form, and kept once somebody says that it is meant.
	f = d.form(d.get(at), "/trials/take")
	f.Set("pasted", "unit\tdate\ttaps\n1\t2025-04-02\t400\n")
	w := d.post("/trials/take", f)
	d.wants(w, http.StatusUnprocessableEntity, "400 taps were counted", "Nothing was kept", "Rows that are unusual")
	if beside := regexp.MustCompile(`(?s)<tr><th scope="row">2</th><td class="wide">1\s2025-04-02\s400</td>` +
		`<td class="wide">\s*<p class="long"><label><input type="checkbox" name="accept"`); !beside.Match(w.Body.Bytes()) {
		t.Error("the question does not stand beside its row")
	}
	id := regexp.MustCompile(`name="accept" value="([0-9a-f]{8})"`).FindStringSubmatch(w.Body.String())
	if id == nil {
		t.Fatal("no question can be answered")
	}
	f.Set("accept", id[1])
	d.wants(d.post("/trials/take", f), http.StatusOK, "Taken in", "stored: 1 count of taps")
	if answers := d.contents().Answers; len(answers) != 1 || answers[0].ID != id[1] {
		t.Errorf("%+v", answers)
	}
	for file, begins := range map[string]string{"field-sheets.pdf": "%PDF", "field-sheets.xlsx": "PK"} {
		w := ask(d, "GET", "/trials/sheets/"+file+"?name=Marsh+2025&season=2025")
		if w.Code != http.StatusOK || !strings.HasPrefix(w.Body.String(), begins) {
			t.Errorf("%s: %d", file, w.Code)
		}
	}
	d.wants(ask(d, "GET", "/trials/sheets/field-sheets.pdf?name=Marsh+2025&season=1999"), http.StatusNotFound,
		"no units in 1999")
}

// A crew's table in its own words, units and numbers: what its headers and words stand for is asked once, beside each,
// with a guess; the file stays in the form; what is settled is kept with who did it, and taken for the next table.
func TestATrialsTableInOtherWords(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	table := "\ufeffRelevés du bas;;;;;\n\nÉrable no;Jour du relevé;Eau récoltée;Brix;Niveau de vide;Commentaires\n" +
		"1;05/04/2025;1 120,5 L;2,1 %;24 po Hg;\n2;05/04/2025;n.d.;2,0 %;80 kPa;gelé\n" +
		"3;05/04/2025 17:30;250 gal;2,1;80 kPa;\n4;05/04/2025;1120,5 l;2,2;24;\nTotal;;5000;;;\n"
	before := d.contents()
	w := d.uploadTo("/trials/take", "releves.csv", table, url.Values{"name": {"Marsh 2025"}})
	page := d.wants(w, http.StatusOK, "What your headers and words stand for", "Eau récoltée", "n.d.", "3/4")
	if d.contents().Change != before.Change {
		t.Fatal("taken in before it was settled")
	}
	f := d.form(page, "/trials/take")
	guesses := map[string]string{"Érable no": "unit", "Eau récoltée": "volume_l", "Brix": "brix", "n.d.": "unknown",
		"Commentaires": "note"}
	for i, said := range f["said"] {
		if want := guesses[said]; want != "" && f["means"][i] != want {
			t.Errorf("%s of %s is guessed to be %q, want %q", said, f["of"][i], f["means"][i], want)
		}
		if f["of"][i] == "dates" {
			f["means"][i] = "day"
		}
		if said == "Niveau de vide" { // its numbers are in two units, and one has none
			if f["means"][i] != "" {
				t.Errorf("%s is guessed", said)
			}
			f["means"][i] = "vacuum_inhg"
		}
	}
	d.wants(d.post("/trials/take", f), http.StatusOK, "Taken in", "stored: 4 readings")
	c := d.contents()
	r := c.Trials[0].Records[0].Readings
	got := map[string]trials.Reading{}
	for _, x := range r {
		if x.At.Month() == 4 && x.At.Day() == 5 {
			got[x.Unit] = x
		}
	}
	// 250 gal is 250 × 231 cubic inches (NIST Handbook 44, Appendix C); 24 inHg is 24 × 3.386389 kPa (NIST SP 811), to
	// seven digits
	if got["1"].Volume == nil || got["1"].Volume.In("l") != 1120.5 || *got["1"].Brix != 2.1 ||
		got["2"].Volume != nil || got["2"].Note != "gelé" || got["3"].At.Hour() != 17 ||
		math.Abs(got["3"].Volume.In("l")-946.352946) > 1e-4 || math.Abs(got["4"].Vacuum.In("kpa")-81.273336) > 1e-5 {
		t.Errorf("%+v", got)
	}
	if len(c.Words) == len(before.Words) {
		t.Error("what was settled is not kept")
	}
	w = d.uploadTo("/trials/take", "releves2.csv", strings.ReplaceAll(table, "05/04", "06/04"),
		url.Values{"name": {"Marsh 2025"}})
	d.wants(w, http.StatusOK, "Taken in", "stored: 4 readings")
	// a fault does not lose the file, nor what was settled
	w = d.uploadTo("/trials/take", "releves3.csv", strings.Replace(table, "\n3;05/04", "\n33;07/04", 1),
		url.Values{"name": {"Marsh 2025"}})
	page = d.wants(w, http.StatusUnprocessableEntity, "is none of the trial", "releves3.csv is still here")
	if f := d.form(page, "/trials/take"); f.Get("held") == "" {
		t.Error("the file is lost")
	}
	// one day for all rows, and a header that stands for nothing
	w = d.uploadTo("/trials/take", "mars.csv", "Arbre,Qté,Météo\n1,12 L,soleil\n2,14 L,neige\n",
		url.Values{"name": {"Marsh 2025"}})
	page = d.wants(w, http.StatusOK, "Lacking: day")
	f = d.form(page, "/trials/take")
	for i, said := range f["said"] {
		f["means"][i] = map[string]string{"Arbre": "unit", "Qté": "volume_l", "date": "2025-04-09"}[said]
		if f["means"][i] == "" {
			f["means"][i] = "notes"
		}
	}
	d.wants(d.post("/trials/take", f), http.StatusOK, "Taken in", "stored: 2 readings")
}

func FuzzTrialForms(f *testing.F) {
	f.Add("unit.0=2&amount.0=6&date=2025-03-27&season=2025&do=all",
		"practice=unsanitized&design=blocks&replicates=3&pasted=unit%09date%09counter%0A1%092025-04-01%0999",
		"do=out&reason=x&finding=backwards%2F1&season=2025")
	f.Add("unit.0=2&over.0=-1&date=&time=25:00&season=x", "practice=a&practice=a&units=unit%0A1%0A1&cv=NaN&seed=-1",
		"season=2025&table=tanks&lines=1+2%0A3")
	f.Add("drop=1&season=2025", "", "season=2025&table=events&kind=leak&from=2025-03-01&units=1,2")
	f.Add("", "", "seen=1&from=02-15&to=04-30&freeze=32&thaw=32&warm=40"+
		"&short=20&long=30&hot=70&hot-days=3&last-days=5&base=40&gap=5")
	f.Add("", "", "do=usual&from=02-30&hot=NaN&short=-1&long=1e9")
	d := atTrial(f, false, marsh(true))
	f.Fuzz(func(t *testing.T, read, plan, decision string) {
		d := atDesk{t, d.Handler, d.book}
		texts := map[string]string{page.ReadPath: read, "/trials/new": plan, "/trials/decide": decision,
			"/trials/take": plan, page.LogPath: decision, trees.SpringPath: decision, "/phones/refused": decision}
		for _, at := range trialFormPaths {
			text, given := texts[at]
			if !given {
				t.Fatalf("%s is not fuzzed", at)
			}
			q, err := url.ParseQuery(text)
			if err != nil {
				continue
			}
			if n := q.Get("replicates") + q.Get("seasons"); len(n) > 3 {
				continue // large trials take long, and tell nothing more
			}
			if at == page.ReadPath {
				q.Set("trial", "Marsh 2025")
			} else if at != "/trials/new" {
				q.Set("name", "Marsh 2025")
			}
			if w := d.post(at, q); w.Code >= 500 {
				t.Errorf("%s %s: %d %s", at, text, w.Code, w.Body)
			}
			if w := ask(d, "GET", at+"?"+q.Encode()); w.Code >= 500 {
				t.Errorf("GET %s %s: %d %s", at, text, w.Code, w.Body)
			}
		}
	})
}

// The rules of a season's class are changed on the page of a trial, kept as a change, and given up again; what cannot
// be is said, all of it, and what was typed stands.
func TestRulesOfTheSpring(t *testing.T) {
	x := marsh(true)
	cold, warm := unit.Celsius.Of(-4), unit.Celsius.Of(6)
	for i := range 89 { // every day from 1 February to 30 April freezes and thaws
		x.Days = append(x.Days, weather.Day{Date: day(2025, 2, 1+i), Min: &cold, Max: &warm})
	}
	d := atTrial(t, false, x)
	body := page.TrialAddress("Marsh 2025")
	if body := d.get(body); !strings.Contains(body, "a long season") ||
		!strings.Contains(body, "From February 1 to April 30") {
		t.Fatal("the usual rules do not stand")
	}
	f := d.form(d.get(body), trees.SpringPath)
	f.Set("long", "120")
	f.Set("hot", "50") // °F, 10 °C
	if w := d.post(trees.SpringPath, f); w.Code != http.StatusSeeOther {
		t.Fatalf("%d %.900s", w.Code, w.Body)
	}
	r := d.contents().Trials[0].Rules
	if r == nil || r.LongFrom != 120 || math.Abs(float64(r.Hot)-10) > 1e-9 || r.Freeze != 0 ||
		r.Base != weather.Usual().Base || r.From != weather.Usual().From {
		t.Errorf("%+v", r)
	}
	if body := d.get(body); !strings.Contains(body, "a usual season") ||
		len(d.contents().Trials[0].Records[0].Readings) == 0 {
		t.Error("the season is classed as before, or its readings are lost")
	}
	for key, bad := range map[string]string{"from": "31 Feb", "freeze": "cold", "hot-days": "0", "short": "200",
		"base": "400"} {
		g := d.form(d.get(body), trees.SpringPath)
		g.Set(key, bad)
		if w := d.post(trees.SpringPath, g); w.Code != http.StatusUnprocessableEntity ||
			!strings.Contains(w.Body.String(), `value="`+bad+`"`) {
			t.Errorf("%s = %s: %d", key, bad, w.Code)
		}
	}
	f = d.form(d.get(body), trees.SpringPath)
	f.Set("do", "usual")
	if w := d.post(trees.SpringPath, f); w.Code != http.StatusSeeOther || d.contents().Trials[0].Rules != nil {
		t.Errorf("%d: the usual rules are not back", w.Code)
	}
}

// A trial that was laid out elsewhere has its map and field sheets too.
func TestLayoutFromAFile(t *testing.T) {
	x := marsh(false)
	x.Question = nil
	d := atTrial(t, false, x)
	if !strings.Contains(d.get(page.TrialAddress("Marsh 2025")), "/trials/layout?name=Marsh") {
		t.Error("the page of the trial does not lead to its layout")
	}
	if body := d.get("/trials/layout?name=Marsh+2025"); strings.Count(body, "check-valve spout each season") != 4 ||
		!strings.Contains(body, "field-sheets.pdf") {
		t.Error("the layout does not show every unit, or offers no field sheets")
	}
}

// On a desk nothing is said of a phone: what is typed there is kept there as well.
func TestADeskIsNoPhone(t *testing.T) {
	d := atTrial(t, true, marsh(false))
	for _, path := range []string{page.ReadAddress("Marsh 2025", 2025)} {
		code := regexp.MustCompile(`data-code="[^"]*"`) // for one that a code let in
		if body := code.ReplaceAllString(d.get(path), ""); !strings.Contains(body, `id="drafts"`) ||
			strings.Contains(body, "this phone") {
			t.Errorf("%s has no drafts, or speaks of a phone", path)
		}
	}
}
