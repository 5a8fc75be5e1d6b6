package show

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"spile/internal/view/figure"
)

// What a hall can read of figures and tables that are too full for a slide.

// pooledForHall is the figure of intervals of the practices that have a gain over unsanitized, in their first season
// and without the single studies.
func (w *View) pooledForHall() []Drawing {
	f := w.Intervals()
	f.Title, f.Ticks = w.V.Text("Pooled gain of each practice"), ""
	f.Notes, f.Key.Study, f.Key.Weak, f.Key.Out, f.Head.Study, f.Head.Weight = nil, "", "", "", "", ""
	var groups []figure.IntervalGroup
	for _, g := range w.A.Pool.Gains {
		for _, x := range f.Groups {
			if x.Name == w.Treatment(g.Treatment) && x.Pooled != nil {
				groups = append(groups, figure.IntervalGroup{Name: x.Name, Pooled: x.Pooled})
			}
		}
	}
	f.Groups = groups
	return []Drawing{f}
}

// netsForHall is the figure of what each practice nets, a slide a reference.
func (w *View) netsForHall() []Drawing {
	whole := w.Net()
	var list []Drawing
	for _, p := range whole.Panels {
		f := whole
		f.Panels, f.Desc = []figure.NetPanel{p}, capital(p.Title)+". "+whole.Desc
		list = append(list, f)
	}
	return list
}

// ageingForHall is the figure of ageing, a slide a panel.
func (w *View) ageingForHall() []Drawing {
	whole, ok := w.ageingKnown().(figure.Ageing)
	switch {
	case !ok:
		return nil
	case whole.Profit == nil || !whole.Gain.Drawn():
		return []Drawing{whole}
	}
	gain, profit := whole, whole
	gain.Profit, profit.Gain = nil, figure.AgePanel{NoEvidence: whole.Gain.NoEvidence}
	gain.Desc = w.V.Text("Gain over unsanitized by the age of the drops, with two curves.")
	profit.Desc = w.V.Text("Net per tap and season by the seasons between replacements.")
	return []Drawing{gain, profit}
}

// outlooksForHall is the figure of what each practice is likely to net, a slide a horizon.
func (w *View) outlooksForHall() []Drawing {
	whole := w.OutlookFigure(w.A.Weighed.Prospect)
	var list []Drawing
	for i, p := range whole.Panels {
		f := whole
		f.Panels = []figure.OutlookPanel{p}
		if i > 0 { // which is told of the long run
			f.Key.Rest = ""
		}
		f.Desc = capital(p.Title) + ". " + w.V.Text("Of 100 draws of gains, prices and work, how many fall where: the "+
			"stem holds 90, the bud the middle half. Beside it the chance of being best.")
		list = append(list, f)
	}
	return list
}

// shared is the table of cautions, one that several practices share once.
func shared(t Table) Table {
	out := t
	out.Rows = nil
	where := map[string]int{}
	name := ""
	for _, r := range t.Rows {
		if r.Cells[0].Text != "" {
			name = r.Cells[0].Text
		}
		text := r.Cells[1].Text
		k, ok := where[text]
		if !ok {
			where[text] = len(out.Rows)
			out.row(text, words(name), r.Cells[1])
			continue
		}
		out.Rows[k].Cells[0].Text += ", " + name
	}
	return out
}

// scenariosForHall is the table of scenarios with what comes first in each; none where nothing is advised.
func (w *View) scenariosForHall() []Table {
	t := w.Scenarios()
	if len(t.Rows) == 0 {
		return nil
	}
	t = t.Without("advised", "net_advised", "unsanitized")
	t.Lead, t.Columns[2].Name = "", w.V.Text("net of a tap over today")
	return []Table{t}
}

// caveatsForHall is the table of what the three caveats do that move the gain of the recommendation most, with that
// practice only; none where no study carries a caveat.
func (w *View) caveatsForHall() []Table {
	t := w.Caveats()
	if len(t.Rows) < 2 {
		return nil
	}
	t.Lead, t.Notes = "", nil
	if o, ok := w.A.Best(); ok {
		keep := []string{"without", "first", string(o.Practice) + "_pct"}
		t = t.filter(func(c Column) bool { return slices.Contains(keep, c.ID) })
	}
	gain := slices.IndexFunc(t.Columns, func(c Column) bool { return strings.HasSuffix(c.ID, "_pct") })
	if gain >= 0 && t.Rows[0].Cells[gain].Number != nil {
		now := *t.Rows[0].Cells[gain].Number
		moves := func(r Row) float64 {
			if x := r.Cells[gain].Number; x != nil {
				return math.Abs(*x - now)
			}
			return math.Inf(1)
		}
		slices.SortStableFunc(t.Rows[1:], func(a, b Row) int { return cmp.Compare(moves(b), moves(a)) })
	}
	t.Rows = t.Rows[:min(4, len(t.Rows))]
	for i, c := range t.Columns {
		if c.Interval { // elsewhere the sentence over the table says the unit
			t.Columns[i].Name, t.Columns[i].Unit = w.V.Text("gain of %s", c.Name), "%"
		}
	}
	return []Table{t}
}
