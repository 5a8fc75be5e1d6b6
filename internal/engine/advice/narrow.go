package advice

import (
	"maps"
	"math"
	"slices"

	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// Narrow is what all studies of a practice have in common, so that they tell of nothing else, and how many contradict
// each other.
type Narrow struct {
	Studies       int
	Gains, Losses int               // those that show a gain over unsanitized, or a loss, beyond their own errors
	Good, Bad     []int             // seasons whose studies do so together
	Site          string            // "" where they are of several, or of none that is named
	Season        int               // 0 where they are of several, or of none
	Caveats       []evidence.Caveat // that every one carries
}

// Narrow is that of a practice.
func (a *Advice) Narrow(k practice.Key) (x Narrow) {
	if a.narrow != nil { // frozen: the studies are not here
		return a.narrow[k]
	}
	sites, seasons, carried := map[string]bool{}, map[int]bool{}, map[evidence.Caveat]int{}
	var caveats []evidence.Caveat
	type total struct{ y, weight float64 }
	years := map[int]total{} // of the studies of one season, by their own errors
	for _, s := range a.Effects.Studies {
		holds := false
		for i, arm := range s.Arms {
			if arm.Practice == k {
				holds = true
				for _, year := range s.SeasonsOf(i) {
					seasons[year], x.Season = true, year
				}
			}
		}
		gain, loss := false, false // of its seasons
		for i, r := range s.Rows {
			if s.Arms[r.Arm] != (practice.Treatment{Practice: k}) || s.Arms[r.Ref].Practice != practice.Unsanitized {
				continue
			}
			if all := s.SeasonsOf(r.Arm); len(all) == 1 {
				e, t := s.Half(i)/1.96, years[all[0]]
				years[all[0]] = total{t.y + r.Y/(e*e), t.weight + 1/(e*e)}
			}
			switch h := 2.58 / 1.96 * s.Half(i); { // 99 %, since of many by chance one or another is found
			case r.Y > h:
				gain = true
			case r.Y < -h:
				loss = true
			}
		}
		switch { // a study of both contradicts no other
		case gain && !loss:
			x.Gains++
		case loss && !gain:
			x.Losses++
		}
		if !holds {
			continue
		}
		x.Studies++
		sites[s.Site], x.Site = true, s.Site
		for _, c := range s.Caveats {
			if carried[c]++; carried[c] == 1 {
				caveats = append(caveats, c)
			}
		}
	}
	for _, year := range slices.Sorted(maps.Keys(years)) {
		switch t := years[year]; {
		case t.y > 2.58*math.Sqrt(t.weight):
			x.Good = append(x.Good, year)
		case t.y < -2.58*math.Sqrt(t.weight):
			x.Bad = append(x.Bad, year)
		}
	}
	if len(sites) > 1 {
		x.Site = ""
	}
	if len(seasons) > 1 {
		x.Season = 0
	}
	for _, c := range caveats {
		if carried[c] == x.Studies {
			x.Caveats = append(x.Caveats, c)
		}
	}
	return x
}

// says is true where it is worth a word.
func (x Narrow) says() bool {
	return x.Studies > 1 && (x.Gains > 0 && x.Losses > 0 || x.Good != nil && x.Bad != nil ||
		x.Site != "" || x.Season != 0 || len(x.Caveats) > 0)
}
