package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"spile/internal/files/book"
	"spile/internal/note"
)

type newCommand struct {
	Workbook string `arg:"" name:"book" help:"The workbook to make; its name ends in .spile."`
}

// Help teaches the command.
func (newCommand) Help() string {
	return `A workbook is one file that keeps studies, prices, practices and rules with all that was ever changed in them, by
whom and when. It can be copied and mailed like any file.

    spile new station.spile
    spile add station.spile evidence.csv prices.toml
    spile profit station.spile`
}

// Run does it.
func (c newCommand) Run(o *out) error {
	if !isWorkbook(c.Workbook) {
		return misuse{note.New("%s is no name for a workbook; allowed: a name that ends in .spile", c.Workbook)}
	}
	b, err := book.Create(c.Workbook)
	if err != nil {
		return notKept{err}
	}
	defer b.Close()
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s, an empty workbook", c.Workbook))
	return nil
}

// isWorkbook is true of the name of a workbook.
func isWorkbook(path string) bool { return strings.EqualFold(filepath.Ext(path), ".spile") }
