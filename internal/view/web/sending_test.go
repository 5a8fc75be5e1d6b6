package web

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"
)

// An answer that takes longer to be worked out than it may take to be sent arrives whole; one that nobody reads is
// given up, so that it holds no connection.
func TestTimeToSend(t *testing.T) {
	const within = 200 * time.Millisecond
	gaveUp := make(chan error, 1)
	s := httptest.NewServer(sentWithin(within, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/late" {
			time.Sleep(2 * within)
			io.WriteString(w, "worked out")
			return
		}
		piece := bytes.Repeat([]byte("x"), 1<<20)
		for begin := time.Now(); time.Since(begin) < time.Minute; {
			if _, err := w.Write(piece); err != nil {
				gaveUp <- err
				return
			}
		}
		gaveUp <- nil
	})))
	defer s.Close()
	a, err := http.Get(s.URL + "/late")
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	if body, err := io.ReadAll(a.Body); err != nil || string(body) != "worked out" {
		t.Errorf("%q, %v", body, err)
	}
	unread, err := http.Get(s.URL + "/endless")
	if err != nil {
		t.Fatal(err)
	}
	defer unread.Body.Close()
	if <-gaveUp == nil {
		t.Error("what nobody reads was sent on and on")
	}
}
