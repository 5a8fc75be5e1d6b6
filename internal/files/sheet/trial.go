package sheet

import (
	"bufio"
	"bytes"
	"cmp"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
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

// columnsOf are the columns that a table of a trial may have. "trial" may stand in all, in the package of a workbook.
func columnsOf(role string) []column.Column[any] {
	switch role {
	case longRole:
		return column.Bare(trial.Readings.Columns)
	case wideRole:
		return unsaid("unit", "read", "code", "block", "taps", "practice")
	case eventsRole:
		return column.Bare(trial.Events.Columns)
	case calibrationRole:
		return column.Bare(trial.Dumps.Columns)
	case tanksRole:
		return column.Bare(trial.Tanks.Columns)
	case countsRole:
		return column.Bare(trial.Counts.Columns)
	case daysRole:
		return column.Bare(trial.Days.Columns)
	case stationRole:
		return unsaid("station", "date", "tmin", "tmax", "tmin_attributes", "tmax_attributes")
	case elementsRole:
		return unsaid("id", "date", "element", "value", "data_value", "mflag", "qflag", "sflag", "obstime", "m_flag",
			"q_flag", "s_flag", "obs_time")
	case layoutRole:
		return column.Bare(trial.Layouts.Columns)
	case sumsRole:
		return column.Bare(trial.Sums.Columns)
	case decisionsRole:
		return column.Bare(trial.Decisions.Columns)
	case planRole:
		return unsaid("key", "value")
	}
	return nil
}

// unsaid are columns that nothing is said of.
func unsaid(names ...string) []column.Column[any] {
	list := make([]column.Column[any], len(names))
	for i, n := range names {
		list[i].Name = n
	}
	return list
}

// trialKnown is every column of every table of a trial.
func trialKnown() map[string]bool {
	all := map[string]bool{"trial": true}
	for _, role := range []string{longRole, wideRole, eventsRole, calibrationRole, tanksRole, countsRole, daysRole,
		stationRole, elementsRole,
		layoutRole, sumsRole, decisionsRole, planRole} {
		for _, c := range columnsOf(role) {
			all[c.Name] = true
		}
	}
	return all
}

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
	if has("study") {
		return ""
	}
	volume := slices.ContainsFunc(h.names, func(n string) bool { return strings.HasPrefix(n, "volume") })
	depth := has(column.Ways(trial.Tanks.Columns, "depth_m")...)
	switch {
	case has("key") && has("value"):
		return planRole
	case has("finding"):
		return decisionsRole
	case has("kind") && has("from"):
		return eventsRole
	case has("flow") || has(column.Ways(trial.Dumps.Columns, "dump_l")...):
		return calibrationRole
	case has("unit") && has("practice") && volume:
		return sumsRole
	case has("element") && has("date"):
		return elementsRole
	case has("station") && has("date"):
		return stationRole
	case has("tmin", "tmax") || has(column.Ways(trial.Days.Columns, "tmin_c")...) || has(column.Ways(trial.Days.Columns,
		"tmax_c")...):
		return daysRole
	case depth && volume && !has("date"):
		return tanksRole
	case has("unit", "code") && has("date") && has("taps") && !volume && !depth && !has("counter"):
		return countsRole
	case has("unit", "code") && has("date"):
		return longRole
	case has("unit", "code") && slices.ContainsFunc(h.names, func(n string) bool {
		_,
			ok := column.ParseMoment(n)
		return ok
	}):
		return wideRole
	case has("unit", "code") && has("read"):
		return wideRole // of a sheet that no date has been written over yet
	case has("unit") && has("practice"):
		return layoutRole
	}
	return ""
}

// trialGather puts a trial together from files.
type trialGather struct {
	t       trial.Trial
	set     practice.Set
	words   gloss.Index
	faults  *faults
	notes   note.List
	codes   map[string]string // of a blind layout: the unit of each code
	units   map[int]map[string]string
	logs    map[int][]*trial.Log // of the table being read, by season
	log     map[unitSeason]*trial.Log
	whole   bool                            // its logs gather nothing before the end
	at      note.Where                      // of that table
	columns []column.Column[*trial.Reading] // that it has
	amounts []string
	tanks   map[unitSeason]int
	unknown map[string]bool // said already
}

type unitSeason struct {
	season int
	unit   string
}

func newTrialGather(base trial.Trial, set practice.Set, words gloss.Glossary) *trialGather {
	records := make([]trial.Record, len(base.Records))
	for i, r := range base.Records {
		records[i] = trial.Record{Season: r.Season, Plots: slices.Clone(r.Plots)}
	}
	base.Records, base.Sums, base.Days, base.Decisions = records, nil, nil, nil
	return &trialGather{t: base, set: set, words: words.Index(), tanks: map[unitSeason]int{},
		unknown: map[string]bool{}}
}

// trialTable is a table of a trial that was taken from a file.
type trialTable struct {
	role    string
	head    *head
	records []*record
	stream  func() (io.ReadCloser, error) // opens a file of more rows than are held
	toml    *record
	open    func() Spoken // what is to be settled of it
	faults  *faults
}

// Trial reads what files say of a trial: its trial.toml, its layout, readings, events, calibrations, tanks, counts,
// season tables and temperatures, each told by its columns (docs/data.md). base is the trial as far as it is known:
// what it was laid out as stands, unless a file lays it out anew; what was read of it before is not in what is
// returned. What words settle of headers and words of others goes first (Words). The error is
// note.Faults with everything that is wrong in all files.
func Trial(base trial.Trial, set practice.Set, words gloss.Glossary,
	paths ...string) (trial.Trial, note.List, error) {
	return gatherTrial(base, set, words, func(g *trialGather, found func() *faults) (tables []trialTable) {
		for _, path := range paths {
			tables = append(tables, g.load(path, found())...)
		}
		return tables
	})
}

// TrialOf is Trial of the bytes of one file.
func TrialOf(base trial.Trial, set practice.Set, words gloss.Glossary, file string,
	data []byte) (trial.Trial, note.List, error) {
	return gatherTrial(base, set, words, func(g *trialGather, found func() *faults) []trialTable {
		return g.tables(file, data,
			found())
	})
}

// gatherTrial puts a trial together from tables, each with its own faults.
func gatherTrial(base trial.Trial, set practice.Set, words gloss.Glossary,
	load func(g *trialGather, found func() *faults) []trialTable) (trial.Trial, note.List, error) {
	g := newTrialGather(base, set, words)
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
		if t.faults.count() > 0 && slices.Contains(ofOthers, t.role) {
			g.ask(t)
		}
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
		if held, told := r.holds(); f.instead(held, told, trialHeld, r.where("")) {
			return nil
		}
		trialKeys().check(r)
		return []trialTable{{role: planRole, toml: r, faults: f}}
	case !isBook && ext != ".csv" && ext != ".tsv" && ext != ".txt":
		f.add(note.New("files that end in %s are not read here; allowed: .csv, .tsv, .txt, .xlsx, .toml",
			quote(cmp.Or(ext, filepath.Base(path)))).At(note.Where{File: path}))
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
			case len(t.records) > 0 && t.open().Has >= 2:
				g.untold(t)
				list = append(list, t)
			case len(t.records) > 0:
				g.notes = append(g.notes,
					note.New("this sheet holds nothing of a trial that is read, and is left out").At(t.head.where()))
			}
		}
		if len(list) == 0 {
			f.add(note.New("no sheet of this file holds anything of a trial; allowed: %s",
				trialTables).At(note.Where{File: path}))
		}
		return list
	}
	if !isBook && len(data) > manyBytes {
		if t, ok := g.many(path, func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil },
			f); ok {
			return []trialTable{t}
		}
	}
	t := g.table(path, data)
	switch {
	case t.head == nil:
	case t.role == "":
		if held, told := t.head.holds(); t.faults.instead(held, told, trialHeld, t.head.where()) {
			break
		}
		g.untold(t)
	case len(t.records) == 0:
		t.faults.missing(note.New("there is a header and no row below it; allowed: one row or more").At(t.head.where()))
	}
	return []trialTable{t}
}

// untold says that a table is none that is known, and what would tell.
func (g *trialGather) untold(t trialTable) {
	t.faults.add(note.New("what this table holds cannot be told from its columns (%s); allowed: %s",
		strings.Join(t.head.said[:min(len(t.head.said), 12)], ", "), trialTables).At(t.head.where()))
	g.ask(t)
}

// ask says what headers and words of a table may be settled to mean.
func (g *trialGather) ask(t trialTable) {
	if t.open == nil {
		return
	}
	asked := slices.DeleteFunc(t.open().Asked, func(a Asked) bool { // a word mistyped, of which its fault says so
		return a.Of != gloss.Columns && note.Near(a.Said, []string{a.Means}) != ""
	})
	if n, ok := (Meant{Asked: asked}).mappable(); ok {
		t.faults.hints = append(t.faults.hints, n.At(t.head.where()))
	}
}

// trialTables are the tables of a trial in words.
const trialTables = "readings, events, calibrations, tanks, counts, a layout, a season table, temperatures " +
	"(docs/data.md)"

// table takes a table, and tells its role.
func (g *trialGather) table(file string, data []byte) trialTable {
	t := trialTable{faults: new(faults)}
	t.head, t.records = trialRows(file, data, g.words, g.set, t.faults)
	if t.head != nil {
		var said note.List
		t.open, said = inOurWords(t.head, t.records, g.words, g.set)
		g.notes = slices.Concat(g.notes, t.head.notes, said)
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
	look.read(skipMark(file), trialKnown())
	return trialTable{role: longRole, head: look.head, stream: open, faults: f}, look.head != nil &&
		roleOf(look.head) == longRole
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
func trialRows(file string, data []byte, words gloss.Index, set practice.Set, f *faults) (*head, []*record) {
	if first, _, _ := bytes.Cut(data, []byte("\n")); elementRow.Match(first) {
		h, records := table(file, append([]byte("id,date,element,value,mflag,qflag,sflag,obstime\n"), data...),
			trialKnown(), nil, f)
		for _, r := range records {
			r.row--
			for i := range r.cells {
				r.cells[i].row--
			}
		}
		return h, records
	}
	return table(file, data, trialKnown(), trialWords(words, set), f)
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

// odd names columns that are not known.
func (g *trialGather) odd(t trialTable) {
	if t.role == stationRole || t.role == elementsRole || t.role == sumsRole || t.role == planRole {
		return // those of others; or they say so themselves
	}
	columns := columnsOf(t.role)
	known := column.Names(columns)
	var odd []string
	for _, name := range t.head.names {
		if _, isDate := column.ParseMoment(name); name != "" && name != "trial" && !slices.Contains(known, name) &&
			!(isDate && t.role == wideRole) {
			odd = append(odd, quote(name))
		}
	}
	for i, name := range t.head.names {
		if ways := unitless(name, columns); ways != "" && t.role != wideRole {
			g.faults.add(note.New("the unit of the column %s is not said; allowed: %s", t.head.said[i],
				ways).At(t.head.where()))
			return
		}
	}
	if len(odd) > 0 {
		g.notes = append(g.notes, note.New("columns that are not known are not used: %s", strings.Join(odd,
			", ")).At(t.head.where()))
	}
}

// unitless are the columns that a header may stand for that says how much of what, and not in which unit; "" where it
// is none of these.
func unitless(name string, columns []column.Column[any]) string {
	var ways []string
	for _, c := range columns {
		root, _, _ := strings.Cut(c.Name, "_")
		if c.Name == name {
			return ""
		}
		if OwnUnit(c).Key != "" && (root == name || slices.Contains(c.Headers, gloss.Plain(name))) {
			ways = append(ways, c.Name)
		}
	}
	return strings.Join(ways, ", ")
}

// known is what units there are, once the plan has been read.
func (g *trialGather) known() {
	g.units, g.codes = map[int]map[string]string{}, map[string]string{}
	for _, r := range g.t.Records {
		of := map[string]string{}
		for _, p := range r.Plots {
			of[p.Unit] = p.Unit
			if p.Code != "" {
				g.codes[p.Code] = p.Unit
			}
		}
		g.units[r.Season] = of
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
		near = note.Near(name, units)
	}
	if near != "" {
		r.fault(key, note.New("the unit %s is none of the trial's units; did you mean %s?", quote(name), near))
	} else {
		r.fault(key, note.New("the unit %s is none of the trial's units; allowed: %s", quote(name),
			strings.Join(units[:min(len(units), 30)], ", ")))
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
