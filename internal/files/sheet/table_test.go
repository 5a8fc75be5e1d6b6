package sheet

import (
	"math"
	"testing"

	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/engine/reml"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// Tables that nobody here made, written from open datasets by crosscheck/table.R, go through reading and pooling
// without a fault, and give what R gives.
func TestForeignTables(t *testing.T) {
	near := func(what string, got, want, within float64) {
		t.Helper()
		if math.Abs(got-want) > within {
			t.Errorf("%s is %.7f, want %.7f", what, got, want)
		}
	}
	gains := func(file string, o evidence.Options) *pool.Result {
		t.Helper()
		in, err := Read(file)
		if err != nil {
			t.Fatal(err)
		}
		e, err := effect.Of(in.Studies, in.Practices, o)
		if err != nil {
			t.Fatal(err)
		}
		r, err := pool.Fit(e, in.Practices, pool.Options{Inference: reml.Wald})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}

	// Curtis & Wang 1998, Oecologia 113:299: escalc("ROM") and rma() of metafor 3.8-1 on dat.curtis1998 of metadat
	// 1.2-0.
	r := gains("testdata/curtis1998.csv", evidence.Options{Variance: evidence.ReportedSD})
	near("Curtis, log ratio", r.Gains[0].Log, 0.255297774, 1e-5)
	near("Curtis, standard error", r.Gains[0].SE, 0.019806100, 1e-5)
	near("Curtis, study variance", r.Variances[0].Value, 0.026205684, 1e-5)
	near("Curtis, Q", r.Q, 769.018517008, 1e-3)

	// Immer, Hayes & Powers 1934, J. Am. Soc. Agron. 26:403: every variety at every place in both years, so that the
	// joint model is a two-way analysis of variance: lm(log(mean) ~ study + practice) of R 4.2.2.
	r = gains("testdata/immer1934.csv", evidence.Options{Variance: evidence.PooledCV, DefaultCV: 0.05})
	want := map[practice.Key]float64{
		practice.AlcoholFlush: 0.0884366903, practice.CheckValve: 0.0435238111,
		practice.NewSpout: -0.0527747857, practice.SilverSpout: 0.2080429978,
	}
	for _, g := range r.Gains {
		near("Immer, "+string(g.Treatment.Practice), g.Log, want[g.Treatment.Practice], 1e-6)
		near("Immer, standard error", g.SE, 0.0576125138, 1e-5)
	}
	if len(r.Gains) != len(want) {
		t.Errorf("%d practices, want %d", len(r.Gains), len(want))
	}
}
