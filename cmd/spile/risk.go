package main

import (
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/risk"
	"spile/internal/note"
	"spile/internal/view/show"
)

type riskCommand struct {
	files
	money
	model
	asJSON
	Draws     int               `default:"10000" help:"States of the world drawn (default 10000)."`
	Seed      uint64            `default:"1" help:"The same seed draws the same states (default 1)."`
	Aversion  float64           `default:"1" help:"Aversion to risk, per unit of money a tap; 0: none (default 1)."`
	Map       string            `placeholder:"KEY,KEY" help:"Which practice pays best over two assumptions, by their keys (default: those that the choice hangs on most)."`
	As        map[string]string `placeholder:"KEY=KIND" help:"Draw an assumption as fixed, pert, uniform, normal or lognormal (default pert)."`
	Correlate []string          `sep:"none" placeholder:"KEY,KEY=RANK" help:"Let two assumptions move together, by their rank correlation. Again for each pair."`
}

// Help teaches the command.
func (riskCommand) Help() string {
	return `Draws gains, prices, wages and work together, and says what each practice is likely to net over the long run and in
one single season, what the choice hangs on, and what it would be worth to know.

    spile risk evidence.csv prices.toml
    spile risk evidence.csv prices.toml --draws 1000000 --aversion 0.5
    spile risk evidence.csv prices.toml --map wage,baseline.yield
    spile risk evidence.csv prices.toml --as wage=uniform --correlate "wage,sells.bulk.amber.price=0.4" --json

A rank correlation (Spearman) between two assumptions is from −1 to 1; those named together must be able to hold together.`
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
	correlations, err := c.correlations()
	if err != nil {
		return err
	}
	across, down, err := pair("--map", c.Map)
	if err != nil {
		return err
	}
	a, err := o.memo.Weigh(w.A, advice.WeighOptions{
		Outlook: true, Knowing: true, Across: across, Down: down,
		Risk: advice.RiskOptions{Draws: c.Draws, Seed: c.Seed, Aversion: c.Aversion, Kinds: kinds, Correlations: correlations},
	})
	if err != nil {
		return err
	}
	w.A = a
	x := a.Weighed
	if x == nil {
		return note.Faults{note.New("nothing is recommended, so that nothing can be said of how sure it is")}
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.RiskJSON(x.Risk, x.Hangs, *x.Knowing, x.Contest))
	}
	parts := []any{w.Outlook(x.Risk, false), w.Outlook(x.Risk, true), w.Swings(x.Risk, x.Hangs), w.Breaks(x.Risk, x.Hangs)}
	if x.Contest != nil {
		parts = append(parts, w.ContestTable(x.Risk, *x.Contest))
	}
	return o.print(w, append(parts, w.Knowing(x.Risk, *x.Knowing))...)
}

// pair reads the assumptions of a map, "KEY,KEY"; "" names none.
func pair(flag, over string) (across, down string, err error) {
	if over == "" {
		return "", "", nil
	}
	across, down, ok := strings.Cut(over, ",")
	across, down = strings.TrimSpace(across), strings.TrimSpace(down)
	if !ok || across == "" || down == "" {
		return "", "", misuse{note.New("%s %s; allowed: the keys of two assumptions, with a comma between", flag, over)}
	}
	return across, down, nil
}

// correlations reads those of the call.
func (c riskCommand) correlations() ([]risk.Correlation, error) {
	var list []risk.Correlation
	for _, text := range c.Correlate {
		pair, rank, ok1 := strings.Cut(text, "=")
		a, b, ok2 := strings.Cut(pair, ",")
		x, err := strconv.ParseFloat(strings.TrimSpace(rank), 64)
		if !ok1 || !ok2 || err != nil {
			return nil, misuse{note.New("--correlate %s; allowed: two keys and a rank correlation, as in wage,discount=0.4", text)}
		}
		list = append(list, risk.Correlation{A: strings.TrimSpace(a), B: strings.TrimSpace(b), Rank: x})
	}
	return list, nil
}
