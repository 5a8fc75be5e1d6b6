package main

import (
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
	"golang.org/x/net/html"

	"spile/internal/demo"
)

// english are words that no French text has.
var english = regexp.MustCompile(
	`(?i)(^|[^\p{L}'’.-])(the|of|and|with|without|each|is|are|not|from|by|or|seasons?|taps?|drops?|spouts?|sap|stud(y|ies)|every|than|which|held|back|used|new|yes|allowed|row|column|before|after|under|over|year|hours?|money|read|reading|warnings?|unknown|missing|expected|gain of|net of|age of|lot of)([^\p{L}-]|$)`)

// codes are what is the same in every language: lists of keys, options and files of a command line, texts in quotes.
var codes = regexp.MustCompile(
	`[a-z][a-z0-9_-]*(, [a-z][a-z0-9_-]*){2,}|"[^"]*"|--[a-z-]+|[\w./-]+\.(csv|toml|xlsx|spile|svg|pdf|html|json|bib|ris|png|tsv|txt)\b|spile( [\w./-]+)+`)

// leftovers are the lines of a French text that are English yet.
func leftovers(text string, given []string) []string {
	var list []string
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "    spile ") || strings.HasPrefix(line, "  spile ") { // an example
			continue
		}
		rest := line
		for _, g := range given {
			if g != "" {
				rest = strings.ReplaceAll(rest, g, "")
			}
		}
		if english.MatchString(codes.ReplaceAllString(rest, "")) {
			list = append(list, strings.TrimSpace(line))
		}
	}
	return list
}

// Each command speaks French where it is asked to: its help, its tables, its warnings, whatever it refuses, and all
// that it writes for people to read.
func TestEveryCommandInFrench(t *testing.T) {
	long(t)
	scenario(t)
	if err := os.CopyFS("demo", demo.Files()); err != nil {
		t.Fatal(err)
	}
	put(t, "season.csv", season())
	put(t, "vacuum.csv", "unit,block,season,practice,taps,volume_gal,vacuum_inhg\na,1,2024,unsanitized,20,401,20\n"+
		"b,1,2024,check-valve,20,517,24\nc,2,2024,unsanitized,20,402,20\nd,2,2024,check-valve,20,537,24\n")
	put(t, "bad.csv", "unit,season,practice,taps,volume_l\n1,2024,unsanitised,0,12 L\n")
	put(t, "readings.csv", "unit,read,2025-03-12,2025-03-20\n1,volume_gal,88,131\n2,volume_gal,112,160\n"+
		"3,volume_gal,80,118\n4,volume_gal,101,\n5,volume_gal,108,158\n6,volume_gal,91,126\n7,volume_gal,84,122\n"+
		"8,volume_gal,118,163\n")
	put(t, "bad-bush.toml", "name = \"Bad\"\nfirst_season = 2026\n[section.a]\ntaps = \"many\"\npractice = "+
		"\"new-spoutt\"\n")
	given := append(studyWords(t), "From Agronomic Data to Farmer Recommendations", "Fen valves", "ni yes ni no",
		"check-valve", "new-spout", "new-drop", "drop_age", "unequal-slope", "units, unknown, use")
	headers := []string{"read", "from"} // of the spreadsheet that is taken in again
	data, err := os.ReadFile("demo/evidence.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, cell := range strings.FieldsFunc(string(data), func(r rune) bool { return r == ',' || r == '\n' }) {
		if len(cell) > 3 {
			given = append(given, cell)
		}
	}
	prices, err := os.ReadFile("prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile(`source = "([^"]*)"`).FindAllStringSubmatch(string(prices), -1) {
		given = append(given, m[1])
	}
	slices.SortFunc(given, func(a, b string) int { return len(b) - len(a) })
	check := func(what, text string) {
		t.Helper()
		for i, line := range leftovers(text, given) {
			if i < 4 {
				t.Errorf("%s: %q", what, line)
			}
		}
	}
	for _, args := range []string{
		"--help", "demo --help", "new --help", "add --help", "check --help", "gains --help", "rotation --help",
		"profit --help", "sure --help", "worth --help", "plan --help",
		"handout --help", "trial --help", "trial design --help", "trial power --help", "trial sheet --help",
		"trial add --help", "trial analyse --help", "trial decide --help",
		"report --help", "figure --help", "export --help", "serve --help", "completion --help",
		"gains", "gainz", "gains x --foo", "gains x --variance=zz", "gains --variance", "trial", "rotation x --max 3.5",
		"profit evidence.csv", "--units=x gains", "gains --lang=xx evidence.csv",
		"gains evidence.csv", "gains evidence.csv --thorough", "gains demo/evidence.csv",
		"gains evidence.csv --without no-replication", "gains evidence.csv --moderators vacuum,line-age",
		"gains evidence.csv --inference wald --variance reported",
		"gains empty.csv", "gains faulty.csv", "gains island.csv", "gains nowhere.csv",
		"gains evidence.csv --exclude Nothing", "gains evidence.csv --without nothing",
		"gains evidence.csv --moderators nothing",
		"gains evidence.csv --explain check-valve", "gains evidence.csv --explain nothing",
		"trust evidence.csv prices.toml --thorough", "trust evidence.csv",
		"rotation evidence.csv", "rotation demo/evidence.csv --prices prices.toml", "rotation evidence.csv --max 99",
		"profit evidence.csv prices.toml", "profit evidence.csv prices.toml --thorough",
		"profit evidence.csv prices.toml --against new-drop/3", "profit evidence.csv prices.toml --against x",
		"profit evidence.csv prices.toml --place x",
		"profit evidence.csv prices.toml --place CA-QC --organic", "profit evidence.csv faulty.toml",
		"sure evidence.csv prices.toml --times 400",
		"sure evidence.csv prices.toml --times 400 --thorough --map wage,baseline.yield",
		"sure evidence.csv prices.toml --spread wage=x", "sure evidence.csv prices.toml --together wage",
		"worth evidence.csv prices.toml", "worth evidence.csv prices.toml --adoption 3",
		"plan demo/evidence.csv prices.toml --sugarbush demo/sugarbush-organic.toml",
		"plan demo/evidence.csv prices.toml --sugarbush demo/sugarbush-gravity.toml",
		"plan evidence.csv prices.toml --sugarbush bad-bush.toml",
		"plan evidence.csv prices.toml --sugarbush none.toml",
		"handout demo/evidence.csv --prices prices.toml demo/sugarbush-quebec.toml -o fiche.html",
		"handout demo/evidence.csv --prices prices.toml demo/sugarbush-organic.toml -o fiche.pdf",
		"handout demo/evidence.csv --prices prices.toml demo/sugarbush-gravity.toml --large -o grande.pdf",
		"trial power --practices 4 --cv 15 --gain 20 --figure power.svg", "trial power --cv 15",
		"trial power --gain 20", "trial power --cv 0 --gain 20", "trial power --gain 20 --from none.spile",
		"trial analyse season.csv --thorough", "trial analyse vacuum.csv", "trial analyse bad.csv",
		"trial analyse season.csv --before 2019",
		"trial design unsanitized new-spout --replicates 3 --taps 20 --seed 4 --blind",
		"trial design unsanitized magic",
		"new own.spile", "new own.spile", "new own",
		"add own.spile demo/evidence.csv demo/prices.toml demo/sugarbush-organic.toml --who Ada",
		"add own.spile faulty.csv --who Ada", "check own.spile",
		"trial design unsanitized check-valve --design pairs --replicates 4 --taps 20 --first 2025 --seed 3 --book " +
			"own.spile --name Fen --site Fen", "trial add own.spile Fen readings.csv --who Ada",
		"trial add own.spile Fen bad.csv --who Ada", "trial analyse own.spile Fen --thorough",
		"trial decide own.spile Fen 2025 nothing --keep --reason x --who Ada", "trial sheet own.spile Fen -o fen.xlsx",
		"trial sheet own.spile Fen -o fen.pdf", "gains own.spile", "export own.spile -o all.xlsx",
		"export own.spile -o none.doc",
		"report -o report.html evidence.csv prices.toml", "report --slides -o talk.pdf evidence.csv prices.toml",
		"report -o report.doc evidence.csv prices.toml",
		"figure net -o net.svg demo/evidence.csv prices.toml", "figure bars -o bars.svg demo/evidence.csv",
		"figure intervals -o intervals.svg demo/evidence.csv",
		"figure ageing -o ageing.svg demo/evidence.csv demo/prices.toml",
		"figure outlook -o outlook.svg evidence.csv prices.toml",
		"figure swings -o swings.svg evidence.csv prices.toml",
		"figure map -o map.svg evidence.csv prices.toml",
		"figure trial-size -o trial-size.svg evidence.csv prices.toml",
		"figure nothing -o x.svg evidence.csv",
	} {
		_, out, errs := call(append([]string{"--lang=fr"}, strings.Fields(args)...)...)
		check(args, out+errs)
	}
	for _, name := range []string{"report.html", "fiche.html", "power.svg", "net.svg", "bars.svg", "intervals.svg",
		"ageing.svg", "outlook.svg", "swings.svg", "map.svg", "trial-size.svg"} {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Error(err)
			continue
		}
		doc, err := html.Parse(strings.NewReader(string(data)))
		if err != nil {
			t.Fatal(err)
		}
		var list []string
		for n := range doc.Descendants() {
			if n.Type == html.TextNode && n.Parent.Data != "style" && n.Parent.Data != "script" &&
				n.Parent.Data != "code" {
				list = append(list, strings.Join(strings.Fields(n.Data), " "))
			}
		}
		if len(list) < 5 {
			t.Errorf("%s holds no text", name)
		}
		check(name, strings.Join(list, "\n"))
	}
	book, err := excelize.OpenFile("fen.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	for _, sheet := range book.GetSheetList() {
		rows, err := book.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			check("fen.xlsx, "+sheet,
				strings.Join(slices.DeleteFunc(row, func(cell string) bool { return slices.Contains(headers, cell) }),
					"\n"))
		}
	}
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("NOT RUN: no poppler; all but the PDFs was looked at")
	}
	for _, name := range []string{"fiche.pdf", "grande.pdf", "fen.pdf", "talk.pdf"} {
		text, err := exec.Command("pdftotext", "-layout", name, "-").Output()
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		check(name, string(text))
	}
}

// The language is that of the call, else that of the system; JSON, which scripts read, is English unless the call says.
func TestTheLanguageOfTheSystem(t *testing.T) {
	long(t)
	scenario(t)
	for _, c := range []struct {
		all, messages, lang string
		args                string
		want                string
	}{
		{"", "", "", "gains evidence.csv", "gives the most sap"},
		{"", "", "C.UTF-8", "gains evidence.csv", "gives the most sap"},
		{"", "", "de_DE.UTF-8", "gains evidence.csv", "gives the most sap"},
		{"", "", "fr_CA.UTF-8", "gains evidence.csv", "le plus d’eau d’érable"},
		{"", "fr_CA", "en_CA.UTF-8", "gains evidence.csv", "le plus d’eau d’érable"},
		{"fr_FR@euro", "", "en_CA.UTF-8", "gains evidence.csv", "le plus d’eau d’érable"},
		{"en_US.UTF-8", "", "fr_CA.UTF-8", "gains evidence.csv", "gives the most sap"},
		{"", "", "fr_CA.UTF-8", "gains evidence.csv --lang en", "gives the most sap"},
		{"", "", "fr_CA.UTF-8", "gains evidence.csv --json", "taken as known"},
		{"", "", "fr_CA.UTF-8", "gains evidence.csv --json --lang=fr", "tenues pour connues"},
		{"", "", "fr_CA.UTF-8", "--help", "D’un tableau d’études"},
	} {
		t.Setenv("LC_ALL", c.all)
		t.Setenv("LC_MESSAGES", c.messages)
		t.Setenv("LANG", c.lang)
		if _, out, errs := call(strings.Fields(c.args)...); !strings.Contains(out+errs, c.want) {
			t.Errorf("%+v: it says\n%s%s", c, out, errs)
		}
	}
}
