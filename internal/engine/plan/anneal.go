package plan

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"spile/internal/engine/sure"
)

// How the annealing goes on, in counts, as the rest of the search.
const (
	chains = 6        // begun alike, and drawn apart,
	many   = 400      // as long as no more sections are shifted in all of them, and two else
	shifts = 400000   // of two sections from one column to another, in each, where there are many sections
	each   = 3000     // of one section, where there are few
	pooled = 80       // columns of a section
	warm   = 0.3      // heat at the beginning, of the gap to the bound by section,
	cold   = 1e-3     // and at the end, of that
	soft   = 0.5      // what using more than a wall is charged at first, of its price and a little,
	hard   = 3000.    // and at the end
	looks  = 10000000 // at two columns together, in polishing
)

// column is a path of a section, with what it is worth and what it uses of each row.
type column struct {
	path  path
	worth float64
	use   []float64
	loss  float64 // that the bound is lower with it than with the best
}

// row is what is short in a season, where some columns together meet it and some do not.
type row struct {
	season, of      int
	cap, toll, wall float64 // toll is charged beyond the cap; of a wall, wall times the hardness of the moment
}

// see keeps a path that was the best of its section under some prices.
func (r *relaxed) see(i int, x path) {
	if r.seen == nil {
		r.seen = make([]map[string]path, len(r.blocks))
	}
	if r.seen[i] == nil {
		r.seen[i] = map[string]path{}
	}
	r.key = r.key[:0]
	for _, at := range x {
		r.key = append(r.key, byte(at), byte(at>>8))
	}
	if r.seen[i][string(r.key)] == nil {
		r.seen[i][string(r.key)] = slices.Clone(x)
	}
}

// options are the moves of a section in a season by state, with how much lower the bound is with each under its own
// prices, those that lose least first. value is what the section can still get under them.
func (r *relaxed) options(t int, b *block, value [][]float64) [][]option {
	list := make([][]option, len(b.left))
	for _, s := range b.live[t] {
		for at := range b.moves[t][s] {
			m := &b.moves[t][s][at]
			y := r.discount[t]*m.worth + value[t+1][m.next]
			for k, u := range m.use {
				y -= r.at[t][k] * u
			}
			list[s] = append(list[s], option{at, value[t][s] - y})
		}
		slices.SortStableFunc(list[s], func(a, b option) int { return cmp.Compare(a.loss, b.loss) })
	}
	return list
}

// columns are the paths of a section that lose least under the prices, and those seen; the one of the best schedule
// comes first. What loses more than the gap is in no better schedule.
func (r *relaxed) columns(i int) []column {
	b, last := &r.blocks[i], len(r.discount)
	x := make(path, last)
	r.walk(b, r.at, nil, x, &r.desk)
	options := make([][][]option, last)
	for t := range options {
		options[t] = r.options(t, b, r.desk.value)
	}
	var list []column
	limit := r.bound - r.value
	var step func(t, s int, loss float64)
	step = func(t, s int, loss float64) {
		if t == last {
			list = append(list, column{path: slices.Clone(x), loss: loss})
			return
		}
		for _, o := range options[t][s] {
			if loss+o.loss > limit || len(list) > pooled {
				return
			}
			x[t] = o.at
			step(t+1, b.moves[t][s][o.at].next, loss+o.loss)
		}
	}
	for step(0, b.start, 0); len(list) > pooled; step(0, b.start, 0) {
		limit, list = 0.7*limit, list[:0]
		if limit < closed*math.Abs(r.bound) {
			break
		}
	}
	add := func(x path) column {
		c := column{path: x}
		s := b.start
		for t, at := range x {
			o := options[t][s][slices.IndexFunc(options[t][s], func(o option) bool { return o.at == at })]
			c.loss += o.loss
			s = b.moves[t][s][at].next
		}
		return c
	}
	for _, x := range r.seen[i] {
		list = append(list, add(x))
	}
	slices.SortFunc(list, func(a, b column) int {
		return cmp.Or(cmp.Compare(a.loss, b.loss), slices.Compare(a.path, b.path))
	})
	list = slices.CompactFunc(list, func(a, b column) bool { return slices.Equal(a.path, b.path) })
	return append([]column{add(r.best[i])}, list[:min(len(list), pooled)]...)
}

// rows fills what columns are worth and use, and gives the rows that tell them apart: what all columns together stay
// within is none, and of what the least of them lie beyond the toll goes with the worth.
func (r *relaxed) rows(pools [][]column) []row {
	low, high := r.grid(), r.grid()
	uses := make([][]grid, len(pools))
	for i, pool := range pools {
		least, most := r.grid(), r.grid()
		for c := range pool {
			g := r.grid()
			r.blocks[i].charge(g, pool[c].path, 1)
			pool[c].worth = r.worth(&r.blocks[i], pool[c].path)
			uses[i] = append(uses[i], g)
			for t := range g {
				for k, u := range g[t] {
					if c == 0 {
						least[t][k], most[t][k] = u, u
					}
					least[t][k], most[t][k] = min(least[t][k], u), max(most[t][k], u)
				}
			}
		}
		for t := range low {
			for k := range low[t] {
				low[t][k], high[t][k] = low[t][k]+least[t][k], high[t][k]+most[t][k]
			}
		}
	}
	var rows []row
	for t, room := range r.room() {
		for k, cap := range room {
			x := row{season: t, of: k, cap: cap, toll: r.discount[t] * r.toll[k]}
			if high[t][k] <= cap {
				continue
			}
			met := low[t][k] >= cap && !math.IsInf(x.toll, 1)
			if !met {
				if math.IsInf(x.toll, 1) {
					x.toll, x.wall = 0, r.at[t][k]+(r.bound-r.value)/r.scale(t, k)/float64(len(r.discount))
				}
				rows = append(rows, x)
			}
			for i := range pools {
				for c := range pools[i] {
					if u := uses[i][c][t][k]; met {
						pools[i][c].worth -= x.toll * u
					} else {
						pools[i][c].use = append(pools[i][c].use, u)
					}
				}
			}
		}
	}
	return rows
}

// anneal shifts two sections at a time from one column to another (what one leaves of a wall, the other may take), at
// first whatever comes of it, and then less and less where it brings less (simulated annealing: Kirkpatrick, Gelatt &
// Vecchi 1983, Science 220:671–680). Beyond a wall it may go on its way, at a charge that grows until none pays it. The
// best schedule within the walls is kept and mended.
func (r *relaxed) anneal(chains int) {
	if len(r.blocks) < 2 || r.bound-r.value <= close*math.Abs(r.bound) {
		return
	}
	pools := make([][]column, len(r.blocks))
	for i := range pools {
		pools[i] = r.columns(i)
	}
	rows := r.rows(pools)
	n := min(shifts, each*len(pools))
	found := make([][]int, chains)
	sure.OnCores(chains, 1, func() func(from, to int) {
		return func(from, to int) {
			found[from] = chain(pools, rows, warm*(r.bound-r.value)/float64(len(pools)), n, uint64(from))
			polish(pools, rows, found[from])
		}
	})
	for _, at := range found {
		paths, free := make([]path, len(pools)), r.room()
		for i := range paths {
			paths[i] = slices.Clone(pools[i][at[i]].path)
			r.blocks[i].charge(free, paths[i], -1)
		}
		r.mend(paths, free, 20)
	}
}

// chain is one annealing from the first columns on; it gives the column of each section.
func chain(pools [][]column, rows []row, heat float64, shifts int, seed uint64) []int {
	now, used, more := make([]int, len(pools)), make([]float64, len(rows)), make([]float64, len(rows))
	for i := range pools {
		for q, u := range pools[i][0].use {
			used[q] += u
		}
	}
	random := rand.New(rand.NewPCG(seed, uint64(len(pools))))
	pick := func(i int) int { // of its columns those that lose less more often
		u := random.Float64()
		return int(u * u * float64(len(pools[i])))
	}
	value, best, at := 0., 0., slices.Clone(now)
	cool, harder := math.Pow(cold, 1/float64(shifts)), math.Pow(hard/soft, 1/float64(shifts))
	for charge := soft; shifts > 0; shifts-- {
		heat, charge = heat*cool, charge*harder
		i, j := random.IntN(len(pools)), random.IntN(len(pools)-1)
		if j >= i {
			j++
		}
		n, m := pick(i), pick(j)
		a, b, c, d := &pools[i][now[i]], &pools[i][n], &pools[j][now[j]], &pools[j][m]
		gain, fined, beyond := b.worth-a.worth+d.worth-c.worth, 0., false
		for q := range rows {
			x, was := &rows[q], used[q]
			then := was + b.use[q] - a.use[q] + d.use[q] - c.use[q]
			more[q] = then
			over := max(0, then-x.cap) - max(0, was-x.cap)
			gain, fined = gain-x.toll*over, fined+x.wall*over
			beyond = beyond || x.wall > 0 && then > x.cap
		}
		if net := gain - charge*fined; net < 0 && net < heat*math.Log(random.Float64()) {
			continue
		}
		now[i], now[j], value = n, m, value+gain
		used, more = more, used
		if value > best && !beyond {
			best = value
			copy(at, now)
		}
	}
	return at
}

// polish shifts two sections at once as long as that brings more within the walls, whichever two; of each in turn what
// brings most.
func polish(pools [][]column, rows []row, now []int) {
	used := make([]float64, len(rows))
	for i, at := range now {
		for q, u := range pools[i][at].use {
			used[q] += u
		}
	}
	order := make([][]int, len(pools)) // of the columns of a section, those that are worth most first
	for i, pool := range pools {
		for c := range pool {
			order[i] = append(order[i], c)
		}
		slices.SortStableFunc(order[i], func(a, b int) int { return cmp.Compare(pool[b].worth, pool[a].worth) })
	}
	room := make([]float64, len(rows)) // with a column in the place of that of now
	for still, left := 0, looks; still < len(pools) && left > 0; {
		for i := range pools {
			best, n, j, m := 0., -1, 0, 0
			for c := range pools[i] {
				a, b := &pools[i][now[i]], &pools[i][c]
				gain := b.worth - a.worth
				for q := range room {
					room[q] = used[q] + b.use[q] - a.use[q]
				}
				for k := range pools {
					if k == i {
						continue
					}
					d := &pools[k][now[k]]
				next:
					for _, l := range order[k] {
						e := &pools[k][l]
						more := gain + e.worth - d.worth
						if left--; more <= best {
							break
						}
						for q := range room {
							x := &rows[q]
							then := room[q] + e.use[q] - d.use[q]
							if x.wall > 0 && then > x.cap {
								continue next
							}
							if x.toll > 0 {
								more -= x.toll * (max(0, then-x.cap) - max(0, used[q]-x.cap))
							}
						}
						if more > best {
							best, n, j, m = more, c, k, l
						}
					}
				}
			}
			if n < 0 || best <= closed*math.Abs(pools[i][now[i]].worth) {
				if still++; still == len(pools) {
					break
				}
				continue
			}
			still = 0
			for q := range used {
				used[q] += pools[i][n].use[q] - pools[i][now[i]].use[q] + pools[j][m].use[q] - pools[j][now[j]].use[q]
			}
			now[i], now[j] = n, m
		}
	}
}
