package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spile/internal/demo"
)

// printing are calls that print JSON, between them every key that there is. Each begins with the words of its command.
var printing = []string{
	"gains evidence.csv",
	"gains evidence.csv --thorough --moderators vacuum,line-age",
	"gains evidence.csv --inference kr",
	"gains evidence.csv island.csv low.toml high.toml",
	"gains evidence.csv --explain all",
	"trust evidence.csv prices.toml",
	"rotation evidence.csv prices.toml",
	"profit evidence.csv prices.toml",
	"sure evidence.csv prices.toml --map wage,baseline.yield --times 200",
	"worth evidence.csv prices.toml",
	"plan whole.csv prices.toml sugarbush-organic.toml",
	"plan whole.csv prices.toml sugarbush-quebec.toml",
	"trial analyse season.csv",
	"trial analyse season.csv --before 2025 --syrup",
	"trial analyse vacuum.csv --vacuum",
	"trial analyse book.spile Larkmoor_releasers",
	"changes book.spile --since 0",
	"trial design unsanitized new-spout --replicates 3 --taps 20 --first 2025 --blind",
	"trial analyse crossed.csv",
	"trial design unsanitized new-spout check-valve --design blocks --from more.csv",
	"trial design unsanitized new-spout --design randomised --from units.csv",
	"trial design unsanitized check-valve --design latin-square --seasons 2 --replicates 2",
	"trial power --practices 2 --cv 15 --season-cv 5 --seasons 2 --gain 20 --replicates 3 --adjusted --runs 100",
	"trial power --cv 15 --gain 20",
	"trial power --gain 20 --from book.spile",
}

// Scripts of others read the JSON: each key that was ever released is there, and is what it was, a number, a text, a
// truth value, a list or an object. testdata/keys.txt has them; SPILE_KEEP=1 adds those that are new, and takes none
// away.
func TestReleasedKeys(t *testing.T) {
	long(t)
	kept, err := filepath.Abs("testdata/keys.txt")
	if err != nil {
		t.Fatal(err)
	}
	found := keysPrinted(t, func(args []string) string {
		code, stdout, stderr := call(args...)
		if code != done {
			t.Fatalf("spile %s: %s", strings.Join(args, " "), stderr)
		}
		return stdout
	})
	data, err := os.ReadFile(kept)
	if err != nil && os.Getenv("SPILE_KEEP") == "" {
		t.Fatal(err)
	}
	released := map[string]string{}
	for line := range strings.Lines(string(data)) {
		key, kind, _ := strings.Cut(strings.TrimSpace(line), "\t")
		released[key] = kind
	}
	for _, key := range slices.Sorted(maps.Keys(released)) {
		if now, want := found[key], released[key]; now != want && now != "" && want != "null" && now != "null" {
			t.Errorf("%s was a %s, and is a %s", key, want, now)
		} else if now == "" {
			t.Errorf("%s (a %s) is no longer printed", key, want)
		} else if now == "null" && want != "null" {
			t.Errorf("%s (a %s) is null in all that is printed here, so that nothing holds it", key, want)
		}
	}
	if os.Getenv("SPILE_KEEP") != "" {
		for key, kind := range found {
			if was := released[key]; was == "" || was == "null" {
				released[key] = kind
			}
		}
		var b strings.Builder
		for _, key := range slices.Sorted(maps.Keys(released)) {
			fmt.Fprintf(&b, "%s\t%s\n", key, released[key])
		}
		if err := os.WriteFile(kept, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	for _, key := range slices.Sorted(maps.Keys(found)) {
		if released[key] == "" {
			t.Errorf("%s (a %s) is new; SPILE_KEEP=1 go test ./cmd/spile -run ReleasedKeys takes it in", key,
				found[key])
		}
	}
}

// crossed is a trial in which units change practices between seasons, so that one leaves something to the next.
func crossed() string {
	var b strings.Builder
	b.WriteString("unit,block,season,practice,taps,volume_gal\n")
	practices := []string{"unsanitized", "new-spout", "check-valve"}
	for i, order := range [][]int{{0, 1, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}, {0, 2, 1}, {1, 0, 2}} { // Williams 1949
		for s, k := range order {
			fmt.Fprintf(&b, "u%d,b%d,%d,%s,20,%d\n", i, i/3, 2023+s, practices[k], 400+60*k+(i*7+s*5)%23)
		}
	}
	return b.String()
}

// keysPrinted is every key of the JSON that the calls print, after the command, with what it is.
func keysPrinted(t *testing.T, run func(args []string) string) map[string]string {
	t.Chdir(t.TempDir())
	if err := os.CopyFS(".", demo.Files()); err != nil {
		t.Fatal(err)
	}
	all, err := os.ReadFile("evidence.csv")
	if err != nil {
		t.Fatal(err)
	}
	put(t, "whole.csv", string(all))
	put(t, "evidence.csv", strings.Join(strings.SplitAfter(string(all), "\n")[:30], "")) // its first twelve studies
	put(t, "season.csv", season())
	put(t, "vacuum.csv", "unit,block,season,practice,taps,volume_gal,vacuum_inhg\na,1,2024,unsanitized,20,401,20\n"+
		"b,1,2024,check-valve,20,517,24\nc,2,2024,unsanitized,20,402,21\nd,2,2024,check-valve,20,537,24\n"+
		"e,3,2024,unsanitized,20,390,22\nf,3,2024,check-valve,20,503,23\n")
	put(t, "units.csv", "unit,chamber,taps\n1,a,2\n2,a,2\n3,b,2\n4,b,1\n5,c,2\n6,d,1\n")
	put(t, "more.csv", "unit,block,taps\n1,a,9\n2,a,9\n3,a,9\n4,a,9\n5,b,9\n6,b,9\n7,b,9\n8,b,9\n")
	put(t, "island.csv", "study,site,season,practice,reference,mean,n,sd\n"+
		"Isle,Isle,2019,low-spout,yes,20,6,3\nIsle,Isle,2019,high-spout,,24,6,3\n")
	for _, own := range []string{"low", "high"} {
		text := "[practice.%s-spout]\nname = %q\nspout = \"new\"\ndrops = \"kept\"\nwash = \"none\"\n"
		put(t, own+".toml", fmt.Sprintf(text, own, own))
	}
	put(t, "crossed.csv", crossed())
	written, err := filepath.Glob("trial/*")
	if err != nil {
		t.Fatal(err)
	}
	run([]string{"new", "book.spile"})
	run([]string{"add", "book.spile", "evidence.csv", "prices.toml"})
	run(append([]string{"trial", "add", "book.spile", "Larkmoor releasers"}, written...))

	var analysis struct {
		Findings []struct {
			Season int
			ID     string
		}
	}
	first := run([]string{"trial", "analyse", "book.spile", "Larkmoor releasers", "--json"})
	if err := json.Unmarshal([]byte(first), &analysis); err != nil || len(analysis.Findings) == 0 {
		t.Fatal(err, analysis)
	}
	found := analysis.Findings[0]
	run([]string{"trial", "decide", "book.spile", "Larkmoor releasers", fmt.Sprint(found.Season), found.ID,
		"--keep", "--reason", "nothing ran that day"})

	keys := map[string]string{}
	for _, line := range printing {
		args := strings.Fields(line)
		command := args[0]
		if command == "trial" {
			command += " " + args[1]
		}
		for i := range args {
			args[i] = strings.ReplaceAll(args[i], "_releasers", " releasers")
		}
		var v any
		if err := json.Unmarshal([]byte(run(append(args, "--json"))), &v); err != nil {
			t.Fatalf("spile %s --json: %v", line, err)
		}
		keysOf(command+" ", v, func(key, kind string) {
			if was := keys[key]; was == "" || was == "null" {
				keys[key] = kind
			} else if kind != "null" && kind != was {
				t.Errorf("%s is a %s and a %s", key, was, kind)
			}
		})
	}
	run([]string{"export", "book.spile", "-o", "package", "--license", "CC-BY-4.0"})
	data, err := os.ReadFile("package/datapackage.json")
	var v any
	if err != nil || json.Unmarshal(data, &v) != nil {
		t.Fatal(err)
	}
	keysOf("datapackage.json ", v, func(key, kind string) { keys[key] = kind })
	return keys
}

// keysOf names every key below a path and what stands there.
func keysOf(path string, v any, is func(key, kind string)) {
	switch v := v.(type) {
	case map[string]any:
		is(path, "object")
		for k, x := range v {
			keysOf(path+"."+k, x, is)
		}
	case []any:
		is(path, "list")
		for _, x := range v {
			keysOf(path+"[]", x, is)
		}
	case nil:
		is(path, "null")
	default:
		kinds := map[string]string{"float64": "number", "string": "text", "bool": "truth"}
		is(path, kinds[fmt.Sprintf("%T", v)])
	}
}
