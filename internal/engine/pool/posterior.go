package pool

import (
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

	x *whole // nil where it was put together by hand: then it knows no site
}

// Normal is a member: the log gains are Mean + Root z, z independent standard normals, as many as Root has columns.
type Normal struct {
	Weight float64
	Mean   []float64
	Root   *mat.Dense // treatments × width
}

// Posterior gives the joint distribution of the treatments' log gains as money uses them, of a result that was
// integrated over the variances. A treatment that the model has no place for is left out; Unsanitized is at 0, and sure
// of it.
func (r *Result) Posterior(treatments []practice.Treatment) *Posterior {
	return r.integrated.posterior(treatments)
}
