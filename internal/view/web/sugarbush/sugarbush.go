// Package sugarbush is where one producer's sugarbush is typed in, planned, kept, and printed as a handout.
package sugarbush

import (
	"cmp"
	"embed"
	"encoding/base64"
	"html/template"
	"io"
	"mime"
	"net/http"
	"net/url"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/column"
	"spile/internal/trade/price"
	"spile/internal/trade/species"
	"spile/internal/view/markup"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

//go:embed *.html
var Files embed.FS

// Room is the room over one answer.
type Room struct{ *page.Site }

// Places are the pages of the room for the head.
func (s *Room) Places() []page.Place {
	v := s.Voice
	one := v.Text("One sugarbush")
	return []page.Place{
		{Path: "/sugarbush", Name: v.Text("Sugarbush"), Group: one, Says: v.Text("a plan for one producer")},
		{Path: "/handout", Name: v.Text("Handout"), Group: one, Says: v.Text("the plan on two sides of paper")},
	}
}

// Routes are the pages of one producer's sugarbush. What is typed of it stands in the address, so that the plan, the
// handout and its files are of the same, and Back works.
func (s *Room) Routes(m *page.Routes) {
	m.Get("/sugarbush", func(w http.ResponseWriter, r *http.Request) { s.sugarbush(w, r.URL.Query(), page.Trouble{}) })
	m.Post("/sugarbush", s.takeSugarbush)
	m.Get("/handout", s.handout)
	m.Get("/handout.pdf", s.handoutFile(page.PDF, func(w show.PlanView, version string, large bool) ([]byte, error) {
		if large {
			return report.HandoutLarge(w, version)
		}
		return report.Handout(w, version)
	}))
	m.Get("/handout.html", s.handoutFile(page.HTML, report.HandoutHTML))
	if s.Book != nil {
		m.Post("/sugarbush/keep", s.keepSugarbush)
	}
}

// bushField is one value of a sugarbush in the form: its name is the dotted key, that of a section with the number of
// the section for its name.
type bushField struct {
	Name, ID, Label, Unit, Value, Fault string
	Options                             []page.Picked
	Many                                bool // any number of the options, as boxes to tick
	Numeric                             bool
}

// each is every field of a form by its key in a sugarbush's file, with what it is called and what it holds.
func (f bushForm) each(v *say.Voice, do func(key, label, value string)) {
	for _, x := range slices.Concat(f.Head, f.Rest) {
		do(strings.TrimPrefix(x.Name, "h."), x.Label, x.Value)
	}
	for _, w := range f.Windows {
		for _, x := range w.Fields {
			do(strings.TrimPrefix(x.Name, "h."), v.Text("%s, %s", w.Title, x.Label), x.Value)
		}
	}
	for _, c := range f.Sections {
		for _, x := range c.Fields {
			_, key, _ := strings.Cut(x.Name, ".")
			if name := c.Fields[0].Value; name != "" {
				do("section."+strings.ReplaceAll(name, ".", ",")+"."+key, v.Text("%s, %s", name, x.Label), x.Value)
			}
		}
	}
}

// asked is what is unusual of a sugarbush, each question under the names that the form has for what it is about.
func (s *Room) asked(f bushForm, b bush.Sugarbush, q url.Values) []page.Unusual {
	called, of := map[string]string{}, map[string]string{}
	f.each(s.Voice, func(key, label, _ string) { called[key] = label })
	all := b.Doubts()
	for i, d := range all {
		if label := called[d.Where.Column]; label != "" {
			of[d.ID], all[i].Where = label, note.Where{}
		}
	}
	list, _, _ := s.Asked(all, q)
	for i, x := range list {
		if label := of[x.ID]; label != "" {
			list[i].Text = s.Voice.Text("%s: %s", label, x.Text)
		}
	}
	return list
}

// Picked is how many of the options are.
func (f bushField) Picked() int {
	n := 0
	for _, o := range f.Options {
		if o.Here {
			n++
		}
	}
	return n
}

// bushFields are several under a heading, or those of one section.
type bushFields struct {
	Title  string
	Fields []bushField
}

// bushForm is the form of a sugarbush.
type bushForm struct {
	Stored   []page.Link
	Head     []bushField // up front
	Rest     []bushField
	Windows  []bushFields
	Open     bool // what is not up front stands open, since it is filled in or at fault
	Sections []bushFields
	More     bushField
	Rows     int  // sections that the form has room for, were more asked for
	Editable bool // it can be kept in the workbook
	Asked    []page.Unusual
	Typed    string
	Seen     book.Sight // what it was made from; of nothing: it was typed anew or read from a file
}

// bushPage is what the page shows.
type bushPage struct {
	Form     bushForm
	Planned  bool
	Name     string
	Answer   []string
	Marks    []show.Mark
	Figure   template.HTML
	Tables   []template.HTML // of this season
	Seasons  []template.HTML
	Closer   []template.HTML // worth of what is short
	Leaks    show.Panel
	Cautions []string
	Held     []string
	Warnings []string
	Handout  string
}

const (
	spareSections = 2  // blank ones at the end of the form
	moreSections  = 10 // that a button adds
	mostSections  = 300
)

// drafted is the sugarbush that a query names or holds; false where it does neither.
func (s *Room) drafted(q url.Values) (bush.Draft, bool) {
	if name := q.Get("of"); name != "" {
		i := slices.IndexFunc(s.Input.Bushes, func(d bush.Draft) bool { return d.Name == name })
		if i < 0 {
			return bush.Draft{}, false
		}
		return s.Input.Bushes[i], true
	}
	d := bush.Draft{Name: page.Clean(q.Get("h.name"))}
	put := func(key, value string) {
		if value = page.Clean(value); value != "" {
			if key != "name" {
				value = s.Voice.Pointed(s.Voice.Ungrouped(value))
			}
			d.Keys = append(d.Keys, bush.Entry{Key: key, Value: value})
		}
	}
	for _, key := range headKeys() {
		put(key, q.Get("h."+key))
	}
	var sold []string
	for key := range q {
		if key, ok := strings.CutPrefix(key, "h."); ok && ofSale(key) {
			sold = append(sold, key)
		}
	}
	slices.Sort(sold)
	for _, key := range sold {
		put(key, q.Get("h."+key))
	}
	for _, w := range price.Windows {
		for _, c := range bush.Crews {
			put("window."+string(w)+"."+c.Name, q.Get("h.window."+string(w)+"."+c.Name))
		}
	}
	var named []string
	for i := range mostSections {
		at := strconv.Itoa(i+1) + "."
		name := strings.ReplaceAll(page.Clean(q.Get(at+"section")), ".", ",")
		if name == "" {
			continue
		}
		if again := slices.Contains(named, name); again || q.Get(at+"taps") == "" {
			// a section of which nothing is said is one all the same, and so is the second of a name, which is a fault
			d.Keys = append(d.Keys, bush.Entry{Key: "section." + name + ".taps"})
			if again {
				continue
			}
		}
		named = append(named, name)
		for _, c := range bush.Sections {
			key := c.Name
			if key != "unwanted" {
				put("section."+name+"."+key, q.Get(at+key))
				continue
			}
			words := strings.FieldsFunc(strings.Join(q[at+key], ";"), func(r rune) bool { return r == ';' || r == ',' })
			for n, word := range words {
				put("section."+name+".unwanted."+strconv.Itoa(n+1), word)
			}
		}
	}
	for line := range strings.Lines(q.Get("more")) {
		key, value, ok := strings.Cut(line, "=")
		if !ok && page.Clean(key) != "" {
			value = "?"
		}
		if key = page.Clean(key); key != "" {
			put(key, strings.Trim(page.Clean(value), `"`))
		}
	}
	if names := grades(d); len(names) == 1 && !slices.ContainsFunc(d.Keys, func(e bush.Entry) bool {
		return e.Key == soldAt(names[0], "share")
	}) {
		put(soldAt(names[0], "share"), "1") // the only grade is all of it
	}
	return d, len(d.Keys) > 0
}

// ofSale is true of the keys of what is sold that the form asks for: prices of bulk syrup, and the quota.
func ofSale(key string) bool {
	return strings.HasPrefix(key, "quota.") || strings.HasPrefix(key, "sells.bulk.") && strings.HasSuffix(key, ".price")
}

func soldAt(grade, key string) string { return "sells.bulk." + grade + "." + key }

// grades are those whose price a draft states.
func grades(d bush.Draft) (names []string) {
	for _, e := range d.Keys {
		if name, ok := strings.CutSuffix(strings.TrimPrefix(e.Key, "sells.bulk."), ".price"); ok && ofSale(e.Key) {
			names = append(names, name)
		}
	}
	return names
}

// ofPrices are the keys of the prices for which the form asks what a sugarbush has of its own; others are typed as
// rows.
var ofPrices = []string{"place", "organic", "wage", "units.sap", "units.mass"}

// whole is what the form asks of the whole sugarbush.
func whole() []column.Column[any] {
	return slices.DeleteFunc(column.Bare(bush.Whole), func(c column.Column[any]) bool { return c.Label == "" })
}

func headKeys() []string { return append(column.Names(whole()), ofPrices...) }

// query is a draft as the form sends it.
func bushQuery(d bush.Draft) url.Values {
	q := url.Values{}
	numbers := map[string]string{}
	var more []string
	for _, e := range d.Keys {
		rest, isSection := strings.CutPrefix(e.Key, "section.")
		name, key, _ := strings.Cut(rest, ".")
		switch {
		case isSection:
			at, have := numbers[name]
			if !have {
				at = strconv.Itoa(len(numbers)+1) + "."
				numbers[name] = at
				q.Set(at+"section", name)
			}
			if strings.HasPrefix(key, "unwanted.") {
				q.Add(at+"unwanted", e.Value)
			} else {
				q.Set(at+key, e.Value)
			}
		case e.Key == "organic" && (e.Value == "true" || e.Value == "false"):
			q.Set("h.organic", map[string]string{"true": "yes", "false": "no"}[e.Value])
		case slices.Contains(headKeys(), e.Key), strings.HasPrefix(e.Key, "window."), ofSale(e.Key):
			q.Set("h."+e.Key, e.Value)
		default:
			more = append(more, e.Key+" = "+e.Value)
		}
	}
	if more != nil {
		q.Set("more", strings.Join(more, "\n"))
	}
	return q
}

// plannedBush is the plan of what a query holds. The draft is there with faults too; none: the query holds nothing.
func (s *Room) plannedBush(q url.Values) (w show.PlanView, d bush.Draft, have bool, err error) {
	d, have = s.drafted(q)
	if !have {
		return w, d, have, nil
	}
	b, err := sheet.SugarbushFrom(d, s.Input.Prices, s.Input.Practices)
	if err != nil {
		return w, d, have, err
	}
	p, err := s.Memo.Plan(s.Input, b)
	if err != nil {
		return w, d, have, err
	}
	v := s.Voice
	if b.Prices.Place != "" {
		v = v.With(say.UnitsIn(b.Prices.Place, b.Prices.Units["units.mass"]))
	}
	return show.PlanView{P: p, V: v, Set: s.Base.Input.Practices}, d, have, nil
}

// form is the form of a draft with what is wrong with it; what belongs to none of its fields comes apart.
func (s *Room) form(q url.Values, faults note.Faults) (bushForm, []string) {
	d, named := s.drafted(q)
	if named = named && q.Get("of") != ""; named {
		q = bushQuery(d)
	}
	x := filler{Room: s, q: q, wrong: map[string]note.Faults{}, used: map[string]bool{},
		currency: cmp.Or(q.Get("h.currency"), s.Input.Prices.Currency)}
	faults = slices.Clone(faults)
	for i, n := range faults {
		if key, _, ok := strings.Cut(n.Where.Column, ".unwanted."); ok { // each has its number
			faults[i].Where.Column = key + ".unwanted"
		}
		key := faults[i].Where.Column
		n.Where = note.Where{}
		x.wrong[key] = append(x.wrong[key], n)
	}
	f := bushForm{Editable: s.Book != nil, Typed: q.Get(typedKey), Seen: page.Seen(q), More: bushField{Name: "more",
		ID: "b-more", Label: s.Voice.Text("Any other key of a sugarbush's file, a row each: key = value"),
		Value: q.Get("more")}}
	if named {
		f.Seen = s.Have.Sight()
	}
	f.Head, f.Rest = x.head(grades(d))
	f.Windows = x.windows()
	rest := slices.Clone(f.Rest)
	for _, w := range f.Windows {
		rest = append(rest, w.Fields...)
	}
	f.Open = slices.ContainsFunc(append(rest, f.More), func(b bushField) bool { return b.Value+b.Fault != "" })
	f.Sections = x.sections()
	f.Rows = len(f.Sections) + moreSections
	for _, d := range s.Input.Bushes {
		f.Stored = append(f.Stored,
			page.Link{Name: d.Name, Href: page.SugarbushAddress(d.Name),
				Here: d.Name == q.Get("h.name")})
	}
	return f, x.elsewhere(faults)
}

// filler makes fields of what was typed, each with its fault.
type filler struct {
	*Room
	q        url.Values
	wrong    map[string]note.Faults // by key
	used     map[string]bool        // keys that a field stands for
	currency string                 // the sugarbush's own
}

func (x *filler) field(name, key, label, unit string, numeric bool) bushField {
	x.used[key] = true
	b := bushField{Name: name, ID: strings.NewReplacer(".", "-", "_", "-").Replace("b-" + name), Label: label,
		Unit: unit, Value: x.q.Get(name), Fault: x.said(key, label), Numeric: numeric}
	if b.Numeric {
		b.Value = x.Voice.Marked(b.Value)
	}
	return b
}

// said is what is wrong with a key, which goes by its label in the form.
func (x *filler) said(key, label string) string {
	var texts []string
	path := strings.Split(key, ".")
	for _, n := range x.wrong[key] {
		n.Args = slices.Clone(n.Args)
		for i, a := range n.Args {
			if a == key || len(path) == 3 && a == path[2] {
				n.Args[i] = x.Voice.Text("“%s”", label)
			}
		}
		if text := x.Voice.Note(n); !slices.Contains(texts, text) {
			texts = append(texts, text)
		}
	}
	return strings.Join(texts, " ")
}

// choose makes a pick-list of a field; what is none of the words stays, and a fault of it is not told in their keys.
func (x *filler) choose(b bushField, words ...page.Option) bushField {
	if b.Value != "" && !slices.ContainsFunc(words, func(o page.Option) bool { return o.Value == b.Value }) {
		words = append(slices.Clip(words), page.Opt(b.Value, b.Value))
		if b.Fault != "" {
			b.Fault = x.unlisted(b.Value)
		}
	}
	b.Options = page.Pick(words, b.Value)
	return b
}

// unlisted is the fault of what is none of a list.
func (x *filler) unlisted(value string) string {
	return x.Voice.Text("%s is not known; allowed: one of this list", note.Quote(value))
}

// ask is a field for each of columns; of the ways of giving one value those that are given, else the first.
func (x *filler) ask(columns []column.Column[any], name, key string, given func(string) bool) (list []bushField) {
	for _, c := range columns {
		if !given(c.Name) && (c.Instead != "" || slices.ContainsFunc(columns,
			func(o column.Column[any]) bool { return o.Instead == c.Name && given(o.Name) })) {
			continue
		}
		hint := ""
		switch {
		case c.Hint != "":
			hint = x.Voice.Text(c.Hint)
		case c.Unit == "money":
			hint = x.currency
		}
		list = append(list, x.listed(c, x.field(name+c.Name, key+c.Name, x.Voice.Text(c.Label), hint,
			c.Kind == column.Number || c.Kind == column.Whole)))
	}
	return list
}

// listed makes a pick-list of a field where its column has words.
func (x *filler) listed(c column.Column[any], b bushField) bushField {
	v := x.Voice
	words := []page.Option{page.Opt("", "")}
	add := func(value, name string) { words = append(words, page.Opt(value, name)) }
	switch {
	case c.Name == "species":
		b.Value = species.Of(b.Value)
		for _, tree := range species.List {
			add(tree.Name, v.Term(note.Term(tree.Name)))
		}
	case c.Kind == column.Practice, c.Name == "unwanted":
		for _, p := range x.Base.Input.Practices {
			add(string(p.Key), v.Term(note.Term(p.Name)))
		}
	case c.Words != nil:
		for _, w := range c.Words {
			name := v.Term(note.Term(w))
			if w == "tubing" { // which by itself is a size
				name = v.Text("plastic tubing")
			}
			add(w, name)
		}
	default:
		return b
	}
	if c.Name != "unwanted" {
		return x.choose(b, words...)
	}
	b.Many, b.Value = true, strings.Join(x.q[b.Name], "; ")
	left := strings.FieldsFunc(b.Value, func(r rune) bool { return r == ';' || r == ',' || r == ' ' })
	for _, o := range words[1:] {
		at := slices.Index(left, o.Value)
		b.Options = append(b.Options, page.Picked{Option: o, Here: at >= 0})
		if at >= 0 {
			left = slices.Delete(left, at, at+1)
		}
	}
	for _, o := range left { // what is no practice stays, with its fault
		if b.Fault != "" {
			b.Fault = x.unlisted(o)
		}
		b.Options = append(b.Options, page.Picked{Option: page.Opt(o, o), Here: true})
	}
	return b
}

// one is true of the keys under a name that are given.
func (x *filler) one(name string) func(string) bool {
	return func(key string) bool { return x.q.Get(name+key) != "" }
}

// head is what stands up front of the whole sugarbush, its prices of syrup by grade and its quota among it, and what
// may be left alone.
func (x *filler) head(grades []string) (front, rest []bushField) {
	v := x.Voice
	mass := v.Text("the unit of mass")
	switch x.q.Get("h.units.mass") {
	case "lb":
		mass = v.Text("lb")
	case "kg":
		mass = v.Text("kg")
	}
	price := func(key, label, hint string) bushField { return x.field("h."+key, key, label, hint, true) }
	pick := func(key, label string, words ...page.Option) bushField {
		return x.choose(x.field("h."+key, key, label, "", false), words...)
	}
	rest = x.ask(whole(), "h.", "", x.one("h."))
	take := func(keys ...string) {
		for _, key := range keys {
			i := slices.IndexFunc(rest, func(b bushField) bool { return b.Name == "h."+key })
			front, rest = append(front, rest[i]), slices.Delete(rest, i, i+1)
		}
	}
	take("name")
	front = append(front, x.field("h.place", "place", v.Text("place"), v.Text("such as US-VT or CA-QC"), false),
		pick("organic", v.Text("organic certificate"), page.Opt("", v.Text("as the prices say")),
			page.Opt("yes", v.Text("yes")), page.Opt("no", v.Text("no"))))
	if grades == nil {
		grades = []string{"bulk"}
	}
	for _, name := range grades {
		label := v.Text("price of bulk syrup")
		if len(grades) > 1 {
			label = v.Text("price of bulk syrup, %s", name)
		}
		front = append(front, price(soldAt(name, "price"), label,
			v.Text("%s a %s; blank: the station's", x.currency, mass)))
	}
	front = append(front, pick("units.mass", v.Text("unit of mass"), page.Opt("", v.Text("not given")),
		page.Opt("lb", v.Text("pounds")), page.Opt("kg", v.Text("kilograms"))))
	take("currency", "exchange")
	front = append(front,
		price("quota.syrup", v.Text("quota of bulk syrup"), v.Text("%s, of the whole; blank: none", mass)),
		price("quota.price_beyond", v.Text("price beyond the quota"), v.Text("part of the price: 0.75 is 75 %%")),
		price("quota.delay", v.Text("what is beyond is paid after"), v.Text("seasons")))
	take("first_season", "seasons")
	return append(front, price("wage", v.Text("wage"), v.Text("%s an hour", x.currency)),
		pick("units.sap", v.Text("unit of sap"), page.Opt("", v.Text("not given")),
			page.Opt("gal", v.Text("US gallons")), page.Opt("gal_imp", v.Text("imperial gallons")),
			page.Opt("l", v.Text("litres")))), rest
}

// windows is who has time when.
func (x *filler) windows() (list []bushFields) {
	for _, w := range price.Windows {
		key := "window." + string(w) + "."
		list = append(list, bushFields{Title: x.Voice.Term(note.Term(w)),
			Fields: x.ask(column.Bare(bush.Crews), "h."+key, key, x.one("h."+key))})
	}
	return list
}

// sections is a row for each section typed, and some for more.
func (x *filler) sections() (list []bushFields) {
	last := 0
	for i := range mostSections {
		if x.q.Get(strconv.Itoa(i+1)+".section") != "" {
			last = i + 1
		}
	}
	given := func(key string) bool { // in any section, since all stand in one table
		for i := range last {
			if x.q.Get(strconv.Itoa(i+1)+"."+key) != "" {
				return true
			}
		}
		return false
	}
	asked, _ := strconv.Atoi(x.q.Get("rows"))
	seen := map[string]bool{}
	for i := range min(mostSections, max(last+spareSections, asked)) {
		at := strconv.Itoa(i+1) + "."
		name := x.q.Get(at + "section")
		key := "section." + strings.ReplaceAll(name, ".", ",")
		b := bushFields{Fields: append([]bushField{
			x.field(at+"section", key, x.Voice.Text("name of the section"), "", false)},
			x.ask(column.Bare(bush.Sections), at, key+".", given)...)}
		for i := range b.Fields[1:] {
			if seen[key] { // what is wrong there is of the first of that name
				b.Fields[1+i].Fault = ""
			}
		}
		seen[key] = name != ""
		list = append(list, b)
	}
	return list
}

// elsewhere is the faults that no field stands for.
func (x *filler) elsewhere(faults note.Faults) (list []string) {
	for _, n := range faults {
		if key := n.Where.Column; !x.used[key] {
			x.used[key] = true
			text := x.said(key, key)
			if key != "" {
				text = x.Voice.Text("%s: %s", key, text)
			}
			list = append(list, text)
		}
	}
	return list
}

// sugarbush answers with the form, and the plan of what stands in it.
func (s *Room) sugarbush(w http.ResponseWriter, q url.Values, t page.Trouble) {
	v := s.Voice
	if len(q) == 0 {
		q = url.Values{"h.first_season": {s.nextSeason()}, "h.units.sap": {"l"}, "h.units.mass": {"kg"}}
		if s.Voice.Units().Gallons() {
			q.Set("h.units.sap", "gal")
		}
		if s.Voice.Units().Pounds() {
			q.Set("h.units.mass", "lb")
		}
	}
	view, _, have, err := s.plannedBush(q)
	var faults note.Faults
	if err != nil {
		faults = page.Faults(err)
	}
	typed := have && (q.Get("of") != "" || q.Get("h.name") != "" || q.Get("1.section") != "")
	if !typed {
		faults = nil // nothing is typed yet
	}
	b := bushPage{}
	p := page.Page{Here: "/sugarbush",
		Back: &page.Link{Name: v.Text("Profit for the station as a whole"), Href: "/profit"},
		Lead: []string{v.Text("What one sugarbush should do, section by section and season by season: the practices " +
			"that bring the highest profit within the hours of the crew, the cash of a season and what is permitted.")}}
	var elsewhere []string
	b.Form, elsewhere = s.form(q, faults)
	p.Trouble = t
	p.Faults = append(t.Faults, elsewhere...)
	if gone := q.Get("of"); gone != "" && !have {
		p.Faults, p.Code = append(p.Faults, v.Text("No sugarbush %q is kept here.", gone)), http.StatusNotFound
	}
	if len(faults) > 0 || len(t.Faults) > 0 {
		p.Code = http.StatusUnprocessableEntity
		if len(faults) > 0 && len(p.Faults) == 0 {
			p.Faults = []string{v.Text("%d faults: each stands beside what it is about. Nothing was planned.",
				len(faults))}
		}
	}
	if typed && err == nil && view.P != nil {
		b.Form.Asked = s.asked(b.Form, view.P.Sugarbush, q)
		s.fill(&b, view, q)
	}
	p.Body = b
	s.Show(w, "sugarbush", v.Text("Sugarbush"), p)
}

// nextSeason is the spring after the day of the prices.
func (s *Room) nextSeason() string {
	year, month, _ := strings.Cut(s.Input.Prices.AsOf, "-")
	n, err := strconv.Atoi(year)
	if err != nil {
		return ""
	}
	if month >= "05" {
		n++
	}
	return strconv.Itoa(n)
}

// fill puts a plan on the page.
func (s *Room) fill(p *bushPage, w show.PlanView, q url.Values) {
	h := w.Handout()
	p.Planned, p.Name, p.Answer, p.Marks = true, w.P.Sugarbush.Name, w.Answer(), h.Marks
	p.Handout = page.WithQuery("/handout", q.Encode())
	if h.Figure != nil {
		p.Figure, _ = report.Inline(show.Drawn{Name: "plan-rules", Draw: h.Figure.Draw})
	}
	put := func(into *[]template.HTML, tables ...show.Table) {
		for _, t := range tables {
			if len(t.Rows) > 0 || len(t.Notes) > 0 {
				*into = append(*into, report.Table(t, markup.Marks{}))
			}
		}
	}
	for _, x := range h.Left {
		if x.ID == "leaks" {
			p.Leaks = x
		}
	}
	p.Cautions, p.Held, p.Warnings = w.V.Notes(w.P.Cautions), w.Held(), w.V.Notes(w.P.Notes)
	put(&p.Tables, h.Do, h.Buy, h.Hours, h.Years)
	put(&p.Seasons, w.Schedule(), w.Steps(), w.Buy(), w.Hours())
	put(&p.Closer, w.States(), w.Worth(), w.Rules())
}

// takeSugarbush reads a sugarbush's file into the form.
func (s *Room) takeSugarbush(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	upload, head, err := r.FormFile("file")
	var data []byte
	if err == nil {
		defer upload.Close()
		data, err = io.ReadAll(upload)
	}
	if err != nil || len(data) == 0 {
		s.sugarbush(w, url.Values{},
			page.Trouble{Faults: []string{v.Text("No file was sent; allowed: .toml, .csv or .xlsx.")}})
		return
	}
	d, err := sheet.SugarbushDraft(page.Clean(filepath.Base(strings.ReplaceAll(head.Filename, `\`, "/"))), data)
	if err != nil {
		s.sugarbush(w, url.Values{}, page.Trouble{Faults: v.Notes(page.Faults(err))})
		return
	}
	form := bushQuery(d)
	if d.Text != "" {
		form.Set(typedKey, base64.RawURLEncoding.EncodeToString([]byte(d.Text)))
		if len(form.Encode()) > mostAddress {
			form.Del(typedKey)
		}
	}
	q := form.Encode()
	if len(q) > mostAddress {
		s.sugarbush(w, url.Values{},
			page.Trouble{Faults: []string{v.Text("This sugarbush is larger than an address can hold: plan it by %s.",
				"spile plan --sugarbush")}})
		return
	}
	page.SeeOther(w, r, page.WithQuery("/sugarbush", q))
}

// typedKey carries the file that a form was filled from, as it was typed, until the form is kept.
const typedKey = "typed"

// typed is the sugarbush of that file; false where the form was filled by hand.
func typed(q url.Values) (bush.Draft, bool) {
	text, err := base64.RawURLEncoding.DecodeString(q.Get(typedKey))
	if err != nil || len(text) == 0 {
		return bush.Draft{}, false
	}
	d, err := sheet.SugarbushDraft("typed.toml", text)
	return d, err == nil
}

// mostAddress is how much of a sugarbush an address holds.
const mostAddress = 48 << 10

// keepSugarbush takes what is typed into the workbook.
func (s *Room) keepSugarbush(w http.ResponseWriter, r *http.Request) {
	d, have := s.drafted(r.PostForm)
	if have {
		if b, err := sheet.SugarbushFrom(d, s.Input.Prices, s.Input.Practices); err == nil {
			_, answers, open := s.Asked(b.Doubts(), r.PostForm)
			if open {
				s.sugarbush(w, r.PostForm, page.Refused(s.Voice.Text(
					"Something is unusual. Nothing was kept: say of each that it is meant, or correct it.")))
				return
			}
			for _, was := range s.Have.Bushes {
				if was.Name == d.Name {
					d.Text = sheet.RetypedSugarbush(was, d)
				}
			}
			if file, ok := typed(r.PostForm); ok {
				d.Text = sheet.RetypedSugarbush(file, d)
			}
			what := s.Voice.Text("kept the sugarbush %s", d.Name)
			if err := s.Save(r.PostForm, what, page.Seen(r.PostForm), true,
				append(answers, book.Keep(d))...); err != nil {
				t, at := s.Troubled(err, s.Beside(d))
				if at.Change > 0 {
					r.PostForm.Set(page.SeenKey, at.String())
				}
				s.sugarbush(w, r.PostForm, t)
				return
			}
			page.SeeOther(w, r, page.SugarbushAddress(d.Name))
			return
		}
	}
	s.sugarbush(w, r.PostForm, page.Trouble{Faults: []string{s.Voice.Text("Nothing was kept.")}})
}

// Beside puts another's sugarbush beside the one in the form: the fields that differ.
func (s *Room) Beside(mine bush.Draft) page.Beside {
	return func(l book.Later) [][3]string {
		theirs, ok := l.Value.(bush.Draft)
		if !ok {
			return nil
		}
		v := s.Voice
		var order []string
		fields := func(d bush.Draft) map[string]string {
			said := map[string]string{}
			say := func(name, value string) {
				if !slices.Contains(order, name) {
					order = append(order, name)
				}
				said[name] = value
			}
			f, _ := s.form(bushQuery(d), nil)
			f.each(v, func(_, label, value string) { say(label, value) })
			say(f.More.Label, f.More.Value)
			return said
		}
		their, my := fields(theirs), fields(mine)
		var list [][3]string
		for _, name := range order {
			if their[name] != my[name] {
				list = append(list, [3]string{name, cmp.Or(their[name], v.None()), cmp.Or(my[name], v.None())})
			}
		}
		return list
	}
}

// handout shows the producer's sheet, with its files.
func (s *Room) handout(w http.ResponseWriter, r *http.Request) {
	v, q := s.Voice, r.URL.Query()
	view, _, have, err := s.plannedBush(q)
	p := page.Page{Here: "/handout",
		Back: &page.Link{Name: v.Text("Back to the page %s", v.Text("Sugarbush")),
			Href: page.WithQuery("/sugarbush", q.Encode())}}
	body := struct {
		Sheet  template.HTML
		Files  []page.Link
		Stored []page.Link
	}{}
	for _, d := range s.Input.Bushes {
		body.Stored = append(body.Stored,
			page.Link{Name: d.Name, Href: page.WithQuery("/handout", url.Values{"of": {d.Name}}.Encode()),
				Here: d.Name == q.Get("of")})
	}
	switch {
	case !have:
		if gone := q.Get("of"); gone != "" {
			p.Faults, p.Code = []string{v.Text("No sugarbush %q is kept here.", gone)}, http.StatusNotFound
		}
		p.Lead = []string{v.Text(
			"The sheet that a producer takes home. Choose a sugarbush, or type one on the page %s.",
			v.Text("Sugarbush"))}
	case err != nil:
		p.Faults, p.Code = s.Said(page.Faults(err)), http.StatusUnprocessableEntity
	default:
		large := url.Values{"large": {"yes"}}
		for k, x := range q {
			large[k] = x
		}
		body.Files = []page.Link{
			{Name: v.Text("both sides as PDF"), Href: page.WithQuery("/handout.pdf", q.Encode())},
			{Name: v.Text("as a page of its own"), Href: page.WithQuery("/handout.html", q.Encode())},
			{Name: v.Text("one page in large type, for a meeting, as PDF"),
				Href: page.WithQuery("/handout.pdf", large.Encode())},
		}
		body.Sheet, p.Sheet = report.HandoutBody(view, false), true
	}
	p.Body = body
	s.Show(w, "handout", v.Text("Handout"), p)
}

// handoutFile answers with the sheet as a file.
func (s *Room) handoutFile(kind string,
	make func(w show.PlanView, version string, large bool) ([]byte, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		q := r.URL.Query()
		view, d, have, err := s.plannedBush(q)
		if !have {
			s.Missing(w, r)
			return
		}
		var body []byte
		if err == nil {
			body, err = make(view, s.Version, q.Get("large") != "")
		}
		if err != nil {
			page.Fail(w, http.StatusUnprocessableEntity, s.Said(page.Faults(err))...)
			return
		}
		if kind == page.HTML {
			w.Header().Set("Content-Security-Policy", page.AloneCSP)
		} else {
			w.Header().Set("Content-Disposition",
				mime.FormatMediaType("attachment", map[string]string{"filename": d.Name + ".pdf"}))
		}
		page.Send(w, r, kind, body)
	}
}
