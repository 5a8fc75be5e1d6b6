package plan

import (
	"math"
	"slices"
	"strings"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

// Evidence is what a plan rests on.
type Evidence struct {
	Pool  *pool.Result // with the moderators that the studies support
	Set   practice.Set
	Held  map[practice.Key]Held // what is not permitted here
	Scope Scope
	Base  Base
}

// Base counts what the gains rest on.
type Base struct {
	Studies, Sites, Seasons int
	First, Last             int // season of the earliest and the latest study
	By                      []BaseOf
}

// BaseOf is that of one practice.
type BaseOf struct {
	Practice                practice.Key
	Studies, Sites, Seasons int
}

// Held is why a practice is not permitted.
type Held struct {
	Verdict practice.Verdict
	Reasons []note.Note
}

// Plan is the answer. Money is that of the sugarbush's prices; what counts seasons together is discounted to the first.
type Plan struct {
	Sugarbush bush.Sugarbush
	Sections  []SectionPlan // those planned
	Unplanned []Unplanned   // those of which the studies say nothing
	Seasons   []Season

	Profit   Profit  // over unsanitized
	OverLast *Profit // over as last season; nil where that cannot be priced
	Left     float64 // of the profit, what young drops are worth after the last season
	Uncapped float64 // what the best plan would bring without caps
	Bound    float64 // no plan within the caps brings more
	// Bound less the plan's profit, 0 or more: the plan may fall short of the best by that much, no more
	Gap   float64
	Worth []Worth // of what is short
	Rules []Rule  // as last season first
	// part that every price of syrup and sap may fall by before the plan brings no more than as last season, or than
	// unsanitized where that cannot be priced; 0 where it never does
	Fall float64
	Base Base

	Leaks    []Leak
	Held     map[practice.Key]Held
	Cautions []note.Note
	Chances  bool        // chances are stated: no gain that the plan rests on has fewer than three degrees of freedom
	Unknown  []note.Note // what the plan itself leaves open, from among the Notes
	Notes    []note.Note
}

// Profit is discounted money with its 95 % interval and its chance of being a loss, under the draws of gains and
// seasons.
type Profit struct {
	Best, Low, High float64
	Loss            float64 // chance that it lies below 0; 0 where Chances is false
}

// SectionPlan is one section's seasons.
type SectionPlan struct {
	Section bush.Section
	Steps   []Step
	Profit  Profit
}

// Step is what a section does in a season.
type Step struct {
	Season   int
	Practice practice.Key
	Renew    bool // drops are replaced
	// seasons in use of drops whose age tells; −1: old, or not part of the gain
	DropAge                  int
	Treatment                practice.Treatment // as studied
	GainPct, LowPct, HighPct float64            // long-run gain here over unsanitized, 95 %
	SeasonLow, SeasonHigh    float64            // percent in one season, 95 %
	SyrupKg, NoneKg          float64            // syrup of a tap in the long run: with it, and unsanitized
	Net                      float64            // money over unsanitized in the season
	Hours                    float64
	Cash                     float64
	// what else that is permitted, leaves the drops and brings most in a season, what lasts spread over its life; ""
	// nothing, or the step replaces drops
	Instead practice.Key
	Less    float64 // money that it brings less
}

// Taps is how many taps the plan is for: those of the sections planned.
func (p *Plan) Taps() int {
	n := 0
	for _, s := range p.Sections {
		n += s.Section.Taps
	}
	return n
}

// PerTap spreads discounted money evenly over the taps and seasons of the plan: the equivalent annuity a tap.
func (p *Plan) PerTap(money float64) float64 {
	return money / (float64(max(1, p.Taps())) *
		budget.Annuity(p.Sugarbush.Prices.Discount.Best, float64(len(p.Seasons))))
}

// Unplanned is a section for which nothing is planned, and why.
type Unplanned struct {
	Section bush.Section
	Reasons []note.Note
}

// Worth is what one more unit of what is short would be worth in each season: the dual of the relaxation, an upper
// estimate for small changes. Window is "" for cash.
type Worth struct {
	Window   price.Window
	Cap      float64 // hours, or money
	BySeason []float64
	Mean     float64 // a season: the discounted sum spread evenly
	Used     []float64
}

// Rule is a simple rule beside the plan.
type Rule struct {
	Last       bool         // each section goes on as last season
	Practice   practice.Key // done each season, everywhere but where it is not wanted: there as last season
	Every      int          // a 1/Every part of the drops replaced each season
	Partly     bool         // some section does not want it
	Profit     float64      // over unsanitized
	Everywhere float64      // the same, were it done in every section, wanted or not
	Could      bool         // that is within the caps
	Short      float64      // what the plan brings more
	Fits       bool         // within the caps
	Permitted  bool         // nothing in it is held back here, or unwanted in its section
}

// Leak is what an added inch of mercury of vacuum would bring a section in a season.
type Leak struct {
	Section string
	Vacuum  unit.Pressure
	Money   float64
}

// LeakPct is how much more sap each added inch of mercury of vacuum gives (common practice, no source).
const LeakPct = 5.

// Of makes the plan. The error is note.Faults where the sugarbush is at fault. Its prices must be free of Faults.
func Of(b bush.Sugarbush, e Evidence) (*Plan, error) {
	if f := b.Faults(e.Set); f != nil {
		return nil, f
	}
	k := &maker{Sugarbush: &b, Evidence: e, gains: map[gainKey]foundGain{}}
	p := &Plan{Sugarbush: b, Held: e.Held, Base: e.Base, Chances: true}
	var tables []table
	for _, x := range b.Sections {
		if why := e.Scope.outside(x); why != nil {
			p.Unplanned = append(p.Unplanned, Unplanned{x, why})
		} else {
			tables = append(tables, k.table(x))
		}
	}
	p.Leaks = k.leaks(tables)
	windows, problem := k.program(tables)
	free := program{blocks: problem.blocks, discount: problem.discount, after: problem.after}
	p.Uncapped = free.solve().value
	s := problem.solve()
	p.Profit.Best, p.Bound, p.Gap = s.value, s.bound, max(0, s.bound-s.value)

	parts := make([]part, len(tables))
	for i := range tables {
		t := &tables[i]
		moves, at := s.paths[i], t.start
		parts[i], _ = t.follow(i, 1, b.Seasons, func(season int, _ stand, actions []action) int {
			move := problem.blocks[i].moves[at][moves[season]]
			at = move.next
			return move.action
		})
		p.Left += problem.after * t.left[parts[i].ends]
	}
	p.Seasons = k.needs(tables, parts)
	p.worth(k, windows, s.prices, problem.discount)
	last := p.rules(k, tables, windows, problem)
	p.sections(k, tables, parts)
	p.fall(k, tables, parts, last, problem)
	p.outlook(k, tables, parts, last, problem)
	p.cautions(k)
	p.Notes = append(p.Notes, k.notes...)
	p.notes(k)
	p.Unknown = slices.Clone(p.Notes)
	return p, nil
}

// program is the tables as a programme; windows are those of its resources, "" cash.
func (k *maker) program(tables []table) ([]price.Window, *program) {
	var short []price.Window
	p := &program{}
	for _, w := range price.Windows {
		if c, ok := k.Crews[w]; ok {
			short, p.caps = append(short, w), append(p.caps, c.Hours())
		}
	}
	if k.Cash != nil {
		short, p.caps = append(short, ""), append(p.caps, *k.Cash)
	}
	for t := range k.Seasons {
		p.discount = append(p.discount, math.Pow(1+k.Prices.Discount.Best, -float64(t)))
	}
	p.after = math.Pow(1+k.Prices.Discount.Best, -float64(k.Seasons))
	for i := range tables {
		t := &tables[i]
		b := block{start: t.start, left: t.left}
		for s := range t.stands {
			var moves []move
			for at := range t.actions[s] {
				if a := &t.actions[s][at]; a.open {
					moves = append(moves, move{action: at, next: a.next, worth: a.net, use: uses(a, short)})
				}
			}
			b.moves = append(b.moves, moves)
		}
		p.blocks = append(p.blocks, b)
	}
	return short, p
}

// uses is what an action takes of what is short.
func uses(a *action, short []price.Window) []float64 {
	use := make([]float64, len(short))
	for i, w := range short {
		if w == "" {
			use[i] = a.cash
		} else {
			use[i] = max(0, a.hours[w])
		}
	}
	return use
}

// brings is the discounted money of a part, were it the whole section.
func (p *program) brings(tables []table, x part) float64 {
	sum := p.after * tables[x.table].left[x.ends]
	for t, a := range x.actions {
		sum += p.discount[t] * a.net
	}
	return sum
}

// worth reads the multipliers as what one more unit would be worth, in the money of each season.
func (p *Plan) worth(k *maker, short []price.Window, prices grid, discount []float64) {
	for i, w := range short {
		x := Worth{Window: w}
		if w == "" {
			x.Cap = *k.Cash
		} else {
			x.Cap = k.Crews[w].Hours()
		}
		sum, whole := 0.0, 0.0
		for t, v := range discount {
			x.BySeason = append(x.BySeason, prices[t][i]/v)
			sum, whole = sum+prices[t][i], whole+v
			if w == "" {
				x.Used = append(x.Used, p.Seasons[t].Cash)
			} else {
				x.Used = append(x.Used, p.Seasons[t].Hours[w])
			}
		}
		x.Mean = sum / whole
		p.Worth = append(p.Worth, x)
	}
}

// rules values each simple rule, and gives the parts of as last season (nil where it cannot be priced).
func (p *Plan) rules(k *maker, tables []table, short []price.Window, problem *program) (last []part) {
	sum := func(parts []part) (profit float64, fits, permitted bool) {
		fits, permitted = true, true
		used := problem.grid()
		for _, x := range parts {
			for i, a := range x.actions {
				permitted = permitted && a.open
				for j, u := range uses(a, short) {
					used[i][j] += x.weight * u
					fits = fits && used[i][j] <= problem.caps[j]*(1+tolerance)
				}
			}
			profit += x.weight * problem.brings(tables, x)
		}
		return profit, fits, permitted
	}
	try := func(r Rule, parts, literal []part) {
		r.Profit, r.Fits, r.Permitted = sum(parts)
		r.Everywhere, r.Could, _ = sum(literal)
		r.Short = p.Profit.Best - r.Profit
		p.Rules = append(p.Rules, r)
	}
	type choice = func(season int, s stand, actions []action) int
	// everywhere makes parts by one rule in all sections, each in so many equal shares; nothing where that cannot be
	// priced.
	everywhere := func(shares int, choose func(share int, t *table) choice) []part {
		var parts []part
		for i := range tables {
			for share := range shares {
				x, ok := tables[i].follow(i, 1/float64(shares), k.Seasons, choose(share, &tables[i]))
				if !ok {
					return nil
				}
				parts = append(parts, x)
			}
		}
		return parts
	}
	asLast := func(t *table) choice {
		usual := k.Usual(t.section, k.Set)
		return func(_ int, s stand, actions []action) int { return rotate(k.Set, usual, s, actions) }
	}
	// where it is not wanted, a section goes on as last season, or as unsanitized where it cannot.
	wanted := func(key practice.Key, do func(share int) choice) func(int, *table) choice {
		return func(share int, t *table) choice {
			if !slices.Contains(t.section.Unwanted, key) {
				return do(share)
			}
			last := asLast(t)
			return func(season int, s stand, actions []action) int {
				if i := last(season, s, actions); i >= 0 && actions[i].open {
					return i
				}
				return named(actions, practice.Unsanitized)
			}
		}
	}
	rule := func(r Rule, shares int, do func(share int) choice) {
		literal := everywhere(shares, func(share int, _ *table) choice { return do(share) })
		if literal == nil {
			return
		}
		unwanted := 0
		for i := range tables {
			if slices.Contains(tables[i].section.Unwanted, r.Practice) {
				unwanted++
			}
		}
		if r.Partly = unwanted > 0; unwanted < len(tables) {
			try(r, everywhere(shares, wanted(r.Practice, do)), literal)
		}
	}
	if last = everywhere(1, func(_ int, t *table) choice { return asLast(t) }); last != nil {
		try(Rule{Last: true}, last, last)
	} else if len(tables) > 0 {
		k.notes = append(k.notes,
			note.New("the studies or the prices say nothing of what was done last season in some section, so the "+
				"plan is not compared with going on like that"))
	}
	for _, x := range k.Set {
		if _, held := k.Held[x.Key]; held || x.Ages() {
			continue
		}
		rule(Rule{Practice: x.Key}, 1, func(int) choice {
			return func(_ int, _ stand, actions []action) int { return named(actions, x.Key) }
		})
	}
	const third = 3 // drops are replaced about every three years (common practice, no source)
	for _, x := range k.Set {
		if _, held := k.Held[x.Key]; held || x.Drops != practice.DropsReplaced {
			continue
		}
		rule(Rule{Practice: x.Key, Every: third}, third, func(share int) choice {
			return func(season int, s stand, actions []action) int {
				if season%third == share {
					return named(actions, x.Key)
				}
				return named(actions, between(k.Set, x.Key))
			}
		})
	}
	return last
}

// between is the practice of the seasons between two replacements: the same spout and wash on the drops that stay.
func between(set practice.Set, key practice.Key) practice.Key {
	p, _ := set.Find(key)
	for _, q := range set {
		if q.Drops == practice.DropsKept && q.Spout == p.Spout && q.Wash == p.Wash {
			return q.Key
		}
	}
	return practice.Unsanitized
}

// rotate goes on as usual: drops that are replaced every so many seasons are when they have been in use so long.
func rotate(set practice.Set, c practice.Choice, s stand, actions []action) int {
	p, _ := set.Find(c.Practice)
	if !p.Ages() {
		return named(actions, c.Practice)
	}
	if c.Every > 0 && (s.kind == "" || s.age >= c.Every) {
		return named(actions, c.Practice)
	}
	return named(actions, between(set, c.Practice))
}

// sections puts the parts of the plan into words' reach.
func (p *Plan) sections(k *maker, tables []table, parts []part) {
	for i := range tables {
		t := &tables[i]
		x, at := SectionPlan{Section: t.section}, t.start
		for season, a := range parts[i].actions {
			g := a.gain
			step := Step{Season: k.First + season, Practice: a.practice, Renew: a.renew, DropAge: -1,
				Treatment: a.treatment,
				GainPct:   g.LongRunPct, LowPct: g.LowPct, HighPct: g.HighPct, SeasonLow: g.SeasonLowPct,
				SeasonHigh: g.SeasonHighPct,
				SyrupKg:    t.ledger.SyrupKg(&a.plan, t.y0, g.LongRunPct/100),
				NoneKg:     t.ledger.SyrupKg(&t.none, t.y0, 0),
				Net:        a.net, Cash: a.cash}
			if a.renew {
				step.DropAge = 0
			} else if a.treatment.Practice != a.practice {
				step.DropAge = a.treatment.DropAge
			}
			for _, w := range price.Windows {
				step.Hours += a.hours[w]
			}
			if !a.renew {
				step.Instead, step.Less = instead(t.actions[at], a)
			}
			at = a.next
			if a.practice != practice.Unsanitized && g.DF < 3 {
				p.Chances = false
			}
			x.Steps = append(x.Steps, step)
		}
		p.Sections = append(p.Sections, x)
	}
}

// instead is the best of the actions beside one that leaves the drops, and how much less it brings.
func instead(actions []action, done *action) (practice.Key, float64) {
	var best *action
	for i := range actions {
		if a := &actions[i]; a.open && !a.renew && a.practice != done.practice && (best == nil || a.even > best.even) {
			best = a
		}
	}
	if best == nil {
		return "", 0
	}
	return best.practice, done.even - best.even
}

// fall fills Fall. What a plan brings is a straight line in the level of all prices of what is sold, so that two points
// of it tell where it meets what it is compared with. What young drops are worth in the end is left as it is.
func (p *Plan) fall(k *maker, tables []table, parts, last []part, problem *program) {
	value := 0.0 // of the added sap, discounted: what a doubling of the prices would add
	for i, list := range [][]part{parts, last} {
		sign := 1 - 2*float64(i)
		for _, x := range list {
			t := &tables[x.table]
			prices := k.PricesOf(t.section, k.Set)
			prices.Sells = scaled(prices.Sells, 2)
			l := budget.Of(prices)
			twice := func(x *budget.Plan, gain float64, none *budget.Plan) float64 {
				return l.Margin(x, t.y0, []float64{gain}) - l.Margin(none, t.y0, []float64{0})
			}
			for season, a := range x.actions {
				per := twice(&a.plan, a.gain.LongRunPct/100, &t.none)
				was := t.ledger.Margin(&a.plan, t.y0, []float64{a.gain.LongRunPct / 100}) -
					t.ledger.Margin(&t.none, t.y0, []float64{0})
				value += sign * x.weight * problem.discount[season] * float64(t.section.Taps) * (per - was)
			}
		}
	}
	more := p.Profit.Best
	if last != nil {
		more = p.Rules[0].Short
	}
	if value > 0 && more > 0 && more < value {
		p.Fall = more / value
	}
}

// leaks is what an added inch of mercury would bring each section under vacuum, with what was done last season: LeakPct
// more sap, of the usual kind.
func (k *maker) leaks(tables []table) []Leak {
	var list []Leak
	for _, x := range k.Sections {
		if x.Vacuum == nil || *x.Vacuum <= 0 || x.Buckets {
			continue
		}
		l := budget.Of(k.PricesOf(x, k.Set))
		none := l.Plan(practice.Choice{Practice: practice.Unsanitized})
		y := k.PricesOf(x, k.Set).Baseline.Yield.Best
		more := l.Margin(&none, y*(1+LeakPct/100), []float64{0}) - l.Margin(&none, y, []float64{0})
		list = append(list, Leak{x.Name, *x.Vacuum, float64(x.Taps) * more})
	}
	return list
}

// cautions are those of every practice in the plan, once.
func (p *Plan) cautions(k *maker) {
	said := map[string]bool{}
	for _, x := range k.Set {
		used := slices.ContainsFunc(p.Sections, func(s SectionPlan) bool {
			return slices.ContainsFunc(s.Steps, func(s Step) bool { return s.Practice == x.Key })
		})
		if !used {
			continue
		}
		for _, n := range practice.Cautions(x) {
			if text := n.English(); !said[text] {
				said[text] = true
				p.Cautions = append(p.Cautions, n)
			}
		}
	}
}

// notes is what must be said of the plan as a whole.
func (p *Plan) notes(k *maker) {
	add := func(key string, args ...any) { p.Notes = append(p.Notes, note.New(key, args...)) }
	if len(p.Sections) == 0 {
		add("nothing is planned: the studies say nothing of any section")
		return
	}
	if k.Prices.Place == "" {
		add("the place is not known: every chemical is held back until it is")
	}
	if !p.Chances {
		add("a gain has fewer than three degrees of freedom, so no chance of a loss is stated")
	}
	if q := k.Prices.Sells.Quota; q != nil && len(p.Sections) > 1 {
		add("the quota is shared out over the taps: what one section leaves of its part is not counted for another")
	}
	if slices.ContainsFunc(k.Pool.Moderators, func(m pool.Moderator) bool { return m.Name == "line-age" }) {
		var beyond []string
		for _, s := range p.Sections {
			if x := s.Section.LineAge; x != nil && *x != k.Scope.moderators(s.Section)["line-age"] {
				beyond = append(beyond, s.Section.Name)
			}
		}
		if beyond != nil {
			add("tubing of an age that was not studied counts with the gain of the nearest that was, of %v to %v "+
				"seasons: %s", k.Scope.LineAgeLow, k.Scope.LineAgeHigh, strings.Join(beyond, ", "))
		}
	}
	unknown := 0
	for _, s := range p.Sections {
		if s.Section.Vacuum == nil {
			unknown++
		}
	}
	if unknown > 0 {
		add("%d sections state no vacuum: the pooled gains are used as they are", unknown)
	}
}

// scaled is what is sold with every price by a factor; what is relative stays.
func scaled(s price.Sells, by float64) price.Sells {
	s.Grades = append([]price.Grade(nil), s.Grades...)
	for i := range s.Grades {
		s.Grades[i].Price.Best *= by
	}
	for _, o := range []**price.Outlet{&s.Retail, &s.Sap} {
		if *o != nil {
			x := **o
			x.Price.Best *= by
			*o = &x
		}
	}
	return s
}
