package sheet

import (
	"strings"

	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// dates is how many columns for days a field sheet has.
const dates = 12

// FieldTables are the tables of a season's field sheets, a sheet a block, in the forms that Trial reads back once they are
// filled in: readings with the days to be written over their columns, the tap holes, events and measured dumps. Codes stand
// for practices where code is not nil.
func FieldTables(t trial.Trial, season int, code func(unit string) string, volume unit.VolumeUnit) []Table {
	r, _ := t.Record(season)
	read := "volume_" + string(volume)
	dump := "dump_" + string(volume)
	if len(r.Calibrations) > 0 {
		read = "counter"
	}
	who := func(p trial.Plot) (header, text string) {
		if code != nil {
			return "code", code(p.Unit)
		}
		return "practice", string(p.Practice)
	}
	column := func(names ...string) []Column {
		var list []Column
		for _, n := range names {
			list = append(list, Column{Name: n})
		}
		return list
	}
	var tables []Table
	holes := Table{Name: "tap holes"}
	of := map[string]trial.Unit{}
	if t.Question != nil {
		for _, u := range t.Question.Units {
			of[u.Name] = u
		}
	}
	for _, p := range r.Plots {
		header, text := who(p)
		name := sheetName("block " + p.Block)
		if p.Block == "" {
			name = "readings"
		}
		if n := len(tables); n == 0 || tables[n-1].Name != name {
			x := Table{Name: name, Columns: column("unit", header, "block", "taps", "read")}
			for range dates {
				x.Columns = append(x.Columns, Column{})
			}
			tables = append(tables, x)
		}
		x := &tables[len(tables)-1]
		x.Rows = append(x.Rows, append([]any{p.Unit, text, p.Block, p.Taps, read}, make([]any, dates)...))
		if holes.Columns == nil {
			holes.Columns = column("unit", header, "block", "species", "diameter_cm", "date", "crew", "bit", "hole_depth", "shavings", "taps", "again")
		}
		row := []any{p.Unit, text, p.Block, of[p.Unit].Species, nil, nil, nil, nil, nil, nil, nil, nil}
		if d := of[p.Unit].Diameter; d > 0 {
			row[4] = d
		}
		holes.Rows = append(holes.Rows, row)
	}
	return append(tables, holes,
		Table{Name: "events", Columns: column("kind", "from", "to", "units", "note")},
		Table{Name: "dumps", Columns: column("unit", "date", "flow", dump)})
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
