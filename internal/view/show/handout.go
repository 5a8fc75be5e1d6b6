package show

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"spile/internal/engine/budget"
	"spile/internal/engine/plan"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
	"spile/internal/view/figure"
	"spile/internal/view/say"
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
}

// Handout makes the plan into one.
func (w PlanView) Handout() Handout {
	v, p := w.V, w.P
	b := &p.Sugarbush
	h := Handout{
		Title: v.Text("%s: what we advise for %s", b.Name, v.Year(b.First)),
		Foot:  v.Text("This sheet informs; it does not permit. The label is the law. Confirm with your food-safety, pesticide and certification authorities."),
		Left:  []Panel{w.leakPanel()},
		Right: []Panel{w.surePanel()},
	}
	day := v.None()
	if t, err := time.Parse(time.DateOnly, b.Prices.AsOf); err == nil {
		day = v.Date(t)
	}
	h.Kicker = v.Text("%s taps; prices as of %s", v.Count(w.taps()), day)
	if b.Prices.Place != "" {
		h.Kicker = v.Text("%s taps; place %s; prices as of %s", v.Count(w.taps()), b.Prices.Place, day)
	}
	if b.Prices.Organic {
		h.Kicker = v.Text("%s; organic certificate", h.Kicker)
	}
	h.Lead = v.Text("We advise nothing yet: the studies say nothing of any of your sections.")
	if len(p.Sections) > 0 {
		var items []string
		for _, g := range w.groups() {
			items = append(items, v.Text("%s on %s taps", w.plain(g.step.Practice), v.Count(g.taps)))
		}
		h.Lead = v.Text("In %s we advise: %s.", v.Year(b.First), v.List(items))
		if rest := w.taps() - p.Taps(); rest > 0 {
			h.Lead += " " + v.Text("Nothing is planned on %s taps: no evidence here.", v.Count(rest))
		}
		h.Why, h.Marks = w.why(), w.marks()
		h.Figure = new(w.RulesFigure())
		h.Do, h.Buy, h.Hours, h.Years = w.Do(), w.BuyNow(), w.HoursNow(), w.Years()
		h.Inputs = w.inputs()
		h.Left = append(h.Left, w.calendar(), w.seating())
		h.Right = append(h.Right, w.changes())
	}
	h.Right = append(h.Right, w.quota(), w.unknown())
	h.Left, h.Right = balanced(h.Left, h.Right, w.rests(), w.careful())
	keep := func(x Panel) bool { return len(x.Text)+len(x.Steps)+len(x.Bullets) == 0 }
	h.Left, h.Right = slices.DeleteFunc(h.Left, keep), slices.DeleteFunc(h.Right, keep)
	return h
}

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
	}
	return n
}

// taps is how many taps the sugarbush has, planned or not.
func (w PlanView) taps() int {
	n := 0
	for _, s := range w.P.Sugarbush.Sections {
		n += s.Taps
	}
	return n
}

// group is what is done alike in the first season.
type group struct {
	step      plan.Step
	sections  []string
	taps      int
	gain      [3]float64 // and its range of one season; mean over the taps
	syrup     [2]float64 // kilograms a tap: with it, and unsanitized; mean over the taps
	net, less float64
}

// groups are the sections by what they do in the first season, those of most taps first.
func (w PlanView) groups() []group {
	var list []group
	for _, s := range w.P.Sections {
		x := s.Steps[0]
		i := slices.IndexFunc(list, func(g group) bool { return g.step.Practice == x.Practice && g.step.Renew == x.Renew })
		if i < 0 {
			list = append(list, group{step: x})
			i = len(list) - 1
		}
		g := &list[i]
		n := float64(s.Section.Taps)
		g.sections = append(g.sections, s.Section.Name)
		g.taps += s.Section.Taps
		g.net, g.less = g.net+x.Net, g.less+x.Less
		for j, y := range [...]float64{x.GainPct, x.SeasonLow, x.SeasonHigh} {
			g.gain[j] += n * y
		}
		g.syrup[0], g.syrup[1] = g.syrup[0]+n*x.SyrupKg, g.syrup[1]+n*x.NoneKg
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
	case !slices.Contains(practice.Shipped(), p) || p.Chemical():
	case !p.Sanitized():
		return v.Text("nothing new, spouts used again,")
	case p.Drops.Info().Fitted != "":
		return v.Text(p.Drops.Info().Fitted)
	case p.Spout.Info().Fitted != "":
		return v.Text(p.Spout.Info().Fitted)
	}
	return w.practice(k)
}

func (w PlanView) why() []string {
	v, p := w.V, w.P
	g := w.groups()[0]
	out := []string{v.Text("Microbes from used plastic make tap holes dry up early; clean plastic keeps them running.")}
	if g.step.Practice != practice.Unsanitized {
		out = append(out, v.Text("From the studies we expect about %s more sap here with %s than with spouts and tubing used again and cleaned with nothing; in a single season anything from %s.",
			v.Percent(g.gain[0]), w.plain(g.step.Practice), v.PercentRange(g.gain[1], g.gain[2])))
		if more := g.syrup[0] - g.syrup[1]; more > 0 {
			out = append(out, v.Text("Of syrup that is about %s more a tap, beside the %s that it gives with used plastic cleaned with nothing.", v.Mass(more), v.Mass(g.syrup[1])))
		}
	}
	if r, ok := w.runnerUp(); ok && p.PerTap(r.Short) < 0.005 {
		out = append(out, v.Text("It is as simple as it looks: %s, season after season.", w.rule(r)))
	} else if ok {
		out = append(out, v.Text("The plan nets %s a tap and season more than the best simple rule that you can follow: %s.", v.Money(p.PerTap(r.Short), w.currency()), w.rule(r)))
	}
	if less := p.Uncapped - p.Profit.Best; less > 0.005*p.Uncapped {
		out = append(out, v.Text("With no limit on hours and cash it would net %s a tap and season more.", v.Money(p.PerTap(less), w.currency())))
	}
	return out
}

// runnerUp is the best of the simple rules that can be followed.
func (w PlanView) runnerUp() (best plan.Rule, ok bool) {
	for _, r := range w.P.Rules {
		if r.Fits && r.Permitted && !r.Last && (!ok || r.Profit > best.Profit) && r.Practice != practice.Unsanitized {
			best, ok = r, true
		}
	}
	return best, ok
}

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
	return v.Text("%s everywhere", w.practice(r.Practice))
}

func (w PlanView) marks() []Mark {
	v, p, money := w.V, w.P, w.currency()
	x, beside, chance := p.Profit, v.Text("a tap and season more than used plastic cleaned with nothing"), v.Text("the chance that it nets less than used plastic cleaned with nothing")
	if p.OverLast != nil {
		x, beside, chance = *p.OverLast, v.Text("a tap and season more than going on as last season"), v.Text("the chance that it nets less than going on as last season")
	}
	seasons := float64(p.Taps())
	list := []Mark{
		{v.Money(p.PerTap(x.Best), money), v.Text("%s; 95 times of 100 from %s", beside, v.MoneyRange(p.PerTap(x.Low), p.PerTap(x.High), money))},
		{v.Sum(p.PerTap(x.Best)*seasons, money), v.Text("a season in all, on %s taps, spread evenly over %d seasons", v.Count(p.Taps()), len(p.Seasons))},
	}
	if p.Chances {
		list = append(list, Mark{w.chance(x.Loss), chance})
	}
	return list
}

// RulesFigure is the plan beside simple rules, a tap and season.
func (w PlanView) RulesFigure() figure.Rules {
	v, p, money := w.V, w.P, w.currency()
	per := func(x float64) float64 { return p.PerTap(x) }
	f := figure.Rules{
		Words: figure.Words{Title: v.Text("The plan beside simpler ways"), Number: v.Decimal,
			Desc: v.Text("Bars: what the plan and each simple rule net over used plastic cleaned with nothing, a tap and season; the plan with its 95 %% interval.")},
		Axis: v.Text("net over used plastic cleaned with nothing, %s a tap and season", money),
		Key:  figure.RulesKey{Range: v.Text("where it falls 95 times of 100"), Out: v.Text("not permitted, not wanted, or more than your hours and cash")},
		Rows: []figure.RulesRow{{Name: v.Text("this plan"), Net: per(p.Profit.Best), Value: v.Money(per(p.Profit.Best), money), Best: true,
			Range: figure.Range{Low: per(p.Profit.Low), High: per(p.Profit.High)}}},
	}
	for _, r := range p.Rules {
		if r.Practice == practice.Unsanitized && !r.Last {
			continue // zero by its meaning
		}
		f.Rows = append(f.Rows, figure.RulesRow{Name: w.rule(r), Net: per(r.Profit), Value: v.Money(per(r.Profit), money), Out: !r.Fits || !r.Permitted})
	}
	return f
}

// Do is what is done in the first season: a row for the sections that do the same.
func (w PlanView) Do() Table {
	v := w.V
	t := Table{ID: "handout-do", Title: v.Text("This season, %s", v.Year(w.P.Sugarbush.First)), Columns: []Column{
		{ID: "practice", Name: v.Text("do this")}, {ID: "sections", Name: v.Text("sections")}, {ID: "taps", Name: v.Text("taps"), Right: true},
		{ID: "gain_pct", Name: v.Text("more sap"), Unit: "%", Right: true, Interval: true},
		{ID: "net_tap", Name: v.Text("net a tap"), Right: true}, {ID: "net", Name: v.Text("net in all"), Right: true},
	}}
	for _, g := range w.groups() {
		gain := decimals(v, g.gain[0], g.gain[1], g.gain[2], 0)
		if g.step.Practice == practice.Unsanitized {
			gain = words(v.None())
		}
		t.Rows = append(t.Rows, Row{ID: string(g.step.Practice), Cells: []Cell{words(w.alone(g.step.Practice)), words(v.List(g.sections)), count(v, g.taps), gain,
			num(v.Money(g.net/float64(g.taps), w.currency()), g.net/float64(g.taps)), sum(v, g.net, w.currency())}})
	}
	for _, u := range w.P.Unplanned {
		t.Rows = append(t.Rows, Row{ID: u.Section.Name, Dim: true, Cells: []Cell{words(v.Text("no evidence here")), words(u.Section.Name), count(v, u.Section.Taps),
			words(v.None()), words(v.None()), words(v.None())}})
	}
	t.Notes = []Footnote{{Text: v.Text("More sap and net: over used plastic cleaned with nothing. In brackets: where a single season may fall.")}}
	if slices.ContainsFunc(w.P.Sections, func(s plan.SectionPlan) bool { return s.Steps[0].Renew }) || len(w.lasting()) > 0 {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("What lasts, such as new drops, costs this season and pays over the seasons after.")})
	}
	if part := w.P.Sugarbush.Prices.FarmAdjust.Best; part < 1 {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("Money counts %s of the added sap that trials found, since a farm gets less.", v.Percent(100*part))})
	}
	return t
}

// alone is plain where it stands alone, and not before what it is on.
func (w PlanView) alone(k practice.Key) string {
	if k == practice.Unsanitized {
		return w.V.Text("nothing new: spouts used again")
	}
	return w.plain(k)
}

// sum is a cell of money of many taps.
func sum(v *say.Voice, x float64, currency string) Cell {
	return num(v.Sum(x, currency), x)
}

// hours is a cell of hours: to a tenth where they are few.
func hours(v *say.Voice, h float64) Cell {
	if h > 0 && h < 9.95 {
		return decimal(v, h, 1)
	}
	return decimal(v, h, 0)
}

// BuyNow is the buying list of the first season.
func (w PlanView) BuyNow() Table {
	v, s := w.V, w.P.Seasons[0]
	t := Table{ID: "handout-buy", Title: v.Text("To buy for %s", v.Year(s.Season)), Columns: []Column{
		{ID: "what", Name: v.Text("what")}, {ID: "count", Name: v.Text("how many"), Right: true}, {ID: "money", Name: v.Text("money"), Right: true},
	}}
	total := 0.0
	for _, b := range s.Buy {
		total += b.Money
		t.Rows = append(t.Rows, Row{ID: b.Material, Cells: []Cell{words(v.Term(note.Term(b.Material))), decimal(v, b.Count, 0), sum(v, b.Money, w.currency())}})
	}
	for _, d := range s.Doses {
		total += d.Money
		t.Rows = append(t.Rows, Row{ID: d.Chemical, Cells: []Cell{words(v.Term(note.Term(d.Chemical))), words(v.Volume(unit.Volume(d.Litres))), sum(v, d.Money, w.currency())}})
	}
	if len(t.Rows) > 1 {
		t.Rows = append(t.Rows, Row{ID: "all", Strong: true, Cells: []Cell{words(v.Text("in all")), words(""), sum(v, total, w.currency())}})
	}
	if s.Tubing > 0 {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("The drops take %s of tubing.", w.Length(s.Tubing))})
	}
	t.Notes = append(t.Notes, Footnote{Text: v.Text("A spare allowance of %s %% is in it.", v.Number(100*w.P.Sugarbush.Spare))})
	if s.PlasticKg >= 0.5 {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("It is %s kg of plastic; ask where the old is taken back.", v.Decimal(s.PlasticKg, 0))})
	}
	return t
}

// HoursNow is the work of the first season beside what the crew has.
func (w PlanView) HoursNow() Table {
	v, s := w.V, w.P.Seasons[0]
	t := Table{ID: "handout-hours", Title: v.Text("Hours in %s", v.Year(s.Season)), Columns: []Column{
		{ID: "window", Name: v.Text("when")}, {ID: "hours", Name: v.Text("it takes"), Right: true}, {ID: "have", Name: v.Text("you have"), Right: true},
	}}
	for _, win := range price.Windows {
		have := words(v.Text("no limit"))
		crew, limited := w.P.Sugarbush.Crews[win]
		if limited {
			have = decimal(v, crew.Hours(), 0)
		} else if s.Hours[win] < 0.05 {
			continue
		}
		t.Rows = append(t.Rows, Row{ID: string(win), Cells: []Cell{words(v.Term(note.Term(win))), hours(v, s.Hours[win]), have}})
	}
	t.Notes = []Footnote{{Text: v.Text("Hours are over and above tapping and pulling, the way there included.")}}
	if c := w.P.Sugarbush.Cash; c != nil {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("It takes %s in cash before the sap is sold; you have %s.", v.Sum(s.Cash, w.currency()), v.Sum(*c, w.currency()))})
	} else {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("It takes %s in cash before the sap is sold.", v.Sum(s.Cash, w.currency()))})
	}
	return t
}

// rowsOfYears is how many rows of seasons a handout has; what comes later is planned anew by then.
const rowsOfYears = 6

// Years is what each of the next seasons takes; seasons that are alike share a row.
func (w PlanView) Years() Table {
	v := w.V
	t := Table{ID: "handout-years", Title: v.Text("Season by season"), Columns: []Column{
		{ID: "season", Name: v.Text("season")}, {ID: "drops", Name: v.Text("new drops in")}, {ID: "buy", Name: v.Text("to buy")},
		{ID: "hours", Name: v.Text("hours"), Right: true}, {ID: "cash", Name: v.Text("cash"), Right: true},
	}}
	seasons := w.P.Seasons
	for i := 0; i < len(seasons); {
		if len(t.Rows) == rowsOfYears {
			t.Notes = []Footnote{{Text: v.Text("The plan goes on to %s. Ask for a new sheet each year: it starts from what was done.", v.Year(seasons[len(seasons)-1].Season))}}
			break
		}
		s, last := seasons[i], i+1
		text := func(s plan.Season) string {
			out := ""
			for _, b := range s.Buy {
				out += fmt.Sprint(b.Material, b.Count, " ")
			}
			return out + fmt.Sprintf("%.0f ", s.Cash) + strings.Join(w.renewed(s.Season), ",")
		}
		for last < len(seasons) && text(seasons[last]) == text(s) {
			last++
		}
		season := v.Year(s.Season)
		if last > i+1 {
			season = v.Text("%s to %s", season, v.Year(seasons[last-1].Season))
		}
		var list []string
		for _, b := range s.Buy {
			if b.Count > 0 {
				list = append(list, v.Text("%s × %s", v.Decimal(b.Count, 0), v.Term(note.Term(b.Material))))
			}
		}
		for _, d := range s.Doses {
			list = append(list, v.Text("%s of %s", v.Volume(unit.Volume(d.Litres)), v.Term(note.Term(d.Chemical))))
		}
		work := 0.0
		for _, win := range price.Windows {
			work += s.Hours[win]
		}
		drops := v.None()
		if list := w.renewed(s.Season); len(list) > 0 {
			drops = v.List(list)
		}
		t.Rows = append(t.Rows, Row{ID: v.Year(s.Season), Cells: []Cell{words(season), words(drops), words(v.List(list)), hours(v, work), sum(v, s.Cash, w.currency())}})
		i = last
	}
	return t
}

// renewed is the sections whose drops are replaced in a season.
func (w PlanView) renewed(season int) (list []string) {
	for _, s := range w.P.Sections {
		if s.Steps[season-w.P.Sugarbush.First].Renew {
			list = append(list, s.Section.Name)
		}
	}
	return list
}

// lasting is the pieces that are fitted in the first season for more than one.
func (w PlanView) lasting() (list []price.MaterialUse) {
	for _, u := range w.P.Sugarbush.Prices.Uses {
		for _, m := range u.Materials {
			if plan.Lasts(m) > 1 && w.used(true, func(p practice.Practice) bool { return p.Key == u.Practice }) &&
				!slices.ContainsFunc(list, func(x price.MaterialUse) bool { return x.Material == m.Material }) {
				list = append(list, m)
			}
		}
	}
	return list
}

// Length is a length of tubing in the reader's units.
func (w PlanView) Length(l unit.Length) string {
	return w.V.Text("%s %s", w.V.Decimal(w.length(l), 0), w.lengthUnit())
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
	if taps == 0 {
		x.Text = []string{v.Text("Walk the tubing and mend every leak and sag before you spend on anything else.")}
		return x
	}
	one := v.Text("inch of mercury of vacuum")
	if !v.Units().Inches() {
		one = v.Text("3.4 kPa of vacuum")
	}
	x.Text = []string{v.Text("Before you spend on anything else, walk the tubing with the pump on. Every %s won back at the tap hole brings about %s a tap and season, %s in all.", one, v.Money(total/float64(taps), money), v.Sum(total, money))}
	if len(p.Sections) > 0 {
		best := p.Profit.Best
		if p.OverLast != nil {
			best = p.OverLast.Best
		}
		x.Text = append(x.Text, v.Text("The plan on this sheet brings %s a tap and season. Do both, leaks first: a leak also feeds microbes to the tap holes.", v.Money(p.PerTap(best), money)))
	}
	x.Text = append(x.Text, v.Text("Counted with about %s %% more sap for each %s: common practice, no source.", v.Number(plan.LeakPct), one))
	return x
}

// used is true where the plan does a practice of which this holds, in any season or in the first alone.
func (w PlanView) used(first bool, holds func(practice.Practice) bool) bool {
	for _, s := range w.P.Sections {
		for i, x := range s.Steps {
			if p, ok := w.Set.Find(x.Practice); ok && holds(p) && (i == 0 || !first) {
				return true
			}
		}
	}
	return false
}

func valve(p practice.Practice) bool { return p.Spout.Info().Valve }

// calendar is when to do what in the first season: fit, pull, drain.
func (w PlanView) calendar() Panel {
	v, s := w.V, w.P.Seasons[0]
	x := Panel{ID: "calendar", Title: v.Text("Calendar")}
	step := func(key string, args ...any) { x.Steps = append(x.Steps, v.Text(key, args...)) }
	if s.Renewed > 0 {
		tenth := func(h float64) string { return v.Hours(math.Round(10*h) / 10) }
		step("In the shop, in winter: cut and put together the drops for %s taps, with their tees (%s).", v.Decimal(s.Renewed, 0), tenth(s.Hours[price.Shop]))
		step("Before tapping: cut out the old drops and put in the new ones; mark the date on the lateral (%s).", tenth(s.Hours[price.BeforeTapping]))
	} else {
		step("In winter: order what is on the list, and count it when it comes.")
	}
	if w.used(true, func(p practice.Practice) bool { return !p.Sanitized() }) {
		step("Fit, at tapping: in each section the spouts that the first side says. Last season's are used again only where nothing new is planned.")
	} else {
		step("Fit, at tapping: in each section the spouts that the first side says. Last season's are not used again.")
	}
	step("While sap runs: walk the tubing after each hard freeze and mend leaks the same day.")
	step("Pull, within days of the last run: pull every spout, so that the tap holes can close.")
	for _, m := range w.lasting() {
		step("Keep what lasts (%s: %s), section by section, and fit it again next season.", v.Term(note.Term(m.Material)), v.Text("%d seasons", plan.Lasts(m)))
	}
	step("Drain, right after: open the low ends and let all sap out of drops, laterals and mainlines. Sap that stands feeds microbes until next spring.")
	if w.used(true, practice.Practice.Chemical) {
		step("Wash, after the season, as the plan says and as the label says. Next spring drain and discard the first run.")
	}
	step("Write down what was fitted where and when: drops age, and the next plan needs it.")
	return x
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
	step("Drill into sound white wood with a sharp, clean bit of the size that the maker of the spout states, slightly upward, so that the hole drains.")
	step("Draw the shavings out with the bit. Do not blow into the hole.")
	if check {
		step("Tip the valve up and down: its ball or flap must move freely. Put one that sticks aside.")
	}
	step("Tap the spout in with a light hammer until the sound changes, and stop: driven harder it splits the wood, and the split leaks.")
	step("Push the tubing fully on. Let the drop hang in an easy curve that keeps no sap at the spout.")
	if check {
		step("With the pump on, listen for a hiss. On a cold morning look again: a valve frozen open or shut is a plain spout.")
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
	o, over := p.Profit, v.Text("used plastic cleaned with nothing")
	if p.OverLast != nil {
		o, over = *p.OverLast, v.Text("going on as last season")
	}
	x.Text = append(x.Text, v.Text("Over %d seasons the plan nets about %s more than %s. 95 times of 100 it is from %s.", len(p.Seasons), v.Sum(o.Best, money), over, v.SumRange(o.Low, o.High, money)))
	if p.Chances {
		text := v.Text("In about %d of 100 cases it nets less than %s.", int(100*o.Loss+0.5), over)
		if o.Loss < 0.005 {
			text = v.Text("In fewer than 1 of 100 cases it nets less than %s.", over)
		}
		x.Text = append(x.Text, text)
	}
	x.Text = append(x.Text, v.Text("This range is of gains and seasons. Prices, wages and yields stand as you gave them."))
	if d := p.Sugarbush.Prices.Discount.Best; d > 0 {
		x.Text = append(x.Text, v.Text("Money of later seasons counts for less, by %s %% a year.", v.Number(100*d)))
	}
	if p.Gap > 1e-6*p.Profit.Best { // told upwards, so that it stays true
		x.Text = append(x.Text, v.Text("There may be a better plan within your hours and cash, by no more than %s.", v.Percent(math.Ceil(1000*p.Gap/p.Profit.Best)/10)))
	} else {
		x.Text = append(x.Text, v.Text("No other plan within your hours and cash nets more, counted the same way."))
	}
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
			add("If a piece (%s) cost %s and not %s, %s would net as much there.", v.Term(note.Term(m.Name)), v.Money(at, money), v.Money(m.Price.Best, money), w.plain(g.step.Instead))
		}
	}
	for _, r := range p.Rules {
		switch {
		case r.Last || r.Practice == practice.Unsanitized:
		case r.Partly && r.Could && r.Every == 0 && r.Everywhere-p.Profit.Best > 0.005*p.Profit.Best:
			add("Were %s wanted in every section, it would net %s a tap and season more.", w.plain(r.Practice), v.Money(p.PerTap(r.Everywhere-p.Profit.Best), money))
		case r.Fits && r.Permitted && r.Short < 0.1*p.Profit.Best && r.Short >= 0 && len(w.groups()) > 1:
			add("If you want it simple: %s nets only %s a tap and season less.", w.rule(r), v.Money(p.PerTap(r.Short), money))
		}
	}
	for _, y := range p.Worth {
		if y.Mean < 0.05 {
			continue
		}
		if y.Window == "" {
			add("More cash before the sap is sold: each %s more would bring up to %s a season.", v.Money(1, money), v.Money(y.Mean, money))
		} else {
			add("More hours, %s: each hour more would bring up to %s a season.", v.Term(note.Term(y.Window)), v.Money(y.Mean, money))
		}
	}
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
				return x, x.Price.Best + g.less/float64(g.taps)/m.Count*budget.Annuity(w.P.Sugarbush.Prices.Discount.Best, m.Life.Best), true
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
	x.Text = []string{v.Text("It is %s of bulk syrup. With this plan we reckon with about %s in %s.", v.Mass(have), v.Mass(make), v.Year(p.Sugarbush.First))}
	if make > have {
		text := v.Text("What is beyond the quota counts at %s of its price.", v.Percent(100*q.PriceBeyond.Best))
		if d := q.DelaySeasons.Best; d > 0 {
			text = v.Text("What is beyond the quota counts at %s of its price, paid %s later.", v.Percent(100*q.PriceBeyond.Best), v.Text("%d seasons", int(d+0.5)))
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
	for _, u := range w.P.Unplanned {
		for _, n := range u.Reasons {
			x.Bullets = append(x.Bullets, v.Text("%s: nothing is planned; %s", u.Section.Name, v.Note(n)))
		}
	}
	for _, y := range w.P.Base.By {
		if y.Studies < 5 && w.used(false, func(p practice.Practice) bool { return p.Key == y.Practice }) {
			x.Bullets = append(x.Bullets, v.Text("What we say of one practice (%s) rests on %s alone: the next may well change it.", w.practice(y.Practice), v.Text("%d studies", y.Studies)))
		}
	}
	x.Bullets = append(x.Bullets, v.Text("Your own trees were in none of the studies: leave a few taps as they were, and compare."))
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
	x.Text = []string{v.Text("%s at %s in %s (%s).", v.Text("%d studies", b.Studies), v.Text("%d stations", b.Sites), v.Text("%d seasons", b.Seasons), v.Seasons(b.First, b.Last))}
	for _, y := range b.By {
		if w.used(false, func(p practice.Practice) bool { return p.Key == y.Practice }) {
			x.Bullets = append(x.Bullets, v.Text("%s: %s at %s in %s", w.practice(y.Practice), v.Text("%d studies", y.Studies), v.Text("%d stations", y.Sites), v.Text("%d seasons", y.Seasons)))
		}
	}
	return x
}

func (w PlanView) careful() Panel {
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
		if !ok {
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
	x.Bullets = append(x.Bullets, v.Text("The label of a product is the law, and local rules come first. This sheet permits nothing."))
	return x
}

// Held is each practice that is held back, with the reasons.
func (w PlanView) Held() []string {
	var list []string
	for _, p := range w.Set {
		if h, ok := w.P.Held[p.Key]; ok {
			list = append(list, w.V.Text("%s: %s", w.V.Term(note.Term(p.Name)), strings.Join(w.V.Notes(h.Reasons), "; ")))
		}
	}
	return list
}

// inputs are the six numbers that the answer rests on most, with room for the reader's own.
func (w PlanView) inputs() Table {
	v, p := w.V, w.P
	prices := &p.Sugarbush.Prices
	t := Table{ID: "handout-inputs", Title: v.Text("Six numbers that it rests on"), Columns: []Column{
		{ID: "what", Name: v.Text("number")}, {ID: "value", Name: v.Text("we counted with"), Right: true}, {ID: "own", Name: v.Text("yours")},
	}}
	row := func(id, name, value string) {
		t.Rows = append(t.Rows, Row{ID: id, Cells: []Cell{words(name), words(value), words("")}})
	}
	yield, brix, taps := 0.0, 0.0, 0.0
	for _, s := range p.Sections {
		n := float64(s.Section.Taps)
		y, b := prices.Baseline.Yield.Best, prices.Baseline.Brix.Best
		if s.Section.YieldL != nil {
			y = *s.Section.YieldL
		}
		if s.Section.Brix != nil {
			b = *s.Section.Brix
		}
		yield, brix, taps = yield+n*y, brix+n*b, taps+n
	}
	row("taps", v.Text("taps planned for"), v.Count(p.Taps()))
	row("yield", v.Text("usual sap, a tap and season"), v.Volume(unit.Volume(yield/taps)))
	row("brix", v.Text("usual sugar of the sap"), v.Text("%s °Bx", v.Decimal(brix/taps, 1)))
	name, price := w.syrupPrice()
	row("price", name, price)
	row("wage", v.Text("wage, an hour"), v.Money(prices.Wage.Best, prices.Currency))
	buy := slices.SortedStableFunc(slices.Values(p.Seasons[0].Buy), func(a, b plan.Buy) int { return cmp.Compare(b.Money, a.Money) })
	for _, x := range prices.Materials {
		if len(buy) > 0 && x.Name == buy[0].Material {
			row("piece", v.Text("price of a piece: %s", v.Term(note.Term(x.Name))), v.Money(x.Price.Best, prices.Currency))
		}
	}
	if len(t.Rows) < 6 {
		row("discount", v.Text("interest a year"), v.Percent(100*prices.Discount.Best))
	}
	return t
}

// syrupPrice is the mean bulk price, or that of what else is sold.
func (w PlanView) syrupPrice() (name, price string) {
	v, s := w.V, &w.P.Sugarbush.Prices.Sells
	sum, whole := 0.0, 0.0
	for _, g := range s.Grades {
		sum, whole = sum+g.Share*g.Price.Best, whole+g.Share
	}
	money := w.currency()
	switch {
	case whole > 0:
		return v.Text("price of bulk syrup"), v.PerMass(sum/whole, money)
	case s.Retail != nil:
		return v.Text("price of syrup in retail"), v.PerVolume(s.Retail.Price.Best, money)
	case s.Sap != nil:
		return v.Text("price of sap"), v.PerVolume(s.Sap.Price.Best, money)
	}
	return v.Text("price of bulk syrup"), v.None()
}
