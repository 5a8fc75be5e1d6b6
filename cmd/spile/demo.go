package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"spile/demo"
	"spile/report"
)

type demoCommand struct {
	Dir   string `default:"spile-demo" placeholder:"DIR" help:"Folder to write into (default spile-demo)."`
	Serve bool   `help:"Then open the workbench on it."`
	Addr  string `default:"127.0.0.1:7345" placeholder:"HOST:PORT" help:"Where --serve listens (default 127.0.0.1:7345)."`
}

// Help teaches the command.
func (demoCommand) Help() string {
	return `Writes an invented evidence table and price file, runs the whole chain on them, prints the ranking, and writes
the report and every figure. Stations, studies and prices in it exist nowhere.

    spile demo
    spile demo --dir try --serve`
}

// Run does it.
func (c demoCommand) Run(o *out) error {
	if err := os.MkdirAll(c.Dir, 0o755); err != nil {
		return unwritten(c.Dir, err)
	}
	var data, written []string
	keep := func(name string, content []byte) error {
		path := filepath.Join(c.Dir, name)
		written = append(written, path)
		return o.write(path, content)
	}
	err := fs.WalkDir(demo.Files(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := fs.ReadFile(demo.Files(), name)
		if err != nil {
			return err
		}
		if !strings.HasPrefix(name, "sugarbush-") {
			data = append(data, filepath.Join(c.Dir, name))
		}
		return keep(name, content)
	})
	if err != nil {
		return err
	}
	defaults := model{Inference: "kr", Variance: "pooled", SiteEffect: true}
	in, err := files{data}.input(defaults, money{})
	if err != nil {
		return err
	}
	w, err := o.answer(in, false)
	if err != nil {
		return err
	}
	// The pictures need no more than that: they are drawn while the report asks what each study does to it.
	figures := report.Figures(w)
	drawn := make([]drawing, len(figures))
	var pens sync.WaitGroup
	for i, f := range figures {
		pens.Go(func() { drawn[i] = draw(f) })
	}
	thorough, err := o.answer(in, true)
	if err != nil {
		return err
	}
	page, err := report.HTML(thorough.A, o.voice, versionText())
	if err != nil {
		return err
	}
	if err := keep("report.html", page); err != nil {
		return err
	}
	pens.Wait()
	for i, f := range figures {
		if drawn[i].err != nil {
			return drawn[i].err
		}
		if err := keep(f.Name+".svg", drawn[i].svg); err != nil {
			return err
		}
		if err := keep(f.Name+".png", drawn[i].png); err != nil {
			return err
		}
	}
	if err := o.print(w, w.Recommendation(), w.Ranking()); err != nil {
		return err
	}
	v := o.voice
	fmt.Fprintf(o.stdout, "\n%s\n", v.Text("Wrote, from an invented scenario:"))
	for _, path := range written {
		fmt.Fprintf(o.stdout, "  %s\n", path)
	}
	if c.Serve {
		fmt.Fprintln(o.stdout)
		return o.serve(in, c.Addr)
	}
	fmt.Fprintf(o.stdout, "\n%s\n  %s\n", v.Text("To open the workbench on it:"), self()+" serve "+strings.Join(data, " "))
	return nil
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
	svg, png []byte
	err      error
}

func draw(f report.Figure) drawing {
	sheet := f.Draw(sizes["page"])
	picture, err := sheet.PNG(dpi)
	return drawing{sheet.SVGFile(), picture, err}
}
