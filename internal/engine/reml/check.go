package reml

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/note"
)

// largest is the largest number taken in, and its inverse the smallest variance or entry of Z other than 0: moments go
// up to z⁴x²/v³, which must not overflow.
const largest = 1e30

func usable(v float64) bool { return math.Abs(v) <= largest } // false for NaN

func usableScale(v float64) bool { return v == 0 || usable(v) && math.Abs(v) >= 1/largest }

// check refuses what cannot be computed with: sizes, row numbers, numbers, a V0 that is no covariance.
func check(m *Model) error {
	n := len(m.Y)
	malformed := func(key string, args ...any) error {
		return &Fault{Kind: Malformed, Note: note.New(key, args...)}
	}
	if m.X == nil || m.X.IsEmpty() {
		return malformed("the model has no fixed effects")
	}
	rows, p := m.X.Dims()
	if rows != n {
		return malformed("%d values of y and %d rows of X", n, rows)
	}
	var bad []int
	for i := range n {
		if !usable(m.Y[i]) || slices.ContainsFunc(m.X.RawRowView(i), func(v float64) bool { return !usable(v) }) {
			bad = append(bad, i)
		}
	}
	seen := make([]int, n) // stamps: which block, then which column, met the row last
	for b, v := range m.V0 {
		if v.V == nil || v.V.SymmetricDim() != len(v.Rows) {
			return malformed("block %d of the known covariance and its rows differ in size", b+1)
		}
		for i, r := range v.Rows {
			if r < 0 || r >= n {
				return malformed("block %d of the known covariance names row %d of %d", b+1, r+1, n)
			}
			if seen[r] > 0 {
				return malformed("row %d stands twice in the known covariance", r+1)
			}
			seen[r] = 1
			for j := range i + 1 {
				if !usable(v.V.At(i, j)) || i == j && !usableScale(v.V.At(i, i)) {
					bad = append(bad, r)
					break
				}
			}
		}
	}
	if len(m.Components) > 64 {
		return &Fault{Kind: TooLarge, Note: note.New("%d components; at most 64 can be computed", len(m.Components))}
	}
	clear(seen)
	stamp := 0
	for _, c := range m.Components {
		for _, z := range c.Z {
			stamp++
			if len(z.Rows) != len(z.Values) {
				return malformed("a column of %s has %d rows and %d values", c.Name, len(z.Rows), len(z.Values))
			}
			for i, r := range z.Rows {
				if r < 0 || r >= n {
					return malformed("%s names row %d of %d", c.Name, r+1, n)
				}
				if seen[r] == stamp {
					return malformed("a column of %s names row %d twice", c.Name, r+1)
				}
				seen[r] = stamp
				if !usableScale(z.Values[i]) {
					bad = append(bad, r)
				}
			}
		}
	}
	if len(bad) > 0 {
		slices.Sort(bad)
		bad = slices.Compact(bad)
		return &Fault{Kind: NotFinite, Rows: bad, Note: note.New("not a usable number in %s", list("row", bad))}
	}
	if n <= p {
		return &Fault{Kind: NoFreedom, Note: note.New("%d rows cannot tell %d effects from their error", n, p)}
	}
	var work []float64
	for _, v := range m.V0 {
		k := len(v.Rows)
		work = append(work[:0], make([]float64, k*k)...)
		positive := true
		for i := range k {
			d := v.V.At(i, i)
			positive = positive && d > 0
			for j := range i + 1 {
				// A correlation matrix, so that one tolerance serves every scale.
				work[i*k+j] = v.V.At(i, j) / math.Sqrt(d*v.V.At(j, j))
			}
		}
		if !positive || !cholesky(work, k) ||
			slices.ContainsFunc(diagonal(work, k), func(l float64) bool { return l*l < 1e-12 }) {
			bad = append(bad, v.Rows...)
		}
	}
	if len(bad) > 0 {
		return &Fault{Kind: NotPositive, Rows: bad,
			Note: note.New("the known covariance of %s is not positive definite", list("row", bad))}
	}
	return nil
}

func checkTheta(m *Model, theta []float64) error {
	if len(theta) != len(m.Components) {
		return &Fault{Kind: Malformed, Note: note.New("%d variances for %d components", len(theta), len(m.Components))}
	}
	for k, t := range theta {
		if !usableScale(t) || t < 0 {
			return &Fault{Kind: NotFinite, Note: note.New("%v is not a variance of %s", t, m.Components[k].Name),
				Components: []string{m.Components[k].Name}}
		}
	}
	return nil
}

// ordinary is the ordinary least squares fit.
type ordinary struct {
	beta, resid []float64
	logdet      float64    // log|X'X|
	x           *mat.Dense // X·turn
	turn        *mat.Dense // p × p, upper triangular with ones on the diagonal; nil: X as it came
}

// leastSquares takes the ordinary fit out of y, which keeps later sums free of cancellation, and refuses columns of X
// that the columns before them determine. A column that they nearly determine (a year beside the mean) is replaced by
// what is its own, so that X'V⁻¹X keeps its digits; the other columns keep their zeros, which blocks live on.
// Householder would do as well; Gram-Schmidt, done twice, names the dependent columns in the order given.
func leastSquares(y []float64, x *mat.Dense) (ordinary, error) {
	n, p := x.Dims()
	q := make([]float64, p*n) // row j is the orthonormal column j
	r := make([]float64, p*p)
	o := ordinary{resid: slices.Clone(y), x: x}
	var dependent, near []int
	for j := range p {
		c := q[j*n : (j+1)*n]
		for i := range n {
			c[i] = x.At(i, j)
		}
		size := norm(c)
		for range 2 {
			for l := range j {
				d := dot(q[l*n:(l+1)*n], c)
				r[l*p+j] += d
				axpy(-d, q[l*n:(l+1)*n], c)
			}
		}
		left := norm(c)
		if !(left > 1e-8*size) {
			dependent = append(dependent, j)
			clear(c)
			continue
		}
		if left < 0.03*size {
			near = append(near, j)
		}
		r[j*p+j] = left
		o.logdet += 2 * math.Log(left)
		for i := range c {
			c[i] /= left
		}
	}
	if len(dependent) > 0 {
		return o, singular(dependent)
	}
	back := func(b []float64) { // b becomes R⁻¹b
		for j := len(b) - 1; j >= 0; j-- {
			for l := j + 1; l < len(b); l++ {
				b[j] -= r[j*p+l] * b[l]
			}
			b[j] /= r[j*p+j]
		}
	}
	o.beta = make([]float64, p)
	for range 2 {
		for j := range p {
			d := dot(q[j*n:(j+1)*n], o.resid)
			o.beta[j] += d
			axpy(-d, q[j*n:(j+1)*n], o.resid)
		}
	}
	back(o.beta)
	if len(near) > 0 {
		o.x, o.turn = mat.DenseCopyOf(x), mat.NewDense(p, p, nil)
		for j := range p {
			o.turn.Set(j, j, 1)
		}
		for _, j := range near {
			b := make([]float64, j)
			for l := range b {
				b[l] = r[l*p+j]
			}
			back(b)
			for l, v := range b {
				o.turn.Set(l, j, -v)
			}
			for i := range n {
				o.x.Set(i, j, q[j*n+i]*r[j*p+j])
			}
		}
	}
	return o, nil
}

func singular(columns []int) *Fault {
	return &Fault{Kind: Singular, Columns: columns,
		Note: note.New("the other effects already determine %s of the fixed effects", list("column", columns))}
}

// badVariance is that of θ: some rows are left without a variance of their own.
func badVariance(pl *plan) error {
	var rows []int
	for i, known := range pl.known {
		if !known {
			rows = append(rows, i)
		}
	}
	if len(rows) == 0 {
		return numeric()
	}
	return bare(rows)
}

func bare(rows []int) *Fault {
	return &Fault{Kind: NotPositive, Rows: rows,
		Note: note.New("%s: a row needs a known variance or a residual of its own", list("row", rows))}
}
