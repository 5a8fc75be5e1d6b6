package main

import (
	"cmp"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/files/output"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/trial"
	"spile/internal/view/figure"
	"spile/internal/view/publish"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

type publishCommand struct {
	files
	Output  string   `short:"o" required:"" placeholder:"FILE.html|DIR/" help:"File to write, or a folder for a web host."`
	By      string   `placeholder:"TEXT" help:"Who publishes it: a line of its head, and how it is cited."`
	Licence string   `placeholder:"TEXT" help:"Under which licence the data may be used, such as CC BY 4.0."`
	Trial   []string `placeholder:"NAME" help:"A trial to publish beside those that are released; a folder holds its readings too."`
	money
	model
}

// Help teaches the command.
func (publishCommand) Help() string {
	return `One HTML file for every producer: what we advise, and a form for a reader's own numbers, which are worked out on
the reader's own device and sent nowhere. It opens from a web host, a mail or a stick, without a network. Studies and
readings are not in it, but for what its tables show; several languages stand in one file.

    spile publish station.spile -o ranking.html --lang en,fr
    spile publish evidence.csv prices.toml -o ranking.html --by "Fern Gate station" --licence "CC BY 4.0"

A folder holds the same page in parts for a web host, index.html with its engine and evidence beside it, and the data
package, the report, the figures and CITATION.cff. Sugarbushes and past seasons of a workbook are not in it.

    spile publish station.spile -o site/ --by "Fern Gate station" --licence "CC BY 4.0"`
}

// Run does it.
func (c publishCommand) Run(o *out) error {
	folder := output.IsFolder(c.Output)
	switch ext := strings.ToLower(filepath.Ext(c.Output)); {
	case folder && c.By == "":
		return misuse{note.New("-o %s without --by; allowed: with who publishes it, by which it is cited", c.Output)}
	case !folder && ext != ".html" && ext != ".htm":
		return misuse{note.New("-o %s: allowed: a folder, or a name that ends in .html", c.Output)}
	}
	c.public = true
	in, err := c.priced(o, c.model, c.money)
	if err != nil {
		return err
	}
	if in.Trials, err = released(in.Trials, append(in.Released, c.Trial...)); err != nil {
		return err
	}
	w, err := o.whole(in)
	if err != nil {
		return err
	}
	how := publish.Options{By: c.By, Licence: c.Licence}
	if folder {
		_, err = o.folder(func() ([]sheet.File, error) { return o.site(w.A, how) }, c.Output)
	} else {
		var page []byte
		if page, err = o.page(w.A, how); err == nil {
			err = o.files.File(c.Output, page)
		}
	}
	if err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("wrote %s", c.Output))
	if c.Licence == "" {
		fmt.Fprintln(o.stdout, o.voice.Text("It states no licence of the data: --licence says one."))
	}
	o.warn(w.A.Notes)
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

// page is the page of an answer with what each option is likely to net, as one file.
func (o *out) page(a *advice.Advice, how publish.Options) ([]byte, error) {
	z, err := o.memo.Freeze(a)
	if err != nil {
		return nil, err
	}
	return publish.File(a, z, o.told(how))
}

// told is how a page is published, in every language that the call names.
func (o *out) told(how publish.Options) publish.Options {
	how.Version = versionText()
	if how.Langs = o.langs; how.Langs == nil {
		how.Langs = say.Languages()
	}
	return how
}

// site is the files of a page for a web host: its parts, the data package, and the report and figures in each language.
func (o *out) site(a *advice.Advice, how publish.Options) (files []sheet.File, err error) {
	how = o.told(how)
	shared := a.Input.Input
	shared.Bushes, shared.Past = nil, nil // those of producers are theirs
	if shared.Prices = shared.Prices.Clone(); shared.Prices != nil {
		shared.Prices.Text = "" // with whatever its writer noted for himself
	}
	shared.Studies = slices.Clone(shared.Studies)
	for i := range shared.Studies {
		shared.Studies[i].Typed = nil // the tables they came from may say more
	}
	data, err := sheet.Package{Input: shared, License: cmp.Or(publish.Licence(how.Licence), how.Licence)}.Files()
	if err != nil {
		return nil, err
	}
	for _, f := range data {
		files = append(files, sheet.File{Name: "data/" + f.Name, Data: f.Data})
	}
	how.Beside = []publish.Beside{{Name: "the data", Path: "data/datapackage.json"}, {Name: "how to cite it",
		Path: "CITATION.cff"}}
	for _, lang := range how.Langs {
		v := say.In(lang).With(o.voice.Units())
		page, err := report.HTML(a, v, how.Version)
		if err != nil {
			return nil, err
		}
		name := "report-" + v.Language() + ".html"
		files = append(files, sheet.File{Name: name, Data: page})
		how.Beside = append(how.Beside, publish.Beside{Lang: v.Language(), Name: "the report", Path: name})
		w := show.Of(a, v)
		for _, x := range show.Figures {
			for _, name := range x.Names(w) {
				if f, ok := w.Figure(name); ok {
					path := "figures/" + v.Language() + "/" + name + ".svg"
					files = append(files, sheet.File{Name: path, Data: f.Draw(figure.Page).SVGFile()})
				}
			}
		}
	}
	z, err := o.memo.Freeze(a)
	if err != nil {
		return nil, err
	}
	parts, err := publish.Folder(a, z, how)
	for _, name := range slices.Sorted(maps.Keys(parts)) {
		files = append(files, sheet.File{Name: name, Data: parts[name]})
	}
	return files, err
}
