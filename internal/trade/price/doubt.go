package price

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/doubt"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// nearDollar are currencies whose unit is worth about a dollar: what is usual of money is said for these alone.
var nearDollar = []string{"USD", "CAD", "AUD", "NZD", "EUR", "GBP", "CHF"}

// Doubts asks about what is possible and unusual. today is the day that the prices are read on; the zero time is not
// known. The column of a question is a dotted key, its numbers are as they were typed.
func (p *Prices) Doubts(today time.Time) doubt.Questions {
	asked := p.Unusual(func(string) bool { return true }, "prices")
	ask := func(n note.Note, key string, thing ...string) {
		asked = append(asked, doubt.About(n.At(p.at(key)), append([]string{"prices", key}, thing...)...))
	}
	if day, err := time.Parse(time.DateOnly, p.AsOf); err == nil &&
		(day.Year() < doubt.FirstYear || !today.IsZero() && day.After(today.AddDate(1, 0, 0))) {
		ask(note.New("the prices are of %s; is that meant?", p.AsOf), "as_of", p.AsOf)
	}
	if n, unusual := OfPlace(p.Place); unusual {
		ask(n, "place", p.Place)
	}
	for _, u := range p.Uses {
		key := "use." + string(u.Practice)
		if u.Practice == practice.Unsanitized && !u.free() {
			ask(note.New("what a practice takes is counted over and above unsanitized, and here unsanitized itself "+
				"takes something; is that meant?"), key, fmt.Sprint(p.standing(key)))
		}
		far := slices.ContainsFunc(u.GainPct, func(x float64) bool { return math.Abs(x) >= 1 })
		if !far && slices.ContainsFunc(u.GainPct, func(x float64) bool { return x != 0 }) {
			ask(note.New("these gains are percents, and all lie below 1 %%, such as %v; is that meant?", u.GainPct[0]),
				key+".gain", fmt.Sprint(u.GainPct))
		}
	}
	return asked
}

// OfPlace asks about a country with the letters of a state or province: the rules of Montenegro are none for Maine.
func OfPlace(code string) (n note.Note, unusual bool) {
	part := place.Sounding(code)
	return note.New("the place %s is the country of that code, not %s; is that meant?", code, part), part != ""
}

// free is true of a use that takes nothing.
func (u Use) free() bool {
	return len(u.Materials) == 0 && u.Chemical == "" && u.Renewal == nil && u.Repairs.Best == 0 &&
		u.Disposal.Best == 0 && u.LostSapL.Best == 0 &&
		!slices.ContainsFunc(Windows, func(w Window) bool { return u.Minutes[w] != nil && u.Minutes[w].Best != 0 })
}

// standing is the best guesses below a key, which tell what was asked about.
func (p *Prices) standing(key string) (list []float64) {
	for _, s := range p.Slots() {
		if v := s.Value(); v != nil && strings.HasPrefix(s.Key, key+".") {
			list = append(list, v.Best)
		}
	}
	return list
}

// Unusual asks about the numbers of keys that lie beyond what is usual, one question a key. of are the words that tell
// these prices from others.
func (p *Prices) Unusual(of func(key string) bool, these ...string) doubt.Questions {
	var asked doubt.Questions
	for _, s := range p.Slots() {
		if s.Usual == (column.Range{}) || !of(s.Key) ||
			s.Measure.Money() && !slices.Contains(nearDollar, p.Currency) {
			continue
		}
		var numbers []float64
		if v := s.Value(); v != nil {
			numbers = append(numbers, v.Best)
			for _, x := range []*float64{v.Low, v.High} {
				if x != nil {
					numbers = append(numbers, *x)
				}
			}
		} else if s.Get != nil && s.Kind.Numeric() {
			if x, given := s.number(); given {
				numbers = append(numbers, x)
			}
		}
		usual := column.Range{Low: unit.Round(p.Typed(s.Usual.Low, s.Measure), 2),
			High: unit.Round(p.Typed(s.Usual.High, s.Measure), 2)}
		for _, x := range numbers {
			if s.Usual.Low <= x && x <= s.Usual.High {
				continue
			}
			if n, unusual := usual.Ask(p.Typed(x, s.Measure)); unusual {
				asked = append(asked, doubt.About(n.At(p.at(s.Key)), append(these, s.Key, fmt.Sprintf("%.8g", x))...))
				break
			}
		}
	}
	return asked
}

// Latest is the last season that there may be anything of: that which follows the day of the prices, else today; 0
// where neither is known. Nil prices have no day, and a day that is asked about itself tells none.
func Latest(p *Prices, today time.Time) int {
	if p != nil {
		if day, err := time.Parse(time.DateOnly, p.AsOf); err == nil && day.Year() >= doubt.FirstYear {
			today = day
		}
	}
	if today.IsZero() {
		return 0
	}
	return today.Year() + 1
}
