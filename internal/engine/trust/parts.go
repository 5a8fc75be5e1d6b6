package trust

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

// Model says which parts of the joint model are there. Without any, gains differ between studies alone, and drops of
// each age are a practice of their own.
type Model struct {
	Places bool // site, season, practice by place, and moderators
	Ageing bool // drops age along a curve
	Wild   bool // a study may stand apart
	Shrunk bool // practices are drawn toward the mean of their family
	Long   bool // the mean over places and seasons, as money counts it
}

// Part is one step from the plain mean of what studies say to the pooled gain, on the log scale.
type Part struct {
	Key, Name string
	Why       string  // in the middle of a sentence: why the plain mean differs by it
	Log       float64 // after it
	Change    float64 // by it; 0 in the first
}

// step is one of the refits. Why says, in the middle of a sentence, why a plain mean differs by it.
type step struct {
	key, name, why string
	direct         bool // on the comparisons of the practice with unsanitized alone
	model          Model
	plain          func(y []float64, pct []float64) float64 // in place of a fit
}

// steps are in a stated order; another order would split the same whole otherwise.
var steps = []step{
	{key: "percents", name: "the plain mean of the percents", direct: true,
		plain: func(_, pct []float64) float64 { return math.Log1p(mean(pct) / 100) }},
	{key: "logs", name: "the same on logarithms", why: "a mean of percentages leans toward the largest of them",
		direct: true, plain: func(y, _ []float64) float64 { return mean(y) }},
	{key: "precision", name: "studies weighted by how precise they are",
		why: "it gives every study the same weight, however precise", direct: true},
	{key: "indirect", name: "what studies of other practices tell of it",
		why: "the pooled gain also learns from studies of other practices"},
	{key: "places", name: "site, season and moderators",
		why: "the pooled gain takes out what a site and a season have in common", model: Model{Places: true}},
	{key: "ageing", name: "drops of other ages, and how they fade",
		why: "the pooled gain also learns from drops of other ages", model: Model{Places: true, Ageing: true}},
	{key: "wild", name: "studies that stand apart",
		why: "the pooled gain gives less weight to a study that stands apart", model: Model{Places: true, Ageing: true,
			Wild: true}},
	{key: "shrinkage", name: "drawing practices toward their family, as for money",
		model: Model{Places: true, Ageing: true, Wild: true, Shrunk: true}},
	{key: "long-run", name: "the mean over places and seasons, in place of the middle one",
		model: Model{Places: true, Ageing: true, Wild: true, Shrunk: true, Long: true}},
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

// Parts takes a treatment's pooled gain apart. A step that the model has no such part for, or whose gain is not to be
// had, is left out; what is left adds up to the pooled gain, and with shrinkage and the long run to that which money
// uses.
func (l *Ladder) Parts(t practice.Treatment) []Part {
	var y, pct []float64
	for _, s := range directly(l.effects, t).Studies {
		for _, r := range s.Rows {
			y, pct = append(y, r.Y), append(pct, r.GainPct)
		}
	}
	var parts []Part
	for _, s := range steps {
		p := Part{Key: s.key, Name: s.name, Why: s.why}
		ok := true
		switch {
		case s.direct && len(y) == 0:
			continue
		case s.plain != nil:
			p.Log = s.plain(y, pct)
		default:
			p.Log, ok = l.gain(t, s.direct, s.model)
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
	i := slices.IndexFunc(a.Gains, func(g pool.Gain) bool { return g.Treatment == t })
	if i < 0 {
		return 0, false
	}
	return a.Gains[i].Log, true
}
