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
	within     string // path of the page that this one is a closer look at
	build      func(s *site, d *drawn) []spread
	closer     func(s *site, d *drawn) []spread // one click deeper: what a statistician asks for; nil: nothing
	thorough   bool                             // the closer look asks what each study, site and caveat does
	chanceless bool                             // nothing on it says how sure the recommendation is, which takes draws
	lead       func(d *drawn) []string
	weigh      func(t *trial) advice.WeighOptions // what the page asks under uncertainty; nil: nothing
	fields     func(s *site) (open, more []*setting)
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
		all = append(all, place{path: "/profit", name: v.Text("Profit"), build: (*site).profit, closer: (*site).profitCloser, fields: (*site).money,
			lead: func(d *drawn) []string { return d.view.Recommendation() }})
		all = append(all, s.surePages()...)
	}
	defer func() {
		if s.priced() {
			list = append(list, place{path: "/sugarbush", name: v.Text("Sugarbush")}, place{path: "/handout", name: v.Text("Handout")})
		}
	}()
	return append(all,
		place{path: "/gains", name: v.Text("Gains"), build: (*site).gains, closer: (*site).gainsCloser, thorough: true, chanceless: true, fields: (*site).statistics,
			lead: (*drawn).mostSap},
		place{path: "/rotation", name: v.Text("Rotation"), build: (*site).rotation, chanceless: true, fields: (*site).rotating,
			lead: func(d *drawn) []string {
				return []string{cmp.Or(d.view.Flat(), v.Text("How drops age cannot be told from these studies."))}
			}},
		place{path: "/evidence", name: v.Text("Evidence"), build: (*site).evidence, closer: (*site).evidenceCloser, chanceless: true, fields: (*site).leaving,
			lead: (*drawn).counted},
	)
}

// page answers with one of the pages.
func (s *site) page(p place) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		try := s.try
		if p.chanceless {
			try = s.tryRanked
		}
		t := try(r.URL.Query())
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
		d := &drawn{trial: t}
		if p.within != "" && p.thorough {
			a, err := s.memo.Thorough(t.answer)
			if err != nil {
				t.faults[""] = err.Error()
			} else {
				t.answer = a
			}
		}
		if p.weigh != nil {
			a, err := s.memo.Weigh(t.answer, p.weigh(t))
			if err != nil {
				t.faults[""] = s.Voice.Text("This could not be worked out: %s", err.Error())
			} else {
				t.answer = a
			}
		}
		d.view = show.Of(t.answer, s.Voice)
		s.render(w, r, p, d, p.build(s, d))
	}
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
		Frame: s.frame(p.name, q, cmp.Or(p.within, r.URL.Path)), Path: r.URL.Path,
		Open: s.fields(d, r.URL.Path, open), More: s.grouped(d, r.URL.Path, more),
		Fault: d.faults[""], Faulty: len(d.faults) > 0, Quick: p.weigh != nil,
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
	if p.closer != nil {
		data.Closer = &link{Name: s.Voice.Text("A closer look, for the statistician"), Href: withQuery(p.path+"/closer", q)}
	}
	if p.within != "" {
		data.Back = &link{Name: s.Voice.Text("Back to the page %s", p.name), Href: withQuery(p.within, q)}
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
	at := "/table/" + fileName(t.ID)
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

func (d *drawn) figure(name string) *figured {
	for _, f := range report.Figures(d.view) {
		if f.Name == name {
			q := d.good.Encode()
			slide := maps.Clone(d.good)
			slide.Set(sizeKey, "slide")
			return &figured{
				HTML: report.Inline(f), Short: slices.Contains([]string{"net", "ageing", "outlook", "trial-size"}, name),
				SVG: withQuery("/figure/"+name+".svg", q), PNG: withQuery("/figure/"+name+".png", q), Slide: withQuery("/figure/"+name+".png", slide.Encode()),
				PDF: withQuery("/figure/"+name+".pdf", q),
			}
		}
	}
	return nil
}

// without drops columns by their ID.
func without(t show.Table, ids ...string) show.Table {
	var keep []int
	var columns []show.Column
	for i, c := range t.Columns {
		if !slices.Contains(ids, c.ID) {
			keep, columns = append(keep, i), append(columns, c)
		}
	}
	rows := make([]show.Row, len(t.Rows))
	for i, r := range t.Rows {
		cells := make([]show.Cell, len(keep))
		for j, k := range keep {
			cells[j] = r.Cells[k]
		}
		r.Cells = cells
		rows[i] = r
	}
	t.Columns, t.Rows = columns, rows
	return t
}

func (s *site) profit(d *drawn) []spread {
	ranking := d.view.Ranking()
	list := []spread{{Figure: d.figure("net"), Tables: []tabled{d.table(without(ranking, "net_unsanitized"), s.before(ranking, s.baseView.Ranking(), "net_today"))}}}
	budgets := spread{Title: s.Voice.Text("Budgets, line by line")}
	for _, i := range d.view.Choices() {
		o := d.answer.Ranking[i]
		budgets.Links = append(budgets.Links, link{Name: d.view.Option(o), Href: withQuery("/profit/budget/"+o.ID(), d.good.Encode())})
	}
	return append(list, budgets, spread{Tables: d.tables(d.view.Cautions())})
}

func (s *site) profitCloser(d *drawn) []spread {
	return []spread{
		{},
		{Tables: d.tables(d.view.Ranking())},
		{Tables: d.tables(d.view.Marginal())},
		{Tables: d.tables(d.view.Assumptions())},
	}
}

func (s *site) gains(d *drawn) []spread {
	gains := d.view.Gains()
	return []spread{
		{Figure: d.figure("bars"), Tables: append([]tabled{d.table(without(gains, "comparisons", "long_run_pct"), s.before(gains, s.baseView.Gains(), "gain_pct"))},
			d.tables(d.view.Shares())...)},
		{Figure: d.figure("intervals")},
	}
}

func (s *site) gainsCloser(d *drawn) []spread {
	list := []spread{{}}
	for _, t := range []show.Table{d.view.Gains(), d.view.Variances(), d.view.Between(), d.view.Indirect(), d.view.Caveats(),
		d.view.WithoutStudies(), d.view.WithoutSites(), d.view.Weights()} {
		list = append(list, spread{Tables: d.tables(t)})
	}
	return list
}

func (s *site) rotation(d *drawn) []spread {
	rotation := d.view.Rotation()
	return []spread{
		{Figure: d.figure("ageing"), Tables: []tabled{d.table(rotation, s.before(rotation, s.baseView.Rotation(), "net"))}},
		{Tables: d.tables(d.view.Ageing())},
	}
}

func (s *site) evidence(d *drawn) []spread {
	t := d.view.Evidence()
	t.Lead += " " + s.Voice.Text("Tick a study to leave it out.")
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
	return []spread{
		{Figure: d.figure("intervals"), Tables: []tabled{d.table(without(t, "site", "season"), marks)}},
		{Tables: d.tables(d.view.Sources())},
	}
}

// evidenceCloser is the whole table, with sites and seasons.
func (s *site) evidenceCloser(d *drawn) []spread {
	return []spread{{}, {Tables: d.tables(d.view.Evidence())}, {Tables: d.tables(d.view.Weights())}}
}

// budget is the page of one option's budgets.
func (s *site) budget(w http.ResponseWriter, r *http.Request) {
	t := s.try(r.URL.Query())
	d := &drawn{trial: t, view: show.Of(t.answer, s.Voice)}
	for _, o := range t.answer.Ranking {
		if o.ID() == r.PathValue("option") {
			p := place{path: r.URL.Path, name: s.Voice.Text("Profit"), within: "/profit", fields: (*site).money, lead: func(*drawn) []string { return s.option(d, o) }}
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
	t := s.try(r.URL.Query())
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	if s.refused(w, t) {
		return
	}
	if err := s.weighed(t, name); err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	for _, f := range report.Figures(show.Of(t.answer, s.Voice)) {
		if f.Name != name {
			continue
		}
		date := report.About(t.answer, s.Voice, s.Version).Date
		if !s.draw(w, r, kind, f, date, func() { attach(w, t, r.PathValue("file")) }) {
			break
		}
		return
	}
	s.missing(w, r)
}

// draw answers with a figure as a file of a kind, for a page or as the address asks; false where there is none such.
// name is called before the answer, to name the file.
func (s *site) draw(w http.ResponseWriter, r *http.Request, kind string, f report.Figure, date time.Time, name func()) bool {
	sizes := map[string]figure.Size{"": figure.Page, "page": figure.Page, "phone": figure.Phone, "slide": figure.Slide}
	size, known := sizes[r.URL.Query().Get(sizeKey)]
	if !known {
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

// table answers with a table as CSV.
func (s *site) table(w http.ResponseWriter, r *http.Request) {
	t := s.try(r.URL.Query())
	if s.refused(w, t) {
		return
	}
	name, isCSV := strings.CutSuffix(r.PathValue("file"), ".csv")
	name, isXLSX := strings.CutSuffix(name, ".xlsx")
	if err := s.weighed(t, name); err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	a := t.answer
	if strings.HasPrefix(name, "without-") || name == "indirect" {
		var err error
		if a, err = s.memo.Thorough(a); err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
	}
	view := show.Of(a, s.Voice)
	all := []show.Table{view.Gains(), view.Shares(), view.Between(), view.Variances(), view.Weights(), view.Indirect(), view.Evidence(),
		view.Rotation(), view.Ageing(), view.Sources(), view.Caveats(), view.WithoutStudies(), view.WithoutSites()}
	if s.priced() {
		all = append(all, view.Ranking(), view.Marginal(), view.Assumptions(), view.Cautions())
		for _, o := range a.Ranking {
			all = append(all, view.Budget(o, true), view.Budget(o, false))
		}
	}
	all = append(all, view.Weighed()...)
	for _, x := range all {
		if fileName(x.ID) == name && isCSV != isXLSX {
			if told := s.told(t); len(told) > 0 {
				x.Columns = append(x.Columns, show.Column{ID: "tried", Name: s.Voice.Text("Tried, and not as the files stand")})
				for i := range x.Rows {
					x.Rows[i].Cells = append(x.Rows[i].Cells, show.Cell{Text: strings.Join(told, "; ")})
				}
			}
			var b bytes.Buffer
			kind, err := "text/csv; charset=utf-8", error(nil)
			if isXLSX {
				kind, err = xlsxType, sheet.WriteXLSX(&b, s.spreadsheet(x))
			} else {
				err = x.CSV(&b)
			}
			if err != nil {
				http.Error(w, err.Error(), http.StatusInternalServerError)
				return
			}
			attach(w, t, r.PathValue("file"))
			send(w, r, kind, b.Bytes())
			return
		}
	}
	s.missing(w, r)
}

// fileName is the name of a table in an address: the ID of a budget holds a slash.
func fileName(id string) string { return strings.NewReplacer("/", "-", "+", "-with-").Replace(id) }

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
