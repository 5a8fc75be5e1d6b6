package mixture

import (
	"encoding/binary"
	"math"
	"slices"
)

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

// Rows is a matrix in whole steps, column by column, each number as what it differs by from that of the row before:
// rows stand beside those that they are like, so that this packs small. As bytes they are read a hundred times faster
// than as JSON, beside which they stand.
type Rows struct {
	Count int     `json:"count"`
	Width int     `json:"width"`
	Step  float64 `json:"step"`
	Size  int     `json:"size"` // of Less, in bytes
	Less  []byte  `json:"-"`    // signed numbers of binary.AppendVarint
}

// Tables are the matrices of a posterior.
func (z *Frozen) Tables() []*Rows {
	return []*Rows{&z.SD, &z.Mean, &z.Root, &z.Age, &z.At, &z.Weight, &z.Delta, &z.Spread}
}

// frozenWeight is a step of weights.
const frozenWeight = 1. / (1 << 30)

// rows gives the rows back.
func (r Rows) rows() (list [][]float64) {
	if r.Width == 0 {
		return nil
	}
	list = make([][]float64, r.Count)
	all := make([]float64, r.Count*r.Width)
	for from := range r.Count {
		list[from] = all[from*r.Width : (from+1)*r.Width]
	}
	rest := r.Less
	for k := range r.Width {
		last := int64(0)
		for i := range r.Count {
			x, n := binary.Varint(rest)
			rest, last = rest[max(n, 0):], last+x
			list[i][k] = float64(last) * r.Step
		}
	}
	return list
}

// rowsOf is n rows in some step.
func rowsOf(n int, step float64, row func(int) []float64) Rows {
	r := Rows{Count: n, Step: step, Width: len(row(0))}
	for k := range r.Width {
		last := int64(0)
		for i := range n {
			x := int64(math.Round(row(i)[k] / step))
			r.Less = binary.AppendVarint(r.Less, x-last)
			last = x
		}
	}
	r.Size = len(r.Less)
	return r
}

// alike is the order in which each point stands beside the one that is most like it of those that are left.
func alike(points []point) []int {
	near := func(a, b *point) (far float64) {
		for k := range a.at {
			far += math.Abs(a.at[k] - b.at[k])
		}
		return far
	}
	order, left := []int{0}, make([]int, len(points)-1)
	for i := range left {
		left[i] = i + 1
	}
	for len(left) > 0 {
		last, best := &points[order[len(order)-1]], 0
		for i := range left {
			if near(last, &points[left[i]]) < near(last, &points[left[best]]) {
				best = i
			}
		}
		order = append(order, left[best])
		left = slices.Delete(left, best, best+1)
	}
	return order
}

// Frozen is the posterior, every part of it, with its numbers in whole steps on the scale of a log gain.
func (p *Posterior) Frozen(step float64) *Frozen {
	m := p.f.m
	out := &Frozen{Fixed: m.fixed, Drops: m.drops}
	for _, a := range m.ages {
		out.Ages = append(out.Ages, FrozenAge{a.Drop, a.Age})
	}
	for _, c := range p.f.curves {
		out.Curves = append(out.Curves, FrozenCurve{c.linear, c.halfLife})
	}
	order := alike(p.points)
	at := make([]float64, len(order))
	for i, k := range order {
		at[k] = float64(i)
	}
	points := func(of func(*point) []float64) Rows {
		return rowsOf(len(order), step, func(i int) []float64 { return of(&p.points[order[i]]) })
	}
	parts := func(step float64, of func(*part) []float64) Rows {
		return rowsOf(len(p.parts), step, func(i int) []float64 { return of(&p.parts[i]) })
	}
	out.SD = points(func(x *point) []float64 { return x.at[:] })
	out.Mean = points(func(x *point) []float64 { return x.mean })
	out.Root = points(func(x *point) []float64 { return upper(x.root, m.fixed) })
	out.Age = points(func(x *point) []float64 { return x.age })
	out.At = parts(1, func(x *part) []float64 { return []float64{at[x.point], float64(x.curve)} })
	out.Weight = parts(frozenWeight, func(x *part) []float64 { return []float64{x.weight} })
	out.Delta = parts(step, func(x *part) []float64 { return x.delta })
	out.Spread = parts(step, func(x *part) []float64 { return upper(x.spread, m.drops) })
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
	mean, root, age := z.Mean.rows(), triangles(z.Root, z.Fixed), z.Age.rows()
	p.points = make([]point, z.SD.Count)
	for i, sd := range z.SD.rows() {
		x := &p.points[i]
		if x.at, x.mean, x.root = SD(sd), mean[i], root[i]; age != nil {
			x.age = age[i]
		}
	}
	weight, delta, spread := z.Weight.rows(), z.Delta.rows(), triangles(z.Spread, z.Drops)
	p.parts = make([]part, z.At.Count)
	for i, at := range z.At.rows() {
		x := &p.parts[i]
		if x.weight, x.point, x.curve = weight[i][0], int(at[0]), int(at[1]); delta != nil {
			x.delta, x.spread = delta[i], spread[i]
		}
	}
	return p
}

// upper is the upper triangle of an n × n matrix, and triangles the matrices of rows of them.
func upper(x []float64, n int) (out []float64) {
	for i := range n {
		out = append(out, x[i*n+i:(i+1)*n]...)
	}
	return out
}

func triangles(r Rows, n int) [][]float64 {
	list, all := r.rows(), make([]float64, r.Count*n*n)
	for k, x := range list {
		to := all[k*n*n : (k+1)*n*n]
		for i := range n {
			copy(to[i*n+i:(i+1)*n], x)
			x = x[n-i:]
		}
		list[k] = to
	}
	return list
}
