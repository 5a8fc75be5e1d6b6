package sheet

import (
	"regexp"
	"strconv"
	"strings"

	"spile/internal/trade/gloss"
)

// numeral is a number as somebody wrote it, with what may part its thousands and its decimals.
type numeral struct {
	sign, digits string // of the digits with the marks between them
	power        string // e5
	mark         byte   // the decimal mark, as far as the number itself tells: '.' or ','; 0: it does not
	either       bool   // its only mark may be either: 1,200
}

// A number's digits, parted in thousands or not, with marks between, and its power of ten.
var numberShape = regexp.MustCompile(`^([+-]?)([0-9.,]+)([eE][+-]?[0-9]{1,3})?$`)

// thousands is a whole number whose thousands are parted by one mark; its groups are checked to be of one kind.
var thousands = regexp.MustCompile(`^[1-9][0-9]{0,2}(?:([.,])[0-9]{3})(?:[.,][0-9]{3})*$`)

// spaced is a number whose thousands are parted by spaces or apostrophes.
var spaced = regexp.MustCompile(`^([+-]?[1-9][0-9]{0,2})((?:[ '’\x{a0}\x{2009}\x{202f}][0-9]{3})+)([.,][0-9]+)?$`)

var parting = strings.NewReplacer(" ", "", "'", "", "’", "", "\u00a0", "", "\u2009", "", "\u202f", "")

// readNumeral takes a number apart; false where the text is none in any way of writing.
func readNumeral(text string) (n numeral, ok bool) {
	text = strings.TrimPrefix(text, "'") // by which a spreadsheet is told to keep a text
	text = strings.TrimSpace(text)
	for _, dash := range []string{"−", "–", "—"} { // of papers
		if rest, ok := strings.CutPrefix(text, dash); ok {
			text = "-" + strings.TrimLeft(rest, " ")
		}
	}
	if len(text) > 64 {
		return n, false
	}
	grouped := false
	if m := spaced.FindStringSubmatch(text); m != nil {
		text, grouped = m[1]+parting.Replace(m[2])+m[3], true
	}
	m := numberShape.FindStringSubmatch(text)
	if m == nil {
		return n, false
	}
	n.sign, n.digits, n.power = m[1], m[2], m[3]
	points, commas := strings.Count(n.digits, "."), strings.Count(n.digits, ",")
	switch {
	case strings.Trim(n.digits, ".,") == "":
		return n, false
	case points == 0 && commas == 0:
	case points > 0 && commas > 0:
		n.mark = '.'
		if strings.LastIndexByte(n.digits, ',') > strings.LastIndexByte(n.digits, '.') {
			n.mark = ','
		}
		whole, rest, _ := strings.Cut(n.digits, string(n.mark))
		t := thousands.FindStringSubmatch(whole)
		if t == nil || strings.IndexByte(whole, n.mark) >= 0 || strings.ContainsAny(rest, ".,") {
			return n, false
		}
	case points+commas > 1:
		if !thousands.MatchString(n.digits) {
			return n, false
		}
		n.mark = otherMark(n.digits[strings.IndexAny(n.digits, ".,")])
	case !grouped && n.power == "" && thousands.MatchString(n.digits):
		n.either = true
	default:
		n.mark = n.digits[strings.IndexAny(n.digits, ".,")]
	}
	return n, true
}

func otherMark(mark byte) byte {
	if mark == ',' {
		return '.'
	}
	return ','
}

// only is the only mark of a number that may be read either way.
func (n numeral) only() byte { return n.digits[strings.IndexAny(n.digits, ".,")] }

// with is the number written with digits and a decimal point, where mark is the decimal mark of what could be either.
func (n numeral) with(mark byte) string {
	if !n.either {
		mark = n.mark
	}
	digits := n.digits
	if mark != 0 {
		digits = strings.ReplaceAll(digits, string(otherMark(mark)), "")
	}
	return n.sign + strings.Replace(digits, ",", ".", 1) + n.power
}

// value is what the number is, where mark is the decimal mark of what could be either.
func (n numeral) value(mark byte) float64 {
	x, _ := strconv.ParseFloat(n.with(mark), 64) // too large is infinite, which no bounds have
	return x
}

// inchMark stands behind inches, of mercury or of tubing.
const inchMark = `"`

// measured parts a number from the unit behind it: 25 inHg, 38 %. ok is false where no number stands before.
func measured(text string) (n numeral, unit string, ok bool) {
	if n, ok = readNumeral(text); ok {
		return n, "", true
	}
	at := strings.LastIndexAny(text, "0123456789") + 1
	unit = strings.NewReplacer("″", inchMark, "”", inchMark, "''", inchMark).Replace(strings.TrimSpace(text[at:]))
	sign := unit == "%" || unit == inchMark || unit == "°"
	if n, ok = readNumeral(text[:at]); !ok || unit == "" || gloss.Plain(unit) == "" && !sign {
		return n, "", false
	}
	return n, unit, true
}
