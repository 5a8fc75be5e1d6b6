package plan

import (
	"testing"

	"spile/internal/trade/unit"
)

// What too few studies state is taken to be usual: sugar maple, 5/16 tubing and vacuum rule nothing out, and whatever else
// has no evidence.
func TestScopeThatNoStudyStates(t *testing.T) {
	gravity, pumped := unit.Pressure(0), unit.InchOfMercury.Of(24)
	for _, c := range []struct {
		x       Section
		reasons int
	}{
		{Section{}, 0},
		{Section{Species: "sugar maple", TubingIn: 5. / 16, Vacuum: &pumped}, 0},
		{Section{Species: "red maple"}, 1},
		{Section{TubingIn: 3. / 16}, 1},
		{Section{Vacuum: &gravity}, 1},
		{Section{Buckets: true}, 1},
		{Section{Species: "red maple", TubingIn: 3. / 16, Vacuum: &gravity}, 3},
	} {
		if why := (Scope{}).outside(c.x); len(why) != c.reasons {
			t.Errorf("%+v: %v", c.x, why)
		}
	}
}
