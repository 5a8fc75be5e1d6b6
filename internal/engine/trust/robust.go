package trust

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/mvt"
	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

// Robust is a pooled log gain with an error that asks nothing of the model within a site: the sandwich CR2 with the
// degrees of freedom of Satterthwaite (Bell & McCaffrey 2002, Survey Methodology 28:169; Pustejovsky & Tipton 2018,
// Journal of Business & Economic Statistics 36:672). A second opinion: with few sites it knows little.
type Robust struct {
	Treatment   practice.Treatment
	Log, SE, DF float64
	Low, High   float64 // 95 %
	Sites       int     // with a site not stated each its own
}

// cluster is the rows of a site with what the sandwich takes of them.
type cluster struct {
	rows []int
	x, v *mat.Dense
	wx   *mat.Dense // W_jX_j, n_j × p
	a    *mat.Dense // A_j
}

// BySite gives the gains with errors by site. With W = V⁻¹, M = (X'WX)⁻¹, and D_j the Cholesky root of V_j,
//
//	A_j = D_j'B_j^(−1/2)D_j,  B_j = D_j(V_j − X_jMX_j')D_j'
//	Var = M(Σ X_j'W_jA_je_je_j'A_j'W_jX_j)M
//	df = (Σ_j p_jj)² / Σ_ij p_ij²,  p_ij = a_i'(δ_ijV_j − X_iMX_j')a_j,  a_j = A_j'W_jX_jMc
//
// e are the residuals. A gain that one site alone tells is left out. It is false where rounding won, or there is one
// site.
func BySite(l pool.Linear) ([]Robust, bool) {
	_, of := groups(l.Rows, site)
	if len(of) < 2 {
		return nil, false
	}
	p := whole(l)
	clusters := make([]cluster, len(of))
	ok := true
	for j, rows := range of {
		clusters[j], ok = newCluster(p, rows)
		if !ok {
			return nil, false
		}
	}
	_, width := l.Model.X.Dims()
	info := mat.NewDense(width, width, nil)
	for _, c := range clusters {
		var add mat.Dense
		add.Mul(c.x.T(), c.wx)
		info.Add(info, &add)
	}
	var m mat.Dense
	if m.Inverse(info) != nil {
		return nil, false
	}
	meat := mat.NewDense(width, width, nil)
	beta := mat.NewVecDense(width, l.Fit.Beta)
	for j := range clusters {
		c := &clusters[j]
		if !c.adjust(&m) {
			return nil, false
		}
		e := mat.NewVecDense(len(c.rows), nil)
		e.MulVec(c.x, beta)
		for k, r := range c.rows {
			e.SetVec(k, l.Model.Y[r]-e.AtVec(k))
		}
		var ae, score mat.VecDense
		ae.MulVec(c.a, e)
		score.MulVec(c.wx.T(), &ae)
		var add mat.Dense
		add.Outer(1, &score, &score)
		meat.Add(meat, &add)
	}
	var list []Robust
	for _, t := range l.Gains() {
		k, has := l.Of(t)
		if !has {
			continue
		}
		c := mat.NewVecDense(width, k)
		var mc mat.VecDense
		mc.MulVec(&m, c)
		r := Robust{Treatment: t, Log: mat.Dot(c, beta), Sites: len(of)}
		r.SE, r.DF = math.Sqrt(mat.Inner(&mc, meat, &mc)), freedom(clusters, &m, &mc)
		if !(r.DF > 0) || r.SE < 1e-9 {
			continue // one site alone tells it, and fits it exactly
		}
		half := mvt.Half(r.DF) * r.SE
		r.Low, r.High = r.Log-half, r.Log+half
		list = append(list, r)
	}
	return list, true
}

func newCluster(p *part, rows []int) (cluster, bool) {
	c := cluster{rows: rows, x: pickRows(p.all.Model.X, rows), v: p.covariance(rows, rows)}
	var chol mat.Cholesky
	if !chol.Factorize(symmetric(c.v)) {
		return c, false
	}
	c.wx = new(mat.Dense)
	return c, chol.SolveTo(c.wx, c.x) == nil
}

// adjust makes A_j.
func (c *cluster) adjust(m *mat.Dense) bool {
	var chol mat.Cholesky
	if !chol.Factorize(symmetric(c.v)) {
		return false
	}
	var d mat.TriDense
	chol.UTo(&d) // V = D'D
	var xm, hat, left, b mat.Dense
	xm.Mul(c.x, m)
	hat.Mul(&xm, c.x.T())
	hat.Sub(c.v, &hat)
	left.Mul(&d, &hat)
	b.Mul(&left, d.T())
	var e mat.EigenSym
	if !e.Factorize(symmetric(&b), true) {
		return false
	}
	var u mat.Dense
	e.VectorsTo(&u)
	n := len(c.rows)
	root := mat.NewDense(n, n, nil)
	values := e.Values(nil)
	for k, l := range values {
		if l <= 1e-12*values[n-1] {
			continue // a direction that the effects explain wholly
		}
		var add mat.Dense
		add.Outer(1/math.Sqrt(l), u.ColView(k), u.ColView(k))
		root.Add(root, &add)
	}
	var half mat.Dense
	half.Mul(d.T(), root)
	c.a = new(mat.Dense)
	c.a.Mul(&half, &d)
	return true
}

// freedom is Satterthwaite's, of a contrast c with Mc.
func freedom(clusters []cluster, m *mat.Dense, mc *mat.VecDense) float64 {
	n := len(clusters)
	_, width := m.Dims()
	own := make([]float64, n)         // a_j'V_ja_j
	xa := mat.NewDense(n, width, nil) // X_j'a_j
	for j, c := range clusters {
		var wxmc, a, va, x mat.VecDense
		wxmc.MulVec(c.wx, mc)
		a.MulVec(c.a.T(), &wxmc)
		va.MulVec(c.v, &a)
		own[j] = mat.Dot(&a, &va)
		x.MulVec(c.x.T(), &a)
		xa.SetRow(j, x.RawVector().Data)
	}
	var xm, p mat.Dense
	xm.Mul(xa, m)
	p.Mul(&xm, xa.T())
	trace, squares := 0.0, 0.0
	for i := range n {
		for j := range n {
			v := -p.At(i, j)
			if i == j {
				v += own[j]
				trace += v
			}
			squares += v * v
		}
	}
	return trace * trace / squares
}

func symmetric(a *mat.Dense) *mat.SymDense {
	n, _ := a.Dims()
	s := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			s.SetSym(i, j, (a.At(i, j)+a.At(j, i))/2)
		}
	}
	return s
}
