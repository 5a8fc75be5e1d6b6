package sheet

import (
	"encoding/csv"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"spile/internal/note"
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

// widest is how wide a column is made, in characters; longer text is cut by what stands beside it.
const widest = 48

// WriteXLSX writes tables as the sheets of an XLSX file: numbers as numbers, days as days, a bold header that stays in
// sight. The same tables give the same bytes. The error is of the writing, or of a name that no sheet can have.
func WriteXLSX(w io.Writer, tables ...Table) error {
	x := excelize.NewFile()
	defer x.Close()
	bold, err := x.NewStyle(&excelize.Style{
		Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"},
		Border: []excelize.Border{{Type: "bottom", Style: 1, Color: "000000"}},
	})
	if err != nil {
		return err
	}
	days, err := x.NewStyle(&excelize.Style{CustomNumFmt: new("yyyy-mm-dd")})
	if err != nil {
		return err
	}
	for i, t := range tables {
		if i == 0 {
			err = x.SetSheetName("Sheet1", t.Name)
		} else {
			_, err = x.NewSheet(t.Name)
		}
		if err == nil {
			err = t.write(x, bold, days)
		}
		if err != nil {
			return err
		}
	}
	return x.Write(w)
}

// mostLetters is what a cell of an XLSX file holds, in units of UTF-16 (ECMA-376; Excel specifications and limits).
const mostLetters = 32_767

func (t Table) write(x *excelize.File, bold, days int) error {
	head := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		head[i] = c.head()
		wide, dated := min(utf8.RuneCountInString(c.head()), widest/2), false
		if c.head() == "" {
			wide = 14 // to be filled in: a day and a time
		}
		for _, r := range t.Rows {
			if i >= len(r) {
				continue
			}
			switch v := r[i].(type) {
			case string:
				if n := len(utf16.Encode([]rune(v))); n > mostLetters {
					return note.Faults{note.New("a cell of %d letters cannot stand in a spreadsheet; allowed: %d "+
						"(%s: %s)", n, mostLetters, t.Name, c.head())}
				}
				wide = max(wide, utf8.RuneCountInString(v))
			case float64, int:
				wide = max(wide, 8)
			case time.Time:
				wide, dated = max(wide, 10), true
			}
		}
		name, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := x.SetColWidth(t.Name, name, name, float64(min(wide, widest)+2)); err != nil {
			return err
		}
		if dated {
			if err := x.SetColStyle(t.Name, name, days); err != nil {
				return err
			}
		}
	}
	if err := x.SetSheetRow(t.Name, "A1", &head); err != nil {
		return err
	}
	for i, r := range t.Rows {
		if err := x.SetSheetRow(t.Name, "A"+strconv.Itoa(i+2), &r); err != nil {
			return err
		}
		for j, v := range r {
			// The library cuts numbers to 15 digits; those that have more are written out.
			number, ok := v.(float64)
			if text := strconv.FormatFloat(number, 'f', -1, 64); ok && len(text) > 15 {
				cell, err := excelize.CoordinatesToCellName(j+1, i+2)
				if err == nil {
					err = x.SetCellDefault(t.Name, cell, text)
				}
				if err != nil {
					return err
				}
			}
		}
	}
	if len(head) > 0 {
		last, err := excelize.CoordinatesToCellName(len(head), 1)
		if err != nil {
			return err
		}
		if err := x.SetCellStyle(t.Name, "A1", last, bold); err != nil {
			return err
		}
	}
	return x.SetPanes(t.Name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
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
