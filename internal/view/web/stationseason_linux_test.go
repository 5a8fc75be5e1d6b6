package web

import (
	"fmt"
	"net/url"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"spile/internal/cluster"
	"spile/internal/files/book"
	"spile/internal/files/people"
	"spile/internal/files/reach"
	"spile/internal/trade/evidence"
	"spile/internal/view/web/page"
)

// press presses a button of the page that it finds, and waits until there is what is to come of it.
func (b *tab) press(button, then string) {
	b.Helper()
	eval[any](b, "document.querySelector(`"+button+"`).click(); 0")
	b.until(then + ` && document.readyState === "complete"`)
}

// says is true once the page says a text.
func says(text string) string {
	return fmt.Sprintf("document.body?.innerText.includes(%q) === true", text)
}

// save sends the form of a page, and waits until another page has come.
func (b *tab) save() {
	b.Helper()
	eval[any](b, "window.sent = true; 0")
	b.press(".actions button[value=save]", `window.sent === undefined`)
}

// act does one step with a study or a trial on a page of stations, saying why where it is asked.
func (b *tab) act(at, act, name, then string) {
	b.Helper()
	b.open(at)
	form := fmt.Sprintf(`form[action="/stations/%s"]:has([name=name][value="%s"])`, act, name)
	eval[any](b, "window.sent = true; 0")
	b.press(form+" button", `window.sent === undefined && `+says(then))
}

// A season of two stations in a browser each, and of a workbook that was taken along: who is invited sets a password;
// a trial is planned, read and released; a study made offline comes by a sync, with a price that was changed on both
// sides; it is decided at the form, and goes back; the study is offered, read and admitted; both stand on one pool,
// and a producer's sheet rests on it.
func TestServedSeason(t *testing.T) {
	d := knock(t, cluster.Schemas(t)(), false, false)
	c, err := d.book.Contents()
	if err != nil {
		t.Fatal(err)
	}
	bush := ridge()
	if _, err := d.book.Save(book.Edit{At: *d.now, Who: "Zoe", What: "sugarbush", Seen: c.Sight()},
		book.Keep(bush)); err != nil {
		t.Fatal(err)
	}
	d.of("North Sugar", "Sam", people.Steward)
	sam, fay := browseOn(t, d, nil), browseOn(t, d, nil)
	sam.open("/people")
	sam.do(chromedp.SetValue("#name", "Sam"), chromedp.SetValue("#password", pass))
	sam.press("main form button", `location.pathname === "/people"`)
	sam.do(chromedp.SetValue("#name", "Fay"), chromedp.SetValue("#may", "editor"),
		chromedp.SetValue("#station", "Fern Gate"))
	sam.press(`form:has(#station) button`, `document.querySelector("main code") !== null`)
	sam.picture("served-invited")
	link, err := url.Parse(eval[string](sam, `document.querySelector("main code").innerText`))
	if err != nil {
		t.Fatal(err)
	}
	fay.open(link.Path)
	fay.picture("served-join")
	fay.do(chromedp.SetValue("#password", pass), chromedp.SetValue("#again", pass))
	fay.press("main form button", `location.pathname === "/"`)
	fay.picture("served-front")

	const name = "Fern valves"
	fay.open("/trials/new")
	eval[any](fay, `document.querySelectorAll("[name=practice]").forEach(c =>
		c.checked = ["unsanitized", "check-valve"].includes(c.value)); 0`)
	fay.do(chromedp.SetValue("[name=replicates]", "4"), chromedp.SetValue("[name=first]", "2025"))
	fay.do(chromedp.SetValue("[name=name]", name), chromedp.SetValue("[name=site]", "Fern slope"))
	fay.press(`button[formaction="/trials/new"]`, `location.pathname === "/trials/of"`)
	for day, counts := range map[string][2]int{"2025-03-03": {100, 100}, "2025-03-07": {160, 178}} {
		fay.open(page.ReadPath + "?" + url.Values{"trial": {name}, "season": {"2025"}, "date": {day}}.Encode())
		eval[any](fay, fmt.Sprintf(`document.querySelectorAll("[data-field=amount]").forEach((f, i) => {
			f.value = %d + i %% 2 * %d; f.dispatchEvent(new Event("input", {bubbles: true})) }); 0`, counts[0],
			counts[1]-counts[0]))
		fay.press(`button[name=do][value=all]`, `document.querySelectorAll(".stored").length === 8`)
	}
	fay.picture("served-readings")
	sam.open("/trials")
	if eval[bool](sam, says(name)) {
		t.Error("another station sees it before it is released")
	}
	sam.open("/stations")
	if !eval[bool](sam, says("held back")) {
		t.Error("it is not said that something is held back")
	}
	sam.picture("served-held-back")
	fay.open("/stations")
	fay.picture("served-stations")
	fay.act("/stations", "release", name, "released")
	sam.open("/trials")
	if !eval[bool](sam, says(name)) {
		t.Error("it is released, and another station does not see it")
	}

	fay.open("/account")
	fay.do(chromedp.SetValue("#label", "the laptop"))
	fay.press(`form:has(#label) button`, `document.querySelector("#token") !== null`)
	fay.picture("served-account")
	side, err := reach.At(t.Context(), fay.base, eval[string](fay, `document.querySelector("#token").innerText`), "en")
	if err != nil {
		t.Fatal(err)
	}
	file, err := book.Create(filepath.Join(t.TempDir(), "fern.spile"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	clock := func() time.Time { return *d.now }
	sync := func() book.Synced {
		t.Helper()
		done, err := file.Sync(side, book.Edit{At: clock(), Who: "Fay", What: "sync"})
		if err != nil {
			t.Fatal(err)
		}
		return done
	}
	if !sync().Same {
		t.Fatal("a new file does not hold the same")
	}
	h, err := New(Config{Book: file, Who: "Fay", Now: clock, Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	woods := browseOn(t, h, nil)
	woods.quiet.Store(true) // a refused form is told to the console as well
	wage := func(b *tab, to string) {
		t.Helper()
		b.open("/prices")
		b.do(chromedp.SetValue(`input[name="best.wage"]`, to))
		b.save()
	}
	wage(woods, "22")
	wage(sam, "27")
	have, err := file.Contents()
	if err != nil {
		t.Fatal(err)
	}
	x := have.Studies[0]
	x.Name, x.Site, x.Source = "Fern Gate 2024", "Fern ridge", "Notes of the season"
	if _, err := file.Save(book.Edit{At: clock(), Who: "Fay", What: "Fern Gate 2024", Seen: have.Sight()},
		book.Keep(x)); err != nil {
		t.Fatal(err)
	}
	if done := sync(); done.Same || len(done.Crossed) != 1 {
		t.Fatalf("%+v", done)
	}
	woods.open("/workbook")
	woods.picture("served-waits")
	woods.press(`main a[href="/crossed"]`, `location.pathname === "/crossed"`)
	woods.picture("served-crossed")
	woods.press(`form[action="/crossed"] a`, `location.pathname === "/prices"`)
	woods.picture("served-form")
	woods.do(chromedp.SetValue(`input[name="best.wage"]`, "26"))
	woods.save()
	if eval[bool](woods, `document.querySelector("#trouble") !== null`) { // it shows theirs beside ours first
		woods.picture("served-beside")
		woods.save()
	}
	if done := sync(); !done.Same || len(done.Crossed) != 0 {
		t.Fatalf("it was decided, and both are not the same: %+v", done)
	}
	sam.open("/prices")
	if now := eval[string](sam, `document.querySelector('input[name="best.wage"]').value`); now != "26" {
		t.Errorf("the wage is %s on the server", now)
	}
	sam.open("/history")
	sam.picture("served-history")

	fay.act("/stations", "offer", x.Name, "offered")
	sam.open("/offers")
	sam.picture("served-offers")
	sam.act("/offers", "admit", x.Name, "Nothing is offered")
	for _, b := range []*tab{sam, fay} {
		b.open("/evidence")
		b.until(says(x.Name))
	}
	counted := `document.querySelector("#lead").innerText`
	if a, b := eval[string](sam, counted), eval[string](fay, counted); a != b {
		t.Errorf("they stand on two pools: %s; %s", a, b)
	}
	sam.open("/gains")
	sam.picture("served-gains")
	sam.open("/handout?of=" + url.QueryEscape(bush.Name))
	sam.until(says(bush.Name))
	sam.picture("served-handout")
	if c, err = d.book.Contents(); err != nil || !slices.ContainsFunc(c.Studies, func(s evidence.Study) bool {
		return s.Name == x.Name
	}) {
		t.Error("the study is not there", err)
	}
}
