package textflow

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// said is a package of the module that the cases are of: what words texts.
const said = `package said
type Voice struct{}
func (*Voice) Text(s string, args ...any) string { return s }
func (*Voice) Term(s Term) string { return string(s) }
type Term string
`

// Each way of a text to its end, in a package of its own; v is a voice. What is found is marked "found …", what must
// not be "other …".
var ways = []struct {
	name, source string
	opaque       int // texts that cannot be followed
}{
	{"an argument", `func f() { v.Text("found") }`, 0},
	{"a constant", `const c = "found"; func f() { v.Text(c) }`, 0},
	{"a variable, whatever it is given", `func f(yes bool) { x := "found 1"; if yes { x = "found 2" }; v.Text(x) }`, 0},
	{"a variable of the package", `var x, y = "found", "other"; func f() { v.Text(x) }`, 0},
	{"a field by name", `type t struct{ a, b string }; var x = t{a: "found", b: "other"}
		func f() { v.Text(x.a) }`, 0},
	{"a field by place", `type t struct{ a, b string }; var x = []t{{"other", "found"}}
		func f() { v.Text(x[0].b) }`, 0},
	{"a field of a generic type", `type t[T any] struct{ a string; b T }
		var x = t[int]{a: "found"}; func f() { v.Text(x.a) }`, 0},
	{"a field assigned", `type t struct{ a string }; func f(x *t) { x.a = "found"; v.Text(x.a) }`, 0},
	{"a parameter", `func g(a, b string) { v.Text(b) }; func f() { g("other", "found") }`, 0},
	{"two calls deep", `func h(a string) { v.Text(a) }; func g(a string) { h(a) }; func f() { g("found") }`, 0},
	{"many parameters", `func g(a ...string) { for _, x := range a { v.Text(x) } }
		func f() { g("found 1", "found 2") }`, 0},
	{"a result", `func g() string { return "found" }; func f() { v.Text(g()) }`, 0},
	{"the second result", `func g() (string, string) { return "other", "found" }
		func f() { _, x := g(); v.Text(x) }`, 0},
	{"a result handed on", `func h() (string, string) { return "other", "found" }; func g() (a, b string) { return h() }
		func f() { _, x := g(); v.Text(x) }`, 0},
	{"a named result", `func g() (x string) { x = "found"; return }; func f() { v.Text(g()) }`, 0},
	{"a method", `type t int; func (t) name() string { return "found" }; func f(x t) { v.Text(x.name()) }`, 0},
	{"elements", `func f() { for _, x := range []string{"found 1", "found 2"} { v.Text(x) } }`, 0},
	{"an element added", `func f() { var x []string; x = append(x, "found"); v.Text(x[0]) }`, 0},
	{"values of a map", `var m = map[string]string{"other": "found"}; func f() { v.Text(m["other"]) }`, 0},
	{"a value of a map, where it has it", `var m = map[int]string{1: "found"}
		func f() { if x, ok := m[1]; ok { v.Text(x) } }`, 0},
	{"keys of a map", `func f() { for k := range map[string]bool{"found": true} { v.Text(k) } }`, 0},
	{"keys assigned", `func f() { m := map[string]int{}; m["found"] = 1; for k := range m { v.Text(k) } }`, 0},
	{"a function in a variable", `func f() { say := func(s string) { v.Text(s) }; say("found") }`, 0},
	{"a function in a field", `type t struct{ name func() string }; var x = t{func() string { return "found" }}
		func f() { v.Text(x.name()) }`, 0},
	{"a function by its name", `func g() string { return "found" }; var h = g; func f() { v.Text(h()) }`, 0},
	{"a function as an argument", `func g(say func(string)) { say("found") }
		func f() { g(func(s string) { v.Text(s) }) }`, 0},
	{"a conversion", `type t string; func f() { x := t("found"); v.Text(string(x)) }`, 0},
	{"the constants of a type", `type t string; const ( a t = "found 1"; b t = "found 2" )
		func f(x t) { v.Text(string(x)) }`, 0},
	{"what the library passes on", `import "cmp"; func f(x string) { v.Text(cmp.Or("found 1", "found 2")) }`, 0},
	{"a term", `func f() { v.Term("found") }`, 0},
	{"what becomes a term", `var x any = said.Term("found")`, 0},

	{"nothing", `var x = "other"; func f() bool { return x == "other" }`, 0},
	{"a text put together", `func f(x string) { v.Text("other" + x) }`, 1},
	{"a text of the library", `import "fmt"; func f() { v.Text(fmt.Sprint("other")) }`, 1},
	{"what was worded already", `func f(x string) { y := v.Text("found"); v.Text("found %s", y); v.Text(y) }`, 0},
	{"a term put together may be the user's", `func f(x string) { v.Term(said.Term("other" + x)) }`, 0},
	{"a term typed in", `type form struct{ Typed string }
		func f(x form) { x.Typed = "other"; v.Term(said.Term(x.Typed)) }`, 0},
	{"a key is the same in every language", `type t struct{ Key string }; func f() { v.Text(t{"other"}.Key) }`, 0},
}

var quoted = regexp.MustCompile(`"(found|other)[^"]*"`)

func TestWays(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("go.mod", "module house\n\ngo 1.26\n")
	write("said/said.go", said)
	var want []string
	for i, w := range ways {
		name := fmt.Sprintf("way%d", i)
		source := quoted.ReplaceAllStringFunc(w.source, func(q string) string { // each way has texts of its own
			text := name + " " + strings.Trim(q, `"`)
			if strings.HasPrefix(q, `"found`) {
				want = append(want, text)
			}
			return strconv.Quote(text)
		})
		imports := ""
		if path, rest, ok := strings.Cut(source, "; "); ok && strings.HasPrefix(path, "import ") {
			source, imports = rest, path
		}
		write(name+"/way.go", fmt.Sprintf("package %s\nimport \"house/said\"\n%s\nvar v = new(said.Voice)\n%s\n",
			name, imports, source))
	}
	found, err := Find(Config{
		Dir: dir, Module: "house/", Typed: []string{fmt.Sprintf("way%d.Typed", len(ways)-2)},
		Keys: []string{fmt.Sprintf("way%d.Key", len(ways)-1)},
		Ends: []End{
			{Package: "house/said", Type: "Voice", Method: "Text"},
			{Package: "house/said", Type: "Voice", Method: "Term", Loose: true},
			{Package: "house/said", Type: "Term", Loose: true},
		},
		Beside: map[string]string{"house/way0": `package way0; func init() { v.Text("beside") }`},
	})
	if err != nil {
		t.Fatal(err)
	}
	want = append(want, "beside")
	for _, text := range want {
		if found.At[text] == "" {
			t.Errorf("%q was not found", text)
		}
		delete(found.At, text)
	}
	for text, at := range found.At {
		t.Errorf("%s: %q ends nowhere, and was found", at, text)
	}
	for i, w := range ways {
		n := 0
		for _, o := range found.Opaque {
			if strings.HasPrefix(o, fmt.Sprintf("way%d/way.go:", i)) {
				n++
			}
		}
		if n != w.opaque {
			t.Errorf("%s: %d texts that cannot be followed, want %d: %q", w.name, n, w.opaque, found.Opaque)
		}
	}
}

// What stands where, and the way to an end, is told so that a person finds it.
func TestTemplates(t *testing.T) {
	dir := t.TempDir()
	page := `{{define "a"}}{{t "one" 2}}{{end}}
{{if .X}}{{with t "two"}}{{.}}{{end}}{{else}}{{range .Y}}{{template "a" (t "three")}}{{end}}{{end}}
{{u "no text"}}{{t .Name}}`
	if err := os.WriteFile(filepath.Join(dir, "page.html"), []byte(page), 0o644); err != nil {
		t.Fatal(err)
	}
	found, err := Templates(dir, "t")
	if err != nil {
		t.Fatal(err)
	}
	texts := slices.Sorted(maps.Keys(found.At))
	if !slices.Equal(texts, []string{"one", "three", "two"}) || !strings.HasPrefix(found.At["two"], "page.html:2:") {
		t.Errorf("found %v", found.At)
	}
	if len(found.Opaque) != 1 || !strings.HasPrefix(found.Opaque[0], "page.html:3:") {
		t.Errorf("what is no text: %q", found.Opaque)
	}
	if err := os.WriteFile(filepath.Join(dir, "bad.html"), []byte(`{{if}}`), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Templates(dir, "t"); err == nil {
		t.Error("a template that cannot be read is no error")
	}
}
