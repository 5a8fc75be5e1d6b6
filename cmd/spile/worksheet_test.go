package main

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"spile/internal/view/show"
)

// The worksheet is of the same prices as profit: every practice that profit ranks stands in it by name, with the same
// net over unsanitized once its formulas are worked out. A file that is not ours stays.
func TestExportWorksheet(t *testing.T) {
	long(t)
	scenario(t)
	if code, _, stderr := call("export", "evidence.csv", "prices.toml", "--worksheet", "-o", "m.xlsx"); code != 0 {
		t.Fatal(code, stderr)
	}
	x, err := excelize.OpenFile("m.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	defer x.Close()
	_, stdout, stderr := call("profit", "evidence.csv", "prices.toml", "--against", "unsanitized", "--json")
	var j show.ProfitJSON
	if err := json.Unmarshal([]byte(stdout), &j); err != nil {
		t.Fatal(err, stderr)
	}
	named := map[string]string{}
	for _, n := range x.GetDefinedName() {
		named[n.Name] = strings.ReplaceAll(n.RefersTo, "$", "")
	}
	at := func(name string) (sheet, cell string) {
		sheet, cell, _ = strings.Cut(named[name], "!")
		return strings.Trim(sheet, "'"), cell
	}
	sheet, cell := at("gains_taken")
	if err := x.SetCellValue(sheet, cell, "as the studies say"); err != nil { // which profit's budgets take
		t.Fatal(err)
	}
	compared := 0
	for _, p := range j.Practices {
		name := "net_" + strings.NewReplacer("-", "_", "/", "_", "+", "_").Replace(p.Practice)
		if named[name] == "" {
			continue
		}
		sheet, cell := at(name)
		text, err := x.CalcCellValue(sheet, cell, excelize.Options{RawCellValue: true})
		got, bad := strconv.ParseFloat(text, 64)
		if compared++; err != nil || bad != nil || math.Abs(got-float64(p.Net)) > 1e-9 {
			t.Errorf("%s: %s, profit says %v (%v)", p.Practice, text, p.Net, err)
		}
	}
	if compared < 8 {
		t.Errorf("only %d of %d practices stand in it", compared, len(j.Practices))
	}
	for _, c := range []struct {
		call []string
		code int
		says string
	}{
		{[]string{"prices.toml", "-o", "m.csv"}, faultyCall, "allowed: a name that ends in .xlsx"},
		{[]string{"prices.toml", "-o", "mine.xlsx"}, faultyData, "mine.xlsx"},
		{[]string{"-o", "none.xlsx"}, faultyCall, "prices"},
	} {
		put(t, "mine.xlsx", "mine")
		code, _, stderr := call(append([]string{"export", "--worksheet", "evidence.csv"}, c.call...)...)
		if code != c.code || !strings.Contains(stderr, c.says) {
			t.Errorf("%v: %d %s", c.call, code, stderr)
		}
		if have, _ := os.ReadFile("mine.xlsx"); string(have) != "mine" {
			t.Errorf("%v: mine.xlsx was written over", c.call)
		}
		if _, err := os.Stat(c.call[len(c.call)-1]); c.says != "mine.xlsx" && err == nil {
			t.Errorf("%v: a file was left", c.call)
		}
	}
}
