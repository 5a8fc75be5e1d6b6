package pool

import (
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// What is told by blocks and sites is what one dense matrix of all rows tells.
func TestPrecisionIsThatOfOneMatrix(t *testing.T) {
	e := trade(24, .02, .01).effects(rand.New(rand.NewPCG(3, 4)))
	for i := range 4 { // a trial over seasons, and one that runs at two sites
		e.Studies[i].Trial = "one"
		e.Studies[8+3*i].Trial = "two"
	}
	r := fit(t, e, kr)
	theta := map[string]float64{studyComponent: .02, siteComponent: .03, trialComponent: .01}
	x := r.table.model(r.byAge[0].layout).X
	cover := r.table.covariance(theta)
	n, _ := x.Dims()
	rows := make([]int, n)
	for i := range rows {
		rows[i] = i
	}
	var inv, left, both mat.Dense
	if err := inv.Inverse(cover(rows)); err != nil {
		t.Fatal(err)
	}
	left.Mul(&inv, x)
	both.Mul(x.T(), &left)
	vx, whole, ok := r.table.precision(x, theta)
	if !ok || !mat.EqualApprox(vx, &left, 1e-7) || !mat.EqualApprox(whole, &both, 1e-7) {
		t.Errorf("%v\n%v", mat.Formatted(whole), mat.Formatted(&both))
	}
}
