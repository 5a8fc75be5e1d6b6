package web

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"spile/internal/files/book"
	"spile/internal/trade/input"
)

// A change of which not all is seen has the words for that wherever changes are listed, and none of its own.
func TestAChangeThatIsSeenInPart(t *testing.T) {
	d := sit(t, true)
	today := func() time.Time { return time.Date(2025, 3, 14, 9, 26, 0, 0, time.UTC) }
	c := d.contents()
	x := c.Studies[0]
	x.Name = "Quillback 2024"
	if _, err := d.book.For("North", today).Save(book.Edit{At: today(), Who: "Nora", What: "keeps Quillback",
		Seen: c.Sight()}, book.Keep(x), book.Keep(input.Search("all of it"))); err != nil {
		t.Fatal(err)
	}
	h, err := New(Config{Book: d.book.For("South", today), Who: "Sam", Now: today, Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/", "/history"} {
		w := ask(h, "GET", path)
		if body := w.Body.String(); w.Code != http.StatusOK || strings.Contains(body, "Quillback") ||
			!strings.Contains(body, ">not all of this change is yours to see<") {
			t.Errorf("%s: %d\n%s", path, w.Code, body)
		}
	}
}
