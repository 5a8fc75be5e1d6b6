package advice

import (
	"slices"

	"spile/internal/engine/budget"
	"spile/internal/engine/rotation"
	"spile/internal/engine/sure"
	"spile/internal/trade/practice"
)

// lots is what the taps have in each of the first seasons of a choice, after today's practice. Drops that today's
// replaced go on ageing under a practice with the same spout and wash; another keeps its gain on old drops, since no
// study holds it on young ones.
func (r *ranker) lots(c, today practice.Choice) [][]sure.Lot {
	ageing := c.Practice // whose drops age
	if p, _ := r.in.Practices.Find(ageing); !p.Ages() {
		if ageing = today.Practice; c.Practice != r.onOld(ageing) {
			ageing = ""
		}
	}
	from := []rotation.Lot{{Age: rotation.Old, Share: 1}}
	if ageing != "" && today.Every > 0 && ageing == today.Practice {
		from = rotation.Staged(today.Every)
	}
	out := make([][]sure.Lot, r.in.Over)
	for s, lots := range rotation.Way(from, c.Every, r.in.Over, r.in.Prices.AllAtOnce && c.Every > 1) {
		for _, l := range lots {
			out[s] = append(out[s], sure.Lot{Treatment: r.aged(c.Practice, ageing, l.Age), Share: l.Share})
		}
	}
	return out
}

// aged is a practice on drops of some age, of which another tells how they age; beyond what is known they are old.
// Where nothing tells of old ones they are as the oldest known.
func (r *ranker) aged(k, ageing practice.Key, age int) practice.Treatment {
	known := func(t practice.Treatment) bool { _, ok := r.gains([]practice.Treatment{t}); return ok }
	if ageing == "" {
		return practice.Treatment{Practice: k}
	}
	if t := (practice.Treatment{Practice: ageing, DropAge: age}); age != rotation.Old && known(t) {
		return t
	}
	if t := (practice.Treatment{Practice: r.onOld(ageing)}); t.Practice != "" && known(t) {
		return t
	}
	t := practice.Treatment{Practice: ageing}
	for known(practice.Treatment{Practice: ageing, DropAge: t.DropAge + 1}) && t.DropAge < r.in.ages() {
		t.DropAge++
	}
	return t
}

// uneven is true of a way whose seasons are not all alike.
func uneven(way [][]sure.Lot) bool {
	return slices.ContainsFunc(way, func(s []sure.Lot) bool { return len(s) != 1 || s[0] != way[0][0] })
}

// way is the first seasons of a choice against going on as today.
func (r *ranker) way(c, today practice.Choice) *Way {
	if c == today {
		return &Way{Net: make([]float64, r.in.Over), Cash: make([]float64, r.in.Over)}
	}
	y0 := r.ledger.Unsanitized(r.base)
	g, _ := r.gains(today.Seasons())
	now := r.ledger.Plan(today)
	stays := r.ledger.Margin(&now, y0, g.best)

	plan := r.ledger.Way(c, 1) // of one season at a time
	w := new(Way)
	lots := r.lots(c, today)
	for s, season := range lots {
		gain, drops := 0., []Lot(nil)
		for _, l := range season {
			g, _ := r.gains([]practice.Treatment{l.Treatment})
			gain += l.Share * g.best[0]
			drops = append(drops, Lot{l.Treatment, l.Share, g.best[0], g.says[0]})
		}
		w.Drops = append(w.Drops, drops)
		brings := r.ledger.Margin(&plan, y0, []float64{gain})
		paid := plan.Paid(r.ledger, s)
		w.Net = append(w.Net, brings-stays)
		w.Outlay = max(w.Outlay, paid-now.Cost())
		w.Cash = append(w.Cash, brings+plan.Cost()-paid-stays)
	}
	w.Payback = budget.Payback(w.Cash)
	margins := r.margins[c]
	if way, ok := r.ways[c]; ok {
		margins = way
	}
	r.nets = less(r.nets, margins, r.margins[today])
	w.Expected = mean(r.nets)
	w.Present = w.Expected * budget.Annuity(r.in.Prices.Discount.Best, float64(r.in.Over))
	return w
}
