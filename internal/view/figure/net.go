package figure

import (
	"slices"

	"gonum.org/v1/plot/vg"
)

// Draw lays the figure out: the choices as rows, the two references side by side, or below each other on a phone. A
// row's upper half stacks the parts, what helps to the right of zero and what costs to the left; the lower half is the
// net with its interval. A slide shows as many rows as it has room for, from the first.
func (f Net) Draw(size Size) *Sheet {
	all := 0
	if len(f.Panels) > 0 {
		all = len(f.Panels[0].Rows)
	}
	return ranked(size, f.Words, all, func(b *board, rows, left int) int {
		f := f
		f.Panels = slices.Clone(f.Panels)
		for i, p := range f.Panels {
			f.Panels[i].Rows = p.Rows[:min(rows, len(p.Rows))]
		}
		b.key(append(b.axis(f.Axis), f.samples(b)...))
		b.y += b.gap / 2
		r := ranks{tall: 1.9, left: left}
		r.low, r.high = f.reach()
		for i, p := range f.Panels {
			c := ranksPanel{title: p.Title}
			for _, row := range p.Rows {
				if i == 0 {
					r.rows = append(r.rows, ranksRow{row.Name, row.Best})
				}
				c.values = append(c.values, row.Value)
				c.draw = append(c.draw, func(x scale, top, height vg.Length) { b.stack(x, row, top, height) })
			}
			r.panels = append(r.panels, c)
		}
		return r.draw(b)
	})
}

// reach is the axis that both panels share.
func (f Net) reach() (low, high float64) {
	var values, ends []float64
	for _, p := range f.Panels {
		for _, r := range p.Rows {
			values = append(values, r.Net, finite(r.AddedReturns)+finite(r.ReducedCosts),
				-finite(r.AddedCosts)-finite(r.ReducedReturns))
			ends = append(ends, r.Range.Low, r.Range.High)
		}
	}
	return extent(values, ends, 1)
}

// part is a kind of segment in a stack.
type part int

const (
	addedReturns part = iota
	reducedCosts
	addedCosts
	reducedReturns
)

// segment draws one part of a stack. Returns are light and costs dark; what is reduced is striped.
func (b *board) segment(p part, x0, y0, x1, y1 vg.Length, r NetRow) {
	x0, x1 = min(x0, x1), max(x0, x1)
	if x1-x0 < 0.01 {
		return
	}
	edge := box(x0, y0, x1, y1)
	switch {
	case r.NotStudied:
		b.stroke(ink, 1.3, outside, edge)
		return
	case r.HeldBack:
		b.stroke(faint, 1, nil, hatch(x0, y0, x1, y1, b.hair*4))
	case p == addedReturns:
		b.fill(inkSoft, edge)
	case p == addedCosts:
		b.fill(faint, edge)
	default:
		var stripes vg.Path
		gap := b.hair * 4
		for x := x0 + gap; x < x1; x += gap {
			stripes = append(stripes, trace(at(x, y0), at(x, y1))...)
		}
		width := vg.Length(1)
		if p == reducedReturns {
			width = 2.2
		}
		b.stroke(faint, width, nil, stripes)
	}
	b.stroke(ink, 1, nil, edge)
}

// stack draws the parts of a row and below them its net.
func (b *board) stack(x scale, r NetRow, top, height vg.Length) {
	bar := height * 0.5
	right := finite(r.AddedReturns)
	left := -finite(r.AddedCosts)
	b.segment(addedReturns, x.at(0), top, x.at(right), top+bar, r)
	b.segment(reducedCosts, x.at(right), top, x.at(right+finite(r.ReducedCosts)), top+bar, r)
	b.segment(addedCosts, x.at(0), top, x.at(left), top+bar, r)
	b.segment(reducedReturns, x.at(left), top, x.at(left-finite(r.ReducedReturns)), top+bar, r)
	b.netMark(x, r, top+height*0.76)
}

// netMark is the net with its interval; hollow where the row is no estimate for this place.
func (b *board) netMark(x scale, r NetRow, mid vg.Length) {
	var dash []vg.Length
	if r.NotStudied {
		dash = outside
	}
	if r.Range.High > r.Range.Low {
		b.across(accent, 2.2, dash, x.kept(finite(r.Range.Low)), x.kept(finite(r.Range.High)), mid)
	}
	b.dot(accent, x.kept(finite(r.Net)), mid, b.small.size*0.27, r.NotStudied || r.HeldBack)
}

func (f Net) samples(b *board) []sample {
	w, h := b.small.size*1.5, b.small.size*0.33
	// a segment beside a stub of the axis says on which side of zero it stands
	seg := func(p part, text string) sample {
		return sample{w, func(x, mid vg.Length) {
			zero := x
			if p >= addedCosts {
				zero = x + w
			}
			b.segment(p, x, mid-h, x+w, mid+h, NetRow{})
			b.down(ink, 2, nil, zero, mid-h*1.7, mid+h*1.7)
		}, text}
	}
	var has [4]bool
	held, unstudied := false, false
	for _, p := range f.Panels {
		for _, r := range p.Rows {
			for i, v := range []float64{r.AddedReturns, r.ReducedCosts, r.AddedCosts, r.ReducedReturns} {
				has[i] = has[i] || v > 0
			}
			held, unstudied = held || r.HeldBack && !r.NotStudied, unstudied || r.NotStudied
		}
	}
	var all []sample
	for i, text := range []string{f.Key.AddedReturns, f.Key.ReducedCosts, f.Key.AddedCosts, f.Key.ReducedReturns} {
		if has[i] {
			all = append(all, seg(part(i), text))
		}
	}
	all = append(all, sample{w, func(x, mid vg.Length) {
		b.netMark(scale{0, 1, x, x + w}, NetRow{Net: 0.5, Range: Range{0, 1}}, mid)
	}, f.Key.Net})
	if held {
		all = append(all, sample{w, func(x, mid vg.Length) {
			b.segment(addedReturns, x, mid-h, x+w, mid+h, NetRow{HeldBack: true})
		}, f.Key.HeldBack})
	}
	if unstudied {
		all = append(all, sample{w, func(x, mid vg.Length) {
			b.segment(addedReturns, x, mid-h, x+w, mid+h, NetRow{NotStudied: true})
		}, f.Key.NotStudied})
	}
	return all
}
