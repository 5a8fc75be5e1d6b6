// Package reach is the other side of a sync where it is a workbench that is reached over the network.
package reach

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"time"

	"spile/internal/files/book"
	"spile/internal/note"
)

// Workbench is one, as the account sees it that the token is of. It is a book.Side.
type Workbench struct {
	ctx      context.Context
	at       *url.URL
	token    string
	language string
	client   *http.Client
}

// Served is true of what is the address of a workbench.
func Served(path string) bool {
	scheme, _, _ := strings.Cut(strings.ToLower(path), "://")
	return scheme == "https" || scheme == "http"
}

// most is the size of an answer that is taken, in bytes.
const most = 256 << 20

// At is the workbench at an address; what it says is in a language. The error is note.Faults where a token would go
// over a network as it is.
func At(ctx context.Context, address, token, language string) (*Workbench, error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" ||
		strings.Trim(u.Path, "/") != "" {
		return nil, note.Faults{note.New("this is no address of a workbench; allowed: such as " +
			"https://maple.example.org")}
	}
	ip := net.ParseIP(u.Hostname())
	if u.Scheme != "https" && u.Hostname() != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil, note.Faults{note.New("%s is not encrypted, and a token goes there; allowed: https://", u.Host)}
	}
	return &Workbench{ctx, u, token, language, &http.Client{
		Timeout:       10 * time.Minute,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}, nil
}

// Token is what a file or the environment says, in this order.
func Token(file string) (string, error) {
	token := os.Getenv("SPILE_TOKEN")
	if file != "" {
		data, err := os.ReadFile(file)
		if err != nil {
			return "", note.Faults{note.New("cannot be read: %s", reason(err)).At(note.Where{File: file})}
		}
		token = string(data)
	}
	token = strings.TrimSpace(token)
	if token == "" || strings.ContainsAny(token, " \t\r\n") {
		return "", note.Faults{note.New("there is no token; allowed: one that the page Account of the workbench has " +
			"made, in a file (--token FILE) or in SPILE_TOKEN")}
	}
	return token, nil
}

// Name is what the origin of what it brings is called.
func (w *Workbench) Name() string { return w.at.Host }

// Heads say how it stands.
func (w *Workbench) Heads() (h book.Heads, err error) {
	return h, w.ask(http.MethodGet, "/sync/heads", nil, &h)
}

// Lines are those of some units.
func (w *Workbench) Lines(of []string) (p book.Parcel, err error) {
	return p, w.ask(http.MethodPost, "/sync/lines", of, &p)
}

// Take sends ends of lines.
func (w *Workbench) Take(p book.Parcel) (t book.Taken, err error) {
	return t, w.ask(http.MethodPost, "/sync/take", p, &t)
}

func (w *Workbench) ask(method, path string, send, into any) error {
	host := w.at.Host
	var body io.Reader
	if send != nil {
		data, err := json.Marshal(send)
		if err != nil {
			return err
		}
		body = bytes.NewReader(data)
	}
	r, err := http.NewRequestWithContext(w.ctx, method, w.at.JoinPath(path).String(), body)
	if err != nil {
		return err
	}
	r.Header.Set("Authorization", "Bearer "+w.token)
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Cookie", "spile-language="+w.language)
	answer, err := w.client.Do(r)
	if err == nil {
		defer answer.Body.Close()
		body, err = io.LimitReader(answer.Body, most), nil
	}
	var said []byte
	if err == nil {
		said, err = io.ReadAll(body)
	}
	switch {
	case errors.Is(w.ctx.Err(), context.Canceled):
		return w.ctx.Err()
	case errors.As(err, new(*tls.CertificateVerificationError)):
		return note.Faults{distrust(host, err)}
	case errors.Is(err, http.ErrSchemeMismatch):
		return fault("%s does not speak TLS at this address; allowed: the one at which browsers reach it", host)
	case err != nil:
		return fault("%s does not answer, or broke off (%s). What was done stays done; run it again", host, reason(err))
	case answer.StatusCode == http.StatusUnauthorized:
		return fault("%s does not know the token, or it was withdrawn; allowed: another, made on the page Account "+
			"there", host)
	case answer.StatusCode == http.StatusUnprocessableEntity:
		return fault("%s: %s", host, strings.TrimSpace(string(said)))
	case answer.StatusCode == http.StatusRequestEntityTooLarge:
		return fault("%s does not take as much at once", host)
	case answer.StatusCode == http.StatusServiceUnavailable:
		return fault("the database of %s does not answer; run it again in a while", host)
	case answer.StatusCode != http.StatusOK ||
		!strings.HasPrefix(answer.Header.Get("Content-Type"), "application/json"):
		return fault("there is no workbench with accounts at %s (it answers with %d)", host, answer.StatusCode)
	}
	if err := json.Unmarshal(said, into); err != nil {
		return fault("what %s answers is not as spile writes it", host)
	}
	return nil
}

// distrust says why the certificate of a host is not taken. The token was not sent then.
func distrust(host string, err error) note.Note {
	var other x509.HostnameError
	var invalid x509.CertificateInvalidError
	switch {
	case errors.As(err, &other):
		names := slices.Clone(other.Certificate.DNSNames)
		for _, ip := range other.Certificate.IPAddresses {
			names = append(names, ip.String())
		}
		return note.New("the certificate that %s shows is of another name, so the token was not sent; allowed: %s",
			host, strings.Join(names, ", "))
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return note.New("the certificate that %s shows is not good at this time, so the token was not sent; it was "+
			"good from %s to %s, if the clock of this machine is right", host, note.Day(invalid.Cert.NotBefore),
			note.Day(invalid.Cert.NotAfter))
	}
	return note.New("nobody whom this machine trusts vouches for the certificate that %s shows, so the token was not "+
		"sent; where it is your own, this machine has to trust it (on Linux SSL_CERT_FILE may name its file)", host)
}

func fault(text string, args ...any) error { return note.Faults{note.New(text, args...)} }

// reason is the innermost error.
func reason(err error) string {
	for inner := errors.Unwrap(err); inner != nil; inner = errors.Unwrap(err) {
		err = inner
	}
	return err.Error()
}
