package page

import (
	"net/http"
	"slices"
	"strings"

	"spile/internal/view/say"
)

// Kinds of what is sent.
const (
	HTML = "text/html; charset=utf-8"
	PDF  = "application/pdf"
	PPTX = "application/vnd.openxmlformats-officedocument.presentationml.presentation"
	CSV  = "text/csv; charset=utf-8"
	XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

// AloneCSP is the policy of a page that is kept as a file: its style stands in it.
const AloneCSP = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; img-src data:; base-uri 'none'; " +
	"frame-ancestors 'none'"

// Keys of addresses and forms that stand beside what is asked, and change no answer.
const (
	MovingKey = "moving" // the number is still being changed: a quick look is enough
	LastKey   = "last"   // the address of the last good answer, which stays where this one is at fault
	SizeKey   = "for"    // of a figure
	TagKey    = "v"      // of an asset
	SeenKey   = "seen"   // of a form: the last change that its reader has seen
	FromKey   = "from"   // of a form: the page that it stands on
)

// Routes is a mux that knows what it answers.
type Routes struct {
	http.ServeMux
	Patterns []string
	site     *Site
}

// NewRoutes is without any.
func NewRoutes(s *Site) *Routes { return &Routes{site: s} }

// Get answers a path.
func (m *Routes) Get(path string, do http.HandlerFunc) { m.handle("GET "+path, do) }

// Post takes a form sent to a path, which is read before.
func (m *Routes) Post(path string, do http.HandlerFunc) { m.handle("POST "+path, m.site.Formed(do)) }

// ServeHTTP answers, also what nobody is asked for, in the reader's language.
func (m *Routes) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if _, pattern := m.Handler(r); pattern == "" {
		text := m.site.Voice.Text("%s %s: no page is asked for like this. Pages are read, and their forms are sent.",
			r.Method, Short(r.URL.Path))
		http.Error(w, text, http.StatusMethodNotAllowed)
		return
	}
	m.ServeMux.ServeHTTP(w, r)
}

// Has is true of a path that is answered.
func (m *Routes) Has(path string) bool { return slices.Contains(m.Patterns, "GET "+path) }

func (m *Routes) handle(pattern string, do http.HandlerFunc) {
	m.Patterns = append(m.Patterns, pattern)
	m.HandleFunc(pattern, m.allowed(pattern, do))
}

// Guard lets in only requests that ask for a name of ours (another site cannot point its own name here and read what is
// served), posts of our own pages, and of what another site asks the pages that a reader goes to: nothing is worked out
// for its pictures, frames and scripts. It sends the headers that keep a page to itself.
func Guard(v *say.Voice, ours func(host string) bool, next http.Handler) http.Handler {
	refuse := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Error(w, v.Text("This was asked by a page of another site: it is not answered."), http.StatusForbidden)
	})
	posts := http.NewCrossOriginProtection()
	posts.SetDenyHandler(refuse)
	next = packed(posts.Handler(next))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		// Figures carry one style attribute, so those are let in; a style or script element is not.
		h.Set("Content-Security-Policy",
			"default-src 'none'; script-src 'self'; connect-src 'self'; style-src 'self'; "+
				"style-src-attr 'unsafe-inline'; font-src data:; img-src data:; form-action 'self'; base-uri 'none'; "+
				"frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-cache")
		if !ours(r.Host) {
			text := v.Text("This workbench does not answer for the name %s.", r.Host)
			http.Error(w, text, http.StatusMisdirectedRequest)
			return
		}
		if embedded(r.Header) {
			refuse(w, r)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// embedded is true of what a page of another site asks for without the reader going there (Fetch Metadata Request
// Headers, W3C working draft).
func embedded(h http.Header) bool {
	site := h.Get("Sec-Fetch-Site")
	return (site == "cross-site" || site == "same-site") &&
		(h.Get("Sec-Fetch-Mode") != "navigate" || h.Get("Sec-Fetch-Dest") != "document")
}

// ServeAsset answers with the style sheet or a script.
func (s *Site) ServeAsset(w http.ResponseWriter, r *http.Request) {
	a, ok := s.assets[r.PathValue("file")]
	if !ok {
		s.Missing(w, r)
		return
	}
	if r.URL.Query().Get(TagKey) == a.tag {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	Send(w, r, a.kind, a.body)
}

// HandedOut is true of an address that makes what is handed to a producer.
func HandedOut(path string) bool {
	return path == "/handout" || strings.HasPrefix(path, "/handout.")
}

// Attach names what is sent as a file.
func Attach(w http.ResponseWriter, name string) {
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
}

// Fail answers with lines of plain text.
func Fail(w http.ResponseWriter, code int, lines ...string) {
	http.Error(w, strings.Join(lines, "\n"), code)
}

// WithQuery is an address.
func WithQuery(path, query string) string {
	if query == "" {
		return path
	}
	return path + "?" + query
}

// SeeOther leads on from a form that was taken, or from one page to another.
func SeeOther(w http.ResponseWriter, r *http.Request, to string) {
	if r.Method == http.MethodPost && r.URL.Path != "/" { // which is the door for phones
		forgetForm(w)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
