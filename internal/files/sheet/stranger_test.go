package sheet

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spile/internal/trade/column"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// strange adds a column to a table, as its one declaration would. What it holds is kept apart, by what the rows of the
// table are known by.
func strange[T any](t *testing.T, table *trial.Table[T], id func(*T) string) {
	before := table.Columns
	t.Cleanup(func() { table.Columns = before })
	held := map[string]any{}
	table.Columns = append(slices.Clone(before), column.Column[*T]{Name: "acidity", Bounds: column.Bounds{Low: 0,
		High: 14},
		Field: column.Field[*T]{Kind: column.Number,
			Get: func(row *T) any { return held[id(row)] },
			Set: func(row *T, v any) { held[id(row)] = v }}})
}

// A column that is added to any table of a trial, in one place, is read and its bounds held, and written, in a file of
// its own and in a data package, and asked for on the field sheets that have its table.
func TestAStrangersColumn(t *testing.T) {
	strange(t, &trial.Layouts, func(r *trial.Placed) string { return fmt.Sprint(r.Season, r.Unit) })
	strange(t, &trial.Readings, func(r *trial.Reading) string { return r.Unit + r.At.String() })
	strange(t, &trial.Events, func(e *trial.Event) string { return string(e.Kind) + e.From.String() })
	strange(t, &trial.Dumps, func(c *trial.Calibration) string { return c.Unit + c.At.String() })
	strange(t, &trial.Tanks, func(f *trial.Filling) string { return f.Unit + fmt.Sprint(*f.Depth) })
	strange(t, &trial.Counts, func(c *trial.Count) string { return c.Unit + c.At.String() })
	strange(t, &trial.Sums, func(r *trial.UnitSeason) string { return fmt.Sprint(r.Season, r.Unit) })
	strange(t, &trial.Decisions, func(d *trial.Decision) string { return d.Finding })
	tables := map[string]string{
		"layout": "season,unit,practice,taps,acidity\n2024,A1,unsanitized,5,6.5\n2025,A1,unsanitized,5,6.5\n" +
			"2026,A1,new-spout,5,6.5\n",
		"readings":     "unit,date,volume_l,acidity\nA1,2026-03-01,40,6.5\n",
		"events":       "kind,from,acidity\nleak,2026-03-02,6.5\n",
		"calibrations": "unit,date,flow,dump_l,acidity\nA1,2026-03-01,slow,4,6.5\n",
		"tanks":        "unit,season,depth_m,volume_l,acidity\nA1,2026,0,0,6.5\nA1,2026,1,100,6.5\n",
		"counts":       "unit,date,taps,acidity\nA1,2026-03-01,5,6.5\n",
		"sums":         "unit,season,practice,taps,volume_l,acidity\nA1,2025,unsanitized,5,60,6.5\n",
		"decisions":    "season,finding,out,reason,acidity\n2026,gap/A1,no,nothing ran,6.5\n",
	}
	dir := t.TempDir()
	var paths []string
	for name, text := range tables {
		path := filepath.Join(dir, name+".csv")
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	base := trial.Trial{Name: "Fen", Site: "Fen"}
	got, notes, err := Trial(base, practice.Shipped(), nil, paths...)
	if err != nil || len(notes) > 1 { // that the season table has no blocks
		t.Fatal(err, notes)
	}
	seen := 0
	for _, x := range TrialTables(got) {
		if tables[x.Name] == "" {
			continue
		}
		seen++
		at := slices.IndexFunc(x.Columns, func(c Column) bool { return c.Name == "acidity" })
		if at < 0 || x.Rows[0][at] != 6.5 {
			t.Errorf("%s: written as %v under %v", x.Name, x.Rows[0], x.Columns)
		}
		if _, _, err := TrialOf(got, practice.Shipped(), nil, "bad.csv",
			[]byte(strings.ReplaceAll(tables[x.Name], "6.5", "60"))); err == nil {
			t.Errorf("%s: out of its bounds, the column passes", x.Name)
		}
	}
	if seen != len(tables) {
		t.Errorf("%d tables of %d", seen, len(tables))
	}
	files, err := Package{Input: input.Input{Trials: []trial.Trial{got}}}.Files()
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(files[0].Data), `"name": "acidity",`); n != len(tables) {
		t.Errorf("the data package describes %d of the %d columns", n, len(tables))
	}
	for _, x := range FieldTables(got, 2026, nil, unit.Litre) {
		named := slices.ContainsFunc(x.Columns, func(c Column) bool { return c.Name == "acidity" })
		if want := x.Name == "tap holes" || x.Name == "events" || x.Name == "dumps"; named != want {
			t.Errorf("the field sheet %s asks for it: %v", x.Name, named)
		}
	}
}

// So does a key that is added to trial.toml.
func TestAStrangersKey(t *testing.T) {
	before := trial.Keys
	defer func() { trial.Keys = before }()
	aspect := ""
	trial.Keys = append(slices.Clone(before), column.Column[*trial.Trial]{Name: "design.aspect",
		Words: []string{"north", "south"},
		Field: column.Words(func(*trial.Trial) *string { return &aspect })})
	for _, text := range []string{"name = \"Fen\"\nsite = \"Fen\"\n[design]\naspect = \"north\"\n"} {
		x, _, err := TrialOf(trial.Trial{}, practice.Shipped(), nil, "trial.toml", []byte(text))
		if err != nil || aspect != "north" {
			t.Fatal(aspect, err)
		}
		if rows := TrialTables(x)[0].Rows; !slices.ContainsFunc(rows,
			func(r []any) bool { return r[0] == "design.aspect" && r[1] == "north" }) {
			t.Errorf("written as %v", rows)
		}
	}
	if _, _, err := TrialOf(trial.Trial{}, practice.Shipped(), nil, "trial.toml",
		[]byte("name = \"Fen\"\nsite = \"Fen\"\n[design]\naspect = \"up\"\n")); err == nil {
		t.Error("any word passes")
	}
}
