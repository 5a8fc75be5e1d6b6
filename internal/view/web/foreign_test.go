package web

import (
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"spile/internal/trade/gloss"
)

// The notebooks are of internal/crosscheck/foreign.R: open data in French headers, words, numbers and days, with NA,
// percent signs, and one trial in gallons. What is wanted of them is what R printed.
func notebook(t *testing.T, d atDesk) {
	t.Helper()
	have := d.contents()
	if len(have.Studies) != 6 {
		t.Fatalf("%d studies, want 6", len(have.Studies))
	}
	for _, s := range have.Studies {
		for _, a := range s.Arms {
			switch {
			case s.Name == "Cossack" && a.Practice == "check-valve" &&
				(*a.Mean != 47.3 || a.MeanUnit != "l" || *a.N != 6),
				s.Name == "Ladak" && a.Practice == "unsanitized" &&
					(*a.Mean != 14.86 || a.MeanUnit != "gal" || *a.SD != 2.51),
				s.Name == "Cossack" && a.Practice == "chlorine-rinse" && a.SD != nil,
				s.Name == "Avoine Victory" && a.Practice == "new-drop" && (a.Mean != nil || a.Gain.Pct != 55),
				s.Unit != "chamber" && a.N != nil,
				a.Where.Row > 0 && a.Vacuum != nil && float64(*a.Vacuum) != 84.7,
				a.Vacuum != nil && a.Tapped.Format("01-02") != "02-15":
				t.Errorf("%s: %+v", s.Name, a)
			}
		}
	}
	said := map[string]bool{}
	for _, w := range have.Words {
		if key := w.Of + " " + gloss.Fold(w.Said); said[key] {
			t.Errorf("%v is kept twice", w)
		} else {
			said[key] = true
		}
	}
}

// A notebook as CSV is read like the spreadsheet, each distinct word asked at most once.
func TestANotebookOfSomebodyElse(t *testing.T) {
	d := sit(t, false)
	data, err := os.ReadFile("testdata/cahier.csv")
	if err != nil {
		t.Fatal(err)
	}
	body := d.wants(d.upload("cahier.csv", string(data), nil), http.StatusOK, "Témoin (vieux chalumeaux)", "n.d.")
	f := d.form(body, "/take/words")
	var asked []string
	for i, said := range f["said"] {
		asked = append(asked, f["of"][i]+" "+said)
	}
	if sorted := slices.Sorted(slices.Values(asked)); len(slices.Compact(sorted)) != len(asked) || len(asked) != 11+8 {
		t.Errorf("asked %d, of 11 headers and 8 words: %q", len(asked), asked)
	}
	body = d.wants(d.post("/take/words", f), http.StatusOK, "18 rows read, of 6 studies")
	d.wants(d.post("/study", with(d.form(body, "/study"), "do", "save")), http.StatusSeeOther)
	notebook(t, d)
}

// From an empty workbook to a ranking, as one who knows nothing of it: the start page leads, the notebook is taken in with
// the guesses as they are, and says where to look.
func TestANewcomerInTheBrowser(t *testing.T) {
	d := sit(t, false)
	b := browseOn(t, d.Handler, nil)
	b.open("/")
	b.until(`document.querySelectorAll(".steps li").length === 3`)
	b.picture("begin-1-empty")
	b.do(chromedp.Click(`.steps a[href="/take"]`))
	b.until(`location.pathname === "/take"`)
	b.do(chromedp.SetUploadFiles("#file", []string{absolute(t, "testdata/cahier.xlsx")}),
		chromedp.Click(`form[action="/take"] button`))
	b.until(`document.querySelector("#t-words") !== null`)
	b.picture("begin-2-words")
	const left = `[...document.querySelectorAll("select[name=means]")].filter(s => s.value === "").length`
	if open := eval[int](b, left); open > 0 {
		t.Errorf("%d questions have no guess", open)
	}
	b.do(chromedp.Click(`form[action="/take/words"] .actions button`))
	b.until(`document.querySelector("form.rows") !== null`)
	b.picture("begin-3-rows")
	b.do(chromedp.Click(`form.rows button[value=save]`))
	b.until(`document.querySelector(".taken") !== null`)
	if said := eval[string](b, `document.querySelector(".taken").innerText`); !strings.Contains(said, "Cossack") ||
		!strings.Contains(said, "Evidence") {
		t.Errorf("it says %q", said)
	}
	b.picture("begin-4-taken")
	notebook(t, d)
	d.wants(d.post("/prices/list", d.form(d.get("/prices/list"), "/prices/list")), http.StatusSeeOther) // the example
	b.open("/")
	b.until(`document.querySelector("#first svg") !== null`)
	b.picture("begin-5-ranking")
	if table := eval[string](b, ranking); !strings.Contains(table, "check-valve") {
		t.Errorf("no ranking: %q", table)
	}
	b.open("/workbook")
	b.picture("begin-6-workbook")
}
