package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/trade/practice"
	trials "spile/internal/trade/trial"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// usual is patience as it is outside of tests.
var usual = patience

// What is shown in tests is always what was changed last.
func init() { patience = time.Minute }

// While the answer to a change of others is being worked out a reader is shown the one before; who made the change is
// not.
func TestTheLastAnswerMeanwhile(t *testing.T) {
	defer func(was time.Duration) { patience = was }(patience)
	patience = time.Millisecond
	h := sit(t, false)
	d := h.Handler.(tongues[*desk]).in["en"]
	h.get("/workbook")
	before := d.now
	d.next = make(chan struct{}) // it takes long
	if _, err := h.book.Save(book.Edit{At: day(2025, 3, 1), Who: "Bo", What: "more"},
		book.Keep(scenario().Studies[0])); err != nil {
		t.Fatal(err)
	}
	if now, err := d.current(0); err != nil || now != before {
		t.Errorf("a reader is not shown what was there: %v", err)
	}
	made := make(chan *state)
	go func() {
		now, _ := d.current(h.book.Kept())
		made <- now
	}()
	select {
	case <-made:
		t.Error("who made the change is shown what was there before")
	case <-time.After(50 * time.Millisecond):
	}
	d.mu.Lock()
	close(d.next)
	d.next = nil
	d.mu.Unlock()
	if now := <-made; now == nil || now.Have.Change != h.book.Kept() {
		t.Errorf("who made the change is not shown it")
	}
	w := h.post("/search", map[string][]string{"search": {"Reports of three stations"}})
	for _, c := range w.Result().Cookies() {
		if c.Name == page.SeenCookie && c.Value == strconv.FormatInt(h.book.Kept(), 10) {
			return
		}
	}
	t.Errorf("who changes the workbook is not known again: %d %v", w.Code, w.Header())
}

// A trial is compared once for all who look at it, until something in it changes.
func TestATrialIsComparedOnce(t *testing.T) {
	d := atTrial(t, false, marsh(false))
	s, err := d.Handler.(tongues[*desk]).in["en"].current(always)
	if err != nil {
		t.Fatal(err)
	}
	x, _ := s.Trial("Marsh 2025")
	first, _, _ := s.Memo.Trial(x, s.Input.Practices)
	if again, _, _ := s.Memo.Trial(x, s.Input.Practices); first == nil || again != first {
		t.Error("it is compared anew")
	}
	x.Options.Vacuum = true
	if other, _, _ := s.Memo.Trial(x, s.Input.Practices); other == first {
		t.Error("it is not compared anew though it was changed")
	}
}

// What waits to be decided of trials is found once: who looks again makes nobody read them again.
func TestWaitingIsSummedOnce(t *testing.T) {
	x, read := marsh(false), 0
	of := map[int][]trials.Reading{2025: x.Records[0].Readings}
	x.Records[0].Readings = nil
	x.Apart = trials.NewApart("as they are", len(of[2025]), func() map[int][]trials.Reading { read++; return of })
	s := &page.Site{Kit: &page.Kit{Voice: say.In("en")}, Memo: new(advice.Memo)}
	s.Input.Trials, s.Input.Practices = []trials.Trial{x}, practice.Shipped()
	for range 3 {
		if list := trees.Waiting(s); len(list) != 1 || !strings.Contains(list[0].Name, "to decide in Marsh 2025") {
			t.Errorf("%+v", list)
		}
		runtime.GC() // what is held while there is room is not what is kept
	}
	if read != 1 {
		t.Errorf("the readings were read %d times", read)
	}
}

// atMost is how much of the heap is in use at most until the call ends.
func atMost(do func()) (heap uint64) {
	stop := make(chan struct{})
	var watching sync.WaitGroup
	watching.Go(func() {
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			heap = max(heap, m.HeapInuse)
			select {
			case <-stop:
				return
			case <-time.After(50 * time.Millisecond):
			}
		}
	})
	do()
	close(stop)
	watching.Wait()
	return heap
}

// Four files at a time of 15 MB with a row of commas are refused, in bounded memory: each is held a few times over, as
// it came and as text.
func TestFourUploadsInLittleRoom(t *testing.T) {
	if os.Getenv("SPILE_FAULTS") == "" {
		t.Skip("SPILE_FAULTS is not set")
	}
	d := sit(t, false)
	text := "study,site,season,practice\n" + strings.Repeat(",", 15_000_000)
	heap := atMost(func() {
		var all sync.WaitGroup
		for range 4 {
			all.Go(func() {
				if w := d.upload("wide.csv", text, nil); w.Code != http.StatusUnprocessableEntity ||
					!strings.Contains(w.Body.String(), "fields") || w.Body.Len() > 100_000 {
					t.Errorf("%d, %d bytes", w.Code, w.Body.Len())
				}
			})
		}
		all.Wait()
	})
	t.Logf("four uploads of %d MB: heap %d MB", len(text)/1_000_000, heap>>20)
	if heap > 400<<20 {
		t.Errorf("%d MB are taken", heap>>20)
	}
}

// 200 readers of a trial's pages and 20 who write: all are answered within a second, 19 of 20 times, in bounded memory,
// and every change that was confirmed is there.
func TestReadersAndWriters(t *testing.T) {
	if os.Getenv("SPILE_FAULTS") == "" {
		t.Skip("SPILE_FAULTS is not set")
	}
	defer func(was time.Duration) { patience = was }(patience)
	d := atTrial(t, true, marsh(false))
	for _, p := range trialPages {
		d.get(p)
	}
	patience = usual
	server := httptest.NewServer(d)
	defer server.Close()
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 300}}
	pages := append(slices.Clone(trialPages), "/workbook", "/profit")
	var mu sync.Mutex
	var took []time.Duration
	stop, kept := make(chan struct{}), map[string]bool{}
	var readers, writers sync.WaitGroup
	for n := range 200 {
		readers.Go(func() {
			tags := map[string]string{}
			for i := n; ; i++ {
				select {
				case <-stop:
					return
				case <-time.After(time.Duration(500+n*5) * time.Millisecond): // looks at what is there
				}
				at := pages[i%len(pages)]
				r, _ := http.NewRequest("GET", server.URL+at, nil)
				r.Header.Set("If-None-Match", tags[at])
				begin := time.Now()
				w, err := client.Do(r)
				if err != nil {
					t.Error(err)
					return
				}
				w.Body.Close()
				tags[at] = w.Header.Get("ETag")
				mu.Lock()
				took = append(took, time.Since(begin))
				mu.Unlock()
				if w.StatusCode != http.StatusOK && w.StatusCode != http.StatusNotModified {
					t.Errorf("%s: %d", at, w.StatusCode)
				}
			}
		})
	}
	for n := range 20 {
		writers.Go(func() {
			for k := range 5 {
				time.Sleep(time.Duration(200+37*n) * time.Millisecond)
				unit, on := strconv.Itoa(n%12+1), fmt.Sprintf("2025-04-%02d", 1+5*(n/12)+k)
				if w := d.post(page.ReadPath, typing(unit, on, "brix", "2.1")); w.Code == http.StatusSeeOther {
					mu.Lock()
					kept[unit+" "+on] = true
					mu.Unlock()
				} else {
					t.Errorf("%s %s: %d", unit, on, w.Code)
				}
			}
		})
	}
	heap := atMost(func() {
		writers.Wait()
		close(stop)
		readers.Wait()
	})
	slices.Sort(took)
	t.Logf("%d pages, median %v, p95 %v, most %v; heap %d MB; %d changes", len(took), took[len(took)/2],
		took[len(took)*95/100], took[len(took)-1], heap>>20, len(kept))
	if p95 := took[len(took)*95/100]; p95 > time.Second {
		t.Errorf("19 of 20 pages take up to %v", p95)
	}
	if heap > 250<<20 {
		t.Errorf("%d MB are taken", heap>>20)
	}
	for _, r := range d.contents().Trials[0].Records[0].Readings {
		delete(kept, r.Unit+" "+r.At.Format(time.DateOnly))
	}
	if len(kept) > 0 {
		t.Errorf("confirmed and not there: %v", kept)
	}
}

// What is tried takes room for a while, and not for ever: what-ifs of a day at one workbench are held in bounded room.
func TestWhatIfsInLittleRoom(t *testing.T) {
	if os.Getenv("SPILE_FAULTS") == "" {
		t.Skip("SPILE_FAULTS is not set")
	}
	h := served()
	for n := range 100 {
		for _, at := range []string{"/profit", "/sure", "/rotation"} {
			if w := ask(h, "GET", fmt.Sprintf("%s?wage=%d", at, 10+n)); w.Code >= 400 {
				t.Fatal(at, w.Code)
			}
		}
		if w := ask(h, "GET", fmt.Sprintf("/gains?longest=%d", 1+n%30)); w.Code >= 400 {
			t.Fatal(w.Code)
		}
	}
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	t.Logf("%d MB are held after 400 what-ifs", m.HeapAlloc>>20)
	if m.HeapAlloc > 80<<20 {
		t.Errorf("%d MB are held", m.HeapAlloc>>20)
	}
	runtime.KeepAlive(h)
}
