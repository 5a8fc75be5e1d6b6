package web

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"spile/internal/files/book"
	"spile/internal/view/web/page"
)

// A workbook that is deleted, damaged or replaced under the workbench is told on every page, with the reason, in the
// reader's language and to nobody else; what a phone sends meanwhile stays on it. Put right, it is taken up again.
func TestTheWorkbookIsReplaced(t *testing.T) {
	o := openBare(t)
	cookie := o.let("Bo")
	at := o.book.Path()
	good, err := os.ReadFile(at)
	if err != nil {
		t.Fatal(err)
	}
	s, err := o.Handler.(tongues[*desk]).in["en"].current(always)
	if err != nil {
		t.Fatal(err)
	}
	asked := func(method, path, host, language string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, nil)
		r.Host = host
		r.AddCookie(&http.Cookie{Name: page.LanguageKey, Value: language})
		w := httptest.NewRecorder()
		o.ServeHTTP(w, r)
		return w
	}
	over := func(content []byte) {
		t.Helper()
		part := filepath.Join(filepath.Dir(at), "part")
		if err := os.WriteFile(part, content, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(part, at); err != nil {
			t.Fatal(err)
		}
	}
	for name, c := range map[string]struct {
		spoil      func()
		says, dire string
	}{
		"deleted":   {func() { os.Remove(at) }, "there is no such file", "ce fichier n’existe pas"},
		"truncated": {func() { os.Truncate(at, int64(len(good))/2) }, "damaged", "endommagé"},
		"a text":    {func() { over([]byte(strings.Repeat("x", 5000))) }, "this is not a workbook", "pas un classeur"},
	} {
		t.Run(name, func(t *testing.T) {
			c.spoil()
			for _, p := range s.patterns {
				method, path, _ := strings.Cut(p, " ")
				path = strings.NewReplacer("{file}", "gains.csv", "{option...}", "x", "{$}", "").Replace(path)
				if strings.HasPrefix(path, "/asset/") || strings.HasPrefix(path, "/language/") {
					continue
				}
				for language, says := range map[string]string{"en": c.says, "fr": c.dire} {
					w := asked(method, path, "localhost:7345", language)
					if w.Code != http.StatusServiceUnavailable ||
						!strings.Contains(html.UnescapeString(w.Body.String()), says) {
						t.Fatalf("%s in %s: %d\n%.900s", p, language, w.Code, html.UnescapeString(w.Body.String()))
					}
				}
			}
			if w := asked("GET", "/workbook", "elsewhere.example", "en"); w.Code != http.StatusMisdirectedRequest ||
				strings.Contains(w.Body.String(), "w.spile") {
				t.Errorf("for another name: %d %s", w.Code, w.Body)
			}
			w := o.call("POST", page.ReadPath, cookie, sending("a", "2", "2025-03-27", "amount", "531"))
			if _, named := w.Header()["Spile-Stored"]; w.Code < 500 || named {
				t.Errorf("a phone is answered %d", w.Code)
			}
			if w := o.call("GET", "/", "", nil, "Host", "elsewhere.example"); w.Code != http.StatusMisdirectedRequest {
				t.Errorf("the shared address answers for another name: %d", w.Code)
			}
			over(good)
			if body := o.get("/trials"); !strings.Contains(body, "Marsh 2025") {
				t.Error("put right, it is not taken up")
			}
		})
	}
	// Another workbook: it is used, and said to be another.
	other := filepath.Join(t.TempDir(), "o.spile")
	b, err := book.Create(other)
	if err != nil {
		t.Fatal(err)
	}
	b.Close()
	another, err := os.ReadFile(other)
	if err != nil {
		t.Fatal(err)
	}
	over(another)
	for _, p := range []string{"/trials", "/workbook", "/history", "/trials/new"} {
		if body := o.get(p); !strings.Contains(body, "Another file was put in the place of this workbook") {
			t.Errorf("%s does not tell", p)
		}
	}
	o.wants(o.call("GET", "/", cookie, nil), http.StatusOK, "Another file was put")
}

// A form that was opened on one workbook does not write over what another holds that was put in its place, though its
// last change has the same number: who sends it is shown what is there.
func TestAFormOfAnotherWorkbook(t *testing.T) {
	d := sit(t, true)
	study := d.contents().Studies[2]
	copied, err := os.ReadFile(d.book.Path())
	if err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(t.TempDir(), "other.spile")
	if err := os.WriteFile(other, copied, 0o644); err != nil {
		t.Fatal(err)
	}
	b, err := book.Open(other)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	changed := func(in *book.Book, who, weather string) {
		have, err := in.Contents()
		if err != nil {
			t.Fatal(err)
		}
		x := have.Studies[2]
		x.Weather = weather
		if _, err := in.Save(book.Edit{At: day(2025, 3, 1), Who: who, What: "x", Seen: have.Sight(), Replace: true},
			book.Keep(x)); err != nil {
			t.Fatal(err)
		}
	}
	changed(d.book, "Ada", "warm here")
	changed(b, "Bo", "cold there")
	form := d.form(d.get(page.StudyAddress(study.Name)), "/study")
	form.Set("do", "save")
	form.Set("h.weather", "typed in the form")
	if err := os.Rename(other, d.book.Path()); err != nil {
		t.Fatal(err)
	}
	answer := d.wants(d.post("/study", form), http.StatusConflict, "Bo changed the study "+study.Name, "cold there",
		"typed in the form")
	if got := d.contents().Studies[2].Weather; got != "cold there" {
		t.Fatalf("overwritten unseen: %q", got)
	}
	again := d.form(answer, "/study")
	again.Set("do", "save")
	d.wants(d.post("/study", again), http.StatusSeeOther)
	if got := d.contents().Studies[2].Weather; got != "typed in the form" {
		t.Errorf("after looking: %q", got)
	}
}
