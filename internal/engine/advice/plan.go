package advice

import (
	"math"
	"slices"

	"spile/internal/engine/plan"
	"spile/internal/engine/pool"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/species"
	"spile/internal/trade/unit"
)

// few is the least number of admitted studies from which a size of tubing or a kind of tree counts as studied.
const few = 3

// planModerators are the properties of a section that may change what a practice gains there. Tubing is not one of
// them: a size is studied or it is not.
var planModerators = []string{evidence.Vacuum, evidence.LineAge}

// Plan is the plan of a sugarbush under the studies of an input and the sugarbush's own prices, place and certificate.
// The error is note.Faults where the data is at fault.
func (m *Memo) Plan(in Input, b bush.Sugarbush) (*plan.Plan, error) {
	in.Prices = &b.Prices
	if in.Practices == nil {
		in.Practices = practice.Shipped()
	}
	if f := b.Faults(in.Practices); f != nil {
		return nil, f
	}
	a, err := m.Ranked(in) // how sure its ranking is, a plan does not ask
	if err != nil {
		return nil, err
	}
	var names []string
	if tells(b) {
		names = planModerators
	}
	gains, unsure, err := m.moderated(in, names)
	if err != nil {
		return nil, err
	}
	return a.plan(b, gains, unsure, scope(a), base(a))
}

// plan is the plan of a sugarbush under the answer to its prices and the pooled gains with the properties of a section;
// unsure are those of which the studies do not tell whether they add to a gain or take from it.
func (a *Advice) plan(b bush.Sugarbush, gains *plan.Gains, unsure []string, s plan.Scope,
	x plan.Base) (*plan.Plan, error) {
	e := plan.Evidence{Pool: gains, Set: a.Input.Practices, Held: map[practice.Key]plan.Held{}, Scope: s, Base: x}
	for _, p := range e.Set {
		x := (&ranker{in: a.Input}).permission(practice.Choice{Practice: p.Key})
		if x.verdict != practice.Permitted {
			e.Held[p.Key] = plan.Held{Verdict: x.verdict, Reasons: x.reasons}
		}
	}
	e.Year, _ = a.Input.Year()
	e.States = a.Input.states()
	e.Draws, e.Seed = usualDraws, usualSeed
	e.Assumptions = assumed(a.Input.Prices.Assumptions(), nil)
	p, err := plan.Of(b, e)
	if err != nil {
		return nil, err
	}
	var notes note.List
	for _, name := range unsure {
		if len(p.Sections) == 0 {
			break // then nothing rests on it
		}
		notes.Add("the studies do not tell for sure whether %s adds to a gain or takes from it: a section's own "+
			"counts as far as they tell", note.Term(name))
	}
	a.parted(p, &notes)
	said := map[string]bool{}
	var all note.List
	for _, n := range slices.Concat(p.Notes, notes, a.Notes) {
		if text := n.English(); !said[text] {
			said[text] = true
			all = append(all, n)
		}
	}
	p.Notes, p.Unknown = all, append(p.Unknown, notes...)
	return p, nil
}

// parted says why a plan does another thing on most taps than what the ranking has first, where it does.
func (a *Advice) parted(p *plan.Plan, notes *note.List) {
	if a.Recommended < 0 || len(p.Sections) == 0 {
		return
	}
	first := a.Ranking[a.Recommended]
	taps, most := map[practice.Key]int{}, practice.Unsanitized
	for _, s := range p.Sections {
		for _, x := range s.Steps {
			if x.Practice == first.Practice && x.Renew {
				return // it is a rotation's
			}
			if taps[x.Practice] += s.Section.Taps; taps[x.Practice] > taps[most] {
				most = x.Practice
			}
		}
	}
	if most == first.Practice || first.With != "" && most == first.With {
		return
	}
	name := func(key practice.Key) note.Term {
		x, _ := a.Input.Practices.Find(key)
		return note.Term(x.Name)
	}
	unwanted := 0
	for _, s := range p.Sections {
		if slices.Contains(s.Section.Unwanted, first.Practice) {
			unwanted += s.Section.Taps
		}
	}
	i := slices.IndexFunc(p.Rules, func(r plan.Rule) bool {
		return !r.Last && r.Practice == first.Practice && r.Every == first.Every
	})
	why := note.Term("the ranking knows nothing else of a tap, while the plan counts with the drops, vacuum, tubing, " +
		"yields and limits of this sugarbush")
	switch {
	case 2*unwanted > p.Taps():
		why = note.Term("most sections here do not want it")
	case i >= 0 && p.Rules[i].Takes:
		why = note.Term("everywhere it would take from a section what pays there")
	case i >= 0 && !p.Rules[i].Fits:
		why = note.Term("everywhere it takes more hours or cash than there are")
	case i >= 0 && p.Rules[i].Short < p.Plainer:
		why = note.Term("here it would bring next to nothing more, and this is plainer")
	}
	where := note.Term("many taps")
	switch all := p.Taps() * len(p.Seasons); {
	case taps[most] == all:
		where = note.Term("every tap")
	case 2*taps[most] > all:
		where = note.Term("most taps")
	}
	notes.Add("the ranking has %s first at these prices, and the plan has %s on %s: %s", name(first.Practice),
		name(most), where, why)
}

// tells is true of a sugarbush with a section that states one of planModerators: without, a plan rests on the very
// gains of the ranking.
func tells(b bush.Sugarbush) bool {
	return slices.ContainsFunc(b.Sections, func(x bush.Section) bool { return x.Vacuum != nil || x.LineAge != nil })
}

// moderated is the pooled gains with such properties of a section, each slope with its prior and all that is unsure of
// it, so that no plan hangs on a test; unsure are those whose 95 % interval holds 0.
func (m *Memo) moderated(in Input, names []string) (gains *plan.Gains, unsure []string, err error) {
	in.Pool.Inference, in.Pool.Moderators = pool.Mixture, names
	f, err := m.fitted(in)
	if err != nil {
		return nil, nil, err
	}
	for _, x := range f.pool.Moderators {
		if x.Low <= 0 && x.High >= 0 {
			unsure = append(unsure, x.Name)
		}
	}
	return f.plans, unsure, nil
}

// base counts what the gains rest on.
func base(a *Advice) plan.Base {
	sites, seasons := map[string]bool{}, map[int]bool{}
	b := plan.Base{Given: len(a.Input.Studies)}
	type of struct {
		sites   map[string]bool
		seasons map[int]bool
		studies int
	}
	by := map[practice.Key]*of{}
	for _, e := range a.Effects.Studies {
		b.Studies++
		sites[e.Site] = true
		for _, season := range e.AllSeasons() {
			seasons[season] = true
			if b.First == 0 || season < b.First {
				b.First = season
			}
			b.Last = max(b.Last, season)
		}
		seen := map[practice.Key]bool{}
		for i, t := range e.Arms {
			if t.Practice == practice.Unsanitized {
				continue
			}
			x := by[t.Practice]
			if x == nil {
				x = &of{map[string]bool{}, map[int]bool{}, 0}
				by[t.Practice] = x
			}
			if !seen[t.Practice] {
				x.studies++
			}
			seen[t.Practice], x.sites[e.Site] = true, true
			for _, season := range e.SeasonsOf(i) {
				x.seasons[season] = true
			}
		}
	}
	b.Sites, b.Seasons = len(sites), len(seasons)
	for _, p := range a.Input.Practices {
		if x := by[p.Key]; x != nil {
			b.By = append(b.By, plan.BaseOf{Practice: p.Key, Studies: x.studies, Sites: len(x.sites),
				Seasons: len(x.seasons)})
		}
	}
	return b
}

// scope is where the admitted studies were made.
func scope(a *Advice) plan.Scope {
	var s plan.Scope
	sizes, kinds := map[float64]int{}, map[string]int{}
	low, high := math.Inf(1), 0.
	young, old := math.Inf(1), 0.
	for _, e := range a.Effects.Studies {
		i := slices.IndexFunc(a.Input.Studies, func(x evidence.Study) bool { return x.Name == e.Study })
		if i < 0 {
			continue
		}
		x := a.Input.Studies[i]
		if x.Species != "" {
			kinds[species.Of(x.Species)]++
		}
		seen := map[float64]bool{}
		for _, arm := range x.Arms {
			if arm.Vacuum != nil && *arm.Vacuum > 0 {
				low, high = min(low, float64(*arm.Vacuum)), max(high, float64(*arm.Vacuum))
			}
			if arm.LineAge != nil {
				young, old = min(young, *arm.LineAge), max(old, *arm.LineAge)
			}
			if arm.TubingIn != nil && !seen[*arm.TubingIn] {
				seen[*arm.TubingIn] = true
				sizes[*arm.TubingIn]++
			}
		}
	}
	if high > 0 {
		s.VacuumLow, s.VacuumHigh = unit.Pressure(low), unit.Pressure(high)
	}
	if old > 0 {
		s.LineAgeLow, s.LineAgeHigh = young, old
	}
	for d, n := range sizes {
		if n >= few {
			s.TubingIn = append(s.TubingIn, d)
		}
	}
	slices.Sort(s.TubingIn)
	for k, n := range kinds {
		if n >= few {
			s.Species = append(s.Species, k)
		}
	}
	slices.Sort(s.Species)
	return s
}
