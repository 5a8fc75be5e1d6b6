package show

import (
	"strconv"

	"spile/internal/engine/advice"
	"spile/internal/engine/sure"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

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
		Practices: []SureRowJSON{}, Draws: r.Summary.Draws, Aversion: Number(r.Summary.Aversion),
		EVPI: Number(r.Summary.EVPI), EVPISE: Number(r.Summary.EVPIError),
		EVPPI: []KnownJSON{}, Variance: []PartJSON{}, Swings: []SwingJSON{}, BreakEven: []BreakJSON{},
		Currency: w.currency(), Per: "tap-season", Warnings: w.Warnings(),
	}
	outlook := func(row sure.Row, o sure.Outlook) OutlookJSON {
		x := OutlookJSON{
			Mean: Number(o.Mean), SE: Number(o.MeanError), P5: Number(o.P5), P25: Number(o.P25), P50: Number(o.P50),
			P75: Number(o.P75), P95: Number(o.P95),
			Lose: Number(o.Lose), Regret: Number(o.Regret), RegretSE: Number(o.RegretError),
			Certainty: Number(o.Certainty), CertainSE: Number(o.CertaintyError),
			First: append([]string{}, o.First...), Second: append([]string{}, o.Second...),
		}
		if row.Open {
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
		j.Practices = append(j.Practices, SureRowJSON{row.ID, row.Open, outlook(row, row.Long),
			outlook(row, row.Season)})
	}
	for _, k := range known.Known {
		what := k.Group
		if k.Treatment >= 0 {
			what = w.factorID(r, "", k.Treatment)
		}
		j.EVPPI = append(j.EVPPI, KnownJSON{what, Number(k.EVPPI), Number(k.Error)})
	}
	for _, p := range known.Parts {
		j.Variance = append(j.Variance, PartJSON{p.Group, Number(p.First), Number(p.FirstError), Number(p.Total),
			Number(p.TotalError)})
	}
	for _, s := range h.Swings {
		j.Swings = append(j.Swings, SwingJSON{w.factorID(r, s.Key, s.Treatment), Number(s.Low), Number(s.High),
			Number(s.NetLow), Number(s.NetHigh), s.BestLow, s.BestHigh})
	}
	for _, b := range h.Breaks {
		j.BreakEven = append(j.BreakEven, BreakJSON{w.factorID(r, b.Key, b.Treatment), Number(b.Best), number(b.Below),
			b.BelowTakes, number(b.Above), b.AboveTakes})
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
	// What nets more than what is recommended, and rests on one study; "": nothing does.
	Promising string   `json:"promising"`
	Warnings  []string `json:"warnings"`
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
	AtEdge     bool     `json:"at_edge"` // beyond this size none was looked at
}

// WorthJSON gives the ranked candidates.
func (w *View) WorthJSON(n *advice.Next) WorthJSON {
	q := n.Options
	j := WorthJSON{
		Trials: []TrialWorthJSON{}, Perfect: Number(n.Perfect), SE: Number(n.Error), Taps: Number(q.Taps),
		Adoption: Number(q.Adoption),
		Seasons:  q.Seasons, Discount: Number(q.Discount), Currency: w.currency(), Warnings: w.Warnings(),
	}
	if n.Promising != nil {
		j.Promising = n.Promising.ID()
	}
	for _, x := range n.Ranked {
		row := TrialWorthJSON{
			Blocks: x.Trial.Blocks, Units: x.Trial.Units, Seasons: x.Trial.Seasons, Site: x.Trial.Site,
			EVSI: Number(x.EVSI), SE: Number(x.Error),
			Changes: Number(x.Changes), Benefit: Number(x.Benefit), Forgone: Number(x.Forgone), Cost: Number(x.Cost),
			Net: Number(x.Net), AtEdge: x.Edge,
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
		m.Winner, m.Lead, m.Net = append(m.Winner, ids), append(m.Lead, numbers(c.Lead[j])),
			append(m.Net, numbers(c.Net[j]))
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
