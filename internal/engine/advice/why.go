package advice

import (
	"slices"

	"spile/internal/engine/trust"
	"spile/internal/trade/practice"
)

// Why is a practice's pooled gain taken apart: what each step of a stated order of refits adds, and which studies move
// it most.
type Why struct {
	Treatment practice.Treatment
	Parts     []trust.Part
	Movers    []trust.Mover
}

// movers is how many studies are named.
const movers = 3

// Why is the advice with the gains of some practices taken apart; of none, with those of all. It takes some fits, so
// only those ask who show it.
func (m *Memo) Why(a *Advice, only ...practice.Key) (*Advice, error) {
	list, err := m.whys.get(keyOf(asked[[]practice.Key]{a.rests, only}), func() (list []Why, err error) {
		ladder, err := m.ladders.get(a.pooled, func() (*trust.Ladder, error) {
			return trust.NewLadder(a.Effects, a.Input.Practices, a.Input.Pool, a.Pool), nil
		})
		if err != nil {
			return nil, err
		}
		left := m.influences(a)
		for _, g := range a.Pool.Gains {
			if len(only) == 0 || slices.Contains(only, g.Treatment.Practice) {
				list = append(list, Why{g.Treatment, ladder.Parts(g.Treatment),
					trust.Movers(left, trust.Answer{Gains: a.Pool.Gains}, g.Treatment, movers)})
			}
		}
		return list, nil
	})
	if err != nil {
		return nil, err
	}
	explained := *a
	explained.Why = list
	return &explained, nil
}
