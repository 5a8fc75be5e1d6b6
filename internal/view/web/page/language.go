package page

import (
	"cmp"
	"net/http"
	"net/url"
	"strings"
	"time"

	"spile/internal/view/say"
)

// Languages are what languages call themselves.
var Languages = map[string]string{"en": "English", "fr": "Français"}

// LanguageKey is the cookie of a reader's own language.
const LanguageKey = "spile-language"

// SeenCookie is the cookie with the change of the workbook that a reader made last: no older state is shown to them.
const SeenCookie = "spile-seen"

// Choose keeps a reader's language and goes back to the page that was left.
func (s *Site) Choose(w http.ResponseWriter, r *http.Request) {
	lang := r.PathValue("language")
	if Languages[lang] == "" {
		s.Missing(w, r)
		return
	}
	year := int((365 * 24 * time.Hour).Seconds())
	http.SetCookie(w, &http.Cookie{
		Name: LanguageKey, Value: lang, Path: "/", MaxAge: year, HttpOnly: true, SameSite: http.SameSiteLaxMode,
	})
	back := cmp.Or(pageLeft(r), "/")
	if c, err := r.Cookie(formKey); err == nil {
		if sent, err := url.ParseQuery(c.Value); err == nil && sent.Get("to") == back {
			back = ourPage(sent.Get("on"))
		}
	}
	SeeOther(w, r, back)
}

// pageLeft is the page of ours from which a request was made: its path and query, or "".
func pageLeft(r *http.Request) string {
	from, err := url.Parse(r.Referer())
	if err != nil || from.Host != r.Host || r.Referer() == "" {
		return ""
	}
	return ourPage(from.RequestURI())
}

// ourPage is an address without what would lead to another host: a scheme, a host, two slashes, of which a browser
// takes one that leans back for one.
func ourPage(address string) string {
	u, err := url.Parse(strings.TrimLeft(address, `/\`))
	if err != nil || u.Scheme != "" || u.Host != "" {
		return "/"
	}
	u.Path = "/" + strings.TrimLeft(u.Path, `/\`)
	return u.RequestURI()
}

// formKey is the cookie that keeps on which page a form stood: what answers it stands at the address that it was sent
// to, where there may be no page to come back to in another language.
const formKey = "spile-form"

func rememberForm(w http.ResponseWriter, r *http.Request) {
	on := pageLeft(r)
	if on == "" || on == r.URL.Path || len(on) >= 2000 { // a second try is sent from the answer to the first
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: formKey, Value: url.Values{"to": {r.URL.Path}, "on": {on}}.Encode(), Path: "/language/", MaxAge: 3600,
		HttpOnly: true, SameSite: http.SameSiteLaxMode,
	})
}

// forgetForm is for a form that was taken.
func forgetForm(w http.ResponseWriter) {
	http.SetCookie(w, &http.Cookie{
		Name: formKey, Path: "/language/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteLaxMode,
	})
}

// tongue is the way to a page in another language.
type tongue struct{ Language, Name, Href string }

func (s *Site) tongues() []tongue {
	var list []tongue
	for _, lang := range say.Languages() {
		if lang != s.Voice.Language() {
			list = append(list, tongue{lang, Languages[lang], "/language/" + lang})
		}
	}
	return list
}
