package sheet

import (
	"cmp"
	"slices"
	"strings"
	"sync"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/gloss"
	"spile/internal/trade/past"
	"spile/internal/trade/practice"
)

// pastNames are the columns of a table of past seasons by every plain header that stands for one, in either language.
var pastNames = sync.OnceValue(func() map[string]string {
	names := map[string]string{}
	for _, c := range past.Columns {
		for _, h := range append(c.Headers, c.Name) {
			names[gloss.Plain(h)] = c.Name
		}
	}
	return names
})

// pastColumns are the columns that headers stand for; "" none.
func pastColumns(headers []string) []string {
	names := make([]string, len(headers))
	for i, h := range headers {
		names[i] = pastNames()[gloss.Plain(h)]
	}
	return names
}

// pastHeaders are the names of those columns; a header that stands for none is as it was.
func pastHeaders(headers []string) []string {
	names := pastColumns(headers)
	for i, h := range headers {
		names[i] = cmp.Or(names[i], h)
	}
	return names
}

// pastWords are those columns and headers.
var pastWords = &vocabulary{known: namesOf(past.Columns), columns: pastColumns}

// isPast is true of a table of past seasons by its header: seasons with what they gave or brought, no more than one
// column besides, and no study, practice, unit or section.
func isPast(path string, data []byte) bool {
	if len(data) == 0 {
		return false
	}
	if _, _, ok := spreadsheetName(path); !ok { // the header and a row do
		data = data[:min(len(data), longestHeader)]
		if i := strings.LastIndexByte(string(data), '\n'); i > 0 {
			data = data[:i+1]
		}
	}
	h, _ := table(path, data, pastWords.known, pastWords, new(faults))
	if h == nil {
		return false
	}
	others, told, season := 0, false, false
	for _, name := range pastHeaders(h.names) {
		c, ok := column.Find(past.Columns, name)
		switch {
		case name == "":
		case !ok:
			others++
		case name == "season":
			season = true
		default:
			told = told || c.Kind == column.Number
		}
	}
	if !season || !told || others > 1 {
		return false
	}
	theirs := evidenceWords(nil, practice.Shipped()).columns(h.names)
	return !slices.ContainsFunc(theirs, func(name string) bool {
		return name == "study" || name == "practice" || name == "site"
	}) && !slices.ContainsFunc(h.names, func(name string) bool { return name == "unit" || name == "section" })
}

// PastOf reads past seasons from the bytes of a table (CSV or XLSX); is is false of a table of something else. The
// error is note.Faults with everything that is wrong.
func PastOf(file string, data []byte) (seasons []past.Season, err error, is bool) {
	if !isPast(file, data) {
		return nil, nil, false
	}
	f := new(faults)
	seasons, _, _ = readPast(file, data, f)
	return seasons, f.err(), true
}

// readPast reads a table of past seasons.
func readPast(path string, data []byte, f *faults) ([]past.Season, note.List, []*record) {
	h, records := table(path, data, pastWords.known, pastWords, f)
	if h == nil {
		return nil, nil, nil
	}
	meant := newHead(pastHeaders(h.names))
	meant.file, meant.sheet, meant.row = h.file, h.sheet, h.row
	var notes note.List
	for i, name := range meant.names {
		if name != "" && !pastWords.known[name] {
			notes = append(notes, note.New("the column %s is not known and not used", quote(h.names[i])).At(h.where()))
		}
	}
	if _, ok := meant.index["season"]; !ok {
		f.missing(note.New("the column %s is missing; needed: season, and a yield, a sugar or a price", "season").
			At(h.where()))
		return nil, notes, nil
	}
	var rows []past.Row
	for _, r := range records {
		r.head = meant
		row, ok := take(r, past.Columns, nil)
		if row.Where = r.place(); ok {
			rows = append(rows, row)
		}
	}
	seasons, wrong := past.Of(rows)
	for _, n := range wrong {
		f.add(n)
	}
	return seasons, notes, records
}

// PastTable is past seasons as a table, in litres and kilograms.
func PastTable(seasons []past.Season) Table {
	t := Table{Name: pastRole}
	var columns []column.Column[*past.Row]
	for _, c := range past.Columns {
		if c.Instead == "" {
			columns = append(columns, c)
			t.Columns = append(t.Columns, Column{Name: c.Name})
		}
	}
	for _, s := range seasons {
		for _, r := range s.Rows() {
			var row []any
			for _, c := range columns {
				row = append(row, c.Get(&r))
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}
