package web

import (
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"testing"
	"time"

	"spile/internal/cluster"
	"spile/internal/files/book"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/station"
	trials "spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// tenSeasons is a trial of ten seasons of which each unit is read on each of 50 days.
func tenSeasons(n int) trials.Trial {
	r := rand.New(rand.NewPCG(9, uint64(n)))
	t := trials.Trial{Name: fmt.Sprint("Long trial ", n), Site: fmt.Sprint("Site ", n),
		Options: trials.Options{Reference: "unsanitized"}}
	keys := []practice.Key{"unsanitized", "new-spout", "check-valve", "chlorine-rinse"}
	for year := 2015; year < 2025; year++ {
		s := trials.Record{Season: year}
		for u := range 40 {
			p := trials.Plot{Unit: fmt.Sprint("unit ", u+1), Block: fmt.Sprint("block ", u/4+1), Practice: keys[u%4],
				Taps: 20}
			s.Plots = append(s.Plots, p)
			own := math.Exp(0.05*float64(u%4) + 0.08*r.NormFloat64())
			for d := range 50 {
				s.Readings = append(s.Readings, trials.Reading{Unit: p.Unit,
					At:     day(year, 3, 1+d).Add(time.Duration(8*60+r.IntN(600)) * time.Minute),
					Volume: new(unit.Volume(math.Round(300*own*math.Exp(0.4*r.NormFloat64())) / 10))})
			}
		}
		t.Records = append(t.Records, s)
	}
	return t
}

// A body of evidence of 50 stations, 5,000 studies and 10⁷ readings: what opening, looking and changing take. READINGS
// says how many, if others.
func BenchmarkManyReadings(b *testing.B) {
	readings := 10_000_000
	if n, err := strconv.Atoi(os.Getenv("READINGS")); err == nil {
		readings = n
	}
	for name, at := range map[string]func(*testing.B) string{
		"file":   func(b *testing.B) string { return filepath.Join(b.TempDir(), "many.spile") },
		"server": func(b *testing.B) string { return cluster.Schemas(b)() },
	} {
		b.Run(name, func(b *testing.B) {
			path := at(b)
			many(b, path, readings)
			for range b.N {
				looked(b, path)
			}
		})
	}
}

// many writes it.
func many(b *testing.B, path string, readings int) {
	w, err := book.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	e := book.Edit{At: time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), Who: "Ada", What: "much"}
	items := []book.Item{book.Keep(*scenario().Input.Prices)}
	r := rand.New(rand.NewPCG(3, 4))
	for n := range 5000 {
		s := evidence.Study{Name: fmt.Sprint("Study ", n), Site: fmt.Sprint("Place ", n%50), Season: 2000 + n%25}
		for i, key := range []practice.Key{"unsanitized", []practice.Key{"new-spout", "check-valve", "new-drop"}[n%3]} {
			mean := 20 * (1 + 0.1*float64(i)) * math.Exp(0.1*r.NormFloat64())
			s.Arms = append(s.Arms, evidence.Arm{Practice: key, Mean: &mean, N: new(6.0), SD: new(3.0)})
		}
		items = append(items, book.Keep(s))
	}
	began := time.Now()
	for n := range readings / 20_000 {
		x := tenSeasons(n)
		items = append(items, book.TrialItems(x)...)
		items = append(items, book.Keep(station.Hold{Of: station.Trial, Name: x.Name, Stage: station.Own,
			Station: fmt.Sprint("Station ", n%50)}))
		if _, err := w.Save(e, items...); err != nil {
			b.Fatal(err)
		}
		items = nil
	}
	b.ReportMetric(time.Since(began).Seconds(), "s/written")
}

// looked opens it, and looks and changes as those of one station do.
func looked(b *testing.B, path string) {
	var m runtime.MemStats
	settle := func() { // what pools and weak pointers hold is free after the second
		runtime.GC()
		runtime.GC()
		runtime.ReadMemStats(&m)
	}
	settle()
	most := uint64(0)
	heap := func() { runtime.ReadMemStats(&m); most = max(most, m.HeapInuse) }
	done := make(chan struct{})
	go func() {
		for {
			select {
			case <-done:
				return
			case <-time.After(20 * time.Millisecond):
				heap()
			}
		}
	}()
	began := time.Now()
	w, err := book.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	b.ReportMetric(time.Since(began).Seconds(), "s/opened")
	clock := func() time.Time { return time.Date(2025, 3, 14, 9, 26, 0, 0, time.UTC) }
	began = time.Now()
	h, err := New(Config{Book: w.For("Station 7", clock), Who: "Ada", Now: clock, Version: "test"})
	if err != nil {
		b.Fatal(err)
	}
	d := atDesk{b, h, w}
	d.get("/gains")
	b.ReportMetric(time.Since(began).Seconds(), "s/ready")
	began = time.Now()
	for _, at := range []string{"/", "/trials", "/evidence"} {
		if w := ask(d, "GET", at); w.Code >= http.StatusBadRequest { // what takes long says that it is being worked out
			b.Fatal(at, w.Code)
		}
	}
	b.ReportMetric(time.Since(began).Seconds()/3, "s/page")
	var took []float64
	for n := range 20 {
		began = time.Now()
		s := evidence.Study{Name: "Study 77", Site: "Place 27", Season: 2002, Arms: []evidence.Arm{
			{Practice: "unsanitized", Mean: new(20.0), N: new(6.0), SD: new(3.0)},
			{Practice: "new-drop", Mean: new(22 + float64(n)/10), N: new(6.0), SD: new(3.0)}}}
		e := book.Edit{At: clock(), Who: "Ada", What: "another mean", Replace: true,
			Seen: book.Sight{Change: math.MaxInt64}}
		if _, err := w.Save(e, book.Keep(s)); err != nil {
			b.Fatal(err)
		}
		d.get("/gains")
		took = append(took, 1000*time.Since(began).Seconds())
	}
	slices.Sort(took)
	b.ReportMetric(took[19*len(took)/20], "ms/edit-p95")
	close(done)
	settle()
	b.ReportMetric(float64(m.HeapAlloc>>20), "MB/held")
	b.ReportMetric(float64(most>>20), "MB/most")
}
