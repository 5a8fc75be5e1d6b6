package power

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/engine/stream"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// frame is a trial of the size, its layout drawn from the seed: practices p0 (the reference), p1, ...
func (t Trial) frame(seed uint64) (*compare.Frame, error) {
	q := trial.Question{Design: t.Design, Seasons: t.Span(), FirstSeason: 2001, MoreReference: t.MoreReference,
		Seed: seed, Taps: 1,
		Replicates: t.Replicates, Reference: "p0"}
	var set practice.Set
	for i := range t.Practices {
		key := practice.Key(fmt.Sprintf("p%d", i))
		set = append(set, practice.Practice{Key: key})
		q.Practices = append(q.Practices, key)
	}
	l, err := design.Draw(q, set)
	if err != nil {
		return nil, err
	}
	var rows []trial.UnitSeason
	for _, p := range l.Places {
		rows = append(rows, trial.UnitSeason{Unit: p.Unit.Name, Block: p.Unit.Block, Season: p.Season,
			Practice: p.Practice, Taps: 1, Volume: 1})
	}
	return compare.NewFrame(rows, set, trial.Options{Reference: "p0"})
}

// Simulate is Runs trials in which the second practice gains gainPct and the others nothing, each analysed as a trial
// is: the gain of the second practice in each, with its interval and its p, plain and, where that is what counts,
// adjusted. PAdjusted is that of the comparison with the least p where the gain is 0, so that it tells the familywise
// error. The same arguments give the same trials, on any number of processors.
func (t Trial) Simulate(gainPct float64, seed uint64) ([]compare.Gain, error) {
	if err := t.faults(gainPct).Err(); err != nil {
		return nil, err
	}
	f, err := t.frame(seed)
	if err != nil {
		return nil, err
	}
	out, errs := make([]compare.Gain, t.Runs), make([]error, t.Runs)
	var wait sync.WaitGroup
	workers := min(t.Runs, runtime.GOMAXPROCS(0))
	for w := range workers {
		wait.Go(func() {
			for i := w; i < t.Runs; i += workers {
				y := t.yields(f, gainPct, stream.New(seed, fmt.Sprint("run ", i)))
				out[i], errs[i] = f.Second(y, t.Adjusted || gainPct == 0, gainPct == 0)
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

// yields draws the ln yields a tap of one trial.
func (t Trial) yields(f *compare.Frame, gainPct float64, r stream.Stream) []float64 {
	draw := func(n int, variance float64) []float64 {
		x := make([]float64, n)
		for j := range x {
			x[j] = math.Sqrt(variance) * r.Normal()
		}
		return x
	}
	unit, season, block := t.Spread.log()
	n := len(f.Unit)
	units, blocks, own := draw(slices.Max(f.Unit)+1, unit), draw(slices.Max(f.Block)+1, block), draw(n, season)
	y := make([]float64, n)
	for j := range y {
		y[j] = 3 + units[f.Unit[j]] + blocks[f.Block[j]] + own[j]
		if season == 0 && t.Span() > 1 {
			y[j] += 1e-3 * r.Normal() // units that never vary leave nothing to estimate
		}
		if f.Practice[j] == 1 {
			y[j] += math.Log1p(gainPct / 100)
		}
	}
	return y
}
