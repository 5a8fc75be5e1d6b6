package main

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/price"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

type handoutCommand struct {
	Book      string   `arg:"" name:"file" help:"A workbook (.spile), or an evidence table; more of these may follow."`
	Bush      []string `arg:"" optional:"" name:"sugarbush"`
	Sugarbush string   `placeholder:"BUSH" help:"The sugarbush, where it is not the last file."`
	Output    string   `short:"o" placeholder:"FILE.pdf|html"`
	Large     bool     `help:"One page in large type instead, for a meeting."`
	money
	model
}

// Help teaches the command.
func (handoutCommand) Help() string {
	return `One producer's sheet: what we advise and why, the money, what to buy, hours, a calendar, cautions, how sure it
is and what would change it. The last file is the sugarbush, or the name of one that the workbook holds. Two sides, on
letter paper in the United States and Canada, else on A4; as HTML it prints the same.

    spile handout evidence.csv --prices prices.toml bush.toml
    spile handout station.spile bush.toml -o sheet.pdf
    spile handout station.spile bush.toml --large -o meeting.pdf`
}

// Run does it.
func (c handoutCommand) Run(o *out) error {
	read := files{Files: append([]string{c.Book}, c.Bush...), public: true}
	name := c.Sugarbush
	if last := len(c.Bush); name == "" && last > 0 {
		name, read.Files = c.Bush[last-1], read.Files[:last]
	}
	if c.Output == "" {
		of := cmp.Or(name, c.Book)
		c.Output = strings.TrimSuffix(of, filepath.Ext(of)) + ".pdf"
	}
	ext := strings.ToLower(filepath.Ext(c.Output))
	if !slices.Contains([]string{".pdf", ".html", ".htm"}, ext) {
		return misuse{note.New("-o %s: allowed: a name that ends in .html or .pdf", c.Output)}
	}
	if err := o.files.Try(c.Output); err != nil {
		return err
	}
	in, err := read.priced(o, c.model, c.money)
	if err != nil {
		return err
	}
	w, err := o.planOf(in, name)
	if err != nil {
		return err
	}
	data, err := handout(w, ext, c.Large)
	if err != nil {
		return err
	}
	if err := o.files.File(c.Output, data); err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	o.warn(w.P.Notes)
	return nil
}

// handout writes a plan by the ending of a file's name.
func handout(w show.PlanView, ext string, large bool) ([]byte, error) {
	switch {
	case ext != ".pdf":
		return report.HandoutHTML(w, versionText(), large)
	case large:
		return report.HandoutLarge(w, versionText())
	}
	return report.Handout(w, versionText())
}

// planOf is the plan of the sugarbush of a name.
func (o *out) planOf(in advice.Input, name string) (show.PlanView, error) {
	b, err := o.sugarbush(in, name)
	if err != nil {
		return show.PlanView{}, err
	}
	o.busy.on(o.voice.Text("planning %d sections", len(b.Sections)))
	return o.planned(in, b)
}

// planned is the plan of a sugarbush in the units of its place.
func (o *out) planned(in advice.Input, b bush.Sugarbush) (show.PlanView, error) {
	p, err := o.memo.Plan(in, b)
	if err != nil {
		return show.PlanView{}, err
	}
	return show.PlanView{P: p, V: o.voiceOf(&b.Prices), Set: in.Practices}, nil
}

// voiceOf is the voice in the units of a sugarbush, unless the call asked for others.
func (o *out) voiceOf(p *price.Prices) *say.Voice {
	if o.units || p.Place == "" {
		return o.voice
	}
	return o.voice.With(say.UnitsIn(p.Place, p.Units["units.mass"]))
}

// sugarbush is a sugarbush by the name of its file, or by that under which the workbook or the files hold it; without a
// name the only one that they hold.
func (o *out) sugarbush(in advice.Input, name string) (bush.Sugarbush, error) {
	var have []string
	for _, d := range in.Bushes {
		have = append(have, d.Name)
	}
	at := slices.Index(have, name)
	if name == "" && len(have) == 1 {
		at = 0
	}
	_, missing := os.Stat(name)
	switch {
	case at >= 0 && missing != nil:
		return sheet.SugarbushFrom(in.Bushes[at], in.Prices, in.Practices)
	case name == "" && have == nil:
		return bush.Sugarbush{},
			misuse{note.New("no sugarbush is given; allowed: --sugarbush with its file, or with its name in the " +
				"workbook")}
	case name == "":
		return bush.Sugarbush{},
			misuse{note.New("several sugarbushes are here; allowed: --sugarbush with one of %s", join(have))}
	case missing != nil && have != nil && filepath.Ext(name) == "":
		return bush.Sugarbush{},
			misuse{note.New("no sugarbush is called %q; allowed: %s, or the name of a file", name, join(have))}
	}
	return o.bushFile(in, name)
}

// bushFile is the sugarbush of a file; what is unusual in it and not said to be meant is the error.
func (o *out) bushFile(in advice.Input, path string) (bush.Sugarbush, error) {
	b, err := sheet.Sugarbush(path, in.Prices, in.Practices)
	if err == nil {
		_, err = o.answered(b.Doubts(), in.Answers)
	}
	return b, err
}
