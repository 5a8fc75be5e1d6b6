package plan

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/engine/budget"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// dayHours is a day of work in the woods, after which the way there is gone again (common practice, no source).
const dayHours = 8.

// doing is what tells one thing that is done in a section in a season from another, wherever its plastic stood before.
type doing struct {
	practice  practice.Key       // as done: a new spout on drops of some age is new-spout
	renew     bool               // drops are replaced
	treatment practice.Treatment // as studied: a new spout on drops of two seasons is new-drop, 2
	// as the treatment, but of a wash that is done once the sap has run: that of the spring after
	then  practice.Treatment
	of    practice.Key    // whose use of materials and minutes it takes; "" none
	takes practice.Choice // what that is a tap
	loses practice.Choice // whose lost sap counts in the spring of the season
	worn  int             // seasons that what lasts of its use was in place before
	at    *place          // where the section's moderators stand in the season
}

// deed is one thing that can be done in a section in a season, with what it takes and brings.
type deed struct {
	doing
	open  bool         // permitted, and wanted here
	plan  *budget.Plan // of takes, with the sap that is lost
	gain  float64      // long run, percent, of the spring of the season
	meant float64      // and of then

	hours  map[price.Window]float64
	travel float64 // hours on the way, in the hours before tapping
	cash   float64

	row, fixed, lost int // its gain, costs and lost sap in the world; lost −1: it loses none
	noise            int // of the treatment, in the seasons of a state

	// Money and what is sold are of a season and the whole section, as expected.
	net   float64 // over unsanitized
	gross float64 // what more sap brings, before boiling and hauling
	ahead float64 // of net what lasting materials take over the equal yearly part of their life
	even  float64 // were it done each season, with what lasts spread over its life
	sells sold    // what is sold then
	// how it is gone on with: by itself, but drops that are replaced and the seasons that they are young in go round
	// together
	course course
	sold   sold
	worth  float64   // net less the tolls that every schedule meets
	use    []float64 // of what is short, and of what the market limits
}

// course is what going on in some way brings in a season, discounted seasons as one; full is that where the market is
// as full as it comes to be.
type course struct{ net, full float64 }

// gains is what gains the deed, and means what gains its then.
func (a *deed) gains() gainKey { return gainKey{a.treatment, a.at} }
func (a *deed) means() gainKey { return gainKey{a.then, a.at} }

// action is a deed done from a stand: a practice on drops that stay, or a replacement.
type action struct {
	*deed
	next int
}

// stand is where the plastic of a section stands before a season: its drops, replaced by a practice and in use for some
// seasons, and the spouts or whatever else of a use lasts longer than one.
type stand struct {
	kind practice.Key // "" old: replaced so long ago that no study speaks of it
	age  int
	kit  practice.Key // whose use's lasting materials are in place; "" none, or all worn out
	worn int          // seasons that they were used
	// the wash that was done once the sap of the season before had run: it counts in this one's spring
	washed practice.Key
}

// table is one section with all that can be done in it.
type table struct {
	section bush.Section
	blind   bool           // the studies say nothing of it: what is done gains nothing known
	ledger  *budget.Ledger // without the limits that bind all sections together, at the best guesses
	none    *budget.Plan   // unsanitized
	base    []gainKey      // whose mean gain the usual yield holds
	gain    float64        // that gain, a fraction
	y0      float64        // litres a tap unsanitized
	kind    *kind
	per     []float64 // by state, litres unsanitized of each of the usual yield
	stands  []stand
	actions [][][]action // by season and stand; the first is unsanitized
	deeds   []*deed
	plans   map[[2]practice.Choice]*budget.Plan // by what is taken, and whose sap is lost
	start   int
	left    []float64
}

// maker turns sections into tables.
type maker struct {
	*bush.Sugarbush
	Evidence
	notes  note.List
	drawn  *drawn // of another with the same tables; nil: to be drawn
	near   grid   // of another that differs little, the prices of what is short; nil: none
	world  *world
	limits market
	plain  sold // of all sections planned, unsanitized
}

// gain is the long-run percent of a treatment in a section; 0 where the studies say nothing of the section, and none of
// drops too old to follow.
func (k *maker) gain(x *table, t practice.Treatment, at *place) (float64, bool) {
	if x.blind {
		return 0, t.DropAge < bush.MaxSeasons
	}
	return k.gainAt(t, at)
}

// gainAt is the pooled gain of a treatment where a section's moderators stand. Drops older than any studied have none.
func (k *maker) gainAt(t practice.Treatment, at *place) (float64, bool) {
	if t.Practice == practice.Unsanitized {
		return 0, true
	}
	if t.DropAge > k.Pool.Ageing.Oldest {
		return 0, false
	}
	return k.Pool.at(t, at).long()
}

// table works a section out.
func (k *maker) table(x bush.Section, blind bool) table {
	prices := free(k.PricesOf(x, k.Set))
	t := table{section: x, blind: blind, ledger: budget.Of(prices),
		plans: map[[2]practice.Choice]*budget.Plan{}}
	at, none := k.Pool.place(k.Scope.moderators(x, 0)), practice.Choice{Practice: practice.Unsanitized}
	t.none = t.plan(none, none)
	for _, b := range prices.Baseline.Seasons() {
		if _, ok := k.gain(&t, b, at); !ok && b.DropAge > 0 { // older than any studied
			b = practice.Treatment{Practice: between(k.Set, b.Practice)}
		}
		if g, ok := k.gain(&t, b, at); ok && !blind {
			t.base, t.gain = append(t.base, gainKey{b, at}), t.gain+g/100
		}
	}
	if n := len(t.base); n > 0 {
		t.gain /= float64(n)
	} else if !blind {
		k.notes.Add("section %s: the studies say nothing of the practice under which its usual yield was measured: "+
			"the yield is taken as unsanitized, and every figure of money may be too high", x.Name)
	}
	t.y0 = t.ledger.Unsanitized(t.gain)

	t.stands = []stand{{}}
	for _, p := range k.Set {
		if !p.Ages() {
			continue
		}
		for age := 0; ; age++ {
			if _, ok := k.gain(&t, practice.Treatment{Practice: p.Key, DropAge: age}, at); !ok {
				break
			}
			t.stands = append(t.stands, stand{kind: p.Key, age: age})
		}
	}
	for _, s := range t.stands {
		for _, u := range k.Prices.Uses {
			for worn := 1; worn < cycle(u); worn++ {
				t.stands = append(t.stands, stand{kind: s.kind, age: s.age, kit: u.Practice, worn: worn})
			}
		}
	}
	var start stand
	if x.DropsReplaced > 0 {
		start.kind, start.age = k.replaces(x), k.First-x.DropsReplaced
	}
	for _, p := range k.Set {
		last := k.Usual(x, k.Set).Practice == p.Key
		if _, held := k.Held[p.Key]; k.after(p) && (last || !held && !slices.Contains(x.Unwanted, p.Key)) {
			for _, s := range t.stands {
				if s.washed == "" {
					s.washed = p.Key
					t.stands = append(t.stands, s)
				}
			}
			if last {
				start.washed = p.Key
			}
		}
	}
	t.start = t.find(start)
	for season := range k.Seasons {
		was := at
		if at = k.Pool.place(k.Scope.moderators(x, season)); season > 0 && at == was {
			t.actions = append(t.actions, t.actions[season-1])
			continue
		}
		now := make([][]action, len(t.stands))
		for i := range t.stands {
			now[i] = k.actions(&t, i, at)
		}
		t.actions = append(t.actions, now)
	}
	return t
}

// after is true of a wash that is done once the sap has run, which counts in the spring of the season after.
func (k *maker) after(p practice.Practice) bool {
	return p.Wash != practice.WashNone && slices.ContainsFunc(k.Prices.Uses, func(u price.Use) bool {
		return u.Practice == p.Key && u.Minutes[price.AfterSeason].Best > 0
	})
}

// dry is what a wash is without it: the same spout on the same drops.
func (k *maker) dry(p practice.Practice) practice.Key {
	for _, q := range k.Set {
		if q.Spout == p.Spout && q.Drops == p.Drops && q.Wash == practice.WashNone {
			return q.Key
		}
	}
	return practice.Unsanitized
}

// replaces is the practice by which a section's drops were replaced.
func (k *maker) replaces(x bush.Section) practice.Key {
	if p, ok := k.Set.Find(x.Practice); ok && p.Ages() {
		return p.Key
	}
	for _, p := range k.Set {
		if p.Drops == practice.DropsReplaced {
			return p.Key
		}
	}
	return ""
}

// courses fills the courses of the deeds; full is the toll of the market where most is sold. Replaced drops go round
// after as many seasons as bring most.
func (t *table) courses(full sold, discount float64) {
	for _, a := range t.deeds {
		a.course = course{a.even, a.even - a.sells.times(full)}
	}
	for _, first := range t.deeds {
		if !first.renew {
			continue
		}
		var sum, best course
		var weight, v = 0., 1.
		of := func(age int) func(*deed) bool {
			return func(a *deed) bool {
				return a.at == first.at &&
					a.treatment == practice.Treatment{Practice: first.practice, DropAge: age}
			}
		}
		for age := 0; ; age++ {
			a := first
			if age > 0 {
				i := slices.IndexFunc(t.deeds, of(age))
				if i < 0 {
					break
				}
				a = t.deeds[i]
			}
			sum.net += v * a.course.net
			sum.full += v * a.course.full
			if weight += v; age == 0 || sum.net/weight > best.net {
				best = course{sum.net / weight, sum.full / weight}
			}
			v /= 1 + discount
		}
		for _, a := range t.deeds {
			if a.at == first.at && a.treatment.Practice == first.practice {
				a.course = best
			}
		}
	}
}

// find is the number of a stand; what is older than any studied is old.
func (t *table) find(s stand) int {
	if i := slices.Index(t.stands, s); i >= 0 {
		return i
	}
	s.kind, s.age = "", 0
	return max(0, slices.Index(t.stands, s))
}

// longest is how many seasons a thing may last for a plan to follow its age: a spout does not last longer. What does is
// equipment, whose yearly part is charged each season.
const longest = 4

// Lasts is the whole seasons that a material of a use is used; 1 where its age is not followed.
func Lasts(m price.MaterialUse) int {
	if n := int(m.Life.Best + 1e-9); n <= longest {
		return max(1, n)
	}
	return 1
}

// cycle is after how many seasons all materials of a use whose age is followed are bought together again.
func cycle(u price.Use) int {
	n := 1
	for _, m := range u.Materials {
		a, b := n, Lasts(m)
		for b > 0 {
			a, b = b, a%b
		}
		n = n / a * Lasts(m)
	}
	return n
}

// due is how much of a material, of one piece, is bought in a season of its use's cycle.
func due(m price.MaterialUse, worn int) float64 {
	switch n := Lasts(m); {
	case n == 1:
		return 1 / m.Life.Best
	case worn%n == 0:
		return 1
	}
	return 0
}

// actions lists what can be done from a stand. A new spout on young drops is the replacement's own later season; any
// other practice on young drops was not studied, and counts with the gain it has on old ones. What was washed once the
// sap of the season before had run gains by it where nothing is done now.
func (k *maker) actions(t *table, stands int, at *place) []action {
	s := t.stands[stands]
	older := stand{kind: s.kind, age: s.age + 1}
	if s.kind == "" {
		older.age = 0
	}
	idle := practice.Treatment{Practice: practice.Unsanitized}
	none := doing{practice: practice.Unsanitized, treatment: idle, then: idle, takes: t.none.Choice,
		loses: t.none.Choice, at: at}
	first := k.deed(t, none)
	if s.washed != "" {
		none.treatment.Practice, none.loses.Practice = s.washed, s.washed
		first = cmp.Or(k.deed(t, none), first)
	}
	list := make([]action, 1, 1+len(k.Set))
	list[0] = action{first, t.find(older)}
	kind, _ := k.Set.Find(s.kind)
	for _, p := range k.Set {
		if !p.Sanitized() {
			continue
		}
		x := doing{practice: p.Key, renew: p.Ages(), treatment: practice.Treatment{Practice: p.Key}, of: p.Key,
			takes: practice.Choice{Practice: p.Key}, at: at}
		then := older
		switch {
		case p.Ages():
			x.takes.Every = 1
			then = stand{kind: p.Key, age: 1}
		case s.kind != "" && p.Drops == practice.DropsKept && p.Spout == kind.Spout && p.Wash == kind.Wash:
			x.treatment, x.of = practice.Treatment{Practice: s.kind, DropAge: s.age}, s.kind
			x.takes.Practice = s.kind
		}
		x.then, x.loses = x.treatment, x.takes
		if x.of == p.Key && k.after(p) {
			if then.washed = p.Key; s.washed != p.Key {
				x.treatment.Practice, x.loses = k.dry(p), t.none.Choice
			}
		}
		if i := slices.IndexFunc(k.Prices.Uses, func(u price.Use) bool { return u.Practice == x.of }); i >= 0 {
			if s.kit == x.of {
				x.worn = s.worn
			}
			if n := x.worn + 1; n < cycle(k.Prices.Uses[i]) {
				then.kit, then.worn = x.of, n
			}
		}
		if a := k.deed(t, x); a != nil {
			list = append(list, action{a, t.find(then)})
		}
	}
	return list
}

// plan is a choice as the section takes it, with the sap that another loses.
func (t *table) plan(takes, loses practice.Choice) *budget.Plan {
	key := [2]practice.Choice{takes, loses}
	if t.plans[key] == nil {
		x := t.ledger.Plan(takes)
		if loses != takes {
			x = x.Losing(*t.plan(loses, loses))
		}
		t.plans[key] = &x
	}
	return t.plans[key]
}

// deed works out what is done, at the best guesses; what it brings is expected once all sections are known. Nil where
// the studies or the prices say nothing of it.
func (k *maker) deed(t *table, x doing) *deed {
	for i := len(t.deeds) - 1; i >= 0 && t.deeds[i].at == x.at; i-- { // those of a season stand together
		if t.deeds[i].doing == x {
			return t.deeds[i]
		}
	}
	gain, ok := k.gain(t, x.treatment, x.at)
	meant, fine := k.gain(t, x.then, x.at)
	if !ok || !fine || !t.ledger.Priced(x.takes) {
		return nil
	}
	a := &deed{doing: x, gain: gain, meant: meant, plan: t.plan(x.takes, x.loses), open: x.of == ""}
	t.deeds = append(t.deeds, a)
	if !a.open {
		_, held := k.Held[x.practice]
		a.open = !held && !slices.Contains(t.section.Unwanted, x.practice)
	}
	taps := float64(t.section.Taps)
	a.hours = map[price.Window]float64{}
	for _, w := range price.Windows {
		if m := a.plan.Minutes[w]; m != 0 {
			a.hours[w] = taps * m / 60
		}
	}
	if h := a.hours[price.BeforeTapping]; h > 0 { // the way for tapping and pulling is paid already
		a.travel = math.Ceil(h/dayHours) * 2 * t.section.ReachMin / 60
		a.hours[price.BeforeTapping] += a.travel
	}
	ahead := 0.
	for _, m := range k.lasting(a) {
		p := k.price(m.Material)
		ahead += m.Count * p * (due(*m, a.worn) - 1/budget.Annuity(k.Prices.Discount.Best, m.Life.Best))
	}
	a.cash = taps*(a.plan.Cost()-k.later(a)+ahead) + a.travel*k.Prices.Wage.Best
	for _, b := range k.counted(k.bought(a, taps)) { // the spare
		if b.Need < taps { // of equipment of which a tap takes a part, sections share a piece
			b.Money = b.Need * (1 + k.Spare) * b.price
		}
		a.cash += b.Money - b.Need*b.price
	}
	a.cash = max(0, a.cash)
	return a
}

// lasting are the materials of an action's use that last several seasons.
func (k *maker) lasting(a *deed) (list []*price.MaterialUse) {
	for i := range k.Prices.Uses {
		for j := range k.Prices.Uses[i].Materials {
			if m := &k.Prices.Uses[i].Materials[j]; k.Prices.Uses[i].Practice == a.of && Lasts(*m) > 1 {
				list = append(list, m)
			}
		}
	}
	return list
}

// later is what an action takes a tap once the sap is sold: the work after the season, and the chemical of a wash that
// is done then.
func (k *maker) later(a *deed) float64 {
	minutes := a.plan.Minutes[price.AfterSeason]
	sum := max(0, minutes) / 60 * k.Prices.Wage.Best
	for _, u := range k.Prices.Uses {
		if u.Practice == a.of && u.Chemical != "" && minutes > 0 {
			sum += a.plan.ChemicalL * k.litre(u.Chemical)
		}
	}
	return sum
}

// ahead is what lasting materials are expected to take a tap in this season of their life over the equal yearly part of
// it that the budget charges: more when they are bought, less when they are used again.
func (k *maker) ahead(a *deed) float64 {
	sum := 0.0
	for _, m := range k.lasting(a) {
		of := k.world.ahead[m]
		sum += m.Count * (due(*m, a.worn)*of[0] - of[1])
	}
	return sum
}

// left is what the plastic of each stand is worth more than old plastic once the plan has ended, at the discount of the
// season after, and a wash that was done for the spring more than none: the difference of what both would bring, were
// the best practice that fits gone on with (nil: all fit). Long after, it no longer hangs on how long; where money is
// not discounted it still goes round with the seasons of a rotation, so that it is averaged over many lengths. What is
// sold is worth less by the tolls of the limits that bind.
func (k *maker) left(t *table, toll sold, fits func(*action) bool) []float64 {
	const from, to = 60, 120
	v := 1 / (1 + max(0, k.Prices.Discount.Best))
	now, next := make([]float64, len(t.stands)), make([]float64, len(t.stands))
	left := make([]float64, len(t.stands))
	end := t.actions[len(t.actions)-1] // tubing as old as at the end
	type open struct {
		net  float64
		next int
	}
	can := make([][]open, len(t.stands))
	for s := range can {
		for i := range end[s] {
			if a := &end[s][i]; a.open && (fits == nil || fits(a)) {
				can[s] = append(can[s], open{a.net - a.sold.times(toll), a.next})
			}
		}
	}
	for n := 1; n <= to; n++ {
		for s := range t.stands {
			best := math.Inf(-1)
			for _, x := range can[s] {
				best = max(best, x.net+v*now[x.next])
			}
			next[s] = best
		}
		now, next = next, now
		if n > from {
			for s := range left {
				left[s] += (now[s] - now[0]) / (to - from)
			}
		}
	}
	return left
}
