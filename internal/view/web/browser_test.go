package web

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// tab is a browser tab on a workbench of its own. What the console says of errors fails the test.
type tab struct {
	*testing.T
	ctx   context.Context
	base  string
	quiet atomic.Bool // errors of the network are expected
}

// browse opens a tab. slow, where not nil, is called before each answer.
func browse(t *testing.T, slow func(*http.Request)) *tab {
	t.Helper()
	return browseOn(t, nil, slow)
}

// browseOn opens a tab on a workbench; nil is the one over files.
func browseOn(t *testing.T, h http.Handler, slow func(*http.Request)) *tab {
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
	if h == nil {
		h = served()
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if slow != nil {
			slow(r)
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path),
		chromedp.Flag("disable-background-networking", true), chromedp.DisableGPU}
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, cancel := chromedp.NewContext(t.Context(), chromedp.WithAllocatorOptions(options...))
	heard := make(chan struct{})
	t.Cleanup(func() {
		cancel()
		<-heard
	})
	b := &tab{T: t, ctx: ctx, base: server.URL}
	b.do(chromedp.EmulateViewport(1280, 900))
	said := chromedp.Console(ctx)
	go func() {
		defer close(heard)
		for m, err := range said {
			if err != nil {
				return
			}
			// An answer to bad input is a 422, which the browser notes as an error of the network.
			if text := m.String(); (m.IsException() || m.Type == "error") && !strings.Contains(text, "422") &&
				!b.quiet.Load() {
				t.Errorf("console: %s", text)
			}
		}
	}()
	return b
}

func (b *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.Fatal(err)
	}
}

func (b *tab) open(path string) {
	b.Helper()
	b.do(chromedp.Navigate(b.base + path))
}

func eval[V any](b *tab, js string) V {
	b.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[V](js))
	if err != nil {
		b.Fatalf("%s: %v", js, err)
	}
	return v
}

// until waits for a condition on the page, also while another page takes its place, when nothing can be asked.
func (b *tab) until(js string) {
	b.Helper()
	for range 2400 { // a minute, and more where the machine is busy
		// of a page that is still coming in, what is asked for may be there and what is pressed next not yet
		whole := `document.readyState !== "loading" && (` + js + ")"
		if yes, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](whole)); yes && err == nil {
			return
		}
		time.Sleep(25 * time.Millisecond)
	}
	b.Fatalf("never: %s; the page says %q at %s", js,
		eval[string](b, "document.querySelector('#lead')?.innerText ?? ''"), eval[string](b, "location.href"))
}

const (
	ranking = "document.querySelector('#beside table').innerText"
	drawing = "document.querySelector('#first svg').outerHTML"
)

// Typing a wage redraws figure and table in the same document; focus and caret stay where they were.
func TestTypingRedrawsInPlace(t *testing.T) {
	b := browse(t, nil)
	b.open("/profit")
	eval[any](b, "window.here = 1; window.was = {table: "+ranking+", drawing: "+drawing+"}; 0")
	b.do(chromedp.Focus("#w-wage"))
	eval[any](b, "document.getElementById('w-wage').setSelectionRange(1, 1); 0")
	b.do(chromedp.KeyEvent("8")) // 24 becomes 284
	b.until("location.search === '?wage=284'")
	if eval[int](b, "window.here ?? 0") != 1 {
		t.Error("the page was loaded anew")
	}
	if !eval[bool](b, ranking+" !== window.was.table && "+drawing+" !== window.was.drawing") {
		t.Error("figure or table stays as it was")
	}
	got := eval[string](b,
		"(e => e.id + ' ' + e.value + ' ' + e.selectionStart)(document.activeElement)")
	if got != "w-wage 284 2" {
		t.Errorf("focus and caret: %s", got)
	}
	if !eval[bool](b, "document.getElementById('said').textContent.length > 20 && "+
		"document.getElementById('w-wage-mark').textContent.includes('24')") {
		t.Error("the change is not announced, or not marked")
	}
}

// While a number is being changed a page on what is not sure takes a quick look, and all of its draws when it rests;
// its address never says which.
func TestQuickLookThenAll(t *testing.T) {
	var quick, full atomic.Int32
	b := browse(t, func(r *http.Request) {
		switch q := r.URL.Query(); {
		case q.Get("wage") == "":
		case q.Get("moving") != "":
			quick.Add(1)
		default:
			full.Add(1)
		}
	})
	b.open("/sure")
	b.do(chromedp.Click("#blanks summary"), chromedp.Focus("#w-wage"))
	b.do(chromedp.KeyEvent("8"))
	b.until("location.search === '?wage=824'")
	b.until("document.querySelector('#first').textContent.includes('at most 0.5') && document.body.className === ''")
	if quick.Load() == 0 || full.Load() == 0 {
		t.Errorf("%d quick looks and %d full ones", quick.Load(), full.Load())
	}
	if at := eval[string](b, "location.search + document.activeElement.id"); at != "?wage=824w-wage" {
		t.Errorf("address and focus: %s", at)
	}
	eval[any](b, "history.back(); 0")
	b.until("location.search === '' && document.getElementById('w-wage').value === '24'")
}

// Back goes to what was tried before, the fields too, and one field typed in is one step.
func TestBackTakesBackWhatWasTried(t *testing.T) {
	b := browse(t, nil)
	b.open("/profit")
	files := eval[string](b, ranking)
	b.do(chromedp.Focus("#w-wage"))
	eval[any](b, "document.getElementById('w-wage').select(); 0")
	b.do(chromedp.KeyEvent("5"))
	b.until("location.search === '?wage=5'")
	b.do(chromedp.KeyEvent("0"))
	b.until("location.search === '?wage=50'")
	fifty := eval[string](b, ranking)
	b.do(chromedp.Focus("#w-discount"))
	eval[any](b, "document.getElementById('w-discount').select(); 0")
	b.do(chromedp.KeyEvent("9"))
	b.until("location.search === '?discount=9&wage=50'")
	eval[any](b, "history.back(); 0")
	b.until("location.search === '?wage=50' && document.getElementById('w-discount').value === '5'")
	b.until("document.body.className === ''")
	if eval[string](b, ranking) != fifty {
		t.Error("the table is not that of before")
	}
	eval[any](b, "history.back(); 0")
	b.until("location.search === '' && document.getElementById('w-wage').value === '24'")
	b.until("document.body.className === ''")
	if eval[string](b, ranking) != files {
		t.Error("the table is not that of the files")
	}
	eval[any](b, "history.forward(); 0")
	b.until("location.search === '?wage=50' && document.getElementById('w-wage').value === '50'")
}

// The first answer is held back until the second has come: it must not replace it.
func TestALateReplyNeverWins(t *testing.T) {
	first, second, late := make(chan struct{}), make(chan struct{}), make(chan struct{})
	var once sync.Once
	b := browse(t, func(r *http.Request) {
		if r.URL.Query().Get("wage") == "248" {
			once.Do(func() {
				close(first)
				<-second
				close(late)
			})
		}
	})
	// The browser drops an aborted answer by itself. The rule must hold without that too.
	b.open("/profit")
	eval[any](b, `window.fetch = (f => (address, options) => f(address))(window.fetch); 0`)
	b.do(chromedp.Focus("#w-wage"))
	eval[any](b, "document.getElementById('w-wage').setSelectionRange(2, 2); 0")
	b.do(chromedp.KeyEvent("8"))
	<-first
	b.do(chromedp.KeyEvent(kb.Backspace), chromedp.KeyEvent("0"))
	b.until("location.search === '?wage=240'")
	want := eval[string](b, ranking)
	close(second)
	<-late
	time.Sleep(500 * time.Millisecond) // for it to arrive, were it taken
	if eval[string](b, "location.search") != "?wage=240" || eval[string](b, ranking) != want {
		t.Error("the late answer won")
	}
}

// Bad input leaves the answer, and says why beside its field.
func TestBadInputInPlace(t *testing.T) {
	b := browse(t, nil)
	b.open("/profit?wage=40")
	b.do(chromedp.Focus("#w-wage"))
	was := eval[string](b, ranking)
	b.do(chromedp.KeyEvent("x"))
	b.until("document.querySelector('#w-wage-mark .fault') !== null")
	if eval[string](b, ranking) != was || eval[string](b, "document.activeElement.value") == "40" {
		t.Error("the last good answer, or what was typed, does not stay")
	}
	if eval[string](b, "document.getElementById('w-wage').getAttribute('aria-invalid')") != "true" {
		t.Error("the field is not marked")
	}
	b.do(chromedp.KeyEvent(kb.Backspace))
	b.until("document.querySelector('#w-wage-mark .fault') === null && " +
		"!document.getElementById('w-wage').hasAttribute('aria-invalid')")
}

// Where the workbench no longer answers, that is seen, and what was typed and the last answer stay.
func TestNoAnswer(t *testing.T) {
	var gone atomic.Bool
	b := browse(t, func(r *http.Request) {
		if gone.Load() {
			panic(http.ErrAbortHandler)
		}
	})
	b.quiet.Store(true) // the browser notes the lost answer itself
	b.open("/profit")
	was := eval[string](b, ranking)
	gone.Store(true)
	b.do(chromedp.Focus("#w-wage"), chromedp.KeyEvent("1"))
	b.until("document.body.classList.contains('lost') && " +
		"document.getElementById('said').getBoundingClientRect().height > 20")
	if eval[string](b, ranking) != was || eval[string](b, "document.activeElement.value") == "24" {
		t.Error("the last answer, or what was typed, is gone")
	}
	gone.Store(false)
	b.do(chromedp.KeyEvent("2"))
	b.until("location.search.startsWith('?wage=') && !document.body.classList.contains('lost')")
}

// A study is left out by its box in the table, which is redrawn around it; a caveat by its own; and reset takes back.
func TestLeavingOut(t *testing.T) {
	b := browse(t, nil)
	b.open("/evidence")
	b.do(chromedp.Focus("#w-exclude-0"), chromedp.KeyEvent(" "))
	b.until("location.search.startsWith('?exclude=')")
	if got := eval[string](b, "document.activeElement.id + document.activeElement.checked"); got != "w-exclude-0true" {
		t.Errorf("focus is on %s", got)
	}
	b.do(chromedp.Click("#blanks summary"), chromedp.Focus("#w-without-0"), chromedp.KeyEvent(" "))
	b.until("location.search.includes('without=')")
	if !eval[bool](b, "document.getElementById('changed').innerText.includes('2 changed')") {
		t.Error("two changes are not told")
	}
	b.do(chromedp.Click("#changed a[data-try=tried]"))
	b.until("location.search === '' && !document.getElementById('w-exclude-0').checked && " +
		"!document.getElementById('w-without-0').checked")
}

// Without script the form is sent by its button, and says the same.
func TestWithoutScript(t *testing.T) {
	b := browse(t, nil)
	if _, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	b.open("/profit")
	b.do(chromedp.Focus("#w-wage"), chromedp.KeyEvent(kb.End), chromedp.KeyEvent("8"), chromedp.Click("#tried button"))
	for range 100 {
		if at, err := chromedp.Run(b.ctx, chromedp.Location()); err != nil {
			t.Fatal(err)
		} else if at == b.base+"/profit?wage=248" {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Error("the button does not lead to what is tried")
}

var everyPage = []string{"/", "/profit?wage=31", "/gains?without=freak-season", "/rotation", "/evidence",
	"/profit/closer",
	"/gains/closer", "/evidence/closer",
	"/sure", "/sure/closer", "/next-trial", "/profit/budget/new-drop/3", "/report.html"}

// On a phone no page is wider than the screen; a wide table moves inside itself.
func TestPhone(t *testing.T) {
	b := browse(t, nil)
	for _, width := range []int64{360, 390, 700} {
		b.do(chromedp.EmulateViewport(width, 780))
		for _, path := range everyPage {
			b.open(path)
			if w := eval[int64](b, "document.documentElement.scrollWidth"); w > width {
				widest := eval[string](b,
					`[...document.querySelectorAll("body *")].filter(e => !e.closest(".scroll, svg, .hush") && e.getBoundingClientRect().right > innerWidth + 1)
						.map(e => e.tagName + "." + e.className + "#" + e.id).slice(0, 5).join(" ")`)
				t.Errorf("%s at %d: %d wide (%s)", path, width, w, widest)
			}
		}
	}
}

// By keyboard alone: the skip link is first and leads to the answer, every page is reached, and focus is always seen.
func TestKeyboard(t *testing.T) {
	b := browse(t, nil)
	b.open("/profit")
	b.do(chromedp.KeyEvent(kb.Tab))
	got := eval[string](b,
		"(e => e.className + ' ' + (e.getBoundingClientRect().top >= 0))(document.activeElement)")
	if got != "skip true" {
		t.Errorf("first is %s", got)
	}
	b.do(chromedp.KeyEvent(kb.Enter))
	b.until("document.activeElement.id === 'answer'")
	b.open("/profit")
	reached := map[string]bool{}
	for range 60 {
		b.do(chromedp.KeyEvent(kb.Tab))
		at := eval[string](b, `(e => e.href ?? e.id ?? e.tagName)(document.activeElement)`)
		reached[strings.TrimPrefix(at, b.base)] = true
		if !eval[bool](b, `(e => e === document.body || getComputedStyle(e).outlineStyle !== "none")(document.activeElement)`) {
			t.Errorf("focus on %s is not seen", at)
		}
	}
	for _, want := range []string{"/profit", "/gains", "/rotation", "/evidence", "w-wage", "w-today", "w-organic",
		"/figure/net.svg", "/table/ranking.csv"} {
		if !reached[want] {
			t.Errorf("%s is not reached by tabs", want)
		}
	}
	b.open("/profit")
	b.do(chromedp.Focus("#nav a[href^='/gains']"), chromedp.KeyEvent(kb.Enter))
	b.until("location.pathname === '/gains'")
}

// The page is dark at night, and light on paper whatever the screen is.
func TestNight(t *testing.T) {
	b := browse(t, nil)
	b.open("/gains")
	const light = `(c => c[0] + c[1] + c[2] > 384)(getComputedStyle(document.body).backgroundColor.match(/\d+/g).map(Number))`
	const ink = `(c => c[0] + c[1] + c[2] > 384)(getComputedStyle(document.querySelector("#first svg text")).fill.match(/\d+/g).map(Number))`
	night := func(media string) {
		if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media,
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}}); err != nil {
			t.Fatal(err)
		}
	}
	if !eval[bool](b, light) || eval[bool](b, ink) {
		t.Error("by day the page is not light, or its figure not dark on it")
	}
	night("")
	if eval[bool](b, light) || !eval[bool](b, ink) {
		t.Error("at night the page is not dark, or its figure not light on it")
	}
	night("print")
	if eval[bool](b, ink) {
		t.Error("in print at night the ink is light")
	}
}

// The report prints as a PDF of several pages.
func TestReportPrints(t *testing.T) {
	b := browse(t, nil)
	b.open("/report.html")
	pdf, err := chromedp.Call(b.ctx, cdp.PrintToPDF, cdp.PrintToPDFParams{PreferCSSPageSize: new(true)})
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(pdf.Data), "/Type /Page\n"); n < 4 || n > 40 {
		t.Errorf("%d pages", n)
	}
	if dir := os.Getenv("SPILE_LOOK"); dir != "" {
		if err := os.WriteFile(dir+"/report.pdf", pdf.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// A producer's sheet prints on its two sides, from its page of the workbench as well; the one in large type on one.
func TestHandoutPrints(t *testing.T) {
	b := browseOn(t, withBushes(), nil)
	for query, pages := range map[string]int{".html?of=Quillback+Ridge": 2, ".html?of=Quillback+Ridge&large=yes": 1,
		"?of=Quillback+Ridge": 2} {
		b.open("/handout" + query)
		pdf, err := chromedp.Call(b.ctx, cdp.PrintToPDF, cdp.PrintToPDFParams{PreferCSSPageSize: new(true)})
		if err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(string(pdf.Data), "/Type /Page\n"); n != pages {
			t.Errorf("%q: %d pages, want %d", query, n, pages)
		}
		if dir := os.Getenv("SPILE_LOOK"); dir != "" {
			os.WriteFile(dir+"/handout"+query+".pdf", pdf.Data, 0o644)
		}
	}
}

// Sections are filled like a spreadsheet: rows pasted from one, in the words of the language, and a row copied; more
// than there is room for makes room.
func TestSectionsArePasted(t *testing.T) {
	b := browse(t, nil)
	b.open("/sugarbush")
	const rows = `Upper\t1,200\tCheck-valve spout each season\n` + `Lower\t900\tunsanitized\n` +
		`Far\t300\tsteam\n` + `Near\t50\tunsanitized`
	eval[bool](b, `(() => { const to = document.querySelector("[name='1.section']"), data = new DataTransfer();
		data.setData("text/plain", "`+rows+`");
		to.focus();
		const pasted = new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true});
		return to.dispatchEvent(pasted) })()`)
	value := func(name string) string {
		return eval[string](b, `document.querySelector("[name='`+name+`']")?.value ?? "none"`)
	}
	for name, want := range map[string]string{"1.section": "Upper", "1.taps": "1,200", "1.practice": "check-valve",
		"2.practice": "unsanitized", "3.practice": "steam", "4.section": "Near", "4.taps": "50"} {
		if got := value(name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	eval[bool](b, `(document.querySelectorAll("[data-copy]")[0].click(), true)`)
	if got := value("5.section") + value("5.taps") + value("5.practice"); got != "Upper 21,200check-valve" {
		t.Errorf("the copy is %q", got)
	}
	b.do(chromedp.Submit("form[action='/sugarbush']"))
	b.until(`location.search.includes("5.section") && (document.querySelector("[name='5.practice']") ?? null) !== null`)
	if !eval[bool](b, `document.querySelector("[name='3.practice']").getAttribute("aria-invalid") === "true"`) {
		t.Error("steam is no practice, and nothing says so")
	}
}

// The workbook by keyboard and without the script: a study is typed in, a what-if kept, on a phone nothing is cut off.
func TestWorkbookInTheBrowser(t *testing.T) {
	d := sit(t, true)
	b := browseOn(t, d, nil)
	for _, width := range []int64{390, 1280} {
		for _, scheme := range []string{"light", "dark"} {
			b.do(chromedp.EmulateViewport(width, 900))
			if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}); err != nil {
				t.Fatal(err)
			}
			for i, p := range append(slices.Clone(workPages), "/evidence", "/profit?wage=31") {
				b.open(p)
				if wide := eval[float64](b, "document.documentElement.scrollWidth"); wide > float64(width) {
					t.Errorf("%s is %v px wide on %d", p, wide, width)
				}
				if low := eval[string](b, contrast); low != "" {
					t.Errorf("%s, %s: too little contrast: %s", p, scheme, low)
				}
				if dir := os.Getenv("SPILE_SHOTS"); dir != "" {
					picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(90))
					if err == nil {
						os.WriteFile(fmt.Sprintf("%s/%02d-%s-%d.jpg", dir, i, scheme, width), picture, 0o644)
					}
				}
			}
		}
	}
	b.open("/study")
	for id, text := range map[string]string{"h-study": "Fen 2024", "h-site": "Fen", "h-season": "2024", "r0-2": "15",
		"r0-3": "6", "r1-2": "22", "r1-3": "6"} {
		b.do(chromedp.SendKeys("#"+id, text))
	}
	eval[bool](b, `document.getElementById("r1-0").value = "check-valve", true`)
	b.do(chromedp.SendKeys("#h-season", kb.Enter))
	b.until(`location.pathname === "/evidence" && document.body?.innerText.includes("Fen 2024") === true`)

	b.open("/profit")
	eval[bool](b, `(w => { w.value = "31"; w.dispatchEvent(new Event("input", {bubbles: true})); return true })(document.getElementById("w-wage"))`)
	b.until(`document.querySelector("#keep button") !== null`)
	b.do(chromedp.Click("#keep button"))
	b.until(`location.search === "" && document.getElementById("w-wage")?.value === "31"`)
	if got := d.contents().Prices.Wage.Best; got != 31 {
		t.Errorf("the wage kept is %v", got)
	}
}

// contrast names the first text whose contrast with what is behind it is below 4.5 (WCAG 2.2, 1.4.3).
const contrast = `(() => {
	const lum = c => { const [r, g, b] = c.match(/[\d.]+/g).map(x => x / 255).map(x => x <= .04045 ? x / 12.92 : ((x + .055) / 1.055) ** 2.4); return .2126 * r + .7152 * g + .0722 * b; };
	const paper = lum(getComputedStyle(document.body).backgroundColor);
	for (const e of document.querySelectorAll("main :is(p, a, label, th, td, li, legend, button, input, select, textarea, span)")) {
		if (e.closest("svg") || !e.offsetParent || e.matches(".hush")) continue;
		const c = getComputedStyle(e).color;
		if (!c.startsWith("rgb(")) continue;
		const ink = lum(c), ratio = (Math.max(ink, paper) + .05) / (Math.min(ink, paper) + .05);
		if (ratio < 4.5) return e.outerHTML.slice(0, 90) + " " + c + " " + ratio.toFixed(2);
	}
	return "";
})()`
