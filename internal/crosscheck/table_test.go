package crosscheck

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// TestTables holds the stored tables of open datasets against those that R has just written. The comments above them
// name versions of R's packages, and may differ.
func TestTables(t *testing.T) {
	dir := os.Getenv("SPILE_CROSSCHECK_DIR")
	if dir == "" {
		t.Skip("the tables are written anew by make crosscheck")
	}
	comments := regexp.MustCompile(`(?m)^#.*\n`)
	for _, name := range []string{"curtis1998.csv", "immer1934.csv"} {
		live, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		stored, err := os.ReadFile(filepath.Join("..", "files", "sheet", "testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		if string(comments.ReplaceAll(live, nil)) != string(comments.ReplaceAll(stored, nil)) {
			t.Errorf("%s is not what crosscheck/table.R writes", name)
		}
	}
}
