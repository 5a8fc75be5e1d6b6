package rotation

import "slices"

// Lot is a share of all drops, of one age in seasons of use, 0 in the first; Old where they are old.
type Lot struct {
	Age   int
	Share float64
}

// Old is the age of drops that were there before anybody replaced any.
const Old = -1

// Staged is drops of which 1/every are replaced each season, as they stand once that has gone on.
func Staged(every int) []Lot {
	lots := make([]Lot, every)
	for age := range lots {
		lots[age] = Lot{age, 1 / float64(every)}
	}
	return lots
}

// Way is the ages of drops in each of so many seasons, from how they stood in the last: 1/every of them are replaced
// each season, the oldest first, or all of them every so many seasons at once; none where every is 0.
func Way(from []Lot, every, seasons int, atOnce bool) [][]Lot {
	way := make([][]Lot, seasons)
	for s := range way {
		var now []Lot
		for _, l := range from {
			if l.Age != Old {
				l.Age++
			}
			now = append(now, l)
		}
		replaced := 0.
		switch {
		case every > 0 && !atOnce:
			replaced = 1 / float64(every)
		case every > 0 && s%every == 0:
			replaced = 1
		}
		slices.SortStableFunc(now, func(a, b Lot) int { // the oldest first
			switch {
			case a.Age == b.Age:
				return 0
			case a.Age == Old || b.Age != Old && a.Age > b.Age:
				return -1
			}
			return 1
		})
		left := replaced
		for i := range now {
			part := min(left, now[i].Share)
			now[i].Share -= part
			left -= part
		}
		now = slices.DeleteFunc(now, func(l Lot) bool { return l.Share < 1e-12 })
		if replaced > 0 {
			now = append(now, Lot{0, replaced})
		}
		way[s], from = now, now
	}
	return way
}
