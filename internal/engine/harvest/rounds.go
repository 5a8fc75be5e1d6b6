package harvest

import (
	"cmp"
	"slices"
	"time"

	"spile/internal/trade/trial"
)

// round is one reading of a block's units, one after the other: from the first unit's time to the last's.
type round struct {
	first, last time.Time
	timed       time.Time // the first time of which more than the day is known
	units       map[string]bool
}

// A crew needs up to some hours for a block.
const longestRound = 6 * time.Hour

// takes says whether a later reading may still be of the round: one of which the day alone is known on the same day.
func (x *round) takes(t time.Time) bool {
	if trial.DayOnly(t) || x.timed.IsZero() {
		return x.last.Truncate(24 * time.Hour).Equal(t.Truncate(24 * time.Hour))
	}
	return t.Sub(x.timed) <= longestRound
}

// rounds are those of all blocks, by the readings of sap that they consist of. A unit that comes again begins its
// block's next round, with all that are read at the same time. Sugar or vacuum that is read by itself is of none.
type rounds struct {
	of    map[instant]*round
	begin map[string]time.Time // a day before a block's first reading
}

// rounds finds them within the blocks that the units are of.
func (s season) rounds(blockOf func(trial.Plot) string) rounds {
	x := rounds{map[instant]*round{}, map[string]time.Time{}}
	place, block := map[string]int{}, map[string]string{}
	for i, p := range s.Plots {
		place[p.Unit], block[p.Unit] = i, blockOf(p)
	}
	read := slices.DeleteFunc(slices.Clone(s.Readings), func(r trial.Reading) bool {
		return r.Volume == nil &&
			r.Counter == nil && r.Depth == nil
	})
	slices.SortFunc(read, func(a, b trial.Reading) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(place[a.Unit], place[b.Unit]))
	})
	now := map[string]*round{} // of each block
	for i, r := range read {
		b := block[r.Unit]
		again := false
		for _, o := range read[i:] {
			if !o.At.Equal(r.At) {
				break
			}
			again = again || block[o.Unit] == b && now[b] != nil && now[b].units[o.Unit]
		}
		if x.begin[b].IsZero() {
			x.begin[b] = r.At.AddDate(0, 0, -1)
		}
		if now[b] == nil || again || !now[b].takes(r.At) {
			now[b] = &round{first: r.At, units: map[string]bool{}}
		}
		now[b].last, now[b].units[r.Unit] = r.At, true
		if now[b].timed.IsZero() && !trial.DayOnly(r.At) {
			now[b].timed = r.At
		}
		x.of[instant{r.Unit, r.At.Unix()}] = now[b]
	}
	return x
}

// span is when the rounds end that a run is between; the season's begin where the unit was not read before.
func (x rounds) span(block string, r Run) (from, to time.Time) {
	end := func(t time.Time) time.Time {
		if of := x.of[instant{r.Unit, t.Unix()}]; of != nil {
			return of.last
		}
		return t
	}
	if r.From.IsZero() {
		return x.begin[block], end(r.To)
	}
	return end(r.From), end(r.To)
}
