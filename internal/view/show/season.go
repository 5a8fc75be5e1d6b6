package show

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/engine/harvest"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
	"spile/internal/view/figure"
	"spile/internal/view/say"
)

// SeasonView is one season of a trial in one voice: its runs, what spoils them, and the weather of its days.
type SeasonView struct {
	Record    trial.Record
	Total     *harvest.Total
	Reference practice.Key     // drawn behind the others; "": unsanitized
	Days      []weather.Day    // nil where the weather is not known
	Spring    *weather.Season  // what they say; nil with Days nil
	Rules     weather.Rules    // by which they say it
	Decisions []trial.Decision // about this season's findings
	V         *say.Voice
	Set       practice.Set
}

// SeasonViews are the seasons of a trial that were read, in order.
func SeasonViews(t trial.Trial, s *harvest.Summed, v *say.Voice, set practice.Set) []SeasonView {
	var list []SeasonView
	for i, r := range s.Records {
		w := SeasonView{Record: r, Total: s.Totals[i], Reference: t.Options.Reference, Days: t.Days,
			Rules: weather.Usual(), V: v, Set: set}
		if t.Rules != nil {
			w.Rules = *t.Rules
		}
		for k := range s.Weather {
			if s.Weather[k].Year == r.Season {
				w.Spring = &s.Weather[k]
			}
		}
		for _, d := range t.Decisions {
			if d.Season == r.Season {
				w.Decisions = append(w.Decisions, d)
			}
		}
		list = append(list, w)
	}
	return list
}

// year is the season as names have it.
func (w SeasonView) year() string { return strconv.Itoa(w.Record.Season) }

func (w SeasonView) practice(k practice.Key) string { return named(w.V, w.Set, k) }

// named is the name of a practice of a set; one that it does not hold stands by its key.
func named(v *say.Voice, set practice.Set, k practice.Key) string {
	if p, ok := set.Find(k); ok {
		return v.Term(note.Term(p.Name))
	}
	return string(k)
}

// trialFigureWords are the words that the figures of a trial share.
func trialFigureWords(v *say.Voice, title, desc string) figure.Words {
	return figure.Words{Title: title, Desc: desc, Number: v.Decimal,
		Left: func(rows int) string { return v.Text("%d more are not drawn here", rows) }}
}

// day is a time on the axis of days.
func day(t time.Time) float64 { return float64(t.Unix()) / 86400 }

// ends is a time on the axis of days; one that is a date alone is its day's end.
func ends(t time.Time) float64 {
	if t.Equal(t.Truncate(24 * time.Hour)) {
		return day(t) + 1
	}
	return day(t)
}

// perTap is a yield a tap with its interval in words: "17.2 gal (15.9 to 18.5)".
func perTap(v *say.Voice, x, low, high unit.Volume) string {
	text := v.Text("%s %s a tap", v.Decimal(v.VolumeNumber(x), 1), v.VolumeUnit())
	if finite(float64(low)) && finite(float64(high)) {
		text = v.Text("%s (%s)", text, v.Range(v.VolumeNumber(low), v.VolumeNumber(high), 1))
	}
	return text
}

// daily is how many points a curve may have before only the last of each day is drawn.
const daily = 200

// Figure is the season run by run, per practice, with what happened and the weather of its days.
func (w SeasonView) Figure() figure.Season {
	v, year := w.V, w.Record.Season
	f := figure.Season{
		Words: trialFigureWords(v, v.Text("The season of %s, run by run", v.Year(year)),
			v.Text("Curves: sap a tap gathered so far by each practice, the mean of its units with its 95 %% band, "+
				"with what happened marked over them; beneath, each day's lowest and highest temperature.")),
		Y: v.Text("sap a tap so far, %s", v.VolumeUnit()),
		Key: figure.SeasonKey{
			Mean: v.Text("mean of the units and its 95 %% band"), Event: v.Text("something happened"),
			Out: v.Text("run taken out of its block"),
			Day: v.Text("a day's lowest to highest"), FreezeThaw: v.Text("freeze-thaw day"),
			Freezing: v.Text("freezing"),
			End:      v.Text("95 %% at the season's end"),
		},
	}
	reference := cmp.Or(w.Reference, practice.Unsanitized)
	curves := harvest.Accumulation(w.Record, w.Total)
	slices.SortStableFunc(curves, func(a, b harvest.Curve) int { // the reference first, then in the order of the set
		rank := func(k practice.Key) int {
			if k == reference {
				return -1
			}
			return slices.IndexFunc(w.Set, func(p practice.Practice) bool { return p.Key == k })
		}
		return rank(a.Practice) - rank(b.Practice)
	})
	start := time.Time{} // when the first counters were read, and nothing was gathered yet
	for _, r := range w.Total.Runs {
		if !r.From.IsZero() && (start.IsZero() || r.From.Before(start)) {
			start = r.From
		}
	}
	for _, c := range curves {
		s := figure.SeasonCurve{Name: w.practice(c.Practice), Reference: c.Practice == reference}
		if s.Reference {
			f.Key.Reference = s.Name
		}
		if !start.IsZero() && len(c.Points) > 0 && start.Before(c.Points[0].At) {
			s.Points = append(s.Points, figure.SeasonPoint{Day: day(start)})
		}
		for i, p := range c.Points {
			if i+1 < len(c.Points) && len(c.Points) > daily && sameDay(p.At, c.Points[i+1].At) {
				continue
			}
			q := figure.SeasonPoint{Day: day(p.At), Mean: v.VolumeNumber(p.Mean)}
			q.Range = figure.Range{Low: q.Mean, High: q.Mean}
			if finite(float64(p.Low)) {
				q.Range = figure.Range{Low: v.VolumeNumber(p.Low), High: v.VolumeNumber(p.High)}
			}
			s.Points = append(s.Points, q)
		}
		if n := len(c.Points); n > 0 {
			last := c.Points[n-1]
			s.Value = perTap(v, last.Mean, last.Low, last.High)
		}
		f.Curves = append(f.Curves, s)
	}
	touched := func(units []string, block string) []int {
		var at []int
		for i, c := range curves {
			if slices.ContainsFunc(w.Record.Plots, func(p trial.Plot) bool {
				return p.Practice == c.Practice && (block == "" || p.Block == block) &&
					(len(units) == 0 || slices.Contains(units, p.Unit))
			}) {
				at = append(at, i)
			}
		}
		return at
	}
	add := func(e figure.SeasonEvent, text string) {
		f.Notes = append(f.Notes, text)
		e.Mark = len(f.Notes)
		f.Events = append(f.Events, e)
	}
	for _, e := range w.Record.Events {
		add(figure.SeasonEvent{From: day(e.From), To: ends(e.To), Curves: touched(e.Units, "")}, w.event(e))
	}
	for _, x := range w.Record.Exclusions {
		add(figure.SeasonEvent{From: day(x.From), To: day(x.To), Curves: touched(nil, x.Block), Out: true},
			v.Text("taken out of block %s: what ran up to %s", x.Block, v.DayOf(x.To)))
	}
	if w.Spring != nil {
		f.Weather = w.weather()
	}
	f.Ticks = w.ticks(f)
	return f
}

func sameDay(a, b time.Time) bool {
	return a.Truncate(24 * time.Hour).Equal(b.Truncate(24 * time.Hour))
}

// event is an event in words: "leak from 12 March to 14 March: B3, B4".
func (w SeasonView) event(e trial.Event) string {
	v := w.V
	when := v.DayOf(e.From)
	if !sameDay(e.From, e.To) {
		when = v.Text("%s to %s", v.DayOf(e.From), v.DayOf(e.To))
	}
	if len(e.Units) == 0 {
		return v.Text("%s, %s, all units", v.Term(note.Term(e.Kind)), when)
	}
	return v.Text("%s, %s, %s", v.Term(note.Term(e.Kind)), when, strings.Join(e.Units, ", "))
}

// weather is the days of the season under the sap: those that the rules look at, and any beyond them on which sap ran.
func (w SeasonView) weather() *figure.Weather {
	v := w.V
	f := &figure.Weather{Y: v.Text("temperature, %s", v.TemperatureUnit()),
		Said:   WeatherView{[]weather.Season{*w.Spring}, w.Rules, v}.Sentence(*w.Spring),
		Freeze: v.TemperatureNumber(w.Rules.Freeze)}
	year := w.Record.Season
	from := time.Date(year, w.Rules.From.Month, w.Rules.From.Day, 0, 0, 0, 0, time.UTC)
	to := time.Date(year, w.Rules.To.Month, w.Rules.To.Day, 0, 0, 0, 0, time.UTC)
	for _, r := range w.Total.Runs {
		if r.To.After(to) {
			to = r.To
		}
		if !r.From.IsZero() && r.From.Before(from) {
			from = r.From.Truncate(24 * time.Hour)
		}
	}
	for _, d := range w.Days {
		if d.Min == nil || d.Max == nil || d.Date.Before(from) || d.Date.After(to) {
			continue
		}
		f.Days = append(f.Days, figure.WeatherDay{Day: day(d.Date) + 0.5, Low: v.TemperatureNumber(*d.Min),
			High:       v.TemperatureNumber(*d.Max),
			FreezeThaw: slices.ContainsFunc(w.Spring.Dates, d.Date.Equal)})
	}
	return f
}

// ticks name the days under a figure: each week's, with the month at its first, or everywhere where no first of a month
// stands well within the figure.
func (w SeasonView) ticks(f figure.Season) []figure.DayTick {
	first, last := math.Inf(1), math.Inf(-1)
	for _, c := range f.Curves {
		for _, p := range c.Points {
			first, last = min(first, p.Day), max(last, p.Day)
		}
	}
	if f.Weather != nil {
		for _, d := range f.Weather.Days {
			first, last = min(first, d.Day), max(last, d.Day)
		}
	}
	var ticks []figure.DayTick
	inside := false
	if !finite(first) {
		return nil
	}
	for t := time.Unix(int64(first*86400), 0).UTC().Truncate(24 * time.Hour); day(t) <= last; t = t.AddDate(0, 0, 1) {
		switch t.Day() {
		case 1:
			ticks = append(ticks, figure.DayTick{Day: day(t), Name: w.V.DayOf(t), First: true})
			inside = inside || day(t) > first+0.1*(last-first) && day(t) < last-0.1*(last-first)
		case 8, 15, 22:
			ticks = append(ticks, figure.DayTick{Day: day(t), Name: w.V.Count(t.Day())})
		}
	}
	for i := range ticks {
		if !inside {
			ticks[i].Name = w.V.DayOf(time.Unix(int64(ticks[i].Day*86400), 0).UTC())
		}
	}
	return ticks
}

// findingKind names what spoils a comparison.
func findingKind(v *say.Voice, k harvest.FindingKind) string {
	for _, x := range harvest.Kinds {
		if x.Kind == k {
			return v.Text(x.Name)
		}
	}
	return string(k)
}

// Findings is the table of what spoils the comparison, each with its evidence, a remedy that is never applied unasked,
// and what was decided; a row's ID is that of its finding.
func (w SeasonView) Findings() Table {
	v := w.V
	t := Table{ID: "findings-" + w.year(), Title: v.Text("What may spoil the comparison of %s",
		v.Year(w.Record.Season)),
		Lead: v.Text("Nothing is taken out unasked. A bad run is taken out for its whole block, so that no unit " +
			"keeps sap that its neighbours could not gather."),
		Columns: []Column{
			wordy("finding", v.Text("finding")),
			wordy("where", v.Text("where")),
			wordy("evidence", v.Text("evidence")),
			wordy("remedy", v.Text("suggested remedy")),
		}}
	if len(w.Decisions) > 0 {
		t.Columns = append(t.Columns, wordy("decided", v.Text("decided")))
	}
	row := func(id, kind, where, evidence, remedy string, d *trial.Decision) {
		r := Row{ID: id, Cells: []Cell{words(kind), words(where), words(evidence), words(remedy)}}
		if d != nil {
			r.Dim = true
			said := v.Text("kept: %s", d.Reason)
			if d.Out {
				said = v.Text("taken out: %s", d.Reason)
			}
			r.Cells = append(r.Cells, words(said))
		} else if len(w.Decisions) > 0 {
			r.Cells = append(r.Cells, none(v))
		}
		t.Rows = append(t.Rows, r)
	}
	listed := map[string]bool{}
	for _, f := range w.Total.Findings {
		var where []string
		if f.Block != "" {
			where = append(where, v.Text("block %s", f.Block))
		}
		if len(f.Units) > 0 {
			where = append(where, strings.Join(f.Units, ", "))
		}
		for _, p := range f.Practices {
			where = append(where, w.practice(p))
		}
		listed[f.ID()] = true
		row(f.ID(), findingKind(v, f.Kind), strings.Join(where, "; "), v.Note(f.Evidence), v.Note(f.Remedy),
			w.decision(f.ID()))
	}
	for _, d := range w.Decisions { // what was taken out is found no more
		if listed[d.Finding] {
			continue
		}
		kind, _, _ := strings.Cut(d.Finding, "/")
		where := ""
		if d.Taken != nil {
			where = v.Text("block %s", d.Taken.Block)
		}
		evidence := v.None()
		if d.Taken != nil {
			evidence = v.Text("what ran up to %s", v.DayOf(d.Taken.To))
		}
		row(d.Finding, findingKind(v, harvest.FindingKind(kind)), where, evidence, v.None(), &d)
	}
	if len(t.Rows) == 0 {
		t.Lead = v.Text("Nothing was found that spoils the comparison.")
	}
	return t
}

// findingsJSON is what was found, and what was decided about it: taken out or kept; null: nothing yet.
func (w SeasonView) findingsJSON() []object {
	return objects(w.Total.Findings, func(f harvest.Finding) object {
		var out *bool
		var reason *string
		if d := w.decision(f.ID()); d != nil {
			out, reason = &d.Out, &d.Reason
		}
		return object{{"season", w.Record.Season}, {"id", f.ID()}, {"kind", f.Kind}, {"evidence", w.V.Note(f.Evidence)},
			{"remedy", w.V.Note(f.Remedy)}, {"out", out}, {"reason", reason}}
	})
}

func (w SeasonView) decision(finding string) *trial.Decision {
	for i, d := range w.Decisions {
		if d.Finding == finding {
			return &w.Decisions[i]
		}
	}
	return nil
}

// Runs is the table of runs, by unit and time.
func (w SeasonView) Runs() Table {
	v := w.V
	t := Table{ID: "runs-" + w.year(), Title: v.Text("Runs of %s", v.Year(w.Record.Season)),
		Columns: []Column{
			wordy("unit", v.Text("unit")),
			wordy("practice", v.Text("practice")),
			wordy("from", v.Text("from")),
			wordy("to", v.Text("to")),
			numeric("volume", v.Text("sap"), v.VolumeUnit()),
			numeric("per_tap", v.Text("a tap"), v.VolumeUnit()),
			numeric("brix", v.Text("sugar"), v.Text("°Bx")),
			wordy("note", v.Text("note")),
		}}
	taps, practices := map[string]float64{}, map[string]practice.Key{}
	for _, r := range w.Total.Rows {
		taps[r.Unit] = r.Taps
	}
	for _, p := range w.Record.Plots {
		practices[p.Unit] = p.Practice
	}
	for _, r := range w.Total.Runs {
		amount := v.VolumeNumber(r.Volume)
		each, sugar, said := none(v), none(v), []string{}
		if n := taps[r.Unit]; n > 0 {
			each = num(v.Decimal(amount/n, 2), amount/n)
		}
		if r.Brix != nil {
			sugar = num(v.Decimal(*r.Brix, 1), *r.Brix)
		}
		if r.AtLeast {
			said = append(said, v.Text("at least"))
		}
		if r.Out {
			said = append(said, v.Text("taken out"))
		}
		t.row(r.Unit+"/"+r.To.Format(time.RFC3339), words(r.Unit), words(w.practice(practices[r.Unit])),
			words(v.DayOf(r.From)), words(v.DayOf(r.To)), num(v.Decimal(amount, 1), amount), each, sugar,
			words(strings.Join(said, ", "))).Dim = r.Out
	}
	return t
}

// WeatherView is the springs of a place in one voice.
type WeatherView struct {
	Seasons []weather.Season
	Rules   weather.Rules
	V       *say.Voice
}

// Class is a season's class in words.
func (w WeatherView) Class(s weather.Season) string {
	switch s.Class {
	case weather.Short:
		return w.V.Text("a short season")
	case weather.Normal:
		return w.V.Text("a usual season")
	case weather.Long:
		return w.V.Text("a long season")
	}
	return w.V.Text("not classed: too many days are missing")
}

// Sentence says what a season was: "A usual season: 34 freeze-thaw days, with a hot end."
func (w WeatherView) Sentence(s weather.Season) string {
	v := w.V
	if s.HotEnd {
		return capital(v.Text("%s: %s, with a hot end", w.Class(s), v.Text("%d freeze-thaw days", s.FreezeThaw)))
	}
	return capital(v.Text("%s: %s", w.Class(s), v.Text("%d freeze-thaw days", s.FreezeThaw)))
}

// Table is what each spring was, and by which rules.
func (w WeatherView) Table() Table {
	v, r := w.V, w.Rules
	t := Table{ID: "weather", Title: v.Text("The weather of the seasons"),
		Lead: v.Text("From %s to %s. The rules are common practice, and yours to change.", dayOf(v, r.From),
			dayOf(v, r.To)),
		Columns: []Column{
			numeric("season", v.Text("season"), ""),
			numeric("freeze_thaw_days", v.Text("freeze-thaw days"), ""),
			numeric("warm_spell_days", v.Text("longest warm spell"), v.Text("days")),
			wordy("warm_from", v.Text("from")),
			numeric("degree_days", v.Text("degree days"), v.TemperatureUnit()),
			wordy("class", v.Text("class")),
			wordy("hot_end", v.Text("hot end")),
			numeric("missing_days", v.Text("days missing"), ""),
		}}
	for _, s := range w.Seasons {
		hot := v.Text("no")
		if s.HotEnd {
			hot = v.Text("yes")
		}
		degrees := v.DegreeDays(s.DegreeDays)
		t.row(v.Year(s.Year), num(v.Year(s.Year), float64(s.Year)), count(v, s.FreezeThaw), count(v, s.WarmSpell),
			words(v.DayOf(s.WarmFrom)), num(v.Decimal(degrees, 0), degrees), words(w.Class(s)), words(hot),
			count(v, s.Missing))
	}
	for _, text := range []string{
		v.Text("A freeze-thaw day has its lowest below %s and its highest above %s.", v.Temperature(r.Freeze),
			v.Temperature(r.Thaw)),
		v.Text("A warm spell is days whose lowest stays above %s, between the first freeze-thaw day and the last.",
			v.Temperature(r.Warm)),
		v.Text("A season is short with up to %d freeze-thaw days, and long from %d on.", r.ShortUpTo, r.LongFrom),
		v.Text("A hot end is %d days or more in a row that reach %s, within %d days of the last freeze-thaw day.",
			r.HotDays, v.Temperature(r.Hot), r.LastDays),
		v.Text("Degree days are above %s.", v.Temperature(r.Base)),
	} {
		t.note(text)
	}
	return t
}

func dayOf(v *say.Voice, d weather.MonthDay) string {
	return v.DayOf(time.Date(2000, d.Month, d.Day, 0, 0, 0, 0, time.UTC))
}
