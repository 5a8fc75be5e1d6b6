package report

import (
	"slices"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/view/figure"
	"spile/internal/view/paper"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// Slides is a talk on the answer as a 16:9 document, every text of it at least 24 points, in the order that builds the
// argument: the question, the answer, every study, pooled gains, ageing and rotation, money, what each caveat does,
// what is not known, the cautions. Its arguments are those of HTML. The same arguments give the same bytes.
func Slides(a *advice.Advice, v *say.Voice, version string, tried ...string) ([]byte, error) {
	w := show.Of(a, v)
	l := look()
	l.Width, l.Height, l.Side, l.Top, l.Bottom, l.Measure = 960, 540, 30, 30, 24, 880
	l.Titles = paper.Bold // as those of the figures, with whose margins these agree too
	l.Heading, l.Lead, l.Body, l.Caption, l.Table, l.Note, l.Least = 30, 32, 24, 30, 24, 24, 24
	f := paper.NewFlow(About(a, v, version), l)

	f.Kicker(v.Text("The question"))
	f.Lede(v.Text("What should be done about tap holes and drops, and does it pay?"))
	for _, text := range ground(w) {
		f.Para(text)
	}
	if len(tried) > 0 {
		f.Break()
		f.Head(v.Text("Tried, and not as the files stand"))
		for _, text := range tried {
			f.Bullet(text)
		}
	}
	f.Break()
	f.Kicker(v.Text("What to do"))
	for i, text := range w.Recommendation() {
		if i == 0 {
			f.Lede(text)
			continue
		}
		if a.Sure != nil { // too long to stand below the first
			f.Break()
			f.Kicker(v.Text("How sure"))
		}
		f.Para(text)
	}
	f.Para(v.Text("This report informs; it does not permit. The label is the law."))

	figures := map[string]func(figure.Size) *figure.Sheet{}
	for _, x := range Figures(w) {
		figures[x.Name] = x.Draw
	}
	if a.Pool != nil {
		figures["intervals"] = pooled(w).Draw
	}
	for _, name := range []string{"bars", "intervals", "ageing"} {
		if draw := figures[name]; draw != nil {
			f.Sheet(draw(figure.Slide).DrawOn)
		}
	}
	if figures["net"] != nil {
		for _, x := range nets(w) {
			f.Sheet(x.Draw(figure.Slide).DrawOn)
		}
	}

	for _, x := range outlooks(w) {
		f.Sheet(x.Draw(figure.Slide).DrawOn)
	}
	if draw := figures["map"]; draw != nil {
		f.Sheet(draw(figure.Slide).DrawOn)
	}

	if t := short(w); len(t.Rows) > 1 {
		f.Break()
		f.Table(slideTable(t, v))
	}
	f.Break()
	f.Head(v.Text("What we do not know"))
	f.Again = v.Text("%s, continued", v.Text("What we do not know"))
	for _, text := range append(unknown(w), w.Warnings()...) {
		f.Bullet(text)
	}
	f.Again = ""
	if draw := figures["trial-size"]; draw != nil {
		f.Sheet(draw(figure.Slide).DrawOn)
	}
	if t := cautions(w); len(t.Rows) > 0 {
		f.Break()
		f.Table(slideTable(t, v))
	}
	return f.Bytes()
}

// ground is what the answer rests on.
func ground(w *show.View) []string {
	v, a := w.V, w.A
	var list []string
	if r := a.Pool; r != nil {
		seasons := []int{}
		for _, s := range a.Effects.Studies {
			seasons = append(seasons, s.AllSeasons()...)
		}
		list = append(list, v.Text("%s (%s) at %s, %s, in one joint model.", v.Text("%d studies", r.Studies),
			v.Text("%d comparisons", r.Rows), v.Text("%d sites", r.Sites),
			v.Seasons(slices.Min(seasons), slices.Max(seasons))))
	}
	if a.Input.Prices != nil {
		list = append(list, v.Text("Today's practice: %s.", w.Today()))
	}
	return list
}

// pooled is the figure of intervals of the practices that have a gain over unsanitized, in their first season and
// without the single studies: what a hall can read.
func pooled(w *show.View) figure.Intervals {
	f := w.Intervals()
	f.Title = w.V.Text("Pooled gain of each practice")
	f.Notes, f.Key.Study, f.Key.Weak, f.Key.Out, f.Head.Study, f.Head.Weight = nil, "", "", "", "", ""
	var groups []figure.IntervalGroup
	for _, g := range w.A.Pool.Gains {
		for _, x := range f.Groups {
			if x.Name == w.Treatment(g.Treatment) && x.Pooled != nil {
				groups = append(groups, figure.IntervalGroup{Name: x.Name, Pooled: x.Pooled})
			}
		}
	}
	f.Groups = groups
	return f
}

// nets is the figure of what each practice nets, a slide a reference.
func nets(w *show.View) []figure.Net {
	var list []figure.Net
	for _, p := range w.Net().Panels {
		f := w.Net()
		f.Panels = []figure.NetPanel{p}
		list = append(list, f)
	}
	return list
}

// outlooks is the figure of what each practice is likely to net, a slide a horizon.
func outlooks(w *show.View) []figure.Outlook {
	x := w.A.Weighed
	if x == nil || x.Prospect == nil {
		return nil
	}
	var list []figure.Outlook
	for _, p := range w.OutlookFigure(x.Prospect).Panels {
		f := w.OutlookFigure(x.Prospect)
		f.Panels = []figure.OutlookPanel{p}
		list = append(list, f)
	}
	return list
}

// cautions is the table of cautions, one that several practices share once.
func cautions(w *show.View) show.Table {
	t := w.Cautions()
	out := show.Table{ID: t.ID, Title: t.Title, Columns: t.Columns}
	where := map[string]int{}
	name := ""
	for _, r := range t.Rows {
		if r.Cells[0].Text != "" {
			name = r.Cells[0].Text
		}
		text := r.Cells[1].Text
		k, ok := where[text]
		if !ok {
			k = len(out.Rows)
			where[text] = k
			out.Rows = append(out.Rows, show.Row{ID: r.ID, Cells: []show.Cell{{Text: name}, r.Cells[1]}})
			continue
		}
		out.Rows[k].Cells[0].Text += ", " + name
	}
	return out
}

// short is the table of what each caveat does, with the practice of the recommendation only.
func short(w *show.View) show.Table {
	t := w.Caveats()
	keep := map[string]bool{"without": true, "studies": true, "first": true}
	if i := w.A.Recommended; i >= 0 && i < len(w.A.Ranking) {
		keep[string(w.A.Ranking[i].Practice)+"_pct"] = true
	}
	out := show.Table{ID: t.ID, Title: t.Title}
	for i, c := range t.Columns {
		if keep[c.ID] || len(keep) == 3 {
			out.Columns = append(out.Columns, t.Columns[i])
			if c.Interval { // elsewhere the sentence over the table says the unit
				out.Columns[len(out.Columns)-1].Unit = "%"
			}
		}
	}
	for _, r := range t.Rows {
		var cells []show.Cell
		for i, c := range r.Cells {
			if keep[t.Columns[i].ID] || len(keep) == 3 {
				cells = append(cells, c)
			}
		}
		r.Cells = cells
		out.Rows = append(out.Rows, r)
	}
	return out
}

// unknown is what the evidence leaves open.
func unknown(w *show.View) []string {
	v, a := w.V, w.A
	var list []string
	if a.Pool == nil {
		return nil
	}
	if i := a.Recommended; i >= 0 && i < len(a.Ranking) {
		for _, g := range a.Pool.Gains {
			if g.Treatment.Practice == a.Ranking[i].Practice && g.Treatment.DropAge == 0 {
				list = append(list, v.Text("One new season at a new site: the gain of %s is %s, 95 times of 100.",
					w.Treatment(g.Treatment), v.PercentRange(g.SeasonLowPct, g.SeasonHighPct)))
			}
		}
	}
	if a.Pool.Ageing.Estimable {
		list = append(list, v.Text("No drop beyond its season %d in use was studied.", a.Pool.Ageing.Oldest+1))
	}
	var pairs, none []string
	for _, i := range w.Choices() {
		if o := a.Ranking[i]; o.With != "" {
			pairs = append(pairs, w.Option(o))
		}
	}
	if len(pairs) > 0 {
		list = append(list, v.Text("No study holds %s.", v.List(pairs)))
	}
	for _, k := range a.Pool.NotEstimable {
		none = append(none, w.Practice(k))
	}
	if len(none) > 0 {
		list = append(list, v.Note(note.New("no chain of studies links %s to unsanitized", none)))
	}
	return list
}

// slideTable is a table in one size of text: units and intervals in it, no footnotes.
func slideTable(t show.Table, v *say.Voice) paper.Table {
	out := tableOf(t, v)
	out.Lead, out.Notes = "", nil
	for i, c := range t.Columns {
		out.Columns[i].Head, out.Columns[i].Unit = c.Head(), ""
	}
	for k, r := range t.Rows {
		for i, c := range r.Cells {
			out.Rows[k].Cells[i] = paper.Cell{Text: c.Text}
		}
	}
	return out
}
