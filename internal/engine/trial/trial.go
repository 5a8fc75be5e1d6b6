// Package trial is a scientist's own experiment, from the question to a study of the evidence: its design and layout,
// the readings of a season and what spoils them, its analysis (M6) and its power. Values in, values out.
//
// The files follow the ideas: trial (a season's yields), analyse and gains (what they say), mvt (several comparisons at
// once), study (into the evidence), design and layout (before the season), power, reading, season and finding (from what
// was read to a season's yields, and what spoils a comparison).
package trial

import (
	"fmt"
	"math"
	"slices"
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

// Reference is the practice that gains are against: the one asked for, else unsanitized, else the first of the set that
// the rows hold.
func Reference(rows []UnitSeason, set practice.Set, asked practice.Key) practice.Key {
	if asked != "" {
		return asked
	}
	first := practice.Key("")
	for _, p := range set {
		if slices.ContainsFunc(rows, func(r UnitSeason) bool { return r.Practice == p.Key }) {
			if p.Key == practice.Unsanitized {
				return p.Key
			}
			if first == "" {
				first = p.Key
			}
		}
	}
	return first
}

// What a yield and a count of taps can be at all; a yield beyond usual is warned of.
const (
	maxPerTap = 1e6 // litres
	minPerTap = 1e-6
	usual     = 400.0 // litres a tap and season, far above what the best taps give (common practice, no source)
	maxTaps   = 1e5
)

// check finds every fault of the rows.
func check(rows []UnitSeason, set practice.Set) error {
	var faults note.Faults
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
			at(r, "practice", note.New("the practice %s is not known; known are %s", string(r.Practice), set.Names()))
		}
		ok := true
		if !(r.Taps >= 1 && r.Taps <= maxTaps) {
			at(r, "taps", note.New("the unit %s has %v taps; allowed: 1 or more", r.Unit, r.Taps))
			ok = false
		}
		switch v := float64(r.Volume); {
		case !(v > 0) || math.IsInf(v, 1):
			at(r, "volume", note.New("the unit %s gave %v litres; allowed: more than 0 (a unit that gave nothing tells of a fault: leave its row out and say why)", r.Unit, v))
		case ok && !(r.PerTap() >= minPerTap && r.PerTap() <= maxPerTap):
			at(r, "volume", note.New("the unit %s gave %v litres a tap; allowed: a millionth to a million", r.Unit, r.PerTap()))
		}
		if r.Brix != nil && !(*r.Brix > 0 && *r.Brix <= 20) {
			at(r, "brix", note.New("the sap of unit %s has %v °Bx; allowed: above 0 and at most 20", r.Unit, *r.Brix))
		}
		if r.Vacuum != nil && !(*r.Vacuum >= 0 && *r.Vacuum <= unit.Atmosphere(0)) {
			at(r, "vacuum", note.New("the vacuum of unit %s is %v kPa; allowed: 0 to the standard atmosphere, %.3f kPa", r.Unit, float64(*r.Vacuum), float64(unit.Atmosphere(0))))
		}
		if r.DropAge != nil && (*r.DropAge < 0 || *r.DropAge > 100) {
			at(r, "drop_age", note.New("the drops of unit %s are %d seasons old; allowed: 0 to 100", r.Unit, *r.DropAge))
		}
		key := fmt.Sprint(r.Season, "\x00", r.Block, "\x00", r.Unit)
		if before, twice := seen[key]; twice {
			at(r, "unit", note.New("the unit %s stands twice in %d%s; allowed: one row a unit and season", r.Unit, r.Season, besides(before.Where)))
		}
		seen[key] = r
	}
	return faults.Err()
}

// besides names the row where the same thing stood before.
func besides(w note.Where) string {
	if w.Row == 0 {
		return ""
	}
	return fmt.Sprintf(" (row %d)", w.Row)
}

// identify gives each row the number of its unit. A unit's name is its own in the whole trial; where one name stands in
// two blocks in one season, names are taken as numbered within blocks. The error is of a unit that changes its block.
func identify(rows []UnitSeason) (ids []int, notes []note.Note, err error) {
	within := false
	block := map[string]string{} // by season and unit
	for _, r := range rows {
		key := fmt.Sprint(r.Season, "\x00", r.Unit)
		if b, ok := block[key]; ok && b != r.Block {
			within = true
		}
		block[key] = r.Block
	}
	if within {
		notes = append(notes, note.New("units of different blocks carry the same name, so they are taken as numbered within their block"))
	}
	number := map[string]int{}
	home := map[string]UnitSeason{}
	var faults note.Faults
	ids = make([]int, len(rows))
	for i, r := range rows {
		key := r.Unit
		if within {
			key = r.Block + "\x00" + r.Unit
		}
		first, have := home[key]
		if !have {
			number[key] = len(number)
			home[key] = r
		} else if first.Block != r.Block {
			w := r.Where
			w.Column = "block"
			faults = append(faults, note.New("the unit %s stands in block %s in %d and in block %s in %d; allowed: one block over all seasons",
				r.Unit, first.Block, first.Season, r.Block, r.Season).At(w))
		}
		ids[i] = number[key]
	}
	return ids, notes, faults.Err()
}
