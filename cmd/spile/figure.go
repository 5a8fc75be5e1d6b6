package main

import (
	"fmt"

	"spile/internal/note"
	"spile/internal/view/figure"
	"spile/internal/view/report"
	"spile/internal/view/show"
)

type figureCommand struct {
	Name string `arg:"" enum:"${figures}" help:"One of the figures above."`
	files
	Output string `short:"o" required:"" placeholder:"FILE.svg|png|pdf" help:"File to write; its ending says how."`
	Size   string `enum:"${sizes}" default:"page" placeholder:"${sizes_or}"`
	Over   string `placeholder:"KEY,KEY"`
	money
	model
}

// Help teaches the command.
func (figureCommand) Help() string {
	return `Figures lay themselves out for a page, a slide or a phone. A PNG has 300 dots an inch; in SVG
and PDF text stays text.

    ${figures_help}

    spile figure net -o net.svg evidence.csv prices.toml
    spile figure bars -o bars.png --size slide evidence.csv
    spile figure map -o map.pdf --over wage,baseline.yield evidence.csv prices.toml`
}

// Run does it.
func (c figureCommand) Run(o *out) error {
	if err := drawable("-o", c.Output); err != nil {
		return err
	}
	x, _, _ := show.Find(show.Figures, c.Name)
	read := c.input
	if x.Needs&show.Prices != 0 {
		read = c.priced
	}
	in, err := read(o, c.model, c.money)
	if err != nil {
		return err
	}
	w, err := o.answer(in, false)
	if err != nil {
		return err
	}
	all := w.A.Everything()
	var faults note.Faults
	if all.Across, all.Down, faults = pair("--over", c.Over); faults != nil {
		return misuses{faults}
	}
	a, err := x.Needs.Ask(o.memo, w.A, all)
	if err != nil {
		return ofCall(err)
	}
	w = show.Of(a, o.voice)
	size, _ := figure.SizeOf(c.Size)
	if err := o.draw(w, c.Name, size, c.Output); err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	if n := len(w.A.Notes); n > 0 { // they are those of the answer, which has been asked for before
		fmt.Fprintln(o.stderr, o.voice.Text("Warnings: %d, which spile gains tells.", n))
	}
	return nil
}

// draw writes one figure, as SVG, PNG or PDF by the ending of the file's name.
func (o *out) draw(w *show.View, name string, size figure.Size, path string) error {
	f, there := w.Figure(name)
	if !there {
		return note.Faults{note.New("these data give no figure %s", name)}
	}
	return o.sheet(f.Draw(size), report.About(w.A, o.voice, versionText()).Date, path)
}
