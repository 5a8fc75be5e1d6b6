package sheet

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/trade/past"
	"spile/internal/trade/unit"
)

// Tables of past seasons as people type them; each says two seasons of the same numbers, in US gallons and pounds.
var pastTables = map[string]string{
	"ours.csv": "season,yield_gal,brix,grade,price_lb,source\n2021,17.5,1.9,amber,2.3,books\n2021,,,dark,2.05,\n" +
		"2022,23,2.1,amber,2.25,\n",
	"english.csv": "Year;Yield (gal);Sugar;Grade;Price ($/lb);Reference\n2021;17.5;1.9;amber;2.3;books\n" +
		"2021;;;dark;2.05;\n2022;23;2.1;amber;2.25;\n",
	"français.csv": "Année;Rendement (gal);Sucre (°Brix);Classe;Prix ($/lb);Référence\n2022;23;2,1;amber;2,25;\n" +
		"2021;17,5;1,9;amber;2,3;books\n2021;;;dark;2,05;\n",
	"métrique.tsv": "Saison\tRendement (L)\tSucre\tClasse\tPrix par kg\tsource\n" +
		"2021\t66,24470622\t1,9\tamber\t5,07063203\tbooks\n2021\t\t\tdark\t4,51947638\t\n" +
		"2022\t87,064471032\t2,1\tamber\t4,9604008988\t\n",
}

func TestPast(t *testing.T) {
	for name, text := range pastTables {
		in, err := Read(write(t, name, text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		near := func(got *float64, want float64) bool { return got != nil && math.Abs(*got/want-1) < 1e-8 }
		lb := func(x float64) float64 { return x / float64(unit.Pound.Of(1)) }
		if len(in.Past) != 2 || len(in.Studies) > 0 || in.Past[0].Year != 2021 ||
			!near(in.Past[0].YieldL, unit.USGallon.Of(17.5).In(unit.Litre)) || !near(in.Past[0].Brix, 1.9) ||
			!near(new(in.Past[0].Prices["amber"]), lb(2.3)) || !near(new(in.Past[0].Prices["dark"]), lb(2.05)) ||
			!near(new(in.Past[1].Prices["amber"]), lb(2.25)) || in.Past[0].Source != "books" {
			t.Errorf("%s: %+v, notes %v", name, in.Past, in.Notes)
		}
		var sheet bytes.Buffer
		if err := WriteXLSX(&sheet, PastTable(in.Past)); err != nil {
			t.Fatal(err)
		}
		again, err := Read(write(t, "again.xlsx", sheet.String()))
		if err != nil || len(again.Past) != 2 || !near(again.Past[0].YieldL, *in.Past[0].YieldL) ||
			!near(new(again.Past[1].Prices["amber"]), in.Past[1].Prices["amber"]) {
			t.Errorf("%s as a spreadsheet: %+v, %v", name, again.Past, err)
		}
	}
}

func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestPastFaults(t *testing.T) {
	for text, want := range map[string]string{
		"season,yield_l\n21,70\n":                             "season: ",
		"season,yield_l\n2021,-3\n":                           "yield_l: ",
		"season,yield_l,yield_gal\n2021,70,18\n":              "say the same in two units",
		"season,yield_l,brix\n2021,70,\n2021,71,\n":           "has another number here already",
		"season,grade,price_kg\n2021,amber,5\n2021,amber,6\n": "has another price of",
		"season,yield_l,grade\n2021,70,amber\n":               "has no price",
		"season,yield_l,brix\n2021,,\n":                       "nothing is told of the season 2021",
		"season,yield_l,brix\n2021,much,2\n":                  "much",
	} {
		if _, err := Read(write(t, "past.csv", text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// Rows with as many decimal commas as semicolons are parted by semicolons, as their header is.
func TestPastWithDecimalCommas(t *testing.T) {
	list, err, is := PastOf("x.csv", []byte("Année;Rendement (gal);Sucre;Prix ($/lb)\n2021;17,5;1,9;2,3\n"))
	if !is || err != nil || len(list) != 1 || *list[0].Brix != 1.9 {
		t.Errorf("%v %+v, %v", is, list, err)
	}
}

// An evidence table, a trial's seasons and a sugarbush are none.
func TestOnlyPastIsPast(t *testing.T) {
	for _, text := range []string{"study,site,season,practice,mean\n", "unit,season,yield_gal\n",
		"section,taps,season,brix\n", "season,practice,brix\n"} {
		if isPast("x.csv", []byte(text+"a,b,2020,c,1\n")) {
			t.Errorf("%q is taken for past seasons", text)
		}
	}
}

// What is written is what was read, and nothing of a season is lost on the way.
func TestPastRows(t *testing.T) {
	all := []past.Season{{Year: 2019, Brix: new(2.0)}, {Year: 2020, YieldL: new(70.0), Source: "x",
		Prices: map[string]float64{"": 5, "amber": 6}}}
	var rows []past.Row
	for _, s := range all {
		rows = append(rows, s.Rows()...)
	}
	back, faults := past.Of(rows)
	if len(faults) > 0 || len(back) != 2 || *back[1].YieldL != 70 || back[1].Prices["amber"] != 6 ||
		back[1].Source != "x" || back[0].YieldL != nil {
		t.Errorf("%+v, %v", back, faults)
	}
}
