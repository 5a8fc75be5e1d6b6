package sheet

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"spile/practice"
)

// docs/data.md names every column and every key, and its examples are files that can be read.
func TestDataPage(t *testing.T) {
	data, err := os.ReadFile("../docs/data.md")
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	for _, c := range columns {
		if !strings.Contains(page, "`"+c.name+"`") {
			t.Errorf("the column %s is not described", c.name)
		}
	}
	for _, key := range append(append(append([]string{}, priceKeys...), practiceKeys...), ruleKeys...) {
		key = strings.TrimSuffix(key, "=")
		key = strings.ReplaceAll(key, ".gain.*", ".gain.AGE")
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

	blocks := regexp.MustCompile("(?s)```(csv|toml)\n(.*?)```").FindAllStringSubmatch(page, -1)
	if len(blocks) < 5 {
		t.Fatalf("%d examples", len(blocks))
	}
	dir := t.TempDir()
	var paths []string
	for i, b := range blocks {
		path := dir + "/" + string(rune('a'+i)) + "." + b[1]
		if err := os.WriteFile(path, []byte(b[2]), 0o644); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	in, _, err := Read(paths...)
	if err != nil {
		t.Fatalf("an example is at fault: %v", err)
	}
	if len(in.Studies) != 3 || in.Prices == nil || len(in.Rules) != 1 || len(in.Practices) != len(practice.Shipped())+1 {
		t.Errorf("the examples read as %+v", in)
	}
}
