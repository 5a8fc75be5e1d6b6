package sheet

import (
	"slices"
	"strconv"
	"strings"

	"spile/internal/trade/column"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

// setting is one key of a TOML file and its value: a string, a bool or a float64, a price.Value, or a day.
type setting struct {
	key   []string
	value any
	named bool // the second part of the key is a name of the user's
}

// dayText is a date, YYYY-MM-DD.
type dayText string

// literal is a value as TOML has it.
type literal string

// settingOf is what a slot says.
func settingOf(s price.Slot, value any) setting {
	return setting{s.Path, value, strings.Index(s.Field.Key, ".*") == len(s.Path[0])}
}

// deep is how many names of the key make its table: the first, or the first two where the first holds names of the
// user's.
func (s setting) deep() int {
	if s.named {
		return 2
	}
	return min(len(s.key)-1, 1)
}

// settings are the keys of a price file: those of no table, the units, and all else in the order of price.Fields.
// Numbers stand in the units in which they were typed.
func settings(p price.Prices) []setting {
	var alone, units, rest []setting
	for _, s := range p.Slots() {
		x := standing(s)
		if v, ok := x.(price.Value); ok {
			x = inUnits(v, p.Per(s.Measure))
		}
		if x == nil {
			continue
		}
		into := &rest
		if len(s.Path) == 1 {
			into = &alone
		}
		*into = append(*into, settingOf(s, x))
	}
	for _, u := range price.Units {
		word := p.Word(&u)
		if unit.BareGallon(word) && unit.Canadian(p.Place) {
			word = "gal_us"
		}
		units = append(units, setting{key: strings.Split(u.Key, "."), value: word})
	}
	return slices.Concat(alone, units, rest)
}

// inUnits is a value in a unit of which one is so many base units.
func inUnits(v price.Value, per float64) price.Value {
	part := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		return new(inUnit(*x, per))
	}
	return price.Value{Best: inUnit(v.Best, per), Low: part(v.Low), High: part(v.High), Source: v.Source}
}

// inUnit is the number with the fewest digits that is read as x where one of its unit is so many base units.
func inUnit(x, per float64) float64 {
	if per == 1 {
		return x
	}
	for digits := 1; digits < 17; digits++ {
		if y := unit.Round(x/per, digits); y*per == x {
			return y
		}
	}
	return unit.Round(x/per, 15)
}

// standing is what stands at a slot as TOML has it; nil where a file leaves it out.
func standing(s price.Slot) any {
	v := s.Value()
	switch {
	case v != nil && (s.Needed || s.May != nil || *v != (price.Value{})):
		return *v
	case s.IsValue():
		return nil
	}
	switch x := s.Get(s.Spot).(type) {
	case nil:
		if s.Needed && s.Kind.Numeric() {
			return 0.
		}
	case int:
		return float64(x)
	case string:
		if s.Kind == column.Day {
			return dayText(x)
		}
		return x
	default:
		return x
	}
	return nil
}

// PricesTOML is prices as a price file: as it was typed, else written in their units.
func PricesTOML(p price.Prices) []byte {
	if p.Text != "" {
		return []byte(p.Text)
	}
	return tomlOf(settings(p))
}

// tomlOf is settings as a file, those of one table behind one another.
func tomlOf(list []setting) []byte {
	var b strings.Builder
	table := ""
	for _, s := range list {
		deep := s.deep()
		if at := dotted(s.key[:deep]); at != table {
			table = at
			b.WriteString("\n[" + table + "]\n")
		}
		b.WriteString(dotted(s.key[deep:]) + " = " + tomlText(s.value) + "\n")
	}
	return []byte(b.String())
}

// Retyped is the price file of prices, changed where it stands so that it says others: comments, units, layout and
// every number that is the same in both stay as they were typed.
func Retyped(was, now price.Prices) []byte {
	now.Units = was.Units
	if now.Units == nil { // which a change of place would change
		now.Units = map[string]string{}
		for _, u := range price.Units {
			now.Units[u.Key] = was.Word(&u)
		}
	}
	return []byte(retyped(string(PricesTOML(was)), settings(was), settings(now)))
}

// dotted writes a key; a name that TOML would not take bare stands in quotes.
func dotted(names []string) string {
	parts := make([]string, len(names))
	for i, n := range names {
		parts[i] = n
		if n == "" || strings.Trim(n, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") != "" {
			parts[i] = tomlString(n)
		}
	}
	return strings.Join(parts, ".")
}

func tomlText(v any) string {
	switch v := v.(type) {
	case string:
		return tomlString(v)
	case dayText:
		return string(v)
	case literal:
		return string(v)
	case bool:
		return strconv.FormatBool(v)
	case float64:
		return tomlNumber(v)
	case price.Value:
		if v.Low == nil && v.High == nil && v.Source == "" {
			return tomlNumber(v.Best)
		}
		parts := []string{"best = " + tomlNumber(v.Best)}
		if v.Low != nil {
			parts = append(parts, "low = "+tomlNumber(*v.Low))
		}
		if v.High != nil {
			parts = append(parts, "high = "+tomlNumber(*v.High))
		}
		if v.Source != "" {
			parts = append(parts, "source = "+tomlString(v.Source))
		}
		return "{ " + strings.Join(parts, ", ") + " }"
	}
	panic("a value that TOML does not have")
}

// tomlNumber writes a number with every digit it has.
func tomlNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// tomlString writes a text in quotes (TOML 1.0, basic strings).
func tomlString(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x20 || r == 0x7f:
			b.WriteString(`\u00` + strconv.FormatInt(int64(r)+0x100, 16)[1:])
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
