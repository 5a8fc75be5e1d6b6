package web

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"spile/internal/engine/design"
	"spile/internal/files/book"
	"spile/internal/trade/practice"
	trials "spile/internal/trade/trial"
)

// slope is an invented trial of 40 units on counters, not read yet.
func slope() trials.Trial {
	q := trials.Question{Practices: []practice.Key{"unsanitized", "new-spout", "check-valve", "new-drop"},
		Reference: "unsanitized", Design: trials.Blocks, Replicates: 10, Taps: 20, Seasons: 1, FirstSeason: 2025,
		Seed: 9}
	l, err := design.Draw(q, practice.Shipped())
	if err != nil {
		panic(err)
	}
	t := trials.Trial{Name: "Slope", Site: "Slope", Question: &l.Question, Records: l.Records(),
		Options: trials.Options{Reference: "unsanitized"}}
	t.Records[0].Calibrations = []trials.Calibration{{At: day(2025, 3, 1), Flow: trials.Slow, Dump: 3}}
	return t
}

// sharing is a workbench that phones reach over addresses that can be changed, at one port.
type sharing struct {
	*opened
	port  int
	ctx   context.Context
	mu    sync.Mutex
	at    []string
	moved chan []string
	end   func()
}

// start serves the workbook in a process that remembers nothing.
func (s *sharing) start() {
	s.Helper()
	s.opened = s.restarted("Ada")
	ctx, cancel := context.WithCancel(s.ctx)
	ended := make(chan struct{})
	phones := s.phones
	go func() {
		defer close(ended)
		Share(ctx, phones, s.port, func() []string {
			s.mu.Lock()
			defer s.mu.Unlock()
			return s.at
		}, 10*time.Millisecond, func(a []string) { s.moved <- a })
	}()
	s.end = func() { cancel(); <-ended }
	<-s.moved
}

// move changes the addresses of this machine.
func (s *sharing) move(to ...string) {
	s.mu.Lock()
	s.at = to
	s.mu.Unlock()
	for got := range s.moved {
		if len(got) == len(to) {
			return
		}
	}
}

func (s *sharing) host(ip string) string { return fmt.Sprintf("%s:%d", ip, s.port) }

// A day at the trees: 40 units and three phones; an hour out of reach; meanwhile the machine gets another address, its
// workbench is started anew, and the layout loses a unit; one phone is lost. Every reading that was typed is then in
// the workbook, before the desk with the reason why it is not, or on the phone that the desk names as lost.
func TestAFieldDay(t *testing.T) {
	first, second := "127.0.0.1", "127.0.0.2"
	probe, err := net.Listen("tcp", first+":0")
	if err != nil {
		t.Fatal(err)
	}
	s := &sharing{opened: &opened{atDesk: atTrial(t, false, slope())}, port: probe.Addr().(*net.TCPAddr).Port,
		ctx: t.Context(), at: []string{first}, moved: make(chan []string, 9)}
	probe.Close()
	names := []string{"Bo", "Cy", "Di"}
	var phones []*tab
	for range names {
		b := browseOn(t, http.NotFoundHandler(), nil) // a browser of its own, as another phone is
		b.quiet.Store(true)                           // out of reach
		b.do(chromedp.EmulateViewport(390, 844))
		phones = append(phones, b)
	}
	s.start()
	defer func() { s.end() }()
	for i, b := range phones {
		b.base = "http://" + s.host(first)
		b.open("/#code=" + strings.ReplaceAll(s.code, " ", ""))
		b.until(`document.getElementById("code")?.value.length === 8`)
		b.do(chromedp.SendKeys("#who", names[i]), chromedp.Click("#door button"))
		b.until(`document.querySelector("a.door")?.innerText.includes("Slope") === true`)
		b.do(chromedp.Click("a.door"))
		b.until(`document.getElementById("readings")?.date.value === "2025-03-27" && document.documentElement.classList.contains("js")`)
	}

	typed := map[string]int{} // who and unit, to what was typed
	read := func(who int, unit, value int) {
		typed[fmt.Sprint(names[who], " ", unit)] = value
		eval[any](phones[who], fmt.Sprintf(`(c => { const f = c.querySelector("[data-field=amount]"); f.value = "%d";
			f.dispatchEvent(new Event("input",
				{bubbles: true})); c.querySelector(":scope > button").click(); })(document.querySelector('[data-unit="%d"]')); 0`,
			value, unit))
	}
	drafts := func(b *tab) int {
		return eval[int](b, `Object.keys(localStorage).filter(k => k.startsWith("readings ")).length`)
	}
	settled := func(b *tab, n int) {
		b.until(fmt.Sprintf(
			`Object.keys(localStorage).filter(k => k.startsWith("readings ")).length === %d`, n))
	}
	for who := range names { // in reach: units 1 to 12
		for n := 1; n <= 4; n++ {
			read(who, 4*who+n, 100+4*who+n)
		}
		settled(phones[who], 0)
	}

	// Out of reach: what answers there, if anything, is another's page, which stores nothing.
	s.move()
	portal := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Write([]byte("<!doctype html><p>Welcome to this network"))
	}))
	portal.Listener.Close()
	if portal.Listener, err = net.Listen("tcp", s.host(first)); err != nil {
		t.Fatal(err)
	}
	portal.Start()
	for n := 13; n <= 40; n++ {
		read((n-13)/10, n, 100+n)
	}
	read(2, 13, 999) // which Bo reads, too
	read(0, 14, 777) // typed again
	for i, n := range []int{10, 10, 9} {
		settled(phones[i], n)
		phones[i].until(`!document.querySelector(".mark .draft") || ![...document.querySelectorAll(".mark .draft")].some(e => e.innerText === "being sent")`)
		settled(phones[i], n)
	}
	portal.Close()
	s.end()

	// The layout loses unit 23, which Cy has read by then.
	fewer := slope()
	fewer.Records[0].Plots = slices.DeleteFunc(fewer.Records[0].Plots,
		func(p trials.Plot) bool { return p.Unit == "23" })
	have := s.contents()
	if _, err := s.book.Save(book.Edit{At: day(2025, 3, 27), Who: "Ada", What: "23 fell", Seen: have.Sight(),
		Replace: true},
		book.Keep(fewer)); err != nil {
		t.Fatal(err)
	}
	s.mu.Lock()
	s.at = []string{second}
	s.mu.Unlock()
	s.start()

	// Bo goes on at the new address, by the page that is open at the old one.
	bo := phones[0]
	eval[any](bo, `document.querySelector("#drafts details").open = true; 0`)
	bo.do(chromedp.SendKeys("#moved", s.host(second)), chromedp.Click("#hand"))
	bo.until(fmt.Sprintf(`location.host === %q && document.querySelectorAll("#handed li").length === 10`,
		s.host(second)))
	bo.do(chromedp.Click("#handed button"))
	bo.until(`document.querySelector("a.door")?.innerText.includes("Slope") === true`)
	settled(bo, 0)
	// Cy's page is reached where the old address comes back.
	s.move(first, second)
	eval[any](phones[1], `dispatchEvent(new Event("online")); 0`)
	phones[1].until(`[...document.querySelectorAll("#refused li")].some(e => e.innerText.includes("23") && e.innerText.includes("not known"))`)
	settled(phones[1], 1)
	// Di's is lost, and forgotten at the desk once its readings have been looked for.
	desk := s.get("/trials")
	if !strings.Contains(desk, "<b>Di</b>") || !strings.Contains(desk, "12 of Slope") {
		t.Error("the desk does not name the phone that was lost, nor what it read last")
	}
	if drafts(phones[2]) != 9 {
		t.Error("what was typed on the lost phone is not on it")
	}

	stored := map[string]float64{}
	for _, r := range s.contents().Trials[0].Records[0].Readings {
		stored[r.Unit] = *r.Counter
	}
	for key, value := range typed {
		who, unit, _ := strings.Cut(key, " ")
		var n int
		fmt.Sscan(unit, &n)
		switch at, ok := stored[unit]; {
		case who == "Di" && (n > 32 || n == 13): // lost
		case unit == "23":
			if ok || !strings.Contains(desk, "typed by Cy") || !strings.Contains(desk, `value="123"`) {
				t.Errorf("23: stored %v; the desk does not list it", at)
			}
		case !ok || at != float64(value):
			t.Errorf("%s typed %d for unit %s: stored %v", who, value, unit, at)
		}
	}
	// The phone is found: what stands against what is stored is asked, the rest is stored; the desk decides the last.
	eval[any](phones[2], `dispatchEvent(new Event("online")); 0`)
	phones[2].until(`[...document.querySelectorAll("#refused li b")].some(e => e.innerText === "13")`) // the last one sent
	settled(phones[2], 1)
	if desk := s.get("/trials"); !strings.Contains(desk, "2 to decide") || !strings.Contains(desk, `value="999"`) {
		t.Error("two phones read one unit: the desk is not asked")
	}
}
