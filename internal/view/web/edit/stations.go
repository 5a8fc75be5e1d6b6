package edit

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/people"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/station"
	"spile/internal/view/web/page"
)

// Stations are the pages that say whose studies and trials are, and on which they are released, offered and read.
func Stations(m *page.Routes, s *page.Site) {
	room := New(s, nil)
	m.Get("/stations", func(w http.ResponseWriter, r *http.Request) { room.stations(w, r, page.Trouble{}) })
	m.Get("/offers", func(w http.ResponseWriter, r *http.Request) { room.offers(w, r, page.Trouble{}) })
	for _, a := range station.Acts {
		m.Post(page.ActPath(a), func(w http.ResponseWriter, r *http.Request) { room.act(w, r, a) })
	}
}

// holding is a study or a trial on the page Stations.
type holding struct {
	Of, Name, Kind, Whose, Stage string
	Acts                         []act
}

// act is the form of one.
type act struct {
	station.Act
	Of, Name, Path, Label string
	To                    bool // it asks for a station
	Seen                  book.Sight
}

// acts are those that may be done with a thing by its station, or by a steward.
func (s *Room) acts(h station.Hold, held, steward bool) (list []act) {
	for _, a := range station.Acts {
		if a.Steward == steward && a.Fits(h, held) {
			list = append(list, act{a, h.Of, h.Name, page.ActPath(a), s.Voice.Term(note.Term(a.Name)), a.From == nil,
				s.Have.Sight()})
		}
	}
	return list
}

// stage says how far a thing has come, and why.
func (s *Room) stage(h station.Hold) string {
	v := s.Voice
	text := v.Term(note.Term(string(h.Stage)))
	if h.From != "" {
		text = v.Text("%s, from %s on", text, h.From)
	}
	if h.Reason != "" {
		text += ": " + h.Reason
	}
	return text
}

// held is what two versions of a hold say otherwise; before may be lacking.
func (s *Room) held(before any, now station.Hold) (list [][3]string) {
	v := s.Voice
	was, _ := before.(station.Hold)
	stood := v.None()
	if was != (station.Hold{}) {
		stood = s.stage(was)
	}
	if was.Station != now.Station {
		list = append(list, [3]string{v.Text("station"), cmp.Or(was.Station, v.None()), now.Station})
	}
	return append(list, [3]string{v.Text("who sees it"), stood, s.stage(now)})
}

func (s *Room) stations(w http.ResponseWriter, r *http.Request, t page.Trouble) {
	v := s.Voice
	who, _ := page.Who(r)
	holds := map[[2]string]station.Hold{}
	for _, h := range s.Have.Holds {
		holds[[2]string{h.Of, h.Name}] = h
	}
	var list []holding
	add := func(of, name string) {
		h, held := holds[[2]string{of, name}]
		x := holding{Of: of, Name: name, Kind: v.Term(note.Term(of)), Whose: v.Text("everybody's")}
		if held {
			x.Whose, x.Stage = h.Station, s.stage(h)
		}
		h.Of, h.Name = of, name
		if who.May >= people.Editor && h.Station == who.Station {
			x.Acts = s.acts(h, held, false)
		}
		if who.May >= people.Steward && !held {
			x.Acts = s.acts(h, held, true)
		}
		list = append(list, x)
	}
	for _, x := range s.Have.Trials {
		add(station.Trial, x.Name)
	}
	for _, x := range s.Have.Studies {
		add(station.Study, x.Name)
	}
	first := func(x holding) int { // what somebody may have to decide
		if x.Stage != "" && len(x.Acts) > 0 {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(list, func(a, b holding) int { return first(a) - first(b) })
	p := page.Page{Here: "/stations", Back: &page.Link{}, Trouble: t}
	p.Lead = []string{v.Text("What a station adds is " +
		"its own. Others see a trial once it is released, and a study once a steward has read and admitted it. What " +
		"was withdrawn stays in the history as far as it was seen.")}
	if who.Station != "" {
		p.Lead = append(p.Lead, v.Text("You are of the station %s: what you keep is its own until it is released.",
			who.Station))
	}
	p.Lead = append(p.Lead, v.Notes(note.Faults(s.Have.Notes))...)
	offers := ""
	if who.May >= people.Steward {
		waiting, _, err := s.Book.Offers()
		if err != nil {
			p.Faults = append(p.Faults, s.Said(page.Faults(err))...)
		}
		if len(waiting) > 0 {
			offers = v.Text("%d studies are offered: read them", len(waiting))
		}
	}
	p.Body = struct {
		List   []holding
		Offers string
	}{list, offers}
	s.Show(w, "stations", v.Text("Stations"), p)
}

// offer is a study on the page where stewards read what is offered.
type offer struct {
	Name, Whose, Source, Caveats string
	Own                          string // where it is of the station of who reads it
	Values                       [][3]string
	Acts                         []act
}

func (s *Room) offers(w http.ResponseWriter, r *http.Request, t page.Trouble) {
	v := s.Voice
	who, _ := page.Who(r)
	studies, whose, err := s.Book.Offers()
	if err != nil {
		page.Fail(w, http.StatusInternalServerError, v.Notes(page.Faults(err))...)
		return
	}
	var list []offer
	for i, x := range studies {
		o := offer{Name: x.Name, Whose: whose[i].Station, Source: cmp.Or(x.Source, v.None()),
			Acts:   s.acts(whose[i], true, true),
			Values: s.studies.differ(sheet.Grid{}, sheet.Cells([]evidence.Study{x}))}
		var marks []string
		for _, c := range x.Caveats {
			marks = append(marks, s.Caveat(c))
		}
		if whose[i].Station == who.Station {
			o.Own = v.Text("This is your own station's: let a steward of another read it, where there is one. The " +
				"history says by whom it was admitted.")
		}
		o.Caveats = cmp.Or(strings.Join(marks, ", "), v.Text("none"))
		list = append(list, o)
	}
	s.Show(w, "offers", v.Text("Studies offered"), page.Page{Here: "/stations", Trouble: t, Body: list,
		Back: &page.Link{Name: v.Text("Stations"), Href: "/stations"},
		Lead: []string{v.Text("Read each beside its source. What is admitted is in everybody's pool; what is sent " +
			"back stays with its station, with the reason.")}})
}

// offeredBy is the station that offers a study; "": none does.
func (s *Room) offeredBy(name string) string {
	_, whose, err := s.Book.Offers()
	i := slices.IndexFunc(whose, func(h station.Hold) bool { return h.Name == name })
	if err != nil || i < 0 {
		return ""
	}
	return whose[i].Station
}

// act does one step.
func (s *Room) act(w http.ResponseWriter, r *http.Request, a station.Act) {
	of, name := r.PostForm.Get("of"), r.PostForm.Get("name")
	v := s.Voice
	e := book.Edit{At: s.Now(), Who: s.Who, Why: page.Why(r.PostForm), Seen: page.Seen(r.PostForm),
		What: v.Text("%s: %s", v.Term(note.Term(a.Name)), page.Clean(name))}
	if who, _ := page.Who(r); a.Key == "admit" && who.Station != "" && s.offeredBy(name) == who.Station {
		e.What = v.Text("%s (by its own station)", e.What)
	}
	_, err := s.Book.Step(e, a, of, name, page.Clean(r.PostForm.Get("from")), page.Clean(r.PostForm.Get("to")))
	back, show := "/stations", s.stations
	if a.Steward && a.From != nil {
		back, show = "/offers", s.offers
	}
	if err != nil {
		t, _ := s.Troubled(err, nil)
		show(w, r, t)
		return
	}
	page.SeeOther(w, r, back)
}
