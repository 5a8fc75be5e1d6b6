package web

import (
	"bytes"
	"fmt"
	"io"
	"maps"
	"mime/multipart"
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
	"time"

	"github.com/chromedp/chromedp"
	"golang.org/x/net/html"
	"golang.org/x/text/language"

	"spile/internal/demo"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/trade/input"
	"spile/internal/trade/place"
	trials "spile/internal/trade/trial"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// wholeDemo is all that the demo keeps in its workbook: studies, prices, three sugarbushes, and a trial of two springs.
var wholeDemo = sync.OnceValue(func() input.Input {
	dir, err := os.MkdirTemp("", "spile")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	if err := os.CopyFS(dir, demo.Files()); err != nil {
		panic(err)
	}
	var data []string
	for _, kind := range []string{"*.csv", "*.toml"} {
		names, err := filepath.Glob(filepath.Join(dir, kind))
		if err != nil {
			panic(err)
		}
		data = append(data, names...)
	}
	in, err := sheet.Read(data...)
	if err != nil {
		panic(err)
	}
	names, err := filepath.Glob(filepath.Join(dir, "trial", "*"))
	if err != nil {
		panic(err)
	}
	t, _, err := sheet.Trial(trials.Trial{}, in.Practices, nil, names...)
	if err != nil {
		panic(err)
	}
	in.Trials = append(in.Trials, t)
	return in
})

// reader reads the demo's workbook in one language.
type reader struct {
	atDesk
	lang   string
	phones *trees.Phones
	code   string
}

func reads(t *testing.T, lang string) *reader {
	t.Helper()
	b, err := book.Create(filepath.Join(t.TempDir(), "w.spile"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	clock := func() time.Time { return time.Date(2025, 3, 14, 9, 26, 0, 0, time.UTC) }
	if _, err := b.Save(book.Edit{At: clock(), Who: "Ada", What: "scenario"}, book.Items(wholeDemo())...); err != nil {
		t.Fatal(err)
	}
	r := &reader{lang: lang}
	r.phones = trees.NewPhones([]string{lan}, func(code, _ string) { r.code = code })
	h, err := New(Config{Book: b, Who: "Ada", Now: clock, Version: "test", Phones: r.phones})
	if err != nil {
		t.Fatal(err)
	}
	r.atDesk = atDesk{t, h, b}
	return r
}

func (r *reader) do(method, address, kind string, body io.Reader) *httptest.ResponseRecorder {
	q := httptest.NewRequest(method, "http://localhost"+address, body)
	q.AddCookie(&http.Cookie{Name: page.LanguageKey, Value: r.lang})
	if kind != "" {
		q.Header.Set("Content-Type", kind)
	}
	w := httptest.NewRecorder()
	r.ServeHTTP(w, q)
	if to := w.Header().Get("Location"); to != "" {
		return r.do("GET", to, "", nil)
	}
	return w
}

// send sends a form, with files where it takes them.
func (r *reader) send(f form) *httptest.ResponseRecorder {
	if f.method == http.MethodGet {
		return r.do(f.method, page.WithQuery(f.action, f.fields.Encode()), "", nil)
	}
	if !f.files {
		return r.do(f.method, f.action, "application/x-www-form-urlencoded", strings.NewReader(f.fields.Encode()))
	}
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for _, key := range slices.Sorted(maps.Keys(f.fields)) {
		for _, v := range f.fields[key] {
			m.WriteField(key, v)
		}
	}
	if f.file != "" {
		part, _ := m.CreateFormFile("file", f.file)
		io.WriteString(part, f.content)
	}
	m.Close()
	return r.do(f.method, f.action, m.FormDataContentType(), &b)
}

// form is a form of a page as a browser would send it.
type form struct {
	on             string // the page it stands on
	method, action string
	files          bool
	fields         url.Values
	typed          []string // fields that a reader types into
	file, content  string
}

// attribute is one of an element, and whether it has it.
func attribute(n *html.Node, key string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val, true
		}
	}
	return "", false
}

// forms are the forms of a page, one for each of their buttons.
func forms(at, body string) []form {
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		return nil
	}
	var list []form
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode || n.Data != "form" {
			continue
		}
		action, _ := attribute(n, "action")
		method, _ := attribute(n, "method")
		enctype, _ := attribute(n, "enctype")
		path, _, _ := strings.Cut(at, "?")
		f := form{at, strings.ToUpper(method), action, enctype == "multipart/form-data", url.Values{}, nil, "", ""}
		if f.method == "" {
			f.method = http.MethodGet
		}
		if f.action == "" {
			f.action = path
		}
		var buttons []*html.Node
		for c := range n.Descendants() {
			if c.Type != html.ElementNode {
				continue
			}
			name, _ := attribute(c, "name")
			value, _ := attribute(c, "value")
			kind, _ := attribute(c, "type")
			switch c.Data {
			case "button":
				buttons = append(buttons, c)
			case "input":
				_, checked := attribute(c, "checked")
				switch {
				case name == "" || kind == "file" || (kind == "checkbox" || kind == "radio") && !checked:
				default:
					f.fields.Add(name, value)
					if kind == "text" || kind == "" {
						f.typed = append(f.typed, name)
					}
				}
			case "textarea":
				text := ""
				if c.FirstChild != nil {
					text = c.FirstChild.Data
				}
				f.fields.Add(name, text)
				f.typed = append(f.typed, name)
			case "select":
				first, chosen := "", ""
				for o := range c.Descendants() {
					if o.Data == "option" {
						value, _ := attribute(o, "value")
						if _, here := attribute(o, "selected"); here {
							chosen = value
						} else if first == "" {
							first = value
						}
					}
				}
				if chosen == "" {
					chosen = first
				}
				f.fields.Add(name, chosen)
			}
		}
		if len(buttons) == 0 {
			list = append(list, f)
		}
		for _, b := range buttons {
			g := f
			g.fields = maps.Clone(f.fields)
			if name, ok := attribute(b, "name"); ok {
				value, _ := attribute(b, "value")
				g.fields.Set(name, value)
			}
			if m, ok := attribute(b, "formmethod"); ok {
				g.method = strings.ToUpper(m)
			}
			if a, ok := attribute(b, "formaction"); ok {
				g.action = a
			}
			list = append(list, g)
		}
	}
	return list
}

// spoiled is a form into every field of which the same was typed.
func (f form) spoiled(with string) form {
	f.fields = maps.Clone(f.fields)
	for _, name := range f.typed {
		f.fields[name] = slices.Repeat([]string{with}, len(f.fields[name]))
	}
	return f
}

// words are the texts of a page: text nodes, and attributes that are read aloud, shown or announced.
func words(body string) []string {
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		return nil
	}
	var list []string
	add := func(s string) { // no-break spaces stay
		if s = strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r <= ' ' }), " "); s != "" {
			list = append(list, s)
		}
	}
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && slices.Contains([]string{"style", "script", "code", "textarea"}, n.Data) {
			return
		}
		if n.Type == html.TextNode {
			add(n.Data)
		}
		for _, a := range n.Attr {
			if slices.Contains([]string{"aria-label", "title", "placeholder", "alt"}, a.Key) ||
				strings.HasPrefix(a.Key, "data-") &&
					!slices.Contains([]string{"data-try", "data-field", "data-columns", "data-handle", "data-way"},
						a.Key) {
				add(a.Val)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	return list
}

// same are the texts that stand alike in both languages.
var same = slices.Concat(
	// words of both
	[]string{"points", "question"},
	[]string{"Gains", "Pages", "Rotation", "Site", "code", "gain", "gains", "Menu", "minutes",
		"net", "part", "regret", "site",
		"sites", "source", "variance", "variation", "litres"},
	// and headings made of them
	[]string{"contact, minutes", "gain, %", "gain, % (95 %)", "Gains · spile", "Rotation · spile"},
	// units and codes of standards
	[]string{"°Bx", "(°Bx)", "°Brix", "kg", "lb", "fraction", "USD",
		"(USD)", "CSV", "PDF", "PNG", "SVG", "XLSX", "US", "CA"},
	[]string{"Kenward-Roger", "Wald"}, // authors of methods
	// names: of the program, of its file, a caveat of the demo's own
	[]string{"spile", "spile test", "spile test · w.spile", "unequal slope", "unequal-slope", "http://" + lan + "/"},
)

// named is what the demo's own files say: names, sites, sources.
func named() []string {
	in := wholeDemo()
	list := []string{"Ada", "Larkmoor releasers", "CIMMYT", "scenario", "w.spile"}
	for _, s := range in.Studies {
		list = append(list, s.Name, s.Site, s.Source, s.Weather, s.Funding, s.Trial)
	}
	for _, a := range in.Prices.Assumptions() {
		list = append(list, a.Value.Source)
	}
	for _, b := range in.Bushes {
		list = append(list, b.Name)
		for _, k := range b.Keys {
			if section, ok := strings.CutPrefix(k.Key, "section."); ok {
				name, _, _ := strings.Cut(section, ".")
				list = append(list, name)
			}
		}
	}
	return list
}

// keys are names of files, and lists of the keys and words in them, which are the same in every language.
var keys = regexp.MustCompile(`\b[a-z-]+\.(csv|svg)\b|\b[a-z][a-z0-9_-]*(, [a-z][a-z0-9_-]*){3,}`)

// typed is a number in a field, and point a number with a decimal point, which French does not write; nor does it write
// a colon without a space.
var (
	typed = regexp.MustCompile(`<input type="text"[^>]* value="[0-9]+\.[0-9]+"`)
	colon = regexp.MustCompile(`[^ \x{a0}0-9/]: `) // in French a space stands before it
	point = regexp.MustCompile(`(^|[^0-9./-])[0-9]+\.[0-9]+($|[^0-9./])`)
)

// loose is what is not set as in Québec: a plain space where a row must not break, a straight quote, a code of money
// beside a sum.
var loose = regexp.MustCompile(`[\p{L}\d)] [:»%](\s|$)|« |\p{L}'\p{L}|(^|\s)"\p{L}|\d[\s\x{a0}](USD|CAD)\b`)

// aFile is a name of a figure or a table as a file.
var aFile = regexp.MustCompile(`^[a-z0-9-]+\.(csv|svg)$`)

// sum is a digest of a file's content.
var sum = regexp.MustCompile(`^[0-9a-f]{12,64}$`)

var letters = regexp.MustCompile(`\p{L}{2,}`)

// untranslated are the texts of a page in French that stand in English on the same page.
func untranslated(inEnglish, inFrench string, given []string) []string {
	english := map[string]bool{}
	for _, w := range words(inEnglish) {
		english[w] = true
	}
	var list []string
	for _, w := range words(inFrench) {
		rest := w
		for _, g := range given {
			if g != "" {
				rest = strings.ReplaceAll(rest, g, "")
			}
		}
		if english[w] && !slices.Contains(same, w) && !sum.MatchString(w) && !aFile.MatchString(w) &&
			letters.MatchString(rest) && !slices.Contains(list, w) {
			list = append(list, w)
		}
	}
	return list
}

// Who chose French finds no text of the workbench in English: on no page that a link leads to, in no figure, in no
// answer to a form that is empty or filled with what it cannot take.
func TestEveryPageInFrenchSaysNothingInEnglish(t *testing.T) {
	long(t)
	en, fr := reads(t, "en"), reads(t, "fr")
	// a title, and words of files
	given := append(named(), "From Agronomic Data to Farmer Recommendations", "ni yes ni no", "yes, no",
		"la colonne study", "la colonne season", "new-drop", "drop_age", "check-valve; silver-spout")
	// Ontario is Ontario
	for _, code := range place.Listed() {
		if name := place.Name(code, language.English); name == place.Name(code, language.French) {
			given = append(given, name+" ("+code+")")
		}
	}
	slices.SortFunc(given, func(a, b string) int { return len(b) - len(a) })
	found := map[string]string{} // text to where it stands first
	compare := func(at string, e, f *httptest.ResponseRecorder) {
		t.Helper()
		if e.Code != f.Code {
			t.Errorf("%s: %d in English, %d in French", at, e.Code, f.Code)
		}
		kind := f.Header().Get("Content-Type")
		a, b := e.Body.String(), f.Body.String()
		if strings.HasPrefix(kind, "text/plain") {
			a, b = html.EscapeString(a), html.EscapeString(b)
		} else if !strings.HasPrefix(kind, "text/html") && !strings.HasPrefix(kind, "image/svg") {
			return
		}
		if file := strings.HasPrefix(at, "/report") ||
			strings.HasPrefix(at, "/handout.html"); strings.HasPrefix(kind, "text/html") && !file &&
			!strings.Contains(b, `<a class="tongue" href="/language/en" lang="en" hreflang="en">English</a>`) {
			t.Errorf("%s: no way to English", at)
		}
		for _, w := range append(words(b), typed.FindAllString(b, -1)...) {
			rest := w
			for _, g := range given {
				if g != "" {
					rest = strings.ReplaceAll(rest, g, "")
				}
			}
			if (point.MatchString(rest) || colon.MatchString(rest) || loose.MatchString(rest)) && found[w] == "" {
				found[w] = at
			}
		}
		for _, w := range untranslated(a, b, given) {
			if found[w] == "" {
				found[w] = at
			}
		}
		b = keys.ReplaceAllString(b, "")
		if text := leftover(t, b, given); text != "" && found[text] == "" {
			found[text] = at
		}
	}
	pages, kinds := map[string]string{}, map[string]int{}
	queue := []string{"/", "/nowhere", "/profit?wage=x", "/profit?wage=31", "/figure/net.svg?wage=x",
		"/trials/of?name=nothing", "/study?name=nothing", "/rule?of=nothing", "/figure/nothing.svg",
		"/profit/budget/nothing", "/sugarbush?name=x&first_season=x", "/handout?first_season=0", "/sure?across=x",
		"/worth?taps=x", "/handout.html"}
	for ; len(queue) > 0; queue = queue[1:] {
		at := queue[0]
		path, _, _ := strings.Cut(at, "?")
		if _, seen := pages[at]; seen || kinds[path] > 1 || strings.HasPrefix(path, "/language/") ||
			strings.HasPrefix(path, "/asset/") || strings.HasSuffix(path, ".png") || strings.HasSuffix(path, ".pdf") ||
			strings.HasSuffix(path, ".xlsx") || at == "/trust?wage=31" { // it says what /trust says, and takes long
			continue
		}
		kinds[path]++
		e, f := en.do("GET", at, "", nil), fr.do("GET", at, "", nil)
		compare(at, e, f)
		pages[at] = f.Body.String()
		for _, m := range links.FindAllStringSubmatch(pages[at], -1) {
			queue = append(queue, html.UnescapeString(m[1]))
		}
	}
	t.Logf("%d pages", len(pages))
	// What the forms answer to nothing and to nonsense.
	sent := map[string]bool{}
	answers := 0
	var asking, changing []form // the former first, while what was worked out for the pages is at hand
	for _, at := range slices.Sorted(maps.Keys(pages)) {
		for _, f := range forms(at, pages[at]) {
			if f.on = at; f.method == http.MethodGet {
				asking = append(asking, f)
			} else {
				changing = append(changing, f)
			}
		}
	}
	for _, f := range append(asking, changing...) {
		for _, with := range []string{"", "x", "-1"} {
			g := f.spoiled(with)
			key := fmt.Sprint(g.action, g.fields["do"], with, g.fields["kind"])
			if sent[key] {
				continue
			}
			sent[key] = true
			answers++
			compare(fmt.Sprintf("%s on %s with %q", g.action, g.on, with), en.send(g), fr.send(g))
		}
	}
	t.Logf("%d answers of forms", answers)
	// What a phone at the trees sees.
	year := url.Values{"trial": {"Larkmoor releasers"}, "season": {"2025"}}.Encode()
	tokens := map[*reader]string{}
	phone := func(r *reader, method, address string, form url.Values) *httptest.ResponseRecorder {
		q := httptest.NewRequest(method, "http://"+lan+address, strings.NewReader(form.Encode()))
		q.AddCookie(&http.Cookie{Name: page.LanguageKey, Value: r.lang})
		if tokens[r] != "" {
			q.AddCookie(&http.Cookie{Name: trees.PhoneKey, Value: tokens[r]})
		}
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		r.phones.ServeHTTP(w, q)
		for _, c := range w.Result().Cookies() {
			if c.Name == trees.PhoneKey {
				tokens[r] = c.Value
			}
		}
		return w
	}
	both := func(method, address string, form url.Values) {
		compare("phone "+method+" "+address, phone(en, method, address, form), phone(fr, method, address, form))
	}
	both("GET", "/", nil)
	both("POST", "/", nil)
	both("POST", "/", url.Values{"who": {"Bo"}, "code": {"1"}})
	for _, r := range []*reader{en, fr} {
		phone(r, "POST", "/", url.Values{"who": {"Bo"}, "code": {r.code}})
		if tokens[r] == "" {
			t.Error("no phone was let in")
		}
	}
	both("GET", "/", nil)
	both("GET", "/profit", nil)
	both("GET", page.ReadPath+"?"+year, nil)
	both("POST", page.ReadPath,
		url.Values{"trial": {"Larkmoor releasers"}, "season": {"2025"}, "date": {"2025-04-09"}, "do": {"all"},
			"n0": {"x"}})
	for _, w := range slices.Sorted(maps.Keys(found)) {
		t.Errorf("%s: %q", found[w], w)
	}
}

// The longer words of French leave no page, on a phone and on a desk.
func TestFrenchFitsThePage(t *testing.T) {
	r := reads(t, "fr")
	b := browseOn(t, r.Handler, nil)
	b.open("/language/fr")
	pages := append(slices.Clone(workPages), "/profit", "/profit/closer", "/sure", "/next-trial", "/gains",
		"/gains/closer", "/rotation", "/evidence", "/sugarbush", "/trials", "/trials/new",
		page.TrialAddress("Larkmoor releasers"),
		page.LogAddress("Larkmoor releasers", 2025),
		page.ReadPath+"?"+url.Values{"trial": {"Larkmoor releasers"}, "season": {"2025"}}.Encode(),
		"/sugarbush?"+url.Values{"of": {wholeDemo().Bushes[0].Name}}.Encode(),
		"/handout?"+url.Values{"of": {wholeDemo().Bushes[0].Name}}.Encode())
	for _, width := range []int64{390, 1280} {
		b.do(chromedp.EmulateViewport(width, 900))
		for _, p := range pages {
			b.open(p)
			if lang := eval[string](b, "document.documentElement.lang"); lang != "fr-CA" {
				t.Fatalf("%s is in %s", p, lang)
			}
			if wide := eval[float64](b, "document.documentElement.scrollWidth"); wide > float64(width) {
				t.Errorf("%s is %v px wide on %d", p, wide, width)
			}
		}
	}
}
