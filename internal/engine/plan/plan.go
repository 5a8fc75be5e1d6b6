package plan

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/engine/sure"
	"spile/internal/engine/year"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/species"
	"spile/internal/trade/unit"
)

// Evidence is what a plan rests on.
type Evidence struct {
	Pool   *Gains
	Set    practice.Set
	Held   map[practice.Key]Held // what is not permitted here
	Scope  Scope
	Base   Base
	Year   year.Year // how good or bad a season may be
	States []State
	// the numbers that are unsure, and how many states of them and of the gains are drawn, from which seed
	Assumptions []sure.Assumption
	Draws       int
	Seed        uint64
}

// Base counts what the gains rest on.
type Base struct {
	Studies, Sites, Seasons int
	Given                   int // studies, those that tell nothing of a gain or are left out with them
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
	Reasons note.List
}

// Plan is the answer. Money is that of the sugarbush's prices; what counts seasons together is discounted to the first.
type Plan struct {
	Sugarbush bush.Sugarbush
	Sections  []SectionPlan // those planned
	Unplanned []Unplanned   // those of which the studies say nothing
	Seasons   []Season

	Profit   Profit  // over unsanitized
	OverLast *Profit // over as last season; nil where that cannot be priced
	Single   Single
	States   []InState // the plan in each state of the world, in their order
	Left     float64   // of the profit, what young drops are worth after the last season
	Uncapped float64   // what the best plan would bring without limits on hours and cash
	Lift     *Lift     // what would be done without them; nil where they cost next to nothing
	Raised   []Raised
	Stops    []Stop
	// what the best schedule found brings more than this one, which is plainer, and that is Slight; 0: it is the best
	Plainer float64
	Bound   float64 // no plan within the caps brings more
	// Bound less the plan's profit, 0 or more: the plan may fall short of the best by that much, no more
	Gap   float64
	Worth []Worth // of what is short
	Rules []Rule  // as last season first
	// hours or cash bind, and no section is taken below what it did for their sake: the bound is of such plans
	Keeps bool
	// part that every price of syrup and sap may fall by before the plan brings no more than as last season, or than
	// unsanitized where that cannot be priced; 0 where it never does
	Fall float64
	Base Base

	Leaks    []Leak
	Held     map[practice.Key]Held
	Cautions note.List
	Unknown  note.List // what the plan itself leaves open, from among the Notes
	Notes    note.List
}

// State is a state of the world by name: what prices are in it; nil: as they are.
type State struct {
	ID   string
	Name note.Note
	Of   func(*price.Prices) *price.Prices
}

// InState is the discounted money of the plan in a state that lasts all seasons: over unsanitized, and over as last
// season, which is nil where that cannot be priced. Anew is the plan made for the state: what each section does in it,
// and what that brings more than the plan, if that lies within hours and cash there. nil: the plan itself, since none
// brings more by NearTap a tap and season.
type InState struct {
	State
	Best     Money // at the best guesses
	Expected Money
	Fits     bool // within hours and cash as they are there
	Anew     [][]Step
	More     float64
}

// Money is discounted money over unsanitized and, unless that is nil, over as last season.
type Money struct {
	Profit   float64
	OverLast *float64
}

// Single is the money of one single season, not discounted, of the sections planned: in a poor season, of which there
// is one in ten, a usual one and a good one. Brings is what sap brings less boiling and all that the practices take;
// Over is what that is more than as last season, or than unsanitized where that cannot be priced.
type Single struct{ Brings, Over [3]float64 }

// Profit is discounted money: as expected over all that is unsure of gains, prices and work, by which a plan is chosen;
// at the best guesses; and its 95 % interval and chance of being a loss, seasons among what is drawn.
type Profit struct {
	Expected, Best, Low, High float64
	Loss                      float64 // chance that it lies below 0
}

// SectionPlan is one section's seasons.
type SectionPlan struct {
	Section bush.Section
	Steps   []Step
	Profit  Profit
	// what it is expected to bring more than going on as last season, discounted; than unsanitized where that cannot be
	// priced
	OverLast float64
	AsLast   bool // it goes on as last season, in every season
}

// Step is what a section does in a season.
type Step struct {
	Season   int
	Practice practice.Key
	Renew    bool // drops are replaced
	// seasons in use of drops whose age tells; −1: old, or not part of the gain
	DropAge         int
	Treatment       practice.Treatment // as studied
	GainPct         float64            // long-run gain here over unsanitized
	ranged          func() pool.Gain   // with its ranges; nil: none is known
	SyrupKg, NoneKg float64            // syrup of a tap in the long run: with it, and unsanitized
	Net             float64            // money over unsanitized in the season
	Hours           float64
	Cash            float64
	Buy             []Buy // pieces, with the spare allowance
	// what else that is permitted, leaves the drops and brings most in a season, what lasts spread over its life; ""
	// nothing, or the step replaces drops
	Instead practice.Key
	Less    float64 // money that it brings less
}

// OneSeason is the 95 % range of the gain in one season, percent. Ranges are worked out when they are asked for.
func (x *Step) OneSeason() (low, high float64) {
	if x.ranged == nil {
		return 0, 0
	}
	g := x.ranged()
	return g.SeasonLowPct, g.SeasonHighPct
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

// Missed is what the best there is may bring more than the best schedule found: what the search did not prove away.
func (p *Plan) Missed() float64 { return max(0, p.Gap-p.Plainer) }

// Slight is what a plainer plan may bring less, a tap and season.
func (p *Plan) Slight() float64 { return Slight(p.PerTap(p.Profit.Expected + p.Plainer)) }

// Unplanned is a section of which the studies say nothing, and why: it goes on as last season.
type Unplanned struct {
	Section bush.Section
	Reasons note.List
	Steps   []Step // what it takes; no gain is known. None where the prices say nothing of it.
}

// Stop is a section whose practice of last season is not permitted, or not wanted there; it is compared with going on
// under the cheapest that is.
type Stop struct {
	Section           string
	Practice, Instead practice.Key
	Held              bool // not permitted; else not wanted
}

// Raised is a limit that lies below what last season took, and was raised to it: what was done can be done again.
// Window is "" for cash.
type Raised struct {
	Window    price.Window
	Cap, Took float64 // of the season that took most
}

// Lift is what would be done were there no limits on hours and cash.
type Lift struct {
	Brings float64                  // more than the best within them, discounted
	Hours  map[price.Window]float64 // beyond the crew's, in the season that takes most
	Wages  float64                  // of those hours
	Cash   float64                  // beyond the cash, in the season that takes most
	First  []Step                   // what each section planned would do in the first season
}

// Worth is what a little more or less of what is short in every season would bring or cost, by planning again;
// discounted over all seasons. Window is "" for cash.
type Worth struct {
	Window price.Window
	Cap    float64 // hours, or money
	Step   float64 // an hour, or 100 of the money
	// money that Step more brings, and that Step less costs; nil where it is less than what the plan is not proved to
	// be the best by
	OneMore, OneLess *float64
	Used             []float64
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
	Fits       bool         // within the caps; and what brings more than the plan takes no section below what it did
	Takes      bool         // it does not fit, though within the caps: it takes a section below what it did
	Permitted  bool         // nothing in it is held back here, or unwanted in its section
}

// Leak is what mending leaks would bring a section in a season: for an added inch of mercury of vacuum, and for all up
// to what is attainable there.
type Leak struct {
	Section string
	Vacuum  unit.Pressure
	Money   float64
	Inches  float64 // to what is attainable; 0 where it is attained
	All     float64 // money of them
}

// LeakPct is how much more sap each added inch of mercury of vacuum gives, from LeakFrom up to what is attainable
// (common practice, no source).
const LeakPct = 5.

// LeakFrom is the vacuum from which LeakPct is said (common practice, no source).
var LeakFrom = unit.InchOfMercury.Of(15)

// Of makes the plan. The error is note.Faults where the sugarbush is at fault. Its prices must be free of Faults.
func Of(b bush.Sugarbush, e Evidence) (*Plan, error) {
	if f := b.Faults(e.Set); f != nil {
		return nil, f
	}
	k := &maker{Sugarbush: &b, Evidence: e}
	p := &Plan{Sugarbush: b, Held: e.Held, Base: e.Base}
	f, err := k.frame(p)
	if err != nil {
		return nil, err
	}
	tables, idle := f.tables, f.rest
	p.Leaks = k.leaks(f)
	best, parts, s := k.best(f, true, f.start()...)
	p.Profit.Expected, p.Bound = k.money(f, parts), max(k.bound(f, s), best)
	p.Gap, p.Keeps = max(0, p.Bound-p.Profit.Expected), !f.free
	p.Plainer = best - p.Profit.Expected
	for i := range parts {
		p.Left += f.problem.after * tables[i].left[parts[i].ends]
	}
	p.Seasons = k.needs(f, idle, parts)
	p.lift(k, f)
	p.worth(k, f, s, parts)
	last := p.rules(k, f)
	p.sections(k, f, parts)
	for i, x := range f.idle {
		p.Unplanned[i].Steps = k.steps(&idle[i], x)
	}
	p.fall(k, f, parts, last)
	p.outlook(k, f, parts, last)
	if err := p.states(k, f, s.prices, parts); err != nil {
		return nil, err
	}
	p.cautions(k)
	p.Notes = append(p.Notes, k.notes...)
	p.notes(k)
	if len(p.Sections) > 0 {
		p.Unknown = slices.DeleteFunc(slices.Clone(p.Notes), SaysRaised)
	}
	return p, nil
}

// uses is what an action takes of what is short.
func uses(a *deed, short []price.Window) []float64 {
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

// lift is what the limits on hours and cash stand in the way of.
func (p *Plan) lift(k *maker, f *frame) {
	g := k.lifted(f)
	parts := g.parts(g.problem.solve().paths)
	found := p.Profit.Expected + p.Plainer
	p.Uncapped = max(k.money(f, parts), found)
	slight := func(brings float64) bool { return brings <= Near*math.Abs(found) }
	if slight(p.Uncapped - found) {
		return
	}
	parts = k.plainest(g, parts) // which brings less, or takes no more than there is
	l := &Lift{Brings: k.money(f, parts) - found, Hours: map[price.Window]float64{}}
	if slight(l.Brings) || f.fits(parts) {
		return
	}
	for t, row := range f.used(parts) {
		wages := 0.0
		for i, w := range f.short {
			over := row[i] - f.problem.caps[t][i]
			switch {
			case over <= 0:
			case w == "":
				l.Cash = max(l.Cash, over)
			default:
				l.Hours[w] = max(l.Hours[w], over)
				wages += over * k.Prices.Wage.Best
			}
		}
		l.Wages = max(l.Wages, wages)
	}
	for i := range parts {
		parts[i].actions = parts[i].actions[:1]
		l.First = append(l.First, k.steps(&f.tables[i], parts[i])...)
	}
	p.Lift = l
}

// worth fills what a little more and a little less of each limit would bring. Less than what last season took is never
// asked for.
func (p *Plan) worth(k *maker, f *frame, s solution, parts []part) {
	used := f.used(parts)
	told := func(x float64) *float64 {
		if x = max(0, x); s.bound-s.value > closed*math.Abs(s.bound) && x <= s.bound-s.value {
			return nil
		}
		return &x
	}
	for i, w := range f.short {
		x := Worth{Window: w, Cap: k.given(w), Step: 1}
		if w == "" {
			x.Step = 100
		}
		for t := range used {
			x.Used = append(x.Used, used[t][i])
		}
		again := func(step float64) float64 {
			q := *f.problem
			q.caps = copyGrid(q.caps)
			for t := range q.caps {
				q.caps[t][i] = max(f.least[t][i], q.caps[t][i]+step)
			}
			return q.within().nearby(s.prices, append(f.start(), s.paths)...)
		}
		binds, spare := false, math.Inf(1) // where a limit has no price more of it brings nothing
		for t, row := range f.used(f.parts(s.paths)) {
			binds = binds || s.prices != nil && s.prices[t][i] > 0
			spare = min(spare, f.problem.caps[t][i]-row[i])
		}
		x.OneMore, x.OneLess = new(float64), new(float64)
		if binds {
			x.OneMore = told(again(x.Step) - s.value)
		}
		if spare < x.Step {
			x.OneLess = told(s.value - again(-x.Step))
		}
		p.Worth = append(p.Worth, x)
	}
}

// rules values each simple rule, and gives the parts of as last season (nil where it cannot be priced).
func (p *Plan) rules(k *maker, f *frame) (last []part) {
	try := func(r Rule, parts, literal []part) {
		r.Profit, r.Fits, r.Permitted = k.money(f, parts), f.fits(parts), true
		for _, x := range parts {
			r.Takes = r.Takes || r.Fits && !r.Last && r.Profit > p.Profit.Expected && !k.keeps(f, x)
			r.Permitted = r.Permitted && !slices.ContainsFunc(x.actions, func(a *action) bool { return !a.open })
		}
		r.Fits = r.Fits && !r.Takes
		r.Everywhere, r.Could = k.money(f, literal), f.fits(literal)
		r.Short = p.Profit.Expected - r.Profit
		p.Rules = append(p.Rules, r)
	}
	tables := f.tables
	rule := func(r Rule, shares int, do func(share int) choice) {
		literal := k.everywhere(tables, shares, func(share int, _ *table) choice { return do(share) })
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
			try(r, k.everywhere(tables, shares, k.wanted(r.Practice, do)), literal)
		}
	}
	if last = f.last; last != nil {
		try(Rule{Last: true}, last, last)
	} else if len(tables) > 0 {
		k.notes.Add("the studies or the prices say nothing of what was done last season in some section, so the " +
			"plan is not compared with going on like that")
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

// usual goes on as last season: drops that are replaced every so many seasons are when they have been in use so long.
// Where they are older than any studied, the calendar tells how long that is.
func (k *maker) usual(t *table, season int, s stand, actions []action) int {
	was := k.Usual(t.section, k.Set)
	if p, _ := k.Set.Find(was.Practice); !p.Ages() {
		return named(actions, was.Practice)
	}
	due := was.Every > 0 && s.age >= was.Every
	if was.Every > 0 && s.kind == "" {
		first := 0
		if r := t.section.DropsReplaced; r > 0 {
			first = max(0, r+was.Every-k.First)
		}
		due = season >= first && (season-first)%was.Every == 0
	}
	if due {
		return named(actions, was.Practice)
	}
	return named(actions, between(k.Set, was.Practice))
}

// sections puts the parts of the plan into words' reach.
func (p *Plan) sections(k *maker, f *frame, parts []part) {
	lost, full := k.lost(parts), k.limits.full(len(k.plain))
	all := k.sums(parts)
	for i := range f.tables {
		t := &f.tables[i]
		x := SectionPlan{Section: t.section, Steps: k.steps(t, parts[i])}
		at := t.start
		for season, a := range parts[i].actions {
			step := &x.Steps[season]
			step.Net -= share(lost[season], a.sold.times(full)-t.actions[0][0][0].sold.times(full),
				all[season].times(full)-k.plain.times(full))
			if !a.renew {
				step.Instead, step.Less = instead(t.actions[season][at], a, k.limits.tolls(all[season]))
			}
			at = a.next
		}
		p.Sections = append(p.Sections, x)
	}
}

// steps are the seasons of a part.
func (k *maker) steps(t *table, x part) []Step {
	var list []Step
	for season, a := range x.actions {
		taps := float64(t.section.Taps)
		step := Step{Season: k.First + season, Practice: a.practice, Renew: a.renew, DropAge: -1,
			Treatment: a.treatment,
			GainPct:   a.gain,
			SyrupKg:   t.ledger.Made(a.plan, t.y0, a.gain/100).Kg,
			NoneKg:    t.ledger.Made(t.none, t.y0, 0).Kg,
			Net:       a.net, Cash: a.cash}
		if !t.blind {
			step.ranged = k.Pool.at(a.treatment, a.at).ranged
		}
		if a.renew {
			step.DropAge = 0
		} else if a.of != "" && a.of != a.practice {
			step.DropAge = a.treatment.DropAge
		}
		for _, w := range price.Windows {
			step.Hours += a.hours[w]
		}
		step.Buy = k.counted(k.bought(a.deed, taps))
		list = append(list, step)
	}
	return list
}

// instead is the best of the actions beside one that leaves the drops, and how much less it brings where what is sold
// pays so much toll.
func instead(actions []action, done *action, toll sold) (practice.Key, float64) {
	brings := func(a *action) float64 { return a.even - a.sells.times(toll) }
	var best *action
	for i := range actions {
		if a := &actions[i]; a.open && !a.renew && a.practice != done.practice &&
			(best == nil || brings(a) > brings(best)) {
			best = a
		}
	}
	if best == nil {
		return "", 0
	}
	return best.practice, brings(done) - brings(best)
}

// fall fills Fall. What a plan brings is a straight line in the level of all prices of what is sold, so that what these
// bring of it tells where it meets what it is compared with. What young drops are worth in the end is left as it is.
func (p *Plan) fall(k *maker, f *frame, parts, last []part) {
	gross := func(parts []part) float64 { // of the added sap, discounted
		sum := 0.0
		for season, v := range f.problem.discount {
			all := make(sold, len(k.plain))
			for _, x := range parts {
				sum += v * x.weight * x.actions[season].gross
				all.add(x.weight, x.actions[season].sold)
			}
			for _, l := range k.limits {
				sum -= v * l.gross * (max(0, all[l.of]-l.room) - max(0, k.plain[l.of]-l.room))
			}
		}
		return sum
	}
	more, value := p.Profit.Expected, gross(parts)
	if last != nil {
		more, value = p.Rules[0].Short, value-gross(last)
	}
	if value > 0 && more > 0 && more < value {
		p.Fall = more / value
	}
}

// leaks is what mending them would bring each section of maples under vacuum, with what was done last season: LeakPct
// more sap for an inch, of the usual kind. The weakest come first.
func (k *maker) leaks(f *frame) []Leak {
	now := k.plain
	if f.last != nil {
		now = k.sums(f.last)[0]
	}
	var list []Leak
	for _, x := range k.Sections {
		if x.Vacuum == nil || *x.Vacuum <= 0 || x.Buckets || !species.Maple(x.Species) {
			continue
		}
		prices := free(k.PricesOf(x, k.Set))
		l := budget.Of(prices)
		none := l.Plan(practice.Choice{Practice: practice.Unsanitized})
		y, taps := prices.Baseline.Yield.Best, float64(x.Taps)
		brings := func(inches float64) float64 {
			with := y * (1 + inches*LeakPct/100)
			gained := l.Margin(&none, with, []float64{0}) - l.Margin(&none, y, []float64{0})
			if k.limits == nil || gained <= 0 {
				return taps * gained
			}
			then := slices.Clone(now)
			a, b := l.Made(&none, with, 0), l.Made(&none, y, 0)
			for i := range then {
				more := a.Worth - b.Worth
				if i >= bins {
					more = a.Litres - b.Litres
				}
				then[i] += taps * more
			}
			// limits take the same part of it as of what a practice adds
			first, added := l.Litres()
			full := taps * gained * added.Margin / first.Margin
			return taps * gained * (1 - min(1, (k.limits.loss(then)-k.limits.loss(now))/full))
		}
		inches := max(0, (k.Reach() - max(*x.Vacuum, LeakFrom)).In(unit.InchOfMercury))
		list = append(list, Leak{x.Name, *x.Vacuum, brings(1), inches, brings(inches)})
	}
	slices.SortStableFunc(list, func(a, b Leak) int { return cmp.Compare(a.Vacuum, b.Vacuum) })
	return list
}

// cautions are those of every practice in the plan, once.
func (p *Plan) cautions(k *maker) {
	said, used := map[string]bool{}, map[practice.Key]bool{}
	for _, s := range p.Sections {
		for _, x := range s.Steps {
			used[x.Practice] = true
		}
	}
	for _, u := range p.Unplanned {
		for _, x := range u.Steps {
			used[x.Practice] = true
		}
	}
	for _, x := range k.Set {
		if !used[x.Key] {
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

const (
	raisedCash = "going on as last season takes up to %s in cash, and %s is given: what was done can be done again, " +
		"and the plan takes no more"
	raisedHours = "going on as last season takes up to %v hours (%s), and %v are given: what was done can be done " +
		"again, and the plan takes no more"
)

// SaysRaised is true of a note of what lies below what last season's way takes.
func SaysRaised(n note.Note) bool { return n.Key == raisedCash || n.Key == raisedHours }

// notes is what must be said of the plan as a whole.
func (p *Plan) notes(k *maker) {
	add := p.Notes.Add
	if len(p.Sections) == 0 {
		add("nothing is planned: the studies say nothing of any section")
		return
	}
	if k.Prices.Place == "" {
		add("the place is not known: every chemical is held back until it is")
	}
	for _, r := range p.Raised {
		if r.Window == "" {
			add(raisedCash, note.Money{Amount: r.Took, Currency: k.Prices.Currency},
				note.Money{Amount: r.Cap, Currency: k.Prices.Currency})
		} else {
			add(raisedHours, math.Round(10*r.Took)/10, note.Term(r.Window), math.Round(10*r.Cap)/10)
		}
	}
	if slices.ContainsFunc(k.Pool.Moderators, func(m pool.Moderator) bool { return m.Name == evidence.LineAge }) {
		var beyond []string
		for _, s := range p.Sections {
			x := s.Section.LineAge
			if x != nil && (*x < k.Scope.LineAgeLow || *x+float64(k.Seasons-1) > k.Scope.LineAgeHigh) {
				beyond = append(beyond, s.Section.Name)
			}
		}
		if beyond != nil {
			var where any = strings.Join(beyond, ", ")
			if len(beyond) > 1 && len(beyond) == len(p.Sections) {
				where = note.Term("every section")
			}
			add("tubing gets older from season to season; of an age that was not studied it counts with the gain of "+
				"the nearest that was, of %.3g to %.3g seasons: %s", k.Scope.LineAgeLow, k.Scope.LineAgeHigh, where)
		}
	}
	unknown := 0
	var near []string
	for _, s := range p.Sections {
		if s.Section.Vacuum == nil {
			unknown++
		}
		if k.Scope.off(s.Section) > 0 {
			near = append(near, s.Section.Name)
		}
	}
	if near != nil {
		add("a vacuum a little outside what was studied, %s to %s, counts with the gain of the nearest that was, and "+
			"with a wider range: %s", k.Scope.VacuumLow, k.Scope.VacuumHigh, strings.Join(near, ", "))
	}
	if unknown > 0 {
		add("%d sections state no vacuum: the pooled gains are used as they are", unknown)
	}
}
