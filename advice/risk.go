package advice

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"spile/budget"
	"spile/note"
	"spile/practice"
	"spile/risk"
	"spile/worth"
)

// RiskOptions say how the money is to be drawn. The zero value draws every assumption that has a low or a high as PERT.
type RiskOptions struct {
	Draws        int     // 0 means 20,000
	Seed         uint64  // 0 means 1
	Aversion     float64 // constant absolute aversion to risk, per unit of money a tap
	Kinds        map[string]risk.Kind
	Correlations []risk.Correlation
}

const riskDraws = 20000

// Risk is an answer under uncertainty.
type Risk struct {
	Model   *risk.Model
	Levers  []Assumption // the model's assumptions, in its order
	Best    int          // option with the highest mean net of those open
	Next    int          // the one after it; −1 where there is none
	Draws   *risk.Draws
	Summary risk.Summary
}

// groups by the last part of what a measure counts: what is looked at together.
func groupOf(a Assumption) string {
	switch a.Measure {
	case MoneyHour, MinutesATap:
		return "labour"
	case MoneySyrupKg, MoneySyrupL, MoneySapL, SyrupATap:
		return "prices"
	case SapATap, Brix:
		return "sap"
	case MoneyEach, MoneyProductL, MoneyATap, ChemicalATap:
		return "materials"
	}
	switch {
	case a.Key == "farm_adjust":
		return "farm"
	case strings.HasPrefix(a.Key, "sells."):
		return "prices"
	}
	return "materials" // lives, and the rate at which they are paid
}

// RiskModel is the decision as package risk reads it. Options are those of the ranking but combinations that no study
// holds: they have a range, not an estimate. The error is note.Faults.
func RiskModel(a *Advice, o RiskOptions) (*risk.Model, []Assumption, error) {
	if a.Input.Prices == nil {
		return nil, nil, note.Faults{note.New("money needs prices")}
	}
	m := &risk.Model{Today: -1, Spouts: -1, Correlations: o.Correlations}
	var treatments []practice.Treatment
	need := func(seasons []practice.Treatment) {
		for _, t := range seasons {
			if !slices.Contains(treatments, t) {
				treatments = append(treatments, t)
			}
		}
	}
	need([]practice.Treatment{{Practice: practice.Unsanitized}})
	var choices []budget.Choice
	add := func(x Option) {
		if x.Choice() == a.Reference {
			m.Today = len(choices)
		}
		if x.Practice == practice.NewSpout && x.With == "" {
			m.Spouts = len(choices)
		}
		m.Options = append(m.Options, risk.Option{ID: x.ID(), Choice: x.Choice(), Open: x.Verdict == practice.Permitted && x.Studied})
		choices = append(choices, x.Choice())
		need(x.Choice().Seasons())
	}
	for _, x := range a.Ranking {
		if x.With == "" {
			add(x)
		}
	}
	if m.Today < 0 { // it is not ranked, yet the others are against it
		add(Option{Practice: a.Reference.Practice, Every: a.Reference.Every, With: a.Reference.With, Verdict: practice.Never})
	}
	baseline := a.Input.Prices.Baseline.Seasons()
	known := true
	for _, t := range baseline {
		if _, ok := a.Pool.Gain(t); !ok {
			known = false
		}
	}
	if known {
		m.Baseline = baseline
		need(baseline)
	}
	m.Gains = a.Pool.Posterior(treatments)
	levers := a.Input.Assumptions()
	for _, x := range levers {
		m.Assumptions = append(m.Assumptions, risk.Assumption{Key: x.Key, Group: groupOf(x), Dist: distOf(x, o.Kinds[x.Key])})
	}
	for _, k := range sortedKeys(o.Kinds) {
		if !slices.ContainsFunc(levers, func(x Assumption) bool { return x.Key == k }) {
			return nil, nil, note.Faults{note.New("there is no assumption named %s", k)}
		}
	}
	prices := a.Input.Prices
	m.Open = func() func([]float64) *risk.Books {
		p := clone(*prices)
		all := handles(p)
		books := &risk.Books{Ledger: p.Ledger(), Plans: make([]budget.Plan, len(choices))}
		for k, c := range choices {
			books.Plans[k] = books.Ledger.Plan(c)
		}
		last := make([]float64, len(all))
		for i := range last {
			last[i] = math.NaN()
		}
		return func(values []float64) *risk.Books {
			for i, v := range values {
				if v != last[i] && !(all[i].Default && v == all[i].Value.Best && math.IsNaN(last[i])) {
					all[i].set(budget.Value{Best: v})
					last[i] = v
				}
			}
			books.Ledger.Reprice(books.Plans)
			return books
		}
	}
	if err := m.Faults().Err(); err != nil {
		return nil, nil, err
	}
	return m, levers, nil
}

func sortedKeys(kinds map[string]risk.Kind) []string {
	var keys []string
	for k := range kinds {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// distOf spreads an assumption; one with neither low nor high is fixed. Where one end is missing it is the best guess.
func distOf(a Assumption, kind risk.Kind) risk.Dist {
	d := risk.Dist{Kind: kind, Low: a.Value.Best, Best: a.Value.Best, High: a.Value.Best}
	if a.Value.Low != nil {
		d.Low = *a.Value.Low
	}
	if a.Value.High != nil {
		d.High = *a.Value.High
	}
	if kind == "" {
		if d.Kind = risk.PERT; a.Value.Low == nil && a.Value.High == nil {
			d.Kind = risk.Fixed
		}
	}
	return d
}

// Risk draws gains, prices and seasons together and says what each option is likely to net.
func (a *Advice) Risk(o RiskOptions) (*Risk, error) {
	if o.Draws == 0 {
		o.Draws = riskDraws
	}
	if o.Draws < 100 || o.Draws > 10_000_000 {
		return nil, note.Faults{note.New("the draws are %d; allowed: 100 to 10,000,000", o.Draws)}
	}
	if o.Seed == 0 {
		o.Seed = 1
	}
	m, levers, err := RiskModel(a, o)
	if err != nil {
		return nil, err
	}
	d, err := m.Draw(o.Draws, o.Seed, true)
	if err != nil {
		return nil, err
	}
	r := &Risk{Model: m, Levers: levers, Draws: d, Summary: d.Summary(o.Aversion), Best: -1, Next: -1}
	for k, x := range r.Summary.Rows {
		switch {
		case !x.Open:
		case r.Best < 0 || x.Long.Mean > r.Summary.Rows[r.Best].Long.Mean:
			r.Best, r.Next = k, r.Best
		case r.Next < 0 || x.Long.Mean > r.Summary.Rows[r.Next].Long.Mean:
			r.Next = k
		}
	}
	return r, nil
}

// Hangs is what the choice of the best option hangs on.
type Hangs struct {
	Swings []risk.Swing     // of its net against today's practice, so nothing where it is today's
	Parts  []risk.Part      // variance shares of its lead over the next best option
	Breaks []risk.BreakEven // in the order of Risk.Levers
	Known  []risk.Known     // groups, then the gain of each practice that may be chosen
}

const (
	sobolDraws             = 4096
	knownOuter, knownInner = 512, 64
)

// Hangs works out what the choice hangs on, and what it would be worth to know more.
func (r *Risk) Hangs() (Hangs, error) {
	var h Hangs
	var err error
	if h.Swings, err = r.Model.Swings(r.Best); err != nil {
		return h, err
	}
	against := r.Next
	if against < 0 {
		against = r.Model.Today
	}
	if h.Parts, err = r.Model.Sobol(r.Best, against, sobolDraws, 1); err != nil {
		return h, err
	}
	ranges := make([]risk.Range, len(r.Levers))
	for i, a := range r.Levers {
		ranges[i] = rangeOf(a)
	}
	if h.Breaks, err = r.Model.BreakEvens(r.Best, ranges); err != nil {
		return h, err
	}
	var treatments []int
	for i, t := range r.Model.Gains.Treatments {
		open := slices.ContainsFunc(r.Model.Options, func(o risk.Option) bool { return o.Open && o.Choice.Practice == t.Practice })
		if open && t.DropAge == 0 && t.Practice != practice.Unsanitized {
			treatments = append(treatments, i)
		}
	}
	h.Known, err = r.Model.Know(treatments, knownOuter, knownInner, 1)
	return h, err
}

// rangeOf is where an assumption makes sense.
func rangeOf(a Assumption) risk.Range {
	switch {
	case a.Measure == Brix:
		return risk.Range{Low: 0.5, High: 6}
	case a.Measure == YearlyRate:
		return risk.Range{Low: 0, High: 1}
	case a.Measure == Seasons:
		return risk.Range{Low: 0.5, High: 20}
	case a.Measure == Ratio:
		return risk.Range{Low: 0.05, High: 1}
	case a.Key == "baseline.yield":
		return risk.Range{Low: 1, High: 160}
	}
	high := 10 * math.Abs(a.Value.Best)
	if a.Value.High != nil {
		high = max(high, 3**a.Value.High)
	}
	if high == 0 {
		high = 5
	}
	return risk.Range{Low: 0, High: high}
}

// TrialOptions describe the trials that could be run next and who uses their answer. Zero values stand for the
// defaults beside them; none of them has a source: they are to be set.
type TrialOptions struct {
	worth.Use              // 100,000 taps, 0.2, 10 seasons, the prices' discount rate
	Units, Taps int        // 1 unit of 10 taps a treatment in each block
	Seasons     int        // 1
	CV          float64    // 0.15, as of chambers
	Cost        worth.Cost // 3,000, 2,000 and 60
	Blocks      []int      // sizes tried
}

// Next ranks the trials that could be run next, each at its best size: every practice that may be chosen against
// unsanitized and against the best, at a new site, the ages of drops not yet studied, and all together; also what no
// trial can be worth more than. The error is note.Faults.
func (a *Advice) Next(o TrialOptions) (*worth.Question, []worth.Worth, error) {
	m, _, err := RiskModel(a, RiskOptions{})
	if err != nil {
		return nil, nil, err
	}
	orElse := func(x *float64, d float64) {
		if *x == 0 {
			*x = d
		}
	}
	orElse(&o.Use.Taps, 100_000)
	orElse(&o.Adoption, 0.2)
	orElse(&o.CV, 0.15)
	orElse(&o.Discount, a.Input.Prices.Discount.Best)
	if o.Use.Seasons == 0 {
		o.Use.Seasons = 10
	}
	if o.Cost == (worth.Cost{}) {
		o.Cost = worth.Cost{Fixed: 3000, Season: 2000, Unit: 60}
	}
	if o.Blocks == nil {
		o.Blocks = []int{2, 3, 4, 6, 8, 12, 16, 24, 32, 48}
	}
	q, err := worth.Of(m, o.Use)
	if err != nil {
		return nil, nil, err
	}
	seasons := max(1, o.Seasons)
	var list []worth.Trial
	add := func(t ...practice.Treatment) {
		list = append(list, worth.Trial{
			Treatments: t, Blocks: 1, Units: max(1, o.Units), Taps: cmp.Or(o.Taps, 10), Seasons: seasons, CV: o.CV, Cost: o.Cost,
		})
	}
	unsanitized := practice.Treatment{Practice: practice.Unsanitized}
	all := []practice.Treatment{unsanitized}
	for _, t := range m.Gains.Treatments {
		open := slices.ContainsFunc(m.Options, func(x risk.Option) bool { return x.Open && x.Choice.Practice == t.Practice })
		if !open || t == unsanitized {
			continue
		}
		if t.DropAge == 0 {
			all = append(all, t)
		}
		if t.DropAge == 0 || t.DropAge >= a.Pool.Ageing.Oldest && t.DropAge <= a.Pool.Ageing.Oldest+1 {
			add(unsanitized, t)
		}
	}
	for i, x := range all[1:] {
		for _, y := range all[i+2:] {
			add(x, y)
		}
	}
	if len(all) > 2 {
		add(all...)
	}
	ranked, err := q.Rank(list, o.Blocks)
	return q, ranked, err
}
