package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// What a page of another site asks for without the reader going there is refused before anything is worked out, in the
// reader's language; that the reader goes to a page is not (Fetch Metadata Request Headers, W3C).
func TestOtherSitesAreNotAnswered(t *testing.T) {
	d := sit(t, true)
	asked := func(method, language string, header map[string]string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, "/report.pdf", nil)
		r.Host = "localhost:7345"
		r.AddCookie(&http.Cookie{Name: "spile-language", Value: language})
		for k, v := range header {
			r.Header.Set(k, v)
		}
		w := httptest.NewRecorder()
		d.ServeHTTP(w, r)
		return w
	}
	for _, c := range []struct{ site, mode, dest string }{
		{"cross-site", "no-cors", "image"}, {"cross-site", "cors", "empty"}, {"cross-site", "no-cors", "script"},
		{"cross-site", "navigate", "iframe"}, {"same-site", "no-cors", "image"}, {"same-site", "cors", "empty"},
	} {
		h := map[string]string{"Sec-Fetch-Site": c.site, "Sec-Fetch-Mode": c.mode, "Sec-Fetch-Dest": c.dest}
		for language, says := range map[string]string{"en": "another site", "fr": "autre site"} {
			w := asked("GET", language, h)
			if w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), says) {
				t.Errorf("%v: %d, %.80s", c, w.Code, w.Body)
			}
		}
	}
	h := map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "https://elsewhere.example"}
	if w := asked("POST", "fr", h); w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "autre site") {
		t.Errorf("a post: %d, %.80s", w.Code, w.Body)
	}
	for _, c := range []struct{ site, mode, dest string }{
		{"cross-site", "navigate", "document"}, {"same-origin", "cors", "empty"}, {"none", "navigate", "document"},
		{"", "", ""},
	} {
		h := map[string]string{"Sec-Fetch-Site": c.site, "Sec-Fetch-Mode": c.mode, "Sec-Fetch-Dest": c.dest}
		r := httptest.NewRequest("GET", "/workbook", nil)
		r.Host = "localhost:7345"
		for k, v := range h {
			r.Header.Set(k, v)
		}
		w := httptest.NewRecorder()
		d.ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			t.Errorf("%v: %d", c, w.Code)
		}
	}
}

// The cookie of a form leads to a page of ours and nowhere else, whoever wrote it.
func TestTheFormCookieLeadsHome(t *testing.T) {
	d := sit(t, true)
	for _, on := range []string{"//elsewhere.example/", `/\elsewhere.example/`, `\\elsewhere.example/`, `/\/elsewhere.example`,
		"https://elsewhere.example/", "javascript:alert(1)", "///elsewhere.example", "/%5Celsewhere.example",
		"/\t/elsewhere.example", "/study?x=//elsewhere.example"} {
		r := httptest.NewRequest("GET", "/language/fr", nil)
		r.Host = "localhost:7345"
		r.Header.Set("Referer", "http://localhost:7345/study")
		r.AddCookie(&http.Cookie{Name: "spile-form", Value: url.Values{"to": {"/study"}, "on": {on}}.Encode()})
		w := httptest.NewRecorder()
		d.ServeHTTP(w, r)
		to := w.Header().Get("Location")
		if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\t") {
			t.Errorf("%q leads to %q", on, to)
		}
	}
}

// Whatever is refused is refused in the reader's language: other methods than pages and forms have, and forms that are
// none.
func TestRefusalsAreInTheReadersLanguage(t *testing.T) {
	d := sit(t, true)
	for _, c := range []struct{ method, path, body, kind, en, fr string }{
		{"PUT", "/gains", "", "", "no page is asked for like this", "aucune page ne se demande ainsi"},
		{"DELETE", "/workbook", "", "", "no page is asked for like this", "aucune page ne se demande ainsi"},
		{"POST", "/nowhere", "", "", "no page is asked for like this", "aucune page ne se demande ainsi"},
		{"GET", "/nowhere", "", "", "no page at this address", "pas de page à cette adresse"},
		{"POST", "/study", "a=%zz", "application/x-www-form-urlencoded", "could not be read: it is not written as",
			"pas pu être lu : il n’est pas écrit comme"},
		{"POST", "/take", "--x", "multipart/form-data; boundary=y", "could not be read: it is not written as",
			"pas pu être lu : il n’est pas écrit comme"},
	} {
		for language, says := range map[string]string{"en": c.en, "fr": c.fr} {
			r := httptest.NewRequest(c.method, c.path, strings.NewReader(c.body))
			r.Host = "localhost:7345"
			r.Header.Set("Content-Type", c.kind)
			r.AddCookie(&http.Cookie{Name: "spile-language", Value: language})
			w := httptest.NewRecorder()
			d.ServeHTTP(w, r)
			if w.Code < 400 || w.Code >= 500 || !strings.Contains(strings.NewReplacer("\u00a0", " ", "\u202f",
				" ").Replace(html.UnescapeString(w.Body.String())), says) {
				t.Errorf("%s %s in %s: %d, %.300s", c.method, c.path, language, w.Code, w.Body)
			}
		}
	}
}
