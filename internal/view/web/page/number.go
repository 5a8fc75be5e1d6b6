package page

import (
	"slices"
	"strconv"

	"spile/internal/note"
)

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
