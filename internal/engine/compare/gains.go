package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/mvt"
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

func percent(log float64) float64 { return 100 * math.Expm1(log) }

// newGain is a gain of which nothing is known yet.
func newGain(t practice.Treatment, season int) Gain {
	no := math.NaN()
	return Gain{Practice: t.Practice, Season: season, Log: no, SE: no, DF: no, Low: no, High: no,
		Pct: no, LowPct: no, HighPct: no, P: no, PAdjusted: no, AllLowPct: no, AllHighPct: no,
		OverflowLowPct: no, OverflowHighPct: no}
}

// infer fills a gain from its contrast.
func (m *model) infer(g *Gain, f *fitted, c []float64) {
	g.contrast = c
	if g.estimable = m.estimable(c); !g.estimable {
		return
	}
	e := f.estimate(c)
	g.Log, g.Pct = e.Value, percent(e.Value)
	if g.withInference = f.inferable(c, e); !g.withInference {
		return
	}
	g.SE, g.DF = e.SE, e.DF
	g.Low, g.High, g.P = interval(e)
	g.LowPct, g.HighPct = percent(g.Low), percent(g.High)
}

// inferable is false of a contrast whose estimate has no error, or only what rounding leaves of one where the other
// effects fit its rows exactly: then it has more degrees of freedom than any trial.
func (f *fitted) inferable(c []float64, e reml.Estimate) bool {
	if math.IsInf(e.DF, 1) { // as Wald takes it
		e = f.f.Contrast(f.m.own(c), reml.KenwardRoger)
	}
	const boundless = 1e6
	return e.SE > 0 && e.DF > 0 && e.DF <= boundless
}

// interval is the 95 % interval of an estimate and its p.
func interval(e reml.Estimate) (low, high, p float64) {
	t := mvt.Quantile(0.975, e.DF)
	return e.Value - t*e.SE, e.Value + t*e.SE, mvt.TwoSided(e.Value/e.SE, e.DF)
}

// gathered is the units under a level and their plain mean per tap, in a season or, for 0, in all.
func (m *model) gathered(level, season int) (units int, mean unit.Volume) {
	seen := map[int]bool{}
	sum, n := 0.0, 0
	for i, r := range m.rows {
		if m.level[i] == level && (season == 0 || r.Season == season) {
			seen[m.ids[i]] = true
			sum += m.amount[i]
			n++
		}
	}
	return len(seen), unit.Volume(sum / float64(n))
}

// gains compares every level with the reference.
func (m *model) gains(f *fitted) []Gain {
	var gains []Gain
	for l, t := range m.levels {
		g := newGain(t, 0)
		g.Units, g.Mean = m.gathered(l, 0)
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
	v := a.fit.Contrasts(c, a.model.inference)
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
		p, err := mvt.Within(math.Abs(g.Log)/g.SE, r, g.DF)
		g.PAdjusted = atLeast(1-p, g.P)
		a.Adjusted = max(a.Adjusted, err)
		t := mvt.Critical(0.95, r, g.DF)
		g.AllLowPct, g.AllHighPct = percent(g.Log-t*g.SE), percent(g.Log+t*g.SE)
	}
}

// atLeast keeps an adjusted p from falling below the plain one, or above 1, by rounding.
func atLeast(p, plain float64) float64 { return min(1, max(p, plain)) }

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
	if c.IsEmpty() || a.model.inference != reml.KenwardRoger {
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
			p.Log, p.SE, p.DF, p.Low, p.High, p.Pct, p.LowPct, p.HighPct, p.P, p.PAdjusted = g.Log, g.SE, g.DF, g.Low,
				g.High, g.Pct, g.LowPct, g.HighPct, g.P, g.PAdjusted
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
			v, err = mvt.Pairs(t, len(a.Gains), p.DF)
		} else {
			v, err = mvt.Within(t, r, p.DF)
		}
		p.PAdjusted = atLeast(1-v, p.P)
		a.Adjusted = max(a.Adjusted, err)
	}
}
