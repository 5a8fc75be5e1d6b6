package show

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/budget"
	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
)

// Ranking is the producer's arithmetic: gain, money, minutes, plastic, permitted, best first.
func (w *View) Ranking() Table {
	v, money := w.V, w.currency()
	unsanitized := sums(v, "net_unsanitized", v.Text("net against unsanitized"), money).ranged()
	unsanitized.Spare = v.Text("The net against unsanitized is left out here for want of width; the report has it, " +
		"and --json.")
	t := Table{
		ID:    "ranking",
		Title: v.Text("What each practice nets, a tap and season"),
		Lead: v.Text(
			"%s More sap is over unsanitized. Net: the average over what is unsure, which are gains, prices and work. "+
				"In brackets: 95 %% interval.",
			w.reference()),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			sums(v, "net_today", v.Text("net against today"), money).ranged(),
			wordy("permitted", v.Text("permitted")),
			interval("gain_pct", v.Text("more sap"), "%"),
			unsanitized,
			numeric("best_pct", v.Text("best"), "%"),
			numeric("lose_pct", v.Text("losing"), "%"),
			numeric("minutes", v.Text("minutes"), ""),
			numeric("plastic_g", v.Text("plastic"), v.Text("g")),
		},
	}
	var notes lettered
	for i, o := range w.A.Ranking {
		name := words(w.Option(o))
		if o.IsToday {
			name.Marks = append(name.Marks, notes.mark(v.Text("today's practice")))
		}
		if o.Promising != "" {
			name.Marks = append(name.Marks, notes.mark(v.Text("promising, %s: first place needs two studies",
				o.Promising)))
		}
		if !o.Studied {
			name.Marks = append(name.Marks, notes.mark(w.unstudied(o)))
		}
		verdict := words(w.verdict(o.Verdict))
		for _, r := range o.Reasons {
			verdict.Marks = append(verdict.Marks, notes.mark(v.Note(r)))
		}
		minutes, plastic, _ := w.told(o, practice.Unsanitized)
		told := func(known bool, c Cell) Cell {
			if !known {
				c = none(v)
				c.Marks = append(c.Marks, notes.mark(v.Text("not known: the prices do not say it")))
			}
			return c
		}
		t.Rows = append(t.Rows, Row{
			ID:     o.ID(),
			Best:   i == w.A.Recommended,
			Strong: i == w.A.Recommended,
			Dim:    o.Verdict != practice.Permitted,
			Cells: []Cell{
				name, netted(v, o.Today), verdict,
				percents(v, o.GainPct, o.LowPct, o.HighPct), netted(v, o.Unsanitized),
				chance(v, o.ChanceBest), chance(v, o.ChanceLose),
				told(minutes, decimal(v, o.Unsanitized.TotalMinutes(), 2)),
				told(plastic, decimal(v, o.Unsanitized.PlasticG, 0)),
			},
		})
	}
	if s := w.A.Sure; s != nil {
		notes = append(notes,
			Footnote{Text: v.Text("Best: chance of netting most among what is permitted and studied, if what is "+
				"assumed holds; losing: of netting less than today's practice. Over %s draws of gains, prices and "+
				"work together; standard error of the simulation at most %s %%.",
				v.Count(s.Draws), v.Decimal(100*s.Error, 1))})
	}
	if part := w.farmPart(); part != "" {
		notes = append(notes,
			Footnote{Text: v.Text("Money counts %s of the gain that trials found, since a farm gets less of it "+
				"(farm_adjust); the column of more sap is the gain of trials.", part)})
	}
	notes = append(notes, Footnote{Text: w.moneyRests()})
	notes = append(notes,
		Footnote{Text: v.Text("Minutes and plastic are those added to unsanitized. This table informs; it does not " +
			"permit.")})
	t.Notes = notes
	return t
}

// netted is what is netted on average, with its interval.
func netted(v *say.Voice, c advice.Compared) Cell {
	return decimals(v, c.Average(), c.NetLow, c.NetHigh, 2)
}

// farmPart is the part of a trial's gain that money counts; "" where it counts all of it.
func (w *View) farmPart() string {
	p := w.A.Input.Prices
	if p == nil || p.FarmAdjust.Best == 1 {
		return ""
	}
	return w.V.Percent(100 * p.FarmAdjust.Best)
}

func (w *View) unstudied(o advice.Option) string {
	if o.With != "" {
		return w.V.Text("no study holds this combination: what stands in brackets is no 95 %% interval, but a range " +
			"from the better part alone to both gains together; never ranked first")
	}
	return w.V.Text("no evidence here: its oldest drops are older than any studied; never ranked first")
}

func (w *View) verdict(x practice.Verdict) string {
	switch x {
	case practice.Permitted:
		return w.V.Text("yes")
	case practice.HeldBack:
		return w.V.Text("held back")
	case practice.Never:
		return w.V.Text("never")
	}
	return w.V.Text("unknown")
}

// Gains is the pooled gain of every practice, with the plain mean beside it and a word on why they differ.
func (w *View) Gains() Table {
	v := w.V
	t := Table{
		ID:    "gains",
		Title: v.Text("Pooled gains: more sap per tap than unsanitized"),
		Lead: v.Text("In brackets: 95 %% interval of the pooled gain. One new season: where the gain of one season " +
			"at a place not yet studied falls, 95 times in 100."),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			interval("gain_pct", v.Text("studies say"), "%"),
			interval("season_pct", v.Text("one new season"), "%"),
			numeric("long_run_pct", v.Text("long run"), "%"),
			numeric("used_pct", v.Text("for money"), "%"),
			numeric("plain_mean_pct", v.Text("plain mean"), "%"),
			numeric("comparisons", v.Text("comparisons"), ""),
			numeric("studies", v.Text("studies"), ""),
		},
	}
	if w.A.Pool == nil {
		return t
	}
	var notes lettered
	for _, g := range w.A.Pool.Gains {
		plain := none(v)
		if g.PlainMeanPct != nil {
			plain = percent(v, *g.PlainMeanPct)
			if why := w.PlainMean(g); why != "" {
				plain.Marks = []string{notes.mark(why)}
			}
			if g.PlainStudies != g.Studies {
				plain.Marks = append(plain.Marks,
					notes.mark(v.Text("a plain mean of %s", v.Text("%d comparisons", g.PlainStudies))))
			}
		}
		if with := w.through(g.Treatment.Practice); len(with) > 0 {
			plain.Marks = append(plain.Marks, notes.mark(v.Text("no study holds it against unsanitized itself, only "+
				"against %s", v.List(with))))
		}
		season := none(v)
		if g.SeasonLowPct == g.LowPct && g.SeasonHighPct == g.HighPct {
			season.Marks = []string{notes.mark(v.Text("no spread between studies or sites was found, so that " +
				"nothing is known of one new season"))}
		} else if finite(g.SeasonLowPct) && finite(g.SeasonHighPct) {
			season = Cell{Text: bare(v, g.SeasonLowPct, g.SeasonHighPct), Low: &g.SeasonLowPct, High: &g.SeasonHighPct}
		}
		studies := count(v, g.Studies)
		if g.Trials < g.Studies {
			studies.Marks = []string{notes.mark(v.Text("%d independent trials: the seasons of one trial, on "+
				"the same units, count as one study where two are asked for", g.Trials))}
		}
		name := words(w.Treatment(g.Treatment))
		if w.ages(g.Treatment.Practice) {
			name.Marks = []string{notes.mark(v.Text("in its first season; the gain changes with the seasons in use"))}
		}
		t.row(string(g.Treatment.Practice), name, percents(v, g.Pct, g.LowPct, g.HighPct), season,
			percent(v, g.LongRunPct), w.forMoney(g.Treatment), plain, count(v, g.Comparisons), studies)
	}
	without := func(k practice.Key, why string) {
		t.row(string(k), Cell{Text: w.Practice(k), Marks: []string{notes.mark(why)}}, none(v), none(v), none(v),
			none(v), none(v), none(v), none(v)).Dim = true
	}
	for _, k := range w.A.Pool.Older {
		without(k, v.Text("not studied in its first season: its gains by age stand with the rotation"))
	}
	for _, k := range w.A.Pool.NotEstimable {
		without(k, v.Text("not estimable: no chain of studies links it to unsanitized"))
	}
	notes = append(notes, Footnote{Text: v.Text("Studies say: the gain at the middle place and season (median). "+
		"Plain mean: the mean of the percentages as the studies state them.") + " " + w.longRun()},
		Footnote{Text: w.moneyRests()})
	t.Notes = notes
	t.note(w.prior())
	t.note(w.simulated())
	return t
}

// through is what a practice was held against, where that is never unsanitized itself.
func (w *View) through(k practice.Key) (with []string) {
	for _, s := range w.A.Effects.Studies {
		for _, r := range s.Rows {
			arm, ref := s.Arms[r.Arm], s.Arms[r.Ref]
			if ref.Practice == k {
				arm, ref = ref, arm
			}
			switch name := w.Practice(ref.Practice); {
			case arm.Practice != k || ref.Practice == k:
			case ref.Practice == practice.Unsanitized:
				return nil
			case !slices.Contains(with, name):
				with = append(with, name)
			}
		}
	}
	return with
}

// longRun says what a gain over the long run is.
func (w *View) longRun() string {
	switch {
	case w.A.Pool.KR != nil:
		return w.V.Text("Long run: what is expected of the yield ratio over places and seasons, and over what is not " +
			"known of the gain; it lies above the median, the further the less is known.")
	case w.A.Input.Pool.Site:
		return w.V.Text("Long run: the mean over sites; on the log scale it lies above the median by half the " +
			"variance between sites.")
	}
	return w.V.Text("Long run: as the median, since nothing is estimated of sites and seasons.")
}

// prior says what is taken to be known before any study; "" where nothing is.
func (w *View) prior() string {
	if w.A.Pool.KR == nil {
		return ""
	}
	v, s := w.V, w.A.Pool.Prior().Scale
	return v.Text("Assumed before any study, as scales of half-normal priors on standard deviations of log gains: "+
		"between studies %s, sites %s, seasons %s, places of one practice %s, and as used for money between practices "+
		"of a family %s.", v.Decimal(s[0], 2), v.Decimal(s[1], 2), v.Decimal(s[2], 2), v.Decimal(s[3], 2),
		v.Decimal(s[4], 2))
}

// moneyRests says what gain money rests on.
func (w *View) moneyRests() string {
	if w.A.Input.Pool.Unshrunk {
		return w.V.Text("Money, and more sap beside it, rest on the gains as the studies say, the mean over places " +
			"and seasons, drawn toward nothing.")
	}
	return w.V.Text("Money, and more sap beside it, rest on gains drawn toward those of like practices, the more the " +
		"less the studies tell, so that luck puts fewer of them first; the mean over places and seasons.")
}

// forMoney is the gain that money rests on.
func (w *View) forMoney(t practice.Treatment) Cell {
	if w.A.Money != nil {
		if g, ok := w.A.Money.ForMoney(t); ok {
			return percent(w.V, g.LongRunPct)
		}
	}
	return none(w.V)
}

// few is the number of studies of a practice up to which its own studies stand beside its pooled gain.
const few = 2

// asked is the number of studies of a pool up to which every gain is asked how far it hangs on what is assumed: beyond,
// only those of few studies are.
const asked = 300

// assumed is a gain with what is assumed of the spread halved and doubled; false where that was not asked, or cannot be
// told.
func (w *View) assumed(g pool.Gain) (half, double pool.Gain, ok bool) {
	r := w.A.Pool
	if r.KR == nil || r.Studies > asked && g.Studies > few {
		return half, double, false
	}
	same := func(x pool.Gain) bool { return x.Treatment == g.Treatment }
	i, j := slices.IndexFunc(r.Halved(), same), slices.IndexFunc(r.Doubled(), same)
	if i < 0 || j < 0 {
		return half, double, false
	}
	return r.Halved()[i], r.Doubled()[j], true
}

// Few is what the few studies of a practice say by themselves, beside the pooled gain; and every gain whose interval
// hangs on what is assumed of the spread.
func (w *View) Few() Table {
	v, r := w.V, w.A.Pool
	t := Table{
		ID:    "few-studies",
		Title: v.Text("Gains of few studies, and how far gains hang on what is assumed"),
		Lead: v.Text("Their own studies by those studies' errors alone; then the pooled gain, and its interval were " +
			"gains assumed beforehand to differ half as much, or twice as much, from study to study and place to " +
			"place."),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			interval("own_pct", v.Text("what its studies say"), "%"),
			interval("gain_pct", v.Text("pooled"), "%"),
			interval("half_pct", v.Text("half as much"), "%"),
			interval("double_pct", v.Text("twice as much"), "%"),
			numeric("studies", v.Text("studies"), ""),
		},
	}
	if r == nil || r.KR == nil {
		return t
	}
	var notes lettered
	for _, g := range r.Gains {
		half, double, told := w.assumed(g)
		hangs := told && g.Hangs(half, double)
		if g.Studies > few && !hangs {
			continue
		}
		own := none(v)
		if y, half, apart, ok := w.own(g.Treatment); ok && g.Studies <= few {
			own = percents(v, pct(y), pct(y-half), pct(y+half))
			if apart {
				own.Marks = []string{notes.mark(v.Text("their own intervals do not meet: these studies differ by " +
					"more than their errors, of which this interval knows nothing"))}
			}
		}
		under := func(x pool.Gain) Cell {
			if !told {
				return none(v)
			}
			return Cell{Text: bare(v, x.LowPct, x.HighPct), Low: &x.LowPct, High: &x.HighPct}
		}
		pooled := percents(v, g.Pct, g.LowPct, g.HighPct)
		if hangs {
			pooled.Marks = []string{notes.mark(v.Text("hangs on what is assumed: from half to twice of it the gain, " +
				"or an end of its interval, moves by more than a quarter of the interval's width"))}
		}
		t.row(string(g.Treatment.Practice), words(w.Treatment(g.Treatment)), own, pooled, under(half), under(double),
			count(v, g.Studies))
	}
	t.Notes = notes
	return t
}

// own is what the studies of a treatment say of its log gain over unsanitized, each by the precision of its own error,
// and half of the 95 % interval; apart where the intervals of two do not meet; false where none compares the two.
func (w *View) own(t practice.Treatment) (y, half float64, apart, ok bool) {
	var sum, weight float64
	low, high := math.Inf(-1), math.Inf(1) // what all intervals hold
	for _, e := range w.A.Effects.Studies {
		for i, r := range e.Rows {
			if h := e.Half(i); e.Arms[r.Arm] == t && e.Arms[r.Ref].Practice == practice.Unsanitized && h > 0 {
				sum, weight = sum+r.Y/(h*h), weight+1/(h*h)
				low, high = max(low, r.Y-h), min(high, r.Y+h)
			}
		}
	}
	return sum / weight, 1 / math.Sqrt(weight), low > high, weight > 0
}

// Evidence is every study: each of its comparisons with its gain and weight, or why it is out; caveats as footnotes.
func (w *View) Evidence() Table {
	v := w.V
	t := Table{
		ID:    "evidence",
		Title: v.Text("Every study"),
		Lead: v.Text("Gains are over unsanitized unless another reference is named. In brackets: their 95 %% "+
			"interval by the error that the pool takes for the study's: %s.", w.errors()),
		Columns: []Column{
			wordy("study", v.Text("study")),
			wordy("site", v.Text("site")),
			numeric("season", v.Text("season"), ""),
			wordy("practice", v.Text("practice")),
			interval("gain_pct", v.Text("gain"), "%"),
			numeric("weight_pct", v.Text("weight"), "%"),
			wordy("kind", v.Text("kind or why it is out")),
		},
	}
	weights := w.weights()
	apart := w.apart()
	var notes lettered
	unlinked := v.Text("no chain of studies links it to unsanitized")
	admitted := map[string]effect.StudyEffects{}
	for _, e := range w.A.Effects.Studies {
		admitted[e.Study] = e
	}
	out := map[string][]effect.Out{}
	for _, o := range w.A.Effects.Out {
		out[o.Study] = append(out[o.Study], o)
	}
	list := func(name, site string, season Cell, kind string) {
		if e, ok := admitted[name]; ok {
			for i, r := range e.Rows {
				arm, ref := e.Arms[r.Arm], e.Arms[r.Ref]
				what := w.Treatment(arm)
				if ref.Practice != practice.Unsanitized {
					what = v.Text("%s, over %s", what, w.Treatment(ref))
				}
				half := e.Half(i)
				gain := percents(v, pct(r.Y), pct(r.Y-half), pct(r.Y+half))
				if borrowed := r.Basis.Footnote(); borrowed != "" {
					gain.Marks = []string{notes.mark(v.Text(borrowed))}
				}
				weight := none(v)
				if x, ok := weights[weightOf{name, e.SeasonsOf(r.Arm)[0], arm, ref}]; ok {
					weight = decimal(v, x.WeightPct, 1)
				}
				kind, out := kind, w.unlinked(arm, ref)
				if out {
					weight, kind = none(v), v.Text("out: %s", unlinked)
				}
				named := Cell{Text: name, Marks: w.marks(name)}
				if p := apart[name]; p > standsApart {
					named.Marks = append(named.Marks, notes.mark(v.Text("stands apart; not shown to be wrong (the "+
						"chance that it does is %s)", InPercent(v, p))))
				}
				t.row(name, named, words(site), w.season(e, r), words(what), gain,
					weight, words(kind)).Dim = out
			}
		}
		for _, o := range out[name] {
			what := v.Text("all of it")
			if o.Practice != "" {
				what = w.Practice(o.Practice)
			}
			t.row(name, Cell{Text: name, Marks: w.marks(name)}, words(site), season, words(what), none(v), none(v),
				words(v.Text("out: %s", v.Note(note.New(o.Why.Key, o.Why.Args...))))).Dim = true
		}
	}
	for _, s := range w.A.Input.Studies {
		list(s.Name, s.Site, num(v.Year(s.Season), float64(s.Season)), w.kind(s.Kind))
	}
	for _, s := range w.A.Input.Trials {
		season := none(v)
		if years := s.Seasons(); len(years) > 0 {
			season = num(v.Year(years[len(years)-1]), float64(years[len(years)-1]))
		}
		list(s.Name, s.Site, season, v.Text("live: a trial of the workbook"))
	}
	t.Notes = append(w.used(t), notes...)
	t.note(v.Text("Weight: how far the pooled gain of the practice moves with this row. It sums to 100 over all rows " +
		"of the practice, older drops and other references among them."))
	t.note(w.weighs())
	if r := w.A.Pool; r != nil && r.KR != nil && r.Apart == nil {
		t.note(v.Text("Whether a study stands apart is asked from four studies on: here it was not."))
	}
	if asked := len(apart); asked > 0 {
		t.note(v.Text("A study that is not marked as standing apart is not shown to be right by that."))
		if asked < w.A.Pool.Studies {
			t.note(v.Text("Only the %d studies that lie farthest from the others were asked whether they stand apart.",
				asked))
		}
	}
	return t
}

// standsApart is the chance above which a study is said to stand apart.
const standsApart = 0.2

// errors says, in the middle of a sentence, what the error of a study is that the pool goes by.
func (w *View) errors() string {
	switch w.A.Input.Evidence.Variance {
	case evidence.ReportedSD:
		return w.V.Text("as it states it, and where it states none that of all others")
	case evidence.PooledCV:
		return w.V.Text("the spread between units is that of all studies on its kind of unit, unless it states an " +
			"error of its gain")
	}
	return w.V.Text("the spread between its units is drawn toward that of others on its kind of unit, the more the " +
		"fewer units it has, unless it states an error of its gain")
}

// apart is the chance of each study asked that it stands apart.
func (w *View) apart() map[string]float64 {
	m := map[string]float64{}
	if w.A.Pool != nil {
		for _, x := range w.A.Pool.Apart {
			if finite(x.Chance) {
				m[x.Study] = x.Chance
			}
		}
	}
	return m
}

// span is those of some seasons in order: 2019, or 2019–2022.
func (w *View) span(seasons []int) string {
	first, last := w.V.Year(seasons[0]), w.V.Year(seasons[len(seasons)-1])
	if first == last {
		return first
	}
	return first + "–" + last
}

// season is the season of a row, or the seasons that it averages.
func (w *View) season(e effect.StudyEffects, r effect.Row) Cell {
	all := e.SeasonsOf(r.Arm)
	return num(w.span(all), float64(all[0]))
}

// unlinked is true of a comparison of practices that no chain of studies links to unsanitized: it is in no pooled gain.
func (w *View) unlinked(arm, ref practice.Treatment) bool {
	return w.A.Pool != nil && (slices.Contains(w.A.Pool.NotEstimable, arm.Practice) ||
		slices.Contains(w.A.Pool.NotEstimable, ref.Practice))
}

type weightOf struct {
	study        string
	season       int
	arm, against practice.Treatment
}

func (w *View) weights() map[weightOf]pool.Weight {
	m := map[weightOf]pool.Weight{}
	if w.A.Pool != nil {
		for _, x := range w.A.Pool.Weights {
			m[weightOf{x.Study, x.Season, x.Practice, x.Against}] = x
		}
	}
	return m
}

func (w *View) kind(k evidence.Kind) string {
	if k == "" {
		return w.V.None()
	}
	return w.V.Term(note.Term(k))
}

// curve is the name of an ageing curve.
func (w *View) curve(kind string) string {
	switch kind {
	case "exponential":
		return w.V.Text("same part lost each season")
	case "linear":
		return w.V.Text("same amount lost each season")
	}
	return kind
}

// Ageing is the gain of a new drop by its season in use: each age by itself, and along both curves.
func (w *View) Ageing() Table {
	v := w.V
	t := Table{
		ID:    "ageing",
		Title: v.Text("How drops age (%s): gain over unsanitized by drop age", w.Practice(w.aging())),
		Lead:  v.Text("Drop age: seasons in use, 0 in the first."),
		Columns: []Column{
			numeric("drop_age", v.Text("drop age"), ""),
			interval("gain_pct", v.Text("that age by itself"), "%"),
		},
	}
	if w.A.Pool == nil {
		return t
	}
	a := w.A.Pool.Ageing
	if !a.Estimable && a.Why.Key != "" && len(a.ByAge()) > 0 {
		t.note(v.Text("No curve: %s.", v.Note(a.Why)))
	}
	for _, c := range a.Curves {
		t.Columns = append(t.Columns, interval(c.Kind+"_pct", w.curve(c.Kind), "%"))
	}
	beyond := false
	for age := 0; age <= max(a.Oldest+2, 5); age++ {
		here := none(v)
		found := false
		for _, g := range a.ByAge() {
			if g.Treatment == (practice.Treatment{Practice: w.aging(), DropAge: age}) {
				here, found = percents(v, g.Pct, g.LowPct, g.HighPct), true
			}
		}
		if !a.Estimable && !found {
			continue
		}
		r := Row{ID: strconv.Itoa(age), Cells: []Cell{count(v, age), here}}
		for i := range a.Curves {
			cell := none(v)
			for _, p := range a.Points[i] {
				if math.Abs(p.Age-float64(age)) < 1e-9 {
					cell = percents(v, p.Pct, p.LowPct, p.HighPct)
					if !p.Studied {
						cell.Marks, beyond = []string{"a"}, true
						r.Dim = true
					}
				}
			}
			r.Cells = append(r.Cells, cell)
		}
		t.Rows = append(t.Rows, r)
	}
	if beyond {
		t.Notes = append(t.Notes, Footnote{"a", v.Text("no evidence here: older than any drop studied")})
	}
	for _, c := range a.Curves {
		text := v.Text("%s: half of the extra gain is gone after %s seasons (95 %% interval %s), weight %s.",
			capital(w.curve(c.Kind)), v.Decimal(c.HalfLife, 1), w.halfLives(c), v.Percent(100*c.Weight))
		if c.AtBound {
			text += " " + v.Text("The half-life lies at the end of the range looked at: averaged over the range by "+
				"likelihood.")
		}
		t.note(text)
	}
	return t
}

// halfLives is the interval of a half-life; an end that is that of the range looked at is no bound that the studies
// set.
func (w *View) halfLives(c pool.Curve) string {
	v := w.V
	low, high := c.HalfLifeLow > 1.001*pool.ShortestHalfLife, c.HalfLifeHigh < 0.999*pool.LongestHalfLife
	switch {
	case low && high:
		return v.Range(c.HalfLifeLow, c.HalfLifeHigh, 1)
	case low:
		return v.Text("from %s; not bounded above by these studies", v.Decimal(c.HalfLifeLow, 1))
	case high:
		return v.Text("up to %s; not bounded below by these studies", v.Decimal(c.HalfLifeHigh, 1))
	}
	return v.Text("not bounded by these studies")
}

// Rotation is every interval between replacements of the drops.
func (w *View) Rotation() Table {
	v, money := w.V, w.currency()
	r := w.A.Rotation
	t := Table{
		ID:    "rotation",
		Title: v.Text("How often to replace the drops"),
		Columns: []Column{
			numeric("every", v.Text("seasons between replacements"), ""),
			interval("gain_pct", v.Text("mean gain over unsanitized"), "%"),
		},
	}
	loss, lossDigits := numeric("expected_loss", v.Text("expected loss"), "%"), 1
	if r.Priced {
		loss, lossDigits = sums(v, "expected_loss", loss.Name, money), 2
		t.Columns = append(t.Columns, sums(v, "net", v.Text("net against unsanitized"), money).ranged())
		t.Lead = v.Text("Money is a tap and season, the average over what is unsure.")
	}
	if r.Chances {
		t.Columns = append(t.Columns,
			numeric("chance_best", v.Text("chance of being best"), "%"),
			loss,
		)
		t.Lead = strings.TrimSpace(t.Lead + " " + v.Text("Expected loss: what choosing it costs on average, beside "+
			"the interval that turns out best."))
	}
	beyond := false
	for _, x := range r.Intervals {
		every := count(v, x.Every)
		if !x.Studied {
			every.Marks, beyond = []string{"a"}, true
		}
		row := Row{ID: strconv.Itoa(x.Every), Best: x.Every == r.Best, Strong: x.Every == r.Best, Dim: !x.Studied,
			Cells: []Cell{
				every, percents(v, x.GainPct, x.LowPct, x.HighPct),
			}}
		if r.Priced {
			row.Cells = append(row.Cells, decimals(v, x.Expected, x.NetLow, x.NetHigh, 2))
		}
		if r.Chances {
			chance, loss := none(v), none(v) // both are of those studied
			if x.Studied && r.Longest() > 1 {
				chance, loss = decimal(v, 100*x.Best, 0), decimal(v, x.Loss, lossDigits)
			}
			row.Cells = append(row.Cells, chance, loss)
		}
		t.Rows = append(t.Rows, row)
	}
	if beyond {
		t.Notes = append(t.Notes,
			Footnote{"a", v.Text("no evidence here: its oldest drops are older than any studied")})
	}
	if g, ok := w.gain(w.aging()); ok && g.Alone() != "" && len(t.Rows) > 0 && w.A.Reference.Practice != w.aging() {
		t.note(capital(v.Text("promising, %s: first place needs two studies", g.Alone())) + ".")
	}
	if w.A.Pool != nil && len(t.Rows) == 0 && w.A.Pool.Ageing.Why.Key != "" {
		t.note(v.Text("Not estimable: %s.", v.Note(w.A.Pool.Ageing.Why)))
	}
	if s := w.Flat(); s != "" {
		t.note(s)
	}
	return t
}

// Budget is the partial budget of one option: against today's practice, or against unsanitized.
func (w *View) Budget(o advice.Option, today bool) Table {
	v, money := w.V, w.currency()
	b, says, against := o.Unsanitized, o.Says.Unsanitized, w.Practice(practice.Unsanitized)
	id := "unsanitized"
	if today {
		b, says, against, id = o.Today, o.Says.Today, w.Today(), "today"
	}
	t := Table{
		ID:    "budget-" + o.ID() + "-" + id,
		Title: v.Text("Budget of %s against %s, a tap and season", w.Option(o), against),
		Columns: []Column{
			wordy("part", v.Text("part")),
			wordy("item", v.Text("what")),
			sums(v, "amount", v.Text("amount"), money).ranged(),
		},
	}
	parts := []struct {
		part budget.Part
		name string
		sum  float64
	}{
		{budget.AddedReturns, v.Text("added returns"), b.AddedReturns},
		{budget.ReducedCosts, v.Text("reduced costs"), b.ReducedCosts},
		{budget.AddedCosts, v.Text("added costs"), -b.AddedCosts},
		{budget.ReducedReturns, v.Text("reduced returns"), -b.ReducedReturns},
	}
	for _, p := range parts {
		name := p.name
		for _, l := range b.Lines {
			if l.Part == p.part {
				t.row(string(p.part), words(name), words(w.line(l)), decimal(v, l.Amount, 2))
				name = ""
			}
		}
	}
	net := decimal(v, b.Net, 2)
	if b.Expected == nil {
		net = netted(v, b)
	}
	t.row("net", words(v.Text("net")), words(""), net).Strong = true
	if b.Expected != nil && b.NetLow != b.NetHigh {
		t.note(v.Text("Every amount is a best guess. On average over what is unsure, which are gains, prices and "+
			"work, the net is %s (95 %% interval %s): this is what practices are ranked by.",
			v.Money(*b.Expected, money), v.MoneyRange(b.NetLow, b.NetHigh, money)))
	}
	if !o.Studied {
		t.note(w.unstudied(o))
	} else if r, ok := w.A.Find(w.A.Reference); says.Net != b.Net && today && ok &&
		w.A.Reference.Practice != practice.Unsanitized {
		t.note(v.Text("It rests on gains over unsanitized of %s, and of %s of what it is held against, as used for "+
			"money. At %s and %s, drawn toward no other practice, the net would be %s.", v.Percent(o.GainPct),
			v.Percent(r.GainPct), v.Percent(o.Says.GainPct), v.Percent(r.Says.GainPct), v.Money(says.Net, money)))
	} else if says.Net != b.Net {
		t.note(v.Text("It rests on a gain of %s over unsanitized, as used for money. At %s, drawn toward no other "+
			"practice, the net would be %s.", v.Percent(o.GainPct), v.Percent(o.Says.GainPct),
			v.Money(says.Net, money)))
	}
	var parted []string
	for _, win := range price.Windows {
		if m := b.Minutes[win]; m != 0 {
			parted = append(parted, v.Text("%s %s", v.Minutes(m), v.Term(note.Term(win))))
		}
	}
	beside := practice.Unsanitized
	if today {
		beside = cmp.Or(w.A.Reference.Practice, practice.NewSpout)
	}
	minutes, plastic, chemical := w.told(o, beside)
	switch {
	case !minutes:
		t.note(v.Text("Labour: not known."))
	case len(parted) > 0:
		t.note(v.Text("Labour: %s.", v.List(parted)))
	}
	if plastic {
		t.note(v.Text("Plastic: %s.", v.Grams(b.PlasticG)))
	} else {
		t.note(v.Text("Plastic: not known."))
	}
	switch {
	case !chemical:
		t.note(v.Text("Chemical: not known."))
	case b.ChemicalL != 0:
		t.note(v.Text("Chemical: %s.", v.Volume(unit.Volume(b.ChemicalL))))
	}
	return t
}

// told says whether it is known what an option takes beside another practice: minutes, plastic, chemical.
func (w *View) told(o advice.Option, beside practice.Key) (minutes, plastic, chemical bool) {
	keys := []practice.Key{o.Practice, beside}
	if o.With != "" {
		keys = append(keys, o.With)
	}
	return w.A.Input.Prices.Told(w.A.Input.Practices, keys...)
}

// line words a line of a budget.
func (w *View) line(l budget.Line) string { return w.V.Term(note.Term(l.Name)) }

// Cautions are the cautions of every option that has any.
func (w *View) Cautions() Table {
	v := w.V
	t := Table{
		ID:    "cautions",
		Title: v.Text("Cautions"),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			wordy("caution", v.Text("caution")),
		},
	}
	seen := map[practice.Key][]string{}
	for _, o := range w.A.Ranking {
		if o.With != "" {
			continue // its parts have rows of their own
		}
		for _, c := range o.Cautions {
			text := v.Note(c)
			if slices.Contains(seen[o.Practice], text) {
				continue
			}
			name := ""
			if len(seen[o.Practice]) == 0 {
				name = w.Practice(o.Practice)
			}
			seen[o.Practice] = append(seen[o.Practice], text)
			t.row(string(o.Practice), words(name), words(text))
		}
	}
	if len(t.Rows) == 0 {
		return t
	}
	t.Notes = []Footnote{{Text: v.Text("The label is the law. This tool informs; it does not permit.")}}
	return t
}

// Sources are the files that the answer rests on, with the digest of their content.
func (w *View) Sources() Table {
	v := w.V
	t := Table{
		ID:    "sources",
		Title: v.Text("Where the data came from"),
		Columns: []Column{
			wordy("source", v.Text("source")),
			wordy("digest", v.Text("SHA-256 of its content")),
		},
	}
	for _, s := range w.A.Input.Sources {
		t.row(s.Name, words(s.Name), words(s.Digest))
	}
	return t
}
