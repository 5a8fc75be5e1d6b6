package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf16"

	"spile/internal/demo"
)

// fault is a call that cannot be done: what it exits with and what it says, texts that name the place and what is
// allowed. In a call e is the table of the scenario, p its prices, s a sugarbush, b a workbook that holds e, p and the
// trial Fen, l the layout of that trial, r its readings; x.csv, x.toml and the like are a file of the text given.
type fault struct {
	call string
	text string
	code int
	says []string
}

// The good files that faults are put into.
const (
	goodStudies = "study,site,season,practice,mean,mean_unit,n,sd\n" +
		"Hill,Hill,2019,unsanitized,20,gal,6,3\nHill,Hill,2019,check-valve,25,gal,6,3\n"
	goodSeason = "unit,block,season,practice,taps,volume_gal,brix\nA1,A,2024,unsanitized,20,402,2.1\n" +
		"A2,A,2024,check-valve,20,487,2.0\nB1,B,2024,unsanitized,20,410,2.1\nB2,B,2024,check-valve,20,510,2.0\n"
	goodLayout = "season,block,unit,practice,taps\n2024,A,A1,unsanitized,20\n2024,A,A2,check-valve,20\n" +
		"2024,B,B1,check-valve,20\n2024,B,B2,unsanitized,20\n"
	goodReadings = "unit,date,volume_gal,brix\nA1,2024-03-05 17:00,201,2.1\nA2,2024-03-05 17:00,240,2.0\n" +
		"B1,2024-03-05 17:00,251,2.1\nB2,2024-03-05 17:00,199,2.0\n"
	goodEvents   = "kind,from,to,units,note\nleak,2024-03-08,2024-03-09,A1,chewed\n"
	goodCounts   = "unit,date,taps\nA1,2024-02-12,20\n"
	goodDumps    = "unit,date,flow,dump_l\nA1,2024-02-12,slow,1.9\n"
	goodTanks    = "unit,depth_in,volume_gal\nA1,0,0\nA1,10,20\n"
	goodUnits    = "unit,kind,block,taps\nA1,chamber,A,20\nA2,chamber,A,20\nB1,chamber,B,20\nB2,chamber,B,20\n"
	goodBush     = "section,taps,practice,yield,name,first_season,units.sap\nHill,200,unsanitized,15,A,2026,gal\n"
	goodSections = "[section.a]\ntaps = 5\npractice = \"new-spout\"\n"
	goodPractice = "name = \"a\"\nspout = \"new\"\ndrops = \"kept\"\nwash = \"none\"\n"
	goodRule     = "[[rule]]\nwash = \"peroxide\"\nverdict = \"never\"\nreason = \"r\"\nchecked = 2025-10-01\n"
	goodWeather  = "date,tmax_c,tmin_c\n2024-03-01,5,-4\n"
)

// but is a text with parts of it replaced, each of which must be there.
func but(text string, pairs ...string) string {
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			panic(fmt.Sprintf("%q is not in the text", pairs[i]))
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

// priced is the prices of the demo with parts replaced.
func priced(pairs ...string) string {
	text, err := fs.ReadFile(demo.Files(), "prices.toml")
	if err != nil {
		panic(err)
	}
	return but(string(text), pairs...)
}

func studies(pairs ...string) string { return but(goodStudies, pairs...) }

func utf16Text(text string) string {
	b := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(text)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return string(b)
}

// Calls that are at fault whatever the files hold.
var callsAtFault = []fault{
	{"sure e p --times=-5", "", 2, []string{"--times -5; allowed: 100 to"}},
	{"sure e p --times 0", "", 2, []string{"--times 0; allowed: 100 to"}},
	{"sure e p --times 99999999999", "", 2, []string{"--times", "allowed: 100 to"}},
	{"sure e p --times many", "", 2, []string{"--times", "many", "whole number"}},
	{"sure e p --times 1.5", "", 2, []string{"--times", "1.5", "whole number"}},
	{"sure e p --seed=-1", "", 2, []string{"--seed", "-1"}},
	{"sure e p --map wage,wage", "", 2, []string{"--map wage,wage; allowed", "allowed: the keys of two assumptions"}},
	{"sure e p --map wage", "", 2, []string{"--map wage; allowed", "allowed: the keys of two assumptions"}},
	{"sure e p --map wage,nope", "",
		2, []string{"no assumption named nope", "allowed: the key of one that the prices give"}},
	{"sure e p --map wage,dicount", "", 2, []string{"dicount", "did you mean discount?"}},
	{"sure e p --map ,", "", 2, []string{"--map ,; allowed", "allowed: the keys of two assumptions"}},
	{"sure e p --spread wage=gamma", "", 2, []string{"--spread wage=gamma; allowed: held, likely"}},
	{"sure e p --spread wgae=even", "", 2, []string{"wgae", "did you mean wage?"}},
	{"sure e p --spread wage", "", 2, []string{"--spread", "allowed: a key and a value"}},
	{"sure e p --together wage", "",
		2, []string{"--together wage; allowed", "allowed: two keys and a number from −1 to 1"}},
	{"sure e p --together wage,discount=7", "",
		2, []string{"from −1 to 1", "allowed: two keys and a number from −1 to 1"}},
	{"sure e p --together wage,nope=0.5", "", 2, []string{"nope", "allowed: the key of one that the prices give"}},
	{"sure e p --together wage,wage=0.5", "", 2, []string{"wage", "allowed: two assumptions"}},
	{"sure e p --together wage,discount=NaN", "",
		2, []string{"from −1 to 1", "allowed: two keys and a number from −1 to 1"}},
	{"sure e p --aversion=-1", "", 2, []string{"--aversion −1; allowed: 0 to 100"}},
	{"sure e p --aversion NaN", "", 2, []string{"--aversion", "allowed: 0 to 100"}},
	{"sure e p --aversion 1e9", "", 2, []string{"--aversion", "allowed: 0 to 100"}},
	{"sure e p --times=-5 --aversion=-1 --map wage", "", 2, []string{"--times", "--aversion", "--map"}},
	{"sure e p --as wgae", "", 2, []string{"no flag --as", "See spile sure --help"}},
	{"sure e p --tpas 300", "", 2, []string{"no flag --tpas", "did you mean --taps?"}},
	{"serve e p --port 8000", "", 2, []string{"no flag --port\n", "See spile serve --help"}},
	{"sure e", "", 2, []string{"money needs prices", ": give --prices PRICES.toml"}},
	{"risk e p", "", 2, []string{"spile sure", "is called spile sure"}},
	{"worth e p --taps 0", "", 2, []string{"taps", "allowed: above 0"}},
	{"worth e p --taps=-5", "", 2, []string{"taps", "allowed: above 0"}},
	{"worth e p --taps NaN", "", 2, []string{"taps", "allowed"}},
	{"worth e p --adoption 30", "", 2, []string{"adopt", "allowed: 0 to 1"}},
	{"worth e p --adoption=-0.1", "", 2, []string{"allowed: 0 to 1"}},
	{"worth e p --trial=-1", "", 2, []string{"seasons", "allowed"}},
	{"worth e p --seasons 0", "", 2, []string{"seasons", "allowed"}},
	{"worth e p --seasons 100000", "", 2, []string{"seasons", "allowed"}},
	{"worth e p --sites=-1", "", 2, []string{"sites", "allowed"}},
	{"worth e p --block-units 0", "", 2, []string{"units", "allowed"}},
	{"worth e p --unit-taps 0", "", 2, []string{"taps", "allowed"}},
	{"worth e p --fixed=-1", "", 2, []string{"cost", "allowed"}},
	{"worth e p --season-cost=-1", "", 2, []string{"cost", "allowed"}},
	{"worth e p --unit-cost=-1", "", 2, []string{"cost", "allowed"}},
	{"worth e p --site Nowhere", "", 2, []string{"no study was made at Nowhere", "allowed: Fern Gate"}},
	{"worth e p --cv 0", "", 2, []string{"CV", "allowed"}},
	{"worth e p --cv=-15", "", 2, []string{"CV", "allowed"}},
	{"worth e p --cv 0.15", "", 1, []string{"--cv", "--accept", "--cv 15"}},
	{"worth e", "", 2, []string{"money needs prices", ": give --prices PRICES.toml"}},
	{"trial power --cv 0.15 --gain 20", "", 1, []string{"--accept", "--cv 15"}},
	{"trial power --cv 15 --gain 20 --power 0.8", "", 1, []string{"--power 80", "--accept"}},
	{"trial power --cv 15 --gain 20 --level 0.05", "", 1, []string{"--level 5", "--accept"}},
	{"trial power --cv 15 --gain 20 --season-cv 0.1", "", 1, []string{"--season-cv 10", "--accept"}},
	{"trial power --cv 15 --gain 0.2", "", 1, []string{"--gain 20", "--accept"}},
	{"trial power --cv 0.15 --gain 0.2 --level 0.05 --power 0.8", "", 1, []string{"4 questions", "--accept"}},
	{"trial power --cv 15 --gain 20 --power 101", "", 2, []string{"power", "allowed"}},
	{"trial power --cv 15 --gain 20 --power 0", "", 2, []string{"power", "allowed"}},
	{"trial power --cv 15 --gain 20 --level 120", "", 2, []string{"level", "allowed"}},
	{"trial power --cv 15 --gain 20 --level=-5", "", 2, []string{"level", "allowed"}},
	{"trial power --cv 15 --gain 20 --practices 1", "", 2, []string{"allowed: 2 to 20"}},
	{"trial power --cv 15 --gain 20 --runs 5", "", 2, []string{"--runs is 5; allowed", "allowed: 100 to 1000000"}},
	{"trial power --cv 15 --gain 20 --replicates=-1", "", 2, []string{"replicates", "allowed"}},
	{"trial power --cv 15 --gain 20 --seasons 0", "", 2, []string{"seasons", "allowed"}},
	{"trial power --cv 15 --gain 20 --design square", "", 2, []string{"--design", "square", "latin-square"}},
	{"trial power --cv 15 --gain=-120", "", 2, []string{"gain", "allowed"}},
	{"trial power --cv 15 --gain 0", "", 2, []string{"gain", "allowed"}},
	{"trial power --cv 0 --gain 20", "", 2, []string{"CV", "allowed"}},
	{"trial power --cv much --gain 20", "", 2, []string{"--cv", "much", "number"}},
	{"trial power --gain 20", "", 2, []string{"--cv", ": give --cv, or"}},
	{"trial power --cv 15", "", 2, []string{"--gain", "See spile trial power --help"}},
	{"trial power --from e --gain 20", "", 2, []string{"evidence.csv", ".spile"}},
	{"trial power --from none.spile --gain 20", "", 1, []string{"none.spile", "no such file"}},
	{"trial power --cv 15 --gain 20 --figure out.doc", "", 2, []string{"out.doc", "allowed", ".svg"}},
	{"trial design unsanitized nope --seed 1", "", 2, []string{"nope", "allowed"}},
	{"trial design unsanitized chekc-valve", "", 2, []string{"chekc-valve", "did you mean check-valve?"}},
	{"trial design unsanitized unsanitized", "", 2, []string{"unsanitized", "twice"}},
	{"trial design unsanitized check-valve --replicates 0", "", 2, []string{"replicates", "allowed"}},
	{"trial design unsanitized check-valve --taps 0", "", 2, []string{"taps", "allowed"}},
	{"trial design unsanitized check-valve --seasons 0", "", 2, []string{"seasons", "allowed"}},
	{"trial design unsanitized check-valve --reference nope", "", 2, []string{"nope", "allowed"}},
	{"trial design unsanitized check-valve --pool-age=-1", "", 2, []string{"drops", "allowed: 0 to 100"}},
	{"trial design unsanitized check-valve --first 26", "", 2, []string{"26", "allowed", "1900"}},
	{"trial design unsanitized check-valve --first 20260", "", 2, []string{"20260", "allowed", "1900"}},
	{"trial design unsanitized check-valve --design square", "", 2, []string{"--design", "latin-square"}},
	{"trial design unsanitized check-valve new-drop --design pairs", "",
		2, []string{"pairs", "allowed: two practices"}},
	{"trial design unsanitized check-valve -o out.csv", "", 2, []string{"--first", ": give --first: readings"}},
	{"trial design unsanitized check-valve --first 2026 -o out.doc", "", 2, []string{"out.doc", "allowed", ".csv"}},
	{"trial design unsanitized check-valve --first 2026 --book b", "", 2, []string{"--name", "--site"}},
	{"trial design unsanitized check-valve --first 2026 --book e --name A --site B", "",
		2, []string{".spile", "allowed: a name that ends in .spile"}},
	{"trial design unsanitized check-valve -o out.doc --book b", "", 2, []string{"--first", "out.doc", "--name"}},
	{"trial design unsanitized nope --taps 0 --seasons x --design square --pool-age -4 --seed=-3", "", 2, []string{
		"--taps 0; allowed", "--seasons x; allowed", "--design square; allowed", "--pool-age needs", "--seed -3; all"}},
	{"trial power --cv x --gain y --runs z", "", 2, []string{"--cv x; all", "--gain y; all", "--runs z; all"}},
	{"trial design unsanitized nope --replicates 0 --first 26 -o out.doc", "", 2, []string{"nope; allowed",
		"0 replicates; allowed", `"26" is not a season`, "out.doc: allowed"}},
	{"trial design unsanitized", "", 2, []string{"1 practice;", "allowed: two or more"}},
	{"trial design", "", 2, []string{"practice", "See spile trial design --help"}},
	{"trial", "", 2, []string{"analyse", "allowed: design"}},
	{"trial analyse b", "", 2, []string{"the name of one of its trials", "NAME"}},
	{"trial analyse b Fne", "", 2, []string{"Fne", "Fen"}},
	{"trial analyse l r --place US-XX", "", 2, []string{"--place", "US-XX", "did you mean US-TX?"}},
	{"trial analyse l r --inference bayes", "", 2, []string{"--inference", "bayes", "kr"}},
	{"trial analyse l r --reference nope", "", 2, []string{"nope", "allowed"}},
	{"trial analyse l r --before 26", "", 2, []string{"26", "allowed"}},
	{"trial sheet b -o out.pdf", "",
		2, []string{"the name of its trial", "allowed: spile trial sheet BOOK.spile NAME"}},
	{"trial sheet b Fne -o out.pdf", "", 2, []string{"Fne", "Fen"}},
	{"trial sheet l -o out.doc", "", 2, []string{"out.doc", "allowed", ".pdf or .xlsx"}},
	{"trial sheet l", "", 2, []string{"--output", "See spile trial sheet --help"}},
	{"trial sheet l -o out.pdf --season 2031", "", 2, []string{"2031", "2024"}},
	{"trial decide b Fen 2024 nope --out --reason x", "",
		2, []string{"nothing was found in 2024", "spile trial analyse names"}},
	{"trial decide b Fen 2031 nope --out --reason x", "", 2, []string{"2031", "spile trial analyse names"}},
	{"trial decide b Fen soon nope --out --reason x", "", 2, []string{"soon", "whole number"}},
	{"trial decide b Fen 2024 gap --out", "", 2, []string{"--reason", "See spile trial decide --help"}},
	{"trial decide b Fen 2024 gap --reason x", "", 2, []string{"--out", "--keep"}},
	{"trial decide b Fen 2024 gap --out --keep --reason x", "", 2, []string{"--out", "--keep"}},
	{"trial decide b Fne 2024 gap --out --reason x", "", 2, []string{"Fne", "Fen"}},
	{"serve e p --addr 127.0.0.1:99999", "", 2, []string{"no port 99999; allowed: 0 to 65535"}},
	{"serve e p --addr 127.0.0.1:-1", "", 2, []string{"no port -1", "allowed: 0 to 65535"}},
	{"serve e p --addr 10.0.0.1:80", "", 2, []string{"open to the network", "127.0.0.1"}},
	{"serve e p --addr nowhere", "", 2, []string{"HOST:PORT", "allowed: HOST:PORT"}},
	{"serve e p --share", "", 2, []string{"--share", "workbook"}},
	{"demo --serve --addr 127.0.0.1:x", "", 2, []string{"no port x", "allowed: 0 to 65535"}},
	{"profit e p --against nope", "", 2, []string{"there is no practice nope; allowed: unsanitized"}},
	{"profit e p --against nwe-drop", "", 2, []string{"nwe-drop", "did you mean new-drop?"}},
	{"profit e p --against new-drop/0", "", 2, []string{"--against new-drop/0", "new-drop/3"}},
	{"profit e p --against new-drop/x", "", 2, []string{"--against new-drop/x", "new-drop/3"}},
	{"profit e p --against new-spout/3", "", 2, []string{"no rotation", "allowed"}},
	{"profit e p --place US-XX", "", 2, []string{"--place", "US-XX", "did you mean US-TX?"}},
	{"profit e p --place Vermont", "", 2, []string{"--place", "US-VT"}},
	{"profit e p --place ME", "", 1, []string{"the place ME is the country of that code, not US-ME", "--accept"}},
	{"profit e p --exclude Hil", "", 2, []string{"--exclude", "Otter Hill 2016"}},
	{"profit e p --without no-replicaton", "", 2, []string{"--without", "no-replication"}},
	{"gains x.csv --without freak-season", goodStudies, 2, []string{"--without", "nor any other"}},
	{"profit e p --inference bayes", "", 2, []string{"--inference", "bayes", "kr"}},
	{"profit e p --variance none", "", 2, []string{"--variance", "none", "moderated"}},
	{"profit e p --moderators vacum", "", 2, []string{"--moderators", "vacum", "did you mean vacuum?"}},
	{"profit e p --site-effect maybe", "", 2, []string{"maybe", "See spile profit --help"}},
	{"profit e p --units imperial", "", 2, []string{"--units", "imperial"}},
	{"profit e p --lang xx", "", 2, []string{"no language xx; allowed: en, fr"}},
	{"profit e p --frobnicate", "", 2, []string{"--frobnicate", "See spile profit --help"}},
	{"profit e p --thoruogh", "", 2, []string{"did you mean --thorough?"}},
	{"profit e", "", 2, []string{"money needs prices", "--prices"}},
	{"profit", "", 2, []string{"file", "See spile profit --help"}},
	{"proft e p", "", 2, []string{"proft", "profit"}},
	{"gains", "", 2, []string{"file", "See spile gains --help"}},
	{"gains e --place US-VT", "", 2, []string{"--place", "See spile gains --help"}},
	{"rotation e --max 0", "", 2, []string{"--max", "allowed: 1 to 50"}},
	{"rotation e --max 1000", "", 2, []string{"--max", "allowed: 1 to 50"}},
	{"rotation e --place US-VT", "", 2, []string{"--place", "prices"}},
	{"figure map e p -o m.svg --over wage,wage", "",
		2, []string{"--over wage,wage", "allowed: the keys of two assumptions"}},
	{"figure map e p -o m.svg --over wage,nope", "",
		2, []string{"nope", "allowed: the key of one that the prices give"}},
	{"figure nope e p -o m.svg", "", 2, []string{"nope", "net"}},
	{"figure nets e p -o m.svg", "", 2, []string{"nets", "net"}},
	{"figure net e p -o m.doc", "", 2, []string{"m.doc", ".svg"}},
	{"figure net e p -o m", "", 2, []string{"-o m", ".svg"}},
	{"figure net e p", "", 2, []string{"--output", "See spile figure --help"}},
	{"figure net e -o m.svg", "", 2, []string{"money needs prices", ": give --prices PRICES.toml"}},
	{"figure net e p -o m.svg --size poster", "", 2, []string{"--size", "poster", "slide"}},
	{"figure net e p -o no/such/m.svg", "", 1, []string{"no/such", "allowed: one that is there"}},
	{"figure net e p -o evidence.csv.svg --over wage", "",
		2, []string{"--over wage", "allowed: the keys of two assumptions"}},
	{"report e p -o out.doc", "", 2, []string{"out.doc", "allowed", ".html"}},
	{"report e p -o no/such/out.html", "", 1, []string{"no/such", "allowed: one that is there"}},
	{"export e -o out.doc", "", 2, []string{"out.doc", "allowed"}},
	{"export b e -o out.zip", "", 2, []string{"one workbook, or files", "take files into the workbook"}},
	{"export e -o e", "", 2, []string{"evidence.csv", "allowed: another name"}},
	{"export e p -o prices.toml", "", 2, []string{"prices.toml", "allowed: another name"}},
	{"new station", "", 2, []string{"station", "ends in .spile"}},
	{"new b", "", 1, []string{"book.spile", "there is a file of this name"}},
	{"new no/such/x.spile", "", 1, []string{"no/such/x.spile", "allowed: one that is there"}},
	{"add station e", "", 2, []string{"station", "ends in .spile"}},
	{"add none.spile e", "", 1, []string{"none.spile", "no such file"}},
	{"add e b", "", 2, []string{"evidence.csv", "workbook"}},
	{"add b", "", 2, []string{"file", "See spile add --help"}},
	{"add b b", "", 1, []string{"book.spile", ".spile", "allowed"}},
	{"check", "", 2, []string{"book", "See spile check --help"}},
	{"check none.spile", "", 1, []string{"none.spile", "no such file"}},
	{"check e", "", 1, []string{"evidence.csv", "not a workbook"}},
	{"changes", "", 2, []string{"book", "See spile changes --help"}},
	{"changes e", "", 2, []string{"evidence.csv", ".spile"}},
	{"changes none.spile", "", 1, []string{"none.spile", "no such file"}},
	{"changes b --since yesterday", "", 2, []string{"yesterday", "allowed: a day such as 2025-11-01", "0 to 2"}},
	{"changes b --since 3", "", 2, []string{"since", "3", "0 to 2"}},
	{"report e p --since 1 -o out.html", "", 2, []string{"--since", "workbook"}},
	{"plan e p", "", 2, []string{"no sugarbush is given", "--sugarbush"}},
	{"plan e s", "", 2, []string{"prices", ": give --prices PRICES.toml"}},
	{"plan e p --sugarbush none.toml", "", 1, []string{"none.toml", "no such file"}},
	{"plan e p --all none", "", 1, []string{"none", "no such"}},
	{"plan e p --all .git --sugarbush s", "", 2, []string{"--all", "--sugarbush"}},
	{"handout e p s -o out.doc", "", 2, []string{"out.doc", "allowed"}},
	{"handout e p -o out.pdf", "", 2, []string{"money needs prices", "evidence.csv"}},
	{"completion tcsh", "", 2, []string{"tcsh", "bash"}},
}

// Calls at which nothing is at fault: what the others are put into is good.
var callsInOrder = []fault{
	{"gains e", "", 0, nil}, {"gains b", "", 0, nil}, {"gains x.csv", goodStudies, 0, nil},
	{"gains x.csv", "\xef\xbb\xbf" + goodStudies, 0, nil},
	{"gains x.csv", utf16Text(goodStudies), 0, nil},
	{"gains x.csv", strings.ReplaceAll(goodStudies, ",", ";"), 0, nil},
	{"gains x.csv", strings.ReplaceAll(goodStudies, ",", "\t"), 0, nil},
	{"gains x.csv", strings.ReplaceAll(goodStudies, "\n", "\r\n"), 0, nil},
	{"gains x.csv", strings.ReplaceAll(goodStudies, "\n", "\r"), 0, nil},
	{"gains x.csv", "# from the notebook\n\n" + goodStudies + "\n,,,\n", 0, nil},
	{"gains x.csv", strings.ReplaceAll(goodStudies, "Hill", "\"Hill, \"\"the\"\" high\""), 0, nil},
	{"gains x.csv", strings.ToUpper(goodStudies[:30]) + goodStudies[30:], 0, nil},
	{"profit p e", "", 0, nil}, {"profit e --prices p", "", 0, nil}, {"profit b p", "", 0, nil},
	{"profit e x.toml", "\xef\xbb\xbf" + priced(), 0, nil}, {"profit e x.toml", utf16Text(priced()), 0, nil},
	{"plan e p s", "", 0, nil}, {"plan s p e", "", 0, nil}, {"plan e p --sugarbush s", "", 0, nil},
	{"plan e p --sugarbush x.csv", goodBush, 0, nil},
	{"trial analyse x.csv", goodSeason, 0, nil}, {"trial analyse l r", "", 0, nil}, {"trial analyse r l", "", 0, nil},
	{"trial analyse b Fen", "", 0, nil},
	{"trial analyse l r x.csv", goodEvents, 0, nil}, {"trial analyse l r x.csv", goodCounts, 0, nil},
	{"trial analyse l r x.csv", goodDumps, 0, nil}, {"trial analyse l r x.csv", goodTanks, 0, nil},
	{"trial analyse l r x.csv", goodWeather, 0, nil},
	{"trial design unsanitized check-valve --from x.csv", goodUnits, 0, nil}, {"check b", "", 0, nil},
	{"changes b", "", 0, nil}, {"changes b --since 2025-11-01", "", 0, nil},
}

// Files that hold no table or no text of the kind that is wanted.
var filesAtFault = []fault{
	{"profit boko.spile", "", 1, []string{"boko.spile: ", "did you mean book.spile?"}},
	{"gains none.csv", "", 1, []string{"none.csv: ", "there is no such file"}},
	{"gains evidnce.csv", "", 1, []string{"evidnce.csv: ", "did you mean evidence.csv?"}},
	{"gains folder", "", 1, []string{"folder", "folder; allowed: a file"}},
	{"gains x.pdf", "%PDF", 1, []string{"x.pdf", ".pdf", "allowed: .csv"}},
	{"gains x.xls", "\xd0\xcf\x11\xe0", 1, []string{"x.xls", ".xls", "allowed: .csv", ".xlsx"}},
	{"gains x", "", 1, []string{"x", "allowed: .csv"}},
	{"gains x.csv", "", 1, []string{"x.csv: the file is empty; allowed: a header row"}},
	{"gains x.csv", " \n\n", 1, []string{"x.csv: the file is empty; allowed: a header row"}},
	{"gains x.csv", "\ufeff", 1, []string{"x.csv: the file is empty; allowed: a header row"}},
	{"gains x.csv", "# only a comment\n", 1, []string{"x.csv", "header"}},
	{"gains x.csv", "study,site,season,practice,mean,n,sd\n", 1, []string{"x.csv", "no row", "allowed"}},
	{"gains x.csv", "\xef\xbb\xbf" + studies("mean,", "meen,"), 1, []string{"x.csv", "meen", "mean"}},
	{"gains x.csv", utf16Text(studies("2019", "1899")),
		1, []string{"x.csv, row 2, column season", "allowed: the year of the spring"}},
	{"gains x.csv", utf16Text(goodStudies)[2:], 1, []string{"x.csv", "zero byte", "UTF-8"}},
	{"gains x.csv", studies("Hill,Hill", "Ch\x81ne,Hill"), 1, []string{"x.csv, row 2", "not UTF-8", "CSV UTF-8"}},
	{"gains x.csv", "PK\x03\x04rest", 1, []string{"x.csv", "spreadsheet", "save"}},
	{"gains x.xlsx", "PK\x03\x04rest", 1, []string{"x.xlsx", "save it again"}},
	{"gains x.xlsx", goodStudies, 1, []string{"x.xlsx", "spreadsheet"}},
	{"gains x.xlsx", "", 1, []string{"x.xlsx", "not a spreadsheet", "allowed"}},
	{"gains x.zip", goodStudies, 1, []string{"x.zip", "data package"}},
	{"gains x.csv", "a;b;c\n1;2;3\n", 1, []string{"x.csv, row 1", "study", "needed"}},
	{"gains x.csv", "<html><body>Not found</body></html>", 1, []string{"x.csv, row 1", "one column"}},
	{"gains x.csv", "{\"study\": 1}", 1, []string{"x.csv, row 1", "quotes"}},
	{"gains x.csv", priced(), 1, []string{"x.csv, row 4", "quotes"}},
	{"gains x.toml", goodStudies, 1, []string{"x.toml", "TOML"}},
	{"gains x.csv", studies("20,gal", "\"20,gal"), 1, []string{"x.csv, row 2", "quotes"}},
	{"gains x.csv", studies("20,gal", "2\"0,gal"), 1, []string{"x.csv, row 2", "quotes"}},
	{"gains x.csv", studies("20,gal,6,3", "20,gal,6,3,7,8"),
		1, []string{"x.csv, row 2", "beyond the last column", "8 fields"}},
	{"gains x.csv", studies("20,gal,6,3", "20"), 1, []string{"x.csv", "allowed: one unit for all means of a study"}},
	{"gains x.csv", studies("study,site", "study,study"), 1, []string{"x.csv, row 1", "study", "twice"}},
	{"gains x.csv", studies("study,site", "study,"), 1, []string{"x.csv, row 1", "site"}},
	{"gains x.csv", strings.ReplaceAll(goodStudies, ",", "|"),
		1, []string{"x.csv, row 1", "one column", "a comma, a semicolon or a tab"}},
	{"gains e e", "", 2, []string{"evidence.csv", "twice"}},
	{"gains e ./evidence.csv", "", 2, []string{"evidence.csv", "twice"}},
	{"gains p", "", 2, []string{"prices.toml", "prices", "evidence"}},
	{"profit p", "", 2, []string{"prices.toml", "evidence"}},
	{"profit p p", "", 2, []string{"prices.toml", "twice"}},
	{"gains r", "", 1, []string{"readings.csv", "readings of a trial", "spile trial"}},
	{"gains l", "", 1, []string{"layout.csv", "layout of a trial", "spile trial"}},
	{"gains s", "", 2, []string{"bush.toml", "no study", "evidence table"}},
	{"profit e s", "", 2, []string{"bush.toml", "money needs prices", "--prices"}},
	{"profit e --prices s", "", 2, []string{"bush.toml", "money needs prices"}},
	{"profit e --prices e", "", 2, []string{"evidence.csv", "prices"}},
	{"profit e p x.toml", priced("USD", "CAD"), 1, []string{"x.toml", "currenc"}},
	{"profit e p x.toml", priced(), 1, []string{"x.toml", "second price file", "allowed: one"}},
	{"profit b e", "", 2, []string{"book.spile", "spile add"}},
	{"profit b b", "", 2, []string{"book.spile", "allowed: each file once"}},
	{"profit x.spile", "", 1, []string{"x.spile", "empty", "workbook"}},
	{"profit x.spile", goodStudies, 1, []string{"x.spile", "not a workbook"}},
	{"profit x.spile", "SQLite format 3\x00", 1, []string{"x.spile", "damaged"}},
	{"profit folder.spile", "", 1, []string{"folder.spile", "allowed: a workbook"}},
	{"add b x.csv", "study,site,season,practice,mean,n,sd\n", 1, []string{"x.csv", "no row"}},
	{"add b x.csv", "", 1, []string{"x.csv: the file is empty", "allowed: a header row"}},
	{"add b r", "", 1, []string{"readings.csv: this file holds readings of a trial", "spile trial add"}},
	{"add b x.csv", studies("Hill,Hill,2019,u", "Otter Hill 2016,Hill,2019,u", "Hill,Hill,2019,c",
		"Otter Hill 2016,Hill,2019,c"), 1, []string{"Otter Hill 2016", "other content", "--replace"}},
	{"plan e p --sugarbush p", "", 1, []string{"prices.toml", "sugarbush"}},
	{"plan e p --sugarbush e", "", 1, []string{"evidence.csv", "sugarbush"}},
	{"plan e p x.csv --sugarbush x.csv", "", 1, []string{"x.csv: the file is empty", "allowed: a header row"}},
	{"trial analyse e", "", 1, []string{"evidence.csv: this file holds studies", "spile gains"}},
	{"trial analyse p", "", 1, []string{"prices.toml", "trial"}},
	{"trial analyse r", "", 1, []string{"readings.csv", "layout"}},
	{"trial analyse none.csv", "", 1, []string{"none.csv", "no such file"}},
	{"trial analyse x.csv", "", 1, []string{"x.csv: the file is empty", "allowed: a header row"}},
	{"trial analyse x.csv", "unit,block,season,practice,taps,volume_gal\n", 1, []string{"x.csv", "no row"}},
	{"trial sheet r -o out.pdf", "", 1, []string{"readings.csv", "layout"}},
	{"trial design unsanitized check-valve --from e", "", 1, []string{"evidence.csv", "allowed: tree"}},
	{"trial design unsanitized check-valve --from none.csv", "", 1, []string{"none.csv", "no such file"}},
	{"trial add b Fen e", "", 1, []string{"evidence.csv: this file holds studies", "spile gains"}},
	{"trial add b Fen p", "", 1, []string{"prices.toml: this file holds prices", "spile profit"}},
	{"trial add b Fen none.csv x.csv", "", 1, []string{"none.csv", "x.csv", "2 faults"}},
	{"trial add b Fne r", "", 1, []string{"Fne", "Fen"}},
	{"trial add e Fen r", "", 2, []string{"evidence.csv", ".spile"}},
}

// Cells of an evidence table.
var studiesAtFault = []fault{
	{"gains x.csv", studies("2019,u", "1899,u"), 1, []string{"x.csv, row 2, column season", "1899", "1900 to 2100"}},
	{"gains x.csv", studies("2019,u", "2101,u"), 1, []string{"x.csv, row 2, column season", "1900 to 2100"}},
	{"gains x.csv", studies("2019,u", "19,u"), 1, []string{"x.csv, row 2, column season", "four digits"}},
	{"gains x.csv", studies("2019,u", "2018-20,u"),
		1, []string{"x.csv, row 2, column season", "2018-20", "four digits"}},
	{"gains x.csv", studies("2019,u", "spring,u"),
		1, []string{"x.csv, row 2, column season", "spring", "four digits"}},
	{"gains x.csv", studies("2019,u", ",u"), 1, []string{"x.csv, row 2, column season", "needed"}},
	{"gains x.csv", studies("2019,c", "2018,c"), 1, []string{"x.csv, row 3, column season", "2018"}},
	{"gains x.csv", studies("Hill,2019,c", "Fen,2019,c"), 1, []string{"x.csv, row 3, column site", "Fen"}},
	{"gains x.csv", studies("Hill,Hill,2019,u", ",Hill,2019,u"), 1, []string{"x.csv, row 2, column study", "needed"}},
	{"gains x.csv", studies("Hill,Hill,2019,u", "Hill,,2019,u"), 1, []string{"x.csv, row 2, column site", "needed"}},
	{"gains x.csv", strings.ReplaceAll(goodStudies, "Hill,Hill", "Hill,"), 1, []string{"x.csv", "site", "needed"}},
	{"gains x.csv", studies("check-valve", "chekc-valve"),
		1, []string{"x.csv, row 3, column practice", "did you mean check-valve?"}},
	{"gains x.csv", studies("check-valve", "magic"),
		1, []string{"x.csv, row 3, column practice", "magic", "allowed: unsanitized"}},
	{"gains x.csv", studies("check-valve", ""), 1, []string{"x.csv, row 3, column practice", "needed"}},
	{"gains x.csv", studies("check-valve", "unsanitized"), 1, []string{"x.csv, row 3", "unsanitized", "twice"}},
	{"gains x.csv", studies("25,gal", "much,gal"),
		1, []string{"x.csv, row 3, column mean", "much", "allowed: a plain number"}},
	{"gains x.csv", studies("25,gal", "-25,gal"), 1, []string{"x.csv, row 3, column mean", "allowed: above 0"}},
	{"gains x.csv", studies("25,gal", "0,gal"), 1, []string{"x.csv, row 3, column mean", "allowed: above 0"}},
	{"gains x.csv", studies("25,gal", "1e9,gal"), 1, []string{"x.csv, row 3, column mean", "allowed"}},
	{"gains x.csv", studies("25,gal", "NaN,gal"), 1, []string{"x.csv, row 3, column mean", "NaN", "leave it empty"}},
	{"gains x.csv", studies("25,gal", "Inf,gal"), 1, []string{"x.csv, row 3, column mean", "Inf", "leave it empty"}},
	{"gains x.csv", studies("25,gal", "25 cubits,gal"), 1, []string{"x.csv, row 3, column mean", "25 cubits"}},
	{"gains x.csv", studies("25,gal", "2 5,gal"), 1, []string{"x.csv, row 3, column mean", "2 5"}},
	{"gains x.csv", studies("25,gal", "\"1,200\",gal"), 1, []string{"x.csv, row 3, column mean", "1,200", "allowed"}},
	{"gains x.csv", studies("25,gal", ",gal"), 1, []string{"x.csv, row 3", "mean"}},
	{"gains x.csv", studies("25,gal", "25,buckets"),
		1, []string{"x.csv, row 3, column mean_unit", "buckets", "gal_imp"}},
	{"gains x.csv", studies("25,gal", "25,l"),
		1, []string{"x.csv, row 3, column mean_unit", "allowed: one value a study"}},
	{"gains x.csv", studies("25,gal,6", "25,gal,6.5"), 1, []string{"x.csv, row 3, column n", "6.5", "whole"}},
	{"gains x.csv", studies("25,gal,6", "25,gal,0"), 1, []string{"x.csv, row 3, column n", "allowed"}},
	{"gains x.csv", studies("25,gal,6", "25,gal,-6"), 1, []string{"x.csv, row 3, column n", "allowed"}},
	{"gains x.csv", studies("25,gal,6", "25,gal,100001"), 1, []string{"x.csv, row 3, column n", "100,000"}},
	{"gains x.csv", studies("25,gal,6,3", "25,gal,6,-3"), 1, []string{"x.csv, row 3, column sd", "allowed: above 0"}},
	{"gains x.csv", studies("25,gal,6,3", "25,gal,6,0"), 1, []string{"x.csv, row 3, column sd", "allowed: above 0"}},
	{"gains x.csv", studies("n,sd", "n,se,sd", "6,3\nHill", "6,9,3\nHill", "25,gal,6,3", "25,gal,6,1.2,3"), 1,
		[]string{"x.csv, row 2", "sd", "se"}},
	{"gains x.csv", studies("sd\n", "sd,kind\n", "6,3\nHill", "6,3,maybe\nHill"), 1,
		[]string{"x.csv, row 2, column kind", "maybe", "replicated"}},
	{"gains x.csv", studies("sd\n", "sd,reference\n", "6,3\nHill", "6,3,perhaps\nHill"), 1,
		[]string{"x.csv, row 2, column reference", "perhaps", "yes"}},
	{"gains x.csv", studies("sd\n", "sd,reference\n", "6,3\nHill", "6,3,yes\nHill", "25,gal,6,3", "25,gal,6,3,yes"), 1,
		[]string{"x.csv, row 3", "reference"}},
	{"gains x.csv", studies("unsanitized", "new-spout"), 1, []string{"x.csv", "reference"}},
	{"gains x.csv", studies("sd\n", "sd,unit\n", "6,3\nHill", "6,3,bucket\nHill"), 1,
		[]string{"x.csv, row 2, column unit", "bucket", "tree"}},
	{"gains x.csv", studies("sd\n", "sd,vacuum_inhg\n", "6,3\nHill", "6,3,40\nHill"), 1,
		[]string{"x.csv, row 2, column vacuum_inhg", "0 to 29.9"}},
	{"gains x.csv", studies("sd\n", "sd,vacuum_inhg,vacuum_kpa\n", "6,3\nHill", "6,3,20,68\nHill"), 1,
		[]string{"x.csv, row 2", "vacuum_kpa"}},
	{"gains x.csv", studies("sd\n", "sd,drop_age\n", "6,3\nHill", "6,3,101\nHill"), 1,
		[]string{"x.csv, row 2, column drop_age", "0 to 100"}},
	{"gains x.csv", studies("sd\n", "sd,tapped\n", "6,3\nHill", "6,3,02/03/2019\nHill"), 1,
		[]string{"x.csv, row 2, column tapped", "02/03/2019", "allowed"}},
	{"gains x.csv", studies("sd\n", "sd,tapped,last_run\n", "6,3\nHill", "6,3,2019-04-01,2019-03-01\nHill"), 1,
		[]string{"x.csv, row 2", "last_run"}},
	{"gains x.csv", studies("sd\n", "sd,tubing_in\n", "6,3\nHill", "6,3,5/0\nHill"), 1,
		[]string{"x.csv, row 2, column tubing_in", "5/0", "allowed"}},
	{"gains x.csv", studies("sd\n", "sd,pump\n", "6,3\nHill", "6,3,on\nHill"), 1,
		[]string{"x.csv, row 2, column pump", "runs-on"}},
	{"gains x.csv", studies("sd\n", "sd,gain_pct\n", "25,gal,6,3", "25,gal,6,3,25"), 1,
		[]string{"x.csv, row 3", "gain_pct", "mean"}},
	{"gains x.csv", "study,site,season,practice,gain_pct\nHill,Hill,2019,check-valve,-120\n", 1,
		[]string{"x.csv, row 2, column gain_pct", "above −100"}},
	{"gains x.csv", "study,site,season,practice,gain_pct\nHill,Hill,2019,check-valve,2000\n", 1,
		[]string{"x.csv, row 2, column gain_pct", "1,000"}},
	{"gains x.csv", "study,site,season,practice,gain_pct,gain_low_pct\nHill,Hill,2019,check-valve,20,10\n", 1,
		[]string{"x.csv, row 2", "gain_high_pct"}},
	{"gains x.csv", "study,site,season,practice,gain_pct,gain_low_pct,gain_high_pct\n" +
		"Hill,Hill,2019,check-valve,20,30,40\n", 1, []string{"x.csv, row 2", "gain_low_pct"}},
	{"gains x.csv", "study,site,season,practice,gain_pct\nHill,Hill,2019,unsanitized,5\n", 1,
		[]string{"x.csv, row 2", "carries a gain; allowed"}},
	{"gains x.csv", goodStudies + strings.Repeat("Hill,Hill,2019,new-drop,-2,gal,6.5,3\n", 75), 1,
		[]string{"and 124 more faults, not listed", "224 faults"}},
	{"gains x.csv", studies("2019,u", "1899,u", "25,gal,6,3", "much,gal,6.5,-3"), 1,
		[]string{"row 2, column season", "row 3, column mean", "row 3, column n", "row 3, column sd", "4 faults"}},
}

// Keys of a price file.
var pricesAtFault = []fault{
	{"profit e x.toml", "", 1, []string{"x.toml: the file is empty; allowed: lines such as wage = 24"}},
	{"profit e x.toml", "# nothing\n", 2, []string{"x.toml", "money needs prices"}},
	{"profit e x.toml", priced(`currency = "USD"`, ``), 1, []string{"x.toml", "currency", "needed"}},
	{"profit e x.toml", priced(`"USD"`, `5`), 1, []string{"x.toml, row 4, key currency", "5"}},
	{"profit e x.toml", priced(`"USD"`, `"dollars"`),
		1, []string{"x.toml, row 4, key currency", "dollars", "ISO 4217"}},
	{"profit e x.toml", priced(`2025-11-01`, `"last fall"`), 1, []string{"x.toml, row 5, key as_of", "allowed"}},
	{"profit e x.toml", priced(`2025-11-01`, `2025-13-01`), 1, []string{"x.toml, row 5", "as_of"}},
	{"profit e x.toml", priced(`"US-VT"`, `"PA"`), 1, []string{"x.toml, row 6, key place", "not US-PA", "--accept"}},
	{"profit e x.toml", priced(`"US-VT"`, `"US-XX"`),
		1, []string{"x.toml, row 6, key place", "did you mean US-TX?", "ISO 3166"}},
	{"profit e x.toml", priced(`organic = false`, `organic = "never"`),
		1, []string{"x.toml, row 7, key organic", "allowed: yes, no"}},
	{"profit e x.toml", priced(`wage     =`, `wgae     =`), 1,
		[]string{"x.toml, row 10, key wgae", "did you mean wage?", "key wage", "2 faults"}},
	{"profit e x.toml", priced(`best = 24,`, `best = -24,`), 1, []string{"x.toml, row 10, key wage", "allowed"}},
	{"profit e x.toml", priced(`best = 24, low = 18`, `best = 24, low = 38`),
		1, []string{"x.toml, row 10, key wage", "low"}},
	{"profit e x.toml", priced(`best = 24,`, `best = "24",`),
		1, []string{"x.toml, row 10, key wage", "without quotes"}},
	{"profit e x.toml", priced(`best = 24,`, `bset = 24,`), 1, []string{"x.toml, row 10, key wage", "bset", "best"}},
	{"profit e x.toml", priced(`best = 24,`, ``), 1, []string{"x.toml, row 10, key wage", "best"}},
	{"profit e x.toml", priced(`best = 24,`, `best = 24`), 1, []string{"x.toml, row 10, key wage", "not TOML"}},
	{"profit e x.toml", priced(`best = 24,`, `best = 1,200,`), 1, []string{"x.toml, row 10, key wage", "thousands"}},
	{"profit e x.toml", priced(`best = 24,`, `best = nan,`),
		1, []string{"x.toml, row 10, key wage", "leave it empty"}},
	{"profit e x.toml", priced(`best = 24,`, `best = inf,`),
		1, []string{"x.toml, row 10, key wage", "leave it empty"}},
	{"profit e x.toml", priced(`best = 0.05,`, `best = 5,`, `high = 0.10`, `high = 9`),
		1, []string{"x.toml, row 11, key discount", "allowed"}},
	{"profit e x.toml", priced(`lost_sap = 0.4`, `lost_sap = 30 gal`), 1,
		[]string{"x.toml, row 121, key lost_sap", "30 gal", "without unit"}},
	{"profit e x.toml", priced(`lost_sap = 0.4`, `lost_sap = "30 gal"`), 1,
		[]string{"x.toml, row 121, key use.chlorine-rinse.lost_sap", "30 gal", "without quotes"}},
	{"profit e x.toml", priced(`lost_sap = 0.4`, `lost_sap = 30`), 1,
		[]string{"x.toml, row 121, key use.chlorine-rinse.lost_sap",
			"30 stands here; allowed: 0 to the baseline yield, 20"}},
	{"profit e x.toml", priced(`lost_sap = 0.4`, `lost_spa = 0.4`),
		1, []string{"x.toml, row 121", "did you mean lost_sap?"}},
	{"profit e x.toml", priced(`sap = "gal"`, `sap = "barrel"`),
		1, []string{"x.toml, row 17, key units.sap", "barrel", "gal_imp"}},
	{"profit e x.toml", priced(`mass = "lb"`, `mass = "pounds"`),
		1, []string{"x.toml", "key units.mass", "pounds", "kg"}},
	{"profit e x.toml", priced("[today]\npractice = \"new-spout\"", "[today]\npractice = \"nwe-spout\""), 1,
		[]string{"x.toml, row 23, key today.practice", "did you mean new-spout?"}},
	{"profit e x.toml", priced(`best = 20, low = 14`, `best = 0, low = 0`),
		1, []string{"x.toml", "key baseline.yield", "allowed: above 0"}},
	{"profit e x.toml", priced(`best = 2.0, low = 1.7`, `best = 40, low = 1.7`),
		1, []string{"x.toml", "key baseline.brix", "allowed"}},
	{"profit e x.toml", priced(`share = 0.55`, `share = 0.85`), 1, []string{"x.toml", "share", "1"}},
	{"profit e x.toml", priced(`share = 0.55`, `share = 55`),
		1, []string{"x.toml", "key sells.bulk.amber.share", "allowed"}},
	{"profit e x.toml", priced(`[use.new-spout]`, `[use.nwe-spout]`),
		1, []string{"x.toml", "use.nwe-spout", "did you mean new-spout?"}},
	{"profit e x.toml", priced(`[use.check-valve]`, `[use.new-spout]`),
		1, []string{"x.toml", "use.new-spout", "twice"}},
	{"profit e x.toml", priced(`material.spout = { count`, `material.spuot = { count`), 1,
		[]string{"x.toml", "use.new-spout.material.spuot", "did you mean spout?"}},
	{"profit e x.toml", priced(`minutes.tapping =`, `minutes.taping =`),
		1, []string{"x.toml", "minutes.taping", "did you mean tapping?"}},
	{"profit e x.toml", priced(`chemical = "chlorine"`, `chemical = "chlorin"`),
		1, []string{"x.toml", "key use.chlorine-rinse.chemical", "did you mean chlorine?"}},
	{"profit e x.toml", priced(`count = 1, life = 1 }`, `count = -1, life = 1 }`),
		1, []string{"x.toml", "count", "allowed"}},
	{"profit e x.toml", priced(`[baseline]`, `[baseline`), 1, []string{"x.toml, row 25", "not TOML", "bracket"}},
	{"profit e x.toml", priced(`"US-VT"`, `"US-VT`), 1, []string{"x.toml, row 6", "quote"}},
	{"profit e x.toml", priced(`wage     = {`, `wage     : {`), 1, []string{"x.toml, row 10", "equals sign"}},
	{"profit e x.toml", priced(`organic = false`, "organic = false\norganic = true"),
		1, []string{"x.toml, row 8", "organic", "twice"}},
	{"profit e x.toml", priced(`USD`, "\xa3"), 1, []string{"x.toml, row 4", "not UTF-8"}},
	{"profit e x.toml", utf16Text(priced())[2:], 1, []string{"x.toml", "zero byte"}},
	{"profit e x.toml", goodStudies, 1, []string{"x.toml, row 1", "not TOML"}},
	{"profit e x.toml", "[practice.Steam]\n" + goodPractice, 1,
		[]string{"x.toml", "Steam", "small letters"}},
	{"profit e p x.toml", "[practice.steam]\n" + but(goodPractice, "\"new\"", "\"nwe\""), 1,
		[]string{"x.toml", "practice.steam.spout", "new"}},
	{"profit e p x.toml", "[practice.steam]\nname = \"a\"\n",
		1, []string{"x.toml", "spout", "drops", "wash", "3 faults"}},
	{"profit e p x.toml", "[practice.new-spout]\n" + goodPractice, 1,
		[]string{"x.toml", "new-spout"}},
	{"profit e p x.toml", but(goodRule, "never", "maybe"), 1,
		[]string{"x.toml", "verdict", "held-back"}},
	{"profit e p x.toml", but(goodRule, "wash = \"peroxide\"\n", ""), 1,
		[]string{"x.toml", "rule", "wash"}},
	{"profit e p x.toml", but(goodRule, "2025", "2035"), 1,
		[]string{"x.toml", "checked", "2035-10-01"}},
}

// What a sugarbush and a trial are told by.
var bushesAtFault = []fault{
	{"plan e p --sugarbush x.csv", but(goodBush, "200", "0"), 1, []string{"x.csv, row 2, column taps", "allowed"}},
	{"plan e p --sugarbush x.csv", but(goodBush, "200", "many"),
		1, []string{"x.csv, row 2, column taps", "many", "allowed"}},
	{"plan e p --sugarbush x.csv", but(goodBush, "unsanitized", "unsanitised"), 1,
		[]string{"x.csv, row 2, column practice", "did you mean unsanitized?"}},
	{"plan e p --sugarbush x.csv", but(goodBush, "yield", "yeild"), 1, []string{"x.csv", "yeild", "yield"}},
	{"plan e p --sugarbush x.csv", "section,taps,practice\n", 1, []string{"x.csv", "no row below"}},
	{"plan e p --sugarbush x.csv", but(goodBush, "section,", "sektion,"), 1, []string{"x.csv", "section"}},
	{"plan e p --sugarbush x.toml", "", 1, []string{"x.toml: the file is empty", "allowed: lines such as wage = 24"}},
	{"plan e p --sugarbush x.toml", "name = \"A\"\nfirst_season = 2026\n", 1, []string{"x.toml", "section"}},
	{"plan e p --sugarbush x.toml", "name = \"A\"\nfirst_season = 26\n" + goodSections, 1,
		[]string{"x.toml, row 2, key first_season", "1900 to 2100"}},
	{"plan e p --sugarbush x.toml", "name = \"A\"\nfirst_season = 2026\nseasons = 40\n" + goodSections, 1,
		[]string{"x.toml, row 3, key seasons", "1 to 15"}},
	{"plan e p --sugarbush x.toml", "name = \"A\"\nfirst_season = 2026\n" + but(goodSections, "taps", "tpas"), 1,
		[]string{"x.toml, row 4", "did you mean taps?", "section.a.taps"}},
	{"plan e p --sugarbush x.toml", "name = \"A\"\nfirst_season = 2026\ncurrency = \"CAD\"\n" + goodSections, 1,
		[]string{"x.toml", "exchange"}},
}

var trialsAtFault = []fault{
	{"trial analyse x.csv", but(goodSeason, "402", "much"),
		1, []string{"x.csv, row 2, column volume_gal", "much", "allowed"}},
	{"trial analyse x.csv", but(goodSeason, "402", "-4"), 1, []string{"x.csv, row 2, column volume_gal", "allowed"}},
	{"trial analyse x.csv", but(goodSeason, "20,402", "0,402"), 1, []string{"x.csv, row 2, column taps", "allowed"}},
	{"trial analyse x.csv", but(goodSeason, "2024", "1899"),
		1, []string{"x.csv, row 2, column season", "1900 to 2100"}},
	{"trial analyse x.csv", but(goodSeason, "check-valve", "chekc-valve"),
		1, []string{"x.csv, row 3, column practice", "did you mean check-valve?"}},
	{"trial analyse x.csv", but(goodSeason, "A2,A", "A1,A"), 1, []string{"x.csv, row 3, column unit", "A1", "row 2"}},
	{"trial analyse x.csv", but(goodSeason, "volume_gal", "volume"), 1, []string{"x.csv, row 1", "volume_gal"}},
	{"trial analyse x.csv", but(goodSeason, "taps", "tpas"), 1, []string{"x.csv, row 1", "taps"}},
	{"trial analyse x.csv", but(goodSeason, "2.1", "21"), 1, []string{"x.csv, row 2, column brix", "20"}},
	{"trial analyse x.csv", but(goodSeason, "402", "40200"), 1, []string{"x.csv, row 2", "--accept"}},
	{"trial analyse x.csv", but(goodSeason, "402", "much", "487", "more"), 1, []string{"row 2", "row 3", "2 faults"}},
	{"trial analyse x.csv r", but(goodLayout, "2024", "1899"),
		1, []string{"x.csv, row 2, column season", "1900 to 2100"}},
	{"trial analyse x.csv r", but(goodLayout, "check-valve", "magic"),
		1, []string{"x.csv, row 3, column practice", "magic", "allowed"}},
	{"trial analyse x.csv r", but(goodLayout, "A2", "A1"), 1, []string{"x.csv, row 3", "A1", "twice"}},
	{"trial analyse x.csv r", but(goodLayout, ",20\n2024,A,A2", ",0\n2024,A,A2"),
		1, []string{"x.csv, row 2, column taps", "allowed"}},
	{"trial analyse l x.csv", but(goodReadings, "A1,2024-03-05 17:00", "A9,2024-03-05 17:00"), 1,
		[]string{"x.csv, row 2, column unit", "A9", "A1"}},
	{"trial analyse l x.csv", but(goodReadings, "2024-03-05 17:00", "03/05/2024"),
		1, []string{"x.csv, row 2, column date", "03/05/2024", "allowed"}},
	{"trial analyse l x.csv", but(goodReadings, "2024-03-05 17:00", "2024-02-30"),
		1, []string{"x.csv, row 2, column date", "2024-02-30"}},
	{"trial analyse l x.csv", but(goodReadings, "2024-03-05 17:00", "2031-03-05"),
		1, []string{"x.csv, row 2", "2031"}},
	{"trial analyse l x.csv", but(goodReadings, "2024-03-05 17:00", "2024-07-05"),
		1, []string{"x.csv, row 2", "--accept"}},
	{"trial analyse l x.csv", but(goodReadings, "201,", "-201,"),
		1, []string{"x.csv, row 2, column volume_gal", "allowed"}},
	{"trial analyse l x.csv", but(goodReadings, "2.1", "two"), 1, []string{"x.csv, row 2, column brix", "two"}},
	{"trial analyse l x.csv", but(goodReadings, "2.1", "25"), 1, []string{"x.csv, row 2, column brix", "0 to 20"}},
	{"trial analyse l x.csv", but(goodReadings, "brix", "bricks"), 0, []string{"x.csv, row 1", "bricks"}},
	{"trial analyse l x.csv", "unit,date,volume_gal\n", 1, []string{"x.csv", "no row"}},
	{"trial analyse l r r", "", 2, []string{"readings.csv", "twice"}},
	{"trial analyse l r x.csv", but(goodEvents, "leak", "leek"),
		1, []string{"x.csv, row 2, column kind", "did you mean leak?"}},
	{"trial analyse l r x.csv", but(goodEvents, "2024-03-09", "2024-03-01"),
		1, []string{"x.csv, row 2, column to", "2024-03-0"}},
	{"trial analyse l r x.csv", but(goodEvents, "2024-03-09", "2027-03-09"), 1, []string{"x.csv, row 2", "--accept"}},
	{"trial analyse l r x.csv", but(goodEvents, "A1,chewed", "A9,chewed"),
		1, []string{"x.csv, row 2, column units", "A9"}},
	{"trial analyse l r x.csv", but(goodCounts, "20\n", "0\n"), 1, []string{"x.csv, row 2, column taps", "allowed"}},
	{"trial analyse l r x.csv", but(goodCounts, "20\n", "5\n"), 1, []string{"5 taps", "A1", "20", "--accept"}},
	{"trial analyse l r x.csv", but(goodCounts, "20\n", "20000\n"),
		1, []string{"20,000 taps", "A1", "20", "--accept"}},
	{"trial analyse l r x.csv", but(goodDumps, "slow", "slwo"),
		1, []string{"x.csv, row 2, column flow", "did you mean slow?"}},
	{"trial analyse l r x.csv", but(goodDumps, "1.9", "0"), 1, []string{"x.csv, row 2, column dump_l", "allowed"}},
	{"trial analyse l r x.csv", but(goodTanks, "10,20", "10,0\nA1,9,30"),
		1, []string{"x.csv, row", "allowed: a row of depth 0 first"}},
	{"trial analyse l r x.csv", but(goodWeather, "5,-4", "-8,-4"),
		1, []string{"x.csv, row 2", "allowed: at most that"}},
	{"trial analyse l r x.csv", but(goodWeather, "5,-4", "500,-4"), 1, []string{"x.csv, row 2, column tmax_c", "57"}},
	{"trial analyse l r x.csv", but(goodWeather, "5,-4", "41,25"), 1, []string{"column tmax_c", "41", "--accept"}},
	{"trial analyse l r x.toml", "name = 5\n", 1, []string{"x.toml, row 1, key name", "allowed: a text in quotes"}},
	{"trial analyse l r x.toml", "nmae = \"Fen\"\n", 1, []string{"x.toml, row 1, key nmae", "did you mean name?"}},
	{"trial analyse l r x.toml", "name = \"Fen\"\nsite = \"Fen\"\n[analysis]\nreference = \"nope\"\n", 1,
		[]string{"x.toml, row 4, key analysis.reference", "nope", "allowed"}},
	{"trial analyse l r x.toml",
		"name = \"layout\"\nsite = \"Fen\"\n[season_rules]\nfrom = \"05-01\"\nto = \"02-01\"\n", 1,
		[]string{"from 05-01 to 02-01", "--accept"}},
	{"trial design unsanitized check-valve --from x.csv", but(goodUnits, "chamber,A", "shed,A"), 1,
		[]string{"x.csv, row 2, column kind", "shed", "allowed: tree"}},
	{"trial design unsanitized check-valve --from x.csv", but(goodUnits, "A2", "A1"),
		1, []string{"x.csv, row 3, column unit", "A1"}},
	{"trial design unsanitized check-valve --from x.csv", but(goodUnits, "A,20", "A,0"),
		1, []string{"x.csv, row 2, column taps", "allowed"}},
	{"trial design unsanitized check-valve --from x.csv", "unit\n", 1, []string{"x.csv", "no row"}},
	{"trial add b Fen x.csv", but(goodReadings, "201,", "much,", "240,", "-1,"),
		1, []string{"row 2", "row 3", "2 faults"}},
	{"trial add b Fen x.csv", but(goodReadings, "201,", "202,", "240,", "241,"), 1,
		[]string{"A1", "2024-03-05", "A2", "--replace", "2 faults", "x.csv, row 2", "x.csv, row 3"}},
	{"trial add b Fen x.csv", but(goodCounts, "unit", "mood"),
		1, []string{"x.csv, row 1", "cannot be told", "allowed: readings"}},
	{"trial add b Fen x.csv", but(goodCounts, "20\n", "5\n"), 1, []string{"5", "20", "--accept"}},
	{"trial add b Fen x.csv", but(goodReadings, "volume_gal", "volume"), 1, []string{"x.csv", "volume_gal"}},
}

// bench is a folder with all that the calls are about, in which the test goes on.
func bench(t *testing.T) {
	t.Helper()
	scenario(t)
	put(t, "bush.toml", "name = \"A\"\nfirst_season = 2026\n[section.a]\ntaps = 50\npractice = \"new-spout\"\n")
	put(t, "layout.csv", goodLayout)
	put(t, "readings.csv", goodReadings)
	for _, name := range []string{"folder", "folder.spile"} {
		if err := os.Mkdir(name, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	for _, args := range [][]string{
		{"new", "book.spile"}, {"add", "book.spile", "evidence.csv", "prices.toml", "--who", "Ada"},
		{"trial", "add", "book.spile", "Fen", "layout.csv", "readings.csv", "--site", "Fen", "--who", "Ada"},
	} {
		if code, _, stderr := call(args...); code != done {
			t.Fatal(args, stderr)
		}
	}
}

// put writes the file of the call and gives its words.
func (f fault) put(t *testing.T) []string {
	t.Helper()
	args := strings.Fields(f.call)
	for i, a := range args {
		if name, is := map[string]string{"e": "evidence.csv", "p": "prices.toml", "s": "bush.toml", "b": "book.spile",
			"l": "layout.csv", "r": "readings.csv"}[a]; is {
			args[i] = name
		}
		if strings.HasPrefix(a, "x.") {
			put(t, a, f.text)
		}
	}
	return args
}

// remedy is how a message says what to do instead: what is allowed, what may be meant, what takes it, or who teaches.
var remedy = regexp.MustCompile(`[Aa]llowed( here)?: |did you mean |[Nn]eeded|give --|: give |--accept |--replace|` +
	`it is read by: spile|take (files|others) into|, or --from|[Ss]ave |leave it empty|See spile .*--help|` +
	`is called spile|it holds |as it stands: spile|must sum to 1|Use a copy|in quotes, and|spile trial analyse names|` +
	`there is no such file`)

// What a call of the table says, and what it exits with, says where it is at fault and what is allowed.
func TestAtFault(t *testing.T) {
	long(t)
	bench(t)
	n := 0
	for _, part := range [][]fault{callsInOrder, callsAtFault, filesAtFault, studiesAtFault, pricesAtFault,
		bushesAtFault, trialsAtFault} {
		n += len(part)
		for _, f := range part {
			args := f.put(t)

			code, _, stderr := call(args...)
			bad := code != f.code
			for _, s := range f.says {
				bad = bad || !strings.Contains(stderr, s)
			}
			if f.code != 0 && !remedy.MatchString(stderr) {
				t.Errorf("%s: no remedy in\n%s", f.call, stderr)
			}
			if f.code != 0 && (len(f.says) == 0 || len(f.says) == 1 && !pinned(f.says[0])) {
				t.Errorf("%s pins no place and remedy: %q; it says\n%s", f.call, f.says, stderr)
			}
			if bad {
				t.Errorf("%s: code %d, want %d; says\n%s\nwant %q", f.call, code, f.code, stderr, f.says)
			}
		}
	}
	if n < 300 {
		t.Errorf("%d inputs", n)
	}
}

// pinned is true of a pinned text that holds a place, of a file or a call, and a remedy or a number that is allowed.
func pinned(text string) bool { return remedy.MatchString(text) && strings.ContainsAny(text, "-.:") }

// A question is answered by the ID that it names, and by no other.
func TestAccept(t *testing.T) {
	args := strings.Fields("trial power --cv 0.5 --gain 0.8 --replicates 4")
	code, _, stderr := call(args...)
	ids := regexp.MustCompile(`--accept ([0-9a-f]{8})`).FindAllStringSubmatch(stderr, -1)
	if code != faultyData || len(ids) != 2 {
		t.Fatalf("code %d, %d questions: %s", code, len(ids), stderr)
	}
	if code, _, stderr := call(append(args, "--accept", ids[0][1])...); code != faultyData ||
		strings.Contains(stderr, ids[0][1]) {
		t.Errorf("one answered: code %d: %s", code, stderr)
	}
	if code, _, stderr := call(append(args, "--accept", ids[0][1]+","+ids[1][1])...); code != done {
		t.Errorf("both answered: code %d: %s", code, stderr)
	}
}

// What is unusual in a price file is asked by every command that reads it; the workbook keeps who said that it is
// meant, and does not ask again.
func TestAcceptPrices(t *testing.T) {
	scenario(t)
	demoFile(t, "sugarbush-organic.toml")
	odd(t, "prices.toml", "best = 24, low = 18, high = 32", "best = 24000")
	_, _, stderr := call("profit", "evidence.csv", "prices.toml")
	id := regexp.MustCompile(`--accept ([0-9a-f]{8})`).FindStringSubmatch(stderr)
	if id == nil || !strings.Contains(stderr, "wage: 24,000 is beyond the usual 5 to 100") {
		t.Fatalf("asked %q", stderr)
	}
	for _, c := range []struct {
		call string
		code int
	}{
		{"profit evidence.csv prices.toml", faultyData},
		{"profit evidence.csv prices.toml --accept " + id[1], done},
		{"new own.spile", done},
		{"add own.spile evidence.csv prices.toml", faultyData},
		{"add own.spile evidence.csv", done},
		{"add own.spile prices.toml --who Ada --accept " + id[1], done},
		{"add own.spile prices.toml", done},
		{"profit own.spile", done},
		{"plan own.spile --sugarbush sugarbush-organic.toml --json", done},
	} {
		if code, _, stderr := call(strings.Fields(c.call)...); code != c.code {
			t.Errorf("%s: code %d, want %d: %s", c.call, code, c.code, stderr)
		}
	}
	odd(t, "sugarbush-organic.toml", "days = 6", "days = 400")
	for _, c := range []string{"plan own.spile --sugarbush", "handout own.spile --sugarbush", "add own.spile"} {
		code, _, stderr := call(append(strings.Fields(c), "sugarbush-organic.toml")...)
		if code != faultyData || !strings.Contains(stderr, "400 is beyond the usual 0 to 120") {
			t.Errorf("%s: code %d: %s", c, code, stderr)
		}
	}
}

// demoFile puts a file of the demo where the call is made.
func demoFile(t *testing.T, name string) {
	t.Helper()
	data, err := fs.ReadFile(demo.Files(), filepath.Base(name))
	if err != nil {
		t.Fatal(err)
	}
	put(t, name, string(data))
}

// odd changes a text of a file.
func odd(t *testing.T, name, from, to string) {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil || !strings.Contains(string(data), from) {
		t.Fatalf("%s has no %q: %v", name, from, err)
	}
	if err := os.WriteFile(name, []byte(strings.Replace(string(data), from, to, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
}

// What is unusual in an evidence table is asked by every command that reads it, and the workbook keeps who said that it
// is meant.
func TestAcceptEvidence(t *testing.T) {
	t.Chdir(t.TempDir())
	put(t, "theirs.csv", "Étude;Érablière;Année;Traitement;gal/entaille;Nb de chambres\n"+
		"A;nord;2019;Témoin;500,5;6\nA;nord;2019;Clapet;521;6\n")
	_, _, stderr := call("gains", "theirs.csv")
	_, words, ok := strings.Cut(stderr, "read with the table:\n")
	if words, _, _ = strings.Cut(words, "spile:"); !ok {
		t.Fatalf("how to settle the words is not said: %s", stderr)
	}
	put(t, "words.toml", words)
	_, _, stderr = call("gains", "theirs.csv", "words.toml")
	ids := regexp.MustCompile(`--accept ([0-9a-f]{8})`).FindAllStringSubmatch(stderr, -1)
	if len(ids) != 2 || !strings.Contains(stderr, `row 2, column gal/entaille: in the study "A" unsanitized gave 500`) {
		t.Fatalf("asked %s", stderr)
	}
	both := " --accept " + ids[0][1] + " --accept " + ids[1][1]
	for _, c := range []struct {
		call string
		code int
		says string
	}{
		{"gains theirs.csv words.toml" + both, done, ""},
		{"new own.spile", done, ""},
		{"add own.spile theirs.csv words.toml", faultyData, "--accept"},
		{"add own.spile theirs.csv words.toml --who Ada" + both, done, "words"},
		{"add own.spile theirs.csv", done, "nothing was added"}, // what its words mean is kept, and what is meant
		{"gains own.spile", done, ""},
		{"check own.spile", done, ""},
	} {
		code, out, stderr := call(strings.Fields(c.call)...)
		if code != c.code || !strings.Contains(out+stderr, c.says) {
			t.Errorf("%s: code %d, want %d and %q: %s%s", c.call, code, c.code, c.says, out, stderr)
		}
	}
}
