package show

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/plan"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
)

// PlanView is one sugarbush's plan in one voice.
type PlanView struct {
	P   *plan.Plan
	V   *say.Voice
	Set practice.Set
}

func (w PlanView) currency() string { return w.P.Sugarbush.Prices.Currency }

func (w PlanView) practice(k practice.Key) string {
	if p, ok := w.Set.Find(k); ok {
		return w.V.Term(note.Term(p.Name))
	}
	return string(k)
}

// Answer is the plan in sentences.
func (w PlanView) Answer() []string {
	v, p, money := w.V, w.P, w.currency()
	if len(p.Sections) == 0 {
		return []string{v.Text("Nothing is planned: no evidence here for any section.")}
	}
	var out []string
	switch o := p.OverLast; {
	case o == nil:
	case w.carriesOn() && p.Plainer >= 1:
		out = append(out, v.Text("The plan is to go on as last season: the best that was found would bring %s more, "+
			"which is not worth a change.", v.Sum(p.Plainer, money)))
	case w.carriesOn():
		out = append(out, v.Text("The plan is to go on as last season."))
	case !w.asLast():
		out = append(out, v.Text("Over %s the plan nets %s more than going on as last season, discounted (95 %% "+
			"interval %s).", w.seasons(), v.Sum(o.Expected, money), v.SumRange(o.Low, o.High, money))+" "+
			v.Text("The chance that it nets less is %s.", Chance(w.V, o.Loss)))
	}
	if w.idle() {
		out = append(out, w.single(), v.Text("Nothing new is done: the plan nets what reused, unwashed spouts and "+
			"tubing do."))
		return append(out, w.inStates()...)
	}
	out = append(out, w.single(), v.Text("Over %s it nets %s more than unsanitized, discounted (95 %% interval %s).",
		w.seasons(), v.Sum(p.Profit.Expected, money), v.SumRange(p.Profit.Low, p.Profit.High, money)))
	if less := p.Uncapped - p.Profit.Expected - p.Plainer; less > 0.0005*p.Uncapped {
		out = append(out, v.Text("The limits on hours and cash cost %s.", v.Sum(less, money)))
	}
	out = append(out, w.inStates()...)
	switch {
	case p.Plainer >= 1:
		return append(out, w.plainer())
	case p.Gap <= slim*p.Profit.Expected && p.Keeps:
		return append(out, v.Text("Within the limits, no plan that leaves each section what it has nets more: that is "+
			"proved."))
	case p.Gap <= slim*p.Profit.Expected:
		return append(out, v.Text("No plan within the limits nets more: that is proved."))
	case p.Keeps:
		return append(out, v.Text("Within the limits, no plan that leaves each section what it has nets more than %s "+
			"above this one: that is proved.", v.Sum(p.Gap, money)))
	default:
		return append(out, v.Text("No plan within the limits nets more than %s above this one: that is proved.",
			v.Sum(p.Gap, money)))
	}
}

// slim is the part of what a plan nets that a proof may leave open and be told as one.
const slim = 1e-6

// plainer tells apart what being plain costs and what the search may have missed.
func (w PlanView) plainer() string {
	v, p := w.V, w.P
	plain := v.Sum(p.Plainer, w.currency())
	if more := p.Missed(); more > slim*p.Profit.Expected {
		return v.Text("The best schedule that we found nets %s more than this plainer one; there may be a better one "+
			"still, by no more than %s.", plain, w.most(more))
	}
	return v.Text("The best schedule there is nets %s more than this plainer one.", plain)
}

// most is what may be missed, of what the plan nets; in money where it nets nothing. It is told upwards, so that it
// stays true.
func (w PlanView) most(missed float64) string {
	if w.idle() {
		return w.V.Sum(math.Ceil(missed), w.currency())
	}
	return w.V.Percent(math.Ceil(1000*missed/w.P.Profit.Expected) / 10)
}

// idle is true of a plan that does nothing new: it can neither win nor lose over unsanitized.
func (w PlanView) idle() bool { return w.P.Profit.Low == 0 && w.P.Profit.High == 0 }

// still is true of a plan that does nothing new where nothing new was done last season: it has no money to tell.
func (w PlanView) still() bool { return w.idle() && (w.P.OverLast == nil || w.asLast()) }

// single is the money of a poor, a usual and a good season.
func (w PlanView) single() string {
	v, x, money := w.V, w.P.Single, w.currency()
	brings := v.Text("Once the plan is paid, the sap brings %s in a poor season, of which there is one in ten, %s in "+
		"a usual one and %s in a good one.", v.Sum(x.Brings[0], money), v.Sum(x.Brings[1], money),
		v.Sum(x.Brings[2], money))
	over := v.Text("reused, unwashed spouts and tubing")
	if w.P.OverLast != nil {
		if w.asLast() {
			return brings
		}
		over = v.Text("going on as last season")
	}
	return brings + " " + v.Text("It nets %s than %s, or worse, in one season of ten, %s in the usual one, and %s, or "+
		"better, in one of ten.", w.beside(x.Over[0]), over, w.beside(x.Over[1]), w.beside(x.Over[2]))
}

// singleTable is the same as a table.
func (w PlanView) singleTable() Table {
	v, x := w.V, w.P.Single
	t := Table{ID: "handout-season", Title: v.Text("A single season, once the plan is paid"), Columns: []Column{
		wordy("what", ""), numeric("poor", v.Text("poor"), ""), numeric("usual", v.Text("usual"), ""),
		numeric("good", v.Text("good"), "")}}
	row := func(id, name string, of [3]float64) {
		cells := []Cell{words(name)}
		for _, y := range of {
			cells = append(cells, sum(v, y, w.currency()))
		}
		t.row(id, cells...)
	}
	row("brings", v.Text("the sap brings"), x.Brings)
	switch {
	case w.P.OverLast == nil:
		row("over", v.Text("more than reused, unwashed spouts and tubing"), x.Over)
	case !w.asLast():
		row("over", v.Text("more than going on as last season"), x.Over)
	}
	t.note(v.Text("Poor: one season in ten is worse. Good: one in ten is better. Each row by itself."))
	return t
}

// beside words a sum over what it is compared with.
func (w PlanView) beside(sum float64) string {
	if sum < 0 {
		return w.V.Text("%s less", w.V.Sum(-sum, w.currency()))
	}
	return w.V.Text("%s more", w.V.Sum(sum, w.currency()))
}

// States is what the plan brings in each state of the world, beside the plan made anew for it.
func (w PlanView) States() Table {
	v, money := w.V, w.currency()
	t := Table{ID: "plan-scenarios", Title: v.Text("In other states of the world"), Columns: []Column{
		wordy("scenario", v.Text("scenario")), sums(v, "profit", v.Text("over unsanitized"), money),
		sums(v, "over_last", v.Text("over last season"), money),
		sums(v, "more", v.Text("made anew, more"), money), wordy("anew", v.Text("what it would be, made anew"))}}
	for _, s := range w.P.States {
		over, more, anew := none(v), none(v), words(v.Text("the same"))
		if s.Expected.OverLast != nil {
			over = decimal(v, *s.Expected.OverLast, 0)
		}
		if s.Anew != nil {
			anew = words(capital(w.otherwise(s)))
			if s.Fits {
				more = decimal(v, s.More, 0)
			}
		}
		t.Rows = append(t.Rows, Row{ID: s.ID, Strong: s.ID == "usual",
			Cells: []Cell{words(v.Note(s.Name)), decimal(v, s.Expected.Profit, 0), over, more, anew}})
	}
	t.note(v.Text("Discounted, over all seasons, on average over what is unsure, were each season so. Made anew: "+
		"what would be planned then, where that brings more by %s a tap and season, or where the plan takes more "+
		"hours or cash than there are then.", v.Money(plan.NearTap, money)))
	if text := w.roomier(func(s plan.InState) float64 { return s.Expected.Profit }); text != "" {
		t.note(text)
	}
	return t
}

// roomier says why the plan brings more in a poor year than in a usual one, by some count; "" where it does not.
func (w PlanView) roomier(brings func(plan.InState) float64) string {
	at := map[string]float64{}
	for _, s := range w.P.States {
		at[s.ID] = brings(s)
	}
	if at["poor-year"] <= at["usual"] { // else all that is sold has a limit
		return ""
	}
	return w.V.Text("In a poor year more of the added sap stays within the quota or what can be boiled: it brings " +
		"more than in a usual one.")
}

// otherwise is what a plan made anew does that the plan does not: in the first season, or else later.
func (w PlanView) otherwise(s plan.InState) string {
	var now, then []plan.Step
	for i, steps := range s.Anew {
		now, then = append(now, w.P.Sections[i].Steps[0]), append(then, steps[0])
	}
	if mine, other := w.onTaps(now), w.onTaps(then); mine != other {
		return other
	}
	return w.V.Text("the same in %s, and other practices later", w.V.Year(w.P.Sugarbush.First))
}

// inStates says where the advice would change, were each season so.
func (w PlanView) inStates() (list []string) {
	v := w.V
	var same []string
	for _, s := range w.P.States {
		name := v.Note(s.Name)
		switch {
		case s.Anew == nil && s.ID != "usual":
			same = append(same, name)
		case s.Anew != nil && s.Fits:
			list = append(list, v.Text("Were every season so (%s), we would advise otherwise: %s. That would net %s "+
				"more over %s.", name, w.otherwise(s), v.Sum(s.More, w.currency()), w.seasons()))
		case s.Anew != nil:
			list = append(list, v.Text("Were every season so (%s), the plan would take more hours or cash than there "+
				"are, and we would advise: %s.", name, w.otherwise(s)))
		}
	}
	if same != nil {
		list = append(list, v.Text("Planned anew, the advice would stay the same, were every season so: %s.",
			strings.Join(same, "; ")))
	}
	return list
}

// overLast is what a section brings more than as last season; a dash where that cannot be priced.
func (w PlanView) overLast(money float64) Cell {
	if w.P.OverLast == nil {
		return none(w.V)
	}
	return sum(w.V, money, w.currency())
}

// Schedule is each section's seasons on one row, with what they bring.
func (w PlanView) Schedule() Table {
	v := w.V
	t := Table{ID: "plan-schedule", Title: v.Text("What each section does, and what it brings"), Columns: []Column{
		wordy("section", v.Text("section")), numeric("taps", v.Text("taps"), ""),
		wordy("steps", v.Text("season by season")), numeric("over_last", v.Text("over last season"), ""),
		interval("profit", v.Text("net over unsanitized"), ""),
		numeric("loss", v.Text("chance of a loss"), ""),
	}}
	for _, s := range w.P.Sections {
		var parts []string
		for _, run := range alike(s.Steps, func(a, b plan.Step) bool { return a.Practice == b.Practice }) {
			parts = append(parts, v.Text("%s: %s", w.stretch(run[0].Season, len(run)), w.practice(run[0].Practice)))
		}
		money := w.currency()
		row := []Cell{words(s.Section.Name), count(v, s.Section.Taps), words(strings.Join(parts, "; ")),
			w.overLast(s.OverLast), within(v.Sum(s.Profit.Expected, money)+" ("+
				unbroken(v.SumRange(s.Profit.Low, s.Profit.High, money))+")", s.Profit.Expected, s.Profit.Low,
				s.Profit.High), num(Chance(v, s.Profit.Loss), 100*s.Profit.Loss)}
		t.row(s.Section.Name, row...)
	}
	for _, u := range w.P.Unplanned {
		row := []Cell{words(u.Section.Name), count(v, u.Section.Taps), words(strings.Join(v.Notes(u.Reasons), "; ")),
			words(v.None()), words(v.None()), words(v.None())}
		t.row(u.Section.Name, row...).Dim = true
	}
	t.note(v.Text("In all seasons, discounted; in brackets the 95 %% interval over unsanitized, of which the chance " +
		"of a loss is."))
	return t
}

// alike parts a list into runs of which each is like its first.
func alike[T any](list []T, like func(first, next T) bool) (runs [][]T) {
	from := 0
	for i := range list {
		if i+1 == len(list) || !like(list[from], list[i+1]) {
			runs = append(runs, list[from:i+1])
			from = i + 1
		}
	}
	return runs
}

// stretch is so many seasons from one on: "2026", "2026 to 2029".
func (w PlanView) stretch(first, n int) string {
	if n == 1 {
		return w.V.Year(first)
	}
	return w.V.Text("%s to %s", w.V.Year(first), w.V.Year(first+n-1))
}

// shopping is what a season takes, in words.
func (w PlanView) shopping(s plan.Season) string {
	v := w.V
	var list []string
	for _, b := range s.Buy {
		if b.Count > 0 {
			list = append(list, v.Text("%s × %s", v.Decimal(b.Count, 0), v.Term(note.Term(b.Material))))
		}
	}
	for _, d := range s.Doses {
		list = append(list, v.Text("%s of %s", v.Volume(unit.Volume(d.Litres)), v.Term(note.Term(d.Chemical))))
	}
	return cmp.Or(v.List(list), v.None())
}

// work is the hours of a season.
func work(s plan.Season) (hours float64) {
	for _, win := range price.Windows {
		hours += s.Hours[win]
	}
	return hours
}

// Steps is what each section does each season.
func (w PlanView) Steps() Table {
	v := w.V
	t := Table{ID: "plan", Title: v.Text("The plan, section by section"), Columns: []Column{
		wordy("section", v.Text("section")), wordy("season", v.Text("season")),
		wordy("practice", v.Text("practice")),
		interval("gain_pct", v.Text("gain"), "%"),
		sums(v, "net", v.Text("net"), w.currency()), numeric("hours", v.Text("hours"), ""),
		sums(v, "cash", v.Text("cash"), w.currency()),
	}}
	for _, s := range w.P.Sections {
		for _, run := range alike(s.Steps, func(a, b plan.Step) bool {
			return b.Practice == a.Practice && b.Treatment == a.Treatment && !a.Renew
		}) {
			x := run[0]
			name := w.practice(x.Practice)
			if x.DropAge > 0 {
				name = v.Text("%s, drops in season %d", name, x.DropAge+1)
			}
			mean := func(of func(plan.Step) float64) float64 {
				sum := 0.0
				for _, x := range run {
					sum += of(x)
				}
				return sum / float64(len(run))
			}
			t.row(s.Section.Name+"/"+strconv.Itoa(x.Season), words(s.Section.Name),
				words(w.stretch(x.Season, len(run))), words(name),
				decimals(v, mean(func(x plan.Step) float64 { return x.GainPct }),
					mean(func(x plan.Step) float64 { low, _ := x.OneSeason(); return low }),
					mean(func(x plan.Step) float64 { _, high := x.OneSeason(); return high }), 0),
				decimal(v, mean(func(x plan.Step) float64 { return x.Net }), 0),
				decimal(v, mean(func(x plan.Step) float64 { return x.Hours }), 1),
				decimal(v, mean(func(x plan.Step) float64 { return x.Cash }), 0))
		}
	}
	t.note(v.Text("Gains are over unsanitized, with the range of one season. Net, hours and cash are of the whole " +
		"section and one season; where several share a row, their mean."))
	for _, u := range w.P.Unplanned {
		for _, n := range u.Reasons {
			t.note(v.Text("%s goes on as last season: %s", u.Section.Name, v.Note(n)))
		}
	}
	return t
}

// plastic is the kilograms in one of the unit in which plastic is weighed, and its name: pounds in the United States
// alone.
func (w PlanView) plastic() (float64, string) {
	if w.V.Units() == say.US {
		return float64(unit.Pound.Of(1)), w.V.Text("lb")
	}
	return 1, w.V.Text("kg")
}

// Buy is the buying list and the work, by season.
func (w PlanView) Buy() Table {
	v := w.V
	mass, unitOfMass := w.plastic()
	t := Table{ID: "plan-buy", Title: v.Text("What it needs, by season"), Columns: []Column{
		wordy("season", v.Text("season")), wordy("buy", v.Text("to buy")),
		numeric("tubing", v.Text("drop tubing"), w.lengthUnit()),
		numeric("hours", v.Text("hours"), ""),
		sums(v, "cash", v.Text("cash"), w.currency()), numeric("plastic", v.Text("plastic"), unitOfMass),
	}}
	for _, s := range w.P.Seasons {
		t.row(strconv.Itoa(s.Season), words(v.Year(s.Season)), words(w.shopping(s)), decimal(v, w.length(s.Tubing), 0),
			decimal(v, work(s), 0), decimal(v, s.Cash, 0), decimal(v, s.PlasticKg/mass, 0))
	}
	t.note(v.Text("Pieces include a spare allowance of %s. What lasts stands in the season in "+
		"which it is bought. Hours are over and above tapping and pulling.",
		unbroken(v.Text("%s %%", v.Number(100*w.P.Sugarbush.Spare)))))
	return t
}

// Hours is the work of each season by the window in which a crew does it, with what the crew has.
func (w PlanView) Hours() Table {
	v, b := w.V, &w.P.Sugarbush
	t := Table{ID: "plan-hours", Title: v.Text("Hours by season and crew"),
		Columns: []Column{wordy("season", v.Text("season"))}}
	have := Row{ID: "have", Dim: true, Cells: []Cell{words(v.Text("you have"))}}
	for _, s := range w.P.Seasons {
		t.row(strconv.Itoa(s.Season), words(v.Year(s.Season)))
	}
	for _, win := range price.Windows {
		crew, limited := b.Crews[win]
		work := 0.0
		for _, s := range w.P.Seasons {
			work += s.Hours[win]
		}
		if work < 0.05 && !limited {
			continue
		}
		t.Columns = append(t.Columns, numeric(string(win), v.Term(note.Term(win)), ""))
		for i, s := range w.P.Seasons {
			t.Rows[i].Cells = append(t.Rows[i].Cells, hours(v, s.Hours[win]))
		}
		if !limited {
			have.Cells = append(have.Cells, words(v.Text("no limit")))
			continue
		}
		have.Cells = append(have.Cells, hours(v, crew.Hours()))
		t.note(v.Text("%s: %s × %s × %s (people × days × hours a day)",
			v.Term(note.Term(win)), v.Number(crew.People), v.Number(crew.Days), v.Number(crew.HoursADay)))
	}
	if len(t.Columns) == 1 { // neither work nor crews
		return Table{ID: t.ID, Title: t.Title}
	}
	t.Rows = append([]Row{have}, t.Rows...)
	return t
}

func (w PlanView) lengthUnit() string {
	if !w.V.Units().Inches() {
		return w.V.Text("m")
	}
	return w.V.Text("ft")
}

func (w PlanView) length(l unit.Length) float64 {
	if !w.V.Units().Inches() {
		return l.In(unit.Metre)
	}
	return l.In(unit.Foot)
}

// Rules is the plan beside simple rules.
func (w PlanView) Rules() Table {
	v := w.V
	t := Table{ID: "plan-rules", Title: v.Text("The plan beside simple rules"), Columns: []Column{
		wordy("rule", v.Text("rule")), sums(v, "over_last", v.Text("over last season"), w.currency()),
		sums(v, "profit", v.Text("net over unsanitized"), w.currency()),
		sums(v, "short", v.Text("the plan nets more by"), w.currency()),
		wordy("fits", v.Text("within hours, cash and permission")),
	}}
	if slices.ContainsFunc(w.P.Rules, func(r plan.Rule) bool { return r.Partly }) {
		t.note(v.Text("A section that does not want a rule goes on as last season."))
	}
	for _, r := range w.P.Rules {
		fits, over := v.Text("yes"), none(v)
		if w.P.OverLast != nil {
			over = decimal(v, r.Profit-w.zero(), 0)
		}
		switch {
		case !r.Permitted:
			fits = v.Text("not permitted, or not wanted in a section")
		case r.Takes:
			fits = v.Text("takes from a section what pays there")
		case !r.Fits:
			fits = v.Text("takes more than there is")
		}
		t.row(string(r.Practice), words(w.rule(r)), over, decimal(v, r.Profit, 0), decimal(v, r.Short, 0),
			words(fits)).Dim = !r.Fits || !r.Permitted
	}
	return t
}

// Worth is what a little more or less of what is short would bring or cost, and Leaks what an added inch of mercury
// would.
func (w PlanView) Worth() Table {
	v := w.V
	t := Table{ID: "plan-worth", Title: v.Text("What a little more or less would bring"),
		Lead: v.Text("Each is a plan made again with that much more or less in every season."),
		Columns: []Column{
			wordy("what", v.Text("step")), numeric("cap", v.Text("limit"), ""),
			sums(v, "one_more", v.Text("more brings"), w.currency()),
			sums(v, "one_less", v.Text("less costs"), w.currency()),
		}}
	noise := false
	for _, x := range w.P.Worth {
		told := func(x *float64) Cell {
			if x == nil {
				return none(v)
			}
			return decimal(v, *x, 0)
		}
		t.row(string(x.Window), words(w.step(x)), decimal(v, x.Cap, 0), told(x.OneMore), told(x.OneLess))
		if x.OneMore == nil || x.OneLess == nil {
			noise = true
		}
	}
	if noise {
		t.note(v.Text("%s: less than what a better plan than ours may bring, so that nothing can be said.", v.None()))
	}
	var list []string
	total := 0.0
	for _, l := range w.P.Leaks {
		total += l.Money
		list = append(list, v.Text("%s: %s", l.Section, v.Sum(l.Money, w.currency())))
	}
	if list != nil {
		if len(t.Rows) == 0 {
			t.Title, t.Lead = v.Text("What mending leaks would bring"), ""
		}
		t.note(v.Text("Fix leaks first: each added inHg would bring about %s a season (5 %% more sap an "+
			"inHg: common practice, no source). %s.", v.Sum(total, w.currency()), strings.Join(list, "; ")))
	}
	return t
}

// step is how much more or less of a limit is tried.
func (w PlanView) step(x plan.Worth) string {
	if x.Window == "" {
		return w.V.Text("%s of cash", w.V.Sum(x.Step, w.currency()))
	}
	return w.V.Text("1 hour, %s", w.V.Term(note.Term(x.Window)))
}

// JSON is what `plan --json` prints. Profits are discounted money over unsanitized.
func (w PlanView) JSON() any {
	p := w.P
	profit := func(x plan.Profit) object {
		return object{{"best", x.Best}, {"low", x.Low}, {"high", x.High}, {"chance_of_loss", x.Loss},
			{"expected", x.Expected}}
	}
	tenths := func(x [3]float64) object { return object{{"poor", x[0]}, {"usual", x[1]}, {"good", x[2]}} }
	var overLast, lift any
	if p.OverLast != nil {
		overLast = profit(*p.OverLast)
	}
	if l := p.Lift; l != nil { // what would be done without limits on hours and cash
		var first []practice.Key
		for _, x := range l.First {
			first = append(first, x.Practice)
		}
		lift = object{{"brings", l.Brings}, {"hours_beyond", l.Hours}, {"wages_beyond", l.Wages},
			{"cash_beyond", l.Cash},
			{"first_season", first}}
	}
	step := func(y plan.Step) object {
		low, high := y.OneSeason()
		return object{{"season", y.Season}, {"practice", y.Practice}, {"drops_replaced", y.Renew},
			{"gain_pct", y.GainPct}, {"season_low_pct", low}, {"season_high_pct", high}, {"net", y.Net},
			{"hours", y.Hours}, {"cash", y.Cash}}
	}
	return object{
		{"name", p.Sugarbush.Name}, {"profit", profit(p.Profit)}, {"over_last", overLast}, {"uncapped", p.Uncapped},
		{"bound", p.Bound}, {"gap", p.Gap},
		{"scenarios", objects(p.States, func(s plan.InState) object {
			return object{{"name", s.ID}, {"profit", s.Best.Profit}, {"over_last", s.Best.OverLast},
				{"profit_expected", s.Expected.Profit}, {"over_last_expected", s.Expected.OverLast}, {"fits", s.Fits},
				{"same", s.Anew == nil}, {"anew_more", s.More}, {"anew", objects(s.Anew, func(x []plan.Step) object {
					return object{{"steps", objects(x, step)}}
				})}}
		})},
		{"season_brings", tenths(p.Single.Brings)}, {"season_over_last", tenths(p.Single.Over)},
		{"sections", objects(p.Sections, func(s plan.SectionPlan) object {
			return object{{"section", s.Section.Name}, {"taps", s.Section.Taps}, {"profit", profit(s.Profit)},
				{"over_last", s.OverLast}, {"steps", objects(s.Steps, step)}}
		})},
		{"unplanned", objects(p.Unplanned, func(u plan.Unplanned) object {
			return object{{"section", u.Section.Name}, {"taps", u.Section.Taps}, {"reasons", w.V.Notes(u.Reasons)},
				{"steps", objects(u.Steps, step)}}
		})},
		{"seasons", objects(p.Seasons, func(s plan.Season) object {
			return object{{"season", s.Season},
				{"buy", objects(s.Buy, func(b plan.Buy) object {
					return object{{"material", b.Material}, {"need", b.Need}, {"count", b.Count}, {"money", b.Money}}
				})},
				{"doses", objects(s.Doses, func(d plan.Dose) object {
					return object{{"chemical", d.Chemical}, {"litres", d.Litres}, {"money", d.Money}}
				})},
				{"drop_tubing_m", s.Tubing.In(unit.Metre)}, {"hours", s.Hours}, {"cash", s.Cash},
				{"plastic_kg", s.PlasticKg}, {"net", s.Net}}
		})},
		// A limit, that of cash without a window, and what a step more of it brings and a step less costs. worth and
		// by_season, which were a bound and not what planning again brings, are null.
		{"worth", objects(p.Worth, func(x plan.Worth) object {
			return object{{"window", x.Window}, {"cap", x.Cap}, {"worth", nil},
				{"by_season", make([]*float64, len(x.Used))}, {"step", x.Step}, {"one_more", x.OneMore},
				{"one_less", x.OneLess}}
		})},
		{"lift", lift},
		{"raised", objects(p.Raised, func(x plan.Raised) object { // a limit raised to what last season took
			return object{{"window", x.Window}, {"cap", x.Cap}, {"took", x.Took}}
		})},
		{"stops", objects(p.Stops, func(x plan.Stop) object { // a section that cannot go on as last season
			return object{{"section", x.Section}, {"practice", x.Practice}, {"instead", x.Instead},
				{"not_permitted", x.Held}}
		})},
		{"plainer", p.Plainer}, {"missed", p.Missed()}, // gap is the sum of both
		{"rules", objects(p.Rules, func(r plan.Rule) object {
			return object{{"as_last_season", r.Last}, {"practice", r.Practice}, {"every", r.Every},
				{"profit", r.Profit},
				{"fits", r.Fits}, {"permitted", r.Permitted}, {"partly", r.Partly}, {"profit_everywhere", r.Everywhere}}
		})},
		{"leaks", objects(p.Leaks, func(l plan.Leak) object {
			return object{{"section", l.Section}, {"money_per_inhg", l.Money}, {"inhg_to_attainable", l.Inches},
				{"money_to_attainable", l.All}}
		})},
		{"currency", w.currency()}, {"discounted", true}, {"cautions", w.V.Notes(p.Cautions)},
		{"warnings", w.V.Notes(p.Notes)},
	}
}
