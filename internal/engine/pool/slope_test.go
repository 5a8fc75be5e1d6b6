package pool

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"spile/internal/engine/effect"
	"spile/internal/engine/mixture"
	"spile/internal/engine/reml"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// The vacuum of the studies of a world that tells of slopes: its mean and standard deviation, inches of mercury.
const (
	meanVacuum   = 22.
	spreadVacuum = 3.
)

// flat is a prior of a slope that says nothing.
const flat = 10.

// slopeWays are ways of reckoning with a property of a sugarbush, in the order of Sloped.Ways: the standard deviation
// of the slope's prior, 0 where the property is not reckoned with, and what becomes of it where a test at 5 % (Kenward
// & Roger) does not show it.
var slopeWays = []struct {
	prior, unshown float64
}{{0, 0}, {flat, 0}, {flat, flat}, {0.05, 0.05}, {0.1, 0.1}, {0.2, 0.2}}

// slopeTold is what one way tells of the gains of a table at sugarbushes one standard deviation to either side of the
// studies' mean: the part of intervals that hold the truth, the squared error of the gain, and what the choice by it
// nets less than the best does.
type slopeTold struct{ holds, square, loss float64 }

// lookAtSlopes fits one table in each way and compares it with its truth.
func (w truth) lookAtSlopes(r *rand.Rand) ([]slopeTold, error) {
	set := practice.Shipped()
	e, err := effect.Of(w.draw(r), set, evidence.Options{})
	if err != nil {
		return nil, err
	}
	cost := map[practice.Key]float64{}
	for _, p := range set {
		cost[p.Key] = dearest * r.Float64()
	}
	kept := map[float64]*Result{}
	fit := func(slope float64) (*Result, error) {
		if kept[slope] != nil {
			return kept[slope], nil
		}
		o := Options{Inference: reml.KenwardRoger, Site: true, Prior: mixture.Default()}
		if slope > 0 {
			o.Moderators, o.Prior.Slope = []string{evidence.Vacuum}, slope
		}
		all, _, err := newTable(e, set, o)
		if err != nil {
			return nil, err
		}
		res := &Result{options: o, set: set}
		if err := res.fit(all); err != nil {
			return nil, err
		}
		res.integrated, err = res.table.integrate(res.members[0].layout, o.Prior, nearby{})
		kept[slope] = res
		return res, err
	}
	var out []slopeTold
	for _, way := range slopeWays {
		res, err := fit(way.prior)
		if err != nil {
			return nil, err
		}
		if way.unshown != way.prior {
			res.Moderators = nil
			if res.reportModerators(); len(res.Moderators) == 0 || res.Moderators[0].P >= 0.05 {
				if res, err = fit(way.unshown); err != nil {
					return nil, err
				}
			}
		}
		out = append(out, w.slopeTold(res, cost))
	}
	return out, nil
}

// slopeTold is what a result tells at either side of the studies' mean.
func (w truth) slopeTold(res *Result, cost map[practice.Key]float64) slopeTold {
	var out slopeTold
	n := 0.0
	for _, side := range []float64{-1, 1} {
		at := map[string]float64{evidence.Vacuum: float64(unit.InchOfMercury.Of(meanVacuum + side*spreadVacuum))}
		chosen, told, best := 0.0, 0.0, 0.0 // unsanitized nets 0
		for _, p := range res.set {
			t := practice.Treatment{Practice: p.Key}
			line, ok := res.integrated.layout.line(append(res.shifts(at), of(t, 1))...)
			if !ok || !p.Sanitized() {
				continue
			}
			own, long := res.integrated.shrunk.Of(line), res.integrated.shrunk.LongRun(line)
			truth := w.log(t) + side*w.slope
			out.holds += inside(truth, own.Quantile(lowEnd), own.Quantile(highEnd))
			out.square += (own.Mean() - truth) * (own.Mean() - truth)
			n++
			net := func(long float64) float64 { return unsanitizedTap*math.Expm1(long) - cost[p.Key] }
			is := net(truth + (w.site+w.season)/2)
			best = max(best, is)
			if x := net(long.Mean()); x > told {
				told, chosen = x, is
			}
		}
		out.loss += (best - chosen) / 2
	}
	return slopeTold{out.holds / n, out.square / n, out.loss}
}

// TestCoverageOfSlopes: a sugarbush's gain at its own vacuum, in each way of reckoning with it. With SPILE_COVERAGE set
// 300 tables of 12 studies a slope, or as many as it says; what it logs are rows of Slopes. Else a few tables of a
// slope that is worth reckoning with.
func TestCoverageOfSlopes(t *testing.T) {
	if testing.Short() {
		t.Skip("the race detector looks at shorter tests; the coverage is held without it")
	}
	slopes, n := []float64{0, 0.05, 0.1, 0.2, 0.4}, 300
	if s := os.Getenv("SPILE_COVERAGE"); s == "" {
		slopes, n = slopes[3:4], 4
	} else if s != "1" {
		fmt.Sscan(s, &n)
	}
	for _, slope := range slopes {
		w := usual(12)
		w.moderated, w.slope = true, slope
		all := each(t, n, func(k int) ([]slopeTold, error) {
			return w.lookAtSlopes(rand.New(rand.NewPCG(77, uint64(k))))
		})
		row := fmt.Sprintf("{%.2f, %d, [%d]Way{", slope, n, len(slopeWays))
		holds, error := make([]counted, len(slopeWays)), make([]float64, len(slopeWays))
		for i := range slopeWays {
			var square, loss counted
			for _, x := range all {
				holds[i].add(x[i].holds)
				square.add(x[i].square)
				loss.add(x[i].loss)
			}
			error[i] = math.Sqrt(square.mean())
			row += fmt.Sprintf("{Held{%.1f, %.1f}, %.1f, %.1f}, ", 100*holds[i].mean(), 100*holds[i].err(),
				100*error[i], 100/unsanitizedTap*loss.mean())
		}
		t.Log(row + "}},")
		const none, prior = 0, 4
		if slope <= 0.2 {
			holds[prior].within(t, fmt.Sprint("intervals at a slope of ", slope), 93, 100)
		}
		if slope >= 0.2 && error[prior] > error[none] {
			t.Errorf("at a slope of %v gains err by %.3f with it, by %.3f without", slope, error[prior], error[none])
		}
	}
}
