package reml

import (
	"fmt"
	"strings"

	"spile/internal/note"
)

// FaultKind is why a model cannot be fitted.
type FaultKind int

const (
	Malformed    FaultKind = iota // sizes or row numbers that do not fit together
	NotFinite                     // NaN, infinite, beyond 1e30, or a scale below 1e-30: Rows
	Singular                      // columns of X that the columns before them determine: Columns
	NoFreedom                     // no more rows than effects
	Confounded                    // components that cannot be told apart: Components
	Idle                          // components that leave no trace once the fixed effects are taken out: Components
	NotPositive                   // a covariance that is not positive definite: Rows
	ExactFit                      // nothing is left to estimate the error from
	NotConverged                  // the likelihood has no maximum that can be found
	Numeric                       // rounding won
	TooLarge                      // dependent rows beyond what fits in memory
)

// Fault is why a model cannot be fitted: every error of this package.
type Fault struct {
	Kind       FaultKind
	Note       note.Note
	Rows       []int
	Columns    []int
	Components []string
}

func (f *Fault) Error() string { return f.Note.English() }

func numeric() *Fault {
	return &Fault{Kind: Numeric, Note: note.New("the numbers are too far apart in size to compute with")}
}

// list names up to five numbers, counted from 1 as people do.
func list(what string, at []int) string {
	var b strings.Builder
	if len(at) == 1 {
		return fmt.Sprintf("%s %d", what, at[0]+1)
	}
	b.WriteString(what + "s ")
	for i, r := range at {
		if i == 5 {
			fmt.Fprintf(&b, " and %d more", len(at)-5)
			break
		}
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprint(&b, r+1)
	}
	return b.String()
}
