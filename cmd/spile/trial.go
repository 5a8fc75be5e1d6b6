package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/engine/power"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/view/figure"
	"spile/internal/view/show"
)

type trialCommand struct {
	Design  trialDesignCommand  `cmd:"" help:"Which unit gets which practice: a random layout."`
	Sheet   trialSheetCommand   `cmd:"" help:"Field sheets, the map of the layout and tags, to print or fill in."`
	Add     trialAddCommand     `cmd:"" help:"Take readings and all else that was written down into a workbook."`
	Decide  trialDecideCommand  `cmd:"" help:"Keep what you decide about a finding that may spoil the comparison."`
	Power   trialPowerCommand   `cmd:"" help:"What gain a trial of some size can find."`
	Analyse trialAnalyseCommand `cmd:"" help:"How much more sap each practice of a trial gives."`
}

// Help teaches the command.
func (trialCommand) Help() string {
	return `A trial of your own: plan it, and read what it says.

    spile trial power --practices 4 --cv 15 --gain 20
    spile trial design unsanitized new-spout check-valve new-drop --replicates 6 --taps 20 --seed 11
    spile trial analyse season.csv`
}

type trialAnalyseCommand struct {
	From      []string `arg:"" name:"from"`
	Reference string   `placeholder:"KEY" help:"Practice that gains are against (default unsanitized)."`
	Syrup     bool     `help:"Compare the syrup that the sap makes, weighted by its sugar."`
	Place     string   `placeholder:"CODE" help:"Place, such as US-VT, for the density of syrup."`
	Before    int      `placeholder:"SEASON" help:"A season before the trial, whose yields are adjusted for."`
	Vacuum    bool     `help:"Adjust for the vacuum of each unit."`
	Inference string   `enum:"${trial_inferences}" default:"kr" placeholder:"${trial_inferences_or}"`
	Thorough  bool
	asJSON
}

// Help teaches the command.
func (trialAnalyseCommand) Help() string {
	return `Compares the practices of a trial, from one row a unit and season, or from its layout and what was read.

    spile trial analyse season.csv
    spile trial analyse station.spile "Fen valves"
    spile trial analyse layout.csv readings.csv dumps.csv
    spile trial analyse season.csv --thorough --before 2023
    spile trial analyse season.csv --syrup --json`
}

// Run does it.
func (c trialAnalyseCommand) Run(o *out) error {
	if err := o.placed(c.Place); err != nil {
		return err
	}
	switch {
	case isWorkbook(c.From[0]) && len(c.From) == 2:
		have, err := readContents(c.From[0])
		if err != nil {
			return err
		}
		t, err := findTrial(have, c.From[1])
		if err != nil {
			return err
		}
		return c.say(o, t, slices.Concat(practice.Shipped(), have.Practices), show.VolumeUnit(o.voice), nil)
	case isWorkbook(c.From[0]):
		return misuse{note.New("a workbook and the name of one of its trials; allowed: spile trial analyse %s NAME",
			c.From[0])}
	}
	words, files, err := sheet.Words(practice.Shipped(), c.From...)
	if err != nil {
		return err
	}
	if words == nil && len(files) == 1 && sheet.MaybeSeason(files[0]) {
		t, err := sheet.Season(c.From[0])
		if err != nil {
			return err
		}
		of := trial.Trial{Name: nameOf(c.From[0]), Sums: t.Rows}
		if _, err := o.answered(of.Doubts(price.Latest(nil, today())), nil); err != nil {
			return err
		}
		return c.say(o, of, t.Practices, t.Unit, t.Notes)
	}
	o.large(files)
	t, notes, err := sheet.Trial(trial.Trial{Name: nameOf(c.From[0])}, practice.Shipped(), words, files...)
	if err != nil {
		return err
	}
	if _, err := o.answered(t.Doubts(price.Latest(nil, today())), nil); err != nil {
		return err
	}
	return c.say(o, t, practice.Shipped(), show.VolumeUnit(o.voice), notes)
}

// nameOf is what a trial is called that a file says no name of.
func nameOf(file string) string { return strings.TrimSuffix(filepath.Base(file), filepath.Ext(file)) }

// say says what a trial says.
func (c trialAnalyseCommand) say(o *out, t trial.Trial, set practice.Set, volume unit.VolumeUnit,
	warnings note.List) error {
	if err := c.within(t); err != nil {
		return err
	}
	t.Options = c.options(t.Options)
	a, summed, err := compare.Trial(t, set)
	if err != nil {
		return err
	}
	warnings = slices.Concat(warnings, summed.Notes)
	if len(t.Records) == 0 { // JSON has those of a trial of files among its own
		a.Notes, warnings = append(warnings, a.Notes...), nil
	}
	w := show.TrialView{A: a, V: o.voice, Set: set, VolumeUnit: volume}
	seasons := show.SeasonViews(t, summed, o.voice, set)
	if c.JSON {
		return show.WriteJSON(o.stdout, w.JSON(seasons...))
	}
	parts := tables(&show.View{V: o.voice, Trial: &w}, "trial analyse", c.Thorough)
	for _, s := range seasons {
		parts = append(parts, namedRows(s.Findings(), o.voice.Text("name")))
	}
	return o.print(nil, parts, append(warnings, a.Notes...))
}

// within refuses a practice and a season that the trial does not have.
func (c trialAnalyseCommand) within(t trial.Trial) error {
	var faults note.Faults
	if practices := plain(t.Practices()); c.Reference != "" && !slices.Contains(practices, c.Reference) {
		faults.Add("--reference: %s", note.Unknown(c.Reference, practices))
	}
	if c.Before != 0 && !slices.Contains(t.Seasons(), c.Before) {
		faults.Add("%s; allowed: a season of the trial, %s", "--before "+strconv.Itoa(c.Before),
			years(t.Seasons()))
	}
	if faults == nil {
		return nil
	}
	return misuses{faults}
}

// years is seasons in words.
func years(seasons []int) string {
	return strings.ReplaceAll(strings.Trim(fmt.Sprint(seasons), "[]"), " ", ", ")
}

// options are those of the trial, with what is asked for here.
func (c trialAnalyseCommand) options(of trial.Options) trial.Options {
	if c.Reference != "" {
		of.Reference = practice.Key(c.Reference)
	}
	if c.Place != "" {
		of.Place = c.Place
	}
	if c.Before != 0 {
		of.Before = c.Before
	}
	if c.Inference != "" {
		of.Inference = trial.Inference(c.Inference)
	}
	of.Vacuum = of.Vacuum || c.Vacuum
	if c.Syrup {
		of.Response = trial.Syrup
	}
	return of
}

type trialDesignCommand struct {
	Practices     []string `arg:"" name:"practice" help:"Practices to compare, by key, the reference among them."`
	Design        string   `enum:"${designs}" default:"blocks" placeholder:"KIND"`
	Reference     string   `placeholder:"KEY" help:"Practice that gains will be against (default unsanitized)."`
	From          string   `placeholder:"UNITS.csv"`
	Replicates    int      `default:"6" placeholder:"N"`
	Taps          count    `default:"1" placeholder:"N" help:"Taps of each unit, where none are given (default 1)."`
	Seasons       count    `default:"1" placeholder:"N" help:"Seasons (default 1)."`
	First         int      `placeholder:"SEASON" help:"The first season: needed to keep or write the layout."`
	MoreReference bool
	Blind         bool   `help:"Codes, so that who reads the counters does not know the practice."`
	PoolAge       *int   `placeholder:"SEASONS"`
	Seed          uint64 `default:"1" placeholder:"N" help:"Seed of the layout (default 1)."`
	Book          string `placeholder:"BOOK.spile"`
	Name          string `help:"What the trial is called there."`
	Site          string `help:"Where it is."`
	Who           string `help:"Who keeps it, for the history (default: the login name)."`
	Output        string `short:"o" placeholder:"LAYOUT.csv" help:"Also write the layout as a table."`
	asJSON
}

// Help teaches the command.
func (trialDesignCommand) Help() string {
	return `Draws a random layout that can be made again from its seed, and counts the used plastic to keep for the reference.

    spile trial design unsanitized new-spout check-valve new-drop --replicates 6 --taps 20 --seed 11
    spile trial design unsanitized check-valve --design pairs --from units.csv --blind
    spile trial design unsanitized check-valve --design pairs --replicates 4 --taps 20 --first 2025 --seed 3 --book station.spile --name "Fen valves" --site Fen`
}

// faults are what the call lacks to keep or write the layout.
func (c trialDesignCommand) faults() (list note.Faults) {
	if c.First == 0 && (c.Output != "" || c.Book != "") {
		list.Add("give --first: readings are taken for a season, and the layout names it; such " +
			"as --first 2026")
	}
	if c.Output != "" && strings.ToLower(filepath.Ext(c.Output)) != ".csv" {
		list.Add("-o %s: allowed: a name that ends in .csv", c.Output)
	}
	if c.Book != "" && (strings.TrimSpace(c.Name) == "" || strings.TrimSpace(c.Site) == "") {
		list.Add("--book keeps the design: give --name and --site too")
	}
	return list
}

// question is what is to be laid out, and the practices that it may name.
func (c trialDesignCommand) question() (q trial.Question, known practice.Set, notes note.List, err error) {
	q = trial.Question{Design: trial.Kind(c.Design), Replicates: c.Replicates, Taps: int(c.Taps),
		Seasons: int(c.Seasons), FirstSeason: c.First, Reference: practice.Key(c.Reference),
		MoreReference: c.MoreReference, Blind: c.Blind, PlasticAge: c.PoolAge, Seed: c.Seed}
	q.Practices = add(q.Practices, c.Practices)
	known = sheet.Practices()
	if c.From != "" {
		if q.Units, notes, err = sheet.Units(c.From); err != nil {
			return q, known, nil, err
		}
	}
	if c.Book != "" {
		have, err := readContents(c.Book)
		if err != nil {
			return q, known, nil, err
		}
		known = append(known, have.Practices...)
	}
	return q, known, notes, nil
}

// Run does it.
func (c trialDesignCommand) Run(o *out) error {
	faults := c.faults()
	q, known, warnings, err := c.question()
	if err == nil {
		faults = append(faults, q.Check(known)...)
	}
	if faults != nil {
		return misuses{faults}
	}
	if err != nil {
		return err
	}
	l, err := design.Draw(q, known)
	if err != nil {
		return ofCall(err)
	}
	if c.Output != "" {
		if err := c.writeLayout(o, l); err != nil {
			return err
		}
	}
	if c.Book != "" {
		if err := c.keepDesign(o, l); err != nil {
			return err
		}
	}
	w := show.LayoutView{L: l, V: o.voice, Set: known}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.JSON())
	}
	return o.print(nil, tables(&show.View{V: o.voice, Layout: &w}, "trial design", false), append(warnings, l.Notes...))
}

type trialPowerCommand struct {
	Practices     int      `default:"4" placeholder:"N" help:"Practices, the reference among them (default 4)."`
	Design        string   `enum:"${designs}" default:"blocks" placeholder:"KIND"`
	CV            *float64 `name:"cv" placeholder:"PCT"`
	SeasonCV      *float64 `name:"season-cv" placeholder:"PCT"`
	From          string   `placeholder:"BOOK.spile" help:"Take both from the trials of a workbook."`
	Gain          float64  `required:"" placeholder:"PCT" help:"The gain worth finding, in percent."`
	Replicates    int      `placeholder:"N"`
	Seasons       count    `default:"1" placeholder:"N" help:"Seasons (default 1)."`
	MoreReference bool
	Adjusted      bool    `help:"Judge by the p adjusted for all comparisons with the reference; simulated."`
	Power         float64 `default:"80" placeholder:"PCT" help:"Power asked for, in percent (default 80)."`
	Level         float64 `default:"5" placeholder:"PCT" help:"Two-sided level, in percent (default 5)."`
	Runs          int     `default:"2000" placeholder:"N"`
	picture
	asJSON
}

// Help teaches the command.
func (trialPowerCommand) Help() string {
	return `Says how likely a trial is to find a gain, how many replicates it needs, and the smallest gain it can find.
Chambers and mainlines differ by 10 to 20 %, trees by about 40 % (common practice).

    spile trial power --practices 4 --cv 15 --gain 20
    spile trial power --practices 4 --cv 15 --season-cv 10 --seasons 2 --gain 20 --replicates 6
    spile trial power --practices 4 --from station.spile --gain 20
    spile trial power --practices 4 --cv 15 --gain 20 --figure power.svg`
}

// Run does it.
func (c trialPowerCommand) Run(o *out) error {
	if err := o.percents(percent{"--gain", &c.Gain}, percent{"--power", &c.Power}, percent{"--level", &c.Level},
		percent{"--cv", c.CV}, percent{"--season-cv", c.SeasonCV}); err != nil {
		return err
	}
	if c.Runs < 100 || c.Runs > 1000000 {
		return misuse{note.New("--runs is %d; allowed: 100 to 1000000", c.Runs)}
	}
	t := power.Trial{Level: c.Level / 100, Asked: c.Power / 100, Runs: c.Runs,
		Scheme: design.Scheme{Design: trial.Kind(c.Design),
			Practices: c.Practices, Replicates: c.Replicates, Seasons: int(c.Seasons), MoreReference: c.MoreReference,
			Adjusted: c.Adjusted}}
	if err := c.picture.check(); err != nil {
		return err
	}
	var past []string
	var err error
	if t.Spread, past, err = c.spread(); err != nil {
		return err
	}
	rows, err := t.Table(c.Gain)
	if err != nil {
		return ofCall(err)
	}
	view := show.PowerView{Trial: t, Rows: rows, Gain: c.Gain, Past: past, V: o.voice}
	if c.Figure != "" {
		if view.Curves, err = t.Curves(c.Gain); err != nil {
			return err
		}
		size, _ := figure.SizeOf(c.Size)
		if err := o.sheet(view.Figure().Draw(size), time.Time{}, c.Figure); err != nil {
			return err
		}
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, view.JSON())
	}
	return o.print(nil, tables(&show.View{V: o.voice, Power: &view}, "trial power", false), nil)
}

// spread is what is taken for how units and seasons differ, and the trials that tell it.
func (c trialPowerCommand) spread() (s power.Spread, past []string, err error) {
	if c.From != "" {
		have, err := readContents(c.From)
		if err != nil {
			return s, nil, err
		}
		if s, past = power.Past(have.Trials, slices.Concat(practice.Shipped(), have.Practices),
			compare.Trial); past == nil &&
			c.CV == nil {
			return s, nil, note.Faults{note.New("no trial of this workbook tells yet how much units differ: give --cv").
				At(note.Where{File: c.From})}
		}
		if c.Seasons == 1 {
			s = s.OneSeason()
		}
	} else if c.CV == nil {
		return s, nil, misuse{note.New("give --cv, or --from with a workbook whose trials tell it")}
	}
	if c.CV != nil {
		s.Unit, past = *c.CV/100, nil
	}
	if c.SeasonCV != nil {
		s.Season, past = *c.SeasonCV/100, nil
	}
	return s, past, nil
}
