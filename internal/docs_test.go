package internal_test

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// update rewrites the documents: go test ./internal -run TestDocs -update.
var update = flag.Bool("update", false, "rewrite what documents have from the code")

// made is what documents have from the tables of the code, by the name of its region:
//
//	<!-- made from the code: NAME -->
//	<!-- end -->
//
// Who owns a table adds its region here and in the document; nobody types into a region.
var made = map[string]func() string{}

var region = regexp.MustCompile(`(?s)(<!-- made from the code: (\S+) -->\n)(.*?)(<!-- end -->)`)

// Each region of the documents says what the code says, and each table stands in one of them.
func TestDocs(t *testing.T) {
	paths, err := filepath.Glob("../docs/*.md")
	if err != nil || len(paths) == 0 {
		t.Fatal(paths, err)
	}
	stands := map[string]int{}
	for _, path := range append(paths, "../README.md") {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		fresh := region.ReplaceAllStringFunc(string(text), func(old string) string {
			part := region.FindStringSubmatch(old)
			stands[part[2]]++
			make, known := made[part[2]]
			if !known {
				t.Errorf("%s: nothing makes the region %s", path, part[2])
				return old
			}
			return part[1] + make() + part[4]
		})
		switch {
		case fresh == string(text):
		case *update:
			if err := os.WriteFile(path, []byte(fresh), 0o644); err != nil {
				t.Fatal(err)
			}
		default:
			t.Errorf("%s is not what the code says; run: go test ./internal -run TestDocs -update", path)
		}
	}
	for name := range made {
		if stands[name] != 1 {
			t.Errorf("the region %s stands in %d places of the documents, want 1", name, stands[name])
		}
	}
}

// markdown is a table; its head and rows are cells, in which a bar would end the cell.
func markdown(head []string, rows ...[]string) string {
	var b strings.Builder
	line := func(cells []string) {
		b.WriteString("|")
		for _, c := range cells {
			b.WriteString(" " + strings.ReplaceAll(c, "|", `\|`) + strings.Repeat(" ", min(1, len(c))) + "|")
		}
		b.WriteString("\n")
	}
	line(head)
	b.WriteString("|" + strings.Repeat("---|", len(head)) + "\n")
	for _, r := range rows {
		line(r)
	}
	return b.String()
}

func TestMarkdown(t *testing.T) {
	want := "| key | unit |\n|---|---|\n| `a` | kg |\n| `b\\|c` | |\n"
	if got := markdown([]string{"key", "unit"}, []string{"`a`", "kg"}, []string{"`b|c`", ""}); got != want {
		t.Errorf("got\n%s", got)
	}
}
