package main

import (
	"fmt"

	"spile/report"
)

type reportCommand struct {
	files
	Output string `short:"o" required:"" placeholder:"FILE.html" help:"File to write."`
	money
	model
}

// Help teaches the command.
func (reportCommand) Help() string {
	return `One HTML file with everything in it: the recommendation, figures, tables, cautions, assumptions, sources and
a methods paragraph. It needs no network, prints cleanly, and is the same for the same data.

    spile report -o report.html evidence.csv prices.toml`
}

// Run does it.
func (c reportCommand) Run(o *out) error {
	in, err := c.input(c.model, c.money)
	if err != nil {
		return err
	}
	w, err := o.answer(in, true)
	if err != nil {
		return err
	}
	page, err := report.HTML(w.A, o.voice, versionText())
	if err != nil {
		return err
	}
	if err := o.write(c.Output, page); err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	o.warn(w.A.Notes)
	return nil
}
