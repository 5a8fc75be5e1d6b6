package crosscheck

import (
	"cmp"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/budget"
	"spile/internal/engine/mvt"
	"spile/internal/trade/unit"
)

// TestValuesAgainstR compares single numbers with those that values.R works out by another way.
func TestValuesAgainstR(t *testing.T) {
	dir := cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata")
	data, err := os.ReadFile(filepath.Join(dir, "value", "values.json"))
	if err != nil {
		t.Fatal(err)
	}
	var values map[string]float64
	if err := json.Unmarshal(data, &values); err != nil {
		t.Fatal(err)
	}
	within := func(x float64, p int, df float64) float64 {
		chance, _ := mvt.Within(x, alike(p), df)
		return chance
	}
	// which counts from the start of a year
	endOfYear := func(r, n float64) float64 { return budget.Annuity(r, n) / (1 + r) }
	machine := 10000 + 1000*endOfYear(0.08, 5) - 2000*math.Pow(1.08, -5)
	inches := func(feet float64) float64 { return unit.Atmosphere(unit.Foot.Of(feet)).In(unit.InchOfMercury) }
	for name, c := range map[string]struct{ got, within float64 }{
		"within 3 2.5 12":    {within(2.5, 3, 12), 1e-7},
		"within 3 2.5 12.4":  {within(2.5, 3, 12.4), 1e-7},
		"within 2 2.5 12":    {within(2.5, 2, 12), 1e-7},
		"within 3 2.54 20":   {within(2.54, 3, 20), 1e-7},
		"critical 2 12":      {mvt.Critical(0.95, alike(2), 12), 1e-5},
		"critical 3 20":      {mvt.Critical(0.95, alike(3), 20), 1e-5},
		"recovery 0.10 3":    {1 / endOfYear(0.10, 3), 1e-10},
		"recovery 0.08 5":    {1 / endOfYear(0.08, 5), 1e-10},
		"recovery 0.12 10":   {1 / endOfYear(0.12, 10), 1e-10},
		"recovery 0.05 20":   {1 / endOfYear(0.05, 20), 1e-10},
		"machine a year":     {machine / endOfYear(0.08, 5), 1e-8},
		"machine A now":      {15 + 5*endOfYear(0.06, 3), 1e-10},
		"machine A a year":   {15/endOfYear(0.06, 3) + 5, 1e-10},
		"machine B now":      {10 + 6*endOfYear(0.06, 2), 1e-10},
		"machine B a year":   {10/endOfYear(0.06, 2) + 6, 1e-10},
		"new machine now":    {8*endOfYear(0.06, 3) - 15, 1e-10},
		"new machine a year": {8 - 15/endOfYear(0.06, 3), 1e-10},
		"inches 0":           {inches(0), 1e-5}, // of an inch of mercury to seven digits
		"inches 1000":        {inches(1000), 1e-5},
		"inches 2000":        {inches(2000), 1e-5},
		"inches 5000":        {inches(5000), 1e-5},
		"inches 10000":       {inches(10000), 1e-5},
	} {
		want, ok := values[name]
		if !ok {
			t.Errorf("%s has no value of R", name)
		} else if math.Abs(c.got-want) > c.within {
			t.Errorf("%s: %.9g, R has %.9g", name, c.got, want)
		}
	}
}

// alike is the correlation of p contrasts with one reference under equal replication.
func alike(p int) *mat.SymDense {
	r := mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i {
			r.SetSym(i, j, 0.5)
		}
		r.SetSym(i, i, 1)
	}
	return r
}
