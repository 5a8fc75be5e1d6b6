package page

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"spile/internal/view/say"
)

func asked(h http.Handler, address string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest("GET", address, nil)
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// Nothing is worked out for a reader who has the answer; another address, state or language is another answer.
func TestNothingIsWorkedOutTwice(t *testing.T) {
	made := 0
	site := func(change int64, lang string) http.Handler {
		s := &Site{Kit: &Kit{Voice: say.In(lang)}}
		s.Have.Change = change
		s.tag = s.digest
		return s.IfNew(func(w http.ResponseWriter, r *http.Request) {
			made++
			Send(w, r, HTML, []byte("page"))
		})
	}
	tag := asked(site(1, "en"), "/a?b=1").Header().Get("ETag")
	for _, c := range []struct {
		name, address string
		h             http.Handler
		code, made    int
	}{
		{"the same", "/a?b=1", site(1, "en"), http.StatusNotModified, 0},
		{"another number", "/a?b=2", site(1, "en"), http.StatusOK, 1},
		{"another state", "/a?b=1", site(2, "en"), http.StatusOK, 1},
		{"another language", "/a?b=1", site(1, "fr"), http.StatusOK, 1},
	} {
		made = 0
		if w := asked(c.h, c.address, "If-None-Match", `"x", `+tag); w.Code != c.code || made != c.made {
			t.Errorf("%s: %d, worked out %d times", c.name, w.Code, made)
		}
	}
}

// Text is sent packed to who takes it so, and reads the same; pictures, little and what may not be stored are not.
func TestPacked(t *testing.T) {
	long := strings.Repeat("sap ", 1000)
	for _, c := range []struct {
		name, kind, accept, cache, body string
		packed                          bool
	}{
		{"a page", HTML, "gzip, deflate, br", "", long, true},
		{"a table", CSV, "br;q=1.0, gzip;q=0.8", "no-cache", long, true},
		{"a figure", "image/svg+xml", "*", "", long, true},
		{"refused", HTML, "gzip;q=0", "", long, false},
		{"not asked for", HTML, "", "", long, false},
		{"a picture", "image/png", "gzip", "", long, false},
		{"little", HTML, "gzip", "", "sap", false},
		{"a secret", HTML, "gzip", "no-store", long, false},
	} {
		h := packed(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if c.cache != "" {
				w.Header().Set("Cache-Control", c.cache)
			}
			Send(w, r, c.kind, []byte(c.body))
		}))
		w := asked(h, "/", "Accept-Encoding", c.accept)
		var in io.Reader = w.Body
		if is := w.Header().Get("Content-Encoding") == "gzip"; is != c.packed {
			t.Errorf("%s: packed %t", c.name, is)
			continue
		} else if is {
			in, _ = gzip.NewReader(w.Body)
		}
		if body, err := io.ReadAll(in); err != nil || string(body) != c.body {
			t.Errorf("%s: %d bytes of %d, %v", c.name, len(body), len(c.body), err)
		}
	}
	h := packed(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { Send(w, r, HTML, []byte(long)) }))
	w := asked(h, "/", "Accept-Encoding", "gzip", "Range", "bytes=0-9")
	if w.Code != http.StatusPartialContent || w.Body.Len() != 10 {
		t.Errorf("a part: %d, %d bytes", w.Code, w.Body.Len())
	}
}
