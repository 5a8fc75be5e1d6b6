package sheet

import (
	"slices"

	"spile/internal/note"
	"spile/internal/trade/trial"
)

// Units reads a list of units (.csv, .tsv, .txt) that a trial may use; only unit is needed. The error is note.Faults.
func Units(path string) ([]trial.Unit, note.List, error) {
	f := disk.load(path)
	if f.toml != nil {
		f.faults.add(note.New("this is a TOML file; allowed: a list of units in CSV").At(note.Where{File: path}))
	}
	if f.faults.count() > 0 {
		return nil, nil, f.faults.err()
	}
	return UnitsOf(path, f.data)
}

// UnitsOf reads a list of units from the bytes of a CSV file.
func UnitsOf(file string, data []byte) ([]trial.Unit, note.List, error) {
	f := new(faults)
	known := namesOf(trial.Units.Columns)
	h, records := table(file, data, known, nil, f)
	if h == nil {
		return nil, nil, f.err()
	}
	if _, ok := h.index["unit"]; !ok {
		f.missing(note.New("the column %s is missing; needed: unit", "unit").At(note.Where{File: file, Row: h.row}))
		return nil, nil, f.err()
	}
	if len(records) == 0 {
		f.missing(note.New("there is a header and no row below it; allowed: one row a unit").At(note.Where{File: file}))
		return nil, nil, f.err()
	}
	var notes note.List
	for _, name := range h.names {
		if name != "" && !known[name] {
			notes = append(notes, note.New("the column %s is not known and not used",
				quote(name)).At(note.Where{File: file, Row: h.row}))
		}
	}
	var units []trial.Unit
	for _, r := range records {
		u, _ := take(r, trial.Units.Columns, nil)
		if slices.ContainsFunc(units, func(o trial.Unit) bool { return o.Name == u.Name && u.Name != "" }) {
			r.fault("unit", note.New("the unit %s stands twice; allowed: one row a unit", quote(u.Name)))
		}
		units = append(units, u)
	}
	if err := f.err(); err != nil {
		return nil, notes, err
	}
	return units, notes, nil
}
