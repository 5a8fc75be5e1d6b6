package worksheet

import (
	"fmt"
	"slices"

	"spile/internal/trade/practice"
)

// writeBudget writes the partial budget of one practice against another (CIMMYT 1988, From Agronomic Data to Farmer
// Recommendations).
func (b *builder) writeBudget() {
	v, s, a := b.v, b.budget, b.w.A
	best := practice.Choice{Practice: practice.Unsanitized}
	if o, ok := a.Best(); ok {
		best = o.Choice()
	}
	s.begin(v.Text("Partial budget"), v.Text("Money a tap and season, in %s. Choose the two practices.",
		v.MoneyUnit(b.p.Currency)))
	for _, x := range []struct{ label, name, value string }{
		{v.Text("practice"), "practice", b.named(best)}, {v.Text("against"), "against", b.named(a.Reference)},
	} {
		at := s.line(x.label, cell{x.value, chosen}, cell{b.define(x.name, s.at(2, s.row)), called})
		s.choose(here(2, at), "practices")
	}
	s.row++
	of := func(i int, who string) string { return fmt.Sprintf("INDEX(entry_%d,MATCH(%s,practices,0))", i+1, who) }
	s.head(1, v.Text("what"), v.Text("practice"), v.Text("against"), v.Text("added returns"), v.Text("reduced costs"),
		v.Text("added costs"), v.Text("reduced returns"))
	first := s.row
	for i, e := range b.entries {
		more := "(" + here(2, s.row) + "-" + here(3, s.row) + ")"
		up, down := "MAX(0,"+more+")", "MAX(0,-"+more+")"
		parts := [4]string{up, "0", "0", down} // added returns, reduced costs, added costs, reduced returns
		switch e.kind {
		case lost:
			parts = [4]string{down, "0", "0", up}
		case cost:
			parts = [4]string{"0", down, up, "0"}
		}
		cells := []any{e.label, cell{formula(of(i, "practice")), money}, cell{formula(of(i, "against")), money}}
		for _, f := range parts {
			cells = append(cells, cell{formula(f), money})
		}
		s.line(cells...)
	}
	sum := func(col int) string { return "SUM(" + here(col, first) + ":" + here(col, s.row-1) + ")" }
	cells := []any{v.Text("sum"), nil, nil}
	for i, name := range []string{"added_returns", "reduced_costs", "added_costs", "reduced_returns"} {
		b.define(name, s.at(4+i, s.row))
		cells = append(cells, cell{formula(sum(4 + i)), total})
	}
	s.line(cells...)
	b.define("net", s.at(2, s.row))
	s.line(v.Text("net: what is added or saved, less what is spent or lost"),
		cell{formula("added_returns+reduced_costs-added_costs-reduced_returns"), total}, cell{"net", called})
}

// writeRotation writes what each interval between replacements nets in the long run.
func (b *builder) writeRotation() {
	v, s, of := b.v, b.rotation, b.longest
	s.begin(v.Text("Rotation"))
	if of.name == "" {
		s.line(v.Text("No practice here replaces drops."))
		return
	}
	var intervals []option
	for _, o := range b.options {
		if o.Practice == of.Practice && o.With == "" {
			intervals = append(intervals, o)
		}
	}
	slices.SortFunc(intervals, func(x, y option) int { return x.Every - y.Every })
	s.line(cell{b.w.Practice(of.Practice), section})
	s.head(1, v.Text("every so many seasons"), v.Text("mean gain"), v.Text("net over unsanitized"),
		v.Text("net over the "+
			"one chosen"), v.Text("studied"), v.Text("net, where studied"))
	first, last := s.row, s.row+len(intervals)-1
	net := colEntries + len(b.entries) + 1
	for _, o := range intervals {
		studied, counts := v.Text("no"), `""`
		if o.studied {
			studied, counts = v.Text("yes"), here(3, s.row)
		}
		s.line(cell{o.Every, beside}, cell{formula(b.sums.at(4, o.row)), percent}, cell{formula(b.sums.at(net, o.row)),
			money},
			cell{formula(b.sums.at(net+1, o.row)), money}, cell{studied, mark}, cell{formula(counts), money})
	}
	worth := here(6, first) + ":" + here(6, last)
	b.define("best_interval", s.at(2, s.row))
	s.line(v.Text("pays best"), cell{formula("INDEX(" + here(1, first) + ":" + here(1, last) + ",MATCH(MAX(" + worth +
		")," + worth + ",0))"), plain}, cell{"best_interval", called})
}
