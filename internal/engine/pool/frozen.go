package pool

import (
	"math"

	"spile/internal/engine/mixture"
	"spile/internal/trade/practice"
)

// Frozen is what money and plans ask of a result that was integrated, as plain data: no study is in it.
type Frozen struct {
	Columns    []practice.Treatment          `json:"columns"` // of the treatments that have one
	Ageing     []practice.Key                `json:"ageing,omitempty"`
	Base       map[practice.Key]practice.Key `json:"base,omitempty"` // what those age toward
	Moderators []FrozenModerator             `json:"moderators,omitempty"`
	Gains      []Gain                        `json:"gains"` // of Result.Gains; DF is not kept
	Says       []Gain                        `json:"says"`  // of every treatment asked for, as the studies say
	Used       []Used                        `json:"used"`  // of the same, as money uses it
	Oldest     int                           `json:"oldest"`
	Money      *mixture.Frozen               `json:"money"`
}

// FrozenModerator is a property that has a column, and what it is on average over the studies.
type FrozenModerator struct {
	Name string  `json:"name"`
	Mean float64 `json:"mean"`
}

// Frozen is the result in some step, as mixture.Posterior.Frozen has it, with what the studies say of some treatments.
func (r *Result) Frozen(step float64, treatments []practice.Treatment) *Frozen {
	x := r.integrated
	z := &Frozen{Columns: x.layout.treatments, Ageing: x.layout.ageing, Base: x.layout.base, Gains: bare(r.Gains),
		Oldest: r.Ageing.Oldest, Money: x.shrunk.Frozen(step)}
	for _, k := range x.layout.moderators {
		name := r.table.options.Moderators[k]
		z.Moderators = append(z.Moderators, FrozenModerator{name, r.table.means[name]})
	}
	for _, t := range treatments {
		if g, ok := r.Gain(t); ok {
			z.Says = append(z.Says, g)
		}
		if m, ok := x.used(t); ok {
			m.DF = 0
			z.Used = append(z.Used, m)
		}
	}
	z.Says = bare(z.Says)
	return z
}

// Pack appends the numbers of the tables, which JSON leaves out; of nil there are none.
func (z *Frozen) Pack(to []byte) []byte {
	if z != nil {
		for _, r := range z.Money.Tables() {
			to = append(to, r.Less...)
		}
	}
	return to
}

// Unpack takes them back from the beginning of the data, and gives the rest; false where they are not all there.
func (z *Frozen) Unpack(data []byte) (rest []byte, ok bool) {
	if z == nil {
		return data, true
	}
	if z.Money == nil {
		return data, false
	}
	for _, r := range z.Money.Tables() {
		if r.Size < 0 || r.Size > len(data) || r.Width < 0 || r.Count < 0 || r.Count*r.Width > r.Size {
			return data, false
		}
		r.Less, data = data[:r.Size], data[r.Size:]
	}
	return data, true
}

// bare is gains without what JSON has no word for: under inference by mixture DF is infinite.
func bare(gains []Gain) []Gain {
	out := make([]Gain, len(gains))
	for i, g := range gains {
		out[i] = g
		out[i].DF = 0
	}
	return out
}

// Result is the result that was frozen, over a set of practices: gains, draws and what money rests on. What is told of
// single studies is not in it.
func (z *Frozen) Result(set practice.Set) *Result {
	l := &layout{set: set, treatments: z.Columns, ageing: z.Ageing, base: z.Base, own: map[practice.Treatment]int{}}
	t := &table{set: set, means: map[string]float64{}}
	for i, x := range z.Columns {
		l.own[x] = i
	}
	for i, m := range z.Moderators {
		l.moderators = append(l.moderators, i)
		t.options.Moderators = append(t.options.Moderators, m.Name)
		t.means[m.Name] = m.Mean
	}
	r := &Result{Gains: bare(z.Gains), set: set, table: t, members: []member{{weight: 1, layout: l}},
		counts:     counts{rows: map[practice.Treatment]int{}, studies: map[practice.Treatment]int{}},
		stated:     map[practice.Treatment]Gain{},
		integrated: &integrated{layout: l, shrunk: z.Money.Posterior()}}
	for i := range r.Gains {
		r.Gains[i].DF = math.Inf(1)
	}
	for _, m := range z.Moderators {
		r.Moderators = append(r.Moderators, Moderator{Name: m.Name, Mean: m.Mean})
	}
	for _, g := range z.Says {
		g.DF = math.Inf(1)
		r.stated[g.Treatment] = g
		r.counts.rows[g.Treatment], r.counts.studies[g.Treatment] = g.Comparisons, g.Studies
	}
	for _, m := range z.Used {
		m.DF = math.Inf(1)
		r.integrated.money.Store(m.Treatment, func() (Used, bool) { return m, true })
	}
	r.Ageing.Oldest = z.Oldest
	return r
}
