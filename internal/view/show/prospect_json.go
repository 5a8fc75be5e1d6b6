package show

import (
	"strconv"

	"spile/internal/engine/advice"
	"spile/internal/engine/sure"
	"spile/internal/engine/worth"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// SureJSON is what `sure --json` prints, in base units (docs/data.md). Chances are null where none is stated; the map
// is where fewer than two assumptions are unsure.
func (w *View) SureJSON(r *advice.Prospect, h advice.Hangs, known advice.Knowing, m *advice.Contest) any {
	outlook := func(row sure.Row, o sure.Outlook) object {
		var best, spouts *float64
		if row.Open {
			best = &o.Best
		}
		if r.Model.Spouts >= 0 {
			spouts = &o.BeatSpouts
		}
		return object{{"mean", o.Mean}, {"mean_se", o.MeanError}, {"p5", o.P5}, {"p25", o.P25}, {"p50", o.P50},
			{"p75", o.P75}, {"p95", o.P95}, {"chance_best", best}, {"chance_losing", o.Lose},
			{"chance_above_new_spout", spouts}, {"regret", o.Regret}, {"regret_se", o.RegretError},
			{"certainty_equivalent", Number(o.Certainty)},
			{"certainty_equivalent_se", Number(o.CertaintyError)},
			{"dominated_first", o.First}, {"dominated_second", o.Second}}
	}
	single := func(net, brings float64) object { return object{{"net", net}, {"brings", brings}} }
	return object{
		{"practices", objects(r.Summary.Rows, func(row sure.Row) object {
			return object{{"practice", row.ID}, {"open", row.Open}, {"long_run", outlook(row, row.Long)},
				{"season", append(outlook(row, row.Season),
					member{"poor", single(row.Season.Poor, row.Season.Brings[0])},
					member{"usual", single(row.Season.P50, row.Season.Brings[1])},
					member{"good", single(row.Season.Good, row.Season.Brings[2])})}}
		})},
		{"draws", r.Summary.Draws}, {"aversion", r.Summary.Aversion}, {"evpi", r.Summary.EVPI},
		{"evpi_se", r.Summary.EVPIError},
		{"evppi", objects(known.Known, func(k sure.Known) object {
			what := k.Group
			if k.Treatment >= 0 {
				what = w.factorID(r, "", k.Treatment)
			}
			return object{{"what", what}, {"evppi", k.EVPPI}, {"se", k.Error}}
		})},
		{"variance", objects(known.Parts, func(p sure.Part) object {
			return object{{"group", p.Group}, {"first", p.First}, {"first_se", p.FirstError}, {"total", p.Total},
				{"total_se", p.TotalError}}
		})},
		{"swings", objects(h.Swings, func(s sure.Swing) object {
			return object{{"what", w.factorID(r, s.Key, s.Treatment)}, {"low", s.Low}, {"high", s.High},
				{"net_low", s.NetLow}, {"net_high", s.NetHigh}, {"best_low", s.BestLow}, {"best_high", s.BestHigh}}
		})},
		{"swings_two", objects(h.Pairs, func(p sure.Pair) object {
			return object{{"first", w.factorID(r, p.A.Key, p.A.Treatment)},
				{"second", w.factorID(r, p.B.Key, p.B.Treatment)}, {"net_low_low", p.Net[0][0]},
				{"net_low_high", p.Net[0][1]}, {"net_high_low", p.Net[1][0]}, {"net_high_high", p.Net[1][1]},
				{"best_low_low", p.Best[0][0]}, {"best_low_high", p.Best[0][1]}, {"best_high_low", p.Best[1][0]},
				{"best_high_high", p.Best[1][1]}}
		})},
		{"taps", r.Taps}, {"risk_tolerance", tolerance(r)},
		{"break_even", objects(h.Breaks, func(b sure.BreakEven) object {
			return object{{"assumption", w.factorID(r, b.Key, b.Treatment)}, {"best", b.Best}, {"below", b.Below},
				{"below_takes", b.BelowTakes}, {"above", b.Above}, {"above_takes", b.AboveTakes}}
		})},
		{"year", w.yearJSON()},
		{"map", mapJSON(r, m)}, {"currency", w.currency()}, {"per", "tap-season"}, {"warnings", w.Warnings()},
	}
}

// WorthJSON is what `worth --json` prints: the trials that could be run, each at its best size. Those with a net below
// 0 are not worth running. One at new sites names none, and says how many.
func (w *View) WorthJSON(n *advice.Next) any {
	q, promising := n.Options, "" // it nets more than what is recommended, and rests on one study
	if n.Promising != nil {
		promising = n.Promising.ID()
	}
	return object{
		{"trials", objects(n.Ranked, func(x worth.Worth) object {
			sites := 0
			if x.Trial.Site == "" {
				sites = max(1, x.Trial.Sites)
			}
			var treatments []string
			for _, t := range x.Trial.Treatments {
				treatments = append(treatments, treatmentID(t))
			}
			return object{{"treatments", treatments}, {"blocks", x.Trial.Blocks}, {"units", x.Trial.Units},
				{"seasons", x.Trial.Seasons}, {"site", x.Trial.Site}, {"sites", sites}, {"evsi", x.EVSI},
				{"evsi_se", x.Error}, {"chance_of_change", x.Changes}, {"benefit", x.Benefit},
				{"sap_forgone", x.Forgone}, {"cost", x.Cost}, {"net", x.Net},
				{"at_edge", x.Edge}} // beyond this size none was looked at
		})},
		{"evppi_gains", n.Perfect}, {"evppi_gains_se", n.Error}, {"taps", q.Taps}, {"adoption", q.Adoption},
		{"seasons", q.Seasons}, {"discount", q.Discount}, {"currency", w.currency()}, {"promising", promising},
		{"warnings", w.Warnings()},
	}
}

// treatmentID is "new-drop", or "new-drop:4" where its drops are in their fifth season.
func treatmentID(t practice.Treatment) string {
	if t.DropAge == 0 {
		return string(t.Practice)
	}
	return string(t.Practice) + ":" + strconv.Itoa(t.DropAge)
}

// mapJSON is which option comes first over two assumptions: lists by y and then by x.
func mapJSON(r *advice.Prospect, c *advice.Contest) any {
	if c == nil {
		return nil
	}
	axis := func(a price.Assumption, at []float64) object {
		return object{{"assumption", a.Key}, {"best", a.Value.Best}, {"at", at}}
	}
	winner := make([][]string, len(c.Winner))
	for j, row := range c.Winner {
		for _, k := range row {
			winner[j] = append(winner[j], r.Model.Options[k].ID)
		}
	}
	return object{{"x", axis(c.X, c.Map.X)}, {"y", axis(c.Y, c.Map.Y)}, {"winner", winner}, {"lead", c.Lead},
		{"net", c.Net}}
}

// tolerance is the money of a season with which a sugarbush would just take an even chance to win all or lose half of
// it; nil where no risk is disliked.
func tolerance(r *advice.Prospect) any {
	if r.Summary.Aversion == 0 {
		return nil
	}
	return r.Taps / r.Summary.Aversion
}
