package advice

import (
	"spile/internal/engine/plan"
	"spile/internal/engine/year"
	"spile/internal/note"
	"spile/internal/trade/price"
)

// Scenario is an answer in a state of the world with a name.
type Scenario struct {
	Name note.Note // in words; of the user's own as typed
	ID   string
	*Advice
}

// z10 is the point of the standard normal that one in ten lies below.
const z10 = -1.2815515655446004

// states are the scenarios of prices: as they are, prices low and high, a poor year, and those of the price file. A low
// price is the low of the price file, and where it gives none that which one season in ten lies below.
func (in Input) states() (list []plan.State) {
	y, _ := in.Year()
	add := func(id string, name note.Note, of func(*price.Prices) *price.Prices) {
		list = append(list, plan.State{ID: id, Name: name, Of: of})
	}
	as := func(s price.Scenario) func(*price.Prices) *price.Prices {
		return func(p *price.Prices) *price.Prices { return p.In(s) }
	}
	add("low-price", note.New("low price"), func(p *price.Prices) *price.Prices { return dear(p, y, -1) })
	add("usual", note.New("usual"), nil)
	add("high-price", note.New("high price"), func(p *price.Prices) *price.Prices { return dear(p, y, 1) })
	poor := y.Draw([...]float64{z10, 0, 0})
	add("poor-year", note.New("poor year"),
		as(price.Scenario{Yield: poor[year.Yield], Sugar: poor[year.Sugar], Price: poor[year.Price]}))
	for _, s := range in.Prices.Scenarios {
		add(s.Name, note.New("%s", s.Name), as(s))
	}
	return list
}

// dear is prices with what is sold at its low or its high.
func dear(p *price.Prices, y year.Year, side float64) *price.Prices {
	y.SD[year.Yield], y.SD[year.Sugar] = 0, 0
	y = y.Rooted()
	factor := y.Draw([...]float64{0, 0, -side * z10})[year.Price]
	p = p.Clone()
	at := func(v *price.Value) {
		end := v.Low
		if side > 0 {
			end = v.High
		}
		if end != nil {
			*v = price.Value{Best: *end}
		} else {
			*v = price.Value{Best: factor * v.Best}
		}
	}
	for i := range p.Sells.Grades {
		at(&p.Sells.Grades[i].Price)
	}
	for _, o := range []*price.Outlet{p.Sells.Retail, p.Sells.Sap} {
		if o != nil {
			at(&o.Price)
		}
	}
	return p
}

// Scenarios are the answers in each scenario side by side, money drawn anew in each: where sap is limited, what a gain
// brings on average bends otherwise in a poor year. None without a ranking.
func (a *Advice) Scenarios() (list []Scenario) {
	if len(a.Ranking) == 0 || a.Money == nil {
		return nil
	}
	for _, s := range a.Input.states() {
		x, in := a, a.Input
		if s.Of != nil {
			var err error
			in.Prices = s.Of(in.Prices)
			fit := fitted{effects: a.Effects, pooled: pooled{pool: a.Pool}, caveats: a.Caveats}
			if x, err = priced(in, fit, a.Money, a.draws, nil); err != nil {
				continue // a state that cannot be: nothing is said of it
			}
		}
		list = append(list, Scenario{s.Name, s.ID, x})
	}
	return list
}
