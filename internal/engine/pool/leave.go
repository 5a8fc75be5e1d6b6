package pool

import (
	"slices"

	"spile/internal/engine/effect"
	"spile/internal/trade/practice"
)

// manyRows is where one study or site can no longer move the variances, so that leaving one out holds them.
const manyRows = 1000

// Left is the result with the studies left out that drop accepts, as far as its gains, draws and spread go; false where
// nothing can be said then. The fit is used again: sampling variances, the ageing curves' half-lives (to first order
// they move with their own column) and their weights stay, the spread between studies and sites is estimated anew (and
// held in tables of more than a thousand rows). Only where a treatment or an age of drops was in no other study, or the
// rest no longer links all, is everything fitted from the start.
func (r *Result) Left(drop func(*effect.StudyEffects) bool) (*Result, bool) {
	var gone []int
	for i, s := range r.table.studies {
		if drop(s.effects) {
			gone = append(gone, i)
		}
	}
	if len(gone) == 0 {
		return r, true
	}
	if len(gone) == r.Studies {
		return nil, false
	}
	next, ok := r.reuse(gone)
	if ok {
		next.Studies, next.Ageing.Oldest = r.Studies-len(gone), r.Ageing.Oldest
	} else {
		next = &Result{options: r.options, set: r.set, gainsAlone: r.integrated != nil, near: r.integrated}
		t := r.table.only(func(x row) bool { _, out := slices.BinarySearch(gone, x.study); return !out })
		t.options, t.dropped = r.options, nil
		if next.fit(t) != nil || r.integrated != nil && next.override() != nil {
			return nil, false
		}
		next.count()
	}
	next.gains()
	return next, true
}

// reuse solves the members of the result on fewer studies, or weighs the components of what was integrated anew; false
// where their layouts no longer fit, since a treatment is then in no study.
func (r *Result) reuse(gone []int) (*Result, bool) {
	next := &Result{options: r.options, set: r.set, table: r.table, byAge: r.byAge,
		counts: r.counts.less(r.table.tally(gone))}
	for _, n := range next.counts.rows {
		if n == 0 {
			return nil, false
		}
	}
	if r.integrated != nil {
		left := &integrated{layout: r.integrated.layout, answer: r.integrated.answer}
		var err error
		left.plain, left.shrunk, err = r.integrated.answer.Without(gone)
		if r.options.Unshrunk {
			left.shrunk = left.plain
		}
		next.integrated, next.members = left, r.members
		return next, err == nil
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
			m.solved = &solved{theta: m.theta, beta: f.Beta, phi: f.Phi, fit: f, tells: f.Contrast}
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

// LongRun is the log of the ratio of expected yields over places and seasons that money rests on, where the moderators
// of the model stand at values: that of ForMoneyAt, without its interval. False where the model has no place for the
// treatment. It is of a result that was integrated.
func (r *Result) LongRun(t practice.Treatment, at map[string]float64) (float64, bool) {
	x := r.integrated
	l, ok := x.layout.line(append(r.shifts(at), of(t, 1))...)
	if !ok {
		return 0, false
	}
	return x.shrunk.LongRunMean(l), true
}
