package sheet

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// Tables as other people make them, with all guesses taken: what they say, worked out by hand beside each, or the
// fault. None may give a silent wrong answer.
func TestHostileTables(t *testing.T) {
	head := "Site,Year,Treatment,Yield (gal),n,SD\n"
	for _, c := range []struct{ name, text, want string }{
		{"titles, a winter of two years, stars, a total and a footnote",
			"Trials of sanitation;;;;;\nnot for print;;;;;\n" +
				"Site;Season;Treatment;Sap (gal/tap);SD;Reps\nNorth;2019/20;Control;18,5;2,1;6\n" +
				"North;2019/20;Check valve;22,4*;2,4;6\nTotal;;;40,9;;12\n* a chamber left out;;;;;\n",
			"North 2020/North/2020/unsanitized/18.5/2.1/6gal North 2020/North/2020/check-valve/22.4/2.4/6gal"},
		{"two header rows", "Site,Year,Control,,Check valve,,\n,,mean,SD,mean,SD,n\nNorth,2019,18.5,2.1,22.4,2.4,6\n",
			"North 2019/North/2019/unsanitized/18.5/2.1/ North 2019/North/2019/check-valve/22.4/2.4/6"},
		{"units in a row of their own",
			"Site,Year,Treatment,Yield,Vacuum,n\n,,,L/tap,kPa,\nNorth,2019,Control,70.1,80,6\n" +
				"North,2019,Check valve,84.2,80,6\n",
			"North 2019/North/2019/unsanitized/70.1//6l North 2019/North/2019/check-valve/84.2//6l"},
		{"footnote marks on numbers", head + "North,2019,Control,18.5¹,6,2\nNorth,2019,Check valve,22.4†,6,2\n",
			"North 2019/North/2019/unsanitized/18.5/2/6gal North 2019/North/2019/check-valve/22.4/2/6gal"},
		{"ranges for means", head + "North,2019,Control,24-76,6,2\nNorth,2019,Check valve,30-80,6,2\n",
			"is a range and no number"},
		{"about", head + "North,2019,Control,~15,6,2\nNorth,2019,Check valve,ca. 18,6,2\n",
			"North 2019/North/2019/unsanitized/15/2/6gal North 2019/North/2019/check-valve/18/2/6gal"},
		{"blank columns",
			"Site,,Year,Treatment,,Yield (gal),n,SD,,\nN,,2019,Control,,15,6,2,,\nN,,2019,Check valve,,18,6,2,,\n",
			"N 2019/N/2019/unsanitized/15/2/6gal N 2019/N/2019/check-valve/18/2/6gal"},
		{"a header that stands twice", "Site,Year,Treatment,Yield,Yield,n\nN,2019,Control,15,60,6\n", "stands twice"},
		{"means in the place of a practice", head + "N,2019,Control,15,6,2\nN,2019,Check valve,18,6,2\n" +
			"N,2019,Mean,16.5,12,2\nAll,2019,Average,16.5,12,2\n",
			"N 2019/N/2019/unsanitized/15/2/6gal N 2019/N/2019/check-valve/18/2/6gal"},
		{"names that hold for the rows below", head + "N,2019,Control,15,6,2\n,,Check valve,18,6,2\n,,Bleach,17,6,2\n",
			"N 2019/N/2019/unsanitized/15/2/6gal N 2019/N/2019/check-valve/18/2/6gal " +
				"N 2019/N/2019/chlorine-rinse/17/2/6gal"},
		{"practices in a column called for nothing",
			"Lieu;An;Colonne 3;L/ent;Nb\nN;2019;témoins;70,1;6\nN;2019;clapets;84,2;6\n",
			"N 2019/N/2019/unsanitized/70.1//6l N 2019/N/2019/check-valve/84.2//6l"},
		{"practices in words that nobody knows", "Lieu;An;Groupe;L/ent;Nb\nN;2019;A;70,1;6\nN;2019;B;84,2;6\n",
			`row 2, column Groupe: "A" is not known`},
		{"letters that are treatments", head + "N,2019,N,15,6,2\nN,2019,P,18,6,2\n", `column Treatment: "N" is not known`},
	} {
		if got := settled(t, "theirs.csv", []byte(c.text)); got != c.want && !(strings.Contains(got, "fault") ||
			strings.HasPrefix(got, "unsettled")) || !strings.Contains(got, c.want) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

// The same of a trial's own tables: readings and season tables.
func TestHostileTablesOfATrial(t *testing.T) {
	layout := "season,block,unit,practice,taps\n2025,1,A1,unsanitized,20\n2025,1,A2,check-valve,20\n" +
		"2025,2,B1,check-valve,20\n2025,2,B2,unsanitized,20\n"
	wide := func(text string) string {
		var b []byte
		for _, u := range utf16.Encode([]rune("\ufeff" + text)) {
			b = append(b, byte(u), byte(u>>8))
		}
		return string(b)
	}
	for _, c := range []struct{ name, text, want string }{
		{"a title above", "Sap readings 2025,,\nTree,Date,Sap (L)\nA1,2025-03-05,12\nA2,2025-03-05,13\n",
			"A1 03-05 12; A2 03-05 13"},
		{"units in a row of their own", "Tree,Date,Sap,Vacuum\n,,(L),(kPa)\nA1,2025-03-05,12,80\n", "A1 03-05 12"},
		{"semicolons, a mark of the byte order, commas",
			"\ufeffArbre;Date;Eau (L)\nA1;15/03/2025;12,5\nA2;16/03/2025;1 013,5\n",
			"A1 03-15 12.5; A2 03-16 1013.5"},
		{"UTF-16", wide("Arbre;Date;Eau (L)\nA1;15/03/2025;12,5\n"), "A1 03-15 12.5"},
		{"a letter of Windows", "\xc9rable;Date;Eau (L)\nA1;15/03/2025;12,5\n", "A1 03-15 12.5"},
		{"gallons in cells", "Tree,Date,Sap (L)\nA1,2025-03-05,10 gal\nA2,2025-03-05,12\n", // 10 × 3.785411784
			"A1 03-05 37.8541; A2 03-05 12"},
		{"days of which no order is told", "Tree,Date,Sap (L)\nA1,03/04/2025,12\n", `"03/04/2025" is not a date`},
		{"days of which one tells",
			"Tree,Date,Sap (L)\nA1,03/04/2025,12\nA1,15/04/2025,13\n", "A1 04-03 12; A1 04-15 13"},
		{"a total below", "Tree,Date,Sap (L)\nA1,2025-03-05,12\nTotal,,12\n", "A1 03-05 12"},
		{"a range", "Tree,Date,Sap (L)\nA1,2025-03-05,12-14\n", "is a range and no number"},
		{"about", "Tree,Date,Sap (L)\nA1,2025-03-05,~12\n", "not a number"},
		{"a footnote mark", "Tree,Date,Sap (L)\nA1,2025-03-05,12*\n", "not a number"},
		{"less than", "Tree,Date,Sap (L)\nA1,2025-03-05,<1\n", "is a limit and no number"},
		{"not read", "Tree,Date,Sap (L),Brix\nA1,2025-03-05,NA,2.1\n", `unknown = ["NA"]`},
		{"thousands or decimals", "Tree,Date,Sap (L)\nA1,2025-03-05,\"1,200\"\n", "point = "},
		{"no unit at all", "Tree,Date,Sap\nA1,2025-03-05,12\n", "the unit of the column Sap is not said"},
		{"a header that stands twice", "Tree,Date,Sap (L),Sap (L)\nA1,2025-03-05,12,13\n", "stands twice"},
		{"in two units", "Tree,Date,Sap (L),Sap (gal)\nA1,2025-03-05,12,3\n", "say the same in two units"},
		{"a blank column", "Tree,,Date,Sap (L)\nA1,,2025-03-05,12\n", "A1 03-05 12"},
		{"the header again", "Tree,Date,Sap (L)\nA1,2025-03-05,12\nTree,Date,Sap (L)\nA2,2025-03-05,13\n",
			"A1 03-05 12; A2 03-05 13"},
	} {
		dir := t.TempDir()
		put := func(name, text string) string {
			path := filepath.Join(dir, name)
			os.WriteFile(path, []byte(text), 0o644)
			return path
		}
		got, _, err := Trial(trial.Trial{}, practice.Shipped(), nil, put("layout.csv", layout), put("read.csv", c.text))
		said := fmt.Sprint(err)
		if err == nil {
			var list []string
			for _, r := range got.Records[0].Readings {
				list = append(list, fmt.Sprintf("%s %s %.6g", r.Unit, r.At.Format("01-02"), float64(*r.Volume)))
			}
			said = strings.Join(list, "; ")
		}
		if said != c.want && (err == nil || !strings.Contains(said, c.want)) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, said, c.want)
		}
	}
}
