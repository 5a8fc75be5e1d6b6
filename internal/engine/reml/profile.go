package reml

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/note"
)

// Interval holds a component's θ. Low is 0 where 0 cannot be ruled out; High is +Inf where the data set no upper bound.
type Interval struct {
	Low, High float64
}

// Profile is the profile-likelihood interval of component k at a level such as 0.95: every θ_k at which the
// likelihood, highest over the other components, lies within half the level's χ² quantile (1 df) of the top.
func (f *Fitted) Profile(k int, level float64) (Interval, error) {
	if k < 0 || k >= len(f.Theta) || !(level > 0 && level < 1) {
		return Interval{}, &Fault{Kind: Malformed,
			Note: note.New("no interval of level %v for component %d", level, k+1)}
	}
	if f.plan.supers == nil {
		return Interval{}, noData()
	}
	top := f.Theta[k]
	cut := distuv.ChiSquared{K: 1}.Quantile(level) / 2
	a := &ascent{st: newState(f.plan, f.ml), trial: newState(f.plan, f.ml), held: -1}
	if err := a.start(nil); err != nil {
		return Interval{}, err
	}
	a.held = k
	unit := a.unit[k]
	near := append([]float64(nil), f.Theta...)
	// below is how far the profile at θ_k lies under the cut: positive outside the interval; and its slope, that of the
	// likelihood with the other components held, since it is flat in those.
	below := func(theta float64) (under, slope float64, err error) {
		a.theta = append(a.theta[:0], near...)
		a.theta[k] = theta
		if !a.trial.eval(a.theta, false) {
			// θ_k = 0 leaves a row without variance: as unlikely as can be.
			return math.Inf(1), 0, nil
		}
		if err := a.climb(); err != nil {
			return 0, 0, err
		}
		copy(near, a.theta)
		return f.LogLik - a.st.loglik - cut, -a.st.score[k], nil
	}
	var out Interval
	if top > 0 {
		at0, _, err := below(0)
		if err != nil {
			return out, err
		}
		if at0 > 0 {
			copy(near, f.Theta)
			if out.Low, err = root(below, top, 0); err != nil {
				return out, err
			}
		}
	}
	copy(near, f.Theta)
	inside := top
	for reach := max(top, unit/16); ; {
		high := inside + reach
		v, _, err := below(high)
		if err != nil {
			return out, err
		}
		if v > 0 {
			out.High, err = root(below, inside, high)
			return out, err
		}
		if high > 1e7*max(unit, top) {
			out.High = math.Inf(1)
			return out, nil
		}
		inside = high
		reach *= 2
	}
}

// root finds where f, a log likelihood with its slope, crosses 0 between a (f < 0) and b (f > 0, maybe infinite), to
// 1e-11 of f or 1e-12 of the larger end: Newton's steps, and bisection where one leaves the bracket or they stall.
func root(f func(float64) (float64, float64, error), a, b float64) (float64, error) {
	c := (a + b) / 2
	last := math.Inf(1)
	for i := 0; math.Abs(b-a) > 1e-12*max(math.Abs(a), math.Abs(b)) && i < 200; i++ {
		v, slope, err := f(c)
		if err != nil {
			return 0, err
		}
		if math.Abs(v) < 1e-11 {
			return c, nil
		}
		if v > 0 {
			b = c
		} else {
			a = c
		}
		next := c - v/slope
		if !(next > min(a, b) && next < max(a, b)) || math.Abs(v) > last/2 {
			next = (a + b) / 2
			last = math.Inf(1)
		} else {
			last = math.Abs(v)
		}
		c = next
	}
	return (a + b) / 2, nil
}
