package trees

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"spile/internal/files/book"
	"spile/internal/note"
	trials "spile/internal/trade/trial"
	"spile/internal/view/web/page"
)

// storedKey is the header by which an answer names what a phone need not keep any more.
const storedKey = "Spile-Stored"

// noTrial says that a trial or its season is gone.
func (s field) noTrial(f url.Values) string {
	return s.Voice.Text("The workbook has no trial %s with a season %s.", page.Short(page.Clean(f.Get("trial"))),
		page.Short(page.Clean(f.Get("season"))))
}

// typedFields are the fields of a card.
var typedFields = []string{"amount", "least", "brix", "vacuum", "note"}

// sent is what a form holds of one unit.
type sent struct {
	n, id, unit string // its number in the form; the phone's name for what was typed, where a phone sent it
	typed       map[string]string
	over        book.Sight // in the place of what it may be put; of nothing: of nothing
	away        string     // why it was thrown away; "": it was not
}

// name is what the answer calls it by.
func (x sent) name() string { return cmp.Or(x.id, x.n) }

// sentIn reads what a form holds, in the order of its numbers.
func sentIn(f url.Values) (list []sent) {
	for key := range f {
		n, ok := strings.CutPrefix(key, "unit.")
		if !ok {
			continue
		}
		x := sent{n: n, id: f.Get("id." + n), unit: page.Clean(f.Get(key)), away: page.Clean(f.Get("away." + n)),
			typed: map[string]string{}}
		if len(x.id) > 64 {
			x.id = ""
		}
		x.over = book.ParseSight(f.Get("over." + n))
		for _, field := range typedFields {
			if text := page.Clean(f.Get(field + "." + n)); text != "" {
				x.typed[field] = text
			}
		}
		list = append(list, x)
	}
	slices.SortFunc(list, func(a, b sent) int {
		return cmp.Or(cmp.Compare(len(a.n), len(b.n)), cmp.Compare(a.n, b.n))
	})
	return list
}

// batch is a form of readings on its way into the workbook.
type batch struct {
	field
	asked
	items        []book.Item
	kept, before []sent // with what is to be kept; that was stored before, or decided
	faulty, odd  []sent // that cannot be read, or name no unit; that stand against what is stored
	told         []told
	over         book.Sight
}

// weigh says what becomes of what was typed into a card: it is at fault, was stored before, stands against what is
// stored, or is kept.
func (b *batch) weigh(c *card, x sent) {
	c.Typed = x.typed
	reading, least := b.typed(c, b.at)
	if len(c.Faults) > 0 {
		b.faulty = append(b.faulty, x)
		return
	}
	i := slices.IndexFunc(b.record.Readings,
		func(r trials.Reading) bool { return r.Unit == c.Unit && r.At.Equal(b.at) })
	if i >= 0 {
		was := b.record.Readings[i]
		had := ranOver(b.record, was)
		theirs, mine := readingText(b.Voice, was, had), readingText(b.Voice, reading, least)
		if theirs == mine {
			c.Typed = map[string]string{}
			b.before = append(b.before, x) // it was stored, and the answer got lost
			return
		}
		if x.over.Change == 0 {
			b.odd = append(b.odd, x)
			c.Theirs, c.Mine, c.Over = theirs, mine, b.Have.Sight()
			return
		}
		b.over = x.over
		if had && !least {
			b.items = append(b.items, book.Drop(book.Log(b.t.Name, b.record.Season, overflow(c.Unit, b.at))))
		}
	}
	said := slices.ContainsFunc(b.record.Events, func(e trials.Event) bool { // in the log, in words of its own
		return e.Kind == trials.Overflow && e.Note != atLeast && e.From.Equal(b.at) &&
			slices.Equal(e.Units, []string{c.Unit})
	})
	if least && !said {
		b.items = append(b.items, book.Keep(book.Log(b.t.Name, b.record.Season, overflow(c.Unit, b.at))))
	}
	b.items = append(b.items, book.Keep(book.Log(b.t.Name, b.record.Season, reading)))
	b.kept = append(b.kept, x)
}

// units are those of what was sent.
func units(list []sent) (names []string) {
	for _, x := range list {
		names = append(names, x.unit)
	}
	return names
}

// unknown says that the layout does not know a unit: it was laid out anew since the reading was typed, say.
func (b *batch) unknown(x sent) string {
	var known []string
	for _, p := range b.record.Plots {
		known = append(known, p.Unit)
	}
	return b.Voice.Note(note.Unknown(x.unit, known)) + ". " + b.Voice.Text("Its reading is not stored.")
}

// settled takes out what somebody has decided about, here or on its phone.
func (s field) settled(list []sent) (open, done []sent, say []told) {
	for _, x := range list {
		r, ok := s.phones.refused(x.id)
		ok = ok && r.Who == s.Who
		if ok && x.away != "" && r.Decided == nil {
			s.phones.decide(x.id, decision{Who: s.Who, Why: x.away})
			r, ok = s.phones.refused(x.id)
		}
		switch {
		case ok && r.Decided != nil:
			done, say = append(done, x), append(say, told{x.id, s.decidedText(*r.Decided), true, false})
		case x.away != "":
			done = append(done, x)
		default:
			open = append(open, x)
		}
	}
	return open, done, say
}

// refusal is what was sent as it is listed until someone decides it.
func (s field) refusal(f url.Values, x sent) refusal {
	return refusal{ID: x.id, Who: s.Who, Sent: s.phones.Now(), Trial: f.Get("trial"), Season: f.Get("season"),
		Date: f.Get("date"), Time: f.Get("time"), Way: f.Get("way"), Unit: x.unit, Typed: x.typed}
}

// long is true of more than anybody types of a unit: it is refused, and listed on its phone alone.
func (x sent) long() bool {
	n := len(x.unit)
	for _, text := range x.typed {
		n += len(text)
	}
	return n > 8<<10
}

// answered says by header what a phone may forget, lists what was refused, and keeps when the phone last read.
func (s field) answered(w http.ResponseWriter, f url.Values, last string, stored, refused []sent) {
	var names []string
	var kept, not []refusal
	for _, x := range stored {
		names = append(names, x.name())
		kept = append(kept, s.refusal(f, x))
	}
	w.Header().Set(storedKey, strings.Join(names, " "))
	if !s.Phone {
		return
	}
	for _, x := range refused {
		if !x.long() {
			not = append(not, s.refusal(f, x))
		}
	}
	if len(not) > 0 {
		s.phones.refuse(not...)
	}
	waiting, _ := strconv.Atoi(f.Get("waiting"))
	s.phones.stored(s.who, last, max(0, waiting-len(stored)), kept...)
}

// saveReadings keeps what stands in the cards of a form: all of them or none. A unit that was read at that time already
// keeps what it has, unless the form says that who sends it has seen that.
func (s field) saveReadings(w http.ResponseWriter, r *http.Request) {
	f := r.PostForm
	open, done, say := s.settled(sentIn(f))
	a, ok := s.asks(f)
	if !ok {
		s.answered(w, f, "", done, open)
		s.Show(w, "plain", s.Voice.Text("No page here"), page.Page{Here: "/trials", Lead: []string{s.noTrial(f)},
			Back:    &page.Link{Name: s.Voice.Text("To the beginning of the workbench"), Href: "/"},
			Trouble: page.Trouble{Code: http.StatusNotFound}})
		return
	}
	list := s.cards(a)
	if n, err := strconv.Atoi(f.Get("drop")); err == nil && !s.Phone && n >= 0 && n < len(a.record.Plots) {
		s.dropReading(w, r, a, list, a.record.Plots[n].Unit)
		return
	}
	b := &batch{field: s, asked: a, before: done, told: say}
	only := "" // the number of the card whose button was pressed
	if do := f.Get("do"); do != "all" {
		only = do
	}
	for key := range f {
		if n, ok := strings.CutPrefix(key, "over."); ok && f.Get("id."+n) == "" {
			only = n
		}
	}
	for _, x := range open {
		c := find(list, x.unit)
		switch {
		case len(x.typed) == 0:
		case c == nil:
			b.told = append(b.told, told{ID: x.name(), Text: b.unknown(x)})
			b.faulty = append(b.faulty, x)
		case only != "" && only != x.n:
			c.Typed = x.typed
		default:
			b.weigh(c, x)
		}
	}
	b.answer(w, r, list)
}

// find is the card of a unit, or nil.
func find(list []cards, unit string) *card {
	for i := range list {
		for k := range list[i].Cards {
			if c := &list[i].Cards[k]; c.Unit == unit {
				return c
			}
		}
	}
	return nil
}

// answer keeps what can be kept and says what became of it.
func (b *batch) answer(w http.ResponseWriter, r *http.Request, list []cards) {
	f := r.PostForm
	unknown := slices.DeleteFunc(slices.Clone(b.faulty), func(x sent) bool { return find(list, x.unit) != nil })
	refuse := func(code int, stored []sent, faults ...string) {
		if b.fault != "" {
			faults = append(faults, b.fault)
		}
		refused := slices.Concat(b.faulty, b.odd)
		if b.fault != "" {
			refused = append(refused, b.kept...)
		}
		for _, x := range refused {
			if c := find(list, x.unit); c != nil && x.id != "" {
				b.told = append(b.told, told{ID: x.id, Text: b.why(c), Hidden: true})
			}
		}
		b.answered(w, f, b.last(stored), stored, refused)
		b.fieldCards(w, b.asked, list, page.Trouble{Faults: faults, Code: code}, b.told...)
	}
	switch {
	case b.fault != "" || len(b.faulty) > len(unknown):
		refuse(http.StatusUnprocessableEntity, b.before)
		return
	case len(b.odd) > 0:
		refuse(http.StatusConflict, b.before)
		return
	}
	if len(b.items) > 0 {
		names := units(b.kept)
		what := b.Voice.Text("read %s of %s, %s", strings.Join(names[:min(len(names), 6)], ", "), b.t.Name,
			clockText(b.Voice, b.at))
		if err := b.Save(f, what, cmp.Or(b.over, b.Have.Sight()), b.over.Change > 0, b.items...); err != nil {
			t, _ := b.Troubled(err, nil)
			for _, x := range t.Theirs {
				t.Faults = append(t.Faults, x.Said)
			}
			if t.Code != http.StatusConflict { // not what was typed is at fault: a phone tries again
				t.Code = http.StatusServiceUnavailable
			}
			if len(b.kept) == 1 {
				find(list, b.kept[0].unit).Faults[""] = strings.Join(t.Faults, " ")
			}
			refuse(t.Code, b.before, t.Faults...)
			return
		}
	}
	stored := slices.Concat(b.before, b.kept)
	for _, x := range b.kept {
		c := find(list, x.unit)
		c.Typed = map[string]string{}
	}
	if len(unknown) > 0 { // nothing is lost on the way: what is stored is named, and the rest stays where it was typed
		refuse(http.StatusUnprocessableEntity, stored)
		return
	}
	b.answered(w, f, b.last(stored), stored, nil)
	if len(b.told) > 0 {
		b.fieldCards(w, b.asked, list, page.Trouble{}, b.told...)
		return
	}
	anchor := ""
	if len(b.kept) == 1 {
		anchor = "#u-" + strconv.Itoa(find(list, b.kept[0].unit).N)
	}
	if names := w.Header().Get(storedKey); len(stored) > 0 &&
		stored[0].id != "" { // the page that follows says it again
		anchor = "&" + url.Values{storedKey: {names}}.Encode() + anchor
	}
	page.SeeOther(w, r, b.address(anchor))
}

// last is what the list of phones says of a phone's last reading.
func (b *batch) last(stored []sent) string {
	if len(stored) == 0 {
		return ""
	}
	return b.Voice.Text("%s of %s, %s", stored[len(stored)-1].unit, b.t.Name, clockText(b.Voice, b.at))
}

// why is what the card of a reading says against it.
func (b *batch) why(c *card) string {
	var list []string
	for _, field := range append(typedFields, "") {
		if text := c.Faults[field]; text != "" {
			list = append(list, text)
		}
	}
	if c.Theirs != "" {
		list = append(list, b.Voice.Text("%s was read at this time already. Stored: %s. Typed now: %s.", c.Unit,
			c.Theirs,
			c.Mine))
	}
	if b.fault != "" {
		list = append(list, b.fault)
	}
	return strings.Join(list, " ")
}
