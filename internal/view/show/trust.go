package show

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/trust"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// What tells whether the pool can be trusted, as sentences and tables.

// subject is the practice whose gain the checks are shown for: that which comes first, else that of the largest gain.
func (w *View) subject() practice.Treatment {
	first, _, _ := strings.Cut(w.A.First(), "+")
	var best practice.Treatment
	most := math.Inf(-1)
	for _, g := range w.A.Pool.Gains {
		if string(g.Treatment.Practice) == first {
			return g.Treatment
		}
		if g.Log > most {
			best, most = g.Treatment, g.Log
		}
	}
	return best
}

// agrees counts the answers to a check that put first what the answer puts first, among those that there are.
func (w *View) agrees(c advice.Check) (agree, of int) {
	for _, x := range c.Asked {
		if x.Answer == nil {
			continue
		}
		if of++; x.First == w.A.First() {
			agree++
		}
	}
	return agree, of
}

// Standing says how many of the checks name what the answer puts first, and which do not; without any, why.
func (w *View) Standing() []string {
	v, t := w.V, w.A.Trust
	if t == nil || w.A.Pool == nil {
		return nil
	}
	if w.A.Pool.Studies < 2 {
		return []string{v.Text("The answer rests on one study: there is no other to hold it against.")}
	}
	if w.A.First() == "" {
		return []string{v.Text("Nothing is recommended, so that no check can name it; what each does to the gains " +
			"stands below.")}
	}
	asked, agree := 0, 0
	var not []string
	for _, c := range t.Checks {
		yes, of := w.agrees(c)
		switch {
		case of == 0:
			continue
		case yes == of:
			agree++
		case of == 1:
			not = append(not, v.Text(c.Name))
		default:
			not = append(not, v.Text("%s (%d of %d do)", v.Text(c.Name), yes, of))
		}
		asked++
	}
	name := w.optionOf(w.A.First())
	said := v.Text("%d of %d overlapping checks name %s whatever they change. These do not: %s.", agree, asked, name,
		strings.Join(not, "; "))
	switch {
	case asked == 1 && len(not) == 0:
		said = v.Text("The one check that could be made names %s.", name)
	case len(not) == 0:
		said = v.Text("All %d checks, which overlap, name %s.", asked, name)
	}
	list := []string{said}
	if alike := w.alike(); len(alike) > 1 {
		list = append(list, v.Text("By what it nets it cannot be told apart from %s.", v.List(alike[1:])))
	}
	return append(list, w.against()...)
}

// against is what speaks against the pool: what all hangs on, and what tests find at 5 %.
func (w *View) against() (list []string) {
	v, t := w.V, w.A.Trust
	var needed []string
	for _, c := range t.Checks {
		for _, x := range c.Asked {
			if x.Answer == nil && x.What != "" {
				needed = append(needed, w.leftOut(c, x))
			}
		}
		if c.Key == "study" && needed != nil { // its site and its season are needed with it
			break
		}
	}
	if needed != nil && w.A.Pool.Studies > 1 {
		list = append(list, v.Text("No check can leave out what all gains rest on: %s.", v.List(needed)))
	}
	s := w.subject()
	now, known := w.gain(s.Practice)
	if known && now.LowPct <= 0 && now.HighPct >= 0 {
		list = append(list, v.Text("That %s gives more than unsanitized is not settled: %s (%s).", w.Treatment(s),
			v.Percent(now.Pct), v.PercentRange(now.LowPct, now.HighPct)))
	}
	for _, i := range w.moved() {
		g, told := without(i, s)
		if !told {
			continue
		}
		if known && now.Far(g.Log) {
			list = append(list, v.Text("Much hangs on one part of the studies (%s %s): without it the gain of %s is "+
				"%s in place of %s.", w.kindOf(i.Kind), i.Named(), w.Treatment(s), v.Percent(g.Pct),
				v.Percent(now.Pct)))
		}
		break
	}
	if e := t.Small; e != nil && e.P < 0.05 {
		if e.Slope > 0 {
			list = append(list, v.Text("Small studies find larger gains than large ones (%s): the gains may be "+
				"less than is told.", v.PIs(e.P)))
		} else {
			list = append(list, v.Text("Small studies find smaller gains than large ones (%s).", v.PIs(e.P)))
		}
	}
	if d := t.Designs; d != nil && d.P < 0.05 {
		list = append(list, v.Text("Studies that compare other sets of practices disagree (%s): what holds "+
			"between practices is not sure.", v.PIs(d.P)))
	}
	if d, p, ok := w.split(); ok && p < 0.05 {
		list = append(list, v.Text("%s against %s: the studies that compare the two find %s, the others %s (%s).",
			capital(w.Practice(d.Practice)), w.Practice(d.Against), v.Percent(pct(d.DirectLog)),
			v.Percent(pct(d.IndirectLog)), v.PIs(p)))
	}
	return list
}

// split is the pair of practices whose direct and indirect evidence disagree most, with Bonferroni's bound on p, since
// the least of many is small by chance.
func (w *View) split() (d split, p float64, ok bool) {
	all := w.A.Splits
	if len(all) == 0 {
		return d, 1, false
	}
	d = slices.MinFunc(all, func(a, b split) int { return cmp.Compare(a.P, b.P) })
	return d, min(1, float64(len(all))*d.P), true
}

// Checks is what each check does to the gain and to what comes first.
func (w *View) Checks() Table {
	v, s := w.V, w.subject()
	t := Table{
		ID:    "checks",
		Title: v.Text("What each check does to the answer"),
		Lead: v.Text("Gain: of %s over unsanitized, as the studies say, with its 95 %% interval; where something is "+
			"left out in turn, from the lowest to the highest gain.", w.Treatment(s)),
		Columns: []Column{
			wordy("check", v.Text("check")),
			interval("gain_pct", v.Text("gain"), "%"),
			numeric("named", v.Text("name it"), ""),
			numeric("of", v.Text("of"), ""),
			wordy("otherwise", v.Text("what comes first otherwise")),
		},
	}
	first := v.None()
	if w.A.First() != "" {
		first = v.Text("first as it stands: %s", w.optionOf(w.A.First()))
	}
	now := none(v)
	if g, ok := w.gain(s.Practice); ok {
		now = percents(v, g.Pct, g.LowPct, g.HighPct)
	}
	t.row("", words(v.Text("the answer as it stands")), now, words(""), words(""), words(first)).Strong = true
	onMoney := false
	for _, c := range w.A.Trust.Checks {
		agree, of := w.agrees(c)
		row := []Cell{words(capital(v.Text(c.Name))), w.under(c, s), count(v, agree), count(v, of),
			words(w.otherwise(c))}
		if c.Asked != nil {
			onMoney = onMoney || !w.moves(c)
		} else {
			row[2], row[3], row[4] = none(v), none(v), words(v.Text("does not apply here"))
		}
		t.row(c.Key, row...)
	}
	t.note(v.Text("Checks overlap: one study may be all that several of them leave out or weigh otherwise. Name it: " +
		"of so many answers, those that put the same first. What rests on two studies, as first place needs, is as " +
		"in the whole answer."))
	if onMoney {
		t.note(v.Text("Does not apply here: a gain with its variances estimated rests on no prior, and knows of no " +
			"study that stands apart. Money rests on both however gains are inferred, so that what comes first is " +
			"asked."))
	}
	if w.A.Pool.Apart != nil {
		t.note(v.Text("With studies left out, or with other errors, how much studies, sites and seasons differ is " +
			"looked for where the full answer found it, and the same studies may be apart."))
	}
	return t
}

// moves is true of a check that can move the gains that are told.
func (w *View) moves(c advice.Check) bool { return w.A.Pool.KR != nil || !c.Integrated() }

// under is a practice's gain by a check: with its interval, or from the lowest of several to the highest.
func (w *View) under(c advice.Check, s practice.Treatment) Cell {
	if !w.moves(c) {
		return words(w.V.Text("does not apply here"))
	}
	low, high := math.Inf(1), math.Inf(-1)
	cell := none(w.V)
	for _, x := range c.Asked {
		if x.Answer == nil {
			continue
		}
		for _, g := range x.Gains {
			if g.Treatment == s {
				low, high = min(low, g.Pct), max(high, g.Pct)
				cell = percents(w.V, g.Pct, g.LowPct, g.HighPct)
			}
		}
	}
	if len(c.Asked) > 1 && low < high {
		return Cell{Text: bare(w.V, low, high), Low: &low, High: &high}
	}
	return cell
}

// namedOthers is how many of the answers that name another are told.
const namedOthers = 3

// leftOut names what a check left out.
func (w *View) leftOut(c advice.Check, x advice.Asked) string {
	if c.Key == "caveat" {
		return w.Caveat(evidence.Caveat(x.What))
	}
	return x.What
}

// otherwise is what a check puts first in the place of what the answer does, and when.
func (w *View) otherwise(c advice.Check) string {
	v := w.V
	var list []string
	more := 0
	for _, x := range c.Asked {
		first := v.Text("nothing")
		switch {
		case x.Answer == nil && (w.A.Pool.Studies < 2 || x.What == ""):
			continue
		case x.Answer == nil:
			first = v.Text("nothing can be said")
		case x.First == w.A.First():
			continue
		case x.First != "":
			first = w.optionOf(x.First)
		}
		switch {
		case len(list) == namedOthers:
			more++
		case x.What == "":
			list = append(list, first)
		default:
			list = append(list, v.Text("%s without %s", first, w.leftOut(c, x)))
		}
	}
	text := strings.Join(list, "; ")
	if more > 0 {
		text += "; " + v.Text("and %d more like it", more)
	}
	return text
}

// beyond is an overstatement, in percent, that nobody needs a test for.
const beyond = 400

// Tests is what tests say of the pool, with what each can tell.
func (w *View) Tests() Table {
	v, x := w.V, w.A.Trust
	t := Table{
		ID:    "tests",
		Title: v.Text("What tests say"),
		Columns: []Column{
			wordy("question", v.Text("question")),
			wordy("answer", v.Text("answer")),
			numeric("p", v.Text("p"), ""),
		},
	}
	few := words(v.Text("cannot be asked: too few comparisons"))
	small := v.Text("Do small studies find larger gains?")
	if e := x.Small; e != nil {
		answer := v.Text("the log gain changes by %s (%s) for one more of standard error; small studies that "+
			"overstate by %s would be found %s times of 100", v.Decimal(e.Slope, 2), v.Range(e.Low, e.High, 2),
			v.Percent(e.BiasPct), v.Decimal(100*e.Power, 0))
		if e.FoundPct < beyond {
			answer = v.Text("%s, in four of five cases from %s on", answer, v.Percent(e.FoundPct))
		} else {
			answer = v.Text("%s, so that this tells next to nothing", answer)
		}
		if e.High < 0 {
			answer = v.Text("no, smaller ones: %s", answer)
		}
		t.row("small", words(small), words(answer), num(v.P(e.P), e.P))
	} else {
		t.row("small", words(small), words(v.Text("cannot be asked: too few comparisons, or all of about one "+
			"precision")), none(v))
	}
	knows := v.Text("Tests with a p are Kenward and Roger's, with all components that gains are integrated over, " +
		"estimated anew for each; errors by site rest on the answer for papers, which knows of no season that " +
		"studies share.")
	if w.A.Pool.KR == nil {
		knows = v.Text("Tests with a p and errors by site rest on the answer for papers (Kenward & Roger), which " +
			"knows of no season that studies share.")
	}
	t.note(knows + " " + v.Text("Neither knows of a study that stands apart, and all practices have one spread. The "+
		"error of a log ratio hangs on the gain itself: where studies are of one size a slope can come of that alone."))
	t.note(w.borrowed())
	designs := v.Text("Do studies that compare other sets of practices tell the same gains?")
	if d := x.Designs; d != nil {
		t.row("designs", words(designs), words(v.Text("sets of practices: %d; ways in which they may disagree: %d",
			d.Designs, d.DF)), num(v.P(d.P), d.P))
	} else {
		t.row("designs", words(designs), words(v.Text("cannot be asked: no two sets of practices could disagree")),
			none(v))
	}
	split := v.Text("Does any pair of practices differ directly from what other studies say of it?")
	if d, p, ok := w.split(); ok {
		t.row("split", words(split), words(v.Text("most of all %s against %s: %s directly, %s otherwise; p is the "+
			"least of %d pairs told both ways, times their number", w.Practice(d.Practice), w.Practice(d.Against),
			v.Percent(pct(d.DirectLog)), v.Percent(pct(d.IndirectLog)), len(w.A.Splits))), num(v.P(p), p))
	} else {
		t.row("split", words(split), words(v.Text("cannot be asked: no pair is told both ways")), none(v))
	}
	for _, q := range []struct {
		id, question string
		list         []trust.Foretold
	}{
		{"others", v.Text("Does each study lie where the others foretell it?"), x.Others},
		{"before", v.Text("Did studies that came later lie where the pool had foretold them?"), x.Before},
	} {
		told, inside := 0, 0
		for _, f := range q.list {
			if f.Told {
				told++
			}
			if f.Inside {
				inside++
			}
		}
		if told == 0 {
			t.row(q.id, words(q.question), few, none(v))
			continue
		}
		t.row(q.id, words(q.question), words(v.Text("inside their 95 %% range: %d of %d comparisons (%s)", inside,
			told, InPercent(v, float64(inside)/float64(told)))), none(v))
	}
	sites := v.Text("Does the interval hold if nothing is assumed of studies of one site?")
	s := w.subject()
	i := slices.IndexFunc(x.Robust, func(r trust.Robust) bool { return r.Treatment == s })
	if i < 0 {
		t.row("sites", words(sites), words(v.Text("cannot be asked: too few sites, or they leave no residuals")),
			none(v))
		return t
	}
	r := x.Robust[i]
	answer := v.Text("%s: %s (%s), by errors of %d sites, with %s degrees of freedom", w.Treatment(s),
		v.Percent(pct(r.Log)), v.PercentRange(pct(r.Low), pct(r.High)), r.Sites, v.Decimal(r.DF, 1))
	if r.DF < 4 { // Tipton 2015, Psychological Methods 20:375
		answer = v.Text("cannot be asked: the errors of %d sites leave %s degrees of freedom, and with fewer than 4 "+
			"such an interval does not hold", r.Sites, v.Decimal(r.DF, 1))
	}
	t.row("sites", words(sites), words(answer), none(v))
	return t
}

// Selections is the answer under stated selections of what was published.
func (w *View) Selections() Table {
	v := w.V
	t := Table{
		ID:    "selections",
		Title: v.Text("If studies that found little were published less often"),
		Lead: v.Text("Gain over unsanitized by one common spread, each comparison by itself; then what would be left " +
			"of it if such a selection stood behind the studies."),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			numeric("comparisons", v.Text("comparisons"), ""),
			numeric("plain_pct", v.Text("no selection"), "%"),
		},
	}
	list := w.A.Trust.Selections
	for _, s := range list {
		t.Columns = append(t.Columns, numeric(s.Name+"_pct", v.Term(note.Term(s.Name)), "%"))
	}
	if len(list) == 0 {
		return t
	}
	for i, g := range list[0].Gains {
		cells := []Cell{words(w.Treatment(g.Treatment)), count(v, g.Comparisons), percent(v, pct(g.Plain))}
		for _, s := range list {
			cells = append(cells, percent(v, pct(s.Gains[i].Log)))
		}
		t.row(treatmentID(g.Treatment), cells...)
	}
	for _, s := range list {
		t.note(v.Text("%s: of comparisons without a gain (p = 0.5) %s are published, of those with p = 0.05 %s (Vevea "+
			"& Woods 2005).", capital(v.Term(note.Term(s.Name))), InPercent(v, s.At(0.5)), InPercent(v, s.At(0.05))))
	}
	t.note(v.Text("One study that lies far out widens the spread of all as far as it counts: then a small number " +
		"here tells of it, and not of the practice in whose row it stands."))
	var apart []string
	for _, x := range w.A.Pool.Apart {
		if x.Chance > standsApart {
			apart = append(apart, v.Text("%s with %s", x.Study, InPercent(v, 1-x.Chance)))
		}
	}
	if apart != nil {
		t.note(v.Text("Each study counts here, in all columns, with the chance that it does not stand apart, much as "+
			"it does in the pooled gain: %s; all others nearly in full.", v.List(apart)))
	}
	return t
}

// moved is what is left out, that which moves the subject's gain furthest first.
func (w *View) moved() (list []trust.Influence) {
	s := w.subject()
	now, _ := w.gain(s.Practice)
	far := func(i trust.Influence) float64 {
		if g, ok := without(i, s); ok {
			return math.Abs(g.Log - now.Log)
		}
		return math.Inf(1)
	}
	list = slices.Clone(w.A.Influence)
	slices.SortStableFunc(list, func(a, b trust.Influence) int { return cmp.Compare(far(b), far(a)) })
	return list
}

// kinds are the words for what is left out.
func (w *View) kindOf(k trust.Kind) string { return w.V.Term(note.Term(k)) }

// Influence is the answer without each study, site and season, what moves it most first.
func (w *View) Influence() Table {
	v, s := w.V, w.subject()
	t := Table{
		ID:    "influence",
		Title: v.Text("What the answer rests on"),
		Lead: v.Text("Gain of %s with something left out, what moves it most first; what comes first then, and how "+
			"much gains differ beyond the studies' own errors.", w.Treatment(s)),
		Columns: []Column{
			wordy("kind", v.Text("left out")),
			wordy("what", v.Text("which")),
			numeric("studies", v.Text("studies left"), ""),
			interval("gain_pct", v.Text("gain"), "%"),
			wordy("first", v.Text("ranked first")),
			numeric("sd_study_pct", v.Text("between studies"), "%"),
			numeric("sd_site_pct", v.Text("between sites"), "%"),
			numeric("sd_season_pct", v.Text("between seasons"), "%"),
			numeric("residual", v.Text("residual"), ""),
		},
	}
	far := map[string]float64{}
	for _, f := range w.A.Trust.Others {
		if f.Told && math.Abs(f.Studentized) > math.Abs(far[f.Study]) {
			far[f.Study] = f.Studentized
		}
	}
	for _, i := range w.moved() {
		cells := []Cell{words(w.kindOf(i.Kind)), {Text: i.Named()}}
		if i.Answer == nil {
			cells = append(cells, none(v), none(v), words(v.Text("nothing can be said")), none(v), none(v), none(v))
		} else {
			first, gain := v.None(), none(v)
			if i.First != "" {
				first = w.optionOf(i.First)
			}
			if g, ok := without(i, s); ok {
				gain = percents(v, g.Pct, g.LowPct, g.HighPct)
			}
			cells = append(cells, count(v, i.Left), gain, words(first))
			for _, sd := range i.SDs {
				cells = append(cells, decimal(v, pct(sd), 0))
			}
		}
		residual := none(v)
		if i.Kind == trust.Study {
			cells[1].Marks = w.marks(i.What)
			if r, ok := far[i.What]; ok {
				residual = decimal(v, r, 2)
			}
		}
		r := t.row(string(i.Kind)+" "+i.Named(), append(cells, residual)...)
		r.Strong = i.Turns
	}
	t.Notes = w.used(t)
	t.note(v.Text("Bold: another practice comes first. Residual: of the study's comparisons the one that lies " +
		"farthest from what the others foretell, in standard errors."))
	return t
}

// Foretold is each comparison beside what all other studies say of it, and beside what those before it said.
func (w *View) Foretold() Table {
	v := w.V
	t := Table{
		ID:    "foretold",
		Title: v.Text("Each study beside what others foretell"),
		Lead: v.Text("In brackets: where it was to be expected 95 times in 100, at its site, in its season and with " +
			"its own error. Residuals are in standard errors."),
		Columns: []Column{
			wordy("study", v.Text("study")),
			numeric("season", v.Text("season"), ""),
			wordy("practice", v.Text("practice")),
			numeric("gain_pct", v.Text("gain"), "%"),
			interval("others_pct", v.Text("by all others"), "%"),
			numeric("residual", v.Text("residual"), ""),
			interval("before_pct", v.Text("by those before"), "%"),
		},
	}
	range95 := func(f trust.Foretold) Cell {
		if !f.Told {
			return none(v)
		}
		return percents(v, pct(f.Log), pct(f.Low), pct(f.High))
	}
	for i, f := range w.A.Trust.Others {
		residual := none(v)
		if f.Told {
			residual = decimal(v, f.Studentized, 2)
		}
		r := t.row(f.Study, Cell{Text: f.Study, Marks: w.marks(f.Study)}, num(v.Year(f.Season), float64(f.Season)),
			words(w.compared(f)), percent(v, pct(f.Y)), range95(f), residual, range95(w.A.Trust.Before[i]))
		r.Strong = f.Told && !f.Inside
	}
	if len(t.Rows) > 0 {
		t.Notes = w.used(t)
		t.note(v.Text("Bold: outside the range that all others foretell. Of 20 such ranges one misses by " +
			"chance alone."))
	}
	return t
}

// compared is what a row of the model compares.
func (w *View) compared(f trust.Foretold) string {
	if f.Ref.Practice == practice.Unsanitized {
		return w.Treatment(f.Arm)
	}
	return w.V.Text("%s, over %s", w.Treatment(f.Arm), w.Treatment(f.Ref))
}

// Held is, season by season, how many comparisons lay where the pool before them had foretold.
func (w *View) Held() Table {
	v := w.V
	t := Table{
		ID:    "came-after",
		Title: v.Text("Did the prediction hold?"),
		Lead: v.Text("Each comparison beside the 95 %% range that the studies of earlier seasons foretold for it, " +
			"counted by season."),
		Columns: []Column{
			numeric("season", v.Text("season"), ""),
			numeric("told", v.Text("comparisons foretold"), ""),
			numeric("inside", v.Text("inside the range"), ""),
			numeric("inside_pct", v.Text("part inside"), "%"),
		},
	}
	add := func(id, name string, told, inside int) *Row {
		share := float64(inside) / float64(told)
		return t.row(id, words(name), count(v, told), count(v, inside), num(percentage(v, share), 100*share))
	}
	told, inside := 0, 0
	for _, y := range trust.ByYear(w.A.Trust.Before) {
		if y.Told > 0 {
			add(v.Year(y.Season), v.Year(y.Season), y.Told, y.Inside)
			told, inside = told+y.Told, inside+y.Inside
		}
	}
	if told == 0 {
		t.note(v.Text("Nothing was foretold: no season has enough studies before it."))
		return t
	}
	add("all", v.Text("all seasons"), told, inside).Strong = true
	return t
}

// Criteria is the list of what a meta-analysis must tell.
func (w *View) Criteria() Table {
	v := w.V
	t := Table{
		ID:    "criteria",
		Title: v.Text("Eight criteria for a meta-analysis in agronomy"),
		Columns: []Column{
			wordy("criterion", v.Text("criterion")), numeric("met", v.Text("met"), ""),
			wordy("why", v.Text("by what is here")),
		},
	}
	for _, c := range w.A.Trust.Criteria {
		met := v.Text("no")
		if c.Met {
			met = v.Text("yes")
		}
		t.row(c.Key, words(capital(v.Text(c.Name))), words(met), words(capital(v.Note(c.Why)))).Dim = !c.Met
	}
	if s := strings.TrimSpace(string(w.A.Input.Search)); s != "" {
		t.note(v.Text("How studies were looked for: %s", s))
	}
	t.note(v.Text("After Philibert, Loyce & Makowski 2012, Agriculture, Ecosystems & Environment 148:72, in words of " +
		"our own."))
	return t
}

// without is a practice's gain where something is left out.
func without(i trust.Influence, t practice.Treatment) (g gain, ok bool) {
	if i.Answer == nil {
		return g, false
	}
	k := slices.IndexFunc(i.Gains, func(x gain) bool { return x.Treatment == t })
	if k < 0 {
		return g, false
	}
	return i.Gains[k], true
}
