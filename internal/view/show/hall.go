package show

import (
	"slices"

	"spile/internal/view/figure"
)

// What a hall can read of figures and tables that are too full for a slide.

// pooledForHall is the figure of intervals of the practices that have a gain over unsanitized, in their first season
// and without the single studies.
func (w *View) pooledForHall() []Drawing {
	f := w.Intervals()
	f.Title = w.V.Text("Pooled gain of each practice")
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
		f.Panels = []figure.NetPanel{p}
		list = append(list, f)
	}
	return list
}

// outlooksForHall is the figure of what each practice is likely to net, a slide a horizon.
func (w *View) outlooksForHall() []Drawing {
	whole := w.OutlookFigure(w.A.Weighed.Prospect)
	var list []Drawing
	for _, p := range whole.Panels {
		f := whole
		f.Panels = []figure.OutlookPanel{p}
		list = append(list, f)
	}
	return list
}

// cautionsForHall is the table of cautions, one that several practices share once.
func (w *View) cautionsForHall() Table {
	t := w.Cautions()
	out := Table{ID: t.ID, Title: t.Title, Columns: t.Columns}
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
			out.row(r.ID, words(name), r.Cells[1])
			continue
		}
		out.Rows[k].Cells[0].Text += ", " + name
	}
	return out
}

// caveatsForHall is the table of what each caveat does, with the practice of the recommendation only; none where no
// study carries a caveat.
func (w *View) caveatsForHall() []Table {
	t := w.Caveats()
	if len(t.Rows) < 2 {
		return nil
	}
	t.Lead, t.Notes = "", nil
	if o, ok := w.A.Best(); ok {
		keep := []string{"without", "studies", "first", string(o.Practice) + "_pct"}
		t = t.filter(func(c Column) bool { return slices.Contains(keep, c.ID) })
	}
	for i, c := range t.Columns {
		if c.Interval { // elsewhere the sentence over the table says the unit
			t.Columns[i].Unit = "%"
		}
	}
	return []Table{t}
}
