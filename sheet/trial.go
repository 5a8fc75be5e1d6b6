package sheet

import (
	"bufio"
	"bytes"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"spile/evidence"
	"spile/note"
	"spile/pool"
	"spile/practice"
	"spile/trial"
	"spile/unit"
	"spile/weather"
)

// What a table of a trial holds, told by its columns.
const (
	longRole        = "readings"     // a row a reading
	wideRole        = "wide"         // readings, a row a unit and a column a date
	eventsRole      = "events"       // a row an event
	calibrationRole = "calibrations" // a row a measured dump
	tanksRole       = "tanks"        // a row a depth of a tank
	countsRole      = "counts"       // a row a count of taps
	daysRole        = "weather"      // a row a day
	stationRole     = "station"      // a row a day, as the climatology network writes a station
	elementsRole    = "elements"     // a row an element and day, as the climatology network writes a year
	layoutRole      = "layout"       // a row a unit and season, with its practice
	sumsRole        = "sums"         // a season table
	decisionsRole   = "decisions"    // a row a decision on a finding
	planRole        = "trials"       // a row a key of trial.toml
)

// trialColumns are the columns of each kind of table of a trial. "trial" may stand in all, in the package of a workbook.
var trialColumns = map[string][]string{
	longRole: {"unit", "date", "volume_gal", "volume_gal_imp", "volume_l", "counter", "depth_in", "depth_cm", "depth_m", "brix",
		"vacuum_inhg", "vacuum_kpa", "note", "code", "block"},
	wideRole:        {"unit", "read", "code", "block", "taps", "practice"},
	eventsRole:      {"kind", "from", "to", "units", "note", "season"},
	calibrationRole: {"unit", "date", "flow", "dump_gal", "dump_gal_imp", "dump_l"},
	tanksRole:       {"unit", "season", "depth_in", "depth_cm", "depth_m", "volume_gal", "volume_gal_imp", "volume_l"},
	countsRole:      append([]string{"unit", "date", "taps", "again", "note", "code", "block", "practice"}, holeColumns...),
	daysRole:        {"date", "tmin_c", "tmin_f", "tmax_c", "tmax_f"},
	stationRole:     {"station", "date", "tmin", "tmax", "tmin_attributes", "tmax_attributes"},
	elementsRole:    {"id", "date", "element", "value", "data_value", "mflag", "qflag", "sflag", "obstime", "m_flag", "q_flag", "s_flag", "obs_time"},
	layoutRole:      {"season", "block", "unit", "practice", "taps", "drop_age", "mainline", "code", "members"},
	sumsRole:        seasonColumns,
	decisionsRole:   {"season", "finding", "out", "reason", "block", "from", "to"},
	planRole:        {"key", "value"},
}

// holeColumns are those of a field sheet's tap holes that no answer rests on: they are kept as the note of a count.
var holeColumns = []string{"species", "diameter_cm", "crew", "bit", "hole_depth", "shavings"}

// trialKnown is every column of every table of a trial.
var trialKnown = func() map[string]bool {
	all := map[string]bool{"trial": true}
	for _, columns := range trialColumns {
		for _, c := range columns {
			all[c] = true
		}
	}
	return all
}()

// roleOf tells what a table holds; "" where it is none of a trial's.
func roleOf(h *head) string {
	has := func(names ...string) bool {
		for _, n := range names {
			if _, ok := h.index[n]; ok {
				return true
			}
		}
		return false
	}
	volume := has("volume_gal", "volume_gal_imp", "volume_l")
	depth := has("depth_in", "depth_cm", "depth_m")
	switch {
	case has("key") && has("value"):
		return planRole
	case has("finding"):
		return decisionsRole
	case has("kind") && has("from"):
		return eventsRole
	case has("flow") || has("dump_gal", "dump_gal_imp", "dump_l"):
		return calibrationRole
	case has("unit") && has("practice") && volume:
		return sumsRole
	case has("element") && has("date"):
		return elementsRole
	case has("station") && has("date"):
		return stationRole
	case has("tmin_c", "tmin_f", "tmax_c", "tmax_f", "tmin", "tmax"):
		return daysRole
	case depth && volume && !has("date"):
		return tanksRole
	case has("unit", "code") && has("date") && has("taps") && !volume && !depth && !has("counter"):
		return countsRole
	case has("unit", "code") && has("date"):
		return longRole
	case has("unit", "code") && slices.ContainsFunc(h.names, func(n string) bool { _, ok := moment(n); return ok }):
		return wideRole
	case has("unit", "code") && has("read"):
		return wideRole // of a sheet that no date has been written over yet
	case has("unit") && has("practice"):
		return layoutRole
	}
	return ""
}

// moment reads a day, or a day with a time: 2026-03-05, 2026-03-05 17:30, 2026-03-05T17:30:15. Times are those of the
// place. It is called for millions of rows, so it looks at digits only.
func moment(s string) (time.Time, bool) {
	two := func(i int) int {
		a, b := s[i]-'0', s[i+1]-'0'
		if a > 9 || b > 9 {
			return -1
		}
		return int(10*a + b)
	}
	if len(s) != 10 && len(s) != 16 && len(s) != 19 || s[4] != '-' || s[7] != '-' {
		return time.Time{}, false
	}
	century, year, month, day := two(0), two(2), two(5), two(8)
	hour, minute, second := 0, 0, 0
	if len(s) >= 16 {
		if s[10] != ' ' && s[10] != 'T' && s[10] != 't' || s[13] != ':' || len(s) == 19 && s[16] != ':' {
			return time.Time{}, false
		}
		hour, minute = two(11), two(14)
		if len(s) == 19 {
			second = two(17)
		}
	}
	if century < 19 || century > 21 || year < 0 || month < 1 || month > 12 || day < 1 || hour < 0 || hour > 23 || minute < 0 || minute > 59 || second < 0 || second > 59 {
		return time.Time{}, false
	}
	t := time.Date(100*century+year, time.Month(month), day, hour, minute, second, 0, time.UTC)
	return t, t.Day() == day // not the 30th of February
}

// moment reads a day that may have a time; false where it is not given or at fault.
func (r *record) moment(key string) (time.Time, bool) {
	c, ok := r.get(key)
	if !ok {
		return time.Time{}, false
	}
	t, ok := moment(strings.TrimSpace(c.text))
	if !ok || t.Year() < 1900 || t.Year() > 2100 {
		r.fault(key, note.New("%s is not a date; allowed: year-month-day, such as 2026-03-05, and a time behind it where it matters, such as 2026-03-05 17:30", quote(c.text)))
		return time.Time{}, false
	}
	return t, true
}

// What can be read at a unit at all.
var (
	anyAmount = bounds{low: 0, high: 1e9}
	anyDepth  = bounds{low: 0, high: 1e4}
	anyBrix   = bounds{low: 0, high: 20}
)

// amounts are the columns that say how much.
var (
	depthColumns = []struct {
		name   string
		metres float64
	}{{"depth_in", float64(unit.Inch.Of(1))}, {"depth_cm", 0.01}, {"depth_m", 1}}
	dumpColumns = []struct {
		name string
		unit unit.VolumeUnit
	}{{"dump_gal", unit.USGallon}, {"dump_gal_imp", unit.ImperialGallon}, {"dump_l", unit.Litre}}
)

// trialGather puts a trial together from files.
type trialGather struct {
	t       trial.Trial
	set     practice.Set
	faults  *faults
	notes   []note.Note
	codes   map[string]string // of a blind layout: the unit of each code
	units   map[int]map[string]string
	logs    map[int][]*trial.Log // of the table being read, by season
	log     map[unitSeason]*trial.Log
	at      note.Where // of that table
	tanks   map[unitSeason]int
	unknown map[string]bool // said already
}

type unitSeason struct {
	season int
	unit   string
}

func newTrialGather(base trial.Trial, set practice.Set) *trialGather {
	records := make([]trial.Record, len(base.Records))
	for i, r := range base.Records {
		records[i] = trial.Record{Season: r.Season, Plots: slices.Clone(r.Plots)}
	}
	base.Records, base.Sums, base.Days, base.Decisions = records, nil, nil, nil
	return &trialGather{t: base, set: set, tanks: map[unitSeason]int{}, unknown: map[string]bool{}}
}

// trialTable is a table of a trial that was taken from a file.
type trialTable struct {
	role    string
	head    *head
	records []*record
	stream  func() (io.ReadCloser, error) // opens a file of more rows than are held
	toml    *record
	faults  *faults
}

// Trial reads what files say of a trial: its trial.toml, its layout, readings, events, calibrations, tanks, counts,
// season tables and temperatures, each told by its columns (docs/data.md). base is the trial as far as it is known: what it
// was laid out as stands, unless a file lays it out anew; what was read of it before is not in what is returned. The
// error is note.Faults with everything that is wrong in all files.
func Trial(base trial.Trial, set practice.Set, paths ...string) (trial.Trial, []note.Note, error) {
	return gatherTrial(base, set, func(g *trialGather, found func() *faults) (tables []trialTable) {
		for _, path := range paths {
			tables = append(tables, g.load(path, found())...)
		}
		return tables
	})
}

// TrialOf is Trial of the bytes of one file.
func TrialOf(base trial.Trial, set practice.Set, file string, data []byte) (trial.Trial, []note.Note, error) {
	return gatherTrial(base, set, func(g *trialGather, found func() *faults) []trialTable { return g.tables(file, data, found()) })
}

// gatherTrial puts a trial together from tables, each with its own faults.
func gatherTrial(base trial.Trial, set practice.Set, load func(g *trialGather, found func() *faults) []trialTable) (trial.Trial, []note.Note, error) {
	g := newTrialGather(base, set)
	all := new(faults)
	var found []*faults
	tables := load(g, func() *faults {
		f := new(faults)
		found = append(found, f)
		return f
	})
	for _, t := range tables { // the plan first: all else is of its units
		g.faults = t.faults
		switch t.role {
		case planRole:
			g.plan(t)
		case layoutRole:
			g.layout(t.records)
		}
	}
	g.known()
	for _, t := range tables {
		g.faults = t.faults
		g.read(t)
		if !slices.Contains(found, t.faults) {
			found = append(found, t.faults)
		}
	}
	for _, f := range found {
		all.join(f)
	}
	if err := all.err(); err != nil {
		return trial.Trial{}, g.notes, err
	}
	return g.t, g.notes, nil
}

// load takes the tables of a file from the disk.
func (g *trialGather) load(path string, f *faults) []trialTable {
	name, limit := path, int64(maxCSV)
	file, _, isBook := spreadsheetName(path)
	switch ext := strings.ToLower(filepath.Ext(path)); {
	case isBook:
		name = file
	case ext == ".toml":
		limit = maxTOML
	case ext == ".csv" || ext == ".tsv" || ext == ".txt":
		if info, err := os.Stat(path); err == nil && info.Size() > maxCSV && !info.IsDir() {
			if t, ok := g.many(path, func() (io.ReadCloser, error) { return os.Open(path) }, f); ok {
				return []trialTable{t}
			}
		}
	}
	if data := disk.read(name, limit, f); data != nil {
		return g.tables(path, data, f)
	}
	return nil
}

// tables takes the tables of a file.
func (g *trialGather) tables(path string, data []byte, f *faults) []trialTable {
	name, sheet, isBook := spreadsheetName(path)
	switch ext := strings.ToLower(filepath.Ext(path)); {
	case ext == ".toml":
		r := flatten(path, data, f)
		if r == nil {
			return nil
		}
		trialKeys.check(r)
		return []trialTable{{role: planRole, toml: r, faults: f}}
	case !isBook && ext != ".csv" && ext != ".tsv" && ext != ".txt":
		f.add(note.New("files that end in %s are not read here; allowed: .csv, .tsv, .txt, .xlsx, .toml", quote(ext)).At(note.Where{File: path}))
		return nil
	case isBook && sheet == "":
		names := sheetNames(data)
		if len(names) < 2 {
			break
		}
		var list []trialTable
		for _, s := range names {
			t := g.table(name+"#"+s, data)
			switch {
			case t.role != "" || t.faults.count() > 0 && t.head != nil:
				list = append(list, t)
			case len(t.records) > 0:
				g.notes = append(g.notes, note.New("this sheet holds nothing of a trial that is read, and is left out").At(t.head.where()))
			}
		}
		if len(list) == 0 {
			f.add(note.New("no sheet of this file holds anything of a trial; allowed: %s", trialTables).At(note.Where{File: path}))
		}
		return list
	}
	if !isBook && len(data) > manyBytes {
		if t, ok := g.many(path, func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil }, f); ok {
			return []trialTable{t}
		}
	}
	t := g.table(path, data)
	if t.role == "" && t.head != nil {
		t.faults.add(note.New("what this table holds cannot be told from its columns (%s); allowed: %s",
			strings.Join(t.head.names[:min(len(t.head.names), 12)], ", "), trialTables).At(t.head.where()))
	}
	return []trialTable{t}
}

// trialTables are the tables of a trial in words.
const trialTables = "readings, events, calibrations, tanks, counts, a layout, a season table, temperatures (docs/data.md)"

// table takes a table, and tells its role.
func (g *trialGather) table(file string, data []byte) trialTable {
	t := trialTable{faults: new(faults)}
	t.head, t.records = trialRows(file, data, t.faults)
	if t.head != nil {
		t.role = roleOf(t.head)
	}
	return t
}

// manyBytes is what maxRows of readings do not fit in.
const manyBytes = maxRows * len("1,2026-03-05 17:30,0\n")

// many takes a file that may have more rows than are held, where it is of readings: only they may be that many.
func (g *trialGather) many(path string, open func() (io.ReadCloser, error), f *faults) (trialTable, bool) {
	file, err := open()
	if err != nil {
		return trialTable{}, false // who reads it says so
	}
	defer file.Close()
	look := grid{file: path, faults: new(faults), each: func(*record) bool { return false }}
	look.read(skipMark(file), trialKnown)
	return trialTable{role: longRole, head: look.head, stream: open, faults: f}, look.head != nil && roleOf(look.head) == longRole
}

// skipMark reads behind a byte order mark.
func skipMark(r io.Reader) *bufio.Reader {
	b := bufio.NewReaderSize(r, 1<<20)
	if head, _ := b.Peek(3); bytes.Equal(head, []byte("\xef\xbb\xbf")) {
		b.Discard(3)
	}
	return b
}

// elementRow is a row of the climatology network's files of a year or a station, which have no header.
var elementRow = regexp.MustCompile(`^[A-Z]{2}[A-Z0-9_-]{9},[0-9]{8},[A-Z]{3}[A-Z0-9],-?[0-9]+,`)

// trialRows is table, of a trial. A file without a header is given that of its form.
func trialRows(file string, data []byte, f *faults) (*head, []*record) {
	if first, _, _ := bytes.Cut(data, []byte("\n")); elementRow.Match(first) {
		h, records := table(file, append([]byte("id,date,element,value,mflag,qflag,sflag,obstime\n"), data...), trialKnown, nil, f)
		for _, r := range records {
			r.row--
			for i := range r.cells {
				r.cells[i].row--
			}
		}
		return h, records
	}
	return table(file, data, trialKnown, nil, f)
}

// read takes what a table says.
func (g *trialGather) read(t trialTable) {
	if t.role != "" && t.head != nil {
		g.odd(t)
	}
	switch t.role {
	case longRole:
		g.long(t)
	case wideRole:
		g.wide(t)
	case eventsRole:
		g.events(t.records)
	case calibrationRole:
		g.calibrations(t.records)
	case tanksRole:
		g.tank(t.records)
	case countsRole:
		g.counts(t.records)
	case daysRole:
		g.days(t)
	case stationRole:
		g.station(t)
	case elementsRole:
		g.elements(t)
	case sumsRole:
		g.sums(t)
	case decisionsRole:
		g.decisions(t.records)
	}
}

// unitless are columns that say how much of what, and not in which unit; beside them, those that do.
var unitless = map[string]string{
	"volume": "volume_gal, volume_gal_imp, volume_l", "sap": "volume_gal, volume_gal_imp, volume_l", "depth": "depth_in, depth_cm, depth_m",
	"vacuum": "vacuum_inhg, vacuum_kpa", "dump": "dump_gal, dump_gal_imp, dump_l",
}

// odd names columns that are not known.
func (g *trialGather) odd(t trialTable) {
	if t.role == stationRole || t.role == elementsRole || t.role == sumsRole || t.role == planRole {
		return // those of others; or they say so themselves
	}
	var odd []string
	for _, name := range t.head.names {
		if _, isDate := moment(name); name != "" && name != "trial" && !slices.Contains(trialColumns[t.role], name) && !(isDate && t.role == wideRole) {
			odd = append(odd, quote(name))
		}
	}
	for _, name := range t.head.names {
		if units := unitless[name]; units != "" && (t.role != wideRole) && !slices.Contains(trialColumns[t.role], name) {
			g.faults.add(note.New("the unit of the column %s is not said; allowed: %s", name, units).At(t.head.where()))
			return
		}
	}
	if len(odd) > 0 {
		g.notes = append(g.notes, note.New("columns that are not known are not used: %s", strings.Join(odd, ", ")).At(t.head.where()))
	}
}

// known is what units there are, once the plan has been read.
func (g *trialGather) known() {
	g.units, g.codes = map[int]map[string]string{}, map[string]string{}
	for _, r := range g.t.Records {
		of := map[string]string{}
		for _, p := range r.Plots {
			of[p.Unit] = p.Unit
		}
		g.units[r.Season] = of
	}
	if q := g.t.Question; q != nil && q.Blind {
		if l, err := q.Layout(g.set); err == nil {
			for _, p := range l.Places {
				g.codes[p.Code] = p.Unit.Name
			}
		}
	}
}

// record is the season that a time is of.
func (g *trialGather) record(year int) *trial.Record {
	i := slices.IndexFunc(g.t.Records, func(r trial.Record) bool { return r.Season == year })
	if i < 0 {
		return nil
	}
	return &g.t.Records[i]
}

// unit is the unit that a row names by its tag or its code, in a season; false where it names none, which is said.
func (g *trialGather) unit(r *record, year int) (string, bool) {
	key := "unit"
	if !r.has(key) && r.has("code") {
		key = "code"
	}
	if !r.need(key) {
		return "", false
	}
	return g.named(r, key, r.text(key), year)
}

func (g *trialGather) named(r *record, key, name string, year int) (string, bool) {
	of := g.units[year]
	if of == nil {
		if !g.unknown[strconv.Itoa(year)] {
			g.unknown[strconv.Itoa(year)] = true
			r.fault(key, note.New("the trial has no units in the season %d; allowed: %s", year, g.seasons()))
		} else {
			r.faults.more++
		}
		return "", false
	}
	if u, ok := of[name]; ok {
		return u, true
	}
	if u, ok := g.codes[strings.ToUpper(name)]; ok {
		if u, ok := of[u]; ok {
			return u, true
		}
	}
	if g.unknown[name] {
		r.faults.more++ // millions of rows may name it
		return "", false
	}
	g.unknown[name] = true
	units := slices.Collect(maps.Keys(of))
	slices.Sort(units)
	near := ""
	if i := slices.IndexFunc(units, func(u string) bool { return strings.EqualFold(u, name) }); i >= 0 {
		near = units[i]
	} else if len(name) > 3 { // of short tags any may be meant
		near = nearest(name, units)
	}
	if near != "" {
		r.fault(key, note.New("the unit %s is none of the trial's units; did you mean %s?", quote(name), near))
	} else {
		r.fault(key, note.New("the unit %s is none of the trial's units; allowed: %s", quote(name), strings.Join(units[:min(len(units), 30)], ", ")))
	}
	return "", false
}

func (g *trialGather) seasons() string {
	var years []string
	for _, r := range g.t.Records {
		years = append(years, strconv.Itoa(r.Season))
	}
	if years == nil {
		return "a layout first, such as trial design writes"
	}
	return strings.Join(years, ", ")
}

// long reads readings, a row each.
func (g *trialGather) long(t trialTable) {
	g.begin(t)
	if t.stream == nil {
		for _, r := range t.records {
			g.reading(r)
		}
		g.end()
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
				g.faults.add(note.New("this row is not text in UTF-8; save the file as CSV UTF-8").At(note.Where{File: g.at.File, Row: r.row}))
				return false
			}
		}
		g.reading(r)
		return true
	}}
	rows.read(skipMark(open), trialKnown)
	g.end()
}

// begin makes ready for the readings of a table.
func (g *trialGather) begin(t trialTable) {
	g.logs, g.log = map[int][]*trial.Log{}, map[unitSeason]*trial.Log{}
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
				g.faults.add(note.New("the unit %s was read at this time already, in row %d; allowed: one reading of a unit at a time", l.Unit, rows[0]).At(w))
			}
			if closely {
				record.Readings = append(record.Readings, l.Daily(g.at)...)
			} else {
				record.Readings = append(record.Readings, l.Readings(g.at)...)
			}
		}
		if closely {
			g.notes = append(g.notes, note.New("units were read more than %d times a day, as a logger does: what is kept is a reading a day, with the last count or the day's volume, and the day's mean sugar and vacuum", 24).At(g.at))
		}
	}
	g.logs, g.log = nil, nil
}

func (g *trialGather) put(year int, r trial.Reading) {
	k := unitSeason{year, r.Unit}
	l := g.log[k]
	if l == nil {
		l = &trial.Log{Unit: r.Unit}
		g.log[k] = l
		g.logs[year] = append(g.logs[year], l)
	}
	l.Add(r)
}

func (g *trialGather) reading(r *record) {
	at, ok := r.moment("date")
	if !ok {
		r.needs("date")
		return
	}
	year := trial.SeasonOf(at)
	u, ok := g.unit(r, year)
	if !ok {
		return
	}
	x := trial.Reading{Unit: u, At: at, Note: r.text("note"), Where: note.Where{File: r.file, Sheet: r.sheet, Row: r.row}}
	ways := ""
	over := false
	way := func(name string) *float64 {
		if i, have := r.head.index[name]; have && i < len(r.cells) {
			for _, sign := range []string{"≥", ">="} { // a tank that ran over, as field sheets ask for it
				if rest, ok := strings.CutPrefix(strings.TrimSpace(r.cells[i].text), sign); ok {
					r.cells[i].text, over = strings.TrimSpace(rest), true
					if r.cells[i].text == "" {
						r.fault(name, note.New("%s stands alone; allowed: %s and what was read where a tank ran over, such as ≥ 120", sign, sign))
					}
				}
			}
		}
		b := anyAmount
		if strings.HasPrefix(name, "depth") {
			b = anyDepth
		}
		v := r.number(name, b)
		if v != nil && ways != "" {
			r.fault(name, note.New("a reading has both %s and %s; allowed: one of volume, counter and depth", ways, name))
			return nil
		}
		if v != nil {
			ways = name
		}
		return v
	}
	for _, c := range volumeColumns {
		if v := way(c.name); v != nil {
			x.Volume = new(c.unit.Of(*v))
		}
	}
	if v := way("counter"); v != nil {
		x.Counter = v
	}
	for _, c := range depthColumns {
		if v := way(c.name); v != nil {
			x.Depth = new(unit.Length(*v * c.metres))
		}
	}
	x.Brix = r.number("brix", anyBrix)
	x.Vacuum = g.vacuum(r)
	if x.Volume == nil && x.Counter == nil && x.Depth == nil && x.Brix == nil && x.Vacuum == nil && x.Note == "" {
		return // the unit stands on the sheet, and was not read
	}
	if over {
		rec := g.record(year)
		rec.Events = append(rec.Events, trial.Event{Kind: trial.Overflow, From: at, To: at, Units: []string{u}, Note: "≥", Where: x.Where})
	}
	g.put(year, x)
}

func (g *trialGather) vacuum(r *record) *unit.Pressure {
	var p *unit.Pressure
	if v := r.number("vacuum_inhg", inHg); v != nil {
		p = new(unit.InchOfMercury.Of(*v))
	}
	if v := r.number("vacuum_kpa", kPa); v != nil {
		if p != nil {
			r.fault("vacuum_kpa", note.New("the vacuum stands twice, in two units; allowed: one"))
		}
		p = new(unit.Pressure(*v))
	}
	return p
}

// wideReads are what a row of a wide table may hold.
var wideReads = []string{"counter", "volume_gal", "volume_gal_imp", "volume_l", "depth_in", "depth_cm", "depth_m", "brix", "vacuum_inhg", "vacuum_kpa", "note"}

// wide reads readings, a row a unit and what was read of it, a column a date: each row is made the rows of a long table.
func (g *trialGather) wide(t trialTable) {
	g.begin(t)
	type key struct {
		unit string
		date string
	}
	long := newHead(append([]string{"unit", "date"}, wideReads...))
	rows := map[key]*record{}
	var order []key
	for _, r := range t.records {
		name := r.text("unit")
		if name == "" {
			name = r.text("code")
		}
		g.underDate(r)
		given := slices.ContainsFunc(t.head.names, func(n string) bool { _, ok := moment(n); return ok && r.has(n) })
		if !given {
			continue // not read yet
		}
		if name == "" {
			r.need("unit")
			continue
		}
		if !r.need("read") {
			continue
		}
		what := r.choice("read", wideReads...)
		if what == "" {
			continue
		}
		for _, n := range t.head.names {
			c, ok := r.get(n)
			if _, isDate := moment(n); !ok || !isDate {
				continue
			}
			k := key{name, n}
			x := rows[k]
			if x == nil {
				x = &record{file: r.file, sheet: r.sheet, row: c.row, head: long, comma: r.comma, faults: r.faults, cells: make([]cell, len(long.names))}
				x.cells[0], x.cells[1] = cell{text: name, row: c.row}, cell{text: n, row: c.row}
				rows[k] = x
				order = append(order, k)
			}
			if i := long.index[what]; x.cells[i].text == "" {
				x.cells[i] = c
			} else {
				r.fault(n, note.New("%s of unit %s stands twice under this date, first in row %d; allowed: once", what, quote(name), x.cells[i].row))
			}
		}
	}
	for _, k := range order {
		g.reading(rows[k])
	}
	g.end()
}

// underDate says where a row of a wide table holds something that no day stands over, once a column.
func (g *trialGather) underDate(r *record) {
	for i, n := range r.head.names {
		_, isDate := moment(n)
		if isDate || n == "trial" || slices.Contains(trialColumns[wideRole], n) || i >= len(r.cells) || r.cells[i].text == "" {
			continue
		}
		w := note.Where{File: r.file, Sheet: r.sheet, Row: r.head.row, Column: n}
		switch over := note.New("no day stands over %s in row %d; allowed: year-month-day, such as 2026-03-05, and a time behind it where it matters, such as 2026-03-05 17:30", quote(r.cells[i].text), r.row); {
		case n == "":
			g.faults.add(over.At(note.Where{File: r.file, Sheet: r.sheet, Row: r.row}))
		case !g.unknown[r.sheet+"\x00"+n]:
			g.unknown[r.sheet+"\x00"+n] = true
			g.faults.add(note.New("%s is not a date, and readings stand under it; allowed: year-month-day, such as 2026-03-05, and a time behind it where it matters, such as 2026-03-05 17:30", quote(n)).At(w))
		}
	}
}

// events reads what happened. A day without a time is the whole of it.
func (g *trialGather) events(records []*record) {
	kinds := make([]string, 0, 10)
	for _, k := range trial.EventKinds() {
		kinds = append(kinds, string(k))
	}
	for _, r := range records {
		r.needs("kind")
		e := trial.Event{Kind: trial.EventKind(r.choice("kind", kinds...)), Note: r.text("note"), Where: note.Where{File: r.file, Sheet: r.sheet, Row: r.row}}
		from, ok := r.moment("from")
		if !ok {
			r.needs("from")
			continue
		}
		e.From, e.To = from, from
		dayOnly := len(r.text("from")) == len(time.DateOnly)
		if to, ok := r.moment("to"); ok {
			e.To = to
			dayOnly = len(r.text("to")) == len(time.DateOnly)
		} else if r.has("to") {
			continue
		}
		if dayOnly {
			e.To = e.To.Add(24*time.Hour - time.Second)
		}
		if e.To.Before(e.From) {
			r.fault("to", note.New("the event ends before it begins; allowed: a time from %s on", r.text("from")))
			continue
		}
		year := trial.SeasonOf(from)
		good := true
		for _, name := range g.list(r.text("units"), year) {
			u, ok := g.named(r, "units", name, year)
			if good = good && ok; ok && !slices.Contains(e.Units, u) {
				e.Units = append(e.Units, u)
			}
		}
		if !good || e.Kind == "" {
			continue
		}
		rec := g.record(year)
		if rec == nil {
			g.named(r, "from", "", year) // which says so
			continue
		}
		rec.Events = append(rec.Events, e)
	}
}

// list is the units that a cell names, with semicolons, commas or plus signs between, which a unit's own name may hold too.
func (g *trialGather) list(text string, year int) (names []string) {
	for part := range strings.SplitSeq(text, ";") {
		if part = strings.TrimSpace(part); g.units[year][part] != "" {
			names = append(names, part)
			continue
		}
		for name := range strings.FieldsFuncSeq(part, func(c rune) bool { return c == '+' || c == ',' }) {
			if name = strings.TrimSpace(name); name != "" {
				names = append(names, name)
			}
		}
	}
	return names
}

// own is the season of a day and the unit that a row is of, where "" is all units.
func (g *trialGather) own(r *record, year int) (*trial.Record, string, bool) {
	rec := g.record(year)
	if rec == nil {
		g.named(r, "date", "", year)
		return nil, "", false
	}
	if !r.has("unit") && !r.has("code") {
		return rec, "", true
	}
	u, ok := g.unit(r, year)
	return rec, u, ok
}

// volume reads the one volume of some columns.
func (g *trialGather) volume(r *record, columns []struct {
	name string
	unit unit.VolumeUnit
}, b bounds) (unit.Volume, bool) {
	given := 0
	var v unit.Volume
	for _, c := range columns {
		if !r.has(c.name) {
			continue
		}
		if given++; given == 2 {
			r.fault(c.name, note.New("the volume stands twice, in two units; allowed: one"))
		}
		if x := r.number(c.name, b); x != nil {
			v = c.unit.Of(*x)
		} else {
			return 0, false
		}
	}
	if given == 0 {
		r.need(columns[len(columns)-1].name)
	}
	return v, given == 1
}

func (g *trialGather) calibrations(records []*record) {
	for _, r := range records {
		at, ok := r.moment("date")
		if !ok {
			r.needs("date")
			continue
		}
		rec, u, ok := g.own(r, trial.SeasonOf(at))
		r.need("flow")
		flow := r.choice("flow", string(trial.Slow), string(trial.Fast))
		v, measured := g.volume(r, dumpColumns, bounds{low: 0, high: 1e4, open: true})
		if ok && measured && flow != "" {
			rec.Calibrations = append(rec.Calibrations, trial.Calibration{Unit: u, At: at, Flow: trial.Flow(flow), Dump: v})
		}
	}
}

// tank reads what tanks hold, a row a depth. Without a season a tank is that of every season.
func (g *trialGather) tank(records []*record) {
	for _, r := range records {
		var d *unit.Length
		for _, c := range depthColumns {
			if x := r.number(c.name, anyDepth); x != nil {
				if d != nil {
					r.fault(c.name, note.New("the depth stands twice, in two units; allowed: one"))
				}
				d = new(unit.Length(*x * c.metres))
			}
		}
		v, ok := g.volume(r, volumeColumns, anyAmount)
		if d == nil || !ok {
			if d == nil && !slices.ContainsFunc(depthColumns, func(c struct {
				name   string
				metres float64
			}) bool {
				return r.has(c.name)
			}) {
				r.need("depth_cm")
			}
			continue
		}
		var years []int
		if y := r.whole("season", spring); y != nil {
			years = []int{*y}
		} else {
			for _, rec := range g.t.Records {
				years = append(years, rec.Season)
			}
		}
		for n, y := range years {
			rec, u, ok := g.own(r, y)
			if !ok {
				break
			}
			i, have := g.tanks[unitSeason{y, u}]
			if !have {
				i = len(rec.Tanks)
				g.tanks[unitSeason{y, u}] = i
				rec.Tanks = append(rec.Tanks, trial.Tank{Unit: u})
			}
			k := &rec.Tanks[i]
			if last := len(k.Depths) - 1; n == 0 && (last < 0 && *d != 0 || last >= 0 && (*d <= k.Depths[last] || v <= k.Volumes[last])) {
				r.fault("unit", note.New("a tank's depths rise from 0, each with more sap than the one before; allowed: a row of depth 0 first, and deeper ones below it"))
			}
			k.Depths, k.Volumes = append(k.Depths, *d), append(k.Volumes, v)
		}
	}
}

func (g *trialGather) counts(records []*record) {
	for _, r := range records {
		if !r.has("taps") && !r.has("date") {
			continue // the unit stands on the sheet, and was not counted
		}
		at, ok := r.moment("date")
		if !ok {
			r.needs("date")
			continue
		}
		year := trial.SeasonOf(at)
		u, ok := g.unit(r, year)
		r.need("taps")
		n := r.whole("taps", count)
		c := trial.Count{Unit: u, At: at, Note: r.text("note")}
		for _, name := range holeColumns {
			if r.has(name) {
				c.Note = strings.TrimPrefix(c.Note+"; "+name+" "+r.text(name), "; ")
			}
		}
		if x := r.whole("again", bounds{low: 0, high: most}); x != nil {
			c.Again = *x
		}
		if !ok || n == nil {
			continue
		}
		if c.Taps = *n; c.Again >= c.Taps {
			r.fault("again", note.New("%d of %d taps are second holes; allowed: fewer than all", c.Again, c.Taps))
			continue
		}
		rec := g.record(year)
		rec.Counts = append(rec.Counts, c)
	}
}

// days reads temperatures, a row a day.
func (g *trialGather) days(t trialTable) {
	for _, name := range []string{"tmin", "tmax"} {
		if _, ok := t.head.index[name]; ok {
			g.faults.add(note.New("the unit of the column %s is not said; allowed: %s_c (°C) or %s_f (°F)", name, name, name).At(t.head.where()))
			return
		}
	}
	var days []weather.Day
	where := map[time.Time]int{}
	for _, r := range t.records {
		at, ok := r.moment("date")
		if !ok {
			r.needs("date")
			continue
		}
		d := weather.Day{Date: at.Truncate(24 * time.Hour)}
		d.Min, d.Max = r.temperature("tmin"), r.temperature("tmax")
		if d.Min == nil && d.Max == nil {
			continue
		}
		if d.Min != nil && d.Max != nil && *d.Min > *d.Max {
			r.fault("tmin_c", note.New("the lowest temperature, %s, is above the highest, %s; allowed: at most that", r.either("tmin_c", "tmin_f"), r.either("tmax_c", "tmax_f")))
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

// temperature reads one in °C or °F; the coldest and hottest that any station has had are -89.2 and 56.7 °C (World
// Meteorological Organization, Archive of Weather and Climate Extremes).
func (r *record) temperature(name string) *unit.Temperature {
	var t *unit.Temperature
	if x := r.number(name+"_c", bounds{low: -90, high: 57}); x != nil {
		t = new(unit.Celsius.Of(*x))
	}
	if x := r.number(name+"_f", bounds{low: -130, high: 135}); x != nil {
		if t != nil {
			r.fault(name+"_f", note.New("the temperature stands twice, in two units; allowed: one"))
		}
		t = new(unit.Fahrenheit.Of(*x))
	}
	return t
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
var tenths = bounds{low: -9999, high: 9999}

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
		at, ok := moment(text)
		if !ok {
			r.fault("date", note.New("%s is not a date; allowed: year, month and day, such as 20260305", quote(r.text("date"))))
			continue
		}
		if !r.need(key) {
			continue
		}
		if x := r.number(key, tenths); x != nil {
			records = append(records, weather.Record{Station: r.text("id"), Date: at, Element: element, Value: *x, Quality: r.text(first(r, "qflag", "q_flag"))})
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
			g.faults.add(note.New("the unit of the column %s is not known without its column %s_attributes, beside which the network writes tenths of a degree Celsius; allowed: that, or a table of date, tmin_c and tmax_c (or tmin_f, tmax_f)", name, name).At(t.head.where()))
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
				records = append(records, weather.Record{Station: r.text("station"), Date: at, Element: strings.ToUpper(name), Value: *x, Quality: quality})
			}
		}
	}
	g.network(t, records)
}

// network takes the records of a station: of a century's days only those of the trial's seasons are kept.
func (g *trialGather) network(t trialTable, records []weather.Record) {
	if years := g.t.Seasons(); len(years) > 0 {
		records = slices.DeleteFunc(records, func(r weather.Record) bool { return !slices.Contains(years, r.Date.Year()) })
	}
	days, notes, err := weather.Days(records)
	at := note.Where{File: t.head.file, Sheet: t.head.sheet}
	for _, n := range notes {
		g.notes = append(g.notes, n.At(at))
	}
	if err != nil {
		for _, n := range faultsOf(err) {
			g.faults.add(n.At(at))
		}
		return
	}
	if len(days) == 0 && g.faults.count() == 0 {
		g.faults.add(note.New("this file holds no temperature (TMIN, TMAX) of the trial's seasons, %s", g.seasons()).At(at))
	}
	g.keep(days)
}

// faultsOf are the notes of an error of the domain.
func faultsOf(err error) note.Faults {
	if f, ok := err.(note.Faults); ok {
		return f
	}
	return note.Faults{note.New("%s", err.Error())}
}

// layout reads which unit got which practice in which season. A season that is laid out anew takes the place of what was.
func (g *trialGather) layout(records []*record) {
	keys := make([]string, len(g.set))
	for i, k := range g.set.Keys() {
		keys[i] = string(k)
	}
	fresh := map[int]bool{}
	seen := map[unitSeason]int{}
	for _, r := range records {
		r.need("season")
		y := r.whole("season", spring)
		r.need("unit")
		p := trial.Plot{Unit: r.text("unit"), Block: r.text("block"), Mainline: r.text("mainline"), DropAge: r.whole("drop_age", seasons)}
		r.need("practice")
		p.Practice = practice.Key(r.choice("practice", keys...))
		p.Taps = 1
		if r.need("taps") {
			if n := r.whole("taps", count); n != nil {
				p.Taps = *n
			}
		}
		if y == nil || p.Unit == "" {
			continue
		}
		if row, twice := seen[unitSeason{*y, p.Unit}]; twice {
			r.fault("unit", note.New("the unit %s stands twice in this season, here and in row %d; allowed: one row a unit and season", quote(p.Unit), row))
		}
		seen[unitSeason{*y, p.Unit}] = r.row
		rec := g.record(*y)
		if rec == nil {
			g.t.Records = append(g.t.Records, trial.Record{Season: *y})
			rec = &g.t.Records[len(g.t.Records)-1]
		} else if !fresh[*y] {
			rec.Plots = nil
		}
		fresh[*y] = true
		rec.Plots = append(rec.Plots, p)
	}
}

// sums takes the rows of a season table.
func (g *trialGather) sums(t trialTable) {
	s := seasonRows(t.head, t.records, g.set, g.faults)
	g.notes = append(g.notes, s.Notes...)
	g.t.Sums = append(g.t.Sums, s.Rows...)
}

func (g *trialGather) decisions(records []*record) {
	for _, r := range records {
		for _, key := range []string{"season", "finding", "reason"} {
			r.need(key)
		}
		d := trial.Decision{Finding: r.text("finding"), Out: r.yes("out"), Reason: r.text("reason")}
		if y := r.whole("season", spring); y != nil {
			d.Season = *y
		}
		if r.has("from") || r.has("block") {
			x := trial.Exclusion{Block: r.text("block")}
			from, a := r.moment("from")
			to, b := r.moment("to")
			if x.From, x.To = from, to; !a || !b {
				r.need("from")
				r.need("to")
				continue
			}
			d.Taken = &x
		}
		g.t.Decisions = append(g.t.Decisions, d)
	}
}

// trialKeys are the keys of trial.toml; docs/data.md says what each means.
var trialKeys = grow(
	"name", "site", "note", "caveats.*",
	"analysis.reference", "analysis.response", "analysis.place", "analysis.before", "analysis.vacuum", "analysis.inference",
	"design.practices.*", "design.reference", "design.kind", "design.replicates", "design.taps", "design.seasons", "design.first_season",
	"design.more_reference", "design.blind", "design.plastic_age", "design.seed",
	"design.unit.*.name", "design.unit.*.kind", "design.unit.*.block", "design.unit.*.chamber", "design.unit.*.mainline", "design.unit.*.species",
	"design.unit.*.diameter_cm", "design.unit.*.taps",
	"season_rules.from", "season_rules.to", "season_rules.freeze_c", "season_rules.thaw_c", "season_rules.warm_c", "season_rules.hot_c",
	"season_rules.hot_days", "season_rules.last_days", "season_rules.base_c", "season_rules.short_up_to", "season_rules.long_from", "season_rules.max_gap",
)

// plan takes trial.toml, or a table of its keys.
func (g *trialGather) plan(t trialTable) {
	r := t.toml
	if r == nil {
		r = keyedRecord(t.head.file, t.records, g.faults)
		trialKeys.check(r)
	}
	x := &g.t
	x.Where = note.Where{File: r.file}
	if r.has("name") {
		name := r.text("name")
		if x.Name != "" && name != x.Name {
			r.fault("name", note.New("this is of the trial %s, and %s was asked for", quote(name), quote(x.Name)))
		}
		x.Name = name
	}
	if r.has("site") {
		x.Site = r.text("site")
	}
	if r.has("note") {
		x.Note = r.text("note")
	}
	if list := r.below("caveats"); list != nil {
		x.Caveats = nil
		for _, i := range list {
			x.Caveats = append(x.Caveats, evidence.Caveat(r.text("caveats."+i)))
		}
	}
	if r.below("analysis") != nil {
		keys := g.set.Keys()
		words := make([]string, len(keys))
		for i, k := range keys {
			words[i] = string(k)
		}
		x.Options = trial.Options{
			Reference: practice.Key(r.choice("analysis.reference", words...)),
			Response:  trial.Response(r.choice("analysis.response", string(trial.Sap), string(trial.Syrup))),
			Place:     r.text("analysis.place"), Vacuum: r.yes("analysis.vacuum"),
		}
		x.Options.Inference = pool.Inference(r.choice("analysis.inference", "kr", "wald"))
		if y := r.whole("analysis.before", spring); y != nil {
			x.Options.Before = *y
		}
	}
	if r.below("design") != nil {
		x.Question = g.question(r)
	}
	if r.below("season_rules") != nil {
		x.Rules = seasonRules(r)
	}
}

func (g *trialGather) question(r *record) *trial.Question {
	q := &trial.Question{
		Reference: practice.Key(r.text("design.reference")),
		Design:    trial.Kind(r.choice("design.kind", string(trial.Randomised), string(trial.Blocks), string(trial.Pairs), string(trial.Latin))),
		Blind:     r.yes("design.blind"), MoreReference: r.yes("design.more_reference"), PlasticAge: r.whole("design.plastic_age", seasons),
	}
	for _, i := range r.below("design.practices") {
		q.Practices = append(q.Practices, practice.Key(r.text("design.practices."+i)))
	}
	whole := func(key string, b bounds) int {
		if x := r.whole("design."+key, b); x != nil {
			return *x
		}
		return 0
	}
	q.Replicates, q.Taps, q.Seasons = whole("replicates", count), whole("taps", count), whole("seasons", count)
	q.FirstSeason = whole("first_season", spring)
	if c, ok := r.get("design.seed"); ok {
		seed, err := strconv.ParseUint(strings.TrimSpace(c.text), 10, 64)
		if err != nil {
			r.fault("design.seed", note.New("%s is not a seed; allowed: a whole number from 0", quote(c.text)))
		}
		q.Seed = seed
	}
	for _, i := range r.below("design.unit") {
		at := "design.unit." + i + "."
		u := trial.Unit{Name: r.text(at + "name"), Kind: evidence.UnitKind(r.choice(at+"kind", string(evidence.Tree), string(evidence.Chamber), string(evidence.Mainline))),
			Block: r.text(at + "block"), Chamber: r.text(at + "chamber"), Mainline: r.text(at + "mainline"), Species: r.text(at + "species")}
		if x := r.number(at+"diameter_cm", bounds{low: 0, high: 500}); x != nil {
			u.Diameter = *x
		}
		if x := r.whole(at+"taps", bounds{low: 0, high: most}); x != nil {
			u.Taps = *x
		}
		q.Units = append(q.Units, u)
	}
	return q
}

// seasonRules reads rules for a season's class; those not given are the usual ones.
func seasonRules(r *record) *weather.Rules {
	w := weather.Usual()
	day := func(key string, to *weather.MonthDay) {
		if !r.has("season_rules." + key) {
			return
		}
		text := r.text("season_rules." + key)
		t, err := time.Parse("01-02", text)
		if err != nil {
			r.fault("season_rules."+key, note.New("%s is not a day of a year; allowed: month-day, such as 02-15", quote(text)))
			return
		}
		*to = weather.MonthDay{Month: t.Month(), Day: t.Day()}
	}
	day("from", &w.From)
	day("to", &w.To)
	for key, to := range map[string]*unit.Temperature{"freeze_c": &w.Freeze, "thaw_c": &w.Thaw, "warm_c": &w.Warm, "hot_c": &w.Hot, "base_c": &w.Base} {
		if x := r.number("season_rules."+key, bounds{low: -90, high: 57}); x != nil {
			*to = unit.Celsius.Of(*x)
		}
	}
	for key, to := range map[string]*int{"hot_days": &w.HotDays, "last_days": &w.LastDays, "short_up_to": &w.ShortUpTo, "long_from": &w.LongFrom, "max_gap": &w.MaxGap} {
		if x := r.whole("season_rules."+key, bounds{low: 0, high: 366}); x != nil {
			*to = *x
		}
	}
	return &w
}
