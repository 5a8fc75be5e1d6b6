package web

import (
	"cmp"
	_ "embed"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/web/look"
	"spile/internal/view/web/page"
)

// assumed is one number of the prices in the form, as it was typed.
type assumed struct {
	Key, ID, Label, Unit           string
	Best, Low, High, Source, Fault string
	Stood                          *assumed // as the workbook has it, in a form
}

type assumedGroup struct {
	Name   string
	Fields []assumed
}

// assumptions are the numbers of the prices as they are shown.
func (s *site) assumptions() []assumed {
	var list []assumed
	if s.Base == nil {
		return nil
	}
	for _, a := range s.Input.Prices.Assumptions() {
		m := s.View.Measure(a.Measure)
		text := func(x *float64) string {
			if x == nil {
				return ""
			}
			return page.Marked(s.Voice, page.Format(page.Rounded(*x*m.Factor)))
		}
		list = append(list, assumed{Key: a.Key, ID: "a-" + a.Key, Label: s.Voice.Note(a.Name), Unit: m.Unit, Best: text(&a.Value.Best), Low: text(a.Value.Low),
			High: text(a.Value.High), Source: a.Value.Source})
	}
	return list
}

// prices answers with the form of the prices; typed is what it holds, nil what the workbook does.
func (s *site) prices(w http.ResponseWriter, typed []assumed, t page.Trouble) {
	s.pricesSeen(w, typed, 0, t)
}

func (s *site) pricesSeen(w http.ResponseWriter, typed []assumed, at int64, t page.Trouble) {
	v := s.Voice
	if s.Have.Prices == nil || s.Base == nil {
		s.priceList(w, s.priceText(), cmp.Or(at, s.Have.Change), t)
		return
	}
	if typed == nil {
		typed = s.assumptions()
	}
	var groups []assumedGroup
	for i, a := range s.assumptions() {
		typed[i].Stood = &a
	}
	for _, a := range typed {
		name := look.Heading(s.Site, a.Key)
		a.Label = look.Within(s.Voice, name, a.Label)
		if i := slices.IndexFunc(groups, func(g assumedGroup) bool { return g.Name == name }); i >= 0 {
			groups[i].Fields = append(groups[i].Fields, a)
		} else {
			groups = append(groups, assumedGroup{name, []assumed{a}})
		}
	}
	s.Show(w, "prices", v.Text("Prices"), page.Page{Seen: at, Trouble: t, Body: groups,
		Lead: []string{v.Text("Each assumption with its best guess, and, where it is known, how low and how high it may be and where it is from.")}})
}

// savePrices keeps the numbers that were changed.
func (s *site) savePrices(w http.ResponseWriter, r *http.Request) {
	v, at := s.Voice, page.Seen(r.PostForm)
	if s.Have.Prices == nil || s.Base == nil {
		page.SeeOther(w, r, "/prices")
		return
	}
	typed := s.assumptions()
	in, faults := s.Input, 0
	var changed []string
	// What stood in a field when its form was made is in the form: a field left as it was follows whoever changed it since.
	touched := func(key, text, now string) bool {
		if stood := "stood." + key; r.PostForm.Has(stood) {
			now = page.Clean(r.PostForm.Get(stood))
		}
		return text != now
	}
	for i, a := range s.Input.Prices.Assumptions() {
		f := &typed[i]
		before := *f
		factor := s.View.Measure(a.Measure).Factor
		read := func(part string, was *string, before *float64) *float64 {
			key := part + "." + a.Key
			if !r.PostForm.Has(key) {
				return before
			}
			text := page.Clean(r.PostForm.Get(key))
			if !touched(key, text, *was) {
				return before // to the last bit
			}
			*was = text
			if text == "" {
				return nil
			}
			x, ok := page.Parsed(v, text)
			if !ok {
				f.Fault = strings.TrimSpace(f.Fault + " " + v.Text("not a number: %s", page.Short(text)))
				return before
			}
			return new(x / factor)
		}
		best := read("best", &f.Best, &a.Value.Best)
		value := price.Value{Low: read("low", &f.Low, a.Value.Low), High: read("high", &f.High, a.Value.High), Source: a.Value.Source}
		if key := "source." + a.Key; r.PostForm.Has(key) {
			if text := page.Clean(r.PostForm.Get(key)); touched(key, text, f.Source) {
				f.Source, value.Source = text, text
			}
		}
		if *f == before {
			continue
		}
		if best == nil {
			f.Fault = strings.TrimSpace(f.Fault + " " + v.Text("a number is asked here"))
		} else {
			value.Best = *best
		}
		if f.Fault == "" {
			tried, err := in.With(a.Key, value)
			if err == nil {
				// By itself, so that the fault stands where it belongs.
				alone, _ := s.Input.With(a.Key, value)
				if bad := alone.Prices.Faults(in.Practices); len(bad) > 0 {
					for i, n := range bad {
						bad[i] = page.AsTyped(n, factor)
					}
					f.Fault = strings.Join(s.Said(bad), " ")
				} else {
					in = tried
					changed = append(changed, v.Note(a.Name))
				}
			}
		}
		if f.Fault != "" {
			faults++
		}
	}
	if faults > 0 {
		s.pricesSeen(w, typed, at, page.Trouble{Faults: []string{v.Text("%d faults: each stands beside what it is about. Nothing was kept.", faults)}, Code: http.StatusUnprocessableEntity})
		return
	}
	if err := s.Save(s.whatPrices(changed), at, true, book.Keep(*in.Prices)); err != nil {
		t, seen := s.Troubled(err, s.besidePrices(*in.Prices))
		s.pricesSeen(w, typed, cmp.Or(seen, at), t)
		return
	}
	page.SeeOther(w, r, "/prices")
}

// whatPrices is what the history says of changed prices.
func (s *site) whatPrices(changed []string) string {
	const most = 6
	if n := len(changed); n > most {
		changed = append(changed[:most:most], s.Voice.Text("%d more", n-most))
	}
	if len(changed) == 0 {
		return s.Voice.Text("edited the prices")
	}
	return s.Voice.Text("edited the prices: %s", strings.Join(changed, ", "))
}

// besidePrices puts prices beside those of another: the assumptions that differ, then all else that does, by the keys of
// a price file.
func (s *site) besidePrices(mine price.Prices) page.Beside {
	return func(l book.Later) [][3]string {
		theirs, ok := l.Value.(price.Prices)
		if !ok {
			return nil
		}
		a, keys := tomlValues(theirs)
		b, more := tomlValues(mine)
		for _, k := range more {
			if _, have := a[k]; !have {
				keys = append(keys, k)
			}
		}
		var list [][3]string
		var told map[string]bool
		if s.View != nil { // else nothing is answered yet that would name assumptions
			list, told = s.besideAssumptions(theirs, mine)
		}
		for _, k := range keys {
			if a[k] != b[k] && !told[k] {
				list = append(list, [3]string{k, a[k], b[k]})
			}
		}
		return list
	}
}

// besideAssumptions is the assumptions that differ, and those that both have.
func (s *site) besideAssumptions(theirs, mine price.Prices) (list [][3]string, told map[string]bool) {
	v := s.Voice
	of := func(p price.Prices) (map[string]string, []price.Assumption) {
		in, texts := s.Input, map[string]string{}
		in.Prices = &p
		all := in.Prices.Assumptions()
		for _, a := range all {
			m := s.View.Measure(a.Measure)
			number := func(x float64) string { return page.Marked(v, page.Format(page.Rounded(x*m.Factor))) }
			text := number(a.Value.Best)
			if a.Value.Low != nil && a.Value.High != nil {
				text = v.Text("%s (%s to %s)", text, number(*a.Value.Low), number(*a.Value.High))
			}
			if a.Value.Source != "" {
				text += "; " + a.Value.Source
			}
			texts[a.Key] = text
		}
		return texts, all
	}
	their, _ := of(theirs)
	my, all := of(mine)
	told = map[string]bool{}
	for _, a := range all {
		if _, have := their[a.Key]; !have {
			continue
		}
		told[a.Key] = true
		if their[a.Key] != my[a.Key] {
			name := v.Note(a.Name)
			if unit := s.View.Measure(a.Measure).Unit; unit != "" {
				name += ", " + unit
			}
			list = append(list, [3]string{name, their[a.Key], my[a.Key]})
		}
	}
	return list, told
}

// tomlValues is what a price file says, by its dotted keys.
func tomlValues(p price.Prices) (map[string]string, []string) {
	values, table := map[string]string{}, ""
	var keys []string
	for line := range strings.Lines(string(sheet.PricesTOML(p))) {
		line = strings.TrimSpace(line)
		if name, ok := strings.CutPrefix(line, "["); ok {
			table = strings.TrimSuffix(name, "]") + "."
			continue
		}
		if k, v, ok := strings.Cut(line, " = "); ok {
			keys = append(keys, table+k)
			values[table+k] = v
		}
	}
	return values, keys
}

// priceText is the prices as a price file; where there are none yet, one to begin with.
func (s *site) priceText() string {
	if s.Have.Prices != nil {
		return string(sheet.PricesTOML(*s.Have.Prices))
	}
	return firstPrices
}

// firstPrices is an example to begin with. Its numbers are invented, and say so.
//
//go:embed prices.toml
var firstPrices string

// priceList answers with the whole list as text, which may name materials and uses that are not there yet.
func (s *site) priceList(w http.ResponseWriter, text string, at int64, t page.Trouble) {
	v := s.Voice
	s.Show(w, "list", v.Text("The price list as a file"), page.Page{Seen: at, Trouble: t, Body: text, Lead: []string{
		v.Text("All of it as a price file has it: here materials, chemicals and what each practice uses are added and taken away. docs/data.md describes every key; a price file can also be uploaded.")}})
}

func (s *site) savePriceList(w http.ResponseWriter, r *http.Request) {
	text := strings.ToValidUTF8(r.PostForm.Get("text"), "\uFFFD")
	at := page.Seen(r.PostForm)
	p, _, err := sheet.Prices("prices", []byte(text), s.Input.Practices)
	if err != nil {
		f := slices.Clone(page.Faults(err))
		for i := range f {
			f[i].Where.File = ""
		}
		s.priceList(w, text, at, page.Trouble{Faults: s.Voice.Notes(f), Code: http.StatusUnprocessableEntity})
		return
	}
	p.Where.File = "workbench"
	if err := s.Save(s.Voice.Text("edited the price list"), at, true, book.Keep(*p)); err != nil {
		t, seen := s.Troubled(err, s.besidePrices(*p))
		s.priceList(w, text, cmp.Or(seen, at), t)
		return
	}
	page.SeeOther(w, r, "/prices")
}

// keep makes an edit of what is tried of the prices.
func (s *site) keep(w http.ResponseWriter, r *http.Request) {
	if s.Base == nil || s.Input.Prices == nil {
		page.SeeOther(w, r, "/workbook")
		return
	}
	q, at, from := r.PostForm, page.Seen(r.PostForm), "/profit"
	for _, p := range s.Places {
		if p.Path == q.Get(page.FromKey) {
			from = p.Path
		}
	}
	k, ok := s.look.Kept(q)
	switch {
	case !ok:
		q.Del(page.SeenKey)
		q.Del(page.FromKey)
		page.SeeOther(w, r, page.WithQuery(from, q.Encode())) // where each fault stands beside its field
		return
	case len(k.Said) == 0:
		page.SeeOther(w, r, page.WithQuery(from, k.Rest.Encode()))
		return
	}
	if err := s.Save(s.Voice.Text("kept %s", strings.Join(k.Said, ", ")), at, true, book.Keep(k.Prices)); err != nil {
		trouble, _ := s.Troubled(err, s.besidePrices(k.Prices))
		p := page.Page{Trouble: trouble, Back: &page.Link{Href: page.WithQuery(from, k.Tried.Encode()),
			Name: s.Voice.Text("See what is tried beside the prices as they stand now")}}
		if trouble.Theirs != nil {
			p.Lead = []string{s.Voice.Text("Nothing was kept.")}
		}
		s.Show(w, "plain", s.Voice.Text("Prices"), p)
		return
	}
	page.SeeOther(w, r, page.WithQuery(from, k.Rest.Encode()))
}

// ownRow is a practice of the user's own, in the form.
type ownRow struct {
	Number                int
	Was, Key, Name, Fault string
	Stood                 string // as the workbook has it
	Spout, Drops, Wash    []page.Picked
	spout, drops, wash    string
}

func (s *site) ownRows() []ownRow {
	var list []ownRow
	for _, p := range s.Have.Own() {
		list = append(list, ownOf(p))
	}
	return append(list, ownRow{})
}

func ownOf(p practice.Practice) ownRow {
	return ownRow{Was: string(p.Key), Key: string(p.Key), Name: p.Name, spout: string(p.Spout), drops: string(p.Drops), wash: string(p.Wash)}
}

// text is what a row says, to tell whether it was changed.
func (r ownRow) text() string {
	return strings.Join([]string{r.Key, r.Name, r.spout, r.drops, r.wash}, "; ")
}

func (s *site) practices(w http.ResponseWriter, rows []ownRow, at int64, t page.Trouble) {
	v := s.Voice
	for i := range rows {
		r := &rows[i]
		r.Number = i
		if p, ok := s.ownPractice(r.Was); ok {
			r.Stood = ownOf(p).text()
		}
		r.Spout = s.PickWord(practice.Words(practice.Spouts), r.spout)
		r.Drops = s.PickWord(practice.Words(practice.DropsList), r.drops)
		r.Wash = s.PickWord(practice.Words(practice.Washes), r.wash)
	}
	var shipped []string
	for _, p := range practice.Shipped() {
		shipped = append(shipped, s.Practice(p.Key))
	}
	s.Show(w, "practices", v.Text("Practices of your own"), page.Page{Seen: at, Trouble: t, Body: rows, Lead: []string{
		v.Text("These are known already: %s. A practice of your own has a spout, drops and a wash; clear its key to remove it.", v.List(shipped))}})
}

// ownPractice is the workbook's practice of a key.
func (s *site) ownPractice(key string) (practice.Practice, bool) {
	i := slices.IndexFunc(s.Have.Own(), func(p practice.Practice) bool { return string(p.Key) == key })
	if i < 0 {
		return practice.Practice{}, false
	}
	return s.Have.Own()[i], true
}

// savePractices keeps the rows that were changed. A row left as it was follows whoever changed it since.
func (s *site) savePractices(w http.ResponseWriter, r *http.Request) {
	at := page.Seen(r.PostForm)
	var rows []ownRow
	var items []book.Item
	faults := 0
	named := map[int]practice.Practice{} // what the rows call practices
	for i := range 200 {
		if key := page.Clean(r.PostForm.Get("key." + strconv.Itoa(i))); key != "" {
			named[i] = practice.Practice{Key: practice.Key(key), Name: page.Clean(r.PostForm.Get("name." + strconv.Itoa(i)))}
		}
	}
	for i := range 200 {
		n := "." + strconv.Itoa(i)
		if !r.PostForm.Has("key" + n) {
			break
		}
		get := func(k string) string { return page.Clean(r.PostForm.Get(k + n)) }
		row := ownRow{Was: get("was"), Key: get("key"), Name: get("name"), spout: get("spout"), drops: get("drops"), wash: get("wash")}
		if row.Key == "" && row.Was == "" {
			continue
		}
		if stood := "stood" + n; row.Was != "" && r.PostForm.Has(stood) && get("stood") == row.text() {
			if p, ok := s.ownPractice(row.Was); ok {
				rows = append(rows, ownOf(p))
			}
			continue
		}
		if row.Was != "" && row.Was != row.Key {
			items = append(items, book.Remove(book.Practice, row.Was))
		}
		if row.Key != "" {
			p := practice.Practice{Key: practice.Key(row.Key), Name: row.Name, Spout: practice.Spout(row.spout), Drops: practice.Drops(row.drops), Wash: practice.Wash(row.wash)}
			others := practice.Shipped()
			for j, o := range named {
				if j != i {
					others = append(others, o)
				}
			}
			if bad := s.Said(p.Faults(others)); len(bad) > 0 {
				row.Fault = strings.Join(bad, " ")
				faults++
			}
			items = append(items, book.Keep(p))
		}
		rows = append(rows, row)
	}
	for _, p := range s.Have.Own() { // added since by another
		if !slices.ContainsFunc(rows, func(r ownRow) bool { return r.Was == string(p.Key) || r.Key == string(p.Key) }) {
			rows = append(rows, ownOf(p))
		}
	}
	rows = append(rows, ownRow{})
	if faults > 0 {
		s.practices(w, rows, at, page.Trouble{Faults: []string{s.Voice.Text("%d faults: each stands beside what it is about. Nothing was kept.", faults)}, Code: http.StatusUnprocessableEntity})
		return
	}
	if err := s.Save(s.Voice.Text("edited the practices"), at, true, items...); err != nil {
		t, seen := s.Troubled(err, s.besidePractice(rows))
		s.practices(w, rows, cmp.Or(seen, at), t)
		return
	}
	page.SeeOther(w, r, "/practices")
}

// besidePractice puts a practice of another beside the row that stands in the form, where they differ.
func (s *site) besidePractice(rows []ownRow) page.Beside {
	return func(l book.Later) [][3]string {
		p, ok := l.Value.(practice.Practice)
		i := slices.IndexFunc(rows, func(r ownRow) bool { return r.Was == string(p.Key) || r.Key == string(p.Key) })
		if !ok || i < 0 {
			return nil
		}
		v, theirs, mine := s.Voice, ownOf(p), rows[i]
		var list [][3]string
		say := func(name, their, my string) {
			if their != my {
				list = append(list, [3]string{name, cmp.Or(their, v.None()), cmp.Or(my, v.None())})
			}
		}
		word := func(x string) string { return v.Term(note.Term(x)) }
		say(v.Text("key"), theirs.Key, mine.Key)
		say(v.Text("name"), theirs.Name, mine.Name)
		say(v.Text("spout"), word(theirs.spout), word(mine.spout))
		say(v.Text("drops"), word(theirs.drops), word(mine.drops))
		say(v.Text("wash"), word(theirs.wash), word(mine.wash))
		return list
	}
}
