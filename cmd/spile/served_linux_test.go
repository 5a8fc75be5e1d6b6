package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"spile/internal/cluster"
)

// Every command takes an address where it takes a workbook, answers the same, and never tells the password.
func TestServedCommands(t *testing.T) {
	empty := cluster.Schemas(t)
	scenario(t)
	t.Setenv("SOURCE_DATE_EPOCH", "1772000000")
	at := empty()
	shown, _, _ := strings.Cut(at, "?")
	secret := shown[strings.Index(shown, "spile:")+6 : strings.Index(shown, "@")]
	quiet := func(code int, args []string, said string) {
		t.Helper()
		if strings.Contains(said, secret) || strings.Contains(said, "s@p/") {
			t.Errorf("spile %s (exit code %d) tells the password:\n%s", strings.Join(args, " "), code, said)
		}
	}
	for _, tt := range []struct {
		code int
		args string
	}{
		{done, "new BOOK"},
		{faultyData, "new BOOK"},
		{faultyData, "gains BOOK"}, // which is empty
		{done, "add BOOK evidence.csv prices.toml --who Ada"},
		{faultyData, "add BOOK faulty.csv"},
		{faultyData, "add BOOK nowhere.csv"},
		{faultyCall, "gains BOOK evidence.csv"},
		{faultyCall, "gains BOOK BOOK"},
		{faultyCall, "gains BOOK --without nonsense"},
		{faultyCall, "gains BOOK --nonsense"},
		{faultyCall, "BOOK"},
		{done, "check BOOK"},
		{done, "changes BOOK --since 0"},
		{done, "gains BOOK --json"},
		{done, "rotation BOOK --json"},
		{done, "profit BOOK --json"},
		{done, "profit BOOK"},
		{done, "figure net BOOK -o net.svg"},
		{done, "report BOOK --since 0 -o since.html"},
		{done, "export BOOK -o package/"},
		{done, "export BOOK --worksheet -o money.xlsx"},
		{done, "trial design unsanitized check-valve --replicates 4 --seed 7 --site Hill --first 2027 --name One " +
			"--book BOOK"},
		{done, "trial sheet BOOK One -o one.pdf"},
		{faultyCall, "trial analyse BOOK Two"},
		{faultyCall, "serve BOOK --addr 0.0.0.0:1"},
		{faultyCall, "serve BOOK --addr nowhere"},
		{done, "copy BOOK back.spile"},
	} {
		run := func(book string) (int, string, string) {
			return call(strings.Fields(strings.ReplaceAll(tt.args, "BOOK", book))...)
		}
		code, stdout, stderr := run(at)
		quiet(code, strings.Fields(tt.args), stdout+stderr)
		if code != tt.code {
			t.Errorf("spile %s: exit code %d, wanted %d\n%s%s", tt.args, code, tt.code, stdout, stderr)
		}
		if strings.HasPrefix(tt.args, "copy") {
			break
		}
		json := strings.Contains(tt.args, "--json")
		if strings.HasPrefix(tt.args, "new") || strings.HasPrefix(tt.args, "add") || json {
			if _, fromFile, _ := run("w.spile"); json && stdout != fromFile {
				t.Errorf("spile %s answers other than from a file", tt.args)
			}
		}
	}
	for _, name := range []string{"net.svg", "since.html", "package/datapackage.json", "back.spile"} {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Error(err)
		}
		quiet(done, []string{name}, string(data))
	}
	digests := func(book string) string {
		_, stdout, _ := call("check", book)
		_, after, _ := strings.Cut(stdout, "\n")
		return after
	}
	again := empty()
	wrote(t, done, "copied", "copy", "back.spile", again)
	wrote(t, faultyData, "not empty", "copy", "w.spile", again)
	if a, b, c := digests(at), digests("back.spile"), digests(again); a == "" || a != b || b != c {
		t.Errorf("copied over and back it has other digests:\n%s%s%s", a, b, c)
	}
	wrong := strings.Replace(at, secret, "SECRET", 1)
	for _, args := range []string{"check %", "gains %", "add % evidence.csv", "copy w.spile %", "copy % z.spile",
		"gains --prices=%", "trial sheet %", "serve %"} {
		code, stdout, stderr := call(strings.Fields(strings.ReplaceAll(args, "%", wrong))...)
		if code == done || strings.Contains(stdout+stderr, "SECRET") {
			t.Errorf("spile %s with a wrong password: exit code %d\n%s%s", args, code, stdout, stderr)
		}
	}
}

// lines is what a command says while it runs.
type lines struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *lines) find(t *testing.T, pattern string) string {
	t.Helper()
	for until := time.Now().Add(30 * time.Second); time.Now().Before(until); time.Sleep(20 * time.Millisecond) {
		l.mu.Lock()
		found := regexp.MustCompile(pattern).FindString(l.text.String())
		l.mu.Unlock()
		if found != "" {
			return found
		}
	}
	t.Fatalf("%s is not said in %s", pattern, &l.text)
	return ""
}

// Over the network by TLS of its own: whoever is invited signs in, the cookie is of TLS alone, what is no TLS or an old
// one is refused, answers are counted, and the log is JSON without any secret.
func TestServedOverTLS(t *testing.T) {
	at := cluster.Schemas(t)()
	t.Chdir(t.TempDir())
	trusted := certificate(t, "maple.example.org")
	wrote(t, done, "", "new", at)
	_, invited, _ := call("invite", at, "Ada Wood", "--at", "https://maple.example.org")
	token := regexp.MustCompile(`/join/(\S+)`).FindStringSubmatch(invited)
	if token == nil {
		t.Fatal(invited)
	}
	ctx, interrupt := context.WithCancel(t.Context())
	var said, log lines
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, []string{"serve", at, "--addr", "127.0.0.1:0", "--name", "maple.example.org",
			"--cert", "cert.pem", "--key", "key.pem", "--metrics", "127.0.0.1:0"}, &memo, &said, &log)
	}()
	host := strings.TrimSuffix(strings.TrimPrefix(said.find(t, `https://127\.0\.0\.1:\d+/`), "https://"), "/")
	jar, _ := cookiejar.New(nil)
	client := &http.Client{Jar: jar, Transport: &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: trusted},
		DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
			return new(net.Dialer).DialContext(ctx, network, host)
		},
	}}
	const site, password = "https://maple.example.org", "SECRET of nine sugar maples"
	ask := func(want int, w *http.Response, err error) *http.Response {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		w.Body.Close()
		if w.StatusCode != want {
			t.Errorf("%s: %d, wanted %d", w.Request.URL, w.StatusCode, want)
		}
		return w
	}
	w, err := client.Get(site + "/healthz")
	ask(http.StatusOK, w, err)
	w, err = client.PostForm(site+"/join/"+token[1], url.Values{"password": {password}, "again": {password}})
	ask(http.StatusOK, w, err)
	w, err = client.Get(site + "/account")
	ask(http.StatusOK, w, err)
	u, _ := url.Parse(site)
	cookies := jar.Cookies(u)
	if !slices.ContainsFunc(cookies, func(c *http.Cookie) bool { return c.Name == "__Host-spile" }) {
		t.Errorf("no cookie of this host by TLS: %v", cookies)
	}
	w, err = http.Get("http://" + host + "/")
	ask(http.StatusBadRequest, w, err)
	old := &tls.Config{RootCAs: trusted, ServerName: "maple.example.org", MaxVersion: tls.VersionTLS11}
	if c, err := tls.Dial("tcp", host, old); err == nil {
		c.Close()
		t.Error("TLS 1.1 is taken")
	}
	w, err = client.PostForm(site+"/tokens", url.Values{"label": {"laptop"}})
	if err != nil {
		t.Fatal(err)
	}
	page, _ := io.ReadAll(w.Body)
	w.Body.Close()
	let := regexp.MustCompile(`spile_[A-Z2-7]+`).FindString(string(page))
	t.Setenv("SPILE_TOKEN", let)
	wrote(t, done, "", "new", "w.spile")
	_, port, _ := net.SplitHostPort(host)
	for _, tt := range []struct{ trusts, with, said string }{
		{"", "https://" + host, "nobody whom this machine trusts vouches for the certificate"},
		{"cert.pem", "https://localhost:" + port, "of another name, so the token was not sent; allowed: " +
			"maple.example.org, 127.0.0.1"},
		{"cert.pem", "https://" + host, "both sides hold the same"},
	} {
		t.Setenv("SSL_CERT_FILE", tt.trusts)
		c, answer := start(t, ".", "sync", "w.spile", tt.with, "--who", "Ada")
		c.Wait()
		if text := strings.Join(strings.Fields(answer.String()), " "); !strings.Contains(text, tt.said) ||
			strings.Contains(text, let) {
			t.Errorf("by the certificates in %q, %s: %s", tt.trusts, tt.with, answer)
		}
	}
	counters := log.find(t, `http://127\.0\.0\.1:\d+/metrics`)
	w, err = http.Get(counters)
	if err != nil {
		t.Fatal(err)
	}
	text, _ := io.ReadAll(w.Body)
	w.Body.Close()
	if !strings.Contains(string(text), `spile_answers_total{code="200"}`) {
		t.Errorf("%s", text)
	}
	interrupt()
	<-ended
	secrets := []string{token[1], let, "SECRET", "Ada"}
	for _, c := range cookies {
		secrets = append(secrets, c.Value)
	}
	for line := range strings.Lines(log.text.String()) {
		if !json.Valid([]byte(line)) {
			t.Errorf("no JSON: %s", line)
		}
		for _, secret := range secrets {
			if len(secret) > 2 && strings.Contains(line, secret) {
				t.Errorf("a secret is told: %s", line)
			}
		}
	}
}

// certificate writes cert.pem and key.pem for a name, signed by themselves.
func certificate(t *testing.T, name string) *x509.CertPool {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	facts := &x509.Certificate{SerialNumber: big.NewInt(1), DNSNames: []string{name}, IsCA: true,
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, BasicConstraintsValid: true,
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour)}
	cert, err := x509.CreateCertificate(rand.Reader, facts, facts, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	for file, block := range map[string]*pem.Block{"cert.pem": {Type: "CERTIFICATE", Bytes: cert},
		"key.pem": {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(file, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	pool := x509.NewCertPool()
	parsed, _ := x509.ParseCertificate(cert)
	pool.AddCert(parsed)
	return pool
}
