package main

import (
	"fmt"
	"slices"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/view/figure"
	"spile/internal/view/report"
	"spile/internal/view/show"
)

type figureCommand struct {
	Name string `arg:"" enum:"net,bars,intervals,ageing,outlook,swings,map,trial-size" help:"net: what each practice nets. bars: every study by practice, for a talk. intervals: every study with interval and weight, for a paper. ageing: drops by age, and the rotation that pays best. outlook: what each practice is likely to net. swings: what moves that most. map: which practice pays best over two assumptions. trial-size: what the next trial is worth by its size."`
	files
	Output string `short:"o" required:"" placeholder:"FILE.svg|png|pdf" help:"File to write; its ending says how."`
	Size   string `enum:"page,slide,phone" default:"page" placeholder:"page|slide|phone" help:"Where it will be shown: page (default), slide (16:9, large text) or phone."`
	Over   string `placeholder:"KEY,KEY" help:"Of a map: its two assumptions, by their keys (default: those that the choice hangs on most)."`
	money
	model
}

// Help teaches the command.
func (figureCommand) Help() string {
	return `Figures lay themselves out for a page, a slide or a phone. A PNG has 300 dots an inch; in SVG
and PDF text stays text.

    spile figure net -o net.svg evidence.csv prices.toml
    spile figure bars -o bars.png --size slide evidence.csv
    spile figure map -o map.pdf --over wage,baseline.yield evidence.csv prices.toml`
}

// Run does it.
func (c figureCommand) Run(o *out) error {
	if err := drawable("-o", c.Output); err != nil {
		return err
	}
	in, err := c.input(c.model, c.money)
	if err != nil {
		return err
	}
	weigh := slices.Contains([]string{"outlook", "swings", "map", "trial-size"}, c.Name)
	if (c.Name == "net" || weigh) && in.Prices == nil {
		return misuse{note.New("money needs prices: give --prices PRICES.toml")}
	}
	w, err := o.answer(in, false)
	if err == nil && weigh {
		w, err = c.weighed(o, w)
	}
	if err != nil {
		return err
	}
	if err := o.draw(w, c.Name, sizes[c.Size], c.Output); err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	o.warn(w.A.Notes)
	return nil
}

// weighed is the view of an answer with what its figure says of it under uncertainty.
func (c figureCommand) weighed(o *out, w *show.View) (*show.View, error) {
	across, down, faults := pair("--over", c.Over)
	if faults != nil {
		return nil, misuses{faults}
	}
	ask := advice.WeighOptions{Outlook: c.Name != "trial-size", Across: across, Down: down}
	if c.Name == "trial-size" {
		ask.Trials = new(w.A.TrialDefaults())
	}
	a, err := o.memo.Weigh(w.A, ask)
	if err != nil {
		return nil, ofCall(err)
	}
	return show.Of(a, o.voice), nil
}

// draw writes one figure, as SVG, PNG or PDF by the ending of the file's name.
func (o *out) draw(w *show.View, name string, size figure.Size, path string) error {
	for _, f := range report.Figures(w) {
		if f.Name != name {
			continue
		}
		return o.sheet(f.Draw(size), report.About(w.A, o.voice, versionText()).Date, path)
	}
	return note.Faults{note.New("these data give no figure %s", name)}
}
