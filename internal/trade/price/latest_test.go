package price

import (
	"testing"
	"time"
)

// The day of the prices tells the last season that there may be anything of, else today does: also where the prices are
// of 1900, which is asked once and not again of every study.
func TestLatest(t *testing.T) {
	day := time.Date(2025, 11, 30, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		asOf  string
		today time.Time
		want  int
	}{{"2024-03-01", day, 2025}, {"2024-03-01", time.Time{}, 2025}, {"1900-11-01", day, 2026},
		{"1900-11-01", time.Time{}, 0}, {"1025-11-01", time.Time{}, 0}, {"soon", day, 2026}} {
		if got := Latest(&Prices{AsOf: c.asOf}, c.today); got != c.want {
			t.Errorf("prices of %s, read on %v: %d, want %d", c.asOf, c.today, got, c.want)
		}
	}
	if got := Latest(nil, day); got != 2026 {
		t.Errorf("without prices: %d", got)
	}
}
