package pool

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"spile/internal/trade/practice"
)

// Posterior is what the studies leave known of the log gains of some treatments over unsanitized: one normal for each
// member of the answer, stretched as draws are (M7), and the spread that a new study and a new site add.
type Posterior struct {
	Treatments  []practice.Treatment
	Members     []Normal
	Best        []float64 // log gains at their best guess: of what is expected of the ratio
	Study, Site float64   // τ² and σ²_site, at their estimates
	Rough       []bool    // by treatment: fewer than three degrees of freedom, too thin tails for a chance

	r *Result // nil where it was put together by hand: then it knows no site
	x *whole  // where it was integrated
}

// Normal is a member: the log gains are Mean + Root z, z independent standard normals, as many as Root has columns.
type Normal struct {
	Weight float64
	Mean   []float64
	Root   *mat.Dense // treatments × width
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

// Posterior gives the joint distribution of the treatments' log gains. A treatment that the model has no place for is
// left out; Unsanitized is at 0, and sure of it.
func (r *Result) Posterior(treatments []practice.Treatment) *Posterior {
	if r.integrated != nil {
		return r.integrated.posterior(treatments)
	}
	p := &Posterior{r: r}
	p.Study, p.Site = r.spread()
	for _, t := range treatments {
		if _, ok := r.members[0].coefficients(of(t, 1)); ok {
			e, _ := r.estimate(r.members, of(t, 1))
			p.Treatments, p.Rough = append(p.Treatments, t), append(p.Rough, e.DF < 3)
		}
	}
	for _, m := range r.members {
		c, mean := p.contrasts(m)
		n := Normal{Weight: m.weight, Mean: mean, Root: new(mat.Dense)}
		n.Root.Mul(c, root(m.phi))
		p.Members = append(p.Members, n)
	}
	for i := range p.Treatments {
		sum := 0.0
		for _, m := range p.Members {
			sum += m.Weight * m.Mean[i]
		}
		p.Best = append(p.Best, sum)
	}
	return p
}

// contrasts is, for a member, the rows c of the treatments' log gains c'β, each stretched so that a normal has the
// interval of its t, and their estimates.
func (p *Posterior) contrasts(m member) (*mat.Dense, []float64) {
	rows, mean := mat.NewDense(len(p.Treatments), m.layout.columns, nil), make([]float64, len(p.Treatments))
	for i, t := range p.Treatments {
		c, _ := m.coefficients(of(t, 1))
		e := m.contrast(c, p.r.options.Inference)
		mean[i] = e.Value
		if bare := math.Sqrt(quadratic(c, m.phi)); bare > 0 {
			stretch := critical(e.DF) * e.SE / (critical(math.Inf(1)) * bare)
			for j, v := range c {
				rows.Set(i, j, v*stretch)
			}
		}
	}
	return rows, mean
}

// site gives Cov(β, u), û and Var(u) for a member's model.
func (r *Result) site(m member, name string) (cross []float64, u, v float64) {
	v, cross = m.theta[siteComponent], make([]float64, m.layout.columns)
	if v == 0 {
		return cross, 0, 0
	}
	groups, _ := r.table.dependent(m.theta)
	var rows []int
	for _, g := range groups {
		var own bool
		var at []int
		for _, i := range g {
			s := r.table.studies[i]
			own = own || s.site == name
			for k := s.first; k < s.end; k++ {
				at = append(at, k)
			}
		}
		if own {
			rows = at // studies of one site are dependent: one group holds them all
		}
	}
	if rows == nil {
		return cross, 0, v
	}
	inv, ok := inverse(r.table.covariance(m.theta)(rows))
	if !ok {
		return cross, 0, v
	}
	x := mat.NewDense(len(rows), m.layout.columns, nil)
	z, rest := make([]float64, len(rows)), make([]float64, len(rows))
	for i, k := range rows {
		row := r.table.rows[k]
		m.layout.fill(x.RawRowView(i), row, r.table.studies[row.study].moderators)
		rest[i] = row.y - dot(x.RawRowView(i), m.beta)
		if r.table.studies[row.study].site == name {
			z[i] = sanitized(row.arm) - sanitized(row.ref)
		}
	}
	var wz, xwz mat.VecDense // V⁻¹Z, X'V⁻¹Z
	wz.MulVec(inv, mat.NewVecDense(len(z), z))
	xwz.MulVec(x.T(), &wz)
	var c mat.VecDense
	c.MulVec(m.phi, &xwz)
	for j := range cross {
		cross[j] = -v * c.AtVec(j)
	}
	zpz := dot(z, wz.RawVector().Data) - dot(xwz.RawVector().Data, c.RawVector().Data)
	return cross, v * dot(rest, wz.RawVector().Data), max(0, v-v*v*zpz)
}
