// Package textflow finds the texts of a Go program: the constants that reach given functions, whatever variables,
// fields, parameters, results and containers they pass on the way. A catalogue of translations is held against
// them.
//
// It goes backwards. It begins at a parameter of a function that words texts and looks at what every call gives
// there; where that is a variable, it looks at what every assignment gives the variable; and so on, until nothing
// new is found: a data-flow analysis that is flow-insensitive (an assignment counts wherever it stands) and
// field-based (a field of one value is not told from the same field of another, nor one element of a container from
// its neighbours). So it finds too much rather than too little.
//
//	places.go   which places a text can stand in, and what in the source gives a text to which
//	follow.go   from an expression that is a text to constants, or to further places
//	template.go the texts of templates of HTML
package textflow

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"maps"
	"path/filepath"
	"slices"

	"golang.org/x/tools/go/packages"
)

// Config says what to look at, and for what.
type Config struct {
	Dir    string // of the module
	Module string // the path of its packages begins with it: "spile/"
	Ends   []End
	// Typed are fields, as "package.Field", that hold what a user typed or chose: no text of the program, where it
	// ends loosely. Keys are fields that hold names which are the same in every language: never a text.
	Typed, Keys []string

	Beside map[string]string // source without imports that is looked at as if it stood in a package too, by its path
}

// End is where texts end: the first parameter of a method, or a conversion to a type where Method is "". What
// functions of the method's package give back has been worded already, and is followed no further.
type End struct {
	Package, Type, Method string
	Loose                 bool // what ends there may as well be a word of the user's own
}

// Found is what was found.
type Found struct {
	At     map[string]string // each text, with where it stands: "web/page.go:12"
	Opaque []string          // texts that are put together or come from elsewhere, each with the way to its end
}

// Find follows texts backwards through all packages of a module.
func Find(c Config) (*Found, error) {
	loaded, err := packages.Load(&packages.Config{
		Mode: packages.NeedName | packages.NeedFiles | packages.NeedImports | packages.NeedSyntax | packages.NeedTypes |
			packages.NeedTypesInfo | packages.NeedExportFile,
		Dir: c.Dir,
	}, "./...")
	if err != nil {
		return nil, err
	}
	f := &finder{Config: c, at: map[string]token.Position{}, opaque: map[string]bool{}, into: map[place][]source{},
		from: map[reached]step{}, constants: map[types.Type][]*types.Const{}}
	for _, p := range loaded {
		if len(p.Errors) > 0 {
			return nil, p.Errors[0]
		}
		if err := beside(p, c.Beside[p.PkgPath]); err != nil {
			return nil, err
		}
		f.fset = p.Fset
		f.named(p.Types)
		f.begin(p.Types)
	}
	for _, p := range loaded {
		scope{f, p.TypesInfo}.read(p.Syntax)
	}
	for len(f.todo) > 0 {
		next := f.todo[len(f.todo)-1]
		f.todo = f.todo[:len(f.todo)-1]
		for _, follow := range f.into[next.place] {
			follow(next)
		}
	}
	found := &Found{At: map[string]string{}, Opaque: slices.Sorted(maps.Keys(f.opaque))}
	for text, at := range f.at {
		found.At[text] = where(at)
	}
	return found, nil
}

// beside adds source to a package.
func beside(p *packages.Package, source string) error {
	if source == "" {
		return nil
	}
	file, err := parser.ParseFile(p.Fset, "beside.go", source, 0)
	if err != nil {
		return err
	}
	p.Syntax = append(p.Syntax, file)
	return types.NewChecker(new(types.Config), p.Fset, p.Types, p.TypesInfo).Files([]*ast.File{file})
}

// finder is a search under way.
type finder struct {
	Config
	fset      *token.FileSet
	constants map[types.Type][]*types.Const // of each named type of text
	into      map[place][]source            // what gives a text to a place
	from      map[reached]step              // how each place was reached
	todo      []reached                     // whose sources were not followed yet
	at        map[string]token.Position
	opaque    map[string]bool
}

// reached is a place whose text ends, loosely or not.
type reached struct {
	place
	loose bool
}

// step is how a place was reached: by an expression, from a place nearer to the end.
type step struct {
	expr string
	next reached
}

// source follows what gives a text to a place that was reached.
type source func(to reached)

// named notes the constants of named types of a package: a value of such a type is one of them.
func (f *finder) named(p *types.Package) {
	for _, name := range p.Scope().Names() {
		if c, ok := p.Scope().Lookup(name).(*types.Const); ok && isText(c.Type()) {
			if t, ok := c.Type().(*types.Named); ok {
				f.constants[t] = append(f.constants[t], c)
			}
		}
	}
}

// begin reaches the ends that a package holds.
func (f *finder) begin(p *types.Package) {
	for _, e := range f.Ends {
		if e.Package != p.Path() || e.Method == "" {
			continue
		}
		t := p.Scope().Lookup(e.Type).Type()
		method, _, _ := types.LookupFieldOrMethod(types.NewPointer(t), true, p, e.Method)
		f.reach(reached{place{method, 0}, e.Loose}, step{expr: e.Type + "." + e.Method})
	}
}

// reach notes that the text of a place ends.
func (f *finder) reach(r reached, how step) {
	if _, known := f.from[r]; !known && r.of != nil {
		f.from[r] = how
		f.todo = append(f.todo, r)
	}
}

// add notes a text; where several stand, the first by its place.
func (f *finder) add(text string, pos token.Pos) {
	at := f.fset.Position(pos)
	if old, known := f.at[text]; text != "" && (!known || where(at) < where(old)) {
		f.at[text] = at
	}
}

// unknown notes what cannot be followed. What ends loosely may be a word of the user's own.
func (f *finder) unknown(expr string, to reached) {
	if to.loose {
		return
	}
	for way := 0; way < 10 && to.of != nil; way++ { // far enough to be understood
		expr, to = expr+" <- "+f.from[to].expr, f.from[to].next
	}
	f.opaque[expr] = true
}

// where is a position as a person finds it: its folder, file and line.
func where(at token.Position) string {
	dir, name := filepath.Split(at.Filename)
	return fmt.Sprintf("%s/%s:%d", filepath.Base(dir), name, at.Line)
}
