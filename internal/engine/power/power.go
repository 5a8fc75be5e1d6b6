// Package power is what gain a trial of some size finds, and how likely.
package power

import (
	"math"
	"slices"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/engine/harvest"
	"spile/internal/engine/mvt"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// Spread is how much yields vary that are treated alike, as coefficients of variation (0.15 is 15 %). For a trial of
// one season, Unit is what units of one block differ by in that season, and Season is 0.
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

// spreadOf estimates the spread from trials that were analysed: the mean of their variances, each weighted by its
// units.
func spreadOf(past ...*compare.Analysis) Spread {
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

// Says is what a trial says: compare.Trial, or one who remembers it.
type Says func(trial.Trial, practice.Set) (*compare.Analysis, *harvest.Summed, error)

// Past is the spread that whole trials tell, for one that is yet to come, and the names of those that tell it. No name:
// none does.
func Past(trials []trial.Trial, set practice.Set, says Says) (Spread, []string) {
	var past []*compare.Analysis
	var names []string
	for _, t := range trials {
		t.Options.Response = trial.Sap
		if a, _, err := says(t, set); err == nil && a.Variances.Residual != nil {
			past, names = append(past, a), append(names, t.Name)
		}
	}
	return spreadOf(past...), names
}

// Trial is a trial that is thought of, and how it is to be judged.
type Trial struct {
	design.Scheme
	Spread Spread
	Level  float64 // two-sided, between 0 and 1
	Asked  float64 // power asked for, above the level and below 1; for Needed, Smallest, Table and Curves
	Runs   int     // simulated trials, where power is not exact
}

// faults are what is wrong with the trial and a gain.
func (t Trial) faults(gainPct float64) (list note.Faults) {
	fault := list.Add
	switch t.Design {
	case trial.Randomised, trial.Blocks, trial.Pairs, trial.Latin:
	default:
		fault("there is no design %s; allowed: randomised, blocks, pairs, latin-square", string(t.Design))
	}
	if t.Practices < 2 || t.Practices > 20 {
		fault("%d practices; allowed: 2 to 20, the reference among them", t.Practices)
	}
	if t.Design == trial.Pairs && t.Practices != 2 {
		fault("pairs compare two practices, not %d; allowed: two practices, or another design", t.Practices)
	}
	if t.Replicates < 1 || t.Replicates > maxReplicates {
		fault("%d replicates; allowed: 1 to 10000", t.Replicates)
	}
	if t.Seasons < 0 || t.Seasons > 20 {
		fault("%d seasons; allowed: 1 to 20", t.Seasons)
	}
	if t.Design == trial.Latin && t.Span() != t.Practices {
		fault("a Latin square over seasons needs as many seasons as practices, %d, not %d", t.Practices, t.Span())
	}
	for _, cv := range []float64{t.Spread.Unit, t.Spread.Season, t.Spread.Block} {
		if !(cv >= 0 && cv <= 3) {
			fault("a CV of %v %%; allowed: 0 to 300", points(cv))
		}
	}
	if t.Spread.Unit == 0 && t.Spread.Season == 0 {
		fault("units that do not vary at all need no trial; allowed: a CV between units above 0")
	}
	if !within(gainPct) {
		fault("a gain of %v %%; allowed: above -99 and at most 1000", gainPct)
	}
	return list
}

const maxReplicates = 10000

// points are a share as the percents that it was given in.
func points(share float64) float64 { return math.Round(1e6*share) / 1e4 }

// within is true of a gain that a trial may look for.
func within(gainPct float64) bool { return gainPct > -99 && gainPct <= 1000 }

// check is faults, and what is wrong with the level. The error is note.Faults.
func (t Trial) check(gainPct float64) error {
	list := t.faults(gainPct)
	if !(t.Level > 0 && t.Level < 1) {
		list.Add("a level of %v %%; allowed: above 0 and below 100", points(t.Level))
	}
	return list.Err()
}

// exact gives the standard error and the degrees of freedom of a gain where the analysis of variance is exact: the
// errors of completely randomised units and of like blocks. A Latin square with carry-over and adjusted p are not.
func (t Trial) exact() (se, df float64, ok bool) {
	unit, season, _ := t.Spread.log()
	n, k, b := t.Units(), t.Practices, t.Replicates
	df = float64(n - k)
	if t.Design != trial.Randomised {
		df = float64(n - b - (k - 1))
	}
	v := (unit + season/float64(t.Span())) * (1/float64(b) + 1/float64(t.ReferenceUnits()))
	return math.Sqrt(v), df, t.Design != trial.Latin && (!t.Adjusted || k == 2)
}

// hopeless is true of a trial that leaves nothing to tell its error, so that it never finds anything.
func (t Trial) hopeless() bool {
	_, df, exact := t.exact()
	return exact && df <= 0
}

// Chance is a power.
type Chance struct {
	Power float64
	Error float64 // standard error of a simulated one; 0 where exact
	Exact bool
	Units int
}

// Chance is that of a gain of gainPct over the reference being found: that its p, two-sided, is below the level. Exact
// by the noncentral t where it is, else by simulated trials through the same analysis. The error is note.Faults.
func (t Trial) Chance(gainPct float64) (Chance, error) {
	if err := t.check(gainPct); err != nil {
		return Chance{}, err
	}
	if t.hopeless() {
		return Chance{}, note.Faults{note.New("%d replicates leave nothing to tell the error: more are needed",
			t.Replicates)}
	}
	if se, df, ok := t.exact(); ok {
		return Chance{Power: powerOfT(math.Log1p(gainPct/100)/se, df, t.Level), Exact: true, Units: t.Units()}, nil
	}
	sim, err := t.Simulate(gainPct, 1)
	if err != nil {
		return Chance{}, err
	}
	found := 0
	for _, r := range sim {
		if t.Adjusted && r.PAdjusted < t.Level || !t.Adjusted && r.P < t.Level {
			found++
		}
	}
	share := float64(found) / float64(t.Runs)
	return Chance{Power: share, Error: math.Sqrt(share * (1 - share) / float64(t.Runs)), Units: t.Units()}, nil
}

// powerOfT is P(|T| > t_crit) of the noncentral t.
func powerOfT(delta, df, level float64) float64 {
	t := mvt.Quantile(1-level/2, df)
	return 1 - mvt.Noncentral(t, df, delta) + mvt.Noncentral(-t, df, delta)
}

// checkAsked is what is wrong with the power asked for.
func (t Trial) checkAsked() error {
	if !(t.Asked > t.Level && t.Asked < 1) {
		return note.Faults{note.New("a power of %v %% at a level of %v %%; allowed: a power above the level and "+
			"below 100, and a level such as 5", points(t.Asked), points(t.Level))}
	}
	return nil
}

// at is the trial with so many replicates.
func (t Trial) at(replicates int) Trial {
	t.Replicates = replicates
	return t
}

// Needed is the fewest replicates with which the gain is found with the power asked for, and that power. The error is
// note.Faults.
func (t Trial) Needed(gainPct float64) (int, Chance, error) {
	if err := t.checkAsked(); err != nil {
		return 0, Chance{}, err
	}
	if gainPct == 0 {
		return 0, Chance{}, note.Faults{
			note.New("no trial finds a gain of 0; allowed: the gain worth finding, such as 20")}
	}
	if err := t.at(2).check(gainPct); err != nil {
		return 0, Chance{}, err
	}
	chance := func(n int) (Chance, error) {
		if t.at(n).hopeless() {
			return Chance{Exact: true}, nil
		}
		return t.at(n).Chance(gainPct)
	}
	step := t.Step()
	low, high := 0, step*2
	for {
		c, err := chance(high)
		if err != nil {
			return 0, c, err
		}
		if c.Power >= t.Asked {
			break
		}
		if low, high = high, high*2; high > maxReplicates {
			return 0, c, note.Faults{note.New("even %d replicates find a gain of %v %% with a power of %v %% only", low,
				gainPct, math.Round(100*c.Power))}
		}
	}
	for high-low > step {
		mid := max((low+high)/2/step*step, low+step)
		c, err := chance(mid)
		if err != nil {
			return 0, c, err
		}
		if c.Power >= t.Asked {
			high = mid
		} else {
			low = mid
		}
	}
	c, err := chance(high)
	return high, c, err
}

// Smallest is the smallest gain, in percent, that is found with the power asked for. The error is note.Faults.
func (t Trial) Smallest() (float64, error) {
	if err := t.checkAsked(); err != nil {
		return 0, err
	}
	percent := func(log float64) float64 { return 100 * math.Expm1(log) }
	low, high := 0.0, math.Log(10.99)
	for i := range 50 {
		mid := (low + high) / 2
		c, err := t.Chance(percent(mid))
		if err != nil {
			return 0, err
		}
		if i == 0 {
			if most, _ := t.Chance(percent(high)); most.Power < t.Asked {
				return 0,
					note.Faults{note.New("even a gain of 1000 %% is not found with a power of %v %% by a trial of "+
						"this size", points(t.Asked))}
			}
		}
		if c.Power >= t.Asked {
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

// Row is the power of a trial at a number of replicates.
type Row struct {
	Replicates  int
	GainPct     float64
	Chance      Chance
	SmallestPct float64 // gain found with the power asked for; NaN where even 1000 % is not
	Needed      bool    // the fewest replicates with the power asked for
}

// Table is the power at the trial's replicates; or where it has none, at those needed and at some below and above. The
// error is note.Faults.
func (t Trial) Table(gainPct float64) ([]Row, error) {
	list, needed := []int{t.Replicates}, 0
	if t.Replicates == 0 {
		n, _, err := t.Needed(gainPct)
		if err != nil {
			return nil, err
		}
		needed, list = n, t.around(n)
	}
	var rows []Row
	for _, n := range list {
		c, err := t.at(n).Chance(gainPct)
		if err != nil {
			return nil, err
		}
		r := Row{Replicates: n, GainPct: gainPct, Chance: c, Needed: n == needed}
		if r.SmallestPct, err = t.at(n).Smallest(); err != nil {
			r.SmallestPct = math.NaN()
		}
		rows = append(rows, r)
	}
	return rows, nil
}

// around is some replicates below and above a number of them.
func (t Trial) around(n int) (list []int) {
	step := t.Step()
	for _, part := range []float64{0.5, 0.75, 1, 1.5, 2} {
		k := max(step, int(math.Round(part*float64(n)/float64(step)))*step)
		if t.Design != trial.Latin {
			k = max(2, k)
		}
		if !slices.Contains(list, k) {
			list = append(list, k)
		}
	}
	return list
}
