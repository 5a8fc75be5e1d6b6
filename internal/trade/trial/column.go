package trial

import (
	"time"

	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// Columns that several tables have.

// Unread says of a column that it stands in a table for the eye alone.
const Unread = "not read"

// What is mostly read and counted (common practice, no source).
var (
	usualBrix = column.Range{Low: 1, High: 4}
	usualTaps = column.Range{Low: 1, High: 5000}
	anyAmount = column.Bounds{Low: 0, High: 1e9}
)

// What people head such columns with.
var (
	unitHeaders = []string{"tag", "unit name", "tree", "unite", "etiquette", "arbre", "erable", "tree no", "tree id",
		"unit no", "unit id", "no d arbre", "arbre no", "erable no", "plot", "parcelle"}
	codeHeaders = []string{"blind code", "code aveugle"}
	tapsHeaders = []string{"number of taps", "tap count", "entailles", "nombre d entailles", "no of taps", "no taps",
		"nb d entailles", "nb entailles", "n taps"}
	sapHeaders = []string{"sap", "yield", "seve", "eau", "eau d erable", "rendement", "sap volume", "sap yield",
		"volume of sap", "volume d eau", "volume de seve", "volume", "sap collected", "eau recoltee", "eau recueillie",
		"seve recoltee", "recolte", "total sap"}
	depthHeaders = []string{"level", "profondeur", "niveau", "depth"}
	noteHeaders  = []string{"remark", "remarks", "notes", "comment", "comments", "remarque", "remarques", "commentaire",
		"commentaires"}
	brixHeaders = []string{"sugar", "sugar content", "sucre", "teneur en sucre", "sap sugar", "brix", "degre brix",
		"degres brix"}
)

func season[T any](at func(*T) *int) column.Column[*T] {
	return column.Column[*T]{Name: "season", Label: "season",
		Needed: true, Bounds: column.Spring, Headers: []string{"year", "spring",
			"saison", "annee", "printemps", "sap season"},
		Holds: "the year of the spring", Field: column.Int(at)}
}

func block[T any](at func(*T) *string) column.Column[*T] {
	return column.Column[*T]{Name: "block", Label: "block",
		Headers: []string{"rep", "replicate", "bloc", "repetition"},
		Holds:   "units worked alike in one day by one crew", Allowed: "any text; none: one block",
		Field: column.Words(at)}
}

func tag[T any](at func(*T) *string) column.Column[*T] {
	return column.Column[*T]{Name: "unit", Label: "unit", Needed: true, Headers: unitHeaders,
		Holds:   "its tag, the same in every season",
		Allowed: "any text, once a season", Field: column.Words(at)}
}

// byUnit names a unit of the trial, by its tag or by its code.
func byUnit[T any](needed bool, at func(*T) *string) []column.Column[*T] {
	c := column.Column[*T]{Name: "unit", Label: "unit",
		Needed: needed, Headers: unitHeaders, Holds: "a unit of that season",
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
	return column.Column[*T]{Name: "practice", Label: "practice",
		Needed: true, Headers: []string{"treatment", "method", "traitement",
			"pratique", "trt"},
		Holds: "key of the practice", Allowed: "a known key", Field: column.Key(at)}
}

func age[T any](at func(*T) **int) column.Column[*T] {
	return column.Column[*T]{Name: "drop_age", Label: "age of drops, seasons",
		Unit: "seasons", Bounds: column.Seasons, Usual: column.Range{Low: 0,
			High: 15},
		Headers: []string{"age of drops", "dropline age", "age des chutes"}, Holds: "seasons in use; 0 in the first",
		Field: column.WholeOf(at)}
}

func mainline[T any](at func(*T) *string) column.Column[*T] {
	return column.Column[*T]{Name: "mainline", Label: "mainline",
		Headers: []string{"main line", "main", "maitre ligne", "collecteur"},
		Holds:   "where its vacuum comes from", Field: column.Words(at)}
}

// moment is a time that something was read at or happened.
func moment[T any](name string, needed bool, at func(*T) *time.Time) column.Column[*T] {
	c := column.Column[*T]{Name: name, Needed: needed, Label: "day, with its time or without",
		Holds: "when", Field: column.MomentOf(at),
		Headers: []string{"day", "time", "when", "jour", "heure", "date read", "date of reading",
			"reading date", "date de lecture", "date de releve", "date du releve", "day read"}}
	if name == "from" {
		c.Label, c.Holds, c.Headers = "begin", "begin", []string{"begin", "start", "debut", "de"}
	}
	return c
}

func remark[T any](at func(*T) *string) column.Column[*T] {
	return column.Column[*T]{Name: "note", Label: "remark",
		Headers: noteHeaders, Holds: "words", Field: column.Words(at)}
}

// beside are columns that stand in a table for the eye alone.
func beside[T any](names ...string) (list []column.Column[*T]) {
	for _, name := range names {
		list = append(list, column.Column[*T]{Name: name, Holds: "for the eye", Allowed: Unread})
	}
	return list
}

// spelling is a unit of measure that a quantity may be written in.
type spelling[T any] struct {
	suffix, unit string
	to           func(x float64) float64 // from it to what the quantity is kept in
	bounds       column.Bounds           // zero: those of the quantity
	usual        column.Range
	field        column.Field[T]
}

// ways are the columns of one quantity, a unit of measure each; the last is the one that is written. A cell of each may
// say that it is in another of the units.
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
		slope := w.to(1) - w.to(0)
		for _, o := range list {
			way := column.Way{Key: o.suffix, Label: o.unit, Says: unit.Said[o.suffix]}
			if o.suffix != w.suffix {
				way.Factor, way.Less = (o.to(1)-o.to(0))/slope, (w.to(0)-o.to(0))/slope
			}
			x.Ways = append(x.Ways, way)
		}
		columns = append(columns, x)
	}
	return columns
}

// spelled is a unit of measure, in which numbers of a column are given.
func spelled[T any, Q ~float64, U interface {
	~string
	Of(float64) Q
}](u U, called string, field column.Field[T]) spelling[T] {
	return spelling[T]{suffix: string(u), unit: called, field: field,
		to: func(x float64) float64 { return float64(u.Of(x)) }}
}

func volumes[T any](c column.Column[T], in func(unit.VolumeUnit) column.Field[T]) []column.Column[T] {
	return ways(c,
		spelled(unit.USGallon, "US gallons", in(unit.USGallon)),
		spelled(unit.ImperialGallon, "imperial gallons", in(unit.ImperialGallon)),
		spelled(unit.Litre, "L", in(unit.Litre)))
}

func depths[T any](c column.Column[T], at func(T) **unit.Length) []column.Column[T] {
	c.Bounds, c.Allowed = column.Bounds{Low: 0, High: 1e4}, "0 or more"
	in := func(u unit.LengthUnit) column.Field[T] { return column.Quantity(u, at) }
	return ways(c,
		spelled(unit.Inch, "inches", in(unit.Inch)),
		spelled(unit.Centimetre, "cm", in(unit.Centimetre)),
		spelled(unit.Metre, "m", in(unit.Metre)))
}

func vacuums[T any](holds string, at func(T) **unit.Pressure) []column.Column[T] {
	c := column.Column[T]{Name: "vacuum", Label: "vacuum", Headers: []string{"vacuum", "vide"}, Holds: holds}
	inches := spelled(unit.InchOfMercury, "inHg", column.Quantity(unit.InchOfMercury, at))
	inches.bounds, inches.usual = column.InHg, column.Range{Low: 0, High: 28}
	kpa := spelled(unit.Kilopascal, "kPa", column.Quantity(unit.Kilopascal, at))
	kpa.bounds, kpa.usual = column.KPa, column.Range{Low: 0, High: 95}
	return ways(c, inches, kpa)
}

// The coldest and hottest that any station has had are −89.2 and 56.7 °C (World Meteorological Organization, Archive of
// Weather and Climate Extremes); what is usual of a sap season is common practice without a source.
func temperatures[T any](name, label, holds string, headers []string,
	at func(*T) **unit.Temperature) []column.Column[*T] {
	c := column.Column[*T]{Name: name, Label: label, Holds: holds, Headers: headers}
	f := spelled(unit.Fahrenheit, "°F", column.Quantity(unit.Fahrenheit, at))
	f.bounds, f.usual = column.Bounds{Low: -130, High: 135}, column.Range{Low: -40, High: 95}
	celsius := spelled(unit.Celsius, "°C", column.Quantity(unit.Celsius, at))
	celsius.bounds, celsius.usual = column.Bounds{Low: -90, High: 57}, column.Range{Low: -40, High: 35}
	return ways(c, f, celsius)
}
