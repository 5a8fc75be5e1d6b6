package say

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"sync"
	"text/template/parse"

	"golang.org/x/tools/go/packages"
)

// found is every text of the house that reaches this package: its id and where it stands, an id for a message (with
// verbs) and for a term (without) alike.
type found struct {
	at     map[string]string // id to where it stands first
	term   map[string]bool   // the id reaches Term
	text   map[string]bool   // the id reaches Text
	opaque []string          // texts that are put together or come from elsewhere, so that no catalogue can hold them
}

// ids looks once for all tests.
var ids = sync.OnceValues(look)

// look follows texts through the source, backwards from Text and Term: the values of a variable, a field, a parameter or
// a result that ends there, until nothing new is found. A field of a container is not told from another's, and what is
// assigned anywhere counts everywhere: it finds too much rather than too little.
func look() (*found, error) {
	loaded, err := packages.Load(&packages.Config{
		Mode: packages.NeedName | packages.NeedFiles | packages.NeedImports | packages.NeedSyntax | packages.NeedTypes | packages.NeedTypesInfo | packages.NeedExportFile,
		Dir:  "../../..",
	}, "./...")
	if err != nil {
		return nil, err
	}
	f := &flow{
		found: &found{at: map[string]string{}, term: map[string]bool{}, text: map[string]bool{}},
		sinks: map[sink]bool{}, why: map[sink]string{}, constants: map[types.Type][]*types.Const{}, opaque: map[string]bool{},
	}
	for _, p := range loaded {
		if len(p.Errors) > 0 {
			return nil, p.Errors[0]
		}
		for _, name := range p.Types.Scope().Names() {
			if c, ok := p.Types.Scope().Lookup(name).(*types.Const); ok && c.Val().Kind() == constant.String {
				if named, ok := c.Type().(*types.Named); ok {
					f.constants[named] = append(f.constants[named], c)
				}
			}
		}
		if p.PkgPath == "spile/internal/view/say" {
			voice := p.Types.Scope().Lookup("Voice").Type()
			for _, name := range []string{"Text", "Term"} {
				m, _, _ := types.LookupFieldOrMethod(types.NewPointer(voice), true, p.Types, name)
				f.sinks[sink{m, 0, name == "Term"}] = true
			}
		}
	}
	for grown := -1; grown < len(f.sinks)+len(f.found.at); {
		grown = len(f.sinks) + len(f.found.at)
		for _, p := range loaded {
			f.pkg = p
			for _, file := range p.Syntax {
				f.file(file)
			}
		}
	}
	for _, p := range loaded {
		if p.PkgPath == "spile/cmd/spile" {
			f.pkg = p
			f.help()
		}
	}
	if err := f.demo(); err != nil {
		return nil, err
	}
	err = f.templates()
	f.found.opaque = slices.Sorted(maps.Keys(f.opaque))
	return f.found, err
}

// sink is something whose text is an id: a variable or a field at index -1; of a function, or of a variable that holds
// one, a parameter at its index and a result at result(index).
type sink struct {
	of    types.Object
	index int
	term  bool
}

const itself = -1

func result(i int) int { return -2 - i }

type flow struct {
	found     *found
	pkg       *packages.Package
	sinks     map[sink]bool
	constants map[types.Type][]*types.Const
	opaque    map[string]bool
	why       map[sink]string // which sink each is of, back to Text or Term
	cause     string
}

func (f *flow) where(p token.Pos) string {
	at := f.pkg.Fset.Position(p)
	dir, name := filepath.Split(at.Filename)
	return fmt.Sprintf("%s/%s:%d", filepath.Base(dir), name, at.Line)
}

func (f *flow) add(id string, p token.Pos, term bool) {
	if id == "" {
		return
	}
	if f.found.at[id] == "" {
		f.found.at[id] = f.where(p)
	}
	if term {
		f.found.term[id] = true
	} else {
		f.found.text[id] = true
	}
}

// object is what an expression names: a variable, a field, a function.
func (f *flow) object(e ast.Expr) types.Object {
	switch e := ast.Unparen(e).(type) {
	case *ast.Ident:
		return origin(f.pkg.TypesInfo.ObjectOf(e))
	case *ast.SelectorExpr:
		return origin(f.pkg.TypesInfo.ObjectOf(e.Sel))
	case *ast.IndexExpr:
		return f.object(e.X)
	case *ast.IndexListExpr:
		return f.object(e.X)
	case *ast.SliceExpr:
		return f.object(e.X)
	case *ast.StarExpr:
		return f.object(e.X)
	}
	return nil
}

func origin(o types.Object) types.Object {
	switch o := o.(type) {
	case *types.Var:
		return o.Origin()
	case *types.Func:
		return o.Origin()
	}
	return o
}

// reach follows an expression whose value is an id.
func (f *flow) reach(e ast.Expr, term bool) {
	e = ast.Unparen(e)
	t := f.pkg.TypesInfo.Types[e]
	if t.Value != nil && t.Value.Kind() == constant.String {
		f.add(constant.StringVal(t.Value), e.Pos(), term)
		return
	}
	if all := f.constants[t.Type]; len(all) > 0 { // a value of a named type is one of its constants, or the user's own
		for _, c := range all {
			f.add(constant.StringVal(c.Val()), c.Pos(), term)
		}
		return
	}
	if !texts(t.Type) {
		return
	}
	switch x := e.(type) {
	case *ast.CompositeLit:
		for _, el := range x.Elts {
			if kv, ok := el.(*ast.KeyValueExpr); ok {
				el = kv.Value
			}
			f.reachText(el, term)
		}
	case *ast.CallExpr:
		f.reachCall(x, 0, term)
	case *ast.BinaryExpr, *ast.FuncLit:
		f.unknown(e, term)
	case *ast.TypeAssertExpr:
		f.reach(x.X, term)
	case *ast.UnaryExpr:
		f.reach(x.X, term)
	default:
		o, ok := f.object(e).(*types.Var)
		if ok && o.IsField() {
			name := o.Pkg().Name() + "." + o.Name()
			ok = !(term && typed[name]) && !keys[name]
		}
		if ok {
			f.mark(sink{o, itself, term}, e)
		}
	}
}

// typed are fields whose text a user typed or chose, so that it is no word of the house.
var typed = map[string]bool{"web.Value": true, "sheet.text": true}

// keys are fields that hold the name of a column or of a key of files, which is the same in every language.
var keys = map[string]bool{"column.Name": true, "column.Instead": true}

// mark makes a sink of what an expression names.
func (f *flow) mark(s sink, e ast.Expr) {
	if !f.sinks[s] {
		f.sinks[s] = true
		f.why[s] = f.where(e.Pos()) + " " + types.ExprString(e) + " <- " + f.cause
	}
}

// texts is true of what can hold texts: a string, and lists and maps of them.
func texts(t types.Type) bool { return textsIn(t, 4) }

func textsIn(t types.Type, depth int) bool {
	if t == nil || depth == 0 {
		return false
	}
	switch u := t.Underlying().(type) {
	case *types.Basic:
		return u.Info()&types.IsString != 0
	case *types.Slice:
		return textsIn(u.Elem(), depth-1)
	case *types.Array:
		return textsIn(u.Elem(), depth-1)
	case *types.Map:
		return textsIn(u.Elem(), depth-1) || textsIn(u.Key(), depth-1)
	case *types.Tuple:
		for i := range u.Len() {
			if textsIn(u.At(i).Type(), depth-1) {
				return true
			}
		}
	case *types.Pointer:
		return textsIn(u.Elem(), depth-1)
	case *types.Signature:
		return u.Results().Len() == 1
	case *types.Interface:
		return u.NumMethods() == 0
	}
	return false
}

// reachText follows an element of a container where it can be a text.
func (f *flow) reachText(e ast.Expr, term bool) {
	if texts(f.pkg.TypesInfo.TypeOf(e)) {
		f.reach(e, term)
	}
}

func (f *flow) reachCall(call *ast.CallExpr, i int, term bool) {
	if f.pkg.TypesInfo.Types[call.Fun].IsType() { // a conversion
		f.reach(call.Args[0], term)
		return
	}
	o := f.object(call.Fun)
	switch o := o.(type) {
	case *types.Builtin:
		for _, a := range call.Args {
			f.reach(a, term)
		}
	case *types.Func:
		switch {
		case o.Pkg() != nil && strings.HasPrefix(o.Pkg().Path(), "spile/"):
			f.mark(sink{o, result(i), term}, call)
		case o.FullName() == "cmp.Or" || strings.HasPrefix(o.FullName(), "slices.") || strings.HasPrefix(o.FullName(), "maps."):
			for _, a := range call.Args {
				f.reachText(a, term)
			}
		default:
			f.unknown(call, term)
		}
	case *types.Var:
		f.mark(sink{o, result(i), term}, call)
	default:
		f.unknown(call, term)
	}
}

// unknown is a message that no catalogue can hold. A term may be a word of the user's own.
func (f *flow) unknown(e ast.Expr, term bool) {
	if !term {
		f.opaque[fmt.Sprintf("%s: %s", f.where(e.Pos()), types.ExprString(e))+" <- "+f.cause] = true
	}
}

// assign follows what a variable, a field or a parameter is given.
func (f *flow) assign(to types.Object, e ast.Expr) {
	if to == nil || e == nil {
		return
	}
	for _, term := range []bool{false, true} {
		if f.sinks[sink{to, itself, term}] {
			f.cause = f.why[sink{to, itself, term}]
			f.reach(e, term)
		}
	}
	signature, ok := to.Type().Underlying().(*types.Signature)
	if !ok {
		return
	}
	for _, term := range []bool{false, true} {
		for i := range signature.Params().Len() {
			var ends bool
			if lit, ok := ast.Unparen(e).(*ast.FuncLit); ok {
				s := f.pkg.TypesInfo.TypeOf(lit).(*types.Signature)
				ends = f.sinks[sink{s.Params().At(i), itself, term}]
			} else if o := f.object(e); o != nil {
				ends = f.sinks[sink{o, i, term}]
			}
			if ends {
				f.sinks[sink{to, i, term}] = true
			}
		}
		for i := range signature.Results().Len() {
			if !f.sinks[sink{to, result(i), term}] {
				continue
			}
			if lit, ok := ast.Unparen(e).(*ast.FuncLit); ok {
				f.results(lit.Body, i, term)
			} else if o := f.object(e); o != nil {
				f.mark(sink{o, result(i), term}, e)
			}
		}
	}
}

// assignOne follows what the i-th of n variables is given.
func (f *flow) assignOne(to types.Object, i, n int, values []ast.Expr) {
	if call, ok := onlyCall(values); ok && n > 1 {
		for _, term := range []bool{false, true} {
			if f.sinks[sink{to, itself, term}] {
				f.cause = f.why[sink{to, itself, term}]
				f.reachCall(call, i, term)
			}
		}
	} else if len(values) == n {
		f.assign(to, values[i])
	} else if len(values) > 0 && i == 0 { // x, ok := m[k]
		f.assign(to, values[0])
	}
}

// results follows what a function returns.
func (f *flow) results(body *ast.BlockStmt, i int, term bool) {
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncLit:
			return false
		case *ast.ReturnStmt:
			if call, ok := onlyCall(n.Results); ok && i > 0 {
				f.reachCall(call, i, term)
			} else if i < len(n.Results) {
				f.reachText(n.Results[i], term)
			}
		}
		return true
	})
}

// onlyCall is the call of many results where it stands alone.
func onlyCall(list []ast.Expr) (*ast.CallExpr, bool) {
	if len(list) != 1 {
		return nil, false
	}
	call, ok := ast.Unparen(list[0]).(*ast.CallExpr)
	return call, ok
}

func (f *flow) file(file *ast.File) {
	info := f.pkg.TypesInfo
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			o, ok := info.Defs[n.Name].(*types.Func)
			if !ok || n.Body == nil {
				return true
			}
			params := o.Signature().Params()
			for _, term := range []bool{false, true} {
				for i := range params.Len() {
					if f.sinks[sink{params.At(i), itself, term}] {
						f.sinks[sink{o, i, term}] = true
					}
				}
				for i := range o.Signature().Results().Len() {
					if !f.sinks[sink{o, result(i), term}] {
						continue
					}
					f.cause = f.why[sink{o, result(i), term}]
					f.results(n.Body, i, term)
					if r := o.Signature().Results().At(i); r.Name() != "" {
						f.mark(sink{r, itself, term}, n.Name)
					}
				}
			}
		case *ast.AssignStmt:
			for i, l := range n.Lhs {
				if x, ok := l.(*ast.IndexExpr); ok {
					f.keyed(x)
				}
				f.assignOne(f.object(l), i, len(n.Lhs), n.Rhs)
			}
		case *ast.ValueSpec:
			for i, l := range n.Names {
				f.assignOne(info.Defs[l], i, len(n.Names), n.Values)
			}
		case *ast.RangeStmt:
			f.ranged(n)
		case *ast.CompositeLit:
			f.composite(n)
		case *ast.CallExpr:
			f.call(n)
		}
		return true
	})
}

// keyed follows the key of a map whose keys are what is said.
func (f *flow) keyed(x *ast.IndexExpr) {
	m, ok := f.pkg.TypesInfo.TypeOf(x.X).Underlying().(*types.Map)
	if !ok || texts(m.Elem()) {
		return
	}
	for _, term := range []bool{false, true} {
		if f.sinks[sink{f.object(x), itself, term}] {
			f.reachText(x.Index, term)
		}
	}
}

func (f *flow) ranged(n *ast.RangeStmt) {
	for _, term := range []bool{false, true} {
		f.cause = f.why[sink{f.object(n.Value), itself, term}]
		if n.Value != nil && f.sinks[sink{f.object(n.Value), itself, term}] {
			f.reach(n.X, term)
		}
		if n.Key == nil || !f.sinks[sink{f.object(n.Key), itself, term}] {
			continue
		}
		// the keys of a map stand where it is written
		x := ast.Unparen(n.X)
		if lit, ok := x.(*ast.CompositeLit); ok {
			for _, el := range lit.Elts {
				if kv, ok := el.(*ast.KeyValueExpr); ok {
					f.reach(kv.Key, term)
				}
			}
		} else {
			f.reach(x, term)
		}
	}
}

func (f *flow) composite(n *ast.CompositeLit) {
	t := f.pkg.TypesInfo.TypeOf(n)
	if p, ok := t.Underlying().(*types.Pointer); ok {
		t = p.Elem()
	}
	s, ok := t.Underlying().(*types.Struct)
	if !ok {
		return
	}
	for i, el := range n.Elts {
		if kv, ok := el.(*ast.KeyValueExpr); ok {
			f.assign(f.object(kv.Key), kv.Value)
		} else {
			f.assign(s.Field(i).Origin(), el)
		}
	}
}

func (f *flow) call(n *ast.CallExpr) {
	t := f.pkg.TypesInfo.Types[n.Fun]
	if t.IsType() {
		if named, ok := t.Type.(*types.Named); ok && named.Obj().Name() == "Term" && named.Obj().Pkg().Path() == "spile/internal/note" {
			f.reach(n.Args[0], true) // whoever is told it, words it
		}
		return
	}
	signature, ok := t.Type.Underlying().(*types.Signature)
	if !ok {
		return // a builtin
	}
	o := f.object(n.Fun)
	if o == nil {
		return
	}
	for i, a := range n.Args {
		p := min(i, signature.Params().Len()-1)
		if p < 0 {
			break
		}
		for _, term := range []bool{false, true} {
			if f.sinks[sink{o, p, term}] {
				f.cause = fmt.Sprint("param of ", o.Name())
				f.reach(a, term)
			}
		}
		if fn, ok := o.(*types.Func); ok && fn.Pkg() != nil && strings.HasPrefix(fn.Pkg().Path(), "spile/") {
			if to := fn.Signature().Params().At(p); f.pkg.TypesInfo.TypeOf(a) != nil {
				if _, ok := to.Type().Underlying().(*types.Signature); ok {
					f.assign(to, a)
				}
			}
		}
	}
}

var capitals = regexp.MustCompile(`\b[A-Z]{2,}\b`)

// help is the help of the commands: the tags of their structs, and what their methods Help say.
func (f *flow) help() {
	for _, file := range f.pkg.Syntax {
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.Field:
				if n.Tag == nil {
					return true
				}
				tag := reflect.StructTag(strings.Trim(n.Tag.Value, "`"))
				f.add(tag.Get("help"), n.Pos(), true)
				for _, word := range capitals.FindAllString(tag.Get("placeholder"), -1) {
					f.add(word, n.Pos(), true)
				}
				if _, positional := tag.Lookup("arg"); positional {
					f.add(cmp.Or(tag.Get("name"), strings.ToLower(n.Names[0].Name)), n.Pos(), true)
				}
			case *ast.FuncDecl:
				if n.Name.Name == "Help" && n.Recv != nil {
					f.results(n.Body, 0, true)
				}
			}
			return true
		})
	}
}

var bought = regexp.MustCompile(`(?m)^\[(?:material|chemical|sells\.bulk)\.([^\].]+)\]`)

// demo is what the demo's price files call the materials and chemicals that they price.
func (f *flow) demo() error {
	names, err := filepath.Glob("../../demo/*.toml")
	if err != nil {
		return err
	}
	for _, name := range names {
		source, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		for _, m := range bought.FindAllSubmatch(source, -1) {
			id := strings.Trim(string(m[1]), `"`)
			f.found.term[id] = true
			if f.found.at[id] == "" {
				f.found.at[id] = strings.TrimPrefix(name, "../../../")
			}
		}
	}
	return nil
}

// templates are the texts {{t "…"}} of every template.
func (f *flow) templates() error {
	return filepath.WalkDir("../../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() != ".." && strings.HasPrefix(d.Name(), ".") {
			return filepath.SkipDir
		}
		if d.IsDir() || filepath.Ext(path) != ".html" {
			return nil
		}
		source, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		tree := parse.New(path)
		tree.Mode = parse.SkipFuncCheck
		set := map[string]*parse.Tree{}
		if _, err := tree.Parse(string(source), "", "", set); err != nil {
			return err
		}
		for _, name := range slices.Sorted(maps.Keys(set)) {
			f.template(set[name], set[name].Root)
		}
		return nil
	})
}

func (f *flow) template(tree *parse.Tree, n parse.Node) {
	if n == nil || reflect.ValueOf(n).IsNil() {
		return
	}
	branch := func(b *parse.BranchNode) {
		f.template(tree, b.Pipe)
		f.template(tree, b.List)
		f.template(tree, b.ElseList)
	}
	switch n := n.(type) {
	case *parse.ListNode:
		for _, x := range n.Nodes {
			f.template(tree, x)
		}
	case *parse.IfNode:
		branch(&n.BranchNode)
	case *parse.RangeNode:
		branch(&n.BranchNode)
	case *parse.WithNode:
		branch(&n.BranchNode)
	case *parse.ActionNode:
		f.template(tree, n.Pipe)
	case *parse.TemplateNode:
		f.template(tree, n.Pipe)
	case *parse.PipeNode:
		for _, c := range n.Cmds {
			f.template(tree, c)
		}
	case *parse.CommandNode:
		for _, a := range n.Args {
			f.template(tree, a)
		}
		word, ok := n.Args[0].(*parse.IdentifierNode)
		if !ok || word.Ident != "t" {
			return
		}
		where, _ := tree.ErrorContext(n)
		if len(n.Args) > 1 {
			if text, ok := n.Args[1].(*parse.StringNode); ok {
				if f.found.at[text.Text] == "" {
					f.found.at[text.Text] = strings.TrimPrefix(where, "../../../")
				}
				f.found.text[text.Text] = true
				return
			}
		}
		f.opaque[where+": "+n.String()] = true
	}
}
