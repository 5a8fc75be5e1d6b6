package compare

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// bySeason fits practices in each season, and tests whether they differ between seasons.
func (a *Analysis) bySeason() {
	if len(a.Seasons) < 2 {
		return
	}
	a.Notes.Add("the answer is for the seasons of the trial: %d seasons do not tell how seasons at large would differ",
		len(a.Seasons))
	if a.fit == nil || len(a.model.carry) > 0 {
		return
	}
	m, err := buildModel(a.model.all, a.model.set, a.model.o, false, true)
	if err != nil {
		return
	}
	m.near = a.fit.Theta
	tested := m.interaction()
	n, p := m.x.Dims()
	f := &fitted{}
	if len(tested) > 0 && n-p >= 2 {
		f, err = m.fit()
	}
	if err != nil || f.f == nil {
		a.Notes.Add("too few units to tell whether practices differ between seasons")
		return
	}
	c := mat.NewDense(len(tested), p, nil)
	for i, j := range tested {
		c.Set(i, j, 1)
	}
	if j := f.f.Joint(c); !math.IsNaN(j.P) {
		a.Interaction = &j
	}
	a.BySeason = m.eachSeason(f)
}

// interactions is how many columns are of practices in single seasons: the last ones.
func (m *model) interactions() int { return (len(m.levels) - 1) * (len(m.seasons) - 1) }

// interaction is their places among the columns kept.
func (m *model) interaction() (kept []int) {
	_, all := m.full.Dims()
	for i, j := range m.kept {
		if j >= all-m.interactions() {
			kept = append(kept, i)
		}
	}
	return kept
}

// eachSeason is each practice against the reference in each season that has it.
func (m *model) eachSeason(f *fitted) (gains []Gain) {
	_, all := m.full.Dims()
	for s, season := range m.seasons {
		for l := 1; l < len(m.levels); l++ {
			g := newGain(m.levels[l], season)
			if g.Units, g.Mean = m.gathered(l, season); g.Units == 0 {
				continue
			}
			c := m.levelContrast(l, 0)
			if s > 0 {
				c[all-m.interactions()+(l-1)*(len(m.seasons)-1)+s-1] = 1
			}
			m.infer(&g, f, c)
			gains = append(gains, g)
		}
	}
	return gains
}
