package crosscheck

import (
	"cmp"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/engine/reml"
	"spile/internal/engine/trust"
)

// checks are what R makes of a pool's trust, as trust.R writes it.
type checks struct {
	Versions map[string]string
	Site     bool
	Out      []struct {
		Study string
		Theta numbers
		Beta  numbers
		Resid numbers
		SE    numbers
		Z     numbers
		Mean  numbers
		Low   numbers
		High  numbers
	}
	Egger *struct {
		Slope, SE, P, Power float64
	}
	Selection struct {
		Treatments names
		Plain      numbers
		Tau2       float64
		Moderate   struct {
			Beta numbers
			Tau2 float64
		}
		Severe struct {
			Beta numbers
			Tau2 float64
		}
	}
	Inconsistency *struct {
		Designs, DF int
		Chi2, P     float64
	}
	Whole *struct { // with all components that gains are integrated over
		DF     int
		Chi2   float64
		Egger  shifted
		Splits []struct {
			Practice, Against string
			shifted
		}
	}
	Robust *struct {
		SE, DF numbers
	}
}

// shifted is the coefficient of one more column, with Kenward and Roger's error and degrees of freedom.
type shifted struct{ Value, SE, DF float64 }

// TestTrustAgainstR holds what package trust says of whole tables of studies against R, stored or just made.
func TestTrustAgainstR(t *testing.T) {
	dir := cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata")
	stored, err := filepath.Glob("testdata/trust/*.json")
	if err != nil || len(stored) == 0 {
		t.Fatal("no tables", err)
	}
	for _, path := range stored {
		name := strings.TrimSuffix(filepath.Base(path), ".json")
		t.Run(name, func(t *testing.T) {
			var c table
			var want checks
			for file, to := range map[string]any{"pool": &c, "trust": &want} {
				data, err := os.ReadFile(filepath.Join(dir, file, name+".json"))
				if err != nil {
					t.Fatal(err)
				}
				if err := json.Unmarshal(data, to); err != nil {
					t.Fatal(file, err)
				}
			}
			set, key := c.set()
			e, err := c.effects(set, key)
			if err != nil {
				t.Fatal(err)
			}
			r, err := pool.Fit(e, set, pool.Options{Inference: reml.Wald, Site: want.Site})
			if err != nil {
				t.Fatal(err)
			}
			l, ok := r.Linear()
			if !ok {
				t.Fatal("no linear model")
			}
			near := func(what string, got, want, floor float64) {
				t.Helper()
				if !(math.Abs(got-want) <= 2e-4*max(math.Abs(want), floor)) {
					t.Errorf("%s: %.8g, R %.8g", what, got, want)
				}
			}
			t.Run("foretold", func(t *testing.T) {
				list, i := trust.Others(l), 0
				for _, o := range want.Out {
					for k := range o.Resid {
						f := list[i+k]
						if f.Study != o.Study || !f.Told {
							t.Fatalf("%+v, R has %s", f, o.Study)
						}
						near(o.Study+" residual", f.Residual, o.Resid[k], o.SE[k])
						near(o.Study+" studentized", f.Studentized, o.Z[k], 1)
						near(o.Study+" foretold", f.Log, o.Mean[k], o.SE[k])
						near(o.Study+" low", f.Low, o.Low[k], o.SE[k])
						near(o.Study+" high", f.High, o.High[k], o.SE[k])
					}
					for list[i].Study == o.Study {
						if i++; i == len(list) {
							break
						}
					}
				}
			})
			t.Run("without each", func(t *testing.T) {
				held := 0
				for _, o := range want.Out {
					w, ok := r.Left(func(s *effect.StudyEffects) bool { return s.Study == o.Study })
					if ok && len(o.Beta) == len(w.Gains) {
						for k, g := range w.Gains {
							near("gain without "+o.Study, g.Log, o.Beta[k], g.SE)
							held++
						}
					}
				}
				if held == 0 {
					t.Error("nothing was held against R")
				}
			})
			if want.Egger != nil {
				g, ok := trust.SmallStudies(l)
				if !ok {
					t.Fatal("no test of small studies")
				}
				near("slope", g.Slope, want.Egger.Slope, want.Egger.SE)
				near("its standard error", g.SE, want.Egger.SE, 0)
				near("its p", g.P, want.Egger.P, 0.1)
				near("power", g.Power, want.Egger.Power, 0.1)
			}
			for _, s := range trust.Selections() {
				of := want.Selection.Moderate
				if s.Name == "severe" {
					of = want.Selection.Severe
				}
				for _, g := range s.Under(l) {
					for k, name := range want.Selection.Treatments {
						if key(name) == g.Treatment.Practice {
							near(s.Name+" "+name, g.Log, of.Beta[k], 0.1)
							near("plain "+name, g.Plain, want.Selection.Plain[k], 0.1)
							near(s.Name+" τ²", g.Tau*g.Tau, of.Tau2, 0.01)
						}
					}
				}
			}
			if w := want.Inconsistency; w != nil {
				d, ok := trust.Designs(l)
				if !ok || d.Designs != w.Designs || d.DF != w.DF {
					t.Fatalf("%+v, R %+v", d, *w)
				}
				near("χ²", d.Chi2, w.Chi2, 0)
				near("its p", d.ChiP, w.P, 0.1)
			}
			if w := want.Whole; w != nil {
				r, err := pool.Fit(e, set, pool.Options{Inference: pool.Mixture, Site: true})
				if err != nil {
					t.Fatal(err)
				}
				l, _ := r.Linear()
				shift := func(what string, value, se, df float64, want shifted) {
					t.Helper()
					near(what, value, want.Value, want.SE)
					near(what+", its error", se, want.SE, 0)
					near(what+", its degrees of freedom", df, want.DF, 0)
				}
				d, ok := trust.Designs(l)
				if !ok || d.DF != w.DF {
					t.Fatalf("%+v, R %+v", d, *w)
				}
				near("χ² knowing of seasons", d.Chi2, w.Chi2, 0)
				g, _ := trust.SmallStudies(l)
				shift("slope knowing of seasons", g.Slope, g.SE, g.DF, w.Egger)
				splits := trust.Splits(l)
				if len(splits) != len(w.Splits) || len(splits) == 0 {
					t.Fatalf("%d pairs told both ways, R has %d", len(splits), len(w.Splits))
				}
				for i, s := range splits {
					if s.Practice != key(w.Splits[i].Practice) || s.Against != key(w.Splits[i].Against) {
						t.Fatalf("%+v, R %+v", s, w.Splits[i])
					}
					shift(w.Splits[i].Practice+w.Splits[i].Against, s.DifferenceLog, s.SE, s.DF, w.Splits[i].shifted)
				}
			}
			if w := want.Robust; w != nil {
				list, ok := trust.BySite(l)
				if !ok || len(list) != len(w.SE) {
					t.Fatalf("%+v, R %+v", list, *w)
				}
				for i, g := range list {
					near("CR2 error", g.SE, w.SE[i], 0)
					near("its degrees of freedom", g.DF, w.DF[i], 0)
				}
			}
		})
	}
}
