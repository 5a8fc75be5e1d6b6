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
)

type exportCommand struct {
	files
	Output  string `short:"o" required:"" placeholder:"DIR|FILE" help:"Folder of a data package, or a file: .zip (the package as one), .xlsx (everything, a sheet each), .csv (the evidence table), .toml (prices), .bib or .ris (sources)."`
	License string `placeholder:"ID" help:"Licence under which a data package may be used, such as CC-BY-4.0 (default: not said)."`
}

// Help teaches the command.
func (exportCommand) Help() string {
	return `Writes everything as an open data package: a folder of CSV files with datapackage.json, which says
what each column is, and the sources as BibTeX and RIS. "spile add" and every computing command read
it back as it was. A name that ends in .zip, .xlsx, .csv, .toml, .bib or .ris asks for one file instead.

    spile export station.spile -o station-data --license CC-BY-4.0
    spile export station.spile -o station.xlsx
    spile add copy.spile station-data`
}

// exported are the endings of what can be written as one file.
var exported = []string{".zip", ".xlsx", ".csv", ".toml", ".bib", ".ris"}

// Run does it.
func (c exportCommand) Run(o *out) error {
	if ext := strings.ToLower(filepath.Ext(c.Output)); !output.IsFolder(c.Output) && !slices.Contains(exported, ext) {
		return misuse{note.New("-o %s: allowed: a folder, or a name that ends in %s", c.Output,
			strings.Join(exported, ", "))}
	}
	in, err := c.everything()
	if err != nil {
		return err
	}
	p := sheet.Package{Input: in, License: c.License}
	names := []string{c.Output}
	if output.IsFolder(c.Output) {
		names, err = o.folder(p, c.Output)
	} else {
		err = o.single(p, c.Output)
	}
	if err == nil {
		fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", strings.Join(names, ", ")))
	}
	return err
}

// folder writes everything as the files of a data package. A package is whole or not written: one file of it that is
// not ours refuses them all.
func (o *out) folder(p sheet.Package, path string) (names []string, err error) {
	files, err := p.Files()
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

// single writes what the ending of a file's name asks for.
func (o *out) single(p sheet.Package, path string) error {
	var b bytes.Buffer
	var err error
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".xlsx":
		err = sheet.WriteXLSX(&b, p.Tables()...)
	case ".zip":
		err = p.WriteZIP(&b)
	case ".csv":
		err = sheet.EvidenceTable(p.Studies).WriteCSV(&b)
	case ".toml":
		if p.Prices == nil {
			return note.Faults{note.New("there are no prices to write")}
		}
		b.Write(sheet.PricesTOML(*p.Prices))
	case ".bib":
		b.Write(sheet.BibTeX(p.Studies))
	case ".ris":
		b.Write(sheet.RIS(p.Studies))
	}
	if err != nil {
		return err
	}
	return o.files.File(path, b.Bytes())
}
