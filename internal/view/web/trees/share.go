package trees

import (
	"crypto/rand"
	"crypto/subtle"
	"fmt"
	"html/template"
	"math/big"
	"net"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/boombuler/barcode/qr"
	"golang.org/x/text/unicode/norm"

	"spile/internal/note"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// Phones lets phones of the local network enter readings into the workbook that a workbench serves, and nothing else. A
// phone is let in by a code that is good once; what it may do does not depend on where a request says that it comes
// from, but on the listener that it came by, so serve a Phones where the network reaches, and the workbench on this
// machine.
type Phones struct {
	tell     func(code, let string)                  // nil: no phone can reach this workbench
	operator string                                  // who runs the workbench: a name that no phone can take
	voice    func(*http.Request) *say.Voice          // the reader's
	site     func(*http.Request) (*page.Site, error) // as the workbook stands, in the reader's language
	path     string                                  // of what is kept beside the workbook; "": nothing is kept

	mu        sync.Mutex
	addresses []string // host:port that it listens on
	code      string
	wrong     map[string][]time.Time // the latest tries with another code, by who made them
	kept      beside
	file      os.FileInfo // as it was last read or written; nil: it was not
	trouble   note.Faults // with the file
	Now       func() time.Time
}

// NewPhones takes host:port of each address that is listened on. tell is called with the code for the next phone, and
// with who was just let in, "" at first.
func NewPhones(addresses []string, tell func(code, let string)) *Phones {
	p := &Phones{addresses: addresses, tell: tell, wrong: map[string][]time.Time{}, Now: time.Now}
	p.code = newCode()
	if tell != nil {
		tell(spaced(p.code), "")
	}
	return p
}

// Over says in which file the list of phones is kept ("": in none), who runs the workbench, and what gives the language
// of a request and the workbook as it stands in it.
func (p *Phones) Over(beside, operator string, voice func(*http.Request) *say.Voice,
	site func(*http.Request) (*page.Site, error)) {
	p.path, p.operator, p.voice, p.site = beside, operator, voice, site
}

// Moved says what is listened on now.
func (p *Phones) Moved(addresses []string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.addresses = addresses
}

// ours is true of an address that is listened on.
func (p *Phones) ours(host string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Contains(p.addresses, host)
}

// newCode is eight digits: a hundred million, of which one address of the network tries ten in a minute at most.
func newCode() string {
	n, err := rand.Int(rand.Reader, big.NewInt(1e8))
	if err != nil {
		panic(err) // never, by crypto/rand
	}
	return fmt.Sprintf("%08d", n)
}

func spaced(code string) string { return code[:4] + " " + code[4:] }

// Most tries with a wrong code in a minute from one address, and most phones.
const (
	mostWrong  = 10
	mostPhones = 50
	PhoneKey   = "spile-phone"
)

// ServeHTTP answers phones.
func (p *Phones) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	page.Guard(p.voice(r), p.ours, http.HandlerFunc(p.answer)).ServeHTTP(w, r)
}

func (p *Phones) answer(w http.ResponseWriter, r *http.Request) {
	site, err := p.site(r)
	if err != nil {
		site.Broken(w, r, err)
		return
	}
	s := field{Site: site, phones: p}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		if who, handle, ok := p.who(r); ok {
			s.shared(who, handle).toRead(w)
			return
		}
		s.shared(phone{}, "").door(w, r.URL.Query().Get("to"), page.Trouble{})
	})
	mux.HandleFunc("POST /{$}", func(w http.ResponseWriter, r *http.Request) { p.enter(s, w, r) })
	mux.HandleFunc("GET /asset/{file}", s.ServeAsset)
	mux.HandleFunc("GET /language/{language}", s.Choose)
	inside := func(do func(s field, w http.ResponseWriter, r *http.Request)) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) {
			who, handle, ok := p.who(r)
			switch {
			case ok:
				do(s.shared(who, handle), w, r)
			case r.Method == http.MethodPost:
				s.shared(phone{}, "").door(w, "",
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
	mux.ServeHTTP(w, r)
}

// who is the phone that a request is from, and its handle.
func (p *Phones) who(r *http.Request) (who phone, handle string, ok bool) {
	c, err := r.Cookie(PhoneKey)
	if err != nil {
		return phone{}, "", false
	}
	handle = handleOf(c.Value)
	who, ok = p.by(handle)
	return who, handle, ok
}

func (p *Phones) by(handle string) (phone, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.find(handle)
}

// find is the phone of a handle. p.mu is held.
func (p *Phones) find(handle string) (phone, bool) {
	key := digestOf(handle)
	for _, x := range p.latest().Phones {
		if slices.Contains(x.Keys, key) {
			if alike(x.Who, p.operator) { // who runs it now has that name
				x.Who += " (2)"
			}
			return x, true
		}
	}
	return phone{}, false
}

// enter lets a phone in by the code, which is then good no more, or by the handle that its page had at an address that
// is no more.
func (p *Phones) enter(s field, w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		s.Unreadable(w)
		return
	}
	f := r.PostForm
	to, who := f.Get("to"), plainName(f.Get("who"))
	refuse := func(code int, text string) {
		if code == http.StatusTooManyRequests {
			w.Header().Set("Retry-After", "60")
		}
		s.shared(phone{Who: who}, "").door(w, to, page.Trouble{Code: code, Faults: []string{text}})
	}
	if f.Get("handle") == "" {
		switch letters := len([]rune(who)); {
		case letters == 0 || letters > 60:
			refuse(http.StatusUnprocessableEntity,
				v.Text("Say who reads, in at most 60 letters: it stands in the history beside each reading."))
			return
		case alike(who, p.operator):
			refuse(http.StatusUnprocessableEntity, v.Text("%s runs the workbench: a phone needs a name of its own, "+
				"so that the history tells who read.", p.operator))
			return
		}
	}
	token, next, said := p.admit(r, f, &who)
	if said != nil {
		refuse(said.code, v.Note(said.why))
		return
	}
	if next != "" {
		p.tell(next, who)
	}
	http.SetCookie(w, &http.Cookie{Name: PhoneKey, Value: token, Path: "/", HttpOnly: true,
		SameSite: http.SameSiteStrictMode, MaxAge: 90 * 24 * 3600})
	if !strings.HasPrefix(to, page.ReadPath+"?") {
		to = "/"
	}
	page.SeeOther(w, r, to)
}

// refusedEntry is why a phone is not let in.
type refusedEntry struct {
	code int
	why  note.Note
}

// admit weighs a code or a handle: a new token, and the next code where this one was used.
func (p *Phones) admit(r *http.Request, f url.Values, who *string) (token, next string, no *refusedEntry) {
	from, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		from = r.RemoteAddr
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.Now()
	for x, tries := range p.wrong { // what others tried locks nobody else out
		tries = slices.DeleteFunc(tries, func(t time.Time) bool { return now.Sub(t).Abs() >= time.Minute })
		if p.wrong[x] = tries; len(tries) == 0 {
			delete(p.wrong, x)
		}
	}
	if len(p.wrong[from]) >= mostWrong {
		return "", "", &refusedEntry{http.StatusTooManyRequests,
			note.New("Too many wrong codes were tried: wait a minute.")}
	}
	token = rand.Text() + rand.Text()
	key := digestOf(handleOf(token))
	if handle := f.Get("handle"); handle != "" {
		known, ok := p.find(handle)
		if !ok {
			p.wrong[from] = append(p.wrong[from], now)
			return "", "", &refusedEntry{http.StatusForbidden, note.New("The workbench does not know this phone any " +
				"more: enter a new code. What was typed is kept on the phone.")}
		}
		p.change(func(b *beside) {
			for i := range b.Phones {
				if b.Phones[i].Keys[0] == known.Keys[0] {
					b.Phones[i].Keys = append(b.Phones[i].Keys, key)
				}
			}
		})
		return token, "", nil
	}
	digits := strings.Map(func(x rune) rune {
		if x >= '0' && x <= '9' {
			return x
		}
		return -1
	}, f.Get("code"))
	if subtle.ConstantTimeCompare([]byte(digestOf(digits)), []byte(digestOf(p.code))) != 1 {
		p.wrong[from] = append(p.wrong[from], now)
		return "", "", &refusedEntry{http.StatusForbidden,
			note.New("This is not the code. Each code lets in one phone: " +
				"look for the latest where the workbench was started, or on its page Trials.")}
	}
	if len(p.latest().Phones) >= mostPhones {
		return "", "", &refusedEntry{http.StatusForbidden,
			note.New("%d phones are in already. Forget one on the page Trials of the workbench first.", mostPhones)}
	}
	p.change(func(b *beside) {
		name := *who // a second phone of a name is told apart from the first
		for n := 2; slices.ContainsFunc(b.Phones, func(x phone) bool { return alike(x.Who, *who) }); n++ {
			*who = fmt.Sprintf("%s (%d)", name, n)
		}
		b.Phones = append(b.Phones, phone{Who: *who, Since: now, Keys: []string{key}})
	})
	p.code = newCode()
	return token, spaced(p.code), nil
}

// plainName is a name as it was typed, without what cannot be seen: marks that turn the direction of reading, and
// letters that show nothing. What joins the parts of an emoji stays.
func plainName(text string) string {
	text = strings.Map(func(r rune) rune {
		const joiner = 0x200d
		if r != joiner && unicode.In(r, unicode.Cf, unicode.Cc, unicode.Other_Default_Ignorable_Code_Point) {
			return -1
		}
		return r
	}, page.Clean(text))
	if !strings.ContainsFunc(text, func(r rune) bool { return unicode.In(r, unicode.L, unicode.N, unicode.S) }) {
		return ""
	}
	return strings.Join(strings.Fields(text), " ")
}

// lookAlikes writes letters of other alphabets, and digits, as the Latin letters that they look like (after Unicode
// Technical Standard 39, confusables).
var lookAlikes = strings.NewReplacer(strings.Fields(
	"А A В B Е E Ѕ S І I Ј J К K М M Н H О O Р P С C Т T У Y Х X а a е e ѕ s і i ј j о o р p с c у y х x һ h ԁ d ԛ q " +
		"ԝ w ӏ l Α A Β B Ε E Ζ Z Η H Ι I Κ K Μ M Ν N Ο O Ρ P Τ T Υ Y Χ X α a ι i κ k ν v ο o ρ p υ u " +
		"ı l i l I l 1 l | l 0 o ɑ a ɡ g")...)

// alike is true of two names that a reader would take for one: letters of another width, case or alphabet, with other
// accents or spaces.
func alike(a, b string) bool {
	bare := func(s string) string {
		return strings.Map(func(r rune) rune {
			if unicode.In(r, unicode.L, unicode.N, unicode.S) {
				return unicode.ToLower(r)
			}
			return -1
		}, s)
	}
	looks := func(s string) string { return lookAlikes.Replace(bare(lookAlikes.Replace(s))) }
	a, b = norm.NFKD.String(a), norm.NFKD.String(b)
	return bare(a) == bare(b) || looks(a) == looks(b) // В looks like B, and its own small letter в like none
}

// address is one by which phones come, with a picture of it that a phone reads.
type address struct {
	Href string
	QR   template.HTML
}

// open is what the page Trials says of phones: the code for the next, where to enter it, and who is in.
func (p *Phones) open() (code string, addresses []address, in []phone) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, a := range p.addresses {
		href := "http://" + a + "/"
		addresses = append(addresses, address{href, picture(href + "#code=" + p.code)})
	}
	return spaced(p.code), addresses, slices.Clone(p.latest().Phones)
}

// listedPhone is a phone on the page Trials.
type listedPhone struct{ Who, Key, Said string }

func (s desk) listed(x phone) listedPhone {
	v := s.Voice
	said := []string{v.Text("let in %s", s.At(x.Since)), v.Text("nothing read yet")}
	if !x.Read.IsZero() {
		said[1] = v.Text("last reading %s: %s", s.At(x.Read), x.Last)
	}
	if x.Waiting > 0 {
		said = append(said, v.Text("%d kept on it and not stored, when it was last heard", x.Waiting))
	}
	return listedPhone{x.Who, x.Keys[0], strings.Join(said, "; ")}
}

// picture is a text as a QR code (ISO/IEC 18004), with the four modules of quiet around it.
func picture(text string) template.HTML {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return "" // it is too long for any
	}
	var b strings.Builder
	n := code.Bounds().Dx()
	fmt.Fprintf(&b, `<svg class="qr" viewBox="0 0 %d %d" width="%d" height="%d" aria-hidden="true">`+
		`<rect width="100%%" height="100%%" fill="#fff"/><path fill="#000" d="`, n+8, n+8, 5*(n+8), 5*(n+8))
	for y := range n {
		for x := range n {
			if dark, _, _, _ := code.At(x, y).RGBA(); dark == 0 {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x+4, y+4)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String())
}

// Forget lets no phone in any more: the one that has this key, or all where it is "", and the code with them.
func (p *Phones) Forget(key string) {
	p.mu.Lock()
	p.change(func(b *beside) {
		b.Phones = slices.DeleteFunc(b.Phones, func(x phone) bool { return key == "" || x.Keys[0] == key })
	})
	code := ""
	if key == "" {
		p.code = newCode()
		code = spaced(p.code)
	}
	p.mu.Unlock()
	if code != "" && p.tell != nil {
		p.tell(code, "")
	}
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
