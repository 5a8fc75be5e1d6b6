package main

import (
	"spile/note"
	"spile/sheet"
	"spile/show"
	"spile/trial"
)

type trialCommand struct {
	Analyse trialAnalyseCommand `cmd:"" help:"How much more sap each practice of a trial gives."`
}

// Help teaches the command.
func (trialCommand) Help() string {
	return `A trial of your own: what it says.

    spile trial analyse season.csv`
}

type trialAnalyseCommand struct {
	File      string `arg:"" name:"file" help:"Season table (.csv): unit, block, season, practice, taps, volume_gal or volume_l, brix; one row a unit and season."`
	Reference string `placeholder:"KEY" help:"Practice that gains are against (default unsanitized)."`
	Syrup     bool   `help:"Compare the syrup that the sap makes, weighted by its sugar."`
	Place     string `placeholder:"CODE" help:"Place, such as US-VT, for the density of syrup."`
	Before    int    `placeholder:"SEASON" help:"A season before the trial, whose yields are adjusted for."`
	Vacuum    bool   `help:"Adjust for the vacuum of each unit."`
	Inference string `enum:"kr,wald" default:"kr" placeholder:"kr|wald" help:"Intervals: kr, Kenward-Roger (default), or wald."`
	Thorough  bool   `help:"Also show practices against each other, each season by itself, and variances."`
	asJSON
}

// Help teaches the command.
func (trialAnalyseCommand) Help() string {
	return `Compares the practices of a trial, from one row a unit and season.

    spile trial analyse season.csv
    spile trial analyse season.csv --thorough --before 2023
    spile trial analyse season.csv --syrup --json`
}

// Run does it.
func (c trialAnalyseCommand) Run(o *out) error {
	t, err := sheet.Season(c.File)
	if err != nil {
		return err
	}
	options := trial.Options{Before: c.Before, Vacuum: c.Vacuum, Place: c.Place}
	set(&options.Reference, c.Reference)
	set(&options.Inference, c.Inference)
	if c.Syrup {
		options.Response = trial.Syrup
	}
	a, err := trial.Analyse(t.Rows, t.Practices, options)
	if err != nil {
		return err
	}
	a.Notes = append(t.Notes, a.Notes...)
	w := show.TrialView{A: a, V: o.voice, Set: t.Practices, VolumeUnit: t.Unit}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.JSON())
	}
	parts := []show.Table{w.Gains()}
	if c.Thorough {
		parts = append(parts, w.Pairs())
		if s := w.BySeason(); len(s.Rows) > 0 {
			parts = append(parts, s)
		}
		parts = append(parts, w.Variances())
	}
	return o.tables(parts, a.Notes)
}

// tables writes tables to standard output and warnings to standard error.
func (o *out) tables(parts []show.Table, warnings []note.Note) error {
	for i, t := range parts {
		if i > 0 {
			if _, err := o.stdout.Write([]byte("\n")); err != nil {
				return err
			}
		}
		if err := t.Terminal(o.stdout, show.Width); err != nil {
			return err
		}
	}
	o.warn(warnings)
	return nil
}
