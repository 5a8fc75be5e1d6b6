package show

import (
	"cmp"
	"encoding/json"
	"math"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/engine/rotation"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Number is a number in JSON; one that does not exist is null, since JSON knows neither NaN nor infinity.
type Number float64

// MarshalJSON implements json.Marshaler.
func (n Number) MarshalJSON() ([]byte, error) {
	if !finite(float64(n)) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// number is a pointer's number, null for nil.
func number(x *float64) *Number {
	if x == nil {
		return nil
	}
	return new(Number(*x))
}

// GainsJSON is what `gains --json` prints. The names and their order are a contract.
type GainsJSON struct {
	Practices     []GainJSON    `json:"practices"`
	Between       []BetweenJSON `json:"between"`
	Shares        []ShareJSON   `json:"shares"`
	StudyVariance *Number       `json:"study_variance"`
	SiteVariance  *Number       `json:"site_variance"`
	Q             Number        `json:"q"`
	QDF           int           `json:"q_df"`
	QP            Number        `json:"q_p"`
	I2Pct         Number        `json:"i2_pct"`
	Weights       []WeightJSON  `json:"weights"`
	Warnings      []string      `json:"warnings"`
	Out           []OutJSON     `json:"out"`

	// Of inference by mixture; null or empty under others.
	SeasonVariance       *Number     `json:"season_variance"`
	PracticeSiteVariance *Number     `json:"practice_site_variance"`
	Prior                *PriorJSON  `json:"prior"`
	PWild                []ApartJSON `json:"p_wild"`
}

// OutJSON is what is kept but not pooled, and why; a null practice is the whole study.
type OutJSON struct {
	Study    string        `json:"study"`
	Practice *practice.Key `json:"practice"`
	Reason   string        `json:"reason"`
}

// GainJSON is one practice's pooled gain.
type GainJSON struct {
	Practice      practice.Key `json:"practice"`
	Comparisons   int          `json:"comparisons"`
	Studies       int          `json:"studies"`
	LogRatio      Number       `json:"log_ratio"`
	SELog         Number       `json:"se_log"`
	DF            Number       `json:"df"`
	GainPct       Number       `json:"gain_pct"`
	LowPct        Number       `json:"low_pct"`
	HighPct       Number       `json:"high_pct"`
	SeasonLowPct  Number       `json:"season_low_pct"`
	SeasonHighPct Number       `json:"season_high_pct"`
	PlainMeanPct  *Number      `json:"plain_mean_pct"`
	DropAge       int          `json:"drop_age"`
	LongRunPct    Number       `json:"long_run_pct"`

	// Of inference by mixture; null under others.
	ShrunkPct   *Number    `json:"shrunk_pct"`   // drawn toward its family, at the middle place and season
	PriorHalf   *RangeJSON `json:"prior_half"`   // with the scales of the priors halved
	PriorDouble *RangeJSON `json:"prior_double"` // and doubled
	KR          *PaperJSON `json:"kr"`

	// Of a gain taken apart; null where that was not asked.
	Parts  []StepJSON  `json:"parts"`
	Movers []MoverJSON `json:"movers"`

	Trials  int     `json:"trials"`   // independent ones: the seasons of one trial count once
	UsedPct *Number `json:"used_pct"` // the long run that money rests on
}

// PriorJSON is the scales of the half-normal priors on the standard deviations, on the log scale.
type PriorJSON struct {
	Study        Number `json:"study"`
	Site         Number `json:"site"`
	Season       Number `json:"season"`
	PracticeSite Number `json:"practice_site"`
	Shrinkage    Number `json:"shrinkage"`
}

// ApartJSON is the chance that a study stands apart; null where it was not asked.
type ApartJSON struct {
	Study string  `json:"study"`
	P     *Number `json:"p"`
}

// RangeJSON is an interval.
type RangeJSON struct {
	LowPct  Number `json:"low_pct"`
	HighPct Number `json:"high_pct"`
}

// PaperJSON is a gain by Kenward-Roger, for papers.
type PaperJSON struct {
	LogRatio Number `json:"log_ratio"`
	SELog    Number `json:"se_log"`
	DF       Number `json:"df"`
	GainPct  Number `json:"gain_pct"`
	LowPct   Number `json:"low_pct"`
	HighPct  Number `json:"high_pct"`
}

// BetweenJSON compares two sanitized practices.
type BetweenJSON struct {
	Practice      practice.Key `json:"practice"`
	Against       practice.Key `json:"against"`
	DifferenceLog Number       `json:"difference_log"`
	SELog         Number       `json:"se_log"`
	DF            Number       `json:"df"`
	Low           Number       `json:"low"`
	High          Number       `json:"high"`
	P             Number       `json:"p"`
}

// ShareJSON is a share, as fractions.
type ShareJSON struct {
	Practice practice.Key `json:"practice"`
	Of       practice.Key `json:"of"`
	Share    *Number      `json:"share"`
	Low      *Number      `json:"low"`
	High     *Number      `json:"high"`
}

// WeightJSON is what one comparison brings to the pool.
type WeightJSON struct {
	Study     string       `json:"study"`
	Practice  practice.Key `json:"practice"`
	Y         Number       `json:"y"`
	V         Number       `json:"v"`
	WeightPct Number       `json:"weight_pct"`
	Imputed   bool         `json:"imputed"`

	DropAge        int          `json:"drop_age"`
	Against        practice.Key `json:"against"`
	AgainstDropAge int          `json:"against_drop_age"`
	Live           bool         `json:"live"` // of a trial of the workbook
}

// GainsJSON gives the pooled gains.
func (w *View) GainsJSON() GainsJSON {
	j := GainsJSON{
		Practices: []GainJSON{}, Between: []BetweenJSON{}, Shares: []ShareJSON{}, Weights: []WeightJSON{},
		PWild:    []ApartJSON{},
		Warnings: w.Warnings(), Out: w.outJSON(),
	}
	r := w.A.Pool
	if r == nil {
		return j
	}
	for _, g := range r.Gains {
		j.Practices = append(j.Practices, GainJSON{
			Trials: g.Trials, UsedPct: number(w.forMoney(g.Treatment).Number),
			Practice: g.Treatment.Practice, Comparisons: g.Comparisons, Studies: g.Studies,
			LogRatio: Number(g.Log), SELog: Number(g.SE), DF: Number(g.DF),
			GainPct: Number(g.Pct), LowPct: Number(g.LowPct), HighPct: Number(g.HighPct),
			SeasonLowPct: Number(g.SeasonLowPct), SeasonHighPct: Number(g.SeasonHighPct),
			PlainMeanPct: number(g.PlainMeanPct), DropAge: g.Treatment.DropAge, LongRunPct: Number(g.LongRunPct),
			Parts: w.partsJSON(g.Treatment.Practice), Movers: w.moversJSON(g.Treatment.Practice),
		})
	}
	for _, d := range r.Between {
		j.Between = append(j.Between, BetweenJSON{
			d.Practice.Practice, d.Against.Practice, Number(d.Log), Number(d.SE), Number(d.DF), Number(d.Low),
			Number(d.High), Number(d.P),
		})
	}
	for _, s := range r.Shares {
		j.Shares = append(j.Shares, ShareJSON{s.Practice, s.Of, number(s.Share), number(s.Low), number(s.High)})
	}
	for _, x := range r.Variances {
		switch x.Name {
		case "study":
			j.StudyVariance = new(Number(x.Value))
		case "site":
			j.SiteVariance = new(Number(x.Value))
		case "season":
			j.SeasonVariance = new(Number(x.Value))
		case "practice":
			j.PracticeSiteVariance = new(Number(x.Value))
		}
	}
	j.integrated(r)
	j.Q, j.QDF, j.QP, j.I2Pct = Number(r.Q), r.QDF, Number(r.QP), Number(r.I2Pct)
	for _, x := range r.Weights {
		j.Weights = append(j.Weights, WeightJSON{
			x.Study, x.Practice.Practice, Number(x.Y), Number(x.V), Number(x.WeightPct), x.Basis.Imputed(),
			x.Practice.DropAge, x.Against.Practice, x.Against.DropAge, x.Live,
		})
	}
	return j
}

// integrated fills in what inference by mixture tells besides.
func (j *GainsJSON) integrated(r *pool.Result) {
	if r.KR == nil {
		return
	}
	s := r.Prior().Scale
	j.Prior = &PriorJSON{Number(s[0]), Number(s[1]), Number(s[2]), Number(s[3]), Number(s[4])}
	for _, x := range r.Apart {
		p := &x.Chance
		if math.IsNaN(x.Chance) {
			p = nil
		}
		j.PWild = append(j.PWild, ApartJSON{x.Study, number(p)})
	}
	half, double := r.Halved(), r.Doubled()
	between := func(g pool.Gain) *RangeJSON { return &RangeJSON{Number(g.LowPct), Number(g.HighPct)} }
	for i, g := range r.KR {
		x := &j.Practices[i]
		x.KR = &PaperJSON{Number(g.Log), Number(g.SE), Number(g.DF), Number(g.Pct), Number(g.LowPct), Number(g.HighPct)}
		if money, ok := r.Money(g.Treatment); ok {
			x.ShrunkPct = new(Number(money.Pct))
		}
		if len(half) == len(r.KR) && len(double) == len(r.KR) {
			x.PriorHalf, x.PriorDouble = between(half[i]), between(double[i])
		}
	}
}

// outJSON is every row that is kept but not pooled.
func (w *View) outJSON() []OutJSON {
	out := []OutJSON{}
	for _, o := range w.A.Effects.Out {
		x := OutJSON{Study: o.Study, Reason: w.V.Note(note.New(o.Why.Key, o.Why.Args...))}
		if o.Practice != "" {
			x.Practice = &o.Practice
		}
		out = append(out, x)
	}
	for _, s := range w.A.Effects.Studies {
		for _, r := range s.Rows {
			if arm := s.Arms[r.Arm]; w.unlinked(arm, s.Arms[r.Ref]) {
				out = append(out,
					OutJSON{s.Study, &arm.Practice, w.V.Text("no chain of studies links it to unsanitized")})
			}
		}
	}
	return out
}

// RotationJSON is what `rotation --json` prints: the intervals between replacements, with their net against
// unsanitized. Without prices there is no net, and the loss is percent of sap; a chance is null where none is stated.
func (w *View) RotationJSON() any {
	r := w.A.Rotation
	when := func(stated bool, x any) any {
		if stated {
			return x
		}
		return nil
	}
	best := r.Best > 0
	j := object{
		{"intervals", objects(r.Intervals, func(x rotation.Interval) object {
			return object{{"every", x.Every}, {"gain_pct", x.GainPct}, {"low_pct", x.LowPct}, {"high_pct", x.HighPct},
				{"net", when(r.Priced, x.Net)}, {"net_low", when(r.Priced, x.NetLow)},
				{"net_high", when(r.Priced, x.NetHigh)}, {"chance_best", when(r.Chances && x.Studied, x.Best)},
				{"expected_loss", when(r.Chances, x.Loss)}, {"studied", x.Studied},
				{"net_expected", when(r.Priced, x.Expected)}, {"way", w.wayOf(x.Every)}}
		})},
		{"best", when(best, r.Best)}, {"flat_from", when(best, r.FlatFrom)}, {"flat_to", when(best, r.FlatTo)},
		{"flat_within", when(best, r.FlatWithin)},
	}
	var ageing pool.Ageing
	byAge := []object{}
	if w.A.Pool != nil {
		ageing = w.A.Pool.Ageing
		for _, g := range ageing.ByAge() {
			if g.Treatment.Practice == w.aging() {
				byAge = append(byAge, object{{"drop_age", g.Treatment.DropAge}, {"gain_pct", g.Pct},
					{"low_pct", g.LowPct}, {"high_pct", g.HighPct}})
			}
		}
	}
	return append(j,
		member{"curves", objects(ageing.Curves, func(c pool.Curve) object { // half-lives in seasons
			return object{{"curve", c.Kind}, {"half_life", c.HalfLife}, {"half_life_low", c.HalfLifeLow},
				{"half_life_high", c.HalfLifeHigh}, {"weight", c.Weight}, {"at_bound", c.AtBound}}
		})},
		member{"by_age", byAge}, member{"oldest_age", ageing.Oldest},
		member{"currency", when(w.currency() != "", w.currency())},
		member{"per", "tap-season"}, member{"warnings", w.Warnings()})
}

// ProfitJSON is what `profit --json` prints: budgets against today's practice (`--against`).
type ProfitJSON struct {
	Practices []ProfitRowJSON `json:"practices"`
	Currency  string          `json:"currency"`
	Per       string          `json:"per"`
	Warnings  []string        `json:"warnings"`
	Against   string          `json:"against"` // ID of what the budgets are against: today's practice
	Sure      *StandingJSON   `json:"sure"`    // null where nothing is recommended
	Scenarios any             `json:"scenarios"`
}

// StandingJSON is how sure the recommendation is.
type StandingJSON struct {
	Draws       int        `json:"draws"`
	ChanceSE    Number     `json:"chance_se"` // largest standard error of the simulation of any chance
	WouldChange []TurnJSON `json:"would_change"`
}

// TurnJSON is the nearest number, in base units, at which another option comes first.
type TurnJSON struct {
	What  string `json:"what"` // the key of an assumption, or "gain." and a treatment, a fraction
	Side  string `json:"side"` // "below" or "above"
	At    Number `json:"at"`
	Takes string `json:"takes"`
}

// ProfitRowJSON is one option; Practice is its ID: "check-valve", "new-drop/3". Its gain, its budget and its nets are
// as the studies say, at best guesses; the intervals, the chances and the order of rows are over all that is unsure,
// with gains about gain_used_pct.
type ProfitRowJSON struct {
	Practice        string     `json:"practice"`
	GainPct         Number     `json:"gain_pct"`
	AddedReturns    Number     `json:"added_returns"`
	ReducedCosts    Number     `json:"reduced_costs"`
	AddedCosts      Number     `json:"added_costs"`
	ReducedReturns  Number     `json:"reduced_returns"`
	Net             Number     `json:"net"`
	Minutes         Number     `json:"minutes"`
	PlasticG        Number     `json:"plastic_g"`
	Dominated       *bool      `json:"dominated"` // null where it is in no marginal analysis: not permitted, or not studied
	MarginalRatePct *Number    `json:"marginal_rate_pct"`
	Permitted       bool       `json:"permitted"`
	Lines           []LineJSON `json:"lines"`

	NetLow             Number   `json:"net_low"`
	NetHigh            Number   `json:"net_high"`
	NetUnsanitized     Number   `json:"net_unsanitized"`
	NetUnsanitizedLow  Number   `json:"net_unsanitized_low"`
	NetUnsanitizedHigh Number   `json:"net_unsanitized_high"`
	ChanceBest         *Number  `json:"chance_best"`   // null where none is stated
	ChanceLosing       *Number  `json:"chance_losing"` // of netting less than today's practice
	Studied            bool     `json:"studied"`
	Why                []string `json:"why"` // why it is held back

	// the net on average over what is unsure, gains, prices and work, by which rows are ordered; null of a range
	NetExpected *Number `json:"net_expected"`
	GainUsedPct Number  `json:"gain_used_pct"` // the gain that the money rests on
	// the way there against going on as today: net_by_season at best guesses, net_expected their equal yearly amount on
	// average; null of a range
	Way any `json:"way"`
}

// LineJSON is one signed amount.
type LineJSON struct {
	Name   string `json:"name"`
	Amount Number `json:"amount"`
}

// ProfitJSON gives the ranking, in its order.
func (w *View) ProfitJSON() ProfitJSON {
	j := ProfitJSON{Practices: []ProfitRowJSON{}, Currency: w.currency(), Per: "tap-season", Warnings: w.Warnings()}
	if c := w.A.Reference; w.A.Input.Prices != nil {
		j.Against = advice.Option{Practice: cmp.Or(c.Practice, practice.NewSpout), Every: c.Every, With: c.With}.ID()
	}
	for _, o := range w.A.Ranking {
		j.Practices = append(j.Practices, w.profitRow(o))
	}
	j.Scenarios = w.scenariosJSON()
	if s := w.A.Sure; s != nil {
		j.Sure = &StandingJSON{Draws: s.Draws, ChanceSE: Number(s.Error), WouldChange: []TurnJSON{}}
		for _, t := range s.Turns {
			x := TurnJSON{What: t.Assumption.Key, Side: "above", At: Number(t.At), Takes: t.Takes}
			if t.Gain != nil {
				x.What = "gain." + treatmentID(*t.Gain)
			}
			if t.Below {
				x.Side = "below"
			}
			j.Sure.WouldChange = append(j.Sure.WouldChange, x)
		}
	}
	return j
}

func (w *View) profitRow(o advice.Option) ProfitRowJSON {
	b := o.Says.Today
	minutes, plastic := Number(b.TotalMinutes()), Number(b.PlasticG)
	known, weighed, _ := w.told(o, cmp.Or(w.A.Reference.Practice, practice.NewSpout))
	if !known {
		minutes = Number(math.NaN())
	}
	if !weighed {
		plastic = Number(math.NaN())
	}
	row := ProfitRowJSON{
		Practice: o.ID(), GainPct: Number(o.Says.GainPct),
		AddedReturns: Number(b.AddedReturns), ReducedCosts: Number(b.ReducedCosts),
		AddedCosts: Number(b.AddedCosts), ReducedReturns: Number(b.ReducedReturns), Net: Number(b.Net),
		Minutes: minutes, PlasticG: plastic,
		MarginalRatePct: number(o.MarginalRatePct), Permitted: o.Verdict == practice.Permitted,
		Lines:  []LineJSON{},
		NetLow: Number(o.Today.NetLow), NetHigh: Number(o.Today.NetHigh),
		NetUnsanitized:    Number(o.Says.Unsanitized.Net),
		NetUnsanitizedLow: Number(o.Unsanitized.NetLow), NetUnsanitizedHigh: Number(o.Unsanitized.NetHigh),
		ChanceBest: number(o.ChanceBest), ChanceLosing: number(o.ChanceLose),
		Studied: o.Studied, Why: []string{},
		NetExpected: number(o.Today.Expected), GainUsedPct: Number(o.GainPct),
		Way: wayObject(o.Way),
	}
	if o.Studied && o.Verdict == practice.Permitted {
		row.Dominated = &o.Dominated
	}
	for _, r := range o.Reasons {
		row.Why = append(row.Why, w.V.Note(r))
	}
	for _, l := range b.Lines {
		row.Lines = append(row.Lines, LineJSON{w.line(l), Number(l.Amount)})
	}
	return row
}
