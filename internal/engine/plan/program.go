package plan

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"

	"spile/internal/engine/sure"
)

// move is one thing that a section can do in a season: where its drops stand after it, what it is worth in that season,
// and what it uses of what is short.
type move struct {
	action int // what it stands for; the solver does not read it
	next   int
	worth  float64
	use    []float64 // by resource
}

// block is one section as a decision problem: a state is the age of its drops.
type block struct {
	start int
	moves [][][]move // by season and state; the first of each uses nothing. Seasons that are alike share theirs.
	left  []float64  // by state, what the drops are still worth after the last season
	live  [][]int    // by season, the states that the start can have come to
	terms []*terms   // by season
}

// terms are the moves of a season for walks, which read them over and over: what tells one from another in what it is
// worth and uses stands once, and close together.
type terms struct {
	worth []float64
	use   []float64 // by what is worth that, and resource
	ways  [][]way   // by state
}

// way is where a move leads, and which of the terms are its.
type way struct{ next, at int32 }

// reach fills live and the terms.
func (b *block) reach(seasons int) {
	if b.live != nil {
		return
	}
	b.terms = make([]*terms, seasons)
	var key []byte
	for t := range seasons {
		if t > 0 && &b.moves[t][0] == &b.moves[t-1][0] {
			b.terms[t] = b.terms[t-1]
			continue
		}
		x, at := &terms{ways: make([][]way, len(b.moves[t]))}, map[string]int32{}
		for s, moves := range b.moves[t] {
			x.ways[s] = make([]way, len(moves))
			for i, m := range moves {
				key = binary.LittleEndian.AppendUint64(key[:0], math.Float64bits(m.worth))
				for _, u := range m.use {
					key = binary.LittleEndian.AppendUint64(key, math.Float64bits(u))
				}
				n, have := at[string(key)]
				if !have {
					n = int32(len(x.worth))
					at[string(key)] = n
					x.worth, x.use = append(x.worth, m.worth), append(x.use, m.use...)
				}
				x.ways[s][i] = way{int32(m.next), n}
			}
		}
		b.terms[t] = x
	}
	b.live = [][]int{{b.start}}
	for t := range seasons {
		on := make([]bool, len(b.left))
		for _, s := range b.live[t] {
			for _, w := range b.terms[t].ways[s] {
				on[w.next] = true
			}
		}
		var next []int
		for s, is := range on {
			if is {
				next = append(next, s)
			}
		}
		b.live = append(b.live, next)
	}
}

// program is the sections together: their moves share the caps of each season. Season t counts discount[t]; what is
// left after the last counts discount[len−1] once more over.
type program struct {
	blocks   []block
	discount []float64
	after    float64 // discount of what is left
	caps     grid
	// by resource, what each unit beyond its cap costs in the money of its season: +Inf where a cap is a wall, as hours
	// are; a price where it can be exceeded, as a quota is
	toll []float64
}

// beyond is the money, of the first season, that a use in season t costs besides where so much is free: what lies
// beyond the caps at its toll, less what lay beyond before. more (it may be nil) is used as well. +Inf where a wall is
// met.
func (p *program) beyond(t int, use, more, free []float64) float64 {
	sum := 0.0
	for k, u := range use {
		if more != nil {
			u += more[k]
		}
		if u <= 0 || u <= free[k] { // free may lie a rounding below 0
			continue
		}
		sum += p.discount[t] * p.toll[k] * (u - max(0, free[k]))
	}
	return sum
}

// grid is a number for each season and resource.
type grid [][]float64

func (p *program) grid() grid {
	g := make(grid, len(p.discount))
	for t := range g {
		g[t] = make([]float64, len(p.toll))
	}
	return g
}

// path is the number of a section's move in each season.
type path []int

// solution is a schedule within the caps, and what is proved about the best there is.
type solution struct {
	paths []path
	value float64
	bound float64 // no schedule within the caps is worth more
	// multipliers that prove the bound: what one more unit of a resource in a season would be worth at the most; nil
	// without caps
	prices grid
}

// tolerance is how far, of a cap, a sum may lie above it by rounding alone.
const tolerance = 1e-9

// walk is the best path of one section by backward induction (Bellman 1957): value[t][s] is the most that can still be
// got from season t on in state s. prices are taken off the worth of a move for what it uses (nil: none), and what it
// costs beyond what is free (nil: all may be used). The path is written into out; the value is returned.
func (p *program) walk(b *block, prices, free grid, out path, d *desk) float64 {
	last := len(p.discount)
	for s, x := range b.left {
		d.value[last][s] = p.after * x
	}
	for t := last - 1; t >= 0; t-- {
		v := p.discount[t]
		d.brings, d.priced = d.brings[:0], d.priced[:0]
		if prices != nil {
			for k, x := range prices[t] {
				if x != 0 {
					d.priced = append(d.priced, k)
				}
			}
		}
		x, n := b.terms[t], len(p.toll)
		for i, worth := range x.worth {
			y, use := v*worth, x.use[i*n:(i+1)*n]
			if free != nil {
				y -= p.beyond(t, use, nil, free[t])
			}
			for _, k := range d.priced {
				y -= prices[t][k] * use[k]
			}
			d.brings = append(d.brings, y)
		}
		next := d.value[t+1]
		for _, s := range b.live[t] {
			best, at := math.Inf(-1), -1
			for i, w := range x.ways[s] {
				if y := d.brings[w.at] + next[w.next]; y > best {
					best, at = y, i
				}
			}
			d.value[t][s], d.pick[t][s] = best, at
		}
	}
	s := b.start
	for t := range last {
		out[t] = d.pick[t][s]
		s = int(b.terms[t].ways[s][out[t]].next)
	}
	return d.value[0][b.start]
}

// worth is what a path brings.
func (p *program) worth(b *block, x path) float64 {
	sum, s := 0.0, b.start
	for t, i := range x {
		m := &b.moves[t][s][i]
		sum += p.discount[t] * m.worth
		s = m.next
	}
	return sum + p.after*b.left[s]
}

// charge adds c times what a path uses.
func (b *block) charge(g grid, x path, c float64) {
	s := b.start
	for t, i := range x {
		m := &b.moves[t][s][i]
		for k, u := range m.use {
			g[t][k] += c * u
		}
		s = m.next
	}
}

// desk is the room that walks need.
type desk struct {
	value  [][]float64
	pick   [][]int
	brings []float64 // by terms of a season
	priced []int     // what has a price in it
}

func (p *program) desk() desk {
	states := 0
	for i := range p.blocks {
		states = max(states, len(p.blocks[i].left))
	}
	d := desk{value: make([][]float64, len(p.discount)+1), pick: make([][]int, len(p.discount)+1)}
	for t := range d.value {
		d.value[t], d.pick[t] = make([]float64, states), make([]int, states)
	}
	return d
}

// How long the search goes on. All are counts, so that the same sugarbush gets the same plan on any machine.
const (
	steps   = 400      // of the subgradient
	stall   = 12       // steps without a better bound before the step is halved
	finest  = 1. / 512 // the step at which the bound gets no better that anyone would see
	mends   = 40       // steps between two schedules built from the multipliers
	work    = 1000000  // looks at a section's moves in the search that closes a gap
	widest  = 8000     // joints kept of a season in it
	layered = 20       // sections up to which that search is made: beyond, it closes none
	closed  = 1e-9     // a gap of this part of the bound is none
	close   = 1e-4     // and of this part is not worth annealing
)

// solve finds the schedule that brings most. Without caps each section is solved exactly by itself. With caps the
// bound is that of the Lagrangian relaxation (Fisher 1981, Management Science 27:1–18): prices on what is short,
// each section by itself under them; the prices fall to the least bound by subgradient steps (Polyak 1969; Held,
// Wolfe & Crowder 1974). Schedules within the caps are built from the prices, annealed, and mended section by section.
// A schedule that is known, and within the caps, is where the search begins: what it finds brings no less.
func (p *program) solve(known ...[]path) solution { return p.search(work, widest, nil, known...) }

// sketch is search by the relaxation alone.
func (p *program) sketch(prices grid, known ...[]path) solution {
	return p.search(0, 0, prices, known...)
}

// search is solve with so many looks, and so many joints of a season, in the search that closes a gap; none is made
// without joints. It begins at the prices of a program that differs little; nil: at none.
func (p *program) search(work, widest int, prices grid, known ...[]path) solution {
	d := p.desk()
	s := solution{paths: make([]path, len(p.blocks))}
	for i := range p.blocks {
		p.blocks[i].reach(len(p.discount))
		s.paths[i] = make(path, len(p.discount))
		s.value += p.walk(&p.blocks[i], nil, nil, s.paths[i], &d)
	}
	s.bound = s.value
	if len(p.toll) == 0 {
		return s
	}
	s.prices = p.grid()
	if p.total(s.paths) >= s.value-closed*math.Abs(s.value) {
		return s
	}
	r := p.relaxed(prices, known...)
	switch {
	case widest == 0 && prices != nil: // it need not go far
		r.run(steps / 8)
	case widest == 0:
		r.run(steps / 4)
	default:
		r.run(steps)
		r.anneal(min(chains, max(2, many/len(p.blocks))))
	}
	if widest > 0 && len(p.blocks) <= layered {
		r.layer(work, widest)
	}
	s.paths, s.value, s.bound, s.prices = r.best, r.value, max(r.bound, r.value), r.at
	return s
}

// nearby is the worth of the best schedule found beside known ones, under the prices of a program that differs little.
func (p *program) nearby(prices grid, known ...[]path) float64 {
	for i := range p.blocks {
		p.blocks[i].reach(len(p.discount))
	}
	r := p.relaxed(prices, known...)
	r.run(1)
	r.anneal(1)
	return r.value
}

// relaxed is a search at its beginning: at prices (nil: none), with the best of the schedules that are known.
func (p *program) relaxed(prices grid, known ...[]path) *relaxed {
	r := &relaxed{program: p, desk: p.desk(), prices: p.grid(), bound: math.Inf(1), best: make([]path, len(p.blocks)),
		value: math.Inf(-1)}
	for t := range prices {
		for k, x := range prices[t] { // which another discount, or another toll, may have allowed more
			r.prices[t][k] = min(x, p.discount[t]*p.toll[k])
		}
	}
	for _, x := range known {
		if sum := p.total(x); sum > r.value {
			r.best, r.value = slices.Clone(x), sum
		}
	}
	return r
}

// room is the caps as a schedule may use them: a sum may lie above a wall by rounding alone.
func (p *program) room() grid {
	free := copyGrid(p.caps)
	for t := range free {
		for k := range free[t] {
			if math.IsInf(p.toll[k], 1) {
				free[t][k] *= 1 + tolerance
			}
		}
	}
	return free
}

// total is what paths of all sections bring together, less what lies beyond the caps; −Inf where a wall stands between.
func (p *program) total(paths []path) float64 {
	used, sum := p.grid(), 0.0
	for i, x := range paths {
		sum += p.worth(&p.blocks[i], x)
		p.blocks[i].charge(used, x, 1)
	}
	for t, free := range p.room() {
		sum -= p.beyond(t, used[t], nil, free)
	}
	return sum
}

// own is what a path brings where the others leave so much free, were no cap a wall.
func (p *program) own(b *block, x path, free grid) float64 {
	sum, s := p.worth(b, x), b.start
	for t, i := range x {
		m := &b.moves[t][s][i]
		for k, u := range m.use {
			if u > free[t][k] && !math.IsInf(p.toll[k], 1) {
				sum -= p.discount[t] * p.toll[k] * (u - max(0, free[t][k]))
			}
		}
		s = m.next
	}
	return sum
}

// within is the program with the moves made worthless that use more than a whole cap of any season that is a wall: they
// are in no schedule, and without them the bound is lower.
func (p *program) within() *program {
	most := make([]float64, len(p.toll))
	for k := range most {
		for t := range p.caps {
			most[k] = max(most[k], p.caps[t][k]*(1+tolerance))
		}
	}
	q := *p
	q.blocks = changed(p.blocks, func(m *move) {
		for k, u := range m.use {
			if u > most[k] && math.IsInf(p.toll[k], 1) {
				m.worth = math.Inf(-1)
			}
		}
	})
	return &q
}

// changed are blocks with each move changed; seasons that share their moves still do.
func changed(blocks []block, change func(*move)) []block {
	blocks = slices.Clone(blocks)
	for i := range blocks {
		b := &blocks[i]
		b.live = nil
		was := b.moves
		b.moves = slices.Clone(was)
		for t := range was {
			if t > 0 && &was[t][0] == &was[t-1][0] {
				b.moves[t] = b.moves[t-1]
				continue
			}
			b.moves[t] = slices.Clone(was[t])
			for s := range b.moves[t] {
				b.moves[t][s] = slices.Clone(b.moves[t][s])
				for j := range b.moves[t][s] {
					change(&b.moves[t][s][j])
				}
			}
		}
	}
	return blocks
}

// relaxed is the search under way.
type relaxed struct {
	*program
	desk
	prices grid
	at     grid              // prices of the best bound
	bound  float64           // least found
	best   []path            // schedule within the caps
	value  float64           // its worth
	seen   []map[string]path // by section, paths that were best under some prices
	key    []byte
}

func copyGrid(g grid) grid {
	c := make(grid, len(g))
	for t := range g {
		c[t] = slices.Clone(g[t])
	}
	return c
}

// run moves the prices. A cap counts in parts of itself, so that hours and dollars move alike.
func (r *relaxed) run(steps int) {
	used, paths, worth := r.grid(), make([]path, len(r.blocks)), make([]float64, len(r.blocks))
	for i := range paths {
		paths[i] = make(path, len(r.discount))
	}
	r.at = copyGrid(r.prices)
	r.build(r.prices)
	size, since := 1.0, 0
	for step := range steps {
		for t := range used {
			clear(used[t])
		}
		sure.OnCores(len(r.blocks), 8, func() func(from, to int) {
			d := r.program.desk()
			return func(from, to int) {
				for i := from; i < to; i++ {
					worth[i] = r.walk(&r.blocks[i], r.prices, nil, paths[i], &d)
				}
			}
		})
		bound := 0.0
		for i := range r.blocks {
			bound += worth[i]
			r.see(i, paths[i])
			r.blocks[i].charge(used, paths[i], 1)
		}
		norm := 0.0
		for t := range used {
			for k, cap := range r.caps[t] {
				bound += r.prices[t][k] * cap
				used[t][k] = (used[t][k] - cap) / r.scale(t, k)
				if used[t][k] < 0 && r.prices[t][k] == 0 ||
					used[t][k] > 0 && r.prices[t][k] == r.discount[t]*r.toll[k] {
					used[t][k] = 0
				}
				norm += used[t][k] * used[t][k]
			}
		}
		if math.IsInf(r.bound, 1) || bound < r.bound-closed*math.Abs(r.bound) {
			r.bound, since = bound, 0
			for t := range r.prices {
				copy(r.at[t], r.prices[t])
			}
		} else if since++; since == stall {
			if size, since = size/2, 0; size < finest {
				break
			}
			for t := range r.prices {
				copy(r.prices[t], r.at[t])
			}
			continue
		}
		if step%mends == mends-1 {
			r.build(r.prices)
		}
		if norm < closed*closed || r.bound-r.value <= closed*math.Abs(r.bound) {
			break
		}
		length := size * (bound - r.value) / norm
		for t := range r.prices {
			for k := range r.prices[t] {
				r.prices[t][k] = min(max(0, r.prices[t][k]+length*used[t][k]/r.scale(t, k)), r.discount[t]*r.toll[k])
			}
		}
	}
	r.build(r.at)
}

// scale is what a use counts in parts of: the cap, where it is more than next to nothing.
func (r *relaxed) scale(t, k int) float64 {
	if r.caps[t][k] > 1e-6 {
		return r.caps[t][k]
	}
	return 1
}

// build makes a schedule within the caps: the sections in order of what they gain under the prices, each its best path
// with what the ones before it left; then it is mended.
func (r *relaxed) build(prices grid) {
	free := r.room()
	type first struct {
		block int
		worth float64
	}
	order := make([]first, len(r.blocks))
	scratch := make(path, len(r.discount))
	for i := range r.blocks {
		order[i] = first{i, r.walk(&r.blocks[i], prices, nil, scratch, &r.desk)}
	}
	slices.SortStableFunc(order, func(a, b first) int { return cmp.Compare(b.worth, a.worth) })
	paths := make([]path, len(r.blocks))
	for _, o := range order {
		b := &r.blocks[o.block]
		paths[o.block] = make(path, len(r.discount))
		r.walk(b, prices, free, paths[o.block], &r.desk)
		b.charge(free, paths[o.block], -1)
	}
	r.mend(paths, free, 20)
}

// mend lets each section in turn, or each of those named, take its best path with what the others leave, until none
// gains; then it is kept if it is the best so far.
func (r *relaxed) mend(paths []path, free grid, most int, these ...int) {
	if these == nil {
		for i := range r.blocks {
			these = append(these, i)
		}
	}
	scratch := make(path, len(r.discount))
	for better, rounds := true, 0; better && rounds < most; rounds++ {
		better = false
		for _, i := range these {
			b := &r.blocks[i]
			b.charge(free, paths[i], 1)
			now := r.own(b, paths[i], free)
			if x := r.walk(b, nil, free, scratch, &r.desk); x > now+closed*math.Abs(now) {
				better = true
				copy(paths[i], scratch)
			}
			b.charge(free, paths[i], -1)
		}
	}
	if sum := r.total(paths); sum > r.value {
		r.value = sum
		for i := range paths {
			r.best[i] = slices.Clone(paths[i])
		}
	}
}

// layer goes through the seasons with all that the sections together may have come to: where their drops stand, and the
// most that was brought until then (dynamic programming over the joint stands). What cannot come to more than the best
// schedule even at the bound's prices is left out (Morin & Marsten 1976, Operations Research 24:611–627). Where all of
// it fits the room and the work allowed, the best schedule is proved the best there is; else what was left out by force
// bounds it.
func (r *relaxed) layer(work, widest int) {
	if r.bound-r.value <= closed*math.Abs(r.bound) {
		return
	}
	n, room := len(r.blocks), r.room()
	l := layering{relaxed: r, tables: make([]desk, n), rooms: room, rest: make([]float64, len(r.discount)+1),
		free:   make([]float64, len(r.toll)),
		states: make([]int, n), picks: make([]int, n), work: work, widest: widest, lost: math.Inf(-1)}
	scratch := make(path, len(r.discount))
	for i := range r.blocks { // what each section can still get under the prices
		l.tables[i] = r.program.desk()
		r.walk(&r.blocks[i], r.at, nil, scratch, &l.tables[i])
	}
	for t := len(r.discount) - 1; t >= 0; t-- {
		l.rest[t] = l.rest[t+1]
		for k, cap := range room[t] {
			l.rest[t] += r.at[t][k] * cap
		}
	}
	start := joint{states: make([]int, n), parent: -1}
	for i := range r.blocks {
		start.states[i] = r.blocks[i].start
	}
	start.top = l.top(0, &start)
	layers := [][]joint{{start}}
	for t := range r.discount {
		layers = append(layers, l.season(t, layers[t]))
	}
	for i := range layers[len(layers)-1] {
		x := &layers[len(layers)-1][i]
		sum := x.worth
		for j, s := range x.states {
			sum += r.after * r.blocks[j].left[s]
		}
		if sum <= r.value {
			continue
		}
		paths := make([]path, n)
		for j := range paths {
			paths[j] = make(path, len(r.discount))
		}
		for t, at := len(layers)-1, x; t > 0; t-- {
			for j, m := range at.moves {
				paths[j][t-1] = m
			}
			at = &layers[t-1][at.parent]
		}
		if sum = r.total(paths); sum > r.value {
			r.value, r.best = sum, paths
		}
	}
	r.bound = min(r.bound, max(r.value, l.lost))
}

// joint is where all sections stand before a season, the most that was brought until then, and how it came to that.
type joint struct {
	states []int
	worth  float64
	top    float64 // the most that can come of it
	parent int     // in the layer before
	moves  []int   // of the season before, by section
}

// option is a move, and how much lower the bound is with it than with the best.
type option struct {
	at   int
	loss float64
}

type layering struct {
	*relaxed
	tables []desk
	rooms  grid
	rest   []float64 // what the caps from a season on are worth at the prices
	work   int       // looks at a move that are left
	widest int       // joints kept of a season
	lost   float64   // the most that could have come of what was left out by force

	options       [][][]option // of the season under way, by section and state, those that lose least first
	states, picks []int        // of the sections after the season under way
	free          []float64
	from          int // joint that it goes on from
	next          []joint
	index         map[string]int // of next, by its states
	key           []byte
}

// top is the most that can come of a joint.
func (l *layering) top(t int, x *joint) float64 {
	sum := x.worth + l.rest[t]
	for i, s := range x.states {
		sum += l.tables[i].value[t][s]
	}
	return sum
}

// season gives the layer after a season: of joints that stand alike the best.
func (l *layering) season(t int, layer []joint) []joint {
	l.next, l.index = nil, map[string]int{}
	l.options = make([][][]option, len(l.blocks))
	for i := range l.blocks {
		b := &l.blocks[i]
		l.options[i] = l.relaxed.options(t, b, l.tables[i].value)
	}
	for i := range layer {
		x := &layer[i]
		top := x.top
		if l.work <= 0 {
			l.lost = max(l.lost, top)
			continue
		}
		copy(l.free, l.rooms[t])
		l.from = i
		l.place(t, 0, x, x.worth, top)
	}
	for i := range l.next {
		l.next[i].top = l.top(t+1, &l.next[i])
	}
	slices.SortStableFunc(l.next, func(a, b joint) int { return cmp.Compare(b.top, a.top) })
	if len(l.next) > l.widest {
		l.lost = max(l.lost, l.next[l.widest].top)
		l.next = l.next[:l.widest]
	}
	return l.next
}

// place tries the moves of section i and of all after it; top bounds what can come of what was placed so far.
func (l *layering) place(t, i int, x *joint, worth, top float64) {
	if i == len(l.blocks) {
		l.key = l.key[:0]
		for _, s := range l.states {
			l.key = append(l.key, byte(s), byte(s>>8), byte(s>>16))
		}
		at, have := l.index[string(l.key)]
		switch {
		case !have:
			l.index[string(l.key)] = len(l.next)
			l.next = append(l.next, joint{states: slices.Clone(l.states), worth: worth, parent: l.from,
				moves: slices.Clone(l.picks)})
		case worth > l.next[at].worth:
			l.next[at].worth, l.next[at].parent = worth, l.from
			copy(l.next[at].moves, l.picks)
		}
		return
	}
	if l.work--; l.work < 0 {
		l.lost = max(l.lost, top)
		return
	}
	moves := l.blocks[i].moves[t][x.states[i]]
next:
	for _, o := range l.options[i][x.states[i]] {
		below := top - o.loss
		if below <= l.value+closed*math.Abs(l.value) {
			break // nor can any after it
		}
		m := &moves[o.at]
		for k, u := range m.use {
			if u > 0 && u > l.free[k] && math.IsInf(l.toll[k], 1) {
				continue next
			}
		}
		for k, u := range m.use {
			l.free[k] -= u
		}
		sum := worth + l.discount[t]*m.worth
		if i == len(l.blocks)-1 { // what the season leaves unused lowers the bound, and what lies beyond is paid
			for k, free := range l.free {
				below -= l.at[t][k] * free
				if free < 0 {
					paid := l.discount[t] * l.toll[k] * -free
					below, sum = below-paid, sum-paid
				}
			}
		}
		if below > l.value+closed*math.Abs(l.value) {
			l.picks[i], l.states[i] = o.at, m.next
			l.place(t, i+1, x, sum, below)
		}
		for k, u := range m.use {
			l.free[k] += u
		}
	}
}
