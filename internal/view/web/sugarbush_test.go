package web

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/net/html"

	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
)

// withBushes is the scenario with a sugarbush beside it.
var withBushes = sync.OnceValue(func() http.Handler {
	in := scenario()
	in.Bushes = []bush.Draft{ridge()}
	return fresh(in)
})

// ridge is an invented sugarbush, Quillback Ridge.
func ridge() bush.Draft {
	data, err := os.ReadFile("../../demo/sugarbush-organic.toml")
	if err != nil {
		panic(err)
	}
	d, err := sheet.SugarbushDraft("b.toml", data)
	if err != nil {
		panic(err)
	}
	return d
}

// sent is what a form on a page would send, as a browser does.
func sent(t *testing.T, body, action string) url.Values {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	q := url.Values{}
	attr := func(n *html.Node, key string) string {
		for _, a := range n.Attr {
			if a.Key == key {
				return a.Val
			}
		}
		return ""
	}
	has := func(n *html.Node, key string) bool {
		for _, a := range n.Attr {
			if a.Key == key {
				return true
			}
		}
		return false
	}
	var walk func(n *html.Node, in bool)
	walk = func(n *html.Node, in bool) {
		if n.Type == html.ElementNode && n.Data == "form" {
			in = attr(n, "action") == action && attr(n, "method") == "get"
		}
		if in && n.Type == html.ElementNode {
			switch n.Data {
			case "input":
				if attr(n, "type") != "checkbox" || has(n, "checked") {
					q.Add(attr(n, "name"), attr(n, "value"))
				}
			case "select":
				for o := n.FirstChild; o != nil; o = o.NextSibling {
					if o.Data == "option" && has(o, "selected") {
						q.Set(attr(n, "name"), attr(o, "value"))
					}
				}
			case "textarea":
				if n.FirstChild != nil {
					q.Set(attr(n, "name"), n.FirstChild.Data)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c, in)
		}
	}
	walk(doc, false)
	return q
}

// A sugarbush that is chosen fills the form; the form as it is sent gives the same plan, and so does a change of it.
func TestSugarbushPage(t *testing.T) {
	h := withBushes()
	if w := ask(h, "GET", "/sugarbush"); w.Code != 200 || !strings.Contains(w.Body.String(), "Quillback Ridge") ||
		strings.Contains(w.Body.String(), `class="fault"`) {
		t.Fatalf("the empty form: %d", w.Code)
	}
	chosen := ask(h, "GET", "/sugarbush?of=Quillback+Ridge")
	if chosen.Code != 200 {
		t.Fatalf("%d: %s", chosen.Code, chosen.Body)
	}
	answer := func(body string) string {
		_, rest, _ := strings.Cut(body, `<section class="bush-answer">`)
		text, _, ok := strings.Cut(rest, "</section>")
		if !ok {
			t.Fatalf("no plan on the page:\n%.2000s", body)
		}
		text, _, _ = strings.Cut(text, `<nav class="doors"`)
		return text
	}
	q := sent(t, chosen.Body.String(), "/sugarbush")
	typed := ask(h, "GET", "/sugarbush?"+q.Encode())
	if typed.Code != 200 || answer(typed.Body.String()) != answer(chosen.Body.String()) {
		t.Errorf("%d: what the form sends is another sugarbush", typed.Code)
	}
	if again := sent(t, typed.Body.String(), "/sugarbush"); again.Encode() != q.Encode() {
		t.Errorf("the form does not stay as it was sent")
	}
	for _, want := range []string{"What each section does", "To buy for 2026", "The plan beside simple rules",
		"What a little more or less would bring", "Fix leaks first", "no evidence here: red maple", "held back"} {
		if !strings.Contains(typed.Body.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	q.Set("h.cash", "100")
	if poor := ask(h, "GET", "/sugarbush?"+q.Encode()); poor.Code != 200 ||
		answer(poor.Body.String()) == answer(chosen.Body.String()) {
		t.Errorf("%d: less cash changes nothing", poor.Code)
	}
}

// Faults stand beside their fields, all at once, and nothing is planned.
func TestSugarbushFaults(t *testing.T) {
	h := withBushes()
	q := url.Values{"h.name": {"Mine"}, "h.first_season": {"soon"}, "1.section": {"a"}, "1.taps": {"many"},
		"1.practice": {"new-spout"}, "1.unwanted": {"check-valve; new-spoot"},
		"2.section": {"b"}, "more": {"colour = red"}}
	w := ask(h, "GET", "/sugarbush?"+q.Encode())
	body := w.Body.String()
	if w.Code != http.StatusUnprocessableEntity || strings.Contains(body, "bush-answer") {
		t.Fatalf("%d", w.Code)
	}
	for _, want := range []string{`id="b-h-first-season-fault"`, `id="b-1-taps-fault"`, `id="b-1-unwanted-fault"`,
		`id="b-2-taps-fault"`, `id="b-2-practice-fault"`, "colour"} {
		if !strings.Contains(body, want) {
			t.Errorf("no %s", want)
		}
	}
	for _, address := range []string{"/handout?", "/handout.pdf?", "/handout.html?"} {
		if w := ask(h, "GET", address+q.Encode()); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", address, w.Code)
		}
	}
	for _, address := range []string{"/sugarbush", "/handout", "/handout.pdf"} {
		if w := ask(h, "GET", address+"?of=Nobody"); w.Code != http.StatusNotFound {
			t.Errorf("%s of a sugarbush that is not there: %d", address, w.Code)
		}
	}
}

var (
	faultSpan = regexp.MustCompile(`<span class="fault" id="(.*?)-fault">(.*?)</span>`)
	fileKey   = regexp.MustCompile(`[a-z][._][a-z]+|new-spout`)
)

// Faults are told in the words of the form, in either language: by its labels and lists, never by the keys of a file.
// Two sections of one name are two, and a key typed as a row beside its field is asked about.
func TestSugarbushFaultsInTheFormsWords(t *testing.T) {
	q := url.Values{"h.name": {""}, "h.first_season": {""}, "h.wage": {"20"}, "h.exchange": {"0"},
		"h.window.tapping.people": {"2"}, "1.section": {"a.b"}, "1.taps": {"100"}, "1.practice": {"steam"},
		"2.section": {"a.b"}, "2.taps": {"200"}, "2.practice": {"new-spout"}, "1.unwanted": {"magic"},
		"3.section": {"c"}, "3.taps": {"10"}, "3.collection": {"pails"}, "more": {"wage = 21"}}
	for lang, want := range map[string][]string{
		"en": {"b-h-name: “name”", "b-h-first-season: “first season planned”", "b-h-window-tapping-days: “days”",
			"b-1-section: the section a,b stands here twice", "b-2-section: the section a,b stands here twice",
			"b-1-practice: &#34;steam&#34; is not known; allowed: one of this list",
			"b-1-unwanted: &#34;magic&#34; is not known", "b-3-collection: &#34;pails&#34; is not known",
			"b-3-practice: “done last season”", "b-h-wage: “wage”"},
		"fr": {"b-h-name: « nom »", "b-h-first-season: « première saison du plan »",
			"b-1-section: la section a,b figure deux fois ici", "b-1-practice: « steam » n’est pas connu; admis"},
	} {
		w := ask(french(), "GET", "/sugarbush?"+q.Encode())
		if lang == "fr" {
			w = inFrench(french(), "/sugarbush?"+q.Encode())
		}
		b := strings.ReplaceAll(w.Body.String(), "\u00a0", " ")
		told := map[string]string{}
		for _, m := range faultSpan.FindAllStringSubmatch(b, -1) {
			told[m[1]] = m[2]
		}
		for _, w := range want {
			at, text, _ := strings.Cut(w, ": ")
			if !strings.Contains(told[at], text) {
				t.Errorf("%s, %s: %q, want %q", lang, at, told[at], text)
			}
		}
		for at, text := range told {
			if key := fileKey.FindString(text); key != "" {
				t.Errorf("%s, %s: %q in %q", lang, at, key, text)
			}
		}
		if strings.Count(told["b-h-exchange"], "100") > 1 {
			t.Errorf("%s: told twice: %s", lang, told["b-h-exchange"])
		}
	}
}

// Thousands are read as they are written; what is no whole thousand is still asked about.
func TestSugarbushReadsThousands(t *testing.T) {
	h := withBushes()
	for typed, ok := range map[string]bool{"2,400": true, "2 400": true, "2\u00a0400": true, "2400": true,
		"2,40": false} {
		q := url.Values{"h.name": {"Mine"}, "h.first_season": {"2026"}, "1.section": {"a"}, "1.taps": {typed},
			"1.practice": {"new-spout"}}
		body := ask(h, "GET", "/sugarbush?"+q.Encode()).Body.String()
		if strings.Contains(body, `id="b-1-taps-fault"`) == ok {
			t.Error(typed)
		}
	}
}

// The sheet is shown and given as files.
func TestHandoutPage(t *testing.T) {
	h := withBushes()
	if w := ask(h, "GET", "/handout"); w.Code != 200 || !strings.Contains(w.Body.String(), "Quillback Ridge") {
		t.Errorf("nothing chosen: %d", w.Code)
	}
	w := ask(h, "GET", "/handout?of=Quillback+Ridge")
	if w.Code != 200 || !strings.Contains(w.Body.String(), "How to seat a ") {
		t.Errorf("%d", w.Code)
	}
	for address, begins := range map[string]string{"/handout.pdf?of=Quillback+Ridge": "%PDF",
		"/handout.pdf?large=yes&of=Quillback+Ridge": "%PDF", "/handout.html?of=Quillback+Ridge": "<!doctype html>"} {
		if f := ask(h, "GET", address); f.Code != 200 || !strings.HasPrefix(f.Body.String(), begins) {
			t.Errorf("%s: %d", address, f.Code)
		}
		if !strings.Contains(html.UnescapeString(w.Body.String()), `href="`+address+`"`) {
			t.Errorf("the page does not lead to %s", address)
		}
	}
}

// A file fills the form; one at fault says why.
func TestSugarbushFromAFile(t *testing.T) {
	h := withBushes()
	send := func(name, text string) *httptest.ResponseRecorder {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		part, _ := m.CreateFormFile("file", name)
		part.Write([]byte(text))
		m.Close()
		r := httptest.NewRequest("POST", "/sugarbush", &b)
		r.Host = "localhost:7345"
		r.Header.Set("Content-Type", m.FormDataContentType())
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	w := send("mine.csv", "section,taps,practice,name,first_season,place\nhill,300,new-spout,Mine,2026,US-VT\n")
	if w.Code != http.StatusSeeOther {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	if next := ask(h, "GET", w.Header().Get("Location")); next.Code != 200 ||
		!strings.Contains(next.Body.String(), `name="1.section" value="hill"`) {
		t.Errorf("%d", next.Code)
	}
	w = send("mine.csv", "section,taps,practice,name,first_seeson\nhill,300,new-spout,Mine,2026\n")
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "first_seeson") {
		t.Errorf("%d", w.Code)
	}
}

// What is unusual in a sugarbush is asked before it is kept, and one that was typed keeps its comments.
func TestSugarbushIsAskedAndStaysAsTyped(t *testing.T) {
	d := sit(t, true)
	text, err := os.ReadFile("../../demo/sugarbush-organic.toml")
	if err != nil {
		t.Fatal(err)
	}
	d.wants(d.upload("b.toml", string(text), url.Values{"seen": {"1"}}), http.StatusSeeOther)
	f := sent(t, d.get("/sugarbush?of=Quillback+Ridge"), "/sugarbush")
	f.Set("h.window.shop.days", "400")
	body := d.wants(d.post("/sugarbush/keep", f), http.StatusUnprocessableEntity,
		"in the shop, days: 400 is beyond the usual 0 to 120")
	f.Set("accept", regexp.MustCompile(`name="accept" value="([0-9a-f]{8})"`).FindStringSubmatch(body)[1])
	d.wants(d.post("/sugarbush/keep", f), http.StatusSeeOther)
	c := d.contents()
	if want := strings.Replace(string(text), "days = 6\n", "days = 400\n", 1); c.Bushes[0].Text != want {
		t.Errorf("the file is no longer as it was typed:\n%s", cmp.Diff(want, c.Bushes[0].Text))
	}
	if len(c.Answers) != 1 {
		t.Errorf("%d answers were kept", len(c.Answers))
	}
}

// A page over prices of the United States shows no litres and no kilograms, but for what a form lets choose.
func TestUnitedStatesPagesHaveNoLitres(t *testing.T) {
	d := sit(t, true)
	text, err := os.ReadFile("../../demo/sugarbush-organic.toml")
	if err != nil {
		t.Fatal(err)
	}
	d.wants(d.upload("b.toml", string(text), url.Values{"seen": {"1"}}), http.StatusSeeOther)
	chosen := regexp.MustCompile(`(?s)<(select|textarea|script|style)[^>]*>.*?</(select|textarea|script|style)>`)
	tag := regexp.MustCompile(`<[^>]*>`)
	metric := regexp.MustCompile(`.{0,40}(^|[\s\x{a0}|(])(L|kg|litres?)($|[\s\x{a0}|),.;]).{0,20}`)
	for _, address := range []string{"/profit", "/gains", "/rotation", "/evidence", "/sure", "/prices", "/workbook",
		"/sugarbush?of=Quillback+Ridge", "/handout?of=Quillback+Ridge"} {
		page := html.UnescapeString(tag.ReplaceAllString(chosen.ReplaceAllString(d.get(address), ""), "|"))
		if m := metric.FindString(page); m != "" {
			t.Errorf("%s: %q", address, m)
		}
	}
}

// A page over prices of Québec shows no gallons, but for what a form lets choose.
func TestQuebecPagesHaveNoGallons(t *testing.T) {
	d := sit(t, true)
	prices, err := os.ReadFile("../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer(`"US-VT"`, `"CA-QC"`, `currency = "USD"`, `currency = "CAD"`, `sap = "gal"`, `sap = "l"`,
		`syrup = "gal"`, `syrup = "l"`, `chemical = "gal"`, `chemical = "l"`, "best = 20, low = 14, high = 26",
		"best = 75, low = 53, high = 98").Replace(string(prices))
	d.wants(d.upload("prices.toml", text, url.Values{"seen": {"1"}, "replace": {"yes"}}), http.StatusSeeOther)
	bush, err := os.ReadFile("../../demo/sugarbush-quebec.toml")
	if err != nil {
		t.Fatal(err)
	}
	d.wants(d.upload("b.toml", strings.ReplaceAll(string(bush), "exchange = 1.38", "exchange = 1"),
		url.Values{"seen": {strconv.FormatInt(d.contents().Change, 10)}}), http.StatusSeeOther)
	chosen := regexp.MustCompile(`(?s)<(select|textarea|script|style)[^>]*>.*?</(select|textarea|script|style)>`)
	tag := regexp.MustCompile(`<[^>]*>`)
	gallons := regexp.MustCompile(`.{0,40}(^|[\s\x{a0}|(])(gal|gallons?)($|[\s\x{a0}|),.;]).{0,20}`)
	const of = "?of=%C3%89rabli%C3%A8re+des+Trois-Lanternes"
	for _, address := range []string{"/profit", "/gains", "/rotation", "/evidence", "/sure", "/prices", "/workbook",
		"/next-trial", "/sugarbush" + of, "/handout" + of} {
		page := html.UnescapeString(tag.ReplaceAllString(chosen.ReplaceAllString(d.get(address), ""), "|"))
		if m := gallons.FindString(page); m != "" {
			t.Errorf("%s: %q", address, m)
		}
	}
}

// A sugarbush that is read from a file into the form is kept as it was typed in that file, its comments and the line
// ends of its writer too; a number changed in the form changes that number.
func TestSugarbushOfAFileStaysAsTyped(t *testing.T) {
	d := sit(t, true)
	data, err := os.ReadFile("../../demo/sugarbush-organic.toml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.ReplaceAll(string(data), "\n", "\r\n")
	for _, days := range []string{"days = 6", "days = 9"} {
		w := d.uploadTo("/sugarbush", "ridge.toml", text, nil)
		f := sent(t, d.get(w.Header().Get("Location")), "/sugarbush")
		f.Set("h.window.shop.days", strings.TrimPrefix(days, "days = "))
		f.Set("seen", strconv.FormatInt(d.contents().Change, 10))
		d.wants(d.post("/sugarbush/keep", f), http.StatusSeeOther)
		want := strings.Replace(text, "days = 6\r", days+"\r", 1)
		if got := d.contents().Bushes[0].Text; got != want {
			t.Errorf("kept otherwise than typed:\n%s", cmp.Diff(want, got))
		}
	}
}
