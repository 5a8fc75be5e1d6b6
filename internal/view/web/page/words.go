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

// logged are the kinds of what is written down of a trial: one is counted by its key, more by their number.
var logged = []struct {
	kind      book.Kind
	text, one string
}{
	{book.Reading, "%d readings", "the reading %s"},
	{book.Event, "%d events", "the event %s"},
	{book.Calibration, "%d measured dumps", "the measured dump %s"},
	{book.Tank, "%d tanks", "the tank %s"},
	{book.Count, "%d counts of taps", "the count of taps %s"},
	{book.Weather, "%d years of temperatures", "the temperatures %s"},
	{book.Sums, "%d season tables", "the season table %s"},
	{book.Decision, "%d decisions", "the decision %s"},
}

// Thing names what a change touched.
func (s *Site) Thing(t book.Touched) string {
	v := s.Voice
	switch t.Kind {
	case book.Study:
		return v.Text("the study %s", t.Key)
	case book.Prices:
		return v.Text("the prices")
	case book.Practice:
		return v.Text("the practice %s", t.Key)
	case book.Rule:
		return v.Text("a rule on what is permitted")
	case book.Trial:
		return v.Text("the trial %s", t.Key)
	case book.Bush:
		return v.Text("the sugarbush %s", t.Key)
	case book.Holding:
		return v.Text("who sees %s", t.Key)
	case book.Past:
		return v.Text("the season %s", t.Key)
	case book.Excluded:
		return v.Text("whether %s is left out", t.Key)
	case book.Search:
		return v.Text("how studies were looked for")
	case book.Word:
		return v.Text("what a word of a table stands for")
	case book.Answer:
		return v.Text("the answer to a question")
	}
	for _, k := range logged {
		if k.kind == t.Kind {
			return v.Text(k.one, t.Key)
		}
	}
	return v.Text("a %s", string(t.Kind))
}

// Counted counts what a change touched of a trial's records, kind by kind, each kind of which there are at least as
// many; rest is all else.
func (s *Site) Counted(list []book.Touched, least int) (said []string, rest []book.Touched) {
	counts := map[book.Kind]int{}
	for _, t := range list {
		counts[t.Kind]++
	}
	counted := map[book.Kind]bool{}
	for _, k := range logged {
		if n := counts[k.kind]; n >= least {
			said = append(said, s.Voice.Text(k.text, n))
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
