package sheet

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/text/currency"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

// priceKeys are the keys of a price file; docs/data.md says what each means. Those that end in = are values.
var priceKeys = []string{
	"currency", "as_of", "place", "organic", "all_at_once", "syrup_brix",
	"units.sap", "units.syrup", "units.mass", "units.chemical",
	"today.practice", "today.drop_age", "today.every",
	"baseline.yield=", "baseline.practice", "baseline.drop_age", "baseline.every", "baseline.brix=", "baseline.gain_brix=",
	"sells.bulk.*.share", "sells.bulk.*.price=", "sells.retail.share", "sells.retail.price=",
	"sells.sap.share", "sells.sap.price=", "sells.gain_price=",
	"sells.quota.syrup=", "sells.quota.price_beyond=", "sells.quota.delay=", "sells.capacity=",
	"processing=", "hauling=", "wage=", "discount=", "farm_adjust=",
	"material.*.price=", "material.*.grams",
	"chemical.*.price=", "chemical.*.label_names_tubing",
	"use.*.material.*.count", "use.*.material.*.life=",
	"use.*.minutes.shop=", "use.*.minutes.before-tapping=", "use.*.minutes.tapping=", "use.*.minutes.after-season=",
	"use.*.gain.*",
	"use.*.chemical", "use.*.chemical_amount=", "use.*.lost_sap=", "use.*.repairs=", "use.*.disposal=",
	"use.*.renewal.material.*.count",
	"use.*.renewal.minutes.shop=", "use.*.renewal.minutes.before-tapping=", "use.*.renewal.minutes.tapping=",
	"use.*.renewal.minutes.after-season=", "use.*.renewal.disposal=",
}

var practiceKeys = []string{"practice.*.name", "practice.*.spout", "practice.*.drops", "practice.*.wash"}

var ruleKeys = []string{
	"rule.*.wash", "rule.*.spout", "rule.*.product", "rule.*.chemical", "rule.*.unlabelled", "rule.*.place", "rule.*.organic",
	"rule.*.verdict", "rule.*.reason", "rule.*.checked",
}

var columnKeys = func() []string {
	keys := columnNames()
	for i := range keys {
		keys[i] = "columns." + keys[i]
	}
	return keys
}()

var allKeys = grow(slices.Concat(priceKeys, practiceKeys, ruleKeys, columnKeys)...)

var (
	share    = bounds{Low: 0, High: 1}
	brix     = bounds{Low: 0, High: 20, Open: true}
	syrup    = bounds{Low: 60, High: 75}
	discount = bounds{Low: -0.5, High: 1}
	fraction = bounds{Low: 0, High: 1, Open: true}
	lives    = bounds{Low: 0, High: 100, Open: true}
	pieces   = bounds{Low: 0, High: 100, Open: true}
)

// Prices reads a price file from the bytes of a TOML file. practices are those that it may name, beside those that it
// defines itself. The error is a note.Faults with everything that is wrong; then there are no prices.
func Prices(file string, data []byte, practices practice.Set) (*price.Prices, []note.Note, error) {
	f := new(faults)
	r := flatten(file, data, f)
	if r == nil {
		return nil, nil, f.err()
	}
	allKeys.check(r)
	own := ownPractices(r, practices, nil)
	p := readPrices(r, slices.Concat(practices, own))
	judgeRules(readRules(r, false), "")
	if err := f.err(); err != nil {
		return nil, nil, err
	}
	return p, nil, nil
}

// prices reads a price file; what it reads leaves in litres, kilograms and the file's money.
type prices struct {
	*record
	known    practice.Set
	currency string
	place    string
	asked    map[string]bool // units already asked for
}

// measure is what a number of a price file counts, and so which of the file's units it stands in.
type measure int

const (
	bare         measure = iota // no unit, or money alone
	sapVolume                   // a volume of sap
	perSap                      // money for a volume of sap
	perSyrup                    // money for a volume of syrup
	syrupMass                   // a mass of syrup
	perSyrupMass                // money for a mass of syrup
	product                     // a volume of a chemical
	perProduct                  // money for a volume of a chemical
)

var unitKeys = map[measure]string{
	sapVolume: "units.sap", perSap: "units.sap", perSyrup: "units.syrup", syrupMass: "units.mass",
	perSyrupMass: "units.mass", product: "units.chemical", perProduct: "units.chemical",
}

func readPrices(r *record, known practice.Set) *price.Prices {
	q := prices{record: r, known: known, asked: map[string]bool{}}
	p := price.Default()
	p.Where = note.Where{File: r.file}
	p.Lines = map[string]int{}
	for name, row := range r.tables {
		p.Lines[name] = row
	}
	for i, name := range r.head.names {
		p.Lines[name] = r.cells[i].row
	}

	if r.need("currency") {
		p.Currency = r.text("currency")
		if _, err := currency.ParseISO(p.Currency); p.Currency != "" && (err != nil || strings.ToUpper(p.Currency) != p.Currency) {
			r.fault("currency", note.New("%s is not a currency; allowed: a code of ISO 4217, such as USD or CAD", quote(p.Currency)))
		}
		q.currency = p.Currency
	}
	if r.need("as_of") {
		if t := r.date("as_of"); !t.IsZero() {
			p.AsOf = t.Format(time.DateOnly)
		}
	}
	p.Place = r.text("place")
	q.place = p.Place
	for _, m := range []measure{sapVolume, perSyrup, syrupMass, product} {
		if at := unitKeys[m]; r.has(at) {
			q.factor(at, m) // a unit that is none is said, whether it is used or not
		}
	}
	p.Organic = r.yes("organic")
	p.AllAtOnce = r.yes("all_at_once")
	if x := r.number("syrup_brix", syrup); x != nil {
		p.SyrupBrix = *x
	}
	if r.has("today.practice") {
		p.Today, p.TodayEvery = q.treatment("today")
	} else if r.has("today.drop_age") || r.has("today.every") {
		r.need("today.practice")
	}

	if r.need("baseline.practice") {
		p.Baseline.Practice, p.Baseline.Every = q.treatment("baseline")
	}
	q.wanted("baseline.yield", positive, sapVolume, &p.Baseline.Yield)
	q.wanted("baseline.brix", brix, bare, &p.Baseline.Brix)
	p.Baseline.GainBrix = q.value("baseline.gain_brix", brix, bare)
	q.sells(&p.Sells)
	q.wanted("wage", notBelow, bare, &p.Wage)
	q.wanted("discount", discount, bare, &p.Discount)
	q.given("processing", notBelow, perSyrup, &p.Processing)
	q.given("hauling", notBelow, perSap, &p.Hauling)
	q.given("farm_adjust", fraction, bare, &p.FarmAdjust)

	for _, name := range r.below("material") {
		m := price.Material{Name: name}
		q.wanted("material."+name+".price", notBelow, bare, &m.Price)
		if x := r.number("material."+name+".grams", notBelow); x != nil {
			m.Grams = *x
		}
		p.Materials = append(p.Materials, m)
	}
	for _, name := range r.below("chemical") {
		c := price.Chemical{Name: name}
		q.wanted("chemical."+name+".price", notBelow, perProduct, &c.Price)
		c.LabelNamesTubing = r.yes("chemical." + name + ".label_names_tubing")
		p.Chemicals = append(p.Chemicals, c)
	}
	for _, name := range r.below("use") {
		p.Uses = append(p.Uses, q.use(name))
	}
	q.judge(&p)
	return &p
}

// judge adds what the budget finds wrong with the prices as a whole, where reading them did not already find it.
func (q *prices) judge(p *price.Prices) {
	if q.faults.broken {
		return // what is missing may stand on a line that could not be read
	}
	told := slices.Clone(q.faults.notes)
	at := func(column string) bool {
		return slices.ContainsFunc(told, func(n note.Note) bool {
			return n.Where.Column == column || strings.HasPrefix(n.Where.Column, column+".")
		})
	}
	whole := *p
	if at("baseline.yield") {
		whole.Baseline.Yield = price.Value{Best: most} // other faults are judged against it
	}
	for _, n := range whole.Faults(q.known) {
		if !at(n.Where.Column) {
			q.faults.add(n)
		}
	}
}

// factor turns a number of the file into base units.
func (q *prices) factor(key string, m measure) float64 {
	at := unitKeys[m]
	if at == "" {
		return 1
	}
	if !q.has(at) {
		if !q.asked[at] {
			q.asked[at] = true
			allowed := "gal, gal_imp, l"
			if at == "units.mass" {
				allowed = "lb, kg"
			}
			q.faults.missing(note.New("%s is given and %s is not, so its unit is unknown; allowed: %s", key, at, allowed).At(q.where(at)))
		}
		return 1
	}
	var base float64
	word := q.text(at)
	if m == syrupMass || m == perSyrupMass {
		u, ok := unit.ParseMass(word)
		if !ok {
			q.wrongUnit(at, note.New("%s is not a unit of mass; allowed: lb, kg", quote(word)))
			return 1
		}
		base = float64(u.Of(1))
	} else {
		u, ok := unit.ParseVolume(word)
		if !ok {
			q.wrongUnit(at, note.New("%s is not a unit of volume; allowed: gal (US gallon), gal_imp (imperial gallon), l (litre)", quote(word)))
			return 1
		}
		if unit.BareGallon(word) && unit.Canadian(q.place) {
			q.wrongUnit(at, note.New("%s in a file from %s may be a US or an imperial gallon; allowed: gal_us, gal_imp, l", quote(word), q.place))
			return 1
		}
		base = float64(u.Of(1))
	}
	if m == perSap || m == perSyrup || m == perSyrupMass || m == perProduct {
		return 1 / base
	}
	return base
}

func (q *prices) wrongUnit(at string, n note.Note) {
	if !q.asked[at] {
		q.asked[at] = true
		q.fault(at, n)
	}
}

// value reads a number, or a table of best, low, high and source; nil where it is not given or at fault.
func (q *prices) value(key string, b bounds, m measure) *price.Value {
	if q.has(key) {
		x := q.number(key, b)
		if k := q.factor(key, m); x != nil {
			return &price.Value{Best: *x * k}
		}
		return nil
	}
	if _, table := q.tables[key]; !table && len(q.below(key)) == 0 {
		return nil
	}
	if !q.need(key + ".best") {
		return nil
	}
	best, low, high := q.number(key+".best", b), q.number(key+".low", b), q.number(key+".high", b)
	k := q.factor(key, m)
	v := &price.Value{Source: q.text(key + ".source")}
	if c := q.text(key + ".currency"); c != "" && q.currency != "" && c != q.currency {
		q.fault(key+".currency", note.New("two currencies stand in one file, %s here and %s for the file; allowed: one", quote(c), q.currency))
	}
	if best == nil {
		return nil
	}
	if low != nil && *low > *best {
		q.fault(key+".low", note.New("low is %v and best is %v; allowed: low at most best", *low, *best))
	}
	if high != nil && *high < *best {
		q.fault(key+".high", note.New("high is %v and best is %v; allowed: high at least best", *high, *best))
	}
	v.Best = *best * k
	if low != nil {
		v.Low = new(*low * k)
	}
	if high != nil {
		v.High = new(*high * k)
	}
	return v
}

// wanted reads a value that must be there.
func (q *prices) wanted(key string, b bounds, m measure, into *price.Value) {
	if !q.given(key, b, m, into) {
		q.need(key)
	}
}

// given reads a value that may be left out; false where it is.
func (q *prices) given(key string, b bounds, m measure, into *price.Value) bool {
	if v := q.value(key, b, m); v != nil {
		*into = *v
		return true
	}
	return q.has(key) || len(q.below(key)) > 0
}

// treatment reads a practice with the age of its drops, or with the seasons between their replacements.
func (q *prices) treatment(at string) (practice.Treatment, int) {
	t := practice.Treatment{Practice: q.practice(at + ".practice")}
	age, every := q.whole(at+".drop_age", seasons), q.whole(at+".every", count)
	p, ok := q.known.Find(t.Practice)
	for _, key := range []string{at + ".drop_age", at + ".every"} {
		if ok && !p.Ages() && q.has(key) {
			q.fault(key, note.New("the drops of %s are not replaced by themselves; allowed: only where drops are replaced, as in new-drop", note.Term(t.Practice)))
			return t, 0
		}
	}
	if age != nil && every != nil {
		q.fault(at+".drop_age", note.New("drop_age and every are both given; allowed: one of them (every drop of one age, or drops replaced every so many seasons)"))
	}
	if age != nil {
		t.DropAge = *age
	}
	if every != nil {
		return t, *every
	}
	return t, 0
}

func (q *prices) practice(key string) practice.Key {
	keys := make([]string, len(q.known))
	for i, k := range q.known.Keys() {
		keys[i] = string(k)
	}
	return practice.Key(q.choice(key, keys...))
}

// part reads a share of what is sold.
func (q *prices) part(key string) float64 {
	if q.need(key) {
		if x := q.number(key, share); x != nil {
			return *x
		}
	}
	return 0
}

func (q *prices) sells(s *price.Sells) {
	for _, name := range q.below("sells.bulk") {
		g := price.Grade{Name: name, Share: q.part("sells.bulk." + name + ".share")}
		q.wanted("sells.bulk."+name+".price", notBelow, perSyrupMass, &g.Price)
		s.Grades = append(s.Grades, g)
	}
	outlet := func(key string, m measure) *price.Outlet {
		if len(q.below(key)) == 0 {
			return nil
		}
		o := &price.Outlet{Share: q.part(key + ".share")}
		q.wanted(key+".price", notBelow, m, &o.Price)
		return o
	}
	s.Retail = outlet("sells.retail", perSyrup)
	s.Sap = outlet("sells.sap", perSap)
	s.GainPrice = q.value("sells.gain_price", notBelow, bare)
	s.CapacityL = q.value("sells.capacity", positive, sapVolume)
	if len(q.below("sells.quota")) > 0 {
		s.Quota = new(price.Quota)
		q.wanted("sells.quota.syrup", notBelow, syrupMass, &s.Quota.SyrupKg)
		q.wanted("sells.quota.price_beyond", share, bare, &s.Quota.PriceBeyond)
		q.given("sells.quota.delay", bounds{Low: 0, High: 100}, bare, &s.Quota.DelaySeasons)
	}
}

// use reads what one practice takes.
func (q *prices) use(name string) price.Use {
	at := "use." + name
	u := price.Use{Practice: practice.Key(name)}
	p, known := q.known.Find(u.Practice)
	if !known {
		keys := make([]string, len(q.known))
		for i, k := range q.known.Keys() {
			keys[i] = string(k)
		}
		q.fault(at, note.Unknown(name, keys))
	}
	u.Materials = q.materials(at+".material", true)
	u.Minutes = q.minutes(at + ".minutes")
	if u.Chemical = q.text(at + ".chemical"); u.Chemical != "" {
		if names := q.below("chemical"); !slices.Contains(names, u.Chemical) {
			q.fault(at+".chemical", note.Unknown(u.Chemical, names))
		}
		q.wanted(at+".chemical_amount", notBelow, product, &u.ChemicalL)
	} else if q.given(at+".chemical_amount", notBelow, product, &u.ChemicalL) {
		q.need(at + ".chemical")
	}
	u.GainPct = q.gains(at + ".gain")
	q.given(at+".lost_sap", notBelow, sapVolume, &u.LostSapL)
	q.given(at+".repairs", anything, bare, &u.Repairs)
	q.given(at+".disposal", anything, bare, &u.Disposal)
	if len(q.below(at+".renewal")) > 0 {
		if known && !p.Ages() {
			q.fault(at+".renewal", note.New("the drops of %s are not replaced by themselves; allowed: only where drops are replaced, as in new-drop", note.Term(u.Practice)))
		}
		u.Renewal = &price.Renewal{Materials: q.materials(at+".renewal.material", false), Minutes: q.minutes(at + ".renewal.minutes")}
		q.given(at+".renewal.disposal", anything, bare, &u.Renewal.Disposal)
	}
	return u
}

// gains reads the user's own gains by age: 0, 1, 2 and so on, none left out.
func (q *prices) gains(at string) []float64 {
	names := q.below(at)
	gains := make([]float64, len(names))
	for _, name := range names {
		age, err := strconv.Atoi(name)
		if err != nil || age < 0 || age >= len(names) || strconv.Itoa(age) != name {
			q.fault(at+"."+name, note.New("%s is not the next age; allowed: the seasons in use from 0 on, none left out", quote(name)))
			continue
		}
		if x := q.number(at+"."+name, gain); x != nil {
			gains[age] = *x
		}
	}
	if len(names) == 0 {
		return nil
	}
	return gains
}

func (q *prices) materials(at string, lasting bool) []price.MaterialUse {
	var uses []price.MaterialUse
	for _, name := range q.below(at) {
		key := at + "." + name
		if names := q.below("material"); !slices.Contains(names, name) {
			q.fault(key, note.Unknown(name, names))
		}
		m := price.MaterialUse{Material: name}
		if q.need(key + ".count") {
			if x := q.number(key+".count", pieces); x != nil {
				m.Count = *x
			}
		}
		if lasting {
			q.wanted(key+".life", lives, bare, &m.Life)
		}
		uses = append(uses, m)
	}
	return uses
}

func (q *prices) minutes(at string) map[price.Window]price.Value {
	var minutes map[price.Window]price.Value
	for _, w := range price.Windows {
		var v price.Value
		if q.given(at+"."+string(w), bounds{Low: -1000, High: 1000}, bare, &v) {
			if minutes == nil {
				minutes = map[price.Window]price.Value{}
			}
			minutes[w] = v
		}
	}
	return minutes
}
