package sheet

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/xuri/excelize/v2"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// build makes an XLSX file; set fills its first sheet, which is called Sheet1.
func build(t testing.TB, set func(x *excelize.File)) []byte {
	t.Helper()
	x := excelize.NewFile()
	defer x.Close()
	set(x)
	var b bytes.Buffer
	if err := x.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// put fills rows from the top of Sheet1.
func put(x *excelize.File, rows ...[]any) {
	for i, r := range rows {
		x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &r)
	}
}

func style(x *excelize.File, cell string, s excelize.Style) {
	id, err := x.NewStyle(&s)
	if err != nil {
		panic(err)
	}
	x.SetCellStyle("Sheet1", cell, cell, id)
}

var header = []any{"Study", "Site", "Season", "Practice", "Mean", "N", "Tapped", "gain_pct", "Source", "remark"}

// Numbers, dates, results of formulas, merged labels and a title over the table are read as what a spreadsheet shows.
func TestSpreadsheet(t *testing.T) {
	data := build(t, func(x *excelize.File) {
		put(x, []any{"Trials of the station"}, nil, header,
			[]any{"A", "north", 2019, "unsanitized", 15.2, "6", time.Date(2019, 2, 11, 0, 0, 0, 0, time.UTC), nil,
				"notes", "r1"},
			[]any{nil, nil, nil, "check-valve", 22.5, 6, 43507, nil, "notes", true},
			[]any{"B", "south", 2020, "check-valve", nil, nil, nil, 0.48},
			[]any{"C", "south", 2021, "new-spout", nil, nil, nil, 31.5})
		x.MergeCell("Sheet1", "A1", "J1")
		for _, c := range "ABC" {
			x.MergeCell("Sheet1", string(c)+"4", string(c)+"5")
		}
		style(x, "G4", excelize.Style{NumFmt: 14})
		style(x, "G5", excelize.Style{CustomNumFmt: new(`yyyy\-mm\-dd`)})
		style(x, "H6", excelize.Style{NumFmt: 9})
	})
	// A formula with its result, as a spreadsheet program stores it.
	data = edit(t, data, "xl/worksheets/sheet1.xml", func(s string) string {
		return strings.Replace(s, "<v>22.5</v>", "<f>15+7.5</f><v>22.499999999999996</v>", 1)
	})
	studies, _, err := Evidence("e.xlsx", data, practice.Shipped(), nil)
	if err != nil {
		t.Fatal(err)
	}
	want, _ := read(t, `study,site,season,practice,mean,n,tapped,gain_pct,source,remark
A,north,2019,unsanitized,15.2,6,2019-02-11,,notes,r1
A,north,2019,check-valve,22.5,6,2019-02-11,,notes,true
B,south,2020,check-valve,,,,48,,
C,south,2021,new-spout,,,,31.5,,
`)
	if d := cmp.Diff(want, studies, cmpopts.IgnoreTypes(note.Where{}, (*evidence.Typed)(nil))); d != "" {
		t.Error(d)
	}
	if w := (note.Where{File: "e.xlsx", Sheet: "Sheet1", Row: 5}); studies[0].Arms[1].Where != w {
		t.Errorf("the second arm stands at %v, want %v", studies[0].Arms[1].Where, w)
	}
}

// What a spreadsheet can hold and a table may not say is named, with sheet, row and column.
func TestSpreadsheetFaults(t *testing.T) {
	ok := []any{"A", "north", 2019, "unsanitized", 15.2, 6}
	other := []any{"A", "north", 2019, "check-valve", 22.5, 6}
	for name, c := range map[string]struct {
		file string
		set  func(x *excelize.File)
		at   note.Where
		says string
	}{ // days are counted from 1900 (ECMA-376 part 1, 18.17.4.1)
		"formula without result": {"", func(x *excelize.File) {
			x.SetCellValue("Sheet1", "E3", nil)
			x.SetCellFormula("Sheet1", "E3", "=E2*1.5")
		},
			note.Where{Sheet: "Sheet1", Row: 3, Column: "mean"}, "without its result"},
		"percentage where none belongs": {"", func(x *excelize.File) {
			x.SetCellValue("Sheet1", "E3", 0.31)
			style(x, "E3", excelize.Style{NumFmt: 10})
		},
			note.Where{Sheet: "Sheet1", Row: 3, Column: "mean"}, `"31 %" carries a percent sign`},
		"number shown as a date": {"", func(x *excelize.File) { style(x, "E3", excelize.Style{NumFmt: 14}) },
			note.Where{Sheet: "Sheet1", Row: 3, Column: "mean"}, "1900-01-22 12:00"},
		"season shown as a date": {"", func(x *excelize.File) { style(x, "C3", excelize.Style{NumFmt: 14}) },
			note.Where{Sheet: "Sheet1", Row: 3, Column: "season"}, "not a season"},
		"number that is no day": {"", func(x *excelize.File) { x.SetCellValue("Sheet1", "G3", 435) },
			note.Where{Sheet: "Sheet1", Row: 3, Column: "tapped"}, "435"},
		"mean merged over two arms": {"",
			func(x *excelize.File) { x.SetCellValue("Sheet1", "E3", nil); x.MergeCell("Sheet1", "E2", "E3") },
			note.Where{Sheet: "Sheet1", Row: 2, Column: "mean"}, "merged over 2 rows"},
		"merged over two columns": {"", func(x *excelize.File) { x.MergeCell("Sheet1", "E3", "F3") },
			note.Where{Sheet: "Sheet1", Row: 3, Column: "mean"}, "merged over 2 columns"},
		"header over two columns": {"", func(x *excelize.File) {
			x.RemoveCol("Sheet1", "F")
			x.InsertCols("Sheet1", "F", 1)
			x.MergeCell("Sheet1", "E1", "F1")
		},
			note.Where{Sheet: "Sheet1", Row: 1, Column: "mean"}, "header"},
		"error of a formula": {"", func(x *excelize.File) { x.SetCellValue("Sheet1", "E3", 7777) },
			note.Where{Sheet: "Sheet1", Row: 3, Column: "mean"}, "#DIV/0!"},
		"no such sheet": {"e.xlsx#Trials", func(x *excelize.File) {}, note.Where{}, "allowed: Sheet1"},
		"number with a unit": {"", func(x *excelize.File) { x.SetCellValue("Sheet1", "E3", "22.5 pails") },
			note.Where{Sheet: "Sheet1", Row: 3, Column: "mean"}, "carries a unit"},
		"header only": {"", func(x *excelize.File) { x.RemoveRow("Sheet1", 3); x.RemoveRow("Sheet1", 2) },
			note.Where{Sheet: "Sheet1"}, "no row below"},
		"empty sheet": {"e.xlsx#two", func(x *excelize.File) { x.NewSheet("Two") }, note.Where{Sheet: "Two"},
			"empty"},
	} {
		t.Run(name, func(t *testing.T) {
			data := build(t, func(x *excelize.File) { put(x, header, ok, other); c.set(x) })
			if name == "error of a formula" {
				data = edit(t, data, "xl/worksheets/sheet1.xml", func(s string) string {
					return strings.Replace(s, `<c r="E3"><v>7777</v>`, `<c r="E3" t="e"><v>#DIV/0!</v>`, 1)
				})
			}
			if c.file == "" {
				c.file = "e.xlsx"
			}
			studies, _, err := Evidence(c.file, data, practice.Shipped(), nil)
			var faults note.Faults
			errors.As(err, &faults)
			if len(faults) != 1 || studies != nil {
				t.Fatalf("%d faults, %d studies: %v", len(faults), len(studies), err)
			}
			c.at.File = "e.xlsx"
			if faults[0].Where != c.at || !strings.Contains(faults[0].English(), c.says) {
				t.Errorf("want %q at %v:\n%v", c.says, c.at, err)
			}
		})
	}
}

// Spreadsheets as other people make them, with all guesses taken.
func TestSpreadsheetsOfOthers(t *testing.T) {
	type rows = [][]any
	head := []any{"Site", "Year", "Treatment", "Yield (gal/tap)"}
	two := rows{head, {"North", 2019, "Control", 15.5}, {"North", 2019, "CV", 18.5}}
	read := "North 2019/North/2019/unsanitized/15.5//gal North 2019/North/2019/check-valve/18.5//gal"
	for _, c := range []struct {
		name   string
		sheets map[string]rows
		merged []string // of the first sheet
		edit   [2]string
		want   string
	}{
		{"names merged over their rows", map[string]rows{"A": {head, {"North", 2019, "Control", 15.5}, {nil, nil,
			"CV", 18.5}}},
			[]string{"A2:A3", "B2:B3"}, [2]string{}, read},
		{"a title, and a header over two rows", map[string]rows{"A": {{"Trials"},
			{"Site", "Year", "Control", nil, "CV", nil}, {nil, nil, "Mean (gal)", "SD", "Mean (gal)", "SD"},
			{"North", 2019, 15.5, 2, 18.5, 3}}}, []string{"A1:F1", "A2:A3", "B2:B3", "C2:D2", "E2:F2"}, [2]string{},
			"North 2019/North/2019/unsanitized/15.5/2/gal North 2019/North/2019/check-valve/18.5/3/gal"},
		{"a sheet a year", map[string]rows{"2018": {{"Site", "Treatment", "L/tap"}, {"N", "Control", 50}, {"N",
			"CV", 60}},
			"2019": {{"Site", "Treatment", "L/tap"}, {"N", "Control", 52}, {"N", "CV", 61}}}, nil, [2]string{},
			"N 2018/N/2018/unsanitized/50//l N 2018/N/2018/check-valve/60//l " +
				"N 2019/N/2019/unsanitized/52//l N 2019/N/2019/check-valve/61//l"},
		{"a sheet a year, a column more on one", map[string]rows{
			"2018": {{"Site", "Treatment", "SD", "L/tap"}, {"N", "Control", 5, 50}, {"N", "CV", 6, 60}},
			"2019": {{"Site", "Treatment", "L/tap"}, {"N", "Control", 52}, {"N", "CV", 61}}}, nil, [2]string{},
			"N 2018/N/2018/unsanitized/50/5/l N 2018/N/2018/check-valve/60/6/l " +
				"N 2019/N/2019/unsanitized/52//l N 2019/N/2019/check-valve/61//l"},
		{"a sheet a site", map[string]rows{"Bog": {{"Year", "Treatment", "L/tap"}, {2018, "Control", 50}, {2018,
			"CV", 60}},
			"Fen": {{"Year", "Treatment", "L/tap"}, {2018, "Control", 52}, {2018, "CV", 61}}}, nil, [2]string{},
			"Bog 2018/Bog/2018/unsanitized/50//l Bog 2018/Bog/2018/check-valve/60//l " +
				"Fen 2018/Fen/2018/unsanitized/52//l Fen 2018/Fen/2018/check-valve/61//l"},
		{"sites that stand in rows merged across", map[string]rows{"A": {head[1:], {"Site: North"},
			{2019, "Control", 15.5}, {2019, "CV", 18.5}, {"Site: South"}, {2019, "Control", 14}, {2019, "CV", 17}}},
			[]string{"A2:C2", "A5:C5"}, [2]string{}, read + " South 2019/South/2019/unsanitized/14//gal " +
				"South 2019/South/2019/check-valve/17//gal"},
		{"a remark merged across", map[string]rows{"A": append(two[:3:3], []any{"Source: notebook 3"})},
			[]string{"A4:D4"}, [2]string{}, read},
		{"numbers kept as text", map[string]rows{"A": {head, {"North", "2019", "Control", "15,5"},
			{"North", "2019 ", "CV", " 18,5\u00a0"}}}, nil, [2]string{}, read},
		{"a formula that fails", map[string]rows{"A": {append(head[:4:4], "SD"), {"North", 2019, "Control", 15.5, 7777},
			{"North", 2019, "CV", 18.5}}}, nil,
			[2]string{`<c r="E2"><v>7777</v>`, `<c r="E2" t="e"><f>1/0</f><v>#DIV/0!</v>`}, read},
		{"a formula with its value", map[string]rows{"A": two}, nil,
			[2]string{`<c r="D3"><v>18.5</v>`, `<c r="D3"><f>D2+3</f><v>18.5</v>`}, read},
		{"days as a spreadsheet counts them", map[string]rows{"A": {{"Site", "Tapped", "Treatment", "Yield (gal/tap)"},
			{"North", 43507, "Control", 15.5}, {"North", 43508, "CV", 18.5}}}, nil, [2]string{}, read},
	} {
		data := build(t, func(x *excelize.File) {
			names := slices.Sorted(maps.Keys(c.sheets))
			x.SetSheetName("Sheet1", names[0])
			for _, name := range names {
				x.NewSheet(name)
				for i, row := range c.sheets[name] {
					x.SetSheetRow(name, fmt.Sprint("A", i+1), &row)
				}
			}
			for _, m := range c.merged {
				from, to, _ := strings.Cut(m, ":")
				x.MergeCell(names[0], from, to)
			}
		})
		if c.edit[0] != "" {
			data = edit(t, data, "xl/worksheets/sheet1.xml", func(s string) string {
				return strings.Replace(s, c.edit[0], c.edit[1], 1)
			})
		}
		if got := settled(t, "t.xlsx", data); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

// A unit that a cell's format shows is read with its number, where a column knows it; columns that are hidden are read
// and told.
func TestUnitsInFormats(t *testing.T) {
	data := build(t, func(x *excelize.File) {
		put(x, []any{"Site", "Year", "Treatment", "Yield", "Taps", "Wind"}, []any{"N", 2018, "Control", 15.0, 40, 1},
			[]any{"N", 2018, "New drop", 71.922823896, 40, 2})
		for cell, format := range map[string]string{"D2": `0.0" gal"`, "D3": `#,##0.0\ \L`, "E2": `0" taps"`,
			"E3": `0" taps"`, "F2": `0.0_);(0.0)`} {
			style(x, cell, excelize.Style{CustomNumFmt: &format})
		}
		x.SetColVisible("Sheet1", "F", false)
	})
	g, err := GridOf("t.xlsx", data, nil, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	m := g.Understand(nil, practice.Shipped())
	// a US gallon is 3.785411784 L: 71.922823896 L are 19 of them
	if m.under("mean") != "15|19.0000000068" && m.under("mean") != "15|18.9999999932" && m.under("mean") != "15|19" ||
		m.under("taps") != "40|40" || m.under("wind") != "1|2" {
		t.Errorf("%v: %v", m.Columns, m.Rows)
	}
	if said := fmt.Sprint(g.Notes); !strings.Contains(said, "columns that the spreadsheet hides are read too") ||
		!strings.Contains(said, "F") {
		t.Errorf("%s", said)
	}
}

// Two hundred faults in one file: a hundred are listed from the top, the rest counted.
func TestTwoHundredFaults(t *testing.T) {
	data := build(t, func(x *excelize.File) {
		rows := [][]any{header}
		for i := range 100 {
			rows = append(rows, []any{fmt.Sprint("S", i), "north", 2019, fmt.Sprint("moonlight ", i), 15.2, 2.5})
		}
		put(x, rows...)
	})
	_, _, err := Evidence("e.xlsx", data, practice.Shipped(), nil)
	var faults note.Faults
	errors.As(err, &faults)
	if len(faults) != shown+1 || faults[shown].English() != "and 100 more faults, not listed" {
		t.Fatalf("%d faults: %v", len(faults), faults[len(faults)-1])
	}
	for i, n := range faults[:shown] {
		if n.Where.Row != 2+i/2 || n.Where.Sheet != "Sheet1" {
			t.Fatalf("fault %d stands at %v", i, n.Where)
		}
	}
	t.Logf("200 faults in one file: %d listed with their places, the rest counted", shown)
}

// What is no spreadsheet, or too much of one, is refused with words, and without taking much memory.
func TestHostileSpreadsheets(t *testing.T) {
	zeros := func(name string, size int64) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		z.RegisterCompressor(zip.Deflate,
			func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestSpeed) })
		for _, part := range []string{"[Content_Types].xml", "_rels/.rels", "xl/workbook.xml"} {
			w, _ := z.Create(part)
			io.WriteString(w, "<x/>")
		}
		w, _ := z.Create(name)
		io.CopyN(w, spaces{}, size)
		z.Close()
		return b.Bytes()
	}
	good := build(t, func(x *excelize.File) { put(x, header, []any{"A", "north", 2019, "unsanitized", 15.2, 6}) })
	inSheet := func(text string) []byte {
		return edit(t, good, "xl/worksheets/sheet1.xml", func(s string) string {
			return s[:strings.Index(s, "<sheetData>")] + text
		})
	}
	for _, c := range []struct {
		name string
		data []byte
		says string
	}{
		{"a bomb of 1 GiB", zeros("xl/media/image1.png", 1<<30), "unpacks to more than 48 MiB"},
		{"a sheet of 300 MB", zeros("xl/worksheets/sheet1.xml", 300e6), "unpacks to more than 48 MiB"},
		{"texts of 300 MB", zeros("xl/sharedStrings.xml", 300e6), "unpacks to more than 48 MiB"},
		{"two million cells", inSheet("<sheetData><row>" + strings.Repeat(`<c><v>1</v></c>`, 2e6) +
			"</row></sheetData></worksheet>"), "filled cells"},
		{"merged without end", inSheet("<sheetData/><mergeCells>" +
			strings.Repeat(`<mergeCell ref="A1:A1048576"/>`, 20_000) + "</mergeCells></worksheet>"), "merged cells"},
		{"cut short", good[:len(good)/2], "damaged"},
		{"sheet cut short", inSheet("<sheetData><row><c><v>1"), "damaged"},
		{"rows that go back", inSheet(`<sheetData><row r="9"/><row r="3"/></sheetData></worksheet>`), "damaged"},
		{"empty", nil, "not a spreadsheet"},
		{"text", []byte("study,site\n"), "not a spreadsheet"},
		{"a zip of nothing", []byte("PK\x03\x04"), "damaged"},
		{"locked", []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 and more"), "password"},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, _, err := Evidence("e.xlsx", c.data, practice.Shipped(), nil)
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", c.name, err)
		}
		mib := (after.TotalAlloc - before.TotalAlloc) >> 20
		if mib > 800 || strings.Contains(c.says, "unpacks") && mib > 100 {
			t.Errorf("%s: %d MiB were taken to refuse it", c.name, mib)
		}
		t.Logf("%s (a file of %.1f MiB): refused, %d MiB taken in all", c.name, float64(len(c.data))/(1<<20), mib)
	}
}

// A line of commas takes no more memory than another: it is refused where it has more fields than a sheet has columns.
func TestLineOfCommas(t *testing.T) {
	header, commas := "study,site,season,practice,n,mean\n", strings.Repeat(",", 4_000_000)
	for name, text := range map[string]string{
		"below the header": header + "\n" + commas, "as the header": commas + "\n" + header,
		"of a European program": "study;site;season;practice\n" + strings.ReplaceAll(commas, ",", ";"),
	} {
		for _, loose := range []*vocabulary{nil, evidenceWords(nil, practice.Shipped())} {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			f := new(faults)
			table("wide.csv", []byte(text), known(), loose, f)
			runtime.ReadMemStats(&after)
			if got := (after.TotalAlloc - before.TotalAlloc) / uint64(len(text)); got > 4 {
				t.Errorf("%s: %d bytes are taken for one of the file", name, got)
			}
			if err := f.err(); err == nil || !strings.Contains(err.Error(), "fields") {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	if studies, _ := read(t, header+"a,b,2020,unsanitized,4,10"+strings.Repeat(",", 300)+"\n"+
		"a,b,2020,new-spout,4,12"+strings.Repeat(",", 16000)+"\n"); len(studies) != 1 {
		t.Errorf("empty columns at the end: %v", studies)
	}
}

// A file of 300 MB is refused by its size, and no more of it is read than a file may have.
func TestLargeFiles(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"a.csv", "a.tsv", "a.xlsx", "a.toml", "datapackage.json"} {
		path := filepath.Join(dir, name)
		f, err := os.Create(path)
		if err == nil {
			err = errors.Join(f.Truncate(300e6), f.Close())
		}
		if err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err = Read(path)
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), "larger than") {
			t.Errorf("%s: %v", name, err)
		}
		mib := (after.TotalAlloc - before.TotalAlloc) >> 20
		if mib > 100 {
			t.Errorf("%s: %d MiB were taken to refuse it", name, mib)
		}
		t.Logf("%s of 300 MB: refused, %d MiB taken in all", name, mib)
	}
}

type spaces struct{}

func (spaces) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	return len(p), nil
}

// edit changes one part of a package.
func edit(t testing.TB, data []byte, part string, change func(string) string) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		r, _ := f.Open()
		text, _ := io.ReadAll(r)
		if f.Name == part {
			text = []byte(change(string(text)))
		}
		w, _ := out.Create(f.Name)
		w.Write(text)
	}
	out.Close()
	return b.Bytes()
}

func FuzzSpreadsheet(f *testing.F) {
	f.Add(`<row><c t="inlineStr"><is><t>study</t></is></c></row>`, "")
	f.Add(`<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="str"><f>A1</f><v>site</v></c></row>`,
		`<mergeCells><mergeCell ref="A1:B3"/></mergeCells>`)
	f.Add(`<row r="7"><c r="A7" s="1"><v>1e9</v></c><c t="e"><v>#REF!</v></c><c t="b"><v>1</v></c><c><f>1</f></c></row>`, "")
	good := build(f, func(x *excelize.File) { put(x, header, []any{"A", "north", 2019, "unsanitized", 15.2, 6}) })
	f.Fuzz(func(t *testing.T, rows, behind string) {
		data := edit(t, good, "xl/worksheets/sheet1.xml", func(s string) string {
			head := strings.Replace(s[strings.Index(s, "<sheetData>"):], "</sheetData>", rows+"</sheetData>"+behind, 1)
			return s[:strings.Index(s, "<sheetData>")] + head
		})
		judge(t, "e.xlsx", data)
	})
}

// smallest is a workbook of one sheet with nothing that need not be there, nothing compressed: so a changed letter is a
// changed letter, and a fuzzer tries many a second.
func smallest(t testing.TB, rows string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	const office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	const main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
	const rels = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
		`<Relationship Id="a" Type="%s/%s" Target="%s"/></Relationships>`
	for _, part := range [][2]string{
		{"_rels/.rels", fmt.Sprintf(rels, office, "officeDocument", "xl/workbook.xml")},
		{"xl/_rels/workbook.xml.rels", fmt.Sprintf(rels, office, "worksheet", "s.xml")},
		{"xl/workbook.xml", `<workbook xmlns="` + main + `" xmlns:r="` + office +
			`"><sheets><sheet name="S" sheetId="1" r:id="a"/></sheets></workbook>`},
		{"xl/s.xml", `<worksheet xmlns="` + main + `"><sheetData>` + rows + `</sheetData></worksheet>`},
	} {
		w, err := z.CreateHeader(&zip.FileHeader{Name: part[0], Method: zip.Store})
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, part[1])
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func FuzzSpreadsheetBytes(f *testing.F) {
	cell := func(text string) string { return `<c t="str"><v>` + text + `</v></c>` }
	seed := smallest(f, "<row>"+cell("study")+cell("site")+"</row><row>"+cell("A")+cell("B")+"</row>")
	f.Add(seed)
	f.Add(seed[:200])
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) { judge(t, "e.xlsx#Sheet1", data) })
}

func judge(t *testing.T, name string, data []byte) {
	studies, _, err := Evidence(name, data, practice.Shipped(), nil)
	if (err == nil) != (len(studies) > 0) {
		t.Errorf("%d studies and the error %v", len(studies), err)
	}
	for _, s := range studies {
		if len(s.Arms) < 2 || s.Season == 0 || s.Site == "" {
			t.Errorf("half a study: %+v", s)
		}
	}
}

// A season table may be a sheet too.
func TestSeasonSpreadsheet(t *testing.T) {
	data := build(t, func(x *excelize.File) {
		put(x, []any{"unit", "block", "season", "practice", "taps", "volume_gal"},
			[]any{"A1", "A", 2026, "unsanitized", 20, 402}, []any{"A2", nil, 2026, "new-spout", 20, "487 gal"})
		x.MergeCell("Sheet1", "B2", "B3")
	})
	_, err := SeasonOf("s.xlsx", data, practice.Shipped())
	if err == nil || err.Error() != `s.xlsx, Sheet1, row 3, column volume_gal: "487 gal" carries a unit or words; allowed: the number alone, such as 18.5` {
		t.Errorf("%v", err)
	}
}
