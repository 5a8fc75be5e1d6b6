package worksheet

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/sap"
	"spile/internal/view/show"
)

// option is one that may be chosen, with its rows.
type option struct {
	practice.Choice
	name, id   string
	used, says []float64 // gains of its seasons, fractions
	gains, sap [2]int    // its first and last row on these sheets
	row        int       // on that of the sums
	studied    bool
	way        *advice.Way
}

// list takes the options: those of the ranking, by names that differ.
func (b *builder) list() {
	taken := map[string]bool{}
	for _, o := range b.w.A.Ranking {
		name := b.w.Option(o)
		if taken[name] {
			name += " (" + o.ID() + ")"
		}
		taken[name] = true
		b.options = append(b.options, option{Choice: o.Choice(), name: name, id: o.ID(), used: o.Gains,
			says: o.Says.Gains, studied: o.Studied, way: o.Way})
	}
	for _, o := range b.options {
		if o.Every > len(b.longest.used) && o.With == "" &&
			(b.longest.name == "" || o.Practice == b.longest.Practice) {
			b.longest = o
		}
	}
}

// named is the name of an option by its choice; that of the first where it is none.
func (b *builder) named(c practice.Choice) string {
	at := slices.IndexFunc(b.options, func(o option) bool { return o.Choice == c })
	return b.options[max(0, at)].name
}

// writePrices writes every number of the prices, in the units that they were typed in, and gives each a name.
func (b *builder) writePrices() {
	v, s, p := b.v, b.prices, b.p
	s.begin(v.Text("Prices"), v.Text("Change what has a coloured ground. Low and high are told, and not used here."))
	s.head(7, v.Text("assumption"), v.Text("value"), v.Text("unit"), v.Text("low"), v.Text("high"), v.Text("source"),
		v.Text("name"))
	s.over(numbers, 2, 4, 5)
	s.over(headed, 3, 6, 7)
	put := func(key, label string, value any, m show.Measured, style style, low, high any, source string) {
		name := b.define(key, s.at(2, s.row))
		b.keys[key] = name
		s.line(label, cell{value, style}, cell{m.Unit, beside}, low, high, cell{source, beside}, cell{name, called})
	}
	for _, slot := range p.Slots() {
		if strings.HasPrefix(slot.Key, "seasons.") || strings.HasPrefix(slot.Key, "scenario.") {
			continue // how far a season strays, and what else may be, is nothing to best guesses
		}
		m := show.Measure(v, slot.Measure, p.Currency, p.Word)
		if a, ok := slot.Assumption(); ok {
			typed := func(x *float64) any {
				if x == nil {
					return nil
				}
				return cell{p.Typed(*x, slot.Measure), plain}
			}
			if slot.Measure == price.YearlyRate {
				m.Unit = v.Text("a year: 0.05 is 5 %%")
			}
			var value any = p.Typed(a.Value.Best, slot.Measure)
			if same := b.standsIn(slot); same != "" {
				value = formula(b.of(same))
			}
			put(slot.Key, v.Note(a.Name), value, m, input, typed(a.Value.Low),
				typed(a.Value.High), a.Value.Source)
			continue
		}
		var x float64
		number := false
		if slot.Get != nil {
			x, number = slot.Get(slot.Spot).(float64)
		}
		if slot.Key == "syrup_brix" {
			m.Unit, number = v.Text("°Brix"), true
			if x == 0 {
				x = sap.SyrupBrix(p.Place)
			}
		}
		if !number || strings.Contains(slot.Key, ".gain.") || strings.HasSuffix(slot.Key, ".grams") {
			continue
		}
		label := note.New(slot.Label)
		for _, name := range slot.Names {
			label.Args = append(label.Args, note.Term(name))
		}
		put(slot.Key, v.Note(label), x, m, input, nil, nil, "")
	}
	s.row++
	s.line(cell{v.Text("What units are"), section})
	for _, u := range price.Units {
		k, ok := u.Factor(p.Word(&u))
		if !ok {
			k = 1
		}
		base := show.UnitName(v, u.Base)
		put(u.Key, v.Text("%s: %s in one %s", v.Text(u.Label), base, show.UnitName(v, p.Word(&u))), k,
			show.Measured{Unit: base}, plain, nil, nil, "")
	}
}

// standsIn is the key of the number that stands in for one that the prices do not give, "" there is none.
func (b *builder) standsIn(s price.Slot) string {
	if s.Value() != nil || s.Else == nil {
		return ""
	}
	for _, o := range b.p.Slots() {
		if o.Value() != nil && o.Value() == s.Else(b.p) {
			return o.Key
		}
	}
	return ""
}

// has is true where the prices give a number of a key.
func (b *builder) has(key string) bool { return b.keys[key] != "" }

// of is the name of a number by its key; what the prices do not give is 0.
func (b *builder) of(key string) string {
	if b.has(key) {
		return b.keys[key]
	}
	return "0"
}

// writeDensity writes kilograms a litre at every degree and at the thirds between: four points of the cubic that
// package sap has there.
func (b *builder) writeDensity() {
	v, s := b.v, b.density
	s.begin(v.Text("Density"), v.Text("Kilograms a litre at 20 °C of a solution of so many °Brix, and of a third, two "+
		"thirds and one degree more."))
	s.head(1, "°Bx", "+0", "+1/3", "+2/3", "+1")
	first := s.row
	for k := range sap.MaxBrix {
		var cells []any
		for i := range 4 {
			cells = append(cells, cell{sap.Density(math.Min(float64(k)+float64(i)/3, sap.MaxBrix)), fine})
		}
		s.line(append([]any{k}, cells...)...)
	}
	for i := range 4 {
		b.define("density_"+strconv.Itoa(i), s.at(2+i, first, 2+i, s.row-1))
	}
}

// writeGains writes what each season of an option gains: as used for money, and as the studies say.
func (b *builder) writeGains() {
	v, s, a := b.v, b.gains, b.w.A
	s.begin(v.Text("Gains"), v.Text("How much more sap than unsanitized, from the studies. As used for money gains "+
		"are drawn toward those of like practices."),
		v.Text("A practice that no study holds has the low end of its range."))
	used, says := v.Text("as used for money"), v.Text("as the studies say")
	s.line(v.Text("gains taken"), cell{used, chosen})
	b.define("gains_taken", s.at(2, s.row-1))
	s.line(cell{used, hint})
	s.line(cell{says, hint})
	s.choose(here(2, s.row-3), s.at(1, s.row-2, 1, s.row-1))
	second := s.at(1, s.row-1)
	s.row++
	s.head(1, v.Text("practice"), v.Text("season"), used, says, v.Text("taken"))
	row := func(name string, season any, u, d float64) int {
		at := s.row
		return s.line(name, season, cell{u, percent}, cell{d, percent},
			cell{formula("IF(gains_taken=" + second + "," + here(4, at) + "," + here(3, at) + ")"), percent})
	}
	at := row(v.Text("what the baseline was measured under"), nil, a.Base, a.BaseSays)
	b.define("baseline_gain", s.at(5, at))
	for i := range b.options {
		o := &b.options[i]
		o.gains[0] = s.row
		for season := range o.used {
			o.gains[1] = row(o.name, season+1, o.used[season], o.says[season])
			if o.With == "" {
				b.gainOf[o.Seasons()[season]] = o.gains[1]
			}
		}
	}
	for _, o := range b.options { // drops that no option holds so old
		for _, l := range slices.Concat(o.drops()...) {
			if b.gainOf[l.Treatment] == 0 {
				b.gainOf[l.Treatment] = row(b.w.Treatment(l.Treatment), nil, l.Used, l.Says)
			}
		}
	}
}
