//go:build !js

package sheet

import (
	"io"
	"strconv"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"spile/internal/note"
)

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
