package figure

import (
	"gonum.org/v1/plot/vg"
)

// Swings is what moves a net most: from the low to the high end of each assumption, all others at their best guesses.
type Swings struct {
	Words
	Axis string  // "net per tap and season, $"
	Now  float64 // the net with every best guess
	Rows []Swing // widest first
	Key  SwingsKey
}

// SwingsKey words the parts of the key; an empty one is left out.
type SwingsKey struct {
	Low, High string // "at its low", "at its high"
	Other     string // "another practice comes first there"
	Now       string // "all at best guesses"
}

// Swing is one assumption.
type Swing struct {
	Name                string  // "wage, $ an hour"
	Low, High           float64 // the net at its low and at its high end
	Value               string  // from where to where: "18 to 32"
	OtherLow, OtherHigh bool    // another choice comes first there
}

// Draw lays the figure out: a row an assumption, of which a slide shows as many as it has room for.
func (f Swings) Draw(size Size) *Sheet {
	b := newBoard(size, f.Words)
	b.head()
	if size != Slide {
		b.block(b.base, ink, b.left, b.edge, f.Axis, 0)
		b.y += b.gap / 2
	}
	b.key(f.samples(b))
	b.y += b.gap / 2
	r := ranks{tall: 1}
	p := ranksPanel{}
	values := []float64{f.Now}
	for _, row := range f.Rows {
		values = append(values, row.Low, row.High)
		r.rows = append(r.rows, ranksRow{name: row.Name})
		p.values = append(p.values, row.Value)
		p.draw = append(p.draw, func(x scale, top, height vg.Length) { b.swing(x, row, f.Now, top, height) })
	}
	r.panels = []ranksPanel{p}
	if r.low, r.high = extent(values, nil, 0); r.low == 0 {
		r.low = -0.04 * r.high // room for the number of its first tick
	}
	r.draw(b)
	return b.done()
}

// swing is one row: two arms off the net as it stands, ending hollow at the low end and full at the high one.
func (b *board) swing(x scale, r Swing, now float64, top, height vg.Length) {
	mid := top + height/2
	zero := x.kept(finite(now))
	low, high := x.kept(finite(r.Low)), x.kept(finite(r.High))
	b.line(faint, b.hair*1.4, b.dots(), at(zero, top), at(zero, top+height))
	b.line(ink, b.hair*2.2, nil, at(low, mid), at(zero, mid))
	b.line(accent, b.hair*4.4, nil, at(zero, mid), at(high, mid))
	b.swingEnd(low, mid, true, r.OtherLow)
	b.swingEnd(high, mid, false, r.OtherHigh)
}

// swingEnd is the low end of an assumption, hollow, or its high end, full; where another choice comes first it is
// crossed.
func (b *board) swingEnd(x, mid vg.Length, low, other bool) {
	c := accent
	if low {
		c = ink
	}
	r := b.small.size * 0.3
	b.dot(c, x, mid, r, low)
	if other {
		a := r * 1.9
		b.line(ink, b.hair*1.6, nil, at(x, mid-a), at(x, mid+a))
		b.line(ink, b.hair*1.6, nil, at(x-r*0.8, mid-a), at(x+r*0.8, mid-a))
		b.line(ink, b.hair*1.6, nil, at(x-r*0.8, mid+a), at(x+r*0.8, mid+a))
	}
}

func (f Swings) samples(b *board) []sample {
	var all []sample
	if b.size == Slide {
		all = append(all, sample{text: f.Axis})
	}
	w := b.small.size * 1.6
	r := b.small.size * 0.3
	all = append(all,
		sample{w, func(x, mid vg.Length) {
			b.line(ink, b.hair*2.2, nil, at(x+r, mid), at(x+w, mid))
			b.swingEnd(x+r, mid, true, false)
		}, f.Key.Low},
		sample{w, func(x, mid vg.Length) {
			b.line(accent, b.hair*4.4, nil, at(x, mid), at(x+w-r, mid))
			b.swingEnd(x+w-r, mid, false, false)
		}, f.Key.High},
		sample{b.small.size * 0.3, func(x, mid vg.Length) {
			b.line(faint, b.hair*1.4, b.dots(), at(x+b.small.size*0.15, mid-b.small.size*0.5),
				at(x+b.small.size*0.15, mid+b.small.size*0.5))
		}, f.Key.Now},
	)
	for _, row := range f.Rows {
		if row.OtherLow || row.OtherHigh {
			return append(all, sample{r * 2, func(x, mid vg.Length) { b.swingEnd(x+r, mid, true, true) }, f.Key.Other})
		}
	}
	return all
}
