package main

import (
	"fmt"

	"spile/internal/files/book"
)

type copyCommand struct {
	From string `arg:"" help:"The workbook to copy: a file (.spile) or an address."`
	To   string `arg:"" help:"Where to: a new name or address, or an empty workbook."`
}

// Help teaches the command.
func (copyCommand) Help() string {
	return `Copies a workbook with all its history: from a file into a database, when several stations are to work in it, or
back into a file that can be mailed. The copy has the same digests, which spile check prints of both.

    createdb maple
    spile copy station.spile postgres://ada@localhost/maple
    spile copy postgres://ada@localhost/maple backup.spile`
}

// Run does it.
func (c copyCommand) Run(o *out) error {
	for _, path := range []string{c.From, c.To} {
		if err := namesWorkbook(path); err != nil {
			return err
		}
	}
	from, err := book.Open(c.From)
	if err != nil {
		return notKept{err}
	}
	defer from.Close()
	have, err := from.Contents()
	if err == nil {
		err = from.Copy(c.To)
	}
	if err != nil {
		return notKept{err}
	}
	v := o.voice
	fmt.Fprintln(o.stdout, v.Text("copied %s to %s: %s", c.From, c.To, v.Text("%d changes", int(have.Change))))
	o.digests(have.Sources[0].Digest, have.History)
	return nil
}
