package crosscheck

import (
	"cmp"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/engine/power"
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// season is a season table with R's results, as crosscheck/trials.R writes it.
type season struct {
	Source   string            `json:"source"`
	Versions map[string]string `json:"versions"`
	Rows     []struct {
		Unit     string  `json:"unit"`
		Block    string  `json:"block"`
		Season   int     `json:"season"`
		Practice string  `json:"practice"`
		LogYield float64 `json:"log_yield"`
	} `json:"rows"`
	Expect struct {
		Dunnett     []comparison `json:"dunnett"`
		Tukey       []comparison `json:"tukey"`
		DF          float64      `json:"df"`
		Interaction *joint       `json:"interaction"`
		Practice    *joint       `json:"practice"`
		BySeason    *struct {
			Value []float64   `json:"value"`
			V     [][]float64 `json:"v"`
			DF    []float64   `json:"df"`
		} `json:"by_season"` // by season, then practice
	} `json:"expect"`
}

type comparison struct {
	Name      string   `json:"name"` // "a - b"
	Value     float64  `json:"value"`
	SE        float64  `json:"se"`
	DF        *float64 `json:"df"`
	PAdjusted *float64 `json:"p_adjusted"` // where df is whole
	PFloor    float64  `json:"p_floor"`    // at the whole number below df
	PCeiling  float64  `json:"p_ceiling"`
}

type joint struct {
	F        float64 `json:"f"`
	DF       int     `json:"df"`
	Residual float64 `json:"residual"`
	P        float64 `json:"p"`
}

// TestTrialsAgainstR compares Dunnett's and Tukey's comparisons with multcomp's single-step p, and the joint tests with
// pbkrtest's.
func TestTrialsAgainstR(t *testing.T) {
	for _, name := range []string{"plantgrowth", "recovery", "mixed-unbalanced", "barley"} {
		t.Run(name, func(t *testing.T) {
			raw, err := os.ReadFile(filepath.Join(cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata"), "trial",
				name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			var c season
			if err := json.Unmarshal(raw, &c); err != nil {
				t.Fatal(err)
			}
			var set practice.Set
			var rows []trial.UnitSeason
			low, high := math.Inf(1), math.Inf(-1)
			for _, r := range c.Rows {
				low, high = min(low, r.LogYield), max(high, r.LogYield)
				if _, ok := set.Find(practice.Key(r.Practice)); !ok {
					set = append(set, practice.Practice{Key: practice.Key(r.Practice)})
				}
			}
			for _, r := range c.Rows { // contrasts do not change with the unit that a yield is written in
				rows = append(rows, trial.UnitSeason{Unit: r.Unit, Block: r.Block, Season: r.Season,
					Practice: practice.Key(r.Practice),
					Taps:     1, Volume: unit.Volume(math.Exp(r.LogYield - (low+high)/2))})
			}
			slices.SortFunc(set, func(a, b practice.Practice) int {
				return strings.Compare(string(a.Key), string(b.Key))
			})
			if i := slices.IndexFunc(set, func(p practice.Practice) bool { return p.Key == "ctrl" }); i > 0 {
				set[0], set[i] = set[i], set[0]
			}
			a, err := compare.Analyse(rows, set, trial.Options{Reference: set[0].Key})
			if err != nil {
				t.Fatal(err)
			}
			near := func(what string, got, want, tolerance float64) {
				t.Helper()
				if !(math.Abs(got-want) <= tolerance) {
					t.Errorf("%s: %.8g, R %.8g", what, got, want)
				}
			}
			same := func(w comparison, log, se, df, p float64) {
				t.Helper()
				near(w.Name+" log ratio", log, w.Value, 1e-4*w.SE)
				near(w.Name+" standard error", se, w.SE, 1e-4*w.SE)
				if w.DF == nil {
					near(w.Name+" degrees of freedom", df, c.Expect.DF, 1e-4*c.Expect.DF)
					near(w.Name+" adjusted p", p, *w.PAdjusted, 1e-4)
					return
				}
				near(w.Name+" degrees of freedom", df, *w.DF, 1e-4**w.DF)
				if p < min(w.PFloor, w.PCeiling)-1e-4 || p > max(w.PFloor, w.PCeiling)+1e-4 {
					t.Errorf("%s: adjusted p %.6f, R's are %.6f and %.6f at the whole numbers beside", w.Name, p,
						w.PFloor, w.PCeiling)
				}
				want := w.PCeiling
				if w.PFloor != w.PCeiling { // between two whole numbers p is nearly straight in 1/df
					low, high := 1/math.Floor(df), 1/math.Ceil(df)
					want += (w.PFloor - w.PCeiling) * (1/df - high) / (low - high)
				}
				near(w.Name+" adjusted p", p, want, 1e-4)
			}
			for _, w := range c.Expect.Dunnett {
				i := slices.IndexFunc(a.Gains,
					func(g compare.Gain) bool { return w.Name == string(g.Practice)+" - "+string(a.Reference) })
				g := a.Gains[i]
				same(w, g.Log, g.SE, g.DF, g.PAdjusted)
			}
			for _, w := range c.Expect.Tukey {
				i := slices.IndexFunc(a.Pairs,
					func(p compare.Pair) bool { return w.Name == string(p.Practice)+" - "+string(p.Against) })
				p := a.Pairs[i]
				same(w, p.Log, p.SE, p.DF, p.PAdjusted)
			}
			test := func(what string, got *reml.Joint, want *joint) {
				if want == nil {
					return
				}
				if got == nil || got.DF != want.DF {
					t.Fatalf("%s: %+v, R %+v", what, got, want)
				}
				near(what+" F", got.F, want.F, 1e-4*want.F)
				near(what+" residual degrees of freedom", got.Residual, want.Residual, 1e-4*want.Residual)
				near(what+" p", got.P, want.P, 1e-4*want.P)
			}
			test("practices", a.Differ, c.Expect.Practice)
			test("practice and season", a.Interaction, c.Expect.Interaction)
			if want := c.Expect.BySeason; want != nil {
				s, err := compare.Study(rows, set, trial.Options{Reference: set[0].Key}, compare.About{Name: name})
				if err != nil {
					t.Fatal(err)
				}
				for i, v := range want.V {
					se := math.Sqrt(v[i])
					near("gain of a season", s.Rows[i].Y, want.Value[i], 1e-4*se)
					near("its degrees of freedom", s.Rows[i].DF, want.DF[i], 1e-4*want.DF[i])
					for j := range v {
						near("its covariance", s.V.At(i, j), v[j], 1e-4*se*math.Sqrt(want.V[j][j]))
					}
				}
			}
		})
	}
}

// TestPowerAgainstR compares power and the replicates needed with R's power.t.test (strict: both tails).
func TestPowerAgainstR(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join(cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "testdata"), "trial", "power.json"))
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		Power []struct {
			N, Delta, SD, Power float64
		} `json:"power"`
		Needed []struct {
			Delta, SD, N float64
		} `json:"needed"`
	}
	if err := json.Unmarshal(raw, &c); err != nil || len(c.Power) == 0 || len(c.Needed) == 0 {
		t.Fatal(err)
	}
	// The gain whose log is delta, and the CV whose log has the standard deviation.
	gain := func(delta float64) float64 { return 100 * math.Expm1(delta) }
	spread := func(sd float64) power.Spread { return power.Spread{Unit: math.Sqrt(math.Expm1(sd * sd))} }
	two := power.Trial{Level: 0.05, Asked: 0.8, Scheme: design.Scheme{Design: trial.Randomised, Practices: 2}}
	for _, w := range c.Power {
		s := two
		s.Replicates, s.Spread = int(w.N), spread(w.SD)
		got, err := s.Chance(gain(w.Delta))
		if err != nil || !got.Exact || math.Abs(got.Power-w.Power) > 1e-7 {
			t.Errorf("%v: %+v, %v", w, got, err)
		}
	}
	for _, w := range c.Needed {
		s := two
		s.Spread = spread(w.SD)
		n, _, err := s.Needed(gain(w.Delta))
		if err != nil || n != int(math.Ceil(w.N)) {
			t.Errorf("%v: %d replicates, %v", w, n, err)
		}
	}
}
