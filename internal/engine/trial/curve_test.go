package trial

import "testing"

// The curves pass through what Power and Needed say, and a larger gain is never harder to find.
func TestCurves(t *testing.T) {
	for _, s := range []Scheme{
		{Design: Blocks, Practices: 4}, {Design: Randomised, Practices: 2}, {Design: Pairs, Practices: 2},
		{Design: Blocks, Practices: 4, MoreReference: true, Seasons: 2},
	} {
		sp := Spread{Unit: 0.15, Season: 0.1}
		curves, err := s.Curves(sp, 20, 0.05, 0.8, 0)
		if err != nil || len(curves) != 5 {
			t.Fatalf("%+v: %d curves, %v", s, len(curves), err)
		}
		for i, c := range curves {
			want, _, err := s.Needed(sp, c.GainPct, 0.05, 0.8, 0)
			if err != nil || c.Needed != 0 && c.Needed != want {
				t.Errorf("%+v: a gain of %v %% needs %d, its curve says %d (%v)", s, c.GainPct, want, c.Needed, err)
			}
			for k, r := range c.Rows {
				if i > 0 && r.Chance.Power < curves[i-1].Rows[k].Chance.Power-1e-12 {
					t.Errorf("%+v: %d replicates find %v %% less often than %v %%", s, r.Replicates, c.GainPct, curves[i-1].GainPct)
				}
			}
		}
		if curves[2].Needed == 0 {
			t.Errorf("%+v: the curve of the gain asked about never has the power asked for", s)
		}
	}
}

func TestSimulatedCurves(t *testing.T) {
	s := Scheme{Design: Latin, Practices: 3, Seasons: 3}
	curves, err := s.Curves(Spread{Unit: 0.15, Season: 0.1}, 30, 0.05, 0.8, 100)
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
