package show

import (
	"strconv"
	"strings"

	"spile/internal/engine/power"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/view/figure"
	"spile/internal/view/say"
)

// LayoutView is a layout in one voice.
type LayoutView struct {
	L   *trial.Layout
	V   *say.Voice
	Set practice.Set
}

// JSON is what `trial design --json` prints.
func (w LayoutView) JSON() any {
	l := w.L
	var unused []string
	for _, u := range l.Out {
		unused = append(unused, u.Name)
	}
	return object{
		{"design", l.Design}, {"seed", l.Seed}, {"reference", l.Reference}, {"error_df", l.DF},
		{"places", objects(l.Places, func(p trial.Place) object {
			return object{{"season", p.Season}, {"block", p.Unit.Block}, {"unit", p.Unit.Name}, {"members?", p.Members},
				{"practice", p.Practice}, {"code?", p.Code}, {"taps", p.Unit.Taps}}
		})},
		{"unused", unused},
		{"keep", objects(l.Keep, func(k trial.Keep) object {
			return object{{"practice", k.Practice}, {"spouts", k.Spouts}, {"drops", k.Drops}}
		})},
		{"warnings", w.V.Notes(l.Notes)},
	}
}

func (w LayoutView) practice(k practice.Key) string { return named(w.V, w.Set, k) }

// Layout is the table of units: a row a unit, a column of practices a season.
func (w LayoutView) Layout() Table {
	v, l := w.V, w.L
	t := Table{ID: "layout", Title: v.Text("Layout from seed %s", strconv.FormatUint(l.Seed, 10)),
		Lead: v.Text("%d units; %d degrees of freedom tell the error. The same seed and units make the same layout.",
			l.Size(), l.DF),
		Columns: []Column{wordy("block", v.Text("block")), wordy("unit", v.Text("unit"))}}
	blind := false
	var seasons []int
	rows := map[string]int{}
	for _, p := range l.Places {
		blind = blind || p.Code != ""
		if len(seasons) == 0 || seasons[len(seasons)-1] != p.Season {
			seasons = append(seasons, p.Season)
		}
	}
	if blind {
		t.Columns = append(t.Columns, wordy("code", v.Text("code")))
	}
	t.Columns = append(t.Columns, numeric("taps", v.Text("taps"), ""))
	for _, s := range seasons {
		name := v.Text("practice")
		if s > 0 {
			name = v.Text("practice in %s", v.Year(s))
		}
		t.Columns = append(t.Columns, wordy("practice_"+strconv.Itoa(s), name))
	}
	for _, p := range l.Places {
		i, have := rows[p.Unit.Name]
		if !have {
			i = len(t.Rows)
			rows[p.Unit.Name] = i
			name := p.Unit.Name
			if len(p.Members) > 0 {
				name = v.Text("%s (%s)", name, strings.Join(p.Members, ", "))
			}
			cells := []Cell{words(p.Unit.Block), words(name)}
			if blind {
				cells = append(cells, words(p.Code))
			}
			t.row(p.Unit.Name, append(cells, count(v, p.Unit.Taps))...)
		}
		t.Rows[i].Cells = append(t.Rows[i].Cells, words(w.practice(p.Practice)))
	}
	return t
}

// Keep is the table of used plastic to keep.
func (w LayoutView) Keep() Table {
	v := w.V
	t := Table{ID: "keep", Title: v.Text("Used plastic to keep as it is"),
		Lead: v.Text("Neither cleaned nor thrown away, for each season."),
		Columns: []Column{wordy("practice", v.Text("practice")), numeric("spouts", v.Text("used spouts"), ""),
			numeric("drops", v.Text("used drops"), "")}}
	for _, k := range w.L.Keep {
		t.row(string(k.Practice), words(w.practice(k.Practice)), count(v, k.Spouts), count(v, k.Drops))
	}
	return t
}

// PowerView is the power of a trial in one voice.
type PowerView struct {
	Trial  power.Trial
	Rows   []power.Row
	Gain   float64       // the gain asked about, in percent
	Past   []string      // the trials that tell the spread; none: it was given
	Curves []power.Curve // of the figure
	V      *say.Voice
}

// JSON is what `trial power --json` prints.
func (w PowerView) JSON() any {
	return object{
		{"design", w.Trial.Design}, {"practices", w.Trial.Practices}, {"seasons", max(1, w.Trial.Seasons)},
		{"alpha", w.Trial.Level},
		{"rows", objects(w.Rows, func(r power.Row) object {
			return object{{"replicates", r.Replicates}, {"units", r.Chance.Units}, {"gain_pct", r.GainPct},
				{"power", r.Chance.Power}, {"power_error", r.Chance.Error}, {"exact", r.Chance.Exact},
				{"smallest_gain_pct", r.SmallestPct}, {"needed", r.Needed}}
		})},
		{"cv_pct", 100 * w.Trial.Spread.Unit}, {"season_cv_pct", 100 * w.Trial.Spread.Season}, {"past", w.Past},
	}
}

// Table is the power by replicates.
func (w PowerView) Table() Table {
	v := w.V
	t := Table{ID: "power", Title: v.Text("What a trial of this size can find"),
		Lead: v.Text("Power is the chance that the gain is found; the smallest gain is the one found four times in " +
			"five."),
		Columns: []Column{
			numeric("replicates", v.Text("replicates"), ""),
			numeric("units", v.Text("units"), ""),
			numeric("gain_pct", v.Text("gain"), "%"),
			numeric("power_pct", v.Text("power"), "%"),
			numeric("smallest_gain_pct", v.Text("smallest gain"), "%"),
		}}
	if past := strings.Join(w.Past, ", "); w.Trial.Spread.Season > 0 && past != "" {
		t.Lead += " " + v.Text("Units treated alike are taken to differ by %s, and one unit by %s more from season "+
			"to season, as in: %s.",
			v.Percent(100*w.Trial.Spread.Unit), v.Percent(100*w.Trial.Spread.Season), past)
	} else if past != "" {
		t.Lead += " " + v.Text("Units treated alike are taken to differ by %s in one season, as in: %s.",
			v.Percent(100*w.Trial.Spread.Unit), past)
	}
	for _, r := range w.Rows {
		power := num(percentage(v, r.Chance.Power), 100*r.Chance.Power)
		if !r.Chance.Exact {
			power.Text = v.Text("%s ± %s", v.Decimal(100*r.Chance.Power, 0), v.Decimal(100*r.Chance.Error, 1))
		}
		smallest := none(v)
		if finite(r.SmallestPct) {
			smallest = num(v.Decimal(r.SmallestPct, 1), r.SmallestPct)
		}
		t.Rows = append(t.Rows, Row{ID: strconv.Itoa(r.Replicates), Best: r.Needed, Strong: r.Needed, Cells: []Cell{
			count(v, r.Replicates), count(v, r.Chance.Units), percent(v, r.GainPct), power, smallest}})
	}
	return t
}

// Figure is power by replicates for several gains.
func (w PowerView) Figure() figure.Lines {
	v := w.V
	asked := v.Percent(100 * w.Trial.Asked)
	f := figure.Lines{
		Words: trialFigureWords(v, v.Text("What a trial can find, by its size"),
			v.Text("Curves: the chance that a gain is found, by the replicates of each practice, for several gains; "+
				"a ring marks where it first reaches %s.", asked)),
		X: v.Text("replicates of each practice"), Y: v.Text("chance that the gain is found, %%"),
		Level: &figure.Level{Name: asked, Gain: 100 * w.Trial.Asked},
	}
	for _, c := range w.Curves {
		k := figure.Line{Name: v.Text("gain of %s", v.Percent(c.GainPct)), Strong: c.GainPct == w.Gain,
			Needed: c.Needed}
		if c.Needed > 0 {
			k.Name = v.Text("gain of %s: %s", v.Percent(c.GainPct), v.Text("%d replicates", c.Needed))
		}
		for _, r := range c.Rows {
			p, e := 100*r.Chance.Power, 196*r.Chance.Error
			k.Points = append(k.Points, figure.LinePoint{At: r.Replicates, Value: p,
				Range: figure.Range{Low: max(p-e, 0), High: min(p+e, 100)}})
		}
		f.Curves = append(f.Curves, k)
	}
	return f
}
