package show

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/engine/harvest"
	"spile/internal/engine/power"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
	"spile/internal/view/figure"
	"spile/internal/view/say"
)

// spring is one season of a trial with all that can go wrong in it, and its weather.
func spring(t *testing.T) trial.Trial {
	at := func(day int) time.Time { return time.Date(2025, 3, day, 18, 0, 0, 0, time.UTC) }
	r := trial.Record{Season: 2025}
	keys := []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve}
	for i := range 9 {
		u := string(rune('a' + i))
		r.Plots = append(r.Plots, trial.Plot{Unit: u, Block: string(rune('A' + i/3)), Practice: keys[i%3], Taps: 10})
		for k, day := range []int{2, 5, 8, 12, 15, 19, 22, 26} {
			v := unit.Volume(float64(60+10*(i%3)) * (1 + 0.3*float64(k%3)) * (1 + 0.01*float64((i*7+k*5)%9)))
			if i == 4 && k == 3 {
				v *= 0.3
			}
			r.Readings = append(r.Readings, trial.Reading{Unit: u, At: at(day), Volume: &v, Brix: new(2.0)})
		}
	}
	r.Events = []trial.Event{
		{Kind: trial.Leak, From: at(9), To: at(11), Units: []string{"e"}}, {Kind: trial.PumpOff, From: at(16),
			To: at(16)},
		{Kind: trial.Overflow, From: at(21), To: at(21), Units: []string{"a"}},
	}
	s := trial.Trial{Name: "Fern Gate 2025", Site: "Fern Gate", Records: []trial.Record{r}}
	for d := time.Date(2025, 2, 1, 0, 0, 0, 0, time.UTC); d.Month() < 5; d = d.AddDate(0, 0, 1) {
		x := float64(d.YearDay()-60)/6 + float64(d.YearDay()%5) - 2
		s.Days = append(s.Days, weather.Day{Date: d, Min: new(unit.Temperature(x - 5)),
			Max: new(unit.Temperature(x + 5))})
	}
	sum, err := harvest.Of(s)
	if err != nil {
		t.Fatal(err)
	}
	// One finding is taken out, another kept.
	for i, f := range sum.Totals[0].Findings {
		s.Decisions = append(s.Decisions, trial.Decision{Season: 2025, Finding: f.ID(), Out: i == 0,
			Reason: "⟦the leak⟧", Taken: f.Exclusion})
		if i == 1 {
			break
		}
	}
	if len(s.Decisions) < 2 {
		t.Fatal("too little was found")
	}
	return s
}

// The axis of days always says of which month they are.
func TestTheMonthIsNamed(t *testing.T) {
	for _, c := range []struct {
		from, to string
		want     string
	}{
		{"2025-03-12", "2025-03-28", "March 15, March 22"},
		{"2025-03-01", "2025-03-28", "March 1, March 8, March 15, March 22"}, // the 1st has no room at the edge
		{"2025-02-20", "2025-03-28", "22, March 1, 8, 15, 22"},
		{"2025-03-09", "2025-03-12", ""},
	} {
		var f figure.Season
		for _, d := range []string{c.from, c.to} {
			at, err := time.Parse(time.DateOnly, d)
			if err != nil {
				t.Fatal(err)
			}
			if len(f.Curves) == 0 {
				f.Curves = make([]figure.SeasonCurve, 1)
			}
			f.Curves[0].Points = append(f.Curves[0].Points, figure.SeasonPoint{Day: day(at)})
		}
		var names []string
		for _, tick := range (SeasonView{V: say.In("en")}).ticks(f) {
			names = append(names, tick.Name)
		}
		if got := strings.Join(names, ", "); got != c.want {
			t.Errorf("%s to %s: %q, want %q", c.from, c.to, got, c.want)
		}
	}
}

// unsaid is every text of a figure's words and key that did not go through say.
func unsaid(x reflect.Value, path string) (bad []string) {
	switch x.Kind() {
	case reflect.String:
		if s := x.String(); s != "" && !strings.Contains(s, "⟦") &&
			strings.ContainsFunc(s, func(r rune) bool { return r >= 'a' && r <= 'z' }) {
			bad = append(bad, path+": "+s)
		}
	case reflect.Struct:
		for i := range x.NumField() {
			bad = append(bad, unsaid(x.Field(i), path+"."+x.Type().Field(i).Name)...)
		}
	case reflect.Slice:
		for i := range x.Len() {
			bad = append(bad, unsaid(x.Index(i), path)...)
		}
	case reflect.Pointer:
		if !x.IsNil() {
			bad = unsaid(x.Elem(), path)
		}
	}
	return bad
}

func TestSeasonWords(t *testing.T) {
	v, set := say.In(say.Pseudo), practice.Shipped()
	s := spring(t)
	a, sum, err := compare.Trial(s, set)
	if err != nil {
		t.Fatal(err)
	}
	w := SeasonViews(s, sum, v, set)[0]
	f := w.Figure()
	asked := power.Trial{Scheme: design.Scheme{Design: trial.Blocks, Practices: 3}, Spread: power.Spread{Unit: 0.15},
		Level: 0.05, Asked: 0.8}
	curves, err := asked.Curves(20)
	if err != nil {
		t.Fatal(err)
	}
	view := TrialView{A: a, V: v, Set: set, VolumeUnit: unit.USGallon}
	for name, x := range map[string]any{"season": f, "gains": view.GainsFigure(), "residuals": view.Residuals(),
		"power": PowerView{Trial: asked, Curves: curves, Gain: 20, V: v}.Figure()} {
		for _, bad := range unsaid(reflect.ValueOf(x), name) {
			t.Errorf("%q did not go through say", bad)
		}
	}
	for _, table := range []Table{w.Findings(), w.Runs(), WeatherView{sum.Weather, w.Rules, v}.Table()} {
		for _, bad := range unsaid(reflect.ValueOf([]any{table.Title, table.Lead, table.Notes}), table.ID) {
			t.Errorf("%q did not go through say", bad)
		}
		for _, c := range table.Columns {
			if !strings.HasPrefix(c.Name, "⟦") {
				t.Errorf("%s: %q did not go through say", table.ID, c.Name)
			}
		}
		if len(table.Rows) == 0 {
			t.Errorf("%s has no rows", table.ID)
		}
		for _, r := range table.Rows {
			if len(r.Cells) != len(table.Columns) {
				t.Errorf("%s: a row of %d cells under %d heads", table.ID, len(r.Cells), len(table.Columns))
			}
		}
	}
}

// The figure holds what the season held: practices with the reference first, events and what was taken out by the
// practices that they touched, the freeze-thaw days.
func TestSeasonFigure(t *testing.T) {
	s := spring(t)
	sum, err := harvest.Of(s)
	if err != nil {
		t.Fatal(err)
	}
	w := SeasonViews(s, sum, say.In("en"), practice.Shipped())[0]
	f := w.Figure()
	if len(f.Curves) != 3 || !f.Curves[0].Reference || f.Curves[1].Reference {
		t.Fatalf("curves: %+v", f.Curves)
	}
	for _, c := range f.Curves {
		for i, p := range c.Points {
			if i > 0 && p.Mean < c.Points[i-1].Mean || !(p.Range.Low <= p.Mean && p.Mean <= p.Range.High) {
				t.Errorf("%s: %+v", c.Name, p)
			}
		}
	}
	if len(f.Events) != 4 || !slices.Equal(f.Events[0].Curves, []int{1}) ||
		!slices.Equal(f.Events[1].Curves, []int{0, 1, 2}) || !f.Events[3].Out || len(f.Events[3].Curves) != 3 {
		t.Errorf("events: %+v", f.Events)
	}
	if f.Notes[0] != "leak, March 9 to March 11, e" {
		t.Errorf("note %q", f.Notes[0])
	}
	days := 0
	for _, d := range f.Weather.Days {
		if d.FreezeThaw {
			days++
		}
	}
	if days != sum.Weather[0].FreezeThaw || days == 0 {
		t.Errorf("%d freeze-thaw days are marked, %d were counted", days, sum.Weather[0].FreezeThaw)
	}
	if got := w.Findings(); len(got.Columns) != 5 || !strings.HasPrefix(got.Rows[len(got.Rows)-1].Cells[4].Text,
		"taken out") {
		t.Errorf("findings: %+v", got.Rows)
	}
}
