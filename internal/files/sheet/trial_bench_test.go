package sheet

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"spile/internal/engine/harvest"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// minutely is a season of 24 units whose loggers wrote a row a minute for ninety days: 3.1 million rows.
func minutely(b *testing.B) (string, trial.Trial) {
	r := rand.New(rand.NewPCG(1, 2))
	rec := trial.Record{Season: 2026}
	practices := []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.NewDrop}
	for i := range 24 {
		rec.Plots = append(rec.Plots,
			trial.Plot{Unit: fmt.Sprint("U", i+1), Block: fmt.Sprint(i/4 + 1), Practice: practices[i%4], Taps: 20})
	}
	rec.Calibrations = []trial.Calibration{
		{At: time.Date(2026, 2, 15, 0, 0, 0, 0, time.UTC), Flow: trial.Slow, Dump: 3}}
	path := filepath.Join(b.TempDir(), "log.csv")
	file, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(file)
	fmt.Fprintln(w, "unit,date,counter,vacuum_inhg")
	counts := make([]int, 24)
	for m := range 90 * 24 * 60 {
		at := time.Date(2026, 2, 15, 0, m, 0, 0, time.UTC).Format("2006-01-02 15:04")
		for u := range counts {
			if r.IntN(100) == 0 {
				counts[u]++
			}
			fmt.Fprintf(w, "U%d,%s,%d,%.1f\n", u+1, at, counts[u], 24+r.Float64())
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	file.Close()
	return path, trial.Trial{Name: "log", Site: "lot", Records: []trial.Record{rec}}
}

// Read, checked and summed: 3.1 million rows. The heap is that taken from the system at its most.
func BenchmarkSeasonOfMinutes(b *testing.B) {
	path, base := minutely(b)
	for b.Loop() {
		t, _, err := Trial(base, practice.Shipped(), nil, path)
		if err != nil {
			b.Fatal(err)
		}
		t.Records[0].Calibrations = base.Records[0].Calibrations
		s, err := harvest.Of(t)
		if err != nil || len(s.Rows) != 24 {
			b.Fatal(err)
		}
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.Sys)/(1<<20), "MiB")
}
