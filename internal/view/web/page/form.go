package page

import (
	"cmp"
	"errors"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/view/say"
)

// uploading is how long a form may take to come: a table of 17 MB at 1.2 Mbit/s.
const uploading = 115 * time.Second

// MostForm is the largest form that is taken, in bytes: a table as large as a file may be, and what stands around it.
const MostForm = 17 << 20

// Formed reads the form of a request before it is done, or says why it cannot be read.
func (s *Site) Formed(do http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		tooLarge := func() {
			text := s.Voice.Text("This is larger than %v MiB; allowed: at most that", float64(MostForm>>20))
			http.Error(w, text, http.StatusRequestEntityTooLarge)
		}
		if r.ContentLength > MostForm {
			w.Header().Set("Connection", "close") // what is still to come is not read
			tooLarge()
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, MostForm)
		// Who sends forms is known by now; where the writer knows no deadlines it has none.
		_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(uploading))
		err := r.ParseForm()
		if err == nil {
			err = r.ParseMultipartForm(MostForm)
		}
		if r.MultipartForm != nil {
			defer r.MultipartForm.RemoveAll()
		}
		switch {
		case errors.As(err, new(*http.MaxBytesError)):
			tooLarge()
		case err != nil && !errors.Is(err, http.ErrNotMultipart):
			s.Unreadable(w)
		default:
			rememberForm(w, r)
			do(answering{w, Why(r.PostForm)}, r)
		}
	}
}

// Unreadable refuses a form that no page of ours has sent.
func (s *Site) Unreadable(w http.ResponseWriter) {
	http.Error(w, Unread(s.Voice), http.StatusBadRequest)
}

// mostFields is one less than urlmaxqueryparams of go.mod: the readings of 16,000 units at one time.
const mostFields = 100_000

// Unread says that a form, or a file in it, is none.
func Unread(v *say.Voice) string {
	return v.Text("This form could not be read: it is not written as a browser writes one, or has more than %d fields.",
		mostFields)
}

// Clean is what was typed on one row: no controls, no line ends, valid UTF-8.
func Clean(text string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == 0x2028 || r == 0x2029 {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(text, "")))
}

// Short keeps what was typed from filling the page.
func Short(text string) string {
	if r := []rune(text); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return text
}

// Typed is a form that numbers are read out of, and what is wrong with them.
type Typed struct {
	V      *say.Voice
	Form   url.Values
	Faults []string
}

// Fault adds one.
func (t *Typed) Fault(text string) { t.Faults = append(t.Faults, text) }

// Whole is a whole number from low to high; low where none such was typed.
func (t *Typed) Whole(key, label string, low, high int) int {
	n, err := strconv.Atoi(Clean(t.Form.Get(key)))
	if err != nil || n < low || n > high {
		t.Fault(t.V.Text("%s: %s; allowed: a whole number from %s to %s", label, Short(t.Form.Get(key)),
			strconv.Itoa(low), strconv.Itoa(high)))
		return low
	}
	return n
}

// Number is a number from low to high; NaN where none such was typed.
func (t *Typed) Number(key, label string, low, high float64) float64 {
	text := Clean(t.Form.Get(key))
	x, ok := t.V.Parsed(text)
	if !ok || x < low || x > high {
		t.Fault(t.V.Text("%s: %s; allowed: a number from %s to %s", label, Short(text), t.V.Marked(Bare(low)),
			t.V.Marked(Bare(high))))
		return math.NaN()
	}
	return x
}

// Seen is what who sends a form has seen of the workbook: nothing, where it does not say.
func Seen(form url.Values) book.Sight { return book.ParseSight(form.Get(SeenKey)) }

// Why is the reason that a form gives for what it changes.
func Why(form url.Values) string { return cmp.Or(Clean(form.Get("why")), Clean(form.Get("reason"))) }

// Trouble is why a form was not kept.
type Trouble struct {
	Faults []string
	Theirs []Theirs
	Code   int        // of the answer; 0: 200
	Shown  book.Sight // what an edit says that has been shown it
}

// Refused is the trouble of a form at fault.
func Refused(faults ...string) Trouble {
	return Trouble{Faults: faults, Code: http.StatusUnprocessableEntity}
}

// Theirs is what somebody else has changed in the meantime.
type Theirs struct {
	Said  string
	Table [][3]string // what, as they have it, as it stands in the form
}

// Beside puts what somebody else has changed beside what stands in a form: what differs, as they have it, as the form
// has it.
type Beside func(book.Later) [][3]string

// Troubled words the error of a save; mine may be nil. seen is up to the last change that is shown with it;
// of nothing where none is.
func (s *Site) Troubled(err error, mine Beside) (t Trouble, seen book.Sight) {
	v := s.Voice
	var c *book.Conflict
	if !errors.As(err, &c) {
		return Refused(s.Said(Faults(err))...), seen
	}
	t.Code = http.StatusConflict
	for _, l := range c.Theirs {
		seen = seen.And(l.Seen)
		said := v.Text("%s changed %s while you were writing (change %d, %s: %s).",
			l.Who, s.Thing(l.Touched), int(l.ID), s.At(l.At), l.What)
		if l.Value == nil {
			said = v.Text("%s removed %s while you were writing (change %d, %s: %s).",
				l.Who, s.Thing(l.Touched), int(l.ID), s.At(l.At), l.What)
		}
		if l.There != "" { // a sync found it
			said = v.Text("%s changed %s at %s (change %d, %s: %s), and it was changed here.", l.Who,
				s.Thing(l.Touched), l.There, int(l.ID), s.At(l.At), l.What)
			if l.Value == nil {
				said = v.Text("%s removed %s at %s (change %d, %s: %s), and it was changed here.", l.Who,
					s.Thing(l.Touched), l.There, int(l.ID), s.At(l.At), l.What)
			}
		}
		if l.There == "" && l.What == "" { // not all of that change is seen, and so not what was said of it
			said = v.Text("%s changed %s while you were writing (change %d, %s).", l.Who, s.Thing(l.Touched), int(l.ID),
				s.At(l.At))
			if l.Value == nil {
				said = v.Text("%s removed %s while you were writing (change %d, %s).", l.Who, s.Thing(l.Touched),
					int(l.ID), s.At(l.At))
			}
		}
		their := Theirs{Said: said}
		if mine != nil && l.Value != nil {
			their.Table = mine(l)
		}
		t.Theirs = append(t.Theirs, their)
	}
	t.Shown = seen
	return t, seen
}

// Faults are the faults of an error; one that is none of the input is one by itself.
func Faults(err error) note.Faults {
	var f note.Faults
	if errors.As(err, &f) {
		return f
	}
	return note.Faults{note.New("%s", err.Error())}
}

// Said words faults without the place in a file, which a form does not have.
func (s *Site) Said(f note.Faults) []string {
	var list []string
	for _, n := range f {
		n.Where = note.Where{}
		if text := s.Voice.Note(n); !slices.Contains(list, text) {
			list = append(list, text)
		}
	}
	return list
}

// Unusual is a question about something unusual, and whether it was answered.
type Unusual struct {
	ID, Text string
	At       note.Where // of what it is about
	Meant    bool
}

// many questions that ask the same of a column may be answered together.
const many = 4

// Asked is what is asked and was not answered in the workbook, the answers that a form gives, and whether something is
// still open.
func (s *Site) Asked(all doubt.Questions, form url.Values) (list []Unusual, answers []book.Item, open bool) {
	var known []string
	for _, a := range s.Have.Answers {
		known = append(known, a.ID)
	}
	all = all.Open(known)
	for _, set := range all.Sets() {
		if id := set[0].Set(); len(set) >= many {
			list = append(list, Unusual{ID: id, Text: s.Voice.Text("All %d of these are so, such as: %s", len(set),
				s.Voice.Note(set[0].Note)), Meant: slices.Contains(form["accept"], id)})
		}
	}
	for _, d := range all {
		x := Unusual{d.ID, s.Voice.Note(d.Note), d.Where, d.Among(form["accept"])}
		if x.Meant {
			answers = append(answers, book.Keep(doubt.Answer{ID: d.ID, About: x.Text}))
		}
		list, open = append(list, x), open || !x.Meant
	}
	return list, answers, open
}

// Save keeps items in the name of who runs the workbench; what is for the history, in the language of who did it, and
// form says why. seen is what the form was made from, and replace says that what it had seen may be put in
// the place of.
func (s *Site) Save(form url.Values, what string, seen book.Sight, replace bool, items ...book.Item) error {
	_, err := s.Book.Save(book.Edit{At: s.Now(), Who: s.Who, What: what, Why: Why(form), Seen: seen, Replace: replace},
		items...)
	return err
}
