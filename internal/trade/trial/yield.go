package trial

import (
	"fmt"
	"math"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// UnitSeason is the yield of one unit in one season: a row of the season table. What was not given is nil or "".
type UnitSeason struct {
	Unit     string // its tag
	Block    string
	Season   int // the year of the spring
	Practice practice.Key
	DropAge  *int // seasons in use; 0 in the first
	Taps     float64
	Volume   unit.Volume // of the whole unit over the season
	AtLeast  bool        // the unit gave more than Volume: an overflow, a counter that was reset
	Brix     *float64    // °Bx, weighted by volume: that of all its sap together
	Vacuum   *unit.Pressure
	Where    note.Where
}

// PerTap is litres a tap.
func (r UnitSeason) PerTap() float64 { return float64(r.Volume) / r.Taps }

// What a yield and a count of taps can be at all.
const (
	maxPerTap = 1e6 // litres
	minPerTap = 1e-6
	maxTaps   = 1e5
)

// Check is every fault of the rows of a season table.
func Check(rows []UnitSeason, set practice.Set) (faults note.Faults) {
	at := func(r UnitSeason, column string, n note.Note) {
		w := r.Where
		w.Column = column
		faults = append(faults, n.At(w))
	}
	if len(rows) == 0 {
		return note.Faults{note.New("the trial has no rows; allowed: one row a unit and season")}
	}
	seen := map[string]UnitSeason{}
	for _, r := range rows {
		if strings.TrimSpace(r.Unit) == "" {
			at(r, "unit", note.New("a row has no unit"))
		}
		if _, ok := set.Find(r.Practice); !ok {
			at(r, "practice", set.Unknown(r.Practice))
		}
		ok := true
		if !(r.Taps >= 1 && r.Taps <= maxTaps) {
			at(r, "taps", note.New("the unit %s has %v taps; allowed: 1 or more", r.Unit, r.Taps))
			ok = false
		}
		switch v := float64(r.Volume); {
		case !(v > 0) || math.IsInf(v, 1):
			at(r, "volume",
				note.New("the unit %s gave %v litres; allowed: more than 0 (a unit that gave nothing tells of a "+
					"fault: leave its row out and say why)", r.Unit, v))
		case ok && !(r.PerTap() >= minPerTap && r.PerTap() <= maxPerTap):
			at(r, "volume", note.New("the unit %s gave %v litres a tap; allowed: a millionth to a million", r.Unit,
				r.PerTap()))
		}
		if r.Brix != nil && !(*r.Brix > 0 && *r.Brix <= 20) {
			at(r, "brix", note.New("the sap of unit %s has %v °Bx; allowed: above 0 and at most 20", r.Unit, *r.Brix))
		}
		if r.Vacuum != nil && !(*r.Vacuum >= 0 && *r.Vacuum <= unit.Atmosphere(0)) {
			at(r, "vacuum", note.New("the vacuum of unit %s is %v kPa; allowed: 0 to the standard atmosphere, %.3f kPa",
				r.Unit, float64(*r.Vacuum), float64(unit.Atmosphere(0))))
		}
		if r.DropAge != nil && (*r.DropAge < 0 || *r.DropAge > 100) {
			at(r, "drop_age", note.New("the drops of unit %s are %d seasons old; allowed: 0 to 100", r.Unit,
				*r.DropAge))
		}
		key := fmt.Sprint(r.Season, "\x00", r.Block, "\x00", r.Unit)
		if before, twice := seen[key]; twice {
			at(r, "unit", note.New("the unit %s stands twice in %d%s; allowed: one row a unit and season", r.Unit,
				r.Season, besides(before.Where)))
		}
		seen[key] = r
	}
	return faults
}

// besides names the row where the same thing stood before.
func besides(w note.Where) string {
	if w.Row == 0 {
		return ""
	}
	return fmt.Sprintf(" (row %d)", w.Row)
}
