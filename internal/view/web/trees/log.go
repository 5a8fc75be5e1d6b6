package trees

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/files/book"
	"spile/internal/note"
	trials "spile/internal/trade/trial"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// logPage is the page of events, measured dumps, counted taps and tanks of a season.
type logPage struct {
	Name    string
	Season  int
	Forms   []slip
	Entries []logged
}

// logged is one thing that was written down.
type logged struct {
	Kind, Said, Drop string
	item             book.Item // that keeps it
}

// entries of a record, in words.
func (s desk) entries(t trials.Trial, r trials.Record) (list []logged) {
	v := s.Voice
	add := func(kind, said string, item book.Item) {
		list = append(list, logged{kind, said, strconv.Itoa(len(list)), item})
	}
	who := func(u string) string { return cmp.Or(u, v.Text("all units")) }
	for _, e := range r.Events {
		when := clockText(s.Voice, e.From)
		to := e.To.Add(time.Second).Truncate(24 * time.Hour)
		switch whole := e.To.Add(time.Second).Equal(to); {
		case whole && !to.Add(-24*time.Hour).Equal(e.From): // up to the end of a day
			when = v.Text("%s to %s", when, v.DayOf(e.To))
		case !whole && !e.To.Equal(e.From):
			when = v.Text("%s to %s", when, clockText(s.Voice, e.To))
		}
		said := v.Text("%s, %s", when, who(strings.Join(e.Units, ", ")))
		if e.Note != "" {
			said = v.Text("%s, %s", said, v.Text("“%s”", e.Note))
		}
		add(v.Term(note.Term(e.Kind)), said, book.Keep(book.Log(t.Name, r.Season, e)))
	}
	for _, c := range r.Calibrations {
		add(v.Text("dump measured"),
			v.Text("%s, %s, %s flow: %s %s a dump", clockText(s.Voice, c.At), who(c.Unit), v.Term(note.Term(c.Flow)),
				v.Number(c.Dump.In(show.VolumeUnit(v))), v.VolumeUnit()), book.Keep(book.Log(t.Name, r.Season, c)))
	}
	for _, c := range r.Counts {
		said := v.Text("%s, %s: %s", clockText(s.Voice, c.At), c.Unit, v.Text("%d taps", c.Taps))
		if c.Again > 0 {
			said = v.Text("%s, %d of them second holes", said, c.Again)
		}
		if c.Note != "" {
			said = v.Text("%s, %s", said, v.Text("“%s”", c.Note))
		}
		add(v.Text("taps counted"), said, book.Keep(book.Log(t.Name, r.Season, c)))
	}
	for _, k := range r.Tanks {
		var steps []string
		for i := range k.Depths {
			steps = append(steps, v.Text("%s %s holds %s %s", v.Number(float64(k.Depths[i]/depthUnit(v))),
				amountUnit(v, byDepth), v.Number(k.Volumes[i].In(show.VolumeUnit(v))), v.VolumeUnit()))
		}
		add(v.Text("tank"), v.Text("%s: %s", who(k.Unit), strings.Join(steps, "; ")),
			book.Keep(book.Log(t.Name, r.Season, k)))
	}
	return list
}

// seasonAsked is the trial and season that an address or form is about.
func (s desk) seasonAsked(q url.Values) (trials.Trial, trials.Record, bool) {
	t, ok := s.Trial(q.Get("name"))
	year, _ := strconv.Atoi(q.Get("season"))
	r, there := t.Record(year)
	return t, r, ok && there
}

func (s desk) log(w http.ResponseWriter, r *http.Request, q url.Values, t page.Trouble, at slip) {
	v := s.Voice
	x, record, ok := s.seasonAsked(q)
	if !ok {
		s.Missing(w, r)
		return
	}
	b := logPage{Name: x.Name, Season: record.Season, Entries: s.entries(x, record)}
	a, _ := field{Site: s.Site}.asks(url.Values{"trial": {x.Name}, "season": {strconv.Itoa(record.Season)}})
	for _, f := range slips {
		if f.Table != at.Table {
			b.Forms = append(b.Forms, s.slip(f, record, url.Values{"from": {a.date}, "date": {a.date}}))
			continue
		}
		if at.Fields == nil {
			at = s.slip(f, record, q)
		}
		b.Forms = append(b.Forms, at)
	}
	lead := []string{v.Text("What happened, what a dump of a releaser holds, how many taps there are: each by " +
		"itself, as it comes.")}
	s.Show(w, "log", v.Text("Log: %s", s.Season(x.Name, record.Season)),
		page.Page{Here: "/trials",
			Back: &page.Link{Name: v.Text("Back to the trial %s", x.Name), Href: page.TrialAddress(x.Name)}, Lead: lead,
			Trouble: t, Body: b})
}

// saveLog keeps one thing that was written down, or takes one away.
func (s desk) saveLog(w http.ResponseWriter, r *http.Request) {
	v, f := s.Voice, r.PostForm
	t, record, ok := s.seasonAsked(f)
	if !ok {
		s.Missing(w, r)
		return
	}
	table := f.Get("table")
	if table == "drop" {
		// an entry is known by its place
		list := s.entries(t, record)
		i, err := strconv.Atoi(f.Get("entry"))
		if err != nil || i < 0 || i >= len(list) || !page.Seen(f).Of(s.Have) {
			s.log(w, r, f, page.Refused(v.Text("The log was changed while you looked at it: look again, then take "+
				"away.")), slip{})
			return
		}
		s.saveEntry(w, r, t, record, slip{}, v.Text("took away an entry of the log of %s", t.Name), list[i].item.Gone())
		return
	}
	n := slices.IndexFunc(slips, func(x slip) bool { return x.Table == table })
	if n < 0 {
		s.log(w, r, f, page.Refused(v.Text("%s; allowed: events, calibrations, counts, tanks",
			page.Short(table))), slip{})
		return
	}
	at := s.slip(slips[n], record, f)
	said, other := s.read(&at, t, record)
	if at.faults > 0 {
		s.log(w, r, f, page.Refused(append([]string{v.Text(
			"%d faults: each stands beside what it is about. Nothing was kept.", at.faults)}, other...)...), at)
		return
	}
	list, answers, open := s.Asked(said.Doubts(s.Now().Year()+1), f)
	if at.Asked = list; open {
		s.log(w, r, f, page.Refused(v.Text("Something is unusual. Nothing was kept: say of each that it is meant, or "+
			"correct it.")), at)
		return
	}
	what := ""
	for _, e := range s.entries(t, said.Records[0]) {
		what, answers = v.Text("wrote down for %s: %s", t.Name, e.Kind), append(answers, e.item)
	}
	s.saveEntry(w, r, t, record, at, what, answers...)
}

// saveEntry keeps what was written down, or says why not.
func (s desk) saveEntry(w http.ResponseWriter, r *http.Request, t trials.Trial, record trials.Record, at slip,
	what string, items ...book.Item) {
	err := s.Save(r.PostForm, what, s.Have.Sight(), false, items...)
	if err == nil {
		page.SeeOther(w, r, page.LogAddress(t.Name, record.Season))
		return
	}
	refused, _ := s.Troubled(err, nil)
	// an entry of the same is there, and says something else
	if slices.ContainsFunc(s.entries(t, record), func(e logged) bool {
		return slices.ContainsFunc(items, func(i book.Item) bool { return i.Of() == e.item.Of() })
	}) {
		refused = page.Trouble{Faults: []string{s.Voice.Text(
			"This is written down already, and otherwise. Nothing was " +
				"overwritten: look below, and take that away first.")}, Code: http.StatusConflict}
	}
	s.log(w, r, r.PostForm, refused, at)
}
