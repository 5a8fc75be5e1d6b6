package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"spile/internal/engine/design"
	"spile/internal/engine/harvest"
	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// laidOut is a trial of two blocks of two units over two seasons.
func laidOut() trial.Trial {
	t := trial.Trial{Name: "Two blocks", Site: "Upper lot"}
	for _, year := range []int{2025, 2026} {
		r := trial.Record{Season: year}
		for i := range 4 {
			p := practice.Unsanitized
			if i%2 == 1 {
				p = practice.CheckValve
			}
			r.Plots = append(r.Plots, trial.Plot{Unit: fmt.Sprint("A", i+1), Block: fmt.Sprint(i/2 + 1), Practice: p,
				Taps: 20})
		}
		t.Records = append(t.Records, r)
	}
	return t
}

// readTrial reads files given as name and text in turn.
func readTrial(t interface {
	Helper()
	Fatal(...any)
}, dir string, base trial.Trial, files ...string) (trial.Trial, note.List, error) {
	t.Helper()
	var paths []string
	for i := 0; i < len(files); i += 2 {
		path := filepath.Join(dir, files[i])
		if err := os.WriteFile(path, []byte(files[i+1]), 0o644); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	return Trial(base, practice.Shipped(), nil, paths...)
}

func at(text string) time.Time {
	m, _ := column.ParseMoment(text)
	return m
}

// Each kind of table is told by its columns, and says what it says. 231 cubic inches a US gallon: 3.785411784 L, 25.4
// mm an inch (NIST Handbook 44, Appendix C); 3.38639 kPa an inHg at 32 °F (NIST SP 811, B.8); °C = (°F − 32)/1.8.
func TestTrialTables(t *testing.T) {
	got, notes, err := readTrial(t, t.TempDir(), laidOut(),
		"readings.csv",
		"unit,date,counter,brix,vacuum_inhg,note\nA1,2026-03-02 17:30,12,2.1,25,clear\nA1,2026-03-01,0,,,\n"+
			"A2,2026-03-01,,,,\n",
		"volumes.csv", "unit;date;volume_gal;depth_in\nA2;2026-03-05;10,5;\nA3;2026-03-05;;12\n",
		"events.csv",
		"kind,from,to,units,note\nleak,2026-03-03,2026-03-04,\"A1, A2\",chewed\ncounter-reset,2026-03-05 10:00,,A1,\n"+
			"pump-off,2025-03-01,,,\n",
		"dumps.csv", "unit,date,flow,dump_gal\n,2026-02-20,slow,1\nA1,2026-02-20,fast,1.1\n",
		"tanks.csv", "unit,depth_in,volume_gal\nA3,0,0\nA3,24,100\n",
		"counts.csv", "unit,date,taps,again\nA4,2026-02-25,21,1\n",
		"days.csv", "date,tmin_f,tmax_f\n2026-03-01,14,50\n2026-03-02,,41\n",
	)
	if err != nil || len(notes) != 0 {
		t.Fatal(err, notes)
	}
	r := got.Records[1]
	if len(r.Readings) != 4 || !r.Readings[0].At.Equal(at("2026-03-01")) || *r.Readings[1].Counter != 12 ||
		*r.Readings[1].Brix != 2.1 || r.Readings[1].Note != "clear" {
		t.Errorf("%+v", r.Readings)
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-4 {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	near("vacuum", float64(*r.Readings[1].Vacuum), 25*3.38639)
	near("volume", float64(*r.Readings[2].Volume), 10.5*3.785411784)
	near("depth", float64(*r.Readings[3].Depth), 0.3048)
	near("dump", float64(r.Calibrations[1].Dump), 1.1*3.785411784)
	if len(r.Events) != 2 || r.Events[0].Kind != trial.Leak || !cmp.Equal(r.Events[0].Units, []string{"A1", "A2"}) ||
		!r.Events[0].To.Equal(at("2026-03-04 23:59:59")) || !r.Events[1].To.Equal(at("2026-03-05 10:00")) ||
		len(got.Records[0].Events) != 1 {
		t.Errorf("%+v", r.Events)
	}
	for _, s := range got.Records { // a tank without a season is that of both
		if len(s.Tanks) != 1 || s.Tanks[0].Unit != "A3" || len(s.Tanks[0].Depths) != 2 {
			t.Errorf("%d: %+v", s.Season, s.Tanks)
		}
	}
	if len(r.Counts) != 1 || r.Counts[0].Taps != 21 || r.Counts[0].Again != 1 {
		t.Errorf("%+v", r.Counts)
	}
	if len(got.Days) != 2 || *got.Days[0].Min != -10 || *got.Days[0].Max != 10 || got.Days[1].Min != nil ||
		*got.Days[1].Max != 5 {
		t.Errorf("%+v", got.Days)
	}
}

// What a tank held that ran over is at least that: field sheets ask for the sign.
func TestRanOver(t *testing.T) {
	got, _, err := readTrial(t, t.TempDir(), laidOut(), "wide.csv",
		"unit,read,2026-03-01,2026-03-04\nA1,volume_l,12,≥ 40\nA2,volume_l,>=9,10\n")
	if err != nil {
		t.Fatal(err)
	}
	r := got.Records[1]
	if len(r.Readings) != 4 || *r.Readings[1].Volume != 40 || len(r.Events) != 2 || r.Events[0].Kind != trial.Overflow {
		t.Errorf("%+v", r)
	}
	s, err := harvest.Sum(r)
	if err != nil || len(s.Rows) != 2 || !s.Rows[0].AtLeast || !s.Rows[1].AtLeast {
		t.Errorf("%v: %+v", err, s)
	}
	for i, want := range []bool{false, true, true, false} {
		if s.Runs[i].AtLeast != want {
			t.Errorf("run %d: at least is %v", i, s.Runs[i].AtLeast)
		}
	}
	if _, _, err := readTrial(t, t.TempDir(), laidOut(), "wide.csv",
		"unit,read,2026-03-01\nA1,volume_l,≥\n"); err == nil {
		t.Error("a sign alone is taken")
	}
}

// The forms of the climatology network (Menne et al. 2012; its readme of files by year and by station, and of its
// access files): the stations here are invented, the layout is theirs.
func TestTrialNetwork(t *testing.T) {
	year := "ZZ000000001,20260301,TMAX,56,,,S,0700\nZZ000000001,20260301,TMIN,-83,,,S,0700\n" +
		"ZZ000000001,20260301,PRCP,12,,,S,0700\n" +
		"ZZ000000001,20260302,TMAX,-9999,,,S,\nZZ000000001,20260302,TMIN,-40,,X,S,\n" +
		"ZZ000000001,19990302,TMIN,-40,,,S,\n"
	headed := "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n" + year
	access := "\"STATION\",\"DATE\",\"LATITUDE\",\"NAME\",\"TMAX\",\"TMAX_ATTRIBUTES\",\"TMIN\",\"TMIN_ATTRIBUTES\"\n" +
		"\"ZZ000000001\",\"2026-03-01\",\"44.1\",\"A HILL, ZZ\",\"   56\",\",,S\",\"  -83\",\",,S\"\n" +
		"\"ZZ000000001\",\"2026-03-02\",\"44.1\",\"A HILL, ZZ\",,,\"  -40\",\",X,S\"\n"
	for name, text := range map[string]string{"year": year, "headed": headed, "access": access} {
		got, notes, err := readTrial(t, t.TempDir(), laidOut(), "w.csv", text)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(got.Days) != 1 || math.Abs(float64(*got.Days[0].Max)-5.6) > 1e-9 ||
			math.Abs(float64(*got.Days[0].Min)+8.3) > 1e-9 {
			t.Errorf("%s: %+v", name, got.Days)
		}
		if len(notes) != 1 || !strings.Contains(notes[0].English(), "quality") {
			t.Errorf("%s: %v", name, notes)
		}
	}
}

// Every fault of every file comes at once, with its row.
func TestTrialFaults(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       []string // of each fault a part, with its row
	}{
		{"readings.csv",
			"unit,date,volume_l,counter,brix\nA9,2026-03-01,1,,\nA1,2026-02-30,1,,\nA1,2026-03-02,1 pail,,\n" +
				"A1,2026-03-03,1,2,\nA1,2026-03-04,1,,30\nA2,2026-03-05,1,,\nA2,2026-03-05,1,,\nA1,,1,,\n",
			[]string{`2 "A9" is none`, "3 is not a date", "4 carries a unit", "5 both volume_l and counter",
				"6 out of bounds", "8 already, in row 7", "9 nothing is given for date"}},
		{"tags.csv", "unit,date,volume_l\na1,2026-03-01,1\nA9,2026-03-01,1\n",
			[]string{`2 "a1" is none of the trial's units; did you mean A1?`,
				`3 "A9" is none of the trial's units; allowed: A1, A2`}}, // of short tags any may be meant
		{"season.csv", "unit,date,counter\nA1,2031-03-01,1\n", []string{"2 no units in the season 2031"}},
		{"wide.csv", "unit,read,2026-03-01\nA1,,3\nA2,litres,3\nA3,counter,x\nA4,counter,1\nA4,counter,2\n",
			[]string{"2 nothing is given for read", `3 "litres" is not known`, "4 is not a number",
				"6 stands twice under this date, first in row 5"}},
		{"events.csv",
			"kind,from,to,units\nleek,2026-03-01,,A1\nleak,2026-03-02,2026-03-01,A1\nleak,2026-03-02,,A1;A7\n",
			[]string{`2 "leek" is not known; did you mean leak`, "3 ends before it begins", `4 "A7" is none`}},
		{"dumps.csv", "unit,date,flow,dump_l\nA1,2026-03-01,brisk,3\nA1,2026-03-01,slow,0\nA1,2026-03-01,slow,\n",
			[]string{`2 "brisk" is not known`, "3 out of bounds", "4 nothing is given for dump_l"}},
		{"counts.csv", "unit,date,taps,again\nA1,2026-03-01,3,3\nA1,2026-03-01,1.5,\n",
			[]string{"2 second holes", "3 whole number"}},
		{"days.csv", "date,tmin_c,tmax_c\n2026-03-01,5,3\n2026-03-02,-100,3\n2026-03-03,1,2\n2026-03-03,1,2\n",
			[]string{"2 above the highest", "3 out of bounds", "5 stands twice, first in row 4"}},
		{"plain.csv", "date,tmin,tmax\n2026-03-01,5,8\n", []string{"1 unit of the column tmin is not said"}},
		{"station.csv", "STATION,DATE,TMAX,TMIN\nZZ000000001,2026-03-01,56,-83\n", []string{"1 tmin_attributes"}},
		{"layout.csv",
			"season,block,unit,practice,taps\n2026,1,A1,magic,20\n26,1,A2,new-spout,20\n2026,1,A3,new-spout,20\n" +
				"2026,1,A3,new-spout,0\n",
			[]string{`2 "magic" is not known`, "3 not a season; allowed: the year of the spring", "5 out of bounds",
				"5 stands twice"}},
		{"volume.csv", "unit,date,volume\nA1,2026-03-01,4\n", []string{"1 unit of the column volume is not said"}},
		{"tank.csv", "unit,depth_in,volume_l\nA1,2,5\n", []string{"2 rise from 0"}},
		{"tank.csv", "unit,depth_in,volume_l\nA1,0,0\nA1,4,5\nA1,3,6\n", []string{"4 rise from 0"}},
		{"what.csv", "a,b\n1,2\n", []string{"1 cannot be told from its columns"}},
		{"trial.toml",
			"nome = \"x\"\nname = \"Other\"\ncaveats = [3]\n[season_rules]\nfrom = \"15 March\"\n[design]\nseed = -1\n",
			[]string{"1 nome", "2 was asked for", "3 words belong", "5 not a day", "7 not a seed"}},
	} {
		_, _, err := readTrial(t, t.TempDir(), laidOut(), c.name, c.text)
		var faults note.Faults
		errors.As(err, &faults)
		for i, want := range c.want {
			row, part, _ := strings.Cut(want, " ")
			if i >= len(faults) || fmt.Sprint(faults[i].Where.Row) != row ||
				!strings.Contains(faults[i].English(), part) {
				t.Errorf("%s: fault %d is not %q:\n%v", c.name, i+1, want, err)
				break
			}
		}
		if len(faults) != len(c.want) {
			t.Errorf("%s: %d faults, want %d:\n%v", c.name, len(faults), len(c.want), err)
		}
	}
}

// A wide table says what the long one says.
func TestWideIsLong(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(r *rapid.T) {
		days := rapid.IntRange(1, 5).Draw(r, "days")
		var long, wide strings.Builder
		long.WriteString("unit,date,counter,brix\n")
		wide.WriteString("unit,read")
		for d := range days {
			fmt.Fprintf(&wide, ",2026-03-%02d", d+1)
		}
		wide.WriteString("\n")
		for u := range 4 {
			var counter, brix strings.Builder
			for d := range days {
				c, b := "", ""
				if rapid.Bool().Draw(r, "read") {
					c = fmt.Sprint(rapid.IntRange(0, 999).Draw(r, "count"))
				}
				if rapid.Bool().Draw(r, "sweet") {
					b = fmt.Sprint(float64(rapid.IntRange(10, 40).Draw(r, "brix")) / 10)
				}
				counter.WriteString("," + c)
				brix.WriteString("," + b)
				fmt.Fprintf(&long, "A%d,2026-03-%02d,%s,%s\n", u+1, d+1, c, b)
			}
			fmt.Fprintf(&wide, "A%d,counter%s\nA%d,brix%s\n", u+1, counter.String(), u+1, brix.String())
		}
		a, _, err := readTrial(t, dir, laidOut(), "long.csv", long.String())
		if err != nil {
			r.Fatal(err)
		}
		b, _, err := readTrial(t, dir, laidOut(), "wide.csv", wide.String())
		if err != nil {
			r.Fatal(err)
		}
		if d := cmp.Diff(a.Records, b.Records, cmpopts.EquateEmpty(), cmpopts.IgnoreTypes(note.Where{})); d != "" {
			r.Fatal(d)
		}
	})
}

// A spreadsheet may hold several tables, and what else its sheets hold is left out. Dates may stand as dates in the
// header.
func TestTrialSpreadsheet(t *testing.T) {
	x := excelize.NewFile()
	x.SetSheetName("Sheet1", "readings")
	day := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	for cell, v := range map[string]any{"A1": "Two blocks", "A3": "unit", "B3": "read", "C3": day,
		"D3": day.AddDate(0, 0, 1), "A4": "A1", "B4": "counter", "C4": 5, "D4": 9, "A5": "A2", "B5": "counter",
		"A6": "A1", "B6": "vacuum_inhg", "D6": 24.5} {
		if err := x.SetCellValue("readings", cell, v); err != nil {
			t.Fatal(err)
		}
	}
	x.NewSheet("events")
	x.SetSheetRow("events", "A1", &[]any{"kind", "from", "to", "units"})
	x.SetSheetRow("events", "A2", &[]any{"leak", day, nil, "A1"})
	x.NewSheet("map")
	x.SetSheetRow("map", "A1", &[]any{"block", "here"})
	x.SetSheetRow("map", "A2", &[]any{"1", "x"})
	x.NewSheet("blank")
	var b bytes.Buffer
	if err := x.Write(&b); err != nil {
		t.Fatal(err)
	}
	got, notes, err := TrialOf(laidOut(), practice.Shipped(), nil, "field.xlsx", b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	r := got.Records[1]
	if len(r.Readings) != 2 || !r.Readings[0].At.Equal(day) || *r.Readings[1].Counter != 9 ||
		r.Readings[1].Vacuum == nil || len(r.Events) != 1 {
		t.Errorf("%+v", r)
	}
	if len(notes) != 1 || notes[0].Where.Sheet != "map" {
		t.Errorf("%v", notes)
	}
}

// A blind trial is read by its codes.
func TestTrialCodes(t *testing.T) {
	q := &trial.Question{Practices: []practice.Key{practice.Unsanitized, practice.CheckValve}, Design: trial.Blocks,
		Replicates: 2, Taps: 5, FirstSeason: 2026, Blind: true, Seed: 3}
	l, err := design.Draw(*q, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	base := trial.Trial{Name: "Blind", Site: "lot", Question: q, Records: l.Records()}
	p := l.Places[2]
	got, _, err := readTrial(t, t.TempDir(), base, "r.csv",
		"code,date,volume_l\n"+strings.ToLower(p.Code)+",2026-03-01,12\n")
	if err != nil || got.Records[0].Readings[0].Unit != p.Unit.Name {
		t.Errorf("%+v, %v", got.Records, err)
	}
}

// A logger's minutes sum to what they sum to one by one: by counter, with a reset among them, and by volume.
func TestLoggerSums(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		var counts, volumes strings.Builder
		counts.WriteString("unit,date,counter\n")
		volumes.WriteString("unit,date,volume_l\n")
		n, litres, before := 0, 0, 0
		begin := at("2026-03-01 00:00")
		for m := range 3 * 24 * 60 / 5 {
			when := begin.Add(time.Duration(m) * 5 * time.Minute)
			if m > 0 && rapid.IntRange(0, 9).Draw(r, "dump") == 0 {
				n++
				before++
			}
			if m == 400 {
				n = 0
			}
			fmt.Fprintf(&counts, "A1,%s,%d\n", when.Format("2006-01-02 15:04"), n)
			v := rapid.IntRange(0, 3).Draw(r, "litres")
			litres += v
			fmt.Fprintf(&volumes, "A2,%s,%d\n", when.Format("2006-01-02T15:04:05"), v)
		}
		base := laidOut()
		got, notes, err := readTrial(t, t.TempDir(), base, "c.csv", counts.String(), "v.csv", volumes.String(),
			"d.csv", "unit,date,flow,dump_l\n,2026-02-20,slow,3\n", "e.csv",
			"kind,from,to,units\ncounter-reset,2026-03-02,,A1\n")
		if err != nil || len(notes) != 2 {
			r.Fatal(err, notes)
		}
		s, err := harvest.Of(got)
		if err != nil {
			r.Fatal(err)
		}
		// A dump in the very minutes of the reset is lost: the counter was set to 0 after it.
		if v := float64(s.Rows[0].Volume); v != float64(3*before) && v != float64(3*(before-1)) {
			r.Fatalf("%v litres of %d dumps", v, before)
		}
		if v := s.Rows[1].Volume; v != unit.Volume(litres) {
			r.Fatalf("%v litres, want %d", v, litres)
		}
		if k := len(got.Records[1].Readings); k > 12 {
			r.Fatalf("%d readings are kept", k)
		}
	})
}

// A logger's days may stand in any order, with what is wrong in them said once.
func TestLoggerDaysInAnyOrder(t *testing.T) {
	read := func(days ...int) ([]trial.Reading, error) {
		var b strings.Builder
		b.WriteString("unit,date,counter\n")
		for _, d := range days {
			for m := range 24 * 12 {
				when := at("2026-03-01").AddDate(0, 0, d).Add(time.Duration(m) * 5 * time.Minute)
				fmt.Fprintf(&b, "A1,%s,%d\n", when.Format("2006-01-02 15:04"), d*1000+m)
			}
		}
		got, _, err := readTrial(t, t.TempDir(), laidOut(), "c.csv", b.String())
		if err != nil {
			return nil, err
		}
		all := got.Records[1].Readings
		for i := range all {
			all[i].Where = note.Where{}
		}
		return all, nil
	}
	want, err := read(0, 1, 2, 3)
	if err != nil || len(want) != 5 {
		t.Fatal(err, len(want))
	}
	got, err := read(2, 3, 0, 1)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	var f note.Faults
	if _, err := read(1, 2, 1); !errors.As(err, &f) || f.Count() != 24*12 {
		t.Errorf("%d faults of a day that stands twice: %v", f.Count(), f[0])
	}
}

// A logger writes more rows than other tables may have: they are read one by one, their faults told by row, whether the
// file is on the disk or was sent. Another table of that many rows is refused.
func TestManyReadings(t *testing.T) {
	var b strings.Builder
	b.WriteString("unit,date,counter\n")
	for m := range maxRows/4 + 5 {
		for u := range 4 {
			fmt.Fprintf(&b, "A%d,%s,%d\n", u+1,
				at("2026-01-02").Add(time.Duration(m)*time.Minute).Format("2006-01-02 15:04"), m/100)
		}
	}
	for name, read := range map[string]func(text string) (trial.Trial, note.List, error){
		"disk": func(text string) (trial.Trial, note.List, error) {
			return readTrial(t, t.TempDir(), laidOut(), "log.csv", text)
		},
		"sent": func(text string) (trial.Trial, note.List, error) {
			return TrialOf(laidOut(), practice.Shipped(), nil, "log.csv", []byte(text))
		},
	} {
		got, notes, err := read(b.String())
		if err != nil || len(notes) != 1 {
			t.Fatal(name, err, notes)
		}
		if last := got.Records[1].Readings[len(got.Records[1].Readings)-1]; last.Unit != "A4" ||
			*last.Counter != float64((maxRows/4+4)/100) {
			t.Errorf("%s: the last reading is %+v", name, last)
		}
		if _, _, err := read(b.String() + "A4,2026-03-01 10:00,x\nA9,2026-03-01 10:00,3\n"); err == nil ||
			!strings.Contains(err.Error(), fmt.Sprint("row ", maxRows+22)) || !strings.Contains(err.Error(), "A9") {
			t.Errorf("%s: %v", name, err)
		}
		if _, _, err := read(strings.Replace(b.String(), "unit,date,counter", "unit,date,taps", 1)); err == nil ||
			!strings.Contains(err.Error(), "more than 200000 rows") {
			t.Errorf("%s: counts of taps: %v", name, err)
		}
	}
}

func FuzzTrialTable(f *testing.F) {
	for _, s := range []string{
		"unit,date,counter,brix\nA1,2026-03-01 10:00,3,2\n", "unit,read,2026-03-01\nA1,counter,3\n",
		"kind,from,to,units\nleak,2026-03-01,,A1\n",
		"unit,date,flow,dump_l\nA1,2026-03-01,slow,3\n", "unit,depth_cm,volume_l\nA1,0,0\nA1,10,5\n",
		"unit,date,taps,again\nA1,2026-03-01,3,1\n",
		"ZZ000000001,20260301,TMAX,56,,,S,0700\n", "STATION,DATE,TMAX,TMAX_ATTRIBUTES\nZZ,2026-03-01,56,\",,S\"\n",
		"date,tmin_c,tmax_f\n2026-03-01,1,50\n",
		"season,block,unit,practice,taps\n2026,1,A1,new-spout,20\n",
		"unit,season,practice,taps,volume_l\nA1,2024,unsanitized,5,60\n",
		"season,finding,out,reason,block,from,to\n2026,gap/A1,yes,x,1,2026-03-01,2026-03-02\n",
		"key,value\nname,Two blocks\ndesign.seed,3\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		got, _, err := TrialOf(laidOut(), practice.Shipped(), nil, "t.csv", data)
		if err != nil {
			for _, n := range err.(note.Faults) {
				n.English()
			}
			return
		}
		_, _ = harvest.Of(got)
	})
}

func FuzzTrialTOML(f *testing.F) {
	f.Add([]byte("name = \"Two blocks\"\nsite = \"lot\"\ncaveats = [\"gravity\"]\n[design]\nkind = \"blocks\"\n" +
		"practices = [\"unsanitized\"]\n[[design.unit]]\nname = \"1\"\n[season_rules]\nfrom = \"02-15\"\n[analysis]\n" +
		"response = \"syrup\"\n"))
	f.Add([]byte("name = \"Two blocks\"\npractices = [\"u\"\npractnsanitized\"]\n[[design.unitnamsite = \"e = \"1\"\n" +
		"[seas\x10n_rules]\nfrom = \"02-15\"\n[analys+ [\"gravis]\nr\"esponsign \"syrup\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, _, err := TrialOf(laidOut(), practice.Shipped(), nil, "trial.toml", data); err != nil {
			_ = err.Error()
		}
	})
}

// Days over the columns may be numbers shown as days, with the type written out or left out (ECMA-376 part 1, 18.18.11:
// n is the usual one), and nothing that was written under anything else is lost.
func TestWideSpreadsheet(t *testing.T) {
	data := build(t, func(x *excelize.File) {
		put(x, []any{"unit", "read", 46082.75, ""}, []any{"A1", "volume_l", 12, nil}, []any{"A2", "volume_l", 14, nil})
		style(x, "C1", excelize.Style{NumFmt: 22})
	})
	typed := edit(t, data, "xl/worksheets/sheet1.xml", func(s string) string {
		return strings.Replace(s, `<c r="C1" `, `<c r="C1" t="n" `, 1)
	})
	for name, data := range map[string][]byte{"plain": data, "typed": typed} {
		got, _, err := TrialOf(laidOut(), practice.Shipped(), nil, "wide.xlsx", data)
		if err != nil || len(got.Records[1].Readings) != 2 ||
			!got.Records[1].Readings[0].At.Equal(at("2026-03-01 18:00")) {
			t.Errorf("%s: %v %+v", name, err, got.Records)
		}
	}
	_, _, err := readTrial(t, t.TempDir(), laidOut(), "wide.csv",
		"unit,read,2026-03-01,12 March,,note\nA1,volume_l,3,4,,\nA2,volume_l,3,4,5,\n")
	if text := fmt.Sprint(err); !strings.Contains(text, "12 march") || !strings.Contains(text, "no day stands over") {
		t.Error(text)
	}
}
