package main

import (
	"slices"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/view/show"
)

type gainsCommand struct {
	files
	model
	asJSON
	Thorough bool
	Explain  []string `placeholder:"KEY" help:"Take a practice's gain apart, step by step (all: every practice's)."`
}

// Help teaches the command.
func (gainsCommand) Help() string {
	return `Pools all admitted studies in one joint model, and lists each study with its weight or why it is out.

    spile gains evidence.csv
    spile gains evidence.csv --without no-replication --variance reported
    spile gains evidence.csv --exclude "Otter Hill 2019" --json
    spile gains evidence.csv --explain check-valve`
}

// Run does it.
func (c gainsCommand) Run(o *out) error {
	in, err := c.input(o, c.model, money{})
	if err != nil {
		return err
	}
	in.Prices = nil // a price file among the files changes no gain
	w, err := o.answer(in, c.Thorough)
	if err != nil {
		return err
	}
	if c.Explain != nil {
		if w, err = c.explained(o, w); err != nil {
			return err
		}
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.GainsJSON())
	}
	if c.Explain != nil {
		return o.print(nil, w.AllParts(), w.A.Notes)
	}
	return o.print(w.Recommendation(), tables(w, "gains", c.Thorough), w.A.Notes)
}

// explained is the view with the gains taken apart that the call names.
func (c gainsCommand) explained(o *out, w *show.View) (*show.View, error) {
	var known, only []practice.Key
	for _, g := range w.A.Pool.Gains {
		known = append(known, g.Treatment.Practice)
	}
	for _, k := range c.Explain {
		if k := practice.Key(k); k != "all" && !slices.Contains(known, k) {
			return nil, misuse{note.New("--explain: no gain is told of %s; allowed: %s, all", string(k), join(known))}
		} else if k != "all" {
			only = append(only, k)
		}
	}
	if slices.Contains(c.Explain, "all") {
		only = nil
	}
	o.busy.on(o.voice.Text("leaving out each of %d studies", w.A.Pool.Studies))
	a, err := o.memo.Why(w.A, only...)
	if err != nil {
		return nil, err
	}
	return show.Of(a, o.voice), nil
}
