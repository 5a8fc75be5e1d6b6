package main

import (
	"bytes"
	"errors"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/design"
	"spile/internal/engine/harvest"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/trial"
	"spile/internal/view/show"
)

// findTrial is a workbook's trial of a name.
func findTrial(have book.Contents, name string) (trial.Trial, error) {
	var names []string
	for _, t := range have.Trials {
		if t.Name == name {
			return t.Read(), nil
		}
		names = append(names, t.Name)
	}
	if names == nil {
		return trial.Trial{}, misuse{
			note.New("the workbook holds no trial yet: spile trial design … --book BOOK.spile --name NAME --site SITE")}
	}
	return trial.Trial{}, misuse{
		note.New("the workbook holds no trial %q; it holds %s", name, strings.Join(names, ", "))}
}

// readContents is what a workbook holds.
func readContents(path string) (book.Contents, error) {
	if err := namesWorkbook(path); err != nil {
		return book.Contents{}, err
	}
	b, err := book.Open(path)
	if err != nil {
		return book.Contents{}, err
	}
	defer b.Close()
	return b.Contents()
}

type trialAddCommand struct {
	Workbook string   `arg:"" name:"book" help:"The workbook (.spile), or its address."`
	Name     string   `arg:"" help:"The trial."`
	Files    []string `arg:"" name:"file"`
	Site     string   `help:"Where the trial is, for one that is not in the workbook yet and whose files do not say."`
	Who      string   `placeholder:"NAME" help:"Who adds it, for the history (default: the login name)."`
	Why      string   `placeholder:"TEXT" help:"Why, for the history."`
	Replace  bool
}

// Help teaches the command.
func (trialAddCommand) Help() string {
	return `Takes what was written down of a trial into the workbook: all of the files, or none of them. What a file holds is told
by its columns; docs/data.md has them all. A reading that is there already with the same numbers is left alone; with
other numbers it is a fault, unless --replace corrects it.

    spile trial add station.spile "Fen valves" readings.csv events.csv dumps.csv
    spile trial add station.spile "Fen valves" corrected.csv --replace`
}

// Run does it.
func (c trialAddCommand) Run(o *out) error {
	names := make([]string, len(c.Files))
	for i, path := range c.Files {
		names[i] = filepath.Base(path)
	}
	e := book.Edit{Who: c.Who, What: "spile trial add " + c.Name + " " + strings.Join(names, " "), Why: c.Why,
		Replace: c.Replace}
	return o.keep(c.Workbook, e, func(have book.Contents) ([]book.Item, note.List, error) {
		base, unknown := findTrial(have, c.Name)
		if unknown != nil {
			base = trial.Trial{Name: c.Name, Site: c.Site}
		}
		set := slices.Concat(practice.Shipped(), have.Practices)
		words, files, err := sheet.Words(set, c.Files...)
		if err != nil {
			return nil, nil, err
		}
		o.large(files)
		t, notes, err := sheet.Trial(design.Coded(base, set), set, slices.Concat(have.Words, words), files...)
		if err != nil {
			var mine note.Faults
			var none misuse
			if errors.As(unknown, &none) && len(have.Trials) > 0 && errors.As(err, &mine) {
				err = append(note.Faults{none.Note}, mine...) // a name mistyped, more likely than a new trial
			}
			return nil, nil, err
		}
		answers, err := o.answered(t.Doubts(price.Latest(have.Prices, today())), have.Answers)
		if err != nil {
			return nil, nil, err
		}
		trialWithoutFolders(&t)
		items := slices.Concat(book.TrialItems(t), book.Items(input.Input{Words: sheet.Lasting(words)}))
		for _, a := range answers {
			items = append(items, book.Keep(a))
		}
		return items, notes, nil
	})
}

type trialDecideCommand struct {
	Workbook string `arg:"" name:"book" help:"The workbook (.spile), or its address."`
	Name     string `arg:"" help:"The trial."`
	Season   int    `arg:"" help:"The season of the finding."`
	Finding  string `arg:"" help:"The finding, as trial analyse names it, or the beginning of its name."`
	Out      bool   `help:"Take the run out of the sums, for the whole block." xor:"verdict" required:""`
	Keep     bool   `help:"Keep it as it is." xor:"verdict" required:""`
	Reason   string `required:"" placeholder:"WHY" help:"Why; kept with the decision."`
	Who      string `placeholder:"NAME" help:"Who decides, for the history (default: the login name)."`
}

// Help teaches the command.
func (trialDecideCommand) Help() string {
	return `Keeps what you decide about a finding that may spoil the comparison. Nothing is ever taken out unasked, and a later
decision takes the place of an earlier one; both stay in the history.

    spile trial decide station.spile "Fen valves" 2025 event/1 --out --reason "the main stood open for a day"
    spile trial decide station.spile "Fen valves" 2025 gap/2/7 --keep --reason "nothing ran that day"`
}

// Run does it.
func (c trialDecideCommand) Run(o *out) error {
	e := book.Edit{Who: c.Who, What: "spile trial decide " + c.Name + " " + c.Finding, Why: c.Reason, Replace: true}
	return o.keep(c.Workbook, e, func(have book.Contents) ([]book.Item, note.List, error) {
		t, err := findTrial(have, c.Name)
		if err != nil {
			return nil, nil, err
		}
		id, err := c.finding(t)
		if err != nil {
			return nil, nil, err
		}
		d, err := harvest.Decide(t, c.Season, id, c.Out, c.Reason)
		if err != nil {
			return nil, nil, err
		}
		return []book.Item{book.Keep(book.Log(t.Name, c.Season, d))}, nil, nil
	})
}

// finding is the one whose name begins as asked.
func (c trialDecideCommand) finding(t trial.Trial) (string, error) {
	s, err := harvest.Of(t)
	if err != nil {
		return "", err
	}
	var all []string
	for i, r := range s.Records {
		if r.Season == c.Season {
			for _, f := range s.Totals[i].Findings {
				all = append(all, f.ID())
			}
		}
	}
	for _, d := range t.Decisions {
		if d.Season == c.Season && !slices.Contains(all, d.Finding) {
			all = append(all, d.Finding)
		}
	}
	var like []string
	for _, id := range all {
		if id == c.Finding {
			return id, nil
		}
		if strings.HasPrefix(id, c.Finding) {
			like = append(like, id)
		}
	}
	switch len(like) {
	case 1:
		return like[0], nil
	case 0:
		if len(all) == 0 {
			return "", misuse{note.New("nothing was found in %s that may spoil the comparison of %s; spile trial "+
				"analyse names what was found",
				strconv.Itoa(c.Season), c.Name)}
		}
		return "", misuse{note.New("nothing like %q was found in %d; found were: %s", c.Finding, c.Season,
			strings.Join(all, ", "))}
	}
	return "", misuse{note.New("%q is the beginning of several findings: %s", c.Finding, strings.Join(like, ", "))}
}

// named puts the names of a table's rows in front of it, to be used in a command.
func namedRows(t show.Table, head string) show.Table {
	t.Columns = append([]show.Column{{ID: "id", Name: head}}, t.Columns...)
	rows := slices.Clone(t.Rows)
	for i, r := range rows {
		rows[i].Cells = append([]show.Cell{{Text: r.ID}}, r.Cells...)
	}
	t.Rows = rows
	return t
}

// keepDesign keeps a layout in a workbook.
func (c trialDesignCommand) keepDesign(o *out, l *trial.Layout) error {
	e := book.Edit{Who: c.Who, What: "spile trial design " + c.Name + " --seed " + strconv.FormatUint(c.Seed, 10)}
	return o.keep(c.Book, e, func(book.Contents) ([]book.Item, note.List, error) {
		q := l.Question
		return []book.Item{book.Keep(trial.Trial{Name: c.Name, Site: c.Site, Question: &q, Records: l.Records()})},
			nil, nil
	})
}

// writeLayout writes a layout as the table that trial add and trial sheet read.
func (c trialDesignCommand) writeLayout(o *out, l *trial.Layout) error {
	for _, t := range sheet.TrialTables(trial.Trial{Records: l.Records()}) {
		if t.Name == "layout" {
			var b bytes.Buffer
			if err := t.WriteCSV(&b); err != nil {
				return err
			}
			return o.files.File(c.Output, b.Bytes())
		}
	}
	return nil
}
