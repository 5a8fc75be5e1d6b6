package trust

import (
	"spile/internal/engine/effect"
	"spile/internal/engine/mixture"
	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

// Refit is the fit that Parts asks for: a treatment's log gain by the joint model, less what a Model lacks. Under
// Kenward-Roger and Wald no study stands apart and nothing is shrunk.
func Refit(set practice.Set, o pool.Options, t practice.Treatment) func(effect.Effects, Model) (float64, bool) {
	const none = 1e-6 // a scale under which a standard deviation is as good as 0
	return func(e effect.Effects, m Model) (float64, bool) {
		o := o
		if o.Prior == (mixture.Prior{}) {
			o.Prior = mixture.Default()
		}
		if o.Inference != pool.Mixture && (m.Wild || m.Shrunk) {
			return 0, false
		}
		if !m.Places {
			o.Site, o.Moderators = false, nil
			o.Prior.Scale[mixture.SiteSD] = none
			o.Prior.Scale[mixture.SeasonSD], o.Prior.Scale[mixture.PracticeSD] = none, none
		}
		if !m.Wild {
			o.Prior.Wild = 0
		}
		if !m.Ageing { // drops of other ages tell of this one by the curve alone
			same := func(x practice.Treatment) bool { return x.DropAge == 0 || x.DropAge == t.DropAge }
			e = e.Keep(func(s effect.StudyEffects, r effect.Row) bool {
				return same(s.Arms[r.Arm]) && same(s.Arms[r.Ref])
			})
		}
		r, err := pool.Fit(e, set, o)
		if err != nil || m.Ageing && !m.Wild && !r.Ageing.Estimable {
			return 0, false
		}
		gain := r.Gain
		if m.Shrunk {
			gain = r.ForMoney
		}
		g, ok := gain(t)
		return g.Log, ok
	}
}
