package mixture

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// axis is a range of one standard deviation and where it is looked at. Points are placed in t, where σ = scale·sinh t,
// so that a long tail toward large σ takes few of them. They are the middles of equal cells: the likelihood is even in
// σ, and so in t, and midpoints then converge fast also where the range begins at 0. But what hangs on ω (which gain is
// the largest) is not even in it; its points are those of Gauss and Legendre.
type axis struct {
	scale     float64
	low, high float64 // t
	n         int
	x, w      []float64 // points and weights, of the range
}

// grid is a box of standard deviations.
type grid [sds]axis

// The numbers of points: to find the box, for the answer, and for situations that weigh little. Against 20, 14, 14, 14
// points (16, 11, 11, 11, 20 where shrunk) in a wider box the limits of the fine grid err by at most 0.0005 for gains
// and 0.0014 for seasons, in tables of 1 to 200 studies.
var (
	rough = [sds]int{6, 5, 5, 5, 6}
	fine  = [sds]int{8, 6, 6, 6, 10}
	slim  = [sds]int{5, 3, 3, 3, 4}
)

// farthest is how far the prior is followed, in scales.
const farthest = 6

func (a axis) cell() float64         { return (a.high - a.low) / float64(a.n) }
func (a axis) t(i int) float64       { return a.low + (a.high-a.low)*a.x[i] }
func (a axis) at(i int) float64      { return a.scale * math.Sinh(a.t(i)) }
func (a axis) size(i int) float64    { return a.scale * math.Cosh(a.t(i)) * (a.high - a.low) * a.w[i] }
func (a axis) of(sd float64) float64 { return math.Asinh(sd / a.scale) }
func (a axis) end() float64          { return math.Asinh(farthest) }

func newGrid(p Prior) grid {
	var g grid
	for k := range g {
		g[k] = axis{scale: p.Scale[k]}
	}
	return g
}

func (g grid) cut(n [sds]int) grid {
	for k := range g {
		a := &g[k]
		a.n = n[k]
		a.x, a.w = make([]float64, a.n), make([]float64, a.n)
		for i := range a.n {
			a.x[i], a.w[i] = (float64(i)+0.5)/float64(a.n), 1/float64(a.n)
		}
	}
	quad.Legendre{}.FixedLocations(g[ShrinkSD].x, g[ShrinkSD].w, 0, 1)
	slices.Sort(g[ShrinkSD].x) // they come from the farthest on; the weights are the same from either end
	return g
}

// outer is the number of points but for the season and ω, which the inner loops run over: for them the sites need not
// be added up anew.
func (g grid) outer() int { return g[StudySD].n * g[PracticeSD].n * g[SiteSD].n }

// cells gives the cell along each standard deviation of a point, outer and season, and of one of its ω.
func (g grid) cells(point, omega int) [sds]int {
	var c [sds]int
	c[ShrinkSD] = omega
	c[SeasonSD] = point % g[SeasonSD].n
	outer := point / g[SeasonSD].n
	c[SiteSD] = outer % g[SiteSD].n
	outer /= g[SiteSD].n
	c[PracticeSD] = outer % g[PracticeSD].n
	c[StudySD] = outer / g[PracticeSD].n
	return c
}

// margins is one number for each cell along each standard deviation; nil where there is none.
type margins [sds][]float64

// mean and standard deviation along an axis, in t.
func (a axis) moments(weights []float64) (mean, sd float64) {
	square := 0.0
	for i, w := range weights {
		mean, square = mean+w*a.t(i), square+w*a.t(i)*a.t(i)
	}
	return mean, math.Sqrt(max(0, square-mean*mean))
}

// around is a box around what has weight: from four standard deviations below the mean to five above, each taken as no
// less than 0.4 of a cell. settled is false where one was less, since the box can then be narrower yet.
func (g grid) around(each ...margins) (box grid, settled bool) {
	box, settled = g, true
	for k, a := range g {
		box[k].low, box[k].high = math.Inf(1), 0
		for _, m := range each {
			if m[k] == nil {
				continue
			}
			mean, sd := a.moments(m[k])
			if least := 0.4 * a.cell(); sd < least {
				sd, settled = least, false
			}
			box[k].low = min(box[k].low, max(0, mean-4*sd))
			box[k].high = max(box[k].high, min(a.end(), mean+5*sd))
		}
	}
	return box, settled
}

// widened moves an edge by one and a half cells where its outer cell holds more than 0.002 of the weight.
func (g grid) widened(each ...margins) (box grid, moved bool) {
	const much, step = 0.002, 1.5
	box = g
	for k, a := range g {
		for _, m := range each {
			if m[k] == nil {
				continue
			}
			if low := max(0, a.low-step*a.cell()); m[k][0] > much && low < a.low {
				box[k].low, moved = low, true
			}
			if high := min(a.end(), a.high+step*a.cell()); m[k][a.n-1] > much && high > a.high {
				box[k].high, moved = high, true
			}
		}
	}
	return box, moved
}

// pilot is the points of a lattice (Korobov 1959) over all that the prior allows, denser near 0: σ = 6·scale·x², and
// the logarithms of its Jacobian. ω is left at 0.
func pilot(p Prior) (points []SD, jacobian []float64) {
	const n, generator = 251, 76
	for i := range n {
		var at SD
		log, step := 0.0, 1
		for k := range ShrinkSD {
			x := (float64(i*step%n) + 0.5) / n
			at[k] = farthest * p.Scale[k] * x * x
			log += math.Log(2 * farthest * p.Scale[k] * x)
			step = step * generator % n
		}
		points, jacobian = append(points, at), append(jacobian, log)
	}
	return points, jacobian
}

// pilotBox is a first box around the pilot's points by their weights; ω's is as wide as its prior.
func pilotBox(p Prior, points []SD, weights []float64) grid {
	g := newGrid(p)
	for k := range ShrinkSD {
		mean, square := 0.0, 0.0
		for i, w := range weights {
			mean, square = mean+w*points[i][k], square+w*points[i][k]*points[i][k]
		}
		// Four points or so along each axis, equally far apart in x.
		apart := farthest * p.Scale[k] / 2 * math.Sqrt(mean/(farthest*p.Scale[k]))
		sd := max(math.Sqrt(max(0, square-mean*mean)), 0.4*apart)
		g[k].low, g[k].high = g[k].of(max(0, mean-4*sd)), g[k].of(min(farthest*p.Scale[k], mean+5*sd))
	}
	g[ShrinkSD].high = g[ShrinkSD].of(4 * p.Scale[ShrinkSD])
	return g
}

// fromZero is the box from 0 on.
func (g grid) fromZero() grid {
	for k := range g {
		g[k].low = 0
	}
	return g
}
