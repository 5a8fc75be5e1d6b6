package main

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/sure"
	"spile/internal/note"
	"spile/internal/view/show"
)

type sureCommand struct {
	files
	money
	model
	asJSON
	Times    int               `default:"10000" help:"How many times all is drawn together (default 10000)."`
	Seed     uint64            `default:"1" help:"The same seed draws the same (default 1)."`
	Aversion float64           `default:"1" help:"Aversion to risk, per unit of money a tap; 0: none (default 1)."`
	Taps     float64           `default:"5000" help:"Taps of the sugarbush that the aversion is told for (default 5000)."`
	Two      bool              `help:"Also print the widest swings two at a time."`
	Map      string            `placeholder:"KEY,KEY"`
	Spread   map[string]string `placeholder:"KEY=SHAPE"`
	Together []string          `sep:"none" placeholder:"KEY,KEY=NUMBER"`
}

// Help teaches the command.
func (sureCommand) Help() string {
	return `Draws gains, prices, wages and work together, and says what each practice is likely to net over the long run and in
one single season, what the choice hangs on, and what it would be worth to know.

    spile sure evidence.csv prices.toml
    spile sure evidence.csv prices.toml --times 1000000 --aversion 0.5
    spile sure evidence.csv prices.toml --map wage,baseline.yield
    spile sure evidence.csv prices.toml --two --taps 12000
    spile sure evidence.csv prices.toml --spread wage=even --together "wage,sells.bulk.amber.price=0.4" --json

Shapes for --spread: "held" (at the best guess), "likely" (most often near the best guess, never beyond low and high),
"even" (all alike from low to high), "bell" (nine times in ten from low to high), "leaning" (as that, with more room upward).
--together is 1 where two always rise together, 0 where neither follows the other, −1 where one falls as the other
rises; those that are named must be able to hold together.`
}

// Run does it.
func (c sureCommand) Run(o *out) error {
	draw, across, down, err := c.asked()
	if err != nil {
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
	a, err := o.memo.Weigh(w.A, advice.WeighOptions{
		Outlook: true, Knowing: true, Across: across, Down: down,
		Draw: draw,
	})
	if err != nil {
		return ofCall(err)
	}
	w.A = a
	x := a.Weighed
	if x == nil {
		return note.Faults{note.New("nothing is recommended, so that nothing can be said of how sure it is")}
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.SureJSON(x.Prospect, x.Hangs, *x.Knowing, x.Contest))
	}
	return o.print(nil, tables(w, "sure", c.Two), w.A.Notes)
}

// The least draws that tell anything, and the most: their sums are still exact, and they end within minutes.
const (
	least = 100
	most  = 10_000_000
)

// asked is what the flags ask for, with every fault that needs no data to be seen.
func (c sureCommand) asked() (o advice.DrawOptions, across, down string, err error) {
	var faults note.Faults
	if c.Times < least || c.Times > most {
		faults.Add("--times %d; allowed: %d to %d", c.Times, least, most)
	}
	if !(c.Aversion >= 0 && c.Aversion <= 100) {
		faults.Add("--aversion %v; allowed: 0 to 100", c.Aversion)
	}
	if !(c.Taps > 0 && c.Taps <= 1e9) {
		faults.Add("--taps %v; allowed: above 0", c.Taps)
	}
	o = advice.DrawOptions{Draws: c.Times, Seed: c.Seed, Aversion: c.Aversion, Taps: c.Taps,
		Kinds: map[string]sure.Kind{}}
	for _, k := range slices.Sorted(maps.Keys(c.Spread)) {
		o.Kinds[k] = sure.Kind(c.Spread[k])
		if !slices.Contains(sure.Kinds(), o.Kinds[k]) {
			faults.Add("--spread %s=%s; allowed: %s", k, c.Spread[k], join(sure.Kinds()))
		}
	}
	var together, over note.Faults
	o.Correlations, together = c.correlations()
	across, down, over = pair("--map", c.Map)
	if faults = slices.Concat(faults, together, over); faults != nil {
		err = misuses{faults}
	}
	return o, across, down, err
}

// pair reads the assumptions of a map, "KEY,KEY"; "" names none.
func pair(flag, over string) (across, down string, f note.Faults) {
	if over == "" {
		return "", "", nil
	}
	across, down, ok := strings.Cut(over, ",")
	across, down = strings.TrimSpace(across), strings.TrimSpace(down)
	if !ok || across == "" || down == "" || across == down {
		f = note.Faults{note.New("%s %s; allowed: the keys of two assumptions, with a comma between", flag, over)}
	}
	return across, down, f
}

// correlations reads those of the call.
func (c sureCommand) correlations() (list []sure.Correlation, f note.Faults) {
	for _, text := range c.Together {
		pair, rank, ok1 := strings.Cut(text, "=")
		a, b, ok2 := strings.Cut(pair, ",")
		x, err := strconv.ParseFloat(strings.TrimSpace(rank), 64)
		if !ok1 || !ok2 || err != nil || !(x >= -1 && x <= 1) {
			f.Add("--together %s; allowed: two keys and a number from −1 to 1, as in "+
				"wage,discount=0.4", text)
		}
		list = append(list, sure.Correlation{A: strings.TrimSpace(a), B: strings.TrimSpace(b), Rank: x})
	}
	return list, f
}

// formerCommand is one that has another name now, whatever stands behind it.
type formerCommand struct {
	Words []string `arg:"" optional:"" name:"words"`
}

// Run says the name.
func (formerCommand) Run() error {
	return misuse{note.New("%s is called %s now", "spile risk", "spile sure")}
}
