package worth

import (
	"cmp"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Space is where trials are looked for: every set of its treatments, at as many sites, over as many seasons and of as
// many blocks as pays best.
type Space struct {
	Treatments []practice.Treatment
	Trial      Trial // what all have in common; where Sites or Seasons are 0, they are looked for
	Blocks     []int // sizes, from the least on; larger ones are looked at as long as they pay
}

// What is no longer looked at, however well it pays, so that a search ends.
const (
	mostBlocks  = 1000
	mostSites   = 12
	mostSeasons = 6
)

// How many sets of treatments of one number are looked at in every size, how many are taken further to the next number,
// and how many are told in the end.
const (
	climbers  = 48
	beam      = 16
	shortlist = 40
	finalists = 20
)

// searcher is a search on its way.
type searcher struct {
	*Question
	space  Space
	blocks []int
	arms   []int // what is hopeful, by treatment number
}

// design is a set of arms, by their places in searcher.arms and rising, and its size.
type design struct {
	arms                   []int
	sites, seasons, blocks int // blocks by its place among the sizes
}

// sized is a design with what it is worth.
type sized struct {
	design
	Worth
}

// Search ranks the best trials of a space, each set of treatments at its best size, highest net first. Sets are grown
// treatment by treatment, the best of each number taken further, as one normal tells them; what stands out is told by
// the mixture. The error is note.Faults.
func (q *Question) Search(space Space) ([]Worth, error) {
	s := &searcher{Question: q, space: space, blocks: space.sizes()}
	if faults := s.open(); len(faults) > 0 {
		return nil, faults
	}
	list := s.grow()
	list = best(list, shortlist, s.promise())
	s.each(len(list), func(i int) { list[i] = s.tell(list[i].design, few) })
	list = best(list, finalists, s.promise())
	s.each(len(list), func(i int) {
		if s.finest() > few {
			list[i] = s.climb(list[i].design, few)
		}
		list[i] = s.tell(list[i].design, s.finest())
	})
	var ranked []Worth
	for _, x := range best(list, finalists, nil) {
		x.Edge = s.edge(x.design)
		ranked = append(ranked, x.Worth)
	}
	return ranked, nil
}

// sizes are the numbers of blocks, going on beyond the last as they rose.
func (s Space) sizes() []int {
	list := slices.Clone(s.Blocks)
	for n := len(list); n > 1; n++ {
		x := 2 * list[n-2]
		if x > mostBlocks {
			break
		}
		list = append(list, max(x, list[n-1]+1))
	}
	return list
}

// open takes the treatments that are worth a thought: unsanitized, what is best today, and what knowing the gains might
// put first; all where that is too little to compare.
func (s *searcher) open() note.Faults {
	all, faults := s.armsOf(Trial{Treatments: s.space.Treatments})
	if len(faults) > 0 {
		return faults
	}
	for i, t := range s.space.Treatments {
		if t.Practice == practice.Unsanitized || s.hopeful(t) {
			s.arms = append(s.arms, all[i])
		}
	}
	if len(s.arms) < 2 {
		s.arms = all
	}
	if len(s.arms) < 2 {
		return note.Faults{note.New("a trial compares at least two treatments")}
	}
	return nil
}

// numbers are the treatments of a set by number.
func (s *searcher) numbers(set []int) []int {
	var list []int
	for _, i := range set {
		list = append(list, s.arms[i])
	}
	return list
}

// trial is a design as a trial; its reference is unsanitized, else what is best today, else the first.
func (s *searcher) trial(d design) Trial {
	t := s.space.Trial
	t.Blocks, t.Seasons = s.blocks[d.blocks], d.seasons
	if t.Site == "" {
		t.Sites = d.sites
	}
	rank := func(x practice.Treatment) int {
		switch x.Practice {
		case practice.Unsanitized:
			return 0
		case s.m.Options[s.best].Choice.Practice:
			return 1
		}
		return 2
	}
	t.Treatments = nil
	for _, i := range d.arms {
		t.Treatments = append(t.Treatments, s.m.Gains.Treatments[s.arms[i]])
	}
	slices.SortStableFunc(t.Treatments, func(a, b practice.Treatment) int { return cmp.Compare(rank(a), rank(b)) })
	return t
}

// each does n pieces of work on all cores.
func (s *searcher) each(n int, work func(i int)) {
	var next atomic.Int64
	var group sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		group.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(i)
			}
		})
	}
	group.Wait()
}

// grow gives sets of all sizes, each at its best size.
func (s *searcher) grow() []sized {
	var all, level []sized
	start := design{sites: cmp.Or(s.space.Trial.Sites, 1), seasons: cmp.Or(s.space.Trial.Seasons, 1),
		blocks: len(s.space.Blocks) / 2}
	for i := range s.arms {
		for j := range i {
			d := start
			d.arms = []int{j, i}
			level = append(level, sized{design: d})
		}
	}
	for last := math.Inf(-1); len(level) > 0; {
		s.each(len(level), func(i int) { level[i] = s.tell(level[i].design, around) })
		level = best(level, climbers, s.promise())
		s.each(len(level), func(i int) { level[i] = s.climb(level[i].design, around) })
		all = append(all, level...)
		from := best(level, beam, s.promise())
		if len(from[0].arms) > 2 && from[0].Net < last {
			break
		}
		last, level = from[0].Net, s.wider(from)
	}
	return all
}

// wider is every set with one more treatment, once.
func (s *searcher) wider(from []sized) []sized {
	var list []sized
	met := map[string]bool{}
	for _, x := range from {
		for i := range s.arms {
			if slices.Contains(x.arms, i) {
				continue
			}
			d := x.design
			d.arms = append(slices.Clone(x.arms), i)
			slices.Sort(d.arms)
			if key := fmt.Sprint(d.arms); !met[key] {
				met[key] = true
				list = append(list, sized{design: d})
			}
		}
	}
	return list
}

// best is the first n by their net, with the best of those that must be told of.
func best(list []sized, n int, must func(sized) bool) []sized {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b sized) int { return cmp.Compare(b.Net, a.Net) })
	top := list[:min(n, len(list))]
	if must != nil && !slices.ContainsFunc(top, must) {
		if i := slices.IndexFunc(list, must); i >= 0 {
			top[len(top)-1] = list[i]
		}
	}
	return top
}

// promise is true of trials that hold the practice that leads on too few studies; nil where there is none.
func (s *searcher) promise() func(sized) bool {
	k := s.Promising()
	if k < 0 {
		return nil
	}
	return func(x sized) bool {
		return slices.ContainsFunc(x.arms, func(i int) bool { return slices.Contains(s.tested[k], s.arms[i]) })
	}
}

// Promising is the option that nets most, where it may not come first before it is studied more; else −1.
func (q *Question) Promising() int {
	k := q.top(q.now, indices(len(q.now)), nil)
	if k == q.best {
		return -1
	}
	return k
}

// tell is what a design is worth.
func (s *searcher) tell(d design, components int) sized {
	return sized{d, s.told(s.trial(d), s.numbers(d.arms), components)}
}

// climb looks for the best size of a set, step by step: more or fewer sites, seasons or blocks, and sites for blocks.
func (s *searcher) climb(d design, components int) sized {
	at := s.tell(d, components)
	for {
		next := at
		for _, step := range [][3]int{{0, 0, 1}, {0, 0, -1}, {1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {1, 0, -1},
			{-1, 0, 1}} {
			to := at.design
			to.sites, to.seasons, to.blocks = to.sites+step[0], to.seasons+step[1], to.blocks+step[2]
			if s.allowed(to) {
				if x := s.tell(to, components); x.Net > next.Net {
					next = x
				}
			}
		}
		if next.Net <= at.Net {
			return at
		}
		at = next
	}
}

// allowed is true of a size that may be looked at.
func (s *searcher) allowed(d design) bool {
	t := s.space.Trial
	fixed := t.Site != "" || t.Sites > 0
	return d.blocks >= 0 && d.blocks < len(s.blocks) &&
		(d.sites == cmp.Or(t.Sites, 1) || !fixed && d.sites >= 1 && d.sites <= mostSites) &&
		(d.seasons == cmp.Or(t.Seasons, 1) || t.Seasons == 0 && d.seasons >= 1 && d.seasons <= mostSeasons)
}

// edge is true of a size beyond which nothing was looked at, on a side where more or less could pay: fewer than two
// blocks replicate nothing.
func (s *searcher) edge(d design) bool {
	return len(s.blocks) > 1 && (d.blocks == 0 && s.blocks[0] > 2 || d.blocks == len(s.blocks)-1) ||
		s.space.Trial.Site == "" && s.space.Trial.Sites == 0 && d.sites == mostSites ||
		s.space.Trial.Seasons == 0 && d.seasons == mostSeasons
}

// Sizes says what a trial is worth with each number of blocks, up to twice its own at least.
func (q *Question) Sizes(t Trial, space Space) ([]Worth, error) {
	arms, faults := q.armsOf(t)
	if len(faults) > 0 {
		return nil, faults
	}
	s := &searcher{Question: q}
	var blocks []int
	for i, n := range space.sizes() {
		if i < len(space.Blocks) || n <= 2*t.Blocks {
			blocks = append(blocks, n)
		}
	}
	list := make([]Worth, len(blocks))
	s.each(len(list), func(i int) {
		t := t
		t.Blocks = blocks[i]
		list[i] = q.told(t, arms, q.finest())
	})
	return list, nil
}
