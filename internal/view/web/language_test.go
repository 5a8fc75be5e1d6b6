package web

import (
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/xuri/excelize/v2"
	"golang.org/x/net/html"

	"spile/internal/trade/evidence"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

var french = sync.OnceValue(func() http.Handler {
	h, err := New(Config{Input: scenario(), Version: "1"})
	if err != nil {
		panic(err)
	}
	return h
})

// inFrench asks as a reader does who chose French.
func inFrench(h http.Handler, path string) *httptest.ResponseRecorder {
	r := httptest.NewRequest("GET", "http://localhost"+path, nil)
	r.AddCookie(&http.Cookie{Name: page.LanguageKey, Value: "fr"})
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// A reader's language is a cookie, set by a plain link, which leads back to where it was followed; and to no other
// host.
func TestALanguageIsChosen(t *testing.T) {
	h := french()
	for from, back := range map[string]string{
		"http://localhost/gains?wage=30":    "/gains?wage=30",
		"http://localhost//evil.example/":   "/evil.example/",
		"http://evil.example/gains":         "/",
		"":                                  "/",
		"http://localhost/profit/closer":    "/profit/closer",
		"http://localhost:8080/other/place": "/",
	} {
		r := httptest.NewRequest("GET", "http://localhost/language/fr", nil)
		r.Header.Set("Referer", from)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != back ||
			!strings.HasPrefix(w.Header().Get("Set-Cookie"), page.LanguageKey+"=fr;") {
			t.Errorf("from %q: %d %q %q", from, w.Code, w.Header().Get("Location"), w.Header().Get("Set-Cookie"))
		}
	}
	r := httptest.NewRequest("GET", "http://localhost/language/xx", nil)
	w := httptest.NewRecorder()
	if h.ServeHTTP(w, r); w.Code != http.StatusNotFound || w.Header().Get("Set-Cookie") != "" {
		t.Errorf("a language that is not there: %d", w.Code)
	}
	body := inFrench(h, "/gains").Body.String()
	for _, want := range []string{`<html lang="fr-CA">`,
		`<a class="tongue" href="/language/en" lang="en" hreflang="en">English</a>`, "sans assainissement"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page in French does not hold %q", want)
		}
	}
	if body := ask(h, "GET", "/gains").Body.String(); !strings.Contains(body, `<html lang="en">`) ||
		!strings.Contains(body, "unsanitized") {
		t.Error("without a choice the page is not in English")
	}
}

// english are words that no French text has.
var english = regexp.MustCompile(
	`(?i)(^|[^\p{L}])(the|of|and|with|each|is|are|not|from|seasons?|taps?|drops?|spouts?|sap|stud(y|ies)|every|than|which|net of|held|back|used|new|yes|allowed|row|column|before|after|under|over|in use|gain of|year|hours?|money|unit of|page of)([^\p{L}]|$)`)

// leftover is the first text of a page that is English yet, beside what the files themselves say.
func leftover(t *testing.T, body string, given []string) string {
	t.Helper()
	slices.SortFunc(given, func(a, b string) int { return len(b) - len(a) })
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	found := ""
	check := func(text string) {
		for _, g := range given {
			if g != "" {
				text = strings.ReplaceAll(text, g, "")
			}
		}
		if at := english.FindStringIndex(text); found == "" && at != nil {
			found = strings.Join(strings.Fields(
				strings.ToValidUTF8(text[max(0, at[0]-60):min(len(text), at[1]+60)], "")), " ")
		}
	}
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode &&
			(n.Data == "style" || n.Data == "script" || n.Data == "code" || n.Data == "textarea") {
			return
		}
		if n.Type == html.TextNode {
			check(n.Data)
		}
		for _, a := range n.Attr {
			if a.Key == "aria-label" || strings.HasPrefix(a.Key, "data-") && a.Key != "data-try" || a.Key == "title" ||
				a.Key == "placeholder" || a.Key == "alt" {
				check(a.Val)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	return found
}

// links are the addresses that a page leads to.
var links = regexp.MustCompile(`href="(/[^"#]*)"`)

// elsewhere are addresses with no words to be read here, and those that take long and say over a workbook what they say
// over files: TestEveryPageInFrenchSaysNothingInEnglish reads them.
var elsewhere = regexp.MustCompile(`^/(language|asset|trust|report|slides|gains/closer|evidence/closer)|\.(png|pdf|xlsx)$`)

// crawl follows every link from the front in French, and gives each page once: of pages that differ in their query
// alone the first two.
func crawl(t *testing.T, h http.Handler, start ...string) map[string]string {
	t.Helper()
	pages, kinds := map[string]string{}, map[string]int{}
	for queue := start; len(queue) > 0; queue = queue[1:] {
		at := queue[0]
		path, _, _ := strings.Cut(at, "?")
		if _, seen := pages[at]; seen || kinds[path] > 1 || elsewhere.MatchString(path) {
			continue
		}
		kinds[path]++
		w := inFrench(h, at)
		switch {
		case w.Code == http.StatusSeeOther || w.Code == http.StatusFound:
			queue = append(queue, w.Header().Get("Location"))
			pages[at] = ""
			continue
		case w.Code != http.StatusOK && w.Code != http.StatusUnprocessableEntity:
			t.Errorf("%s: %d", at, w.Code)
		}
		pages[at] = ""
		if !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
			continue
		}
		pages[at] = w.Body.String()
		for _, m := range links.FindAllStringSubmatch(pages[at], -1) {
			queue = append(queue, html.UnescapeString(m[1]))
		}
	}
	return pages
}

// Over files too, who chose French finds nothing else on any page that a link leads to.
func TestPagesInFrenchAreFrench(t *testing.T) {
	long(t)
	in := scenario()
	// keys of practices are the same in every language
	given := []string{"From Agronomic Data to Farmer Recommendations", "English", "spile new station.spile",
		"check-valve; silver-spout"}
	for _, s := range in.Studies {
		given = append(given, s.Name, s.Site, s.Source)
	}
	for _, a := range in.Prices.Assumptions() {
		given = append(given, a.Value.Source)
	}
	pages := crawl(t, french(), "/", "/profit?wage=31", "/profit?wage=x", "/evidence?exclude=Larkmoor+2014")
	if len(pages) < 15 {
		t.Errorf("only %d pages were found", len(pages))
	}
	for at, body := range pages {
		if text := leftover(t, body, given); text != "" {
			t.Errorf("%s: English is left: %.200q", at, text)
		}
	}
}

// A number may be typed with either mark; where the language has a point, a comma before three digits may be that of a
// thousand.
func TestNumbersAsTyped(t *testing.T) {
	for _, c := range []struct {
		lang, text string
		want       float64
		ok         bool
	}{
		{"en", "21.5", 21.5, true}, {"en", "21,5", 21.5, true}, {"en", "−3", -3, true}, {"en", "0,125", 0.125, true},
		{"en", ".5", 0.5, true},
		{"en", "1,200", 0, false}, {"en", "118,500", 0, false}, {"en", "1,200,000", 0, false},
		{"en", "1.200,5", 0, false}, {"en", "1e3", 0, false}, {"en", "", 0, false},
		{"fr", "1,200", 1.2, true}, {"fr", "21.5", 21.5, true}, {"fr", "1 200", 0, false},
	} {
		if x, ok := say.In(c.lang).Parsed(c.text); ok != c.ok || ok && x != c.want {
			t.Errorf("%s %q: %v %v", c.lang, c.text, x, ok)
		}
	}
}

// Who writes a decimal comma may: in a study beside numbers that stand there already, and for a sugarbush. In English
// 1,000 may be a thousand: a study refuses it, and a sugarbush, which has taps by the thousand, reads it so.
func TestADecimalCommaIsTaken(t *testing.T) {
	d := sit(t, true)
	body := inFrench(d, "/study?name=Larkmoor+2014").Body.String()
	if !strings.Contains(body, `value="20,3"`) {
		t.Error("a number of a study stands with a point in French")
	}
	f := d.form(body, "/study")
	f["r0"][2] = "21,5"
	f.Set("do", "save")
	if w := d.post("/study", f); w.Code != http.StatusSeeOther {
		t.Fatalf("a decimal comma was refused: %d\n%s", w.Code, w.Body)
	}
	for _, s := range d.contents().Studies {
		if s.Name == "Larkmoor 2014" &&
			!slices.ContainsFunc(s.Arms, func(a evidence.Arm) bool { return a.Mean != nil && *a.Mean == 21.5 }) {
			t.Errorf("21,5 was not read as 21.5: %+v", s.Arms)
		}
	}
	f = d.form(d.get("/study?name=Larkmoor+2014"), "/study")
	f["r0"][2] = "1,200"
	f.Set("do", "save")
	if w := d.post("/study", f); w.Code != http.StatusUnprocessableEntity ||
		!strings.Contains(w.Body.String(), "thousands separator") {
		t.Errorf("1,200 in English, in a study: %d", w.Code)
	}
	q := url.Values{"h.name": {"B"}, "h.first_season": {"2026"}, "h.spare": {"0,05"}, "1.section": {"a"},
		"1.taps": {"900"}, "1.practice": {"new-spout"}, "1.vacuum_inhg": {"24,5"}, "1.tubing_in": {"0,3125"}}
	if w := inFrench(d, "/sugarbush?"+q.Encode()); w.Code != http.StatusOK ||
		!strings.Contains(w.Body.String(), `value="24,5"`) {
		t.Errorf("a sugarbush with decimal commas: %d", w.Code)
	}
	q.Set("1.taps", "1,000")
	if w := ask(d, "GET", "/sugarbush?"+q.Encode()); w.Code != http.StatusOK ||
		!regexp.MustCompile(`name="1\.taps"[^>]*value="1,?000"|value="1,?000"[^>]*name="1\.taps"`).
			MatchString(w.Body.String()) {
		t.Errorf("1,000 taps in English: %d", w.Code)
	}
}

// From the answer to a form that was refused a reader's language leads to the page on which the form stood, filled in
// once or twice; and from a page that nothing was sent from, to that page.
func TestALanguageIsChosenAtARefusedForm(t *testing.T) {
	d := atTrial(t, true, marsh(false))
	server := httptest.NewServer(d.Handler)
	defer server.Close()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	browser := &http.Client{Jar: jar}
	do := func(method, address, from string, form url.Values) *http.Response {
		t.Helper()
		r, err := http.NewRequest(method, server.URL+address, strings.NewReader(form.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		if from != "" {
			r.Header.Set("Referer", server.URL+from)
		}
		if method == "POST" {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		answer, err := browser.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		return answer
	}
	for to, on := range map[string]string{
		"/trials/decide": page.TrialAddress("Marsh 2025"), page.LogPath: page.LogAddress("Marsh 2025", 2025),
		"/exclude": "/exclude?name=Larkmoor+2014", "/study": "/study?name=Larkmoor+2014", "/undo": "/history",
	} {
		answer := do("POST", to, on, url.Values{"name": {"Marsh 2025"}, "season": {"2025"}, "do": {"save"}})
		if answer.StatusCode < 400 {
			t.Fatalf("%s was not refused: %d", to, answer.StatusCode)
		}
		do("POST", to, to, nil)
		back := do("GET", "/language/fr", to, nil)
		if got := back.Request.URL.RequestURI(); got != on || back.StatusCode != http.StatusOK {
			t.Errorf("%s on %s: back at %s, %d", to, on, got, back.StatusCode)
		}
		if got := do("GET", "/language/en", "/gains", nil).Request.URL.RequestURI(); got != "/gains" {
			t.Errorf("from /gains to %s", got)
		}
	}
	do("POST", "/exclude", "/exclude?name=Larkmoor+2014",
		url.Values{"name": {"Larkmoor 2014"}, "reason": {"to see"}, "seen": {"99"}})
	if got := do("GET", "/language/fr", "/study", nil).Request.URL.RequestURI(); got != "/study" {
		t.Errorf("a form that was taken is remembered: %s", got)
	}
}

// The head of a spreadsheet is for people, and in their language; that of a CSV file is for programs.
func TestTheHeadOfASpreadsheetIsInTheLanguage(t *testing.T) {
	head := func(w *httptest.ResponseRecorder) string {
		x, err := excelize.OpenReader(w.Body)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := x.GetRows(x.GetSheetName(0))
		if err != nil || len(rows) < 2 {
			t.Fatal(err, rows)
		}
		return strings.Join(rows[0], " | ")
	}
	want := "pratique | selon les études, % | selon les études, valeur basse, % | " +
		"selon les études, valeur haute, % | une saison nouvelle, %"
	if got := head(inFrench(french(), "/table/gains.xlsx")); !strings.HasPrefix(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if got, want := head(ask(french(), "GET", "/table/gains.xlsx")),
		"practice | studies say, % | studies say, low, % | studies say, high, % | "+
			"one new season, %"; !strings.HasPrefix(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	got := inFrench(french(), "/table/gains.csv").Body.String()
	if !strings.HasPrefix(got, "practice,gain_pct,gain_pct_low,gain_pct_high,") {
		t.Errorf("%.80q", got)
	}
}
