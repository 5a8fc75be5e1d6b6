package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// many is a trial of some blocks over five seasons, whose units and blocks differ.
func many(blocks int) (rows []trial.UnitSeason) {
	r := rand.New(rand.NewPCG(1, 2))
	practices := []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.NewDrop}
	for b := range blocks {
		block := 0.2 * r.NormFloat64()
		for p, k := range practices {
			own := block + 0.1*r.NormFloat64()
			for s := range 5 {
				log := 0.1*float64(p)*(1+float64(s)/4) + own + 0.1*r.NormFloat64()
				rows = append(rows, trial.UnitSeason{Season: 2018 + s, Block: fmt.Sprint(b),
					Unit: fmt.Sprint(b, "-", p), Practice: k, Taps: 20, Volume: unit.Volume(1000 * math.Exp(log))})
			}
		}
	}
	return rows
}

// In a large trial the variances under practice × season are next to those without, and found from there: the gains of
// single seasons are those that a search from everywhere finds.
func TestSeasonsFromTheWhole(t *testing.T) {
	rows := many(1 + oneTop/20)
	a, err := Analyse(rows, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	m, err := buildModel(a.model.all, a.model.set, a.model.o, false, true)
	if err != nil {
		t.Fatal(err)
	}
	f, err := m.fit()
	if err != nil {
		t.Fatal(err)
	}
	want := m.eachSeason(f)
	if len(want) != 15 || len(a.BySeason) != len(want) {
		t.Fatalf("%d and %d gains of seasons", len(a.BySeason), len(want))
	}
	for i, w := range want {
		if g := a.BySeason[i]; math.Abs(g.Log-w.Log) > 1e-6 || math.Abs(g.SE-w.SE) > 1e-6*w.SE {
			t.Errorf("%s in %d: %v ± %v, want %v ± %v", w.Practice, w.Season, g.Log, g.SE, w.Log, w.SE)
		}
	}
}

// BenchmarkLarge is 50,000 unit-seasons with all that an analysis says.
func BenchmarkLarge(b *testing.B) {
	rows := many(2500)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Analyse(rows, practice.Shipped(), trial.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
