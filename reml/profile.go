package reml

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/note"
)

// Interval holds a component's θ. Low is 0 where 0 cannot be ruled out; High is +Inf where the data set no upper bound.
type Interval struct {
	Low, High float64
}

// Profile is the profile-likelihood interval of component k at a level such as 0.95: every θ_k at which the
// likelihood, highest over the other components, lies within half the level's χ² quantile (1 df) of the top.
func (f *Fitted) Profile(k int, level float64) (Interval, error) {
	if k < 0 || k >= len(f.Theta) || !(level > 0 && level < 1) {
		return Interval{}, &Fault{Kind: Malformed, Note: note.New("no interval of level %v for component %d", level, k+1)}
	}
	if f.plan.supers == nil {
		return Interval{}, noData()
	}
	top := f.Theta[k]
	cut := distuv.ChiSquared{K: 1}.Quantile(level) / 2
	a := &ascent{st: newState(f.plan, f.ml), trial: newState(f.plan, f.ml), held: -1}
	if err := a.start(); err != nil {
		return Interval{}, err
	}
	a.held = k
	unit := a.unit[k]
	near := append([]float64(nil), f.Theta...)
	// below is how far the profile at θ_k lies under the cut: positive outside the interval.
	below := func(theta float64) (float64, error) {
		a.theta = append(a.theta[:0], near...)
		a.theta[k] = theta
		if !a.trial.eval(a.theta, false) {
			// θ_k = 0 leaves a row without variance: as unlikely as can be.
			return math.Inf(1), nil
		}
		if len(near) > 1 {
			if err := a.climb(); err != nil {
				return 0, err
			}
			copy(near, a.theta)
			return f.LogLik - a.st.loglik - cut, nil
		}
		return f.LogLik - a.trial.loglik - cut, nil
	}
	var out Interval
	if top > 0 {
		at0, err := below(0)
		if err != nil {
			return out, err
		}
		if at0 > 0 {
			if out.Low, err = root(below, top, 0, -cut, at0); err != nil {
				return out, err
			}
		}
	}
	copy(near, f.Theta)
	inside, under := top, -cut
	for reach := max(top, unit/16); ; {
		high := inside + reach
		v, err := below(high)
		if err != nil {
			return out, err
		}
		if v > 0 {
			out.High, err = root(below, inside, high, under, v)
			return out, err
		}
		if high > 1e7*max(unit, top) {
			out.High = math.Inf(1)
			return out, nil
		}
		inside, under = high, v
		reach *= 2
	}
}

// root finds where f, a log likelihood, crosses 0 between a (f < 0) and b (f > 0, maybe infinite), to 1e-8 of f or 1e-9
// of the larger end: false position in the Illinois manner (Dowell & Jarratt 1971), bisection where that stalls.
func root(f func(float64) (float64, error), a, b, fa, fb float64) (float64, error) {
	for i := 0; math.Abs(b-a) > 1e-9*max(math.Abs(a), math.Abs(b)) && i < 200; i++ {
		c := (a*fb - b*fa) / (fb - fa)
		if i%4 == 3 || !(c > min(a, b) && c < max(a, b)) {
			c = (a + b) / 2
		}
		fc, err := f(c)
		if err != nil {
			return 0, err
		}
		switch {
		case math.Abs(fc) < 1e-8:
			return c, nil
		case fc > 0:
			b, fb = c, fc
			fa /= 2
		default:
			a, fa = c, fc
			if !math.IsInf(fb, 1) {
				fb /= 2
			}
		}
	}
	return (a + b) / 2, nil
}
