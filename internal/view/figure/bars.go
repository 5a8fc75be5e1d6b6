package figure

import (
	"maps"
	"slices"

	"gonum.org/v1/plot/vg"
)

// Draw lays the figure out. On a page every study is a named row; on a slide every study is a standing bar without its
// name, and where they are too many for either, a tick below its practice's mean.
func (f Bars) Draw(size Size) *Sheet {
	b := newBoard(size, f.Words)
	axis := b.axis(f.Axis)
	switch {
	case size != Slide && f.Rows():
		f.rows(b)
	case size != Slide || !f.columns(b, axis):
		f.folded(b, axis)
	}
	return b.done()
}

// Rows is true where every study has a row on a page.
func (f Bars) Rows() bool {
	n := 0
	for _, g := range f.Groups {
		n += len(g.Studies)
	}
	return n <= mostRows
}

// dense is true of so many studies that their ticks would run into one another.
func dense(studies int) bool { return studies > mostRows/4 }

// samples are the entries of the key; hatched studies only where there are any, ticks where studies are not bars.
func (f Bars) samples(b *board, ticks bool) []sample {
	w, h := b.small.size*1.6, b.small.size*0.7
	study := sample{w, func(x, mid vg.Length) { b.studyBar(x, mid-h/3, x+w, mid+h/3, false) }, f.Key.Study}
	if ticks {
		study = sample{w, func(x, mid vg.Length) {
			for _, at := range []vg.Length{0.2, 0.45, 0.8} {
				b.tick(x+w*at, mid-h/2, mid+h/2)
			}
		}, f.Key.Study}
	}
	all := []sample{study}
	weak, part := false, false
	for _, g := range f.Groups {
		part = part || g.Part != nil
		if ticks && dense(len(g.Studies)) {
			all[0].text = f.Many
		}
		for _, s := range g.Studies {
			weak = weak || s.Weak
		}
	}
	if weak && !ticks {
		all = append(all, sample{w, func(x, mid vg.Length) { b.studyBar(x, mid-h/3, x+w, mid+h/3, true) }, f.Key.Weak})
	}
	all = append(all, sample{w, func(x, mid vg.Length) { b.meanBar(x, mid-h/2, x+w, mid+h/2) }, f.Key.Mean})
	if part {
		all = append(all, sample{w, func(x, mid vg.Length) {
			b.meanBar(x, mid-h/2, x+w, mid+h/2)
			b.partBox(x, mid-h/2, x+w, mid+h/2)
		}, f.Key.Part})
	}
	return all
}

// studyBar is one study; weak ones are hatched and have no ground.
func (b *board) studyBar(x0, y0, x1, y1 vg.Length, weak bool) {
	if weak {
		b.stroke(faint, 1, nil, hatch(x0, y0, x1, y1, b.hair*4))
	} else {
		b.fill(inkSoft, box(x0, y0, x1, y1))
	}
	b.stroke(ink, 1, nil, box(x0, y0, x1, y1))
}

// meanBar is the mean of a practice: broad, in the accent.
func (b *board) meanBar(x0, y0, x1, y1 vg.Length) {
	b.fill(accentSoft, box(x0, y0, x1, y1))
	b.stroke(accent, 1.6, nil, box(x0, y0, x1, y1))
}

// partBox is the new spout's part of a mean: hollow, with a dashed edge.
func (b *board) partBox(x0, y0, x1, y1 vg.Length) {
	b.fill(paperColour, box(x0, y0, x1, y1))
	b.stroke(accent, 1.6, ranged, box(x0, y0, x1, y1))
}

// tick is one study where there is no room for a bar.
func (b *board) tick(x, y0, y1 vg.Length) {
	b.down(ink, 1.3, nil, x, y0, y1)
}

// lowest is the left end of the axis: zero, or below the lowest gain.
func (f Bars) lowest() float64 {
	low := 0.0
	for _, g := range f.Groups {
		if g.Mean != nil {
			low = min(low, finite(*g.Mean))
		}
		for _, s := range g.Studies {
			low = min(low, finite(s.Gain))
		}
	}
	return low * 1.05
}

// fit is the widest scale from low on, between two edges, on which the label behind each value ends before the right
// edge.
type fit struct {
	low      float64
	from, to vg.Length
	per      float64 // points per unit
}

func newFit(low float64, from, to vg.Length) *fit {
	return &fit{low, from, to, -1}
}

// label makes room for a label so wide behind a value.
func (f *fit) label(v float64, width vg.Length) {
	if v > f.low {
		per := float64(max(f.to-f.from-width, 1)) / (v - f.low)
		if f.per < 0 || per < f.per {
			f.per = per
		}
	}
}

func (f *fit) scale() scale {
	if f.per <= 0 {
		return scale{f.low, f.low + 100, f.from, f.to}
	}
	return scale{f.low, f.low + float64(f.to-f.from)/f.per, f.from, f.to}
}

// rows is a practice after the other, each with its mean and below it a row for every study.
func (f Bars) rows(b *board) {
	b.key(f.samples(b, false))
	name := vg.Length(0) // the column of names
	for _, g := range f.Groups {
		name = max(name, b.bold.of(g.Name))
		for _, s := range g.Studies {
			name = max(name, b.small.of(s.Name))
		}
	}
	name = min(name, (b.edge-b.left)*0.38)
	from := b.left + name + b.small.size*0.8
	label := func(s Bar) vg.Length {
		return b.small.size*0.5 + b.small.of(s.Value) + b.aside() + b.note.of(marksText(s.Marks))
	}
	room := newFit(f.lowest(), from, b.edge)
	room.label(0, 4)
	for _, g := range f.Groups {
		if g.Mean != nil {
			room.label(max(finite(*g.Mean), 0), b.bold.size*0.5+b.bold.of(g.Value))
		}
		for _, s := range g.Studies {
			room.label(max(finite(s.Gain), 0), label(s))
		}
	}
	x := room.scale()
	b.numbersX(x, b.y+b.small.rise(), b.left, b.edge)
	b.y += b.small.lead() * 1.15
	top := b.y
	grid := len(b.marks)
	for i, g := range f.Groups {
		if i > 0 {
			b.y += b.gap
		}
		nameLines := b.bold.wrap(g.Name, name, 0)
		if len(nameLines) > 2 { // the whole width then
			for _, l := range b.bold.wrap(g.Name, b.edge-b.left, 0) {
				b.fill(paperColour, box(b.left, b.y, b.left+b.bold.of(l), b.y+b.bold.lead()))
				b.text(b.bold, ink, b.left, b.y+b.bold.rise(), l)
				b.y += b.bold.lead()
			}
			nameLines = nil
		}
		// the mean
		start := b.y
		thick := b.bold.size * 1.15
		mid := b.y + b.bold.lead()/2
		if g.Mean != nil {
			m := finite(*g.Mean)
			b.meanBar(x.at(0), mid-thick/2, x.at(m), mid+thick/2)
			if g.Part != nil {
				b.partBox(x.at(0), mid-thick/2, x.kept(finite(*g.Part)), mid+thick/2)
			}
			b.text(b.bold, accent, max(x.at(m), x.at(0))+b.bold.size*0.5, b.y+b.bold.rise(), g.Value)
		}
		for i, l := range nameLines {
			b.text(b.bold, ink, b.left, b.y+vg.Length(i)*b.bold.lead()+b.bold.rise(), l)
		}
		b.y += b.bold.lead() * vg.Length(max(1, len(nameLines)))
		b.y = max(b.y, start+thick+2) + 1.5
		// its studies, with the mean run through them where it meets no label
		from, mean := mid+thick/2, vg.Length(-1)
		if g.Mean != nil {
			mean = x.at(finite(*g.Mean))
		}
		var through vg.Path
		for _, s := range g.Studies {
			lines := b.small.wrap(s.Name, name, 0)
			gain := finite(s.Gain)
			half := b.small.size * 0.32
			mid := b.y + b.small.rise() - b.small.size*0.3
			b.studyBar(x.at(0), mid-half, x.at(gain), mid+half, s.Weak)
			beside := max(x.at(gain), x.at(0)) + b.small.size*0.5
			b.text(b.small, faint, beside, b.y+b.small.rise(), s.Value)
			b.text(b.note, accent, beside+b.small.of(s.Value)+b.aside(), b.y+b.small.rise()-b.lift(),
				marksText(s.Marks))
			for i, l := range lines {
				b.text(b.small, faint, b.left, b.y+b.small.rise()+vg.Length(i)*b.small.lead(), l)
			}
			end := b.y + b.small.lead()
			if mean >= 0 && (mean < beside-2 || mean > beside+label(s)) {
				through = append(through, trace(at(mean, from), at(mean, end))...)
			}
			from = end
			b.y += b.small.lead() * vg.Length(max(1, len(lines)))
		}
		b.stroke(accent, 1.2, nil, through)
	}
	bottom := b.y + 2
	b.behind(grid, func() { b.gridX(x, top, bottom) })
	b.y = bottom
	if bottom-top > 400 {
		b.numbersX(x, b.y+b.small.rise(), b.left, b.edge)
		b.y += b.small.lead()
	}
	if used := f.used(); len(used) > 0 {
		b.y += b.gap
		b.footnotes(used)
	}
}

// used are the footnotes that some study bears.
func (f Bars) used() map[int]bool {
	used := map[int]bool{}
	for _, g := range f.Groups {
		for _, s := range g.Studies {
			for _, m := range s.Marks {
				used[m] = true
			}
		}
	}
	return used
}

// behind draws something under the marks that were added since the sheet had n of them.
func (b *board) behind(n int, draw func()) {
	top := append([]mark(nil), b.marks[n:]...)
	b.marks = b.marks[:n]
	draw()
	b.marks = append(b.marks, top...)
}

// stacked is how close, in lines, footnote numbers stand above each other: figures have no descenders.
const stacked = 0.86

// columns is the slide: standing bars in groups, footnote numbers above them, the names of the practices below. It
// reports false, and draws nothing, where that does not fit.
func (f Bars) columns(b *board, axis []sample) bool {
	y0, n0 := b.y, len(b.marks)
	n := 0
	pitch := vg.Length(17)
	low, high := 0.0, 0.0
	for _, g := range f.Groups {
		n += max(1, len(g.Studies))
		if g.Mean != nil {
			low, high = min(low, finite(*g.Mean)), max(high, finite(*g.Mean))
		}
		for _, s := range g.Studies {
			low, high = min(low, finite(s.Gain)), max(high, finite(s.Gain))
			for _, m := range s.Marks {
				pitch = max(pitch, b.note.of(numeral(m))+3)
			}
		}
	}
	if n == 0 || high == low {
		return false
	}
	b.key(append(axis, f.samples(b, false)...))
	b.y += b.gap / 2
	// the number column, then the groups
	var numbers vg.Length
	for _, v := range []float64{low, high, 100} {
		numbers = max(numbers, b.small.of(b.Number(v, 0)))
	}
	from, space := b.left+numbers+10, vg.Length(16)
	widths := make([]vg.Length, len(f.Groups))
	names := make([][]string, len(f.Groups))
	total := vg.Length(0)
	for i, g := range f.Groups {
		widths[i] = max(pitch*vg.Length(max(1, len(g.Studies))), b.base.widest(g.Name), b.bold.of(g.Value)) + space
		total += widths[i]
	}
	if total > b.edge-from {
		b.y, b.marks = y0, b.marks[:n0]
		return false
	}
	spread := (b.edge - from - total) / vg.Length(len(f.Groups))
	deepest := 0
	for i, g := range f.Groups {
		widths[i] += spread
		names[i] = b.base.wrap(g.Name, widths[i]-space/2, 0)
		deepest = max(deepest, len(names[i]))
	}
	complete := true
	notes := b.tall(func() { complete = b.footnotes(f.used()) })
	foot := b.bold.lead() + vg.Length(deepest)*b.base.lead() + notes + b.gap/2
	bottom := b.Height - b.margin - foot
	top := b.y
	fit := newFit(low*1.05, 0, bottom-top)
	fit.label(0, 2)
	for _, g := range f.Groups {
		if g.Mean != nil {
			fit.label(finite(*g.Mean), 2)
		}
		for _, s := range g.Studies {
			fit.label(max(finite(s.Gain), 0), vg.Length(len(s.Marks))*b.note.lead()*stacked+6)
		}
	}
	y := fit.scale()
	y.from, y.to = bottom, top
	ticks, decimals := y.ticks(max(1, int((bottom-top)/(b.small.lead()*1.2))))
	for _, v := range ticks {
		complete = complete && b.small.of(b.Number(v, decimals)) <= numbers+1
	}
	if !complete || y.at(low*1.05)-y.at(high) < 100 {
		b.y, b.marks = y0, b.marks[:n0]
		return false
	}
	var grid vg.Path
	for _, v := range ticks {
		h := y.at(v)
		b.right(b.small, faint, from-8, min(max(h+b.small.size*0.35, top+b.small.size*0.5), bottom),
			b.Number(v, decimals))
		if v != 0 {
			grid.Move(at(from, h))
			grid.Line(at(b.edge, h))
		}
	}
	b.stroke(rule, 1, nil, grid)
	x := from
	for i, g := range f.Groups {
		mid := x + widths[i]/2
		many := vg.Length(max(1, len(g.Studies)))
		step := max(pitch, min((widths[i]-space-8)/many, 44))
		span := max(step*many+8, 60)
		if g.Mean != nil {
			b.meanBar(mid-span/2, y.at(finite(*g.Mean)), mid+span/2, y.at(0))
			if g.Part != nil {
				b.partBox(mid-span/2, y.kept(finite(*g.Part)), mid+span/2, y.at(0))
			}
		}
		for j, s := range g.Studies {
			c := mid + (vg.Length(j)-vg.Length(len(g.Studies)-1)/2)*step
			gain := finite(s.Gain)
			b.studyBar(c-step*0.28, y.at(gain), c+step*0.28, y.at(0), s.Weak)
			up := min(y.at(gain), y.at(0)) - 4
			for k := len(s.Marks) - 1; k >= 0; k-- {
				t := numeral(s.Marks[k])
				b.fill(paperColour, box(c-b.note.of(t)/2, up-b.note.size*0.74, c+b.note.of(t)/2, up+1))
				b.centre(b.note, accent, c, up, t)
				up -= b.note.lead() * stacked
			}
		}
		b.centre(b.bold, accent, mid, bottom+b.bold.rise()+2, g.Value)
		for k, l := range names[i] {
			b.centre(b.base, ink, mid, bottom+b.bold.lead()+b.base.rise()+vg.Length(k)*b.base.lead(), l)
		}
		x += widths[i]
	}
	b.across(ink, 1.3, nil, from, b.edge, y.at(0))
	b.y = b.Height - b.margin - notes
	b.footnotes(f.used())
	return true
}

// folded is the slide with too many studies for bars: a row a practice, its mean and below it a tick for every study.
func (f Bars) folded(b *board, axis []sample) {
	b.key(append(axis, f.samples(b, true)...))
	b.y += b.gap
	rows := make([]fold, len(f.Groups))
	name := vg.Length(0)
	for i, g := range f.Groups {
		name = max(name, b.bold.of(g.Name))
		rows[i] = fold{name: g.Name, draw: func(x scale, top, thick, _ vg.Length) {
			if g.Mean == nil {
				return
			}
			m := finite(*g.Mean)
			b.meanBar(x.at(0), top, x.at(m), top+thick)
			if g.Part != nil {
				b.partBox(x.at(0), top, x.kept(finite(*g.Part)), top+thick)
			}
			b.text(b.bold, accent, max(x.at(m), x.at(0))+10, top+thick/2+b.bold.size*0.35, g.Value)
		}}
		for _, s := range g.Studies {
			rows[i].studies = append(rows[i].studies, s.Gain)
		}
	}
	name = min(name, (b.edge-b.left)*0.42)
	b.folded(rows, name, 3, func(shown int) scale {
		room := newFit(f.lowest(), b.left+name+14, b.edge)
		room.label(0, 4)
		for _, g := range f.Groups[:shown] {
			if g.Mean != nil {
				room.label(max(finite(*g.Mean), 0), 10+b.bold.of(g.Value))
			}
			for _, s := range g.Studies {
				room.label(finite(s.Gain), 4)
			}
		}
		return room.scale()
	})
}

// mostRows is the most studies that have a row each: more are four metres of paper.
const mostRows = 400

// fold is one practice where there is no room for a row a study.
type fold struct {
	name    string
	studies []float64
	draw    func(x scale, top, thick, middle vg.Length) // its mark
}

// ticks are studies, each one its own; of so many that they run into one another those of two points together, as high
// as they are many.
func (b *board) ticks(studies []float64, x scale, from, to vg.Length) {
	if !dense(len(studies)) {
		for _, s := range studies {
			b.tick(x.at(finite(s)), from, to)
		}
		return
	}
	many, most := map[int]int{}, 0
	for _, s := range studies {
		at := int(x.kept(finite(s)) / 2)
		many[at]++
		most = max(most, many[at])
	}
	for _, at := range slices.Sorted(maps.Keys(many)) {
		b.tick(vg.Length(2*at+1), to-(to-from)*vg.Length(many[at])/vg.Length(most), to)
	}
}

// folded sets a row a practice, its mark and below it, a gap apart, a tick for every study. axis is asked for the scale
// when it is known how many rows are shown.
func (b *board) folded(rows []fold, name, apart vg.Length, axis func(shown int) scale) {
	var names []string
	for _, r := range rows {
		names = append(names, r.name)
	}
	top, bottom := b.y, b.Height-b.margin-b.small.lead()-4
	if b.size != Slide { // which alone has an end
		bottom = top + vg.Length(len(rows))*b.bold.lead()*4
	}
	lines, heights := b.namesFor(names, b.bold, name, 40, bottom-top)
	words := ""
	if len(lines) < len(rows) {
		words = b.leftWords(len(rows))
		bottom -= b.small.lead() * vg.Length(len(b.small.wrap(words, b.edge-b.left, 2)))
		lines, heights = b.namesFor(names, b.bold, name, 40, bottom-top)
		words = b.leftWords(len(rows) - len(lines))
	}
	rows = rows[:len(lines)]
	used := vg.Length(0)
	for _, h := range heights {
		used += h
	}
	x := axis(len(rows))
	spare := min((bottom-top-used)/vg.Length(max(1, len(rows))), 24)
	b.gridX(x, top, top+used+spare*vg.Length(len(rows)))
	for i, r := range rows {
		height := heights[i] + spare
		b.column(b.bold, ink, b.left, b.y, height, lines[i])
		thick, lane := lanes(height)
		mark := b.y + (height-thick-lane)/2
		r.draw(x, mark, thick, b.y+height/2)
		b.ticks(r.studies, x, mark+thick+apart, mark+thick+lane)
		b.y += height
	}
	b.numbersX(x, b.y+b.small.rise()+2, b.left, b.edge)
	b.y += b.small.lead() + 4
	b.block(b.small, faint, words, 2)
}
