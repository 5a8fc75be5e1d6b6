package figure

import "gonum.org/v1/plot/vg"

// ranks is rows of choices over one or more panels that share an axis: names to the left and panels side by side, or on
// a phone panel below panel with each row's words over its marks.
type ranks struct {
	rows      []ranksRow
	panels    []ranksPanel
	low, high float64   // of the axis
	tall      vg.Length // of a row on a phone, in sizes of the text
	left      int       // rows that are not here, for want of room
}

// ranked draws rows of choices of which all that stands on the sheet is of rows that stand on it: where a slide has no
// room for some, axis and key are laid out anew without them.
func ranked(size Size, w Words, all int, draw func(b *board, rows, left int) (shown int)) *Sheet {
	b := newBoard(size, w)
	if shown := draw(b, all, 0); shown < all {
		b = newBoard(size, w)
		draw(b, shown, all-shown)
	}
	return b.done()
}

// ranksRow is one choice.
type ranksRow struct {
	name string
	best bool // the recommended one: bold
}

// ranksPanel is the marks of every row, and a column of values behind them.
type ranksPanel struct {
	title, head string // head stands over the values
	values      []string
	draw        []func(x scale, top, height vg.Length)
}

// draw reports how many rows there was room for.
func (r ranks) draw(b *board) (shown int) {
	switch {
	case len(r.panels) == 0:
	case b.size == Phone:
		for i, p := range r.panels {
			if i > 0 {
				b.y += b.gap * 2
			}
			r.below(b, p)
		}
	default:
		return r.beside(b)
	}
	return len(r.rows)
}

// namePen sets the recommended row in bold.
func (b *board) namePen(best bool) pen {
	if best {
		return pen{b.bold.style, b.small.size}
	}
	return b.small
}

// value sets a value in words, in the accent where the row is recommended.
func (b *board) value(text string, best bool, edge, baseline, width vg.Length) {
	p, c := b.namePen(best), ink
	if best {
		c = accent
	}
	b.right(p, c, edge, baseline, p.clip(text, width))
}

// valueWidth is the column that the values need.
func (r ranks) valueWidth(b *board, most vg.Length) vg.Length {
	w := vg.Length(0)
	for _, p := range r.panels {
		w = max(w, b.small.of(p.head))
		for i, v := range p.values {
			w = max(w, b.namePen(r.rows[i].best).of(v))
		}
	}
	return min(w, most)
}

// numbers writes those of the axis, and the head of the values beside them.
func (r ranks) numbers(b *board, p ranksPanel, x scale, from, edge, value vg.Length) {
	to := edge
	if p.head != "" {
		for _, head := range b.small.wrap(p.head, value+0.01, 1) {
			b.right(b.small, faint, edge, b.y+b.small.rise(), head)
		}
		to = edge - value - b.small.size*0.3
	}
	b.numbersX(x, b.y+b.small.rise(), from, to)
}

// beside draws the panels next to each other, with one column of names.
func (r ranks) beside(b *board) (shown int) {
	n := vg.Length(len(r.panels))
	width := b.edge - b.left
	gutter := b.small.size * 1.2
	name := vg.Length(0)
	for _, row := range r.rows {
		name = max(name, b.namePen(row.best).of(row.name))
	}
	most := width * 0.34
	if n == 1 {
		most = width * 0.45
	}
	name = min(name, most)
	each := (width - name - gutter*n) / n
	value := r.valueWidth(b, each*0.5)
	x := make([]scale, len(r.panels))
	titles := make([][]string, len(r.panels))
	deep := 0
	for i, p := range r.panels {
		from := b.left + name + gutter + vg.Length(i)*(each+gutter)
		x[i] = scale{r.low, r.high, from, from + each - value - b.small.size*0.7}
		titles[i] = b.bold.wrap(p.title, each, b.most(2))
		deep = max(deep, len(titles[i]))
	}
	for i := range r.panels {
		b.column(b.bold, ink, x[i].from, b.y+vg.Length(deep-len(titles[i]))*b.bold.lead(),
			vg.Length(len(titles[i]))*b.bold.lead(), titles[i])
	}
	b.y += vg.Length(deep) * b.bold.lead()
	for i, p := range r.panels {
		r.numbers(b, p, x[i], x[i].from-gutter*0.6, x[i].from+each, value)
	}
	b.y += b.small.lead() + 2
	top, ground := b.y, len(b.marks)
	tall := b.small.size * 1.75
	shown = len(r.rows)
	space := b.small.size * 0.55
	lines := make([][]string, len(r.rows))
	for i, row := range r.rows {
		lines[i] = b.namePen(row.best).wrap(row.name, name, 0)
	}
	if b.size == Slide {
		tall, space = b.small.size*1.35, 6
		room := b.Height - b.margin - b.y
		// names in two lines, or in one where that leaves fewer than four rows
		fits := func(most int) (n int) {
			used := vg.Length(0)
			for i, row := range r.rows {
				lines[i] = b.namePen(row.best).wrap(row.name, name, most)
				used += max(tall, vg.Length(len(lines[i]))*b.small.lead()) + space
				if used > room {
					break
				}
				n++
			}
			return n
		}
		if shown = fits(2); shown < len(r.rows) || r.left > 0 {
			words := b.small.wrap(b.leftWords(len(r.rows)+r.left), width, 2)
			room -= vg.Length(len(words)) * b.small.lead()
			if shown = fits(2); shown < 4 {
				shown = fits(1)
			}
		}
	}
	for i, row := range r.rows[:shown] {
		height := max(tall, vg.Length(max(1, len(lines[i])))*b.small.lead()) + space
		b.column(b.namePen(row.best), ink, b.left, b.y, height, lines[i])
		for k, p := range r.panels {
			if i >= len(p.draw) {
				continue
			}
			p.draw[i](x[k], b.y+(height-tall)/2, tall)
			b.value(p.values[i], row.best, x[k].from+each, b.y+height/2+b.small.size*0.35, value)
		}
		b.y += height
	}
	bottom := b.y
	b.behind(ground, func() {
		for i := range x {
			b.gridX(x[i], top, bottom)
		}
	})
	b.block(b.small, faint, b.leftWords(len(r.rows)-shown+r.left), b.most(2))
	return shown
}

// below draws one panel over the whole width.
func (r ranks) below(b *board, p ranksPanel) {
	width := b.edge - b.left
	value := r.valueWidth(b, width*0.4)
	x := scale{r.low, r.high, b.left, b.edge}
	b.block(b.bold, ink, p.title, 0)
	if p.head != "" {
		for _, head := range b.small.wrap(p.head, width, 1) {
			b.right(b.small, faint, b.edge, b.y+b.small.rise(), head)
		}
		b.y += b.small.lead()
	}
	b.numbersX(x, b.y+b.small.rise(), b.left, b.edge)
	b.y += b.small.lead() + 2
	ground := len(b.marks)
	var stacks []Range
	for i, row := range r.rows[:min(len(r.rows), len(p.draw))] {
		pen := b.namePen(row.best)
		lines := pen.wrap(row.name, width-value-b.small.size, 0)
		for k, l := range lines {
			b.text(pen, ink, b.left, b.y+pen.rise()+vg.Length(k)*pen.lead(), l)
		}
		b.value(p.values[i], row.best, b.edge, b.y+pen.rise(), value)
		b.y += vg.Length(max(1, len(lines))) * pen.lead()
		tall := b.small.size * r.tall
		p.draw[i](x, b.y+1, tall)
		stacks = append(stacks, Range{float64(b.y - 1), float64(b.y + tall + 2)})
		b.y += tall + b.small.size*0.6
	}
	b.behind(ground, func() {
		for _, s := range stacks {
			b.gridX(x, vg.Length(s.Low), vg.Length(s.High))
		}
	})
}
