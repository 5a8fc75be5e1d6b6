package crosscheck

import (
	"cmp"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/engine/reml"
)

const tolerance = 1e-4

// TestAgainstR compares every case with R's values: those stored, or with SPILE_CROSSCHECK_DIR set those just made.
func TestAgainstR(t *testing.T) {
	dir := cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata")
	stored, err := filepath.Glob("testdata/*.json") // a live run must bring every case that is stored
	if err != nil || len(stored) == 0 {
		t.Fatal("no cases", err)
	}
	largest, worst := 0.0, ""
	for _, path := range stored {
		name := strings.TrimSuffix(filepath.Base(path), ".json")
		t.Run(name, func(t *testing.T) {
			c, err := Read(dir, name)
			if err != nil {
				t.Fatal(err)
			}
			most, what := deviation(t, c)
			if most > largest {
				largest, worst = most, name+" "+what
			}
			t.Logf("%v: largest deviation %.1e (%s)", c.Versions, most, what)
		})
	}
	t.Logf("largest deviation over all: %.1e (%s), %s", largest, worst, dir)
}

// deviation gives the largest relative deviation. A number near 0 is measured against what it is a part of: a
// coefficient against its standard error, a variance against a hundredth of the largest.
func deviation(t *testing.T, c Case) (most float64, what string) {
	m := c.Model()
	fit := reml.Fit
	if !c.REML {
		fit = reml.FitML
	}
	f, err := fit(m)
	if err != nil {
		t.Fatal(err)
	}
	check := func(name string, got, want, floor float64) {
		d := math.Abs(got-want) / max(math.Abs(want), floor)
		if !(d <= tolerance) {
			t.Errorf("%s %.8g, R %.8g: deviation %.1e", name, got, want, d)
		}
		if d > most {
			most, what = d, name
		}
	}
	e := c.Expect
	top := 0.0
	for _, v := range e.Theta {
		top = max(top, v)
	}
	if len(e.Theta) != len(f.Theta) || len(e.Beta) != len(f.Beta) || len(e.Contrasts) == 0 {
		t.Fatalf("R gives %d variances and %d effects for %d and %d", len(e.Theta), len(e.Beta), len(f.Theta),
			len(f.Beta))
	}
	for k, v := range e.Theta {
		check("variance of "+c.Components[k].Name, f.Theta[k], v, top/100)
	}
	for j, v := range e.Beta {
		check("effect "+c.Effects[j], f.Beta[j], v, e.SE[j])
		check("standard error of "+c.Effects[j], f.Effect(j, reml.Wald).SE, e.SE[j], 0)
	}
	check("log likelihood", f.LogLik, e.LogLik, 1)
	for _, k := range e.Contrasts {
		got := f.Contrast(k.C, reml.KenwardRoger)
		check("contrast", got.Value, k.Value, k.SE)
		check("Kenward-Roger standard error", got.SE, k.SE, 0)
		check("Kenward-Roger degrees of freedom", got.DF, k.DF, 0)
	}
	if e.Q != nil {
		h, err := m.Heterogeneity()
		if err != nil {
			t.Fatal(err)
		}
		check("Q", h.Q, *e.Q, 0)
		check("trace of P", h.TraceP, *e.TraceP, 0)
	}
	for k, ends := range e.Profile {
		got, err := f.Profile(k, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if ends[0] != nil {
			check("low end of "+c.Components[k].Name, got.Low, *ends[0], top/100)
		}
		if ends[1] != nil {
			check("high end of "+c.Components[k].Name, got.High, *ends[1], top/100)
		}
	}
	return most, what
}
