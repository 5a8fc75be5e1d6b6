package web

import (
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"spile/internal/cluster"
	"spile/internal/files/book"
	"spile/internal/files/people"
	"spile/internal/view/say"
	"spile/internal/view/web/door"
)

// atDoor is a workbench over a workbook on a server, with accounts.
type atDoor struct {
	testing.TB
	http.Handler
	book   *book.Book
	people *people.People
	now    *time.Time
	door   *door.Door
}

func knock(t *testing.T, at string, secure, behind bool) atDoor {
	t.Helper()
	b, err := book.Create(at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	now := time.Date(2025, 3, 14, 9, 26, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	if _, err := b.Save(book.Edit{At: now, Who: "Zoe", What: "scenario"}, book.Items(scenario().Input)...); err != nil {
		t.Fatal(err)
	}
	p := people.Of(b)
	entry := door.New(p, secure, behind, clock)
	if _, err := p.Invite("Zoe", "", "", people.Reader, now); err != nil { // from the first account on there is a door
		t.Fatal(err)
	}
	h, err := New(Config{Book: b, Who: "spile", Now: clock, Version: "test", Door: entry,
		Hosts: []string{"maple.example.org"}})
	if err != nil {
		t.Fatal(err)
	}
	return atDoor{t, h, b, p, &now, entry}
}

// ask asks with a session, or with none.
func (d atDoor) ask(method, address, session string, form url.Values, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, address, strings.NewReader(form.Encode()))
	r.Host = "localhost:7345"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if session != "" {
		r.Header.Set("Cookie", session)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	d.ServeHTTP(w, r)
	return w
}

const pass = "one sap bucket too many"

// account is one of a name and a right, and its session.
func (d atDoor) account(name string, may people.Right) string {
	d.Helper()
	token, err := d.people.Invite(name, "", "", may, *d.now)
	if err != nil {
		d.Fatal(err)
	}
	w := d.ask("POST", "/join/"+token, "", url.Values{"password": {pass}, "again": {pass}})
	if w.Code != http.StatusSeeOther {
		d.Fatalf("%s cannot join: %d\n%s", name, w.Code, w.Body)
	}
	return session(w)
}

// token is one that somebody makes on the page of their account.
func (d atDoor) token(cookie string) string {
	d.Helper()
	w := d.ask("POST", "/tokens", cookie, url.Values{"label": {"the laptop"}})
	token := between(w.Body.String(), `<code id="token">`, "<")
	if w.Code != http.StatusOK || !strings.HasPrefix(token, "spile_") || w.Header().Get("Cache-Control") != "no-store" {
		d.Fatalf("no token: %d\n%s", w.Code, w.Body)
	}
	return token
}

func session(w *httptest.ResponseRecorder) string {
	for _, c := range w.Result().Cookies() {
		if strings.HasSuffix(c.Name, "spile") {
			return c.Name + "=" + c.Value
		}
	}
	return ""
}

func (d atDoor) signIn(name, password string, headers ...string) *httptest.ResponseRecorder {
	return d.ask("POST", "/sign-in", "", url.Values{"name": {name}, "password": {password}}, headers...)
}

// out is true of an answer to who has not signed in.
func out(w *httptest.ResponseRecorder) bool {
	return w.Code == http.StatusUnauthorized ||
		w.Code == http.StatusSeeOther && strings.HasPrefix(w.Header().Get("Location"), "/sign-in?")
}

func TestServedAccounts(t *testing.T) {
	schema := cluster.Schemas(t)
	t.Run("every right against every address", func(t *testing.T) { everyRight(knock(t, schema(), false, false)) })
	t.Run("signing in", func(t *testing.T) { signingIn(knock(t, schema(), false, false)) })
	t.Run("sessions", func(t *testing.T) { sessions(knock(t, schema(), false, false)) })
	t.Run("invitations", func(t *testing.T) { invitations(knock(t, schema(), false, false)) })
	t.Run("the first account", func(t *testing.T) { firstAccount(t, schema()) })
	t.Run("tokens", func(t *testing.T) { tokens(knock(t, schema(), false, false)) })
	t.Run("slowing", func(t *testing.T) { slowing(knock(t, schema(), true, true)) })
	t.Run("who", func(t *testing.T) { whoDid(knock(t, schema(), false, false)) })
}

// everyRight asks for each address that the workbench answers, as nobody and as everybody there is.
func everyRight(t atDoor) {
	t.account("Stew", people.Steward) // one more, so that the others can be what they are
	who, tokens := map[people.Right]string{people.Nothing: ""}, map[people.Right]string{people.Nothing: "spile_NONE"}
	for right := people.Reader; right <= people.Steward; right++ {
		who[right] = t.account("A "+right.String(), right)
		tokens[right] = t.token(who[right])
	}
	// What an address asks for. Whoever adds an address says there who may.
	table, err := os.ReadFile("testdata/rights.txt")
	if err != nil {
		t.Fatal(err)
	}
	needs := map[string]people.Right{}
	for line := range strings.Lines(string(table)) {
		name, pattern, _ := strings.Cut(strings.TrimSpace(line), " ")
		right, known := people.RightOf(name)
		if !known {
			t.Fatal(line)
		}
		needs[pattern] = right
	}
	now, err := newDesk(Config{Book: t.book, Door: door.New(t.people, false, false, time.Now),
		Voice: say.In("en"), Now: time.Now}, remembers())
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	for _, pattern := range now.now.patterns {
		want, known := needs[pattern]
		if !known {
			t.Errorf("%s is in no line of testdata/rights.txt, which says who may", pattern)
		}
		delete(needs, pattern)
		method, path, _ := strings.Cut(pattern, " ")
		if path == "/asset/{file}" || path == "/language/{language}" || pattern == "POST /sign-out" {
			continue // which say nothing of the workbook
		}
		path = strings.NewReplacer("{$}", "", "{", "", "}", "", "...", "").Replace(path)
		for right, cookie := range who {
			w := t.ask(method, path, cookie, url.Values{"id": {"999999"}, "do": {"end"}})
			asked++
			if strings.HasPrefix(path, "/sync/") { // which is for tokens alone, and they for it
				if w.Code != http.StatusUnauthorized {
					t.Errorf("%s answers a session with %d", pattern, w.Code)
				}
				w = t.ask(method, path, "", nil, "Authorization", "Bearer "+tokens[right])
			} else if w := t.ask(method, path, "", nil, "Authorization", "Bearer "+tokens[right]); !out(w) {
				t.Errorf("%s answers a token with %d", pattern, w.Code)
			}
			switch {
			case right == people.Nothing && !out(w):
				t.Errorf("%s answers nobody with %d", pattern, w.Code)
			case right == people.Nothing:
				tells(t, pattern, w)
			case right < want && w.Code != http.StatusForbidden:
				t.Errorf("%s answers a %s with %d, and is for a %s", pattern, right, w.Code, want)
			case right < want:
				tells(t, pattern, w)
			case right >= want && (w.Code == http.StatusForbidden || out(w)):
				t.Errorf("%s answers a %s with %d, and is for a %s", pattern, right, w.Code, want)
			}
		}
	}
	if asked < 200 || len(needs) > 0 {
		t.Errorf("only %d were asked; not answered at all: %v", asked, needs)
	}
	if c, err := t.book.Contents(); err != nil || c.Change != 1 {
		t.Errorf("something was changed: change %d, %v", c.Change, err)
	}
	for _, address := range []string{"/nowhere", "/study?name=x", "/data/all.zip", "/figure/net.svg", "/.git",
		"/%2e%2e/"} {
		if w := t.ask("GET", address, "", nil); !out(w) {
			t.Errorf("%s answers nobody with %d", address, w.Code)
		} else {
			tells(t, address, w)
		}
	}
	for _, method := range []string{"PUT", "DELETE", "OPTIONS", "HEAD", "PATCH"} {
		if w := t.ask(method, "/workbook", "", nil); !out(w) {
			t.Errorf("%s answers nobody with %d", method, w.Code)
		}
	}
}

// tells finds what an answer must not say of the workbook.
func tells(t atDoor, of string, w *httptest.ResponseRecorder) {
	t.Helper()
	c, err := t.book.Contents()
	if err != nil {
		t.Fatal(err)
	}
	said := w.Body.String()
	secrets := []string{c.Studies[0].Name, c.Studies[0].Site, "check valve"}
	if out(w) { // who may look has these at the foot of every page
		secrets = append(secrets, c.Sources[0].Name, c.Sources[0].Digest[:12], "search_path")
	}
	for _, secret := range secrets {
		if strings.Contains(said, secret) {
			t.Errorf("%s tells %q", of, secret)
		}
	}
}

// What sign-in says is the same whether there is such an account.
func signingIn(t atDoor) {
	r := httptest.NewRequest("POST", "/sign-in", strings.NewReader("a=%zz"))
	r.Host = "localhost:7345"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept-Language", "fr")
	odd := httptest.NewRecorder()
	t.ServeHTTP(odd, r)
	if odd.Code != http.StatusBadRequest || strings.Contains(odd.Body.String(), "escape") {
		t.Errorf("a form that is none: %d, %s", odd.Code, odd.Body)
	}
	t.account("Ada Wood", people.Editor)
	t.account("Gone", people.Editor)
	all, err := t.people.All()
	if err != nil || len(all) != 3 { // Zoe besides
		t.Fatal(all, err)
	}
	if err := t.people.Set(all[1].ID, "", people.Nothing); err != nil {
		t.Fatal(err)
	}
	if _, err := t.people.Invite("Waiting", "", "", people.Editor, *t.now); err != nil {
		t.Fatal(err)
	}
	var bodies []string
	for _, name := range []string{"Ada Wood", "Nobody", "Gone", "Waiting", "'; DROP TABLE person; --",
		strings.Repeat("x", 5000)} {
		w := t.signIn(name, "wrong wrong wrong")
		if w.Code != http.StatusUnauthorized || session(w) != "" {
			t.Errorf("%.20s with a wrong password: %d", name, w.Code)
		}
		body := w.Body.String()
		at := strings.Index(body, `name="name"`)
		bodies = append(bodies, body[:at]+body[at+strings.Index(body[at:], "autocomplete"):])
	}
	for i, body := range bodies {
		if body != bodies[0] {
			t.Errorf("sign-in says otherwise of the name %d", i)
		}
	}
	for _, name := range []string{"Ada Wood", "  ada   WOOD "} {
		if w := t.signIn(name, pass); w.Code != http.StatusSeeOther || session(w) == "" {
			t.Errorf("%q cannot sign in: %d", name, w.Code)
		}
	}
	if w := t.signIn("Gone", pass); w.Code != http.StatusUnauthorized {
		t.Errorf("who is no longer let in signs in: %d", w.Code)
	}
	for to, want := range map[string]string{
		"/gains?place=US-VT": "/gains?place=US-VT", "https://evil.example/": "/", "//evil.example/": "/",
		`/\evil.example/`: "/", "javascript:alert(1)": "/", "/a\r\nX: y": "/", "": "/", "gains": "/",
	} {
		w := t.ask("POST", "/sign-in", "", url.Values{"name": {"Ada Wood"}, "password": {pass}, "to": {to}})
		if got := w.Header().Get("Location"); got != want {
			t.Errorf("signed in for %q, it leads to %q", to, got)
		}
	}
	other := []string{"Sec-Fetch-Site", "cross-site", "Origin", "https://evil.example"}
	if w := t.signIn("Ada Wood", pass, other...); w.Code != http.StatusForbidden {
		t.Errorf("another site signs in: %d", w.Code)
	}
	if w := t.ask("GET", "/healthz", "", nil); w.Code != http.StatusOK || w.Body.String() != "ok\n" {
		t.Errorf("health: %d %s", w.Code, w.Body)
	}
}

// A session ends by sign-out, by time, by a steward, and with the right; its cookie is for this host and no script.
func sessions(t atDoor) {
	t.account("Stew", people.Steward)
	ada := t.account("Ada", people.Editor)
	in := func(cookie string) bool { return !out(t.ask("GET", "/workbook", cookie, nil)) }
	anew := func() string { return session(t.signIn("Ada", pass)) }
	id := func() int64 {
		all, _ := t.people.All()
		return all[0].ID
	}()
	if !in(ada) || in("spile=guessed") || in("") || in(ada+"x") {
		t.Error("a session is not what lets in")
	}
	w := t.ask("POST", "/sign-out", ada, nil)
	if w.Code != http.StatusSeeOther || in(ada) {
		t.Error("a cookie is good after sign-out")
	}
	one, two := anew(), anew()
	if t.ask("POST", "/sign-out", one, url.Values{"all": {"yes"}}); in(one) || in(two) {
		t.Error("sessions elsewhere are good after signing out everywhere")
	}
	one = anew()
	if err := t.people.End(id); err != nil || in(one) {
		t.Error("a session goes on that a steward has ended", err)
	}
	one = anew()
	if _, err := t.book.Server().Exec(`UPDATE session SET expiry = now() - interval '1 second'`); err != nil || in(one) {
		t.Error("a session goes on beyond its time", err)
	}
	written := func() (when string) { // the transaction that wrote the session
		if err := t.book.Server().QueryRow(`SELECT string_agg(xmin::text, ' ') FROM session`).Scan(&when); err != nil {
			t.Fatal(err)
		}
		return when
	}
	one = anew()
	was := written()
	if !in(one) || written() != was {
		t.Error("who only looks has the session written at every page")
	}
	*t.now = t.now.Add(20 * time.Hour)
	if !in(one) || written() == was {
		t.Error("it is not noted that a session was used")
	}
	*t.now = t.now.Add(20 * time.Hour)
	if !in(one) {
		t.Error("a session that is used ends within a day")
	}
	*t.now = t.now.Add(25 * time.Hour)
	if in(one) {
		t.Error("a session goes on that was not used for a day")
	}
	one = anew()
	if err := t.people.Set(id, "", people.Reader); err != nil {
		t.Fatal(err)
	}
	if w := t.ask("POST", "/prices", one, nil); w.Code != http.StatusForbidden {
		t.Errorf("who is a reader now changes prices: %d", w.Code)
	}
	if err := t.people.Set(id, "", people.Nothing); err != nil || in(one) {
		t.Error("who is no longer let in is", err)
	}
	var data string
	if err := t.book.Server().QueryRow(`SELECT string_agg(token, ' ') FROM session`).Scan(&data); err != nil ||
		strings.Contains(data, strings.TrimPrefix(one, "spile=")) {
		t.Error("the database holds what a cookie holds", err)
	}
	if w := t.ask("POST", "/keep", "", url.Values{"why": {"x"}}); w.Code != http.StatusUnauthorized {
		t.Errorf("a form of an ended session: %d", w.Code)
	}
	c := t.signIn("Stew", pass).Result().Cookies()[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" || c.Secure {
		t.Errorf("%+v", c)
	}
}

func invitations(t atDoor) {
	stew := t.account("Stew", people.Steward)
	invite := func(name, may string) (string, *httptest.ResponseRecorder) {
		w := t.ask("POST", "/people", stew, url.Values{"name": {name}, "may": {may}})
		_, rest, _ := strings.Cut(w.Body.String(), "/join/")
		token, _, _ := strings.Cut(rest, "<")
		return token, w
	}
	token, w := invite("Bo", "recorder")
	if w.Code != http.StatusOK || len(token) < 26 { // 128 bits
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	join := func(token, one, two string) int {
		return t.ask("POST", "/join/"+token, "", url.Values{"password": {one}, "again": {two}}).Code
	}
	for _, c := range []struct{ one, two string }{{"short", "short"}, {pass, pass + "x"}, {"", ""},
		{strings.Repeat("x", 2000), strings.Repeat("x", 2000)}} {
		if code := join(token, c.one, c.two); code != http.StatusUnprocessableEntity {
			t.Errorf("the password %.10s: %d", c.one, code)
		}
	}
	again, _ := invite("bo", "editor") // in the place of the first
	if join(token, pass, pass) != http.StatusNotFound || join("nonsense", pass, pass) != http.StatusNotFound {
		t.Error("an invitation is good that is none")
	}
	if join(again, pass, pass) != http.StatusSeeOther || join(again, pass, pass) != http.StatusNotFound {
		t.Error("an invitation is not good once")
	}
	late, _ := invite("Cy", "reader")
	*t.now = t.now.Add(8 * 24 * time.Hour)
	stew = session(t.signIn("Stew", pass))
	if code := t.ask("GET", "/join/"+late, "", nil).Code; code != http.StatusNotFound {
		t.Errorf("after eight days it is good: %d", code)
	}
	if _, w := invite("Di", "king"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("the right of a king: %d", w.Code)
	}
	if _, w := invite(" ", "reader"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("no name: %d", w.Code)
	}
	all, _ := t.people.All()
	for _, p := range all {
		if p.Name == "Stew" {
			if err := t.people.Set(p.ID, "", people.Editor); err == nil {
				t.Error("the last steward is none")
			}
		}
	}
}

// Guessing is slowed by the name and by the address that it comes from, and time lets in again.
func slowing(t atDoor) {
	t.account("Ada", people.Editor)
	from := func(ip string) []string { return []string{"X-Forwarded-For", "203.0.113.9, " + ip} }
	for range 5 {
		if w := t.signIn("Ada", "wrong wrong wrong", from("192.0.2.1")...); w.Code != http.StatusUnauthorized {
			t.Fatalf("%d", w.Code)
		}
	}
	if w := t.signIn("Ada", pass, from("192.0.2.2")...); w.Code != http.StatusTooManyRequests {
		t.Errorf("after five wrong tries, from elsewhere: %d", w.Code)
	}
	if w := t.signIn("Nobody", "wrong wrong wrong", from("192.0.2.2")...); w.Code != http.StatusUnauthorized {
		t.Errorf("another name is slowed too: %d", w.Code)
	}
	*t.now = t.now.Add(2 * time.Second)
	w := t.signIn("Ada", pass, from("192.0.2.2")...)
	if w.Code != http.StatusSeeOther {
		t.Errorf("after a wait: %d", w.Code)
	}
	if c := w.Result().Cookies()[0]; !c.Secure || c.Name != "__Host-spile" {
		t.Errorf("%+v", c)
	}
	// A day of guessing, as fast as it may: each wait is twice the one before, up to a quarter of an hour. Five are
	// free, ten come in the first quarter (1 + 2 + ... + 512 s), and 4 an hour after that.
	tries := 0
	for range 24 * 60 * 4 {
		*t.now = t.now.Add(15 * time.Second)
		if w := t.signIn("Ada", "wrong wrong wrong", from("192.0.2.3")...); w.Code == http.StatusUnauthorized {
			tries++
		}
	}
	if tries < 80 || tries > 120 {
		t.Errorf("%d tries in a day", tries)
	}
	wrong := 0
	for i := range 40 { // one address, many names
		w := t.signIn("Name "+string(rune('a'+i)), "wrong", from("192.0.2.4")...)
		if w.Code == http.StatusUnauthorized {
			wrong++
		}
	}
	if wrong != 20 {
		t.Errorf("%d names were tried from one address", wrong)
	}
}

// A change says who made it, and a page for whom it is.
func whoDid(t atDoor) {
	ada, bo := t.account("Ada Wood", people.Editor), t.account("Bo Reed", people.Editor)
	c, err := t.book.Contents()
	if err != nil {
		t.Fatal(err)
	}
	for i, cookie := range []string{ada, bo, ada} {
		w := t.ask("POST", "/exclude", cookie, url.Values{"name": {c.Studies[i].Name}, "reason": {"the pump failed"},
			"seen": {"1"}})
		if w.Code != http.StatusSeeOther {
			t.Fatalf("%d %s", w.Code, w.Body)
		}
	}
	h, err := t.book.History(0, math.MaxInt)
	if err != nil || len(h) != 4 || h[2].Who != "Ada Wood" || h[1].Who != "Bo Reed" || h[0].Who != "Ada Wood" {
		t.Errorf("%v %+v", err, h)
	}
	if w := t.ask("GET", "/account", bo, nil); !strings.Contains(w.Body.String(), "Bo Reed") ||
		strings.Contains(w.Body.String(), "Ada") {
		t.Errorf("%s", w.Body)
	}
	if w := t.ask("GET", "/workbook", bo, nil); strings.Contains(w.Body.String(), `href="/people"`) {
		t.Error("who is no steward is led to the stewards' page")
	}
}

// tokens are shown once, are their owner's alone, have the right and the station of the account as it is now, and end.
func tokens(t atDoor) {
	stew, ann := t.account("Stew", people.Steward), t.account("Ann", people.Editor)
	bea := t.account("Bea", people.Reader)
	heads := func(token string) int {
		return t.ask("GET", "/sync/heads", "", nil, "Authorization", "Bearer "+token).Code
	}
	all, err := t.people.All()
	if err != nil {
		t.Fatal(err)
	}
	id := map[string]int64{}
	for _, p := range all {
		id[p.Name] = p.ID
	}
	token, other := t.token(ann), t.token(bea)
	if heads(token) != http.StatusOK || heads(other) != http.StatusOK {
		t.Error("a token does not let in")
	}
	for _, wrong := range []string{"", "spile_", token[:len(token)-1], token + "A", strings.ToLower(token)} {
		if code := heads(wrong); code != http.StatusUnauthorized {
			t.Errorf("%q lets in: %d", wrong, code)
		}
	}
	if page := t.ask("GET", "/account", ann, nil).Body.String(); strings.Contains(page, token) ||
		!strings.Contains(page, "the laptop") || strings.Contains(page, "never") {
		t.Error("the page tells the token again, or does not tell that it was used")
	}
	var stored int
	if err := t.book.Server().QueryRow(`SELECT count(*) FROM token WHERE encode(digest, 'escape') LIKE '%spile%'
		OR label LIKE '%spile_%'`).Scan(&stored); err != nil || stored != 0 {
		t.Errorf("%d stored as they are, %v", stored, err)
	}
	list, err := t.people.Tokens(id["Ann"])
	if err != nil || len(list) != 1 {
		t.Fatal(list, err)
	}
	number := url.Values{"withdraw": {say.In("en").Year(int(list[0].ID))}}
	t.ask("POST", "/tokens", bea, number)
	if heads(token) != http.StatusOK {
		t.Error("another withdraws it")
	}
	take := func(token string) int {
		return t.ask("POST", "/sync/take", "", nil, "Authorization", "Bearer "+token).Code
	}
	if take(token) == http.StatusForbidden || take(other) != http.StatusForbidden {
		t.Error("a token has another right than its account")
	}
	if err := t.people.Set(id["Ann"], "", people.Reader); err != nil || take(token) != http.StatusForbidden {
		t.Error("a token keeps a right that was taken", err)
	}
	t.ask("POST", "/tokens", ann, number)
	if heads(token) != http.StatusUnauthorized {
		t.Error("withdrawn, it lets in")
	}
	for _, label := range []string{"", " ", strings.Repeat("x", 61)} {
		if w := t.ask("POST", "/tokens", ann, url.Values{"label": {label}}); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%q: %d", label, w.Code)
		}
	}
	t.ask("POST", "/people", stew, url.Values{"id": {say.In("en").Year(int(id["Bea"]))}, "do": {"end"}})
	if heads(other) != http.StatusUnauthorized {
		t.Error("a steward does not end it")
	}
	token = t.token(stew)
	again, err := t.people.Invite("Stew", "", "", people.Steward, *t.now)
	if err != nil {
		t.Fatal(err)
	}
	t.ask("POST", "/join/"+again, "", url.Values{"password": {pass}, "again": {pass}})
	if heads(token) != http.StatusUnauthorized {
		t.Error("a new password does not end it")
	}
}

// A workbench that was there before the first account asks everybody to sign in from that account on.
func firstAccount(t *testing.T, at string) {
	b, err := book.Create(at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	now := time.Date(2025, 3, 14, 9, 26, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	if _, err := b.Save(book.Edit{At: now, Who: "Zoe", What: "scenario"}, book.Items(scenario().Input)...); err != nil {
		t.Fatal(err)
	}
	p := people.Of(b)
	h, err := New(Config{Book: b, Who: "spile", Now: clock, Version: "test", Door: door.New(p, false, false, clock)})
	if err != nil {
		t.Fatal(err)
	}
	d := atDoor{TB: t, Handler: h, book: b, people: p, now: &now}
	if w := d.ask("GET", "/workbook", "", nil); w.Code != http.StatusOK {
		t.Errorf("without an account: %d", w.Code)
	}
	cookie := d.account("Ada", people.Steward)
	if w := d.ask("GET", "/workbook", "", nil); !out(w) {
		t.Errorf("after the first account nobody is asked: %d", w.Code)
	}
	if w := d.ask("POST", "/search", "", url.Values{"text": {"x"}, "seen": {"1"}}); !out(w) {
		t.Errorf("a form is taken: %d", w.Code)
	}
	if w := d.ask("GET", "/people", cookie, nil); w.Code != http.StatusOK {
		t.Errorf("who has the account is not let in: %d", w.Code)
	}
}
