package main

import (
	"fmt"

	"spile/internal/files/book"
	"spile/internal/files/reach"
	"spile/internal/note"
	"spile/internal/view/show"
)

type syncCommand struct {
	Workbook string `arg:"" name:"book" help:"The workbook to bring up to date."`
	With     string `arg:"" help:"The other side: a workbench (https://…), or another workbook."`
	Token    string `placeholder:"FILE" help:"The file with the token of your account there (or SPILE_TOKEN)."`
	Who      string `placeholder:"NAME" help:"Who runs it, for the history (default: the login name)."`
}

// Help teaches the command.
func (syncCommand) Help() string {
	return `Brings a workbook and another side up to date with one another: what was changed there comes here, what was changed
here goes there. What both have changed stays as it is on both sides, and spile serve BOOK shows it side by side;
what you decide goes there with the next sync. Broken off at any point it is run again.

A token is made on the page Account of the workbench, and has the right and the station of that account. It is read
from a file or from SPILE_TOKEN. Who runs the server may give the address of its database instead, and two files
sync as well.

    spile sync station.spile https://maple.example.org --token ~/.spile-token
    spile sync station.spile postgres://spile@localhost/maple
    spile sync station.spile /media/stick/station.spile`
}

// Run does it.
func (c syncCommand) Run(o *out) error {
	if err := namesWorkbook(c.Workbook); err != nil {
		return err
	}
	e := book.Edit{Who: c.Who}
	if e.Who == "" {
		e.Who = login()
	}
	if e.Who == "" {
		return misuse{note.New("the login name is not known: give --who NAME")}
	}
	var err error
	if e.At, err = now(); err != nil {
		return err
	}
	side, name, close, err := c.side(o, e)
	if err != nil {
		return err
	}
	defer close()
	b, err := book.Open(c.Workbook)
	if err != nil {
		return notKept{err}
	}
	defer b.Close()
	v := o.voice
	e.What = v.Text("sync with %s", name)
	done, err := b.Sync(side, e)
	for _, part := range []struct {
		what string
		list []book.Touched
	}{{v.Text("came"), done.Taken}, {v.Text("went"), done.Sent},
		{v.Text("no longer shown there, and taken out"), done.Hidden},
		{v.Text("stays here, since your account may not change it there"), done.Kept},
		{v.Text("changed here and there, and left as it is"), done.Crossed}} {
		if len(part.list) > 0 {
			fmt.Fprintln(o.stdout, show.Wrap("  ", v.Text("%s: %s", part.what, o.touched(part.list)), show.Width))
		}
	}
	if err != nil {
		return notSynced{err}
	}
	var faults note.Faults
	for _, r := range done.Refused {
		faults.Add("%s was not taken: %s", r.Key, r.Why)
	}
	if len(done.Crossed) > 0 {
		faults.Add("changed on both sides: %s; spile serve %s shows it side by side, under Workbook, and you decide",
			o.touched(done.Crossed), c.Workbook)
	}
	switch {
	case done.Same:
		fmt.Fprintln(o.stdout, v.Text("both sides hold the same"))
	case faults == nil && done.Kept == nil:
		faults.Add("both sides do not hold the same yet; run it again")
	}
	if faults != nil {
		return notSynced{faults}
	}
	return nil
}

// notSynced is the error of a sync that is not whole yet.
type notSynced struct{ error }

func (e notSynced) Unwrap() error { return e.error }

// side is the other side, its name, and what ends it.
func (c syncCommand) side(o *out, e book.Edit) (book.Side, string, func(), error) {
	if reach.Served(c.With) {
		token, err := reach.Token(c.Token)
		if err != nil {
			return nil, "", nil, err
		}
		w, err := reach.At(o, c.With, token, o.voice.Language())
		if err != nil {
			return nil, "", nil, misuses{err.(note.Faults)}
		}
		return w, w.Name(), func() {}, nil
	}
	if err := namesWorkbook(c.With); err != nil {
		return nil, "", nil, err
	}
	b, err := book.Open(c.With)
	if err != nil {
		return nil, "", nil, notKept{err}
	}
	have, err := b.Contents()
	if err != nil {
		b.Close()
		return nil, "", nil, notKept{err}
	}
	name := have.Sources[0].Name
	return book.Desk{Book: b, Name: name, From: e.Who, At: e.At, Say: o.voice.Note}, name, func() { b.Close() }, nil
}
