// Package stream is random numbers from a seed.
package stream

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// Stream is random numbers that depend on the seed and on what they are for, and on nothing else: the same for every
// version of the language's library, since only the generator's own output is used (PCG, O'Neill 2014).
type Stream struct{ pcg *rand.PCG }

func New(seed uint64, purpose string) Stream {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	return Stream{rand.NewPCG(seed, h.Sum64())}
}

// Float is uniform over [0, 1).
func (s Stream) Float() float64 { return float64(s.pcg.Uint64()>>11) / (1 << 53) }

// Below is uniform over 0 to n−1, without bias.
func (s Stream) Below(n int) int {
	limit := math.MaxUint64 - math.MaxUint64%uint64(n)
	for {
		if x := s.pcg.Uint64(); x < limit {
			return int(x % uint64(n))
		}
	}
}

// Shuffle puts things into a random order (Fisher & Yates 1938).
func Shuffle[T any](s Stream, things []T) {
	for i := len(things) - 1; i > 0; i-- {
		j := s.Below(i + 1)
		things[i], things[j] = things[j], things[i]
	}
}

// Normal is a draw of the standard normal (Box & Muller 1958).
func (s Stream) Normal() float64 {
	return math.Sqrt(-2*math.Log(1-s.Float())) * math.Cos(2*math.Pi*s.Float())
}
