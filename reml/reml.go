// Package reml fits linear models with covariance components by restricted maximum likelihood:
//
//	y = Xβ + error,  var y = V0 + Σ θ_k Z_k Z_k',  θ_k ≥ 0
//
// with V0 known (or absent), and gives Kenward-Roger or Wald inference for any contrast of β (M3).
package reml

import "gonum.org/v1/gonum/mat"

// Model is the data and the covariance structure. Rows are numbered from 0.
type Model struct {
	Y          []float64
	X          *mat.Dense // n × p, full column rank
	V0         []Block    // known covariance; a row in no block has none
	Components []Component
}

// Block is a known covariance of some rows; rows of different blocks are independent in V0.
type Block struct {
	Rows []int
	V    *mat.SymDense
}

// Component is θ·ZZ', given by the columns of Z.
type Component struct {
	Name string
	Z    []Column
}

// Column is a sparse column of Z.
type Column struct {
	Rows   []int
	Values []float64
}

// Inference chooses standard errors and degrees of freedom.
type Inference string

const (
	KenwardRoger Inference = "kr"
	Wald         Inference = "wald"
)

// Estimate is a contrast of the fixed effects. DF is +Inf for Wald.
type Estimate struct {
	Value, SE, DF float64
}
