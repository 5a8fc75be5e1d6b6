package main

import (
	"fmt"

	"spile/sheet"
	"spile/show"
)

type planCommand struct {
	files
	money
	model
	asJSON
	Sugarbush string `required:"" placeholder:"BUSH.toml" help:"The sugarbush: its sections, crew and cash."`
}

// Help teaches the command.
func (planCommand) Help() string {
	return `Plans a sugarbush section by section and season by season: the highest discounted profit within the hours of
the crew and the cash of a season, what to buy, and how far it may fall short of the best.

    spile plan evidence.csv prices.toml --sugarbush bush.toml
    spile plan station.spile --sugarbush bush.toml --json`
}

// Run does it.
func (c planCommand) Run(o *out) error {
	in, err := c.priced(c.model, c.money)
	if err != nil {
		return err
	}
	b, err := sheet.Sugarbush(c.Sugarbush, in)
	if err != nil {
		return err
	}
	stop := o.working(o.voice.Text("planning %d sections", len(b.Sections)))
	w, err := o.planned(in, b)
	stop()
	if err != nil {
		return err
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.JSON())
	}
	for _, s := range w.Answer() {
		fmt.Fprintln(o.stdout, show.Wrap("", s, show.Width))
	}
	for _, t := range []show.Table{w.Steps(), w.Buy(), w.Rules(), w.Worth()} {
		fmt.Fprintln(o.stdout)
		if err := t.Terminal(o.stdout, show.Width); err != nil {
			return err
		}
	}
	for _, n := range w.P.Cautions {
		fmt.Fprintln(o.stdout, show.Wrap("- ", o.voice.Note(n), show.Width))
	}
	o.warn(w.P.Notes)
	return nil
}
