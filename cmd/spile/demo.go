package main

import (
	"cmp"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"spile/internal/demo"
	"spile/internal/engine/advice"
	"spile/internal/engine/compare"
	"spile/internal/files/book"
	"spile/internal/files/output"
	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/view/figure"
	"spile/internal/view/publish"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

type demoCommand struct {
	Dir   string `default:"spile-demo" placeholder:"DIR" help:"Folder to write into (default spile-demo)."`
	Serve bool   `help:"Then open the workbench on it."`
	Addr  string `default:"127.0.0.1:7345" placeholder:"HOST:PORT"`
}

// Help teaches the command.
func (demoCommand) Help() string {
	return `Writes an invented evidence table and price file, runs the whole chain on them, prints the ranking, and writes
the report, a page for all producers, every figure and the sheets of three. Stations, studies and prices in it exist nowhere.

    spile demo
    spile demo --dir try --serve`
}

// Run does it.
func (c demoCommand) Run(o *out) error {
	if err := ownAddress("--addr", c.Addr); err != nil {
		return err
	}
	folder, err := o.files.Folder(c.Dir)
	if err != nil {
		return err
	}
	if err := folder.Try(c.unchanged(folder)...); err != nil {
		return err
	}
	kept := &scene{dir: c.Dir, folder: folder, force: o.files.Force}
	in, err := kept.scenario(o)
	if err != nil {
		return err
	}
	bookName, err := c.keepBook(o, in)
	if err != nil {
		return err
	}
	kept.written = append(kept.written, bookName)
	w, err := o.answer(in, false)
	if err != nil {
		return err
	}
	own := in.Trials[0]
	said, err := c.trial(o, own, in.Practices, w)
	if err != nil {
		return err
	}
	if err := kept.pictures(o, in, w); err != nil {
		return err
	}
	if err := folder.Close(); err != nil {
		return err
	}
	if err := o.print(w.Recommendation(), []show.Table{w.Ranking()}, w.A.Notes); err != nil {
		return err
	}
	fmt.Fprintf(o.stdout, "\n%s\n\n",
		show.Wrap("", o.voice.Text("A trial of the scenario, %s: it is pooled with the studies above, and a "+
			"corrected reading moves them.", own.Name), show.Width))
	if err := o.print(nil, said, nil); err != nil {
		return err
	}
	kept.tell(o)
	if c.Serve {
		fmt.Fprintln(o.stdout)
		return o.serve(in, c.Addr)
	}
	fmt.Fprintf(o.stdout, "\n%s\n  %s\n", o.voice.Text("To open the workbench on it:"), self()+" serve "+bookName)
	return nil
}

// scene is the demo's folder while it is written.
type scene struct {
	dir              string
	folder           *output.Folder
	force            bool
	written, changed []string // paths: what was written, and what the user changed since, which is kept
}

// keep writes a file, unless the user has changed it.
func (s *scene) keep(name string, content []byte) error {
	path := filepath.Join(s.dir, name)
	if s.folder.Changed(name) && !s.force {
		s.changed = append(s.changed, path)
		return nil
	}
	s.written = append(s.written, path)
	return s.folder.Write(name, content)
}

// scenario writes the files that a user would, and reads them; its one trial is of their readings.
func (s *scene) scenario(o *out) (in advice.Input, err error) {
	var data, readings []string
	err = fs.WalkDir(demo.Files(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := fs.ReadFile(demo.Files(), name)
		if err != nil {
			return err
		}
		if path := filepath.Join(s.dir, name); strings.HasPrefix(name, "trial/") {
			readings = append(readings, path)
		} else {
			data = append(data, path)
		}
		return s.keep(name, content)
	})
	if err != nil {
		return in, err
	}
	if in, err = (files{Files: data}).input(o, usualModel, money{}); err != nil {
		return in, err
	}
	own, notes, err := sheet.Trial(trial.Trial{}, in.Practices, nil, readings...)
	in.Trials, in.Notes = append(in.Trials, own), append(in.Notes, notes...)
	return in, err
}

// pictures writes the report, the page for all producers, the sheets and every figure. The figures that need no more
// than w are drawn while the report asks what each study does to it.
func (s *scene) pictures(o *out, in advice.Input, w *show.View) error {
	var drawn []*drawing
	var pens sync.WaitGroup
	begun := map[string]bool{}
	start := func(w *show.View) {
		for _, x := range show.Figures {
			for _, name := range x.Names(w) {
				if f, ok := w.Figure(name); ok && !begun[name] {
					d := &drawing{name: name}
					begun[name], drawn = true, append(drawn, d)
					pens.Go(func() { d.draw(f) })
				}
			}
		}
	}
	sheets := make([]struct {
		pdf []byte
		err error
	}, len(in.Bushes))
	before := *o // an answer settles the voice of its own
	for i, d := range in.Bushes {
		pens.Go(func() { sheets[i].pdf, sheets[i].err = before.demoHandout(in, d) })
	}
	start(w)
	whole, err := o.asked(in, show.Whole&^(show.Checked|show.Explained)) // which take the longest
	if err != nil {
		return err
	}
	start(whole)
	page, err := report.HTML(whole.A, o.voice, versionText())
	if err != nil {
		return err
	}
	if err := s.keep("report.html", page); err != nil {
		return err
	}
	// Its trial is invented as all else is, so that it may be published.
	if page, err = o.page(whole.A, publish.Options{}); err != nil {
		return err
	}
	if err := s.keep("ranking.html", page); err != nil {
		return err
	}
	pens.Wait()
	for i, x := range sheets {
		name := strings.TrimPrefix(stem(in.Bushes[i].Where.File), "sugarbush-")
		if x.err != nil {
			return x.err
		}
		if err := s.keep("handout-"+name+".pdf", x.pdf); err != nil {
			return err
		}
	}
	for _, d := range drawn {
		if d.err != nil {
			return d.err
		}
		if err := cmp.Or(s.keep(d.name+".svg", d.svg), s.keep(d.name+".png", d.png)); err != nil {
			return err
		}
	}
	return nil
}

// tell lists what was written and what was kept.
func (s *scene) tell(o *out) {
	for _, x := range []struct {
		title string
		paths []string
	}{
		{o.voice.Text("Wrote, from an invented scenario:"), s.written},
		{o.voice.Text("Kept as you changed them, and read where they are data:"), s.changed},
	} {
		if x.paths == nil {
			continue
		}
		fmt.Fprintf(o.stdout, "\n%s\n", x.title)
		for _, path := range x.paths {
			fmt.Fprintf(o.stdout, "  %s\n", path)
		}
	}
}

// unchanged is the scenario's files but for those that were changed since they were written.
func (c demoCommand) unchanged(folder *output.Folder) (names []string) {
	fs.WalkDir(demo.Files(), ".", func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !folder.Changed(name) {
			names = append(names, name)
		}
		return err
	})
	return names
}

// keepBook keeps all that the scenario says in a workbook, unless one is there, which may hold the user's own changes.
func (c demoCommand) keepBook(o *out, in advice.Input) (string, error) {
	name := filepath.Join(c.Dir, "demo.spile")
	b, err := book.Create(name)
	if err != nil {
		if _, there := os.Stat(name); there == nil {
			return name, nil
		}
		return name, err
	}
	defer b.Close()
	at, err := now()
	if err != nil {
		return name, err
	}
	_, err = b.Save(book.Edit{At: at, Who: "spile demo", What: o.voice.Text("the invented scenario")},
		book.Items(in.Input)...)
	return name, err
}

// trial is what the scenario's trial says; its figures stand in the view then.
func (c demoCommand) trial(o *out, t trial.Trial, set practice.Set, w *show.View) (said []show.Table, err error) {
	v := o.voice
	a, summed, err := compare.Trial(t, set)
	if err != nil {
		return nil, err
	}
	w.Trial = &show.TrialView{A: a, V: v, Set: set, VolumeUnit: show.VolumeUnit(v)}
	w.Seasons = show.SeasonViews(t, summed, v, set)
	said = []show.Table{w.Trial.Gains()}
	for _, s := range w.Seasons {
		said = append(said, s.Findings())
	}
	return said, nil
}

// demoHandout is a producer's sheet, in Québec in French.
func (o *out) demoHandout(in advice.Input, d bush.Draft) ([]byte, error) {
	b, err := sheet.SugarbushFrom(d, in.Prices, in.Practices)
	if err != nil {
		return nil, err
	}
	at := *o
	if b.Prices.Place == "CA-QC" {
		at.voice = say.In("fr-CA")
	}
	w, err := at.planned(in, b)
	if err != nil {
		return nil, err
	}
	return report.Handout(w, versionText())
}

// stem is the name of a file without its folder and ending.
func stem(path string) string {
	return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
}

// self is how whoever runs this called it, to be called again; `go run` builds into a folder that is gone afterwards.
func self() string {
	if path, err := os.Executable(); err == nil && strings.Contains(filepath.ToSlash(path), "/go-build") {
		return "go run ./cmd/spile"
	}
	return os.Args[0]
}

// drawing is a figure for the page, as both kinds of file.
type drawing struct {
	name     string
	svg, png []byte
	err      error
}

// draw draws for a screen; `spile figure` draws as finely as print asks.
func (d *drawing) draw(f show.Drawn) {
	const screen = 200 // dots an inch
	sheet := f.Draw(figure.Page)
	d.svg = sheet.SVGFile()
	d.png, d.err = sheet.PNG(screen)
}
