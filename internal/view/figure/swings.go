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
	return ranked(size, f.Words, len(f.Rows), func(b *board, rows, left int) int {
		f := f
		f.Rows = f.Rows[:rows]
		b.key(append(b.axis(f.Axis), f.samples(b)...))
		b.y += b.gap / 2
		r := ranks{tall: 1, left: left}
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
		return r.draw(b)
	})
}

// swing is one row: two arms off the net as it stands, ending hollow at the low end and full at the high one.
func (b *board) swing(x scale, r Swing, now float64, top, height vg.Length) {
	mid := top + height/2
	zero := x.kept(finite(now))
	low, high := x.kept(finite(r.Low)), x.kept(finite(r.High))
	b.down(faint, 1.4, dots, zero, top, top+height)
	b.across(ink, 2.2, nil, low, zero, mid)
	b.across(accent, 4.4, nil, zero, high, mid)
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
		b.down(ink, 1.6, nil, x, mid-a, mid+a)
		b.across(ink, 1.6, nil, x-r*0.8, x+r*0.8, mid-a)
		b.across(ink, 1.6, nil, x-r*0.8, x+r*0.8, mid+a)
	}
}

func (f Swings) samples(b *board) []sample {
	w := b.small.size * 1.6
	r := b.small.size * 0.3
	all := []sample{
		{w, func(x, mid vg.Length) {
			b.across(ink, 2.2, nil, x+r, x+w, mid)
			b.swingEnd(x+r, mid, true, false)
		}, f.Key.Low},
		{w, func(x, mid vg.Length) {
			b.across(accent, 4.4, nil, x, x+w-r, mid)
			b.swingEnd(x+w-r, mid, false, false)
		}, f.Key.High},
		{b.small.size * 0.3, func(x, mid vg.Length) {
			b.down(faint, 1.4, dots, x+b.small.size*0.15, mid-b.small.size*0.5, mid+b.small.size*0.5)
		}, f.Key.Now},
	}
	for _, row := range f.Rows {
		if row.OtherLow || row.OtherHigh {
			return append(all, sample{r * 2, func(x, mid vg.Length) { b.swingEnd(x+r, mid, true, true) }, f.Key.Other})
		}
	}
	return all
}
