package web

import (
	"bytes"
	"encoding/csv"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"golang.org/x/net/html"

	"spile/internal/demo"
	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// scenario is the invented scenario of package demo, of its studies the first sixteen.
var scenario = sync.OnceValue(func() advice.Input {
	dir, err := os.MkdirTemp("", "spile")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	if err := os.CopyFS(dir, demo.Files()); err != nil {
		panic(err)
	}
	in, err := sheet.Read(filepath.Join(dir, "evidence.csv"), filepath.Join(dir, "prices.toml"))
	if err != nil {
		panic(err)
	}
	in.Studies = in.Studies[:16]
	return advice.Usual(in)
})

// fresh is a workbench over files that has answered nothing yet.
func fresh(in advice.Input) *state {
	s, err := overFiles(Config{Input: in, Version: "test", Voice: say.In("en")}, new(advice.Memo))
	if err != nil {
		panic(err)
	}
	return s
}

var priced = sync.OnceValue(func() *state { return fresh(scenario()) })

func served() http.Handler { return priced() }

// long marks a test that finds nothing more under the race detector, which runs the short ones.
func long(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("short")
	}
}

func ask(h http.Handler, method, address string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, address, nil)
	r.Host = "localhost:7345"
	for i := 0; i < len(headers); i += 2 {
		if headers[i] == "Host" {
			r.Host = headers[i+1]
			continue
		}
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// visit asks for a page and follows where it is sent, as a browser does.
func visit(t *testing.T, address string) (body, at string) {
	t.Helper()
	w := ask(served(), "GET", address)
	for range 3 {
		if w.Code != http.StatusSeeOther && w.Code != http.StatusFound {
			break
		}
		address = w.Header().Get("Location")
		w = ask(served(), "GET", address)
	}
	if w.Code != http.StatusOK {
		t.Fatalf("%s: %d\n%.300s", address, w.Code, w.Body)
	}
	return w.Body.String(), address
}

// lead is the first sentence of a page.
func lead(t *testing.T, body string) string {
	t.Helper()
	_, after, ok := strings.Cut(body, `<section id="lead"`)
	if !ok {
		t.Fatal("no lead")
	}
	_, after, _ = strings.Cut(after, `<p class="first">`)
	text, _, _ := strings.Cut(after, "</p>")
	return text
}

func TestEveryPageAnswers(t *testing.T) {
	long(t)
	for _, address := range []string{"/profit", "/gains", "/rotation", "/evidence", "/sure", "/sure/closer",
		"/next-trial", "/profit/closer", "/gains/closer", "/evidence/closer",
		"/profit/budget/check-valve", "/profit/budget/new-drop/3",
		"/profit?wage=31&exclude=Larkmoor+2014&without=freak-season",
		"/evidence?exclude=Larkmoor+2014&wage=31&today=new-drop%2F3"} {
		body, _ := visit(t, address)
		sound(t, address, body)
		for _, want := range []string{`<main id="answer"`, `aria-live="polite"`, `class="skip"`, `<h1>`,
			`aria-current="page"`, `<html lang="en">`} {
			if !strings.Contains(body, want) {
				t.Errorf("%s lacks %s", address, want)
			}
		}
		if strings.Contains(body, "NaN") || strings.Contains(body, "%!") || strings.Contains(body, "ZgotmplZ") {
			t.Errorf("%s holds a number or word gone wrong", address)
		}
	}
}

// sound checks what a browser or a screen reader relies on: every id once, every reference to one that exists, a name
// for every field.
func sound(t *testing.T, address, body string) {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		t.Fatalf("%s: %v", address, err)
	}
	ids, labelled := map[string]bool{}, map[string]bool{}
	var refs []string
	var fields []map[string]string
	headings := 0
	var walk func(*html.Node, bool)
	walk = func(n *html.Node, inLabel bool) {
		at := map[string]string{}
		for _, a := range n.Attr {
			at[a.Key] = a.Val
		}
		if id, ok := at["id"]; ok {
			if ids[id] {
				t.Errorf("%s: two things are called %s", address, id)
			}
			ids[id] = true
		}
		for _, key := range []string{"aria-describedby", "aria-labelledby", "for", "form", "data-try"} {
			refs = append(refs, strings.Fields(at[key])...)
		}
		if n.Type == html.ElementNode {
			switch n.Data {
			case "h1":
				headings++
			case "label":
				labelled[at["for"]] = true
				inLabel = true
			case "input", "select":
				if at["type"] != "hidden" && !inLabel && at["aria-label"] == "" {
					fields = append(fields, at)
				}
			case "svg":
				if at["role"] != "img" || n.FirstChild == nil {
					t.Errorf("%s: a figure without a name for those who do not see it", address)
				}
			case "th":
				if at["scope"] == "" {
					t.Errorf("%s: a head without a scope", address)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c, inLabel)
		}
	}
	walk(doc, false)
	for _, r := range refs {
		if !ids[r] {
			t.Errorf("%s: nothing is called %s", address, r)
		}
	}
	for _, f := range fields {
		if !labelled[f["id"]] {
			t.Errorf("%s: the field %s has no label", address, f["id"])
		}
	}
	if headings != 1 {
		t.Errorf("%s: %d main headings", address, headings)
	}
}

// Every link of every page leads somewhere, with and without something tried.
func TestEveryLinkLeadsSomewhere(t *testing.T) {
	long(t)
	done := map[string]bool{}
	var follow func(address string, depth int)
	follow = func(address string, depth int) {
		path, _, _ := strings.Cut(address, "#")
		if path == "" || done[path] || depth > 2 || strings.HasPrefix(path, "data:") || strings.Contains(path, ".png") {
			return // pictures take a while: TestDownloads asks for some
		}
		done[path] = true
		w := ask(served(), "GET", path)
		if w.Code >= 400 {
			t.Errorf("%s: %d", path, w.Code)
		}
		if !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") || strings.HasPrefix(path, "/report.html") {
			return
		}
		for _, m := range regexp.MustCompile(`(?:href|src)="([^"]*)"`).FindAllStringSubmatch(w.Body.String(), -1) {
			follow(html.UnescapeString(m[1]), depth+1)
		}
	}
	follow("/profit?wage=31", 0)
	follow("/gains?without=freak-season", 2)
	if len(done) < 30 {
		t.Errorf("only %d addresses were found: %v", len(done), done)
	}
}

func TestWhatIsTriedChangesTheAnswer(t *testing.T) {
	long(t)
	files, _ := visit(t, "/profit")
	for _, q := range []string{"wage=90", "sells.retail.price=20", "baseline.yield=11", "today=unsanitized", "place=FR",
		"longest=4",
		"variance=reported", "site=no", "without=no-replication", "reports=yes", "exclude=Larkmoor+2014",
		"moderator=vacuum", "discount=12,5",
		"use.check-valve.minutes.tapping=4", "farm_adjust=0.5", "baseline.practice=unsanitized", "all_at_once=yes"} {
		body, at := visit(t, "/profit?"+q)
		if body == files {
			t.Errorf("%s changes nothing", q)
		}
		if !strings.Contains(body, "1 changed") {
			t.Errorf("%s: the change is not marked", q)
		}
		if want := strings.ReplaceAll(q, "12,5", "12.5"); at != "/profit?"+want {
			t.Errorf("%s is answered at %s", q, at)
		}
	}
	body, _ := visit(t, "/profit?wage=90")
	if !strings.Contains(body, "files: 24") || !strings.Contains(body, `class="was"`) {
		t.Error("what the files had is not shown beside what is tried")
	}
	if lead(t, body) == lead(t, files) {
		t.Error("the recommendation stays the same in every word with a wage of 90")
	}
}

// A form sends every field. What is as the files have it does not stay in the address.
func TestTheAddressHoldsOnlyWhatIsTried(t *testing.T) {
	q := url.Values{"last": {""}, "wage": {"24"}, "discount": {" 5 "}, "organic": {"no"}, "place": {"us-vt"},
		"without": {""}, "baseline.yield": {"21.50"}}
	if _, at := visit(t, "/profit?"+q.Encode()); at != "/profit?baseline.yield=21.5" {
		t.Errorf("answered at %s", at)
	}
}

func TestBadInputLeavesTheLastGoodAnswer(t *testing.T) {
	good, _ := visit(t, "/profit?wage=90")
	for _, c := range []struct{ query, field string }{
		{"wage=cheap", "wage"}, {"wage=", "wage"}, {"wage=NaN", "wage"}, {"wage=1e308", "wage"}, {"wage=0x1p4", "wage"},
		{"wage=1,000.00", "wage"},
		{"wage=%3Cscript%3E", "wage"}, {"discount=-100", "discount"}, {"place=Vermont", "place"},
		{"organic=maybe", "organic"},
		{"longest=0", "longest"}, {"longest=2.5", "longest"}, {"longest=99", "longest"}, {"today=nothing", "today"},
		{"without=weather", "without"},
		{"exclude=Nowhere+1999", "exclude"}, {"variance=mine", "variance"},
	} {
		w := ask(served(), "GET", "/profit?last=wage%3D90&"+c.query)
		body := w.Body.String()
		if w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", c.query, w.Code)
		}
		if lead(t, body) != lead(t, good) {
			t.Errorf("%s: the last good answer does not stay", c.query)
		}
		if strings.Contains(body, "asks for what is not here") {
			t.Fatalf("no field %s", c.field)
		}
		if strings.Contains(good, `id="w-`+c.field+`"`) {
			_, mark, _ := strings.Cut(body, `id="w-`+c.field+`-mark">`)
			mark, _, _ = strings.Cut(mark, "\n")
			if !strings.Contains(mark, `class="fault"`) {
				t.Errorf("%s: no message beside its field: %s", c.query, mark)
			}
		}
		if strings.Contains(body, "<script>") {
			t.Errorf("%s: unescaped", c.query)
		}
		if d := ask(served(), "GET", "/figure/net.svg?"+c.query); d.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: a figure of other numbers than asked for: %d", c.query, d.Code)
		}
	}
	w := ask(served(), "GET", "/profit?wagee=12")
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "wagee") {
		t.Errorf("a misspelt name: %d", w.Code)
	}
	// Every study left out: the chain itself has nothing to say.
	q := url.Values{}
	for _, s := range scenario().Studies {
		q.Add("exclude", s.Name)
	}
	if w := ask(served(), "GET", "/gains?"+q.Encode()); w.Code >= 500 {
		t.Errorf("no study left: %d", w.Code)
	}
}

// Whatever number is tried, the page answers: with an answer, or with what is wrong beside the field.
// Of each kind of number every extreme is tried, of one practice or material or of another.
func TestExtremes(t *testing.T) {
	long(t)
	keys := map[string][]string{} // by the last part of their name, which says what they are
	for _, path := range []string{"/profit", "/rotation", "/sure", "/next-trial"} {
		body, _ := visit(t, path)
		for _, m := range regexp.MustCompile(`name="([^"]+)" value="[^"]*" inputmode="decimal"`).
			FindAllStringSubmatch(body, -1) {
			kind := m[1][strings.LastIndex(m[1], ".")+1:]
			if !slices.Contains(keys[kind], m[1]) {
				keys[kind] = append(keys[kind], m[1])
			}
		}
	}
	if len(keys) < 30 {
		t.Errorf("only %d kinds of numbers can be tried", len(keys))
	}
	for _, alike := range keys {
		for i, x := range []string{"-1", "0", "0.0001", "999999999", "100"} {
			key := alike[i%len(alike)]
			w := ask(served(), "GET", "/profit?"+url.Values{key: {x}}.Encode())
			body := w.Body.String()
			switch w.Code {
			case http.StatusOK, http.StatusSeeOther:
			case http.StatusUnprocessableEntity:
				_, mark, found := strings.Cut(body, `id="w-`+key+`-mark">`)
				if found && !strings.HasPrefix(mark, `<span class="fault">`) &&
					!strings.Contains(body, `<p class="fault">`) {
					t.Errorf("%s=%s: no message beside its field or at the head", key, x)
				}
			default:
				t.Errorf("%s=%s: %d", key, x, w.Code)
			}
			for _, wrong := range []string{"NaN", "Inf", "%!", "+∞"} {
				if strings.Contains(body, wrong) {
					t.Errorf("%s=%s: the page holds %s", key, x, wrong)
				}
			}
		}
	}
}

func TestDownloads(t *testing.T) {
	long(t)
	for _, c := range []struct{ address, kind string }{
		{"/figure/net.svg", "image/svg+xml"}, {"/figure/net.png?for=slide", "image/png"},
		{"/figure/bars.svg?for=phone", "image/svg+xml"},
		{"/figure/intervals.png", "image/png"}, {"/figure/ageing.svg?wage=31", "image/svg+xml"},
		{"/table/ranking.csv?wage=31", "text/csv; charset=utf-8"}, {"/table/gains.csv", "text/csv; charset=utf-8"},
		{"/table/evidence.csv", "text/csv; charset=utf-8"},
		{"/table/without-caveat.csv", "text/csv; charset=utf-8"}, {"/table/indirect.csv", "text/csv; charset=utf-8"},
		{"/table/budget-new-drop-3-today.csv", "text/csv; charset=utf-8"},
		{"/report.html?wage=31", "text/html; charset=utf-8"},
	} {
		w := ask(served(), "GET", c.address)
		if w.Code != http.StatusOK || w.Header().Get("Content-Type") != c.kind {
			t.Errorf("%s: %d %s", c.address, w.Code, w.Header().Get("Content-Type"))
			continue
		}
		body := w.Body.Bytes()
		switch {
		case c.kind == "image/png":
			if _, err := png.DecodeConfig(bytes.NewReader(body)); err != nil {
				t.Errorf("%s: %v", c.address, err)
			}
		case strings.HasPrefix(c.kind, "text/csv"):
			r := csv.NewReader(bytes.NewReader(body))
			r.FieldsPerRecord = -1
			if rows, err := r.ReadAll(); err != nil || len(rows) < 2 {
				t.Errorf("%s: %d rows, %v", c.address, len(rows), err)
			}
		}
	}
	w := ask(served(), "GET", "/table/ranking.csv?wage=31")
	if name := w.Header().Get("Content-Disposition"); name != `attachment; filename="ranking-tried.csv"` ||
		!strings.Contains(w.Body.String(), "the files have 24") {
		t.Errorf("a table of what is tried does not say so: %s", name)
	}
	if !strings.Contains(ask(served(), "GET", "/report.html?wage=31").Body.String(), "the files have 24") {
		t.Error("a report of what is tried does not say so")
	}
	tried, files := w.Body.String(), ask(served(), "GET", "/table/ranking.csv").Body.String()
	if tried == files {
		t.Error("what is tried does not reach a downloaded table")
	}
	drawn := func(address string) string { return ask(served(), "GET", address).Body.String() }
	if drawn("/figure/net.svg?wage=31") == drawn("/figure/net.svg") {
		t.Error("what is tried does not reach a downloaded figure")
	}
	for _, address := range []string{"/figure/net.gif", "/figure/nothing.svg", "/figure/net.svg?for=poster",
		"/table/nothing.csv", "/table/gains.xls", "/nowhere",
		"/profit/budget/nothing", "/asset/..%2fweb.go", "/asset/nothing.js"} {
		if w := ask(served(), "GET", address); w.Code != http.StatusNotFound ||
			!strings.Contains(w.Body.String(), `<a href="/">To the beginning of the workbench</a>`) {
			t.Errorf("%s: %d, or no way on", address, w.Code)
		}
	}
}

func TestOnlyItsOwnName(t *testing.T) {
	for _, host := range []string{"localhost", "localhost:7345", "127.0.0.1:7345", "127.0.0.2", "[::1]:7345",
		"LOCALHOST:1"} {
		if w := ask(served(), "GET", "/gains", "Host", host); w.Code != http.StatusOK {
			t.Errorf("%s: %d", host, w.Code)
		}
	}
	for _, host := range []string{"", "evil.example", "evil.example:7345", "localhost.evil.example", "192.168.1.4:7345",
		"127.0.0.1.evil.example"} {
		if w := ask(served(), "GET", "/gains", "Host", host); w.Code != http.StatusMisdirectedRequest {
			t.Errorf("%q: %d", host, w.Code)
		}
	}
	h, err := New(Config{Input: scenario(), Hosts: []string{"station.lan"}})
	if err != nil {
		t.Fatal(err)
	}
	if w := ask(h, "GET", "/gains", "Host", "station.lan:7345"); w.Code != http.StatusOK {
		t.Errorf("a name allowed: %d", w.Code)
	}
}

func TestOtherSitesCannotPost(t *testing.T) {
	for _, c := range []struct {
		headers []string
		want    int
	}{
		{[]string{"Sec-Fetch-Site", "cross-site"}, http.StatusForbidden},
		{[]string{"Origin", "http://evil.example"}, http.StatusForbidden},
		{[]string{"Sec-Fetch-Site", "same-origin"}, http.StatusMethodNotAllowed}, // nothing here is changed by a POST
	} {
		if w := ask(served(), "POST", "/profit", c.headers...); w.Code != c.want {
			t.Errorf("%v: %d, want %d", c.headers, w.Code, c.want)
		}
	}
}

// The style sheet brings the fonts that its rules ask for, each once and cut to what pages say, and no other.
func TestTheStyleIsSmall(t *testing.T) {
	sheet := ask(served(), "GET", "/asset/style.css").Body.String()
	faces := 0
	for rule := range strings.SplitSeq(sheet, "}") {
		if strings.Contains(rule, "@font-face") {
			faces++
		}
	}
	for _, used := range []string{"font-style: italic", "font-weight: 700"} {
		if !strings.Contains(sheet, used) {
			t.Errorf("a font is there, and no rule says %s", used)
		}
	}
	if t.Logf("%d bytes, %d fonts", len(sheet), faces); faces != 3 || len(sheet) > 130_000 {
		t.Errorf("%d bytes with %d fonts", len(sheet), faces)
	}
}

func TestHeaders(t *testing.T) {
	w := ask(served(), "GET", "/profit")
	policy := w.Header().Get("Content-Security-Policy")
	for _, want := range []string{"default-src 'none'", "script-src 'self';", "style-src 'self';",
		"frame-ancestors 'none'", "base-uri 'none'"} {
		if !strings.Contains(policy, want) {
			t.Errorf("policy lacks %s: %s", want, policy)
		}
	}
	if w.Header().Get("X-Content-Type-Options") != "nosniff" {
		t.Error("kinds may be guessed")
	}
	body := w.Body.String()
	if regexp.MustCompile(`<script[^>]*>[^<]`).MatchString(body) ||
		regexp.MustCompile(`\son[a-z]+=`).MatchString(body) || strings.Contains(body, "<style") {
		t.Error("a script or style inside the page")
	}
	if regexp.MustCompile(`(?:src|href)="(?:https?:)?//`).MatchString(body) {
		t.Error("the page asks something of the network")
	}
	for _, address := range []string{"/asset/style.css", "/asset/page.js", "/profit?wage=31", "/figure/net.svg"} {
		w := ask(served(), "GET", address)
		tag := w.Header().Get("ETag")
		if again := ask(served(), "GET", address, "If-None-Match", tag); tag == "" ||
			again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf("%s: %q, then %d", address, tag, again.Code)
		}
	}
	script := ask(served(), "GET", "/asset/page.js").Body.Bytes()
	if lines := bytes.Count(script, []byte("\n")); lines > 170 {
		t.Errorf("the script has %d lines", lines)
	}
}

// Without prices there is no page about profit, and nothing speaks of money.
func TestWithoutPrices(t *testing.T) {
	long(t)
	in := scenario()
	in.Studies, in.Prices = in.Studies[:6], nil
	h, err := New(Config{Input: in})
	if err != nil {
		t.Fatal(err)
	}
	if w := ask(h, "GET", "/"); w.Header().Get("Location") != "/gains" {
		t.Errorf("the front is %s", w.Header().Get("Location"))
	}
	for _, address := range []string{"/gains", "/gains/closer", "/rotation", "/evidence", "/report.html",
		"/figure/bars.svg"} {
		if w := ask(h, "GET", address); w.Code != http.StatusOK {
			t.Errorf("%s: %d", address, w.Code)
		}
	}
	for _, address := range []string{"/profit", "/figure/net.svg", "/table/ranking.csv"} {
		if w := ask(h, "GET", address); w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", address, w.Code)
		}
	}
}

// What a user's file says is text, whatever it looks like.
func TestHostileNames(t *testing.T) {
	long(t)
	in := scenario()
	in.Studies = slices.Clone(in.Studies[:6])
	evil := `"></text><script>alert(1)</script><img src=x onerror=alert(2)>` + "`'&amp;"
	in.Studies[0].Name, in.Studies[0].Site, in.Studies[0].Caveats = evil, evil, []evidence.Caveat{evidence.Caveat(evil)}
	in.Sources = []input.Source{{Name: evil, Digest: evil}}
	h, err := New(Config{Input: in})
	if err != nil {
		t.Fatal(err)
	}
	q := "?exclude=" + url.QueryEscape(evil)
	for _, address := range []string{"/profit", "/gains", "/evidence", "/evidence" + q, "/evidence/closer" + q,
		"/gains/closer", "/report.html", "/profit?wage=" + url.QueryEscape(evil),
		"/profit?" + url.QueryEscape(evil) + "=1"} {
		w := ask(h, "GET", address)
		doc, err := html.Parse(w.Body)
		if err != nil {
			t.Fatal(err)
		}
		var walk func(*html.Node)
		walk = func(n *html.Node) {
			if n.Type == html.ElementNode && (n.Data == "img" || n.Data == "script" && n.FirstChild != nil) {
				t.Errorf("%s: <%s> out of a name", address, n.Data)
			}
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") {
					t.Errorf("%s: %s out of a name", address, a.Key)
				}
			}
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				walk(c)
			}
		}
		walk(doc)
	}
}

// The same question has the same answer, byte for byte, whoever asked before.
func TestSameBytes(t *testing.T) {
	long(t)
	in := scenario()
	in.Studies = in.Studies[:6]
	one, other := fresh(in), fresh(in)
	ask(other, "GET", "/gains")
	for _, address := range []string{"/profit?wage=31&without=no-replication", "/gains/closer", "/report.html"} {
		w := ask(one, "GET", address)
		if b := ask(other, "GET", address).Body.Bytes(); w.Code != http.StatusOK || !bytes.Equal(w.Body.Bytes(), b) {
			t.Errorf("%s differs", address)
		}
	}
}

// In the language for tests every message stands between ⟦ and ⟧: what a page shows outside of them, beside numbers and
// what the files hold, was not said.
func TestEveryWordIsSaid(t *testing.T) {
	long(t)
	in := scenario()
	h, err := New(Config{Input: in, Voice: say.In(say.Pseudo), Version: "1"})
	if err != nil {
		t.Fatal(err)
	}
	// the name, kinds of file, what the files hold
	given := []string{"spile", "SVG", "PNG", "PDF", "CSV", "XLSX", in.Prices.Currency, page.Languages["fr"]}
	for _, s := range in.Studies {
		given = append(given, s.Name, s.Site)
		for _, c := range s.Caveats {
			given = append(given, string(c), strings.ReplaceAll(string(c), "-", " "))
		}
	}
	for _, s := range in.Sources {
		given = append(given, s.Name)
	}
	for _, a := range in.Prices.Assumptions() {
		given = append(given, a.Value.Source)
	}
	slices.SortFunc(given, func(a, b string) int { return len(b) - len(a) })
	word := regexp.MustCompile(`\p{L}{3,}`)
	hash := regexp.MustCompile(`\b[0-9a-f]{12,64}\b`)
	for _, address := range []string{"/profit?wage=31", "/profit?wage=x", "/gains", "/rotation",
		"/evidence?exclude=Larkmoor+2014", "/gains/closer", "/profit/closer",
		"/evidence/closer", "/profit/budget/check-valve", "/report.html"} {
		doc, err := html.Parse(ask(h, "GET", address).Body)
		if err != nil {
			t.Fatal(err)
		}
		depth := 0 // a figure sets a wrapped message as several texts
		check := func(text string) {
			outside := ""
			for _, r := range text {
				switch {
				case r == '⟦':
					depth++
				case r == '⟧':
					depth--
				case depth == 0:
					outside += string(r)
				}
			}
			text = outside
			for _, g := range given {
				if g != "" {
					text = strings.ReplaceAll(text, g, "")
				}
			}
			text = aFile.ReplaceAllString(hash.ReplaceAllString(text, ""), "")
			if w := word.FindString(text); w != "" {
				t.Errorf("%s: %q was not said: %.120q", address, w, text)
			}
		}
		var walk func(*html.Node)
		walk = func(n *html.Node) {
			if n.Type == html.ElementNode &&
				(n.Data == "style" || n.Data == "script" || n.Data == "title" && n.Parent.Data == "head") {
				return
			}
			if n.Type == html.TextNode {
				check(n.Data)
			}
			for _, a := range n.Attr {
				if a.Key == "aria-label" || a.Key == "data-lost" || a.Key == "title" || a.Key == "placeholder" ||
					a.Key == "alt" {
					check(a.Val)
				}
			}
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				walk(c)
			}
		}
		walk(doc)
		if depth != 0 {
			t.Errorf("%s: %d messages do not end", address, depth)
		}
	}
}

// Several readers at once, each with a question of their own, get what each would get alone.
func TestManyAtOnce(t *testing.T) {
	h := fresh(scenario())
	addresses := []string{"/profit", "/profit?wage=31", "/gains?without=freak-season", "/rotation?discount=9",
		"/evidence", "/profit?wage=31", "/figure/net.svg?wage=12", "/table/gains.csv"}
	got := make([]string, len(addresses))
	var all sync.WaitGroup
	for i, address := range addresses {
		all.Go(func() { got[i] = ask(h, "GET", address).Body.String() })
	}
	all.Wait()
	for i, address := range addresses {
		if want := ask(served(), "GET", address).Body.String(); got[i] != want {
			t.Errorf("%s differs", address)
		}
	}
}

func TestServe(t *testing.T) {
	server := httptest.NewServer(served())
	defer server.Close()
	r, err := http.Get(server.URL + "/gains")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if body, _ := io.ReadAll(r.Body); r.StatusCode != http.StatusOK || len(body) == 0 {
		t.Errorf("%d, %d bytes", r.StatusCode, len(body))
	}
}

// A combination that no study holds has a range and no interval, on the page of its budget as in the ranking.
func TestBudgetOfCombination(t *testing.T) {
	ranked := ask(served(), "GET", "/profit").Body.String()
	at := regexp.MustCompile(`/profit/budget/[a-z0-9/-]+(\+|%2B|&#43;)[a-z-]+`).FindString(ranked)
	if at == "" {
		t.Fatal("no combination is ranked")
	}
	got := ask(served(), "GET", strings.ReplaceAll(at, "&#43;", "+")).Body.String()
	if strings.Contains(got, "(95 % interval") || strings.Contains(got, "(95\u00a0% interval") ||
		!strings.Contains(got, "(range") || !strings.Contains(got, "no study holds this combination") {
		t.Errorf("%s tells of an interval, or not of the range", at)
	}
	got = ask(served(), "GET", "/profit/budget/check-valve").Body.String()
	if !regexp.MustCompile(`\(95.% interval`).MatchString(got) || strings.Contains(got, "(range") {
		t.Error("a practice that was studied has no interval")
	}
}

func init() {
	var shared advice.Memo
	remembers = func() *advice.Memo { return &shared }
}
