package internal_test

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
	"spile/internal/trade/column"
	"spile/internal/trade/price"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
	"spile/internal/view/web"
)

// A stranger's number of the prices, declared in one place, is read, judged and written in files and in a workbook, can
// be tried, stands in the form, in the table of assumptions, in the report and in data.md, can be a sugarbush's own,
// and is missed where its words have no French. It takes the place of hauling, so that nothing can know it by another
// way.
func TestAStrangersNumber(t *testing.T) {
	before := price.Fields
	defer func() { price.Fields = before }()
	price.Fields = slices.Clone(before)
	at := slices.IndexFunc(price.Fields, func(f price.Field) bool { return f.Key == "hauling" })
	price.Fields[at] = price.Field{Key: "toll", Own: true, Measure: price.MoneyATap,
		Bounds: column.Bounds{Low: 0, High: 9}, Label: "a stranger's toll", Holds: "what the toll costs",
		At: func(s price.Spot) *price.Value { return &s.Hauling }}

	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	demo, err := os.ReadFile("demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	_, after, ok := strings.Cut(string(demo), "\nhauling")
	rest := after[strings.IndexByte(after, '\n'):]
	text := strings.TrimSuffix(string(demo), "\nhauling"+after) +
		"\ntoll = { best = 0.25, low = 0.2, source = \"the county\" }" + rest
	if !ok {
		t.Fatal("the demo has no hauling")
	}
	evidence := "demo/evidence.csv"

	// Files.
	in, err := sheet.Read(evidence, file("prices.toml", text))
	if err != nil || in.Prices.Hauling.Best != 0.25 || *in.Prices.Hauling.Low != 0.2 ||
		in.Prices.Hauling.Source != "the county" {
		t.Fatalf("read: %v", err)
	}
	if _, err := sheet.Read(evidence, file("bad.toml",
		strings.Replace(text, "best = 0.25", "best = 10", 1))); err == nil ||
		!strings.Contains(err.Error(), "toll.best: 10 is out of bounds; allowed: 0 to 9") {
		t.Errorf("read out of bounds: %v", err)
	}
	if _, err := sheet.Read(evidence, file("old.toml", string(demo))); err == nil ||
		!strings.Contains(err.Error(), "hauling") {
		t.Errorf("a key that is no more: %v", err)
	}
	if out := string(sheet.PricesTOML(*in.Prices)); !strings.Contains(out,
		"\ntoll = { best = 0.25, low = 0.2, source = \"the county\" }\n") {
		t.Errorf("written: %s", out)
	}
	files, err := sheet.Package{Input: in}.Files()
	if err != nil || !slices.ContainsFunc(files,
		func(f sheet.File) bool { return bytes.Contains(f.Data, []byte("\ntoll,0.25,0.2,,the county\n")) }) {
		t.Errorf("not in the data package: %v", err)
	}
	own, err := sheet.SugarbushOf("b.toml", []byte("name = \"B\"\nfirst_season = 2026\ntoll = 1\n"+
		"section.a = { taps = 10, practice = \"new-spout\" }\n"), in.Prices, in.Practices)
	if err != nil || own.Prices.Hauling.Best != 1 {
		t.Errorf("of a sugarbush: %v, %v", own.Prices.Hauling, err)
	}

	// Faults, and what can be tried.
	wrong := in.Prices.Clone()
	wrong.Hauling.Best = -1
	if f := wrong.Faults(in.Practices); len(f) != 1 ||
		!strings.Contains(f[0].English(), "toll: -1 stands here; allowed is 0 to 9") {
		t.Errorf("faults: %v", f)
	}
	dear, err := advice.Usual(in).With("toll", price.Value{Best: 9})
	if err != nil || dear.Prices.Hauling.Best != 9 || in.Prices.Hauling.Best != 0.25 {
		t.Errorf("tried: %v", err)
	}

	// The workbook.
	b, err := book.Create(filepath.Join(dir, "b.spile"))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if _, err := b.Save(book.Edit{At: time.Unix(1.7e9, 0), Who: "Ada", What: "prices"}, book.Items(in)...); err != nil {
		t.Fatal(err)
	}
	have, err := b.Contents()
	if err != nil || have.Prices.Hauling.Best != 0.25 || *have.Prices.Hauling.Low != 0.2 ||
		have.Prices.Hauling.Source != "the county" {
		t.Errorf("kept: %v", err)
	}

	// Pages, figures and report.
	h, err := web.New(web.Config{Book: b, Who: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	get := func(path string) string {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://127.0.0.1"+path, nil))
		if w.Code != http.StatusOK {
			t.Errorf("%s: %d", path, w.Code)
		}
		return w.Body.String()
	}
	if page := get("/prices"); !strings.Contains(page, `name="best.toll"`) ||
		!strings.Contains(page, "a stranger’s toll") && !strings.Contains(page, "a stranger&#39;s toll") {
		t.Error("the form does not ask for it")
	}
	if page := get("/profit?toll=8"); !strings.Contains(page, `name="toll"`) ||
		!strings.Contains(page, `value="8"`) {
		t.Error("it cannot be tried on a page")
	}
	a, err := new(advice.Memo).Of(advice.Usual(in))
	if err != nil {
		t.Fatal(err)
	}
	v := show.Of(a, say.In("en"))
	if !slices.ContainsFunc(v.Assumptions().Rows, func(r show.Row) bool { return r.ID == "toll" }) {
		t.Error("it is no assumption")
	}
	if page, err := report.HTML(a, say.In("en"), "test"); err != nil || !bytes.Contains(page, []byte("stranger")) {
		t.Errorf("not in the report: %v", err)
	}

	// Documents and words.
	if !strings.Contains(made["price-keys"](), "| `toll` | what the toll costs | money a tap | 0 to 9 |\n") ||
		!strings.Contains(made["sugarbush-prices"](), ", `toll`") {
		t.Error("data.md does not describe it")
	}
	if missing := untranslated(); !slices.Equal(missing, []string{"a stranger's toll"}) {
		t.Errorf("without French: %q", missing)
	}
}

// A stranger's key of a whole sugarbush stands in the form, which says what is wrong beside it.
func TestAStrangersKeyOfASugarbush(t *testing.T) {
	before := bush.Whole
	defer func() { bush.Whole = before }()
	bush.Whole = append(slices.Clone(before), column.Column[*bush.Sugarbush]{Name: "squirrels",
		Bounds: column.Bounds{Low: 0, High: 45}, Label: "a stranger's squirrels", Holds: "how many there are",
		Field: column.Plain(func(b *bush.Sugarbush) *float64 { return &b.Spare })})
	in, err := sheet.Read("demo/evidence.csv", "demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	h, err := web.New(web.Config{Input: advice.Usual(in)})
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://127.0.0.1/sugarbush?h.name=B&h.squirrels=90", nil))
	if page := w.Body.String(); !strings.Contains(page, `name="h.squirrels" value="90"`) ||
		!strings.Contains(page, `id="b-h-squirrels-fault"`) {
		t.Error("the form does not ask for it")
	}
}

// A stranger's key of a section, declared in one place, is read from TOML and from a table, held to its bounds, kept as
// it was written, and stands in the form and in data.md.
func TestAStrangersKeyOfASection(t *testing.T) {
	before := bush.Sections
	defer func() { bush.Sections = before }()
	bush.Sections = append(slices.Clone(before), column.Column[*bush.Section]{Name: "slope",
		Bounds: column.Bounds{Low: 0, High: 45}, Label: "a stranger's slope", Holds: "how steep it is", Unit: "degrees",
		Field: column.Plain(func(x *bush.Section) *float64 { return &x.ReachMin })})
	in, err := sheet.Read("demo/evidence.csv", "demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"b.toml": "name = \"B\"\nfirst_season = 2026\n" +
			"section.a = { taps = 10, practice = \"new-spout\", slope = 12 }\n",
		"b.csv": "section,taps,practice,slope,name,first_season\na,10,new-spout,12,B,2026\n",
	} {
		b, err := sheet.SugarbushOf(name, []byte(text), in.Prices, in.Practices)
		if err != nil || b.Sections[0].ReachMin != 12 {
			t.Errorf("%s: %v", name, err)
		}
		_, err = sheet.SugarbushOf(name, []byte(strings.Replace(text, "12", "90", 1)), in.Prices, in.Practices)
		if err == nil || !strings.Contains(err.Error(), "slope: 90 is out of bounds; allowed: 0 to 45") {
			t.Errorf("%s out of bounds: %v", name, err)
		}
		draft, err := sheet.SugarbushDraft(name, []byte(text))
		if err != nil || !slices.Contains(draft.Keys, bush.Entry{Key: "section.a.slope", Value: "12"}) {
			t.Errorf("%s is kept as %v, %v", name, draft.Keys, err)
		}
	}
	h, err := web.New(web.Config{Input: advice.Usual(in)})
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://127.0.0.1/sugarbush?h.name=B&1.section=a&1.slope=90",
		nil))
	if page := w.Body.String(); !strings.Contains(page, `name="1.slope" value="90"`) ||
		!strings.Contains(page, "out of bounds") {
		t.Error("the form does not ask for it")
	}
	if !strings.Contains(made["sugarbush-keys"](), "| `section.NAME.slope` | how steep it is | degrees | 0 to 45 |\n") {
		t.Error("data.md does not describe it")
	}
}

// untranslated is the labels of the prices that have no French of their own.
func untranslated() (labels []string) {
	en, fr := say.In("en"), say.In("fr")
	for _, f := range price.Fields {
		if args := make([]any, strings.Count(f.Label, "%s")); f.Label != "" {
			for i := range args {
				args[i] = "x"
			}
			if en.Text(f.Label, args...) == fr.Text(f.Label, args...) {
				labels = append(labels, f.Label)
			}
		}
	}
	return labels
}
