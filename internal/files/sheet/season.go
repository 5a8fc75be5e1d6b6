package sheet

import (
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// seasonColumns are those of a season table: a row is one unit in one season.
var seasonColumns = []string{"unit", "block", "season", "practice", "taps", "volume_gal", "volume_gal_imp", "volume_l", "at_least", "brix", "drop_age", "vacuum_inhg", "vacuum_kpa"}

// volumeColumns are the ways of writing a unit's volume.
var volumeColumns = []struct {
	name string
	unit unit.VolumeUnit
}{{"volume_gal", unit.USGallon}, {"volume_gal_imp", unit.ImperialGallon}, {"volume_l", unit.Litre}}

// SeasonTable is a trial's seasons as read.
type SeasonTable struct {
	Rows      []trial.UnitSeason
	Practices practice.Set    // those that rows may name
	Unit      unit.VolumeUnit // in which the file wrote its volumes; the first where there are several
	Notes     []note.Note     // warnings
}

// unitVolume is what a unit can give in a season, in any unit: a mainline of thousands of taps.
var unitVolume = bounds{Low: 0, High: 1e9, Open: true}

// Season reads a season table (.csv, .tsv, .txt). The error is note.Faults with everything that is wrong.
func Season(path string) (SeasonTable, error) {
	f := disk.load(path)
	if f.toml != nil {
		f.faults.add(note.New("this is a TOML file; allowed: a season table in CSV").At(note.Where{File: path}))
	}
	if f.faults.count() > 0 {
		return SeasonTable{}, f.faults.err()
	}
	return SeasonOf(path, f.data, practice.Shipped())
}

// SeasonOf reads a season table from the bytes of a CSV file.
func SeasonOf(file string, data []byte, practices practice.Set) (SeasonTable, error) {
	f := new(faults)
	t := readSeason(file, data, practices, f)
	if err := f.err(); err != nil {
		return SeasonTable{}, err
	}
	return t, nil
}

func readSeason(file string, data []byte, practices practice.Set, f *faults) SeasonTable {
	known := map[string]bool{}
	for _, c := range seasonColumns {
		known[c] = true
	}
	h, records := table(file, data, known, nil, f)
	if h == nil {
		return SeasonTable{Practices: practices}
	}
	t := seasonRows(h, records, practices, f)
	if slices.IndexFunc(t.Rows, func(u trial.UnitSeason) bool { return u.Practice != t.Rows[0].Practice }) < 0 && f.count() == 0 {
		f.add(note.New("all rows have one practice, %s; allowed: two or more, to compare", string(t.Rows[0].Practice)).At(note.Where{File: file}))
	}
	return t
}

// seasonRows takes the rows of a season table.
func seasonRows(h *head, records []*record, practices practice.Set, f *faults) (t SeasonTable) {
	t.Practices = practices
	known := map[string]bool{"trial": true}
	for _, c := range seasonColumns {
		known[c] = true
	}
	file := h.file
	has := func(name string) bool { _, ok := h.index[name]; return ok }
	head := note.Where{File: file, Row: h.row}
	for _, name := range []string{"unit", "season", "practice", "taps"} {
		if !has(name) {
			n := note.New("the column %s is missing; needed: unit, season, practice, taps and a volume", name)
			if near := note.Near(name, h.names); near != "" && !known[near] {
				n = note.New("the column %s is missing; is it the one called %s? Needed: unit, season, practice, taps and a volume", name, quote(near))
			}
			f.missing(n.At(head))
		}
	}
	for _, v := range volumeColumns {
		if t.Unit == "" && has(v.name) {
			t.Unit = v.unit
		}
	}
	if t.Unit == "" {
		f.missing(note.New("no column holds a volume; allowed: volume_gal (US gallons), volume_gal_imp, volume_l").At(head))
	}
	if f.count() > 0 {
		return t
	}
	if len(records) == 0 {
		f.missing(note.New("there is a header and no row below it; allowed: one row a unit and season").At(note.Where{File: file}))
		return t
	}
	var odd []string
	for _, name := range h.names {
		if name != "" && !known[name] {
			odd = append(odd, quote(name))
		}
	}
	if len(odd) > 0 {
		t.Notes = append(t.Notes, note.New("columns that are not known are not used: %s", strings.Join(odd, ", ")).At(head))
	}
	if !has("block") {
		t.Notes = append(t.Notes, note.New("no column holds blocks: the units are taken as one block").At(head))
	}
	keys := make([]string, len(practices))
	for i, k := range practices.Keys() {
		keys[i] = string(k)
	}
	first := map[string]note.Where{}
	for _, r := range records {
		u := trial.UnitSeason{Unit: r.text("unit"), Block: r.text("block"), Where: note.Where{File: r.file, Row: r.row}}
		r.need("unit")
		if r.need("season") {
			if s := r.whole("season", spring); s != nil {
				u.Season = *s
			}
		}
		if r.need("practice") {
			u.Practice = practice.Key(r.choice("practice", keys...))
		}
		if r.need("taps") {
			if x := r.number("taps", count); x != nil {
				u.Taps = *x
			}
		}
		given := 0
		for _, v := range volumeColumns {
			if !r.has(v.name) {
				continue
			}
			if given++; given == 2 {
				r.fault(v.name, note.New("the volume stands twice, in two units; allowed: one"))
			}
			if x := r.number(v.name, unitVolume); x != nil {
				u.Volume = v.unit.Of(*x)
			}
		}
		if given == 0 {
			f.missing(note.New("nothing is given for the volume, which is needed; leave out the row of a unit that was not measured").At(r.where("unit")))
		}
		u.AtLeast = r.yes("at_least")
		u.Brix = r.number("brix", bounds{Low: 0, High: 20, Open: true})
		u.DropAge = r.whole("drop_age", seasons)
		if x := r.number("vacuum_inhg", inHg); x != nil {
			u.Vacuum = new(unit.InchOfMercury.Of(*x))
		}
		if x := r.number("vacuum_kpa", kPa); x != nil {
			if u.Vacuum != nil {
				r.fault("vacuum_kpa", note.New("the vacuum stands twice, in two units; allowed: one"))
			}
			u.Vacuum = new(unit.Pressure(*x))
		}
		key := strings.Join([]string{r.text("season"), u.Block, u.Unit}, "\x00")
		if before, twice := first[key]; twice {
			r.fault("unit", note.New("the unit %s stands twice in this season, here and in row %d; allowed: one row a unit and season", quote(u.Unit), before.Row))
		} else {
			first[key] = u.Where
		}
		t.Rows = append(t.Rows, u)
	}
	return t
}

// Practices is what is known where no file defines more.
func Practices() practice.Set { return practice.Shipped() }
