package sheet

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// Tables of a trial in headers and words that nothing of ours is near to: refused with what they may stand for, and
// read by a mapping file, or by the words that a workbook keeps.
func TestTrialMapping(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		os.WriteFile(path, []byte(text), 0o644)
		return path
	}
	layout := write("layout.csv", "Arbre no,Rang,Printemps de récolte,Mode,Nb entailles\n"+
		"A1,1,2025,Rien du tout,20\nA2,1,2025,Clapet bleu,20\n")
	read := write("read.csv", "Arbre no;Jour de lecture;Eau récoltée (L);Sucre mesuré\n"+
		"A1;05/03/2025;1.120,5;2,1\nA2;05/03/2025;pas lu;2,0\n")
	mapping := write("mapping.toml", `unknown = ["pas lu"]
[columns]
unit = "Arbre no"
block = "Rang"
season = "Printemps de récolte"
practice = "Mode"
taps = "Nb entailles"
date = "Jour de lecture"
volume_l = "Eau récoltée (L)"
brix = "Sucre mesuré"
[words.practice]
check-valve = "Clapet bleu"
unsanitized = "Rien du tout"
[dates]
day = "Jour de lecture"
[numbers]
comma = ["Eau récoltée (L)", "Sucre mesuré"]
`)
	_, _, err := Trial(trial.Trial{}, practice.Shipped(), nil, layout, read)
	if err == nil || !strings.Contains(err.Error(), `brix = "Sucre mesuré"`) ||
		!strings.Contains(err.Error(), `check-valve = ["Clapet bleu"]`) {
		t.Errorf("no word of what the headers may stand for: %v", err)
	}
	words, rest, err := Words(practice.Shipped(), layout, mapping, read)
	if err != nil || len(rest) != 2 {
		t.Fatal(err, rest)
	}
	for _, known := range []gloss.Glossary{words, Lasting(words)} {
		got, _, err := Trial(trial.Trial{}, practice.Shipped(), known, rest...)
		if err != nil {
			t.Fatal(err)
		}
		r := got.Records[0]
		if len(r.Plots) != 2 || r.Plots[1].Practice != "check-valve" || r.Plots[1].Block != "1" ||
			len(r.Readings) != 2 || r.Readings[0].Volume.In("l") != 1120.5 || *r.Readings[0].Brix != 2.1 ||
			r.Readings[1].Volume != nil || r.Readings[0].At.Month() != 3 {
			t.Errorf("%+v", r)
		}
	}
	if in, err := ReadBeside(nil, nil, mapping); err != nil || len(in.Words) != len(words) {
		t.Errorf("taken alone: %v", err)
	}
	odd := write("odd.toml", "[columns]\nvolume_pint = \"Eau\"\n")
	if _, _, err := Words(practice.Shipped(), odd); err == nil {
		t.Error("a column that is none is taken")
	}
	// what is settled for a trial's tables leaves those of the evidence as they were
	plain := Grid{Columns: []string{"Study", "Site", "Season", "Practice", "Sap"}, Rows: [][]string{{"A", "b", "2020",
		"new-spout", "12"}}}
	with := plain.Understand(gloss.Glossary{{Of: gloss.Columns, Said: "Sap", Means: "volume_l"}}, practice.Shipped())
	if without := plain.Understand(nil, practice.Shipped()); with.Targets[4] != without.Targets[4] {
		t.Errorf("%v, %v", with.Targets, without.Targets)
	}
}
