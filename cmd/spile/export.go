package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/output"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/input"
	"spile/internal/view/worksheet"
)

type exportCommand struct {
	files
	Output    string `short:"o" required:"" placeholder:"DIR|FILE"`
	License   string `placeholder:"ID"`
	AsTyped   bool   `help:"The tables as they were typed instead, in their own headers, words and units."`
	Worksheet bool   `help:"The money instead, as a spreadsheet (.xlsx) in which a price can be changed."`
}

// Help teaches the command.
func (exportCommand) Help() string {
	return `Writes everything as an open data package: a folder of CSV files with datapackage.json, which says
what each column is, and the sources as BibTeX and RIS. "spile add" and every computing command read
it back as it was. A name that ends in .zip, .xlsx, .csv, .toml, .bib or .ris asks for one file instead.

    spile export station.spile -o station-data --license CC-BY-4.0
    spile export station.spile -o station.xlsx
    spile add copy.spile station-data

With --as-typed the folder holds the evidence in the headers, words and units of the tables that it came from, each with
a TOML file that says what they stand for, and the prices as they were typed; what was changed since stands changed in
its cell.

    spile export station.spile --as-typed -o mine

With --worksheet it is the money: partial budget, rotation, the years of a change with its net present value and
payback, the enterprise budget of a whole farm and a cash flow by month, all of them formulas over cells with names, so
that whoever changes a price there sees everything follow.

    spile export evidence.csv prices.toml --worksheet -o money.xlsx`
}

// export is a kind of file that holds something alone.
type export struct {
	ending, holds string
	write         func(p sheet.Package, to *bytes.Buffer) error
}

// exported are those that can be written.
var exported = []export{
	{".zip", "the package as one", func(p sheet.Package, to *bytes.Buffer) error { return p.WriteZIP(to) }},
	{".xlsx", "everything, a sheet each", func(p sheet.Package, to *bytes.Buffer) error {
		return sheet.WriteXLSX(to, p.Tables()...)
	}},
	{".csv", "the evidence table", func(p sheet.Package, to *bytes.Buffer) error {
		return sheet.EvidenceTable(p.Studies).WriteCSV(to)
	}},
	{".toml", "prices", func(p sheet.Package, to *bytes.Buffer) error {
		if p.Prices == nil {
			return note.Faults{note.New("there are no prices to write")}
		}
		to.Write(sheet.PricesTOML(*p.Prices))
		return nil
	}},
	{".bib", "sources", func(p sheet.Package, to *bytes.Buffer) error {
		to.Write(sheet.BibTeX(p.Studies))
		return nil
	}},
	{".ris", "sources", func(p sheet.Package, to *bytes.Buffer) error {
		to.Write(sheet.RIS(p.Studies))
		return nil
	}},
}

// exportOf is the kind of file that a name ends in.
func exportOf(path string) (export, bool) {
	ext := strings.ToLower(filepath.Ext(path))
	for _, x := range exported {
		if x.ending == ext {
			return x, true
		}
	}
	return export{}, false
}

// Run does it.
func (c exportCommand) Run(o *out) error {
	if c.Worksheet {
		return c.worksheet(o)
	}
	single, known := exportOf(c.Output)
	if !known && !output.IsFolder(c.Output) {
		var endings []string
		for _, x := range exported {
			endings = append(endings, x.ending)
		}
		return misuse{note.New("-o %s: allowed: a folder, or a name that ends in %s", c.Output,
			strings.Join(endings, ", "))}
	}
	if c.AsTyped && known {
		return misuse{note.New("--as-typed -o %s: allowed: a folder", c.Output)}
	}
	in, err := c.everything()
	if err != nil {
		return err
	}
	p := sheet.Package{Input: in, License: c.License}
	names := []string{c.Output}
	if output.IsFolder(c.Output) {
		files := p.Files
		if c.AsTyped {
			files = func() ([]sheet.File, error) { return sheet.TypedFiles(in) }
		}
		names, err = o.folder(files, c.Output)
	} else {
		var b bytes.Buffer
		if err = single.write(p, &b); err == nil {
			err = o.files.File(c.Output, b.Bytes())
		}
	}
	if err == nil {
		fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", strings.Join(names, ", ")))
	}
	return err
}

// worksheet writes the money as a spreadsheet.
func (c exportCommand) worksheet(o *out) error {
	if strings.ToLower(filepath.Ext(c.Output)) != ".xlsx" {
		return misuse{note.New("--worksheet -o %s: allowed: a name that ends in .xlsx", c.Output)}
	}
	if err := o.files.Try(c.Output); err != nil {
		return err
	}
	in, err := c.priced(o, usualModel, money{})
	if err != nil {
		return err
	}
	w, err := o.answer(in, false)
	if err != nil {
		return err
	}
	data, err := worksheet.Write(w.A, o.voice)
	if err == nil {
		err = o.files.File(c.Output, data)
	}
	if err == nil {
		fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	}
	return err
}

// folder writes everything as the files of a data package. A package is whole or not written: one file of it that is
// not ours refuses them all.
func (o *out) folder(make func() ([]sheet.File, error), path string) (names []string, err error) {
	files, err := make()
	if err != nil {
		return nil, err
	}
	folder, err := o.files.Folder(path)
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		names = append(names, f.Name)
	}
	if err := folder.Try(names...); err != nil {
		return nil, err
	}
	for i, f := range files {
		if err := folder.Write(f.Name, f.Data); err != nil {
			return nil, err
		}
		names[i] = filepath.Join(path, f.Name)
	}
	return names, folder.Close()
}

// everything is what the files or the workbook hold.
func (c exportCommand) everything() (input.Input, error) {
	i := slices.IndexFunc(c.Files, isWorkbook)
	switch {
	case i < 0:
		return sheet.Read(c.Files...)
	case len(c.Files) > 1:
		return input.Input{}, misuse{note.New("one workbook, or files; take files into the workbook: spile add %s",
			c.Files[i])}
	}
	b, err := book.Open(c.Files[i])
	if err != nil {
		return input.Input{}, err
	}
	defer b.Close()
	have, err := b.Contents()
	return have.Input, err
}
