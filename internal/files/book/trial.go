package book

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// Kinds of what trials are made of.
const (
	Trial       Kind = "trial"       // trial.Trial without what was read and decided, by its name
	Reading     Kind = "reading"     // Logged[trial.Reading], by trial, unit and time
	Event       Kind = "event"       // Logged[trial.Event], by trial, kind, begin and units
	Calibration Kind = "calibration" // Logged[trial.Calibration], by trial, unit, flow and time
	Tank        Kind = "tank"        // Logged[trial.Tank], by trial, season and unit
	Count       Kind = "count"       // Logged[trial.Count], by trial, unit and time
	Decision    Kind = "decision"    // Logged[trial.Decision], by trial, season and finding
	Weather     Kind = "weather"     // Logged[[]weather.Day], by trial and year
	Sums        Kind = "sums"        // Logged[[]trial.UnitSeason], by trial and season
)

// Logged is something written down for one season of a trial.
type Logged[T any] struct {
	Trial  string
	Season int
	What   T
}

// Log is something written down for a season of a trial.
func Log[T any](trial string, season int, what T) Logged[T] { return Logged[T]{trial, season, what} }

// TrialItems is all that a trial is made of.
func TrialItems(t trial.Trial) []Item {
	t = t.Read()
	items := []Item{Keep(t)}
	for _, r := range t.Records {
		items = append(items, logged(t.Name, r.Season, r.Calibrations)...)
		items = append(items, logged(t.Name, r.Season, r.Tanks)...)
		items = append(items, logged(t.Name, r.Season, r.Counts)...)
		items = append(items, logged(t.Name, r.Season, r.Events)...)
		items = append(items, logged(t.Name, r.Season, r.Readings)...)
	}
	items = append(items, split(t.Name, t.Sums, func(r trial.UnitSeason) int { return r.Season })...)
	items = append(items, split(t.Name, t.Days, func(d weather.Day) int { return d.Date.Year() })...)
	for _, d := range t.Decisions {
		items = append(items, Keep(Logged[trial.Decision]{t.Name, d.Season, d}))
	}
	return items
}

func logged[T trial.Reading | trial.Event | trial.Calibration | trial.Tank | trial.Count](name string, season int,
	list []T) []Item {
	return each(list, func(x T) Item { return keep(Logged[T]{name, season, x}) })
}

// split keeps a list by its seasons.
func split[T trial.UnitSeason | weather.Day](name string, list []T, season func(T) int) []Item {
	var items []Item
	for _, year := range slices.Compact(slices.Sorted(slices.Values(each(list, season)))) {
		of := slices.DeleteFunc(slices.Clone(list), func(x T) bool { return season(x) != year })
		items = append(items, keep(Logged[[]T]{name, year, of}))
	}
	return items
}

// trialOf is the trial that a thing is part of; "" where it is of none.
func (r ref) trialOf() string {
	switch r.kind {
	case Trial:
		return r.key
	case Reading, Event, Calibration, Tank, Count, Decision, Weather, Sums:
		return partsOf(r.key)[0]
	}
	return ""
}

// gather puts trials together from what they are made of. The error is note.Faults: something whose trial or season is
// not there.
func gather(live []*version) ([]trial.Trial, error) {
	var list []*trial.Trial
	at := map[string]*trial.Trial{}
	var faults note.Faults
	for _, v := range live {
		if t, ok := v.value.(trial.Trial); ok {
			t.Records = slices.Clone(t.Records)
			list = append(list, &t)
			at[t.Name] = &t
		}
	}
	// What is said to be of no trial or season goes into one that nobody keeps.
	whole := func(v *version, name string) *trial.Trial {
		if at[name] == nil {
			faults.Add("the %s %s is of a trial that is not in the workbook; allowed: to take both out, or neither",
				v.word(), v.name())
			return &trial.Trial{}
		}
		return at[name]
	}
	season := func(v *version, name string, year int) *trial.Record {
		records := whole(v, name).Records
		i := slices.IndexFunc(records, func(r trial.Record) bool { return r.Season == year })
		if i >= 0 {
			return &records[i]
		}
		if at[name] != nil {
			faults.Add("the %s %s is of the season %d, and the trial %s has no units in that season", v.word(),
				v.name(),
				year, name)
		}
		return &trial.Record{}
	}
	for _, v := range live {
		switch x := v.value.(type) {
		case Logged[trial.Reading]:
			r := season(v, x.Trial, x.Season)
			r.Readings = append(r.Readings, x.What)
		case Logged[trial.Event]:
			r := season(v, x.Trial, x.Season)
			r.Events = append(r.Events, x.What)
		case Logged[trial.Calibration]:
			r := season(v, x.Trial, x.Season)
			r.Calibrations = append(r.Calibrations, x.What)
		case Logged[trial.Tank]:
			r := season(v, x.Trial, x.Season)
			r.Tanks = append(r.Tanks, x.What)
		case Logged[trial.Count]:
			r := season(v, x.Trial, x.Season)
			r.Counts = append(r.Counts, x.What)
		case Logged[trial.Decision]:
			t := whole(v, x.Trial)
			t.Decisions = append(t.Decisions, x.What)
		case Logged[[]weather.Day]:
			t := whole(v, x.Trial)
			t.Days = append(t.Days, x.What...)
		case Logged[[]trial.UnitSeason]:
			t := whole(v, x.Trial)
			t.Sums = append(t.Sums, x.What...)
		}
	}
	return each(list, func(t *trial.Trial) trial.Trial { return *t }), faults.Err()
}

// Alone is a trial of which nothing is known but one thing that a workbook holds of it.
func Alone(thing any) (t trial.Trial) {
	record := func(season int, r trial.Record) { r.Season = season; t.Records = []trial.Record{r} }
	switch x := thing.(type) {
	case trial.Trial:
		t = x
	case Logged[trial.Reading]:
		record(x.Season, trial.Record{Readings: []trial.Reading{x.What}})
	case Logged[trial.Event]:
		record(x.Season, trial.Record{Events: []trial.Event{x.What}})
	case Logged[trial.Calibration]:
		record(x.Season, trial.Record{Calibrations: []trial.Calibration{x.What}})
	case Logged[trial.Tank]:
		record(x.Season, trial.Record{Tanks: []trial.Tank{x.What}})
	case Logged[trial.Count]:
		record(x.Season, trial.Record{Counts: []trial.Count{x.What}})
	case Logged[trial.Decision]:
		t.Decisions = []trial.Decision{x.What}
	case Logged[[]weather.Day]:
		t.Days = x.What
	case Logged[[]trial.UnitSeason]:
		t.Sums = x.What
	}
	return t
}

// The bodies. Times are those of the place, without a zone.

type readingBody struct {
	Trial   string         `json:"trial"`
	Season  int            `json:"season"`
	Unit    string         `json:"unit"`
	At      string         `json:"at"`
	Volume  *unit.Volume   `json:"volume_l,omitempty"`
	Counter *float64       `json:"counter,omitempty"`
	Depth   *unit.Length   `json:"depth_m,omitempty"`
	Brix    *float64       `json:"brix,omitempty"`
	Vacuum  *unit.Pressure `json:"vacuum_kpa,omitempty"`
	Note    string         `json:"note,omitempty"`
}

type eventBody struct {
	Trial  string          `json:"trial"`
	Season int             `json:"season"`
	Kind   trial.EventKind `json:"kind"`
	From   string          `json:"from"`
	To     string          `json:"to"`
	Units  []string        `json:"units,omitempty"`
	Note   string          `json:"note,omitempty"`
}

type calibrationBody struct {
	Trial  string      `json:"trial"`
	Season int         `json:"season"`
	Unit   string      `json:"unit,omitempty"`
	At     string      `json:"at"`
	Flow   trial.Flow  `json:"flow"`
	Dump   unit.Volume `json:"dump_l"`
}

type tankBody struct {
	Trial   string        `json:"trial"`
	Season  int           `json:"season"`
	Unit    string        `json:"unit,omitempty"`
	Depths  []unit.Length `json:"depths_m"`
	Volumes []unit.Volume `json:"volumes_l"`
}

type countBody struct {
	Trial  string `json:"trial"`
	Season int    `json:"season"`
	Unit   string `json:"unit"`
	At     string `json:"at"`
	Taps   int    `json:"taps"`
	Again  int    `json:"again,omitempty"`
	Note   string `json:"note,omitempty"`
}

type decisionBody struct {
	Trial   string     `json:"trial"`
	Season  int        `json:"season"`
	Finding string     `json:"finding"`
	Out     bool       `json:"out"`
	Reason  string     `json:"reason"`
	Taken   *takenBody `json:"taken,omitempty"`
}

type takenBody struct {
	Block string `json:"block,omitempty"`
	From  string `json:"from"`
	To    string `json:"to"`
}

type weatherBody struct {
	Trial string    `json:"trial"`
	Year  int       `json:"year"`
	Days  []dayBody `json:"days"`
}

type dayBody struct {
	Date string            `json:"date"`
	Min  *unit.Temperature `json:"tmin_c,omitempty"`
	Max  *unit.Temperature `json:"tmax_c,omitempty"`
}

type sumsBody struct {
	Trial  string    `json:"trial"`
	Season int       `json:"season"`
	Rows   []sumBody `json:"rows"`
}

type sumBody struct {
	Unit     string         `json:"unit"`
	Block    string         `json:"block,omitempty"`
	Practice practice.Key   `json:"practice"`
	DropAge  *int           `json:"drop_age,omitempty"`
	Taps     float64        `json:"taps"`
	Volume   unit.Volume    `json:"volume_l"`
	AtLeast  bool           `json:"at_least,omitempty"`
	Brix     *float64       `json:"brix,omitempty"`
	Vacuum   *unit.Pressure `json:"vacuum_kpa,omitempty"`
}

// The time format of bodies: of a reading at midnight, which is one of a day without a time, the day alone.
const minute = "2006-01-02T15:04:05"

func timeText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return strings.TrimSuffix(t.UTC().Format(minute), "T00:00:00")
}

func textTime(s string) (time.Time, error) {
	if strings.Contains(s, "T") {
		return time.Parse(minute, s)
	}
	return textDay(s)
}

// encodeLogged gives what encode gives, of what was logged for a trial.
func encodeLogged(v any) (kind Kind, parts []string, body any, p place) {
	switch v := v.(type) {
	case Logged[trial.Reading]:
		r := v.What
		return Reading, []string{v.Trial, r.Unit, timeText(r.At)},
			readingBody{v.Trial, v.Season, r.Unit, timeText(r.At), r.Volume, r.Counter,
				r.Depth, r.Brix, r.Vacuum, r.Note}, place{At: whereBody(r.Where)}
	case Logged[trial.Event]:
		e := v.What
		return Event, []string{v.Trial, string(e.Kind), timeText(e.From), strings.Join(e.Units, "+")},
			eventBody{v.Trial, v.Season, e.Kind, timeText(e.From), timeText(e.To),
				append([]string(nil), e.Units...), e.Note}, place{At: whereBody(e.Where)}
	case Logged[trial.Calibration]:
		c := v.What
		return Calibration, []string{v.Trial, c.Unit, string(c.Flow), timeText(c.At)},
			calibrationBody{v.Trial, v.Season, c.Unit, timeText(c.At), c.Flow, c.Dump}, p
	case Logged[trial.Tank]:
		t := v.What
		return Tank, []string{v.Trial, yearText(v.Season), t.Unit},
			tankBody{v.Trial, v.Season, t.Unit, t.Depths, t.Volumes}, p
	case Logged[trial.Count]:
		c := v.What
		return Count, []string{v.Trial, c.Unit, timeText(c.At)},
			countBody{v.Trial, v.Season, c.Unit, timeText(c.At), c.Taps, c.Again, c.Note},
			place{At: whereBody(c.Where)}
	case Logged[trial.Decision]:
		d := v.What
		return Decision, []string{v.Trial, yearText(d.Season), d.Finding},
			decisionBody{v.Trial, d.Season, d.Finding, d.Out, d.Reason,
				maybe(d.Taken, func(x trial.Exclusion) takenBody {
					return takenBody{x.Block, timeText(x.From), timeText(x.To)}
				})}, p
	case Logged[[]weather.Day]:
		return Weather, []string{v.Trial, yearText(v.Season)},
			weatherBody{v.Trial, v.Season, each(v.What, func(d weather.Day) dayBody {
				return dayBody{dayText(d.Date), d.Min, d.Max}
			})}, p
	case Logged[[]trial.UnitSeason]:
		return Sums, []string{v.Trial, yearText(v.Season)},
			sumsBody{v.Trial, v.Season, each(v.What, func(r trial.UnitSeason) sumBody {
				return sumBody{r.Unit, r.Block, r.Practice, r.DropAge, r.Taps, r.Volume,
					r.AtLeast, r.Brix,
					r.Vacuum}
			})}, place{Arms: each(v.What, func(r trial.UnitSeason) whereBody { return whereBody(r.Where) })}
	}
	return "", nil, nil, p
}

// decodeLogged is the other way; false where the kind is another.
func decodeLogged(kind Kind, read func(any) error, p place) (v any, known bool, err error) {
	var bad error
	at := func(s string) time.Time {
		t, err := textTime(s)
		bad = errors.Join(bad, err)
		return t
	}
	switch kind {
	case Reading:
		var b readingBody
		err = read(&b)
		v = Logged[trial.Reading]{b.Trial, b.Season,
			trial.Reading{Unit: b.Unit, At: at(b.At), Volume: b.Volume,
				Counter: b.Counter,
				Depth:   b.Depth, Brix: b.Brix,
				Vacuum: b.Vacuum, Note: b.Note, Where: note.Where(p.At)}}
	case Event:
		var b eventBody
		err = read(&b)
		v = Logged[trial.Event]{b.Trial, b.Season,
			trial.Event{Kind: b.Kind, From: at(b.From), To: at(b.To), Units: b.Units, Note: b.Note,
				Where: note.Where(p.At)}}
	case Calibration:
		var b calibrationBody
		err = read(&b)
		v = Logged[trial.Calibration]{b.Trial, b.Season,
			trial.Calibration{Unit: b.Unit, At: at(b.At), Flow: b.Flow, Dump: b.Dump}}
	case Tank:
		var b tankBody
		err = read(&b)
		v = Logged[trial.Tank]{b.Trial, b.Season,
			trial.Tank{Unit: b.Unit, Depths: b.Depths,
				Volumes: b.Volumes}}
	case Count:
		var b countBody
		err = read(&b)
		v = Logged[trial.Count]{b.Trial, b.Season,
			trial.Count{Unit: b.Unit, At: at(b.At), Taps: b.Taps, Again: b.Again, Note: b.Note,
				Where: note.Where(p.At)}}
	case Decision:
		var b decisionBody
		err = read(&b)
		v = Logged[trial.Decision]{b.Trial, b.Season,
			trial.Decision{Season: b.Season, Finding: b.Finding, Out: b.Out, Reason: b.Reason,
				Taken: maybe(b.Taken, func(x takenBody) trial.Exclusion {
					return trial.Exclusion{Block: x.Block, From: at(x.From), To: at(x.To)}
				})}}
	case Weather:
		var b weatherBody
		err = read(&b)
		v = Logged[[]weather.Day]{b.Trial, b.Year, each(b.Days, func(d dayBody) weather.Day {
			return weather.Day{Date: at(d.Date), Min: d.Min,
				Max: d.Max}
		})}
	case Sums:
		var b sumsBody
		err = read(&b)
		rows := each(b.Rows, func(r sumBody) trial.UnitSeason {
			return trial.UnitSeason{Unit: r.Unit, Block: r.Block, Season: b.Season, Practice: r.Practice,
				DropAge: r.DropAge, Taps: r.Taps,
				Volume: r.Volume, AtLeast: r.AtLeast, Brix: r.Brix,
				Vacuum: r.Vacuum}
		})
		for i := range min(len(rows), len(p.Arms)) {
			rows[i].Where = note.Where(p.Arms[i])
		}
		v = Logged[[]trial.UnitSeason]{b.Trial, b.Season, rows}
	default:
		return nil, false, nil
	}
	return v, true, errors.Join(err, bad)
}

func yearText(y int) string { return strconv.Itoa(y) }
