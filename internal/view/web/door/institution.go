package door

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"net/http"
	"net/url"
	"sync"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"

	"spile/internal/files/people"
	"spile/internal/view/web/page"
)

// Institution knows people by accounts of its own, and says who they are (OpenID Connect Core 1.0, the authorization
// code flow, with PKCE of RFC 7636).
type Institution struct {
	Issuer, Client, Secret string

	mu       sync.Mutex
	provider *oidc.Provider // once it has answered
}

// What a session holds from the way to the institution to the way back.
const (
	stateKey    = "state"
	nonceKey    = "nonce"
	verifierKey = "verifier"
	toKey       = "to"
)

const (
	institutionPath = "/institution"
	backPath        = "/institution/back"
)

// Why an institution lets nobody in.
var (
	errSilent   = errors.New("it does not answer")
	errOther    = errors.New("another browser asked, or long ago")
	errDeclined = errors.New("it names nobody")
	errMail     = errors.New("it does not vouch for an address")
)

// asked is who answers at the institution, and the context in which it is asked.
func (i *Institution) asked(ctx context.Context) (*oidc.Provider, context.Context, error) {
	client := &http.Client{Timeout: 10 * time.Second}
	i.mu.Lock()
	defer i.mu.Unlock()
	if i.provider == nil {
		// Its keys are asked for later on, whatever became of the request that asked first.
		p, err := oidc.NewProvider(oidc.ClientContext(context.WithoutCancel(ctx), client), i.Issuer)
		if err != nil {
			return nil, nil, errSilent
		}
		i.provider = p
	}
	return i.provider, oidc.ClientContext(ctx, client), nil
}

func (d *Door) config(p *oidc.Provider, r *http.Request) oauth2.Config {
	return oauth2.Config{ClientID: d.Institution.Client, ClientSecret: d.Institution.Secret, Endpoint: p.Endpoint(),
		Scopes: []string{oidc.ScopeOpenID, "email"}, RedirectURL: d.address(r, backPath)}
}

// leave leads to the institution.
func (d *Door) leave(s *page.Site, w http.ResponseWriter, r *http.Request) {
	p, _, err := d.Institution.asked(r.Context())
	if err != nil {
		d.unnamed(s, w, r, err)
		return
	}
	state, nonce, verifier := rand.Text(), rand.Text(), oauth2.GenerateVerifier()
	for key, value := range map[string]string{stateKey: state, nonceKey: nonce, verifierKey: verifier,
		toKey: local(r.FormValue("to"))} {
		d.sessions.Put(r.Context(), key, value)
	}
	c := d.config(p, r)
	http.Redirect(w, r, c.AuthCodeURL(state, oidc.Nonce(nonce), oauth2.S256ChallengeOption(verifier)),
		http.StatusSeeOther)
}

// back takes what the institution says, once: who was invited by the address that it vouches for is let in, and known
// by its own name for them from then on.
func (d *Door) back(s *page.Site, w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Referrer-Policy", "no-referrer")
	held := map[string]string{}
	for _, key := range []string{stateKey, nonceKey, verifierKey, toKey} {
		held[key] = d.sessions.PopString(r.Context(), key)
	}
	subject, mail, err := d.named(r, held)
	if err != nil {
		d.unnamed(s, w, r, err)
		return
	}
	p, ok, err := d.people.Named(d.Institution.Issuer, subject, mail)
	switch {
	case err != nil:
		d.unwell(s, w)
	case !ok && mail == "":
		d.unnamed(s, w, r, errMail)
	case !ok:
		d.unnamed(s, w, r, people.ErrWrong)
	default:
		d.begin(s, w, r, p, local(held[toKey]))
	}
}

// named is whom the institution names in what it sent back, and the address that it vouches for; "": for none.
func (d *Door) named(r *http.Request, held map[string]string) (subject, mail string, err error) {
	if held[stateKey] == "" || subtle.ConstantTimeCompare([]byte(held[stateKey]), []byte(r.FormValue("state"))) != 1 {
		return "", "", errOther
	}
	p, ctx, err := d.Institution.asked(r.Context())
	if err != nil {
		return "", "", err
	}
	if r.FormValue("error") != "" {
		return "", "", errDeclined
	}
	c := d.config(p, r)
	token, err := c.Exchange(ctx, r.FormValue("code"), oauth2.VerifierOption(held[verifierKey]))
	var refused *oauth2.RetrieveError
	if errors.As(err, &refused) && refused.Response.StatusCode < http.StatusInternalServerError {
		return "", "", errDeclined
	}
	if err != nil {
		return "", "", errSilent
	}
	raw, _ := token.Extra("id_token").(string)
	said, err := p.VerifierContext(ctx, &oidc.Config{ClientID: d.Institution.Client, Now: d.now}).Verify(ctx, raw)
	if err != nil || said.Subject == "" ||
		subtle.ConstantTimeCompare([]byte(held[nonceKey]), []byte(said.Nonce)) != 1 {
		return "", "", errDeclined
	}
	var claims struct {
		Mail     string `json:"email"`
		Verified any    `json:"email_verified"`
	}
	if err := said.Claims(&claims); err != nil {
		return "", "", errDeclined
	}
	if claims.Verified != true && claims.Verified != "true" { // some write it as a text
		claims.Mail = ""
	}
	return said.Subject, claims.Mail, nil
}

// unnamed says at the door why the institution lets nobody in.
func (d *Door) unnamed(s *page.Site, w http.ResponseWriter, r *http.Request, err error) {
	v := s.Voice
	code, text := http.StatusUnauthorized, v.Text("Your institution named nobody, or not as it has to. Try again.")
	switch {
	case errors.Is(err, errSilent):
		code, text = http.StatusBadGateway, v.Text("Your institution does not answer. Try again in a while, or "+
			"sign in with a password.")
	case errors.Is(err, errOther):
		text = v.Text("This was begun in another browser, or too long ago. Begin again.")
	case errors.Is(err, errMail):
		text = v.Text("Your institution does not vouch for an address of your mail, by which you could be known here.")
	case errors.Is(err, people.ErrWrong):
		text = v.Text("Your institution has named you, and nobody here was invited by the address of your mail. Ask " +
			"a steward for an invitation.")
	}
	r.Form = url.Values{}
	d.signIn(s, w, r, code, text)
}
