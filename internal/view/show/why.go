package show

import (
	"math"
	"slices"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/engine/trust"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
)

type (
	gain  = pool.Gain
	split = trust.Split
)

// why is how a practice's gain was taken apart; false where that was not asked.
func (w *View) why(k practice.Key) (advice.Why, bool) {
	i := slices.IndexFunc(w.A.Why, func(x advice.Why) bool { return x.Treatment.Practice == k })
	if i < 0 {
		return advice.Why{}, false
	}
	return w.A.Why[i], true
}

// Parts is a practice's pooled gain as what each step of a stated order of refits adds to it.
func (w *View) Parts(k practice.Key) Table {
	v := w.V
	x, ok := w.why(k)
	if !ok {
		return Table{}
	}
	t := Table{
		ID:    "parts-" + string(k),
		Title: v.Text("Why the gain of %s is what it is", w.Treatment(x.Treatment)),
		Lead: v.Text("From the plain mean of what studies say to the pooled gain, one step after the other. Changes " +
			"are of the logarithm of the yield ratio, and add up."),
		Columns: []Column{
			wordy("step", v.Text("step")),
			numeric("gain_pct", v.Text("gain after it"), "%"),
			numeric("change_log", v.Text("change"), ""),
			numeric("log", v.Text("log ratio after it"), ""),
		},
	}
	pooled := func(name string, log float64) {
		t.row("", words(name), percent(v, pct(log)), words(""), decimal(v, log, 3)).Strong = true
	}
	last := 0.0
	said := false
	for i, p := range x.Parts {
		if forMoney(p) && !said {
			pooled(v.Text("the pooled gain, as the studies say"), last)
			said = true
		}
		change := words("")
		if i > 0 {
			change = num(signed(v, p.Change), p.Change)
		}
		t.row(p.Key, words(capital(v.Text(p.Name))), percent(v, pct(p.Log)), change, decimal(v, p.Log, 3))
		last = p.Log
	}
	if said {
		pooled(v.Text("the gain that money uses"), last)
	} else {
		pooled(v.Text("the pooled gain"), last)
	}
	t.note(v.Text("In this order; another order splits otherwise. A step that the studies give no cause for is " +
		"left out."))
	var list []string
	for _, m := range x.Movers {
		list = append(list, v.Text("%s (%s without it)", m.Study, v.Percent(pct(m.Without))))
	}
	if len(list) > 0 {
		t.note(v.Text("What moves it most: %s.", v.List(list)))
	}
	return t
}

// Steps are all gains that were taken apart in one table: a practice a row, its gain after each step.
func (w *View) Steps() Table {
	v := w.V
	t := Table{
		ID:    "parts",
		Title: v.Text("Why each gain is what it is"),
		Lead: v.Text("The gain after each step, %%: from the plain mean of what studies say to the pooled gain, and " +
			"from that, by the steps for money, to the gain that money uses."),
		Columns: []Column{wordy("practice", v.Text("practice"))},
	}
	after := map[string][]Cell{} // by step, a practice each
	for k, x := range w.A.Why {
		t.row(string(x.Treatment.Practice), words(w.Treatment(x.Treatment)))
		for i, p := range x.Parts {
			if after[p.Key] == nil {
				at := 1 // behind the step that comes before it here
				if i > 0 {
					at += slices.IndexFunc(t.Columns, func(c Column) bool { return c.ID == x.Parts[i-1].Key })
				}
				t.Columns = slices.Insert(t.Columns, at, numeric(p.Key, v.Text(p.Name), ""))
				after[p.Key] = make([]Cell, len(w.A.Why))
			}
			after[p.Key][k] = percent(v, pct(p.Log))
		}
		var movers []string
		for _, m := range x.Movers {
			movers = append(movers, v.Text("%s (%s without it)", m.Study, v.Percent(pct(m.Without))))
		}
		if movers != nil {
			t.note(v.Text("What moves that of %s most: %s.", w.Treatment(x.Treatment), v.List(movers)))
		}
	}
	for k := range t.Rows {
		for _, c := range t.Columns[1:] {
			cell := after[c.ID][k]
			if cell.Text == "" {
				cell = none(v)
			}
			t.Rows[k].Cells = append(t.Rows[k].Cells, cell)
		}
	}
	t.note(v.Text("In this order; another order splits otherwise. A step that the studies give no cause for is " +
		"left out."))
	return t
}

// forMoney is true of a step that leads on from the pooled gain to the one that money uses.
func forMoney(p trust.Part) bool { return p.Key == "shrinkage" || p.Key == "long-run" }

// explained are the practices whose gains were taken apart.
func (w *View) explained() (list []string) {
	for _, x := range w.A.Why {
		list = append(list, string(x.Treatment.Practice))
	}
	return list
}

// Explanation is a sentence on a gain that was taken apart: from where to where, and what makes most of the way.
func (w *View) Explanation(k practice.Key) []string {
	v := w.V
	x, ok := w.why(k)
	if !ok || len(x.Parts) == 0 {
		return nil
	}
	name, first, last, most := w.Treatment(x.Treatment), x.Parts[0], x.Parts[0], trust.Part{}
	for _, p := range x.Parts[1:] {
		if !forMoney(p) && math.Abs(p.Change) > math.Abs(most.Change) {
			most = p
		}
		if !forMoney(p) {
			last = p
		}
	}
	from, to := v.Percent(pct(first.Log)), v.Percent(pct(last.Log))
	switch {
	case first.Key != "percents":
		return []string{v.Text("%s was not compared with unsanitized directly: its pooled gain, %s, is what studies "+
			"of other practices tell of it.", capital(name), to)}
	case math.Abs(most.Change) < 0.005, from == to && math.Abs(most.Change) < 0.01:
		return []string{v.Text("%s: the plain mean and the pooled gain agree, at %s.", capital(name), to)}
	}
	return []string{v.Text("%s: from a plain mean of %s to a pooled gain of %s. The largest step is this: %s.",
		capital(name), from, to, v.Text(most.Name))}
}

// AllParts are the tables of all gains that were taken apart.
func (w *View) AllParts() (list []Table) {
	for _, k := range w.explained() {
		list = append(list, w.Parts(practice.Key(k)))
	}
	return list
}

// signed is a change of a log ratio, with its sign.
func signed(v *say.Voice, x float64) string {
	if x < 0.0005 {
		return v.Decimal(x, 3)
	}
	return "+" + v.Decimal(x, 3)
}

// reason is why the plain mean of a practice's percentages lies above its pooled gain, or below: the largest part that
// makes it so; "" where that was not asked.
func (w *View) reason(k practice.Key, above bool) string {
	x, _ := w.why(k)
	why, far := "", 0.0
	for _, p := range x.Parts {
		if p.Why != "" && math.Abs(p.Change) > far && above == (p.Change < 0) {
			why, far = p.Why, math.Abs(p.Change)
		}
	}
	if why == "" {
		return ""
	}
	return w.V.Text(why)
}
