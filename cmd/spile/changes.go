package main

import (
	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/view/show"
)

type changesCommand struct {
	Workbook string `arg:"" name:"book" help:"The workbook (.spile), or its address."`
	Since    string `placeholder:"DAY|NUMBER"`
	asJSON
}

// Help teaches the command.
func (changesCommand) Help() string {
	return `What came into a workbook since a day or a change, and what each moved: gain, net and place of the practice that comes
first now. Each row is worked out by today's method on what the workbook held then.

    spile changes station.spile
    spile changes station.spile --since 2025-11-01
    spile changes station.spile --since 12 --json`
}

// Run does it.
func (c changesCommand) Run(o *out) error {
	if err := namesWorkbook(c.Workbook); err != nil {
		return err
	}
	since, in, err := o.since(c.Workbook, c.Since)
	if err != nil {
		return err
	}
	o.settle(in.Prices)
	w := show.Of(&advice.Advice{Input: in, Since: since, Recommended: -1}, o.voice)
	if c.JSON {
		return show.WriteJSON(o.stdout, w.ChangesJSON())
	}
	return o.print(w.Moved(), w.TablesAt("changes", show.Command), nil)
}

// since is how the answer of a workbook came to be what it is, since a day or a change; "": since the last winter.
func (o *out) since(path, from string) (*advice.Since, advice.Input, error) {
	b, err := book.Open(path)
	if err != nil {
		return nil, advice.Input{}, err
	}
	defer b.Close()
	change, err := b.Since(from)
	if err != nil {
		return nil, advice.Input{}, ofCall(err)
	}
	bar := o.bar(0, o.voice.Text("working out what each change moved"))
	defer bar.Finish()
	since, in := new(advice.Since), advice.Input{}
	for m, err := range b.Replay(change, book.Moments) {
		if err == nil {
			err = o.Err()
		}
		if err != nil {
			return nil, in, err
		}
		bar.ChangeMax(len(since.Steps) + 1 + m.Left)
		since.Steps = append(since.Steps, o.memo.Answer(advice.Step{Change: m.Last.ID, At: m.Last.At, Who: m.Who,
			Came: m.Came, Why: m.Why}, m.Input))
		in = advice.Usual(m.Input)
		bar.Add(1)
	}
	return since, in, nil
}
