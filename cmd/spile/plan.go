package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"sync"

	"spile/internal/engine/advice"
	"spile/internal/files/output"
	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/view/report"
	"spile/internal/view/show"
)

type planCommand struct {
	files
	money
	model
	asJSON
	Sugarbush string `xor:"what" placeholder:"BUSH"`
	All       string `xor:"what" placeholder:"DIR" help:"Plans and handouts for every sugarbush in a folder instead."`
	Output    string `short:"o" placeholder:"DIR" help:"Folder that --all writes into (default: the same)."`
}

// Help teaches the command.
func (planCommand) Help() string {
	return `Plans a sugarbush section by section and season by season: the highest discounted profit within the hours of
the crew and the cash of a season, what to buy, and how far it may fall short of the best.

    spile plan evidence.csv prices.toml bush.toml
    spile plan station.spile --sugarbush bush.csv --json
    spile plan station.spile --all bushes -o sheets

With --all each sugarbush gets a plan as JSON and a handout as PDF. A file at fault is told and does not stop the rest;
the exit code is then 1.`
}

// Run does it.
func (c planCommand) Run(o *out) error {
	c.public = c.All != "" // sheets to hand out
	in, err := c.priced(o, c.model, c.money)
	if err != nil {
		return err
	}
	if c.All != "" {
		return o.planAll(in, c.All, cmp.Or(c.Output, c.All))
	}
	w, err := o.planOf(in, c.Sugarbush)
	if err != nil {
		return err
	}
	if c.JSON {
		return show.WriteJSON(o.stdout, w.JSON())
	}
	if err := o.print(w.Answer(), tables(&show.View{V: w.V, Plan: &w}, "plan", false), nil); err != nil {
		return err
	}
	for _, s := range append(w.V.Notes(w.P.Cautions), w.Held()...) {
		fmt.Fprintln(o.stdout, show.Wrap("- ", s, show.Width))
	}
	o.warn(w.P.Notes)
	return nil
}

// planAll writes a plan and a handout for each sugarbush of a folder. What is wrong with one does not stop the others;
// the error is all of it.
func (o *out) planAll(in advice.Input, from, into string) error {
	entries, err := os.ReadDir(from)
	if errors.Is(err, fs.ErrNotExist) {
		return note.Faults{note.New("there is no such folder; allowed: one of sugarbushes").
			At(note.Where{File: from})}
	}
	if err != nil {
		return note.Faults{note.New("this folder could not be read: %s", err.Error()).At(note.Where{File: from})}
	}
	var paths []string
	taken := map[string]string{}
	var faults note.Faults
	for _, e := range entries {
		ext := strings.ToLower(filepath.Ext(e.Name()))
		if e.IsDir() || !slices.Contains([]string{".toml", ".csv", ".xlsx"}, ext) || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		stem := strings.TrimSuffix(e.Name(), filepath.Ext(e.Name()))
		if other, twice := taken[stem]; twice {
			faults = append(faults, note.New("%s has the same name but for its ending; allowed: one of the two", other).
				At(note.Where{File: filepath.Join(from, e.Name())}))
			continue
		}
		taken[stem] = e.Name()
		paths = append(paths, filepath.Join(from, e.Name()))
	}
	if len(paths) == 0 {
		return note.Faults{note.New("no sugarbush is in this folder; allowed: files that end in .toml, .csv or .xlsx").
			At(note.Where{File: from})}
	}
	// What is read of the folder is its sugarbushes: the sheets beside them are ours to renew.
	files := o.files
	others := slices.DeleteFunc(slices.Clone(files.Inputs), func(in string) bool { return in == from })
	files.Inputs = append(others, paths...)
	folder, err := files.Folder(into)
	if err != nil {
		return err
	}
	// each sheet leaves much behind that nobody needs, and little stays
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	bar := o.bar(len(paths), o.voice.Text("planning %d sugarbushes", len(paths)))
	wrong := make([]note.Faults, len(paths))
	next := make(chan int)
	var hands sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		hands.Go(func() {
			for i := range next {
				wrong[i] = o.planOne(in, paths[i], folder)
				bar.Add(1)
			}
		})
	}
	for i := range paths {
		if o.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	hands.Wait()
	bar.Finish()
	if err := o.Err(); err != nil {
		return err
	}
	if err := folder.Close(); err != nil {
		return err
	}
	made := 0
	for _, f := range wrong {
		if faults = append(faults, f...); f == nil {
			made++
		}
	}
	fmt.Fprintln(o.stdout, o.voice.Text("%s in %s", o.voice.Text("%d plans with their handouts", made), into))
	if faults != nil {
		return notAll{faults}
	}
	return nil
}

// planOne writes the plan and the handout of one file.
func (o *out) planOne(in advice.Input, path string, into *output.Folder) note.Faults {
	fault := func(err error) note.Faults {
		var f note.Faults
		if errors.As(err, &f) {
			return f
		}
		var asked doubt.Questions
		if errors.As(err, &asked) {
			for _, q := range asked {
				f.Add("%s If it is so: %s", o.voice.Note(q.Note), "--accept "+q.ID)
			}
			return f
		}
		return note.Faults{note.New("%s", err.Error()).At(note.Where{File: path})}
	}
	b, err := o.bushFile(in, path)
	if err != nil {
		return fault(err)
	}
	w, err := o.planned(in, b)
	if err != nil {
		return fault(err)
	}
	stem := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	pdf, err := report.Handout(w, versionText())
	if err != nil {
		return fault(err)
	}
	var plan strings.Builder
	if err := show.WriteJSON(&plan, w.JSON()); err != nil {
		return fault(err)
	}
	if err := into.Write(stem+".pdf", pdf); err != nil {
		return fault(err)
	}
	if err := into.Write(stem+".json", []byte(plan.String())); err != nil {
		return fault(err)
	}
	return nil
}

// notAll is the error of files at fault among others that were done.
type notAll struct{ error }

func (e notAll) Unwrap() error { return e.error }
