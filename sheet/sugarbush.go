package sheet

import (
	"os"
	"strings"
	"time"

	"golang.org/x/text/currency"

	"spile/advice"
	"spile/budget"
	"spile/note"
	"spile/plan"
	"spile/practice"
	"spile/unit"
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
	horizon  = bounds{low: 1, high: plan.MaxSeasons, whole: true}
	years    = bounds{low: 1950, high: 2100, whole: true}
	taps     = bounds{low: 1, high: 1e6, whole: true}
	budgeted = bounds{low: 0, high: 1e8}
	dayHours = bounds{low: 0, high: 24, open: true}
	vacuums  = bounds{low: 0, high: 32}
	vacuumsK = bounds{low: 0, high: 108}
)

// Sugarbush reads a sugarbush, laid over the prices of an input. Only what it says of its own differs from them. The
// error is a note.Faults with everything that is wrong.
func Sugarbush(path string, in advice.Input) (plan.Sugarbush, error) {
	f := load(path)
	if f.toml == nil {
		if err := f.faults.err(); err != nil {
			return plan.Sugarbush{}, err
		}
		return plan.Sugarbush{}, note.Faults{note.New("a sugarbush is a TOML file; allowed: a file that ends in .toml").At(note.Where{File: path})}
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return plan.Sugarbush{}, note.Faults{note.New("this file could not be read: %s", err.Error()).At(note.Where{File: path})}
	}
	return SugarbushOf(path, data, in)
}

// SugarbushOf reads a sugarbush from the bytes of a TOML file.
func SugarbushOf(file string, data []byte, in advice.Input) (plan.Sugarbush, error) {
	f := new(faults)
	r := flatten(file, data, f)
	if r == nil {
		return plan.Sugarbush{}, f.err()
	}
	bushKeys.check(r)
	if in.Prices == nil {
		f.add(note.New("a plan needs prices, and none are given; allowed: a price file beside the sugarbush").At(note.Where{File: file}))
		return plan.Sugarbush{}, f.err()
	}
	known := in.Practices
	if known == nil {
		known = practice.Shipped()
	}
	b := readSugarbush(r, in, known)
	if f.count() == 0 {
		for _, n := range b.Faults(known) {
			f.add(n)
		}
	}
	return b, f.err()
}

func readSugarbush(r *record, in advice.Input, known practice.Set) plan.Sugarbush {
	b := plan.Sugarbush{Where: note.Where{File: r.file}, Seasons: 10, Spare: 0.05, Crews: map[budget.Window]plan.Crew{}}
	number := func(key string, allowed bounds, into *float64) {
		if x := r.number(key, allowed); x != nil {
			*into = *x
		}
	}
	if r.need("name") {
		b.Name = r.text("name")
	}
	if r.need("first_season") {
		if x := r.whole("first_season", years); x != nil {
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
		at := budget.Window(w)
		ok := false
		for _, x := range windows {
			ok = ok || x == at
		}
		if !ok {
			names := make([]string, len(windows))
			for i, x := range windows {
				names[i] = string(x)
			}
			r.faults.add(unknown(w, names).At(r.where(key)))
			continue
		}
		c := plan.Crew{HoursADay: 8}
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
	b.Prices = q.over(*in.Prices, total)
	return b
}

// section reads one section.
func (q *prices) section(name string) plan.Section {
	key := func(part string) string { return "section." + name + "." + part }
	x := plan.Section{Name: name, Where: note.Where{File: q.file, Row: q.where("section." + name).Row}}
	if q.need(key("taps")) {
		if n := q.whole(key("taps"), taps); n != nil {
			x.Taps = *n
		}
	}
	x.Buckets = q.choice(key("collection"), "tubing", "buckets") == "buckets"
	if d := q.tubing(key("tubing_in")); d != nil {
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
	x.LineAge = q.number(key("line_age"), bounds{low: 0, high: 100})
	if n := q.whole(key("drops_replaced"), years); n != nil {
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
	if v := q.number(key("reach_min"), bounds{low: 0, high: 600}); v != nil {
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
func (q *prices) over(p budget.Prices, total int) budget.Prices {
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
		if p.Place != "" && !place.MatchString(p.Place) {
			q.fault("place", note.New("%s is not a place; allowed: a code of ISO 3166, such as US-VT or CA-QC", quote(p.Place)))
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
		own := budget.Sells{Quota: p.Sells.Quota}
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
		quota := new(budget.Quota)
		q.wanted("quota.syrup", budgeted, syrupMass, &quota.SyrupKg)
		quota.SyrupKg.Best /= float64(max(1, total))
		q.wanted("quota.price_beyond", share, bare, &quota.PriceBeyond)
		q.given("quota.delay", bounds{low: 0, high: 100}, bare, &quota.DelaySeasons)
		p.Sells.Quota = quota
	}
	p.Materials = append([]budget.Material(nil), p.Materials...)
	for i := range p.Materials {
		q.given("material."+p.Materials[i].Name+".price", notBelow, bare, &p.Materials[i].Price)
	}
	p.Chemicals = append([]budget.Chemical(nil), p.Chemicals...)
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
				q.faults.add(unknown(name, names).At(q.where(list + "." + name)))
			}
		}
	}
	q.judge(&p)
	return p
}

// exchanged is prices in another money.
func exchanged(p budget.Prices, rate float64) budget.Prices {
	in := advice.Input{Prices: &p}
	for _, a := range in.Assumptions() {
		switch a.Measure {
		case advice.MoneyHour, advice.MoneySyrupKg, advice.MoneySyrupL, advice.MoneySapL, advice.MoneyProductL, advice.MoneyEach, advice.MoneyATap:
			in, _ = in.With(a.Key, a.Value.Best*rate)
		}
	}
	return *in.Prices
}
