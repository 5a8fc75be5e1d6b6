package own_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/view/own"
	"spile/internal/view/say"
)

// tried is so many sets of inputs as readers may type them: of every number a half to double what is usual, of every
// choice any, most left blank.
func tried(d own.Desk, n int) (list []own.Typed) {
	random := rand.New(rand.NewPCG(7, 0))
	for range n {
		t := own.Typed{"1.taps": fmt.Sprint(100 + random.IntN(9000))}
		for _, g := range d.Form() {
			for _, f := range g.Numbered(1) {
				usual, err := note(d, f.Usual)
				switch {
				case random.Float64() > .3 || strings.HasSuffix(f.Name, ".share") || g.Key == "limits":
				case len(f.Options) > 0 && f.Name != "1.species":
					t[f.Name] = f.Options[random.IntN(len(f.Options))].Value
				case f.Numeric && err == nil && usual > 0 && f.Name != "1.taps":
					t[f.Name] = d.V.Marked(fmt.Sprintf("%.3g", usual*math.Exp2(2*random.Float64()-1)))
				}
			}
		}
		if _, _, out := d.Asked(t); len(out.Faults) > 0 { // what cannot be is told, and nothing worked out
			for name := range out.Faults {
				delete(t, name)
			}
		}
		list = append(list, t)
	}
	return list
}

func note(d own.Desk, text string) (x float64, err error) {
	_, err = fmt.Sscan(d.V.Pointed(text), &x)
	return x, err
}

// numbers are all numbers of an answer's ranking and of what its options are likely to net, by where they stand.
func numbers(a *advice.Advice) map[string]float64 {
	out := map[string]float64{}
	var walk func(at string, x any)
	walk = func(at string, x any) {
		switch x := x.(type) {
		case float64:
			out[at] = x
		case []any:
			for i, v := range x {
				walk(fmt.Sprint(at, ".", i), v)
			}
		case map[string]any:
			for k, v := range x {
				walk(at+"."+k, v)
			}
		}
	}
	all := []any{a.Ranking, a.Recommended}
	if a.Weighed != nil {
		all = append(all, a.Weighed.Prospect.Summary.Rows)
	}
	text, err := json.Marshal(all)
	var x any
	if err == nil {
		err = json.Unmarshal(text, &x)
	}
	if err != nil {
		panic(err)
	}
	walk("", x)
	return out
}

// asked is what is typed, and what comes of it.
type asked struct {
	Typed   own.Typed
	Numbers map[string]float64
}

// Every number of the engine, compiled as a page carries it, is that of the program on the same frozen evidence, to
// 1e-9 of it. Node runs the engine.
func TestEngineAsTheProgram(t *testing.T) {
	if os.Getenv("SPILE_BROWSER") == "" {
		t.Skip("make browser runs it")
	}
	if _, err := exec.LookPath("node"); err != nil {
		t.Skip("NOT RUN: no node")
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	_, thawed := station()
	data, err := thawed.Pack()
	if err != nil {
		t.Fatal(err)
	}
	d := desk("en")
	var list []asked
	for _, typed := range tried(d, 50) {
		list = append(list, asked{Typed: typed})
	}
	dir := t.TempDir()
	text, err := json.Marshal(list)
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "asked.json"), text, 0o644)
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "evidence"), data, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	engine := exec.Command("go", "test", "-vet=off", "-count=1", "-run", "^TestInEngine$",
		"-exec", filepath.Join(strings.TrimSpace(string(root)), "lib/wasm/go_js_wasm_exec"), ".")
	// Node has room for little of an environment.
	engine.Env = append(slices.DeleteFunc(os.Environ(), func(s string) bool { return len(s) > 500 }),
		"GOOS=js", "GOARCH=wasm", "GOMAXPROCS=1", "SPILE_ASKED="+dir)
	if out, err := engine.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if text, err = os.ReadFile(filepath.Join(dir, "answered.json")); err == nil {
		err = json.Unmarshal(text, &list)
	}
	if err != nil {
		t.Fatal(err)
	}
	worst, count := 0.0, 0
	for _, x := range list {
		want := worked(t, d, x.Typed)
		if len(want) != len(x.Numbers) || len(want) < 100 {
			t.Errorf("%v: %d numbers, and %d in the engine", x.Typed, len(want), len(x.Numbers))
		}
		for at, v := range want {
			far := math.Abs(x.Numbers[at]-v) / max(math.Abs(v), 1e-3) // of a tenth of a cent
			if worst, count = max(worst, far), count+1; !(far <= 1e-9) {
				t.Errorf("%v: %s is %v, and %v in the engine", x.Typed, at, v, x.Numbers[at])
			}
		}
	}
	t.Logf("%d numbers, at most %.1g of each apart", count, worst)
}

// worked are the numbers of what is typed.
func worked(t *testing.T, d own.Desk, typed own.Typed) map[string]float64 {
	t.Helper()
	_, p, out := d.Asked(typed)
	if out.Faults != nil {
		t.Fatal(typed, out.Faults)
	}
	a, err := d.Outlook(p)
	if err != nil {
		t.Fatal(typed, err)
	}
	return numbers(a)
}

// In the engine: TestEngineAsTheProgram asks it.
func TestInEngine(t *testing.T) {
	dir := os.Getenv("SPILE_ASKED")
	if dir == "" {
		t.Skip("TestEngineAsTheProgram runs it")
	}
	data, err := os.ReadFile(filepath.Join(dir, "evidence"))
	if err != nil {
		t.Fatal(err)
	}
	z, err := advice.Unpack(data)
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(dir, "asked.json"))
	var list []asked
	if err == nil {
		err = json.Unmarshal(text, &list)
	}
	if err != nil {
		t.Fatal(err)
	}
	d := own.Desk{Thawed: z.Thaw(), V: say.In("en")}
	for i := range list {
		list[i].Numbers = worked(t, d, list[i].Typed)
	}
	if text, err = json.Marshal(list); err == nil {
		err = os.WriteFile(filepath.Join(dir, "answered.json"), text, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// tags are what a reader does not see; where a figure's lines run they say to a hundredth of a point.
var tags = regexp.MustCompile(`<[^>]*>`)

// Every word that the page shows, of a ranking, how sure it is and a plan, is that of the program over all studies, but
// where a number lies so near a half of its last digit that what was frozen, in steps of two millionths, falls on the
// other side: less than once in ten thousand.
func TestDigitsAreTheProgramsOverAllStudies(t *testing.T) {
	n := 3
	if os.Getenv("SPILE_BROWSER") != "" {
		n = 50
	}
	a, _ := station()
	d := desk("en")
	shown, apart := 0, 0
	words := func(html string) []string { return strings.Fields(tags.ReplaceAllString(html, " ")) }
	compare := func(typed own.Typed, want, got []string) {
		if len(want) != len(got) {
			t.Errorf("%v: %d words, and %d over all studies", typed, len(got), len(want))
			return
		}
		for i := range want {
			if shown++; want[i] != got[i] {
				if apart++; apart < 40 {
					t.Logf("%v: %q, and over all studies %q", slices.Sorted(maps.Keys(typed)), got[i], want[i])
				}
			}
		}
	}
	for _, typed := range tried(d, n) {
		b, p, out := d.Asked(typed)
		if out.Faults != nil {
			t.Fatal(typed, out.Faults)
		}
		in := a.Input
		in.Prices = p
		full, err := memo.Of(in)
		if err == nil {
			full, err = memo.Weigh(full, advice.WeighOptions{Outlook: true})
		}
		if err != nil {
			t.Fatal(typed, err)
		}
		compare(typed, words(d.Told(full, b)), words(d.Rank(typed, true).HTML))
		planned, err := memo.Plan(a.Input, b)
		if err != nil {
			t.Fatal(typed, err)
		}
		compare(typed, words(d.Sheet(planned)), words(d.Plan(typed).HTML))
	}
	if t.Logf("%d words of %d differ", apart, shown); apart > shown/10_000+1 {
		t.Error("they are too many")
	}
}
