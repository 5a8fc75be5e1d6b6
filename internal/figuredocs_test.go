package internal_test

import (
	"slices"
	"strings"
	"testing"

	"spile/internal/view/show"
)

// The figures and the tables that can be shown, and where each stands.
func init() {
	made["figures"] = func() string { return exhibits(show.Figures) }
	made["tables"] = func() string { return exhibits(show.Tables) }
}

// needs says in words what must be known, or asked, before something can be shown.
var needs = []struct {
	need show.Need
	text string
}{
	{show.Studies, "studies"}, {show.Prices, "prices"}, {show.Draws | show.Chances | show.Knowing, "draws"},
	{show.LeftOut | show.Checked, "leaving out in turn"}, {show.Explained, "refits"},
	{show.Trials, "trials to choose from"},
	{show.History, "what came since (`--since`)"},
	{show.OfTrial, "a trial"}, {show.OfSeasons, "a season read"}, {show.OfSprings, "its weather"},
	{show.OfLayout, "a layout"}, {show.OfPower, "a question"}, {show.OfPlan | show.OfSection, "a sugarbush"},
}

// exhibits are a row each: name, what it shows, where it stands, what it needs.
func exhibits[T any](list []show.Exhibit[T]) string {
	var rows [][]string
	for _, x := range list {
		var needed []string
		for _, n := range needs {
			if x.Needs&n.need != 0 {
				needed = append(needed, n.text)
			}
		}
		rows = append(rows, []string{"`" + x.Key + "`", x.Help, at(x, show.Page), at(x, show.Closer),
			at(x, show.Report),
			at(x, show.Talk), at(x, show.Command, show.More), strings.Join(needed, ", ")})
	}
	head := []string{"name", "what it shows", "page", "its closer look", "chapter of the report", "slides", "command",
		"needs"}
	for i := len(head) - 1; i >= 0; i-- { // a column without anything in it says nothing
		if !slices.ContainsFunc(rows, func(r []string) bool { return r[i] != "" }) {
			head = slices.Delete(head, i, i+1)
			for k := range rows {
				rows[k] = slices.Delete(rows[k], i, i+1)
			}
		}
	}
	return markdown(head, rows...)
}

// at are the keys of where it stands in some media.
func at[T any](x show.Exhibit[T], media ...show.Medium) string {
	var list []string
	for _, s := range x.At {
		switch {
		case !slices.Contains(media, s.Medium):
		case s.Medium == show.More:
			list = append(list, s.In+" --thorough")
		default:
			list = append(list, s.In)
		}
	}
	return strings.Join(list, ", ")
}

// Everything that may be needed has words, and a stranger's figure has a row.
func TestExhibitsInDocs(t *testing.T) {
	var known show.Need
	for _, n := range needs {
		known |= n.need
	}
	for _, x := range show.Figures {
		if x.Needs&^known != 0 {
			t.Errorf("%s needs what has no words", x.Key)
		}
	}
	for _, x := range show.Tables {
		if x.Needs&^known != 0 {
			t.Errorf("%s needs what has no words", x.Key)
		}
	}
	mine := show.Exhibit[show.Drawing]{Key: "made-up", Help: "what a stranger made up", Needs: show.Prices,
		At: []show.Spot{{Medium: show.Page, In: "gains"}}}
	got := exhibits(append(slices.Clip(show.Figures), mine))
	if !strings.Contains(got, "| `made-up` | what a stranger made up | gains |") ||
		!strings.Contains(got, "| prices |") {
		t.Errorf("a stranger's figure has no row:\n%s", got)
	}
}
