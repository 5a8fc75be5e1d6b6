// Package weather turns daily temperatures into what matters to a sap season: freeze-thaw days, warm spells, degree
// days and the season's class, by rules that a user can change.
package weather

import (
	"fmt"
	"math"
	"slices"
	"time"

	"spile/internal/note"
	"spile/internal/trade/unit"
)

// Day is one day's lowest and highest temperature; nil is a reading that is missing or was not accepted.
type Day struct {
	Date     time.Time // midnight UTC
	Min, Max *unit.Temperature
}

// Record is one value of the open daily form of the Global Historical Climatology Network (Menne et al. 2012, J Atmos
// Ocean Technol 29:897): one row an element and day. Temperatures are in tenths of a degree Celsius. A quality flag
// that is not blank says that the value failed a check.
type Record struct {
	Station string
	Date    time.Time
	Element string // TMIN, TMAX; others are not used
	Value   float64
	Quality string
}

// missing is the value that stands for none in that form.
const missing = -9999

// Temperatures that no station on land has had: beyond them a value is a slip (−89.2 and 56.7 °C are the extremes
// that the World Meteorological Organization recognises).
const (
	coldest = -90.0
	hottest = 57.0
)

// Days gathers the records of one station into days, in order. Values that failed a check are left out and counted in a
// note. The error is note.Faults: two stations, one day twice with different values, a temperature that cannot be.
func Days(records []Record) ([]Day, note.List, error) {
	var faults note.Faults
	days := map[time.Time]*Day{}
	station, refused := "", 0
	for _, r := range records {
		if r.Element != "TMIN" && r.Element != "TMAX" || r.Value == missing {
			continue
		}
		if station == "" {
			station = r.Station
		} else if r.Station != station {
			return nil, nil, note.Faults{note.New("the records are of two stations, %s and %s; allowed: one", station,
				r.Station)}
		}
		if r.Quality != "" {
			refused++
			continue
		}
		x := unit.Celsius.Of(r.Value / 10)
		if !(float64(x) >= coldest && float64(x) <= hottest) {
			faults.Add("%v tenths of a degree on %s; allowed: %v to %v", r.Value,
				r.Date.Format(time.DateOnly), 10*coldest, 10*hottest)
			continue
		}
		d := days[r.Date]
		if d == nil {
			d = &Day{Date: r.Date}
			days[r.Date] = d
		}
		at := &d.Min
		if r.Element == "TMAX" {
			at = &d.Max
		}
		if *at != nil && **at != x {
			faults.Add("%s stands twice on %s, with %v and %v tenths of a degree", r.Element,
				r.Date.Format(time.DateOnly), 10*float64(**at), r.Value)
		}
		*at = &x
	}
	if faults != nil {
		return nil, nil, faults
	}
	var out []Day
	for _, d := range days {
		out = append(out, *d)
	}
	slices.SortFunc(out, func(a, b Day) int { return a.Date.Compare(b.Date) })
	var notes note.List
	if refused > 0 {
		notes.Add("%d temperatures failed the network's quality checks and are left out", refused)
	}
	return out, notes, nil
}

// Check finds days that cannot be: a lowest above a highest, a temperature no place has, a day twice.
func Check(days []Day) error {
	var faults note.Faults
	seen := map[time.Time]bool{}
	for _, d := range days {
		date := d.Date.Format(time.DateOnly)
		if seen[d.Date] {
			faults.Add("%s stands twice; allowed: one row a day", date)
		}
		seen[d.Date] = true
		for _, x := range []*unit.Temperature{d.Min, d.Max} {
			if x != nil && !(float64(*x) >= coldest && float64(*x) <= hottest) {
				faults.Add("%v °C on %s; allowed: %v to %v", float64(*x), date, coldest, hottest)
			}
		}
		if d.Min != nil && d.Max != nil && *d.Min > *d.Max {
			faults.Add("the lowest temperature of %s, %.1f °C, is above its highest, %.1f °C",
				date, float64(*d.Min), float64(*d.Max))
		}
	}
	return faults.Err()
}

// Rules say what counts. Those of Usual are common practice without a source; a user changes them to fit the place.
type Rules struct {
	From    MonthDay         `json:"from"`     // the days of the year that are looked at,
	To      MonthDay         `json:"to"`       // both in
	Freeze  unit.Temperature `json:"freeze"`   // a freeze-thaw day has its lowest below this
	Thaw    unit.Temperature `json:"thaw"`     // and its highest above this
	Warm    unit.Temperature `json:"warm"`     // a warm day's lowest stays above this: nothing freezes, sap stops
	Hot     unit.Temperature `json:"hot"`      // a hot day's highest reaches this
	HotDays int              `json:"hot_days"` // so many hot days in a row end a season hot
	// when they come within so many days of the last freeze-thaw day, before or after
	LastDays  int              `json:"last_days"`
	Base      unit.Temperature `json:"base"`        // of degree days
	ShortUpTo int              `json:"short_up_to"` // freeze-thaw days of a short season, at most
	LongFrom  int              `json:"long_from"`   // and of a long one, at least
	MaxGap    int              `json:"max_gap"`     // days missing beyond which no class is given
}

// MonthDay is a day of any year.
type MonthDay struct {
	Month time.Month
	Day   int
}

// MarshalJSON writes it as [month, day].
func (d MonthDay) MarshalJSON() ([]byte, error) {
	return fmt.Appendf(nil, "[%d,%d]", d.Month, d.Day), nil
}

// UnmarshalJSON reads it.
func (d *MonthDay) UnmarshalJSON(text []byte) error {
	_, err := fmt.Sscanf(string(text), "[%d,%d]", &d.Month, &d.Day)
	return err
}

// String is the day as files have it: 02-15.
func (d MonthDay) String() string { return fmt.Sprintf("%02d-%02d", d.Month, d.Day) }

// Usual is the rules that stand unless changed: common practice, no source, but for the base of degree days, that of
// plants of cool climates.
func Usual() Rules {
	return Rules{
		From: MonthDay{time.February, 1}, To: MonthDay{time.April, 30},
		Freeze: 0, Thaw: 0, Warm: 0, Hot: 15, HotDays: 3, LastDays: 14, Base: 5,
		ShortUpTo: 25, LongFrom: 45, MaxGap: 10,
	}
}

// Class is a season's length.
type Class string

const (
	Short   Class = "short"
	Normal  Class = "usual"
	Long    Class = "long"
	Unknown Class = "unknown" // too many days are missing
)

// Season is what a spring's temperatures say.
type Season struct {
	Year       int
	FreezeThaw int         // days
	Dates      []time.Time // of the freeze-thaw days
	WarmSpell  int         // days of the longest warm spell between the first and the last freeze-thaw day
	WarmFrom   time.Time   // its first day; zero where there is none
	DegreeDays float64     // °C days above the base, from the mean of lowest and highest
	Class      Class
	HotEnd     bool
	Missing    int // days without both temperatures
	Notes      note.List
}

// Of looks at one spring. Days of other times are passed over; they need not be in order. The error is of days or rules
// that cannot be.
func Of(year int, days []Day, r Rules) (Season, error) {
	s := Season{Year: year, Class: Unknown}
	if err := Check(days); err != nil {
		return s, err
	}
	from := time.Date(year, r.From.Month, r.From.Day, 0, 0, 0, 0, time.UTC)
	to := time.Date(year, r.To.Month, r.To.Day, 0, 0, 0, 0, time.UTC)
	if to.Before(from) || r.ShortUpTo >= r.LongFrom || r.HotDays < 1 || r.LastDays < 0 {
		return s, note.Faults{note.New("the rules of a season's class contradict each other: its days must be in " +
			"order, a short season shorter than a long one, a hot spell a day or more")}
	}
	at := map[time.Time]Day{}
	for _, d := range days {
		at[d.Date] = d
	}
	var spring []Day
	for t := from; !t.After(to); t = t.AddDate(0, 0, 1) {
		d := at[t]
		d.Date = t
		spring = append(spring, d)
		if d.Min == nil || d.Max == nil {
			s.Missing++
			continue
		}
		if *d.Min < r.Freeze && *d.Max > r.Thaw {
			s.FreezeThaw++
			s.Dates = append(s.Dates, t)
		}
		s.DegreeDays += math.Max(0, float64((*d.Min+*d.Max)/2-r.Base))
	}
	if s.Missing > 0 {
		s.Notes.Add("%d days of the %d season have no temperatures, so its counts are at least what is written",
			s.Missing, year)
	}
	if len(s.Dates) > 0 {
		first, last := s.Dates[0], s.Dates[len(s.Dates)-1]
		s.WarmSpell, s.WarmFrom = spell(spring, first, last,
			func(d Day) bool { return d.Min != nil && *d.Min > r.Warm })
		hot, _ := spell(spring, last.AddDate(0, 0, -r.LastDays), last.AddDate(0, 0, r.LastDays),
			func(d Day) bool { return d.Max != nil && *d.Max >= r.Hot })
		s.HotEnd = hot >= r.HotDays
	}
	if s.Missing > r.MaxGap {
		s.Notes.Add("too many days of the %d season are missing to class it", year)
		return s, nil
	}
	switch {
	case s.FreezeThaw <= r.ShortUpTo:
		s.Class = Short
	case s.FreezeThaw >= r.LongFrom:
		s.Class = Long
	default:
		s.Class = Normal
	}
	return s, nil
}

// spell is the longest run of days between two dates, both in, that are as asked; the first one where two are as long.
func spell(days []Day, from, to time.Time, is func(Day) bool) (longest int, start time.Time) {
	run := 0
	for _, d := range days {
		if d.Date.Before(from) || d.Date.After(to) {
			continue
		}
		if !is(d) {
			run = 0
			continue
		}
		run++
		if run > longest {
			longest, start = run, d.Date.AddDate(0, 0, 1-run)
		}
	}
	return longest, start
}
