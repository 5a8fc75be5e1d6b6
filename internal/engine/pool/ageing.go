package pool

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// The half-lives looked at, seasons (M4); an end of an interval that lies here is not bounded by the studies.
const (
	ShortestHalfLife = 0.5
	LongestHalfLife  = 12.
)

const (
	shortest  = ShortestHalfLife
	longest   = LongestHalfLife
	gridSteps = 16

	// of the grid's half-lives, where all variances are looked through; between, they follow their neighbour's
	searchEvery = 8
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
			why = note.New("%s ages toward no practice that is known: the same spout and wash on kept drops",
				note.Term(p.Key))
		case len(ages) < 3:
			why = note.New("%s was studied at %d ages of its drops; ageing needs three", note.Term(p.Key), len(ages))
		case !linked[practice.Treatment{Practice: toward}]:
			why = note.New("no chain of studies links %s to unsanitized, toward which %s ages", note.Term(toward),
				note.Term(p.Key))
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
	shapes := [...]shape{exponential, linear}
	if r.gainsAlone {
		for _, c := range shapes {
			if !r.fits(plain, c) {
				return noAgeing
			}
		}
		r.members = []member{{weight: 1, layout: plain}}
		return nil
	}
	var fitted [len(shapes)][]member
	var failed [len(shapes)]error
	r.Ageing.Curves = make([]Curve, len(shapes))
	var group sync.WaitGroup
	for i, c := range shapes {
		group.Go(func() { r.Ageing.Curves[i], fitted[i], failed[i] = r.fitCurve(plain, c) })
	}
	group.Wait()
	var members []member
	for i := range shapes {
		if failed[i] != nil {
			return failed[i]
		}
		for _, m := range fitted[i] {
			m.curve = i
			members = append(members, m)
		}
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
	profile := r.quickProfile()
	var grid, ll [gridSteps + 1]float64
	var theta [gridSteps + 1][]float64
	top := 0
	for i := range grid {
		grid[i] = halfLife(i)
		var near []float64
		if i%searchEvery != 0 {
			near = theta[i-1]
		}
		ll[i], theta[i] = profile(plain.at(c, grid[i], nil), near)
		if ll[i] > ll[top] {
			top = i
		}
	}
	if math.IsInf(ll[top], -1) {
		return Curve{}, nil, noAgeing
	}
	out := Curve{Kind: string(c), HalfLife: grid[top], AtBound: true}
	var members []member
	if top > 0 && top < gridSteps {
		if l, ok := r.climb(plain.at(c, grid[top], nil), theta[top], grid[top-1], grid[top+1]); ok {
			if s, err := r.solveCurve(l); err == nil {
				out.HalfLife, out.AtBound = l.halfLife, false
				members = []member{{weight: 1, layout: l, solved: s}}
			}
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
			s, err := r.solveCurve(l)
			if err != nil {
				continue
			}
			members = append(members, member{weight: w, layout: l, solved: s})
			total += w
		}
		if len(members) == 0 {
			return Curve{}, nil, noAgeing
		}
		for i := range members {
			members[i].weight /= total
		}
	}
	out.LogLik, _ = profile(plain.at(c, out.HalfLife, nil), nil)
	const drop = 1.9207 // half the 95 % point of chi-squared with one degree of freedom
	level := max(ll[top], out.LogLik) - drop
	out.HalfLifeLow = crossing(grid[:], ll[:], out.HalfLife, level, -1)
	out.HalfLifeHigh = crossing(grid[:], ll[:], out.HalfLife, level, +1)
	for _, m := range members {
		out.Delta += m.weight * m.beta[plain.delta[plain.ageing[0]]]
	}
	return out, members, nil
}

var noAgeing = note.Faults{note.New("the ageing of replaced drops cannot be fitted")}

// halfLife is the half-lives looked at, from 0 to gridSteps.
func halfLife(i int) float64 { return shortest * math.Pow(longest/shortest, float64(i)/gridSteps) }

// fits is true of a curve that can be fitted with some half-life.
func (r *Result) fits(plain *layout, c shape) bool {
	profile := r.quickProfile()
	for i := range gridSteps + 1 {
		if ll, _ := profile(plain.at(c, halfLife(i), nil), nil); !math.IsInf(ll, -1) {
			return true
		}
	}
	return false
}

// quickProfile is profile, of many rows with the variances held.
func (r *Result) quickProfile() func(*layout, []float64) (float64, []float64) {
	if len(r.table.rows) > manyRows {
		return func(l *layout, _ []float64) (float64, []float64) {
			ll, _ := r.byAgeProfile(l)
			return ll, nil
		}
	}
	return r.profile
}

// solveCurve solves a layout with a curve; of many rows from the variances by age, which lie next to its own.
func (r *Result) solveCurve(l *layout) (*solved, error) {
	if flat := r.byAge[0].fit; flat != nil && len(r.table.rows) > manyRows {
		m := r.table.model(l)
		if f, err := reml.FitNear(m, flat.Theta); err == nil {
			return fittedBy(m, f), nil
		}
	}
	return r.table.solve(l)
}

// profile is the log likelihood at a half-life, highest over everything else, with the θ there; −Inf where the
// half-life leaves effects that cannot be told apart. near is the θ at a half-life close by, nil where none is known.
func (r *Result) profile(l *layout, near []float64) (float64, []float64) {
	f, err := fitML(r.table.model(l), near)
	if err != nil {
		return math.Inf(-1), nil
	}
	return f.LogLik, f.Theta
}

// fitML follows the θ of a like layout, where that is known and leads to a top.
func fitML(m reml.Model, near []float64) (*reml.Fitted, error) {
	if near != nil {
		if f, err := reml.FitMLNear(m, near); err == nil {
			return f, nil
		}
	}
	return reml.FitML(m)
}

// byAgeProfile is profile, up to a constant, with the variances held at those of the model by age: minus half the
// distance of the curve from the gains by age, in their own covariance; and the effects there. With thousands of rows
// it is the same.
func (r *Result) byAgeProfile(l *layout) (ll float64, beta []float64) {
	flat := r.byAge[0]
	information, ok := inverse(flat.phi)
	if !ok {
		return math.Inf(-1), nil
	}
	// Each coefficient by age is a combination of those with the curve: map them, then weighted least squares.
	n := flat.layout.columns
	to := mat.NewDense(n, l.columns, nil)
	for i, x := range flat.layout.treatments {
		l.term(to.RawRowView(i), x.Practice, float64(x.DropAge), 1)
	}
	for i := range flat.layout.moderators {
		to.Set(flat.layout.moderator+i, l.moderator+i, 1)
	}
	var w, a mat.Dense
	w.Mul(information, to)
	a.Mul(to.T(), &w)
	sym := mat.NewSymDense(l.columns, nil)
	for i := range l.columns {
		for j := range i + 1 {
			sym.SetSym(i, j, (a.At(i, j)+a.At(j, i))/2)
		}
	}
	inv, ok := inverse(sym)
	if !ok {
		return math.Inf(-1), nil
	}
	y := mat.NewVecDense(n, flat.beta)
	var b, x, fitted, apart mat.VecDense
	b.MulVec(w.T(), y)
	x.MulVec(inv, &b)
	fitted.MulVec(to, &x)
	apart.SubVec(y, &fitted)
	return -quadratic(apart.RawVector().Data, information) / 2, x.RawVector().Data
}

// highest is the effects where the likelihood of a layout is highest, with the θ there, and false where they cannot be
// told apart. near as for profile.
func (r *Result) highest(l *layout, near []float64) (beta, theta []float64, ok bool) {
	if len(r.table.rows) > manyRows {
		_, beta = r.byAgeProfile(l)
		return beta, nil, beta != nil
	}
	f, err := fitML(r.table.model(l), near)
	if err != nil {
		return nil, nil, false
	}
	return f.Beta, f.Theta, true
}

// climb takes the half-life from a layout's to where the likelihood is highest. The coefficient of the derivative's
// column, over δ, is the Gauss-Newton step, which is 0 there; secants through the last two steps find that faster than
// the steps themselves. The layout that comes back has that column. False where it leaves the interval given, or the
// likelihood is flat in the half-life. near is the θ of the layout, nil where it is not known.
func (r *Result) climb(l *layout, near []float64, low, high float64) (*layout, bool) {
	slopeOf, largest := map[practice.Key]float64{}, 0.0
	for _, k := range l.ageing {
		slopeOf[k] = 1
	}
	h := l.halfLife
	lastH, lastStep := 0., 0.
	for range 50 {
		m := l.at(l.curve, h, slopeOf)
		beta, theta, ok := r.highest(m, near)
		if !ok {
			return nil, false
		}
		near = theta
		largest = 0
		for _, k := range l.ageing {
			if d := beta[l.delta[k]]; math.Abs(d) > math.Abs(largest) {
				largest = d
			}
		}
		if largest == 0 {
			return nil, false
		}
		relative := map[practice.Key]float64{}
		for _, k := range l.ageing {
			relative[k] = beta[l.delta[k]] / largest
		}
		step := beta[m.slope] / largest
		if math.IsNaN(step) {
			return nil, false
		}
		next := h + step
		if slope := (step - lastStep) / (h - lastH); lastH > 0 && slope < 0 {
			next = h - step/slope
		}
		lastH, lastStep = h, step
		next = min(max(next, math.Sqrt(h*low)), math.Sqrt(h*high))
		slopeOf = relative
		if math.Abs(next-h) < 1e-8*h {
			return m, true
		}
		if next < low*1.0001 || next > high*0.9999 {
			return nil, false
		}
		h = next
	}
	return nil, false
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
