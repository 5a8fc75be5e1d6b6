package sheet

import (
	"encoding/csv"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"spile/internal/trade/evidence"
	"spile/internal/trade/unit"
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
			row[i] = written(v)
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
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
	for _, name := range required {
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
	text := func(name, v string) {
		if v != "" {
			row[name] = v
		}
	}
	number := func(name string, v *float64) {
		if v != nil {
			row[name] = *v
		}
	}
	text("study", s.Name)
	text("site", s.Site)
	row["season"] = s.Season
	text("practice", string(a.Practice))
	text("kind", string(s.Kind))
	text("trial", s.Trial)
	text("unit", string(s.Unit))
	text("species", s.Species)
	if first {
		caveats := make([]string, len(s.Caveats))
		for i, c := range s.Caveats {
			caveats[i] = string(c)
		}
		text("caveats", strings.Join(caveats, "; "))
		text("weather", s.Weather)
		text("funding", s.Funding)
		text("source", s.Source)
	}
	if a.Reference {
		row["reference"] = "yes"
	}
	number("mean", a.Mean)
	text("mean_unit", string(a.MeanUnit))
	number("n", a.N)
	number("sd", a.SD)
	number("se", a.SE)
	if g := a.Gain; g != nil {
		row["gain_pct"] = g.Pct
		number("gain_se_pct", g.SEPct)
		number("gain_low_pct", g.LowPct)
		number("gain_high_pct", g.HighPct)
	}
	number("taps", a.Taps)
	if a.DropAge != nil {
		row["drop_age"] = *a.DropAge
	}
	if a.SpoutAge != nil {
		row["spout_age"] = *a.SpoutAge
	}
	if p := a.Vacuum; p != nil {
		// As a reader would write it, where that is the same number to the last bit.
		if x := math.Round(float64(*p)/float64(unit.InchOfMercury.Of(1))*1e4) / 1e4; unit.InchOfMercury.Of(x) == *p {
			row["vacuum_inhg"] = x
		} else {
			row["vacuum_kpa"] = float64(*p)
		}
	}
	number("tubing_in", a.TubingIn)
	number("line_age", a.LineAge)
	text("releaser", a.Releaser)
	text("pump", a.Pump)
	if !a.Tapped.IsZero() {
		row["tapped"] = a.Tapped
	}
	if !a.LastRun.IsZero() {
		row["last_run"] = a.LastRun
	}
	if c := a.Chemical; c != nil {
		text("product", c.Product)
		text("strength", c.Strength)
		number("contact_min", c.ContactMin)
		text("applied", c.Applied)
		text("rinsed", c.Rinsed)
	}
	for name, v := range a.Extra {
		text(name, v)
	}
	return row
}
