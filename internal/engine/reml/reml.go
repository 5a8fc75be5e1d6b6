// Package reml fits linear models with covariance components by restricted maximum likelihood:
//
//	y = Xβ + error,  var y = V0 + Σ θ_k Z_k Z_k',  θ_k ≥ 0
//
// with V0 known (or absent), and gives Kenward-Roger or Wald inference for any contrast of β (M3).
//
// The files follow the ideas: check (what is refused), blocks (which rows depend on which), moments (the sums over
// blocks that everything else is made of), likelihood (the likelihood and its derivatives from those sums), ascent
// (finding θ), kenwardroger, profile and without (inference, intervals of θ, leaving rows out).
package reml

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"spile/internal/note"
)

// Model is the data and the covariance structure. Rows are numbered from 0.
type Model struct {
	Y          []float64
	X          *mat.Dense // n × p, full column rank
	V0         []Block    // known covariance; a row in no block has none
	Components []Component
	AtZero     AtZero // what Kenward-Roger inference does with a component estimated at 0
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

// Identity is the residual: independent errors of one variance on rows 0 to n−1.
func Identity(name string, n int) Component {
	z, rows, one := make([]Column, n), make([]int, n), []float64{1}
	for i := range n {
		rows[i] = i
		z[i] = Column{Rows: rows[i : i+1], Values: one}
	}
	return Component{Name: name, Z: z}
}

// Grouping is a random effect: one column of ones for every group, in order of first appearance.
func Grouping[T comparable](name string, group []T) Component {
	at := map[T]int{}
	c := Component{Name: name}
	for i, g := range group {
		k, ok := at[g]
		if !ok {
			k = len(c.Z)
			at[g] = k
			c.Z = append(c.Z, Column{})
		}
		c.Z[k].Rows = append(c.Z[k].Rows, i)
		c.Z[k].Values = append(c.Z[k].Values, 1)
	}
	return c
}

// AtZero is what Kenward-Roger inference does with a component estimated at 0.
type AtZero int

const (
	// Keep leaves it in the information, as for a trial, whose design put it there.
	Keep AtZero = iota
	// Drop takes it out and holds the degrees of freedom between 1 and n − p, as for a pool of studies.
	Drop
)

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

// Notes warns of an estimate that rests on too little; what names it.
func (e Estimate) Notes(what any) note.List {
	if e.DF < 4 {
		return note.List{note.New("%s has %.1f degrees of freedom; with fewer than 4 its interval is a rough guide",
			what, e.DF)}
	}
	return nil
}

// Fitted is a model at its estimated (or given) θ.
type Fitted struct {
	Theta []float64     // one a component, in the model's order; exactly 0 where estimated at the boundary
	Beta  []float64     // p
	Phi   *mat.SymDense // p × p covariance of Beta, unadjusted: (X'V⁻¹X)⁻¹
	// restricted log likelihood of the error contrasts (with ½ log|X'X|), or the log likelihood after FitML
	LogLik float64
	Rows   int       // n
	Rank   int       // p
	Notes  note.List // components at 0, few degrees of freedom, V0 taken as known

	plan *plan
	at   *state
	ml   bool
	kept []int         // components in the Kenward-Roger information
	w    *mat.SymDense // its inverse; made when first asked for
	phiA *mat.SymDense

	// Made when rows are first left out.
	cross   []float64 // X'X
	columns [][]place // columns of Z by row
	block   []int     // block of V0 by row, plus 1
}

// Fit estimates θ by restricted maximum likelihood. The error is a *Fault.
func Fit(m Model) (*Fitted, error) { return fit(m, false, nil) }

// FitML estimates θ by maximum likelihood: only such fits compare different X.
func FitML(m Model) (*Fitted, error) { return fit(m, true, nil) }

// FitNear is Fit where the highest likelihood is known to lie next to that of a θ, as FitMLNear.
func FitNear(m Model, theta []float64) (*Fitted, error) {
	if err := checkTheta(&m, theta); err != nil {
		return nil, err
	}
	return fit(m, false, theta)
}

// FitMLNear is FitML where the highest likelihood is known to lie next to that of a θ, which a model with the same
// components and almost the same X had: it goes to the top there, and looks for no other.
func FitMLNear(m Model, theta []float64) (*Fitted, error) {
	if err := checkTheta(&m, theta); err != nil {
		return nil, err
	}
	return fit(m, true, theta)
}

// At is the model at a given θ, nothing estimated but β.
func At(m Model, theta []float64) (*Fitted, error) {
	pl, err := newPlan(&m)
	if err != nil {
		return nil, err
	}
	if err := checkTheta(&m, theta); err != nil {
		return nil, err
	}
	st := newState(pl, false)
	if !st.eval(theta, true) {
		return nil, badVariance(pl)
	}
	return newFitted(pl, st, false)
}

func fit(m Model, ml bool, near []float64) (*Fitted, error) {
	pl, err := newPlan(&m)
	if err != nil {
		return nil, err
	}
	st, err := ascend(pl, ml, near)
	if err != nil {
		return nil, err
	}
	return newFitted(pl, st, ml)
}

func newFitted(pl *plan, st *state, ml bool) (*Fitted, error) {
	p, n := pl.p, pl.n
	f := &Fitted{Theta: st.theta, Beta: make([]float64, p), LogLik: st.loglik, Rows: n, Rank: p, plan: pl,
		at: st, ml: ml}
	copy(f.Beta, pl.beta0)
	f.Phi = pl.users(mat.NewSymDense(p, st.phi))
	if pl.turn == nil {
		axpy(1, st.beta, f.Beta)
	} else {
		for i := range p {
			f.Beta[i] += dot(pl.turn.RawRowView(i), st.beta)
		}
	}
	sum := f.LogLik
	for i := range p {
		sum += f.Beta[i] + f.Phi.At(i, i)
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return nil, numeric()
	}
	for k, c := range pl.m.Components {
		if f.Theta[k] > 0 || pl.m.AtZero == Keep {
			f.kept = append(f.kept, k)
		}
		if f.Theta[k] == 0 {
			f.Notes.Add("the variance %s is estimated at 0, the least it can be", c.Name)
		}
	}
	if len(pl.m.V0) > 0 {
		f.Notes.Add("the sampling variances are taken as known")
	}
	for i := range p { // Φ_A − Φ is never negative but by rounding
		if !(f.Adjusted().At(i, i) >= f.Phi.At(i, i)*(1-1e-6)) {
			return nil, numeric()
		}
	}
	if n-p < 4 {
		f.Notes.Add("only %d more rows than effects: intervals are a rough guide", n-p)
	}
	return f, nil
}

// users is a covariance of effects in terms of the X that the user gave.
func (pl *plan) users(cov *mat.SymDense) *mat.SymDense {
	if pl.turn == nil {
		return cov
	}
	return between(pl.turn, cov)
}

// between is c·cov·c'.
func between(c *mat.Dense, cov *mat.SymDense) *mat.SymDense {
	rows, _ := c.Dims()
	var left, both mat.Dense
	left.Mul(c, cov)
	both.Mul(&left, c.T())
	out := mat.NewSymDense(rows, nil)
	for i := range rows {
		for j := i; j < rows; j++ {
			out.SetSym(i, j, both.At(i, j))
		}
	}
	return out
}
