package show

import (
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"spile/internal/view/say"
)

// pct is the percent gain of a log ratio.
func pct(log float64) float64 { return 100 * math.Expm1(log) }

// percents is "63 (51 to 76)", or "63" where there is no interval: the unit stands in the head of the column. Tenths
// are shown only where everything is small.
func percents(v *say.Voice, x, low, high float64) Cell {
	return decimals(v, x, low, high, min(tenths(x), tenths(low), tenths(high)))
}

// tenths is how many digits a percentage deserves after the point.
func tenths(x float64) int {
	if finite(x) && (x == 0 || math.Abs(x) >= 0.95) {
		return 0
	}
	return 1
}

// percent is a single percentage without its sign.
func percent(v *say.Voice, x float64) Cell { return num(v.Decimal(x, tenths(x)), x) }

// bare is "12 to 34", percentages whose unit stands elsewhere.
func bare(v *say.Voice, low, high float64) string {
	return unbroken(v.Range(low, high, min(tenths(low), tenths(high))))
}

// unbroken keeps a short text on one line.
func unbroken(s string) string { return strings.ReplaceAll(s, " ", "\u00a0") }

func decimals(v *say.Voice, x, low, high float64, digits int) Cell {
	if !finite(x) {
		return none(v)
	}
	text := v.Decimal(x, digits)
	if finite(low) && finite(high) && low < high {
		text += " (" + unbroken(v.Range(low, high, digits)) + ")"
	}
	return within(text, x, low, high)
}

func count(v *say.Voice, n int) Cell { return num(v.Count(n), float64(n)) }

func decimal(v *say.Voice, x float64, digits int) Cell { return num(v.Decimal(x, digits), x) }

// letter is the mark of the i-th footnote that is no caveat: a, b … z, aa.
func letter(i int) string {
	text := ""
	for i++; i > 0; i = (i - 1) / 26 {
		text = string(rune('a'+(i-1)%26)) + text
	}
	return text
}

// lettered collects footnotes that are no caveats; the same text has one mark.
type lettered []Footnote

func (l *lettered) mark(text string) string {
	for _, n := range *l {
		if n.Text == text {
			return n.Mark
		}
	}
	m := letter(len(*l))
	*l = append(*l, Footnote{m, text})
	return m
}

// note adds one without a mark.
func (l *lettered) note(text string) { *l = append(*l, Footnote{Text: text}) }

// chance is a chance in percent, or none where none is stated.
func chance(v *say.Voice, x *float64) Cell {
	if x == nil {
		return none(v)
	}
	return num(percentage(v, *x), 100**x)
}

// percentage is a chance in whole percent; what is not quite never or always does not look so.
func percentage(v *say.Voice, x float64) string {
	switch {
	case x > 0 && x < 0.005:
		return "<\u202f" + v.Decimal(1, 0)
	case x < 1 && x > 0.995:
		return ">\u202f" + v.Decimal(99, 0)
	}
	return v.Decimal(100*x, 0)
}

// InPercent is a chance in words: "36 %".
func InPercent(v *say.Voice, x float64) string { return percentage(v, x) + "\u00a0%" }

// Chance words a chance that rests on draws: however many they are, they show no event to be sure or impossible.
func Chance(v *say.Voice, x float64) string {
	switch {
	case x < 0.01:
		return v.Text("under 1 %%")
	case x > 0.99:
		return v.Text("over 99 %%")
	}
	return InPercent(v, x)
}

func capital(s string) string {
	for i, r := range s {
		if r == '⟦' {
			continue
		}
		return s[:i] + string(unicode.ToUpper(r)) + s[i+utf8.RuneLen(r):]
	}
	return s
}
