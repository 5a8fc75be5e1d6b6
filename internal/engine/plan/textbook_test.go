package plan

import (
	"math"
	"slices"
	"testing"

	"spile/internal/engine/budget"
	"spile/internal/trade/bush"
)

// Replacement of one asset by dynamic programming: the shape of the textbook problem (equipment replacement, as in
// Hillier & Lieberman, Introduction to Operations Research, and Wagner, Principles of Operations Research), with
// numbers chosen here so that hand arithmetic checks them: an asset brings 10, 7, 3 and 0 in its seasons of use and
// costs 6 to replace, undiscounted. Yearly averages of a cycle of N: 4/1 = 4, 11/2 = 5.5, 14/3 = 4.67: every 2.
func TestReplacementByHand(t *testing.T) {
	yields := []float64{10, 7, 3, 0}
	b := block{start: 3, left: make([]float64, 4)}
	var season [][]move
	for age := range yields { // the age that the asset would be used at
		season = append(season, []move{
			{next: min(age+1, 3), worth: yields[age]},
			{next: 1, worth: yields[0] - 6},
		})
	}
	b.moves = slices.Repeat([][][]move{season}, 12)
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

// Equivalent annual cost, a problem in the manner of Brealey, Myers & Allen, Principles of Corporate Finance
// (investment decisions with the net present value rule); its figures come from crosscheck/values.R. Machine A costs 15
// and then 5 a year for three years, B 10 and then 6 a year for two; A is the cheaper by the year, though not by its
// present value. The book pays at the end of a year, the plan at its start.
func TestEquivalentAnnualCost(t *testing.T) {
	const r = 0.06
	for _, c := range []struct {
		name             string
		first, each, n   float64
		present, annuity float64
	}{{"A", 15, 5, 3, 28.365060, 10.611647}, {"B", 10, 6, 2, 21.000356, 11.454369}} {
		endOfYear := budget.Annuity(r, c.n) / (1 + r)
		present := c.first + c.each*endOfYear
		if math.Abs(present-c.present) > 1e-6 {
			t.Errorf("machine %s: present value %.7f, R has %v", c.name, present, c.present)
		}
		if got := present / endOfYear; math.Abs(got-c.annuity) > 1e-6 {
			t.Errorf("machine %s: %.7f a year, R has %v", c.name, got, c.annuity)
		}
	}
	// What the plan spreads evenly over its taps and seasons is that same annuity.
	p := Plan{Sections: []SectionPlan{{Section: bush.Section{Taps: 1}}}, Seasons: make([]Season, 3)}
	p.Sugarbush.Prices.Discount.Best = r
	if got := p.PerTap(28.365060) * (1 + r); math.Abs(got-10.611647) > 1e-6 {
		t.Errorf("%.7f, want 10.611647", got)
	}
}

// When to replace: the same book's kind of problem, with figures from crosscheck/values.R. The old machine brings 4 in
// each of two more years; a new one costs 15 and brings 8 in each of three, at 6 % a present value of 6.3841 and an
// equivalent annual 2.3884. As 4 is more, the old one runs until its end, and new ones follow every three years.
func TestWhenToReplace(t *testing.T) {
	const r = 0.06
	v := 1 / (1 + r)
	endOfYear := budget.Annuity(r, 3) / (1 + r)
	if npv := 8*endOfYear - 15; math.Abs(npv-6.384096) > 1e-6 || math.Abs(npv/endOfYear-2.388353) > 1e-6 {
		t.Errorf("%.7f, %.7f a year", npv, npv/endOfYear)
	}
	const dead, old1, old2, new1, new2 = 0, 1, 2, 3, 4 // years left
	replace := move{next: new2, worth: -15 + 8*v}
	b := block{start: old2, left: make([]float64, 5), moves: slices.Repeat([][][]move{{
		dead: {{next: dead}, replace},
		old1: {{next: dead, worth: 4 * v}, replace},
		old2: {{next: old1, worth: 4 * v}, replace},
		new1: {{next: dead, worth: 8 * v}, replace},
		new2: {{next: new1, worth: 8 * v}, replace},
	}}, 62)}
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
		t.Errorf("replaced in the years %v; the old machine runs for two more years, then a new one each three",
			replaced)
	}
}
