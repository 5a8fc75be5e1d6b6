// Package column says once what a column of a table holds. Whoever reads, writes, asks for, maps or describes a table
// loops over its columns.
package column

import (
	"cmp"
	"math"
	"strings"
	"time"

	"spile/internal/note"
)

// Kind is what the cells of a column hold.
type Kind int

const (
	Text      Kind = iota // any words, or one of Column.Words where there are some; a string
	YesNo                 // yes or no; a bool, given where it is true
	Number                // a float64
	Whole                 // an int
	Inches                // a size as a number or as the trade writes it, 5/16; a float64
	Day                   // year-month-day; a time.Time
	Practice              // the key of a practice known to the run; a string
	Volume                // a unit of volume, one of its spellings; a string
	List                  // several words; a []string
	Practices             // several keys of practices; a []string
	Moment                // a day, or a day with a time of the place; a time.Time
	Own                   // in a form of its own; Set takes what Column.Parse reads, fmt writes what Get gives
)

// Numeric is true of a kind whose cells are numbers, which one digest reads alike however they are written.
func (k Kind) Numeric() bool { return k == Number || k == Whole || k == Inches }

// Column is one column of a table whose rows are T, a pointer or a struct of pointers.
type Column[T any] struct {
	Name   string // in files, small letters
	Needed bool   // every row gives it
	Unit   string // of its numbers, as data.md says it; "" none
	Bounds Bounds // what its numbers may be
	Usual  Range  // what they are, most of the time; zero where nothing is said
	Words  []string
	Label  string // English name on a page, the id of its translation; with the unit
	Hint   string // English, what a form says beside it; mostly ""
	// what people head such a column with, in English and French, small letters and spaces alone
	Headers []string
	Ways    []Way               // other units in which people write its numbers
	Said    map[string][]string // what people write in the place of each of Words, as Headers
	Holds   string              // what data.md says that it holds
	Allowed string              // what data.md says is allowed; "" follows from kind, words and bounds
	Without string              // what data.md says counts where it is left out; "" nothing is said
	// the column that holds the same and is written; "": this one is written itself
	Instead string
	Parse   func(text string) (any, note.Note) // of the kind Own; a note says that the text is none of it
	Field[T]
}

// Way is another unit in which people write the numbers of a column.
type Way struct {
	Key    string                  // behind the column's name in a mapping file
	Label  string                  // English, the id of its translation
	Says   []string                // how headers and cells say it, small letters and spaces alone
	Bend   func(x float64) float64 // what is done to it first: the root of a variance; nil: nothing
	Factor float64                 // from it to the column's own unit; 0 is 1
	Less   float64                 // taken off after that
	Share  string                  // the column of whose yield it is a percentage: mean, or gain_pct, with 100 to it
	Per    string                  // a column of the row by whose number it is divided: a unit's total by its taps
	Beside string                  // a column that the way says something of, "" none, and what it says
	Is     string
}

// Of is a number written this way, in the column's own unit.
func (w Way) Of(x float64) float64 {
	if w.Bend != nil {
		x = w.Bend(x)
	}
	return x*cmp.Or(w.Factor, 1) - w.Less
}

// Field is where the value of a column stands in a row. Get gives nil where nothing is given, Set takes what Get gives.
type Field[T any] struct {
	Kind Kind
	Get  func(T) any
	Set  func(T, any)
}

// Quantity is a field of a number in a unit of measure that may be missing.
func Quantity[T any, Q quantity[U], U measure[Q]](u U, at func(T) **Q) Field[T] {
	return Field[T]{Number,
		func(row T) any {
			if q := *at(row); q != nil {
				return (*q).In(u)
			}
			return nil
		},
		func(row T, v any) { *at(row) = new(u.Of(v.(float64))) },
	}
}

// measure is a unit, and quantity what is measured in it.
type measure[Q any] interface{ Of(float64) Q }
type quantity[U any] interface {
	~float64
	In(U) float64
}

// Filled is a field of a number in a unit of measure that is never 0 where it is given.
func Filled[T any, Q quantity[U], U measure[Q]](u U, at func(T) *Q) Field[T] {
	return Field[T]{Number,
		func(row T) any {
			if q := *at(row); q != 0 {
				return q.In(u)
			}
			return nil
		},
		func(row T, v any) { *at(row) = u.Of(v.(float64)) },
	}
}

// Plain is a field of a number that is never 0 where it is given.
func Plain[T any](at func(T) *float64) Field[T] { return filled(Number, at) }

// PlainSize is a field of a size in inches that is never 0 where it is given.
func PlainSize[T any](at func(T) *float64) Field[T] { return filled(Inches, at) }

// Int is a field of a whole number that is never 0 where it is given.
func Int[T any](at func(T) *int) Field[T] { return filled(Whole, at) }

func filled[T any, N int | float64](k Kind, at func(T) *N) Field[T] {
	return Field[T]{k,
		func(row T) any {
			if n := *at(row); n != 0 {
				return n
			}
			return nil
		},
		func(row T, v any) { *at(row) = v.(N) },
	}
}

// ListOf is a field of several words.
func ListOf[T any, S ~string](at func(T) *[]S) Field[T] {
	return Field[T]{List,
		func(row T) any {
			if len(*at(row)) == 0 {
				return nil
			}
			var list []string
			for _, s := range *at(row) {
				list = append(list, string(s))
			}
			return list
		},
		func(row T, v any) {
			*at(row) = nil
			for _, s := range v.([]string) {
				*at(row) = append(*at(row), S(s))
			}
		},
	}
}

// MomentOf is a field of a day that may have a time; the zero time is not given.
func MomentOf[T any](at func(T) *time.Time) Field[T] {
	f := DayOf(at)
	f.Kind = Moment
	return f
}

// Range is from a number to a number.
type Range struct{ Low, High float64 }

// Beyond is how far a number lies outside the range, as a part of its width; 0 within.
func (r Range) Beyond(x float64) float64 { return max(0, r.Low-x, x-r.High) / (r.High - r.Low) }

// Ask asks whether a number beyond the range is meant; false where it is within, or the range is none. Both are in the
// unit that the number was typed in.
func (r Range) Ask(x float64) (note.Note, bool) {
	if r == (Range{}) || x >= r.Low && x <= r.High {
		return note.Note{}, false
	}
	return note.New("%v is beyond the usual %v to %v; is that meant?", x, r.Low, r.High), true
}

// Bounds is what a number may be.
type Bounds struct {
	Low, High float64
	Open      bool // Low itself is not allowed
	Whole     bool
}

// Most is the largest number taken anywhere: far above any yield, count or price that a sugarbush has, far below where
// arithmetic overflows.
const Most = 1e5

// Bounds of many columns. A vacuum cannot pass the standard atmosphere, 101.325 kPa (ICAO standard atmosphere).
var (
	Positive = Bounds{Low: 0, High: Most, Open: true}
	NotBelow = Bounds{Low: 0, High: Most} // zero or more
	Anything = Bounds{Low: -Most, High: Most}
	Count    = Bounds{Low: 1, High: Most, Whole: true}
	Seasons  = Bounds{Low: 0, High: 100, Whole: true}
	Spring   = Bounds{Low: 1900, High: 2100, Whole: true} // the year of a season
	InHg     = Bounds{Low: 0, High: 29.92}
	KPa      = Bounds{Low: 0, High: 101.325}
)

// Has is true of a number within the bounds.
func (b Bounds) Has(x float64) bool {
	return x >= b.Low && x <= b.High && !(b.Open && x == b.Low) && !(b.Whole && x != math.Trunc(x))
}

// Fault says that the number a text gives is out of bounds, and what is allowed.
func (b Bounds) Fault(text string) note.Note {
	switch {
	case b == Spring:
		return note.New("%s is not a season; allowed: the year of the spring, four digits, 1900 to 2100, such as 2019",
			note.Quote(text))
	case b.Whole:
		return note.New("%s is out of bounds; allowed: a whole number from %v to %v", text, b.Low, b.High)
	case b.Open:
		return note.New("%s is out of bounds; allowed: above %v and at most %v", text, b.Low, b.High)
	}
	return note.New("%s is out of bounds; allowed: %v to %v", text, b.Low, b.High)
}

// Words is a field of words; "" is not given.
func Words[T any, S ~string](at func(T) *S) Field[T] { return words(Text, at) }

// Key is a field that names a practice.
func Key[T any, S ~string](at func(T) *S) Field[T] { return words(Practice, at) }

// Unit is a field that names a unit of volume.
func Unit[T any, S ~string](at func(T) *S) Field[T] { return words(Volume, at) }

func words[T any, S ~string](k Kind, at func(T) *S) Field[T] {
	return Field[T]{k,
		func(row T) any {
			if s := *at(row); s != "" {
				return string(s)
			}
			return nil
		},
		func(row T, v any) { *at(row) = S(v.(string)) },
	}
}

// Yes is a field that is true or not given.
func Yes[T any](at func(T) *bool) Field[T] {
	return Field[T]{YesNo,
		func(row T) any {
			if *at(row) {
				return true
			}
			return nil
		},
		func(row T, v any) { *at(row) = v.(bool) },
	}
}

// Keys is a field of several keys of practices.
func Keys[T any, S ~string](at func(T) *[]S) Field[T] {
	f := ListOf(at)
	f.Kind = Practices
	return f
}

// Of is a field of a number that may be missing.
func Of[T any](at func(T) **float64) Field[T] { return maybe(Number, at) }

// Size is a field of a size in inches that may be missing.
func Size[T any](at func(T) **float64) Field[T] { return maybe(Inches, at) }

// WholeOf is a field of a whole number that may be missing.
func WholeOf[T any](at func(T) **int) Field[T] { return maybe(Whole, at) }

func maybe[T, N any](k Kind, at func(T) **N) Field[T] {
	return Field[T]{k,
		func(row T) any {
			if p := *at(row); p != nil {
				return *p
			}
			return nil
		},
		func(row T, v any) { *at(row) = new(v.(N)) },
	}
}

// DayOf is a field of a day; the zero time is not given.
func DayOf[T any](at func(T) *time.Time) Field[T] {
	return Field[T]{Day,
		func(row T) any {
			if d := *at(row); !d.IsZero() {
				return d
			}
			return nil
		},
		func(row T, v any) { *at(row) = v.(time.Time) },
	}
}

// Names are the names of columns, in their order.
func Names[T any](columns []Column[T]) []string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	return names
}

// Bare are columns without where their values stand, of whichever table.
func Bare[T any](columns []Column[T]) []Column[any] {
	list := make([]Column[any], len(columns))
	for i, c := range columns {
		list[i] = Column[any]{Name: c.Name, Needed: c.Needed, Unit: c.Unit, Bounds: c.Bounds, Usual: c.Usual,
			Words: c.Words, Label: c.Label,
			Hint: c.Hint, Headers: c.Headers, Ways: c.Ways, Said: c.Said, Holds: c.Holds,
			Allowed: c.Allowed, Without: c.Without, Instead: c.Instead, Parse: c.Parse,
			Field: Field[any]{Kind: c.Kind}}
	}
	return list
}

// Find gives the column of a name.
func Find[T any](columns []Column[T], name string) (Column[T], bool) {
	for _, c := range columns {
		if c.Name == name {
			return c, true
		}
	}
	return Column[T]{}, false
}

// ParseMoment reads a day, or a day with a time: 2026-03-05, 2026-03-05 17:30, 2026-03-05T17:30:15. Times are those of
// the place. It is called for millions of rows, so it looks at digits only.
func ParseMoment(s string) (time.Time, bool) {
	two := func(i int) int {
		a, b := s[i]-'0', s[i+1]-'0'
		if a > 9 || b > 9 {
			return -1
		}
		return int(10*a + b)
	}
	if len(s) != 10 && len(s) != 16 && len(s) != 19 || s[4] != '-' || s[7] != '-' {
		return time.Time{}, false
	}
	century, year, month, day := two(0), two(2), two(5), two(8)
	hour, minute, second := 0, 0, 0
	if len(s) >= 16 {
		if s[10] != ' ' && s[10] != 'T' && s[10] != 't' || s[13] != ':' || len(s) == 19 && s[16] != ':' {
			return time.Time{}, false
		}
		hour, minute = two(11), two(14)
		if len(s) == 19 {
			second = two(17)
		}
	}
	if century < 19 || century > 21 || year < 0 || month < 1 || month > 12 || day < 1 || hour < 0 || hour > 23 ||
		minute < 0 || minute > 59 || second < 0 || second > 59 {
		return time.Time{}, false
	}
	t := time.Date(100*century+year, time.Month(month), day, hour, minute, second, 0, time.UTC)
	return t, t.Day() == day && t.Year() <= 2100 // not the 30th of February
}

// NoMoment says that a text is not a day, or a day with a time.
func NoMoment(text string) note.Note {
	return note.New("%s is not a date; allowed: year-month-day, such as 2026-03-05, and a time behind it where it "+
		"matters, such as 2026-03-05 17:30", note.Quote(text))
}

// MomentText is a time as ParseMoment reads it: the day alone where it is midnight.
func MomentText(t time.Time) string {
	return strings.TrimSuffix(t.Format("2006-01-02T15:04:05"), "T00:00:00")
}

// Ways are the names of the columns that hold what the column of a name holds, itself among them, in their order.
func Ways[T any](columns []Column[T], name string) (names []string) {
	for _, c := range columns {
		if c.Name == name || c.Instead == name {
			names = append(names, c.Name)
		}
	}
	return names
}
