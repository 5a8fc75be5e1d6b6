package web

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// A phone goes out of reach in the middle of a post: of one that did not come whole nothing is stored, and of one whose
// answer did not come all is, once, however often the phone asks again.
func TestAPostThatBreaksOff(t *testing.T) {
	o := openBare(t)
	cookie := o.let("Bo")
	const on = "2025-03-27"
	draft := sending("d1", "2", on, "amount", "531")
	head := "POST " + page.ReadPath + " HTTP/1.1\r\nHost: " + lan + "\r\nOrigin: http://" + lan + "\r\nCookie: " +
		trees.PhoneKey + "=" + cookie + "\r\nContent-Type: application/x-www-form-urlencoded\r\n"
	body := draft.Encode()
	whole := head + fmt.Sprintf("Content-Length: %d\r\n\r\n", len(body)) + body
	chunked := head + fmt.Sprintf("Transfer-Encoding: chunked\r\n\r\n%x\r\n%s\r\n", len(body), body)
	send := func(text string) {
		t.Helper()
		server := httptest.NewServer(o.phones)
		c, err := net.Dial("tcp", server.Listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(c, text); err != nil {
			t.Fatal(err)
		}
		c.Close()
		time.Sleep(20 * time.Millisecond) // it has been taken up
		server.Close()                    // waits for what is under way
	}
	before := o.contents().Change
	for _, cut := range []string{whole[:len(head)/2], whole[:len(whole)-len(body)], whole[:len(whole)-len(body)/2],
		whole[:strings.LastIndex(whole, "531")+2], whole[:len(whole)-1], chunked} {
		if send(cut); o.contents().Change != before {
			t.Fatalf("stored of what did not come whole: %q", cut[len(cut)-20:])
		}
	}
	if desk := o.get("/trials"); strings.Contains(desk, "typed by Bo") {
		t.Error("what did not come whole is listed as refused")
	}
	send(whole) // the answer is never read
	for range 2 {
		w := o.call("POST", page.ReadPath, cookie, draft)
		if got := o.stored(w, cookie); !slices.Equal(got, []string{"d1"}) {
			t.Errorf("sent again: %q", got)
		}
	}
	if now := o.contents().Change; now != before+1 || *o.read("2", on).Counter != 531 {
		t.Errorf("stored %d times, reads %v", now-before, *o.read("2", on).Counter)
	}
}

// The workbench is started anew in the middle of an upload: it ends soon all the same, nothing of the upload is kept,
// and sent again it is taken whole.
func TestARestartDuringAnUpload(t *testing.T) {
	if os.Getenv("SPILE_FAULTS") == "" {
		t.Skip("SPILE_FAULTS is not set")
	}
	d := sit(t, false)
	body := "pasted=" + url.QueryEscape("study,site,season,practice,mean,n,sd\n"+
		"Slow line,Hill,2019,unsanitized,12,6,2\nSlow line,Hill,2019,new-spout,14,6,2\n")
	serve := func(during func(at string)) error {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error)
		go func() { ended <- Serve(ctx, l, d) }()
		during("http://" + l.Addr().String())
		cancel()
		select {
		case err := <-ended:
			return err
		case <-time.After(20 * time.Second):
			t.Fatal("it does not end")
		}
		return nil
	}
	before := d.contents().Change
	part, sent := io.Pipe()
	answer := make(chan error)
	if err := serve(func(at string) {
		go func() {
			w, err := http.Post(at+"/take", "application/x-www-form-urlencoded", part)
			if err == nil {
				w.Body.Close()
			}
			answer <- err
		}()
		io.WriteString(sent, body[:len(body)-30])
		time.Sleep(100 * time.Millisecond)
	}); err != nil {
		t.Errorf("it ends with a fault: %v", err)
	}
	sent.CloseWithError(io.ErrClosedPipe)
	if err := <-answer; err == nil {
		t.Error("half an upload was answered")
	}
	if now := d.contents().Change; now != before {
		t.Errorf("change %d of half an upload", now)
	}
	serve(func(at string) {
		w, err := http.Post(at+"/take", "application/x-www-form-urlencoded", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		defer w.Body.Close()
		text, _ := io.ReadAll(w.Body)
		if w.StatusCode != http.StatusOK || !strings.Contains(string(text), "Slow line") {
			t.Errorf("sent again: %d", w.StatusCode)
		}
	})
}
