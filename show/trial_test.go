package show

import (
	"strings"
	"testing"

	"spile/practice"
	"spile/say"
	"spile/trial"
	"spile/unit"
)

func invented(t *testing.T) *trial.Analysis {
	var rows []trial.UnitSeason
	for s := range 2 {
		for i := range 9 {
			rows = append(rows, trial.UnitSeason{Unit: string(rune('a' + i)), Block: string(rune('A' + i/3)), Season: 2025 + s, Taps: 10, Volume: unit.Volume(700 + 100*(i%3) + 17*(i*5+s*3)%29),
				Practice: []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve}[i%3]})
		}
	}
	a, err := trial.Analyse(rows, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Every word of the tables of a trial goes through package say.
func TestTrialWords(t *testing.T) {
	v, set := say.In(say.Pseudo), practice.Shipped()
	w := TrialView{A: invented(t), V: v, Set: set, VolumeUnit: unit.USGallon}
	l, err := trial.Question{Practices: []practice.Key{practice.Unsanitized, practice.NewSpout}, Design: trial.Blocks, Replicates: 3, Seasons: 2, FirstSeason: 2027, Blind: true}.Layout(set)
	if err != nil {
		t.Fatal(err)
	}
	s := trial.Scheme{Design: trial.Blocks, Practices: 3}
	rows, err := s.Table(trial.Spread{Unit: 0.15}, 20, 0.05, 0.8, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	lv := LayoutView{L: l, V: v, Set: set}
	for _, table := range []Table{w.Gains(), w.Pairs(), w.BySeason(), w.Variances(), lv.Layout(), lv.Keep(), PowerView{Scheme: s, Rows: rows, V: v}.Table()} {
		texts := []string{table.Title}
		if table.Lead != "" {
			texts = append(texts, table.Lead)
		}
		for _, c := range table.Columns {
			texts = append(texts, c.Name)
		}
		for _, n := range table.Notes {
			texts = append(texts, n.Text)
		}
		for _, r := range table.Rows {
			if len(r.Cells) != len(table.Columns) {
				t.Errorf("%s: a row of %d cells under %d heads", table.ID, len(r.Cells), len(table.Columns))
			}
			for i, c := range r.Cells {
				if strings.HasPrefix(table.Columns[i].ID, "practice") || table.Columns[i].ID == "against" {
					texts = append(texts, c.Text)
				}
			}
		}
		for _, text := range texts {
			if !strings.HasPrefix(text, "⟦") {
				t.Errorf("%s: %q did not go through say", table.ID, text)
			}
		}
	}
}
