package show

import (
	"cmp"
	"math"

	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/trade/evidence"
	"spile/internal/trade/unit"
)

// Between compares the sanitized practices with each other.
func (w *View) Between() Table {
	v := w.V
	t := Table{
		ID:    "between",
		Title: v.Text("One practice against another"),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			wordy("against", v.Text("against")),
			interval("difference_pct", v.Text("more sap"), "%"),
			interval("difference_log", v.Text("log difference"), ""),
			numeric("se_log", v.Text("standard error"), ""),
			numeric("df", v.Text("degrees of freedom"), ""),
			numeric("p", v.Text("p"), ""),
		},
	}
	if w.A.Pool == nil {
		return t
	}
	for _, d := range w.A.Pool.Between {
		t.row(string(d.Practice.Practice)+"/"+string(d.Against.Practice), words(w.Treatment(d.Practice)),
			words(w.Treatment(d.Against)), percents(v, pct(d.Log), pct(d.Low), pct(d.High)),
			within(v.Decimal(d.Log, 3), d.Log, d.Low, d.High), decimal(v, d.SE, 3), decimal(v, d.DF, 1),
			num(v.P(d.P), d.P))
	}
	if w.A.Pool.KR != nil && len(t.Rows) > 0 {
		t.note(v.Text("p is that of the answer for papers (Kenward & Roger), by itself: it is not of the intervals "+
			"beside it, and of %d comparisons some fall below 0.05 by chance.", len(w.A.Pool.Between)))
	}
	if len(t.Rows) > 0 {
		t.note(w.borrowed())
	}
	return t
}

// borrowed says of how many comparisons the error, and with it every p, is not their own; "" where it is that of all.
func (w *View) borrowed() string {
	n, all, assumed := 0, 0, false
	for _, s := range w.A.Effects.Studies {
		for _, r := range s.Rows {
			all++
			if r.Basis.Imputed() {
				n++
			}
			assumed = assumed || r.Basis == effect.AssumedCV
		}
	}
	v := w.V
	switch {
	case n == 0:
		return ""
	case assumed:
		return v.Text("%d of %d comparisons state no error, and no study tells the spread between units: it is "+
			"assumed to be %s, with one unit where no number is stated. Whatever p stands here rests on that.", n, all,
			v.Percent(100*cmp.Or(w.A.Input.Evidence.DefaultCV, evidence.DefaultCV)))
	}
	return v.Text("%d of %d comparisons state no error: it is taken from other studies, and whatever p stands here "+
		"rests on that.", n, all)
}

// Shares is how much of each practice's gain another explains: the new spout inside the check valve's gain.
func (w *View) Shares() Table {
	v := w.V
	t := Table{
		ID:    "shares",
		Title: v.Text("How much of a gain is just the new spout"),
		Columns: []Column{
			wordy("practice", v.Text("part")),
			wordy("of", v.Text("of the gain of")),
			interval("share_pct", v.Text("share"), "%"),
		},
	}
	if w.A.Pool == nil {
		return t
	}
	undefined := false
	for _, s := range w.A.Pool.Shares {
		cell := none(v)
		if s.Share != nil {
			low, high := math.NaN(), math.NaN()
			if s.Low != nil && s.High != nil {
				low, high = 100**s.Low, 100**s.High
			}
			cell = percents(v, 100**s.Share, low, high)
		} else {
			cell.Marks, undefined = []string{"a"}, true
		}
		t.row(string(s.Practice)+"/"+string(s.Of), words(w.Practice(s.Practice)), words(w.Practice(s.Of)), cell)
	}
	if undefined {
		t.Notes = []Footnote{{"a", v.Text("undefined: that gain is not shown to lie above zero")}}
	}
	return t
}

// Weights is what each contrast brings to the pool, for a statistician.
func (w *View) Weights() Table {
	v := w.V
	t := Table{
		ID:    "weights",
		Title: v.Text("What each comparison brings to the pool"),
		Columns: []Column{
			wordy("study", v.Text("study")),
			wordy("practice", v.Text("practice")),
			wordy("against", v.Text("against")),
			numeric("y", v.Text("log ratio"), ""),
			numeric("v", v.Text("variance"), ""),
			numeric("weight_pct", v.Text("weight"), "%"),
			wordy("imputed", v.Text("error from")),
		},
	}
	if w.A.Pool == nil {
		return t
	}
	for _, x := range w.A.Pool.Weights {
		from := v.Text("the study")
		switch {
		case x.Live:
			from = v.Text("a trial")
		case x.Basis.Imputed():
			from = v.Text("other studies")
		}
		t.row(x.Study, Cell{Text: x.Study, Marks: w.marks(x.Study)}, words(w.Treatment(x.Practice)),
			words(w.Treatment(x.Against)), decimal(v, x.Y, 4), decimal(v, x.V, 5), decimal(v, x.WeightPct, 1),
			words(from))
	}
	t.Notes = append(w.used(t),
		Footnote{Text: v.Text("Weight: how far the pooled gain of the practice moves with this row. It sums to 100 " +
			"over all rows of the practice, older drops and other references among them.")})
	t.note(w.weighs())
	return t
}

// weighs says whose weights they are, where gains are told otherwise.
func (w *View) weighs() string {
	if w.A.Pool.KR == nil {
		return ""
	}
	return w.V.Text("Weights are those of the answer for papers (Kenward & Roger): a study that stands apart counts " +
		"for less in the gains told.")
}

// untold is how near, as a part, a variance lies to what was assumed of it where the studies tell nothing of it.
const untold = 0.01

// Variances is what the joint model says of its own scatter.
func (w *View) Variances() Table {
	v := w.V
	t := Table{
		ID:    "variances",
		Title: v.Text("How much gains differ beyond the studies' own errors"),
		Columns: []Column{
			wordy("component", v.Text("between")),
			interval("variance", v.Text("variance of the log ratio"), ""),
			numeric("sd_pct", v.Text("standard deviation of the yield ratio"), "%"),
		},
	}
	r := w.A.Pool
	if r == nil {
		return t
	}
	names := map[string]string{"study": "studies", "site": "sites", "season": "seasons", "trial": "repeated trials",
		"practice": "places, for one practice"}
	seasons := map[int]bool{}
	for _, s := range w.A.Effects.Studies {
		for _, y := range s.AllSeasons() {
			seasons[y] = true
		}
	}
	one := map[string]bool{"study": r.Studies == 1, "site": r.Sites == 1, "season": len(seasons) == 1,
		"practice": r.Sites == 1}
	var notes lettered
	for _, x := range r.Variances {
		name := cmp.Or(names[x.Name], x.Name)
		between := words(v.Text(name))
		switch {
		case r.KR != nil && one[x.Name]:
			between.Marks = []string{notes.mark(v.Text("this spread is assumed: there is one only"))}
		case r.KR != nil && math.Abs(x.Value/x.Assumed-1) < untold:
			between.Marks = []string{notes.mark(v.Text("this spread is assumed: the studies tell nothing of it"))}
		}
		t.row(x.Name, between, decimals(v, x.Value, x.Low, x.High, 4),
			decimal(v, pct(math.Sqrt(max(0, x.Value))), 0))
	}
	how := v.Text("In brackets: 95 %% interval by profile likelihood.")
	if r.KR != nil {
		how = v.Text("In brackets: 95 %% interval of what is known of each: its prior, and what the studies say of it.")
	}
	t.Notes = append(notes, Footnote{Text: how},
		Footnote{Text: v.Text("Q %s on %d degrees of freedom, %s; I² %s.", v.Decimal(r.Q, 1), r.QDF, v.PIs(r.QP),
			v.Percent(r.I2Pct))})
	t.note(w.borrowed())
	return t
}

// Moderators is what the properties of a study do to its gains; empty where none was asked for.
func (w *View) Moderators() Table {
	v := w.V
	t := Table{
		ID:    "moderators",
		Title: v.Text("What changes a gain"),
		Lead: v.Text("More (or less) sap over unsanitized for each unit more, in every sanitized practice. The " +
			"gains above are at the mean."),
		Columns: []Column{
			wordy("moderator", v.Text("property of a study")),
			wordy("unit", v.Text("unit")),
			numeric("mean", v.Text("mean"), ""),
			interval("slope_pct", v.Text("change for one unit more"), "%"),
			numeric("p", v.Text("p"), ""),
		},
	}
	if w.A.Pool == nil {
		return t
	}
	for _, m := range w.A.Pool.Moderators {
		name, u, factor := m.Name, "", 1.0
		if x, ok := evidence.FindModerator(m.Name); ok {
			name, u = v.Text(x.Name), v.Text(x.Unit)
		}
		if u == v.Text("kPa") && v.Units().Inches() {
			u, factor = v.Text("inHg"), float64(unit.InchOfMercury.Of(1))
		}
		t.row(m.Name, words(name), words(u), num(v.Number(m.Mean/factor), m.Mean/factor),
			decimals(v, pct(m.Slope*factor), pct(m.Low*factor), pct(m.High*factor), 1), num(v.P(m.P), m.P))
	}
	return t
}

// without is a table of answers with something left out: practices across, what is left out down.
func (w *View) without(id, title, what string, rows []pool.Without, name func(string) string) Table {
	v := w.V
	t := Table{
		ID:    id,
		Title: title,
		Lead:  v.Text("Pooled gain of each practice, %%; in the first row nothing is left out."),
		Columns: []Column{
			wordy("without", what),
			numeric("studies", v.Text("studies left"), ""),
		},
	}
	if w.A.Pool == nil || len(rows) == 0 {
		return t
	}
	all := w.A.Pool.Gains
	for _, g := range all {
		t.Columns = append(t.Columns, interval(string(g.Treatment.Practice)+"_pct", w.Treatment(g.Treatment), ""))
	}
	row := func(id, label string, studies int, gains []pool.Gain, marks []string) {
		r := Row{ID: id, Cells: []Cell{{Text: label, Marks: marks}, count(v, studies)}}
		for _, g := range all {
			cell := none(v)
			for _, h := range gains {
				if h.Treatment == g.Treatment {
					cell = within(v.Decimal(h.Pct, tenths(h.Pct)), h.Pct, h.LowPct, h.HighPct)
				}
			}
			r.Cells = append(r.Cells, cell)
		}
		t.Rows = append(t.Rows, r)
	}
	row("", v.Text("nothing"), w.A.Pool.Studies, all, nil)
	for _, x := range rows {
		row(x.What, name(x.What), x.Studies, x.Gains, nil)
	}
	return t
}

// WithoutStudies is the answer without each study.
func (w *View) WithoutStudies() Table {
	t := w.without("without-study", w.V.Text("Without each study"), w.V.Text("study left out"), w.A.WithoutStudy,
		func(s string) string { return s })
	for i := range t.Rows[min(1, len(t.Rows)):] {
		t.Rows[i+1].Cells[0].Marks = w.marks(t.Rows[i+1].ID)
	}
	t.Notes = w.used(t)
	return t
}

// WithoutSites is the answer without each site.
func (w *View) WithoutSites() Table {
	return w.without("without-site", w.V.Text("Without each site"), w.V.Text("site left out"), w.A.WithoutSite,
		func(s string) string { return s })
}

// Caveats is the answer without the studies that carry each caveat, and what would then rank first.
func (w *View) Caveats() Table {
	var rows []pool.Without
	for _, c := range w.A.CaveatEffects {
		x := c.Without
		x.What = string(c.Caveat)
		rows = append(rows, x)
	}
	t := w.without("without-caveat", w.V.Text("What each caveat does to the answer"), w.V.Text("caveat left out"), rows,
		func(s string) string { return w.Caveat(evidence.Caveat(s)) })
	if len(w.A.Ranking) == 0 || len(t.Rows) == 0 {
		return t
	}
	t.Columns = append(t.Columns, wordy("first", w.V.Text("ranked first")))
	first := w.V.None()
	if i := w.A.Recommended; i >= 0 {
		first = w.Option(w.A.Ranking[i])
	}
	t.Rows[0].Cells = append(t.Rows[0].Cells, words(first))
	for i, c := range w.A.CaveatEffects {
		first := w.V.None()
		if c.Best != "" {
			first = w.optionOf(c.Best)
		}
		t.Rows[i+1].Cells = append(t.Rows[i+1].Cells, words(first))
	}
	return t
}

// Indirect is direct beside indirect evidence.
func (w *View) Indirect() Table {
	v := w.V
	t := Table{
		ID:    "indirect",
		Title: v.Text("Direct beside indirect evidence"),
		Lead: v.Text("Direct: studies that hold both practices. Indirect: what the other studies say by way of a " +
			"third practice."),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			wordy("against", v.Text("against")),
			numeric("direct_pct", v.Text("direct"), "%"),
			numeric("indirect_pct", v.Text("indirect"), "%"),
			numeric("disagreement_log", v.Text("log disagreement"), ""),
			numeric("se_log", v.Text("standard error"), ""),
			numeric("p", v.Text("p"), ""),
		},
	}
	if w.A.Pool == nil {
		return t
	}
	for _, d := range w.A.Splits {
		t.row(string(d.Practice)+"/"+string(d.Against), words(w.Practice(d.Practice)), words(w.Practice(d.Against)),
			percent(v, pct(d.DirectLog)), percent(v, pct(d.IndirectLog)), decimal(v, d.DifferenceLog, 3),
			decimal(v, d.SE, 3), num(v.P(d.P), d.P))
	}
	t.note(w.borrowed())
	return t
}
