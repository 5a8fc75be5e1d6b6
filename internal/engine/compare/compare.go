// Package compare compares the practices of a trial (M6), from its seasons' yields, and makes a study of the evidence
// of it.
package compare

import (
	"slices"

	"spile/internal/engine/harvest"
	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// Analysis is what a trial says.
type Analysis struct {
	Response    trial.Response
	Reference   practice.Key
	Seasons     []int // in order
	Blocks      int
	Units       int
	Rows        int    // unit-seasons used
	Gains       []Gain // every practice in the order of the set, the reference too
	Pairs       []Pair // all pairs
	BySeason    []Gain // where there are several seasons: each practice in each
	Differ      *Joint // that practices differ at all; nil where it cannot be tested
	Interaction *Joint // of practice and season; nil where it cannot be tested
	Carryover   []Gain // where practices were rotated: what each leaves to the season after it
	Covariates  []Covariate
	Variances   Variances
	Residuals   []Residual
	Adjusted    float64 // bound on the error of the adjusted p
	Notes       note.List

	reference int // index of its row in Gains
	model     *model
	fit       *reml.Fitted
}

// Joint is a test of several effects at once.
type Joint = reml.Joint

// Gain is a practice against the reference. Numbers that do not exist are NaN: those of the reference, and intervals
// where nothing tells the error.
type Gain struct {
	Practice practice.Key
	Season   int // in BySeason
	Units    int
	Mean     unit.Volume // per tap: plain mean over the rows

	Log, SE, DF              float64
	Low, High                float64 // 95 %, log
	Pct, LowPct, HighPct     float64
	P                        float64
	PAdjusted                float64 // for all comparisons with the reference
	AllLowPct, AllHighPct    float64 // 95 % intervals that hold for all comparisons with the reference together
	OverflowLowPct           float64 // where units gave at least what was read: the gain if they gave plausibly more
	OverflowHighPct          float64
	estimable, withInference bool
	contrast                 []float64
}

// Pair is one practice against another, p adjusted for all pairs (single step).
type Pair struct {
	Practice, Against    practice.Key
	Log, SE, DF          float64
	Low, High            float64
	Pct, LowPct, HighPct float64
	P, PAdjusted         float64
	withInference        bool
}

// Covariate is the slope of ln(yield per tap) on a covariate.
type Covariate struct {
	Name string // "season before the trial" (its ln yield a tap), "vacuum" (kPa)
	reml.Estimate
	Low, High, P float64 // its 95 % interval; NaN where nothing tells its error
}

// Variances are those of the log yields; nil is a component that the trial cannot have.
type Variances struct {
	Block, Unit, Residual *float64
}

// Residual is one unit-season less what practice, season, block and unit explain.
type Residual struct {
	trial.UnitSeason
	Fitted       float64 // log, with block and unit
	Residual     float64 // log
	Standardized float64 // by its own standard error
	NormalScore  float64 // where its rank would stand in a normal sample (Blom 1958)
}

// Analyse compares the practices of a trial (M6): ln(yield per tap) ~ practice + season (fixed) + block + unit (random)
// by REML with Kenward-Roger inference. The error is note.Faults, all of them. What the trial cannot tell is said in
// Notes, and its numbers are NaN.
func Analyse(rows []trial.UnitSeason, set practice.Set, o trial.Options) (*Analysis, error) {
	if err := trial.Check(rows, set).Err(); err != nil {
		return nil, err
	}
	m, err := newModel(rows, set, o)
	if err != nil {
		return nil, err
	}
	a := &Analysis{
		Response: m.o.Response, Reference: m.levels[0].Practice, Seasons: m.seasons, Rows: len(m.rows),
		Units: distinct(m.ids), Blocks: distinct(m.blocks), model: m, Notes: m.notes,
	}
	fit, err := m.fit()
	if err != nil {
		return nil, err
	}
	a.fit = fit.f
	a.Notes = append(a.Notes, fit.notes...)
	a.Gains = m.gains(fit)
	a.inform()
	a.adjust()
	a.differ()
	a.pairs(fit)
	a.Variances = fit.variances()
	for _, c := range m.covariates {
		g := newGain(practice.Treatment{}, 0)
		m.infer(&g, fit, m.contrast(map[int]float64{c.column: 1}))
		a.Covariates = append(a.Covariates,
			Covariate{Name: c.name, Estimate: reml.Estimate{Value: g.Log, SE: g.SE, DF: g.DF}, Low: g.Low, High: g.High,
				P: g.P})
	}
	for _, c := range m.carry {
		g := newGain(m.levels[c.level], 0)
		m.infer(&g, fit, m.contrast(map[int]float64{c.column: 1}))
		a.Carryover = append(a.Carryover, g)
	}
	a.bySeason()
	a.residuals(fit)
	a.overflow(fit)
	return a, nil
}

// inform finds the reference among the gains, and says of each other practice what the trial cannot tell.
func (a *Analysis) inform() {
	say := a.Notes.Add
	reference := note.Term(a.Reference)
	for i, g := range a.Gains {
		by, this := a.model.hiddenBy(g.contrast), note.Term(g.Practice)
		switch {
		case g.Practice == a.Reference:
			a.reference = i
		case !g.estimable && by != "":
			say("what %s does cannot be told from what the covariate (%s) does: the units under it differ from those "+
				"under %s in both",
				this, note.Term(by), reference)
		case !g.estimable:
			say("%s cannot be compared with %s: the trial never has them side by side", this, reference)
		case g.withInference:
			a.Notes = append(a.Notes, reml.Estimate{DF: g.DF}.Notes(this)...)
		case a.fit != nil:
			say("the yields under %s and %s fit practices, seasons, blocks and units exactly, or all but: the gain "+
				"is given, but nothing is left to tell its error",
				this, reference)
		}
	}
}

func distinct(ids []int) int {
	if len(ids) == 0 {
		return 0
	}
	return slices.Max(ids) + 1
}

// Trial sums a trial and compares its practices; the sums are there as well where they cannot be compared.
func Trial(t trial.Trial, set practice.Set) (*Analysis, *harvest.Summed, error) {
	s, err := harvest.Gathered(t)
	if err != nil {
		return nil, s, err
	}
	a, err := Analyse(s.Rows, set, t.Options)
	return a, s, err
}
