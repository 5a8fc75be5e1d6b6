package page

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"spile/internal/note"
	"spile/internal/view/say"
)

var (
	plain    = regexp.MustCompile(`^[+-]?(\d{1,12}([.,]\d{0,12})?|[.,]\d{1,12})$`)
	thousand = regexp.MustCompile(`^[+-]?[1-9]\d{0,2},\d{3}$`)
)

// Pointed is a number as a file has it, of one that was typed with either decimal mark. Where the language has a
// decimal point 1,000 may be a thousand, and stays as it is, to be refused.
func Pointed(v *say.Voice, text string) string {
	text = strings.ReplaceAll(text, "−", "-")
	if plain.MatchString(text) && (Marked(v, ".") == "," || !thousand.MatchString(text)) {
		text = strings.Replace(text, ",", ".", 1)
	}
	return text
}

// Parsed is the number that was typed; false for what is none.
func Parsed(v *say.Voice, text string) (float64, bool) {
	text = Pointed(v, text)
	x, err := strconv.ParseFloat(text, 64) // which takes no comma
	return x, err == nil && plain.MatchString(text)
}

// Marked is a number of an address or a file as the reader writes it: with the decimal mark of the language.
func Marked(v *say.Voice, number string) string {
	return strings.Replace(number, ".", strings.Trim(v.Decimal(0.5, 1), "05"), 1)
}

// Bare is a number as it is typed: no thousands separator, no digits that a conversion left.
func Bare(x float64) string { return digits(x, 10) }

// Format writes a number for an address: with a point, to seven digits.
func Format(x float64) string {
	if x == 0 {
		return "0" // not −0
	}
	return digits(x, 7)
}

// Rounded is a number to five digits: what was turned into the reader's unit does not show that it was.
func Rounded(x float64) float64 {
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', 5, 64), 64)
	return x
}

func digits(x float64, n int) string {
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', n, 64), 64)
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// AsTyped is a fault of a number in the unit in which it was typed, of which the base unit has 1/factor, and without
// the place in a file.
func AsTyped(n note.Note, factor float64) note.Note {
	n.Where, n.Args = note.Where{}, slices.Clone(n.Args)
	for i, a := range n.Args {
		if x, ok := a.(float64); ok {
			n.Args[i] = Rounded(x * factor)
		}
	}
	return n
}
