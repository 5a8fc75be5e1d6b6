package mixture

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// same holds that two tables weigh every component of a small grid alike, and say the same of every effect there.
func same(t *rapid.T, a, b Table, within float64) {
	t.Helper()
	agree := func(what string, x, y float64) {
		t.Helper()
		if !(math.Abs(x-y) <= within*(1+math.Abs(x))) {
			t.Fatalf("%s: %v and %v", what, x, y)
		}
	}
	var fits [2]*fit
	var looked [2]*weights
	for i, table := range []Table{a, b} {
		f := newFit(table, Default(), nil)
		g := newGrid(f.prior).cut([sds]int{3, 2, 2, 2, 2})
		for k := range g {
			g[k].high = 1.5
		}
		fits[i], looked[i] = f, f.weigh(g, situation{}, f.crew[:1], f.added(situation{}))
	}
	for k := range looks {
		for i, x := range looked[0].look[k].cells {
			agree("weight", x, looked[1].look[k].cells[i])
		}
		for i, x := range looked[0].look[k].parts {
			agree("a curve's part", x, looked[1].look[k].parts[i])
		}
		p, q := fits[0].posterior(k, looked[:1], []float64{0}), fits[1].posterior(k, looked[1:], []float64{0})
		for i := range a.Families {
			x, y := p.Season(lineOf(i)), q.Season(lineOf(i))
			agree("mean", x.Mean(), y.Mean())
			agree("standard deviation", x.SD(), y.SD())
		}
	}
}

// Measured arms, and contrasts of them with any of them as the reference, are the same data.
func TestArmsAsContrasts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawnTrade(t, 4, 9)
		other := table
		other.Studies = nil
		for _, s := range table.Studies {
			s.Arms = slices.Clone(s.Arms)
			last := rapid.IntRange(0, len(s.Arms)-1).Draw(t, "reference")
			s.Arms[last], s.Arms[len(s.Arms)-1] = s.Arms[len(s.Arms)-1], s.Arms[last]
			other.Studies = append(other.Studies, reported(s))
		}
		same(t, table, other, 1e-7)
	})
}

// drawnTrade draws a table of trade, of at least and at most so many studies.
func drawnTrade(t *rapid.T, least, most int) Table {
	studies := rapid.IntRange(least, most).Draw(t, "studies")
	table := trade(studies, 4, 4, rapid.Bool().Draw(t, "ages"), rapid.Uint64().Draw(t, "seed"))
	linked(&table)
	return table
}

// linked leaves out the effects that no study of a table tells of.
func linked(table *Table) {
	found := map[int]bool{}
	for _, s := range table.Studies {
		for _, a := range s.Arms {
			if a.Effect >= 0 {
				found[a.Effect] = true
			}
		}
	}
	at := map[int]int{-1: -1}
	table.Families = nil
	for k := range 5 {
		if found[k] {
			at[k] = len(table.Families)
			table.Families = append(table.Families, k/3)
		}
	}
	for i := range table.Studies {
		s := &table.Studies[i]
		s.Arms = slices.Clone(s.Arms)
		for k := range s.Arms {
			s.Arms[k].Effect = at[s.Arms[k].Effect]
		}
	}
}

// The order of studies, of arms, and the names of sites and seasons change nothing.
func TestOrderChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawnTrade(t, 8, 14)
		other := table
		other.Studies = slices.Clone(table.Studies)
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 0))
		r.Shuffle(len(other.Studies), func(i, j int) {
			other.Studies[i], other.Studies[j] = other.Studies[j], other.Studies[i]
		})
		for i := range other.Studies {
			s := &other.Studies[i]
			s.Site, s.Season = "at "+s.Site, 2030-s.Season
			s.Arms = slices.Clone(s.Arms)
			r.Shuffle(len(s.Arms), func(i, j int) { s.Arms[i], s.Arms[j] = s.Arms[j], s.Arms[i] })
		}
		same(t, table, other, 1e-7)
	})
}

// What all arms of a study share says nothing, and neither does a study of one arm.
func TestLevelsSayNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := six()
		for i := range table.Studies {
			level := rapid.Float64Range(-5, 5).Draw(t, "level")
			for k := range table.Studies[i].Arms {
				table.Studies[i].Arms[k].Log += level
			}
		}
		table.Studies = append(table.Studies, Study{Site: "another", Season: 1,
			Arms: []Arm{{Practice: 2, Effect: 1, Log: 3, V: .01}}})
		same(t, six(), table, 1e-7)
	})
}

// mixtures draws distributions.
func mixtures() *rapid.Generator[Marginal] {
	part := rapid.Custom(func(t *rapid.T) Normal {
		return Normal{
			Weight: rapid.Float64Range(1e-6, 1).Draw(t, "weight"),
			Mean:   rapid.Float64Range(-2, 2).Draw(t, "mean"),
			SD:     rapid.Float64Range(.01, 1).Draw(t, "sd"),
		}
	})
	return rapid.Custom(func(t *rapid.T) Marginal { return rapid.SliceOfN(part, 1, 50).Draw(t, "parts") })
}

func TestQuantiles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := mixtures().Draw(t, "mixture")
		p := rapid.Float64Range(.001, .999).Draw(t, "p")
		x := m.Quantile(p)
		if got := m.CDF(x); !(math.Abs(got-p) <= 1e-7) {
			t.Fatalf("the chance of at most the quantile of %v is %v", p, got)
		}
		if step := rapid.Float64Range(0, 1).Draw(t, "step"); m.CDF(x+step) < m.CDF(x) {
			t.Fatalf("the distribution function falls between %v and %v", x, x+step)
		}
		if y := m.Quantile(min(.9999, p+.0005)); y < x {
			t.Fatalf("quantiles fall from %v to %v", x, y)
		}
	})
}

// Merging keeps weight, mean and standard deviation, and moves no quantile that matters.
func TestMerging(t *testing.T) {
	a := integrated(t, trade(35, 12, 12, false, 1), calm())
	var all Marginal
	s := a.Shrunk.newSight(lineOf(1))
	for i := range a.Shrunk.parts {
		x := &a.Shrunk.parts[i]
		s.look(&a.Shrunk.points[x.point])
		mean, v := s.of(x)
		all = append(all, Normal{x.weight, mean, math.Sqrt(v)})
	}
	few := all.merged()
	if len(few) > len(all)/3 {
		t.Errorf("%d parts are merged into %d", len(all), len(few))
	}
	near(t, "mean", few.Mean(), all.Mean(), 1e-12)
	near(t, "sd", few.SD(), all.SD(), 1e-12)
	near(t, "log of the expected exponential", few.Exp(), all.Exp(), 1e-6)
	for _, p := range []float64{.025, .3, .5, .975} {
		near(t, "quantile", few.Quantile(p), all.Quantile(p), 2e-4*all.SD())
	}
}

// The answer does not hang on the number of cores.
func TestSameBytesOnAnyCores(t *testing.T) {
	table := trade(12, 4, 4, true, 2)
	linked(&table)
	var all [][]float64
	for _, n := range []int{1, 2, 5} {
		before := runtime.GOMAXPROCS(n)
		a := integrated(t, table, Default())
		runtime.GOMAXPROCS(before)
		numbers := slices.Clone(a.Apart)
		for i := range table.Families {
			m := a.Shrunk.Of(lineOf(i))
			numbers = append(numbers, m.Mean(), m.Quantile(.025))
		}
		draws, _ := a.Studies.Draws([]Line{lineOf(0)}, 100, 3)
		all = append(all, append(numbers, draws[0]...))
	}
	if !slices.Equal(all[0], all[1]) || !slices.Equal(all[0], all[2]) {
		t.Error("the answer hangs on the number of cores")
	}
}

// Leaving studies out while the box is held is next to fitting the others alone; leaving none out changes nothing.
func TestWithout(t *testing.T) {
	table := trade(12, 5, 4, true, 4)
	linked(&table)
	a := integrated(t, table, Default())
	for _, gone := range [][]int{nil, {3}, {0, 1, 2}} {
		plain, shrunk, err := a.Without(gone)
		if err != nil {
			t.Fatal(err)
		}
		rest := table
		rest.Studies = nil
		for i, s := range table.Studies {
			if !slices.Contains(gone, i) {
				rest.Studies = append(rest.Studies, s)
			}
		}
		alone := integrated(t, rest, Default())
		within := .008
		if gone == nil {
			alone, within = a, .003
		}
		for i := range table.Families {
			for _, p := range [][2]*Posterior{{plain, alone.Studies}, {shrunk, alone.Shrunk}} {
				for _, q := range []float64{.025, .5, .975} {
					got, want := p[0].Of(lineOf(i)).Quantile(q), p[1].Of(lineOf(i)).Quantile(q)
					near(t, "quantile without some", got, want, within)
				}
			}
		}
	}
}

// An effect that no study tells of, and one that only the study left out tells of, are refused.
func TestUntold(t *testing.T) {
	table := lone()
	table.Families = []int{0, 0}
	if _, err := Of(table, Default()); err != ErrUntold {
		t.Errorf("an effect without a study: %v", err)
	}
	a := integrated(t, six(), Default())
	if _, _, err := a.Without([]int{2, 4}); err != ErrUntold {
		t.Errorf("the only studies of the third practice left out: %v", err)
	}
}

// Halving the scales narrows, doubling them widens.
func TestScalesOfPriors(t *testing.T) {
	width := func(factor float64) float64 {
		d := integrated(t, lone(), Default().Times(factor)).Studies.Of(lineOf(0))
		return d.Quantile(.975) - d.Quantile(.025)
	}
	if half, one, two := width(.5), width(1), width(2); !(half < one && one < two) {
		t.Errorf("widths under half, whole and double scales: %v %v %v", half, one, two)
	}
}

// Among very many studies those that are far off are found.
func TestFarOffAmongMany(t *testing.T) {
	table := trade(400, 20, 10, true, 1)
	far := []int{17, 140, 301}
	for _, i := range far {
		table.Studies[i].Arms[1].Log += 2
	}
	table.Studies[301] = reported(table.Studies[301])
	a := integrated(t, table, Default())
	asked := 0
	flagged := 0
	for i, p := range a.Apart {
		if !math.IsNaN(p) {
			asked++
		}
		if p > .5 {
			flagged++
		} else if slices.Contains(far, i) {
			t.Errorf("study %d stands apart with chance %v only", i, p)
		}
	}
	if flagged > 10 {
		t.Errorf("%d studies are said to stand apart, and 3 do", flagged)
	}
	if asked != farthestLooked {
		t.Errorf("%d studies were asked", asked)
	}
}

// The chance of a range between steps, and back.
func TestSteps(t *testing.T) {
	s := Steps{{0, 1, .25}, {1, 3, .75}}
	near(t, "quantile", s.Quantile(.25), 1, 1e-9)
	near(t, "quantile", s.Quantile(.625), 2, 1e-9)
	near(t, "chance", s.CDF(2), .625, 1e-12)
}

// Prior precision of shrunk effects against the inverse of their covariance with a mean that is all but flat.
func TestShrinkage(t *testing.T) {
	families := []int{0, 0, 1, 1, 1, 2}
	s := Default().newShrinkage(Table{Families: families}, .2)
	n := len(families)
	cov := mat.NewSymDense(n, nil)
	for i, f := range families {
		for j, g := range families[:i+1] {
			x := 1e6 // variance of m
			if f == g {
				x += .25 * .25
			}
			if i == j {
				x += .2 * .2
			}
			cov.SetSym(i, j, x)
		}
	}
	var inv mat.Dense
	if err := inv.Inverse(cov); err != nil {
		if _, ill := err.(mat.Condition); !ill {
			t.Fatal(err)
		}
	}
	for i := range n {
		for j := range n {
			near(t, "precision", s.q[i*n+j], inv.At(i, j), 1e-3)
		}
	}
}

// The cells of every axis follow one another from the low end to the high end, with their points inside: what widens a
// box looks at its ends.
func TestCellsAscend(t *testing.T) {
	g := pilotBox(Default(), []SD{{.1, .1, .1, .1}}, []float64{1}).cut(fine)
	for k, a := range g {
		for i := range a.n {
			low, high := a.edges(i)
			if x := a.at(i); !(low < x && x < high) {
				t.Errorf("axis %d: point %d, %v, does not lie from %v to %v", k, i, x, low, high)
			}
		}
	}
}
