package show

import (
	"slices"
	"testing"

	"spile/internal/view/say"
)

// A page and a report have very many studies as ticks in one figure, not as rows in very many parts.
func TestVeryManyStudiesAreOnePart(t *testing.T) {
	a := fixture()
	w := Of(a, say.In("en"))
	parts := func() (bars, intervals int) {
		for _, s := range w.Spreads(Page, "gains") {
			for _, f := range s.Figures {
				switch f.Name {
				case "bars":
					bars = len(f.Parts)
				case "intervals":
					intervals = len(f.Parts)
				}
			}
		}
		return bars, intervals
	}
	once := slices.Clone(a.Effects.Studies)
	for _, times := range []int{30, 200} {
		a.Effects.Studies = slices.Repeat(once, times)
		rows := 0
		for _, g := range w.Intervals().Groups {
			rows += len(g.Studies)
		}
		if many := times == 200; rows <= 50 || rows > 400 != many {
			t.Fatalf("%d rows try nothing here", rows)
		}
		bars, intervals := parts()
		report := len(w.intervalsInParts())
		if want := times == 200; (bars == 1) != want || (intervals == 1) != want || (report == 1) != want {
			t.Errorf("%d rows: %d parts of bars, %d of intervals, %d in the report", rows, bars, intervals, report)
		}
	}
}
