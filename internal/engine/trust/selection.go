package trust

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

// Selection is a stated function of how likely a comparison is to be published at a one-sided p against no gain: a
// weight for every p up to each bound (Vevea & Woods 2005, Psychological Methods 10:428, table 1, one-tailed).
type Selection struct {
	Name    string
	Weights []float64 // beside bounds
}

var bounds = []float64{0.005, 0.01, 0.05, 0.10, 0.25, 0.35, 0.50, 0.65, 0.75, 0.90, 0.95, 0.99, 0.995, 1}

// Selections are the two that are asked after.
func Selections() []Selection {
	return []Selection{
		{"moderate", []float64{1, 0.99, 0.95, 0.80, 0.75, 0.65, 0.60, 0.55, 0.50, 0.50, 0.50, 0.50, 0.50, 0.50}},
		{"severe", []float64{1, 0.99, 0.90, 0.75, 0.60, 0.50, 0.40, 0.35, 0.30, 0.25, 0.10, 0.10, 0.10, 0.10}},
	}
}

// At is the weight at a one-sided p.
func (s Selection) At(p float64) float64 {
	i, _ := slices.BinarySearch(bounds, p)
	return s.Weights[min(i, len(bounds)-1)]
}

// Selected is a treatment's log gain under a selection, beside that of the same model without one: the difference is
// what the selection would have added to the pooled gain.
type Selected struct {
	Treatment   practice.Treatment
	Comparisons int
	Log, Plain  float64
	Tau         float64 // standard deviation between comparisons, common to all treatments
}

// Under fits the comparisons with unsanitized by maximum likelihood under a selection: y ~ N(β, s² + τ²) of its
// treatment, published with the weight of its p. Comparisons count as independent, also where they share a reference or
// a site, and each with the chance that its study does not stand apart: so the pooled gain beside it counts them, and
// one that lies far out widens the spread of none.
func (s Selection) Under(l pool.Linear) []Selected {
	var data [][]comparison
	var order []practice.Treatment
	for i, r := range l.Rows {
		if r.Ref.Practice != practice.Unsanitized {
			continue
		}
		k := slices.Index(order, r.Arm)
		if k < 0 {
			k = len(order)
			order, data = append(order, r.Arm), append(data, nil)
		}
		data[k] = append(data[k], newComparison(l.Model.Y[i], stated(l, i), 1-r.Apart))
	}
	if order == nil {
		return nil
	}
	even := make([]float64, len(bounds))
	for i := range even {
		even[i] = 1
	}
	plain, _ := most(data, even)
	beta, tau := most(data, s.Weights)
	var list []Selected
	for k, t := range order {
		list = append(list, Selected{t, len(data[k]), beta[k], plain[k], tau})
	}
	return list
}

// comparison is a log gain with its standard error, and the log gains at which its p passes each bound but the last.
type comparison struct {
	y, se, counts float64
	edges         []float64 // falling
}

func newComparison(y, se, counts float64) comparison {
	c := comparison{y: y, se: se, counts: counts}
	for _, p := range bounds[:len(bounds)-1] {
		c.edges = append(c.edges, se*distuv.UnitNormal.Quantile(1-p))
	}
	return c
}

// at gives the log density of a comparison given that it was published, but for constants, with its first and second
// derivative by β. Given the weights it is an exponential family in β, so that it is concave: the derivatives are those
// of z less its mean, and of its variance, over the weighted normal.
func (c comparison) at(beta, tau float64, weights []float64) (l, slope, bend float64) {
	sd := math.Hypot(c.se, tau)
	var m0, m1, m2 float64                  // moments of z over what is published
	above, density, moment := 0.0, 0.0, 0.0 // of the normal above an edge: Φ, φ, zφ
	for j, w := range weights {
		next, d, zd := 1.0, 0.0, 0.0
		if j < len(c.edges) {
			z := (c.edges[j] - beta) / sd
			next, d = distuv.UnitNormal.Survival(z), distuv.UnitNormal.Prob(z)
			zd = z * d
		}
		m0 += w * (next - above)
		m1 += w * (d - density)
		m2 += w * (next - above + zd - moment)
		above, density, moment = next, d, zd
	}
	z := (c.y - beta) / sd
	mean := m1 / m0
	return -math.Log(sd) - z*z/2 - math.Log(m0), (z - mean) / sd, -(m2/m0 - mean*mean) / (sd * sd)
}

// most is the β of each treatment and the common τ of highest likelihood. Given τ the treatments are apart from each
// other, and each is found by Newton's steps.
func most(data [][]comparison, weights []float64) (beta []float64, tau float64) {
	low, high := math.Inf(1), math.Inf(-1)
	beta = make([]float64, len(data))
	for k, list := range data {
		for _, c := range list {
			low, high = min(low, c.y), max(high, c.y)
			beta[k] += c.y / float64(len(list))
		}
	}
	at := func(tau float64) float64 {
		sum := 0.0
		for k, list := range data {
			of := func(b float64) (l, slope, bend float64) {
				for _, c := range list {
					x, y, z := c.at(b, tau, weights)
					l, slope, bend = l+c.counts*x, slope+c.counts*y, bend+c.counts*z
				}
				return
			}
			l, slope, bend := of(beta[k])
			for range 100 {
				step := slope / -bend
				next, s, b := of(beta[k] + step)
				for ; !(next >= l) && math.Abs(step) > 1e-12; next, s, b = of(beta[k] + step) {
					step /= 2
				}
				beta[k] += step
				l, slope, bend = next, s, b
				if math.Abs(step) <= 1e-10 {
					break
				}
			}
			sum += l
		}
		return sum
	}
	tau = top(at, 0, high-low)
	at(tau)
	return beta, tau
}

// top is where f is highest between two ends: looked for on a grid, then by golden section (Kiefer 1953).
func top(f func(float64) float64, low, high float64) float64 {
	const steps = 20
	best, at := math.Inf(-1), 0
	step := (high - low) / steps
	for i := range steps + 1 {
		if v := f(low + float64(i)*step); v > best {
			best, at = v, i
		}
	}
	a, b := max(low, low+float64(at-1)*step), min(high, low+float64(at+1)*step)
	const golden = 0.6180339887498949
	c, d := b-golden*(b-a), a+golden*(b-a)
	fc, fd := f(c), f(d)
	for b-a > 1e-7*(high-low) {
		if fc >= fd {
			b, d, fd = d, c, fc
			c = b - golden*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + golden*(b-a)
			fd = f(d)
		}
	}
	if f(low) >= max(fc, fd) {
		return low
	}
	return (a + b) / 2
}
