// Package door is where who uses a served workbook signs in, and where a steward says who may do what.
package door

import (
	"context"
	"embed"
	"errors"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"

	"spile/internal/files/people"
	"spile/internal/note"
	"spile/internal/view/web/page"
)

// Files are the templates of the pages.
//
//go:embed *.html
var Files embed.FS

// Door lets in who has an account. It is safe for use by several goroutines.
type Door struct {
	people   *people.People
	sessions *scs.SessionManager
	behind   bool // a proxy, which says where a request came from
	now      func() time.Time

	Institution *Institution // through which who was invited may sign in as well; nil: none
}

// New is a door. secure says that browsers reach it by TLS; behind, that a proxy stands before it, whose last word in
// X-Forwarded-For is true.
func New(p *people.People, secure, behind bool, now func() time.Time) *Door {
	s := scs.New()
	s.Store, s.HashTokenInStore = p.Sessions(), true
	s.Lifetime = 7 * 24 * time.Hour // an IdleTimeout would write to the database at every page
	s.Cookie.Name, s.Cookie.Secure, s.Cookie.HttpOnly, s.Cookie.SameSite = "spile", secure, true, http.SameSiteLaxMode
	if secure {
		s.Cookie.Name = "__Host-spile" // which a browser takes from this host alone, by TLS
	}
	return &Door{people: p, sessions: s, behind: behind, now: now}
}

// What a session holds.
const (
	personKey = "person"
	epochKey  = "epoch"
	seenKey   = "seen" // in seconds since 1970, to an hour
)

// idle is how long a session lasts that is not used.
const idle = 24 * time.Hour

// most is the size of a form at the door, in bytes.
const most = 16 << 10

// Through answers at the door, with pages of a site on which nothing of the workbook stands, and lets through who has
// signed in, whose requests carry who they are of.
func (d *Door) Through(s *page.Site, inside http.Handler) http.Handler {
	m := http.NewServeMux()
	form := func(do func(http.ResponseWriter, *http.Request)) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) {
			r.Body = http.MaxBytesReader(w, r.Body, most)
			if err := r.ParseForm(); err != nil {
				s.Unreadable(w)
				return
			}
			do(w, r)
		}
	}
	m.HandleFunc("GET /asset/{file}", s.ServeAsset)
	m.HandleFunc("GET /language/{language}", s.Choose)
	m.HandleFunc("GET /sign-in", func(w http.ResponseWriter, r *http.Request) { d.signIn(s, w, r, 0, "") })
	m.HandleFunc("POST /sign-in", form(func(w http.ResponseWriter, r *http.Request) { d.enter(s, w, r) }))
	if d.Institution != nil {
		m.HandleFunc("GET "+institutionPath, func(w http.ResponseWriter, r *http.Request) { d.leave(s, w, r) })
		m.HandleFunc("GET "+backPath, func(w http.ResponseWriter, r *http.Request) { d.back(s, w, r) })
	}
	m.HandleFunc("GET /join/{token}", func(w http.ResponseWriter, r *http.Request) { d.joining(s, w, r, nil) })
	m.HandleFunc("POST /join/{token}", form(func(w http.ResponseWriter, r *http.Request) { d.join(s, w, r) }))
	m.HandleFunc("/sync/", d.token(s, inside))
	m.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		p, ok, err := d.people.Get(d.sessions.GetInt64(r.Context(), personKey),
			d.sessions.GetInt64(r.Context(), epochKey))
		ok = ok && d.awake(r.Context())
		switch {
		case err != nil:
			d.unwell(s, w)
		case !ok && r.Method == http.MethodGet:
			http.Redirect(w, r, page.WithQuery("/sign-in", url.Values{"to": {r.URL.RequestURI()}}.Encode()),
				http.StatusSeeOther)
		case !ok:
			d.signIn(s, w, r, http.StatusUnauthorized,
				s.Voice.Text("Nothing was kept: your session has ended. Sign in, go back, and send it again."))
		default:
			w.Header().Set("Cache-Control", "private, no-cache")
			inside.ServeHTTP(w, page.As(r, p))
		}
	})
	sessions := *d.sessions
	sessions.ErrorFunc = func(w http.ResponseWriter, _ *http.Request, _ error) { d.unwell(s, w) }
	return sessions.LoadAndSave(m)
}

// awake is true of a session that was used of late, which it notes once an hour.
func (d *Door) awake(session context.Context) bool {
	since := d.now().Sub(time.Unix(d.sessions.GetInt64(session, seenKey), 0))
	if since > time.Hour && since <= idle {
		d.sessions.Put(session, seenKey, d.now().Unix())
	}
	return since <= idle
}

// unwell answers while the database does not.
func (d *Door) unwell(s *page.Site, w http.ResponseWriter) {
	v := s.Voice
	s.Show(w, "plain", v.Text("The workbook cannot be read"), page.Page{Back: &page.Link{}, Here: "/",
		Lead:    []string{v.Text("Its database does not answer. Try again in a while.")},
		Trouble: page.Trouble{Code: http.StatusServiceUnavailable}})
}

// Peopled is true where somebody has an account, and so everybody is asked to sign in.
func (d *Door) Peopled() (bool, error) { return d.people.Any() }

// Healthy answers whether the database does.
func (d *Door) Healthy(w http.ResponseWriter, r *http.Request) {
	if d.people.Awake() != nil {
		http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Write([]byte("ok\n"))
}

// local is a path of the workbench itself, to go on to.
func local(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") ||
		strings.ContainsAny(to, "\\\r\n\t") {
		return "/"
	}
	return u.RequestURI()
}

func (d *Door) signIn(s *page.Site, w http.ResponseWriter, r *http.Request, code int, fault string) {
	to, through := local(r.FormValue("to")), ""
	if d.Institution != nil {
		through = page.WithQuery(institutionPath, url.Values{"to": {to}}.Encode())
	}
	p := page.Page{Back: &page.Link{}, Here: "/", Trouble: page.Trouble{Code: code},
		Body: struct{ Name, To, Through string }{page.Clean(r.PostForm.Get("name")), to, through}}
	if fault != "" {
		p.Faults = []string{fault}
	}
	s.Show(w, "sign-in", s.Voice.Text("Sign in"), p)
}

// enter takes a name and a password. What it says is the same whether there is such an account.
func (d *Door) enter(s *page.Site, w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	p, err := d.people.Enter(r.PostForm.Get("name"), r.PostForm.Get("password"), d.from(r), d.now())
	switch {
	case errors.Is(err, people.ErrSlow):
		d.signIn(s, w, r, http.StatusTooManyRequests,
			v.Text("Too many tries have failed. Wait a while, a quarter of an hour at the most, and try again."))
	case errors.Is(err, people.ErrWrong):
		d.signIn(s, w, r, http.StatusUnauthorized, v.Text("This name and this password do not belong together."))
	case err != nil:
		d.unwell(s, w)
	default:
		d.begin(s, w, r, p, local(r.PostForm.Get("to")))
	}
}

// begin begins a session under a new token, so that one that another has put into the browser is of no use.
func (d *Door) begin(s *page.Site, w http.ResponseWriter, r *http.Request, p people.Person, to string) {
	if err := d.sessions.RenewToken(r.Context()); err != nil {
		d.unwell(s, w)
		return
	}
	d.sessions.Put(r.Context(), personKey, p.ID)
	d.sessions.Put(r.Context(), epochKey, p.Epoch)
	d.sessions.Put(r.Context(), seenKey, d.now().Unix())
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// address is that of a path of the workbench, as browsers reach it.
func (d *Door) address(r *http.Request, path string) string {
	scheme := "http"
	if d.sessions.Cookie.Secure {
		scheme = "https"
	}
	return (&url.URL{Scheme: scheme, Host: r.Host, Path: path}).String()
}

// from is the address of the network that a request comes from.
func (d *Door) from(r *http.Request) string {
	if d.behind {
		said := r.Header.Values("X-Forwarded-For")
		if len(said) > 0 {
			hops := strings.Split(said[len(said)-1], ",")
			return strings.TrimSpace(hops[len(hops)-1])
		}
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// joining is the page where who was invited sets a password.
func (d *Door) joining(s *page.Site, w http.ResponseWriter, r *http.Request, faults []string) {
	v := s.Voice
	p, ok, err := d.people.Invited(r.PathValue("token"), d.now())
	if err != nil {
		d.unwell(s, w)
		return
	}
	w.Header().Set("Referrer-Policy", "no-referrer") // the address is the key
	if !ok {
		s.Show(w, "plain", v.Text("This invitation is not good"), page.Page{Back: &page.Link{}, Here: "/",
			Lead:    []string{v.Text("It was used, or is older than a week. Ask a steward for another.")},
			Trouble: page.Trouble{Code: http.StatusNotFound}})
		return
	}
	t := page.Trouble{Faults: faults}
	if faults != nil {
		t.Code = http.StatusUnprocessableEntity
	}
	s.Show(w, "join", v.Text("Your password"), page.Page{Back: &page.Link{}, Here: "/", Trouble: t,
		Lead: []string{v.Text("You sign in as %s. At least %d characters; several words are good, and so is what a "+
			"password manager makes.", p.Name, people.Shortest)},
		Body: struct{ Name, Action string }{p.Name, "/join/" + url.PathEscape(r.PathValue("token"))}})
}

func (d *Door) join(s *page.Site, w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	if r.PostForm.Get("password") != r.PostForm.Get("again") {
		d.joining(s, w, r, []string{v.Text("The two are not the same.")})
		return
	}
	p, ok, err := d.people.Join(r.PathValue("token"), r.PostForm.Get("password"), d.now())
	var faults note.Faults
	switch {
	case errors.As(err, &faults):
		d.joining(s, w, r, v.Notes(faults))
	case err != nil:
		d.unwell(s, w)
	case !ok:
		d.joining(s, w, r, nil)
	default:
		d.begin(s, w, r, p, "/")
	}
}

// Routes are the pages of who has signed in.
func (d *Door) Routes(m *page.Routes, s *page.Site) {
	m.Get("/account", func(w http.ResponseWriter, r *http.Request) { d.account(s, w, r, "", page.Trouble{}) })
	m.Post("/tokens", func(w http.ResponseWriter, r *http.Request) { d.tokens(s, w, r) })
	d.syncs(m, s)
	m.Post("/sign-out", func(w http.ResponseWriter, r *http.Request) {
		p, _ := page.Who(r)
		err := d.sessions.Destroy(r.Context())
		if r.PostForm.Get("all") != "" {
			err = errors.Join(err, d.people.End(p.ID))
		}
		if err != nil {
			d.unwell(s, w)
			return
		}
		page.SeeOther(w, r, "/sign-in")
	})
	m.Get("/people", func(w http.ResponseWriter, r *http.Request) { d.list(s, w, page.Page{}, "") })
	m.Post("/people", func(w http.ResponseWriter, r *http.Request) { d.change(s, w, r) })
}

// listed is a person as they stand on the page.
type listed struct {
	people.Person
	Is     string
	Rights []page.Picked
}

func (d *Door) rights(s *page.Site, now people.Right, from people.Right) []page.Picked {
	var list []page.Option
	for _, word := range people.Rights[from:] {
		list = append(list, page.Opt(word, s.Voice.Term(note.Term(word))))
	}
	return page.Pick(list, now.String())
}

func (d *Door) list(s *page.Site, w http.ResponseWriter, p page.Page, link string) {
	v := s.Voice
	all, err := d.people.All()
	if err != nil {
		d.unwell(s, w)
		return
	}
	var rows []listed
	for _, x := range all {
		is := v.Text("has a password")
		switch {
		case x.Bound:
			is = v.Text("signs in through the institution")
		case !x.Ready:
			is = v.Text("is invited")
		}
		if x.Mail != "" {
			is += " (" + x.Mail + ")"
		}
		rows = append(rows, listed{x, is, d.rights(s, x.May, people.Nothing)})
	}
	p.Here, p.Back = "/people", &page.Link{}
	p.Lead = append(p.Lead, v.Text("A reader sees everything but what is another "+
		"station's alone. A recorder also enters readings of trials, an editor "+
		"changes everything else, and a steward also says who may do what."))
	p.Body = struct {
		Rows   []listed
		Rights []page.Picked
		Link   string
		Mail   bool // there is an institution that vouches for it
	}{rows, d.rights(s, people.Reader, people.Reader), link, d.Institution != nil}
	s.Show(w, "people", v.Text("People"), p)
}

// change invites, gives another right, or ends sessions.
func (d *Door) change(s *page.Site, w http.ResponseWriter, r *http.Request) {
	may, ok := people.RightOf(r.PostForm.Get("may"))
	id, _ := strconv.ParseInt(r.PostForm.Get("id"), 10, 64)
	var err error
	var token string
	switch do := r.PostForm.Get("do"); {
	case do == "end":
		err = errors.Join(d.people.End(id), d.people.Withdraw(id, 0))
	case !ok:
		err = note.Faults{note.New("there is no right %s", page.Short(r.PostForm.Get("may")))}
	case do == "set":
		err = d.people.Set(id, page.Clean(r.PostForm.Get("station")), may)
	default:
		token, err = d.people.Invite(page.Clean(r.PostForm.Get("name")), page.Clean(r.PostForm.Get("station")),
			page.Clean(r.PostForm.Get("mail")), may, d.now())
	}
	var faults note.Faults
	switch {
	case errors.As(err, &faults):
		d.list(s, w, page.Page{Trouble: page.Trouble{Faults: s.Voice.Notes(faults),
			Code: http.StatusUnprocessableEntity}}, "")
	case err != nil:
		d.unwell(s, w)
	case token != "":
		d.list(s, w, page.Page{}, d.address(r, "/join/"+token))
	default:
		page.SeeOther(w, r, "/people")
	}
}
