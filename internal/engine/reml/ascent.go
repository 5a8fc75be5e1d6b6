package reml

import (
	"math"
	"slices"

	"spile/internal/note"
)

// ascend finds the θ ≥ 0 of the highest likelihood; from near, where not nil, the top next to it.
func ascend(pl *plan, ml bool, near []float64) (*state, error) {
	st := newState(pl, ml)
	if pl.k == 0 {
		if !st.eval(nil, true) {
			return nil, badVariance(pl)
		}
		return st, nil
	}
	a := &ascent{st: st, held: -1}
	if err := a.start(near); err != nil {
		return nil, err
	}
	if err := a.climb(); err != nil {
		return nil, err
	}
	if near != nil {
		return a.st, nil
	}
	// The likelihood may have more than one top: look around for a higher place, and climb again from there.
	for range 4 {
		better := a.lookAround()
		if better == nil {
			break
		}
		a.theta = better
		if err := a.climb(); err != nil {
			return nil, err
		}
	}
	if !ml { // maximum likelihood is asked over grids of X, whose neighbours look around too
		a.fromFaces()
	}
	return a.st, nil
}

// fromFaces climbs once more for each component, from 0 where it is not 0 and from much of the variance where it is, if
// that place is nearly as high: tops on different faces of θ ≥ 0 are the usual second tops.
func (a *ascent) fromFaces() {
	if len(a.theta) <= 2 {
		return // the grid of lookAround is fine enough
	}
	for k := range a.theta {
		top, height := slices.Clone(a.theta), a.st.loglik
		sizes, near := []float64{0.1, 0.3, 1}, 2.0
		if top[k] > 0 {
			sizes, near = []float64{0}, 0.5
		}
		best, at := height-near, []float64(nil)
		for _, others := range [...]float64{0, 0.3, 1, 2} {
			for _, size := range sizes {
				for l, v := range top {
					a.theta[l] = others * v
				}
				a.theta[k] = size * a.unit[k]
				if a.trial.eval(a.theta, false) && a.trial.loglik > best {
					best, at = a.trial.loglik, slices.Clone(a.theta)
				}
			}
		}
		if at != nil {
			a.theta = at
			if a.climb() == nil && a.st.loglik > height+1e-9 {
				continue
			}
		}
		a.theta = top
		a.here()
	}
}

// ascent is one search. A held component keeps its θ.
type ascent struct {
	st    *state
	theta []float64
	unit  []float64 // the size of each θ that would by itself explain the spread of y
	held  int       // −1: none
	trial *state    // for likelihoods alone
}

// here evaluates at a.theta, unless that is where it stands: derivatives are most of the work in a large model.
func (a *ascent) here() bool {
	return slices.Equal(a.st.theta, a.theta) || a.st.eval(a.theta, true)
}

// start sets the units, splits the spread evenly or stands near, and refuses components that the data cannot tell.
func (a *ascent) start(near []float64) error {
	pl := a.st.pl
	n, p, k := pl.n, pl.p, pl.k
	spread := dot(pl.y, pl.y) / float64(n-p)
	known := 0.0
	for _, b := range pl.m.V0 {
		for i := range b.Rows {
			known += b.V.At(i, i)
		}
	}
	known /= float64(n)
	size := 0.0
	for _, v := range pl.m.Y {
		size = max(size, math.Abs(v))
	}
	if spread <= 1e-26*size*size || spread == 0 {
		if !allTrue(pl.known) {
			return &Fault{Kind: ExactFit,
				Note: note.New("the fixed effects fit every row exactly: no error is left to estimate")}
		}
		spread = 0
	}
	// Robust against a few very uncertain rows: the typical known variance is the harmonic mean.
	if known > 0 {
		inverse, rows := 0.0, 0.0
		for _, b := range pl.m.V0 {
			for i := range b.Rows {
				inverse += 1 / b.V.At(i, i)
				rows++
			}
		}
		known = rows / inverse
		spread = max(spread-known, known/10)
		if all := allTrue(pl.known); all {
			spread = min(spread, 100*known)
		}
	}
	a.theta, a.unit = make([]float64, k), make([]float64, k)
	var empty []string
	for i, c := range pl.m.Components {
		sum := 0.0
		for _, z := range c.Z {
			sum += dot(z.Values, z.Values)
		}
		if sum == 0 {
			empty = append(empty, c.Name)
			continue
		}
		a.unit[i] = spread * float64(n) / sum
		a.theta[i] = a.unit[i] / float64(k)
	}
	if len(empty) > 0 {
		return idleFault(empty)
	}
	if near != nil {
		copy(a.theta, near)
	}
	if !a.here() {
		return badVariance(pl)
	}
	return a.st.distinct()
}

func allTrue(b []bool) bool { return !slices.Contains(b, false) }

func idleFault(names []string) *Fault {
	return &Fault{Kind: Idle, Components: names,
		Note: note.New("the rows hold nothing on the variance %s once the fixed effects are taken out", names[0])}
}

const (
	idle  = 1e-6 // of its information without X: less is rounding
	alike = 1e-8 // 1 − r² between the information of components: less is rounding
)

// distinct refuses components whose information is singular: those that no data of this shape can tell apart.
func (st *state) distinct() error {
	k := st.pl.k
	names := func(at []int) (out []string) {
		for _, i := range at {
			out = append(out, st.pl.m.Components[i].Name)
		}
		return out
	}
	var nothing []int
	c := make([]float64, k*k)
	for i := range k {
		// Against what the component would tell were nothing taken out by X.
		if st.expREML[i*k+i] <= idle*st.sum.tt[pair(i, i)]/2 {
			nothing = append(nothing, i)
		}
	}
	if len(nothing) > 0 {
		return idleFault(names(nothing))
	}
	for i := range k {
		for l := range k {
			c[i*k+l] = st.expREML[i*k+l] / math.Sqrt(st.expREML[i*k+i]*st.expREML[l*k+l])
		}
	}
	// Component by component, as if each were regressed on those before it.
	for i := range k {
		for l := range i {
			if r := c[i*k+l]; 1-r*r < alike {
				return confounded(names([]int{l, i}))
			}
		}
	}
	if !cholesky(c, k) || slices.ContainsFunc(diagonal(c, k), func(d float64) bool { return d*d < alike }) {
		all := make([]int, k)
		for i := range all {
			all[i] = i
		}
		return confounded(names(all))
	}
	return nil
}

func confounded(names []string) *Fault {
	f := &Fault{Kind: Confounded, Components: names}
	if len(names) == 2 {
		f.Note = note.New("the variances %s and %s cannot be told apart", names[0], names[1])
		return f
	}
	joined := names[0]
	for _, s := range names[1:] {
		joined += ", " + s
	}
	f.Note = note.New("the variances %s cannot all be told apart", joined)
	return f
}

const steps = 200

// climb goes to the top from a.theta: Newton steps on the observed information where it is positive definite, else
// scoring steps on the average or the expected one, each shortened until the likelihood rises. θ ≥ 0 is kept by taking
// the best step of the quadratic model under it; any shorter step then stays inside too.
func (a *ascent) climb() error {
	st := a.st
	k := st.pl.k
	if !a.here() {
		return badVariance(st.pl)
	}
	step, next, hess := make([]float64, k), make([]float64, k), make([]float64, k*k)
	if a.trial == nil {
		a.trial = newState(st.pl, st.ml)
	}
	for range steps {
		rise := 0.0
		for kind := range 3 {
			for i := range hess {
				switch kind {
				case 0: // observed
					hess[i] = 2*st.average[i] - st.expected[i]
				case 1:
					hess[i] = st.average[i]
				case 2:
					hess[i] = st.expected[i]
				}
			}
			if a.step(step, hess) {
				rise = dot(step, st.score)
				break
			}
		}
		small := true
		for i, d := range step {
			if math.Abs(d) > 1e-8*max(a.theta[i], 1e-4*a.unit[i]) {
				small = false
			}
		}
		if small || rise < 1e-13 {
			a.settle(step)
			return nil
		}
		shorter, ok := 1.0, false
		for range 60 {
			for i := range next {
				next[i] = max(0, a.theta[i]+shorter*step[i])
			}
			if a.trial.eval(next, false) &&
				a.trial.loglik >= st.loglik+1e-4*shorter*rise-1e-13*(1+math.Abs(st.loglik)) {
				ok = true
				break
			}
			shorter /= 2
		}
		if !ok || slices.Equal(next, a.theta) {
			if rise < 1e-9 { // what it could still rise is less than rounding
				a.settle(step)
				return nil
			}
			break
		}
		copy(a.theta, next)
		if err := a.vanishing(1e-9); err != nil {
			return err
		}
		if !st.eval(a.theta, true) {
			break
		}
	}
	if err := a.vanishing(1e-5); err != nil {
		return err
	}
	return &Fault{Kind: NotConverged, Note: note.New("no highest likelihood was found")}
}

// settle takes the last step: Newton doubles the digits, so it brings more than rounding leaves.
func (a *ascent) settle(step []float64) {
	st, next := a.st, make([]float64, len(step))
	for i := range next {
		next[i] = a.theta[i] + step[i]
		if next[i] < 1e-12*a.unit[i] && !a.essential(i) {
			next[i] = 0
		}
	}
	if a.trial.eval(next, false) && a.trial.loglik >= st.loglik-1e-9*(1+math.Abs(st.loglik)) {
		copy(a.theta, next)
	}
	st.eval(a.theta, true)
}

// vanishing refuses a fit in which the only variance of some rows runs below a part of its unit: the likelihood then
// rises without end, or has no slope that rounding leaves.
func (a *ascent) vanishing(part float64) error {
	for i, c := range a.st.pl.m.Components {
		if a.theta[i] < part*a.unit[i] && a.essential(i) {
			return &Fault{Kind: ExactFit, Components: []string{c.Name},
				Note: note.New("the variance %s shrinks to nothing: the other effects fit the rows exactly", c.Name)}
		}
	}
	return nil
}

// essential: without component i some row has no variance at all.
func (a *ascent) essential(i int) bool {
	if allTrue(a.st.pl.known) {
		return false
	}
	t := slices.Clone(a.theta)
	t[i] = 0
	return !a.trial.eval(t, false)
}

// step maximises score'd − ½d'Hd under θ + d ≥ 0. False where H is not positive definite on the free components.
func (a *ascent) step(d, h []float64) bool {
	st := a.st
	k := st.pl.k
	var at [8]int
	free := at[:0]
	for i := range k {
		if i != a.held && (a.theta[i] > 0 || st.score[i] > 0) {
			free = append(free, i)
		}
	}
	clear(d)
	for len(free) > 0 {
		n := len(free)
		m, x := make([]float64, n*n), make([]float64, n)
		for i, f := range free {
			x[i] = st.score[f]
			for l := range k {
				if !slices.Contains(free, l) {
					x[i] -= h[f*k+l] * d[l] // those stopped at 0
				}
			}
			for l, g := range free {
				m[i*n+l] = h[f*k+g]
			}
		}
		if !cholesky(m, n) {
			return false
		}
		solve(m, x, n)
		stopped := -1
		for i, f := range free {
			// Relative to its own size, the component that runs furthest below 0 stops there.
			if a.theta[f]+x[i] < 0 && (stopped < 0 || x[i]/a.unit[f] < x[stopped]/a.unit[free[stopped]]) {
				stopped = i
			}
		}
		if stopped < 0 {
			for i, f := range free {
				d[f] = x[i]
			}
			return true
		}
		d[free[stopped]] = -a.theta[free[stopped]]
		free = slices.Delete(free, stopped, stopped+1)
	}
	return true
}

// lookAround tries multiples of the top found and θ over a coarse grid, for one or two components (else one component
// at a time), and gives a place clearly higher than the top, or nil.
func (a *ascent) lookAround() []float64 {
	k := len(a.theta)
	best, at := a.st.loglik+1e-6, []float64(nil)
	try := func(t []float64) {
		if a.trial.eval(t, false) && a.trial.loglik > best {
			best, at = a.trial.loglik, slices.Clone(t)
		}
	}
	sizes := []float64{0, 0.03, 0.3, 2, 15}
	t := slices.Clone(a.theta)
	for _, s := range [...]float64{0.2, 5, 25} {
		for i, v := range a.theta {
			t[i] = s * v
		}
		try(t)
	}
	switch k {
	case 1:
		for _, s := range [...]float64{0, 0.003, 0.01, 0.03, 0.1, 0.2, 0.4, 0.8, 1.6, 3, 6, 12, 30} {
			t[0] = s * a.unit[0]
			try(t)
		}
		return at
	case 2:
		few := [...]float64{0, 0.05, 0.6, 7}
		for _, s := range few {
			for _, u := range few {
				t[0], t[1] = s*a.unit[0], u*a.unit[1]
				try(t)
			}
		}
		return at
	}
	for i := range k {
		for _, s := range sizes {
			for _, others := range [...]float64{1, 0.3, 0} {
				for l, v := range a.theta {
					t[l] = others * v
					if others == 0 { // the whole given to component i
						t[l] = 0.03 * a.unit[l]
					}
				}
				t[i] = s * a.unit[i]
				try(t)
			}
		}
	}
	return at
}
