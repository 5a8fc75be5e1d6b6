package textflow

import (
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"text/template/parse"
)

// Templates finds the texts that a function words in the templates below a folder: {{t "text"}}, where the function is
// called t. Files and folders whose names begin with a dot are passed over.
func Templates(dir, function string) (*Found, error) {
	found := &Found{At: map[string]string{}}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != dir && strings.HasPrefix(d.Name(), ".") {
			return filepath.SkipDir
		}
		if d.IsDir() || filepath.Ext(path) != ".html" {
			return nil
		}
		source, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		trees := map[string]*parse.Tree{}
		tree := parse.New(filepath.ToSlash(name))
		tree.Mode = parse.SkipFuncCheck
		if _, err := tree.Parse(string(source), "", "", trees); err != nil {
			return err
		}
		for _, name := range slices.Sorted(maps.Keys(trees)) {
			page{trees[name], function, found}.read(trees[name].Root)
		}
		return nil
	})
	return found, err
}

// page is a template that is read.
type page struct {
	*parse.Tree
	function string
	found    *Found
}

// read looks for calls in a node and all below it.
func (p page) read(n parse.Node) {
	if n == nil || reflect.ValueOf(n).IsNil() {
		return
	}
	branch := func(b *parse.BranchNode) {
		p.read(b.Pipe)
		p.read(b.List)
		p.read(b.ElseList)
	}
	switch n := n.(type) {
	case *parse.ListNode:
		for _, x := range n.Nodes {
			p.read(x)
		}
	case *parse.IfNode:
		branch(&n.BranchNode)
	case *parse.RangeNode:
		branch(&n.BranchNode)
	case *parse.WithNode:
		branch(&n.BranchNode)
	case *parse.ActionNode:
		p.read(n.Pipe)
	case *parse.TemplateNode:
		p.read(n.Pipe)
	case *parse.PipeNode:
		for _, c := range n.Cmds {
			p.read(c)
		}
	case *parse.CommandNode:
		for _, a := range n.Args {
			p.read(a)
		}
		p.call(n)
	}
}

// call notes the text of a call of the function.
func (p page) call(n *parse.CommandNode) {
	if word, ok := n.Args[0].(*parse.IdentifierNode); !ok || word.Ident != p.function {
		return
	}
	at, _ := p.ErrorContext(n)
	if len(n.Args) > 1 {
		if text, ok := n.Args[1].(*parse.StringNode); ok {
			if p.found.At[text.Text] == "" {
				p.found.At[text.Text] = at
			}
			return
		}
	}
	p.found.Opaque = append(p.found.Opaque, at+": "+n.String())
}
