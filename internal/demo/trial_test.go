package demo

import (
	"bytes"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/files/sheet"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// The trial of the scenario: four practices in six blocks over two springs, on chambers of twenty taps whose releasers
// count their dumps. Its truth is the scenario's.
const (
	trialSeed  = 899
	trialTaps  = 20
	blockSD    = 0.09 // of log yields
	unitSD     = 0.07
	residualSD = 0.05
	runSD      = 0.045 // of one unit's run around its block's
)

var trialQuestion = trial.Question{
	Practices: []practice.Key{"unsanitized", "new-spout", "check-valve", "new-drop"}, Reference: "unsanitized",
	Design: trial.Blocks, Replicates: 6, Taps: trialTaps, Seasons: 2, FirstSeason: 2024, Seed: 11,
}

// A reference tap's litres in each spring, and how warm the spring was: degrees around the usual, and days that it came
// early.
var springs = map[int]struct{ litres, warmer, early float64 }{2024: {48, 0, 0}, 2025: {42, 1.2, 8}}

// clock is a time of a spring's day.
func clock(year int, d time.Time, hour int) time.Time {
	return time.Date(year, d.Month(), d.Day(), hour, 0, 0, 0, time.UTC)
}

// springDays are the temperatures of February to May: a warming spring with spells of some days, to a tenth of a
// degree.
func springDays(r *rand.Rand, year int) []weather.Day {
	var days []weather.Day
	s := springs[year]
	spell := 0.0
	for d := time.Date(year, 2, 1, 0, 0, 0, 0, time.UTC); d.Month() < time.June; d = d.AddDate(0, 0, 1) {
		spell = 0.78*spell + 2.4*r.NormFloat64()
		n := float64(d.YearDay()) + s.early
		mean := -7 + 22/(1+math.Exp(-(n-84)/17)) + s.warmer + spell
		half := 4.6 + 1.3*math.Abs(r.NormFloat64())
		tenth := func(x float64) *unit.Temperature { return new(unit.Temperature(math.Round(10*x) / 10)) }
		days = append(days, weather.Day{Date: d, Min: tenth(mean - half), Max: tenth(mean + half)})
	}
	return days
}

// flow is how much sap runs on a day, in parts: none without a thaw, most after a night of frost.
func flow(d weather.Day) float64 {
	if *d.Max <= 0 || *d.Min > 3 {
		return 0
	}
	frost := min(max(-float64(*d.Min), 0), 6)
	return min(float64(*d.Max), 12) * (0.25 + frost/6)
}

// invented is the trial as its crew wrote it down.
func invented() trial.Trial {
	r := rand.New(rand.NewPCG(trialSeed, 2))
	l, err := design.Draw(trialQuestion, practice.Shipped())
	if err != nil {
		panic(err)
	}
	for i := range l.Places { // units are named by block: A1 to F4
		u := &l.Places[i].Unit
		n := (i % (len(l.Places) / 2))
		u.Block = string(rune('A' + n/4))
		u.Name = fmt.Sprintf("%s%d", u.Block, n%4+1)
	}
	t := trial.Trial{Name: "Larkmoor releasers", Site: "Larkmoor", Records: l.Records()}
	block, own := map[string]float64{}, map[string]float64{}
	arm := map[practice.Key]float64{}
	for _, k := range trialQuestion.Practices {
		arm[k] = math.Sqrt(tau2/2) * 0.3 * r.NormFloat64()
	}
	for _, p := range t.Records[0].Plots {
		if _, have := block[p.Block]; !have {
			block[p.Block] = blockSD * r.NormFloat64()
		}
		own[p.Unit] = unitSD * r.NormFloat64()
	}
	for i := range t.Records {
		s := &t.Records[i]
		days := springDays(r, s.Season)
		t.Days = append(t.Days, days...)
		record(r, s, days, i, func(p trial.Plot) float64 {
			gain := logGain(armOf(p.Practice, i)) + arm[p.Practice]
			return math.Log(springs[s.Season].litres) + gain + block[p.Block] + own[p.Unit] + residualSD*r.NormFloat64()
		})
	}
	return t
}

func armOf(k practice.Key, age int) arm { return arm{string(k), age} }

// record writes one spring down: counters read every few days when sap has run, dumps measured before and after.
func record(r *rand.Rand, s *trial.Record, days []weather.Day, age int, mean func(trial.Plot) float64) {
	year := s.Season
	// The season runs from the first good thaw on, and ends after nine tenths of the flow that the weather had, or in
	// April.
	var begin, end int
	for begin = 12; flow(days[begin]) < 2; begin++ {
	}
	for end = begin; days[end].Date.Month() < time.April || days[end].Date.Day() < 18 && *days[end].Min < 8; end++ {
	}
	// read at the end of a day, when enough has run since
	type run struct {
		day  int
		flow float64
	}
	var runs []run
	sum, total := 0.0, 0.0
	for d := begin; d <= end; d++ {
		sum += flow(days[d])
		if sum > 15 || d == end && sum > 4 {
			runs = append(runs, run{d, sum})
			total += sum
			sum = 0
		}
	}
	start := clock(year, days[begin-1].Date, 16)
	last := clock(year, days[runs[len(runs)-1].day].Date, 17)
	for n, p := range s.Plots {
		if p.Practice == practice.NewDrop {
			s.Plots[n].DropAge = new(age)
		}
		// dumps of some 2 L: more at fast flow, more at the season's end
		slow := 1.9 + 0.08*r.NormFloat64()
		wide, drift := 1.02+0.02*r.Float64(), 1.01+0.03*r.Float64()
		if n == 4 {
			drift = 1.07
		}
		round := func(x float64) unit.Volume { return unit.Volume(math.Round(100*x) / 100) }
		at := []time.Time{start.Add(-6 * time.Hour), last.Add(24 * time.Hour)}
		for k, f := range []float64{1, drift} {
			s.Calibrations = append(s.Calibrations,
				trial.Calibration{Unit: p.Unit, At: at[k], Flow: trial.Slow, Dump: round(slow * f)},
				trial.Calibration{Unit: p.Unit, At: at[k], Flow: trial.Fast, Dump: round(slow * wide * f)})
		}
		s.Counts = append(s.Counts, trial.Count{Unit: p.Unit, At: start, Taps: p.Taps},
			trial.Count{Unit: p.Unit, At: last, Taps: p.Taps})
		// what a clean tap hole gains comes late
		level, late := mean(p), logGain(armOf(p.Practice, age))
		weights, all := make([]float64, len(runs)), 0.0
		for k, x := range runs {
			part := float64(k)/float64(len(runs)-1) - 0.5
			weights[k] = x.flow / total * math.Exp(0.6*late*part+runSD*r.NormFloat64())
			all += x.flow / total * math.Exp(0.6*late*part)
		}
		counter := float64(100 + r.IntN(9000))
		left := 0.0 // in the chamber, not yet dumped
		s.Readings = append(s.Readings, trial.Reading{Unit: p.Unit, At: start, Counter: new(counter)})
		for k, x := range runs {
			litres := math.Exp(level) * trialTaps * weights[k] / all
			litres *= happens(s, p, year, k, clock(year, days[x.day].Date, 17), &counter)
			dump := slow * (1 + wide) / 2 * (1 + (drift-1)*(float64(k)+0.5)/float64(len(runs)))
			n := math.Floor((litres + left) / dump)
			left += litres - n*dump
			counter += n
			s.Readings = append(s.Readings, trial.Reading{
				Unit: p.Unit, At: clock(year, days[x.day].Date, 17), Counter: new(counter),
				Brix:   new(math.Round(10*(2.3-0.6*float64(k)/float64(len(runs))+0.1*r.NormFloat64())) / 10),
				Vacuum: new(unit.InchOfMercury.Of(math.Round(10*(24.5+0.3*r.NormFloat64())) / 10)),
			})
		}
	}
}

// happens is what went wrong on a run: how much of its sap was left, with what the crew wrote down of it.
func happens(s *trial.Record, p trial.Plot, year, run int, at time.Time, counter *float64) float64 {
	switch {
	case year == 2024 && p.Unit == "B3" && run == 6: // a squirrel at a drop
		s.Events = append(s.Events,
			trial.Event{Kind: trial.Leak, From: clock(year, at.AddDate(0, 0, -2), 8), To: clock(year, at, 12),
				Units: []string{p.Unit}, Note: "chewed lateral, mended at noon"})
		return 0.45
	case year == 2025 && p.Unit == "E2" && run == 4: // its battery was changed
		before := at.AddDate(0, 0, -1)
		s.Events = append(s.Events,
			trial.Event{Kind: trial.CounterReset, From: clock(year, before, 9), To: clock(year, before, 9),
				Units: []string{p.Unit}, Note: "battery changed"})
		*counter = 0
		return 0.7
	case year == 2025 && p.Unit == "D1" && run == 5: // one spout heaved out and stayed out
		for i := range s.Counts {
			if s.Counts[i].Unit == p.Unit && s.Counts[i].At.After(at) {
				s.Counts[i].Taps--
			}
		}
	}
	return 1
}

// station is no station's: no country has the code XX.
const station = "XX000000899"

// trialFiles are the files of the trial: its tables as a crew fills them in, volumes in US gallons, and its
// temperatures in the open daily form of the climatology network, a row an element and day.
func trialFiles(t trial.Trial) map[string][]byte {
	files := map[string][]byte{"trial.toml": []byte(fmt.Sprintf("# An invented trial: its station, its readings and "+
		"its weather exist nowhere.\nname = %q\nsite = %q\n", t.Name, t.Site))}
	var days bytes.Buffer
	for _, d := range t.Days {
		for _, x := range []struct {
			element string
			at      *unit.Temperature
		}{{"TMIN", d.Min}, {"TMAX", d.Max}} {
			fmt.Fprintf(&days, "%s,%s,%s,%d,,,X,\n", station, d.Date.Format("20060102"), x.element,
				int(math.Round(10*float64(*x.at))))
		}
	}
	files["weather.csv"] = days.Bytes()
	for _, x := range sheet.TrialTables(t) {
		if x.Name == "trials" || x.Name == "weather" || x.Name == "readings" {
			continue
		}
		var b bytes.Buffer
		if err := x.WriteCSV(&b); err != nil {
			panic(err)
		}
		files[x.Name+".csv"] = b.Bytes()
	}
	readings := bytes.NewBufferString("unit,date,counter,brix,vacuum_inhg\n")
	for _, s := range t.Records {
		for _, r := range s.Readings {
			fmt.Fprintf(readings, "%s,%s,%.0f,", r.Unit, r.At.Format("2006-01-02 15:04"), *r.Counter)
			if r.Brix != nil {
				fmt.Fprintf(readings, "%.1f,%.1f", *r.Brix, r.Vacuum.In(unit.InchOfMercury))
			} else {
				readings.WriteString(",")
			}
			readings.WriteString("\n")
		}
	}
	files["readings.csv"] = readings.Bytes()
	return files
}

func TestGenerateTrial(t *testing.T) {
	want := trialFiles(invented())
	if *update {
		if err := os.MkdirAll("trial", 0o755); err != nil {
			t.Fatal(err)
		}
		for name, data := range want {
			if err := os.WriteFile(filepath.Join("trial", name), data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		return
	}
	entries, err := fs.ReadDir(Files(), "trial")
	if err != nil || len(entries) != len(want) {
		t.Errorf("%d files, %v; the generator writes %d", len(entries), err, len(want))
	}
	for name, data := range want {
		if got, err := fs.ReadFile(Files(), "trial/"+name); err != nil || !bytes.Equal(got, data) {
			t.Errorf("trial/%s is not what the generator writes; run: go test ./demo -run Generate -update", name)
		}
	}
}

// The files read back to the trial.
func TestTrialFilesRead(t *testing.T) {
	dir := t.TempDir()
	var paths []string
	for name, data := range trialFiles(invented()) {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	got, _, err := sheet.Trial(trial.Trial{}, practice.Shipped(), nil, paths...)
	if err != nil {
		t.Fatal(err)
	}
	if q := got.Doubts(2026); len(q) > 0 {
		t.Errorf("the demo's trial is asked about: %v", q)
	}
	a, _, err := compare.Trial(got, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	want, _, _ := compare.Trial(invented(), practice.Shipped())
	for i, g := range a.Gains {
		if w := want.Gains[i]; g.Practice != w.Practice || !(math.Abs(g.Log-w.Log) < 1e-12 || math.IsNaN(g.SE)) {
			t.Errorf("%s: %v, was %v", g.Practice, g.Log, w.Log)
		}
	}
}

// The trial's gains hold the truth in their intervals, taps give what taps give, and what went wrong is found, and
// nothing else.
func TestTrialTruth(t *testing.T) {
	s := invented()
	a, sum, err := compare.Trial(s, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range a.Gains {
		if want := (logGain(armOf(g.Practice, 0)) + logGain(armOf(g.Practice, 1))) / 2; g.Practice != a.Reference &&
			(want < g.Low || want > g.High) {
			t.Errorf("%s: the true log gain %.3f lies outside %.3f to %.3f", g.Practice, want, g.Low, g.High)
		}
	}
	var found []string
	for i, x := range sum.Totals {
		for _, f := range x.Findings {
			found = append(found, fmt.Sprint(sum.Records[i].Season, " ", f.Kind, " ", f.Units))
		}
	}
	if want := []string{"2024 departs [B3]", "2024 departs [E2]", "2024 event [B3]", "2025 departs [E2]",
		"2025 taps [D1]"}; !slices.Equal(found, want) {
		t.Errorf("found %q, want %q", found, want)
	}
	for _, r := range sum.Rows {
		if y := unit.Volume(r.PerTap()).In(unit.USGallon); y < 8 || y > 25 {
			t.Errorf("%s gave %.1f gal a tap in %d", r.Unit, y, r.Season)
		}
		if r.AtLeast != (r.Unit == "E2" && r.Season == 2025) {
			t.Errorf("%s in %d: at least %v", r.Unit, r.Season, r.AtLeast)
		}
	}
	if w := sum.Weather; w[0].Class != weather.Normal || w[1].Class != weather.Short || !w[1].HotEnd {
		t.Errorf("springs: %s, then %s", w[0].Class, w[1].Class)
	}
}
