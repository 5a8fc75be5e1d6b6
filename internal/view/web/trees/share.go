package trees

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"math/big"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// Phones lets phones of the local network enter readings into the workbook that a workbench serves, and nothing else. A
// phone is let in by a code that is good once; what it may do does not depend on where a request says that it comes
// from, but on the listener that it came by, so serve a Phones where the network reaches, and the workbench on this
// machine.
type Phones struct {
	addresses []string // host:port that it listens on
	tell      func(code, let string)
	voice     *say.Voice
	site      func(*http.Request) (*page.Site, error) // as the workbook stands, in the reader's language

	mu    sync.Mutex
	code  string
	in    map[[sha256.Size]byte]phone // by the digest of its cookie
	wrong []time.Time                 // the latest tries with another code
	Now   func() time.Time            // the clock, but in tests
}

// phone is one that was let in.
type phone struct{ Who string }

// NewPhones takes host:port of each address that will be listened on. tell is called with the code for the next phone,
// and with who was just let in, "" at first.
func NewPhones(addresses []string, v *say.Voice, tell func(code, let string)) *Phones {
	p := &Phones{addresses: addresses, tell: tell, voice: v, in: map[[sha256.Size]byte]phone{}, Now: time.Now}
	p.code = newCode()
	tell(spaced(p.code), "")
	return p
}

// Over says what gives the state that phones read over: the workbook as it stands, in the language of a request.
func (p *Phones) Over(site func(*http.Request) (*page.Site, error)) { p.site = site }

// newCode is eight digits: a hundred million, of which at most ten are tried in a minute.
func newCode() string {
	n, err := rand.Int(rand.Reader, big.NewInt(1e8))
	if err != nil {
		panic(err) // never, by crypto/rand
	}
	return fmt.Sprintf("%08d", n)
}

func spaced(code string) string { return code[:4] + " " + code[4:] }

// Most tries with a wrong code in a minute, of all phones together; and most phones.
const (
	mostWrong  = 10
	mostPhones = 50
	PhoneKey   = "spile-phone"
)

// ServeHTTP answers phones.
func (p *Phones) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	site, err := p.site(r)
	if err != nil {
		page.Fail(w, http.StatusInternalServerError, p.voice.Notes(page.Faults(err))...)
		return
	}
	s := field{site}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		if who, ok := p.who(r); ok {
			s.shared(who).toRead(w)
			return
		}
		s.shared(phone{}).door(w, r.URL.Query().Get("to"), page.Trouble{})
	})
	mux.HandleFunc("POST /{$}", func(w http.ResponseWriter, r *http.Request) { p.enter(s, w, r) })
	mux.HandleFunc("GET /asset/{file}", s.ServeAsset)
	mux.HandleFunc("GET /language/{language}", s.Choose)
	inside := func(do func(s field, w http.ResponseWriter, r *http.Request)) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) {
			who, ok := p.who(r)
			switch {
			case ok:
				do(s.shared(who), w, r)
			case r.Method == http.MethodPost:
				s.shared(phone{}).door(w, "",
					page.Trouble{Code: http.StatusUnauthorized,
						Faults: []string{s.Voice.Text("The workbench does not know this phone any more: enter a new " +
							"code. What was typed is kept on the phone.")}})
			default:
				page.SeeOther(w, r, page.WithQuery("/", url.Values{"to": {r.URL.RequestURI()}}.Encode()))
			}
		}
	}
	mux.HandleFunc("GET "+page.ReadPath, inside(field.reading))
	mux.HandleFunc("POST "+page.ReadPath,
		inside(func(s field, w http.ResponseWriter, r *http.Request) { s.Formed(s.saveReadings)(w, r) }))
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		http.Error(w, s.Voice.Text("Over the network readings can be entered, and nothing else. Everything else is "+
			"done on the machine that serves the workbench."), http.StatusForbidden)
	})
	page.Guard(s.Voice, func(host string) bool { return slices.Contains(p.addresses, host) }, mux).ServeHTTP(w, r)
}

// who is the phone that a request is from.
func (p *Phones) who(r *http.Request) (phone, bool) {
	c, err := r.Cookie(PhoneKey)
	if err != nil {
		return phone{}, false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	who, ok := p.in[sha256.Sum256([]byte(c.Value))]
	return who, ok
}

// enter lets a phone in by the code, which is then good no more.
func (p *Phones) enter(s field, w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		http.Error(w, v.Text("This form could not be read: %s", err.Error()), http.StatusBadRequest)
		return
	}
	to, who := r.PostForm.Get("to"), page.Clean(r.PostForm.Get("who"))
	refuse := func(code int, text string) {
		s.shared(phone{who}).door(w, to, page.Trouble{Code: code, Faults: []string{text}})
	}
	if who == "" || len([]rune(who)) > 60 {
		refuse(http.StatusUnprocessableEntity,
			v.Text("Say who reads, in at most 60 letters: it stands in the history beside each reading."))
		return
	}
	digits := strings.Map(func(x rune) rune {
		if x >= '0' && x <= '9' {
			return x
		}
		return -1
	}, r.PostForm.Get("code"))
	token, known := "", false
	p.mu.Lock()
	now := p.Now()
	p.wrong = slices.DeleteFunc(p.wrong, func(t time.Time) bool { return now.Sub(t) >= time.Minute })
	waiting, full := len(p.wrong) >= mostWrong, len(p.in) >= mostPhones
	if !waiting && !full {
		got, want := sha256.Sum256([]byte(digits)), sha256.Sum256([]byte(p.code))
		if known = subtle.ConstantTimeCompare(got[:], want[:]) == 1; known {
			token = rand.Text() + rand.Text()
			p.in[sha256.Sum256([]byte(token))] = phone{who}
			p.code = newCode()
		} else {
			p.wrong = append(p.wrong, now)
		}
	}
	next := spaced(p.code)
	p.mu.Unlock()
	switch {
	case waiting:
		w.Header().Set("Retry-After", "60")
		refuse(http.StatusTooManyRequests, v.Text("Too many wrong codes were tried: wait a minute."))
	case full:
		refuse(http.StatusForbidden,
			v.Text("%d phones are in already. Forget them on the page Trials of the workbench first.", mostPhones))
	case !known:
		refuse(http.StatusForbidden,
			v.Text("This is not the code. Each code lets in one phone: look for the latest where the workbench was "+
				"started, or on its page Trials."))
	default:
		p.tell(next, who)
		http.SetCookie(w, &http.Cookie{Name: PhoneKey, Value: token, Path: "/", HttpOnly: true,
			SameSite: http.SameSiteStrictMode, MaxAge: 90 * 24 * 3600})
		if !strings.HasPrefix(to, page.ReadPath+"?") {
			to = "/"
		}
		page.SeeOther(w, r, to)
	}
}

// open is what the page Trials says of phones: the code for the next, where to enter it, and who is in.
func (p *Phones) open() (code string, addresses, in []string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, x := range p.in {
		in = append(in, x.Who)
	}
	slices.Sort(in)
	for _, a := range p.addresses {
		addresses = append(addresses, "http://"+a+"/")
	}
	return spaced(p.code), addresses, in
}

// Forget lets no phone in that was let in before.
func (p *Phones) Forget() {
	p.mu.Lock()
	clear(p.in)
	p.code = newCode()
	code := spaced(p.code)
	p.mu.Unlock()
	p.tell(code, "")
}

// LocalAddresses are this machine's addresses on local networks, on which others reach it.
func LocalAddresses() []string {
	var list []string
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil && n.IP.IsPrivate() {
			list = append(list, n.IP.String())
		}
	}
	return list
}
