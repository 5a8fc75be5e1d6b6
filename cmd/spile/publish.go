package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/trade/trial"
	"spile/internal/view/publish"
	"spile/internal/view/say"
)

type publishCommand struct {
	files
	Output  string   `short:"o" required:"" placeholder:"FILE.html" help:"File to write."`
	By      string   `placeholder:"TEXT" help:"Who publishes it: a line of its head, and how it is cited."`
	Licence string   `placeholder:"TEXT" help:"Under which licence the data may be used, such as CC BY 4.0."`
	Trial   []string `placeholder:"NAME" help:"A trial of your own that may be published; without, none is but what its station has released."`
	money
	model
}

// Help teaches the command.
func (publishCommand) Help() string {
	return `One HTML file for every producer: what we advise, and a form for a reader's own numbers, which are worked out on
the reader's own device and sent nowhere. It opens from a web host, a mail or a stick, without a network. Studies and
readings are not in it, but for what its tables show; several languages stand in one file.

    spile publish station.spile -o ranking.html --lang en,fr
    spile publish evidence.csv prices.toml -o ranking.html --by "Fern Gate station" --licence "CC BY 4.0"`
}

// Run does it.
func (c publishCommand) Run(o *out) error {
	if ext := strings.ToLower(filepath.Ext(c.Output)); ext != ".html" && ext != ".htm" {
		return misuse{note.New("-o %s: allowed: a name that ends in .html", c.Output)}
	}
	c.public = true
	in, err := c.priced(o, c.model, c.money)
	if err != nil {
		return err
	}
	if in.Trials, err = released(in.Trials, append(in.Released, c.Trial...)); err != nil {
		return err
	}
	page, w, err := o.published(in, publish.Options{By: c.By, Licence: c.Licence})
	if err != nil {
		return err
	}
	if err := o.files.File(c.Output, page); err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	if c.Licence == "" {
		fmt.Fprintln(o.stdout, o.voice.Text("It states no licence of the data: --licence says one."))
	}
	o.warn(w)
	return nil
}

// released are the trials that may be published.
func released(all []trial.Trial, names []string) (list []trial.Trial, err error) {
	var have []string
	for _, t := range all {
		if have = append(have, t.Name); slices.Contains(names, t.Name) {
			list = append(list, t)
		}
	}
	for _, name := range names {
		if !slices.Contains(have, name) {
			return nil, misuse{note.New("--trial: there is no trial %s; allowed: %s", note.Quote(name),
				strings.Join(have, ", "))}
		}
	}
	return list, nil
}

// published is the page of an answer, in every language that the call names, and the answer's warnings.
func (o *out) published(in advice.Input, how publish.Options) ([]byte, note.List, error) {
	a, err := o.memo.Of(in)
	if err != nil {
		return nil, nil, err
	}
	if a, err = o.memo.Thorough(a); err != nil {
		return nil, nil, err
	}
	if a, err = o.memo.Weigh(a, advice.WeighOptions{Outlook: true}); err != nil {
		return nil, nil, err
	}
	page, err := o.page(a, how)
	return page, a.Notes, err
}

// page is the page of an answer with what each option is likely to net.
func (o *out) page(a *advice.Advice, how publish.Options) ([]byte, error) {
	z, err := o.memo.Freeze(a)
	if err != nil {
		return nil, err
	}
	how.Version = versionText()
	if how.Langs = o.langs; how.Langs == nil {
		how.Langs = say.Languages()
	}
	return publish.File(a, z, how)
}
