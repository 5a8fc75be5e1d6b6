package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"spile/internal/files/book"
	"spile/internal/note"
)

type newCommand struct {
	Workbook string `arg:"" name:"book" help:"The workbook to make: a name that ends in .spile, or an address."`
}

// Help teaches the command.
func (newCommand) Help() string {
	return `A workbook is one file that keeps studies, prices, practices and rules with all that was ever changed in them, by
whom and when. It can be copied and mailed like any file. Where several write at once it may be in a
database of PostgreSQL instead: every command takes its address in the place of the file.

    spile new station.spile
    spile add station.spile evidence.csv prices.toml
    spile profit station.spile`
}

// Run does it.
func (c newCommand) Run(o *out) error {
	if err := namesWorkbook(c.Workbook); err != nil {
		return err
	}
	b, err := book.Create(c.Workbook)
	if err != nil {
		return notKept{err}
	}
	defer b.Close()
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s, an empty workbook", c.Workbook))
	return nil
}

// isWorkbook is true of the name of a workbook, or its address.
func isWorkbook(path string) bool {
	return book.Served(path) || strings.EqualFold(filepath.Ext(path), ".spile")
}

func namesWorkbook(path string) error {
	if isWorkbook(path) {
		return nil
	}
	return misuse{note.New("%s is not the name of a workbook; allowed: a name that ends in .spile, or an address "+
		"such as postgres://USER@HOST/DATABASE", path)}
}
