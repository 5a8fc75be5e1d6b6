package mixture

import "slices"

// Near is the answer to a table that another is like: some studies less, or other errors. Its boxes are held, and which
// sets of studies stand apart.
type Near struct {
	Answer *Answer
	Index  []int // of each study of the other table, its index in that of the answer; −1: it is not there
	Fine   bool  // on the grid of an answer of its own; else on one that is enough to see what moves
}

// Of integrates a table like that of the answer.
func (n Near) Of(t Table, p Prior, out ...int) (*Answer, error) { return of(t, p, &n, out) }

// box is where a situation was looked at in full.
type box struct {
	apart []int // studies
	grid  grid
}

// boxes are those of a list of situations.
func (f *fit) boxes(list []held) []box {
	var boxes []box
	for _, h := range list {
		if !h.full {
			continue
		}
		b := box{grid: h.grid}
		for i, u := range f.m.unit {
			if h.c.apart(u) {
				b.apart = append(b.apart, i)
			}
		}
		boxes = append(boxes, b)
	}
	return boxes
}

// alike looks at the situations in which an answer nearby was looked at in full, in their boxes; the first is that in
// which none stands apart.
func (f *fit) alike(near *Near) (list []held) {
	cut := rough
	if near.Fine {
		cut = fine
	}
	for _, b := range near.Answer.boxes {
		if len(list) > 0 && !f.asks() {
			break
		}
		var set []int
		for i, k := range near.Index {
			u := f.m.unit[i]
			if slices.Contains(b.apart, k) && (f.out == nil || !f.out[i]) && !slices.Contains(set, u) {
				set = append(set, u)
			}
		}
		c := f.wild(set)
		if slices.ContainsFunc(list, func(h held) bool { return f.same(h.c, c) }) {
			continue
		}
		x := f.widen(c, b.grid.cut(cut))
		h := held{x, x.evidence(), -1, true}
		if len(set) > 0 {
			h.log += f.odds(len(set))
		}
		list = append(list, h)
	}
	return list
}
