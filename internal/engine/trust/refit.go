package trust

import (
	"math"
	"sync"

	"spile/internal/engine/effect"
	"spile/internal/engine/mixture"
	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

// Ladder fits the joint model less what each step of Parts lacks. What several treatments ask for is fitted once.
type Ladder struct {
	effects effect.Effects
	set     practice.Set
	options pool.Options
	whole   *pool.Result

	mu   sync.Mutex
	kept map[rung]*pool.Result // nil where nothing can be said
}

// rung is a fit: that of a treatment's own comparisons with unsanitized, else the treatment has a drop age alone.
type rung struct {
	own   practice.Treatment
	model Model
}

// NewLadder stands on a pool's result, its effects and the options that it was fitted with.
func NewLadder(e effect.Effects, set practice.Set, o pool.Options, whole *pool.Result) *Ladder {
	return &Ladder{effects: e, set: set, options: o, whole: whole, kept: map[rung]*pool.Result{}}
}

// gain is a treatment's log gain by a model, from its own comparisons with unsanitized alone or from all; false where
// that is not to be had, or is the model of the step before.
func (l *Ladder) gain(t practice.Treatment, direct bool, m Model) (float64, bool) {
	integrated := l.options.Inference == pool.Mixture
	switch {
	case (m.Wild || m.Shrunk) && !integrated, m.Wild && !m.Shrunk && l.whole.Apart == nil,
		m.Shrunk && !m.Long && l.options.Unshrunk, m.Ageing && !m.Wild && !l.aged(t):
		return 0, false
	}
	r := l.whole
	if m.Ageing && !m.Wild && integrated || !m.Ageing {
		r = l.fit(t, direct, m)
	}
	if r == nil {
		return 0, false
	}
	gain := r.Gain
	if m.Shrunk {
		gain = r.ForMoney
	}
	g, ok := gain(t)
	if m.Long {
		return math.Log1p(g.LongRunPct / 100), ok
	}
	return g.Log, ok
}

// aged is true where studies hold drops of other ages than a treatment's and its references'.
func (l *Ladder) aged(t practice.Treatment) bool {
	kept, all := 0, 0
	for _, s := range l.effects.Studies {
		all += len(s.Rows)
	}
	for _, s := range l.sameAge(t).Studies {
		kept += len(s.Rows)
	}
	return kept < all
}

// sameAge are the effects without drops that tell of a treatment by the curve alone, or as another treatment.
func (l *Ladder) sameAge(t practice.Treatment) effect.Effects {
	same := func(x practice.Treatment) bool { return x.DropAge == 0 || x.DropAge == t.DropAge }
	return l.effects.Keep(func(s effect.StudyEffects, r effect.Row) bool {
		return same(s.Arms[r.Arm]) && same(s.Arms[r.Ref])
	})
}

func (l *Ladder) fit(t practice.Treatment, direct bool, m Model) *pool.Result {
	key, e, o := rung{practice.Treatment{DropAge: t.DropAge}, m}, l.effects, l.options
	switch {
	case direct:
		key.own, e = t, directly(e, t)
	case !m.Ageing:
		e = l.sameAge(t)
	default:
		key.own = practice.Treatment{}
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if r, have := l.kept[key]; have {
		return r
	}
	const none = 1e-6 // a scale under which a standard deviation is as good as 0
	if o.Prior == (mixture.Prior{}) {
		o.Prior = mixture.Default()
	}
	o.Prior.Wild = 0
	if !m.Places {
		o.Site, o.Moderators = false, nil
		o.Prior.Scale[mixture.SiteSD] = none
		o.Prior.Scale[mixture.SeasonSD], o.Prior.Scale[mixture.PracticeSD] = none, none
	}
	r, err := pool.Gains(e, l.set, o)
	if err != nil {
		r = nil
	}
	l.kept[key] = r
	return r
}

// directly are a treatment's own comparisons with unsanitized.
func directly(e effect.Effects, t practice.Treatment) effect.Effects {
	return e.Keep(func(s effect.StudyEffects, r effect.Row) bool {
		return s.Arms[r.Arm] == t && s.Arms[r.Ref].Practice == practice.Unsanitized
	})
}
