package plan

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"spile/internal/engine/budget"
	"spile/internal/engine/sure"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// world is the states that a plan's money is expected over: gains, prices and work drawn together, those in which the
// practices are ranked (M7).
type world struct {
	drawn
	books   // at the best guesses, but while others are entered
	n       int
	kinds   []*kind
	choices map[practice.Choice]int
	list    []practice.Choice // by their number
	// by choice and state, money and litres that a tap takes; a choice that loses no sap has no litres
	fixed, lost  [][]float64
	wage, adjust []float64 // by state
	yield        []float64 // by state, litres a tap where a section states none
	ahead        map[*price.MaterialUse][2]float64
	ends         [][bends]limit // by state; none without limits
	part         []int          // that a state belongs to
	each         [bins]float64  // how many belong to each
}

// drawn is states with what is worked out of them alone, whatever the prices.
type drawn struct {
	*sure.States
	rows   map[gainKey]int // of ratios; what is not there is unsanitized
	ratios []ratio
	adds   map[*place][]float64
}

// ratio is the yield under a treatment over unsanitized where the moderators stand somewhere: by state, that where they
// stand at their means times what they add, times less.
type ratio struct {
	mean, adds []float64
	less       float64
}

func (r *ratio) in(state int) float64 { return r.less * r.mean[state] * r.adds[state] }

// The states are divided into so many parts, by what is sold unsanitized and across that by what is sold where all do
// what gains most: in each part what is sold is taken to be its mean.
const (
	across = 8
	bins   = across * across
)

// kind is sections whose sap is as sweet, and what a litre of it brings in each state.
type kind struct {
	number       int
	brix         float64        // 0: the sugarbush's
	taps         float64        // of those planned
	usual        *budget.Ledger // at the best guesses
	first, added []budget.Litre
	beyond       []budget.Beyond
}

// ledger is that of the sugarbush's prices for sap of the kind.
func (x *kind) ledger(l *budget.Ledger) budget.Ledger {
	if x.brix == 0 {
		return *l
	}
	return l.Sweet(x.usual)
}

// books are prices, what they make, and what choices take, into which the numbers of a state can be entered.
type books struct {
	prices *price.Prices
	ledger *budget.Ledger
	plans  []budget.Plan // by choice
	unsure []unsure
}

// unsure is a number that is drawn.
type unsure struct {
	at    *price.Value
	best  float64
	drawn []float64
}

// books opens the sugarbush's prices as they are drawn, and the plans of choices.
func (k *maker) books(choices []practice.Choice) books {
	x := books{prices: k.Prices.Clone()}
	x.ledger = budget.Of(x.prices)
	for _, s := range x.prices.Tried() {
		i := slices.IndexFunc(k.Assumptions, func(a sure.Assumption) bool { return a.Key == s.Key })
		if v := s.Value(); v != nil && (v.Low != nil || v.High != nil) && k.world.Values[i] != nil {
			x.unsure = append(x.unsure, unsure{v, v.Best, k.world.Values[i]})
		}
	}
	for _, c := range choices {
		x.plans = append(x.plans, x.ledger.Plan(c))
	}
	budget.Join(x.plans)
	return x
}

// put puts the numbers of a state in the place of the best guesses; −1 puts these back.
func (x *books) put(state int) {
	for i := range x.unsure {
		u := &x.unsure[i]
		if u.at.Best = u.best; state >= 0 {
			u.at.Best = u.drawn[state]
		}
	}
}

// enter works the books out with the numbers of a state, plans too where they are asked for.
func (x *books) enter(state int, plans []budget.Plan) {
	x.put(state)
	x.ledger.Reprice(plans)
}

// draw opens the world of tables, and of those of which the studies say nothing.
func (k *maker) draw(tables, idle []table) error {
	w := &world{n: k.Draws, choices: map[practice.Choice]int{}, part: make([]int, k.Draws)}
	k.world = w
	gains := k.Pool.moderated()
	if x := k.drawn; x != nil {
		w.drawn = drawn{x.States, maps.Clone(x.rows), slices.Clone(x.ratios), maps.Clone(x.adds)}
	} else {
		model := &sure.Model{Gains: gains.Posterior, Assumptions: k.Assumptions}
		states, err := model.States(w.n, k.Seed)
		if err != nil {
			return err
		}
		ones := slices.Repeat([]float64{1}, w.n)
		w.drawn = drawn{states, map[gainKey]int{}, []ratio{{ones, ones, 1}}, map[*place][]float64{}}
	}
	need := func(key gainKey) {
		if _, have := w.rows[key]; have || key.treatment.Practice == practice.Unsanitized { // its row is the first
			return
		}
		if w.adds[key.at] == nil {
			w.adds[key.at] = w.added(gains.Shift(key.at.values()))
		}
		w.rows[key] = len(w.ratios)
		w.ratios = append(w.ratios, ratio{w.Ratios[slices.Index(gains.Treatments, key.treatment)], w.adds[key.at],
			k.Pool.at(key.treatment, key.at).less()})
	}
	for i := range tables {
		for _, g := range tables[i].base {
			need(g)
		}
		for _, a := range tables[i].deeds {
			need(a.gains())
			need(a.means())
		}
	}
	choose := func(c practice.Choice) {
		if _, have := w.choices[c]; !have {
			w.choices[c] = len(w.list)
			w.list = append(w.list, c)
		}
	}
	for _, list := range [][]table{tables, idle} {
		for i := range list {
			for _, a := range list[i].deeds {
				choose(a.takes)
				choose(a.loses)
			}
		}
	}
	w.books = k.books(w.list)
	for _, list := range [][]table{tables, idle} {
		for i := range list {
			k.settle(&list[i])
		}
	}
	k.value()
	pers := map[string][]float64{}
	for _, list := range [][]table{tables, idle} {
		for i := range list {
			t := &list[i]
			key := fmt.Sprint(t.base)
			if pers[key] == nil {
				pers[key] = w.per(t.base)
			}
			t.per = pers[key]
		}
	}
	return nil
}

// added is what moderators add, by state, where they are shifted so: a factor.
func (w *drawn) added(by []float64) []float64 {
	list := make([]float64, len(w.Spread))
	for d := range list {
		x := 0.
		for j, c := range by {
			x += c * w.Slopes[j][d]
		}
		list[d] = math.Exp(x)
	}
	return list
}

// settle finds a section's kind.
func (k *maker) settle(t *table) {
	w, brix := k.world, 0.
	if t.section.Brix != nil {
		brix = *t.section.Brix
	}
	i := slices.IndexFunc(w.kinds, func(x *kind) bool { return x.brix == brix })
	if i < 0 {
		i = len(w.kinds)
		w.kinds = append(w.kinds, &kind{number: i, brix: brix, usual: budget.Of(k.PricesOf(t.section, k.Set))})
	}
	if t.kind = w.kinds[i]; !t.blind {
		t.kind.taps += float64(t.section.Taps)
	}
}

// batch is how many states are worked out in one go.
const batch = 1000

// value works out, by state, what does not hang on the sap of a section: what a litre of each kind brings, and what
// each choice takes.
func (k *maker) value() {
	w := k.world
	grid := func(n int) [][]float64 {
		g := make([][]float64, n)
		for i := range g {
			g[i] = make([]float64, w.n)
		}
		return g
	}
	w.wage, w.adjust, w.yield = make([]float64, w.n), make([]float64, w.n), make([]float64, w.n)
	w.fixed, w.lost = grid(len(w.plans)), grid(len(w.plans))
	for _, x := range w.kinds {
		x.first, x.added = make([]budget.Litre, w.n), make([]budget.Litre, w.n)
		x.beyond = make([]budget.Beyond, w.n)
	}
	type thing struct { // that lasts
		use, of         int
		whole, annually []float64
	}
	var things []thing
	for i := range k.Prices.Uses {
		for j, m := range k.Prices.Uses[i].Materials {
			if Lasts(m) > 1 {
				things = append(things, thing{i, j, make([]float64, w.n), make([]float64, w.n)})
			}
		}
	}
	sure.OnCores(w.n, batch, func() func(from, to int) {
		x := k.books(w.list)
		p := x.prices
		return func(from, to int) {
			for d := from; d < to; d++ {
				x.enter(d, x.plans)
				w.wage[d], w.adjust[d], w.yield[d] = p.Wage.Best, p.FarmAdjust.Best, p.Baseline.Yield.Best
				for i := range x.plans {
					w.fixed[i][d], w.lost[i][d] = x.plans[i].Cost(), x.plans[i].Lost()
				}
				for _, y := range things {
					m := &p.Uses[y.use].Materials[y.of]
					price := p.Materials[k.order(m.Material)].Price.Best
					y.whole[d], y.annually[d] = price, price/budget.Annuity(p.Discount.Best, m.Life.Best)
				}
				for _, y := range w.kinds {
					l := y.ledger(x.ledger)
					y.first[d], y.added[d] = l.Litres()
					y.beyond[d] = l.Beyond()
				}
			}
		}
	})
	for i, x := range w.lost {
		if !slices.ContainsFunc(x, func(l float64) bool { return l != 0 }) {
			w.lost[i] = nil
		}
	}
	w.ahead = map[*price.MaterialUse][2]float64{}
	for _, x := range things {
		w.ahead[&k.Prices.Uses[x.use].Materials[x.of]] = [2]float64{average(x.whole), average(x.annually)}
	}
}

// per is what a tap gives unsanitized, in each state, of each litre that it usually gives under what holds these gains.
func (w *world) per(base []gainKey) []float64 {
	list := make([]float64, w.n)
	var held []*ratio
	for _, b := range base {
		held = append(held, &w.ratios[w.rows[b]])
	}
	for d := range list {
		g := 0.
		for _, r := range held {
			g += (r.in(d) - 1) / float64(len(base))
		}
		list[d] = 1 / (1 + w.adjust[d]*g)
	}
	return list
}

// cell is what the sap of a tap hangs on. A usual yield that is not drawn is left out where sap goes with it.
type cell struct {
	kind  *kind
	per   *float64 // the first of them
	yield float64  // 0: as drawn
	row   int      // of its ratio
	lost  int      // choice whose lost sap counts; −1: none is
}

// cell is that of a section, with a gain and the sap that a choice loses, and how many times it counts for a tap.
func (k *maker) cell(t *table, gain gainKey, loses practice.Choice) (c cell, times float64) {
	w := k.world
	c, times = cell{kind: t.kind, per: &t.per[0], row: w.rows[gain], lost: -1}, 1
	if i := w.choices[loses]; w.lost[i] != nil {
		c.lost = i
	}
	switch y := t.section.YieldL; {
	case y == nil:
	case c.lost < 0:
		c.yield, times = 1, *y
	default:
		c.yield = *y
	}
	return c, times
}

// ground is what a cell's sap stands on, by state: what its tap gives unsanitized, and that as gains count there.
type ground struct{ none, counts []float64 }

// ground works a cell's out, where a litre unsanitized is so much of one that it usually gives.
func (w *world) ground(c *cell, per []float64, g *ground) {
	if g.none == nil {
		g.none, g.counts = make([]float64, w.n), make([]float64, w.n)
	}
	for d, x := range per {
		none := c.yield
		if none == 0 {
			none = w.yield[d]
		}
		none *= x
		g.none[d], g.counts[d] = none, none*w.adjust[d]
	}
}

// of is what a litre brings of so much more: of sap that is added, or that is less.
func (x *kind) of(more float64, d int) *budget.Litre {
	if more > 0 {
		return &x.added[d]
	}
	return &x.first[d]
}

// flow is what a cell's tap gives, by state.
type flow struct {
	ground
	ratio
	lost []float64 // nil: nothing
}

func (w *world) flow(c *cell, g *ground) flow {
	f := flow{ground: *g, ratio: w.ratios[c.row]}
	if c.lost >= 0 {
		f.lost = w.lost[c.lost]
	}
	return f
}

// more is what it gives more than unsanitized; less where that is below 0.
func (f *flow) more(d int) float64 {
	more := f.counts[d] * (f.in(d) - 1)
	if f.lost != nil {
		more -= f.lost[d]
	}
	return more
}

// mean is what is expected of the sap of a tap.
type mean struct {
	net, gross float64 // money over unsanitized, boiling and hauling paid, and before
	sold       [goods * bins]float64
}

func (w *world) mean(c *cell, g *ground) (m mean) {
	f, limited := w.flow(c, g), w.ends != nil
	for d := range w.n {
		more := f.more(d)
		x := c.kind.of(more, d)
		m.net += x.Margin * more
		m.gross += x.Gross * more
		if limited {
			i, y, none := w.part[d], &c.kind.first[d], f.none[d]
			m.sold[i] += y.Worth*none + x.Worth*more
			m.sold[bins+i] += y.Boiled*none + x.Boiled*more
		}
	}
	m.net, m.gross = m.net/float64(w.n), m.gross/float64(w.n)
	if limited {
		for i := range m.sold {
			m.sold[i] /= w.each[i%bins]
		}
	}
	return m
}

// measure works out what is expected of all that can be done.
func (k *maker) measure(tables, idle []table) {
	w := k.world
	type soil struct {
		per   *float64
		yield float64
	}
	type field struct { // cells on one ground
		per   []float64
		cells []cell
		means []mean
	}
	type spot struct{ field, cell int }
	var fields []field
	where, at := map[soil]int{}, map[cell]spot{}
	need := func(t *table, gain gainKey, loses practice.Choice) {
		c, _ := k.cell(t, gain, loses)
		if _, have := at[c]; have {
			return
		}
		i, have := where[soil{c.per, c.yield}]
		if !have {
			i = len(fields)
			where[soil{c.per, c.yield}] = i
			fields = append(fields, field{per: t.per})
		}
		x := &fields[i]
		at[c] = spot{i, len(x.cells)}
		x.cells = append(x.cells, c)
	}
	lists := [][]table{tables, idle}
	for _, list := range lists {
		for i := range list {
			for _, a := range list[i].deeds {
				need(&list[i], a.gains(), a.loses)
				need(&list[i], a.means(), a.takes)
			}
		}
	}
	sure.OnCores(len(fields), 1, func() func(from, to int) {
		var g ground
		return func(i, _ int) {
			x := &fields[i]
			w.ground(&x.cells[0], x.per, &g)
			x.means = make([]mean, len(x.cells))
			for j := range x.cells {
				x.means[j] = w.mean(&x.cells[j], &g)
			}
		}
	})
	told := func(c cell) *mean { i := at[c]; return &fields[i.field].means[i.cell] }
	fixed, wage := make([]float64, len(w.fixed)), average(w.wage)
	for i, x := range w.fixed {
		fixed[i] = average(x)
	}
	for _, list := range lists {
		for i := range list {
			t := &list[i]
			taps := float64(t.section.Taps)
			for _, a := range t.deeds {
				c, times := k.cell(t, a.gains(), a.loses)
				a.row, a.fixed, a.lost = c.row, w.choices[a.takes], c.lost
				m := told(c)
				takes := taps*fixed[a.fixed] + a.travel*wage
				a.ahead = taps * k.ahead(a)
				a.net, a.gross = taps*times*m.net-takes-a.ahead, taps*times*m.gross
				sells := func() (x sold) {
					if w.ends != nil {
						x = make(sold, len(m.sold))
						x.add(taps*times, m.sold[:])
					}
					return x
				}
				a.sold = sells()
				c, times = k.cell(t, a.means(), a.takes)
				m = told(c)
				a.even, a.sells = taps*times*m.net-takes, sells()
			}
		}
	}
}

func average(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sum := 0.
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// totals adds what an action sells in each state.
func (k *maker) totals(t *table, a *deed, to *[goods][]float64) {
	c, times := k.cell(t, a.gains(), a.loses)
	times *= float64(t.section.Taps)
	var g ground
	k.world.ground(&c, t.per, &g)
	f := k.world.flow(&c, &g)
	for d := range k.world.n {
		more, none := f.more(d), f.none[d]
		x, y := t.kind.of(more, d), &t.kind.first[d]
		to[kilograms][d] += times * (y.Worth*none + x.Worth*more)
		to[litres][d] += times * (y.Boiled*none + x.Boiled*more)
	}
}

// market finds the limits in each state, divides the states by what is sold unsanitized, and then by what is sold where
// all do what gains most, and gives the limits of the parts.
func (k *maker) market(tables, idle []table) market {
	w, s := k.world, &k.Prices.Sells
	if len(tables) == 0 || s.Quota == nil && s.CapacityL == nil && s.Peak == nil {
		return nil
	}
	var plain, taken, most [goods][]float64
	for _, x := range []*[goods][]float64{&plain, &taken, &most} {
		x[kilograms], x[litres] = make([]float64, w.n), make([]float64, w.n)
	}
	for i := range tables {
		k.totals(&tables[i], tables[i].actions[0][0][0].deed, &plain)
		list := tables[i].actions[0][tables[i].start]
		richest := list[0].deed
		for _, a := range list {
			if a.open && a.gain > richest.gain {
				richest = a.deed
			}
		}
		k.totals(&tables[i], richest, &most)
	}
	for i := range idle {
		k.totals(&idle[i], idle[i].actions[0][0][0].deed, &taken)
	}
	w.ends = make([][bends]limit, w.n)
	binds := -1
	for d := range w.n {
		w.put(d)
		w.ends[d] = limits(&w.prices.Sells, k.taps(), w.beyond(d),
			[goods]float64{plain[kilograms][d] + taken[kilograms][d], plain[litres][d] + taken[litres][d]},
			[goods]float64{taken[kilograms][d], taken[litres][d]})
		for j, l := range w.ends[d] {
			if binds < 0 && l.toll > 0 {
				binds = j
			}
		}
	}
	w.put(-1)
	if binds < 0 {
		w.ends = nil
		return nil
	}
	order := make([]int, w.n)
	for d := range order {
		order[d] = d
	}
	by := func(list []int, all *[goods][]float64) {
		over := func(d int) float64 { l := w.ends[d][binds]; return all[l.of][d] - l.room }
		slices.SortStableFunc(list, func(a, b int) int { return cmp.Compare(over(a), over(b)) })
	}
	by(order, &plain)
	w.each = [bins]float64{}
	for i := range across {
		row := order[i*w.n/across : (i+1)*w.n/across]
		by(row, &most)
		for j, d := range row {
			w.part[d] = i*across + j*across/len(row)
			w.each[w.part[d]]++
		}
	}
	var m market
	for j := range bends {
		list := make([]limit, bins)
		for d, ends := range w.ends {
			l, e := &list[w.part[d]], ends[j]
			l.of = e.of*bins + w.part[d]
			l.room += e.toll * e.room
			l.toll, l.gross = l.toll+e.toll, l.gross+e.gross
		}
		for _, l := range list {
			if l.toll > 0 { // in some states of the part there may be no such limit
				l.room /= l.toll
				l.toll, l.gross = l.toll/float64(w.n), l.gross/float64(w.n)
				m = append(m, l)
			}
		}
	}
	return m
}

// beyond is that of the mean section planned, in a state.
func (w *world) beyond(d int) (mean budget.Beyond) {
	return w.mix(func(x *kind) budget.Beyond { return x.beyond[d] })
}

func (w *world) mix(of func(*kind) budget.Beyond) (mean budget.Beyond) {
	taps := 0.
	for _, x := range w.kinds {
		taps += x.taps
	}
	for _, x := range w.kinds {
		b, part := of(x), x.taps/taps
		mean.Kg, mean.GrossKg = mean.Kg+part*b.Kg, mean.GrossKg+part*b.GrossKg
		mean.Litre, mean.GrossLitre = mean.Litre+part*b.Litre, mean.GrossLitre+part*b.GrossLitre
		mean.Worth += part * b.Worth
	}
	return mean
}

// taps are those of all sections.
func (k *maker) taps() float64 {
	n := 0.
	for _, x := range k.Sections {
		n += float64(x.Taps)
	}
	return n
}

// bestGuess is what each part brings over unsanitized at the best guesses.
func (k *maker) bestGuess(f *frame, lists ...[]part) (sums [][]float64) {
	w := k.world
	p := w.prices
	of := func(t *table, gain float64, lost float64) (none, first, added float64) {
		y := p.Baseline.Yield.Best
		if t.section.YieldL != nil {
			y = *t.section.YieldL
		}
		none = y / (1 + p.FarmAdjust.Best*t.gain)
		sap := none*(1+p.FarmAdjust.Best*gain) - lost
		first = min(sap, none)
		return none, first, sap - first
	}
	var plain, taken [goods]float64
	sells := func(t *table, gain, lost float64, weight float64, to *[goods]float64) {
		_, first, added := of(t, gain, lost)
		x, y := t.kind.usual.Litres()
		weight *= float64(t.section.Taps)
		to[kilograms] += weight * (x.Worth*first + y.Worth*added)
		to[litres] += weight * (x.Boiled*first + y.Boiled*added)
	}
	for i := range f.tables {
		sells(&f.tables[i], 0, 0, 1, &plain)
	}
	for i := range f.rest {
		sells(&f.rest[i], 0, 0, 1, &taken)
	}
	ends := limits(&p.Sells, k.taps(), w.mix(func(x *kind) budget.Beyond { return x.usual.Beyond() }),
		[goods]float64{plain[kilograms] + taken[kilograms], plain[litres] + taken[litres]}, taken)
	for _, parts := range lists {
		if parts == nil {
			sums = append(sums, nil)
			continue
		}
		own := make([]float64, len(parts))
		all := make([][goods]float64, k.Seasons)
		mine := make([][][goods]float64, len(parts))
		for i, x := range parts {
			t := &f.tables[x.table]
			own[i] = x.weight * f.problem.after * t.left[x.ends]
			mine[i] = make([][goods]float64, k.Seasons)
			for season, a := range x.actions {
				lost := 0.
				if a.lost >= 0 {
					lost = w.plans[a.lost].Lost()
				}
				none, first, added := of(t, a.gain/100, lost)
				l, m := t.kind.usual.Litres()
				net := float64(t.section.Taps)*(l.Margin*(first-none)+m.Margin*added-
					w.plans[a.fixed].Cost()) - a.travel*p.Wage.Best - a.ahead
				own[i] += x.weight * f.problem.discount[season] * net
				sells(t, a.gain/100, lost, x.weight, &mine[i][season])
				sells(t, 0, 0, -x.weight, &mine[i][season])
				for j, u := range mine[i][season] {
					all[season][j] += u
				}
			}
		}
		for season, v := range f.problem.discount {
			lost := 0.
			for _, l := range ends {
				lost += l.toll * (max(0, plain[l.of]+all[season][l.of]-l.room) - max(0, plain[l.of]-l.room))
			}
			for i := range own {
				own[i] -= v * share(lost, weigh(ends, mine[i][season]), weigh(ends, all[season]))
			}
		}
		sums = append(sums, own)
	}
	return sums
}

// weigh is what is sold at the full tolls of limits.
func weigh(ends [bends]limit, x [goods]float64) float64 {
	sum := 0.
	for _, l := range ends {
		sum += l.toll * x[l.of]
	}
	return sum
}
