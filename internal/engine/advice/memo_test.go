package advice

import (
	"runtime"
	"testing"
)

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
	if len(s.order) != 3 {
		t.Errorf("%d answers are kept", len(s.order))
	}
	worked = 0
	ask(3, 0)
	ask(3, 10)
	ask(3, 11)
	if worked != 0 {
		t.Errorf("%d of the three asked for last are worked out again", worked)
	}
	held := s.held(3, keyOf(10), func() (int, error) { return 0, nil })
	for x := 20; x < 30; x++ {
		ask(3, x)
	}
	runtime.GC()
	worked = 0
	ask(3, 10)
	if ask(3, 0); worked != 1 {
		t.Errorf("%d of one that is held and one that is not are worked out again", worked)
	}
	runtime.KeepAlive(held)
}
