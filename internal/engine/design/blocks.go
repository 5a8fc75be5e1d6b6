package design

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"spile/internal/engine/stream"
	"spile/internal/note"
	"spile/internal/trade/trial"
)

func (l *drawing) randomised(units []trial.Unit) error {
	k := len(l.Practices)
	if len(units) < k {
		return note.Faults{note.New("%d units cannot take %d practices", len(units), k)}
	}
	r := stream.New(l.Seed, "layout")
	var level []int
	for p, n := range l.counts(len(units), r) {
		for range n {
			level = append(level, p)
		}
	}
	for i := range units {
		units[i].Block = ""
	}
	balanced(units, level, k, func() { stream.Shuffle(r, level) })
	l.place(units, level)
	return nil
}

func (l *drawing) blocks(units []trial.Unit) error {
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
	r := stream.New(l.Seed, "layout")
	groups, names := l.groups(units, size)
	var used []trial.Unit
	var level []int
	var spans [][2]int
	var faults note.Faults
	for g, group := range groups {
		if len(group) < size {
			faults.Add("block %s has %d units; allowed: %d or more, one for each practice (two or more for a "+
				"reference that is replicated more)", names[g], len(group), size)
			continue
		}
		stream.Shuffle(r, group)
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
			stream.Shuffle(r, level[s[0]:s[1]])
		}
	})
	l.place(used, level)
	if len(l.Out) > 0 {
		var names []string
		for _, u := range l.Out {
			names = append(names, u.Name)
		}
		l.Notes.Add("units not used, since blocks take %d: %s", size, note.Some(names))
	}
	l.Notes.Add("one block is worked in one day by one crew: what differs between days and crews then differs " +
		"between blocks")
	return nil
}

// groups are the blocks given, or blocks of like units: sorted by species and stem and cut.
func (l *drawing) groups(units []trial.Unit, size int) (groups [][]trial.Unit, names []string) {
	at := map[string]int{}
	var loose []trial.Unit
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
	slices.SortStableFunc(loose, func(a, b trial.Unit) int {
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
