package power

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/crosscheck"
	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// cvOf is the CV whose logs have a standard deviation.
func cvOf(sd float64) float64 { return math.Sqrt(math.Expm1(sd * sd)) }

// Cohen 1988, table 2.4.1: two groups, d = 0.5, two-sided 5 %, 80 %: 64 a group.
func TestCohen(t *testing.T) {
	s := Trial{Scheme: design.Scheme{Design: trial.Randomised, Practices: 2}, Spread: Spread{Unit: cvOf(1)},
		Level: 0.05, Asked: 0.8}
	n, c, err := s.Needed(100 * math.Expm1(0.5))
	if err != nil || n != 64 || !c.Exact {
		t.Errorf("%d, %+v, %v; want 64", n, c, err)
	}
}

// Power, replicates and smallest gain are three readings of one curve.
func TestPowerInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Trial{Level: 0.05, Asked: 0.8}
		s.Scheme = design.Scheme{Design: rapid.SampledFrom([]trial.Kind{trial.Randomised, trial.Blocks}).Draw(t,
			"design"), Practices: rapid.IntRange(2, 6).Draw(t, "practices"),
			Seasons: rapid.IntRange(1, 3).Draw(t, "seasons")}
		s.Spread = Spread{Unit: rapid.Float64Range(0.05, 0.4).Draw(t, "unit"),
			Season: rapid.Float64Range(0, 0.3).Draw(t, "season")}
		gain := rapid.Float64Range(10, 80).Draw(t, "gain")
		n, c, err := s.Needed(gain)
		if err != nil {
			t.Fatal(err)
		}
		if c.Power < 0.8 {
			t.Fatalf("power %v with the replicates needed", c.Power)
		}
		s.Replicates = n
		least, err := s.Smallest()
		if err != nil || least > gain+1e-3 {
			t.Fatalf("smallest gain %v where %v is found: %v", least, gain, err)
		}
		if n > 2 {
			s.Replicates--
			if c, err := s.Chance(gain); err == nil && c.Power >= 0.8 {
				t.Fatalf("one replicate less does as well: %v", c.Power)
			}
		}
	})
}

// Simulated trials, analysed by REML, find a gain as often as the noncentral t says.
func TestSimulatedPower(t *testing.T) {
	const runs = 600
	s := Trial{Scheme: fortyEight, Spread: Spread{Unit: 0.12, Season: 0.1, Block: 0.15}, Level: 0.05, Runs: runs}
	want, err := s.Chance(25)
	if err != nil || !want.Exact {
		t.Fatal(want, err)
	}
	sim, err := s.Simulate(25, 7)
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, g := range sim {
		if g.P < 0.05 {
			found++
		}
	}
	se := math.Sqrt(want.Power * (1 - want.Power) / runs)
	if got := float64(found) / runs; math.Abs(got-want.Power) > 4*se {
		t.Errorf("simulated %.3f, noncentral t %.3f", got, want.Power)
	}
}

// The variances of trials that R analysed (lme4, its version stored with them), as coefficients of variation: a log's
// variance is ln(1 + CV²) (M6). Trials count by their units.
func TestPast(t *testing.T) {
	var past []trial.Trial
	var unit, season, all float64
	for _, name := range []string{"invented-trial", "invented-trial-unbalanced"} {
		c, err := crosscheck.Read("../../crosscheck/testdata", name)
		if err != nil {
			t.Fatal(err)
		}
		rows := c.Rows()
		past = append(past, trial.Trial{Name: name, Site: "hill", Sums: rows,
			Options: trial.Options{Response: trial.Syrup}})
		units := map[string]bool{}
		for _, r := range rows {
			units[r.Unit] = true
		}
		w := float64(len(units))
		unit, season, all = unit+w*c.Expect.Theta[1], season+w*c.Expect.Theta[2], all+w
	}
	past = append(past, trial.Trial{Name: "nothing yet", Site: "hill"})
	s, names := Past(past, practice.Shipped(), compare.Trial)
	if len(names) != 2 || names[0] != "invented-trial" {
		t.Errorf("trials %v", names)
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"units", s.Unit, math.Sqrt(math.Exp(unit/all) - 1)},
		{"seasons", s.Season, math.Sqrt(math.Exp(season/all) - 1)}} {
		if math.Abs(c.got-c.want) > 1e-3*c.want {
			t.Errorf("CV between %s %v, R %v", c.what, c.got, c.want)
		}
	}
	// In one season both vary: the variances of the logs add up.
	if one := s.OneSeason(); math.Abs(one.Unit-math.Sqrt(math.Exp((unit+season)/all)-1)) > 1e-3*one.Unit ||
		one.Season != 0 {
		t.Errorf("of one season %v", one)
	}
	if _, none := Past(past[2:], practice.Shipped(), compare.Trial); none != nil {
		t.Errorf("%v tell a spread", none)
	}
}
