package page

import (
	"cmp"
	"strings"
	"time"

	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/view/show"
)

// At is the time of a change, to the minute, UTC: the same for everybody who has the workbook.
func (s *Site) At(t time.Time) string {
	return s.Voice.Text("%s, %s UTC", s.Voice.Date(t.UTC()), s.Voice.Clock(t.UTC()))
}

// kinds are what a workbook holds, in words.
var kinds = []struct {
	kind  book.Kind
	one   string                  // one of them, by its key where it has one
	many  string                  // so many, of what is written down of a trial; "": each is told by itself
	where func(key string) string // the address of the form in which one is changed; nil: it has none of its own
}{
	{book.Study, "the study %s", "", StudyAddress},
	{book.Prices, "the prices", "", at("/prices")},
	{book.Practice, "the practice %s", "", at("/practices")},
	{book.Rule, "a rule on what is permitted", "", at("/rules")},
	{book.Trial, "the trial %s", "", TrialAddress},
	{book.Bush, "the sugarbush %s", "", SugarbushAddress},
	{book.Holding, "who sees %s", "", nil},
	{book.Past, "the season %s", "", at("/past")},
	{book.Excluded, "whether %s is left out", "", nil},
	{book.Search, "how studies were looked for", "", at("/search")},
	{book.Answer, "the answer to a question", "", nil},
	{book.Crossed, "what both sides of a sync have changed", "", at("/crossed")},
	{book.Reading, "the reading %s", "%d readings", nil},
	{book.Event, "the event %s", "%d events", nil},
	{book.Calibration, "the measured dump %s", "%d measured dumps", nil},
	{book.Tank, "the tank %s", "%d tanks", nil},
	{book.Count, "the count of taps %s", "%d counts of taps", nil},
	{book.Weather, "the temperatures %s", "%d years of temperatures", nil},
	{book.Sums, "the season table %s", "%d season tables", nil},
	{book.Decision, "the decision %s", "%d decisions", nil},
	{book.Word, "what a word of a table stands for", "%d words of tables", nil},
}

// at is a page that holds all of a kind.
func at(path string) func(string) string { return func(string) string { return path } }

// Thing names what a change touched.
func (s *Site) Thing(t book.Touched) string {
	for _, k := range kinds {
		switch {
		case k.kind != t.Kind:
		case strings.Contains(k.one, "%s"):
			return s.Voice.Text(k.one, t.Key)
		default:
			return s.Voice.Text(k.one)
		}
	}
	return s.Voice.Text("a %s", string(t.Kind))
}

// Form is the address of the form in which a thing is changed; "" where it has none of its own.
func Form(t book.Touched) string {
	for _, k := range kinds {
		if k.kind == t.Kind && k.where != nil {
			return k.where(t.Key)
		}
	}
	return ""
}

// Counted counts what a change touched of a trial's records, kind by kind, each kind of which there are at least as
// many; rest is all else. Beyond are readings besides those of the list, which are counted whatever their number.
func (s *Site) Counted(list []book.Touched, least, beyond int) (said []string, rest []book.Touched) {
	counts := map[book.Kind]int{book.Reading: beyond}
	for _, t := range list {
		counts[t.Kind]++
	}
	counted := map[book.Kind]bool{}
	for _, k := range kinds {
		if n := counts[k.kind]; k.many != "" && (n >= least || k.kind == book.Reading && beyond > 0) {
			said = append(said, s.Voice.Text(k.many, n))
			counted[k.kind] = true
		}
	}
	for _, t := range list {
		if !counted[t.Kind] {
			rest = append(rest, t)
		}
	}
	return said, rest
}

// Practice and Caveat give names also where there is no answer to name them.
func (s *Site) Practice(k practice.Key) string {
	p, ok := s.Input.Practices.Find(k)
	if _, shipped := practice.Shipped().Find(k); !ok || !shipped {
		return cmp.Or(p.Name, string(k))
	}
	return s.Voice.Term(note.Term(p.Name))
}

// Caveat is the name of a caveat.
func (s *Site) Caveat(c evidence.Caveat) string { return (&show.View{V: s.Voice}).Caveat(c) }

// Season names a season of a trial; the name may hold the season already.
func (s *Site) Season(name string, season int) string {
	if year := s.Voice.Year(season); !strings.Contains(name, year) {
		return s.Voice.Text("%s, %s", name, year)
	}
	return name
}
