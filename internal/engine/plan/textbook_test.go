package plan

import (
	"math"
	"slices"
	"testing"

	"spile/internal/engine/budget"
	"spile/internal/trade/bush"
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

// Equivalent annual cost: Brealey, Myers & Allen, Principles of Corporate Finance, the chapter on investment decisions
// with the net present value rule (figures from memory). Machine A costs 15 and then 5 a year for three years, B 10 and
// then 6 a year for two; at 6 % their present values are 28.37 and 21.00, and their equivalent annual costs 10.61 and 11.45,
// so that A is the cheaper, though not by its present value. The book pays at the end of a year, the plan at its start.
func TestEquivalentAnnualCost(t *testing.T) {
	const r = 0.06
	for _, c := range []struct {
		name             string
		first, each, n   float64
		present, annuity float64
	}{{"A", 15, 5, 3, 28.37, 10.61}, {"B", 10, 6, 2, 21.00, 11.45}} {
		endOfYear := budget.Annuity(r, c.n) / (1 + r)
		present := c.first + c.each*endOfYear
		if math.Abs(present-c.present) > 0.005 {
			t.Errorf("machine %s: present value %.4f, the book has %v", c.name, present, c.present)
		}
		if got := present / endOfYear; math.Abs(got-c.annuity) > 0.005 {
			t.Errorf("machine %s: %.4f a year, the book has %v", c.name, got, c.annuity)
		}
	}
	// What the plan spreads evenly over its taps and seasons is that same annuity.
	p := Plan{Sections: []SectionPlan{{Section: bush.Section{Taps: 1}}}, Seasons: make([]Season, 3)}
	p.Sugarbush.Prices.Discount.Best = r
	if got := p.PerTap(28.37) * (1 + r); math.Abs(got-10.61) > 0.005 {
		t.Errorf("%.4f, want 10.61", got)
	}
}

// When to replace: the same chapter (from memory). The old machine brings 4 in each of two more years; a new one costs 15
// and brings 8 in each of three, at 6 % a present value of 6.38 and an equivalent annual 2.387. As 4 is more, the old one
// runs until its end, and new ones follow every three years.
func TestWhenToReplace(t *testing.T) {
	const r = 0.06
	v := 1 / (1 + r)
	endOfYear := budget.Annuity(r, 3) / (1 + r)
	if npv := 8*endOfYear - 15; math.Abs(npv-6.38) > 0.005 || math.Abs(npv/endOfYear-2.387) > 0.002 {
		t.Errorf("%.4f, %.4f a year", npv, npv/endOfYear)
	}
	const dead, old1, old2, new1, new2 = 0, 1, 2, 3, 4 // years left
	replace := move{next: new2, worth: -15 + 8*v}
	b := block{start: old2, left: make([]float64, 5), moves: [][]move{
		dead: {{next: dead}, replace},
		old1: {{next: dead, worth: 4 * v}, replace},
		old2: {{next: old1, worth: 4 * v}, replace},
		new1: {{next: dead, worth: 8 * v}, replace},
		new2: {{next: new1, worth: 8 * v}, replace},
	}}
	p := &program{blocks: []block{b}, after: math.Pow(v, 62)}
	for year := range 62 {
		p.discount = append(p.discount, math.Pow(v, float64(year)))
	}
	s := p.solve()
	var replaced []int
	for year, move := range s.paths[0] {
		if move == 1 {
			replaced = append(replaced, year)
		}
	}
	var want []int
	for year := 2; year < 62; year += 3 {
		want = append(want, year)
	}
	if !slices.Equal(replaced, want) {
		t.Errorf("replaced in the years %v; the old machine runs for two more years, then a new one each three", replaced)
	}
}
