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
	"spile/internal/trade/unit"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// logPage is the page of events, measured dumps, counted taps and tanks of a season.
type logPage struct {
	Name    string
	Season  int
	Today   string
	Units   []string
	Kinds   []page.Option
	Volume  string
	Depth   string
	Entries []logged
	Typed   url.Values     // of a form that was refused
	Form    string         // which
	Asked   []page.Unusual // of that
}

// logged is one thing that was written down.
type logged struct{ Kind, Said, Drop string }

// entries of a record, each with the item that takes it away.
func (s desk) entries(t trials.Trial, r trials.Record) (list []logged, drops []book.Item) {
	v := s.Voice
	add := func(kind, said string, drop book.Item) {
		list = append(list, logged{kind, said, strconv.Itoa(len(drops))})
		drops = append(drops, drop)
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
		add(v.Term(note.Term(e.Kind)), said,
			book.Drop(book.Log(t.Name, r.Season, e)))
	}
	for _, c := range r.Calibrations {
		add(v.Text("dump measured"),
			v.Text("%s, %s, %s flow: %s %s a dump", clockText(s.Voice, c.At), who(c.Unit), v.Term(note.Term(c.Flow)),
				v.Number(c.Dump.In(show.VolumeUnit(v))), v.VolumeUnit()),
			book.Drop(book.Log(t.Name, r.Season, c)))
	}
	for _, c := range r.Counts {
		said := v.Text("%s, %s: %s", clockText(s.Voice, c.At), c.Unit, v.Text("%d taps", c.Taps))
		if c.Again > 0 {
			said = v.Text("%s, %d of them second holes", said, c.Again)
		}
		if c.Note != "" {
			said = v.Text("%s, %s", said, v.Text("“%s”", c.Note))
		}
		add(v.Text("taps counted"), said,
			book.Drop(book.Log(t.Name, r.Season, c)))
	}
	for _, k := range r.Tanks {
		var steps []string
		for i := range k.Depths {
			steps = append(steps, v.Text("%s %s holds %s %s", v.Number(float64(k.Depths[i]/depthUnit(v))),
				amountUnit(v, byDepth), v.Number(k.Volumes[i].In(show.VolumeUnit(v))), v.VolumeUnit()))
		}
		add(v.Text("tank"), v.Text("%s: %s", who(k.Unit), strings.Join(steps, "; ")),
			book.Drop(book.Log(t.Name, r.Season, k)))
	}
	return list, drops
}

// seasonAsked is the trial and season that an address or form is about.
func (s desk) seasonAsked(q url.Values) (trials.Trial, trials.Record, bool) {
	t, ok := s.Trial(q.Get("name"))
	year, _ := strconv.Atoi(q.Get("season"))
	r, there := t.Record(year)
	return t, r, ok && there
}

func (s desk) log(w http.ResponseWriter, r *http.Request, q url.Values, t page.Trouble, asked ...page.Unusual) {
	v := s.Voice
	x, record, ok := s.seasonAsked(q)
	if !ok {
		s.Missing(w, r)
		return
	}
	b := logPage{Name: x.Name, Season: record.Season, Volume: v.VolumeUnit(), Depth: amountUnit(v, byDepth), Typed: q,
		Form: q.Get("kind"), Asked: asked}
	a, _ := field{Site: s.Site}.asks(url.Values{"trial": {x.Name}, "season": {strconv.Itoa(record.Season)}})
	b.Today = a.date
	for _, p := range record.Plots {
		b.Units = append(b.Units, p.Unit)
	}
	for _, k := range trials.EventKinds() {
		b.Kinds = append(b.Kinds, s.Terms(string(k))...)
	}
	b.Entries, _ = s.entries(x, record)
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
	x := page.Typed{V: v, Form: f}
	at := func(key string) time.Time { // a day, and a time of it where one was typed
		day, clock := page.Clean(f.Get(key)), page.Clean(f.Get(key+"-time"))
		t, err := time.Parse("2006-01-02 15:04", day+" "+cmp.Or(clock, "00:00"))
		if err != nil || trials.SeasonOf(t) != record.Season {
			x.Fault(v.Text("%s; allowed: a day of %s, such as %s-03-12", page.Short(strings.TrimSpace(day+" "+clock)),
				v.Year(record.Season), v.Year(record.Season)))
		}
		return t
	}
	known := func(u string) string {
		if u != "" && !slices.ContainsFunc(record.Plots, func(p trials.Plot) bool { return p.Unit == u }) {
			x.Fault(v.Text("the unit %s is none of the trial's units", page.Short(u)))
		}
		return u
	}
	var item book.Item
	what := ""
	said := trials.Record{Season: record.Season, Plots: record.Plots} // what is asked about
	switch kind := f.Get("kind"); kind {
	case "event":
		e := trials.Event{Kind: trials.EventKind(f.Get("what")), From: at("from"), Note: page.Clean(f.Get("note"))}
		e.To = e.From
		dayOnly := f.Get("from-time") == ""
		if f.Get("to") != "" {
			e.To, dayOnly = at("to"), f.Get("to-time") == ""
		}
		if dayOnly { // the whole of it, as in a file
			e.To = e.To.Truncate(24 * time.Hour).Add(24*time.Hour - time.Second)
		}
		if e.To.Before(e.From) && len(x.Faults) == 0 {
			x.Fault(v.Text("the event %s ends before it begins", v.Term(note.Term(e.Kind))))
		}
		for _, u := range strings.FieldsFunc(page.Clean(f.Get("units")),
			func(x rune) bool { return x == ',' || x == ';' }) {
			if u = known(strings.TrimSpace(u)); u != "" && !slices.Contains(e.Units, u) {
				e.Units = append(e.Units, u)
			}
		}
		said.Events = []trials.Event{e}
		item, what = book.Keep(book.Log(t.Name, record.Season, e)),
			v.Text("wrote down for %s: %s", t.Name, note.Term(e.Kind))
	case "dump":
		c := trials.Calibration{Unit: known(page.Clean(f.Get("unit"))), At: at("at"), Flow: trials.Flow(f.Get("flow")),
			Dump: show.VolumeUnit(v).Of(x.Number("dump", v.Text("one dump"), 0.001, 1000))}
		if c.Flow != trials.Slow && c.Flow != trials.Fast {
			x.Fault(v.Text("%s; allowed: slow or fast", page.Short(f.Get("flow"))))
		}
		item, what = book.Keep(book.Log(t.Name, record.Season, c)),
			v.Text("measured a dump of %s", t.Name)
	case "taps":
		c := trials.Count{Unit: known(page.Clean(f.Get("unit"))), At: at("at"),
			Taps: x.Whole("taps", v.Text("taps"), 1, 100000)}
		if f.Get("again") != "" {
			c.Again = x.Whole("again", v.Text("second holes"), 0, max(0, c.Taps-1))
		}
		c.Note = page.Clean(f.Get("note"))
		said.Counts = []trials.Count{c}
		item, what = book.Keep(book.Log(t.Name, record.Season, c)),
			v.Text("counted taps of %s", t.Name)
	case "tank":
		k := trials.Tank{Unit: known(page.Clean(f.Get("unit"))), Depths: []unit.Length{0}, Volumes: []unit.Volume{0}}
		for i, row := range strings.Split(strings.TrimSpace(f.Get("steps")), "\n") {
			pair := strings.Fields(page.Clean(row))
			if len(pair) != 2 {
				x.Fault(v.Text("row %d: %s; allowed: a depth and the volume that it holds", i+1, page.Short(row)))
				continue
			}
			var step [2]float64
			for j := range pair {
				var ok bool
				if step[j], ok = v.Parsed(pair[j]); !ok || step[j] < 0 {
					x.Fault(v.Text("row %d: %s; allowed: a depth and the volume that it holds", i+1, page.Short(row)))
				}
			}
			if step[0] > 0 {
				k.Depths, k.Volumes = append(k.Depths, unit.Length(step[0])*depthUnit(v)),
					append(k.Volumes, show.VolumeUnit(v).Of(step[1]))
			}
		}
		item, what = book.Keep(book.Log(t.Name, record.Season, k)),
			v.Text("measured a tank of %s", t.Name)
	case "drop":
		_, drops := s.entries(t, record)
		i, err := strconv.Atoi(f.Get("entry"))
		// an entry is known by its place
		if err != nil || i < 0 || i >= len(drops) || page.Seen(r.PostForm) != s.Have.Change {
			x.Fault(v.Text("The log was changed while you looked at it: look again, then take away."))
			break
		}
		item, what = drops[i], v.Text("took away an entry of the log of %s", t.Name)
	default:
		x.Fault(v.Text("%s; allowed: event, dump, taps, tank", page.Short(kind)))
	}
	if len(x.Faults) == 0 {
		logged := trials.Trial{Name: t.Name, Records: []trials.Record{said}}
		list, answers, open := s.Asked(logged.Doubts(s.Now().Year()+1), f)
		if open {
			s.log(w, r, f, page.Refused(v.Text("Something is unusual. Nothing was kept: say of each "+
				"that it is meant, or correct it.")), list...)
			return
		}
		if err := s.Save(f, what, s.Have.Change, false, append(answers, item)...); err != nil {
			refused, _ := s.Troubled(err, nil)
			_, drops := s.entries(t, record)
			// an entry of the same is there, and says something else
			if slices.ContainsFunc(drops, func(d book.Item) bool { return d.Of() == item.Of() }) {
				refused = page.Trouble{Faults: []string{v.Text(
					"This is written down already, and otherwise. Nothing was " +
						"overwritten: look below, and take that away first.")}, Code: http.StatusConflict}
			}
			s.log(w, r, f, refused)
			return
		}
		page.SeeOther(w, r, page.LogAddress(t.Name, record.Season))
		return
	}
	s.log(w, r, f, page.Refused(x.Faults...))
}
