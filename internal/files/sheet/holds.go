package sheet

import (
	"slices"

	"spile/internal/note"
	"spile/internal/trade/column"
)

// holding is what a file holds, told by the columns of its table or the keys of its TOML, and the call that reads it.
type holding struct {
	what note.Term
	call string
}

var (
	studiesHeld  = holding{note.Term("studies"), "spile gains FILE"}
	sectionsHeld = holding{note.Term("the sections of a sugarbush"), "spile plan EVIDENCE PRICES FILE"}
	trialHeld    = holding{note.Term("what was written down of a trial"), "spile trial add BOOK.spile NAME FILE"}
	layoutHeld   = holding{note.Term("the layout of a trial"), "spile trial sheet FILE -o SHEETS.pdf"}
	readingsHeld = holding{note.Term("readings of a trial"), "spile trial add BOOK.spile NAME FILE"}
	seasonsHeld  = holding{note.Term("the season table of a trial"), "spile trial analyse FILE"}
	pricesHeld   = holding{note.Term("prices"), "spile profit EVIDENCE FILE"}
)

// holds is what a table holds; false where its columns do not tell.
func (h *head) holds() (holding, bool) {
	has := func(names ...string) bool {
		for _, n := range names {
			if _, ok := h.index[n]; !ok {
				return false
			}
		}
		return true
	}
	switch {
	case has("study") || has("mean") || has("gain_pct"):
		return studiesHeld, has("study", "practice")
	case has("section"):
		return sectionsHeld, has("taps")
	}
	role := roleOf(h)
	ours := column.Names(columnsOf(role))
	if slices.ContainsFunc(h.names, func(n string) bool {
		_, date := column.ParseMoment(n)
		return n != "" && !date && !slices.Contains(ours, n)
	}) {
		return trialHeld, false // a table of somebody else may be headed so too
	}
	switch role {
	case layoutRole:
		return layoutHeld, has("season", "taps")
	case longRole, wideRole:
		return readingsHeld, true
	case sumsRole:
		return seasonsHeld, true
	default:
		return trialHeld, role != ""
	}
}

// holds is what a TOML file holds; false where its keys do not tell, or are of several.
func (r *record) holds() (holding, bool) {
	trial := r.has("analysis.reference") || len(r.below("analysis"))+len(r.below("design"))+
		len(r.below("season_rules")) > 0
	switch priced := r.has("currency") || len(r.below("sells"))+len(r.below("use")) > 0; {
	case isBush(r):
		return sectionsHeld, true
	case trial:
		return trialHeld, !priced
	default:
		return pricesHeld, priced
	}
}

// instead is true of a file that holds something else than it is read for, which it says.
func (f *faults) instead(held holding, known bool, wanted holding, at note.Where) bool {
	if !known || held.what == wanted.what {
		return false
	}
	f.add(note.New("this file holds %s, and what is wanted here is %s; it is read by: %s", held.what, wanted.what,
		held.call).At(note.Where{File: at.File, Sheet: at.Sheet}))
	return true
}
