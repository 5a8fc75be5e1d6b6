package pool

import (
	"math/rand/v2"
	"sync"

	"gonum.org/v1/gonum/mat"

	"spile/internal/trade/practice"
)

// Draws are n joint draws of all log gains (M7): normal with covariance DΦD, where D stretches each treatment's
// standard error so that its 95 % interval is that of the table although t is not normal. Members (curves of ageing,
// half-lives of a grid) are drawn by their weights. The same seed gives the same draws on any number of cores, and the
// same draw of different treatments belongs together.
type Draws struct {
	N int

	seed   uint64 // of what is integrated over the variances
	r      *Result
	member []int     // of each draw
	z      []float64 // N × width: draws of β − β̂, of the draw's own member
	width  int
}

// chunk is how many draws share a stream of random numbers.
const chunk = 4096

// Draws makes n draws.
func (r *Result) Draws(n int, seed uint64) *Draws {
	if r.integrated != nil {
		return &Draws{N: n, r: r, seed: seed}
	}
	d := &Draws{N: n, r: r, member: make([]int, n)}
	roots := make([]*mat.TriDense, len(r.members))
	for i, m := range r.members {
		d.width = max(d.width, m.layout.columns)
		roots[i] = root(m.phi)
	}
	d.z = make([]float64, n*d.width)
	var group sync.WaitGroup
	for start := 0; start < n; start += chunk {
		group.Go(func() {
			random := rand.New(rand.NewPCG(seed, uint64(start/chunk)))
			u := make([]float64, d.width)
			for i := start; i < min(n, start+chunk); i++ {
				at := random.Float64()
				for k, m := range r.members {
					d.member[i] = k
					if at -= m.weight; at < 0 {
						break
					}
				}
				for j := range u {
					u[j] = random.NormFloat64()
				}
				z, l := d.z[i*d.width:(i+1)*d.width], roots[d.member[i]].RawTriangular()
				for j := range r.members[d.member[i]].layout.columns {
					for k, v := range l.Data[j*l.Stride : j*l.Stride+j+1] {
						z[j] += v * u[k]
					}
				}
			}
		})
	}
	group.Wait()
	return d
}

// root is L with LL' = Φ.
func root(phi *mat.SymDense) *mat.TriDense {
	n := phi.SymmetricDim()
	l := mat.NewTriDense(n, mat.Lower, nil)
	var c mat.Cholesky
	if c.Factorize(phi) {
		c.LTo(l)
	}
	return l
}

// Log gives the N draws of a treatment's log gain over unsanitized; nil where the model has no place for it.
func (d *Draws) Log(t practice.Treatment) []float64 { return d.LogAt(t, nil) }
