package web

import (
	"cmp"
	"net/http"
	"net/url"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/view/say"
)

// tongues is the workbench in every language: a reader's own choice, kept in a cookie, else the language of the call.
type tongues[H http.Handler] struct {
	own string // of the call
	in  map[string]H
}

// languages are what languages call themselves.
var languages = map[string]string{"en": "English", "fr": "Français"}

const languageKey = "spile-language"

func (t tongues[H]) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Vary", "Cookie")
	t.of(r).ServeHTTP(w, r)
}

// of is the workbench in the language of a request.
func (t tongues[H]) of(r *http.Request) H {
	if c, err := r.Cookie(languageKey); err == nil {
		if h, ok := t.in[c.Value]; ok {
			return h
		}
	}
	return t.in[t.own]
}

// speak makes a handler for each language, in the units of the call.
func speak[H http.Handler](c Config, with func(Config, *advice.Memo) (H, error)) (tongues[H], error) {
	c.Voice = cmp.Or(c.Voice, say.In("en"))
	t := tongues[H]{c.Voice.Language(), map[string]H{}}
	memo := new(advice.Memo)
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

// choose keeps a reader's language and goes back to the page that was left.
func (s *site) choose(w http.ResponseWriter, r *http.Request) {
	lang := r.PathValue("language")
	if languages[lang] == "" {
		s.missing(w, r)
		return
	}
	http.SetCookie(w, &http.Cookie{Name: languageKey, Value: lang, Path: "/", MaxAge: int((365 * 24 * time.Hour).Seconds()), HttpOnly: true, SameSite: http.SameSiteLaxMode})
	back := cmp.Or(pageLeft(r), "/")
	if c, err := r.Cookie(formKey); err == nil {
		if sent, err := url.ParseQuery(c.Value); err == nil && sent.Get("to") == back {
			back = "/" + strings.TrimLeft(sent.Get("on"), "/")
		}
	}
	seeOther(w, r, back)
}

// pageLeft is the page of ours from which a request was made: its path and query, or "".
func pageLeft(r *http.Request) string {
	from, err := url.Parse(r.Referer())
	if err != nil || from.Host != r.Host || r.Referer() == "" {
		return ""
	}
	return "/" + strings.TrimLeft(from.RequestURI(), "/") // two slashes would lead to another host
}

const formKey = "spile-form"

// rememberForm keeps on which page a form stood: what answers it stands at the address that it was sent to, where there may
// be no page to come back to in another language.
func rememberForm(w http.ResponseWriter, r *http.Request) {
	if on := pageLeft(r); on != "" && on != r.URL.Path && len(on) < 2000 { // a second try is sent from the answer to the first
		http.SetCookie(w, &http.Cookie{Name: formKey, Value: url.Values{"to": {r.URL.Path}, "on": {on}}.Encode(), Path: "/language/", MaxAge: 3600, HttpOnly: true, SameSite: http.SameSiteLaxMode})
	}
}

// forgetForm is for a form that was taken.
func forgetForm(w http.ResponseWriter) {
	http.SetCookie(w, &http.Cookie{Name: formKey, Path: "/language/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteLaxMode})
}

// tongue is the way to a page in another language.
type tongue struct{ Language, Name, Href string }

func (s *site) tongues() []tongue {
	var list []tongue
	for _, lang := range say.Languages() {
		if lang != s.Voice.Language() {
			list = append(list, tongue{lang, languages[lang], "/language/" + lang})
		}
	}
	return list
}
