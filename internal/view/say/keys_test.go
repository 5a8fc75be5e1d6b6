package say

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Every message of the house, wherever it stands in the source, takes as many arguments as it is given: vet's own check
// of format strings does not see through notes and voices.
func TestEveryMessageTakesItsArguments(t *testing.T) {
	seen := 0
	err := filepath.WalkDir("../../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() != ".." && strings.HasPrefix(d.Name(), ".") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		files := token.NewFileSet()
		file, err := parser.ParseFile(files, path, nil, 0)
		if err != nil {
			return nil // the compiler says so better
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 || call.Ellipsis.IsValid() {
				return true
			}
			f, ok := call.Fun.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			switch x, _ := f.X.(*ast.Ident); {
			case f.Sel.Name == "Text":
			case f.Sel.Name == "New" && x != nil && x.Name == "note":
			default:
				return true
			}
			key, ok := literal(call.Args[0])
			if !ok {
				return true
			}
			seen++
			if want, got := verbs(key), len(call.Args)-1; want != got {
				t.Errorf("%s: %d arguments for %d verbs: %q", files.Position(call.Pos()), got, want, key)
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 100 {
		t.Errorf("only %d messages were found", seen)
	}
}

// literal is a text that is written out, in one piece or several.
func literal(e ast.Expr) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		text, err := strconv.Unquote(e.Value)
		return text, err == nil && e.Kind == token.STRING
	case *ast.BinaryExpr:
		head, ok1 := literal(e.X)
		tail, ok2 := literal(e.Y)
		return head + tail, ok1 && ok2 && e.Op == token.ADD
	}
	return "", false
}

func verbs(key string) int { return strings.Count(strings.ReplaceAll(key, "%%", ""), "%") }
