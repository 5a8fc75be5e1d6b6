package sheet

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"

	"spile/internal/engine/harvest"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// logged is a season of 24 units whose loggers wrote a row each so often for some days.
func logged(b testing.TB, days int, step time.Duration) (string, trial.Trial) {
	b.Helper()
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
	counts, line := make([]int, 24), []byte{}
	begin := time.Date(2026, 2, 15, 0, 0, 0, 0, time.UTC)
	for m := range time.Duration(days) * 24 * time.Hour / step {
		at := begin.Add(m * step).Format(time.DateTime)
		for u := range counts {
			if r.IntN(100) == 0 {
				counts[u]++
			}
			line = strconv.AppendInt(append(line[:0], 'U'), int64(u+1), 10)
			line = strconv.AppendInt(append(append(append(line, ','), at...), ','), int64(counts[u]), 10)
			line = strconv.AppendFloat(append(line, ','), 24+r.Float64(), 'f', 1, 64)
			w.Write(append(line, '\n'))
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
	path, base := logged(b, 90, time.Minute)
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

// Loggers of a season that wrote every two seconds, 10⁸ rows, are summed in 300 MB. DAYS says how many, if others.
func TestHundredMillionRows(t *testing.T) {
	if os.Getenv("SPILE_FAULTS") == "" {
		t.Skip("SPILE_FAULTS is not set")
	}
	days := 97
	if n, err := strconv.Atoi(os.Getenv("DAYS")); err == nil {
		days = n
	}
	path, base := logged(t, days, 2*time.Second)
	began := time.Now()
	got, _, err := Trial(base, practice.Shipped(), nil, path)
	if err != nil {
		t.Fatal(err)
	}
	got.Records[0].Calibrations = base.Records[0].Calibrations
	s, err := harvest.Of(got)
	if err != nil || len(s.Rows) != 24 || len(got.Records[0].Readings) < 24*days {
		t.Fatalf("%d units, %d readings, %v", len(s.Rows), len(got.Records[0].Readings), err)
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	t.Logf("%.2g rows in %v: %d MB taken from the system", float64(24*days)*24*60*30,
		time.Since(began).Round(time.Second), m.Sys/1e6)
	if m.Sys > 300e6 {
		t.Errorf("%d MB are taken", m.Sys/1e6)
	}
}
