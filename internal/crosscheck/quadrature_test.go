package crosscheck

import (
	"cmp"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/mixture"
)

// TestMixtureAgainstQuadrature holds the mixture on open tables against a product of midpoint rules in R, on whole
// matrices.
func TestMixtureAgainstQuadrature(t *testing.T) {
	const tolerance = 0.003
	dir := cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata")
	stored, err := filepath.Glob("testdata/mixture/*.json")
	if err != nil || len(stored) == 0 {
		t.Fatal("no tables", err)
	}
	for _, path := range stored {
		name := strings.TrimSuffix(filepath.Base(path), ".json")
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, "mixture", name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			var c struct {
				Studies []struct {
					Study, Site, Reference string
					Arms                   names
					Y                      numbers
					V                      [][]float64
				}
				Gains []struct {
					Practice            string
					Mean, SD, Low, High float64
				}
			}
			if err := json.Unmarshal(data, &c); err != nil {
				t.Fatal(err)
			}
			place := map[string]int{}
			practice := func(s string) int {
				if _, ok := place[s]; !ok {
					place[s] = len(place)
				}
				return place[s]
			}
			arm := func(s string) mixture.Arm {
				e := slices.IndexFunc(c.Gains, func(g struct {
					Practice            string
					Mean, SD, Low, High float64
				}) bool {
					return g.Practice == s
				})
				return mixture.Arm{Practice: practice(s), Effect: e}
			}
			table := mixture.Table{Families: make([]int, len(c.Gains))}
			for i, s := range c.Studies {
				x := mixture.Study{Site: s.Site, Season: i + 1, Arms: []mixture.Arm{arm(s.Reference)}}
				x.V = mat.NewSymDense(len(s.Y), nil)
				for j, y := range s.Y {
					x.Arms = append(x.Arms, arm(s.Arms[j]))
					x.Rows = append(x.Rows, mixture.Row{Arm: j + 1, Y: y})
					for k := range j + 1 {
						x.V.SetSym(j, k, s.V[j][k])
					}
				}
				table.Studies = append(table.Studies, x)
			}
			prior := mixture.Default()
			prior.Wild = 0
			a, err := mixture.Of(table, prior)
			if err != nil {
				t.Fatal(err)
			}
			most := 0.0
			for i, g := range c.Gains {
				m := a.Studies.Of(lineOf(i))
				for what, pair := range map[string][2]float64{"mean": {m.Mean(), g.Mean},
					"standard deviation": {m.SD(), g.SD},
					"low end":            {m.Quantile(0.025), g.Low}, "high end": {m.Quantile(0.975), g.High}} {
					d := max(pair[0]-pair[1], pair[1]-pair[0])
					most = max(most, d)
					if !(d <= tolerance) {
						t.Errorf("%s of %s %.5f, R %.5f", what, g.Practice, pair[0], pair[1])
					}
				}
			}
			t.Logf("largest deviation %.4f", most)
		})
	}
}

// lineOf is the line of one effect.
func lineOf(i int) mixture.Line {
	l := mixture.Line{Fixed: make([]float64, i+1)}
	l.Fixed[i] = 1
	return l
}
