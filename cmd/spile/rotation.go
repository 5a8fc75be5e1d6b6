package main

import (
	"errors"
	"strconv"

	"spile/internal/note"
	"spile/internal/view/show"
)

type rotationCommand struct {
	files
	money
	model
	ahead
	asJSON
	Max seasons `default:"10" placeholder:"N" help:"Longest interval looked at, seasons (default 10)."`
}

// Help teaches the command.
func (rotationCommand) Help() string {
	return `Follows the gain of new drops as they age, and finds the interval at which replacing them pays best.
Without prices it says which interval gives the most sap.

    spile rotation evidence.csv
    spile rotation evidence.csv --prices prices.toml --max 8`
}

// Run does it.
func (c rotationCommand) Run(o *out) error {
	if c.Max < 1 || c.Max > 50 {
		return misuse{note.New("--max is %d; allowed: 1 to 50", int(c.Max))}
	}
	in, err := c.input(o, c.model, c.money)
	if err != nil {
		return err
	}
	in.MaxInterval = int(c.Max)
	if err := c.over(&in); err != nil {
		return err
	}
	w, err := o.answer(in, false)
	if err != nil {
		return err
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.RotationJSON())
	}
	return o.print(nil, tables(w, "rotation", false), w.A.Notes)
}

// seasons is a number of seasons on the command line.
type seasons int

// UnmarshalText reads it.
func (s *seasons) UnmarshalText(text []byte) error {
	n, err := strconv.Atoi(string(text))
	if err != nil {
		return errors.New(strconv.Quote(string(text)) +
			" is not a number of seasons; allowed: a whole number from 1 to 50")
	}
	*s = seasons(n)
	return nil
}
