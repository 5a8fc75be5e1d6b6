package edit

import (
	"net/http"
	"slices"
	"strconv"

	"spile/internal/files/book"
	"spile/internal/view/web/page"
)

// step is one of those that lead from an empty workbook to an answer.
type step struct {
	Name, Says string
	Done       bool
	Links      []page.Link // what to do, or where to look
}

// steps lead who begins; none where all is done.
func (s *Room) steps() []step {
	v := s.Voice
	evidence := step{Name: v.Text("Bring your evidence"), Links: []page.Link{
		{Name: v.Text("Upload a file or paste rows"), Href: "/take"},
		{Name: v.Text("Add a study"), Href: "/study"}},
		Says: v.Text("Lacking: a study. Any spreadsheet will do, in its own words: one row a practice of a study, or " +
			"one column a practice.")}
	if n := len(s.Have.Studies) + len(s.Have.Trials); n > 0 {
		evidence.Done = true
		evidence.Says = v.Text("Done: %s.", v.Text("%d studies", n))
		evidence.Links = []page.Link{{Name: v.Text("Bring more"), Href: "/take"}}
	}
	prices := step{Name: v.Text("Bring your prices"), Links: []page.Link{{Name: v.Text("Prices"), Href: "/prices"}},
		Says: v.Text("Lacking: what syrup brings, and what spouts, drops and an hour of work cost.")}
	if p := s.Have.Prices; p != nil {
		prices.Done, prices.Says = true, v.Text("Done: %s.", v.Text("prices in %s", v.MoneyUnit(p.Currency)))
	}
	answer := step{Name: v.Text("See the answer")}
	switch {
	case s.Priced():
		return nil
	case s.Base != nil:
		answer.Says = v.Text("How much more sap each practice gives can be seen; what it brings waits for prices.")
		answer.Links = []page.Link{{Name: v.Text("Gains"), Href: "/gains"},
			{Name: v.Text("Evidence"), Href: "/evidence"}}
	case evidence.Done:
		answer.Says = v.Text("There is no answer yet: what stands in the way is said above.")
	default:
		answer.Says = v.Text("It waits for evidence.")
	}
	return []step{evidence, prices, answer}
}

// taken says what a change took in, and where to look at it.
func (s *Room) taken(r *http.Request) (said string, look []page.Link) {
	id, err := strconv.ParseInt(r.URL.Query().Get("taken"), 10, 64)
	if err != nil {
		return "", nil
	}
	all, err := s.Book.History(id+1, 1)
	if err != nil || len(all) == 0 || all[0].ID != id {
		return "", nil
	}
	v, e := s.Voice, all[0]
	rows, words := 0, 0
	var studies []string
	for _, t := range e.That(func(x book.Step) bool { return !x.Removed() }) {
		x, ok := s.Study(t.Key)
		switch {
		case t.Kind == book.Word:
			words++
		case t.Kind == book.Study && ok:
			studies = append(studies, x.Name)
			for _, a := range x.Arms {
				if !a.Reference || a.Mean != nil { // one that no row gave has nothing
					rows++
				}
			}
		}
	}
	if len(studies) == 0 {
		return "", nil
	}
	if more := len(studies) - 6; more > 1 {
		studies = append(studies[:6:6], v.Text("%d more", more))
	}
	said = v.Text("Taken in: %s. Rows: %d.", v.List(studies), rows)
	if words > 0 {
		said += " " + v.Text("Words settled for your next table too: %d.", words)
	}
	for _, p := range s.Places {
		if slices.Contains([]string{"/gains", "/evidence", "/profit"}, p.Path) {
			look = append(look, page.Link{Name: p.Name, Href: p.Path})
		}
	}
	return said, append(look, page.Link{Name: v.Text("History"), Href: page.HistoryAddress(id)})
}
