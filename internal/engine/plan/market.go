package plan

import (
	"cmp"
	"math"

	"spile/internal/engine/budget"
	"spile/internal/trade/price"
)

// market is what limits all sections together: a quota, beyond which bulk syrup brings less or later, and what can be
// boiled, in a season or a day, beyond which sap brings nothing. All bind the sum of the sections, season by season:
// one may use what another leaves. What they take off is convex in the sum, so that each is a cap with a toll.
type market []limit

// limit is a cap of a season for the sections planned.
type limit struct {
	of    int     // what of sold it binds
	room  float64 // of it
	toll  float64 // money for each beyond; 0 where there is no limit
	gross float64 // of the toll what goes with the prices of what is sold
}

// sold is what counts against the limits of a market, in a season and the whole section: kilograms as Made.Worth counts
// them, and litres boiled. Where it is expected it is so in each part of the states of the world: the kilograms of all
// parts, then the litres.
type sold []float64

// What is sold in one state of the world.
const (
	kilograms = iota
	litres
	goods
)

func (x sold) add(weight float64, y sold) {
	for i := range x {
		x[i] += weight * y[i]
	}
}

// loss is the money that the limits take off a season.
func (m market) loss(x sold) float64 {
	sum := 0.0
	for _, l := range m {
		sum += l.toll * max(0, x[l.of]-l.room)
	}
	return sum
}

// tolls is what one more of each costs where so much is sold.
func (m market) tolls(x sold) sold {
	t := make(sold, len(x))
	for _, l := range m {
		if x[l.of] > l.room {
			t[l.of] += l.toll
		}
	}
	return t
}

// full is what one more of each costs where the market is full.
func (m market) full(n int) sold {
	t := make(sold, n)
	for _, l := range m {
		t[l.of] += l.toll
	}
	return t
}

// times is what is sold at so much for each.
func (x sold) times(toll sold) float64 {
	sum := 0.0
	for i, u := range toll {
		sum += u * x[i]
	}
	return sum
}

// free are prices without the limits of a market.
func free(p *price.Prices) *price.Prices {
	q := *p
	q.Sells.Quota, q.Sells.CapacityL, q.Sells.Peak = nil, nil, nil
	return &q
}

// The limits of a state of the world, each in its place.
const (
	byQuota = iota
	byDay
	bySeason
	bends
)

// limits are those of a state of the world. taps are those of all sections, plain what all would sell unsanitized, and
// taken what sections without a table sell. They are stated a tap. The first that is met, in litres of the mean
// section, takes its all; another after it takes of what that leaves: beyond a quota a litre not boiled loses less, and
// of sap that cannot all be boiled on its heaviest days less counts against a quota.
func limits(s *price.Sells, taps float64, b budget.Beyond, plain, taken [goods]float64) (out [bends]limit) {
	inf := math.Inf(1)
	most, heavy, capacity := inf, 0., inf
	if s.CapacityL != nil {
		capacity = taps * s.CapacityL.Best
	}
	if k := s.Peak; k != nil {
		if heavy = cmp.Or(k.Share, &price.PeakShare).Best; heavy > 0 {
			most = taps * k.FlowL.Best * cmp.Or(k.Days, &price.PeakDays).Best / heavy
		}
	}
	if heavy == 1 || capacity <= most {
		capacity, most, heavy = min(capacity, most), inf, 0
	}
	part := func(at float64) float64 { // of a litre more that is boiled where so many run
		if at > most {
			return 1 - heavy
		}
		return 1
	}
	boiled := func(runs float64) float64 { return runs - heavy*max(0, runs-most) }
	runs := func(boiled float64) float64 {
		if boiled > most {
			return most + (boiled-most)/(1-heavy)
		}
		return boiled
	}
	brimming, full := runs(capacity), inf // litres that run where each limit is met
	if s.Quota != nil && plain[litres] > 0 {
		each := plain[kilograms] / plain[litres]
		kg := taps*s.Quota.SyrupKg.Best - each*boiled(plain[litres])
		switch {
		case kg <= 0:
			full = runs((kg/each + boiled(plain[litres])))
		case b.Worth > 0: // what is added counts at its price
			if s.GainPrice != nil {
				kg *= s.GainPrice.Best
			}
			full = runs(boiled(plain[litres]) + kg/b.Worth)
		}
		worth := each * min(full, plain[litres])
		if full > plain[litres] {
			worth += b.Worth * (full - plain[litres])
		}
		if full < brimming {
			out[byQuota] = limit{of: kilograms, room: max(0, worth-taken[kilograms]), toll: part(full) * b.Kg,
				gross: part(full) * b.GrossKg}
		}
	}
	litre := func(at, part float64) limit {
		x := limit{of: litres, room: max(0, at-taken[litres]), toll: part * b.Litre, gross: part * b.GrossLitre}
		if full <= at {
			x.toll, x.gross = max(0, x.toll-part*b.Kg*b.Worth), x.gross-part*b.GrossKg*b.Worth
		}
		return x
	}
	if most < inf {
		out[byDay] = litre(most, heavy)
	}
	if capacity < inf {
		out[bySeason] = litre(brimming, part(brimming))
	}
	return out
}

// cap is limits of several parts of the states taken together, of which a search has a resource: what is sold is the
// mean of the parts. As what lies beyond costs more the more there is, that makes no schedule less than it is, and what
// is proved stands.
type cap struct {
	of         []int
	room, toll float64
	met        bool // by every schedule: then its toll goes with what is sold, and it is no resource
}

// uses is what is sold of it.
func (c *cap) uses(x sold) float64 {
	sum := 0.
	for _, i := range c.of {
		sum += x[i] / float64(len(c.of))
	}
	return sum
}

// rows and columns are how many parts are taken together along each of the two ways that the states are divided.
const rows, columns = 4, 2

// caps are those that some schedules of the tables meet, or all.
func (m market) caps(tables []table) (out []cap) {
	at := map[[3]int]int{}
	var all []cap
	for i, l := range m {
		part := l.of % bins
		key := [3]int{l.of / bins, part / across / rows, part % across / columns}
		if i > 0 && l.of < m[i-1].of { // another limit of the same
			clear(at)
		}
		n, have := at[key]
		if !have {
			n = len(all)
			at[key] = n
			all = append(all, cap{})
		}
		c := &all[n]
		c.of, c.room, c.toll = append(c.of, l.of), c.room+l.room, c.toll+l.toll
	}
	for _, c := range all {
		c.room /= float64(len(c.of))
		least, most := 0., 0.
		for i := range tables {
			low, high := math.Inf(1), math.Inf(-1)
			for _, a := range tables[i].deeds {
				u := c.uses(a.sold)
				low, high = min(low, u), max(high, u)
			}
			least, most = least+low, most+high
		}
		if c.met = least >= c.room; most > c.room {
			out = append(out, c)
		}
	}
	return out
}

// sums is what parts sell, season by season.
func (k *maker) sums(parts []part) []sold {
	list := make([]sold, k.Seasons)
	for t := range list {
		list[t] = make(sold, len(k.plain))
		for _, x := range parts {
			list[t].add(x.weight, x.actions[t].sold)
		}
	}
	return list
}

// lost is what the limits take off parts more than off unsanitized, season by season.
func (k *maker) lost(parts []part) []float64 {
	list := make([]float64, k.Seasons)
	if len(k.limits) == 0 {
		return list
	}
	plain := k.limits.loss(k.plain)
	for t, x := range k.sums(parts) {
		list[t] = k.limits.loss(x) - plain
	}
	return list
}

// share is the part of what the limits take off a season that falls to one section: by what it adds, at the full tolls,
// to what all add.
func share(lost float64, mine, all float64) float64 {
	if lost == 0 || !(math.Abs(all) > tolerance*math.Abs(mine)) {
		return 0
	}
	return lost * mine / all
}
