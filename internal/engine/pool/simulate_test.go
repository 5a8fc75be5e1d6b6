package pool

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/trade/practice"
)

// truth is a world from which tables are drawn: log gains, an exponential curve of ageing, and the spread.
type truth struct {
	gain             map[practice.Key]float64 // of new-drop: at age 0
	halfLife         float64
	study, site      float64 // τ², σ²site
	season, place    float64 // σ_v², shared by sites; σ_w². Where either is above 0 sites and seasons come by chance
	cv               float64
	units            int
	blank            float64                // part of the studies that state neither n nor an error
	heavy            bool                   // arms deviate by t with three degrees of freedom, of the same variance
	selected         bool                   // of studies that find nothing three in ten are published
	moderated        bool                   // studies differ in vacuum, and state it
	slope            float64                // what one standard deviation of it adds to every gain
	freak            float64                // how far one season departs, in which every fourth study stands
	arms             [][]practice.Treatment // the designs that studies take in turn
	studies, perSite int
}

// trade is a world like the trade's common figures (31, 63, 72 %).
func trade(studies int, tau2, site float64) truth {
	at := func(k practice.Key, age int) practice.Treatment { return practice.Treatment{Practice: k, DropAge: age} }
	u, s, v, c := at(practice.Unsanitized, 0), at(practice.NewSpout, 0), at(practice.CheckValve, 0),
		at(practice.ChlorineRinse, 0)
	return truth{
		gain: map[practice.Key]float64{practice.NewSpout: math.Log(1.31), practice.CheckValve: math.Log(1.63),
			practice.NewDrop: math.Log(1.72), practice.ChlorineRinse: math.Log(1.15)},
		halfLife: 2, study: tau2, site: site, cv: 0.2, units: 6, studies: studies, perSite: 3,
		arms: [][]practice.Treatment{
			{u, s}, {u, v}, {u, s, v}, {u, at(practice.NewDrop, 0)}, {u, s, at(practice.NewDrop, 1)}, {u, c},
			{u, v, at(practice.NewDrop, 2)}, {s, at(practice.NewDrop, 3)}, {u, s, v, at(practice.NewDrop, 0)},
		},
	}
}

func (w truth) log(t practice.Treatment) float64 {
	switch {
	case t.Practice == practice.Unsanitized:
		return 0
	case t.Practice == practice.NewDrop:
		spout := w.gain[practice.NewSpout]
		return spout + (w.gain[practice.NewDrop]-spout)*math.Exp(-math.Ln2*float64(t.DropAge)/w.halfLife)
	}
	return w.gain[t.Practice]
}

// effects draws a table as log contrasts with known sampling variances.
func (w truth) effects(r *rand.Rand) effect.Effects {
	var e effect.Effects
	u := 0.0
	for i := range w.studies {
		if i%w.perSite == 0 {
			u = math.Sqrt(w.site) * r.NormFloat64()
		}
		arms := w.arms[i%len(w.arms)]
		level := make([]float64, len(arms))
		v := make([]float64, len(arms))
		for a, t := range arms {
			v[a] = w.cv * w.cv / float64(w.units)
			level[a] = w.log(t) + sanitized(t)*u + math.Sqrt(w.study/2)*r.NormFloat64() +
				math.Sqrt(v[a])*r.NormFloat64()
		}
		s := effect.StudyEffects{Study: fmt.Sprintf("study %d", i+1), Site: fmt.Sprintf("site %d", i/w.perSite),
			Season: 2010 + i%12, Arms: arms,
			V: mat.NewSymDense(len(arms)-1, nil)}
		for a := 1; a < len(arms); a++ {
			y := level[a] - level[0]
			s.Rows = append(s.Rows, effect.Row{Arm: a, Ref: 0, Y: y, GainPct: percent(y)})
			for b := 1; b <= a; b++ {
				c := v[0]
				if a == b {
					c += v[a]
				}
				s.V.SetSym(a-1, b-1, c)
			}
		}
		e.Studies = append(e.Studies, s)
	}
	return e
}
