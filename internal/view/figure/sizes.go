package figure

import (
	"gonum.org/v1/plot/vg"
)

// Sizes is what a trial brings and costs by its size.
type Sizes struct {
	Words
	X, Y     string // axis titles: "blocks", "money, $"
	Points   []SizePoint
	Best     int    // the size marked; 0: none
	BestName string // "best: 12 blocks, net $31,000"
	Key      SizesKey
}

// SizesKey words the curves, and how exact they are, which a slide leaves out.
type SizesKey struct{ Benefit, Cost, Net, Error string }

// SizePoint is one size.
type SizePoint struct {
	Size               int
	Benefit, Cost, Net float64
}

// Draw lays the figure out.
func (f Sizes) Draw(size Size) *Sheet {
	return plots(size, f.Words, f.panel())
}

func (f Sizes) panel() panel {
	first, last := 0, 0
	var values []float64
	for _, p := range f.Points {
		if first == 0 || p.Size < first {
			first = p.Size
		}
		last = max(last, p.Size)
		values = append(values, p.Benefit, p.Cost, p.Net)
	}
	last = max(last, first+1)
	low, high := extent(values, nil, 0)
	pad := float64(last-first) * 0.03
	p := panel{x: f.X, y: f.Y, low: low, high: high}
	p.across = func(from, to vg.Length) scale { return scale{float64(first) - pad, float64(last) + pad, from, to} }
	p.numbers = whole(1)
	strokes := []func(b *board, p vg.Path){
		func(b *board, p vg.Path) { b.stroke(ink, 1.6, nil, p) },
		func(b *board, p vg.Path) { b.stroke(ink, 1.6, dashes, p) },
		func(b *board, p vg.Path) { b.stroke(accent, 3, nil, p) },
	}
	of := func(p SizePoint, k int) float64 { return []float64{p.Benefit, p.Cost, p.Net}[k] }
	r := func(b *board) vg.Length { return b.small.size * 0.27 }
	ring := func(b *board, x, y vg.Length) {
		b.dot(accent, x, y, r(b)*1.3, false)
		b.stroke(accent, 1.6, nil, disc(x, y, r(b)*2.2))
	}
	p.plot = func(b *board, x, y scale) {
		for k, stroke := range strokes {
			var run []vg.Point
			for _, q := range f.Points {
				run = append(run, at(x.kept(float64(q.Size)), y.kept(finite(of(q, k)))))
			}
			if len(run) > 1 {
				stroke(b, trace(run...))
			}
			end := vg.Length(-1e6)
			for i, pt := range run {
				switch {
				case k == 2 && f.Points[i].Size == f.Best:
					ring(b, pt.X, pt.Y)
				case pt.X-end < b.small.size*0.8:
					continue
				case k == 2:
					b.dot(accent, pt.X, pt.Y, r(b), false)
				default:
					b.dot(ink, pt.X, pt.Y, r(b)*0.8, k == 1)
				}
				end = pt.X
			}
		}
	}
	p.samples = func(b *board) []sample {
		w := b.small.size * 2.2
		var all []sample
		for k, name := range []string{f.Key.Benefit, f.Key.Cost, f.Key.Net} {
			all = append(all, sample{w, func(x, mid vg.Length) {
				strokes[k](b, trace(at(x, mid), at(x+w, mid)))
				if k < 2 {
					b.dot(ink, x+w/2, mid, r(b)*0.8, k == 1)
				} else {
					b.dot(accent, x+w/2, mid, r(b), false)
				}
			}, name})
		}
		if f.Best > 0 {
			all = append(all, sample{r(b) * 4.4, func(x, mid vg.Length) { ring(b, x+r(b)*2.2, mid) }, f.BestName})
		}
		if b.size != Slide {
			all = append(all, sample{text: f.Key.Error})
		}
		return all
	}
	return p
}
