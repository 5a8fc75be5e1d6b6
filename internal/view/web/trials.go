package web

import (
	"bytes"
	"cmp"
	_ "embed"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/engine/effect"
	"spile/internal/engine/harvest"
	"spile/internal/engine/power"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/practice"
	trials "spile/internal/trade/trial"
	"spile/internal/view/report"
	"spile/internal/view/show"
)

//go:embed asset/trials.css
var trialStyle []byte

// trialEdits are the pages of trials over a workbook.
func (s *site) trialEdits(mux *routes, post func(path string, do func(w http.ResponseWriter, r *http.Request))) {
	mux.HandleFunc("GET /trials", func(w http.ResponseWriter, r *http.Request) { s.trialList(w, trouble{}) })
	mux.HandleFunc("GET /trials/new", func(w http.ResponseWriter, r *http.Request) { s.planning(w, r.URL.Query(), trouble{}) })
	post("/trials/new", s.savePlan)
	mux.HandleFunc("GET /trials/of", func(w http.ResponseWriter, r *http.Request) {
		s.ofTrial(w, r, r.URL.Query(), trouble{})
	})
	mux.HandleFunc("GET /trials/layout", s.layout)
	mux.HandleFunc("GET /trials/sheets/{file}", s.fieldSheets)
	mux.HandleFunc("GET /trials/take", func(w http.ResponseWriter, r *http.Request) { s.takingTrial(w, r, r.URL.Query(), trouble{}) })
	post("/trials/take", s.takeTrial)
	post("/trials/decide", s.decide)
	post(springPath, s.saveSpring)
	mux.HandleFunc("GET "+logPath, func(w http.ResponseWriter, r *http.Request) { s.log(w, r, r.URL.Query(), trouble{}) })
	post(logPath, s.saveLog)
	mux.HandleFunc("GET /trials/figure/{file}", s.trialFigure)
	mux.HandleFunc("GET /trials/table/{file}", s.trialTable)
	mux.HandleFunc("GET "+readPath, s.reading)
	post(readPath, s.saveReadings)
	post("/phones/forget", func(w http.ResponseWriter, r *http.Request) {
		if s.Phones != nil {
			s.Phones.forget()
		}
		seeOther(w, r, "/trials")
	})
}

func (s *site) findTrial(name string) (trials.Trial, bool) {
	i := slices.IndexFunc(s.Input.Trials, func(t trials.Trial) bool { return t.Name == name })
	if i < 0 {
		return trials.Trial{}, false
	}
	return s.Input.Trials[i], true
}

// listedTrial is a trial on the page Trials.
type listedTrial struct {
	Name, Href, Site, Seasons, Practices, State string
	Read                                        []link
}

// trialList answers with the page Trials.
func (s *site) trialList(w http.ResponseWriter, t trouble) {
	v := s.Voice
	var list []listedTrial
	for _, x := range s.Input.Trials {
		l := listedTrial{Name: x.Name, Href: trialAddress(x.Name), Site: x.Site}
		var years, keys []string
		read := 0
		for _, y := range x.Seasons() {
			years = append(years, v.Year(y))
		}
		for _, r := range x.Records {
			read += len(r.Readings)
			l.Read = append(l.Read, link{Name: v.Text("enter readings of %s", v.Year(r.Season)), Href: readAddress(x.Name, r.Season)})
			for _, p := range r.Plots {
				if k := s.practiceName(p.Practice); !slices.Contains(keys, k) {
					keys = append(keys, k)
				}
			}
		}
		l.Seasons, l.Practices = strings.Join(years, ", "), v.List(keys)
		switch {
		case s.live(x.Name):
			l.State = v.Text("%s; in the pooled gains, live", v.Text("%d readings", read))
		case read > 0:
			l.State = v.Text("%s; not in the pooled gains", v.Text("%d readings", read))
		default:
			l.State = v.Text("not read yet")
		}
		list = append(list, l)
	}
	lead := []string{v.Text("Your own trials: laid out, read at the trees, and counted in the pooled gains as they stand.")}
	if len(list) == 0 {
		lead = []string{v.Text("No trial yet."), v.Text("Begin with the question: which practices, and what gain would be worth finding.")}
	}
	body := struct {
		Trials           []listedTrial
		Shared           bool
		Code             string
		Addresses, Known []string
	}{Trials: list}
	if s.Phones != nil {
		body.Shared = true
		body.Code, body.Addresses, body.Known = s.Phones.open()
	}
	s.show(w, "trials", v.Text("Trials"), sheetPage{Here: "/trials", Back: &link{}, Lead: lead, trouble: t, Body: body})
}

// live is true of a trial whose gains are pooled.
func (s *site) live(name string) bool {
	return s.base != nil && slices.ContainsFunc(s.base.Effects.Studies, func(e effect.StudyEffects) bool { return e.Study == name && e.Live })
}

// plan is a trial being planned: what was typed, and what it comes to.
type plan struct {
	name, site string
	question   trials.Question
	typed      url.Values
	layout     *trials.Layout
	power      *show.PowerView
	notes      []note.Note
	faults     []string
}

// usual is what the page of a new trial begins with.
var usual = url.Values{"practice": {"unsanitized", "new-spout", "check-valve", "new-drop"}, "reference": {"unsanitized"}, "design": {"blocks"},
	"replicates": {"6"}, "taps": {"20"}, "seasons": {"1"}, "seed": {"1"}, "cv": {"15"}, "season_cv": {"10"}, "gain": {"20"}}

// planned reads the form of a new trial.
func (s *site) planned(q url.Values) plan {
	v := s.Voice
	q = asAsked(q)
	if len(q) == 0 {
		q = asAsked(usual)
		q.Set("first", strconv.Itoa(s.Now().Year()))
		if past, names := power.Past(s.Input.Trials, s.Input.Practices); names != nil {
			q.Set("cv", bare(math.Round(1000*past.OneSeason().Unit)/10)) // of the one season that the form begins with
			if past.Season > 0 {
				q.Set("season_cv", bare(math.Round(1000*past.Season)/10))
			}
		}
	}
	p := plan{typed: q, name: clean(q.Get("name")), site: clean(q.Get("site"))}
	fault := func(text string) { p.faults = append(p.faults, text) }
	whole := func(key, label string, low, high int) int {
		n, err := strconv.Atoi(clean(q.Get(key)))
		if err != nil || n < low || n > high {
			fault(v.Text("%s: %s; allowed: a whole number from %s to %s", label, short(q.Get(key)), strconv.Itoa(low), strconv.Itoa(high)))
			return low
		}
		return n
	}
	number := func(key, label string, low, high float64) float64 {
		text := clean(q.Get(key))
		x, ok := parsed(v, text)
		if !ok || x < low || x > high {
			fault(v.Text("%s: %s; allowed: a number from %s to %s", label, short(text), marked(v, bare(low)), marked(v, bare(high))))
			return math.NaN()
		}
		return x
	}
	p.question = trials.Question{Reference: practice.Key(q.Get("reference")), Design: trials.Kind(q.Get("design")), MoreReference: q.Get("more") != "", Blind: q.Get("blind") != "",
		Seasons: whole("seasons", v.Text("seasons"), 1, 20), FirstSeason: whole("first", v.Text("first season"), 1900, 2100)}
	for _, k := range q["practice"] {
		if k != "" && !slices.Contains(p.question.Practices, practice.Key(k)) {
			p.question.Practices = append(p.question.Practices, practice.Key(k))
		}
	}
	if !slices.Contains(p.question.Practices, p.question.Reference) {
		p.question.Reference = ""
	}
	seed, err := strconv.ParseUint(clean(q.Get("seed")), 10, 64)
	if err != nil {
		fault(v.Text("%s: %s; allowed: a whole number from %s to %s", v.Text("seed"), short(q.Get("seed")), "0", "18446744073709551615"))
	}
	p.question.Seed = seed
	if text := clean(q.Get("pool")); text != "" {
		p.question.PlasticAge = new(whole("pool", v.Text("age of the common pool of drops"), 0, 100))
	}
	if text := strings.TrimSpace(q.Get("units")); text != "" {
		units, notes, err := sheet.UnitsOf("units.csv", []byte(strings.ToValidUTF8(q.Get("units"), "\uFFFD")))
		if err != nil {
			for _, f := range faultsOf(err) {
				f.Where.File = ""
				fault(v.Note(f))
			}
		}
		p.question.Units, p.notes = units, notes
	} else {
		p.question.Replicates, p.question.Taps = whole("replicates", v.Text("replicates"), 1, 200), whole("taps", v.Text("taps of each unit"), 1, 2000)
	}
	cv, season := number("cv", v.Text("difference between units, %%"), 0.1, 300), number("season_cv", v.Text("difference between seasons, %%"), 0, 300)
	gain := number("gain", v.Text("gain worth finding, %%"), 0.1, 1000)
	if len(p.faults) > 0 {
		return p
	}
	if p.layout, err = design.Draw(p.question, s.Input.Practices); err != nil {
		p.faults = v.Notes(faultsOf(err))
		return p
	}
	p.notes = append(p.notes, p.layout.Notes...)
	s.powerOf(&p, power.Spread{Unit: cv / 100, Season: season / 100}, gain)
	return p
}

// asAsked is an address or form without what only carries it.
func asAsked(q url.Values) url.Values {
	c := url.Values{}
	for k, v := range q {
		if k != lastKey && k != seenKey {
			c[k] = slices.Clone(v)
		}
	}
	return c
}

// powerOf works out what the plan can find: exactly with its figure, or, where it can only be simulated, its own size.
func (s *site) powerOf(p *plan, spread power.Spread, gain float64) {
	q := p.question
	each := map[practice.Key]int{} // units that the least replicated practice has
	for _, x := range p.layout.Places {
		if x.Season == p.layout.Places[0].Season {
			each[x.Practice]++
		}
	}
	least := 0
	for k, n := range each {
		if k != p.layout.Reference && (least == 0 || n < least) {
			least = n
		}
	}
	if q.Seasons == 1 {
		spread.Season = 0
	}
	t := power.Trial{Spread: spread, Level: 0.05, Asked: 0.8, Runs: 300, Scheme: design.Scheme{Design: q.Design, Practices: len(q.Practices),
		Replicates: max(1, least), MoreReference: q.MoreReference, Seasons: q.Seasons}}
	view := &show.PowerView{Trial: t, Gain: gain, V: s.Voice}
	here, err := t.Chance(gain)
	if err != nil {
		p.faults = append(p.faults, s.Voice.Notes(faultsOf(err))...)
		return
	}
	row := power.Row{Replicates: t.Replicates, GainPct: gain, Chance: here, SmallestPct: math.NaN()}
	if here.Exact {
		if x, err := t.Smallest(); err == nil {
			row.SmallestPct = x
		}
		if view.Curves, err = t.Curves(gain); err != nil {
			p.notes = append(p.notes, faultsOf(err)...)
		}
		t.Replicates = 0
		if rows, err := t.Table(gain); err == nil {
			view.Rows = rows
		}
	}
	if !slices.ContainsFunc(view.Rows, func(r power.Row) bool { return r.Replicates == row.Replicates }) {
		view.Rows = append(view.Rows, row)
		slices.SortFunc(view.Rows, func(a, b power.Row) int { return cmp.Compare(a.Replicates, b.Replicates) })
	}
	p.power = view
}

// planPage is what the page of a new trial shows.
type planPage struct {
	Frame                frame
	Seen                 int64
	Faults               []string
	Lead                 []string
	Figure               *figured
	Tables               []tabled
	Maps                 []mapped
	Keep                 []tabled
	Notes                []string
	Practices, Reference []picked
	Designs              []picked
	Fields, Names        []field
	Units                string
	More, Blind          bool
	Said                 string
}

// mapped is where each unit of one season stands, block by block.
type mapped struct {
	Title  string
	Blocks []mappedBlock
}

type mappedBlock struct {
	Name  string
	Units []mappedUnit
}

type mappedUnit struct {
	Unit, Practice, Code, Taps string
	Reference                  bool
}

// maps draws a layout as it lies.
func (s *site) mapOf(l *trials.Layout) []mapped {
	v := s.Voice
	var list []mapped
	for _, p := range l.Places {
		title := v.Text("Layout of %s", v.Year(p.Season))
		if len(list) == 0 || list[len(list)-1].Title != title {
			list = append(list, mapped{Title: title})
		}
		m := &list[len(list)-1]
		if n := len(m.Blocks); n == 0 || m.Blocks[n-1].Name != p.Unit.Block {
			m.Blocks = append(m.Blocks, mappedBlock{Name: p.Unit.Block})
		}
		b := &m.Blocks[len(m.Blocks)-1]
		b.Units = append(b.Units, mappedUnit{Unit: p.Unit.Name, Practice: s.practiceName(p.Practice), Code: p.Code, Taps: v.Text("%d taps", p.Unit.Taps), Reference: p.Practice == l.Reference})
	}
	if len(list) > 1 && l.Design != trials.Latin { // units keep their practice
		list = list[:1]
		list[0].Title = v.Text("Layout, the same in each season")
	}
	return list
}

func (s *site) planning(w http.ResponseWriter, q url.Values, t trouble) {
	v := s.Voice
	p := s.planned(q)
	b := planPage{Frame: s.frame(v.Text("A new trial"), "", "/trials"), Seen: s.have.Change, Units: p.typed.Get("units"), More: p.typed.Get("more") != "", Blind: p.typed.Get("blind") != ""}
	b.Faults = append(slices.Clone(t.Faults), p.faults...)
	for i, x := range s.Input.Practices {
		key := string(x.Key)
		id := "w-practice-" + strconv.Itoa(i)
		b.Practices = append(b.Practices, picked{option{key, s.practiceName(x.Key)}, id, slices.Contains(p.typed["practice"], key)})
		if slices.Contains(p.typed["practice"], key) {
			b.Reference = append(b.Reference, picked{option: option{key, s.practiceName(x.Key)}, Here: key == p.typed.Get("reference")})
		}
	}
	for _, o := range []option{{string(trials.Blocks), v.Text("every practice in every block")}, {string(trials.Pairs), v.Text("pairs, of two practices")},
		{string(trials.Randomised), v.Text("any unit, no blocks")}, {string(trials.Latin), v.Text("each unit changes practice over the seasons")}} {
		b.Designs = append(b.Designs, picked{option: o, Here: o.Value == p.typed.Get("design")})
	}
	text := func(key, label, unit string, kind kind) field {
		f := field{Key: key, ID: "w-" + key, Label: label, Unit: unit, Kind: kind, Value: p.typed.Get(key)}
		if kind == number {
			f.Value = marked(v, f.Value)
		}
		return f
	}
	b.Names = []field{text("name", v.Text("Name of the trial"), "", word), text("site", v.Text("Site"), "", word)}
	b.Fields = []field{
		text("replicates", v.Text("Replicates: blocks, pairs, or units of each practice"), "", number), text("taps", v.Text("Taps of each unit"), "", number),
		text("seasons", v.Text("Seasons"), "", number), text("first", v.Text("First season, the year of its spring"), "", number),
		text("seed", v.Text("Seed: the same one draws the same layout"), "", number), text("pool", v.Text("Age of a common pool of drops, where there is one"), v.Text("seasons"), number),
		text("cv", v.Text("Units treated alike differ by"), "%", number), text("season_cv", v.Text("One unit differs between seasons by"), "%", number),
		text("gain", v.Text("Gain worth finding"), "%", number),
	}
	b.Notes = v.Notes(p.notes)
	if p.power != nil {
		row := p.power.Rows[slices.IndexFunc(p.power.Rows, func(r power.Row) bool { return r.Replicates == p.power.Trial.Replicates })]
		chance := show.InPercent(v, row.Chance.Power)
		if row.Chance.Exact {
			b.Lead = append(b.Lead, v.Text("With %s, a gain of %s is found with a chance of %s.", v.Text("%d replicates", row.Replicates), v.Percent(row.GainPct), chance))
		} else {
			b.Lead = append(b.Lead, v.Text("With %s, a gain of %s is found with a chance of about %s (300 simulated trials).", v.Text("%d replicates", row.Replicates), v.Percent(row.GainPct), chance))
		}
		if !math.IsNaN(row.SmallestPct) {
			b.Lead = append(b.Lead, v.Text("The smallest gain that such a trial finds four times in five is %s.", v.Percent(row.SmallestPct)))
		}
		for _, x := range (&show.View{V: v, Power: p.power}).Spreads(show.Page, "new-trial") {
			for _, f := range x.Figures {
				b.Figure = &figured{HTML: report.Inline(f), Short: x.Low}
			}
			for _, t := range x.Tables {
				b.Tables = append(b.Tables, s.bareTable(t))
			}
		}
	}
	if p.layout != nil {
		b.Maps = s.mapOf(p.layout)
		if keep := (show.LayoutView{L: p.layout, V: v, Set: s.Input.Practices}).Keep(); len(keep.Rows) > 0 {
			b.Keep = append(b.Keep, s.bareTable(keep))
		}
	}
	if len(b.Lead) == 0 {
		b.Lead = []string{v.Text("Say which practices, on how many units.")}
	}
	b.Said = strings.Join(append(b.Faults, b.Lead...), " ")
	var out bytes.Buffer
	if err := s.pages.ExecuteTemplate(&out, "plan", b); err != nil {
		http.Error(w, v.Text("This page could not be made: %s", err.Error()), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", htmlType)
	if len(b.Faults) > 0 {
		w.WriteHeader(cmp.Or(t.Code, http.StatusUnprocessableEntity))
	}
	w.Write(out.Bytes())
}

// bareTable is a table without its files: of numbers that are only tried.
func (s *site) bareTable(t show.Table) tabled {
	html, err := report.Table(t, nil)
	if err != nil {
		html = template.HTML(template.HTMLEscapeString(err.Error()))
	}
	return tabled{HTML: html}
}

// savePlan keeps a new trial: its question, and which unit gets which practice.
func (s *site) savePlan(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	p := s.planned(r.PostForm)
	var faults []string
	if p.name == "" {
		faults = append(faults, v.Text("Give the trial a name: it is also the name of the study in the evidence."))
	}
	if p.site == "" {
		faults = append(faults, v.Text("Say at which site the trial is."))
	}
	if _, there := s.findTrial(p.name); there {
		faults = append(faults, v.Text("There is a trial %s already: give this one another name.", p.name))
	}
	if _, there := s.find(p.name); there {
		faults = append(faults, v.Text("There is a study %s already: give the trial another name.", p.name))
	}
	if len(faults) > 0 || len(p.faults) > 0 {
		s.planning(w, r.PostForm, trouble{Faults: faults, Code: http.StatusUnprocessableEntity})
		return
	}
	t := trials.Trial{Name: p.name, Site: p.site, Question: &p.layout.Question, Records: p.layout.Records(), Options: trials.Options{Reference: p.layout.Reference}}
	if err := s.save(s.Voice.Text("laid out the trial %s", p.name), seen(r), false, book.Keep(t)); err != nil {
		f, _ := s.troubled(err, nil)
		for _, x := range f.Theirs {
			f.Faults = append(f.Faults, x.Said)
		}
		s.planning(w, r.PostForm, f)
		return
	}
	seeOther(w, r, trialAddress(p.name))
}

// finding is what may spoil a comparison, as the page of a trial asks about it.
type finding struct {
	ID, Season                             string
	What, Where, Evidence, Remedy, Decided string
	Reason                                 string
	Block                                  string // that a run would be taken out of; "": nothing to take out
	N                                      int
}

// deciding is a finding with what its form carries.
type deciding struct {
	Seen int64
	Name string
	F    finding
}

type seasonPart struct {
	Title   string
	Year    int
	Weather string
	Read    string
	Done    string
	Open    []finding
	Settled []finding
	Figure  *figured
	Runs    *tabled
	Notes   []string
}

type trialPage struct {
	Name, Site string
	Doors      []link
	Ways       []link // of analysing it
	Gains      *figured
	Tables     []tabled
	Seasons    []seasonPart
	Closer     []tabled
	Residuals  *figured
	Weather    *tabled
	Spring     []springField
	OwnSpring  bool // not the usual rules
	Warnings   []string
	Readable   []link
	Missing    string
}

// how is how a trial is looked at: what the address asks for besides its own options.
func (s *site) how(t trials.Trial, q url.Values) trials.Trial {
	if q.Get("syrup") != "" {
		t.Options.Response = trials.Syrup
	}
	if q.Get("vacuum") != "" {
		t.Options.Vacuum = true
	}
	return t
}

// ofTrial answers with the page of one trial.
func (s *site) ofTrial(w http.ResponseWriter, r *http.Request, q url.Values, tr trouble) {
	v := s.Voice
	t, ok := s.findTrial(q.Get("name"))
	if !ok {
		s.missing(w, r)
		return
	}
	b := trialPage{Name: t.Name, Site: t.Site}
	read := 0
	for _, x := range t.Records {
		read += len(x.Readings)
		b.Doors = append(b.Doors, link{Name: v.Text("Enter readings of %s", v.Year(x.Season)), Href: readAddress(t.Name, x.Season)},
			link{Name: v.Text("Log of %s: events, dumps, taps", v.Year(x.Season)), Href: logAddress(t.Name, x.Season)})
	}
	b.Doors = append(b.Doors, link{Name: v.Text("Take in a file"), Href: "/trials/take?" + url.Values{"name": {t.Name}}.Encode()})
	if len(t.Records) > 0 {
		b.Doors = append(b.Doors, link{Name: v.Text("Layout and field sheets"), Href: "/trials/layout?" + url.Values{"name": {t.Name}}.Encode()})
	}
	b.Doors = append(b.Doors, link{Name: v.Text("History"), Href: "/history"})
	address := func(key string, on bool) string {
		c := url.Values{"name": {t.Name}}
		for _, k := range []string{"syrup", "vacuum"} {
			if k == key && on || k != key && q.Get(k) != "" {
				c.Set(k, "yes")
			}
		}
		return "/trials/of?" + c.Encode()
	}
	t = s.how(t, q)
	set := s.Input.Practices
	a, summed, err := compare.Trial(t, set)
	lead := []string{v.Text("%s, at %s.", s.seasonsOf(t), t.Site)}
	if summed == nil {
		if summed, _ = harvest.Of(t); summed == nil {
			summed = &harvest.Summed{}
		}
	}
	switch {
	case err != nil && read == 0 && len(t.Sums) == 0:
		lead = append([]string{v.Text("Laid out, and not read yet: enter readings as they come.")}, lead...)
	case err != nil:
		lead = append([]string{v.Text("It cannot say yet how the practices compare.")}, lead...)
		b.Warnings = v.Notes(faultsOf(err))
	default:
		view := s.view(t, a, summed)
		lead = append(s.foundOut(a), lead...)
		files := url.Values{"name": {t.Name}}
		for _, k := range []string{"syrup", "vacuum"} {
			if q.Get(k) != "" {
				files.Set(k, "yes")
			}
		}
		b.Gains, b.Residuals = s.filed(view, "gains", files), s.filed(view, "residuals", files)
		b.Tables = s.filedTables(files, view.TablesAt("trial", show.Page)...)
		b.Closer = s.filedTables(files, view.TablesAt("trial", show.Closer)...)
		b.Warnings = view.Trial.Warnings()
		if q.Get("syrup") == "" {
			b.Ways = append(b.Ways, link{Name: v.Text("Compare the syrup that the sap makes, weighted by its sugar"), Href: address("syrup", true)})
		} else {
			b.Ways = append(b.Ways, link{Name: v.Text("Compare the sap"), Href: address("syrup", false)})
		}
		if q.Get("vacuum") == "" {
			b.Ways = append(b.Ways, link{Name: v.Text("Adjust for each unit's vacuum"), Href: address("vacuum", true)})
		} else {
			b.Ways = append(b.Ways, link{Name: v.Text("Without adjusting for vacuum"), Href: address("vacuum", false)})
		}
		if s.live(t.Name) {
			lead = append(lead, v.Text("This trial is counted in the pooled gains as it stands: correct a reading, and they move."))
			b.Ways = append(b.Ways, link{Name: v.Text("See it in the pooled gains"), Href: "/gains"})
		} else {
			lead = append(lead, v.Text("It is not in the pooled gains: the page Evidence says why."))
		}
	}
	n := 0
	seasons := s.view(t, nil, summed)
	for _, view := range seasons.Seasons {
		b.Seasons = append(b.Seasons, s.seasonPart(t, view, &n))
	}
	if weather, known := seasons.Table("weather"); known {
		b.Weather = new(s.filedTables(url.Values{"name": {t.Name}}, weather)[0])
		b.Spring, b.OwnSpring = s.springForm(t, q), t.Rules != nil
	}
	s.show(w, "trial", v.Text("Trial %s", t.Name), sheetPage{Here: "/trials", Back: &link{Name: v.Text("All trials"), Href: "/trials"}, Lead: lead, trouble: tr, Body: b})
}

func (s *site) seasonsOf(t trials.Trial) string {
	var years []string
	for _, y := range t.Seasons() {
		years = append(years, s.Voice.Year(y))
	}
	if len(years) == 1 {
		return s.Voice.Text("One season, %s", years[0])
	}
	return s.Voice.Text("Seasons %s", s.Voice.List(years))
}

// foundOut says which practice gained most, and how sure that is.
func (s *site) foundOut(a *compare.Analysis) []string {
	v := s.Voice
	best := -1
	for i, g := range a.Gains {
		if g.Practice != a.Reference && !math.IsNaN(g.Pct) && (best < 0 || g.Pct > a.Gains[best].Pct) {
			best = i
		}
	}
	if best < 0 {
		return []string{v.Text("It cannot say yet how the practices compare.")}
	}
	g := a.Gains[best]
	name := capital(s.practiceName(g.Practice))
	if math.IsNaN(g.LowPct) {
		return []string{v.Text("%s gave %s over %s; nothing tells how sure that is.", name, v.Percent(g.Pct), s.practiceName(a.Reference))}
	}
	if a.Response == trials.Syrup {
		return []string{v.Text("%s gave %s more syrup a tap than %s (95 %% interval %s).", name, v.Percent(g.Pct), s.practiceName(a.Reference), v.PercentRange(g.LowPct, g.HighPct))}
	}
	return []string{v.Text("%s gave %s more sap a tap than %s (95 %% interval %s).", name, v.Percent(g.Pct), s.practiceName(a.Reference), v.PercentRange(g.LowPct, g.HighPct))}
}

func capital(text string) string {
	r, n := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(r)) + text[n:]
}

// seasonPart is one season on the page of a trial.
func (s *site) seasonPart(t trials.Trial, view show.SeasonView, n *int) seasonPart {
	v, year := s.Voice, view.Record.Season
	files := url.Values{"name": {t.Name}}
	part := seasonPart{Title: v.Text("Season %s", v.Year(year)), Year: year, Notes: v.Notes(view.Total.Notes), Read: readAddress(t.Name, year)}
	part.Figure = s.filed(&show.View{V: v, Seasons: []show.SeasonView{view}}, "season-"+strconv.Itoa(year), files)
	if runs := s.filedTables(files, view.Runs()); len(runs) > 0 {
		part.Runs = &runs[0]
	}
	table := view.Findings()
	for _, row := range table.Rows {
		*n++
		f := finding{ID: row.ID, Season: strconv.Itoa(year), N: *n}
		for i, c := range table.Columns {
			text := row.Cells[i].Text
			switch c.ID {
			case "finding":
				f.What = text
			case "where":
				f.Where = text
			case "evidence":
				f.Evidence = text
			case "remedy":
				f.Remedy = text
			}
		}
		for _, x := range view.Total.Findings {
			if x.ID() == row.ID && x.Exclusion != nil {
				f.Block = x.Exclusion.Block
			}
		}
		d, decided := t.Decided(year, row.ID)
		if !decided {
			part.Open = append(part.Open, f)
			continue
		}
		f.Reason = d.Reason
		if d.Taken != nil {
			f.Block = d.Taken.Block
		}
		f.Decided = v.Text("kept: %s", d.Reason)
		if d.Out {
			f.Decided = v.Text("taken out: %s", d.Reason)
		}
		part.Settled = append(part.Settled, f)
	}
	part.Done = v.Text("%d decided", len(part.Settled))
	return part
}

// view is what the catalogue of figures and tables is asked for a trial; its analysis is nil where there is none.
func (s *site) view(t trials.Trial, a *compare.Analysis, summed *harvest.Summed) *show.View {
	v, set := s.Voice, s.Input.Practices
	w := &show.View{V: v}
	if a != nil {
		w.Trial = &show.TrialView{A: a, V: v, Set: set, VolumeUnit: show.VolumeUnit(v)}
	}
	if summed != nil {
		w.Seasons = show.SeasonViews(t, summed, v, set)
		if len(summed.Weather) > 0 {
			w.Springs = &show.WeatherView{Seasons: summed.Weather, Rules: rulesOf(t), V: v}
		}
	}
	return w
}

// filed is a figure of a trial with the addresses of its files.
func (s *site) filed(w *show.View, name string, q url.Values) *figured {
	f, there := w.Figure(name)
	if !there {
		return nil
	}
	slide := asAsked(q)
	slide.Set(sizeKey, "slide")
	at := "/trials/figure/" + f.Name
	return &figured{HTML: report.Inline(f), SVG: withQuery(at+".svg", q.Encode()), PNG: withQuery(at+".png", q.Encode()), Slide: withQuery(at+".png", slide.Encode()), PDF: withQuery(at+".pdf", q.Encode())}
}

// filedTables are tables with the addresses of their files; those without rows are left out.
func (s *site) filedTables(q url.Values, list ...show.Table) []tabled {
	var out []tabled
	for _, t := range list {
		if len(t.Rows) == 0 {
			continue
		}
		x := s.bareTable(t)
		at := "/trials/table/" + t.ID
		x.CSV, x.XLSX = withQuery(at+".csv", q.Encode()), withQuery(at+".xlsx", q.Encode())
		out = append(out, x)
	}
	return out
}

// asked is the view of the trial that an address names, with what its file is made of; false where there is none such.
func (s *site) asked(q url.Values) (*show.View, bool) {
	t, ok := s.findTrial(q.Get("name"))
	if !ok {
		return nil, false
	}
	t = s.how(t, q)
	a, summed, err := compare.Trial(t, s.Input.Practices)
	if err != nil {
		a = nil
	}
	w := s.view(t, a, summed)
	if t.Question != nil {
		if l, err := design.Draw(*t.Question, s.Input.Practices); err == nil {
			w.Layout = &show.LayoutView{L: l, V: s.Voice, Set: s.Input.Practices}
		}
	}
	return w, true
}

// trialFigure answers with a figure of a trial as a file.
func (s *site) trialFigure(w http.ResponseWriter, r *http.Request) {
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	if view, ok := s.asked(r.URL.Query()); ok {
		f, there := view.Figure(name)
		if there && s.draw(w, r, kind, f, time.Time{}, func() { fileNamed(w, name+"."+kind) }) {
			return
		}
	}
	s.missing(w, r)
}

// trialTable answers with a table of a trial as a file.
func (s *site) trialTable(w http.ResponseWriter, r *http.Request) {
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	if view, ok := s.asked(r.URL.Query()); ok {
		t, there := view.Table(name)
		if there && s.write(w, r, kind, t, func() { fileNamed(w, name+"."+kind) }) {
			return
		}
	}
	s.missing(w, r)
}

func fileNamed(w http.ResponseWriter, name string) {
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
}

// layout answers with the map of a trial and the plastic to keep for it.
func (s *site) layout(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	t, ok := s.findTrial(r.URL.Query().Get("name"))
	if !ok || len(t.Records) == 0 {
		s.missing(w, r)
		return
	}
	page := sheetPage{Here: "/trials", Back: &link{Name: v.Text("Back to the trial %s", t.Name), Href: trialAddress(t.Name)}}
	type body struct {
		Maps   []mapped
		Sheets []link
		Tables []tabled
		Notes  []string
	}
	if t.Question == nil {
		page.Lead = []string{v.Text("One block is worked in one day by one crew. The layout was taken from a file.")}
		page.Body = body{Maps: s.mapOf(s.laidOut(t)), Sheets: s.sheetLinks(t)}
		s.show(w, "layout", v.Text("Layout of %s", t.Name), page)
		return
	}
	l, err := design.Draw(*t.Question, s.Input.Practices)
	if err != nil {
		http.Error(w, strings.Join(v.Notes(faultsOf(err)), "\n"), http.StatusInternalServerError)
		return
	}
	view := &show.View{V: v, Layout: &show.LayoutView{L: l, V: v, Set: s.Input.Practices}}
	lead := []string{v.Text("One block is worked in one day by one crew. The layout can be drawn again from seed %s.", strconv.FormatUint(l.Seed, 10))}
	if t.Question.Blind {
		lead = append(lead, v.Text("This page says which practice each code stands for: keep it from whoever reads the counters."))
	}
	q := url.Values{"name": {t.Name}}
	page.Lead, page.Body = lead, body{s.mapOf(l), s.sheetLinks(t), slices.Concat(s.filedTables(q, view.TablesAt("layout", show.Page)...), s.filedTables(q, view.TablesAt("layout", show.Closer)...)), v.Notes(l.Notes)}
	s.show(w, "layout", v.Text("Layout of %s", t.Name), page)
}

// laidOut is a trial's units as a layout, where they were not drawn here: of its first season alone where all are alike.
func (s *site) laidOut(t trials.Trial) *trials.Layout {
	l := &trials.Layout{Question: trials.Question{Reference: cmp.Or(t.Options.Reference, practice.Unsanitized), Design: trials.Latin}}
	alike := func(a, b trials.Plot) bool { return a.Unit == b.Unit && a.Block == b.Block && a.Practice == b.Practice }
	if !slices.ContainsFunc(t.Records, func(r trials.Record) bool { return !slices.EqualFunc(r.Plots, t.Records[0].Plots, alike) }) {
		l.Design = trials.Blocks
	}
	for _, r := range t.Records {
		for _, p := range r.Plots {
			l.Places = append(l.Places, trials.Place{Unit: trials.Unit{Name: p.Unit, Block: p.Block, Taps: p.Taps}, Season: r.Season, Practice: p.Practice})
		}
	}
	return l
}

// decide keeps what the user decided about a finding, and why.
func (s *site) decide(w http.ResponseWriter, r *http.Request) {
	f := r.PostForm
	t, ok := s.findTrial(f.Get("name"))
	year, _ := strconv.Atoi(f.Get("season"))
	if !ok {
		s.missing(w, r)
		return
	}
	refuse := func(tr trouble) { s.ofTrial(w, r, url.Values{"name": {t.Name}}, tr) }
	d, err := harvest.Decide(t, year, f.Get("finding"), f.Get("do") == "out", clean(f.Get("reason")))
	if err != nil {
		refuse(trouble{Faults: s.said(faultsOf(err)), Code: http.StatusUnprocessableEntity})
		return
	}
	if err := s.save(s.Voice.Text("decided about %s of %s", d.Finding, t.Name), seen(r), true, book.Keep(book.Logged[trials.Decision]{Trial: t.Name, Season: year, What: d})); err != nil {
		tr, _ := s.troubled(err, nil)
		refuse(tr)
		return
	}
	seeOther(w, r, trialAddress(t.Name)+"#season-"+strconv.Itoa(year))
}
