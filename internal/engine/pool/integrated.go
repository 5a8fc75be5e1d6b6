package pool

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"spile/internal/engine/mixture"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Mixture integrates over the variances; Kenward-Roger's answer stands beside it, in Result.KR.
const Mixture Inference = "mixture"

// integrated is the joint model of a table integrated over its variances (M3), and what its columns are.
type integrated struct {
	layout  *layout
	studies []study
	prior   mixture.Prior
	answer  *mixture.Answer
	plain   *mixture.Posterior // as the studies say
	shrunk  *mixture.Posterior // for money
	money   sync.Map           // of treatments what money uses, worked out once

	posteriors struct {
		sync.Mutex
		kept map[string]*Posterior // by treatments: every change of a price asks for the same again
	}
}

// The families toward whose means gains are shrunk: what holds a new spout, washes, and all else.
const (
	newSpouts = iota
	washes
	others
)

func familyOf(p practice.Practice) int {
	switch {
	case p.Spout.Info().New:
		return newSpouts
	case p.Wash != practice.WashNone:
		return washes
	}
	return others
}

// integrate fits the table by the columns of a layout: its own treatments, what drops gain over the practice that they
// age toward, and moderators, near what was integrated before, if it was. Studies left out, each told by its index, may
// be foretold.
func (t *table) integrate(l *layout, p mixture.Prior, near nearby, out ...int) (*integrated, error) {
	m := mixture.Table{Drops: len(l.ageing)}
	for _, x := range l.treatments {
		own, _ := t.set.Find(x.Practice)
		m.Families = append(m.Families, familyOf(own))
	}
	for _, k := range l.moderators {
		m.Moderators = append(m.Moderators, t.deviations[t.options.Moderators[k]])
	}
	for i, s := range t.studies {
		x := mixture.Study{Site: s.site, Trial: s.trial, V: s.v}
		for _, k := range l.moderators {
			x.Moderators = append(x.Moderators, s.moderators[k])
		}
		for k, a := range s.effects.Arms {
			x.Arms = append(x.Arms, l.arm(a, s.effects.SeasonsOf(k), i))
		}
		for _, r := range t.rows[s.first:s.end] {
			x.Rows = append(x.Rows, mixture.Row{Arm: r.source.Arm, Ref: r.source.Ref, Y: r.y})
		}
		m.Studies = append(m.Studies, x)
	}
	if !t.options.Site {
		p.Scale[mixture.SiteSD] = 1e-6
	}
	a, err := near.of(t, m, p, out)
	if err != nil {
		return nil, note.Faults{note.New("the effects cannot be told apart")}
	}
	x := &integrated{layout: l, studies: t.studies, prior: p, answer: a, plain: a.Studies, shrunk: a.Shrunk}
	if t.options.Unshrunk {
		x.shrunk = x.plain
	}
	return x, nil
}

// nearby is what was integrated before, whose boxes are held; nil: nothing.
type nearby struct {
	*integrated
	fine bool // as mixture.Near has it
}

// of integrates a table near one that was integrated before, as long as half of that one's studies are there and the
// spread is assumed alike.
func (x nearby) of(t *table, m mixture.Table, p mixture.Prior, out []int) (*mixture.Answer, error) {
	if x.integrated != nil && p.Scale == x.prior.Scale {
		at := map[string]int{}
		for i, s := range x.studies {
			at[s.name] = i
		}
		n, there := mixture.Near{Answer: x.answer, Index: make([]int, len(t.studies)), Fine: x.fine}, 0
		for i, s := range t.studies {
			k, ok := at[s.name]
			if n.Index[i] = -1; ok {
				n.Index[i] = k
				there++
			}
		}
		if 2*there > len(x.studies) {
			return n.Of(m, p, out...)
		}
	}
	return mixture.Of(m, p, out...)
}

// arm is an arm of a study as the model has it. A season that is not known is the study's own.
func (l *layout) arm(x practice.Treatment, seasons []int, study int) mixture.Arm {
	a := mixture.Arm{Effect: -1, Practice: l.practice(x.Practice)}
	for _, s := range seasons {
		a.Seasons = append(a.Seasons, cmp.Or(s, -1-study))
	}
	if base, on := l.base[x.Practice]; on {
		a.Effect = l.own[practice.Treatment{Practice: base}]
		a.Drop, a.Age = 1+slices.Index(l.ageing, x.Practice), float64(x.DropAge)
	} else if k, ok := l.own[x]; ok {
		a.Effect = k
	}
	return a
}

// practice is the number of a practice, as mixture.Arm has it.
func (l *layout) practice(k practice.Key) int {
	return slices.IndexFunc(l.set, func(p practice.Practice) bool { return p.Key == k })
}

// line is a combination of log gains and moderators; false where a treatment has no place in the model.
func (l *layout) line(parts ...part) (mixture.Line, bool) {
	x := mixture.Line{Fixed: make([]float64, len(l.treatments)+len(l.moderators))}
	for _, p := range parts {
		switch base, on := l.base[p.key]; {
		case p.moderator > 0:
			x.Fixed[len(l.treatments)+p.moderator-1] += p.c
		case p.key == practice.Unsanitized:
		case on:
			x.Fixed[l.own[practice.Treatment{Practice: base}]] += p.c
			x.Drops = append(x.Drops, mixture.Bend{Drop: 1 + slices.Index(l.ageing, p.key), Age: p.age, C: p.c})
		default:
			k, ok := l.own[practice.Treatment{Practice: p.key, DropAge: int(p.age)}]
			if !ok || p.age != math.Trunc(p.age) {
				return x, false
			}
			x.Fixed[k] += p.c
		}
	}
	return x, true
}

// the ends of every interval.
const (
	lowEnd  = 0.025
	highEnd = 0.975
)

// gain is the gain that a combination is, in percents.
func (x *integrated) gain(p *mixture.Posterior, t practice.Treatment, parts ...part) (Gain, bool) {
	g, _, ok := x.gainLong(p, t, parts...)
	return g, ok
}

// gainLong is gain with the distribution of its long run.
func (x *integrated) gainLong(p *mixture.Posterior, t practice.Treatment,
	parts ...part) (Gain, mixture.Marginal, bool) {
	l, ok := x.layout.line(parts...)
	if !ok {
		return Gain{}, nil, false
	}
	g := Gain{Treatment: t, DF: math.Inf(1)}
	if t.Practice == practice.Unsanitized {
		return g, nil, true
	}
	own, season, long := p.Sights(l)
	g.Log, g.SE = own.Mean(), own.SD()
	g.Pct, g.LowPct, g.HighPct = percent(g.Log), percent(own.Quantile(lowEnd)), percent(own.Quantile(highEnd))
	g.LongRunPct = percent(long.Exp())
	g.SeasonLowPct, g.SeasonHighPct = percent(season.Quantile(lowEnd)), percent(season.Quantile(highEnd))
	return g, long, true
}

// difference compares two treatments; what it is not told of is left as it is.
func (x *integrated) difference(d *Difference) {
	l, ok := x.layout.line(of(d.Practice, 1), of(d.Against, -1))
	if !ok {
		return
	}
	m := x.plain.Of(l)
	d.Log, d.SE, d.DF, d.Low, d.High = m.Mean(), m.SD(), math.Inf(1), m.Quantile(lowEnd), m.Quantile(highEnd)
}

// shareDraws is how many draws the interval of a share rests on.
const shareDraws = 8192

// share is a practice's part in another's gain, on percents: its interval by draws, of which one without a gain of the
// other stands beyond every share.
func (x *integrated) share(p, q practice.Key) (Share, bool) {
	s := Share{Practice: p, Of: q}
	a, ok1 := x.layout.line(part{key: p, c: 1})
	b, ok2 := x.layout.line(part{key: q, c: 1})
	if !ok1 || !ok2 {
		return s, false
	}
	whole := x.plain.Of(b)
	if whole.Quantile(lowEnd) <= 0 {
		return s, true
	}
	s.Share = new(math.Expm1(x.plain.Of(a).Mean()) / math.Expm1(whole.Mean()))
	drawn, _ := x.plain.Draws([]mixture.Line{a, b}, shareDraws, 1)
	each := make([]float64, shareDraws)
	for i := range each {
		each[i] = math.Inf(1)
		if drawn[1][i] > 0 {
			each[i] = math.Expm1(drawn[0][i]) / math.Expm1(drawn[1][i])
		} else if drawn[0][i] < 0 {
			each[i] = math.Inf(-1)
		}
	}
	slices.Sort(each)
	s.Low, s.High = new(each[shareDraws/40]), new(each[shareDraws-1-shareDraws/40])
	return s, true
}

// variances are the expectations of the components' variances, with intervals.
func (x *integrated) variances(t *table) []Variance {
	var list []Variance
	for _, c := range []struct {
		name  string
		which int
	}{
		{studyComponent, mixture.StudySD}, {siteComponent, mixture.SiteSD},
		{seasonComponent, mixture.SeasonSD}, {practiceComponent, mixture.PracticeSD},
	} {
		if c.which == mixture.SiteSD && !t.options.Site {
			continue
		}
		low, high := x.plain.Spread(c.which).Quantile(lowEnd), x.plain.Spread(c.which).Quantile(highEnd)
		scale := t.options.Prior.Scale[c.which]
		list = append(list, Variance{Name: c.name, Value: x.plain.Variance(c.which), Low: low * low, High: high * high,
			Assumed: scale * scale})
	}
	return list
}

// curves are both kinds of ageing, in the order of Ageing.Curves.
func (x *integrated) curves(list []Curve) {
	for i, k := range x.plain.Fadings() {
		c := &list[i]
		c.HalfLife, c.HalfLifeLow, c.HalfLifeHigh = k.HalfLife(.5), k.HalfLife(lowEnd), k.HalfLife(highEnd)
		c.Delta, c.Weight, c.AtBound = k.Delta[0], k.Weight, c.HalfLifeHigh > hardlyTold*c.HalfLifeLow
	}
}

// hardlyTold is how many times the low end of a half-life its high end is where the studies hardly tell it.
const hardlyTold = 8

// override puts what is integrated in the place of what Kenward-Roger gives, which is kept beside it in KR.
func (r *Result) override() error {
	x, err := r.table.integrate(r.members[0].layout, r.options.Prior, nearby{r.near, !r.gainsAlone})
	if err != nil {
		return err
	}
	r.integrated = x
	for i, p := range x.answer.Apart {
		r.Apart = append(r.Apart, Apart{r.table.studies[i].name, p})
		if p > standsApart {
			r.Notes.Add("%s stands apart from the other studies; it is not shown to be wrong, and counts for less",
				r.table.studies[i].name)
		}
	}
	return nil
}

// standsApart is the chance above which a study is said to stand apart.
const standsApart = 0.2

// papers fills in KR, the gains by Kenward-Roger.
func (r *Result) papers() {
	x, notes := r.integrated, r.Notes
	r.integrated = nil
	r.gains()
	r.KR, r.Gains, r.Notes = r.Gains, nil, notes
	r.integrated = x
}

// reportIntegrated fills in again what integrating over the variances tells otherwise.
func (r *Result) reportIntegrated() {
	x := r.integrated
	r.Halved = sync.OnceValue(func() []Gain { return r.underPrior(0.5) })
	r.Doubled = sync.OnceValue(func() []Gain { return r.underPrior(2) })
	for i, s := range r.Shares {
		if y, ok := x.share(s.Practice, s.Of); ok {
			r.Shares[i] = y
		}
	}
	r.Variances = x.variances(r.table)
	if a := &r.Ageing; a.Estimable {
		x.curves(a.Curves)
	}
	for i := range r.Moderators {
		m := &r.Moderators[i]
		l, _ := x.layout.line(part{moderator: i + 1, c: 1})
		own := x.plain.Of(l)
		m.Slope, m.SE, m.DF, m.Low, m.High = own.Mean(), own.SD(), math.Inf(1), own.Quantile(lowEnd),
			own.Quantile(highEnd)
	}
}

// Apart is the chance that a study stands apart; NaN where it was not asked. It is not shown to be wrong, and one that
// is not flagged is not shown to be right.
type Apart struct {
	Study  string
	Chance float64
}

// Prior is what inference by mixture took to be known before any study.
func (r *Result) Prior() mixture.Prior { return r.options.Prior }

// Money is a treatment's gain as used for money: shrunk toward the mean of its family. False where the model has no
// place for it, or was not integrated.
func (r *Result) Money(t practice.Treatment) (Gain, bool) {
	if r.integrated == nil {
		return Gain{}, false
	}
	return r.integrated.gain(r.integrated.shrunk, t, of(t, 1))
}

// hangs is the part of an interval's width, on the log scale, by which a gain or an end of its interval moves from
// halved to doubled scales of the priors where it is said to hang on what is assumed.
const hangs = 0.25

// Hangs is true of a gain that hangs on what is assumed of the spread, by what it is with the scales of the priors
// halved and doubled.
func (g Gain) Hangs(half, double Gain) bool {
	far := func(a, b float64) float64 { return math.Abs(math.Log1p(b/100) - math.Log1p(a/100)) }
	return max(far(half.Pct, double.Pct), far(half.LowPct, double.LowPct), far(half.HighPct, double.HighPct)) >
		hangs*far(g.LowPct, g.HighPct)
}

// Far is true of a logarithm of the gain that lies as far off the pooled one as makes it hang on what moved it there.
func (g Gain) Far(log float64) bool {
	return math.Abs(log-g.Log) > hangs*(math.Log1p(g.HighPct/100)-math.Log1p(g.LowPct/100))
}

// underPrior is the gains with all scales of the priors on standard deviations multiplied.
func (r *Result) underPrior(factor float64) []Gain {
	x, err := r.table.integrate(r.members[0].layout, r.options.Prior.Times(factor), nearby{})
	if err != nil {
		return nil
	}
	var list []Gain
	for _, g := range r.Gains {
		if y, ok := x.gain(x.plain, g.Treatment, of(g.Treatment, 1)); ok {
			list = append(list, y)
		}
	}
	return list
}
