package mixture

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Normal is one part of a distribution.
type Normal struct{ Weight, Mean, SD float64 }

// Marginal is a distribution that is a mixture of normals. The weights need not add up to one.
type Marginal []Normal

// Mean is the mean of the mixture.
func (m Marginal) Mean() float64 {
	mean, _ := m.moments()
	return mean
}

// SD is its standard deviation.
func (m Marginal) SD() float64 {
	_, sd := m.moments()
	return sd
}

func (m Marginal) moments() (mean, sd float64) {
	whole := 0.0
	for _, n := range m {
		whole += n.Weight
		mean += n.Weight * n.Mean
	}
	mean /= whole
	v := 0.0
	for _, n := range m {
		v += n.Weight * (n.SD*n.SD + (n.Mean-mean)*(n.Mean-mean))
	}
	return mean, math.Sqrt(v / whole)
}

// CDF is the chance of at most x.
func (m Marginal) CDF(x float64) float64 {
	p, _ := m.at(x)
	return p
}

// Normal is the standard normal number that lies as far out as x: that of what is so distributed is standard normal.
func (m Marginal) Normal(x float64) float64 {
	below, above, whole := 0.0, 0.0, 0.0
	for _, n := range m {
		z := (x - n.Mean) / n.SD / math.Sqrt2
		below, above, whole = below+n.Weight*math.Erfc(-z), above+n.Weight*math.Erfc(z), whole+2*n.Weight
	}
	if above < below {
		return -distuv.UnitNormal.Quantile(max(above/whole, leastChance))
	}
	return distuv.UnitNormal.Quantile(max(below/whole, leastChance))
}

// leastChance keeps what lies beyond all doubt finite.
const leastChance = 1e-300

// at gives the distribution function and the density.
func (m Marginal) at(x float64) (cdf, density float64) {
	whole := 0.0
	for _, n := range m {
		whole += n.Weight
		z := (x - n.Mean) / n.SD
		cdf += n.Weight * math.Erfc(-z/math.Sqrt2) / 2
		density += n.Weight * math.Exp(-z*z/2) / (n.SD * math.Sqrt(2*math.Pi))
	}
	return cdf / whole, density / whole
}

// Quantile is where the distribution function is p: Newton's steps, and bisection where one would leave what is known
// to hold the quantile, which lies between the least and the greatest of the parts'.
func (m Marginal) Quantile(p float64) float64 {
	z := distuv.UnitNormal.Quantile(p)
	low, high := math.Inf(1), math.Inf(-1)
	for _, n := range m {
		q := n.Mean + z*n.SD
		low, high = min(low, q), max(high, q)
	}
	mean, sd := m.moments()
	x := min(max(mean+z*sd, low), high)
	for range 100 {
		cdf, density := m.at(x)
		if cdf < p {
			low = x
		} else {
			high = x
		}
		next := x - (cdf-p)/density
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if math.Abs(next-x) <= 1e-9*sd {
			return next
		}
		x = next
	}
	return x
}

// Exp is the logarithm of the expectation of the exponential.
func (m Marginal) Exp() float64 {
	logs := make([]float64, len(m))
	whole := 0.0
	for i, n := range m {
		whole += n.Weight
		logs[i] = math.Log(n.Weight) + n.Mean + n.SD*n.SD/2
	}
	return logSum(logs) - math.Log(whole)
}

// merged puts parts that all but agree together, keeping their weight, mean and variance: thousands become a few
// hundred, and no quantile that is asked for moves by more than 0.0002 standard deviations.
func (m Marginal) merged() Marginal {
	const step = 0.05 // of a standard deviation, in mean and in spread
	least, narrow := math.Inf(1), math.Inf(1)
	for _, n := range m {
		least, narrow = min(least, n.Mean), min(narrow, n.SD)
	}
	// Cells of mean and spread in a table of open addressing, by far the quickest of all that were tried here.
	type cell struct {
		mean, spread int32
		at           int32 // 1 + index into out; 0: free
	}
	bits := 4
	for 1<<bits < 2*len(m) {
		bits++
	}
	cells := make([]cell, 1<<bits)
	var out Marginal
	for _, n := range m {
		c := cell{mean: int32((n.Mean - least) / (step * narrow)), spread: int32(math.Log(n.SD/narrow) / step)}
		at := (uint64(uint32(c.mean))<<32 | uint64(uint32(c.spread))) * 0x9e3779b97f4a7c15 >> (64 - bits)
		for cells[at].at != 0 && (cells[at].mean != c.mean || cells[at].spread != c.spread) {
			at = (at + 1) & (1<<bits - 1)
		}
		if cells[at].at == 0 {
			out = append(out, Normal{})
			c.at = int32(len(out))
			cells[at] = c
		}
		o := &out[cells[at].at-1]
		o.Weight += n.Weight
		o.Mean += n.Weight * n.Mean
		o.SD += n.Weight * (n.SD*n.SD + n.Mean*n.Mean)
	}
	for i := range out {
		o := &out[i]
		o.Mean /= o.Weight
		o.SD = math.Sqrt(o.SD/o.Weight - o.Mean*o.Mean)
	}
	return out
}
