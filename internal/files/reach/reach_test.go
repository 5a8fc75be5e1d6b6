package reach

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// A server that cannot be believed is told in plain words, and never sees the token.
func TestWhoIsNotBelieved(t *testing.T) {
	asked := false
	h := http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked = true })
	safe, plain := httptest.NewUnstartedServer(h), httptest.NewServer(h)
	safe.Config.ErrorLog = log.New(io.Discard, "", 0) // of handshakes that end
	safe.StartTLS()
	defer safe.Close()
	defer plain.Close()
	trusted := x509.NewCertPool()
	trusted.AddCert(safe.Certificate())
	for _, tt := range []struct {
		at   string
		by   *tls.Config
		said string
	}{
		{safe.URL, &tls.Config{RootCAs: x509.NewCertPool()}, "nobody whom this machine trusts"},
		{safe.URL, &tls.Config{RootCAs: trusted, ServerName: "maple.example.org"}, "of another name, so the token " +
			"was not sent; allowed: example.com, *.example.com, 127.0.0.1, ::1"},
		{safe.URL, &tls.Config{RootCAs: trusted, Time: func() time.Time { return time.Unix(1e11, 0) }},
			"is not good at this time, so the token was not sent; it was good from 1970-01-01 to 2084-01-29"},
		{strings.Replace(plain.URL, "http:", "https:", 1), &tls.Config{}, "does not speak TLS"},
	} {
		w, err := At(context.Background(), tt.at, "spile_SECRET", "en")
		if err != nil {
			t.Fatal(err)
		}
		w.client.Transport = &http.Transport{TLSClientConfig: tt.by}
		if _, err := w.Heads(); err == nil || !strings.Contains(err.Error(), tt.said) ||
			strings.Contains(err.Error(), "SECRET") {
			t.Errorf("%v, wanted %q", err, tt.said)
		}
		if asked {
			t.Fatal("it was asked, with the token")
		}
	}
}
