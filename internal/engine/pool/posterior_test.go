package pool

import (
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
)

// Henderson 1975 (Biometrics 31:423): the inverse of the mixed model equations
//
//	[X'R⁻¹X  X'R⁻¹Z; Z'R⁻¹X  Z'R⁻¹Z + I/σ²]
//
// holds the covariance of (β̂, û − u), and its solution (β̂, û). Solved whole here, with every site in it, they are
// what Components says of each site by itself.
func TestSitesByTheMixedModelEquations(t *testing.T) {
	y := map[string][]float64{"Otter": {.21, .34, .30}, "Fern": {.02, .08}, "Larch": {.45, .38, .52, .41},
		"Birch": {.25}}
	var e effect.Effects
	sites := []string{"Otter", "Fern", "Larch", "Birch"}
	for _, site := range sites {
		for i, x := range y[site] {
			k := practice.NewSpout
			if i%2 == 1 {
				k, x = practice.CheckValve, x+.1
			}
			e.Studies = append(e.Studies, pair(site+string(rune('a'+i)), site, x, .004+.001*float64(i), k))
		}
	}
	o := kr
	o.Inference = reml.Wald // no stretch of the covariance
	r := fit(t, e, o)
	m := r.members[0]
	s2 := m.theta[siteComponent]
	if s2 < .001 {
		t.Fatalf("the variance between sites is %v: the case does not test what it is to test", s2)
	}
	n, p := len(r.table.rows), m.layout.columns
	x, z, data := mat.NewDense(n, p, nil), mat.NewDense(n, len(sites), nil), mat.NewVecDense(n, nil)
	every := make([]int, n)
	for i, row := range r.table.rows {
		every[i] = i
		m.layout.fill(x.RawRowView(i), row, nil)
		data.SetVec(i, row.y)
		for j, site := range sites {
			if r.table.studies[row.study].site == site {
				z.Set(i, j, 1) // each against unsanitized
			}
		}
	}
	var rest, zz mat.Dense
	zz.Mul(z, z.T())
	zz.Scale(s2, &zz)
	v := r.table.covariance(m.theta)(every)
	rest.Sub(v, &zz)
	var ri mat.Dense
	if err := ri.Inverse(&rest); err != nil {
		t.Fatal(err)
	}
	w := mat.NewDense(n, p+len(sites), nil)
	w.Slice(0, n, 0, p).(*mat.Dense).Copy(x)
	w.Slice(0, n, p, p+len(sites)).(*mat.Dense).Copy(z)
	var wr, left, c mat.Dense
	wr.Mul(w.T(), &ri)
	left.Mul(&wr, w)
	for j := range sites {
		left.Set(p+j, p+j, left.At(p+j, p+j)+1/s2)
	}
	if err := c.Inverse(&left); err != nil {
		t.Fatal(err)
	}
	var right, solution mat.VecDense
	right.MulVec(&wr, data)
	solution.MulVec(&c, &right)

	post := r.Posterior([]practice.Treatment{at(practice.NewSpout, 0), at(practice.CheckValve, 0)})
	column := func(k practice.Key) int {
		c, _ := m.coefficients(of(at(k, 0), 1))
		for i, v := range c {
			if v == 1 {
				return i
			}
		}
		t.Fatalf("%s has no column of its own", k)
		return 0
	}
	columns := []int{column(practice.NewSpout), column(practice.CheckValve)}
	for j, site := range sites {
		own := post.Components(site, 1)[0]
		mean, cov := own.Mean, own.Cov
		near(t, site+": u", mean[2], solution.AtVec(p+j), 1e-6)
		near(t, site+": variance of u", cov.At(2, 2), c.At(p+j, p+j), 1e-6)
		for i, k := range columns {
			near(t, site+": covariance with a gain", cov.At(i, 2), c.At(k, p+j), 1e-6)
			near(t, site+": variance of a gain", cov.At(i, i), c.At(k, k), 1e-6)
		}
	}
	// A site without studies is as unknown as ever.
	alder := post.Components("Alder", 1)[0]
	mean, cov := alder.Mean, alder.Cov
	near(t, "a new site: variance", cov.At(2, 2), s2, 1e-12)
	if mean[2] != 0 || cov.At(0, 2) != 0 {
		t.Errorf("a new site has u %v, which goes with a gain by %v", mean[2], cov.At(0, 2))
	}
}
