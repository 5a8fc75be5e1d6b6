package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/view/report"
)

type reportCommand struct {
	files
	Output string `short:"o" required:"" placeholder:"FILE.html|pdf|pptx" help:"File to write; its ending says how."`
	Slides bool   `help:"A talk instead: one finding a slide, 16:9, in the order that builds the argument."`
	By     string `placeholder:"TEXT" help:"Who gives the talk, and where: a line of its first slide."`
	Since  string `placeholder:"DAY|NUMBER"`
	money
	model
	ahead
}

// Help teaches the command.
func (reportCommand) Help() string {
	return `One file with everything in it: the recommendation, figures, tables, cautions, assumptions, sources and a
methods paragraph. The HTML needs no network and prints cleanly; the PDF is on letter paper with US units, else on A4.
A talk is a PDF, or a presentation (.pptx) whose titles, texts, tables and speaker notes can be edited.
Each is the same for the same data.

    spile report -o report.html evidence.csv prices.toml
    spile report -o report.pdf evidence.csv prices.toml
    spile report --slides -o talk.pdf evidence.csv prices.toml
    spile report --slides -o talk.pptx --by "A. Speaker, winter school" evidence.csv prices.toml`
}

// Run does it.
func (c reportCommand) Run(o *out) error {
	write := report.HTML
	switch ext := strings.ToLower(filepath.Ext(c.Output)); {
	case c.By != "" && !c.Slides:
		return misuse{note.New("--by %s without --slides; allowed: with a talk", note.Quote(c.By))}
	case c.Slides && ext == ".pdf":
		write = report.Talk{By: c.By}.PDF
	case c.Slides && ext == ".pptx":
		write = report.Talk{By: c.By}.Deck
	case c.Slides:
		return misuse{note.New("--slides -o %s: allowed: a name that ends in .pdf or .pptx", c.Output)}
	case ext == ".pdf":
		write = report.PDF
	case ext != ".html" && ext != ".htm":
		return misuse{note.New("-o %s: allowed: a name that ends in .html or .pdf", c.Output)}
	}
	if c.Since != "" && (len(c.Files) != 1 || !isWorkbook(c.Files[0])) {
		return misuse{
			note.New("--since is for a workbook as it stands: spile report BOOK.spile --since %s", c.Since)}
	}
	in, err := c.input(o, c.model, c.money)
	if err != nil {
		return err
	}
	if err := c.over(&in); err != nil {
		return err
	}
	w, err := o.whole(in)
	if err != nil {
		return err
	}
	a := w.A
	if c.Since != "" {
		if a, err = c.with(o, a); err != nil {
			return err
		}
	}
	page, err := write(a, o.voice, versionText())
	if err != nil {
		return err
	}
	if err := o.files.File(c.Output, page); err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	if n := len(w.A.Notes); n > 0 {
		fmt.Fprintln(o.stderr, o.voice.Text("Warnings: %d, which stand in what was written.", n))
	}
	return nil
}

// with is the answer with what came since.
func (c reportCommand) with(o *out, a *advice.Advice) (*advice.Advice, error) {
	since, _, err := o.since(c.Files[0], c.Since)
	with := *a
	with.Since = since
	return &with, err
}
