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
			"unit of money brings beyond itself, from the option before. Every number is at its best guess."),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			sums(v, "costs", v.Text("costs that vary"), money),
			sums(v, "net", v.Text("net"), money),
			numeric("marginal_rate_pct", v.Text("marginal rate"), "%"),
			wordy("dominated", v.Text("dominated")),
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
		t.row(o.ID(), words(w.Option(o)), decimal(v, p.Point().Costs, 2), decimal(v, p.Net, 2),
			rate, words(dominated)).Dim = o.Dominated
	}
	t.note(v.Text("After CIMMYT 1988, From Agronomic Data to Farmer Recommendations."))
	return t
}
