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

// draws holds long-run gains over unsanitized, as fractions: best guesses with their 95 % intervals, and joint draws,
// by treatment. A treatment that the model has no place for is not there.
type draws struct {
	best  map[practice.Treatment]float64
	low   map[practice.Treatment]float64
	high  map[practice.Treatment]float64
	drawn map[practice.Treatment][]float64
	// fewer than three degrees of freedom: its draws give no chance of being best (M7)
	rough map[practice.Treatment]bool
}

// oldest is the highest drop age for which draws are made, one below the longest rotation that can be asked for.
const oldest = maxInterval - 1

func drawsOf(r *pool.Result, set practice.Set) *draws {
	d := &draws{
		best:  map[practice.Treatment]float64{{Practice: practice.Unsanitized}: 0},
		low:   map[practice.Treatment]float64{},
		high:  map[practice.Treatment]float64{},
		drawn: map[practice.Treatment][]float64{{Practice: practice.Unsanitized}: make([]float64, drawCount)},
		rough: map[practice.Treatment]bool{},
	}
	joint := r.Draws(drawCount, drawSeed)
	for _, g := range r.Gains {
		for age := 0; age <= oldest; age++ {
			t := practice.Treatment{Practice: g.Treatment.Practice, DropAge: age}
			at, ok := r.ForMoney(t)
			log := joint.Log(t)
			if !ok || log == nil {
				break
			}
			d.rough[t] = at.DF < 3
			d.best[t] = at.LongRunPct / 100
			shift := math.Log1p(at.LongRunPct/100) - at.Log // σ²site/2: a draw, too, is of the ratio of expected yields
			d.low[t] = math.Exp(shift)*(1+at.LowPct/100) - 1
			d.high[t] = math.Exp(shift)*(1+at.HighPct/100) - 1
			for i, x := range log {
				log[i] = math.Expm1(x + shift)
			}
			d.drawn[t] = log
			if p, _ := set.Find(t.Practice); !p.Ages() {
				break
			}
		}
	}
	return d
}
