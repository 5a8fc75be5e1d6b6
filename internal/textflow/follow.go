package textflow

import (
	"go/ast"
	"go/constant"
	"go/types"
	"slices"
	"strings"
)

// follow follows an expression whose value ends: to a constant, or to the places that it may come from.
func (r scope) follow(e ast.Expr, end reached) {
	e = ast.Unparen(e)
	t := r.info.Types[e]
	if t.Value != nil && t.Value.Kind() == constant.String {
		r.add(constant.StringVal(t.Value), e.Pos())
		return
	}
	if all := r.constants[t.Type]; len(all) > 0 { // one of these, or the user's own
		for _, c := range all {
			r.add(constant.StringVal(c.Val()), c.Pos())
		}
		return
	}
	if !holdsText(t.Type) {
		return
	}
	switch x := e.(type) {
	case *ast.CompositeLit:
		for _, element := range x.Elts {
			if kv, ok := element.(*ast.KeyValueExpr); ok {
				element = kv.Value
			}
			r.followText(element, end)
		}
	case *ast.CallExpr:
		r.followCall(x, 0, end)
	case *ast.BinaryExpr, *ast.FuncLit:
		r.lost(e, end)
	case *ast.TypeAssertExpr:
		r.follow(x.X, end)
	case *ast.UnaryExpr:
		r.follow(x.X, end)
	default:
		if v, ok := r.object(e).(*types.Var); ok && !r.skips(v, end.loose) {
			r.reach(reached{place{v, itself}, end.loose}, r.step(e, end))
		}
	}
}

// followText follows an expression where it can be a text.
func (r scope) followText(e ast.Expr, end reached) {
	if holdsText(r.info.TypeOf(e)) {
		r.follow(e, end)
	}
}

// followCall follows the i-th result of a call.
func (r scope) followCall(call *ast.CallExpr, i int, end reached) {
	if r.info.Types[call.Fun].IsType() { // a conversion
		r.follow(call.Args[0], end)
		return
	}
	switch o := r.object(call.Fun).(type) {
	case *types.Builtin:
		for _, a := range call.Args {
			r.follow(a, end)
		}
	case *types.Func:
		switch {
		case r.words(o):
		case r.ours(o):
			r.reach(reached{place{o, result(i)}, end.loose}, r.step(call, end))
		case passes(o):
			for _, a := range call.Args {
				r.followText(a, end)
			}
		default:
			r.lost(call, end)
		}
	case *types.Var:
		r.reach(reached{place{o, result(i)}, end.loose}, r.step(call, end))
	default:
		r.lost(call, end)
	}
}

// words is true of a function of a package that words texts.
func (f *finder) words(fn *types.Func) bool {
	return slices.ContainsFunc(f.Ends, func(e End) bool {
		return e.Method != "" && fn.Pkg() != nil && e.Package == fn.Pkg().Path()
	})
}

// passes is true of a function of the library whose result is among what it is given.
func passes(f *types.Func) bool {
	name := f.FullName()
	return name == "cmp.Or" || strings.HasPrefix(name, "slices.") || name == "maps.Keys" || name == "maps.Values"
}

// lost notes an expression that no catalogue can hold.
func (r scope) lost(e ast.Expr, end reached) {
	r.unknown(where(r.fset.Position(e.Pos()))+": "+types.ExprString(e), end)
}

func (r scope) step(e ast.Expr, end reached) step {
	return step{where(r.fset.Position(e.Pos())) + " " + types.ExprString(e), end}
}

// skips is true of a field that holds no text of the program.
func (f *finder) skips(v *types.Var, loose bool) bool {
	if !v.IsField() {
		return false
	}
	name := v.Pkg().Name() + "." + v.Name()
	return slices.Contains(f.Keys, name) || loose && slices.Contains(f.Typed, name)
}

func isText(t types.Type) bool {
	basic, ok := t.Underlying().(*types.Basic)
	return ok && basic.Info()&types.IsString != 0
}

// holdsText is true of what can hold texts: a string, and lists, maps and pointers of them, and what may be anything.
func holdsText(t types.Type) bool { return holds(t, 4) }

func holds(t types.Type, depth int) bool {
	if t == nil || depth == 0 {
		return false
	}
	switch u := t.Underlying().(type) {
	case *types.Basic:
		return isText(u)
	case *types.Slice:
		return holds(u.Elem(), depth-1)
	case *types.Array:
		return holds(u.Elem(), depth-1)
	case *types.Map:
		return holds(u.Elem(), depth-1) || holds(u.Key(), depth-1)
	case *types.Pointer:
		return holds(u.Elem(), depth-1)
	case *types.Tuple:
		for v := range u.Variables() {
			if holds(v.Type(), depth-1) {
				return true
			}
		}
	case *types.Signature:
		return u.Results().Len() == 1
	case *types.Interface:
		return u.NumMethods() == 0
	}
	return false
}
