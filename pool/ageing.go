package pool

import (
	"errors"
	"math"

	"spile/note"
	"spile/practice"
	"spile/reml"
)

// The half-lives looked at, seasons (M4).
const (
	shortest  = 0.5
	longest   = 12.
	gridSteps = 24
)

// curves finds the practices whose ageing the model can hold: three ages linked to unsanitized, and as linked the
// practice that they age toward, which is the same spout and wash on kept drops. why says what is missing.
func curves(t *table, linked map[practice.Treatment]bool) (base map[practice.Key]practice.Key, why note.Note) {
	base = map[practice.Key]practice.Key{}
	why = note.New("no study follows replaced drops")
	for _, p := range t.set {
		if !p.Ages() {
			continue
		}
		ages := map[int]bool{}
		for x := range linked {
			if x.Practice == p.Key {
				ages[x.DropAge] = true
			}
		}
		if len(ages) == 0 {
			continue
		}
		toward, ok := agesToward(p, t.set)
		switch {
		case !ok:
			why = note.New("%s ages toward no practice that is known: the same spout and wash on kept drops", note.Term(p.Key))
		case len(ages) < 3:
			why = note.New("%s was studied at %d ages of its drops; ageing needs three", note.Term(p.Key), len(ages))
		case !linked[practice.Treatment{Practice: toward}]:
			why = note.New("no chain of studies links %s to unsanitized, toward which %s ages", note.Term(toward), note.Term(p.Key))
		default:
			base[p.Key] = toward
		}
	}
	if len(base) > 0 {
		why = note.Note{}
	}
	return base, why
}

func agesToward(p practice.Practice, set practice.Set) (practice.Key, bool) {
	for _, q := range set {
		if q.Drops == practice.DropsKept && q.Spout == p.Spout && q.Wash == p.Wash {
			return q.Key, true
		}
	}
	return "", false
}

// fitAgeing fits both curves and weighs them. plain is the layout without a curve yet.
func (r *Result) fitAgeing(plain *layout) error {
	r.Ageing.Estimable = true
	var members []member
	for i, c := range []shape{exponential, linear} {
		curve, m, err := r.fitCurve(plain, c)
		if err != nil {
			return err
		}
		for j := range m {
			m[j].curve = i
		}
		r.Ageing.Curves = append(r.Ageing.Curves, curve)
		members = append(members, m...)
	}
	// Both curves have as many parameters, so the AICc weights are those of the likelihoods alone.
	best := max(r.Ageing.Curves[0].LogLik, r.Ageing.Curves[1].LogLik)
	total := 0.0
	for _, c := range r.Ageing.Curves {
		total += math.Exp(c.LogLik - best)
	}
	for i := range r.Ageing.Curves {
		r.Ageing.Curves[i].Weight = math.Exp(r.Ageing.Curves[i].LogLik-best) / total
	}
	for i := range members {
		members[i].weight *= r.Ageing.Curves[members[i].curve].Weight
	}
	r.members = members
	return nil
}

// fitCurve finds the half-life by profile maximum likelihood (REML cannot compare different X). Within the bounds one
// member comes back, its X with the curve's derivative by the half-life as a column, so that the half-life's own
// uncertainty is in every standard error; at a bound, members over the grid weighted by likelihood.
func (r *Result) fitCurve(plain *layout, c shape) (Curve, []member, error) {
	t := r.table
	profile := func(h float64) (float64, *reml.Fitted) {
		f, err := reml.FitML(t.model(plain.at(c, h, nil)))
		if err != nil {
			return math.Inf(-1), nil
		}
		return f.LogLik, f
	}
	grid := make([]float64, gridSteps+1)
	ll := make([]float64, gridSteps+1)
	top := 0
	for i := range grid {
		grid[i] = shortest * math.Pow(longest/shortest, float64(i)/gridSteps)
		ll[i], _ = profile(grid[i])
		if ll[i] > ll[top] {
			top = i
		}
	}
	if math.IsInf(ll[top], -1) {
		_, err := reml.FitML(t.model(plain.at(c, grid[gridSteps/2], nil)))
		var f *reml.Fault
		if errors.As(err, &f) {
			return Curve{}, nil, note.Faults{f.Note}
		}
		return Curve{}, nil, err
	}
	out := Curve{Kind: string(c), HalfLife: grid[top], LogLik: ll[top], AtBound: top == 0 || top == gridSteps}
	if !out.AtBound {
		out.HalfLife, out.LogLik = golden(grid[top-1], grid[top+1], grid[top], ll[top], func(h float64) float64 { l, _ := profile(h); return l })
	}
	const drop = 1.9207 // half the 95 % point of chi-squared with one degree of freedom
	out.HalfLifeLow = crossing(grid, ll, out.HalfLife, out.LogLik-drop, -1)
	out.HalfLifeHigh = crossing(grid, ll, out.HalfLife, out.LogLik-drop, +1)

	var members []member
	if !out.AtBound {
		_, f := profile(out.HalfLife)
		slopeOf, largest := map[practice.Key]float64{}, 0.0
		for _, k := range plain.ageing {
			largest = max(largest, math.Abs(f.Beta[plain.delta[k]]))
		}
		for _, k := range plain.ageing {
			slopeOf[k] = 1
			if largest > 0 && len(plain.ageing) > 1 {
				slopeOf[k] = f.Beta[plain.delta[k]] / largest
			}
		}
		l := plain.at(c, out.HalfLife, slopeOf)
		s, err := t.solve(l)
		var fault *reml.Fault
		switch {
		case err == nil:
			members = []member{{weight: 1, layout: l, solved: s}}
		case errors.As(err, &fault) && fault.Kind == reml.Singular:
			out.AtBound = true // the likelihood is flat in the half-life here
		default:
			return Curve{}, nil, err
		}
	}
	if out.AtBound {
		total := 0.0
		for i, h := range grid {
			w := math.Exp(ll[i] - ll[top])
			if w < 1e-3 {
				continue
			}
			l := plain.at(c, h, nil)
			s, err := t.solve(l)
			if err != nil {
				continue
			}
			members = append(members, member{weight: w, layout: l, solved: s})
			total += w
		}
		if len(members) == 0 {
			return Curve{}, nil, note.Faults{note.New("the ageing of replaced drops cannot be fitted")}
		}
		for i := range members {
			members[i].weight /= total
		}
	}
	if c == exponential {
		out.Lambda = math.Ln2 / out.HalfLife
	}
	for _, m := range members {
		out.Delta += m.weight * m.beta[plain.delta[plain.ageing[0]]]
	}
	return out, members, nil
}

// golden finds the maximum of f within low and high by golden sections on the log scale, starting from a point inside.
func golden(low, high, at, value float64, f func(float64) float64) (x, fx float64) {
	const ratio = 0.6180339887498949
	a, b := math.Log(low), math.Log(high)
	c, d := b-ratio*(b-a), a+ratio*(b-a)
	fc, fd := f(math.Exp(c)), f(math.Exp(d))
	for b-a > 1e-6 {
		if fc >= fd {
			b, d, fd = d, c, fc
			c = b - ratio*(b-a)
			fc = f(math.Exp(c))
		} else {
			a, c, fc = c, d, fd
			d = a + ratio*(b-a)
			fd = f(math.Exp(d))
		}
	}
	x, fx = math.Exp(c), fc
	if fd > fx {
		x, fx = math.Exp(d), fd
	}
	if value > fx {
		return at, value
	}
	return x, fx
}

// crossing is where the profile falls to a level on one side of its top, by interpolation on the grid; the bound where
// it does not.
func crossing(grid, ll []float64, top, level float64, side int) float64 {
	last := top
	lastLL := math.Inf(1)
	i, step := 0, 1
	if side < 0 {
		i, step = len(grid)-1, -1
	}
	for ; i >= 0 && i < len(grid); i += step {
		if float64(side)*(grid[i]-top) <= 0 {
			continue
		}
		if ll[i] < level {
			if math.IsInf(lastLL, 1) || math.IsInf(ll[i], -1) {
				lastLL = level + 1.9207
			}
			if math.IsInf(ll[i], -1) {
				return last
			}
			w := (lastLL - level) / (lastLL - ll[i])
			return math.Exp(math.Log(last) + w*(math.Log(grid[i])-math.Log(last)))
		}
		last, lastLL = grid[i], ll[i]
	}
	return last
}
