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
	x := &logging{Typed: page.Typed{V: v, Form: f}, record: record}
	said := trials.Record{Season: record.Season, Plots: record.Plots} // what is asked about
	var item book.Item
	what := ""
	switch kind := f.Get("kind"); kind {
	case "event":
		e := x.event()
		said.Events = []trials.Event{e}
		item, what = book.Keep(book.Log(t.Name, record.Season, e)),
			v.Text("wrote down for %s: %s", t.Name, note.Term(e.Kind))
	case "dump":
		item, what = book.Keep(book.Log(t.Name, record.Season, x.dump())),
			v.Text("measured a dump of %s", t.Name)
	case "taps":
		c := x.count()
		said.Counts = []trials.Count{c}
		item, what = book.Keep(book.Log(t.Name, record.Season, c)), v.Text("counted taps of %s", t.Name)
	case "tank":
		item, what = book.Keep(book.Log(t.Name, record.Season, x.tank())),
			v.Text("measured a tank of %s", t.Name)
	case "drop":
		_, drops := s.entries(t, record)
		i, err := strconv.Atoi(f.Get("entry"))
		// an entry is known by its place
		if err != nil || i < 0 || i >= len(drops) || !page.Seen(r.PostForm).Of(s.Have) {
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
		if err := s.Save(f, what, s.Have.Sight(), false, append(answers, item)...); err != nil {
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

// logging is an entry of a trial's log as it was typed; each kind is read by a method, which adds its faults.
type logging struct {
	page.Typed
	record trials.Record
}

// at is a day, and a time of it where one was typed.
func (x *logging) at(key string) time.Time {
	day, clock := page.Clean(x.Form.Get(key)), page.Clean(x.Form.Get(key+"-time"))
	t, err := time.Parse("2006-01-02 15:04", day+" "+cmp.Or(clock, "00:00"))
	if season := x.record.Season; err != nil || trials.SeasonOf(t) != season {
		x.Fault(x.V.Text("%s; allowed: a day of %s, such as %s-03-12", page.Short(strings.TrimSpace(day+" "+clock)),
			x.V.Year(season), x.V.Year(season)))
	}
	return t
}

// known is a unit of the season, or none.
func (x *logging) known(u string) string {
	if u != "" && !slices.ContainsFunc(x.record.Plots, func(p trials.Plot) bool { return p.Unit == u }) {
		x.Fault(x.V.Text("the unit %s is none of the trial's units", page.Short(u)))
	}
	return u
}

func (x *logging) event() trials.Event {
	f := x.Form
	e := trials.Event{Kind: trials.EventKind(f.Get("what")), From: x.at("from"), Note: page.Clean(f.Get("note"))}
	e.To = e.From
	dayOnly := f.Get("from-time") == ""
	if f.Get("to") != "" {
		e.To, dayOnly = x.at("to"), f.Get("to-time") == ""
	}
	if dayOnly { // the whole of it, as in a file
		e.To = e.To.Truncate(24 * time.Hour).Add(24*time.Hour - time.Second)
	}
	if e.To.Before(e.From) && len(x.Faults) == 0 {
		x.Fault(x.V.Text("the event %s ends before it begins", x.V.Term(note.Term(e.Kind))))
	}
	separator := func(r rune) bool { return r == ',' || r == ';' }
	for _, u := range strings.FieldsFunc(page.Clean(f.Get("units")), separator) {
		if u = x.known(strings.TrimSpace(u)); u != "" && !slices.Contains(e.Units, u) {
			e.Units = append(e.Units, u)
		}
	}
	return e
}

func (x *logging) dump() trials.Calibration {
	flow := trials.Flow(x.Form.Get("flow"))
	if flow != trials.Slow && flow != trials.Fast {
		x.Fault(x.V.Text("%s; allowed: slow or fast", page.Short(string(flow))))
	}
	return trials.Calibration{Unit: x.known(page.Clean(x.Form.Get("unit"))), At: x.at("at"), Flow: flow,
		Dump: show.VolumeUnit(x.V).Of(x.Number("dump", x.V.Text("one dump"), 0.001, 1000))}
}

func (x *logging) count() trials.Count {
	c := trials.Count{Unit: x.known(page.Clean(x.Form.Get("unit"))), At: x.at("at"),
		Taps: x.Whole("taps", x.V.Text("taps"), 1, 100000), Note: page.Clean(x.Form.Get("note"))}
	if x.Form.Get("again") != "" {
		c.Again = x.Whole("again", x.V.Text("second holes"), 0, max(0, c.Taps-1))
	}
	return c
}

// tank is read row by row: a depth, and the volume that it holds.
func (x *logging) tank() trials.Tank {
	k := trials.Tank{Unit: x.known(page.Clean(x.Form.Get("unit"))),
		Depths: []unit.Length{0}, Volumes: []unit.Volume{0}}
	for i, row := range strings.Split(strings.TrimSpace(x.Form.Get("steps")), "\n") {
		depth, volume, ok := x.step(row)
		switch {
		case !ok:
			x.Fault(x.V.Text("row %d: %s; allowed: a depth and the volume that it holds", i+1, page.Short(row)))
		case depth > 0:
			k.Depths = append(k.Depths, unit.Length(depth)*depthUnit(x.V))
			k.Volumes = append(k.Volumes, show.VolumeUnit(x.V).Of(volume))
		}
	}
	return k
}

func (x *logging) step(row string) (depth, volume float64, ok bool) {
	pair := strings.Fields(page.Clean(row))
	if len(pair) != 2 {
		return 0, 0, false
	}
	depth, ok = x.V.Parsed(pair[0])
	volume, and := x.V.Parsed(pair[1])
	return depth, volume, ok && and && depth >= 0 && volume >= 0
}
