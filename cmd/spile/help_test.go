package main

import (
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"spile/internal/view/say"
)

// parsed is the command line as a voice speaks of it.
func parsed(t *testing.T, v *say.Voice) *kong.Kong {
	t.Helper()
	parser, err := kong.New(new(commands), kong.Name("spile"), kong.Writers(io.Discard, io.Discard), spoken(v))
	if err != nil {
		t.Fatal(err)
	}
	return parser
}

// described are all commands, flags and arguments below a node, each with its help.
func described(n *kong.Node) map[string]string {
	all := map[string]string{}
	for _, f := range n.Flags {
		all[n.Path()+" --"+f.Name] = f.Help
	}
	for _, p := range n.Positional {
		all[n.Path()+" <"+p.Name+">"] = p.Help
	}
	for _, c := range n.Children {
		if c.Hidden {
			continue
		}
		all[c.Path()] = c.Help
		for key, text := range described(c) {
			all[key] = text
		}
	}
	return all
}

// Every command, flag and argument says what it is, with its lists filled in; long help stands in the table, and all of
// the table is used.
func TestHelps(t *testing.T) {
	used := map[string]bool{}
	all := described(parsed(t, say.In("en")).Model.Node)
	for key, text := range all {
		if text == "" || strings.Contains(text, "${") {
			t.Errorf("%s: its help is %q", key, text)
		}
		name := key[strings.LastIndex(" "+key, " "):]
		for _, k := range []string{key, name} {
			if _, ok := helps[strings.TrimSpace(k)]; ok {
				used[strings.TrimSpace(k)] = true
			}
		}
	}
	for key := range helps {
		if !used[key] {
			t.Errorf("nothing is called %q", key)
		}
	}
	if len(all) < 150 {
		t.Errorf("only %d commands, flags and arguments were found", len(all))
	}
}

// The help of what takes one of some words says them, and so does a shell's completion: both come of the lists.
func TestWordsAreListed(t *testing.T) {
	for args, want := range map[string][]string{
		"gains --help": {"kr (Kenward-Roger), wald (Wald)", "moderated|pooled|reported", "vacuum, line-age",
			"no-replication, low-yield", "what each caveat does to the answer"},
		"profit --help":        {"the marginal analysis and every assumption with its source"},
		"trial design --help":  {"randomised, blocks, pairs, latin-square", "unit, kind, block, chamber, mainline"},
		"trial analyse --help": {"unit, block, season, practice", "each season of a trial by itself"},
		"trial power --help":   {"page, slide, phone", "page|slide|phone"},
		"sure --help":          {"held, likely, even, bell, leaning"},
		"export --help":        {".zip (the package as one), .xlsx (everything, a sheet each)"},
		"--help":               {"us|metric|quebec"},
	} {
		_, out, _ := call(strings.Fields(args)...)
		text := strings.Join(strings.Fields(out), " ")
		for _, x := range want {
			if !strings.Contains(text, x) {
				t.Errorf("spile %s does not say %q:\n%s", args, x, out)
			}
		}
	}
	for args, want := range map[string]string{
		"gains x.csv --inference bayes":  "allowed: mixture, kr, wald",
		"trial design a b --design star": "allowed: randomised, blocks, pairs, latin-square",
		"figure pie -o pie.svg x.csv":    "allowed: net, bars, intervals, ",
		"gains x.csv --units stone":      "allowed: us, metric, quebec",
	} {
		if code, _, errs := call(strings.Fields(args)...); code != faultyCall || !strings.Contains(errs, want) {
			t.Errorf("spile %s: %d %s", args, code, errs)
		}
	}
}

// No struct tag is longer than a screen shows: what takes more stands in the table of helps.
func TestTagsAreShort(t *testing.T) {
	tag := regexp.MustCompile(`help:"([^"]*)"`)
	paths, err := filepath.Glob("*.go")
	if err != nil || len(paths) < 20 {
		t.Fatal(paths, err)
	}
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range tag.FindAllSubmatch(text, -1) {
			if len(m[1]) > 90 {
				t.Errorf("%s: a help of %d characters: %.40s…", path, len(m[1]), m[1])
			}
		}
	}
}
