package main

import "spile/internal/view/show"

type trustCommand struct {
	files
	money
	model
	asJSON
	Thorough bool
}

// Help teaches the command.
func (trustCommand) Help() string {
	return `Asks the answer again in every way that a referee would: without each study, site, season and caveat, under other
assumptions, and as if studies that found little had been published less often; holds each study against what the others
foretell; and lists what a meta-analysis must tell, met or not. With prices it says what each does to what pays best,
without them to what gives most sap.

    spile trust evidence.csv prices.toml
    spile trust evidence.csv
    spile trust evidence.csv prices.toml --json`
}

// Run does it.
func (c trustCommand) Run(o *out) error {
	in, err := c.input(o, c.model, c.money)
	if err != nil {
		return err
	}
	w, err := o.asked(in, show.Checked)
	if err != nil {
		return err
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.TrustJSON())
	}
	return o.print(w.Standing(), tables(w, "trust", c.Thorough), w.A.Notes)
}
