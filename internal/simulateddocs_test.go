package internal_test

import (
	"fmt"
	"strconv"

	"spile/internal/engine/pool"
)

// What make coverage found.
func init() {
	made["coverage"] = func() string {
		head := []string{"what is otherwise than assumed", "studies", "tables", "gain, %", "one new season, %",
			"width", "gain by kr, %", "season by kr, %", "half-life, %", "recommended and best, %",
			"chance of that stated too high, %", "net told too high, %", "the same unshrunk, %"}
		var rows [][]string
		for _, s := range pool.Worlds {
			of := func(n float64, digits int) string {
				if n == 0 {
					return ""
				}
				return strconv.FormatFloat(n, 'f', digits, 64)
			}
			chosen := func(x float64, digits int) string {
				if s.Best == 0 {
					return ""
				}
				return strconv.FormatFloat(x, 'f', digits, 64)
			}
			held := func(h pool.Held) string { return fmt.Sprintf("%.1f (%.1f)", h.Share, h.Error) }
			rows = append(rows, []string{s.World, strconv.Itoa(s.Studies), strconv.Itoa(s.Tables), held(s.Gains),
				held(s.Season), of(s.Width, 2), of(s.KR[0], 1), of(s.KR[1], 1), of(s.HalfLife, 1), chosen(s.Best, 0),
				chosen(s.Stated, 1), chosen(s.Over[0], 0), chosen(s.Over[1], 0)})
		}
		return markdown(head, rows...)
	}
	made["slopes"] = func() string {
		head := []string{"a standard deviation adds", "tables", "not reckoned with", "where a test shows it",
			"no prior", "prior of 0.05", "prior of 0.1", "prior of 0.2"}
		var rows [][]string
		for _, s := range pool.Slopes {
			row := []string{strconv.FormatFloat(s.Slope, 'f', -1, 64), strconv.Itoa(s.Tables)}
			for _, w := range s.Ways {
				g := w.Gains
				row = append(row, fmt.Sprintf("%.1f (%.1f); %.1f; %.1f", g.Share, g.Error, w.Error, w.Loss))
			}
			rows = append(rows, row)
		}
		return markdown(head, rows...)
	}
}
