package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// atDesk is a workbench over a workbook of its own, with the invented scenario in it or empty.
type atDesk struct {
	testing.TB
	http.Handler
	book *book.Book
}

func sit(t testing.TB, full bool) atDesk {
	t.Helper()
	if full {
		return sitBefore(t, book.Items(scenario().Input))
	}
	return sitBefore(t, nil)
}

// sitBefore is a desk with a workbook that holds the items.
func sitBefore(t testing.TB, items []book.Item) atDesk {
	t.Helper()
	b, err := book.Create(filepath.Join(t.TempDir(), "w.spile"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	clock := func() time.Time { return time.Date(2025, 3, 14, 9, 26, 0, 0, time.UTC) }
	if len(items) > 0 {
		if _, err := b.Save(book.Edit{At: clock(), Who: "Ada", What: "scenario"}, items...); err != nil {
			t.Fatal(err)
		}
	}
	h, err := New(Config{Book: b, Who: "Ada", Now: clock, Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	return atDesk{t, h, b}
}

func (d atDesk) post(address string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest("POST", address, strings.NewReader(form.Encode()))
	r.Host = "localhost:7345"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	d.ServeHTTP(w, r)
	return w
}

func (d atDesk) upload(name, body string, more url.Values) *httptest.ResponseRecorder {
	return d.uploadTo("/take", name, body, more)
}

func (d atDesk) uploadTo(path, name, body string, more url.Values) *httptest.ResponseRecorder {
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	part, _ := m.CreateFormFile("file", name)
	part.Write([]byte(body))
	for k, v := range more {
		m.WriteField(k, v[0])
	}
	m.Close()
	r := httptest.NewRequest("POST", path, &b)
	r.Host = "localhost:7345"
	r.Header.Set("Content-Type", m.FormDataContentType())
	w := httptest.NewRecorder()
	d.ServeHTTP(w, r)
	return w
}

func (d atDesk) get(address string) string {
	d.Helper()
	w := ask(d, "GET", address)
	if w.Code != http.StatusOK {
		d.Fatalf("%s: %d\n%.400s", address, w.Code, w.Body)
	}
	return w.Body.String()
}

func (d atDesk) wants(w *httptest.ResponseRecorder, code int, words ...string) string {
	d.Helper()
	body := html.UnescapeString(w.Body.String())
	if w.Code != code {
		d.Fatalf("answered %d, wanted %d\n%.1500s", w.Code, code, body)
	}
	for _, x := range words {
		if !strings.Contains(body, x) {
			d.Errorf("the answer does not say %q", x)
		}
	}
	return body
}

func (d atDesk) contents() book.Contents {
	d.Helper()
	c, err := d.book.Contents()
	if err != nil {
		d.Fatal(err)
	}
	c.Trials = slices.Clone(c.Trials)
	for i, x := range c.Trials {
		c.Trials[i] = x.Read()
	}
	return c
}

// form is what a browser would send of a page's last form of an action.
func (d atDesk) form(body, action string) url.Values {
	d.Helper()
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		d.Fatal(err)
	}
	var found url.Values
	attr := func(n *html.Node, key string) (string, bool) {
		for _, a := range n.Attr {
			if a.Key == key {
				return a.Val, true
			}
		}
		return "", false
	}
	var walk func(n *html.Node, in bool)
	walk = func(n *html.Node, in bool) {
		if n.Type == html.ElementNode {
			name, _ := attr(n, "name")
			value, _ := attr(n, "value")
			switch n.Data {
			case "form":
				if a, _ := attr(n, "action"); a == action {
					in, found = true, url.Values{}
				}
			case "input":
				kind, _ := attr(n, "type")
				_, checked := attr(n, "checked")
				if in && name != "" && (kind != "checkbox" || checked) {
					found.Add(name, value)
				}
			case "textarea":
				if in && n.FirstChild != nil {
					found.Add(name, n.FirstChild.Data)
				}
			case "select":
				if in {
					for o := range n.ChildNodes() {
						if _, here := attr(o, "selected"); here {
							v, _ := attr(o, "value")
							found.Add(name, v)
							return
						}
					}
					if name != "more" {
						for o := range n.ChildNodes() {
							v, _ := attr(o, "value")
							found.Add(name, v)
							break
						}
					}
				}
				return
			}
		}
		for c := range n.ChildNodes() {
			walk(c, in)
		}
	}
	walk(doc, false)
	if found == nil {
		d.Fatalf("no form for %s", action)
	}
	return found
}

// put types into a cell of the rows.
func put(f url.Values, row int, column, text string) {
	f["r"+fmt.Sprint(row)][slices.Index(f["column"], column)] = text
}

// From an empty workbook to an answer, in the browser alone.
func TestAStudyIsTypedIn(t *testing.T) {
	d := sit(t, false)
	if w := ask(d, "GET", "/gains"); w.Code != http.StatusFound || w.Header().Get("Location") != "/workbook" {
		t.Errorf("an answer that is not there yet: %d", w.Code)
	}
	if !strings.Contains(d.get("/workbook"), "0 studies") {
		t.Error("an empty workbook does not say so")
	}
	f := d.form(d.get("/study"), "/study")
	f.Set("do", "save")
	d.wants(d.post("/study", f), http.StatusUnprocessableEntity, "Nothing was kept", "is needed")

	f.Set("h.study", "Fen Hill 2024")
	f.Set("h.site", "Fen Hill")
	f.Set("h.season", "2024")
	f.Set("own-caveat", "Late tapping")
	f.Add("caveat", "gravity")
	for row, x := range []struct{ practice, mean, n, sd string }{{"unsanitized", "15,5", "6", "2"},
		{"check-valve", "24,x", "6", "3"}} {
		put(f, row, "practice", x.practice)
		put(f, row, "mean", x.mean)
		put(f, row, "n", x.n)
		put(f, row, "sd", x.sd)
	}
	f.Set("h.mean_unit", "gal") // once for all rows
	body := d.wants(d.post("/study", f), http.StatusUnprocessableEntity, `"24,x"`, "1 fault: it")
	if len(d.contents().Studies) != 0 {
		t.Fatal("a study at fault was kept")
	}
	again := d.form(body, "/study") // nothing that was typed is lost
	put(again, 1, "mean", "24,5")
	again.Set("do", "save")
	if w := d.post("/study", again); w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	x := d.contents().Studies[0]
	if x.Arms[0].MeanUnit != "gal" || x.Arms[1].MeanUnit != "gal" {
		t.Errorf("units %q and %q", x.Arms[0].MeanUnit, x.Arms[1].MeanUnit)
	}
	if x.Name != "Fen Hill 2024" || len(x.Arms) != 2 || *x.Arms[1].Mean != 24.5 || *x.Arms[0].N != 6 ||
		len(x.Caveats) != 2 {
		t.Errorf("kept: %+v", x)
	}
	if body := d.get("/gains"); !strings.Contains(body, "Fen Hill 2024") {
		t.Error("the page Gains does not know the study")
	}
}

func TestAStudyIsEdited(t *testing.T) {
	d := sit(t, true)
	name := d.contents().Studies[0].Name
	f := d.form(d.get(page.StudyAddress(name)), "/study")
	f.Set("do", "save")
	if w := d.post("/study", f); w.Code != http.StatusSeeOther || d.contents().Change != 1 {
		t.Fatalf("a study saved as it was: %d, change %d\n%s", w.Code, d.contents().Change, w.Body)
	}
	f.Set("h.study", "Renamed")
	d.wants(d.post("/exclude", url.Values{"name": {name}, "reason": {""}, "seen": {"1"}}),
		http.StatusUnprocessableEntity, "Say why")
	d.wants(d.post("/exclude", url.Values{"name": {name}, "reason": {"frozen tubing"}, "seen": {"1"}}),
		http.StatusSeeOther)
	if !strings.Contains(d.get("/workbook"), "frozen tubing") {
		t.Error("why it is left out is not shown")
	}
	f.Set(page.SeenKey, "2")
	d.wants(d.post("/study", f), http.StatusSeeOther)
	c := d.contents()
	if len(c.Excluded) != 1 || c.Excluded[0].Study != "Renamed" || c.Excluded[0].Reason != "frozen tubing" ||
		len(c.Studies) != len(scenario().Studies) {
		t.Errorf("a renamed study is left out as %+v; %d studies", c.Excluded, len(c.Studies))
	}
	d.wants(d.post("/restore", url.Values{"name": {"Renamed"}, "seen": {"3"}}), http.StatusSeeOther)
	if len(d.contents().Excluded) != 0 {
		t.Error("it was not taken back")
	}
	d.wants(d.post("/undo", url.Values{"change": {"4"}}), http.StatusSeeOther)
	if len(d.contents().Excluded) != 1 {
		t.Error("the undo did nothing")
	}
	d.wants(ask(d, "GET", "/history"), http.StatusOK, "took back Renamed", "undo of change 4", "March 14, 2025",
		"Ada")
	d.wants(d.post("/undo", url.Values{"change": {"99"}}), http.StatusUnprocessableEntity, "no change 99")
	d.wants(d.post("/undo", url.Values{"change": {"4"}}), http.StatusUnprocessableEntity, "nothing to undo")
	// Another study's name is not to be had.
	f = d.form(d.get(page.StudyAddress("Renamed")), "/study")
	f.Set("h.study", c.Studies[3].Name)
	f.Set("do", "save")
	d.wants(d.post("/study", f), http.StatusUnprocessableEntity, "a study of this name")
	f.Set("do", "remove")
	d.wants(d.post("/study", f), http.StatusSeeOther)
	if c := d.contents(); len(c.Studies) != len(scenario().Studies)-1 || len(c.Excluded) != 0 {
		t.Error("the study was not removed")
	}
}

// The history shows what stood before and what stands now, offers to undo only what can be undone, and gives the
// digests that the check of the workbook gives.
func TestHistoryIsAnAudit(t *testing.T) {
	d := sit(t, true)
	f := d.form(d.get("/prices"), "/prices")
	f.Set("best.wage", "31")
	d.wants(d.post("/prices", f), http.StatusSeeOther)
	name := scenario().Studies[2].Name
	d.wants(d.post("/exclude", url.Values{"name": {name}, "reason": {"frozen tubing"}, "seen": {"2"}}),
		http.StatusSeeOther)
	f = d.form(d.get(page.StudyAddress(name)), "/study")
	f.Set("do", "save")
	f.Set("h.weather", "a late spring")
	d.wants(d.post("/study", f), http.StatusSeeOther)

	cells := func(body string) (all []string) {
		for _, c := range regexp.MustCompile(`<td data-name="[^"]*">([^<]*)</td>`).FindAllStringSubmatch(body, -1) {
			all = append(all, html.UnescapeString(c[1]))
		}
		return all
	}
	body := d.get("/history")
	got := cells(body)
	for _, pair := range [][2]string{
		{"24 (18 to 32)", "31 (18 to 32)"}, {"–", "frozen tubing"}, {"–", "a late spring"},
	} {
		i := slices.IndexFunc(got, func(c string) bool { return strings.HasPrefix(c, pair[0]) })
		ok := false
		for ; i >= 0 && i+1 < len(got); i++ {
			ok = ok || strings.HasPrefix(got[i], pair[0]) && strings.HasPrefix(got[i+1], pair[1])
		}
		if !ok {
			t.Errorf("the history does not show %q before %q: %q", pair[0], pair[1], got)
		}
	}
	offered := func(body string) (ids []string) {
		for _, c := range regexp.MustCompile(`name="change" value="(\d+)"`).FindAllStringSubmatch(body, -1) {
			ids = append(ids, c[1])
		}
		return ids
	}
	if ids := offered(body); !slices.Equal(ids, []string{"4", "3", "2"}) { // of the first something was changed since
		t.Errorf("the undo is offered of %v", ids)
	}
	d.wants(d.post("/undo", url.Values{"change": {"2"}}), http.StatusSeeOther)
	if ids := offered(d.get("/history")); !slices.Equal(ids, []string{"5", "4", "3"}) {
		t.Errorf("after an undo of change 2 it is offered of %v", ids)
	}
	d.wants(ask(d, "GET", "/history/2"), http.StatusOK, "One change", "31 (18 to 32)", "undone")
	d.wants(ask(d, "GET", "/history/99"), http.StatusNotFound)
	checked, err := book.Check(d.book.Path())
	if err != nil {
		t.Fatal(err)
	}
	d.wants(ask(d, "GET", "/history"), http.StatusOK, checked.State, checked.History, "do not prove")
}

// The page of what came says it, as a file and as slides too, and refuses what is no day and no change.
func TestWhatCameSince(t *testing.T) {
	d := sit(t, true)
	f := d.form(d.get("/prices"), "/prices")
	f.Set("best.wage", "31")
	d.wants(d.post("/prices", f), http.StatusSeeOther)
	d.wants(ask(d, "GET", "/changes?since=1"), http.StatusOK, "came first then", "the answer then",
		"changed: the prices", "today's method", "/changes/changes.csv?since=1", "/changes/slides.pdf?since=1")
	d.wants(ask(d, "GET", "/changes"), http.StatusOK, "the empty workbook")
	d.wants(ask(d, "GET", "/changes?since=9"), http.StatusUnprocessableEntity, "0 to 2")
	d.wants(ask(d, "GET", "/changes/changes.csv?since=1"), http.StatusOK, "gain_pct", "changed: the prices")
	d.wants(ask(d, "GET", "/changes/nothing.csv?since=1"), http.StatusNotFound)
}

// Two people on one workbook: the second to save sees what the first changed, and nothing is overwritten unseen.
func TestTheSecondToSaveSeesTheFirst(t *testing.T) {
	d := sit(t, true)
	study := d.contents().Studies[2]
	body := d.get(page.StudyAddress(study.Name))
	first, second := d.form(body, "/study"), d.form(body, "/study")
	first.Set("do", "save")
	second.Set("do", "save")
	first.Set("h.weather", "warm from the first")
	second.Set("h.weather", "cold from the second")
	d.wants(d.post("/study", first), http.StatusSeeOther)
	answer := d.wants(d.post("/study", second), http.StatusConflict, "Ada changed the study "+study.Name,
		"warm from the first", "cold from the second", "Nothing was overwritten")
	if got := d.contents().Studies[2].Weather; got != "warm from the first" {
		t.Fatalf("overwritten unseen: %q", got)
	}
	again := d.form(answer, "/study")
	again.Set("do", "save")
	d.wants(d.post("/study", again), http.StatusSeeOther)
	if got := d.contents().Studies[2].Weather; got != "cold from the second" {
		t.Errorf("after looking: %q", got)
	}

	body = d.get("/prices")
	a, b := d.form(body, "/prices"), d.form(body, "/prices")
	a.Set("best.wage", "26")
	b.Set("best.wage", "25")
	d.wants(d.post("/prices", a), http.StatusSeeOther)
	answer = d.wants(d.post("/prices", b), http.StatusConflict, "wage", "26", "25")
	if f := d.form(answer, "/prices"); f.Get("best.wage") != "25" {
		t.Error("what was typed is lost")
	}
}

func TestATableIsTakenIn(t *testing.T) {
	d := sit(t, false)
	for _, x := range []struct{ name, body, says string }{
		{"a.exe", "x", "files that end in"}, {"notes", "x", "notes"},
		{"a.csv", "", "empty"}, {"a.xlsx", "not a zip", "not a spreadsheet"},
		{"../../a.toml", "wage = ", "a.toml"},
	} {
		d.wants(d.upload(x.name, x.body, nil), http.StatusUnprocessableEntity, x.says)
	}
	// Pasted from a spreadsheet, with headers and words of one's own: each is settled once, then faults stand beside
	// the cells.
	rows := "Trial name\tLocation\tYear\tTreatment\tSap per tap (gal)\tNo. of chambers\tSD\tMood\n" +
		"Fen 2023\tFen\t2023\tControl\t15\t4\t2\tgood\nFen 2023\tFen\t2023\tCheck valve spout\t-3\t4\tNA\tbad\n"
	body := d.wants(d.post("/take", url.Values{"pasted": {rows}, "seen": {"0"}}), http.StatusOK, "Sap per tap (gal)",
		"Control", "NA", "kept as a note")
	body = d.wants(d.post("/take/words", d.form(body, "/take/words")), http.StatusUnprocessableEntity, "above 0")
	f := d.form(body, "/study")
	if got := strings.Join(f["column"], " "); got != "study site season practice mean n sd mood mean_unit unit" {
		t.Errorf("columns %s", got)
	}
	f.Set("do", "save")
	d.wants(d.post("/study", f), http.StatusUnprocessableEntity, "above 0")
	if len(d.contents().Studies) != 0 {
		t.Fatal("half of it was kept")
	}
	put(f, 1, "mean", "23")
	d.wants(d.post("/study", f), http.StatusSeeOther)
	// What was settled is kept, and asked no more.
	rows = strings.ReplaceAll(strings.ReplaceAll(rows, "2023", "2024"), "-3", "25")
	body = d.wants(d.post("/take", url.Values{"pasted": {rows}, "seen": {"0"}}), http.StatusOK,
		"Rows read: 2. Studies: 1.")
	d.wants(d.post("/take/words", with(d.form(body, "/study"), "do", "again")), http.StatusOK, "Control", "NA")
	d.wants(d.post("/study", with(d.form(body, "/study"), "do", "save")), http.StatusSeeOther)
	x := d.contents().Studies[0]
	if x.Season != 2023 || *x.Arms[1].Mean != 23 || x.Arms[1].Extra["mood"] != "bad" {
		t.Errorf("kept: %+v", x)
	}
	d.wants(d.upload("p.toml", string(tomlOfScenario()), url.Values{"seen": {"1"}}), http.StatusSeeOther)
	if d.contents().Prices == nil {
		t.Error("the prices were not taken in")
	}
	// Headers that are ours may stand for something else, in this table; rows are counted as the form shows them.
	body = d.wants(d.post("/take", url.Values{"pasted": {"trial\tsite\tseason\tpractice\tmean\tunit\n" +
		"Elm 2023\tElm\t2023\tunsanitized\t15\tgal\nElm 2023\tElm\t2023\tnew-spout\t16\tlb\n"}}),
		http.StatusOK, "What your headers")
	f = d.form(body, "/take/words")
	for i, said := range f["said"] {
		if means := map[string]string{"trial": "study", "unit": "mean_unit"}[said]; means != "" {
			f["means"][i] = means
		}
	}
	body = d.wants(d.post("/take/words", f), http.StatusOK, "lb") // a word that is asked now
	body = d.wants(d.post("/take/words", d.form(body, "/take/words")), http.StatusUnprocessableEntity,
		`"lb" is not a unit`)
	f = d.form(body, "/study")
	put(f, 1, "mean_unit", "gal")
	d.wants(d.post("/study", with(f, "do", "save")), http.StatusSeeOther)
	for _, w := range d.contents().Words {
		if w.Said == "trial" || w.Said == "unit" {
			t.Errorf("%v is kept for every table", w)
		}
	}
	// A number that may be two is asked about.
	body = d.wants(d.upload("c.csv", "study,site,season,practice,mean,n\nA,A,2020,unsanitized,\"1,234\",4\n"+
		"A,A,2020,check-valve,\"1,300\",4\n", nil), http.StatusOK, "one thousand two hundred")
	f = d.form(body, "/take/words")
	f["means"][len(f["means"])-1] = "comma"
	if body = d.wants(d.post("/take/words", f), http.StatusOK); !strings.Contains(body, `value="1.234"`) {
		t.Error("1,234 is not read as it was answered")
	}
}

// with is a form with one value set.
func with(f url.Values, key, value string) url.Values {
	f.Set(key, value)
	return f
}

func tomlOfScenario() []byte {
	return sheet.PricesTOML(*scenario().Prices)
}

// Where nothing of the form came, the example's prices are not taken for the workbook's.
func TestNoPricesOfNoForm(t *testing.T) {
	d := sit(t, false)
	d.wants(d.post("/prices", url.Values{}), http.StatusOK)
	if d.contents().Prices != nil {
		t.Error("the prices of the example were kept")
	}
}

func TestPricesAndPractices(t *testing.T) {
	d := sit(t, true)
	before := *d.contents().Prices
	f := d.form(d.get("/prices"), "/prices")
	d.wants(d.post("/prices", f), http.StatusSeeOther)
	if d.contents().Change != 1 {
		t.Fatal("prices saved as they were make a change")
	}
	f.Set("best.wage", "a lot")
	f.Set("low.discount", "900")
	d.wants(d.post("/prices", f), http.StatusUnprocessableEntity, "2 faults", "a lot",
		"900 is out of bounds; allowed: −50 to 100")
	f.Set("best.wage", "29,5")
	f.Set("low.discount", "")
	f.Set("source.wage", "the 2025 contract")
	d.wants(d.post("/prices", f), http.StatusSeeOther)
	after := d.contents().Prices
	if after.Wage.Best != 29.5 || after.Wage.Source != "the 2025 contract" ||
		!reflect.DeepEqual(after.Baseline.Yield, before.Baseline.Yield) {
		t.Errorf("wage %+v, yield %+v", after.Wage, after.Baseline.Yield)
	}
	d.wants(d.post("/prices/list", url.Values{"text": {"wage = \"x\"\nwaage = 3"}, "seen": {"2"}}),
		http.StatusUnprocessableEntity, "waage")
	text := d.form(d.get("/prices/list"), "/prices/list")
	typed := strings.NewReplacer("best = 24, low = 18, high = 32, source = \"invented for the demo\"",
		"best = 29.5, low = 18, high = 32, source = \"the 2025 contract\"", "low = 0.02, ", "").
		Replace(string(tomlOfScenario()))
	if text.Get("text") != typed {
		t.Errorf("the list is not as it was typed but for what was changed:\n%s", text.Get("text"))
	}
	windows := strings.ReplaceAll(typed, "\n", "\r\n") // as browsers send it
	d.wants(d.post("/prices/list", url.Values{"text": {windows}, "seen": {"2"}}), http.StatusSeeOther)
	if d.contents().Change != 2 {
		t.Error("a list saved as it was makes a change")
	}
	text.Set("text", strings.Replace(text.Get("text"), "29.5", "30.5", 1))
	d.wants(d.post("/prices/list", text), http.StatusSeeOther)
	if got := d.contents().Prices.Wage.Best; got != 30.5 {
		t.Errorf("wage %v", got)
	}

	own := d.form(d.get("/practices"), "/practices")
	own.Set("key.0", "Steam Rinse")
	d.wants(d.post("/practices", own), http.StatusUnprocessableEntity, "steam-rinse")
	own.Set("key.0", "steam-rinse")
	own.Set("name.0", "steam rinse")
	d.wants(d.post("/practices", own), http.StatusSeeOther)
	if c := d.contents(); len(c.Own()) != 1 || c.Own()[0].Name != "steam rinse" {
		t.Errorf("practices %+v", c.Own())
	}
}

// Whoever saves prices second keeps what the first changed, but in the fields that they changed themselves.
func TestPricesOfTwo(t *testing.T) {
	d := sit(t, true)
	mine := d.form(d.get("/prices"), "/prices")
	theirs := d.form(d.get("/prices"), "/prices")
	theirs.Set("best.wage", "28")
	theirs.Set("best.discount", "4")
	d.wants(d.post("/prices", theirs), http.StatusSeeOther)
	mine.Set("best.wage", "27")
	again := d.form(d.wants(d.post("/prices", mine), http.StatusConflict, "28", "27"), "/prices")
	d.wants(d.post("/prices", again), http.StatusSeeOther)
	if p := d.contents().Prices; p.Wage.Best != 27 || p.Discount.Best != 0.04 {
		t.Errorf("wage %v, discount %v", p.Wage.Best, p.Discount.Best)
	}
}

// The same of practices: a row left as it was follows whoever changed it, and one that both changed is shown to the
// second.
func TestPracticesOfTwo(t *testing.T) {
	d := sit(t, true)
	own := d.form(d.get("/practices"), "/practices")
	own.Set("key.0", "steam-rinse")
	own.Set("name.0", "steam rinse")
	d.wants(d.post("/practices", own), http.StatusSeeOther)
	own = d.form(d.get("/practices"), "/practices")
	own.Set("key.1", "hot-water")
	own.Set("name.1", "hot water")
	d.wants(d.post("/practices", own), http.StatusSeeOther)
	at := func(f url.Values, key string) string {
		for i := range 9 {
			if f.Get(fmt.Sprint("was.", i)) == key {
				return fmt.Sprint(".", i)
			}
		}
		t.Fatalf("no row of %s", key)
		return ""
	}
	mine := d.form(d.get("/practices"), "/practices")
	theirs := d.form(d.get("/practices"), "/practices")
	theirs.Set("name"+at(theirs, "steam-rinse"), "steam, a minute")
	theirs.Set("name"+at(theirs, "hot-water"), "hot water, twice")
	d.wants(d.post("/practices", theirs), http.StatusSeeOther)
	mine.Set("name"+at(mine, "hot-water"), "hot water, once")
	again := d.form(d.wants(d.post("/practices", mine), http.StatusConflict, "hot water, twice", "hot water, once"),
		"/practices")
	d.wants(d.post("/practices", again), http.StatusSeeOther)
	names := map[string]string{}
	for _, p := range d.contents().Practices {
		names[string(p.Key)] = p.Name
	}
	if names["steam-rinse"] != "steam, a minute" || names["hot-water"] != "hot water, once" {
		t.Errorf("%v", names)
	}
}

func TestRules(t *testing.T) {
	d := sit(t, true)
	d.wants(ask(d, "GET", "/rules"), http.StatusOK, "held back in the United States", "decide otherwise",
		"paraformaldehyde")
	f := d.form(d.get("/rule"), "/rule")
	f.Set("do", "save")
	f.Set("place", "US-TV")
	f.Set("checked", "soon")
	body := d.wants(d.post("/rule", f), http.StatusUnprocessableEntity, "4 faults", "is not a place", "US-VT",
		"gives no reason", "is not a date")
	f = d.form(body, "/rule")
	f.Set("do", "save")
	f.Set("wash", "alcohol")
	f.Set("place", "US")
	f.Set("reason", "our authorities agreed in writing")
	f.Set("verdict", "permitted")
	f.Set("checked", "2026-11-01") // after today, and after the day of the prices
	d.wants(d.post("/rule", f), http.StatusUnprocessableEntity, "lies ahead")
	f.Set("checked", "2025-11-01")
	d.wants(d.post("/rule", f), http.StatusSeeOther)
	c := d.contents()
	if len(c.Rules) != 1 || c.Rules[0].Verdict != practice.Permitted || c.Rules[0].Place != "US" {
		t.Fatalf("%+v", c.Rules)
	}
	listed := d.get("/rules")
	if strings.Contains(listed, "held back in the United States") ||
		!strings.Contains(listed, "our authorities agreed in writing") {
		t.Error("the shipped rule of the same case still stands")
	}
	edit := "/rule?of=" + url.QueryEscape(c.Rules[0].Case())
	mine, theirs := d.form(d.get(edit), "/rule"), d.form(d.get(edit), "/rule")
	theirs.Set("do", "save")
	theirs.Set("place", "US-VT")
	d.wants(d.post("/rule", theirs), http.StatusSeeOther)
	if c := d.contents(); len(c.Rules) != 1 || c.Rules[0].Place != "US-VT" {
		t.Errorf("a rule for another case stands beside the one it was: %+v", c.Rules)
	}
	mine.Set("do", "save")
	mine.Set("reason", "another reason")
	d.wants(d.post("/rule", mine), http.StatusConflict)
	f = d.form(d.get("/rule?of="+url.QueryEscape(d.contents().Rules[0].Case())), "/rule")
	f.Set("do", "remove")
	d.wants(d.post("/rule", f), http.StatusSeeOther)
	if c := d.contents(); len(c.Rules) != 0 {
		t.Errorf("%+v", c.Rules)
	}
}

// A what-if becomes an edit only when kept.
func TestAWhatIfIsKept(t *testing.T) {
	d := sit(t, true)
	f := d.form(d.get("/profit?wage=31&without=freak-season"), "/profit")
	if d.contents().Change != 1 {
		t.Fatal("trying is an edit")
	}
	w := d.post("/keep", f)
	d.wants(w, http.StatusSeeOther)
	if at := w.Header().Get("Location"); at != "/profit?without=freak-season" {
		t.Errorf("goes on at %s", at)
	}
	if c := d.contents(); c.Prices.Wage.Best != 31 || c.Change != 2 {
		t.Errorf("wage %v after change %d", c.Prices.Wage.Best, c.Change)
	}
	d.wants(d.post("/keep", f), http.StatusSeeOther) // the same again is nothing new
	f.Set("wage", "35")
	d.wants(d.post("/keep", f), http.StatusConflict, "31", "35")
	f.Set("wage", "x")
	d.wants(d.post("/keep", f), http.StatusSeeOther)
	if c := d.contents(); c.Prices.Wage.Best != 31 {
		t.Error("kept unseen")
	}
}

// How studies were looked for is typed, kept as a text, told in the history, and taken away where the text is empty;
// the second of two people is told what the first wrote.
func TestSearchIsTyped(t *testing.T) {
	d := sit(t, true)
	d.wants(d.post("/search", url.Values{"text": {" Three stations,\r\n2024 <all> "}, "seen": {"1"}}),
		http.StatusSeeOther)
	if got := d.contents().Search; got != "Three stations,\n2024 <all>" {
		t.Errorf("%q", got)
	}
	if !strings.Contains(d.get("/search"), "Three stations,\n2024 &lt;all&gt;</textarea>") {
		t.Error("the form does not hold what was typed")
	}
	if !strings.Contains(d.get("/history"), "Three stations") {
		t.Error("the history does not tell it")
	}
	d.wants(d.post("/search", url.Values{"text": {"Four stations"}, "seen": {"1"}}), http.StatusConflict,
		"Three stations", "Four stations")
	d.wants(d.post("/search", url.Values{"text": {""}, "seen": {"2"}}), http.StatusSeeOther)
	if got := d.contents().Search; got != "" {
		t.Errorf("%q", got)
	}
}

func TestFilesAreNotEdited(t *testing.T) {
	for _, path := range []string{"/study", "/exclude", "/search", "/take", "/prices", "/keep", "/undo"} {
		if w := ask(served(), "POST", path); w.Code != http.StatusMethodNotAllowed && w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
	if body, _ := visit(t, "/evidence"); !strings.Contains(body, "spile new station.spile") {
		t.Error("how to make a workbook is not said")
	}
}

// A request from another origin or for another name, and a body of a gigabyte, are refused at every form, and nothing
// is kept; a path that climbs leads nowhere.
func TestFormsAreGuarded(t *testing.T) {
	d := sit(t, true)
	before := d.contents()
	name := before.Studies[0].Name
	foreign := map[string]int{}
	for _, c := range []struct {
		name   string
		change func(*http.Request)
		want   int
	}{
		{"another site, as the browser says", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
			http.StatusForbidden},
		{"another origin", func(r *http.Request) { r.Header.Set("Origin", "http://elsewhere.example") },
			http.StatusForbidden},
		{"another port", func(r *http.Request) { r.Header.Set("Origin", "http://localhost:7346") },
			http.StatusForbidden},
		{"no origin", func(r *http.Request) { r.Header.Set("Origin", "null") }, http.StatusForbidden},
		{"another name", func(r *http.Request) { r.Host = "elsewhere.example" }, http.StatusMisdirectedRequest},
		{"another name that begins as ours", func(r *http.Request) { r.Host = "localhost.elsewhere.example:7345" },
			http.StatusMisdirectedRequest},
		{"an address of the network", func(r *http.Request) { r.Host = "192.0.2.7:7345" },
			http.StatusMisdirectedRequest},
		{"no name", func(r *http.Request) { r.Host = "" }, http.StatusMisdirectedRequest},
		{"a gigabyte", func(r *http.Request) { r.ContentLength = 1 << 30 }, http.StatusRequestEntityTooLarge},
	} {
		for _, path := range slices.Concat(formPaths, trialFormPaths) {
			r := httptest.NewRequest("POST", path,
				strings.NewReader(url.Values{"name": {name}, "reason": {"x"}, "seen": {"1"}}.Encode()))
			r.Host = "localhost:7345"
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			c.change(r)
			w := httptest.NewRecorder()
			d.ServeHTTP(w, r)
			if w.Code != c.want {
				t.Errorf("%s, %s: %d, wanted %d", path, c.name, w.Code, c.want)
			}
			foreign[c.name]++
		}
	}
	for _, p := range []string{"/data/../../etc/passwd", "/data/%2e%2e%2fw.spile", "/asset/..%2fpage.go",
		"/figure/..%2f..%2fw.spile", "/table/%2e%2e/%2e%2e/w.spile", "/trials/sheets/..%2f..%2fw.spile"} {
		w := ask(d, "GET", p)
		for n := 0; n < 5 && w.Code/100 == 3; n++ {
			w = ask(d, "GET", w.Header().Get("Location"))
		}
		if w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", p, w.Code)
		}
	}
	if now := d.contents(); now.Change != before.Change {
		t.Error("something was kept")
	}
	t.Logf("%d kinds of requests that are not ours, at %d forms: all refused, nothing kept", len(foreign),
		len(formPaths)+len(trialFormPaths))
}

// Of many unusual cells the first few are led to above the table; all are asked about in it.
func TestManyOddCells(t *testing.T) {
	d := sit(t, false)
	rows := "study,site,season,practice,mean,n,sd,mean_unit\n"
	for n := range 100 {
		rows += fmt.Sprintf("Fen %d,Fen %d,2023,unsanitized,900,4,2,gal\nFen %d,Fen %d,2023,new-spout,950,4,2,gal\n",
			n, n, n, n)
	}
	body := d.wants(d.post("/take", url.Values{"pasted": {rows}, "seen": {"0"}}),
		http.StatusUnprocessableEntity, "Unusual:")
	_, links, _ := strings.Cut(body, "Unusual:")
	links, _, _ = strings.Cut(links, "</p>")
	if n := strings.Count(links, "<a "); n != 40 {
		t.Errorf("%d cells are led to", n)
	}
	if !strings.Contains(links, "; and 160 more") { // of 200 means in gallons
		t.Errorf("how many more there are is not said: …%s", links[max(0, len(links)-80):])
	}
}

// The form of a trial of 3,000 units is taken; one that no page of ours has is refused, and says how many may come.
func TestAFormOfManyFields(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	blank := func(n int) url.Values {
		f := typing("2", "2025-03-27", "amount", "531")
		for len(f) < n {
			f.Set(fmt.Sprint("note.", 100+len(f)), "")
		}
		return f
	}
	d.wants(d.post(page.ReadPath, blank(100_001)), http.StatusBadRequest, "more than 100,000 fields")
	d.wants(d.post(page.ReadPath, blank(18_000)), http.StatusSeeOther)
	if r := d.read("2", "2025-03-27"); r == nil || *r.Counter != 531 {
		t.Errorf("stored: %+v", r)
	}
}

// A body that does not say how long it is, is read no further than allowed, as a form and as a file.
func TestABodyWithoutLength(t *testing.T) {
	d := sit(t, false)
	for kind, head := range map[string]string{
		"application/x-www-form-urlencoded": "pasted=",
		"multipart/form-data; boundary=thread": "--thread\r\nContent-Disposition: form-data; name=\"file\"; " +
			"filename=\"a.csv\"\r\n\r\n",
	} {
		body := &endless{}
		r := httptest.NewRequest("POST", "/take", io.MultiReader(strings.NewReader(head), body))
		r.ContentLength = -1
		r.Host = "localhost:7345"
		r.Header.Set("Content-Type", kind)
		w := httptest.NewRecorder()
		d.ServeHTTP(w, r)
		if w.Code != http.StatusRequestEntityTooLarge {
			t.Errorf("%s: %d", kind, w.Code)
		}
		if body.read > page.MostForm+1<<20 {
			t.Errorf("%s: %d bytes were read", kind, body.read)
		}
		t.Logf("an upload without end was refused after %d MiB", body.read>>20)
	}
}

type endless struct{ read int }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'a'
	}
	e.read += len(p)
	return len(p), nil
}

// A table comes over a slow line: what is sent without a pause of its own is waited for longer than what says nothing.
func TestASlowUpload(t *testing.T) {
	if os.Getenv("SPILE_FAULTS") == "" {
		t.Skip("SPILE_FAULTS is not set")
	}
	d := sit(t, false)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() { ended <- Serve(ctx, l, d) }()
	body := "pasted=" + url.QueryEscape("study,site,season,practice,mean,n,sd\n"+
		"Slow line,Hill,2019,unsanitized,12,6,2\nSlow line,Hill,2019,new-spout,14,6,2\n")
	part, sent := io.Pipe()
	go func() {
		for _, piece := range []string{body[:20], body[20:60], body[60:]} {
			io.WriteString(sent, piece)
			time.Sleep(6 * time.Second)
		}
		sent.Close()
	}()
	w, err := http.Post("http://"+l.Addr().String()+"/take", "application/x-www-form-urlencoded", part)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := io.ReadAll(w.Body)
	w.Body.Close()
	if err != nil || w.StatusCode != http.StatusOK || !strings.Contains(string(answer), "Slow line") {
		t.Errorf("what came slowly was not read: %d %v", w.StatusCode, err)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

func TestDownloadsOfAWorkbook(t *testing.T) {
	long(t)
	d := sit(t, true)
	for path, begins := range map[string]string{"/data/package.zip": "PK", "/data/workbook.xlsx": "PK",
		"/data/evidence.csv": "study,", "/data/sources.bib": "", "/data/sources.ris": "",
		"/data/prices.toml": "", "/report.pdf": "%PDF", "/slides.pdf": "%PDF", "/figure/net.pdf": "%PDF",
		"/table/gains.xlsx": "PK", "/report.html": "<!doctype"} {
		one, two := ask(d, "GET", path), ask(d, "GET", path)
		if one.Code != http.StatusOK || !strings.HasPrefix(one.Body.String(), begins) {
			t.Errorf("%s: %d, %.10q", path, one.Code, one.Body)
		}
		if !bytes.Equal(one.Body.Bytes(), two.Body.Bytes()) {
			t.Errorf("%s is not the same twice", path)
		}
	}
}

var workPages = []string{"/workbook", "/study", "/history", "/changes", "/take", "/prices", "/prices/list",
	"/practices", "/past",
	"/rules",
	"/rule", "/crossed", "/exclude?name=Larkmoor+2014", "/study?name=Larkmoor+2014"}

// Every field of the workbook's pages has a label, every fault an id of its own.
func TestWorkPagesAreAccessible(t *testing.T) {
	d := sit(t, true)
	f := d.form(d.get("/study"), "/study")
	f.Set("do", "save")
	pages := map[string]string{"faults": d.post("/study", f).Body.String()}
	for _, p := range workPages {
		pages[p] = d.get(p)
	}
	for name, body := range pages {
		ids := map[string]bool{}
		for _, m := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(body, -1) {
			if ids[m[1]] {
				t.Errorf("%s: the id %s stands twice", name, m[1])
			}
			ids[m[1]] = true
		}
		for _, m := range regexp.MustCompile(`<(?:input|select|textarea)[^>]*>`).FindAllString(body, -1) {
			id := regexp.MustCompile(` id="([^"]*)"`).FindStringSubmatch(m)
			if strings.Contains(m, `type="hidden"`) || strings.Contains(m, " hidden") ||
				strings.Contains(m, "aria-label=") || id != nil && strings.Contains(body, `for="`+id[1]+`"`) {
				continue
			}
			if strings.Contains(body, "<label>"+m) || strings.Contains(m, `name="caveat"`) {
				continue
			}
			t.Errorf("%s: no label: %s", name, m)
		}
		for _, m := range regexp.MustCompile(`aria-describedby="([^"]*)"`).FindAllStringSubmatch(body, -1) {
			if !ids[m[1]] {
				t.Errorf("%s: nothing is called %s", name, m[1])
			}
		}
		if strings.Count(body, "<h1") != 1 || strings.Count(body, "<form") != strings.Count(body, "</form>") {
			t.Errorf("%s: headings or forms do not add up", name)
		}
	}
}

// Words outside ⟦ ⟧ were not said; see TestEveryWordIsSaid.
func TestEveryWordOfWorkPagesIsSaid(t *testing.T) {
	d := sit(t, true)
	h, err := New(Config{Book: d.book, Who: "Ada", Voice: say.In(say.Pseudo), Version: "1"})
	if err != nil {
		t.Fatal(err)
	}
	given := []string{"spile", "SVG", "PNG", "CSV", "XLSX", "ZIP", "RIS", "BibTeX", "PDF", "Ada", "scenario",
		"w.spile", "USD"}
	for _, x := range scenario().Studies {
		given = append(given, x.Name, x.Site, x.Weather, x.Source, x.Funding)
		for _, c := range x.Caveats {
			given = append(given, c.Words())
		}
	}
	everyWordIsSaid(t, h, workPages, given)
}

// everyWordIsSaid finds words of pages in the pseudo language that did not come through say and are not given by the
// data.
func everyWordIsSaid(t *testing.T, h http.Handler, pages, given []string) {
	t.Helper()
	said := regexp.MustCompile(`⟦[^⟦⟧]*⟧`)
	word := regexp.MustCompile(`\p{L}{3,}`)
	given = append(given, page.Languages["fr"]) // what a language calls itself
	slices.SortFunc(given, func(a, b string) int { return len(b) - len(a) })
	for _, p := range pages {
		if p == "/prices/list" {
			continue // the file
		}
		doc, err := html.Parse(ask(h, "GET", p).Body)
		if err != nil {
			t.Fatal(err)
		}
		check := func(text string) {
			for strings.Contains(text, "⟦") && said.MatchString(text) {
				text = said.ReplaceAllString(text, "")
			}
			for _, g := range given {
				if g != "" {
					text = strings.ReplaceAll(text, g, "")
				}
			}
			text = regexp.MustCompile(`\b[0-9a-f]{12,64}\b`).ReplaceAllString(text, "")
			if w := word.FindString(text); w != "" {
				t.Errorf("%s: %q was not said: %.100q", p, w, text)
			}
		}
		var walk func(*html.Node)
		walk = func(n *html.Node) {
			if n.Type == html.ElementNode &&
				(n.Data == "script" || n.Data == "title" && n.Parent.Data == "head" || n.Data == "textarea" ||
					n.Data == "svg") {
				return
			}
			if n.Type == html.TextNode {
				check(n.Data)
			}
			for _, a := range n.Attr {
				if a.Key == "aria-label" {
					check(a.Val)
				}
			}
			for c := range n.ChildNodes() {
				walk(c)
			}
		}
		walk(doc)
	}
}

// The forms of the workbook's own pages, and those of trials, that are fuzzed.
var (
	formPaths = []string{"/study", "/take", "/take/words", "/meant", "/exclude", "/search", "/restore", "/undo",
		"/prices",
		"/prices/list", "/practices", "/keep", "/rule", "/sugarbush", "/sugarbush/keep", "/crossed", "/past"}
	trialFormPaths = []string{page.ReadPath, "/trials/new", "/trials/decide", "/trials/take", page.LogPath,
		trees.SpringPath, "/phones/refused"}
)

// No form is left out of the fuzzing.
func TestEveryFormIsFuzzed(t *testing.T) {
	s, err := sit(t, true).Handler.(tongues[*desk]).in["en"].current(always)
	if err != nil {
		t.Fatal(err)
	}
	forms := 0
	for _, p := range s.patterns {
		path, form := strings.CutPrefix(p, "POST ")
		if !form {
			continue
		}
		forms++
		// The form of /phones/forget reads no field.
		if !slices.Contains(formPaths, path) && !slices.Contains(trialFormPaths, path) && path != "/phones/forget" {
			t.Errorf("%s is in no fuzz target", path)
		}
	}
	if want := len(formPaths) + len(trialFormPaths) + 1; forms != want {
		t.Errorf("%d forms, of which %d are known", forms, want)
	}
}

// renewed gives a workbench over the same workbook each time: one that was not changed serves again, another is put
// back, without fitting anything anew.
func renewed(f *testing.F, full bool, more ...book.Item) func(testing.TB) atDesk {
	d := sit(f, full)
	if _, err := d.book.Save(book.Edit{At: day(2025, 3, 1), Who: "Ada", What: "more"}, more...); err != nil {
		f.Fatal(err)
	}
	first := d.contents().Change
	if full {
		ask(d, "GET", "/gains") // fits
	}
	path := d.book.Path()
	whole, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { d.book.Close() })
	return func(t testing.TB) atDesk {
		if c, err := d.book.Contents(); err == nil && c.Change == first {
			return atDesk{t, d.Handler, d.book}
		}
		d.book.Close()
		if err := os.WriteFile(path, whole, 0o644); err != nil {
			t.Fatal(err)
		}
		if d.book, err = book.Open(path); err != nil {
			t.Fatal(err)
		}
		was := d.Handler.(tongues[*desk]).in["en"]
		next := &desk{Config: was.Config, memo: was.memo, kit: was.kit}
		next.Book = d.book
		d.Handler = tongues[*desk]{"en", map[string]*desk{"en": next}}
		return atDesk{t, d.Handler, d.book}
	}
}

// Whatever is sent to a form, the answer is no failure of the program, and the workbook stays sound.
func FuzzForms(f *testing.F) { fuzzForms(f, true) }

// The same of a workbook that gives no answer yet.
func FuzzFirstForms(f *testing.F) { fuzzForms(f, false) }

func fuzzForms(f *testing.F, full bool) {
	again := renewed(f, full)
	for i, body := range []string{
		"do=save&seen=1&h.study=A&h.site=B&h.season=2020&column=practice&column=mean&rows=2" +
			"&r0=unsanitized&r0=15&r1=check-valve&r1=20",
		"pasted=study%09site%09season%0aa%09b%09c&seen=9",
		"table=Trial,Treatment%0aa,Control%0a&of=columns&said=Trial&means=study&of=practice&said=Control&means=",
		"accept=0a1b2c3d&seen=1",
		"name=Larkmoor+2014&reason=x&seen=1",
		"name=Larkmoor+2014&seen=1", "change=1",
		"seen=1&best.wage=30&low.wage=1e9", "seen=1&text=wage%3D1",
		"seen=1&key.0=a&name.0=b&spout.0=new&drops.0=kept&wash.0=none", "seen=1&wage=31&from=/gains&last=wage%3D30",
		"seen=1&do=save&wash=alcohol&place=US&verdict=permitted&reason=x&checked=2026-01-01&organic=true",
		"rows=2&r0=2021&r0=17&r0=1.9&r1=2021&r1=&r1=&r1=dark&r1=2&had=2020&had=x&seen=1",
		"of=&h.name=A", "seen=0&h.name=A&h.place=US-VT&h.first_season=2026" +
			"&1.section=b&1.taps=100&1.practice=new-spout&1.unwanted=check-valve;new-drop&more=spare+%3D+0.1",
	} {
		f.Add(i, body)
	}
	f.Add(0, "do=row&rows=99999999999&many=yes&column=%00&text=a%22b")
	f.Add(0, "do=column&more=mean&rows=-1&column=study&header=")
	f.Fuzz(func(t *testing.T, path int, body string) {
		if path < 0 {
			return
		}
		d := again(t)
		r := httptest.NewRequest("POST", formPaths[path%len(formPaths)], strings.NewReader(body))
		r.Host = "localhost:7345"
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		d.ServeHTTP(w, r)
		if w.Code >= 500 {
			t.Errorf("%d: %s", w.Code, w.Body)
		}
		if w := ask(d, "GET", "/workbook"); w.Code != http.StatusOK {
			t.Errorf("after it the workbook answers %d", w.Code)
		}
	})
}

// Whatever file is sent, to any form that takes one.
func FuzzUpload(f *testing.F) {
	first, full := renewed(f, false), renewed(f, true, book.TrialItems(marsh(false))...)
	for i, x := range [][2]string{
		{"a.csv", "study,site,season,practice\nA,B,2020,unsanitized\n"}, {"a.xlsx", "PK\x03\x04"},
		{"..\\..\\a.toml", "[practice.x]\nname=1"},
		{"b.csv", "section,taps,practice,name,first_season,place\nhill,300,new-spout,Mine,2026,US-VT\n"},
		{"r.tsv", "unit\tdate\tcounter\n1\t2025-04-02\t900\n"},
	} {
		f.Add(uint8(i), x[0], x[1])
	}
	f.Fuzz(func(t *testing.T, form uint8, name, body string) {
		if strings.ContainsAny(name, "\r\n\x00") {
			return
		}
		var w *httptest.ResponseRecorder
		switch more := (url.Values{"name": {"Marsh 2025"}, "seen": {"2"}}); form % 4 {
		case 0, 1:
			w = first(t).upload(name, body, nil)
		case 2:
			w = full(t).uploadTo("/trials/take", name, body, more)
		default:
			w = full(t).uploadTo("/sugarbush", name, body, more)
		}
		if w.Code >= 500 {
			t.Errorf("%d: %s", w.Code, w.Body)
		}
	})
}

// BenchmarkSavedEdit is one edit of a study, saved, to the page Gains drawn again.
func BenchmarkSavedEdit(b *testing.B) {
	d := sitBefore(b, book.Items(wholeDemo()))
	name := d.contents().Studies[4].Name
	f := d.form(d.get(page.StudyAddress(name)), "/study")
	f.Set("do", "save")
	at := slices.Index(f["column"], "mean")
	if at < 0 {
		b.Skip("no mean")
	}
	var took []time.Duration
	for n := 0; b.Loop(); n++ {
		put(f, 1, "mean", fmt.Sprintf("%.4f", 20+float64(n%5000)/2000))
		f.Set(page.SeenKey, fmt.Sprint(d.contents().Change))
		start := time.Now()
		if w := d.post("/study", f); w.Code != http.StatusSeeOther {
			b.Fatal(w.Code, w.Body)
		}
		if w := ask(d, "GET", "/gains"); w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
}

// What an empty workbook offers as prices is a price file that can be taken, and the first page is where it begins.
func TestAnEmptyWorkbookBegins(t *testing.T) {
	d := sit(t, false)
	if at := ask(d, "GET", "/").Header().Get("Location"); at != "/workbook" {
		t.Errorf("the front is %s", at)
	}
	f := d.form(d.get("/prices/list"), "/prices/list")
	if !strings.Contains(f.Get("text"), "Every number is invented") {
		t.Fatal("the example does not say what it is")
	}
	d.wants(d.post("/prices/list", f), http.StatusSeeOther)
	if p := d.contents().Prices; p == nil || !strings.Contains(p.Wage.Source, "invented") {
		t.Errorf("prices %+v", p)
	}
}

// In the form of the prices things are added and taken away, what is unusual is asked beside its cell, and all that was
// not touched stays as it was typed.
func TestPriceForm(t *testing.T) {
	d := sit(t, true)
	typed := d.form(d.get("/prices/list"), "/prices/list").Get("text")
	post := func(f url.Values, do string, code int, says ...string) string {
		f.Set("do", do)
		return d.wants(d.post("/prices", f), code, says...)
	}
	page := d.get("/prices")
	// Numbers stand in the units of the file: 6 USD a US gallon of chlorine.
	if f := d.form(page, "/prices"); f.Get("best.chemical.chlorine.price") != "6" ||
		!strings.Contains(page, "USD a gal of product") || f.Get("best.use.silver-spout.minutes.shop") != "" {
		t.Errorf("%.300q", page)
	}

	f := d.form(page, "/prices")
	f.Set("add.material", "clip")
	page = post(f, "add", http.StatusOK, "price of one clip", "not known")
	f = d.form(page, "/prices")
	f.Set("best.material.clip.price", "0.20")
	f.Set("low.material.clip.price", "0.15")
	f.Set("source.material.clip.price", "the dealer’s list")
	f.Set("add.use.check-valve.material", "clip")
	page = post(f, "add", http.StatusOK, "pieces of clip")
	f = d.form(page, "/prices")
	post(f, "save", http.StatusUnprocessableEntity, "a number is asked here")
	f.Set("is.use.check-valve.material.clip.count", "1")
	f.Set("best.use.check-valve.material.clip.life", "5")
	f.Set("best.use.check-valve.minutes.shop", "0.05")
	f.Set("best.wage", "24000")
	f.Set("high.wage", "25000")
	f.Set("take.material.lateral", "yes")
	page = post(f, "save", http.StatusUnprocessableEntity, "\"lateral\" is not known; allowed: spout")
	f = d.form(page, "/prices")
	f.Del("take.material.lateral")
	page = post(f, "save", http.StatusUnprocessableEntity, "wage: 24,000 is beyond the usual 5 to 100")
	f = d.form(page, "/prices")
	if f.Get("best.wage") != "24000" || f.Get("low.material.clip.price") != "0.15" {
		t.Errorf("what was typed is lost: %v", f)
	}
	f.Set("accept", regexp.MustCompile(`name="accept" value="([0-9a-f]{8})"`).FindStringSubmatch(page)[1])
	post(f, "save", http.StatusSeeOther)
	c := d.contents()
	if len(c.Answers) != 1 || c.Prices.Wage.Best != 24000 {
		t.Errorf("kept %v, wage %v", c.Answers, c.Prices.Wage)
	}
	want := strings.Replace(typed, "{ best = 24, low = 18, high = 32", "{ best = 24000, low = 18, high = 25000", 1)
	for line := range strings.Lines(want) {
		if !strings.Contains(c.Prices.Text, line) {
			t.Errorf("the line %q is gone", line)
		}
	}
	for _, line := range []string{
		"[material.clip]\nprice = { best = 0.2, low = 0.15, source = \"the dealer’s list\" }\n",
		"material.clip.count = 1\n", "minutes.shop = 0.05\n"} {
		if !strings.Contains(c.Prices.Text, line) {
			t.Errorf("no line %q in\n%s", line, c.Prices.Text)
		}
	}
	// A field left blank is not known, and never 0.
	f = d.form(d.get("/prices"), "/prices")
	f.Set("is.material.spout.grams", "")
	post(f, "save", http.StatusSeeOther)
	if page := d.get("/prices"); !strings.Contains(page, "the plastic in one piece: spout and clip") {
		t.Error("what is not known is not listed")
	}
}

// What is unusual is asked wherever prices come in, and of what a workbook holds from before; an answer is kept.
func TestPricesAreAskedEverywhere(t *testing.T) {
	d := sit(t, true)
	odd := strings.Replace(string(tomlOfScenario()), "best = 24, low = 18, high = 32", "best = 24000", 1)
	says := "wage: 24,000 is beyond the usual 5 to 100"
	accept := func(f url.Values, body string) url.Values {
		f.Set("accept", regexp.MustCompile(`name="accept" value="([0-9a-f]{8})"`).FindStringSubmatch(body)[1])
		return f
	}
	body := d.wants(d.upload("p.toml", odd, url.Values{"replace": {"yes"}, "seen": {"1"}}),
		http.StatusUnprocessableEntity, says)
	f := accept(d.form(body, "/take"), body)
	f.Set("pasted", strings.ReplaceAll(f.Get("pasted"), "\n", "\r\n"))
	d.wants(d.post("/take", f), http.StatusSeeOther)
	if c := d.contents(); c.Prices.Text != odd || len(c.Answers) != 1 {
		t.Errorf("kept %d answers and\n%s", len(c.Answers), c.Prices.Text)
	}
	list := d.form(d.get("/prices/list"), "/prices/list")
	list.Set("text", strings.Replace(list.Get("text"), "best = 24000", "best = 25000", 1))
	body = d.wants(d.post("/prices/list", list), http.StatusUnprocessableEntity, "25,000 is beyond")
	d.wants(d.post("/prices/list", accept(d.form(body, "/prices/list"), body)), http.StatusSeeOther)
	// From before anything was asked.
	p := *d.contents().Prices
	p.Wage.Best, p.Text = 26000, ""
	if _, err := d.book.Save(book.Edit{At: day(2026, 1, 2), Who: "Ada", What: "x", Replace: true,
		Seen: book.Sight{Change: 9}},
		book.Keep(p)); err != nil {
		t.Fatal(err)
	}
	body = d.get("/prices")
	if !strings.Contains(body, "26,000 is beyond") {
		t.Error("nothing is asked of what was there before")
	}
	d.wants(d.post("/prices", accept(d.form(body, "/prices"), body)), http.StatusSeeOther)
	if body = d.get("/prices"); strings.Contains(body, `name="accept"`) {
		t.Error("an answered question is asked again")
	}
}

// What is kept of a what-if is asked where it is unusual, and why something was changed stands in the history.
func TestAWhatIfIsAskedAndSaysWhy(t *testing.T) {
	d := sit(t, true)
	f := d.form(d.get("/profit?wage=900"), "/profit")
	body := d.wants(d.post("/keep", f), http.StatusUnprocessableEntity, "wage", "900", "It is meant")
	if c := d.contents(); c.Change != 1 {
		t.Fatal("it is kept unasked")
	}
	f = d.form(body, "/keep")
	f.Set("accept", regexp.MustCompile(`name="accept" value="([0-9a-f]{8})"`).FindStringSubmatch(body)[1])
	f.Set("why", "a new\nrate")
	d.wants(d.post("/keep", f), http.StatusSeeOther)
	if c := d.contents(); c.Prices.Wage.Best != 900 || len(c.Answers) != 1 {
		t.Errorf("wage %v, %d answers", c.Prices.Wage.Best, len(c.Answers))
	}
	d.wants(ask(d, "GET", "/history"), http.StatusOK, "kept wage 900", "why: a new rate")
	for path, action := range map[string]string{"/study": "/study", "/practices": "/practices", "/prices": "/prices",
		"/prices/list": "/prices/list", "/rule": "/rule", "/take": "/take", "/search": "/search",
		"/history": "/undo"} {
		if f := d.form(d.get(path), action); !f.Has("why") {
			t.Errorf("%s does not ask why", path)
		}
	}
}

// What a practice takes is taken away whole: the list then knows nothing of it.
func TestWhatAPracticeTakesIsTakenAway(t *testing.T) {
	d := sit(t, true)
	f := d.form(d.get("/prices"), "/prices")
	f.Set("take.use.silver-spout", "yes")
	f.Set("do", "save")
	d.wants(d.post("/prices", f), http.StatusSeeOther)
	c := d.contents()
	if slices.ContainsFunc(c.Prices.Uses, func(u price.Use) bool {
		return u.Practice == practice.SilverSpout
	}) ||
		strings.Contains(c.Prices.Text, "use.silver-spout") {
		t.Errorf("it is there still:\n%s", c.Prices.Text)
	}
	d.wants(ask(d, "GET", "/prices"), http.StatusOK, "What silver-bearing spout", "takes: not known yet")
}
