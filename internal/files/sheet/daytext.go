package sheet

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/trade/gloss"
)

// months are the months in English and French, without accents.
var months = [][]string{{"january", "janvier"}, {"february", "fevrier"}, {"march", "mars"}, {"april", "avril"},
	{"may", "mai"}, {"june", "juin"}, {"july", "juillet"}, {"august", "aout"}, {"september", "septembre"},
	{"october", "octobre"}, {"november", "novembre"}, {"december", "decembre"}}

// monthOf is the month that a plain word names or begins, 1 to 12; 0 where it names none, or more than one.
func monthOf(word string) (month int) {
	for i, names := range months {
		if len(word) >= 3 && slices.ContainsFunc(names, func(n string) bool { return strings.HasPrefix(n, word) }) {
			if month > 0 {
				return 0
			}
			month = i + 1
		}
	}
	return month
}

// A day as people write it: three numbers, the year first or last, or a month as a word.
var (
	yearFirst = regexp.MustCompile(`^(\d{4})([-/.])(\d{1,2})([-/.])(\d{1,2})$`)
	yearLast  = regexp.MustCompile(`^(\d{1,2})([-/.])(\d{1,2})([-/.])(\d{4}|\d{2})$`)
	noYear    = regexp.MustCompile(`^(\d{1,2})([-/.])(\d{1,2})$`)
	atNoon    = regexp.MustCompile(`[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?Z?$`)
)

// writtenDay is a day of which the order of its numbers may be open.
type writtenDay struct {
	year, a, b int    // of the numbers in their order; year is 0 where none is given
	order      string // gloss.Day or gloss.Month where it is known which comes first; "" where it is not
	told       bool   // its numbers tell it, so that others of the column are likely alike
}

// readDay takes a date apart; false where a text is none. A number alone is a day that a spreadsheet counts from 1900.
func readDay(text string) (d writtenDay, ok bool) {
	text = atNoon.ReplaceAllString(strings.TrimSpace(text), "")
	number := func(s string) int { n, _ := strconv.Atoi(s); return n }
	if m := yearFirst.FindStringSubmatch(text); m != nil && m[2] == m[4] {
		return writtenDay{year: number(m[1]), a: number(m[3]), b: number(m[5]), order: gloss.Month}.checked()
	}
	if m := yearLast.FindStringSubmatch(text); m != nil && m[2] == m[4] {
		d := writtenDay{year: century(m[5]), a: number(m[1]), b: number(m[3])}
		if m[2] == "." {
			d.order = gloss.Day
		}
		return d.checked()
	}
	if m := noYear.FindStringSubmatch(text); m != nil {
		d := writtenDay{a: number(m[1]), b: number(m[3])}
		if m[2] == "." {
			d.order = gloss.Day
		}
		return d.checked()
	}
	if serial, err := strconv.ParseFloat(text, 64); err == nil && serial >= 20000 && serial < 80000 {
		t := dayZero.AddDate(0, 0, int(serial))
		return writtenDay{year: t.Year(), a: int(t.Month()), b: t.Day(), order: gloss.Month}, true
	}
	return worded(text)
}

// dayZero is the day from which a spreadsheet counts those after February 1900, which has a day too many there
// (ECMA-376, Part 1, 18.17.4.1).
var dayZero = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)

// besideDays are words that stand beside a day and say nothing of it.
var besideDays = []string{"le", "the", "of", "on", "de", "mon", "tue", "wed", "thu", "fri", "sat", "sun", "lundi",
	"mardi",
	"mercredi", "jeudi", "vendredi", "samedi", "dimanche", "monday", "tuesday", "wednesday", "thursday", "friday",
	"saturday", "sunday"}

// worded reads a day whose month is a word: 15 mars 2019, March 15, 2019, 15-Mar-19, le 1er avril.
func worded(text string) (d writtenDay, ok bool) {
	d.order = gloss.Month
	words := strings.Fields(gloss.Plain(text))
	if len(words) > 6 {
		return d, false
	}
	for _, w := range words {
		n := strings.TrimRight(w, "ndrstheᵉʳ") // 1st, 2nd, 3rd, 15th, 1er, 1ᵉʳ
		x, err := strconv.Atoi(n)
		digits := err == nil
		switch m := monthOf(w); {
		case slices.Contains(besideDays, w):
		case digits && len(n) == 4 && d.year == 0:
			d.year = x
		case digits && len(n) <= 2 && d.b == 0:
			d.b = x
		case digits && len(n) == 2 && d.year == 0 && n == w:
			d.year = century(n)
		case m > 0 && d.a == 0:
			d.a = m
		default:
			return d, false
		}
	}
	if d.a == 0 || d.b == 0 {
		return d, false
	}
	return d.checked()
}

// century is a year of two digits or four.
func century(text string) int {
	n, _ := strconv.Atoi(text)
	switch {
	case len(text) == 4:
		return n
	case n >= 70:
		return 1900 + n
	}
	return 2000 + n
}

// checked finds what the numbers themselves tell of their order, and whether there is such a day at all.
func (d writtenDay) checked() (writtenDay, bool) {
	year := d.year
	if year == 0 {
		year = 2000 // a leap year
	}
	dayFirst, monthFirst := isDay(year, d.b, d.a), isDay(year, d.a, d.b)
	switch {
	case d.order == gloss.Day:
		return d, dayFirst
	case d.order == gloss.Month:
		return d, monthFirst
	case dayFirst && !monthFirst:
		d.order, d.told = gloss.Day, true
	case monthFirst && !dayFirst:
		d.order, d.told = gloss.Month, true
	case dayFirst && d.a == d.b:
		d.order = gloss.Day
	}
	return d, dayFirst || monthFirst
}

func isDay(year, month, day int) bool {
	t := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	return month >= 1 && month <= 12 && t.Day() == day && int(t.Month()) == month
}

// in is the day, year-month-day, in an order; season gives the year where none is written: a day from September on is
// of the autumn before it.
func (d writtenDay) in(order, season string) string {
	month, day := d.a, d.b
	if order == gloss.Day {
		month, day = d.b, d.a
	}
	year := d.year
	if year == 0 {
		if year, _ = strconv.Atoi(season); year == 0 {
			return ""
		}
		if month >= 9 {
			year--
		}
	}
	if !isDay(year, month, day) {
		return ""
	}
	return time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
}
