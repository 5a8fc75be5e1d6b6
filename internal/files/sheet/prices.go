package sheet

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

// priceKeys are keys of a price file, with the units of what stands at them. Those that end in = are values.
func priceKeys(which func(price.Field) bool) []string {
	var keys []string
	for _, u := range price.Units {
		keys = append(keys, u.Key)
	}
	for _, f := range price.Fields {
		for _, key := range f.Keys() {
			if f.IsValue() {
				key += "="
			}
			if which(f) {
				keys = append(keys, key)
			}
		}
	}
	return keys
}

var practiceKeys = []string{"practice.*.name", "practice.*.spout", "practice.*.drops", "practice.*.wash"}

var ruleKeys = []string{
	"rule.*.wash", "rule.*.spout", "rule.*.product", "rule.*.chemical", "rule.*.unlabelled", "rule.*.place",
	"rule.*.organic",
	"rule.*.verdict", "rule.*.reason", "rule.*.checked",
}

// allKeys are the keys that a TOML file may have, but for a sugarbush: those of a mapping where it says something of
// one, or nearly.
func allKeys(r *record) schema {
	keys := slices.Concat(priceKeys(func(price.Field) bool { return true }), practiceKeys, ruleKeys)
	of := func(top string) bool {
		return slices.ContainsFunc(keys, func(key string) bool {
			own, _, _ := strings.Cut(strings.TrimRight(key, "[]"), ".")
			return own == top
		})
	}
	if slices.ContainsFunc(r.head.names, func(key string) bool {
		top, _, _ := strings.Cut(key, ".")
		return isMapping(top) || !of(top) && note.Near(top, mappingTables) != ""
	}) {
		keys = append(keys, mappingKeys...)
	}
	return grow(keys...)
}

// Prices reads a price file from the bytes of a TOML file. practices are those that it may name, beside those that it
// defines itself. The error is a note.Faults with everything that is wrong; then there are no prices.
func Prices(file string, data []byte, practices practice.Set) (*price.Prices, note.List, error) {
	f := new(faults)
	r := flatten(file, data, f)
	if r == nil {
		return nil, nil, f.err()
	}
	allKeys(r).check(r)
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
	known practice.Set
	into  *price.Prices
	place string          // of the file
	asked map[string]bool // units already asked for
}

func readPrices(r *record, known practice.Set) *price.Prices {
	p := price.Default()
	p.Where = note.Where{File: r.file}
	p.Lines, p.Text = r.lines(), r.typed
	q := prices{record: r, known: known, into: &p, asked: map[string]bool{}}
	p.Build(r.below)
	for _, s := range p.Slots() {
		q.place = p.Place // which is read before any number
		q.read(s)
	}
	q.units()
	q.done("today", &p.Today)
	q.done("baseline", &p.Baseline.Done)
	for i := range p.Uses {
		q.use(&p.Uses[i])
	}
	q.judge(&p)
	return &p
}

// units takes in which unit numbers stand; one that is none is said, whether it is used or not.
func (q *prices) units() {
	units := maps.Clone(q.into.Units)
	for _, u := range price.Units {
		if q.has(u.Key) {
			q.factor(u.Key, &u)
			if units == nil {
				units = map[string]string{}
			}
			units[u.Key] = q.text(u.Key)
		}
	}
	q.into.Units = units
}

// lines are the rows of all keys and tables.
func (r *record) lines() map[string]int {
	lines := map[string]int{}
	for name, row := range r.tables {
		lines[name] = row
	}
	for i, name := range r.head.names {
		lines[name] = r.cells[i].row
	}
	return lines
}

// read reads what stands at a slot; where nothing does it stays as it is.
func (q *prices) read(s price.Slot) {
	given := q.has(s.Key) || len(q.below(s.Key)) > 0
	switch {
	case s.Needed && !given:
		q.need(s.Key)
	case s.IsValue():
		if v := q.value(s.Key, s.Bounds, s.Measure); v != nil {
			s.Put(*v)
		}
	default:
		c := column.Column[price.Spot]{Name: s.Key, Bounds: s.Bounds, Field: s.Field.Field}
		if v := valueOf(q.record, c, q.known); given && v != nil {
			s.Set(s.Spot, v)
		}
	}
}

// judge adds what the budget finds wrong with the prices as a whole, where reading them did not already find it.
func (q *prices) judge(p *price.Prices) {
	if q.faults.broken {
		return // what is missing may stand on a line that could not be read
	}
	said := slices.Clone(q.faults.notes)
	for _, n := range p.Faults(q.known) {
		if !slices.ContainsFunc(said, func(t note.Note) bool {
			return t.Where.Column == n.Where.Column || strings.HasPrefix(t.Where.Column, n.Where.Column+".")
		}) {
			q.faults.add(n)
		}
	}
}

// factor is the base units in one of a file's unit; 1 without a unit. The key is that of a number that stands in it.
func (q *prices) factor(key string, of *price.Unit) float64 {
	if of == nil {
		return 1
	}
	if !q.has(of.Key) {
		if !q.asked[of.Key] {
			q.asked[of.Key] = true
			allowed := "gal, gal_imp, l"
			if of.Mass {
				allowed = "lb, kg"
			}
			n := note.New("%s is given and %s is not, so its unit is unknown; allowed: %s", key, of.Key, allowed)
			q.faults.missing(n.At(q.where(of.Key)))
		}
		return 1
	}
	word := q.text(of.Key)
	k, ok := of.Factor(word)
	switch {
	case !ok && of.Mass:
		q.wrongUnit(of.Key, note.New("%s is not a unit of mass; allowed: lb, kg", quote(word)))
		return 1
	case !ok:
		q.wrongUnit(of.Key, note.New("%s is not a unit of volume; allowed: gal (US gallon), "+
			"gal_imp (imperial gallon), l (litre)", quote(word)))
		return 1
	case unit.BareGallon(word) && unit.Canadian(q.place):
		q.wrongUnit(of.Key, note.New("%s in a file from %s may be a US or an imperial gallon; allowed: gal_us, "+
			"gal_imp, l",
			quote(word), q.place))
		return 1
	}
	return k
}

func (q *prices) wrongUnit(at string, n note.Note) {
	if !q.asked[at] {
		q.asked[at] = true
		q.fault(at, n)
	}
}

// value reads a number, or a table of best, low, high and source; nil where it is not given or at fault.
func (q *prices) value(key string, b bounds, m price.Measure) *price.Value {
	base := func() float64 {
		if m.Money() {
			return 1 / q.factor(key, m.Unit())
		}
		return q.factor(key, m.Unit())
	}
	if q.has(key) {
		x := q.number(key, b)
		if k := base(); x != nil {
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
	k := base()
	v := &price.Value{Source: q.text(key + ".source")}
	if c := q.text(key + ".currency"); c != "" && q.into.Currency != "" && c != q.into.Currency {
		q.fault(key+".currency", note.New("two currencies stand in one file, %s here and %s for the file; allowed: one",
			quote(c), q.into.Currency))
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

// done judges what was read of a practice with the age of its drops, or with the seasons between their replacements.
func (q *prices) done(at string, d *price.Done) {
	p, ok := q.known.Find(d.Practice)
	for _, key := range []string{at + ".drop_age", at + ".every"} {
		if ok && !p.Ages() && q.has(key) {
			q.fault(key, notReplaced(p.Key))
			return
		}
	}
	age, every := q.has(at+".drop_age"), q.has(at+".every")
	if age || every {
		q.need(at + ".practice")
	}
	if age && every {
		q.fault(at+".drop_age", note.New("drop_age and every are both given; allowed: one of them (every drop of one "+
			"age, or drops replaced every so many seasons)"))
	}
}

func notReplaced(k practice.Key) note.Note {
	return note.New("the drops of %s are not replaced by themselves; allowed: only where drops are replaced",
		note.Term(k))
}

// use judges what a use names, and says which name may have been meant.
func (q *prices) use(u *price.Use) {
	at := "use." + string(u.Practice)
	if p, known := q.known.Find(u.Practice); !known {
		q.fault(at, note.Unknown(string(u.Practice), keysOf(q.known)))
	} else if u.Renewal != nil && !p.Ages() {
		q.fault(at+".renewal", notReplaced(p.Key))
	}
	for _, list := range []string{at + ".material", at + ".renewal.material"} {
		for _, name := range q.below(list) {
			if names := q.below("material"); !slices.Contains(names, name) {
				q.fault(list+"."+name, note.Unknown(name, names))
			}
		}
	}
	amount := at + ".chemical_amount"
	switch names, given := q.below("chemical"), q.has(amount) || len(q.below(amount)) > 0; {
	case u.Chemical == "" && given:
		q.need(at + ".chemical")
	case u.Chemical != "" && !given:
		q.need(amount)
	case u.Chemical != "" && !slices.Contains(names, u.Chemical):
		q.fault(at+".chemical", note.Unknown(u.Chemical, names))
	}
	for _, age := range q.below(at + ".gain") {
		if n, err := strconv.Atoi(age); err != nil || n < 0 || n >= len(u.GainPct) || strconv.Itoa(n) != age {
			q.fault(at+".gain."+age,
				note.New("%s is not the next age; allowed: the seasons in use from 0 on, none left out", quote(age)))
		}
	}
}
