package sheet

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"spile/internal/demo"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

var nowhere = cmp.Options{cmpopts.IgnoreTypes(note.Where{}), cmpopts.IgnoreFields(price.Prices{}, "Lines", "Text"),
	cmpopts.EquateEmpty()}

// anyStudies draws studies such as a table can hold.
func anyStudies(t *rapid.T) []evidence.Study {
	word := rapid.StringMatching(`[a-zé0-9",;'=#\-]([ -~é\n]{0,8}[a-z0-9"])?`)
	perhaps := func(name string, g *rapid.Generator[float64]) *float64 {
		if rapid.Bool().Draw(t, name+" given") {
			return new(g.Draw(t, name))
		}
		return nil
	}
	var studies []evidence.Study
	for i := range rapid.IntRange(1, 4).Draw(t, "studies") {
		year := rapid.IntRange(1990, 2030).Draw(t, "season")
		s := evidence.Study{
			Name: fmt.Sprint("S", i, word.Draw(t, "name")), Site: word.Draw(t, "site"), Season: year,
			Kind: rapid.SampledFrom(
				[]evidence.Kind{evidence.Replicated, evidence.Unreplicated, evidence.ProducerReport}).Draw(t, "kind"),
			Unit: rapid.SampledFrom([]evidence.UnitKind{"", evidence.Tree, evidence.Chamber, evidence.Mainline}).
				Draw(t, "unit"),
		}
		if rapid.Bool().Draw(t, "more") {
			s.Trial, s.Species, s.Weather, s.Funding, s.Source = word.Draw(t, "trial"), word.Draw(t, "species"),
				word.Draw(t, "weather"), word.Draw(t, "funding"), word.Draw(t, "source")
			s.Caveats = []evidence.Caveat{evidence.FreakSeason, "own-word"}
		}
		measured := rapid.Bool().Draw(t, "measured")
		for j, k := range practice.Shipped().Keys()[:rapid.IntRange(2, 6).Draw(t, "arms")] {
			a := evidence.Arm{Practice: k, Reference: j == 0}
			switch {
			case measured:
				a.Mean, a.MeanUnit = new(tailless(1e-3, 99).Draw(t, "mean")), unit.Litre
				a.N, a.SD = new(float64(rapid.IntRange(1, 99).Draw(t, "n"))), perhaps("sd", tailless(1e-3, 9))
			case j > 0:
				a.Gain = &evidence.Reported{Pct: tailless(-99, 900).Draw(t, "gain"),
					SEPct: perhaps("se", tailless(1e-3, 9))}
			}
			a.LineAge, a.TubingIn = perhaps("age", tailless(0, 99)), perhaps("tubing", tailless(0.1, 1))
			if rapid.Bool().Draw(t, "vacuum") {
				a.Vacuum = new(unit.Pressure(tailless(0, 101).Draw(t, "kPa")))
			}
			if rapid.Bool().Draw(t, "dated") {
				a.Tapped = evidence.Day{Time: time.Date(year, 2, rapid.IntRange(1, 28).Draw(t, "day"), 0, 0, 0, 0,
					time.UTC)}
				a.DropAge, a.Extra = new(rapid.IntRange(0, 9).Draw(t, "drop age")),
					map[string]string{"remark": word.Draw(t, "remark")}
				a.Chemical = &evidence.Chemical{Product: word.Draw(t, "product"),
					ContactMin: perhaps("contact", tailless(0, 90))}
			}
			s.Arms = append(s.Arms, a)
		}
		studies = append(studies, s)
	}
	return studies
}

// tailless draws numbers that are no short decimal with a tail of binary arithmetic, which a spreadsheet's reader
// drops.
func tailless(low, high float64) *rapid.Generator[float64] {
	return rapid.Float64Range(low, high).Filter(func(x float64) bool {
		text := strconv.FormatFloat(x, 'g', -1, 64)
		return short(text) == text
	})
}

// Read, write, read: the same studies, by CSV and by XLSX, and the same bytes from the same studies.
func TestEvidenceRoundTripProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		studies := anyStudies(t)
		table := EvidenceTable(studies)
		for name, write := range map[string]func(*bytes.Buffer) error{
			"e.csv":  func(b *bytes.Buffer) error { return table.WriteCSV(b) },
			"e.xlsx": func(b *bytes.Buffer) error { return WriteXLSX(b, table) },
		} {
			var b, again bytes.Buffer
			if err := write(&b); err != nil {
				t.Fatal(err)
			}
			write(&again)
			if !bytes.Equal(b.Bytes(), again.Bytes()) {
				t.Fatalf("%s: other bytes the second time", name)
			}
			back, _, err := Evidence(name, b.Bytes(), practice.Shipped(), nil)
			if err != nil {
				t.Fatalf("%v\n%s", err, b.Bytes())
			}
			same := nowhere
			if name == "e.xlsx" { // whose reading drops the tail of binary arithmetic, 4 steps at the most
				same = append(same[:len(same):len(same)], cmpopts.EquateApprox(1e-15, 0))
			}
			if d := cmp.Diff(studies, back, same); d != "" {
				t.Fatalf("%s: %s", name, d)
			}
		}
	})
}

func demoFile(t testing.TB, name string) []byte {
	t.Helper()
	data, err := fs.ReadFile(demo.Files(), name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Prices come back as they were: those of the demo, and one with everything that a price file can say.
func TestPricesRoundTrip(t *testing.T) {
	full := smallPrices + `
[use."new-drop"]
material.spout = { count = 1, life = { best = 2, low = 1, high = 3, source = "a \"word\"\nof ours" } }
minutes.shop = 0
repairs = -0.5
gain.0 = 72
gain.1 = 61.5
disposal = 0.01
lost_sap = 0.2
renewal.material.spout = { count = 2 }
renewal.minutes.before-tapping = { best = 1, low = 0.5 }
renewal.disposal = 0.03
[sells.quota]
syrup = 1
price_beyond = 0.5
delay = 1
[material."a drop, 5/16"]
price = 1
grams = 55
`
	full = strings.Replace(full, "[sells]\n",
		"[sells]\ngain_price = 0.9\ncapacity = 25\nsap = { share = 0.2, price = 0.5 }\n", 1)
	full = strings.Replace(full, "share = 1,", "share = 0.8,", 1)
	full = "organic = true\nall_at_once = true\nsyrup_brix = 66.5\nprocessing = 6\nhauling = 0.1\nfarm_adjust = 0.8\n" +
		"today.practice = \"new-drop\"\ntoday.every = 3\n" + full
	for name, text := range map[string][]byte{"demo": demoFile(t, "prices.toml"), "small": []byte(smallPrices),
		"full": []byte(full)} {
		p, _, err := Prices("p.toml", text, practice.Shipped())
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		p.Text = ""
		out := PricesTOML(*p)
		back, _, err := Prices("p.toml", out, practice.Shipped())
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		if d := cmp.Diff(p, back, nowhere); d != "" {
			t.Errorf("%s: %s\n%s", name, d, out)
		}
	}
}

// A sheet has numbers that are numbers, units in its header, a header that stays in sight, and columns wide enough.
func TestWriteXLSX(t *testing.T) {
	var b bytes.Buffer
	err := WriteXLSX(&b, Table{Name: "Gains", Columns: []Column{{"practice", ""}, {"net", "USD a tap"}, {"day", ""}},
		Rows: [][]any{{"check-valve spout each season", 1.25, time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)},
			{"=1+1", nil, nil}}}, Table{Name: "Empty"})
	if err != nil {
		t.Fatal(err)
	}
	x, err := excelize.OpenReader(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	defer x.Close()
	if got := fmt.Sprint(x.GetSheetList()); got != "[Gains Empty]" {
		t.Errorf("sheets %s", got)
	}
	for cell, want := range map[string]string{"B1": "net, USD a tap", "B2": "1.25", "C2": "2025-11-01", "A3": "=1+1",
		"B3": ""} {
		if got, _ := x.GetCellValue("Gains", cell); got != want {
			t.Errorf("%s is %q, want %q", cell, got, want)
		}
	}
	if kind, _ := x.GetCellType("Gains", "B2"); kind != excelize.CellTypeUnset && kind != excelize.CellTypeNumber {
		t.Errorf("the net is of type %v, not a number", kind)
	}
	if f, _ := x.GetCellFormula("Gains", "A3"); f != "" {
		t.Errorf("a text became the formula %s", f)
	}
	if p, _ := x.GetPanes("Gains"); !p.Freeze || p.YSplit != 1 {
		t.Errorf("the header does not stay: %+v", p)
	}
	if id, _ := x.GetCellStyle("Gains", "B1"); id == 0 {
		t.Error("the header has no style")
	} else if s, _ := x.GetStyle(id); s.Font == nil || !s.Font.Bold {
		t.Error("the header is not bold")
	}
	if w, _ := x.GetColWidth("Gains", "A"); w < 29 || w > widest+2 {
		t.Errorf("the first column is %v wide", w)
	}
}

func BenchmarkSpreadsheet10000Arms(b *testing.B) {
	studies, _, err := Evidence("e.csv", tenThousand(), practice.Shipped(), nil)
	if err != nil {
		b.Fatal(err)
	}
	var file bytes.Buffer
	if err := WriteXLSX(&file, EvidenceTable(studies)); err != nil {
		b.Fatal(err)
	}
	b.Run("read", func(b *testing.B) {
		b.ReportAllocs()
		b.SetBytes(int64(file.Len()))
		for b.Loop() {
			if _, _, err := Evidence("e.xlsx", file.Bytes(), practice.Shipped(), nil); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("write", func(b *testing.B) {
		for b.Loop() {
			if err := WriteXLSX(&bytes.Buffer{}, EvidenceTable(studies)); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// A text that a spreadsheet would run stands behind an apostrophe in CSV, a number does not, and all is read back as it
// was (the cells of CSV injection: OWASP, "CSV Injection").
func TestNothingRunsInASpreadsheet(t *testing.T) {
	for text, want := range map[string]string{
		"=1+2": "'=1+2", "+cmd|' /C calc'!A0": "'+cmd|' /C calc'!A0", "-2+3": "'-2+3", "@SUM(1)": "'@SUM(1)",
		"\tx": "'\tx", "\rx": "'\rx", "＝1": "'＝1", "'=1": "''=1", "-": "'-",
		"-5": "-5", "+3.2": "+3.2", "-1e-3": "-1e-3", "5": "5", "a=b": "a=b", "'tis": "'tis", "": "",
	} {
		if got := Harmless(text); got != want || plainText(got) != text {
			t.Errorf("%q is written %q, want %q, and read back as %q", text, got, want, plainText(got))
		}
	}
	const rows = "study,site,season,practice,mean,n,sd\n" +
		"=Hill,@Fen,2019,unsanitized,20,6,3\n=Hill,@Fen,2019,new-spout,25,6,3\n"
	study, _, err := Evidence("x.csv", []byte(rows), practice.Shipped(), nil)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := EvidenceTable(study).WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	if text := b.String(); strings.Contains(text, "\n=") || strings.Contains(text, ",@") {
		t.Errorf("%s", text)
	}
	back, _, err := Evidence("y.csv", b.Bytes(), practice.Shipped(), nil)
	if err != nil || back[0].Name != "=Hill" || back[0].Site != "@Fen" {
		t.Errorf("%+v, %v", back, err)
	}
}

// What a cell of a spreadsheet cannot hold is a fault, not a cut.
func TestLongCells(t *testing.T) {
	table := func(n int) Table {
		return Table{Name: "evidence", Columns: []Column{{Name: "source"}}, Rows: [][]any{{strings.Repeat("é", n)}}}
	}
	if err := WriteXLSX(io.Discard, table(32_767)); err != nil {
		t.Error(err)
	}
	if err := WriteXLSX(io.Discard, table(32_768)); err == nil || !strings.Contains(err.Error(), "allowed: 32767") {
		t.Errorf("%v", err)
	}
}

// What no cell of a spreadsheet holds is refused where it is read, as a header or below it, and is not repeated whole.
func TestLongCellsAreNotRead(t *testing.T) {
	long := strings.Repeat("é", 1<<20)
	const rows = "a,b,2020,unsanitized,4,10,\na,b,2020,new-spout,4,12,"
	for name, text := range map[string]string{
		"header": "study,site,season,practice,n,mean," + long + "\n" + rows + "\n",
		"cell":   "study,site,season,practice,n,mean,source\n" + rows + long + "\n",
		"study":  strings.ReplaceAll("study,site,season,practice,n,mean,source\n"+rows, "a,b", long+",b"),
	} {
		for _, loose := range []*vocabulary{nil, evidenceWords(nil, practice.Shipped())} {
			f := new(faults)
			table("long.csv", []byte(text), known(), loose, f)
			err := f.err()
			if err == nil || !strings.Contains(err.Error(), "1,048,576 letters; allowed: at most 32,767") &&
				!strings.Contains(err.Error(), "1048576 letters; allowed: at most 32767") || len(err.Error()) > 1000 {
				t.Errorf("%s: %.300v", name, err)
			}
		}
	}
	f := new(faults)
	table("good.csv", []byte("study,note\na,"+strings.Repeat("é", mostLetters)+"\n"), known(), nil, f)
	if err := f.err(); err != nil {
		t.Errorf("what a spreadsheet holds: %.300v", err)
	}
}
