package show

import (
	"slices"

	"spile/internal/view/figure"
)

// How many rows a figure of studies holds where it fills a printed page.
const (
	rowsOfPage = 50 // intervals, a little smaller then
	barsOfPage = 72 // bars, which stand closer
)

// intervalsInParts is the figure of intervals in as many parts as keep each on one printed page; without a row a study
// it is one.
func (w *View) intervalsInParts() []Drawing {
	whole := w.Intervals()
	if !whole.Rows() {
		return []Drawing{whole}
	}
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
	var list []Drawing
	for i, groups := range parts {
		f := whole
		f.Groups, f.Beside = groups, whole.Groups
		f.Title = w.partTitle(whole.Title, i, len(parts))
		list = append(list, f)
	}
	return list
}

// barsInParts is the figure of bars in as many parts as keep each on one printed page; without a row a study it is one.
func (w *View) barsInParts() []Drawing {
	whole := w.Bars()
	if !whole.Rows() {
		return []Drawing{whole}
	}
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
		return []Drawing{whole}
	}
	var list []Drawing
	for i, groups := range parts {
		f := whole
		f.Groups = groups
		f.Title = w.partTitle(whole.Title, i, len(parts))
		list = append(list, f)
	}
	return list
}

func (w *View) partTitle(title string, i, of int) string {
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
