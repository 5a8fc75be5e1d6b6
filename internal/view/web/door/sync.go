package door

import (
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"spile/internal/files/book"
	"spile/internal/files/people"
	"spile/internal/note"
	"spile/internal/view/web/page"
)

// slowly is how long a form of a sync may take on its way: there are woods behind poor networks.
const slowly = 10 * time.Minute

// token lets a program in that has a person's token, to what is for programs and nowhere else.
func (d *Door) token(s *page.Site, inside http.Handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		scheme, token, _ := strings.Cut(r.Header.Get("Authorization"), " ")
		if !strings.EqualFold(scheme, "Bearer") {
			token = ""
		}
		p, ok, err := d.people.Holder(token, d.now())
		switch {
		case err != nil:
			d.unwell(s, w)
		case !ok:
			w.Header().Set("WWW-Authenticate", "Bearer")
			http.Error(w, s.Voice.Text("This token is not known, or was withdrawn."), http.StatusUnauthorized)
		default:
			// Where a server does not know of deadlines there are none.
			control := http.NewResponseController(w)
			control.SetReadDeadline(time.Now().Add(slowly))
			control.SetWriteDeadline(time.Now().Add(slowly))
			w.Header().Set("Cache-Control", "private, no-cache")
			inside.ServeHTTP(w, page.As(r, p))
		}
	}
}

// kinds are what a sync takes of who has a right.
var kinds = map[people.Right][]book.Kind{
	people.Reader: {}, people.Recorder: {book.Reading}, people.Editor: book.Kinds, people.Steward: book.Kinds,
}

// syncs are the addresses of a sync: how the workbook stands, what is asked for of it, and what comes to it.
func (d *Door) syncs(m *page.Routes, s *page.Site) {
	desk := func(r *http.Request) book.Desk {
		p, _ := page.Who(r)
		return book.Desk{Book: s.Book, Name: r.Host, From: p.Name, Kinds: kinds[p.May], At: s.Now(), Say: s.Voice.Note}
	}
	m.Get("/sync/heads", func(w http.ResponseWriter, r *http.Request) {
		heads, err := desk(r).Heads()
		d.tell(s, w, heads, err)
	})
	m.Post("/sync/lines", func(w http.ResponseWriter, r *http.Request) {
		var of []string
		if err := json.NewDecoder(r.Body).Decode(&of); err != nil {
			s.Unreadable(w)
			return
		}
		p, err := desk(r).Lines(of)
		d.tell(s, w, p, err)
	})
	m.Post("/sync/take", func(w http.ResponseWriter, r *http.Request) {
		var p book.Parcel
		if err := json.NewDecoder(r.Body).Decode(&p); err != nil {
			s.Unreadable(w)
			return
		}
		taken, err := desk(r).Take(p)
		d.tell(s, w, taken, err)
	})
}

// tell answers a program.
func (d *Door) tell(s *page.Site, w http.ResponseWriter, x any, err error) {
	var faults note.Faults
	if errors.As(err, &faults) {
		page.Fail(w, http.StatusUnprocessableEntity, s.Voice.Notes(faults)...)
		return
	}
	if err != nil {
		d.unwell(s, w)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(x)
}

// account is the page of who has signed in: who they are, and their tokens. fresh is one that was just made.
func (d *Door) account(s *page.Site, w http.ResponseWriter, r *http.Request, fresh string, t page.Trouble) {
	p, _ := page.Who(r)
	v := s.Voice
	lead := []string{v.Text("You have signed in as %s; your right: %s.", p.Name,
		v.Term(note.Term(p.May.String())))}
	if p.Station != "" {
		lead = append(lead, v.Text("You are of the station %s: what you keep is its own until it is released.",
			p.Station))
	}
	tokens, err := d.people.Tokens(p.ID)
	if err != nil {
		d.unwell(s, w)
		return
	}
	type row struct {
		ID                int64
		Label, Made, Used string
	}
	var rows []row
	for _, x := range tokens {
		used := v.Text("never")
		if x.Used.Valid {
			used = s.At(x.Used.Time)
		}
		rows = append(rows, row{x.ID, x.Label, s.At(x.Made), used})
	}
	if fresh != "" {
		w.Header().Set("Cache-Control", "no-store") // and so it is not packed
	}
	s.Show(w, "account", v.Text("Account"), page.Page{Here: "/account", Back: &page.Link{}, Lead: lead, Trouble: t,
		Body: struct {
			Tokens []row
			Fresh  string
			Call   string
		}{rows, fresh, "spile sync BOOK.spile " + d.address(r, "")}})
}

// tokens makes a token, or withdraws one.
func (d *Door) tokens(s *page.Site, w http.ResponseWriter, r *http.Request) {
	p, _ := page.Who(r)
	if id, err := strconv.ParseInt(r.PostForm.Get("withdraw"), 10, 64); err == nil && id > 0 {
		if err := d.people.Withdraw(p.ID, id); err != nil {
			d.unwell(s, w)
			return
		}
		page.SeeOther(w, r, "/account")
		return
	}
	token, err := d.people.NewToken(p.ID, page.Clean(r.PostForm.Get("label")), d.now())
	var faults note.Faults
	switch {
	case errors.As(err, &faults):
		d.account(s, w, r, "", page.Refused(s.Said(faults)...))
	case err != nil:
		d.unwell(s, w)
	default:
		d.account(s, w, r, token, page.Trouble{})
	}
}
