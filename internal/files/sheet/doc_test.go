package sheet

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/weather"
)

// docs/data.md names every column and every key, and its examples are files that can be read.
func TestDataPage(t *testing.T) {
	data, err := os.ReadFile("../../../docs/data.md")
	if err != nil {
		t.Fatal(err)
	}
	page, past, _ := strings.Cut(string(data), "## What is written down of a trial")
	_, rest, _ := strings.Cut(past, "## JSON of trials")
	page += rest
	for _, c := range evidence.Columns {
		if !strings.Contains(page, "`"+c.Name+"`") {
			t.Errorf("the column %s is not described", c.Name)
		}
	}
	for _, key := range append(append([]string{}, practiceKeys...), ruleKeys...) {
		last := key[strings.LastIndexByte(key, '.')+1:]
		if !regexp.MustCompile("[`.]" + regexp.QuoteMeta(last) + "`").MatchString(page) {
			t.Errorf("the key %s is not described", key)
		}
	}
	for _, k := range practice.Shipped().Keys() {
		if !strings.Contains(page, "`"+string(k)+"`") {
			t.Errorf("the practice %s is not described", k)
		}
	}

	paths := examples(t, page)
	if len(paths) < 5 {
		t.Fatalf("%d examples", len(paths))
	}
	in, err := Read(paths...)
	if err != nil {
		t.Fatalf("an example is at fault: %v", err)
	}
	if len(in.Studies) != 3 || in.Prices == nil || len(in.Rules) != 1 ||
		len(in.Practices) != len(practice.Shipped())+1 {
		t.Errorf("the examples read as %+v", in)
	}
}

// examples writes the examples of a page to files.
func examples(t *testing.T, page string) (paths []string) {
	t.Helper()
	dir := t.TempDir()
	for i, b := range regexp.MustCompile("(?s)```(csv|toml)\n(.*?)```").FindAllStringSubmatch(page, -1) {
		path := dir + "/" + string(rune('a'+i)) + "." + b[1]
		if err := os.WriteFile(path, []byte(b[2]), 0o644); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	return paths
}

// It names every column and key of a trial too; its examples can be read, and the rules of a season's class that it
// calls the usual ones are.
func TestDataPageOfTrials(t *testing.T) {
	data, err := os.ReadFile("../../../docs/data.md")
	if err != nil {
		t.Fatal(err)
	}
	_, page, _ := strings.Cut(string(data), "## Data package")
	var described func(at schema, below string)
	described = func(at schema, below string) {
		for key, in := range at {
			if len(in) == 0 && key != "*" && !regexp.MustCompile(`(?m)(^|[ ,#])`+key+`( =|,|$)`).MatchString(page) {
				t.Errorf("the key %s of %s is not described", key, below)
			}
			described(in, key)
		}
	}
	described(trialKeys(), "trial.toml")
	for _, k := range trial.EventKinds() {
		if !strings.Contains(page, "`"+string(k)+"`") {
			t.Errorf("the event %s is not described", k)
		}
	}
	_, page, _ = strings.Cut(page, "## What is written down of a trial")
	page, _, _ = strings.Cut(page, "## JSON of trials")
	base := laidOut()
	base.Name, base.Site = "", ""
	for _, path := range examples(t, page) {
		x, notes, err := Trial(base, practice.Shipped(), nil, path)
		if err != nil || len(notes) > 0 {
			t.Fatalf("an example is at fault: %v %v", err, notes)
		}
		switch isTOML := strings.HasSuffix(path, ".toml"); {
		case isTOML && (x.Question == nil || x.Rules == nil || *x.Rules != weather.Usual()):
			t.Errorf("%+v", x)
		case !isTOML && len(x.Records[1].Readings) < 4:
			t.Errorf("%d readings", len(x.Records[1].Readings))
		}
	}
}
