package pool

import (
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
)

// Linear is the joint model as numbers, with its fit: what a check of the pool takes apart and fits again. Where drops
// age along a curve, it is the one of most weight.
type Linear struct {
	Model reml.Model
	Whole reml.Model // with all components that the gains were inferred with: season and practice by place besides
	Fit   *reml.Fitted
	Rows  []Contrast // of the model, in its order

	result *Result
	member member
}

// Contrast is what a row of the model compares, and where it is from.
type Contrast struct {
	Study, Site string // Site is that of the study alone, and no name, where it states none
	Season      int    // the first, where it averages several
	Arm, Ref    practice.Treatment
	Apart       float64 // chance that the study stands apart; 0 where it was not asked
}

// Linear gives the model; false where the studies leave nothing to estimate its variances from.
func (r *Result) Linear() (Linear, bool) {
	m := best(r.members)
	if m.fit == nil {
		return Linear{}, false
	}
	l := Linear{Model: r.table.model(m.layout), Fit: m.fit, result: r, member: m}
	l.Whole = l.Model
	if r.integrated != nil {
		l.Whole.Components = r.table.integratedOver()
	}
	for _, x := range r.table.rows {
		s := r.table.studies[x.study]
		c := Contrast{Study: s.name, Site: s.site, Season: s.effects.Season, Arm: x.arm, Ref: x.ref}
		if r.Apart != nil && r.Apart[x.study].Chance > 0 {
			c.Apart = r.Apart[x.study].Chance
		}
		l.Rows = append(l.Rows, c)
	}
	return l, true
}

// Of is the combination of the model's columns that is a treatment's log gain; false where the model has none.
func (l Linear) Of(t practice.Treatment) ([]float64, bool) { return l.member.coefficients(of(t, 1)) }

// Gains are the treatments of Result.Gains, in their order.
func (l Linear) Gains() []practice.Treatment {
	var list []practice.Treatment
	for _, g := range l.result.Gains {
		list = append(list, g.Treatment)
	}
	return list
}

// Inference is how the result was asked to infer.
func (l Linear) Inference() Inference { return l.result.options.Inference }
