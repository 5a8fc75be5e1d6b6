package main

import (
	"fmt"

	"spile/internal/files/book"
	"spile/internal/view/show"
)

type checkCommand struct {
	Workbook string `arg:"" name:"book" help:"The workbook (.spile)."`
}

// Help teaches the command.
func (checkCommand) Help() string {
	return `Goes through the whole file: its pages, its tables, every change and every version of everything, and names all
that is wrong. It changes nothing. Then it prints two digests, by which two people can compare what they have, and says what
they do not prove.

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
	fmt.Fprintf(o.stdout, "\n%s\n  %s\n%s\n  %s\n", v.Text("digest of what it holds"), done.State,
		v.Text("digest of the history"), done.History)
	proved, unproved := show.Proof(v)
	for _, part := range []struct {
		head string
		list []string
	}{{v.Text("What they prove"), proved}, {v.Text("What they do not prove"), unproved}} {
		fmt.Fprintf(o.stdout, "\n%s\n", part.head)
		for _, text := range part.list {
			fmt.Fprintln(o.stdout, show.Wrap("- ", text, show.Width))
		}
	}
	return nil
}

// notSound is the error of a check that found something.
type notSound struct{ error }

func (e notSound) Unwrap() error { return e.error }
