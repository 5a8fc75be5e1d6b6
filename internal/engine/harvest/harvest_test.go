package harvest

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/internal/engine/stream"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

func at(day int) time.Time { return time.Date(2026, 3, day, 18, 0, 0, 0, time.UTC) }

// Two units with counters: dumps of 4.0 L at slow and 4.4 L at fast flow at the start, 4.4 and 4.8 L twenty days later.
func counted(readings ...trial.Reading) trial.Record {
	return trial.Record{
		Season: 2026,
		Plots: []trial.Plot{
			{Unit: "1", Block: "a", Practice: practice.Unsanitized, Taps: 10},
			{Unit: "2", Block: "a", Practice: practice.NewSpout, Taps: 10},
		},
		Calibrations: []trial.Calibration{{At: at(1), Flow: trial.Slow, Dump: 4.0},
			{At: at(1), Flow: trial.Fast, Dump: 4.4}, {At: at(21), Flow: trial.Slow, Dump: 4.4},
			{At: at(21), Flow: trial.Fast, Dump: 4.8}},
		Readings: readings,
	}
}

func dumps(u string, day int, n float64) trial.Reading {
	return trial.Reading{Unit: u, At: at(day), Counter: &n}
}

// By hand: the run of days 1 to 11 has its middle on day 6, a quarter of the way, where a dump is 4.2 + 0.1 = 4.3 L;
// the run of days 11 to 21 on day 16, where it is 4.5 L.
func TestSumCounters(t *testing.T) {
	s := counted(dumps("1", 1, 1000), dumps("1", 11, 1100), dumps("1", 21, 1200), dumps("2", 1, 0), dumps("2", 11, 120),
		dumps("2", 21, 150))
	s.Events = []trial.Event{{Kind: trial.CounterReset, From: at(15), To: at(15), Units: []string{"2"}}}
	total, err := Sum(s)
	if err != nil {
		t.Fatal(err)
	}
	if got := float64(total.Rows[0].Volume); math.Abs(got-(100*4.3+100*4.5)) > 1e-9 || total.Rows[0].AtLeast {
		t.Errorf("unit 1: %v L, %v", got, total.Rows[0].AtLeast)
	}
	// After the reset only what the counter then shows is known: at least that.
	if got := float64(total.Rows[1].Volume); math.Abs(got-(120*4.3+150*4.5)) > 1e-9 || !total.Rows[1].AtLeast {
		t.Errorf("unit 2: %v L, %v", got, total.Rows[1].AtLeast)
	}
	for _, f := range total.Findings {
		t.Errorf("finding %s: %s", f.Kind, f.Evidence.English())
	}
	drifted := 0
	for _, n := range total.Notes {
		if strings.Contains(n.English(), "drifted by 10") || strings.Contains(n.English(), "drifted by 9.0") {
			drifted++
		}
	}
	if drifted != 2 { // 4.0 → 4.4 is 10 %, 4.4 → 4.8 is 9.1 %
		t.Errorf("%d notes on drift: %v", drifted, total.Notes)
	}

	s.Events = nil
	s.Readings[5].Counter = new(20.)
	total, _ = Sum(s)
	if !slices.ContainsFunc(total.Findings, func(f Finding) bool { return f.Kind == Backwards && f.Units[0] == "2" }) ||
		!total.Rows[1].AtLeast {
		t.Errorf("a counter that went backwards passes: %v", total.Findings)
	}
}

func TestSumTanks(t *testing.T) {
	s := counted()
	s.Calibrations = nil
	s.Tanks = []trial.Tank{{Unit: "1", Depths: []unit.Length{0, 0.5, 1}, Volumes: []unit.Volume{0, 100, 250}}}
	s.Readings = []trial.Reading{
		{Unit: "1", At: at(3), Depth: new(unit.Length(0.25)), Brix: new(2.0)},
		{Unit: "1", At: at(5), Depth: new(unit.Length(0.8)), Brix: new(3.0)},
		{Unit: "2", At: at(3), Volume: new(unit.Volume(80))}, {Unit: "2", At: at(5), Volume: new(unit.Volume(200))},
	}
	s.Events = []trial.Event{{Kind: trial.Overflow, From: at(4), To: at(4), Units: []string{"2"}}}
	total, err := Sum(s)
	if err != nil {
		t.Fatal(err)
	}
	// 50 L of 2 °Bx and 100 + 0.6·150 = 190 L of 3 °Bx: 1 kg a litre each but for 4 g, so (100 + 570)/240 and a little
	// more
	r := total.Rows[0]
	if math.Abs(float64(r.Volume)-240) > 1e-9 || math.Abs(*r.Brix-670./240) > 2e-3 || r.AtLeast {
		t.Errorf("%+v, %v °Bx", r, *r.Brix)
	}
	if !total.Rows[1].AtLeast || total.Rows[1].Volume != 280 {
		t.Errorf("an overflow is not at least: %+v", total.Rows[1])
	}
	// A tank read at its brim holds at least its volume.
	s.Readings[1].Depth = new(unit.Length(1.2))
	if total, _ := Sum(s); !total.Rows[0].AtLeast || total.Rows[0].Volume != 300 {
		t.Errorf("%+v", total.Rows[0])
	}
}

// A leak at one unit on one run is found, and its remedy takes the run out for the block and no other.
func TestDeparture(t *testing.T) {
	s := trial.Record{Season: 2026}
	r := stream.New(3, "departure")
	for b := range 2 {
		for u := range 4 {
			name := fmt.Sprintf("%d%d", b, u)
			s.Plots = append(s.Plots, trial.Plot{Unit: name, Block: fmt.Sprint("b", b), Practice: four[u], Taps: 10})
			for d := range 8 {
				v := (60 + 20*float64(d%3)) * (1 + 0.2*float64(u)) * math.Exp(0.05*r.Normal())
				if name == "12" && d == 4 {
					v *= 0.4
				}
				s.Readings = append(s.Readings, trial.Reading{Unit: name, At: at(2 + 2*d), Volume: new(unit.Volume(v))})
			}
		}
	}
	total, err := Sum(s)
	if err != nil {
		t.Fatal(err)
	}
	var found []Finding
	for _, f := range total.Findings {
		if f.Kind == Departs {
			found = append(found, f)
		}
	}
	if len(found) != 1 || found[0].Units[0] != "12" || !found[0].To.Equal(at(10)) {
		t.Fatalf("%+v", found)
	}
	if total.Rows[6].Volume == 0 || total.Runs[0].Out {
		t.Fatal("something was taken out unasked")
	}
	s.Exclusions = []trial.Exclusion{*found[0].Exclusion}
	after, _ := Sum(s)
	for i, run := range after.Runs {
		if want := run.To.Equal(at(10)) && run.Unit[0] == '1'; run.Out != want {
			t.Errorf("run %d of unit %s to %v: out %v", i, run.Unit, run.To, run.Out)
		}
	}
	for i := range 4 {
		if after.Rows[i].Volume != total.Rows[i].Volume {
			t.Error("the other block changed")
		}
	}
	curves := after.Rows
	if len(curves) != 8 {
		t.Error("a unit is lost")
	}
	c := Accumulation(s, after)
	if len(c) != 4 || len(c[0].Points) != 8 || c[0].Points[7].Mean <= c[0].Points[0].Mean ||
		!(c[0].Points[7].Low < c[0].Points[7].High) {
		t.Errorf("%+v", c)
	}
}

func TestFindings(t *testing.T) {
	s := counted(dumps("1", 1, 0), dumps("1", 11, 100), dumps("1", 21, 90000), dumps("2", 1, 0), dumps("2", 21, 220))
	s.Counts = []trial.Count{{Unit: "1", At: at(1), Taps: 12, Again: 2}, {Unit: "1", At: at(20), Taps: 11, Again: 2},
		{Unit: "2", At: at(1), Taps: 10}, {Unit: "2", At: at(20), Taps: 11, Again: 1}}
	s.Events = []trial.Event{{Kind: trial.PumpOff, From: at(5), To: at(6), Units: []string{"1"}}}
	s.Readings[1].Vacuum, s.Readings[4].Vacuum = new(unit.InchOfMercury.Of(23)), new(unit.InchOfMercury.Of(25.5))
	s.Plots = append(s.Plots, trial.Plot{Unit: "3", Block: "b", Practice: practice.CheckValve, Mainline: "north"},
		trial.Plot{Unit: "4", Block: "b", Practice: practice.CheckValve, Mainline: "north"})
	s.Plots[0].Mainline, s.Plots[1].Mainline = "north", "south"
	total, err := Sum(s)
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[FindingKind]int{}
	for _, f := range total.Findings {
		kinds[f.Kind]++
	}
	for k, n := range map[FindingKind]int{Gap: 1, Impossible: 1, Happened: 1, TapsChange: 1, Vacuum: 1, OneLine: 1} {
		if kinds[k] != n {
			t.Errorf("%s: %d findings, want %d", k, kinds[k], n)
		}
	}
	if total.Rows[0].Taps != 10 || total.Rows[1].Taps != 10 {
		t.Errorf("second holes counted: %v, %v taps", total.Rows[0].Taps, total.Rows[1].Taps)
	}
	// 2.5 inHg at about 5 % an inHg (common practice, no source)
	if !slices.ContainsFunc(total.Findings, func(f Finding) bool {
		return f.Kind == Vacuum && strings.Contains(f.Evidence.English(), "some 12.5 more")
	}) {
		t.Error("no bias is named")
	}
}

// A dump that was never measured is one fault a unit, however often its counter was read.
func TestAnUnmeasuredDump(t *testing.T) {
	s := counted(dumps("1", 1, 0), dumps("1", 2, 3), dumps("1", 3, 9), dumps("2", 1, 0), dumps("2", 2, 3),
		trial.Reading{Unit: "2", At: at(3), Depth: new(unit.Length(0.2))},
		trial.Reading{Unit: "2", At: at(4), Depth: new(unit.Length(0.2))})
	s.Calibrations = s.Calibrations[:0]
	if _, err := Sum(s); err == nil || len(note.FaultsOf(err)) != 3 {
		t.Errorf("want three faults, got %v", err)
	}
}

func TestRecordFaults(t *testing.T) {
	s := counted(dumps("9", 1, 5), dumps("1", 2, math.NaN()),
		trial.Reading{Unit: "2", At: at(3), Volume: new(unit.Volume(5)), Counter: new(3.)}, dumps("1", 2, 3))
	s.Events = []trial.Event{{Kind: "fire", From: at(3), To: at(2)}}
	s.Tanks = []trial.Tank{{Unit: "1", Depths: []unit.Length{0, 1, 1}, Volumes: []unit.Volume{0, 1, 2}}}
	if _, err := Sum(s); err == nil || len(note.FaultsOf(err)) != 7 {
		t.Errorf("want seven faults at once, got %v", err)
	}
}
