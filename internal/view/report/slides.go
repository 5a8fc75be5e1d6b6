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

	part := func(name string) {
		for _, s := range w.Spreads(show.Talk, name) {
			for _, x := range s.Figures {
				f.Sheet(x.Draw(figure.Slide).DrawOn)
			}
			for _, t := range s.Tables {
				f.Break()
				f.Table(slideTable(t, v))
			}
		}
	}
	part("evidence")
	part("money")
	f.Break()
	f.Head(v.Text("What we do not know"))
	f.Again = v.Text("%s, continued", v.Text("What we do not know"))
	for _, text := range append(unknown(w), w.Warnings()...) {
		f.Bullet(text)
	}
	f.Again = ""
	part("unknown")
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
