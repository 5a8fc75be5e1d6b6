package sheet

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
)

// asTyped reads a table with all guesses taken, and gives its studies and the words that were settled.
func asTyped(t *testing.T, text string) ([]evidence.Study, gloss.Glossary) {
	t.Helper()
	words := guesses(meant(t, text))
	studies, _, err := Evidence("hers.csv", []byte(text), practice.Shipped(), words)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return studies, words
}

// What was taken in comes back in its own headers, words, units and marks, cell by cell, and reads as the same.
func TestAsTyped(t *testing.T) {
	for _, text := range []string{
		"Place,Year,Treatment,Sap per tap (gal),SD,Trees\nN,2018,Control,15.00,2.0,6\nN,2018,New drops,19.5,NA,6\n" +
			"M,'19,Bleach,14,1.5,6\nM,'19,Témoin,12,1,6\n",
		"Érablière;Saison;Traitement;Rendement (L);Écart-type;Remarque\nN;2017-18;Témoin;61,20;9,1;pluie, vent\n" +
			"N;2017-18;Chute neuve;1 070,5 mL;12;–\n",
		"Farm,Year,Method,Increase (%),Vacuum\nA,2019,Control,,\"24\"\"\"\nA,2019,Check valve,38 %,82 kPa\n",
		"Year,Site,Control mean (gal),Control SD,Check valve mean (gal),Check valve SD\n" +
			"2018,A,15,2,19,3\n2019,A,14,2,18,3\n",
		"Sanitation trials 2018,,,,\n(all in gallons),,,,\nPlace,Year,Treatment,Sap per tap (gal),n\n" +
			"N,2018,Control,15 ± 2,6\nN,2018,Bleach,19.5 ± 3,6\nM,2018,Control,14 ± 2,6\nM,2018,Bleach,~18 ± 3,6\n" +
			"Total,,,66.5,24\nSource: notebook 4,,,,\n",
		"Lieu;An;Témoin;;Clapet;\n;;moyenne (L);ET;moyenne (L);ET\nN;2019;70,1;9;84,2;8\nM;2019;61,5;9,5;72;8\n",
		"Site,Year,Treatment,Yield,n\n,,,L/tap,\nN,2019,Control,70.1*,6\nN,2019,Bleach,84.2,6\nMean,,,77.2,\n" +
			"M,2019,Control,60.1,6\nM,2019,Bleach,74.2,6\n",
		// turned round, a column a season, a control beside each practice, a column a unit; titles, totals and remarks
		"Trials of the club,,\n,,\nTreatment,Control,Check valve\nSite,N,N\nYear,2019,2019\nSap (L/tap),70.1,84.2\n" +
			"n,6,6\n* from letters,,\n",
		"Yields (gal/tap),,,,\nSite,Treatment,2019,2020,Mean\nN,Control,14.2,15.1,14.65\nN,CV,19.8,21,20.4\n" +
			"Mean,,17,18.05,17.525\n",
		"Of the station;;;;\nLieu;Saison;Traitement;Témoin (L);Traité (L)\nN;2018;Chute neuve;55,1;70\n" +
			"M;2018;Antiretour;55;66\nMoyenne;;;55,05;68\n",
		"Place,Year,Treatment,Rep 1,Rep 2\nN,2018,Untreated,55,61\nN,2018,New drop,70,76\n,,,,\nThe end,,,,\n",
		// rows of which nothing is known, and one of a site of which nothing is
		"Place,Year,Treatment,Sap (gal)\nN,2018,CV,NA\nN,2018,Control,15\nN,2018,Bleach,16\nN,2018,New drop,NA\n" +
			"M,2018,Control,14\nM,2018,Bleach,17\nS,2018,CV,n.d.\n",
		"site,year,trt,tree,sap_l\nR,2019,control,1,55.2\nR,2019,control,2,61.8\nR,2019,check valve,3,72.5\n" +
			"R,2019,check valve,4,70.1\n",
	} {
		studies, words := asTyped(t, text)
		tables, rest := AsTyped(studies, words, practice.Shipped())
		if len(tables) != 1 || len(rest) > 0 {
			t.Errorf("%d tables, %d left of\n%s", len(tables), len(rest), text)
			continue
		}
		if got := string(tables[0].CSV()); got != text {
			t.Errorf("typed\n%s\ncomes back as\n%s", text, got)
		}
		dir := t.TempDir()
		table, toml := filepath.Join(dir, "a.csv"), filepath.Join(dir, "a.toml")
		os.WriteFile(table, tables[0].CSV(), 0o644)
		os.WriteFile(toml, []byte(tables[0].TOML()), 0o644)
		in, err := Read(table, toml)
		if err != nil || len(in.Studies) != len(studies) {
			t.Errorf("%v: %d studies of\n%s", err, len(in.Studies), text)
			continue
		}
		for i, s := range studies {
			if !reflect.DeepEqual(in.Studies[i].Said(), s.Said()) {
				t.Errorf("%+v\nreads as %+v", s.Said(), in.Studies[i].Said())
			}
		}
	}
}

// What is changed in a form changes in its cell, in its unit and word, and nowhere else; what no cell can say is left
// to the table of ours, and so is a study that came from none.
func TestChangedAsTyped(t *testing.T) {
	const text = "Place,Year,Treatment,Sap per tap,SD,Note\nN,2018,Control,15.00 gal,2.0,a\nN,2018,Bleach,72 L,NA,b\n" +
		"M,2019,Control,12 gal,1,c\nM,2019,Bleach,14 gal,1,d\n"
	for _, c := range []struct {
		what        string
		change      func(s *evidence.Study)
		was, is     string
		left, other int
	}{
		{"a mean in gallons", func(s *evidence.Study) { s.Arms[0].Mean = new(16.25) }, "15.00 gal", "16.25 gal", 0, 0},
		{"a practice", func(s *evidence.Study) { s.Arms[1].Practice = practice.PeroxideRinse }, "2018,Bleach",
			"2018,peroxide-rinse", 0, 0},
		{"a season", func(s *evidence.Study) { s.Season = 2017 }, "N,2018", "N,2017", 1, 0},
		{"a note", func(s *evidence.Study) { s.Arms[0].Extra = map[string]string{"note": "e"} }, "2.0,a", "2.0,e", 1,
			0},
		{"what no cell can say", func(s *evidence.Study) { s.Arms[0].Releaser = "electric" }, "", "", 1, 0},
		{"a study that came from no table", func(s *evidence.Study) { s.Typed = nil }, "", "", 1, 0},
	} {
		studies, words := asTyped(t, text)
		c.change(&studies[0])
		tables, rest := AsTyped(studies, words, practice.Shipped())
		if len(rest) != c.left || len(tables) != 1 {
			t.Errorf("%s: %d tables, %d left", c.what, len(tables), len(rest))
			continue
		}
		want := text
		if c.left == 0 {
			want = strings.Replace(text, c.was, c.is, 1)
		} else {
			want = "Place,Year,Treatment,Sap per tap,SD,Note\n" + text[strings.Index(text, "M,2019"):]
		}
		if got := tables[0].CSV(); !bytes.Equal(got, []byte(want)) {
			t.Errorf("%s:\n%s\nwant\n%s", c.what, got, want)
		}
	}
}

// Of a table that was turned round, and of which a study is gone, header and rows come back of what is left, and
// nothing that is gone.
func TestPartOfATurnedTable(t *testing.T) {
	studies, words := asTyped(t, "Yields (gal/tap),,,\nSite,Treatment,2019,2020\nN,Control,14.2,15.1\nN,CV,19.8,21\n")
	for i, want := range []string{"2020", "2019"} {
		tables, rest := AsTyped([]evidence.Study{studies[1-i]}, words, practice.Shipped())
		if len(tables) != 1 || len(rest) != 0 || !strings.Contains(string(tables[0].CSV()), want) ||
			strings.Contains(string(tables[0].CSV()), []string{"2019", "2020"}[i]) {
			t.Errorf("%d tables, %d left: %s", len(tables), len(rest), tables[0].CSV())
		}
	}
}
