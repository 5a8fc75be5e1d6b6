package figure

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"spile/internal/view/paper"
)

// SVG is the figure for a page of ours: its text is text in the family that the page brings, its colours are the
// page's variables. It has no background of its own.
func (s *Sheet) SVG() []byte { return s.svg(false) }

// SVGFile is the figure as a file of its own, for other programs: with the letters it uses inside it, the light colours
// as plain values and the paper behind it.
func (s *Sheet) SVGFile() []byte { return s.svg(true) }

func (s *Sheet) svg(alone bool) []byte {
	o := drawing{alone: alone}
	o.Grow(200 * len(s.marks))
	o.put(`<svg xmlns="http://www.w3.org/2000/svg" role="img" width="`, s.Width*4/3, `" height="`, s.Height*4/3,
		`" viewBox="0 0 `, s.Width, ` `, s.Height, `" font-family="`+paper.Family+`,Georgia,serif">`, "\n<title>")
	escape(&o.Buffer, s.title)
	o.put("</title>\n")
	if s.desc != "" {
		o.put("<desc>")
		escape(&o.Buffer, s.desc)
		o.put("</desc>\n")
	}
	if alone {
		o.put("<style>")
		var used [3]string
		for _, m := range s.marks {
			if m.text != "" {
				used[m.pen.style] += m.text
			}
		}
		for style, text := range used {
			if text != "" {
				o.put(paper.Style(style).FaceRuleOf(text))
			}
		}
		o.put("</style>\n")
		o.path(mark{colour: paperColour, path: box(0, 0, s.Width, s.Height)})
	}
	for i := 0; i < len(s.marks); i++ {
		m := s.marks[i]
		switch next := i + 1; {
		case m.text != "":
			o.text(m)
		case m.width == 0 && next < len(s.marks) && s.marks[next].outlines(m):
			o.path(m, s.marks[next])
			i = next
		default:
			o.path(m)
		}
	}
	o.put("</svg>\n")
	return o.Bytes()
}

// drawing is an SVG that is being written.
type drawing struct {
	bytes.Buffer
	alone bool // for other programs
}

// put writes texts, numbers, points and colours.
func (o *drawing) put(parts ...any) {
	for _, p := range parts {
		switch p := p.(type) {
		case string:
			o.WriteString(p)
		case vg.Length:
			num(&o.Buffer, p)
		case vg.Point:
			o.put(p.X, " ", p.Y)
		case Colour:
			c := fmt.Sprintf("#%02x%02x%02x", p.Light.R, p.Light.G, p.Light.B)
			if !o.alone {
				c = "var(" + p.Var + "," + c + ")"
			}
			o.WriteString(c)
		}
	}
}

// text states the length that the text was measured to have, so that another font cannot make labels overlap.
func (o *drawing) text(m mark) {
	o.put(`<text x="`, m.at.X, `" y="`, m.at.Y, `" font-size="`, m.pen.size)
	switch m.pen.style {
	case paper.Bold:
		o.put(`" font-weight="700`)
	case paper.Italic:
		o.put(`" font-style="italic`)
	}
	o.put(`" textLength="`, m.pen.of(m.text), `" fill="`, m.colour, `">`)
	escape(&o.Buffer, m.text)
	o.put("</text>\n")
}

// outlines is true of a stroke along the edge of what was filled just before, so that both are one path.
func (m mark) outlines(filled mark) bool {
	return m.text == "" && m.width != 0 && slices.EqualFunc(m.path, filled.path, func(a, b vg.PathComp) bool {
		return a.Type == b.Type && a.Pos == b.Pos && slices.Equal(a.Control, b.Control)
	})
}

// path draws marks of one path.
func (o *drawing) path(marks ...mark) {
	o.put(`<path d="`)
	var at vg.Point
	for _, c := range marks[0].path {
		switch {
		case c.Type == vg.CloseComp:
			o.put("Z")
			continue
		case c.Type == vg.MoveComp:
			o.put("M", c.Pos)
		case c.Type == vg.LineComp && c.Pos.Y == at.Y:
			o.put("H", c.Pos.X)
		case c.Type == vg.LineComp && c.Pos.X == at.X:
			o.put("V", c.Pos.Y)
		case c.Type == vg.LineComp:
			o.put("L", c.Pos)
		case len(c.Control) == 1:
			o.put("Q", c.Control[0], " ", c.Pos)
		default:
			o.put("C", c.Control[0], " ", c.Control[1], " ", c.Pos)
		}
		at = c.Pos
	}
	if marks[0].width != 0 {
		o.put(`" fill="none`)
	}
	for _, m := range marks {
		if m.width == 0 {
			o.put(`" fill="`, m.colour)
			continue
		}
		o.put(`" stroke="`, m.colour, `" stroke-width="`, m.width)
		for i, d := range m.dash {
			if i == 0 {
				o.put(`" stroke-dasharray="`, d)
			} else {
				o.put(" ", d)
			}
		}
	}
	o.put("\"/>\n")
}

// num writes a number to a hundredth, without useless zeros.
func num(b *bytes.Buffer, x vg.Length) {
	var room [24]byte
	t := strconv.AppendFloat(room[:0], float64(x), 'f', 2, 64)
	t = bytes.TrimRight(t, "0")
	t = bytes.TrimSuffix(t, []byte("."))
	if string(t) == "-0" {
		t = t[1:]
	}
	b.Write(t)
}

// escaper also drops what XML 1.0 forbids outright.
var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")

func escape(b *bytes.Buffer, text string) {
	clean := strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0xFFFE || r == 0xFFFF {
			return ' '
		}
		return r
	}, text)
	escaper.WriteString(b, clean)
}
