package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// good is a table that has one of everything.
const good = `study,site,season,practice,reference,kind,trial,unit,mean,mean_unit,n,sd,gain_pct,gain_low_pct,gain_high_pct,drop_age,vacuum_inhg,tubing_in,tapped,caveats,source,remark
A,north hill,2019,unsanitized,yes,replicated,,chamber,15.2,gal,6,2.1,,,,8,25,5/16,2019-02-11,own-word; freak-season,"notes, 2019",
A,north hill,2019,check-valve,,replicated,,chamber,22.5,gal,6,2.4,,,,8,25,5/16,2019-02-11,,"notes, 2019",kept
B,south hill,2020,check-valve,,,,,,,,,48,20,80,,,,,,,
`

func read(t *testing.T, text string) ([]evidence.Study, note.List) {
	t.Helper()
	studies, warnings, err := Evidence("e.csv", []byte(text), practice.Shipped(), nil)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return studies, warnings
}

func TestEvidence(t *testing.T) {
	studies, warnings := read(t, good)
	if len(studies) != 2 {
		t.Fatalf("%d studies, want 2", len(studies))
	}
	a := studies[0]
	if a.Name != "A" || a.Site != "north hill" || a.Season != 2019 || a.Kind != evidence.Replicated ||
		a.Unit != evidence.Chamber || a.Source != "notes, 2019" {
		t.Errorf("study A: %+v", a)
	}
	if fmt.Sprint(a.Caveats) != "[own-word freak-season]" {
		t.Errorf("caveats of A: %v", a.Caveats)
	}
	if len(a.Arms) != 2 || !a.Arms[0].Reference || a.Arms[1].Reference || *a.Arms[1].Mean != 22.5 ||
		*a.Arms[0].SD != 2.1 || *a.Arms[0].DropAge != 8 {
		t.Errorf("arms of A: %+v", a.Arms)
	}
	if got := float64(*a.Arms[0].Vacuum); got < 84.65 || got > 84.67 { // 25 inHg at 3.386 kPa each
		t.Errorf("vacuum %v kPa, want 84.66", got)
	}
	if *a.Arms[0].TubingIn != 0.3125 {
		t.Errorf("5/16 inch read as %v", *a.Arms[0].TubingIn)
	}
	if a.Arms[1].Extra["remark"] != "kept" {
		t.Errorf("the unknown column was lost: %v", a.Arms[1].Extra)
	}
	if a.Arms[1].Where.Row != 3 {
		t.Errorf("second arm stands in row %d, want 3", a.Arms[1].Where.Row)
	}
	b := studies[1]
	if len(b.Arms) != 2 || b.Arms[0].Practice != practice.Unsanitized || !b.Arms[0].Reference ||
		b.Arms[1].Gain.Pct != 48 || *b.Arms[1].Gain.LowPct != 20 {
		t.Errorf("a report of a gain alone is over unsanitized: %+v", b.Arms)
	}
	if len(warnings) != 1 || !strings.Contains(warnings[0].English(), "remark") {
		t.Errorf("warnings %v, want one that names the column remark", warnings)
	}
}

func TestReportedGains(t *testing.T) {
	studies, _ := read(t, "study,site,season,practice,reference,gain_pct,gain_se_pct\n"+
		"A,north,2019,new-spout,yes,,\nA,north,2019,check-valve,,18,7\nB,north,2020,check-valve,,40,\n")
	if r := studies[0].Arms[0]; r.Practice != practice.NewSpout || !r.Reference || len(studies[0].Arms) != 2 ||
		studies[0].Kind != evidence.Replicated {
		t.Errorf("gains over a new spout: %+v", studies[0])
	}
	if r := studies[1].Arms[0]; r.Practice != practice.Unsanitized || !r.Reference || studies[1].Kind != "" {
		t.Errorf("gains over what is not named: %+v", studies[1])
	}
}

// What some reports have in the place of a gain is kept as it stands, and comes back as it was written.
func TestSaidGains(t *testing.T) {
	head := "study,site,season,practice,gain_pct,gain_se_pct\n"
	for _, said := range []string{"ns", "n.s.", "NS", "not significant", "non significatif", "> 30", ">30 %",
		"≥ 12.5", "30 to 40", "5–15 %", "15 à 60",
		"<10"} {
		studies, _ := read(t, head+"A,north,2019,check-valve,"+said+",\n")
		a := studies[0].Arms[1]
		if a.Said != said || a.Gain != nil {
			t.Errorf("%q is read as %q, %v", said, a.Said, a.Gain)
		}
		var back bytes.Buffer
		if err := EvidenceTable(studies).WriteCSV(&back); err != nil {
			t.Fatal(err)
		}
		if again, _ := read(t, back.String()); again[0].Arms[1].Said != said {
			t.Errorf("%q comes back as %q", said, again[0].Arms[1].Said)
		}
	}
	for _, bad := range []string{"some", "> much", "30 to", ">"} {
		if _, _, err := Evidence("e.csv", []byte(head+"A,north,2019,check-valve,"+bad+",\n"),
			practice.Shipped(), nil); err == nil {
			t.Errorf("%q passes for a gain", bad)
		}
	}
	if _, _, err := Evidence("e.csv", []byte(head+"A,north,2019,check-valve,ns,4\n"), practice.Shipped(),
		nil); err == nil {
		t.Error("an error of no number passes")
	}
}

// The same table in every dress that CSV comes in gives the same studies and the same digest.
func TestDresses(t *testing.T) {
	semicolons := strings.NewReplacer(",", ";", "0.3125", "0,3125", "15.2", "15,20", "22.5", "22,5", "2.1", "2,1",
		"2.4", "2,4", "own-word; freak-season", `"own-word; freak-season"`, `"notes, 2019"`, "notes, 2019").Replace
	plain := strings.ReplaceAll(good, "5/16", "0.3125")
	utf16 := func(s string) string {
		b := []byte{0xff, 0xfe}
		for _, r := range s {
			b = append(b, byte(r), byte(r>>8))
		}
		return string(b)
	}
	want, _ := read(t, plain)
	for name, text := range map[string]string{
		"byte order mark":    "\ufeff" + plain,
		"CRLF":               strings.ReplaceAll(plain, "\n", "\r\n"),
		"CR":                 strings.ReplaceAll(plain, "\n", "\r"),
		"semicolon":          semicolons(plain),
		"tab":                strings.NewReplacer(`"notes, 2019"`, "notes, 2019", ",", "\t").Replace(plain),
		"UTF-16":             utf16(plain),
		"comments above":     "# where it comes from\n#,;\t\n" + plain,
		"capitals and space": strings.Replace(plain, "study,site,season", "Study , SITE,\"Season\"", 1),
		"blank lines":        strings.ReplaceAll(plain, "\n", "\n\n"),
		"blank columns":      strings.ReplaceAll(plain, "\n", ",,,\n"),
	} {
		got, _, err := Evidence("e.csv", []byte(text), practice.Shipped(), nil)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(got) != len(want) || *got[0].Arms[0].Mean != 15.2 || got[0].Source != want[0].Source ||
			fmt.Sprint(got[0].Caveats) != fmt.Sprint(want[0].Caveats) {
			t.Errorf("%s: read as %+v", name, got)
		}
		if a, b := digestOf(plain), digestOf(text); a != b {
			t.Errorf("%s changed the digest", name)
		}
	}
	for name, text := range map[string]string{
		"a mean":            strings.Replace(plain, "15.2", "15.3", 1),
		"a source":          strings.Replace(plain, "notes, 2019", "notes, 2018", 1),
		"an unknown column": strings.Replace(plain, "kept", "keep", 1),
	} {
		if digestOf(plain) == digestOf(text) {
			t.Errorf("%s left the digest as it was", name)
		}
	}
}

func digestOf(text string) string {
	_, _, records := readEvidence("e.csv", []byte(text), practice.Shipped(), nil, new(faults))
	return digest("e.csv", records, isNumeric).Digest
}

// Each bad input gives a fault that says where, what stood there and what is allowed.
func TestEvidenceFaults(t *testing.T) {
	const head = "study,site,season,practice,mean,n,sd\n"
	const ref = "A,north,2019,unsanitized,15,6,2\n"
	for _, c := range []struct {
		name, text string
		row        int
		column     string
		says       []string
	}{
		{"empty", "", 0, "", []string{"empty"}},
		{"blanks only", " \n\n", 0, "", []string{"empty"}},
		{"byte order mark only", "\ufeff", 0, "", []string{"empty"}},
		{"header only", head, 0, "", []string{"header", "no row"}},
		{"spreadsheet", "PK\x03\x04\x00\x00", 0, "", []string{"spreadsheet", "CSV"}},
		{"binary", "study\x00site", 1, "", []string{"zero byte"}},
		{"neither UTF-8 nor Windows-1252", head + "A,\xe9rabli\x81re,2019,unsanitized,15,6,2\n", 2, "",
			[]string{"not UTF-8"}},
		{"a required column", "study,site,season,mean\nA,n,2019,5\n", 1, "",
			[]string{"practice is missing", "study, site, season, practice"}},
		{"a required column misspelt", "study,site,season,practise,mean\nA,n,2019,unsanitized,5\n", 1, "",
			[]string{`"practise"`}},
		{"a column twice", "study,site,season,practice,mean,mean\n" +
			"A,n,2019,unsanitized,15,15\nA,n,2019,new-spout,15,15\n", 1, "mean", []string{"twice"}},
		{"open quotes in the header", "study,\"site,season,practice\nA,n,2019,unsanitized\n", 1, "",
			[]string{"quotes"}},
		{"below comments", "# one\n# two\nstudy,site,season\nA,n,2019\n", 3, "", []string{"practice is missing"}},
		{"no site", head + "A,,2019,unsanitized,15,6,2\nA,north,2019,new-spout,17,6,2\n", 2, "site", []string{"site"}},
		{"season of two digits", head + "A,north,19,unsanitized,15,6,2\n" + "A,north,19,new-spout,15,6,2\n", 2,
			"season", []string{`"19"`, "four digits"}},
		{"two seasons in one", head + "A,north,2018-2019,unsanitized,15,6,2\nA,north,2019,new-spout,15,6,2\n", 2,
			"season", []string{`"2018-2019"`}},
		{"unknown practice", head + ref + "A,north,2019,check-vlave,17,6,2\n", 3, "practice",
			[]string{`"check-vlave"`, "did you mean check-valve", "new-spout"}},
		{"unknown practice, nothing near", head + ref + "A,north,2019,moonlight,17,6,2\n", 3, "practice",
			[]string{`"moonlight"`, "allowed: unsanitized"}},
		{"duplicate arm", head + ref + "A,north,2019,new-spout,17,6,2\nA,north,2019,new-spout,18,6,2\n", 4, "",
			[]string{"twice", "row 3"}},
		{"no reference", head + "A,north,2019,check-valve,17,6,2\nA,north,2019,new-spout,17,6,2\n", 2, "study",
			[]string{"no reference", "unsanitized"}},
		{"only a reference", head + ref, 2, "study", []string{"nothing beside it"}},
		{"two sites", head + ref + "A,south,2019,new-spout,17,6,2\n", 3, "site",
			[]string{`"south"`, `"north"`, "row 2"}},
		{"two seasons", head + ref + "A,north,2020,new-spout,17,6,2\n", 3, "season", []string{`"2020"`, "trial"}},
		{"negative mean", head + "A,north,2019,unsanitized,-15,6,2\nA,north,2019,new-spout,17,6,2\n", 2, "mean",
			[]string{"-15", "above 0"}},
		{"zero mean", head + "A,north,2019,unsanitized,0,6,2\nA,north,2019,new-spout,17,6,2\n", 2, "mean",
			[]string{"above 0"}},
		{"sd of 0", head + "A,north,2019,unsanitized,15,6,0\nA,north,2019,new-spout,17,6,2\n", 2, "sd",
			[]string{"above 0"}},
		{"negative sd", head + "A,north,2019,unsanitized,15,6,-1\nA,north,2019,new-spout,17,6,2\n", 2, "sd",
			[]string{"-1", "above 0"}},
		{"n of 0", head + "A,north,2019,unsanitized,15,0,2\nA,north,2019,new-spout,17,6,2\n", 2, "n",
			[]string{"0", "whole number from 1"}},
		{"n of 2.5", head + "A,north,2019,unsanitized,15,2.5,2\nA,north,2019,new-spout,17,6,2\n", 2, "n",
			[]string{"2.5", "whole number"}},
		{"percent sign", head + ref + "A,north,2019,new-spout,17%,6,2\n", 3, "mean", []string{`"17%"`, "percent sign"}},
		{"unit", head + ref + "A,north,2019,new-spout,17 pails,6,2\n", 3, "mean", []string{`"17 pails"`, "unit"}},
		{"a unit in one row", head + ref + "A,north,2019,new-spout,17 gal,6,2\n", 3, "mean",
			[]string{`"gal"`, "nothing in row 2"}},
		{"thousands", head + ref + "A,north,2019,new-spout,\"1,234\",6,2\n", 3, "mean",
			[]string{`"1,234"`, "thousands"}},
		{"NaN", head + ref + "A,north,2019,new-spout,NaN,6,2\n", 3, "mean", []string{`"NaN"`, "not a number"}},
		{"Inf", head + ref + "A,north,2019,new-spout,+Inf,6,2\n", 3, "mean", []string{`"+Inf"`, "not a number"}},
		{"1e308", head + ref + "A,north,2019,new-spout,1e308,6,2\n", 3, "mean", []string{"1e308", "at most 100000"}},
		{"1e400", head + ref + "A,north,2019,new-spout,1e400,6,2\n", 3, "mean", []string{"1e400", "at most 100000"}},
		{"hexadecimal", head + ref + "A,north,2019,new-spout,0x1p4,6,2\n", 3, "mean", []string{"0x1p4"}},
		{"words", head + ref + "A,north,2019,new-spout,seventeen,6,2\n", 3, "mean",
			[]string{`"seventeen"`, "plain number"}},
		{"a row with a field too many", head + ref + "A,north,2019,new-spout,17,6,2,9\n", 3, "",
			[]string{`"9"`, "7 fields"}},
		{"open quotes", head + ref + "A,north,2019,new-spout,17,6,\"2\n", 3, "", []string{"quotes"}},
		{"neither mean nor gain", head + ref + "A,north,2019,new-spout,,,\n", 3, "",
			[]string{"neither a mean nor a gain_pct"}},
		{"gain of -100", "study,site,season,practice,gain_pct\nA,north,2019,new-spout,-100\n", 2, "gain_pct",
			[]string{"-100", "above -100"}},
		{"interval upside down",
			"study,site,season,practice,gain_pct,gain_low_pct,gain_high_pct\nA,north,2019,new-spout,20,30,10\n", 2,
			"gain_low_pct", []string{"30", "10", "low below high"}},
		{"half an interval", "study,site,season,practice,gain_pct,gain_low_pct\nA,north,2019,new-spout,20,10\n", 2,
			"gain_low_pct", []string{"both"}},
		{"gain outside its interval",
			"study,site,season,practice,gain_pct,gain_low_pct,gain_high_pct\nA,north,2019,new-spout,40,10,30\n", 2,
			"gain_pct", []string{"between"}},
		{"units that differ", "study,site,season,practice,mean,mean_unit\nA,north,2019,unsanitized,15,gal\n" +
			"A,north,2019,new-spout,60,l\n", 3, "mean_unit", []string{`"l"`, `"gal"`}},
		{"a bare gallon", "study,site,season,practice,mean,mean_unit\nA,north,2019,unsanitized,15,gallon\n" +
			"A,north,2019,new-spout,60,gallon\n", 2, "mean_unit", []string{"which gallon", "gal_imp"}},
		{"a vacuum beyond the atmosphere",
			"study,site,season,practice,mean,vacuum_inhg\nA,north,2019,unsanitized,15,25\n" +
				"A,north,2019,new-spout,60,31\n", 3, "vacuum_inhg", []string{"31", "29.92"}},
		{"a day that is none", "study,site,season,practice,mean,tapped\nA,north,2019,unsanitized,15,2019-02-30\n" +
			"A,north,2019,new-spout,60,\n", 2, "tapped", []string{"2019-02-30", "year-month-day"}},
		{"a day of another season",
			"study,site,season,practice,mean,tapped\nA,north,2019,unsanitized,15,2009-02-20\n" +
				"A,north,2019,new-spout,60,\n", 2, "tapped", []string{"2009-02-20", "2019"}},
		{"two references", "study,site,season,practice,reference,mean\nA,north,2019,unsanitized,yes,15\n" +
			"A,north,2019,new-spout,yes,17\n", 3, "", []string{"two rows", "row 2"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			studies, _, err := Evidence("e.csv", []byte(c.text), practice.Shipped(), nil)
			var faults note.Faults
			if !errors.As(err, &faults) {
				t.Fatalf("no faults, but %v", err)
			}
			if studies != nil {
				t.Error("studies were taken in spite of the faults")
			}
			f := faults[0]
			if len(faults) > 2 || f.Where.File != "e.csv" || f.Where.Row != c.row || f.Where.Column != c.column {
				t.Errorf("want the fault in row %d, column %q:\n%v", c.row, c.column, err)
			}
			for _, say := range c.says {
				if !strings.Contains(f.English(), say) {
					t.Errorf("does not say %s:\n%v", say, err)
				}
			}
			if strings.Contains(f.English(), "%!") {
				t.Errorf("verbs and arguments differ: %v", err)
			}
		})
	}
}

func TestAllFaultsAtOnce(t *testing.T) {
	_, _, err := Evidence("e.csv", []byte("study,site,season,practice,mean,n,sd\n"+
		"A,north,2019,unsanitized,15%,0,2\nA,north,2019,new-spuot,NaN,6,-2\n"+
		"B,,20,unsanitized,1,1,1\n"), practice.Shipped(), nil)
	var faults note.Faults
	errors.As(err, &faults)
	if len(faults) != 7 {
		t.Errorf("%d faults, want 7:\n%v", len(faults), err)
	}
}

// A million bad rows are counted, not listed.
func TestManyFaults(t *testing.T) {
	text := "study,site,season,practice,mean\n" + strings.Repeat("A,north,2019,unsanitized,bad\n", 5000)
	_, _, err := Evidence("e.csv", []byte(text), practice.Shipped(), nil)
	var faults note.Faults
	errors.As(err, &faults)
	if len(faults) != shown+1 || !strings.Contains(faults[shown].English(), "more faults") {
		t.Errorf("%d faults listed", len(faults))
	}
}

func FuzzEvidence(f *testing.F) {
	f.Add([]byte(good))
	f.Add([]byte("\xff\xfes\x00t\x00"))
	f.Add([]byte("study;site;season;practice;mean\n\"A;b;2019;unsanitized;1,5\n"))
	f.Add([]byte("# c\nstudy\tsite\tseason\tpractice\tgain_pct\nA\tn\t2019\tcheck-valve\t12,5\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		studies, _, err := Evidence("e.csv", data, practice.Shipped(), nil)
		if err == nil && len(studies) == 0 {
			t.Error("neither a study nor a fault")
		}
		if err != nil && len(studies) > 0 {
			t.Error("studies were taken in spite of faults")
		}
		for _, s := range studies {
			if len(s.Arms) < 2 || s.Season == 0 || s.Site == "" {
				t.Errorf("half a study: %+v", s)
			}
		}
	})
}

// tenThousand is a table of 10,000 arms in 5,000 studies.
func tenThousand() []byte {
	var b strings.Builder
	b.WriteString(strings.SplitAfter(good, "\n")[0])
	for i := range 5000 {
		fmt.Fprintf(&b, "S%d,site %d,%d,unsanitized,yes,replicated,,chamber,15.2,gal,6,2.1,,,,8,25,5/16,2019-02-11,"+
			"own-word; freak-season,\"notes, 2019\",\n", i, i%500, 2019)
		fmt.Fprintf(&b, "S%d,site %d,%d,check-valve,,replicated,,chamber,%.2f,gal,6,2.4,,,,8,25,5/16,2019-02-11,,"+
			"\"notes, 2019\",kept\n", i, i%500, 2019, 20+float64(i%50)/10)
	}
	return []byte(b.String())
}

func BenchmarkEvidence10000Arms(b *testing.B) {
	data := tenThousand()
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, _, err := Evidence("e.csv", data, practice.Shipped(), nil); err != nil {
			b.Fatal(err)
		}
	}
}
