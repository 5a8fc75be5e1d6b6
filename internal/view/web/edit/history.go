package edit

import (
	"cmp"
	"net/http"
	"strconv"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/past"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/station"
	"spile/internal/trade/trial"
	"spile/internal/view/say"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
	"spile/internal/view/web/sugarbush"
)

// entry is a change as the history shows it.
type entry struct {
	ID                      int64
	At, Who, What, Why      string
	Added, Changed, Removed string
	Values                  []changed
	More, Unlisted          int // values, and replaced readings with all of theirs
	Undo                    bool
	Said                    string // why it is not to be undone
}

// changed is a thing that a change put in the place of another, value by value: what it is, what was, what is now.
type changed struct {
	Thing  string
	Values [][3]string
}

// pageOfHistory is how many changes stand on one page, and valuesOfChange how many values of one; its own page has all.
const (
	pageOfHistory  = 100
	valuesOfChange = 12
)

func (s *Room) history(w http.ResponseWriter, r *http.Request, failed error) {
	v := s.Voice
	before, _ := strconv.ParseInt(r.URL.Query().Get("before"), 10, 64)
	most, values := pageOfHistory, valuesOfChange
	lead := []string{v.Text("Every change since the workbook was made, the latest first. Nothing is ever lost: an " +
		"undo is a change as well.")}
	id, _ := strconv.ParseInt(r.PathValue("change"), 10, 64)
	if id > 0 {
		before, most, values = id+1, 1, 1<<30
		lead = []string{v.Text("One change, with its values.")}
	}
	all, err := s.Book.History(max(0, before), most)
	if err != nil {
		page.Fail(w, http.StatusInternalServerError, v.Notes(page.Faults(err))...)
		return
	}
	if id > 0 && (len(all) == 0 || all[0].ID != id) {
		s.Missing(w, r)
		return
	}
	older := ""
	if len(all) > 0 && id <= 0 {
		if last := all[len(all)-1]; last.Older {
			older = "/history?before=" + strconv.FormatInt(last.ID, 10)
		}
	}
	var list []entry
	for _, e := range all {
		list = append(list, s.entry(e, values))
	}
	proves, unproved := show.Proof(v)
	p := page.Page{Lead: lead, Body: struct {
		Entries          []entry
		Older            string
		State, Digest    string
		Proves, Unproved []string
	}{list, older, s.Have.Sources[0].Digest, s.Have.History, proves, unproved}}
	if failed != nil {
		p.Trouble, _ = s.Troubled(failed, nil)
	}
	s.Show(w, "history", v.Text("History"), p)
}

// entry is a change with the first of its values.
func (s *Room) entry(e book.Entry, most int) entry {
	v := s.Voice
	x := entry{ID: e.ID, At: s.At(e.At), Who: e.Who, What: e.What, Why: e.Why,
		Added:   s.touched(e.That(book.Step.Added), e.Beyond[0]),
		Changed: s.touched(e.That(book.Step.Replaced), e.Beyond[1]),
		Removed: s.touched(e.That(book.Step.Removed), e.Beyond[2]),
		Undo:    e.Undo == book.Undoable}
	if o := e.Origin; o != nil {
		x.Who = v.Text("%s, brought from %s", e.Who, o.From)
		if o.ID > 0 {
			x.Who = v.Text("%s, brought from %s (change %d there)", e.Who, o.From, int(o.ID))
		}
	}
	x.Unlisted = e.Beyond[1]
	if e.Part {
		x.What = v.Text("not all of this change is yours to see")
	}
	switch e.Undo {
	case book.Undone:
		x.Said = v.Text("undone")
	case book.Overtaken:
		x.Said = v.Text("changed again since")
	}
	for _, step := range e.Steps {
		before, after, err := step.Values()
		if err != nil {
			continue // History proves what it reads; check names what cannot be read
		}
		values := s.differ(before, after)
		if fit := max(0, most); len(values) > fit {
			x.More += len(values) - fit
			values = values[:fit]
		}
		most -= len(values)
		switch thing, n := s.Thing(step.Touched), len(x.Values); {
		case len(values) == 0:
		case n > 0 && x.Values[n-1].Thing == thing: // one word after the other
			x.Values[n-1].Values = append(x.Values[n-1].Values, values...)
		default:
			x.Values = append(x.Values, changed{thing, values})
		}
	}
	return x
}

// differ is what two versions of one thing say otherwise. Of what was added or removed only a reason is said: the rest
// stands in the workbook, or did.
func (s *Room) differ(before, after any) [][3]string {
	v := s.Voice
	was := book.Later{Value: before}
	switch now := cmp.Or(after, before).(type) {
	case input.Exclusion:
		return said(v, v.Text("reason"), before, after, func(x input.Exclusion) string { return x.Reason })
	case input.Search:
		return said(v, v.Text("how studies were looked for"), before, after,
			func(x input.Search) string { return string(x) })
	case station.Hold:
		return s.held(before, now)
	case doubt.Answer:
		return said(v, v.Text("said to be meant"), before, after, func(x doubt.Answer) string { return x.About })
	case gloss.Sense:
		return said(v, v.Text("“%s”", now.Said), before, after, func(x gloss.Sense) string { return x.Means })
	case evidence.Study:
		if a, both := before.(evidence.Study); both && after != nil {
			return s.studies.differ(sheet.Cells([]evidence.Study{a}), sheet.Cells([]evidence.Study{now}))
		}
	case price.Prices:
		if before != nil && after != nil {
			return s.prices.besidePrices(now)(was)
		}
	case practice.Practice:
		if before != nil && after != nil {
			return s.practices.besidePractice([]ownRow{ownOf(now)})(was)
		}
	case practice.Rule:
		if before != nil && after != nil {
			return s.rules.besideRule(now)(was)
		}
	case bush.Draft:
		if before != nil && after != nil {
			return (&sugarbush.Room{Site: s.Site}).Beside(now)(was)
		}
	case past.Season:
		if before != nil && after != nil {
			return s.pasts.beside([]past.Season{now})(was)
		}
	case book.Logged[trial.Decision]: // which has a reason
		return s.ofTrial(before, after)
	default:
		if before != nil && after != nil {
			return s.ofTrial(before, after)
		}
	}
	return nil
}

// said is what two versions of a thing that is one text say, where either may be lacking.
func said[T any](v *say.Voice, name string, before, after any, text func(T) string) [][3]string {
	a, _ := before.(T)
	b, _ := after.(T)
	return [][3]string{{name, cmp.Or(text(a), v.None()), cmp.Or(text(b), v.None())}}
}

// ofTrial is what two versions of one thing of a trial say otherwise.
func (s *Room) ofTrial(before, after any) (list [][3]string) {
	v := s.Voice
	gallons := v.Units().Gallons()
	was, now := sheet.TrialCells(book.Alone(before), gallons), sheet.TrialCells(book.Alone(after), gallons)
	for i := range was {
		list = append(list, differing(was[i], now[i], func(c string, row int) string {
			if len(was[i].Rows) > 1 || len(now[i].Rows) > 1 {
				return v.Text("%s, row %d", c, row+1)
			}
			return c
		}, v.None())...)
	}
	return list
}

// touched names what a change touched: a few by name, many by their number, as the readings that are beyond the list.
func (s *Room) touched(list []book.Touched, beyond int) string {
	const most = 6
	counts, rest := s.Counted(list, 2, beyond)
	var names []string
	for _, t := range rest[:min(len(rest), most)] {
		names = append(names, s.Thing(t))
	}
	names = append(names, counts...)
	if more := len(rest) - most; more > 0 {
		names = append(names, s.Voice.Text("%d more", more))
	}
	return s.Voice.List(names)
}

func (s *Room) undo(w http.ResponseWriter, r *http.Request) {
	id, err := strconv.ParseInt(r.PostForm.Get("change"), 10, 64)
	if err == nil {
		var did book.Saved
		did, err = s.Book.Undo(
			book.Edit{At: s.Now(), Who: s.Who,
				What: s.Voice.Text("undo of change %d", int(id)), Why: page.Why(r.PostForm)}, id)
		if err == nil && did.Change == 0 {
			err = note.Faults{note.New("all that change %d touched stands already as it was before: there is nothing "+
				"to undo", int(id))}
		}
	} else {
		err = note.Faults{note.New("no change is named %s", page.Short(r.PostForm.Get("change")))}
	}
	if err != nil {
		s.history(w, r, err)
		return
	}
	page.SeeOther(w, r, "/history")
}
