package say

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"spile/internal/textflow"
)

const top = "../../.." // of the module

// texts are those of the house that a person may read: what reaches Text and Term, in the source and in templates, the
// help of the command line, and what the demo calls the materials and chemicals that it prices.
var texts = sync.OnceValues(func() (*textflow.Found, error) {
	found, err := textflow.Find(textflow.Config{
		Dir: top, Module: "spile/",
		Ends: []textflow.End{
			{Package: "spile/internal/view/say", Type: "Voice", Method: "Text"},
			{Package: "spile/internal/view/say", Type: "Voice", Method: "Term", Loose: true},
			{Package: "spile/internal/note", Type: "Term", Loose: true},
		},
		Typed:  []string{"page.Value", "sheet.text"},
		Keys:   []string{"column.Name", "column.Instead"},
		Beside: map[string]string{"spile/internal/view/show": madeUp},
	})
	if err != nil {
		return nil, err
	}
	templates, err := textflow.Templates(top, "t")
	if err != nil {
		return nil, err
	}
	help, err := helpTexts()
	if err != nil {
		return nil, err
	}
	priced, err := pricedNames()
	if err != nil {
		return nil, err
	}
	for _, more := range []map[string]string{templates.At, help, priced} {
		maps.Copy(found.At, more)
	}
	found.Opaque = append(found.Opaque, templates.Opaque...)
	return found, nil
})

// madeUp is what a stranger adds in one place: a figure and a table.
const madeUp = `package show

func init() {
	Figures = append(Figures, Exhibit[Drawing]{Key: "made-up", Help: "a figure that a stranger made up"})
	Tables = append(Tables, Exhibit[Table]{Key: "made-up", Help: "a table that a stranger made up"})
}
`

var capitals = regexp.MustCompile(`\b[A-Z]{2,}\b`)

// helpTexts are the help of the commands: the tags of their structs, and what their methods Help return.
func helpTexts() (map[string]string, error) {
	at := map[string]string{}
	paths, err := filepath.Glob(top + "/cmd/spile/*.go")
	if err != nil {
		return nil, err
	}
	files := token.NewFileSet()
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(files, path, nil, 0)
		if err != nil {
			return nil, err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			for _, text := range helpOf(n) {
				if text != "" {
					at[text] = fmt.Sprintf("spile/%s:%d", filepath.Base(path), files.Position(n.Pos()).Line)
				}
			}
			return true
		})
	}
	return at, nil
}

// helpOf are the texts of a field's tag, or of a method that teaches a command.
func helpOf(n ast.Node) []string {
	switch n := n.(type) {
	case *ast.Field:
		if n.Tag == nil {
			return nil
		}
		tag := reflect.StructTag(strings.Trim(n.Tag.Value, "`"))
		list := append(capitals.FindAllString(tag.Get("placeholder"), -1), tag.Get("help"))
		if _, positional := tag.Lookup("arg"); positional {
			list = append(list, cmp.Or(tag.Get("name"), strings.ToLower(n.Names[0].Name)))
		}
		return list
	case *ast.FuncDecl:
		if n.Name.Name != "Help" || n.Recv == nil {
			return nil
		}
		for _, s := range n.Body.List {
			if r, ok := s.(*ast.ReturnStmt); ok {
				if text, ok := r.Results[0].(*ast.BasicLit); ok {
					said, _ := strconv.Unquote(text.Value)
					return []string{said}
				}
			}
		}
	}
	return nil
}

var bought = regexp.MustCompile(`(?m)^\[(?:material|chemical|sells\.bulk)\.([^\].]+)\]`)

// pricedNames are what the demo's price files call what they price.
func pricedNames() (map[string]string, error) {
	at := map[string]string{}
	names, err := filepath.Glob(top + "/internal/demo/*.toml")
	if err != nil || len(names) == 0 {
		return nil, cmp.Or(err, os.ErrNotExist)
	}
	for _, name := range slices.Sorted(slices.Values(names)) {
		source, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		for _, m := range bought.FindAllSubmatch(source, -1) {
			at[strings.Trim(string(m[1]), `"`)] = "demo/" + filepath.Base(name)
		}
	}
	return at, nil
}
