package mixture

import (
	"errors"
	"math"
)

// Answer is what a table leaves known.
type Answer struct {
	Studies  *Posterior // as the studies say: effects flat
	Shrunk   *Posterior // effects shrunk toward the means of their families
	Evidence float64    // logarithm, effects flat and no study standing apart
	// Apart is, by study, the chance that it stands apart; nil where it was not asked, with fewer than four studies. Of
	// very many studies only those that lie farthest are asked; NaN for the others.
	Apart []float64

	f     *fit
	boxes []box
}

// ErrUntold is of a table that leaves an effect or a moderator without any evidence of its own.
var ErrUntold = errors.New("an effect is told by no study")

// Of integrates the joint model of a table. Studies left out, each told by its index, say nothing, and may be
// foretold. The error is ErrUntold.
func Of(t Table, p Prior, out ...int) (*Answer, error) { return of(t, p, nil, out) }

func of(t Table, p Prior, near *Near, out []int) (*Answer, error) {
	f := newFit(t, p, out)
	list, units := f.situations(near)
	a := &Answer{f: f, Evidence: list[0].log, boxes: f.boxes(list)}
	if math.IsNaN(a.Evidence) || math.IsInf(a.Evidence, 0) {
		return nil, ErrUntold
	}
	logs, sets := make([]float64, len(list)), make([]*weights, len(list))
	for i, h := range list {
		logs[i], sets[i] = h.log, h.weights
	}
	whole := logSum(logs)
	for i := range logs {
		logs[i] -= whole
	}
	a.Studies, a.Shrunk = f.posterior(flat, sets, logs), f.posterior(shrunk, sets, logs)
	for _, x := range sets { // the parts know all of it that is asked for again
		for k := range x.look {
			x.look[k].parts, x.look[k].cells = nil, nil
		}
	}
	if units != nil {
		chance := f.apart(list, units)
		for _, u := range f.m.unit {
			a.Apart = append(a.Apart, chance[u])
		}
	}
	return a, nil
}

// apart works out the chance of each unit asked, from the situations looked at in full and that which differs from
// their heaviest in the unit.
func (f *fit) apart(list []held, units []int) []float64 {
	chance := make([]float64, f.m.units)
	for i := range chance {
		chance[i] = math.NaN()
	}
	for _, u := range units {
		with, without := math.Inf(-1), math.Inf(-1)
		for _, h := range list {
			if h.unit < 0 || h.unit == u {
				if h.c.apart(u) {
					with = logSum([]float64{with, h.log})
				} else {
					without = logSum([]float64{without, h.log})
				}
			}
		}
		chance[u] = 1 / (1 + math.Exp(without-with))
	}
	return chance
}
