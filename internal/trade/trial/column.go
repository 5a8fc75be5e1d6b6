package trial

import (
	"time"

	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// Columns that several tables have.

// unread says of a column that it stands in a table for the eye alone.
const unread = "not read"

// What is mostly read and counted (common practice, no source).
var (
	usualBrix = column.Range{Low: 1, High: 4}
	usualTaps = column.Range{Low: 1, High: 5000}
	anyAmount = column.Bounds{Low: 0, High: 1e9}
)

// What people head such columns with.
var (
	unitHeaders  = []string{"tag", "unit name", "tree", "unité", "étiquette", "arbre"}
	codeHeaders  = []string{"blind code", "code aveugle"}
	tapsHeaders  = []string{"number of taps", "tap count", "entailles", "nombre d entailles"}
	sapHeaders   = []string{"sap", "yield", "sève", "eau", "eau d érable", "rendement"}
	depthHeaders = []string{"level", "profondeur", "niveau"}
	noteHeaders  = []string{"remark", "notes", "comment", "remarque"}
	brixHeaders  = []string{"sugar", "sugar content", "sucre", "teneur en sucre"}
)

func season[T any](at func(*T) *int) column.Column[*T] {
	return column.Column[*T]{Name: "season", Needed: true, Bounds: column.Spring, Headers: []string{"year", "spring",
		"saison", "année", "printemps"},
		Holds: "the year of the spring", Field: column.Int(at)}
}

func block[T any](at func(*T) *string) column.Column[*T] {
	return column.Column[*T]{Name: "block", Headers: []string{"rep", "replicate", "bloc", "répétition"},
		Holds: "units worked alike in one day by one crew", Allowed: "any text; none: one block",
		Field: column.Words(at)}
}

func tag[T any](at func(*T) *string) column.Column[*T] {
	return column.Column[*T]{Name: "unit", Needed: true, Headers: unitHeaders,
		Holds:   "its tag, the same in every season",
		Allowed: "any text, once a season", Field: column.Words(at)}
}

// byUnit names a unit of the trial, by its tag or by its code.
func byUnit[T any](needed bool, at func(*T) *string) []column.Column[*T] {
	c := column.Column[*T]{Name: "unit", Needed: needed, Headers: unitHeaders, Holds: "a unit of that season",
		Allowed: "its tag",
		Field:   column.Words(at)}
	if !needed {
		c.Allowed = "its tag; none: all units that have none of their own"
	}
	code := c
	code.Name, code.Instead, code.Headers, code.Allowed = "code", "unit", codeHeaders, "its code"
	return []column.Column[*T]{c, code}
}

func treatment[T any](at func(*T) *practice.Key) column.Column[*T] {
	return column.Column[*T]{Name: "practice", Needed: true, Headers: []string{"treatment", "method", "traitement",
		"pratique"},
		Holds: "key of the practice", Allowed: "a known key", Field: column.Key(at)}
}

func age[T any](at func(*T) **int) column.Column[*T] {
	return column.Column[*T]{Name: "drop_age", Unit: "seasons", Bounds: column.Seasons, Usual: column.Range{Low: 0,
		High: 15},
		Headers: []string{"age of drops", "dropline age", "âge des chutes"}, Holds: "seasons in use; 0 in the first",
		Field: column.WholeOf(at)}
}

func mainline[T any](at func(*T) *string) column.Column[*T] {
	return column.Column[*T]{Name: "mainline", Headers: []string{"main line", "main", "maître ligne", "collecteur"},
		Holds: "where its vacuum comes from", Field: column.Words(at)}
}

// moment is a time that something was read at or happened.
func moment[T any](name string, needed bool, at func(*T) *time.Time) column.Column[*T] {
	c := column.Column[*T]{Name: name, Needed: needed, Holds: "when", Field: column.MomentOf(at),
		Headers: []string{"day", "time", "when", "jour", "heure"}}
	if name == "from" {
		c.Holds, c.Headers = "begin", []string{"begin", "start", "début", "de"}
	}
	return c
}

func remark[T any](at func(*T) *string) column.Column[*T] {
	return column.Column[*T]{Name: "note", Headers: noteHeaders, Holds: "words", Field: column.Words(at)}
}

// beside are columns that stand in a table for the eye alone.
func beside[T any](names ...string) (list []column.Column[*T]) {
	for _, name := range names {
		list = append(list, column.Column[*T]{Name: name, Holds: "for the eye", Allowed: unread})
	}
	return list
}

// spelling is a unit of measure that a quantity may be written in.
type spelling[T any] struct {
	suffix, unit string
	bounds       column.Bounds // zero: those of the quantity
	usual        column.Range
	field        column.Field[T]
}

// ways are the columns of one quantity, a unit of measure each; the last is the one that is written.
func ways[T any](c column.Column[T], list ...spelling[T]) (columns []column.Column[T]) {
	for i, w := range list {
		x := c
		x.Name, x.Unit, x.Usual, x.Field = c.Name+"_"+w.suffix, w.unit, w.usual, w.field
		if w.bounds != (column.Bounds{}) {
			x.Bounds = w.bounds
		}
		if last := len(list) - 1; i < last {
			x.Instead = c.Name + "_" + list[last].suffix
		}
		x.Headers = nil
		for _, h := range c.Headers {
			x.Headers = append(x.Headers, h+" "+w.suffix)
		}
		columns = append(columns, x)
	}
	return columns
}

func volumes[T any](c column.Column[T], in func(unit.VolumeUnit) column.Field[T]) []column.Column[T] {
	return ways(c,
		spelling[T]{suffix: "gal", unit: "US gallons", field: in(unit.USGallon)},
		spelling[T]{suffix: "gal_imp", unit: "imperial gallons", field: in(unit.ImperialGallon)},
		spelling[T]{suffix: "l", unit: "L", field: in(unit.Litre)})
}

func depths[T any](c column.Column[T], at func(T) **unit.Length) []column.Column[T] {
	c.Bounds, c.Allowed = column.Bounds{Low: 0, High: 1e4}, "0 or more"
	in := func(u unit.LengthUnit) column.Field[T] { return column.Quantity(u, at) }
	return ways(c,
		spelling[T]{suffix: "in", unit: "inches", field: in(unit.Inch)},
		spelling[T]{suffix: "cm", unit: "cm", field: in(unit.Centimetre)},
		spelling[T]{suffix: "m", unit: "m", field: in(unit.Metre)})
}

func vacuums[T any](holds string, at func(T) **unit.Pressure) []column.Column[T] {
	in := func(u unit.PressureUnit) column.Field[T] { return column.Quantity(u, at) }
	c := column.Column[T]{Name: "vacuum", Headers: []string{"vacuum", "vide"}, Holds: holds}
	return ways(c,
		spelling[T]{"inhg", "inHg", column.InHg, column.Range{Low: 0, High: 28}, in(unit.InchOfMercury)},
		spelling[T]{"kpa", "kPa", column.KPa, column.Range{Low: 0, High: 95}, in(unit.Kilopascal)})
}

// The coldest and hottest that any station has had are −89.2 and 56.7 °C (World Meteorological Organization, Archive of
// Weather and Climate Extremes); what is usual of a sap season is common practice without a source.
func temperatures[T any](name, holds string, at func(*T) **unit.Temperature) []column.Column[*T] {
	in := func(u unit.TemperatureUnit) column.Field[*T] { return column.Quantity(u, at) }
	c := column.Column[*T]{Name: name, Holds: holds}
	return ways(c,
		spelling[*T]{"f", "°F", column.Bounds{Low: -130, High: 135}, column.Range{Low: -40, High: 95},
			in(unit.Fahrenheit)},
		spelling[*T]{"c", "°C", column.Bounds{Low: -90, High: 57}, column.Range{Low: -40, High: 35}, in(unit.Celsius)})
}
