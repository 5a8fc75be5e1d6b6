// Package own is a reader's own numbers over what a station found: the form that asks for them, and the answer to what
// is typed in it. It stands in the published page and in the engine behind it.
package own

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/column"
	"spile/internal/trade/place"
	"spile/internal/trade/price"
	"spile/internal/trade/species"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// Field is one number or word that is asked for. Left blank, what is usual stands in.
type Field struct {
	Name    string // its key in what is typed: that of a sugarbush's file, of a section behind "section."
	Label   string
	Unit    string
	Usual   string // what stands in for a blank, as it would be typed; "" where nothing does
	Help    string
	Options []Option
	Numeric bool

	Per   float64 // of what a file has in another unit: what is typed is that number times this; 0: as the file has it
	usual string  // what stands in for a blank, as a file has it, with every digit
	times float64 // the same of a part of a whole, which a file has as a fraction
}

// Option is a choice.
type Option struct{ Value, Name string }

// Group is fields under a heading.
type Group struct {
	Key, Title string
	More       bool // what few change: folded
	Section    bool // asked for each section
	Fields     []Field
}

// Numbered are the fields of a group, those of a section under its number.
func (g Group) Numbered(n int) []Field {
	list := slices.Clone(g.Fields)
	for i := range list {
		if key, ok := strings.CutPrefix(list[i].Name, "section."); ok {
			list[i].Name = strconv.Itoa(n) + "." + key
		}
	}
	return list
}

// Desk is what a station found, ready to be asked in a voice.
type Desk struct {
	*advice.Thawed
	V *say.Voice

	form []Group // once it is at hand
}

// Ready is the desk with its form at hand, which each answer asks for.
func (d Desk) Ready() Desk {
	d.form = d.Form()
	return d
}

// The columns of a section that are asked first, and those that are folded; of two that say the same in other units
// the reader's is asked.
var (
	firstOf = []string{"practice", "every", "taps", "yield", "brix", "vacuum_inhg"}
	moreOf  = []string{"tubing_in", "line_age", "drops_replaced", "species", "reach_min"}
	limits  = []string{"first_season", "seasons", "cash"}
	crews   = []string{"people", "days", "hours_a_day"}
)

// Form is what is asked.
func (d Desk) Form() []Group {
	if d.form != nil {
		return d.form
	}
	v := d.V
	first := Group{Key: "place", Title: v.Text("Where you are"), Fields: []Field{
		{Name: "place", Label: v.Text("place"), Options: d.places(), Usual: d.Prices.Place,
			Help: v.Text("settles what is permitted, and the density of syrup")},
		{Name: "organic", Label: v.Text("organic certificate"), Options: []Option{{"no", v.Text("no")},
			{"yes", v.Text("yes")}}, Usual: map[bool]string{true: "yes", false: "no"}[d.Prices.Organic]},
	}}
	section := Group{Key: "section", Title: v.Text("Your taps"), Section: true, Fields: d.section(firstOf)}
	more := Group{Key: "section-more", Title: v.Text("More of these taps, for the plan"), More: true, Section: true,
		Fields: d.section(moreOf)}
	money := Group{Key: "money", Title: v.Text("What you are paid and what you pay")}
	rest := Group{Key: "costs", Title: v.Text("More prices"), More: true}
	for _, s := range d.Prices.Slots() {
		f, ok := d.slot(s)
		switch {
		case !ok:
		case strings.HasPrefix(s.Key, "sells.") || s.Key == "wage" || strings.HasPrefix(s.Key, "material."):
			money.Fields = append(money.Fields, f)
		default:
			rest.Fields = append(rest.Fields, f)
		}
	}
	limit := Group{Key: "limits", Title: v.Text("For the plan: time and cash"), More: true}
	for _, c := range column.Bare(bush.Whole) {
		if slices.Contains(limits, c.Name) {
			f := d.column(c, "")
			switch c.Name {
			case "first_season":
				f.Usual = d.season()
			case "seasons":
				f.Usual = "10"
			}
			limit.Fields = append(limit.Fields, f)
		}
	}
	for _, w := range price.Windows {
		for _, c := range column.Bare(bush.Crews) {
			if slices.Contains(crews, c.Name) {
				f := d.column(c, "window."+string(w)+".")
				f.Label = v.Text("%s, %s", v.Term(note.Term(w)), f.Label)
				limit.Fields = append(limit.Fields, f)
			}
		}
	}
	return []Group{first, section, money, more, rest, limit}
}

// usualTaps stands in where nobody says how many there are.
const usualTaps = "1000"

// section is fields of a section.
func (d Desk) section(names []string) (list []Field) {
	all := column.Bare(bush.Sections)
	for _, name := range names {
		if name == "vacuum_inhg" && !d.V.Units().Inches() {
			name = "vacuum_kpa"
		}
		i := slices.IndexFunc(all, func(c column.Column[any]) bool { return c.Name == name })
		f := d.column(all[i], "section.")
		switch name {
		case "vacuum_inhg":
			f.Per = unit.Pressure(1).In(unit.InchOfMercury)
		case "vacuum_kpa":
			f.Per = unit.Pressure(1).In(unit.Kilopascal)
		}
		base := d.Prices.Baseline
		switch name {
		case "practice":
			f.Label, f.Help = d.V.Text("what you do today"), d.V.Text("and what your yield was measured under")
			f.Usual = string(d.Prices.Today.Choice(d.Practices).Practice)
		case "taps":
			f.Usual = usualTaps
		case "yield":
			m := d.measured(price.SapATap)
			f.Unit, f.Per, f.Help = m.Unit, m.Factor, d.V.Text("the mean of some seasons, not of the best")
			f.Usual = d.typed(base.Yield.Best, price.SapATap)
		case "brix":
			f.Usual = d.number(base.Brix.Best)
		}
		list = append(list, f)
	}
	return list
}

// column is a column of a sugarbush as a field.
func (d Desk) column(c column.Column[any], under string) Field {
	v := d.V
	f := Field{Name: under + c.Name, Label: v.Text(c.Label), Numeric: c.Kind.Numeric()}
	switch {
	case c.Hint != "":
		f.Unit = v.Text(c.Hint)
	case c.Unit == "money":
		f.Unit = d.Prices.Currency
	}
	switch {
	case c.Name == "species":
		f.Options = []Option{{"", v.Text("not given")}}
		for _, tree := range species.List {
			f.Options = append(f.Options, Option{tree.Name, v.Term(note.Term(tree.Name))})
		}
	case c.Kind == column.Practice:
		for _, p := range d.Practices {
			f.Options = append(f.Options, Option{string(p.Key), v.Term(note.Term(p.Name))})
		}
	}
	return f
}

// slot is a number of the prices as a field; false where a sugarbush has none of its own, or which is asked elsewhere.
func (d Desk) slot(s price.Slot) (Field, bool) {
	x := s.Value()
	a, named := s.Assumption()
	switch {
	case s.Own && strings.HasPrefix(s.Key, "sells.") && strings.HasSuffix(s.Key, ".share") && s.Get != nil:
		return d.share(s)
	case !s.Own || x == nil || !named:
		return Field{}, false
	}
	m := d.measured(s.Measure)
	return Field{Name: s.Key, Label: d.V.Note(a.Name), Unit: m.Unit, Usual: d.typed(x.Best, s.Measure), Numeric: true,
		Per: m.Factor, usual: digits(x.Best * m.Factor)}, true
}

// share is a part of what is sold as a field, in percents.
func (d Desk) share(s price.Slot) (Field, bool) {
	x, ok := s.Get(s.Spot).(float64)
	if !ok {
		return Field{}, false
	}
	f := Field{Name: s.Key, Unit: "%", Usual: d.number(100 * x), Numeric: true, times: 100, usual: digits(x)}
	switch {
	case strings.HasPrefix(s.Key, "sells.retail"):
		f.Label = d.V.Text("sold at retail")
	case strings.HasPrefix(s.Key, "sells.sap"):
		f.Label = d.V.Text("sold as sap")
	default:
		f.Label = d.V.Text("sold in bulk: %s", note.Term(s.Names[0]))
	}
	return f, true
}

// measured is how numbers of a measure are written here.
func (d Desk) measured(m price.Measure) show.Measured {
	return show.Measure(d.V, m, d.Prices.Currency, d.word)
}

// word is the reader's unit for one that a file may choose.
func (d Desk) word(u *price.Unit) string {
	switch {
	case u.Mass && d.V.Units().Pounds():
		return string(unit.Pound)
	case !u.Mass && d.V.Units().Gallons():
		return string(unit.USGallon)
	}
	return u.Base
}

// typed is a number of a measure in base units as a reader would type it.
func (d Desk) typed(x float64, m price.Measure) string { return d.number(x * d.measured(m).Factor) }

func (d Desk) number(x float64) string {
	return d.V.Marked(strconv.FormatFloat(unit.Round(x, 4), 'f', -1, 64))
}

// places are the states and provinces where sap is gathered, and wherever the station is.
func (d Desk) places() (list []Option) {
	codes := place.Listed()
	if at := d.Prices.Place; at != "" && !slices.Contains(codes, at) {
		codes = append(codes, at)
	}
	for _, code := range codes {
		list = append(list, Option{code, d.V.Place(code)})
	}
	return list
}

// season is the spring after the day of the prices.
func (d Desk) season() string {
	year, month, _ := strings.Cut(d.Prices.AsOf, "-")
	n, err := strconv.Atoi(year)
	if err == nil && month >= "05" {
		n++
	}
	return strconv.Itoa(n)
}

// Typed is what a reader typed, by the names of fields; those of a section have its number before them: "2.taps".
type Typed map[string]string

// sections are the numbers of the sections of which anything is typed, at least one.
func (t Typed) sections() []int {
	list := []int{1}
	for name := range t {
		at, _, _ := strings.Cut(name, ".")
		if n, err := strconv.Atoi(at); err == nil && n > 0 && !slices.Contains(list, n) {
			list = append(list, n)
		}
	}
	slices.Sort(list)
	return list
}

// Draft is the sugarbush that is typed: what is left blank is the station's, and in no key of it.
func (d Desk) Draft(t Typed) bush.Draft {
	out := bush.Draft{Name: cmp.Or(strings.TrimSpace(t["name"]), d.V.Text("Your sugarbush"))}
	put := func(key, value string) { out.Keys = append(out.Keys, bush.Entry{Key: key, Value: value}) }
	var own []Field
	sells := false
	for _, g := range d.Form() {
		for _, f := range g.Fields {
			own = append(own, f)
			sells = sells || strings.HasPrefix(f.Name, "sells.") && d.read(f, t[f.Name]) != ""
		}
	}
	put("name", out.Name)
	put("first_season", cmp.Or(d.read(Field{Numeric: true}, t["first_season"]), d.season()))
	for _, u := range price.Units {
		word := d.word(&u)
		if unit.BareGallon(word) {
			word = "gal_us"
		}
		put(u.Key, word)
	}
	for _, f := range own {
		value := d.read(f, t[f.Name])
		if value == "" && sells && strings.HasPrefix(f.Name, "sells.") { // what is sold is said whole
			value = f.usual
		}
		if value != "" && f.Name != "first_season" && !strings.HasPrefix(f.Name, "section.") {
			put(f.Name, value)
		}
	}
	for _, n := range t.sections() {
		at := strconv.Itoa(n) + "."
		under := "section." + d.sectionName(t, n) + "."
		for _, f := range own {
			key, ok := strings.CutPrefix(f.Name, "section.")
			if !ok {
				continue
			}
			value := d.read(f, t[at+key])
			if value == "" && (key == "taps" || key == "practice") {
				value = d.read(f, f.Usual)
			}
			if value != "" {
				put(under+key, value)
			}
		}
	}
	return out
}

// sectionName is what a section is called.
func (d Desk) sectionName(t Typed, n int) string {
	name := strings.TrimSpace(t[strconv.Itoa(n)+".name"])
	return strings.ReplaceAll(cmp.Or(name, d.V.Text("section %d", n)), ".", ",")
}

// read is what is typed in a field as a file has it.
func (d Desk) read(f Field, text string) string {
	text = strings.TrimSpace(text)
	if !f.Numeric || text == "" {
		return text
	}
	text = d.V.Pointed(d.V.Ungrouped(text))
	if x, err := strconv.ParseFloat(text, 64); err == nil {
		return digits(x / cmp.Or(f.times, 1))
	}
	return text
}

// digits is a number as a file has it, without what a conversion left.
func digits(x float64) string { return strconv.FormatFloat(unit.Round(x, 12), 'f', -1, 64) }
