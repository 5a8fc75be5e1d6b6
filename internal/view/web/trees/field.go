package trees

import (
	"cmp"
	_ "embed"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/engine/design"
	"spile/internal/files/book"
	trials "spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// field is what is done at the trees, on a phone or here: readings are typed into cards, a unit each.
type field struct {
	*page.Site
	phones *Phones
	who    phone  // the phone that was let in
	handle string // by which its page lets it in at another address
}

func (s field) routes(m *page.Routes) {
	m.Get(page.ReadPath, s.reading)
	m.Post(page.ReadPath, s.saveReadings)
}

// The ways to read how much sap a unit gave.
const (
	byCounter = "counter"
	byVolume  = "volume"
	byDepth   = "depth"
)

// amountUnit is the unit of an amount in a voice's units.
func amountUnit(v *say.Voice, way string) string {
	switch {
	case way == byCounter:
		return v.Text("dumps")
	case way == byVolume:
		return v.VolumeUnit()
	case !v.Units().Inches():
		return v.Text("cm")
	}
	return v.Text("in")
}

// depthUnit is the length of one unit of depth.
func depthUnit(v *say.Voice) unit.Length {
	if !v.Units().Inches() {
		return unit.Metre.Of(0.01)
	}
	return unit.Inch.Of(1)
}

func vacuumUnit(v *say.Voice) unit.PressureUnit {
	if !v.Units().Inches() {
		return unit.Kilopascal
	}
	return unit.InchOfMercury
}

func vacuumWord(v *say.Voice) string {
	if !v.Units().Inches() {
		return v.Text("kPa")
	}
	return v.Text("inHg")
}

// amount is what a reading says of sap, as it is typed, and by which way it was read.
func amount(v *say.Voice, r trials.Reading) (text, way string) {
	switch {
	case r.Counter != nil:
		return v.Marked(page.Bare(*r.Counter)), byCounter
	case r.Volume != nil:
		return v.Marked(page.Bare(r.Volume.In(show.VolumeUnit(v)))), byVolume
	case r.Depth != nil:
		return v.Marked(page.Bare(float64(*r.Depth / depthUnit(v)))), byDepth
	}
	return "", ""
}

// readingText is a reading in words: "118 dumps, 2.1 °Bx, 24.5 inHg". What ran over is "≥ 118 gal".
func readingText(v *say.Voice, r trials.Reading, over bool) string {
	var parts []string
	if text, way := amount(v, r); way != "" {
		if over {
			text = atLeast + "\u00a0" + text
		}
		parts = append(parts, v.Text("%s %s", text, amountUnit(v, way)))
	}
	if r.Brix != nil {
		parts = append(parts, v.Text("%s %s", v.Marked(page.Bare(*r.Brix)), v.Text("°Bx")))
	}
	if r.Vacuum != nil {
		parts = append(parts, v.Text("%s %s", v.Marked(page.Bare(r.Vacuum.In(vacuumUnit(v)))), vacuumWord(v)))
	}
	if r.Note != "" {
		parts = append(parts, v.Text("“%s”", r.Note))
	}
	return strings.Join(parts, ", ")
}

// atLeast stands before what a tank held that ran over, here as on the printed sheet.
const atLeast = "≥"

// overflow is the event that is kept with a reading of what ran over.
func overflow(u string, at time.Time) trials.Event {
	return trials.Event{Kind: trials.Overflow, From: at, To: at, Units: []string{u}, Note: atLeast}
}

// ranOver says whether a reading is kept with an overflow of its own.
func ranOver(record trials.Record, r trials.Reading) bool {
	return slices.ContainsFunc(record.Events, func(e trials.Event) bool {
		return e.Kind == trials.Overflow && e.Note == atLeast && e.From.Equal(r.At) && e.To.Equal(r.At) &&
			slices.Equal(e.Units, []string{r.Unit})
	})
}

// clockText says when, as the field record has it: a day, or a day and a time.
func clockText(v *say.Voice, t time.Time) string {
	if t.Equal(t.Truncate(24 * time.Hour)) {
		return v.DayOf(t)
	}
	return v.Text("%s, %s", v.DayOf(t), v.Clock(t))
}

// card is one unit on the page where readings are entered.
type card struct {
	N                         int
	Unit, Code                string
	Taps                      int
	Way, Ask, Word            string            // how its sap is read, what the field is called, its unit
	Last                      string            // the reading before
	LastCounter, LastDay      string            // for the script
	Typed                     map[string]string // what stands in the fields
	Faults                    map[string]string // by field; "" of the card
	Stored, Odd, Theirs, Mine string
	Over                      book.Sight
}

type cards struct {
	Block string
	Cards []card
}

type fieldPage struct {
	Trial           string
	Season          int
	Date, Time, Way string
	Ways            []page.Picked
	Blocks          []cards
	Vacuum          string
	Here            string
	Phone           bool // over the network
	Open            int  // units without a reading at this time
	Said            string
	Told            []told
	Drafts          drafts
}

// told is what became of something typed that has no card, or whose card says why.
type told struct {
	ID, Text string
	Done     bool // it was decided at the desk
	Hidden   bool // its card says it
}

// drafts is what the script needs that keeps on a phone what was typed.
type drafts struct {
	Script, Handle string
	Columns        string // of a table of readings, by what is typed, as JSON
}

func (s field) drafts() drafts {
	v := s.Voice
	columns, err := json.Marshal(map[string]string{
		byCounter: "counter", byVolume: "volume_" + map[bool]string{true: "gal", false: "l"}[v.Units().Gallons()],
		byDepth:  "depth_" + map[bool]string{true: "in", false: "cm"}[v.Units().Inches()],
		"vacuum": "vacuum_" + map[bool]string{true: "inhg", false: "kpa"}[v.Units().Inches()],
	})
	if err != nil {
		panic(err) // never, of words
	}
	return drafts{s.Asset("field.js"), s.handle, string(columns)}
}

// asked is what the address of the page asks for.
type asked struct {
	t          trials.Trial
	record     trials.Record
	date, time string
	way        string
	at         time.Time
	fault      string
}

// asks reads which trial and when; false where there is no such trial or season.
func (s field) asks(q url.Values) (asked, bool) {
	a := asked{date: q.Get("date"), time: q.Get("time"), way: q.Get("way")}
	i := slices.IndexFunc(s.Input.Trials, func(t trials.Trial) bool { return t.Name == q.Get("trial") })
	if i < 0 {
		return a, false
	}
	a.t = s.Input.Trials[i].Read()
	year, _ := strconv.Atoi(q.Get("season"))
	var ok bool
	if a.record, ok = a.t.Record(year); !ok || len(a.record.Plots) == 0 {
		return a, false
	}
	if a.date == "" {
		now := s.Now()
		switch {
		case trials.SeasonOf(now) == year:
		case len(a.record.Readings) > 0: // a season that is over: its last day
			now = slices.MaxFunc(a.record.Readings, func(x, y trials.Reading) int { return x.At.Compare(y.At) }).At
		default:
			now = time.Date(year, time.March, 1, 0, 0, 0, 0, time.UTC)
		}
		a.date = now.Format(time.DateOnly)
	}
	if !slices.Contains([]string{byCounter, byVolume, byDepth}, a.way) {
		a.way = ""
	}
	var err error
	if a.at, err = time.Parse("2006-01-02 15:04", a.date+" "+cmp.Or(a.time, "00:00")); err != nil {
		a.fault = s.Voice.Text("%s at %s is no time; allowed: a day such as 2025-03-12, and a time such as 16:30 or "+
			"none", page.Short(a.date), page.Short(a.time))
	} else if trials.SeasonOf(a.at) != year {
		a.fault = s.Voice.Text("%s is not in the season %s", a.date, s.Voice.Year(year))
	}
	return a, true
}

func (a asked) address(card string) string {
	q := url.Values{"trial": {a.t.Name}, "season": {strconv.Itoa(a.record.Season)}, "date": {a.date}}
	if a.time != "" {
		q.Set("time", a.time)
	}
	if a.way != "" {
		q.Set("way", a.way)
	}
	return page.ReadPath + "?" + q.Encode() + card
}

// wayOf is how a unit's sap is read: as asked, else as it was before, else by what was measured of it.
func (a asked) wayOf(u string) string {
	of := func(unit string) bool { return unit == u || unit == "" }
	switch {
	case a.way != "":
		return a.way
	case slices.ContainsFunc(a.record.Readings, func(r trials.Reading) bool { return r.Unit == u && r.Counter != nil }):
		return byCounter
	case slices.ContainsFunc(a.record.Readings, func(r trials.Reading) bool { return r.Unit == u && r.Depth != nil }):
		return byDepth
	case slices.ContainsFunc(a.record.Readings, func(r trials.Reading) bool { return r.Unit == u && r.Volume != nil }):
		return byVolume
	case slices.ContainsFunc(a.record.Calibrations, func(c trials.Calibration) bool { return of(c.Unit) }):
		return byCounter
	case slices.ContainsFunc(a.record.Tanks, func(t trials.Tank) bool { return of(t.Unit) }):
		return byDepth
	}
	return byVolume
}

// codes are those that hide the practices from who reads, by unit; none where the trial is open.
func (s field) codes(t trials.Trial) map[string]string {
	list := map[string]string{}
	for _, r := range design.Coded(t, s.Input.Practices).Records {
		for _, p := range r.Plots {
			if p.Code != "" {
				list[p.Unit] = p.Code
			}
		}
	}
	return list
}

// cards are the units in the order of the printed sheet, block by block.
func (s field) cards(a asked) []cards {
	v := s.Voice
	codes := s.codes(a.t)
	before, stored := map[string]trials.Reading{}, map[string]trials.Reading{}
	for _, r := range a.record.Readings {
		switch b, have := before[r.Unit]; {
		case r.At.Equal(a.at):
			stored[r.Unit] = r
		case r.At.Before(a.at) && (!have || b.At.Before(r.At)):
			before[r.Unit] = r
		}
	}
	var list []cards
	for i, p := range a.record.Plots {
		c := card{N: i, Unit: p.Unit, Code: codes[p.Unit], Taps: p.Taps, Way: a.wayOf(p.Unit),
			Typed: map[string]string{}, Faults: map[string]string{}}
		c.Word = amountUnit(v, c.Way)
		switch c.Way {
		case byCounter:
			c.Ask = v.Text("Counter")
		case byDepth:
			c.Ask = v.Text("Depth in the tank")
		default:
			c.Ask = v.Text("Sap gathered")
		}
		if b, have := before[p.Unit]; have {
			c.Last = v.Text("%s: %s", clockText(s.Voice, b.At), readingText(s.Voice, b, ranOver(a.record, b)))
			if b.Counter != nil {
				c.LastCounter, c.LastDay = page.Bare(*b.Counter), b.At.Format(time.DateOnly)
			}
		}
		if r, have := stored[p.Unit]; have {
			c.Stored = readingText(s.Voice, r, ranOver(a.record, r))
			c.Odd = s.backwards(a.record, before[p.Unit], r)
		}
		k := slices.IndexFunc(list, func(b cards) bool { return b.Block == p.Block })
		if k < 0 {
			k = len(list)
			list = append(list, cards{Block: p.Block})
		}
		list[k].Cards = append(list[k].Cards, c)
	}
	return list
}

// backwards says that a counter shows less than before, where no reset is known.
func (s field) backwards(record trials.Record, before, now trials.Reading) string {
	if before.Counter == nil || now.Counter == nil || *now.Counter >= *before.Counter {
		return ""
	}
	if slices.ContainsFunc(record.Events, func(e trials.Event) bool {
		return e.Kind == trials.CounterReset && (len(e.Units) == 0 || slices.Contains(e.Units, now.Unit)) &&
			!e.To.Before(before.At) && !e.From.After(now.At.AddDate(0, 0, 1))
	}) {
		return ""
	}
	return s.Voice.Text("The counter went back, from %s to %s: read it again, or note down that it was reset.",
		s.Voice.Marked(page.Bare(*before.Counter)), s.Voice.Marked(page.Bare(*now.Counter)))
}

// reading answers with the page where readings are entered.
func (s field) reading(w http.ResponseWriter, r *http.Request) {
	a, ok := s.asks(r.URL.Query())
	if !ok {
		s.Missing(w, r)
		return
	}
	t := page.Trouble{}
	if a.fault != "" {
		t = page.Refused(a.fault)
	}
	if stored := page.Clean(r.URL.Query().Get(storedKey)); stored != "" {
		w.Header().Set(storedKey, stored)
	}
	s.fieldCards(w, a, s.cards(a), t)
}

func (s field) fieldCards(w http.ResponseWriter, a asked, list []cards, t page.Trouble, told ...told) {
	v := s.Voice
	b := fieldPage{Trial: a.t.Name, Season: a.record.Season, Date: a.date, Time: a.time, Way: a.way, Blocks: list,
		Told: told, Vacuum: vacuumWord(v), Drafts: s.drafts(), Here: a.address(""), Phone: s.Phone}
	b.Ways = page.Pick([]page.Option{page.Opt("", v.Text("as before")), page.Opt(byCounter, v.Text("counters (dumps)")),
		page.Opt(byVolume, v.Text("sap gathered (%s)", v.VolumeUnit())),
		page.Opt(byDepth, v.Text("depth in the tank (%s)", amountUnit(v, byDepth)))}, a.way)
	units := 0
	for _, x := range list {
		for _, c := range x.Cards {
			units++
			if c.Stored == "" {
				b.Open++
			}
		}
	}
	b.Said = v.Text("%d of %d units stored for %s", units-b.Open, units, clockText(s.Voice, a.at))
	p := page.Page{Here: "/trials", Cached: true, Trouble: t, Body: b}
	if s.Phone {
		p.Back = &page.Link{Name: v.Text("All trials"), Href: "/"}
	} else {
		p.Back = &page.Link{Name: v.Text("Back to the trial %s", a.t.Name), Href: page.TrialAddress(a.t.Name)}
	}
	s.Show(w, "reading", v.Text("Readings: %s", s.Season(a.t.Name, a.record.Season)), p)
}

// dropReading takes a reading away, as on this machine alone can be done.
func (s field) dropReading(w http.ResponseWriter, r *http.Request, a asked, list []cards, u string) {
	gone := trials.Reading{Unit: u, At: a.at}
	items := []book.Item{book.Drop(book.Log(a.t.Name, a.record.Season, gone))}
	if ranOver(a.record, gone) {
		items = append(items, book.Drop(
			book.Log(a.t.Name, a.record.Season, overflow(u, a.at))))
	}
	what := s.Voice.Text("took away the reading of %s of %s, %s", u, a.t.Name, clockText(s.Voice, a.at))
	err := s.Save(r.PostForm, what, page.Seen(r.PostForm), true, items...)
	if err != nil {
		t, _ := s.Troubled(err, nil)
		s.fieldCards(w, a, list, t)
		return
	}
	page.SeeOther(w, r, a.address(""))
}

// typed reads what was typed into a card, and whether that is the least that it may have been; what is at fault is said
// in the card.
func (s field) typed(c *card, at time.Time) (r trials.Reading, least bool) {
	v := s.Voice
	r = trials.Reading{Unit: c.Unit, At: at, Note: c.Typed["note"]}
	least = c.Typed["least"] != ""
	number := func(key string, most float64) *float64 {
		text := strings.ReplaceAll(c.Typed[key], " ", "")
		if key == "amount" {
			for _, sign := range []string{atLeast, ">="} {
				if rest, ok := strings.CutPrefix(text, sign); ok {
					text, least = rest, true
				}
			}
			if least && text == "" {
				c.Faults[key] = v.Text("%s stands alone; allowed: %s and what was read where a tank ran over, such "+
					"as ≥ 120", atLeast, atLeast)
			}
		}
		if text == "" {
			return nil
		}
		x, ok := v.Parsed(text)
		if !ok || !(x >= 0 && x <= most) {
			c.Faults[key] = v.Text("%s; allowed: a number from 0 to %s", page.Short(c.Typed[key]),
				v.Marked(page.Bare(most)))
			return nil
		}
		return &x
	}
	if x := number("amount", 1e7); x != nil {
		switch c.Way {
		case byCounter:
			r.Counter = x
		case byVolume:
			r.Volume = new(show.VolumeUnit(v).Of(*x))
		case byDepth:
			r.Depth = new(unit.Length(*x) * depthUnit(v))
		}
	}
	r.Brix = number("brix", 20)
	most := unit.Atmosphere(0).In(vacuumUnit(v))
	if x := number("vacuum", float64(int(most))); x != nil {
		r.Vacuum = new(vacuumUnit(v).Of(*x))
	}
	if len([]rune(r.Note)) > 500 {
		c.Faults["note"] = v.Text("%d letters; allowed: at most 500", len([]rune(r.Note)))
	}
	return r, least
}

// shared is the field as a phone has it: who reads is who was let in.
func (s field) shared(p phone, handle string) field {
	below := *s.Site
	below.Phone, below.Who = true, p.Who
	return field{&below, s.phones, p, handle}
}

// door asks a phone for the code.
func (s field) door(w http.ResponseWriter, to string, t page.Trouble) {
	v := s.Voice
	s.Show(w, "door", v.Text("Enter readings on this phone"),
		page.Page{Back: &page.Link{}, Trouble: t, Body: struct {
			To, Who string
			Drafts  drafts
		}{to, s.Who, s.drafts()},
			Lead: []string{v.Text("The workbench shows a code where it was started and on its page Trials. Each code " +
				"lets in one phone.")}})
}

// toRead lists the trials that can be read, for a phone that was let in.
func (s field) toRead(w http.ResponseWriter) {
	v := s.Voice
	var links []page.Link
	for _, t := range s.Input.Trials {
		for _, r := range slices.Backward(t.Records) {
			if len(r.Plots) > 0 {
				links = append(links, page.Link{Name: s.Season(t.Name, r.Season),
					Href: page.ReadAddress(t.Name, r.Season)})
			}
		}
	}
	lead := []string{v.Text("Which trial do you read?"),
		v.Text("Open its page while the workbench answers, and leave it open: what you type out of its reach is kept " +
			"here, and stored when it answers again."),
		v.Text("Readings are kept under the name %s.", s.Who)}
	if len(links) == 0 {
		lead = []string{v.Text("There is no trial with units yet. Lay one out on the page Trials of the workbench.")}
	}
	s.Show(w, "toread", v.Text("Readings"), page.Page{Back: &page.Link{}, Lead: lead, Body: struct {
		Trials []page.Link
		Drafts drafts
	}{links, s.drafts()}})
}
