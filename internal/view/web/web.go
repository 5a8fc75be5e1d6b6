// Package web serves the workbench: pages over one input, where any assumption can be tried. What is tried stands in
// the page's address; the input itself never changes. Over a workbook there are pages that edit it besides, and each
// change makes the pages anew.
package web

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// Config is what the workbench stands on.
type Config struct {
	Input   advice.Input     // what the pages stand on, where there is no Book
	Book    *book.Book       // nil: the pages are over files, and read only
	Who     string           // who changes the workbook
	Now     func() time.Time // when; nil: the clock
	Voice   *say.Voice       // nil: English, US units
	Version string           // of the program, for the foot of a page and the report
	Hosts   []string         // names besides loopback that a request may ask for, without port
	Phones  *Phones          // that enter readings over the local network; nil: none
}

// site is one workbench. It does not change once made.
type site struct {
	Config
	memo     *advice.Memo
	desk     *desk          // nil: over files
	have     book.Contents  // of the workbook
	idle     note.Faults    // why the workbook gives no answer; base is nil then
	base     *advice.Advice // of the input as it stands
	baseView *show.View
	settings []*setting // everything that can be tried, in the order of an address
	byKey    map[string]*setting
	pages    *template.Template
	assets   map[string]asset
	h        http.Handler // of a desk: what answers
	patterns []string     // of what it answers
	phone    *phone       // that is answered, over the network; nil: this machine
}

type asset struct {
	kind, tag string
	body      []byte
}

//go:embed asset/page.js
var script []byte

// New is the workbench. The error is note.Faults where the input itself is at fault.
func New(c Config) (http.Handler, error) {
	if c.Book != nil {
		desks, err := speak(c, newDesk)
		if c.Phones != nil {
			c.Phones.desks = desks
		}
		return desks, err
	}
	return speak(c, func(c Config, memo *advice.Memo) (http.Handler, error) {
		s, err := newSite(c, memo)
		if err != nil {
			return nil, err
		}
		return s.handler(), nil
	})
}

func newSite(c Config, memo *advice.Memo) (*site, error) {
	c.Voice = cmp.Or(c.Voice, say.In("en"))
	s := &site{Config: c, memo: memo, assets: assets()}
	var err error
	if s.pages, err = s.templates(); err != nil {
		return nil, err
	}
	return s, s.work()
}

// work answers the input as it stands, and lists what can be tried.
func (s *site) work() error {
	var err error
	if s.base, err = s.memo.Ranked(s.Input); err != nil {
		return err
	}
	s.baseView = show.Of(s.base, s.Voice)
	s.settings = s.tryable()
	s.byKey = map[string]*setting{}
	for _, t := range s.settings {
		s.byKey[t.key] = t
	}
	return nil
}

//go:embed asset/edit.css
var editing []byte

func assets() map[string]asset {
	return map[string]asset{
		"style.css": newAsset("text/css; charset=utf-8", slices.Concat([]byte(report.Stylesheet()), editing, trialStyle)),
		"page.js":   newAsset("text/javascript; charset=utf-8", script),
		"field.js":  newAsset("text/javascript; charset=utf-8", fieldScript),
	}
}

func newAsset(kind string, body []byte) asset { return asset{kind, digest(body), body} }

func digest(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:8])
}

func (s *site) handler() http.Handler {
	mux := &routes{ServeMux: http.NewServeMux()}
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		front := s.nav()[0].path
		if s.base == nil {
			front = "/workbook" // where it begins
		}
		http.Redirect(w, r, withQuery(front, r.URL.RawQuery), http.StatusFound)
	})
	if s.base != nil {
		s.answers(mux)
	}
	if s.desk != nil {
		s.edits(mux)
		// A page that was open when the last study or the prices were taken away: the workbook says what is lacking.
		for _, path := range []string{"/profit", "/sure", "/next-trial", "/gains", "/rotation", "/evidence", "/sugarbush", "/handout"} {
			if !slices.Contains(mux.patterns, "GET "+path) {
				mux.HandleFunc("GET "+path, func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/workbook", http.StatusFound) })
			}
		}
	}
	mux.HandleFunc("GET /asset/{file}", s.asset)
	mux.HandleFunc("GET /language/{language}", s.choose)
	mux.HandleFunc("GET /", s.missing)
	s.patterns = mux.patterns
	return s.guard(http.NewCrossOriginProtection().Handler(mux))
}

// routes is a mux that knows what it answers.
type routes struct {
	*http.ServeMux
	patterns []string
}

func (m *routes) HandleFunc(pattern string, do func(http.ResponseWriter, *http.Request)) {
	m.patterns = append(m.patterns, pattern)
	m.ServeMux.HandleFunc(pattern, do)
}

func (s *site) asset(w http.ResponseWriter, r *http.Request) {
	a, ok := s.assets[r.PathValue("file")]
	if !ok {
		s.missing(w, r)
		return
	}
	if r.URL.Query().Get("v") == a.tag {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	send(w, r, a.kind, a.body)
}

// answers are the pages that show what the input says.
func (s *site) answers(mux *routes) {
	for _, p := range s.nav() {
		if p.fields == nil {
			continue
		}
		mux.HandleFunc("GET "+p.path, s.page(p))
		if p.closer = true; p.needs() != 0 {
			p.links = nil
			mux.HandleFunc("GET "+p.address(), s.page(p))
		}
	}
	if s.priced() {
		mux.HandleFunc("GET /profit/budget/{option...}", s.budget)
		s.bushRoutes(mux)
	}
	mux.HandleFunc("GET /figure/{file}", s.figure)
	mux.HandleFunc("GET /table/{file}", s.table)
	mux.HandleFunc("GET /report.html", s.report(htmlType, report.HTML))
	mux.HandleFunc("GET /report.pdf", s.report(pdfType, report.PDF))
	mux.HandleFunc("GET /slides.pdf", s.report(pdfType, report.Slides))
}

const (
	htmlType = "text/html; charset=utf-8"
	pdfType  = "application/pdf"
	xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

// guard lets in only requests that ask for a name of ours (another site cannot point its own name here and read what
// is served), and sends the headers that keep a page to itself.
func (s *site) guard(next http.Handler) http.Handler {
	return s.guardFor(func(host string) bool {
		if name, _, err := net.SplitHostPort(host); err == nil {
			host = name
		}
		host = strings.Trim(host, "[]")
		ip := net.ParseIP(host)
		return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback() || slices.Contains(s.Hosts, host)
	}, next)
}

func (s *site) guardFor(ours func(host string) bool, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		// Figures carry one style attribute, so those are let in; a style or script element is not.
		h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; connect-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; "+
			"font-src data:; img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-cache")
		if !ours(r.Host) {
			http.Error(w, s.Voice.Text("This workbench does not answer for the name %s.", r.Host), http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// send answers with a body, or with nothing where the reader has it already.
func send(w http.ResponseWriter, r *http.Request, kind string, body []byte) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("ETag", `"`+digest(body)+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
}

func withQuery(path, query string) string {
	if query == "" {
		return path
	}
	return path + "?" + query
}

// Serve answers on a listener until the context ends, then lets requests finish.
func Serve(ctx context.Context, l net.Listener, h http.Handler) error {
	server := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      2 * time.Minute, // ten thousand studies take a while to refit
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
	}
	stopped := make(chan error, 1)
	go func() {
		<-ctx.Done()
		end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		stopped <- server.Shutdown(end)
	}()
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve %s: %w", l.Addr(), err)
	}
	return <-stopped
}
