package publish_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"spile/internal/view/publish"
)

// reader is a browser on the published page, with every network but this machine refused. What the console says of
// errors fails the test.
type reader struct {
	testing.TB
	ctx context.Context
}

func open(t testing.TB, width int64) *reader {
	t.Helper()
	if os.Getenv("SPILE_BROWSER") == "" {
		t.Skip("make browser runs it")
	}
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		t.Skip("NOT RUN: no Chromium")
	}
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("proxy-server", "127.0.0.1:9")}
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, cancel := chromedp.NewContext(t.Context(), chromedp.WithAllocatorOptions(options...))
	heard := make(chan struct{})
	t.Cleanup(func() { cancel(); <-heard })
	r := &reader{t, ctx}
	r.do(chromedp.EmulateViewport(width, 800))
	said := chromedp.Console(ctx)
	go func() {
		defer close(heard)
		for m, err := range said {
			if err != nil {
				return
			}
			if m.IsException() || m.Type == "error" {
				t.Errorf("console: %s", m.String())
			}
		}
	}()
	return r
}

func (r *reader) do(actions ...chromedp.Action[chromedp.Void]) {
	r.Helper()
	if err := chromedp.Do(r.ctx, actions...); err != nil {
		r.Fatal(err)
	}
}

func eval[V any](r *reader, js string) V {
	r.Helper()
	v, err := chromedp.Run(r.ctx, chromedp.Evaluate[V](js))
	if err != nil {
		r.Fatalf("%s: %v", js, err)
	}
	return v
}

// until waits for a condition on the page, and says how long that took.
func (r *reader) until(js string) time.Duration {
	r.Helper()
	from := time.Now()
	for time.Since(from) < 2*time.Minute {
		if yes, err := chromedp.Run(r.ctx, chromedp.Evaluate[bool](js)); yes && err == nil {
			return time.Since(from)
		}
		time.Sleep(20 * time.Millisecond)
	}
	r.Fatalf("never: %s; the page says %q", js, eval[string](r, "document.querySelector('"+shown+" .own').innerText"))
	return 0
}

// shown is the page in the language that is shown.
const shown = "main:not([hidden])"

// enter types into a field of the page, as a reader does.
func (r *reader) enter(name, value string) {
	r.Helper()
	eval[bool](r, fmt.Sprintf(`(() => { const x = document.querySelector('%s').querySelector('[name="%s"]');
		x.value = %q; x.dispatchEvent(new Event('input', {bubbles: true})); return true; })()`, shown, name, value))
}

func (r *reader) press(what string) {
	r.Helper()
	eval[bool](r, fmt.Sprintf(`(() => { document.querySelector('%s [data-do="%s"]').click(); return true; })()`, shown, what))
}

// shoot keeps a picture where SPILE_SHOTS says.
func (r *reader) shoot(name string) {
	if dir := os.Getenv("SPILE_SHOTS"); dir != "" {
		png, err := chromedp.Run(r.ctx, chromedp.FullScreenshot(90))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644)
		}
		if err != nil {
			r.Fatal(err)
		}
	}
}

func has(what string) string { return fmt.Sprintf("!!document.querySelector('%s %s')", shown, what) }

func TestOwnNumbersFromAFile(t *testing.T) {
	for _, width := range []int64{1280, 320} {
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			r := open(t, width)
			r.do(chromedp.Navigate(asFile(t)))
			r.until("performance.getEntriesByName('engine').length > 0")
			r.shoot(fmt.Sprint("first-", width))
			if wide := eval[int64](r, "document.documentElement.scrollWidth"); wide > width {
				t.Errorf("the page is %d px wide", wide)
			}
			r.enter("1.taps", "3200")
			r.enter("wage", "31")
			r.until(has("[data-own] .t-single-season"))
			text := eval[string](r, "document.querySelector('"+shown+" [data-own]').innerText")
			if !strings.Contains(text, "3,200") {
				t.Errorf("no word of 3,200 taps: %s", text)
			}
			r.shoot(fmt.Sprint("own-", width))
			eval[bool](r, "performance.clearMarks() || true")
			r.enter("wage", "26")
			r.until("performance.getEntriesByName('sure').length > 0")
			r.press("plan")
			r.until(has("[data-plan] .side"))
			r.until("document.querySelector('" + shown + " [data-status]').textContent === ''")
			r.shoot(fmt.Sprint("plan-", width))
		})
	}
}

// Without a script the station's answer stands, in the language that the address names, and prints.
func TestWithoutAScript(t *testing.T) {
	r := open(t, 360)
	if _, err := chromedp.Call(r.ctx, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	r.do(chromedp.Navigate(asFile(t) + "#fr"))
	r.do(chromedp.WaitVisible("main#fr .lead"), chromedp.WaitNotVisible("main#en .lead"))
	r.shoot("bare-fr")
	pdf, err := chromedp.Call(r.ctx, page.PrintToPDF, page.PrintToPDFParams{})
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(pdf.Data, []byte("%PDF")) {
		t.Errorf("it prints %.20q", pdf.Data)
	}
	if dir := os.Getenv("SPILE_SHOTS"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, "bare.pdf"), pdf.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// folder is the page in its parts, written.
func folder(t *testing.T) string {
	t.Helper()
	a, z := found()
	parts, err := publish.Folder(a, z, options)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for name, data := range parts {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// On a web host the engine and the evidence stand beside the page, and nothing else is asked for.
func TestAFolderOnAHost(t *testing.T) {
	r := open(t, 1280)
	dir := folder(t)
	var mu sync.Mutex
	asked := map[string]int{}
	files := http.FileServer(http.Dir(dir))
	host := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		mu.Lock()
		asked[q.URL.Path]++
		mu.Unlock()
		files.ServeHTTP(w, q)
	}))
	t.Cleanup(host.Close)
	r.do(chromedp.Navigate(host.URL + "/#lang=fr&units=metric&1.taps=3200&wage=31,5"))
	r.until(has("[data-own] .t-single-season"))
	mu.Lock()
	defer mu.Unlock()
	delete(asked, "/favicon.ico")
	if want := map[string]int{"/": 1, "/engine.bin": 1, "/evidence.bin": 1}; !maps.Equal(asked, want) {
		t.Errorf("it asked for %v, and may for %v", asked, want)
	}
}

// axe is the script of axe-core (Deque Systems), had by npm for the time of a test.
func axe(t *testing.T) string {
	dir := t.TempDir()
	get := exec.Command("sh", "-c", "npm pack --silent axe-core@4.14.1 && tar xzf axe-core-*.tgz")
	get.Dir = dir
	if out, err := get.CombinedOutput(); err != nil {
		t.Skipf("NOT RUN: npm does not give axe-core: %v %s", err, out)
	}
	script, err := os.ReadFile(filepath.Join(dir, "package", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	return string(script)
}

// violations are the rules of axe-core that the page breaks now.
const violations = `axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.map(v => v.id + ": " +
	v.nodes.slice(0, 3).map(n => n.html.slice(0, 120)).join(" | ")).join("\n"))`

// A producer types sections and prices, in both languages, on a desk and on a phone; changes the units; plans, prints
// the sheet on two sides; sends the link; has it kept on the phone, and forgotten.
func TestAsAProducer(t *testing.T) {
	r := open(t, 1280)
	script, file := axe(t), asFile(t)
	for _, c := range []struct {
		lang, scheme string
		width        int64
		wage, more   string
		says         string // of the plan
	}{
		{"en", "light", 1280, "31", "4.5", "section 2"},
		{"fr", "dark", 360, "31,5", "4,5", "section 2"},
	} {
		text := func(what string) string {
			return eval[string](r, fmt.Sprintf("document.querySelector('%s %s').innerText", shown, what))
		}
		value := func(name string) string {
			return eval[string](r, fmt.Sprintf(`document.querySelector('%s [name="%s"]').value`, shown, name))
		}
		if _, err := chromedp.Call(r.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: c.scheme}}}); err != nil {
			t.Fatal(err)
		}
		r.do(chromedp.EmulateViewport(c.width, 800), chromedp.Navigate("about:blank"),
			chromedp.Navigate(file+"#"+c.lang))
		r.until("performance.getEntriesByName('engine').length > 0")
		r.enter("1.taps", "3200")
		r.enter("1.vacuum_inhg", "25")
		r.press("section")
		r.enter("2.taps", "900")
		r.enter("wage", c.wage)
		r.press("plan")
		r.until(has("[data-plan] .side"))
		const still = "document.querySelector('" + shown + " [data-status]').textContent === ''"
		r.until(still)
		if plan := text("[data-plan]"); !strings.Contains(plan, c.says) {
			t.Errorf("%s: the plan does not name %q: %.300s", c.lang, c.says, plan)
		}
		// what is typed, as paper has it: each section's numbers under its name, and the wage under none
		typed := eval[string](r, "document.querySelector('"+shown+" [data-typed]').textContent")
		if strings.Count(typed, "3200") != 1 || strings.Count(typed, "section ") != 2 ||
			!strings.Contains(typed, map[string]string{"en": "; wage: 31 ",
				"fr": "; salaire horaire\u00a0: 31,5 "}[c.lang]) {
			t.Errorf("%s: it prints %q", c.lang, typed)
		}
		if wide := eval[int64](r, "document.documentElement.scrollWidth"); wide > c.width {
			t.Errorf("%s: the page is %d px wide", c.lang, wide)
		}
		if !eval[bool](r, `[...document.querySelectorAll("main > section:not(.own) svg text")].every(x => {
			const at = x.getBoundingClientRect();
			return at.width === 0 || at.left >= x.closest("main > section").getBoundingClientRect().left;
		})`) {
			t.Errorf("%s: a figure is cut at its edge", c.lang)
		}
		r.shoot("producer-" + c.lang)
		eval[any](r, script+";0")
		said, err := chromedp.Run(r.ctx, chromedp.Evaluate[string](violations, chromedp.EvalAwaitPromise))
		if err != nil || said != "" {
			t.Errorf("%s by %s: %v %s", c.lang, c.scheme, err, said)
		}
		// the sheet alone, on two sides of paper
		eval[bool](r, "window.print = () => { window.printed = document.body.className; return true; }; true")
		r.press("print")
		if class := eval[string](r, "window.printed"); !strings.Contains(class, "handout-page") {
			t.Errorf("%s: it prints %q", c.lang, class)
		}
		eval[bool](r, "document.body.classList.add('handout-page'); true")
		pdf, err := chromedp.Call(r.ctx, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: new(true)})
		if err != nil {
			t.Fatal(err)
		}
		if n := bytes.Count(pdf.Data, []byte("/Type /Page\n")); n != 2 {
			t.Errorf("%s: the sheet has %d sides", c.lang, n)
		}
		if dir := os.Getenv("SPILE_SHOTS"); dir != "" {
			if err := os.WriteFile(filepath.Join(dir, "sheet-"+c.lang+".pdf"), pdf.Data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		eval[bool](r, "document.body.classList.remove('handout-page'); true")
		// the file is saved, and what was worked out stays as plain as it was
		eval[bool](r, "HTMLAnchorElement.prototype.click = () => { window.saved = true; }; true")
		r.press("file")
		r.until("window.saved === true")
		if eval[bool](r, has(".late")) {
			t.Errorf("%s: once the file is saved the answer is shown as if it were late", c.lang)
		}
		// other units: what was typed stays the same vacuum
		r.enter("units", "metric")
		r.until(`!!document.querySelector('` + shown + ` [name="1.vacuum_kpa"]')`)
		if got := strings.ReplaceAll(value("1.vacuum_kpa"), ",", "."); !strings.HasPrefix(got, "84.6") { // 25 × 3.386
			t.Errorf("%s: 25 inHg are %s kPa", c.lang, got)
		}
		r.until(still)
		// the link holds it, and whoever opens it sees the same
		r.press("link")
		link := eval[string](r, "document.querySelector('"+shown+" [data-link]').value")
		own := text("[data-own]")
		r.do(chromedp.Navigate("about:blank"), chromedp.Navigate(link))
		r.until(has("[data-own] .t-single-season"))
		r.until(still)
		if got := text("[data-own]"); got != own {
			t.Errorf("%s: the link says %.300q, and the page said %.300q", c.lang, got, own)
		}
		if value("2.taps") != "900" {
			t.Errorf("%s: the link holds %q taps of the second section", c.lang, value("2.taps"))
		}
		// kept, and forgotten
		tick := "document.querySelector('" + shown + " [name=keep]').click(); true"
		kept := "Object.keys(localStorage).length"
		eval[bool](r, tick)
		r.until(kept + " === 1")
		r.do(chromedp.Navigate("about:blank"), chromedp.Navigate(file))
		r.until(has("[data-own] .marks"))
		if value("2.taps") != "900" || eval[string](r, "document.documentElement.lang")[:2] != c.lang {
			t.Errorf("%s: it kept %q taps", c.lang, value("2.taps"))
		}
		eval[bool](r, tick)
		r.until(kept + " === 0")
		// once nothing is typed nothing is printed as if it were
		r.press("clear")
		r.until("!" + has("[data-own] .marks"))
		if typed := eval[string](r, "document.querySelector('"+shown+" [data-typed]').textContent"); typed != "" {
			t.Errorf("%s: of an empty form it prints %q", c.lang, typed)
		}
		if asked := eval[int](r, `performance.getEntriesByType("resource").filter(x => !/^(blob|data):/.test(x.name)).length`); asked != 0 {
			t.Errorf("%s: it asked for %d things elsewhere", c.lang, asked)
		}
	}
}

// A link is read in the units that it says, whatever the form began in, and what the page does not ask for is named;
// who changes the language midway keeps numbers and units: English 2,400 is no French 2,4, and 68 litres are no 68
// gallons.
func TestUnitsAndLanguageMidway(t *testing.T) {
	r := open(t, 360)
	value := func(name string) string {
		return eval[string](r, fmt.Sprintf(`document.querySelector('%s [name="%s"]').value`, shown, name))
	}
	unit := func(name string) string {
		at := fmt.Sprintf(`document.querySelector('%s [name="%s"]')`, shown, name)
		return eval[string](r, at+".closest('.blank').innerText")
	}
	ready := func(lang, name string) {
		r.until("document.documentElement.lang.startsWith('" + lang + "') && " + has(`[name="`+name+`"]`))
	}
	file := asFile(t)
	r.do(chromedp.Navigate(file + "#lang=en&units=metric&1.yield=68&1.vacuum_kpa=84&1.taps=2,400&old.price=5"))
	ready("en", "1.vacuum_kpa")
	got := value("1.yield") + " " + value("1.vacuum_kpa")
	if got != "68 84" || strings.Contains(unit("1.yield"), "gal") {
		t.Errorf("the link's numbers became %q: %q", got, unit("1.yield"))
	}
	left := eval[string](r, "document.querySelector('"+shown+" p[data-left]').innerText")
	if !strings.Contains(left, "old.price") {
		t.Errorf("no word of a number that is not asked for: %q", left)
	}
	eval[bool](r, "document.querySelector('"+shown+" [data-tongue=fr]').click(); true")
	ready("fr", "1.vacuum_kpa")
	got = value("1.yield") + " " + value("1.taps")
	if got != "68 2400" || strings.Contains(unit("1.yield"), "gal") {
		t.Errorf("in French they are %q: %q", got, unit("1.yield"))
	}
	r.until(has("[data-own] .t-single-season"))
	// other units: what was typed with the other decimal mark, or a mark at its end, is the same sap
	for _, c := range []struct{ lang, typed, want string }{ // US gallons of 3.78541 L
		{"en", "16,5", "62.459"}, {"en", "−16.5", "-62.459"}, {"en", "0,500", "1.8927"}, {"en", "1,000", "3785.4"},
		{"en", "1 000,5", "3787.3"}, {"fr", "5,", "18,927"}, {"fr", "16.5", "62,459"}, {"fr", "1,000", "3,7854"},
	} {
		r.do(chromedp.Navigate("about:blank"), chromedp.Navigate(file+"#lang="+c.lang+"&units=us"))
		r.until("performance.getEntriesByName('engine').length > 0")
		r.enter("1.yield", c.typed)
		r.enter("units", "metric")
		ready(c.lang, "1.vacuum_kpa")
		if got := value("1.yield"); got != c.want {
			t.Errorf("%s: %q gallons are %q litres, and %s", c.lang, c.typed, got, c.want)
		}
	}
	// another link opened in the same tab, with units that nobody has heard of
	eval[bool](r, "location.hash = '#lang=en&units=fathoms&1.taps=900'; true")
	ready("en", "1.vacuum_inhg")
	r.until(has("[data-own] .marks"))
	if got := value("units") + " " + value("1.taps"); got != "us 900" {
		t.Errorf("such a link gives %q", got)
	}
}

// Who changes the language of a link, or types, before the engine is open loses no number; of a form that has not the
// units chosen no link and no file is made.
func TestALinkBeforeTheEngine(t *testing.T) {
	r := open(t, 360)
	file := asFile(t) + "#lang=en&units=metric&1.taps=900&1.yield=68"
	// before is what is done as soon as the page stands, ahead of all that comes from the engine
	before := func(js string) {
		t.Helper()
		r.do(chromedp.Navigate("about:blank"))
		id, err := chromedp.Call(r.ctx, page.AddScriptToEvaluateOnNewDocument,
			page.AddScriptToEvaluateOnNewDocumentParams{
				Source: "addEventListener('DOMContentLoaded', () => {" + js + "})"})
		if err != nil {
			t.Fatal(err)
		}
		r.do(chromedp.Navigate(file))
		if _, err := chromedp.Call(r.ctx, page.RemoveScriptToEvaluateOnNewDocument,
			page.RemoveScriptToEvaluateOnNewDocumentParams(id)); err != nil {
			t.Fatal(err)
		}
		r.until(has(`[name="1.vacuum_kpa"]`))
	}
	value := func(name string) string {
		return eval[string](r, fmt.Sprintf(`document.querySelector('%s [name="%s"]').value`, shown, name))
	}
	typing := func(name, text string) string {
		return fmt.Sprintf(`{ const x = document.querySelector('%s [name="%s"]'); x.value = %q;
			x.dispatchEvent(new Event('input', {bubbles: true})); }`, shown, name, text)
	}
	press := "document.querySelector('" + shown + " [data-tongue=fr]').click();"
	locked := "window.locked = document.querySelectorAll('" + shown +
		" :is([data-do=link],[data-do=file]):disabled').length;"
	before(locked + press)
	lang := eval[string](r, "document.documentElement.lang")[:2]
	if got := value("1.taps") + " " + value("1.yield") + " " + lang; got != "900 68 fr" {
		t.Errorf("in French before the engine is open, the link's numbers are %q", got)
	}
	if n := eval[int](r, "window.locked"); n != 2 {
		t.Errorf("%d of link and file wait for the units", n)
	}
	if eval[bool](r, has(":is([data-do=link],[data-do=file]):disabled")) {
		t.Error("once the units are there link and file still wait")
	}
	before(typing("1.taps", "1200") + typing("1.vacuum_inhg", "25"))
	got := value("1.taps") + " " + value("1.yield") + " " + value("1.vacuum_kpa")
	if got != "1200 68 84.66" { // 25 × 3.38639
		t.Errorf("typed over before the engine is open, the link's numbers are %q", got)
	}
	before(typing("1.taps", "1200") + typing("1.vacuum_inhg", "25") + press)
	got = value("1.taps") + " " + value("1.yield") + " " + value("1.vacuum_kpa")
	if got != "1200 68 84,66" {
		t.Errorf("typed over and in French, the link's numbers are %q", got)
	}
	r.until(has("[data-own] .marks"))
}

// A folder's page opened as a file says why it works nothing out, and stands.
func TestAFolderAsAFile(t *testing.T) {
	r := open(t, 360)
	dir := folder(t)
	r.do(chromedp.Navigate("file://" + filepath.Join(dir, "index.html")))
	r.until("document.querySelector('" + shown + " [data-status]').textContent.includes('web host')")
	if !eval[bool](r, "document.querySelector('"+shown+" .lead').checkVisibility()") {
		t.Error("the station's answer does not stand")
	}
}

// What the page weighs, and how long a reader waits for it, each beside what was asked of it. Chromium slows the
// thread of the page fourfold, and says of its workers nothing. The seconds are those of the page's own clock, which
// starts when it is opened.
func BenchmarkPage(b *testing.B) {
	file := station()
	var wire bytes.Buffer
	packed, _ := gzip.NewWriterLevel(&wire, gzip.BestCompression)
	if _, err := packed.Write(file); err != nil {
		b.Fatal(err)
	}
	if err := packed.Close(); err != nil {
		b.Fatal(err)
	}
	r := open(b, 360)
	r.do(chromedp.Navigate("about:blank"))
	empty := private(b)
	if _, err := chromedp.Call(r.ctx, emulation.SetCPUThrottlingRate,
		emulation.SetCPUThrottlingRateParams{Rate: 4}); err != nil {
		b.Fatal(err)
	}
	sections := ""
	for n := 1; n <= 12; n++ {
		sections += fmt.Sprintf("&%d.taps=%d&%d.vacuum_inhg=%d", n, 300+100*n, n, 14+n)
	}
	// marked is when the page first did a thing; since then clears what it did, and does another.
	marked := func(what string) float64 {
		mark := "performance.getEntriesByName('" + what + "')"
		r.until(mark + ".length > 0")
		return eval[float64](r, mark+"[0].startTime / 1000")
	}
	since := func(do string) float64 {
		return eval[float64](r, "(() => { performance.clearMarks(); const now = performance.now(); "+do+
			"; return now / 1000; })()")
	}
	for b.Loop() {
		r.do(chromedp.Navigate("about:blank"), chromedp.Navigate(asFile(b)+"#lang=en&1.taps=3200&wage=31"))
		ranked, chances := marked("rank"), marked("sure")
		painted := eval[float64](r, "performance.getEntriesByName('first-contentful-paint')[0].startTime / 1000")
		from := since(fmt.Sprintf("const x = document.querySelector('%s [name=wage]'); x.value = '26'; "+
			"x.dispatchEvent(new Event('input', {bubbles: true}))", shown))
		again, sure := marked("rank")-from, marked("sure")-from
		r.do(chromedp.Navigate("about:blank"), chromedp.Navigate(asFile(b)+"#lang=en"+sections))
		marked("sure")
		from = since(fmt.Sprintf("document.querySelector('%s [data-do=plan]').click()", shown))
		planned := marked("plan") - from
		for name, x := range map[string]float64{
			"file-MB(<=5)": float64(len(file)) / 1e6, "wire-MB(<=3.7)": float64(wire.Len()) / 1e6,
			"painted-s(<1)": painted, "ranked-s(<=4)": ranked, "chances-s(<=6)": chances,
			"changed-s(<=0.3)": again, "changed-chances-s(<=1.2)": sure, "plan12-s(<=3)": planned,
			"memory-MB(<=80)": private(b) - empty,
		} {
			b.ReportMetric(x, name)
		}
	}
}

// private is the memory, in MB, that the browser's pages have to themselves, as Linux counts it.
func private(b *testing.B) float64 {
	found, err := filepath.Glob("/proc/[0-9]*/status")
	if err != nil {
		b.Fatal(err)
	}
	parents, mine, sizes := map[int]int{}, []int{}, map[int]float64{}
	for _, name := range found {
		status, err := os.ReadFile(name)
		line, err2 := os.ReadFile(filepath.Join(filepath.Dir(name), "cmdline"))
		if err != nil || err2 != nil {
			continue // it has ended
		}
		var pid, parent int
		var kB float64
		for s := range strings.Lines(string(status)) {
			fmt.Sscanf(s, "Pid: %d", &pid)
			fmt.Sscanf(s, "PPid: %d", &parent)
			fmt.Sscanf(s, "RssAnon: %f", &kB)
		}
		parents[pid], sizes[pid] = parent, kB/1000
		if bytes.Contains(line, []byte("--type=renderer")) {
			mine = append(mine, pid)
		}
	}
	whole := 0.0
	for _, pid := range mine {
		for up := pid; up > 1; up = parents[up] {
			if up == os.Getpid() {
				whole += sizes[pid]
				break
			}
		}
	}
	return whole
}
