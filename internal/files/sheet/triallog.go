package sheet

import (
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// events reads what happened. A day without a time is the whole of it.
func (g *trialGather) events(records []*record) {
	kinds := make([]string, 0, 10)
	for _, k := range trial.EventKinds() {
		kinds = append(kinds, string(k))
	}
	for _, r := range records {
		r.needs("kind")
		e := trial.Event{Kind: trial.EventKind(r.choice("kind", kinds...)), Note: r.text("note"), Where: note.Where{File: r.file, Sheet: r.sheet, Row: r.row}}
		from, ok := r.moment("from")
		if !ok {
			r.needs("from")
			continue
		}
		e.From, e.To = from, from
		dayOnly := len(r.text("from")) == len(time.DateOnly)
		if to, ok := r.moment("to"); ok {
			e.To = to
			dayOnly = len(r.text("to")) == len(time.DateOnly)
		} else if r.has("to") {
			continue
		}
		if dayOnly {
			e.To = e.To.Add(24*time.Hour - time.Second)
		}
		if e.To.Before(e.From) {
			r.fault("to", note.New("the event ends before it begins; allowed: a time from %s on", r.text("from")))
			continue
		}
		year := trial.SeasonOf(from)
		good := true
		for _, name := range g.list(r.text("units"), year) {
			u, ok := g.named(r, "units", name, year)
			if good = good && ok; ok && !slices.Contains(e.Units, u) {
				e.Units = append(e.Units, u)
			}
		}
		if !good || e.Kind == "" {
			continue
		}
		rec := g.record(year)
		if rec == nil {
			g.named(r, "from", "", year) // which says so
			continue
		}
		rec.Events = append(rec.Events, e)
	}
}

// list is the units that a cell names, with semicolons, commas or plus signs between, which a unit's own name may hold too.
func (g *trialGather) list(text string, year int) (names []string) {
	for part := range strings.SplitSeq(text, ";") {
		if part = strings.TrimSpace(part); g.units[year][part] != "" {
			names = append(names, part)
			continue
		}
		for name := range strings.FieldsFuncSeq(part, func(c rune) bool { return c == '+' || c == ',' }) {
			if name = strings.TrimSpace(name); name != "" {
				names = append(names, name)
			}
		}
	}
	return names
}

// own is the season of a day and the unit that a row is of, where "" is all units.
func (g *trialGather) own(r *record, year int) (*trial.Record, string, bool) {
	rec := g.record(year)
	if rec == nil {
		g.named(r, "date", "", year)
		return nil, "", false
	}
	if !r.has("unit") && !r.has("code") {
		return rec, "", true
	}
	u, ok := g.unit(r, year)
	return rec, u, ok
}

// volume reads the one volume of some columns.
func (g *trialGather) volume(r *record, columns []struct {
	name string
	unit unit.VolumeUnit
}, b bounds) (unit.Volume, bool) {
	given := 0
	var v unit.Volume
	for _, c := range columns {
		if !r.has(c.name) {
			continue
		}
		if given++; given == 2 {
			r.fault(c.name, note.New("the volume stands twice, in two units; allowed: one"))
		}
		if x := r.number(c.name, b); x != nil {
			v = c.unit.Of(*x)
		} else {
			return 0, false
		}
	}
	if given == 0 {
		r.need(columns[len(columns)-1].name)
	}
	return v, given == 1
}

func (g *trialGather) calibrations(records []*record) {
	for _, r := range records {
		at, ok := r.moment("date")
		if !ok {
			r.needs("date")
			continue
		}
		rec, u, ok := g.own(r, trial.SeasonOf(at))
		r.need("flow")
		flow := r.choice("flow", string(trial.Slow), string(trial.Fast))
		v, measured := g.volume(r, dumpColumns, bounds{Low: 0, High: 1e4, Open: true})
		if ok && measured && flow != "" {
			rec.Calibrations = append(rec.Calibrations, trial.Calibration{Unit: u, At: at, Flow: trial.Flow(flow), Dump: v})
		}
	}
}

// tank reads what tanks hold, a row a depth. Without a season a tank is that of every season.
func (g *trialGather) tank(records []*record) {
	for _, r := range records {
		var d *unit.Length
		for _, c := range depthColumns {
			if x := r.number(c.name, anyDepth); x != nil {
				if d != nil {
					r.fault(c.name, note.New("the depth stands twice, in two units; allowed: one"))
				}
				d = new(unit.Length(*x * c.metres))
			}
		}
		v, ok := g.volume(r, volumeColumns, anyAmount)
		if d == nil || !ok {
			if d == nil && !slices.ContainsFunc(depthColumns, func(c struct {
				name   string
				metres float64
			}) bool {
				return r.has(c.name)
			}) {
				r.need("depth_cm")
			}
			continue
		}
		var years []int
		if y := r.whole("season", spring); y != nil {
			years = []int{*y}
		} else {
			for _, rec := range g.t.Records {
				years = append(years, rec.Season)
			}
		}
		for n, y := range years {
			rec, u, ok := g.own(r, y)
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
			if last := len(k.Depths) - 1; n == 0 && (last < 0 && *d != 0 || last >= 0 && (*d <= k.Depths[last] || v <= k.Volumes[last])) {
				r.fault("unit", note.New("a tank's depths rise from 0, each with more sap than the one before; allowed: a row of depth 0 first, and deeper ones below it"))
			}
			k.Depths, k.Volumes = append(k.Depths, *d), append(k.Volumes, v)
		}
	}
}

func (g *trialGather) counts(records []*record) {
	for _, r := range records {
		if !r.has("taps") && !r.has("date") {
			continue // the unit stands on the sheet, and was not counted
		}
		at, ok := r.moment("date")
		if !ok {
			r.needs("date")
			continue
		}
		year := trial.SeasonOf(at)
		u, ok := g.unit(r, year)
		r.need("taps")
		n := r.whole("taps", count)
		c := trial.Count{Unit: u, At: at, Note: r.text("note")}
		for _, name := range holeColumns {
			if r.has(name) {
				c.Note = strings.TrimPrefix(c.Note+"; "+name+" "+r.text(name), "; ")
			}
		}
		if x := r.whole("again", bounds{Low: 0, High: most}); x != nil {
			c.Again = *x
		}
		if !ok || n == nil {
			continue
		}
		if c.Taps = *n; c.Again >= c.Taps {
			r.fault("again", note.New("%d of %d taps are second holes; allowed: fewer than all", c.Again, c.Taps))
			continue
		}
		rec := g.record(year)
		rec.Counts = append(rec.Counts, c)
	}
}
