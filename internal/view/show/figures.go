package show

import (
	"slices"

	"spile/internal/engine/advice"
	"spile/internal/engine/effect"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/view/figure"
)

// figureWords are the words that every figure shares.
func (w *View) figureWords(title, desc string, notes bool) figure.Words {
	v := w.V
	f := figure.Words{
		Title:  title,
		Desc:   desc,
		Number: v.Decimal,
		Many:   v.Text("studies; the higher, the more of them"),
		Left:   func(rows int) string { return v.Text("%d more are not drawn here", rows) },
	}
	if notes {
		for _, n := range w.Footnotes() {
			f.Notes = append(f.Notes, n.Text)
		}
	}
	return f
}

// weak is true of a contrast that has no error of its own.
func (w *View) weak(study string, r effect.Row) bool {
	return r.Basis.Imputed() || slices.Contains(w.A.Caveats[study], evidence.NoReplication)
}

// plainValue is a percentage whose unit stands on the axis.
func (w *View) plainValue(x float64) string { return w.V.Decimal(x, 0) }

// Bars is every study by practice with the mean and its new-spout part: the way a talk shows it. Only comparisons with
// unsanitized are drawn, and drops in their first season, since those are what the mean speaks of.
func (w *View) Bars() figure.Bars {
	v := w.V
	f := figure.Bars{
		Words: w.figureWords(v.Text("What each practice gave, study by study"),
			v.Text("Bars: percent more sap per tap than unsanitized in each study, by practice, with the pooled gain "+
				"of each practice and the part of it that a new spout alone gives."), true),
		Axis: v.Text("more sap per tap than unsanitized, %%"),
		Key: figure.BarsKey{
			Study: v.Text("one study"),
			Weak:  v.Text("one study without an error of its own"),
			Mean:  v.Text("pooled gain"),
			Part:  v.Text("of it the new spout alone"),
		},
	}
	if w.A.Pool == nil {
		return f
	}
	spout, hasSpout := w.gain(practice.NewSpout)
	for _, g := range w.A.Pool.Gains {
		group := figure.BarGroup{Name: w.Treatment(g.Treatment), Mean: new(g.Pct), Value: w.plainValue(g.Pct) +
			"\u00a0%"}
		if hasSpout && w.shareKnown(g.Treatment.Practice) {
			group.Part = new(min(spout.Pct, g.Pct))
		}
		for _, s := range w.A.Effects.Studies {
			for _, r := range s.Rows {
				if s.Arms[r.Arm] != g.Treatment || s.Arms[r.Ref].Practice != practice.Unsanitized {
					continue
				}
				group.Studies = append(group.Studies, figure.Bar{
					Name: w.named(s, r), Gain: r.GainPct, Value: w.plainValue(r.GainPct),
					Weak: w.weak(s.Study, r), Marks: w.Marks(s.Study),
				})
			}
		}
		f.Groups = append(f.Groups, group)
	}
	return f
}

// named is what a row is called in a figure: its study, with a word on a trial of the workbook, whose gain follows its
// readings, and the season where that has several.
func (w *View) named(s effect.StudyEffects, r effect.Row) string {
	if s.Seasons != nil {
		return w.V.Text("%s, %s, live", s.Study, w.span(s.SeasonsOf(r.Arm)))
	}
	if s.Live {
		return w.V.Text("%s, live", s.Study)
	}
	return s.Study
}

// shareKnown is true where the new spout's share in a practice's gain is defined.
func (w *View) shareKnown(k practice.Key) bool {
	for _, s := range w.A.Pool.Shares {
		if s.Practice == practice.NewSpout && s.Of == k && s.Share != nil {
			return true
		}
	}
	return false
}

// Intervals is every comparison with its interval and weight, and what the joint model says of it: the way a paper
// shows it. Comparisons with another reference than unsanitized, and of older drops, have groups of their own.
func (w *View) Intervals() figure.Intervals {
	v := w.V
	f := figure.Intervals{
		Words: w.figureWords(v.Text("Every study with its interval and weight"),
			v.Text("Points: percent more sap per tap in each study, with 95 %% interval and weight, grouped by "+
				"practice; under each group the pooled gain with its interval and the range for one new season."),
			true),
		Ticks: v.Text("Every study, and the pooled gains"),
		Axis:  v.Text("more sap per tap, %%"),
		Head: figure.IntervalsHead{Study: v.Text("study"), Gain: v.Text("gain, %% (95 %%)"),
			Weight: v.Text("weight, %%")},
		Key: figure.IntervalsKey{
			Study:  v.Text("one study, its 95 %% interval; larger: more weight"),
			Weak:   v.Text("without an error of its own"),
			Out:    v.Text("out: kept, but not pooled"),
			Pooled: v.Text("pooled gain, 95 %% interval"),
			Season: v.Text("range for one new season at a new site"),
		},
	}
	if w.A.Pool == nil {
		return f
	}
	type pair struct{ arm, ref practice.Treatment }
	var order []pair
	groups := map[pair]*figure.IntervalGroup{}
	group := func(p pair) *figure.IntervalGroup {
		if g, ok := groups[p]; ok {
			return g
		}
		name := w.Treatment(p.arm)
		if p.ref.Practice != practice.Unsanitized {
			name = v.Text("%s, over %s", name, w.Treatment(p.ref))
		}
		groups[p] = &figure.IntervalGroup{Name: name}
		order = append(order, p)
		return groups[p]
	}
	weights := w.weights()
	for _, s := range w.A.Effects.Studies {
		for i, r := range s.Rows {
			p := pair{s.Arms[r.Arm], s.Arms[r.Ref]}
			half := s.Half(i)
			low, high := pct(r.Y-half), pct(r.Y+half)
			x := figure.Study{
				Name: w.named(s, r), Gain: pct(r.Y), Range: figure.Range{Low: low, High: high},
				Value: percents(v, pct(r.Y), low, high).Text, Weak: w.weak(s.Study, r), Marks: w.Marks(s.Study),
			}
			if wt, ok := weights[weightOf{s.Study, s.SeasonsOf(r.Arm)[0], p.arm, p.ref}]; ok {
				x.Weight, x.Share = wt.WeightPct, v.Decimal(wt.WeightPct, 1)
			}
			g := group(p)
			g.Studies = append(g.Studies, x)
		}
	}
	for _, o := range w.A.Effects.Out {
		for _, s := range w.A.Input.Studies {
			if s.Name != o.Study {
				continue
			}
			for _, x := range w.stated(s) {
				if o.Practice != "" && o.Practice != x.arm.Practice {
					continue
				}
				g := group(pair{x.arm, x.ref})
				g.Studies = append(g.Studies, figure.Study{
					Name: s.Name, Gain: x.pct, Range: figure.Range{Low: x.pct, High: x.pct},
					Value: w.plainValue(x.pct), Weak: true, Out: true, Marks: w.Marks(s.Name),
				})
			}
		}
	}
	rank := func(p pair) (int, int) { // gains in their order, each by drop age; other references after them
		for i, g := range w.A.Pool.Gains {
			if g.Treatment.Practice == p.arm.Practice && p.ref.Practice == practice.Unsanitized {
				return i, p.arm.DropAge
			}
		}
		return len(w.A.Pool.Gains), 0
	}
	slices.SortStableFunc(order, func(a, b pair) int {
		ai, aj := rank(a)
		bi, bj := rank(b)
		if ai != bi {
			return ai - bi
		}
		return aj - bj
	})
	for _, p := range order {
		g := groups[p]
		g.Pooled = w.pooled(p.arm, p.ref)
		f.Groups = append(f.Groups, *g)
	}
	return f
}

// pooled is the joint model's answer for one comparison; nil where it has none.
func (w *View) pooled(arm, ref practice.Treatment) *figure.Pooled {
	v, r := w.V, w.A.Pool
	make := func(name string, x, low, high float64) *figure.Pooled {
		return &figure.Pooled{
			Name: name, Gain: x, Range: figure.Range{Low: low, High: high}, Value: percents(v, x, low, high).Text,
		}
	}
	if ref.Practice == practice.Unsanitized {
		for _, g := range slices.Concat(r.Gains, r.Ageing.ByAge()) {
			if g.Treatment != arm {
				continue
			}
			p := make(v.Text("pooled, %s", v.Text("%d studies", g.Studies)), g.Pct, g.LowPct, g.HighPct)
			p.Season = figure.Range{Low: g.SeasonLowPct, High: g.SeasonHighPct}
			return p
		}
		return nil
	}
	for _, d := range r.Between {
		switch {
		case d.Practice == arm && d.Against == ref:
			return make(v.Text("pooled"), pct(d.Log), pct(d.Low), pct(d.High))
		case d.Practice == ref && d.Against == arm:
			return make(v.Text("pooled"), pct(-d.Log), pct(-d.High), pct(-d.Low))
		}
	}
	return nil
}

// gainStated is a gain as a study states it.
type gainStated struct {
	arm, ref practice.Treatment
	pct      float64
}

// stated are the percent gains of a study that is not pooled, as a reader of it would state them.
func (w *View) stated(s evidence.Study) []gainStated {
	var ref *evidence.Arm
	for i, a := range s.Arms {
		if a.Reference || (ref == nil && a.Practice == practice.Unsanitized) {
			ref = &s.Arms[i]
		}
	}
	treat := func(a evidence.Arm) practice.Treatment {
		t := practice.Treatment{Practice: a.Practice}
		if a.DropAge != nil && w.ages(a.Practice) {
			t.DropAge = *a.DropAge
		}
		return t
	}
	against := practice.Treatment{Practice: practice.Unsanitized}
	if ref != nil {
		against = treat(*ref)
	}
	var list []gainStated
	for i, a := range s.Arms {
		switch {
		case ref == &s.Arms[i]:
		case a.Gain != nil:
			list = append(list, gainStated{treat(a), against, a.Gain.Pct})
		case a.Mean != nil && ref != nil && ref.Mean != nil && *ref.Mean > 0:
			list = append(list, gainStated{treat(a), against, 100 * (*a.Mean / *ref.Mean - 1)})
		}
	}
	return list
}

// AgeingFigure is the gain of drops by age and, with prices, the net by length of the rotation.
func (w *View) AgeingFigure() figure.Ageing {
	v, money := w.V, w.currency()
	f := figure.Ageing{
		Words: w.figureWords(v.Text("How replaced drops age, and how often to replace them"),
			v.Text("Left: gain over unsanitized by the age of the drops, with two curves. Right: net per tap and "+
				"season by the seasons between replacements."), false),
		Gain: figure.AgePanel{
			Title: v.Text("Gain by age of the drop"),
			X:     v.Text("age of the drop, seasons"), Y: v.Text("more sap per tap than unsanitized, %%"),
			NoEvidence: v.Text("no evidence here"),
			Point:      v.Text("one study, 95 %% interval"),
		},
	}
	if !w.A.Rotation.Priced {
		f.Desc = v.Text("Gain over unsanitized by the age of the drops, with two curves.")
	}
	r := w.A.Pool
	if r == nil {
		return f
	}
	f.Gain.Oldest = float64(r.Ageing.Oldest)
	if spout, ok := w.gain(practice.NewSpout); ok && len(r.Ageing.Curves) > 0 {
		f.Gain.Floor = &figure.Level{Name: v.Text("a new spout alone"), Gain: spout.Pct}
	}
	for _, s := range w.A.Effects.Studies {
		for i, row := range s.Rows {
			arm := s.Arms[row.Arm]
			if arm.Practice != w.aging() || s.Arms[row.Ref].Practice != practice.Unsanitized {
				continue
			}
			half := s.Half(i)
			f.Gain.Points = append(f.Gain.Points, figure.AgePoint{
				Age: float64(arm.DropAge), Gain: pct(row.Y),
				Range: figure.Range{Low: pct(row.Y - half), High: pct(row.Y + half)}, Weak: w.weak(s.Study, row),
			})
		}
	}
	for i, c := range r.Ageing.Curves {
		curve := figure.AgeCurve{Name: w.curve(c.Kind)}
		for _, p := range r.Ageing.Points[i] {
			curve.At = append(curve.At, figure.AgeGain{Age: p.Age, Gain: p.Pct, Range: figure.Range{Low: p.LowPct,
				High: p.HighPct}})
		}
		f.Gain.Curves = append(f.Gain.Curves, curve)
	}
	if x := w.A.Rotation; x.Priced && len(x.Intervals) > 0 {
		f.Profit = &figure.LengthPanel{
			Title: v.Text("Net by length of the rotation"),
			X:     v.Text("seasons between replacements"), Y: v.Text("net against unsanitized per tap and season, %s",
				v.Sign(money)),
		}
		if x.Longest() > 1 { // of one interval alone none is the best
			f.Profit.Best, f.Profit.BestName = x.Best, v.Text("best: %s", v.Text("every %d seasons", x.Best))
		}
		if x.FlatTo > x.FlatFrom {
			f.Profit.FlatFrom, f.Profit.FlatTo = x.FlatFrom, x.FlatTo
			f.Profit.FlatName = v.Text("within %s of the best", v.Money(x.FlatWithin, money))
		}
		for _, i := range x.Intervals {
			f.Profit.Lengths = append(f.Profit.Lengths, figure.Length{
				Every: i.Every, Net: i.Expected, Range: figure.Range{Low: i.NetLow, High: i.NetHigh},
				Studied: i.Studied,
			})
		}
	}
	return f
}

// Net is the net per tap of each practice with its parts, against unsanitized and against today's practice. Of the
// rotations of one practice, and of its combinations, only the one that nets most is drawn; the table has them all.
func (w *View) Net() figure.Net {
	v, money := w.V, w.currency()
	f := figure.Net{
		Words: w.figureWords(v.Text("What each practice nets"),
			v.Text("Bars: added returns and reduced costs to the right, added costs and reduced returns to the left, "+
				"per tap and season, at best guesses; the mark is the net on average over what is unsure, with its "+
				"95 %% interval."), false),
		Axis: v.Text("per tap and season, %s", v.Sign(money)),
		Key: figure.NetKey{
			AddedReturns: v.Text("added returns"), ReducedCosts: v.Text("reduced costs"),
			AddedCosts: v.Text("added costs"), ReducedReturns: v.Text("reduced returns"),
			Net: v.Text("net, 95 %% interval"), HeldBack: v.Text("held back here"), NotStudied: v.Text("not studied"),
		},
	}
	best := w.Choices()
	panel := func(title string, of func(advice.Option) advice.Compared) figure.NetPanel {
		p := figure.NetPanel{Title: title}
		for _, i := range best {
			o := w.A.Ranking[i]
			b := of(o)
			p.Rows = append(p.Rows, figure.NetRow{
				Name:         w.Option(o),
				AddedReturns: b.AddedReturns, ReducedCosts: b.ReducedCosts, AddedCosts: b.AddedCosts,
				ReducedReturns: b.ReducedReturns,
				Net:            b.Average(), Range: figure.Range{Low: b.NetLow, High: b.NetHigh},
				Value: v.Money(b.Average(), money),
				Best:  i == w.A.Recommended, HeldBack: o.Verdict != practice.Permitted, NotStudied: !o.Studied,
			})
		}
		return p
	}
	f.Panels = []figure.NetPanel{
		panel(v.Text("against unsanitized"), func(o advice.Option) advice.Compared { return o.Unsanitized }),
		panel(v.Text("against today: %s", w.Today()), func(o advice.Option) advice.Compared { return o.Today }),
	}
	return f
}

// Choices are the rows of the ranking that stand for themselves: of the rotations of one practice, and of its
// combinations, only the first ranked. Indexes into the ranking, in its order.
func (w *View) Choices() []int {
	type choice struct {
		practice, with practice.Key
	}
	seen := map[choice]bool{}
	var list []int
	for i, o := range w.A.Ranking {
		c := choice{o.Practice, o.With}
		if seen[c] && i != w.A.Recommended && !o.IsToday {
			continue
		}
		seen[c] = true
		list = append(list, i)
	}
	return list
}
