package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"spile/internal/view/say"
)

// Each script is one that its shell can read, and names every command and every flag.
func TestCompletion(t *testing.T) {
	parser, err := kong.New(new(commands), spoken(say.In("en")))
	if err != nil {
		t.Fatal(err)
	}
	nodes := completable(parser.Model.Node, "")
	if len(nodes) < 15 {
		t.Fatalf("%d commands", len(nodes))
	}
	for _, shell := range []string{"bash", "zsh", "fish"} {
		code, script, stderr := call("completion", shell)
		if code != done {
			t.Fatalf("%s: exit code %d: %s", shell, code, stderr)
		}
		for _, n := range nodes[1:] {
			if !strings.Contains(script, n.last) {
				t.Errorf("%s: the command %s is not in it", shell, n.path)
			}
			for _, f := range n.flags {
				if !strings.Contains(script, strings.TrimPrefix(f.name, "--")) {
					t.Errorf("%s: %s %s is not in it", shell, n.path, f.name)
				}
			}
		}
		path, err := exec.LookPath(shell)
		if err != nil {
			t.Logf("no %s here to read its script", shell)
			continue
		}
		check := exec.Command(path, "-n")
		check.Stdin = strings.NewReader(script)
		if out, err := check.CombinedOutput(); err != nil {
			t.Errorf("%s -n: %v\n%s", shell, err, out)
		}
	}
}

// proposed is what a shell must propose for the last word of a call.
var proposed = map[string]string{
	"spile ga": "gains", "spile trial des": "design", "spile gains x.csv --inf": "--inference",
	"spile gains x.csv --inference w": "wald", "spile completion z": "zsh", "spile figure interv": "intervals",
}

// What fish proposes.
func TestCompletionInFish(t *testing.T) {
	path, err := exec.LookPath("fish")
	if err != nil {
		t.Skip("NOT RUN: no fish")
	}
	_, script, _ := call("completion", "fish")
	file := filepath.Join(t.TempDir(), "spile.fish")
	if err := os.WriteFile(file, []byte(script), 0o644); err != nil {
		t.Fatal(err)
	}
	for words, want := range proposed {
		out, err := exec.Command(path, "--no-config", "-c", "source "+file+"; complete -C '"+words+"'").CombinedOutput()
		if first, _, _ := strings.Cut(strings.TrimSpace(string(out)), "\t"); err != nil || first != want {
			t.Errorf("%s: %q, wanted %s (%v)", words, out, want, err)
		}
	}
}

// What zsh proposes, the first time as well, when it takes the file for the function. What stands in for the functions
// of its completion system prints what it is given.
func TestCompletionInZsh(t *testing.T) {
	path, err := exec.LookPath("zsh")
	if err != nil {
		t.Skip("NOT RUN: no zsh")
	}
	_, script, _ := call("completion", "zsh")
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "_spile"), []byte(script), 0o644); err != nil {
		t.Fatal(err)
	}
	for words, want := range proposed {
		list := strings.Split(words, " ")
		last := list[len(list)-1]
		run := exec.Command(path, "-f", "-c", `compadd() { print -l -- "$@" }; _describe() { shift $(( $# - 1 )); print -l -- "${(P@)1}" }; _files() { print files }
			fpath=(`+dir+` $fpath); autoload -U _spile; words=(`+words+`); CURRENT=${#words}; _spile; print again; _spile`)
		out, err := run.CombinedOutput()
		first, again, _ := strings.Cut(string(out), "again\n")
		var found []string
		for line := range strings.Lines(first) {
			if word, _, _ := strings.Cut(strings.TrimSpace(line), ":"); strings.HasPrefix(word, last) {
				found = append(found, word)
			}
		}
		if err != nil || strings.Join(found, " ") != want || first != again {
			t.Errorf("%s: %q, wanted %s (%v)\n%s", words, found, want, err, out)
		}
	}
}

// What bash then proposes.
func TestCompletionInBash(t *testing.T) {
	path, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("NOT RUN: no bash")
	}
	_, script, _ := call("completion", "bash")
	for words, want := range map[string]string{
		"spile ga": "gains", "spile trial des": "design", "spile gains --inf": "--inference",
		"spile gains x.csv --inference w": "wald", "spile completion ": "bash zsh fish", "spile figure net n": "",
		"spile figure --outp": "--output",
	} {
		parts := strings.Split(words, " ")
		var list []string
		for _, p := range parts {
			list = append(list, "'"+p+"'")
		}
		run := exec.Command(path, "-c",
			script+"\nCOMP_WORDS=("+strings.Join(list,
				" ")+"); COMP_CWORD=$((${#COMP_WORDS[@]}-1)); _spile; echo \"${COMPREPLY[*]}\"")
		out, err := run.CombinedOutput()
		if err != nil || strings.TrimSpace(string(out)) != want {
			t.Errorf("%s: %q, wanted %q (%v)", words, out, want, err)
		}
	}
	if code, _, _ := call("completion", "tcsh"); code != faultyCall {
		t.Errorf("a shell that is not known: exit code %d", code)
	}
}
