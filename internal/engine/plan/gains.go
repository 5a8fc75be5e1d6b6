package plan

import (
	"math"
	"slices"
	"sync"

	"spile/internal/engine/pool"
	"spile/internal/trade/practice"
)

// Gains is pooled gains as plans ask for them, each worked out once for all sections and plans that are alike. It may
// be asked by several goroutines.
type Gains struct {
	*pool.Result
	moderated func() *pool.Moderated

	mu     sync.Mutex
	kept   map[gainKey]*told
	places map[place]*place // one of each
}

// Over is the gains of a pool, with the moderators that the studies support.
func Over(r *pool.Result) *Gains {
	return &Gains{Result: r, moderated: sync.OnceValue(r.Moderated), kept: map[gainKey]*told{},
		places: map[place]*place{}}
}

// mostTold is how many gains are kept.
const mostTold = 2048

type gainKey struct {
	treatment practice.Treatment
	at        *place
}

// place is where a section's moderators stand, by ofSections; +Inf: at their mean.
type place [3]float64

// told is what the pool says of a treatment where the moderators stand so.
type told struct {
	long   func() (pct float64, ok bool) // long-run percent
	ranged func() pool.Gain
	less   func() float64 // e^−k, as part of that where the moderators stand at their means
}

// at is what is told of a treatment where a section's moderators stand.
func (g *Gains) at(t practice.Treatment, here *place) *told {
	key := gainKey{t, here}
	g.mu.Lock()
	defer g.mu.Unlock()
	x := g.kept[key]
	if x == nil {
		at := here.values()
		x = &told{
			long: sync.OnceValues(func() (float64, bool) {
				log, ok := g.LongRun(t, at)
				return 100 * math.Expm1(log), ok
			}),
			ranged: sync.OnceValue(func() pool.Gain {
				gain, _ := g.ForMoneyAt(t, at)
				return gain
			}),
			less: sync.OnceValue(func() float64 {
				s := g.moderated()
				return math.Exp(-s.More(slices.Index(s.Treatments, t), s.Shift(at)))
			}),
		}
		if len(g.kept) == mostTold {
			clear(g.kept)
		}
		g.kept[key] = x
	}
	return x
}

// place is a section's moderators as far as gains differ by them.
func (g *Gains) place(at map[string]float64) *place {
	var p place
	for i, name := range ofSections {
		p[i] = math.Inf(1)
		if x, ok := at[name]; ok &&
			slices.ContainsFunc(g.Moderators, func(m pool.Moderator) bool { return m.Name == name }) {
			p[i] = x
		}
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.places[p] == nil {
		if len(g.places) == mostTold {
			clear(g.places)
		}
		g.places[p] = &p
	}
	return g.places[p]
}

// values are the moderators by name.
func (p *place) values() map[string]float64 {
	m := map[string]float64{}
	for i, name := range ofSections {
		if !math.IsInf(p[i], 1) {
			m[name] = p[i]
		}
	}
	return m
}
