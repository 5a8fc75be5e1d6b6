package crosscheck

import (
	"cmp"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/engine/reml"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// table is a whole table of studies with R's results, as crosscheck/pool.R writes it.
type table struct {
	Versions map[string]string `json:"versions"`
	Studies  []struct {
		Study     string      `json:"study"`
		Site      string      `json:"site"`
		Season    int         `json:"season"`
		Reference string      `json:"reference"`
		Arms      names       `json:"arms"`
		Y         numbers     `json:"y"` // of the arms against the reference
		V         [][]float64 `json:"v"`
		Mean      numbers     `json:"mean"` // the reference first; instead of y and v
		SD        numbers     `json:"sd"`
		N         numbers     `json:"n"`
	} `json:"studies"`
	Expect struct {
		Theta []float64 `json:"theta"` // study, site
		Gains []struct {
			Practice string  `json:"practice"`
			Log      float64 `json:"log"`
			SE       float64 `json:"se"`
			Low      float64 `json:"low"`
			High     float64 `json:"high"`
			KRSE     float64 `json:"kr_se"`
			KRDF     float64 `json:"kr_df"`
		} `json:"gains"`
		Q       float64   `json:"q"`
		QDF     int       `json:"q_df"`
		QP      float64   `json:"q_p"`
		I2Pct   float64   `json:"i2_pct"`
		Weights []float64 `json:"weights"`
	} `json:"expect"`
}

// numbers and names are an array, or what R makes of one with a single element.
type (
	numbers []float64
	names   []string
)

func (n *numbers) UnmarshalJSON(data []byte) error {
	if data[0] == '[' {
		return json.Unmarshal(data, (*[]float64)(n))
	}
	*n = make(numbers, 1)
	return json.Unmarshal(data, &(*n)[0])
}

func (n *names) UnmarshalJSON(data []byte) error {
	if data[0] == '[' {
		return json.Unmarshal(data, (*[]string)(n))
	}
	*n = make(names, 1)
	return json.Unmarshal(data, &(*n)[0])
}

// set makes practices of a table's treatments: the reference of all gains becomes unsanitized.
func (t table) set() (practice.Set, func(string) practice.Key) {
	gained := map[string]bool{}
	set := practice.Set{{Key: practice.Unsanitized, Spout: practice.SpoutReused, Drops: practice.DropsKept}}
	for _, g := range t.Expect.Gains {
		gained[g.Practice] = true
		set = append(set, practice.Practice{Key: practice.Key(g.Practice), Spout: practice.SpoutReused,
			Drops: practice.DropsKept})
	}
	return set, func(name string) practice.Key {
		if gained[name] {
			return practice.Key(name)
		}
		return practice.Unsanitized
	}
}

// effects gives what package pool reads, by way of package evidence where the table holds means.
func (t table) effects(set practice.Set, key func(string) practice.Key) (effect.Effects, error) {
	var e effect.Effects
	var studies []evidence.Study
	for _, s := range t.Studies {
		all := append([]string{s.Reference}, s.Arms...)
		if s.Mean != nil {
			x := evidence.Study{Name: s.Study, Site: s.Site}
			for i, a := range all {
				x.Arms = append(x.Arms, evidence.Arm{Practice: key(a), Mean: &s.Mean[i], SD: &s.SD[i], N: &s.N[i]})
			}
			studies = append(studies, x)
			continue
		}
		x := effect.StudyEffects{Study: s.Study, Site: s.Site, Season: s.Season, V: mat.NewSymDense(len(s.Y), nil)}
		for i, a := range all {
			x.Arms = append(x.Arms, practice.Treatment{Practice: key(a)})
			if i == 0 {
				continue
			}
			x.Rows = append(x.Rows, effect.Row{Arm: i, Y: s.Y[i-1]})
			for j := range i {
				x.V.SetSym(i-1, j, s.V[i-1][j])
			}
		}
		e.Studies = append(e.Studies, x)
	}
	if studies != nil {
		return effect.Of(studies, set, evidence.Options{Variance: evidence.ReportedSD})
	}
	return e, nil
}

// TestPoolAgainstR compares whole tables of studies with R, stored or just made, as TestAgainstR does single models.
func TestPoolAgainstR(t *testing.T) {
	dir := cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata")
	stored, err := filepath.Glob("testdata/pool/*.json")
	if err != nil || len(stored) == 0 {
		t.Fatal("no tables", err)
	}
	largest, worst := 0.0, ""
	for _, path := range stored {
		name := strings.TrimSuffix(filepath.Base(path), ".json")
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, "pool", name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			var c table
			if err := json.Unmarshal(data, &c); err != nil {
				t.Fatal(err)
			}
			most := 0.0
			check := func(what string, got, want, floor float64) {
				d := math.Abs(got-want) / max(math.Abs(want), floor)
				if !(d <= tolerance) {
					t.Errorf("%s %.8g, R %.8g: deviation %.1e", what, got, want, d)
				}
				if d > most {
					most = d
				}
				if d > largest {
					largest, worst = d, name+" "+what
				}
			}
			set, key := c.set()
			e, err := c.effects(set, key)
			if err != nil {
				t.Fatal(err)
			}
			site := len(c.Expect.Theta) > 1
			kr, err := pool.Fit(e, set, pool.Options{Inference: reml.KenwardRoger, Site: site})
			if err != nil {
				t.Fatal(err)
			}
			wald, err := pool.Fit(e, set, pool.Options{Inference: reml.Wald, Site: site})
			if err != nil {
				t.Fatal(err)
			}
			if len(kr.Gains) != len(c.Expect.Gains) || len(kr.Variances) != len(c.Expect.Theta) {
				t.Fatalf("%d gains and %d variances, R has %d and %d", len(kr.Gains), len(kr.Variances),
					len(c.Expect.Gains), len(c.Expect.Theta))
			}
			for i, want := range c.Expect.Gains {
				g := kr.Gains[i]
				check("gain of "+want.Practice, g.Log, want.Log, want.SE)
				check("Kenward-Roger standard error of "+want.Practice, g.SE, want.KRSE, 0)
				check("Kenward-Roger degrees of freedom of "+want.Practice, g.DF, want.KRDF, 0)
				w := wald.Gains[i]
				check("standard error of "+want.Practice, w.SE, want.SE, 0)
				check("low end of "+want.Practice, math.Log1p(w.LowPct/100), want.Low, want.SE)
				check("high end of "+want.Practice, math.Log1p(w.HighPct/100), want.High, want.SE)
			}
			for k, want := range c.Expect.Theta {
				check("variance between "+kr.Variances[k].Name, kr.Variances[k].Value, want, 0)
			}
			check("Q", kr.Q, c.Expect.Q, 0)
			check("p of Q", kr.QP, c.Expect.QP, 1e-12)
			check("I²", kr.I2Pct, c.Expect.I2Pct, 0)
			if kr.QDF != c.Expect.QDF {
				t.Errorf("%d degrees of freedom of Q, R %d", kr.QDF, c.Expect.QDF)
			}
			for i, want := range c.Expect.Weights {
				check("weight of "+kr.Weights[i].Study, kr.Weights[i].WeightPct, want, 0)
			}
			t.Logf("%v: largest deviation %.1e", c.Versions, most)
		})
	}
	t.Logf("largest deviation over all: %.1e (%s), %s", largest, worst, dir)
}
