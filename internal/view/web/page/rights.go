package page

import (
	"context"
	"net/http"
	"strings"

	"spile/internal/files/people"
	"spile/internal/trade/station"
)

// needs is what an address asks of who has signed in, where that is not what its method does: to look a reader, to send
// a form an editor.
var needs = map[string]people.Right{
	"POST " + ReadPath: people.Recorder,
	"POST /sugarbush":  people.Reader, // which plans, and keeps nothing
	"POST /sign-out":   people.Reader,
	"POST /tokens":     people.Reader, // one's own
	"POST /sync/lines": people.Reader,
	"POST /sync/take":  people.Recorder,
	"GET /people":      people.Steward,
	"POST /people":     people.Steward,
	"GET /offers":      people.Steward,
}

func init() {
	for _, a := range station.Acts {
		if a.Steward {
			needs["POST "+ActPath(a)] = people.Steward
		}
	}
}

// ActPath is where the form of an act is sent.
func ActPath(a station.Act) string { return "/stations/" + a.Key }

// Needs is the right that a pattern of the workbench asks for.
func Needs(pattern string) people.Right {
	if right, ok := needs[pattern]; ok {
		return right
	}
	if strings.HasPrefix(pattern, "GET ") {
		return people.Reader
	}
	return people.Editor
}

type signedIn struct{}

// As is a request of who has signed in.
func As(r *http.Request, p people.Person) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), signedIn{}, p))
}

// Who has signed in; false: nobody needs to.
func Who(r *http.Request) (people.Person, bool) {
	p, ok := r.Context().Value(signedIn{}).(people.Person)
	return p, ok
}

// allowed answers who may ask for a pattern, and tells others that they may not.
func (m *Routes) allowed(pattern string, do http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if p, ok := Who(r); ok && p.May < Needs(pattern) {
			v := m.site.Voice
			m.site.Show(w, "plain", v.Text("This is not yours to do"), Page{
				Here: "/", Back: &Link{Name: v.Text("To the beginning of the workbench"), Href: "/"},
				Lead:    []string{v.Text("Your account has no right to it. A steward may give it to you.")},
				Trouble: Trouble{Code: http.StatusForbidden},
			})
			return
		}
		do(w, r)
	}
}
