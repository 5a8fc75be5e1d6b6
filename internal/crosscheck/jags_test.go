package crosscheck

import (
	"cmp"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/mixture"
)

// jagsTable is a table with what JAGS leaves known of it, as jags.R writes it.
type jagsTable struct {
	Versions map[string]string
	Studies  []struct {
		Site, Trial string
		Season      int
		Arms        []struct {
			Practice, Effect, Drop int
			Age                    float64
			Log, V                 *float64
			Season                 *int
		}
		Rows []struct {
			Arm, Ref int
			Y        float64
		}
		V [][]float64
	}
	Expect struct {
		Beta      [][]float64 // by practice: mean, standard deviation, 2.5th and 97.5th percentile
		Variances []float64   // means of τ², σ_u², σ_v², σ_w²
		LongRun   numbers     `json:"long_run"`
		Ages      []float64
		Old       [][]float64 // by age, as Beta
		HalfLife  []float64   `json:"half_life"` // 2.5th, 50th and 97.5th percentile
		Error     float64     // Monte Carlo standard error of the means
	}
}

// table is what package mixture reads.
func (j jagsTable) table() mixture.Table {
	var t mixture.Table
	for range j.Expect.Beta {
		t.Families = append(t.Families, 0)
	}
	for _, s := range j.Studies {
		x := mixture.Study{Site: s.Site, Season: s.Season, Trial: s.Trial}
		for _, a := range s.Arms {
			arm := mixture.Arm{Practice: a.Practice, Effect: a.Effect - 1, Drop: a.Drop, Age: a.Age}
			if a.Log != nil {
				arm.Log, arm.V = *a.Log, *a.V
			}
			if a.Season != nil {
				arm.Seasons = []int{*a.Season}
			}
			t.Drops = max(t.Drops, a.Drop)
			x.Arms = append(x.Arms, arm)
		}
		if s.Rows != nil {
			x.V = mat.NewSymDense(len(s.Rows), nil)
			for i, r := range s.Rows {
				x.Rows = append(x.Rows, mixture.Row{Arm: r.Arm - 1, Ref: r.Ref - 1, Y: r.Y})
				for k := range i + 1 {
					x.V.SetSym(i, k, s.V[i][k])
				}
			}
		}
		t.Studies = append(t.Studies, x)
	}
	return t
}

// TestMixtureAgainstJAGS holds the mixture against Monte Carlo by Gibbs sampling of the same model, stored or just
// made: measured arms, drops that age, and a trial repeated over seasons by its contrasts.
func TestMixtureAgainstJAGS(t *testing.T) {
	const tolerance = 0.003
	dir := cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata")
	for _, name := range []string{"arms", "ageing", "repeated"} {
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, "jags", name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			var c jagsTable
			if err := json.Unmarshal(data, &c); err != nil {
				t.Fatal(err)
			}
			prior := mixture.Default()
			prior.Wild = 0 // a model in which no study stands apart
			a, err := mixture.Of(c.table(), prior)
			if err != nil {
				t.Fatal(err)
			}
			most := 0.0
			near := func(what string, got, want, tolerance float64) {
				t.Helper()
				most = max(most, math.Abs(got-want))
				if !(math.Abs(got-want) <= tolerance) {
					t.Errorf("%s %.5f, JAGS %.5f", what, got, want)
				}
			}
			known := func(what string, m mixture.Marginal, want []float64) {
				t.Helper()
				near("mean of "+what, m.Mean(), want[0], tolerance)
				near("standard deviation of "+what, m.SD(), want[1], tolerance)
				// A percentile of draws errs by about 2.7 times what their mean does (√(p(1 − p))/φ at 0.025).
				slack := tolerance + 2*2.7*c.Expect.Error
				near("low end of "+what, m.Quantile(0.025), want[2], slack)
				near("high end of "+what, m.Quantile(0.975), want[3], slack)
			}
			for i, want := range c.Expect.Beta {
				known("a gain", a.Studies.Of(lineOf(i)), want)
				near("long run", math.Expm1(a.Studies.LongRun(lineOf(i)).Exp()), c.Expect.LongRun[i],
					2*tolerance)
			}
			for k, want := range c.Expect.Variances {
				near("a variance", a.Studies.Variance(k), want, tolerance/3)
			}
			for i, age := range c.Expect.Ages {
				l := lineOf(0)
				l.Drops = []mixture.Bend{{Drop: 1, Age: age, C: 1}}
				known("an old drop", a.Studies.Of(l), c.Expect.Old[i])
			}
			var lives mixture.Steps // of both kinds of curve together
			for _, f := range a.Studies.Fadings() {
				for _, s := range f.Log {
					s.Weight *= f.Weight
					lives = append(lives, s)
				}
			}
			for i, p := range []float64{0.025, 0.5, 0.975}[:len(c.Expect.HalfLife)] {
				// Twelve points span a logarithm of 3.2; between them the weight lies evenly.
				near("logarithm of a half-life", lives.Quantile(p), math.Log(c.Expect.HalfLife[i]), 0.015)
			}
			t.Logf("%v: largest deviation %.4f, with an error of the means of %.4f", c.Versions, most, c.Expect.Error)
		})
	}
}
