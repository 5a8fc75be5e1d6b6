package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Nothing that the user has is written over, whichever command would.
func TestNothingIsWrittenOver(t *testing.T) {
	long(t)
	scenario(t)
	table, prices, farms := mustAbs(t, "evidence.csv"), mustAbs(t, "prices.toml"), mustAbs(t, "farms")
	if err := os.Mkdir(farms, 0o755); err != nil {
		t.Fatal(err)
	}
	demoFile(t, "farms/sugarbush-gravity.toml")
	own := "mine, and nobody else's\n"
	design := []string{"trial", "design", "unsanitized", "check-valve", "--first", "2025", "--seed", "3", "-o"}
	for name, c := range map[string]struct {
		file string // what stands there
		call []string
	}{
		"the demo's evidence":     {"evidence.csv", []string{"demo", "--dir", "."}},
		"the demo's prices":       {"prices.toml", []string{"demo", "--dir", "."}},
		"a layout":                {"evidence.csv", append(design, "evidence.csv")},
		"prices":                  {"prices.toml", []string{"export", table, prices, "-o", "prices.toml"}},
		"evidence":                {"own.csv", []string{"export", table, "-o", "own.csv"}},
		"a table of a folder":     {"out/evidence.csv", []string{"export", table, "-o", "out"}},
		"what describes a folder": {"out/datapackage.json", []string{"export", table, "-o", "out"}},
		"sources":                 {"own.bib", []string{"export", table, "-o", "own.bib"}},
		"a spreadsheet":           {"own.xlsx", []string{"export", table, "-o", "own.xlsx"}},
		"a report":                {"own.html", []string{"report", table, prices, "-o", "own.html"}},
		"a talk":                  {"own.pdf", []string{"report", "--slides", table, prices, "-o", "own.pdf"}},
		"a figure":                {"own.svg", []string{"figure", "bars", table, "-o", "own.svg"}},
		"a figure beside a table": {"own.png",
			[]string{"trial", "power", "--practices", "2", "--cv", "8", "--gain", "20", "--figure", "own.png"}},
		"a handout": {"own.pdf",
			[]string{"handout", table, prices, filepath.Join(farms, "sugarbush-gravity.toml"), "-o", "own.pdf"}},
		"a plan among many": {"out/sugarbush-gravity.json",
			[]string{"plan", table, prices, "--all", farms, "-o", "out"}},
		"a handout among many": {"out/sugarbush-gravity.pdf",
			[]string{"plan", table, prices, "--all", farms, "-o", "out"}},
		"a name that is no folder": {"", []string{"export", table, "-o", "out.doc"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			if c.file != "" {
				if err := os.MkdirAll(filepath.Dir(c.file), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(c.file, []byte(own), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			code, _, stderr := call(c.call...)
			if c.file == "" {
				if _, err := os.Stat(c.call[len(c.call)-1]); code != faultyCall || err == nil {
					t.Errorf("code %d, %v: %s", code, err, stderr)
				}
				return
			}
			have, err := os.ReadFile(c.file)
			if code != faultyData || err != nil || string(have) != own ||
				!strings.Contains(stderr, filepath.Base(c.file)) {
				t.Errorf("code %d; the file holds %q (%v): %s", code, have, err, stderr)
			}
		})
	}
}

// An input of the call stays as it is, also where it is a file of ours.
func TestInputsStay(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("evidence.csv", []byte(small), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, out := range []string{"p", "p.zip", "p.xlsx"} {
		if code, _, stderr := call("export", "evidence.csv", "-o", out); code != done {
			t.Fatalf("%s: %s", out, stderr)
		}
		if code, _, stderr := call("export", "evidence.csv", "-o", out); code != done {
			t.Errorf("%s again, unchanged: %s", out, stderr)
		}
		if code, _, stderr := call("export", out, "-o", out); code != faultyCall ||
			!strings.Contains(stderr, "this call reads") {
			t.Errorf("%s over itself: code %d: %s", out, code, stderr)
		}
		if code, _, stderr := call("export", out, "-o", out, "--force"); code != done {
			t.Errorf("%s over itself, asked for: %s", out, stderr)
		}
	}
}

// small is a table of two studies.
const small = `study,site,season,practice,unit,mean,mean_unit,n,sd,source
Fern Gate 2021,Fern Gate,2021,unsanitized,chamber,15.2,gal,6,2.1,own trial
Fern Gate 2021,Fern Gate,2021,new-spout,chamber,18.1,gal,6,2.6,own trial
Low Bridge 2022,Low Bridge,2022,unsanitized,tree,9.8,gal,24,3.7,own trial
Low Bridge 2022,Low Bridge,2022,new-spout,tree,12.1,gal,24,4.4,own trial
`

// Plans beside their sugarbushes are renewed, but for a sheet that was changed; no sugarbush is written over.
func TestPlansAreRenewed(t *testing.T) {
	long(t)
	scenario(t)
	if err := os.Mkdir("b", 0o755); err != nil {
		t.Fatal(err)
	}
	demoFile(t, "b/sugarbush-gravity.toml")
	bush, err := os.ReadFile("b/sugarbush-gravity.toml")
	if err != nil {
		t.Fatal(err)
	}
	plan := func() (int, string) {
		code, _, stderr := call("plan", "evidence.csv", "prices.toml", "--all", "b")
		return code, stderr
	}
	for range 2 {
		if code, stderr := plan(); code != done {
			t.Fatalf("code %d: %s", code, stderr)
		}
	}
	put(t, "b/sugarbush-gravity.json", "{}")
	if code, stderr := plan(); code != faultyData || !strings.Contains(stderr, "sugarbush-gravity.json") {
		t.Errorf("a changed plan: code %d: %s", code, stderr)
	}
	if have, err := os.ReadFile("b/sugarbush-gravity.toml"); err != nil || string(have) != string(bush) {
		t.Errorf("the sugarbush was changed: %v", err)
	}
}

// A sugarbush stands beside a workbook as it does beside files: the plan is the same.
func TestASugarbushBesideAWorkbook(t *testing.T) {
	long(t)
	scenario(t)
	demoFile(t, "sugarbush-gravity.toml")
	for _, args := range [][]string{{"new", "w.spile"}, {"add", "w.spile", "evidence.csv", "prices.toml"}} {
		if code, _, stderr := call(args...); code != done {
			t.Fatalf("code %d: %s", code, stderr)
		}
	}
	_, want, _ := call("plan", "evidence.csv", "prices.toml", "sugarbush-gravity.toml")
	code, got, stderr := call("plan", "w.spile", "sugarbush-gravity.toml")
	if code != done || got != want || got == "" {
		t.Errorf("code %d: %.300s%s", code, got, stderr)
	}
}

// Nothing in a file turns a terminal: control characters and marks of direction are shown, and JSON means the same.
func TestTerminalIsNotTurned(t *testing.T) {
	scenario(t)
	put(t, "x.csv", strings.ReplaceAll(studies(), "Hill,Hill", "Hi\x1b[31mll\u202e\u2066x\u0085,Hill"))
	for _, args := range [][]string{{"gains", "x.csv"}, {"gains", "x.csv", "--json"}, {"gains", "x\u202e.csv"},
		{"gains", "x.csv", "--exclude", "\x1b[2J"}} {
		_, stdout, stderr := call(args...)
		if i := strings.IndexFunc(stdout+stderr, hidden); i >= 0 {
			t.Errorf("%q: %q", args, (stdout + stderr)[i:min(i+20, len(stdout+stderr))])
		}
	}
	_, stdout, _ := call("gains", "x.csv", "--json")
	var j struct{ Weights []struct{ Study string } }
	const name = "Hi\x1b[31mll\u202e\u2066x" // the next line, at its end, is white space
	if err := json.Unmarshal([]byte(stdout), &j); err != nil || len(j.Weights) == 0 || j.Weights[0].Study != name {
		t.Errorf("%v: %+v", err, j.Weights)
	}
}
