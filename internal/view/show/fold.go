package show

import (
	"slices"
	"strings"

	"spile/internal/trade/practice"
)

// ahead is how many rows of a long table a page shows before a click.
const ahead = 6

// read is how many notes without a mark a page shows before it.
const read = 2

// Folded is a table for a page: of a long one the rows behind a click are Later, with most of what is to be read with
// them. Of what is ranked these are other
// rotations of a practice, what is not permitted or not studied, and what comes after the sixth; the one recommended
// and today's stay.
func (w *View) Folded(t Table) Table {
	v := w.V
	if len(t.Columns) > 4 {
		t.Hint = v.Text("Move it aside for more columns.")
	}
	general := 0
	for _, n := range t.Notes {
		if n.Mark == "" {
			general++
		}
	}
	if general > read+1 {
		t.Read, t.Rest = read, v.Text("%d more notes", general-read)
	}
	if len(t.Rows) <= ahead+2 || t.ID == "cautions" || strings.HasPrefix(t.ID, "parts-") { // for all to see, and whole
		return t
	}
	first := map[string]bool{}
	for _, i := range w.Choices() {
		o := w.A.Ranking[i]
		open := o.Verdict == practice.Permitted && o.Studied && o.With == ""
		if i == w.A.Recommended || o.IsToday || open && len(first) < ahead {
			first[o.ID()] = true
		}
	}
	ranked := !slices.ContainsFunc(t.Rows, func(r Row) bool { return !w.ranks(r.ID) })
	t.Rows = slices.Clone(t.Rows)
	later := 0
	for i, r := range t.Rows {
		if ranked && !first[r.ID] || !ranked && i >= ahead {
			t.Rows[i].Later = true
			later++
		}
	}
	t.Rest = v.Text("%d more rows", later)
	if ranked {
		t.Rest = v.Text("%d more: other intervals, combinations, what is held back", later)
	}
	return t
}

// ranks is true of the ID of an option that is ranked.
func (w *View) ranks(id string) bool {
	for _, o := range w.A.Ranking {
		if o.ID() == id {
			return true
		}
	}
	return false
}
