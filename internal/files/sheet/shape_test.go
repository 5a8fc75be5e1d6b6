package sheet

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"spile/internal/note"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// read is a table of somebody else's as a run reads it once all that is guessed of it is settled: its arms, each
// study/site/season/practice/mean/sd/n.
func settled(t *testing.T, name string, data []byte, rows ...string) string {
	t.Helper()
	dir := t.TempDir()
	table, names := filepath.Join(dir, name), filepath.Join(dir, "names.toml")
	os.WriteFile(table, data, 0o644)
	in, err := Read(table)
	if err != nil {
		_, toml, ok := strings.Cut(err.Error(), "read with the table:\n")
		if !ok {
			return "unsettled: " + err.Error()
		}
		if len(rows) > 0 {
			toml += "\n[rows]\n" + strings.Join(rows, "\n") + "\n"
		}
		os.WriteFile(names, []byte(toml), 0o644)
		if in, err = Read(table, names); err != nil {
			return "at fault: " + err.Error() + "\n" + toml
		}
	}
	var arms []string
	for _, s := range in.Studies {
		for _, a := range s.Arms {
			num := func(x *float64) string {
				if x == nil {
					return ""
				}
				return fmt.Sprintf("%.6g", *x)
			}
			text := strings.Join([]string{s.Name, s.Site, fmt.Sprint(s.Season), string(a.Practice), num(a.Mean),
				num(a.SD), num(a.N)}, "/")
			if a.Gain != nil {
				text = fmt.Sprintf("%s/%s/%d/%s/%g%%/%s..%s/se %s", s.Name, s.Site, s.Season, a.Practice, a.Gain.Pct,
					num(a.Gain.LowPct), num(a.Gain.HighPct), num(a.Gain.SEPct))
			}
			arms = append(arms, text+string(a.MeanUnit))
		}
	}
	return strings.Join(arms, " ")
}

// Tables in the shapes that people give them, in both languages, read with all guesses taken. The means and standard
// deviations of raw rows are worked out by hand: of 55, 61 and 58 the mean is 58, the sum of squares 18 and the sd 3;
// of 70, 76 and 73 they are 73 and 3.
func TestShapes(t *testing.T) {
	const two = "N 2018/N/2018/unsanitized/15/2/6gal N 2018/N/2018/new-drop/19/3/6gal"
	for _, c := range []struct{ what, text, want string }{
		{"a title, a row of units, blanks that mean as above, a season of two years, a total, a remark",
			"Essais du club;;;;;;\n;;;;;;\nÉrablière;Saison;Traitement;Rendement;Écart-type;Nb de chambres\n" +
				";;;(gal/entaille);(gal/entaille);\nN;2017-18;Témoin;15,0;2,0;6\n;;Chute neuve;19,0;3,0;6\n" +
				"Moyenne;;;17,0;;\n* données préliminaires;;;;;\n", two},
		{"a title in quotes, notes below", "\"Demo, spring trials\"\n\nFarm,Year,What we did,Gallons per tap,SD,n\n" +
			"N,2018,Control,15,2,6\nN,2018,New drops,19,3,6\n\n\"Note: gallons are totals, by taps\"\n", two},
		{"mean ± SD said in the header", "Place,Year,Treatment,Sap (gal/tap) mean ± SD,n\n" +
			"N,2018,Untreated,15 ± 2,6\nN,2018,New drop,19 ± 3,6\n", two},
		{"± said before the unit", "Place,Year,Treatment,Sap ± SD (gal),n\n" +
			"N,2018,Untreated,15 ± 2,6\nN,2018,New drop,19 ± 3,6\n", two},
		{"SD in brackets before the unit", "Place,Year,Treatment,Mean (SD) yield gal/tap,n\n" +
			"N,2018,Untreated,15 (2),6\nN,2018,New drop,19 (3),6\n", two},
		{"columns parted by spaces", "Place   Year   Treatment   Sap (gal/tap)  SD  n\n" +
			"N       2018   Untreated   15             2   6\nN       2018   New drop    19             3   6\n", two},
		{"the control beside each practice", "Place,Year,Treatment,Control mean (gal),Control SD,Control n," +
			"Treatment mean (gal),Treatment SD,Treatment n,Gain (gal)\nN,2018,New drop,15,2,6,19,3,6,4\n", two},
		{"one control beside two practices", "Place;Saison;Traitement;Témoin (L);Traité (L)\n" +
			"N;2018;Chute neuve;55;70\nN;2018;Antiretour;55;66\n",
			"N 2018/N/2018/unsanitized/55//l N 2018/N/2018/new-drop/70//l N 2018/N/2018/check-valve/66//l"},
		{"control and practice by letters", "Place,Year,Practice,Mean_C,SD_C,N_C,Mean_T,SD_T,N_T\n" +
			"N,2018,New drop,15,2,6,19,3,6\n", strings.ReplaceAll(two, "gal", "")},
		{"CV is a check valve, below blanks that mean as above", "Place,Year,Treatment,Sap (gal)\n" +
			"N,2018,Control,15\n,,CV,19\n",
			"N 2018/N/2018/unsanitized/15//gal N 2018/N/2018/check-valve/19//gal"},
		{"totals of gallons beside taps", "Place;Year;Treatment;Taps;Total gallons\n" +
			"N;2018;Untreated;200;3000\nN;2018;New drop;198;3762\n",
			"N 2018/N/2018/unsanitized/15//gal N 2018/N/2018/new-drop/19//gal"},
		{"a column of units", "Place,Year,Treatment,Yield,Units\nN,2018,Untreated,15,gal/tap\n" +
			"N,2018,New drop,19,gal/tap\n",
			"N 2018/N/2018/unsanitized/15//gal N 2018/N/2018/new-drop/19//gal"},
		{"a column a run", "Place,Year,Treatment,Tree,Run 1,Run 2\nN,2018,Untreated,1,20,35\n" +
			"N,2018,Untreated,2,21,40\nN,2018,Untreated,3,22,36\nN,2018,New drop,4,30,40\nN,2018,New drop,5,32,44\n" +
			"N,2018,New drop,6,31,42\n", "N 2018/N/2018/unsanitized/58/3/3 N 2018/N/2018/new-drop/73/3/3"},
		// of taps each: 3000 / 200 = 15 and 1900 / 100 = 19
		{"taps and totals of both beside each practice", "Place,Year,Treatment,Control taps,Treated taps," +
			"Control total gal,Treated total gal\nN,2018,New drop,200,100,3000,1900\n",
			"N 2018/N/2018/unsanitized/15//gal N 2018/N/2018/new-drop/19//gal"},
		{"the same in French", "Lieu;Saison;Traitement;Nb entailles témoin;Nb entailles traité;Témoin total (L);" +
			"Traité total (L)\nN;2018;Chute neuve;200;100;3000;1900\n",
			"N 2018/N/2018/unsanitized/15//l N 2018/N/2018/new-drop/19//l"},
		{"one control beside two practices, blanks that mean as above",
			"Place;Saison;Traitement;Témoin (L);Traité (L)\nN;2018;Chute neuve;55;70\n;;Antiretour;55;66\n",
			"N 2018/N/2018/unsanitized/55//l N 2018/N/2018/new-drop/70//l N 2018/N/2018/check-valve/66//l"},
		{"the place beside whose it is", "Producer,Location,Year,Treatment,Sap (gal)\nR,Hill,2018,Control,15\n" +
			"R,Hill,2018,New drop,19\nR,Vale,2018,Control,10\nR,Vale,2018,New drop,11\n",
			"Hill 2018/Hill/2018/unsanitized/15//gal Hill 2018/Hill/2018/new-drop/19//gal " +
				"Vale 2018/Vale/2018/unsanitized/10//gal Vale 2018/Vale/2018/new-drop/11//gal"},
		{"whose it is, and no place", "Owner,Year,Treatment,Sap (gal)\nR,2018,Control,15\nR,2018,New drop,19\n",
			"R 2018/R/2018/unsanitized/15//gal R 2018/R/2018/new-drop/19//gal"},
		{"R2 is no repetition", "Site,Year,Treatment,Gain (%),R2\nN,2018,New spout,11,0.9\nN,2018,New drop,19,0.93\n",
			"N 2018/N/2018/unsanitized/// N 2018/N/2018/new-spout/11%/../se  N 2018/N/2018/new-drop/19%/../se "},
		{"SD in brackets before a unit in brackets", "Place,Year,Treatment,Mean (SD) yield (gal/tap),n\n" +
			"N,2018,Untreated,15 (2),6\nN,2018,New drop,19 (3),6\n", two},
		{"CV (%) is no check valve beside means", "Site,Year,Control,New drop,CV (%)\nN,2018,15,19,12\n",
			"N 2018/N/2018/unsanitized/15// N 2018/N/2018/new-drop/19//"},
		{"CV (%) is one among gains", "Site,Year,New drop (%),CV (%)\nN,2018,19,12\n",
			"N 2018/N/2018/unsanitized/// N 2018/N/2018/new-drop/19%/../se  N 2018/N/2018/check-valve/12%/../se "},
		{"litres under litres of 100 taps", "Site,Year,Treatment,Sap (L/100 taps)\nN,2018,Control,1500 L\n" +
			"N,2018,New drop,1900 L\n", "N 2018/N/2018/unsanitized/15//l N 2018/N/2018/new-drop/19//l"},
		{"litres of a tap under litres of 100", "Site,Year,Treatment,Sap (L/100 taps)\nN,2018,Control,15 L/tap\n" +
			"N,2018,New drop,1900\n", "N 2018/N/2018/unsanitized/15//l N 2018/N/2018/new-drop/19//l"},
		{"a column a unit", "Place,Year,Treatment,Rep 1,Rep 2,Rep 3\nN,2018,Untreated,55,61,58\n" +
			"N,2018,New drop,70,76,73\n", "N 2018/N/2018/unsanitized/58/3/3 N 2018/N/2018/new-drop/73/3/3"},
		{"± and letters of a comparison", "Place,Year,Treatment,Sap (gal/tap),n\n" +
			"N,2018,Untreated,15.0 ± 2.0 b,6\nN,2018,New drop,19.0 ± 3.0 a,6\n", two},
		{"+/- and letters before it", "Place,Year,Treatment,Sap (gal/tap),n\n" +
			"N,2018,Untreated,15.0b +/- 2.0,6\nN,2018,New drop,19.0a +/- 3.0,6\n", two},
		{"SD in brackets", "Place,Year,Treatment,Sap (gal) (SD),n\n" +
			"N,2018,Untreated,15 (2),6\nN,2018,New drop,19 (3),6\n",
			two},
		{"n in brackets", "Place,Year,Treatment,Sap (gal),SD\n" +
			"N,2018,Untreated,15 (n=6),2\nN,2018,New drop,19 (n = 6),3\n",
			two},
		{"about", "Place,Year,Treatment,Sap (gal),SD,n\nN,2018,Untreated,~15,2,6\nN,2018,New drop,env. 19,3,6\n", two},
		{"two rows of a header", ",,Control,,,New drop,,\nPlace,Year,Mean (gal),SD,n,Mean (gal),SD,n\n" +
			"N,2018,15,2,6,19,3,6\n", two},
		{"two rows of a header, the upper with all",
			"Place,Year,Control,,,New drop,,\n,,Mean (gal),SD,n,Mean (gal),SD,n\n" +
				"N,2018,15,2,6,19,3,6\n", two},
		{"read down", "Place,N\nYear,2018\nControl (gal),15\nControl SD,2\nControl n,6\nNew drop (gal),19\n" +
			"New drop SD,3\nNew drop n,6\n", two},
		{"practices down, studies across", "Treatment,N 2018,S 2019\nControl,15,13\nNew drop,19,16\nMean,17,14.5\n",
			"N 2018/N/2018/unsanitized/15// N 2018/N/2018/new-drop/19// S 2019/S/2019/unsanitized/13// " +
				"S 2019/S/2019/new-drop/16//"},
		{"practices across, studies down", "Essai;Témoin;Chute neuve\nN 2018;15,5;19\nS 2019;13;16\n",
			"N 2018/N/2018/unsanitized/15.5// N 2018/N/2018/new-drop/19// S 2019/S/2019/unsanitized/13// " +
				"S 2019/S/2019/new-drop/16//"},
		{"a row a tree, from R", "\"\",\"site\",\"year\",\"trt\",\"rep\",\"tree\",\"sap_l\"\n" +
			"\"1\",\"N\",2018,\"control\",1,\"T1\",55\n\"2\",\"N\",2018,\"control\",2,\"T2\",61\n" +
			"\"3\",\"N\",2018,\"control\",3,\"T3\",58\n\"4\",\"N\",2018,\"new drop\",1,\"T4\",70\n" +
			"\"5\",\"N\",2018,\"new drop\",2,\"T5\",76\n\"6\",\"N\",2018,\"new drop\",3,\"T6\",73\n" +
			"\"7\",\"N\",2018,\"new drop\",4,\"T7\",NA\n",
			"N 2018/N/2018/unsanitized/58/3/3l N 2018/N/2018/new-drop/73/3/3l"},
		{"a row a block, practices across",
			"Place;Year;Block;Control (L);New drop (L)\nN;2018;1;55;70\nN;2018;2;61;76\n" +
				"N;2018;3;58;73\n", "N 2018/N/2018/unsanitized/58/3/3l N 2018/N/2018/new-drop/73/3/3l"},
		{"gains with their interval in one cell", "Report,Place,Yr,Method,Increase over control,95% CI\n" +
			"R,N,2018,New drop,\"31,5 %\",25 – 37\n",
			"R/N/2018/unsanitized/// R/N/2018/new-drop/31.5%/25..37/se "},
		{"gains with their interval in brackets", "Report;Lieu;Année;Méthode;Augmentation\n" +
			"R;N;2018;Chute neuve;\"31,5 % [25; 37]\"\n", "R/N/2018/unsanitized/// R/N/2018/new-drop/31.5%/25..37/se "},
		{"gains ± their error", "Report;Place;Year;Method;Gain (%)\nR;N;2018;New drop;31.5 ± 3\n",
			"R/N/2018/unsanitized/// R/N/2018/new-drop/31.5%/../se 3"},
		{"the header again on each page, and a year as R writes it", "Place,Year,Treatment,Sap (gal),SD,n\n" +
			"N,2018.0,Untreated,15,2,6\nPlace,Year,Treatment,Sap (gal),SD,n\nN,2018.0,New drop,19,3,6\n", two},
		{"practices named twice in their headers, and units below",
			"Station;Spring;Old spout (control);;;New drop;;\n" +
				";;gal/tap;SD;n;gal/tap;SD;n\nN;2018;15,0;2,0;6;19,0;3,0;6\n", two},
		{"the same header behind each practice, and a gain that follows from the means",
			"Place\tYear\tControl (gal)\tSD\tn\tNew drop (gal)\tSD\tn\tpct gain\nN\t2018\t15\t2\t6\t19\t3\t6\t26.7\n",
			two},
		{"all sap of a unit beside that of a tap", "Secteur,Année,Traitement,Entailles,\"Eau totale (gal)\"," +
			"\"Rendement (gal/ent.)\",ET,Nb\nN,2018,Vieux chalumeaux,200,\"3 000\",\"15,0\",2,6\n" +
			"N,2018,Chutes neuves,198,\"3 762\",\"19,0\",3,6\nTOTAL,,,398,\"6 762\",,,\n", two},
		{"the season in words", "Lieu;Saison;Traitement;Sève (gal);ET;Nb\nN;printemps 2018;Aucun;15;2;6\n" +
			"N;hiver 2017-2018;Chutes neuves;19;3;6\n", two},
		{"the season by the day of tapping",
			"Place,Tap date,Treatment,Sap (gal),SD,n\nN,2018-02-14,Untreated,15,2,6\n" +
				"N,2018-02-15,New drop,19,3,6\n", two},
		{"inches in a cell that no quotes enclose", "Place\tYear\tTreatment\tSap (gal)\tSD\tn\tTubing\n" +
			"N\t2018\tUntreated\t15\t2\t6\t5/16\"\nN\t2018\tNew drop\t19\t3\t6\t5/16\"\n", two},
		{"a tab for each column and numbers with hard spaces", "Lieu\tAnnée\tTraitement\tSève (ml)\tn\n" +
			"N\t2018\tTémoin\t56\u00a0781,18\t6\nN\t2018\tChute neuve\t71’922,82\t6\n",
			"N 2018/N/2018/unsanitized/56.7812//6l N 2018/N/2018/new-drop/71.9228//6l"},
	} {
		if got := settled(t, "t.csv", []byte(c.text)); got != c.want {
			t.Errorf("%s: read as\n  %s, want\n  %s\n%s", c.what, got, c.want, c.text)
		}
	}
}

// What statistics stand below a table of practices does not make its check valves one of them; a coefficient of
// variation beside others is one. A unit that lacks a reading is told.
func TestWhatSumsUp(t *testing.T) {
	m := meant(t, "Treatment,2018,2019\nControl,15,13\nNew drop,17,14\nCV,19,16\nMean,17,14.3\n")
	if got := m.under("practice"); got != "unsanitized|new-drop|check-valve|unsanitized|new-drop|check-valve" {
		t.Errorf("practices: %s", got)
	}
	m = meant(t, "Treatment,2018,2019\nControl,15,13\nNew drop,17,14\nMean,16,13.5\nCV,12,11\nLSD,1.2,1.1\n")
	if got := m.under("practice"); got != "unsanitized|new-drop|unsanitized|new-drop" {
		t.Errorf("practices: %s", got)
	}
	// sites above their seasons tell them apart, and are no units of one study
	m = meant(t, ",Ridge,,Hollow,\nTreatment,2021,2022,2021,2022\nControl,15,13,14,12\nCV spout,18,16,17,15\n")
	if m.under("season") != "2021|2021|2022|2022|2021|2021|2022|2022" ||
		m.under("site") != "Ridge|Ridge|Ridge|Ridge|Hollow|Hollow|Hollow|Hollow" {
		t.Errorf("%v: %v", m.Columns, m.Rows)
	}
	// a table of pooled gains has practices down, and no studies across
	m = meant(t, "Practice,Studies,Mean gain (%),95% CI low,95% CI high\nNew spout,5,11,3,19\nCheck valve,8,28,18,39\n")
	if m.under("mean") != "no such column" || m.under("gain_pct") != "11|28" || m.under("gain_low_pct") != "3|18" {
		t.Errorf("%v: %v", m.Columns, m.Rows)
	}
	m = meant(t, "Site,Tree,Date,Treatment,Sap (L)\nN,T1,2021-03-05,Control,4\nN,T1,2021-03-12,Control,6\n"+
		"N,T2,2021-03-05,Control,5\nN,T3,2021-03-05,New drop,5\nN,T3,2021-03-12,New drop,7\n")
	if len(m.Few) != 1 || m.Few[0] != "T2" || !strings.Contains(fmt.Sprint(m.Derived()), "T2") {
		t.Errorf("%v, %v", m.Few, m.Derived())
	}
	// what a practice gave is not known where one of its runs is blank, and others of its site have it
	for _, c := range []struct{ rows, practices, means, few string }{
		{"N,2018,Control,20,20,15\nN,2018,New drop,25,24,\n", "unsanitized", "55", ""},
		{"N,2018,Control,20,20,\nN,2018,New drop,25,24,\nS,2018,Control,9,8,7\nS,2018,New drop,9,9,9\n",
			"unsanitized|new-drop|unsanitized|new-drop", "40|49|24|27", ""},
		{"N,2018,Control,20,20,15\n,,New drop,25,24,\n", "unsanitized", "55", ""},
	} {
		m = meant(t, "Site,Year,Treatment,Run 1,Run 2,Run 3\n"+c.rows)
		if m.under("practice") != c.practices || m.under("mean") != c.means || len(m.Few) > 0 {
			t.Errorf("%s: %v: %v, %v", c.rows, m.Columns, m.Rows, m.Few)
		}
	}
	m = meant(t, "Site,Date,Treatment,Sap (L)\nN,2021-03-05,Control,4\nN,2021-03-12,Control,6\n"+
		"N,2021-03-05,New drop,9\n")
	if strings.Join(m.Few, "|") != "new-drop" {
		t.Errorf("%v: %v", m.Rows, m.Few)
	}
	// one of which no repetition is known is not forgotten, and gave no 0
	m = meant(t, "Site,Year,Treatment,Rep 1,Rep 2\nN,2018,Control,,\nN,2018,CV,17,18\nN,2018,New drop,19,20\n")
	if m.under("practice") != "unsanitized|check-valve|new-drop" || m.under("mean") != "|17.5|19.5" {
		t.Errorf("%v: %v", m.Columns, m.Rows)
	}
	m = meant(t, "Site,Year,Treatment,Sap (L)\nN,2018,Control,\nN,2018,Control,\nN,2018,CV,17\nN,2018,CV,18\n")
	if m.under("mean") != "|17.5" {
		t.Errorf("%v: %v", m.Columns, m.Rows)
	}
}

// Texts as older programs write them: UTF-16 with its mark, and Windows-1252.
func TestTextsOfOlderPrograms(t *testing.T) {
	text := "Érablière;Année;Traitement;Rendement (L)\nRang É;2019;Témoin;15,2\nRang É;2019;Chute neuve;17,9\n"
	const want = "Rang É 2019/Rang É/2019/unsanitized/15.2//l Rang É 2019/Rang É/2019/new-drop/17.9//l"
	units := utf16.Encode([]rune("\ufeff" + text))
	var little, big, windows bytes.Buffer
	for _, u := range units {
		little.Write([]byte{byte(u), byte(u >> 8)})
		big.Write([]byte{byte(u >> 8), byte(u)})
	}
	for _, r := range text { // the code points of Latin-1 are its bytes (ISO/IEC 8859-1)
		windows.WriteByte(byte(r))
	}
	for name, data := range map[string][]byte{"little": little.Bytes(), "big": big.Bytes(), "windows": windows.Bytes(),
		"UTF-8 with a mark":    []byte("\ufeff" + text),
		"the line ends of old": []byte(strings.ReplaceAll(text, "\n", "\r"))} {
		if got := settled(t, "t.csv", data); got != want {
			t.Errorf("%s: %s", name, got)
		}
	}
}

// A workbook of a spreadsheet program: the table is not on its first sheet, its header has merged cells, and a place
// stands in a cell merged over its rows.
func TestAStationsWorkbook(t *testing.T) {
	x := excelize.NewFile()
	x.SetSheetRow("Sheet1", "A1", &[]any{"Read me first"})
	x.NewSheet("Yields")
	for i, row := range [][]any{
		{"Sap yields of the station"},
		{"Site", "Year", "Control", nil, "Check valve", nil},
		{nil, nil, "Mean (gal)", "SD", "Mean (gal)", "SD"},
		{"Alder", 2016, 15.0, 2.0, 18.5, 2.5},
		{nil, 2017, 13.0, 1.5, 16.0, 2.0},
	} {
		x.SetSheetRow("Yields", fmt.Sprintf("A%d", i+1), &row)
	}
	for _, m := range [][2]string{{"A2", "A3"}, {"B2", "B3"}, {"C2", "D2"}, {"E2", "F2"}, {"A4", "A5"}, {"A1", "F1"}} {
		x.MergeCell("Yields", m[0], m[1])
	}
	x.NewSheet("Costs")
	x.SetSheetRow("Costs", "A1", &[]any{"Item", "Price"})
	var b bytes.Buffer
	if err := x.Write(&b); err != nil {
		t.Fatal(err)
	}
	want := "Alder 2016/Alder/2016/unsanitized/15/2/gal Alder 2016/Alder/2016/check-valve/18.5/2.5/gal " +
		"Alder 2017/Alder/2017/unsanitized/13/1.5/gal Alder 2017/Alder/2017/check-valve/16/2/gal"
	if got := settled(t, "t.xlsx", b.Bytes()); got != want {
		t.Errorf("%s", got)
	}
}

// What may be meant otherwise is asked, once, and is no answer unasked: which spread stands behind ±, whether rows of
// one practice are units, whether a blank means what stands above.
func TestShapesAreAsked(t *testing.T) {
	head := "study,site,season,practice,"
	for _, c := range []struct{ text, asked, fault string }{
		{head + "mean\nA,n,2018,unsanitized,15 ± 2\nA,n,2018,new-drop,19 ± 3\n", "columns mean ±=sd",
			"standard deviations or standard errors"},
		{head + "mean\nA,n,2018,unsanitized,15\n,,,new-drop,19\n",
			"blanks study=above; blanks season=above; blanks site=above", "which is needed (rows: 1)"},
		{head + "mean\nA,n,2018,unsanitized,15\nA,n,2018,unsanitized,16\nA,n,2018,new-drop,19\n",
			"repeats mean=units", "stands in several rows (rows: 2)"},
		{head + "mean\nA,n,2018,unsanitized,15\nA,n,2018,new-drop,<1\n", "unknown <1=", `"<1"`},
	} {
		if got := meant(t, c.text).questions(); got != c.asked {
			t.Errorf("%q asks %q, want %q", c.text, got, c.asked)
		}
		_, _, err := Evidence("e.csv", []byte(c.text), practice.Shipped(), nil)
		if err == nil || !strings.Contains(err.Error(), c.fault) {
			t.Errorf("%q: %v", c.text, err)
		}
	}
	// Rows that are means themselves stay two of one practice.
	_, _, err := Evidence("e.csv", []byte(head+"mean,n\nA,n,2018,unsanitized,15,6\nA,n,2018,unsanitized,16,6\n"+
		"A,n,2018,new-drop,19,6\n"), practice.Shipped(), nil)
	if err == nil || !strings.Contains(err.Error(), "stands twice in the study") {
		t.Errorf("%v", err)
	}
	m := meant(t, head+"mean\nA,n,2018,unsanitized,15\nA,n,2018,new-drop,<1\n",
		gloss.Sense{Of: gloss.Unknown, Said: "<1", Means: gloss.Unknown})
	if m.under("mean") != "15" || m.Unmeasured != 1 || m.questions() != "" {
		t.Errorf("%v %s", m.Rows, m.questions())
	}
}

// What is said of one season, or of two.
func TestSeasonsOfOthers(t *testing.T) {
	for text, want := range map[string]string{"2018": "2018", "2017-18": "2018", "2017/18": "2018", "1999-00": "2000",
		"2018.0": "2018", "Spring 2018": "2018", "saison 2018": "2018", "2018 season": "2018",
		"hiver 2017-2018": "2018",
		"2017-2018":       "", "2016-18": "", "18": "", "2018 and 2019": "", "": ""} {
		if got, _ := seasonOf(text, false); got != want {
			t.Errorf("%q is of %q, want %q", text, got, want)
		}
	}
}

// What is written down of a trial in headers and days of others is what it is in ours; what it took for what is said.
func TestATrialInWordsOfOthers(t *testing.T) {
	const layout = "season,block,unit,practice,taps\n2026,1,A,unsanitized,20\n2026,1,B,new-drop,20\n"
	read := func(layout, readings string) (string, note.List) {
		dir := t.TempDir()
		one, two := filepath.Join(dir, "l.csv"), filepath.Join(dir, "r.csv")
		os.WriteFile(one, []byte(layout), 0o644)
		os.WriteFile(two, []byte(readings), 0o644)
		got, notes, err := Trial(trial.Trial{}, practice.Shipped(), nil, one, two)
		if err != nil {
			return err.Error(), notes
		}
		text := ""
		for _, r := range got.Records {
			for _, p := range r.Plots {
				text += fmt.Sprint(r.Season, p.Unit, p.Practice, p.Taps, " ")
			}
			for _, x := range r.Readings {
				text += fmt.Sprintf("%s %s %.4g %v; ", x.Unit, x.At.Format("01-02 15:04"), float64(*x.Volume), *x.Brix)
			}
		}
		return text, notes
	}
	want, _ := read(layout, "unit,date,volume_l,brix\nA,2026-03-05 17:30,120.5,2.1\nB,2026-03-15,131,2\n")
	got, notes := read("Année;Bloc;Étiquette;Traitement;Nombre d'entailles\n"+
		"2026;1;A;unsanitized;20\n2026;1;B;New drop;20\n",
		"Unité;Jour;Sève (L);Sucre\nA;5/3/2026 17:30;120,5;2,1\nB;15/3/2026;131;2\n")
	if strings.HasPrefix(want, "/") || got != want || len(notes) < 2 {
		t.Errorf("read as\n%s, want\n%s\n%v", got, want, notes)
	}
	got, _ = read("Year,Rep,Tree,Treatment,Tap count\n2026,1,A,Unsanitized,20\n2026,1,B,new drop,20\n",
		"Tag,Date,Sap (gal),Sugar\nA,3/5/2026 17:30,31.832757,2.1\nB,3/15/2026,34.606523,2\n") // over 3.785411784
	if got != want {
		t.Errorf("read as\n%s, want\n%s", got, want)
	}
}

// Whatever a table is, putting it into shape keeps its rows as wide as its header, and understanding it makes no row of
// two halves.
func FuzzShapes(f *testing.F) {
	for _, s := range []string{"a;b\n;(gal)\nN;15 ± 2 b\nTotal;3\n",
		",,Control,,CV,\nSite,Year,Mean,SD,Mean,SD\nN,2018,1,2,3,4\n",
		"Site,N\nYear,2018\nControl,1\nCV,2\n", "T,N 2018\nControl,1\nCV,2\n", "\"\",x\n1,~2\n2,3 (n=4)\n",
		"study,site,season,practice,mean\nA,n,2018,unsanitized,1\nA,n,2018,unsanitized,2\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 4096 {
			return
		}
		g, err := GridOf("t.csv", data, nil, practice.Shipped())
		if err != nil {
			return
		}
		for i, row := range g.Rows {
			if len(row) != len(g.Columns) {
				t.Fatalf("row %d has %d cells below %d headers", i, len(row), len(g.Columns))
			}
		}
		m := g.Understand(nil, practice.Shipped())
		if len(m.Rows) != len(m.From) || len(m.Columns) != len(m.Headers) {
			t.Fatalf("%d rows from %d, %d columns of %d headers", len(m.Rows), len(m.From), len(m.Columns),
				len(m.Headers))
		}
		for _, row := range m.Rows {
			if len(row) != len(m.Columns) {
				t.Fatalf("%d cells below %d columns", len(row), len(m.Columns))
			}
		}
		Evidence("t.csv", data, practice.Shipped(), nil) // which may find fault, and does not fall
	})
}

// What people type: each is read as meant, or refused with what is allowed. Common practice, no source; of each table
// the first arm has a mean of 15 and the second of 19, with sd of 2 and 3 of 6 trees, in gallons.
func TestTypingsOfOthers(t *testing.T) {
	const head = "Place,Year,Treatment,Sap per tap (gal),SD,Trees"
	const two = "N 2018/N/2018/unsanitized/15/2/6gal N 2018/N/2018/new-drop/19/3/6gal"
	for _, c := range []struct{ what, header, first, second, want string }{
		{"a star behind one number", head, "N,2018,Control,15,2,6", "N,2018,New drop,19*,3,6", two},
		{"years cut short", head, "N,'18,Control,15,2,6", "N,’18,New drop,19,3,6", two},
		{"an apostrophe that keeps a text", head, "N,2018,Control,'15,'2,6", "N,2018,New drop,'19,'3,6", two},
		{"an sd in the unit of its mean", "Place,Year,Treatment,Sap per tap (mL),SD,Trees",
			"N,2018,Control,15000,2000,6", "N,2018,New drop,19000,3000,6", strings.ReplaceAll(two, "gal", "l")},
		{"inches of mercury by their mark", head + ",Vacuum", `N,2018,Control,15,2,6,"24"""`,
			"N,2018,New drop,19,3,6,24″", two},
		{"what a formula that fails leaves", head, "N,2018,Control,15,#DIV/0!,6", "N,2018,New drop,19,#VALUE!,6",
			strings.NewReplacer("/2/", "//", "/3/", "//").Replace(two)},
		{"a range", head, "N,2018,Control,14-16,2,6", "N,2018,New drop,19,3,6", `"14-16" is a range`},
		{"a limit", head, "N,2018,Control,15,<2,6", "N,2018,New drop,19,3,6", `"<2" is a limit`},
	} {
		got := settled(t, "t.csv", []byte(c.header+"\n"+c.first+"\n"+c.second+"\n"))
		if ok := strings.Contains(got, c.want) && (strings.Count(got, "t.csv, row") == 1) == (c.want[0] == '"'); !ok {
			t.Errorf("%s: %s", c.what, got)
		}
	}
	if said := fmt.Sprint(notNumber("(3–5)")); !strings.Contains(said, "is a range") {
		t.Error(said)
	}
}

// The standard error behind the interval of a mean, as the Cochrane Handbook (6.5.2.2) has it: 2 / qt(0.975, 7) and
// 2 / qnorm(0.95) of R 4.5.
func TestIntervalsOfMeans(t *testing.T) {
	const rows = "N,2018,Control,15,13,17,8\nN,2018,New drop,19,17,21,\n"
	for header, want := range map[string]string{
		"Place,Year,Treatment,Sap per tap (gal),Lower 95 % CI,Upper 95 % CI,Trees": "0.8458003 1.020427",
		"Place,Year,Treatment,Sap per tap (gal),Lower (90%),Upper (90%),Trees":     "1.055644 1.215914",
		"Place,Year,Treatment,Sap per tap (gal),Lower,Upper,Trees":                 "no header stands for level",
	} {
		m := meant(t, header+"\n"+rows)
		studies, _, err := Evidence("t.csv", []byte(header+"\n"+rows), practice.Shipped(), guesses(m))
		got := fmt.Sprint(err)
		if err == nil {
			got = fmt.Sprintf("%.7g %.7g", *studies[0].Arms[0].SE, *studies[0].Arms[1].SE)
		}
		if !strings.Contains(got, want) {
			t.Errorf("%s: %s, want %s", header, got, want)
		}
	}
}

// guesses are all that is guessed of a table.
func guesses(m Meant) (words gloss.Glossary) {
	for _, a := range m.Asked {
		words = append(words, a.Sense)
	}
	return words
}

// A spreadsheet with a sheet a season is one table, where the header is the same; which of two tables is meant is
// asked; what is hidden is said.
func TestSheetsOfOneTable(t *testing.T) {
	book := func(second []any, hide bool) []byte {
		x := excelize.NewFile()
		x.SetSheetName("Sheet1", "2018")
		x.NewSheet("2019")
		for name, rows := range map[string][][]any{
			"2018": {{"Place", "Treatment", "Sap per tap (gal)"}, {"N", "Control", 15}, {"N", "New drop", 19}},
			"2019": {second, {"N", "Control", 13}, {"N", "New drop", 16}},
		} {
			for i, row := range rows {
				x.SetSheetRow(name, fmt.Sprintf("A%d", i+1), &row)
			}
		}
		if hide {
			x.SetRowVisible("2018", 3, false)
		}
		var b bytes.Buffer
		if err := x.Write(&b); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	same := []any{"Place", "Treatment", "Sap per tap (gal)"}
	want := "N 2018/N/2018/unsanitized/15//gal N 2018/N/2018/new-drop/19//gal " +
		"N 2019/N/2019/unsanitized/13//gal N 2019/N/2019/new-drop/16//gal"
	if got := settled(t, "t.xlsx", book(same, false)); got != want {
		t.Errorf("%s", got)
	}
	got := settled(t, "t.xlsx", book([]any{"Farm", "Method", "Gallons per tap"}, false))
	if !strings.Contains(got, "the sheets 2018, 2019 each hold a table") || !strings.Contains(got, "t.xlsx#2019") {
		t.Errorf("%s", got)
	}
	g, err := GridOf("t.xlsx", book(same, true), nil, practice.Shipped())
	if said := fmt.Sprint(err, g.Notes); !strings.Contains(said, "hides are read too (rows: 1; 3)") {
		t.Errorf("%s", said)
	}
}

// What papers and notebooks have in the place of a mean, its spread and a gain. Worked out beside each; what is not
// plain is asked.
func TestOtherWaysOfSayingIt(t *testing.T) {
	const head = "Site,Year,Treatment,"
	for _, c := range []struct {
		what, text, want string
		rows             []string
	}{
		// exp(0.322) − 1 = 0.37988, 0.08 × 1.37988 = 0.11039; exp(0.1) − 1 = 0.10517, 0.05 × 1.10517 = 0.05526
		{"logarithms of ratios", head + "lnRR,SE\nN,2019,CV,0.322,0.08\nM,2020,New spout,0.1,0.05\n",
			"N 2019/N/2019/unsanitized/// N 2019/N/2019/check-valve/37.98848%/../se 11.0391 " +
				"M 2020/M/2020/unsanitized/// M 2020/M/2020/new-spout/10.51709%/../se 5.52585", nil},
		// the variances are their squares
		{"and variances of them", head + "yi,vi\nN,2019,CV,0.322,0.0064\nM,2020,New spout,0.1,0.0025\n",
			"N 2019/N/2019/unsanitized/// N 2019/N/2019/check-valve/37.98848%/../se 11.0391 " +
				"M 2020/M/2020/unsanitized/// M 2020/M/2020/new-spout/10.51709%/../se 5.52585", nil},
		{"the spread of gains", head + "Gain (%),SE (%)\nN,2019,New drop,32,6\nN,2019,New spout,15,8\n",
			"N 2019/N/2019/unsanitized/// N 2019/N/2019/new-drop/32%/../se 6 N 2019/N/2019/new-spout/15%/../se 8", nil},
		// 20 % of 12 and of 15
		{"a spread in percent of the mean", head + "Sap (gal/tap),SD (%)\nN,2019,Control,12,20\nN,2019,CV,15,20\n",
			"N 2019/N/2019/unsanitized/12/2.4/gal N 2019/N/2019/check-valve/15/3/gal", nil},
		{"percents in the cells", head + "Sap (gal/tap),SD\nN,2019,Control,12,20 %\nN,2019,CV,15,3\n",
			"N 2019/N/2019/unsanitized/12/2.4/gal N 2019/N/2019/check-valve/15/3/gal", nil},
		{"percents of a column a practice", "Site,Year,Control (gal),Control SD (%),CV (gal),CV SD (%)\n" +
			"N,2019,12,20,15,10\n", "N 2019/N/2019/unsanitized/12/2.4/gal N 2019/N/2019/check-valve/15/1.5/gal", nil},
		// the roots of 4 and 9
		{"variances", head + "Sap (gal/tap),Variance\nN,2019,Control,12,4\nN,2019,CV,15,9\n",
			"N 2019/N/2019/unsanitized/12/2/gal N 2019/N/2019/check-valve/15/3/gal", nil},
		// 2.5 lb are 1.13398 kg; a litre of sap of 2 °Bx holds 1.0060 × 0.02 kg (density of sucrose solutions, ICUMSA)
		{"pounds of sugar", head + "Sugar (lb/tap),SD,Sap sugar (Brix)\nN,2019,Control,2.5,.25,2\nN,2019,CV,3,.3,2\n",
			"N 2019/N/2019/unsanitized/56.36/5.636/l N 2019/N/2019/check-valve/67.6321/6.76321/l", nil},
		{"sugar of sap that is not told", head + "Sugar (lb/tap)\nN,2019,Control,2.5\nN,2019,CV,3\n",
			"no header stands for sugar", nil},
		// 12,000 L over 200 taps; gallons over 80
		{"of a hectare and its taps", "Lieu;An;Traitement;Rendement (L/ha);Entailles/ha\nN;2019;Témoin;12000;200\n" +
			"N;2019;Clapet;15000;200\n", "N 2019/N/2019/unsanitized/60//l N 2019/N/2019/check-valve/75//l", nil},
		{"of an acre whose taps are not told", head + "Sap (gal/acre)\nN,2019,Control,1200\nN,2019,CV,1500\n",
			"no header stands for taps", nil},
		{"and are said", head + "Sap (gal/acre)\nN,2019,Control,1200\nN,2019,CV,1500\n",
			"N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18.75//gal", []string{`taps = "80"`}},
		{"of an acre beside the taps of a plot", head + "Taps,Sap (gal/acre)\nN,2019,Control,20,1200\n" +
			"N,2019,CV,20,1500\n", "no header stands for the yield", nil},
		{"seasons by a letter and two digits", "Site,Season,Treatment,Sap (gal)\nN,S21,Control,12\nN,S21,CV,15\n" +
			"N,21/22,Control,12\nN,21/22,CV,15\n", "N 2021/N/2021/unsanitized/12//gal " +
			"N 2021/N/2021/check-valve/15//gal N 2022/N/2022/unsanitized/12//gal N 2022/N/2022/check-valve/15//gal",
			nil},
		{"and by a word", "Lieu;Saison;Traitement;L/ent\nN;printemps 21;Témoin;62\nN;printemps 21;Clapet;70\n",
			"N 2021/N/2021/unsanitized/62//l N 2021/N/2021/check-valve/70//l", nil},
		{"two digits that follow no others", "Site,Season,Treatment,Sap (gal)\nN,18/21,Control,12\nN,18/21,CV,15\n",
			`"18/21" is not a season`, nil},
		{"ranges of ages", head + "Sap (gal/tap),Age of drops\nN,2019,Control,12,4-6 yr\nN,2019,CV,15,4-6 yr\n",
			"N 2019/N/2019/unsanitized/12//gal N 2019/N/2019/check-valve/15//gal", nil},
		{"ranges of yields", head + "Sap (gal/tap)\nN,2019,Control,12–14\nN,2019,CV,15–17\n",
			`[ranges] middle = "Sap (gal/tap)"`, nil},
		{"one name of two places", "Producer,Place,Year,Treatment,Sap (gal)\nRoy,Home,2019,Control,12\n" +
			"Roy,Home,2019,CV,15\nPelletier,Home,2019,Control,14\nPelletier,Home,2019,CV,16\n",
			"Home (Roy) 2019/Home (Roy)/2019/unsanitized/12//gal Home (Roy) 2019/Home (Roy)/2019/check-valve/15//gal " +
				"Home (Pelletier) 2019/Home (Pelletier)/2019/unsanitized/14//gal " +
				"Home (Pelletier) 2019/Home (Pelletier)/2019/check-valve/16//gal", nil},
	} {
		if got := settled(t, "theirs.csv", []byte(c.text), c.rows...); got != c.want &&
			(!strings.HasPrefix(got, "at fault") || !strings.Contains(got, c.want)) {
			t.Errorf("%s:\n got %s\nwant %s", c.what, got, c.want)
		}
	}
	// without an answer none of it is read silently, and with one a range of yields is its middle
	ranges := head + "Sap (gal/tap)\nN,2019,Control,12–14\nN,2019,CV,15 to 17\n"
	if m := meant(t, ranges, gloss.Sense{Of: gloss.Ranges, Said: "Sap (gal/tap)", Means: gloss.Middle}); m.under(
		"mean") != "13|16" {
		t.Errorf("middles %s", m.under("mean"))
	}
	places := "Producer,Place,Year,Treatment,Sap (gal)\nRoy,Home,2019,Control,12\nPelletier,Home,2019,CV,16\n"
	if _, _, err := Evidence("a.csv", []byte(places), practice.Shipped(), guesses(meant(t,
		strings.Replace(places, "Pelletier", "Roy", 1)))); err == nil ||
		!strings.Contains(err.Error(), "one name of a place stands beside several of these") {
		t.Errorf("two places of one name: %v", err)
	}
	one := gloss.Sense{Of: gloss.Places, Said: "producer", Means: gloss.One}
	if m := meant(t, places, one); m.under("site") != "Home|Home" {
		t.Errorf("one place: %s", m.under("site"))
	}
}

// The error of a gain is written as the gain is: a ratio's of 0.08 is 8 points of percent, as are a fraction's; one in
// percent of the control stays. A spread of a mean that is not there is at fault.
func TestSpreadsOfGains(t *testing.T) {
	const head = "Site,Year,Treatment,"
	cv := func(gain string) string {
		return "N 2019/N/2019/unsanitized/// N 2019/N/2019/check-valve/" + gain
	}
	for _, c := range []struct{ text, want string }{
		{"Response ratio,SE\nN,2019,CV,1.22,0.08\n", cv("22%/../se 8")},
		{"Gain (fraction),SE\nN,2019,CV,0.22,0.08\n", cv("22%/../se 8")},
		{"Yield ratio,Standard error\nN,2019,CV,1.22,.05\n", cv("22%/../se 5")},
		{"Response ratio,SE (%)\nN,2019,CV,1.22,8\n", cv("22%/../se 8")},
		{"% of control,SE\nN,2019,CV,122,8\n", cv("22%/../se 8")},
		{"Relative yield,SE\nN,2019,CV,122,8\n", cv("22%/../se 8")},
		{"Response ratio,Lower,Upper\nN,2019,CV,1.22,1.08,1.4\n", cv("22%/8..40/se ")},
		{"Gain (fraction),CI low,CI high\nN,2019,CV,0.22,-0.05,0.5\n", cv("22%/-5..50/se ")},
		{"Relative yield,Lower limit,Upper limit\nN,2019,CV,122,108,140\n", cv("22%/8..40/se ")},
		{"Response ratio ± SE\nN,2019,CV,1.22 ± 0.08\n", cv("22%/../se 8")},
		{"Response ratio (95 % CI)\nN,2019,CV,1.22 (1.08–1.40)\n", cv("22%/8..40/se ")},

		{"Gain (%),SD (%)\nN,2019,CV,22,8\n", "given without mean"},
		{"Gain (%),SD\nN,2019,CV,22,8 %\n", "given without mean"},
		{"Response ratio,SD (%)\nN,2019,CV,1.22,8\n", "given without mean"},

		{"Sap (L/tap),SD (%),Gain (%)\nN,2019,Control,12,20,\nN,2019,CV,15,20,25\n",
			"N 2019/N/2019/unsanitized/12/2.4/l N 2019/N/2019/check-valve/15/3/l"},
	} {
		if got := settled(t, "theirs.csv", []byte(head+c.text)); got != c.want &&
			(!strings.HasPrefix(got, "at fault") || !strings.Contains(got, c.want)) {
			t.Errorf("%s\n got %s\nwant %s", c.text, got, c.want)
		}
	}
}

// What stands right behind a gain in percent, or in the rows of gains alone, is no spread of the means.
func TestSpreadsBesideGains(t *testing.T) {
	for text, want := range map[string]string{
		"Sap (gal/tap),Gain (%),SE (%)\nN,2019,Control,12,,\nN,2019,CV,15,25,6\n":  "no such column",
		"Sap (L/tap),Gain (%),SE (%)\nN,2019,Control,12,0,4\nN,2019,CV,15,25,6\n":  "no such column",
		"Sap (L/tap),SE,Gain (%)\nN,2019,Control,12,,—\nN,2019,CV,15,6,25\n":       "no such column",
		"Sap (L/tap),SE,Gain (%)\nN,2019,Control,12,1,—\nN,2019,CV,15,2,25\n":      "1|2",
		"Sap (L/tap),SE (%),Gain (%)\nN,2019,Control,12,20,\nN,2019,CV,15,20,25\n": "2.4|3", // 20 % of 12 and 15
	} {
		m := meant(t, "Site,Year,Treatment,"+text)
		if got := m.under("se"); got != want || want == "no such column" && !strings.Contains(m.questions(),
			"columns SE") {
			t.Errorf("%s\n got %s of %s, want %s", text, got, m.questions(), want)
		}
	}
}

// Of an area and the taps that stand on one; on another area, nothing is divided. 1200 / 80, 1500 / 80.
func TestTapsOfAnArea(t *testing.T) {
	for headers, want := range map[string]string{
		"Sap (gal/acre),Taps/acre": "N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18.75//gal",
		"Sap (L/ha),Number of taps per hectare": "N 2019/N/2019/unsanitized/15//l " +
			"N 2019/N/2019/check-valve/18.75//l",
		"Sap (gal/ac),Tap count (per ac)": "N 2019/N/2019/unsanitized/15//gal N 2019/N/2019/check-valve/18.75//gal",
		"Sap (L/ha),Taps/ac":              "no header stands for the yield",
	} {
		got := settled(t, "theirs.csv", []byte("Site,Year,Treatment,"+headers+"\nN,2019,Control,1200,80\n"+
			"N,2019,CV,1500,80\n"))
		if got != want && (!strings.HasPrefix(got, "at fault") || !strings.Contains(got, want)) {
			t.Errorf("%s\n got %s\nwant %s", headers, got, want)
		}
	}
}

// Numbers in square brackets are spreads, which is asked, unless they count as notes do and few have one, or a column
// tells the spreads.
func TestSpreadsInSquareBrackets(t *testing.T) {
	for _, c := range []struct {
		headers string
		cells   [4]string
		sd      string
	}{
		{"Sap (L/tap)", [4]string{"70[9]", "84[8]", "61[10]", "72[8]"}, "9|8|10|8"},
		{"Sap (L/tap)", [4]string{"12.3[1.2]", "15.1[2]", "13.3[1]", "16.1[1.5]"}, "1.2|2|1|1.5"},
		{"Sap (L/tap)", [4]string{"70[1]", "84[2]", "61[1]", "72[2]"}, "1|2|1|2"},
		{"Sap (L/tap)", [4]string{"70[9]", "84[8]", "61", "72"}, "9|8||"},
		{"Sap (L/tap)", [4]string{"70", "84[1]", "61", "72[2]"}, "no such column"},
		{"Sap (L/tap) [SD]", [4]string{"70[1]", "84[2]", "61", "72"}, "1|2||"},
		{"Sap (L/tap),SD", [4]string{"70[1],9", "84[2],8", "61[1],10", "72[2],8"}, "9|8|10|8"},
		{"SD,Sap (L/tap)", [4]string{"9,70", "8,84[12]", "10,61", "8,72[12]"}, "9|8|10|8"},
	} {
		text := "Site,Year,Treatment," + c.headers + "\nN,2019,Control," + c.cells[0] + "\nN,2019,CV," + c.cells[1] +
			"\nM,2019,Control," + c.cells[2] + "\nM,2019,CV," + c.cells[3] + "\n"
		m := meant(t, text)
		asks := !strings.Contains(c.headers, "SD") && c.sd != "no such column"
		if m.under("sd") != c.sd || asks != strings.Contains(m.questions(), "±=sd") {
			t.Errorf("%s\n got %s of %s, want %s", text, m.under("sd"), m.questions(), c.sd)
		}
	}
}
