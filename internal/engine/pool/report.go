package pool

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/mvt"
	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// report fills the Result from its members.
func (r *Result) report() {
	r.count()
	r.Sites = len(r.table.grouped(func(s study) string { return s.site }))
	if r.integrated != nil {
		r.papers()
	}
	r.gains()
	for i, a := range r.Gains {
		for _, b := range r.Gains[:i] {
			if d, ok := r.Difference(a.Treatment, b.Treatment); ok {
				r.Between = append(r.Between, d)
			}
		}
	}
	if _, ok := r.set.Find(practice.NewSpout); ok {
		for _, g := range r.Gains {
			p, _ := r.set.Find(g.Treatment.Practice)
			if p.Key == practice.NewSpout || !p.Spout.Info().New {
				continue
			}
			if s, ok := r.share(practice.NewSpout, p.Key); ok {
				r.Shares = append(r.Shares, s)
			}
		}
	}
	wait := r.reportVariances()
	r.reportWeights()
	r.reportAgeing()
	r.reportModerators()
	wait()
	if r.integrated != nil {
		r.reportIntegrated()
	} else {
		r.Notes = append(r.Notes, r.estimated...)
	}
	r.noteAgeing()
}

// count fills in how much there is.
func (r *Result) count() {
	r.Rows, r.Studies = len(r.table.rows), len(r.table.studies)
	for _, x := range r.byAge[0].layout.treatments {
		if p, _ := r.set.Find(x.Practice); p.Ages() {
			r.Ageing.Oldest = max(r.Ageing.Oldest, x.DropAge)
		}
	}
}

// gains fills Result.Gains in the order of the set.
func (r *Result) gains() {
	r.Older = nil
	for _, p := range r.set {
		if !p.Sanitized() {
			continue
		}
		first := practice.Treatment{Practice: p.Key}
		comparisons := r.counts.comparisons(p.Key)
		if comparisons == 0 {
			continue
		}
		g, ok := r.gain(r.members, first)
		if !ok {
			r.Older = append(r.Older, p.Key)
			r.Notes.Add("%s was not studied in its first season, so it stands only in the table of gains by age",
				note.Term(p.Key))
			continue
		}
		g.Comparisons, g.Studies, g.Trials = comparisons, r.counts.ofPractice[p.Key], r.counts.trials[p.Key]
		g.PlainMeanPct, g.PlainStudies = r.counts.plainMean(first)
		r.Gains = append(r.Gains, g)
		if g.DF < 4 {
			r.Notes.Add("%s has %.1f degrees of freedom; with fewer than 4 its interval is a rough guide",
				note.Term(p.Key), g.DF)
		}
	}
}

// reportVariances gives θ with profile intervals, Q at the sampling variances, and I² = Σθ/(Σθ + (n−p)/tr P). The
// intervals are there once wait has returned.
func (r *Result) reportVariances() (wait func()) {
	m := best(r.members)
	model := r.table.model(m.layout)
	sum := 0.0
	zero := true
	r.Variances = make([]Variance, len(model.Components))
	var group sync.WaitGroup
	for k, c := range model.Components {
		v := &r.Variances[k]
		*v = Variance{Name: c.Name, Value: m.theta[c.Name], High: math.Inf(1)}
		zero = zero && v.Value == 0
		sum += v.Value
		if m.fit == nil {
			continue
		}
		if v.Value == 0 {
			r.estimated.Add("how much gains differ from one %s to another is estimated at 0, the least it can be",
				note.Term(c.Name))
		}
		if r.integrated != nil { // which tells what is known of each
			continue
		}
		group.Go(func() {
			if i, err := m.fit.Profile(k, 0.95); err == nil {
				v.Low, v.High = i.Low, i.High
			}
		})
	}
	if m.fit == nil {
		r.estimated.Add(
			"there are no more comparisons than effects, so the spread between studies cannot be estimated " +
				"and is taken as 0; intervals are a rough guide")
	}
	if zero {
		r.estimated.Add(
			"no spread between studies or sites was found, so the range for one new season is a lower bound")
	}
	r.Notes.Add("the sampling variances are taken as known")
	r.QP = 1
	if h, err := model.Heterogeneity(); err == nil {
		r.Q, r.QDF = h.Q, h.DF
		r.QP = distuv.ChiSquared{K: float64(h.DF)}.Survival(h.Q)
		if sum > 0 {
			r.I2Pct = 100 * sum / (sum + float64(h.DF)/h.TraceP)
		}
	}
	return group.Wait
}

// reportWeights gives each comparison's weight for its practice: how far the pooled gain moves with it, θ held, the
// size of its coefficient in c'ΦX'V⁻¹y. For one contrast a study that is the inverse of its variance, and what seasons
// of a trial or studies of a site have in common is shared among them.
func (r *Result) reportWeights() {
	t, m := r.table, best(r.members)
	vx, whole, ok := t.precision(t.model(m.layout).X, m.theta)
	if !ok {
		return
	}
	phi, ok := inverse(whole)
	if !ok {
		return
	}
	raw, total := make([]float64, len(t.rows)), map[practice.Key]float64{}
	for i, row := range t.rows {
		k := row.arm.Practice
		c, ok := m.coefficients(part{key: k, c: 1})
		if !ok {
			if c, ok = m.coefficients(of(row.arm, 1)); !ok {
				continue
			}
		}
		var toward mat.VecDense
		toward.MulVec(phi, mat.NewVecDense(len(c), c))
		raw[i] = math.Abs(dot(vx.RawRowView(i), toward.RawVector().Data))
		total[k] += raw[i]
	}
	for i, row := range t.rows {
		s := t.studies[row.study]
		w := Weight{Study: s.name, Season: s.effects.SeasonsOf(row.source.Arm)[0], Practice: row.arm, Against: row.ref,
			Y: row.y, V: s.v.At(i-s.first, i-s.first), Basis: row.source.Basis, Live: s.effects.Live}
		if sum := total[row.arm.Practice]; sum > 0 {
			w.WeightPct = 100 * raw[i] / sum
		}
		r.Weights = append(r.Weights, w)
	}
}

// dependent groups the studies that a site or a trial ties together at θ, and gives each study's group.
func (t *table) dependent(theta map[string]float64) (groups [][]int, group []int) {
	parent := make([]int, len(t.studies))
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	tie := func(name string, by func(study) string) {
		if theta[name] == 0 {
			return
		}
		first := map[string]int{}
		for i, s := range t.studies {
			k := by(s)
			if k == "" {
				continue
			}
			if j, ok := first[k]; ok {
				parent[find(i)] = find(j)
			} else {
				first[k] = i
			}
		}
	}
	tie(siteComponent, func(s study) string { return s.site })
	tie(trialComponent, study.units)
	at := map[int]int{}
	group = make([]int, len(t.studies))
	for i := range t.studies {
		g, ok := at[find(i)]
		if !ok {
			g = len(groups)
			at[find(i)] = g
			groups = append(groups, nil)
		}
		groups[g] = append(groups[g], i)
		group[i] = g
	}
	return groups, group
}

// covariance gives V at θ for any rows (M2): sampling within a study, and for two contrasts the parts of their arms
// that are the same arm of one study, of one trial, or of one site.
func (t *table) covariance(theta map[string]float64) func(rows []int) *mat.SymDense {
	overlap := func(a, b row, of func(row, int) side) float64 {
		d := 0.0
		for _, p := range []struct {
			x, y int
			sign float64
		}{{a.source.Arm, b.source.Arm, 1}, {a.source.Ref, b.source.Ref, 1},
			{a.source.Arm, b.source.Ref, -1}, {a.source.Ref, b.source.Arm, -1}} {
			if x, y := of(a, p.x), of(b, p.y); x.arm == y.arm {
				d += p.sign * x.part / 2
			}
		}
		return d
	}
	return func(rows []int) *mat.SymDense {
		v := mat.NewSymDense(len(rows), nil)
		for i, p := range rows {
			a := t.rows[p]
			s := t.studies[a.study]
			za := sanitized(a.arm) - sanitized(a.ref)
			for j, q := range rows[:i+1] {
				b := t.rows[q]
				u := t.studies[b.study]
				c := 0.0
				if a.study == b.study {
					c += s.v.At(p-s.first, q-s.first)
					c += theta[studyComponent] * overlap(a, b, t.ofStudy)
				}
				if s.site == u.site {
					c += theta[siteComponent] * za * (sanitized(b.arm) - sanitized(b.ref))
				}
				if s.units() == u.units() {
					c += theta[trialComponent] * overlap(a, b, t.ofTrial)
				}
				v.SetSym(i, j, c)
			}
		}
		return v
	}
}

// reportAgeing gives the curves' points and the table of gains by age.
func (r *Result) reportAgeing() {
	a := &r.Ageing
	var ages []practice.Treatment
	for _, x := range r.byAge[0].layout.treatments {
		if p, _ := r.set.Find(x.Practice); p.Ages() {
			ages = append(ages, x)
		}
	}
	a.ByAge = sync.OnceValue(func() []Gain { return r.agesAlone(ages) })
	if !a.Estimable {
		return
	}
	first := practice.Treatment{Practice: r.members[0].layout.ageing[0]}
	for i := range a.Curves {
		at := r.alongCurve(i, first)
		var points []AgePoint
		const step = 0.25
		for k := range int(float64(max(a.Oldest+2, 6))/step) + 1 {
			age := float64(k) * step
			if p, ok := at(age); ok {
				p.Age, p.Studied = age, age <= float64(a.Oldest)
				points = append(points, p)
			}
		}
		a.Points = append(a.Points, points)
	}
}

// alongCurve gives the gain of drops of an age by one of the curves alone.
func (r *Result) alongCurve(curve int, t practice.Treatment) func(age float64) (AgePoint, bool) {
	drops := func(age float64) part { return part{key: t.Practice, age: age, c: 1} }
	if r.integrated != nil {
		kind := r.integrated.plain.Kind(curve == 1)
		return func(age float64) (AgePoint, bool) {
			l, ok := r.integrated.layout.line(drops(age))
			if !ok {
				return AgePoint{}, false
			}
			own := kind.Of(l)
			return AgePoint{Pct: percent(own.Mean()), LowPct: percent(own.Quantile(lowEnd)),
				HighPct: percent(own.Quantile(highEnd))}, true
		}
	}
	var own []member
	total := 0.0
	for _, m := range r.members {
		if m.curve == curve {
			own = append(own, m)
			total += m.weight
		}
	}
	for j := range own {
		own[j].weight /= total
	}
	return func(age float64) (AgePoint, bool) {
		g, ok := r.gainOf(own, t, drops(age))
		return AgePoint{Pct: g.Pct, LowPct: g.LowPct, HighPct: g.HighPct}, ok
	}
}

// noteAgeing says what the studies do not tell of ageing.
func (r *Result) noteAgeing() {
	a := &r.Ageing
	if !a.Estimable {
		return
	}
	for _, c := range a.Curves {
		if c.AtBound {
			r.Notes.Add("how fast replaced drops age is hardly told by these studies (%s curve): the answer is "+
				"averaged over half-lives from %v to %v seasons", note.Term(c.Kind), shortest, longest)
		}
	}
	if a.Rises() {
		r.Notes.Add("in these studies drops gain more the older they are, and curves by which what is new fades do " +
			"not follow that: hold what each age gained by itself beside them")
	}
	if w := a.Curves[0].Weight; w > 0.05 && w < 0.95 {
		r.Notes.Add("these studies do not decide between the two curves of ageing; both are shown and the answer is " +
			"averaged over them")
	}
}

// agesAlone gives the gain at each age of replaced drops as a treatment of its own.
func (r *Result) agesAlone(ages []practice.Treatment) (list []Gain) {
	alone := *r
	if r.integrated != nil && r.Ageing.Estimable {
		x, err := r.agedTable.integrate(r.byAge[0].layout, r.options.Prior, nearby{integrated: r.integrated})
		if err != nil {
			return nil
		}
		alone.integrated = x
	}
	for _, x := range ages {
		if g, ok := alone.gain(r.byAge, x); ok {
			g.Comparisons, g.Studies = r.counts.rows[x], r.counts.studies[x]
			g.PlainMeanPct, g.PlainStudies = r.counts.plainMean(x)
			list = append(list, g)
		}
	}
	return list
}

// reportModerators gives what one unit of each moderator adds to the log gain of any sanitized practice.
func (r *Result) reportModerators() {
	for i, k := range r.members[0].layout.moderators {
		name := r.table.options.Moderators[k]
		var e reml.Estimate
		var each []reml.Estimate
		for _, m := range r.members {
			c := make([]float64, m.layout.columns)
			c[m.layout.moderator+i] = 1
			x := m.contrast(c, r.options.Inference)
			each = append(each, x)
			e.Value += m.weight * x.Value
			e.DF += m.weight * x.DF
		}
		v := 0.0
		for j, m := range r.members {
			d := each[j].Value - e.Value
			v += m.weight * (each[j].SE*each[j].SE + d*d)
		}
		e.SE = math.Sqrt(v)
		half, p := mvt.Half(e.DF)*e.SE, mvt.TwoSided(e.Value/e.SE, e.DF)
		if best(r.members).fit == nil {
			p = math.NaN()
		}
		r.Moderators = append(r.Moderators, Moderator{Name: name, Mean: r.table.means[name], Slope: e.Value, SE: e.SE,
			DF: e.DF, Low: e.Value - half, High: e.Value + half, P: p})
	}
}
