package mixture

import (
	"cmp"
	"math"
	"slices"
)

// Standing apart is asked of every study from four on; of more than 300, of the 20 that lie farthest from the others.
const (
	fewestStudies  = 4
	allLookedAt    = 300
	farthestLooked = 20
)

// A study is suspect while its chance is more than this, up to a quarter of the studies; up to four of them are looked
// at in every combination.
const (
	suspect  = 0.1
	combined = 4
)

// held is a situation looked at, with the logarithm of its weight among all.
type held struct {
	*weights
	log  float64
	unit int  // the one in which it differs from the heaviest of the others; −1: it is one of these
	full bool // looked at in a box of its own
}

// situations looks at all that weigh: the studies as they stand, those that are suspect standing apart, and every
// single study otherwise. units are those of which it was asked.
func (f *fit) situations(near *Near) (list []held, units []int) {
	none := situation{out: f.out, shift: f.prior.Shift}
	if near != nil {
		list = f.alike(near)
	} else {
		plain := f.settle(none, f.pilot(none), passes)
		list = []held{{plain, plain.evidence(), -1, true}}
	}
	if !f.asks() {
		return list, nil
	}
	at := list[0].means()
	units = f.asked(at)
	if near == nil || near.Fine { // of an answer of its own: what stands apart now, where that is other than it was
		s := f.newScreen(at)
		sets := slices.DeleteFunc(s.sets(s.grow(units)), func(set []int) bool {
			return slices.ContainsFunc(list, func(h held) bool { return f.same(h.c, f.wild(set)) })
		})
		list = append(list, f.together(list[0], sets)...)
	}
	best := slices.MaxFunc(list, func(a, b held) int { return cmp.Compare(a.log, b.log) })
	return append(list, f.beside(best, list, units)...), units
}

// asks is true where studies may stand apart.
func (f *fit) asks() bool { return f.known >= fewestStudies && f.prior.Wild > 0 }

// slight is a weight, of all that is held, below which a situation is not worth a box of its own.
const slight = 0.02

// together looks at sets of units that stand apart: on a slim grid over the box of none, and those that weigh something
// in full.
func (f *fit) together(none held, sets [][]int) []held {
	g := none.grid.fromZero().cut(slim)
	base := f.weigh(g, none.c, f.crew, f.added(none.c))
	list := make([]held, len(sets))
	share(f.crew, len(sets), func(w *worker, i int) {
		list[i] = f.against(none, base, f.wild(sets[i]), []*worker{w})
		list[i].unit = -1
	})
	whole := none.log
	for _, h := range list {
		whole = logSum([]float64{whole, h.log})
	}
	for i, h := range list {
		if h.log-whole > math.Log(slight) {
			x := f.settle(h.c, none.grid.fromZero(), passes-1)
			list[i] = held{x, x.evidence() + f.odds(len(sets[i])), -1, true}
		}
	}
	return list
}

// against looks at another situation on the slim grid on which one that was looked at in full was looked at again,
// which takes out what that grid errs.
func (f *fit) against(full held, again *weights, c situation, crew []*worker) held {
	sites, more := f.m.between(full.c, c)
	x := f.weighWhere(again.grid, c, crew, f.changed(again, c, sites), again.matters)
	return held{weights: x, log: full.log + x.evidence() - again.evidence() + f.odds(more)}
}

// between is the sites at which two situations differ, and how many more units stand apart in the second.
func (m *model) between(a, b situation) (sites []int, more int) {
	for u := range m.units {
		switch was, is := a.apart(u), b.apart(u); {
		case is && !was:
			more++
		case was && !is:
			more--
		default:
			continue
		}
		sites = append(sites, m.sitesOf[u]...)
	}
	slices.Sort(sites)
	return slices.Compact(sites), more
}

// odds is the logarithm of the prior odds of n studies standing apart.
func (f *fit) odds(n int) float64 {
	return float64(n) * math.Log(f.prior.Wild/(1-f.prior.Wild))
}

// wild is the situation in which some units stand apart.
func (f *fit) wild(units []int) situation {
	c := situation{wild: make([]bool, f.m.units), out: f.out, shift: f.prior.Shift}
	for _, u := range units {
		c.wild[u] = true
	}
	return c
}

// means is the posterior means of the standard deviations, ω apart.
func (x *weights) means() SD {
	var at SD
	m := x.margin(flat)
	for k := range ShrinkSD {
		for i, w := range m[k] {
			at[k] += w * x.grid[k].at(i)
		}
	}
	return at
}

// screen asks quickly whether units stand apart. τ, which what stands apart makes large, is integrated over eight
// points,
//
//	τ_i = 4·scale·((i − ½)/8)^1.5, weight ∝ (i − ½)^½;
//
// all else stands at its mean.
type screen struct {
	f     *fit
	at    [screened]SD
	prior [screened]float64
	c     situation // the last set that was asked about
	base  [screened]sum
}

const screened = 8

func (f *fit) newScreen(at SD) *screen {
	s := &screen{f: f, c: f.wild(nil)}
	share(f.crew, screened, func(w *worker, i int) {
		x := float64(i) + 0.5
		s.at[i] = at
		s.at[i][StudySD] = 4 * f.prior.Scale[StudySD] * math.Pow(x/screened, 1.5)
		s.prior[i] = f.prior.log(StudySD, s.at[i][StudySD]) + math.Log(x)/2
		s.base[i] = f.m.newSum()
		f.m.total([]spot{{to: &s.base[i], at: s.at[i]}}, s.c, &w.workspace)
	})
	return s
}

// chances is, for some units, the chance that each stands apart where a set without it does.
func (s *screen) chances(set, asked []int) []float64 {
	f := s.f
	c := f.wild(set)
	sites, _ := f.m.between(s.c, c)
	var here [screened]float64
	share(f.crew, screened, func(w *worker, i int) {
		f.m.change([]spot{{to: &s.base[i], at: s.at[i]}}, s.c, c, sites, &w.workspace)
		here[i] = s.prior[i] + f.quick.evidence(s.base[i], s.at[i][SeasonSD], w)
	})
	s.c = c
	chance := make([]float64, len(asked))
	share(f.crew, len(asked), func(w *worker, j int) {
		u := asked[j]
		other := f.wild(set)
		other.wild[u] = !c.wild[u]
		var there [screened]float64
		for i, at := range s.at {
			w.whole.set(s.base[i])
			f.m.change([]spot{{to: &w.whole, at: at}}, c, other, f.m.sitesOf[u], &w.workspace)
			there[i] = s.prior[i] + f.quick.evidence(w.whole, at[SeasonSD], w)
		}
		odds := logSum(there[:]) - logSum(here[:])
		if c.wild[u] {
			odds = -odds
		}
		chance[j] = 1 / (1 + math.Exp(-odds-f.odds(1)))
	})
	return chance
}

// grow gathers suspects: the likeliest joins as long as its chance is more than suspect.
func (s *screen) grow(units []int) []int {
	var set []int
	for len(set) < s.f.known/4 {
		best, most := -1, suspect
		for j, p := range s.chances(set, units) {
			if p > most && !slices.Contains(set, units[j]) {
				best, most = units[j], p
			}
		}
		if best < 0 {
			break
		}
		set = append(set, best)
	}
	slices.Sort(set)
	return set
}

// sets is the combinations of suspects to look at in full, but for that of none: all of a few; of more, those of them
// that more likely than not stand apart.
func (s *screen) sets(suspects []int) [][]int {
	if len(suspects) > combined {
		if set := s.likely(suspects); len(set) > 0 {
			return [][]int{set}
		}
		return nil
	}
	var list [][]int
	for bits := 1; bits < 1<<len(suspects); bits++ {
		var set []int
		for i, u := range suspects {
			if bits>>i&1 == 1 {
				set = append(set, u)
			}
		}
		list = append(list, set)
	}
	return list
}

// likely is the suspects that are left when the least likely leaves, as long as it less likely than not stands apart.
func (s *screen) likely(suspects []int) []int {
	set := slices.Clone(suspects)
	for len(set) > 0 {
		p := s.chances(set, set)
		least := slices.Index(p, slices.Min(p))
		if p[least] >= 0.5 {
			break
		}
		set = slices.Delete(set, least, least+1)
	}
	return set
}

// evidence is the logarithm of the likelihood at one choice of the standard deviations, effects flat, over all curves.
func (f *fit) evidence(from sum, season float64, w *worker) float64 {
	return f.weighCurves(w.curves[:len(f.curves)], -f.takeSeasons(from, season, w)/2, nil, f.prior.Delta, w)
}

// change makes sums those of another situation, which differs at some sites only.
func (m *model) change(run []spot, before, after situation, sites []int, w *workspace) {
	for _, i := range sites {
		m.add(run, i, before, -1, w)
		m.add(run, i, after, 1, w)
	}
}

// changed gives the sums of another situation from those of one looked at.
func (f *fit) changed(x *weights, c situation, sites []int) adder {
	return func(run []spot, w *worker) {
		for _, p := range run {
			p.to.set(x.sums[p.outer])
		}
		f.m.change(run, x.c, c, sites, &w.workspace)
	}
}

// beside looks at situations that differ from the best in a single unit, and are not in the list: each weighs little.
func (f *fit) beside(best held, looked []held, units []int) []held {
	again := f.weigh(best.grid.cut(slim), best.c, f.crew, f.added(best.c))
	var list []held
	for _, u := range units {
		c := f.wild(nil)
		copy(c.wild, best.c.wild)
		c.wild[u] = !c.wild[u]
		if !slices.ContainsFunc(looked, func(h held) bool { return f.same(h.c, c) }) {
			list = append(list, held{weights: &weights{c: c}, unit: u})
		}
	}
	share(f.crew, len(list), func(w *worker, i int) {
		unit := list[i].unit
		list[i] = f.against(best, again, list[i].c, []*worker{w})
		list[i].unit = unit
	})
	return list
}

// same is true where the same units stand apart.
func (f *fit) same(a, b situation) bool {
	for u := range f.m.units {
		if a.apart(u) != b.apart(u) {
			return false
		}
	}
	return true
}

// asked is the units of which it is asked whether they stand apart: all, or of very many those that lie farthest from
// what the model says of them at the means of the standard deviations.
func (f *fit) asked(at SD) []int {
	var units []int
	for i, u := range f.m.unit {
		if (f.out == nil || !f.out[i]) && !slices.Contains(units, u) {
			units = append(units, u)
		}
	}
	slices.Sort(units)
	if len(units) <= allLookedAt {
		return units
	}
	far := f.residuals(at, f.crew[0])
	slices.SortStableFunc(units, func(a, b int) int { return cmp.Compare(far[b], far[a]) })
	units = units[:farthestLooked]
	slices.Sort(units)
	return units
}
