package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
)

// Contest is a map over two assumptions: which choice comes first where, and by how much.
type Contest struct {
	Words
	X, Y    string       // axis titles with units
	At      [2][]float64 // ascending, evenly spaced: where it was worked out, along X and along Y
	Winner  [][]int      // by Y and X: an index into Names
	Lead    [][]float64  // how much it nets above the next
	Names   []string     // of the choices, in the order of their letters
	Now     [2]float64   // the best guesses
	NowName string       // key: "best guesses"
	Figures string       // key: what the numbers are: "A 0.12: A nets 0.12 $ more than the next"
}

// Draw lays the figure out.
func (f Contest) Draw(size Size) *Sheet {
	return plots(size, f.Words, f.panel())
}

// Letter names the k-th choice of a map.
func Letter(k int) string { return string(rune('A' + k%26)) }

// contestGround fills a rectangle as that of choice k: six looks that grey print keeps apart.
func (b *board) contestGround(k int, x0, y0, x1, y1 vg.Length) {
	switch k % 6 {
	case 0:
		b.fill(accentSoft, box(x0, y0, x1, y1))
	case 2:
		b.stroke(inkSoft, 1, nil, hatch(x0, y0, x1, y1, b.hair*9))
	case 3:
		b.fill(rule, box(x0, y0, x1, y1))
	case 4:
		var p vg.Path
		gap := b.hair * 9
		for y := gap * vg.Length(math.Ceil(float64(y0/gap))); y < y1; y += gap {
			p = append(p, trace(at(x0, y), at(x1, y))...)
		}
		b.stroke(inkSoft, 1, nil, p)
	case 5:
		b.fill(accentSoft, box(x0, y0, x1, y1))
		b.stroke(paperColour, 2, nil, hatch(x0, y0, x1, y1, b.hair*8))
	}
}

// thin is the part of a map's width or height below which a ground is a mere strip.
const thin = 0.04

// plain is the map without choices whose ground is nowhere more than a strip: they give way to what is beside them,
// with no number there. The one that comes first at the best guesses stays.
func (f Contest) plain(nx, ny int) Contest {
	broad := make([]float64, len(f.Names))
	run := func(at func(i int) int, n, i int) float64 {
		from, to := i, i
		for from > 0 && at(from-1) == at(i) {
			from--
		}
		for to+1 < n && at(to+1) == at(i) {
			to++
		}
		return float64(to-from+1) / float64(n)
	}
	near := func(at []float64, v float64) (best int) {
		for i := range at {
			if math.Abs(at[i]-v) < math.Abs(at[best]-v) {
				best = i
			}
		}
		return best
	}
	for j := range ny {
		for i, k := range f.Winner[j][:nx] {
			broad[k] = max(broad[k], min(run(func(i int) int { return f.Winner[j][i] }, nx, i),
				run(func(j int) int { return f.Winner[j][i] }, ny, j)))
		}
	}
	if nx > 0 {
		broad[f.Winner[near(f.At[1], f.Now[1])][near(f.At[0], f.Now[0])]] = 1
	}
	out := f
	out.Winner, out.Lead = nil, nil
	for j := range ny {
		row, lead := slices.Clone(f.Winner[j]), slices.Clone(f.Lead[j])
		for i, k := range row {
			if broad[k] < thin {
				row[i], lead[i] = f.beside(nx, ny, i, j, func(k int) bool { return broad[k] >= thin }), math.NaN()
			}
		}
		out.Winner, out.Lead = append(out.Winner, row), append(out.Lead, lead)
	}
	return out
}

// beside is the nearest choice that will do; where there is none, the one that is there.
func (f Contest) beside(nx, ny, i, j int, will func(k int) bool) int {
	for d := 1; d < max(nx, ny); d++ {
		for _, at := range [][2]int{{i - d, j}, {i + d, j}, {i, j - d}, {i, j + d}} {
			if at[0] >= 0 && at[0] < nx && at[1] >= 0 && at[1] < ny && will(f.Winner[at[1]][at[0]]) {
				return f.Winner[at[1]][at[0]]
			}
		}
	}
	return f.Winner[j][i]
}

func (f Contest) panel() panel {
	nx, ny := len(f.At[0]), len(f.At[1])
	if len(f.Winner) < ny || len(f.Lead) < ny || nx < 2 || ny < 2 {
		nx, ny = 0, 0
	}
	f = f.plain(nx, ny)
	p := panel{x: f.X, y: f.Y, high: 1, chart: true}
	xl, xh := 0., 1.
	if nx > 0 {
		xl, xh = finite(f.At[0][0]), finite(f.At[0][nx-1])
		p.low, p.high = finite(f.At[1][0]), finite(f.At[1][ny-1])
	}
	if !(xh > xl) {
		xh = xl + 1
	}
	if !(p.high > p.low) {
		p.high = p.low + 1
	}
	s := scale{low: xl, high: xh}
	ticks, decimals := s.ticks(6)
	p.decimals, p.numbers = decimals, func(scale) []float64 { return ticks }
	p.across = func(from, to vg.Length) scale { return scale{xl, xh, from, to} }
	p.plot = func(b *board, x, y scale) { f.plot(b, x, y, nx, ny) }
	p.samples = func(b *board) []sample {
		w, h := b.small.size*1.6, b.small.size*0.5
		var all []sample
		for k, name := range f.Names {
			if !slices.ContainsFunc(f.Winner, func(row []int) bool { return slices.Contains(row, k) }) {
				continue
			}
			all = append(all, sample{w, func(x, mid vg.Length) {
				b.contestGround(k, x, mid-h, x+w, mid+h)
				b.stroke(ink, 1, nil, box(x, mid-h, x+w, mid+h))
				b.centre(pen{b.bold.style, b.small.size}, ink, x+w/2, mid+b.small.size*0.34, Letter(k))
			}, name})
		}
		r := b.small.size * 0.3
		return append(all, sample{r * 3.4, func(x, mid vg.Length) { b.contestNow(x+r*1.7, mid) }, f.NowName},
			sample{text: f.Figures})
	}
	return p
}

// contestNow marks the best guesses.
func (b *board) contestNow(x, y vg.Length) {
	r := b.small.size * 0.3
	b.fill(paperColour, disc(x, y, r*1.7))
	b.stroke(ink, 1.6, nil, disc(x, y, r*1.7))
	b.fill(ink, disc(x, y, r*0.8))
}

func (f Contest) plot(b *board, x, y scale, nx, ny int) {
	if nx == 0 {
		return
	}
	// A point stands for the ground around it, as far as the middle to the next one.
	edge := func(s scale, n, i int) vg.Length {
		v := (float64(i) - 0.5) / float64(n-1)
		return s.at(s.low + (s.high-s.low)*min(max(v, 0), 1))
	}
	for j := range ny {
		for i := 0; i < nx; {
			k, from := f.Winner[j][i], i
			for i < nx && f.Winner[j][i] == k {
				i++
			}
			b.contestGround(k, edge(x, nx, from), edge(y, ny, j+1), edge(x, nx, i), edge(y, ny, j))
		}
	}
	var border vg.Path
	for j := range ny {
		for i := range nx {
			if i+1 < nx && f.Winner[j][i] != f.Winner[j][i+1] {
				border = append(border, trace(at(edge(x, nx, i+1), edge(y, ny, j)),
					at(edge(x, nx, i+1), edge(y, ny, j+1)))...)
			}
			if j+1 < ny && f.Winner[j][i] != f.Winner[j+1][i] {
				border = append(border, trace(at(edge(x, nx, i), edge(y, ny, j+1)),
					at(edge(x, nx, i+1), edge(y, ny, j+1)))...)
			}
		}
	}
	b.stroke(ink, 2, nil, border)
	b.stroke(faint, 1, nil, box(x.from, y.to, x.to, y.from))

	var now *ground
	if x.holds(f.Now[0]) && y.holds(f.Now[1]) {
		h, v := x.at(f.Now[0]), y.at(f.Now[1])
		b.contestNow(h, v)
		r := b.small.size * 0.7
		now = &ground{h - r, v - r, h + r, v + r}
	}
	f.letters(b, x, y, nx, ny, now, edge)
}

// letters writes who wins and by how much, in rows, wherever a label lies within one choice's ground.
func (f Contest) letters(b *board, x, y scale, nx, ny int, now *ground, edge func(s scale, n, i int) vg.Length) {
	bold := pen{b.bold.style, b.small.size}
	most := 0.0
	for j := range ny {
		for i := range nx {
			most = max(most, finite(f.Lead[j][i]))
		}
	}
	wide := min(b.small.of(b.Number(most, 2)), x.to-x.from)
	label := func(k int, lead string) vg.Length {
		return bold.of(Letter(k)) + b.small.size*0.3 + b.small.of(lead)
	}
	columns := max(1, int((x.to-x.from)/(wide+b.small.size*3.2)))
	rows := max(1, int((y.from-y.to)/(b.small.lead()*2.2)))
	var taken []ground
	if now != nil {
		taken = append(taken, *now)
	}
	named := map[int]bool{}
	write := func(h, v vg.Length) {
		i := min(int(float64((h-x.from)/(x.to-x.from))*float64(nx-1)+0.5), nx-1)
		j := min(int(float64((y.from-v)/(y.from-y.to))*float64(ny-1)+0.5), ny-1)
		k := f.Winner[j][i]
		if math.IsNaN(f.Lead[j][i]) {
			return
		}
		lead := b.Number(finite(f.Lead[j][i]), 2)
		w := label(k, lead)
		pad := b.small.size * 0.3
		g := ground{h - w/2 - pad, v - pad - b.small.size*0.4, h + w/2 + pad, v + pad + b.small.size*0.4}
		if g.x0 < x.from || g.x1 > x.to || g.y0 < y.to || g.y1 > y.from {
			return
		}
		for _, t := range taken {
			if g.meets(t) {
				return
			}
		}
		for jj := range ny {
			for ii := range nx {
				if f.Winner[jj][ii] != k &&
					g.meets(ground{edge(x, nx, ii), edge(y, ny, jj+1), edge(x, nx, ii+1), edge(y, ny, jj)}) {
					return
				}
			}
		}
		taken, named[k] = append(taken, g), true
		b.text(bold, ink, h-w/2, v+b.small.size*0.34, Letter(k))
		b.text(b.small, ink, h+w/2-b.small.of(lead), v+b.small.size*0.34, lead)
	}
	for r := range rows {
		for c := range columns {
			write(x.from+(x.to-x.from)*(vg.Length(c)+0.5)/vg.Length(columns),
				y.to+(y.from-y.to)*(vg.Length(r)+0.5)/vg.Length(rows))
		}
	}
	for j := range ny { // a ground between the rows
		for i := range nx {
			if !named[f.Winner[j][i]] {
				write(x.from+(x.to-x.from)*vg.Length(i)/vg.Length(nx-1),
					y.from-(y.from-y.to)*vg.Length(j)/vg.Length(ny-1))
			}
		}
	}
}
