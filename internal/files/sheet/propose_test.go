package sheet

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Headers of somebody else are guessed at, and the mapping that comes of it reads their spreadsheet.
func TestPropose(t *testing.T) {
	headers := []string{"Experiment", "Farm", "Year", "Treatment", "Yield", "Reps", "Std. dev.", "Weathr",
		"Colour of the barn", "site note", "Year"}
	var got []string
	for _, x := range Propose(headers, nil, practice.Shipped()) {
		got = append(got, x.String())
	}
	if want := "study,site,season,practice,mean,n,sd,weather,,,"; strings.Join(got, ",") != want {
		t.Errorf("\n%s\nwant\n%s", got, want)
	}

	dir := t.TempDir()
	names, table := filepath.Join(dir, "names.toml"), filepath.Join(dir, "theirs.xlsx")
	os.WriteFile(table, build(t, func(x *excelize.File) {
		put(x, []any{"Our trials"},
			[]any{"Experiment", "Farm", "Year", "Treatment", "Yield", "Reps", "Std. dev.", "Weathr"},
			[]any{"A", "north", 2019, "unsanitized", 15.2, 6, 2, "cold"},
			[]any{"A", "north", 2019, "check-valve", 22.5, 6, 2, ""})
	}), 0o644)
	_, err := Read(table)
	if err == nil {
		t.Fatal("headers of others are taken unasked")
	}
	_, toml, _ := strings.Cut(err.Error(), "read with the table:\n")
	os.WriteFile(names, []byte(toml), 0o644)
	in, err := Read(table+"#Sheet1", names)
	if err != nil || len(in.Studies) != 1 || *in.Studies[0].Arms[1].Mean != 22.5 || in.Studies[0].Weather != "cold" {
		t.Errorf("%v, %+v", err, in.Studies)
	}
}

// A total beside taps is of the unit, and is divided by them; of which unit it is must be known.
func TestTotalBesideTaps(t *testing.T) {
	for _, c := range []struct{ total, taps, want string }{
		{"Total sap (gal)", "Taps", "mean.gal_unit"},
		{"Sève totale (L)", "Entailles", "mean.l_unit"},
		{"Total sap", "Taps", ""},
		{"Total sap (gal)", "Colour", "mean.gal"},
		{"Total sap per tap (gal)", "Taps", "mean.gal"},
		{"Rendement total (L/entaille)", "Entailles", "mean.l"},
	} {
		g := Grid{Columns: []string{"Study", "Site", "Season", "Practice", c.total, c.taps}}
		got := g.Understand(nil, practice.Shipped()).Targets[4]
		if got.String() != c.want {
			t.Errorf("%s beside %s: %q, want %q", c.total, c.taps, got, c.want)
		}
	}
}

// A TOML file of headers, practices and rules beside a table that uses them: read, or refused with words.
func FuzzRead(f *testing.F) {
	f.Add("[columns]\nstudy = \"Experiment\"\n",
		"Experiment,site,season,practice,mean,n,sd\nA,b,2020,unsanitized,15,6,2\nA,b,2020,new-spout,18,6,2\n")
	f.Add("[practice.steam]\nname = \"steam\"\nspout = \"new\"\ndrops = \"kept\"\nwash = \"none\"\n",
		"study,site,season,practice,gain_pct\nA,b,2020,steam,12\n")
	f.Add("[[rule]]\nwash = \"alcohol\"\nplace = \"US-VT\"\nverdict = \"permitted\"\nreason = \"r\"\nchecked = "+
		"2026-01-01\n", "")
	f.Add("[columns]\nstudy = \"site\"\nsite = \"site\"\n", "site;site\n1;2\n")
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, said, table string) {
		toml, csv := filepath.Join(dir, fmt.Sprintf("%d.toml", os.Getpid())),
			filepath.Join(dir, fmt.Sprintf("%d.csv", os.Getpid()))
		if os.WriteFile(toml, []byte(said), 0o644) != nil || os.WriteFile(csv, []byte(table), 0o644) != nil {
			t.Fatal("the files could not be written")
		}
		in, err := Read(toml, csv)
		if err != nil {
			if faults := (note.Faults{}); !errors.As(err, &faults) || len(faults) == 0 {
				t.Fatalf("no words: %v", err)
			}
			return
		}
		if len(in.Studies) == 0 || len(in.Sources) != 2 {
			t.Errorf("%d studies, %d sources", len(in.Studies), len(in.Sources))
		}
		for _, r := range in.Rules {
			if f := r.Faults(nil, ""); len(f) > 0 {
				t.Errorf("a rule at fault was taken: %v", f)
			}
		}
		for _, p := range in.Practices[len(practice.Shipped()):] {
			if f := p.Faults(practice.Shipped()); len(f) > 0 {
				t.Errorf("a practice at fault was taken: %v", f)
			}
		}
	})
}
