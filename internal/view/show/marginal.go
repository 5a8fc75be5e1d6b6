package show

import (
	"cmp"
	"slices"

	"spile/internal/engine/advice"
	"spile/internal/trade/practice"
)

// Marginal is the dominance and marginal analysis of the options that are studied and permitted, by rising costs:
// what a statistician or an economist asks of the ranking.
func (w *View) Marginal() Table {
	v, money := w.V, w.currency()
	t := Table{
		ID:    "marginal",
		Title: v.Text("Marginal analysis, a tap and season over unsanitized"),
		Lead: v.Text("By rising costs. Dominated: something cheaper nets as much. Marginal rate: what each added " +
			"unit of money brings beyond itself, from the option before."),
		Columns: []Column{
			{ID: "practice", Name: v.Text("practice")},
			{ID: "costs", Name: v.Text("costs that vary"), Unit: money, Right: true},
			{ID: "net", Name: v.Text("net"), Unit: money, Right: true, Interval: true},
			{ID: "marginal_rate_pct", Name: v.Text("marginal rate"), Unit: "%", Right: true},
			{ID: "dominated", Name: v.Text("dominated")},
		},
	}
	list := slices.Clone(w.A.Ranking)
	slices.SortStableFunc(list, func(a, b advice.Option) int {
		return cmp.Compare(a.Unsanitized.Point().Costs, b.Unsanitized.Point().Costs)
	})
	for _, o := range list {
		if !o.Studied || o.Verdict != practice.Permitted {
			continue
		}
		p := o.Unsanitized
		rate, dominated := none(v), ""
		if o.MarginalRatePct != nil {
			rate = decimal(v, *o.MarginalRatePct, 0)
		}
		if o.Dominated {
			dominated = v.Text("dominated")
		}
		t.Rows = append(t.Rows, Row{ID: o.ID(), Dim: o.Dominated, Cells: []Cell{
			words(w.Option(o)), decimal(v, p.Point().Costs, 2), decimals(v, p.Net, p.NetLow, p.NetHigh, 2), rate,
			words(dominated),
		}})
	}
	t.Notes = []Footnote{{Text: v.Text("After CIMMYT 1988, From Agronomic Data to Farmer Recommendations.")}}
	return t
}
