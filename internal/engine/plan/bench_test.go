package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// BenchmarkCapped is 60 sections over 15 seasons, with hours in three windows and cash that do not suffice.
func BenchmarkCapped(b *testing.B) {
	random := rand.New(rand.NewPCG(3, 4))
	p := &program{after: 0.5, toll: slices.Repeat([]float64{math.Inf(1)}, 4)}
	for t := range 15 {
		p.caps = append(p.caps, []float64{900, 500, 700, 20000})
		p.discount = append(p.discount, 1/(1+0.05*float64(t)))
	}
	for range 60 {
		size := 500 + 2000*random.Float64()
		x := block{start: random.IntN(6), left: []float64{0, size * 0.4, size * 0.3, size * 0.2, size * 0.1, 0}}
		var season [][]move
		for s := range 6 {
			next := min(s+1, 5)
			if s == 0 {
				next = 0
			}
			moves := []move{{next: next, use: make([]float64, 4)}}
			for range 5 {
				moves = append(moves, move{next: next, worth: size * (0.5 + random.Float64()),
					use: []float64{0, size / 600, size / 400 * random.Float64(), size * 0.4}})
			}
			moves = append(moves, move{next: 1, worth: size * (1.2 + 0.3*random.Float64()),
				use: []float64{size / 100, size / 60, size / 600, size * 1.4}})
			season = append(season, moves)
		}
		x.moves = slices.Repeat([][][]move{season}, len(p.discount))
		p.blocks = append(p.blocks, x)
	}
	for b.Loop() {
		s := p.solve()
		b.ReportMetric(100*(s.bound-s.value)/s.bound, "gap_pct")
	}
}
