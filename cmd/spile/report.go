package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"spile/internal/note"
	"spile/internal/view/report"
)

type reportCommand struct {
	files
	Output string `short:"o" required:"" placeholder:"FILE.html|pdf" help:"File to write; its ending says how."`
	Slides bool   `help:"A talk instead: figures as slides, 16:9, in the order that builds the argument (PDF)."`
	money
	model
}

// Help teaches the command.
func (reportCommand) Help() string {
	return `One file with everything in it: the recommendation, figures, tables, cautions, assumptions, sources and a
methods paragraph. The HTML needs no network and prints cleanly; the PDF is on letter paper with US units, else on A4.
Each is the same for the same data.

    spile report -o report.html evidence.csv prices.toml
    spile report -o report.pdf evidence.csv prices.toml
    spile report --slides -o talk.pdf evidence.csv prices.toml`
}

// Run does it.
func (c reportCommand) Run(o *out) error {
	write := report.HTML
	switch ext := strings.ToLower(filepath.Ext(c.Output)); {
	case c.Slides && ext != ".pdf":
		return misuse{note.New("--slides -o %s: allowed: a name that ends in .pdf", c.Output)}
	case c.Slides:
		write = report.Slides
	case ext == ".pdf":
		write = report.PDF
	case ext != ".html" && ext != ".htm":
		return misuse{note.New("-o %s: allowed: a name that ends in .html or .pdf", c.Output)}
	}
	in, err := c.input(o, c.model, c.money)
	if err != nil {
		return err
	}
	w, err := o.whole(in)
	if err != nil {
		return err
	}
	page, err := write(w.A, o.voice, versionText())
	if err != nil {
		return err
	}
	if err := o.files.File(c.Output, page); err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	o.warn(w.A.Notes)
	return nil
}
