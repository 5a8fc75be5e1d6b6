package plan

import (
	"math"
	"testing"
)

// Replacement of one asset by dynamic programming: the shape of the textbook problem (equipment replacement, as in
// Hillier & Lieberman, Introduction to Operations Research, and Wagner, Principles of Operations Research; the method
// from memory, the numbers chosen here so that hand arithmetic checks them): an asset brings 10, 7, 3 and 0 in its seasons
// of use and costs 6 to replace, undiscounted. Yearly averages of a cycle of N: 4/1 = 4, 11/2 = 5.5, 14/3 = 4.67: every 2.
func TestReplacementByHand(t *testing.T) {
	yields := []float64{10, 7, 3, 0}
	b := block{start: 3, left: make([]float64, 4)}
	for age := range yields { // the age that the asset would be used at
		b.moves = append(b.moves, []move{
			{next: min(age+1, 3), worth: yields[age]},
			{next: 1, worth: yields[0] - 6},
		})
	}
	p := &program{after: 1, blocks: []block{b}}
	for range 12 {
		p.discount = append(p.discount, 1)
	}
	s := p.solve()
	if want := 6 * 11.; math.Abs(s.value-want) > 1e-12 {
		t.Errorf("twelve seasons bring %v; six cycles of two bring %v", s.value, want)
	}
	for season, move := range s.paths[0] {
		if replaced := move == 1; replaced != (season%2 == 0) {
			t.Errorf("season %d: replaced %v", season, replaced)
		}
	}
}
