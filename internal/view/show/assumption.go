package show

import (
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
)

// Measured is how the reader writes numbers of a measure: a base unit's number times Factor, in Unit.
type Measured struct {
	Factor float64
	Unit   string
	Digits int
}

// Measure gives the reader's unit of a measure, in the currency of the prices.
func (w *View) Measure(m price.Measure) Measured {
	return Measure(w.V, m, w.currency(), func(u *price.Unit) string {
		switch {
		case u.Mass && w.V.Units().Pounds():
			return string(unit.Pound)
		case !u.Mass && w.V.Units().Gallons():
			return string(unit.USGallon)
		}
		return u.Base
	})
}

// Measure is how numbers of a measure are written in a currency and in units that word names as files do.
func Measure(v *say.Voice, m price.Measure, money string, word func(*price.Unit) string) Measured {
	factor, name := 1.0, ""
	if u := m.Unit(); u != nil {
		name = word(u)
		if per, ok := u.Factor(name); ok && m.Money() {
			factor = per
		} else if ok {
			factor = 1 / per
		}
		name = UnitName(v, name)
	}
	phrase, digits := m.Phrase()
	switch {
	case phrase == "":
		return Measured{factor, "", digits}
	case m == price.YearlyRate:
		factor = 100
	}
	var of []any
	if m.Money() {
		of = append(of, v.MoneyUnit(money))
	}
	if name != "" {
		of = append(of, name)
	}
	return Measured{factor, v.Text(phrase, of...), digits}
}

// UnitName is the name of a unit that a file names by a word.
func UnitName(v *say.Voice, word string) string {
	switch m, _ := unit.ParseMass(word); m {
	case unit.Pound:
		return v.Text("lb")
	case unit.Kilogram:
		return v.Text("kg")
	}
	switch u, _ := unit.ParseVolume(word); u {
	case unit.USGallon:
		return v.Text("gal")
	case unit.ImperialGallon:
		return v.Text("imp. gal")
	case unit.Litre:
		return v.Text("L")
	}
	return word
}

// Assumptions is every number of the prices, with how low and high it may be and where it comes from.
func (w *View) Assumptions() Table {
	v := w.V
	t := Table{
		ID:    "assumptions",
		Title: v.Text("What the money rests on"),
		Columns: []Column{
			wordy("assumption", v.Text("assumption")),
			interval("value", v.Text("value"), ""),
			wordy("unit", v.Text("unit")),
			wordy("source", v.Text("source")),
		},
	}
	assumed := false
	for _, a := range w.A.Input.Prices.Assumptions() {
		m := w.Measure(a.Measure)
		x := a.Value.Best * m.Factor
		text := v.Decimal(x, m.Digits)
		c := num(text, x)
		if a.Value.Low != nil && a.Value.High != nil {
			low, high := *a.Value.Low*m.Factor, *a.Value.High*m.Factor
			c = decimals(v, x, low, high, m.Digits)
		}
		if a.Default {
			c.Marks, assumed = []string{"a"}, true
		}
		t.row(a.Key, words(v.Note(a.Name)), c, words(m.Unit), words(a.Value.Source))
	}
	if assumed {
		t.Notes = append(t.Notes, Footnote{"a", v.Text("the price file says nothing: this stands in for it")})
	}
	if p := w.A.Input.Prices; p != nil {
		t.Notes = append(t.Notes, w.terms()...)
	}
	return t
}

// terms are the assumptions of the prices that are no numbers.
func (w *View) terms() []Footnote {
	v, p := w.V, w.A.Input.Prices
	place := p.Place
	if place == "" {
		place = v.Text("unknown")
	}
	organic := v.Text("no organic certificate")
	if p.Organic {
		organic = v.Text("under an organic certificate")
	}
	at := v.Text("1/N of the drops are replaced each season")
	if p.AllAtOnce {
		at = v.Text("all drops are replaced in one season")
	}
	notes := lettered{
		{Text: v.Text("Place: %s, %s. Rotation: %s.", place, organic, at)},
		{Text: v.Text("The baseline yield was measured under: %s.", w.Treatment(p.Baseline.Treatment))},
	}
	if p.SyrupBrix > 0 {
		notes.note(v.Text("Syrup is %s °Brix.", v.Decimal(p.SyrupBrix, 1)))
	}
	return notes
}
