package plan

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/engine/year"
	"spile/internal/trade/practice"
)

// draws is how many of the states have their seasons drawn, for ranges and chances.
const draws = 1000

// fate is a state of the world as a sugarbush meets it, season by season. The site draws u ~ N(0, σ²_u) once for all
// seasons, and what each practice is like there, w ~ N(−σ²_w/4, σ²_w/2). A season draws v ~ N(0, σ²_v), and in it each
// treatment, the reference too, e ~ N(−τ²/4, τ²/2), so that seasons and the long run have the same mean. All variances
// are those of the state. How good a year it is, is drawn once a season for all.
type fate struct {
	*maker
	state   int
	place   []int        // of each treatment that has noise, whichever section does it, its practice
	factors [][]float64  // by season and treatment: e^(u + v + w + e)
	good    [][3]float64 // by season
	apart   []float64    // by table, of one a little outside what was studied
	// by kind and season
	first, added [][]budget.Litre
}

// meet draws the seasons of a state.
func (x *fate) meet(state int, tables []table, random, years *rand.Rand) {
	x.state = state
	w := x.world
	s := w.Spread[state]
	u := math.Sqrt(s.Site) * random.NormFloat64()
	for i := range x.apart {
		if x.apart[i] = 1; x.Scope.off(tables[i].section) > 0 {
			v := s.Study + s.Practice
			x.apart[i] = math.Exp(math.Sqrt(v)*random.NormFloat64() - v/2)
		}
	}
	there := make([]float64, len(x.place)+1)
	for j := range there {
		there[j] = math.Sqrt(s.Practice/2)*random.NormFloat64() - s.Practice/4
	}
	for t := range x.factors {
		v := math.Sqrt(s.Season)*random.NormFloat64() + u
		for j := range x.factors[t] {
			y := there[x.place[j]] + math.Sqrt(s.Study/2)*random.NormFloat64() - s.Study/4
			if j > 0 { // what is sanitized
				y += v - s.LongRun()
			}
			x.factors[t][j] = math.Exp(y)
		}
		x.good[t] = x.Year.Draw([...]float64{years.NormFloat64(), years.NormFloat64(), years.NormFloat64()})
	}
	w.enter(state, nil)
	for i, k := range w.kinds {
		usual := k.ledger(w.ledger)
		for t, f := range x.good {
			l := usual.In(f[year.Sugar], f[year.Price])
			x.first[i][t], x.added[i][t] = l.Litres()
		}
	}
}

// brings is what an action brings over unsanitized in a season, before limits, and what it sells; a nil action is
// unsanitized, and brings all that its sap does.
func (x *fate) brings(i int, t *table, a *action, season int) (money float64, sells [goods]float64) {
	w, d := x.world, x.state
	taps := float64(t.section.Taps)
	ref := x.factors[season][0]
	y := w.yield[d]
	if t.section.YieldL != nil {
		y = *t.section.YieldL
	}
	y *= t.per[d] * x.good[season][year.Yield]
	none, sap := y*ref, y*ref
	if a != nil {
		if a.noise > 0 { // else what is done counts only next spring
			sap = y * (1 + w.adjust[d]*(w.ratios[a.row].in(d)*x.apart[i]*x.factors[season][a.noise]-1))
		}
		if a.lost >= 0 {
			sap -= w.lost[a.lost][d]
		}
	}
	l, m := &x.first[t.kind.number][season], &x.added[t.kind.number][season]
	first := min(sap, none)
	if money = taps * (l.Margin*first + m.Margin*(sap-first)); a != nil {
		money -= taps*(l.Margin*none+w.fixed[a.fixed][d]) + a.travel*w.wage[d] + a.ahead
	}
	return money, [goods]float64{taps * (l.Worth*first + m.Worth*(sap-first)),
		taps * (l.Boiled*first + m.Boiled*(sap-first))}
}

// loss is what the limits take off a season in a state.
func (w *world) loss(state int, x [goods]float64) float64 {
	sum := 0.
	if w.ends != nil {
		for _, l := range w.ends[state] {
			sum += l.toll * max(0, x[l.of]-l.room)
		}
	}
	return sum
}

// outlook fills the intervals and chances, over the first of the states that the plan is expected over. Every section,
// and what it is compared with, shares them.
func (p *Plan) outlook(k *maker, f *frame, parts, last []part) {
	tables, problem, w := f.tables, f.problem, k.world
	if len(parts) == 0 {
		return
	}
	n := min(draws, w.n)
	x := &fate{maker: k, place: []int{0},
		factors: make([][]float64, k.Seasons), good: make([][3]float64, k.Seasons), apart: make([]float64, len(tables)),
		first: make([][]budget.Litre, len(w.kinds)), added: make([][]budget.Litre, len(w.kinds))}
	for i := range w.kinds {
		x.first[i], x.added[i] = make([]budget.Litre, k.Seasons), make([]budget.Litre, k.Seasons)
	}
	places, noises := map[practice.Key]int{}, map[practice.Treatment]int{{Practice: practice.Unsanitized}: 0}
	for _, y := range slices.Concat(parts, last) {
		for _, a := range y.actions {
			key := a.treatment.Practice
			if _, have := places[key]; !have {
				places[key] = len(places) + 1
			}
			if _, have := noises[a.treatment]; !have {
				noises[a.treatment] = len(x.place)
				x.place = append(x.place, places[key])
			}
			a.noise = noises[a.treatment]
		}
	}
	for t := range x.factors {
		x.factors[t] = make([]float64, len(x.place))
	}
	random, years := rand.New(rand.NewPCG(k.Seed, 2)), rand.New(rand.NewPCG(k.Seed, 4))
	all, over := make([]float64, n), make([]float64, n)
	each := make([][]float64, len(parts))
	for i := range each {
		each[i] = make([]float64, n)
	}
	var single [2][]float64 // of each state and season, what all brings and what of it is over last season
	plain := newSales(len(tables), k.Seasons)
	mine, theirs := newSales(len(parts), k.Seasons), newSales(len(last), k.Seasons)
	for d := range n {
		x.meet(d, tables, random, years)
		brings, more, then := make([]float64, k.Seasons), make([]float64, k.Seasons), make([]float64, k.Seasons)
		for i := range tables {
			for s := range brings {
				money, sold := x.brings(i, &tables[i], nil, s)
				brings[s] += money
				plain[i][s] = sold
			}
		}
		for i, y := range parts {
			each[i][d] = problem.after * tables[i].left[y.ends]
			all[d] += each[i][d]
			for s, a := range y.actions {
				money, sold := x.brings(i, &tables[i], a, s)
				each[i][d] += problem.discount[s] * money
				more[s] += money
				mine[i][s] = sold
			}
		}
		over[d] = all[d]
		for i, y := range last {
			over[d] -= problem.after * tables[i].left[y.ends]
			for s, a := range y.actions {
				money, sold := x.brings(i, &tables[i], a, s)
				then[s] += money
				theirs[i][s] = sold
			}
		}
		for s, v := range problem.discount {
			if w.ends != nil {
				bare, with := plain.season(s), mine.season(s)
				was := w.loss(d, bare)
				lost := w.loss(d, with) - was
				base, whole := weigh(w.ends[d], bare), weigh(w.ends[d], with)
				for i := range parts {
					own := weigh(w.ends[d], mine[i][s]) - weigh(w.ends[d], plain[i][s])
					each[i][d] -= v * share(lost, own, whole-base)
				}
				brings[s], more[s] = brings[s]-was, more[s]-lost
				if last != nil {
					then[s] -= w.loss(d, theirs.season(s)) - was
				}
			}
			all[d] += v * more[s]
			over[d] += v * (more[s] - then[s])
			single[0] = append(single[0], brings[s]+more[s])
			single[1] = append(single[1], more[s]-then[s])
		}
	}
	w.enter(-1, nil)
	p.Single = Single{tenths(single[0]), tenths(single[1])}
	best := k.bestGuess(f, parts, last)
	now, lostNow, lostThen := k.sums(parts), k.lost(parts), k.lost(last)
	then, full := k.sums(last), k.limits.full(len(k.plain))
	for i := range p.Sections {
		y := &p.Sections[i]
		expected := problem.after * tables[i].left[parts[i].ends]
		for s, step := range y.Steps {
			expected += problem.discount[s] * step.Net
		}
		y.Profit, y.OverLast = p.profit(expected, best[0][i], each[i]), expected
		if last == nil {
			continue
		}
		y.AsLast = slices.Equal(last[i].actions, parts[i].actions)
		y.OverLast = problem.brings(tables, parts[i]) - problem.brings(tables, last[i])
		for s, a := range last[i].actions {
			y.OverLast -= problem.discount[s] * share(lostNow[s]-lostThen[s],
				parts[i].actions[s].sold.times(full)-a.sold.times(full), now[s].times(full)-then[s].times(full))
		}
	}
	p.Profit = p.profit(p.Profit.Expected, total(best[0]), all)
	if last != nil {
		o := p.profit(p.Rules[0].Short, total(best[0])-total(best[1]), over)
		p.OverLast = &o
	}
}

func total(list []float64) (sum float64) {
	for _, x := range list {
		sum += x
	}
	return sum
}

// sales is what each section sells in each season of a state.
type sales [][][goods]float64

func newSales(sections, seasons int) sales {
	list := make(sales, sections)
	for i := range list {
		list[i] = make([][goods]float64, seasons)
	}
	return list
}

// season is what all sell in one.
func (x sales) season(s int) (sum [goods]float64) {
	for i := range x {
		for j, u := range x[i][s] {
			sum[j] += u
		}
	}
	return sum
}

// tenths is what one in ten lies below, half do, and one in ten lies above.
func tenths(drawn []float64) [3]float64 {
	slices.Sort(drawn)
	at := func(p float64) float64 { return stat.Quantile(p, stat.LinInterp, drawn, nil) }
	return [3]float64{at(.1), at(.5), at(.9)}
}

// profit is a sum of money with the interval and the chance of a loss of its draws.
func (p *Plan) profit(expected, best float64, drawn []float64) Profit {
	r := Profit{Expected: expected, Best: best}
	scale := 0.0
	for _, x := range drawn {
		scale = max(scale, math.Abs(x))
	}
	for _, x := range drawn {
		if x < -1e-9*(scale+math.Abs(p.Profit.Expected)) { // what is equal but for rounding is no loss
			r.Loss += 1 / float64(len(drawn))
		}
	}
	r.Low, r.High = pool.Middle(drawn)
	return r
}
