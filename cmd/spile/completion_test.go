package main

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// Each script is one that its shell can read, and names every command and every flag.
func TestCompletion(t *testing.T) {
	parser, err := kong.New(new(commands))
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

// What bash then proposes.
func TestCompletionInBash(t *testing.T) {
	path, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("NOT RUN: no bash")
	}
	_, script, _ := call("completion", "bash")
	for words, want := range map[string]string{
		"spile ga": "gains", "spile trial des": "design", "spile gains --inf": "--inference", "spile gains x.csv --inference w": "wald", "spile completion ": "",
	} {
		parts := strings.Split(words, " ")
		var list []string
		for _, p := range parts {
			list = append(list, "'"+p+"'")
		}
		run := exec.Command(path, "-c", script+"\nCOMP_WORDS=("+strings.Join(list, " ")+"); COMP_CWORD=$((${#COMP_WORDS[@]}-1)); _spile; echo \"${COMPREPLY[*]}\"")
		out, err := run.CombinedOutput()
		if err != nil || strings.TrimSpace(string(out)) != want {
			t.Errorf("%s: %q, wanted %q (%v)", words, out, want, err)
		}
	}
	if code, _, _ := call("completion", "tcsh"); code != faultyCall {
		t.Errorf("a shell that is not known: exit code %d", code)
	}
}
