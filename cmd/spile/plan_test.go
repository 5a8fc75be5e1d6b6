package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// One file at fault is told, with where and what, and the others are done; the exit code says that not all was.
func TestPlanAll(t *testing.T) {
	scenario(t)
	dir, into := t.TempDir(), filepath.Join(t.TempDir(), "sheets")
	demoFile(t, filepath.Join(dir, "sugarbush-gravity.toml"))
	text, err := os.ReadFile(filepath.Join(dir, "sugarbush-gravity.toml"))
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(dir, "other.toml"), string(text))
	put(t, filepath.Join(dir, "notes.txt"), "no sugarbush")
	all := func() (int, string, string) {
		return call("plan", "evidence.csv", "prices.toml", "--all", dir, "-o", into)
	}
	if code, stdout, stderr := all(); code != done || !strings.Contains(stdout, "2 plans") {
		t.Fatalf("code %d: %s%s", code, stdout, stderr)
	}
	for _, name := range []string{"sugarbush-gravity.pdf", "sugarbush-gravity.json", "other.pdf", "other.json"} {
		if info, err := os.Stat(filepath.Join(into, name)); err != nil || info.Size() < 1000 {
			t.Errorf("%s: %v", name, err)
		}
		os.Remove(filepath.Join(into, name))
	}
	put(t, filepath.Join(dir, "bad.toml"),
		"name = \"Bad\"\nfirst_season = 2026\n[section.a]\ntaps = \"many\"\npractice = \"new-spout\"\n")
	code, stdout, stderr := all()
	if code != faultyData || !strings.Contains(stdout, "2 plans") ||
		!strings.Contains(stderr, "bad.toml, row 4, key section.a.taps") ||
		!strings.Contains(stderr, "the other files were done") {
		t.Errorf("code %d: %s%s", code, stdout, stderr)
	}
	if _, err := os.Stat(filepath.Join(into, "other.pdf")); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(into, "bad.pdf")); err == nil {
		t.Error("a handout of a file at fault was written")
	}
}

// A sugarbush that a workbook holds is planned by its name, and as its file is; a changed price changes its plan.
func TestSugarbushInAWorkbook(t *testing.T) {
	long(t)
	dir, err := filepath.Abs("../../internal/demo")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	files := []string{filepath.Join(dir, "evidence.csv"), filepath.Join(dir, "prices.toml"),
		filepath.Join(dir, "sugarbush-organic.toml")}
	own, err := filepath.Abs("own.spile")
	if err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"new", own}, append([]string{"add", own, "--who", "Ada"}, files...)} {
		if code, stdout, stderr := call(args...); code != done {
			t.Fatalf("%v: %s%s", args, stdout, stderr)
		}
	}
	code, byName, stderr := call("plan", "own.spile", "--sugarbush", "Quillback Ridge", "--json")
	if code != done {
		t.Fatal(stderr)
	}
	code, byFile, stderr := call("plan", "own.spile", "--sugarbush", files[2], "--json")
	if code != done || byName != byFile {
		t.Errorf("the plan by name and by file differ: %s", stderr)
	}
	if code, stdout, stderr := call("handout", "own.spile", "Quillback Ridge", "-o", "sheet.html"); code != done ||
		!strings.Contains(stdout, "sheet.html") {
		t.Errorf("%s%s", stdout, stderr)
	}
	if code, _, stderr := call("plan", "own.spile", "--sugarbush", "Quilback"); code != faultyCall ||
		!strings.Contains(stderr, "Quillback Ridge") {
		t.Errorf("code %d: %s", code, stderr)
	}
	// Out and in again.
	if code, _, stderr := call("export", "own.spile", "-o", "out"); code != done {
		t.Fatal(stderr)
	}
	for _, args := range [][]string{{"new", "again.spile"}, {"add", "again.spile", "out"}} {
		if code, _, stderr := call(args...); code != done {
			t.Fatal(stderr)
		}
	}
	if _, again, stderr := call("plan", "again.spile", "--sugarbush", "Quillback Ridge", "--json"); again != byName {
		t.Errorf("the plan changed on its way through a data package: %s", stderr)
	}
}

// BenchmarkHandouts is plans and handouts for a folder of sugarbushes: `spile plan --all` over a hundred of them, told
// a thousand.
func BenchmarkHandouts(b *testing.B) {
	const many = 100
	bush, err := os.ReadFile("../../internal/demo/sugarbush-organic.toml")
	if err != nil {
		b.Fatal(err)
	}
	dir, into := b.TempDir(), b.TempDir()
	for i := range many {
		text := strings.Replace(string(bush), "wage = 22", fmt.Sprintf("wage = %d.%02d", 16+i%20, i), 1)
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("bush-%d.toml", i)), []byte(text), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		if code, _, stderr := call("plan", "../../internal/demo/evidence.csv", "../../internal/demo/prices.toml",
			"--all", dir, "-o", into); code != done {
			b.Fatal(stderr)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)*1000/many, "s/1000")
}
