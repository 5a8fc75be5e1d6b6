package pool

import (
	"maps"
	"slices"

	"spile/internal/trade/practice"
)

// counts is what is counted over the rows of a table, by treatment. Studies are counted by practice and by treatment,
// for a study may hold drops of several ages.
type counts struct {
	rows       map[practice.Treatment]int // in which it stands
	studies    map[practice.Treatment]int
	ofPractice map[practice.Key]int
	plain      map[practice.Treatment]plain

	inTrial map[held]int // studies, of all of the table that is counted
	trials  map[practice.Key]int
}

// held is a practice in a trial, which is independent of every other: the seasons of one trial on the same units, at
// one site, are several studies and one trial, and any other study is a trial by itself.
type held struct {
	practice          practice.Key
	site, trial, name string
}

func (s study) holds(k practice.Key) held {
	if s.trial == "" {
		return held{practice: k, name: s.name}
	}
	return held{practice: k, site: s.site, trial: s.trial}
}

// plain is a sum of percent gains over unsanitized as the studies state them.
type plain struct {
	sum float64
	n   int
}

// tally counts the rows of some studies.
func (t *table) tally(studies []int) counts {
	c := counts{map[practice.Treatment]int{}, map[practice.Treatment]int{}, map[practice.Key]int{},
		map[practice.Treatment]plain{}, map[held]int{}, map[practice.Key]int{}}
	for _, i := range studies {
		var in []practice.Treatment
		for _, x := range t.rows[t.studies[i].first:t.studies[i].end] {
			c.rows[x.arm]++
			c.rows[x.ref]++
			in = append(in, x.arm, x.ref)
			if x.ref.Practice == practice.Unsanitized {
				p := c.plain[x.arm]
				c.plain[x.arm] = plain{p.sum + x.source.GainPct, p.n + 1}
			}
		}
		for j, x := range in {
			if slices.Contains(in[:j], x) {
				continue
			}
			c.studies[x]++
			if !slices.ContainsFunc(in[:j], func(y practice.Treatment) bool { return x.Practice == y.Practice }) {
				c.ofPractice[x.Practice]++
				h := t.studies[i].holds(x.Practice)
				if c.inTrial[h]++; c.inTrial[h] == 1 {
					c.trials[x.Practice]++
				}
			}
		}
	}
	return c
}

// whole counts all rows.
func (t *table) whole() counts {
	all := make([]int, len(t.studies))
	for i := range all {
		all[i] = i
	}
	return t.tally(all)
}

// less is what is left when some studies are taken out.
func (c counts) less(out counts) counts {
	left := counts{maps.Clone(c.rows), maps.Clone(c.studies), maps.Clone(c.ofPractice), maps.Clone(c.plain), c.inTrial,
		maps.Clone(c.trials)}
	for x, n := range out.rows {
		left.rows[x] -= n
	}
	for x, n := range out.studies {
		left.studies[x] -= n
	}
	for x, n := range out.ofPractice {
		left.ofPractice[x] -= n
	}
	for h, n := range out.inTrial {
		if n == c.inTrial[h] {
			left.trials[h.practice]--
		}
	}
	for x, p := range out.plain {
		left.plain[x] = plain{left.plain[x].sum - p.sum, left.plain[x].n - p.n}
	}
	return left
}

// comparisons are the rows that hold a practice, at any age.
func (c counts) comparisons(k practice.Key) (all int) {
	for x, n := range c.rows {
		if x.Practice == k {
			all += n
		}
	}
	return all
}

// plainMean is the plain mean of a treatment's percent gains over unsanitized; nil where no study has one.
func (c counts) plainMean(t practice.Treatment) (*float64, int) {
	p := c.plain[t]
	if p.n == 0 {
		return nil, 0
	}
	return new(p.sum / float64(p.n)), p.n
}
