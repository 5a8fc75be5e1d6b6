// Package pool fits one joint model to all admitted studies: the gain of every practice over unsanitized, how it
// varies between studies and sites, and how replaced drops age (M2, M3, M4).
package pool

import (
	"spile/internal/engine/effect"
	"spile/internal/engine/mixture"
	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Inference chooses standard errors and degrees of freedom: that of package reml, under a name that callers may import.
type Inference = reml.Inference

// KenwardRoger is reml.KenwardRoger.
const KenwardRoger = reml.KenwardRoger

// Inferences are all of them, each with its name.
var Inferences = []struct {
	Key  Inference
	Name string
}{
	{Mixture, "integrated over the variances"}, {reml.KenwardRoger, "Kenward-Roger"}, {reml.Wald, "Wald"},
}

// Options choose the model. The zero value is Kenward-Roger inference without a site effect; Default has it.
type Options struct {
	Inference  Inference
	Site       bool          // a random effect of the site in every sanitized arm
	Moderators []string      // names among effect.StudyEffects.Moderators
	Prior      mixture.Prior // of inference by mixture; zero: mixture.Default
	Unshrunk   bool          // money takes gains as the studies say, drawn toward no family
}

// Default is what the tool does unless asked otherwise.
func Default() Options { return Options{Inference: Mixture, Site: true} }

// Gain is one practice's pooled gain over unsanitized; for a practice that ages, in its first season (age 0).
// Percentages are of sap per tap. All intervals are 95 %. DF is +Inf under Wald inference. Trials are counted for the
// gains of Result.Gains alone.
type Gain struct {
	Treatment                   practice.Treatment
	Comparisons                 int // rows in which the practice stands
	Studies                     int
	Trials                      int // independent ones: the seasons of one trial on the same units count once
	Log, SE, DF                 float64
	Pct, LowPct, HighPct        float64 // median: 100(e^β − 1)
	LongRunPct                  float64 // 100(e^(β+σ²site/2) − 1): what money uses
	SeasonLowPct, SeasonHighPct float64 // one new season at a new site
	// plain mean of the percent gains against unsanitized; nil where no study has one
	PlainMeanPct *float64
	PlainStudies int
}

// Difference compares two sanitized practices on the log scale: Practice − Against.
type Difference struct {
	Practice, Against      practice.Treatment
	Log, SE, DF, Low, High float64
	P                      float64
}

// Share is how much of one practice's gain another explains, on percents. Share, Low and High are fractions; nil
// where the practice's own interval holds 0.
type Share struct {
	Practice, Of     practice.Key // Practice's part in Of's gain
	Share, Low, High *float64
}

// Moderator is what one unit of a property of a study adds to the log gain of every sanitized practice. Gains are at
// its Mean over the studies.
type Moderator struct {
	Name                              string
	Mean, Slope, SE, DF, Low, High, P float64
}

// Weight is how far one contrast row moves a practice's pooled gain, its variances estimated.
type Weight struct {
	Study    string
	Season   int // of the row; the first of those that it averages
	Practice practice.Treatment
	Against  practice.Treatment
	Y, V     float64
	// of the practice's pooled gain; the rows of a practice sum to 100 (to 0 where they add nothing to what other
	// studies tell)
	WeightPct float64
	Basis     effect.Basis
	Live      bool
}

// Variance is one covariance component with its profile-likelihood interval; High is +Inf where the data set no bound.
type Variance struct {
	Name             string // "study", "site", "trial"
	Value, Low, High float64
	Assumed          float64 // what it was expected to be before any study, where it is integrated over
}

// Without is the answer when something is left out: a study, a site or a caveat.
type Without struct {
	What    string
	Studies int // left in
	Gains   []Gain
}

// Curve is a way in which the extra gain of a new drop over a yearly new spout fades with the seasons in use.
type Curve struct {
	Kind                      string  // "exponential": e^(−λa); "linear": max(0, 1 − a/L)
	HalfLife                  float64 // seasons
	HalfLifeLow, HalfLifeHigh float64 // profile likelihood 95 %
	AtBound                   bool    // averaged over the grid by likelihood
	Delta                     float64 // extra log gain at age 0
	LogLik                    float64 // maximum likelihood; beyond 1,000 rows less what all curves share
	Weight                    float64 // AICc weight
}

// AgePoint is a gain at one drop age.
type AgePoint struct {
	Age                  float64
	Pct, LowPct, HighPct float64
	Studied              bool // within the ages studied
}

// Ageing is how replaced drops age.
type Ageing struct {
	Estimable bool      // three ages and a link to new-spout
	Why       note.Note // why not, where not
	Curves    []Curve
	Points    [][]AgePoint // per curve, a fine grid
	// each age as a treatment of its own, where a chain of studies reaches it; worked out when it is asked for
	ByAge  func() []Gain
	Oldest int // oldest age studied
}

// Rises is true where drops gain more the older they are, which no curve follows.
func (a Ageing) Rises() bool {
	delta := 0.0
	for _, c := range a.Curves {
		delta += c.Weight * c.Delta
	}
	return delta < 0
}
