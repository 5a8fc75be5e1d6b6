// Package look is where a reader looks at the answer and tries what would change it: the pages of the answer, what is
// tried in their addresses, and their figures, tables and reports as files.
package look

import (
	"cmp"
	"embed"
	"html/template"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/trade/practice"
	"spile/internal/view/markup"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
	"spile/internal/view/worksheet"
)

//go:embed *.html
var Files embed.FS

// Room is the room over one answer.
type Room struct {
	*page.Site
	*settings
}

// New is the room over a site that has an answer.
func New(s *page.Site) *Room { return &Room{s, newSettings(s)} }

// place is one of the pages.
type place struct {
	path, name string
	why, says  string // the work that it is part of, and what is there
	closer     bool   // one click deeper: what a statistician asks for
	lead       func(d *drawn) []string
	fields     func(s *settings) (open, more []*setting) // what it lets try: at once, and on request
	deeper     func(s *settings) (open, more []*setting) // what its closer look does; nil: the same
}

// medium and key are where the catalogue of figures and tables has what stands on it.
func (p place) medium() show.Medium {
	if p.closer {
		return show.Closer
	}
	return show.Page
}

func (p place) key() string { return strings.TrimPrefix(p.path, "/") }

func (p place) needs() show.Need { return show.NeedsAt(p.medium(), p.key()) }

// address is that of the page, or of its closer look.
func (p place) address() string {
	if p.closer {
		return p.path + "/closer"
	}
	return p.path
}

// drawn is an answer on its way to a page.
type drawn struct {
	*whatIf
	view *show.View
}

// spread is a figure with its tables, or tables alone.
type spread struct {
	Figure *page.Figured
	Tables []page.Tabled
}

// pages are those of the room in their order.
func (s *Room) pages() (all []place) {
	v := s.Voice
	answer, why := v.Text("The answer"), v.Text("Why")
	if s.Priced() {
		all = append(all,
			place{path: "/profit", name: v.Text("Profit"), why: answer, fields: (*settings).money,
				says: v.Text("what each practice nets, and any price changed"),
				lead: func(d *drawn) []string { return d.view.Recommendation() }},
			place{path: "/sure", name: v.Text("How sure"), why: answer, fields: (*settings).money,
				deeper: (*settings).mapped,
				says:   v.Text("chances, poor seasons, what it hangs on"),
				lead:   func(d *drawn) []string { return d.view.Certainty() }},
		)
	}
	all = append(all,
		place{path: "/evidence", name: v.Text("Evidence"), why: why, fields: (*settings).leaving,
			lead: (*drawn).counted, says: v.Text("every study; leave one out")},
		place{path: "/gains", name: v.Text("Gains"), why: why, fields: (*settings).statistics,
			lead: (*drawn).mostSap,
			says: v.Text("how much more sap, and why so much")},
		place{path: "/rotation", name: v.Text("Rotation"), why: why, fields: (*settings).rotating,
			says: v.Text("how drops age, how often to replace them"),
			lead: func(d *drawn) []string {
				return []string{cmp.Or(d.view.Flat(), v.Text("How drops age cannot be told from these studies."))}
			}},
		place{path: "/trust", name: v.Text("Trust"), why: why, fields: (*settings).statistics,
			says: v.Text("whether the studies can be relied on"),
			lead: func(d *drawn) []string { return d.view.Standing() }},
	)
	if s.Priced() {
		all = append(all, place{path: "/next-trial", name: v.Text("Next trial"), why: v.Text("Our trials"),
			says: v.Text("which trial is worth its cost"), fields: (*settings).concerned,
			lead: func(d *drawn) []string { return d.view.NextTrial() }})
	}
	return all
}

// Places are the pages of the room for the head.
func (s *Room) Places() (list []page.Place) {
	v := s.Voice
	if s.Priced() {
		list = append(list, page.Place{Path: "/", Name: v.Text("Overview"), Group: v.Text("The answer"),
			Says: v.Text("the answer on one page")})
	}
	for _, p := range s.pages() {
		list = append(list, page.Place{Path: p.path, Name: p.name, Group: p.why, Says: p.says})
	}
	return list
}

// Routes are the pages that show what the input says, their figures and tables as files, and the report.
func (s *Room) Routes(m *page.Routes) {
	get := func(path string, do http.HandlerFunc) { m.Get(path, s.IfNew(do)) }
	for _, p := range s.pages() {
		get(p.path, s.page(p))
		if p.closer = true; p.needs() != 0 {
			if p.deeper != nil {
				p.fields = p.deeper
			}
			get(p.address(), s.page(p))
		}
	}
	if s.Priced() {
		m.Get("/{$}", s.front) // it tells what waits, which is not part of the state
		get("/profit/budget/{option...}", s.budget)
		get(page.Worksheet, s.worksheet)
	}
	get("/gains/why/{practice}", s.why)
	get("/figure/{file}", s.figure)
	get("/table/{file}", s.table)
	get("/report.html", s.report(page.HTML, report.HTML))
	get("/report.pdf", s.report(page.PDF, report.PDF))
	get("/slides.pdf", s.report(page.PDF, report.Talk{}.PDF))
	get("/slides.pptx", s.report(page.PPTX, report.Talk{}.Deck))
}

// page answers with one of the pages.
func (s *Room) page(p place) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		t := s.tryRanked(r.URL.Query())
		if len(t.faults) == 0 {
			// One address for one question: what is as the files have it does not stand in it.
			canonical := t.good
			if t.moving {
				canonical = maps.Clone(canonical)
				canonical.Set(page.MovingKey, "yes")
			}
			if canonical := canonical.Encode(); canonical != normal(r.URL.RawQuery) {
				http.Redirect(w, r, page.WithQuery(r.URL.Path, canonical), http.StatusSeeOther)
				return
			}
		}
		if p.needs()&show.Checked != 0 && s.waits(w, r, p, t) {
			return
		}
		if err := s.ask(t, p.needs()); err != nil {
			t.faults[""] = s.Voice.Text("This could not be worked out: %s", err.Error())
		}
		d := &drawn{whatIf: t, view: show.Of(t.answer, s.Voice)}
		s.render(w, r, p, d, s.spreads(p, d))
	}
}

// patience is how long a page may be worked out before a reader is told that it takes longer.
const patience = time.Second

// waits answers a reader whose page takes longer to be worked out: it says so, and comes again by itself. A script that
// asks for a page waits for it.
func (s *Room) waits(w http.ResponseWriter, r *http.Request, p place, t *whatIf) bool {
	if r.Header.Get("Sec-Fetch-Dest") != "document" || len(t.faults) > 0 {
		return false
	}
	ready := make(chan struct{})
	a, all := t.answer, t.everything()
	go func() {
		defer close(ready)
		p.needs().Ask(s.Memo, a, all)
	}()
	select {
	case <-ready:
		return false
	case <-time.After(patience):
	}
	w.Header().Set("Refresh", "2")
	w.Header().Del("ETag") // it is not the page yet
	p.lead = func(d *drawn) []string {
		return []string{s.Voice.Text("Each of %d studies is being left out in turn, and every other check asks the "+
			"whole answer again. The page comes by itself as soon as that is done.", a.Pool.Studies)}
	}
	s.render(w, r, p, &drawn{whatIf: t, view: show.Of(a, s.Voice)}, []spread{{}})
	return true
}

// spreads are what stands on a page; of a closer look the first stays empty, as no figure goes beside what is tried.
func (s *Room) spreads(p place, d *drawn) []spread {
	var list []spread
	if p.closer {
		list = append(list, spread{})
	}
	for _, x := range d.view.Spreads(p.medium(), p.key()) {
		var here spread
		for _, f := range x.Figures {
			here.Figure = page.FigureAt("/figure", f, d.good)
		}
		for _, t := range x.Tables {
			if p.closer {
				here.Tables = append(here.Tables, d.table(t, nil))
			} else {
				here.Tables = append(here.Tables, s.marked(d, t))
			}
		}
		list = append(list, here)
	}
	if len(list) == 0 {
		list = []spread{{}}
	}
	return list
}

// normal is a query in the order in which addresses are written.
func normal(query string) string {
	q, err := url.ParseQuery(query)
	if err != nil {
		return query + " " // not what we would write
	}
	return q.Encode()
}

func (s *Room) render(w http.ResponseWriter, r *http.Request, p place, d *drawn, spreads []spread) {
	q := d.good.Encode()
	open, more := p.fields(s.settings)
	var here []*setting
	here = append(append(here, open...), more...)
	data := struct {
		Frame page.Frame
		Path  string
		Lead  []string
		// what is tried recommends, unless the page begins with it; what the files as they stand recommend, where what
		// is tried recommends otherwise
		Now, Files     string
		Stand          bool // what can be tried stands beside the figure; else it is folded
		Closer         *page.Link
		Back           *page.Link
		Open           []page.Field
		More           []group
		Carried        []page.Picked // tried on another page: value under a key
		Tried          []page.Field
		Elsewhere      []page.Field // tried on another page
		Fault          string
		Faulty         bool
		Quick          bool // a quick look is enough while a number is being changed
		Last, ResetAll string
		Keep           *keeping // of a workbook
		Aside          []string
		Doors          []page.Link
		First          spread   // its figure beside what can be tried and its tables
		Spreads        []spread // the rest, one under the other
		Warnings       []show.Warned
		Said           string
	}{
		Frame: s.Frame(p.name, q, p.path), Path: r.URL.Path,
		Open: s.fields(d, r.URL.Path, open), More: s.grouped(d, r.URL.Path, more),
		Fault: d.faults[""], Faulty: len(d.faults) > 0, Quick: p.needs()&(show.Chances|show.Trials) != 0,
		Last: q, ResetAll: r.URL.Path, Stand: r.URL.Path == "/profit" || r.URL.Path == "/next-trial",
		First: spreads[0], Spreads: spreads[1:], Warnings: d.view.Warned(),
	}
	if s.Book != nil {
		data.Keep = &keeping{Seen: s.Have.Sight().String(), From: r.URL.Path, Can: s.keepable(d.whatIf)}
	}
	switch {
	case r.URL.Path == "/evidence":
		data.Aside, data.Doors = s.evidenceDoors()
	case r.URL.Path == "/trust" && s.Book != nil:
		data.Doors = []page.Link{{Name: s.Voice.Text("How studies were looked for"), Href: "/search"}}
	}
	if p.lead != nil {
		data.Lead = p.lead(d)
	}
	if deeper := (place{path: p.path, closer: true}); !p.closer && deeper.needs() != 0 {
		data.Closer = &page.Link{Name: s.Voice.Text("A closer look, for the statistician"),
			Href: page.WithQuery(deeper.address(), q)}
	}
	if r.URL.Path != p.path {
		data.Back = &page.Link{Name: s.Voice.Text("Back to the page %s", p.name), Href: page.WithQuery(p.path, q)}
	}
	for _, set := range s.all {
		value, tried := d.tried[set.key]
		if !tried {
			continue
		}
		fields := s.fields(d, r.URL.Path, []*setting{set})
		data.Tried = append(data.Tried, fields...)
		if slices.Contains(here, set) || set.key == "exclude" && r.URL.Path == "/evidence" {
			continue
		}
		data.Elsewhere = append(data.Elsewhere, fields...)
		for _, x := range value {
			data.Carried = append(data.Carried, page.Picked{Option: page.Opt(set.key, x)})
		}
		if len(value) == 0 {
			data.Carried = append(data.Carried, page.Picked{Option: page.Opt(set.key, "")})
		}
	}
	now, files := d.view.Recommendation(), s.View.Recommendation()
	if len(d.good) > 0 && now[0] != files[0] {
		data.Files = files[0]
		if p.path != "/profit" {
			data.Now = now[0]
		}
	}
	data.Said = data.Fault
	for _, set := range s.all {
		if f := d.faults[set.key]; f != "" {
			data.Said = strings.TrimSpace(data.Said + " " + s.Voice.Text("%s: %s", set.label, f))
		}
	}
	if data.Said == "" {
		data.Said = strings.Join(data.Lead, " ")
	}

	body, ok := s.Make(w, "answer", data)
	switch {
	case !ok:
	case data.Faulty:
		w.Header().Del("ETag")
		w.Header().Set("Content-Type", page.HTML)
		w.WriteHeader(http.StatusUnprocessableEntity)
		w.Write(body)
	default:
		page.Send(w, r, page.HTML, body)
	}
}

// tables makes tables into HTML; those without rows and notes are left out.
func (d *drawn) tables(list ...show.Table) []page.Tabled {
	var out []page.Tabled
	for _, t := range list {
		if len(t.Rows) > 0 || len(t.Notes) > 0 {
			out = append(out, d.table(t, nil))
		}
	}
	return out
}

func (d *drawn) table(t show.Table, more func(row, column string) template.HTML) page.Tabled {
	m := markup.Marks{Link: d.links(t.ID)}
	if more != nil {
		m.More = func(row, column string) string { return string(more(row, column)) }
	}
	return page.Tabled{HTML: report.Table(d.view.Folded(t), m)}.At("/table", t.ID, d.good)
}

// mostSap is the answer without money, with how much of the gains is just the spout, where the studies tell.
func (d *drawn) mostSap() []string {
	v, said := d.view.V, d.view.MostSap()
	if d.answer.Pool == nil {
		return said
	}
	var parts []string
	for _, s := range d.answer.Pool.Shares {
		if s.Practice == practice.NewSpout && s.Share != nil && *s.Low > 0 {
			parts = append(parts, v.Text("%s (%s) of that of %s", v.Percent(100**s.Share),
				v.PercentRange(100**s.Low, 100**s.High), d.view.Practice(s.Of)))
		}
	}
	if len(parts) > 0 {
		said = append(said, v.Text("The new spout by itself explains part of the other gains: %s.", v.List(parts)))
	}
	return said
}

// counted says what the answer rests on.
func (d *drawn) counted() []string {
	v := d.view.V
	first, last := 0, 0
	for _, e := range d.answer.Effects.Studies {
		all := e.AllSeasons()
		if first == 0 || all[0] < first {
			first = all[0]
		}
		last = max(last, all[len(all)-1])
	}
	var out []string
	for _, o := range d.answer.Effects.Out {
		if o.Practice == "" && !slices.Contains(out, o.Study) {
			out = append(out, o.Study)
		}
	}
	p := d.answer.Pool
	if p == nil {
		return nil
	}
	return []string{v.Text("The answer rests on %s at %s, %s; %s kept but left out.", v.Text("%d studies", p.Studies),
		v.Text("%d sites", p.Sites), v.Seasons(first, last), v.Text("%d studies", len(out)))}
}

// changing are the columns that show, beside what is tried, what stood there with the files as they stand.
var changing = map[string]string{"ranking": "net_today", "gains": "gain_pct", "rotation": "net"}

// marked is a table with what a reader can do in it, or what stood there before.
func (s *Room) marked(d *drawn, t show.Table) page.Tabled {
	if column := changing[t.ID]; column != "" {
		files, _ := s.View.Table(t.ID)
		return d.table(t, s.before(t, files, column))
	}
	if t.ID == "evidence" {
		t.Lead += " " + s.Voice.Text("Tick a study to leave it out.")
		return d.table(t, s.ticks(d))
	}
	return d.table(t, nil)
}

// links are where the numbers of a table are taken apart: a gain into its parts, a net into its lines, a chance into
// what it hangs on.
func (d *drawn) links(table string) func(row, column string) string {
	q, sure := d.good.Encode(), "/sure"
	options, gains := map[string]practice.Key{}, map[practice.Key]bool{}
	for _, o := range d.answer.Ranking {
		options[o.ID()] = o.Practice
	}
	if d.answer.Pool != nil {
		for _, g := range d.answer.Pool.Gains {
			gains[g.Treatment.Practice] = true
		}
	}
	return func(row, column string) string {
		k, option := options[row]
		if !option {
			k = practice.Key(row)
		}
		if table == "rotation" {
			row = string(practice.NewDrop) + "/" + row
			k, option = options[row]
		}
		switch column {
		case "gain_pct":
			if gains[k] {
				return page.WithQuery("/gains/why/"+string(k), q)
			}
		case "net", "net_today", "net_unsanitized", "mean":
			if option && d.answer.Input.Prices != nil {
				return page.WithQuery("/profit/budget/"+row, q)
			}
		case "best_pct", "lose_pct", "beat_spouts_pct":
			if option {
				return page.WithQuery(sure, q) + "#figure-swings"
			}
		}
		return ""
	}
}

// why is the page of one gain taken apart.
func (s *Room) why(w http.ResponseWriter, r *http.Request) {
	t := s.tryRanked(r.URL.Query())
	k := practice.Key(r.PathValue("practice"))
	if a, err := s.Memo.Why(t.answer, k); err == nil && len(a.Why) > 0 {
		t.answer = a
		d := &drawn{whatIf: t, view: show.Of(a, s.Voice)}
		p := place{path: "/gains", name: s.Voice.Text("Gains"), fields: (*settings).statistics,
			lead: func(*drawn) []string { return d.view.Explanation(k) }}
		s.render(w, r, p, d, []spread{{Tables: d.tables(d.view.Parts(k))}})
		return
	}
	s.Missing(w, r)
}

// ticks are the boxes by which a study is left out, and in a workbook the links to edit it.
func (s *Room) ticks(d *drawn) func(row, column string) template.HTML {
	boxes := s.boxes(d)
	if s.Book == nil {
		return boxes
	}
	doors := s.editDoors()
	return func(row, column string) template.HTML { return boxes(row, column) + doors(row, column) }
}

// boxes gives each study in a table a box that leaves it out; its further rows have room in its place.
func (s *Room) boxes(d *drawn) func(row, column string) template.HTML {
	set := s.byKey["exclude"]
	out, tried := d.tried["exclude"]
	if !tried {
		out = set.files
	}
	seen, at, left := map[string]bool{}, map[string]int{}, map[string]bool{}
	for i, o := range set.options {
		at[o.Value] = i
	}
	for _, name := range out {
		left[name] = true
	}
	return func(row, column string) template.HTML {
		i, known := at[row]
		switch {
		case column != "study" || !known:
			return ""
		case seen[row]:
			return s.Fragment("no box", nil)
		}
		seen[row] = true
		return s.Fragment("leave out", struct {
			N     int
			Study string
			Out   bool
		}{i, row, left[row]})
	}
}

// editDoors leads from each study in a table to where it is edited, from a trial to the trial.
func (s *Room) editDoors() func(row, column string) template.HTML {
	v, seen := s.Voice, map[string]bool{}
	return func(row, column string) template.HTML {
		if column != "practice" || seen[row] {
			return ""
		}
		seen[row] = true
		door := struct{ Href, Label, Name string }{page.StudyAddress(row), v.Text("edit %s", row), v.Text("edit")}
		if _, trial := s.Trial(row); trial {
			door.Href, door.Label, door.Name = page.TrialAddress(row), v.Text("the trial %s", row), v.Text("trial")
		}
		return s.Fragment("edit", door)
	}
}

// evidenceDoors are the ways from the page Evidence to those that change it, or how to come to have them.
func (s *Room) evidenceDoors() (said []string, doors []page.Link) {
	v := s.Voice
	if s.Book == nil {
		return []string{v.Text("These are files, and stay as they are. To add and change studies in the browser, "+
			"take them into a workbook: %s, then %s, then %s.",
			"spile new station.spile", "spile add station.spile evidence.csv prices.toml",
			"spile serve station.spile")}, nil
	}
	return nil, []page.Link{{Name: v.Text("Add a study"), Href: "/study"},
		{Name: v.Text("Upload a file or paste rows"), Href: "/take"},
		{Name: v.Text("All studies, and why some are left out"), Href: "/workbook"},
		{Name: v.Text("How studies were looked for"), Href: "/search"},
		{Name: v.Text("History"), Href: "/history"}}
}

// budget is the page of one option's budgets.
func (s *Room) budget(w http.ResponseWriter, r *http.Request) {
	t := s.try(r.URL.Query())
	d := &drawn{whatIf: t, view: show.Of(t.answer, s.Voice)}
	for _, o := range t.answer.Ranking {
		if o.ID() == r.PathValue("option") {
			p := place{path: "/profit", name: s.Voice.Text("Profit"), fields: (*settings).money,
				lead: func(*drawn) []string { return s.option(d, o) }}
			s.render(w, r, p, d, []spread{{Tables: d.tables(d.view.Budget(o, true), d.view.Budget(o, false))}})
			return
		}
	}
	s.Missing(w, r)
}

// option says of one option what it nets, and why it is held back.
func (s *Room) option(d *drawn, o advice.Option) []string {
	v, money := s.Voice, s.Input.Prices.Currency
	net := func(c advice.Compared) string {
		switch {
		case c.NetLow == c.NetHigh:
			return v.Money(c.Average(), money)
		case o.With != "": // no study holds it, and it has no interval
			return v.Text("%s (range %s)", v.Money(c.Average(), money), v.MoneyRange(c.NetLow, c.NetHigh, money))
		}
		return v.Text("%s (95 %% interval %s)", v.Money(c.Average(), money), v.MoneyRange(c.NetLow, c.NetHigh, money))
	}
	said := []string{v.Text("Budget of %s: on average over what is unsure it nets %s a tap and season against "+
		"today's practice; against unsanitized, %s.", d.view.Option(o), net(o.Today), net(o.Unsanitized))}
	return append(said, v.Notes(o.Reasons)...)
}

// figure answers with a figure as a file: name.svg or name.png, ?for=page, phone or slide.
func (s *Room) figure(w http.ResponseWriter, r *http.Request) {
	f, kind, t, there := exhibit(s, w, r, show.Figures, (*show.View).Figure)
	if !there {
		return
	}
	date := report.About(t.answer, s.Voice, s.Version).Date
	s.SendFigure(w, r, f, kind, date, t.fileName(r.PathValue("file")))
}

// exhibit is the figure or table that a file is asked of, the kind of file, and what is tried; where there is none it
// answers itself.
func exhibit[L, T any](s *Room, w http.ResponseWriter, r *http.Request, list []show.Exhibit[L],
	of func(*show.View, string) (T, bool)) (x T, kind string, t *whatIf, there bool) {
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	listed, _, found := show.Find(list, name)
	t = s.tryRanked(r.URL.Query())
	if found && (s.refused(w, t) || s.unanswered(w, t, listed.Needs)) {
		return x, kind, t, false
	}
	if x, there = of(show.Of(t.answer, s.Voice), name); !there {
		s.Missing(w, r)
	}
	return x, kind, t, there
}

// table answers with a table as CSV or as a spreadsheet.
func (s *Room) table(w http.ResponseWriter, r *http.Request) {
	table, kind, t, there := exhibit(s, w, r, show.Tables, (*show.View).Table)
	if !there {
		return
	}
	if changes := strings.Join(s.changes(t), "; "); changes != "" {
		tried := show.Column{ID: "tried", Name: s.Voice.Text("Tried, and not as the files stand")}
		table.Columns = append(table.Columns, tried)
		for i := range table.Rows {
			table.Rows[i].Cells = append(table.Rows[i].Cells, show.Cell{Text: changes})
		}
	}
	s.SendTable(w, r, table, kind, t.fileName(r.PathValue("file")))
}

// unanswered asks of what is tried what a figure or a table needs, and answers itself where that fails.
func (s *Room) unanswered(w http.ResponseWriter, t *whatIf, need show.Need) bool {
	err := s.ask(t, need)
	if err != nil {
		page.Fail(w, http.StatusUnprocessableEntity, s.Said(page.Faults(err))...)
	}
	return err != nil
}

// report answers with the report, or with the slides of a talk.
func (s *Room) report(kind string,
	make func(a *advice.Advice, v *say.Voice, version string, tried ...string) ([]byte, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		t := s.try(r.URL.Query())
		if s.refused(w, t) {
			return
		}
		a, err := show.Whole.Ask(s.Memo, t.answer, t.everything())
		var body []byte
		if err == nil {
			body, err = make(a, s.Voice, s.Version, s.changes(t)...)
		}
		if err != nil {
			http.Error(w, s.Voice.Text("The report could not be made: %s", err.Error()), http.StatusInternalServerError)
			return
		}
		if kind == page.HTML {
			w.Header().Set("Content-Security-Policy", page.AloneCSP)
		} else {
			page.Attach(w, t.fileName(strings.TrimPrefix(r.URL.Path, "/")))
		}
		page.Send(w, r, kind, body)
	}
}

// changes says what is tried, a line each.
func (s *Room) changes(t *whatIf) []string {
	var lines []string
	for _, set := range s.all {
		if value, ok := t.tried[set.key]; ok {
			now, unit := s.shown(set, value), ""
			if set.kind == page.Number {
				unit = "\u00a0" + set.unit
			}
			was := s.shown(set, set.files) + unit
			if s.Book != nil {
				lines = append(lines, s.Voice.Text("%s: %s; the workbook has %s", set.label, now+unit, was))
			} else {
				lines = append(lines, s.Voice.Text("%s: %s; the files have %s", set.label, now+unit, was))
			}
		}
	}
	return lines
}

// refused answers a download whose address is at fault: a file with other numbers than asked for would mislead.
func (s *Room) refused(w http.ResponseWriter, t *whatIf) bool {
	if len(t.faults) == 0 {
		return false
	}
	var lines []string
	for key, f := range t.faults {
		if key != "" {
			f = s.Voice.Text("%s: %s", key, f)
		}
		lines = append(lines, f)
	}
	slices.Sort(lines)
	page.Fail(w, http.StatusUnprocessableEntity, lines...)
	return true
}

// fileName is the name of a file; of one of numbers that are only tried it says so.
func (t *whatIf) fileName(name string) string {
	if len(t.tried) > 0 {
		stem, ending, _ := strings.Cut(name, ".")
		return stem + "-tried." + ending
	}
	return name
}

// worksheet answers with the money as a spreadsheet, at what is tried.
func (s *Room) worksheet(w http.ResponseWriter, r *http.Request) {
	t := s.tryRanked(r.URL.Query())
	if s.refused(w, t) {
		return
	}
	body, err := worksheet.Write(t.answer, s.Voice)
	if err != nil {
		http.Error(w, s.Voice.Text("This could not be worked out: %s", err.Error()), http.StatusInternalServerError)
		return
	}
	page.Attach(w, t.fileName(strings.TrimPrefix(page.Worksheet, "/")))
	page.Send(w, r, page.XLSX, body)
}
