package trust

import (
	"math"
	"slices"
	"strconv"

	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

// Answer is what a pool says, as far as another choice may move it.
type Answer struct {
	Gains []pool.Gain
	Left  int        // studies that it rests on
	SDs   [3]float64 // standard deviations on the log scale: between studies, sites and seasons
	First string     // what comes first; "" where nothing is ranked
}

// Kind is what is left out.
type Kind string

const (
	Study  Kind = "study"
	Site   Kind = "site"
	Season Kind = "season"
)

// Influence is the answer when one study, site or season is left out; Answer is nil where nothing can be said then.
type Influence struct {
	Kind    Kind
	What    string // name of the study or site
	Season  int    // where a season is left out
	Studies int    // that hold anything of it
	*Answer
	// Shift is how far the log gain that moves most moves, and whose it is.
	Shift float64
	Most  practice.Treatment
	Turns bool // another practice comes first
}

// Named is what is left out, as a text.
func (i Influence) Named() string {
	if i.Kind == Season {
		return strconv.Itoa(i.Season)
	}
	return i.What
}

// Without leaves out each study, site and season in turn and asks again. refit is called for several at once, and gives
// false where nothing can be said. A site is left out only where it is stated.
func Without(e effect.Effects, whole Answer, refit func(effect.Effects) (Answer, bool)) []Influence {
	var list []Influence
	var kept []effect.Effects
	leave := func(i Influence, drop func(effect.StudyEffects, effect.Row) bool) {
		keep := func(s effect.StudyEffects, r effect.Row) bool { return !drop(s, r) }
		rest := e.Keep(keep)
		for _, s := range e.Studies {
			if slices.ContainsFunc(s.Rows, func(r effect.Row) bool { return drop(s, r) }) {
				i.Studies++
			}
		}
		list, kept = append(list, i), append(kept, rest)
	}
	var sites []string
	var seasons []int
	for _, x := range e.Studies {
		leave(Influence{Kind: Study, What: x.Study}, func(s effect.StudyEffects, _ effect.Row) bool {
			return s.Study == x.Study
		})
		if x.Site != "" && !slices.Contains(sites, x.Site) {
			sites = append(sites, x.Site)
		}
		seasons = append(seasons, x.AllSeasons()...)
	}
	for _, name := range sites {
		leave(Influence{Kind: Site, What: name}, func(s effect.StudyEffects, _ effect.Row) bool {
			return s.Site == name
		})
	}
	slices.Sort(seasons)
	for _, year := range slices.Compact(seasons) {
		leave(Influence{Kind: Season, Season: year}, func(s effect.StudyEffects, r effect.Row) bool {
			return slices.Contains(s.SeasonsOf(r.Arm), year)
		})
	}
	each(len(list), func(k int) {
		a, ok := refit(kept[k])
		if !ok {
			return
		}
		i := &list[k]
		i.Answer = &a
		i.Turns = a.First != whole.First
		for _, g := range whole.Gains {
			if now, ok := a.of(g.Treatment); ok && math.Abs(now-g.Log) > math.Abs(i.Shift) {
				i.Shift, i.Most = now-g.Log, g.Treatment
			}
		}
	})
	return list
}
