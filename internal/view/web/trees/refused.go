package trees

import (
	"net/http"
	"net/url"
	"strings"

	"spile/internal/files/book"
	"spile/internal/view/web/page"
)

// openRefusal is a reading that was sent and not stored, as the desk decides about it.
type openRefusal struct {
	refusal
	When, Why string
	Units     []page.Picked // that it may be entered for; none: its trial or season is gone
	Odd       bool          // it stands against what is stored
}

// form is a refused reading as its phone sent it, for a unit.
func (r refusal) form(unit string) (url.Values, sent) {
	return url.Values{"trial": {r.Trial}, "season": {r.Season}, "date": {r.Date}, "time": {r.Time}, "way": {r.Way}},
		sent{unit: unit, typed: r.Typed}
}

// weighed is what would become of a refused reading for a unit, as the workbook stands, and why it cannot be stored.
func (s field) weighed(r refusal, unit string, over book.Sight) (b *batch, why string, ok bool) {
	f, x := r.form(unit)
	x.over = over
	a, ok := s.asks(f)
	if !ok {
		return nil, s.noTrial(f), false
	}
	b = &batch{field: s, asked: a}
	c := find(s.cards(a), unit)
	if c == nil {
		return b, b.unknown(x), false
	}
	b.weigh(c, x)
	return b, b.why(c), b.fault == "" && len(b.faulty)+len(b.odd) == 0
}

// toDecide is what phones sent and could not be stored: what is open, and how the rest was decided.
func (s desk) toDecide() (open []openRefusal, decided []string) {
	v, f := s.Voice, field{Site: s.Site, phones: s.phones}
	for _, r := range s.phones.all() {
		said := r.said()
		if r.Decided != nil {
			decided = append(decided, v.Text("%s, %s (%s): %s.", r.Unit, r.when(), r.Who, said)+" "+
				f.decidedText(*r.Decided))
			continue
		}
		x := openRefusal{refusal: r, When: r.when()}
		b, why, ok := f.weighed(r, r.Unit, book.Sight{})
		if x.Why = why; ok {
			x.Why = v.Text("It can be stored now.")
		}
		if b != nil {
			var list []page.Option
			for _, p := range b.record.Plots {
				list = append(list, page.Opt(p.Unit, p.Unit))
			}
			x.Units, x.Odd = page.Pick(list, r.Unit), len(b.odd) > 0
		}
		open = append(open, x)
	}
	return open, decided
}

func (r refusal) when() string { return strings.TrimSpace(r.Date + " " + r.Time) }

// said is what was typed, as it was typed.
func (r refusal) said() string {
	var list []string
	for _, field := range typedFields {
		if text := r.Typed[field]; text != "" && field != "least" {
			list = append(list, text)
		}
	}
	return strings.Join(list, "; ")
}

func (s field) decidedText(d decision) string {
	v := s.Voice
	switch {
	case d.Unit != "" && d.Why != "":
		return v.Text("%s entered it for %s: %s.", d.Who, d.Unit, d.Why)
	case d.Unit != "":
		return v.Text("%s entered it for %s.", d.Who, d.Unit)
	}
	return v.Text("%s threw it away: %s.", d.Who, d.Why)
}

// decideRefused enters a refused reading for the unit that it was read at, corrected where it must be, or throws it
// away with a reason.
func (s desk) decideRefused(w http.ResponseWriter, r *http.Request) {
	v, f := s.Voice, r.PostForm
	var x refusal
	ok := false
	if s.phones != nil {
		x, ok = s.phones.refused(f.Get("id"))
	}
	if !ok || x.Decided != nil { // somebody else has decided it
		page.SeeOther(w, r, "/trials#refused")
		return
	}
	d := decision{Who: s.Who, Why: page.Clean(f.Get("reason"))}
	if f.Get("do") == "away" {
		if d.Why == "" {
			s.trialList(w, page.Refused(v.Text("Say why the reading of %s is thrown away: it stays in the list.",
				x.Unit)))
			return
		}
		s.phones.decide(x.ID, d)
		page.SeeOther(w, r, "/trials#refused")
		return
	}
	d.Unit = page.Clean(f.Get("unit"))
	typed := map[string]string{}
	for _, field := range typedFields {
		if text := page.Clean(f.Get(field)); text != "" {
			typed[field] = text
		}
	}
	if len(typed) > 0 {
		x.Typed = typed
	}
	var over book.Sight
	if f.Get("over") != "" {
		over = page.Seen(f)
	}
	b, why, ok := field{Site: s.Site, phones: s.phones}.weighed(x, d.Unit, over)
	if !ok {
		s.trialList(w, page.Refused(why))
		return
	}
	if len(b.items) > 0 {
		what := v.Text("read %s of %s, %s (sent by %s for %s)", d.Unit, b.t.Name, clockText(v, b.at), x.Who, x.Unit)
		replace := over.Change > 0
		if err := s.Save(url.Values{"why": {d.Why}}, what, page.Seen(f), replace, b.items...); err != nil {
			t, _ := s.Troubled(err, nil)
			s.trialList(w, t)
			return
		}
	}
	s.phones.decide(x.ID, d)
	page.SeeOther(w, r, "/trials#refused")
}
