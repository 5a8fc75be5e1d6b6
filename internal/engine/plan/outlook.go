package plan

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"

	"spile/internal/engine/pool"
	"spile/internal/engine/year"
	"spile/internal/trade/practice"
)

const (
	draws = 1000
	seed  = 1
)

// outlook fills the intervals and chances. Prices, work, yields, sugar and the farm's part of a gain are drawn once for
// all seasons and sections, where they have a low and a high; how good a year it is once a season for all.
// Every section, and what it is compared with, shares the draws: of the pooled
// gains, of the sugarbush's own site, and of each season (M7). The site draws u ~ N(0, σ²_u) once for all seasons, and
// what each practice is like there, w ~ N(−σ²_w/4, σ²_w/2). A season draws v ~ N(0, σ²_v), and in it each treatment,
// the reference too, e ~ N(−τ²/4, τ²/2), so that seasons and the long run have the same mean. All variances are those
// of the draw.
func (p *Plan) outlook(k *maker, f *frame, parts, last []part) {
	tables, problem := f.tables, f.problem
	if len(parts) == 0 {
		return
	}
	spreads := k.Pool.spreads()
	log := func(t practice.Treatment, at map[string]float64) []float64 { return k.Pool.at(t, at).drawn() }
	// The noise of a season belongs to the treatment, whichever section does it, and that of the place to its practice.
	noises, places := map[practice.Treatment]int{}, map[practice.Key]int{}
	var placeOf []int // of each noise
	number := func(t practice.Treatment) int {
		if i, have := noises[t]; have {
			return i
		}
		if _, have := places[t.Practice]; !have {
			places[t.Practice] = len(places)
		}
		placeOf = append(placeOf, places[t.Practice])
		noises[t] = len(noises)
		return noises[t]
	}
	number(practice.Treatment{Practice: practice.Unsanitized})
	type cell struct {
		log   []float64
		noise int
		a     *action
	}
	cellsOf := func(parts []part) [][]cell {
		out := make([][]cell, len(parts))
		for i, x := range parts {
			for _, a := range x.actions {
				out[i] = append(out[i], cell{log(a.treatment, a.at), number(a.treatment), a})
			}
		}
		return out
	}
	mine, theirs := cellsOf(parts), cellsOf(last)
	bases := make([][][]float64, len(tables)) // by table
	for i := range tables {
		for _, b := range tables[i].base {
			if _, ok := k.gain(&tables[i], b, tables[i].at); ok {
				bases[i] = append(bases[i], log(b, tables[i].at))
			}
		}
	}
	opened := make([]*books, len(tables))
	for i := range tables {
		opened[i] = openBooks(&tables[i])
		defer opened[i].close()
	}
	note := func(cells [][]cell, parts []part) {
		for i := range cells {
			for _, c := range cells[i] {
				opened[parts[i].table].take(c.a)
			}
		}
	}
	note(mine, parts)
	note(theirs, last)
	assumed, years := rand.New(rand.NewPCG(seed, 3)), rand.New(rand.NewPCG(seed, 4))
	normals := map[string]float64{}
	good := make([][3]float64, k.Seasons) // by season, its factors
	random := rand.New(rand.NewPCG(seed, 2))
	place := make([]float64, len(places))  // w
	factor := make([][]float64, k.Seasons) // by season and treatment: e^(v + w + e)
	for t := range factor {
		factor[t] = make([]float64, len(noises))
	}
	all, over := make([]float64, draws), make([]float64, draws)
	each := make([][]float64, len(parts))
	for i := range each {
		each[i] = make([]float64, draws)
	}
	y0 := make([]float64, len(tables))
	apart := make([]float64, len(tables))  // of a section a little outside what was studied
	none := make([][]float64, len(tables)) // margin of unsanitized, by table and season
	for i := range none {
		none[i] = make([]float64, k.Seasons)
	}
	brings, beats := make([]float64, k.Seasons), make([]float64, k.Seasons)
	var single [2][]float64 // of each draw and season, what all brings and what of it is over last season
	gain := []float64{0}
	limited := k.limits.toll != [2]float64{}
	plain, mine1, theirs1 := make([]sold, k.Seasons), make([]sold, k.Seasons), make([]sold, k.Seasons)
	own := make([][]sold, len(parts)) // of each part, what it sells over unsanitized
	for i := range own {
		own[i] = make([]sold, k.Seasons)
	}
	bare := make([][]sold, len(tables))
	for i := range bare {
		bare[i] = make([]sold, k.Seasons)
	}
	net := func(t *table, a *action, c cell, d, season, i int, u float64) float64 {
		if c.noise == 0 && a.use == "" {
			return 0
		}
		b, adjust := opened[i], t.prices.FarmAdjust.Best
		ref := factor[season][0]
		gain[0] = 0
		if c.noise > 0 { // else what is done counts only next spring
			y := 1 + adjust*(math.Exp(c.log[d])*u*apart[i]*factor[season][c.noise]-1)
			gain[0] = (y/ref - 1) / adjust
		}
		return float64(t.section.Taps)*(b.in[season].Margin(b.of(a), y0[i]*ref*good[season][year.Yield], gain)-
			none[i][season]) - a.travel*t.prices.Wage.Best - a.ahead
	}
	// sells is what is sold in a draw; it goes after net, whose gain it takes.
	sells := func(t *table, c cell, season, i int) sold {
		if !limited || c.noise == 0 && c.a.use == "" {
			return bare[i][season]
		}
		b := opened[i]
		return made(&b.in[season], b.of(c.a), y0[i]*factor[season][0]*good[season][year.Yield], gain[0],
			float64(t.section.Taps))
	}
	for d := range draws {
		s := spreads[d]
		u := math.Exp(math.Sqrt(s.Site) * random.NormFloat64())
		for i := range apart {
			apart[i] = 1
			if k.Scope.off(tables[i].section) > 0 {
				apart[i] = math.Exp(math.Sqrt(s.Study+s.Practice) * random.NormFloat64())
			}
		}
		for j := range place {
			place[j] = math.Sqrt(s.Practice/2)*random.NormFloat64() - s.Practice/4
		}
		for t := range factor {
			v := math.Sqrt(s.Season) * random.NormFloat64()
			for j := range factor[t] {
				x := place[placeOf[j]] + math.Sqrt(s.Study/2)*random.NormFloat64() - s.Study/4
				if j > 0 { // what is sanitized
					x += v
				}
				factor[t][j] = math.Exp(x)
			}
		}
		clear(normals)
		for t := range good {
			good[t] = k.Year.Draw([...]float64{years.NormFloat64(), years.NormFloat64(), years.NormFloat64()})
		}
		for i := range tables {
			opened[i].draw(normals, assumed, good)
			g := 0.0
			for _, b := range bases[i] {
				g += math.Expm1(b[d]+s.LongRun()) / float64(len(bases[i]))
			}
			if len(tables[i].base) == 1 && tables[i].base[0].Practice == practice.Unsanitized {
				g = 0
			}
			y0[i] = tables[i].ledger.Unsanitized(g)
			for t := range factor {
				gain[0] = 0
				l, y := &opened[i].in[t], y0[i]*factor[t][0]*good[t][year.Yield]
				none[i][t] = l.Margin(&tables[i].none, y, gain)
				if limited {
					bare[i][t] = made(l, &tables[i].none, y, 0, float64(tables[i].section.Taps))
				}
			}
		}
		for t := range plain {
			plain[t], mine1[t], theirs1[t] = sold{}, sold{}, sold{}
			brings[t], beats[t] = 0, 0
			for i := range tables {
				plain[t].add(1, bare[i][t])
				brings[t] += float64(tables[i].section.Taps) * none[i][t]
			}
			brings[t] -= k.limits.loss(plain[t])
		}
		for i := range parts {
			x := &parts[i]
			t := &tables[x.table]
			sum := problem.after * t.left[x.ends]
			for s, c := range mine[i] {
				x1 := net(t, c.a, c, d, s, x.table, u)
				sum, beats[s] = sum+problem.discount[s]*x1, beats[s]+x1
				y := sells(t, c, s, x.table)
				mine1[s].add(1, y)
				own[i][s] = more(y, bare[x.table][s])
			}
			each[i][d] = sum
			all[d] += sum
		}
		for s, v := range problem.discount {
			lost := k.limits.loss(mine1[s]) - k.limits.loss(plain[s])
			all[d] -= v * lost
			beats[s] -= lost
			single[0] = append(single[0], brings[s]+beats[s])
			for i := range parts {
				each[i][d] -= v * share(lost, own[i][s], more(mine1[s], plain[s]))
			}
		}
		over[d] = all[d]
		for i := range last {
			x := &last[i]
			t := &tables[x.table]
			over[d] -= x.weight * problem.after * t.left[x.ends]
			for s, c := range theirs[i] {
				x1 := x.weight * net(t, c.a, c, d, s, x.table, u)
				over[d] -= problem.discount[s] * x1
				beats[s] -= x1
				theirs1[s].add(x.weight, sells(t, c, s, x.table))
			}
		}
		if last != nil {
			for s, v := range problem.discount {
				lost := k.limits.loss(theirs1[s]) - k.limits.loss(plain[s])
				over[d] += v * lost
				beats[s] += lost
			}
		}
		single[1] = append(single[1], beats...)
	}
	for i := range p.Sections {
		best := problem.after * tables[i].left[parts[i].ends]
		for s, x := range p.Sections[i].Steps {
			best += problem.discount[s] * x.Net
		}
		p.Sections[i].Profit, p.Sections[i].OverLast = p.profit(best, each[i]), best
	}
	lostNow, lostThen := k.lost(parts), k.lost(last)
	now, then := seasons(parts, k.Seasons), seasons(last, k.Seasons)
	for i, x := range last {
		y := &p.Sections[i]
		y.AsLast = slices.Equal(x.actions, parts[i].actions)
		y.OverLast = problem.brings(tables, parts[i]) - problem.brings(tables, x)
		for s, a := range x.actions {
			y.OverLast -= problem.discount[s] * share(lostNow[s]-lostThen[s], more(parts[i].actions[s].sold, a.sold),
				more(now[s], then[s]))
		}
	}
	for _, s := range k.States {
		p.States = append(p.States, k.inState(s, f, opened, parts, last))
	}
	p.Single = Single{tenths(single[0]), tenths(single[1])}
	p.Profit = p.profit(p.Profit.Best, all)
	if last != nil {
		o := p.profit(p.Rules[0].Short, over)
		p.OverLast = &o
	}
}

// tenths is what one in ten lies below, half do, and one in ten lies above.
func tenths(drawn []float64) [3]float64 {
	slices.Sort(drawn)
	at := func(p float64) float64 { return stat.Quantile(p, stat.LinInterp, drawn, nil) }
	return [3]float64{at(.1), at(.5), at(.9)}
}

// profit is a sum of money with the interval and the chance of a loss of its draws.
func (p *Plan) profit(best float64, drawn []float64) Profit {
	r := Profit{Best: best}
	scale := 0.0
	for _, x := range drawn {
		scale = max(scale, math.Abs(x))
	}
	for _, x := range drawn {
		if x < -1e-9*(scale+math.Abs(p.Profit.Best)) && p.Chances { // what is equal but for rounding is no loss
			r.Loss += 1 / float64(len(drawn))
		}
	}
	r.Low, r.High = pool.Middle(drawn)
	return r
}
