package main

import (
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"

	"spile/internal/demo"
)

// Calls at fault: what they exit with and what they say. {e} and {p} are the table and the prices of the scenario.
var callsAtFault = []struct {
	call string
	code int
	says string // a text that says where, and what is allowed
}{
	{"sure {e} {p} --times=-5", faultyCall, "--times -5; allowed: 1 to"},
	{"sure {e} {p} --times 0", faultyCall, "--times 0; allowed: 1 to"},
	{"sure {e} {p} --times 99999999999", faultyCall, "--times"},
	{"sure {e} {p} --map wage,wage", faultyCall, "--map wage,wage; allowed"},
	{"sure {e} {p} --map wage", faultyCall, "--map wage; allowed"},
	{"sure {e} {p} --map wage,nope", faultyCall, "no assumption named nope"},
	{"sure {e} {p} --spread wage=gamma", faultyCall, "--spread wage=gamma; allowed: held, likely"},
	{"sure {e} {p} --spread wgae=even", faultyCall, "wgae"},
	{"sure {e} {p} --together wage", faultyCall, "--together wage; allowed"},
	{"sure {e} {p} --together wage,discount=7", faultyCall, "from −1 to 1"},
	{"sure {e} {p} --aversion=-1", faultyCall, "--aversion −1; allowed: 0 to 100"},
	{"sure {e} {p} --aversion NaN", faultyCall, "--aversion"},
	{"worth {e} {p} --taps 0", faultyCall, "allowed: above 0"},
	{"worth {e} {p} --adoption 30", faultyCall, "allowed: 0 to 1"},
	{"worth {e} {p} --trial 0", faultyCall, "allowed: 1 or more"},
	{"worth {e} {p} --site Nowhere", faultyCall, "no study was made at Nowhere"},
	{"worth {e} {p} --cv 0", faultyCall, "CV"},
	{"worth {e} {p} --cv 0.15", faultyData, "--accept"},
	{"trial power --cv 0.15 --gain 20", faultyData, "--accept"},
	{"trial power --cv 15 --gain 20 --power 0.8", faultyData, "--power 80"},
	{"trial power --cv 15 --gain 20 --level 0.05", faultyData, "--level 5"},
	{"trial power --cv 15 --gain 0.2", faultyData, "--gain 20"},
	{"trial power --cv 15 --gain 20 --power 101", faultyCall, "power"},
	{"trial power --cv 15 --gain 20 --level 120", faultyCall, "level"},
	{"trial power --cv 15 --gain 20 --practices 1", faultyCall, "allowed: 2 to 20"},
	{"trial power --cv 15 --gain 20 --runs 5", faultyCall, "--runs is 5; allowed"},
	{"trial power --gain 20", faultyCall, "--cv"},
	{"trial design unsanitized nope --seed 1", faultyCall, "nope"},
	{"trial design unsanitized check-valve --replicates 0", faultyCall, "replicates"},
	{"trial design unsanitized", faultyCall, ""},
	{"serve {e} {p} --addr 127.0.0.1:99999", faultyCall, "no port 99999; allowed: 0 to 65535"},
	{"serve {e} {p} --addr 127.0.0.1:-1", faultyCall, "no port -1"},
	{"serve {e} {p} --addr 10.0.0.1:80", faultyCall, "open to the network"},
	{"serve {e} {p} --addr nowhere", faultyCall, "HOST:PORT"},
	{"demo --serve --addr 127.0.0.1:x", faultyCall, "no port x"},
	{"profit {e} {p} --against nope", faultyCall, "no practice nope; allowed: unsanitized"},
	{"profit {e} {p} --against new-drop/0", faultyCall, "--against new-drop/0"},
	{"profit {e} {p} --against new-spout/3", faultyCall, "no rotation"},
	{"figure map {e} {p} -o m.svg --over wage,wage", faultyCall, "--over wage,wage"},
	{"figure map {e} {p} -o m.svg --over wage,nope", faultyCall, "nope"},
	{"export {e} -o out.doc", faultyCall, "out.doc"},
}

func TestCallsAtFault(t *testing.T) {
	scenario(t)
	for _, c := range callsAtFault {
		args := strings.Fields(strings.NewReplacer("{e}", "evidence.csv", "{p}", "prices.toml").Replace(c.call))
		code, _, stderr := call(args...)
		if code != c.code || !strings.Contains(stderr, c.says) {
			t.Errorf("%s: code %d, want %d; says %q, want %q", c.call, code, c.code, stderr, c.says)
		}
	}
}

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
	data, err := fs.ReadFile(demo.Files(), name)
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
