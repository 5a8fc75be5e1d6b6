package advice

import (
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
)

// An answer that is being worked out is not one to be had.
func TestAnswerIsHadOnceWorkedOut(t *testing.T) {
	var s stage[int]
	s.get(keyOf("Marsh"), func() (int, error) {
		if s.has(keyOf("Marsh")) {
			t.Error("it is had while it is worked out")
		}
		return 7, nil
	})
	if !s.has(keyOf("Marsh")) {
		t.Error("it is not had once it is worked out")
	}
}

// What many ask at one time is worked out once, and all of them get it.
func TestEqualQuestionsAtOnce(t *testing.T) {
	const many = 50
	var s stage[int]
	var worked atomic.Int32
	var asking, answered sync.WaitGroup
	asking.Add(many)
	for range many {
		answered.Go(func() {
			asking.Done()
			got, err := s.get(keyOf("Marsh"), func() (int, error) {
				worked.Add(1)
				asking.Wait() // all are there by now
				return 7, nil
			})
			if got != 7 || err != nil {
				t.Errorf("one is told %d, %v", got, err)
			}
		})
	}
	answered.Wait()
	if n := worked.Load(); n != 1 {
		t.Errorf("it is worked out %d times", n)
	}
}

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
