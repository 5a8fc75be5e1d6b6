package main

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/trade/input"
)

// wrote asserts the exit code, and that what was said holds some words.
func wrote(t *testing.T, want int, words string, args ...string) string {
	t.Helper()
	code, stdout, stderr := call(args...)
	if code != want || !strings.Contains(stdout+stderr, words) {
		t.Errorf("spile %s: exit code %d, wanted %d and %q\n%s%s", strings.Join(args, " "), code, want, words,
			stdout, stderr)
	}
	return stdout
}

// From an empty workbook to the same answers as from files.
func TestWorkbook(t *testing.T) {
	long(t)
	scenario(t)
	t.Setenv("SOURCE_DATE_EPOCH", "1772000000")
	wrote(t, done, "empty workbook", "new", "w.spile")
	wrote(t, faultyData, "already", "new", "w.spile")
	wrote(t, faultyCall, "ends in .spile", "new", "w.db")
	wrote(t, faultyData, "holds no study", "gains", "w.spile")
	wrote(t, done, "change 1 of w.spile, by Ada", "add", "w.spile", "evidence.csv", "prices.toml", "--who", "Ada")
	wrote(t, done, "nothing was added", "add", "w.spile", "evidence.csv", "prices.toml")
	wrote(t, done, "sound: 1 change", "check", "w.spile")

	for _, args := range []string{"gains %s --json", "rotation %s --json", "profit %s --json", "gains %s --thorough"} {
		_, fromFiles, _ := call(strings.Fields(fmt.Sprintf(args, "evidence.csv prices.toml"))...)
		code, fromBook, stderr := call(strings.Fields(fmt.Sprintf(args, "w.spile"))...)
		if code != done || fromBook != fromFiles || fromBook == "" {
			t.Errorf("spile %s: a workbook (exit code %d, %s) answers other than the files in it", args, code, stderr)
		}
	}
	wrote(t, done, "wrote", "report", "w.spile", "-o", "w.html")
	wrote(t, done, "wrote", "figure", "net", "w.spile", "-o", "w.svg")
	first, _ := os.ReadFile("w.html")
	wrote(t, done, "wrote", "report", "w.spile", "-o", "w.html")
	if second, _ := os.ReadFile("w.html"); len(first) == 0 || !bytes.Equal(first, second) {
		t.Error("the same workbook gives two reports")
	}

	// Prices of another's beside a workbook; anything else has to be taken in first.
	wrote(t, done, "", "profit", "w.spile", "--prices", "prices.toml")
	wrote(t, faultyCall, "beside a workbook", "gains", "w.spile", "evidence.csv")
	wrote(t, faultyData, "not a workbook", "check", "evidence.csv")

	// All or nothing, with all faults.
	put(t, "bad.csv", "study,site,season,practice,mean,n\nNew,Mill Brook,2020,unsanitized,15,4\nNew,Mill "+
		"Brook,2020,check-valve,-3,0\n")
	code, _, stderr := call("add", "w.spile", "bad.csv")
	if code != faultyData || strings.Count(stderr, "bad.csv, row 3") != 2 ||
		!strings.Contains(stderr, "2 faults; nothing was kept") {
		t.Errorf("exit code %d\n%s", code, stderr)
	}
	put(t, "good.csv", "study,site,season,practice,mean,n\nNew,Mill Brook,2020,unsanitized,15,4\nNew,Mill "+
		"Brook,2020,check-valve,21,4\n")
	put(t, "other.csv", "study,site,season,practice,mean,n\nNew,Mill Brook,2020,unsanitized,15,4\nNew,Mill "+
		"Brook,2020,check-valve,22,4\n")
	wrote(t, done, "1 study (New)", "add", "w.spile", filepath.Join(".", "good.csv"))
	wrote(t, faultyData, "other content", "add", "w.spile", "other.csv")
	wrote(t, done, "replaced: 1 study (New)", "add", "w.spile", "other.csv", "--replace")

	// A practice of one's own, kept, is known to what comes later.
	put(t, "own.toml", "[practice.steam-rinse]\nname = \"steam\"\nspout = \"reused\"\ndrops = \"kept\"\nwash = "+
		"\"none\"\n")
	put(t, "steam.csv", "study,site,season,practice,mean,n\nSteam,Mill Brook,2021,unsanitized,15,4\nSteam,Mill "+
		"Brook,2021,steam-rinse,16,4\n")
	wrote(t, faultyData, "steam-rinse", "add", "w.spile", "steam.csv")
	wrote(t, done, "1 practice (steam-rinse)", "add", "w.spile", "own.toml")
	wrote(t, done, "1 study (Steam)", "add", "w.spile", "steam.csv")
	wrote(t, done, "nothing was added", "add", "w.spile", "own.toml")
	wrote(t, done, "steam", "gains", "w.spile")

	b, err := book.Open("w.spile")
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	h, err := b.History(0, math.MaxInt)
	if err != nil || len(h) != 5 || h[4].Who != "Ada" || h[4].At.Unix() != 1772000000 ||
		h[4].What != "spile add evidence.csv prices.toml" || h[3].Who == "" {
		t.Errorf("%v %+v", err, h)
	}
}

// A study taken in from a folder keeps the name of its file, and not of the folder.
func TestFoldersStayAtHome(t *testing.T) {
	scenario(t)
	wrote(t, done, "", "new", "w.spile")
	wrote(t, done, "", "add", "w.spile", mustAbs(t, "evidence.csv"), mustAbs(t, "prices.toml"))
	data, err := os.ReadFile("w.spile")
	if err != nil {
		t.Fatal(err)
	}
	here, _ := os.Getwd()
	if bytes.Contains(data, []byte(here)) || bytes.Contains(data, []byte(filepath.Base(filepath.Dir(here)))) {
		t.Error("the workbook names a folder of its writer")
	}
}

func mustAbs(t *testing.T, name string) string {
	path, err := filepath.Abs(name)
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func BenchmarkAdd10000Arms(b *testing.B) {
	dir := b.TempDir()
	var table strings.Builder
	table.WriteString("study,site,season,practice,mean,n,sd,vacuum_inhg,drop_age,source\n")
	for i := range 2500 {
		for j, p := range []string{"unsanitized", "new-spout", "check-valve", "new-drop"} {
			fmt.Fprintf(&table, "Study %d,Site %d,%d,%s,%.1f,6,3.1,24,0,an invented source\n", i, i%500, 2000+i%25, p,
				15+float64(j)+float64(i%20)/10)
		}
	}
	file := filepath.Join(dir, "evidence.csv")
	if err := os.WriteFile(file, []byte(table.String()), 0o644); err != nil {
		b.Fatal(err)
	}
	n := 0
	for b.Loop() {
		n++
		path := filepath.Join(dir, fmt.Sprint(n, ".spile"))
		for _, args := range [][]string{{"new", path}, {"add", path, file}} {
			var stderr bytes.Buffer
			if code := run(b.Context(), args, new(advice.Memo), io.Discard, &stderr); code != done {
				b.Fatal(stderr.String())
			}
		}
	}
}

// A workbook goes out as a data package and as a spreadsheet, and comes back as it was.
func TestExport(t *testing.T) {
	long(t)
	scenario(t)
	t.Setenv("SOURCE_DATE_EPOCH", "1772000000")
	wrote(t, done, "", "new", "w.spile")
	put(t, "own.toml", "[practice.steam-rinse]\nname = \"steam rinse\"\nspout = \"reused\"\ndrops = \"kept\"\nwash = "+
		"\"none\"\n"+
		"[[rule]]\nwash = \"peroxide\"\norganic = false\nverdict = \"held-back\"\nreason = \"ask first\"\nchecked = "+
		"2025-10-01\n")
	wrote(t, done, "change 1", "add", "w.spile", "evidence.csv", "prices.toml", "own.toml", "--who", "Ada")
	b, err := book.Open("w.spile")
	if err != nil {
		t.Fatal(err)
	}
	have, _ := b.Contents()
	if _, err := b.Save(book.Edit{Who: "Ada", What: "a leak", Seen: have.Sight()},
		book.Keep(input.Exclusion{Study: have.Studies[2].Name, Reason: "a leak"})); err != nil {
		t.Fatal(err)
	}
	was, _ := b.Contents()
	b.Close()

	wrote(t, done, "datapackage.json", "export", "w.spile", "-o", "package", "--license", "CC-BY-4.0")
	wrote(t, done, "", "new", "back.spile")
	wrote(t, done, "change 1", "add", "back.spile", "package", "--who", "Bo")
	wrote(t, done, "nothing was added", "add", "w.spile", "package")
	wrote(t, done, "wrote p.zip", "export", "w.spile", "-o", "p.zip")
	wrote(t, done, "nothing was added", "add", "w.spile", "p.zip")
	is, err := readWorkbook("back.spile", false)
	if err != nil || is.Sources[0].Digest != was.Sources[0].Digest {
		t.Errorf("another state came back: %v", err)
	}
	for _, args := range []string{"gains %s --json", "profit %s --json"} {
		_, one, _ := call(strings.Fields(fmt.Sprintf(args, "w.spile"))...)
		for _, from := range []string{"back.spile", "package"} {
			if _, two, stderr := call(strings.Fields(fmt.Sprintf(args, from))...); one != two || one == "" {
				t.Errorf("spile %s answers otherwise from %s: %s", args, from, stderr)
			}
		}
	}

	wrote(t, done, "wrote w.xlsx", "export", "w.spile", "-o", "w.xlsx")
	wrote(t, done, "wrote p.toml", "export", "w.spile", "-o", "p.toml")
	wrote(t, done, "wrote s.bib", "export", "w.spile", "-o", "s.bib")
	wrote(t, done, "wrote s.ris", "export", "w.spile", "-o", "s.ris")
	_, files, _ := call("profit", "evidence.csv", "prices.toml", "--json")
	if _, sheets, stderr := call("profit", "w.xlsx#evidence", "p.toml", "--json"); sheets != files || files == "" {
		t.Errorf("the spreadsheet answers otherwise: %s", stderr)
	}
	wrote(t, faultyData, "cannot be written", "export", "w.spile", "-o", "evidence.csv/x")
	wrote(t, faultyData, "cannot be written", "export", "w.spile", "-o", "nowhere/x.xlsx")
	wrote(t, faultyCall, "one workbook", "export", "w.spile", "evidence.csv", "-o", "x")
}

// A table of somebody else's comes back line by line, its title and its cells of two numbers too, from the workbook and
// through packages into others.
func TestTablesAsTyped(t *testing.T) {
	t.Chdir(t.TempDir())
	table := "Trials of 2018;;;;\n(gallons a tap);;;;\nPlace;Year;Treatment;Sap per tap (gal);n\n" +
		"N;2018;Control;15,0 ± 2;6\nN;2018;Bleach;19,5 ± 3;6\nM;2018;Control;14 ± 2;6\nM;2018;Bleach;~18 ± 3;6\n" +
		"Total;;;66,5;24\nSource: notebook 4;;;;\n"
	put(t, "hers.csv", table)
	_, _, stderr := call("gains", "hers.csv")
	_, words, _ := strings.Cut(stderr, "read with the table:\n")
	words, _, _ = strings.Cut(words, "spile:")
	put(t, "words.toml", words)
	for _, line := range []string{"new a.spile", "add a.spile hers.csv words.toml", "export a.spile -o package",
		"new b.spile", "add b.spile package", "export b.spile -o again.zip", "new c.spile", "add c.spile again.zip",
		"export a.spile --as-typed -o of-a", "export c.spile --as-typed -o of-c"} {
		if code, _, stderr := call(strings.Fields(line)...); code != done {
			t.Fatalf("%s: %s", line, stderr)
		}
	}
	for _, of := range []string{"of-a", "of-c"} {
		if got, err := os.ReadFile(of + "/hers.csv"); err != nil || string(got) != table {
			t.Errorf("%s: %v\n%s\nwant\n%s", of, err, got, table)
		}
	}
}

// A price list and a sugarbush come back to the byte, comments too, from the workbook and through a package into
// another.
func TestAsTyped(t *testing.T) {
	scenario(t)
	demoFile(t, "sugarbush-quebec.toml")
	odd(t, "prices.toml", "currency = \"USD\"", "# typed by Ada,  with  blanks\r\ncurrency='USD'   # US")
	want := map[string]string{}
	for _, name := range []string{"prices.toml", "sugarbush-quebec.toml"} {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		want[name] = string(data)
	}
	for _, line := range []string{"new a.spile", "add a.spile evidence.csv prices.toml sugarbush-quebec.toml",
		"export a.spile -o a.toml", "export a.spile -o package", "new b.spile", "add b.spile package",
		"export b.spile -o b.toml", "export b.spile -o again.zip", "new c.spile", "add c.spile again.zip",
		"export c.spile -o last"} {
		if code, _, stderr := call(strings.Fields(line)...); code != done {
			t.Fatalf("%s: %s", line, stderr)
		}
	}
	for _, c := range []struct{ file, as string }{{"a.toml", "prices.toml"}, {"b.toml", "prices.toml"},
		{"package/prices.toml", "prices.toml"}, {"package/sugarbush-1.toml", "sugarbush-quebec.toml"},
		{"last/prices.toml", "prices.toml"}, {"last/sugarbush-1.toml", "sugarbush-quebec.toml"}} {
		if got, err := os.ReadFile(c.file); err != nil || string(got) != want[c.as] {
			t.Errorf("%s is not %s as it was typed (%v):\n%s", c.file, c.as, err, got)
		}
	}
	a, errA := readWorkbook("a.spile", false)
	c, errC := readWorkbook("c.spile", false)
	if errA != nil || errC != nil || a.Sources[0].Digest != c.Sources[0].Digest {
		t.Errorf("the states differ: %v %v", errA, errC)
	}
	// A comment alone is a change that says nothing else.
	odd(t, "prices.toml", "# typed by Ada", "# typed by Eve")
	call("add", "c.spile", "prices.toml", "--replace")
	d, err := readWorkbook("c.spile", false)
	if err != nil || !strings.Contains(d.Prices.Text, "Eve") || d.Sources[0].Digest != c.Sources[0].Digest {
		t.Errorf("a changed comment: %v, digest %v then %v", err, c.Sources, d.Sources)
	}
}
