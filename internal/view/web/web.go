// Package web serves the workbench: pages over one input, where any assumption can be tried. What is tried stands in
// the page's address; the input itself never changes. Over a workbook there are pages that edit it besides, and each
// change makes the pages anew. The package is the door: it knows the rooms and leads to them, and what is done in one
// stands in its own package.
package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/people"
	"spile/internal/view/say"
	"spile/internal/view/web/door"
	"spile/internal/view/web/edit"
	"spile/internal/view/web/look"
	"spile/internal/view/web/page"
	"spile/internal/view/web/sugarbush"
	"spile/internal/view/web/trees"
)

// Config is what the workbench stands on.
type Config struct {
	Input   advice.Input     // what the pages stand on, where there is no Book
	Book    *book.Book       // nil: the pages are over files, and read only
	Who     string           // who changes the workbook
	Now     func() time.Time // when; nil: the clock
	Voice   *say.Voice       // nil: English, US units
	Units   bool             // its units were asked for, whatever the place of the prices
	Version string           // of the program, for the foot of a page and the report
	Hosts   []string         // names besides loopback that a request may ask for, without port
	Phones  *trees.Phones    // that enter readings over the local network; nil: none
	Door    *door.Door       // where who uses it signs in; nil: nobody needs to
	Watch   *Watch           // writes down what is answered at the door; nil: nobody does
}

// site is one workbench. It does not change once made.
type site struct {
	*page.Site
	phones *trees.Phones
	look   *look.Room      // nil: there is no answer
	bush   *sugarbush.Room // nil: there is none, or no prices
	may    people.Right    // of who has signed in
}

// New is the workbench. The error is note.Faults where the input itself is at fault.
func New(c Config) (http.Handler, error) {
	if c.Door != nil {
		if peopled, err := c.Door.Peopled(); err != nil || !peopled {
			alone := c
			alone.Door = nil
			h, err := New(alone)
			return &unlocked{Handler: h, then: sync.OnceValues(func() (http.Handler, error) { return New(c) }),
				door: c.Door}, err
		}
	}
	c.Voice = cmp.Or(c.Voice, say.In("en"))
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Book != nil {
		if c.Phones == nil {
			c.Phones = trees.NewPhones(nil, nil) // what phones sent before is decided here
		}
		desks, err := speak(c, newDesk)
		beside := c.Book.Path() + "-phones"
		if book.Served(c.Book.Path()) { // it has no folder
			beside = ""
		}
		c.Phones.Over(beside, c.Who, func(r *http.Request) *say.Voice { return desks.of(r).Voice },
			func(r *http.Request) (*page.Site, error) { return desks.of(r).unanswered() })
		if err != nil || c.Door == nil {
			return desks, err
		}
		m := http.NewServeMux()
		m.HandleFunc("GET /healthz", c.Door.Healthy)
		m.Handle("/", desks)
		if c.Watch != nil {
			return c.Watch.Over(m), nil
		}
		return m, nil
	}
	return speak(c, overFiles)
}

// unlocked is a workbench over a workbook on a server that has no accounts yet, on this machine alone. It has a door
// from the first account on.
type unlocked struct {
	http.Handler
	then func() (http.Handler, error)
	door *door.Door
}

func (u *unlocked) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := u.Handler
	peopled, err := u.door.Peopled()
	if err == nil && peopled {
		h, err = u.then()
	}
	if err != nil { // it cannot be told who may see it
		http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
		return
	}
	h.ServeHTTP(w, r)
}

// state is the workbench over one state of what it stands on.
type state struct {
	*site
	http.Handler
	patterns []string // of what is answered

	mu  sync.Mutex
	own map[people.Person]*state // the same for each who has signed in
}

func overFiles(c Config, memo *advice.Memo) (*state, error) {
	kit, err := c.kit()
	if err != nil {
		return nil, err
	}
	s := c.site(kit, memo)
	s.Input = c.Input
	if err := s.work(nil); err != nil {
		return nil, err
	}
	now := c.open(s)
	now.Handler = page.Guard(c.Voice, c.ours, now.Handler)
	return now, nil
}

// kit is what pages are made with in the language of the call.
func (c Config) kit() (*page.Kit, error) {
	return page.NewKit(c.Voice, c.Version, c.Book != nil, look.Files, edit.Files, sugarbush.Files, trees.Files,
		door.Files)
}

// site is the floor of the rooms, with nothing on it yet.
func (c Config) site(kit *page.Kit, memo *advice.Memo) *site {
	return &site{Site: &page.Site{Kit: kit, Memo: memo, Book: c.Book, Who: c.Who, Now: c.Now}, phones: c.Phones}
}

// work answers the input as it stands, soon where there was another answer before, and makes the rooms.
func (s *site) work(before *advice.Advice) error {
	err := s.Answer(before)
	s.rooms()
	return err
}

// rooms makes the rooms that there are, and the places that the head leads to.
func (s *site) rooms() {
	v := s.Voice
	s.Places = nil
	if s.Base != nil {
		s.look = look.New(s.Site)
		s.Places = s.look.Places()
	}
	if s.Priced() {
		s.bush = &sugarbush.Room{Site: s.Site}
		s.Places = append(s.Places, s.bush.Places()...)
	}
	if s.Book != nil {
		trials := page.Place{Path: "/trials", Name: v.Text("Trials"), Group: v.Text("Our trials"),
			Says: v.Text("plan, read and analyse trials of our own")}
		at := slices.IndexFunc(s.Places, func(p page.Place) bool { return p.Path == "/next-trial" })
		if at < 0 {
			at = len(s.Places)
		}
		s.Places = append(slices.Insert(s.Places, at, trials), page.Place{Path: "/workbook", Name: v.Text("Workbook"),
			Group: v.Text("Keep"), Says: v.Text("studies, prices, rules, and their history")})
	}
	if s.may > people.Nothing {
		s.Places = append(s.Places, page.Place{Path: "/stations", Name: v.Text("Stations"), Group: v.Text("Keep"),
			Says: v.Text("whose studies and trials are, and who sees them")})
	}
	if s.may >= people.Steward {
		s.Places = append(s.Places, page.Place{Path: "/people", Name: v.Text("People"), Group: v.Text("Keep"),
			Says: v.Text("who may do what")})
	}
	if s.may > people.Nothing {
		s.Places = append(s.Places, page.Place{Path: "/account", Name: v.Text("Account"), Group: v.Text("Keep"),
			Says: v.Text("who has signed in, and signing out")})
	}
}

// of is the same site for somebody.
func (s *site) of(p people.Person) *site {
	own := *s.Site
	own.Who = p.Name
	x := &site{Site: &own, phones: s.phones, may: p.May}
	x.rooms()
	return x
}

// ifAnswered are pages that are there only while the workbook gives an answer.
var ifAnswered = []string{
	"/profit", "/sure", "/next-trial", "/gains", "/rotation", "/evidence", "/sugarbush", "/handout",
}

// open opens the rooms.
func (c Config) open(s *site) *state {
	m := page.NewRoutes(s.Site)
	if !s.Priced() {
		m.Get("/{$}", func(w http.ResponseWriter, r *http.Request) {
			front := "/workbook" // where it begins
			if s.Base != nil {
				front = "/gains"
			}
			http.Redirect(w, r, page.WithQuery(front, r.URL.RawQuery), http.StatusFound)
		})
	}
	if s.Base != nil {
		s.look.Routes(m)
	}
	if s.Priced() {
		s.bush.Routes(m)
	}
	if s.Book != nil {
		kept := edit.New(s.Site, s.look)
		kept.Routes(m)
		trees.Open(m, s.Site, s.phones)
		s.Waits = []func() []page.Link{kept.Waiting, func() []page.Link { return trees.Waiting(s.Site) }}
		// A page that was open when the last study or the prices were taken away: the workbook says what is lacking.
		for _, path := range ifAnswered {
			if !m.Has(path) {
				m.Get(path, func(w http.ResponseWriter, r *http.Request) {
					http.Redirect(w, r, "/workbook", http.StatusFound)
				})
			}
		}
	}
	if c.Door != nil {
		c.Door.Routes(m, s.Site)
		edit.Stations(m, s.Site)
	}
	m.Get("/asset/{file}", s.ServeAsset)
	m.Get("/language/{language}", s.Choose)
	m.Get("/", s.Missing)
	return &state{site: s, Handler: m, patterns: m.Patterns, own: map[people.Person]*state{}}
}

// ours is true of the names that the workbench on this machine answers for.
func (c Config) ours(host string) bool {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.Trim(host, "[]")
	ip := net.ParseIP(host)
	return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback() || slices.Contains(c.Hosts, host)
}

// Serve answers on a listener until the context ends, then lets requests finish for a while.
func Serve(ctx context.Context, l net.Listener, h http.Handler) error {
	server := &http.Server{
		Handler:           sentWithin(2*time.Minute, h),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
	}
	stopped := make(chan error, 1)
	go func() {
		<-ctx.Done()
		end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		err := server.Shutdown(end)
		if errors.Is(err, context.DeadlineExceeded) { // somebody sends an upload and does not end
			err = server.Close()
		}
		stopped <- err
	}()
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve %s: %w", l.Addr(), err)
	}
	return <-stopped
}

// sentWithin gives an answer so long to be sent, from its first byte on. How long it takes to be worked out is not
// counted: a server's own time for writing begins with the request, and who waited longer would get nothing.
func sentWithin(long time.Duration, h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h.ServeHTTP(&timed{ResponseWriter: w, within: long}, r)
	})
}

// timed is an answer on its way.
type timed struct {
	http.ResponseWriter
	within  time.Duration
	limited bool
}

// SetWriteDeadline is for http.ResponseController: who sets a time of his own has that.
func (s *timed) SetWriteDeadline(t time.Time) error {
	s.limited = true
	return http.NewResponseController(s.ResponseWriter).SetWriteDeadline(t)
}

// Write sends a part.
func (s *timed) Write(b []byte) (int, error) {
	if !s.limited {
		s.SetWriteDeadline(time.Now().Add(s.within)) // where a server does not know of deadlines there are none
	}
	return s.ResponseWriter.Write(b)
}

// Unwrap is for http.ResponseController.
func (s *timed) Unwrap() http.ResponseWriter { return s.ResponseWriter }
