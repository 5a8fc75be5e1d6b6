package trial

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// stream is random numbers that depend on the seed and on what they are for, and on nothing else: the same for every
// version of the language's library, since only the generator's own output is used (PCG, O'Neill 2014).
type stream struct{ pcg *rand.PCG }

func newStream(seed uint64, purpose string) stream {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	return stream{rand.NewPCG(seed, h.Sum64())}
}

// float is uniform over [0, 1).
func (s stream) float() float64 { return float64(s.pcg.Uint64()>>11) / (1 << 53) }

// below is uniform over 0 to n−1, without bias.
func (s stream) below(n int) int {
	limit := math.MaxUint64 - math.MaxUint64%uint64(n)
	for {
		if x := s.pcg.Uint64(); x < limit {
			return int(x % uint64(n))
		}
	}
}

// shuffle puts things into a random order (Fisher & Yates 1938).
func shuffle[T any](s stream, things []T) {
	for i := len(things) - 1; i > 0; i-- {
		j := s.below(i + 1)
		things[i], things[j] = things[j], things[i]
	}
}

// normal is a draw of the standard normal (Box & Muller 1958).
func (s stream) normal() float64 {
	return math.Sqrt(-2*math.Log(1-s.float())) * math.Cos(2*math.Pi*s.float())
}
