package sheet

import (
	"cmp"
	"slices"
	"strings"

	"spile/internal/trade/column"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// dates is how many columns for days a field sheet has.
const dates = 12

// FieldTables are the tables of a season's field sheets, a sheet a block, in the forms that Trial reads back once they
// are filled in: readings with the days to be written over their columns, the tap holes, events and measured dumps.
// Codes stand for practices where code is not nil.
func FieldTables(t trial.Trial, season int, code func(unit string) string, volume unit.VolumeUnit) []Table {
	r, _ := t.Record(season)
	read, header := "volume_"+string(volume), "practice"
	if len(r.Calibrations) > 0 {
		read = "counter"
	}
	if code != nil {
		header = "code"
	}
	of := map[string]trial.Unit{}
	if t.Question != nil {
		for _, u := range t.Question.Units {
			of[u.Name] = u
		}
	}
	lead := []Column{{Name: "unit"}, {Name: header}, {Name: "block"}}
	holes := Table{Name: "tap holes", Columns: append(slices.Clone(lead), asked(trial.Counts.Columns, volume)[1:]...)}
	var tables []Table
	for _, p := range r.Plots {
		named := []any{p.Unit, string(p.Practice), p.Block}
		if code != nil {
			named[1] = code(p.Unit)
		}
		name := sheetName("block " + p.Block)
		if p.Block == "" {
			name = "readings"
		}
		if n := len(tables); n == 0 || tables[n-1].Name != name {
			tables = append(tables, Table{Name: name, Columns: append(slices.Clone(lead), Column{Name: "taps"},
				Column{Name: "read"})})
			tables[n].Columns = append(tables[n].Columns, make([]Column, dates)...)
		}
		x := &tables[len(tables)-1]
		x.Rows = append(x.Rows, slices.Concat(named, []any{p.Taps, read}, make([]any, dates)))
		known := map[string]any{"species": some(of[p.Unit].Species)}
		if d := of[p.Unit].Diameter; d > 0 {
			known["diameter_cm"] = d
		}
		for _, c := range holes.Columns[len(lead):] {
			named = append(named, known[c.Name])
		}
		holes.Rows = append(holes.Rows, named)
	}
	return append(tables, holes, Table{Name: "events", Columns: asked(trial.Events.Columns, volume)},
		Table{Name: "dumps", Columns: asked(trial.Dumps.Columns, volume)})
}

// asked are the columns of a table that a person fills in, one for each value: of volumes that in the unit of the
// place.
func asked[T any](columns []column.Column[*T], volume unit.VolumeUnit) (list []Column) {
	for _, c := range columns {
		in := strings.HasSuffix(c.Name, "_"+string(volume)) || len(column.Ways(columns, cmp.Or(c.Instead, c.Name))) == 1
		if c.Set != nil && (in || c.Kind == column.Text && c.Instead == "") {
			list = append(list, Column{Name: c.Name})
		}
	}
	return list
}

// sheetName is a text as the name of a sheet: none of the characters that spreadsheets do not take, and not too long.
func sheetName(s string) string {
	s = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]'`, r) {
			return '-'
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 31 {
		s = string(r[:31])
	}
	return s
}
