package rotation

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Staged replacement of old drops every three seasons, by hand: a third each season, the oldest first, then the third
// that was replaced first.
func TestWayByHand(t *testing.T) {
	way := Way([]Lot{{Old, 1}}, 3, 5, false)
	for s, want := range []map[int]float64{
		{Old: 2. / 3, 0: 1. / 3}, {Old: 1. / 3, 1: 1. / 3, 0: 1. / 3}, {2: 1. / 3, 1: 1. / 3, 0: 1. / 3},
		{2: 1. / 3, 1: 1. / 3, 0: 1. / 3}, {2: 1. / 3, 1: 1. / 3, 0: 1. / 3},
	} {
		got := map[int]float64{}
		for _, l := range way[s] {
			got[l.Age] += l.Share
		}
		for age := Old; age < 5; age++ {
			near(t, "share", got[age], want[age], 1e-12)
		}
	}
	if once := Way([]Lot{{Old, 1}}, 2, 4, true); once[0][0] != (Lot{0, 1}) || once[1][0] != (Lot{1, 1}) ||
		once[2][0] != (Lot{0, 1}) {
		t.Errorf("all at once: %v", once)
	}
	if left := Way(Staged(2), 0, 3, false); left[2][0].Age+left[2][1].Age != 3+4 {
		t.Errorf("left alone: %v", left)
	}
}

// All drops are there in every season, none older than a rotation once it has gone round, and a rotation that goes on
// stays as it is.
func TestWayProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := []Lot{{Old, 1}}
		if n := rapid.IntRange(0, 8).Draw(t, "from"); n > 0 {
			from = Staged(n)
		}
		every, atOnce := rapid.IntRange(0, 8).Draw(t, "every"), rapid.Bool().Draw(t, "at once")
		way := Way(from, every, 20, atOnce)
		for s, lots := range way {
			sum := 0.
			for _, l := range lots {
				sum += l.Share
				if every > 0 && s >= every && (l.Age == Old || l.Age >= every) {
					t.Fatalf("season %d: %v", s, lots)
				}
			}
			if math.Abs(sum-1) > 1e-9 {
				t.Fatalf("season %d: %v", s, lots)
			}
		}
		if every > 0 && !atOnce {
			for _, l := range Way(Staged(every), every, 3, false)[2] {
				if math.Abs(l.Share-1/float64(every)) > 1e-9 {
					t.Fatalf("%v", l)
				}
			}
		}
	})
}
