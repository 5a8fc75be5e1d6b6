package figure

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
)

// Draw lays the figure out. A study is a spindle from one end of its interval to the other, thickest at the gain and
// the thicker the more it weighs; the pooled gain is a spindle in the accent on the dashed range for one new season.
// Too many studies for a row each are ticks below their practice's pooled gain.
func (f Intervals) Draw(size Size) *Sheet {
	b := newBoard(size, f.Words)
	if rows := f.table(b); rows.fit(b) {
		rows.draw(b)
		return b.done()
	}
	f.Title = cmp.Or(f.Ticks, f.Title)
	b = newBoard(size, f.Words)
	f.folded(b, b.axis(f.Axis))
	return b.done()
}

// reach is the axis: all gains and pooled intervals, and the other intervals unless they are much wider. What is wider
// runs to the edge of the axis and ends there in an arrow.
func (f Intervals) reach() (low, high float64) {
	var values, ends []float64
	for _, g := range slices.Concat(f.Groups, f.Beside) {
		if p := g.Pooled; p != nil {
			values = append(values, p.Gain, p.Range.Low, p.Range.High)
			ends = append(ends, p.Season.Low, p.Season.High)
		}
		for _, s := range g.Studies {
			values = append(values, s.Gain)
			ends = append(ends, s.Range.Low, s.Range.High)
		}
	}
	return extent(values, ends, 0.5)
}

// spindle runs from one end of an interval to the other and is thickest, 2 × half, at the estimate.
func spindle(from, peak, to, mid, half vg.Length) vg.Path {
	peak = min(max(peak, from), to)
	var p vg.Path
	p.Move(at(from, mid))
	p.QuadTo(at((from+peak)/2, mid-half), at(peak, mid-half))
	p.QuadTo(at((to+peak)/2, mid-half), at(to, mid))
	p.QuadTo(at((to+peak)/2, mid+half), at(peak, mid+half))
	p.QuadTo(at((from+peak)/2, mid+half), at(from, mid))
	p.Close()
	return p
}

// arrows end an interval that runs out of an axis across the sheet.
func (b *board) arrows(c Colour, x scale, r Range, mid vg.Length) {
	b.beyond(c, 1.5, b.small.size*0.28, x, r, func(along, off vg.Length) vg.Point { return at(along, mid+off) })
}

// beyond ends an interval that runs out of its axis in arrows so large; put is a place by its way along the axis and
// off it.
func (b *board) beyond(c Colour, width, size vg.Length, axis scale, r Range, put func(along, off vg.Length) vg.Point) {
	in := size
	if axis.to < axis.from {
		in = -size
	}
	var p vg.Path
	if finite(r.Low) < axis.low {
		p = append(p, trace(put(axis.from+in, -size), put(axis.from, 0), put(axis.from+in, size))...)
	}
	if finite(r.High) > axis.high {
		p = append(p, trace(put(axis.to-in, -size), put(axis.to, 0), put(axis.to-in, size))...)
	}
	b.stroke(c, width, nil, p)
}

// studySpindle is one study: full, hollow where it is weak, a dashed thread with a ring where it is out of the pool.
// size is its share of the heaviest weight, 0 to 1.
func (b *board) studySpindle(x scale, s Study, mid vg.Length, size float64) {
	half := b.small.size * vg.Length(0.1+0.42*math.Sqrt(min(max(size, 0), 1)))
	from, peak, to := x.kept(finite(s.Range.Low)), x.at(finite(s.Gain)), x.kept(finite(s.Range.High))
	switch {
	case s.Out:
		if to > from {
			b.across(ink, 1.3, outside, from, to, mid)
		}
		b.arrows(ink, x, s.Range, mid)
		b.dot(ink, peak, mid, b.small.size*0.22, true)
		return
	case s.Weak:
		b.fill(paperColour, spindle(from, peak, to, mid, half))
		b.stroke(ink, 1.3, nil, spindle(from, peak, to, mid, half))
	default:
		b.fill(inkSoft, spindle(from, peak, to, mid, half))
		b.stroke(ink, 0.8, nil, spindle(from, peak, to, mid, half))
	}
	b.arrows(ink, x, s.Range, mid)
	b.down(ink, 2.6, nil, peak, mid-half-b.hair*2, mid+half+b.hair*2)
}

// pooledSpindle is the pooled gain on the range for one new season.
func (b *board) pooledSpindle(x scale, p Pooled, mid, half vg.Length) {
	if p.Season.High > p.Season.Low {
		from, to := x.kept(finite(p.Season.Low)), x.kept(finite(p.Season.High))
		b.across(accent, 2, ranged, from, to, mid)
		b.arrows(accent, x, p.Season, mid)
	}
	from, peak, to := x.kept(finite(p.Range.Low)), x.at(finite(p.Gain)), x.kept(finite(p.Range.High))
	b.fill(accent, spindle(from, peak, to, mid, half))
	b.down(accent, 3, nil, peak, mid-half-b.hair*2, mid+half+b.hair*2)
	b.arrows(accent, x, p.Range, mid)
}

func (f Intervals) samples(b *board, ticks bool) []sample {
	w := b.small.size * 2.6
	unit := func(x vg.Length) scale { return scale{0, 1, x, x + w} }
	one := Study{Gain: 0.5, Range: Range{0, 1}}
	study := sample{w, func(x, mid vg.Length) { b.studySpindle(unit(x), one, mid, 0.6) }, f.Key.Study}
	if ticks {
		study.text = f.Head.Study
		study.draw = func(x, mid vg.Length) {
			for _, v := range []float64{0.15, 0.4, 0.5, 0.9} {
				b.tick(unit(x).at(v), mid-b.small.size*0.3, mid+b.small.size*0.3)
			}
		}
	}
	all := []sample{study}
	weak, out, pooled := false, false, false
	for _, g := range f.Groups {
		pooled = pooled || g.Pooled != nil
		if ticks && dense(len(g.Studies)) {
			all[0].text = f.Many
		}
		for _, s := range g.Studies {
			weak, out = weak || s.Weak && !s.Out, out || s.Out
		}
	}
	if weak && !ticks {
		all = append(all, sample{w, func(x, mid vg.Length) {
			s := one
			s.Weak = true
			b.studySpindle(unit(x), s, mid, 0.6)
		}, f.Key.Weak})
	}
	if out && !ticks {
		all = append(all, sample{w, func(x, mid vg.Length) {
			s := one
			s.Out = true
			b.studySpindle(unit(x), s, mid, 0)
		}, f.Key.Out})
	}
	if pooled {
		all = append(all,
			sample{w, func(x, mid vg.Length) {
				b.pooledSpindle(unit(x), Pooled{Gain: 0.5, Range: Range{0, 1}}, mid, b.base.size*0.46)
			}, f.Key.Pooled},
			sample{w, func(x, mid vg.Length) {
				b.across(accent, 2, ranged, x, x+w, mid)
			}, f.Key.Season})
	}
	return all
}

// table is the figure as rows below each other, laid out but not yet drawn.
type table struct {
	f              Intervals
	axis           []sample
	x              scale
	value, share   vg.Length // right edges of the columns
	name           vg.Length // width of the column of names
	two            bool      // a row's interval stands below its words
	valueW, shareW vg.Length
}

func (f Intervals) table(b *board) *table {
	t := &table{f: f, axis: b.axis(f.Axis), two: b.size == Phone}
	t.valueW, t.shareW = b.small.of(f.Head.Gain), b.small.of(f.Head.Weight)
	longest := vg.Length(0)
	for _, g := range f.Groups {
		if g.Pooled != nil {
			t.valueW = max(t.valueW, b.bold.of(g.Pooled.Value))
			longest = max(longest, b.bold.of(g.Pooled.Name))
		}
		for _, s := range g.Studies {
			t.valueW, t.shareW = max(t.valueW, b.small.of(s.Value)), max(t.shareW, b.small.of(s.Share))
			longest = max(longest, b.small.of(s.Name)+b.aside()+b.note.of(marksText(s.Marks)))
		}
	}
	gutter := b.small.size
	width := b.edge - b.left
	t.valueW, t.shareW = min(t.valueW, width*0.4), min(t.shareW, width*0.2)
	t.share = b.edge
	low, high := f.reach()
	if t.two {
		t.value = b.edge
		t.name = width - t.valueW - gutter
		t.x = scale{low, high, b.left, b.edge - t.shareW - gutter}
		return t
	}
	t.value = b.edge - t.shareW - gutter
	t.name = min(longest, width*0.34)
	t.x = scale{low, high, b.left + t.name + gutter, t.value - t.valueW - gutter}
	return t
}

// heaviest is the largest weight in the figure.
func (t *table) heaviest() float64 {
	most := 0.0
	for _, g := range t.f.Groups {
		for _, s := range g.Studies {
			if !s.Out {
				most = max(most, finite(s.Weight))
			}
		}
	}
	return most
}

// Rows is true where every study has a row on a page.
func (f Intervals) Rows() bool {
	n := 0
	for _, g := range f.Groups {
		n += len(g.Studies)
	}
	return n <= mostRows
}

// fit says whether the table has room.
func (t *table) fit(b *board) bool {
	if b.size != Slide {
		return t.f.Rows()
	}
	if t.x.to-t.x.from < 200 {
		return false
	}
	complete := true
	return b.y+b.tall(func() { complete = t.draw(b) }) <= b.Height-b.margin && complete
}

// draw reports false where a slide has no room for all footnotes.
func (t *table) draw(b *board) (complete bool) {
	f := t.f
	b.key(append(t.axis, f.samples(b, false)...))
	b.y += b.gap / 2
	// heads of the columns, and the numbers of the axis on the same row or the one below
	wrap := func(text string, w vg.Length) []string { return b.small.wrap(text, w, b.most(2)) }
	study, gain, weight := wrap(f.Head.Study, t.name), wrap(f.Head.Gain, t.valueW), wrap(f.Head.Weight, t.shareW)
	put := func(lines []string, x vg.Length, right bool, down int) {
		for i, l := range lines {
			y := b.y + vg.Length(i+down)*b.small.lead() + b.small.rise()
			if right {
				b.right(b.small, faint, x, y, l)
			} else {
				b.text(b.small, faint, x, y, l)
			}
		}
	}
	deep := max(len(study), len(gain))
	put(study, b.left, false, deep-len(study))
	put(gain, t.value, true, deep-len(gain))
	if t.two {
		b.y += vg.Length(deep) * b.small.lead()
		deep = 1
	}
	deep = max(deep, len(weight), 1)
	put(weight, t.share, true, deep-len(weight))
	clear := b.small.size * 0.4 // numbers keep clear of the heads on their row
	from, to := b.left, t.share-t.shareW-clear
	if !t.two {
		from, to = b.left+t.name+clear, t.value-t.valueW-clear
	}
	b.numbersX(t.x, b.y+vg.Length(deep-1)*b.small.lead()+b.small.rise(), from, to)
	b.y += vg.Length(deep)*b.small.lead() + 3
	b.across(ink, 1, nil, b.left, b.edge, b.y)
	top, ground := b.y, len(b.marks)
	b.y += b.gap / 2
	most := t.heaviest()
	if most <= 0 {
		most = 1
	}
	var skip []Range // heights where the grid would run through words
	for i, g := range f.Groups {
		if i > 0 {
			b.y += b.gap
		}
		from := b.y
		b.block(b.bold, ink, g.Name, b.most(2))
		skip = append(skip, Range{float64(from), float64(b.y)})
		start := b.y
		for _, s := range g.Studies {
			marks := marksText(s.Marks)
			lines := b.small.wrap(s.Name, t.name-b.aside()-b.note.of(marks), b.most(2))
			for i, l := range lines {
				b.text(b.small, faint, b.left, b.y+b.small.rise()+vg.Length(i)*b.small.lead(), l)
				if i == len(lines)-1 {
					b.text(b.note, accent, b.left+b.small.of(l)+b.aside(),
						b.y+b.small.rise()+vg.Length(i)*b.small.lead()-b.lift(), marks)
				}
			}
			b.right(b.small, ink, t.value, b.y+b.small.rise(), b.small.clip(s.Value, t.valueW))
			row := b.y
			b.y += vg.Length(max(1, len(lines))) * b.small.lead()
			base := row + b.small.rise()
			if t.two {
				skip = append(skip, Range{float64(row), float64(b.y)})
				base = b.y + b.small.rise()
				b.y += b.small.lead()*1.1 + 2
			}
			b.right(b.small, faint, t.share, base, b.small.clip(s.Share, t.shareW))
			b.studySpindle(t.x, s, base-b.small.size*0.3, finite(s.Weight)/most)
		}
		if p := g.Pooled; p != nil {
			b.y += 2
			line := t.x.at(finite(p.Gain))
			lines := b.bold.wrap(p.Name, t.name, b.most(2))
			row := b.y
			base := row + b.bold.rise()
			b.y += vg.Length(max(1, len(lines))) * b.bold.lead()
			for i, l := range lines {
				b.text(b.bold, accent, b.left, base+vg.Length(i)*b.bold.lead(), l)
			}
			b.right(b.bold, accent, t.value, base, b.bold.clip(p.Value, t.valueW))
			if t.two {
				skip = append(skip, Range{float64(row), float64(b.y)})
				base = b.y + b.bold.rise()
				b.y += b.bold.lead() * 1.1
			} else {
				b.behind(ground, func() {
					b.down(accent, 1, nil, line, start, base)
				})
			}
			b.pooledSpindle(t.x, *p, base-b.bold.size*0.33, b.base.size*0.46)
		}
	}
	b.y += b.gap / 2
	bottom := b.y
	b.behind(ground, func() { t.grid(b, top, bottom, skip) })
	if bottom-top > 400 {
		b.numbersX(t.x, b.y+b.small.rise(), b.left, b.edge)
		b.y += b.small.lead()
	}
	used := map[int]bool{}
	for _, g := range f.Groups {
		for _, s := range g.Studies {
			for _, m := range s.Marks {
				used[m] = true
			}
		}
	}
	if len(used) == 0 {
		return true
	}
	b.y += b.gap / 2
	return b.footnotes(used)
}

// grid draws the axis's lines between the rows of words.
func (t *table) grid(b *board, top, bottom vg.Length, skip []Range) {
	from := top
	for _, s := range skip {
		if s.Low > float64(from) {
			b.gridX(t.x, from, vg.Length(s.Low))
		}
		from = vg.Length(s.High)
	}
	if bottom > from {
		b.gridX(t.x, from, bottom)
	}
}

// folded is the figure with too many studies: a row a practice, its pooled gain and below it a tick for every study.
func (f Intervals) folded(b *board, axis []sample) {
	b.key(append(axis, f.samples(b, true)...))
	b.y += b.gap / 2
	width := b.edge - b.left
	name, value := vg.Length(0), vg.Length(0)
	for _, g := range f.Groups {
		name = max(name, b.bold.of(g.Name))
		if g.Pooled != nil {
			value = max(value, b.bold.of(g.Pooled.Value))
		}
	}
	value = min(value, width*0.26)
	name = min(name, width*0.7-value-32) // the axis has three tenths at least
	rows := make([]fold, len(f.Groups))
	for i, g := range f.Groups {
		rows[i] = fold{name: g.Name, draw: func(x scale, top, thick, middle vg.Length) {
			if p := g.Pooled; p != nil {
				b.pooledSpindle(x, *p, top+thick/2, thick/2)
				b.right(b.bold, accent, b.edge, middle+b.bold.size*0.35, b.bold.clip(p.Value, value))
			}
		}}
		for _, s := range g.Studies {
			rows[i].studies = append(rows[i].studies, s.Gain)
		}
	}
	low, high := f.reach()
	b.folded(rows, name, 2, func(int) scale { return scale{low, high, b.left + name + 16, b.edge - value - 16} })
}
