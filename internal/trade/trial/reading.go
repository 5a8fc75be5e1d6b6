package trial

import (
	"math"
	"slices"
	"time"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// Plot is a unit of a trial in one season.
type Plot struct {
	Unit     string       `json:"unit"`
	Block    string       `json:"block,omitempty"`
	Mainline string       `json:"mainline,omitempty"` // that it draws its vacuum from; "": not given
	Practice practice.Key `json:"practice"`
	DropAge  *int         `json:"drop_age,omitempty"`
	Taps     int          `json:"taps"` // as planned; a count overrules it
	// that stands for the practice, so that who reads does not know it; "": none
	Code string `json:"code,omitempty"`
}

// Reading is what was read at a unit at one time: one of Volume, Counter and Depth, or none where only sugar or vacuum
// was read.
type Reading struct {
	Unit    string
	At      time.Time
	Volume  *unit.Volume // gathered since the reading before
	Counter *float64     // dumps, as the counter shows; a unit's first reading is where its counter starts
	Depth   *unit.Length // of sap in the tank, which is then emptied
	Brix    *float64
	Vacuum  *unit.Pressure
	Note    string
	Where   note.Where
}

// Flow is how fast sap came while a releaser's dump was measured.
type Flow string

const (
	Slow Flow = "slow"
	Fast Flow = "fast"
)

// Calibration is one measured dump of a releaser. Mechanical releasers drift by 5 to 15 % over a season (common
// practice, no source), and give more a dump the faster sap comes, so slow and fast are measured at the start and at
// the end.
type Calibration struct {
	Unit string
	At   time.Time
	Flow Flow
	Dump unit.Volume
}

// Tank is a unit's volume by depth, straight between the depths given, which rise from 0.
type Tank struct {
	Unit    string
	Depths  []unit.Length
	Volumes []unit.Volume
}

// EventKind is what happened.
type EventKind string

const (
	Leak         EventKind = "leak"
	FreezeUp     EventKind = "freeze-up"
	PumpOff      EventKind = "pump-off"
	CounterReset EventKind = "counter-reset"
	Overflow     EventKind = "overflow"
	Animals      EventKind = "animal-damage"
	TapDead      EventKind = "tap-dead"
	Heaved       EventKind = "heaved"
	Unhooked     EventKind = "unhooked"
	Retapped     EventKind = "re-tapped"
)

// Happenings are all kinds of event.
var Happenings = []struct {
	Kind   EventKind
	Spoils bool // it stops or loses sap, and is a finding; else it makes a run 'at least', or is a matter of taps
}{
	{Leak, true}, {FreezeUp, true}, {PumpOff, true}, {CounterReset, false}, {Overflow, false}, {Animals, true},
	{TapDead, true},
	{Heaved, true}, {Unhooked, true}, {Retapped, false},
}

// EventKinds are all kinds.
func EventKinds() (kinds []EventKind) {
	for _, h := range Happenings {
		kinds = append(kinds, h.Kind)
	}
	return kinds
}

// Spoils is true of what stops or loses sap.
func (k EventKind) Spoils() bool {
	for _, h := range Happenings {
		if h.Kind == k {
			return h.Spoils
		}
	}
	return true
}

// Event is what happened to some units between two times, both in.
type Event struct {
	Kind     EventKind
	From, To time.Time
	Units    []string // none: all
	Note     string
	Where    note.Where
}

// Count is taps counted at a unit. Holes of a re-tapped tree beyond its first are in Again, so that no tap counts
// twice.
type Count struct {
	Unit  string
	At    time.Time
	Taps  int // all holes with a spout
	Again int
	Note  string // what else was written down of its tap holes: crew, bit, depth, shavings
	Where note.Where
}

// Record is a season of a trial as it was written down.
type Record struct {
	Season       int           `json:"season"`
	Plots        []Plot        `json:"units"`
	Readings     []Reading     `json:"readings,omitempty"`
	Calibrations []Calibration `json:"calibrations,omitempty"`
	Tanks        []Tank        `json:"tanks,omitempty"`
	Events       []Event       `json:"events,omitempty"`
	Counts       []Count       `json:"counts,omitempty"`
	Exclusions   []Exclusion   `json:"exclusions,omitempty"` // decided by the user
}

// Exclusion takes the runs that ended after From and up to To out of the sums, for a whole block: what one unit missed
// its neighbours may not keep.
type Exclusion struct {
	Block    string
	From, To time.Time
}

// Check is every fault of a record.
func (s Record) Check() note.Faults {
	c := checked{known: map[string]bool{}, dumps: map[string]bool{}, tanks: map[string]bool{}}
	for _, p := range s.Plots {
		if c.known[p.Unit] {
			c.fault(note.Where{}, "the unit %s stands twice among the units of the trial", p.Unit)
		}
		c.known[p.Unit] = true
	}
	c.measured(s)
	type instant struct {
		unit string
		at   int64
	}
	seen := make(map[instant]bool, len(s.Readings))
	for _, r := range s.Readings {
		key := instant{r.Unit, r.At.Unix()}
		if seen[key] {
			c.fault(r.Where, "the unit %s was read twice at %s; allowed: one reading", r.Unit,
				r.At.Format(time.DateOnly))
		}
		seen[key] = true
		c.reading(r)
	}
	for _, e := range s.Events {
		c.event(e)
	}
	for _, x := range s.Counts {
		if !c.known[x.Unit] || x.Taps < 1 || x.Again < 0 || x.Again >= x.Taps {
			c.fault(note.Where{},
				"%d taps were counted at unit %s, %d of them second holes; allowed: a unit of the trial, 1 tap or "+
					"more besides second holes",
				x.Taps, x.Unit, x.Again)
		}
	}
	return c.faults
}

// checked is a record that is being checked.
type checked struct {
	faults              note.Faults
	known, dumps, tanks map[string]bool // units: those of the trial, those whose dumps and tanks were measured
}

func (c *checked) fault(w note.Where, key string, args ...any) {
	c.faults = append(c.faults, note.New(key, args...).At(w))
}

// measured are dumps and tanks.
func (c *checked) measured(s Record) {
	for _, x := range s.Calibrations {
		if !(x.Dump > 0) || math.IsInf(float64(x.Dump), 0) {
			c.fault(note.Where{}, "a dump of %s measures %v litres; allowed: more than 0", x.Unit, float64(x.Dump))
		}
		c.dumps[x.Unit] = true
	}
	for _, t := range s.Tanks {
		if !t.rises() {
			c.fault(note.Where{}, "the tank of %s needs depths that rise from 0, each with a volume that rises too",
				t.Unit)
		}
		c.tanks[t.Unit] = true
	}
}

func (t Tank) rises() bool {
	if len(t.Depths) != len(t.Volumes) || len(t.Depths) < 2 || t.Depths[0] != 0 || !(t.Volumes[0] >= 0) {
		return false
	}
	for i := 1; i < len(t.Depths); i++ {
		if !(t.Depths[i] > t.Depths[i-1] && t.Volumes[i] > t.Volumes[i-1]) {
			return false
		}
	}
	return true
}

func (c *checked) reading(r Reading) {
	if !c.known[r.Unit] {
		c.fault(r.Where, "the unit %s is none of the trial's units", r.Unit)
	}
	ways := 0
	amount := func(x float64, given bool) {
		if given {
			ways++
			if !(x >= 0) || math.IsInf(x, 0) {
				c.fault(r.Where, "%v was read at unit %s; allowed: 0 or more", x, r.Unit)
			}
		}
	}
	amount(value(r.Volume), r.Volume != nil)
	amount(value(r.Counter), r.Counter != nil)
	amount(value(r.Depth), r.Depth != nil)
	if ways > 1 {
		c.fault(r.Where, "a reading of unit %s has more than one of volume, counter and depth; allowed: one", r.Unit)
	}
	if r.Counter != nil && !c.dumps[r.Unit] && !c.dumps[""] { // once for a unit
		c.dumps[r.Unit] = true
		c.fault(r.Where,
			"the counter of unit %s was read, but no dump of it was measured; allowed: a measured dump with the "+
				"readings or before them",
			r.Unit)
	}
	if r.Depth != nil && !c.tanks[r.Unit] && !c.tanks[""] {
		c.tanks[r.Unit] = true
		c.fault(r.Where,
			"the tank of unit %s was read, but not how much it holds by depth; allowed: its volumes by depth with "+
				"the readings or before them",
			r.Unit)
	}
	if r.Brix != nil && !(*r.Brix >= 0 && *r.Brix <= 20) {
		c.fault(r.Where, "the sap of unit %s has %v °Bx; allowed: 0 to 20", r.Unit, *r.Brix)
	}
	if r.Vacuum != nil && (!(*r.Vacuum >= 0) || unit.BadGauge(*r.Vacuum, 0)) {
		c.fault(r.Where, "the vacuum of unit %s is %v kPa; allowed: 0 to the standard atmosphere", r.Unit,
			float64(*r.Vacuum))
	}
}

func (c *checked) event(e Event) {
	if !slices.Contains(EventKinds(), e.Kind) {
		c.fault(e.Where, "there is no event %s", string(e.Kind))
	}
	if e.To.Before(e.From) {
		c.fault(e.Where, "the event %s ends before it begins", note.Term(e.Kind))
	}
	for _, u := range e.Units {
		if !c.known[u] {
			c.fault(e.Where, "the unit %s is none of the trial's units", u)
		}
	}
}

// DayOnly says whether the day alone of a reading is known.
func DayOnly(t time.Time) bool { return !t.IsZero() && t.Equal(t.Truncate(24*time.Hour)) }

func value[T ~float64](x *T) float64 {
	if x == nil {
		return 0
	}
	return float64(*x)
}
