package show

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/engine/advice"
	"spile/internal/trade/price"
	"spile/internal/view/figure"
)

// OutlookFigure is what each practice is likely to net against today's, over the long run and in one season. Of the
// rotations of one practice only the one ranked first is drawn; the table has them all.
func (w *View) OutlookFigure(r *advice.Prospect) figure.Outlook {
	v := w.V
	f := figure.Outlook{
		Words: w.figureWords(v.Text("What each practice is likely to net"),
			v.Text("Of 100 draws of gains, prices and work, how many fall where: the stem holds 90, the bud the "+
				"middle half. Left over the long run, right in one single season, with the chance of being best."),
			false),
		Axis: v.Text("net against today's practice per tap and season, %s", v.Sign(w.currency())),
		Key: figure.OutlookKey{
			Middle: v.Text("the middle half of all draws"), Wide: v.Text("90 of 100"),
			Median: v.Text("half below, half above"),
			Closed: v.Text("not to be chosen: not permitted, or not studied"),
		},
	}
	rest := 1.0 // chance of being best of what is not drawn
	panel := func(title string, season bool) figure.OutlookPanel {
		p := figure.OutlookPanel{Title: title, Head: v.Text("best, %%")}
		for _, i := range w.Choices() {
			o := w.A.Ranking[i]
			k := w.modelled(r, o.ID())
			if k < 0 {
				continue
			}
			row := r.Summary.Rows[k]
			x := row.Long
			if season {
				x = row.Season
			}
			value := v.None()
			if row.Open {
				value = percentage(v, x.Best)
				if !season {
					rest -= x.Best
				}
			}
			p.Rows = append(p.Rows, figure.OutlookRow{
				Name: w.Option(o), P5: x.P5, P25: x.P25, P50: x.P50, P75: x.P75, P95: x.P95,
				Value: value, Best: i == w.A.Recommended, Closed: !row.Open,
			})
		}
		return p
	}
	f.Panels = []figure.OutlookPanel{panel(v.Text("over the long run"), false), panel(v.Text("in one single season"),
		true)}
	worst := 0.0
	for _, row := range r.Summary.Rows {
		worst = max(worst, row.Long.BestError, row.Season.BestError)
	}
	f.Key.Error = v.Text("standard error of a chance: at most %s %%", v.Decimal(100*worst, 1))
	if rest > 0.005 {
		f.Key.Rest = v.Text("best over the long run among the rotations not drawn: %s", InPercent(v, rest))
	}
	return f
}

// modelled is the index of an option of the ranking in the model; −1 where it is not drawn.
func (w *View) modelled(r *advice.Prospect, id string) int {
	for k, row := range r.Summary.Rows {
		if row.ID == id {
			return k
		}
	}
	return -1
}

// guessed is the net of an option against today's practice with every best guess; that of today's is 0.
func (w *View) guessed(id string) float64 {
	for _, o := range w.A.Ranking {
		if o.ID() == id {
			return o.Today.Net
		}
	}
	return 0
}

// SwingsFigure is what moves the net of the best option most.
func (w *View) SwingsFigure(r *advice.Prospect, h advice.Hangs) figure.Swings {
	v := w.V
	first, against := r.Model.Options[r.Best].ID, r.Model.Options[r.Against()].ID
	f := figure.Swings{
		Words: w.figureWords(w.swingsTitle(r), v.Text("Each assumption alone from its low to its high end, all "+
			"others at their best guesses, and what the net comes to."), false),
		Axis: v.Text("net per tap and season, %s", v.Sign(w.currency())),
		Now:  w.guessed(first) - w.guessed(against),
		Key: figure.SwingsKey{
			Low: v.Text("at its low end"), High: v.Text("at its high end"), Now: v.Text("all at their best guesses"),
			Other: v.Text("another practice comes first there"),
		},
	}
	for _, s := range h.Swings[:min(widest, len(h.Swings))] {
		if math.Abs(s.NetHigh-s.NetLow) < 0.005 {
			break // nothing of it could be seen
		}
		name, m := w.factor(r, s.Key, s.Treatment)
		if m.Unit != "" {
			name += ", " + m.Unit
		}
		f.Rows = append(f.Rows, figure.Swing{
			Name: name, Low: s.NetLow, High: s.NetHigh, OtherLow: s.BestLow != first, OtherHigh: s.BestHigh != first,
			Value: v.Range(s.Low*m.Factor, s.High*m.Factor, m.Digits),
		})
	}
	return f
}

// ContestFigure is the map of two assumptions.
func (w *View) ContestFigure(r *advice.Prospect, c advice.Contest) figure.Contest {
	v := w.V
	scaled := func(x []float64, a price.Assumption) []float64 {
		f := w.Measure(a.Measure).Factor
		list := make([]float64, len(x))
		for i := range x {
			list[i] = x[i] * f
		}
		return list
	}
	f := figure.Contest{
		Words: w.figureWords(v.Text("Which practice pays best where"),
			v.Text("A map over two assumptions, all others at their best guesses: which practice comes first, and by "+
				"how much."), false),
		X: w.assumption(c.X), Y: w.assumption(c.Y), Lead: c.Lead,
		At: [2][]float64{scaled(c.Map.X, c.X), scaled(c.Map.Y, c.Y)},
		Now: [2]float64{c.X.Value.Best * w.Measure(c.X.Measure).Factor,
			c.Y.Value.Best * w.Measure(c.Y.Measure).Factor},
		NowName: v.Text("the best guesses"),
		Figures: v.Text("numbers: by how much it leads, %s a tap and season", v.MoneyUnit(w.currency())),
	}
	letters, names := w.contestOrder(r, c)
	f.Names = names
	for _, row := range c.Winner {
		list := make([]int, len(row))
		for i, k := range row {
			list[i] = letters[k]
		}
		f.Winner = append(f.Winner, list)
	}
	return f
}

// contestOrder gives each option that comes first somewhere on a map its letter, the widest ground A, and names them in
// that order.
func (w *View) contestOrder(r *advice.Prospect, c advice.Contest) (letters map[int]int, names []string) {
	ground := map[int]int{}
	for _, row := range c.Winner {
		for _, k := range row {
			ground[k]++
		}
	}
	var order []int
	for k := range r.Model.Options {
		if ground[k] > 0 {
			order = append(order, k)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(ground[b], ground[a]) })
	letters = map[int]int{}
	for i, k := range order {
		letters[k] = i
		names = append(names, w.choice(r.Model.Options[k].Choice))
	}
	return letters, names
}

// assumption is the name of an assumption with its unit.
func (w *View) assumption(a price.Assumption) string {
	if m := w.Measure(a.Measure); m.Unit != "" {
		return w.V.Note(a.Name) + ", " + m.Unit
	}
	return w.V.Note(a.Name)
}

// SizesFigure is what the first of the trials brings and costs by its size.
func (w *View) SizesFigure(n *advice.Next) figure.Sizes {
	v, money := w.V, w.currency()
	f := figure.Sizes{
		Words: w.figureWords(v.Text("A trial of its size"), "", false),
		X:     v.Text("blocks, each with one unit of every practice"), Y: v.Text("money over all taps and seasons, %s",
			v.Sign(money)),
		Key: figure.SizesKey{Benefit: v.Text("expected benefit"), Cost: v.Text("cost"), Net: v.Text("what is left")},
	}
	if len(n.Ranked) == 0 {
		return f
	}
	best := n.Ranked[0]
	f.Title = v.Text("What a trial is worth by its size: %s", w.called(best.Trial))
	f.Desc = v.Text("By the number of blocks, %s: what the trial is expected to bring, what it costs, and what is "+
		"left.", w.staged(best.Trial))
	if n.Options.Design.Units > 1 {
		f.X = v.Text("blocks, each with %d units of every practice", n.Options.Design.Units)
	}
	worst := 0.0
	for _, x := range n.Sizes {
		worst = max(worst, x.NetError())
		f.Points = append(f.Points, figure.SizePoint{Size: x.Trial.Blocks, Benefit: x.Benefit, Cost: x.Cost,
			Net: x.Net})
	}
	f.Key.Error = v.Text("standard error of the simulation: at most %s %s", v.Decimal(math.Ceil(worst), 0),
		v.MoneyUnit(money))
	if best.Net > 0 {
		f.Best = best.Trial.Blocks
		f.BestName = v.Text("best: %s, %s left", v.Text("%d blocks", best.Trial.Blocks), v.Sum(best.Net, money))
	}
	return f
}
