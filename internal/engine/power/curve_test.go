package power

import (
	"testing"

	"spile/internal/engine/design"
	"spile/internal/trade/trial"
)

// The curves pass through what Power and Needed say, and a larger gain is never harder to find.
func TestCurves(t *testing.T) {
	for _, s := range []design.Scheme{
		{Design: trial.Blocks, Practices: 4}, {Design: trial.Randomised, Practices: 2},
		{Design: trial.Pairs, Practices: 2},
		{Design: trial.Blocks, Practices: 4, MoreReference: true, Seasons: 2},
	} {
		asked := Trial{Scheme: s, Spread: Spread{Unit: 0.15, Season: 0.1}, Level: 0.05, Asked: 0.8}
		curves, err := asked.Curves(20)
		if err != nil || len(curves) != 5 {
			t.Fatalf("%+v: %d curves, %v", s, len(curves), err)
		}
		for i, c := range curves {
			want, _, err := asked.Needed(c.GainPct)
			if err != nil || c.Needed != 0 && c.Needed != want {
				t.Errorf("%+v: a gain of %v %% needs %d, its curve says %d (%v)", s, c.GainPct, want, c.Needed, err)
			}
			for k, r := range c.Rows {
				if i > 0 && r.Chance.Power < curves[i-1].Rows[k].Chance.Power-1e-12 {
					t.Errorf("%+v: %d replicates find %v %% less often than %v %%", s, r.Replicates, c.GainPct,
						curves[i-1].GainPct)
				}
			}
		}
		if curves[2].Needed == 0 {
			t.Errorf("%+v: the curve of the gain asked about never has the power asked for", s)
		}
	}
}

func TestSimulatedCurves(t *testing.T) {
	s := Trial{Scheme: design.Scheme{Design: trial.Latin, Practices: 3, Seasons: 3},
		Spread: Spread{Unit: 0.15, Season: 0.1}, Level: 0.05, Asked: 0.8, Runs: 100}
	curves, err := s.Curves(30)
	if err != nil || len(curves) != 3 {
		t.Fatal(curves, err)
	}
	for _, r := range curves[1].Rows {
		if r.Chance.Exact || r.Replicates%2 != 0 {
			t.Errorf("%+v", r)
		}
	}
	if curves[1].Needed == 0 {
		t.Error("no number of replicates has the power asked for")
	}
}
