package pool

import (
	"slices"

	"spile/evidence"
	"spile/practice"
)

// manyRows is where one study or site can no longer move the variances, so that leaving one out holds them.
const manyRows = 1000

// Without is the answer with the studies left out that drop accepts; what names them. The fit is used again: sampling
// variances, the ageing curves' half-lives (to first order they move with their own column) and their weights stay, the
// spread between studies and sites is estimated anew (and held in tables of more than a thousand rows). Only where the
// studies left in no longer link what was linked, or no longer tell ageing, is everything fitted from the start.
func (r *Result) Without(what string, drop func(*evidence.StudyEffects) bool) Without {
	w := Without{What: what}
	out := make([]bool, len(r.table.studies))
	any := false
	for i, s := range r.table.studies {
		out[i] = drop(s.effects)
		any = any || out[i]
	}
	if !any {
		w.Studies, w.Gains = r.Studies, slices.Clone(r.Gains)
		return w
	}
	t := r.table.only(func(x row) bool { return !out[x.study] })
	w.Studies = len(t.studies)
	if w.Studies == 0 {
		return w
	}
	next := &Result{options: r.options, set: r.set}
	if !next.reuse(r, t, out) {
		t.options, t.dropped = r.options, nil
		if err := next.fit(t); err != nil {
			return w
		}
	}
	w.Studies = len(next.table.studies)
	next.gains()
	w.Gains = next.Gains
	return w
}

// reuse solves the members of an earlier result on fewer studies; false where their layouts no longer fit.
func (r *Result) reuse(old *Result, t *table, out []bool) bool {
	r.table, r.byAge = t, old.byAge
	ages := map[practice.Treatment]bool{}
	for _, x := range t.rows {
		ages[x.arm], ages[x.ref] = true, true
	}
	if len(old.members[0].layout.ageing) > 0 {
		linked := t.links(func(x practice.Treatment) practice.Treatment { return x })
		base, _ := curves(t, linked)
		for _, k := range old.members[0].layout.ageing {
			if _, ok := base[k]; !ok {
				return false
			}
		}
	}
	for _, x := range old.members[0].layout.treatments {
		if !ages[x] {
			return false
		}
	}
	var rows []int
	for i, x := range old.table.rows {
		if out[x.study] {
			rows = append(rows, i)
		}
	}
	for _, m := range old.members {
		s, err := m.without(t, rows)
		if err != nil {
			return false
		}
		m.solved = s
		r.members = append(r.members, m)
	}
	return true
}

// without solves a member on the table t, which lacks the given rows of the member's own.
func (m member) without(t *table, rows []int) (*solved, error) {
	if m.fit == nil || m.fit.Rows <= manyRows {
		return t.solve(m.layout)
	}
	f, err := m.fit.Without(rows)
	if err != nil {
		return nil, err
	}
	return &solved{theta: m.theta, beta: f.Beta, phi: f.Phi, fit: f}, nil
}

// WithoutEachStudy leaves out each study in turn.
func (r *Result) WithoutEachStudy() []Without {
	list := make([]Without, len(r.table.studies))
	for i, s := range r.table.studies {
		list[i] = r.Without(s.name, func(x *evidence.StudyEffects) bool { return x == s.effects })
	}
	return list
}

// WithoutEachSite leaves out each site in turn, with all its studies. Studies whose site is not stated are not among them.
func (r *Result) WithoutEachSite() []Without {
	var list []Without
	for _, group := range r.table.grouped(func(s study) string { return s.site }) {
		if site := group[0].effects.Site; site != "" {
			list = append(list, r.Without(site, func(x *evidence.StudyEffects) bool { return x.Site == site }))
		}
	}
	return list
}

// WithoutCaveat leaves out the studies that carry a caveat.
func (r *Result) WithoutCaveat(c evidence.Caveat) Without {
	return r.Without(string(c), func(x *evidence.StudyEffects) bool { return slices.Contains(x.Caveats, c) })
}
