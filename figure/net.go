package figure

import "gonum.org/v1/plot/vg"

// Draw lays the figure out: the choices as rows, the two references side by side, or below each other on a phone. A row's upper
// half stacks the parts, what helps to the right of zero and what costs to the left; the lower half is the net with its interval.
// A slide shows as many rows as it has room for, from the first.
func (f Net) Draw(size Size) *Sheet {
	b := newBoard(size, f.Words)
	b.head()
	if size != Slide {
		b.block(b.base, ink, b.left, b.edge, f.Axis, 0)
		b.y += b.gap / 2
	}
	b.key(f.samples(b))
	b.y += b.gap / 2
	if size == Phone {
		for i := range f.Panels {
			if i > 0 {
				b.y += b.gap * 2
			}
			f.below(b, i)
		}
	} else {
		f.beside(b)
	}
	return b.done()
}

// reach is the axis that both panels share.
func (f Net) reach() (low, high float64) {
	var values, ends []float64
	for _, p := range f.Panels {
		for _, r := range p.Rows {
			values = append(values, r.Net, finite(r.AddedReturns)+finite(r.ReducedCosts), -finite(r.AddedCosts)-finite(r.ReducedReturns))
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
		b.stroke(ink, b.hair*1.3, []vg.Length{b.hair * 4, b.hair * 3}, edge)
		return
	case r.HeldBack:
		b.stroke(faint, b.hair, nil, hatch(x0, y0, x1, y1, b.hair*4))
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
		width := b.hair
		if p == reducedReturns {
			width = b.hair * 2.2
		}
		b.stroke(faint, width, nil, stripes)
	}
	b.stroke(ink, b.hair, nil, edge)
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
		dash = []vg.Length{b.hair * 4, b.hair * 3}
	}
	if r.Range.High > r.Range.Low {
		b.line(accent, b.hair*2.2, dash, at(x.kept(finite(r.Range.Low)), mid), at(x.kept(finite(r.Range.High)), mid))
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
			b.line(ink, b.hair*2, nil, at(zero, mid-h*1.7), at(zero, mid+h*1.7))
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
	if b.size == Slide {
		all = append(all, sample{text: f.Axis})
	}
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

// namePen sets the recommended row in bold.
func (b *board) namePen(r NetRow) pen {
	if r.Best {
		return pen{b.bold.style, b.small.size}
	}
	return b.small
}

// value sets the net in words, in the accent where the row is recommended.
func (b *board) value(r NetRow, edge, baseline, width vg.Length) {
	p, c := b.namePen(r), ink
	if r.Best {
		c = accent
	}
	t := r.Value
	if p.of(t) > width+0.01 {
		t = p.wrap(t, width, 1)[0]
	}
	b.right(p, c, edge, baseline, t)
}

// valueWidth is the column that the nets need.
func (f Net) valueWidth(b *board, most vg.Length) vg.Length {
	w := vg.Length(0)
	for _, p := range f.Panels {
		for _, r := range p.Rows {
			w = max(w, b.namePen(r).of(r.Value))
		}
	}
	return min(w, most)
}

// beside draws the panels next to each other, with one column of names.
func (f Net) beside(b *board) {
	if len(f.Panels) == 0 {
		return
	}
	n := vg.Length(len(f.Panels))
	rows := f.Panels[0].Rows
	width := b.edge - b.left
	gutter := b.small.size * 1.2
	name := vg.Length(0)
	for _, r := range rows {
		name = max(name, b.namePen(r).of(r.Name))
	}
	name = min(name, width*0.34)
	each := (width - name - gutter*n) / n
	value := f.valueWidth(b, each*0.4)
	low, high := f.reach()
	x := make([]scale, len(f.Panels))
	titles := make([][]string, len(f.Panels))
	deep := 0
	for i, p := range f.Panels {
		from := b.left + name + gutter + vg.Length(i)*(each+gutter)
		x[i] = scale{low, high, from, from + each - value - b.small.size*0.7}
		titles[i] = b.bold.wrap(p.Title, each, b.most(2))
		deep = max(deep, len(titles[i]))
	}
	for i := range f.Panels {
		b.column(b.bold, ink, x[i].from, b.y+vg.Length(deep-len(titles[i]))*b.bold.lead(), vg.Length(len(titles[i]))*b.bold.lead(), titles[i])
	}
	b.y += vg.Length(deep) * b.bold.lead()
	for i := range x {
		b.numbersX(x[i], b.y+b.small.rise(), x[i].from-gutter/2, x[i].from+each)
	}
	b.y += b.small.lead() + 2
	top, ground := b.y, len(b.marks)
	tall := b.small.size * 1.75
	shown := len(rows)
	space := b.small.size * 0.55
	lines := make([][]string, len(rows))
	for i, r := range rows {
		lines[i] = b.namePen(r).wrap(r.Name, name, 0)
	}
	if b.size == Slide {
		tall, space = b.small.size*1.35, 6
		room := b.Height - b.margin - b.y
		// names in two lines, or in one where that leaves fewer than four rows
		fits := func(most int) (n int) {
			used := vg.Length(0)
			for i, r := range rows {
				lines[i] = b.namePen(r).wrap(r.Name, name, most)
				used += max(tall, vg.Length(len(lines[i]))*b.small.lead()) + space
				if used > room {
					break
				}
				n++
			}
			return n
		}
		if shown = fits(2); shown < len(rows) {
			words := b.small.wrap(b.leftWords(len(rows)), width, 2)
			room -= vg.Length(len(words)) * b.small.lead()
			if shown = fits(2); shown < 4 {
				shown = fits(1)
			}
		}
	}
	for i, r := range rows[:shown] {
		height := max(tall, vg.Length(max(1, len(lines[i])))*b.small.lead()) + space
		b.column(b.namePen(r), ink, b.left, b.y, height, lines[i])
		for k, p := range f.Panels {
			if i >= len(p.Rows) {
				continue
			}
			b.stack(x[k], p.Rows[i], b.y+(height-tall)/2, tall)
			b.value(p.Rows[i], x[k].from+each, b.y+height/2+b.small.size*0.35, value)
		}
		b.y += height
	}
	bottom := b.y
	b.behind(ground, func() {
		for i := range x {
			b.gridX(x[i], top, bottom)
		}
	})
	b.block(b.small, faint, b.left, b.edge, b.leftWords(len(rows)-shown), b.most(2))
}

// below draws one panel over the whole width, each row's words over its stack.
func (f Net) below(b *board, i int) {
	p := f.Panels[i]
	width := b.edge - b.left
	value := f.valueWidth(b, width*0.4)
	low, high := f.reach()
	x := scale{low, high, b.left, b.edge}
	b.block(b.bold, ink, b.left, b.edge, p.Title, 0)
	b.numbersX(x, b.y+b.small.rise(), b.left, b.edge)
	b.y += b.small.lead() + 2
	ground := len(b.marks)
	var stacks []Range
	for _, r := range p.Rows {
		pen := b.namePen(r)
		lines := pen.wrap(r.Name, width-value-b.small.size, 0)
		for k, l := range lines {
			b.text(pen, ink, b.left, b.y+pen.rise()+vg.Length(k)*pen.lead(), l)
		}
		b.value(r, b.edge, b.y+pen.rise(), value)
		b.y += vg.Length(max(1, len(lines))) * pen.lead()
		tall := b.small.size * 1.9
		b.stack(x, r, b.y+1, tall)
		stacks = append(stacks, Range{float64(b.y - 1), float64(b.y + tall + 2)})
		b.y += tall + b.small.size*0.6
	}
	b.behind(ground, func() {
		for _, s := range stacks {
			b.gridX(x, vg.Length(s.Low), vg.Length(s.High))
		}
	})
}
