package sheet

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/xuri/excelize/v2"

	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/price"
)

// unplaced leaves out where things stood in their file.
var unplaced = cmp.Options{cmpopts.IgnoreTypes(note.Where{}), cmpopts.IgnoreFields(price.Prices{}, "Lines"),
	cmpopts.EquateEmpty()}

// rowsOf is the keys of a sugarbush as a table with a row a section.
func rowsOf(t testing.TB, d bush.Draft) [][]string {
	t.Helper()
	columns, at := []string{"section"}, map[string]int{"section": 0}
	column := func(name string) int {
		i, have := at[name]
		if !have {
			i = len(columns)
			at[name], columns = i, append(columns, name)
		}
		return i
	}
	var rows []map[int]string
	names := map[string]int{}
	for _, e := range d.Keys {
		rest, isSection := strings.CutPrefix(e.Key, "section.")
		if !isSection {
			continue
		}
		name, key, _ := strings.Cut(rest, ".")
		i, have := names[name]
		if !have {
			i = len(rows)
			names[name], rows = i, append(rows, map[int]string{0: name})
		}
		if strings.HasPrefix(key, "unwanted.") {
			c := column("unwanted")
			rows[i][c] = strings.TrimPrefix(rows[i][c]+";"+e.Value, ";")
			continue
		}
		rows[i][column(key)] = e.Value
	}
	for _, e := range d.Keys {
		if !strings.HasPrefix(e.Key, "section.") {
			rows[0][column(e.Key)] = e.Value
		}
	}
	table := [][]string{columns}
	for _, r := range rows {
		row := make([]string, len(columns))
		for i, text := range r {
			row[i] = text
		}
		table = append(table, row)
	}
	return table
}

func csvOf(rows [][]string, sep string) []byte {
	var b strings.Builder
	for _, r := range rows {
		for i, text := range r {
			if i > 0 {
				b.WriteString(sep)
			}
			if sep == ";" {
				text = strings.ReplaceAll(text, ";", ",")
			}
			b.WriteString(text)
		}
		b.WriteString("\n")
	}
	return []byte(b.String())
}

func xlsxOf(t testing.TB, rows [][]string, sheet string) []byte {
	t.Helper()
	x := excelize.NewFile()
	x.SetSheetName("Sheet1", sheet)
	for i, r := range rows {
		cell, _ := excelize.CoordinatesToCellName(1, i+1)
		if err := x.SetSheetRow(sheet, cell, &r); err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if err := x.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The same sugarbush, whether written as TOML, as a table of either kind, or kept as a draft.
func TestSugarbushInEveryForm(t *testing.T) {
	in := station(t)
	for _, name := range []string{"gravity", "organic", "quebec"} {
		data, err := os.ReadFile("../../demo/sugarbush-" + name + ".toml")
		if err != nil {
			t.Fatal(err)
		}
		want, err := SugarbushOf("b.toml", data, in.Prices, in.Practices)
		if err != nil {
			t.Fatal(err)
		}
		draft, err := SugarbushDraft("b.toml", data)
		if err != nil {
			t.Fatal(err)
		}
		from, err := SugarbushFrom(draft, in.Prices, in.Practices)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, from, unplaced); d != "" {
			t.Errorf("%s as a draft: %s", name, d)
		}
		rows := rowsOf(t, draft)
		for file, data := range map[string][]byte{"b.csv": csvOf(rows, ","), "b.tsv": csvOf(rows, "\t"),
			"c.csv":  csvOf(rows, ";"),
			"b.xlsx": xlsxOf(t, rows, "sugarbush"), "c.xlsx": xlsxOf(t, rows, "anything")} {
			got, err := SugarbushOf(file, data, in.Prices, in.Practices)
			if err != nil {
				t.Errorf("%s, %s: %v", name, file, err)
				continue
			}
			if d := cmp.Diff(want, got, unplaced); d != "" {
				t.Errorf("%s, %s: %s", name, file, d)
			}
		}
	}
}

// Every fault at once, each at its cell.
func TestSectionFaults(t *testing.T) {
	in := station(t)
	text := `section,taps,practice,vacuum_inhg,unwanted,name,first_season,cash
north,many,new-spout,24,check-vlave,Hill,2026,
north,100,new-spout,24,,,,
south,100,new-spoot,240,,,2027,-5
,5,,,,,,
`
	_, err := SugarbushOf("b.csv", []byte(text), in.Prices, in.Practices)
	if err == nil {
		t.Fatal("no fault")
	}
	for _, want := range []string{
		`b.csv, row 2, column taps`, `b.csv, row 3, column section`, `b.csv, row 4, column practice`,
		`b.csv, row 4, column vacuum_inhg`,
		`b.csv, row 2, column unwanted`, `b.csv, row 4, column first_season`, `b.csv, row 4, column cash`,
		`b.csv, row 5, column taps`,
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("no fault at %s:\n%v", want, err)
		}
	}
	_, err = SugarbushOf("b.csv",
		[]byte("section,taps,practice,name,first_season,tapps\nnorth,10,new-spout,Hill,2026,5\n"), in.Prices,
		in.Practices)
	if err == nil || !strings.Contains(err.Error(), "b.csv, row 2, column tapps") ||
		!strings.Contains(err.Error(), "is not known") {
		t.Errorf("an unknown column: %v", err)
	}
	for _, name := range []string{"b.csv", "b.toml", "b.xlsx", "b.doc"} {
		if _, err := SugarbushOf(name, nil, in.Prices, in.Practices); err == nil {
			t.Errorf("%s: nothing was taken for a sugarbush", name)
		}
	}
}

// Sugarbushes are told from evidence and prices, come beside them, and pass through a data package.
func TestSugarbushesAmongFiles(t *testing.T) {
	data, err := os.ReadFile("../../demo/sugarbush-organic.toml")
	if err != nil {
		t.Fatal(err)
	}
	draft, err := SugarbushDraft("b.toml", data)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	rows := rowsOf(t, draft)
	for i := range rows[1] {
		rows[1][i] = strings.Replace(rows[1][i], "Quillback Ridge", "Quillback Copy", 1)
	}
	for name, data := range map[string][]byte{"copy.csv": csvOf(rows, ","),
		"sheet.xlsx": xlsxOf(t, rows, "sugarbush")} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, second := range []string{"copy.csv", "sheet.xlsx"} {
		in, err := Read("../../demo/evidence.csv", "../../demo/sugarbush-organic.toml", filepath.Join(dir, second),
			"../../demo/prices.toml")
		if err != nil {
			t.Fatal(err)
		}
		if len(in.Bushes) != 2 || in.Bushes[0].Name != "Quillback Ridge" || in.Bushes[1].Name != "Quillback Copy" ||
			len(in.Studies) == 0 || in.Prices == nil {
			t.Fatalf("read %d sugarbushes", len(in.Bushes))
		}
		files, err := Package{Input: in}.Files()
		if err != nil {
			t.Fatal(err)
		}
		out := t.TempDir()
		for _, f := range files {
			if err := os.WriteFile(filepath.Join(out, f.Name), f.Data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		back, err := Read(out)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(in.Bushes, back.Bushes, unplaced); d != "" {
			t.Errorf("through a package: %s", d)
		}
	}
	if _, err := Read("../../demo/evidence.csv", "../../demo/prices.toml", "../../demo/sugarbush-organic.toml",
		"../../demo/sugarbush-organic.toml"); err == nil || !strings.Contains(err.Error(), "already") {
		t.Errorf("the same sugarbush twice: %v", err)
	}
}

// Whatever stands in a table, reading it ends with a sugarbush or with faults.
func FuzzSections(f *testing.F) {
	in := station(f)
	data, err := os.ReadFile("../../demo/sugarbush-organic.toml")
	if err != nil {
		f.Fatal(err)
	}
	draft, err := SugarbushDraft("b.toml", data)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(csvOf(rowsOf(f, draft), ","))
	f.Add([]byte("section,taps\n"))
	f.Add([]byte("section;unwanted;window.shop.people\na;b;c\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := SugarbushOf("b.csv", data, in.Prices, in.Practices)
		if err == nil && (b.Name == "" || len(b.Sections) == 0) {
			t.Fatalf("no fault, and a sugarbush %q of %d sections", b.Name, len(b.Sections))
		}
	})
}
