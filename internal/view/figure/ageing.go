package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
)

// Draw lays the figure out: two panels side by side, or below each other on a phone.
func (f Ageing) Draw(size Size) *Sheet {
	var panels []panel
	if f.Gain.Drawn() || f.Profit == nil {
		panels = append(panels, f.Gain.panel())
	}
	if f.Profit != nil {
		panels = append(panels, f.Profit.panel(f.Gain.NoEvidence))
	}
	return plots(size, f.Words, panels...)
}

// Drawn is true where there is anything in it.
func (f AgePanel) Drawn() bool { return len(f.Points)+len(f.Curves) > 0 || f.Floor != nil }

// plots is a figure of plots, side by side, or below each other on a phone.
func plots(size Size, w Words, panels ...panel) *Sheet {
	b := newBoard(size, w)
	if size != Phone {
		b.panels(panels)
		return b.done()
	}
	for i, p := range panels {
		if i > 0 {
			b.y += b.gap * 2
		}
		b.panels([]panel{p})
	}
	return b.done()
}

// panel is a plot with its words: what stands over it, in it and below it.
type panel struct {
	title, x, y string
	over        string // words at the right end of the strip over the plot
	chart       bool   // both axes matter alike: a higher plot
	low, high   float64
	across      func(from, to vg.Length) scale
	numbers     func(s scale) []float64 // where the horizontal axis has numbers
	decimals    int                     // of those numbers
	// what stands for a number of either axis in the place of itself; nil: itself
	label   func(b *board, x float64) string
	upright func(b *board, y float64, decimals int) string
	plot    func(b *board, x, y scale)
	samples func(b *board) []sample
}

// heading is what stands over a plot.
func (p panel) heading(b *board) {
	b.block(b.bold, ink, p.title, b.most(1))
	b.block(b.small, ink, p.y, b.most(3))
}

// strip is the words at the right end, just over the plot.
func (p panel) strip(b *board) {
	for _, l := range b.small.wrap(p.over, b.edge-b.left, b.most(2)) {
		b.right(b.small, faint, b.edge, b.y+b.small.rise(), l)
		b.y += b.small.lead()
	}
}

// under is what stands below the numbers of a plot.
func (p panel) under(b *board) {
	b.y += b.small.lead() + 2 // the numbers
	b.block(b.small, ink, p.x, b.most(3))
	b.y += b.gap / 3
	b.key(p.samples(b))
}

// panels draws plots beside each other, their tops and bottoms level.
func (b *board) panels(panels []panel) {
	left, edge, top := b.left, b.edge, b.y
	n := vg.Length(len(panels))
	gutter := b.base.size * 2
	width := (edge - left - gutter*(n-1)) / n
	each := func(draw func(p panel)) {
		for i, p := range panels {
			b.left = left + vg.Length(i)*(width+gutter)
			b.edge = b.left + width
			draw(p)
		}
		b.left, b.edge = left, edge
	}
	var head, strip, foot, height vg.Length
	measure := func() {
		head, strip, foot = 0, 0, 0
		each(func(p panel) {
			head = max(head, b.tall(func() { p.heading(b) }))
			strip = max(strip, b.tall(func() { p.strip(b) }))
			foot = max(foot, b.tall(func() { p.under(b) }))
		})
		height = b.plotHeight(slices.ContainsFunc(panels, func(p panel) bool { return p.chart }),
			b.Height-b.margin-top-head-strip-foot-4)
	}
	if measure(); height < 160 { // a slide: the key in shorter words
		b.terse = true
		measure()
	}
	b.rows = 4 // where the plots stay high enough, all of the key
	if measure(); height < 130 {
		b.rows = 3
		measure()
	}
	plotTop := top + head + strip + 4
	bottom := plotTop + height
	each(func(p panel) {
		b.y = top
		p.heading(b)
		b.y = plotTop - 2 - b.tall(func() { p.strip(b) })
		p.strip(b)
		p.axes(b, plotTop, bottom)
		b.y = bottom
		p.under(b)
	})
	b.y = bottom + foot
}

// plotHeight is how high plots are: on a slide, what is left of it.
func (b *board) plotHeight(chart bool, left vg.Length) vg.Length {
	switch {
	case b.size == Slide:
		return max(left, 40)
	case chart && b.size == Phone:
		return (b.edge - b.left) * 0.9
	case chart:
		return (b.edge - b.left) * 0.52
	case b.size == Phone:
		return 150
	}
	return 170
}

// axes draws a plot between its axes, the numbers of the upright one left of it.
func (p panel) axes(b *board, top, bottom vg.Length) {
	low, high := p.low, p.high
	if !(high > low) {
		high = low + 1
	}
	y := scale{low, high, bottom, top}
	ticks, decimals := y.ticks(max(1, int((bottom-top)/(b.small.lead()*1.25))))
	written := func(v float64) string {
		if p.upright != nil {
			return p.upright(b, v, decimals)
		}
		return b.Number(v, decimals)
	}
	column := vg.Length(0)
	for _, v := range ticks {
		column = max(column, b.small.of(written(v)))
	}
	if column > (b.edge-b.left)/3 { // absurd numbers
		ticks, column = nil, 0
	}
	from := b.left + column + b.small.size*0.5
	var grid vg.Path
	for _, v := range ticks {
		h := y.at(v)
		base := min(max(h+b.small.size*0.34, top+b.small.size*0.75), bottom)
		b.right(b.small, faint, from-b.small.size*0.5, base, written(v))
		grid = append(grid, trace(at(from, h), at(b.edge, h))...)
	}
	if !p.chart {
		b.stroke(rule, 1, nil, grid)
	}
	x := p.across(from, b.edge)
	p.plot(b, x, y)
	if y.holds(0) {
		b.across(faint, 1.5, nil, from, b.edge, y.at(0))
	}
	b.across(faint, 1, nil, from, b.edge, bottom)
	p.along(b, x, bottom)
}

// along writes the numbers of the horizontal axis, as many as there is room for.
func (p panel) along(b *board, x scale, bottom vg.Length) {
	end := x.from - 1e6
	for _, v := range p.numbers(x) {
		t := b.Number(v, p.decimals)
		if p.label != nil {
			t = p.label(b, v)
		}
		w, h := b.small.of(t), x.at(v)
		if h-w/2 < end+b.small.size*0.4 || h+w/2 > b.edge || h-w/2 < b.left {
			continue
		}
		b.down(faint, 1, nil, h, bottom, bottom+b.small.size*0.25)
		b.centre(b.small, faint, h, bottom+b.small.rise()+2, t)
		end = h + w/2
	}
}

// extent is an axis from zero that holds all values, and the ends of their intervals unless these lie further out than
// slack times what the values span.
func extent(values, ends []float64, slack float64) (low, high float64) {
	for _, v := range values {
		low, high = min(low, finite(v)), max(high, finite(v))
	}
	if high == low {
		high = low + 1
	}
	beyond := (high - low) * slack
	from, to := low-beyond, high+beyond
	for _, e := range ends {
		low, high = min(low, max(finite(e), from)), max(high, min(finite(e), to))
	}
	pad := (high - low) * 0.03
	if low < 0 {
		low -= pad
	}
	return low, high + pad
}

// standing draws an interval that stands; where it runs out of the axis it ends in an arrow.
func (b *board) standing(c Colour, x vg.Length, y scale, r Range, width vg.Length, dash []vg.Length) {
	if !(r.High > r.Low) {
		return
	}
	b.down(c, width, dash, x, y.kept(finite(r.Low)), y.kept(finite(r.High)))
	b.beyond(c, width, b.small.size*0.22, y, r, func(along, off vg.Length) vg.Point { return at(x+off, along) })
}

// dot is a mark of a value, full or hollow.
func (b *board) dot(c Colour, x, y, r vg.Length, hollow bool) {
	if hollow {
		b.fill(paperColour, disc(x, y, r))
		b.stroke(c, 1.6, nil, disc(x, y, r))
	} else {
		b.fill(c, disc(x, y, r))
	}
}

func (f AgePanel) panel() panel {
	longest := finite(f.Oldest)
	var values, ends []float64
	for _, c := range f.Curves {
		for _, p := range c.At {
			longest = max(longest, finite(p.Age))
			values = append(values, p.Gain)
			ends = append(ends, p.Range.Low, p.Range.High)
		}
	}
	for _, p := range f.Points {
		longest = max(longest, finite(p.Age))
		values = append(values, p.Gain)
		ends = append(ends, p.Range.Low, p.Range.High)
	}
	if f.Floor != nil {
		values = append(values, f.Floor.Gain)
	}
	low, high := extent(values, ends, 0.8)
	p := panel{title: f.Title, x: f.X, y: f.Y, low: low, high: high}
	beyond := longest > finite(f.Oldest)
	if beyond {
		p.over = f.NoEvidence
	}
	p.across = func(from, to vg.Length) scale { return scale{-0.35, longest + 0.35, from, to} }
	p.numbers = whole(0)
	p.plot = func(b *board, x, y scale) {
		if beyond {
			from := x.at(finite(f.Oldest) + 0.3)
			b.stroke(rule, 1, nil, hatch(from, y.to, x.to, y.from, b.hair*9))
			b.down(faint, 1, dashes, from, y.to, y.from)
		}
		f.band(b, x, y)
		if f.Floor != nil {
			h := y.at(finite(f.Floor.Gain))
			b.across(ink, 1.4, dots, x.from, x.to, h)
		}
		f.points(b, x, y)
		for i := range f.Curves {
			f.curve(b, x, y, i)
		}
	}
	p.samples = func(b *board) []sample {
		w := b.small.size * 2.2
		var all []sample
		for i, c := range f.Curves {
			all = append(all, sample{w,
				func(x, mid vg.Length) { b.curveStroke(i, false, trace(at(x, mid), at(x+w, mid))) }, c.Name})
		}
		if f.Floor != nil {
			all = append(all, sample{w,
				func(x, mid vg.Length) { b.across(ink, 1.4, dots, x, x+w, mid) }, f.Floor.Name})
		}
		if len(f.Points) > 0 {
			r := b.small.size * 0.25
			all = append(all, sample{r * 2, func(x, mid vg.Length) {
				b.down(ink, 1.3, nil, x+r, mid-r*2, mid+r*2)
				b.dot(ink, x+r, mid, r, false)
			}, f.Point})
		}
		return all
	}
	return p
}

// whole numbers from first on.
func whole(first float64) func(s scale) []float64 {
	return func(s scale) []float64 {
		var at []float64
		ticks, decimals := s.ticks(20)
		if decimals > 0 { // few seasons: every one
			ticks = nil
			for v := int(math.Ceil(s.low)); float64(v) <= s.high; v++ {
				ticks = append(ticks, float64(v))
			}
		}
		for _, v := range ticks {
			if v >= first {
				at = append(at, v)
			}
		}
		return at
	}
}

// curveStroke tells the curves apart: the first a broad stroke in the accent, the second a double one in ink. Dashed
// beyond what was studied.
func (b *board) curveStroke(i int, beyond bool, p vg.Path) {
	var dash []vg.Length
	if beyond {
		dash = dashes
	}
	if i == 0 {
		b.stroke(accent, 3.2, dash, p)
		return
	}
	b.stroke(ink, 4.2, dash, p)
	b.stroke(paperColour, 1.9, dash, p)
}

// curve draws one curve, solid to the oldest age studied and dashed from there.
func (f AgePanel) curve(b *board, x, y scale, i int) {
	var solid, dashed []vg.Point
	oldest := finite(f.Oldest)
	var last AgeGain
	for k, p := range f.Curves[i].At {
		pt := at(x.kept(finite(p.Age)), y.kept(finite(p.Gain)))
		if p.Age > oldest {
			if k > 0 && last.Age < oldest { // the curve changes its stroke at the oldest age itself
				share := (oldest - last.Age) / (p.Age - last.Age)
				g := finite(last.Gain) + share*(finite(p.Gain)-finite(last.Gain))
				solid = append(solid, at(x.at(oldest), y.kept(g)))
			}
			if len(dashed) == 0 && len(solid) > 0 {
				dashed = append(dashed, solid[len(solid)-1])
			}
			dashed = append(dashed, pt)
		} else {
			solid = append(solid, pt)
		}
		last = p
	}
	if len(solid) > 1 {
		b.curveStroke(i, false, trace(solid...))
	}
	if len(dashed) > 1 {
		b.curveStroke(i, true, trace(dashed...))
	}
}

// band is the interval of the first curve as an area, as far as there is evidence.
func (f AgePanel) band(b *board, x, y scale) {
	if len(f.Curves) == 0 {
		return
	}
	var run []ranging
	for _, p := range f.Curves[0].At {
		if p.Age <= finite(f.Oldest) {
			run = append(run, ranging{p.Age, p.Range})
		}
	}
	b.band(accentSoft, x, y, run)
}

// ranging is an interval at a place of the other axis.
type ranging struct {
	at float64
	Range
}

// band is the area between the ends of intervals.
func (b *board) band(c Colour, x, y scale, run []ranging) {
	var up, down []vg.Point
	for _, r := range run {
		if r.High > r.Low {
			h := x.kept(finite(r.at))
			up, down = append(up, at(h, y.kept(finite(r.High)))), append(down, at(h, y.kept(finite(r.Low))))
		}
	}
	if len(up) > 1 {
		slices.Reverse(down)
		p := trace(append(up, down...)...)
		p.Close()
		b.fill(c, p)
	}
}

// points are the studies; those of one age stand beside each other.
func (f AgePanel) points(b *board, x, y scale) {
	many := map[float64]int{}
	for _, p := range f.Points {
		many[finite(p.Age)]++
	}
	seen := map[float64]int{}
	for _, p := range f.Points {
		age := finite(p.Age)
		n, k := many[age], seen[age]
		seen[age]++
		aside := (float64(k) - float64(n-1)/2) * min(0.09, 0.56/float64(n))
		h := x.kept(age + aside)
		if n > 9 { // too many for their intervals to be read one by one: only as a ground for the marks
			b.standing(inkSoft, h, y, p.Range, 0.5, nil)
		} else {
			b.standing(ink, h, y, p.Range, 1.2, nil)
		}
		r := b.small.size * vg.Length(min(0.25, 1.2/math.Sqrt(float64(n))*0.25+0.08))
		b.dot(ink, h, y.at(finite(p.Gain)), r, p.Weak)
	}
}

func (f LengthPanel) panel(noEvidence string) panel {
	var values, ends []float64
	last, unstudied := 1, false
	for _, l := range f.Lengths {
		last = max(last, l.Every)
		values = append(values, l.Net)
		ends = append(ends, l.Range.Low, l.Range.High)
		unstudied = unstudied || !l.Studied
	}
	low, high := extent(values, ends, 1.5)
	p := panel{title: f.Title, x: f.X, y: f.Y, low: low, high: high}
	p.across = func(from, to vg.Length) scale { return scale{0.4, float64(last) + 0.6, from, to} }
	p.numbers = whole(1)
	r := func(b *board) vg.Length { return b.small.size * 0.32 }
	p.plot = func(b *board, x, y scale) {
		if f.FlatFrom > 0 {
			b.fill(accentSoft, box(x.kept(float64(f.FlatFrom)-0.45), y.to, x.kept(float64(f.FlatTo)+0.45), y.from))
			b.across(rule, 1, nil, x.from, x.to, y.at(0))
		}
		var run []vg.Point
		for _, l := range f.Lengths {
			run = append(run, at(x.kept(float64(l.Every)), y.at(finite(l.Net))))
		}
		b.line(faint, 1, nil, run...)
		for i, l := range f.Lengths {
			pt, best := run[i], l.Every == f.Best
			c, dash, size := ink, []vg.Length(nil), r(b)
			if !l.Studied {
				dash = dashes
			}
			if best {
				c, size = accent, size*1.5
			}
			b.standing(c, pt.X, y, l.Range, 2, dash)
			b.dot(c, pt.X, pt.Y, size, !l.Studied)
			if best {
				b.stroke(accent, 1.6, nil, disc(pt.X, pt.Y, size+b.hair*4))
			}
		}
	}
	p.samples = func(b *board) []sample {
		size := r(b) * 1.5
		ring := size + b.hair*4
		var all []sample
		if f.Best > 0 {
			all = append(all, sample{ring * 2, func(x, mid vg.Length) {
				b.dot(accent, x+ring, mid, size, false)
				b.stroke(accent, 1.6, nil, disc(x+ring, mid, ring))
			}, f.BestName})
		}
		if f.FlatFrom > 0 {
			w := b.small.size * 1.4
			all = append(all, sample{w, func(x, mid vg.Length) {
				b.fill(accentSoft, box(x, mid-b.small.size*0.35, x+w, mid+b.small.size*0.35))
			}, f.FlatName})
		}
		if unstudied {
			all = append(all, sample{r(b) * 2, func(x, mid vg.Length) {
				b.down(ink, 2, dashes, x+r(b), mid-b.small.size*0.4, mid+b.small.size*0.4)
				b.dot(ink, x+r(b), mid, r(b), true)
			}, noEvidence})
		}
		return all
	}
	return p
}
