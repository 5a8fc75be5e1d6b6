package web

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/trade/practice"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// restarted is the same workbook served anew, by a process that remembers nothing.
func (o *opened) restarted(who string) *opened {
	o.Helper()
	n := &opened{atDesk: o.atDesk}
	n.phones = trees.NewPhones([]string{lan}, func(code, _ string) { n.code = code })
	clock := func() time.Time { return time.Date(2025, 3, 27, 11, 0, 0, 0, time.UTC) }
	h, err := New(Config{Book: o.book, Who: who, Now: clock, Version: "test", Phones: n.phones})
	if err != nil {
		o.Fatal(err)
	}
	n.Handler = h
	return n
}

// sending is what the script of a phone sends of one draft.
func sending(id, unit, on string, more ...string) url.Values {
	f := typing(unit, on, more...)
	f.Set("id.0", id)
	f.Set("do", "all")
	return f
}

// stored is what an answer, or the page that it leads to, names as stored.
func (o *opened) stored(w *httptest.ResponseRecorder, cookie string) []string {
	o.Helper()
	if w.Code == http.StatusSeeOther {
		to, _, _ := strings.Cut(w.Header().Get("Location"), "#")
		w = o.call("GET", to, cookie, nil)
	}
	if _, named := w.Header()["Spile-Stored"]; !named {
		o.Errorf("the answer names nothing: %d", w.Code)
	}
	return strings.Fields(w.Header().Get("Spile-Stored"))
}

// What was refused is told with its reason, listed at the desk through a restart, and settled there: entered for
// another unit or corrected, or thrown away with a reason. The phone hears of it when it asks again, and drops nothing
// before.
func TestWhatWasRefusedIsDecided(t *testing.T) {
	o := openBare(t)
	cookie := o.let("Bo")
	const on = "2025-03-27"
	send := func(id, unit string, more ...string) *httptest.ResponseRecorder {
		return o.call("POST", page.ReadPath, cookie, sending(id, unit, on, more...))
	}
	if got := o.stored(send("good", "2", "amount", "531"), cookie); !slices.Equal(got, []string{"good"}) {
		t.Errorf("stored: %q", got)
	}
	for _, c := range []struct{ id, unit, amount, says string }{
		{"gone", "B77", "118", "is not known"}, {"word", "3", "many", "allowed: a number"},
		{"twice", "2", "600", "Stored: 531 dumps. Typed now: 600 dumps"}, {"away", "B78", "7", "is not known"},
	} {
		w := send(c.id, c.unit, "amount", c.amount)
		if got := o.stored(w, cookie); len(got) != 0 || w.Code < 400 || !strings.Contains(w.Body.String(), c.says) ||
			!strings.Contains(w.Body.String(), `data-draft="`+c.id+`"`) {
			t.Errorf("%s: %d, stored %q", c.id, w.Code, got)
		}
		send(c.id, c.unit, "amount", c.amount) // a phone that asks again is listed once
	}
	before := o.contents().Change
	o = o.restarted("Ada")
	desk := o.get("/trials")
	for _, says := range []string{"4 to decide", "B77", "118", "typed by Bo", "allowed: a number",
		"Typed now: 600 dumps"} {
		if !strings.Contains(desk, says) {
			t.Errorf("the desk does not say %q", says)
		}
	}
	if strings.Count(desk, `value="118"`) != 1 {
		t.Error("what was sent twice is listed twice")
	}
	decide := func(id string, more ...string) *httptest.ResponseRecorder {
		f := url.Values{"id": {id}, "seen": {fmt.Sprint(o.contents().Change)}}
		for i := 0; i < len(more); i += 2 {
			f.Set(more[i], more[i+1])
		}
		return o.post("/phones/refused", f)
	}
	o.wants(decide("gone", "do", "enter", "unit", "B77"), http.StatusUnprocessableEntity, "is not known")
	o.wants(decide("twice", "do", "enter", "unit", "2"), http.StatusUnprocessableEntity, "Typed now: 600 dumps")
	o.wants(decide("away", "do", "away"), http.StatusUnprocessableEntity, "why")
	if now := o.contents().Change; now != before {
		t.Errorf("the workbook went from change %d to %d", before, now)
	}
	o.wants(decide("gone", "do", "enter", "unit", "4", "reason", "the tag was read upside down"), http.StatusSeeOther)
	o.wants(decide("word", "do", "enter", "unit", "3", "amount", "540"), http.StatusSeeOther)
	o.wants(decide("twice", "do", "enter", "unit", "2", "over", "yes"), http.StatusSeeOther)
	o.wants(decide("away", "do", "away", "reason", "a fence post"), http.StatusSeeOther)
	for unit, want := range map[string]float64{"4": 118, "3": 540, "2": 600} {
		if r := o.read(unit, on); r == nil || *r.Counter != want {
			t.Errorf("unit %s reads %+v", unit, r)
		}
	}
	all, err := o.book.History(0, math.MaxInt)
	if err != nil || all[2].Who != "Ada" || !strings.Contains(all[2].What, "sent by Bo for B77") ||
		!strings.Contains(all[2].Why, "upside down") {
		t.Errorf("the history says %+v", all[2].Change)
	}
	if desk := o.get("/trials"); !strings.Contains(desk, "0 to decide") || !strings.Contains(desk, "a fence post") {
		t.Error("the desk does not keep what was decided")
	}
	// The phone asks again, as it does by itself.
	for id, says := range map[string]string{"gone": "Ada entered it for 4", "away": "Ada threw it away: a fence post"} {
		w := o.call("POST", page.ReadPath, cookie, sending(id, "B77", on, "amount", "118"))
		if got := o.stored(w, cookie); !slices.Equal(got, []string{id}) || !strings.Contains(w.Body.String(), says) {
			t.Errorf("%s: %d, %q", id, w.Code, got)
		}
	}
}

// What the phone corrects or throws away itself is decided, too.
func TestAPhoneDecidesItself(t *testing.T) {
	o := openBare(t)
	cookie := o.let("Bo")
	const on = "2025-03-27"
	o.call("POST", page.ReadPath, cookie, sending("a", "3", on, "amount", "many"))
	o.call("POST", page.ReadPath, cookie, sending("b", "B77", on, "amount", "7"))
	if desk := o.get("/trials"); !strings.Contains(desk, "2 to decide") {
		t.Fatal("they are not listed")
	}
	if got := o.stored(o.call("POST", page.ReadPath, cookie, sending("c", "3", on, "amount", "540")),
		cookie); !slices.Equal(got, []string{"c"}) {
		t.Errorf("stored: %q", got)
	}
	f := sending("b", "B77", on, "amount", "7", "away", "no such tree")
	if got := o.stored(o.call("POST", page.ReadPath, cookie, f), cookie); !slices.Equal(got, []string{"b"}) {
		t.Errorf("thrown away: %q", got)
	}
	if desk := o.get("/trials"); !strings.Contains(desk, "0 to decide") || !strings.Contains(desk, "no such tree") {
		t.Error("the desk does not know")
	}
	// A trial that is no more: nothing is dropped, and the desk has it.
	f = sending("d", "3", on, "amount", "9")
	f.Set("trial", "Bog 2019")
	w := o.call("POST", page.ReadPath, cookie, f)
	if got := o.stored(w, cookie); w.Code != http.StatusNotFound || len(got) != 0 {
		t.Errorf("%d, stored %q", w.Code, got)
	}
	if desk := o.get("/trials"); !strings.Contains(desk, "no trial Bog 2019") {
		t.Error("the desk does not list what was typed for a trial that is no more")
	}
}

// Phones stay in through a restart, are listed with their last reading, and can be forgotten one by one.
func TestPhonesSurviveARestart(t *testing.T) {
	o := openBare(t)
	bo, cy := o.let("Bo"), o.let("Cy")
	f := sending("a", "2", "2025-03-27", "amount", "531")
	f.Set("waiting", "4") // with this one
	o.call("POST", page.ReadPath, bo, f)
	file := o.book.Path() + "-phones"
	text, err := os.ReadFile(file)
	if err != nil || strings.Contains(string(text), bo) || strings.Contains(string(text), cy) {
		t.Errorf("what lets a phone in stands in the file: %v", err)
	}
	o = o.restarted("Ada")
	body := o.wants(ask(o.Handler, "GET", "/trials"), http.StatusOK, "Bo", "Cy", "last reading",
		"2 of Marsh 2025, March 27",
		"3 kept on it", "nothing read yet")
	key := regexp.MustCompile(`name="phone" value="(\w+)"><button class="small" aria-label="forget the phone of Bo"`).
		FindStringSubmatch(body)
	if key == nil {
		t.Fatal("Bo cannot be forgotten alone")
	}
	o.post("/phones/forget", url.Values{"phone": {key[1]}})
	in := func(cookie string) bool {
		return o.call("GET", readings("Marsh 2025", "2025-03-27"), cookie, nil).Code == http.StatusOK
	}
	if in(bo) || !in(cy) {
		t.Errorf("Bo is in: %v, Cy: %v", in(bo), in(cy))
	}
	// A phone of the name of who runs it now is told apart.
	o = o.restarted("cy")
	o.call("POST", page.ReadPath, cy, sending("b", "3", "2025-03-27", "amount", "12"))
	if all, err := o.book.History(0, math.MaxInt); err != nil || all[0].Who != "Cy (2)" {
		t.Errorf("the history says %s", all[0].Who)
	}
	// A file that cannot be read is set aside, told, and not written over.
	if err := os.WriteFile(file, []byte(`{"phones": [`), 0o600); err != nil {
		t.Fatal(err)
	}
	os.Chtimes(file, time.Now(), time.Now().Add(time.Hour))
	o = o.restarted("Ada")
	if body := o.get("/trials"); !strings.Contains(body, "-damaged") || !strings.Contains(body, "No phone is in") {
		t.Error("a damaged file is not told")
	}
	if kept, err := os.ReadFile(file + "-damaged"); err != nil || string(kept) != `{"phones": [` {
		t.Errorf("%q %v", kept, err)
	}
}

// Two workbenches over one workbook let phones in at once: each knows all of them, and what any of them reads is there.
func TestPhonesOfTwoWorkbenches(t *testing.T) {
	const each = 12
	o := openBare(t)
	both := []*opened{o, o.restarted("Zed")}
	in := make([][]string, len(both))
	var group sync.WaitGroup
	for i, one := range both {
		group.Go(func() {
			for n := range each {
				cookie := one.let(fmt.Sprintf("P%d of %d", n, i))
				in[i] = append(in[i], cookie)
				one.call("POST", page.ReadPath, cookie, sending(fmt.Sprintf("a%d-%d", i, n), fmt.Sprint(n%12+1),
					fmt.Sprintf("2025-04-%02d", 1+i), "amount", "12"))
				one.call("POST", page.ReadPath, cookie, sending(fmt.Sprintf("b%d-%d", i, n), "none", "2025-04-09",
					"amount", "3"))
			}
		})
	}
	group.Wait()
	listed := regexp.MustCompile(`name="id" value="b\d-\d+"`)
	for i, one := range both {
		for _, cookie := range slices.Concat(in...) {
			if w := one.call("GET", readings("Marsh 2025", "2025-03-27"), cookie, nil); w.Code != http.StatusOK {
				t.Errorf("workbench %d does not know a phone: %d", i, w.Code)
			}
		}
		if n := len(listed.FindAllString(one.get("/trials"), -1)); n != len(both)*each {
			t.Errorf("workbench %d lists %d of %d that were refused", i, n, len(both)*each)
		}
	}
	for i := range both {
		for n := range each {
			if o.read(fmt.Sprint(n%12+1), fmt.Sprintf("2025-04-%02d", 1+i)) == nil {
				t.Errorf("a reading of phone %d of workbench %d is not there", n, i)
			}
		}
	}
}

// Who reads waits for nothing that is worked out: the answer to a change may take as long as it takes.
func TestPhonesWaitForNoAnswer(t *testing.T) {
	o := openBare(t)
	bo := o.let("Bo")
	d := o.Handler.(tongues[*desk]).in["en"]
	d.mu.Lock()
	d.next = make(chan struct{}) // it takes long
	d.mu.Unlock()
	done := make(chan struct{})
	go func() {
		defer close(done)
		w := o.call("POST", page.ReadPath, bo, sending("a", "2", "2025-03-27", "amount", "531"))
		if got := o.stored(w, bo); !slices.Equal(got, []string{"a"}) {
			t.Errorf("stored: %q", got)
		}
		w = o.call("GET", readings("Marsh 2025", "2025-03-27"), bo, nil)
		if !strings.Contains(w.Body.String(), "531") {
			t.Error("the phone is not shown what it stored")
		}
	}()
	select {
	case <-done:
	case <-time.After(10 * time.Second):
		t.Error("the phone waits")
	}
	d.mu.Lock()
	close(d.next)
	d.next = nil
	d.mu.Unlock()
}

// The page of an address that is no more lets the same phone in at a new one, by a handle that is not its cookie.
func TestAPhoneMovesOn(t *testing.T) {
	o := openBare(t)
	bo := o.let("Bo")
	body := o.call("GET", readings("Marsh 2025", "2025-03-27"), bo, nil).Body.String()
	handle := regexp.MustCompile(`data-handle="(\w{40,})"`).FindStringSubmatch(body)
	if handle == nil || strings.Contains(body, bo) {
		t.Fatal("the page knows no handle, or knows the cookie")
	}
	const new = "198.51.100.9:7345" // RFC 5737
	o.phones.Moved([]string{new})
	if w := o.call("GET", "/", bo, nil); w.Code != http.StatusMisdirectedRequest {
		t.Errorf("the old address answers: %d", w.Code)
	}
	at := []string{"Host", new, "Origin", "http://" + new}
	w := o.call("POST", "/", "", url.Values{"handle": {handle[1]}}, at...)
	c := w.Result().Cookies()
	if w.Code != http.StatusSeeOther || len(c) != 1 || c[0].Value == bo {
		t.Fatalf("%d %v", w.Code, c)
	}
	f := sending("a", "2", "2025-03-27", "amount", "531")
	if got := o.call("POST", page.ReadPath, c[0].Value, f, at...); got.Code != http.StatusSeeOther {
		t.Errorf("%d %s", got.Code, got.Body)
	}
	if body := o.get("/trials"); strings.Count(body, "<b>Bo") != 1 || !strings.Contains(body, "http://"+new+"/") {
		t.Error("it is listed as two phones, or the desk shows the address that is no more")
	}
	w = o.call("POST", "/", "", url.Values{"handle": {strings.Repeat("ab", 32)}}, at...)
	o.wants(w, http.StatusForbidden, "enter a new code")
}

func TestNamesOfPhones(t *testing.T) {
	o := openBare(t)
	for i, c := range []struct {
		typed, kept string // "": refused
	}{
		{"Ada", ""}, {" aDA ", ""}, {"A\u200bd\u202ea", ""}, {"Ａｄａ", ""}, {"Áda", ""}, {"A d a", ""}, {"\u202e", ""},
		{"\u0410d\u0430", ""}, {"\u0391da", ""}, {"Ad\u0251", ""}, // of other alphabets, which look the same
		{"...", ""}, {strings.Repeat("x", 61), ""},
		{"Bo", "Bo"}, {"Bo", "Bo (2)"}, {"bo", "bo (3)"}, {"\u202eoB", "oB"},
		{"Вера", "Вера"}, {"вера", "вера (2)"}, {"Νίκος", "Νίκος"}, {"νίκος", "νίκος (2)"}, // case of other alphabets
		{"Zoë 🍁", "Zoë 🍁"}, {"👩‍🌾", "👩‍🌾"},
		{"../../etc/passwd", "../../etc/passwd"}, {"<b>", "<b>"}, {"Line\nbreak\x1b[31m", "Line break [31m"},
	} {
		w := o.call("POST", "/", "", url.Values{"code": {o.code}, "who": {c.typed}})
		if c.kept == "" {
			if w.Code != http.StatusUnprocessableEntity {
				t.Errorf("%q: %d", c.typed, w.Code)
			}
			continue
		}
		if w.Code != http.StatusSeeOther {
			t.Errorf("%q: %d", c.typed, w.Code)
			continue
		}
		cookie := w.Result().Cookies()[0].Value
		o.call("POST", page.ReadPath, cookie, sending("x", "2", "2025-03-27", "amount", fmt.Sprint(i), "over",
			fmt.Sprint(o.contents().Change)))
		if all, err := o.book.History(0, math.MaxInt); err != nil || all[0].Who != c.kept {
			t.Errorf("%q is kept as %q", c.typed, all[0].Who)
		}
	}
}

// Addresses that come are listened on, and those that go are let go; the desk shows the living one.
func TestAddressesAreFollowed(t *testing.T) {
	o := openBare(t)
	probe, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := probe.Addr().(*net.TCPAddr).Port
	probe.Close()
	var mu sync.Mutex
	now := []string{"127.0.0.1"}
	told := make(chan []string, 9)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() {
		ended <- Share(ctx, o.phones, port, func() []string {
			mu.Lock()
			defer mu.Unlock()
			return now
		}, 10*time.Millisecond, func(a []string) { told <- a })
	}()
	reach := func(ip string) bool {
		r, err := (&http.Client{Timeout: time.Second, Transport: &http.Transport{DisableKeepAlives: true}}).
			Get(fmt.Sprintf("http://%s:%d/", ip, port))
		if err != nil {
			return false
		}
		defer r.Body.Close()
		io.Copy(io.Discard, r.Body)
		return r.StatusCode == http.StatusOK
	}
	for i, next := range [][]string{{"127.0.0.1"}, {"127.0.0.2", "127.0.0.3"}, {}, {"127.0.0.3"}} {
		mu.Lock()
		now = next
		mu.Unlock()
		if got := <-told; len(got) != len(next) {
			t.Fatalf("step %d: told %v", i, got)
		}
		desk := o.get("/trials")
		for _, ip := range []string{"127.0.0.1", "127.0.0.2", "127.0.0.3"} {
			want := slices.Contains(next, ip)
			if got := reach(ip); got != want {
				t.Errorf("step %d: %s answers: %v", i, ip, got)
			}
			if shown := strings.Contains(desk, fmt.Sprintf("http://%s:%d/", ip, port)); shown != want {
				t.Errorf("step %d: the desk shows %s: %v", i, ip, shown)
			}
		}
		if none := strings.Contains(desk, "in no local network now"); none != (len(next) == 0) {
			t.Errorf("step %d: told that there is no network: %v", i, none)
		}
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// Another program reads from the picture what a phone would: the address, and the code behind it.
func TestThePictureOpensThePage(t *testing.T) {
	if _, err := exec.LookPath("zbarimg"); err != nil {
		t.Skip("NOT RUN: no zbarimg (Debian's zbar-tools)")
	}
	o := openBare(t)
	svg := regexp.MustCompile(`(?s)<svg class="qr" viewBox="0 0 (\d+) .*?</svg>`).FindStringSubmatch(o.get("/trials"))
	if svg == nil {
		t.Fatal("no picture")
	}
	var n int
	fmt.Sscan(svg[1], &n)
	const module = 6
	m := image.NewGray(image.Rect(0, 0, n*module, n*module))
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	for _, at := range regexp.MustCompile(`M(\d+) (\d+)h1v1h-1z`).FindAllStringSubmatch(svg[0], -1) {
		var x, y int
		fmt.Sscan(at[1], &x)
		fmt.Sscan(at[2], &y)
		for dx := range module {
			for dy := range module {
				m.Set(x*module+dx, y*module+dy, color.Black)
			}
		}
	}
	name := filepath.Join(t.TempDir(), "qr.png")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(f, m); err != nil {
		t.Fatal(err)
	}
	f.Close()
	got, err := exec.Command("zbarimg", "--raw", "-q", name).Output()
	want := "http://" + lan + "/#code=" + strings.ReplaceAll(o.code, " ", "")
	if err != nil || strings.TrimSpace(string(got)) != want {
		t.Errorf("the picture says %q, %v; wanted %q", got, err, want)
	}
}

// What strangers and mistakes send does no harm: nothing is stored for another, nothing is lost, nothing breaks.
func TestHostilePhones(t *testing.T) {
	o := openBare(t)
	bo, cy := o.let("Bo"), o.let("Cy")
	const on = "2025-03-27"
	post := func(cookie string, f url.Values, more ...string) *httptest.ResponseRecorder {
		return o.call("POST", page.ReadPath, cookie, f, more...)
	}
	t.Run("two phones type one unit", func(t *testing.T) {
		post(bo, sending("b1", "2", on, "amount", "531"))
		w := post(cy, sending("c1", "2", on, "amount", "600"))
		if w.Code != http.StatusConflict || *o.read("2", on).Counter != 531 {
			t.Errorf("%d", w.Code)
		}
	})
	t.Run("a request is sent again", func(t *testing.T) {
		before := o.contents().Change
		for range 3 {
			post(bo, sending("b1", "2", on, "amount", "531"))
		}
		if now := o.contents().Change; now != before {
			t.Errorf("%d changes more", now-before)
		}
	})
	t.Run("ten thousand lines", func(t *testing.T) {
		f := sending("l1", "3", on, "note", strings.Repeat("=cmd|' /C calc'!A0\n", 10_000))
		if got := o.stored(post(bo, f), bo); len(got) != 0 || o.read("3", on) != nil {
			t.Errorf("stored %q", got)
		}
		f = sending("l2", "3", on, "amount", "1")
		for n := range 3000 {
			f.Set(fmt.Sprintf("unit.%d", n+1), fmt.Sprintf("x%d", n))
			f.Set(fmt.Sprintf("amount.%d", n+1), "1")
			f.Set(fmt.Sprintf("id.%d", n+1), fmt.Sprintf("many%d", n))
		}
		post(bo, f)
		if info, err := os.Stat(o.book.Path() + "-phones"); err != nil || info.Size() > 2<<20 {
			t.Errorf("the list of what was refused takes %d bytes", info.Size())
		}
		if r := o.read("3", on); r == nil || *r.Counter != 1 {
			t.Error("what was good in it is lost")
		}
	})
	t.Run("one unit twice in a form", func(t *testing.T) {
		f := sending("d1", "4", on, "amount", "1")
		f.Set("unit.1", "4")
		f.Set("amount.1", "2")
		f.Set("id.1", "d2")
		got := o.stored(post(bo, f), bo)
		if r := o.read("4", on); r != nil && (*r.Counter != 1 || slices.Contains(got, "d2")) {
			t.Errorf("stored %q, %v", got, *r.Counter)
		}
	})
	t.Run("names that are paths", func(t *testing.T) {
		for _, name := range []string{"../../etc/passwd", "..\\w.spile", "/trials", "\x00", "%2e%2e%2f"} {
			f := sending("p"+name, name, on, "amount", "1")
			f.Set("trial", name)
			if w := post(bo, f); w.Code != http.StatusNotFound {
				t.Errorf("%q: %d", name, w.Code)
			}
			for _, p := range []string{"/asset/" + url.PathEscape(name), "/language/" + url.PathEscape(name)} {
				if w := o.call("GET", p, bo, nil); w.Code < 400 && w.Code != http.StatusMovedPermanently &&
					w.Code != http.StatusTemporaryRedirect {
					t.Errorf("%s: %d", p, w.Code)
				}
			}
		}
		dir, err := os.ReadDir(filepath.Dir(o.book.Path()))
		if err != nil || len(dir) != 3 { // the workbook, the phones and their lock
			t.Errorf("beside the workbook stand %v", dir)
		}
	})
	t.Run("other methods", func(t *testing.T) {
		before := o.contents().Change
		for _, method := range []string{"HEAD", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"} {
			w := o.call(method, page.ReadPath, bo, sending("m", "5", on, "amount", "9"))
			if method == "HEAD" && w.Code >= 500 || method != "HEAD" && w.Code < 400 {
				t.Errorf("%s: %d", method, w.Code)
			}
		}
		if o.contents().Change != before {
			t.Error("another method wrote")
		}
	})
	t.Run("very long codes", func(t *testing.T) {
		for _, code := range []string{strings.Repeat("1", 3000), strings.Repeat("1", 1<<20), strings.Repeat("１", 8), "",
			"\x00", "-1"} {
			if w := o.call("POST", "/", "", url.Values{"code": {code}, "who": {"Di"}}); w.Code < 400 || w.Code >= 500 {
				t.Errorf("%d letters: %d", len(code), w.Code)
			}
		}
	})
	t.Run("a phone answers for another", func(t *testing.T) {
		// A draft's name is the phone's own: what another sends under it is neither decided by it nor stored for it.
		post(bo, sending("s1", "B77", on, "amount", "1"))
		got := o.stored(post(cy, sending("s1", "B77", on, "amount", "2", "away", "not mine")), cy)
		desk := o.get("/trials")
		if slices.Contains(got, "s1") && !strings.Contains(desk, "typed by Bo") {
			t.Error("another phone threw away what Bo typed")
		}
		if !strings.Contains(desk, "typed by Bo") {
			t.Error("Bo's is not listed")
		}
	})
	t.Run("a clock that moves", func(t *testing.T) {
		before, err := o.book.History(0, math.MaxInt)
		if err != nil {
			t.Fatal(err)
		}
		hour := 12
		h, err := New(Config{Book: o.book, Who: "Ada", Version: "test", Phones: o.phones, Now: func() time.Time {
			hour -= 5 // back
			return time.Date(2025, 3, 27, 12+hour, 0, 0, 0, time.UTC)
		}})
		if err != nil {
			t.Fatal(err)
		}
		o.Handler = h
		for i, amount := range []string{"700", "701", "702"} {
			f := sending(fmt.Sprint("k", i), "6", on, "amount", amount, "over", fmt.Sprint(o.contents().Change))
			if got := o.stored(post(bo, f), bo); len(got) != 1 {
				t.Fatalf("%s: %q", amount, got)
			}
		}
		after, err := o.book.History(0, math.MaxInt)
		if err != nil || len(after) != len(before)+3 || *o.read("6", on).Counter != 702 {
			t.Errorf("%d changes, %v", len(after)-len(before), *o.read("6", on).Counter)
		}
		if _, err := book.Check(o.book.Path()); err != nil {
			t.Error(err)
		}
	})
	t.Run("a stolen cookie", func(t *testing.T) {
		// Whoever has it reads under its name, as far as the network is not encrypted; forgetting the phone ends both.
		o.phones.Forget("")
		if w := post(bo, sending("z", "7", on, "amount", "1")); w.Code != http.StatusUnauthorized {
			t.Errorf("%d", w.Code)
		}
	})
}

// Two tabs of one phone type at one time: neither takes away what the other keeps, and what one of them stores is kept
// by none.
func TestTwoTabs(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	var gone atomic.Bool
	b := browseOn(t, d, func(r *http.Request) {
		if gone.Load() && r.Method == "POST" {
			panic(http.ErrAbortHandler)
		}
	})
	b.quiet.Store(true)
	ctx, cancel := chromedp.NewContext(b.ctx)
	defer cancel()
	other := &tab{T: t, ctx: ctx, base: b.base}
	for _, x := range []*tab{b, other} {
		x.open(readings("Marsh 2025", "2025-03-27"))
		x.until(`document.documentElement?.classList.contains("js") === true`)
	}
	gone.Store(true)
	kept := `Object.keys(localStorage).filter(k => k.startsWith("readings Marsh")).length`
	b.do(chromedp.SendKeys("#amount-1", "531"), chromedp.Click("#u-1 > button"), chromedp.SendKeys("#amount-3", "7"))
	other.do(chromedp.SendKeys("#amount-2", "600"), chromedp.Click("#u-2 > button"))
	b.do(chromedp.SendKeys("#amount-3", "0"))
	for _, x := range []*tab{b, other} {
		x.until(kept + " === 3")
	}
	gone.Store(false)
	eval[any](other, `dispatchEvent(new Event("online")); 0`)
	for _, x := range []*tab{b, other} {
		x.until(kept + ` === 1 && document.getElementById("waiting").innerText.startsWith("1 ")`)
	}
	for unit, want := range map[string]float64{"2": 531, "3": 600} { // the second and third card
		if r := d.read(unit, "2025-03-27"); r == nil || *r.Counter != want {
			t.Errorf("unit %s reads %+v", unit, r)
		}
	}
	other.open(readings("Marsh 2025", "2025-03-27"))
	other.until(`document.getElementById("amount-3")?.value === "70"`)
	if d.read("4", "2025-03-27") != nil {
		t.Error("what was only typed is stored")
	}
}

// What is kept on a phone can be saved as a file while the workbench does not answer: a table that the desk takes in,
// in which nothing runs and every remark reads as it was typed.
func TestDraftsAreSavedAsAFile(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	b := browseOn(t, d, func(r *http.Request) {
		if r.Method == "POST" {
			panic(http.ErrAbortHandler)
		}
	})
	b.quiet.Store(true)
	b.open(readings("Marsh 2025", "2025-03-27"))
	b.until(`document.documentElement?.classList.contains("js") === true`)
	eval[any](b, `URL.createObjectURL = made => { made.text().then(text => { window.saved = text; }); return "#"; }; 0`)
	const remark = `=1+1, "ice"; é 🍁`
	b.do(chromedp.SendKeys("#amount-1", "531"), chromedp.SendKeys("#note-1", remark), chromedp.Click("#u-1 > button"))
	b.do(chromedp.SendKeys("#amount-2", "600"))
	eval[any](b, `document.querySelector("#drafts details").open = true; 0`)
	b.do(chromedp.Click("#export"))
	b.until(`!!window.saved`)
	saved := eval[string](b, "window.saved")
	if strings.Contains(saved, ",=") || strings.Contains(saved, `,"=`) {
		t.Errorf("a cell runs in a spreadsheet: %s", saved)
	}
	empty := marsh(false)
	for i := range empty.Records {
		empty.Records[i].Readings = nil
	}
	read, _, err := sheet.TrialOf(empty, practice.Shipped(), nil, "readings.csv", []byte(saved))
	if err != nil {
		t.Fatalf("%v\n%s", err, saved)
	}
	all := read.Records[0].Readings
	if len(all) != 2 || all[0].Unit != "2" || *all[0].Counter != 531 || all[0].Note != remark || all[1].Unit != "3" ||
		*all[1].Counter != 600 {
		t.Errorf("%+v of\n%s", all, saved)
	}
}
