package show

import (
	"slices"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/plan"
	"spile/internal/trade/practice"
)

// Scenarios is what pays best in each scenario, and what what pays best in the usual one nets there.
func (w *View) Scenarios() Table {
	v, money := w.V, w.currency()
	t := Table{ID: "scenarios", Title: v.Text("In other states of the world"), Columns: []Column{
		wordy("scenario", v.Text("scenario")), wordy("best", v.Text("comes first")),
		sums(v, "net", v.Text("net"), money),
		wordy("advised", v.Text("advised now")), sums(v, "net_advised", v.Text("its net"), money),
		sums(v, "unsanitized", v.Text("over unsanitized"), money),
	}}
	advised, ok := w.A.Best()
	for _, s := range w.A.Scenarios() {
		best, have := s.Best()
		if !have {
			continue
		}
		row := Row{ID: s.ID, Strong: s.ID == "usual", Cells: []Cell{words(v.Note(s.Name)), words(w.Option(best)),
			decimal(v, best.Today.Average(), 2), none(v), none(v), none(v)}}
		if i := find(s.Ranking, advised); ok && i >= 0 {
			x := s.Ranking[i]
			row.Cells[3], row.Cells[4] = words(w.Option(x)), decimal(v, x.Today.Average(), 2)
			row.Cells[5] = decimal(v, x.Unsanitized.Average(), 2)
		}
		t.Rows = append(t.Rows, row)
	}
	others := w.changing(t)
	switch {
	case len(t.Rows) == 0 || !ok:
	case others == nil:
		t.Lead = v.Text("What is advised now is best in all of them, or within %s a tap and season of the best.",
			v.Money(plan.NearTap, money))
	default:
		t.Lead = v.Text("The advice changes in these: %s.", strings.Join(others, "; "))
	}
	t.note(v.Text("Net: a tap and season over today's practice, on average. Low and high price: what is sold at its " +
		"low and its high, or as one season in ten has it. Poor year: the yield that one season in ten lies below. " +
		"Your own are named in the price file."))
	return t
}

// changing says, scenario by scenario of the table, what nets so much more than what is advised now that it would be
// advised instead.
func (w *View) changing(t Table) (others []string) {
	for _, r := range t.Rows {
		first, advised := r.Cells[2].Number, r.Cells[4].Number
		if advised != nil && *first-*advised >= plan.NearTap {
			others = append(others, w.V.Text("%s: %s nets %s more", r.Cells[0].Text, r.Cells[1].Text,
				w.V.Money(*first-*advised, w.currency())))
		}
	}
	return others
}

func find(list []advice.Option, o advice.Option) int {
	return slices.IndexFunc(list, func(x advice.Option) bool { return x.Choice() == o.Choice() })
}

// scenariosJSON is the same for `profit --json`, with every option.
func (w *View) scenariosJSON() any {
	return objects(w.A.Scenarios(), func(s advice.Scenario) object {
		var best any
		if o, ok := s.Best(); ok {
			best = o.ID()
		}
		return object{{"name", s.ID}, {"best", best}, {"practices", objects(s.Ranking, func(o advice.Option) object {
			return object{{"practice", o.ID()}, {"net", o.Today.Average()},
				{"net_unsanitized", o.Unsanitized.Average()}, {"permitted", o.Verdict == practice.Permitted}}
		})}}
	})
}
