package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/trade/station"
)

// A page is one file, in the languages that the call names and no other, with who publishes it and under what licence.
func TestPublishOneFile(t *testing.T) {
	long(t)
	scenario(t)
	for _, c := range []struct {
		args       string
		has, hasNo []string // texts on the page
	}{
		{"", []string{`id="en"`, `id="fr"`, "licence the data may be used is not stated"}, nil},
		{"--lang fr --licence CC-BY-4.0", []string{`id="fr"`, "CC-BY-4.0"}, []string{`id="en"`}},
	} {
		args := "publish evidence.csv prices.toml -o ranking.html --by Fern " + c.args
		code, stdout, stderr := call(strings.Fields(args)...)
		if code != done || !strings.Contains(stdout, "ranking.html") {
			t.Fatalf("%s: %d %s%s", c.args, code, stdout, stderr)
		}
		page, err := os.ReadFile("ranking.html")
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range c.has {
			if !strings.Contains(string(page), text) {
				t.Errorf("%s: no %s", c.args, text)
			}
		}
		for _, text := range c.hasNo {
			if strings.Contains(string(page), text) {
				t.Errorf("%s: %s", c.args, text)
			}
		}
	}
}

// A folder holds the page in parts, and beside it all that the page leads to; the data package in it is read back to
// the same gains. What stands there and is not ours refuses it all.
func TestPublishFolder(t *testing.T) {
	long(t)
	scenario(t)
	if err := os.Mkdir("site", 0o755); err != nil {
		t.Fatal(err)
	}
	put(t, "site/index.html", "somebody's own")
	publish := []string{"publish", "evidence.csv", "prices.toml", "-o", "site/", "--by", `Fern "Gate" station`, "--licence",
		"cc by 4.0", "--lang", "en,fr"}
	if code, _, stderr := call(publish...); code != faultyData || !strings.Contains(stderr, "index.html") {
		t.Fatalf("over what is not ours: %d %s", code, stderr)
	}
	if have, _ := filepath.Glob("site/*"); len(have) != 1 {
		t.Errorf("not whole, and yet written: %v", have)
	}
	if err := os.Remove("site/index.html"); err != nil {
		t.Fatal(err)
	}
	for range 2 { // what is ours is written anew
		if code, _, stderr := call(publish...); code != done {
			t.Fatalf("%d %s", code, stderr)
		}
	}
	page, err := os.ReadFile("site/index.html")
	if err != nil {
		t.Fatal(err)
	}
	var leads []string
	for _, m := range regexp.MustCompile(`\s(?:src|href|data-at)="([^"#]+)"`).FindAllStringSubmatch(string(page), -1) {
		leads = append(leads, m[1])
		if _, err := os.Stat(filepath.Join("site", m[1])); err != nil {
			t.Error(err)
		}
	}
	for _, want := range []string{"engine.bin", "evidence.bin", "report-en.html", "report-fr.html", "CITATION.cff",
		"data/datapackage.json"} {
		if !slices.Contains(leads, want) {
			t.Errorf("the page does not lead to %s", want)
		}
	}
	for _, name := range []string{"figures/en/net.svg", "figures/fr/net.svg"} {
		if _, err := os.Stat(filepath.Join("site", name)); err != nil {
			t.Error(err)
		}
	}
	if len(page) > 1_000_000 {
		t.Errorf("the page is %d bytes without its engine", len(page))
	}
	cited, err := os.ReadFile("site/CITATION.cff")
	if err != nil {
		t.Fatal(err)
	}
	// Citation File Format 1.2.0: what it asks for is cff-version, message, title and authors.
	for _, line := range []string{`cff-version: "1.2.0"`, `  - name: "Fern \"Gate\" station"`, `license: "CC-BY-4.0"`,
		"\nmessage: ", "\ntitle: "} {
		if !strings.Contains(string(cited), line) {
			t.Errorf("%s is not in\n%s", line, cited)
		}
	}
	gains := func(of ...string) string {
		code, stdout, stderr := call(append([]string{"gains", "--json"}, of...)...)
		if code != done {
			t.Fatalf("%v: %d %s", of, code, stderr)
		}
		var all struct{ Practices json.RawMessage }
		if err := json.Unmarshal([]byte(stdout), &all); err != nil || len(all.Practices) < 100 {
			t.Fatalf("%v: %v, %s", of, err, all.Practices)
		}
		return string(all.Practices)
	}
	if a, b := gains("evidence.csv"), gains("site/data"); a != b {
		t.Errorf("the package gives\n%s\nand the table\n%s", b, a)
	}
}

// What producers told stays with the station: neither their sugarbushes nor their past seasons go into a folder for a
// web host, nor what whoever wrote the prices noted beside them, nor a trial that the call does not name.
func TestPublishFolderKeepsWhatIsPrivate(t *testing.T) {
	long(t)
	scenario(t)
	prices, err := os.ReadFile("prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	put(t, "prices.toml", "# call Quillfeather about the quota\n"+string(prices))
	put(t, "bush.toml", "name = \"Quillfeather\"\nfirst_season = 2026\n[section.north]\ntaps = 400\n")
	for _, args := range []string{"new own.spile", "add own.spile evidence.csv prices.toml", "add own.spile bush.toml",
		"publish own.spile -o site/ --by Fern"} {
		if code, stdout, stderr := call(strings.Fields(args)...); code != done {
			t.Fatalf("%s: %d %s%s", args, code, stdout, stderr)
		}
	}
	if in, err := sheet.Read("site/data"); err != nil || len(in.Bushes) > 0 || len(in.Past) > 0 {
		t.Errorf("the data package holds %d sugarbushes and %d past seasons: %v", len(in.Bushes), len(in.Past), err)
	}
	err = filepath.WalkDir("site", func(name string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(name)
		if strings.Contains(string(data), "Quillfeather") {
			t.Errorf("%s tells of Quillfeather", name)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// What a station keeps for itself is in nothing that is published or handed out: neither named nor pooled.
func TestWhatIsHeldIsNotGivenOut(t *testing.T) {
	long(t)
	scenario(t)
	put(t, "held.csv", "study,site,season,practice,mean,n,sd\nQuillfeather,Hollow Fen,2019,unsanitized,12,9,2\n"+
		"Quillfeather,Hollow Fen,2019,check-valve,26,9,4\n")
	if err := os.Mkdir("bushes", 0o755); err != nil {
		t.Fatal(err)
	}
	put(t, "bushes/bush.toml", "name = \"Low Run\"\nfirst_season = 2026\n[section.north]\ntaps = 400\n"+
		"practice = \"new-spout\"\nbrix = 2\ntubing_in = \"5/16\"\nvacuum_inhg = 25\n"+
		"species = \"sugar maple\"\n")
	given := map[string][]string{}
	for _, from := range []string{"open", "own"} {
		run := func(args string) {
			t.Helper()
			args = strings.ReplaceAll(args, "BOOK", from+".spile")
			if code, stdout, stderr := call(strings.Fields(args)...); code != done {
				t.Fatalf("%s: %d %s%s", args, code, stdout, stderr)
			}
		}
		run("new BOOK")
		run("add BOOK evidence.csv prices.toml")
		if from == "own" {
			run("add BOOK held.csv")
			b, err := book.Open("own.spile")
			if err != nil {
				t.Fatal(err)
			}
			_, err = b.Save(book.Edit{Who: "Fern", At: time.Now(), What: "ours"}, book.Keep(station.Hold{
				Of: station.Study, Name: "Quillfeather", Station: "Fern", Stage: station.Own}))
			if b.Close(); err != nil {
				t.Fatal(err)
			}
		}
		run("publish BOOK -o ranking.html --lang en --by Fern")
		run("handout BOOK bushes/bush.toml -o sheet.html")
		run("plan BOOK --all bushes -o sheets")
		for _, name := range []string{"ranking.html", "sheet.html", "sheets/bush.json"} {
			data, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(string(data), "Quillfeather") {
				t.Errorf("%s tells of Quillfeather", name)
			}
			said := regexp.MustCompile(`.*another station is held back.*\n`).ReplaceAllString(string(data), "")
			given[name] = append(given[name], said)
			os.Remove(name)
		}
		os.RemoveAll("sheets")
	}
	for name, x := range given {
		if name != "ranking.html" && x[0] != x[1] {
			t.Errorf("%s rests on what is held:\n%s", name, cmp.Diff(x[0], x[1]))
		}
	}
}

func TestPublishRefuses(t *testing.T) {
	scenario(t)
	for _, args := range []string{"-o ranking.txt", "-o site/", "-o ranking.html --trial none"} {
		code, _, stderr := call(append(strings.Fields("publish evidence.csv prices.toml"), strings.Fields(args)...)...)
		if code != faultyCall || !strings.Contains(stderr, "allowed:") {
			t.Errorf("%s: %d %s", args, code, stderr)
		}
	}
}
