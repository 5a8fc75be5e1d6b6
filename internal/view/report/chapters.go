package report

import (
	"slices"
	"strconv"

	"spile/internal/view/figure"
	"spile/internal/view/show"
)

// chapter is a section of the report before it is HTML or PDF.
type chapter struct {
	id, name string
	fresh    bool // begins a page in print
	hush     bool // its one table says its name
	text     []string
	spreads  []spread
}

// spread is figures and tables that belong together.
type spread struct {
	figures []Figure
	tables  []show.Table
}

// chapters are the sections of the report of an answer after the recommendation and the figure of what each practice
// nets, in their order: the same in every form of it.
func chapters(w *show.View) []chapter {
	a, v := w.A, w.V
	figures := map[string][]Figure{}
	for _, f := range Figures(w) {
		figures[f.Name] = []Figure{f}
	}
	if a.Pool != nil {
		figures["bars"], figures["intervals"] = bars(w), intervals(w)
	}
	// of is a figure, where name names one that the answer has, and the tables that hold anything.
	of := func(name string, tables ...show.Table) spread {
		s := spread{figures: figures[name]}
		for _, t := range tables {
			if len(t.Rows) > 0 || len(t.Notes) > 0 {
				s.tables = append(s.tables, t)
			}
		}
		return s
	}
	priced := a.Input.Prices != nil && len(a.Ranking) > 0

	list := []chapter{
		chapter{id: "gains", name: v.Text("Gains"), fresh: true, spreads: []spread{
			of("bars", w.Gains()), of("intervals", w.Shares(), w.Variances(), w.Between()),
		}},
		chapter{id: "rotation", name: v.Text("Rotation"), fresh: true,
			spreads: []spread{of("ageing", w.Rotation(), w.Ageing())}},
	}
	if priced {
		c := chapter{id: "profit", name: v.Text("Profit"), fresh: true, spreads: []spread{of("", w.Ranking())}}
		if i := a.Recommended; i >= 0 {
			c.spreads = append(c.spreads, of("", w.Budget(a.Ranking[i], true), w.Budget(a.Ranking[i], false)))
		}
		c.spreads = append(c.spreads, of("", w.Marginal()))
		list = append(list, c)
	}
	if x := a.Weighed; x != nil && x.Prospect != nil {
		c := chapter{id: "sure", name: v.Text("How sure"), fresh: true, text: w.Certainty(), spreads: []spread{
			of("outlook", w.Likely(x.Prospect, false)), of("swings", w.Breaks(x.Prospect, x.Hangs)),
			of("map", w.Likely(x.Prospect, true)),
		}}
		if x.Knowing != nil {
			c.spreads = append(c.spreads, of("", w.Knowing(x.Prospect, *x.Knowing)))
		}
		list = append(list, c)
	}
	if x := a.Weighed; x != nil && x.Next != nil {
		list = append(list, chapter{id: "next-trial", name: v.Text("Next trial"), fresh: true, text: w.NextTrial(),
			spreads: []spread{of("trial-size", w.Trials(x.Next))}})
	}
	list = append(list,
		chapter{id: "caveats", name: v.Text("Caveats"), fresh: true, spreads: []spread{
			of("", w.Caveats()), of("", w.WithoutStudies()), of("", w.WithoutSites()), of("", w.Indirect()),
		}},
		chapter{id: "evidence", name: v.Text("Evidence"), fresh: true, spreads: []spread{of("", w.Evidence())}},
	)
	if priced {
		list = append(list,
			chapter{id: "cautions", name: v.Text("Cautions"), hush: true, spreads: []spread{of("", w.Cautions())}},
			chapter{id: "assumptions", name: v.Text("Assumptions"), fresh: true,
				spreads: []spread{of("", w.Assumptions())}},
		)
	}
	return append(list, chapter{id: "methods", name: v.Text("Methods and data"), text: []string{w.Methods()},
		spreads: []spread{of("", w.Sources())}})
}

// How many rows a figure of studies holds where it fills a printed page.
const (
	rowsOfPage = 38 // intervals
	barsOfPage = 62 // bars, which stand closer
)

// intervals is the figure of intervals in as many parts as keep each on one printed page.
func intervals(w *show.View) []Figure {
	whole := w.Intervals()
	var groups []figure.IntervalGroup
	for _, g := range whole.Groups {
		for i, studies := range pieces(g.Studies, rowsOfPage-3) {
			part := figure.IntervalGroup{Name: g.Name, Studies: studies}
			if i > 0 {
				part.Name = w.V.Text("%s, continued", g.Name)
			}
			groups = append(groups, part)
		}
		groups[len(groups)-1].Pooled = g.Pooled
	}
	// a group has its name, its pooled gain and the space between
	parts := pages(groups, rowsOfPage, func(g figure.IntervalGroup) int { return len(g.Studies) + 3 })
	var list []Figure
	for i, groups := range parts {
		f := whole
		f.Groups, f.Beside = groups, whole.Groups
		f.Title = partTitle(w, whole.Title, i, len(parts))
		list = append(list, Figure{"intervals-" + strconv.Itoa(i+1), f.Draw})
	}
	return list
}

// bars is the figure of bars in as many parts as keep each on one printed page.
func bars(w *show.View) []Figure {
	whole := w.Bars()
	var groups []figure.BarGroup
	for _, g := range whole.Groups {
		for i, studies := range pieces(g.Studies, barsOfPage-2) {
			part := g
			part.Studies = studies
			if i > 0 {
				part.Name = w.V.Text("%s, continued", g.Name)
			}
			groups = append(groups, part)
		}
	}
	parts := pages(groups, barsOfPage, func(g figure.BarGroup) int { return len(g.Studies) + 2 })
	if len(parts) < 2 {
		return []Figure{{"bars", whole.Draw}}
	}
	var list []Figure
	for i, groups := range parts {
		f := whole
		f.Groups = groups
		f.Title = partTitle(w, whole.Title, i, len(parts))
		list = append(list, Figure{"bars-" + strconv.Itoa(i+1), f.Draw})
	}
	return list
}

func partTitle(w *show.View, title string, i, of int) string {
	if of < 2 {
		return title
	}
	return w.V.Text("%s: part %d of %d", title, i+1, of)
}

// pieces cuts a list into pieces of n at most; an empty one is one piece.
func pieces[T any](list []T, n int) [][]T {
	if len(list) == 0 {
		return [][]T{nil}
	}
	return slices.Collect(slices.Chunk(list, n))
}

// pages puts groups, in their order, on pages of so many rows.
func pages[T any](groups []T, rows int, of func(T) int) [][]T {
	var parts [][]T
	room := 0
	for _, g := range groups {
		if len(parts) == 0 || of(g) > room {
			parts, room = append(parts, nil), rows
		}
		parts[len(parts)-1] = append(parts[len(parts)-1], g)
		room -= of(g)
	}
	return parts
}
