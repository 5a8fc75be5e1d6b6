package sheet

import (
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/trial"
	"spile/internal/trade/weather"
)

// days reads temperatures, a row a day.
func (g *trialGather) days(t trialTable) {
	var days []weather.Day
	where := map[time.Time]int{}
	for _, r := range t.records {
		d, ok := take(r, trial.Days.Columns, g.set)
		if !ok {
			continue
		}
		d.Date = d.Date.Truncate(24 * time.Hour)
		if d.Min == nil && d.Max == nil {
			continue
		}
		if d.Min != nil && d.Max != nil && *d.Min > *d.Max {
			r.fault("tmin_c", note.New("the lowest temperature, %s, is above the highest, %s; allowed: at most that",
				r.either("tmin_c", "tmin_f"), r.either("tmax_c", "tmax_f")))
			continue
		}
		if row, twice := where[d.Date]; twice {
			r.fault("date", note.New("this day stands twice, first in row %d; allowed: one row a day", row))
			continue
		}
		where[d.Date] = r.row
		days = append(days, d)
	}
	g.keep(days)
}

func (r *record) either(a, b string) string {
	if r.has(a) {
		return r.text(a)
	}
	return r.text(b)
}

func (g *trialGather) keep(days []weather.Day) {
	have := map[time.Time]bool{}
	for _, d := range g.t.Days {
		have[d.Date] = true
	}
	for _, d := range days {
		if have[d.Date] {
			g.faults.add(note.New("%s stands in two files; allowed: each day in one", d.Date.Format(time.DateOnly)))
		}
		g.t.Days = append(g.t.Days, d)
	}
	slices.SortStableFunc(g.t.Days, func(a, b weather.Day) int { return a.Date.Compare(b.Date) })
}

// tenths is what a value of the network may be: a whole number of tenths of a degree, or -9999 for none.
var tenths = bounds{Low: -9999, High: 9999}

// elements reads the network's form of one element and day a row.
func (g *trialGather) elements(t trialTable) {
	first := func(r *record, names ...string) string {
		for _, n := range names {
			if r.has(n) {
				return n
			}
		}
		return names[0]
	}
	var records []weather.Record
	for _, r := range t.records {
		element := strings.ToUpper(r.text("element"))
		if element != "TMIN" && element != "TMAX" {
			continue
		}
		key := first(r, "value", "data_value")
		text := r.text("date")
		if len(text) == 8 {
			text = text[:4] + "-" + text[4:6] + "-" + text[6:]
		}
		at, ok := column.ParseMoment(text)
		if !ok {
			r.fault("date", note.New("%s is not a date; allowed: year, month and day, such as 20260305",
				quote(r.text("date"))))
			continue
		}
		if !r.need(key) {
			continue
		}
		if x := r.number(key, tenths); x != nil {
			records = append(records, weather.Record{Station: r.text("id"), Date: at, Element: element, Value: *x,
				Quality: r.text(first(r, "qflag", "q_flag"))})
		}
	}
	g.network(t, records)
}

// station reads the network's form of one day a row, its values in tenths of a degree and their flags beside them.
func (g *trialGather) station(t trialTable) {
	var records []weather.Record
	for _, name := range []string{"tmin", "tmax"} {
		_, have := t.head.index[name]
		_, flags := t.head.index[name+"_attributes"]
		if have && !flags {
			g.faults.add(note.New("the unit of the column %s is not known without its column %s_attributes, beside "+
				"which the network writes tenths of a degree Celsius; allowed: that, or a table of date, tmin_c and "+
				"tmax_c (or tmin_f, tmax_f)", name, name).At(t.head.where()))
			return
		}
	}
	for _, r := range t.records {
		at, ok := r.moment("date")
		if !ok {
			r.needs("date")
			continue
		}
		for _, name := range []string{"tmin", "tmax"} {
			if !r.has(name) {
				continue
			}
			flags := strings.Split(r.text(name+"_attributes"), ",")
			quality := ""
			if len(flags) > 1 {
				quality = strings.TrimSpace(flags[1])
			}
			if x := r.number(name, tenths); x != nil {
				records = append(records, weather.Record{Station: r.text("station"), Date: at,
					Element: strings.ToUpper(name), Value: *x, Quality: quality})
			}
		}
	}
	g.network(t, records)
}

// network takes the records of a station: of a century's days only those of the trial's seasons are kept.
func (g *trialGather) network(t trialTable, records []weather.Record) {
	if years := g.t.Seasons(); len(years) > 0 {
		records = slices.DeleteFunc(records, func(r weather.Record) bool {
			return !slices.Contains(years,
				r.Date.Year())
		})
	}
	days, notes, err := weather.Days(records)
	at := note.Where{File: t.head.file, Sheet: t.head.sheet}
	for _, n := range notes {
		g.notes = append(g.notes, n.At(at))
	}
	if err != nil {
		for _, n := range note.FaultsOf(err) {
			g.faults.add(n.At(at))
		}
		return
	}
	if len(days) == 0 && g.faults.count() == 0 {
		g.faults.add(note.New("this file holds no temperature (TMIN, TMAX) of the trial's seasons, %s",
			g.seasons()).At(at))
	}
	g.keep(days)
}
