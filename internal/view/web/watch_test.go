package web

import (
	"bytes"
	"encoding/json"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// What is answered is written down and counted, and no secret with it: neither of an address, nor of a form, nor a
// cookie.
func TestWatch(t *testing.T) {
	var log bytes.Buffer
	x := NewWatch(slog.New(slog.NewJSONHandler(&log, nil)))
	h := x.Over(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/fails":
			panic(http.ErrAbortHandler)
		case "/refused":
			http.Error(w, "SECRET", http.StatusForbidden)
		case "/early":
			w.WriteHeader(http.StatusEarlyHints)
			w.WriteHeader(http.StatusNoContent)
		default:
			w.Write([]byte("12345"))
		}
	}))
	asked := []struct {
		path, at string
		code     int
		bytes    float64
	}{
		{"/", "/", 200, 5}, {"/join/SECRET?SECRET=SECRET", "/join", 200, 5}, {"/refused", "/refused", 403, 7},
		{"/fails", "/fails", 500, 0}, {"/early", "/early", 204, 0},
	}
	for _, a := range asked {
		func() {
			defer func() { recover() }()
			r := httptest.NewRequest("POST", a.path, strings.NewReader("password=SECRET"))
			r.Header.Set("Cookie", "spile=SECRET")
			h.ServeHTTP(httptest.NewRecorder(), r)
		}()
	}
	if strings.Contains(log.String(), "SECRET") {
		t.Errorf("a secret is written down:\n%s", &log)
	}
	lines := json.NewDecoder(&log)
	for _, a := range asked {
		var line map[string]any
		if err := lines.Decode(&line); err != nil {
			t.Fatal(err)
		}
		level := "INFO"
		if a.code >= 500 {
			level = "ERROR"
		}
		if line["at"] != a.at || line["code"] != float64(a.code) || line["bytes"] != a.bytes || line["level"] != level {
			t.Errorf("%s: %v", a.path, line)
		}
	}
	w := httptest.NewRecorder()
	x.ServeHTTP(w, nil)
	for _, want := range []string{
		"spile_answers_total{code=\"200\"} 2\n", "{code=\"403\"} 1\n", "{code=\"500\"} 1\n", "{code=\"204\"} 1\n",
		"spile_answer_seconds_bucket{le=\"+Inf\"} 5\n", "spile_answer_seconds_count 5\n", "spile_heap_bytes ",
	} {
		if !strings.Contains(w.Body.String(), want) {
			t.Errorf("the counters lack %q:\n%s", want, w.Body)
		}
	}
}
