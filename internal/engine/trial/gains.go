package trial

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

func percent(log float64) float64 { return 100 * math.Expm1(log) }

// newGain is a gain of which nothing is known yet.
func newGain(t practice.Treatment, season int) Gain {
	no := math.NaN()
	return Gain{Practice: t.Practice, Season: season, Log: no, SE: no, DF: no, Low: no, High: no, Pct: no, LowPct: no, HighPct: no,
		P: no, PAdjusted: no, AllLowPct: no, AllHighPct: no}
}

// infer fills a gain from its contrast.
func (m *model) infer(g *Gain, f *fitted, c []float64) {
	g.contrast = c
	if g.estimable = m.estimable(c); !g.estimable {
		return
	}
	e := f.estimate(c)
	g.Log, g.Pct = e.Value, percent(e.Value)
	if g.withInference = f.tells(c, e); !g.withInference {
		return
	}
	g.SE, g.DF = e.SE, e.DF
	g.Low, g.High, g.P = interval(e)
	g.LowPct, g.HighPct = percent(g.Low), percent(g.High)
}

// tells is false of a contrast whose estimate has no error, or only what rounding leaves of one where the other effects
// fit its rows exactly: then it has more degrees of freedom than any trial.
func (f *fitted) tells(c []float64, e reml.Estimate) bool {
	if math.IsInf(e.DF, 1) { // as Wald takes it
		e = f.f.Contrast(f.m.own(c), reml.KenwardRoger)
	}
	const boundless = 1e6
	return e.SE > 0 && e.DF > 0 && e.DF <= boundless
}

// interval is the 95 % interval of an estimate and its p.
func interval(e reml.Estimate) (low, high, p float64) {
	t := tQuantile(0.975, e.DF)
	return e.Value - t*e.SE, e.Value + t*e.SE, 2 * tTail(math.Abs(e.Value)/e.SE, e.DF)
}

// gains compares every level with the reference.
func (m *model) gains(f *fitted) []Gain {
	var gains []Gain
	for l, t := range m.levels {
		g := newGain(t, 0)
		seen := map[int]bool{}
		sum, n := 0.0, 0
		for i := range m.rows {
			if m.level[i] == l {
				seen[m.ids[i]] = true
				sum += m.amount[i]
				n++
			}
		}
		g.Units, g.Mean = len(seen), unit.Volume(sum/float64(n))
		if l == 0 {
			g.Log, g.Pct, g.estimable = 0, 0, true
			g.contrast = m.contrast(nil)
		} else {
			m.infer(&g, f, m.levelContrast(l, 0))
		}
		gains = append(gains, g)
	}
	slices.SortStableFunc(gains, func(a, b Gain) int { return m.place(a.Practice) - m.place(b.Practice) })
	return gains
}

// correlation of the contrasts with inference.
func (a *Analysis) correlation(contrasts [][]float64) *mat.SymDense {
	n := len(contrasts)
	c := mat.NewDense(n, a.fit.Rank, nil)
	for i, k := range contrasts {
		c.SetRow(i, a.model.own(k))
	}
	v := a.fit.Contrasts(c, a.model.o.Inference)
	r := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			r.SetSym(i, j, v.At(i, j)/math.Sqrt(v.At(i, i)*v.At(j, j)))
		}
		r.SetSym(i, i, 1)
	}
	return r
}

// adjust sets the adjusted p and intervals of the comparisons with the reference.
func (a *Analysis) adjust() {
	var at []int
	var contrasts [][]float64
	for i, g := range a.Gains {
		if i != a.reference && g.withInference {
			at, contrasts = append(at, i), append(contrasts, g.contrast)
		}
	}
	if len(at) == 0 {
		return
	}
	r := a.correlation(contrasts)
	for _, i := range at {
		g := &a.Gains[i]
		p, err := Within(math.Abs(g.Log)/g.SE, r, g.DF)
		g.PAdjusted = atLeast(1-p, g.P)
		a.Adjusted = max(a.Adjusted, err)
		t := critical(0.95, r, g.DF)
		g.AllLowPct, g.AllHighPct = percent(g.Log-t*g.SE), percent(g.Log+t*g.SE)
	}
}

// atLeast keeps an adjusted p from falling below the plain one, or above 1, by rounding.
func atLeast(p, plain float64) float64 { return min(1, max(p, plain)) }

// critical is the t within which all |T_i| lie with probability p.
func critical(p float64, r *mat.SymDense, df float64) float64 {
	low := tQuantile((1+p)/2, df)
	high := tQuantile(1-(1-p)/2/float64(r.SymmetricDim()), df) // Bonferroni
	if r.SymmetricDim() == 1 || !(high < math.Inf(1)) {
		return low
	}
	// False position, with the last end halved (Dowell & Jarratt 1971): few evaluations, each dear.
	near := 1e-8
	f := func(t float64) float64 {
		v, err := Within(t, r, df)
		near = max(near, err/5)
		return v - p
	}
	fl, fh := f(low), f(high)
	for range 40 {
		if fl >= 0 {
			return low
		}
		if fh <= 0 || high-low < 1e-7*high {
			return high
		}
		t := (low*fh - high*fl) / (fh - fl)
		switch ft := f(t); {
		case math.Abs(ft) < near:
			return t
		case ft > 0:
			high, fh, fl = t, ft, fl/2
		default:
			low, fl, fh = t, ft, fh/2
		}
		if high-low < 1e-6 {
			break
		}
	}
	return (low + high) / 2
}

// differ tests that some practice differs from the reference.
func (a *Analysis) differ() {
	c := &mat.Dense{}
	for i, g := range a.Gains {
		if i != a.reference && g.withInference {
			row := mat.NewDense(1, a.fit.Rank, a.model.own(g.contrast))
			if c.IsEmpty() {
				c = row
			} else {
				both := &mat.Dense{}
				both.Stack(c, row)
				c = both
			}
		}
	}
	if c.IsEmpty() || a.model.o.Inference != reml.KenwardRoger {
		return
	}
	if j := a.fit.Joint(c); !math.IsNaN(j.P) {
		a.Differ = &j
	}
}

// pairs compares all practices with each other.
func (a *Analysis) pairs(f *fitted) {
	m := a.model
	var at []int
	var contrasts [][]float64
	for i := range a.Gains {
		for j := range i {
			p := Pair{Practice: a.Gains[i].Practice, Against: a.Gains[j].Practice}
			g := newGain(practice.Treatment{}, 0)
			c := slices.Clone(a.Gains[i].contrast)
			for k, x := range a.Gains[j].contrast {
				c[k] -= x
			}
			m.infer(&g, f, c)
			p.Log, p.SE, p.DF, p.Low, p.High, p.Pct, p.LowPct, p.HighPct, p.P, p.PAdjusted = g.Log, g.SE, g.DF, g.Low, g.High, g.Pct, g.LowPct, g.HighPct, g.P, g.PAdjusted
			if p.withInference = g.withInference; p.withInference {
				at, contrasts = append(at, len(a.Pairs)), append(contrasts, c)
			}
			a.Pairs = append(a.Pairs, p)
		}
	}
	if len(at) == 0 {
		return
	}
	r := a.correlation(contrasts)
	// Differences of one variance, each pair there: the correlations then are those of the studentized range.
	alike := len(at) == len(a.Gains)*(len(a.Gains)-1)/2
	for _, i := range at {
		alike = alike && math.Abs(a.Pairs[i].SE/a.Pairs[at[0]].SE-1) < 1e-9
	}
	for _, i := range at {
		p := &a.Pairs[i]
		var v, err float64
		if t := math.Abs(p.Log) / p.SE; alike {
			v, err = withinPairs(t, len(a.Gains), p.DF)
		} else {
			v, err = Within(t, r, p.DF)
		}
		p.PAdjusted = atLeast(1-v, p.P)
		a.Adjusted = max(a.Adjusted, err)
	}
}

// bySeason fits practices in each season, and tests whether they differ between seasons.
func (a *Analysis) bySeason() {
	if len(a.Seasons) < 2 {
		return
	}
	a.Notes = append(a.Notes, note.New("the answer is for the seasons of the trial: %d seasons do not tell how seasons at large would differ", len(a.Seasons)))
	if a.fit == nil || len(a.model.carry) > 0 {
		return
	}
	m, err := buildModel(a.model.all, a.model.set, a.model.o, false, true)
	if err != nil {
		return
	}
	n, p := m.x.Dims()
	_, all := m.full.Dims()
	inter := (len(m.levels) - 1) * (len(m.seasons) - 1)
	var tested []int // places among the columns kept
	for i, j := range m.kept {
		if j >= all-inter {
			tested = append(tested, i)
		}
	}
	if len(tested) == 0 || n-p < 2 {
		a.Notes = append(a.Notes, note.New("too few units to tell whether practices differ between seasons"))
		return
	}
	f, err := m.fit()
	if err != nil || f.f == nil {
		a.Notes = append(a.Notes, note.New("too few units to tell whether practices differ between seasons"))
		return
	}
	c := mat.NewDense(len(tested), p, nil)
	for i, j := range tested {
		c.Set(i, j, 1)
	}
	if j := f.f.Joint(c); !math.IsNaN(j.P) {
		a.Interaction = &j
	}
	for s, season := range m.seasons {
		for l := 1; l < len(m.levels); l++ {
			g := newGain(m.levels[l], season)
			seen := map[int]bool{}
			sum, k := 0.0, 0
			for i, r := range m.rows {
				if r.Season == season && m.level[i] == l {
					seen[m.ids[i]] = true
					sum += m.amount[i]
					k++
				}
			}
			if k == 0 {
				continue
			}
			g.Units, g.Mean = len(seen), unit.Volume(sum/float64(k))
			con := m.levelContrast(l, 0)
			if s > 0 {
				con[all-inter+(l-1)*(len(m.seasons)-1)+s-1] = 1
			}
			m.infer(&g, f, con)
			a.BySeason = append(a.BySeason, g)
		}
	}
}

// residuals are conditional: with V the covariance of all rows, ê = θ_e V⁻¹(y − Xβ), whose covariance is
// θ_e²(V⁻¹ − V⁻¹XΦX'V⁻¹) (Robinson 1991, Stat Sci 6:15).
func (a *Analysis) residuals(f *fitted) {
	m := a.model
	const most = 2000 // rows; beyond, whole matrices are too dear for a plot
	n := len(m.rows)
	if f.f == nil || n > most {
		return
	}
	v := mat.NewSymDense(n, nil)
	residual := 0.0
	for k, name := range f.components {
		theta := f.f.Theta[k]
		for i := range n {
			for j := i; j < n; j++ {
				if name == "block" && m.blocks[i] == m.blocks[j] || name == "unit" && m.ids[i] == m.ids[j] || name == "residual" && i == j {
					v.SetSym(i, j, v.At(i, j)+theta)
				}
			}
		}
		if name == "residual" {
			residual = theta
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(v) {
		return
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return
	}
	fit := mat.NewVecDense(n, nil)
	fit.MulVec(m.x, mat.NewVecDense(len(f.beta), f.beta))
	raw := mat.NewVecDense(n, nil)
	raw.SubVec(mat.NewVecDense(n, m.y), fit)
	e := mat.NewVecDense(n, nil)
	e.MulVec(&inv, raw)
	var vx, both mat.Dense
	vx.Mul(&inv, m.x)
	both.Mul(&vx, f.f.Phi)
	order := make([]int, n)
	for i := range n {
		row := i
		part := 0.0
		for j := range len(f.beta) {
			part += both.At(row, j) * vx.At(row, j)
		}
		r := Residual{UnitSeason: m.rows[i], Residual: residual * e.AtVec(i)}
		r.Fitted = m.y[i] - r.Residual
		r.Standardized = e.AtVec(i) / math.Sqrt(max(0, inv.At(i, i)-part))
		if inv.At(i, i)-part < 1e-9*inv.At(i, i) {
			r.Standardized = math.NaN() // an effect of its own explains it wholly
		}
		a.Residuals = append(a.Residuals, r)
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch x, y := a.Residuals[i].Residual, a.Residuals[j].Residual; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	for rank, i := range order {
		a.Residuals[i].NormalScore = math.Sqrt2 * math.Erfinv(2*(float64(rank+1)-0.375)/(float64(n)+0.25)-1)
		if s := a.Residuals[i].Standardized; math.Abs(s) > 3.5 {
			a.Notes = append(a.Notes, note.New("the yield of unit %s in %d lies %.1f standard errors from what its practice, season, block and unit explain: look at its readings",
				m.rows[i].Unit, m.rows[i].Season, s))
		}
	}
}
