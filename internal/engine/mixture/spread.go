package mixture

import (
	"math"
	"slices"
)

// Steps is a distribution that is even within each of some ranges, which may overlap.
type Steps []Step

// Step is one range; the weights of all sum to one.
type Step struct{ Low, High, Weight float64 }

// CDF is the chance of at most x.
func (s Steps) CDF(x float64) float64 {
	p := 0.0
	for _, c := range s {
		switch {
		case x >= c.High:
			p += c.Weight
		case x > c.Low:
			p += c.Weight * (x - c.Low) / (c.High - c.Low)
		}
	}
	return p
}

// Quantile is where the distribution function is p.
func (s Steps) Quantile(p float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range s {
		low, high = min(low, c.Low), max(high, c.High)
	}
	for range 60 {
		if mid := (low + high) / 2; s.CDF(mid) < p {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// Variance is the expectation of the square of one standard deviation: the mean of the standard deviation itself,
// unlike this one, is not what the grid tells well.
func (p *Posterior) Variance(which int) float64 { return p.means().variance[which] }

// Spread is the distribution of one standard deviation, even within the cells of the grid.
func (p *Posterior) Spread(which int) Steps {
	type cell struct{ low, high float64 }
	at := map[cell]int{}
	var steps Steps
	whole := 0.0
	for _, x := range p.parts {
		y := &p.points[x.point]
		low, high := y.from.grid[which].edges(y.cells[which])
		k, ok := at[cell{low, high}]
		if !ok {
			k = len(steps)
			at[cell{low, high}] = k
			steps = append(steps, Step{Low: low, High: high})
		}
		steps[k].Weight += x.weight
		whole += x.weight
	}
	for k := range steps {
		steps[k].Weight /= whole
	}
	return steps
}

// edges is the ends of a point's cell.
func (a axis) edges(i int) (low, high float64) {
	before := 0.0
	for _, w := range a.w[:i] {
		before += w
	}
	end := func(part float64) float64 { return a.scale * math.Sinh(a.low+(a.high-a.low)*part) }
	return end(before), end(before + a.w[i])
}

// Fading is one kind of curve along which new drops age.
type Fading struct {
	Linear bool
	Weight float64
	Delta  []float64 // what new drops gain over their effect in their first season, on average, by drop
	Log    Steps     // of the half-life, seasons
}

// HalfLife is a quantile of the half-life, linear in its logarithm within the cells of the points looked at.
func (f Fading) HalfLife(p float64) float64 { return math.Exp(f.Log.Quantile(p)) }

// Fadings is both kinds of curve; nil where nothing ages.
func (p *Posterior) Fadings() []Fading {
	curves := p.f.curves
	if len(curves) == 1 {
		return nil
	}
	kinds := []Fading{{}, {Linear: true}}
	for i := range kinds {
		kinds[i].Delta = make([]float64, p.f.m.drops)
		low := math.Log(ShortestHalfLife)
		for _, c := range curves[i*halfLives : (i+1)*halfLives] {
			high := low + 2*c.prior*math.Log(LongestHalfLife/ShortestHalfLife)
			kinds[i].Log = append(kinds[i].Log, Step{Low: low, High: high})
			low = high
		}
	}
	whole := 0.0
	for _, x := range p.parts {
		k := &kinds[x.curve/halfLives]
		whole += x.weight
		k.Weight += x.weight
		k.Log[x.curve%halfLives].Weight += x.weight
		for d, v := range x.delta {
			k.Delta[d] += x.weight * v
		}
	}
	for i := range kinds {
		k := &kinds[i]
		for j := range k.Log {
			k.Log[j].Weight /= k.Weight
		}
		for d := range k.Delta {
			k.Delta[d] /= k.Weight
		}
		k.Log = slices.DeleteFunc(k.Log, func(s Step) bool { return s.Weight == 0 })
		k.Weight /= whole
	}
	return kinds
}

// Kind is the posterior under one kind of curve of ageing alone.
func (p *Posterior) Kind(linear bool) *Posterior {
	q := newPosterior(p.f, p.look, p.points)
	for _, x := range p.parts {
		if p.f.curves[x.curve].linear == linear {
			q.parts = append(q.parts, x)
		}
	}
	return q
}
