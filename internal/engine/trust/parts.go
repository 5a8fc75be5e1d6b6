package trust

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/engine/effect"
	"spile/internal/trade/practice"
)

// Model says which parts of the joint model are there. Without any, gains differ between studies alone, and drops of
// each age are a practice of their own.
type Model struct {
	Places bool // site, season, practice by place, and moderators
	Ageing bool // drops age along a curve
	Wild   bool // a study may stand apart
	Shrunk bool // practices are drawn toward the mean of their family
}

// Part is one step from the plain mean of what studies say to the pooled gain, on the log scale.
type Part struct {
	Key, Name string
	Log       float64 // after it
	Change    float64 // by it; 0 in the first
}

// steps are in a stated order; another order would split the same whole otherwise.
var steps = []struct {
	key, name string
	direct    bool // on the comparisons of the practice with unsanitized alone
	model     Model
	plain     func(y []float64, pct []float64) float64 // in place of a fit
}{
	{"percents", "the plain mean of the percents", true, Model{}, func(_, pct []float64) float64 {
		return math.Log1p(mean(pct) / 100)
	}},
	{"logs", "the same on logarithms", true, Model{}, func(y, _ []float64) float64 { return mean(y) }},
	{"precision", "studies weighted by how precise they are", true, Model{}, nil},
	{"indirect", "what studies of other practices tell of it", false, Model{}, nil},
	{"places", "site, season and moderators", false, Model{Places: true}, nil},
	{"ageing", "how drops age", false, Model{Places: true, Ageing: true}, nil},
	{"wild", "studies that stand apart", false, Model{Places: true, Ageing: true, Wild: true}, nil},
	{"shrinkage", "drawing practices toward their family, as for money", false, Model{true, true, true, true}, nil},
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

// Parts takes a treatment's pooled gain apart. fit gives its log gain from some effects under a model; false where that
// is not to be had, or the model has no such part: then the step is left out. What is left adds up.
func Parts(e effect.Effects, t practice.Treatment, fit func(effect.Effects, Model) (float64, bool)) []Part {
	direct := e.Keep(func(s effect.StudyEffects, r effect.Row) bool {
		return s.Arms[r.Arm] == t && s.Arms[r.Ref].Practice == practice.Unsanitized
	})
	var y, pct []float64
	for _, s := range direct.Studies {
		for _, r := range s.Rows {
			y, pct = append(y, r.Y), append(pct, r.GainPct)
		}
	}
	var parts []Part
	for _, s := range steps {
		p := Part{Key: s.key, Name: s.name}
		ok := true
		switch {
		case s.direct && len(y) == 0:
			continue
		case s.plain != nil:
			p.Log = s.plain(y, pct)
		case s.direct:
			p.Log, ok = fit(direct, s.model)
		default:
			p.Log, ok = fit(e, s.model)
		}
		if !ok {
			continue
		}
		if n := len(parts); n > 0 {
			p.Change = p.Log - parts[n-1].Log
		}
		parts = append(parts, p)
	}
	return parts
}

// Movers are the studies without which a treatment's log gain would be furthest from what it is, the furthest first, up
// to a number of them, with what it would be.
func Movers(list []Influence, whole Answer, t practice.Treatment, most int) []Mover {
	at, ok := whole.of(t)
	if !ok {
		return nil
	}
	var out []Mover
	for _, i := range list {
		if i.Kind != Study || i.Answer == nil {
			continue
		}
		if g, ok := i.Answer.of(t); ok && g != at {
			out = append(out, Mover{i.What, at - g, g})
		}
	}
	slices.SortStableFunc(out, func(a, b Mover) int { return cmp.Compare(math.Abs(b.Moves), math.Abs(a.Moves)) })
	return out[:min(most, len(out))]
}

// Mover is a study with how far it moves a log gain, and what that would be without it.
type Mover struct {
	Study   string
	Moves   float64
	Without float64
}

// of is a treatment's log gain.
func (a Answer) of(t practice.Treatment) (float64, bool) {
	i := slices.IndexFunc(a.Gains, func(g Gain) bool { return g.Treatment == t })
	if i < 0 {
		return 0, false
	}
	return a.Gains[i].Log, true
}
