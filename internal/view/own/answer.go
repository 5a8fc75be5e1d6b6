package own

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/plan"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/markup"
	"spile/internal/view/show"
)

// Answer is what is said of what was typed. Of what has a fault nothing is worked out.
type Answer struct {
	Faults map[string]string `json:"faults,omitempty"` // by the name of a field; "" of none
	Asks   map[string]string `json:"asks,omitempty"`   // what is possible and unusual, by the name of a field
	HTML   string            `json:"html,omitempty"`
}

// Rank is the ranking under what was typed, of the section with the most taps where there are several. Sure asks how
// sure it is as well, and what a poor spring brings.
func (d Desk) Rank(t Typed, sure bool) Answer {
	b, out := d.bush(t)
	if out.Faults != nil {
		return out
	}
	ask := d.Thawed.Ranked
	if sure {
		ask = d.Thawed.Outlook
	}
	a, err := ask(d.prices(b))
	if err != nil {
		return d.wrong(err)
	}
	out.HTML = d.told(a, b, sure)
	return out
}

// prices are those of the section with the most taps, with what is done there today.
func (d Desk) prices(b bush.Sugarbush) *price.Prices {
	x := largest(b)
	p, usual := b.PricesOf(x, d.Practices), b.Usual(x, d.Practices)
	p.Today = price.Done{Treatment: practice.Treatment{Practice: usual.Practice}, Every: usual.Every}
	return p
}

// told is an answer for a sugarbush, as the page shows it. What takes the page most of its time comes with the chances:
// until then that of the number before stands in its place, greyed.
func (d Desk) told(a *advice.Advice, b bush.Sugarbush, sure bool) string {
	x, w := largest(b), show.Of(a, d.V)
	var m markup.Writer
	m.Prefix = "own-"
	if len(b.Sections) > 1 {
		m.Paragraphs(d.V.Text("For %s, the section with the most taps; the plan has them all.", x.Name))
	}
	m.WriteString(`<div class="lead">`)
	m.Lead(w.Recommendation())
	m.WriteString(`</div><div class="handout">`)
	m.Marks(d.Marks(w, x.Taps))
	m.WriteString(`</div><div data-later>`)
	if a.Weighed != nil && a.Weighed.Prospect.Best >= 0 {
		m.Table(w.Single(), markup.Marks{})
	}
	if sure {
		m.Figure(show.Drawn{Name: "net", Draw: w.Net().Draw})
	}
	m.WriteString(`</div>`)
	m.Table(Brief(w), markup.Marks{})
	return m.String()
}

// Marks are the large numbers of a ranking, on so many taps; 0: a tap alone.
func (d Desk) Marks(w *show.View, taps int) (list []show.Mark) {
	v, money := d.V, w.A.Input.Prices.Currency
	best, ok := w.A.Best()
	if !ok {
		return nil
	}
	net := best.Today.Average()
	if !best.IsToday {
		list = append(list, show.Mark{Value: v.Money(net, money), Label: v.Text("more a tap and season than today")})
		if taps > 0 {
			list = append(list, show.Mark{Value: v.Sum(net*float64(taps), money),
				Label: v.Text("more a season on %s", v.Text("%d taps", note.Count(taps)))})
		}
	}
	if c := best.ChanceBest; c != nil {
		list = append(list, show.Mark{Value: show.Chance(v, *c), Label: v.Text("chance that it is the best")})
	}
	if w.A.Weighed != nil {
		r := w.A.Weighed.Prospect
		switch o := r.Summary.Rows[r.Best].Season; {
		case r.Best == r.Model.Today:
		case taps > 0:
			list = append(list, show.Mark{Value: v.Sum(o.Poor*float64(taps), money),
				Label: v.Text("over today in a poor spring, on %s", v.Text("%d taps", note.Count(taps)))})
		default:
			list = append(list, show.Mark{Value: v.Money(o.Poor, money),
				Label: v.Text("a tap over today in a poor spring")})
		}
	}
	return list
}

// Brief is the ranking without what only the workbench asks for: one row a practice, and the net against today alone.
func Brief(w *show.View) show.Table {
	t := w.Ranking()
	keep := w.Choices()
	var rows []show.Row
	for i, r := range t.Rows {
		if slices.Contains(keep, i) {
			rows = append(rows, r)
		}
	}
	t.Rows = rows
	return t.Without("net_unsanitized")
}

// Plan is the plan of the sugarbush that was typed, as the sheet to take home.
func (d Desk) Plan(t Typed) Answer {
	b, out := d.bush(t)
	if out.Faults != nil {
		return out
	}
	p, err := d.Thawed.Plan(b)
	if err != nil {
		return d.wrong(err)
	}
	out.HTML = d.sheet(p)
	return out
}

// sheet is a plan as the page shows it.
func (d Desk) sheet(p *plan.Plan) string {
	var m markup.Writer
	m.Prefix = "own-"
	m.Sheet(show.PlanView{P: p, V: d.V, Set: d.Practices}, false)
	return m.String()
}

// File is the sugarbush that was typed as a file that the program plans for.
func (d Desk) File(t Typed) string { return string(sheet.SugarbushTOML(d.Draft(t))) }

// bush is what was typed over the station's prices, with what is wrong or unusual of it.
func (d Desk) bush(t Typed) (bush.Sugarbush, Answer) {
	b, err := sheet.SugarbushFrom(d.Draft(t), &d.Prices, d.Practices)
	if err != nil {
		return b, d.named(t, d.wrong(err))
	}
	out := Answer{Asks: map[string]string{}}
	for _, q := range b.Doubts() {
		key := q.Where.Column
		q.Where = note.Where{}
		out.Asks[key] = d.V.Note(q.Note)
	}
	out.Asks = d.fields(t, out.Asks)
	return b, out
}

// wrong is an error by the keys of a sugarbush's file.
func (d Desk) wrong(err error) Answer {
	out := Answer{Faults: map[string]string{}}
	var faults note.Faults
	if !errors.As(err, &faults) {
		out.Faults[""] = err.Error()
	}
	for _, n := range faults {
		key := n.Where.Column
		n.Where = note.Where{}
		n = d.inPercents(key, n)
		out.Faults[key] = strings.TrimSpace(out.Faults[key] + " " + d.V.Note(n))
	}
	return out
}

// inPercents is a fault of the parts that are sold as one who typed percents reads it.
func (d Desk) inPercents(key string, n note.Note) note.Note {
	if len(n.Args) == 0 || key != "sells" && !strings.HasSuffix(key, ".share") {
		return n
	}
	x, err := strconv.ParseFloat(fmt.Sprint(n.Args[0]), 64)
	switch {
	case err != nil:
		return n
	case key == "sells":
		return note.New("the shares of what is sold sum to %.4g %%; they must sum to 100 %%", 100*x)
	}
	return column.Bounds{High: 100}.Fault(d.number(100 * x))
}

func (d Desk) named(t Typed, a Answer) Answer {
	a.Faults = d.fields(t, a.Faults)
	return a
}

// fields is texts by the names of fields, of those by the keys of a file.
func (d Desk) fields(t Typed, by map[string]string) map[string]string {
	out := map[string]string{}
	if len(by) == 0 {
		return out
	}
	known := map[string]bool{}
	for _, g := range d.Form() {
		for _, f := range g.Fields {
			known[f.Name] = true
		}
	}
	for key, text := range by {
		name := key
		for _, n := range t.sections() {
			if own, ok := strings.CutPrefix(key, "section."+d.sectionName(t, n)+"."); ok {
				name = strconv.Itoa(n) + "." + own
				known[name] = known["section."+own]
			}
		}
		if !known[name] {
			name = ""
		}
		out[name] = strings.TrimSpace(out[name] + " " + text)
	}
	return out
}

// largest is the section with the most taps.
func largest(b bush.Sugarbush) bush.Section {
	return slices.MaxFunc(b.Sections, func(x, y bush.Section) int { return x.Taps - y.Taps })
}
