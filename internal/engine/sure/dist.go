package sure

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/note"
)

// Kind is how a number that is not known for sure is spread.
type Kind string

const (
	Held    Kind = "held"    // at the best guess
	Likely  Kind = "likely"  // PERT: beta over low to high, its peak at the best guess, mean (low + 4 best + high)/6
	Even    Kind = "even"    // uniform from low to high
	Bell    Kind = "bell"    // normal: low and high are its 5 and 95 % points; best is not used
	Leaning Kind = "leaning" // lognormal: the same, on the log scale
)

// Kinds are all of them.
func Kinds() []Kind { return []Kind{Held, Likely, Even, Bell, Leaning} }

// Dist is a number that is not known for sure.
type Dist struct {
	Kind            Kind
	Low, Best, High float64
}

// z95 is the 95 % point of the standard normal.
var z95 = distuv.UnitNormal.Quantile(0.95)

// faults of the distribution of the number named.
func (d Dist) faults(name string) note.Faults {
	if !slices.Contains(Kinds(), d.Kind) {
		return note.Faults{note.New("%s is to be drawn as %s; allowed: held, likely, even, bell, leaning", name,
			string(d.Kind))}
	}
	for _, x := range []float64{d.Low, d.Best, d.High} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return note.Faults{note.New("%s: low, best and high are %v, %v and %v; allowed: finite numbers", name,
				d.Low, d.Best, d.High)}
		}
	}
	switch {
	case d.Kind == Held:
	case d.Low > d.High:
		return note.Faults{note.New("%s: low is %v and high %v; allowed: low no higher than high", name, d.Low, d.High)}
	case d.Best < d.Low || d.Best > d.High:
		return note.Faults{note.New("%s: the best guess %v lies outside low to high, %v to %v", name, d.Best, d.Low,
			d.High)}
	case d.Kind == Leaning && d.Low <= 0:
		return note.Faults{note.New("%s: low is %v; allowed for leaning: above 0", name, d.Low)}
	}
	return nil
}

func (d Dist) fixed() bool { return d.Kind == Held || d.Low == d.High }

// Mean of the distribution.
func (d Dist) Mean() float64 {
	switch {
	case d.fixed():
		return d.Best
	case d.Kind == Likely:
		return (d.Low + 4*d.Best + d.High) / 6
	case d.Kind == Leaning:
		mu, sigma := d.logs()
		return math.Exp(mu + sigma*sigma/2)
	}
	return (d.Low + d.High) / 2
}

// At is the number at a point of the standard normal: at 0 its median.
func (d Dist) At(z float64) float64 {
	s := d.shaper()
	return s.of(z)
}

// Shape is At for many points, all together.
func (d Dist) Shape() func(z float64) float64 {
	s := d.shaper()
	return s.of
}

func (d Dist) logs() (mu, sigma float64) {
	return (math.Log(d.Low) + math.Log(d.High)) / 2, (math.Log(d.High) - math.Log(d.Low)) / (2 * z95)
}

// shaper turns a standard normal into the number: its table holds the number at even steps of z.
type shaper struct {
	fixed bool
	at    float64
	exact func(z float64) float64
	table []float64
}

// The tables reach from −5 to 5 in steps of 1/64: beyond it the ends of PERT and uniform are reached to within 3e-7 of
// the probability.
const (
	reach = 5.0
	steps = 64.0
)

func (d Dist) shaper() shaper {
	switch {
	case d.fixed():
		return shaper{fixed: true, at: d.Best}
	case d.Kind == Bell:
		mid, sd := (d.Low+d.High)/2, (d.High-d.Low)/(2*z95)
		return shaper{exact: func(z float64) float64 { return mid + sd*z }}
	case d.Kind == Leaning:
		mu, sigma := d.logs()
		return shaper{exact: func(z float64) float64 { return math.Exp(mu + sigma*z) }}
	}
	peak := -1.0
	if d.Kind == Likely {
		peak = (d.Best - d.Low) / (d.High - d.Low)
	}
	unit := unitTable(peak)
	s := shaper{table: make([]float64, len(unit))}
	for i, x := range unit {
		s.table[i] = d.Low + (d.High-d.Low)*x
	}
	return s
}

// units keeps the tables of distributions from 0 to 1 by their peak: what is tried one after another has the same
// shapes.
var units = struct {
	sync.Mutex
	tables map[float64][]float64
}{tables: map[float64][]float64{}}

// unitTable is the beta from 0 to 1 of a PERT with its peak there, or, for a peak of −1, the uniform.
func unitTable(peak float64) []float64 {
	units.Lock()
	defer units.Unlock()
	if table, ok := units.tables[peak]; ok {
		return table
	}
	quantile := func(p float64) float64 { return p }
	if peak >= 0 {
		quantile = betaQuantile(1+4*peak, 1+4*(1-peak))
	}
	table := make([]float64, int(2*reach*steps)+1)
	for i := range table {
		z := float64(i)/steps - reach
		table[i] = quantile(math.Erfc(-z/math.Sqrt2) / 2)
	}
	if len(units.tables) == 1024 {
		clear(units.tables)
	}
	units.tables[peak] = table
	return table
}

// betaQuantile inverts the distribution function of a beta over a grid. Asked for rising p, it walks.
func betaQuantile(a, b float64) func(float64) float64 {
	const cells = 1024
	power := func(x, to float64) float64 { // its logarithm
		if to == 0 {
			return 0
		}
		return to * math.Log(x)
	}
	density := func(x float64) float64 { // but for what is the same everywhere
		return math.Exp(power(x, a-1) + power(1-x, b-1))
	}
	cdf := make([]float64, cells+1)
	for i, left := 1, density(0); i < len(cdf); i++ { // by Simpson's rule on the density, made to end at 1
		right := density(float64(i) / cells)
		cdf[i] = cdf[i-1] + left + 4*density((float64(i)-.5)/cells) + right
		left = right
	}
	i := 1
	return func(p float64) float64 {
		p *= cdf[cells]
		for i < cells && cdf[i] < p {
			i++
		}
		if cdf[i] <= cdf[i-1] {
			return float64(i) / cells
		}
		return (float64(i-1) + min(1, (p-cdf[i-1])/(cdf[i]-cdf[i-1]))) / cells
	}
}

func (s *shaper) of(z float64) float64 {
	if s.table == nil {
		if s.fixed {
			return s.at
		}
		return s.exact(z)
	}
	x := (z + reach) * steps
	if x <= 0 {
		return s.table[0]
	}
	i := int(x)
	if i >= len(s.table)-1 {
		return s.table[len(s.table)-1]
	}
	return s.table[i] + (x-float64(i))*(s.table[i+1]-s.table[i])
}
