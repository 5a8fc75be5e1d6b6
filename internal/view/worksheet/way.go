package worksheet

import (
	"fmt"
	"strings"

	"spile/internal/engine/advice"
)

// drops is what the taps have in each of the first seasons of an option; none where there is nothing to come by.
func (o option) drops() [][]advice.Lot {
	if o.way == nil {
		return nil
	}
	return o.way.Drops
}

// writeWay writes the first seasons of a change, from today's practice and ages of drops, as the way of an answer has
// them at best guesses: net present value, payback, and the greatest outlay. The first season is not discounted.
func (b *builder) writeWay() {
	v, s := b.v, b.way
	today := b.options[0]
	var list []option
	first := ""
	for _, o := range b.options {
		if o.Choice == b.w.A.Reference {
			today = o
		}
		if o.drops() != nil {
			list = append(list, o)
			if best, ok := b.w.A.Best(); first == "" || ok && o.Choice == best.Choice() {
				first = o.name
			}
		}
	}
	s.begin(v.Text("The way there"),
		v.Text("A tap, in %s, over going on as today: %s. Drops begin as old as they are now.",
			v.MoneyUnit(b.p.Currency), today.name),
		v.Text("The net charges what lasts over its life; in cash it is bought whole."))
	if list == nil {
		s.line(v.Text("No other practice is ranked."))
		return
	}
	chosenAt := s.line(v.Text("practice"), cell{first, chosen}, cell{b.define("way_practice", s.at(2, s.row)), called})
	s.row++
	b.writeSeasons(today, len(list))
	s.line(cell{v.Text("What each practice takes in these seasons"), section})
	s.head(1, v.Text("practice"), v.Text("season"), v.Text("gain"), v.Text("costs over their lives"),
		v.Text("costs in cash"), v.Text("rinsed away"))
	top := s.row
	for season := range b.w.A.Input.Over {
		for _, o := range list {
			var gain []string
			for _, l := range o.drops()[season] {
				gain = append(gain, fmt.Sprintf("%v*%s", l.Share, b.gains.at(5, b.gainOf[l.Treatment])))
			}
			s.line(o.name, season+1, cell{formula(strings.Join(gain, "+")), percent},
				cell{formula(sum(b.spread(o))), money}, cell{formula(sum(b.paid(o, season))), money},
				cell{formula(b.of("use." + string(o.yearly()) + ".lost_sap")), fine})
		}
	}
	for i, name := range []string{"gain", "charged", "paid", "rinsed"} {
		b.define("way_"+name, s.at(3+i, top, 3+i, s.row-1))
	}
	b.define("way_practices", s.at(1, top, 1, top+len(list)-1))
	s.choose(here(2, chosenAt), "way_practices")
}

// writeSeasons writes the seasons of the practice chosen, of so many, and what they come to.
func (b *builder) writeSeasons(today option, options int) {
	v, s, n := b.v, b.way, b.w.A.Input.Over
	s.head(1, v.Text("season"), v.Text("gain"), v.Text("sap less boiling"), v.Text("net"), v.Text("present value"),
		v.Text("costs in cash"), v.Text("cash"), v.Text("so far"), v.Text("paid back"))
	first, last := s.row, s.row+n-1
	usual := b.sums.at(colEntries+len(b.entries), today.row)
	for i := range n {
		at := s.row
		of := func(name string) string {
			return fmt.Sprintf("INDEX(way_%s,MATCH(way_practice,way_practices,0)+%d)", name, i*options)
		}
		row := b.yield(v.Text("The way there"), i+1, "1", of("gain"), of("rinsed"))
		c := func(j int) string { return b.sap.at(b.colAccount()+j, row) }
		s.line(cell{i + 1, beside}, cell{formula(of("gain")), percent},
			cell{formula(c(0) + "+" + c(1) + "+" + c(2) + "-" + c(3) + "-" + c(4) + "-" + c(5) + "-" + c(6)), money},
			cell{formula(here(3, at) + "-" + of("charged") + "-" + usual), money},
			cell{formula(here(4, at) + "*" + later(b.of("discount"), i)), money},
			cell{formula(of("paid")), money},
			cell{formula(here(3, at) + "-" + here(6, at) + "-" + usual), money},
			cell{formula("SUM(" + here(7, first) + ":" + here(7, at) + ")"), money},
			cell{formula(fmt.Sprintf(`IF(MIN(%s:%s)>=-1E-9,%s,"")`, here(8, at), here(8, last), here(1, at))), plain})
	}
	all := func(col int) string { return here(col, first) + ":" + here(col, last) }
	for _, x := range []struct {
		label, name, f string
		style          style
	}{
		{v.Text("net present value"), "net_present_value", "SUM(" + all(5) + ")", total},
		{v.Text("equivalent amount a season"), "equivalent_annual", "net_present_value*" + b.yearly(fmt.Sprint(n)),
			total},
		{v.Text("payback, in seasons"), "payback", fmt.Sprintf(`IF(COUNT(%s)=0,"%s",MIN(%s))`, all(9),
			v.Text("not paid back"), all(9)), plain},
		{v.Text("greatest outlay"), "greatest_outlay", "MAX(0,MAX(" + all(6) + ")-(" + sum(b.spread(today)) + "))",
			total},
	} {
		b.define(x.name, s.at(2, s.row))
		s.line(x.label, cell{formula(x.f), x.style}, cell{x.name, called})
	}
	s.line(cell{v.Text("The first season is not discounted. Payback is the first season by whose end the cash is " +
		"back, and stays so."), hint})
	s.row++
}

// spread is what an option takes a season, what lasts charged over its life.
func (b *builder) spread(o option) []charge {
	part := fmt.Sprintf("/%d", max(1, o.Every))
	if b.p.AllAtOnce {
		part = "*" + b.yearly(fmt.Sprint(max(1, o.Every)))
	}
	return b.charges(o, func(life string) string { return "*" + b.yearly(life) }, part)
}

// paid is what it takes in one of its seasons, from 0, in cash: what lasts is bought whole when the one before is worn.
func (b *builder) paid(o option, season int) []charge {
	part := fmt.Sprintf("/%d", max(1, o.Every))
	if b.p.AllAtOnce {
		if part = "*0"; season%max(1, o.Every) == 0 {
			part = ""
		}
	}
	return b.charges(o, func(life string) string {
		return fmt.Sprintf("*(ROUNDUP(%d/%s,0)-ROUNDUP(%d/%s,0))", season+1, life, season, life)
	}, part)
}
