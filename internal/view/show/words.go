package show

import (
	"math"
	"slices"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// Recommendation is the answer: what pays best and by how much, then, a point each, how sure that is, what would change
// it, and what comes next and is held back. Without prices it says which practice gives the most sap.
//
// Where too little was studied to change anything that is said first, then which nets cannot be told apart.
func (w *View) Recommendation() []string {
	said := w.recommended()
	if alike := w.alike(); len(alike) > 1 {
		said[0] = w.V.Text("These cannot be told apart: %s.", w.V.List(alike)) + " " + said[0]
	}
	if w.hardlyStudied() {
		said[0] = w.V.Text("Too little was studied to change anything from today's practice, %s.", w.Today()) + " " +
			said[0]
	}
	return said
}

// toldApart is the chance that one of two options nets more below which the two are told apart: the odds are then three
// to one or better.
const toldApart = 0.25

// alike are the recommended option and those that cannot be told apart from it, one of each practice.
func (w *View) alike() (names []string) {
	if w.A.Input.Prices == nil || w.A.Recommended < 0 || w.A.Recommended >= len(w.A.Ranking) {
		return nil
	}
	best := w.A.Ranking[w.A.Recommended]
	names = []string{w.Option(best)}
	seen := []practice.Key{best.Practice}
	for _, o := range w.A.Ranking {
		ahead := o.Promising != "" && o.ChanceOver > 1-toldApart // told apart, and awaits a second study
		if o.ChanceOver >= toldApart && !ahead && !slices.Contains(seen, o.Practice) {
			seen, names = append(seen, o.Practice), append(names, w.Option(o))
		}
	}
	return names
}

func (w *View) recommended() []string {
	switch {
	case w.A.Input.Prices == nil:
		said, told := w.mostSap()
		if told {
			said = append(said, sentence([]string{w.V.Text("whether it pays depends on prices")}))
		}
		return said
	case w.A.Recommended < 0 || w.A.Recommended >= len(w.A.Ranking):
		return []string{
			w.V.Text("Nothing can be recommended: no practice is both studied and permitted here."),
			w.V.Text("The ranking says why each practice is held back or cannot be estimated."),
		}
	}
	v, money := w.V, w.currency()
	o := w.A.Ranking[w.A.Recommended]
	gain := w.moreSap(o)
	if part := w.farmPart(); part != "" {
		gain += " " + v.Text("A farm is taken to get %s of that gain.", part)
	}
	t, said := o.Today, o.Unsanitized // what is told of it
	may := v.Text("permitted and studied")
	if w.ahead(o) != nil {
		may = v.Text("permitted and studied twice")
	}
	var first string
	var rest []string
	settled := v.Text("that it beats unsanitized is well supported, since the whole interval lies above zero")
	open := v.Text("that it beats unsanitized is not settled, since the interval holds zero")
	switch {
	case w.A.Untold.Practice != "":
		rest = append(rest, v.Text("no study or price tells of today's practice, %s, so that nothing can be said "+
			"against it", w.choice(w.A.Untold)))
		if !(said.Average() > 0) {
			return w.points(o, v.Text("Nothing that is %s nets more than unsanitized.", may), rest...)
		}
		first = w.leads(o, said) + " " +
			v.Text("On average over what is unsure it nets %s a tap and season more than unsanitized (95 %% interval "+
				"%s).", v.Money(said.Average(), money), v.MoneyRange(said.NetLow, said.NetHigh, money))
	case o.IsToday && o.Practice == practice.Unsanitized:
		return w.points(o, w.stay(o, may))
	case o.IsToday:
		first = w.stay(o, may) + " " +
			v.Text("On average over what is unsure it nets %s a tap and season over unsanitized (95 %% interval %s).",
				v.Money(said.Average(), money), v.MoneyRange(said.NetLow, said.NetHigh, money))
	default:
		said = t
		settled = v.Text("that it beats today's practice is well supported, since the whole interval lies above zero")
		open = v.Text("that it beats today's practice is not settled, since the interval holds zero")
		first = w.leads(o, said) + " " +
			v.Text("On average over what is unsure it nets %s a tap and season more than today's practice, %s "+
				"(95 %% interval %s).",
				v.Money(t.Average(), money), w.Today(), v.MoneyRange(t.NetLow, t.NetHigh, money))
		if !(t.Average() > 0) {
			first = v.Text("Nothing that is %s nets more than today's practice, %s. %s, the best of the rest, nets %s "+
				"a tap and season against it on average over what is unsure (95 %% interval %s).",
				may, w.Today(), capital(w.Option(o)), v.Money(t.Average(), money),
				v.MoneyRange(t.NetLow, t.NetHigh, money))
			said.NetLow = -t.NetHigh
			settled = v.Text("that it falls short of today's practice is well supported, since the whole interval " +
				"lies below zero")
			open = v.Text("that it falls short of today's practice is not settled, since the interval holds zero")
		}
	}
	if x, ok := w.A.Find(w.A.Reference); ok && x.Verdict != practice.Permitted {
		first += " " + v.Text("Today's practice is held back here itself.")
	}
	if o.Practice != practice.Unsanitized { // which gives no more sap than itself
		first += " " + gain
	}
	if said.NetLow > 0 {
		rest = append(rest, settled)
	} else {
		rest = append(rest, open)
	}
	return w.points(o, first, rest...)
}

// moreSap is a sentence on how much more sap an option gives.
func (w *View) moreSap(o advice.Option) string {
	return w.V.Text("It gives %s more sap than unsanitized (%s).", w.V.Percent(o.GainPct),
		w.V.PercentRange(o.LowPct, o.HighPct))
}

// Deed is what to do, as a title holds it: the recommended option; "" where none can be named in a few words.
func (w *View) Deed() string {
	o, ok := w.A.Best()
	switch {
	case !ok || w.A.Input.Prices == nil:
		return ""
	case o.IsToday:
		return w.V.Text("stay with %s", w.Option(o))
	case !(o.Today.Average() > 0) && (w.A.Untold.Practice == "" || !(o.Unsanitized.Average() > 0)):
		return ""
	case w.hardlyStudied():
		return w.V.Text("too little was studied to change anything")
	case len(w.alike()) > 1:
		return w.V.Text("%s, by little", w.Option(o))
	}
	return w.Option(o)
}

// hardlyStudied is true where today's practice would be given up for nothing, rests on one study and may well net more:
// to give it up needs no fewer studies than to take up another.
func (w *View) hardlyStudied() bool {
	if w.A.Input.Prices == nil {
		return false
	}
	best, ok := w.A.Best()
	if !ok || best.IsToday || best.Practice != practice.Unsanitized || !(best.Today.Average() > 0) {
		return false
	}
	today, ok := w.A.Find(w.A.Reference)
	if !ok || today.ChanceOver < toldApart {
		return false
	}
	g, ok := w.gain(today.Practice)
	return ok && g.Alone() != ""
}

// leads says how the recommended option comes first: nothing pays best that cannot be told apart from another, or that
// may bring less than what it is held against.
func (w *View) leads(o advice.Option, against advice.Compared) string {
	name := capital(w.Option(o))
	switch {
	case w.ahead(o) != nil:
		return w.V.Text("%s comes first of what was studied twice.", name)
	case len(w.alike()) > 1:
		return w.V.Text("%s comes first by little.", name)
	case !(against.NetLow > 0):
		return w.V.Text("%s comes first, which is not settled.", name)
	case w.A.Untold.Practice != "":
		return w.V.Text("%s pays best of what was studied.", name)
	}
	return w.V.Text("%s pays best.", name)
}

// stay says that today's practice comes first of what may.
func (w *View) stay(o advice.Option, may string) string {
	if len(w.alike()) > 1 {
		return w.V.Text("Stay with today's practice, %s: nothing that is %s is shown to net more.", w.Option(o), may)
	}
	return w.V.Text("Stay with today's practice, %s: nothing that is %s nets more.", w.Option(o), may)
}

// ahead are sentences on what nets more than the recommended option and does not come first before a second study, one
// of each practice.
func (w *View) ahead(best advice.Option) (list []string) {
	var seen []practice.Key
	for _, o := range w.A.Ranking {
		more := o.Today.Average() - best.Today.Average()
		if o.Promising == "" || o.Verdict != practice.Permitted || !o.Studied || !(more > 0) ||
			slices.Contains(seen, o.Practice) {
			continue
		}
		seen = append(seen, o.Practice)
		list = append(list, w.V.Text("%s nets %s more, and rests on %s: promising, but first place needs two studies",
			w.Option(o), w.V.Money(more, w.currency()), o.Promising))
	}
	return list
}

// points are the recommendation of an option and its points.
func (w *View) points(o advice.Option, first string, sure ...string) []string {
	list := []string{first}
	for _, parts := range [][]string{append(sure, w.likely(o)), w.narrow(o.Practice), w.ahead(o),
		{w.turns(), w.surmised(o), w.soon(o)}, {w.close(o), w.held(o)}, {w.unlinkedToAny()}} {
		if p := sentence(parts); p != "" {
			list = append(list, p)
		}
	}
	return list
}

// narrow says what all the studies of a practice have in common, so that they tell of nothing else: the place, the
// season, or a caveat; and where they contradict each other.
func (w *View) narrow(k practice.Key) (list []string) {
	v, x := w.V, w.A.Narrow(k)
	if x.Studies < 2 || k == practice.Unsanitized {
		return nil
	}
	if x.Gains > 0 && x.Losses > 0 {
		list = append(list, v.Text("its studies contradict each other: beyond their own errors a gain in %d of them, "+
			"a loss in %d", x.Gains, x.Losses))
	} else if x.Good != nil && x.Bad != nil {
		list = append(list, v.Text("its seasons contradict each other: beyond the studies' own errors a gain in %s, a "+
			"loss in %s", w.seasons(x.Good), w.seasons(x.Bad)))
	}
	studies := v.Text("all %s of it", v.Text("%d studies", x.Studies))
	if x.Site != "" {
		list = append(list, v.Text("%s were made at one place, %s, and tell nothing of others", studies, x.Site))
	}
	if x.Season != 0 {
		list = append(list, v.Text("%s are of one season, %s, and tell nothing of others", studies, v.Year(x.Season)))
	}
	for _, c := range x.Caveats {
		list = append(list, v.Text("%s carry a caveat: %s", studies, w.footnote(c)))
	}
	return list
}

func (w *View) seasons(list []int) string {
	var names []string
	for _, y := range list {
		names = append(names, w.V.Year(y))
	}
	return w.V.List(names)
}

// unlinkedToAny names what was studied and stands in no ranking, since nothing links it to unsanitized; "" where all is
// linked.
func (w *View) unlinkedToAny() string {
	if w.A.Pool == nil || len(w.A.Pool.NotEstimable) == 0 {
		return ""
	}
	var names []string
	for _, k := range w.A.Pool.NotEstimable {
		names = append(names, w.Practice(k))
	}
	return w.V.Text("not ranked, since no chain of studies links it to unsanitized: %s", w.V.List(names))
}

// surmised names what would come first if every best guess were right, where that is another practice.
func (w *View) surmised(best advice.Option) string {
	top := best
	for _, o := range w.A.Ranking {
		if o.Verdict == practice.Permitted && o.Studied && o.Promising == "" && o.Today.Net > top.Today.Net {
			top = o
		}
	}
	more := top.Today.Net - best.Today.Net
	if top.Practice == best.Practice || w.V.Money(more, w.currency()) == w.V.Money(0, w.currency()) {
		return ""
	}
	return w.V.Text("if every best guess were right, %s would net %s more", w.Option(top),
		w.V.Money(more, w.currency()))
}

// sentence makes a sentence of each part that is not empty, and a text of them; "" where all are.
func sentence(parts []string) string {
	var said []string
	for _, p := range parts {
		if p != "" {
			said = append(said, capital(p)+".")
		}
	}
	return strings.Join(said, " ")
}

// likely says how sure it is that the option is best, and that it loses nothing; "" where no chance is stated.
func (w *View) likely(o advice.Option) string {
	v := w.V
	switch {
	case o.ChanceBest == nil, len(w.A.Ranking) == 1: // beside nothing, everything is best
		return ""
	case o.ChanceLose == nil:
		return v.Text("its chance of being best is %s", Chance(v, *o.ChanceBest))
	case w.A.Untold.Practice != "":
		return v.Text("its chance of being best is %s, and of netting less than unsanitized %s",
			Chance(v, *o.ChanceBest), Chance(v, *o.ChanceLose))
	}
	return v.Text("its chance of being best is %s, and of netting less than today's practice %s",
		Chance(v, *o.ChanceBest), Chance(v, *o.ChanceLose))
}

// turns says what would change the recommendation soonest; "" where nothing is near.
func (w *View) turns() string {
	if w.A.Sure == nil {
		return ""
	}
	v := w.V
	var takes, ifs []string
	for _, t := range w.A.Sure.Turns {
		var name string
		var m Measured
		if t.Gain != nil {
			name, m = v.Text("the gain of %s", w.Treatment(*t.Gain)), Measured{Factor: 100, Unit: "%"}
		} else {
			name, m = v.Text("the assumption “%s”", v.Note(t.Assumption.Name)), w.Measure(t.Assumption.Measure)
		}
		now, at := v.Decimal(t.Now*m.Factor, m.Digits), v.Decimal(t.At*m.Factor, m.Digits)
		if now == at { // they are nearer to each other than they are told to
			now, at = v.Decimal(t.Now*m.Factor, m.Digits+1), v.Decimal(t.At*m.Factor, m.Digits+1)
		}
		if t.Below && t.Now > 0 && t.At >= 0 && at == v.Decimal(0, m.Digits) {
			continue // to next to nothing: it will not
		}
		if m.Unit != "" {
			at += "\u00a0" + m.Unit
		}
		how := v.Text("%s fell from %s to below %s", name, now, at)
		if !t.Below {
			how = v.Text("%s rose from %s to above %s", name, now, at)
		}
		takes, ifs = append(takes, w.optionOf(t.Takes)), append(ifs, how)
	}
	switch {
	case len(ifs) == 2 && takes[0] == takes[1]:
		return v.Text("%s would come first if %s, or if %s", takes[0], ifs[0], ifs[1])
	case len(ifs) == 2:
		return v.Text("%s would come first if %s, and %s if %s", takes[0], ifs[0], takes[1], ifs[1])
	case len(ifs) == 1:
		return v.Text("%s would come first if %s", takes[0], ifs[0])
	}
	return ""
}

// close names the options that net less than the recommended one by no more than half the width of its own interval,
// or, where that is today's practice, whose net against it may be above zero: one a practice, three at most. Before
// them stands another rotation of the recommended practice that nets nearly as much with less plastic. Today's practice
// and unsanitized are spoken of already; "" where there is nothing else.
func (w *View) close(best advice.Option) string {
	v, money := w.V, w.currency()
	seen := []practice.Key{best.Practice}
	half := (best.Unsanitized.NetHigh - best.Unsanitized.NetLow) / 2
	var near []string
	others := false
	for _, o := range w.A.Ranking {
		less := best.Unsanitized.Average() - o.Unsanitized.Average()
		if o.Verdict != practice.Permitted || !o.Studied || o.With != "" || o.IsToday ||
			o.Practice == practice.Unsanitized {
			continue
		}
		if o.Promising != "" && less < 0 { // it is told of already
			others = true
			continue
		}
		saved := best.Unsanitized.PlasticG - o.Unsanitized.PlasticG
		if len(near) == 0 && o.Practice == best.Practice && o.Every != best.Every && saved >= 0.5 &&
			less <= sparing*math.Abs(best.Unsanitized.Average()) {
			near = append(near, v.Text("%s (%s less, with %s less plastic)", w.Option(o), v.Money(less, money),
				v.Grams(saved)))
			others = true
			continue
		}
		if slices.Contains(seen, o.Practice) {
			continue
		}
		others = true
		if !(less <= half || best.IsToday && o.Today.NetHigh >= 0) || len(near) == 3 {
			continue
		}
		seen = append(seen, o.Practice)
		if math.Abs(less) < 0.005 {
			near = append(near, v.Text("%s (the same to the cent)", w.Option(o)))
			continue
		}
		near = append(near, v.Text("%s (%s less)", w.Option(o), v.Money(less, money)))
	}
	switch {
	case !others:
		return ""
	case len(near) == 0:
		return v.Text("nothing else that is permitted comes close")
	}
	return v.Text("next: %s", v.List(near))
}

// sparing is the part of the best net that another rotation of the same practice may fall short of it and still be
// named for its plastic: the part within which lengths of a rotation are called as good (package rotation).
const sparing = 0.05

// held names what is not permitted, with what it would net where that is more.
func (w *View) held(best advice.Option) string {
	v, money := w.V, w.currency()
	var held []string
	var seen []practice.Key
	for _, o := range w.A.Ranking {
		if o.Verdict == practice.Permitted || o.With != "" || slices.Contains(seen, o.Practice) {
			continue
		}
		seen = append(seen, o.Practice)
		name := w.Practice(o.Practice)
		if more := o.Unsanitized.Average() - best.Unsanitized.Average(); more > 0 {
			name = v.Text("%s (%s more, were it permitted)", name, v.Money(more, money))
		}
		held = append(held, name)
	}
	if len(held) == 0 {
		return ""
	}
	return v.Text("held back here: %s", v.List(held))
}

// MostSap is the answer without money: which practice gives the most sap, and, a point each, what that rests on.
func (w *View) MostSap() []string {
	said, _ := w.mostSap()
	return said
}

// mostSap is MostSap; told is false where no practice is put first.
func (w *View) mostSap() (said []string, told bool) {
	v := w.V
	var best, promising pool.Gain
	if w.A.Pool != nil {
		best, promising = pool.Most(w.A.Pool.Gains)
	}
	switch {
	case best.Treatment.Practice == "" && promising.Treatment.Practice != "":
		return []string{v.Text("No practice is put first: first place needs two independent studies, and none " +
			"has them."),
			sentence([]string{v.Text("most promising is %s, which rests on %s: %s over unsanitized (95 %% interval %s)",
				w.Treatment(promising.Treatment), promising.Alone(), v.Percent(promising.Pct),
				v.PercentRange(promising.LowPct, promising.HighPct)), w.hangs(promising)})}, false
	case best.Treatment.Practice == "":
		none := v.Text("No practice can be compared with unsanitized: the studies do not link any to it.")
		return []string{none}, false
	}
	var near []string
	for _, g := range w.A.Pool.Gains {
		if g.Treatment != best.Treatment && w.undecided(best, g) {
			near = append(near, v.Text("%s (%s)", w.Treatment(g.Treatment), v.Percent(g.Pct)))
		}
	}
	behind := append([]string{w.hangs(best)}, w.narrow(best.Treatment.Practice)...)
	open := best.LowPct <= 0
	if settled := w.settled(); best.Pct > 0 && open && settled != nil {
		behind = append(behind, v.Text("that it gives more than unsanitized is not settled, since the interval holds "+
			"zero; that these do is, by their intervals: %s", v.List(settled)))
		open = false
	}
	ahead := promising.Treatment.Practice != "" && promising.Pct > best.Pct
	if ahead {
		behind = append(behind, v.Text("promising, but first place needs two studies: %s (%s), which rests on %s",
			w.Treatment(promising.Treatment), v.Percent(promising.Pct), promising.Alone()))
	}
	if len(near) == 0 && len(w.A.Pool.Gains) > 1 && !ahead {
		behind = append(behind, v.Text("every other practice is told apart from it"))
	}
	name := capital(w.Treatment(best.Treatment))
	if w.ages(best.Treatment.Practice) {
		name = v.Text("%s in the first season of use", name)
	}
	gain := v.Text("%s more than unsanitized (95 %% interval %s, %s)", v.Percent(best.Pct),
		v.PercentRange(best.LowPct, best.HighPct), w.studies(best))
	if len(near) > 0 {
		gain = v.Text("%s, and cannot be told apart from %s", gain, v.List(near))
	}
	var first string
	switch {
	case best.Pct <= 0:
		first = v.Text("No practice is shown to give more sap than unsanitized: nearest to it comes %s, %s "+
			"(95 %% interval %s, %s).", w.Treatment(best.Treatment), v.Percent(best.Pct),
			v.PercentRange(best.LowPct, best.HighPct), w.studies(best))
	case open:
		first = v.Text("No practice is shown to give more sap than unsanitized. %s comes first with %s.", name, gain)
	case len(near) > 0:
		first = v.Text("These studies do not tell which practice gives the most sap. %s comes first with %s.", name,
			gain)
	case ahead:
		first = v.Text("%s gives the most sap of what was studied twice: %s.", name, gain)
	default:
		first = v.Text("%s gives the most sap: %s.", name, gain)
	}
	said = []string{first}
	for _, b := range behind {
		if b != "" {
			said = append(said, sentence([]string{b}))
		}
	}
	return said, true
}

// settled are the practices of two studies or more whose whole interval lies above unsanitized.
func (w *View) settled() (list []string) {
	for _, g := range w.A.Pool.Gains {
		if g.LowPct > 0 && g.Alone() == "" {
			list = append(list, w.V.Text("%s (%s)", w.Treatment(g.Treatment), w.V.Percent(g.Pct)))
		}
	}
	return list
}

// hangs says how far an interval hangs on what is assumed; "" where it hardly does.
func (w *View) hangs(g pool.Gain) string {
	v := w.V
	half, double, ok := w.assumed(g)
	if !ok || !g.Hangs(half, double) {
		return ""
	}
	return v.Text("that interval hangs on what is assumed of the spread: it is %s with half of it, %s with twice",
		v.PercentRange(half.LowPct, half.HighPct), v.PercentRange(double.LowPct, double.HighPct))
}

// studies is how many a gain rests on, and how many of them are independent where that is fewer.
func (w *View) studies(g pool.Gain) string {
	n := w.V.Text("%d studies", g.Studies)
	if g.Trials < g.Studies {
		return w.V.Text("%s, %d of them independent", n, g.Trials)
	}
	return n
}

// undecided is true of two gains whose difference may be zero; where that is not told, of an interval that reaches the
// best.
func (w *View) undecided(best, g pool.Gain) bool {
	a, b := best.Treatment, g.Treatment
	for _, d := range w.A.Pool.Between {
		if d.Practice == a && d.Against == b || d.Practice == b && d.Against == a {
			return d.Low <= 0 && d.High >= 0
		}
	}
	return g.HighPct >= best.Pct
}

// Flat says how flat the best rotation is; "" where there is none.
func (w *View) Flat() string {
	r, v := w.A.Rotation, w.V
	if r.Best == 0 {
		return ""
	}
	if r.Longest() == 1 {
		return v.Text("Only replacing drops every season was studied: whether a longer interval pays better is not " +
			"known.")
	}
	best := v.Text("Best: replacing drops %s.", v.Text("every %d seasons", r.Best))
	within := v.Text("%s of sap", v.Percent(r.FlatWithin))
	if r.Priced {
		within = v.Text("%s a tap and season", v.Money(r.FlatWithin, w.currency()))
	} else {
		best = v.Text("Most sap: replacing drops %s; whether it pays depends on prices.",
			v.Text("every %d seasons", r.Best))
	}
	if r.Best == r.Longest() && r.Best < len(r.Intervals) {
		best += " " + v.Text("No longer interval was studied.")
	}
	if r.FlatTo > r.FlatFrom {
		best += " " + v.Text("Anything from %d to %d seasons lies within %s of it.", r.FlatFrom, r.FlatTo, within)
	}
	return best
}

// PlainMean is a word on why the plain mean of a practice's percentages differs from its pooled gain: the largest part
// between them, where the gain was taken apart; "" where there is no plain mean.
func (w *View) PlainMean(g pool.Gain) string {
	if g.PlainMeanPct == nil {
		return ""
	}
	v, plain := w.V, *g.PlainMeanPct
	if math.Abs(plain-g.Pct) < max(1, 0.03*math.Abs(g.Pct)) {
		return v.Text("the plain mean and the pooled gain agree")
	}
	above := plain > g.Pct
	why := w.reason(g.Treatment.Practice, above)
	switch {
	case above && why != "":
		return v.Text("above the pooled gain, most of all because %s", why)
	case why != "":
		return v.Text("below the pooled gain, most of all because %s", why)
	case above:
		return v.Text("above the pooled gain; which step from one to the other makes the difference is told where " +
			"the gain is taken apart")
	}
	return v.Text("below the pooled gain; which step from one to the other makes the difference is told where the " +
		"gain is taken apart")
}

// Methods is the methods paragraph for a paper.
func (w *View) Methods() string {
	r, v, in := w.A.Pool, w.V, w.A.Input
	if r == nil {
		return ""
	}
	var text []string
	say := func(key string, args ...any) { text = append(text, v.Text(key, args...)) }

	first, last := 0, 0
	for _, s := range w.A.Effects.Studies {
		all := s.AllSeasons()
		if first == 0 || all[0] < first {
			first = all[0]
		}
		last = max(last, all[len(all)-1])
	}
	say("We pooled %s (%s) at %s, %s, in one joint linear mixed model of log ratios of sap per tap, with unsanitized "+
		"as the reference.",
		v.Text("%d studies", r.Studies), v.Text("%d comparisons", r.Rows), v.Text("%d sites", r.Sites),
		v.Seasons(first, last))
	switch in.Evidence.Variance {
	case evidence.ReportedSD:
		say("Sampling variances are those of log response ratios with the standard deviations as reported (Hedges, " +
			"Gurevitch & Curtis 1999).")
	case evidence.PooledCV:
		say("Log response ratios carry small-sample terms, and their sampling variances rest on the coefficient of " +
			"variation pooled over arms of the same kind of unit (Hedges, Gurevitch & Curtis 1999; Nakagawa et al. " +
			"2023).")
	default:
		say("Log response ratios carry small-sample terms, and each arm's own coefficient of variation is moderated " +
			"over arms of the same kind of unit by an empirical Bayes prior (Hedges, Gurevitch & Curtis 1999; Smyth " +
			"2004).")
	}
	say("Comparisons of one study that share an arm have the covariance that this implies.")
	switch {
	case r.KR != nil:
		s := r.Prior().Scale
		say("Studies, sites, seasons and a practice from place to place have random effects. The answer is "+
			"integrated over their standard deviations, with half-normal priors of scale %s, %s, %s and %s on the log "+
			"scale.", v.Decimal(s[0], 2), v.Decimal(s[1], 2), v.Decimal(s[2], 2), v.Decimal(s[3], 2))
	case in.Pool.Site:
		say("Study and site have random effects, a site's common to all its sanitized arms, with variances estimated " +
			"by restricted maximum likelihood.")
	default:
		say("Studies have random effects, with their variance estimated by restricted maximum likelihood.")
	}
	var parts []string
	for _, x := range r.Variances {
		parts = append(parts, v.Text("%s %s (95 %% interval %s)", v.Text(x.Name), v.Decimal(x.Value, 4),
			v.Range(x.Low, x.High, 4)))
	}
	if len(parts) > 0 {
		say("Estimated variances: %s.", v.List(parts))
	}
	switch {
	case r.KR != nil:
		say("Intervals are those of the posterior; gains after Kenward & Roger (1997) stand beside them for papers.")
	case in.Pool.Inference == "wald":
		say("Intervals are Wald's, with normal quantiles.")
	default:
		say("Standard errors and degrees of freedom follow Kenward & Roger (1997).")
	}
	if len(in.Pool.Moderators) > 0 {
		say("Moderators: %s.", v.List(in.Pool.Moderators))
	}
	if r.Ageing.Estimable {
		if r.KR != nil {
			say("The gain of replaced drops fades with their seasons in use toward that of a yearly new spout; the " +
				"answer is averaged over two curves and their half-lives by their posterior weights.")
		} else {
			say("The gain of replaced drops fades with their seasons in use toward that of a yearly new spout; the " +
				"curve is part of the joint model, its rate profiled by maximum likelihood.")
		}
		var curves []string
		for _, c := range r.Ageing.Curves {
			curves = append(curves, v.Text("%s %s", w.curve(c.Kind), v.Percent(100*c.Weight)))
		}
		if len(curves) > 1 && r.KR == nil {
			say("Curves were averaged by AICc weight: %s.", v.List(curves))
		}
	}
	out := map[string]bool{}
	for _, o := range w.A.Effects.Out {
		if o.Practice == "" {
			out[o.Study] = true
		}
	}
	if len(out) > 0 {
		say("Kept but not pooled: %s, for the reasons given in the evidence table.", v.Text("%d studies", len(out)))
	}
	if p := in.Prices; p != nil {
		say("Money is by partial budgets and marginal analysis a tap and season (CIMMYT 1988), in %s. Practices are "+
			"ranked by their net on average over what is unsure, which are gains, prices and work, and intervals are "+
			"of that.", v.MoneyUnit(p.Currency))
		say("The baseline yield, %s of sap, was measured under %s.", v.Volume(unit.Volume(p.Baseline.Yield.Best)),
			w.Treatment(p.Baseline.Treatment))
		if day, err := time.Parse(time.DateOnly, p.AsOf); err == nil {
			say("Prices are as of %s.", v.Date(day))
		}
	}
	return strings.Join(text, " ")
}
