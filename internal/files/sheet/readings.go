package sheet

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/trial"
)

// long reads readings, a row each. A logger's are gathered to days as they come; where they do not come day after day
// they are read once more, and gathered when all are there.
func (g *trialGather) long(t trialTable) {
	faults, records, unknown := *g.faults, slices.Clone(g.t.Records), maps.Clone(g.unknown)
	g.begin(t, t.head)
	g.rows(t)
	if slices.ContainsFunc(slices.Collect(maps.Values(g.log)), (*trial.Log).Late) {
		*g.faults, g.t.Records, g.unknown = faults, records, unknown
		g.begin(t, t.head)
		g.whole = true
		g.rows(t)
	}
	g.end()
}

// rows takes the rows of a table of readings.
func (g *trialGather) rows(t trialTable) {
	if t.stream == nil {
		for _, r := range t.records {
			g.reading(r)
		}
		return
	}
	open, err := t.stream()
	if err != nil {
		g.faults.add(note.New("this file could not be read: %s", err.Error()).At(g.at))
		return
	}
	defer open.Close()
	rows := grid{file: g.at.File, faults: g.faults, each: func(r *record) bool {
		for _, c := range r.cells {
			if !utf8.ValidString(c.text) || strings.IndexByte(c.text, 0) >= 0 {
				g.faults.add(note.New("this row is not text in UTF-8; save the file as CSV UTF-8").
					At(note.Where{File: g.at.File, Row: r.row}))
				return false
			}
		}
		g.reading(r)
		return true
	}}
	rows.read(skipMark(open), trialKnown())
}

// begin makes ready for the readings of a table.
func (g *trialGather) begin(t trialTable, h *head) {
	g.columns = present(h, trial.Readings.Columns)
	g.amounts = slices.DeleteFunc(trial.Amounts(), func(name string) bool { _, have := h.index[name]; return !have })
	g.logs, g.log, g.whole = map[int][]*trial.Log{}, map[unitSeason]*trial.Log{}, false
	g.at = note.Where{File: t.head.file, Sheet: t.head.sheet}
}

// end takes the readings of a table, by unit and time; those of a logger gathered to days.
func (g *trialGather) end() {
	for _, year := range slices.Sorted(maps.Keys(g.logs)) {
		closely := slices.ContainsFunc(g.logs[year], func(l *trial.Log) bool { return l.Close() })
		record := g.record(year)
		for _, l := range g.logs[year] {
			for _, rows := range l.Twice() {
				w := g.at
				w.Row, w.Column = rows[1], "date"
				g.faults.add(note.New("the unit %s was read at this time already, in row %d; allowed: one reading of "+
					"a unit at a time", l.Unit, rows[0]).At(w))
			}
			if closely {
				record.Readings = append(record.Readings, l.Daily(g.at)...)
			} else {
				record.Readings = append(record.Readings, l.Readings(g.at)...)
			}
		}
		if closely {
			g.notes = append(g.notes,
				note.New("units were read more than %d times a day, as a logger does: what is kept is a reading a "+
					"day, with the last count or the day's volume, and the day's mean sugar and vacuum", 24).At(g.at))
		}
	}
	g.logs, g.log = nil, nil
}

func (g *trialGather) put(year int, r trial.Reading) {
	k := unitSeason{year, r.Unit}
	l := g.log[k]
	if l == nil {
		l = &trial.Log{Unit: r.Unit, Whole: g.whole}
		g.log[k] = l
		g.logs[year] = append(g.logs[year], l)
	}
	l.Add(r)
}

func (g *trialGather) reading(r *record) {
	over := g.overflow(r)
	x, ok := take(r, g.columns, g.set)
	if x.At.IsZero() || x.Unit == "" {
		return
	}
	year := trial.SeasonOf(x.At)
	u, known := g.unit(r, x.Unit, year)
	if !known {
		return
	}
	x.Unit, x.Where = u, r.place()
	way := ""
	for _, name := range g.amounts {
		if !ok || !r.has(name) {
			continue
		}
		if way != "" {
			r.fault(name, note.New("a reading has both %s and %s; allowed: one of volume, counter and depth", way,
				name))
			return
		}
		way = name
	}
	if x == (trial.Reading{Unit: x.Unit, At: x.At, Where: x.Where}) {
		return // the unit stands on the sheet, and was not read
	}
	if over {
		rec := g.record(year)
		rec.Events = append(rec.Events, trial.Event{Kind: trial.Overflow, From: x.At, To: x.At, Units: []string{u},
			Note: "≥", Where: x.Where})
	}
	g.put(year, x)
}

// overflow takes the sign away that stands before what was read where a tank ran over, as field sheets ask for it; true
// where it stood.
func (g *trialGather) overflow(r *record) (over bool) {
	for _, name := range g.amounts {
		i := r.head.index[name]
		if i >= len(r.cells) {
			continue
		}
		for _, sign := range []string{"≥", ">="} {
			if rest, ok := strings.CutPrefix(strings.TrimSpace(r.cells[i].text), sign); ok {
				r.cells[i].text, over = strings.TrimSpace(rest), true
				if r.cells[i].text == "" {
					r.fault(name,
						note.New("%s stands alone; allowed: %s and what was read where a tank ran over, such as ≥ 120",
							sign, sign))
				}
			}
		}
	}
	return over
}

// wideReads are what a row of a wide table may hold.
func wideReads() (names []string) {
	for _, c := range trial.Readings.Columns {
		if c.Set != nil && c.Kind != column.Moment && c.Name != "unit" && c.Instead != "unit" {
			names = append(names, c.Name)
		}
	}
	return names
}

// wide reads readings, a row a unit and what was read of it, a column a date: each row is made the rows of a long
// table.
func (g *trialGather) wide(t trialTable) {
	w := widely{reads: wideReads(), rows: map[unitDate]*record{}}
	w.head = newHead(append([]string{"unit", "date"}, w.reads...))
	for _, n := range t.head.names {
		if _, isDate := column.ParseMoment(n); isDate {
			w.dates = append(w.dates, n)
		}
	}
	g.begin(t, w.head)
	for _, r := range t.records {
		g.underDate(r)
		if slices.ContainsFunc(w.dates, r.has) { // else not read yet
			w.row(r)
		}
	}
	for _, k := range w.order {
		g.reading(w.rows[k])
	}
	g.end()
}

// unitDate is a unit, by its tag or code, and a header that is a date.
type unitDate struct{ unit, date string }

// widely is a wide table that is being made a long one.
type widely struct {
	reads []string // what may be read
	dates []string // the headers
	head  *head    // of the long table
	rows  map[unitDate]*record
	order []unitDate
}

// row takes what was read of one unit.
func (w *widely) row(r *record) {
	name := cmp.Or(r.text("unit"), r.text("code"))
	if name == "" {
		r.need("unit")
		return
	}
	if !r.need("read") {
		return
	}
	what := r.choice("read", w.reads...)
	if what == "" {
		return
	}
	for _, date := range w.dates {
		c, ok := r.get(date)
		if !ok {
			continue
		}
		k := unitDate{name, date}
		x := w.rows[k]
		if x == nil {
			x = &record{file: r.file, sheet: r.sheet, row: c.row, head: w.head, comma: r.comma, faults: r.faults,
				cells: make([]cell, len(w.head.names))}
			x.cells[0], x.cells[1] = cell{text: name, row: c.row}, cell{text: date, row: c.row}
			w.rows[k] = x
			w.order = append(w.order, k)
		}
		if i := w.head.index[what]; x.cells[i].text == "" {
			x.cells[i] = c
		} else {
			r.fault(date, note.New("%s of unit %s stands twice under this date, first in row %d; allowed: once",
				what, quote(name), x.cells[i].row))
		}
	}
}

// underDate says where a row of a wide table holds something that no day stands over, once a column.
func (g *trialGather) underDate(r *record) {
	beside := column.Names(columnsOf(wideRole))
	for i, n := range r.head.names {
		_, isDate := column.ParseMoment(n)
		if isDate || n == "trial" || slices.Contains(beside, n) || i >= len(r.cells) || r.cells[i].text == "" {
			continue
		}
		w := note.Where{File: r.file, Sheet: r.sheet, Row: r.head.row, Column: n}
		switch over := note.New("no day stands over %s in row %d; allowed: year-month-day, such as 2026-03-05, and a "+
			"time behind it where it matters, such as 2026-03-05 17:30", quote(r.cells[i].text), r.row); {
		case n == "":
			g.faults.add(over.At(note.Where{File: r.file, Sheet: r.sheet, Row: r.row}))
		case !g.unknown[r.sheet+"\x00"+n]:
			g.unknown[r.sheet+"\x00"+n] = true
			g.faults.add(note.New("%s is not a date, and readings stand under it; allowed: year-month-day, such as "+
				"2026-03-05, and a time behind it where it matters, such as 2026-03-05 17:30", quote(n)).At(w))
		}
	}
}
