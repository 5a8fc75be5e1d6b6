package figure

import "gonum.org/v1/plot/vg"

// Rules is what a plan brings beside simpler ways of going on: a bar each, the plan's with its interval.
type Rules struct {
	Words
	Axis string // "net over unsanitized, $ a tap and season"
	Rows []RulesRow
	Key  RulesKey
}

// RulesKey words the parts of the key; an empty one is left out.
type RulesKey struct {
	Range string // "95 % interval"
	Out   string // "not permitted, not wanted, or more than there is"
}

// RulesRow is one way.
type RulesRow struct {
	Name  string
	Net   float64
	Range Range  // equal ends: none
	Value string // "$1.24"
	Best  bool   // the plan
	Out   bool   // hatched: cannot be done
}

// Draw lays the figure out: names to the left, or over their bars on a phone; the values behind the bars.
func (f Rules) Draw(size Size) *Sheet {
	b := newBoard(size, f.Words)
	b.block(b.small, ink, f.Axis, b.most(1))
	b.y += b.gap / 2
	b.key(f.samples(b))
	name := vg.Length(0)
	if size != Phone {
		for _, r := range f.Rows {
			name = max(name, f.pen(b, r).of(r.Name))
		}
		name = min(name, (b.edge-b.left)*0.4) + b.small.size
	}
	value, ends := vg.Length(0), []float64{}
	values := []float64{0}
	for _, r := range f.Rows {
		value = max(value, f.pen(b, r).of(r.Value))
		values, ends = append(values, finite(r.Net)), append(ends, r.Range.Low, r.Range.High)
	}
	value = min(value, (b.edge-b.left)*0.3)
	low, high := extent(values, ends, 1)
	x := scale{low, high, b.left + name, b.edge - value - b.small.size*0.8}
	b.numbersX(x, b.y+b.small.rise(), b.left, b.edge)
	b.y += b.small.lead() + 2
	top, ground := b.y, len(b.marks)
	thick := b.small.size * 0.95
	for _, r := range f.Rows {
		pen, c := f.pen(b, r), ink
		if r.Out {
			c = faint
		}
		width := name - b.small.size
		if size == Phone {
			width = b.edge - b.left
		}
		lines := pen.wrap(r.Name, width, 0)
		height := max(vg.Length(len(lines))*pen.lead(), thick*1.25)
		if size == Phone {
			for _, l := range lines {
				b.text(pen, c, b.left, b.y+pen.rise(), l)
				b.y += pen.lead()
			}
			height = thick * 1.25
		} else {
			b.column(pen, c, b.left, b.y, height, lines)
		}
		mid := b.y + height/2
		f.bar(b, x, r, mid, thick)
		text := pen.wrap(r.Value, value+0.01, 1)[0]
		if r.Best {
			c = accent
		}
		b.right(pen, c, b.edge, mid+pen.size*0.35, text)
		b.y += height + b.small.size*0.45
	}
	bottom := b.y
	b.behind(ground, func() {
		if size != Phone { // there the names stand where the grid would
			b.gridX(x, top, bottom)
		}
	})
	return b.done()
}

func (f Rules) pen(b *board, r RulesRow) pen {
	if r.Best {
		return pen{b.bold.style, b.small.size}
	}
	return b.small
}

func (f Rules) bar(b *board, x scale, r RulesRow, mid, thick vg.Length) {
	x0, x1 := x.at(0), x.kept(finite(r.Net))
	switch {
	case r.Best:
		b.meanBar(x0, mid-thick/2, x1, mid+thick/2)
	default:
		b.studyBar(x0, mid-thick/2, x1, mid+thick/2, r.Out)
	}
	if r.Range.High > r.Range.Low {
		low, high := x.kept(finite(r.Range.Low)), x.kept(finite(r.Range.High))
		b.across(ink, 2, nil, low, high, mid)
		b.down(ink, 2, nil, low, mid-thick*0.3, mid+thick*0.3)
		b.down(ink, 2, nil, high, mid-thick*0.3, mid+thick*0.3)
	}
}

// samples are the entries of the key that some row needs.
func (f Rules) samples(b *board) []sample {
	w, h := b.small.size*1.5, b.small.size*0.33
	ranged, out := false, false
	for _, r := range f.Rows {
		ranged, out = ranged || r.Range.High > r.Range.Low, out || r.Out
	}
	var all []sample
	if ranged {
		all = append(all, sample{w, func(x, mid vg.Length) {
			b.across(ink, 2, nil, x, x+w, mid)
			b.down(ink, 2, nil, x, mid-h, mid+h)
			b.down(ink, 2, nil, x+w, mid-h, mid+h)
		}, f.Key.Range})
	}
	if out {
		all = append(all, sample{w, func(x, mid vg.Length) { b.studyBar(x, mid-h, x+w, mid+h, true) }, f.Key.Out})
	}
	return all
}
