package say

import (
	"math"
	"strings"
	"time"

	"spile/internal/trade/unit"
)

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// digits is how many digits after the point show three significant ones, no more than four.
func digits(x float64) int {
	x = math.Abs(x)
	switch {
	case x >= 99.95 || x == 0:
		return 0
	case x >= 9.995:
		return 1
	case x >= 0.9995:
		return 2
	case x >= 0.09995:
		return 3
	}
	return 4
}

// Number is a number with three sensible digits, without trailing zeros.
func (v *Voice) Number(x float64) string {
	d := digits(x)
	for ; d > 0 && finite(x); d-- {
		if scale := math.Pow10(d - 1); math.Abs(math.Round(x*scale)/scale-x) > math.Pow10(-d)/2 {
			break
		}
	}
	return v.Decimal(x, d)
}

// percentDigits is how many digits a percentage of this size deserves: a gain is not known to a tenth above ten.
func percentDigits(xs ...float64) int {
	zero := true
	for _, x := range xs {
		if math.Abs(x) >= 9.95 {
			return 0
		}
		zero = zero && x == 0
	}
	if zero {
		return 0
	}
	return 1
}

// Percent is a percentage: 31.2 is "31 %", 4.23 is "4.2 %".
func (v *Voice) Percent(x float64) string {
	if !finite(x) {
		return none
	}
	return v.Decimal(x, percentDigits(x)) + nbsp + "%"
}

// PercentRange is "12 to 34 %".
func (v *Voice) PercentRange(low, high float64) string {
	if !finite(low) || !finite(high) {
		return none
	}
	d := percentDigits(low, high)
	return v.Text("%s to %s", v.Decimal(low, d), v.Decimal(high, d)) + nbsp + "%"
}

// Range is "1.2 to 3.4", with so many digits after the point.
func (v *Voice) Range(low, high float64, digits int) string {
	if !finite(low) || !finite(high) {
		return none
	}
	return v.Text("%s to %s", v.Decimal(low, digits), v.Decimal(high, digits))
}

// P is a probability of a test: "0.032", "< 0.001".
func (v *Voice) P(p float64) string {
	if finite(p) && p < 0.001 {
		return "<" + nbsp + v.Decimal(0.001, 3)
	}
	return v.Decimal(p, 3)
}

// PIs is a p with its name, which no line parts: "p = 0.031", "p < 0.001".
func (v *Voice) PIs(p float64) string {
	x := v.P(p)
	if !strings.HasPrefix(x, "<") {
		x = "=" + nbsp + x
	}
	return "p" + nbsp + x
}

// symbols are the signs of currencies, by language and country as the Unicode Common Locale Data Repository (48) has
// them: in Canada the dollar is its own. Another currency is shown by its code.
var symbols = map[string]map[string]string{
	"en":    {"USD": "$", "CAD": "CA$", "EUR": "€", "GBP": "£"},
	"en-CA": {"USD": "US$", "CAD": "$", "EUR": "€", "GBP": "£"},
	"fr":    {"USD": "$" + nbsp + "US", "CAD": "$", "EUR": "€", "GBP": "£"},
}

// Sign is the sign of a currency: "$", in French "$ US"; a currency without one has its code.
func (v *Voice) Sign(currency string) string {
	of := symbols[v.lang]
	if v.canadian() && v.lang == "en" {
		of = symbols["en-CA"]
	}
	if sign, ok := of[currency]; ok {
		return sign
	}
	return currency
}

// MoneyUnit is a currency as the unit that stands behind a number: in French its sign, "$ US"; in English, where the
// sign stands before, its code.
func (v *Voice) MoneyUnit(currency string) string {
	if v.lang == "fr" {
		return v.Sign(currency)
	}
	return currency
}

// Money is an amount to the cent: "$1.24", "−$0.31", "SEK 1.24"; in French "1,24 $".
func (v *Voice) Money(amount float64, currency string) string { return v.money(amount, currency, 2) }

func (v *Voice) money(amount float64, currency string, digits int) string {
	if !finite(amount) {
		return none
	}
	text := v.Decimal(math.Abs(amount), digits)
	switch sign := v.Sign(currency); {
	case currency == "": // no prices, no currency
	case v.lang == "fr":
		text += nbsp + sign
	case sign != currency:
		text = sign + text
	default:
		text = currency + nbsp + text
	}
	if amount <= -0.5*math.Pow10(-digits) {
		text = "−" + text
	}
	return text
}

// MoneyRange is "$0.12 to $0.34".
func (v *Voice) MoneyRange(low, high float64, currency string) string {
	if !finite(low) || !finite(high) {
		return none
	}
	return v.Text("%s to %s", v.Money(low, currency), v.Money(high, currency))
}

// Sum is an amount of many taps or seasons, of which three digits are more than is known: "$164,000", "$935".
// Amounts under ten are to the cent, but for nought.
func (v *Voice) Sum(amount float64, currency string) string {
	if amount == 0 {
		return v.money(0, currency, 0)
	}
	if math.Abs(amount) < 9.995 {
		return v.Money(amount, currency)
	}
	return v.money(threeDigits(amount), currency, 0)
}

// SumRange is "$75,800 to $260,000".
func (v *Voice) SumRange(low, high float64, currency string) string {
	if !finite(low) || !finite(high) {
		return none
	}
	return v.Text("%s to %s", v.Sum(low, currency), v.Sum(high, currency))
}

// Minutes is minutes of labour a tap: "1.3 min", "0.02 min".
func (v *Voice) Minutes(m float64) string {
	if !finite(m) {
		return none
	}
	d := 1
	if math.Abs(m) < 0.095 {
		d = 2
	}
	return v.Text("%s min", v.Decimal(m, d))
}

// Hours is hours of labour.
func (v *Voice) Hours(h float64) string {
	if !finite(h) {
		return none
	}
	return v.Text("%s h", v.Number(h))
}

// Grams is a mass of plastic: "12 g".
func (v *Voice) Grams(g float64) string {
	if !finite(g) {
		return none
	}
	return v.Text("%s g", v.Decimal(g, percentDigits(g)))
}

// Volume is a volume of sap or syrup in the reader's units: "19.1 gal", "72.3 L".
func (v *Voice) Volume(x unit.Volume) string {
	if !finite(float64(x)) {
		return none
	}
	if v.units.Gallons() {
		g := x.In(unit.USGallon)
		return v.Text("%s gal", v.Decimal(g, digits(g)))
	}
	return v.Text("%s L", v.Decimal(float64(x), digits(float64(x))))
}

// VolumeNumber is the number of Volume and VolumeUnit its unit, for the axis of a figure or the head of a column.
func (v *Voice) VolumeNumber(x unit.Volume) float64 {
	if v.units.Gallons() {
		return x.In(unit.USGallon)
	}
	return float64(x)
}

// VolumeUnit is "gal" or "L".
func (v *Voice) VolumeUnit() string {
	if v.units.Gallons() {
		return v.Text("gal")
	}
	return v.Text("L")
}

// Vacuum is a vacuum in the reader's units: "24.5 inHg", "83 kPa".
func (v *Voice) Vacuum(p unit.Pressure) string {
	if !finite(float64(p)) {
		return none
	}
	if v.units.Inches() {
		return v.Text("%s inHg", v.Decimal(p.In(unit.InchOfMercury), 1))
	}
	return v.Text("%s kPa", v.Decimal(float64(p), 0))
}

// Mass is a mass of syrup, told in three digits: "215,000 lb".
func (v *Voice) Mass(kg float64) string { return v.mass(kg, v.rounded) }

// Weighed is one that somebody stated, to the whole pound or kilogram: "215,450 lb".
func (v *Voice) Weighed(kg float64) string {
	return v.mass(kg, func(x float64) string { return v.Decimal(x, 0) })
}

func (v *Voice) mass(kg float64, digits func(float64) string) string {
	if v.units.Pounds() {
		return v.Text("%s lb", digits(kg/float64(unit.Pound.Of(1))))
	}
	return v.Text("%s kg", digits(kg))
}

func (v *Voice) rounded(x float64) string {
	if !finite(x) {
		return none
	}
	if math.Abs(x) < 9.95 {
		return v.Decimal(x, 1)
	}
	return v.Decimal(threeDigits(x), 0)
}

// threeDigits is a whole number of which three digits are told.
func threeDigits(x float64) float64 {
	to := math.Pow10(max(0, int(math.Floor(math.Log10(math.Abs(x))))-2))
	return math.Round(x/to) * to
}

// PerMass turns a price a kilogram into the reader's unit of mass: "$2.20 a lb".
func (v *Voice) PerMass(perKg float64, currency string) string {
	if v.units.Pounds() {
		return v.Text("%s a lb", v.Money(perKg*float64(unit.Pound.Of(1)), currency))
	}
	return v.Text("%s a kg", v.Money(perKg, currency))
}

// PerVolume turns a price a litre into the reader's unit of volume: "$1.20 a gal".
func (v *Voice) PerVolume(perLitre float64, currency string) string {
	if v.units.Gallons() {
		return v.Text("%s a gal", v.Money(perLitre*float64(unit.USGallon.Of(1)), currency))
	}
	return v.Text("%s a L", v.Money(perLitre, currency))
}

// Date is a day: "March 5, 2025"; in Britain "5 March 2025".
func (v *Voice) Date(t time.Time) string {
	switch {
	case t.IsZero():
		return none
	case v.lang == "en" && !v.american():
		return v.Text("%d %s %d", t.Day(), v.month(t), t.Year())
	}
	return v.Text("%s %d, %d", v.month(t), t.Day(), t.Year())
}

func (v *Voice) month(t time.Time) string { return v.Month(t.Month()) }

// Month is the name of a month of the year.
func (v *Voice) Month(m time.Month) string {
	months := [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September",
		"October", "November", "December"}
	return v.Text(months[m-1])
}

// DayOf is a day of a season whose year is known: "March 5"; in Britain "5 March".
func (v *Voice) DayOf(t time.Time) string {
	switch {
	case t.IsZero():
		return none
	case v.lang == "en" && !v.american():
		return v.Text("%d %s", t.Day(), v.month(t))
	}
	return v.Text("%s %d", v.month(t), t.Day())
}

// Clock is a time of day, of 24 hours: "17:05", in French "17 h 05".
func (v *Voice) Clock(t time.Time) string {
	return v.Text("%s:%s", t.Format("15"), t.Format("04"))
}

// american is true where a date begins with its month.
func (v *Voice) american() bool {
	region, _ := v.tag.Region()
	return region.String() == "US" || v.canadian()
}

func (v *Voice) canadian() bool {
	region, _ := v.tag.Region()
	return region.String() == "CA"
}

// Temperature is a temperature in the reader's units: "41 °F", "5.0 °C".
func (v *Voice) Temperature(x unit.Temperature) string {
	if !finite(float64(x)) {
		return none
	}
	if v.units.Fahrenheit() {
		return v.Text("%s °F", v.Decimal(x.In(unit.Fahrenheit), 0))
	}
	return v.Text("%s °C", v.Decimal(float64(x), 1))
}

// TemperatureNumber is the number of Temperature and TemperatureUnit its unit, for the axis of a figure.
func (v *Voice) TemperatureNumber(x unit.Temperature) float64 {
	if v.units.Fahrenheit() {
		return x.In(unit.Fahrenheit)
	}
	return float64(x)
}

// TemperatureUnit is "°F" or "°C".
func (v *Voice) TemperatureUnit() string {
	if v.units.Fahrenheit() {
		return v.Text("°F")
	}
	return v.Text("°C")
}

// DegreeDays is a sum of degrees over days, given in °C, in the reader's units.
func (v *Voice) DegreeDays(x float64) float64 {
	if v.units.Fahrenheit() {
		return x * 1.8
	}
	return x
}
