package main

import "spile/internal/view/show"

type gainsCommand struct {
	files
	model
	asJSON
	Thorough bool
}

// Help teaches the command.
func (gainsCommand) Help() string {
	return `Pools all admitted studies in one joint model, and lists each study with its weight or why it is out.

    spile gains evidence.csv
    spile gains evidence.csv --without no-replication --variance reported
    spile gains evidence.csv --exclude "Otter Hill 2019" --json`
}

// Run does it.
func (c gainsCommand) Run(o *out) error {
	in, err := c.input(o, c.model, money{})
	if err != nil {
		return err
	}
	in.Prices = nil // a price file among the files changes no gain
	w, err := o.answer(in, c.Thorough)
	if err != nil {
		return err
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.GainsJSON())
	}
	return o.print(w.Recommendation(), tables(w, "gains", c.Thorough), w.A.Notes)
}
