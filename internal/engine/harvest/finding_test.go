package harvest

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/internal/engine/stream"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// on is a time of March 2026: "5" is a day alone, "5 16:30" a time.
func on(t testing.TB, text string) time.Time {
	t.Helper()
	layout := "2006-01-2"
	if strings.Contains(text, ":") {
		layout += " 15:04"
	}
	at, err := time.Parse(layout, "2026-03-"+text)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

var four = []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.NewDrop}

// gathered is a record of one block: of each unit the times at which 50 L were read.
func gathered(t testing.TB, units ...[]string) trial.Record {
	s := trial.Record{Season: 2026}
	for i, times := range units {
		name := fmt.Sprint(i + 1)
		s.Plots = append(s.Plots, trial.Plot{Unit: name, Block: "a", Practice: four[i%4], Taps: 10})
		for _, at := range times {
			s.Readings = append(s.Readings, trial.Reading{Unit: name, At: on(t, at), Volume: new(unit.Volume(50))})
		}
	}
	return s
}

func found(t testing.TB, s trial.Record, kind FindingKind) []Finding {
	t.Helper()
	total, err := Sum(s)
	if err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(total.Findings, func(f Finding) bool { return f.Kind != kind })
}

// Whether a unit was read with its block: gaps, as unit and day.
func TestRounds(t *testing.T) {
	for name, c := range map[string]struct {
		units [][]string
		gaps  string
	}{
		"one after the other": {[][]string{{"5 13:00", "9 13:00"}, {"5 15:10", "9 15:10"},
			{"5 18:50", "9 12:20"}}, ""},
		"by the day alone": {[][]string{{"5", "9"}, {"5", "9"}}, ""},
		"one by the day alone": {[][]string{{"5 16:00", "9 16:00"}, {"5", "9"}, {"5 18:00", "9 18:00"}},
			""},
		"over midnight":                 {[][]string{{"5 22:30", "9 12:00"}, {"6 01:10", "9 12:10"}}, ""},
		"the evening and the day after": {[][]string{{"5 22:30", "9 12:00"}, {"6", "9 12:10"}}, "1 6, 2 5"},
		"hours later":                   {[][]string{{"5 07:00", "9 12:00"}, {"5 13:10", "9 12:10"}}, "1 5, 2 5"},
		"twice a day":                   {[][]string{{"5 07:00", "5 12:00"}, {"5 07:20", "5 12:20"}}, ""},
		"a day alone and again":         {[][]string{{"5", "5 17:00"}, {"5 08:00", "5 17:30"}}, ""},
		"passed over": {[][]string{{"5 07:00", "7 07:00", "9 07:00"}, {"5 07:20", "9 07:20"}},
			"2 7"},
		"once only, when others came twice": {[][]string{{"5 07:00", "5 12:00"}, {"5 07:20"}}, "2 5"},
	} {
		var gaps []string
		for _, f := range found(t, gathered(t, c.units...), Gap) {
			gaps = append(gaps, fmt.Sprint(f.Units[0], " ", f.To.Day()))
		}
		if got := strings.Join(gaps, ", "); got != c.gaps {
			t.Errorf("%s: not read %q, want %q", name, got, c.gaps)
		}
	}
	// A walk with the gauge is no reading that others missed, and parts no round.
	s := gathered(t, []string{"5 13:00", "9 13:00"}, []string{"5 14:00", "9 14:00"})
	for _, at := range []string{"5 12:55", "7 12:00"} {
		s.Readings = append(s.Readings, trial.Reading{Unit: "1", At: on(t, at), Vacuum: new(unit.InchOfMercury.Of(24))})
	}
	if f := found(t, s, Gap); len(f) != 0 {
		t.Errorf("vacuum alone: %+v", f)
	}
}

// What a bad run's remedy takes out, as unit and day of the run's end: never one unit alone.
func TestWholeBlock(t *testing.T) {
	leak := func(at string, u string) []trial.Event {
		return []trial.Event{{Kind: trial.Leak, From: on(t, at), To: on(t, at), Units: []string{u}}}
	}
	for name, c := range map[string]struct {
		units [][]string
		event string // on unit 1
		out   string
	}{
		"one round": {[][]string{{"5 13:00", "9 13:00", "12 13:00"}, {"5 15:00", "9 15:00", "12 12:00"},
			{"5", "9", "12"}}, "8 10:00", "1 9, 2 9, 3 9"},
		"the first": {[][]string{{"5 13:00", "9 13:00"}, {"5 10:00", "9 10:00"}}, "5 08:00", "1 5, 2 5"},
		"first read late": {[][]string{{"9 13:00", "12"}, {"3", "5 10:00", "9 10:00", "12"}}, "8 08:00",
			"1 9, 2 3, 2 5, 2 9"},
		"over two rounds": {[][]string{{"5", "9", "12"}, {"5", "7", "9", "12"}}, "8 10:00", "1 9, 2 7, 2 9"},
		"another was passed over": {[][]string{{"5", "7", "9", "12"}, {"5", "9", "12"}, {"5", "7", "9", "12"}},
			"6 10:00", "1 7, 1 9, 2 9, 3 7, 3 9"},
		"and so on": {[][]string{{"5", "7", "9", "12"}, {"5", "9", "12"}, {"5", "7", "12", "14"}},
			"6 10:00", "1 7, 1 9, 1 12, 2 9, 2 12, 3 7, 3 12"},
	} {
		s := gathered(t, c.units...)
		s.Events = leak(c.event, "1")
		f := found(t, s, Happened)
		if len(f) != 1 {
			t.Fatalf("%s: %d findings", name, len(f))
		}
		s.Exclusions = []trial.Exclusion{*f[0].Exclusion}
		total, err := Sum(s)
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, r := range total.Runs {
			if r.Out {
				out = append(out, fmt.Sprint(r.Unit, " ", r.To.Day()))
			}
		}
		if got := strings.Join(out, ", "); got != c.out {
			t.Errorf("%s: out are %q, want %q", name, got, c.out)
		}
	}
}

// What is read at one time is of one round, also of a unit that was passed over some hours before.
func TestReadAtOnce(t *testing.T) {
	s := gathered(t, []string{"3", "5 12:00"}, []string{"3", "5 08:00", "5 12:00"}, []string{"3", "5 08:00", "5 12:00"})
	if f := found(t, s, Gap); len(f) != 1 || f[0].Units[0] != "1" || !f[0].To.Equal(on(t, "5 08:00")) {
		t.Errorf("%+v", f)
	}
	s.Events = []trial.Event{{Kind: trial.Leak, From: on(t, "5 11:00"), To: on(t, "5 11:00"), Units: []string{"2"}}}
	f := found(t, s, Happened)
	if len(f) != 1 {
		t.Fatalf("%+v", f)
	}
	s.Exclusions = []trial.Exclusion{*f[0].Exclusion}
	total, err := Sum(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range total.Runs {
		if r.Out != (r.To.Day() == 5) { // unit 1 has the sap of both rounds in one run
			t.Errorf("unit %s, run to %v: out %v", r.Unit, r.To, r.Out)
		}
	}
}

// A counter that was first read when others had given sap already: its sum lacks what they have, until that is taken
// out.
func TestALateCounter(t *testing.T) {
	count := func(u, at string, n float64) trial.Reading { return trial.Reading{Unit: u, At: on(t, at), Counter: &n} }
	s := counted(count("1", "1 16:00", 0), count("1", "5 16:00", 10), count("1", "9 16:00", 30),
		count("2", "5 17:00", 500), count("2", "9 17:00", 520))
	f := found(t, s, Gap)
	if len(f) != 1 || f[0].Units[0] != "2" || !f[0].To.Equal(on(t, "5 17:00")) || f[0].Exclusion == nil ||
		!strings.Contains(f[0].Evidence.English(), "is not counted") {
		t.Fatalf("%+v", f)
	}
	s.Exclusions = []trial.Exclusion{*f[0].Exclusion}
	total, err := Sum(s)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := total.Rows[0].Volume, total.Rows[1].Volume; len(total.Rows) != 2 || a <= b*0.99 ||
		a >= b*1.01 { // 20 dumps each
		t.Errorf("%v and %v L", a, b)
	}
	// Both in time: nothing to find.
	s = counted(count("1", "1 16:00", 0), count("1", "5 16:00", 10), count("2", "1 17:00", 500),
		count("2", "5 17:00", 520))
	if f := found(t, s, Gap); len(f) != 0 {
		t.Errorf("%+v", f)
	}
}

// A unit that was passed over gives two runs' sap at its next reading, which is no departure.
func TestASpanningRunDoesNotDepart(t *testing.T) {
	s := trial.Record{Season: 2026}
	r := stream.New(5, "spanning")
	for u := range 6 {
		name := fmt.Sprint(u + 1)
		s.Plots = append(s.Plots, trial.Plot{Unit: name, Block: "a", Practice: four[u%4], Taps: 10})
		kept := 0.0
		for d := range 8 {
			kept += 60 * (1 + 0.1*r.Normal())
			if u == 2 && d == 4 {
				continue
			}
			at := on(t, fmt.Sprintf("%d %02d:00", 2+2*d, 12+u/2))
			s.Readings, kept = append(s.Readings, trial.Reading{Unit: name, At: at, Volume: new(unit.Volume(kept))}), 0
		}
	}
	if f := found(t, s, Departs); len(f) != 0 {
		t.Errorf("%+v", f)
	}
	if f := found(t, s, Gap); len(f) != 1 {
		t.Errorf("%+v", f)
	}
	// Double without a gap departs.
	for i, x := range s.Readings {
		if x.Unit == "4" && x.At.Day() == 6 {
			s.Readings[i].Volume = new(*x.Volume * 2)
		}
	}
	if f := found(t, s, Departs); len(f) != 1 || f[0].Units[0] != "4" {
		t.Errorf("%+v", f)
	}
}

// A round is one point of the season's curve, whenever its units were read, from where counters began.
func TestAccumulationInRounds(t *testing.T) {
	count := func(u, at string, n float64) trial.Reading { return trial.Reading{Unit: u, At: on(t, at), Counter: &n} }
	s := counted(count("1", "1 13:00", 0), count("1", "5 13:00", 10), count("1", "9 13:00", 30),
		count("2", "1 15:00", 500), count("2", "5 15:30", 505), count("2", "9 16:40", 520))
	s.Readings = append(s.Readings, trial.Reading{Unit: "1", At: on(t, "7 12:00"),
		Vacuum: new(unit.InchOfMercury.Of(24))})
	total, err := Sum(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range Accumulation(s, total) {
		var at []string
		for _, p := range c.Points {
			at = append(at, p.At.Format("2 15:04"))
		}
		if got := strings.Join(at, ", "); got != "1 15:00, 5 15:30, 9 16:40" {
			t.Errorf("%s has points at %s", c.Practice, got)
		}
		if last := c.Points[2].Mean; c.Points[0].Mean != 0 || c.Practice == practice.Unsanitized &&
			float64(last) != float64(total.Rows[0].Volume)/10 {
			t.Errorf("%s: %+v", c.Practice, c.Points)
		}
	}
}

func TestEnteredTwice(t *testing.T) {
	volume := func(at string, v float64) trial.Reading {
		return trial.Reading{Unit: "1", At: on(t, at), Volume: new(unit.Volume(v))}
	}
	depth := func(at string, d float64) trial.Reading {
		return trial.Reading{Unit: "1", At: on(t, at), Depth: new(unit.Length(d))}
	}
	for name, c := range map[string]struct {
		readings []trial.Reading
		twice    int
	}{
		"with and without a time": {[]trial.Reading{volume("5", 40), volume("5 16:00", 40)}, 1},
		"in the other order":      {[]trial.Reading{volume("5 16:00", 40), volume("5", 40)}, 1},
		"of a tank":               {[]trial.Reading{depth("5", 0.4), depth("5 16:00", 0.4)}, 1},
		"three times":             {[]trial.Reading{volume("5", 40), volume("5 16:00", 40), volume("5 17:00", 40)}, 2},
		"other sap":               {[]trial.Reading{volume("5", 40), volume("5 16:00", 41)}, 0},
		"another day":             {[]trial.Reading{volume("5", 40), volume("6 16:00", 40)}, 0},
		"both with a time":        {[]trial.Reading{volume("5 08:00", 40), volume("5 16:00", 40)}, 0},
		"nothing, twice":          {[]trial.Reading{volume("5", 0), volume("5 16:00", 0)}, 0},
		"volume and depth":        {[]trial.Reading{volume("5", 0.4), depth("5 16:00", 0.4)}, 0},
	} {
		s := gathered(t, nil, []string{"5 16:00"})
		s.Tanks = []trial.Tank{{Depths: []unit.Length{0, 1}, Volumes: []unit.Volume{0, 500}}}
		s.Readings = append(s.Readings, c.readings...)
		f := found(t, s, Twice)
		if len(f) != c.twice {
			t.Errorf("%s: found %d times, want %d", name, len(f), c.twice)
		}
		if len(f) > 0 && (f[0].Units[0] != "1" || f[0].To.Hour() != 16 || f[0].Exclusion != nil) {
			t.Errorf("%s: %+v", name, f[0])
		}
	}
}

// However a crew goes about it within some hours, and in whatever order rows stand: the same findings, and each remedy
// takes the same rounds from every unit of the block, and nothing from another.
func TestRoundsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units, count := rapid.IntRange(3, 6).Draw(t, "units"), rapid.IntRange(4, 8).Draw(t, "rounds")
		bad, when := rapid.IntRange(0, units-1).Draw(t, "bad unit"), rapid.IntRange(0, count-1).Draw(t, "bad round")
		build := func(minutes func() int) trial.Record {
			s := trial.Record{Season: 2026}
			for _, b := range []string{"a", "b"} {
				for u := range units {
					name := fmt.Sprint(b, u)
					s.Plots = append(s.Plots,
						trial.Plot{Unit: name, Block: b, Practice: []practice.Key{practice.Unsanitized,
							practice.NewSpout}[u%2], Taps: 10})
					for k := range count {
						v := 60 * (1 + 0.3*float64(u)) * (1 + 0.05*float64((k*7+u*3)%5))
						if b == "a" && u == bad && k == when {
							v *= 0.1
						}
						at := time.Date(2026, 3, 1+2*k, 12, 0, 0, 0,
							time.UTC).Add(time.Duration(minutes()) * time.Minute)
						s.Readings = append(s.Readings, trial.Reading{Unit: name, At: at, Volume: new(unit.Volume(v))})
					}
				}
			}
			return s
		}
		s := build(func() int { return rapid.IntRange(0, 360).Draw(t, "minutes") })
		s.Readings = rapid.Permutation(s.Readings).Draw(t, "order")
		list, err := Sum(s)
		together, err2 := Sum(build(func() int { return 0 }))
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		words := func(of []Finding) (out []string) {
			for _, f := range of {
				out = append(out, fmt.Sprint(f.Kind, f.Block, f.Units, f.To.Day(), f.Evidence.English()))
			}
			return out
		}
		if a, b := words(list.Findings), words(together.Findings); !slices.Equal(a, b) {
			t.Fatalf("one after the other:\n%s\nat once:\n%s", strings.Join(a, "\n"), strings.Join(b, "\n"))
		}
		seen := false
		for _, f := range list.Findings {
			if f.Exclusion == nil {
				continue
			}
			seen = seen || f.Kind == Departs && f.Units[0] == fmt.Sprint("a", bad) && f.To.Day() == 1+2*when
			after := s
			after.Exclusions = []trial.Exclusion{*f.Exclusion}
			total, err := Sum(after)
			if err != nil {
				t.Fatal(err)
			}
			for i, r := range total.Runs {
				if want := (season{s}).plot(r.Unit).Block == f.Block && r.To.Day() == f.To.Day(); r.Out != want {
					t.Fatalf("run %d of %s to %v: out %v for %+v", i, r.Unit, r.To, r.Out, f)
				}
			}
		}
		if !seen {
			t.Fatalf("a tenth of the usual on round %d of a%d is not found: %v", when, bad, words(list.Findings))
		}
	})
}
