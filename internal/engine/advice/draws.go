package advice

import (
	"math"

	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

const (
	drawCount = 4000
	drawSeed  = 1
)

// draws holds long-run gains over unsanitized, as fractions, by treatment: as the studies say, and as used for money
// best guesses with their 95 % intervals, and joint draws. A treatment that the model has no place for is not there.
type draws struct {
	says  map[practice.Treatment]float64
	best  map[practice.Treatment]float64
	low   map[practice.Treatment]float64
	high  map[practice.Treatment]float64
	drawn map[practice.Treatment][]float64
}

// drawsOf draws every practice, those whose drops age at so many ages.
func drawsOf(r *pool.Result, set practice.Set, ages int) *draws {
	d := &draws{
		says:  map[practice.Treatment]float64{{Practice: practice.Unsanitized}: 0},
		best:  map[practice.Treatment]float64{{Practice: practice.Unsanitized}: 0},
		low:   map[practice.Treatment]float64{},
		high:  map[practice.Treatment]float64{},
		drawn: map[practice.Treatment][]float64{{Practice: practice.Unsanitized}: make([]float64, drawCount)},
	}
	var treatments []practice.Treatment
	for _, g := range r.Gains {
		p, _ := set.Find(g.Treatment.Practice)
		for age := 0; age == 0 || p.Ages() && age < ages; age++ {
			treatments = append(treatments, practice.Treatment{Practice: p.Key, DropAge: age})
		}
	}
	logs, spreads := r.Draw(drawCount, drawSeed, treatments...)
	for i, log := range logs {
		t := treatments[i]
		at, ok := r.ForMoney(t)
		if !ok || log == nil {
			continue
		}
		says, _ := r.Gain(t)
		d.says[t], d.best[t] = says.LongRunPct/100, at.LongRunPct/100
		shift := math.Log1p(at.LongRunPct/100) - at.Log // of the ratio of expected yields, as a draw is
		d.low[t] = math.Exp(shift)*(1+at.LowPct/100) - 1
		d.high[t] = math.Exp(shift)*(1+at.HighPct/100) - 1
		for i, x := range log {
			log[i] = math.Expm1(x + spreads[i].LongRun())
		}
		d.drawn[t] = log
	}
	return d
}

// moved is the draws with every yield ratio multiplied by a factor of its treatment, and the best guess in the place of
// all draws. What has no factor is not there.
func (d *draws) moved(factor func(practice.Treatment) (float64, bool)) *draws {
	out := &draws{says: map[practice.Treatment]float64{}, best: map[practice.Treatment]float64{},
		low: map[practice.Treatment]float64{}, high: map[practice.Treatment]float64{},
		drawn: map[practice.Treatment][]float64{}}
	for t, x := range d.best {
		f, ok := 1., true
		if t.Practice != practice.Unsanitized {
			f, ok = factor(t)
		}
		if ok {
			times := func(x float64) float64 { return (1+x)*f - 1 }
			out.says[t], out.best[t] = times(d.says[t]), times(x)
			out.low[t], out.high[t] = times(d.low[t]), times(d.high[t])
			out.drawn[t] = []float64{times(x)}
		}
	}
	return out
}
