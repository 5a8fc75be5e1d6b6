package crosscheck

import (
	"cmp"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"spile/internal/engine/effect"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// TestEffectsAgainstR holds moderated variances, and what stands in where a row leaves something out, against R: the
// prior by way of limma, the rest written out in effects.R.
func TestEffectsAgainstR(t *testing.T) {
	for _, name := range []string{"curtis1998", "invented"} {
		t.Run(name, func(t *testing.T) {
			dir := cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata")
			raw, err := os.ReadFile(filepath.Join(dir, "effects", name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			var c struct {
				Studies []struct {
					Study, Unit, Kind                string
					Practice                         names
					Mean, N, SD, SE, Gain, Low, High []*float64
					Y                                numbers
					V                                [][]float64
				}
				CV map[string]float64
			}
			if err := json.Unmarshal(raw, &c); err != nil {
				t.Fatal(err)
			}
			var studies []evidence.Study
			for _, s := range c.Studies {
				x := evidence.Study{Name: s.Study, Unit: evidence.UnitKind(s.Unit), Kind: evidence.Kind(s.Kind)}
				for i, p := range s.Practice {
					a := evidence.Arm{Practice: practice.Key(p), Mean: s.Mean[i], N: s.N[i], SD: s.SD[i], SE: s.SE[i]}
					if s.Gain[i] != nil {
						a.Gain = &evidence.Reported{Pct: *s.Gain[i], LowPct: s.Low[i], HighPct: s.High[i]}
					}
					x.Arms = append(x.Arms, a)
				}
				studies = append(studies, x)
			}
			e, err := effect.Of(studies, practice.Shipped(), evidence.Options{Variance: evidence.Moderated})
			if err != nil {
				t.Fatal(err)
			}
			near := func(what string, got, want float64) {
				t.Helper()
				if !(math.Abs(got-want) <= 1e-9*max(1e-3, math.Abs(want))) {
					t.Errorf("%s: %.12g, R %.12g", what, got, want)
				}
			}
			for i, s := range c.Studies {
				x := e.Studies[i]
				for j, y := range s.Y {
					near(s.Study+" log ratio", x.Rows[j].Y, y)
					for k, v := range s.V[j] {
						near(s.Study+" covariance", x.V.At(j, k), v)
					}
				}
			}
			for kind, cv := range c.CV {
				if got, own := e.CV[evidence.UnitKind(kind)]; own && kind != "" {
					near("CV of "+kind, got, cv)
				}
			}
		})
	}
}
