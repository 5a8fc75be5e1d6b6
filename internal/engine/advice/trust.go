package advice

import (
	"math"
	"slices"

	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/engine/trust"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// Trust is whether the pool of an answer can be trusted. What cannot be asked of the studies is nil or empty.
type Trust struct {
	Checks     []Check
	Funnel     []trust.Point
	Small      *trust.Egger
	Selections []Selected
	Others     []trust.Foretold // each comparison from all other studies
	Before     []trust.Foretold // each from those of earlier seasons
	Designs    *trust.Inconsistency
	Robust     []trust.Robust
	Criteria   []trust.Criterion
}

// Check is the answer asked again another way. Checks overlap: one study may be all that several of them leave out.
type Check struct {
	Key   string
	Name  string  // in English
	Asked []Asked // more than one where something is left out in turn; none where the check can move nothing
}

// Integrated is true of a check of what is integrated over the variances: it moves money, and those gains alone that
// are inferred by mixture.
func (c Check) Integrated() bool {
	return slices.Contains([]string{"no-wild", "prior-half", "prior-double"}, c.Key)
}

// Asked is the answer to one check; nil where nothing can be said then.
type Asked struct {
	What string // of several, what is left out
	*trust.Answer
}

// Selected is what a stated selection of what was published would have added to the gains.
type Selected struct {
	trust.Selection
	Gains []trust.Selected
}

// check is a question that an answer is asked again under.
type check struct {
	key, name string
	ask       func(m *Memo, a *Advice, t *Trust) []Asked
}

// checks are asked in this order. Those that are as the answer stands, or that it has no room for, give none.
func checks() []check {
	return []check{
		{"study", "each study left out in turn", left(trust.Study)},
		{"site", "each site left out in turn", left(trust.Site)},
		{"season", "each season left out in turn", left(trust.Season)},
		{"caveat", "the studies with each caveat left out in turn", func(m *Memo, a *Advice, _ *Trust) []Asked {
			var list []Asked
			for _, c := range a.admittedCaveats() {
				in := a.Input
				in.Evidence.Without = append(slices.Clone(in.Evidence.Without), c)
				list = append(list, Asked{string(c), m.again(a, in)})
			}
			return list
		}},
		{"no-wild", "no study may stand apart", func(m *Memo, a *Advice, _ *Trust) []Asked {
			if a.Money.Apart == nil {
				return nil
			}
			in := a.Input
			in.Pool.Prior = a.Money.Prior()
			in.Pool.Prior.Wild = 0
			return []Asked{{Answer: m.again(a, in)}}
		}},
		{"prior-half", "what is assumed of the spread halved", underPrior(0.5)},
		{"prior-double", "what is assumed of the spread doubled", underPrior(2)},
		{"no-site", "no effect of the site", func(m *Memo, a *Advice, _ *Trust) []Asked {
			in := a.Input
			if in.Pool.Site = false; !a.Input.Pool.Site {
				return nil
			}
			return []Asked{{Answer: m.again(a, in)}}
		}},
		{"moderated", "errors drawn toward those of their kind", varied(evidence.Moderated)},
		{"pooled", "one error for all studies that are alike", varied(evidence.PooledCV)},
		{"reported", "each error as its study states it", varied(evidence.ReportedSD)},
		{"moderate", "a moderate selection of what was published", selected(0)},
		{"severe", "a severe selection of what was published", selected(1)},
	}
}

func left(k trust.Kind) func(*Memo, *Advice, *Trust) []Asked {
	return func(_ *Memo, a *Advice, _ *Trust) []Asked { return a.leftOut(k) }
}

func underPrior(factor float64) func(*Memo, *Advice, *Trust) []Asked {
	return func(m *Memo, a *Advice, _ *Trust) []Asked {
		in := a.Input
		in.Pool.Prior = a.Money.Prior().Times(factor)
		return []Asked{{Answer: m.again(a, in)}}
	}
}

func varied(by evidence.Rule) func(*Memo, *Advice, *Trust) []Asked {
	return func(m *Memo, a *Advice, _ *Trust) []Asked {
		in := a.Input
		if in.Evidence.Variance = by; a.Input.Evidence.Variance == by {
			return nil
		}
		return []Asked{{Answer: m.again(a, in)}}
	}
}

func selected(i int) func(*Memo, *Advice, *Trust) []Asked {
	return func(m *Memo, a *Advice, t *Trust) []Asked {
		if i >= len(t.Selections) {
			return nil
		}
		p := *a.Pool
		p.Gains = slices.Clone(p.Gains)
		factor := t.Selections[i].factor
		for i := range p.Gains {
			g := &p.Gains[i]
			x, _ := factor(g.Treatment)
			g.Log += math.Log(x)
			for _, y := range []*float64{&g.Pct, &g.LowPct, &g.HighPct} {
				*y = 100 * ((1+*y/100)*x - 1)
			}
		}
		f := fitted{effects: a.Effects, pooled: pooled{pool: &p}}
		return []Asked{{Answer: answerOf(m.priced(a, a.Input, f, a.Money, factor))}}
	}
}

// factor is what is left of a treatment's yield ratio under the selection: of its practice, at whatever age its drops
// were compared with unsanitized; all of it where none was.
func (s Selected) factor(t practice.Treatment) (float64, bool) {
	sum, n := 0., 0.
	for _, x := range s.Gains {
		if x.Treatment.Practice == t.Practice {
			sum += float64(x.Comparisons) * (x.Log - x.Plain)
			n += float64(x.Comparisons)
		}
	}
	return math.Exp(sum / max(1, n)), true
}

// again is the answer to another input; nil where there is none.
func (m *Memo) again(a *Advice, in Input) *trust.Answer { return answerOf(m.moved(a, in)) }

// moved is the answer to an input that differs from an answer's in its studies or in how they are pooled. Money's draws
// are those of the answer, moved as its gains are.
func (m *Memo) moved(a *Advice, in Input) (*Advice, error) {
	trials := m.told(in)
	asked := fitted{rests: in.fit(trials)}.with(in)
	return m.others.of(mostFits, keyOf([2]key{a.rests, asked}), func() (*Advice, error) {
		f, err := in.fitted(trials, func(e effect.Effects) (pooled, error) { return in.pool(e, a.Money.Again) })
		if err != nil {
			return nil, err
		}
		money, err := f.money()
		if err != nil {
			return nil, err
		}
		return m.priced(a, in, f, money, a.toward(money))
	})
}

// toward is how another result moves each yield ratio that money rests on.
func (a *Advice) toward(r *pool.Result) func(practice.Treatment) (float64, bool) {
	return func(t practice.Treatment) (float64, bool) {
		was, _ := a.Money.LongRun(t, nil)
		now, ok := r.LongRun(t, nil)
		return math.Exp(now - was), ok
	}
}

// priced is the answer to another fit, whose draws are those of an answer with each yield ratio multiplied by a factor.
func (m *Memo) priced(a *Advice, in Input, f fitted, money *pool.Result,
	factor func(practice.Treatment) (float64, bool)) (*Advice, error) {
	return priced(in, f, money, m.drawn(a.Input, a.pooled, a.Money).value.moved(factor), a)
}

// answerOf is what moves of an answer; nil where there is none.
func answerOf(a *Advice, err error) *trust.Answer {
	if err != nil {
		return nil
	}
	t := trust.Answer{Gains: a.Pool.Gains, Left: a.Pool.Studies, First: a.First()}
	own, site, season := a.Money.Seasonal()
	t.SDs = [3]float64{math.Sqrt(own), math.Sqrt(site), math.Sqrt(season)}
	return &t
}

// First is what comes first: the practice, or the combination, that is recommended, however often its drops are
// replaced; without prices that of the largest gain. It is "" where nothing does.
func (a *Advice) First() string {
	if o, ok := a.Best(); ok {
		return Option{Practice: o.Practice, With: o.With}.ID()
	}
	if a.Input.Prices != nil || len(a.Pool.Gains) == 0 {
		return ""
	}
	gains := slices.Clone(a.Pool.Gains)
	for i := range gains {
		for _, g := range a.standing {
			if g.Treatment == gains[i].Treatment {
				gains[i].Studies, gains[i].Trials = g.Studies, g.Trials
			}
		}
	}
	best, _ := pool.Most(gains)
	return string(best.Treatment.Practice)
}

// leftOut is the answer with each thing of a kind left out.
func (a *Advice) leftOut(k trust.Kind) (list []Asked) {
	for _, i := range a.Influence {
		if i.Kind == k {
			list = append(list, Asked{i.Named(), i.Answer})
		}
	}
	return list
}

// influences leaves each study, site and season out in turn.
func (m *Memo) influences(a *Advice) []trust.Influence {
	list, _ := m.influence.get(a.rests, func() ([]trust.Influence, error) { return m.leaveOut(a), nil })
	return list
}

func (m *Memo) leaveOut(a *Advice) []trust.Influence {
	linked := a.Effects.Keep(func(s effect.StudyEffects, r effect.Row) bool { // the others are not in the pool
		return !slices.Contains(a.Pool.NotEstimable, s.Arms[r.Arm].Practice) &&
			!slices.Contains(a.Pool.NotEstimable, s.Arms[r.Ref].Practice)
	})
	rows := map[string]int{}
	for _, s := range linked.Studies {
		rows[s.Study] = len(s.Rows)
	}
	return trust.Without(linked, *answerOf(a, nil), func(e effect.Effects) (trust.Answer, bool) {
		left, parted := map[string]bool{}, false
		for _, s := range e.Studies {
			left[s.Study] = true
			parted = parted || len(s.Rows) < rows[s.Study]
		}
		from := func(r *pool.Result, by pool.Inference) (*pool.Result, bool) {
			if !parted {
				return r.Left(func(s *effect.StudyEffects) bool { return !left[s.Study] })
			}
			o := a.Input.Pool // a season of a trial that has others
			o.Inference = by
			r, err := a.Money.Again(e, a.Input.Practices, o)
			return r, err == nil
		}
		r, ok := from(a.Pool, a.Input.Pool.Inference)
		money := r
		if ok && a.Money != a.Pool {
			money, ok = from(a.Money, pool.Mixture)
		}
		if !ok {
			return trust.Answer{}, false
		}
		t := answerOf(m.priced(a, a.Input, fitted{effects: e, pooled: pooled{pool: r}}, money, a.toward(money)))
		return *t, t != nil
	})
}

// Trust is the advice with all that tells whether its pool can be trusted. It takes seconds where studies are many, so
// only those ask who show it.
func (m *Memo) Trust(a *Advice) (*Advice, error) {
	t, err := m.trusts.of(a.Input.room(kept), a.rests, func() (*Advice, error) {
		whole, err := m.Thorough(a)
		if err != nil {
			return nil, err
		}
		a := *whole
		t := new(Trust)
		if l, ok := a.Pool.Linear(); ok {
			t.Funnel, t.Others, t.Before = trust.Funnel(l), trust.Others(l), trust.Before(l)
			if e, ok := trust.SmallStudies(l); ok {
				t.Small = &e
			}
			for _, s := range trust.Selections() {
				if list := s.Under(l); len(t.Funnel) > 2 && list != nil {
					t.Selections = append(t.Selections, Selected{s, list})
				}
			}
			if d, ok := trust.Designs(l); ok {
				t.Designs = &d
			}
			t.Robust, _ = trust.BySite(l)
		}
		for _, c := range checks() {
			x := Check{Key: c.key, Name: c.name}
			idle := x.Integrated() && a.Input.Prices == nil && a.Pool.KR == nil
			if !idle {
				x.Asked = c.ask(m, &a, t)
			}
			if idle || x.Asked != nil {
				t.Checks = append(t.Checks, x)
			}
		}
		t.Criteria = trust.Criteria(a.told(t))
		a.Trust = t
		return &a, nil
	})
	if err != nil {
		return nil, err
	}
	return t.to(a.Input), nil
}

// told is what the answer tells of itself as a meta-analysis.
func (a *Advice) told(t *Trust) trust.Told {
	told := trust.Told{Search: string(a.Input.Search), Studies: a.Pool.Studies, Spare: a.Pool.QDF,
		Sensitivity: a.Pool.Studies > 1, SmallStudies: t.Small != nil, Selections: t.Selections != nil, Data: true}
	source := map[string]string{}
	for _, s := range a.Input.Studies {
		source[s.Name] = s.Source
	}
	loose := func(k practice.Key) bool { return slices.Contains(a.Pool.NotEstimable, k) }
	for _, s := range a.Effects.Studies {
		if !slices.ContainsFunc(s.Rows, func(r effect.Row) bool {
			return !loose(s.Arms[r.Arm].Practice) && !loose(s.Arms[r.Ref].Practice)
		}) {
			continue // it is in no pooled gain
		}
		if !s.Live && source[s.Study] == "" {
			told.Unsourced = append(told.Unsourced, s.Study)
		}
		if slices.ContainsFunc(s.Rows, func(r effect.Row) bool { return !r.Basis.Imputed() }) {
			told.OwnErrors++
		}
	}
	return told
}
