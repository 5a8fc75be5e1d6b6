package plan

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// enumerate tries every schedule of every section within the caps: the answer that the solver is held against.
func enumerate(p *program) float64 {
	var all [][]path // of each section
	for i := range p.blocks {
		b := &p.blocks[i]
		var list []path
		var go1 func(s int, x path)
		go1 = func(s int, x path) {
			if len(x) == len(p.discount) {
				list = append(list, append(path{}, x...))
				return
			}
			for at, m := range b.moves[len(x)][s] {
				go1(m.next, append(x, at))
			}
		}
		go1(b.start, nil)
		all = append(all, list)
	}
	best := math.Inf(-1)
	paths := make([]path, len(p.blocks))
	var each func(i int)
	each = func(i int) {
		if i == len(all) {
			best = max(best, tally(p, paths))
			return
		}
		for _, x := range all[i] {
			paths[i] = x
			each(i + 1)
		}
	}
	each(0)
	return best
}

// tally is what a schedule brings, season by season; −Inf where a wall stands between.
func tally(p *program, paths []path) float64 {
	sum := 0.0
	states := make([]int, len(paths))
	for i, b := range p.blocks {
		states[i] = b.start
	}
	for t, v := range p.discount {
		used := make([]float64, len(p.toll))
		for i, b := range p.blocks {
			m := b.moves[t][states[i]][paths[i][t]]
			sum += v * m.worth
			for k, u := range m.use {
				used[k] += u
			}
			states[i] = m.next
		}
		for k, u := range used {
			if over := u - p.caps[t][k]; over > 1e-9*p.caps[t][k] {
				sum -= v * p.toll[k] * over
			}
		}
	}
	for i, b := range p.blocks {
		sum += p.after * b.left[states[i]]
	}
	return sum
}

// small draws a program that can be enumerated.
func small(t *rapid.T, resources int) *program {
	p := &program{after: 0.8}
	seasons := rapid.IntRange(1, 3).Draw(t, "seasons")
	for range seasons {
		p.discount = append(p.discount, rapid.Float64Range(0.5, 1).Draw(t, "discount"))
	}
	for range resources {
		p.toll = append(p.toll, rapid.SampledFrom([]float64{math.Inf(1), 0, 1, 7}).Draw(t, "toll"))
	}
	for range seasons {
		var caps []float64
		for range resources {
			caps = append(caps, rapid.Float64Range(0, 12).Draw(t, "cap"))
		}
		p.caps = append(p.caps, caps)
	}
	sections := rapid.IntRange(1, 3).Draw(t, "sections")
	if seasons == 3 {
		sections = min(sections, 2)
	}
	for range sections {
		var b block
		states := rapid.IntRange(1, 3).Draw(t, "states")
		b.start = rapid.IntRange(0, states-1).Draw(t, "start")
		season := func() (list [][]move) {
			for range states {
				moves := []move{{next: rapid.IntRange(0, states-1).Draw(t, "next"), use: make([]float64, resources)}}
				for range rapid.IntRange(0, 3).Draw(t, "moves") {
					m := move{next: rapid.IntRange(0, states-1).Draw(t, "next"), worth: rapid.Float64Range(-10, 100).
						Draw(t, "worth")}
					for range resources {
						m.use = append(m.use, rapid.Float64Range(0, 10).Draw(t, "use"))
					}
					moves = append(moves, m)
				}
				list = append(list, moves)
			}
			return list
		}
		b.moves = slices.Repeat([][][]move{season()}, 3)
		if rapid.Bool().Draw(t, "the last season differs") {
			b.moves[2] = season()
		}
		for range states {
			b.left = append(b.left, rapid.Float64Range(0, 20).Draw(t, "left"))
		}
		p.blocks = append(p.blocks, b)
	}
	return p
}

// Without caps backward induction finds the very best of all schedules.
func TestFreeAgainstEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := small(t, 0)
		want := enumerate(p)
		if s := p.solve(); math.Abs(s.value-want) > 1e-9*(1+math.Abs(want)) || s.bound != s.value {
			t.Fatalf("got %v within %v; every schedule tried: %v", s.value, s.bound, want)
		}
	})
}

// With caps the plan keeps within them, the gap is never negative and holds the best of all schedules.
func TestCappedAgainstEnumeration(t *testing.T) {
	tried, exact := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p := small(t, rapid.IntRange(1, 2).Draw(t, "resources"))
		want := enumerate(p)
		s := p.solve()
		slack := 1e-8 * (1 + math.Abs(want))
		if s.bound < s.value || s.bound < want-slack || math.IsInf(s.bound, 0) {
			t.Fatalf("bound %v, value %v; every schedule tried: %v", s.bound, s.value, want)
		}
		if s.value > want+slack || math.IsInf(p.total(s.paths), -1) {
			t.Fatalf("value %v above every schedule tried, %v, or beyond the caps", s.value, want)
		}
		for _, row := range s.prices {
			for _, x := range row {
				if x < 0 {
					t.Fatalf("negative price %v", x)
				}
			}
		}
		tried++
		if s.value >= want-slack {
			exact++
		}
	})
	if exact < tried {
		t.Errorf("the best schedule was found in %d of %d small cases", exact, tried)
	}
}

// Where the search is cut short, by its looks or by its room, the gap still covers the best of all schedules.
func TestCutShortAgainstEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := small(t, rapid.IntRange(1, 2).Draw(t, "resources"))
		want := enumerate(p)
		s := p.search(rapid.IntRange(0, 12).Draw(t, "looks"), rapid.IntRange(1, 3).Draw(t, "joints"), nil)
		slack := 1e-8 * (1 + math.Abs(want))
		if s.bound < s.value || s.bound < want-slack || s.value > want+slack || math.IsInf(p.total(s.paths), -1) {
			t.Fatalf("value %v, bound %v; every schedule tried: %v", s.value, s.bound, want)
		}
	})
}

// What fits into less fits into more: in sugarbushes too large to enumerate, the gap under larger caps covers every
// schedule found under smaller ones.
func TestTheGapCoversWhatLessAllows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one := small(t, 2)
		for len(one.blocks) < 6 {
			more := small(t, 2)
			one.blocks = append(one.blocks, more.blocks...)
		}
		large := *one
		large.blocks = slices.Clone(one.blocks)
		for i := range large.blocks {
			large.blocks[i].moves = slices.Clone(large.blocks[i].moves)
		}
		large.caps = copyGrid(one.caps)
		for _, caps := range large.caps {
			for k := range caps {
				caps[k] += rapid.Float64Range(0, 5).Draw(t, "more")
			}
		}
		tight, loose := one.solve(), large.solve()
		if slack := 1e-8 * (1 + math.Abs(tight.value)); loose.bound < tight.value-slack || loose.bound < loose.value ||
			tight.bound < tight.value {
			t.Fatalf("%v within %v under less, %v within %v under more", tight.value, tight.bound, loose.value,
				loose.bound)
		}
	})
}
