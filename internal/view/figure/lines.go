package figure

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// Lines is what comes of whole numbers, one line each of several things: the chance that a trial finds a gain by its
// replicates, or the cash of a change season by season.
type Lines struct {
	Words
	X, Y   string // axis titles: "replicates of each practice", "chance that the gain is found, %"
	Curves []Line
	Level  *Level // what is to be reached: "80 %"
	Open   bool   // the vertical axis reaches as far as the values do; else they are percents, of 0 to 100
}

// Line is one of them. Its name says what it is, and where it gets: "20 %: 6 replicates".
type Line struct {
	Name   string
	Points []LinePoint // ascending
	Strong bool        // what is asked about
	Needed int         // where the level is first reached, marked; 0: nowhere that is shown
}

// LinePoint is a value at a whole number, with its error: equal ends where it is exact.
type LinePoint struct {
	At    int
	Value float64
	Range Range
}

// Draw lays the figure out.
func (f Lines) Draw(size Size) *Sheet {
	return plots(size, f.Words, f.panel())
}

func (f Lines) panel() panel {
	first, last := math.MaxInt, 0
	var values []float64
	for _, c := range f.Curves {
		for _, p := range c.Points {
			first, last = min(first, p.At), max(last, p.At)
			values = append(values, p.Value)
		}
	}
	first = min(first, last)
	last = max(last, first+1)
	pad := float64(last-first) * 0.03
	p := panel{x: f.X, y: f.Y, low: 0, high: 100}
	if f.Open {
		p.low, p.high = extent(values, nil, 1)
	}
	p.across = func(from, to vg.Length) scale { return scale{float64(first) - pad, float64(last) + pad, from, to} }
	p.numbers = whole(1)
	p.plot = func(b *board, x, y scale) {
		if f.Level != nil {
			h := y.kept(finite(f.Level.Gain))
			b.across(paperColour, 2.2, nil, x.from, x.to, h) // a line of the grid there would fill its gaps
			b.across(ink, 1.4, dots, x.from, x.to, h)
		}
		for _, strong := range []bool{false, true} { // the one that is asked about lies on top
			for i, c := range f.Curves {
				if c.Strong == strong {
					f.curve(b, x, y, i)
				}
			}
		}
	}
	p.samples = func(b *board) []sample {
		w := b.small.size * 2.2
		var all []sample
		for i, c := range f.Curves {
			all = append(all, sample{w, func(x, mid vg.Length) {
				b.lineStroke(i, c.Strong, trace(at(x, mid), at(x+w, mid)))
				b.lineMark(i, c.Strong, x+w/2, mid)
			}, c.Name})
		}
		if f.Level != nil {
			all = append(all, sample{w,
				func(x, mid vg.Length) { b.across(ink, 1.4, dots, x, x+w, mid) }, f.Level.Name})
		}
		return all
	}
	return p
}

// lineStroke is the stroke of a curve: the one that is asked about broad and in the accent.
func (b *board) lineStroke(i int, strong bool, p vg.Path) {
	if strong {
		b.stroke(accent, 3, nil, p)
	} else {
		b.stroke(ink, 1.4, nil, p)
	}
}

// lineMark tells the curves apart by the shape of their marks.
func (b *board) lineMark(i int, strong bool, x, y vg.Length) {
	c := ink
	if strong {
		c = accent
	}
	b.shape(c, i, x, y, b.small.size*0.26)
}

// shapes is how many marks there are that are told apart.
const shapes = 8

// shape is one of eight marks about as large as a disc of radius r: disc, square, triangle and lozenge, full and then
// hollow.
func (b *board) shape(c Colour, i int, x, y, r vg.Length) {
	var p vg.Path
	switch i % 4 {
	case 0:
		p = disc(x, y, r)
	case 1:
		p = box(x-r*0.9, y-r*0.9, x+r*0.9, y+r*0.9)
	case 2:
		p = trace(at(x-r*1.15, y+r*0.9), at(x, y-r*1.15), at(x+r*1.15, y+r*0.9))
		p.Close()
	default:
		p = trace(at(x-r*1.3, y), at(x, y-r*1.3), at(x+r*1.3, y), at(x, y+r*1.3))
		p.Close()
	}
	if i%shapes < 4 {
		b.fill(c, p)
		return
	}
	b.fill(paperColour, p)
	b.stroke(c, 1.4, nil, p)
}

// curve draws a curve with its marks, as many as stand clear of each other, and a ring where the level is reached.
func (f Lines) curve(b *board, x, y scale, i int) {
	c := f.Curves[i]
	var run []vg.Point
	for _, p := range c.Points {
		pt := at(x.at(float64(p.At)), y.kept(finite(p.Value)))
		run = append(run, pt)
		b.standing(ink, pt.X, y, p.Range, 1.2, nil)
	}
	if len(run) > 1 {
		b.lineStroke(i, c.Strong, trace(run...))
	}
	end := vg.Length(-1e6)
	for k, pt := range run {
		needed := c.Needed > 0 && c.Points[k].At == c.Needed
		if needed || pt.X-end >= b.small.size*1.6 {
			b.lineMark(i, c.Strong, pt.X, pt.Y)
			end = pt.X
		}
		if needed {
			colour := ink
			if c.Strong {
				colour = accent
			}
			b.stroke(colour, 1.4, nil, disc(pt.X, pt.Y, b.small.size*0.5))
		}
	}
}
