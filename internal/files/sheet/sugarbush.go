package sheet

import (
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/text/currency"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/input"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

// bushKeys are the keys of a sugarbush; docs/data.md says what each means. Those that end in = are values.
var bushKeys = grow(
	"name", "place", "organic", "as_of", "currency", "exchange", "first_season", "seasons", "cash", "spare",
	"drop_length_in", "drop_length_cm",
	"units.sap", "units.syrup", "units.mass", "units.chemical",
	"wage=", "discount=", "processing=", "hauling=", "farm_adjust=",
	"sells.bulk.*.share", "sells.bulk.*.price=", "sells.retail.share", "sells.retail.price=",
	"sells.sap.share", "sells.sap.price=", "sells.gain_price=",
	"sells.capacity=", "quota.syrup=", "quota.price_beyond=", "quota.delay=",
	"material.*.price=", "chemical.*.price=", "chemical.*.label_names_tubing",
	"window.*.people", "window.*.days", "window.*.hours_a_day",
	"section.*.taps", "section.*.collection", "section.*.tubing_in", "section.*.vacuum_inhg", "section.*.vacuum_kpa",
	"section.*.releaser", "section.*.species", "section.*.line_age", "section.*.drops_replaced", "section.*.practice",
	"section.*.every", "section.*.yield", "section.*.brix", "section.*.reach_min", "section.*.unwanted.*",
)

var (
	horizon  = bounds{Low: 1, High: bush.MaxSeasons, Whole: true}
	taps     = bounds{Low: 1, High: 1e6, Whole: true}
	budgeted = bounds{Low: 0, High: 1e8}
	dayHours = bounds{Low: 0, High: 24, Open: true}
	vacuums  = bounds{Low: 0, High: 32}
	vacuumsK = bounds{Low: 0, High: 108}
)

// sectionColumns are those of a table of sections; any other key of a sugarbush may be a column too.
var sectionColumns = []string{"section", "taps", "collection", "tubing_in", "vacuum_inhg", "vacuum_kpa", "releaser", "species", "line_age",
	"drops_replaced", "practice", "every", "yield", "brix", "reach_min", "unwanted"}

// SectionColumns are the columns of a table of sections, in the order in which docs/data.md lists them.
func SectionColumns() []string { return slices.Clone(sectionColumns) }

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
	cells, keys := map[string]cell{}, []string{}
	for _, e := range d.Keys {
		if _, twice := cells[e.Key]; !twice {
			keys = append(keys, e.Key)
		}
		cells[e.Key] = cell{text: e.Value}
	}
	r := dottedRecord(d.Where.File, keys, cells, nil, f)
	r.row = 0
	bushKeys.check(r)
	return over(r, prices, practices)
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
	d := bush.Draft{Name: r.text("name"), Where: note.Where{File: r.file}}
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
		f.add(note.New("a plan needs prices, and none are given; allowed: a price file beside the sugarbush").At(note.Where{File: r.file}))
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
			f.add(note.New("this file is larger than %v MiB; allowed: at most that", float64(maxTOML)/(1<<20)).At(note.Where{File: file}))
			return nil
		}
		r = flatten(file, data, f)
	case ".csv", ".tsv", ".txt", ".xlsx":
		r = sectionTable(file, data, f)
	default:
		f.add(note.New("a sugarbush does not end in %s; allowed: .toml, .csv, .tsv, .txt, .xlsx", quote(ext)).At(note.Where{File: file}))
		return nil
	}
	if r != nil {
		bushKeys.check(r)
	}
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
		return len(data) > 0 && slices.ContainsFunc(sheetNames(data), func(s string) bool { return strings.EqualFold(s, "sugarbush") }) && name != ""
	}
	text := string(data[:min(len(data), longestHeader)])
	for line := range strings.Lines(text) {
		line = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(line, "\ufeff")))
		if line == "" || line[0] == '#' {
			continue
		}
		columns := strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(",;\t\" ", r) })
		return slices.Contains(columns, "section") && slices.Contains(columns, "taps") && !slices.Contains(columns, "study")
	}
	return false
}

// sectionTable reads a table with a row a section. A column that is no section's stands for a key of the whole sugarbush:
// one row gives its value, or all give the same.
func sectionTable(file string, data []byte, f *faults) *record {
	known := map[string]bool{"name": true, "first_season": true}
	for _, c := range sectionColumns {
		known[c] = true
	}
	if name, sheet, ok := spreadsheetName(file); ok && sheet == "" && isSections(file, data) {
		file = name + "#sugarbush"
	}
	h, rows := table(file, data, known, nil, f)
	if h == nil {
		return nil
	}
	if _, ok := h.index["section"]; !ok {
		f.missing(note.New("the column %s is missing; needed: section, taps, practice, and name and first_season of the whole", "section").At(h.where()))
		return nil
	}
	file = h.file
	cells, keys, columns, tables := map[string]cell{}, []string{}, map[string]note.Where{}, map[string]int{}
	put := func(r *record, key, column string, c cell) {
		if before, have := cells[key]; have {
			if before.text != c.text {
				f.add(note.New("%s is said of the whole sugarbush, and rows %d and %d say otherwise; allowed: one value", column, before.row, c.row).At(r.where(column)))
			}
			return
		}
		cells[key] = c
		columns[key] = r.where(column)
		keys = append(keys, key)
	}
	var last *record
	for _, r := range rows {
		last = r
		section := strings.ReplaceAll(r.text("section"), ".", ",")
		at := "section." + section
		if section != "" {
			if row, twice := tables[at]; twice {
				f.add(note.New("the section %s stands in row %d already; allowed: once", quote(section), row).At(r.where("section")))
				continue
			}
			tables[at] = r.row
		}
		for i, column := range h.names {
			if i >= len(r.cells) || r.cells[i].text == "" || column == "section" || column == "" {
				continue
			}
			c := r.cells[i]
			switch {
			case !slices.Contains(sectionColumns, column):
				put(r, column, column, c)
			case section == "":
				f.add(note.New("%s stands in a row without a section; allowed: the name of a section in the column section", quote(c.text)).At(r.where(column)))
			case column == "unwanted":
				for n, word := range strings.FieldsFunc(c.text, func(r rune) bool { return r == ';' || r == ',' }) {
					put(r, at+"."+column+"."+strconv.Itoa(n+1), column, cell{text: strings.TrimSpace(word), row: c.row})
				}
			default:
				put(r, at+"."+column, column, c)
			}
		}
	}
	out := dottedRecord(file, keys, cells, tables, f)
	for name := range tables { // a section of which nothing more is said
		if _, have := out.children[name]; !have {
			f.missing(note.New("nothing is given for %s, which is needed", "taps").At(note.Where{File: file, Sheet: h.sheet, Row: tables[name], Column: "taps"}))
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
	number := func(key string, allowed bounds, into *float64) {
		if x := r.number(key, allowed); x != nil {
			*into = *x
		}
	}
	if r.need("name") {
		b.Name = r.text("name")
	}
	if r.need("first_season") {
		if x := r.whole("first_season", spring); x != nil {
			b.First = *x
		}
	}
	if x := r.whole("seasons", horizon); x != nil {
		b.Seasons = *x
	}
	b.Cash = r.number("cash", budgeted)
	number("spare", share, &b.Spare)
	drop := 0.0
	if number("drop_length_in", positive, &drop); drop > 0 {
		b.DropLength = unit.Inch.Of(drop)
	}
	if cm := r.number("drop_length_cm", positive); cm != nil {
		if r.has("drop_length_in") {
			r.fault("drop_length_cm", note.New("the length of a drop is given in inches and in centimetres; allowed: one of the two"))
		}
		b.DropLength = unit.Length(*cm / 100)
	}
	for _, w := range r.below("window") {
		key := "window." + w
		at := price.Window(w)
		ok := false
		for _, x := range price.Windows {
			ok = ok || x == at
		}
		if !ok {
			names := make([]string, len(price.Windows))
			for i, x := range price.Windows {
				names[i] = string(x)
			}
			r.faults.add(note.Unknown(w, names).At(r.where(key)))
			continue
		}
		c := bush.Crew{HoursADay: 8}
		if r.need(key + ".people") {
			number(key+".people", notBelow, &c.People)
		}
		if r.need(key + ".days") {
			number(key+".days", notBelow, &c.Days)
		}
		number(key+".hours_a_day", dayHours, &c.HoursADay)
		b.Crews[at] = c
	}
	total := 0
	q := prices{record: r, known: known, asked: map[string]bool{}, place: r.text("place")}
	for _, name := range r.below("section") {
		x := q.section(name)
		b.Sections = append(b.Sections, x)
		total += x.Taps
	}
	if len(b.Sections) == 0 {
		r.faults.missing(note.New("nothing is given for %s, which is needed", "section").At(note.Where{File: r.file, Column: "section"}))
	}
	b.Prices = q.over(*from, total)
	return b
}

// section reads one section.
func (q *prices) section(name string) bush.Section {
	key := func(part string) string { return "section." + name + "." + part }
	x := bush.Section{Name: name, Where: note.Where{File: q.file, Row: q.where("section." + name).Row}}
	if q.need(key("taps")) {
		if n := q.whole(key("taps"), taps); n != nil {
			x.Taps = *n
		}
	}
	x.Buckets = q.choice(key("collection"), "tubing", "buckets") == "buckets"
	if d := q.inches(key("tubing_in"), inch); d != nil {
		x.TubingIn = *d
	}
	if v := q.number(key("vacuum_inhg"), vacuums); v != nil {
		x.Vacuum = new(unit.InchOfMercury.Of(*v))
	}
	if v := q.number(key("vacuum_kpa"), vacuumsK); v != nil {
		if x.Vacuum != nil {
			q.fault(key("vacuum_kpa"), note.New("the vacuum is given in inHg and in kPa; allowed: one of the two"))
		}
		x.Vacuum = new(unit.Pressure(*v))
	}
	x.Releaser = q.choice(key("releaser"), "mechanical", "electric")
	x.Species = strings.ToLower(q.text(key("species")))
	x.LineAge = q.number(key("line_age"), bounds{Low: 0, High: 100})
	if n := q.whole(key("drops_replaced"), spring); n != nil {
		x.DropsReplaced = *n
	}
	if q.need(key("practice")) {
		x.Practice = q.practice(key("practice"))
	}
	if n := q.whole(key("every"), count); n != nil {
		if p, ok := q.known.Find(x.Practice); ok && !p.Ages() {
			q.fault(key("every"), note.New("the drops of %s are not replaced by themselves; allowed: only where drops are replaced, as in new-drop", note.Term(x.Practice)))
		}
		x.Every = *n
	}
	if v := q.number(key("yield"), positive); v != nil {
		x.YieldL = new(*v * q.factor(key("yield"), sapVolume))
	}
	x.Brix = q.number(key("brix"), brix)
	if v := q.number(key("reach_min"), bounds{Low: 0, High: 600}); v != nil {
		x.ReachMin = *v
	}
	for _, i := range q.below(key("unwanted")) {
		if k := q.practice(key("unwanted." + i)); k != "" {
			x.Unwanted = append(x.Unwanted, k)
		}
	}
	return x
}

// over lays what a sugarbush says over prices. Where its money is another, exchange is what one unit of the prices' money
// is in it.
func (q *prices) over(p price.Prices, total int) price.Prices {
	p.Where = note.Where{File: q.file}
	p.Lines = map[string]int{}
	for name, row := range q.tables {
		p.Lines[name] = row
	}
	for i, name := range q.head.names {
		p.Lines[name] = q.cells[i].row
	}
	q.currency = p.Currency
	if c := q.text("currency"); c != "" && c != p.Currency {
		if _, err := currency.ParseISO(c); err != nil || strings.ToUpper(c) != c {
			q.fault("currency", note.New("%s is not a currency; allowed: a code of ISO 4217, such as USD or CAD", quote(c)))
		} else if x := q.number("exchange", positive); x != nil {
			p = exchanged(p, *x)
			p.Currency = c
		} else if !q.has("exchange") {
			q.fault("currency", note.New("the sugarbush reckons in %s and the prices are in %s; allowed: the same, or exchange = what one %s is in %s", c, p.Currency, p.Currency, c))
		}
		q.currency = c
	}
	if q.has("place") {
		p.Place = q.text("place")
		if p.Place != "" && !place.Exists(p.Place) {
			q.fault("place", place.Fault(p.Place))
		}
		p.SyrupBrix = 0 // as the place asks
	}
	if q.has("organic") {
		p.Organic = q.yes("organic")
	}
	if t := q.date("as_of"); !t.IsZero() {
		p.AsOf = t.Format(time.DateOnly)
	}
	q.given("wage", notBelow, bare, &p.Wage)
	q.given("discount", discount, bare, &p.Discount)
	q.given("processing", notBelow, perSyrup, &p.Processing)
	q.given("hauling", notBelow, perSap, &p.Hauling)
	q.given("farm_adjust", fraction, bare, &p.FarmAdjust)
	if len(q.below("sells")) > 0 {
		own := price.Sells{Quota: p.Sells.Quota}
		q.sells(&own)
		if own.GainPrice == nil {
			own.GainPrice = p.Sells.GainPrice
		}
		if own.CapacityL == nil {
			own.CapacityL = p.Sells.CapacityL
		}
		if len(own.Grades) == 0 && own.Retail == nil && own.Sap == nil { // a quota or a capacity over what the station sells
			own.Grades, own.Retail, own.Sap = p.Sells.Grades, p.Sells.Retail, p.Sells.Sap
		}
		p.Sells = own
	}
	if len(q.below("quota")) > 0 { // of the whole sugarbush, where a price file's is a tap's
		quota := new(price.Quota)
		q.wanted("quota.syrup", budgeted, syrupMass, &quota.SyrupKg)
		quota.SyrupKg.Best /= float64(max(1, total))
		q.wanted("quota.price_beyond", share, bare, &quota.PriceBeyond)
		q.given("quota.delay", bounds{Low: 0, High: 100}, bare, &quota.DelaySeasons)
		p.Sells.Quota = quota
	}
	p.Materials = append([]price.Material(nil), p.Materials...)
	for i := range p.Materials {
		q.given("material."+p.Materials[i].Name+".price", notBelow, bare, &p.Materials[i].Price)
	}
	p.Chemicals = append([]price.Chemical(nil), p.Chemicals...)
	for i := range p.Chemicals {
		c := &p.Chemicals[i]
		q.given("chemical."+c.Name+".price", notBelow, perProduct, &c.Price)
		if key := "chemical." + c.Name + ".label_names_tubing"; q.has(key) {
			c.LabelNamesTubing = q.yes(key)
		}
	}
	for _, list := range []string{"material", "chemical"} {
		for _, name := range q.below(list) {
			ok := false
			var names []string
			if list == "material" {
				for _, m := range p.Materials {
					ok, names = ok || m.Name == name, append(names, m.Name)
				}
			} else {
				for _, c := range p.Chemicals {
					ok, names = ok || c.Name == name, append(names, c.Name)
				}
			}
			if !ok {
				q.faults.add(note.Unknown(name, names).At(q.where(list + "." + name)))
			}
		}
	}
	q.judge(&p)
	return p
}

// exchanged is prices in another money.
func exchanged(p price.Prices, rate float64) price.Prices {
	in := advice.Input{Input: input.Input{Prices: &p}}
	for _, a := range in.Assumptions() {
		switch a.Measure {
		case advice.MoneyHour, advice.MoneySyrupKg, advice.MoneySyrupL, advice.MoneySapL, advice.MoneyProductL, advice.MoneyEach, advice.MoneyATap:
			in, _ = in.With(a.Key, a.Value.Best*rate)
		}
	}
	return *in.Prices
}

// drafts are sugarbushes as they are written; over prices each is held against them.
func drafts(bushes []*record, prices *price.Prices, known practice.Set) []bush.Draft {
	var list []bush.Draft
	at := map[string]note.Where{}
	for _, r := range bushes {
		r.needs("name")
		name := r.text("name")
		if before, twice := at[name]; twice && name != "" {
			r.fault("name", note.New("the sugarbush %s stands in %s already; allowed: each sugarbush once", quote(name), before.File))
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
	if x, err := strconv.ParseFloat(text, 64); err == nil && math.Abs(x) < 1e15 && len(text) <= 15 && written(x) == text && strconv.FormatFloat(x, 'f', -1, 64) == text {
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
		bushKeys.check(r)
		list = append(list, r)
	}
	return list
}
