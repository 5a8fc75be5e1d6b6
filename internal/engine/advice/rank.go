package advice

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/engine/rotation"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// ranker turns gains into a ranking under one set of prices.
type ranker struct {
	in     Input
	money  *pool.Result
	draws  *draws
	ledger *budget.Ledger // nil without prices
	notes  note.List

	base      float64   // gain that the baseline's yield holds already
	baseSays  float64   // the same as the studies say
	baseDraws []float64 // its draws
}

func newRanker(in Input, money *pool.Result, d *draws) *ranker {
	r := &ranker{in: in, money: money, draws: d}
	if in.Prices == nil {
		return r
	}
	r.ledger = budget.Of(in.Prices)
	seasons := in.Prices.Baseline.Seasons()
	if g, ok := r.gains(seasons); ok {
		r.base, r.baseSays, r.baseDraws = mean(g.best), mean(g.says), meanOf(g.drawn)
	} else {
		r.baseDraws = make([]float64, r.draws.count())
		r.notes.Add("the studies say nothing of %s, under which the baseline yield was measured: the yield is taken "+
			"as unsanitized, and every figure of money may be too high",
			note.Term(in.Prices.Baseline.Practice))
	}
	return r
}

// cycle is the long-run gains of the seasons of a cycle, as fractions: as used for money, with their draws, and as the
// studies say.
type cycle struct {
	best, says []float64
	drawn      [][]float64
}

// gains gives the gains of a cycle; false where the studies say nothing of one of its seasons.
func (r *ranker) gains(seasons []practice.Treatment) (c cycle, ok bool) {
	for _, t := range seasons {
		g, have := r.draws.best[t]
		says, d := r.draws.says[t], r.draws.drawn[t]
		if own, stated := r.own(t); !have && stated {
			g, says, d, have = own, own, slices.Repeat([]float64{own}, r.draws.count()), true
		}
		if !have {
			return cycle{}, false
		}
		c.best, c.says, c.drawn = append(c.best, g), append(c.says, says), append(c.drawn, d)
	}
	return c, true
}

// own is the gain that the user states for a treatment, a fraction (M4: where studies do not tell how drops age).
func (r *ranker) own(t practice.Treatment) (float64, bool) {
	if r.in.Prices == nil {
		return 0, false
	}
	for _, u := range r.in.Prices.Uses {
		if u.Practice == t.Practice && t.DropAge < len(u.GainPct) {
			return u.GainPct[t.DropAge] / 100, true
		}
	}
	return 0, false
}

// oldest is the oldest age of a practice's plastic that a study or the user's own table tells of.
func (r *ranker) oldest(k practice.Key) int {
	age := r.money.Ageing.Oldest
	for {
		t := practice.Treatment{Practice: k, DropAge: age + 1}
		_, stated := r.own(t)
		if _, ok := r.gains([]practice.Treatment{t}); !ok || !stated {
			return age
		}
		age++
	}
}

// rotation searches the intervals of the first practice whose drops age.
func (r *ranker) rotation() rotation.Result {
	for _, p := range r.in.Practices {
		if !p.Ages() {
			continue
		}
		g := rotation.Gains{Base: r.base, BaseDraws: r.baseDraws, Oldest: r.oldest(p.Key)}
		var own []string // ages that only the user's own table tells of
		for age := range r.in.MaxInterval {
			t := practice.Treatment{Practice: p.Key, DropAge: age}
			c, ok := r.gains([]practice.Treatment{t})
			if !ok {
				break
			}
			if _, studied := r.draws.best[t]; !studied {
				own = append(own, strconv.Itoa(age))
			}
			g.Ages, g.Draws = append(g.Ages, c.best...), append(g.Draws, c.drawn...)
		}
		if len(own) > 0 {
			r.notes.Add("%s: the gains at drop age %s are the price file's own, not from studies, and have no "+
				"interval",
				note.Term(p.Key), strings.Join(own, ", "))
		}
		choice := practice.Choice{Practice: p.Key}
		ledger := r.ledger
		if ledger != nil && !ledger.Priced(choice) {
			ledger = nil
		}
		if len(g.Ages) > 0 {
			return rotation.Search(g, choice, ledger)
		}
	}
	return rotation.Result{}
}

// candidate is a choice with the gains of its seasons. A combination that no study holds has a range, of which these
// are the low end, and no draws.
type candidate struct {
	practice.Choice
	cycle
	high    []float64
	studied bool
}

// candidates lists everything that can be ranked: unsanitized, each practice, each length of rotation, and each
// combination, at the length that pays best for the rotation alone.
func (r *ranker) candidates(best int) []candidate {
	var list []candidate
	add := func(c practice.Choice, studied bool) {
		g, ok := r.gains(c.Seasons())
		switch {
		case !ok && c.Every <= 1 && r.ledger.Priced(c):
			r.notes.Add("the prices say what %s takes, but no study says what it gains: it is not ranked",
				note.Term(c.Practice))
		case !ok:
		case !r.ledger.Priced(c):
			r.notes.Add("the prices do not say what %s takes: it is not ranked", note.Term(c.Practice))
		default:
			list = append(list, candidate{c, g, nil, studied})
		}
	}
	for _, p := range r.in.Practices {
		if !p.Ages() {
			add(practice.Choice{Practice: p.Key}, true)
			continue
		}
		if !r.ledger.Priced(practice.Choice{Practice: p.Key}) {
			add(practice.Choice{Practice: p.Key, Every: 1}, true)
			continue
		}
		for every := 1; every <= r.in.MaxInterval; every++ {
			add(practice.Choice{Practice: p.Key, Every: every}, every-1 <= r.oldest(p.Key))
		}
	}
	if best == 0 {
		return list
	}
	for _, drops := range r.in.Practices {
		for _, spout := range r.in.Practices {
			c := practice.Choice{Practice: drops.Key, Every: best, With: spout.Key}
			if practice.Combines(drops, spout) && r.ledger.Priced(c) {
				if x, ok := r.combined(c); ok {
					list = append(list, x)
				}
			}
		}
	}
	return list
}

// combined is the range of a combination that no study holds, season by season.
func (r *ranker) combined(c practice.Choice) (candidate, bool) {
	x := candidate{Choice: c}
	spout, ok := r.gains([]practice.Treatment{{Practice: c.With}})
	drops, ok2 := r.gains(c.Seasons())
	if !ok || !ok2 {
		return x, false
	}
	// Both parts hold a new spout; what it gives must not count twice.
	var shared, says float64
	if p, known := r.in.Practices.Find(c.Practice); known {
		for _, q := range r.in.Practices {
			if q.Spout == p.Spout && q.Drops == practice.DropsKept && q.Wash == p.Wash {
				t := practice.Treatment{Practice: q.Key}
				shared, says = max(0, r.draws.best[t]), max(0, r.draws.says[t])
			}
		}
	}
	for i, g := range drops.best {
		low, high := budget.Combined(g, spout.best[0], shared)
		own, _ := budget.Combined(drops.says[i], spout.says[0], says)
		x.best, x.says, x.high = append(x.best, low), append(x.says, own), append(x.high, high)
	}
	return x, true
}

// reference is a choice that others are compared against, with all that a comparison needs.
type reference struct {
	account, says budget.Account // at the gains as used for money, and as the studies say
	margins       []float64
}

func (r *ranker) reference(c practice.Choice) (reference, bool) {
	g, ok := r.gains(c.Seasons())
	if !ok || !r.ledger.Priced(c) {
		return reference{}, false
	}
	return r.account(c, g), true
}

// account works a choice out at the gains of its seasons; margins are of those that are drawn.
func (r *ranker) account(c practice.Choice, g cycle) reference {
	x := reference{account: r.ledger.Account(c, r.ledger.Unsanitized(r.base), g.best),
		says: r.ledger.Account(c, r.ledger.Unsanitized(r.baseSays), g.says)}
	if g.drawn != nil {
		x.margins = r.ledger.Margins(&x.account.Plan, r.baseDraws, g.drawn)
	}
	return x
}

// rank fills the ranking and the recommendation.
func (r *ranker) rank(a *Advice) {
	unsanitized, _ := r.reference(practice.Choice{Practice: practice.Unsanitized})
	a.Reference = r.in.Prices.Today.Choice(r.in.Practices)
	if r.in.Against.Practice != "" {
		a.Reference = r.in.Against
	}
	today, ok := r.reference(a.Reference)
	if !ok {
		r.notes.Add("the studies or the prices say nothing of today's practice, %s: the ranking is against "+
			"unsanitized",
			note.Term(a.Reference.Practice))
		a.Untold, a.Reference, today = a.Reference, practice.Choice{Practice: practice.Unsanitized}, unsanitized
	}
	margins := map[string][]float64{}
	for _, c := range r.candidates(a.Rotation.Best) {
		x := r.account(c.Choice, c.cycle)
		o := r.option(c, x, unsanitized, today)
		margins[o.ID()] = x.margins
		o.IsToday = c.Choice == a.Reference && a.Untold.Practice == ""
		o.Promising = r.promising(o)
		a.Ranking = append(a.Ranking, o)
	}
	open := func(o Option) bool { return o.Verdict == practice.Permitted && o.Studied }
	marginal(a.Ranking, open)
	slices.SortStableFunc(a.Ranking, func(x, y Option) int {
		return cmp.Or(cmp.Compare(class(x), class(y)), cmp.Compare(leads(y), leads(x)),
			cmp.Compare(x.ID(), y.ID()))
	})
	for i, o := range a.Ranking {
		if !open(o) {
			break
		}
		if o.Promising {
			r.notes.Add("%s nets more, and rests on one study: promising, but first place needs two",
				note.Term(o.Practice))
			continue
		}
		a.Recommended = i
		break
	}
	if a.Recommended >= 0 {
		best := margins[a.Ranking[a.Recommended].ID()]
		for i := range a.Ranking {
			if o := &a.Ranking[i]; open(*o) {
				o.ChanceOver = over(margins[o.ID()], best)
			}
		}
	}
}

// over is how often x is larger than y, of all draws.
func over(x, y []float64) float64 {
	n := 0
	for i := range x {
		if x[i] > y[i] {
			n++
		}
	}
	return float64(n) / float64(len(x))
}

// class orders what may be recommended before what no study holds, and that before what is not permitted.
func class(o Option) int {
	switch {
	case o.Verdict != practice.Permitted:
		return 2
	case !o.Studied:
		return 1
	}
	return 0
}

func (r *ranker) option(c candidate, x, unsanitized, today reference) Option {
	o := Option{
		Practice: c.Practice, Every: c.Every, With: c.With,
		GainPct: 100 * mean(c.best), Studied: c.studied,
		Unsanitized: Compared{Budget: budget.Compare(x.account, unsanitized.account)},
		Today:       Compared{Budget: budget.Compare(x.account, today.account)},
		Says: Says{100 * mean(c.says), budget.Compare(x.says, unsanitized.says),
			budget.Compare(x.says, today.says)},
	}
	if c.drawn == nil { // a range, not an estimate: from its low end to its high end
		high := r.ledger.Account(c.Choice, r.ledger.Unsanitized(r.base), c.high)
		o.LowPct, o.HighPct = o.GainPct, 100*mean(c.high)
		o.Unsanitized.NetLow, o.Unsanitized.NetHigh = o.Unsanitized.Net, budget.Compare(high, unsanitized.account).Net
		o.Today.NetLow, o.Today.NetHigh = o.Today.Net, budget.Compare(high, today.account).Net
	} else {
		if seasons := c.Seasons(); len(seasons) == 1 { // the interval of the table, free of the draws' own error
			o.LowPct, o.HighPct = 100*r.draws.low[seasons[0]], 100*r.draws.high[seasons[0]]
		} else {
			low, high := pool.Middle(meanOf(c.drawn))
			o.LowPct, o.HighPct = 100*low, 100*high
		}
		for _, y := range []struct {
			to      *Compared
			against []float64
		}{{&o.Unsanitized, unsanitized.margins}, {&o.Today, today.margins}} {
			nets := less(x.margins, y.against)
			y.to.Expected = new(mean(nets))
			y.to.NetLow, y.to.NetHigh = pool.Middle(nets)
		}
	}
	o.Verdict, o.Reasons, o.Cautions = r.permission(c.Choice)
	return o
}

// permission asks the rules about every part of a choice; the most severe verdict holds.
func (r *ranker) permission(c practice.Choice) (practice.Verdict, note.List, note.List) {
	verdict := practice.Permitted
	var reasons, cautions note.List
	prices := r.in.Prices
	for _, key := range []practice.Key{c.Practice, c.With} {
		if key == "" {
			continue
		}
		p, _ := r.in.Practices.Find(key)
		ask := practice.Case{Practice: p, Place: prices.Place, Organic: prices.Organic, AsOf: prices.AsOf}
		for _, u := range prices.Uses {
			for _, chemical := range prices.Chemicals {
				if u.Practice == key && u.Chemical == chemical.Name {
					ask.Product, ask.Labelled = chemical.Name, chemical.LabelNamesTubing
				}
			}
		}
		v, why := practice.Permission(r.in.Rules, ask)
		if v != practice.Permitted {
			reasons = append(reasons, why...)
		}
		if v == practice.Never || verdict == practice.Permitted {
			verdict = v
		}
		cautions = append(cautions, practice.Cautions(p)...)
	}
	return verdict, reasons, cautions
}

// marginal marks what is dominated and the marginal rates of return among the options that are open.
func marginal(ranking []Option, open func(Option) bool) {
	var points []budget.Point
	var at []int
	for i, o := range ranking {
		if open(o) {
			points, at = append(points, o.Unsanitized.Point()), append(at, i)
		}
	}
	for i, m := range budget.Analyse(points) {
		ranking[at[i]].Dominated, ranking[at[i]].MarginalRatePct = m.Dominated, m.RatePct
	}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// meanOf is the mean of several lists, entry by entry.
func meanOf(lists [][]float64) []float64 {
	out := make([]float64, len(lists[0]))
	for _, x := range lists {
		for i, v := range x {
			out[i] += v / float64(len(lists))
		}
	}
	return out
}

// less is x − y, entry by entry.
func less(x, y []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] - y[i]
	}
	return out
}

// leads is what the ranking goes by: the expected net; of a range, which has none, its low end.
func leads(o Option) float64 {
	if o.Today.Expected != nil {
		return *o.Today.Expected
	}
	return o.Today.Net
}

// promising is true of an option that rests on one study alone: it may lead, and is not recommended before a second.
func (r *ranker) promising(o Option) bool {
	return slices.ContainsFunc(r.money.Gains, func(g pool.Gain) bool {
		return g.Treatment.Practice == o.Practice && g.Studies < 2
	})
}
