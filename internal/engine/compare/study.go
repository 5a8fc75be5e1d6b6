package compare

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/engine/harvest"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// About is what the evidence needs to know of a trial beyond its rows.
type About struct {
	Name    string // of the study
	Site    string
	Caveats []evidence.Caveat
	Seasons []weather.Season // where temperatures are known: a season that was not usual is a caveat
}

// Study is the trial as a study of the evidence: its contrasts with the reference, and their whole Kenward-Roger
// covariance (M1). Drops of different ages are different treatments: where the table does not give the age, the first
// season of a unit's new drops is age 0. Only sap is pooled, so the response is sap whatever o says. The error is
// note.Faults: of the rows, or that the trial cannot tell its own error.
func Study(rows []trial.UnitSeason, set practice.Set, o trial.Options, about About) (effect.StudyEffects, error) {
	o.Response = trial.Sap
	none := effect.StudyEffects{}
	if err := trial.Check(rows, set).Err(); err != nil {
		return none, err
	}
	m, err := buildModel(rows, set, o, true, false)
	if err != nil {
		return none, err
	}
	f, err := m.fit()
	if err != nil {
		return none, err
	}
	if f.f == nil {
		return none, noError(about.Name)
	}
	s := effect.StudyEffects{Study: about.Name, Site: about.Site, Season: m.seasons[len(m.seasons)-1], Live: true,
		Moderators: m.moderators()}
	s.Arms = append(s.Arms, m.levels[0])
	var contrasts [][]float64
	exact := false
	for l := 1; l < len(m.levels); l++ {
		c := m.levelContrast(l, 0)
		if !m.estimable(c) {
			continue // its own Analysis says so
		}
		e := f.estimate(c)
		if !f.inferable(c, e) {
			exact = true
			continue
		}
		s.Arms = append(s.Arms, m.levels[l])
		r := effect.Row{Arm: len(s.Arms) - 1, Ref: 0, Y: e.Value, GainPct: percent(e.Value)}
		if !math.IsInf(e.DF, 1) {
			r.DF = e.DF
		}
		s.Rows = append(s.Rows, r)
		contrasts = append(contrasts, m.own(c))
	}
	if len(s.Rows) == 0 && exact {
		return none, noError(about.Name)
	}
	if len(s.Rows) == 0 {
		return none, note.Faults{note.New("the trial %s compares nothing with its reference", about.Name)}
	}
	c := mat.NewDense(len(contrasts), f.f.Rank, nil)
	for i, k := range contrasts {
		c.SetRow(i, k)
	}
	s.V = f.f.Contrasts(c, m.inference)
	var chol mat.Cholesky
	if !chol.Factorize(s.V) {
		return none, note.Faults{note.New("the covariance of the contrasts of %s is not positive definite", about.Name)}
	}
	s.Setting = about.setting(m)
	return s, nil
}

func noError(trial string) note.Faults {
	return note.Faults{note.New("the trial %s cannot tell its own error, so it cannot be pooled as a trial; its means can, as a study without replication", trial)}
}

// moderators are those of evidence.ModeratorNames that the rows show.
func (m *model) moderators() map[string]float64 {
	out := map[string]float64{}
	vacuum, n := 0.0, 0.0
	age, drops := 0.0, 0.0
	for i, r := range m.rows {
		if r.Vacuum != nil {
			vacuum, n = vacuum+float64(*r.Vacuum), n+1
		}
		if m.level[i] == 0 && r.DropAge != nil {
			age, drops = age+float64(*r.DropAge), drops+1
		}
	}
	if n > 0 {
		out["vacuum"] = vacuum / n
	}
	if drops > 0 {
		out["reference-drop-age"] = age / drops
	}
	return out
}

// setting is how the trial was done, as its rows and the weather tell it.
func (a About) setting(m *model) evidence.Setting {
	x := evidence.Setting{Site: a.Site, Seasons: m.seasons, Given: a.Caveats}
	if age, ok := m.moderators()["reference-drop-age"]; ok {
		x.DropAge = &age
	}
	var litres, taps float64
	vacuum, n := map[practice.Key]float64{}, map[practice.Key]float64{}
	for i, r := range m.rows {
		if m.level[i] == 0 {
			litres, taps = litres+float64(r.Volume), taps+r.Taps
		}
		if r.Vacuum != nil {
			vacuum[r.Practice], n[r.Practice] = vacuum[r.Practice]+float64(*r.Vacuum), n[r.Practice]+1
		}
	}
	x.Yield = litres / taps
	for _, k := range slices.Sorted(maps.Keys(n)) {
		x.Arms = append(x.Arms, evidence.ArmSetting{Vacuum: new(unit.Pressure(vacuum[k] / n[k]))})
	}
	for _, w := range a.Seasons {
		x.Odd = x.Odd || slices.Contains(m.seasons, w.Year) && (w.Class == weather.Short || w.HotEnd)
	}
	return x
}

// Study is the trial as a live study of the evidence: summed anew, so it follows every reading that is corrected.
func StudyOf(t trial.Trial, set practice.Set) (effect.StudyEffects, error) {
	s, err := harvest.Gathered(t)
	if err != nil {
		return effect.StudyEffects{}, err
	}
	return Study(s.Rows, set, t.Options, About{Name: t.Name, Site: t.Site, Caveats: t.Caveats, Seasons: s.Weather})
}
