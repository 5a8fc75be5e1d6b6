package show

import (
	"spile/internal/engine/year"
)

// yearJSON is how far a season strays: standard deviations of logarithms, correlations, and of how many past seasons
// each is, 0 where it is assumed.
func (w *View) yearJSON() any {
	y, told := w.A.Input.Year()
	return object{{"yield_sd", y.SD[year.Yield]}, {"sugar_sd", y.SD[year.Sugar]}, {"price_sd", y.SD[year.Price]},
		{"yield_price", y.Together[year.Yield][year.Price]}, {"yield_sugar", y.Together[year.Yield][year.Sugar]},
		{"sugar_price", y.Together[year.Sugar][year.Price]}, {"yield_seasons", told[year.Yield]},
		{"sugar_seasons", told[year.Sugar]}, {"price_seasons", told[year.Price]}}
}

// Single is what each practice that may be chosen nets in a poor season, a usual and a good one, and what a tap then
// brings.
func (w *View) Single() Table {
	v, r := w.V, w.A.Weighed.Prospect
	money := w.currency()
	t := Table{ID: "single-season", Title: v.Text("In a poor, a usual and a good season"), Columns: []Column{
		wordy("practice", v.Text("practice")),
		sums(v, "poor", v.Text("net, poor"), money), sums(v, "usual", v.Text("net, usual"), money),
		sums(v, "good", v.Text("net, good"), money),
		sums(v, "brings_poor", v.Text("brings, poor"), money), sums(v, "brings_usual", v.Text("brings, usual"), money),
		sums(v, "brings_good", v.Text("brings, good"), money),
	}, Lead: w.strays()}
	for k, row := range r.Summary.Rows {
		o := row.Season
		if !row.Open {
			continue
		}
		t.Rows = append(t.Rows, Row{ID: row.ID, Best: k == r.Best, Strong: k == r.Best, Cells: []Cell{
			words(w.choice(row.Choice)), decimal(v, o.Poor, 2), decimal(v, o.P50, 2), decimal(v, o.Good, 2),
			decimal(v, o.Brings[0], 2), decimal(v, o.Brings[1], 2), decimal(v, o.Brings[2], 2),
		}})
	}
	t.note(v.Text("Poor: one season in ten is poorer. Good: one in ten is better. Net: over today's practice. " +
		"Brings: what the sap of a tap brings, less boiling and all that the practice takes."))
	return t
}

// strays says how far seasons stray and how that is known.
func (w *View) strays() string {
	v := w.V
	y, told := w.A.Input.Year()
	part := func(i int) string { return v.Percent(100 * year.CV(y.SD[i])) }
	how := v.Text("that is assumed (common practice, no source)")
	if n := max(told[year.Yield], told[year.Sugar], told[year.Price]); n > 0 {
		how = v.Text("that is from %d past seasons", n)
	} else if s := w.A.Input.Prices.Seasons; s.Yield != nil || s.Sugar != nil || s.Price != nil {
		how = v.Text("that is as the prices say")
	}
	return v.Text("A season strays from the mean by %s in yield, %s in sugar and %s in price, in all practices "+
		"alike; %s.",
		part(year.Yield), part(year.Sugar), part(year.Price), how)
}

// single says what the best nets in a poor, a usual and a good season.
func (w *View) single() string {
	v, r, money := w.V, w.A.Weighed.Prospect, w.currency()
	o := r.Summary.Rows[r.Best].Season
	brings := v.Text("It brings %s a tap in a poor season, of which there is one in ten, %s in a usual and %s in a "+
		"good one, less all that it costs.", v.Money(o.Brings[0], money), v.Money(o.Brings[1], money),
		v.Money(o.Brings[2], money))
	if r.Best == r.Model.Today {
		return brings
	}
	return v.Text("%s Over today's practice it nets less than %s in one season of ten, %s in the usual one, and more "+
		"than %s in one of ten.", brings, v.Money(o.Poor, money), v.Money(o.P50, money), v.Money(o.Good, money))
}
