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
	for i, log := range r.Draw(drawCount, drawSeed, nil, treatments...) {
		t := treatments[i]
		at, ok := r.ForMoney(t)
		if !ok || log == nil {
			continue
		}
		says, _ := r.Gain(t)
		d.says[t], d.best[t] = says.LongRunPct/100, at.LongRunPct/100
		shift := math.Log1p(at.LongRunPct/100) - at.Log // (σ²site + σ²season)/2: of the ratio of expected yields
		d.low[t] = math.Exp(shift)*(1+at.LowPct/100) - 1
		d.high[t] = math.Exp(shift)*(1+at.HighPct/100) - 1
		for i, x := range log {
			log[i] = math.Expm1(x + shift)
		}
		d.drawn[t] = log
	}
	return d
}
