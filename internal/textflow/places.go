package textflow

import (
	"go/ast"
	"go/types"
	"strings"
)

// place is what can hold a text: a variable or a field itself; of a function, or of a variable that holds one, a
// parameter by its number or a result by result(number).
type place struct {
	of    types.Object
	index int
}

const itself = -1

func result(i int) int { return -2 - i }

// scope is one package, with what its names stand for.
type scope struct {
	*finder
	info *types.Info
}

// gives notes what gives a text to a place.
func (r scope) gives(to place, follow source) {
	if to.of != nil {
		r.into[to] = append(r.into[to], follow)
	}
}

// joins notes that what is given to one place reaches the other.
func (r scope) joins(from, to place, expr string) {
	r.gives(to, func(end reached) { r.reach(reached{from, end.loose}, step{expr, end}) })
}

// read notes everything in some files that gives a text to a place.
func (r scope) read(files []*ast.File) {
	for _, file := range files {
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.FuncDecl:
				r.function(n)
			case *ast.AssignStmt:
				for i, to := range n.Lhs {
					if x, ok := to.(*ast.IndexExpr); ok {
						r.key(x)
					}
					r.assignment(r.object(to), i, len(n.Lhs), n.Rhs)
				}
			case *ast.ValueSpec:
				for i, to := range n.Names {
					r.assignment(r.info.Defs[to], i, len(n.Names), n.Values)
				}
			case *ast.RangeStmt:
				r.loop(n)
			case *ast.CompositeLit:
				r.literal(n)
			case *ast.CallExpr:
				r.call(n)
			}
			return true
		})
	}
}

// function joins the parameters of a function to the variables of its body, and its results to what it returns.
func (r scope) function(n *ast.FuncDecl) {
	f, ok := r.info.Defs[n.Name].(*types.Func)
	if !ok || n.Body == nil {
		return
	}
	for i := range f.Signature().Params().Len() {
		r.joins(place{f, i}, place{f.Signature().Params().At(i), itself}, n.Name.Name)
	}
	for i := range f.Signature().Results().Len() {
		r.returns(place{f, result(i)}, n.Body, i)
		if v := f.Signature().Results().At(i); v.Name() != "" {
			r.joins(place{v, itself}, place{f, result(i)}, v.Name())
		}
	}
}

// returns notes that what a body returns as its i-th value is given to a place.
func (r scope) returns(to place, body *ast.BlockStmt, i int) {
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncLit:
			return false
		case *ast.ReturnStmt:
			if call, ok := onlyCall(n.Results); ok && i > 0 {
				r.gives(to, func(end reached) { r.followCall(call, i, end) })
			} else if i < len(n.Results) {
				r.gives(to, func(end reached) { r.followText(n.Results[i], end) })
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

// assignment notes what the i-th of n variables is given.
func (r scope) assignment(to types.Object, i, n int, values []ast.Expr) {
	call, ok := onlyCall(values)
	switch {
	case to == nil:
	case ok && n > 1:
		r.gives(place{to, itself}, func(end reached) { r.followCall(call, i, end) })
	case len(values) == n:
		r.assign(to, values[i])
	case len(values) > 0 && i == 0: // x, ok := m[k]
		r.assign(to, values[0])
	}
}

// assign notes what a variable, a field or a parameter is given. A function that it is given has its parameters and
// results.
func (r scope) assign(to types.Object, e ast.Expr) {
	if to == nil {
		return
	}
	r.gives(place{to, itself}, func(end reached) { r.follow(e, end) })
	signature, ok := to.Type().Underlying().(*types.Signature)
	if !ok {
		return
	}
	literal, isLiteral := ast.Unparen(e).(*ast.FuncLit)
	from := r.object(e)
	for i := range signature.Params().Len() {
		if isLiteral {
			params := r.info.TypeOf(literal).(*types.Signature).Params()
			r.joins(place{to, i}, place{params.At(i), itself}, to.Name())
		} else if from != nil {
			r.joins(place{to, i}, place{from, i}, to.Name())
		}
	}
	for i := range signature.Results().Len() {
		if isLiteral {
			r.returns(place{to, result(i)}, literal.Body, i)
		} else if from != nil {
			r.joins(place{from, result(i)}, place{to, result(i)}, types.ExprString(e))
		}
	}
}

// key notes the key of an assignment to a map whose keys are texts and whose values are none.
func (r scope) key(x *ast.IndexExpr) {
	m, ok := r.info.TypeOf(x.X).Underlying().(*types.Map)
	if ok && !holdsText(m.Elem()) {
		r.gives(place{r.object(x), itself}, func(end reached) { r.followText(x.Index, end) })
	}
}

// loop notes what the variables of a range are given.
func (r scope) loop(n *ast.RangeStmt) {
	if n.Value != nil {
		r.gives(place{r.object(n.Value), itself}, func(end reached) { r.follow(n.X, end) })
	}
	if n.Key == nil {
		return
	}
	keys := []ast.Expr{n.X}
	if literal, ok := ast.Unparen(n.X).(*ast.CompositeLit); ok { // the keys of a map stand where it is written
		keys = nil
		for _, e := range literal.Elts {
			if kv, ok := e.(*ast.KeyValueExpr); ok {
				keys = append(keys, kv.Key)
			}
		}
	}
	for _, e := range keys {
		r.gives(place{r.object(n.Key), itself}, func(end reached) { r.follow(e, end) })
	}
}

// literal notes what the fields of a struct are given.
func (r scope) literal(n *ast.CompositeLit) {
	t := r.info.TypeOf(n)
	if p, ok := t.Underlying().(*types.Pointer); ok {
		t = p.Elem()
	}
	s, ok := t.Underlying().(*types.Struct)
	if !ok {
		return
	}
	for i, e := range n.Elts {
		if kv, ok := e.(*ast.KeyValueExpr); ok {
			r.assign(r.object(kv.Key), kv.Value)
		} else {
			r.assign(s.Field(i).Origin(), e)
		}
	}
}

// call notes what the parameters of a function are given.
func (r scope) call(n *ast.CallExpr) {
	t := r.info.Types[n.Fun]
	if t.IsType() {
		r.conversion(n, t.Type)
		return
	}
	signature, ok := t.Type.Underlying().(*types.Signature)
	of := r.object(n.Fun)
	if !ok || of == nil {
		return // a builtin
	}
	for i, a := range n.Args {
		p := min(i, signature.Params().Len()-1)
		if p < 0 {
			break
		}
		r.gives(place{of, p}, func(end reached) { r.follow(a, end) })
		if f, ok := of.(*types.Func); ok && r.ours(f) {
			to := f.Signature().Params().At(p)
			if _, ok := to.Type().Underlying().(*types.Signature); ok && r.info.TypeOf(a) != nil {
				r.assign(to, a)
			}
		}
	}
}

// conversion follows what is converted to a type that is an end: whoever has a value of it may word it.
func (r scope) conversion(n *ast.CallExpr, to types.Type) {
	t, ok := to.(*types.Named)
	if !ok || t.Obj().Pkg() == nil {
		return
	}
	for _, e := range r.Ends {
		if e.Method == "" && e.Package == t.Obj().Pkg().Path() && e.Type == t.Obj().Name() {
			end := reached{place{t.Obj(), itself}, e.Loose}
			r.reach(end, step{expr: e.Type})
			r.follow(n.Args[0], end)
		}
	}
}

// ours is true of a function of the module.
func (f *finder) ours(fn *types.Func) bool {
	return fn.Pkg() != nil && strings.HasPrefix(fn.Pkg().Path(), f.Module)
}

// object is what an expression names: a variable, a field, a function; of an element, its container.
func (r scope) object(e ast.Expr) types.Object {
	switch e := ast.Unparen(e).(type) {
	case *ast.Ident:
		return origin(r.info.ObjectOf(e))
	case *ast.SelectorExpr:
		return origin(r.info.ObjectOf(e.Sel))
	case *ast.IndexExpr:
		return r.object(e.X)
	case *ast.IndexListExpr:
		return r.object(e.X)
	case *ast.SliceExpr:
		return r.object(e.X)
	case *ast.StarExpr:
		return r.object(e.X)
	}
	return nil
}

// origin is a field or a function of a generic type as it is declared, whatever it is instantiated with.
func origin(o types.Object) types.Object {
	switch o := o.(type) {
	case *types.Var:
		return o.Origin()
	case *types.Func:
		return o.Origin()
	}
	return o
}
