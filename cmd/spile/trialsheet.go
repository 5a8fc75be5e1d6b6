package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/design"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/view/report"
	"spile/internal/view/show"
)

type trialSheetCommand struct {
	From   []string `arg:"" name:"from"`
	Output string   `short:"o" required:"" placeholder:"FILE.pdf|xlsx"`
	Season int      `placeholder:"SEASON" help:"The season (default: the first that has not been read)."`
	Hide   bool
}

// Help teaches the command.
func (trialSheetCommand) Help() string {
	return `Writes field sheets: for each block a page of readings and one of its tap holes, the map of the layout, and tags to
cut out. The spreadsheet, filled in, is taken in by trial add.

    spile trial sheet station.spile "Fen valves" -o fen.pdf
    spile trial sheet layout.csv -o fen.xlsx --season 2026`
}

// Run does it.
func (c trialSheetCommand) Run(o *out) error {
	ext := strings.ToLower(filepath.Ext(c.Output))
	if ext != ".pdf" && ext != ".xlsx" {
		return misuse{note.New("-o %s: allowed: a name that ends in .pdf or .xlsx", c.Output)}
	}
	f := report.Field{Season: c.Season, Hide: c.Hide, V: o.voice, Version: versionText(), Set: practice.Shipped()}
	switch {
	case isWorkbook(c.From[0]) && len(c.From) == 2:
		have, err := readContents(c.From[0])
		if err != nil {
			return err
		}
		if f.Trial, err = findTrial(have, c.From[1]); err != nil {
			return err
		}
		f.Set = slices.Concat(f.Set, have.Practices)
		f.Trial = design.Coded(f.Trial, f.Set)
	case len(c.From) == 1 && !isWorkbook(c.From[0]):
		var err error
		if f.Trial, _, err = sheet.Trial(trial.Trial{Name: nameOf(c.From[0])}, f.Set, nil, c.From[0]); err != nil {
			return err
		}
	default:
		return misuse{note.New("a workbook and the name of its trial, or one layout; allowed: spile trial sheet " +
			"BOOK.spile NAME, or spile trial sheet layout.csv")}
	}
	if seasons := f.Trial.Seasons(); c.Season != 0 && !slices.Contains(seasons, c.Season) {
		return misuse{note.New("%s; allowed: a season of the trial, %s", "--season "+strconv.Itoa(c.Season),
			years(seasons))}
	}
	if f.Season == 0 {
		f.Season = unread(f.Trial)
	}
	if err := f.Check(); err != nil {
		return err
	}
	var data []byte
	var err error
	if ext == ".pdf" {
		data, err = f.Sheets()
	} else {
		code := f.Code
		if !c.Hide {
			code = nil
		}
		var b bytes.Buffer
		err = sheet.WriteXLSX(&b, sheet.FieldTables(f.Trial, f.Season, code, show.VolumeUnit(o.voice))...)
		data = b.Bytes()
	}
	if err != nil {
		return err
	}
	if err := o.files.File(c.Output, data); err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	return nil
}

// unread is the first season of a trial that was not read, or its last.
func unread(t trial.Trial) int {
	season := 0
	for _, r := range t.Records {
		season = r.Season
		if len(r.Readings) == 0 {
			break
		}
	}
	return season
}
