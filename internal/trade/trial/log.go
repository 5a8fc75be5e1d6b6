package trial

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/unit"
)

// Log is what was read at one unit, as close as a reading a minute, in little room: as long as the readings come day
// after day, those of a logger are gathered to days as they come.
type Log struct {
	Unit  string
	Whole bool // nothing is gathered before the end

	samples []sample       // of days that are not gathered yet
	notes   map[int]string // by the row that they stood in
	ordered bool
	today   int // how many came one after the other of the last day
	days    daily
	twice   [][2]int
	late    bool
}

// sample is a Reading of a log; what was not read is NaN.
type sample struct {
	at                   int64 // seconds since 1970
	amount, brix, vacuum float64
	row                  int32
	way                  way
}

// way is how an amount was read.
type way int8

const (
	none way = iota
	byVolume
	byCounter
	byDepth
)

func (s sample) day() int64 { return s.at - mod(s.at, 86400) }

func mod(a, b int64) int64 { return (a%b + b) % b }

// Add takes a reading of the unit, of its row.
func (l *Log) Add(r Reading) {
	s := sample{at: r.At.Unix(), amount: math.NaN(), brix: math.NaN(), vacuum: math.NaN(), row: int32(r.Where.Row)}
	switch {
	case r.Volume != nil:
		s.amount, s.way = float64(*r.Volume), byVolume
	case r.Counter != nil:
		s.amount, s.way = *r.Counter, byCounter
	case r.Depth != nil:
		s.amount, s.way = float64(*r.Depth), byDepth
	}
	if r.Brix != nil {
		s.brix = *r.Brix
	}
	if r.Vacuum != nil {
		s.vacuum = float64(*r.Vacuum)
	}
	if r.Note != "" {
		if l.notes == nil {
			l.notes = map[int]string{}
		}
		l.notes[r.Where.Row] = r.Note
	}
	n := len(l.samples)
	switch {
	case n > 0 && s.day() == l.samples[n-1].day():
		l.today++
	case n > 0 && s.day() > l.samples[n-1].day() && !l.Whole && (l.days.log != nil || l.today > often):
		l.gather(s.day(), r.Where)
		fallthrough
	default:
		l.today = 1
	}
	l.late = l.late || l.days.log != nil && s.day() <= l.days.through
	n = len(l.samples)
	l.ordered = n == 0 || l.ordered && s.at >= l.samples[n-1].at
	l.samples = append(l.samples, s)
}

// gather gathers the days before one.
func (l *Log) gather(day int64, at note.Where) {
	l.sort()
	n, _ := slices.BinarySearchFunc(l.samples, day, func(s sample, day int64) int { return cmp.Compare(s.at, day) })
	if l.days.log == nil {
		l.days = daily{log: l, at: note.Where{File: at.File, Sheet: at.Sheet}}
	}
	l.days.add(l.samples[:n])
	l.twice = twice(l.twice, l.samples[:n])
	for _, s := range l.samples[:n] {
		delete(l.notes, int(s.row))
	}
	l.samples = append(l.samples[:0], l.samples[n:]...)
}

// Late is true where a reading came of a day that was gathered before: then all are to be added anew to a Log that is
// Whole.
func (l *Log) Late() bool { return l.late }

func (l *Log) sort() {
	if !l.ordered {
		slices.SortStableFunc(l.samples, func(a, b sample) int { return cmp.Compare(a.at, b.at) })
		l.ordered = true
	}
}

// Twice are the rows of readings of the same time as one before, each behind the row of that.
func (l *Log) Twice() [][2]int {
	l.sort()
	return twice(l.twice, l.samples)
}

func twice(out [][2]int, samples []sample) [][2]int {
	for i := 1; i < len(samples); i++ {
		if a, b := samples[i-1], samples[i]; a.at == b.at {
			out = append(out, [2]int{int(a.row), int(b.row)})
		}
	}
	return out
}

// often is how many readings of one unit a person takes on one day at the most.
const often = 24

// Close is true of a unit that was read so often on a day that a logger did it.
func (l *Log) Close() bool {
	if l.days.log != nil {
		return true
	}
	l.sort()
	for i := often; i < len(l.samples); i++ {
		if l.samples[i].day() == l.samples[i-often].day() {
			return true
		}
	}
	return false
}

// Readings are those of the log by time, with where they stood.
func (l *Log) Readings(at note.Where) []Reading {
	l.sort()
	out := make([]Reading, len(l.samples))
	for i, s := range l.samples {
		out[i] = l.reading(s, at)
	}
	return out
}

func (l *Log) reading(s sample, at note.Where) Reading {
	at.Row = int(s.row)
	r := Reading{Unit: l.Unit, At: time.Unix(s.at, 0).UTC(), Note: l.notes[at.Row], Where: at}
	switch s.way {
	case byVolume:
		r.Volume = new(unit.Volume(s.amount))
	case byCounter:
		r.Counter = new(s.amount)
	case byDepth:
		r.Depth = new(unit.Length(s.amount))
	}
	if !math.IsNaN(s.brix) {
		r.Brix = new(s.brix)
	}
	if !math.IsNaN(s.vacuum) {
		r.Vacuum = new(unit.Pressure(s.vacuum))
	}
	return r
}

// Daily gathers a logger's readings into one at the end of each day: what its counter showed last, or the sum of its
// volumes, with the day's mean sugar (weighted by volume, where volumes are read) and mean vacuum. The first count
// stays, and so do those on both sides of a counter that fell. Tanks are emptied at each reading, so depths stay as
// they are.
func (l *Log) Daily(at note.Where) []Reading {
	l.sort()
	d := l.days
	d.log, d.at = l, at
	d.add(l.samples)
	slices.SortStableFunc(d.out, func(a, b Reading) int { return a.At.Compare(b.At) })
	return slices.CompactFunc(d.out, func(a, b Reading) bool { return a.At.Equal(b.At) })
}

// daily is a log that is being gathered.
type daily struct {
	log *Log
	at  note.Where
	out []Reading
	// the count before, where there was one, and the last day
	counted bool
	last    sample
	through int64
}

// add gathers the samples of some days, by time.
func (d *daily) add(samples []sample) {
	for from := 0; from < len(samples); {
		to := from + 1
		for to < len(samples) && samples[to].day() == samples[from].day() {
			to++
		}
		d.day(samples[from:to])
		d.through = samples[from].day()
		from = to
	}
}

// day gathers the samples of one day.
func (d *daily) day(day []sample) {
	end := sample{at: day[0].day() + 86400 - 60, row: day[len(day)-1].row, amount: math.NaN()}
	var sugar, vacuum mean
	var notes []string
	for i := range day {
		s := &day[i]
		if n := d.log.notes[int(s.row)]; n != "" && !slices.Contains(notes, n) {
			notes = append(notes, n)
		}
		weight := 1.0
		switch s.way {
		case byDepth:
			d.out = append(d.out, d.log.reading(*s, d.at))
			continue
		case byVolume:
			weight = s.amount
			if end.way != byVolume {
				end.amount, end.way = 0, byVolume
			}
			end.amount += s.amount
		case byCounter:
			d.count(s)
			end.amount, end.way = s.amount, byCounter
		}
		sugar.add(s.brix, weight)
		vacuum.add(s.vacuum, 1)
	}
	end.brix, end.vacuum = sugar.value(), vacuum.value()
	if end.way == none && math.IsNaN(end.brix) && math.IsNaN(end.vacuum) {
		return
	}
	r := d.log.reading(end, d.at)
	r.Note = strings.Join(notes, "; ")
	d.out = append(d.out, r)
}

// count keeps the first count, and those on both sides of a counter that fell.
func (d *daily) count(s *sample) {
	keep := func(s sample) {
		s.brix, s.vacuum = math.NaN(), math.NaN() // they are in the day's means
		d.out = append(d.out, d.log.reading(s, d.at))
	}
	switch {
	case !d.counted:
		keep(*s)
	case s.amount < d.last.amount:
		if d.last.day() == s.day() {
			keep(d.last)
		}
		keep(*s)
	}
	d.counted, d.last = true, *s
}

// mean is a weighted one; NaN of nothing.
type mean struct{ sum, weight float64 }

func (m *mean) add(x, weight float64) {
	if !math.IsNaN(x) && weight > 0 {
		m.sum, m.weight = m.sum+weight*x, m.weight+weight
	}
}

func (m mean) value() float64 { return m.sum / m.weight }
