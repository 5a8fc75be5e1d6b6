package main

import (
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"spile/internal/view/figure"
	"spile/internal/view/say"
	"spile/internal/view/show"
	"spile/internal/view/web"
)

// stranger declares a figure and a table in one place, for the length of the test, and counts how often each is built.
func stranger(t *testing.T) (drawn, filled *int) {
	figures, tables := show.Figures, show.Tables
	t.Cleanup(func() { show.Figures, show.Tables = figures, tables })
	drawn, filled = new(int), new(int)
	show.Figures = append(slices.Clip(figures), show.Exhibit[show.Drawing]{
		Key: "made-up", Help: "what a stranger made up", Needs: show.Studies,
		At: []show.Spot{{Medium: show.Page, In: "gains"}, {Medium: show.Report, In: "gains"},
			{Medium: show.Talk, In: "evidence"}},
		Build: func(w *show.View) show.Drawing {
			*drawn++
			return figure.Bars{Words: figure.Words{Title: "A figure made up"}, Axis: "percent"}
		},
	})
	show.Tables = append(slices.Clip(tables), show.Exhibit[show.Table]{
		Key: "made-up", Help: "what a stranger counted", Needs: show.Studies,
		At: []show.Spot{{Medium: show.Page, In: "gains", Beside: "made-up"}, {Medium: show.Report, In: "gains",
			Beside: "made-up"},
			{Medium: show.Talk, In: "evidence"}, {Medium: show.More, In: "gains"}},
		Build: func(w *show.View) show.Table {
			*filled++
			return show.Table{ID: "made-up", Title: "A table made up",
				Columns: []show.Column{{ID: "n", Name: "number"}},
				Rows:    []show.Row{{ID: "one", Cells: []show.Cell{{Text: "forty-two"}}}}}
		},
	})
	return drawn, filled
}

// What a stranger declares reaches the command and its help, completion, page, addresses, report and talk, and the demo
// (TestDemo). (What words they have is asked for in French: see the tests of say.)
func TestAStrangersFigure(t *testing.T) {
	long(t)
	scenario(t)
	drawn, filled := stranger(t)
	holds := func(where, text string, want ...string) {
		t.Helper()
		for _, x := range want {
			if !strings.Contains(text, x) {
				t.Errorf("%s: %q is lacking in\n%.400s", where, x, text)
			}
		}
	}
	file := func(name string) string {
		t.Helper()
		data, err := os.ReadFile(name)
		if err != nil {
			t.Error(err)
		}
		return string(data)
	}
	spile := func(args ...string) string {
		t.Helper()
		code, out, errs := call(args...)
		if code != done {
			t.Errorf("spile %s: exit code %d: %s", args, code, errs)
		}
		return out
	}

	spile("figure", "made-up", "-o", "made-up.svg", "evidence.csv")
	holds("the command", file("made-up.svg"), "A figure made up")
	if *drawn != 1 || *filled != 0 {
		t.Errorf("for one figure %d figures and %d tables were built", *drawn, *filled)
	}
	holds("its help", spile("figure", "--help"), "made-up", "what a stranger made up")
	holds("the help of the table's command", spile("gains", "--help"), "what a stranger counted")
	for _, shell := range []string{"bash", "zsh", "fish"} {
		holds(shell, spile("completion", shell), "made-up")
	}
	if out := spile("gains", "evidence.csv"); strings.Contains(out, "forty-two") {
		t.Error("a table for the statistician is printed unasked")
	}
	holds("the command", spile("gains", "evidence.csv", "--thorough"), "A table made up", "forty-two")
	spile("report", "-o", "report.html", "evidence.csv")
	holds("the report", file("report.html"), `<figure id="figure-made-up">`, "A figure made up", "A table made up",
		"forty-two")

	in, err := new(out).read([]string{"evidence.csv", "prices.toml"}, false)
	if err != nil {
		t.Fatal(err)
	}
	bench, err := web.New(web.Config{Input: in, Voice: say.In("en"), Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	get := func(address string) string {
		t.Helper()
		r, w := httptest.NewRequest("GET", address, nil), httptest.NewRecorder()
		r.Host = "localhost"
		if bench.ServeHTTP(w, r); w.Code != 200 {
			t.Errorf("%s: %d", address, w.Code)
		}
		return w.Body.String()
	}
	holds("the page", get("/gains"), "A figure made up", "/figure/made-up.svg", "A table made up", "/table/made-up.csv")
	*drawn, *filled = 0, 0
	holds("its address", get("/figure/made-up.svg"), "A figure made up")
	holds("its address", get("/table/made-up.csv"), "n\nforty-two\n")
	get("/figure/bars.svg")
	if get("/table/gains.csv"); *drawn != 1 || *filled != 1 {
		t.Errorf("for one address each, %d figures and %d tables were built", *drawn, *filled)
	}

	spile("report", "--slides", "-o", "talk.pdf", "evidence.csv")
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("NOT RUN on slides: no pdftotext")
	}
	text, err := exec.Command("pdftotext", "talk.pdf", "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	holds("the talk", strings.ReplaceAll(string(text), "’", "'"), "A figure made up", "A table made up", "forty-two")
}
