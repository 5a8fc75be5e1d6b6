package pool

import (
	"spile/note"
	"spile/practice"
)

// Result is the joint model fitted.
type Result struct {
	Gains         []Gain // one a practice that is estimable, in the order of the practices' keys as first met
	Between       []Difference
	Shares        []Share
	Variances     []Variance
	Q, QP, I2Pct  float64
	QDF           int
	Weights       []Weight
	NotEstimable  []practice.Key // no chain of studies links it to unsanitized
	Ageing        Ageing
	Disagreements []Disagreement
	Rows          int
	Studies       int
	Sites         int
	Notes         []note.Note
}
