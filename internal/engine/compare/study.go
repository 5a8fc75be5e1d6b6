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

// Study is the trial as a study of the evidence: in each season its contrasts with the reference, and their whole
// Kenward-Roger covariance over the seasons (M1, M2). Drops of different ages are different treatments: where the table
// does not give the age, the first season of a unit's new drops is age 0. Only sap is pooled, so the response is sap
// whatever o says. Where practices were rotated over the units, or the rows are too few for a gain of each season, the
// gains are those over all seasons, each an average of those in which its practice stood. The error is note.Faults: of
// the rows, or that the trial cannot tell its own error.
func Study(rows []trial.UnitSeason, set practice.Set, o trial.Options, about About) (effect.StudyEffects, error) {
	o.Response = trial.Sap
	if err := trial.Check(rows, set).Err(); err != nil {
		return effect.StudyEffects{}, err
	}
	m, err := buildModel(rows, set, o, true, false)
	if err != nil {
		return effect.StudyEffects{}, err
	}
	if len(m.seasons) > 1 && len(m.carry) == 0 {
		each, err := buildModel(rows, set, o, true, true)
		if err != nil {
			return effect.StudyEffects{}, err
		}
		if s, whole, err := each.study(about, each.bySeason()); err == nil && whole {
			return s, nil
		}
	}
	s, _, err := m.study(about, m.overall())
	return s, err
}

// against is a contrast of a level with the reference in some seasons.
type against struct {
	level    int
	seasons  []int
	contrast []float64
}

// overall are the contrasts over all seasons.
func (m *model) overall() []against {
	var list []against
	for l := 1; l < len(m.levels); l++ {
		seasons := slices.DeleteFunc(slices.Clone(m.seasons), func(season int) bool { return !m.holds(l, season) })
		list = append(list, against{l, seasons, m.levelContrast(l, 0)})
	}
	return list
}

// bySeason are the contrasts of each season in which the level and the reference stand side by side. The model is one
// with practice × season.
func (m *model) bySeason() []against {
	_, all := m.full.Dims()
	others := len(m.seasons) - 1
	first := all - (len(m.levels)-1)*others // column of practice × season
	var list []against
	for k, season := range m.seasons {
		for l := 1; l < len(m.levels); l++ {
			if !m.holds(l, season) || !m.holds(0, season) {
				continue
			}
			c := m.levelContrast(l, 0)
			if k > 0 {
				c[first+(l-1)*others+k-1] = 1
			}
			list = append(list, against{l, []int{season}, c})
		}
	}
	return list
}

// holds is true where a level has a row in a season.
func (m *model) holds(level, season int) bool {
	for i, r := range m.rows {
		if m.level[i] == level && r.Season == season {
			return true
		}
	}
	return false
}

// study is the trial by some contrasts; whole is false where not all of them could be told with their error.
func (m *model) study(about About, contrasts []against) (s effect.StudyEffects, whole bool, err error) {
	f, err := m.fit()
	if err != nil {
		return s, false, err
	}
	if f.f == nil {
		return s, false, noError(about.Name)
	}
	s = effect.StudyEffects{Study: about.Name, Site: about.Site, Season: m.seasons[len(m.seasons)-1], Live: true,
		Moderators: m.moderators()}
	arm := func(t practice.Treatment, seasons []int) int {
		for i, have := range s.Arms {
			if have == t && slices.Equal(s.Seasons[i], seasons) {
				return i
			}
		}
		s.Arms, s.Seasons = append(s.Arms, t), append(s.Seasons, seasons)
		return len(s.Arms) - 1
	}
	var told [][]float64
	whole, exact := true, false
	for _, k := range contrasts {
		e := f.estimate(k.contrast)
		switch {
		case !m.estimable(k.contrast): // its own Analysis says so
			whole = false
			continue
		case !f.inferable(k.contrast, e):
			whole, exact = false, true
			continue
		}
		r := effect.Row{Ref: arm(m.levels[0], k.seasons), Arm: arm(m.levels[k.level], k.seasons)}
		r.Y, r.GainPct, r.Basis = e.Value, percent(e.Value), effect.OwnError
		if !math.IsInf(e.DF, 1) {
			r.DF = e.DF
		}
		s.Rows = append(s.Rows, r)
		told = append(told, m.own(k.contrast))
	}
	switch {
	case len(s.Rows) == 0 && exact:
		return s, false, noError(about.Name)
	case len(s.Rows) == 0:
		return s, false, note.Faults{note.New("the trial %s compares nothing with its reference", about.Name)}
	}
	if len(m.seasons) == 1 {
		s.Seasons = nil
	}
	c := mat.NewDense(len(told), f.f.Rank, nil)
	for i, k := range told {
		c.SetRow(i, k)
	}
	s.V = f.f.Contrasts(c, m.inference)
	var chol mat.Cholesky
	if !chol.Factorize(s.V) {
		return s, false, note.Faults{note.New("the covariance of the contrasts of %s is not positive definite",
			about.Name)}
	}
	s.Setting = about.setting(m)
	return s, whole, nil
}

func noError(trial string) note.Faults {
	return note.Faults{note.New("the trial %s cannot tell its own error, so it cannot be pooled as a trial; its "+
		"means can, as a study without replication", trial)}
}

// moderators are those of evidence.Moderators that the rows show.
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
