package show

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/note"
	"spile/internal/view/figure"
)

// Outlook is what each option is likely to net against today's practice: the long run, or one single season.
func (w *View) Outlook(r *advice.Prospect, season bool) Table {
	v, money := w.V, w.currency()
	spare := v.Text("The 25 and 75 %% points are left out here for want of width; the page How sure and --json have " +
		"them.")
	t := Table{
		ID:    "outlook",
		Title: v.Text("What each practice is likely to net against today's, a tap and season, over the long run"),
		Lead: v.Text("Gains, prices, wages and work drawn together %s times. Best: chance that nothing else that "+
			"may be chosen nets more. Losing: chance of netting less than today's practice.", v.Count(r.Summary.Draws)),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			sums(v, "mean", v.Text("mean"), money),
			numeric("p5", "5\u00a0%", ""), {ID: "p25", Name: "25\u00a0%", Right: true, Spare: spare},
			numeric("p50", "50\u00a0%", ""),
			{ID: "p75", Name: "75\u00a0%", Right: true, Spare: spare}, numeric("p95", "95\u00a0%", ""),
			numeric("best_pct", v.Text("best"), "%"),
			numeric("lose_pct", v.Text("losing"), "%"),
			numeric("beat_spouts_pct", v.Text("above new spouts"), "%"),
			sums(v, "regret", v.Text("regret"), money),
			sums(v, "certain", v.Text("sure worth"), money),
			wordy("dominated", v.Text("dominated by")),
		},
	}
	if season {
		t.ID = "outlook-season"
		t.Title = v.Text("The same in one single season")
		t.Lead = v.Text("One season at one sugarbush swings more than the long run: sites and seasons differ, " +
			"whatever is done.")
	}
	if season && r.Model.Gains.Spread() == (pool.Spread{}) {
		t.Lead = v.Text("No spread between studies or sites was found, so that one season looks as the long run " +
			"does. A real one swings more.")
	}
	var notes lettered
	for k, row := range r.Summary.Rows {
		o := row.Long
		if season {
			o = row.Season
		}
		dominated := words("")
		if len(o.First) > 0 {
			dominated = words(w.ids(r, o.First[:1]))
			dominated.Marks = append(dominated.Marks,
				notes.mark(v.Text("to the first degree: at every chance it nets no less")))
		} else if len(o.Second) > 0 {
			dominated = words(w.ids(r, o.Second[:1]))
			dominated.Marks = append(dominated.Marks,
				notes.mark(v.Text("to the second degree: whoever dislikes risk prefers it")))
		}
		best, spouts := none(v), none(v)
		if row.Open {
			best = chance(v, &o.Best)
		}
		if r.Model.Spouts >= 0 && k != r.Model.Spouts {
			spouts = chance(v, &o.BeatSpouts)
		}
		lose := chance(v, &o.Lose)
		if k == r.Model.Today {
			lose = none(v)
		}
		certain := decimal(v, o.Certainty, 2)
		if !finite(o.Certainty) {
			certain = none(v)
			certain.Marks = append(certain.Marks, notes.mark(v.Text("not told: it hangs on the few worst of the "+
				"draws, and worse ones may come")))
		}
		t.Rows = append(t.Rows, Row{ID: row.ID, Best: k == r.Best, Strong: k == r.Best, Dim: !row.Open, Cells: []Cell{
			words(w.choice(row.Choice)), decimal(v, o.Mean, 2),
			decimal(v, o.P5, 2), decimal(v, o.P25, 2), decimal(v, o.P50, 2), decimal(v, o.P75, 2), decimal(v, o.P95, 2),
			best, lose, spouts, decimal(v, o.Regret, 2), certain, dominated,
		}})
	}
	t.Notes = notes
	t.note(v.Text("Regret: what is lost on average by choosing it now over what turns out best. Sure "+
		"worth: the net for certain that would be as good, to one whose aversion to risk is %s per %s a tap.",
		v.Decimal(r.Summary.Aversion, 1), v.MoneyUnit(money)))
	if r.Summary.Aversion > 0 {
		even := r.Taps / r.Summary.Aversion
		t.note(v.Text("On %s that is one who would just take an even chance of winning %s in a season or losing "+
			"about half of it.", v.Text("%d taps", note.Count(r.Taps)), v.Sum(even, money)))
	}
	worst, most := 0.0, 0.0
	for _, row := range r.Summary.Rows {
		o := row.Long
		if season {
			o = row.Season
		}
		worst, most = max(worst, o.MeanError, o.RegretError), max(most, o.BestError, o.LoseError,
			o.BeatSpoutsError)
	}
	t.note(v.Text("Standard error of the simulation: at most %s %s of a mean and %s %% of a chance. "+
		"Options that are not permitted or not studied are never best.",
		v.Decimal(worst, 3), v.MoneyUnit(money), v.Decimal(100*most, 1)))
	return t
}

// likely is a table of Outlook without what a statistician asks for.
func likely(t Table) Table {
	t.Notes = t.Notes[len(t.Notes)-1:] // the error of the simulation
	return t.Without("p25", "p75", "regret", "certain", "dominated")
}

func (w *View) ids(r *advice.Prospect, ids []string) string {
	var names []string
	for _, id := range ids {
		for _, o := range r.Model.Options {
			if o.ID == id {
				names = append(names, w.choice(o.Choice))
			}
		}
	}
	return w.V.List(names)
}

// widest is how many swings are shown.
const widest = 12

func (w *View) swingsTitle(r *advice.Prospect) string {
	best := w.choice(r.Model.Options[r.Best].Choice)
	if r.Against() == r.Model.Today {
		return w.V.Text("What moves the net of %s against today's, one at a time", best)
	}
	return w.V.Text("What moves the lead of %s over %s, one at a time", best,
		w.choice(r.Model.Options[r.Against()].Choice))
}

// Swings is what moves the net of the best option most.
func (w *View) Swings(r *advice.Prospect, h advice.Hangs) Table {
	v, money := w.V, w.currency()
	t := Table{
		ID:    "swings",
		Title: w.swingsTitle(r),
		Columns: []Column{
			wordy("assumption", v.Text("assumption")),
			numeric("low", v.Text("low"), ""), numeric("high", v.Text("high"), ""),
			wordy("unit", v.Text("unit")),
			sums(v, "net_low", v.Text("net at low"), money),
			sums(v, "net_high", v.Text("net at high"), money),
			wordy("best_low", v.Text("best at low")), wordy("best_high", v.Text("best at high")),
		},
	}
	now := r.Model.Options[r.Best].ID
	other := func(id string) Cell {
		if id == now {
			return words("")
		}
		return words(w.ids(r, []string{id}))
	}
	for _, s := range h.Swings[:min(widest, len(h.Swings))] {
		name, m := w.factor(r, s.Key, s.Treatment)
		t.row(w.factorID(r, s.Key, s.Treatment), words(name), decimal(v, s.Low*m.Factor, m.Digits),
			decimal(v, s.High*m.Factor, m.Digits), words(m.Unit), decimal(v, s.NetLow, 2), decimal(v, s.NetHigh, 2),
			other(s.BestLow), other(s.BestHigh))
	}
	return t
}

// SwingsOfTwo is what two assumptions, or gains, do at once to the net of the best option (two-way sensitivity).
func (w *View) SwingsOfTwo(r *advice.Prospect, h advice.Hangs) Table {
	v, money := w.V, w.currency()
	t := Table{
		ID:    "swings-two",
		Title: v.Text("The same, two at a time"),
		Lead: v.Text("Two of the widest swings at once, each at its low or high end, all others at their best guesses" +
			": what the net then comes to."),
		Columns: []Column{
			wordy("first", v.Text("the first")), wordy("second", v.Text("the second")),
			sums(v, "low_low", v.Text("both low"), money), sums(v, "low_high", v.Text("low and high"), money),
			sums(v, "high_low", v.Text("high and low"), money), sums(v, "high_high", v.Text("both high"), money),
		},
	}
	now := r.Model.Options[r.Best].ID
	var notes lettered
	for _, p := range h.Pairs {
		a, _ := w.factor(r, p.A.Key, p.A.Treatment)
		b, _ := w.factor(r, p.B.Key, p.B.Treatment)
		cells := []Cell{words(a), words(b)}
		for x := range 2 {
			for y := range 2 {
				c := decimal(v, p.Net[x][y], 2)
				if id := p.Best[x][y]; id != now {
					c.Marks = append(c.Marks, notes.mark(v.Text("best there: %s", w.ids(r, []string{id}))))
				}
				cells = append(cells, c)
			}
		}
		t.row(w.factorID(r, p.A.Key, p.A.Treatment)+"+"+w.factorID(r, p.B.Key, p.B.Treatment), cells...)
	}
	t.Notes = notes
	return t
}

// factor names an assumption or the gain of a treatment, with its unit.
func (w *View) factor(r *advice.Prospect, key string, treatment int) (string, Measured) {
	if treatment >= 0 {
		return w.V.Text("gain of %s", w.Treatment(r.Model.Gains.Treatments[treatment])),
			Measured{Factor: 100, Unit: "%", Digits: 0}
	}
	for _, a := range r.Assumptions {
		if a.Key == key {
			return w.V.Note(a.Name), w.Measure(a.Measure)
		}
	}
	return key, Measured{Factor: 1}
}

func (w *View) factorID(r *advice.Prospect, key string, treatment int) string {
	if treatment >= 0 {
		return "gain." + treatmentID(r.Model.Gains.Treatments[treatment])
	}
	return key
}

// Breaks is at which value of an assumption another option comes first.
func (w *View) Breaks(r *advice.Prospect, h advice.Hangs) Table {
	v := w.V
	t := Table{
		ID:    "break-even",
		Title: v.Text("Where another practice would come first"),
		Lead: v.Text("Each assumption alone, all others at their best guesses. Assumptions that change nothing " +
			"within reason are left out."),
		Columns: []Column{
			wordy("assumption", v.Text("assumption")), numeric("best", v.Text("now"), ""),
			numeric("below", v.Text("below"), ""), wordy("below_takes", v.Text("then first")),
			numeric("above", v.Text("above"), ""), wordy("above_takes", v.Text("then first")),
			wordy("unit", v.Text("unit")),
		},
	}
	for _, b := range h.Breaks {
		if b.Below == nil && b.Above == nil {
			continue
		}
		name, m := w.factor(r, b.Key, b.Treatment)
		cell := func(x *float64) Cell {
			if x == nil {
				return none(v)
			}
			return decimal(v, *x*m.Factor, m.Digits)
		}
		t.row(w.factorID(r, b.Key, b.Treatment), words(name), decimal(v, b.Best*m.Factor, m.Digits), cell(b.Below),
			words(w.ids(r, []string{b.BelowTakes})), cell(b.Above), words(w.ids(r, []string{b.AboveTakes})),
			words(m.Unit))
	}
	return t
}

// nearest is a table of breaks that a page has room for: the nearest to now first, units with their assumptions.
func nearest(t Table) Table {
	away := func(r Row) float64 {
		now, far := r.Cells[1].Number, math.Inf(1)
		for _, c := range []Cell{r.Cells[2], r.Cells[4]} {
			if c.Number != nil && now != nil && *now != 0 {
				far = min(far, math.Abs(*c.Number-*now)/math.Abs(*now))
			}
		}
		return far
	}
	t.Rows = slices.Clone(t.Rows)
	slices.SortStableFunc(t.Rows, func(a, b Row) int { return cmp.Compare(away(a), away(b)) })
	for i, r := range t.Rows {
		if unit := r.Cells[6].Text; unit != "" {
			t.Rows[i].Cells = slices.Clone(r.Cells)
			t.Rows[i].Cells[0].Text += ", " + unit
		}
	}
	return t.Without("unit")
}

// Knowing is how much of the uncertainty each group holds, and what it would be worth to know it.
func (w *View) Knowing(r *advice.Prospect, k advice.Knowing) Table {
	v, money := w.V, w.currency()
	next := none(v).Text
	if r.Next >= 0 {
		next = w.choice(r.Model.Options[r.Next].Choice)
	}
	t := Table{
		ID:    "knowing",
		Title: v.Text("What it would be worth to know"),
		Lead: v.Text("A tap and season, before choosing. Variance: part of the uncertainty of the lead of %s over "+
			"%s, alone and with all that goes with it.", w.choice(r.Model.Options[r.Best].Choice), next),
		Columns: []Column{
			wordy("group", v.Text("what")),
			sums(v, "worth", v.Text("worth"), money),
			numeric("first_pct", v.Text("variance alone"), "%"),
			numeric("total_pct", v.Text("in all"), "%"),
		},
	}
	t.row("everything", words(v.Text("everything")), decimal(v, r.Summary.EVPI, 3), none(v), none(v)).Strong = true
	worth, share := r.Summary.EVPIError, 0.0 // standard errors
	for _, p := range k.Parts {
		share = max(share, p.FirstError, p.TotalError)
	}
	for _, x := range k.Known {
		worth = max(worth, x.Error)
		name := v.Term(note.Term(x.Group))
		if joined := strings.Split(x.Group, " + "); len(joined) > 1 { // by correlations
			name = ""
			for _, g := range []note.Term{"prices", "labour", "sap", "materials", "farm"} {
				if slices.Contains(joined, string(g)) {
					name += " + " + v.Term(g)
				}
			}
			name = strings.TrimPrefix(name, " + ")
		}
		row := Row{ID: x.Group, Cells: []Cell{words(name), decimal(v, x.EVPPI, 3), none(v), none(v)}}
		if x.Treatment >= 0 {
			t := r.Model.Gains.Treatments[x.Treatment]
			row.ID, row.Cells[0] = "gain."+string(t.Practice), words(v.Text("gain of %s", w.Treatment(t)))
		}
		for _, p := range k.Parts {
			if p.Group == x.Group && x.Treatment < 0 {
				row.Cells[2], row.Cells[3] = decimal(v, 100*max(0, p.First), 0),
					decimal(v, 100*p.Total, 0) // less than nothing is the simulation's error
			}
		}
		t.Rows = append(t.Rows, row)
	}
	t.note(v.Text("Standard error of the simulation: at most %s %s of a worth and %s %% of a "+
		"part of the variance.", v.Decimal(worth, 3), v.MoneyUnit(money), v.Decimal(100*share, 1)))
	return t
}

// ContestTable is the map of two assumptions in words: who comes first, and by how much, at seven values of each.
func (w *View) ContestTable(r *advice.Prospect, c advice.Contest) Table {
	v := w.V
	x, y := w.Measure(c.X.Measure), w.Measure(c.Y.Measure)
	letters, names := w.contestOrder(r, c)
	t := Table{
		ID:    "map",
		Title: v.Text("Which practice pays best where"),
		Lead: v.Text("Across: %s. Down: %s. All others stand at their best guesses. Each number is by how much "+
			"the practice leads, %s a tap and season.", w.assumption(c.X), w.assumption(c.Y),
			v.MoneyUnit(w.currency())),
		Columns: []Column{numeric("y", v.Note(c.Y.Name), "")},
	}
	const steps = 7
	at := func(k, n int) int { return k * (n - 1) / (steps - 1) }
	for k := range steps {
		value := c.Map.X[at(k, len(c.Map.X))] * x.Factor
		t.Columns = append(t.Columns, wordy("x_"+strconv.FormatFloat(value, 'g', 6, 64), v.Decimal(value, x.Digits)))
	}
	for k := steps - 1; k >= 0; k-- {
		j := at(k, len(c.Map.Y))
		value := c.Map.Y[j] * y.Factor
		row := Row{ID: strconv.FormatFloat(value, 'g', 6, 64), Cells: []Cell{decimal(v, value, y.Digits)}}
		for n := range steps {
			i := at(n, len(c.Map.X))
			row.Cells = append(row.Cells, num(figure.Letter(letters[c.Winner[j][i]])+"\u00a0"+
				v.Decimal(c.Lead[j][i], 2), c.Lead[j][i]))
		}
		t.Rows = append(t.Rows, row)
	}
	for k, name := range names {
		t.note(v.Text("%s: %s", figure.Letter(k), name))
	}
	return t
}

// Certainty says how sure the recommendation is, in the long run and in one season, and what would change it.
func (w *View) Certainty() []string {
	v, x := w.V, w.A.Weighed
	o, ok := w.A.Best()
	if x == nil || x.Prospect == nil || !ok {
		return []string{v.Text("Nothing is recommended, so that nothing can be said of how sure it is.")}
	}
	row := x.Prospect.Summary.Rows[x.Prospect.Best]
	var list []string
	if o.IsToday {
		list = append(list,
			v.Text("%s pays best with a chance of %s over the long run, and of %s in one single season.",
				capital(w.Option(o)), Chance(v, row.Long.Best), Chance(v, row.Season.Best)))
	} else {
		list = append(list, v.Text("%s pays best with a chance of %s over the long run, and of %s in one single "+
			"season; it nets less than today's practice with a chance of %s and of %s.",
			capital(w.Option(o)), Chance(v, row.Long.Best), Chance(v, row.Season.Best),
			Chance(v, row.Long.Lose), Chance(v, row.Season.Lose)))
	}
	list = append(list, w.single())
	if t := w.turns(); t != "" {
		list = append(list, capital(t)+".")
	}
	return list
}
