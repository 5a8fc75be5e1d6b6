package show

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"spile/internal/engine/budget"
	"spile/internal/engine/plan"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
)

// Do is what is done in the first season, on every tap: a row for the sections that do the same for the same reason.
func (w PlanView) Do() Table {
	v, p := w.V, w.P
	over := v.Text("Net: more than under last season's way, a tap each season, the mean of all %d seasons.",
		len(p.Seasons))
	if p.OverLast == nil {
		over = v.Text("Net: more than with reused, unwashed spouts and tubing, a tap each season, the mean of all "+
			"%d seasons.", len(p.Seasons))
	}
	t := Table{ID: "handout-do", Title: v.Text("This season, %s", v.Year(p.Sugarbush.First)), Columns: []Column{
		wordy("sections", v.Text("sections")), numeric("taps", v.Text("taps"), ""),
		wordy("practice", v.Text("do this")), wordy("why", v.Text("why")), wordy("buy", v.Text("pieces")),
		numeric("hours", v.Text("hours"), ""), wordy("next", v.Text("season after")),
		numeric("net_tap", v.Text("net a tap"), ""),
	}}
	row := func(g group, net Cell) *Row {
		var buy []string
		for _, m := range p.Sugarbush.Prices.Materials {
			if n := g.need[m.Name]; n > 0 {
				buy = append(buy, v.Text("%s × %s", v.Decimal(n, 0), v.Term(note.Term(m.Name))))
			}
		}
		next := unbroken(v.Text("the same"))
		if g.next.Practice != g.step.Practice {
			next = w.alone(g.next.Practice)
		}
		what := words(cmp.Or(strings.Join(buy, "; "), v.None()))
		return t.row(g.sections[0], words(v.List(g.sections)), count(v, g.taps), words(w.alone(g.step.Practice)),
			words(g.why), what, hours(v, g.hours), words(next), net)
	}
	for _, g := range w.groups() {
		per := g.over / (float64(g.taps) * budget.Annuity(p.Sugarbush.Prices.Discount.Best, float64(len(p.Seasons))))
		row(g, num(v.Money(per, w.currency()), per))
	}
	for _, u := range p.Unplanned {
		g := group{why: v.Text("no trial results: as last season"), need: map[string]float64{}}
		if x := w.stop(u.Section.Name); x != nil {
			g.why = w.stopped(x)
		}
		if len(u.Steps) == 0 {
			t.row(u.Section.Name, words(u.Section.Name), count(v, u.Section.Taps), words(v.Text("as last season")),
				words(g.why), words(v.None()), words(v.None()), words(v.Text("the same")), words(v.None())).Dim = true
			continue
		}
		g.step, g.next = u.Steps[0], u.Steps[min(1, len(u.Steps)-1)]
		g.add(u.Section.Name, u.Section.Taps, g.step)
		row(g, words(v.None())).Dim = true
	}
	if len(p.Seasons) == 1 {
		t.drop("next")
	}
	pieces := ""
	if len(p.Seasons[0].Buy) > 0 {
		pieces = v.Text("Pieces: what is fitted; the spare is in the buying list.")
	}
	if len(p.Sections) == 0 {
		t.drop("net_tap")
		t.note(pieces)
		return t
	}
	mean := ""
	if slices.ContainsFunc(w.groups(), func(g group) bool { return len(g.sections) > 1 }) {
		mean = v.Text("Where a row has several sections it is the mean of their taps.")
	}
	t.note(strings.Join(slices.DeleteFunc([]string{over, mean, pieces}, func(s string) bool { return s == "" }), " "))
	if part := p.Sugarbush.Prices.FarmAdjust.Best; part < 1 {
		t.note(v.Text("Money counts %s of the added sap that trials found, since a farm gets less.",
			v.Percent(100*part)))
	}
	return t
}

// alone is plain where it stands alone, and not before what it is on.
func (w PlanView) alone(k practice.Key) string {
	if k == practice.Unsanitized {
		return w.V.Text("nothing new: spouts used again")
	}
	return w.plain(k)
}

// sum is a cell of money of many taps.
func sum(v *say.Voice, x float64, currency string) Cell {
	return num(v.Sum(x, currency), x)
}

// hours is a cell of hours: to a tenth where they are few.
func hours(v *say.Voice, h float64) Cell {
	if h >= 0.05 && h < 9.95 {
		return decimal(v, h, 1)
	}
	return decimal(v, h, 0)
}

// BuyNow is the buying list of the first season.
func (w PlanView) BuyNow() Table {
	v, s := w.V, w.P.Seasons[0]
	t := Table{ID: "handout-buy", Title: v.Text("To buy for %s", v.Year(s.Season)), Columns: []Column{
		wordy("what", v.Text("what")), numeric("count", v.Text("how many"), ""),
		numeric("money", v.Text("cost"), ""),
	}}
	total, bags := 0.0, false
	var late []string
	for _, b := range s.Buy {
		total += b.Money
		name := v.Term(note.Term(b.Material))
		m := w.P.Sugarbush.Prices.Materials[slices.IndexFunc(w.P.Sugarbush.Prices.Materials,
			func(m price.Material) bool { return m.Name == b.Material })]
		if m.Bag > 1 {
			bags = true
			name = v.Text("%s: %d bags of %s", name, note.Count(math.Ceil(b.Count/m.Bag)), v.Decimal(m.Bag, 0))
		}
		if m.LeadWeeks > 0 {
			late = append(late, v.Text("%d weeks (%s)", int(math.Ceil(m.LeadWeeks)), note.Term(b.Material)))
		}
		t.row(b.Material, words(name), decimal(v, b.Count, 0), sum(v, b.Money, w.currency()))
	}
	for _, d := range s.Doses {
		total += d.Money
		t.row(d.Chemical, words(v.Term(note.Term(d.Chemical))), words(v.Volume(unit.Volume(d.Litres))),
			sum(v, d.Money, w.currency()))
	}
	if len(t.Rows) > 1 {
		t.row("all", words(v.Text("in all")), words(""), sum(v, total, w.currency())).Strong = true
	}
	if s.Tubing > 0 {
		t.note(v.Text("The drops take %s of tubing.", w.Length(s.Tubing)))
	}
	if len(t.Rows) == 0 {
		t.note(v.Text("Nothing is to be bought."))
		return t
	}
	t.note(v.Text("A spare allowance of %s %% is in it.", v.Number(100*w.P.Sugarbush.Spare)))
	if bags {
		t.note(v.Text("The cost is that of the pieces: what is left of a bag is for next season."))
	}
	if late != nil {
		t.note(v.Text("Order ahead: delivery takes %s.", v.List(late)))
	}
	if s.PlasticKg >= 0.5 {
		mass, name := w.plastic()
		t.note(v.Text("It is %s %s of plastic; ask where the old is taken back.", v.Decimal(s.PlasticKg/mass, 0), name))
	}
	return t
}

// leadWeeks is how long what is bought in the first season takes to come, at the most; 0 where that is not known.
func (w PlanView) leadWeeks() (weeks int) {
	for _, b := range w.P.Seasons[0].Buy {
		for _, m := range w.P.Sugarbush.Prices.Materials {
			if m.Name == b.Material {
				weeks = max(weeks, int(math.Ceil(m.LeadWeeks)))
			}
		}
	}
	return weeks
}

// HoursNow is the work of the first season beside what the crew has.
func (w PlanView) HoursNow() Table {
	v, s := w.V, w.P.Seasons[0]
	t := Table{ID: "handout-hours", Title: v.Text("Hours in %s", v.Year(s.Season)), Columns: []Column{
		wordy("window", v.Text("when")), numeric("hours", v.Text("it takes"), ""),
		numeric("have", v.Text("you have"), ""),
	}}
	for _, win := range price.Windows {
		have := words(v.Text("no limit"))
		crew, limited := w.P.Sugarbush.Crews[win]
		if limited {
			have = hours(v, crew.Hours())
		} else if s.Hours[win] < 0.05 {
			continue
		}
		t.row(string(win), words(v.Term(note.Term(win))), hours(v, s.Hours[win]), have)
	}
	if len(t.Rows) == 0 {
		t.note(v.Text("There is no work over and above tapping and pulling."))
	} else {
		t.note(v.Text("Hours are over and above tapping and pulling, the way there included."))
	}
	for _, n := range w.P.Notes {
		if plan.SaysRaised(n) {
			t.note(capital(v.Note(n)) + ".")
		}
	}
	if c := w.P.Sugarbush.Cash; c != nil {
		t.note(v.Text("It takes %s in cash before the sap is sold; you have %s.",
			v.Sum(s.Cash, w.currency()), v.Sum(*c, w.currency())))
	} else if s.Cash >= 0.5 {
		t.note(v.Text("It takes %s in cash before the sap is sold.",
			v.Sum(s.Cash, w.currency())))
	}
	return t
}

// rowsOfYears is how many rows of seasons a handout has; what comes later is planned anew by then.
const rowsOfYears = 6

// Years is what each of the next seasons takes; seasons that are alike share a row.
func (w PlanView) Years() Table {
	v := w.V
	t := Table{ID: "handout-years", Title: v.Text("Season by season"), Columns: []Column{
		wordy("season", v.Text("season")), wordy("drops", v.Text("new drops in")),
		wordy("buy", v.Text("to buy")),
		numeric("hours", v.Text("hours"), ""), numeric("cash", v.Text("cash"), ""),
	}}
	seasons := w.P.Seasons
	if !slices.ContainsFunc(seasons, func(s plan.Season) bool { return len(s.Buy)+len(s.Doses) > 0 || work(s) > 0 }) {
		return t // in none is anything done
	}
	cells := func(s plan.Season) []Cell {
		return []Cell{words(cmp.Or(w.some(w.renewed(s.Season)), v.None())), words(w.shopping(s)), hours(v, work(s)),
			sum(v, s.Cash, w.currency())}
	}
	told := func(a, b Cell) bool { return a.Text == b.Text }
	for _, run := range alike(seasons, func(a, b plan.Season) bool {
		return slices.EqualFunc(cells(a), cells(b), told)
	}) {
		if len(t.Rows) == rowsOfYears {
			t.note(v.Text("The plan goes on to %s. Ask for a new sheet each year: it starts from what was done.",
				v.Year(seasons[len(seasons)-1].Season)))
			break
		}
		s := run[0]
		t.row(v.Year(s.Season), append([]Cell{words(w.stretch(s.Season, len(run)))}, cells(s)...)...)
	}
	return t
}

// renewed is the sections whose drops are replaced in a season.
func (w PlanView) renewed(season int) (list []string) {
	for _, s := range w.P.Sections {
		if s.Steps[season-w.P.Sugarbush.First].Renew {
			list = append(list, s.Section.Name)
		}
	}
	return list
}

// lasting is the pieces that are fitted in the first season for more than one.
func (w PlanView) lasting() (list []price.MaterialUse) {
	for _, u := range w.P.Sugarbush.Prices.Uses {
		for _, m := range u.Materials {
			if plan.Lasts(m) > 1 && w.used(true, func(p practice.Practice) bool { return p.Key == u.Practice }) &&
				!slices.ContainsFunc(list, func(x price.MaterialUse) bool { return x.Material == m.Material }) {
				list = append(list, m)
			}
		}
	}
	return list
}

// Length is a length of tubing in the reader's units.
func (w PlanView) Length(l unit.Length) string {
	return w.V.Text("%s %s", w.V.Decimal(w.length(l), 0), w.lengthUnit())
}

// inputs are the six numbers that the answer rests on most, with room for the reader's own.
func (w PlanView) inputs() Table {
	v, p := w.V, w.P
	prices := &p.Sugarbush.Prices
	t := Table{ID: "handout-inputs", Title: v.Text("Six numbers that it rests on"), Columns: []Column{
		wordy("what", v.Text("number")), numeric("value", v.Text("we counted with"), ""),
		wordy("own", v.Text("yours")),
	}}
	row := func(id, name, value string) {
		t.row(id, words(name), words(value), words(""))
	}
	yield, brix, taps := 0.0, 0.0, 0.0
	for _, s := range p.Sections {
		n := float64(s.Section.Taps)
		y, b := prices.Baseline.Yield.Best, prices.Baseline.Brix.Best
		if s.Section.YieldL != nil {
			y = *s.Section.YieldL
		}
		if s.Section.Brix != nil {
			b = *s.Section.Brix
		}
		yield, brix, taps = yield+n*y, brix+n*b, taps+n
	}
	row("taps", v.Text("taps planned for"), v.Count(p.Taps()))
	row("yield", v.Text("usual sap, a tap and season"), v.Volume(unit.Volume(yield/taps)))
	row("brix", v.Text("usual sugar of the sap"), v.Text("%s °Bx", v.Decimal(brix/taps, 1)))
	name, price := w.syrupPrice()
	row("price", name, price)
	row("wage", v.Text("wage, an hour"), v.Money(prices.Wage.Best, prices.Currency))
	buy := slices.SortedStableFunc(slices.Values(p.Seasons[0].Buy),
		func(a, b plan.Buy) int { return cmp.Compare(b.Money, a.Money) })
	for _, x := range prices.Materials {
		if len(buy) > 0 && x.Name == buy[0].Material {
			row("piece", v.Text("price of a piece: %s", v.Term(note.Term(x.Name))),
				v.Money(x.Price.Best, prices.Currency))
		}
	}
	if len(t.Rows) < 6 {
		row("discount", v.Text("interest a year"), v.Percent(100*prices.Discount.Best))
	}
	return t
}

// syrupPrice is the mean bulk price, or that of what else is sold.
func (w PlanView) syrupPrice() (name, price string) {
	v, s := w.V, &w.P.Sugarbush.Prices.Sells
	sum, whole := 0.0, 0.0
	for _, g := range s.Grades {
		sum, whole = sum+g.Share*g.Price.Best, whole+g.Share
	}
	money := w.currency()
	switch {
	case whole > 0:
		return v.Text("price of bulk syrup"), v.PerMass(sum/whole, money)
	case s.Retail != nil:
		return v.Text("price of syrup in retail"), v.PerVolume(s.Retail.Price.Best, money)
	case s.Sap != nil:
		return v.Text("price of sap"), v.PerVolume(s.Sap.Price.Best, money)
	}
	return v.Text("price of bulk syrup"), v.None()
}
