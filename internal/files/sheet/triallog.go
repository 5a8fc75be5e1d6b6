package sheet

import (
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/trial"
)

func (r *record) place() note.Where { return note.Where{File: r.file, Sheet: r.sheet, Row: r.row} }

// events reads what happened. A day without a time is the whole of it.
func (g *trialGather) events(records []*record) {
	for _, r := range records {
		e, ok := take(r, trial.Events.Columns, g.set)
		if e.From.IsZero() || r.has("to") && e.To.IsZero() {
			continue
		}
		e.Where = r.place()
		if e.To.IsZero() {
			if e.To = e.From; len(r.text("from")) == len(time.DateOnly) {
				e.To = e.To.Add(24*time.Hour - time.Second)
			}
		}
		if e.To.Before(e.From) {
			r.fault("to", note.New("the event ends before it begins; allowed: a time from %s on", r.text("from")))
			continue
		}
		year := trial.SeasonOf(e.From)
		rec := g.season(r, "from", year)
		if rec == nil {
			continue
		}
		named := e.Units
		e.Units = nil
		for _, name := range g.split(named, year) {
			u, known := g.named(r, "units", name, year)
			if ok = ok && known; known && !slices.Contains(e.Units, u) {
				e.Units = append(e.Units, u)
			}
		}
		if ok {
			rec.Events = append(rec.Events, e)
		}
	}
}

// split are the units that words name, with commas or plus signs between, which a unit's own name may hold too.
func (g *trialGather) split(words []string, year int) (names []string) {
	for _, word := range words {
		if g.units[year][word] != "" {
			names = append(names, word)
			continue
		}
		for name := range strings.FieldsFuncSeq(word, func(c rune) bool { return c == '+' || c == ',' }) {
			if name = strings.TrimSpace(name); name != "" {
				names = append(names, name)
			}
		}
	}
	return names
}

// season is what is known of a season; nil where the trial has none, which is said.
func (g *trialGather) season(r *record, key string, year int) *trial.Record {
	rec := g.record(year)
	if rec == nil {
		g.named(r, key, "", year) // which says so
	}
	return rec
}

// unit is the unit that a row names by its tag or its code, in a season, "" where it names none; false where there is
// no such unit, which is said.
func (g *trialGather) unit(r *record, name string, year int) (string, bool) {
	if name == "" {
		return "", true
	}
	key := "unit"
	if !r.has(key) {
		key = "code"
	}
	return g.named(r, key, name, year)
}

func (g *trialGather) calibrations(records []*record) {
	for _, r := range records {
		c, ok := take(r, trial.Dumps.Columns, g.set)
		if c.At.IsZero() {
			continue
		}
		year := trial.SeasonOf(c.At)
		rec := g.season(r, "date", year)
		if rec == nil {
			continue
		}
		if u, known := g.unit(r, c.Unit, year); ok && known {
			c.Unit = u
			rec.Calibrations = append(rec.Calibrations, c)
		}
	}
}

// tank reads what tanks hold, a row a depth. Without a season a tank is that of every season.
func (g *trialGather) tank(records []*record) {
	for _, r := range records {
		f, ok := take(r, trial.Tanks.Columns, g.set)
		if !ok {
			continue
		}
		years := []int{f.Season}
		if f.Season == 0 {
			years = nil
			for _, rec := range g.t.Records {
				years = append(years, rec.Season)
			}
		}
		for n, y := range years {
			rec := g.season(r, "season", y)
			if rec == nil {
				break
			}
			u, ok := g.unit(r, f.Unit, y)
			if !ok {
				break
			}
			i, have := g.tanks[unitSeason{y, u}]
			if !have {
				i = len(rec.Tanks)
				g.tanks[unitSeason{y, u}] = i
				rec.Tanks = append(rec.Tanks, trial.Tank{Unit: u})
			}
			k := &rec.Tanks[i]
			last := len(k.Depths) - 1
			if n == 0 && (last < 0 && *f.Depth != 0 || last >= 0 && (*f.Depth <= k.Depths[last] ||
				*f.Volume <= k.Volumes[last])) {
				r.fault("unit",
					note.New("a tank's depths rise from 0, each with more sap than the one before; allowed: a row of "+
						"depth 0 first, and deeper ones below it"))
			}
			k.Depths, k.Volumes = append(k.Depths, *f.Depth), append(k.Volumes, *f.Volume)
		}
	}
}

func (g *trialGather) counts(records []*record) {
	for _, r := range records {
		if !r.has("taps") && !r.has("date") {
			continue // the unit stands on the sheet, and was not counted
		}
		c, ok := take(r, trial.Counts.Columns, g.set)
		if c.At.IsZero() {
			continue
		}
		if ok && c.Again >= c.Taps {
			r.fault("again", note.New("%d of %d taps are second holes; allowed: fewer than all", c.Again, c.Taps))
			continue
		}
		year := trial.SeasonOf(c.At)
		rec := g.season(r, "date", year)
		if rec == nil {
			continue
		}
		if u, known := g.unit(r, c.Unit, year); ok && known {
			c.Unit, c.Where = u, r.place()
			rec.Counts = append(rec.Counts, c)
		}
	}
}
