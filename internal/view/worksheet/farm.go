package worksheet

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"spile/internal/trade/price"
)

// usualTaps is what the whole farm stands at until somebody types how many taps there are.
const usualTaps = 1000

// farmLine is a line of the enterprise budget of all taps, and the name of what it comes to under the practice chosen.
type farmLine struct {
	id, label, name string
	returns         bool
}

// writeFarm writes the enterprise budget of all taps: returns, variable costs, gross margin, fixed costs, net.
func (b *builder) writeFarm() {
	v, s := b.v, b.farm
	s.begin(v.Text("Whole farm"), v.Text("Enterprise budget, %s a season. What a practice costs is over and above "+
		"unsanitized: add the rest of your own where it has a coloured ground.", v.MoneyUnit(b.p.Currency)))
	s.line(v.Text("taps"), cell{usualTaps, input}, cell{b.define("taps", s.at(2, s.row)), called})
	s.row++
	s.head(1, "", v.Text("practice"), v.Text("against"), v.Text("difference"), v.Text("name"))
	s.over(headed, 5)
	s.line(nil, cell{formula("practice"), mark}, cell{formula("against"), mark})
	row := func(label, name, f, g string, st style) string {
		name = b.define(name, s.at(2, s.row))
		b.define(name+"_against", s.at(3, s.row))
		difference := cell{formula(here(2, s.row) + "-" + here(3, s.row)), money}
		if f == "" {
			s.line(label, cell{0, st}, cell{0, st}, difference, cell{name, called})
		} else {
			s.line(label, cell{formula(f), st}, cell{formula(g), st}, difference, cell{name, called})
		}
		return name
	}
	own := func(id, label string, returns bool) {
		b.lines = append(b.lines, farmLine{id, label, row(label, id, "", "", input), returns})
	}
	part := func(wanted func(kind) bool, returns bool) {
		for i, e := range b.entries {
			if !wanted(e.kind) {
				continue
			}
			sign := ""
			if e.kind == lost {
				sign = "-"
			}
			of := func(who string) string {
				return fmt.Sprintf("%staps*INDEX(entry_%d,MATCH(%s,practices,0))", sign, i+1, who)
			}
			b.lines = append(b.lines, farmLine{e.id, e.label,
				row(e.label, "farm_"+e.id, of("practice"), of("against"), money), returns})
		}
	}
	sumUp := func(label, name string, first int) (f, g string) {
		sum := func(col int) string { return fmt.Sprintf("SUM(%s:%s)", here(col, first), here(col, s.row-1)) }
		row(label, name, sum(2), sum(3), total)
		return here(2, s.row-1), here(3, s.row-1)
	}
	s.line(cell{v.Text("Returns"), section})
	first := s.row
	part(func(k kind) bool { return k != cost }, true)
	own("other_returns", v.Text("other returns"), true)
	in, in2 := sumUp(v.Text("all returns"), "returns", first)
	s.line(cell{v.Text("Variable costs"), section})
	first = s.row
	part(func(k kind) bool { return k == cost }, false)
	own("other_costs", v.Text("other variable costs"), false)
	out, out2 := sumUp(v.Text("all variable costs"), "variable_costs", first)
	row(v.Text("gross margin"), "gross_margin", in+"-"+out, in2+"-"+out2, total)
	margin := s.row - 1
	own("fixed_costs", v.Text("fixed costs"), false)
	row(v.Text("net of the enterprise"), "farm_net", here(2, margin)+"-fixed_costs", here(3, margin)+"-"+
		here(3, margin+1), total)
}

// spread is when in the year money comes and goes, months from October (common practice, no source).
type spread struct {
	ids    []string // of lines; the beginning of one with a full stop at its end
	months []time.Month
}

var spreads = []spread{
	{[]string{"bulk syrup", "sap rinsed away or discarded", "other_returns"}, []time.Month{time.June}},
	{[]string{"retail syrup"}, []time.Month{time.April, time.May, time.June, time.July, time.August, time.September}},
	{[]string{"sap sold"}, []time.Month{time.April}},
	{[]string{"boiling and packing", "fuel and concentrating", "hauling of sap"}, []time.Month{time.March, time.April}},
	{[]string{"material."}, []time.Month{time.November}},
	{[]string{"chemical."}, []time.Month{time.April}},
	{[]string{string(price.Shop)}, []time.Month{time.January}},
	{[]string{string(price.BeforeTapping), string(price.Tapping)}, []time.Month{time.February}},
	{[]string{string(price.AfterSeason), "disposal"}, []time.Month{time.May}},
	{[]string{"repairs"}, []time.Month{time.October}},
	{nil, year}, // all else evenly
}

// year is the months from October, before what a season takes is bought.
var year = []time.Month{time.October, time.November, time.December, time.January, time.February, time.March, time.April,
	time.May, time.June, time.July, time.August, time.September}

// monthsOf is when a line comes or goes.
func monthsOf(id string) []time.Month {
	at := slices.IndexFunc(spreads, func(s spread) bool {
		return s.ids == nil || slices.ContainsFunc(s.ids, func(of string) bool {
			return of == id || strings.HasSuffix(of, ".") && strings.HasPrefix(id, of)
		})
	})
	return spreads[at].months
}

// usualRate is what borrowed operating money costs a year (common practice, no source).
const usualRate = 0.08

// writeCash writes the money of all taps under the practice chosen month by month, and what it costs to wait for it.
func (b *builder) writeCash() {
	v, s := b.v, b.cash
	s.begin(v.Text("Cash flow"), v.Text("All taps under the practice chosen, in %s. When money comes and goes is "+
		"common practice, no source: change it.", v.MoneyUnit(b.p.Currency)))
	s.line(v.Text("operating interest, a year: 0.05 is 5 %%"), cell{usualRate, input},
		cell{b.define("operating_rate", s.at(2, s.row)), called})
	s.row++
	heads := []string{v.Text("which part in which month"), v.Text("sum")}
	for _, m := range year {
		heads = append(heads, v.Month(m))
	}
	s.head(1, heads...)
	parts := s.row
	for _, l := range b.lines {
		cells := []any{l.label, cell{formula("SUM(" + here(3, s.row) + ":" + here(14, s.row) + ")"), percent}}
		when := monthsOf(l.id)
		for _, m := range year {
			part := 0.
			if slices.Contains(when, m) {
				part = 1 / float64(len(when))
			}
			cells = append(cells, cell{part, share})
		}
		s.line(cells...)
	}
	s.row++
	heads[0] = v.Text("money in and out")
	s.head(1, heads...)
	first := s.row
	row := func(label string, name string, sum string, st style, f func(col int) string) {
		at := s.row
		cells := []any{label, nil}
		for m := range year {
			cells = append(cells, cell{formula(f(3 + m)), st})
		}
		if sum != "" {
			cells[1] = cell{formula(fmt.Sprintf("%s(%s:%s)", sum, here(3, at), here(14, at))), st}
		}
		if name != "" {
			b.define(name, s.at(2, at))
			cells = append(cells, cell{name, called})
		}
		s.line(cells...)
	}
	for i, l := range b.lines {
		sign := "-"
		if l.returns {
			sign = ""
		}
		row(l.label, "", "SUM", money,
			func(col int) string { return sign + l.name + "*" + column(col) + fmt.Sprint(parts+i) })
	}
	net := s.row
	last := net - 1
	row(v.Text("net of the month"), "cash_net", "SUM", total, func(col int) string {
		return fmt.Sprintf("SUM(%s%d:%s%d)", column(col), first, column(col), last)
	})
	before := func(col int) string { // the balance of the month before
		if col == 3 {
			return "0"
		}
		return column(col-1) + fmt.Sprint(net+2)
	}
	row(v.Text("operating interest"), "operating_interest", "SUM", money,
		func(col int) string { return "-MAX(0,-" + before(col) + ")*operating_rate/12" })
	row(v.Text("balance"), "lowest_balance", "MIN", money, func(col int) string {
		return before(col) + "+" + column(col) + fmt.Sprint(net) + "+" + column(col) + fmt.Sprint(net+1)
	})
	b.define("cash_end", s.at(14, s.row-1))
	s.line(cell{v.Text("Beside the balance stands the lowest of it: what has to be at hand or borrowed."), hint})
}
