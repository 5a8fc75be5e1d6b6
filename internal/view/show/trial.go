package show

import (
	"math"
	"strings"

	"spile/internal/engine/compare"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/view/figure"
	"spile/internal/view/say"
)

// TrialView is the analysis of one trial in one voice. VolumeUnit is the unit of the JSON's means: that of the user's
// table.
type TrialView struct {
	A          *compare.Analysis
	V          *say.Voice
	Set        practice.Set
	VolumeUnit unit.VolumeUnit
}

// VolumeUnit is the unit in which a voice speaks of sap.
func VolumeUnit(v *say.Voice) unit.VolumeUnit {
	if v.Units().Gallons() {
		return unit.USGallon
	}
	return unit.Litre
}

// JSON is what `trial analyse --json` prints, with what was found in the seasons of a trial of a workbook. Numbers that
// do not exist are null, as are those of the reference beside its mean.
func (w TrialView) JSON(found ...SeasonView) any {
	a := w.A
	gain := func(g compare.Gain) object {
		return object{{"practice", g.Practice}, {"units", g.Units}, {"mean_per_tap", g.Mean.In(w.VolumeUnit)},
			{"log_ratio", g.Log}, {"se_log", g.SE}, {"df", g.DF}, {"gain_pct", g.Pct}, {"low_pct", g.LowPct},
			{"high_pct", g.HighPct}, {"p", g.P}, {"p_adjusted", g.PAdjusted}, {"all_low_pct", g.AllLowPct},
			{"all_high_pct", g.AllHighPct}, {"overflow_low_pct", g.OverflowLowPct},
			{"overflow_high_pct", g.OverflowHighPct}}
	}
	joint := func(j *compare.Joint) any {
		if j == nil {
			return nil
		}
		return object{{"f", j.F}, {"df", j.DF}, {"residual_df", j.Residual}, {"p", j.P}}
	}
	var findings []object
	for _, s := range found {
		findings = append(findings, s.findingsJSON()...)
	}
	return object{
		{"practices", objects(a.Gains, gain)},
		{"variances", object{{"block", a.Variances.Block}, {"unit", a.Variances.Unit}, {"season", nil},
			// a fixed effect
			{"residual", a.Variances.Residual}}},
		{"warnings", w.Warnings()}, {"reference", a.Reference}, {"response", a.Response},
		{"mean_unit", w.VolumeUnit}, {"seasons", a.Seasons}, {"blocks", a.Blocks}, {"units", a.Units}, {"rows", a.Rows},
		{"pairs", objects(a.Pairs, func(p compare.Pair) object {
			return object{{"practice", p.Practice}, {"against", p.Against}, {"log_ratio", p.Log}, {"se_log", p.SE},
				{"df", p.DF}, {"gain_pct", p.Pct}, {"low_pct", p.LowPct}, {"high_pct", p.HighPct}, {"p", p.P},
				{"p_adjusted", p.PAdjusted}}
		})},
		{"by_season", objects(a.BySeason, func(g compare.Gain) object {
			return append(object{{"season", g.Season}}, gain(g)...)
		})},
		{"practices_differ", joint(a.Differ)}, {"practice_by_season", joint(a.Interaction)},
		{"carryover", objects(a.Carryover, func(g compare.Gain) object {
			return object{{"practice", g.Practice}, {"log_ratio", g.Log}, {"se_log", g.SE}, {"df", g.DF}, {"p", g.P}}
		})},
		{"covariates", objects(a.Covariates, func(c compare.Covariate) object {
			return object{{"name", c.Name}, {"slope", c.Value}, {"se", c.SE}, {"df", c.DF}}
		})},
		{"residuals", objects(a.Residuals, func(r compare.Residual) object {
			return object{{"unit", r.Unit}, {"block", r.Block}, {"season", r.Season}, {"practice", r.Practice},
				{"fitted", r.Fitted}, {"residual", r.Residual}, {"standardized", r.Standardized},
				{"normal_score", r.NormalScore}}
		})},
		{"p_adjusted_error", a.Adjusted}, {"findings?", findings},
	}
}

// Warnings are what must be said of the analysis, in words.
func (w TrialView) Warnings() []string {
	texts := []string{}
	for _, n := range w.A.Notes {
		texts = append(texts, w.V.Note(n))
	}
	return texts
}

func (w TrialView) practice(k practice.Key) string { return named(w.V, w.Set, k) }

// Gains is the table of practices against the reference.
func (w TrialView) Gains() Table {
	v, a := w.V, w.A
	title := v.Text("Sap a tap against %s", w.practice(a.Reference))
	if a.Response == trial.Syrup {
		title = v.Text("Syrup a tap against %s", w.practice(a.Reference))
	}
	t := Table{ID: "trial", Title: title,
		Lead: w.lead(),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			numeric("units", v.Text("units"), ""),
			numeric("mean_per_tap", v.Text("mean a tap"), v.VolumeUnit()),
			interval("gain_pct", v.Text("gain"), "%"),
			numeric("df", v.Text("degrees of freedom"), ""),
			numeric("p", v.Text("p"), ""),
			numeric("p_adjusted", v.Text("adjusted p"), ""),
		}}
	digits := 1
	if a.Response == trial.Syrup {
		digits = 3
	}
	for _, g := range a.Gains {
		mean := v.VolumeNumber(g.Mean)
		cells := []Cell{words(w.practice(g.Practice)), count(v, g.Units), num(v.Decimal(mean, digits), mean)}
		if g.Practice == a.Reference {
			cells = append(cells, words(v.Text("reference")), none(v), none(v), none(v))
		} else {
			cells = append(cells, percents(v, g.Pct, g.LowPct, g.HighPct), num(v.Decimal(g.DF, 1), g.DF),
				num(v.P(g.P), g.P), num(v.P(g.PAdjusted), g.PAdjusted))
		}
		t.row(string(g.Practice), cells...).Dim = g.Practice == a.Reference
	}
	if j := a.Differ; j != nil {
		t.note(v.Text("That all practices are alike: F = %.2f with %d and %.1f degrees of freedom, %s.",
			j.F, j.DF, j.Residual, v.PIs(j.P)))
	}
	if j := a.Interaction; j != nil {
		t.note(v.Text("That gains are the same in every season: F = %.2f with %d and %.1f degrees of "+
			"freedom, %s.", j.F, j.DF, j.Residual, v.PIs(j.P)))
	}
	if a.Adjusted > 1e-6 { // by quasi-Monte Carlo
		t.note(v.Text("Adjusted p are known to within %s.", v.Decimal(a.Adjusted, 5)))
	}
	return t
}

// lead is what stands over the gains: first that they differ by season, where that is found, since then no one number
// of the table is what a season will bring.
func (w TrialView) lead() string {
	v, a := w.V, w.A
	lead := v.Text("Gains with 95 %% intervals; p is for one comparison alone, adjusted p for all comparisons with " +
		"the reference together.")
	if a.Interaction == nil || !(a.Interaction.P < 0.05) {
		return lead
	}
	var parts []string
	for _, g := range a.Gains {
		low, high := math.Inf(1), math.Inf(-1)
		for _, s := range a.BySeason {
			if s.Practice == g.Practice && finite(s.Pct) {
				low, high = min(low, s.Pct), max(high, s.Pct)
			}
		}
		if low < high {
			parts = append(parts, v.Text("%s %s", w.practice(g.Practice), v.PercentRange(low, high)))
		}
	}
	if parts == nil {
		return lead
	}
	return v.Text("Gains differed by season: %s.", strings.Join(parts, ", ")) + " " + lead
}

// Pairs is the table of all practices against each other.
func (w TrialView) Pairs() Table {
	v := w.V
	t := Table{ID: "trial-pairs", Title: v.Text("Practices against each other"),
		Lead: v.Text("Adjusted p is for all these comparisons together."),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			wordy("against", v.Text("against")),
			interval("gain_pct", v.Text("gain"), "%"),
			numeric("p", v.Text("p"), ""),
			numeric("p_adjusted", v.Text("adjusted p"), ""),
		}}
	for _, p := range w.A.Pairs {
		t.row(string(p.Practice)+"/"+string(p.Against), words(w.practice(p.Practice)), words(w.practice(p.Against)),
			percents(v, p.Pct, p.LowPct, p.HighPct), num(v.P(p.P), p.P), num(v.P(p.PAdjusted), p.PAdjusted))
	}
	return t
}

// BySeason is the table of gains in each season; without rows where there is one season.
func (w TrialView) BySeason() Table {
	v := w.V
	t := Table{ID: "trial-seasons", Title: v.Text("Each season by itself"),
		Columns: []Column{
			numeric("season", v.Text("season"), ""),
			wordy("practice", v.Text("practice")),
			numeric("units", v.Text("units"), ""),
			interval("gain_pct", v.Text("gain"), "%"),
			numeric("p", v.Text("p"), ""),
		}}
	for _, g := range w.A.BySeason {
		t.row(v.Year(g.Season)+"/"+string(g.Practice), num(v.Year(g.Season), float64(g.Season)),
			words(w.practice(g.Practice)), count(v, g.Units), percents(v, g.Pct, g.LowPct, g.HighPct),
			num(v.P(g.P), g.P))
	}
	return t
}

// Variances is the table of what makes yields differ.
func (w TrialView) Variances() Table {
	v := w.V
	t := Table{ID: "trial-variances", Title: v.Text("What makes yields differ"),
		Columns: []Column{
			wordy("component", v.Text("between")),
			numeric("variance", v.Text("variance of log yields"), ""),
			numeric("cv_pct", v.Text("variation"), "%"),
		}}
	for _, c := range []struct {
		id, name string
		x        *float64
	}{{"block", v.Text("blocks"), w.A.Variances.Block}, {"unit", v.Text("units"), w.A.Variances.Unit},
		{"residual", v.Text("seasons of one unit, and readings"), w.A.Variances.Residual}} {
		if c.x != nil {
			cv := 100 * math.Sqrt(math.Expm1(*c.x))
			t.row(c.id, words(c.name), num(v.Decimal(*c.x, 5), *c.x), percent(v, cv))
		}
	}
	return t
}

// Covariates is the table of what the gains are adjusted for; without rows where they are not.
func (w TrialView) Covariates() Table {
	v := w.V
	t := Table{ID: "trial-covariates", Title: v.Text("What the gains are adjusted for"),
		Columns: []Column{
			wordy("covariate", v.Text("of each unit")),
			wordy("step", v.Text("where it is higher by")),
			interval("slope_pct", v.Text("more yield"), "%"),
			numeric("p", v.Text("p"), ""),
		}}
	for _, c := range w.A.Covariates {
		name, step, by := v.Text("yield of the season before the trial"), v.Percent(10), math.Log(1.1)
		if c.Name == "vacuum" {
			p := unit.Kilopascal.Of(1)
			if v.Units().Inches() {
				p = unit.InchOfMercury.Of(1)
			}
			name, step, by = v.Text("vacuum"), v.Vacuum(p), float64(p)
		}
		t.row(c.Name, words(name), words(step), percents(v, pct(c.Value*by), pct(c.Low*by),
			pct(c.High*by)), num(v.P(c.P), c.P))
	}
	return t
}

// Carryover is the table of what practices leave to the season after; without rows where each stays on its units.
func (w TrialView) Carryover() Table {
	v := w.V
	t := Table{ID: "trial-carryover", Title: v.Text("What a practice leaves to the season after it"),
		Columns: []Column{
			wordy("practice", v.Text("practice of the season before")),
			interval("left_pct", v.Text("more yield than after %s", w.practice(w.A.Reference)), "%"),
			numeric("p", v.Text("p"), ""),
		}}
	for _, g := range w.A.Carryover {
		t.row(string(g.Practice), words(w.practice(g.Practice)), percents(v, g.Pct, g.LowPct, g.HighPct),
			num(v.P(g.P), g.P))
	}
	return t
}

// GainsFigure is each practice against the reference with its interval alone and for all comparisons together; where
// there are several seasons, each of them above it.
func (w TrialView) GainsFigure() figure.Intervals {
	v, a := w.V, w.A
	f := figure.Intervals{
		Words: trialFigureWords(v, v.Text("What each practice gained over %s", w.practice(a.Reference)),
			v.Text("Spindles: percent more sap per tap than the reference, with 95 %% interval, by practice; the "+
				"dashed range behind holds for all comparisons together.")),
		Axis: v.Text("more sap per tap than %s, %%", w.practice(a.Reference)),
		Head: figure.IntervalsHead{Study: v.Text("season"), Gain: v.Text("gain, %% (95 %%)")},
		Key: figure.IntervalsKey{
			Study: v.Text("one season by itself, 95 %% interval"), Pooled: v.Text("the trial, 95 %% interval"),
			Season: v.Text("95 %% for all comparisons together"),
		},
	}
	if a.Response == trial.Syrup {
		f.Axis = v.Text("more syrup per tap than %s, %%", w.practice(a.Reference))
	}
	between := func(low, high, x float64) figure.Range {
		if !finite(low) || !finite(high) {
			return figure.Range{Low: x, High: x}
		}
		return figure.Range{Low: low, High: high}
	}
	for _, g := range a.Gains {
		if g.Practice == a.Reference || !finite(g.Pct) {
			continue
		}
		group := figure.IntervalGroup{Name: w.practice(g.Practice), Pooled: &figure.Pooled{
			Name: v.Text("the trial, %s", v.Text("%d units", g.Units)), Gain: g.Pct, Range: between(g.LowPct, g.HighPct,
				g.Pct), Season: between(g.AllLowPct, g.AllHighPct, g.Pct),
			Value: percents(v, g.Pct, g.LowPct, g.HighPct).Text}}
		if len(a.Seasons) > 1 {
			for _, s := range a.BySeason {
				if s.Practice == g.Practice && finite(s.Pct) {
					group.Studies = append(group.Studies, figure.Study{Name: v.Year(s.Season), Gain: s.Pct,
						Range: between(s.LowPct, s.HighPct, s.Pct),
						Value: percents(v, s.Pct, s.LowPct, s.HighPct).Text, Weight: 1})
				}
			}
		}
		f.Groups = append(f.Groups, group)
	}
	return f
}

// farOut is the standardized residual from which a unit is named.
const farOut = 2.5

// Residuals is what the analysis leaves unexplained.
func (w TrialView) Residuals() figure.Residuals {
	v := w.V
	y := v.Text("residual, in standard errors")
	f := figure.Residuals{
		Words: trialFigureWords(v, v.Text("What the analysis leaves unexplained"),
			v.Text("Left: residuals over the fitted yields; a slope or a funnel would speak against the analysis. "+
				"Right: the same residuals against those of a normal sample; near the straight line they are like "+
				"one.")),
		Fitted: figure.ResidualPanel{Title: v.Text("Over the fitted yields"),
			X: v.Text("fitted sap a tap, %s", v.VolumeUnit()), Y: y},
		Normal: figure.ResidualPanel{Title: v.Text("Against a normal sample"), X: v.Text("normal quantile"), Y: y},
	}
	if w.A.Response == trial.Syrup {
		f.Fitted.X = v.Text("fitted syrup a tap, %s", v.VolumeUnit())
	}
	for _, r := range w.A.Residuals {
		if !finite(r.Standardized) || !finite(r.NormalScore) {
			continue
		}
		p := figure.Residual{Fitted: v.VolumeNumber(unit.Volume(math.Exp(r.Fitted))), Standardized: r.Standardized,
			NormalScore: r.NormalScore}
		if math.Abs(r.Standardized) > farOut {
			p.Name = v.Text("%s (%s)", r.Unit, v.Year(r.Season))
		}
		f.Points = append(f.Points, p)
	}
	return f
}
