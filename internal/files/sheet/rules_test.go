package sheet

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/note"
)

// Rules and practices at fault: each fault once, with its place, and all of them at once.
func TestRulesAtFault(t *testing.T) {
	rule := func(lines ...string) string {
		return "[[rule]]\nwash = \"alcohol\"\nplace = \"US\"\nverdict = \"held-back\"\nreason = \"r\"\nchecked = " +
			"2025-10-01\n" +
			strings.Join(lines, "\n")
	}
	own := "[practice.steam]\nname = \"steam\"\nspout = \"reused\"\ndrops = \"kept\"\nwash = \"none\"\n"
	for _, c := range []struct {
		name, text string
		want       []string // of each fault, in order
	}{
		{"a misspelt wash of a rule", strings.Replace(rule(), `"alcohol"`, `"alcohl"`, 1),
			[]string{"rule.1.wash: \"alcohl\" is not known; did you mean alcohol"}},
		{"a wash that is a number", strings.Replace(rule(), `"alcohol"`, `5`, 1), []string{"rule.1.wash"}},
		{"a misspelt wash of a practice", strings.Replace(own, `wash = "none"`, `wash = "nonne"`, 1),
			[]string{"practice.steam.wash: \"nonne\" is not known; did you mean none"}},
		{"a place that is none", strings.Replace(rule(), `"US"`, `"US-TV"`, 1),
			[]string{"rule.1.place: \"US-TV\" is not a place; did you mean US-VT"}},
		{"two that contradict", rule() + strings.Replace(rule(), "held-back", "permitted", 1),
			[]string{"rule.2.verdict: another rule says of the same case"}},
		{"two that agree", rule() + rule(), nil},
		{"two names alike", own + strings.Replace(own, "[practice.steam]", "[practice.vapour]", 1),
			[]string{"practice.vapour.name"}},
		{"the name of a shipped one", strings.Replace(own, `name = "steam"`, `name = "New drop"`, 1),
			[]string{"practice.steam.name"}},
		{"no name", strings.Replace(own, `name = "steam"`, `name = ""`, 1), []string{"practice.steam.name"}},
		{"all at once", strings.Replace(strings.Replace(rule(), `"alcohol"`, `"alcohl"`, 1), `"US"`, `"XX"`, 1) +
			strings.Replace(own, `"kept"`, `"keept"`, 1),
			[]string{"rule.1.wash", "rule.1.place", "practice.steam.drops"}},
	} {
		path := filepath.Join(t.TempDir(), "own.toml")
		if err := os.WriteFile(path, []byte(c.text), 0o644); err != nil {
			t.Fatal(err)
		}
		_, err := Read(path)
		var f note.Faults
		errors.As(err, &f)
		if len(f) != len(c.want) {
			t.Errorf("%s: %d faults, want %d:\n%v", c.name, len(f), len(c.want), err)
			continue
		}
		for i, want := range c.want {
			if !strings.Contains(f[i].English(), want) {
				t.Errorf("%s: want %q:\n%v", c.name, want, f[i].English())
			}
			if f[i].Where.Row == 0 {
				t.Errorf("%s: no row: %v", c.name, f[i].English())
			}
		}
	}
}

// A rule cannot have been checked after the day of the prices that it is read with, whichever file comes first.
func TestARuleFromTheFuture(t *testing.T) {
	dir := t.TempDir()
	rule, money := filepath.Join(dir, "rule.toml"), filepath.Join(dir, "money.toml")
	text := "[[rule]]\nwash = \"alcohol\"\nverdict = \"held-back\"\nreason = \"r\"\nchecked = 2099-01-01\n"
	if os.WriteFile(rule, []byte(text), 0o644) != nil || os.WriteFile(money, []byte(smallPrices), 0o644) != nil {
		t.Fatal("not written")
	}
	for _, paths := range [][]string{{rule, money}, {money, rule}} {
		if _, err := Read(paths...); err == nil || !strings.Contains(err.Error(), "lies ahead of") {
			t.Errorf("%v: %v", paths, err)
		}
	}
	if _, err := Read(rule); err != nil {
		t.Errorf("no day is known: %v", err)
	}
}
