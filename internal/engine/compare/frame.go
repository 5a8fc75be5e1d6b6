package compare

import (
	"math"

	"spile/internal/engine/mvt"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// Frame is a trial without its yields, to be analysed again and again with others: for its power.
type Frame struct {
	Unit, Block, Practice []int // of each row, from 0; practice 0 is the reference
	model                 *model
}

// NewFrame takes the rows for all but their yields. The error is note.Faults.
func NewFrame(rows []trial.UnitSeason, set practice.Set, o trial.Options) (*Frame, error) {
	m, err := newModel(rows, set, o)
	if err != nil {
		return nil, err
	}
	return &Frame{m.ids, m.blocks, m.level, m}, nil
}

// Second is the gain of practice 1 over the reference where the rows have these ln yields a tap. Where adjusted is
// asked for, PAdjusted is set for all comparisons with the reference; where least is too, it is that of the comparison
// with the least p. AllLowPct and AllHighPct are not set.
func (f *Frame) Second(y []float64, adjusted, least bool) (Gain, error) {
	m := *f.model
	m.y = y
	fit, err := m.fit()
	if err != nil {
		return Gain{}, err
	}
	a := Analysis{model: &m, fit: fit.f, Reference: m.levels[0].Practice}
	a.Gains = m.gains(fit)
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
	p, _ := mvt.Within(math.Abs(first.Log)/first.SE, a.correlation(contrasts), first.DF)
	g.PAdjusted = atLeast(1-p, first.P)
	return g, nil
}
