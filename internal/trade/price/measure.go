package price

import (
	"slices"
	"strings"

	"spile/internal/trade/unit"
)

// Measure is what a number counts, in base units. In a file it stands in the units that the file says of itself.
type Measure string

const (
	Ratio         Measure = "ratio"           // no unit; 1 is all of it
	YearlyRate    Measure = "rate"            // a year, as a fraction
	Brix          Measure = "brix"            // °Brix
	SapATap       Measure = "sap-a-tap"       // litres of sap a tap and season
	SapADay       Measure = "sap-a-day"       // litres of sap a tap and day
	SyrupATap     Measure = "syrup-a-tap"     // kilograms of syrup a tap and season
	ChemicalATap  Measure = "chemical-a-tap"  // litres of product a tap and season
	MoneyHour     Measure = "money-hour"      // money an hour
	MoneySyrupKg  Measure = "money-syrup-kg"  // money a kilogram of syrup
	MoneySyrupL   Measure = "money-syrup-l"   // money a litre of syrup
	MoneySapL     Measure = "money-sap-l"     // money a litre of sap
	MoneyProductL Measure = "money-product-l" // money a litre of a chemical
	MoneyEach     Measure = "money-each"      // money a piece
	MoneyATap     Measure = "money-a-tap"     // money a tap and season
	MinutesATap   Measure = "minutes-a-tap"   // minutes a tap and season
	Seasons       Measure = "seasons"
	Days          Measure = "days"
)

// Unit is a key of a file that says in which unit its numbers of a kind stand.
type Unit struct {
	Key, Base      string // the base unit is as files write it
	Label          string // English, the id of its translation
	Holds, Allowed string // what data.md says of it
	Mass           bool   // else a volume
}

// Units are those keys.
var Units = []Unit{
	{Key: "units.sap", Base: "l", Label: "unit of sap",
		Holds: "unit of every volume of sap",
		Allowed: "`\"gal\"` (US), `\"gal_imp\"`, `\"l\"`. " +
			"In a file from Canada a bare `\"gal\"` is refused: `\"gal_us\"` or `\"gal_imp\"`"},
	{Key: "units.syrup", Base: "l", Label: "unit of volumes of syrup",
		Holds: "unit of volumes of syrup", Allowed: "as `units.sap`"},
	{Key: "units.mass", Base: "kg", Label: "unit of masses of syrup",
		Holds: "unit of masses of syrup", Allowed: "`\"lb\"` (0.45359237 kg), `\"kg\"`",
		Mass: true},
	{Key: "units.chemical", Base: "l", Label: "unit of chemicals",
		Holds: "unit of volumes of chemicals", Allowed: "as `units.sap`"},
}

// UnitOf is the one of a key; nil for any other word.
func UnitOf(key string) *Unit {
	if i := slices.IndexFunc(Units, func(u Unit) bool { return u.Key == key }); i >= 0 {
		return &Units[i]
	}
	return nil
}

// counted says of a measure in which of a file's units it stands, if any, and whether it is money, for one of that
// unit.
type counted struct {
	unit   *Unit
	money  bool
	says   string // in data.md
	phrase string // beside a number, the id of its translation: of money, then of the unit
	digits int    // after the point, where it is rounded to be read
}

var measures = map[Measure]counted{
	Ratio:         {nil, false, "fraction", "", 2},
	YearlyRate:    {nil, false, "fraction, a year", "%% a year", 1},
	Brix:          {nil, false, "°Bx", "°Brix", 1},
	SapATap:       {&Units[0], false, "`units.sap` a tap", "%s a tap and season", 1},
	SapADay:       {&Units[0], false, "`units.sap` a tap and day", "%s a tap and day", 2},
	SyrupATap:     {&Units[2], false, "`units.mass` a tap", "%s of syrup a tap and season", 2},
	ChemicalATap:  {&Units[3], false, "`units.chemical` a tap", "%s a tap and season", 3},
	MoneyHour:     {nil, true, "money an hour", "%s an hour", 2},
	MoneySyrupKg:  {&Units[2], true, "money per mass (`units.mass`)", "%s a %s of syrup", 2},
	MoneySyrupL:   {&Units[1], true, "money per volume of syrup (`units.syrup`)", "%s a %s of syrup", 2},
	MoneySapL:     {&Units[0], true, "money per volume of sap (`units.sap`)", "%s a %s of sap", 3},
	MoneyProductL: {&Units[3], true, "money per volume (`units.chemical`)", "%s a %s of product", 2},
	MoneyEach:     {nil, true, "money", "%s each", 2},
	MoneyATap:     {nil, true, "money a tap", "%s a tap and season", 2},
	MinutesATap:   {nil, false, "minutes a tap", "min a tap and season", 2},
	Seasons:       {nil, false, "seasons", "seasons", 1},
	Days:          {nil, false, "days", "days", 1},
}

// Unit is the key that says in which unit a file's numbers of the measure stand; nil where it has none but money.
func (m Measure) Unit() *Unit { return measures[m].unit }

// Says is what data.md says of the unit.
func (m Measure) Says() string { return measures[m].says }

// Phrase is what stands beside a number of the measure, and how many digits it has after the point to be read.
func (m Measure) Phrase() (string, int) { return measures[m].phrase, measures[m].digits }

// Money is true of what is counted in money, for one of Unit where there is one.
func (m Measure) Money() bool { return measures[m].money }

// Words are the units that a file from a place may name.
func (u Unit) Words(place string) []string {
	switch {
	case u.Mass:
		return []string{string(unit.Pound), string(unit.Kilogram)}
	case unit.Canadian(place):
		return []string{string(unit.Litre), string(unit.ImperialGallon), "gal_us"}
	}
	return []string{string(unit.USGallon), string(unit.ImperialGallon), string(unit.Litre)}
}

// Factor is the base units in one of the unit that a file names by a word; false for a word that names none.
func (u Unit) Factor(word string) (float64, bool) {
	if u.Mass {
		m, ok := unit.ParseMass(word)
		return float64(m.Of(1)), ok
	}
	v, ok := unit.ParseVolume(word)
	return float64(v.Of(1)), ok
}

// Word is the unit in which the prices were typed, as a file names it; where they do not say, the one of their place.
func (p *Prices) Word(u *Unit) string {
	switch word := p.Units[u.Key]; {
	case word != "":
		return word
	case p.Place == "US" || strings.HasPrefix(p.Place, "US-"):
		if u.Mass {
			return string(unit.Pound)
		}
		return string(unit.USGallon)
	}
	return u.Base
}

// Typed is a number of a measure as it was typed.
func (p *Prices) Typed(x float64, m Measure) float64 { return unit.Round(x/p.Per(m), 12) }

// Per is the base units of a measure in one of the unit that the prices were typed in.
func (p *Prices) Per(m Measure) float64 {
	if m.Unit() == nil {
		return 1
	}
	k, ok := m.Unit().Factor(p.Word(m.Unit()))
	switch {
	case !ok:
		return 1
	case m.Money():
		return 1 / k
	}
	return k
}
