package figure

import (
	"slices"

	"gonum.org/v1/plot/vg"
)

// Outlook is what each choice is likely to net: the points below which 5, 25, 50, 75 and 95 of 100 draws lie, one panel
// a horizon, with the chance of being best behind each.
type Outlook struct {
	Words
	Axis   string // "net against today's practice per tap and season, $"
	Panels []OutlookPanel
	Key    OutlookKey
}

// OutlookKey words the parts of the key; an empty one is left out.
type OutlookKey struct {
	Wide   string // "90 of 100 draws"
	Middle string // "the middle half"
	Median string // "as likely above as below"
	Closed string // "not to be chosen here"
	Rest   string // what is not drawn: "the chance of being best of rotations not drawn: 22 %"
	Error  string // how exact the chances are; a slide leaves it out
}

// OutlookPanel is every choice over one horizon. Panels list the same choices in the same order.
type OutlookPanel struct {
	Title string // "over the long run"
	Head  string // over the values: "best, %"
	Rows  []OutlookRow
}

// OutlookRow is one choice. Equal points: it is what all are against, and certain.
type OutlookRow struct {
	Name                   string
	P5, P25, P50, P75, P95 float64
	Value                  string // the chance of being best: "36"
	Best                   bool   // the recommended one
	Closed                 bool   // drawn hollow: not permitted, or not studied
}

// Draw lays the figure out: the choices as rows, the horizons side by side, or below each other on a phone.
func (f Outlook) Draw(size Size) *Sheet {
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
		r := ranks{tall: 1.3, left: left}
		var values, ends []float64
		for i, p := range f.Panels {
			c := ranksPanel{title: p.Title, head: p.Head}
			for _, row := range p.Rows {
				values, ends = append(values, row.P25, row.P50, row.P75), append(ends, row.P5, row.P95)
				if i == 0 {
					r.rows = append(r.rows, ranksRow{row.Name, row.Best})
				}
				c.values = append(c.values, row.Value)
				c.draw = append(c.draw, func(x scale, top, height vg.Length) {
					b.bud(x, row, top+height/2, b.small.size*0.5)
				})
			}
			r.panels = append(r.panels, c)
		}
		r.low, r.high = extent(values, ends, 1)
		return r.draw(b)
	})
}

// bud is one outlook: a stem from the 5 to the 95 % point, which swells from the 25 to the 75 % point and is fullest at
// the middle, where a notch stands. What runs out of the axis ends in an arrow.
func (b *board) bud(x scale, r OutlookRow, mid, half vg.Length) {
	c, soft := ink, inkSoft
	if r.Best {
		c, soft = accent, accentSoft
	}
	if r.Closed {
		c, soft = faint, paperColour
	}
	place := func(v float64) vg.Length { return x.kept(finite(v)) }
	if !(r.P95 > r.P5) {
		b.fill(c, disc(place(r.P50), mid, b.small.size*0.22))
		return
	}
	b.across(c, 1.8, nil, place(r.P5), place(r.P95), mid)
	b.beyond(c, 1.8, b.small.size*0.22, x, Range{r.P5, r.P95},
		func(along, off vg.Length) vg.Point { return at(along, mid+off) })
	from, to, top := place(r.P25), place(r.P75), place(r.P50)
	var p vg.Path
	p.Move(at(from, mid))
	p.CubeTo(at(from+(top-from)*0.35, mid-half), at(from+(top-from)*0.7, mid-half), at(top, mid-half))
	p.CubeTo(at(to-(to-top)*0.7, mid-half), at(to-(to-top)*0.35, mid-half), at(to, mid))
	p.CubeTo(at(to-(to-top)*0.35, mid+half), at(to-(to-top)*0.7, mid+half), at(top, mid+half))
	p.CubeTo(at(from+(top-from)*0.7, mid+half), at(from+(top-from)*0.35, mid+half), at(from, mid))
	p.Close()
	b.fill(soft, p)
	b.stroke(c, 1.4, nil, p)
	b.down(c, 2.6, nil, top, mid-half, mid+half)
}

func (f Outlook) samples(b *board) []sample {
	w := b.small.size * 2.4
	r := OutlookRow{P5: 0, P25: 0.25, P50: 0.5, P75: 0.75, P95: 1}
	half := b.small.size * 0.4
	all := []sample{
		{w, func(x, mid vg.Length) { b.bud(scale{0, 1, x, x + w}, r, mid, half) }, f.Key.Middle},
		{w, func(x, mid vg.Length) { b.across(ink, 1.8, nil, x, x+w, mid) }, f.Key.Wide},
		{b.small.size * 0.4, func(x, mid vg.Length) {
			b.down(ink, 2.6, nil, x+b.small.size*0.2, mid-half, mid+half)
		}, f.Key.Median},
	}
	closed := false
	for _, p := range f.Panels {
		for _, row := range p.Rows {
			closed = closed || row.Closed
		}
	}
	if closed {
		c := r
		c.Closed = true
		all = append(all, sample{w, func(x, mid vg.Length) { b.bud(scale{0, 1, x, x + w}, c, mid, half) },
			f.Key.Closed})
	}
	all = append(all, sample{text: f.Key.Rest})
	if b.size != Slide {
		all = append(all, sample{text: f.Key.Error})
	}
	return all
}
