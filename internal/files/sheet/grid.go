package sheet

import (
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// Grid is a table as it stands in a file or on a clipboard, before anything in it is judged.
type Grid struct {
	Columns []string
	Rows    [][]string
	Notes   note.List // what became of its shape
	// the decimal mark of what may be read either way, as far as what separates its columns tells; 0: it does not
	Mark rune
	Shape
}

// Shape is a table as it stood, where it was in another shape: what stood above its rows, its header among it, the
// lines of each row, and what stood below them. Of a table that was turned round, or each of whose rows became several,
// all its lines stand above. Of a table whose rows say all it is none.
type Shape struct {
	Above, Below [][]string
	Lines        [][][]string
}

// GridOf takes a table apart: CSV, or an XLSX file by its name. The error is note.Faults, where it cannot be.
func GridOf(file string, data []byte, words gloss.Glossary, set practice.Set) (Grid, error) {
	f := new(faults)
	h, records := table(file, data, known(), evidenceWords(words, set), f)
	if err := f.err(); err != nil || h == nil {
		return Grid{}, err
	}
	return gridOf(h, records), nil
}

func gridOf(h *head, records []*record) Grid {
	g := Grid{Columns: h.said, Notes: h.notes, Shape: Shape{Above: h.above, Below: h.below}}
	if h.sep == ';' {
		g.Mark = ','
	}
	for _, r := range records {
		row := make([]string, len(h.names))
		for i, c := range r.cells {
			row[i] = c.text
		}
		g.Rows = append(g.Rows, row)
		if h.above != nil {
			g.Lines = append(g.Lines, r.stood)
		}
	}
	return g
}

// evidenceWords is what headers and words of an evidence table may stand for, as far as that is settled or can be
// guessed.
func evidenceWords(words gloss.Glossary, set practice.Set) *vocabulary {
	return &vocabulary{known: known(), set: set, columns: func(headers []string) []string {
		m := understand(headers, nil, words, set, 0, true)
		names := make([]string, len(headers))
		for i, t := range m.Targets {
			names[i] = t.Column
		}
		return names
	}}
}

// Columns are the columns of an evidence table, in the order in which docs/data.md lists them.
func Columns() []string { return columnNames() }

// Needed are the columns that every row must fill.
func Needed() []string { return needed() }

// Cells is studies as the cells of an evidence table, written as a file has them, under the columns that they fill.
func Cells(studies []evidence.Study) Grid { return cellsOf(EvidenceTable(studies)) }

// TrialCells is what there is of a trial as the cells of its tables, in gallons and what goes with them or in litres.
// The first is its plan, one row whose columns are the keys of trial.toml; then come the tables of TrialTables.
func TrialCells(t trial.Trial, gallons bool) []Grid {
	var all []Grid
	for _, x := range trialTablesIn(t, gallons) {
		all = append(all, cellsOf(x))
	}
	var plan Grid
	values := make([]string, len(all[0].Rows))
	for i, row := range all[0].Rows {
		plan.Columns = append(plan.Columns, row[0])
		values[i] = row[1]
	}
	plan.Rows = [][]string{values}
	all[0] = plan
	return all
}

func cellsOf(t Table) Grid {
	var g Grid
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
