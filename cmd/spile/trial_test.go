package main

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"spile/internal/view/show"
)

// season is a small trial: four practices in three blocks over two seasons.
func season() string {
	var b strings.Builder
	b.WriteString("unit,block,season,practice,taps,volume_gal,brix\n")
	for s := range 2 {
		for i := range 12 {
			practice := []string{"unsanitized", "new-spout", "check-valve", "new-drop"}[i%4]
			fmt.Fprintf(&b, "u%d,b%d,%d,%s,20,%d,2.%d\n", i, i/4, 2025+s, practice, 400+60*(i%4)+17*(i/4)+(i*7+s*5)%23,
				i%3)
		}
	}
	return b.String()
}

func TestTrialCommands(t *testing.T) {
	long(t)
	scenario(t)
	put(t, "season.csv", season())
	put(t, "vacuum.csv", "unit,block,season,practice,taps,volume_gal,vacuum_inhg\na,1,2024,unsanitized,20,401,20\n"+
		"b,1,2024,check-valve,20,517,24\nc,2,2024,unsanitized,20,402,20\nd,2,2024,check-valve,20,537,24\n")
	put(t, "bad.csv", "unit,season,practice,taps,volume_l\n1,2024,unsanitised,0,12 L\n")
	put(t, "units.csv", "unit,chamber,taps\n1,a,2\n2,a,2\n3,b,2\n4,b,1\n5,c,2\n6,d,1\n")
	for _, c := range []struct {
		args string
		code int
		says []string // on either output
	}{
		{"trial --help", done, []string{"spile trial power", "analyse"}},
		{"trial analyse --help", done, []string{"spile trial analyse season.csv", "volume_gal"}},
		{"trial analyse season.csv --thorough", done,
			[]string{"Sap a tap against unsanitized", "new drop", "adjusted p", "Practices against each other",
				"Each season by itself", "2 seasons do not tell"}},
		{"trial analyse vacuum.csv", done,
			[]string{"under 24.0 inHg", "under 20.0", "20 % more sap", "adjust the analysis for vacuum"}},
		{"trial analyse season.csv --syrup --place US-VT", done, []string{"Syrup a tap"}},
		{"trial analyse season.csv --before 2019", faultyCall, []string{"--before 2019; allowed: a season"}},
		{"trial analyse bad.csv", faultyData, []string{"did you mean unsanitized", "carries a unit", "3 faults"}},
		{"trial analyse nowhere.csv", faultyData, []string{"there is no such file"}},
		{"trial analyse", faultyCall, nil},
		{"trial design unsanitized new-spout --replicates 3 --taps 20 --seed 4 --blind", done,
			[]string{"Layout from seed 4", "keep 60 used spouts", "code"}},
		{"trial design unsanitized new-spout --design randomised --from units.csv", done, []string{"not replicates"}},
		{"trial design unsanitized new-drop --design latin-square --seasons 2 --replicates 2", faultyCall,
			[]string{"one season old"}},
		{"trial design unsanitized magic", faultyCall, []string{"there is no practice magic"}},
		{"trial design unsanitized check-valve --first 26", faultyCall, []string{"\"26\" is not a season"}},
		{"trial design unsanitized check-valve -o lost.csv", faultyCall, []string{"--first 2026"}},
		{"trial design unsanitized check-valve --book own.spile --name Fen --site Fen", faultyCall,
			[]string{"--first 2026"}},
		{"trial power --practices 2 --design randomised --cv 15 --gain 20", done, []string{"smallest gain", "→"}},
		{"trial power --cv 15", faultyCall, []string{"--gain"}},
		{"trial power --gain 20", faultyCall, []string{"--cv"}},
		{"trial power --gain 20 --from none.spile", faultyData, []string{"none.spile"}},
		{"trial power --cv 15 --gain 20 --runs 3", faultyCall, []string{"--runs"}},
		{"trial power --cv 0 --gain 20", faultyCall, []string{"CV between units"}},
		{"trial power --cv 1500 --gain 20", faultyCall, []string{"a CV of 1,500 %; allowed: 0 to 300"}},
		{"trial power --cv=-5 --gain 20", faultyCall, []string{"a CV of −5 %; allowed: 0 to 300"}},
		{"trial power --cv 15 --gain 20 --level 95", faultyCall, []string{"at a level of 95 %", "such as 5"}},
		{"trial power --cv 15 --gain 20 --power 100", faultyCall, []string{"a power of 100 %", "below 100"}},
		{"trial power --cv 15 --gain 20 --level 100", faultyCall, []string{"a level of 100 %"}},
	} {
		t.Run(c.args, func(t *testing.T) {
			code, stdout, stderr := call(strings.Fields(c.args)...)
			if code != c.code {
				t.Errorf("exit code %d, want %d\n%s", code, c.code, stderr)
			}
			flat := strings.Join(strings.Fields(stdout+" "+stderr), " ")
			for _, s := range c.says {
				if !strings.Contains(flat, s) {
					t.Errorf("does not say %q:\n%s\n%s", s, stdout, stderr)
				}
			}
		})
	}
}

// What trial design writes is read by trial sheet, trial add and trial analyse, codes and all.
func TestADesignGoesOn(t *testing.T) {
	scenario(t)
	ok := func(args string) string {
		t.Helper()
		code, stdout, stderr := call(strings.Fields(args)...)
		if code != done {
			t.Fatalf("%s: %d\n%s", args, code, stderr)
		}
		return stdout
	}
	var design struct {
		Places []struct{ Practice, Code string }
	}
	said := ok("trial design unsanitized check-valve --design pairs --replicates 4 --taps 20 --first 2026 --seed 3 " +
		"--blind -o layout.csv --json")
	if err := json.Unmarshal([]byte(said), &design); err != nil || len(design.Places) != 8 {
		t.Fatal(err, said)
	}
	var readings strings.Builder
	readings.WriteString("code,date,volume_l\n")
	for i, p := range design.Places {
		gain := 1.0
		if p.Practice == "check-valve" {
			gain = 1.5
		}
		for day := range 3 {
			fmt.Fprintf(&readings, "%s,2026-03-%02d,%.1f\n", p.Code, 2+3*day, gain*float64(300+7*i+11*day))
		}
	}
	put(t, "readings.csv", readings.String())
	ok("trial sheet layout.csv --hide -o sheets.xlsx")
	ok("trial sheet layout.csv --hide -o sheets.pdf")
	if code, _, stderr := call("trial", "analyse", "layout.csv"); code != faultyData ||
		!strings.Contains(stderr, "nothing was gathered") {
		t.Errorf("a layout alone: %d %s", code, stderr)
	}
	var files, kept analysed
	if err := json.Unmarshal([]byte(ok("trial analyse layout.csv readings.csv --json")), &files); err != nil {
		t.Fatal(err)
	}
	if g := files.Practices[1]; g.Practice != "check-valve" || g.GainPct < 45 || g.GainPct > 55 {
		t.Errorf("%+v", g)
	}
	ok("new own.spile")
	ok("trial add own.spile Fen layout.csv --site Fen")
	ok("trial sheet own.spile Fen --hide -o again.xlsx")
	ok("trial add own.spile Fen readings.csv")
	if err := json.Unmarshal([]byte(ok("trial analyse own.spile Fen --json")), &kept); err != nil {
		t.Fatal(err)
	}
	if kept.Practices[1].GainPct != files.Practices[1].GainPct {
		t.Errorf("from files %+v, from the workbook %+v", files.Practices[1], kept.Practices[1])
	}
}

// What is unusual is asked, kept once it is answered, and not asked again.
func TestUnusualCountsAreAsked(t *testing.T) {
	scenario(t)
	put(t, "layout.csv", "season,unit,practice,taps\n2026,1,unsanitized,20\n2026,2,check-valve,20\n")
	put(t, "counts.csv", "unit,date,taps\n1,2026-02-20,5\n2,2026-02-20,20\n")
	ok := func(args string) string {
		t.Helper()
		code, stdout, stderr := call(strings.Fields(args)...)
		if code != done {
			t.Fatalf("%s: %d\n%s", args, code, stderr)
		}
		return stdout
	}
	ok("new own.spile")
	ok("trial add own.spile Fen layout.csv --site Fen")
	code, stdout, stderr := call(strings.Fields("trial add own.spile Fen counts.csv")...)
	id := regexp.MustCompile(`--accept ([0-9a-f]{8})`).FindStringSubmatch(stderr)
	if code != faultyData || stdout != "" || id == nil || !strings.Contains(stderr, "5 taps were counted") {
		t.Fatal(code, stdout, stderr)
	}
	if said := ok("trial add own.spile Fen counts.csv --who Ada --accept " + id[1]); !strings.Contains(said,
		"1 answer") {
		t.Error(said)
	}
	put(t, "readings.csv", "unit,date,volume_l\n1,2026-03-01,100\n2,2026-03-01,400\n")
	ok("trial add own.spile Fen counts.csv readings.csv")
	ok("check own.spile")
	code, _, stderr = call(strings.Fields("trial analyse layout.csv counts.csv readings.csv")...)
	id = regexp.MustCompile(`--accept ([0-9a-f]{8})`).FindStringSubmatch(stderr)
	if code != faultyData || id == nil {
		t.Fatal(code, stderr)
	}
	ok("trial analyse layout.csv counts.csv readings.csv --accept " + id[1])
}

// analysed is what these tests look at of an analysis.
type analysed struct {
	Practices []struct {
		Practice  string
		GainPct   float64 `json:"gain_pct"`
		LowPct    float64 `json:"low_pct"`
		P         float64
		PAdjusted float64 `json:"p_adjusted"`
	}
	Variances struct{ Unit, Season *float64 }
	Residuals []any
}

func TestTrialJSON(t *testing.T) {
	scenario(t)
	put(t, "season.csv", season())
	code, stdout, stderr := call("trial", "analyse", "season.csv", "--json")
	var got analysed
	if err := json.Unmarshal([]byte(stdout), &got); code != done || err != nil {
		t.Fatal(code, err, stderr)
	}
	if len(got.Practices) != 4 || got.Practices[3].PAdjusted < got.Practices[3].P ||
		got.Practices[3].LowPct > got.Practices[3].GainPct || got.Variances.Unit == nil ||
		got.Variances.Season != nil || len(got.Residuals) != 24 {
		t.Errorf("%+v", got)
	}
	for _, key := range []string{"practice", "units", "mean_per_tap", "log_ratio", "se_log", "df", "gain_pct",
		"low_pct", "high_pct", "p", "p_adjusted", "block", "unit", "season", "residual", "warnings"} {
		if !strings.Contains(stdout, `"`+key+`":`) {
			t.Errorf("the key %s is missing", key)
		}
	}
	for _, args := range []string{"trial design unsanitized new-spout --json",
		"trial power --practices 3 --cv 15 --gain 20 --json"} {
		code, stdout, _ := call(strings.Fields(args)...)
		if code != done || !json.Valid([]byte(stdout)) {
			t.Errorf("%s: %d, %s", args, code, stdout)
		}
	}
}

// From a design to a changed pooled gain: laid out, read, analysed, a bad run taken out, a reading corrected.
func TestATrialMovesThePool(t *testing.T) {
	long(t)
	scenario(t)
	ok := func(args ...string) string {
		t.Helper()
		code, stdout, stderr := call(args...)
		if code != done {
			t.Fatalf("%v: %d\n%s", args, code, stderr)
		}
		return stdout
	}
	pooled := func() float64 {
		t.Helper()
		var g show.GainsJSON
		if err := json.Unmarshal([]byte(ok("gains", "own.spile", "--json")), &g); err != nil {
			t.Fatal(err)
		}
		for _, p := range g.Practices {
			if p.Practice == "check-valve" {
				return float64(p.GainPct)
			}
		}
		t.Fatal("no check valve")
		return 0
	}
	readings := "unit,date,volume_gal\n"
	for day, base := range []int{40, 60, 45, 70, 42, 55} {
		for u := range 8 {
			gain := 0
			if slices.Contains([]int{1, 3, 4, 7}, u) { // the check valves of this seed
				gain = base / 4
			}
			readings += fmt.Sprintf("%d,2025-03-%02d,%d\n", u+1, 10+day, base+gain+(u*7+day*5)%9)
		}
	}
	put(t, "readings.csv", readings)
	put(t, "events.csv", "kind,from,to,units,note\nleak,2025-03-12,2025-03-12,4,chewed\n")
	ok("new", "own.spile")
	ok("add", "own.spile", "evidence.csv", "--who", "Ada")
	before := pooled()
	design := []string{"trial", "design", "unsanitized", "check-valve", "--design", "pairs", "--replicates", "4",
		"--taps", "20", "--first", "2025", "--seed", "3",
		"--book", "own.spile", "--name", "Fen valves", "--site", "Fen", "--who", "Ada"}
	if out := ok(design...); !strings.Contains(out, "1      2       20  check-valve") {
		t.Fatalf("another layout:\n%s", out)
	}
	if pooled() != before {
		t.Error("a layout alone moves the pool")
	}
	ok("trial", "add", "own.spile", "Fen valves", "readings.csv", "events.csv", "--who", "Ada")
	var g show.GainsJSON
	if err := json.Unmarshal([]byte(ok("gains", "own.spile", "--json")), &g); err != nil {
		t.Fatal(err)
	}
	for _, w := range g.Weights {
		if w.Live != (w.Study == "Fen valves") {
			t.Errorf("%s is live: %v", w.Study, w.Live)
		}
	}
	if said := ok("gains", "own.spile"); !strings.Contains(strings.Join(strings.Fields(said), " "), "live: a trial") {
		t.Errorf("nothing marks the trial:\n%s", said)
	}
	read := pooled()
	if read == before {
		t.Error("the trial does not move the pool")
	}
	said := ok("trial", "analyse", "own.spile", "Fen valves")
	if !strings.Contains(said, "event/2/4/") || !strings.Contains(said, "suggested remedy") {
		t.Errorf("the leak is not found:\n%s", said)
	}
	ok("trial", "decide", "own.spile", "Fen valves", "2025", "event/2/4/2025-03-12", "--out", "--reason",
		"the main stood open", "--who", "Ada")
	if said := ok("trial", "analyse", "own.spile", "Fen valves"); !strings.Contains(said, "taken out:") {
		t.Errorf("what was decided is not told:\n%s", said)
	}
	var power struct {
		Past  []string
		CVPct float64 `json:"cv_pct"`
		Rows  []any
	}
	if err := json.Unmarshal(
		[]byte(ok("trial", "power", "--practices", "2", "--from", "own.spile", "--gain", "20", "--json")),
		&power); err != nil ||
		len(power.Past) != 1 || !(power.CVPct > 0.1 && power.CVPct < 30) || len(power.Rows) == 0 {
		t.Errorf("power from the trial: %v %+v", err, power)
	}
	typed := ok("trial", "power", "--practices", "2", "--cv", fmt.Sprint(power.CVPct), "--gain", "20")
	if said := ok("trial", "power", "--practices", "2", "--from", "own.spile", "--gain", "20"); !strings.Contains(said,
		"Fen valves") || !strings.HasSuffix(said, typed[strings.Index(typed, "→"):]) {
		t.Errorf("power from the trial:\n%s\npower from its CV:\n%s", said, typed)
	}
	decided := pooled()
	if decided == read {
		t.Error("a run taken out moves nothing")
	}
	put(t, "readings.csv", strings.Replace(readings, "8,2025-03-15,", "8,2025-03-15,1", 1))
	if code, _, stderr := call("trial", "add", "own.spile", "Fen valves", "readings.csv", "--who",
		"Ada"); code != faultyData || !strings.Contains(stderr, "with other content") {
		t.Errorf("a reading was overwritten unasked: %d %s", code, stderr)
	}
	ok("trial", "add", "own.spile", "Fen valves", "readings.csv", "--replace", "--who", "Ada")
	if pooled() == decided {
		t.Error("a corrected reading moves nothing")
	}
	ok("check", "own.spile")
	for _, bad := range []struct {
		args []string
		says string
	}{
		{[]string{"trial", "analyse", "own.spile"}, "the name of one of its trials"},
		{[]string{"trial", "analyse", "own.spile", "Fan valves"}, "it holds Fen valves"},
		{[]string{"trial", "decide", "own.spile", "Fen valves", "2025", "nothing", "--keep", "--reason", "x", "--who",
			"Ada"}, "nothing like"},
		{[]string{"trial", "decide", "own.spile", "Fen valves", "2025", "event/2/4/2025-03-12", "--keep", "--reason",
			" ", "--who", "Ada"}, "say why"},
		{[]string{"trial", "design", "unsanitized", "check-valve", "--book", "own.spile"}, "--name and --site"},
	} {
		if code, _, stderr := call(bad.args...); code == done || !strings.Contains(stderr, bad.says) {
			t.Errorf("%v: %d %s", bad.args, code, stderr)
		}
	}
}
