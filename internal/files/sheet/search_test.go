package sheet

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A text beside a table says how studies were looked for, as it was typed; two that differ are a fault, and so is what
// is no text.
func TestReadSearch(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	table := file("evidence.csv", "study,site,season,practice,gain_pct,n\nFen 2020,Fen,2020,new-spout,30,6\n")
	one := file("looked.md", "\ufeff# Where\n\nÉtudes de trois stations, lues en 2024, 100 %\n")
	for _, c := range []struct {
		files []string
		want  string
		fault string
	}{
		{[]string{table}, "", ""},
		{[]string{one, table}, "# Where\n\nÉtudes de trois stations, lues en 2024, 100 %", ""},
		{[]string{table, one, one}, "# Where\n\nÉtudes de trois stations, lues en 2024, 100 %", ""},
		{[]string{table, one, file("other.md", "elsewhere")}, "", "told twice"},
		{[]string{table, file("latin.md", "\xc9tudes")}, "", "UTF-8"},
		{[]string{table, file("empty.md", " \n")}, "", ""},
	} {
		in, err := Read(c.files...)
		switch {
		case c.fault != "":
			if err == nil || !strings.Contains(err.Error(), c.fault) {
				t.Errorf("%v: %v", c.files, err)
			}
		case err != nil || string(in.Search) != c.want:
			t.Errorf("%v: %q, %v", c.files, in.Search, err)
		}
	}
}
