package edit

import (
	"net/http"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/view/report"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// changes is the page of what came since a day or a change.
func (s *Room) changes(w http.ResponseWriter, r *http.Request) {
	v, since := s.Voice, page.Clean(r.URL.Query().Get("since"))
	p := page.Page{}
	body := struct {
		Since, Slides string
		Tables        []page.Tabled
	}{Since: since}
	if s.Base != nil {
		body.Slides = page.WithQuery("/changes/slides.pdf", r.URL.RawQuery)
	}
	if view, err := s.since(r, since); err != nil {
		p.Trouble = page.Refused(s.Said(page.Faults(err))...)
	} else {
		p.Lead = view.Moved()
		for _, t := range view.TablesAt("changes", show.Page) {
			body.Tables = append(body.Tables, page.TableAlone(t).At("/changes", t.ID, r.URL.Query()))
		}
	}
	p.Body = body
	s.Show(w, "changes", v.Text("What came since"), p)
}

// changesFile answers with its table as a file.
func (s *Room) changesFile(w http.ResponseWriter, r *http.Request) {
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	slides := r.PathValue("file") == "slides.pdf" && s.Base != nil
	view, err := s.since(r, page.Clean(r.URL.Query().Get("since")))
	switch {
	case err != nil:
		s.Missing(w, r)
		return
	case !slides:
		for _, t := range view.TablesAt("changes", show.Page) {
			if show.FileName(t.ID) == name {
				s.SendTable(w, r, t, kind, r.PathValue("file"))
				return
			}
		}
		s.Missing(w, r)
		return
	}
	var body []byte
	a, err := s.Memo.Thorough(s.Base)
	if err == nil {
		a, err = s.Memo.Weigh(a, a.Everything())
	}
	if err == nil {
		told := *a
		told.Since = view.A.Since
		body, err = report.Talk{}.PDF(&told, s.Voice, s.Version)
	}
	if err != nil {
		http.Error(w, s.Voice.Text("The report could not be made: %s", err.Error()), http.StatusInternalServerError)
		return
	}
	page.Attach(w, "changes-slides.pdf")
	page.Send(w, r, page.PDF, body)
}

// since works out how the answer of the workbook came to be what it is.
func (s *Room) since(r *http.Request, text string) (*show.View, error) {
	from, err := s.Book.Since(text)
	if err != nil {
		return nil, err
	}
	since, in := new(advice.Since), advice.Usual(s.Have.Input)
	for m, err := range s.Book.Replay(from, book.Moments) {
		if err == nil {
			err = r.Context().Err()
		}
		if err != nil {
			return nil, err
		}
		since.Steps = append(since.Steps, s.Memo.Answer(advice.Step{Change: m.Last.ID, At: m.Last.At, Who: m.Who,
			Came: m.Came, Why: m.Why}, m.Input))
	}
	return show.Of(&advice.Advice{Input: in, Since: since, Recommended: -1}, s.Voice), nil
}
