package look

import (
	"net/http"
	"time"

	"spile/internal/trade/practice"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// mark is a number of the answer, and where it is taken apart.
type mark struct{ Name, Value, Within, Href string }

// front is the answer on one screen: what to do, the money, how sure, what is new, what waits for somebody, and where
// to go.
func (s *Room) front(w http.ResponseWriter, r *http.Request) {
	t := s.tryRanked(r.URL.Query())
	if len(t.faults) > 0 {
		http.Redirect(w, r, page.WithQuery("/profit", r.URL.RawQuery), http.StatusSeeOther)
		return
	}
	v, q := s.Voice, t.good.Encode()
	if err := s.ask(t, show.Draws); err != nil {
		page.Fail(w, http.StatusUnprocessableEntity, err.Error())
		return
	}
	view := show.Of(t.answer, v)
	data := struct {
		Frame   page.Frame
		Deed    string
		Lead    []string
		Of      string
		Marks   []mark
		Tried   []string
		Profit  string
		Book    bool
		News    []page.Link
		Since   string
		Waiting []page.Link
	}{Frame: s.Frame(v.Text("Overview"), q, "/"), Deed: view.Deed(), Lead: view.Recommendation(),
		Marks: s.marks(t, view), Tried: s.changes(t), Profit: page.WithQuery("/profit", q), Book: s.Book != nil}
	if p := t.answer.Input.Prices; p != nil {
		if day, err := time.Parse(time.DateOnly, p.AsOf); err == nil {
			data.Of = v.Text("%s, prices of %s", v.Place(p.Place), v.Date(day))
		}
	}
	for _, waits := range s.Waits {
		data.Waiting = append(data.Waiting, waits()...)
	}
	if s.Book != nil {
		data.News, data.Since = s.news()
	}
	if body, ok := s.Make(w, "front", data); ok {
		page.Send(w, r, page.HTML, body)
	}
}

// marks are the four numbers of what is recommended; none where nothing is.
func (s *Room) marks(t *whatIf, view *show.View) []mark {
	o, ok := t.answer.Best()
	if !ok {
		return nil
	}
	v, q, money := s.Voice, t.good.Encode(), t.answer.Input.Prices.Currency
	net, against := o.Today, v.Text("a tap and season over today's practice")
	if o.IsToday || t.answer.Untold.Practice != "" {
		net, against = o.Unsanitized, v.Text("a tap and season over unsanitized")
	}
	list := []mark{{against, v.Money(net.Average(), money), v.MoneyRange(net.NetLow, net.NetHigh, money),
		page.WithQuery("/profit/budget/"+o.ID(), q)}}
	if o.Practice != practice.Unsanitized {
		list = append(list, mark{v.Text("more sap than unsanitized"), v.Percent(o.GainPct),
			v.PercentRange(o.LowPct, o.HighPct), page.WithQuery("/gains/why/"+string(o.Practice), q)})
	}
	if o.ChanceBest != nil {
		list = append(list, mark{v.Text("chance of being best"), show.Chance(v, *o.ChanceBest), "",
			page.WithQuery("/sure", q)})
	}
	if o.ChanceLose != nil {
		list = append(list, mark{v.Text("chance of losing against today"), show.Chance(v, *o.ChanceLose), "",
			page.WithQuery("/sure", q)})
	}
	return list
}

// news are the latest changes of the year, and where it is said what they moved.
func (s *Room) news() (list []page.Link, since string) {
	const most = 4
	from := s.Now().AddDate(-1, 0, 0)
	all, err := s.Book.Latest(0, most)
	if err != nil {
		return nil, ""
	}
	for _, e := range all {
		if e.At.Before(from) {
			break
		}
		if e.Part {
			e.What = s.Voice.Text("not all of this change is yours to see")
		}
		list = append(list, page.Link{Name: e.What, Says: s.Voice.Date(e.At.UTC()),
			Href: page.HistoryAddress(e.ID)})
	}
	return list, page.WithQuery("/changes", "since="+from.UTC().Format(time.DateOnly))
}
