package report

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
	"gonum.org/v1/plot/vg"

	"spile/internal/engine/design"
	"spile/internal/engine/harvest"
	files "spile/internal/files/sheet"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/view/paper"
	"spile/internal/view/say"
)

func laidOut(t *testing.T, blind bool) trial.Trial {
	t.Helper()
	q := trial.Question{Practices: []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve,
		practice.NewDrop}, Design: trial.Blocks,
		Replicates: 6, Taps: 20, Seasons: 2, FirstSeason: 2026, Blind: blind, Seed: 11}
	l, err := design.Draw(q, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	return trial.Trial{Name: "Érablière du Ruisseau", Site: "Upper lot", Question: &q, Records: l.Records()}
}

// What is printed holds every unit with its practice, or its code alone where practices are hidden.
func TestFieldSheets(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("NOT RUN: no pdftotext")
	}
	for _, hide := range []bool{false, true} {
		x := laidOut(t, true)
		f := Field{Trial: x, Season: 2026, Set: practice.Shipped(), Hide: hide, V: say.In("en"), Version: "1"}
		data, err := f.Sheets()
		if err != nil {
			t.Fatal(err)
		}
		if again, _ := f.Sheets(); !bytes.Equal(data, again) {
			t.Error("the same trial gives other bytes")
		}
		path := filepath.Join(t.TempDir(), "f.pdf")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("pdftotext", "-layout", path, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		said := string(out)
		told, err := exec.Command("pdfinfo", "-struct-text", path).Output()
		if err != nil {
			t.Fatal(err)
		}
		read := strings.Join(strings.Fields(string(told)), " ")
		for _, want := range []string{`H1 (block) "Érablière du Ruisseau, 2026 · block 1: readings"`,
			`H2 (block) "Érablière du Ruisseau, 2026 · block 2: readings"`, `Table (block) TR TH: /Scope /Column "unit" TH`,
			`TR TD "` + x.Records[0].Plots[0].Unit + `" TD`, `P (block) "` + x.Records[0].Plots[0].Unit + `" "20 taps"`} {
			if !strings.Contains(read, want) {
				t.Errorf("hidden %v: a screen reader finds no %s", hide, want)
			}
		}
		if strings.Contains(read, "layout from seed") {
			t.Error("the foot of a sheet is read among what it says")
		}
		for _, want := range []string{"Érablière du Ruisseau, 2026", "block 6: readings", "block 1: tap holes",
			"map of the layout", "tags to cut out", "layout from seed 11", "shavings", "counter reset"} {
			if !strings.Contains(said, want) {
				t.Errorf("hidden %v: no %q", hide, want)
			}
		}
		if got := strings.Contains(said, "unsanitized") || strings.Contains(said, "check-valve"); got == hide {
			t.Errorf("hidden %v: practices stand there: %v", hide, got)
		}
		for _, p := range x.Records[0].Plots {
			if hide && !strings.Contains(said, f.Code(p.Unit)) {
				t.Errorf("no code of unit %s", p.Unit)
			}
		}
	}
	f := Field{Trial: laidOut(t, false), Season: 2026, Set: practice.Shipped(), Hide: true, V: say.In("en")}
	if _, err := f.Sheets(); err == nil || !strings.Contains(err.Error(), "without codes") {
		t.Errorf("practices hidden behind no codes: %v", err)
	}
	f.Season = 2031
	if err := f.Check(); err == nil {
		t.Error("sheets of a season that is not there")
	}
}

// A field spreadsheet is filled in as a crew does and taken in: the units are found by tag or by code.
func TestFieldTablesComeBack(t *testing.T) {
	for _, hide := range []bool{false, true} {
		x := laidOut(t, true)
		f := Field{Trial: x, Season: 2026, Set: practice.Shipped(), Hide: hide, V: say.In("en")}
		code := f.Code
		if !hide {
			code = nil
		}
		var b bytes.Buffer
		if err := files.WriteXLSX(&b, files.FieldTables(x, 2026, code, unit.USGallon)...); err != nil {
			t.Fatal(err)
		}
		empty, _, err := files.TrialOf(x, practice.Shipped(), nil, "empty.xlsx", b.Bytes())
		if err != nil || len(empty.Records[0].Readings) != 0 {
			t.Fatalf("an empty sheet: %v", err)
		}
		w, err := excelize.OpenReader(&b)
		if err != nil {
			t.Fatal(err)
		}
		set := func(sheet, cell string, value any) {
			t.Helper()
			if err := w.SetCellValue(sheet, cell, value); err != nil {
				t.Fatal(err)
			}
		}
		set("block 2", "F1", "2026-03-10")
		set("block 2", "G1", "2026-03-15")
		for row := 2; row < 6; row++ {
			set("block 2", fmt.Sprint("F", row), 100+row)
			set("block 2", fmt.Sprint("G", row), 130+row)
		}
		set("tap holes", "F2", "2026-02-20")
		set("tap holes", "J2", "stained")
		set("tap holes", "K2", 21)
		set("tap holes", "L2", 1)
		set("events", "A2", "leak")
		set("events", "B2", "2026-03-12")
		var filled bytes.Buffer
		if err := w.Write(&filled); err != nil {
			t.Fatal(err)
		}
		back, _, err := files.TrialOf(x, practice.Shipped(), nil, "filled.xlsx", filled.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		r := back.Records[0]
		if len(r.Readings) != 8 || r.Readings[0].Volume == nil || len(r.Events) != 1 || len(r.Counts) != 1 ||
			r.Counts[0].Taps != 21 || r.Counts[0].Again != 1 || r.Counts[0].Note != "shavings stained" {
			t.Errorf("hidden %v: %d readings, events %v, counts %v", hide, len(r.Readings), r.Events, r.Counts)
		}
		if _, err := harvest.Of(back); err != nil {
			t.Error(err)
		}
	}
}

// The longer words of French break no head of a column within a word, and no column leaves the page.
func TestFieldSheetsBreakNoFrenchWord(t *testing.T) {
	v := say.In("fr")
	var columns []fieldColumn
	for _, head := range []string{"unit", "practice", "taps", "species", "diameter, cm", "tapped on", "crew", "bit",
		"depth of the hole", "shavings: white or stained", "taps counted at the start", "at pulling"} {
		columns = append(columns,
			fieldColumn{head: v.Text(head),
				width: map[string]vg.Length{"unit": 52, "practice": 118, "taps": 34, "species": 84}[head]})
	}
	inner := sheetOf(v).Height - 2*fieldMargin
	sum := vg.Length(0)
	for i, w := range widths(columns, inner) {
		sum += w
		for _, line := range paper.Lines(paper.Italic, fieldSmall, columns[i].head, w-6) {
			for word := range strings.FieldsSeq(line) {
				if !slices.Contains(strings.Fields(columns[i].head), word) {
					t.Errorf("%q is broken in a column of %.0f", columns[i].head, w)
				}
			}
		}
	}
	if math.Abs(float64(sum-inner)) > 0.01 {
		t.Errorf("columns are %v wide in %v", sum, inner)
	}
}
