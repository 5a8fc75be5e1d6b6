package trial

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"spile/internal/note"
	"spile/internal/trade/unit"
)

// A log gathered as it is read says what it says when all of it is there, or that readings came late.
func TestGatheredAsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		asRead, whole := Log{Unit: "A1"}, Log{Unit: "A1", Whole: true}
		at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
		often := rapid.IntRange(1, 120).Draw(t, "minutes between readings")
		count := 0.
		for row := range rapid.IntRange(1, 400).Draw(t, "rows") {
			at = at.Add(time.Duration(often) * time.Minute)
			r := Reading{Unit: "A1", At: at, Where: note.Where{File: "log.csv", Row: row + 2, Column: "date"}}
			switch rapid.IntRange(0, 60).Draw(t, "what is odd") {
			case 0:
				r.At = at.AddDate(0, 0, -rapid.IntRange(0, 3).Draw(t, "days back"))
			case 1:
				count = 0
			case 2:
				r.Note = "frozen"
			case 3:
				at = at.AddDate(0, 0, 1)
			}
			switch count++; rapid.IntRange(0, 9).Draw(t, "way") {
			case 0:
				r.Volume = new(unit.Volume(count))
			case 1:
				r.Depth = new(unit.Length(count))
			default:
				r.Counter = new(count)
			}
			r.Brix, r.Vacuum = new(1+count/100), new(unit.Pressure(80))
			asRead.Add(r)
			whole.Add(r)
		}
		if asRead.Late() {
			return
		}
		where := note.Where{File: "log.csv"}
		if diff := cmp.Diff(whole.Twice(), asRead.Twice()); diff != "" {
			t.Fatal(diff)
		}
		if asRead.Close() != whole.Close() {
			t.Fatalf("%t and %t", asRead.Close(), whole.Close())
		}
		if whole.Close() {
			if diff := cmp.Diff(whole.Daily(where), asRead.Daily(where)); diff != "" {
				t.Fatal(diff)
			}
		} else if diff := cmp.Diff(whole.Readings(where), asRead.Readings(where)); diff != "" {
			t.Fatal(diff)
		}
	})
}

// However long a logger ran, no more than two days of its readings are held.
func TestLoggerInLittleRoom(t *testing.T) {
	l, at, n := Log{Unit: "A1"}, time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC), 0.
	for range 100 * 24 * 60 {
		l.Add(Reading{Unit: "A1", At: at, Counter: new(n), Note: "x"})
		at, n = at.Add(time.Minute), n+1
	}
	if cap(l.samples) > 3*24*60 || len(l.notes) > 24*60 || l.Late() {
		t.Errorf("room for %d readings and %d notes; late: %t", cap(l.samples), len(l.notes), l.Late())
	}
	if got := l.Daily(note.Where{}); len(got) != 101 || *got[100].Counter != n-1 {
		t.Errorf("%d days", len(got))
	}
}
