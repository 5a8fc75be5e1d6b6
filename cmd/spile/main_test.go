package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/internal/demo"
	"spile/internal/engine/advice"
	"spile/internal/trade/practice"
	"spile/internal/view/show"
)

// The tests speak English whatever the system does.
func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
	}
	for _, name := range []string{"LC_ALL", "LC_MESSAGES", "LANG"} {
		os.Unsetenv(name)
	}
	os.Exit(m.Run())
}

// scenario puts a small evidence table, the price file of the demo and some faulty files into a folder of the test, and
// goes there.
func scenario(t testing.TB) {
	t.Helper()
	evidence, err := os.ReadFile("testdata/evidence.csv")
	if err != nil {
		t.Fatal(err)
	}
	prices, err := fs.ReadFile(demo.Files(), "prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	put(t, "evidence.csv", string(evidence))
	put(t, "prices.toml", string(prices))
	put(t, "empty.csv", "")
	put(t, "faulty.csv", "study,site,season,practice,mean,n\nHill,Hill,2019,unsanitized,much,6\n"+
		"Hill,Hill,2019,new-spout,24,2.5\n")
	put(t, "foreign.csv", "study,site,season,method,mean,n,sd\nHill,Hill,2019,unsanitized,12,6,2\n"+
		"Hill,Hill,2019,new-spout,14,6,2\n")
	put(t, "faulty.toml", "currency = 5\nwagee = 12\n")
	put(t, "island.csv", "study,site,season,practice,mean,n,sd\nHill,Hill,2019,new-spout,20,6,3\n"+
		"Hill,Hill,2019,check-valve,24,6,3\n")
}

func put(t testing.TB, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// long marks a test that finds nothing more under the race detector, which runs the short ones.
func long(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("short")
	}
}

// call runs the program. What one call worked out of its inputs the next has at hand, as in the browser.
func call(args ...string) (code int, stdout, stderr string) { return callWith(&memo, args...) }

var memo advice.Memo

func callWith(memo *advice.Memo, args ...string) (code int, stdout, stderr string) {
	var out, err bytes.Buffer
	code = run(context.Background(), args, memo, &out, &err)
	return code, out.String(), err.String()
}

func TestCommands(t *testing.T) {
	long(t)
	scenario(t)
	for _, c := range []struct {
		args   string
		code   int
		stdout []string // texts in it
		stderr []string
	}{
		{"", done, []string{"spile demo", "Commands:", "gains"}, nil},
		{"--help", done, []string{"spile demo", "exit code"}, nil},
		{"--version", done, []string{"spile devel"}, nil},
		{"gains --help", done, []string{"spile gains evidence.csv", "--without"}, nil},
		{"rotation --help", done, []string{"spile rotation evidence.csv", "--max"}, nil},
		{"profit --help", done, []string{"spile profit evidence.csv", "--place", "--organic", "--against"}, nil},
		{"report --help", done, []string{"spile report -o report.html"}, nil},
		{"figure --help", done, []string{"spile figure net -o net.svg", "slide"}, nil},
		{"serve --help", done, []string{"spile serve evidence.csv prices.toml", "127.0.0.1:7345"}, nil},
		{"demo --help", done, []string{"spile demo", "--serve"}, nil},

		{"gains evidence.csv", done,
			[]string{"gives the most sap", "Pooled gains", "95 % interval", "plain mean", "out: ", "weight"},
			[]string{"Warnings"}},
		{"gains evidence.csv prices.toml", done, []string{"gives the most sap"}, nil},
		{"gains evidence.csv --without no-replication", done, []string{"out: left"}, nil},
		{"gains evidence.csv --thorough", done,
			[]string{"Without each study", "Without each site", "What each caveat does", "Direct beside indirect"},
			nil},
		{"gains evidence.csv --site-effect=false --inference wald --variance reported", done,
			[]string{"Pooled gains"}, nil},
		{"rotation evidence.csv", done, []string{"How often to replace the drops", "How drops age (new drop)"}, nil},
		{"rotation evidence.csv --prices prices.toml --max 4", done,
			[]string{"Expected loss: what choosing it costs", "net against"}, nil},
		{"profit evidence.csv --prices prices.toml", done,
			[]string{"comes first by little", "net against", "held back", "Budget of", "Cautions",
				"The label is the law"},
			[]string{"Warnings"}},
		{"profit evidence.csv prices.toml --against unsanitized", done, []string{"Today's practice: unsanitized"}, nil},
		{"report evidence.csv prices.toml -o out.html", done, []string{"wrote out.html"}, []string{"Warnings"}},
		{"report evidence.csv -o out.pdf", done, []string{"wrote out.pdf"}, []string{"Warnings"}},
		{"report evidence.csv --slides -o talk.pdf", done, []string{"wrote talk.pdf"}, nil},
		{"figure bars evidence.csv -o bars.svg --size slide", done, []string{"wrote bars.svg"}, nil},
		{"figure net evidence.csv prices.toml -o net.png --size phone", done, []string{"wrote net.png"}, nil},

		{"frobnicate", faultyCall, nil, []string{"frobnicate", "See spile --help."}},
		{"gains", faultyCall, nil, []string{"<file>", "See spile gains --help."}},
		{"gains evidence.csv --inference bayes", faultyCall, nil, []string{"--inference", "kr"}},
		{"gains evidence.csv --without bad-luck", faultyCall, nil,
			[]string{"no study carries the caveat bad-luck", "no-replication"}},
		{"gains evidence.csv --exclude Nowhere", faultyCall, nil,
			[]string{"no study is named \"Nowhere\"", "allowed: "}},
		{"gains evidence.csv --lang xx", faultyCall, nil, []string{"there is no language xx", "en"}},
		{"gains evidence.csv --units furlongs", faultyCall, nil, []string{"--units"}},
		{"profit evidence.csv", faultyCall, nil, []string{"--prices PRICES.toml"}},
		{"profit evidence.csv prices.toml --against prayer", faultyCall, nil,
			[]string{"there is no practice prayer", "check-valve"}},
		{"profit evidence.csv prices.toml --against new-spout/3", faultyCall, nil, []string{"replaces no drops"}},
		{"gains evidence.csv --moderators prayer", faultyCall, nil, []string{"prayer"}},
		{"rotation evidence.csv --max 0", faultyCall, nil, []string{"--max is 0", "1 to 50"}},
		{"figure pie evidence.csv -o pie.svg", faultyCall, nil, []string{"net", "bars", "intervals", "ageing"}},
		{"figure bars evidence.csv -o bars.gif", faultyCall, nil, []string{".svg, .png or .pdf"}},
		{"figure net evidence.csv -o net.svg", faultyCall, nil, []string{"--prices PRICES.toml"}},
		{"serve evidence.csv --addr 0.0.0.0:7345", faultyCall, nil, []string{"open to the network"}},
		{"serve evidence.csv --share", faultyCall, nil, []string{"BOOK.spile --share"}},
		{"serve evidence.csv --addr nowhere", faultyCall, nil, []string{"HOST:PORT"}},
		{"report evidence.csv -o report.txt", faultyCall, nil, []string{".html or .pdf"}},
		{"report evidence.csv --slides -o talk.html", faultyCall, nil, []string{"--slides", ".pdf"}},
		{"report evidence.csv", faultyCall, nil, []string{"--output"}},

		{"gains nothing.csv", faultyData, nil, []string{"nothing.csv: ", "1 fault;"}},
		{"gains empty.csv", faultyData, nil, []string{"empty.csv"}},
		{"gains faulty.csv", faultyData, nil, []string{
			"faulty.csv, row 2, column mean: ", "much", "faulty.csv, row 3, column n: ", "2.5",
			"2 faults; nothing was computed"}},
		{"gains foreign.csv", faultyData, nil, []string{`practice = "method"`, "1 fault; nothing was computed"}},
		{"profit faulty.csv faulty.toml", faultyData, nil,
			[]string{"faulty.csv, row 2, column mean: ", "faulty.toml", "wagee"}},
		{"gains island.csv", faultyData, nil, []string{"unsanitized"}},
		{"report evidence.csv -o nowhere/out.html", faultyData, nil,
			[]string{"nowhere/out.html: cannot be written: there is no such folder; allowed: one that is there"}},
		{"demo --dir evidence.csv", faultyData, nil, []string{"evidence.csv: cannot be written: not a directory"}},
	} {
		code, stdout, stderr := call(strings.Fields(c.args)...)
		if code != c.code {
			t.Errorf("spile %s: exit code %d, want %d\n%.300s", c.args, code, c.code, stderr)
		}
		if code != done && stdout != "" {
			t.Errorf("spile %s: failed, and yet said %q", c.args, stdout)
		}
		stdout = strings.ReplaceAll(stdout, "\u00a0", " ")
		for _, want := range c.stdout {
			if !strings.Contains(stdout, want) {
				t.Errorf("spile %s: %q is not in\n%.600s", c.args, want, stdout)
			}
		}
		for _, want := range c.stderr {
			if !strings.Contains(stderr, want) {
				t.Errorf("spile %s: %q is not in\n%.600s", c.args, want, stderr)
			}
		}
		for line := range strings.SplitSeq(stdout+stderr, "\n") {
			if strings.Contains(line, "%!") {
				t.Errorf("spile %s: a message and its arguments do not fit: %s", c.args, line)
			}
		}
	}
}

// Whoever works it out anew from the same data writes the same bytes.
func TestFilesWritten(t *testing.T) {
	long(t)
	scenario(t)
	memos := [2]*advice.Memo{&memo, {}} // of which one works all out anew
	for file, start := range map[string]string{
		"report.html": "<!doctype html>", "net.svg": "<svg", "net.png": "\x89PNG\r\n",
		"report.pdf": "%PDF-", "slides.pdf": "%PDF-", "net.pdf": "%PDF-",
	} {
		name, _, _ := strings.Cut(file, ".")
		args := []string{"figure", name, "-o", file, "evidence.csv", "prices.toml"}
		switch name {
		case "report":
			args = append([]string{"report"}, args[2:]...)
		case "slides":
			args = append([]string{"report", "--slides"}, args[2:]...)
		}
		var texts [2][]byte
		for i := range texts {
			if code, _, stderr := callWith(memos[i], args...); code != done {
				t.Fatalf("%s: %s", file, stderr)
			}
			texts[i], _ = os.ReadFile(file)
		}
		if !bytes.Contains(texts[0][:min(200, len(texts[0]))], []byte(start)) {
			t.Errorf("%s begins %.40q", file, texts[0])
		}
		if !bytes.Equal(texts[0], texts[1]) {
			t.Errorf("%s is another file each time", file)
		}
	}
}

func TestJSONIsOneValue(t *testing.T) {
	scenario(t)
	for args, keys := range map[string][]string{
		"gains evidence.csv --json": {"practices", "between", "shares", "study_variance",
			"site_variance", "q", "q_df", "q_p", "i2_pct", "weights", "warnings"},
		"rotation evidence.csv prices.toml --json": {"intervals", "best", "curves", "by_age", "currency", "per",
			"warnings"},
		"profit evidence.csv prices.toml --json": {"practices", "currency", "per", "warnings"},
	} {
		code, stdout, stderr := call(strings.Fields(args)...)
		if code != done || stderr != "" {
			t.Errorf("%s: exit code %d, standard error %q", args, code, stderr)
		}
		var value map[string]any
		if err := json.Unmarshal([]byte(stdout), &value); err != nil {
			t.Fatalf("%s: %v", args, err)
		}
		for _, k := range keys {
			if _, ok := value[k]; !ok {
				t.Errorf("%s: no %s", args, k)
			}
		}
		if list, _ := value["warnings"].([]any); len(list) == 0 {
			t.Errorf("%s: the warnings are missing", args)
		}
	}
}

// Where today's practice is unsanitized, the two budgets are one.
func TestOneBudget(t *testing.T) {
	scenario(t)
	for against, want := range map[string]int{"unsanitized": 1, "new-spout": 2} {
		_, stdout, stderr := call("profit", "evidence.csv", "prices.toml", "--against", against)
		if got := strings.Count(stdout, "Budget of"); got != want {
			t.Errorf("against %s: %d budgets, want %d %s", against, got, want, stderr)
		}
	}
}

// What the JSON of profit says is a budget: the four quarters and the sum of the lines are both the net, and against
// unsanitized the reference's own row is nought.
func TestProfitJSONAddsUp(t *testing.T) {
	scenario(t)
	_, stdout, _ := call("profit", "evidence.csv", "prices.toml", "--against", "unsanitized", "--json")
	var j show.ProfitJSON
	if err := json.Unmarshal([]byte(stdout), &j); err != nil {
		t.Fatal(err)
	}
	if len(j.Practices) < 8 {
		t.Fatalf("only %d practices", len(j.Practices))
	}
	for _, p := range j.Practices {
		sum := 0.0
		for _, l := range p.Lines {
			sum += float64(l.Amount)
		}
		quarters := float64(p.AddedReturns + p.ReducedCosts - p.AddedCosts - p.ReducedReturns)
		if net := float64(p.Net); abs(sum-net) > 1e-9 || abs(quarters-net) > 1e-9 {
			t.Errorf("%s: net %v, lines %v, quarters %v", p.Practice, net, sum, quarters)
		}
		if p.Practice == "unsanitized" && p.Net != 0 {
			t.Errorf("unsanitized nets %v against itself", p.Net)
		}
	}
}

func abs(x float64) float64 { return max(x, -x) }

// Every answer that rests on what is invented says so where the answer goes, once, and its JSON among the warnings.
func TestWhatIsInventedIsSaid(t *testing.T) {
	scenario(t)
	for _, c := range []struct {
		command string
		times   int // studies, and prices where they count
	}{
		{"gains evidence.csv", 1}, {"gains evidence.csv --explain new-spout", 1}, {"trust evidence.csv", 1},
		{"rotation evidence.csv prices.toml", 2}, {"profit evidence.csv prices.toml --lang fr-CA", 2},
		{"sure evidence.csv prices.toml", 2}, {"worth evidence.csv prices.toml", 2},
	} {
		code, stdout, stderr := call(strings.Fields(c.command)...)
		said := func(s string) int { return strings.Count(s, " invented") + strings.Count(s, " inventé") }
		if code != done || said(stdout) != c.times || said(stderr) != 0 {
			t.Errorf("%s: exit %d, said %d times and %d on standard error\n%s", c.command, code, said(stdout),
				said(stderr), stdout)
		}
		if !strings.Contains(c.command, "--explain") {
			if _, stdout, _ = call(strings.Fields(c.command + " --json --lang en")...); said(stdout) < c.times {
				t.Errorf("%s --json: %s", c.command, stdout)
			}
		}
	}
}

func TestDemo(t *testing.T) {
	t.Chdir(t.TempDir())
	code, stdout, stderr := call("demo")
	if code != done {
		t.Fatal(stderr)
	}
	plain := strings.Join(strings.Fields(stdout), " ")
	for _, want := range []string{"95 % interval", "Its chance of being best is", "would come first if",
		"What each practice nets",
		"spile serve " + filepath.Join("spile-demo", "demo.spile"), "A trial of the scenario"} {
		if !strings.Contains(plain, want) {
			t.Errorf("%q is not in\n%s", want, plain)
		}
	}
	for line := range strings.SplitSeq(stdout, "\n") {
		if n := len([]rune(line)); n > show.Width {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	for _, name := range []string{"evidence.csv", "prices.toml", "report.html", "net.svg", "net.png", "bars.svg",
		"bars.png",
		"intervals.svg", "intervals.png", "ageing.svg", "ageing.png", "outlook.svg", "swings.png", "map.svg",
		"trial-size.png"} {
		path := filepath.Join("spile-demo", name)
		if info, err := os.Stat(path); err != nil || info.Size() == 0 {
			t.Errorf("%s was not written", path)
		}
		if !strings.Contains(stdout, path) {
			t.Errorf("%s is not named", path)
		}
	}

	// A second demo renews what is unchanged, keeps and names what was changed, and draws what was declared since.
	stranger(t)
	const name = "spile-demo/prices.toml"
	prices, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	changed := "# my own remark\n" + string(prices)
	put(t, name, changed)
	code, stdout, stderr = call("demo")
	kept, err := os.ReadFile(name)
	if code != done || err != nil || string(kept) != changed {
		t.Errorf("code %d, %v: %s", code, err, stderr)
	}
	if made, err := os.ReadFile("spile-demo/made-up.svg"); !strings.Contains(string(made), "A figure made up") {
		t.Errorf("the demo draws no figure of a stranger's: %v", err)
	}
	_, after, found := strings.Cut(stdout, "Kept as you changed them")
	if !found || !strings.Contains(after, "prices.toml") {
		t.Errorf("what was kept is not named: %s", stdout)
	}
}

// In the pseudo-language every word of ours stands between ⟦ and ⟧; what is left is data, file names and numbers.
func TestTerminalSpeaksThroughSay(t *testing.T) {
	long(t)
	scenario(t)
	for _, args := range []string{
		"gains evidence.csv", "rotation evidence.csv prices.toml", "profit evidence.csv prices.toml",
		"figure bars evidence.csv -o b.svg",
	} {
		_, stdout, stderr := call(append(strings.Fields(args), "--lang", "en-XA")...)
		depth, left := 0, []rune{}
		for _, r := range stdout + stderr {
			switch {
			case r == '⟦':
				depth++
			case r == '⟧':
				depth--
			case depth == 0:
				left = append(left, r)
			}
		}
		data := studyWords(t)
		for _, word := range regexp.MustCompile(`\pL{2,}`).FindAllString(string(left), -1) {
			if !slices.Contains(data, word) {
				t.Errorf("spile %s: %q was not said", args, word)
			}
		}
	}
}

// studyWords are the words of the evidence table and price file, a currency, and the names of the files.
func studyWords(t *testing.T) []string {
	words := []string{"USD", "evidence", "csv"}
	for _, name := range []string{"evidence.csv", "prices.toml"} {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		words = append(words, regexp.MustCompile(`\pL{2,}`).FindAllString(string(data), -1)...)
	}
	return words
}

func TestServe(t *testing.T) {
	scenario(t)
	ctx, interrupt := context.WithCancel(context.Background())
	defer interrupt()
	out, say := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, []string{"serve", "evidence.csv", "prices.toml", "--addr", "127.0.0.1:0"}, &memo, say,
			io.Discard)
		say.Close()
	}()
	buffer := make([]byte, 1000)
	n, err := out.Read(buffer)
	if err != nil {
		t.Fatal(err)
	}
	url := regexp.MustCompile(`http://127\.0\.0\.1:\d+/`).FindString(string(buffer[:n]))
	if url == "" {
		t.Fatalf("no address in %q", buffer[:n])
	}
	answer, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()

	// The same address again is taken: a fault that says so.
	addr := strings.TrimSuffix(strings.TrimPrefix(url, "http://"), "/")
	if code, _, stderr := call("serve", "evidence.csv", "--addr", addr); code != faultyData ||
		!strings.Contains(stderr, "in use") {
		t.Errorf("a second server: exit code %d, %s", code, stderr)
	}

	interrupt()
	select {
	case code := <-ended:
		if code != done {
			t.Errorf("exit code %d", code)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("it did not end when interrupted")
	}
}

// The files of the README are files that work.
func TestReadmeExample(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	for kind, name := range map[string]string{"csv": "evidence.csv", "toml": "prices.toml"} {
		_, rest, _ := strings.Cut(string(text), "```"+kind+"\n")
		block, _, ok := strings.Cut(rest, "```")
		if !ok {
			t.Fatalf("no %s in the README", kind)
		}
		put(t, name, block)
	}
	for _, args := range []string{"gains evidence.csv", "profit evidence.csv prices.toml",
		"report -o report.html evidence.csv prices.toml"} {
		if code, _, stderr := call(strings.Fields(args)...); code != done {
			t.Errorf("spile %s: %s", args, stderr)
		}
	}
}

// The trial of the walk in the terminal does what it says, command by command.
func TestWalkedTrial(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	walk, err := os.ReadFile("../../docs/walk.md")
	if err != nil {
		t.Fatal(err)
	}
	_, part, _ := strings.Cut(string(walk), "### The same in the terminal\n")
	part, _, _ = strings.Cut(part, "\n### ")
	t.Chdir(t.TempDir())
	_, evidence, _ := strings.Cut(string(readme), "```csv\n")
	evidence, _, _ = strings.Cut(evidence, "```")
	put(t, "evidence.csv", evidence)
	for _, m := range regexp.MustCompile("`(\\w+\\.csv)`:\n\n```csv\n([^`]+)```").FindAllStringSubmatch(part, -1) {
		put(t, m[1], m[2])
	}
	t.Setenv("SOURCE_DATE_EPOCH", "1742947200")
	var gains, analyses []string
	for _, m := range regexp.MustCompile(`(?m)^spile (.+)$`).FindAllStringSubmatch(part, -1) {
		var args []string
		for _, a := range regexp.MustCompile(`"[^"]*"|\S+`).FindAllString(m[1], -1) {
			args = append(args, strings.Trim(a, `"`))
		}
		if strings.HasSuffix(m[1], "--replace") {
			if code, _, _ := call(args[:len(args)-1]...); code == done {
				t.Error("a reading was overwritten without --replace")
			}
		}
		code, stdout, stderr := call(args...)
		if code != done {
			t.Fatalf("spile %s: %s", m[1], stderr)
		}
		switch {
		case args[0] == "gains":
			gains = append(gains, stdout)
		case args[1] == "analyse":
			analyses = append(analyses, strings.Join(strings.Fields(stdout), " "))
		}
	}
	if len(gains) != 3 || gains[0] == gains[1] || gains[1] == gains[2] || strings.Contains(gains[0], "live") ||
		!strings.Contains(gains[1], "live") {
		t.Errorf("the pooled gain does not move: %v", gains)
	}
	pooled := func(said, pct string) bool {
		return regexp.MustCompile(`check-valve spout each(?: season)? +` + pct + ` \(`).MatchString(said)
	}
	if m := regexp.MustCompile(`falls from (\d+) to (\d+) %`).FindStringSubmatch(part); m == nil ||
		!pooled(gains[0], m[1]) || !pooled(gains[1], m[2]) {
		t.Errorf("the walk says %v of the pooled gain", m)
	}
	for i, m := range regexp.MustCompile(`(\d+) % (?:more sap )?(\(\d+ to \d+\))`).FindAllStringSubmatch(part, -1) {
		if i >= len(analyses) || !strings.Contains(analyses[i], m[1]+" "+m[2]) {
			t.Errorf("the walk says %s", m[0])
		}
	}
	if len(analyses) != 2 || !strings.Contains(analyses[1], "kept:") {
		t.Errorf("what was decided is not told: %v", analyses)
	}
}

func BenchmarkDemo(b *testing.B) {
	dir := b.TempDir()
	for b.Loop() {
		if code := run(b.Context(), []string{"demo", "--dir", dir}, new(advice.Memo), io.Discard,
			io.Discard); code != done {
			b.Fatal(fmt.Errorf("exit code %d", code))
		}
	}
}

// Whatever today's practice is said to be, nothing is said to pay best that nets less.
func TestNothingPaysBestForLess(t *testing.T) {
	long(t)
	scenario(t)
	against := []string{"new-drop/1", "new-drop/4", "new-lateral/2"}
	for _, k := range practice.Shipped().Keys() {
		against = append(against, string(k))
	}
	for _, k := range against {
		code, out, errs := call("profit", "evidence.csv", "prices.toml", "--against", k)
		if code == 0 && strings.Contains(out, "it nets −") || code == 2 {
			t.Errorf("--against %s: %d\n%.400s%s", k, code, out, errs)
		}
	}
}

// A fault of the call is exit 2, names its flag, what stood there and what is allowed.
func TestFaultsOfTheCallNameTheirFlag(t *testing.T) {
	scenario(t)
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{"profit", "evidence.csv", "prices.toml", "--place", "Narnia"},
			[]string{"--place", `"Narnia"`, "US-VT"}},
		{[]string{"gains", "evidence.csv", "--moderators", "vacum"}, []string{"--moderators", `"vacum"`, "vacuum"}},
		{[]string{"rotation", "evidence.csv", "--max", "x"},
			[]string{"--max", `"x" is not a number of seasons`, "1 to 50"}},
		{[]string{"gains", "evidence.csv", "--exclude", "No Such"}, []string{"--exclude", `"No Such"`, "allowed: "}},
	} {
		code, _, errs := call(c.args...)
		for _, want := range c.want {
			if code != faultyCall || !strings.Contains(errs, want) {
				t.Errorf("%v: exit %d, want %d and %q in %q", c.args, code, faultyCall, want, errs)
			}
		}
	}
	put(t, "file", "")
	if _, _, errs := call("report", "-o", "file/x.html", "evidence.csv", "prices.toml"); strings.Contains(errs,
		"nothing was computed") {
		t.Errorf("what could not be written was computed: %q", errs)
	}
}

// What the parser of the command line says of itself is in the reader's words as well: headings, placeholders,
// refusals.
func TestTheCommandLineIsFrench(t *testing.T) {
	for _, c := range []struct {
		args string
		want []string
		not  []string
	}{
		{"gains --help", []string{"Usage\u00a0: spile gains <fichier> ... [options]", "Arguments\u00a0:",
			"Options\u00a0:", "--exclude=ÉTUDE"}, []string{"Flags", "Usage: ", "NAME", "Show"}},
		{"--help", []string{"<commande>", "Commandes\u00a0:", "D’un tableau d’études"},
			[]string{"Commands:", "command>"}},
		{"gainz", []string{"gainz n’est pas connu ici", "vouliez-vous dire gains"}, []string{"unexpected"}},
		{"gains x --foo", []string{"il n’y a pas d’option --foo"}, []string{"unknown"}},
		{"gains", []string{"il manque <fichier>"}, []string{"expected"}},
		{"gains x --variance=zz", []string{"--variance zz", "pooled, reported"}, []string{"must"}},
		{"gains x --variance", []string{"--variance demande une valeur"}, []string{"expected"}},
		{"trial", []string{"il manque une commande", "design"}, []string{"expected"}},
		{"trial power --runs x", []string{"--runs x", "un nombre entier"}, []string{"expected"}},
		{"rotation x --max 3.5", []string{"n’est pas un nombre de saisons"}, []string{"allowed"}},
	} {
		var out, errs bytes.Buffer
		run(context.Background(), append([]string{"--lang=fr"}, strings.Fields(c.args)...), &memo, &out, &errs)
		text := out.String() + errs.String()
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%s: no %q in %s", c.args, want, text)
			}
		}
		for _, not := range c.not {
			if strings.Contains(text, not) {
				t.Errorf("%s: %q in %s", c.args, not, text)
			}
		}
	}
}
