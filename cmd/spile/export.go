package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/practice"
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

// Run does it.
func (c exportCommand) Run(o *out) error {
	p, err := c.everything()
	if err != nil {
		return err
	}
	p.License = c.License
	files, err := written(p, c.Output)
	if err != nil {
		return err
	}
	names := make([]string, len(files))
	for i, f := range files {
		if err := o.write(f.Name, f.Data); err != nil {
			return err
		}
		names[i] = f.Name
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", strings.Join(names, ", ")))
	return nil
}

// everything is what the files or the workbook hold.
func (c exportCommand) everything() (sheet.Package, error) {
	var in advice.Input
	var excluded []sheet.Exclusion
	var err error
	if i := slices.IndexFunc(c.Files, isWorkbook); i < 0 {
		in, excluded, _, err = sheet.ReadAll(nil, c.Files...)
	} else if len(c.Files) > 1 {
		err = misuse{note.New("one workbook, or files; take files into the workbook: spile add %s", c.Files[i])}
	} else {
		return workbookPackage(c.Files[i])
	}
	return sheet.Package{Studies: in.Studies, Trials: in.Trials, Practices: own(in.Practices), Rules: in.Rules, Prices: in.Prices, Excluded: excluded, Bushes: in.Bushes}, err
}

func workbookPackage(path string) (sheet.Package, error) {
	b, err := book.Open(path)
	if err != nil {
		return sheet.Package{}, err
	}
	defer b.Close()
	have, err := b.Contents()
	p := sheet.Package{Studies: have.Studies, Trials: have.Trials, Practices: have.Practices, Rules: have.Rules, Prices: have.Prices, Bushes: have.Bushes}
	for _, e := range have.Excluded {
		p.Excluded = append(p.Excluded, sheet.Exclusion(e))
	}
	return p, err
}

// own is the practices that are not shipped.
func own(all practice.Set) practice.Set {
	var list practice.Set
	for _, p := range all {
		if _, shipped := practice.Shipped().Find(p.Key); !shipped {
			list = append(list, p)
		}
	}
	return list
}

// written is the files of an export, with their paths.
func written(p sheet.Package, path string) ([]sheet.File, error) {
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
			return nil, note.Faults{note.New("there are no prices to write")}
		}
		b.Write(sheet.PricesTOML(*p.Prices))
	case ".bib":
		b.Write(sheet.BibTeX(p.Studies))
	case ".ris":
		b.Write(sheet.RIS(p.Studies))
	default:
		if err := os.MkdirAll(path, 0o755); err != nil {
			return nil, unwritten(path, err)
		}
		files, err := p.Files()
		for i := range files {
			files[i].Name = filepath.Join(path, files[i].Name)
		}
		return files, err
	}
	return []sheet.File{{Name: path, Data: b.Bytes()}}, err
}
