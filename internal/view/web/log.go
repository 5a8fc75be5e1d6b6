package web

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
)

// logPath is where what happens in a season, besides readings, is written down one by one.
const logPath = "/trials/log"

func logAddress(name string, season int) string {
	return logPath + "?" + url.Values{"name": {name}, "season": {strconv.Itoa(season)}}.Encode()
}

// logPage is the page of events, measured dumps, counted taps and tanks of a season.
type logPage struct {
	Name    string
	Season  int
	Today   string
	Units   []string
	Kinds   []option
	Volume  string
	Depth   string
	Entries []logged
	Typed   url.Values // of a form that was refused
	Form    string     // which
}

// logged is one thing that was written down.
type logged struct{ Kind, Said, Drop string }

// entries of a record, each with the item that takes it away.
func (s *site) entries(t trials.Trial, r trials.Record) (list []logged, drops []book.Item) {
	v := s.Voice
	add := func(kind, said string, drop book.Item) {
		list = append(list, logged{kind, said, strconv.Itoa(len(drops))})
		drops = append(drops, drop)
	}
	who := func(u string) string { return cmp.Or(u, v.Text("all units")) }
	for _, e := range r.Events {
		when := s.clockText(e.From)
		to := e.To.Add(time.Second).Truncate(24 * time.Hour)
		switch whole := e.To.Add(time.Second).Equal(to); {
		case whole && !to.Add(-24*time.Hour).Equal(e.From): // up to the end of a day
			when = v.Text("%s to %s", when, v.DayOf(e.To))
		case !whole && !e.To.Equal(e.From):
			when = v.Text("%s to %s", when, s.clockText(e.To))
		}
		said := v.Text("%s, %s", when, who(strings.Join(e.Units, ", ")))
		if e.Note != "" {
			said = v.Text("%s, %s", said, v.Text("“%s”", e.Note))
		}
		add(v.Term(note.Term(e.Kind)), said, book.Drop(book.Logged[trials.Event]{Trial: t.Name, Season: r.Season, What: e}))
	}
	for _, c := range r.Calibrations {
		add(v.Text("dump measured"), v.Text("%s, %s, %s flow: %s %s a dump", s.clockText(c.At), who(c.Unit), v.Term(note.Term(c.Flow)), v.Number(c.Dump.In(show.VolumeUnit(v))), v.VolumeUnit()),
			book.Drop(book.Logged[trials.Calibration]{Trial: t.Name, Season: r.Season, What: c}))
	}
	for _, c := range r.Counts {
		said := v.Text("%s, %s: %s", s.clockText(c.At), c.Unit, v.Text("%d taps", c.Taps))
		if c.Again > 0 {
			said = v.Text("%s, %d of them second holes", said, c.Again)
		}
		if c.Note != "" {
			said = v.Text("%s, %s", said, v.Text("“%s”", c.Note))
		}
		add(v.Text("taps counted"), said, book.Drop(book.Logged[trials.Count]{Trial: t.Name, Season: r.Season, What: c}))
	}
	for _, k := range r.Tanks {
		var steps []string
		for i := range k.Depths {
			steps = append(steps, v.Text("%s %s holds %s %s", v.Number(float64(k.Depths[i]/depthUnit(v))), amountUnit(v, byDepth), v.Number(k.Volumes[i].In(show.VolumeUnit(v))), v.VolumeUnit()))
		}
		add(v.Text("tank"), v.Text("%s: %s", who(k.Unit), strings.Join(steps, "; ")), book.Drop(book.Logged[trials.Tank]{Trial: t.Name, Season: r.Season, What: k}))
	}
	return list, drops
}

// seasonAsked is the trial and season that an address or form is about.
func (s *site) seasonAsked(q url.Values) (trials.Trial, trials.Record, bool) {
	t, ok := s.findTrial(q.Get("name"))
	year, _ := strconv.Atoi(q.Get("season"))
	r, there := t.Record(year)
	return t, r, ok && there
}

func (s *site) log(w http.ResponseWriter, r *http.Request, q url.Values, t trouble) {
	v := s.Voice
	x, record, ok := s.seasonAsked(q)
	if !ok {
		s.missing(w, r)
		return
	}
	b := logPage{Name: x.Name, Season: record.Season, Volume: v.VolumeUnit(), Depth: amountUnit(v, byDepth), Typed: q, Form: q.Get("kind")}
	a, _ := s.asks(url.Values{"trial": {x.Name}, "season": {strconv.Itoa(record.Season)}})
	b.Today = a.date
	for _, p := range record.Plots {
		b.Units = append(b.Units, p.Unit)
	}
	for _, k := range trials.EventKinds() {
		b.Kinds = append(b.Kinds, option{string(k), v.Term(note.Term(k))})
	}
	b.Entries, _ = s.entries(x, record)
	lead := []string{v.Text("What happened, what a dump of a releaser holds, how many taps there are: each by itself, as it comes.")}
	s.show(w, "log", v.Text("Log: %s", s.seasonOf(x.Name, record.Season)), sheetPage{Here: "/trials", Back: &link{Name: v.Text("Back to the trial %s", x.Name), Href: trialAddress(x.Name)}, Lead: lead, trouble: t, Body: b})
}

// saveLog keeps one thing that was written down, or takes one away.
func (s *site) saveLog(w http.ResponseWriter, r *http.Request) {
	v, f := s.Voice, r.PostForm
	t, record, ok := s.seasonAsked(f)
	if !ok {
		s.missing(w, r)
		return
	}
	var faults []string
	fault := func(text string) { faults = append(faults, text) }
	at := func(key string) time.Time { // a day, and a time of it where one was typed
		day, clock := clean(f.Get(key)), clean(f.Get(key+"-time"))
		x, err := time.Parse("2006-01-02 15:04", day+" "+cmp.Or(clock, "00:00"))
		if err != nil || trials.SeasonOf(x) != record.Season {
			fault(v.Text("%s; allowed: a day of %s, such as %s-03-12", short(strings.TrimSpace(day+" "+clock)), v.Year(record.Season), v.Year(record.Season)))
		}
		return x
	}
	number := func(key, label string, low, high float64) float64 {
		text := clean(f.Get(key))
		x, ok := parsed(v, text)
		if !ok || x < low || x > high {
			fault(v.Text("%s: %s; allowed: a number from %s to %s", label, short(text), marked(v, bare(low)), marked(v, bare(high))))
		}
		return x
	}
	whole := func(key, label string, low, high int) int {
		n, err := strconv.Atoi(clean(f.Get(key)))
		if err != nil || n < low || n > high {
			fault(v.Text("%s: %s; allowed: a whole number from %s to %s", label, short(f.Get(key)), strconv.Itoa(low), strconv.Itoa(high)))
		}
		return n
	}
	known := func(u string) string {
		if u != "" && !slices.ContainsFunc(record.Plots, func(p trials.Plot) bool { return p.Unit == u }) {
			fault(v.Text("the unit %s is none of the trial's units", short(u)))
		}
		return u
	}
	var item book.Item
	what := ""
	switch kind := f.Get("kind"); kind {
	case "event":
		e := trials.Event{Kind: trials.EventKind(f.Get("what")), From: at("from"), Note: clean(f.Get("note"))}
		e.To = e.From
		dayOnly := f.Get("from-time") == ""
		if f.Get("to") != "" {
			e.To, dayOnly = at("to"), f.Get("to-time") == ""
		}
		if dayOnly { // the whole of it, as in a file
			e.To = e.To.Truncate(24 * time.Hour).Add(24*time.Hour - time.Second)
		}
		if e.To.Before(e.From) && len(faults) == 0 {
			fault(v.Text("the event %s ends before it begins", v.Term(note.Term(e.Kind))))
		}
		for _, u := range strings.FieldsFunc(clean(f.Get("units")), func(x rune) bool { return x == ',' || x == ';' }) {
			if u = known(strings.TrimSpace(u)); u != "" && !slices.Contains(e.Units, u) {
				e.Units = append(e.Units, u)
			}
		}
		item, what = book.Keep(book.Logged[trials.Event]{Trial: t.Name, Season: record.Season, What: e}), v.Text("wrote down for %s: %s", t.Name, note.Term(e.Kind))
	case "dump":
		c := trials.Calibration{Unit: known(clean(f.Get("unit"))), At: at("at"), Flow: trials.Flow(f.Get("flow")), Dump: show.VolumeUnit(v).Of(number("dump", v.Text("one dump"), 0.001, 1000))}
		if c.Flow != trials.Slow && c.Flow != trials.Fast {
			fault(v.Text("%s; allowed: slow or fast", short(f.Get("flow"))))
		}
		item, what = book.Keep(book.Logged[trials.Calibration]{Trial: t.Name, Season: record.Season, What: c}), v.Text("measured a dump of %s", t.Name)
	case "taps":
		c := trials.Count{Unit: known(clean(f.Get("unit"))), At: at("at"), Taps: whole("taps", v.Text("taps"), 1, 100000)}
		if f.Get("again") != "" {
			c.Again = whole("again", v.Text("second holes"), 0, max(0, c.Taps-1))
		}
		c.Note = clean(f.Get("note"))
		item, what = book.Keep(book.Logged[trials.Count]{Trial: t.Name, Season: record.Season, What: c}), v.Text("counted taps of %s", t.Name)
	case "tank":
		k := trials.Tank{Unit: known(clean(f.Get("unit"))), Depths: []unit.Length{0}, Volumes: []unit.Volume{0}}
		for i, row := range strings.Split(strings.TrimSpace(f.Get("steps")), "\n") {
			pair := strings.Fields(clean(row))
			if len(pair) != 2 {
				fault(v.Text("row %d: %s; allowed: a depth and the volume that it holds", i+1, short(row)))
				continue
			}
			var x [2]float64
			for j := range pair {
				var ok bool
				if x[j], ok = parsed(v, pair[j]); !ok || x[j] < 0 {
					fault(v.Text("row %d: %s; allowed: a depth and the volume that it holds", i+1, short(row)))
				}
			}
			if x[0] > 0 {
				k.Depths, k.Volumes = append(k.Depths, unit.Length(x[0])*depthUnit(v)), append(k.Volumes, show.VolumeUnit(v).Of(x[1]))
			}
		}
		item, what = book.Keep(book.Logged[trials.Tank]{Trial: t.Name, Season: record.Season, What: k}), v.Text("measured a tank of %s", t.Name)
	case "drop":
		_, drops := s.entries(t, record)
		i, err := strconv.Atoi(f.Get("entry"))
		if err != nil || i < 0 || i >= len(drops) || seen(r) != s.have.Change { // an entry is known by its place
			fault(v.Text("The log was changed while you looked at it: look again, then take away."))
			break
		}
		item, what = drops[i], v.Text("took away an entry of the log of %s", t.Name)
	default:
		fault(v.Text("%s; allowed: event, dump, taps, tank", short(kind)))
	}
	if len(faults) == 0 {
		if err := s.save(what, s.have.Change, false, item); err != nil {
			x, _ := s.troubled(err, nil)
			_, drops := s.entries(t, record)
			if slices.ContainsFunc(drops, func(d book.Item) bool { return d.Of() == item.Of() }) { // and says something else
				x = trouble{Faults: []string{v.Text("This is written down already, and otherwise. Nothing was overwritten: look below, and take that away first.")}, Code: http.StatusConflict}
			}
			s.log(w, r, f, x)
			return
		}
		seeOther(w, r, logAddress(t.Name, record.Season))
		return
	}
	s.log(w, r, f, trouble{Faults: faults, Code: http.StatusUnprocessableEntity})
}
