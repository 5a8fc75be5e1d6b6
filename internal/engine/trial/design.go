package trial

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// Kind is a design.
type Kind string

const (
	Randomised Kind = "randomised"   // completely: any unit may get any practice
	Blocks     Kind = "blocks"       // every practice in every block
	Pairs      Kind = "pairs"        // blocks of two units
	Latin      Kind = "latin-square" // practices change over the seasons on the same units
)

// Unit is what may be randomised. Only the name is needed.
type Unit struct {
	Name     string
	Kind     evidence.UnitKind
	Block    string // "": the design makes blocks of units that are alike
	Chamber  string // chamber or mainline that its sap is measured in, where it shares one
	Mainline string // that it draws its vacuum from
	Species  string
	Diameter float64 // of the stem, cm; 0: not given
	Taps     int
}

// Question is what a trial is to answer, and with what.
type Question struct {
	Practices     []practice.Key // the reference among them
	Reference     practice.Key   // "": unsanitized, else the first
	Design        Kind
	Units         []Unit // "": Replicates units of each practice are numbered
	Replicates    int    // where no units are given
	Taps          int    // of each unit that is given without, or where no units are given
	Seasons       int    // 0 is 1
	FirstSeason   int
	MoreReference bool // √k as many units of the reference for k other practices (Dunnett 1955, JASA 50:1096)
	Blind         bool // a code for each unit, so that who reads the counters does not know the practice
	PlasticAge    *int // the drops of all practices come from one pool, so many seasons old
	Seed          uint64
}

// Place is one unit in one season.
type Place struct {
	Unit     Unit
	Members  []string // the units on a shared chamber that became this one
	Season   int
	Practice practice.Key
	Code     string
}

// Keep is the used plastic that one practice needs in each season.
type Keep struct {
	Practice      practice.Key
	Spouts, Drops int // used ones, at most in one season
}

// Layout is which unit gets which practice.
type Layout struct {
	Question
	Places []Place // by season, block and unit
	Out    []Unit  // units that are not used
	Keep   []Keep  // used spouts and drops that must not be thrown away or cleaned
	DF     int     // degrees of freedom that will tell the error
	Notes  []note.Note
}

// Size is how many units the layout uses.
func (l *Layout) Size() int {
	units := map[string]bool{}
	for _, p := range l.Places {
		units[p.Unit.Name] = true
	}
	return len(units)
}

// Layout draws the layout from the seed. The error is note.Faults.
func (q Question) Layout(set practice.Set) (*Layout, error) {
	l := &Layout{Question: q}
	q.Seasons = max(1, q.Seasons)
	if err := q.check(set); err != nil {
		return nil, err
	}
	if q.Reference == "" {
		q.Reference = q.Practices[0]
		if slices.Contains(q.Practices, practice.Unsanitized) {
			q.Reference = practice.Unsanitized
		}
	}
	// The reference first, then as asked.
	q.Practices = slices.Clone(q.Practices)
	slices.SortStableFunc(q.Practices, func(a, b practice.Key) int {
		return cmp.Compare(boolInt(a != q.Reference), boolInt(b != q.Reference))
	})
	q.Units = slices.Clone(q.Units)
	var bare []string
	for i, u := range q.Units {
		if u.Taps == 0 {
			q.Units[i].Taps = max(1, q.Taps)
			bare = append(bare, u.Name)
		}
	}
	if bare != nil {
		l.Notes = append(l.Notes, note.New("no taps are given for %s; counted as %d each", some(bare), max(1, q.Taps)))
	}
	l.Question = q
	units, members := l.nest()
	if len(units) == 0 {
		units = q.numbered()
	}
	var err error
	switch q.Design {
	case Randomised:
		err = l.randomised(units)
	case Blocks, Pairs:
		err = l.blocks(units)
	case Latin:
		err = l.latin(units)
	}
	if err != nil {
		return nil, err
	}
	for i := range l.Places {
		l.Places[i].Members = members[l.Places[i].Unit.Name]
	}
	slices.SortStableFunc(l.Places, func(a, b Place) int {
		return cmp.Or(cmp.Compare(a.Season, b.Season), natural(a.Unit.Block, b.Unit.Block), natural(a.Unit.Name, b.Unit.Name))
	})
	if q.Blind {
		l.codes()
	}
	l.keep(set)
	l.judge()
	return l, nil
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// natural compares names so that 2 stands before 10.
func natural(a, b string) int {
	digits := func(s string) (head string, n int, rest string) {
		i := strings.IndexFunc(s, func(r rune) bool { return r >= '0' && r <= '9' })
		if i < 0 {
			return s, -1, ""
		}
		j := i
		for j < len(s) && s[j] >= '0' && s[j] <= '9' && j-i < 9 {
			n = n*10 + int(s[j]-'0')
			j++
		}
		return s[:i], n, s[j:]
	}
	for a != "" && b != "" {
		ha, na, ra := digits(a)
		hb, nb, rb := digits(b)
		if c := cmp.Or(cmp.Compare(ha, hb), cmp.Compare(na, nb)); c != 0 {
			return c
		}
		a, b = ra, rb
	}
	return cmp.Compare(a, b)
}

func (q Question) check(set practice.Set) error {
	var faults note.Faults
	fault := func(key string, args ...any) { faults = append(faults, note.New(key, args...)) }
	for i, k := range q.Practices {
		if _, ok := set.Find(k); !ok {
			fault("the practice %s is not known; known are %s", string(k), set.Names())
		}
		if slices.Contains(q.Practices[:i], k) {
			fault("the practice %s stands twice", string(k))
		}
	}
	if len(q.Practices) < 2 {
		fault("a trial compares two practices or more, not %d", len(q.Practices))
	}
	if q.Reference != "" && !slices.Contains(q.Practices, q.Reference) {
		fault("the reference %s is none of the practices", string(q.Reference))
	}
	switch q.Design {
	case Randomised, Blocks:
	case Pairs:
		if len(q.Practices) != 2 {
			fault("pairs compare two practices, not %d", len(q.Practices))
		}
		if q.MoreReference {
			fault("pairs have one unit of each practice: more of the reference needs another design")
		}
	case Latin:
		if q.Seasons != len(q.Practices) {
			fault("a Latin square over seasons needs as many seasons as practices, %d, not %d", len(q.Practices), q.Seasons)
		}
		if q.MoreReference {
			fault("a Latin square has each practice as often as any other: more of the reference needs another design")
		}
		if q.PlasticAge == nil {
			for _, k := range q.Practices {
				if p, _ := set.Find(k); p.Ages() {
					fault("%s cannot be rotated over units: the season after, its unit's plastic is one season old and is no %s reference. Keep practices on their units (blocks), or take all drops each season from one pool of a stated age",
						note.Term(k), note.Term(cmp.Or(q.Reference, practice.Unsanitized)))
				}
			}
		}
	default:
		fault("there is no design %s; allowed: randomised, blocks, pairs, latin-square", string(q.Design))
	}
	if q.PlasticAge != nil && (*q.PlasticAge < 0 || *q.PlasticAge > 100) {
		fault("the pool's drops are %d seasons old; allowed: 0 to 100", *q.PlasticAge)
	}
	if len(q.Units) == 0 && (q.Replicates < 1 || q.Replicates > 10000) {
		fault("%d replicates; allowed: 1 to 10000, or a list of units", q.Replicates)
	}
	names := map[string]bool{}
	for _, u := range q.Units {
		if u.Name == "" {
			fault("a unit has no name")
		} else if names[u.Name] {
			fault("the unit %s stands twice", u.Name)
		}
		names[u.Name] = true
		if u.Taps < 0 || u.Diameter < 0 || math.IsNaN(u.Diameter) || math.IsInf(u.Diameter, 0) {
			fault("the unit %s has %d taps and a stem of %v cm; allowed: 0 or more", u.Name, u.Taps, u.Diameter)
		}
	}
	return faults.Err()
}

// nest puts units that share a chamber together: a practice is applied to, and sap measured in, the chamber.
func (l *Layout) nest() ([]Unit, map[string][]string) {
	members := map[string][]string{}
	var units []Unit
	at := map[string]int{}
	shared := 0
	for _, u := range l.Units {
		if u.Chamber == "" {
			units = append(units, u)
			continue
		}
		i, ok := at[u.Chamber]
		if !ok {
			at[u.Chamber] = len(units)
			members[u.Chamber] = []string{u.Name}
			c := u
			c.Name, c.Kind = u.Chamber, evidence.Chamber
			units = append(units, c)
			continue
		}
		c := &units[i]
		shared++
		n := float64(len(members[u.Chamber]))
		c.Diameter = (c.Diameter*n + u.Diameter) / (n + 1)
		c.Taps += u.Taps
		if c.Species != u.Species {
			c.Species = "mixed"
		}
		members[u.Chamber] = append(members[u.Chamber], u.Name)
	}
	for i, u := range units { // a chamber of one unit keeps the unit's name
		if m := members[u.Chamber]; len(m) == 1 {
			units[i].Name, units[i].Kind = m[0], ""
			delete(members, u.Chamber)
		}
	}
	if shared > 0 {
		l.Notes = append(l.Notes, note.New("%d units share chambers or lines, where one practice is applied to all and their sap runs together: the chamber is the unit, and there are %d, not %d; trees on one chamber are not replicates",
			shared+len(members), len(units), len(l.Units)))
	}
	return units, members
}

// numbered makes units where none are given.
func (q Question) numbered() []Unit {
	var units []Unit
	k := len(q.Practices)
	add := func(block string) {
		units = append(units, Unit{Name: fmt.Sprint(len(units) + 1), Block: block, Taps: q.Taps})
	}
	s := Scheme{Design: q.Design, Practices: k, Replicates: q.Replicates, MoreReference: q.MoreReference}
	switch q.Design {
	case Randomised:
		for range s.Units() {
			add("")
		}
	case Latin:
		for range q.Replicates * k {
			add("")
		}
	default:
		for b := range q.Replicates {
			for range s.Units() / q.Replicates {
				add(fmt.Sprint(b + 1))
			}
		}
	}
	return units
}

// counts is how many units each practice gets of n, the reference first.
func (l *Layout) counts(n int, r stream) []int {
	k := len(l.Practices)
	c := make([]int, k)
	if l.MoreReference {
		t := float64(k - 1)
		each := max(1, int(math.Round(float64(n)/(t+math.Sqrt(t)))))
		for i := 1; i < k; i++ {
			c[i] = each
		}
		c[0] = n - (k-1)*each
		if c[0] >= 1 {
			return c
		}
	}
	for i := range c {
		c[i] = n / k
	}
	rest := n - k*(n/k)
	order := make([]int, k-1)
	for i := range order {
		order[i] = i + 1
	}
	shuffle(r, order)
	for i := range rest { // the reference first: every comparison leans on it
		if i == 0 {
			c[0]++
		} else {
			c[order[i-1]]++
		}
	}
	return c
}

// balanced draws some layouts and keeps the one whose practices have the most alike units, by species and stem
// (Morgan & Rubin 2012, Ann Stat 40:1263: any unit may still get any practice). draw shuffles in place.
func balanced(units []Unit, level []int, k int, draw func()) {
	covered := false
	for _, u := range units {
		covered = covered || u.Diameter > 0 || u.Species != ""
	}
	tries := 1
	if covered {
		tries = 100
	}
	best, at := math.Inf(1), slices.Clone(level)
	for range tries {
		draw()
		if x := imbalance(units, level, k); x < best {
			best = x
			copy(at, level)
		}
	}
	copy(level, at)
}

// imbalance is the sum of squared differences of the practices' means from the whole, each in standard deviations.
func imbalance(units []Unit, level []int, k int) float64 {
	sum := 0.0
	part := func(f func(Unit) (float64, bool)) {
		mean, square, n := 0.0, 0.0, 0.0
		for _, u := range units {
			if x, ok := f(u); ok {
				mean, square, n = mean+x, square+x*x, n+1
			}
		}
		mean /= n
		variance := square/n - mean*mean
		if !(variance > 1e-12) {
			return
		}
		for l := range k {
			m, c := 0.0, 0.0
			for i, u := range units {
				if x, ok := f(u); ok && level[i] == l {
					m, c = m+x, c+1
				}
			}
			if c > 0 {
				d := m/c - mean
				sum += d * d / variance
			}
		}
	}
	part(func(u Unit) (float64, bool) { return u.Diameter, u.Diameter > 0 })
	var species []string
	for _, u := range units {
		if u.Species != "" && !slices.Contains(species, u.Species) {
			species = append(species, u.Species)
		}
	}
	for _, s := range species {
		part(func(u Unit) (float64, bool) { return float64(boolInt(u.Species == s)), true })
	}
	return sum
}

func (l *Layout) randomised(units []Unit) error {
	k := len(l.Practices)
	if len(units) < k {
		return note.Faults{note.New("%d units cannot take %d practices", len(units), k)}
	}
	r := newStream(l.Seed, "layout")
	var level []int
	for p, n := range l.counts(len(units), r) {
		for range n {
			level = append(level, p)
		}
	}
	for i := range units {
		units[i].Block = ""
	}
	balanced(units, level, k, func() { shuffle(r, level) })
	l.place(units, level)
	return nil
}

// place gives each unit its practice in every season.
func (l *Layout) place(units []Unit, level []int) {
	for s := range l.Seasons {
		for i, u := range units {
			l.Places = append(l.Places, Place{Unit: u, Season: l.FirstSeason + s, Practice: l.Practices[level[i]]})
		}
	}
}

func (l *Layout) blocks(units []Unit) error {
	k := len(l.Practices)
	one := make([]int, 0, 2*k) // the practices of one block
	for i := range k {
		one = append(one, i)
	}
	if l.MoreReference {
		for range int(math.Round(math.Sqrt(float64(k-1)))) - 1 {
			one = append(one, 0)
		}
	}
	size := len(one)
	r := newStream(l.Seed, "layout")
	groups, names := l.groups(units, size)
	var used []Unit
	var level []int
	var spans [][2]int
	var faults note.Faults
	for g, group := range groups {
		if len(group) < size {
			faults = append(faults, note.New("block %s has %d units; allowed: %d or more, one for each practice (two or more for a reference that is replicated more)", names[g], len(group), size))
			continue
		}
		shuffle(r, group)
		times := len(group) / size
		l.Out = append(l.Out, group[times*size:]...)
		group = group[:times*size]
		start := len(used)
		for i, u := range group {
			u.Block = names[g]
			used = append(used, u)
			level = append(level, one[i%size])
		}
		spans = append(spans, [2]int{start, len(used)})
	}
	if faults != nil {
		return faults
	}
	if len(spans) == 0 {
		return note.Faults{note.New("%d units do not make one block of %d", len(units), size)}
	}
	balanced(used, level, k, func() {
		for _, s := range spans {
			shuffle(r, level[s[0]:s[1]])
		}
	})
	l.place(used, level)
	if len(l.Out) > 0 {
		var names []string
		for _, u := range l.Out {
			names = append(names, u.Name)
		}
		l.Notes = append(l.Notes, note.New("units not used, since blocks take %d: %s", size, some(names)))
	}
	l.Notes = append(l.Notes, note.New("one block is worked in one day by one crew: what differs between days and crews then differs between blocks"))
	return nil
}

// groups are the blocks given, or blocks of like units: sorted by species and stem and cut.
func (l *Layout) groups(units []Unit, size int) (groups [][]Unit, names []string) {
	at := map[string]int{}
	var loose []Unit
	for _, u := range units {
		if u.Block == "" {
			loose = append(loose, u)
			continue
		}
		i, ok := at[u.Block]
		if !ok {
			i = len(groups)
			at[u.Block] = i
			groups, names = append(groups, nil), append(names, u.Block)
		}
		groups[i] = append(groups[i], u)
	}
	slices.SortStableFunc(loose, func(a, b Unit) int {
		return cmp.Or(cmp.Compare(a.Species, b.Species), cmp.Compare(a.Diameter, b.Diameter))
	})
	for n := 1; len(loose) >= size; n++ {
		name := fmt.Sprint(n)
		for at[name] > 0 || slices.Contains(names, name) {
			n++
			name = fmt.Sprint(n)
		}
		groups, names = append(groups, loose[:size:size]), append(names, name)
		loose = loose[size:]
	}
	l.Out = append(l.Out, loose...)
	return groups, names
}

// latinRows is how many units a Williams square takes: k, or 2k where k is odd.
func latinRows(k int) int {
	if k%2 == 0 {
		return k
	}
	return 2 * k
}

// williams is the rows of a square in which every practice follows every other equally often (Williams 1949, Aust J Sci
// Res A 2:149): for odd k two squares, the second the mirror of the first.
func williams(k int) [][]int {
	first := make([]int, k) // 0, 1, k−1, 2, k−2, ...
	for i := range first {
		if i%2 == 1 {
			first[i] = (i + 1) / 2
		} else {
			first[i] = (k - i/2) % k
		}
	}
	var rows [][]int
	for shift := range k {
		row := make([]int, k)
		for i, x := range first {
			row[i] = (x + shift) % k
		}
		rows = append(rows, row)
	}
	if k%2 == 1 {
		for _, row := range rows[:k:k] {
			mirror := slices.Clone(row)
			slices.Reverse(mirror)
			rows = append(rows, mirror)
		}
	}
	return rows
}

func (l *Layout) latin(units []Unit) error {
	k := len(l.Practices)
	square := williams(k)
	n := len(square)
	r := newStream(l.Seed, "layout")
	groups, names := l.groups(units, n)
	var faults note.Faults
	for g, group := range groups {
		if len(group)%n != 0 {
			faults = append(faults, note.New("block %s has %d units; allowed: a multiple of %d, the rows of a square in which each of %d practices follows each other", names[g], len(group), n, k))
		}
	}
	if len(groups) == 0 {
		faults = append(faults, note.New("%d units do not make a square of %d", len(units), n))
	}
	if faults != nil {
		return faults
	}
	for g, group := range groups {
		shuffle(r, group)
		label := make([]int, k)
		for i := range label {
			label[i] = i
		}
		for i, u := range group {
			if i%n == 0 {
				shuffle(r, label)
			}
			u.Block = names[g]
			for s, x := range square[i%n] {
				l.Places = append(l.Places, Place{Unit: u, Season: l.FirstSeason + s, Practice: l.Practices[label[x]]})
			}
		}
	}
	l.Notes = append(l.Notes, note.New("practices change over the seasons, so each may leave something to the next: the orders let that be estimated, and the analysis does"))
	if l.PlasticAge != nil {
		l.Notes = append(l.Notes, note.New("before each season, put on every unit drops from the common pool, %d seasons old", *l.PlasticAge))
	}
	return nil
}

// codes gives each unit and season a code that says nothing.
func (l *Layout) codes() {
	r := newStream(l.Seed, "codes")
	const letters, digits = "ACEFHJKLMNPRTUVWXY", "34679" // none is taken for another
	taken := map[string]bool{}
	of := map[string]string{}
	for i := range l.Places {
		p := &l.Places[i]
		if of[p.Unit.Name] == "" {
			for code := ""; ; {
				code = string([]byte{letters[r.below(len(letters))], letters[r.below(len(letters))], digits[r.below(len(digits))], digits[r.below(len(digits))]})
				if !taken[code] {
					taken[code], of[p.Unit.Name] = true, code
					break
				}
			}
		}
		p.Code = of[p.Unit.Name]
	}
}

// keep counts the used plastic that each practice needs: used spouts where the practice uses them again, used drops
// where it keeps them.
func (l *Layout) keep(set practice.Set) {
	for _, k := range l.Practices {
		p, _ := set.Find(k)
		bySeason := map[int]int{}
		for _, place := range l.Places {
			if place.Practice == k {
				bySeason[place.Season] += place.Unit.Taps
			}
		}
		taps := 0
		for _, n := range bySeason {
			taps = max(taps, n)
		}
		kept := Keep{Practice: k}
		if p.Spout == practice.SpoutReused || p.Spout == practice.SpoutCheckValveReused {
			kept.Spouts = taps
		}
		if p.Drops == practice.DropsKept {
			kept.Drops = taps
		}
		if kept.Spouts > 0 || kept.Drops > 0 {
			l.Keep = append(l.Keep, kept)
		}
	}
	for _, k := range l.Keep {
		if k.Practice == l.Reference {
			l.Notes = append(l.Notes, note.New("keep %d used spouts and %d used drops for %s, as they come from the trees: a reference that was cleaned or renewed is none", k.Spouts, k.Drops, note.Term(k.Practice)))
		}
	}
}

// judge says what the design can tell before it is too late.
func (l *Layout) judge() {
	units, blocks := map[string]bool{}, map[string]bool{}
	each := map[practice.Key]map[string]bool{}
	for _, p := range l.Places {
		units[p.Unit.Name], blocks[p.Unit.Block] = true, true
		if each[p.Practice] == nil {
			each[p.Practice] = map[string]bool{}
		}
		each[p.Practice][p.Unit.Name] = true
	}
	k := len(l.Practices)
	l.DF = len(units) - len(blocks) - (k - 1)
	if l.Design == Latin {
		l.DF = len(l.Places) - len(units) - (l.Seasons - 1) - 2*(k-1)
	}
	for _, p := range l.Practices {
		if l.Design != Latin && len(each[p]) == 1 {
			l.Notes = append(l.Notes, note.New("%s has one unit: what the practice does could not be told from what that unit is", note.Term(p)))
		}
	}
	switch {
	case l.DF <= 0:
		l.Notes = append(l.Notes, note.New("nothing would tell the error of this trial: more units a practice are needed"))
	case l.DF < 6:
		l.Notes = append(l.Notes, note.New("only %d degrees of freedom would tell the error: intervals will be wide; look at the power", l.DF))
	}
}
