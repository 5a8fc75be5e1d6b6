package web

import (
	"net/http"

	"spile/internal/engine/advice"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// tongues is the workbench in every language: a reader's own choice, kept in a cookie, else the language of the call.
type tongues[H http.Handler] struct {
	own string // of the call
	in  map[string]H
}

func (t tongues[H]) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Vary", "Cookie")
	t.of(r).ServeHTTP(w, r)
}

// of is the workbench in the language of a request.
func (t tongues[H]) of(r *http.Request) H {
	if c, err := r.Cookie(page.LanguageKey); err == nil {
		if h, ok := t.in[c.Value]; ok {
			return h
		}
	}
	return t.in[t.own]
}

// remembers makes what keeps the answers of a workbench; in tests all share one, since they ask the same of the same
// studies.
var remembers = func() *advice.Memo { return new(advice.Memo) }

// speak makes a handler for each language, in the units of the call.
func speak[H http.Handler](c Config, with func(Config, *advice.Memo) (H, error)) (tongues[H], error) {
	t := tongues[H]{c.Voice.Language(), map[string]H{}}
	memo := remembers()
	for _, lang := range say.Languages() {
		in := c
		if lang != t.own {
			in.Voice = say.In(lang).With(c.Voice.Units())
		}
		h, err := with(in, memo)
		if err != nil {
			return t, err
		}
		t.in[lang] = h
	}
	return t, nil
}
