package plan

import (
	"errors"
	"slices"

	"spile/internal/engine/sure"
	"spile/internal/trade/bush"
)

// of is a sugarbush in the state: its prices, and the yields and the sugar of its sections with them.
func (s State) of(b bush.Sugarbush) bush.Sugarbush {
	was := b.Prices
	b.Prices, b.Sections = *s.Of(&was), slices.Clone(b.Sections)
	times := func(x **float64, now, then float64) {
		if *x != nil {
			*x = new(**x * now / then)
		}
	}
	now, then := &b.Prices.Baseline, &was.Baseline
	for i := range b.Sections {
		times(&b.Sections[i].YieldL, now.Yield.Best, then.Yield.Best)
		times(&b.Sections[i].Brix, now.Brix.Best, then.Brix.Best)
	}
	return b
}

// states fills States.
func (p *Plan) states(k *maker, f *frame, prices grid, parts []part) error {
	if len(parts) == 0 {
		return nil
	}
	p.States = make([]InState, len(k.States))
	wrong := make([]error, len(k.States))
	sure.OnCores(len(k.States), 1, func() func(from, to int) {
		return func(i, _ int) {
			if s := k.States[i]; s.Of == nil {
				p.States[i] = p.asUsual(s)
			} else {
				p.States[i], wrong[i] = k.inState(s, f, prices, parts)
			}
		}
	})
	return errors.Join(wrong...)
}

// asUsual is the plan where prices are as they are.
func (p *Plan) asUsual(s State) InState {
	x := InState{State: s, Fits: true}
	x.Best.Profit, x.Expected.Profit = p.Profit.Best, p.Profit.Expected
	if o := p.OverLast; o != nil {
		x.Best.OverLast, x.Expected.OverLast = &o.Best, &o.Expected
	}
	return x
}

// inState plans anew in a state of the world that lasts all seasons, over the same draws of gains, and says what the
// plan brings there. prices are those of what is short in the plan. Nobody changes for NearTap.
func (k *maker) inState(s State, usual *frame, prices grid, plan []part) (x InState, err error) {
	x.State = s
	b := s.of(*k.Sugarbush)
	there := &maker{Sugarbush: &b, Evidence: k.Evidence, drawn: &k.world.drawn, near: prices}
	f, err := there.frame(new(Plan))
	if err != nil {
		return x, err
	}
	same := f.of(usual, plan)
	_, anew, _ := there.best(f, false, append(f.start(), f.paths(same)...)...)
	x.Expected.Profit, x.Fits = there.money(f, same), f.fits(same)
	best := there.bestGuess(f, same, f.last)
	if x.Best.Profit = total(best[0]); f.last != nil {
		x.Best.OverLast = new(x.Best.Profit - total(best[1]))
		x.Expected.OverLast = new(x.Expected.Profit - there.money(f, f.last))
	}
	if x.More = there.money(f, anew) - x.Expected.Profit; x.Fits && x.More <= there.each(f)*NearTap {
		x.More = 0
		return x, nil
	}
	for i := range anew {
		x.Anew = append(x.Anew, there.steps(&f.tables[i], anew[i]))
	}
	return x, nil
}

// of are parts of another frame of the same sections.
func (f *frame) of(other *frame, parts []part) (list []part) {
	for i, x := range parts {
		at := f.tables[i].start
		y, _ := f.tables[i].follow(i, x.weight, len(x.actions), func(season int, _ stand, actions []action) int {
			list := other.tables[i].actions[season][at]
			n := slices.IndexFunc(list, func(a action) bool { return a.deed == x.actions[season].deed })
			at = actions[n].next
			return n
		})
		list = append(list, y)
	}
	return list
}
