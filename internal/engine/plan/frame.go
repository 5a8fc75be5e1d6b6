package plan

import (
	"math"
	"slices"

	"spile/internal/engine/budget"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// frame is a sugarbush as a problem: what can be done in each section, what is short, and what was done until now.
type frame struct {
	tables  []table // of the sections planned
	rest    []table // of those of which the studies say nothing
	idle    []part  // of those of which the studies say nothing, as last season; without actions where not priced
	short   []price.Window
	free    bool  // nothing is short, or it is not counted
	least   grid  // by season and what is short, what going on as last season takes of it in the sections planned
	caps    []cap // of the market
	problem *program
	last    []part // as last season, or the cheapest that is permitted; nil where that cannot be priced
}

type choice = func(season int, s stand, actions []action) int

// frame sets the problem up. A limit on hours or cash that last season went beyond is raised to what it took.
func (k *maker) frame(p *Plan) (*frame, error) {
	var tables, idle []table // those planned, and those of which the studies say nothing
	for _, x := range k.Sections {
		if why := k.Scope.outside(x); why != nil {
			p.Unplanned = append(p.Unplanned, Unplanned{Section: x, Reasons: why})
			idle = append(idle, k.table(x, true))
		} else {
			tables = append(tables, k.table(x, false))
		}
	}
	f := &frame{tables: tables, rest: idle}
	for _, w := range price.Windows {
		if _, ok := k.Crews[w]; ok {
			f.short = append(f.short, w)
		}
	}
	if k.Cash != nil {
		f.short = append(f.short, "")
	}
	f.free = len(f.short) == 0
	f.problem = &program{}
	for t := range k.Seasons {
		f.problem.discount = append(f.problem.discount, math.Pow(1+k.Prices.Discount.Best, -float64(t)))
	}
	f.problem.after = math.Pow(1+k.Prices.Discount.Best, -float64(k.Seasons))

	for i := range idle {
		t := &idle[i]
		x := part{table: i, weight: 1, ends: t.start}
		if do, _ := k.onward(t); do != nil {
			x, _ = t.follow(i, 1, k.Seasons, do)
		}
		f.idle = append(f.idle, x)
	}
	f.last = k.everywhere(tables, 1, func(_ int, t *table) choice { do, _ := k.onward(t); return do })
	if err := k.draw(tables, idle); err != nil {
		return nil, err
	}
	k.limits = k.market(tables, idle)
	k.measure(tables, idle)
	f.caps = k.limits.caps(tables)
	if k.limits != nil {
		k.plain = make(sold, goods*bins)
	}
	for i := range tables {
		if k.limits != nil {
			k.plain.add(1, tables[i].actions[0][0][0].sold)
		}
		tables[i].left = k.left(&tables[i], nil, nil)
	}
	for _, list := range [][]table{tables, idle} {
		for i := range list {
			if _, stop := k.onward(&list[i]); stop != nil {
				p.Stops = append(p.Stops, *stop)
			}
		}
	}
	k.caps(p, f, idle)
	k.unbind(f)
	k.blocks(f)
	return f, nil
}

// onward is how a section goes on as last season: drops that are replaced every so many seasons are when they have been
// in use so long. Where that is not permitted or not wanted it is the cheapest that is, and stop says so; nil where the
// studies or the prices say nothing of it.
func (k *maker) onward(t *table) (do choice, stop *Stop) {
	was := k.Usual(t.section, k.Set)
	do = func(season int, s stand, actions []action) int { return k.usual(t, season, s, actions) }
	x, ok := t.follow(0, 1, k.Seasons, do)
	_, held := k.Held[was.Practice]
	if ok && !slices.ContainsFunc(x.actions, func(a *action) bool { return !a.open }) {
		return do, nil
	}
	if !ok && !held && !slices.Contains(t.section.Unwanted, was.Practice) {
		return nil, nil
	}
	instead := practice.Unsanitized
	least := math.Inf(1)
	for i := range t.actions[0][t.start] {
		a := &t.actions[0][t.start][i]
		if a.open && !a.renew && a.practice != practice.Unsanitized && a.plan.Cost() < least {
			instead, least = a.practice, a.plan.Cost()
		}
	}
	return func(_ int, _ stand, actions []action) int { return named(actions, instead) },
		&Stop{t.section.Name, was.Practice, instead, held}
}

// caps fills what is short in each season, for the sections planned. Those that are not planned go on, and take theirs
// first.
func (k *maker) caps(p *Plan, f *frame, idle []table) {
	first, took := make(grid, k.Seasons), make(grid, k.Seasons)
	for t := range first {
		first[t], took[t] = make([]float64, len(f.short)), make([]float64, len(f.short))
	}
	takes := func(x part, into grid) {
		for t, a := range x.actions {
			for i, u := range uses(a.deed, f.short) {
				into[t][i] += u
			}
		}
	}
	for _, x := range f.idle {
		takes(x, first)
	}
	for _, list := range [][]table{f.tables, idle} {
		for i := range list {
			if x, ok := list[i].follow(i, 1, k.Seasons, func(season int, s stand, actions []action) int {
				return k.usual(&list[i], season, s, actions)
			}); ok {
				takes(x, took)
			}
		}
	}
	f.problem.caps, f.least = make(grid, k.Seasons), make(grid, k.Seasons)
	for i, w := range f.short {
		given, most := k.given(w), 0.0
		for t := range took {
			f.least[t] = append(f.least[t], max(0, took[t][i]-first[t][i]))
			f.problem.caps[t] = append(f.problem.caps[t], max(f.least[t][i], given-first[t][i]))
			most = max(most, took[t][i])
		}
		f.problem.toll = append(f.problem.toll, math.Inf(1))
		if most > given*(1+tolerance) {
			p.Raised = append(p.Raised, Raised{w, given, most})
		}
	}
	for _, c := range f.caps {
		if c.met {
			continue
		}
		for t := range f.problem.caps {
			f.problem.caps[t] = append(f.problem.caps[t], c.room)
		}
		f.problem.toll = append(f.problem.toll, c.toll)
	}
}

// given is the limit of a window, "" cash.
func (k *maker) given(w price.Window) float64 {
	if w == "" {
		return *k.Cash
	}
	return k.Crews[w].Hours()
}

// blocks fills the moves. Where hours or cash may not suffice, they take a section nowhere below what it did the season
// before: to give up what pays for a season, so that another section can have it sooner, is a sum that comes out and
// nothing that anybody does.
func (k *maker) blocks(f *frame) {
	f.problem.blocks = nil
	for i := range f.tables {
		t := &f.tables[i]
		for _, a := range t.deeds {
			a.worth, a.use = a.net, uses(a, f.short)
			for j := range f.caps {
				if c := &f.caps[j]; c.met {
					a.worth -= c.toll * c.uses(a.sold)
				} else {
					a.use = append(a.use, c.uses(a.sold))
				}
			}
		}
		b := block{start: t.start, left: k.leftOf(f, t)}
		reached := []int{b.start}
		for season, actions := range t.actions {
			now := make([][]move, len(b.left))
			same := season > 0 && &actions[0] == &t.actions[season-1][0]
			if same && (f.free || k.Usual(t.section, k.Set).Every == 0 && season+1 < k.Seasons) {
				now = b.moves[season-1] // neither the calendar nor the end has a say
			}
			b.moves = append(b.moves, now)
			next := make([]bool, len(b.left))
			for _, s := range reached {
				if now[s] == nil {
					now[s] = k.moves(f, t, season, s, actions[s%len(t.stands)])
				}
				for i := range now[s] {
					next[now[s][i].next] = true
				}
			}
			reached = reached[:0]
			for s, is := range next {
				if is {
					reached = append(reached, s)
				}
			}
		}
		f.problem.blocks = append(f.problem.blocks, b)
	}
}

// unbind takes hours and cash for enough where the best plan without limits on them keeps within them: then nothing is
// given up for their sake. Else it fills the courses: the market is at most as full as under that plan.
func (k *maker) unbind(f *frame) {
	if f.free {
		return
	}
	g := k.lifted(f)
	parts := g.parts(g.problem.sketch(nil).paths)
	if f.free = f.fits(parts); f.free {
		return
	}
	toll := k.tolls(parts)
	for i := range f.tables {
		f.tables[i].courses(toll, max(0, k.Prices.Discount.Best))
	}
}

// tolls is what one more of what parts sell costs, on average over the seasons.
func (k *maker) tolls(parts []part) sold {
	if k.limits == nil {
		return nil
	}
	toll := make(sold, len(k.plain))
	for _, x := range k.sums(parts) {
		toll.add(1/float64(k.Seasons), k.limits.tolls(x))
	}
	return toll
}

// before is how many things can have been done in a section the season before, as far as the moves ask: 1 where nothing
// can be short. The first is what was done before the plan; the others are the practices, in their order.
func (k *maker) before(f *frame) int {
	if f.free {
		return 1
	}
	return 1 + len(k.Set)
}

// leftOf is what is left of a section in each state of its block: a stand, and what was done on it the season before.
func (k *maker) leftOf(f *frame, t *table) []float64 {
	return slices.Repeat(t.left, k.before(f))
}

// then is the state that an action leads to. A wash that is not done again is still what the next must not be below.
func (k *maker) then(f *frame, t *table, season, state int, a *action) int {
	switch {
	case f.free:
		return a.next
	case k.rests(t, season, state, a):
		return state - state%len(t.stands) + a.next
	}
	return a.next + len(t.stands)*k.done(a)
}

// rests is true where nothing is done in the spring that the last wash counts in, so that another thing is done in the
// next, of this plan: who washes can change to it only so, unless a wash is to be for nothing.
func (k *maker) rests(t *table, season, state int, a *action) bool {
	washed := t.stands[state%len(t.stands)].washed
	return washed != "" && a.of == "" && a.treatment.Practice == washed && season+1 < k.Seasons
}

// was is what a section does until a state: what was done the season before, a rest left out, and at first its usual.
func (k *maker) was(t *table, state int) practice.Key {
	if n := state / len(t.stands); n > 0 {
		return k.Set[n-1].Key
	}
	return k.Usual(t.section, k.Set).Practice
}

// done is which of the things that can have been done before an action is once it is done: drops that were replaced are
// gone on with as what is done between two replacements.
func (k *maker) done(a *action) int {
	key := a.practice
	if a.renew {
		key = between(k.Set, key)
	}
	return 1 + slices.IndexFunc(k.Set, func(p practice.Practice) bool { return p.Key == key })
}

// moves are the actions of a state as moves.
func (k *maker) moves(f *frame, t *table, season, state int, actions []action) []move {
	var list []move
	for at := range actions {
		a := &actions[at]
		if !a.open || at > 0 && k.wastes(f, t, season, state, a) {
			continue
		}
		m := move{action: at, next: k.then(f, t, season, state, a), worth: a.worth, use: a.use}
		if least := k.below(f, t, season, state, actions, a); least != nil {
			if at > 0 {
				continue
			}
			// It takes nothing: for a search that has nothing left, at a price.
			m.next = state - state%len(t.stands) + a.next
			m.worth -= 10 * (math.Abs(a.net) + math.Abs(least.net) + math.Abs(least.even))
		}
		list = append(list, m)
	}
	return list
}

// wastes is true of an action that makes nothing of a wash which was done for it. No plan that has enough washes for
// nothing; one short of cash had, since a wash, of which most is paid once the sap is sold, counted as no less than the
// new spouts that were left out for it. Nor is there one that rests from a wash to wash again.
func (k *maker) wastes(f *frame, t *table, season, state int, a *action) bool {
	if f.free || season == 0 {
		return false
	}
	if washed := t.stands[state%len(t.stands)].washed; washed != "" {
		return a.treatment.Practice != washed
	}
	p, ok := k.Set.Find(k.was(t, state))
	return ok && k.after(p) && a.of == p.Key
}

// below is what a section would give up for an action for want of hours or cash alone: what it did the season before,
// and at first as last season, if that brings more by itself, whether or not the market is full; else nil.
func (k *maker) below(f *frame, t *table, season, state int, actions []action, a *action) *action {
	if f.free || k.rests(t, season, state, a) {
		return nil
	}
	least := k.usual(t, season, t.stands[state%len(t.stands)], actions)
	if was := state / len(t.stands); was > 0 {
		if least >= 0 && a == &actions[least] && k.done(a) == was { // all along as last season
			return nil
		}
		least = named(actions, k.Set[was-1].Key)
	}
	if least < 0 || !actions[least].open {
		return nil
	}
	b := &actions[least]
	if a.course.net < b.course.net && a.course.full < b.course.full {
		return b
	}
	return nil
}

// path is a part as moves; nil where one of its actions is none.
func (f *frame) path(i int, x part) path {
	b, t := &f.problem.blocks[i], &f.tables[i]
	at := b.start
	var out path
	for season, a := range x.actions {
		n := slices.IndexFunc(b.moves[season][at],
			func(m move) bool { return &t.actions[season][at%len(t.stands)][m.action] == a })
		if n < 0 {
			return nil
		}
		out = append(out, n)
		at = b.moves[season][at][n].next
	}
	return out
}

// paths are parts as moves, for a search to begin at; none where one of their actions is none.
func (f *frame) paths(parts []part) [][]path {
	var list []path
	for i, x := range parts {
		y := f.path(i, x)
		if y == nil {
			return nil
		}
		list = append(list, y)
	}
	if list == nil {
		return nil
	}
	return [][]path{list}
}

// start is the schedule that a search begins at: as last season, where it can be priced.
func (f *frame) start() [][]path { return f.paths(f.last) }

// parts are paths as parts.
func (f *frame) parts(paths []path) []part {
	parts := make([]part, len(paths))
	for i, x := range paths {
		at := f.tables[i].start
		parts[i], _ = f.tables[i].follow(i, 1, len(x), func(season int, _ stand, _ []action) int {
			m := f.problem.blocks[i].moves[season][at][x[season]]
			at = m.next
			return m.action
		})
	}
	return parts
}

// best is the best schedule found, and then the plainest that is near it; brings is what the best one would. What
// plastic is worth in the end hangs on whether the market is full, and on what a section has of the hours and the cash:
// a good schedule tells both. The search begins at schedules that are known; one that is not thorough is no more than
// the relaxation, and proves little.
func (k *maker) best(f *frame, thorough bool, known ...[]path) (brings float64, parts []part, s solution) {
	var prices grid
	if k.limits != nil || !f.free {
		if near := k.near; len(near) > 0 && len(near[0]) == len(f.problem.toll) {
			prices = near
		}
		first := f.problem.within().sketch(prices, known...)
		prices = first.prices
		parts = f.parts(first.paths)
		toll := k.tolls(parts)
		for i := range f.tables {
			most := make([]float64, len(f.short))
			for _, a := range parts[i].actions[max(0, min(k.Seasons/2, k.Seasons-longest)):] {
				for j, u := range uses(a.deed, f.short) {
					most[j] = max(most[j], u)
				}
			}
			f.tables[i].left = k.left(&f.tables[i], toll, func(a *action) bool {
				if f.free {
					return true
				}
				for j, u := range uses(a.deed, f.short) {
					if u > most[j]*(1+tolerance) {
						return false
					}
				}
				return true
			})
			f.problem.blocks[i].left = k.leftOf(f, &f.tables[i])
		}
	}
	if thorough {
		s = f.problem.within().search(work, widest, prices, known...)
	} else {
		s = f.problem.within().sketch(prices, known...)
	}
	parts = f.parts(s.paths)
	return k.money(f, parts), k.plainer(f, parts), s
}

// Near is the part of what the best plan brings over unsanitized that a plainer one may bring less and is then given
// instead; in money a tap and season no more than NearTap, and pennies always (a choice of ours). Going on as last
// season may bring NearTap less than that one.
const (
	Near    = 0.02
	NearTap = 0.05
	pennies = 0.01
)

// Slight is what a plainer plan may bring less than one that brings so much over unsanitized, both in money a tap and
// season.
func Slight(net float64) float64 { return min(NearTap, max(pennies, Near*net)) }

// plainer is the plainest schedule that brings next to as much: all as last season where no other that is plain brings
// NearTap more, one practice everywhere, or section by section one practice in all seasons.
func (k *maker) plainer(f *frame, parts []part) []part {
	plain := k.plainest(f, parts)
	if k.within(f, f.last, k.money(f, plain), NearTap) { // nobody changes for pennies
		return f.last
	}
	return plain
}

// within is true of a schedule that can be followed and brings no less than so much a tap and season below a sum.
func (k *maker) within(f *frame, x []part, sum, less float64) bool {
	return x != nil && f.fits(x) && k.money(f, x) >= sum-k.each(f)*less &&
		!slices.ContainsFunc(x, func(p part) bool { return !k.stands(f, p) })
}

// stands is true of a part all of which is permitted and wanted, and that keeps what its section has.
func (k *maker) stands(f *frame, p part) bool {
	return k.keeps(f, p) && !slices.ContainsFunc(p.actions, func(a *action) bool { return !a.open })
}

// keeps is true of a part that takes its section nowhere below what it did the season before.
func (k *maker) keeps(f *frame, p part) bool {
	t := &f.tables[p.table]
	s := t.start
	for season, a := range p.actions {
		if k.below(f, t, season, s, t.actions[season][s%len(t.stands)], a) != nil {
			return false
		}
		s = k.then(f, t, season, s, a)
	}
	return true
}

// plainest is the plainest that is no less than Slight below the best, whatever was done last season.
func (k *maker) plainest(f *frame, parts []part) []part {
	best := k.money(f, parts)
	each := k.each(f)
	good := func(x []part) bool { return k.within(f, x, best, Slight(best/each)) }
	always := func(key practice.Key) choice {
		return func(_ int, _ stand, actions []action) int { return named(actions, key) }
	}
	var plain []part
	for _, x := range k.Set {
		if x.Ages() {
			continue
		}
		all := k.everywhere(f.tables, 1, k.wanted(x.Key, func(int) choice { return always(x.Key) }))
		if good(all) && (plain == nil || k.money(f, all) > k.money(f, plain)) {
			plain = all
		}
	}
	if plain != nil {
		return plain
	}
	x := k.exchange(f, parts)
	least := best - each*Slight(best/each)
	for i := range parts {
		if f.last != nil && x.swap(i, f.last[i]) >= least { // what is done already is plainest
			x.take(i, f.last[i])
			continue
		}
		for _, p := range k.Set {
			y, ok := f.tables[i].follow(i, 1, k.Seasons, always(p.Key))
			if p.Ages() || !ok {
				continue
			}
			more := x.swap(i, y)
			if less := fuss(y) - fuss(x.parts[i]); more >= least && (less < 0 || less == 0 && more > x.money) {
				x.take(i, y)
			}
		}
	}
	return x.parts
}

// each is what a unit of money a tap and season of the sections planned is in all, discounted: as Plan.PerTap has it.
func (k *maker) each(f *frame) float64 {
	taps := 0.0
	for i := range f.tables {
		taps += float64(f.tables[i].section.Taps)
	}
	return taps * budget.Annuity(k.Prices.Discount.Best, float64(k.Seasons))
}

// exchange is parts of which one at a time is changed, with what they bring, sell and use together.
type exchange struct {
	*maker
	*frame
	parts []part
	money float64
	sums  []sold
	used  grid
}

func (k *maker) exchange(f *frame, parts []part) *exchange {
	return &exchange{k, f, slices.Clone(parts), k.money(f, parts), k.sums(parts), f.used(parts)}
}

// swap is what all bring with another part in a section; −Inf where that is not within hours and cash, or does not
// stand.
func (x *exchange) swap(i int, y part) float64 {
	was := x.parts[i]
	money := x.money + y.weight*x.problem.brings(x.tables, y) - was.weight*x.problem.brings(x.tables, was)
	if !x.stands(x.frame, y) {
		return math.Inf(-1)
	}
	all := make(sold, len(x.plain))
	for t, a := range y.actions {
		then := uses(was.actions[t].deed, x.short)
		for j, u := range uses(a.deed, x.short) {
			if !(x.used[t][j]-was.weight*then[j]+y.weight*u <= x.problem.caps[t][j]*(1+tolerance)) {
				return math.Inf(-1)
			}
		}
		copy(all, x.sums[t])
		all.add(-was.weight, was.actions[t].sold)
		all.add(y.weight, a.sold)
		money -= x.problem.discount[t] * (x.limits.loss(all) - x.limits.loss(x.sums[t]))
	}
	return money
}

// take changes a part.
func (x *exchange) take(i int, y part) {
	x.money = x.swap(i, y)
	add := func(y part, sign float64) {
		for t, a := range y.actions {
			x.sums[t].add(sign*y.weight, a.sold)
			for j, u := range uses(a.deed, x.short) {
				x.used[t][j] += sign * y.weight * u
			}
		}
	}
	add(x.parts[i], -1)
	add(y, 1)
	x.parts[i] = y
}

// fuss is how often a part changes what it does from one season to the next.
func fuss(x part) int {
	n := 0
	for t := 1; t < len(x.actions); t++ {
		if x.actions[t].practice != x.actions[t-1].practice {
			n++
		}
	}
	return n
}

// wanted is a rule in the sections that want its practice; elsewhere as last season, or unsanitized where that cannot
// be.
func (k *maker) wanted(key practice.Key, do func(share int) choice) func(int, *table) choice {
	return func(share int, t *table) choice {
		if !slices.Contains(t.section.Unwanted, key) {
			return do(share)
		}
		last, _ := k.onward(t)
		return func(season int, s stand, actions []action) int {
			if last != nil {
				if i := last(season, s, actions); i >= 0 && actions[i].open {
					return i
				}
			}
			return named(actions, practice.Unsanitized)
		}
	}
}

// everywhere makes parts by one rule in all sections, each in so many equal shares; nothing where that cannot be
// priced.
func (k *maker) everywhere(tables []table, shares int, choose func(share int, t *table) choice) []part {
	var parts []part
	for i := range tables {
		for share := range shares {
			do := choose(share, &tables[i])
			if do == nil {
				return nil
			}
			x, ok := tables[i].follow(i, 1/float64(shares), k.Seasons, do)
			if !ok {
				return nil
			}
			parts = append(parts, x)
		}
	}
	return parts
}

// money is what parts bring over unsanitized, discounted, the limits of the market taken off their sum.
func (k *maker) money(f *frame, parts []part) float64 {
	sum := 0.0
	for _, x := range parts {
		sum += x.weight * f.problem.brings(f.tables, x)
	}
	for t, less := range k.lost(parts) {
		sum -= f.problem.discount[t] * less
	}
	return sum
}

// bound is the most that any schedule brings over unsanitized, by what is proved of a solution.
func (k *maker) bound(f *frame, s solution) float64 {
	bound := s.bound
	for _, v := range f.problem.discount {
		bound += v * k.limits.loss(k.plain)
		for _, c := range f.caps {
			if c.met {
				bound += v * c.toll * c.room
			}
		}
	}
	return bound
}

// used is what parts take of what is short.
func (f *frame) used(parts []part) grid {
	used := f.problem.grid()
	for _, x := range parts {
		for t, a := range x.actions {
			for i, u := range uses(a.deed, f.short) {
				used[t][i] += x.weight * u
			}
		}
	}
	return used
}

// fits is true of parts that stay within hours and cash.
func (f *frame) fits(parts []part) bool {
	for t, row := range f.used(parts) {
		for i := range f.short {
			if row[i] > f.problem.caps[t][i]*(1+tolerance) {
				return false
			}
		}
	}
	return true
}

// lifted is the frame without limits on hours and cash.
func (k *maker) lifted(f *frame) *frame {
	g, p, n := *f, *f.problem, len(f.short)
	g.problem, g.short, g.free = &p, nil, true
	k.blocks(&g)
	p.toll, p.caps = p.toll[n:], make(grid, len(p.caps))
	for t := range p.caps {
		p.caps[t] = f.problem.caps[t][n:]
	}
	return &g
}
