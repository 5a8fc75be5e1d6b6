package main

import (
	"fmt"

	"spile/internal/files/book"
	"spile/internal/view/show"
)

type checkCommand struct {
	Workbook string `arg:"" name:"book" help:"The workbook (.spile), or its address."`
}

// Help teaches the command.
func (checkCommand) Help() string {
	return `Goes through all of a workbook: its pages, its tables, every change and every version of everything, and names all
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
	fmt.Fprintln(o.stdout)
	o.digests(done.State, done.History)
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

// digests prints those of a workbook.
func (o *out) digests(state, history string) {
	fmt.Fprintf(o.stdout, "%s\n  %s\n%s\n  %s\n", o.voice.Text("digest of what it holds"), state,
		o.voice.Text("digest of the history"), history)
}

// notSound is the error of a check that found something.
type notSound struct{ error }

func (e notSound) Unwrap() error { return e.error }
