// Package harvest sums what was read in a trial into its seasons' yields, and finds what spoils the comparison.
package harvest

import (
	"cmp"
	"math"
	"slices"
	"time"

	"spile/internal/note"
	"spile/internal/trade/sap"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

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
	Rows     []trial.UnitSeason // of the plots, in their order; a unit that gave nothing has none
	Runs     []Run              // by unit in the order of the plots, then time
	Findings []Finding
	Notes    note.List
}

func covers(x trial.Exclusion, block string, r Run) bool {
	return x.Block == block && r.To.After(x.From) && !r.To.After(x.To)
}

// touches says whether an event is of the run between two readings. What happened at the time of a reading, or on the
// day of one of which the day alone is known, is of the run that the reading ends.
func touches(e trial.Event, r Run) bool {
	return (len(e.Units) == 0 || slices.Contains(e.Units, r.Unit)) && !e.From.After(dayEnd(r.To)) &&
		e.To.After(dayEnd(r.From))
}

// season is a record that is being summed.
type season struct{ trial.Record }

// instant names a reading: a unit is read once at a time, to the second.
type instant struct {
	unit string
	at   int64
}

// dayEnd is the time of a reading, which is the end of its day where the day alone is known.
func dayEnd(t time.Time) time.Time {
	if trial.DayOnly(t) {
		return t.Add(24*time.Hour - time.Second)
	}
	return t
}

// Sum turns a record into the season's yields and lists what spoils the comparison. Nothing is taken out but what
// Exclusions name. The error is note.Faults.
func Sum(r trial.Record) (*Total, error) {
	if err := r.Check().Err(); err != nil {
		return nil, err
	}
	s := season{r}
	t := &Total{}
	read := map[string][]trial.Reading{}
	for _, r := range s.Readings {
		read[r.Unit] = append(read[r.Unit], r)
	}
	for _, p := range s.Plots {
		runs := s.runs(p, read[p.Unit])
		row := trial.UnitSeason{Unit: p.Unit, Block: p.Block, Season: s.Season, Practice: p.Practice,
			DropAge: p.DropAge, Taps: float64(s.taps(p))}
		var sugar, mass, vacuum, gauges, sweet float64
		for i := range runs {
			r := &runs[i]
			for _, x := range s.Exclusions {
				r.Out = r.Out || covers(x, p.Block, *r)
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
				t.Notes.Add("the sugar of unit %s was read for %v of its sap only", p.Unit,
					note.Percent(100*sweet/float64(row.Volume)))
			}
		}
		if gauges > 0 {
			row.Vacuum = new(unit.Pressure(vacuum / gauges))
		}
		t.Runs = append(t.Runs, runs...)
		if row.Volume > 0 {
			t.Rows = append(t.Rows, row)
		} else {
			t.Notes.Add("nothing was gathered from unit %s, so it is not among the season's rows", p.Unit)
		}
	}
	t.Notes = append(t.Notes, s.drift()...)
	t.Findings = s.findings(t)
	return t, nil
}

// runs are one unit's volumes between its readings.
func (s season) runs(p trial.Plot, readings []trial.Reading) []Run {
	slices.SortStableFunc(readings, func(a, b trial.Reading) int { return a.At.Compare(b.At) })
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
			if e.Kind == trial.Overflow && touches(e, run) {
				run.AtLeast = true
			}
		}
		since = r.At
		runs = append(runs, run)
	}
	return runs
}

// dump is the volume of a dump at a time: the mean of slow and fast, each straight between its measurements and the
// same beyond them.
func (s season) dump(u string, at time.Time) unit.Volume {
	own := slices.ContainsFunc(s.Calibrations, func(c trial.Calibration) bool { return c.Unit == u })
	sum, n := 0.0, 0.0
	for _, f := range []trial.Flow{trial.Slow, trial.Fast} {
		var points []trial.Calibration
		for _, c := range s.Calibrations {
			if c.Flow == f && (c.Unit == u || !own && c.Unit == "") {
				points = append(points, c)
			}
		}
		if len(points) == 0 {
			continue
		}
		slices.SortStableFunc(points, func(a, b trial.Calibration) int { return a.At.Compare(b.At) })
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
func (s season) filled(u string, d unit.Length) (v unit.Volume, full bool) {
	i := slices.IndexFunc(s.Tanks, func(t trial.Tank) bool { return t.Unit == u })
	if i < 0 {
		i = slices.IndexFunc(s.Tanks, func(t trial.Tank) bool { return t.Unit == "" })
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

// reset is when a unit's counter was last set to 0 after a time and up to another, or at the first of them. A reset
// that is known to the day only may be of the run before or after: it is of this one where the counter fell.
func (s season) reset(u string, after, to time.Time, fell bool) *time.Time {
	var last *time.Time
	for _, e := range s.Events {
		if e.Kind != trial.CounterReset || len(e.Units) > 0 && !slices.Contains(e.Units, u) || e.To.Before(after) ||
			e.From.After(to) {
			continue
		}
		if within := e.From.After(after) && e.To.Before(to); (within || fell) && (last == nil || e.To.After(*last)) {
			last = new(e.To)
		}
	}
	return last
}

// taps is the unit's first count without second holes, else what was planned.
func (s season) taps(p trial.Plot) int {
	counts := s.counts(p.Unit)
	if len(counts) == 0 {
		return max(1, p.Taps)
	}
	return counts[0].Taps - counts[0].Again
}

func (s season) counts(u string) []trial.Count {
	var out []trial.Count
	for _, c := range s.Counts {
		if c.Unit == u {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b trial.Count) int { return a.At.Compare(b.At) })
	return out
}

// drift says how far dumps moved over the season, and how far slow and fast lie apart.
func (s season) drift() note.List {
	var notes note.List
	var units []string
	for _, c := range s.Calibrations {
		if !slices.Contains(units, c.Unit) {
			units = append(units, c.Unit)
		}
	}
	for _, u := range units {
		ends := map[trial.Flow][2]trial.Calibration{}
		for _, c := range s.Calibrations {
			if c.Unit != u {
				continue
			}
			e, ok := ends[c.Flow]
			if !ok {
				e = [2]trial.Calibration{c, c}
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
		for _, f := range []trial.Flow{trial.Slow, trial.Fast} {
			e, ok := ends[f]
			if !ok {
				continue
			}
			if e[0].At.Equal(e[1].At) {
				notes.Add("the dump of %s at %s flow was measured once: how far it drifted is not known (5 to 15 "+
					"%% is common)", name, note.Term(f))
			} else if d := 100 * math.Abs(float64(e[1].Dump/e[0].Dump)-1); d > 5 {
				notes.Add("the dump of %s at %s flow drifted by %v over the season; volumes follow it in a "+
					"straight way", name, note.Term(f), note.Percent(d))
			}
		}
		slow, a := ends[trial.Slow]
		fast, b := ends[trial.Fast]
		if a && b {
			if d := 100 * math.Abs(float64(fast[0].Dump/slow[0].Dump)-1); d > 5 {
				notes.Add("the dumps of %s at slow and fast flow differ by %v; volumes use the mean of the two",
					name, note.Percent(d))
			}
		} else {
			notes.Add("the dump of %s was measured at one flow only", name)
		}
	}
	return notes
}
