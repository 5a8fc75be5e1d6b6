package show

import (
	"math"
	"slices"
	"strings"
	"time"

	"spile/internal/engine/budget"
	"spile/internal/engine/plan"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/figure"
)

// Handout is a plan as a producer takes it home: one sheet, two sides, in plain words.
type Handout struct {
	Title  string // of the document
	Kicker string // whose it is
	Lead   string // what we advise
	Why    []string
	Marks  []Mark // the money, large
	Figure *figure.Rules
	Do     Table // this season
	Buy    Table
	Hours  Table
	Years  Table // the seasons after
	Left   []Panel
	Right  []Panel
	Inputs Table // six numbers that it rests on
	Foot   string
}

// Mark is a number that a reader sees from afar, and what it is.
type Mark struct{ Value, Label string }

// Panel is a part of the second side: paragraphs, steps in their order, then points in none.
type Panel struct {
	ID, Title            string
	Text, Steps, Bullets []string
	Table                *Table // below the first text
}

// Handout makes the plan into one.
func (w PlanView) Handout() Handout {
	v, p := w.V, w.P
	b := &p.Sugarbush
	h := Handout{
		Title: v.Text("%s: what we advise for %s", b.Name, v.Year(b.First)),
		Foot: v.Text("This sheet informs; it does not permit. The label is the law. Confirm with your food-safety, " +
			"pesticide and certification authorities."),
		Right: []Panel{w.surePanel()},
	}
	buckets := 0
	for _, s := range b.Sections {
		if s.Buckets {
			buckets++
		}
	}
	tubed := buckets < len(b.Sections)
	if tubed {
		h.Left = []Panel{w.leakPanel()}
	}
	h.Left = append(h.Left, w.calendar(tubed))
	if tubed {
		h.Left = append(h.Left, w.seating())
	}
	day := v.None()
	if t, err := time.Parse(time.DateOnly, b.Prices.AsOf); err == nil {
		day = v.Date(t)
	}
	h.Kicker = v.Text("%s; prices as of %s", w.count(w.taps()), day)
	if b.Prices.Place != "" {
		h.Kicker = v.Text("%s; %s; prices as of %s", w.count(w.taps()), v.Place(b.Prices.Place), day)
	}
	if b.Prices.Organic {
		h.Kicker = v.Text("%s; organic certificate", h.Kicker)
	}
	h.Lead = v.Text("Carry on as last season: the studies say nothing of any of your sections.")
	if len(p.Stops) > 0 {
		h.Lead = v.Text("The studies say nothing of any of your sections.")
		h.Why = w.stops()
	}
	if tubed && len(p.Sections) == 0 { // more than the studies, the vacuum tells there
		h.Why, h.Left[0].Text = append(h.Why, h.Left[0].Text[0]), h.Left[0].Text[1:]
	}
	h.Do, h.Buy, h.Hours, h.Years = w.Do(), w.BuyNow(), w.HoursNow(), w.Years()
	if len(p.Sections) > 0 {
		h.Lead = w.lead()
		h.Why, h.Marks = w.why(), w.marks()
		if !w.still() {
			h.Figure = new(w.RulesFigure())
		}
		h.Inputs = w.inputs()
		h.Right = append(h.Right, w.changes())
	}
	h.Right = append(h.Right, w.quota(), w.unknown())
	h.Left, h.Right = balanced(h.Left, h.Right, w.rests(), w.careful(tubed))
	keep := func(x Panel) bool { return len(x.Text)+len(x.Steps)+len(x.Bullets) == 0 }
	h.Left, h.Right = slices.DeleteFunc(h.Left, keep), slices.DeleteFunc(h.Right, keep)
	return h
}

// count is so many taps, in words.
func (w PlanView) count(taps int) string { return w.V.Text("%d taps", note.Count(taps)) }

// seasons is how many seasons the plan has, in words.
func (w PlanView) seasons() string { return w.V.Text("%d seasons", len(w.P.Seasons)) }

// taps is how many taps the sugarbush has, planned or not.
func (w PlanView) taps() int {
	n := 0
	for _, s := range w.P.Sugarbush.Sections {
		n += s.Taps
	}
	return n
}

// lead is the advice: what to do, on how many taps; where that is what was done last season, to carry on.
func (w PlanView) lead() string {
	v, p := w.V, w.P
	var first []plan.Step
	for _, s := range p.Sections {
		first = append(first, s.Steps[0])
	}
	out := v.Text("In %s we advise: %s.", v.Year(p.Sugarbush.First), w.onTaps(first))
	if w.carriesOn() {
		out = v.Text("In %s carry on as last season: %s.", v.Year(p.Sugarbush.First), w.onTaps(first))
	}
	rest := 0
	for _, u := range p.Unplanned {
		if w.stop(u.Section.Name) == nil {
			rest += u.Section.Taps
		}
	}
	if rest > 0 {
		out += " " + v.Text("%s: no trial results; keep doing what you do.", w.count(rest))
	}
	return out
}

// stop is why a section cannot go on as last season; nil where it can.
func (w PlanView) stop(section string) *plan.Stop {
	for i, x := range w.P.Stops {
		if x.Section == section {
			return &w.P.Stops[i]
		}
	}
	return nil
}

// stops says what must stop where, and what is compared with in its place.
func (w PlanView) stops() (list []string) {
	v := w.V
	same := map[plan.Stop][]string{}
	for _, s := range w.P.Stops {
		section := s.Section
		s.Section = ""
		same[s] = append(same[s], section)
	}
	for _, s := range w.P.Stops {
		s.Section = ""
		where := same[s]
		if where == nil {
			continue
		}
		delete(same, s)
		text := v.Text("Stop: %s is not wanted in %s.", w.practice(s.Practice), v.List(where))
		if s.Held {
			text = v.Text("Stop: %s is not permitted in %s.", w.practice(s.Practice), v.List(where))
		}
		list = append(list, text+" "+v.Text("We compare with the cheapest that is left there: %s.",
			w.practice(s.Instead)))
	}
	return list
}

// onTaps is what is done on how many taps, by a step of each section planned; most taps first.
func (w PlanView) onTaps(steps []plan.Step) string {
	taps := map[practice.Key]int{}
	var keys []practice.Key
	for i, x := range steps {
		if taps[x.Practice] == 0 {
			keys = append(keys, x.Practice)
		}
		taps[x.Practice] += w.P.Sections[i].Section.Taps
	}
	slices.SortStableFunc(keys, func(a, b practice.Key) int { return taps[b] - taps[a] })
	var items []string
	for _, k := range keys {
		items = append(items, w.V.Text("%s on %s", w.plain(k), w.count(taps[k])))
	}
	return w.V.List(items)
}

// asLast is true where every section that is planned does as last season, or as it is taken to where that has to stop:
// then nothing is over last season.
func (w PlanView) asLast() bool {
	return !slices.ContainsFunc(w.P.Sections, func(s plan.SectionPlan) bool { return !s.AsLast })
}

// carriesOn is true where so it is, and none has to stop what it did.
func (w PlanView) carriesOn() bool { return w.asLast() && len(w.P.Stops) == 0 }

// group is what is done alike in the first season.
type group struct {
	step      plan.Step
	next      plan.Step // the season after
	why       string    // in few words
	sections  []string
	taps      int
	counts    int        // the season from whose spring on what is done counts
	gain      [3]float64 // and its range of one season; mean over the taps
	syrup     [2]float64 // kilograms a tap: with it, and unsanitized; mean over the taps
	net, less float64
	over      float64 // money over as last season, discounted
	hours     float64
	need      map[string]float64 // pieces, without the spare
}

// springOf is the step of the first spring in which what is done in the first season counts: a wash that is done once
// the sap has run counts in the next.
func springOf(steps []plan.Step) plan.Step {
	if late(steps[0]) && len(steps) > 1 && steps[1].Treatment.Practice == steps[0].Practice {
		return steps[1]
	}
	return steps[0]
}

// late is true of a wash whose spring is the next.
func late(x plan.Step) bool {
	return x.Practice != practice.Unsanitized && x.Treatment.Practice == practice.Unsanitized
}

// add counts a section in.
func (g *group) add(name string, taps int, x plan.Step) {
	g.sections, g.taps, g.hours = append(g.sections, name), g.taps+taps, g.hours+x.Hours
	for _, b := range x.Buy {
		g.need[b.Material] += b.Need
	}
}

// groups are the sections by what they do in the first season, those of most taps first.
func (w PlanView) groups() []group {
	var list []group
	for _, s := range w.P.Sections {
		x, why := s.Steps[0], w.whyHere(s)
		next := s.Steps[min(1, len(s.Steps)-1)]
		i := slices.IndexFunc(list, func(g group) bool {
			return g.step.Practice == x.Practice && g.step.Renew == x.Renew && g.next.Practice == next.Practice &&
				g.why == why
		})
		if i < 0 {
			list = append(list, group{step: x, next: next, why: why, need: map[string]float64{}})
			i = len(list) - 1
		}
		g := &list[i]
		n := float64(s.Section.Taps)
		g.add(s.Section.Name, s.Section.Taps, x)
		g.over += s.OverLast
		g.net, g.less = g.net+x.Net, g.less+x.Less
		counts := springOf(s.Steps)
		g.counts = max(g.counts, counts.Season)
		low, high := counts.OneSeason()
		for j, y := range [...]float64{counts.GainPct, low, high} {
			g.gain[j] += n * y
		}
		g.syrup[0], g.syrup[1] = g.syrup[0]+n*counts.SyrupKg, g.syrup[1]+n*counts.NoneKg
	}
	for i := range list {
		for j := range list[i].gain {
			list[i].gain[j] /= float64(list[i].taps)
		}
		for j := range list[i].syrup {
			list[i].syrup[j] /= float64(list[i].taps)
		}
	}
	slices.SortStableFunc(list, func(a, b group) int { return b.taps - a.taps })
	return list
}

// plain is what a practice puts on a tap, as one says it to a producer; one that washes, or a user's own, has its name.
func (w PlanView) plain(k practice.Key) string {
	v := w.V
	p, _ := w.Set.Find(k)
	switch {
	case !slices.Contains(practice.Shipped(), p):
	case p.Wash.Info().Fitted != "":
		return v.Text(p.Wash.Info().Fitted)
	case !p.Sanitized():
		return v.Text("nothing new, spouts used again,")
	case p.Drops.Info().Fitted != "":
		return v.Text(p.Drops.Info().Fitted)
	case p.Spout.Info().Fitted != "":
		return v.Text(p.Spout.Info().Fitted)
	}
	return w.practice(k)
}

// whyHere is why a section does what it does, in few words.
func (w PlanView) whyHere(s plan.SectionPlan) string {
	v := w.V
	switch stop := w.stop(s.Section.Name); {
	case stop != nil:
		return w.stopped(stop)
	case s.AsLast && w.held(s):
		return v.Text("your limits allow nothing better")
	case s.AsLast:
		return v.Text("nothing else pays enough more")
	case s.Steps[0].Practice == practice.Unsanitized && s.Steps[0].Treatment.Practice != practice.Unsanitized:
		return v.Text("last season's wash still counts")
	case s.Steps[0].Practice == s.Section.Practice && !s.Steps[0].Renew:
		return v.Text("as last season for now, changes later")
	case s.OverLast < -w.P.Slight()*float64(s.Section.Taps)*
		budget.Annuity(w.P.Sugarbush.Prices.Discount.Best, float64(len(w.P.Seasons))):
		if sells := w.P.Sugarbush.Prices.Sells; len(w.P.Worth) > 0 || sells.Quota != nil || sells.CapacityL != nil {
			return v.Text("leaves hours, cash or quota to others")
		}
		return v.Text("one way for all is plainer")
	case s.OverLast <= 0:
		return v.Text("plainer, for next to nothing less")
	case s.Steps[0].Renew:
		return v.Text("old drops cost sap")
	}
	return v.Text("pays more than last season's way")
}

// held is true of a section that would do otherwise, were there no limits on hours and cash.
func (w PlanView) held(s plan.SectionPlan) bool {
	i := slices.IndexFunc(w.P.Sections, func(x plan.SectionPlan) bool { return x.Section.Name == s.Section.Name })
	return w.P.Lift != nil && w.P.Lift.First[i].Practice != s.Steps[0].Practice
}

// stopped is why a section does not do as last season, in few words.
func (w PlanView) stopped(x *plan.Stop) string {
	if x.Held {
		return w.V.Text("last season's way is not permitted")
	}
	return w.V.Text("last season's way is not wanted")
}

// lifted says what the limits on hours and cash stand in the way of, and at what price.
func (w PlanView) lifted() string {
	v, l, money := w.V, w.P.Lift, w.currency()
	if l == nil {
		return ""
	}
	var more []string
	wages := 0.0
	for _, win := range price.Windows {
		if h := l.Hours[win]; h > 0 {
			whole := math.Ceil(h - 1e-6)
			wages += whole * w.P.Sugarbush.Prices.Wage.Best
			more = append(more, v.Text("%d more hours (%s)", int(whole), note.Term(win)))
		}
	}
	if l.Wages > 0 { // of the hours as they are told
		more = append(more, v.Text("about %s of wages for them", v.Sum(wages, money)))
	}
	if l.Cash > 0 {
		more = append(more, v.Text("%s more cash before the sap is sold", v.Sum(math.Ceil(l.Cash), money)))
	}
	return v.Text("What your limits cost: in the season that takes most, %s would bring %s more over %s. In %s that "+
		"would be: %s.", v.List(more), v.Sum(l.Brings, money), w.seasons(), v.Year(w.P.Sugarbush.First),
		w.onTaps(l.First))
}

func (w PlanView) why() []string {
	v, p := w.V, w.P
	g := w.groups()[0]
	var out []string
	if text := w.lifted(); text != "" {
		out = append(out, text)
	}
	out = append(out, w.stops()...)
	if w.idle() {
		out = append(out, v.Text("Clean plastic keeps tap holes running for longer, but no way to it that is open to "+
			"you pays enough more here."))
	} else {
		out = append(out,
			v.Text("Microbes from used plastic make tap holes dry up early; clean plastic keeps them running."))
	}
	if g.step.Practice != practice.Unsanitized {
		out = append(out, v.Text("From the studies we expect about %s more sap here with %s than with reused, "+
			"unwashed spouts and tubing; in a single season expect anything from %s.",
			v.Percent(g.gain[0]), w.plain(g.step.Practice), v.PercentRange(g.gain[1], g.gain[2])))
		if more := g.syrup[0] - g.syrup[1]; more > 0 {
			out = append(out, v.Text("Of syrup that is about %s more a tap, beside the %s that it gives with "+
				"reused, unwashed spouts and tubing.", v.Mass(more), v.Mass(g.syrup[1])))
		}
	}
	if w.used(true, func(p practice.Practice) bool { return p.Sanitized() && reused(p) }) {
		out = append(out, v.Text("Where you only wash, the spouts are used again."))
	}
	for _, g := range w.groups() {
		if late(g.step) {
			out = append(out, v.Text("A wash is done once the sap has run: it counts from the spring of %s on.",
				v.Year(g.counts)))
			break
		}
	}
	if w.asLast() {
		more := v.Text("Carry on: nothing else that you can do nets more.")
		if len(p.Stops) > 0 {
			more = v.Text("Nothing else that is permitted and wanted pays enough more.")
		} else if p.Keeps && !w.tellsPlainer() {
			more = v.Text("Carry on: within your hours and cash nothing else nets more and leaves each section what " +
				"it has.")
		} else if w.tellsPlainer() {
			more = v.Text("Carry on: the best that we found would bring %s more over %s, %s a tap and season, which "+
				"is not worth a change.", v.Sum(p.Plainer, w.currency()), w.seasons(),
				v.Money(p.PerTap(p.Plainer), w.currency()))
		}
		return append(out, more)
	}
	r, ok := w.runnerUp()
	also := w.also()
	switch {
	case w.simple():
		out = append(out, v.Text("It is as simple as it looks: %s.", w.rule(r)))
	case ok && also == nil && w.short(r) < w.short(plan.Rule{Profit: w.zero()}): // else last season's way is better
		out = append(out, v.Text("The plan nets %s a tap and season more than the best simple rule that you can "+
			"follow: %s.", v.Money(w.short(r), w.currency()), w.rule(r)))
	}
	if also != nil {
		out = append(out, v.Text("Either will do: as good, within %s a tap and season, is %s.",
			v.Money(plan.NearTap, w.currency()), v.List(also)))
	} else if w.tellsPlainer() {
		out = append(out, v.Text("Either will do: a schedule that changes more from season to season would bring %s "+
			"more over %s, and is not worth the trouble.", v.Sum(p.Plainer, w.currency()), w.seasons()))
	}
	return out
}

// tellsPlainer is true where being plain costs a cent a tap and season: what is less is not worth a word.
func (w PlanView) tellsPlainer() bool { return w.P.PerTap(w.P.Plainer) >= 0.005 }

// short is what a rule brings less than the plan, in money a tap and season, as the figure's cents tell it.
func (w PlanView) short(r plan.Rule) float64 {
	cents := func(x float64) float64 { return math.Round(100 * w.P.PerTap(x-w.zero())) }
	return (cents(w.P.Profit.Expected) - cents(r.Profit)) / 100
}

// zero is what the figure compares with: going on as last season, or unsanitized where that cannot be priced.
func (w PlanView) zero() float64 {
	if w.P.OverLast == nil {
		return 0
	}
	return w.P.Profit.Expected - w.P.OverLast.Expected
}

// runnerUp is the best of the simple rules that can be followed.
func (w PlanView) runnerUp() (best plan.Rule, ok bool) {
	for _, r := range w.P.Rules {
		if r.Fits && r.Permitted && !r.Last && (!ok || r.Profit > best.Profit) &&
			(r.Practice != practice.Unsanitized || w.short(r) < 0.005) {
			best, ok = r, true
		}
	}
	return best, ok
}

// simple is true of a plan that is a simple rule.
func (w PlanView) simple() bool {
	r, ok := w.runnerUp()
	return ok && w.short(r) < 0.005
}

// also are the simple rules that can be followed, are not the plan itself, and bring next to as much.
func (w PlanView) also() (names []string) {
	v := w.V
	for _, r := range w.P.Rules {
		if less := w.short(r); r.Fits && r.Permitted && less >= 0.005 && less < plan.NearTap+0.005 {
			names = append(names, v.Text("%s (%s less)", w.rule(r), v.Money(less, w.currency())))
		}
	}
	return names
}

// reused is true of a practice that fits nothing new.
func reused(p practice.Practice) bool { return !p.Spout.Info().New && !p.Drops.Info().Renewed }

// rule is the name of a simple rule.
func (w PlanView) rule(r plan.Rule) string {
	v := w.V
	switch {
	case r.Last:
		return v.Text("as last season")
	case r.Every > 0:
		if r.Partly {
			return v.Text("drops replaced by thirds where that is wanted, else as last season")
		}
		return v.Text("drops replaced by thirds, a third each season")
	case r.Partly:
		return v.Text("%s where it is wanted, else as last season", w.practice(r.Practice))
	}
	if len(w.P.Unplanned) > 0 {
		return v.Text("%s in all planned sections", w.practice(r.Practice))
	}
	return v.Text("%s everywhere", w.practice(r.Practice))
}

func (w PlanView) marks() []Mark {
	v, p, money := w.V, w.P, w.currency()
	if w.still() {
		return nil
	}
	x, beside, chance := p.Profit, v.Text("compared with reused, unwashed spouts and tubing"),
		v.Text("the chance that it nets less than reused, unwashed spouts and tubing")
	if p.OverLast != nil && !w.asLast() {
		x, beside, chance = *p.OverLast, v.Text("compared with last year's way"),
			v.Text("the chance that it nets less than last year's way")
	}
	each := v.Text("per tap each season")
	total := v.Text("a season in all, on %s, spread evenly over %s", w.count(p.Taps()), w.seasons())
	if len(p.Seasons) == 1 {
		each, total = v.Text("per tap"), v.Text("in all, on %s", w.count(p.Taps()))
	}
	return []Mark{
		{v.Money(p.PerTap(x.Expected), money), v.Text("%s, %s; 95 times in 100 from %s", each, beside,
			v.MoneyRange(p.PerTap(x.Low), p.PerTap(x.High), money))},
		{v.Sum(p.PerTap(x.Expected)*float64(p.Taps()), money), total},
		{Chance(w.V, x.Loss), chance},
	}
}

// out is why bars of the figure are hatched.
func (w PlanView) out() string {
	v := w.V
	var why []string
	add := func(is bool, text string) {
		if is && !slices.Contains(why, text) {
			why = append(why, text)
		}
	}
	add(w.P.Lift != nil, v.Text("more than your hours and cash"))
	for _, r := range w.P.Rules {
		add(!r.Permitted, v.Text("not permitted, or not wanted in a section"))
		add(r.Permitted && !r.Fits && !r.Takes, v.Text("more than your hours and cash"))
		add(r.Permitted && r.Takes, v.Text("takes from a section what pays there"))
	}
	return strings.Join(why, "; ")
}

// RulesFigure is the plan beside simple rules, a tap and season.
func (w PlanView) RulesFigure() figure.Rules {
	v, p, money := w.V, w.P, w.currency()
	x, zero, over := p.Profit, w.zero(), v.Text("reused, unwashed spouts and tubing")
	if p.OverLast != nil {
		x, over = *p.OverLast, v.Text("going on as last season")
	}
	per := func(x float64) float64 { return p.PerTap(x) }
	f := figure.Rules{
		Words: figure.Words{Title: v.Text("The plan beside simpler ways"), Number: v.Decimal,
			Desc: v.Text("Bars: what the plan and each simple rule net more than %s, a tap and season; the plan with "+
				"its 95 %% interval.", over)},
		Axis: v.Text("net more than %s, %s a tap each season", over, v.Sign(money)),
		Key: figure.RulesKey{Range: v.Text("where it falls 95 times in 100"),
			Out: w.out()},
		Rows: []figure.RulesRow{{Name: v.Text("this plan"), Net: per(x.Expected),
			Value: v.Money(per(x.Expected), money),
			Best:  true, Range: figure.Range{Low: per(x.Low), High: per(x.High)}}},
	}
	if l := p.Lift; l != nil {
		most := per(x.Expected + p.Plainer + l.Brings)
		f.Rows = append(f.Rows, figure.RulesRow{Name: v.Text("the best, were there no limits"), Net: most,
			Value: v.Money(most, money), Out: true})
	}
	for _, r := range p.Rules {
		if r.Last && p.OverLast != nil || r.Practice == practice.Unsanitized && p.OverLast == nil {
			continue // zero by its meaning
		}
		f.Rows = append(f.Rows, figure.RulesRow{Name: w.rule(r), Net: per(r.Profit - zero),
			Value: v.Money(per(r.Profit-zero), money), Out: !r.Fits || !r.Permitted})
	}
	return f
}
