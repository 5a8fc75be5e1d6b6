package bush

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/doubt"
	"spile/internal/trade/price"
	"spile/internal/trade/species"
	"spile/internal/trade/unit"
)

// Doubts asks about what is possible and unusual of a sugarbush, beside what is said of the station's prices. The
// column of a question is the dotted key of a sugarbush's file.
func (b Sugarbush) Doubts() doubt.Questions {
	a := asker{bush: b}
	a.questions = b.Prices.Unusual(a.says, "sugarbush", b.Name)
	if x := b.IdleExchange; x != 0 {
		a.ask(note.New("an exchange of %v stands beside the currency of the prices, %s, and turns nothing; is that "+
			"meant?", x, b.Prices.Currency), "exchange", fmt.Sprint(x))
	}
	beyond(&a, "", Whole, &b)
	for _, w := range price.Windows {
		if c, ok := b.Crews[w]; ok {
			beyond(&a, "window."+string(w)+".", Crews, &c)
		}
	}
	latest := price.Latest(&b.Prices, time.Time{})
	a.season("first_season", b.First, latest)
	for i := range b.Sections {
		x := &b.Sections[i]
		beyond(&a, "section."+x.Name+".", Sections, x)
		a.season("section."+x.Name+".drops_replaced", x.DropsReplaced, latest)
		if near := species.Near(x.Species); near != "" {
			a.ask(note.New("trees called %s are not known (%s, misspelt?); are they meant?", note.Quote(x.Species),
				note.Term(near)), "section."+x.Name+".species", x.Species)
		}
	}
	return a.questions
}

// asker gathers the questions of a sugarbush.
type asker struct {
	bush      Sugarbush
	questions doubt.Questions
}

// says is true of a key that the sugarbush has of its own.
func (a *asker) says(key string) bool {
	_, own := a.bush.Prices.Lines[key]
	return own
}

func (a *asker) ask(n note.Note, key, value string) {
	at := a.bush.Where
	at.Row, at.Column = a.bush.Prices.Lines[key], key
	a.questions = append(a.questions, doubt.About(n.At(at), "sugarbush", a.bush.Name, key, value))
}

func (a *asker) season(key string, year, latest int) {
	if year != 0 && (year < doubt.FirstYear || latest > 0 && year > latest) {
		a.ask(note.New("the season %s stands here; is that meant?", strconv.Itoa(year)), key, strconv.Itoa(year))
	}
}

// beyond asks about the numbers of a row that lie beyond what its columns say is usual.
func beyond[T any](a *asker, at string, columns []column.Column[T], row T) {
	for _, c := range columns {
		if c.Get == nil || c.Usual == (column.Range{}) || (c.Instead != "" || at == "") && !a.says(at+c.Name) {
			continue
		}
		var x float64
		switch v := c.Get(row).(type) {
		case float64:
			x = v
		case int:
			x = float64(v)
		default:
			continue
		}
		usual := c.Usual
		if slices.ContainsFunc(price.Units, func(u price.Unit) bool { return u.Key == c.Unit }) {
			typed := func(x float64) float64 { return a.bush.Prices.Typed(x, price.SapATap) }
			x = typed(x)
			usual = column.Range{Low: unit.Round(typed(usual.Low), 2), High: unit.Round(typed(usual.High), 2)}
		}
		if n, unusual := usual.Ask(unit.Round(x, 12)); unusual {
			a.ask(n, at+c.Name, fmt.Sprintf("%.8g", x))
		}
	}
}
