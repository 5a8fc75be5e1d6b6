package main

import (
	"spile/internal/engine/advice"
	"spile/internal/engine/worth"
	"spile/internal/note"
	"spile/internal/view/show"
)

type worthCommand struct {
	files
	money
	model
	asJSON
	Taps       float64 `default:"100000" help:"Taps of all producers concerned (default 100000)."`
	Adoption   float64 `default:"0.2" help:"Part of them that does what pays best (default 0.2)."`
	Seasons    count   `default:"10" help:"Seasons that the answer is used (default 10)."`
	Trial      int     `default:"0" placeholder:"SEASONS" help:"Seasons that a trial runs (default: as many as pay best)."`
	Site       string  `help:"Site of a trial, one that has studies already (default: a new one)."`
	Sites      int     `default:"0" help:"New sites that a trial runs at, each with all its blocks (default: as many as pay best)."`
	BlockUnits count   `default:"1" help:"Units of each practice in a block (default 1)."`
	UnitTaps   count   `default:"10" help:"Taps of a unit (default 10)."`
	CV         float64 `default:"15" placeholder:"PCT"`
	Fixed      float64 `default:"3000" help:"Cost of a trial, once (default 3000)."`
	SeasonCost float64 `default:"2000" help:"Cost of a trial, each season (default 2000)."`
	UnitCost   float64 `default:"60" help:"Cost of a trial, each unit and season (default 60)."`
}

// Help teaches the command.
func (worthCommand) Help() string {
	return `Ranks the trials that could be run next by what their answer is expected to bring to those who use it, less what
they cost: sets of practices, each at the sites, seasons and blocks that pay best; "no trial" is one of them.

    spile worth evidence.csv prices.toml
    spile worth evidence.csv prices.toml --taps 500000 --adoption 0.3
    spile worth evidence.csv prices.toml --trial 2 --sites 3
    spile worth evidence.csv prices.toml --json`
}

// Run does it.
func (c worthCommand) Run(o *out) error {
	if err := o.percents(percent{"--cv", &c.CV}); err != nil {
		return err
	}
	in, err := c.priced(o, c.model, c.money)
	if err != nil {
		return err
	}
	w, err := o.answer(in, false)
	if err != nil {
		return err
	}
	q := w.A.TrialDefaults()
	q.Taps, q.Adoption, q.Seasons = c.Taps, c.Adoption, int(c.Seasons)
	q.Cost = worth.Cost{Fixed: c.Fixed, Season: c.SeasonCost, Unit: c.UnitCost}
	q.Design.Units, q.Design.Taps, q.Design.Seasons = int(c.BlockUnits), int(c.UnitTaps), c.Trial
	q.Design.CV = c.CV / 100
	q.Design.Site, q.Design.Sites = c.Site, c.Sites
	n, err := w.A.Next(q)
	if err != nil {
		return ofCall(err)
	}
	if n == nil {
		return note.Faults{note.New("no trial is worth a thought: nothing that may be chosen here was studied beside " +
			"anything else")}
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.WorthJSON(n))
	}
	a := *w.A
	a.Weighed = &advice.Weighed{Next: n}
	return o.print(nil, tables(show.Of(&a, o.voice), "worth", false), a.Notes)
}
