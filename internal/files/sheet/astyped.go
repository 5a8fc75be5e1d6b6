package sheet

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
)

// Typed is how each study stands in a table that was understood, by its name, where that is otherwise than we would
// write it. words are those by which it was understood.
func (g Grid) Typed(m Meant, words gloss.Glossary) map[string]*evidence.Typed {
	at := slices.Index(m.Columns, "study")
	ours := slices.Equal(g.Columns, m.Columns) && len(g.Rows) == len(m.Rows)
	for i := range g.Rows {
		ours = ours && slices.Equal(g.Rows[i], m.Rows[i])
	}
	if at < 0 || ours && g.Above == nil {
		return nil
	}
	var own []gloss.Sense // what holds for this table alone
	lasting := Lasting(words).Index()
	for _, s := range words {
		if _, lasts := lasting.Find(s.Of, s.Said); !lasts {
			own = append(own, s)
		}
	}
	with, read := map[int][]int{}, map[int]bool{} // what says nothing goes with the row before it, or the first
	for _, from := range m.From {
		for _, r := range from {
			read[r] = true
		}
	}
	last := 0
	for r := range g.Rows {
		if read[r] {
			if !read[last] {
				with[r] = with[last] // what stands before it goes first, which is no matter to what is read
				delete(with, last)
			}
			last = r
		}
		with[last] = append(with[last], r)
	}
	turned := !slices.ContainsFunc(g.Lines, func(lines [][]string) bool { return len(lines) > 0 })
	all, seen := map[string]*evidence.Typed{}, map[string]map[int]bool{}
	for i, row := range m.Rows {
		name := row[at]
		if all[name] == nil {
			all[name] = &evidence.Typed{Headers: g.Columns, Comma: g.Mark == ',', Words: own, Below: g.Below}
			if len(all) == 1 || !turned { // once is enough of what is of all of them
				all[name].Above = g.Above
			}
			seen[name] = map[int]bool{}
		}
		for _, r := range m.From[i] {
			if !seen[name][r] {
				seen[name][r] = true
				for _, k := range with[r] {
					all[name].Rows = append(all[name].Rows, g.Rows[k])
					if k < len(g.Lines) {
						all[name].Lines = append(all[name].Lines, g.Lines[k]...)
					}
				}
			}
		}
	}
	return all
}

// TypedTable is a table in the headers and words of who typed it, and what says what they stand for.
type TypedTable struct {
	Name  string // without an ending
	Words gloss.Glossary
	typed []evidence.Study
	lines [][]string // the file as it stood, line by line; nil: header and rows
	Grid
}

// AsTyped is studies in the tables that they came from, as they were typed; what was changed since stands changed in
// its cell, in its unit and word. rest are those that came from none, or of which that cannot be said.
func AsTyped(studies []evidence.Study, words gloss.Glossary,
	set practice.Set) (tables []*TypedTable, rest []evidence.Study) {
	for _, s := range studies {
		if s.Typed == nil {
			rest = append(rest, s)
			continue
		}
		base := filepath.Base(cmp.Or(s.Where.File, "rows"))
		name := strings.TrimSuffix(base, filepath.Ext(base))
		if name == "evidence" || name == "prices" { // names of what came from no table
			name += "-as-typed"
		}
		first := name
		i := slices.IndexFunc(tables, func(t *TypedTable) bool {
			x := t.typed[0].Typed
			return strings.HasPrefix(t.Name, name) && slices.Equal(x.Headers, s.Typed.Headers) &&
				x.Comma == s.Typed.Comma && slices.Equal(x.Words, s.Typed.Words) &&
				(s.Typed.Lines == nil || reflect.DeepEqual(x.Above, s.Typed.Above)) &&
				reflect.DeepEqual(x.Below, s.Typed.Below)
		})
		if i < 0 {
			for n := 2; slices.ContainsFunc(tables, func(t *TypedTable) bool { return t.Name == name }); n++ {
				name = first + "-" + strconv.Itoa(n)
			}
			i, tables = len(tables), append(tables, &TypedTable{Name: name})
		}
		tables[i].typed = append(tables[i].typed, s)
	}
	for _, t := range tables {
		slices.SortStableFunc(t.typed, func(a, b evidence.Study) int { return cmp.Compare(a.Where.Row, b.Where.Row) })
		if whole := tableOfTyped(t.Name, words, t.typed...); whole.lines != nil {
			if !slices.Contains(whole.says(set, t.typed...), false) && len(whole.read(set)) == len(t.typed) {
				*t = whole
				continue
			}
			for k, s := range t.typed { // what was changed stands in header and rows
				plain := *s.Typed
				plain.Above, plain.Lines, plain.Below = nil, nil, nil
				t.typed[k].Typed = &plain
			}
		}
		for k, s := range t.typed {
			if alone := tableOfTyped(t.Name, words, s); !alone.says(set, s)[0] {
				t.typed[k].Typed = alone.changed(set, s)
			}
		}
		*t = tableOfTyped(t.Name, words, t.typed...)
		says := t.says(set, t.typed...)
		var stay []evidence.Study
		for k, s := range t.typed {
			if says[k] {
				stay = append(stay, s)
			} else {
				rest = append(rest, s)
			}
		}
		if len(stay) < len(t.typed) {
			if *t = tableOfTyped(t.Name, words, stay...); slices.Contains(t.says(set, stay...), false) {
				rest, *t = append(rest, stay...), TypedTable{}
			}
		}
	}
	return slices.DeleteFunc(tables, func(t *TypedTable) bool { return len(t.Rows) == 0 }), rest
}

// tableOfTyped is studies in one table, and of the words those that it has.
func tableOfTyped(name string, words gloss.Glossary, studies ...evidence.Study) TypedTable {
	t := TypedTable{Name: name, typed: studies}
	has := map[string]bool{}
	for _, s := range studies {
		t.Columns = s.Typed.Headers
		if s.Typed.Comma {
			t.Mark = ','
		}
		t.Rows = append(t.Rows, s.Typed.Rows...)
		t.lines = append(t.lines, s.Typed.Lines...)
		for _, text := range slices.Concat(append(slices.Clone(s.Typed.Rows), s.Typed.Headers)...) {
			has[gloss.Fold(text)] = true
		}
	}
	for _, s := range words {
		if has[gloss.Fold(s.Said)] {
			t.Words = append(t.Words, s)
		}
	}
	if len(studies) > 0 {
		first := studies[0].Typed
		t.Words = append(t.Words, first.Words...)
		if first.Above != nil {
			t.lines = slices.Concat(first.Above, t.lines, first.Below)
		}
	}
	return t
}

// CSV is the table as a file.
func (t TypedTable) CSV() []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if t.Mark == ',' {
		w.Comma = ';'
	}
	lines := t.lines
	if lines == nil {
		lines = append([][]string{t.Columns}, t.Rows...)
	}
	for _, row := range lines {
		safe := make([]string, len(row))
		for i, text := range row {
			safe[i] = Harmless(text)
		}
		w.Write(safe)
	}
	w.Flush()
	return b.Bytes()
}

// TOML is the mapping file that the table is read with; "" where it needs none.
func (t TypedTable) TOML() string { return mappingTOML(t.Words) }

// read is what the table says.
func (t TypedTable) read(set practice.Set) (studies []evidence.Study) {
	f := new(faults)
	studies, _, _ = readEvidence(t.Name+".csv", t.CSV(), set, t.Words, f)
	if f.count() > 0 {
		return nil
	}
	return studies
}

// says is, of each study, whether the table says it.
func (t TypedTable) says(set practice.Set, studies ...evidence.Study) []bool {
	read := t.read(set)
	list := make([]bool, len(studies))
	for i, s := range studies {
		list[i] = slices.ContainsFunc(read, func(x evidence.Study) bool {
			return reflect.DeepEqual(x.Said(), s.Said())
		})
	}
	return list
}

// changed is how a study is typed that says something else now; as it was, where that cannot be written.
func (t TypedTable) changed(set practice.Set, s evidence.Study) *evidence.Typed {
	read := t.read(set)
	if len(read) != 1 {
		return s.Typed
	}
	m := understand(t.Columns, t.Rows, t.Words, set, byte(t.Mark), false)
	was, now := Cells(read), Cells([]evidence.Study{s})
	if len(was.Rows) != len(now.Rows) {
		return s.Typed
	}
	typed := *s.Typed
	typed.Rows = make([][]string, len(s.Typed.Rows))
	for i, row := range s.Typed.Rows {
		typed.Rows[i] = slices.Clone(row)
	}
	cell := func(g Grid, r int, name string) string {
		if i := slices.Index(g.Columns, name); i >= 0 {
			return g.Rows[r][i]
		}
		return ""
	}
	for r := range now.Rows {
		key := cell(was, r, "practice")
		for _, c := range evidence.Columns {
			before, after := cell(was, r, c.Name), cell(now, r, c.Name)
			if before == after || c.Name == "kind" || c.Name == "reference" { // which follow
				continue
			}
			j := slices.IndexFunc(m.Targets, func(x gloss.Target) bool {
				return x.Column == c.Name && (x.Practice == "" || x.Practice == key)
			})
			for i, row := range m.Rows {
				own := row[slices.Index(m.Columns, "practice")] == key
				if j >= 0 && len(m.From[i]) == 1 && (own || c.Once) {
					at := m.From[i][0]
					typed.Rows[at][j] = retypedCell(c, m.Targets[j].Way, typed.Rows[at][j], after, t)
				}
			}
		}
	}
	return &typed
}

// retypedCell is what a cell says now, in the unit or the word that it said it in.
func retypedCell(c evidence.Column, header, typed, now string, t TypedTable) string {
	if c.Kind != column.Number && c.Kind != column.Whole {
		for _, s := range t.Words {
			if s.Of == c.Name && s.Means == now {
				return s.Said
			}
		}
		return now
	}
	x, err := strconv.ParseFloat(now, 64)
	if err != nil {
		return now
	}
	n, behind, _ := measured(typed)
	way, _ := wayOf(c.Column, header, behind)
	x = (x + way.Less) / cmp.Or(way.Factor, 1)
	text := strconv.FormatFloat(x, 'f', -1, 64)
	if r := math.Round(x*1e9) / 1e9; math.Abs(r-x) < 1e-12*math.Abs(x) { // what a conversion leaves behind
		text = strconv.FormatFloat(r, 'f', -1, 64)
	}
	if n.mark == ',' || t.Mark == ',' {
		text = strings.Replace(text, ".", ",", 1)
	}
	if at := strings.LastIndexAny(typed, "0123456789"); behind != "" && at >= 0 {
		text += typed[at+1:]
	}
	return text
}

// typedStudy is how a study was typed, in a data package.
type typedStudy struct {
	Study string          `json:"study"`
	File  string          `json:"file,omitempty"` // of its table
	Row   int             `json:"row,omitempty"`
	Typed *evidence.Typed `json:"typed"`
}

// typedJSON is how studies were typed; nil where none came from a table of others.
func typedJSON(studies []evidence.Study) []byte {
	var list []typedStudy
	for _, s := range studies {
		if s.Typed != nil {
			list = append(list, typedStudy{s.Name, filepath.Base(s.Where.File), s.Where.Row, s.Typed})
		}
	}
	if list == nil {
		return nil
	}
	data, _ := json.MarshalIndent(list, "", " ") // of texts, which can be written
	return append(data, '\n')
}

// studiesTyped takes how studies were typed; false where that is of another study, or of no table.
func studiesTyped(studies []evidence.Study, data []byte) bool {
	var list []typedStudy
	ok := json.Unmarshal(data, &list) == nil
	for _, x := range list {
		i := slices.IndexFunc(studies, func(s evidence.Study) bool { return s.Name == x.Study })
		if i < 0 || x.Typed == nil || len(x.Typed.Headers) > maxColumns ||
			slices.ContainsFunc(x.Typed.Rows, func(r []string) bool { return len(r) != len(x.Typed.Headers) }) {
			ok = false
			continue
		}
		studies[i].Typed = x.Typed
		studies[i].Where.File, studies[i].Where.Row = filepath.Base(x.File), x.Row
	}
	return ok
}

// TypedFiles is the evidence as it was typed: each table with the words that it is read with, in a TOML file of the
// same name, and what no table is known of as evidence.csv; and the prices as they were typed.
func TypedFiles(in input.Input) (files []File, err error) {
	tables, rest := AsTyped(in.Studies, in.Words, in.Practices)
	for _, t := range tables {
		files = append(files, File{t.Name + ".csv", t.CSV()})
		if toml := t.TOML(); toml != "" {
			files = append(files, File{t.Name + ".toml", []byte(toml)})
		}
	}
	if len(rest) > 0 || len(tables) == 0 {
		var b bytes.Buffer
		if err := EvidenceTable(rest).WriteCSV(&b); err != nil {
			return nil, err
		}
		files = append(files, File{"evidence.csv", b.Bytes()})
	}
	if in.Prices != nil {
		files = append(files, File{"prices.toml", PricesTOML(*in.Prices)})
	}
	return files, nil
}
