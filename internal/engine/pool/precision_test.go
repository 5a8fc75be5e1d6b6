package pool

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// What is told without a study, by blocks and sites, is what one dense matrix of all other rows tells.
func TestPrecisionIsThatOfOneMatrix(t *testing.T) {
	e := trade(24, .02, .01).effects(rand.New(rand.NewPCG(3, 4)))
	for i := range 4 { // a trial over seasons, and one that runs at two sites
		e.Studies[i].Trial = "one"
		e.Studies[8+3*i].Trial = "two"
	}
	r := fit(t, e, kr)
	theta := map[string]float64{studyComponent: .02, siteComponent: .03, trialComponent: .01}
	x := r.table.model(r.byAge[0].layout).X
	_, p := x.Dims()
	cover := r.table.covariance(theta)
	dense := func(out int) *mat.SymDense {
		var rows []int
		for i, row := range r.table.rows {
			if row.study != out {
				rows = append(rows, i)
			}
		}
		d := mat.NewDense(len(rows), p, nil)
		for i, k := range rows {
			d.SetRow(i, x.RawRowView(k))
		}
		var inv, left, both mat.Dense
		if err := inv.Inverse(cover(rows)); err != nil {
			t.Fatal(err)
		}
		left.Mul(&inv, d)
		both.Mul(d.T(), &left)
		s := mat.NewSymDense(p, nil)
		for i := range p {
			for j := range i + 1 {
				s.SetSym(i, j, both.At(i, j))
			}
		}
		return s
	}
	whole, without := r.table.precision(x, theta)
	for i := -1; i < len(r.table.studies); i++ {
		got, want := whole, dense(i)
		if i >= 0 {
			got = without(i)
		}
		for a := range p {
			for b := range a + 1 {
				if math.Abs(got.At(a, b)-want.At(a, b)) > 1e-8*(1+math.Abs(want.At(a, a))) {
					t.Fatalf("without %d, %d and %d: %v, want %v", i, a, b, got.At(a, b), want.At(a, b))
				}
			}
		}
	}
}
