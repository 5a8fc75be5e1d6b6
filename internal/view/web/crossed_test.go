package web

import (
	"net/http"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// parted is a workbench over a workbook that came back from the woods, and one over that which stayed, each with a
// change of its own at a form, and what a sync of both has found.
func parted(t *testing.T, name string, c twice) (file, server atDesk, path string) {
	t.Helper()
	x := marsh(false)
	x.Days = []weather.Day{{Date: day(2025, 3, 1), Min: new(unit.Celsius.Of(-4)), Max: new(unit.Celsius.Of(6))}}
	file = sit(t, true)
	if _, err := file.book.Save(book.Edit{At: day(2025, 3, 1), Who: "Ada", What: "trial"},
		book.TrialItems(x)...); err != nil {
		t.Fatal(err)
	}
	keep := book.Edit{At: day(2025, 3, 1), Who: "Ada", What: "sugarbush", Seen: file.contents().Sight()}
	if _, err := file.book.Save(keep, book.Keep(ridge())); err != nil {
		t.Fatal(err)
	}
	at := filepath.Join(t.TempDir(), "server.spile")
	if err := file.book.Copy(at); err != nil {
		t.Fatal(err)
	}
	b, err := book.Open(at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	over := func(d atDesk, b *book.Book) atDesk {
		was := d.Handler.(tongues[*desk]).in["en"]
		next := &desk{Config: was.Config, memo: was.memo, kit: was.kit}
		next.Book = b
		return atDesk{t, tongues[*desk]{"en", map[string]*desk{"en": next}}, b}
	}
	file, server = over(file, file.book), over(file, b)
	path, _, _ = strings.Cut(name, " ")
	for d, change := range map[*atDesk]map[string]string{&server: c.first, &file: c.second} {
		if w := d.sendsOf(path, c.page(*d), change); w.Code != http.StatusSeeOther && w.Code != http.StatusOK {
			t.Fatalf("a change is answered %d: %.900s", w.Code, w.Body)
		}
	}
	s := file.syncs(server)
	if len(s.Crossed) != 1 {
		t.Fatalf("%+v", s)
	}
	return file, server, path
}

func (d atDesk) syncs(with atDesk) book.Synced {
	d.Helper()
	s, err := d.book.Sync(book.Desk{Book: with.book, Name: "maple.example.org", From: "Bo", At: day(2025, 4, 2),
		Say: note.Note.English}, book.Edit{At: day(2025, 4, 2), Who: "Bo", What: "sync with maple.example.org"})
	if err != nil {
		d.Fatal(err)
	}
	return s
}

// What a sync has found changed on both sides is told at the form of the thing, as of two people at one workbook; saved
// again it is made of both, and goes there.
func TestWhatASyncFoundIsToldAtEveryForm(t *testing.T) {
	long(t)
	for _, name := range []string{"/study", "/search", "/exclude", "/prices", "/practices", "/past", "/rule",
		"/sugarbush/keep", trees.SpringPath} {
		c := ofTwo(t)[name]
		t.Run(name, func(t *testing.T) {
			file, server, path := parted(t, name, c)
			before := file.contents()
			if l := file.get("/"); !strings.Contains(l, "1 thing was changed here and there") {
				t.Error("nothing waits on the first page")
			}
			both := file.get("/crossed")
			for _, said := range c.says {
				said = strings.Replace(said, "Ada changed", "Ada changed it at", 1)
				if _, thing, is := strings.Cut(said, "changed it at "); is {
					said = "Ada changed it at maple.example.org"
					if !strings.Contains(both, "<h2>"+thing) {
						t.Errorf("%q is not in the page", thing)
					}
				}
				if !strings.Contains(both, said) && path != trees.SpringPath &&
					!strings.Contains(said, "theirs, in the workbook") {
					t.Errorf("%q is not in the page", said)
				}
			}
			f := c.page(file)
			switch path { // whose forms send what they change
			case "/practices":
				c.second["name.0"], c.says = "steam of the third", nil
			case "/past":
				c.second["r0"], c.says = "2021|17.5|2.2||2.25", nil
			}
			answer := file.wants(file.sendsOf(path, f, c.second), http.StatusConflict, append(slices.Clone(c.says),
				"maple.example.org", "and it was changed here")...)
			if now := file.contents(); now.Change != before.Change {
				t.Fatal("decided unseen")
			}
			var again url.Values
			if path == "/sugarbush/keep" {
				again = sent(t, answer, "/sugarbush")
			} else {
				again = file.form(answer, path)
			}
			if path == "/study" || path == "/rule" {
				again.Set("do", "save")
			}
			file.wants(file.post(path, again), http.StatusSeeOther)
			if now := file.contents(); now.Crossed != nil {
				t.Error("it waits still")
			}
			if s := file.syncs(server); !s.Same {
				t.Errorf("%+v", s)
			}
			if a, b := file.contents(), server.contents(); a.Sources[0].Digest != b.Sources[0].Digest {
				t.Error("both sides hold other things")
			}
		})
	}
}

// On the page of what both have changed either is taken, one by one or all; what came since is not decided unseen.
func TestEitherIsTaken(t *testing.T) {
	long(t)
	c := ofTwo(t)["/search"]
	for _, take := range []string{"ours", "theirs"} {
		file, server, _ := parted(t, "/search", c)
		form := url.Values{"kind": {"search"}, "key": {"studies"}, "take": {take}, page.SeenKey: {"1"}}
		file.wants(file.post("/crossed", form), http.StatusUnprocessableEntity)
		form.Set(page.SeenKey, file.form(file.get("/crossed"), "/crossed").Get(page.SeenKey))
		form.Set("take", "neither")
		file.wants(file.post("/crossed", form), http.StatusUnprocessableEntity, "Say which of both")
		form.Set("take", take)
		form.Set("why", "asked both")
		file.wants(file.post("/crossed", form), http.StatusSeeOther)
		file.wants(file.post("/crossed", form), http.StatusUnprocessableEntity, "waits for no decision")
		if s := file.syncs(server); !s.Same {
			t.Errorf("%+v", s)
		}
		want := map[string]string{"ours": c.second["text"], "theirs": c.first["text"]}[take]
		for _, d := range []atDesk{file, server} {
			if got := string(d.contents().Search); got != want {
				t.Errorf("%s: %q", take, got)
			}
		}
		history := file.get("/history")
		for _, said := range []string{"brought from maple.example.org", "asked both"} {
			if !strings.Contains(history, said) {
				t.Errorf("the history does not say %q", said)
			}
		}
	}
	if !slices.Contains(workPages, "/crossed") {
		t.Error("the page is not among those that are walked")
	}
}
