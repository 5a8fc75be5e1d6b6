package edit

import (
	"strings"
	"testing"

	"spile/internal/files/book"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// Of a change of more readings than are listed the rest are counted, one alone too, and not called values that its own
// page would have.
func TestReadingsThatAreNotListed(t *testing.T) {
	kit, err := page.NewKit(say.In("en"), "test", false, Files)
	if err != nil {
		t.Fatal(err)
	}
	s := &Room{Site: &page.Site{Kit: kit}}
	for beyond, want := range map[int][2]string{
		0: {"", ""}, 1: {"1 reading", "… and 1 reading, which is not listed"},
		500: {"500 readings", "… and 500 readings, which are not listed"},
	} {
		x := s.entry(book.Entry{Beyond: [3]int{0, beyond, 0}}, 1<<30)
		if x.Changed != want[0] || x.More != 0 || x.Unlisted != beyond {
			t.Errorf("%d beyond: %+v", beyond, x)
		}
		if got := s.Voice.Text("… and %d readings, which are not listed", beyond); beyond > 0 && got != want[1] {
			t.Error(got)
		}
	}
	if got := s.touched(nil, 1<<40); !strings.HasSuffix(got, "readings") {
		t.Error(got)
	}
}
