package pool

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/engine/mixture"
	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// solved is one model fitted: the components that could be told apart, the effects and their covariance.
type solved struct {
	theta map[string]float64
	beta  []float64
	phi   *mat.SymDense
	// nil where there are no more rows than effects: then phi rests on the sampling variances alone
	fit *reml.Fitted
	// what the fit says of a contrast: a result that was frozen has none, and links no fitting
	tells func(c []float64, how reml.Inference) reml.Estimate
}

// contrast gives c'β. Without a degree of freedom to spare there is nothing to estimate the spread between studies
// from; the interval then takes t with the least number of degrees of freedom that the pool allows, 1.
func (s *solved) contrast(c []float64, how reml.Inference) reml.Estimate {
	if !slices.ContainsFunc(c, func(x float64) bool { return x != 0 }) { // unsanitized over itself: 0, and sure of it
		return reml.Estimate{DF: math.Inf(1)}
	}
	if s.tells != nil {
		return s.tells(c, how)
	}
	e := reml.Estimate{Value: dot(c, s.beta), SE: math.Sqrt(quadratic(c, s.phi)), DF: 1}
	if how == reml.Wald {
		e.DF = math.Inf(1)
	}
	return e
}

// member is one fit among those that an answer is averaged over: both curves of ageing, and at a bound the half-lives
// of a grid. Weights sum to 1. Without ageing there is one member.
type member struct {
	weight float64
	curve  int // index into Ageing.Curves, −1 without
	layout *layout
	*solved
}

// Fit fits the joint model to the effects. The error is note.Faults where the input is at fault, which includes that
// no study links any practice to unsanitized.
func Fit(e effect.Effects, set practice.Set, o Options) (*Result, error) {
	return new(Result).Soon(e, set, o)
}

// Soon is Fit of studies nearly all of which are those of a result: where both are integrated, with the boxes of the
// spread and the sets of studies that stand apart held as they were found there, which takes a tenth of the time.
func (r *Result) Soon(e effect.Effects, set practice.Set, o Options) (*Result, error) {
	next, err := fitted(e, set, o, &Result{near: r.integrated})
	if err == nil {
		next.near = nil
		next.report()
	}
	return next, err
}

// Gains is Fit as far as gains, draws and spread go, as for Left: what an answer asked again another way is held
// against. It takes a part of the time.
func Gains(e effect.Effects, set practice.Set, o Options) (*Result, error) {
	return new(Result).Again(e, set, o)
}

// Again is Gains of studies that are like those of a result: where both are integrated, with the boxes of the spread
// and the sets of studies that stand apart as they were found there.
func (r *Result) Again(e effect.Effects, set practice.Set, o Options) (*Result, error) {
	next, err := fitted(e, set, o, &Result{gainsAlone: o.Inference == Mixture, near: r.integrated})
	if err == nil {
		next.near = nil
		next.count()
		next.gains()
	}
	return next, err
}

// fitted solves the joint model in a result that says how.
func fitted(e effect.Effects, set practice.Set, o Options, r *Result) (*Result, error) {
	if o.Inference == "" {
		o.Inference = reml.KenwardRoger
	}
	if o.Inference != reml.KenwardRoger && o.Inference != reml.Wald && o.Inference != Mixture {
		return nil, note.Faults{note.New("the inference is %s; allowed are mixture, kr and wald", string(o.Inference))}
	}
	integrate := o.Inference == Mixture
	if integrate {
		o.Inference = reml.KenwardRoger // beside it
		if o.Prior == (mixture.Prior{}) {
			o.Prior = mixture.Default()
		}
	}
	all, notes, err := newTable(e, set, o)
	if err != nil {
		return nil, err
	}
	r.options, r.set, r.Notes = o, set, notes
	if err := r.fit(all); err != nil {
		return nil, err
	}
	if integrate {
		err = r.override()
	}
	if err != nil {
		return nil, err
	}
	return r, nil
}

// fit finds what is linked to unsanitized and solves the members of the answer.
func (r *Result) fit(all *table) error {
	linked := all.links(func(x practice.Treatment) practice.Treatment { return x })
	base, why := curves(all, linked)
	byAge := linked
	linked = all.links(func(x practice.Treatment) practice.Treatment {
		if b, on := base[x.Practice]; on {
			return practice.Treatment{Practice: b}
		}
		return x
	})
	r.NotEstimable = unlinked(all, linked)
	for _, k := range r.NotEstimable {
		r.Notes.Add("%s is not estimable: no chain of studies links it to unsanitized", note.Term(k))
	}
	t := all.only(func(x row) bool { return linked[x.arm] })
	aged := t.only(func(x row) bool { return byAge[x.arm] })
	if len(aged.rows) == 0 {
		return note.Faults{note.New(
			"no study compares any practice with unsanitized, directly or by a chain of studies")}
	}

	// By age first: every age of a replaced drop a treatment of its own. It settles what can be told apart at all.
	flat, err := settle(aged, byAge, nil, r)
	if err != nil {
		return err
	}
	t.options, t.dropped = aged.options, aged.dropped
	r.table, r.counts = t, t.whole()
	r.byAge = []member{flat}
	r.agedTable = aged
	r.members = r.byAge
	r.Ageing.Why = why
	if len(base) == 0 {
		return nil
	}
	err = r.fitAgeing(newLayout(t, linked, base, flat.layout.moderators))
	var faults note.Faults
	if errors.As(err, &faults) { // drops so old that no curve tells them apart: the gains by age still stand
		r.table, r.counts = aged, aged.whole()
		r.Ageing = Ageing{Why: faults[0]}
		return nil
	}
	return err
}

// settle fits the table, giving up what the data cannot tell apart and saying so: moderators that the practices
// already determine, and components that leave no trace of their own.
func settle(t *table, linked map[practice.Treatment]bool, base map[practice.Key]practice.Key,
	r *Result) (member, error) {
	var moderators []int
	for i, name := range t.options.Moderators {
		if t.deviations[name] > 0 {
			moderators = append(moderators, i)
		}
	}
	for {
		l := newLayout(t, linked, base, moderators)
		s, err := t.solve(l)
		if err == nil {
			return member{weight: 1, curve: -1, layout: l, solved: s}, nil
		}
		var f *reml.Fault
		if !errors.As(err, &f) {
			return member{}, err
		}
		switch {
		case f.Kind == reml.Singular && slices.ContainsFunc(f.Columns, func(c int) bool { return c >= l.moderator }):
			moderators = slices.DeleteFunc(moderators, func(k int) bool {
				out := slices.ContainsFunc(f.Columns,
					func(c int) bool { return c >= l.moderator && l.moderators[c-l.moderator] == k })
				if out {
					r.Notes.Add("%s cannot be told apart from the practices and is left out of the model",
						note.Term(t.options.Moderators[k]))
				}
				return out
			})
		case f.Kind == reml.Confounded || f.Kind == reml.Idle:
			if !t.giveUp(f, r) {
				return member{}, note.Faults{f.Note}
			}
		default:
			return member{}, note.Faults{f.Note}
		}
	}
}

// giveUp drops a component that cannot be told apart; false where none is left to drop.
func (t *table) giveUp(f *reml.Fault, r *Result) bool {
	for _, name := range []string{trialComponent, siteComponent, studyComponent} {
		if !slices.Contains(f.Components, name) || t.dropped[name] {
			continue
		}
		t.dropped = mapWith(t.dropped, name)
		switch {
		case f.Kind == reml.Confounded && name == siteComponent:
			r.estimated.Add(
				"the spread between studies and that between sites cannot be told apart; their sum is given " +
					"as that between studies")
		case f.Kind == reml.Confounded:
			r.estimated.Add("how much gains differ from one %s to another cannot be told apart from their other "+
				"differences, and is counted with them", note.Term(name))
		default:
			r.estimated.Add("nothing in the data tells how much gains differ from one %s to another; it is taken as 0",
				note.Term(name))
		}
		return true
	}
	return false
}

func mapWith(m map[string]bool, name string) map[string]bool {
	n := map[string]bool{name: true}
	for k := range m {
		n[k] = true
	}
	return n
}

// solve fits one layout by REML; without a degree of freedom to spare, by least squares at the sampling variances.
func (t *table) solve(l *layout) (*solved, error) {
	m := t.model(l)
	f, err := reml.Fit(m)
	var fault *reml.Fault
	if errors.As(err, &fault) && fault.Kind == reml.NoFreedom {
		return t.least(m)
	}
	if err != nil {
		return nil, err
	}
	return fittedBy(m, f), nil
}

// fittedBy is a model as REML fitted it.
func fittedBy(m reml.Model, f *reml.Fitted) *solved {
	s := &solved{theta: map[string]float64{}, beta: f.Beta, phi: f.Phi, fit: f, tells: f.Contrast}
	for k, c := range m.Components {
		s.theta[c.Name] = f.Theta[k]
	}
	return s
}

// least is generalized least squares at the sampling variances.
func (t *table) least(m reml.Model) (*solved, error) {
	a, b := t.information(m.X, func(s study) *mat.SymDense { return s.v })
	phi, ok := inverse(a)
	if !ok {
		return nil, &reml.Fault{Kind: reml.Singular, Note: note.New("the effects cannot be told apart"),
			Columns: []int{a.SymmetricDim() - 1}}
	}
	beta := make([]float64, len(b))
	for i := range beta {
		for j, x := range b {
			beta[i] += phi.At(i, j) * x
		}
	}
	return &solved{theta: map[string]float64{}, beta: beta, phi: phi}, nil
}

// information gives X'V⁻¹X and X'V⁻¹y where the studies are independent with covariance v.
func (t *table) information(x *mat.Dense, v func(study) *mat.SymDense) (*mat.SymDense, []float64) {
	_, p := x.Dims()
	a, b := mat.NewSymDense(p, nil), make([]float64, p)
	for _, s := range t.studies {
		inv, ok := inverse(v(s))
		if !ok {
			continue // refused before
		}
		xs := x.Slice(s.first, s.end, 0, p)
		var wx mat.Dense
		wx.Mul(inv, xs)
		for i := range s.end - s.first {
			for c := range p {
				b[c] += wx.At(i, c) * t.rows[s.first+i].y
				for d := range c + 1 {
					a.SetSym(c, d, a.At(c, d)+wx.At(i, c)*xs.At(i, d))
				}
			}
		}
	}
	return a, b
}

// inverse inverts a positive definite matrix; false where it is not one by more than rounding.
func inverse(a mat.Symmetric) (*mat.SymDense, bool) {
	n := a.SymmetricDim()
	scale := make([]float64, n)
	scaled := mat.NewSymDense(n, nil)
	for i := range n {
		if !(a.At(i, i) > 0) {
			return nil, false
		}
		scale[i] = 1 / math.Sqrt(a.At(i, i))
	}
	for i := range n {
		for j := range i + 1 {
			scaled.SetSym(i, j, a.At(i, j)*scale[i]*scale[j])
		}
	}
	var c mat.Cholesky
	if !c.Factorize(scaled) || !(c.Cond() < 1e12) {
		return nil, false
	}
	inv := mat.NewSymDense(n, nil)
	if err := c.InverseTo(inv); err != nil {
		return nil, false
	}
	for i := range n {
		for j := range i + 1 {
			inv.SetSym(i, j, inv.At(i, j)*scale[i]*scale[j])
		}
	}
	return inv, true
}

// unlinked lists the practices that no chain of rows ties to unsanitized at any age.
func unlinked(t *table, linked map[practice.Treatment]bool) []practice.Key {
	in, out := map[practice.Key]bool{}, map[practice.Key]bool{}
	for _, r := range t.rows {
		for _, x := range []practice.Treatment{r.arm, r.ref} {
			if linked[x] {
				in[x.Practice] = true
			} else {
				out[x.Practice] = true
			}
		}
	}
	var keys []practice.Key
	for _, p := range t.set {
		if out[p.Key] && !in[p.Key] && p.Sanitized() {
			keys = append(keys, p.Key)
		}
	}
	return keys
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// quadratic is c'Mc.
func quadratic(c []float64, m mat.Symmetric) float64 {
	s := 0.0
	for i, x := range c {
		if x == 0 {
			continue
		}
		for j, y := range c {
			s += x * y * m.At(i, j)
		}
	}
	return max(0, s)
}
