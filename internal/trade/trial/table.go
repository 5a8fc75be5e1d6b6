package trial

import (
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// Table is one of the tables in which a trial is written down. Whoever reads, writes or describes it loops over its
// columns.
type Table[T any] struct {
	Name    string // in a data package
	Holds   string // what stands in it, in the units of a data package
	Columns []column.Column[*T]
	Rows    func(Trial) []T
}

// Placed is a row of the layout: a unit in a season.
type Placed struct {
	Season int
	Plot
}

// Filling is a row of the tanks: what one holds at a depth.
type Filling struct {
	Unit   string // "": every unit that has no tank of its own
	Season int    // 0: every season
	Depth  *unit.Length
	Volume *unit.Volume
}

// Layouts says which unit got which practice, one row a unit and season.
var Layouts = Table[Placed]{"layout", "which unit got which practice, one row a unit and season",
	[]column.Column[*Placed]{
		season(func(r *Placed) *int { return &r.Season }),
		block(func(r *Placed) *string { return &r.Block }),
		tag(func(r *Placed) *string { return &r.Unit }),
		treatment(func(r *Placed) *practice.Key { return &r.Practice }),
		{Name: "taps", Label: "taps", Needed: true, Bounds: column.Count, Usual: usualTaps, Headers: tapsHeaders,
			Holds: "as planned; a count overrules it",
			Field: column.Int(func(r *Placed) *int { return &r.Taps })},
		age(func(r *Placed) **int { return &r.DropAge }),
		mainline(func(r *Placed) *string { return &r.Mainline }),
		{Name: "code", Label: "code", Headers: codeHeaders,
			Holds: "stands for the practice on sheets that hide it; readings may name the unit by it",
			Field: column.Words(func(r *Placed) *string { return &r.Code })},
		{Name: "members", Holds: "units on a shared chamber that became this one", Allowed: Unread},
	}, func(t Trial) (rows []Placed) {
		for _, r := range t.Records {
			for _, p := range r.Plots {
				rows = append(rows, Placed{r.Season, p})
			}
		}
		return rows
	}}

// amounts are the ways of saying how much was read at a unit; a reading has one of them.
var amounts = slices.Concat(
	volumes(column.Column[*Reading]{Name: "volume", Label: "sap of the unit", Bounds: anyAmount, Headers: sapHeaders,
		Holds:   "sap of the whole unit since the reading before",
		Allowed: "0 or more; one of volume, counter and depth"},
		func(u unit.VolumeUnit) column.Field[*Reading] {
			return column.Quantity(u, func(r *Reading) **unit.Volume { return &r.Volume })
		}),
	[]column.Column[*Reading]{{Name: "counter", Label: "count of dumps",
		Bounds: anyAmount, Headers: []string{"dumps", "count", "compteur",
			"coups"},
		Holds:   "dumps of the releaser, as the counter shows; a unit's first reading is where its counter starts",
		Allowed: "0 or more", Field: column.Of(func(r *Reading) **float64 { return &r.Counter })}},
	depths(column.Column[*Reading]{Name: "depth", Label: "depth in the tank", Headers: depthHeaders,
		Holds: "of the sap in the tank, which is then emptied"},
		func(r *Reading) **unit.Length { return &r.Depth }),
)

// Amounts are the names of the columns that say how much was read at a unit.
func Amounts() []string { return column.Names(amounts) }

// Readings is what was read, one row a reading of one unit.
var Readings = Table[Reading]{"readings", "readings, one row each; volumes in litres, depths in metres, vacuum in kPa",
	slices.Concat(
		byUnit(true, func(r *Reading) *string { return &r.Unit }),
		[]column.Column[*Reading]{moment("date", true, func(r *Reading) *time.Time { return &r.At })},
		amounts,
		[]column.Column[*Reading]{{Name: "brix", Label: "sugar of the sap",
			Unit: "°Bx", Bounds: column.Bounds{Low: 0, High: 20}, Usual: usualBrix,
			Headers: brixHeaders,
			Holds:   "sugar of this sap", Field: column.Of(func(r *Reading) **float64 { return &r.Brix })}},
		vacuums("at the unit", func(r *Reading) **unit.Pressure { return &r.Vacuum }),
		[]column.Column[*Reading]{remark(func(r *Reading) *string { return &r.Note })},
		beside[Reading]("block"),
	), func(t Trial) []Reading {
		return each(t.Read(), func(r Record) []Reading { return r.Readings })
	}}

// Events is what happened, one row an event.
var Events = Table[Event]{"events", "what happened, one row an event", slices.Concat(
	[]column.Column[*Event]{
		{Name: "kind", Label: "what happened",
			Needed: true, Words: words(EventKinds()), Holds: "what happened", Headers: []string{"event",
				"what", "evenement", "quoi"},
			Field: column.Words(func(e *Event) *EventKind { return &e.Kind })},
		moment("from", true, func(e *Event) *time.Time { return &e.From }),
		{Name: "to", Label: "end", Hint: "where it is another day", Headers: []string{"end", "until", "fin", "a"},
			Holds: "end; none: that of `from`. A day is the whole of it", Allowed: "a time from `from` on",
			Parse: parseEnd, Field: column.Field[*Event]{Kind: column.Own,
				Get: func(e *Event) any { return e.To.Format("2006-01-02T15:04:05") },
				Set: func(e *Event, v any) { e.To = v.(time.Time) },
			}},
		{Name: "units", Label: "units", Hint: "with commas between; none is all",
			Holds:   "those that it is of; none: all units",
			Allowed: "units of that season, separated by semicolons or commas",
			Headers: []string{"unit", "chambers", "unites"},
			Field:   column.ListOf(func(e *Event) *[]string { return &e.Units })},
		remark(func(e *Event) *string { return &e.Note }),
	},
	beside[Event]("season"),
), func(t Trial) []Event {
	return each(t, func(r Record) []Event { return r.Events })
}}

// parseEnd reads when something ended: a day without a time is the whole of it.
func parseEnd(text string) (any, note.Note) {
	t, ok := column.ParseMoment(text)
	if !ok {
		return nil, column.NoMoment(text)
	}
	if len(text) == len(time.DateOnly) {
		t = t.Add(24*time.Hour - time.Second)
	}
	return t, note.Note{}
}

// Dumps is how much one dump of a releaser is, one row a measurement.
var Dumps = Table[Calibration]{"calibrations", "measured dumps of releasers, in litres", slices.Concat(
	byUnit(false, func(c *Calibration) *string { return &c.Unit }),
	[]column.Column[*Calibration]{
		moment("date", true, func(c *Calibration) *time.Time { return &c.At }),
		{Name: "flow", Label: "flow of sap",
			Needed: true, Words: []string{string(Slow), string(Fast)}, Holds: "how fast sap came",
			Headers: []string{"debit", "coulee"},
			Field:   column.Words(func(c *Calibration) *Flow { return &c.Flow })},
	},
	volumes(column.Column[*Calibration]{Name: "dump", Label: "sap of one dump",
		Needed: true, Bounds: column.Bounds{Low: 0, High: 1e4,
			Open: true}, Allowed: "above 0",
		Headers: []string{"dump volume", "per dump", "volume par coup"}, Holds: "sap of one dump"},
		func(u unit.VolumeUnit) column.Field[*Calibration] {
			return column.Filled(u, func(c *Calibration) *unit.Volume { return &c.Dump })
		}),
), func(t Trial) []Calibration {
	return each(t, func(r Record) []Calibration { return r.Calibrations })
}}

// Tanks is what tanks hold by depth, one row a depth, rising from 0.
var Tanks = Table[Filling]{"tanks", "volume of tanks by depth, litres and metres", slices.Concat(
	byUnit(false, func(f *Filling) *string { return &f.Unit }),
	[]column.Column[*Filling]{{Name: "season", Label: "season",
		Bounds: column.Spring, Headers: []string{"year", "spring", "saison",
			"annee"}, Holds: "none: every season of the trial",
		Field: column.Int(func(f *Filling) *int { return &f.Season })}},
	depths(column.Column[*Filling]{Name: "depth", Label: "depth in the tank",
		Needed: true, Headers: depthHeaders, Holds: "of the sap"},
		func(f *Filling) **unit.Length { return &f.Depth }),
	volumes(column.Column[*Filling]{Name: "volume", Label: "sap in the tank",
		Needed: true, Bounds: anyAmount, Headers: sapHeaders,
		Holds:   "what the tank holds then",
		Allowed: "0 or more"},
		func(u unit.VolumeUnit) column.Field[*Filling] {
			return column.Quantity(u, func(f *Filling) **unit.Volume { return &f.Volume })
		}),
), func(t Trial) (rows []Filling) {
	for _, r := range t.Records {
		for _, k := range r.Tanks {
			for i := range k.Depths {
				rows = append(rows, Filling{k.Unit, r.Season, &k.Depths[i], &k.Volumes[i]})
			}
		}
	}
	return rows
}}

// Counts is taps as counted, one row a count of one unit.
var Counts = Table[Count]{"counts", "taps as they were counted", slices.Concat(
	byUnit(true, func(c *Count) *string { return &c.Unit }),
	beside[Count]("block", "practice"),
	holes("species", "diameter_cm"),
	[]column.Column[*Count]{moment("date", true, func(c *Count) *time.Time { return &c.At })},
	holes("crew", "bit", "hole_depth", "shavings"),
	[]column.Column[*Count]{
		{Name: "taps", Label: "taps", Needed: true, Bounds: column.Count, Headers: tapsHeaders,
			Holds: "all holes with a spout",
			Field: column.Int(func(c *Count) *int { return &c.Taps })},
		{Name: "again", Label: "second holes",
			Bounds: column.Bounds{Low: 0, High: column.Most, Whole: true}, Headers: []string{"second holes",
				"re tapped", "reentaillees"},
			Holds: "second holes of re-tapped trees among them, which never count", Allowed: "whole, fewer than `taps`",
			Field: column.Int(func(c *Count) *int { return &c.Again })},
		{Name: "note", Label: "remark", Hint: "crew, bit, depth, shavings", Headers: noteHeaders, Holds: "words",
			Field: column.Field[*Count]{
				Get: column.Words(func(c *Count) *string { return &c.Note }).Get,
				Set: func(c *Count, v any) { c.Note = strings.TrimSuffix(v.(string)+"; "+c.Note, "; ") },
			}},
	},
), func(t Trial) []Count {
	return each(t, func(r Record) []Count { return r.Counts })
}}

// holes are columns that are kept as words of the count's note.
func holes(names ...string) (list []column.Column[*Count]) {
	for _, name := range names {
		list = append(list, column.Column[*Count]{Name: name,
			Holds: "asked by the field sheet; kept as words of the note",
			Field: column.Field[*Count]{Set: func(c *Count, v any) {
				c.Note = strings.TrimPrefix(c.Note+"; "+name+" "+v.(string), "; ")
			}}})
	}
	return list
}

// Days is the temperatures of the trial's place, one row a day.
var Days = Table[weather.Day]{"weather", "daily temperatures, °C", slices.Concat(
	[]column.Column[*weather.Day]{moment("date", true, func(d *weather.Day) *time.Time { return &d.Date })},
	temperatures("tmin", "lowest temperature", "the day's lowest temperature", []string{"min", "tmin", "t min",
		"min temp", "low", "lowest", "minimum"}, func(d *weather.Day) **unit.Temperature { return &d.Min }),
	temperatures("tmax", "highest temperature", "the day's highest temperature", []string{"max", "tmax", "t max",
		"max temp", "high", "highest", "maximum"}, func(d *weather.Day) **unit.Temperature { return &d.Max }),
), func(t Trial) []weather.Day { return t.Days }}

// Sums is the season table, one row a unit and season. A unit that was not measured has no row.
var Sums = Table[UnitSeason]{"sums", "a season's yields, one row a unit and season; litres", slices.Concat(
	[]column.Column[*UnitSeason]{
		tag(func(r *UnitSeason) *string { return &r.Unit }),
		block(func(r *UnitSeason) *string { return &r.Block }),
		season(func(r *UnitSeason) *int { return &r.Season }),
		treatment(func(r *UnitSeason) *practice.Key { return &r.Practice }),
		{Name: "taps", Label: "taps", Needed: true, Bounds: column.Count, Usual: usualTaps, Headers: tapsHeaders,
			Holds: "taps of the unit",
			Field: column.Plain(func(r *UnitSeason) *float64 { return &r.Taps })},
	},
	volumes(column.Column[*UnitSeason]{Name: "volume", Label: "sap of the unit",
		Bounds:  column.Bounds{Low: 0, High: 1e9, Open: true},
		Headers: sapHeaders,
		Holds:   "sap of the whole unit over the season", Allowed: "above 0; one is needed"},
		func(u unit.VolumeUnit) column.Field[*UnitSeason] {
			return column.Filled(u, func(r *UnitSeason) *unit.Volume { return &r.Volume })
		}),
	[]column.Column[*UnitSeason]{
		{Name: "at_least", Label: "at least that much", Headers: []string{"at least", "au moins"},
			Holds: "the unit gave more than that: an overflow, a counter that was reset",
			Field: column.Yes(func(r *UnitSeason) *bool { return &r.AtLeast })},
		{Name: "brix", Label: "sugar of the sap",
			Unit: "°Bx", Bounds: column.Bounds{Low: 0, High: 20, Open: true}, Usual: usualBrix,
			Headers: brixHeaders,
			Holds:   "sugar of all its sap together",
			Field:   column.Of(func(r *UnitSeason) **float64 { return &r.Brix })},
		age(func(r *UnitSeason) **int { return &r.DropAge }),
	},
	vacuums("mean at the unit", func(r *UnitSeason) **unit.Pressure { return &r.Vacuum }),
), func(t Trial) []UnitSeason { return t.Sums }}

// Decisions is what was decided about findings, one row a decision.
var Decisions = Table[Decision]{"decisions", "what was decided about what spoils a comparison",
	[]column.Column[*Decision]{
		season(func(d *Decision) *int { return &d.Season }),
		{Name: "finding", Needed: true, Holds: "name of the finding",
			Field: column.Words(func(d *Decision) *string { return &d.Finding })},
		{Name: "out", Holds: "was the run taken out?", Field: column.Yes(func(d *Decision) *bool { return &d.Out })},
		{Name: "reason", Needed: true, Holds: "why",
			Field: column.Words(func(d *Decision) *string { return &d.Reason })},
		{Name: "block", Holds: "the block whose runs were taken out",
			Field: ofTaken(column.Words(func(x *Exclusion) *string { return &x.Block }))},
		{Name: "from", Holds: "they ended after this",
			Field: ofTaken(column.MomentOf(func(x *Exclusion) *time.Time { return &x.From }))},
		{Name: "to", Label: "end", Holds: "and up to this",
			Field: ofTaken(column.MomentOf(func(x *Exclusion) *time.Time { return &x.To }))},
	}, func(t Trial) []Decision { return t.Decisions }}

// ofTaken is a field of what a decision took out.
func ofTaken(f column.Field[*Exclusion]) column.Field[*Decision] {
	return column.Field[*Decision]{Kind: f.Kind,
		Get: func(d *Decision) any {
			if d.Taken == nil {
				return nil
			}
			return f.Get(d.Taken)
		},
		Set: func(d *Decision, v any) {
			if d.Taken == nil {
				d.Taken = &Exclusion{}
			}
			f.Set(d.Taken, v)
		},
	}
}

// Units is what may be randomised, one row a unit.
var Units = Table[Unit]{"units", "what may be randomised, one row a unit", slices.Concat([]column.Column[*Unit]{
	{Name: "unit", Needed: true, Headers: unitHeaders, Holds: "its tag", Allowed: "any text, once",
		Field: column.Words(func(u *Unit) *string { return &u.Name })},
	{Name: "kind", Holds: "what it is", Words: words([]evidence.UnitKind{evidence.Tree, evidence.Chamber,
		evidence.Mainline}),
		Field: column.Words(func(u *Unit) *evidence.UnitKind { return &u.Kind })},
	{Name: "block", Holds: "where given, blocks are taken as they are; else units that are alike are put together",
		Field: column.Words(func(u *Unit) *string { return &u.Block })},
	{Name: "chamber", Headers: []string{"releaser", "chambre", "extracteur"},
		Holds: "chamber or mainline that its sap is measured in; units that share one become one unit",
		Field: column.Words(func(u *Unit) *string { return &u.Chamber })},
	mainline(func(u *Unit) *string { return &u.Mainline }),
	{Name: "species", Headers: []string{"tree species", "essence", "espece"}, Holds: "balanced over practices",
		Field: column.Words(func(u *Unit) *string { return &u.Species })},
},
	ways(column.Column[*Unit]{Name: "diameter", Bounds: column.Bounds{Low: 0, High: 500, Open: true},
		Allowed: "above 0",
		Holds:   "of the stem; balanced over practices", Headers: []string{"dbh", "diameter", "dhp", "diametre"}},
		spelled(unit.Inch, "inches", column.Field[*Unit]{Kind: column.Number,
			Set: func(u *Unit, v any) { u.Diameter = 100 * float64(unit.Inch.Of(v.(float64))) }}),
		spelled(unit.Centimetre, "cm", column.Plain(func(u *Unit) *float64 { return &u.Diameter }))),
	[]column.Column[*Unit]{{Name: "taps", Bounds: column.Count, Usual: usualTaps, Headers: tapsHeaders,
		Holds: "taps; empty: as `--taps`, else 1, with a warning",
		Field: column.Int(func(u *Unit) *int { return &u.Taps })}},
), func(t Trial) []Unit {
	if t.Question == nil {
		return nil
	}
	return t.Question.Units
}}

func each[T any](t Trial, of func(Record) []T) (rows []T) {
	for _, r := range t.Records {
		rows = append(rows, of(r)...)
	}
	return rows
}

func words[S ~string](list []S) []string {
	text := make([]string, len(list))
	for i, s := range list {
		text[i] = string(s)
	}
	return text
}
