package show

import (
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"spile/internal/engine/budget"
	"spile/internal/engine/plan"
	"spile/internal/note"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// balanced puts more panels below the one or the other column, so that the longer is as short as can be.
func balanced(left, right []Panel, more ...Panel) (l, r []Panel) {
	best := math.Inf(1)
	for mask := range 1 << len(more) {
		a, b := slices.Clone(left), slices.Clone(right)
		for i, p := range more {
			if mask>>i&1 == 1 {
				a = append(a, p)
			} else {
				b = append(b, p)
			}
		}
		if long := max(rows(a), rows(b)); long < best {
			best, l, r = long, a, b
		}
	}
	return l, r
}

// rows is about how many rows panels take in a column.
func rows(list []Panel) (n float64) {
	for _, p := range list {
		n += 2
		for _, text := range slices.Concat(p.Text, p.Steps, p.Bullets) {
			n += 0.3 + math.Ceil(float64(utf8.RuneCountInString(text))/70)
		}
		if p.Table != nil {
			n += 3 + 2*float64(len(p.Table.Rows))
		}
	}
	return n
}

func (w PlanView) leakPanel() Panel {
	v, p, money := w.V, w.P, w.currency()
	x := Panel{ID: "leaks", Title: v.Text("Fix leaks first")}
	total, taps := 0.0, 0
	for _, l := range p.Leaks {
		total += l.Money
		for _, s := range p.Sugarbush.Sections {
			if s.Name == l.Section {
				taps += s.Taps
			}
		}
	}
	if taps == 0 || total < 0.02*float64(taps) { // more sap brings next to nothing, as where no more can be boiled
		x.Text = []string{v.Text("Walk the tubing and mend every leak and sag before you spend on anything else.")}
		return x
	}
	one := v.Text("inch of mercury of vacuum")
	if !v.Units().Inches() {
		one = v.Text("3.4 kPa of vacuum")
	}
	x.Text = []string{v.Text("Before you spend on anything else, walk the tubing with the pump on. Every %s won back "+
		"at the tap hole brings about %s a tap and season, %s in all.", one, v.Money(total/float64(taps), money),
		v.Sum(total, money))}
	if len(p.Sections) > 0 && !w.asLast() {
		best := p.Profit.Expected
		if p.OverLast != nil {
			best = p.OverLast.Expected
		}
		x.Text = append(x.Text, v.Text("The plan on this sheet brings %s a tap and season. Do both, leaks first: a "+
			"leak also feeds microbes to the tap holes.", v.Money(p.PerTap(best), money)))
	}
	var weak []string
	for _, l := range p.Leaks {
		if l.Inches >= 0.5 && l.All > 0 && len(weak) < 5 {
			weak = append(weak, v.Text("%s (%s): %s", l.Section, v.Vacuum(l.Vacuum), v.Sum(l.All, money)))
		}
	}
	if weak != nil {
		text := v.Text("Weakest first, what more a season would bring at the %s that a tight system usually "+
			"attains: %s.", v.Vacuum(p.Sugarbush.Reach()), v.List(weak))
		if p.Sugarbush.Attainable > 0 {
			text = v.Text("Weakest first, what more a season would bring at the %s that you state for a tight "+
				"system: %s.", v.Vacuum(p.Sugarbush.Reach()), v.List(weak))
		}
		x.Text = append(x.Text, text)
	}
	x.Text = append(x.Text, v.Text("Counted with about %s %% more sap for each %s: common practice, no source.",
		v.Number(plan.LeakPct), one))
	return x
}

// used is true where a practice is done of which this holds, in any season or in the first alone, on any tap.
func (w PlanView) used(first bool, holds func(practice.Practice) bool) bool {
	does := func(steps []plan.Step) bool {
		if first {
			steps = steps[:min(1, len(steps))]
		}
		return slices.ContainsFunc(steps, func(x plan.Step) bool {
			p, ok := w.Set.Find(x.Practice)
			return ok && holds(p)
		})
	}
	return slices.ContainsFunc(w.P.Sections, func(s plan.SectionPlan) bool { return does(s.Steps) }) ||
		slices.ContainsFunc(w.P.Unplanned, func(u plan.Unplanned) bool { return does(u.Steps) })
}

// planned is true where the plan itself does a practice in some season.
func (w PlanView) planned(k practice.Key) bool {
	return slices.ContainsFunc(w.P.Sections, func(s plan.SectionPlan) bool {
		return slices.ContainsFunc(s.Steps, func(x plan.Step) bool { return x.Practice == k })
	})
}

func valve(p practice.Practice) bool { return p.Spout.Info().Valve }

// calendar is when to do what in the first season: fit, pull, drain what is tubed.
func (w PlanView) calendar(tubed bool) Panel {
	v, s := w.V, w.P.Seasons[0]
	x := Panel{ID: "calendar", Title: v.Text("Calendar")}
	step := func(key string, args ...any) { x.Steps = append(x.Steps, v.Text(key, args...)) }
	switch weeks := w.leadWeeks(); {
	case len(s.Buy)+len(s.Doses) == 0:
	case weeks > 0:
		step("In winter, %d weeks before you tap at the latest: order what is on the list, and count it when it comes.",
			weeks)
	default:
		step("In winter: order what is on the list, and count it when it comes.")
	}
	if s.Renewed > 0 {
		tenth := func(h float64) string { return v.Hours(math.Round(10*h) / 10) }
		step("In the shop, in winter: cut and put together the drops for %s, with their tees (%s).",
			w.count(int(math.Round(s.Renewed))), tenth(s.Hours[price.Shop]))
		step("Before tapping: cut out the old drops and put in the new ones; mark the date on the lateral (%s).",
			tenth(s.Hours[price.BeforeTapping]))
	}
	if w.used(true, reused) {
		step("Fit, at tapping: in each section the spouts that this sheet says. Last season's are used again " +
			"only where nothing new is planned.")
	} else {
		step("Fit, at tapping: in each section the spouts that this sheet says. Last season's are not used again.")
	}
	if old := w.oldDrops(); old != nil {
		step("Look at drops of %d seasons and more (%s) before tapping: stiff, chewed, or loose on the spout or the "+
			"tee they leak whatever is done to them; replace those (common practice, no source).", OldDrops,
			w.some(old))
	}
	if tubed {
		step("While sap runs: walk the tubing after each hard freeze and mend leaks the same day.")
	}
	step("Pull, within days of the last run: pull every spout, so that the tap holes can close.")
	for _, m := range w.lasting() {
		step("Keep what lasts (%s: %s), section by section, and fit it again next season.",
			v.Term(note.Term(m.Material)), v.Text("%d seasons", plan.Lasts(m)))
	}
	if tubed {
		step("Drain, right after: open the low ends and let all sap out of drops, laterals and mainlines. Sap that " +
			"stands feeds microbes until next spring.")
	} else {
		step("Wash, right after: buckets, lids and spouts, with hot water; rinse them, and let them dry (common " +
			"practice, no source).")
	}
	if w.used(true, practice.Practice.Chemical) {
		step("Wash, after the season, as the plan says and as the label says. Next spring drain and discard the " +
			"first run.")
	}
	if tubed {
		step("Write down what was fitted where and when: drops age, and the next plan needs it.")
	} else {
		step("Write down what was fitted where and when: the next plan needs it.")
	}
	return x
}

// OldDrops is from how many seasons on drops are looked at for stiffness, chewing and fit (common practice, no source).
const OldDrops = 10

// oldDrops are the sections whose drops are that old and stay.
func (w PlanView) oldDrops() (names []string) {
	b := w.P.Sugarbush
	renewed := w.renewed(b.First)
	for _, x := range b.Sections {
		if x.DropsReplaced > 0 && b.First-x.DropsReplaced >= OldDrops && !slices.Contains(renewed, x.Name) {
			names = append(names, x.Name)
		}
	}
	return names
}

// some are the first of many names; the table of this season has them all.
func (w PlanView) some(names []string) string {
	const few = 6
	if len(names) <= few+1 {
		return w.V.List(names)
	}
	return w.V.Text("%s; and %d more", strings.Join(names[:few], "; "), len(names)-few)
}

// seating is how to set a check valve, or a plain spout where the plan has none.
func (w PlanView) seating() Panel {
	v := w.V
	x := Panel{ID: "seat", Title: v.Text("How to seat a spout")}
	check := w.used(false, valve)
	if check {
		x.Title = v.Text("How to seat a check valve")
	}
	step := func(key string) { x.Steps = append(x.Steps, v.Text(key)) }
	step("Drill into sound white wood with a sharp, clean bit of the size that the maker of the spout states, " +
		"slightly upward, so that the hole drains.")
	step("Draw the shavings out with the bit. Do not blow into the hole.")
	if check {
		step("Tip the valve up and down: its ball or flap must move freely. Put one that sticks aside.")
	}
	step("Tap the spout in with a light hammer until the sound changes, and stop: driven harder it splits the wood, " +
		"and the split leaks.")
	step("Push the tubing fully on. Let the drop hang in an easy curve that keeps no sap at the spout.")
	if check {
		step("With the pump on, listen for a hiss. On a cold morning look again: a valve frozen open or shut is a " +
			"plain spout.")
	}
	x.Text = []string{v.Text("The maker's own instructions come first; this is common practice.")}
	return x
}

func (w PlanView) surePanel() Panel {
	v, p, money := w.V, w.P, w.currency()
	x := Panel{ID: "sure", Title: v.Text("How sure we are")}
	if len(p.Sections) == 0 {
		return x
	}
	o, over := p.Profit, v.Text("reused, unwashed spouts and tubing")
	if p.OverLast != nil && !w.asLast() {
		o, over = *p.OverLast, v.Text("going on as last season")
	}
	if w.still() {
		x.Text = []string{v.Text("Nothing new is done: the plan nets what reused, unwashed spouts and tubing do.")}
		x.Table = new(w.singleTable())
		return x
	}
	x.Text = append(x.Text,
		v.Text("Over %s the plan nets about %s more than %s. 95 times in 100 it is from %s.", w.seasons(),
			v.Sum(o.Expected, money), over, v.SumRange(o.Low, o.High, money)))
	text := v.Text("In about %d of 100 cases it nets less than %s.", int(math.Round(100*o.Loss)), over)
	if o.Loss < 0.01 {
		text = v.Text("In fewer than 1 of 100 cases it nets less than %s.", over)
	}
	x.Text[0] += " " + text
	x.Table = new(w.singleTable())
	var words []string
	for _, s := range p.States {
		if s.ID != "usual" && s.Expected.OverLast != nil && !w.asLast() {
			words = append(words, v.Text("%s %s", v.Note(s.Name), v.Sum(*s.Expected.OverLast, money)))
		}
	}
	if words != nil {
		x.Text = append(x.Text, v.Text("Were every season so, the plan would net over all of them, more than going on "+
			"as last season: %s.", strings.Join(words, "; ")))
		if text := w.roomier(func(s plan.InState) float64 { return *s.Expected.OverLast }); text != "" {
			x.Text = append(x.Text, text)
		}
	}
	x.Text = append(x.Text, v.Text("These ranges are of gains, seasons, and what prices, wages and yields "+
		"may be."))
	if d := p.Sugarbush.Prices.Discount.Best; d > 0 && len(p.Seasons) > 1 {
		x.Text = append(x.Text, v.Text("Money of later seasons counts for less, by %s %% a year.", v.Number(100*d)))
	}
	best := v.Text("No other plan nets more, counted the same way.")
	switch limits := len(p.Sugarbush.Crews) > 0 || p.Sugarbush.Cash != nil; {
	case w.tellsPlainer():
		best = w.plainer()
	case p.Gap > slim*p.Profit.Expected && limits:
		best = v.Text("There may be a better plan within your hours and cash, by no more than %s.", w.most(p.Gap))
	case p.Gap > slim*p.Profit.Expected:
		best = v.Text("There may be a better plan, by no more than %s.", w.most(p.Gap))
	case p.Keeps:
		best = v.Text("No other plan within your hours and cash nets more and leaves each section what it has, " +
			"counted the same way.")
	case limits:
		best = v.Text("No other plan within your hours and cash nets more, counted the same way.")
	}
	x.Text = append(x.Text, best)
	return x
}

func (w PlanView) changes() Panel {
	v, p, money := w.V, w.P, w.currency()
	x := Panel{ID: "changes", Title: v.Text("What would change our advice")}
	add := func(key string, args ...any) { x.Bullets = append(x.Bullets, v.Text(key, args...)) }
	if p.Fall > 0 && p.Fall < 0.9 {
		add("If syrup and sap brought %s less, going on as last season would net as much.", v.Percent(100*p.Fall))
	}
	if g := w.groups()[0]; g.step.Instead != "" && g.step.Instead != practice.Unsanitized && g.less > 0 {
		if m, at, ok := w.dearer(g); ok {
			add("If a piece (%s) cost %s and not %s, %s would net as much there.", v.Term(note.Term(m.Name)),
				v.Money(at, money), v.Money(m.Price.Best, money), w.plain(g.step.Instead))
		}
	}
	for _, r := range p.Rules {
		switch {
		case r.Last || r.Practice == practice.Unsanitized:
		case r.Partly && r.Could && r.Every == 0 && r.Everywhere-p.Profit.Expected > 0.005*p.Profit.Expected:
			add("If you would accept %s in every section, it would net %s a tap each season more.", w.plain(r.Practice),
				v.Money(p.PerTap(r.Everywhere-p.Profit.Expected), money))
		case r.Fits && r.Permitted && r.Short < 0.1*p.Profit.Expected && w.short(r) > plan.NearTap && !w.simple():
			add("If you want it simple: %s nets only %s a tap and season less.", w.rule(r), v.Money(w.short(r), money))
		}
	}
	for _, y := range p.Worth {
		if y.OneMore != nil && *y.OneMore >= max(0.5, 0.005*math.Abs(p.Profit.Expected)) &&
			slices.Max(y.Used)+y.Step > y.Cap {
			add("With %s more in every season the plan would bring %s more over %s.", w.step(y),
				v.Sum(*y.OneMore, money), w.seasons())
		}
	}
	x.Bullets = append(x.Bullets, w.inStates()...)
	add("New studies, new prices, or other sections: ask for a new sheet.")
	return x
}

// dearer is the price of a group's own piece, one a tap each season, at which what else could be done nets as much.
func (w PlanView) dearer(g group) (price.Material, float64, bool) {
	for _, u := range w.P.Sugarbush.Prices.Uses {
		if u.Practice != g.step.Practice || len(u.Materials) != 1 || u.Materials[0].Count <= 0 {
			continue
		}
		m := u.Materials[0]
		for _, x := range w.P.Sugarbush.Prices.Materials {
			if x.Name == m.Material {
				return x,
					x.Price.Best + g.less/float64(g.taps)/m.Count*budget.Annuity(w.P.Sugarbush.Prices.Discount.Best,
						m.Life.Best), true
			}
		}
	}
	return price.Material{}, 0, false
}

// quota is what is made beside what may be sold at the full price.
func (w PlanView) quota() Panel {
	v, p := w.V, w.P
	x := Panel{ID: "quota", Title: v.Text("Your quota")}
	q := p.Sugarbush.Prices.Sells.Quota
	if q == nil || len(p.Sections) == 0 {
		return x
	}
	have, make := q.SyrupKg.Best*float64(w.taps()), p.Seasons[0].BulkKg
	x.Text = []string{v.Text("It is %s of bulk syrup. With this plan expect about %s in %s.", v.Weighed(have),
		v.Mass(make), v.Year(p.Sugarbush.First))}
	if make > have {
		text := v.Text("What is beyond the quota counts at %s of its price.", v.Percent(100*q.PriceBeyond.Best))
		if d := q.DelaySeasons.Best; d > 0 {
			text = v.Text("What is beyond the quota counts at %s of its price, paid %s later.",
				v.Percent(100*q.PriceBeyond.Best), v.Text("%d seasons", int(d+0.5)))
		}
		x.Text = append(x.Text, text+" "+v.Text("So added sap brings less here than under a larger quota."))
	} else {
		x.Text = append(x.Text, v.Text("So all of it brings its full price."))
	}
	return x
}

func (w PlanView) unknown() Panel {
	v := w.V
	x := Panel{ID: "unknown", Title: v.Text("What we do not know")}
	var why []string // in the order in which they come
	goOn := map[string][]string{}
	for _, u := range w.P.Unplanned {
		text := ""
		for _, n := range u.Reasons {
			text += " " + capital(v.Note(n)) + "."
		}
		if goOn[text] == nil {
			why = append(why, text)
		}
		goOn[text] = append(goOn[text], u.Section.Name)
	}
	for _, text := range why {
		x.Bullets = append(x.Bullets, v.Text("Not planned: %s.", w.some(goOn[text]))+text)
	}
	for _, y := range w.P.Base.By {
		if y.Studies < 5 && w.planned(y.Practice) {
			x.Bullets = append(x.Bullets, v.Text("What we say of one practice (%s) rests on %s alone: the next may "+
				"well change it.", w.practice(y.Practice), v.Text("%d studies", y.Studies)))
		}
	}
	x.Bullets = append(x.Bullets, v.Text("Your own trees were in none of the studies: leave a few taps as they were, "+
		"and compare."))
	for _, n := range w.P.Unknown {
		x.Bullets = append(x.Bullets, capital(v.Note(n))+".")
	}
	return x
}

func (w PlanView) rests() Panel {
	v, b := w.V, w.P.Base
	x := Panel{ID: "rests", Title: v.Text("What it rests on")}
	if b.Studies == 0 {
		return x
	}
	if len(w.P.Sections) > 0 {
		studies := v.Text("%d studies", b.Studies)
		if b.Given > b.Studies {
			studies = v.Text("%d of %d studies", b.Studies, b.Given)
		}
		x.Text = []string{v.Text("%s at %s in %s (%s).", studies, v.Text("%d stations", b.Sites),
			v.Text("%d seasons", b.Seasons), v.Seasons(b.First, b.Last))}
	}
	for _, n := range w.P.Notes {
		if input.SaysInvented(n) {
			x.Text = append(x.Text, v.Note(n)+".")
		}
	}
	for _, y := range b.By {
		if w.planned(y.Practice) {
			x.Bullets = append(x.Bullets, v.Text("%s: %s at %s in %s", w.practice(y.Practice),
				v.Text("%d studies", y.Studies), v.Text("%d stations", y.Sites), v.Text("%d seasons", y.Seasons)))
		}
	}
	return x
}

// careful is the cautions, with what is held back; all of that is run through tubing.
func (w PlanView) careful(tubed bool) Panel {
	v := w.V
	x := Panel{ID: "cautions", Title: v.Text("Cautions")}
	for _, n := range w.P.Cautions {
		x.Bullets = append(x.Bullets, capital(v.Note(n))+".")
	}
	type reason struct {
		why   string
		names []string
	}
	var held []reason
	for _, p := range w.Set {
		h, ok := w.P.Held[p.Key]
		if !ok || !tubed && p.Wash != practice.WashNone {
			continue
		}
		why := strings.Join(v.Notes(h.Reasons), "; ")
		i := slices.IndexFunc(held, func(r reason) bool { return r.why == why })
		if i < 0 {
			i = len(held)
			held = append(held, reason{why: why})
		}
		held[i].names = append(held[i].names, v.Term(note.Term(p.Name)))
	}
	for _, r := range held {
		x.Bullets = append(x.Bullets, v.Text("Not for now (%s): %s.", v.List(r.names), r.why))
	}
	x.Bullets = append(x.Bullets, v.Text("The label of a product is the law, and local rules come first. This sheet "+
		"permits nothing."))
	return x
}

// Held is each practice that is held back, with the reasons.
func (w PlanView) Held() []string {
	var list []string
	for _, p := range w.Set {
		if h, ok := w.P.Held[p.Key]; ok {
			list = append(list, w.V.Text("%s: %s", w.V.Term(note.Term(p.Name)), strings.Join(w.V.Notes(h.Reasons),
				"; ")))
		}
	}
	return list
}
