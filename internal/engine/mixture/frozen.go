package mixture

import "math"

// Frozen is a posterior as plain numbers, to be kept and read elsewhere: what is asked of combinations and draws, and
// nothing of the studies.
type Frozen struct {
	Fixed  int           `json:"fixed"` // effects and moderators
	Drops  int           `json:"drops"`
	Ages   []FrozenAge   `json:"ages,omitempty"`
	Curves []FrozenCurve `json:"curves,omitempty"`

	// By point, as point has it: the standard deviations, and of root the upper triangle alone, row by row.
	SD   Rows `json:"sd"`
	Mean Rows `json:"mean"`
	Root Rows `json:"root"`
	Age  Rows `json:"age"`

	// By part, as part has it: the point and the curve, the weight, and of spread the upper triangle alone.
	At     Rows `json:"at"`
	Weight Rows `json:"weight"`
	Delta  Rows `json:"delta"`
	Spread Rows `json:"spread"`
}

// FrozenAge is an age at which a drop was studied.
type FrozenAge struct {
	Drop int     `json:"drop"` // counted from 1, as in Arm
	Age  float64 `json:"age"`
}

// FrozenCurve is a way in which what a new drop gains fades.
type FrozenCurve struct {
	Linear   bool    `json:"linear,omitempty"`
	HalfLife float64 `json:"half_life"` // seasons
}

// Rows is a matrix in whole steps, each row as what it differs by from the row before: neighbours in the grid of
// standard deviations are alike, so that this packs small.
type Rows struct {
	Width int     `json:"width"`
	Step  float64 `json:"step"`
	Less  []int   `json:"less"`
}

// frozenStep is a step of what is on the scale of a log gain, some hundred times finer than what moves a shown digit;
// frozenWeight is that of weights.
const (
	frozenStep   = 1. / (1 << 20)
	frozenWeight = 1. / (1 << 30)
)

// add puts a row on.
func (r *Rows) add(last []int, row ...float64) {
	for k, x := range row {
		n := int(math.Round(x / r.Step))
		r.Less = append(r.Less, n-last[k])
		last[k] = n
	}
}

// rows gives the rows back.
func (r Rows) rows() (list [][]float64) {
	if r.Width == 0 {
		return nil
	}
	last := make([]int, r.Width)
	for i := 0; i+r.Width <= len(r.Less); i += r.Width {
		row := make([]float64, r.Width)
		for k := range row {
			last[k] += r.Less[i+k]
			row[k] = float64(last[k]) * r.Step
		}
		list = append(list, row)
	}
	return list
}

// rowsOf is n rows at some step.
func rowsOf(n int, step float64, row func(int) []float64) (r Rows) {
	r.Step = step
	var last []int
	for i := range n {
		x := row(i)
		if i == 0 {
			r.Width, last = len(x), make([]int, len(x))
		}
		r.add(last, x...)
	}
	return r
}

// Frozen is the posterior thinned to about so many parts.
func (p *Posterior) Frozen(parts int) *Frozen {
	m := p.f.m
	out := &Frozen{Fixed: m.fixed, Drops: m.drops}
	for _, a := range m.ages {
		out.Ages = append(out.Ages, FrozenAge{a.Drop, a.Age})
	}
	for _, c := range p.f.curves {
		out.Curves = append(out.Curves, FrozenCurve{c.linear, c.halfLife})
	}
	kept := p.thinner(parts).parts
	var points []point
	last, at := -1, make([]int, len(kept))
	for i, x := range kept {
		if x.point != last {
			last = x.point
			points = append(points, p.points[x.point])
		}
		at[i] = len(points) - 1
	}
	n := len(points)
	out.SD = rowsOf(n, frozenStep, func(i int) []float64 { return points[i].at[:] })
	out.Mean = rowsOf(n, frozenStep, func(i int) []float64 { return points[i].mean })
	out.Root = rowsOf(n, frozenStep, func(i int) []float64 { return upper(points[i].root, m.fixed) })
	out.Age = rowsOf(n, frozenStep, func(i int) []float64 { return points[i].age })
	n = len(kept)
	out.At = rowsOf(n, 1, func(i int) []float64 { return []float64{float64(at[i]), float64(kept[i].curve)} })
	out.Weight = rowsOf(n, frozenWeight, func(i int) []float64 { return []float64{kept[i].weight} })
	out.Delta = rowsOf(n, frozenStep, func(i int) []float64 { return kept[i].delta })
	out.Spread = rowsOf(n, frozenStep, func(i int) []float64 { return upper(kept[i].spread, m.drops) })
	return out
}

// Posterior is the posterior that was frozen. Only combinations and draws can be asked of it: what it knows no more,
// such as how the standard deviations are spread, is not to be.
func (z *Frozen) Posterior() *Posterior {
	m := &model{fixed: z.Fixed, drops: z.Drops}
	f := &fit{m: m}
	for _, a := range z.Ages {
		m.ages = append(m.ages, Arm{Drop: a.Drop, Age: a.Age})
	}
	var curves []curve
	for _, c := range z.Curves {
		curves = append(curves, curve{linear: c.Linear, halfLife: c.HalfLife})
	}
	f.along(curves)
	p := newPosterior(f, shrunk, nil)
	mean, root, age := z.Mean.rows(), z.Root.rows(), z.Age.rows()
	for i, sd := range z.SD.rows() {
		x := point{at: SD(sd), mean: mean[i], root: triangle(root[i], z.Fixed)}
		if age != nil {
			x.age = age[i]
		}
		p.points = append(p.points, x)
	}
	weight, delta, spread := z.Weight.rows(), z.Delta.rows(), z.Spread.rows()
	for i, at := range z.At.rows() {
		x := part{weight: weight[i][0], point: int(at[0]), curve: int(at[1])}
		if delta != nil {
			x.delta, x.spread = delta[i], triangle(spread[i], z.Drops)
		}
		p.parts = append(p.parts, x)
	}
	return p
}

// upper is the upper triangle of an n × n matrix, and triangle the matrix of it.
func upper(x []float64, n int) (out []float64) {
	for i := range n {
		out = append(out, x[i*n+i:(i+1)*n]...)
	}
	return out
}

func triangle(x []float64, n int) []float64 {
	out := make([]float64, n*n)
	for i := range n {
		copy(out[i*n+i:(i+1)*n], x)
		x = x[n-i:]
	}
	return out
}
