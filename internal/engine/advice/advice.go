// Package advice runs the whole chain on values: studies, prices and a place in; gains, rotation, budgets, a ranking
// and a recommendation out.
package advice

import (
	"slices"
	"strconv"

	"spile/internal/engine/budget"
	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/engine/rotation"
	"spile/internal/engine/trust"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// Input is what an answer rests on and how it is looked at.
type Input struct {
	input.Input
	Evidence    evidence.Options
	Pool        pool.Options
	Against     practice.Choice // today's practice where it is not that of the prices; zero value: as the prices say
	MaxInterval int             // longest rotation looked at; 0 means 10
	Over        int             // how many seasons ahead the way to each practice is looked at; 0 means 5
	Strays      *Strays         // how seasons stray, where that was worked out elsewhere
}

// Usual looks at an input as is done unless asked otherwise. Excluded studies are in it, and named as left out; a note
// says why each is.
func Usual(in input.Input) Input {
	u := Input{Input: in, Pool: pool.Default(), Evidence: evidence.Options{Variance: evidence.Moderated}}
	u.Notes = slices.Clone(in.Notes)
	for _, e := range in.Excluded {
		u.Evidence.Exclude = append(u.Evidence.Exclude, e.Study)
		u.Notes.Add("the study %s is left out: %s", e.Study, e.Reason)
	}
	return u
}

// With is the input with another value in the place of one assumption's. The error is a note.Faults naming the key
// where there is no such assumption.
func (in Input) With(key string, v price.Value) (Input, error) {
	p, err := in.Prices.With(key, v)
	if err == nil {
		in.Prices = p
	}
	return in, err
}

// Option is one row of the ranking: a practice done every season, a rotation, or a combination that no study holds.
type Option struct {
	Practice practice.Key
	Every    int          // drops replaced every N seasons; 0: not a rotation
	With     practice.Key // the second practice of a combination, else ""

	GainPct, LowPct, HighPct float64   // over unsanitized, as used for money: mean of the yearly percents of its cycle
	Gains                    []float64 // the same of each season of the cycle, fractions
	Unsanitized              Compared
	Today                    Compared
	Says                     Says

	// Chances over the joint draws of gains, prices and work, from 0 to 1: of being best among what is permitted and
	// studied, and of netting less than today's practice. nil where none is stated.
	ChanceBest, ChanceLose *float64

	// Chance that it nets more than what is recommended, over the same draws; 0 where it is not open.
	ChanceOver float64

	Way *Way // how it is come by from today's practice; nil of a combination, and where no money was drawn

	IsToday         bool
	Promising       note.Term // what it rests on, where it may lead and is not recommended before a second study
	Dominated       bool      // another permitted option nets no less and varies no more in cost (CIMMYT 1988)
	MarginalRatePct *float64  // from the option before it on the net-benefit curve; nil where it is not on the curve
	Studied         bool      // false: a combination, or drops older than any studied; never ranked first
	Verdict         practice.Verdict
	Reasons         note.List // why it is held back
	Cautions        note.List
}

// Says is an option at the gains as the studies say, drawn toward nothing.
type Says struct {
	GainPct            float64
	Gains              []float64 // of each season of the cycle, fractions
	Unsanitized, Today budget.Budget
}

// Compared is a budget against one reference, every number of it at its best guess; and what is netted on average over
// all that is unsure, gains, prices and work, with its 95 % interval. Of a range, which is no estimate, there are its
// ends alone.
type Compared struct {
	budget.Budget
	NetLow, NetHigh float64
	Expected        *float64
}

// Average is the net that options are judged by: the average over what is unsure; of a range its best guess.
func (c Compared) Average() float64 {
	if c.Expected != nil {
		return *c.Expected
	}
	return c.Net
}

// Way is the first seasons of a choice against going on as today, from today's practice and ages of drops, a tap.
type Way struct {
	Drops    [][]Lot   // what the taps have in each season
	Net      []float64 // of each season, at best guesses; what lasts is charged over its life
	Expected float64   // their equal yearly amount, on average over what is unsure
	Present  float64   // the same as one sum at the beginning of the first: the net present value
	// At best guesses, what lasts bought whole: the cash of each season; the season at whose end all that was spent
	// more is back, and stays so, 0 where that is none of these; and the most that a season takes more before its sap
	// is sold.
	Cash    []float64
	Payback int
	Outlay  float64
}

// Lot is a share of all taps on which one treatment is done, with its gain as used for money and as the studies say,
// fractions.
type Lot struct {
	practice.Treatment
	Share, Used, Says float64
}

// CaveatEffect is what leaving out the studies with one caveat does.
type CaveatEffect struct {
	Caveat  evidence.Caveat
	Studies []string // that carry it
	Without pool.Without
	Best    string // option ranked first without them, as Option.ID gives it; "" without prices
}

// Advice is the answer, with everything that it rests on.
type Advice struct {
	Input     Input
	Effects   effect.Effects
	Reference practice.Choice // what Compared.Today is against
	// gain that the baseline's yield holds already, a fraction: as used for money, and as the studies say
	Base, BaseSays float64
	// today's practice, where no study or price tells of it and unsanitized stands in as Reference; else zero
	Untold      practice.Choice
	Caveats     map[string][]evidence.Caveat // by study, given and self-set, of every study, admitted or not
	Pool        *pool.Result                 // as it was asked to infer
	Money       *pool.Result                 // integrated over the variances: what money, chances and plans rest on
	Rotation    rotation.Result
	Ranking     []Option // permitted and studied first, by net against today's practice; nil without prices
	Recommended int      // index into Ranking; -1 where nothing can be recommended
	// how sure the recommendation is; nil where there is none
	Sure          *Sure
	Weighed       *Weighed          // nil unless Memo.Weigh was asked
	Influence     []trust.Influence // with each study, site and season left out in turn
	Trust         *Trust            // nil unless Memo.Trust was asked
	Why           []Why             // empty unless Memo.Why was asked
	Since         *Since            // how it came to be this; nil unless that was asked
	Held          bool              // the spread is held as it was before the studies were changed: Memo.Soon
	WithoutStudy  []pool.Without
	WithoutSite   []pool.Without
	CaveatEffects []CaveatEffect
	Splits        []trust.Split // direct beside indirect evidence
	Notes         note.List     // every warning of the chain, once

	narrow      map[practice.Key]Narrow // of what was frozen
	draws       *draws                  // of gains, which prices do not move
	chanceError float64                 // largest standard error of the simulation of any chance

	rests  key    // the digest of all that it rests on, and nothing else
	pooled key    // of what its pool rests on
	holds  [2]any // the pool and the draws, which are not worked out again as long as somebody has the answer

	near     *Advice     // the whole answer whose spread is held
	standing []pool.Gain // of what is asked again: the gains of the whole answer, which tell what may come first
}

// Choice is what the option does.
func (o Option) Choice() practice.Choice {
	return practice.Choice{Practice: o.Practice, Every: o.Every, With: o.With}
}

// ID names an option in addresses and JSON: "check-valve", "new-drop/3", "new-drop/3+check-valve".
func (o Option) ID() string {
	id := string(o.Practice)
	if o.Every > 0 {
		id += "/" + strconv.Itoa(o.Every)
	}
	if o.With != "" {
		id += "+" + string(o.With)
	}
	return id
}
