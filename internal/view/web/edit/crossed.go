package edit

import (
	"errors"
	"net/http"
	"slices"
	"time"

	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/view/web/page"
)

// crossing is what both sides of a sync have changed, on the page where that is decided.
type crossing struct {
	Kind  book.Kind
	Key   string
	Thing string
	Said  string
	Edit  string // the form where it is made of both; "": it has none of its own
	Table [][3]string
}

// crossed is the page of what both sides of a sync have changed, side by side.
func (s *Room) crossed(w http.ResponseWriter, t page.Trouble) {
	v := s.Voice
	var list []crossing
	for _, c := range s.Have.Crossed {
		x := crossing{Kind: c.Kind, Key: c.Key, Thing: s.Thing(c.Touched)}
		at, _ := time.Parse(time.RFC3339, c.Made.At) // it was looked at as it came
		theirs, err := c.Value()
		if err != nil {
			t.Faults = append(t.Faults, s.Said(page.Faults(err))...)
			continue
		}
		mine, err := s.Book.Value(c.Touched)
		if err != nil {
			t.Faults = append(t.Faults, s.Said(page.Faults(err))...)
			continue
		}
		x.Said = v.Text("%s changed it at %s (change %d, %s: %s), and it was changed here.", c.Made.Who, c.From,
			int(c.Made.ID), s.At(at), c.Made.What)
		if theirs == nil {
			x.Said = v.Text("%s removed it at %s (change %d, %s: %s), and it was changed here.", c.Made.Who, c.From,
				int(c.Made.ID), s.At(at), c.Made.What)
		}
		if mine == nil {
			x.Said = v.Text("%s changed it at %s (change %d, %s: %s), and it was removed here.", c.Made.Who, c.From,
				int(c.Made.ID), s.At(at), c.Made.What)
		}
		if theirs != nil && mine != nil {
			x.Table = s.differ(theirs, mine)
		}
		if mine != nil {
			x.Edit = page.Form(c.Touched)
		}
		list = append(list, x)
	}
	s.Show(w, "crossed", v.Text("Changed here and there"), page.Page{Here: "/workbook", Trouble: t,
		Back: &page.Link{Name: v.Text("Workbook"), Href: "/workbook"},
		Lead: []string{v.Text("A sync has found these changed on both sides. Nothing was overwritten: each stands " +
			"here as it was left here, and there as it was left there. What you decide goes there with the next " +
			"sync.")},
		Body: struct {
			List []crossing
			Seen book.Sight
		}{list, s.Have.Sight()}})
}

// decide ends what is crossed: one, or all of a kind.
func (s *Room) decide(w http.ResponseWriter, r *http.Request) {
	v, f := s.Voice, r.PostForm
	theirs := f.Get("take") == "theirs"
	if !theirs && f.Get("take") != "ours" {
		s.crossed(w, page.Refused(v.Text("Say which of both it is to be.")))
		return
	}
	var faults []string
	of := book.Touched{Kind: book.Kind(f.Get("kind")), Key: f.Get("key")}
	for _, c := range s.Have.Crossed {
		if c.Touched != of && f.Get("all") == "" {
			continue
		}
		what := v.Text("took theirs: %s", s.Thing(c.Touched))
		if !theirs {
			what = v.Text("left ours: %s", s.Thing(c.Touched))
		}
		_, err := s.Book.Decide(book.Edit{At: s.Now(), Who: s.Who, What: what, Why: page.Why(f),
			Seen: book.Beside(page.Seen(f))}, c.Touched, theirs)
		if errors.As(err, new(*book.Conflict)) {
			err = note.Faults{note.New("another sync has brought something else since; look at it again")}
		}
		if err != nil {
			faults = append(faults, s.Said(page.Faults(err))...)
		}
	}
	if faults == nil && !slices.ContainsFunc(s.Have.Crossed, func(c book.Crossing) bool { return c.Touched == of }) &&
		f.Get("all") == "" {
		faults = []string{v.Text("This waits for no decision any more.")}
	}
	if faults != nil {
		s.crossed(w, page.Refused(faults...))
		return
	}
	page.SeeOther(w, r, "/crossed")
}
