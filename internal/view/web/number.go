package web

import (
	"regexp"
	"strconv"
	"strings"

	"spile/internal/view/say"
)

var (
	plain    = regexp.MustCompile(`^[+-]?(\d{1,12}([.,]\d{0,12})?|[.,]\d{1,12})$`)
	thousand = regexp.MustCompile(`^[+-]?[1-9]\d{0,2},\d{3}$`)
)

// pointed is a number as a file has it, of one that was typed with either decimal mark. Where the language has a decimal
// point 1,000 may be a thousand, and stays as it is, to be refused.
func pointed(v *say.Voice, text string) string {
	text = strings.ReplaceAll(text, "−", "-")
	if plain.MatchString(text) && (marked(v, ".") == "," || !thousand.MatchString(text)) {
		text = strings.Replace(text, ",", ".", 1)
	}
	return text
}

// parsed is the number that was typed; false for what is none.
func parsed(v *say.Voice, text string) (float64, bool) {
	text = pointed(v, text)
	x, err := strconv.ParseFloat(text, 64) // which takes no comma
	return x, err == nil && plain.MatchString(text)
}

// marked is a number of an address or a file as the reader writes it: with the decimal mark of the language.
func marked(v *say.Voice, number string) string {
	return strings.Replace(number, ".", strings.Trim(v.Decimal(0.5, 1), "05"), 1)
}
