package web

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"spile/internal/cluster"
	"spile/internal/files/book"
	"spile/internal/files/people"
	"spile/internal/view/say"
	"spile/internal/view/web/door"
	"spile/internal/view/web/page"
)

// of is an account of a station, and its session.
func (d atDoor) of(of, name string, may people.Right) string {
	d.Helper()
	cookie := d.account(name, may)
	all, err := d.people.All()
	if err != nil {
		d.Fatal(err)
	}
	for _, p := range all {
		if p.Name == name {
			if err := d.people.Set(p.ID, of, may); err != nil {
				d.Fatal(err)
			}
		}
	}
	return cookie
}

func TestServedStations(t *testing.T) {
	schema := cluster.Schemas(t)
	t.Run("what is another station's is nowhere", func(t *testing.T) { nowhere(knock(t, schema(), false, false)) })
	t.Run("released, offered, admitted, withdrawn", func(t *testing.T) { season(knock(t, schema(), false, false)) })
	t.Run("what others write of their own", func(t *testing.T) { undisturbed(knock(t, schema(), false, false)) })
}

// undisturbed: what a station writes of a trial that others do not see makes no page of theirs anew.
func undisturbed(d atDoor) {
	d.account("Stew", people.Steward)
	ours, theirs := d.of("Otter", "Ann", people.Editor), d.of("Heron", "Bob", people.Editor)
	x := marsh(false)
	heron := d.book.For("Heron", func() time.Time { return *d.now })
	if _, err := heron.Save(book.Edit{At: *d.now, Who: "Bob", What: "trial"}, book.TrialItems(x)...); err != nil {
		d.Fatal(err)
	}
	tags := map[string]string{}
	fresh := func(cookie, at string) bool {
		w := d.ask("GET", at, cookie, nil, "If-None-Match", tags[cookie+at])
		tags[cookie+at] = w.Header().Get("ETag")
		return w.Code == http.StatusNotModified
	}
	const at = "/gains"
	for _, cookie := range []string{ours, theirs} {
		if fresh(cookie, at) || !fresh(cookie, at) {
			d.Fatal("a page has no tag that is known again")
		}
	}
	form := typing("1", "2025-04-02", "brix", "2.1")
	form.Set("trial", x.Name)
	if w := d.ask("POST", page.ReadPath, theirs, form); w.Code != http.StatusSeeOther {
		d.Fatal(w.Code)
	}
	if !fresh(ours, at) {
		d.Error("another station's reading makes our page anew")
	}
	if fresh(theirs, at) {
		d.Error("their own reading is not in their page")
	}
	all := scenario().Studies[0]
	all.Source += " (read again)"
	c, err := d.book.Contents()
	if err != nil {
		d.Fatal(err)
	}
	if _, err := d.book.Save(book.Edit{At: *d.now, Who: "Zoe", What: "all see it", Replace: true, Seen: c.Sight()},
		book.Keep(all)); err != nil {
		d.Fatal(err)
	}
	if fresh(ours, at) || fresh(theirs, at) {
		d.Error("a study that all see is not in the pages")
	}
}

// secret is in every text of what the station Fern Gate keeps for itself.
const secret = "Quillback"

// hide keeps a trial, a study, a decision on it, and an answer about it, as the station Fern Gate.
func hide(t atDoor) {
	c, err := t.book.Contents()
	if err != nil {
		t.Fatal(err)
	}
	x := marsh(false)
	x.Name, x.Site = secret+" trial", secret+" hill"
	s := c.Studies[0]
	s.Name, s.Site, s.Source = secret+" 2024", secret+" ridge", secret+" notes"
	fern := t.book.For("Fern Gate", func() time.Time { return *t.now })
	items := append(book.TrialItems(x), book.Keep(s))
	if _, err := fern.Save(book.Edit{At: *t.now, Who: "Fay", What: "keeps " + secret, Why: secret, Seen: c.Sight()},
		items...); err != nil {
		t.Fatal(err)
	}
}

// nowhere asks for every address as everybody of another station and of none, by the names and numbers of what is
// hidden.
func nowhere(t atDoor) {
	t.account("Stew", people.Steward)
	who := map[string]string{}
	for right := people.Reader; right <= people.Steward; right++ {
		who["none, "+right.String()] = t.account("N "+right.String(), right)
		who["north, "+right.String()] = t.of("North Sugar", "O "+right.String(), right)
	}
	fay := t.of("Fern Gate", "Fay", people.Editor)
	before := t.ask("GET", "/gains", who["north, reader"], nil)
	digest := t.ask("GET", "/history", who["north, reader"], nil).Body.String()
	hide(t)
	const of = "what it holds <code>"
	after := t.ask("GET", "/history", who["north, reader"], nil).Body.String()
	if was := between(digest, of, "<"); len(was) != 64 || between(after, of, "<") != was {
		t.Errorf("the digest of what is seen tells of what is not: %s", was)
	}
	c, err := t.book.Contents()
	if err != nil {
		t.Fatal(err)
	}
	if w := t.ask("GET", "/workbook", fay, nil); !strings.Contains(w.Body.String(), secret) {
		t.Fatalf("its own station does not see it: %d", w.Code)
	}
	now, err := newDesk(Config{Book: t.book, Door: door.New(t.people, false, false, time.Now),
		Voice: say.In("en"), Now: time.Now}, remembers())
	if err != nil {
		t.Fatal(err)
	}
	name := secret + " trial"
	named := url.Values{"name": {secret + " 2024"}, "trial": {name}, "of": {name}, "study": {secret + " 2024"},
		"change": {"2"}, "id": {"2"}, "season": {"2024"}, "reason": {"x"}, "why": {"x"}, "seen": {"2"}, "since": {"0"}}
	asked := 0
	for _, pattern := range now.now.patterns {
		method, path, _ := strings.Cut(pattern, " ")
		if path == "/asset/{file}" || path == "/language/{language}" || pattern == "POST /sign-out" ||
			pattern == "POST /people" {
			continue
		}
		path = strings.NewReplacer("{$}", "", "{change}", "2", "{trial}", url.PathEscape(name), "{name}",
			url.PathEscape(name), "{", "", "}", "", "...", "").Replace(path)
		for _, form := range []url.Values{named, {"name": {name}, "of": {"trial"}, "trial": {name}, "seen": {"0"},
			"change": {"2"}, "reason": {"x"}}} {
			for as, cookie := range who {
				address := path
				if method == "GET" {
					address += "?" + form.Encode()
				}
				w := t.ask(method, address, cookie, form)
				asked++
				body := html.UnescapeString(w.Body.String())
				for _, typed := range []string{name, secret + " 2024"} { // what was asked may be said again
					for _, as := range []string{typed, url.QueryEscape(typed), url.PathEscape(typed)} {
						body = strings.ReplaceAll(body, as, "")
					}
				}
				if strings.Contains(body, secret) || strings.Contains(w.Header().Get("Location"), secret+"%20hill") {
					at := strings.Index(body, secret)
					t.Errorf("%s tells %s: …%s…", pattern, as, body[max(0, at-100):min(len(body), at+60)])
				}
			}
		}
	}
	if asked < 1000 {
		t.Errorf("only %d were asked", asked)
	}
	for _, path := range []string{"/data/evidence.csv", "/data/prices.toml", "/data/sources.bib", "/data/sources.ris",
		"/history", "/changes", "/changes?since=0", "/trials", "/evidence", "/gains", "/workbook", "/stations", "/",
		"/figure/intervals.svg", "/report.html", "/history/2", "/data/workbook.xlsx", "/offers"} {
		for as, cookie := range who {
			body := t.ask("GET", path, cookie, nil).Body.String()
			if strings.Contains(body, secret) || strings.Contains(body, c.History) ||
				strings.Contains(body, c.Sources[0].Digest) {
				t.Errorf("%s tells %s", path, as)
			}
		}
	}
	w := t.ask("GET", "/gains", who["north, reader"], nil)
	if w.Code != http.StatusOK || before.Code != http.StatusOK {
		t.Errorf("%d, %d", before.Code, w.Code)
	}
	if w := t.ask("GET", "/stations", who["north, reader"], nil); !strings.Contains(w.Body.String(),
		"1 study of another station is held back") {
		t.Error("how many are held back is not said")
	}
	last := c.Change
	if c, err = t.book.Contents(); err != nil {
		t.Fatal(err)
	}
	for _, x := range c.Studies {
		if x.Name == secret+" 2024" && x.Site != secret+" ridge" {
			t.Errorf("another station changed it (change %d to %d)", last, c.Change)
		}
	}
}

func between(text, from, to string) string {
	_, rest, _ := strings.Cut(text, from)
	found, _, _ := strings.Cut(rest, to)
	return found
}

// season follows a study and a trial of one station to everybody and back.
func season(t atDoor) {
	t.account("Stew", people.Steward)
	hide(t)
	fay, stew := t.of("Fern Gate", "Fay", people.Editor), t.of("North Sugar", "Sam", people.Steward)
	ned, rae := t.of("North Sugar", "Ned", people.Editor), t.of("Fern Gate", "Rae", people.Reader)
	study, name := secret+" 2024", secret+" trial"
	sees := func(cookie string, path, text string) bool {
		return strings.Contains(t.ask("GET", path, cookie, nil).Body.String(), text)
	}
	do := func(cookie, act, of, name string, want int, more ...string) {
		t.Helper()
		c, _ := t.book.Contents()
		form := url.Values{"of": {of}, "name": {name}, "seen": {say.In("en").Year(int(c.Change))}}
		for i := 0; i+1 < len(more); i += 2 {
			form.Set(more[i], more[i+1])
		}
		if w := t.ask("POST", "/stations/"+act, cookie, form); w.Code != want {
			t.Errorf("%s %s: %d, not %d\n%s", act, name, w.Code, want, between(w.Body.String(), "<main", "</main"))
		}
	}
	const ok, no, never = http.StatusSeeOther, http.StatusUnprocessableEntity, http.StatusForbidden
	do(ned, "offer", "study", study, no)
	do(fay, "admit", "study", study, never)
	do(rae, "offer", "study", study, never)
	do(stew, "admit", "study", study, no) // it is not offered
	do(fay, "offer", "study", study, ok)
	if sees(ned, "/evidence", study) || sees(stew, "/evidence", study) || !sees(stew, "/offers", secret+" notes") ||
		sees(ned, "/offers", secret) {
		t.Error("what is offered is seen by others than stewards, or in another place")
	}
	do(stew, "send-back", "study", study, no)
	do(stew, "send-back", "study", study, ok, "reason", "no error of the mean")
	if !sees(fay, "/stations", "no error of the mean") || sees(stew, "/offers", study) {
		t.Error("it is not sent back with its reason")
	}
	do(fay, "offer", "study", study, ok)
	do(stew, "admit", "study", study, ok)
	for _, cookie := range []string{ned, rae, stew} {
		if !sees(cookie, "/evidence", study) {
			t.Error("what is admitted is not seen")
		}
	}
	if w := t.ask("POST", "/study/remove", ned, url.Values{"name": {study}}); w.Code == ok {
		t.Error("another station removes it")
	}
	do(ned, "withdraw", "study", study, no, "reason", "x")
	do(fay, "withdraw", "study", study, no)
	do(fay, "withdraw", "study", study, ok, "reason", "the pump was found broken")
	if sees(ned, "/evidence", study) || !sees(ned, "/history", "the pump was found broken") ||
		!sees(rae, "/evidence", study) {
		t.Error("withdrawn: not gone, or gone from the history")
	}
	do(ned, "release", "trial", name, no)
	do(fay, "release", "trial", name, no, "from", "soon")
	do(fay, "release", "trial", name, ok, "from", "2025-04-01")
	if sees(ned, "/trials", name) {
		t.Error("it is seen before its day")
	}
	*t.now = t.now.Add(20 * 24 * time.Hour)
	ned = session(t.signIn("Ned", pass))
	if !sees(ned, "/trials", name) {
		t.Error("it is not seen from its day on")
	}
	// A steward who admits what is of their own station says so in the history.
	fay = session(t.signIn("Fay", pass))
	stew = t.of("Fern Gate", "Sue", people.Steward)
	do(fay, "offer", "study", study, ok)
	if !sees(stew, "/offers", "your own station") {
		t.Error("it is not told that it is of the own station")
	}
	do(stew, "admit", "study", study, ok)
	if !sees(ned, "/history", "(by its own station)") {
		t.Error("the history does not say that its own station admitted it")
	}
	// An old cookie sees what the account sees now: of another station nothing of the one before.
	do(fay, "withdraw", "trial", name, ok, "reason", "a unit was read twice")
	all, err := t.people.All()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		if p.Name == "Fay" {
			if err := t.people.Set(p.ID, "North Sugar", people.Editor); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, path := range []string{"/trials", "/trial?name=" + url.QueryEscape(name), "/workbook", "/gains"} {
		if sees(fay, path, secret+" hill") || path == "/trials" && sees(fay, path, name) {
			t.Errorf("%s: an old cookie sees what the account does not", path)
		}
	}
	do(fay, "release", "trial", name, no)
}
