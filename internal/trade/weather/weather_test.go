package weather

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/internal/trade/unit"
)

func day(month time.Month, d int, low, high float64) Day {
	return Day{time.Date(2024, month, d, 0, 0, 0, 0, time.UTC), new(unit.Temperature(low)), new(unit.Temperature(high))}
}

// spring is all of February to April 2024 (90 days), cold, with what is given laid over.
func spring(over ...Day) []Day {
	var days []Day
	for t := time.Date(2024, 2, 1, 0, 0, 0, 0, time.UTC); t.Month() < 5; t = t.AddDate(0, 0, 1) {
		d := day(t.Month(), t.Day(), -10, -2)
		for _, o := range over {
			if o.Date.Equal(t) {
				d = o
			}
		}
		days = append(days, d)
	}
	return days
}

// Counted by hand.
func TestOf(t *testing.T) {
	s, err := Of(2024, spring(
		day(3, 1, -3, 5), day(3, 2, -0.5, 0.5), // freeze-thaw
		day(3, 3, 0, 4), day(3, 4, -4, 0), // exactly zero is neither
		// a warm spell of four days, three of them hot
		day(3, 10, 1, 9), day(3, 11, 2, 16), day(3, 12, 3, 18), day(3, 13, 2, 15),
		// freeze-thaw, the last
		day(3, 20, -1, 6),
		// after the season
		day(4, 20, 5, 14), day(4, 21, 5, 14), day(4, 22, 5, 14), day(4, 23, 5, 14), day(4, 24, 5, 14),
	), Usual())
	if err != nil {
		t.Fatal(err)
	}
	if s.FreezeThaw != 3 || s.WarmSpell != 4 || s.WarmFrom.Day() != 10 || s.Missing != 0 || s.Class != Short ||
		!s.HotEnd {
		t.Errorf("got %+v", s)
	}
	// means above 5: 11 March 9, 12 March 10.5, 13 March 8.5, and five days of 9.5 in April
	if want := 4 + 5.5 + 3.5 + 5*4.5; s.DegreeDays != want {
		t.Errorf("%v degree days, want %v", s.DegreeDays, want)
	}
	r := Usual()
	r.LastDays = 5
	if s, _ := Of(2024, spring(day(3, 11, 2, 16), day(3, 12, 3, 18), day(3, 13, 2, 15), day(3, 20, -1, 6)),
		r); s.HotEnd {
		t.Error("a hot spell seven days before the last freeze-thaw day ends no season with a rule of five")
	}
}

func TestClass(t *testing.T) {
	for _, c := range []struct {
		n    int
		want Class
	}{{0, Short}, {25, Short}, {26, Normal}, {44, Normal}, {45, Long}, {90, Long}} {
		days := spring()
		for i := range c.n {
			*days[i].Max = 3
		}
		s, err := Of(2024, days, Usual())
		if err != nil || s.Class != c.want || s.FreezeThaw != c.n {
			t.Errorf("%d freeze-thaw days: %v, %d, %v; want %v", c.n, s.Class, s.FreezeThaw, err, c.want)
		}
	}
	if s, _ := Of(2024, spring()[20:], Usual()); s.Class != Unknown || s.Missing != 20 {
		t.Errorf("20 days missing: %v, %d", s.Class, s.Missing)
	}
}

func TestDays(t *testing.T) {
	on := time.Date(2024, 3, 1, 0, 0, 0, 0, time.UTC)
	days, notes, err := Days([]Record{
		{"A", on, "TMAX", 56, ""}, {"A", on, "TMIN", -33, ""}, {"A", on, "PRCP", 12, ""},
		{"A", on.AddDate(0, 0, -1), "TMIN", -9999, ""}, {"A", on.AddDate(0, 0, -1), "TMAX", 250, "I"},
		{"A", on.AddDate(0, 0, -2), "TMAX", 10, ""},
	})
	if err != nil || len(days) != 2 || *days[1].Max != 5.6 || *days[1].Min != -3.3 || days[0].Min != nil ||
		len(notes) != 1 {
		t.Errorf("got %v, %v, %v", days, notes, err)
	}
	for name, bad := range map[string][]Record{
		"two stations":  {{"A", on, "TMAX", 56, ""}, {"B", on, "TMIN", -33, ""}},
		"twice":         {{"A", on, "TMAX", 56, ""}, {"A", on, "TMAX", 57, ""}},
		"not a reading": {{"A", on, "TMAX", 999, ""}},
	} {
		if _, _, err := Days(bad); err == nil {
			t.Errorf("%s passes", name)
		}
	}
	if _, err := Of(2024, []Day{day(3, 1, 5, 2)}, Usual()); err == nil {
		t.Error("a lowest above the highest passes")
	}
}

// Warming every day never makes for colder counts.
func TestWarmer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := spring()
		for i := range days {
			low := rapid.Float64Range(-20, 15).Draw(t, "low")
			days[i].Min, days[i].Max = new(unit.Temperature(low)),
				new(unit.Temperature(low+rapid.Float64Range(0, 15).Draw(t, "range")))
		}
		before, err := Of(2024, days, Usual())
		if err != nil {
			t.Fatal(err)
		}
		for i := range days {
			*days[i].Min++
			*days[i].Max++
		}
		after, _ := Of(2024, days, Usual())
		if after.DegreeDays < before.DegreeDays {
			t.Fatalf("warmer days, fewer degree days: %v, %v", before.DegreeDays, after.DegreeDays)
		}
		if before.FreezeThaw != len(before.Dates) || before.WarmSpell > 90 {
			t.Fatalf("%+v", before)
		}
	})
}
