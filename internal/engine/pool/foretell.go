package pool

import "slices"

// Foretold is what some studies say of a comparison of another, with its sampling error, where gains are integrated
// over the variances. Where they say nothing, Told is false.
type Foretold struct {
	Told           bool
	Log, Low, High float64 // at its site and in its season, with the 95 % range
	// Effects is the log gain by the effects alone, and Normal how far the comparison lies from what they say of one
	// whose place is not known, as a standard normal number.
	Effects, Normal float64
}

// Integrated is true of a result that was integrated over the variances.
func (l Linear) Integrated() bool { return l.result.integrated != nil }

// Foretell is what the studies of some rows say of other rows, whole studies, in the order of these; both ascend. Where
// one study is foretold from all others, the components of the whole are weighed anew, as far as the others tell its
// treatments; else the model of those rows is integrated.
func (l Linear) Foretell(rows, targets []int) []Foretold {
	list := make([]Foretold, len(targets))
	all := l.result.table
	if len(targets) > 0 && len(rows)+len(targets) == len(all.rows) {
		if own := all.rows[targets[0]].study; own == all.rows[targets[len(targets)-1]].study &&
			l.result.integrated.foretell(all, own, list) {
			return list
		}
	}
	x, t, of := l.result.from(rows, targets)
	if x == nil {
		return list
	}
	for k, s := range t.studies {
		at, out := slices.BinarySearch(targets, of[s.first])
		if !out {
			continue
		}
		told := make([]Foretold, s.end-s.first)
		x.foretell(t, k, told)
		for i, f := range told {
			for targets[at] != of[s.first+i] {
				at++
			}
			list[at] = f
		}
	}
	return list
}

// foretell fills in what all other studies say of the rows of one; false where they leave an effect untold.
func (x *integrated) foretell(t *table, study int, list []Foretold) bool {
	told, err := x.answer.Foretell(study)
	for i, f := range told {
		list[i] = Foretold{true, f.Near.Mean(), f.Near.Quantile(lowEnd), f.Near.Quantile(highEnd), f.Effects,
			f.Far.Normal(t.rows[t.studies[study].first+i].y)}
	}
	return err == nil
}

// from integrates the model of some rows. Its table has other rows too, which say nothing, as far as the model knows
// their treatments; at are the rows of it. Nil where nothing can be said.
func (r *Result) from(rows, targets []int) (x *integrated, t *table, at []int) {
	next := &Result{options: r.options, set: r.set, gainsAlone: true}
	if len(rows) == 0 || next.fit(r.table.rowsOf(rows)) != nil {
		return nil, nil, nil
	}
	l := next.members[0].layout
	for i, x := range r.table.rows {
		_, arm := l.line(of(x.arm, 1))
		_, ref := l.line(of(x.ref, 1))
		_, known := slices.BinarySearch(rows, i)
		_, asked := slices.BinarySearch(targets, i)
		if arm && ref && (known || asked) {
			at = append(at, i)
		}
	}
	t = r.table.rowsOf(at)
	t.options, t.dropped = next.table.options, next.table.dropped
	var out []int
	for i, s := range t.studies {
		if _, asked := slices.BinarySearch(targets, at[s.first]); asked {
			out = append(out, i)
		}
	}
	x, err := t.integrate(l, r.options.Prior, nearby{}, out...)
	if err != nil {
		return nil, nil, nil
	}
	return x, t, at
}

// rowsOf is the table with some of its rows, in ascending order.
func (t *table) rowsOf(rows []int) *table {
	i := -1
	return t.only(func(row) bool {
		i++
		_, in := slices.BinarySearch(rows, i)
		return in
	})
}
