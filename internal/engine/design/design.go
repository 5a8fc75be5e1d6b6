// Package design draws which unit of a trial gets which practice, from a seed.
package design

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"spile/internal/engine/stream"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// drawing is a layout that is being drawn.
type drawing struct{ trial.Layout }

// Draw draws the layout from the seed. The error is note.Faults.
func Draw(q trial.Question, set practice.Set) (*trial.Layout, error) {
	l := &drawing{trial.Layout{Question: q}}
	q.Seasons = max(1, q.Seasons)
	if err := q.Check(set).Err(); err != nil {
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
		l.Notes.Add("no taps are given for %s; counted as %d each", note.Some(bare),
			max(1, q.Taps))
	}
	l.Question = q
	units, members := l.nest()
	if len(units) == 0 {
		units = numbered(q)
	}
	var err error
	switch q.Design {
	case trial.Randomised:
		err = l.randomised(units)
	case trial.Blocks, trial.Pairs:
		err = l.blocks(units)
	case trial.Latin:
		err = l.latin(units)
	}
	if err != nil {
		return nil, err
	}
	for i := range l.Places {
		l.Places[i].Members = members[l.Places[i].Unit.Name]
	}
	slices.SortStableFunc(l.Places, func(a, b trial.Place) int {
		return cmp.Or(cmp.Compare(a.Season, b.Season), natural(a.Unit.Block, b.Unit.Block),
			natural(a.Unit.Name, b.Unit.Name))
	})
	if q.Blind {
		l.codes()
	}
	l.keep(set)
	l.judge()
	return &l.Layout, nil
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

// nest puts units that share a chamber together: a practice is applied to, and sap measured in, the chamber.
func (l *drawing) nest() ([]trial.Unit, map[string][]string) {
	members := map[string][]string{}
	var units []trial.Unit
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
		l.Notes.Add("%d units share chambers or lines, where one practice is applied to all and their sap runs "+
			"together: the chamber is the unit, and there are %d, not %d; trees on one chamber are not replicates",
			shared+len(members), len(units), len(l.Units))
	}
	return units, members
}

// numbered makes units where none are given.
func numbered(q trial.Question) []trial.Unit {
	var units []trial.Unit
	k := len(q.Practices)
	add := func(block string) {
		units = append(units, trial.Unit{Name: fmt.Sprint(len(units) + 1), Block: block, Taps: q.Taps})
	}
	s := Scheme{Design: q.Design, Practices: k, Replicates: q.Replicates, MoreReference: q.MoreReference}
	switch q.Design {
	case trial.Randomised:
		for range s.Units() {
			add("")
		}
	case trial.Latin:
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
func (l *drawing) counts(n int, r stream.Stream) []int {
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
	stream.Shuffle(r, order)
	for i := range rest { // the reference first: every comparison leans on it
		if i == 0 {
			c[0]++
		} else {
			c[order[i-1]]++
		}
	}
	return c
}

// place gives each unit its practice in every season.
func (l *drawing) place(units []trial.Unit, level []int) {
	for s := range l.Seasons {
		for i, u := range units {
			l.Places = append(l.Places, trial.Place{Unit: u, Season: l.FirstSeason + s,
				Practice: l.Practices[level[i]]})
		}
	}
}

// codes gives each unit and season a code that says nothing.
func (l *drawing) codes() {
	r := stream.New(l.Seed, "codes")
	const letters, digits = "ACEFHJKLMNPRTUVWXY", "34679" // none is taken for another
	taken := map[string]bool{}
	of := map[string]string{}
	for i := range l.Places {
		p := &l.Places[i]
		if of[p.Unit.Name] == "" {
			for code := ""; ; {
				code = string([]byte{letters[r.Below(len(letters))], letters[r.Below(len(letters))],
					digits[r.Below(len(digits))], digits[r.Below(len(digits))]})
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
func (l *drawing) keep(set practice.Set) {
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
		kept := trial.Keep{Practice: k}
		if !p.Spout.Info().New {
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
			l.Notes.Add("keep %d used spouts and %d used drops for %s, as they come from the trees: a reference "+
				"that was cleaned or renewed is none", k.Spouts, k.Drops, note.Term(k.Practice))
		}
	}
}

// judge says what the design can tell before it is too late.
func (l *drawing) judge() {
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
	if l.Design == trial.Latin {
		l.DF = len(l.Places) - len(units) - (l.Seasons - 1) - 2*(k-1)
	}
	for _, p := range l.Practices {
		if l.Design != trial.Latin && len(each[p]) == 1 {
			l.Notes.Add("%s has one unit: what the practice does could not be told from what that unit is",
				note.Term(p))
		}
	}
	switch {
	case l.DF <= 0:
		l.Notes.Add("nothing would tell the error of this trial: more units a practice are needed")
	case l.DF < 6:
		l.Notes.Add("only %d degrees of freedom would tell the error: intervals will be wide; look at the power",
			l.DF)
	}
}

// Coded is a trial with the codes of its units: those of a blind layout are drawn again from its question where the
// trial does not hold them.
func Coded(t trial.Trial, set practice.Set) trial.Trial {
	if t.Question == nil || !t.Question.Blind {
		return t
	}
	l, err := Draw(*t.Question, set)
	if err != nil {
		return t
	}
	of := map[string]string{}
	for _, p := range l.Places {
		of[p.Unit.Name] = p.Code
	}
	t.Records = slices.Clone(t.Records)
	for i := range t.Records {
		r := &t.Records[i]
		r.Plots = slices.Clone(r.Plots)
		for k := range r.Plots {
			r.Plots[k].Code = cmp.Or(r.Plots[k].Code, of[r.Plots[k].Unit])
		}
	}
	return t
}
