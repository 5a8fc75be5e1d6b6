package report

import (
	"slices"

	"spile/internal/view/show"
)

// chapter is a section of the report before it is HTML or PDF.
type chapter struct {
	id, name string
	hush     bool // its one table says its name
	text     []string
	spreads  []show.Spread
}

// chapters are the sections of the report of an answer after the recommendation and the figure of what each practice
// nets, in their order: the same in every form of it. One that the answer has nothing for is left out.
func chapters(w *show.View) []chapter {
	v := w.V
	list := []chapter{
		{id: "gains", name: v.Text("Gains")},
		{id: "trust", name: v.Text("Can this pool be trusted?"), text: w.Standing()},
		{id: "rotation", name: v.Text("Rotation")},
		{id: "profit", name: v.Text("Profit")},
		{id: "sure", name: v.Text("How sure"), text: w.Certainty()},
		{id: "next-trial", name: v.Text("Next trial"), text: w.NextTrial()},
		{id: "caveats", name: v.Text("Caveats")},
		{id: "evidence", name: v.Text("Evidence")},
		{id: "changes", name: v.Text("What came since"), text: w.Moved()},
		{id: "cautions", name: v.Text("Cautions"), hush: true},
		{id: "assumptions", name: v.Text("Assumptions")},
		{id: "methods", name: v.Text("Methods and data"), text: []string{w.Methods()}},
	}
	for i, c := range list {
		list[i].spreads = w.Spreads(show.Report, c.id)
	}
	return slices.DeleteFunc(list, func(c chapter) bool { return len(c.spreads) == 0 && c.id != "methods" })
}
