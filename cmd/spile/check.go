package main

import (
	"fmt"

	"spile/book"
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
	fmt.Fprintln(o.stdout, o.voice.Text("%s is sound: %d changes, %d versions, %d things in it now", c.Workbook, done.Changes, done.Versions, done.Things))
	return nil
}

// notSound is the error of a check that found something.
type notSound struct{ error }

func (e notSound) Unwrap() error { return e.error }
