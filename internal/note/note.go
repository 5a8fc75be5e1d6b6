// Package note holds what must be said before it has words: warnings, faults and cautions.
// Results carry notes, callers show them, and only package say makes words of them.
package note

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Where is the place in a user's file that a note speaks of. The zero Where is "nowhere in a file".
type Where struct {
	File   string // name as the user gave it
	Sheet  string // sheet of a spreadsheet file, else ""
	Row    int    // 1 is the first line of the file; 0 is unknown
	Column string // header of the column, or dotted key of a TOML file
}

// String gives "file, sheet, row 3, column mean", leaving out what is unknown.
func (w Where) String() string {
	var parts []string
	if w.File != "" {
		parts = append(parts, w.File)
	}
	if w.Sheet != "" {
		parts = append(parts, w.Sheet)
	}
	if w.Row > 0 {
		parts = append(parts, fmt.Sprintf("row %d", w.Row))
	}
	if w.Column != "" {
		parts = append(parts, fmt.Sprintf("column %s", w.Column))
	}
	return strings.Join(parts, ", ")
}

// Term is an argument of a note that is itself a word of the tool (a practice, a caveat) and is
// put into the reader's language; a plain string (a study's name, a file) stands as it is.
type Term string

// Count is an argument that counts things: it chooses the plural form, and thousands are set off.
type Count int

// Money is an argument that is an amount in a currency, of which three digits are told.
type Money struct {
	Amount   float64
	Currency string
}

// String is the amount in plain English.
func (m Money) String() string { return fmt.Sprintf("%.0f %s", m.Amount, m.Currency) }

// Percent is an argument that is a percentage: 31.2 is 31.2 %.
type Percent float64

// Row is an argument that is a row of the file in hand, counted as in Where: a page that shows the rows under numbers
// of its own says that number.
type Row int

// Day is an argument that is a day of a season whose year is known beside it.
type Day time.Time

// String is the day as files have it: 2026-03-05.
func (d Day) String() string { return time.Time(d).Format(time.DateOnly) }

// Note is one thing that must be said.
type Note struct {
	Key   string // the English text with fmt verbs; the id of every translation
	Args  []any  // string, Term, int, Count, Money, Row, float64, Percent, Day or a quantity of a unit, one a verb
	Where Where
}

// New makes a note without a place.
func New(key string, args ...any) Note { return Note{Key: key, Args: args} }

// At gives the note a place in a file.
func (n Note) At(w Where) Note {
	n.Where = w
	return n
}

// English is the note in plain English, for a log or an error value; what a person reads comes from package say.
func (n Note) English() string {
	text := fmt.Sprintf(n.Key, n.Args...)
	if w := n.Where.String(); w != "" {
		return w + ": " + text
	}
	return text
}

// List is several notes, in the order in which they are said.
type List []Note

// Faults is every fault of one input, found at once.
type Faults = List

// Add adds a note.
func (f *List) Add(key string, args ...any) { *f = append(*f, New(key, args...)) }

// Error joins the faults in English, one a line.
func (f List) Error() string {
	lines := make([]string, len(f))
	for i, n := range f {
		lines[i] = n.English()
	}
	return strings.Join(lines, "\n")
}

// More stands behind faults of which not all are listed.
func More(n int) Note { return New(more, n) }

const more = "and %d more faults, not listed"

// Mend stands behind faults that a file of such text would mend; it is none itself.
func Mend(file string) Note { return New(mend, file) }

const mend = "if these headers and words stand for ours, say so in a TOML file that is read with the table:\n%s"

// Count is how many faults there are, those that are not listed among them.
func (f Faults) Count() (n int) {
	for _, x := range f {
		switch x.Key {
		case more:
			n += x.Args[0].(int)
		case mend:
		default:
			n++
		}
	}
	return n
}

// Err is nil when there is no fault.
func (f List) Err() error {
	if len(f) == 0 {
		return nil
	}
	return f
}

// Some names the first few of a list, and says how many more there are.
func Some(names []string) string {
	const few = 5
	if len(names) <= few {
		return strings.Join(names, ", ")
	}
	return strings.Join(names[:few], ", ") + fmt.Sprintf(" (+%d)", len(names)-few)
}

// FaultsOf are those of an error; one that is none of ours becomes one of its own words.
func FaultsOf(err error) Faults {
	var f Faults
	if err != nil && !errors.As(err, &f) {
		f = Faults{New("%s", err.Error())}
	}
	return f
}
