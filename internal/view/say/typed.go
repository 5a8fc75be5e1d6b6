package say

import (
	"regexp"
	"strconv"
	"strings"
)

var (
	plainNumber = regexp.MustCompile(`^[+-]?(\d{1,12}([.,]\d{0,12})?|[.,]\d{1,12})$`)
	thousand    = regexp.MustCompile(`^[+-]?[1-9]\d{0,2},\d{3}$`)
	spaced      = regexp.MustCompile(`^[+-]?[1-9]\d{0,2}([ \x{a0}\x{202f}]\d{3})+([.,]\d{1,12})?$`)
	commas      = regexp.MustCompile(`^[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d{1,12})?$`)
)

// Pointed is a number as a file has it, of one that was typed with either decimal mark. Where the language has a
// decimal point 1,000 may be a thousand, and stays as it is, to be refused.
func (v *Voice) Pointed(text string) string {
	text = strings.ReplaceAll(text, "−", "-")
	if plainNumber.MatchString(text) && (v.Marked(".") == "," || !thousand.MatchString(text)) {
		text = strings.Replace(text, ",", ".", 1)
	}
	return text
}

// Ungrouped is a number without the marks between its thousands: spaces, and commas where the language writes them so.
func (v *Voice) Ungrouped(text string) string {
	switch {
	case spaced.MatchString(text):
		return strings.NewReplacer(" ", "", "\u00a0", "", "\u202f", "").Replace(text)
	case v.Marked(".") == "." && commas.MatchString(text):
		return strings.ReplaceAll(text, ",", "")
	}
	return text
}

// Parsed is the number that was typed; false for what is none.
func (v *Voice) Parsed(text string) (float64, bool) {
	text = v.Pointed(text)
	x, err := strconv.ParseFloat(text, 64) // which takes no comma
	return x, err == nil && plainNumber.MatchString(text)
}

// Marked is a number of an address or a file as the reader writes it: with the decimal mark of the language.
func (v *Voice) Marked(number string) string {
	return strings.Replace(number, ".", strings.Trim(v.Decimal(0.5, 1), "05"), 1)
}
