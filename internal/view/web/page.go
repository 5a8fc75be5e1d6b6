package web

import (
	"bytes"
	"cmp"
	"embed"
	"html/template"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/view/figure"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

//go:embed page.html edit.html trials.html rules.html sugarbush.html
var sources embed.FS

func (s *site) templates() (*template.Template, error) {
	return template.New("page.html").Funcs(template.FuncMap{
		"t": s.Voice.Text, "was": s.was, "editable": func() bool { return s.Book != nil }, "list": s.Voice.List,
		"deciding": func(seen int64, name string, f finding) deciding { return deciding{seen, name, f} },
	}).ParseFS(sources, "page.html", "edit.html", "trials.html", "rules.html", "sugarbush.html")
}

// was says what stands where something is tried.
func (s *site) was(text string) string {
	if s.Book != nil {
		return s.Voice.Text("workbook: %s", text)
	}
	return s.Voice.Text("files: %s", text)
}

// place is one of the pages.
type place struct {
	path, name string
	closer     bool                           // one click deeper: what a statistician asks for
	links      func(s *site, d *drawn) spread // to more, behind its first spread; nil: nothing
	lead       func(d *drawn) []string
	fields     func(s *site) (open, more []*setting) // nil: a page that does not stand on the answer alone
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
	*trial
	view *show.View
}

// spread is a figure with its tables, or tables alone.
type spread struct {
	Figure *figured
	Tables []tabled
	Links  []link
	Title  string
}

type figured struct {
	HTML                 template.HTML
	SVG, PNG, Slide, PDF string // addresses of the figure as a file
	Short                bool   // fits a screen, so it can stay in sight
}

type tabled struct {
	HTML      template.HTML
	CSV, XLSX string // addresses of the table as a file
}

type link struct {
	Name, Href string
	Here       bool
}

// field is a setting on a page.
type field struct {
	Key, ID, Label, Unit string
	Kind                 kind
	Value                string // as it stands in the form
	Shown                string // as it is told
	Options              []picked
	Changed              bool
	Was                  string
	Fault                string
	Reset                string
}

// group is fields under one heading.
type group struct {
	Name   string
	Fields []field
}

type picked struct {
	option
	ID   string
	Here bool
}

func (s *site) priced() bool { return s.Input.Prices != nil && len(s.base.Ranking) > 0 }

// nav lists the pages in their order; the first is the front.
func (s *site) nav() (list []place) {
	v := s.Voice
	var all []place
	if s.desk != nil {
		defer func() {
			list = append(list, place{path: "/trials", name: v.Text("Trials")}, place{path: "/workbook", name: v.Text("Workbook")})
		}()
	}
	if s.base == nil {
		return nil
	}
	if s.priced() {
		all = append(all,
			place{path: "/profit", name: v.Text("Profit"), links: (*site).budgets, fields: (*site).money,
				lead: func(d *drawn) []string { return d.view.Recommendation() }},
			place{path: "/sure", name: v.Text("How sure"), fields: (*site).mapped,
				lead: func(d *drawn) []string { return d.view.Certainty() }},
			place{path: "/next-trial", name: v.Text("Next trial"), fields: (*site).concerned,
				lead: func(d *drawn) []string { return d.view.NextTrial() }},
		)
	}
	defer func() {
		if s.priced() {
			list = append(list, place{path: "/sugarbush", name: v.Text("Sugarbush")}, place{path: "/handout", name: v.Text("Handout")})
		}
	}()
	return append(all,
		place{path: "/gains", name: v.Text("Gains"), fields: (*site).statistics, lead: (*drawn).mostSap},
		place{path: "/rotation", name: v.Text("Rotation"), fields: (*site).rotating,
			lead: func(d *drawn) []string {
				return []string{cmp.Or(d.view.Flat(), v.Text("How drops age cannot be told from these studies."))}
			}},
		place{path: "/evidence", name: v.Text("Evidence"), fields: (*site).leaving, lead: (*drawn).counted},
	)
}

// page answers with one of the pages.
func (s *site) page(p place) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		t := s.tryRanked(r.URL.Query())
		if len(t.faults) == 0 {
			// One address for one question: what is as the files have it does not stand in it.
			canonical := t.good
			if t.moving {
				canonical = maps.Clone(canonical)
				canonical.Set(movingKey, "yes")
			}
			if canonical := canonical.Encode(); canonical != normal(r.URL.RawQuery) {
				http.Redirect(w, r, withQuery(r.URL.Path, canonical), http.StatusSeeOther)
				return
			}
		}
		if err := s.ask(t, p.needs()); err != nil {
			t.faults[""] = s.Voice.Text("This could not be worked out: %s", err.Error())
		}
		d := &drawn{trial: t, view: show.Of(t.answer, s.Voice)}
		s.render(w, r, p, d, s.spreads(p, d))
	}
}

// spreads are what stands on a page; of a closer look the first stays empty, as no figure goes beside what is tried.
func (s *site) spreads(p place, d *drawn) []spread {
	var list []spread
	if p.closer {
		list = append(list, spread{})
	}
	for _, x := range d.view.Spreads(p.medium(), p.key()) {
		var here spread
		for _, f := range x.Figures {
			here.Figure = d.figured(f, x.Low)
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
	if p.links != nil {
		list = slices.Insert(list, 1, p.links(s, d))
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

func (s *site) render(w http.ResponseWriter, r *http.Request, p place, d *drawn, spreads []spread) {
	q := d.good.Encode()
	open, more := p.fields(s)
	var here []*setting
	here = append(append(here, open...), more...)
	data := struct {
		Frame          frame
		Path           string
		Lead           []string
		Now, Files     string // what is tried recommends, unless the page begins with it; what the files as they stand recommend, where what is tried recommends otherwise
		Closer         *link
		Back           *link
		Open           []field
		More           []group
		Carried        []picked // tried on another page: value under a key
		Tried          []field
		Elsewhere      []field // tried on another page
		Fault          string
		Faulty         bool
		Quick          bool // a quick look is enough while a number is being changed
		Last, ResetAll string
		Keep           *keeping // of a workbook
		Aside          []string
		Doors          []link
		First          spread   // its figure beside what can be tried and its tables
		Spreads        []spread // the rest, one under the other
		Warnings       []string
		Said           string
	}{
		Frame: s.frame(p.name, q, p.path), Path: r.URL.Path,
		Open: s.fields(d, r.URL.Path, open), More: s.grouped(d, r.URL.Path, more),
		Fault: d.faults[""], Faulty: len(d.faults) > 0, Quick: p.needs()&(show.Chances|show.Trials) != 0,
		Last: q, ResetAll: r.URL.Path,
		First: spreads[0], Spreads: spreads[1:], Warnings: d.view.Warnings(),
	}
	if s.desk != nil {
		data.Keep = &keeping{Seen: s.have.Change, From: r.URL.Path, Can: s.keepable(d.trial)}
	}
	if r.URL.Path == "/evidence" {
		data.Aside, data.Doors = s.evidenceDoors()
	}
	if p.lead != nil {
		data.Lead = p.lead(d)
	}
	if deeper := (place{path: p.path, closer: true}); !p.closer && deeper.needs() != 0 {
		data.Closer = &link{Name: s.Voice.Text("A closer look, for the statistician"), Href: withQuery(deeper.address(), q)}
	}
	if r.URL.Path != p.path {
		data.Back = &link{Name: s.Voice.Text("Back to the page %s", p.name), Href: withQuery(p.path, q)}
	}
	for _, set := range s.settings {
		value, tried := d.tried[set.key]
		if !tried {
			continue
		}
		told := s.fields(d, r.URL.Path, []*setting{set})
		data.Tried = append(data.Tried, told...)
		if slices.Contains(here, set) || set.key == "exclude" && r.URL.Path == "/evidence" {
			continue
		}
		data.Elsewhere = append(data.Elsewhere, told...)
		for _, x := range value {
			data.Carried = append(data.Carried, picked{option: option{set.key, x}})
		}
		if len(value) == 0 {
			data.Carried = append(data.Carried, picked{option: option{set.key, ""}})
		}
	}
	now, files := d.view.Recommendation(), s.baseView.Recommendation()
	if len(d.good) > 0 && now[0] != files[0] {
		data.Files = files[0]
		if p.path != "/profit" {
			data.Now = now[0]
		}
	}
	data.Said = data.Fault
	for _, set := range s.settings {
		if f := d.faults[set.key]; f != "" {
			data.Said = strings.TrimSpace(data.Said + " " + s.Voice.Text("%s: %s", set.label, f))
		}
	}
	if data.Said == "" {
		data.Said = strings.Join(data.Lead, " ")
	}

	var b bytes.Buffer
	if err := s.pages.Execute(&b, data); err != nil {
		http.Error(w, s.Voice.Text("This page could not be made: %s", err.Error()), http.StatusInternalServerError)
		return
	}
	if data.Faulty {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.WriteHeader(http.StatusUnprocessableEntity)
		w.Write(b.Bytes())
		return
	}
	send(w, r, "text/html; charset=utf-8", b.Bytes())
}

// fields are settings as they stand on a page.
func (s *site) fields(d *drawn, path string, settings []*setting) []field {
	var list []field
	for _, set := range settings {
		f := field{Key: set.key, ID: "w-" + set.key, Label: set.label, Unit: set.unit, Kind: set.kind, Fault: d.faults[set.key]}
		value, changed := d.tried[set.key]
		if !changed {
			value = set.files
		}
		typed, bad := d.typed[set.key]
		f.Shown = s.shown(set, value)
		f.Value = f.Shown
		if set.kind == choice {
			f.Value = strings.Join(value, "")
		}
		if bad && len(typed) > 0 && (set.kind == number || set.kind == word) {
			f.Value = typed[len(typed)-1]
		}
		for i, o := range set.options {
			f.Options = append(f.Options, picked{o, f.ID + "-" + strconv.Itoa(i), slices.Contains(value, o.Value)})
		}
		if changed || bad {
			f.Changed = true
			f.Was = s.shown(set, set.files)
			q := d.canonical()
			q.Del(set.key)
			f.Reset = withQuery(path, q.Encode())
		}
		list = append(list, f)
	}
	return list
}

// grouped puts the numbers of the prices under headings, by the head of their keys.
func (s *site) grouped(d *drawn, path string, settings []*setting) []group {
	var list []group
	for _, set := range settings {
		name := s.groupName(set.key)
		f := s.fields(d, path, []*setting{set})
		f[0].Label = s.within(name, f[0].Label)
		if i := slices.IndexFunc(list, func(g group) bool { return g.Name == name }); i >= 0 {
			list[i].Fields = append(list[i].Fields, f...)
		} else {
			list = append(list, group{name, f})
		}
	}
	return list
}

// within is a label without what the heading over it says already.
func (s *site) within(heading, label string) string {
	return strings.TrimPrefix(label, s.Voice.Text("%s: %s", heading, ""))
}

// groupName is the heading of a number of the prices.
func (s *site) groupName(key string) string {
	head, rest, _ := strings.Cut(key, ".")
	switch head {
	case "baseline", "sells":
		return s.Voice.Text("sap and syrup")
	case "material", "chemical":
		return s.Voice.Text("what is bought")
	case "use":
		key, _, _ := strings.Cut(rest, ".")
		for _, p := range s.Input.Practices {
			if string(p.Key) == key {
				return s.baseView.Practice(p.Key)
			}
		}
	}
	return s.Voice.Text("work and capital")
}

// named finds the settings that exist among the keys.
func (s *site) named(keys ...string) []*setting {
	var list []*setting
	for _, k := range keys {
		if t := s.byKey[k]; t != nil && (t.kind != several || len(t.options) > 0) {
			list = append(list, t)
		}
	}
	return list
}

// money is what the page Profit lets a reader try: what moves the answer most at once, every other number below.
func (s *site) money() (open, more []*setting) {
	open = s.named("baseline.yield", "baseline.brix")
	for _, t := range s.settings {
		if strings.HasPrefix(t.key, "sells.") && strings.HasSuffix(t.key, ".price") {
			open = append(open, t)
		}
	}
	open = append(open, s.named("wage", "discount", "today", "place", "organic")...)
	for _, t := range s.settings {
		if s.ofPrices(t) && t.kind == number && !slices.Contains(open, t) {
			more = append(more, t)
		}
	}
	return open, append(s.named("baseline.practice", "all_at_once"), more...)
}

func (s *site) rotating() (open, more []*setting) {
	open, more = s.money()
	return append(s.named("longest"), open...), more
}

func (s *site) statistics() (open, more []*setting) {
	return s.named("variance", "inference", "site", "reports", "moderator", "without"), nil
}

func (s *site) leaving() (open, more []*setting) {
	return s.named("reports", "without"), nil
}

// tables makes tables into HTML; those without rows and notes are left out.
func (d *drawn) tables(list ...show.Table) []tabled {
	var out []tabled
	for _, t := range list {
		if len(t.Rows) > 0 || len(t.Notes) > 0 {
			out = append(out, d.table(t, nil))
		}
	}
	return out
}

func (d *drawn) table(t show.Table, more func(row, column string) template.HTML) tabled {
	html, err := report.Table(t, more)
	if err != nil {
		d.faults[""] = err.Error()
	}
	at := "/table/" + show.FileName(t.ID)
	return tabled{html, withQuery(at+".csv", d.good.Encode()), withQuery(at+".xlsx", d.good.Encode())}
}

// mostSap is the answer without money: which practice gives the most sap, and how much of the gains is just the spout.
func (d *drawn) mostSap() []string {
	v := d.view.V
	a := *d.answer
	a.Input.Prices = nil
	said := show.Of(&a, v).Recommendation()
	if d.answer.Pool == nil {
		return said
	}
	var parts []string
	for _, s := range d.answer.Pool.Shares {
		if s.Practice == "new-spout" && s.Share != nil {
			parts = append(parts, v.Text("%s of that of %s", v.Percent(100**s.Share), d.view.Practice(s.Of)))
		}
	}
	if len(parts) == 0 {
		return said[:1]
	}
	return []string{said[0], v.Text("The new spout by itself explains part of the other gains: %s.", v.List(parts))}
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

func (d *drawn) figured(f show.Drawn, low bool) *figured {
	q := d.good.Encode()
	slide := maps.Clone(d.good)
	slide.Set(sizeKey, "slide")
	at := "/figure/" + f.Name
	return &figured{
		HTML: report.Inline(f), Short: low, SVG: withQuery(at+".svg", q), PNG: withQuery(at+".png", q),
		Slide: withQuery(at+".png", slide.Encode()), PDF: withQuery(at+".pdf", q),
	}
}

// changing are the columns that show, beside what is tried, what stood there with the files as they stand.
var changing = map[string]string{"ranking": "net_today", "gains": "gain_pct", "rotation": "net"}

// marked is a table with what a reader can do in it, or what stood there before.
func (s *site) marked(d *drawn, t show.Table) tabled {
	if column := changing[t.ID]; column != "" {
		files, _ := s.baseView.Table(t.ID)
		return d.table(t, s.before(t, files, column))
	}
	if t.ID == "evidence" {
		t.Lead += " " + s.Voice.Text("Tick a study to leave it out.")
		return d.table(t, s.ticks(d))
	}
	return d.table(t, nil)
}

// budgets are the links to the budgets of what is ranked.
func (s *site) budgets(d *drawn) spread {
	list := spread{Title: s.Voice.Text("Budgets, line by line")}
	for _, i := range d.view.Choices() {
		o := d.answer.Ranking[i]
		list.Links = append(list.Links, link{Name: d.view.Option(o), Href: withQuery("/profit/budget/"+o.ID(), d.good.Encode())})
	}
	return list
}

// ticks are the boxes by which a study is left out, and in a workbook the links to edit it.
func (s *site) ticks(d *drawn) func(row, column string) template.HTML {
	set := s.byKey["exclude"]
	out, tried := d.tried["exclude"]
	if !tried {
		out = set.files
	}
	seen, edited := map[string]bool{}, map[string]bool{}
	box := func(row, column string) template.HTML {
		i := slices.IndexFunc(set.options, func(o option) bool { return o.Value == row })
		if column != "study" || i < 0 {
			return ""
		}
		if seen[row] {
			return `<span class="box"></span>`
		}
		seen[row] = true
		checked := ""
		if slices.Contains(out, row) {
			checked = " checked"
		}
		return template.HTML(`<input type="checkbox" form="tried" name="exclude" id="w-exclude-` + strconv.Itoa(i) + `" value="` + template.HTMLEscapeString(row) +
			`" aria-label="` + template.HTMLEscapeString(s.Voice.Text("leave out %s", row)) + `"` + checked + `>`)
	}
	marks := box
	if s.desk != nil {
		marks = func(row, column string) template.HTML {
			if _, trial := s.findTrial(row); trial && column == "practice" && !edited[row] {
				edited[row] = true
				return template.HTML(` <a class="edit" href="` + template.HTMLEscapeString(trialAddress(row)) + `" aria-label="` +
					template.HTMLEscapeString(s.Voice.Text("the trial %s", row)) + `">` + template.HTMLEscapeString(s.Voice.Text("trial")) + `</a>`)
			}
			if column == "practice" && !edited[row] {
				edited[row] = true
				return template.HTML(` <a class="edit" href="` + template.HTMLEscapeString(studyAddress(row)) + `" aria-label="` +
					template.HTMLEscapeString(s.Voice.Text("edit %s", row)) + `">` + template.HTMLEscapeString(s.Voice.Text("edit")) + `</a>`)
			}
			return box(row, column)
		}
	}
	return marks
}

// budget is the page of one option's budgets.
func (s *site) budget(w http.ResponseWriter, r *http.Request) {
	t := s.try(r.URL.Query())
	d := &drawn{trial: t, view: show.Of(t.answer, s.Voice)}
	for _, o := range t.answer.Ranking {
		if o.ID() == r.PathValue("option") {
			p := place{path: "/profit", name: s.Voice.Text("Profit"), fields: (*site).money, lead: func(*drawn) []string { return s.option(d, o) }}
			s.render(w, r, p, d, []spread{{Tables: d.tables(d.view.Budget(o, true), d.view.Budget(o, false))}})
			return
		}
	}
	s.missing(w, r)
}

// option says of one option what it nets, and why it is held back.
func (s *site) option(d *drawn, o advice.Option) []string {
	v, money := s.Voice, s.Input.Prices.Currency
	net := func(c advice.Compared) string {
		switch {
		case c.NetLow == c.NetHigh:
			return v.Money(c.Net, money)
		case o.With != "": // no study holds it, and it has no interval
			return v.Text("%s (range %s)", v.Money(c.Net, money), v.MoneyRange(c.NetLow, c.NetHigh, money))
		}
		return v.Text("%s (95 %% interval %s)", v.Money(c.Net, money), v.MoneyRange(c.NetLow, c.NetHigh, money))
	}
	said := []string{v.Text("Budget of %s: against today's practice it nets %s a tap and season; against unsanitized, %s.", d.view.Option(o), net(o.Today), net(o.Unsanitized))}
	return append(said, v.Notes(o.Reasons)...)
}

// figure answers with a figure as a file: name.svg or name.png, ?for=page, phone or slide.
func (s *site) figure(w http.ResponseWriter, r *http.Request) {
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	x, _, found := show.Find(show.Figures, name)
	t := s.tryRanked(r.URL.Query())
	if found && (s.refused(w, t) || s.unanswered(w, t, x.Needs)) {
		return
	}
	f, there := show.Of(t.answer, s.Voice).Figure(name)
	date := report.About(t.answer, s.Voice, s.Version).Date
	if !there || !s.draw(w, r, kind, f, date, func() { attach(w, t, r.PathValue("file")) }) {
		s.missing(w, r)
	}
}

// draw answers with a figure as a file of a kind, for a page or as the address asks; false where there is none such.
// name is called before the answer, to name the file.
func (s *site) draw(w http.ResponseWriter, r *http.Request, kind string, f show.Drawn, date time.Time, name func()) bool {
	asked := r.URL.Query().Get(sizeKey)
	size, known := figure.SizeOf(asked) // a page where it is not said
	if !known && asked != "" {
		return false
	}
	var body []byte
	var err error
	mime := ""
	switch kind {
	case "svg":
		mime, body = "image/svg+xml", f.Draw(size).SVGFile()
	case "png":
		mime = "image/png"
		body, err = f.Draw(size).PNG(300)
	case "pdf":
		mime = pdfType
		body, err = f.Draw(size).PDF(report.Untitled(date, s.Voice, s.Version))
	default:
		return false
	}
	if err != nil {
		http.Error(w, s.Voice.Text("This figure could not be made: %s", err.Error()), http.StatusInternalServerError)
		return true
	}
	name()
	send(w, r, mime, body)
	return true
}

// table answers with a table as CSV or as a spreadsheet.
func (s *site) table(w http.ResponseWriter, r *http.Request) {
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	x, _, found := show.Find(show.Tables, name)
	t := s.tryRanked(r.URL.Query())
	if found && (s.refused(w, t) || s.unanswered(w, t, x.Needs)) {
		return
	}
	table, there := show.Of(t.answer, s.Voice).Table(name)
	if told := s.told(t); len(told) > 0 {
		table.Columns = append(table.Columns, show.Column{ID: "tried", Name: s.Voice.Text("Tried, and not as the files stand")})
		for i := range table.Rows {
			table.Rows[i].Cells = append(table.Rows[i].Cells, show.Cell{Text: strings.Join(told, "; ")})
		}
	}
	if !there || !s.write(w, r, kind, table, func() { attach(w, t, r.PathValue("file")) }) {
		s.missing(w, r)
	}
}

// write answers with a table as a file of a kind; false where there is none such. name is called before the answer, to
// name the file.
func (s *site) write(w http.ResponseWriter, r *http.Request, kind string, t show.Table, name func()) bool {
	var b bytes.Buffer
	var err error
	mime := "text/csv; charset=utf-8"
	switch kind {
	case "csv":
		err = t.CSV(&b)
	case "xlsx":
		mime, err = xlsxType, sheet.WriteXLSX(&b, s.spreadsheet(t))
	default:
		return false
	}
	if err != nil {
		http.Error(w, strings.Join(s.Voice.Notes(faultsOf(err)), "\n"), http.StatusInternalServerError)
		return true
	}
	name()
	send(w, r, mime, b.Bytes())
	return true
}

// unanswered asks of what is tried what a figure or a table needs, and answers itself where that fails.
func (s *site) unanswered(w http.ResponseWriter, t *trial, need show.Need) bool {
	err := s.ask(t, need)
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
	}
	return err != nil
}

// report answers with the report, or with the slides of a talk.
func (s *site) report(kind string, make func(a *advice.Advice, v *say.Voice, version string, tried ...string) ([]byte, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		t := s.try(r.URL.Query())
		if s.refused(w, t) {
			return
		}
		a, err := s.memo.Thorough(t.answer)
		if err == nil {
			a, err = s.memo.Weigh(a, t.everything())
		}
		var body []byte
		if err == nil {
			body, err = make(a, s.Voice, s.Version, s.told(t)...)
		}
		if err != nil {
			http.Error(w, s.Voice.Text("The report could not be made: %s", err.Error()), http.StatusInternalServerError)
			return
		}
		if kind == htmlType {
			w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; font-src data:; img-src data:; base-uri 'none'; frame-ancestors 'none'")
		} else {
			attach(w, t, strings.TrimPrefix(r.URL.Path, "/"))
		}
		send(w, r, kind, body)
	}
}

// told says what is tried, a line each.
func (s *site) told(t *trial) []string {
	var lines []string
	for _, set := range s.settings {
		if value, ok := t.tried[set.key]; ok {
			now, unit := s.shown(set, value), ""
			if set.kind == number {
				unit = " " + set.unit
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
func (s *site) refused(w http.ResponseWriter, t *trial) bool {
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
	http.Error(w, strings.Join(lines, "\n"), http.StatusUnprocessableEntity)
	return true
}

// attach names a file; one of numbers that are only tried says so.
func attach(w http.ResponseWriter, t *trial, name string) {
	if len(t.tried) > 0 {
		stem, ending, _ := strings.Cut(name, ".")
		name = stem + "-tried." + ending
	}
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
}

// missing answers where there is no page: of a study that was taken back, or an address typed wrong.
func (s *site) missing(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	s.show(w, "plain", v.Text("No page here"), sheetPage{Here: "/", Lead: []string{v.Text("There is no page at this address.")},
		Back: &link{Name: v.Text("To the beginning of the workbench"), Href: "/"}, trouble: trouble{Code: http.StatusNotFound}})
}
