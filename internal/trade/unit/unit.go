// Package unit holds quantities: one number in one base unit, and the units that people write them in.
package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Exact by definition: the US gallon is 231 cubic inches, the imperial gallon 4.54609 L, the avoirdupois pound
// 0.45359237 kg, the inch 25.4 mm (NIST Handbook 44, Appendix C; Canada, Weights and Measures Act, Schedule II).
const (
	litresPerUSGallon       = 3.785411784
	litresPerImperialGallon = 4.54609
	kilogramsPerPound       = 0.45359237
	metresPerInch           = 0.0254
	metresPerFoot           = 0.3048
)

// kPaPerInHg is the conventional inch of mercury (NIST Special Publication 811, Appendix B.8: 3.386389 E+03 Pa).
const kPaPerInHg = 3.386389

// Said is how people write units in headers and behind numbers, in English and French: small letters and spaces alone.
var Said = map[string][]string{
	string(USGallon): {"gal", "gals", "gallon", "gallons", "us gal", "gal us", "us gallons", "gallons us",
		"gallons americains"},
	string(ImperialGallon): {"gal imp", "imp gal", "imperial gallons", "gallons imperial", "gallon imperial",
		"gallons imperiaux", "gal imperial", "gal can", "imp gallons", "imp gallon", "imperial gal", "imperial gallon",
		"gallons imp", "gallon imp", "gal uk", "uk gal", "uk gallons", "canadian gallons", "gallons canadiens",
		"igal"},
	string(Litre):         {"l", "litre", "litres", "liter", "liters", "lt"},
	string(Kilopascal):    {"kpa"},
	string(InchOfMercury): {"inhg", "in hg", "inches", "po hg", "pohg", "hg", "po", "in"},
	string(Inch):          {"in", "inch", "inches", "po", "pouce", "pouces"},
	string(Centimetre):    {"cm", "centimetre", "centimetres", "centimeter", "centimeters"},
	string(Metre):         {"m", "metre", "metres", "meter", "meters"},
	string(Celsius):       {"c", "deg c", "celsius"},
	string(Fahrenheit):    {"f", "deg f", "fahrenheit"},
}

// Volume is litres.
type Volume float64

// VolumeUnit is a volume unit as written in a file: "gal" is the US gallon, "gal_imp" the imperial gallon.
type VolumeUnit string

const (
	USGallon       VolumeUnit = "gal"
	ImperialGallon VolumeUnit = "gal_imp"
	Litre          VolumeUnit = "l"
)

// Of is x of the unit as litres.
func (u VolumeUnit) Of(x float64) Volume { return Volume(x * u.litres()) }

// In is the volume as a number of the unit.
func (v Volume) In(u VolumeUnit) float64 { return float64(v) / u.litres() }

func (u VolumeUnit) litres() float64 {
	switch u {
	case USGallon:
		return litresPerUSGallon
	case ImperialGallon:
		return litresPerImperialGallon
	case Litre:
		return 1
	}
	return math.NaN()
}

// ParseVolume reads a volume unit's word. "gal" and "gallon" give the US gallon; BareGallon tells whether the
// word left that open, which a Canadian file may not.
func ParseVolume(word string) (VolumeUnit, bool) {
	switch fold(word) {
	case "gal", "gallon", "gallons", "gal_us", "us_gal":
		return USGallon, true
	case "gal_imp", "imp_gal":
		return ImperialGallon, true
	case "l", "litre", "litres", "liter", "liters":
		return Litre, true
	}
	return "", false
}

// BareGallon is true of a word that names a gallon and not which one.
func BareGallon(word string) bool {
	switch fold(word) {
	case "gal", "gallon", "gallons":
		return true
	}
	return false
}

// Canadian is true of an ISO 3166 code in Canada, where a bare gallon is refused.
func Canadian(place string) bool { return place == "CA" || strings.HasPrefix(place, "CA-") }

// Mass is kilograms.
type Mass float64

// MassUnit is a mass unit as written in a file.
type MassUnit string

const (
	Kilogram MassUnit = "kg"
	Pound    MassUnit = "lb" // avoirdupois
)

// Of is x of the unit as kilograms.
func (u MassUnit) Of(x float64) Mass { return Mass(x * u.kilograms()) }

// In is the mass as a number of the unit.
func (m Mass) In(u MassUnit) float64 { return float64(m) / u.kilograms() }

func (u MassUnit) kilograms() float64 {
	switch u {
	case Kilogram:
		return 1
	case Pound:
		return kilogramsPerPound
	}
	return math.NaN()
}

// ParseMass reads a mass unit's word.
func ParseMass(word string) (MassUnit, bool) {
	switch fold(word) {
	case "kg":
		return Kilogram, true
	case "lb", "lbs":
		return Pound, true
	}
	return "", false
}

// Pressure is kPa; vacuum is kPa below the atmosphere, and positive.
type Pressure float64

// PressureUnit is a pressure unit as written in a file.
type PressureUnit string

const (
	Kilopascal    PressureUnit = "kpa"
	InchOfMercury PressureUnit = "inhg"
)

// Of is x of the unit as kPa.
func (u PressureUnit) Of(x float64) Pressure { return Pressure(x * u.kPa()) }

// String is the pressure in plain English.
func (p Pressure) String() string { return fmt.Sprintf("%.1f inHg", p.In(InchOfMercury)) }

// In is the pressure as a number of the unit.
func (p Pressure) In(u PressureUnit) float64 { return float64(p) / u.kPa() }

func (u PressureUnit) kPa() float64 {
	switch u {
	case Kilopascal:
		return 1
	case InchOfMercury:
		return kPaPerInHg
	}
	return math.NaN()
}

// Length is metres.
type Length float64

// LengthUnit is a length unit as written in a file.
type LengthUnit string

const (
	Metre      LengthUnit = "m"
	Centimetre LengthUnit = "cm"
	Foot       LengthUnit = "ft"
	Inch       LengthUnit = "in"
)

// Of is x of the unit as metres.
func (u LengthUnit) Of(x float64) Length { return Length(x * u.metres()) }

// In is the length as a number of the unit.
func (l Length) In(u LengthUnit) float64 { return float64(l) / u.metres() }

func (u LengthUnit) metres() float64 {
	switch u {
	case Metre:
		return 1
	case Centimetre:
		return 0.01
	case Foot:
		return metresPerFoot
	case Inch:
		return metresPerInch
	}
	return math.NaN()
}

// Temperature is degrees Celsius.
type Temperature float64

// TemperatureUnit is a temperature unit as written in a file.
type TemperatureUnit string

const (
	Celsius    TemperatureUnit = "c"
	Fahrenheit TemperatureUnit = "f"
)

// Of is x degrees of the unit as a temperature.
func (u TemperatureUnit) Of(x float64) Temperature {
	switch u {
	case Celsius:
		return Temperature(x)
	case Fahrenheit:
		return Temperature((x - 32) / 1.8)
	}
	return Temperature(math.NaN())
}

// In is the temperature in degrees of the unit.
func (t Temperature) In(u TemperatureUnit) float64 {
	switch u {
	case Celsius:
		return float64(t)
	case Fahrenheit:
		return float64(t)*1.8 + 32
	}
	return math.NaN()
}

// Round is a number to so many digits: what was turned from one unit into another does not show that it was.
func Round(x float64, digits int) float64 {
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	return x
}

func fold(word string) string {
	return strings.ReplaceAll(strings.ToLower(strings.TrimSpace(word)), " ", "_")
}

// Atmosphere is the pressure of the standard atmosphere at an altitude below 11 km: p = p0 (T/T0)^(g0 M/(R L)),
// T = T0 − L h (U.S. Standard Atmosphere 1976, equation 33a, the same as ICAO's).
func Atmosphere(altitude Length) Pressure {
	const (
		p0 = 101.325   // kPa
		t0 = 288.15    // K
		l  = 0.0065    // K/m
		g0 = 9.80665   // m/s²
		m  = 0.0289644 // kg/mol
		r  = 8.31432   // J/(mol K), the value of 1976
	)
	return Pressure(p0 * math.Pow(1-l*float64(altitude)/t0, g0*m/(r*l)))
}

// BadGauge is true of a vacuum that the atmosphere at this altitude cannot give: no pump pulls more than all of it.
func BadGauge(vacuum Pressure, altitude Length) bool { return vacuum > Atmosphere(altitude) }
