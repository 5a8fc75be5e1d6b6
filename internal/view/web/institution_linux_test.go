package web

import (
	"crypto/rand"
	"crypto/rsa"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/go-jose/go-jose/v4"

	"spile/internal/cluster"
	"spile/internal/files/people"
	"spile/internal/view/web/door"
)

// provider is an institution of this test's own: its discovery, keys and tokens (OpenID Connect Core 1.0 and Discovery
// 1.0; PKCE by RFC 7636).
type provider struct {
	*httptest.Server
	t         *testing.T
	key       *rsa.PrivateKey
	claims    map[string]any // of the next ID token, over the usual ones; nil takes one out
	sign      *rsa.PrivateKey
	alg       jose.SignatureAlgorithm
	down      bool // its tokens' address fails
	challenge string
	nonce     string
	code      string
	now       func() time.Time
}

const clientID, clientSecret = "spile at the station", "SECRET of the client"

func institution(t *testing.T, now func() time.Time) *provider {
	key, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	p := &provider{t: t, key: key, now: now}
	m := http.NewServeMux()
	m.HandleFunc("GET /.well-known/openid-configuration", func(w http.ResponseWriter, r *http.Request) {
		p.json(w, map[string]any{"issuer": p.URL, "authorization_endpoint": p.URL + "/authorize",
			"token_endpoint": p.URL + "/token", "jwks_uri": p.URL + "/keys",
			"response_types_supported": []string{"code"}, "subject_types_supported": []string{"public"},
			"id_token_signing_alg_values_supported": []string{"RS256"}})
	})
	m.HandleFunc("GET /keys", func(w http.ResponseWriter, r *http.Request) {
		p.json(w, jose.JSONWebKeySet{Keys: []jose.JSONWebKey{{Key: key.Public(), KeyID: "one", Algorithm: "RS256",
			Use: "sig"}}})
	})
	m.HandleFunc("POST /token", p.token)
	p.Server = httptest.NewServer(m)
	t.Cleanup(p.Close)
	return p
}

func (p *provider) json(w http.ResponseWriter, x any) {
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(x)
}

// token takes a code once, from the client that proves itself and who began.
func (p *provider) token(w http.ResponseWriter, r *http.Request) {
	if p.down {
		http.Error(w, "down", http.StatusBadGateway)
		return
	}
	id, secret, ok := r.BasicAuth()
	id, _ = url.QueryUnescape(id)
	secret, _ = url.QueryUnescape(secret)
	if !ok {
		id, secret = r.FormValue("client_id"), r.FormValue("client_secret")
	}
	sum := sha256.Sum256([]byte(r.FormValue("code_verifier")))
	if id != clientID || secret != clientSecret || p.code == "" || r.FormValue("code") != p.code ||
		base64.RawURLEncoding.EncodeToString(sum[:]) != p.challenge {
		w.WriteHeader(http.StatusBadRequest)
		p.json(w, map[string]string{"error": "invalid_grant"})
		return
	}
	p.code = ""
	claims := map[string]any{"iss": p.URL, "aud": clientID, "sub": "s-1", "nonce": p.nonce, "iat": p.now().Unix(),
		"exp": p.now().Add(time.Minute).Unix(), "email": "ada@example.org", "email_verified": true}
	for k, v := range p.claims {
		if claims[k] = v; v == nil {
			delete(claims, k)
		}
	}
	body, _ := json.Marshal(claims)
	alg, by := jose.RS256, any(p.key)
	if p.sign != nil {
		by = p.sign
	}
	if p.alg != "" {
		alg, by = p.alg, []byte(strings.Repeat("k", 64))
	}
	signer, err := jose.NewSigner(jose.SigningKey{Algorithm: alg, Key: by},
		new(jose.SignerOptions).WithHeader("kid", "one"))
	if err != nil {
		p.t.Fatal(err)
	}
	signed, err := signer.Sign(body)
	if err != nil {
		p.t.Fatal(err)
	}
	raw, _ := signed.CompactSerialize()
	p.json(w, map[string]any{"access_token": "a", "token_type": "Bearer", "id_token": raw, "expires_in": 60})
}

// begin goes to the institution as a browser does, and gives its session and the way back.
func (p *provider) begin(d atDoor, to string) (cookie, back string) {
	p.t.Helper()
	w := d.ask("GET", "/institution?to="+url.QueryEscape(to), "", nil)
	u, err := url.Parse(w.Header().Get("Location"))
	if err != nil || w.Code != http.StatusSeeOther || !strings.HasPrefix(u.String(), p.URL+"/authorize?") {
		p.t.Fatalf("%d to %q, %v\n%s", w.Code, u, err, w.Body)
	}
	q := u.Query()
	if q.Get("response_type") != "code" || q.Get("client_id") != clientID || q.Get("code_challenge_method") != "S256" ||
		q.Get("redirect_uri") != "http://localhost:7345/institution/back" || len(q.Get("state")) < 20 ||
		len(q.Get("nonce")) < 20 || q.Get("scope") != "openid email" || strings.Contains(u.String(), "SECRET") {
		p.t.Errorf("asked as %s", u)
	}
	p.challenge, p.nonce, p.code = q.Get("code_challenge"), q.Get("nonce"), "c-"+rand.Text()
	return session(w), "/institution/back?" + url.Values{"state": {q.Get("state")}, "code": {p.code}}.Encode()
}

func TestServedInstitution(t *testing.T) {
	schema := cluster.Schemas(t)
	open := func(t *testing.T) (atDoor, *provider) {
		d := knock(t, schema(), false, false)
		p := institution(t, func() time.Time { return *d.now })
		d.door.Institution = &door.Institution{Issuer: p.URL, Client: clientID, Secret: clientSecret}
		if _, err := d.people.Invite("Ada Wood", "Fern Gate", "Ada@Example.org", people.Editor, *d.now); err != nil {
			t.Fatal(err)
		}
		d.account("Stew", people.Steward)
		return d, p
	}
	in := func(d atDoor, w *httptest.ResponseRecorder) bool {
		return w.Code == http.StatusSeeOther &&
			strings.Contains(d.ask("GET", "/account", session(w), nil).Body.String(), "Ada Wood")
	}
	t.Run("lets in", func(t *testing.T) {
		d, p := open(t)
		if page := d.ask("GET", "/sign-in?to=/gains", "", nil).Body.String(); !strings.Contains(page,
			`href="/institution?to=%2Fgains"`) {
			t.Error("the page of signing in does not lead there")
		}
		cookie, back := p.begin(d, "/gains")
		w := d.ask("GET", back, cookie, nil, "Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate",
			"Sec-Fetch-Dest", "document")
		if !in(d, w) || w.Header().Get("Location") != "/gains" || session(w) == cookie {
			t.Fatalf("%d to %q\n%s", w.Code, w.Header().Get("Location"), w.Body)
		}
		if again := d.ask("GET", back, cookie, nil); again.Code != http.StatusUnauthorized {
			t.Errorf("the way back leads in twice: %d", again.Code)
		}
		// Bound, she is known by her subject: another address of hers is hers, and another's claim to the first is not.
		p.claims = map[string]any{"email": "ada.wood@example.org"}
		cookie, back = p.begin(d, "https://elsewhere.example")
		if w := d.ask("GET", back, cookie, nil); !in(d, w) || w.Header().Get("Location") != "/" {
			t.Errorf("%d to %q", w.Code, w.Header().Get("Location"))
		}
		p.claims = map[string]any{"sub": "s-2"}
		cookie, back = p.begin(d, "/")
		if w := d.ask("GET", back, cookie, nil); in(d, w) || w.Code != http.StatusUnauthorized {
			t.Errorf("another of her address is let in: %d", w.Code)
		}
		if _, err := d.people.Invite("Bo", "", "ada@example.org", people.Reader, *d.now); err == nil {
			t.Error("two are invited by one address")
		}
		all, _ := d.people.All()
		if err := d.people.Set(all[0].ID, "", people.Nothing); all[0].Name != "Ada Wood" || err != nil {
			t.Fatal(all, err)
		}
		p.claims = nil
		cookie, back = p.begin(d, "/")
		if w := d.ask("GET", back, cookie, nil); in(d, w) || w.Code != http.StatusUnauthorized {
			t.Errorf("one with no right is let in: %d", w.Code)
		}
		// Invited again by another address she is not known by the old subject.
		if _, err := d.people.Invite("Ada Wood", "", "ada@elsewhere.example", people.Reader, *d.now); err != nil {
			t.Fatal(err)
		}
		cookie, back = p.begin(d, "/")
		if w := d.ask("GET", back, cookie, nil); in(d, w) {
			t.Error("the old subject is let in by a new invitation")
		}
	})
	other, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	d, p := open(t)
	const nobody, again, mail = "named nobody", "Begin again", "does not vouch"
	const uninvited = "nobody here was invited"
	for name, tt := range map[string]struct {
		claims map[string]any
		spoil  func(cookie, back *string)
		says   string
	}{
		"nobody invited":          {claims: map[string]any{"email": "eve@example.org"}, says: uninvited},
		"no address":              {claims: map[string]any{"email": nil}, says: mail},
		"an address not verified": {claims: map[string]any{"email_verified": false}, says: mail},
		"nothing of verification": {claims: map[string]any{"email_verified": nil}, says: mail},
		"verified as a text no":   {claims: map[string]any{"email_verified": "false"}, says: mail},
		"an empty address":        {claims: map[string]any{"email": ""}, says: mail},
		"another nonce":           {claims: map[string]any{"nonce": "x"}, says: nobody},
		"no nonce":                {claims: map[string]any{"nonce": nil}, says: nobody},
		"for another client":      {claims: map[string]any{"aud": "another"}, says: nobody},
		"of another issuer":       {claims: map[string]any{"iss": "https://elsewhere.example"}, says: nobody},
		"too old":                 {claims: map[string]any{"exp": d.now.Add(-time.Hour).Unix()}, says: nobody},
		"no subject":              {claims: map[string]any{"sub": ""}, says: nobody},
		"another state": {spoil: func(_, b *string) {
			*b = strings.Replace(*b, "state=", "state=x", 1)
		}, says: again},
		"no state":                 {spoil: func(_, b *string) { *b = "/institution/back?code=c" }, says: again},
		"another browser":          {spoil: func(c, _ *string) { *c = "" }, says: again},
		"another code":             {spoil: func(_, _ *string) { p.code = "z" }, says: nobody},
		"another who proves it":    {spoil: func(_, _ *string) { p.challenge = "x" }, says: nobody},
		"declined":                 {spoil: func(_, b *string) { *b += "&error=access_denied" }, says: nobody},
		"signed by another":        {spoil: func(_, _ *string) { p.sign = other }, says: nobody},
		"signed by a shared text":  {spoil: func(_, _ *string) { p.alg = jose.HS256 }, says: nobody},
		"the token does not come":  {spoil: func(_, _ *string) { p.down = true }, says: "does not answer"},
		"a page that asks for pay": {claims: map[string]any{"email": "<script>alert(1)</script>"}, says: uninvited},
	} {
		p.claims, p.sign, p.alg, p.down = tt.claims, nil, "", false
		cookie, back := p.begin(d, "/")
		if tt.spoil != nil {
			tt.spoil(&cookie, &back)
		}
		w := d.ask("GET", back, cookie, nil)
		if in(d, w) || w.Code != http.StatusUnauthorized && w.Code != http.StatusBadGateway ||
			!strings.Contains(w.Body.String(), tt.says) || strings.Contains(w.Body.String(), "alert(1)") {
			t.Errorf("%s: %d\n%s", name, w.Code, between(w.Body.String(), "<main", "</main"))
		}
	}
	p.Close()
	d.door.Institution = &door.Institution{Issuer: p.URL, Client: clientID, Secret: clientSecret}
	if w := d.ask("GET", "/institution", "", nil); w.Code != http.StatusBadGateway ||
		!strings.Contains(w.Body.String(), "does not answer") {
		t.Errorf("one that is away: %d", w.Code)
	}
}
