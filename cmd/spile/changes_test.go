package main

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"spile/internal/view/show"
)

// Each step of the changes is what the workbook said by today's method when that was its last change, and the table and
// the slides hold them.
func TestChanges(t *testing.T) {
	long(t)
	bench(t) // change 1 holds studies and prices, change 2 a trial
	do := func(args ...string) string {
		t.Helper()
		code, stdout, stderr := call(args...)
		if code != done {
			t.Fatalf("%v: %s", args, stderr)
		}
		return stdout
	}
	profit := func() (j show.ProfitJSON) {
		t.Helper()
		if err := json.Unmarshal([]byte(do("profit", "book.spile", "--json")), &j); err != nil {
			t.Fatal(err)
		}
		return j
	}
	then := []show.ProfitJSON{profit()}
	put(t, "prices2.toml", priced(`best = 24,`, `best = 31,`))
	do("add", "book.spile", "prices2.toml", "--replace", "--who", "Bo")
	then = append(then, profit())
	put(t, "more.csv", strings.ReplaceAll(studies("25,gal", "39,gal"), "Hill", "Ash"))
	do("add", "book.spile", "more.csv", "--who", "Cy")
	then = append(then, profit())

	var j show.ChangesJSON
	if err := json.Unmarshal([]byte(do("changes", "book.spile", "--since", "2", "--json")), &j); err != nil {
		t.Fatal(err)
	}
	if len(j.Steps) != 3 || j.Of == nil {
		t.Fatalf("%+v", j)
	}
	for i, s := range j.Steps {
		if s.Change != int64(i+2) || s.Gain == nil || s.Net == nil || s.NetLow == nil || s.First == nil {
			t.Fatalf("step %d: %+v", i, s)
		}
		for _, o := range then[i].Practices {
			if o.Practice != *j.Of {
				continue
			}
			near := func(what string, a, b show.Number) {
				if math.Abs(float64(a-b)) > 1e-9 {
					t.Errorf("step %d: %s is %v, and was %v", i, what, a, b)
				}
			}
			near("the gain", *s.Gain, o.GainUsedPct)
			near("the net", *s.Net, *o.NetExpected)
			near("the low of the net", *s.NetLow, o.NetLow)
		}
	}
	if got := j.Steps[1].Came; len(got) != 1 || got[0] != "changed: the prices (wage)" || j.Steps[1].Who[0] != "Bo" {
		t.Errorf("the second step is of %q", got)
	}
	text := strings.Join(strings.Fields(do("changes", "book.spile", "--since", "2")), " ")
	for _, want := range []string{"change 2", "change 3", "change 4", "Ash", "today's method"} { // its cells wrap
		if !strings.Contains(text, want) {
			t.Errorf("the table does not say %q: %s", want, text)
		}
	}
	do("report", "book.spile", "--since", "2", "-o", "out.html")
	page, err := os.ReadFile("out.html")
	if err != nil || !strings.Contains(string(page), "What came, and what it moved") {
		t.Errorf("the report does not say what came: %v", err)
	}
}
