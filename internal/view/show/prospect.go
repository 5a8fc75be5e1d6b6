package show

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/sure"
	"spile/internal/engine/worth"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/figure"
)

// Outlook is what each option is likely to net against today's practice: the long run, or one single season.
func (w *View) Outlook(r *advice.Prospect, season bool) Table {
	v, money := w.V, w.currency()
	spare := v.Text("The 25 and 75 %% points are left out here for want of width; the page How sure and --json have them.")
	t := Table{
		ID:    "outlook",
		Title: v.Text("What each practice is likely to net against today's, a tap and season, over the long run"),
		Lead:  v.Text("Gains, prices, wages and work drawn together %s times. Best: chance that nothing else that may be chosen nets more. Losing: chance of netting less than today's practice.", v.Count(r.Summary.Draws)),
		Columns: []Column{
			{ID: "practice", Name: v.Text("practice")},
			{ID: "mean", Name: v.Text("mean"), Unit: money, Right: true},
			{ID: "p5", Name: "5 %", Right: true}, {ID: "p25", Name: "25 %", Right: true, Spare: spare}, {ID: "p50", Name: "50 %", Right: true},
			{ID: "p75", Name: "75 %", Right: true, Spare: spare}, {ID: "p95", Name: "95 %", Right: true},
			{ID: "best_pct", Name: v.Text("best"), Unit: "%", Right: true},
			{ID: "lose_pct", Name: v.Text("losing"), Unit: "%", Right: true},
			{ID: "beat_spouts_pct", Name: v.Text("above new spouts"), Unit: "%", Right: true},
			{ID: "regret", Name: v.Text("regret"), Unit: money, Right: true},
			{ID: "certain", Name: v.Text("sure worth"), Unit: money, Right: true},
			{ID: "dominated", Name: v.Text("dominated by")},
		},
	}
	if season {
		t.ID = "outlook-season"
		t.Title = v.Text("The same in one single season")
		t.Lead = v.Text("One season at one sugarbush swings more than the long run: sites and seasons differ, whatever is done.")
	}
	if g := r.Model.Gains; season && g.Study == 0 && g.Site == 0 {
		t.Lead = v.Text("No spread between studies or sites was found, so that one season looks as the long run does. A real one swings more.")
	}
	var notes lettered
	for k, row := range r.Summary.Rows {
		o := row.Long
		if season {
			o = row.Season
		}
		dominated := words("")
		if len(o.First) > 0 {
			dominated = words(w.ids(r, o.First[:1]))
			dominated.Marks = append(dominated.Marks, notes.mark(v.Text("to the first degree: at every chance it nets no less")))
		} else if len(o.Second) > 0 {
			dominated = words(w.ids(r, o.Second[:1]))
			dominated.Marks = append(dominated.Marks, notes.mark(v.Text("to the second degree: whoever dislikes risk prefers it")))
		}
		best, spouts := none(v), none(v)
		if row.Open && r.Summary.Chances {
			best = chance(v, &o.Best)
		}
		if r.Model.Spouts >= 0 && k != r.Model.Spouts {
			spouts = chance(v, &o.BeatSpouts)
		}
		lose := chance(v, &o.Lose)
		if k == r.Model.Today {
			lose = none(v)
		}
		t.Rows = append(t.Rows, Row{ID: row.ID, Best: k == r.Best, Strong: k == r.Best, Dim: !row.Open, Cells: []Cell{
			words(w.choice(row.Choice)), decimal(v, o.Mean, 2),
			decimal(v, o.P5, 2), decimal(v, o.P25, 2), decimal(v, o.P50, 2), decimal(v, o.P75, 2), decimal(v, o.P95, 2),
			best, lose, spouts, decimal(v, o.Regret, 2), decimal(v, o.Certainty, 2), dominated,
		}})
	}
	t.Notes = notes
	if !r.Summary.Chances {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("A gain has fewer than three degrees of freedom: no chance of being best is stated.")})
	}
	t.Notes = append(t.Notes, Footnote{Text: v.Text("Regret: what is lost on average by choosing it now over what turns out best. Sure worth: the net for certain that would be as good, to one whose aversion to risk is %s per %s a tap.", v.Decimal(r.Summary.Aversion, 1), money)})
	worst, most := 0.0, 0.0
	for _, row := range r.Summary.Rows {
		o := row.Long
		if season {
			o = row.Season
		}
		worst, most = max(worst, o.MeanError, o.RegretError, o.CertaintyError), max(most, o.BestError, o.LoseError, o.BeatSpoutsError)
	}
	t.Notes = append(t.Notes, Footnote{Text: v.Text("Standard error of the simulation: at most %s %s of a mean and %s %% of a chance. Options that are not permitted or not studied are never best.",
		v.Decimal(worst, 3), money, v.Decimal(100*most, 1))})
	return t
}

// likely is a table of Outlook without what a statistician asks for.
func likely(t Table) Table {
	t.Notes = t.Notes[len(t.Notes)-1:] // the error of the simulation
	return t.less("p25", "p75", "regret", "certain", "dominated")
}

func (w *View) ids(r *advice.Prospect, ids []string) string {
	var names []string
	for _, id := range ids {
		for _, o := range r.Model.Options {
			if o.ID == id {
				names = append(names, w.choice(o.Choice))
			}
		}
	}
	return w.V.List(names)
}

// widest is how many swings are shown.
const widest = 12

func (w *View) swingsTitle(r *advice.Prospect) string {
	best := w.choice(r.Model.Options[r.Best].Choice)
	if r.Against() == r.Model.Today {
		return w.V.Text("What moves the net of %s against today's, one at a time", best)
	}
	return w.V.Text("What moves the lead of %s over %s, one at a time", best, w.choice(r.Model.Options[r.Against()].Choice))
}

// Swings is what moves the net of the best option most.
func (w *View) Swings(r *advice.Prospect, h advice.Hangs) Table {
	v, money := w.V, w.currency()
	t := Table{
		ID:    "swings",
		Title: w.swingsTitle(r),
		Columns: []Column{
			{ID: "assumption", Name: v.Text("assumption")},
			{ID: "low", Name: v.Text("low"), Right: true}, {ID: "high", Name: v.Text("high"), Right: true},
			{ID: "unit", Name: v.Text("unit")},
			{ID: "net_low", Name: v.Text("net at low"), Unit: money, Right: true},
			{ID: "net_high", Name: v.Text("net at high"), Unit: money, Right: true},
			{ID: "best_low", Name: v.Text("best at low")}, {ID: "best_high", Name: v.Text("best at high")},
		},
	}
	now := r.Model.Options[r.Best].ID
	other := func(id string) Cell {
		if id == now {
			return words("")
		}
		return words(w.ids(r, []string{id}))
	}
	for _, s := range h.Swings[:min(widest, len(h.Swings))] {
		name, m := w.factor(r, s.Key, s.Treatment)
		t.Rows = append(t.Rows, Row{ID: w.factorID(r, s.Key, s.Treatment), Cells: []Cell{
			words(name), decimal(v, s.Low*m.Factor, m.Digits), decimal(v, s.High*m.Factor, m.Digits), words(m.Unit),
			decimal(v, s.NetLow, 2), decimal(v, s.NetHigh, 2), other(s.BestLow), other(s.BestHigh),
		}})
	}
	return t
}

// factor names an assumption or the gain of a treatment, with its unit.
func (w *View) factor(r *advice.Prospect, key string, treatment int) (string, Measured) {
	if treatment >= 0 {
		return w.V.Text("gain of %s", w.Treatment(r.Model.Gains.Treatments[treatment])), Measured{Factor: 100, Unit: "%", Digits: 0}
	}
	for _, a := range r.Assumptions {
		if a.Key == key {
			return w.V.Note(a.Name), w.Measure(a.Measure)
		}
	}
	return key, Measured{Factor: 1}
}

func (w *View) factorID(r *advice.Prospect, key string, treatment int) string {
	if treatment >= 0 {
		return "gain." + treatmentID(r.Model.Gains.Treatments[treatment])
	}
	return key
}

// Breaks is at which value of an assumption another option comes first.
func (w *View) Breaks(r *advice.Prospect, h advice.Hangs) Table {
	v := w.V
	t := Table{
		ID:    "break-even",
		Title: v.Text("Where another practice would come first"),
		Lead:  v.Text("Each assumption alone, all others at their best guesses. Assumptions that change nothing within reason are left out."),
		Columns: []Column{
			{ID: "assumption", Name: v.Text("assumption")}, {ID: "best", Name: v.Text("now"), Right: true},
			{ID: "below", Name: v.Text("below"), Right: true}, {ID: "below_takes", Name: v.Text("then first")},
			{ID: "above", Name: v.Text("above"), Right: true}, {ID: "above_takes", Name: v.Text("then first")}, {ID: "unit", Name: v.Text("unit")},
		},
	}
	for _, b := range h.Breaks {
		if b.Below == nil && b.Above == nil {
			continue
		}
		name, m := w.factor(r, b.Key, b.Treatment)
		cell := func(x *float64) Cell {
			if x == nil {
				return none(v)
			}
			return decimal(v, *x*m.Factor, m.Digits)
		}
		t.Rows = append(t.Rows, Row{ID: w.factorID(r, b.Key, b.Treatment), Cells: []Cell{
			words(name), decimal(v, b.Best*m.Factor, m.Digits),
			cell(b.Below), words(w.ids(r, []string{b.BelowTakes})), cell(b.Above), words(w.ids(r, []string{b.AboveTakes})), words(m.Unit),
		}})
	}
	return t
}

// Knowing is how much of the uncertainty each group holds, and what it would be worth to know it.
func (w *View) Knowing(r *advice.Prospect, k advice.Knowing) Table {
	v, money := w.V, w.currency()
	next := none(v).Text
	if r.Next >= 0 {
		next = w.choice(r.Model.Options[r.Next].Choice)
	}
	t := Table{
		ID:    "knowing",
		Title: v.Text("What it would be worth to know"),
		Lead:  v.Text("A tap and season, before choosing. Variance: part of the uncertainty of the lead of %s over %s, alone and with all that goes with it.", w.choice(r.Model.Options[r.Best].Choice), next),
		Columns: []Column{
			{ID: "group", Name: v.Text("what")},
			{ID: "worth", Name: v.Text("worth"), Unit: money, Right: true},
			{ID: "first_pct", Name: v.Text("variance alone"), Unit: "%", Right: true},
			{ID: "total_pct", Name: v.Text("in all"), Unit: "%", Right: true},
		},
	}
	t.Rows = append(t.Rows, Row{ID: "everything", Strong: true, Cells: []Cell{words(v.Text("everything")), decimal(v, r.Summary.EVPI, 3), none(v), none(v)}})
	worth, share := r.Summary.EVPIError, 0.0 // standard errors
	for _, p := range k.Parts {
		share = max(share, p.FirstError, p.TotalError)
	}
	for _, x := range k.Known {
		worth = max(worth, x.Error)
		name := v.Term(note.Term(x.Group))
		if joined := strings.Split(x.Group, " + "); len(joined) > 1 { // by correlations
			name = ""
			for _, g := range []note.Term{"prices", "labour", "sap", "materials", "farm"} {
				if slices.Contains(joined, string(g)) {
					name += " + " + v.Term(g)
				}
			}
			name = strings.TrimPrefix(name, " + ")
		}
		row := Row{ID: x.Group, Cells: []Cell{words(name), decimal(v, x.EVPPI, 3), none(v), none(v)}}
		if x.Treatment >= 0 {
			t := r.Model.Gains.Treatments[x.Treatment]
			row.ID, row.Cells[0] = "gain."+string(t.Practice), words(v.Text("gain of %s", w.Treatment(t)))
		}
		for _, p := range k.Parts {
			if p.Group == x.Group && x.Treatment < 0 {
				row.Cells[2], row.Cells[3] = decimal(v, 100*max(0, p.First), 0), decimal(v, 100*p.Total, 0) // less than nothing is the simulation's error
			}
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = []Footnote{{Text: v.Text("Standard error of the simulation: at most %s %s of a worth and %s %% of a part of the variance.", v.Decimal(worth, 3), money, v.Decimal(100*share, 1))}}
	return t
}

// Trials is the trials that could be run next, each at its best size.
func (w *View) Trials(n *advice.Next) Table {
	v, money, q, list := w.V, w.currency(), n.Options, n.Ranked
	t := Table{
		ID:    "next-trial",
		Title: v.Text("Which trial is worth running next"),
		Lead: v.Text("Each at its best number of blocks of those tried (%d to %d), %s; for %s taps of which %s %% do what pays best, over %d seasons.",
			q.Design.Blocks[0], q.Design.Blocks[len(q.Design.Blocks)-1], w.staged(q.Design), v.Decimal(q.Taps, 0), v.Decimal(100*q.Adoption, 0), q.Seasons),
		Columns: []Column{
			{ID: "trial", Name: v.Text("trial")}, {ID: "blocks", Name: v.Text("blocks"), Right: true},
			{ID: "net", Name: v.Text("net"), Unit: money, Right: true},
			{ID: "benefit", Name: v.Text("benefit"), Unit: money, Right: true},
			{ID: "cost", Name: v.Text("cost"), Unit: money, Right: true},
			{ID: "changes_pct", Name: v.Text("changes the choice"), Unit: "%", Right: true},
			{ID: "evsi", Name: v.Text("worth a tap and season"), Unit: money, Right: true},
		},
	}
	nothing := Row{ID: "no-trial", Cells: []Cell{words(v.Text("no trial")), count(v, 0), decimal(v, 0, 0), decimal(v, 0, 0), decimal(v, 0, 0), decimal(v, 0, 0), decimal(v, 0, 3)}}
	placed := false
	worst, most := n.Error, 0.0 // standard errors
	var notes lettered
	for i, x := range list {
		worst, most = max(worst, x.Error), max(most, x.NetError())
		if x.Net < 0 && !placed {
			nothing.Best, nothing.Strong, placed = i == 0, i == 0, true
			t.Rows = append(t.Rows, nothing)
		}
		first := i == 0 && x.Net >= 0
		name := words(w.called(x.Trial))
		if len(x.Trial.Treatments) > many {
			name.Marks = append(name.Marks, notes.mark(w.trial(x.Trial)))
		}
		t.Rows = append(t.Rows, Row{ID: trialID(x.Trial), Best: first, Strong: first, Dim: x.Net < 0, Cells: []Cell{
			name, count(v, x.Trial.Blocks), decimal(v, math.Round(x.Net), 0), decimal(v, math.Round(x.Benefit), 0),
			decimal(v, math.Round(x.Cost), 0), decimal(v, 100*x.Changes, 0), decimal(v, x.EVSI, 3),
		}})
	}
	if !placed {
		t.Rows = append(t.Rows, nothing)
	}
	t.Notes = append(notes, []Footnote{
		{Text: v.Text("Knowing every gain for sure would be worth %s %s a tap and season: no trial is worth more.", v.Decimal(n.Perfect, 3), money)},
		{Text: v.Text("Standard error of the simulation: at most %s %s of what a trial is worth a tap and season, and %s %s of its net.",
			v.Decimal(worst, 3), money, v.Decimal(math.Ceil(most), 0), money)},
		{Text: v.Text("The spreads between studies and sites are held at their estimates; prices and work count with all that they may be. What seasons and sites differ by caps what more blocks can buy: another season or site tells more.")},
	}...)
	if n.Rough {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("A gain has fewer than three degrees of freedom: what a trial is worth is a rough guide.")})
	}
	return t
}

// many is how many practices a trial has to have for a short name.
const many = 4

// called is the name of a trial, short where it holds many practices: trial names them.
func (w *View) called(t worth.Trial) string {
	if n := len(t.Treatments) - 1; n >= many {
		return w.V.Text("%d practices in one trial, against %s", n, w.Treatment(t.Treatments[0]))
	}
	return w.trial(t)
}

// staged says where and how long trials run.
func (w *View) staged(d advice.TrialDesign) string {
	seasons := w.V.Text("%d seasons", d.Seasons)
	if d.Site != "" {
		return w.V.Text("%s at %s", seasons, d.Site)
	}
	return w.V.Text("%s at %s", seasons, w.V.Text("%d new sites", max(1, d.Sites)))
}

func trialID(t worth.Trial) string {
	id := ""
	for i, x := range t.Treatments {
		if i > 0 {
			id += "~"
		}
		id += treatmentID(x)
	}
	return id
}

func (w *View) trial(t worth.Trial) string {
	var names []string
	for _, x := range t.Treatments[1:] {
		names = append(names, w.Treatment(x))
	}
	if t.Treatments[0].Practice == practice.Unsanitized {
		return w.V.Text("%s against %s", w.V.List(names), w.Treatment(t.Treatments[0]))
	}
	return w.V.Text("%s against %s, direct", w.V.List(names), w.Treatment(t.Treatments[0]))
}

// SureJSON is what `sure --json` prints.
type SureJSON struct {
	Practices []SureRowJSON `json:"practices"`
	Draws     int           `json:"draws"`
	Aversion  Number        `json:"aversion"`
	EVPI      Number        `json:"evpi"`
	EVPISE    Number        `json:"evpi_se"`
	EVPPI     []KnownJSON   `json:"evppi"`
	Variance  []PartJSON    `json:"variance"`
	Swings    []SwingJSON   `json:"swings"`
	BreakEven []BreakJSON   `json:"break_even"`
	Map       *MapJSON      `json:"map"` // null where fewer than two assumptions are unsure
	Currency  string        `json:"currency"`
	Per       string        `json:"per"`
	Warnings  []string      `json:"warnings"`
}

// MapJSON is which option comes first over two assumptions: lists by y and then by x.
type MapJSON struct {
	X      AxisJSON   `json:"x"`
	Y      AxisJSON   `json:"y"`
	Winner [][]string `json:"winner"`
	Lead   [][]Number `json:"lead"`
	Net    [][]Number `json:"net"`
}

// AxisJSON is one assumption of a map.
type AxisJSON struct {
	Assumption string   `json:"assumption"`
	Best       Number   `json:"best"`
	At         []Number `json:"at"`
}

// SureRowJSON is one option.
type SureRowJSON struct {
	Practice string      `json:"practice"`
	Open     bool        `json:"open"`
	Long     OutlookJSON `json:"long_run"`
	Season   OutlookJSON `json:"season"`
}

// OutlookJSON is an outlook; chances are null where none is stated.
type OutlookJSON struct {
	Mean       Number   `json:"mean"`
	SE         Number   `json:"mean_se"`
	P5         Number   `json:"p5"`
	P25        Number   `json:"p25"`
	P50        Number   `json:"p50"`
	P75        Number   `json:"p75"`
	P95        Number   `json:"p95"`
	Best       *Number  `json:"chance_best"`
	Lose       Number   `json:"chance_losing"`
	BeatSpouts *Number  `json:"chance_above_new_spout"`
	Regret     Number   `json:"regret"`
	RegretSE   Number   `json:"regret_se"`
	Certainty  Number   `json:"certainty_equivalent"`
	CertainSE  Number   `json:"certainty_equivalent_se"`
	First      []string `json:"dominated_first"`
	Second     []string `json:"dominated_second"`
}

// KnownJSON is the worth of knowing one thing.
type KnownJSON struct {
	What  string `json:"what"`
	EVPPI Number `json:"evppi"`
	SE    Number `json:"se"`
}

// PartJSON is a group's part of the variance.
type PartJSON struct {
	Group   string `json:"group"`
	First   Number `json:"first"`
	FirstSE Number `json:"first_se"`
	Total   Number `json:"total"`
	TotalSE Number `json:"total_se"`
}

// SwingJSON is one assumption moved.
type SwingJSON struct {
	What     string `json:"what"`
	Low      Number `json:"low"`
	High     Number `json:"high"`
	NetLow   Number `json:"net_low"`
	NetHigh  Number `json:"net_high"`
	BestLow  string `json:"best_low"`
	BestHigh string `json:"best_high"`
}

// BreakJSON is where another option comes first.
type BreakJSON struct {
	Assumption string  `json:"assumption"`
	Best       Number  `json:"best"`
	Below      *Number `json:"below"`
	BelowTakes string  `json:"below_takes"`
	Above      *Number `json:"above"`
	AboveTakes string  `json:"above_takes"`
}

// SureJSON gives numbers in base units (see docs/data.md).
func (w *View) SureJSON(r *advice.Prospect, h advice.Hangs, known advice.Knowing, m *advice.Contest) SureJSON {
	j := SureJSON{
		Practices: []SureRowJSON{}, Draws: r.Summary.Draws, Aversion: Number(r.Summary.Aversion), EVPI: Number(r.Summary.EVPI), EVPISE: Number(r.Summary.EVPIError),
		EVPPI: []KnownJSON{}, Variance: []PartJSON{}, Swings: []SwingJSON{}, BreakEven: []BreakJSON{},
		Currency: w.currency(), Per: "tap-season", Warnings: w.Warnings(),
	}
	outlook := func(row sure.Row, o sure.Outlook) OutlookJSON {
		x := OutlookJSON{
			Mean: Number(o.Mean), SE: Number(o.MeanError), P5: Number(o.P5), P25: Number(o.P25), P50: Number(o.P50), P75: Number(o.P75), P95: Number(o.P95),
			Lose: Number(o.Lose), Regret: Number(o.Regret), RegretSE: Number(o.RegretError), Certainty: Number(o.Certainty), CertainSE: Number(o.CertaintyError),
			First: append([]string{}, o.First...), Second: append([]string{}, o.Second...),
		}
		if row.Open && r.Summary.Chances {
			x.Best = number(&o.Best)
		}
		if r.Model.Spouts >= 0 {
			x.BeatSpouts = number(&o.BeatSpouts)
		}
		return x
	}
	if m != nil {
		j.Map = mapJSON(r, *m)
	}
	for _, row := range r.Summary.Rows {
		j.Practices = append(j.Practices, SureRowJSON{row.ID, row.Open, outlook(row, row.Long), outlook(row, row.Season)})
	}
	for _, k := range known.Known {
		what := k.Group
		if k.Treatment >= 0 {
			what = w.factorID(r, "", k.Treatment)
		}
		j.EVPPI = append(j.EVPPI, KnownJSON{what, Number(k.EVPPI), Number(k.Error)})
	}
	for _, p := range known.Parts {
		j.Variance = append(j.Variance, PartJSON{p.Group, Number(p.First), Number(p.FirstError), Number(p.Total), Number(p.TotalError)})
	}
	for _, s := range h.Swings {
		j.Swings = append(j.Swings, SwingJSON{w.factorID(r, s.Key, s.Treatment), Number(s.Low), Number(s.High), Number(s.NetLow), Number(s.NetHigh), s.BestLow, s.BestHigh})
	}
	for _, b := range h.Breaks {
		j.BreakEven = append(j.BreakEven, BreakJSON{w.factorID(r, b.Key, b.Treatment), Number(b.Best), number(b.Below), b.BelowTakes, number(b.Above), b.AboveTakes})
	}
	return j
}

// WorthJSON is what `worth --json` prints.
type WorthJSON struct {
	Trials   []TrialWorthJSON `json:"trials"` // those with a net below 0 are not worth running
	Perfect  Number           `json:"evppi_gains"`
	SE       Number           `json:"evppi_gains_se"`
	Taps     Number           `json:"taps"`
	Adoption Number           `json:"adoption"`
	Seasons  int              `json:"seasons"`
	Discount Number           `json:"discount"`
	Currency string           `json:"currency"`
	Warnings []string         `json:"warnings"`
}

// TrialWorthJSON is one candidate at its best size.
type TrialWorthJSON struct {
	Treatments []string `json:"treatments"`
	Blocks     int      `json:"blocks"`
	Units      int      `json:"units"`
	Seasons    int      `json:"seasons"`
	Site       string   `json:"site"`  // "": new ones
	Sites      int      `json:"sites"` // how many new ones; 0 at a site that is named
	EVSI       Number   `json:"evsi"`
	SE         Number   `json:"evsi_se"`
	Changes    Number   `json:"chance_of_change"`
	Benefit    Number   `json:"benefit"`
	Forgone    Number   `json:"sap_forgone"`
	Cost       Number   `json:"cost"`
	Net        Number   `json:"net"`
}

// WorthJSON gives the ranked candidates.
func (w *View) WorthJSON(n *advice.Next) WorthJSON {
	q := n.Options
	j := WorthJSON{
		Trials: []TrialWorthJSON{}, Perfect: Number(n.Perfect), SE: Number(n.Error), Taps: Number(q.Taps), Adoption: Number(q.Adoption),
		Seasons: q.Seasons, Discount: Number(q.Discount), Currency: w.currency(), Warnings: w.Warnings(),
	}
	for _, x := range n.Ranked {
		row := TrialWorthJSON{
			Blocks: x.Trial.Blocks, Units: x.Trial.Units, Seasons: x.Trial.Seasons, Site: x.Trial.Site, EVSI: Number(x.EVSI), SE: Number(x.Error),
			Changes: Number(x.Changes), Benefit: Number(x.Benefit), Forgone: Number(x.Forgone), Cost: Number(x.Cost), Net: Number(x.Net),
		}
		if x.Trial.Site == "" {
			row.Sites = max(1, x.Trial.Sites)
		}
		for _, t := range x.Trial.Treatments {
			row.Treatments = append(row.Treatments, treatmentID(t))
		}
		j.Trials = append(j.Trials, row)
	}
	return j
}

// treatmentID is "new-drop", or "new-drop:4" where its drops are in their fifth season.
func treatmentID(t practice.Treatment) string {
	if t.DropAge == 0 {
		return string(t.Practice)
	}
	return string(t.Practice) + ":" + strconv.Itoa(t.DropAge)
}

func mapJSON(r *advice.Prospect, c advice.Contest) *MapJSON {
	axis := func(a price.Assumption, at []float64) AxisJSON {
		return AxisJSON{a.Key, Number(a.Value.Best), numbers(at)}
	}
	m := &MapJSON{X: axis(c.X, c.Map.X), Y: axis(c.Y, c.Map.Y)}
	for j, row := range c.Winner {
		var ids []string
		for _, k := range row {
			ids = append(ids, r.Model.Options[k].ID)
		}
		m.Winner, m.Lead, m.Net = append(m.Winner, ids), append(m.Lead, numbers(c.Lead[j])), append(m.Net, numbers(c.Net[j]))
	}
	return m
}

func numbers(x []float64) []Number {
	list := make([]Number, len(x))
	for i, v := range x {
		list[i] = Number(v)
	}
	return list
}

// ContestTable is the map of two assumptions in words: who comes first, and by how much, at seven values of each.
func (w *View) ContestTable(r *advice.Prospect, c advice.Contest) Table {
	v := w.V
	x, y := w.Measure(c.X.Measure), w.Measure(c.Y.Measure)
	letters, names := w.contestOrder(r, c)
	t := Table{
		ID:      "map",
		Title:   v.Text("Which practice pays best where"),
		Lead:    v.Text("Across: %s. Down: %s. All others stand at their best guesses. Each number is by how much the practice leads, %s a tap and season.", w.assumption(c.X), w.assumption(c.Y), w.currency()),
		Columns: []Column{{ID: "y", Name: v.Note(c.Y.Name), Right: true}},
	}
	const steps = 7
	at := func(k, n int) int { return k * (n - 1) / (steps - 1) }
	for k := range steps {
		value := c.Map.X[at(k, len(c.Map.X))] * x.Factor
		t.Columns = append(t.Columns, Column{ID: "x_" + strconv.FormatFloat(value, 'g', 6, 64), Name: v.Decimal(value, x.Digits)})
	}
	for k := steps - 1; k >= 0; k-- {
		j := at(k, len(c.Map.Y))
		value := c.Map.Y[j] * y.Factor
		row := Row{ID: strconv.FormatFloat(value, 'g', 6, 64), Cells: []Cell{decimal(v, value, y.Digits)}}
		for n := range steps {
			i := at(n, len(c.Map.X))
			row.Cells = append(row.Cells, num(figure.Letter(letters[c.Winner[j][i]])+"\u00a0"+v.Decimal(c.Lead[j][i], 2), c.Lead[j][i]))
		}
		t.Rows = append(t.Rows, row)
	}
	for k, name := range names {
		t.Notes = append(t.Notes, Footnote{Text: v.Text("%s: %s", figure.Letter(k), name)})
	}
	return t
}

// Certainty says how sure the recommendation is, in the long run and in one season, and what would change it.
func (w *View) Certainty() []string {
	v, x := w.V, w.A.Weighed
	o, ok := w.A.Best()
	if x == nil || x.Prospect == nil || !ok {
		return []string{v.Text("Nothing is recommended, so that nothing can be said of how sure it is.")}
	}
	row := x.Prospect.Summary.Rows[x.Prospect.Best]
	var list []string
	switch {
	case !x.Prospect.Summary.Chances:
		list = append(list, v.Text("How likely %s is to be best cannot be said: a gain rests on too few studies.", w.Option(o)))
	case o.IsToday:
		list = append(list, v.Text("%s pays best with a chance of %s over the long run, and of %s in one single season.",
			capital(w.Option(o)), InPercent(v, row.Long.Best), InPercent(v, row.Season.Best)))
	default:
		list = append(list, v.Text("%s pays best with a chance of %s over the long run, and of %s in one single season; it nets less than today's practice with a chance of %s and of %s.",
			capital(w.Option(o)), InPercent(v, row.Long.Best), InPercent(v, row.Season.Best), InPercent(v, row.Long.Lose), InPercent(v, row.Season.Lose)))
	}
	if t := w.turns(); t != "" {
		list = append(list, capital(t)+".")
	}
	return list
}

// NextTrial says which trial to run next.
func (w *View) NextTrial() []string {
	v, x := w.V, w.A.Weighed
	if x == nil || x.Next == nil || len(x.Next.Ranked) == 0 {
		return []string{v.Text("Nothing is recommended, so that nothing can be said of what a trial would change.")}
	}
	best, money := x.Next.Ranked[0], w.currency()
	if best.Net <= 0 {
		return []string{v.Text("No trial is worth its cost: the best, %s, costs %s and is expected to bring %s.",
			w.trial(best.Trial), v.Sum(best.Cost, money), v.Sum(best.Benefit, money))}
	}
	return []string{
		v.Text("Worth running next: %s, with %s. It costs %s and is expected to bring %s to all who use its answer.",
			w.trial(best.Trial), v.Text("%d blocks", best.Trial.Blocks), v.Sum(best.Cost, money), v.Sum(best.Benefit, money)),
		v.Text("It changes which practice pays best with a chance of %s; the more can change, the more it is worth.", InPercent(v, best.Changes)),
	}
}
