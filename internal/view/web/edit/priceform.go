package edit

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// priceForm is the form of a price list: what its text says, as it was typed, with what was typed over it.
type priceForm struct {
	prices
	text  *sheet.Typed // the list as it stands in the workbook
	stood *sheet.Typed // as it stood when the form was made
	typed url.Values   // nil: the form is made anew
	shape *price.Prices
	fault map[string]string // by the key that it is about
	asked map[string][]page.Unusual
}

// priceRow is what is asked at one key.
type priceRow struct {
	Key, ID, Label, Unit, Holds, Fault string
	Cells                              []priceCell
	Options                            []page.Picked // instead of typing
	Words                              bool          // it is no number
	Asked                              []page.Unusual
	Take, Name                         string // the first of what can be taken away: its key, and what it is
}

// priceCell is one field: a value has four.
type priceCell struct {
	Name, Part, Value, Label string
	Number                   bool
	Blank                    string // what stands there while nothing is typed
}

// priceGroup is several rows under a heading.
type priceGroup struct {
	ID, Name string
	Rows     []priceRow
	Plain    bool // one field a row
	More     []priceMore
	Fold     bool // what a practice takes
	Open     bool // something in it needs a look; else it is folded
	Unknown  bool
	Take     string // the key of what can be taken away whole, and whether it shall be
	Taken    bool
}

// priceMore adds something that has a name.
type priceMore struct {
	Key, Name string
	Options   []page.Picked
}

// pricePage is what the page shows.
type pricePage struct {
	Groups  []priceGroup
	Named   []priceMore // the names that the form has, by the key that they stand below
	Stood   string
	Unknown []string
	Taken   []string       // keys of what the form takes away
	Asked   []page.Unusual // of nothing that has a row
	Example bool
}

// lists are the keys below which names of the user's stand, and what one more is called.
var lists = []struct{ key, more string }{
	{"sells.bulk", "another grade"}, {"material", "another material"}, {"chemical", "another chemical"},
	{"use.*.material", "another material"}, {"use.*.renewal.material", "another material of a replacement"},
}

// form is the form of the list; typed is what was typed into it, nil for what the workbook has.
func (s prices) form(typed url.Values) *priceForm {
	f := &priceForm{prices: s, text: sheet.TypedOf(s.priceText()), typed: typed, fault: map[string]string{},
		asked: map[string][]page.Unusual{}}
	f.stood = f.text
	if typed != nil {
		f.stood = sheet.TypedOf(typed.Get("stood"))
	}
	f.shape = new(price.Prices)
	f.shape.Currency, f.shape.Place = f.said("currency", "is.currency"), f.said("place", "is.place")
	f.shape.Build(f.below)
	for i := range f.shape.Uses {
		u := &f.shape.Uses[i]
		u.Chemical = f.said("use."+string(u.Practice)+".chemical", "is.use."+string(u.Practice)+".chemical")
	}
	return f
}

// said is what the form says at a key that is no value.
func (f *priceForm) said(key, name string) string {
	if f.typed.Has(name) {
		return page.Clean(f.typed.Get(name))
	}
	return f.text.Says(key)
}

// below are the names below a key for which the form asks: all practices, all windows, and what there is of the rest.
func (f *priceForm) below(key string) []string {
	path := strings.Split(key, ".")
	ages := false
	if path[0] == "use" && len(path) > 1 {
		p, _ := f.Input.Practices.Find(practice.Key(path[1]))
		ages = p.Ages()
	}
	last := path[len(path)-1]
	switch {
	case key == "use":
		names := f.text.Below(key)
		for _, p := range f.Input.Practices {
			if p.Key != practice.Unsanitized && !slices.Contains(names, string(p.Key)) {
				names = append(names, string(p.Key))
			}
		}
		return names
	case last == "retail" || last == "sap" || last == "quota", last == "renewal" && ages:
		return []string{""}
	case last == "minutes":
		return each(price.Windows, func(w price.Window) string { return string(w) })
	case last == "gain" && ages:
		n := len(f.text.Below(key))
		return []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9"}[:min(n+1, 10)]
	case last == "gain":
		return nil
	}
	return f.names(key)
}

func each[A, B any](list []A, f func(A) B) (out []B) {
	for _, a := range list {
		out = append(out, f(a))
	}
	return out
}

// names are those of the user's below a key, with what is added and without what is taken away.
func (f *priceForm) names(key string) []string {
	names := f.text.Below(key)
	if f.typed == nil {
		return names
	}
	if path := strings.Split(key, "."); path[0] == "use" && len(path) > 1 && f.typed.Has("take.use."+path[1]) {
		return nil // it is taken away whole
	}
	for _, name := range append(f.typed["named."+key], page.Clean(f.typed.Get("add."+key))) {
		if name = strings.ReplaceAll(name, ".", ","); name != "" && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return slices.DeleteFunc(names, func(name string) bool { return f.typed.Has("take." + key + "." + name) })
}

// parts are the fields of a slot: their names in the form, and their keys in the text. A value has four, whose best may
// stand at the key of the slot itself.
func parts(s price.Slot) [][2]string {
	if !s.IsValue() {
		return [][2]string{{"is", s.Key}}
	}
	return [][2]string{{"best", s.Key + ".best"}, {"low", s.Key + ".low"}, {"high", s.Key + ".high"},
		{"source", s.Key + ".source"}}
}

// hundred is what a number of a form is times that of the file: percents are typed as percents.
func hundred(s price.Slot) float64 {
	if s.Measure == price.YearlyRate {
		return 100
	}
	return 1
}

// isNumber is true of a part that is a number.
func isNumber(s price.Slot, part string) bool {
	return part != "source" && (s.IsValue() || s.Kind.Numeric())
}

// shown is how a text has a part of a slot in the form.
func (f *priceForm) shown(t *sheet.Typed, s price.Slot, part, key string) string {
	says := t.Says(key)
	if part == "best" {
		says = cmp.Or(says, t.Says(s.Key))
	}
	if x, ok := f.Voice.Parsed(says); ok && isNumber(s, part) {
		if k := hundred(s); k != 1 {
			says = page.Bare(x * k)
		}
		return f.Voice.Marked(says)
	}
	return says
}

// value is what a field of the form holds: what was typed into it, else what the workbook has.
func (f *priceForm) value(s price.Slot, part, key string) string {
	if name := part + "." + s.Key; f.typed.Has(name) {
		if text := page.Clean(f.typed.Get(name)); text != f.shown(f.stood, s, part, key) {
			return text
		}
	}
	return f.shown(f.text, s, part, key)
}

// word is the unit in which the form's numbers of a kind stand, as a file names it: where it does not say, that of the
// place.
func (f *priceForm) word(u *price.Unit) string {
	return cmp.Or(f.said(u.Key, "is."+u.Key), (&price.Prices{Place: f.shape.Place}).Word(u))
}

// changed lays what was typed over the list as it stands in the workbook; what is at fault is put down. said is what
// was changed, in words.
func (f *priceForm) changed() (said []string) {
	for _, u := range price.Units {
		if word := f.word(&u); word != f.text.Says(u.Key) && word != f.stood.Says(u.Key) && f.stood.Says(u.Key) != "" {
			f.text.SetUnit(u, word)
			said = append(said, f.Voice.Text(u.Label))
		}
	}
	for key := range f.typed {
		if at, ok := strings.CutPrefix(key, "take."); ok {
			f.text.Take(at)
			said = append(said, at)
		}
	}
	for _, s := range f.shape.Slots() {
		touched := false
		for _, p := range parts(s) {
			if name := p[0] + "." + s.Key; f.typed.Has(name) {
				touched = touched || page.Clean(f.typed.Get(name)) != f.shown(f.stood, s, p[0], p[1])
			}
		}
		if !touched {
			continue
		}
		value, wrong := f.read(s)
		if wrong != "" {
			f.fault[s.Key] = wrong
			continue
		}
		f.text.Put(s, value)
		if u := s.Measure.Unit(); u != nil && f.text.Says(u.Key) == "" {
			f.text.SetUnit(*u, f.word(u))
		}
		said = append(said, f.label(s))
	}
	for _, s := range f.shape.Slots() { // what was added, and nothing said of it
		if at, name := inList(s); name != "" && f.fault[s.Key] == "" && len(f.text.Below(at+"."+name)) == 0 {
			f.fault[s.Key] = f.Voice.Text("a number is asked here")
		}
	}
	return said
}

// inList is where a slot stands in one of the lists: the key of that, and the name of the user's; "" in none.
func inList(s price.Slot) (key, name string) {
	for _, l := range lists {
		if n := strings.Count(l.key, ".") + 1; under(s.Field.Key, l.key+".*") {
			return strings.Join(s.Path[:n], "."), s.Path[n]
		}
	}
	return "", ""
}

// read is what the form says at a slot, as a file has it; nil where all is blank. wrong says why it cannot be read.
func (f *priceForm) read(s price.Slot) (value any, wrong string) {
	v := f.Voice
	number := func(part, key string) *float64 {
		text := f.value(s, part, key)
		if text == "" {
			return nil
		}
		x, ok := v.Parsed(text)
		b, k := s.Bounds, hundred(s)
		b.Low, b.High = b.Low*k, b.High*k
		switch {
		case !ok:
			wrong = strings.TrimSpace(wrong + " " + v.Text("not a number: %s", page.Short(text)))
		case !b.Has(x):
			wrong = strings.TrimSpace(wrong + " " + v.Note(b.Fault(text)))
		}
		return new(unit.Round(x/k, 15))
	}
	of := parts(s)
	switch {
	case s.IsValue():
		best := number(of[0][0], of[0][1])
		p := price.Value{Low: number(of[1][0], of[1][1]), High: number(of[2][0], of[2][1]),
			Source: f.value(s, of[3][0], of[3][1])}
		if best == nil {
			if p != (price.Value{}) && wrong == "" {
				wrong = v.Text("a number is asked here")
			}
			return nil, wrong
		}
		p.Best = *best
		return p, wrong
	case s.Kind.Numeric():
		if x := number("is", s.Key); x != nil {
			return *x, wrong
		}
		return nil, wrong
	}
	text := f.value(s, "is", s.Key)
	switch {
	case text == "":
		return nil, ""
	case s.Kind == column.YesNo:
		return text == "true", ""
	}
	return text, ""
}

// judged is the prices that the list then says; what is wrong with them stands at its row, or is given back.
func (f *priceForm) judged() (*price.Prices, []string) {
	p, _, err := sheet.Prices("", []byte(f.text.String()), f.Input.Practices)
	var rest []string
	if err != nil {
		for _, n := range page.Faults(err) {
			key := n.Where.Column
			n.Where = note.Where{}
			n.Args = slices.Clone(n.Args)
			for i, a := range n.Args {
				if key, ok := a.(string); ok {
					n.Args[i] = f.called(key)
				}
			}
			if at := f.row(key); at != "" {
				f.fault[at] = strings.TrimSpace(f.fault[at] + " " + f.Voice.Note(n))
			} else {
				rest = append(rest, f.Voice.Note(n))
			}
		}
		return nil, rest
	}
	p.Where.File = "workbench"
	return p, nil
}

// called is what the list calls a key of a price file; any other text stays.
func (f *priceForm) called(key string) string {
	for _, s := range f.shape.Slots() {
		if s.Key == key {
			return f.label(s)
		}
	}
	return key
}

// row is the key of the row that a key is told at: its own, that of its value, or the first below it; "" none.
func (f *priceForm) row(key string) string {
	for _, u := range price.Units {
		if u.Key == key {
			return key
		}
	}
	first := ""
	for _, s := range f.shape.Slots() {
		switch {
		case key == s.Key || strings.HasPrefix(key, s.Key+"."):
			return s.Key
		case first == "" && key != "" && strings.HasPrefix(s.Key, key+"."):
			first = s.Key
		}
	}
	return first
}

// ask puts questions at their rows.
func (f *priceForm) ask(list []page.Unusual) {
	for _, x := range list {
		f.asked[f.row(x.At.Column)] = append(f.asked[f.row(x.At.Column)], x)
	}
}

// label is what a slot is called.
func (f *priceForm) label(s price.Slot) string {
	n := note.New(s.Field.Label)
	for _, name := range s.Names {
		n.Args = append(n.Args, note.Term(name))
	}
	if s.Names != nil && strings.HasPrefix(s.Key, "use.") {
		n.Args[0] = note.Term(f.Practice(practice.Key(s.Names[0])))
	}
	if s.Word != nil {
		n.Args = append(n.Args, note.Term(cmp.Or(s.Word(s.Spot), "its chemical")))
	}
	return f.Voice.Note(n)
}

// options are what can be chosen at a slot; nil where it is typed.
func (f *priceForm) options(s price.Slot, now string) []page.Picked {
	v := f.Voice
	list := []page.Option{page.Opt("", "")}
	switch {
	case s.Key == "place":
		for _, code := range place.Listed() {
			list = append(list, page.Opt(code, v.Place(code)))
		}
	case s.Kind == column.Practice:
		for _, p := range f.Input.Practices {
			list = append(list, page.Opt(string(p.Key), f.Practice(p.Key)))
		}
	case s.Kind == column.YesNo:
		list = append(list, page.Opt("true", v.Text("yes")), page.Opt("false", v.Text("no")))
	case s.Field.Key == "use.*.chemical":
		for _, c := range f.shape.Chemicals {
			list = append(list, page.Opt(c.Name, v.Term(note.Term(c.Name))))
		}
	default:
		return nil
	}
	return picked(list, now)
}

// picked are options with what stands there, which is among them whatever it is.
func picked(list []page.Option, now string) []page.Picked {
	if !slices.ContainsFunc(list, func(o page.Option) bool { return o.Value == now }) {
		list = append(list, page.Opt(now, now))
	}
	return page.Pick(list, now)
}

// rowOf is the row of a slot.
func (f *priceForm) rowOf(s price.Slot) priceRow {
	v := f.Voice
	r := priceRow{Key: s.Key, ID: "p-" + strings.NewReplacer(".", "-", " ", "-").Replace(s.Key), Label: f.label(s),
		Fault: f.fault[s.Key], Asked: f.asked[s.Key]}
	if s.Holds != s.Field.Label {
		r.Holds = strings.ReplaceAll(v.Text(s.Holds), "`", "")
	}
	if s.Measure != "" {
		r.Unit = show.Measure(v, s.Measure, f.shape.Currency, f.word).Unit
	} else if s.Kind.Numeric() {
		r.Unit = v.Term(note.Term(s.Field.Unit))
	}
	blank := v.None()
	if f.unsaid(s) {
		blank = v.Text("not known")
	}
	for i, p := range parts(s) {
		c := priceCell{Name: p[0] + "." + s.Key, Value: f.value(s, p[0], p[1]), Number: isNumber(s, p[0])}
		if c.Blank = v.None(); i == 0 {
			c.Blank = blank
		}
		switch p[0] {
		case "best":
			c.Part, c.Label = v.Text("best"), v.Text("%s: best", r.Label)
		case "low":
			c.Part, c.Label = v.Text("low"), v.Text("%s: low", r.Label)
		case "high":
			c.Part, c.Label = v.Text("high"), v.Text("%s: high", r.Label)
		case "source":
			c.Part, c.Label = v.Text("source"), v.Text("%s: source", r.Label)
		default:
			c.Label = r.Label
		}
		r.Cells = append(r.Cells, c)
	}
	if !s.IsValue() {
		r.Words = !s.Kind.Numeric()
		r.Options = f.options(s, r.Cells[0].Value)
	}
	return r
}

// idle is true of a slot that nobody fills: the chemical of a practice that uses none.
func (f *priceForm) idle(s price.Slot) bool {
	if s.Field.Key != "use.*.chemical" && s.Field.Key != "use.*.chemical_amount" {
		return false
	}
	p, _ := f.Input.Practices.Find(practice.Key(s.Names[0]))
	return !p.Chemical() && f.text.Says("use."+s.Names[0]+".chemical") == ""
}

// unsaid is true of a slot of which something is to be known and is not said. A window without minutes is none where
// others have some.
func (f *priceForm) unsaid(s price.Slot) bool {
	switch s.Field.Key {
	case "material.*.grams":
		return true
	case "use.*.gain.*":
		return false
	case "use.*.minutes.*", "use.*.renewal.minutes.*":
		return len(f.text.Below(strings.Join(s.Path[:len(s.Path)-1], "."))) == 0
	case "use.*.chemical_amount":
		p, _ := f.Input.Practices.Find(practice.Key(s.Names[0]))
		return p.Chemical()
	}
	once := slices.Contains([]string{"retail", "sap", "quota"}, s.Path[min(1, len(s.Path)-1)])
	return s.Needed && (!once || len(f.text.Below(strings.Join(s.Path[:2], "."))) > 0)
}

// page is the form as it is shown.
func (f *priceForm) page() pricePage {
	v := f.Voice
	p := pricePage{Stood: f.text.String(), Example: f.Have.Prices == nil}
	at := map[string]*priceGroup{}
	var order []string
	group := func(id, name string) *priceGroup {
		if at[id] == nil {
			at[id], order = &priceGroup{ID: "g-" + id, Name: name}, append(order, id)
		}
		return at[id]
	}
	whole := group("whole", v.Text("the list"))
	whole.Plain = true
	for i := range price.Units {
		u := &price.Units[i]
		now := f.word(u)
		words := []page.Option{page.Opt("", "")}
		for _, w := range u.Words(f.shape.Place) {
			words = append(words, page.Opt(w, show.UnitName(v, w)))
		}
		whole.Rows = append(whole.Rows, priceRow{Key: u.Key, ID: "p-" + strings.ReplaceAll(u.Key, ".", "-"),
			Label: v.Text(u.Label), Fault: f.fault[u.Key], Options: picked(words, now),
			Cells: []priceCell{{Name: "is." + u.Key, Label: v.Text(u.Label)}}})
	}
	taken := map[string]bool{}
	for _, s := range f.shape.Slots() {
		g := f.group(s, group)
		if f.idle(s) {
			continue
		}
		r := f.rowOf(s)
		if key, name := inList(s); name != "" && !taken[key+"."+name] {
			taken[key+"."+name] = true
			r.Take, r.Name = key+"."+name, v.Term(note.Term(s.Names[len(s.Names)-1]))
			p.Named = append(p.Named, priceMore{Key: key, Name: name})
		}
		if g.Fold {
			if r.Label = strings.TrimPrefix(r.Label, v.Text("%s: %s", g.Name, "")); r.Label == r.Holds {
				r.Holds = ""
			}
			filled := slices.ContainsFunc(r.Cells, func(c priceCell) bool { return c.Value != "" })
			g.Unknown = g.Unknown && !filled
		}
		g.Open = g.Open || r.Fault != "" || len(r.Asked) > 0
		g.Rows = append(g.Rows, r)
	}
	for _, l := range lists {
		f.more(l.key, v.Text(l.more), group)
	}
	for _, id := range order {
		p.Groups = append(p.Groups, *at[id])
	}
	p.Asked = f.asked[""]
	for key := range f.typed {
		if at, ok := strings.CutPrefix(key, "take."); ok && (strings.Count(at, ".") > 1 || !under(at, "use")) {
			p.Taken = append(p.Taken, at)
		}
	}
	if f.Have.Prices != nil {
		p.Unknown = f.unknown()
	}
	return p
}

// unknown is what the list does not say, in words.
func (f *priceForm) unknown() (list []string) {
	v, n := f.Voice, f.Have.Prices.Unknown(f.Input.Practices)
	practices := func(text string, of []practice.Key) {
		if len(of) > 0 {
			list = append(list, v.Text(text, v.List(each(of, f.Practice))))
		}
	}
	practices("what they take: %s", n.Uses)
	practices("their minutes: %s", n.Minutes)
	practices("their chemical, or how much of it: %s", n.Chemicals)
	if len(n.Plastic) > 0 {
		names := each(n.Plastic, func(name string) string { return v.Term(note.Term(name)) })
		list = append(list, v.Text("the plastic in one piece: %s", v.List(names)))
	}
	return list
}

// under is true of a key of the table of fields that is another or stands below it.
func under(key, other string) bool { return key == other || strings.HasPrefix(key, other+".") }

// group is the group that a slot stands in.
func (f *priceForm) group(s price.Slot, group func(id, name string) *priceGroup) *priceGroup {
	v := f.Voice
	switch s.Path[0] {
	case "baseline", "sells", "seasons":
		return group("sap", v.Text("sap and syrup"))
	case "material", "chemical":
		return group("bought", v.Text("what is bought"))
	case "processing", "boiling", "hauling", "wage", "discount", "farm_adjust":
		return group("work", v.Text("work and capital"))
	case "use":
		g := group("use-"+s.Path[1], f.Practice(practice.Key(s.Path[1])))
		if !g.Fold {
			g.Fold, g.Unknown = true, true
			if use := strings.Join(s.Path[:2], "."); len(f.text.Below(use)) > 0 {
				g.Take, g.Taken = use, f.typed.Has("take."+use)
			}
		}
		return g
	}
	return group("whole", v.Text("the list"))
}

// more puts where something is added below the groups that it is added to.
func (f *priceForm) more(key, name string, group func(id, name string) *priceGroup) {
	uses := []string{""}
	if strings.Contains(key, "*") {
		uses = f.shape.Names("use")
	}
	for _, use := range uses {
		m := priceMore{Key: strings.Replace(key, "*", use, 1), Name: name}
		id := map[string]string{"sells.bulk": "sap", "material": "bought", "chemical": "bought"}[key]
		if use != "" {
			p, _ := f.Input.Practices.Find(practice.Key(use))
			if strings.Contains(key, "renewal") && !p.Ages() {
				continue
			}
			list := []page.Option{page.Opt("", "")}
			have := f.below(m.Key)
			for _, x := range f.shape.Materials {
				if !slices.Contains(have, x.Name) {
					list = append(list, page.Opt(x.Name, f.Voice.Term(note.Term(x.Name))))
				}
			}
			m.Options, id = page.Pick(list, ""), "use-"+use
		}
		g := group(id, "")
		g.More = append(g.More, m)
	}
}

// pricePage answers with the form of the prices.
func (s prices) pricePage(w http.ResponseWriter, f *priceForm, at book.Sight, t page.Trouble) {
	v := s.Voice
	s.Show(w, "prices", v.Text("Prices"), page.Page{Seen: at, Trouble: t, Body: f.page(),
		Lead: []string{v.Text("Each assumption with its best guess, and, where it is known, how low and how high it " +
			"may be and where it is from. What is left blank is not known.")}})
}

// savePrices keeps what was changed in the form, all of it or nothing.
func (s prices) savePrices(w http.ResponseWriter, r *http.Request) {
	v, at := s.Voice, page.Seen(r.PostForm)
	f := s.form(r.PostForm)
	// What was not sent by the form says nothing, and the numbers of the example are nobody's.
	if r.PostForm.Get("do") == "add" || !r.PostForm.Has("stood") {
		s.pricePage(w, f, at, page.Trouble{})
		return
	}
	current := *f.text
	said := f.changed()
	var p *price.Prices
	var rest []string
	if len(f.fault) == 0 {
		p, rest = f.judged()
	}
	var answers []book.Item
	open := false
	if p != nil {
		var list []page.Unusual
		list, answers, open = s.doubts(p, r.PostForm, false)
		f.ask(list)
	}
	if p == nil || open {
		if n := len(f.fault); n > 0 {
			rest = append(rest, v.Text("%d faults: each stands beside what it is about. Nothing was kept.", n))
		}
		if open {
			rest = append(rest, s.unusual())
		}
		f.text = &current
		s.pricePage(w, f, at, page.Refused(rest...))
		return
	}
	if err := s.Save(r.PostForm, s.whatPrices(said), at, true,
		append(answers, book.Keep(*p))...); err != nil {
		t, seen := s.Troubled(err, s.besidePrices(*p))
		f.text = &current
		s.pricePage(w, f, cmp.Or(seen, at), t)
		return
	}
	page.SeeOther(w, r, "/prices")
}
