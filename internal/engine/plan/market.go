package plan

import (
	"math"

	"spile/internal/engine/budget"
	"spile/internal/trade/price"
)

// market is what limits all sections together: a quota, beyond which bulk syrup brings less or later, and what can be
// boiled, beyond which sap brings nothing. Both bind the sum of the sections, season by season: one may use what
// another leaves. What they take off is convex in the sum, so that each is a cap with a toll.
type market struct {
	room [2]float64 // of a season, for the sections planned: kilograms as Made.Worth counts them, and litres
	toll [2]float64 // money for each beyond; 0 where there is no limit
}

// sold is what counts against the limits of a market, in a season and the whole section.
type sold [2]float64

func (x *sold) add(weight float64, y sold) {
	for i, u := range y {
		x[i] += weight * u
	}
}

func made(l *budget.Ledger, pl *budget.Plan, y0, gain, taps float64) sold {
	x := l.Made(pl, y0, gain)
	return sold{taps * x.Worth, taps * x.Litres}
}

// loss is the money that the limits take off a season.
func (m *market) loss(x sold) float64 {
	sum := 0.0
	for i, room := range m.room {
		if m.toll[i] > 0 {
			sum += m.toll[i] * max(0, x[i]-room)
		}
	}
	return sum
}

// margin is what one more of each costs where so much is sold.
func (m *market) margin(x sold) (toll [2]float64) {
	for i, room := range m.room {
		if x[i] > room {
			toll[i] = m.toll[i]
		}
	}
	return toll
}

// free are prices without the limits of a market.
func free(p *price.Prices) *price.Prices {
	q := *p
	q.Sells.Quota, q.Sells.CapacityL = nil, nil
	return &q
}

// market reads the limits from the prices, which state them a tap. usual is the worth of the syrup that every section
// makes of the sap of unsanitized taps, kilograms; taken is what sections without a table make.
func (k *maker) market(sections []table, usual float64, taken sold) market {
	s := k.Prices.Sells
	taps, kg, litre, perLitre := 0.0, 0.0, 0.0, 0.0
	for i := range sections {
		n := float64(sections[i].section.Taps)
		l := budget.Of(k.PricesOf(sections[i].section, k.Set))
		a, b, c := l.Beyond()
		taps, kg, litre, perLitre = taps+n, kg+n*a, litre+n*b, perLitre+n*c
	}
	if taps == 0 {
		return market{}
	}
	kg, litre, perLitre = kg/taps, litre/taps, perLitre/taps
	all := 0.0
	for _, x := range k.Sections {
		all += float64(x.Taps)
	}
	var m market
	if q := s.Quota; q != nil {
		quota := all * q.SyrupKg.Best
		if s.CapacityL == nil || all*s.CapacityL.Best*perLitre > quota { // else it is never reached
			if quota > usual && s.GainPrice != nil { // what is added counts at its price
				quota = usual + s.GainPrice.Best*(quota-usual)
			}
			m.room[0], m.toll[0] = max(0, quota-taken[0]), kg
		}
	}
	if s.CapacityL != nil {
		m.room[1] = max(0, all*s.CapacityL.Best-taken[1])
		m.toll[1] = max(0, litre-m.toll[0]*perLitre)
	}
	return m
}

// seasons sums what parts sell, season by season.
func seasons(parts []part, n int) []sold {
	list := make([]sold, n)
	for _, x := range parts {
		for t, a := range x.actions {
			list[t].add(x.weight, a.sold)
		}
	}
	return list
}

// lost is what the limits take off parts more than off unsanitized, season by season.
func (k *maker) lost(parts []part) []float64 {
	list := make([]float64, k.Seasons)
	for t, x := range seasons(parts, k.Seasons) {
		list[t] = k.limits.loss(x) - k.limits.loss(k.plain)
	}
	return list
}

// more is what one sells more than another.
func more(x, than sold) sold { return sold{x[0] - than[0], x[1] - than[1]} }

// share is the part of what the limits take off a season that falls to one section: by what it adds to what is sold.
func share(lost float64, mine, all sold) float64 {
	for i := range all {
		if lost != 0 && math.Abs(all[i]) > tolerance*math.Abs(mine[i]) {
			return lost * mine[i] / all[i]
		}
	}
	return 0
}
