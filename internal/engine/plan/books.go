package plan

import (
	"math/rand/v2"

	"spile/internal/engine/budget"
	"spile/internal/engine/sure"
	"spile/internal/engine/year"
	"spile/internal/trade/price"
)

// books are the prices of a section as they are drawn, with the plans of what is done there.
type books struct {
	ledger *budget.Ledger
	unsure []unsure
	plans  []budget.Plan
	places map[*action]int
	in     []budget.Ledger // by season
}

// unsure is a number with a low and a high.
type unsure struct {
	key   string
	at    *price.Value
	best  float64
	shape func(z float64) float64
}

// openBooks finds what is unsure of a section's prices. The rate at which money is discounted stands, since it weighs
// the seasons of all plans alike.
func openBooks(t *table) *books {
	b := &books{ledger: t.ledger, places: map[*action]int{}}
	for _, s := range t.prices.Tried() {
		v := s.Value()
		if v == nil || v.Low == nil && v.High == nil || s.Key == "discount" {
			continue
		}
		d := sure.Dist{Kind: sure.Likely, Low: v.Best, Best: v.Best, High: v.Best}
		if v.Low != nil {
			d.Low = *v.Low
		}
		if v.High != nil {
			d.High = *v.High
		}
		b.unsure = append(b.unsure, unsure{s.Key, v, v.Best, d.Shape()})
	}
	return b
}

// take makes a plan of an action one that is drawn.
func (b *books) take(a *action) {
	if _, have := b.places[a]; !have {
		b.places[a] = len(b.plans)
		b.plans = append(b.plans, a.plan)
	}
}

// of is the plan of an action as drawn.
func (b *books) of(a *action) *budget.Plan { return &b.plans[b.places[a]] }

// draw draws what is unsure, by normals that sections share, and opens a ledger for each season.
func (b *books) draw(normals map[string]float64, random *rand.Rand, good [][3]float64) {
	for _, u := range b.unsure {
		z, have := normals[u.key]
		if !have {
			z = random.NormFloat64()
			normals[u.key] = z
		}
		u.at.Best = u.shape(z)
	}
	b.ledger.Reprice(b.plans)
	b.in = b.in[:0]
	for _, f := range good {
		b.in = append(b.in, b.ledger.In(f[year.Sugar], f[year.Price]))
	}
}

// put puts the best guesses of other prices in the place of these, number by number.
func (b *books) put(t *table, p *price.Prices) {
	others := p.Slots()
	for i, s := range t.prices.Slots() {
		if v := others[i].Value(); v != nil {
			s.Value().Best = v.Best
		}
	}
	b.ledger.Reprice(b.plans)
}

// inState works the plan out in a state of the world. What is as last season is worked out there too.
func (k *maker) inState(s State, f *frame, opened []*books, parts, last []part) InState {
	y0 := make([]float64, len(f.tables))
	plain := make([]sold, 1)
	for i := range f.tables {
		t := &f.tables[i]
		opened[i].close()
		was := t.prices.Clone()
		opened[i].put(t, s.Of(was))
		defer opened[i].put(t, was)
		y0[i] = t.ledger.Unsanitized(t.gain)
		plain[0].add(1, made(t.ledger, &t.none, y0[i], 0, float64(t.section.Taps)))
	}
	brings := func(parts []part) float64 {
		sum := 0.
		all := make([]sold, k.Seasons)
		for _, x := range parts {
			t, b := &f.tables[x.table], opened[x.table]
			sum += x.weight * f.problem.after * t.left[x.ends]
			for season, a := range x.actions {
				gain, plan := a.gain/100, b.of(a)
				net := float64(t.section.Taps)*(t.ledger.Margin(plan, y0[x.table], []float64{gain})-
					t.ledger.Margin(&t.none, y0[x.table], []float64{0})) - a.travel*t.prices.Wage.Best - a.ahead
				sum += x.weight * f.problem.discount[season] * net
				all[season].add(x.weight, made(t.ledger, plan, y0[x.table], gain, float64(t.section.Taps)))
			}
		}
		for season, v := range f.problem.discount {
			sum -= v * (k.limits.loss(all[season]) - k.limits.loss(plain[0]))
		}
		return sum
	}
	x := InState{State: s, Profit: brings(parts)}
	if last != nil {
		x.OverLast = new(x.Profit - brings(last))
	}
	return x
}

// close puts the best guesses back.
func (b *books) close() {
	for _, u := range b.unsure {
		u.at.Best = u.best
	}
	b.ledger.Reprice(nil)
}
