package main

import (
	"encoding/json"
	"io/fs"
	"regexp"
	"strings"
	"testing"

	"spile/internal/demo"
	"spile/internal/view/show"
)

// prices is the price file of the demo.
func prices(t *testing.T) []byte {
	t.Helper()
	data, err := fs.ReadFile(demo.Files(), "prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Whatever is wrong with what is asked under uncertainty is said in words: what stood there, and what is allowed.
func TestSureAsked(t *testing.T) {
	long(t)
	scenario(t)
	base := "evidence.csv prices.toml "
	for _, c := range []struct {
		call string
		code int
		want string
	}{
		{"worth " + base + "--taps 0", faultyCall, "the taps concerned are 0; allowed: above 0"},
		{"worth " + base + "--adoption 1.2", faultyCall, "the adoption is 1.2; allowed: 0 to 1"},
		{"worth " + base + "--seasons 0", faultyCall, "--seasons 0; allowed: a whole number, 1 or more"},
		{"worth " + base + "--fixed=-5", faultyCall, "a trial's costs are −5"},
		{"worth " + base + "--cv 0", faultyCall, "the CV between units is 0 %; allowed: above 0 and at most 300"},
		{"worth " + base + "--trial=-1", faultyCall, "allowed"},
		{"worth " + base + "--block-units 0", faultyCall, "--block-units 0; allowed: a whole number, 1 or more"},
		{"worth " + base + "--taps 0 --cv 0", faultyCall, "the CV between units is 0"},
		{"worth " + base + "--cv 1500", faultyCall, "the CV between units is 1,500 %; allowed: above 0"},
		{"worth " + base + "--site Nowhere", faultyCall, "no study was made at Nowhere; allowed: "},
		{"worth " + base + "--site Larkmoor --sites 2", faultyCall,
			"a trial runs at 2 sites; allowed: 1 or more new ones, or the one that is named"},
		{"sure " + base + "--spread wage=triangle", faultyCall,
			"--spread wage=triangle; allowed: held, likely, even, bell, leaning"},
		{"sure " + base + "--spread wages=likely", faultyCall, "there is no assumption named wages"},
		{"sure " + base + "--spread sells.quota.syrup=likely --spread wages=likely --spread " +
			"use.check-valve.disposal=even --together wage,rain=0.5", faultyCall,
			"spile: there is no assumption named wages; did you mean wage? spile: "},
		{"sure " + base + "--spread use.check-valve.disposal=even", faultyCall, "neither low nor high: give it both"},
		{"sure " + base + "--together wage,baseline.yield=0.5 --together baseline.yield,wage=-0.5", faultyCall,
			"given twice; allowed: once"},
		{"sure " + base + "--together wage,baseline.yield=1 --together wage,discount=1 --together " +
			"baseline.yield,discount=1 --times 100", done, ""},
		{"sure " + base + "--times 3", faultyCall, "--times 3; allowed: 100 to"},
		{"sure " + base + "--aversion -1", faultyCall, "--aversion"},
		{"sure " + base + "--together wage,rain=0.5", faultyCall,
			"there is no assumption named rain"},
		{"sure " + base + "--together wage=0.5", faultyCall, "allowed: two keys and a number from −1 to 1"},
		{"sure " + base + "--together wage,baseline.yield=1.5", faultyCall,
			"allowed: two keys and a number from −1 to 1"},
		{"sure " + base + "--together wage,baseline.yield=0.9 --together wage,sells.bulk.amber.price=0.9 --together " +
			"baseline.yield,sells.bulk.amber.price=-0.9",
			faultyCall, "do not: wage × sells.bulk.amber.price = 0.9, baseline.yield × sells.bulk.amber.price = -0.9"},
		{"sure " + base + "--map wage", faultyCall, "the keys of two assumptions"},
		{"sure " + base + "--map wage,wage", faultyCall, "the keys of two assumptions"},
		{"sure " + base + "--map wage,rain", faultyCall, "there is no assumption named rain"},
		{"figure map -o m.svg " + base + "--over wage,rain", faultyCall, "there is no assumption named rain"},
		{"figure outlook -o m.svg evidence.csv", faultyCall, "money needs prices"},
	} {
		code, _, stderr := call(strings.Fields(c.call)...)
		if said := strings.Join(strings.Fields(stderr), " "); code != c.code || !strings.Contains(said, c.want) {
			t.Errorf("spile %s: %d, %s\nwant %d, %s", c.call, code, said, c.code, c.want)
		}
	}
	// A price file whose numbers contradict one another names them.
	for bad, want := range map[string]string{
		`wage = { best = 24, low = 30, high = 20 }`: "low",
		`wage = { best = 50, low = 18, high = 32 }`: "50",
	} {
		put(t, "bad.toml", regexp.MustCompile(`(?m)^wage .*$`).ReplaceAllString(string(prices(t)), bad))
		code, _, stderr := call("sure", "evidence.csv", "bad.toml")
		if code != faultyData || !strings.Contains(stderr, "wage") || !strings.Contains(stderr, want) {
			t.Errorf("%s: %d, %s", bad, code, stderr)
		}
	}
	put(t, "bad.toml", strings.Replace(string(prices(t)), "share = ", "share = 1", 1))
	if code, _, stderr := call("sure", "evidence.csv", "bad.toml"); code != faultyData ||
		!strings.Contains(stderr, "share") {
		t.Errorf("a share over 100 %%: %d, %s", code, stderr)
	}
}

// The map and the chances of the JSON agree with the ranking: the best guess lies in the ground of what is recommended,
// and one and the same chance stands wherever it is told.
func TestSureJSON(t *testing.T) {
	scenario(t)
	type axis struct {
		Assumption string
		Best       float64
		At         []float64
	}
	var outlook struct {
		Practices []struct {
			Practice string
			Long     struct {
				Best *float64 `json:"chance_best"`
				Lose float64  `json:"chance_losing"`
			} `json:"long_run"`
		}
		Map *struct {
			X, Y   axis
			Winner [][]string
		}
	}
	var profit show.ProfitJSON
	for args, into := range map[string]any{
		"sure evidence.csv prices.toml --map wage,baseline.yield --json": &outlook,
		"profit evidence.csv prices.toml --json":                         &profit,
	} {
		code, stdout, stderr := call(strings.Fields(args)...)
		if code != done {
			t.Fatal(stderr)
		}
		if err := json.Unmarshal([]byte(stdout), into); err != nil {
			t.Fatal(err)
		}
	}
	m := outlook.Map
	if m == nil || m.X.Assumption != "wage" || m.Y.Assumption != "baseline.yield" || len(m.Winner) != len(m.Y.At) ||
		len(m.Winner[0]) != len(m.X.At) {
		t.Fatalf("the map is %+v", m)
	}
	near := func(a axis) int {
		best := 0
		for i, x := range a.At {
			if abs(x-a.Best) < abs(a.At[best]-a.Best) {
				best = i
			}
		}
		return best
	}
	if got, want := m.Winner[near(m.Y)][near(m.X)], profit.Practices[0].Practice; got != want {
		t.Errorf("at the best guesses %s comes first on the map, %s in the ranking", got, want)
	}
	told := 0
	for _, p := range profit.Practices {
		for _, r := range outlook.Practices {
			if r.Practice == p.Practice && p.ChanceBest != nil {
				told++
				if r.Long.Best == nil || *r.Long.Best != float64(*p.ChanceBest) || p.ChanceLosing != nil &&
					r.Long.Lose != float64(*p.ChanceLosing) {
					t.Errorf("%s: chances %v and %v by sure, %v and %v by profit", p.Practice, r.Long.Best, r.Long.Lose,
						*p.ChanceBest, p.ChanceLosing)
				}
			}
		}
	}
	if told < 2 || profit.Sure == nil || profit.Sure.ChanceSE > 0.0051 {
		t.Errorf("%d chances told, %+v", told, profit.Sure)
	}
}

// A number that no option uses is said, and refused where it is asked for by name.
func TestIdleAssumption(t *testing.T) {
	long(t)
	scenario(t)
	put(t, "more.toml", string(prices(t))+"\n[material.twine]\nprice = { best = 3, low = 2, high = 4 }\n")
	base := "evidence.csv more.toml "
	for _, c := range []struct {
		call string
		code int
		want string
	}{
		{"sure " + base, done, "no practice uses material.twine.price: low and high there change nothing"},
		{"sure " + base + "--spread material.twine.price=even", faultyCall,
			"material.twine.price is to be drawn as even, and no option uses it"},
		{"sure " + base + "--together wage,material.twine.price=0.4", faultyCall,
			"material.twine.price is to move with another number, and no option uses it"},
		{"sure " + base + "--map wage,material.twine.price", faultyCall,
			"a map names material.twine.price, which no option uses"},
	} {
		code, _, stderr := call(strings.Fields(c.call)...)
		if said := strings.Join(strings.Fields(stderr), " "); code != c.code || !strings.Contains(said, c.want) {
			t.Errorf("spile %s: %d, %s\nwant %d, %s", c.call, code, said, c.code, c.want)
		}
	}
	if code, _, stderr := call(strings.Fields("sure evidence.csv prices.toml")...); code != done ||
		strings.Contains(stderr, "no practice uses") {
		t.Errorf("%d, %s", code, stderr)
	}
}

// A command that was renamed says its name now, whatever stands behind it, and does nothing; no list of commands has
// it.
func TestFormerName(t *testing.T) {
	scenario(t)
	for _, words := range []string{"", "evidence.csv prices.toml --draws 3 --json", "--help"} {
		code, stdout, stderr := call(append([]string{"risk"}, strings.Fields(words)...)...)
		if code != faultyCall || stdout != "" || stderr != "spile: spile risk is called spile sure now\n" {
			t.Errorf("spile risk %s: %d, %q, %q", words, code, stdout, stderr)
		}
	}
	for _, words := range []string{"--help", "completion bash", "completion zsh", "completion fish"} {
		if _, stdout, _ := call(strings.Fields(words)...); regexp.MustCompile(`\brisk\b`).
			MatchString(strings.ReplaceAll(stdout, "to risk", "")) {
			t.Errorf("spile %s still has it:\n%s", words, stdout)
		}
	}
}
