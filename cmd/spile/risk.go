package main

import (
	"spile/advice"
	"spile/note"
	"spile/risk"
	"spile/show"
)

type riskCommand struct {
	files
	money
	model
	asJSON
	Draws    int               `default:"20000" help:"States of the world drawn (default 20000)."`
	Seed     uint64            `default:"1" help:"The same seed draws the same states (default 1)."`
	Aversion float64           `default:"1" help:"Aversion to risk, per unit of money a tap; 0: none (default 1)."`
	As       map[string]string `placeholder:"KEY=KIND" help:"Draw an assumption as fixed, pert, uniform, normal or lognormal (default pert)."`
}

// Help teaches the command.
func (riskCommand) Help() string {
	return `Draws gains, prices, wages and work together, and says what each practice is likely to net over the long run and in
one single season, what the choice hangs on, and what it would be worth to know.

    spile risk evidence.csv prices.toml
    spile risk evidence.csv prices.toml --draws 1000000 --aversion 0.5
    spile risk evidence.csv prices.toml --as wage=uniform --json`
}

// Run does it.
func (c riskCommand) Run(o *out) error {
	in, err := c.priced(c.model, c.money)
	if err != nil {
		return err
	}
	w, err := o.answer(in, false)
	if err != nil {
		return err
	}
	if !(c.Aversion >= 0 && c.Aversion <= 100) {
		return misuse{note.New("--aversion %v; allowed: 0 to 100", c.Aversion)}
	}
	kinds := map[string]risk.Kind{}
	for k, x := range c.As {
		kinds[k] = risk.Kind(x)
	}
	r, err := w.A.Risk(advice.RiskOptions{Draws: c.Draws, Seed: c.Seed, Aversion: c.Aversion, Kinds: kinds})
	if err != nil {
		return err
	}
	h, err := r.Hangs()
	if err != nil {
		return err
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.RiskJSON(r, h))
	}
	return o.print(w, w.Outlook(r, false), w.Outlook(r, true), w.Swings(r, h), w.Breaks(r, h), w.Knowing(r, h))
}
