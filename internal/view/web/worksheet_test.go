package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"spile/internal/view/web/page"
)

// The money as a spreadsheet stands at what the page tries, and its name says that it does; what cannot be tried and a
// workbench without prices give none.
func TestWorksheetOfThePage(t *testing.T) {
	long(t)
	for _, c := range []struct{ query, file, wage string }{
		{"", "money.xlsx", "24"}, {"wage=31", "money-tried.xlsx", "31"},
	} {
		w := ask(served(), "GET", page.WithQuery(page.Worksheet, c.query))
		if w.Code != http.StatusOK || w.Header().Get("Content-Type") != page.XLSX ||
			w.Header().Get("Content-Disposition") != `attachment; filename="`+c.file+`"` {
			t.Fatalf("%q: %d %v", c.query, w.Code, w.Header())
		}
		x, err := excelize.OpenReader(w.Body)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, n := range x.GetDefinedName() {
			if n.Name != "wage" {
				continue
			}
			sheet, cell, _ := strings.Cut(strings.ReplaceAll(n.RefersTo, "$", ""), "!")
			got, err := x.GetCellValue(strings.Trim(sheet, "'"), cell, excelize.Options{RawCellValue: true})
			if found = true; got != c.wage || err != nil {
				t.Errorf("%q: the wage is %s, wanted %s (%v)", c.query, got, c.wage, err)
			}
		}
		if !found {
			t.Errorf("%q: no cell is called wage", c.query)
		}
		if body, _ := visit(t, page.WithQuery("/profit", c.query)); !strings.Contains(body,
			`href="`+page.WithQuery(page.Worksheet, c.query)+`"`) {
			t.Errorf("/profit?%s does not lead to it", c.query)
		}
	}
	if w := ask(served(), "GET", page.Worksheet+"?wage=much"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("what cannot be tried: %d", w.Code)
	}
	in := scenario()
	in.Studies, in.Prices = in.Studies[:6], nil
	h, err := New(Config{Input: in})
	if err != nil {
		t.Fatal(err)
	}
	if w := ask(h, "GET", page.Worksheet); w.Code != http.StatusNotFound {
		t.Errorf("without prices: %d", w.Code)
	}
}
