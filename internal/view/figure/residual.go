package figure

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// Residuals is what an analysis leaves unexplained: against the fitted yields, and against what a normal sample would
// show.
type Residuals struct {
	Words
	Fitted, Normal ResidualPanel
	Points         []Residual
}

// ResidualPanel words one of the two panels.
type ResidualPanel struct{ Title, X, Y string }

// Residual is one unit in one season.
type Residual struct {
	Name         string  // written beside a mark that stands far out, where there is room; "" for none
	Fitted       float64 // in the unit of the fitted axis
	Standardized float64
	NormalScore  float64
}

// Draw lays the figure out: two panels side by side, or below each other on a phone.
func (f Residuals) Draw(size Size) *Sheet {
	return plots(size, f.Words,
		f.panel(f.Fitted, false, func(r Residual) float64 { return r.Fitted }),
		f.panel(f.Normal, true, func(r Residual) float64 { return r.NormalScore }))
}

// panel is standardized residuals over something; with diagonal, over what they would be.
func (f Residuals) panel(w ResidualPanel, diagonal bool, over func(Residual) float64) panel {
	low, high, most := math.Inf(1), math.Inf(-1), 2.0
	for _, r := range f.Points {
		low, high = min(low, finite(over(r))), max(high, finite(over(r)))
		most = max(most, math.Abs(finite(r.Standardized)))
	}
	if !(high > low) {
		low, high = finite(low)-1, finite(low)+1
	}
	pad := (high - low) * 0.05
	low, high, most = low-pad, high+pad, most*1.08
	p := panel{title: w.Title, x: w.X, y: w.Y, low: -most, high: most}
	p.across = func(from, to vg.Length) scale { return scale{low, high, from, to} }
	_, p.decimals = scale{low: low, high: high}.ticks(6)
	p.numbers = func(s scale) []float64 {
		ticks, _ := s.ticks(6)
		return ticks
	}
	p.plot = func(b *board, x, y scale) {
		if diagonal { // where they would lie were they a normal sample
			from, to := max(x.low, y.low), min(x.high, y.high)
			if to > from {
				b.line(accent, 1.6, nil, at(x.at(from), y.at(from)), at(x.at(to), y.at(to)))
			}
		}
		r := b.small.size * 0.25
		var taken []ground
		for _, q := range f.Points {
			pt := at(x.at(finite(over(q))), y.at(finite(q.Standardized)))
			taken = append(taken, ground{pt.X - r, pt.Y - r, pt.X + r, pt.Y + r})
		}
		for _, q := range f.Points {
			pt := at(x.at(finite(over(q))), y.at(finite(q.Standardized)))
			b.dot(ink, pt.X, pt.Y, r, true)
			if q.Name == "" {
				continue
			}
			// beside its mark, on the side that is free
			width, base := b.small.of(q.Name), pt.Y+b.small.size*0.33
			for _, left := range []vg.Length{pt.X + r*2, pt.X - r*2 - width} {
				place := ground{left, base - b.small.rise(), left + width, base + b.small.lead() - b.small.rise()}
				free := place.x0 >= x.from && place.x1 <= x.to && place.y0 >= y.to && place.y1 <= y.from
				for _, t := range taken {
					free = free && !place.meets(t)
				}
				if free {
					b.text(b.small, faint, left, base, q.Name)
					taken = append(taken, place)
					break
				}
			}
		}
	}
	p.samples = func(*board) []sample { return nil }
	return p
}
