package trial

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Spread is how much yields vary that are treated alike, as coefficients of variation (0.15 is 15 %). For a trial of one
// season, Unit is what units of one block differ by in that season, and Season is 0.
type Spread struct {
	Unit   float64 // between units of a block, lasting over the seasons
	Season float64 // of one unit from season to season, beyond what the season does to all
	Block  float64 // between blocks: matters to simulated power only
}

// log is the variances of the logs: σ² = ln(1 + CV²).
func (s Spread) log() (unit, season, block float64) {
	v := func(cv float64) float64 { return math.Log1p(cv * cv) }
	return v(s.Unit), v(s.Season), v(s.Block)
}

// OneSeason is the spread of a trial of one season: what lasts and what is of the season cannot be told apart there.
func (s Spread) OneSeason() Spread {
	unit, season, _ := s.log()
	return Spread{Unit: math.Sqrt(math.Expm1(unit + season)), Block: s.Block}
}

// spreadOf estimates the spread from trials that were analysed: the mean of their variances, each weighted by its units.
func spreadOf(past ...*Analysis) Spread {
	var sum, weight [3]float64
	for _, a := range past {
		v := a.Variances
		w := float64(a.Units)
		add := func(i int, x *float64) {
			if x != nil {
				sum[i] += w * *x
				weight[i] += w
			}
		}
		if v.Unit == nil { // one season: what units differ by stands in the residual
			add(0, v.Residual)
		} else {
			add(0, v.Unit)
			add(1, v.Residual)
		}
		add(2, v.Block)
	}
	cv := func(i int) float64 {
		if weight[i] == 0 {
			return 0
		}
		return math.Sqrt(math.Expm1(sum[i] / weight[i]))
	}
	return Spread{cv(0), cv(1), cv(2)}
}

// Past is the spread that whole trials tell, for one that is yet to come, and the names of those that tell it. No name:
// none does.
func Past(trials []Trial, set practice.Set) (Spread, []string) {
	var past []*Analysis
	var names []string
	for _, t := range trials {
		t.Options.Response = Sap
		if a, _, err := t.Analyse(set); err == nil && a.Variances.Residual != nil {
			past, names = append(past, a), append(names, t.Name)
		}
	}
	return spreadOf(past...), names
}

// Scheme is the size of a trial.
type Scheme struct {
	Design        Kind
	Practices     int  // with the reference
	Replicates    int  // units of each practice but the reference: blocks, pairs, units of a square's row
	MoreReference bool // √(practices − 1) as many units of the reference (Dunnett 1955)
	Seasons       int  // 0 is 1
	Adjusted      bool // judge by the p that is adjusted for all comparisons with the reference
}

// check finds what is wrong with a scheme and spread.
func (s Scheme) check(sp Spread, gainPct, alpha float64) error {
	var faults note.Faults
	fault := func(key string, args ...any) { faults = append(faults, note.New(key, args...)) }
	switch s.Design {
	case Randomised, Blocks, Pairs, Latin:
	default:
		fault("there is no design %s; allowed: randomised, blocks, pairs, latin-square", string(s.Design))
	}
	if s.Practices < 2 || s.Practices > 20 {
		fault("%d practices; allowed: 2 to 20, the reference among them", s.Practices)
	}
	if s.Design == Pairs && s.Practices != 2 {
		fault("pairs compare two practices, not %d", s.Practices)
	}
	if s.Replicates < 1 || s.Replicates > 10000 {
		fault("%d replicates; allowed: 1 to 10000", s.Replicates)
	}
	if s.Seasons < 0 || s.Seasons > 20 {
		fault("%d seasons; allowed: 1 to 20", s.Seasons)
	}
	if s.Design == Latin && s.seasons() != s.Practices {
		fault("a Latin square over seasons needs as many seasons as practices, %d, not %d", s.Practices, s.seasons())
	}
	for _, cv := range []float64{sp.Unit, sp.Season, sp.Block} {
		if !(cv >= 0 && cv <= 3) {
			fault("a CV of %v; allowed: 0 to 3, where 0.15 is 15 %%", cv)
		}
	}
	if sp.Unit == 0 && sp.Season == 0 {
		fault("units that do not vary at all need no trial: give the CV between units")
	}
	if !(gainPct > -99 && gainPct <= 1000) {
		fault("a gain of %v %%; allowed: above -99 and at most 1000", gainPct)
	}
	if !(alpha > 0 && alpha < 1) {
		fault("a level of %v; allowed: between 0 and 1", alpha)
	}
	return faults.Err()
}

func (s Scheme) seasons() int { return max(1, s.Seasons) }

// reference is how many units the reference has.
func (s Scheme) reference() int {
	if !s.MoreReference {
		return s.Replicates
	}
	if s.Design == Blocks {
		return s.Replicates * int(math.Round(math.Sqrt(float64(s.Practices-1))))
	}
	return int(math.Round(float64(s.Replicates) * math.Sqrt(float64(s.Practices-1))))
}

// Units is how many units the scheme takes.
func (s Scheme) Units() int { return (s.Practices-1)*s.Replicates + s.reference() }

// exact gives the standard error and the degrees of freedom of a gain where the analysis of variance is exact: the
// errors of completely randomised units and of like blocks. A Latin square with carry-over and adjusted p are not.
func (s Scheme) exact(sp Spread) (se, df float64, ok bool) {
	unit, season, _ := sp.log()
	n, k, b := s.Units(), s.Practices, s.Replicates
	df = float64(n - k)
	if s.Design != Randomised {
		df = float64(n - b - (k - 1))
	}
	v := (unit + season/float64(s.seasons())) * (1/float64(s.Replicates) + 1/float64(s.reference()))
	return math.Sqrt(v), df, s.Design != Latin && (!s.Adjusted || k == 2)
}

// Chance is a power.
type Chance struct {
	Power float64
	Error float64 // standard error of a simulated one; 0 where exact
	Exact bool
	Units int
}

// Power is the chance that a gain of gainPct over the reference is found: that its p, two-sided, is below alpha. Exact by
// the noncentral t where it is, else by simulated trials (runs of them; 0 is 2,000) through the same analysis.
func (s Scheme) Power(sp Spread, gainPct, alpha float64, runs int) (Chance, error) {
	if err := s.check(sp, gainPct, alpha); err != nil {
		return Chance{}, err
	}
	se, df, ok := s.exact(sp)
	if ok {
		if df <= 0 {
			return Chance{}, note.Faults{note.New("%d replicates leave nothing to tell the error: more are needed", s.Replicates)}
		}
		return Chance{Power: powerOfT(math.Log1p(gainPct/100)/se, df, alpha), Exact: true, Units: s.Units()}, nil
	}
	if runs == 0 {
		runs = 2000
	}
	sim, err := s.Simulate(sp, gainPct, runs, 1)
	if err != nil {
		return Chance{}, err
	}
	found := 0
	for _, r := range sim {
		p := r.P
		if s.Adjusted {
			p = r.PAdjusted
		}
		if p < alpha {
			found++
		}
	}
	share := float64(found) / float64(runs)
	return Chance{Power: share, Error: math.Sqrt(share * (1 - share) / float64(runs)), Units: s.Units()}, nil
}

// powerOfT is P(|T| > t_crit) of the noncentral t.
func powerOfT(delta, df, alpha float64) float64 {
	t := tQuantile(1-alpha/2, df)
	return 1 - noncentral(t, df, delta) + noncentral(-t, df, delta)
}

// Needed is the fewest replicates with which the gain is found with the power asked for, and that power.
func (s Scheme) Needed(sp Spread, gainPct, alpha, power float64, runs int) (int, Chance, error) {
	if !(power > alpha && power < 1) {
		return 0, Chance{}, note.Faults{note.New("a power of %v; allowed: above the level %v and below 1", power, alpha)}
	}
	if gainPct == 0 {
		return 0, Chance{}, note.Faults{note.New("no trial finds a gain of 0; give the gain worth finding")}
	}
	s.Replicates = 2
	if err := s.check(sp, gainPct, alpha); err != nil {
		return 0, Chance{}, err
	}
	at := func(n int) (Chance, error) {
		t := s
		t.Replicates = n
		if _, df, ok := t.exact(sp); ok && df <= 0 {
			return Chance{Exact: true}, nil
		}
		return t.Power(sp, gainPct, alpha, runs)
	}
	step := 1
	if s.Design == Latin {
		step = latinRows(s.Practices) / s.Practices
	}
	low, high := 0, step*2
	for {
		c, err := at(high)
		if err != nil {
			return 0, c, err
		}
		if c.Power >= power {
			break
		}
		if low, high = high, high*2; high > 10000 {
			return 0, c, note.Faults{note.New("even %d replicates find a gain of %v %% with a power of %.2f only", low, gainPct, c.Power)}
		}
	}
	for high-low > step {
		mid := (low + high) / 2 / step * step
		if mid <= low {
			mid = low + step
		}
		c, err := at(mid)
		if err != nil {
			return 0, c, err
		}
		if c.Power >= power {
			high = mid
		} else {
			low = mid
		}
	}
	c, err := at(high)
	return high, c, err
}

// Smallest is the smallest gain, in percent, that is found with the power asked for.
func (s Scheme) Smallest(sp Spread, alpha, power float64, runs int) (float64, error) {
	if !(power > alpha && power < 1) {
		return 0, note.Faults{note.New("a power of %v; allowed: above the level %v and below 1", power, alpha)}
	}
	low, high := 0.0, math.Log(10.99)
	for i := range 50 {
		mid := (low + high) / 2
		c, err := s.Power(sp, percent(mid), alpha, runs)
		if err != nil {
			return 0, err
		}
		if i == 0 {
			if most, _ := s.Power(sp, percent(high), alpha, runs); most.Power < power {
				return 0, note.Faults{note.New("even a gain of 1000 %% is not found with a power of %v by a trial of this size", power)}
			}
		}
		if c.Power >= power {
			high = mid
		} else {
			low = mid
		}
		if high-low < 1e-6 || !c.Exact && high-low < 2e-3 {
			break
		}
	}
	return percent(high), nil
}

// PowerRow is the power of a scheme at a number of replicates.
type PowerRow struct {
	Replicates  int
	GainPct     float64
	Chance      Chance
	SmallestPct float64 // gain found with the power asked for; NaN where even 1000 % is not
	Needed      bool    // the fewest replicates with the power asked for
}

// Table is the power at the replicates given; or with 0, at those needed and at some below and above.
func (s Scheme) Table(sp Spread, gainPct, alpha, power float64, replicates, runs int) ([]PowerRow, error) {
	list, needed := []int{replicates}, 0
	if replicates == 0 {
		n, _, err := s.Needed(sp, gainPct, alpha, power, runs)
		if err != nil {
			return nil, err
		}
		needed, list = n, nil
		step := 1
		if s.Design == Latin {
			step = latinRows(s.Practices) / s.Practices
		}
		for _, part := range []float64{0.5, 0.75, 1, 1.5, 2} {
			k := max(step, int(math.Round(part*float64(n)/float64(step)))*step)
			if s.Design != Latin {
				k = max(2, k)
			}
			if !slices.Contains(list, k) {
				list = append(list, k)
			}
		}
	}
	var rows []PowerRow
	for _, n := range list {
		s.Replicates = n
		c, err := s.Power(sp, gainPct, alpha, runs)
		if err != nil {
			return nil, err
		}
		r := PowerRow{Replicates: n, GainPct: gainPct, Chance: c, Needed: n == needed}
		if r.SmallestPct, err = s.Smallest(sp, alpha, power, runs); err != nil {
			r.SmallestPct = math.NaN()
		}
		rows = append(rows, r)
	}
	return rows, nil
}

// rows is a trial of the scheme, its layout made from the seed: keys p0 (the reference), p1, ...
func (s Scheme) rows(seed uint64) ([]UnitSeason, practice.Set, error) {
	q := Question{Design: s.Design, Seasons: s.seasons(), FirstSeason: 2001, MoreReference: s.MoreReference, Seed: seed, Taps: 1, Replicates: s.Replicates}
	var set practice.Set
	for i := range s.Practices {
		key := practice.Key(fmt.Sprintf("p%d", i))
		set = append(set, practice.Practice{Key: key})
		q.Practices = append(q.Practices, key)
	}
	q.Reference = "p0"
	l, err := q.Layout(set)
	if err != nil {
		return nil, nil, err
	}
	var rows []UnitSeason
	for _, p := range l.Places {
		rows = append(rows, UnitSeason{Unit: p.Unit.Name, Block: p.Unit.Block, Season: p.Season, Practice: p.Practice, Taps: 1, Volume: 1})
	}
	return rows, set, nil
}

// Simulate is so many trials in which the second practice gains gainPct and the others nothing, each analysed as a
// trial is: the gain of the second practice in each, with its interval and its p, plain and adjusted; Gain.AllLowPct and
// so on are not set. PAdjusted is that of the comparison with the least p where the gain is 0, so that it tells the
// familywise error. The same arguments give the same trials, on any number of processors.
func (s Scheme) Simulate(sp Spread, gainPct float64, runs int, seed uint64) ([]Gain, error) {
	if err := s.check(sp, gainPct, 0.05); err != nil {
		return nil, err
	}
	rows, set, err := s.rows(seed)
	if err != nil {
		return nil, err
	}
	m, err := newModel(rows, set, Options{Reference: "p0"})
	if err != nil {
		return nil, err
	}
	vu, vs, vb := sp.log()
	effect := math.Log1p(gainPct / 100)
	out, errs := make([]Gain, runs), make([]error, runs)
	var wait sync.WaitGroup
	workers := min(runs, runtime.GOMAXPROCS(0))
	for w := range workers {
		wait.Go(func() {
			mine := *m
			mine.y = make([]float64, len(m.y))
			for i := w; i < runs; i += workers {
				r := newStream(seed, fmt.Sprint("run ", i))
				draw := func(n int, variance float64) []float64 {
					x := make([]float64, n)
					for j := range x {
						x[j] = math.Sqrt(variance) * r.normal()
					}
					return x
				}
				units, blocks, own := draw(distinct(m.ids), vu), draw(distinct(m.blocks), vb), draw(len(m.y), vs)
				for j := range mine.y {
					mine.y[j] = 3 + units[m.ids[j]] + blocks[m.blocks[j]] + own[j]
					if vs == 0 && s.seasons() > 1 {
						mine.y[j] += 1e-3 * r.normal() // units that never vary leave nothing to estimate
					}
					if m.level[j] == 1 {
						mine.y[j] += effect
					}
				}
				out[i], errs[i] = mine.judge(gainPct == 0, s.Adjusted || gainPct == 0)
			}
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// judge is the second practice's gain; least asks for the adjusted p of the comparison that has the least.
func (m *model) judge(least, adjusted bool) (Gain, error) {
	f, err := m.fit()
	if err != nil {
		return Gain{}, err
	}
	a := Analysis{model: m, fit: f.f, Reference: m.levels[0].Practice}
	a.Gains = m.gains(f)
	g := a.Gains[1]
	if !adjusted || !g.withInference {
		return g, nil
	}
	first := g
	var contrasts [][]float64
	for _, o := range a.Gains[1:] {
		contrasts = append(contrasts, o.contrast)
		if least && o.P < first.P {
			first = o
		}
	}
	p, _ := Within(math.Abs(first.Log)/first.SE, a.correlation(contrasts), first.DF)
	g.PAdjusted = atLeast(1-p, first.P)
	return g, nil
}
