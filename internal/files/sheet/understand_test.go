package sheet

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/trade/column"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
)

// meant reads a table of somebody else's, all guesses taken.
func meant(t *testing.T, text string, words ...gloss.Sense) Meant {
	t.Helper()
	g, err := GridOf("theirs.csv", []byte(text), words, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	return g.Understand(words, practice.Shipped())
}

// under is the cells under a column of ours, parted by |.
func (m Meant) under(name string) string {
	for i, c := range m.Columns {
		if c == name {
			var cells []string
			for _, r := range m.Rows {
				cells = append(cells, r[i])
			}
			return strings.Join(cells, "|")
		}
	}
	return "no such column"
}

// questions is what is asked, each of, said and guessed.
func (m Meant) questions() string {
	var list []string
	for _, a := range m.Asked {
		list = append(list, fmt.Sprintf("%s %s=%s", a.Of, a.Said, a.Means))
	}
	return strings.Join(list, "; ")
}

// Headers of others are guessed at, in both languages, with their units. What the headers mean is common practice, no
// source.
func TestHeadersOfOthers(t *testing.T) {
	for header, want := range map[string]string{
		"Sap per tap (gal)": "mean.gal", "L/entaille": "mean.l", "Rendement à l'entaille (L)": "mean.l",
		"Mean sap yield, imperial gallons": "mean.gal_imp", "Sap (mL/tap)": "mean.ml", "gal/tap": "mean.gal",
		"Rendement moyen": "mean", "No. of chambers": "n.chambers", "Nombre d'arbres": "n.trees",
		"Nb de maîtres-lignes": "n.mainlines", "Reps": "n", "Écart type": "sd", "Std. Err.": "se", "SD (L)": "sd.l",
		"Vacuum (kPa)": "vacuum_kpa", "Vide (po Hg)": "vacuum_inhg", "Vacuum, mbar": "vacuum_kpa.hpa",
		"Vide (cm Hg)": "vacuum_kpa.cmhg", "Tubing (mm)": "tubing_in.mm", "Contact time (h)": "contact_min.h",
		"Temps de contact (jours)": "contact_min.days", "Gain (%)": "gain_pct", "Gain, fraction": "gain_pct.fraction",
		"% increase": "gain_pct", "Response ratio": "gain_pct.ratio", "Âge des chutes": "drop_age", "Year": "season",
		"Saison": "season", "Traitement": "practice", "Treatment": "practice", "Érablière": "site", "Farm": "site",
		"Étude": "study", "Date d'entaillage": "tapped", "Drop_Age": "drop_age", "vacuum inHg": "vacuum_inhg",
		"Remarks": "", "Notes": "", "Remarques": "", "Comments": "", "Colour of the barn": "", "": "",
	} {
		got := Propose([]string{header}, nil, practice.Shipped())[0].String()
		if got != want {
			t.Errorf("%q stands for %q, want %q", header, got, want)
		}
	}
}

// A header that has the name of a column in it may be of something else: another statistic, another time, money, a
// gain in gallons, what is not counted by taps. It is kept as a note until somebody says otherwise.
func TestHeadersOfSomethingElse(t *testing.T) {
	for header, want := range map[string]string{
		"Gain (gal)": "", "Gain (gal/tap)": "", "Increase (L)": "", "Net gain ($)": "", "Gain $ per tap": "",
		"Yield difference (gal)": "", "Log response ratio": "gain_pct.ln", "Cost per tap": "", "Max yield (gal)": "",
		"Expected yield (gal/tap)": "", "Previous yield": "", "CV of yield (%)": "", "Yield per acre": "",
		"Average Brix": "", "Average vacuum": "vacuum_inhg", "Sap per inch of vacuum": "", "Yield SD": "sd",
		"SD of yield (gal/tap)": "sd.gal", "Tubing age": "line_age", "Years in use": "", "Year published": "",
		"Treatment yield": "", "Tap": "", "Qt sève": "mean", "Sap (qt/tap)": "mean.qt",
		"Sap (gal/100 taps)": "mean.gal_100", "L/100 entailles": "mean.l_100", "Sirop (gal/100 ent.)": "",
		"Yield in gallons, all of 100 taps": "",
		"Sap vs control (%)":                "gain_pct", "Study year": "season", "Nb entailles": "taps",
		"Récolte moyenne (L/ent.)": "mean.l", "Harvest year": "season", "Crop yr": "season", "Co-operator": "site",
		"vs. check": "gain_pct", "Lines": "n.mainlines",
		"Harvest days": "", "Production days": "", "Jours de récolte": "", "Production area": "", "pH de la sève": "",
		"Température de la sève (°C)": "", "Conductivité de la sève": "", "Yield reduction (%)": "",
		"Baisse du rendement": "", "Drop in yield (%)": "", "Yield (%)": "", "Harvest method": "", "Yield range": "",
		"Étendue du rendement": "", "Number of runs": "", "Nb de coulées": "", "Number of days": "",
		"Nombre de jours": "", "Bacteria count (CFU/mL)": "", "Coefficient of variation (%)": "",
		"Coefficient de variation": "", "Coef. de variation (%)": "", "Gain/loss (%)": "gain_pct",
		"Gain (loss) %": "gain_pct", "Gain ou perte (%)": "gain_pct", "Loss (%)": "", "Date of drop change": "",
		"Response variable": "", "Écart std": "sd",
	} {
		if got := Propose([]string{header}, nil, practice.Shipped())[0].String(); got != want {
			t.Errorf("%q stands for %q, want %q", header, got, want)
		}
	}
	for _, c := range []struct{ text, column, want string }{
		// as many drops as taps are no age
		{"Site,Year,Treatment,Drops,Sap (gal)\nN,2018,Control,40,15\nN,2018,New drop,40,19\n", "drop_age",
			"no such column"},
		{"Site,Year,Treatment,Drops,Sap (gal)\nN,2018,Control,5,15\nN,2018,New drop,new,19\n", "drop_age", "5|0"},
		// when it was printed is no season
		{"Site,Year published,Treatment,Gain (%)\nN,2018,CV,19\nS,2019,CV,15\n", "season", "no such column"},
		// how many units, where the column's name may be what the unit was
		{"Site,Year,Treatment,Units,Sap (gal)\nN,2018,Control,6,15\nN,2018,New drop,6,19\n", "n", "6|6"},
		// a pressure with its unit says nothing of the pressures beside it
		{"Site,Year,Treatment,Sap (gal),Vide (po Hg)\nN,2018,Control,15,24.5\nN,2018,New drop,19,84.6597 kPa\n",
			"vacuum_inhg", "24.5|24.99999"}, // 84.6597/3.386389 = 24.9999926
		// a spread alone in brackets, as papers have it, and a loss as books of accounts have it
		{"Site,Year,Treatment,Sap (gal),SE\nN,2018,Control,15,(0.6)\nN,2018,New drop,19,(0.7)\n", "se", "0.6|0.7"},
		// how a mean is called may be likely only: what says that it is the gain stays it
		{"Site,Year,Treatment,Gain (%),Spring production notes\nN,2018,New spout,11,30\nN,2018,New drop,19,31\n",
			"gain_pct", "11|19"},
		{"Site,Year,Treatment,Gain (%),Yield\nN,2018,New spout,11,30\nN,2018,New drop,19,31\n", "gain_pct",
			"no such column"},
		{"Site,Year,Treatment,Gain\nN,2018,New spout,(3.5)\nN,2018,New drop,19\n", "gain_pct", "(3.5)|19"},
	} {
		if m := meant(t, c.text); m.under(c.column) != c.want {
			t.Errorf("%s: %s is %s, want %s", c.text, c.column, m.under(c.column), c.want)
		}
	}
}

// Words for practices, as people write them. Common practice, no source.
func TestWordsForPractices(t *testing.T) {
	for word, want := range map[string]practice.Key{
		"Control": "unsanitized", "CONTROL (old spouts)": "unsanitized", "témoin": "unsanitized",
		"Old spout":    "unsanitized",
		"No treatment": "unsanitized", "Aucun": "unsanitized", "not sanitized": "unsanitized", "Check": "unsanitized",
		"Bleach": "chlorine-rinse", "bleach 400 ppm": "chlorine-rinse", "Eau de Javel": "chlorine-rinse",
		"Hypochlorite de calcium": "chlorine-rinse", "H2O2": "peroxide-rinse", "peroxyde 3 %": "peroxide-rinse",
		"Isopropyl alcohol": "alcohol-flush", "IPA": "alcohol-flush", "alcool isopropylique": "alcohol-flush",
		"Check valve": "check-valve", "New check-valve spouts": "check-valve", "CV": "check-valve",
		"chalumeau antiretour": "check-valve", "Clapet anti-retour": "check-valve", "New Spout": "new-spout",
		"chalumeau neuf": "new-spout", "new spouts": "new-spout", "new drop": "new-drop",
		"New drops + spouts": "new-drop",
		"chute neuve":        "new-drop", "Tubulure neuve": "new-lateral", "silver spout": "silver-spout",
		"check-vlave": "check-valve", "new-spuot": "new-spout",
		"bleach and peroxide": "", "no check valve": "", "without bleach": "", "moonlight": "", "sans chlore": "",
	} {
		u := reader{columns: ofEvidence, set: practice.Shipped()}
		if got := u.guessed(u.find("practice"), word); got != string(want) {
			t.Errorf("%q is guessed to be %q, want %q", word, got, want)
		}
	}
}

// Numbers as spreadsheets and people write them, by what their column and table leave no doubt about. The ways of
// writing are those of the SI brochure, 5.4.4, and of English-speaking offices.
func TestNumbersOfOthers(t *testing.T) {
	for _, c := range []struct{ header, cells, want, asked string }{
		{"gain_pct", "38 %|12.5%|-4 %", "38|12.5|-4", ""},
		{"mean", "1,200|18.5", "1200|18.5", ""},
		{"mean", "1,200|18,5", "1.200|18.5", ""},
		{"mean", "1 200,5|18,5", "1200.5|18.5", ""},
		{"mean", "1.200,5|18", "1200.5|18", ""},
		{"mean", "1,200.5|1,300", "1200.5|1300", ""},
		{"mean", "1 200|1 300", "1200|1300", ""},
		{"mean", "1’200|1'300", "1200|1300", ""},
		{"mean", "1,200,000|5", "1200000|5", ""},
		{"mean", "1,200|1,300", "1,200|1,300", "numbers mean="},
		{"mean", "0,385|0,412", "0.385|0.412", ""},
		{"mean", "1.234|2.5", "1.234|2.5", ""},
		{"mean", "1.234|2,5", "1234|2.5", ""},
		{"mean", "−4|+7", "-4|+7", ""},
		{"n", "1,200|6", "1200|6", ""},
		{"n", "1.200|6", "1200|6", ""},
		{"mean", "18.5|NA|–", "18.5||", "unknown NA=unknown; unknown –=unknown"},
		{"mean", "18.5|n.d.|.", "18.5||", "unknown n.d.=unknown; unknown .=unknown"},
		{"mean", "18.5|trace", "18.5|trace", "unknown trace="},
		{"gain_pct", "12|ns|> 30 %", "12|ns|> 30 %", ""},
		{"vacuum_inhg", "25 inHg|84.6597 kPa", "25|24.99999", ""}, // 84.6597/3.386389 = 24.9999926
		{"Vacuum (mbar)", "850", "85", ""},
		{"Tubing (mm)", "7.9375", "0.3125", ""}, // 5/16 of 25.4
		{"tubing_in", "5/16|3/16", "5/16|3/16", ""},
		{"Contact time (h)", "0.5|90 min", "30|90", ""},
		{"Gain (fraction)", "0.25|38 %", "25|38", ""},
		{"Response ratio", "1.25", "25", ""},
		{"mean", "1,20,000", "1,20,000", ""}, // of no way that is known: the fault says so
		{"mean", "12.5a|1.2.3", "12.5a|1.2.3", ""},
	} {
		m := meant(t, c.header+"\tremark\n"+strings.ReplaceAll(c.cells, "|", "\t.\n")+"\t.\n")
		name := m.Columns[0]
		got := m.under(name)
		var asked []string
		for _, q := range m.Asked {
			if q.Of != gloss.Columns {
				asked = append(asked, fmt.Sprintf("%s %s=%s", q.Of, q.Said, q.Means))
			}
		}
		if got != c.want || strings.Join(asked, "; ") != c.asked {
			t.Errorf("%s: %s is read as %s, asked %q; want %s, %q", c.header, c.cells, got, asked, c.want, c.asked)
		}
	}
}

// What is beside a year may be another one: the fall of 2018 ends with the spring of 2019. Ranges of several lengths
// are no winters. Days tell the season where they can only be of one; not when something was washed. The sugar of sap
// stands under its own header, and not under that of its spread, of syrup or of trees. A treatment says all of a
// practice.
func TestWhatIsNearbyIsNotIt(t *testing.T) {
	rows := func(header string, cells ...string) string {
		text := "Site," + header + ",n\n"
		for i, c := range cells {
			text += "N," + strings.ReplaceAll(c, "?", []string{"Control", "CV"}[i%2]) + ",6\n"
		}
		return text
	}
	for _, c := range []struct{ name, text, column, want, asked string }{
		{"a fall", rows("Season,Treatment,Yield (gal/tap)", "Fall 2018,?,15", "Fall 2018,?,18"),
			"season", "2018|2018", "season Fall 2018=2018"},
		{"before", rows("Season,Treatment,Yield (gal/tap)", "avant 2019,?,15", "avant 2019,?,18"),
			"season", "2019|2019", "season avant 2019=2019"},
		{"a spring", rows("Season,Treatment,Yield (gal/tap)", "Spring 2018,?,15", "Spring 2018,?,18"),
			"season", "2018|2018", ""},
		{"ranges", rows("Season,Treatment,Yield (gal/tap)", "2018-2019,?,15", "2016-2019,?,18"),
			"season", "2019|2019", "season 2018-2019=2019; season 2016-2019=2019"},
		{"when it was washed", rows("Wash date,Treatment,Yield (gal/tap)", "2018-05-02,?,15", "2018-05-02,?,18"),
			"season", "no such column", ""},
		{"a spring or a winter", rows("Date,Treatment,Yield (gal/tap)", "05/03/2019,?,15", "12/03/2019,?,18"),
			"season", "no such column", ""},
		{"what else has sugar", rows("Year,Treatment,Syrup (gal/tap),Sap sugar,Sugar SD",
			"2019,?,0.25,2.0,0.4", "2019,?,0.30,2.0,0.4"), "sugar", "2.0", ""},
		{"old drops", rows("Year,Treatment,Yield (gal/tap)", "2019,?,15", "2019,Old drop + CV,18"),
			"practice", "unsanitized|Old drop + CV", "practice Old drop + CV="},
	} {
		m := meant(t, c.text)
		if c.column == "sugar" {
			if at := strings.Index(fmt.Sprint(m.Derived()), "Sap sugar"); at < 0 {
				t.Errorf("%s: %v", c.name, m.Derived())
			}
			continue
		}
		var asked []string
		for _, q := range m.Asked {
			if q.Of == "season" || q.Of == "practice" && q.Said != "Control" && q.Said != "CV" {
				asked = append(asked, fmt.Sprintf("%s %s=%s", q.Of, q.Said, q.Means))
			}
		}
		if got := m.under(c.column); got != c.want || strings.Join(asked, "; ") != c.asked {
			t.Errorf("%s: %s, asked %q; want %s, %q", c.name, got, asked, c.want, c.asked)
		}
	}
}

// Days as spreadsheets and people write them. A spreadsheet counts days from 1900 (ECMA-376 part 1, 18.17.4.1): 43507
// is the 11th of February 2019.
func TestDaysOfOthers(t *testing.T) {
	for cells, want := range map[string]string{
		"2019-02-11|2019/2/11|2019.02.11|43507": "2019-02-11|2019-02-11|2019-02-11|2019-02-11",
		"3/15/2019|3/4/2019":                    "2019-03-15|2019-03-04",
		"15/3/2019|3/4/2019":                    "2019-03-15|2019-04-03",
		"15.03.2019|3.4.19":                     "2019-03-15|2019-04-03",
		"15 mars|15-Mar-19|March 3, 2019":       "2019-03-15|2019-03-15|2019-03-03",
		"1er avril 2019|le 15 févr. 2019":       "2019-04-01|2019-02-15",
		"1ᵉʳ avril 2019|le 15 févr. 2019":       "2019-04-01|2019-02-15",
		"mardi 15 mars|20 déc.":                 "2019-03-15|2018-12-20",
		"2019-02-11 08:30|2019-02-11T08:30:00":  "2019-02-11|2019-02-11",
		"3/3/2019":                              "2019-03-03",
		"31/2/2019|15 jui|2/30/2019|soon":       "31/2/2019|15 jui|2/30/2019|soon",
		"3/15|2/20/19":                          "2019-03-15|2019-02-20",
	} {
		m := meant(t, "season\ttapped\n2019\t"+strings.ReplaceAll(cells, "|", "\n2019\t")+"\n")
		if got := m.under("tapped"); got != want || m.questions() != "" {
			t.Errorf("%s is read as %s, asked %q; want %s", cells, got, m.questions(), want)
		}
	}
	m := meant(t, "season\tTap date\n2019\t3/4/2019\n2019\t2/3/2019\n")
	if m.questions() != "columns Tap date=tapped; dates Tap date=" {
		t.Errorf("asked %s", m.questions())
	}
	m = meant(t, "season\ttapped\n2019\t3/7/2019\n2019\t2/8/2019\n") // by day first it would be July
	if m.questions() != "dates tapped=month" || m.under("tapped") != "2019-03-07|2019-02-08" {
		t.Errorf("asked %s, read %s", m.questions(), m.under("tapped"))
	}
	settled := gloss.Sense{Of: gloss.Dates, Said: "TAPPED", Means: gloss.Day}
	if m = meant(t, "season\ttapped\n2019\t3/4/2019\n", settled); m.under("tapped") != "2019-04-03" ||
		m.questions() != "" {
		t.Errorf("asked %s, read %s", m.questions(), m.under("tapped"))
	}
}

// A remark stays a remark: free words become no caveats unasked.
func TestRemarksStayRemarks(t *testing.T) {
	m := meant(t, "study\tcaveats\tRemarks\nA\tfreak season; one pump broke down; own-word\tice in the lines\n")
	if m.under("caveats") != "freak-season; own-word" ||
		m.under("remarks") != "ice in the lines; one pump broke down" {
		t.Errorf("%v %v", m.Columns, m.Rows)
	}
	m = meant(t, "study\tFlags\nA\twindy; low-yield\n")
	if m.under("caveats") != "low-yield" || m.under("remarks") != "windy" {
		t.Errorf("%v %v", m.Columns, m.Rows)
	}
	m = meant(t, "study\tcaveats\nA\tone pump broke\n",
		gloss.Sense{Of: "caveats", Said: "One pump broke", Means: "own"})
	if m.under("caveats") != "one-pump-broke" {
		t.Errorf("%v %v", m.Columns, m.Rows)
	}
}

// A table with a column a practice is turned round.
func TestAWideTable(t *testing.T) {
	m := meant(t, "Étude;Érablière;Année;Témoin (L);Chalumeau antiretour (L);Eau de Javel (L);Remarques\n"+
		"A;nord;2019;60,5;72,1;63;\nB;sud;2020;55;;58,2;vent\n")
	if !m.Wide || m.under("study") != "A|A|A|B|B" || m.under("mean") != "60.5|72.1|63|55|58.2" ||
		m.under("practice") != "unsanitized|check-valve|chlorine-rinse|unsanitized|chlorine-rinse" ||
		m.under("mean_unit") != "l|l|l|l|l" || m.under("remarques") != "|||vent|vent" {
		t.Errorf("%v %v\n%s", m.Columns, m.Rows, m.questions())
	}
	m = meant(t, "study,site,season,Control mean,Control SD,CV mean,CV SD,CV n\nA,n,2019,15,2,18,3,6\n")
	if m.under("mean") != "15|18" || m.under("sd") != "2|3" || m.under("n") != "|6" {
		t.Errorf("%v %v\n%s", m.Columns, m.Rows, m.questions())
	}
	m = meant(t, "study,site,season,Check valve (% gain),Bleach (% gain)\nA,n,2019,30,12 %\n")
	if m.under("gain_pct") != "30|12" {
		t.Errorf("%v %v\n%s", m.Columns, m.Rows, m.questions())
	}
}

// A spread in another unit than its mean, and means of one study in two units, come into one.
func TestMixedUnits(t *testing.T) {
	m := meant(t, "study,practice,Sap (gal),SD (L)\nA,unsanitized,10,3.785411784\n") // litres of a gallon
	if m.under("mean") != "10" || m.under("mean_unit") != "gal" || m.under("sd") != "1" {
		t.Errorf("%v %v", m.Columns, m.Rows)
	}
	m = meant(t, "study,practice,mean\nA,unsanitized,10 gal\nA,new-spout,37.85411784 L\nB,unsanitized,40 L\n")
	if m.under("mean") != "10|10|40" || m.under("mean_unit") != "gal|gal|l" {
		t.Errorf("%v %v", m.Columns, m.Rows)
	}
}

// What a table's guesses say, written as a mapping file, reads the table; and what is settled is asked no more.
func TestAMappingFileReadsTheTable(t *testing.T) {
	text := "Étude;Érablière;Année;Traitement;L/entaille;Nb de chambres;Écart type;Vide (kPa);Date d'entaillage;" +
		"Farmer;Tubulure\n" +
		"A;nord;2019;Témoin;60,5;6;8,1;84;15/2/2019;X;5/16\n" +
		"A;nord;2019;Chalumeau anti-retour;1 072,1;6;NA;84;15/2/2019;X;5/16\n"
	dir := t.TempDir()
	table, names := filepath.Join(dir, "t.csv"), filepath.Join(dir, "names.toml")
	os.WriteFile(table, []byte(text), 0o644)
	_, err := Read(table)
	if err == nil {
		t.Fatal("it is read unasked")
	}
	_, toml, ok := strings.Cut(err.Error(), "read with the table:\n")
	if !ok {
		t.Fatalf("nothing says how to settle it: %v", err)
	}
	os.WriteFile(names, []byte(toml), 0o644)
	in, err := Read(table, names)
	if err != nil {
		t.Fatalf("%v\n%s", err, toml)
	}
	s := in.Studies[0]
	if len(in.Studies) != 1 || len(s.Arms) != 2 || *s.Arms[1].Mean != 1072.1 || s.Arms[1].MeanUnit != "l" ||
		s.Unit != "chamber" || s.Arms[1].SD != nil || *s.Arms[0].SD != 8.1 || float64(*s.Arms[0].Vacuum) != 84 ||
		s.Arms[0].Tapped.Format("2006-01-02") != "2019-02-15" || s.Arms[0].Extra["farmer"] != "X" ||
		*s.Arms[0].TubingIn != 0.3125 {
		t.Errorf("%+v", s)
	}
	g, err := GridOf("t.csv", []byte(text), in.Words, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	m := g.Understand(in.Words, practice.Shipped())
	if m.Open() {
		t.Errorf("still asked: %s", m.questions())
	}
	if again := strings.TrimSpace(mappingTOML(in.Words)); again != toml {
		t.Errorf("comes back as\n%s\nnot\n%s", again, toml)
	}
}

// A fault speaks of a column as the table calls it, and a word that is in a thousand rows is one fault.
func TestFaultsInTheirWords(t *testing.T) {
	dir := t.TempDir()
	table, names := filepath.Join(dir, "t.csv"), filepath.Join(dir, "names.toml")
	text := "Farm trial,site,season,What we did,Gallons a tap\n"
	for i := range 300 {
		text += fmt.Sprintf("A%d,n,2019,Control,15\nA%d,n,2019,Steam,-3\n", i, i)
	}
	os.WriteFile(table, []byte(text), 0o644)
	os.WriteFile(names, []byte("[columns]\nstudy = \"farm trial\"\npractice = \"What we did\"\n"+
		"mean.gal = \"Gallons a tap\"\n"), 0o644)
	_, err := Read(table, names)
	said := err.Error()
	if n := strings.Count(said, "Control"); n != 2 { // in its fault, and in how to settle it
		t.Errorf("Control is named %d times\n%.600s", n, said)
	}
	for _, want := range []string{`row 2, column What we did: "Control" is not known`,
		"row 3, column Gallons a tap: -3 is out of bounds", `row 3, column What we did: "Steam" is not known`} {
		if !strings.Contains(said, want) {
			t.Errorf("it does not say %q\n%.900s", want, said)
		}
	}
}

// A number comes back from every way of writing it, where what the column holds leaves no doubt.
func TestNumeralProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole, part := rapid.IntRange(0, 99_999_999).Draw(t, "whole"), rapid.IntRange(0, 99).Draw(t, "part")
		comma := rapid.Bool().Draw(t, "comma")
		point, group := ".", rapid.SampledFrom([]string{"", ",", " ", "\u00a0", "\u202f", "'"}).Draw(t, "group")
		if comma {
			point = ","
			if group == "," {
				group = "."
			}
		}
		digits := fmt.Sprint(whole)
		for i := len(digits) - 3; i > 0; i -= 3 {
			digits = digits[:i] + group + digits[i:]
		}
		text := digits + point + fmt.Sprintf("%02d", part)
		n, ok := readNumeral(text)
		if want := float64(whole) + float64(part)/100; !ok || n.either || n.value(0) != want &&
			fmt.Sprintf("%.2f", n.value(0)) != fmt.Sprintf("%.2f", want) {
			t.Fatalf("%q is read as %v, %v", text, n.value(0), ok)
		}
	})
}

// Whatever stands in a cell, reading a number gives what is one in digits with a point, or leaves it alone.
func FuzzNumeral(f *testing.F) {
	for _, s := range []string{"1 200,5", "38 %", "1,200", "1.2.3", "−4e3", "25 inHg", "5/16", "’", "1\u202f000"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n, _, ok := measured(text)
		if !ok {
			return
		}
		for _, mark := range []byte{'.', ','} {
			if _, _, ok := parse(n.with(mark), false); !ok {
				t.Errorf("%q becomes %q, which is no number", text, n.with(mark))
			}
		}
	})
}

// Whatever a mapping file and a table say, the table is understood or asked about, and a row is never half of two.
func FuzzUnderstand(f *testing.F) {
	f.Add("Étude;Année;Témoin;Chute neuve\nA;2019;1 200,5;NA\n", "[columns]\nmean.l = \"Témoin\"\n")
	f.Add("study,Treatment,Gain\nA,Bleach,38 %\n", "[words.practice]\nnew-spout = [\"Bleach\"]\nunknown = [\"NA\"]\n")
	f.Add("tapped\n3/4/2019\n",
		"[dates]\nday = \"tapped\"\n[numbers]\ncomma = [\"x\"]\n[arms.check-valve]\nmean = \"y\"\n")
	f.Add("Étude;Année;Témoin;Chute neuvn;IIIIII\nA;2019;1 200,5;5Id", "[columns]#mean.l = \"Témoin\"\n")
	f.Fuzz(func(t *testing.T, table, toml string) {
		bad := new(faults)
		r := flatten("names.toml", []byte(toml), bad)
		if r == nil {
			return
		}
		allKeys(r).check(r)
		words := readMapping(r, practice.Shipped())
		if bad.count() > 0 {
			return
		}
		g, err := GridOf("t.csv", []byte(table), words, practice.Shipped())
		if err != nil {
			return
		}
		m := g.Understand(words, practice.Shipped())
		if len(m.Columns) != len(m.Headers) || len(m.Rows) != len(m.From) {
			t.Fatalf("%d columns of %d headers, %d rows of %d", len(m.Columns), len(m.Headers), len(m.Rows),
				len(m.From))
		}
		for i, row := range m.Rows {
			if len(row) != len(m.Columns) || m.From[i][0] >= len(g.Rows) {
				t.Fatalf("row %d: %v under %v", i, row, m.Columns)
			}
		}
		for _, c := range m.Columns {
			if x := columnOf(c); x.Kind == column.Practice && x.Name != "practice" {
				t.Fatal(c)
			}
		}
		if len(words) == 0 { // nobody writes that
			return
		}
		if again := flatten("n.toml", []byte(mappingTOML(words)), new(faults)); again == nil ||
			len(readMapping(again, practice.Shipped())) != len(words) {
			t.Errorf("%v comes back otherwise:\n%s", words, mappingTOML(words))
		}
	})
}

// A title above the header is passed over, and rows keep their numbers.
func TestATitleAboveTheHeader(t *testing.T) {
	for _, text := range []string{
		"Our trials 2018 to 2020\n\nTrial;Farm;Year;What was done;Sap (L)\nA;n;2018;Control;55\n",
		"Our trials, 2018 to 2020\n(all of them)\nstudy,site,season,practice,mean\nA,n,2018,unsanitized,55\n",
		"# kept\r\n\"Our trials\"\t\t\r\nstudy\tsite\tseason\tpractice\tmean\r\nA\tn\t2018\tunsanitized\t55\r\n",
	} {
		if m := meant(t, text); m.under("practice") != "unsanitized" || m.under("mean") != "55" {
			t.Errorf("%q: %v %v", text, m.Columns, m.Rows)
		}
	}
	_, _, err := Evidence("e.csv", []byte("Title\n\nstudy,site,season,practice,mean\nA,n,18,unsanitized,55\n"),
		practice.Shipped(), nil)
	if err == nil || !strings.Contains(err.Error(), "row 4, column season") {
		t.Errorf("the row is counted otherwise: %v", err)
	}
}

// Studies that no column names are called by site and season; what is one for all rows is said once.
func TestWhatATableLacks(t *testing.T) {
	m := meant(t, "Année;Traitement;Gain\n2019;Javel;12\n2020;Javel;9\n", gloss.Sense{Of: gloss.Rows, Said: "site",
		Means: "Bas du rang"})
	if m.under("site") != "Bas du rang|Bas du rang" || m.under("study") != "Bas du rang 2019|Bas du rang 2020" ||
		len(m.Lacking()) != 0 {
		t.Errorf("%v %v", m.Columns, m.Rows)
	}
	m = meant(t, "Lieu;Année;Traitement;Gain\nnord;2019;Javel;12\nnord;2020;Javel;9\n")
	if m.under("study") != "nord 2019|nord 2020" || len(m.Lacking()) != 0 {
		t.Errorf("%v %v", m.Columns, m.Rows)
	}
	if m = meant(t, "Essai;Année\nA;2019\n"); m.under("study") != "A" {
		t.Errorf("%v", m.Columns)
	}
	if kept := Lasting(gloss.Glossary{{Of: gloss.Rows, Said: "site", Means: "x"}}); len(kept) != 0 {
		t.Errorf("%v is kept for other tables", kept)
	}
}

// A mapping file of anybody is refused with words, or means the same when it is written again.
func FuzzMapping(f *testing.F) {
	f.Add([]byte("unknown = [\"NA\"]\n[columns]\nmean.l = \"L\"\n[arms.check-valve]\nmean = \"CV\"\n"))
	f.Add([]byte("[words.practice]\nunsanitized = [\"Control\", \"T\"]\n[rows]\nsite = " +
		"\"Bas\"\n[numbers]\ncomma = [\"L\"]\n"))
	f.Add([]byte("unknoNean = [\"NA\"\n[aCCCCCCNwn.l = \"L\"]\n[coNNNNNNCck-valve]\nmean = \"CV\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		g := new(faults)
		r := flatten("m.toml", data, g)
		if r == nil {
			return
		}
		allKeys(r).check(r)
		words := readMapping(r, practice.Shipped())
		if g.count() > 0 || len(words) == 0 {
			return
		}
		text := mappingTOML(words)
		again := flatten("n.toml", []byte(text), new(faults))
		if again == nil || len(readMapping(again, practice.Shipped())) != len(words) {
			t.Errorf("%v comes back otherwise:\n%s", words, text)
		}
	})
}
