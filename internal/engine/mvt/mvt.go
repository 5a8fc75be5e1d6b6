// Package mvt is the multivariate t distribution, for several comparisons at once, and the Noncentral t, for power.
package mvt

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/stream"
)

// Within is P(|T_i| ≤ t for all i) of a multivariate t with correlations r and df degrees of freedom (fractional ones
// too; +Inf is the normal), and a bound on its error. r is a correlation matrix, perhaps singular (all pairs of four
// practices have six contrasts and rank three).
//
// Where the correlations are products, r_ij = λ_i λ_j, as among contrasts with one reference of independent means, the
// probability is a double integral (Dunnett & Sobel 1955, Biometrika 42:258), here to 1e-8. Else a randomised
// lattice goes over the conditioned unit cube of Genz & Bretz (2002, J Comp Graph Stat 11:950) to 1e-4 or better.
func Within(t float64, r *mat.SymDense, df float64) (p, err float64) {
	n := r.SymmetricDim()
	switch {
	case math.IsNaN(t) || !(df > 0):
		return math.NaN(), math.NaN()
	case t <= 0:
		return 0, 0
	case math.IsInf(t, 1):
		return 1, 0
	case n == 1:
		return 1 - 2*Tail(t, df), 0
	}
	if lambda, ok := product(r); ok {
		p, err = withinProduct(t, lambda, df)
	} else {
		p, err = withinLattice(t, r, df)
	}
	if math.IsNaN(p) { // so little freedom that no rule integrates over it: between Bonferroni's bound and one alone
		one := 2 * Tail(t, df)
		p = max(0, 1-float64(n)*one)
		err = 1 - one - p
	}
	return p, err
}

// Tail is P(T > t).
func Tail(t, df float64) float64 {
	if math.IsInf(df, 1) {
		return distuv.UnitNormal.Survival(t)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Survival(t)
}

// Quantile is the t below which a share p lies.
func Quantile(p, df float64) float64 {
	if math.IsInf(df, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}

// Half is half of a 95 % interval of t, in standard errors.
func Half(df float64) float64 { return Quantile(0.975, df) }

// TwoSided is the chance of a t as far from 0.
func TwoSided(t, df float64) float64 { return 2 * Tail(math.Abs(t), df) }

// product finds λ with r_ij = λ_i λ_j.
func product(r *mat.SymDense) ([]float64, bool) {
	n := r.SymmetricDim()
	lambda := make([]float64, n)
	if n == 2 {
		c := r.At(0, 1)
		lambda[0] = math.Sqrt(math.Abs(c))
		lambda[1] = math.Copysign(lambda[0], c)
		return lambda, true
	}
	// λ_i² = r_ij r_ik / r_jk for the pair j, k that is furthest from dividing by 0.
	for i := range n {
		most, square := 0.0, 0.0
		for j := range n {
			for k := range j {
				if i == j || i == k || math.Abs(r.At(j, k)) <= most {
					continue
				}
				most = math.Abs(r.At(j, k))
				square = r.At(i, j) * r.At(i, k) / r.At(j, k)
			}
		}
		if square < 0 || square > 1 {
			return nil, false
		}
		lambda[i] = math.Sqrt(square)
	}
	for i := 1; i < n; i++ { // signs against the first; all are within ±
		if r.At(0, i) < 0 {
			lambda[i] = -lambda[i]
		}
	}
	for i := range n {
		for j := range i {
			if math.Abs(r.At(i, j)-lambda[i]*lambda[j]) > 1e-9 {
				return nil, false
			}
		}
	}
	return lambda, true
}

// rule is nodes and weights of an integral.
type rule struct{ x, w []float64 }

// gauss is the Gauss-Legendre rule of n nodes over an interval.
func gauss(n int, low, high float64) rule {
	g := rule{make([]float64, n), make([]float64, n)}
	quad.Legendre{}.FixedLocations(g.x, g.w, low, high)
	return g
}

// scaleRule integrates over s = √(χ²_df / df): the weights hold its density. The single node 1 is the normal.
func scaleRule(n int, df float64) rule {
	if math.IsInf(df, 1) {
		return rule{[]float64{1}, []float64{1}}
	}
	// The density is proportional to s^(df−1); with s = x^m its power is whole enough to be smooth at 0.
	m := max(1, math.Ceil(3/df))
	chi := distuv.ChiSquared{K: df}
	low, high := 0.0, math.Sqrt(max(df, 1)*(1+14/math.Sqrt(max(df, 1)))+40)/math.Sqrt(df)
	if df > 30 {
		low = max(0, 1-9/math.Sqrt(2*df))
		high = 1 + 9/math.Sqrt(2*df)
	}
	g := gauss(n, math.Pow(low, 1/m), math.Pow(high, 1/m))
	for i, x := range g.x {
		s := math.Pow(x, m)
		// f_s(s) ds = f_χ²(df s²) 2 df s ds, ds = m x^(m−1) dx
		g.w[i] *= math.Exp(chi.LogProb(df*s*s)+math.Log(2*df*s)) * m * math.Pow(x, m-1)
		g.x[i] = s
	}
	return g
}

// withinProduct is ∫ f(s) ∫ φ(z) Π_i [Φ((ts − λ_i z)/√(1−λ_i²)) − Φ((−ts − λ_i z)/√(1−λ_i²))] dz ds. The rules are
// doubled until they agree.
func withinProduct(t float64, lambda []float64, df float64) (p, err float64) {
	// Alike contrasts need one factor.
	distinct, times := []float64{}, []float64{}
	for _, l := range lambda {
		l = math.Abs(l)
		if i := slices.IndexFunc(distinct, func(d float64) bool { return math.Abs(d-l) < 1e-13 }); i >= 0 {
			times[i]++
		} else {
			distinct, times = append(distinct, l), append(times, 1)
		}
	}
	last := math.NaN()
	for n := 24; n <= 768; n *= 2 {
		p = productAt(t, distinct, times, scaleRule(n, df), gauss(n, 0, 8.5))
		if math.Abs(p-last) < 1e-8 {
			return p, 1e-8
		}
		last, err = p, math.Abs(p-last)
	}
	return p, err
}

// productAt is the double integral by the rules given. Each factor is even in z, since the bounds are ±ts: half of z
// is enough, and the sign of λ does not matter.
func productAt(t float64, lambda, times []float64, scale, z rule) float64 {
	p := 0.0
	for i, s := range scale.x {
		inner := 0.0
		for j, x := range z.x {
			f := 2 * z.w[j] * math.Exp(-x*x/2) / math.Sqrt(2*math.Pi)
			for k, l := range lambda {
				c := math.Sqrt(max(0, 1-l*l))
				a, b := t*s-l*x, -t*s-l*x
				var d float64
				switch {
				case c > 1e-8:
					d = normal(a/c) - normal(b/c)
				case a >= 0 && b <= 0:
					d = 1
				}
				f *= math.Pow(d, times[k])
			}
			inner += f
		}
		p += scale.w[i] * inner
	}
	return p
}

// Pairs is P(|T_ij| ≤ t for all pairs) of k estimates whose differences all have one variance, which makes it the
// studentized range: ∫ f(s) k ∫ φ(z) [Φ(z) − Φ(z − √2 ts)]^(k−1) dz ds (Tukey 1953).
func Pairs(t float64, k int, df float64) (p, err float64) {
	last := math.NaN()
	for n := 24; n <= 768; n *= 2 {
		p = 0
		z := gauss(2*n, -8.5, 8.5)
		scale := scaleRule(n, df)
		for i, s := range scale.x {
			sum := 0.0
			for j, x := range z.x {
				sum += z.w[j] * math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) *
					math.Pow(normal(x)-normal(x-math.Sqrt2*t*s), float64(k-1))
			}
			p += scale.w[i] * float64(k) * sum
		}
		if math.Abs(p-last) < 1e-8 {
			return p, 1e-8
		}
		last, err = p, math.Abs(p-last)
	}
	return p, err
}

// withinLattice is the probability by a randomised lattice. Row i of r = LL' bounds the last of the normals it holds,
// given those before: so rows beyond the rank only narrow a bound, and the last normal is integrated exactly.
func withinLattice(t float64, r *mat.SymDense, df float64) (p, err float64) {
	b := newBox(t, r, df)
	return lattice(b.dims(), b.at)
}

// box is |T_i| ≤ t over the unit cube: one normal after the other, each within what those before it leave of the box,
// and the scale last.
type box struct {
	t      float64
	l      [][]float64 // the root of the correlations
	last   [][]int     // rows of l by the last normal that they hold
	scale  func(u float64) float64
	z, sum []float64 // the normals so far, and Σ_j l_ij z_j
}

func newBox(t float64, r *mat.SymDense, df float64) box {
	l, rank := lower(r)
	b := box{t: t, l: l, last: make([][]int, rank), scale: scaleQuantile(df), z: make([]float64, rank),
		sum: make([]float64, len(l))}
	for i := range l {
		at := 0
		for j := range rank {
			if math.Abs(l[i][j]) > 1e-9 {
				at = j
			}
		}
		b.last[at] = append(b.last[at], i)
	}
	return b
}

// dims is rank − 1 normals and the scale.
func (b box) dims() int { return len(b.last) }

func (b box) at(u []float64) float64 {
	s := b.scale(u[len(u)-1])
	clear(b.sum)
	f := 1.0
	for j, rows := range b.last {
		low, high := math.Inf(-1), math.Inf(1)
		for _, i := range rows {
			x, y := (-b.t*s-b.sum[i])/b.l[i][j], (b.t*s-b.sum[i])/b.l[i][j]
			low, high = max(low, min(x, y)), min(high, max(x, y))
		}
		if !(low < high) {
			return 0
		}
		pl, ph := normal(low), normal(high)
		f *= ph - pl
		if j == len(b.last)-1 || f == 0 {
			return f
		}
		b.z[j] = distuv.UnitNormal.Quantile(min(max(pl+u[j]*(ph-pl), 1e-300), 1-1e-16))
		for i := range b.sum {
			b.sum[i] += b.l[i][j] * b.z[j]
		}
	}
	return f
}

// lattice is the integral of f over the unit cube by a lattice of square roots of primes (Richtmyer 1951), shifted at
// random twelve times, and three standard errors of that.
func lattice(dims int, f func(u []float64) float64) (p, err float64) {
	alpha := make([]float64, dims)
	for i := range alpha {
		_, alpha[i] = math.Modf(math.Sqrt(primes[i%len(primes)]))
	}
	random := stream.New(20, "lattice")
	const shifts = 12
	u, v, shift := make([]float64, dims), make([]float64, dims), make([]float64, dims)
	for points := 500; ; points *= 2 {
		mean, square := 0.0, 0.0
		for range shifts {
			for i := range shift {
				shift[i] = random.Float()
			}
			m := 0.0
			for k := range points {
				for i := range u {
					_, x := math.Modf(shift[i] + float64(k+1)*alpha[i])
					u[i] = math.Abs(2*x - 1) // periodic
					u[i] = min(max(u[i], 1e-15), 1-1e-15)
					v[i] = 1 - u[i]
				}
				m += (f(u) + f(v)) / 2
			}
			m /= float64(points)
			mean += m
			square += m * m
		}
		mean /= shifts
		se := math.Sqrt(max(0, square/shifts-mean*mean) / (shifts - 1))
		if err = 3 * se; err < 1e-4 || points >= 64000 {
			return mean, err
		}
	}
}

// scaleQuantile is the quantile function of s = √(χ²_df / df), by a cubic over normal scores: the lattice asks it
// often.
func scaleQuantile(df float64) func(u float64) float64 {
	if math.IsInf(df, 1) {
		return func(float64) float64 { return 1 }
	}
	const half, step = 100, 0.08
	xs, ys := make([]float64, 2*half+1), make([]float64, 2*half+1)
	for i := range xs {
		xs[i] = step * float64(i-half)
		if xs[i] < 0 {
			ys[i] = math.Sqrt(2 * mathext.GammaIncRegInv(df/2, normal(xs[i])) / df)
		} else {
			ys[i] = math.Sqrt(2 * mathext.GammaIncRegCompInv(df/2, normal(-xs[i])) / df)
		}
	}
	var cubic interp.FritschButland // never turns back, whatever df
	if err := cubic.Fit(xs, ys); err != nil {
		panic(err) // 201 rising numbers
	}
	return func(u float64) float64 { return cubic.Predict(distuv.UnitNormal.Quantile(u)) }
}

var primes = []float64{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71}

func normal(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// lower is L with r = LL' and columns up to the rank. Rows keep their order; a row that those before determine adds no
// column.
func lower(r *mat.SymDense) (l [][]float64, rank int) {
	n := r.SymmetricDim()
	l = make([][]float64, n)
	var pivots []int
	for i := range n {
		l[i] = make([]float64, n)
		rest := r.At(i, i)
		for c, p := range pivots {
			x := r.At(i, p)
			for k := range c {
				x -= l[i][k] * l[p][k]
			}
			l[i][c] = x / l[p][c]
			rest -= l[i][c] * l[i][c]
		}
		if rest > 1e-10 {
			l[i][len(pivots)] = math.Sqrt(rest)
			pivots = append(pivots, i)
		}
	}
	return l, len(pivots)
}
