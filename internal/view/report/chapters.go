package report

import (
	"slices"
	"strings"

	"spile/internal/view/figure"
	"spile/internal/view/show"
)

// chapter is a section of the report before it is HTML or PDF.
type chapter struct {
	id, name string
	hush     bool // its one table says its name
	apart    bool // it begins a page
	text     []string
	spreads  []show.Spread
}

// chapters are the sections of the report of an answer after the recommendation and the figure of what each practice
// nets, in their order: the same in every form of it. One that the answer has nothing for is left out.
func chapters(w *show.View) []chapter {
	v := w.V
	list := []chapter{
		{id: "gains", name: v.Text("Gains")},
		{id: "trust", name: v.Text("Can this pool be trusted?"), text: w.Standing()},
		{id: "rotation", name: v.Text("Rotation")},
		{id: "profit", name: v.Text("Profit")},
		{id: "sure", name: v.Text("How sure"), text: w.Certainty()},
		{id: "next-trial", name: v.Text("Next trial"), text: w.NextTrial()},
		{id: "caveats", name: v.Text("Caveats")},
		{id: "evidence", name: v.Text("Evidence")},
		{id: "changes", name: v.Text("What came since"), text: w.Moved()},
		{id: "cautions", name: v.Text("Cautions"), hush: true},
		{id: "assumptions", name: v.Text("Assumptions")},
		{id: "methods", name: v.Text("For a paper: methods, captions, files"), text: []string{w.Methods()},
			apart: true},
	}
	for i, c := range list {
		list[i].spreads = w.Spreads(show.Report, c.id)
	}
	last := &list[len(list)-1]
	last.spreads = append(last.spreads, show.Spread{Tables: captions(w, list)})
	return slices.DeleteFunc(list, func(c chapter) bool { return len(c.spreads) == 0 && c.id != "methods" })
}

// captions are tables of all figures and tables of the report, with what stands under them in a paper, and their files:
// the words under a figure are many, two tables stand in a row.
func captions(w *show.View, list []chapter) []show.Table {
	v := w.V
	file, caption := show.Column{ID: "file", Name: v.Text("file")}, show.Column{ID: "caption", Name: v.Text("caption")}
	figures := show.Table{ID: "captions", Title: v.Text("Captions of figures and tables, and their files"),
		Lead: v.Text("A figure is a file by spile figure, and beside it in the workbench; a table is CSV and XLSX " +
			"beside it there."),
		Columns: []show.Column{file, caption}}
	tables := show.Table{ID: "captions-tables", Title: v.Text("Tables, and their files"),
		Columns: []show.Column{file, caption, file, caption}}
	shown := w.Spreads(show.Report, "answer")
	for _, c := range list {
		shown = append(shown, c.spreads...)
	}
	seen := map[string]bool{}
	for _, s := range shown {
		for _, f := range s.Figures {
			name := f.Name
			if i := strings.LastIndexByte(name, '-'); i > 0 && len(s.Figures) > 1 { // a part
				name = name[:i]
			}
			if !seen[name] {
				seen[name] = true
				figures.Rows = append(figures.Rows, show.Row{ID: name,
					Cells: []show.Cell{{Text: name + ".svg"}, {Text: f.Draw(figure.Page).Alt()}}})
			}
		}
	}
	var cells []show.Cell
	for _, s := range shown {
		for _, x := range s.Tables {
			cells = append(cells, show.Cell{Text: show.FileName(x.ID) + ".csv"}, show.Cell{Text: x.Title + "."})
		}
	}
	for row := range slices.Chunk(cells, 4) {
		row = append(row, make([]show.Cell, 4-len(row))...)
		tables.Rows = append(tables.Rows, show.Row{ID: row[0].Text, Cells: row})
	}
	return []show.Table{figures, tables}
}
