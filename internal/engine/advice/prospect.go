package advice

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"strings"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/engine/sure"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// DrawOptions say how the money is to be drawn. The zero value draws every assumption that has a low or a high as PERT.
type DrawOptions struct {
	Draws        int     // 0 means 10,000
	Seed         uint64  // 0 means 1
	Aversion     float64 // constant absolute aversion to risk, per unit of money a tap
	Taps         float64 // of the sugarbush that this is told for; 0 means 5,000
	Single       bool    // of a single season alone, what is poor, usual and good
	Kinds        map[string]sure.Kind
	Correlations []sure.Correlation
}

// The draws wherever none are asked for, so that a chance is the same wherever it stands.
const (
	usualDraws = 10_000
	usualSeed  = 1
	usualTaps  = 5000
)

// Prospect is an answer under uncertainty.
type Prospect struct {
	Model       *sure.Model
	Assumptions []price.Assumption // the model's assumptions, in its order
	Best        int                // the option recommended
	Next        int                // the open one with the highest mean net of the others; −1 where there is none
	Draws       *sure.Draws        // nil of a single season alone
	Summary     sure.Summary
	Taps        float64 // of the sugarbush that the aversion to risk is told for

	input Input
}

// groups by the last part of what a measure counts: what is looked at together.
func groupOf(a price.Assumption) string {
	switch a.Measure {
	case price.MoneyHour, price.MinutesATap:
		return "labour"
	case price.MoneySyrupKg, price.MoneySyrupL, price.MoneySapL, price.SyrupATap:
		return "prices"
	case price.SapATap, price.SapADay, price.Days, price.Brix:
		return "sap"
	case price.MoneyEach, price.MoneyProductL, price.MoneyATap, price.ChemicalATap:
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

// SureModel is the decision as package sure reads it. Options are those of the ranking but combinations that no study
// holds: they have a range, not an estimate. The error is note.Faults.
func SureModel(a *Advice, o DrawOptions) (*sure.Model, []price.Assumption, error) {
	if a.Input.Prices == nil {
		return nil, nil, note.Faults{note.New("money needs prices")}
	}
	var options []sure.Option
	for _, x := range a.Ranking {
		if x.With == "" {
			options = append(options, optionOf(x.Choice(), x.Verdict == practice.Permitted && x.Studied,
				x.Promising != ""))
		}
	}
	m, assumptions, faults := model(a.Input, a.Money, options, a.Reference, o)
	if err := append(faults, m.Faults()...).Err(); err != nil {
		return nil, nil, err
	}
	return m, assumptions, nil
}

func optionOf(c practice.Choice, open, awaits bool) sure.Option {
	return sure.Option{ID: Option{Practice: c.Practice, Every: c.Every, With: c.With}.ID(), Choice: c, Open: open,
		Awaits: awaits}
}

// model is a decision among options, against one of them or another. What is drawn of gains, prices and work is the
// same whatever order the options are in.
func model(in Input, money *pool.Result, options []sure.Option, against practice.Choice, o DrawOptions) (*sure.Model,
	[]price.Assumption, note.Faults) {
	at := func(c practice.Choice) int {
		return slices.IndexFunc(options, func(x sure.Option) bool { return x.Choice == c })
	}
	if at(against) < 0 { // it is not ranked, yet the others are against it
		options = append(options, optionOf(against, false, false))
	}
	m := &sure.Model{Options: options, Today: at(against), Spouts: at(practice.Choice{Practice: practice.NewSpout}),
		Correlations: o.Correlations}
	treatments := []practice.Treatment{{Practice: practice.Unsanitized}}
	need := func(seasons []practice.Treatment) {
		for _, t := range seasons {
			if !slices.Contains(treatments, t) {
				treatments = append(treatments, t)
			}
		}
	}
	for _, x := range m.Options {
		if x.Way == nil {
			need(x.Choice.Seasons())
		}
		for _, lots := range x.Way {
			for _, l := range lots {
				need([]practice.Treatment{l.Treatment})
			}
		}
	}
	baseline := in.Prices.Baseline.Seasons()
	if !slices.ContainsFunc(baseline, func(t practice.Treatment) bool {
		_, stated := in.own(t)
		return !money.Holds(t) && !stated
	}) {
		m.Baseline = baseline
		need(baseline)
	}
	place := func(t practice.Treatment) int {
		return slices.IndexFunc(in.Practices, func(p practice.Practice) bool { return p.Key == t.Practice })
	}
	slices.SortFunc(treatments, func(a, b practice.Treatment) int {
		return cmp.Or(cmp.Compare(place(a), place(b)), cmp.Compare(a.DropAge, b.DropAge))
	})
	m.Gains = money.Posterior(treatments)
	for _, t := range treatments {
		if g, stated := in.own(t); stated && !money.Holds(t) {
			m.Gains = m.Gains.With(t, g)
		}
	}
	m.Year, _ = in.Year()
	assumptions := in.Prices.Assumptions()
	m.Assumptions = assumed(assumptions, o.Kinds)
	used := in.used(among(m.Options))
	var faults note.Faults
	for _, k := range sortedKeys(o.Kinds) {
		switch i := slices.IndexFunc(assumptions, func(x price.Assumption) bool { return x.Key == k }); {
		case i < 0:
			faults = append(faults, price.NoAssumption(k, assumptions))
		case !used(k):
			faults.Add("%s is to be drawn as %s, and no option uses it", k, string(o.Kinds[k]))
		case o.Kinds[k] != sure.Held && assumptions[i].Value.Low == nil && assumptions[i].Value.High == nil:
			faults.Add("%s is to be drawn as %s, and has neither low nor high: give it both", k,
				string(o.Kinds[k]))
		}
	}
	for _, c := range o.Correlations {
		for _, k := range []string{c.A, c.B} {
			if !slices.ContainsFunc(assumptions, func(x price.Assumption) bool { return x.Key == k }) {
				faults = append(faults, price.NoAssumption(k, assumptions))
			} else if !used(k) {
				faults.Add("%s is to move with another number, and no option uses it", k)
			}
		}
	}
	m.Open = func() func([]float64) *sure.Books {
		p := in.Prices.Clone()
		all := p.Tried()
		books := &sure.Books{Ledger: budget.Of(p), Plans: make([]budget.Plan, len(m.Options))}
		for k, x := range m.Options {
			if books.Plans[k] = books.Ledger.Plan(x.Choice); x.Way != nil {
				books.Plans[k] = books.Ledger.Way(x.Choice, len(x.Way))
			}
		}
		budget.Join(books.Plans)
		last, at := make([]float64, len(all)), make([]*price.Value, len(all))
		for i := range last {
			last[i], at[i] = math.NaN(), all[i].Value()
		}
		return func(values []float64) *sure.Books {
			for i, v := range values {
				if v != last[i] && !(assumptions[i].Default && v == assumptions[i].Value.Best && math.IsNaN(last[i])) {
					if at[i] == nil { // until now something stood in for it
						all[i].Put(price.Value{})
						at[i] = all[i].Value()
					}
					if math.IsNaN(last[i]) {
						*at[i] = price.Value{}
					}
					at[i].Best, last[i] = v, v
				}
			}
			books.Ledger.Reprice(books.Plans)
			return books
		}
	}
	return m, assumptions, faults
}

// among says whether a practice is part of any of the options.
func among(options []sure.Option) func(practice.Key) bool {
	return func(k practice.Key) bool {
		return slices.ContainsFunc(options,
			func(o sure.Option) bool { return o.Choice.Practice == k || o.Choice.With == k })
	}
}

// used says whether an assumption, by its key, changes anything of any of the practices chosen: those of the use of a
// practice, of a material and of a chemical do so only where a practice takes them.
func (in Input) used(chosen func(practice.Key) bool) func(key string) bool {
	taken := map[string]bool{}
	owned := []string{"seasons."} // beginnings of the keys of which only those taken count
	for _, u := range in.Prices.Uses {
		use := "use." + string(u.Practice) + "."
		owned = append(owned, use)
		if !chosen(u.Practice) {
			continue
		}
		taken[use] = true
		for _, m := range u.Materials {
			taken["material."+m.Material+"."] = true
		}
		if u.Renewal != nil {
			for _, m := range u.Renewal.Materials {
				taken["material."+m.Material+"."] = true
			}
		}
		taken["chemical."+u.Chemical+"."] = true
	}
	for _, m := range in.Prices.Materials {
		owned = append(owned, "material."+m.Name+".")
	}
	for _, c := range in.Prices.Chemicals {
		owned = append(owned, "chemical."+c.Name+".")
	}
	return func(key string) bool {
		return !slices.ContainsFunc(owned,
			func(part string) bool { return strings.HasPrefix(key, part) && !taken[part] })
	}
}

// idle are the assumptions that have a low or a high and that no practice uses, be it ranked or not: of those that are
// not ranked for want of studies the answer speaks already.
func (r *Prospect) idle() []string {
	used := r.input.used(func(practice.Key) bool { return true })
	var keys []string
	for _, l := range r.Assumptions {
		if (l.Value.Low != nil || l.Value.High != nil) && !used(l.Key) {
			keys = append(keys, l.Key)
		}
	}
	return keys
}

func sortedKeys(kinds map[string]sure.Kind) []string {
	var keys []string
	for k := range kinds {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// distOf spreads an assumption; one with neither low nor high is fixed. Where one end is missing it is the best guess.
func distOf(a price.Assumption, kind sure.Kind) sure.Dist {
	d := sure.Dist{Kind: kind, Low: a.Value.Best, Best: a.Value.Best, High: a.Value.Best}
	if a.Value.Low != nil {
		d.Low = *a.Value.Low
	}
	if a.Value.High != nil {
		d.High = *a.Value.High
	}
	if kind == "" {
		if d.Kind = sure.Likely; a.Value.Low == nil && a.Value.High == nil {
			d.Kind = sure.Held
		}
	}
	return d
}

// assumed are assumptions as they are drawn.
func assumed(list []price.Assumption, kinds map[string]sure.Kind) (out []sure.Assumption) {
	for _, x := range list {
		out = append(out, sure.Assumption{Key: x.Key, Group: groupOf(x), Dist: distOf(x, kinds[x.Key])})
	}
	return out
}

// Prospect draws gains, prices and seasons together and says what each option is likely to net.
func (a *Advice) Prospect(o DrawOptions) (*Prospect, error) {
	o.Draws, o.Seed = cmp.Or(o.Draws, usualDraws), cmp.Or(o.Seed, usualSeed)
	o.Taps = cmp.Or(o.Taps, usualTaps)
	var faults note.Faults
	if o.Draws < 100 || o.Draws > 10_000_000 {
		faults.Add("all is to be drawn %d times; allowed: 100 to 10,000,000", o.Draws)
	}
	m, assumptions, err := SureModel(a, o)
	if f, ok := errors.AsType[note.Faults](err); ok {
		faults = append(faults, f...)
	} else if err != nil {
		return nil, err
	}
	if len(faults) > 0 {
		return nil, faults
	}
	r := &Prospect{Model: m, Assumptions: assumptions, Taps: o.Taps, Best: -1, Next: -1, input: a.Input}
	if o.Single {
		r.Summary, err = m.Single(o.Draws, o.Seed)
	} else if r.Draws, err = m.Draw(o.Draws, o.Seed, true); err == nil {
		r.Summary = r.Draws.Summary(o.Aversion)
	}
	if err != nil {
		return nil, err
	}
	if best, ok := a.Best(); ok {
		r.Best = slices.IndexFunc(m.Options, func(x sure.Option) bool { return x.ID == best.ID() })
	}
	for k, x := range r.Summary.Rows {
		if !o.Single && x.Open && k != r.Best && (r.Next < 0 || x.Long.Mean > r.Summary.Rows[r.Next].Long.Mean) {
			r.Next = k
		}
	}
	return r, nil
}

// Hangs is what the choice of the best option hangs on.
type Hangs struct {
	Swings []sure.Swing     // of its net against today's practice, or, where it is that, against the next best
	Breaks []sure.BreakEven // in the order of Prospect.Assumptions, then of gains
	Pairs  []sure.Pair      // of the widest swings, two at a time
}

// paired is how many of the widest swings are moved two at a time.
const paired = 6

// Hangs works out what the choice hangs on.
func (r *Prospect) Hangs() (Hangs, error) {
	var h Hangs
	var err error
	if h.Swings, err = r.Model.Swings(r.Best, r.Against()); err != nil {
		return h, err
	}
	if h.Pairs, err = r.Model.Pairs(r.Best, r.Against(), h.Swings, paired); err != nil {
		return h, err
	}
	h.Breaks, err = r.Model.BreakEvens(r.Best, ranges(r.Assumptions))
	return h, err
}

// Knowing is how much of what is unsure each group of assumptions holds, and what it would be worth to know it.
type Knowing struct {
	Parts []sure.Part  // variance shares of the lead of the best option over the next best
	Known []sure.Known // groups, then the gain of each practice that may be chosen
}

const (
	sobolDraws             = 4096
	knownOuter, knownInner = 512, 256
)

// Knowing works out what it would be worth to know more.
func (r *Prospect) Knowing() (Knowing, error) {
	var k Knowing
	var err error
	against := r.Next
	if against < 0 {
		against = r.Model.Today
	}
	if k.Parts, err = r.Model.Sobol(r.Best, against, sobolDraws, 1); err != nil {
		return k, err
	}
	var treatments []int
	for i, t := range r.Model.Gains.Treatments {
		open := slices.ContainsFunc(r.Model.Options,
			func(o sure.Option) bool { return o.Open && o.Choice.Practice == t.Practice })
		if open && t.DropAge == 0 && t.Practice != practice.Unsanitized {
			treatments = append(treatments, i)
		}
	}
	k.Known, err = r.Model.Know(treatments, knownOuter, knownInner, 1)
	return k, err
}

// Against is what the swings are against: today's practice, or the next best where that is what is recommended.
func (r *Prospect) Against() int {
	if r.Best == r.Model.Today && r.Next >= 0 {
		return r.Next
	}
	return r.Model.Today
}

func ranges(assumptions []price.Assumption) []sure.Range {
	var list []sure.Range
	for _, a := range assumptions {
		list = append(list, rangeOf(a))
	}
	return list
}

// rangeOf is where an assumption makes sense.
func rangeOf(a price.Assumption) sure.Range {
	switch {
	case a.Measure == price.Brix:
		return sure.Range{Low: 0.5, High: 6}
	case a.Measure == price.YearlyRate:
		return sure.Range{Low: 0, High: 1}
	case a.Measure == price.Seasons:
		least := min(1, a.Value.Best) // nobody buys twice a season what is fitted once
		if a.Value.Low != nil {
			least = min(least, *a.Value.Low)
		}
		return sure.Range{Low: least, High: 20}
	case a.Measure == price.Days:
		return sure.Range{Low: 1, High: 60}
	case a.Measure == price.Ratio:
		return sure.Range{Low: 0.05, High: 1}
	case a.Key == "baseline.yield":
		return sure.Range{Low: 1, High: 160}
	}
	high := 10 * math.Abs(a.Value.Best)
	if a.Value.High != nil {
		high = max(high, 3**a.Value.High)
	}
	if high == 0 {
		high = 5
	}
	return sure.Range{Low: 0, High: high}
}

// Contest is which option comes first over two assumptions, all else at its best guess.
type Contest struct {
	X, Y price.Assumption
	sure.Map
}

// How many points a map is worked out at, along X and along Y.
const mapX, mapY = 49, 31

// Pair fills in the assumptions of a map: x and y where they are named, else those that the choice hangs on most: those
// of which an end that they may well have puts another option first before all others, and among these the widest
// swing. False where there are fewer than two.
func (r *Prospect) Pair(h Hangs, x, y string) (string, string, bool) {
	first := r.Model.Options[r.Best].ID
	var turning, other []string
	for _, s := range h.Swings {
		switch {
		case s.Treatment >= 0 || s.Key == x || s.Key == y:
		case s.BestLow != first || s.BestHigh != first:
			turning = append(turning, s.Key)
		default:
			other = append(other, s.Key)
		}
	}
	all := append(turning, other...)
	for _, k := range []*string{&x, &y} {
		if *k == "" && len(all) > 0 {
			*k, all = all[0], all[1:]
		}
	}
	return x, y, x != "" && y != ""
}

// Contest draws the map of two assumptions, by key, from half of what lies between low and high below low to as much
// above high, as far as it makes sense; one without low and high from half its best guess to half as much again. The
// error is note.Faults.
func (r *Prospect) Contest(x, y string) (Contest, error) {
	var c Contest
	var faults note.Faults
	at := func(key string) int {
		i := slices.IndexFunc(r.Assumptions, func(a price.Assumption) bool { return a.Key == key })
		if i < 0 {
			faults = append(faults, price.NoAssumption(key, r.Assumptions))
		}
		return i
	}
	i, j := at(x), at(y)
	used := r.input.used(among(r.Model.Options))
	for _, k := range []string{x, y} {
		if !used(k) {
			faults.Add("a map names %s, which no option uses", k)
		}
	}
	if x == y {
		faults.Add("a map takes two assumptions, and %s is named twice", x)
	}
	if len(faults) > 0 {
		return c, faults
	}
	c.X, c.Y = r.Assumptions[i], r.Assumptions[j]
	var err error
	c.Map, err = r.Model.Over(i, j, spread(c.X, mapX), spread(c.Y, mapY))
	return c, err
}

// spread is n values of an assumption, evenly spaced.
func spread(a price.Assumption, n int) []float64 {
	low, high := a.Value.Best, a.Value.Best
	if a.Value.Low != nil {
		low = *a.Value.Low
	}
	if a.Value.High != nil {
		high = *a.Value.High
	}
	half := (high - low) / 2
	if half == 0 {
		half = max(math.Abs(a.Value.Best)/2, 0.05)
	}
	sense := rangeOf(a)
	low, high = max(low-half, min(sense.Low, low)), min(high+half, max(sense.High, high))
	list := make([]float64, n)
	for k := range list {
		list[k] = low + (high-low)*float64(k)/float64(n-1)
	}
	return list
}
