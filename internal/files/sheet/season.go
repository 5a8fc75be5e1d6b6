package sheet

import (
	"path/filepath"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// SeasonTable is a trial's seasons as read.
type SeasonTable struct {
	Rows      []trial.UnitSeason
	Practices practice.Set    // those that rows may name
	Unit      unit.VolumeUnit // in which the file wrote its volumes; the first where there are several
	Notes     note.List       // warnings
}

// MaybeSeason is false of a file that holds something else of a trial: its layout, readings.
func MaybeSeason(path string) bool {
	f := new(faults)
	data := disk.read(path, maxCSV, f)
	if data == nil || strings.EqualFold(filepath.Ext(path), ".toml") {
		return data == nil
	}
	h, _ := trialRows(path, data, nil, practice.Shipped(), f)
	return h == nil || roleOf(h) == sumsRole || roleOf(h) == ""
}

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
	h, records := table(file, data, namesOf(trial.Sums.Columns), nil, f)
	if h == nil {
		return SeasonTable{Practices: practices}
	}
	t := seasonRows(h, records, practices, f)
	if slices.IndexFunc(t.Rows, func(u trial.UnitSeason) bool { return u.Practice != t.Rows[0].Practice }) < 0 &&
		f.count() == 0 {
		f.add(note.New("all rows have one practice, %s; allowed: two or more, to compare",
			string(t.Rows[0].Practice)).At(note.Where{File: file}))
	}
	return t
}

// seasonRows takes the rows of a season table.
func seasonRows(h *head, records []*record, practices practice.Set, f *faults) (t SeasonTable) {
	t.Practices = practices
	if held, told := h.holds(); f.instead(held, told, seasonsHeld, h.where()) {
		return t
	}
	known := namesOf(trial.Sums.Columns)
	has := func(name string) bool { _, ok := h.index[name]; return ok }
	for _, c := range trial.Sums.Columns {
		if c.Needed && !has(c.Name) {
			n := note.New("the column %s is missing; needed: unit, season, practice, taps and a volume", c.Name)
			if near := note.Near(c.Name, h.names); near != "" && !known[near] {
				n = note.New("the column %s is missing; is it the one called %s? Needed: unit, season, practice, "+
					"taps and a volume", c.Name, quote(near))
			}
			f.missing(n.At(h.where()))
		}
	}
	for _, u := range []unit.VolumeUnit{unit.USGallon, unit.ImperialGallon, unit.Litre} {
		if t.Unit == "" && has("volume_"+string(u)) {
			t.Unit = u
		}
	}
	if t.Unit == "" {
		f.missing(note.New("no column holds a volume; allowed: volume_gal (US gallons), volume_gal_imp, volume_l").
			At(h.where()))
	}
	if f.count() > 0 {
		return t
	}
	if len(records) == 0 {
		f.missing(note.New("there is a header and no row below it; allowed: one row a unit and season").
			At(note.Where{File: h.file}))
		return t
	}
	var odd []string
	for _, name := range h.names {
		if name != "" && !known[name] && name != "trial" {
			odd = append(odd, quote(name))
		}
	}
	if len(odd) > 0 {
		t.Notes = append(t.Notes, note.New("columns that are not known are not used: %s", strings.Join(odd,
			", ")).At(h.where()))
	}
	if !has("block") {
		t.Notes = append(t.Notes, note.New("no column holds blocks: the units are taken as one block").At(h.where()))
	}
	volumes := column.Ways(trial.Sums.Columns, "volume_l")
	first := map[trial.UnitSeason]int{}
	for _, r := range records {
		u, _ := take(r, trial.Sums.Columns, practices)
		u.Where = r.place()
		if !slices.ContainsFunc(volumes, r.has) {
			f.missing(note.New("nothing is given for the volume, which is needed; leave out the row of a unit that " +
				"was not measured").At(r.where("unit")))
		}
		key := trial.UnitSeason{Season: u.Season, Block: u.Block, Unit: u.Unit}
		if before, twice := first[key]; twice {
			r.fault("unit",
				note.New("the unit %s stands twice in this season, here and in row %d; allowed: one row a unit and "+
					"season", quote(u.Unit), before))
		} else {
			first[key] = r.row
		}
		t.Rows = append(t.Rows, u)
	}
	return t
}

// Practices is what is known where no file defines more.
func Practices() practice.Set { return practice.Shipped() }
