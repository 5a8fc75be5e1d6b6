package sheet

import "spile/internal/trade/evidence"

// Grid is a table as it stands in a file or on a clipboard, before anything in it is judged.
type Grid struct {
	Columns []string // small letters
	Rows    [][]string
	Comma   bool // a decimal comma may stand in its numbers
}

// GridOf takes a table apart: CSV, or an XLSX file by its name. The error is note.Faults, where it cannot be.
func GridOf(file string, data []byte) (Grid, error) {
	f := new(faults)
	h, records := table(file, data, known(), nil, f)
	if err := f.err(); err != nil || h == nil {
		return Grid{}, err
	}
	g := Grid{Columns: h.names, Comma: true}
	for _, r := range records {
		g.Comma = g.Comma && r.comma
		row := make([]string, len(h.names))
		for i, c := range r.cells {
			row[i] = c.text
		}
		g.Rows = append(g.Rows, row)
	}
	return g, nil
}

// Columns are the columns of an evidence table, in the order in which docs/data.md lists them.
func Columns() []string { return columnNames() }

// Needed are the columns that every row must fill.
func Needed() []string { return needed() }

// Cells is studies as the cells of an evidence table, written as a file has them, under the columns that they fill.
func Cells(studies []evidence.Study) Grid {
	t := EvidenceTable(studies)
	g := Grid{Comma: true}
	for _, c := range t.Columns {
		g.Columns = append(g.Columns, c.Name)
	}
	for _, r := range t.Rows {
		row := make([]string, len(r))
		for i, v := range r {
			row[i] = written(v)
		}
		g.Rows = append(g.Rows, row)
	}
	return g
}
