package web

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"spile/internal/files/book"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

const lan = "192.0.2.7:7345" // an address kept for documentation (RFC 5737)

// opened is a desk whose workbook phones can reach.
type opened struct {
	atDesk
	phones *trees.Phones
	code   string // for the next phone
}

func open(t testing.TB) *opened { return openOn(atTrial(t, true, marsh(false))) }

// openBare has nothing to work out beside the trial.
func openBare(t testing.TB) *opened { return openOn(atTrial(t, false, marsh(false))) }

func openOn(d atDesk) *opened {
	d.Helper()
	o := &opened{atDesk: d}
	o.phones = trees.NewPhones([]string{lan}, func(code, _ string) { o.code = code })
	clock := func() time.Time { return time.Date(2025, 3, 27, 9, 26, 0, 0, time.UTC) }
	h, err := New(Config{Book: d.book, Who: "Ada", Now: clock, Version: "test", Phones: o.phones})
	if err != nil {
		d.Fatal(err)
	}
	o.Handler = h
	return o
}

// call is a request of a phone; cookie "" is one that was not let in.
func (o *opened) call(method, address, cookie string, form url.Values, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, address, strings.NewReader(form.Encode()))
	r.Host = lan
	if method == "POST" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", "http://"+lan)
	}
	if cookie != "" {
		r.AddCookie(&http.Cookie{Name: trees.PhoneKey, Value: cookie})
	}
	for i := 0; i < len(headers); i += 2 {
		switch headers[i] {
		case "Host":
			r.Host = headers[i+1]
		case "From":
			r.RemoteAddr = headers[i+1]
		}
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	o.phones.ServeHTTP(w, r)
	return w
}

// let lets a phone in, and gives its cookie.
func (o *opened) let(who string) string {
	o.Helper()
	w := o.call("POST", "/", "", url.Values{"code": {o.code}, "who": {who}})
	c := w.Result().Cookies()
	if w.Code != http.StatusSeeOther || len(c) != 1 {
		o.Fatalf("not let in: %d %s", w.Code, w.Body)
	}
	return c[0].Value
}

func TestACodeLetsInOnePhone(t *testing.T) {
	o := open(t)
	first := o.code
	w := o.call("POST", "/", "",
		url.Values{"code": {first}, "who": {"Bo"}, "to": {readings("Marsh 2025", "2025-03-27")}})
	c := w.Result().Cookies()
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != readings("Marsh 2025", "2025-03-27") ||
		len(c) != 1 {
		t.Fatalf("%d %v", w.Code, w.Header())
	}
	if !c[0].HttpOnly || c[0].SameSite != http.SameSiteStrictMode || len(c[0].Value) < 40 || c[0].Domain != "" {
		t.Errorf("cookie: %+v", c[0])
	}
	if o.code == first {
		t.Error("the code is good for a second phone")
	}
	o.wants(o.call("POST", "/", "", url.Values{"code": {first}, "who": {"Cy"}}), http.StatusForbidden, "not the code")
	if w := o.call("POST", "/", "", url.Values{"code": {o.code}, "who": {"Cy"}, "to": {"//evil.example/"}}); w.Header().
		Get("Location") != "/" {
		t.Errorf("sent to %s", w.Header().Get("Location"))
	}
	o.wants(o.call("POST", "/", "", url.Values{"code": {o.code}, "who": {""}}), http.StatusUnprocessableEntity,
		"who reads")
	if body := o.get("/trials"); !strings.Contains(body, "<b>Bo</b>") || !strings.Contains(body, "<b>Cy</b>") ||
		!strings.Contains(body, o.code) ||
		!strings.Contains(body, "http://"+lan+"/") {
		t.Error("the page Trials does not show the code, the address and who is in")
	}
	if w := o.post("/phones/forget", nil); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code)
	}
	if w := o.call("GET", readings("Marsh 2025", "2025-03-27"), c[0].Value, nil); w.Code != http.StatusSeeOther ||
		!strings.HasPrefix(w.Header().Get("Location"), "/?to=") {
		t.Errorf("a phone that was forgotten: %d", w.Code)
	}
	o.wants(o.call("POST", page.ReadPath, c[0].Value, typing("2", "2025-03-27", "amount", "531")),
		http.StatusUnauthorized, "new code")
}

// Ten wrong codes in a minute, then the right one is not taken either until the minute is over; from another address of
// the network it is.
func TestCodesAreNotGuessed(t *testing.T) {
	o := open(t)
	now := time.Now()
	o.phones.Now = func() time.Time { return now }
	wrong := url.Values{"code": {"no code"}, "who": {"Bo"}}
	for range 10 {
		o.wants(o.call("POST", "/", "", wrong), http.StatusForbidden)
	}
	right := url.Values{"code": {o.code}, "who": {"Bo"}}
	o.wants(o.call("POST", "/", "", right), http.StatusTooManyRequests, "wait a minute")
	elsewhere := o.call("POST", "/", "", url.Values{"code": {o.code}, "who": {"Cy"}}, "From", "192.0.2.99:40000")
	if elsewhere.Code != http.StatusSeeOther {
		t.Errorf("one phone's wrong codes lock another out: %d", elsewhere.Code)
	}
	right.Set("code", o.code)
	now = now.Add(time.Minute)
	if w := o.call("POST", "/", "", right); w.Code != http.StatusSeeOther {
		t.Errorf("after a minute: %d", w.Code)
	}
}

// Over the network every route of the workbench is refused with words, but for the entry of readings; and nothing
// that is sent there changes the workbook.
func TestOnlyReadingsAreWrittenOverTheNetwork(t *testing.T) {
	o := open(t)
	cookie := o.let("Bo")
	s, err := o.Handler.(tongues[*desk]).in["en"].current(always)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.patterns) < 30 {
		t.Fatalf("only %d routes: they are not all known", len(s.patterns))
	}
	open := map[string]bool{"GET " + page.ReadPath: true, "POST " + page.ReadPath: true, "GET /asset/{file}": true,
		"GET /{$}": true, "GET /language/{language}": true}
	before := o.contents().Change
	for _, p := range s.patterns {
		if open[p] {
			continue
		}
		_, path, _ := strings.Cut(p, " ")
		path = strings.NewReplacer("{file}", "gains.csv", "{option...}", "check-valve", "{$}", "").Replace(path)
		for _, method := range []string{"GET", "POST", "PUT", "DELETE"} {
			w := o.call(method, path, cookie, url.Values{"name": {"Marsh 2025"}, "change": {"1"}, "do": {"save"}})
			switch {
			case method == "GET" && path == "/":
				if w.Code != http.StatusOK {
					t.Errorf("the front: %d", w.Code)
				}
			case path == "/" && method == "POST": // a code
			case w.Code != http.StatusForbidden ||
				!strings.Contains(w.Body.String(), "readings can be entered, and nothing else"):
				t.Errorf("%s %s: %d %.80s", method, path, w.Code, w.Body)
			}
		}
	}
	if o.contents().Change != before {
		t.Error("the workbook was changed")
	}
	w := o.call("POST", page.ReadPath, cookie, typing("2", "2025-03-27", "amount", "531"))
	if w.Code != http.StatusSeeOther || *o.read("2", "2025-03-27").Counter != 531 {
		t.Fatalf("a reading: %d", w.Code)
	}
	all, err := o.book.History(0, math.MaxInt)
	if err != nil || all[0].Who != "Bo" || all[0].Steps[0].Kind != book.Reading {
		t.Errorf("the history says %+v", all[0])
	}
	body := o.wants(o.call("GET", "/", cookie, nil), http.StatusOK, "Marsh 2025")
	if strings.Contains(body, `href="/gains"`) || strings.Contains(body, "report.pdf") {
		t.Error("a phone is shown doors that are closed to it")
	}
	// Without a cookie there is the page that asks for the code, and nothing of the trial.
	for _, p := range []string{readings("Marsh 2025", "2025-03-27"), "/"} {
		if w := o.call("GET", p, "", nil); w.Code == http.StatusOK && strings.Contains(w.Body.String(), "Marsh") ||
			w.Code >= 400 {
			t.Errorf("%s without a cookie: %d", p, w.Code)
		}
	}
	if w := o.call("POST", page.ReadPath, "guessed",
		typing("3", "2025-03-27", "amount", "1")); w.Code != http.StatusUnauthorized ||
		o.read("3", "2025-03-27") != nil {
		t.Errorf("a guessed cookie: %d", w.Code)
	}
}

// Another site cannot write through a phone, and no other name leads here.
func TestTheSharedAddressIsGuarded(t *testing.T) {
	o := open(t)
	cookie := o.let("Bo")
	for _, host := range []string{"evil.example", "evil.example:7345", "192.0.2.7", "192.0.2.7:80", "localhost:7345",
		"127.0.0.1:7345", ""} {
		if w := o.call("GET", "/", cookie, nil, "Host", host); w.Code != http.StatusMisdirectedRequest {
			t.Errorf("for the name %q: %d", host, w.Code)
		}
	}
	f := typing("2", "2025-03-27", "amount", "531")
	for _, h := range [][]string{{"Origin", "http://evil.example"}, {"Origin", "null"},
		{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}} {
		if w := o.call("POST", page.ReadPath, cookie, f, h...); w.Code != http.StatusForbidden {
			t.Errorf("%v: %d", h, w.Code)
		}
	}
	if o.read("2", "2025-03-27") != nil {
		t.Error("another site wrote a reading")
	}
	w := o.call("GET", "/", cookie, nil)
	for key, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin"} {
		if w.Header().Get(key) != want ||
			!strings.Contains(w.Header().Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s is %q", key, w.Header().Get(key))
		}
	}
	// The desk itself keeps all rights, and does not answer for the shared name.
	if w := ask(o.Handler, "GET", "/workbook", "Host", lan); w.Code != http.StatusMisdirectedRequest {
		t.Errorf("the desk answers for the network: %d", w.Code)
	}
}

// On a phone: let in by the code, a reading stored, others typed out of reach, the page loaded anew, the workbench
// back, and each confirmed only then; one entered twice is shown with both values.
func TestAtTheTree(t *testing.T) {
	var o *opened
	var gone atomic.Bool
	late := make(chan struct{})
	close(late)
	var serve http.HandlerFunc = func(w http.ResponseWriter, r *http.Request) {
		r.Host, _ = lan, r.Header
		if r.Header.Get("Origin") != "" {
			r.Header.Set("Origin", "http://"+lan)
		}
		o.phones.ServeHTTP(w, r)
	}
	o = open(t)
	b := browseOn(t, serve, func(r *http.Request) {
		if gone.Load() && r.Method == "POST" {
			panic(http.ErrAbortHandler)
		}
	})
	b.quiet.Store(true) // answers that are lost, and 409
	b.do(chromedp.EmulateViewport(390, 844))
	b.open("/")
	b.do(chromedp.SendKeys("#code", o.code), chromedp.SendKeys("#who", "Bo"), chromedp.Click("form.field button"))
	b.until(`document.querySelector("a.door")?.innerText.includes("Marsh 2025") === true`)
	b.do(chromedp.Click("a.door"))
	b.until(`document.getElementById("readings")?.date.value === "2025-03-27" && document.documentElement?.classList.contains("js") === true`)
	if got := eval[string](b,
		`[...document.querySelectorAll("[data-unit]")].map(e => e.dataset.unit).join()`); got != "1,2,3,4,5,6,7,8,9,10,11,12" {
		t.Errorf("the cards stand as %s", got)
	}
	if got := eval[string](b, `document.getElementById("amount-1").inputMode`); got != "decimal" {
		t.Errorf("keys: %s", got)
	}
	card := func(n int) string { return fmt.Sprintf(`document.getElementById("u-%d-mark").innerText`, n) }
	b.do(chromedp.SendKeys("#amount-1", "531"))
	b.until(card(1) + `.includes("not stored yet")`)
	b.do(chromedp.Click("#u-1 > button"))
	b.until(card(1) + `.includes("stored: 531 dumps")`)
	if !eval[bool](b,
		`document.getElementById("said").textContent.includes("2 is stored") && document.getElementById("amount-1").value === "" && document.getElementById("sum").innerText.startsWith("1 of 12")`) {
		t.Error("it is not announced, or what was typed stays")
	}

	gone.Store(true)
	b.do(chromedp.SendKeys("#amount-2", "600"), chromedp.SendKeys("#note-2", "ice"), chromedp.Click("#u-2 > button"))
	b.until(card(2) + `.includes("kept here")`)
	b.do(chromedp.SendKeys("#amount-3", "7")) // typed, not sent; and less than the last
	b.until(card(3) + `.includes("less than the last")`)
	if o.read("3", "2025-03-27") != nil {
		t.Error("stored out of reach")
	}
	b.open(readings("Marsh 2025", "2025-03-27"))
	b.until(`document.getElementById("amount-3")?.value === "7" && document.getElementById("note-2").value === "ice" && document.getElementById("waiting").innerText.startsWith("2 ")`)
	gone.Store(false)
	eval[any](b, `dispatchEvent(new Event("online")); 0`)
	b.until(card(2) + `.includes("stored: 600 dumps, “ice”")`)
	if r := o.read("3", "2025-03-27"); r == nil || *r.Counter != 600 {
		t.Errorf("stored: %+v", r)
	}
	if o.read("4", "2025-03-27") != nil || eval[string](b, `document.getElementById("amount-3").value`) != "7" {
		t.Error("what was only typed was stored, or is lost")
	}

	b.do(chromedp.SendKeys("#amount-1", "513"), chromedp.Click("#u-1 > button"))
	b.until(card(1) + `.includes("Stored: 531 dumps. Typed now: 513 dumps")`)
	if *o.read("2", "2025-03-27").Counter != 531 {
		t.Error("replaced without a word")
	}
	b.do(chromedp.Click("#u-1-mark a[data-leave]"))
	b.until(card(1) + `.includes("stored: 531 dumps") && document.getElementById("amount-1").value === ""`)
	b.do(chromedp.SendKeys("#amount-1", "513"), chromedp.Click("#u-1 > button"))
	b.until(`document.querySelector("#u-1-mark button") !== null`)
	b.do(chromedp.Click("#u-1-mark button"))
	b.until(card(1) + `.includes("stored: 513 dumps")`)

	// Another day: its own marks and drafts, without leaving the page.
	eval[any](b,
		`(d => { d.value = "2025-03-23"; d.dispatchEvent(new Event("input", {bubbles: true})); })(document.getElementById("date")); window.here = 1; 0`)
	b.until(card(1) + `.startsWith("stored: ") && document.getElementById("amount-3").value === ""`)
	eval[any](b,
		`(d => { d.value = "2025-03-27"; d.dispatchEvent(new Event("input", {bubbles: true})); })(document.getElementById("date")); 0`)
	b.until(`document.getElementById("amount-3").value === "7" && ` + card(1) + `.includes("513")`)
	if eval[int](b, "window.here ?? 0") != 1 {
		t.Error("the page was left")
	}

	// The workbench forgets the phone: what is typed stays.
	o.phones.Forget("")
	b.do(chromedp.Click("#u-3 > button"))
	b.until(card(3) + `.includes("new code")`)
	if !eval[bool](b, `Object.keys(localStorage).filter(k => k.startsWith("readings Marsh 2025 2025/")).length === 1`) {
		t.Error("the draft is lost")
	}
}

// A phone without room says with each key that it keeps nothing, and what is typed on it is stored all the same.
func TestAFullPhone(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	b := browseOn(t, d, nil)
	b.open(readings("Marsh 2025", "2025-03-27"))
	b.until(`document.documentElement?.classList.contains("js") === true`)
	eval[any](b, `for (let n = 0, size = 1 << 20; size; n++) try {
		localStorage.setItem("full" + n, "x".repeat(size));
	} catch { size >>= 1; } 0`)
	for n := 1; n <= 2; n++ {
		eval[any](b, `document.getElementById("said").textContent = ""; 0`)
		b.do(chromedp.SendKeys(fmt.Sprintf("#amount-%d", n), "531"))
		b.until(`document.getElementById("said").textContent.includes("nothing typed can be kept here")`)
	}
	b.do(chromedp.Click("#u-1 > button"), chromedp.Click("#u-2 > button"))
	b.until(`document.getElementById("u-2-mark").innerText.includes("stored: 531 dumps")`)
	for _, u := range []string{"2", "3"} { // the second and third unit
		if r := d.read(u, "2025-03-27"); r == nil || *r.Counter != 531 {
			t.Errorf("unit %s: %+v", u, r)
		}
	}
	if left := eval[string](b, `Object.keys(localStorage).filter(k => !k.startsWith("full")).join()`); left != "" {
		t.Errorf("it keeps %s", left)
	}
}

// What is typed while an earlier value is on its way is neither lost nor marked as stored.
func TestALateAnswerDropsNoDraft(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	hold := make(chan struct{})
	b := browseOn(t, d, func(r *http.Request) {
		if r.Method == "POST" {
			<-hold
		}
	})
	b.quiet.Store(true)
	b.open(readings("Marsh 2025", "2025-03-27"))
	b.do(chromedp.SendKeys("#amount-1", "53"), chromedp.Click("#u-1 > button"), chromedp.SendKeys("#amount-1", "1"))
	close(hold)
	b.until(`document.getElementById("said").textContent.includes("2 is stored")`)
	if got := eval[string](b,
		`document.getElementById("amount-1").value + " " + document.getElementById("u-1-mark").innerText`); !strings.HasPrefix(got, "531 ") || !strings.Contains(got, "not stored yet") {
		t.Errorf("after the late answer: %s", got)
	}
}

// All that is typed is stored as one change, so that one undo takes it back; where one of it is at fault nothing of
// it is, and all of it stays typed.
func TestAllThatIsTypedIsOneChange(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	b := browseOn(t, d, func(*http.Request) {})
	b.quiet.Store(true) // 422
	b.open(readings("Marsh 2025", "2025-03-27"))
	before := d.contents().Change
	b.do(chromedp.SendKeys("#amount-1", "531"), chromedp.SendKeys("#amount-2", "many"),
		chromedp.SendKeys("#brix-3", "2.1"))
	b.do(chromedp.Click(`button[value="all"]`))
	b.until(`(document.querySelector("#u-2-mark .fault")?.innerText ?? "") !== ""`)
	if got := eval[string](b, `document.getElementById("u-1-mark").innerText`); d.contents().Change != before ||
		!strings.Contains(got, "not stored yet") {
		t.Errorf("one of three is at fault: change %d; beside another stands %q", d.contents().Change, got)
	}
	eval[any](b, `(a => { a.value = ""; a.dispatchEvent(new Event("input", {bubbles: true})); })(
		document.getElementById("amount-2")); 0`)
	b.do(chromedp.SendKeys("#amount-2", "600"), chromedp.Click(`button[value="all"]`))
	b.until(`document.getElementById("sum").innerText.startsWith("3 of 12")`)
	if now := d.contents().Change; now != before+1 {
		t.Errorf("three readings are %d changes", now-before)
	}
	d.wants(d.post("/undo", url.Values{"change": {fmt.Sprint(before + 1)}}), http.StatusSeeOther)
	for _, unit := range []string{"2", "3", "4"} {
		if d.read(unit, "2025-03-27") != nil {
			t.Errorf("%s is still read", unit)
		}
	}
}

func FuzzPhone(f *testing.F) {
	f.Add("/", "code=1&who=a", "POST")
	f.Add("/trials/read?trial=Marsh+2025&season=2025", "", "GET")
	f.Add("/undo", "change=1", "POST")
	o := open(f)
	cookie := o.let("Bo")
	f.Fuzz(func(t *testing.T, address, body, method string) {
		if !strings.HasPrefix(address, "/") || method != "GET" && method != "POST" {
			return
		}
		if _, err := url.ParseRequestURI(address); err != nil || strings.ContainsAny(address, " \x7f") {
			return
		}
		form, _ := url.ParseQuery(body)
		o := &opened{atDesk{t, o.Handler, o.book}, o.phones, ""}
		before := len(o.contents().Studies)
		if w := o.call(method, address, cookie, form); w.Code >= 500 {
			t.Errorf("%d: %s", w.Code, w.Body)
		}
		if len(o.contents().Studies) != before {
			t.Error("a phone changed the studies")
		}
	})
}
