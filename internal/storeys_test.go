package internal_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func init() { made["storeys"] = storeys }

// storeys is every package with what it is for, storey by storey from the top.
func storeys() string {
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}}\t{{.Doc}}", "spile/cmd/...", "spile/internal/...").
		Output()
	if err != nil {
		return err.Error()
	}
	var b strings.Builder
	b.WriteString("| storey | package | what it is for |\n|---|---|---|\n")
	for _, storey := range []string{"view", "files", "engine", "trade", ""} {
		for line := range strings.Lines(string(out)) {
			path, doc, _ := strings.Cut(strings.TrimSpace(line), "\t")
			name := strings.TrimPrefix(path, "spile/internal/")
			at, room, in := strings.Cut(name, "/")
			if doc == "" || name == path || in && at != storey || !in && storey != "" {
				continue
			}
			if !in {
				room = name
			}
			_, says, _ := strings.Cut(doc, " ") // "Package pool fits …"
			says = strings.TrimPrefix(says, filepath.Base(room)+" ")
			fmt.Fprintf(&b, "| %s | `%s` | %s |\n", storey, room,
				strings.TrimSuffix(strings.TrimSuffix(says, "."), ":"))
		}
	}
	return b.String()
}

// The picture of the house shows every package of every storey.
func TestPictureOfTheHouse(t *testing.T) {
	picture, err := os.ReadFile("../docs/house.svg")
	if err != nil {
		t.Fatal(err)
	}
	for storey := range below {
		rooms, err := os.ReadDir(storey)
		if err != nil {
			t.Fatal(err)
		}
		for _, room := range rooms {
			if !regexp.MustCompile(`[> ]` + room.Name() + `[ <]`).Match(picture) {
				t.Errorf("docs/house.svg lacks %s/%s", storey, room.Name())
			}
		}
	}
}
