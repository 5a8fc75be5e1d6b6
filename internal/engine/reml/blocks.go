package reml

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/note"
)

// A plan is the model cut along its independence. Rows that V0 or any component ties together, directly or through
// others, form a super-block; super-blocks add up. Within one, some columns of Z (a site's) may tie together blocks
// that are otherwise independent: such linking columns are taken as a low-rank addition (Woodbury) to the
// block-diagonal rest, wherever that costs less than one dense block. The choice is made for each super-block.
type plan struct {
	m     *Model
	n, p  int
	k     int        // components
	y     []float64  // y less its ordinary least squares fit
	beta0 []float64  // that fit
	xtx   float64    // log|X'X|
	turn  *mat.Dense // the X of m is the user's X·turn; nil: the same

	known []bool // row has a known variance
	// sets of components of which one must be above 0: those that give a row without a known variance one of its own
	own []uint64

	supers   []super
	superOf  []int // by row
	maxBlock int   // most rows in a block
	maxLocal int   // most local columns in a block
	maxWide  int   // most data columns in a block
	maxSuper int   // most columns of a super-block with links
}

// super is a super-block. Its data columns are its nonzero columns of X, then y, then its linking columns.
type super struct {
	x      []int // columns of X
	link   []int // component of each linking column, ascending
	blocks []block
}

// block is rows that are dependent once linking columns are set aside.
type block struct {
	rows  []int
	at    []int     // where each data column adds to: of the super-block if it has links, else of the whole
	w     []float64 // data, rows × len(at)
	v0    []float64 // rows × rows, nil where nothing is known
	z     []local   // columns of Z within the block, by component
	kappa []float64 // one row only: z² by component
}

// local is a column of Z inside one block; rows count within the block.
type local struct {
	k    int
	rows []int
	vals []float64
}

// sets is a union of rows into classes.
type sets []int

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = i
	}
	return s
}

func (s sets) find(i int) int {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

// join keeps the smaller row as the class's name, so that names do not depend on the order of joining.
func (s sets) join(rows []int, vals []float64) {
	first := -1
	for i, r := range rows {
		if vals != nil && vals[i] == 0 {
			continue
		}
		if first < 0 {
			first = s.find(r)
			continue
		}
		r = s.find(r)
		if r < first {
			first, r = r, first
		}
		s[r] = first
	}
}

// entries counts the nonzero values of a column and gives the place of the last.
func entries(z Column) (count, last int) {
	for i, v := range z.Values {
		if v != 0 {
			count, last = count+1, i
		}
	}
	return count, last
}

func newPlan(m *Model) (*plan, error) {
	if err := check(m); err != nil {
		return nil, err
	}
	o, err := leastSquares(m.Y, m.X)
	if err != nil {
		return nil, err
	}
	turned := *m
	turned.X = o.x
	pl, err := cut(&turned, o.resid)
	if err != nil {
		return nil, err
	}
	pl.beta0, pl.xtx, pl.turn = o.beta, o.logdet, o.turn
	return pl, nil
}

// cut makes the plan of a model whose y is given apart.
func cut(m *Model, y []float64) (*plan, error) {
	n, p := m.X.Dims()
	pl := &plan{m: m, n: n, p: p, k: len(m.Components), y: y, known: make([]bool, n)}
	spread := make([]bool, pl.k) // has a column of two rows or more
	for _, b := range m.V0 {
		for _, r := range b.Rows {
			pl.known[r] = true
		}
	}
	own := make([]uint64, n)
	for k, c := range m.Components {
		for _, z := range c.Z {
			switch count, last := entries(z); {
			case count == 1:
				own[z.Rows[last]] |= 1 << k
			case count > 1:
				spread[k] = true
			}
		}
	}
	var without []int
	for i, set := range own {
		if pl.known[i] {
			continue
		}
		if set == 0 {
			without = append(without, i)
		} else if !slices.Contains(pl.own, set) {
			pl.own = append(pl.own, set)
		}
	}
	if len(without) > 0 {
		return nil, bare(without)
	}
	whole := pl.blocks(make([]bool, pl.k))
	labels := pl.choose(whole, spread)
	if err := pl.affordable(labels, whole); err != nil {
		return nil, err
	}
	pl.build(labels, whole)
	return pl, nil
}

// blocks joins the rows that V0 and the components other than links tie together.
func (pl *plan) blocks(links []bool) sets {
	s := newSets(pl.n)
	for _, b := range pl.m.V0 {
		s.join(b.Rows, nil)
	}
	for k, c := range pl.m.Components {
		if !links[k] {
			for _, z := range c.Z {
				s.join(z.Rows, z.Values)
			}
		}
	}
	return s
}

// choose gives each row the name of its local block: for every super-block the cheapest way over all subsets of
// components whose columns may link.
func (pl *plan) choose(whole sets, spread []bool) sets {
	m, n := pl.m, pl.n
	var may []int
	for k, s := range spread {
		if s {
			may = append(may, k)
		}
	}
	best := slices.Clone(whole) // no component links: the super-block is one dense block
	if len(may) == 0 {
		return best
	}
	if len(may) > 5 { // subsets grow too many; the widest-reaching components gain most
		slices.SortStableFunc(may, func(a, b int) int { return len(m.Components[a].Z) - len(m.Components[b].Z) })
		may = may[:5]
		slices.Sort(may)
	}
	lowest := pl.costs(best, whole)
	for subset := 1; subset < 1<<len(may); subset++ {
		links := make([]bool, pl.k)
		for i, k := range may {
			links[k] = subset>>i&1 == 1
		}
		s := pl.blocks(links)
		cost := pl.costs(s, whole)
		better := make([]bool, n)
		for i := range n {
			if w := whole.find(i); w == i && cost[i] < lowest[i] {
				lowest[i], better[i] = cost[i], true
			}
		}
		for i := range n {
			if better[whole.find(i)] {
				best[i] = s.find(i)
			}
		}
	}
	return best
}

// costs is, by the name of each super-block, about how many multiplications one evaluation takes with local blocks s.
func (pl *plan) costs(s, whole sets) []float64 {
	n, m := pl.n, pl.m
	rows, inside, across, links := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		rows[s.find(i)]++
	}
	met := make([]int, n)
	stamp := 0
	for _, c := range m.Components {
		for _, z := range c.Z {
			if count, _ := entries(z); count < 2 {
				continue // merged into a diagonal
			}
			stamp++
			blocks, first := 0, -1
			for i, r := range z.Rows {
				if z.Values[i] == 0 {
					continue
				}
				if b := s.find(r); met[b] != stamp {
					met[b] = stamp
					blocks++
					if first < 0 {
						first = b
					}
				}
			}
			if blocks == 1 {
				inside[first]++
				continue
			}
			links[whole.find(first)]++
			for i, r := range z.Rows {
				if b := s.find(r); z.Values[i] != 0 && met[b] == stamp {
					met[b] = 0
					across[b]++
				}
			}
		}
	}
	pairs := float64(pl.k*(pl.k+1)) / 2
	cost := make([]float64, n)
	for b := range n {
		if rows[b] == 0 {
			continue
		}
		wide := float64(min(pl.p, 4)) + 1 + across[b]
		c := 30 + pairs*wide*wide
		if rows[b] > 1 {
			q := inside[b] + rows[b] // the diagonal components count as a column a row
			c = 100 + rows[b]*rows[b]*(rows[b]+wide+q) + q*q*(2+wide)
		}
		cost[whole.find(b)] += c
	}
	for w, q := range links {
		if q > 0 {
			a := float64(pl.p) + 1
			cost[w] += 200 + q*q*q*(1+pairs) + (2+3*pairs)*q*(q+a)*(q+a)
		}
	}
	return cost
}

// affordable refuses what would not fit in memory: a dense block or a set of links of more than some 7,000.
func (pl *plan) affordable(labels, whole sets) error {
	const most = 7000
	rows, links := make([]int, pl.n), make([]int, pl.n)
	for i := range pl.n {
		rows[labels.find(i)]++
	}
	for _, c := range pl.m.Components {
		for _, z := range c.Z {
			if first, linking := reach(z, labels); linking {
				links[whole.find(first)]++
			}
		}
	}
	if big := max(slices.Max(rows), slices.Max(links)); big > most {
		return &Fault{Kind: TooLarge,
			Note: note.New("%d rows hang together through more than one component; at most %d can be computed",
				big, most)}
	}
	return nil
}

// reach gives the first row of a column and whether it runs through more than one local block.
func reach(z Column, labels sets) (first int, linking bool) {
	first = -1
	for i, r := range z.Rows {
		if z.Values[i] == 0 {
			continue
		}
		if first < 0 {
			first = r
		} else if labels.find(r) != labels.find(first) {
			return first, true
		}
	}
	return first, false
}

// linked is an entry of a linking column in a row.
type linked struct {
	column int // within the super-block
	value  float64
}

// builder makes the super-blocks of a plan.
type builder struct {
	*plan
	labels, whole  sets
	blockOf, place []int      // by row: its block in the super-block, and where it stands there
	links          [][]linked // by row
}

func (pl *plan) build(labels, whole sets) {
	b := builder{plan: pl, labels: labels, whole: whole, blockOf: make([]int, pl.n), place: make([]int, pl.n),
		links: make([][]linked, pl.n)}
	pl.superOf = make([]int, pl.n)
	b.partition()
	b.given()
	b.columns()
	b.data()
}

// partition makes super-blocks and blocks in the order of their first rows.
func (b *builder) partition() {
	for i := range b.n {
		if w := b.whole.find(i); w == i {
			b.superOf[i] = len(b.supers)
			b.supers = append(b.supers, super{})
		} else {
			b.superOf[i] = b.superOf[w]
		}
		s := &b.supers[b.superOf[i]]
		if l := b.labels.find(i); l == i {
			b.blockOf[i] = len(s.blocks)
			s.blocks = append(s.blocks, block{})
		} else {
			b.blockOf[i] = b.blockOf[l]
		}
		own := b.blockAt(i)
		b.place[i] = len(own.rows)
		own.rows = append(own.rows, i)
	}
}

func (b *builder) blockAt(row int) *block { return &b.supers[b.superOf[row]].blocks[b.blockOf[row]] }

// given puts the known variances into their blocks.
func (b *builder) given() {
	for _, v := range b.m.V0 {
		if len(v.Rows) == 0 {
			continue
		}
		own := b.blockAt(v.Rows[0])
		size := len(own.rows)
		if own.v0 == nil {
			own.v0 = make([]float64, size*size)
		}
		for i, r := range v.Rows {
			for j, c := range v.Rows {
				own.v0[b.place[r]*size+b.place[c]] = v.V.At(i, j)
			}
		}
	}
}

// columns puts the columns of Z inside a block, or has them link. Columns of one row merge: only Σz² matters.
func (b *builder) columns() {
	single := make([]float64, b.n)
	for k, c := range b.m.Components {
		for _, z := range c.Z {
			switch count, last := entries(z); {
			case count > 1:
				b.column(k, z, count)
			case count == 1:
				single[z.Rows[last]] += z.Values[last] * z.Values[last]
			}
		}
		for i, v := range single {
			if v == 0 {
				continue
			}
			single[i] = 0
			own := b.blockAt(i)
			if len(own.rows) > 1 {
				own.z = append(own.z, local{k: k, rows: b.place[i : i+1], vals: []float64{math.Sqrt(v)}})
				continue
			}
			if own.kappa == nil {
				own.kappa = make([]float64, b.k)
			}
			own.kappa[k] = v
		}
	}
}

// column puts a column of component k where it belongs, which has count entries.
func (b *builder) column(k int, z Column, count int) {
	first, linking := reach(z, b.labels)
	s := &b.supers[b.superOf[first]]
	l := local{k: k, rows: make([]int, 0, count), vals: make([]float64, 0, count)}
	for i, r := range z.Rows {
		switch v := z.Values[i]; {
		case v == 0:
		case linking:
			b.links[r] = append(b.links[r], linked{len(s.link), v})
		default:
			l.rows = append(l.rows, b.place[r])
			l.vals = append(l.vals, v)
		}
	}
	if linking {
		s.link = append(s.link, k)
		return
	}
	own := b.blockAt(first)
	own.z = append(own.z, l)
}

// data gives each block its rows of X and y, and says how much room the largest takes.
func (b *builder) data() {
	mark := make([]int, b.p) // where a column of X stands in the super-block, plus 1
	for si := range b.supers {
		s := &b.supers[si]
		clear(mark)
		for bi := range s.blocks {
			for _, r := range s.blocks[bi].rows {
				for j, v := range b.m.X.RawRowView(r) {
					if v != 0 {
						mark[j] = 1
					}
				}
			}
		}
		for j := range b.p {
			if mark[j] > 0 {
				s.x = append(s.x, j)
				mark[j] = len(s.x)
			}
		}
		for bi := range s.blocks {
			own := &s.blocks[bi]
			b.fill(own, s, mark, b.links)
			b.maxBlock = max(b.maxBlock, len(own.rows))
			b.maxLocal = max(b.maxLocal, len(own.z))
			b.maxWide = max(b.maxWide, len(own.at))
		}
		if len(s.link) > 0 {
			b.maxSuper = max(b.maxSuper, len(s.x)+1+len(s.link))
		}
	}
}

// fill sets the data of a block: the columns of X that are not all zero in it, y, and its linking columns.
func (pl *plan) fill(b *block, s *super, mark []int, links [][]linked) {
	x, y := pl.m.X, pl.p // y stands after all of X where blocks add to the whole
	if len(s.link) > 0 {
		y = len(s.x)
	}
	var from []int // column of X, or −1 for y
	for _, j := range s.x {
		if slices.ContainsFunc(b.rows, func(r int) bool { return x.At(r, j) != 0 }) {
			from = append(from, j)
			if len(s.link) > 0 {
				b.at = append(b.at, mark[j]-1)
			} else {
				b.at = append(b.at, j)
			}
		}
	}
	from = append(from, -1)
	b.at = append(b.at, y)
	for _, r := range b.rows {
		for _, l := range links[r] {
			if !slices.Contains(b.at[len(from):], y+1+l.column) {
				b.at = append(b.at, y+1+l.column)
			}
		}
	}
	slices.Sort(b.at[len(from):])
	wide := len(b.at)
	b.w = make([]float64, len(b.rows)*wide)
	for i, r := range b.rows {
		row := b.w[i*wide : (i+1)*wide]
		for c, j := range from {
			if j < 0 {
				row[c] = pl.y[r]
			} else {
				row[c] = x.At(r, j)
			}
		}
		for _, l := range links[r] {
			at, _ := slices.BinarySearch(b.at[len(from):], y+1+l.column)
			row[len(from)+at] = l.value
		}
	}
}
