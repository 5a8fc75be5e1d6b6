package design

import (
	"math"
	"slices"

	"spile/internal/trade/trial"
)

// balanced draws some layouts and keeps the one whose practices have the most alike units, by species and stem
// (Morgan & Rubin 2012, Ann Stat 40:1263: any unit may still get any practice). draw shuffles in place.
func balanced(units []trial.Unit, level []int, k int, draw func()) {
	covered := false
	for _, u := range units {
		covered = covered || u.Diameter > 0 || u.Species != ""
	}
	tries := 1
	if covered {
		tries = 100
	}
	best, at := math.Inf(1), slices.Clone(level)
	for range tries {
		draw()
		if x := imbalance(units, level, k); x < best {
			best = x
			copy(at, level)
		}
	}
	copy(level, at)
}

// imbalance is the sum of squared differences of the practices' means from the whole, each in standard deviations.
func imbalance(units []trial.Unit, level []int, k int) float64 {
	sum := 0.0
	part := func(f func(trial.Unit) (float64, bool)) {
		mean, square, n := 0.0, 0.0, 0.0
		for _, u := range units {
			if x, ok := f(u); ok {
				mean, square, n = mean+x, square+x*x, n+1
			}
		}
		mean /= n
		variance := square/n - mean*mean
		if !(variance > 1e-12) {
			return
		}
		for l := range k {
			m, c := 0.0, 0.0
			for i, u := range units {
				if x, ok := f(u); ok && level[i] == l {
					m, c = m+x, c+1
				}
			}
			if c > 0 {
				d := m/c - mean
				sum += d * d / variance
			}
		}
	}
	part(func(u trial.Unit) (float64, bool) { return u.Diameter, u.Diameter > 0 })
	var species []string
	for _, u := range units {
		if u.Species != "" && !slices.Contains(species, u.Species) {
			species = append(species, u.Species)
		}
	}
	for _, s := range species {
		part(func(u trial.Unit) (float64, bool) { return float64(boolInt(u.Species == s)), true })
	}
	return sum
}
