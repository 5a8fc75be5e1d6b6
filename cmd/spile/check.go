package main

import (
	"fmt"

	"spile/internal/files/book"
)

type checkCommand struct {
	Workbook string `arg:"" name:"book" help:"The workbook (.spile)."`
}

// Help teaches the command.
func (checkCommand) Help() string {
	return `Goes through the whole file: its pages, its tables, every change and every version of everything, and names all
that is wrong. It changes nothing.

    spile check station.spile`
}

// Run does it.
func (c checkCommand) Run(o *out) error {
	done, err := book.Check(c.Workbook)
	if err != nil {
		return notSound{err}
	}
	v := o.voice
	fmt.Fprintln(o.stdout, v.Text("%s is sound: %s", c.Workbook, v.List([]string{
		v.Text("%d changes", done.Changes), v.Text("%d versions", done.Versions),
		v.Text("%d things in it now", done.Things),
	})))
	return nil
}

// notSound is the error of a check that found something.
type notSound struct{ error }

func (e notSound) Unwrap() error { return e.error }
