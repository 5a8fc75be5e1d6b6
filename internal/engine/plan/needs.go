package plan

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

// Buy is a material bought for a season.
type Buy struct {
	Material string
	Need     float64 // pieces; what lasts counts in the season in which it is bought
	Count    float64 // to buy: whole pieces, with the spare allowance
	Money    float64 // of Count
	price    float64
}

// Dose is a chemical used in a season.
type Dose struct {
	Chemical string
	Litres   float64
	Money    float64
}

// Season is what the whole sugarbush takes and brings in a season.
type Season struct {
	Season    int
	Buy       []Buy
	Tubing    unit.Length              // in the drops that are replaced, with the spare allowance
	Renewed   float64                  // taps whose drops are replaced
	Doses     []Dose                   // with the spare allowance
	Hours     map[price.Window]float64 // of all; the way to the sections included
	Travel    float64                  // hours of it, before tapping
	Cash      float64                  // before the sap is sold: materials with the spare, wages, repairs, disposal
	PlasticKg float64                  // NaN where some of it is not known
	Net       float64                  // over unsanitized, not discounted
	// of syrup sold in bulk, where there is a quota: of every section, those not planned as usual
	BulkKg float64
}

type buying []Buy

func (b *buying) add(material string, count, price float64) {
	for i := range *b {
		if (*b)[i].Material == material {
			(*b)[i].Need += count
			return
		}
	}
	*b = append(*b, Buy{Material: material, Need: count, price: price})
}

// bought is the materials that an action takes on so many taps.
func (k *maker) bought(a *deed, taps float64) buying {
	var list buying
	for _, u := range k.Prices.Uses {
		if u.Practice != a.of {
			continue
		}
		for _, m := range u.Materials {
			list.add(m.Material, taps*m.Count*due(m, a.worn), k.price(m.Material))
		}
		if a.renew && u.Renewal != nil {
			for _, m := range u.Renewal.Materials {
				list.add(m.Material, taps*m.Count, k.price(m.Material))
			}
		}
	}
	return list
}

func (k *maker) price(material string) float64 {
	for _, m := range k.Prices.Materials {
		if m.Name == material {
			return m.Price.Best
		}
	}
	return 0
}

// counted is a list in whole pieces, with the spare allowance, in the order of the prices; what is in place is left
// out.
func (k *maker) counted(list buying) []Buy {
	var out []Buy
	for _, b := range list {
		if b.Need == 0 {
			continue
		}
		b.Count = math.Ceil(b.Need*(1+k.Spare) - 1e-9)
		b.Money = b.Count * b.price
		out = append(out, b)
	}
	slices.SortStableFunc(out, func(x, y Buy) int { return k.order(x.Material) - k.order(y.Material) })
	return out
}

// needs sums what a schedule takes, season by season, those sections among it of which the studies say nothing.
func (k *maker) needs(f *frame, idle []table, parts []part) []Season {
	list := make([]Season, k.Seasons)
	drop := cmp.Or(k.DropLength, bush.DefaultDrop)
	lost := k.lost(parts)
	for i := range list {
		s := &list[i]
		s.Season, s.Hours = k.First+i, map[price.Window]float64{}
		for _, w := range price.Windows { // each is told, nought as well
			s.Hours[w] = 0
		}
		var buy buying
		add := func(t *table, x part) {
			if len(x.actions) == 0 { // the prices say nothing of what is done there
				return
			}
			a, taps := x.actions[i], x.weight*float64(t.section.Taps)
			for _, b := range k.bought(a.deed, taps) {
				buy.add(b.Material, b.Need, b.price)
				if grams := k.Prices.Materials[k.order(b.Material)].Grams; grams > 0 {
					s.PlasticKg += b.Need * grams / 1000
				} else if b.Need > 0 {
					s.PlasticKg = math.NaN() // of what is not known no sum is told
				}
			}
			if a.renew {
				s.Renewed += taps
			}
			for _, u := range k.Prices.Uses {
				if u.Practice == a.of && u.Chemical != "" && a.plan.ChemicalL > 0 {
					s.dose(u.Chemical, taps*a.plan.ChemicalL*(1+k.Spare), k.litre(u.Chemical))
				}
			}
			for w, h := range a.hours {
				s.Hours[w] += x.weight * h
			}
			s.Travel += x.weight * a.travel
			s.Cash += x.weight * a.cash
			if k.Prices.Sells.Quota != nil {
				s.BulkKg += taps * t.ledger.Made(a.plan, t.y0, a.gain/100).BulkKg
			}
			if !t.blind {
				s.Net += x.weight * a.net
			}
		}
		for _, x := range parts {
			add(&f.tables[x.table], x)
		}
		for _, x := range f.idle {
			add(&idle[x.table], x)
		}
		s.Net -= lost[i]
		s.Tubing = unit.Length(s.Renewed * (1 + k.Spare) * float64(drop))
		s.Buy = k.counted(buy)
	}
	return list
}

// order is the place of a material among the prices.
func (k *maker) order(material string) int {
	return slices.IndexFunc(k.Prices.Materials, func(m price.Material) bool { return m.Name == material })
}

func (k *maker) litre(chemical string) float64 {
	for _, c := range k.Prices.Chemicals {
		if c.Name == chemical {
			return c.Price.Best
		}
	}
	return 0
}

func (s *Season) dose(chemical string, litres, price float64) {
	for i := range s.Doses {
		if s.Doses[i].Chemical == chemical {
			s.Doses[i].Litres += litres
			s.Doses[i].Money += litres * price
			return
		}
	}
	s.Doses = append(s.Doses, Dose{chemical, litres, litres * price})
}

// part is a part of a section on a schedule of its own: one action a season. A plan has each section whole.
type part struct {
	table   int
	weight  float64
	actions []*action
	ends    int // stand of the drops after the last season
}

// follow makes a part by choosing an action in each season; false where one cannot be chosen.
func (t *table) follow(index int, weight float64, seasons int,
	choose func(season int, s stand, actions []action) int) (part, bool) {
	p := part{table: index, weight: weight, ends: t.start}
	for i := range seasons {
		at := choose(i, t.stands[p.ends], t.actions[i][p.ends])
		if at < 0 {
			return p, false
		}
		a := &t.actions[i][p.ends][at]
		p.actions = append(p.actions, a)
		p.ends = a.next
	}
	return p, true
}

// named finds the action of a practice.
func named(actions []action, key practice.Key) int {
	return slices.IndexFunc(actions, func(a action) bool { return a.practice == key })
}
