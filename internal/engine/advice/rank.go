package advice

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/engine/rotation"
	"spile/internal/engine/sure"
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
	// Gains that tell what rests on two studies: those of the whole answer where one is asked again without some.
	standing []pool.Gain

	base     float64 // gain that the baseline's yield holds already
	baseSays float64 // the same as the studies say

	// What each choice brings a tap and season less what it costs, by draws of gains, prices and work that belong
	// together; and its chances over them. nil where bends stand in.
	margins map[practice.Choice][]float64
	nets    []float64 // room
	chances map[practice.Choice]sure.Chance
	// the same over the way there, of those whose first seasons are not as all others
	ways map[practice.Choice][]float64
	// By how much what is expected to be netted over unsanitized differs from the best guess, of another answer: what
	// moves a best guess is taken to move what is expected.
	bends map[practice.Choice]float64
}

func newRanker(in Input, money *pool.Result, d *draws) *ranker {
	r := &ranker{in: in, money: money, draws: d, standing: money.Gains}
	if in.Prices == nil {
		return r
	}
	r.ledger = budget.Of(in.Prices)
	if g, ok := r.gains(in.Prices.Baseline.Seasons()); ok {
		r.base, r.baseSays = mean(g.best), mean(g.says)
	} else {
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
		if own, stated := r.in.own(t); !have && stated {
			count := len(r.draws.drawn[practice.Treatment{Practice: practice.Unsanitized}])
			g, says, d, have = own, own, slices.Repeat([]float64{own}, count), true
		}
		if !have {
			return cycle{}, false
		}
		c.best, c.says, c.drawn = append(c.best, g), append(c.says, says), append(c.drawn, d)
	}
	return c, true
}

// own is the gain that the user states for a treatment, a fraction (M4: where studies do not tell how drops age).
func (in Input) own(t practice.Treatment) (float64, bool) {
	if in.Prices == nil {
		return 0, false
	}
	for _, u := range in.Prices.Uses {
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
		_, stated := r.in.own(t)
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
		g := rotation.Gains{Oldest: r.oldest(p.Key)}
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
		if len(g.Ages) > 0 {
			return rotation.Search(g, r.rotating(p.Key, g.Ages))
		}
	}
	return rotation.Result{}
}

// rotating is what replacing drops nets at each length of rotation; nil where that is not priced.
func (r *ranker) rotating(k practice.Key, ages []float64) *rotation.Money {
	if r.ledger == nil || !r.ledger.Priced(practice.Choice{Practice: k}) {
		return nil
	}
	m := new(rotation.Money)
	none, y0 := r.ledger.Plan(unsanitized), r.ledger.Unsanitized(r.base)
	for i := range ages {
		c := practice.Choice{Practice: k, Every: i + 1}
		plan := r.ledger.Plan(c)
		m.Net = append(m.Net, r.ledger.Margin(&plan, y0, ages[:i+1])-r.ledger.Margin(&none, y0, []float64{0}))
		if r.margins != nil {
			m.Draws = append(m.Draws, less(nil, r.margins[c], r.margins[unsanitized]))
		}
	}
	return m
}

var unsanitized = practice.Choice{Practice: practice.Unsanitized}

// candidate is a choice with the gains of its seasons. A combination that no study holds has a range, of which these
// are the low end, and no draws.
type candidate struct {
	practice.Choice
	cycle
	high    []float64
	studied bool
	permit
}

// candidates lists what can be ranked: unsanitized, each practice, and each length of rotation.
func (r *ranker) candidates() []candidate {
	var list []candidate
	add := func(c practice.Choice, studied bool) {
		g, ok := r.gains(c.Seasons())
		switch {
		case !ok && c.Every <= 1 && r.ledger.Priced(c):
			r.notes.Add("the prices say what %s takes, but no study says what it gains over unsanitized: it is not "+
				"ranked", note.Term(c.Practice))
		case !ok:
		case !r.ledger.Priced(c):
			r.notes.Add("the prices do not say what %s takes: it is not ranked", note.Term(c.Practice))
		default:
			list = append(list, candidate{c, g, nil, studied, r.permission(c)})
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
	return list
}

// combinations are those that no study holds, at the length that pays best for the rotation alone.
func (r *ranker) combinations(best int) (list []candidate) {
	if best == 0 {
		return nil
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
	x := candidate{Choice: c, permit: r.permission(c)}
	spout, ok := r.gains([]practice.Treatment{{Practice: c.With}})
	drops, ok2 := r.gains(c.Seasons())
	if !ok || !ok2 {
		return x, false
	}
	// Both parts hold a new spout; what it gives must not count twice.
	old := practice.Treatment{Practice: r.onOld(c.Practice)}
	shared, says := max(0, r.draws.best[old]), max(0, r.draws.says[old])
	for i, g := range drops.best {
		low, high := budget.Combined(g, spout.best[0], shared)
		own, _ := budget.Combined(drops.says[i], spout.says[0], says)
		x.best, x.says, x.high = append(x.best, low), append(x.says, own), append(x.high, high)
	}
	return x, true
}

// draw draws gains, prices and work together, and says what each candidate brings in every draw.
func (r *ranker) draw(a *Advice, list []candidate) error {
	options := make([]sure.Option, len(list))
	for i, c := range list {
		open, waits := c.verdict == practice.Permitted && c.studied, r.promising(c.Choice, a.Reference) != ""
		options[i] = optionOf(c.Choice, open, waits)
	}
	for _, c := range list {
		if way := r.lots(c.Choice, a.Reference); uneven(way) {
			options = append(options, sure.Option{Choice: c.Choice, Way: way})
		}
	}
	m, _, faults := model(r.in, r.money, options, a.Reference, DrawOptions{})
	if err := faults.Err(); err != nil {
		return err
	}
	d, err := m.Draw(usualDraws, usualSeed, false)
	if err != nil {
		return err
	}
	r.margins, r.ways = map[practice.Choice][]float64{}, map[practice.Choice][]float64{}
	r.chances = map[practice.Choice]sure.Chance{}
	for k, c := range d.Chances() {
		if m.Options[k].Way != nil {
			r.ways[m.Options[k].Choice] = d.Long[k]
			continue
		}
		r.margins[m.Options[k].Choice], r.chances[m.Options[k].Choice] = d.Long[k], c
		a.chanceError = max(a.chanceError, c.BestError, c.LoseError)
	}
	return nil
}

// onOld is what a practice that replaces drops is on drops that are old: the same spout and wash. "" where there is no
// such practice.
func (r *ranker) onOld(k practice.Key) practice.Key {
	if p, known := r.in.Practices.Find(k); known && p.Ages() {
		for _, q := range r.in.Practices {
			if q.Spout == p.Spout && q.Drops == practice.DropsKept && q.Wash == p.Wash {
				return q.Key
			}
		}
	}
	return ""
}

// account is a choice worked out at the gains of its seasons: as used for money, and as the studies say.
type account struct{ used, says budget.Account }

func (r *ranker) account(c practice.Choice, g cycle) account {
	return account{r.ledger.Account(c, r.ledger.Unsanitized(r.base), g.best),
		r.ledger.Account(c, r.ledger.Unsanitized(r.baseSays), g.says)}
}

// refer settles what all is compared with: today's practice, or unsanitized where nothing tells of that.
func (r *ranker) refer(a *Advice) {
	a.Base, a.BaseSays = r.base, r.baseSays
	a.Reference = r.in.Prices.Today.Choice(r.in.Practices)
	if r.in.Against.Practice != "" {
		a.Reference = r.in.Against
	}
	if _, ok := r.gains(a.Reference.Seasons()); !ok || !r.ledger.Priced(a.Reference) {
		r.notes.Add("the studies or the prices say nothing of today's practice, %s: the ranking is against "+
			"unsanitized",
			note.Term(a.Reference.Practice))
		a.Untold, a.Reference = a.Reference, unsanitized
	}
}

// rank fills the ranking and the recommendation.
func (r *ranker) rank(a *Advice, list []candidate) {
	worked := func(c practice.Choice) account {
		g, _ := r.gains(c.Seasons())
		return r.account(c, g)
	}
	none, today := worked(unsanitized), worked(a.Reference)
	for _, c := range slices.Concat(list, r.combinations(a.Rotation.Best)) {
		o := r.option(a, c, none, today)
		o.IsToday = c.Choice == a.Reference && a.Untold.Practice == ""
		o.Promising = r.promising(o.Choice(), a.Reference)
		a.Ranking = append(a.Ranking, o)
	}
	open := func(o Option) bool { return o.Verdict == practice.Permitted && o.Studied }
	marginal(a.Ranking, open)
	some := func(o Option) int { // of what nets the same, nothing is done
		if o.Practice == practice.Unsanitized {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(a.Ranking, func(x, y Option) int {
		return cmp.Or(cmp.Compare(class(x), class(y)), cmp.Compare(y.Today.Average(), x.Today.Average()),
			cmp.Compare(some(x), some(y)), cmp.Compare(x.ID(), y.ID()))
	})
	for i, o := range a.Ranking {
		if !open(o) {
			break
		}
		if o.Promising != "" {
			r.notes.Add("%s nets more, and rests on %s: promising, but first place needs two studies",
				note.Term(o.Practice), o.Promising)
			continue
		}
		a.Recommended = i
		break
	}
	if a.Recommended >= 0 && r.margins != nil {
		best := r.margins[a.Ranking[a.Recommended].Choice()]
		for i := range a.Ranking {
			if o := &a.Ranking[i]; open(*o) {
				o.ChanceOver = over(r.margins[o.Choice()], best)
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

func (r *ranker) option(a *Advice, c candidate, none, today account) Option {
	x := r.account(c.Choice, c.cycle)
	o := Option{
		Practice: c.Practice, Every: c.Every, With: c.With,
		GainPct: 100 * mean(c.best), Gains: c.best, Studied: c.studied,
		Unsanitized: Compared{Budget: budget.Compare(x.used, none.used)},
		Today:       Compared{Budget: budget.Compare(x.used, today.used)},
		Says: Says{100 * mean(c.says), c.says, budget.Compare(x.says, none.says),
			budget.Compare(x.says, today.says)},
		Verdict: c.verdict, Reasons: c.reasons, Cautions: c.cautions,
	}
	switch seasons := c.Seasons(); {
	case c.high != nil: // a range, not an estimate: from its low end to its high end
		high := r.ledger.Account(c.Choice, r.ledger.Unsanitized(r.base), c.high)
		o.LowPct, o.HighPct = o.GainPct, 100*mean(c.high)
		o.Unsanitized.NetLow, o.Unsanitized.NetHigh = o.Unsanitized.Net, budget.Compare(high, none.used).Net
		o.Today.NetLow, o.Today.NetHigh = o.Today.Net, budget.Compare(high, today.used).Net
		return o
	case len(seasons) == 1: // the interval of the table, free of the draws' own error
		o.LowPct, o.HighPct = o.GainPct, o.GainPct
		if _, drawn := r.draws.low[seasons[0]]; drawn {
			o.LowPct, o.HighPct = 100*r.draws.low[seasons[0]], 100*r.draws.high[seasons[0]]
		}
	default:
		low, high := pool.Middle(meanOf(c.drawn))
		o.LowPct, o.HighPct = 100*low, 100*high
	}
	for _, y := range []struct {
		to      *Compared
		against practice.Choice
	}{{&o.Unsanitized, unsanitized}, {&o.Today, a.Reference}} {
		if r.margins == nil {
			expected := y.to.Net + r.bends[c.Choice] - r.bends[y.against]
			y.to.Expected, y.to.NetLow, y.to.NetHigh = &expected, expected, expected
			continue
		}
		r.nets = less(r.nets, r.margins[c.Choice], r.margins[y.against])
		y.to.Expected = new(mean(r.nets))
		y.to.NetLow, y.to.NetHigh = pool.Middle(r.nets)
	}
	if r.margins != nil {
		o.Way = r.way(c.Choice, a.Reference)
	}
	if chance, ok := r.chances[c.Choice]; ok {
		if c.Choice != a.Reference {
			o.ChanceLose = &chance.Lose
		}
		if c.studied && c.verdict == practice.Permitted {
			o.ChanceBest = &chance.Best
		}
	}
	return o
}

// permit is whether a choice is permitted, why it is not, and what is to be minded.
type permit struct {
	verdict           practice.Verdict
	reasons, cautions note.List
}

// permission asks the rules about every part of a choice; the most severe verdict holds.
func (r *ranker) permission(c practice.Choice) permit {
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
	return permit{verdict, reasons, cautions}
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

// less is x − y, entry by entry, in the place of what is in room.
func less(room, x, y []float64) []float64 {
	room = slices.Grow(room[:0], len(x))
	for i := range x {
		room = append(room, x[i]-y[i])
	}
	return room
}

// promising is what a choice rests on that may lead, and is not recommended before a second study; else "". Going on as
// today needs none.
func (r *ranker) promising(c, today practice.Choice) note.Term {
	for _, g := range r.standing {
		if g.Treatment.Practice == c.Practice && c != today {
			return g.Alone()
		}
	}
	return ""
}
