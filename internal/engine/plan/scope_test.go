package plan

import (
	"testing"

	"spile/internal/trade/bush"
	"spile/internal/trade/unit"
)

// What too few studies state is taken to be usual: sugar maple, 5/16 tubing and vacuum rule nothing out, and whatever
// else has no evidence: why, and what is common practice there.
func TestScopeThatNoStudyStates(t *testing.T) {
	gravity, pumped := unit.Pressure(0), unit.InchOfMercury.Of(24)
	for _, c := range []struct {
		x       bush.Section
		reasons int
	}{
		{bush.Section{}, 0},
		{bush.Section{Species: "sugar maple", TubingIn: 5. / 16, Vacuum: &pumped}, 0},
		{bush.Section{Species: "red maple"}, 2},
		{bush.Section{TubingIn: 3. / 16}, 2},
		{bush.Section{Vacuum: &gravity}, 2},
		{bush.Section{Buckets: true}, 2},
		{bush.Section{Species: "red maple", TubingIn: 3. / 16, Vacuum: &gravity}, 6},
	} {
		if why := (Scope{}).outside(c.x); len(why) != c.reasons {
			t.Errorf("%+v: %v", c.x, why)
		}
	}
}
