package sure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

// Ishigami & Homma 1990 (Proceedings of ISUMA, 398): sin x₁ + 7 sin² x₂ + 0.1 x₃⁴ sin x₁, x uniform on −π to π, has
// first order 0.3139, 0.4424, 0 and total 0.5576, 0.4424, 0.2437.
func TestIshigami(t *testing.T) {
	const n = 1 << 18
	random := rand.New(rand.NewPCG(1, 1))
	f := make([][]float64, 5)
	for i := range f {
		f[i] = make([]float64, n)
	}
	for i := range n {
		var a, b [3]float64
		for j := range 3 {
			a[j], b[j] = math.Pi*(2*random.Float64()-1), math.Pi*(2*random.Float64()-1)
		}
		g := func(x [3]float64) float64 {
			s := math.Sin(x[1])
			return math.Sin(x[0]) + 7*s*s + 0.1*math.Pow(x[2], 4)*math.Sin(x[0])
		}
		f[0][i], f[1][i] = g(a), g(b)
		for j := range 3 {
			x := a
			x[j] = b[j]
			f[j+2][i] = g(x)
		}
	}
	first, total := indices(f)
	for j, want := range []struct{ first, total float64 }{{.3139, .5576}, {.4424, .4424}, {0, .2437}} {
		if math.Abs(first[j]-want.first) > 0.01 || math.Abs(total[j]-want.total) > 0.01 {
			t.Errorf("x%d: first %v and total %v, want %+v", j+1, first[j], total[j], want)
		}
	}
}

// The copula gives back the rank correlations it was asked for, whatever the shapes.
func TestCopula(t *testing.T) {
	m := &Model{
		Options: []Option{{ID: "a", Open: true}}, Spouts: -1,
		Gains: &pool.Posterior{Treatments: []practice.Treatment{{}},
			Members: []pool.Normal{{Weight: 1, Mean: []float64{0}, Root: mat.NewDense(1, 1, nil)}}},
		Assumptions: []Assumption{
			{Key: "a", Group: "x", Dist: Dist{Likely, 1, 2, 8}},
			{Key: "fixed", Group: "x", Dist: Dist{Kind: Held, Best: 3}},
			{Key: "b", Group: "y", Dist: Dist{Leaning, 1, 2, 8}},
			{Key: "c", Group: "z", Dist: Dist{Even, -1, 0, 1}},
		},
		Correlations: []Correlation{{"a", "b", .6}, {"b", "c", -.4}},
	}
	p, faults := m.prepare()
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if len(p.groups) != 2 || p.group[0] != p.group[2] || p.group[2] != p.group[3] || p.group[1] != -1 {
		t.Errorf("groups %v %v: correlated assumptions are one group", p.groups, p.group)
	}
	const n = 200_000
	s := p.stream(1, 0)
	x := make([][]float64, 4)
	v := slices.Clone(p.best)
	for range n {
		s.normals(s.x)
		s.shape(s.x, s.y, v)
		for i := range x {
			x[i] = append(x[i], v[i])
		}
	}
	for _, c := range []struct {
		i, j int
		want float64
	}{{0, 2, .6}, {2, 3, -.4}, {0, 3, 0}} {
		if got := stat.Correlation(ranks(x[c.i]), ranks(x[c.j]), nil); math.Abs(got-c.want) > 0.01 {
			t.Errorf("rank correlation %d, %d: %v, want %v", c.i, c.j, got, c.want)
		}
	}
	// The uniform on −1 to 1 has variance 1/3; 5 % of a lognormal lie below its low.
	if got := stat.Variance(x[3], nil); math.Abs(got-1./3) > 0.004 {
		t.Errorf("uniform: variance %v", got)
	}
	slices.Sort(x[2])
	if got := x[2][n/20]; math.Abs(got-1) > 0.02 {
		t.Errorf("lognormal: 5 %% point %v, want 1", got)
	}
}

func ranks(x []float64) []float64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		if x[a] < x[b] {
			return -1
		}
		return 1
	})
	r := make([]float64, len(x))
	for k, i := range order {
		r[i] = float64(k)
	}
	return r
}

// Two by hand: a pays 1 more at every rank; b has the mean of c and is narrower; neither of d and e rules the other
// out.
func TestDominance(t *testing.T) {
	for _, c := range []struct {
		a, b          []float64
		first, second bool
	}{
		{[]float64{1, 2, 3}, []float64{0, 1, 2}, true, true},
		{[]float64{1, 1, 1}, []float64{0, 1, 2}, false, true},
		{[]float64{0, 1, 2}, []float64{1, 1, 1}, false, false},
		{[]float64{0, 5, 5}, []float64{1, 1, 1}, false, false},
		{[]float64{1, 1, 1}, []float64{1, 1, 1}, false, false},
	} {
		if first, second := dominates(c.a, c.b); first != c.first || second != c.second {
			t.Errorf("%v over %v: %v, %v", c.a, c.b, first, second)
		}
	}
}

// A gain of new drops that moves takes older drops along by their regression on it, (cov/var)·shift on the log scale,
// and no other practice; by hand: variance 0.04, covariance 0.02.
func TestOlderDropsMoveAlong(t *testing.T) {
	drop := func(age int) practice.Treatment { return practice.Treatment{Practice: practice.NewDrop, DropAge: age} }
	m := &Model{
		Options: []Option{{ID: "a", Open: true}}, Spouts: -1,
		Gains: &pool.Posterior{
			Treatments: []practice.Treatment{{Practice: practice.Unsanitized}, drop(2), drop(0),
				{Practice: practice.CheckValve}}, Best: []float64{0, .3, .4, .35},
			Members: []pool.Normal{{Weight: 1, Mean: []float64{0, .3, .4, .35},
				Root: mat.NewDense(4, 2, []float64{0, 0, .1, .1, .2, 0, .1, 0})}},
		},
		Open: func() func([]float64) *Books { return nil },
	}
	m.Options[0].Choice.Practice = practice.CheckValve
	p, faults := m.prepare()
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	g := p.clerk().guess()
	if !slices.Equal(g.moved, []int{2, 3}) {
		t.Errorf("moved by themselves: %v", g.moved)
	}
	g.gain(2, 1)
	for i, want := range []float64{0, .3 + .5*.2, .4 + .2, .35} {
		if got := math.Log1p(g.gains[i]); math.Abs(got-want) > 1e-12 {
			t.Errorf("treatment %d: log gain %v, want %v", i, got, want)
		}
	}
}

// Draws are kept of no more parts than may be, however many are asked for at once, and of those that were kept they
// are not drawn again.
func TestPartsKept(t *testing.T) {
	p := &prepared{Model: &Model{Gains: &pool.Posterior{Treatments: []practice.Treatment{{}}}}}
	d := &drawn{members: []int{0, 0}, gains: []float64{0.1, 0.3}}
	parts := make([]part, 4*mostParts)
	for j := range parts {
		parts[j] = part{fmt.Sprint(j), [][]lot{{{0, 1}}, {{0, float64(j)}}}}
	}
	few := d.means(p, parts[:3], false)
	for j, list := range d.means(p, parts, false) {
		for i, gain := range d.gains { // the mean of the gain and j times it
			if want := gain * float64(1+j) / 2; math.Abs(list[i]-want) > 1e-12 {
				t.Errorf("part %d, state %d: %v, want %v", j, i, list[i], want)
			}
		}
	}
	if n := len(d.kept[0]); n > mostParts {
		t.Errorf("%d parts are kept, and may be %d", n, mostParts)
	}
	if again := d.means(p, parts[:3], false); &again[0][0] != &few[0][0] {
		t.Error("what was kept is drawn again")
	}
}
