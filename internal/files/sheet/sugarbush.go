package sheet

import (
	"cmp"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// bushKeys are the keys that a sugarbush may have.
func bushKeys() schema {
	keys := append(priceKeys(func(f price.Field) bool { return f.Own }), "section.*.unwanted.*")
	for _, key := range priceKeys(func(f price.Field) bool { return strings.HasPrefix(f.Key, stationQuota) }) {
		if quota, ok := strings.CutPrefix(key, stationQuota); ok {
			keys = append(keys, ownQuota+quota)
		}
	}
	for prefix, names := range map[string][]string{
		"": column.Names(bush.Whole), "window.*.": column.Names(bush.Crews), "section.*.": column.Names(bush.Sections),
	} {
		for _, n := range names {
			keys = append(keys, prefix+n)
		}
	}
	return grow(keys...)
}

// The quota of a price file is that of a tap, and stands with what is sold; a sugarbush's is its whole.
const stationQuota, ownQuota = "sells.quota.", "quota."

// isSection is true of the name of a column of a table of sections; any other key of a sugarbush may be a column too.
func isSection(name string) bool {
	_, ok := column.Find(bush.Sections, name)
	return ok || name == "section"
}

// Sugarbush reads a sugarbush (TOML; CSV or XLSX with a row a section), laid over prices. Only what it
// says of its own differs from them. The error is a note.Faults with everything that is wrong.
func Sugarbush(path string, prices *price.Prices, practices practice.Set) (bush.Sugarbush, error) {
	f := new(faults)
	data := disk.read(bareName(path), maxCSV, f)
	if err := f.err(); err != nil {
		return bush.Sugarbush{}, err
	}
	return SugarbushOf(path, data, prices, practices)
}

// bareName is the name of a file without that of a sheet behind it.
func bareName(path string) string {
	if name, _, ok := spreadsheetName(path); ok {
		return name
	}
	return path
}

// SugarbushOf reads a sugarbush from the bytes of a file.
func SugarbushOf(file string, data []byte, prices *price.Prices, practices practice.Set) (bush.Sugarbush, error) {
	f := new(faults)
	r := bushRecord(file, data, f)
	if r == nil {
		return bush.Sugarbush{}, f.err()
	}
	return over(r, prices, practices)
}

// SugarbushFrom is a draft laid over prices.
func SugarbushFrom(d bush.Draft, prices *price.Prices, practices practice.Set) (bush.Sugarbush, error) {
	f := new(faults)
	cells, keys, said := map[string]cell{}, []string{}, map[string]bool{}
	for _, e := range d.Keys {
		if _, again := cells[e.Key]; again {
			n := twice(e.Key)
			if n.Where.File = d.Where.File; !said[n.Where.Column] {
				said[n.Where.Column] = true
				f.add(n)
			}
			continue
		}
		keys = append(keys, e.Key)
		cells[e.Key] = cell{text: e.Value}
	}
	r := dottedRecord(d.Where.File, keys, cells, nil, f)
	r.row = 0
	bushKeys().check(r)
	return over(r, prices, practices)
}

// twice is the fault of a key that a draft has twice; where it is a section's, the section is.
func twice(key string) note.Note {
	rest, ok := strings.CutPrefix(key, "section.")
	if name, _, _ := strings.Cut(rest, "."); ok {
		key = "section." + name
		return note.New("the section %s stands here twice; allowed: once", name).At(note.Where{Column: key})
	}
	return note.New("%s is given twice; allowed: once", key).At(note.Where{Column: key})
}

// SugarbushDraft reads a sugarbush from the bytes of a file as it is written; what is out of bounds in it is only found
// over prices.
func SugarbushDraft(file string, data []byte) (bush.Draft, error) {
	f := new(faults)
	r := bushRecord(file, data, f)
	if r != nil {
		r.needs("name")
	}
	if err := f.err(); err != nil || r == nil {
		return bush.Draft{}, err
	}
	return r.draft(), nil
}

// draft is a record as it is written: decimal commas are points, whatever the file used.
func (r *record) draft() bush.Draft {
	d := bush.Draft{Name: r.text("name"), Where: note.Where{File: r.file}, Text: r.typed}
	for i, key := range r.head.names {
		text := strings.TrimSpace(r.cells[i].text)
		if r.comma && strings.Contains(text, ",") {
			if _, _, ok := parse(text, true); ok {
				text = strings.Replace(text, ",", ".", 1)
			}
		}
		d.Keys = append(d.Keys, bush.Entry{Key: key, Value: text})
	}
	return d
}

// over lays a record over prices.
func over(r *record, prices *price.Prices, known practice.Set) (bush.Sugarbush, error) {
	f := r.faults
	if prices == nil {
		n := note.New("a plan needs prices, and none are given; allowed: a price file beside the sugarbush")
		f.add(n.At(note.Where{File: r.file}))
		return bush.Sugarbush{}, f.err()
	}
	b := readSugarbush(r, prices, known)
	if f.count() == 0 {
		for _, n := range b.Faults(known) {
			if at := r.where(n.Where.Column); n.Where.Column != "" {
				n.Where = at
			}
			f.add(n)
		}
	}
	return b, f.err()
}

// bushRecord reads a file into the keys that a sugarbush in TOML has; nil where it cannot be.
func bushRecord(file string, data []byte, f *faults) *record {
	var r *record
	switch ext := strings.ToLower(filepath.Ext(bareName(file))); ext {
	case ".toml":
		if len(data) > maxTOML {
			f.add(note.New("this file is larger than %v MiB; allowed: at most that",
				float64(maxTOML)/(1<<20)).At(note.Where{File: file}))
			return nil
		}
		r = flatten(file, data, f)
	case ".csv", ".tsv", ".txt", ".xlsx":
		r = sectionTable(file, data, f)
	default:
		f.add(note.New("a sugarbush does not end in %s; allowed: .toml, .csv, .tsv, .txt, .xlsx",
			quote(ext)).At(note.Where{File: file}))
		return nil
	}
	if r == nil {
		return nil
	}
	if held, told := r.holds(); f.instead(held, told, sectionsHeld, note.Where{File: file}) {
		return nil
	}
	bushKeys().check(r)
	return r
}

// isBush is true of the keys of a sugarbush, which a price file does not have.
func isBush(r *record) bool { return len(r.below("section")) > 0 || r.has("first_season") }

// isSections is true of a table of sections: of a CSV file by its header, of an XLSX file where a sheet is called
// sugarbush.
func isSections(path string, data []byte) bool {
	if name, sheet, ok := spreadsheetName(path); ok {
		if sheet != "" {
			return strings.EqualFold(sheet, "sugarbush")
		}
		return len(data) > 0 && slices.ContainsFunc(sheetNames(data),
			func(s string) bool { return strings.EqualFold(s, "sugarbush") }) && name != ""
	}
	text := string(data[:min(len(data), longestHeader)])
	for line := range strings.Lines(text) {
		line = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(line, "\ufeff")))
		if line == "" || line[0] == '#' {
			continue
		}
		columns := strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(",;\t\" ", r) })
		return slices.Contains(columns, "section") && slices.Contains(columns, "taps") &&
			!slices.Contains(columns, "study")
	}
	return false
}

// sectionTable reads a table with a row a section. A column that is no section's stands for a key of the whole
// sugarbush: one row gives its value, or all give the same.
func sectionTable(file string, data []byte, f *faults) *record {
	known := map[string]bool{"section": true, "name": true, "first_season": true}
	for _, c := range bush.Sections {
		known[c.Name] = true
	}
	if name, sheet, ok := spreadsheetName(file); ok && sheet == "" && isSections(file, data) {
		file = name + "#sugarbush"
	}
	h, rows := table(file, data, known, nil, f)
	if h == nil {
		return nil
	}
	if held, told := h.holds(); f.instead(held, told, sectionsHeld, h.where()) {
		return nil
	}
	if _, ok := h.index["section"]; !ok {
		f.missing(note.New("the column %s is missing; needed: section, taps, practice, and name and first_season of "+
			"the whole", "section").At(h.where()))
		return nil
	}
	if len(rows) == 0 {
		f.missing(note.New("there is a header and no row below it; allowed: one row a section").At(h.where()))
		return nil
	}
	file = h.file
	cells, keys, columns, tables := map[string]cell{}, []string{}, map[string]note.Where{}, map[string]int{}
	put := func(r *record, key, column string, c cell) {
		if before, have := cells[key]; have {
			if before.text != c.text {
				f.add(note.New("%s is said of the whole sugarbush, and rows %d and %d say otherwise; "+
					"allowed: one value",
					column, before.row, c.row).At(r.where(column)))
			}
			return
		}
		cells[key] = c
		columns[key] = r.where(column)
		keys = append(keys, key)
	}
	var last *record
	wholes := bushKeys()
	for _, r := range rows {
		last = r
		section := strings.ReplaceAll(r.text("section"), ".", ",")
		at := "section." + section
		if section != "" {
			if row, twice := tables[at]; twice {
				n := note.New("the section %s stands in row %d already; allowed: once", quote(section), row)
				f.add(n.At(r.where("section")))
				continue
			}
			tables[at] = r.row
		}
		for i, name := range h.names {
			if i >= len(r.cells) || r.cells[i].text == "" || name == "section" || name == "" {
				continue
			}
			c := r.cells[i]
			switch {
			case !isSection(name):
				top, _, _ := strings.Cut(name, ".")
				near := note.Near(name, column.Names(bush.Sections))
				if _, whole := wholes[top]; near != "" && !whole {
					f.add(note.New("the column %s is not known; did you mean %s?", quote(name), near).At(r.where(name)))
					continue
				}
				put(r, name, name, c)
			case section == "":
				f.add(note.New("%s stands in a row without a section; allowed: the name of a section in the column "+
					"section", quote(c.text)).At(r.where(name)))
			case name == "unwanted":
				for n, word := range strings.FieldsFunc(c.text, func(r rune) bool { return r == ';' || r == ',' }) {
					put(r, at+"."+name+"."+strconv.Itoa(n+1), name, cell{text: strings.TrimSpace(word), row: c.row})
				}
			default:
				put(r, at+"."+name, name, c)
			}
		}
	}
	out := dottedRecord(file, keys, cells, tables, f)
	for name := range tables { // a section of which nothing more is said
		if _, have := out.children[name]; !have {
			at := note.Where{File: file, Sheet: h.sheet, Row: tables[name], Column: "taps"}
			f.missing(note.New("nothing is given for %s, which is needed", "taps").At(at))
		}
	}
	out.sheet, out.row, out.columns = h.sheet, h.row, columns
	if last != nil {
		out.comma = last.comma
	}
	return out
}

func readSugarbush(r *record, from *price.Prices, known practice.Set) bush.Sugarbush {
	b := bush.Sugarbush{Where: note.Where{File: r.file}, Seasons: 10, Spare: 0.05, Crews: map[price.Window]bush.Crew{}}
	q := prices{record: r, known: known, asked: map[string]bool{}, place: r.text("place")}
	fill(r, &b, bush.Whole, known)
	for _, w := range r.below("window") {
		key := "window." + w
		if !slices.Contains(price.Windows, price.Window(w)) {
			var names []string
			for _, x := range price.Windows {
				names = append(names, string(x))
			}
			r.faults.add(note.Unknown(w, names).At(r.where(key)))
			continue
		}
		c := bush.Crew{HoursADay: 8}
		fill(r, &c, under(key, bush.Crews), known)
		b.Crews[price.Window(w)] = c
	}
	total := 0
	for _, name := range r.below("section") {
		x := q.section(name)
		b.Sections = append(b.Sections, x)
		total += x.Taps
	}
	if len(b.Sections) == 0 {
		at := note.Where{File: r.file, Column: "section"}
		r.faults.missing(note.New("nothing is given for %s, which is needed", "section").At(at))
	}
	b.Prices = q.over(from.Clone(), total)
	if x := r.number("exchange", positive); x != nil && *x != 1 && b.Prices.Currency == from.Currency {
		b.IdleExchange = *x
	}
	return b
}

// under is columns as the keys below another.
func under[T any](key string, columns []column.Column[T]) []column.Column[T] {
	columns = slices.Clone(columns)
	for i := range columns {
		c := &columns[i]
		c.Name = key + "." + c.Name
		if c.Instead != "" {
			c.Instead = key + "." + c.Instead
		}
	}
	return columns
}

// section reads one section.
func (q *prices) section(name string) bush.Section {
	at := "section." + name
	x := bush.Section{Name: name, Where: note.Where{File: q.file, Row: q.where(at).Row}}
	fill(q.record, &x, under(at, bush.Sections), q.known)
	if x.YieldL != nil {
		*x.YieldL *= q.factor(at+".yield", price.UnitOf("units.sap"))
	}
	if p, ok := q.known.Find(x.Practice); ok && !p.Ages() && q.has(at+".every") {
		q.fault(at+".every", notReplaced(p.Key))
	}
	return x
}

// over lays what a sugarbush says over prices. Where its money is another, exchange is what one unit of the prices'
// money is in it.
func (q *prices) over(p *price.Prices, total int) price.Prices {
	p.Where, p.Lines, p.Text = note.Where{File: q.file}, q.lines(), ""
	q.into = p
	q.units()
	q.exchange()
	if q.has("place") {
		p.SyrupBrix = 0 // as the place asks
	}
	station := p.Sells
	sells := len(q.below("sells")) > 0
	if sells {
		p.Sells = price.Sells{Quota: station.Quota}
		p.Build(func(key string) []string {
			if strings.HasPrefix(key, "sells.") {
				return q.below(key)
			}
			return nil
		})
	}
	for _, s := range p.Slots() {
		// What it sells is all its own; of all else what it says.
		if s.Own && (q.has(s.Key) || len(q.below(s.Key)) > 0 || sells && strings.HasPrefix(s.Key, "sells.")) {
			q.read(s)
		}
	}
	if sells {
		p.Sells.GainPrice = cmp.Or(p.Sells.GainPrice, station.GainPrice)
		p.Sells.CapacityL = cmp.Or(p.Sells.CapacityL, station.CapacityL)
		p.Sells.Peak = cmp.Or(p.Sells.Peak, station.Peak)
		// no more than a quota or a capacity
		if own := p.Sells; len(own.Grades) == 0 && own.Retail == nil && own.Sap == nil {
			p.Sells.Grades, p.Sells.Retail, p.Sells.Sap = station.Grades, station.Retail, station.Sap
		}
	}
	if len(q.below("quota")) > 0 {
		p.Sells.Quota = q.quota(float64(max(1, total)))
	}
	for _, list := range []string{"material", "chemical"} {
		names := p.Names(list)
		for _, name := range q.below(list) {
			if !slices.Contains(names, name) {
				q.faults.add(note.Unknown(name, names).At(q.where(list + "." + name)))
			}
		}
	}
	q.judge(p)
	return *p
}

// exchange turns the prices into the money that the sugarbush reckons in.
func (q *prices) exchange() {
	p := q.into
	c := q.text("currency")
	switch x := q.number("exchange", positive); {
	case c == "" || c == p.Currency:
	case !price.IsCurrency(c):
		q.fault("currency", note.New("%s is not a currency; allowed: a code of ISO 4217, such as USD or CAD", quote(c)))
	case x != nil:
		for _, s := range p.Slots() {
			if v := s.Value(); v != nil && s.Measure.Money() {
				s.Put(price.Value{Best: v.Best * *x})
			}
		}
		p.Currency = c
	case !q.has("exchange"):
		q.fault("currency", note.New("the sugarbush reckons in %s and the prices are in %s; allowed: the same, or "+
			"exchange = what one %s is in %s", c, p.Currency, p.Currency, c))
	}
}

// quota is what a sugarbush says of its whole, as that of a tap.
func (q *prices) quota(taps float64) *price.Quota {
	own := price.Prices{Sells: price.Sells{Quota: new(price.Quota)}}
	for _, s := range own.Slots() {
		key, ok := strings.CutPrefix(s.Key, stationQuota)
		if !ok {
			continue
		}
		s.Key = ownQuota + key
		if s.Measure == price.SyrupATap {
			s.Bounds.High = 1e8
		}
		q.read(s)
	}
	per := func(x *float64) {
		if x != nil {
			*x /= taps
		}
	}
	v := &own.Sells.Quota.SyrupKg
	per(&v.Best)
	per(v.Low)
	per(v.High)
	return own.Sells.Quota
}

// drafts are sugarbushes as they are written; over prices each is held against them.
func drafts(bushes []*record, prices *price.Prices, known practice.Set) []bush.Draft {
	var list []bush.Draft
	at := map[string]note.Where{}
	for _, r := range bushes {
		r.needs("name")
		name := r.text("name")
		if before, twice := at[name]; twice && name != "" {
			r.fault("name", note.New("the sugarbush %s stands in %s already; allowed: each sugarbush once", quote(name),
				before.File))
		}
		at[name] = r.where("name")
		list = append(list, r.draft())
		if prices != nil && r.faults.count() == 0 {
			over(r, prices, known) // what is wrong is put down
		}
	}
	return list
}

// bushesTable is sugarbushes as a table of a data package.
func bushesTable(list []bush.Draft) Table {
	t := Table{Name: bushesRole}
	for _, c := range tableColumns[bushesRole] {
		t.Columns = append(t.Columns, Column{Name: c})
	}
	for _, d := range list {
		for _, e := range d.Keys {
			t.Rows = append(t.Rows, []any{d.Name, e.Key, numberOf(e.Value)})
		}
	}
	return t
}

// numberOf is a text as the number that it is, where every digit of it comes back.
func numberOf(text string) any {
	if x, err := strconv.ParseFloat(text, 64); err == nil && math.Abs(x) < 1e15 && len(text) <= 15 &&
		written(x) == text && strconv.FormatFloat(x, 'f', -1, 64) == text {
		return x
	}
	return text
}

// readBushes reads such a table.
func readBushes(file string, data []byte, f *faults) []*record {
	var order []string
	of := map[string]*dots{}
	for _, r := range small(file, bushesRole, data, f) {
		if !r.need("sugarbush") {
			continue
		}
		name := r.text("sugarbush")
		d := of[name]
		if d == nil {
			d = newDots(file, f)
			of[name], order = d, append(order, name)
		}
		if key, ok := d.key(r); ok {
			d.put(r, key, "value")
		}
	}
	var list []*record
	for _, name := range order {
		r := of[name].record()
		bushKeys().check(r)
		list = append(list, r)
	}
	return list
}

// RetypedSugarbush is the text of a sugarbush, changed where it stands so that it says another; "" where it was none.
func RetypedSugarbush(was, now bush.Draft) string {
	if was.Text == "" {
		return ""
	}
	text := retyped(was.Text, draftSettings(was), draftSettings(now))
	back, err := SugarbushDraft("x.toml", []byte(text))
	if err != nil || len(back.Keys) != len(now.Keys) {
		return "" // rather none than one that says otherwise
	}
	return text
}

// SugarbushTOML is a draft as a file.
func SugarbushTOML(d bush.Draft) []byte {
	if d.Text != "" {
		return []byte(d.Text)
	}
	list := draftSettings(d)
	slices.SortStableFunc(list, func(a, b setting) int { // what stands in no table comes first
		return cmp.Compare(min(len(a.key), 2), min(len(b.key), 2))
	})
	return tomlOf(list)
}

// draftSettings are the keys of a draft as TOML has them; a list is one.
func draftSettings(d bush.Draft) []setting {
	var list []setting
	for _, e := range d.Keys {
		path := strings.Split(e.Key, ".")
		value := tomlString(e.Value)
		switch _, number := numberOf(e.Value).(float64); {
		case e.Key == "organic" && (e.Value == "yes" || e.Value == "true"):
			value = "true"
		case e.Key == "organic" && (e.Value == "no" || e.Value == "false"):
			value = "false"
		case e.Key == "as_of", number && !slices.Contains([]string{"name", "species", "source"}, path[len(path)-1]):
			value = e.Value
		}
		if last := len(path) - 1; last > 0 && path[last-1] == "unwanted" {
			at := strings.Join(path[:last], ".")
			if n := len(list); n > 0 && joined(list[n-1].key) == at {
				before := strings.TrimSuffix(string(list[n-1].value.(literal)), "]")
				list[n-1].value = literal(before + ", " + value + "]")
				continue
			}
			path, value = path[:last], "["+value+"]"
		}
		named := slices.Contains([]string{"section", "window", "material", "chemical"}, path[0]) && len(path) > 2
		list = append(list, setting{path, literal(value), named})
	}
	return list
}
