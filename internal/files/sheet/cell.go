package sheet

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"spile/internal/note"
	"spile/internal/trade/column"
)

// kind is what a value was written as. A CSV file knows only plain text; TOML tells text from numbers.
type kind int

const (
	plain kind = iota // CSV: the column says what it must be
	str
	num
	truth
	day
	odd // a TOML value with no place in these files: a time of day, an empty list
)

// cell is one value of a file and the line it stood on.
type cell struct {
	text string
	row  int
	kind kind
}

// head numbers the columns of a CSV file, or the keys of a TOML table.
type head struct {
	file, sheet string
	row         int // of a table
	names       []string
	said        []string   // of a table: its headers as they stand there
	foreign     bool       // names are ours, and said are not
	sep         rune       // of a CSV file
	notes       note.List  // what became of its shape
	above       [][]string // of a table that was put into shape: the lines above its rows, its header among them
	below       [][]string // and those below them
	index       map[string]int
}

// where is the place of the header of a table.
func (h *head) where() note.Where { return note.Where{File: h.file, Sheet: h.sheet, Row: h.row} }

// calls is a column as the table itself calls it.
func (h *head) calls(key string) string {
	if i, ok := h.index[key]; ok && h.foreign && h.said[i] != "" && !strings.EqualFold(h.said[i], key) {
		return h.said[i]
	}
	return key
}

// theirs is what a table calls columns of ours that it calls otherwise, where each is one column of it.
func (h *head) theirs() map[string]string {
	calls := map[string]string{}
	for i, name := range h.names {
		if h.foreign && h.said[i] != "" && known()[name] && !strings.EqualFold(h.said[i], name) {
			calls[name] = h.said[i]
		}
	}
	return calls
}

func newHead(names []string) *head {
	h := &head{names: names, index: make(map[string]int, len(names))}
	for i, n := range names {
		if _, twice := h.index[n]; !twice {
			h.index[n] = i
		}
	}
	return h
}

// record is one row of a table or one table of a TOML file. Its methods read a value as what it must be and put
// every fault with what they found; a value at fault or not given is returned as the zero value or nil.
type record struct {
	file   string
	sheet  string // of an XLSX file
	row    int
	head   *head
	cells  []cell
	stood  [][]string     // of a table that is put into shape: as it stood, and what was left out below it
	turned string         // of a table that was turned round: the header of the column that this was
	lost   bool           // a cell of it could not be read, which has been said
	comma  bool           // a decimal comma may stand in numbers
	tables map[string]int // of a TOML file: the line of each table by its dotted name

	typed    string                // the TOML file itself; "": it is none
	columns  map[string]note.Where // of a table read as dotted keys: where the value of each stands
	children map[string][]string   // of a TOML file: the names below each table, in the order of the file
	faults   *faults
}

// get finds a value; blank and absent are the same.
func (r *record) get(key string) (cell, bool) {
	i, ok := r.head.index[key]
	if !ok || i >= len(r.cells) || r.cells[i].text == "" && r.cells[i].kind == plain {
		return cell{}, false
	}
	return r.cells[i], true
}

func (r *record) has(key string) bool {
	_, ok := r.get(key)
	return ok
}

// where is the place of a key's value, or of the record where the key is absent.
func (r *record) where(key string) note.Where {
	if w, ok := r.columns[key]; ok {
		return w
	}
	w := note.Where{File: r.file, Sheet: r.sheet, Row: r.row, Column: r.head.calls(key)}
	if c, ok := r.get(key); ok {
		w.Row = c.row
		return w
	}
	for at := key; r.tables != nil; {
		if row, ok := r.tables[at]; ok {
			w.Row = row
			if r.columns != nil {
				w.Column = strings.TrimPrefix(key, at+".")
			}
			break
		}
		i := strings.LastIndexByte(at, '.')
		if i < 0 {
			break
		}
		at = at[:i]
	}
	return w
}

// fault puts down what is wrong with a key's value.
func (r *record) fault(key string, n note.Note) { r.faults.add(n.At(r.where(key))) }

// need says that a value must be given, and whether it is.
func (r *record) need(key string) bool {
	if r.has(key) {
		return true
	}
	if r.lost {
		return false
	}
	r.faults.missing(note.New("nothing is given for %s, which is needed", r.head.calls(key)).At(r.where(key)))
	return false
}

// needs is need where nothing follows from the answer.
func (r *record) needs(keys ...string) {
	for _, key := range keys {
		r.need(key)
	}
}

// text reads words.
func (r *record) text(key string) string {
	c, ok := r.get(key)
	if !ok {
		return ""
	}
	if c.kind != plain && c.kind != str {
		r.fault(key, note.New("%s stands where words belong; allowed: a text in quotes", shorten(c.text)))
		return ""
	}
	return strings.TrimSpace(c.text)
}

// choice reads one of a few words.
func (r *record) choice(key string, allowed ...string) string {
	c, ok := r.get(key)
	if !ok {
		return ""
	}
	word := strings.ToLower(strings.TrimSpace(c.text))
	if slices.Contains(allowed, word) && (c.kind == plain || c.kind == str) {
		return word
	}
	r.fault(key, note.Unknown(c.text, allowed))
	return ""
}

// yes reads a yes or no; blank is no.
func (r *record) yes(key string) bool {
	c, ok := r.get(key)
	if !ok {
		return false
	}
	if c.kind == truth {
		return c.text == "true"
	}
	if c.kind == plain || c.kind == str {
		switch strings.ToLower(strings.TrimSpace(c.text)) {
		case "yes", "true":
			return true
		case "no", "false":
			return false
		}
	}
	r.fault(key, note.New("%s is neither yes nor no; allowed: yes, no", quote(c.text)))
	return false
}

// date reads a day; the zero time where none is given.
func (r *record) date(key string) time.Time {
	c, ok := r.get(key)
	if !ok {
		return time.Time{}
	}
	t, err := time.Parse(time.DateOnly, strings.TrimSpace(c.text))
	if err != nil || t.Year() < 1900 || t.Year() > 2100 {
		r.fault(key, note.New("%s is not a date; allowed: year-month-day, such as 2024-02-15", quote(c.text)))
		return time.Time{}
	}
	return t
}

// bounds is what a number may be.
type bounds = column.Bounds

const most = column.Most

var positive = column.Positive

// number reads a number within bounds; nil where none is given or it is at fault.
func (r *record) number(key string, b bounds) *float64 {
	c, ok := r.get(key)
	if !ok {
		return nil
	}
	if c.kind != plain && c.kind != num {
		r.fault(key, note.New("%s stands where a number belongs; allowed: a number without quotes, such as 18.5",
			quote(c.text)))
		return nil
	}
	text := strings.TrimSpace(c.text)
	x, style, ok := parse(text, r.comma && c.kind == plain)
	if !ok {
		n := notNumber(text)
		if b == spring { // a spreadsheet may show a year as a date
			n = b.Fault(text)
		}
		r.fault(key, n)
		return nil
	}
	r.faults.decimal(style, r, key, text)
	if !b.Has(x) {
		r.fault(key, b.Fault(text))
		return nil
	}
	return &x
}

// whole reads a whole number within bounds.
func (r *record) whole(key string, b bounds) *int {
	b.Whole = true
	x := r.number(key, b)
	if x == nil {
		return nil
	}
	return new(int(*x))
}

// parse reads a plain decimal number: digits, a decimal point (or comma, where allowed), an exponent. It gives the
// mark that was used, or 0. Nothing that a person could have meant otherwise passes: no unit, no percent sign, no
// thousands separator, no hexadecimal, no NaN.
func parse(text string, comma bool) (x float64, mark byte, ok bool) {
	text = strings.Replace(text, "−", "-", 1) // the minus of papers
	marks := 0
	for i := range len(text) {
		switch c := text[i]; {
		case c >= '0' && c <= '9', c == '-', c == '+', c == 'e', c == 'E':
		case c == '.', c == ',' && comma:
			mark = c
			marks++
		default:
			return 0, 0, false
		}
	}
	if marks > 1 {
		return 0, 0, false
	}
	if mark == ',' {
		text = strings.Replace(text, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil && math.IsInf(x, 0) {
		return x, mark, true // too large: the bounds say so
	}
	return x, mark, err == nil
}

// notNumber says why a text is not a number.
func notNumber(text string) note.Note {
	q := quote(text)
	low := strings.ToLower(strings.TrimLeft(text, "+-−"))
	digit := strings.IndexFunc(text, unicode.IsDigit) >= 0
	switch {
	case low == "nan" || low == "inf" || low == "infinity" || low == "na" || low == "n/a":
		return note.New("%s is not a number; leave it empty where there is none", q)
	case ranged.MatchString(strings.Trim(text, "()[]")):
		return note.New("%s is a range and no number; allowed: one number, and the ends of an interval in columns of "+
			"their own", q)
	case bracketed.MatchString(text):
		return note.New("%s stands in brackets; allowed: the number alone, with a minus before it where it is below 0",
			q)
	case digit && (strings.IndexAny(text, "<>≤≥") == 0 || strings.HasSuffix(text, "+")):
		return note.New("%s is a limit and no number; allowed: a number, or an empty cell and the limit in a remark", q)
	case digit && strings.Contains(text, "%"):
		return note.New("%s carries a percent sign; allowed: the number alone, such as 31.5", q)
	case digit && strings.IndexFunc(text, unicode.IsLetter) >= 0:
		return note.New("%s carries a unit or words; allowed: the number alone, such as 18.5", q)
	case digit && strings.Trim(text, "0123456789+-.,'’ \u00a0\u202f") == "":
		return note.New("%s has a thousands separator or a decimal comma that this file does not allow; allowed: "+
			"digits with a decimal point, such as 1234.5 (a decimal comma only where the separator is a semicolon or "+
			"a tab)", q)
	}
	return note.New("%s is not a number; allowed: a plain number such as 18.5", q)
}

// quote shows what stood in a file, in quotes and cut short.
func quote(s string) string { return note.Quote(s) }

func shorten(s string) string { return note.Shorten(s) }
