package figure

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// Funnel is comparisons by their gain and their own error, with the contours at which they are told from no gain.
type Funnel struct {
	Words
	X, Y   string // axis titles: "more sap per tap, %", "standard error"
	Gain   string // what stands at the top: "pooled gain"
	Groups []FunnelGroup
	Edges  []FunnelEdge // from the inner to the outer
}

// FunnelGroup is one practice.
type FunnelGroup struct {
	Name   string
	Pooled *float64 // log ratio; nil where there is none
	Points []FunnelPoint
}

// FunnelPoint is one comparison: its log ratio and the standard error of that.
type FunnelPoint struct{ Log, SE float64 }

// FunnelEdge is a contour: so many standard errors from no gain on either side.
type FunnelEdge struct {
	Name   string
	Errors float64
}

// Draw lays the figure out.
func (f Funnel) Draw(size Size) *Sheet {
	b := newBoard(size, f.Words)
	b.panels([]panel{f.panel()})
	return b.done()
}

func (f Funnel) panel() panel {
	low, high, most := 0., 0.1, 0.02
	for _, g := range f.Groups {
		for _, p := range g.Points {
			low, high, most = min(low, finite(p.Log)), max(high, finite(p.Log)), max(most, finite(p.SE))
		}
		if g.Pooled != nil {
			low, high = min(low, finite(*g.Pooled)), max(high, finite(*g.Pooled))
		}
	}
	pad := (high - low) * 0.06
	low, high, most = low-pad, high+pad, most*1.06
	p := panel{x: f.X, y: f.Y, low: -most, high: 0, chart: true}
	p.across = func(from, to vg.Length) scale { return scale{low, high, from, to} }
	p.label = func(b *board, x float64) string { return b.Number(math.Round(100*math.Expm1(x)), 0) }
	p.upright = func(b *board, y float64, decimals int) string { return b.Number(math.Abs(y), decimals) }
	p.numbers = func(s scale) (at []float64) {
		for _, pct := range []float64{-80, -67, -50, -33, -20, 0, 25, 50, 100, 200, 400, 900, 1900} {
			if x := math.Log1p(pct / 100); s.holds(x) {
				at = append(at, x)
			}
		}
		return at
	}
	p.plot = f.plot
	p.samples = f.samples
	return p
}

// edgeStroke tells the contours apart by their stroke.
func (b *board) edgeStroke(i int) (vg.Length, []vg.Length) {
	switch i {
	case 0:
		return 1, dots
	case 1:
		return 1.4, nil
	}
	return 1, dashes
}

func (f Funnel) plot(b *board, x, y scale) {
	zero, deep := x.kept(0), -y.low
	side := func(errors, sign float64) (pt vg.Point) { // where a contour leaves the plot
		se, end := deep, x.high
		if sign < 0 {
			end = x.low
		}
		if errors*deep > math.Abs(end) {
			se = math.Abs(end) / errors
		}
		return at(x.at(sign*errors*se), y.at(-se))
	}
	b.down(faint, 1.5, nil, zero, y.from, y.to)
	for i, e := range f.Edges {
		width, dash := b.edgeStroke(i)
		for _, sign := range []float64{-1, 1} {
			b.line(faint, width, dash, at(zero, y.to), side(e.Errors, sign))
		}
	}
	r := b.small.size * 0.24
	for i, g := range f.Groups {
		for _, p := range g.Points {
			b.shape(ink, i, x.at(finite(p.Log)), y.at(-finite(p.SE)), r)
		}
	}
	for i, g := range f.Groups {
		if g.Pooled != nil {
			h := x.at(finite(*g.Pooled))
			b.down(accent, 1.4, nil, h, y.to, y.to+b.small.size*1.2)
			b.shape(accent, i, h, y.to+b.small.size*0.3, r*1.25)
		}
	}
}

func (f Funnel) samples(b *board) []sample {
	var all []sample
	r := b.small.size * 0.26
	for i, g := range f.Groups {
		all = append(all, sample{r * 2.6, func(x, mid vg.Length) { b.shape(ink, i, x+r*1.3, mid, r) }, g.Name})
	}
	all = append(all, sample{r * 2.6, func(x, mid vg.Length) {
		b.down(accent, 1.4, nil, x+r*1.3, mid-r*2, mid+r)
		b.shape(accent, 0, x+r*1.3, mid+r*0.6, r)
	}, f.Gain})
	w := b.small.size * 2
	for i, e := range f.Edges {
		all = append(all, sample{w, func(x, mid vg.Length) {
			width, dash := b.edgeStroke(i)
			b.across(faint, width, dash, x, x+w, mid)
		}, e.Name})
	}
	return all
}
