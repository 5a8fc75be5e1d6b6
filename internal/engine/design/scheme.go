package design

import (
	"math"

	"spile/internal/trade/trial"
)

// Scheme is the size of a trial.
type Scheme struct {
	Design        trial.Kind
	Practices     int  // with the reference
	Replicates    int  // units of each practice but the reference: blocks, pairs, units of a square's row
	MoreReference bool // √(practices − 1) as many units of the reference (Dunnett 1955)
	Seasons       int  // 0 is 1
	Adjusted      bool // judge by the p that is adjusted for all comparisons with the reference
}

// Span is how many seasons the trial takes.
func (s Scheme) Span() int { return max(1, s.Seasons) }

// ReferenceUnits is how many units the reference has.
func (s Scheme) ReferenceUnits() int {
	if !s.MoreReference {
		return s.Replicates
	}
	if s.Design == trial.Blocks {
		return s.Replicates * int(math.Round(math.Sqrt(float64(s.Practices-1))))
	}
	return int(math.Round(float64(s.Replicates) * math.Sqrt(float64(s.Practices-1))))
}

// Units is how many units the scheme takes.
func (s Scheme) Units() int { return (s.Practices-1)*s.Replicates + s.ReferenceUnits() }

// Step is what the replicates are a multiple of: the rows of a Latin square are drawn together.
func (s Scheme) Step() int {
	if s.Design == trial.Latin {
		return squareRows(s.Practices) / s.Practices
	}
	return 1
}
