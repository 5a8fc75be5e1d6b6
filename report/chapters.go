package report

import (
	"strconv"

	"spile/figure"
	"spile/show"
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
		figures["intervals"] = intervals(w)
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
		chapter{id: "rotation", name: v.Text("Rotation"), fresh: true, spreads: []spread{of("ageing", w.Rotation(), w.Ageing())}},
	}
	if priced {
		c := chapter{id: "profit", name: v.Text("Profit"), fresh: true, spreads: []spread{of("", w.Ranking())}}
		if i := a.Recommended; i >= 0 {
			c.spreads = append(c.spreads, of("", w.Budget(a.Ranking[i], true), w.Budget(a.Ranking[i], false)))
		}
		c.spreads = append(c.spreads, of("", w.Marginal()))
		list = append(list, c)
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
			chapter{id: "assumptions", name: v.Text("Assumptions"), fresh: true, spreads: []spread{of("", w.Assumptions())}},
		)
	}
	return append(list, chapter{id: "methods", name: v.Text("Methods and data"), text: []string{w.Methods()}, spreads: []spread{of("", w.Sources())}})
}

// rowsOfPage is how many studies the figure of intervals holds where it fills a printed page at its own size.
const rowsOfPage = 38

// intervals is the figure of intervals in as many parts as keep each on one printed page, whole practices together.
func intervals(w *show.View) []Figure {
	whole := w.Intervals()
	var parts [][]figure.IntervalGroup
	rows := 0
	for _, g := range whole.Groups {
		n := len(g.Studies) + 3 // its name, its pooled gain and the space between
		if len(parts) == 0 || rows+n > rowsOfPage {
			parts, rows = append(parts, nil), 0
		}
		parts[len(parts)-1] = append(parts[len(parts)-1], g)
		rows += n
	}
	var list []Figure
	for i, groups := range parts {
		f := whole
		f.Groups = groups
		if len(parts) > 1 {
			f.Title = w.V.Text("%s: part %d of %d", whole.Title, i+1, len(parts))
		}
		list = append(list, Figure{"intervals-" + strconv.Itoa(i+1), f.Draw})
	}
	return list
}
