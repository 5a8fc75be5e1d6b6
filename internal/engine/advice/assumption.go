package advice

import (
	"maps"
	"slices"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// Measure is what the number of an assumption counts, always in the base units of price.Prices.
type Measure string

const (
	Ratio         Measure = "ratio"           // no unit; 1 is all of it
	YearlyRate    Measure = "rate"            // a year, as a fraction
	Brix          Measure = "brix"            // °Brix
	SapATap       Measure = "sap-a-tap"       // litres of sap a tap and season
	SyrupATap     Measure = "syrup-a-tap"     // kilograms of syrup a tap and season
	ChemicalATap  Measure = "chemical-a-tap"  // litres of product a tap and season
	MoneyHour     Measure = "money-hour"      // money an hour
	MoneySyrupKg  Measure = "money-syrup-kg"  // money a kilogram of syrup
	MoneySyrupL   Measure = "money-syrup-l"   // money a litre of syrup
	MoneySapL     Measure = "money-sap-l"     // money a litre of sap
	MoneyProductL Measure = "money-product-l" // money a litre of a chemical
	MoneyEach     Measure = "money-each"      // money a piece
	MoneyATap     Measure = "money-a-tap"     // money a tap and season
	MinutesATap   Measure = "minutes-a-tap"   // minutes a tap and season
	Seasons       Measure = "seasons"
)

// Assumption is one number of the prices that an answer rests on and that can be tried at another value.
type Assumption struct {
	Key     string    // dotted, as in the price file: "wage", "use.check-valve.minutes.tapping"
	Name    note.Note // what it is, in words
	Measure Measure
	Value   price.Value
	Default bool // the file says nothing: Value is what stands in for it
}

// Assumptions lists every number of the prices, in the order of a price file. Without prices there are none.
func (in Input) Assumptions() []Assumption {
	if in.Prices == nil {
		return nil
	}
	var list []Assumption
	for _, h := range handles(in.Prices) {
		list = append(list, h.Assumption)
	}
	return list
}

// With is the input with one assumption's best guess changed; its low and high are left out, since they belonged to
// the old guess. The error is a note.Faults naming the key where there is no such assumption.
func (in Input) With(key string, best float64) (Input, error) {
	return in.WithValue(key, price.Value{Best: best})
}

// WithValue is the input with another value in the place of one assumption's. The error is as that of With.
func (in Input) WithValue(key string, v price.Value) (Input, error) {
	if in.Prices != nil {
		p := clone(*in.Prices)
		for _, h := range handles(p) {
			if h.Key == key {
				h.set(v)
				in.Prices = p
				return in, nil
			}
		}
	}
	return in, note.Faults{note.New("there is no assumption named %s", key)}
}

// handle is an assumption and the way to put another value in its place.
type handle struct {
	Assumption
	set func(price.Value)
}

// handles finds every number of the prices.
func handles(p *price.Prices) []handle {
	var list []handle
	add := func(key string, m Measure, v *price.Value, name string, args ...any) {
		list = append(list, handle{Assumption{key, note.New(name, args...), m, *v, false}, func(to price.Value) { *v = to }})
	}
	// orElse adds a number that the file may leave out.
	orElse := func(key string, m Measure, at **price.Value, otherwise price.Value, name string) {
		v, absent := otherwise, *at == nil
		if !absent {
			v = **at
		}
		list = append(list, handle{Assumption{key, note.New(name), m, v, absent}, func(to price.Value) { *at = &to }})
	}
	minutes := func(key string, in map[price.Window]price.Value, name string, who practice.Key) {
		for _, w := range price.Windows {
			if v, ok := in[w]; ok {
				list = append(list, handle{
					Assumption{key + string(w), note.New(name, note.Term(who), note.Term(w)), MinutesATap, v, false},
					func(to price.Value) { in[w] = to },
				})
			}
		}
	}
	add("baseline.yield", SapATap, &p.Baseline.Yield, "baseline yield of sap")
	add("baseline.brix", Brix, &p.Baseline.Brix, "sugar of the sap")
	orElse("baseline.gain_brix", Brix, &p.Baseline.GainBrix, p.Baseline.Brix, "sugar of the added sap")
	for i := range p.Sells.Grades {
		g := &p.Sells.Grades[i]
		add("sells.bulk."+g.Name+".price", MoneySyrupKg, &g.Price, "price of bulk syrup, %s", note.Term(g.Name))
	}
	if p.Sells.Retail != nil {
		add("sells.retail.price", MoneySyrupL, &p.Sells.Retail.Price, "price of retail syrup")
	}
	if p.Sells.Sap != nil {
		add("sells.sap.price", MoneySapL, &p.Sells.Sap.Price, "price of sap")
	}
	orElse("sells.gain_price", Ratio, &p.Sells.GainPrice, price.Value{Best: 1}, "price of the added syrup, as a part of the mean price")
	if q := p.Sells.Quota; q != nil {
		add("sells.quota.syrup", SyrupATap, &q.SyrupKg, "quota")
		add("sells.quota.price_beyond", Ratio, &q.PriceBeyond, "price beyond the quota, as a part of the full price")
		add("sells.quota.delay", Seasons, &q.DelaySeasons, "delay of what is paid beyond the quota")
	}
	if p.Sells.CapacityL != nil {
		add("sells.capacity", SapATap, p.Sells.CapacityL, "sap that can be boiled")
	}
	add("processing", MoneySyrupL, &p.Processing, "boiling and packing")
	add("hauling", MoneySapL, &p.Hauling, "hauling of sap")
	add("wage", MoneyHour, &p.Wage, "wage")
	add("discount", YearlyRate, &p.Discount, "discount rate")
	add("farm_adjust", Ratio, &p.FarmAdjust, "part of a trial's gain that a farm gets")
	for i := range p.Materials {
		m := &p.Materials[i]
		add("material."+m.Name+".price", MoneyEach, &m.Price, "price of one %s", note.Term(m.Name))
	}
	for i := range p.Chemicals {
		c := &p.Chemicals[i]
		add("chemical."+c.Name+".price", MoneyProductL, &c.Price, "price of %s", note.Term(c.Name))
	}
	for i := range p.Uses {
		u := &p.Uses[i]
		key, who := "use."+string(u.Practice), note.Term(u.Practice)
		for j := range u.Materials {
			m := &u.Materials[j]
			add(key+".material."+m.Material+".life", Seasons, &m.Life, "%s: life of a %s", who, note.Term(m.Material))
		}
		minutes(key+".minutes.", u.Minutes, "%s: added minutes, %s", u.Practice)
		if u.Chemical != "" {
			add(key+".chemical_amount", ChemicalATap, &u.ChemicalL, "%s: amount of %s", who, note.Term(u.Chemical))
		}
		add(key+".lost_sap", SapATap, &u.LostSapL, "%s: sap rinsed away or discarded", who)
		add(key+".repairs", MoneyATap, &u.Repairs, "%s: repairs", who)
		add(key+".disposal", MoneyATap, &u.Disposal, "%s: disposal", who)
		if r := u.Renewal; r != nil {
			minutes(key+".renewal.minutes.", r.Minutes, "%s: minutes of a replacement, %s", u.Practice)
			add(key+".renewal.disposal", MoneyATap, &r.Disposal, "%s: disposal at a replacement", who)
		}
	}
	return list
}

// clone is a copy that shares nothing that a handle sets.
func clone(p price.Prices) *price.Prices {
	p.Sells.Grades = slices.Clone(p.Sells.Grades)
	p.Sells.Retail = pointed(p.Sells.Retail)
	p.Sells.Sap = pointed(p.Sells.Sap)
	p.Sells.Quota = pointed(p.Sells.Quota)
	p.Sells.CapacityL = pointed(p.Sells.CapacityL)
	p.Materials = slices.Clone(p.Materials)
	p.Chemicals = slices.Clone(p.Chemicals)
	p.Uses = slices.Clone(p.Uses)
	for i := range p.Uses {
		u := &p.Uses[i]
		u.Materials = slices.Clone(u.Materials)
		u.Minutes = maps.Clone(u.Minutes)
		if u.Renewal = pointed(u.Renewal); u.Renewal != nil {
			u.Renewal.Minutes = maps.Clone(u.Renewal.Minutes)
		}
	}
	return &p
}

// pointed is a pointer to a copy, or nil.
func pointed[T any](p *T) *T {
	if p == nil {
		return nil
	}
	return new(*p)
}
