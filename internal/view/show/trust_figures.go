package show

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/engine/trust"
	"spile/internal/trade/practice"
	"spile/internal/view/figure"
)

// FunnelFigure is every comparison with unsanitized by its gain and its own error.
func (w *View) FunnelFigure() Drawing {
	v := w.V
	f := figure.Funnel{
		Words: w.figureWords(v.Text("Do small studies tell another story?"),
			v.Text("Each comparison with unsanitized by its gain, across, and its own standard error, down. Between "+
				"the lines a comparison is not told from no gain. At the top stand the pooled gains. Where small "+
				"studies lie to one side of these, those on the other side may not have been published."), false),
		X:    v.Text("more sap per tap than unsanitized, %%, on a scale of ratios"),
		Y:    v.Text("standard error of the log ratio"),
		Gain: v.Text("pooled gain"),
	}
	for _, p := range []float64{0.1, 0.05, 0.01} {
		f.Edges = append(f.Edges,
			figure.FunnelEdge{Name: v.Text("p = %s", v.Decimal(p, 2)), Errors: trust.Contour(p, 1)})
	}
	at := map[practice.Key]int{}
	for _, p := range w.A.Trust.Funnel {
		k := p.Treatment.Practice
		i, have := at[k]
		if !have {
			i = len(f.Groups)
			at[k] = i
			g := figure.FunnelGroup{Name: w.Practice(k)}
			if pooled, ok := w.gain(k); ok {
				g.Pooled = new(pooled.Log)
			}
			f.Groups = append(f.Groups, g)
		}
		f.Groups[i].Points = append(f.Groups[i].Points, figure.FunnelPoint{Log: p.Y, SE: p.SE})
	}
	if len(f.Groups) == 0 {
		return nil
	}
	return f
}

// How many rows a figure of what was foretold or left out has: those that lie farthest.
const (
	rowsForetold = 30
	rowsLeftOut  = 12 // of each kind
)

// rangesFigure is a figure of ranges that were foretold, with what came, and those that it has room for; none where
// nothing was foretold.
func (w *View) rangesFigure(list []trust.Foretold, title, desc string) (figure.Intervals, []trust.Foretold) {
	v := w.V
	far, told := farthest(list)
	f := figure.Intervals{
		Words: w.figureWords(title, desc, true),
		Axis:  v.Text("more sap per tap, %%"),
		Head:  figure.IntervalsHead{Study: v.Text("study"), Gain: v.Text("gain, %% (foretold, 95 %%)")},
		Key: figure.IntervalsKey{
			Study: v.Text("where it was to be expected, 95 %%; the stroke is the study"),
			Out:   v.Text("outside it: the ring is the study"),
		},
	}
	if told > len(far) {
		f.Axis = v.Text("more sap per tap, %%; of %d comparisons the %d that lie farthest out", told, len(far))
	}
	return f, far
}

// foretoldRow is a comparison on the range that was foretold for it.
func (w *View) foretoldRow(f trust.Foretold, name string) figure.Study {
	return figure.Study{Name: name, Gain: pct(f.Y), Range: figure.Range{Low: pct(f.Low), High: pct(f.High)}, Weight: 1,
		Value: w.V.Text("%s (%s)", w.plainValue(pct(f.Y)), bare(w.V, pct(f.Low), pct(f.High))), Out: !f.Inside,
		Marks: w.Marks(f.Study)}
}

// farthest is those that were foretold, the farthest out first, cut to those that a figure has room for.
func farthest(list []trust.Foretold) (far []trust.Foretold, told int) {
	for _, f := range list {
		if f.Told {
			far = append(far, f)
		}
	}
	slices.SortStableFunc(far, func(a, b trust.Foretold) int {
		return cmp.Compare(math.Abs(b.Studentized), math.Abs(a.Studentized))
	})
	return far[:min(rowsForetold, len(far))], len(far)
}

// ForetoldFigure is each comparison beside what all other studies foretell, by practice.
func (w *View) ForetoldFigure() Drawing {
	v := w.V
	f, far := w.rangesFigure(w.A.Trust.Others, v.Text("Each study beside what the others foretell"),
		v.Text("Each comparison on the range that all other studies foretell for it, by practice."))
	if far == nil {
		return nil
	}
	of := map[string]int{}
	for _, x := range far {
		name := w.compared(x)
		i, have := of[name]
		if !have {
			i = len(f.Groups)
			of[name] = i
			f.Groups = append(f.Groups, figure.IntervalGroup{Name: name})
		}
		f.Groups[i].Studies = append(f.Groups[i].Studies, w.foretoldRow(x, x.Study))
	}
	return f
}

// HeldFigure is each comparison beside what the studies before it foretold, by season.
func (w *View) HeldFigure() Drawing {
	v := w.V
	f, far := w.rangesFigure(w.A.Trust.Before, v.Text("What came after, beside what the pool had said"),
		v.Text("Each comparison on the range that the studies of earlier seasons foretold for it, by season."))
	if far == nil {
		return nil
	}
	for _, y := range trust.ByYear(w.A.Trust.Before) {
		g := figure.IntervalGroup{Name: v.Text("%s: %d of %d inside", v.Year(y.Season), y.Inside, y.Told)}
		for _, x := range far {
			if x.Season == y.Season {
				g.Studies = append(g.Studies, w.foretoldRow(x, v.Text("%s, %s", x.Study, w.compared(x))))
			}
		}
		if g.Studies != nil {
			f.Groups = append(f.Groups, g)
		}
	}
	return f
}

// InfluenceFigure is the gain of what comes first with each study, site and season left out: of each kind what moves it
// most.
func (w *View) InfluenceFigure() Drawing {
	v, s := w.V, w.subject()
	now, ok := w.gain(s.Practice)
	if !ok {
		return nil
	}
	f := figure.Intervals{
		Words: w.figureWords(v.Text("What the gain of %s rests on", w.Treatment(s)),
			v.Text("The pooled gain with its 95 %% interval when a study, a site or a season is left out, what moves "+
				"it most first."), true),
		Axis: v.Text("more sap per tap than unsanitized, %%"),
		Head: figure.IntervalsHead{Study: v.Text("left out"), Gain: v.Text("gain, %% (95 %%)")},
		Key: figure.IntervalsKey{
			Study:  v.Text("gain without it, 95 %% interval"),
			Out:    v.Text("another practice comes first without it"),
			Pooled: v.Text("nothing left out"),
		},
	}
	for _, k := range []struct {
		kind trust.Kind
		name string
	}{{trust.Study, v.Text("a study")}, {trust.Site, v.Text("a site")}, {trust.Season, v.Text("a season")}} {
		g := figure.IntervalGroup{Name: k.name}
		all := 0
		for _, i := range w.moved() {
			x, ok := without(i, s)
			if i.Kind != k.kind || !ok {
				continue
			}
			if all++; all > rowsLeftOut {
				continue
			}
			r := figure.Study{Name: i.Named(), Gain: x.Pct, Range: figure.Range{Low: x.LowPct, High: x.HighPct},
				Weight: 1, Value: percents(v, x.Pct, x.LowPct, x.HighPct).Text, Out: i.Turns}
			if k.kind == trust.Study {
				r.Marks = w.Marks(i.What)
			}
			g.Studies = append(g.Studies, r)
		}
		if all > rowsLeftOut {
			g.Name = v.Text("%s: of %d the %d that move it most", k.name, all, rowsLeftOut)
		}
		if g.Studies != nil {
			f.Groups = append(f.Groups, g)
		}
	}
	if len(f.Groups) == 0 {
		return nil
	}
	f.Groups[len(f.Groups)-1].Pooled = &figure.Pooled{Name: v.Text("nothing left out"), Gain: now.Pct,
		Range: figure.Range{Low: now.LowPct, High: now.HighPct},
		Value: percents(v, now.Pct, now.LowPct, now.HighPct).Text}
	return f
}

// QuantilesFigure is what the others leave unexplained of each comparison: over what they foretell, and against a
// normal sample.
func (w *View) QuantilesFigure() Drawing {
	v := w.V
	y := v.Text("residual, in standard errors")
	f := figure.Residuals{
		Words: w.figureWords(v.Text("What the other studies leave unexplained"),
			v.Text("Left: each comparison's residual over what the others foretell. Right: the same residuals against "+
				"those of a normal sample; near the straight line they are like one."), false),
		Fitted: figure.ResidualPanel{Title: v.Text("Over what the others foretell"),
			X: v.Text("more sap per tap, %%, by the others"), Y: y},
		Normal: figure.ResidualPanel{Title: v.Text("Against a normal sample"), X: v.Text("normal quantile"), Y: y},
	}
	for _, r := range w.A.Trust.Others {
		if !r.Told || !finite(r.Studentized) {
			continue
		}
		p := figure.Residual{Fitted: pct(r.Y - r.Residual), Standardized: r.Studentized, NormalScore: r.Normal}
		if math.Abs(r.Studentized) > farOut {
			p.Name = r.Study
		}
		f.Points = append(f.Points, p)
	}
	if len(f.Points) < 3 {
		return nil
	}
	return f
}
