package sheet

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/xuri/excelize/v2"
)

// Headers of somebody else are guessed at, and the mapping that comes of it reads their spreadsheet.
func TestPropose(t *testing.T) {
	headers := []string{"Experiment", "Farm", "Year", "Treatment", "Yield", "Reps", "Std. dev.", "Weathr", "Colour of the barn", "site note", "Year"}
	got := fmt.Sprint(Propose(headers))
	want := "[{Experiment study} {Farm site} {Year season} {Treatment practice} {Yield mean} {Reps n} {Std. dev. sd} {Weathr weather} {Colour of the barn } {site note } {Year }]"
	if got != want {
		t.Errorf("\n%s\nwant\n%s", got, want)
	}

	dir := t.TempDir()
	names, table := filepath.Join(dir, "names.toml"), filepath.Join(dir, "theirs.xlsx")
	os.WriteFile(names, Mapping(Propose(headers[:8])), 0o644)
	os.WriteFile(table, build(t, func(x *excelize.File) {
		put(x, []any{"Our trials"}, []any{"Experiment", "Farm", "Year", "Treatment", "Yield", "Reps", "Std. dev.", "Weathr"},
			[]any{"A", "north", 2019, "unsanitized", 15.2, 6, 2, "cold"}, []any{"A", "north", 2019, "check-valve", 22.5, 6, 2, ""})
	}), 0o644)
	in, _, err := Read(table+"#Sheet1", names)
	if err != nil || len(in.Studies) != 1 || *in.Studies[0].Arms[1].Mean != 22.5 || in.Studies[0].Weather != "cold" {
		t.Errorf("%v, %+v", err, in.Studies)
	}
}
