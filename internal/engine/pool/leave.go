package pool

import (
	"maps"
	"slices"

	"spile/internal/engine/effect"
	"spile/internal/trade/evidence"
)

// manyRows is where one study or site can no longer move the variances, so that leaving one out holds them.
const manyRows = 1000

// Without is the answer with the studies left out that drop accepts; what names them. The fit is used again: sampling
// variances, the ageing curves' half-lives (to first order they move with their own column) and their weights stay, the
// spread between studies and sites is estimated anew (and held in tables of more than a thousand rows). Only where a
// treatment or an age of drops was in no other study, or the rest no longer links all, is everything fitted from the
// start.
func (r *Result) Without(what string, drop func(*effect.StudyEffects) bool) Without {
	var gone []int
	for i, s := range r.table.studies {
		if drop(s.effects) {
			gone = append(gone, i)
		}
	}
	return r.without(what, gone)
}

// without leaves out the studies of some indices, in ascending order.
func (r *Result) without(what string, gone []int) Without {
	w := Without{What: what, Studies: r.Studies - len(gone)}
	if len(gone) == 0 {
		w.Gains = slices.Clone(r.Gains)
		return w
	}
	if w.Studies == 0 {
		return w
	}
	if r.integrated != nil {
		return r.withoutIntegrated(w, gone)
	}
	next, ok := r.reuse(gone)
	if !ok {
		next = &Result{options: r.options, set: r.set}
		t := r.table.only(func(x row) bool { _, out := slices.BinarySearch(gone, x.study); return !out })
		t.options, t.dropped = r.options, nil
		if next.fit(t) != nil {
			return w
		}
		w.Studies = len(next.table.studies)
	}
	next.gains()
	w.Gains = next.Gains
	return w
}

// reuse solves the members of the result on fewer studies; false where their layouts no longer fit.
func (r *Result) reuse(gone []int) (*Result, bool) {
	next := &Result{options: r.options, set: r.set, table: r.table, byAge: r.byAge,
		counts: r.counts.less(r.table.tally(gone))}
	for _, n := range next.counts.rows {
		if n == 0 {
			return nil, false
		}
	}
	var rows []int
	for _, i := range gone {
		for k := r.table.studies[i].first; k < r.table.studies[i].end; k++ {
			rows = append(rows, k)
		}
	}
	var rest *table
	for _, m := range r.members {
		if m.fit != nil && m.fit.Rows > manyRows {
			f, err := m.fit.Without(rows)
			if err != nil {
				return nil, false
			}
			m.solved = &solved{theta: m.theta, beta: f.Beta, phi: f.Phi, fit: f}
		} else {
			if rest == nil {
				rest = r.table.only(func(x row) bool { _, out := slices.BinarySearch(gone, x.study); return !out })
			}
			s, err := rest.solve(m.layout)
			if err != nil {
				return nil, false
			}
			m.solved = s
		}
		next.members = append(next.members, m)
	}
	return next, true
}

// WithoutEachStudy leaves out each study in turn.
func (r *Result) WithoutEachStudy() []Without {
	list := make([]Without, len(r.table.studies))
	for i, s := range r.table.studies {
		list[i] = r.without(s.name, []int{i})
	}
	return list
}

// WithoutEachSite leaves out each site in turn, with all its studies. Studies whose site is not stated are not among
// them.
func (r *Result) WithoutEachSite() []Without {
	var order []string
	gone := map[string][]int{}
	for i, s := range r.table.studies {
		if site := s.effects.Site; site != "" {
			if gone[site] == nil {
				order = append(order, site)
			}
			gone[site] = append(gone[site], i)
		}
	}
	var list []Without
	for _, site := range order {
		list = append(list, r.without(site, gone[site]))
	}
	return list
}

// WithoutCaveat leaves out the studies that carry a caveat.
func (r *Result) WithoutCaveat(c evidence.Caveat) Without {
	return r.Without(string(c), func(x *effect.StudyEffects) bool { return slices.Contains(x.Caveats, c) })
}

// withoutIntegrated leaves studies out of what was integrated: its components are weighed anew, and only where a
// treatment is then in no study is everything fitted from the start.
func (r *Result) withoutIntegrated(w Without, gone []int) Without {
	next := &Result{options: r.options, set: r.set, table: r.table, counts: r.counts.less(r.table.tally(gone)),
		members: r.members}
	left := *r.integrated
	var err error
	if left.plain, left.shrunk, err = r.integrated.answer.Without(gone); err == nil &&
		!slices.Contains(slices.Collect(maps.Values(next.counts.rows)), 0) {
		next.integrated = &left
	} else {
		next = &Result{options: r.options, set: r.set}
		t := r.table.only(func(x row) bool { _, out := slices.BinarySearch(gone, x.study); return !out })
		t.options, t.dropped = r.options, nil
		if next.fit(t) != nil || next.override() != nil {
			return w
		}
		w.Studies = len(next.table.studies)
	}
	next.gains()
	w.Gains = next.Gains
	return w
}
