package sure

import (
	"fmt"
	"math"
	"math/rand/v2"

	"spile/internal/engine/budget"
	"spile/internal/engine/year"
)

// part is seasons whose gains a plan asks for as one, their mean: one season of a cycle or a way, or, where all of them
// count alike, all. It does not hang on prices, so that from one price to the next its draws are kept.
type part struct {
	key     string
	seasons [][]lot
}

// factors are those of a year: of yield, sugar and prices.
type factors = [3]float64

// mostParts is how many a question may ask for that its draws are kept; those of many more would fill a phone.
const mostParts = 96

// parts are what is asked for of the gains: by the baseline, by unsanitized, and by the plans, which are open. Two that
// ask for the same share it.
func (c *clerk) parts() []part {
	if c.all != nil {
		return c.all
	}
	add := func(seasons [][]lot) int {
		key := fmt.Sprint(seasons)
		for j, x := range c.all {
			if x.key == key {
				return j
			}
		}
		c.all = append(c.all, part{key, seasons})
		return len(c.all) - 1
	}
	of := func(treatments []int) (list [][]lot) {
		for _, t := range treatments {
			list = append(list, []lot{{t, 1}})
		}
		return list
	}
	c.baseline = add(of(c.base))
	if c.control >= 0 {
		c.untreated = add(of([]int{c.control}))
	}
	for k, all := range c.seasons {
		var asks []int
		if c.books.Plans[k].Alike() {
			asks = append(asks, add(all))
		} else {
			for a := range all {
				asks = append(asks, add(all[a:a+1]))
			}
		}
		c.asks = append(c.asks, asks)
	}
	c.gains = make([]float64, len(c.all))
	return c.all
}

// margins are those of the options at the clerk's gains, put in the place of state i.
func (c *clerk) margins(l *budget.Ledger, y0 float64, i int, to [][]float64) {
	for k, asks := range c.asks[:len(to)] {
		cycle := c.cycle[:len(asks)]
		for a, j := range asks {
			cycle[a] = c.gains[j]
		}
		to[k][i] = l.Margin(&c.books.Plans[k], y0, cycle)
	}
}

// means are the gains of parts by state, over the long run or in a single season.
func (d *drawn) means(p *prepared, parts []part, single bool) [][]float64 {
	d.mu.Lock()
	defer d.mu.Unlock()
	which, gains := 0, d.gains
	if single {
		which, gains = 1, nil
	}
	if d.kept[which] == nil || len(d.kept[which]) > mostParts {
		d.kept[which] = map[string][]float64{}
	}
	kept, n := d.kept[which], len(p.Gains.Treatments)
	list := make([][]float64, len(parts))
	for j, x := range parts {
		if list[j] = kept[x.key]; list[j] != nil {
			continue
		}
		if gains == nil {
			gains = d.single(p)
		}
		list[j] = make([]float64, len(d.members))
		for i := range list[j] {
			of, sum := gains[i*n:], 0.
			for _, lots := range x.seasons {
				for _, l := range lots {
					sum += l.share * of[l.treatment]
				}
			}
			list[j][i] = sum / float64(max(1, len(x.seasons)))
		}
		if len(parts) <= mostParts {
			kept[x.key] = list[j]
		}
	}
	return list
}

// single are the gains of every treatment in one single season, by state.
func (d *drawn) single(p *prepared) []float64 {
	random := rand.New(rand.NewPCG(d.seed^seasons, uint64(d.from))) // of its own: the long run is the same without
	n := len(p.Gains.Treatments)
	gains, place := make([]float64, n*len(d.members)), make([]float64, n)
	for i, member := range d.members {
		logs, one := d.logs[i*p.lines:][:n], gains[i*n:]
		v := &p.Gains.Members[member].Spread
		there := math.Sqrt(v.Site+v.Season) * random.NormFloat64()
		study, practice := math.Sqrt(v.Study/2), math.Sqrt(v.Practice/2)
		for t, x := range logs {
			if first := p.practice[t]; first == t {
				place[t] = practice*random.NormFloat64() - v.Practice/4
			} else {
				place[t] = place[first]
			}
			if t != p.control {
				x += there
			}
			one[t] = math.Exp(x+place[t]-v.Study/4+study*random.NormFloat64()) - 1
		}
	}
	return gains
}

// yearsOf are the factors of a year by state; nil where every year is as the others.
func (d *drawn) yearsOf(y year.Year) []factors {
	d.mu.Lock()
	defer d.mu.Unlock()
	switch {
	case y.Calm():
		return nil
	case d.years != nil && d.year == y:
		return d.years
	}
	common := rand.New(rand.NewPCG(d.seed^years, uint64(d.from)))
	d.year, d.years = y, make([]factors, len(d.members))
	for i := range d.years {
		d.years[i] = y.Draw(factors{common.NormFloat64(), common.NormFloat64(), common.NormFloat64()})
	}
	return d.years
}
