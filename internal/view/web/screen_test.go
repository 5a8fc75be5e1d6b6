package web

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// The front is the answer: what to do, each number a way to what it is made of, what is new, what waits, where to look.
func TestTheFrontIsTheAnswer(t *testing.T) {
	body := sit(t, true).get("/")
	for _, want := range []string{"comes first", `href="/profit/budget/`, `href="/gains/why/`, `href="/sure"`,
		"What needs somebody", "New in a year", "scenario", "/changes?since=2024-03-14", `href="/trust"`,
		`href="/trials"`} {
		if !strings.Contains(body, want) {
			t.Errorf("%q is not there", want)
		}
	}
	tried, _ := visit(t, "/?wage=31")
	if !strings.Contains(tried, "/profit?wage=31") || !strings.Contains(tried, "31\u00a0USD") {
		t.Error("what is tried is not said, or lost on the way")
	}
	if w := ask(served(), "GET", "/?wage=x"); w.Code != http.StatusSeeOther ||
		w.Header().Get("Location") != "/profit?wage=x" {
		t.Errorf("a fault: %d, to %s", w.Code, w.Header().Get("Location"))
	}
}

// Every number of the ranking leads to what it is made of, and every such page answers.
func TestNumbersOpen(t *testing.T) {
	body, _ := visit(t, "/profit?wage=31")
	_, table, _ := strings.Cut(body, `<table class="t-ranking"`)
	table, _, _ = strings.Cut(table, "</table>")
	n := 0
	for _, m := range links.FindAllStringSubmatch(table, -1) {
		if !strings.Contains(m[1], "wage=31") {
			t.Errorf("%s forgets what is tried", m[1])
		}
		if w := ask(served(), "GET", strings.ReplaceAll(m[1], "&amp;", "&")); w.Code != http.StatusOK {
			t.Errorf("%s: %d", m[1], w.Code)
		}
		n++
	}
	if n < 20 {
		t.Errorf("%d numbers open", n)
	}
	budget, _ := visit(t, "/profit/budget/check-valve")
	if strings.Contains(budget, `<th scope="row"></th>`) {
		t.Error("a row has an empty head")
	}
}

// A long table shows six rows before a click, the recommended one and today's among them, with their footnotes alone.
func TestLongTablesFold(t *testing.T) {
	body, _ := visit(t, "/profit")
	_, table, _ := strings.Cut(body, `<table class="t-ranking"`)
	table, after, _ := strings.Cut(table, "</table>")
	now, later, folded := strings.Cut(table, `<tbody class="later">`)
	if n := strings.Count(now, "<tr") - 1; !folded || n < 4 || n > 8 {
		t.Errorf("%d rows before the click, %v", n, folded)
	}
	if !strings.Contains(now, `class="strong"`) || strings.Count(now, "new drop every") > 1 ||
		!strings.Contains(later, "new drop every") {
		t.Error("the recommended row or one rotation alone is not before the click")
	}
	if !strings.Contains(after, `<details class="more" id="more-ranking">`) ||
		!strings.Contains(after, `<li class="later">`) {
		t.Error("there is no click, or notes of what is behind it stand before it")
	}
	if report := ask(served(), "GET", "/report.html").Body.String(); strings.Contains(report, `class="later"`) {
		t.Error("the report hides rows")
	}
}

// widths are those of a large desk, a desk, a phone, and a small one.
var widths = []int64{1440, 1280, 390, 360}

// The way through takes one line on a desk, in either language, and on a phone a menu that works without a script.
func TestNavigationIsOneLine(t *testing.T) {
	const lines = `new Set([...document.querySelectorAll("#nav a, #nav summary")].filter(e => e.offsetParent).map(e => Math.round(e.getBoundingClientRect().top / 8))).size`
	d := sit(t, true)
	for _, language := range []string{"en", "fr"} {
		b := browseOn(t, d, nil)
		b.open("/language/" + language)
		for _, width := range widths {
			b.do(chromedp.EmulateViewport(width, 900))
			b.open("/sure")
			if n := eval[int](b, lines); n != 1 {
				t.Errorf("%d lines at %d", n, width)
			}
			if w := eval[int64](b, "document.documentElement.scrollWidth"); w > width {
				t.Errorf("%d wide at %d", w, width)
			}
		}
	}
	b := browse(t, nil)
	if _, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.EmulateViewport(360, 780))
	b.open("/sure")
	b.do(chromedp.Click("#menu summary"), chromedp.Click("#nav a[href='/gains']"))
	b.until("location.pathname === '/gains'")
}

// Text of figures is at least 13 px on a desk and 12 on a phone, as it stands on the page.
func TestFiguresCanBeRead(t *testing.T) {
	const small = `Math.min(99, ...[...document.querySelectorAll("svg text")].filter(e => e.getBoundingClientRect().width).map(e => e.getAttribute("font-size") * e.ownerSVGElement.getBoundingClientRect().width / e.ownerSVGElement.viewBox.baseVal.width))`
	b := browseOn(t, atTrial(t, true, marsh(true)), nil)
	for _, width := range widths {
		b.do(chromedp.EmulateViewport(width, 900))
		for _, path := range []string{"/profit", "/sure", "/sure/closer", "/gains", "/rotation", "/evidence",
			"/next-trial", "/report.html", "/trials/of?name=Marsh+2025", "/trials/new"} {
			least := 12.99
			if width < 800 {
				least = 11.99
			}
			b.open(path)
			if got := eval[float64](b, small); got < least {
				t.Errorf("%s at %d: a text of %.1f px", path, width, got)
			}
		}
	}
}

// How sure reads in two screens of a desk, and no page of the answer is longer than four.
func TestPagesAreShort(t *testing.T) {
	b := browse(t, nil)
	for path, most := range map[string]int{"/": 1050, "/sure": 1850, "/profit": 3400, "/gains": 3400, "/rotation": 2500,
		"/evidence": 2400} {
		b.open(path)
		if h := eval[int](b, "document.documentElement.scrollHeight"); h > most {
			t.Errorf("%s is %d px high, more than %d", path, h, most)
		}
	}
}

// Beside a figure or its tables nothing stands empty for more than 600 px of a desk.
func TestNoColumnIsEmpty(t *testing.T) {
	const empty = `(() => { let most = 0; for (const [a, b] of [["#first", "#beside"], ...[...document.querySelectorAll("#rest section")].map(s => [s.querySelector(".drawn"), s.querySelector(".kept:last-child")])]) { const [x, y] = [a, b].map(e => typeof e === "string" ? document.querySelector(e) : e); if (!x || !y || !x.childElementCount || !y.childElementCount) continue; const [p, q] = [x, y].map(e => e.lastElementChild.getBoundingClientRect()); if (p.right <= q.left + 1) most = Math.max(most, Math.abs(p.bottom - q.bottom)); } return Math.round(most) })()`
	b := browse(t, nil)
	for _, width := range widths[:2] {
		b.do(chromedp.EmulateViewport(width, 900))
		for _, path := range []string{"/sure", "/gains", "/rotation", "/evidence"} {
			b.open(path)
			if px := eval[int](b, empty); px > 600 {
				t.Errorf("%s at %d: %d px of a column are empty", path, width, px)
			}
		}
	}
}

// The front prints on one page, without what only leads elsewhere; where nothing is tried no blanks are printed.
func TestPagesPrint(t *testing.T) {
	b := browseOn(t, sit(t, true), nil)
	b.open("/")
	pdf, err := chromedp.Call(b.ctx, cdp.PrintToPDF, cdp.PrintToPDFParams{PreferCSSPageSize: new(true)})
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(pdf.Data), "/Type /Page\n"); n != 1 {
		t.Errorf("the front prints on %d pages", n)
	}
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia,
		emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		t.Fatal(err)
	}
	// No row stays behind a click on paper, and a long figure keeps its type: it goes on in parts that each fit a page.
	b.do(chromedp.EmulateViewport(695, 900)) // what is left of a sheet of letter paper
	for _, path := range []string{"/gains", "/evidence"} {
		b.open(path)
		const hidden = `[...document.querySelectorAll(".later")].filter(e => getComputedStyle(e).display === "none").length`
		if n := eval[int](b, hidden); n > 0 {
			t.Errorf("%s: %d parts of tables are not printed", path, n)
		}
		const small = `Math.min(...[...document.querySelectorAll("figure .page svg")].map(e => Math.min(e.getBoundingClientRect().width / e.viewBox.baseVal.width, e.getBoundingClientRect().height / e.viewBox.baseVal.height)))`
		if scale := eval[float64](b, small); scale < 0.6 {
			t.Errorf("%s: a figure is printed at %.2f of its size", path, scale)
		}
	}
	const strip = `getComputedStyle(document.querySelector("form.tried")).display`
	for path, want := range map[string]bool{"/gains": false, "/sure": false, "/gains?wage=31": true} {
		b.open(path)
		if got := eval[string](b, strip) != "none"; got != want {
			t.Errorf("%s: what is tried is printed: %v", path, got)
		}
	}
}

// On a phone the ranking keeps the practice, its money and whether it is permitted in view, its first column also when
// it is moved aside, and says that it can be.
func TestARankingOnAPhone(t *testing.T) {
	b := browse(t, nil)
	for _, width := range []int64{390, 360} {
		b.do(chromedp.EmulateViewport(width, 780))
		b.open("/profit")
		const right = `Math.round(document.querySelector(".t-ranking").closest(".scroll").getBoundingClientRect().right)`
		for column, name := range map[int]string{2: "net", 3: "permitted"} {
			if !eval[bool](b, `document.querySelectorAll(".t-ranking thead th")[`+string(rune('0'+column-1))+
				`].getBoundingClientRect().right <= `+right+` + 1`) {
				t.Errorf("%s is cut off at %d", name, width)
			}
		}
		if !eval[bool](b, `(e => { e.scrollLeft = 200; const th = e.querySelector("tbody th"); return Math.abs(th.getBoundingClientRect().left - e.getBoundingClientRect().left) < 2 && e.parentElement.querySelector(".hint").offsetParent !== null })(document.querySelector(".t-ranking").closest(".scroll"))`) {
			t.Errorf("at %d the first column moves, or nothing says that there is more", width)
		}
	}
}

// A table of rotations keeps its money in view on the smallest phone, in either language.
func TestRotationsOnAPhone(t *testing.T) {
	b := browse(t, nil)
	b.do(chromedp.EmulateViewport(360, 780))
	for _, language := range []string{"en", "fr"} {
		b.open("/language/" + language)
		b.open("/rotation")
		const over = `(e => Math.round(e.querySelector("thead th:nth-child(3)").getBoundingClientRect().right - e.closest(".scroll").getBoundingClientRect().right))(document.querySelector(".t-rotation"))`
		if px := eval[int](b, over); px > 0 {
			t.Errorf("%s: %d px of the net are cut off", language, px)
		}
	}
}

// What leads to the statistician's page stands below the tables of the money, and not as one more column beside them.
func TestACloserLookStandsBelow(t *testing.T) {
	b := browse(t, nil)
	for _, width := range []int64{900, 1280, 1440, 1800} {
		b.do(chromedp.EmulateViewport(width, 800))
		b.open("/profit")
		b.until(`!!document.querySelector("#rest > .aside a[href*=closer]")`)
		const below = `(top => [...document.querySelectorAll("#rest > section")].every(x => x.getBoundingClientRect().bottom <= top))(document.querySelector("#rest > .aside").getBoundingClientRect().top)`
		if !eval[bool](b, below) {
			t.Errorf("at %d px it stands beside a table", width)
		}
	}
}

// The click for the whole of a figure stands where some of it is cut off, and there alone.
func TestOnlyACutFigureAsksForMore(t *testing.T) {
	b := browse(t, nil)
	b.do(chromedp.EmulateViewport(1440, 900))
	for _, path := range []string{"/gains", "/evidence"} {
		b.open(path)
		const wrong = `[...document.querySelectorAll(".tall")].filter(e => (e.querySelector("figure").scrollHeight > e.querySelector("figure").clientHeight + 1) !== (getComputedStyle(e.querySelector(".more")).visibility === "visible")).length`
		b.until(`document.readyState === "complete" && document.querySelector(".tall") !== null`)
		if n := eval[int](b, wrong); n != 0 {
			t.Errorf("%s: %d figures", path, n)
		}
	}
}

// No page breaks a rule of axe-core (Deque Systems), by day and by night, on a desk and on a small phone, in either
// language. It is had by npm, for the time of the test.
func TestAxe(t *testing.T) {
	d := sit(t, true)
	b := browseOn(t, d, nil)
	dir := t.TempDir()
	if npm := exec.Command("npm", "pack", "--silent", "axe-core@4.14.1"); true {
		npm.Dir = dir
		if out, err := npm.CombinedOutput(); err != nil {
			t.Skipf("NOT RUN: npm does not give axe-core: %v %s", err, out)
		}
	}
	tar := exec.Command("sh", "-c", "tar xzf axe-core-*.tgz")
	tar.Dir = dir
	if err := tar.Run(); err != nil {
		t.Fatal(err)
	}
	script, err := os.ReadFile(filepath.Join(dir, "package", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	const broken = `axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 120)).join(" | ")).join("\n"))`
	pages := slices.Concat([]string{"/", "/profit?wage=31", "/sure", "/next-trial", "/gains", "/trust", "/rotation",
		"/evidence", "/sugarbush", "/handout", "/trials", "/trials/new", "/profit/budget/new-drop/3",
		"/gains/why/new-drop", "/sure/closer", "/search", "/report.html"}, workPages)
	for i, look := range []struct {
		width            int64
		scheme, language string
	}{{1280, "light", "en"}, {1280, "dark", "fr"}, {360, "light", "fr"}, {360, "dark", "en"}} {
		b.open("/language/" + look.language)
		b.do(chromedp.EmulateViewport(look.width, 900))
		if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: look.scheme}}}); err != nil {
			t.Fatal(err)
		}
		for k, path := range pages {
			if look.scheme == "dark" && k%3 != i%3 { // colours are of the sheet, not of the page
				continue
			}
			b.open(path)
			b.until(`document.readyState === "complete" && !/comes by itself|vient d.elle-même/.test(document.body.innerText)`)
			eval[any](b, string(script)+";0")
			said, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](broken, chromedp.EvalAwaitPromise))
			if err != nil || said != "" {
				t.Errorf("%s at %d, %s, %s: %v %s", path, look.width, look.scheme, look.language, err, said)
			}
		}
	}
}
