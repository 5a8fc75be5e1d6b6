// Package mixture integrates the joint model of all studies over what is not known of its variances (M2, M3, M4).
//
// An arm a of study s, on the scale of logarithms:
//
//	μ = α_s + x'β + z(u_site + v_season + m'γ) + w_(place, practice) + e
//
// z is 0 for unsanitized and 1 for every other practice; u ~ N(0, σ_u²), v ~ N(0, σ_v²); every arm, the reference too,
// has e ~ N(0, τ²/2) of its own and w ~ N(0, σ_w²/2) in common with the same practice at the same place; α, β and γ are
// flat, or for money shrunk (Prior). Given the standard deviations the gains are normal; they have half-normal priors,
// so that the posterior is a mixture of normals over a fixed grid of standard deviations. There is no Monte Carlo in
// it: the same table gives the same numbers.
//
// The files follow the ideas: model and site (the likelihood, studies and sites taken out one by one), prior, grid
// (where the standard deviations are looked at), weigh (the weight of each component), wild (studies that stand apart),
// posterior and marginal (what the components say together), draw.
package mixture

import (
	"gonum.org/v1/gonum/mat"
)

// Table is what the studies say, as numbers.
type Table struct {
	Studies []Study
	// Families gives each effect, the log gain of a practice over unsanitized, the family toward whose mean it is
	// shrunk.
	Families []int
	// Moderators gives each property of a study, centred, its standard deviation over the studies that state it; what
	// one unit of it adds to every sanitized arm is estimated.
	Moderators []float64
	Drops      int // practices whose drops age along a curve
}

// Study is one site, in one season or in those of its arms: arms as measured, or contrasts of them.
type Study struct {
	Site       string // "": a site that no other study shares
	Season     int
	Trial      string // repeated on the same units over seasons, in studies of one name or in one study; else ""
	Moderators []float64
	Arms       []Arm
	Rows       []Row         // contrasts; nil: the arms are measured
	V          *mat.SymDense // sampling covariance of the rows
}

// Arm is one practice in one study.
type Arm struct {
	Practice int     // arms of one practice share w
	Effect   int     // index into Table.Families; -1: unsanitized
	Drop     int     // which of Table.Drops ages here, on top of Effect, counted from 1; 0: none
	Age      float64 // seasons that its drops were in use
	Seasons  []int   // where they are not that of the study; those that a mean over several averages, an approximation
	Log, V   float64 // of the mean yield, and its sampling variance, where the arms are measured
}

// Row is a contrast of two arms of a study, Arm − Ref.
type Row struct {
	Arm, Ref int
	Y        float64
}
