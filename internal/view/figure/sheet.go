package figure

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"spile/internal/view/paper"
)

// Sheet is a figure laid out: a list of marks, from the top left corner down.
type Sheet struct {
	Width, Height vg.Length // points; 1 CSS px is 3/4 point
	title, desc   string
	marks         []mark
	headed        int       // the marks of its heading, which come first
	below         vg.Length // where its heading ends
}

// Untitled is the figure without its heading, for a place that has a heading of its own.
func (s *Sheet) Untitled() *Sheet {
	if s.headed == 0 {
		return s
	}
	up := s.below - s.left()
	out := &Sheet{Width: s.Width, Height: s.Height - up, title: s.title, desc: s.desc}
	for _, m := range s.marks[s.headed:] {
		m.at.Y -= up
		m.path = slices.Clone(m.path)
		for i := range m.path {
			m.path[i].Pos.Y -= up
			m.path[i].Control = slices.Clone(m.path[i].Control)
			for j := range m.path[i].Control {
				m.path[i].Control[j].Y -= up
			}
		}
		out.marks = append(out.marks, m)
	}
	return out
}

// left is where the heading begins, which is as far from the left as from the top.
func (s *Sheet) left() vg.Length { return s.marks[0].at.X }

// Heading is its title.
func (s *Sheet) Heading() string { return s.title }

// Alt is what stands for the figure where it cannot be seen.
func (s *Sheet) Alt() string { return strings.TrimSpace(s.title + ". " + s.desc) }

// mark is one path filled or stroked, or one string.
type mark struct {
	colour Colour
	path   vg.Path     // y grows downwards; no arcs
	width  vg.Length   // of the stroke; 0 fills
	dash   []vg.Length // of the stroke
	text   string
	pen    pen
	at     vg.Point // left end of the text's baseline
}

// pen is a way to set text.
type pen struct {
	style paper.Style
	size  vg.Length
}

func (p pen) of(text string) vg.Length { return p.style.Width(text, p.size) }

// lead is the distance between two baselines.
func (p pen) lead() vg.Length {
	if p.size >= 24 {
		return p.size * 1.2
	}
	return p.size * 1.28
}

// rise is how far below the top of its line a baseline stands.
func (p pen) rise() vg.Length { return p.size * 0.98 }

// DrawOn replays the figure on a canvas of its width and height, without a background.
func (s *Sheet) DrawOn(c vg.Canvas) {
	for _, m := range s.marks {
		c.SetColor(m.colour)
		switch {
		case m.text != "":
			c.FillString(m.pen.style.Face(m.pen.size), vg.Point{X: m.at.X, Y: s.Height - m.at.Y}, m.text)
		case m.width > 0:
			c.SetLineWidth(m.width)
			c.SetLineDash(m.dash, 0)
			c.Stroke(s.upright(m.path))
		default:
			c.Fill(s.upright(m.path))
		}
	}
}

// upright turns a path to the canvas's own way up: its y grows upwards.
func (s *Sheet) upright(p vg.Path) vg.Path {
	out := make(vg.Path, len(p))
	for i, comp := range p {
		comp.Pos.Y = s.Height - comp.Pos.Y
		if len(comp.Control) > 0 {
			control := make([]vg.Point, len(comp.Control))
			for j, pt := range comp.Control {
				control[j] = vg.Point{X: pt.X, Y: s.Height - pt.Y}
			}
			comp.Control = control
		}
		out[i] = comp
	}
	return out
}

func (s *Sheet) add(m mark) { s.marks = append(s.marks, m) }

// text sets a string with its left end at x.
func (s *Sheet) text(p pen, c Colour, x, baseline vg.Length, text string) {
	if text != "" {
		s.add(mark{colour: c, text: text, pen: p, at: vg.Point{X: x, Y: baseline}})
	}
}

// right sets a string with its right end at x.
func (s *Sheet) right(p pen, c Colour, x, baseline vg.Length, text string) {
	s.text(p, c, x-p.of(text), baseline, text)
}

// centre sets a string with its middle at x.
func (s *Sheet) centre(p pen, c Colour, x, baseline vg.Length, text string) {
	s.text(p, c, x-p.of(text)/2, baseline, text)
}

func (s *Sheet) fill(c Colour, p vg.Path) { s.add(mark{colour: c, path: p}) }

func at(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }

func trace(points ...vg.Point) vg.Path {
	var p vg.Path
	for i, pt := range points {
		if i == 0 {
			p.Move(pt)
		} else {
			p.Line(pt)
		}
	}
	return p
}

// box is a rectangle by two corners.
func box(x0, y0, x1, y1 vg.Length) vg.Path {
	p := trace(at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1))
	p.Close()
	return p
}

// disc is a circle from four cubic curves.
func disc(x, y, r vg.Length) vg.Path {
	const k = 0.5523 // the control points' distance that keeps within 0.03 % of a circle
	var p vg.Path
	p.Move(at(x+r, y))
	p.CubeTo(at(x+r, y+k*r), at(x+k*r, y+r), at(x, y+r))
	p.CubeTo(at(x-k*r, y+r), at(x-r, y+k*r), at(x-r, y))
	p.CubeTo(at(x-r, y-k*r), at(x-k*r, y-r), at(x, y-r))
	p.CubeTo(at(x+k*r, y-r), at(x+r, y-k*r), at(x+r, y))
	p.Close()
	return p
}

// hatch fills a rectangle with strokes rising to the right, gap apart.
func hatch(x0, y0, x1, y1, gap vg.Length) vg.Path {
	var p vg.Path
	x0, x1, y0, y1 = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
	h := y1 - y0
	// A stroke that meets the lower edge at c runs from (c, y1) to (c+h, y0), cut at both sides.
	for c := gap*vg.Length(math.Ceil(float64((x0-h)/gap))) + gap/2; c < x1; c += gap {
		from, to := at(c, y1), at(c+h, y0)
		if from.X < x0 {
			from = at(x0, y1-(x0-c))
		}
		if to.X > x1 {
			to = at(x1, y1-(x1-c))
		}
		if to.X > from.X {
			p.Move(from)
			p.Line(to)
		}
	}
	return p
}

// ground is what something on the sheet covers.
type ground struct{ x0, y0, x1, y1 vg.Length }

func (g ground) meets(o ground) bool {
	return g.x0 < o.x1 && o.x0 < g.x1 && g.y0 < o.y1 && o.y0 < g.y1
}
