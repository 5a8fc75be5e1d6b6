package main

import (
	"archive/zip"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/view/web"
)

// What is added to a list of the trade in one place reaches file in, file out, workbook, form, command, page, report
// and slide: a wash, a caveat and a column of the evidence table that the tool has never heard of.
func TestStrangers(t *testing.T) {
	long(t)
	washes, caveats, columns := practice.Washes, evidence.CaveatList, evidence.Columns
	t.Cleanup(func() { practice.Washes, evidence.CaveatList, evidence.Columns = washes, caveats, columns })
	practice.Washes = append(slices.Clone(washes), practice.WashInfo{
		Word: practice.Word{Key: "moonlight", Name: "moonlight by the pail", Does: ""}, Chemical: true,
		Cautions: []string{"moonlight dazzles owls"},
	})
	evidence.CaveatList = append(slices.Clone(caveats), evidence.CaveatInfo{
		Key: "barn-cat", Name: "a cat was near", Footnote: "a cat sat on the gauge", Rule: "the site is a barn",
		Sets: func(s evidence.Setting, _ *evidence.Others) bool { return s.Site == "Barn" },
	})
	evidence.Columns = append(slices.Clone(columns), evidence.Column{Part: evidence.Run,
		Column: column.Column[evidence.Row]{
			Name: "bark_mm", Bounds: column.Bounds{Low: 1, High: 90}, Unit: "mm", Label: "thickness of bark, mm",
			Headers: []string{"thickness of bark"},
			Holds:   "thickness of the bark",
			Field: column.Field[evidence.Row]{
				Kind: column.Number,
				Get: func(r evidence.Row) any {
					x, ok := bark[r.Arm.Extra["bark"]]
					if !ok {
						return nil
					}
					return x
				},
				Set: func(r evidence.Row, v any) {
					text := strings.Repeat("I", int(v.(float64)))
					bark[text] = v.(float64)
					r.Arm.Extra = map[string]string{"bark": text}
				},
			},
		}})

	scenario(t)
	const money = "money.toml"
	prices, err := os.ReadFile("prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	put(t, money, string(prices)+"\n[use.owl-rinse]\nminutes.after-season = 1.5\n")
	put(t, "own.toml", "[practice.owl-rinse]\nname = \"owl rinse\"\nspout = \"reused\"\ndrops = \"kept\"\nwash = "+
		"\"moonlight\"\n")
	put(t, "barn.csv", "study,site,season,practice,mean,n,sd,bark_mm\nBarn 2020,Barn,2020,unsanitized,15,6,2,7\n"+
		"Barn 2020,Barn,2020,owl-rinse,18,6,2,7\nMill 2020,Mill,2020,unsanitized,15,6,2,7\nMill "+
		"2020,Mill,2020,owl-rinse,18,6,2,7\n")
	has := func(what, text string, want ...string) {
		t.Helper()
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: no %q in\n%.2000s", what, w, text)
			}
		}
	}
	said := func(args ...string) string {
		t.Helper()
		code, out, err := call(args...)
		if code != done {
			t.Fatalf("%v: %d\n%s", args, code, err)
		}
		return out
	}
	read := func(path string) string {
		t.Helper()
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}

	// Files in and at fault, commands, in both languages.
	has("gains", said("gains", "barn.csv", "own.toml"), "owl rinse", "a cat sat on the gauge")
	has("gains in French", said("gains", "barn.csv", "own.toml", "--lang", "fr"), "a cat sat on the gauge")
	has("gains --without", said("gains", "barn.csv", "own.toml", "--without", "barn-cat"), "Mill 2020")
	put(t, "bad.csv", "study,site,season,practice,mean,bark_mm\nA,b,2020,unsanitized,15,900\nA,b,2020,new-spout,15,7\n")
	if code, _, err := call("gains", "bad.csv"); code != faultyData || !strings.Contains(err, "900 is out of bounds") {
		t.Errorf("bounds: %d %s", code, err)
	}
	put(t, "theirs.csv", "study,site,season,practice,mean,Thickness of "+
		"bark\nA,b,2020,unsanitized,15,7\nA,b,2020,new-spout,15,nothing\nA,b,2020,new-spout,15,7\n")
	if _, _, err := call("gains", "theirs.csv"); !strings.Contains(err, `bark_mm = "Thickness of bark"`) {
		t.Errorf("headers of others: %s", err)
	}
	put(t, "rule.toml",
		"[[rule]]\nwash = \"moonlight\"\nverdict = \"never\"\nreason = \"owls\"\nchecked = 2025-10-01\n")
	has("profit", said("profit", "barn.csv", "own.toml", "rule.toml", money, "--json"), `"owls"`)

	// Files out.
	said("export", "barn.csv", "own.toml", "-o", "out.csv")
	has("CSV", read("out.csv"), "bark_mm", ",7")
	said("export", "barn.csv", "own.toml", "rule.toml", "-o", "package")
	has("data package", read("package/datapackage.json"), "bark_mm", "thickness of the bark")
	has("practices of it", read("package/practices.csv"), "moonlight")
	has("rules of it", read("package/rules.csv"), "moonlight")
	if in, err := sheet.Read("package"); err != nil || len(in.Studies) != 2 {
		t.Errorf("the package comes back: %v", err)
	}
	said("export", "barn.csv", "own.toml", "-o", "out.xlsx")
	if in, err := sheet.Read("out.xlsx#evidence", "own.toml"); err != nil ||
		in.Studies[0].Arms[0].Extra["bark"] != "IIIIIII" {
		t.Errorf("the spreadsheet comes back: %v", err)
	}

	// Report, talk.
	said("report", "barn.csv", "own.toml", money, "-o", "report.html")
	has("report", read("report.html"), "owl rinse", "a cat sat on the gauge", "moonlight dazzles owls")
	said("report", "barn.csv", "own.toml", money, "--slides", "-o", "talk.pdf")
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Log("NOT RUN on slides: no pdftotext")
	} else if text, err := exec.Command("pdftotext", "-raw", "talk.pdf", "-").Output(); err != nil {
		t.Error(err)
	} else {
		has("talk", strings.Join(strings.Fields(string(text)), " "), "owl rinse", "a cat sat on the gauge")
	}
	said("report", "barn.csv", "own.toml", money, "--slides", "-o", "talk.pptx")
	notes := ""
	if z, err := zip.OpenReader("talk.pptx"); err != nil {
		t.Error(err)
	} else {
		defer z.Close()
		for _, f := range z.File {
			if r, err := f.Open(); err == nil && strings.Contains(f.Name, "notesSlide") {
				data, _ := io.ReadAll(r)
				notes += string(data)
			}
		}
	}
	has("the speaker's notes", notes, "moonlight dazzles owls")

	// Workbook, forms and pages.
	said("new", "w.spile")
	said("add", "w.spile", "barn.csv", "own.toml", "rule.toml", money, "--who", "Ada")
	has("check", said("check", "w.spile"), "")
	b, err := book.Open("w.spile")
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	desk, err := web.New(web.Config{Book: b, Who: "Ada", Version: "test",
		Now: func() time.Time { return time.Date(2025, 11, 2, 0, 0, 0, 0, time.UTC) }})
	if err != nil {
		t.Fatal(err)
	}
	page := func(address string) string {
		t.Helper()
		r := httptest.NewRequest("GET", address, nil)
		r.Host = "localhost:7345"
		w := httptest.NewRecorder()
		desk.ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			t.Fatalf("%s: %d\n%.1000s", address, w.Code, w.Body.String())
		}
		return w.Body.String()
	}
	has("the form of practices", page("/practices"),
		`<option value="moonlight" selected>moonlight by the pail</option>`)
	has("the form of a rule", page("/rule?of=wash%3Dmoonlight"),
		`<option value="moonlight" selected>moonlight by the pail</option>`)
	has("what is permitted", page("/rules"), "moonlight by the pail")
	has("the form of a study", page("/study?name=Barn+2020"), "thickness of bark, mm", "a cat was near", `value="7"`)
	has("a page", page("/evidence"), "a cat sat on the gauge")

	// A word that the list no longer has is shown as itself, and never as another.
	practice.Washes = washes
	has("a rule of a wash that no list has", page("/rule?of=wash%3Dmoonlight"),
		`<option value="moonlight" selected>moonlight</option>`)
	has("a practice of it", page("/practices"), `<option value="moonlight" selected>moonlight</option>`)
}

// bark is what the made-up column holds: a row has no field for it.
var bark = map[string]float64{}
