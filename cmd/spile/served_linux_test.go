package main

import (
	"os"
	"strings"
	"testing"

	"spile/internal/cluster"
)

// Every command takes an address where it takes a workbook, answers the same, and never tells the password.
func TestServedCommands(t *testing.T) {
	empty := cluster.Schemas(t)
	scenario(t)
	t.Setenv("SOURCE_DATE_EPOCH", "1772000000")
	at := empty()
	shown, _, _ := strings.Cut(at, "?")
	secret := shown[strings.Index(shown, "spile:")+6 : strings.Index(shown, "@")]
	quiet := func(code int, args []string, said string) {
		t.Helper()
		if strings.Contains(said, secret) || strings.Contains(said, "s@p/") {
			t.Errorf("spile %s (exit code %d) tells the password:\n%s", strings.Join(args, " "), code, said)
		}
	}
	for _, tt := range []struct {
		code int
		args string
	}{
		{done, "new BOOK"},
		{faultyData, "new BOOK"},
		{faultyData, "gains BOOK"}, // which is empty
		{done, "add BOOK evidence.csv prices.toml --who Ada"},
		{faultyData, "add BOOK faulty.csv"},
		{faultyData, "add BOOK nowhere.csv"},
		{faultyCall, "gains BOOK evidence.csv"},
		{faultyCall, "gains BOOK BOOK"},
		{faultyCall, "gains BOOK --without nonsense"},
		{faultyCall, "gains BOOK --nonsense"},
		{faultyCall, "BOOK"},
		{done, "check BOOK"},
		{done, "changes BOOK --since 0"},
		{done, "gains BOOK --json"},
		{done, "rotation BOOK --json"},
		{done, "profit BOOK --json"},
		{done, "profit BOOK"},
		{done, "figure net BOOK -o net.svg"},
		{done, "report BOOK --since 0 -o since.html"},
		{done, "export BOOK -o package/"},
		{done, "export BOOK --worksheet -o money.xlsx"},
		{done, "trial design unsanitized check-valve --replicates 4 --seed 7 --site Hill --first 2027 --name One " +
			"--book BOOK"},
		{done, "trial sheet BOOK One -o one.pdf"},
		{faultyCall, "trial analyse BOOK Two"},
		{faultyCall, "serve BOOK --addr 0.0.0.0:1"},
		{faultyCall, "serve BOOK --addr nowhere"},
		{done, "copy BOOK back.spile"},
	} {
		run := func(book string) (int, string, string) {
			return call(strings.Fields(strings.ReplaceAll(tt.args, "BOOK", book))...)
		}
		code, stdout, stderr := run(at)
		quiet(code, strings.Fields(tt.args), stdout+stderr)
		if code != tt.code {
			t.Errorf("spile %s: exit code %d, wanted %d\n%s%s", tt.args, code, tt.code, stdout, stderr)
		}
		if strings.HasPrefix(tt.args, "copy") {
			break
		}
		json := strings.Contains(tt.args, "--json")
		if strings.HasPrefix(tt.args, "new") || strings.HasPrefix(tt.args, "add") || json {
			if _, fromFile, _ := run("w.spile"); json && stdout != fromFile {
				t.Errorf("spile %s answers other than from a file", tt.args)
			}
		}
	}
	for _, name := range []string{"net.svg", "since.html", "package/datapackage.json", "back.spile"} {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Error(err)
		}
		quiet(done, []string{name}, string(data))
	}
	digests := func(book string) string {
		_, stdout, _ := call("check", book)
		_, after, _ := strings.Cut(stdout, "\n")
		return after
	}
	again := empty()
	wrote(t, done, "copied", "copy", "back.spile", again)
	wrote(t, faultyData, "not empty", "copy", "w.spile", again)
	if a, b, c := digests(at), digests("back.spile"), digests(again); a == "" || a != b || b != c {
		t.Errorf("copied over and back it has other digests:\n%s%s%s", a, b, c)
	}
	wrong := strings.Replace(at, secret, "SECRET", 1)
	for _, args := range []string{"check %", "gains %", "add % evidence.csv", "copy w.spile %", "copy % z.spile",
		"gains --prices=%", "trial sheet %", "serve %"} {
		code, stdout, stderr := call(strings.Fields(strings.ReplaceAll(args, "%", wrong))...)
		if code == done || strings.Contains(stdout+stderr, "SECRET") {
			t.Errorf("spile %s with a wrong password: exit code %d\n%s%s", args, code, stdout, stderr)
		}
	}
}
