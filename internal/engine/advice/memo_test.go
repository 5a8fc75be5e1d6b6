package advice

import "testing"

// A stage keeps the latest answers that it was asked for, and no more of them than it may, also where it may keep fewer
// than before.
func TestAStageKeepsTheLatest(t *testing.T) {
	var s stage[int]
	worked := 0
	ask := func(most, x int) {
		if got, _ := s.of(most, keyOf(x), func() (int, error) { worked++; return 10 * x, nil }); got != 10*x {
			t.Errorf("of %d it says %d", x, got)
		}
	}
	for x := range 8 {
		ask(8, x)
	}
	ask(8, 0) // which is the latest now
	for x := 10; x < 12; x++ {
		ask(3, x)
	}
	if len(s.answers) != 3 || len(s.order) != 3 {
		t.Errorf("%d answers are kept", len(s.answers))
	}
	worked = 0
	ask(3, 0)
	ask(3, 10)
	ask(3, 11)
	if worked != 0 {
		t.Errorf("%d of the three asked for last are worked out again", worked)
	}
}
