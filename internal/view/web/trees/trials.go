package trees

import (
	"cmp"
	_ "embed"
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
	"spile/internal/view/web/page"
)

// desk is what is done about a trial at the desk: it is planned, laid out, followed and looked at.
type desk struct {
	*page.Site
	phones *Phones // that are shared with
}

func (s desk) routes(m *page.Routes) {
	m.Get("/trials", func(w http.ResponseWriter, r *http.Request) { s.trialList(w, page.Trouble{}) })
	m.Get("/trials/new", func(w http.ResponseWriter, r *http.Request) { s.planning(w, r.URL.Query(), page.Trouble{}) })
	m.Post("/trials/new", s.savePlan)
	m.Get("/trials/of", func(w http.ResponseWriter, r *http.Request) {
		s.ofTrial(w, r, r.URL.Query(), page.Trouble{})
	})
	m.Get("/trials/layout", s.layout)
	m.Get("/trials/sheets/{file}", s.fieldSheets)
	m.Get("/trials/take", func(w http.ResponseWriter, r *http.Request) {
		s.takingTrial(w, r, r.URL.Query(), page.Trouble{})
	})
	m.Post("/trials/take", s.takeTrial)
	m.Post("/trials/decide", s.decide)
	m.Post(SpringPath, s.saveSpring)
	m.Get(page.LogPath, func(w http.ResponseWriter, r *http.Request) {
		s.log(w, r, r.URL.Query(), page.Trouble{}, slip{})
	})
	m.Post(page.LogPath, s.saveLog)
	m.Get("/trials/figure/{file}", s.trialFigure)
	m.Get("/trials/table/{file}", s.trialTable)
	m.Post("/phones/forget", func(w http.ResponseWriter, r *http.Request) {
		s.phones.Forget(r.PostForm.Get("phone"))
		page.SeeOther(w, r, "/trials")
	})
	m.Post("/phones/refused", s.decideRefused)
}

// listedTrial is a trial on the page Trials.
type listedTrial struct {
	Name, Href, Site, Seasons, Practices, State string
	Read                                        []page.Link
}

// trialList answers with the page Trials.
func (s desk) trialList(w http.ResponseWriter, t page.Trouble) {
	v := s.Voice
	var list []listedTrial
	for _, x := range s.Input.Trials {
		l := listedTrial{Name: x.Name, Href: page.TrialAddress(x.Name), Site: x.Site}
		var years, keys []string
		read := x.Count()
		for _, y := range x.Seasons() {
			years = append(years, v.Year(y))
		}
		for _, r := range x.Records {
			l.Read = append(l.Read, page.Link{Name: v.Text("enter readings of %s", v.Year(r.Season)),
				Href: page.ReadAddress(x.Name, r.Season)})
			for _, p := range r.Plots {
				if k := s.Practice(p.Practice); !slices.Contains(keys, k) {
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
	lead := []string{v.Text("Your own trials: laid out, read at the trees, and counted in the pooled gains as they " +
		"stand.")}
	if len(list) == 0 {
		lead = []string{v.Text("No trial yet."),
			v.Text("Begin with the question: which practices, and what gain would be worth finding.")}
	}
	body := struct {
		Trials    []listedTrial
		Shared    bool
		Code      string
		Addresses []address
		Phones    []listedPhone
		Trouble   []string
		Open      []openRefusal
		Decided   []string
	}{Trials: list, Shared: s.phones.tell != nil}
	var in []phone
	body.Code, body.Addresses, in = s.phones.open()
	for _, x := range in {
		body.Phones = append(body.Phones, s.listed(x))
	}
	body.Open, body.Decided = s.toDecide()
	body.Trouble = v.Notes(s.phones.trouble)
	s.Show(w, "trials", v.Text("Trials"),
		page.Page{Here: "/trials", Back: &page.Link{}, Lead: lead, Trouble: t, Body: body})
}

// live is true of a trial whose gains are pooled.
func (s desk) live(name string) bool {
	return s.Base != nil && slices.ContainsFunc(s.Base.Effects.Studies,
		func(e effect.StudyEffects) bool { return e.Study == name && e.Live })
}

// plan is a trial being planned: what was typed, and what it comes to.
type plan struct {
	name, site string
	question   trials.Question
	typed      url.Values
	layout     *trials.Layout
	power      *show.PowerView
	notes      note.List
	faults     []string
}

// usual is what the page of a new trial begins with.
var usual = url.Values{"practice": {"unsanitized", "new-spout", "check-valve", "new-drop"},
	"reference": {"unsanitized"}, "design": {"blocks"},
	"replicates": {"6"}, "taps": {"20"}, "seasons": {"1"}, "seed": {"1"}, "cv": {"15"}, "season_cv": {"10"},
	"gain": {"20"}}

// planned reads the form of a new trial.
func (s desk) planned(q url.Values) plan {
	v := s.Voice
	q = asAsked(q)
	if len(q) == 0 {
		q = asAsked(usual)
		q.Set("first", strconv.Itoa(s.Now().Year()))
		if past, names := power.Past(s.Input.Trials, s.Input.Practices, s.Memo.Trial); names != nil {
			// It is of the one season that the form begins with.
			q.Set("cv", page.Bare(math.Round(1000*past.OneSeason().Unit)/10))
			if past.Season > 0 {
				q.Set("season_cv", page.Bare(math.Round(1000*past.Season)/10))
			}
		}
	}
	p := plan{typed: q, name: page.Clean(q.Get("name")), site: page.Clean(q.Get("site"))}
	x := page.Typed{V: v, Form: q}
	p.question = trials.Question{Reference: practice.Key(q.Get("reference")), Design: trials.Kind(q.Get("design")),
		MoreReference: q.Get("more") != "", Blind: q.Get("blind") != "",
		Seasons:     x.Whole("seasons", v.Text("seasons"), 1, 20),
		FirstSeason: x.Whole("first", v.Text("first season"), 1900, 2100)}
	for _, k := range q["practice"] {
		if k != "" && !slices.Contains(p.question.Practices, practice.Key(k)) {
			p.question.Practices = append(p.question.Practices, practice.Key(k))
		}
	}
	if !slices.Contains(p.question.Practices, p.question.Reference) {
		p.question.Reference = ""
	}
	seed, err := strconv.ParseUint(page.Clean(q.Get("seed")), 10, 64)
	if err != nil {
		x.Fault(v.Text("%s: %s; allowed: a whole number from %s to %s", v.Text("seed"), page.Short(q.Get("seed")), "0",
			"18446744073709551615"))
	}
	p.question.Seed = seed
	if text := page.Clean(q.Get("pool")); text != "" {
		p.question.PlasticAge = new(x.Whole("pool", v.Text("age of the common pool of drops"), 0, 100))
	}
	if text := strings.TrimSpace(q.Get("units")); text != "" {
		units, notes, err := sheet.UnitsOf("units.csv", []byte(strings.ToValidUTF8(q.Get("units"), "\uFFFD")))
		if err != nil {
			for _, f := range page.Faults(err) {
				f.Where.File = ""
				x.Fault(v.Note(f))
			}
		}
		p.question.Units, p.notes = units, notes
	} else {
		p.question.Replicates, p.question.Taps = x.Whole("replicates", v.Text("replicates"), 1, 200),
			x.Whole("taps", v.Text("taps of each unit"), 1, 2000)
	}
	cv, season := x.Number("cv", v.Text("difference between units, %%"), 0.1, 300),
		x.Number("season_cv", v.Text("difference between seasons, %%"), 0, 300)
	gain := x.Number("gain", v.Text("gain worth finding, %%"), 0.1, 1000)
	if p.faults = x.Faults; len(p.faults) > 0 {
		return p
	}
	if p.layout, err = design.Draw(p.question, s.Input.Practices); err != nil {
		p.faults = v.Notes(page.Faults(err))
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
		if k != page.LastKey && k != page.SeenKey {
			c[k] = slices.Clone(v)
		}
	}
	return c
}

// powerOf works out what the plan can find: exactly with its figure, or, where it can only be simulated, its own size.
func (s desk) powerOf(p *plan, spread power.Spread, gain float64) {
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
	t := power.Trial{Spread: spread, Level: 0.05, Asked: 0.8, Runs: 300,
		Scheme: design.Scheme{Design: q.Design, Practices: len(q.Practices),
			Replicates: max(1, least), MoreReference: q.MoreReference, Seasons: q.Seasons}}
	view := &show.PowerView{Trial: t, Gain: gain, V: s.Voice}
	here, err := t.Chance(gain)
	if err != nil {
		p.faults = append(p.faults, s.Voice.Notes(page.Faults(err))...)
		return
	}
	row := power.Row{Replicates: t.Replicates, GainPct: gain, Chance: here, SmallestPct: math.NaN()}
	if here.Exact {
		if x, err := t.Smallest(); err == nil {
			row.SmallestPct = x
		}
		if view.Curves, err = t.Curves(gain); err != nil {
			p.notes = append(p.notes, page.Faults(err)...)
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
	Frame                page.Frame
	Seen                 book.Sight
	Faults               []string
	Lead                 []string
	Figure               *page.Figured
	Tables               []page.Tabled
	Maps                 []mapped
	Keep                 []page.Tabled
	Notes                []string
	Practices, Reference []page.Picked
	Designs              []page.Picked
	Fields, Names        []page.Field
	Units                string
	More, Blind          bool
	Said, Why            string
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
func (s desk) mapOf(l *trials.Layout) []mapped {
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
		b.Units = append(b.Units,
			mappedUnit{Unit: p.Unit.Name, Practice: s.Practice(p.Practice), Code: p.Code,
				Taps: v.Text("%d taps", p.Unit.Taps), Reference: p.Practice == l.Reference})
	}
	if len(list) > 1 && l.Design != trials.Latin { // units keep their practice
		list = list[:1]
		list[0].Title = v.Text("Layout, the same in each season")
	}
	return list
}

func (s desk) planning(w http.ResponseWriter, q url.Values, t page.Trouble) {
	v := s.Voice
	p := s.planned(q)
	b := planPage{Frame: s.Frame(v.Text("A new trial"), "", "/trials"), Seen: s.Have.Sight(), Why: page.Why(q),
		Units: p.typed.Get("units"), More: p.typed.Get("more") != "", Blind: p.typed.Get("blind") != ""}
	b.Faults = append(slices.Clone(t.Faults), p.faults...)
	for i, x := range s.Input.Practices {
		key := string(x.Key)
		id, o := "w-practice-"+strconv.Itoa(i), page.Opt(key, s.Practice(x.Key))
		b.Practices = append(b.Practices,
			page.Picked{Option: o, ID: id, Here: slices.Contains(p.typed["practice"], key)})
		if slices.Contains(p.typed["practice"], key) {
			b.Reference = append(b.Reference, page.Picked{Option: o, Here: key == p.typed.Get("reference")})
		}
	}
	b.Designs = page.Pick([]page.Option{
		page.Opt(string(trials.Blocks), v.Text("every practice in every block")),
		page.Opt(string(trials.Pairs), v.Text("pairs, of two practices")),
		page.Opt(string(trials.Randomised), v.Text("any unit, no blocks")),
		page.Opt(string(trials.Latin), v.Text("each unit changes practice over the seasons")),
	}, p.typed.Get("design"))
	text := func(key, label, unit string, kind page.Kind) page.Field {
		f := page.Field{Key: key, ID: "w-" + key, Label: label, Unit: unit, Kind: kind, Value: p.typed.Get(key)}
		if kind == page.Number {
			f.Value = v.Marked(f.Value)
		}
		return f
	}
	b.Names = []page.Field{text("name", v.Text("Name of the trial"), "", page.Word),
		text("site", v.Text("Site"), "", page.Word)}
	b.Fields = []page.Field{
		text("replicates", v.Text("Replicates: blocks, pairs, or units of each practice"), "", page.Number),
		text("taps", v.Text("Taps of each unit"), "", page.Number),
		text("seasons", v.Text("Seasons"), "", page.Number),
		text("first", v.Text("First season, the year of its spring"), "", page.Number),
		text("seed", v.Text("Seed: the same one draws the same layout"), "", page.Number),
		text("pool", v.Text("Age of a common pool of drops, where there is one"), v.Text("seasons"), page.Number),
		text("cv", v.Text("Units treated alike differ by"), "%", page.Number),
		text("season_cv", v.Text("One unit differs between seasons by"), "%", page.Number),
		text("gain", v.Text("Gain worth finding"), "%", page.Number),
	}
	b.Notes = v.Notes(p.notes)
	if p.power != nil {
		row := p.power.Rows[slices.IndexFunc(p.power.Rows,
			func(r power.Row) bool { return r.Replicates == p.power.Trial.Replicates })]
		chance := show.InPercent(v, row.Chance.Power)
		if row.Chance.Exact {
			b.Lead = append(b.Lead, v.Text("With %s, a gain of %s is found with a chance of %s.",
				v.Text("%d replicates", row.Replicates), v.Percent(row.GainPct), chance))
		} else {
			b.Lead = append(b.Lead, v.Text("With %s, a gain of %s is found with a chance of about %s (300 simulated "+
				"trials).", v.Text("%d replicates", row.Replicates), v.Percent(row.GainPct), chance))
		}
		if !math.IsNaN(row.SmallestPct) {
			b.Lead = append(b.Lead, v.Text("The smallest gain that such a trial finds four times in five is %s.",
				v.Percent(row.SmallestPct)))
		}
		for _, x := range (&show.View{V: v, Power: p.power}).Spreads(show.Page, "new-trial") {
			for _, f := range x.Figures {
				html, _ := report.Inline(f)
				b.Figure = &page.Figured{HTML: html}
			}
			for _, t := range x.Tables {
				b.Tables = append(b.Tables, page.TableAlone(t))
			}
		}
	}
	if p.layout != nil {
		b.Maps = s.mapOf(p.layout)
		if keep := (show.LayoutView{L: p.layout, V: v, Set: s.Input.Practices}).Keep(); len(keep.Rows) > 0 {
			b.Keep = append(b.Keep, page.TableAlone(keep))
		}
	}
	if len(b.Lead) == 0 {
		b.Lead = []string{v.Text("Say which practices, on how many units.")}
	}
	b.Said = strings.Join(append(b.Faults, b.Lead...), " ")
	body, ok := s.Make(w, "plan", b)
	if !ok {
		return
	}
	w.Header().Set("Content-Type", page.HTML)
	if len(b.Faults) > 0 {
		w.WriteHeader(cmp.Or(t.Code, http.StatusUnprocessableEntity))
	}
	w.Write(body)
}

// savePlan keeps a new trial: its question, and which unit gets which practice.
func (s desk) savePlan(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	p := s.planned(r.PostForm)
	var faults []string
	if p.name == "" {
		faults = append(faults, v.Text("Give the trial a name: it is also the name of the study in the evidence."))
	}
	if p.site == "" {
		faults = append(faults, v.Text("Say at which site the trial is."))
	}
	if _, there := s.Trial(p.name); there {
		faults = append(faults, v.Text("There is a trial %s already: give this one another name.", p.name))
	}
	if _, there := s.Study(p.name); there {
		faults = append(faults, v.Text("There is a study %s already: give the trial another name.", p.name))
	}
	if len(faults) > 0 || len(p.faults) > 0 {
		s.planning(w, r.PostForm, page.Refused(faults...))
		return
	}
	t := trials.Trial{Name: p.name, Site: p.site, Question: &p.layout.Question, Records: p.layout.Records(),
		Options: trials.Options{Reference: p.layout.Reference}}
	if err := s.Save(r.PostForm, s.Voice.Text("laid out the trial %s", p.name), page.Seen(r.PostForm), false,
		book.Keep(t)); err != nil {
		f, _ := s.Troubled(err, nil)
		for _, x := range f.Theirs {
			f.Faults = append(f.Faults, x.Said)
		}
		s.planning(w, r.PostForm, f)
		return
	}
	page.SeeOther(w, r, page.TrialAddress(p.name))
}

// finding is what may spoil a comparison, as the page of a trial asks about it.
type finding struct {
	Trial, ID, Season                      string
	Seen                                   book.Sight // what its form is made from
	What, Where, Evidence, Remedy, Decided string
	Reason                                 string
	Block                                  string // that a run would be taken out of; "": nothing to take out
	N                                      int
}

type seasonPart struct {
	Title   string
	Year    int
	Weather string
	Read    string
	Done    string
	Open    []finding
	Settled []finding
	Figure  *page.Figured
	Runs    *page.Tabled
	Notes   []string
}

type trialPage struct {
	Name, Site string
	Doors      []page.Link
	Ways       []page.Link // of analysing it
	Gains      *page.Figured
	Tables     []page.Tabled
	Seasons    []seasonPart
	Closer     []page.Tabled
	Residuals  *page.Figured
	Weather    *page.Tabled
	Spring     []springField
	OwnSpring  bool // not the usual rules
	Warnings   []string
	Missing    string
}

// how is how a trial is looked at: what the address asks for besides its own options.
func (s desk) how(t trials.Trial, q url.Values) trials.Trial {
	if q.Get("syrup") != "" {
		t.Options.Response = trials.Syrup
	}
	if q.Get("vacuum") != "" {
		t.Options.Vacuum = true
	}
	return t
}

// ofTrial answers with the page of one trial.
func (s desk) ofTrial(w http.ResponseWriter, r *http.Request, q url.Values, tr page.Trouble) {
	v := s.Voice
	t, ok := s.Trial(q.Get("name"))
	if !ok {
		s.Missing(w, r)
		return
	}
	b := trialPage{Name: t.Name, Site: t.Site}
	read := t.Count()
	for _, x := range t.Records {
		b.Doors = append(b.Doors,
			page.Link{Name: v.Text("Enter readings of %s", v.Year(x.Season)), Href: page.ReadAddress(t.Name, x.Season)},
			page.Link{Name: v.Text("Log of %s: events, dumps, taps", v.Year(x.Season)),
				Href: page.LogAddress(t.Name, x.Season)})
	}
	b.Doors = append(b.Doors,
		page.Link{Name: v.Text("Take in a file"), Href: "/trials/take?" + url.Values{"name": {t.Name}}.Encode()})
	if len(t.Records) > 0 {
		b.Doors = append(b.Doors,
			page.Link{Name: v.Text("Layout and field sheets"),
				Href: "/trials/layout?" + url.Values{"name": {t.Name}}.Encode()})
	}
	b.Doors = append(b.Doors, page.Link{Name: v.Text("History"), Href: "/history"})
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
	a, summed, err := s.Memo.Trial(t, set)
	lead := []string{v.Text("%s, at %s.", s.seasonsOf(t), t.Site)}
	if summed == nil {
		summed = &harvest.Summed{}
	}
	switch {
	case err != nil && read == 0 && len(t.Sums) == 0:
		lead = append([]string{v.Text("Laid out, and not read yet: enter readings as they come.")}, lead...)
	case err != nil:
		lead = append([]string{v.Text("It cannot say yet how the practices compare.")}, lead...)
		b.Warnings = v.Notes(page.Faults(err))
	default:
		view := s.view(t, a, summed)
		lead = append(s.foundOut(a), lead...)
		files := url.Values{"name": {t.Name}}
		for _, k := range []string{"syrup", "vacuum"} {
			if q.Get(k) != "" {
				files.Set(k, "yes")
			}
		}
		b.Gains, b.Residuals = filed(view, "gains", files), filed(view, "residuals", files)
		b.Tables = tablesAt(files, view.TablesAt("trial", show.Page)...)
		b.Closer = tablesAt(files, view.TablesAt("trial", show.Closer)...)
		b.Warnings = view.Trial.Warnings()
		if q.Get("syrup") == "" {
			b.Ways = append(b.Ways, page.Link{
				Name: v.Text("Compare the syrup that the sap makes, weighted by its sugar"),
				Href: address("syrup", true)})
		} else {
			b.Ways = append(b.Ways, page.Link{Name: v.Text("Compare the sap"), Href: address("syrup", false)})
		}
		if q.Get("vacuum") == "" {
			b.Ways = append(b.Ways, page.Link{Name: v.Text("Adjust for each unit's vacuum"),
				Href: address("vacuum", true)})
		} else {
			b.Ways = append(b.Ways, page.Link{Name: v.Text("Without adjusting for vacuum"),
				Href: address("vacuum", false)})
		}
		if s.live(t.Name) {
			lead = append(lead, v.Text("This trial is counted in the pooled gains as it stands: correct a reading, "+
				"and they move."))
			b.Ways = append(b.Ways, page.Link{Name: v.Text("See it in the pooled gains"), Href: "/gains"})
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
		b.Weather = new(tablesAt(url.Values{"name": {t.Name}}, weather)[0])
		b.Spring, b.OwnSpring = s.springForm(t, q), t.Rules != nil
	}
	s.Show(w, "trial", v.Text("Trial %s", t.Name),
		page.Page{Here: "/trials", Back: &page.Link{Name: v.Text("All trials"), Href: "/trials"}, Lead: lead,
			Trouble: tr, Body: b})
}

func (s desk) seasonsOf(t trials.Trial) string {
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
func (s desk) foundOut(a *compare.Analysis) []string {
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
	name := capital(s.Practice(g.Practice))
	if math.IsNaN(g.LowPct) {
		return []string{v.Text("%s gave %s over %s; nothing tells how sure that is.", name, v.Percent(g.Pct),
			s.Practice(a.Reference))}
	}
	if a.Response == trials.Syrup {
		return []string{v.Text("%s gave %s more syrup a tap than %s (95 %% interval %s).", name, v.Percent(g.Pct),
			s.Practice(a.Reference), v.PercentRange(g.LowPct, g.HighPct))}
	}
	return []string{v.Text("%s gave %s more sap a tap than %s (95 %% interval %s).", name, v.Percent(g.Pct),
		s.Practice(a.Reference), v.PercentRange(g.LowPct, g.HighPct))}
}

func capital(text string) string {
	r, n := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(r)) + text[n:]
}

// seasonPart is one season on the page of a trial.
func (s desk) seasonPart(t trials.Trial, view show.SeasonView, n *int) seasonPart {
	v, year := s.Voice, view.Record.Season
	files := url.Values{"name": {t.Name}}
	part := seasonPart{Title: v.Text("Season %s", v.Year(year)), Year: year, Notes: v.Notes(view.Total.Notes),
		Read: page.ReadAddress(t.Name, year)}
	part.Figure = filed(&show.View{V: v, Seasons: []show.SeasonView{view}}, "season-"+strconv.Itoa(year), files)
	if runs := tablesAt(files, view.Runs()); len(runs) > 0 {
		part.Runs = &runs[0]
	}
	table := view.Findings()
	for _, row := range table.Rows {
		*n++
		f := finding{Trial: t.Name, ID: row.ID, Season: strconv.Itoa(year), Seen: s.Have.Sight(), N: *n}
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
func (s desk) view(t trials.Trial, a *compare.Analysis, summed *harvest.Summed) *show.View {
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

// Where a trial's figures and tables stand as files.
const (
	trialFigures = "/trials/figure"
	trialTables  = "/trials/table"
)

// filed is a figure of a trial with the addresses of its files.
func filed(w *show.View, name string, q url.Values) *page.Figured {
	if f, there := w.Figure(name); there {
		return page.FigureAt(trialFigures, f, q)
	}
	return nil
}

// tablesAt are tables with the addresses of their files; those without rows are left out.
func tablesAt(q url.Values, list ...show.Table) []page.Tabled {
	var out []page.Tabled
	for _, t := range list {
		if len(t.Rows) > 0 {
			out = append(out, page.TableAlone(t).At(trialTables, t.ID, q))
		}
	}
	return out
}

// asked is the view of the trial that an address names, with what its file is made of; false where there is none such.
func (s desk) asked(q url.Values) (*show.View, bool) {
	t, ok := s.Trial(q.Get("name"))
	if !ok {
		return nil, false
	}
	t = s.how(t, q)
	a, summed, err := s.Memo.Trial(t, s.Input.Practices)
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
func (s desk) trialFigure(w http.ResponseWriter, r *http.Request) {
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	if view, ok := s.asked(r.URL.Query()); ok {
		if f, there := view.Figure(name); there {
			s.SendFigure(w, r, f, kind, time.Time{}, name+"."+kind)
			return
		}
	}
	s.Missing(w, r)
}

// trialTable answers with a table of a trial as a file.
func (s desk) trialTable(w http.ResponseWriter, r *http.Request) {
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	if view, ok := s.asked(r.URL.Query()); ok {
		if t, there := view.Table(name); there {
			s.SendTable(w, r, t, kind, name+"."+kind)
			return
		}
	}
	s.Missing(w, r)
}

// layout answers with the map of a trial and the plastic to keep for it.
func (s desk) layout(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	t, ok := s.Trial(r.URL.Query().Get("name"))
	if !ok || len(t.Records) == 0 {
		s.Missing(w, r)
		return
	}
	p := page.Page{Here: "/trials",
		Back: &page.Link{Name: v.Text("Back to the trial %s", t.Name), Href: page.TrialAddress(t.Name)}}
	type body struct {
		Maps   []mapped
		Sheets []page.Link
		Tables []page.Tabled
		Notes  []string
	}
	if t.Question == nil {
		p.Lead = []string{v.Text("One block is worked in one day by one crew. The layout was taken from a file.")}
		p.Body = body{Maps: s.mapOf(s.laidOut(t)), Sheets: s.sheetLinks(t)}
		s.Show(w, "layout", v.Text("Layout of %s", t.Name), p)
		return
	}
	l, err := design.Draw(*t.Question, s.Input.Practices)
	if err != nil {
		page.Fail(w, http.StatusInternalServerError, v.Notes(page.Faults(err))...)
		return
	}
	view := &show.View{V: v, Layout: &show.LayoutView{L: l, V: v, Set: s.Input.Practices}}
	lead := []string{v.Text("One block is worked in one day by one crew. The layout can be drawn again from seed %s.",
		strconv.FormatUint(l.Seed, 10))}
	if t.Question.Blind {
		lead = append(lead, v.Text("This page says which practice each code stands for: keep it from whoever reads "+
			"the counters."))
	}
	q := url.Values{"name": {t.Name}}
	p.Lead, p.Body = lead, body{s.mapOf(l), s.sheetLinks(t),
		slices.Concat(tablesAt(q, view.TablesAt("layout", show.Page)...),
			tablesAt(q, view.TablesAt("layout", show.Closer)...)), v.Notes(l.Notes)}
	s.Show(w, "layout", v.Text("Layout of %s", t.Name), p)
}

// laidOut is a trial's units as a layout, where they were not drawn here: of its first season alone where all are
// alike.
func (s desk) laidOut(t trials.Trial) *trials.Layout {
	l := &trials.Layout{Question: trials.Question{Reference: cmp.Or(t.Options.Reference, practice.Unsanitized),
		Design: trials.Latin}}
	alike := func(a, b trials.Plot) bool { return a.Unit == b.Unit && a.Block == b.Block && a.Practice == b.Practice }
	if !slices.ContainsFunc(t.Records,
		func(r trials.Record) bool { return !slices.EqualFunc(r.Plots, t.Records[0].Plots, alike) }) {
		l.Design = trials.Blocks
	}
	for _, r := range t.Records {
		for _, p := range r.Plots {
			l.Places = append(l.Places,
				trials.Place{Unit: trials.Unit{Name: p.Unit, Block: p.Block, Taps: p.Taps}, Season: r.Season,
					Practice: p.Practice})
		}
	}
	return l
}

// decide keeps what the user decided about a finding, and why.
func (s desk) decide(w http.ResponseWriter, r *http.Request) {
	f := r.PostForm
	t, ok := s.Trial(f.Get("name"))
	year, _ := strconv.Atoi(f.Get("season"))
	if !ok {
		s.Missing(w, r)
		return
	}
	refuse := func(tr page.Trouble) { s.ofTrial(w, r, url.Values{"name": {t.Name}}, tr) }
	d, err := harvest.Decide(t, year, f.Get("finding"), f.Get("do") == "out", page.Clean(f.Get("reason")))
	if err != nil {
		refuse(page.Refused(s.Said(page.Faults(err))...))
		return
	}
	if err := s.Save(r.PostForm, s.Voice.Text("decided about %s of %s", d.Finding, t.Name), page.Seen(r.PostForm), true,
		book.Keep(book.Log(t.Name, year, d))); err != nil {
		tr, _ := s.Troubled(err, nil)
		refuse(tr)
		return
	}
	page.SeeOther(w, r, page.TrialAddress(t.Name)+"#season-"+strconv.Itoa(year))
}
