package main

import (
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/view/show"
)

type profitCommand struct {
	files
	money
	model
	ahead
	asJSON
	Thorough bool
}

// Help teaches the command.
func (profitCommand) Help() string {
	return `Ranks every practice, every rotation of drops and the combinations that no study holds by what they net
a tap and season, against today's practice and against unsanitized, and says what is permitted.

    spile profit evidence.csv --prices prices.toml
    spile profit evidence.csv prices.toml --against unsanitized
    spile profit evidence.csv prices.toml --place US-VT --organic --json`
}

// Run does it.
func (c profitCommand) Run(o *out) error {
	in, err := c.priced(o, c.model, c.money)
	if err != nil {
		return err
	}
	if err := c.over(&in); err != nil {
		return err
	}
	w, err := o.answer(in, false)
	if err != nil {
		return err
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.ProfitJSON())
	}
	return o.print(w.Recommendation(), tables(w, "profit", c.Thorough), w.A.Notes)
}

// priced is input that must hold prices.
func (f files) priced(o *out, m model, c money) (advice.Input, error) {
	in, err := f.input(o, m, c)
	if err == nil && in.Prices == nil {
		err = misuse{note.New("money needs prices, and none are in %s: give --prices PRICES.toml",
			strings.Join(f.and(c.Prices), ", "))}
	}
	return in, err
}
