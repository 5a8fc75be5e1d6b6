package trial

import (
	"cmp"
	"math"
	"slices"
	"time"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/sap"
	"spile/internal/trade/unit"
)

// Plot is a unit of a trial in one season.
type Plot struct {
	Unit     string
	Block    string
	Mainline string // that it draws its vacuum from; "": not given
	Practice practice.Key
	DropAge  *int
	Taps     int // as planned; a count overrules it
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

// Calibration is one measured dump of a releaser. Mechanical releasers drift by 5 to 15 % over a season (common practice,
// no source), and give more a dump the faster sap comes, so slow and fast are measured at the start and at the end.
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

// EventKinds are all kinds.
func EventKinds() []EventKind {
	return []EventKind{Leak, FreezeUp, PumpOff, CounterReset, Overflow, Animals, TapDead, Heaved, Unhooked, Retapped}
}

// Event is what happened to some units between two times, both in.
type Event struct {
	Kind     EventKind
	From, To time.Time
	Units    []string // none: all
	Note     string
	Where    note.Where
}

// touches says whether an event is of the run between two readings. What happened at the time of a reading, or on the day
// of one of which the day alone is known, is of the run that the reading ends.
func (e Event) touches(r Run) bool {
	return (len(e.Units) == 0 || slices.Contains(e.Units, r.Unit)) && !e.From.After(dayEnd(r.To)) && e.To.After(dayEnd(r.From))
}

// dayOnly says whether the day alone of a reading is known.
func dayOnly(t time.Time) bool { return !t.IsZero() && t.Equal(t.Truncate(24*time.Hour)) }

// instant names a reading: a unit is read once at a time, to the second.
type instant struct {
	unit string
	at   int64
}

// dayEnd is the time of a reading, which is the end of its day where the day alone is known.
func dayEnd(t time.Time) time.Time {
	if dayOnly(t) {
		return t.Add(24*time.Hour - time.Second)
	}
	return t
}

// Count is taps counted at a unit. Holes of a re-tapped tree beyond its first are in Again, so that no tap counts twice.
type Count struct {
	Unit  string
	At    time.Time
	Taps  int // all holes with a spout
	Again int
	Note  string // what else was written down of its tap holes: crew, bit, depth, shavings
}

// Record is a season of a trial as it was written down.
type Record struct {
	Season       int
	Plots        []Plot
	Readings     []Reading
	Calibrations []Calibration
	Tanks        []Tank
	Events       []Event
	Counts       []Count
	Exclusions   []Exclusion // decided by the user
}

// Exclusion takes the runs that ended after From and up to To out of the sums, for a whole block: what one unit missed
// its neighbours may not keep.
type Exclusion struct {
	Block    string
	From, To time.Time
}

func (x Exclusion) covers(block string, r Run) bool {
	return x.Block == block && r.To.After(x.From) && !r.To.After(x.To)
}

// Run is what one unit gave between two readings.
type Run struct {
	Unit     string
	From, To time.Time // From is zero for a first reading
	Volume   unit.Volume
	AtLeast  bool // an overflow, or a counter that was reset
	Brix     *float64
	Vacuum   *unit.Pressure
	Out      bool // taken out with its block

	backwards bool
	aside     bool // sugar or vacuum by itself: nothing was gathered by then, and the run goes on
}

// Total is a season's sums.
type Total struct {
	Rows     []UnitSeason // of the plots, in their order; a unit that gave nothing has none
	Runs     []Run        // by unit in the order of the plots, then time
	Findings []Finding
	Notes    []note.Note
}

// check finds every fault of a record.
func (s Record) check() error {
	var faults note.Faults
	fault := func(w note.Where, key string, args ...any) { faults = append(faults, note.New(key, args...).At(w)) }
	known := map[string]bool{}
	for _, p := range s.Plots {
		if known[p.Unit] {
			fault(note.Where{}, "the unit %s stands twice among the units of the trial", p.Unit)
		}
		known[p.Unit] = true
	}
	dumps := map[string]bool{}
	for _, c := range s.Calibrations {
		if !(c.Dump > 0) || math.IsInf(float64(c.Dump), 0) {
			fault(note.Where{}, "a dump of %s measures %v litres; allowed: more than 0", c.Unit, float64(c.Dump))
		}
		dumps[c.Unit] = true
	}
	tanks := map[string]bool{}
	for _, t := range s.Tanks {
		rising := len(t.Depths) == len(t.Volumes) && len(t.Depths) >= 2 && t.Depths[0] == 0
		for i := 1; rising && i < len(t.Depths); i++ {
			rising = t.Depths[i] > t.Depths[i-1] && t.Volumes[i] > t.Volumes[i-1] && t.Volumes[0] >= 0
		}
		if !rising {
			fault(note.Where{}, "the tank of %s needs depths that rise from 0, each with a volume that rises too", t.Unit)
		}
		tanks[t.Unit] = true
	}
	seen := make(map[instant]bool, len(s.Readings))
	for _, r := range s.Readings {
		if !known[r.Unit] {
			fault(r.Where, "the unit %s is none of the trial's units", r.Unit)
		}
		key := instant{r.Unit, r.At.Unix()}
		if seen[key] {
			fault(r.Where, "the unit %s was read twice at %s; allowed: one reading", r.Unit, r.At.Format(time.DateOnly))
		}
		seen[key] = true
		ways := 0
		amount := func(x float64, given bool) {
			if given {
				ways++
				if !(x >= 0) || math.IsInf(x, 0) {
					fault(r.Where, "%v was read at unit %s; allowed: 0 or more", x, r.Unit)
				}
			}
		}
		amount(value(r.Volume), r.Volume != nil)
		amount(value(r.Counter), r.Counter != nil)
		amount(value(r.Depth), r.Depth != nil)
		if ways > 1 {
			fault(r.Where, "a reading of unit %s has more than one of volume, counter and depth; allowed: one", r.Unit)
		}
		if r.Counter != nil && !dumps[r.Unit] && !dumps[""] { // once for a unit
			dumps[r.Unit] = true
			fault(r.Where, "the counter of unit %s was read, but no dump of it was measured; allowed: a measured dump with the readings or before them", r.Unit)
		}
		if r.Depth != nil && !tanks[r.Unit] && !tanks[""] {
			tanks[r.Unit] = true
			fault(r.Where, "the tank of unit %s was read, but not how much it holds by depth; allowed: its volumes by depth with the readings or before them", r.Unit)
		}
		if r.Brix != nil && !(*r.Brix >= 0 && *r.Brix <= 20) {
			fault(r.Where, "the sap of unit %s has %v °Bx; allowed: 0 to 20", r.Unit, *r.Brix)
		}
		if r.Vacuum != nil && (!(*r.Vacuum >= 0) || unit.BadGauge(*r.Vacuum, 0)) {
			fault(r.Where, "the vacuum of unit %s is %v kPa; allowed: 0 to the standard atmosphere", r.Unit, float64(*r.Vacuum))
		}
	}
	for _, e := range s.Events {
		if !slices.Contains(EventKinds(), e.Kind) {
			fault(e.Where, "there is no event %s", string(e.Kind))
		}
		if e.To.Before(e.From) {
			fault(e.Where, "the event %s ends before it begins", note.Term(e.Kind))
		}
		for _, u := range e.Units {
			if !known[u] {
				fault(e.Where, "the unit %s is none of the trial's units", u)
			}
		}
	}
	for _, c := range s.Counts {
		if !known[c.Unit] || c.Taps < 1 || c.Again < 0 || c.Again >= c.Taps {
			fault(note.Where{}, "%d taps were counted at unit %s, %d of them second holes; allowed: a unit of the trial, 1 tap or more besides second holes", c.Taps, c.Unit, c.Again)
		}
	}
	return faults.Err()
}

func value[T ~float64](x *T) float64 {
	if x == nil {
		return 0
	}
	return float64(*x)
}

// dump is the volume of a dump at a time: the mean of slow and fast, each straight between its measurements and the
// same beyond them.
func (s Record) dump(u string, at time.Time) unit.Volume {
	own := slices.ContainsFunc(s.Calibrations, func(c Calibration) bool { return c.Unit == u })
	sum, n := 0.0, 0.0
	for _, f := range []Flow{Slow, Fast} {
		var points []Calibration
		for _, c := range s.Calibrations {
			if c.Flow == f && (c.Unit == u || !own && c.Unit == "") {
				points = append(points, c)
			}
		}
		if len(points) == 0 {
			continue
		}
		slices.SortStableFunc(points, func(a, b Calibration) int { return a.At.Compare(b.At) })
		i := 0
		for i < len(points) && points[i].At.Before(at) {
			i++
		}
		n++
		switch {
		case i == 0:
			sum += float64(points[0].Dump)
		case i == len(points):
			sum += float64(points[i-1].Dump)
		default:
			a, b := points[i-1], points[i]
			part := at.Sub(a.At).Hours() / b.At.Sub(a.At).Hours()
			sum += float64(a.Dump) + part*float64(b.Dump-a.Dump)
		}
	}
	return unit.Volume(sum / n)
}

// filled is what a tank holds at a depth, and whether that is beyond its last depth: full or overflowing.
func (s Record) filled(u string, d unit.Length) (v unit.Volume, full bool) {
	i := slices.IndexFunc(s.Tanks, func(t Tank) bool { return t.Unit == u })
	if i < 0 {
		i = slices.IndexFunc(s.Tanks, func(t Tank) bool { return t.Unit == "" })
	}
	t := s.Tanks[i]
	for k := 1; k < len(t.Depths); k++ {
		if d <= t.Depths[k] {
			part := float64((d - t.Depths[k-1]) / (t.Depths[k] - t.Depths[k-1]))
			return t.Volumes[k-1] + unit.Volume(part)*(t.Volumes[k]-t.Volumes[k-1]), false
		}
	}
	return t.Volumes[len(t.Volumes)-1], true
}

// Sum turns a record into the season's yields and lists what spoils the comparison. Nothing is taken out but what
// Exclusions name. The error is note.Faults.
func (s Record) Sum() (*Total, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	t := &Total{}
	read := map[string][]Reading{}
	for _, r := range s.Readings {
		read[r.Unit] = append(read[r.Unit], r)
	}
	for _, p := range s.Plots {
		runs := s.runs(p, read[p.Unit])
		row := UnitSeason{Unit: p.Unit, Block: p.Block, Season: s.Season, Practice: p.Practice, DropAge: p.DropAge, Taps: float64(s.taps(p))}
		var sugar, mass, vacuum, gauges, sweet float64
		for i := range runs {
			r := &runs[i]
			for _, x := range s.Exclusions {
				r.Out = r.Out || x.covers(p.Block, *r)
			}
			if r.Vacuum != nil {
				vacuum, gauges = vacuum+float64(*r.Vacuum), gauges+1
			}
			if r.Out {
				continue
			}
			row.Volume += r.Volume
			row.AtLeast = row.AtLeast || r.AtLeast
			if r.Brix != nil {
				sweet += float64(r.Volume)
				sugar += float64(sap.Sugar(r.Volume, *r.Brix))
				mass += float64(sap.Mass(r.Volume, *r.Brix))
			}
		}
		if mass > 0 {
			row.Brix = new(100 * sugar / mass)
			if sweet < 0.8*float64(row.Volume) {
				t.Notes = append(t.Notes, note.New("the sugar of unit %s was read for %v of its sap only", p.Unit, note.Percent(100*sweet/float64(row.Volume))))
			}
		}
		if gauges > 0 {
			row.Vacuum = new(unit.Pressure(vacuum / gauges))
		}
		t.Runs = append(t.Runs, runs...)
		if row.Volume > 0 {
			t.Rows = append(t.Rows, row)
		} else {
			t.Notes = append(t.Notes, note.New("nothing was gathered from unit %s, so it is not among the season's rows", p.Unit))
		}
	}
	t.Notes = append(t.Notes, s.drift()...)
	t.Findings = s.findings(t)
	return t, nil
}

// runs are one unit's volumes between its readings.
func (s Record) runs(p Plot, readings []Reading) []Run {
	slices.SortStableFunc(readings, func(a, b Reading) int { return a.At.Compare(b.At) })
	var runs []Run
	var counter *float64
	var since time.Time
	for _, r := range readings {
		run := Run{Unit: p.Unit, From: since, To: r.At, Brix: r.Brix, Vacuum: r.Vacuum}
		switch {
		case r.Volume != nil:
			run.Volume = *r.Volume
		case r.Depth != nil:
			run.Volume, run.AtLeast = s.filled(p.Unit, *r.Depth)
		case r.Counter != nil && counter == nil:
			counter, since = r.Counter, r.At
			if r.Vacuum != nil { // a start, at which nothing was gathered yet
				run.aside = true
				runs = append(runs, run)
			}
			continue
		case r.Counter != nil:
			middle := since.Add(r.At.Sub(since) / 2)
			dumps := *r.Counter - *counter
			if reset := s.reset(p.Unit, since, r.At, dumps < 0); reset != nil {
				dumps = *r.Counter // from 0; what came between the last reading and the reset is lost
				run.AtLeast = reset.After(since)
			} else if dumps < 0 {
				dumps, run.AtLeast, run.backwards = 0, true, true
			}
			run.Volume = unit.Volume(dumps) * s.dump(p.Unit, middle)
			counter = r.Counter
		default:
			if r.Vacuum == nil && r.Brix == nil {
				continue
			}
			run.aside = true
			runs = append(runs, run)
			continue
		}
		for _, e := range s.Events {
			if e.Kind == Overflow && e.touches(run) {
				run.AtLeast = true
			}
		}
		since = r.At
		runs = append(runs, run)
	}
	return runs
}

// reset is when a unit's counter was last set to 0 after a time and up to another, or at the first of them. A reset that
// is known to the day only may be of the run before or after: it is of this one where the counter fell.
func (s Record) reset(u string, after, to time.Time, fell bool) *time.Time {
	var last *time.Time
	for _, e := range s.Events {
		if e.Kind != CounterReset || len(e.Units) > 0 && !slices.Contains(e.Units, u) || e.To.Before(after) || e.From.After(to) {
			continue
		}
		if within := e.From.After(after) && e.To.Before(to); (within || fell) && (last == nil || e.To.After(*last)) {
			last = new(e.To)
		}
	}
	return last
}

// taps is the unit's first count without second holes, else what was planned.
func (s Record) taps(p Plot) int {
	counts := s.counts(p.Unit)
	if len(counts) == 0 {
		return max(1, p.Taps)
	}
	return counts[0].Taps - counts[0].Again
}

func (s Record) counts(u string) []Count {
	var out []Count
	for _, c := range s.Counts {
		if c.Unit == u {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b Count) int { return a.At.Compare(b.At) })
	return out
}

// drift says how far dumps moved over the season, and how far slow and fast lie apart.
func (s Record) drift() []note.Note {
	var notes []note.Note
	var units []string
	for _, c := range s.Calibrations {
		if !slices.Contains(units, c.Unit) {
			units = append(units, c.Unit)
		}
	}
	for _, u := range units {
		ends := map[Flow][2]Calibration{}
		for _, c := range s.Calibrations {
			if c.Unit != u {
				continue
			}
			e, ok := ends[c.Flow]
			if !ok {
				e = [2]Calibration{c, c}
			}
			if c.At.Before(e[0].At) {
				e[0] = c
			}
			if c.At.After(e[1].At) {
				e[1] = c
			}
			ends[c.Flow] = e
		}
		name := cmp.Or(u, "all units")
		for _, f := range []Flow{Slow, Fast} {
			e, ok := ends[f]
			if !ok {
				continue
			}
			if e[0].At.Equal(e[1].At) {
				notes = append(notes, note.New("the dump of %s at %s flow was measured once: how far it drifted is not known (5 to 15 %% is common)", name, note.Term(f)))
			} else if d := 100 * math.Abs(float64(e[1].Dump/e[0].Dump)-1); d > 5 {
				notes = append(notes, note.New("the dump of %s at %s flow drifted by %v over the season; volumes follow it in a straight way", name, note.Term(f), note.Percent(d)))
			}
		}
		slow, a := ends[Slow]
		fast, b := ends[Fast]
		if a && b {
			if d := 100 * math.Abs(float64(fast[0].Dump/slow[0].Dump)-1); d > 5 {
				notes = append(notes, note.New("the dumps of %s at slow and fast flow differ by %v; volumes use the mean of the two", name, note.Percent(d)))
			}
		} else {
			notes = append(notes, note.New("the dump of %s was measured at one flow only", name))
		}
	}
	return notes
}
