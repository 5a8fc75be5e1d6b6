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

	mu   sync.Mutex
	kept map[gainKey]*told
}

// Over is the gains of a pool, with the moderators that the studies support.
func Over(r *pool.Result) *Gains {
	return &Gains{Result: r, kept: map[gainKey]*told{}}
}

// mostTold is how many gains are kept.
const mostTold = 2048

type gainKey struct {
	treatment practice.Treatment
	at        [3]float64
}

// told is what the pool says of a treatment where the moderators stand so.
type told struct {
	long   func() (pct float64, ok bool) // long-run percent
	ranged func() pool.Gain
}

// at is what is told of a treatment where a section's moderators stand.
func (g *Gains) at(t practice.Treatment, at map[string]float64) *told {
	key := g.key(t, at)
	g.mu.Lock()
	defer g.mu.Unlock()
	x := g.kept[key]
	if x == nil {
		x = &told{
			long: sync.OnceValues(func() (float64, bool) {
				log, ok := g.LongRun(t, at)
				return 100 * math.Expm1(log), ok
			}),
			ranged: sync.OnceValue(func() pool.Gain {
				gain, _ := g.ForMoneyAt(t, at)
				return gain
			}),
		}
		if len(g.kept) == mostTold {
			clear(g.kept)
		}
		g.kept[key] = x
	}
	return x
}

// key is by what gains of a treatment differ from section to section.
func (g *Gains) key(t practice.Treatment, at map[string]float64) gainKey {
	key := gainKey{treatment: t}
	for i, name := range ofSections {
		key.at[i] = math.Inf(1) // its mean
		if x, ok := at[name]; ok &&
			slices.ContainsFunc(g.Moderators, func(m pool.Moderator) bool { return m.Name == name }) {
			key.at[i] = x
		}
	}
	return key
}
