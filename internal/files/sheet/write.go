package sheet

import (
	"encoding/csv"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/trade/evidence"
)

// Table is a finished table, to be written as a sheet. A value is a string, an int, a float64, a time.Time (a day) or
// nil.
type Table struct {
	Name    string // of the sheet, at most 31 characters
	Columns []Column
	Rows    [][]any
}

// Column is the head of a column, and the unit of its numbers, or "".
type Column struct{ Name, Unit string }

// head is what stands over a column: "net, USD a tap".
func (c Column) head() string {
	if c.Unit == "" {
		return c.Name
	}
	return c.Name + ", " + c.Unit
}

// WriteCSV writes the table as CSV in UTF-8, its numbers with a decimal point and every digit they have.
func (t Table) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	head := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		head[i] = c.head()
	}
	if err := out.Write(head); err != nil {
		return err
	}
	for _, r := range t.Rows {
		row := make([]string, len(r))
		for i, v := range r {
			row[i] = Harmless(written(v))
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// Harmless is a cell of a text file that no spreadsheet takes for a formula: one that begins as a formula does, and is
// no number, stands behind an apostrophe, which reading takes away again. So does one that begins with an apostrophe in
// front of that.
func Harmless(text string) string {
	if begins(text) {
		return "'" + text
	}
	return text
}

// plainText is a cell as it was before it was made harmless.
func plainText(text string) string {
	if rest, quoted := strings.CutPrefix(text, "'"); quoted && begins(rest) {
		return rest
	}
	return text
}

// begins is true of a text that a spreadsheet would take for a formula, apostrophes in front of it or not.
func begins(text string) bool {
	bare := strings.TrimLeft(text, "'")
	if bare == "" || !strings.ContainsRune("=+-@\t\r＝＋－＠", []rune(bare)[0]) {
		return false
	}
	_, err := strconv.ParseFloat(bare, 64)
	return err != nil
}

// written is a value as it stands in a text file.
func written(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case int:
		return strconv.Itoa(v)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case time.Time:
		return v.Format(time.DateOnly)
	}
	return ""
}

// EvidenceTable is studies as an evidence table: reading it gives the same studies, but for where they stood. Columns
// that no arm fills are left out, but for those that are needed.
func EvidenceTable(studies []evidence.Study) Table {
	extra := map[string]bool{}
	for _, s := range studies {
		for _, a := range s.Arms {
			for name := range a.Extra {
				extra[name] = true
			}
		}
	}
	names := append(columnNames(), slices.Sorted(maps.Keys(extra))...)
	var rows []map[string]any
	used := map[string]bool{}
	for _, name := range needed() {
		used[name] = true
	}
	for _, s := range studies {
		for i, a := range s.Arms {
			row := armRow(s, a, i == 0)
			for name := range row {
				used[name] = true
			}
			rows = append(rows, row)
		}
	}
	t := Table{Name: "evidence"}
	for _, name := range names {
		if used[name] {
			t.Columns = append(t.Columns, Column{Name: name})
		}
	}
	for _, row := range rows {
		values := make([]any, len(t.Columns))
		for i, c := range t.Columns {
			values[i] = row[c.Name]
		}
		t.Rows = append(t.Rows, values)
	}
	return t
}

// armRow is what a row of an evidence table says; what is gathered over the rows of a study stands in its first.
func armRow(s evidence.Study, a evidence.Arm, first bool) map[string]any {
	row := map[string]any{}
	for _, c := range evidence.Columns {
		v := c.Get(evidence.Row{Study: &s, Arm: &a})
		if yes, ok := v.(bool); ok {
			v = yesNo(yes)
		}
		if v != nil && (first || !c.Joined) && row[c.Twin] == nil {
			row[c.Name] = v
		}
	}
	for name, v := range a.Extra {
		if v != "" {
			row[name] = v
		}
	}
	return row
}
