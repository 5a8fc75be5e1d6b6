package mixture

import "slices"

// model is a table made ready: studies in places, places in sites, and every column of the model at its number.
//
// The columns of the whole, once w and u are taken out, are those of the seasons, the effects, the moderators, the ages
// of drops, and last y. A drop of age a has a gain of δ·f(a) over its effect; the column of an age serves every curve
// f, so that the curves cost no columns.
type model struct {
	sites    []site
	site     []int // of each study
	unit     []int // of each study: what stands apart as one, a study or a trial over its seasons
	units    int
	sitesOf  [][]int // of each unit
	families []int   // of the effects
	drops    int
	ages     []Arm // Drop and Age of each column of ages

	seasons, fixed, columns int // fixed: effects and moderators
	widest                  int // most columns of a site

	table  Table // what sites are made of, should one be looked at more closely
	groups [][]int
	named  map[string]int // index of each site
	loads  loads
}

// loads gives what an arm of a study loads on, by column of the whole.
type loads func(Study, Arm) map[int]float64

// site is studies that share u. Its own columns are those of a place's w, as many as its richest place needs, which
// each place uses anew; then u; then those of the whole that its studies load on.
type site struct {
	places []place
	own    int   // columns of w
	at     []int // columns of the whole of those after u
	wide   int
}

// place is studies that share w: a site, or a trial repeated on the same units.
type place struct {
	shared  int // practices that stand in more than one of its studies, which have a column
	trial   bool
	unit    int // of a trial
	studies []study
}

// study is the data of one study: a row of measured arms, or of contrasts, with its columns, the last of which is y.
type study struct {
	index, unit int
	at          []int     // columns of the site
	data        []float64 // rows × len(at)
	arms        []arm
	v           []float64 // rows × rows, of contrasts; nil: the arms are measured
	loads       []float64 // rows × arms, of contrasts
}

// arm is what an arm's variance is made of.
type arm struct {
	v     float64 // sampling, where it is measured
	share float64 // of τ²/2: 1, or 1/T where T seasons are averaged
	alone bool    // its practice is in no other study of its place: w is one more error of its own
}

// newModel numbers everything in the order of the table.
func newModel(t Table) *model {
	m := &model{families: t.Families, drops: t.Drops, fixed: len(t.Families) + len(t.Moderators), table: t}
	seasons := map[int]int{}
	type ageing struct {
		drop int
		age  float64
	}
	ages := map[ageing]int{}
	for _, s := range t.Studies {
		for _, a := range s.Arms {
			for _, x := range s.seasons(a) {
				if _, ok := seasons[x]; !ok {
					seasons[x] = len(seasons)
				}
			}
			if k := (ageing{a.Drop, a.Age}); a.Drop > 0 {
				if _, ok := ages[k]; !ok {
					ages[k] = len(ages)
					m.ages = append(m.ages, Arm{Drop: a.Drop, Age: a.Age})
				}
			}
		}
	}
	m.seasons = len(seasons)
	m.columns = m.seasons + m.fixed + len(m.ages) + 1

	units := newNumbers()
	sites := newNumbers()
	for i, s := range t.Studies {
		k := sites.of(s.Site, s.Site == "")
		if k == len(m.groups) {
			m.groups = append(m.groups, nil)
		}
		m.groups[k] = append(m.groups[k], i)
		m.site = append(m.site, k)
		m.unit = append(m.unit, units.of(s.Trial, s.Trial == ""))
	}
	m.units, m.named = units.n, sites.seen
	m.sitesOf = make([][]int, m.units)
	for i, u := range m.unit {
		if !slices.Contains(m.sitesOf[u], m.site[i]) {
			m.sitesOf[u] = append(m.sitesOf[u], m.site[i])
		}
	}
	m.loads = func(s Study, a Arm) map[int]float64 {
		return m.load(s, a, seasons, func(a Arm) int { return ages[ageing{a.Drop, a.Age}] })
	}
	for _, g := range m.groups {
		x := m.newSite(g, false)
		m.widest = max(m.widest, x.wide)
		m.sites = append(m.sites, x)
	}
	return m
}

func (s Study) seasons(a Arm) []int {
	if a.Seasons != nil {
		return a.Seasons
	}
	return []int{s.Season}
}

// numbers counts names in order of first appearance.
type numbers struct {
	n    int
	seen map[string]int
}

func newNumbers() *numbers { return &numbers{seen: map[string]int{}} }

// of is the number of a name; of a new one if it is to be its own.
func (n *numbers) of(name string, own bool) int {
	k, ok := n.seen[name]
	if own || !ok {
		k = n.n
		n.n++
		if !own {
			n.seen[name] = k
		}
	}
	return k
}

// load gives what an arm loads on, by column of the whole.
func (m *model) load(s Study, a Arm, seasons map[int]int, age func(Arm) int) map[int]float64 {
	d := map[int]float64{}
	if a.Effect < 0 {
		return d
	}
	all := s.seasons(a)
	for _, x := range all {
		d[seasons[x]] += 1 / float64(len(all))
	}
	d[m.seasons+a.Effect]++
	for i, x := range s.Moderators {
		if x != 0 {
			d[m.seasons+len(m.families)+i] = x
		}
	}
	if a.Drop > 0 {
		d[m.seasons+m.fixed+age(a)]++
	}
	return d
}

// newSite gathers the studies of a site by place. Closely: every practice of the site itself, trials apart, has a
// column of its own, and it stands last.
func (m *model) newSite(studies []int, closely bool) site {
	var x site
	t, load := m.table, m.loads
	var order []string
	by := map[string][]int{}
	met := map[int]bool{m.columns - 1: true}
	for _, i := range studies {
		s := t.Studies[i]
		if by[s.Trial] == nil {
			order = append(order, s.Trial)
		}
		by[s.Trial] = append(by[s.Trial], i)
		for _, a := range s.Arms {
			for c := range load(s, a) {
				met[c] = true
			}
		}
	}
	for c := range met {
		x.at = append(x.at, c)
	}
	slices.Sort(x.at)
	most := 1 // studies that a practice may stand in without a column
	if i := slices.Index(order, ""); closely && i >= 0 {
		order, most = append(slices.Delete(order, i, i+1), ""), 0
	}
	shared := make([]map[int]int, len(order)) // column of each practice that has one
	for k, trial := range order {
		few := 1
		if trial == "" {
			few = most
		}
		shared[k] = repeated(t, by[trial], few)
		x.own = max(x.own, len(shared[k]))
	}
	x.wide = x.own + 1 + len(x.at)
	for k, trial := range order {
		p := place{shared: len(shared[k]), trial: trial != ""}
		for _, i := range by[trial] {
			p.unit = m.unit[i]
			p.studies = append(p.studies, m.newStudy(t.Studies[i], i, x, shared[k], load))
		}
		x.places = append(x.places, p)
	}
	return x
}

// repeated numbers the practices that stand in more than so many of some studies.
func repeated(t Table, studies []int, most int) map[int]int {
	count := map[int]int{}
	shared := map[int]int{}
	for _, i := range studies {
		seen := map[int]bool{}
		for _, a := range t.Studies[i].Arms {
			if !seen[a.Practice] {
				seen[a.Practice] = true
				count[a.Practice]++
			} else {
				count[a.Practice] += 2 // drops of several ages side by side
			}
			if _, ok := shared[a.Practice]; !ok && count[a.Practice] > most {
				shared[a.Practice] = len(shared)
			}
		}
	}
	return shared
}

// newStudy makes the rows of a study over the columns of its site.
func (m *model) newStudy(s Study, index int, x site, shared map[int]int, load loads) study {
	b := study{index: index, unit: m.unit[index]}
	own := make([]map[int]float64, len(s.Arms)) // what each arm loads on, by column of the site
	for i, a := range s.Arms {
		k, has := shared[a.Practice]
		b.arms = append(b.arms, arm{share: 1 / float64(len(s.seasons(a))), alone: !has})
		own[i] = map[int]float64{}
		if has {
			own[i][x.own-len(shared)+k] = 1
		}
		if a.Effect >= 0 {
			own[i][x.own] = 1
		}
		for c, v := range load(s, a) {
			at, _ := slices.BinarySearch(x.at, c)
			own[i][x.own+1+at] = v
		}
	}
	y := x.wide - 1
	rows := own
	if s.Rows == nil {
		mean := 0.0 // a level that all arms share says nothing: without it yy keeps its digits
		for _, a := range s.Arms {
			mean += a.Log / float64(len(s.Arms))
		}
		for i, a := range s.Arms {
			b.arms[i].v = a.V
			own[i][y] = a.Log - mean
		}
	} else {
		rows = make([]map[int]float64, len(s.Rows))
		n := len(s.Rows)
		b.v, b.loads = make([]float64, n*n), make([]float64, n*len(s.Arms))
		for i, r := range s.Rows {
			rows[i] = map[int]float64{y: r.Y}
			for c, v := range own[r.Arm] {
				rows[i][c] += v
			}
			for c, v := range own[r.Ref] {
				rows[i][c] -= v
			}
			b.loads[i*len(s.Arms)+r.Arm]++
			b.loads[i*len(s.Arms)+r.Ref]--
			for j := range n {
				b.v[i*n+j] = s.V.At(i, j)
			}
		}
	}
	met := map[int]bool{y: true}
	for _, r := range rows {
		for c, v := range r {
			if v != 0 {
				met[c] = true
			}
		}
	}
	for c := range met {
		b.at = append(b.at, c)
	}
	slices.Sort(b.at)
	for _, r := range rows {
		for _, c := range b.at {
			b.data = append(b.data, r[c])
		}
	}
	return b
}

// width is the number of columns once the seasons are out.
func (m *model) width() int { return m.columns - m.seasons }

// told is false where an effect or a moderator is in no study once some are left out.
func (m *model) told(out []bool) bool {
	found, left := make([]bool, m.columns), 0
	for _, x := range m.sites {
		for _, p := range x.places {
			for _, b := range p.studies {
				if out[b.index] {
					continue
				}
				for _, c := range b.at {
					if c > x.own && !found[x.at[c-x.own-1]] {
						found[x.at[c-x.own-1]] = true
						if k := x.at[c-x.own-1] - m.seasons; k >= 0 && k < m.fixed {
							left++
						}
					}
				}
			}
		}
	}
	return left == m.fixed
}
