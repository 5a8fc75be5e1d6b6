package figure

import (
	"bytes"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"spile/internal/view/paper"
)

// SVG is the figure for a page of ours: its text is text in the family that the page brings, its colours are the
// page's variables. It has no background of its own.
func (s *Sheet) SVG() []byte { return s.svg(false) }

// SVGFile is the figure as a file of its own, for other programs: with the fonts it uses inside it, the light colours
// as plain values and the paper behind it.
func (s *Sheet) SVGFile() []byte { return s.svg(true) }

func (s *Sheet) svg(alone bool) []byte {
	var b bytes.Buffer
	b.Grow(200 * len(s.marks))
	b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" role="img" width="`)
	num(&b, s.Width*4/3)
	b.WriteString(`" height="`)
	num(&b, s.Height*4/3)
	b.WriteString(`" viewBox="0 0 `)
	num(&b, s.Width)
	b.WriteByte(' ')
	num(&b, s.Height)
	b.WriteString(`" font-family="` + paper.Family + `,Georgia,serif">`)
	b.WriteString("\n<title>")
	escape(&b, s.title)
	b.WriteString("</title>\n")
	if s.desc != "" {
		b.WriteString("<desc>")
		escape(&b, s.desc)
		b.WriteString("</desc>\n")
	}
	if alone {
		b.WriteString("<style>")
		var used [3]bool
		for _, m := range s.marks {
			if m.text != "" {
				used[m.pen.style] = true
			}
		}
		for style, yes := range used {
			if yes {
				b.WriteString(paper.Style(style).FaceRule())
			}
		}
		b.WriteString("</style>\n")
		writePath(&b, mark{colour: paperColour, path: box(0, 0, s.Width, s.Height)}, alone)
	}
	for _, m := range s.marks {
		if m.text != "" {
			writeText(&b, m, alone)
		} else {
			writePath(&b, m, alone)
		}
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

// writeText states the length that the text was measured to have, so that another font cannot make labels overlap.
func writeText(b *bytes.Buffer, m mark, alone bool) {
	b.WriteString(`<text x="`)
	num(b, m.at.X)
	b.WriteString(`" y="`)
	num(b, m.at.Y)
	b.WriteString(`" font-size="`)
	num(b, m.pen.size)
	switch m.pen.style {
	case paper.Bold:
		b.WriteString(`" font-weight="700`)
	case paper.Italic:
		b.WriteString(`" font-style="italic`)
	}
	b.WriteString(`" textLength="`)
	num(b, m.pen.of(m.text))
	b.WriteString(`" fill="`)
	writeColour(b, m.colour, alone)
	b.WriteString(`">`)
	escape(b, m.text)
	b.WriteString("</text>\n")
}

func writePath(b *bytes.Buffer, m mark, alone bool) {
	b.WriteString(`<path d="`)
	for _, c := range m.path {
		switch {
		case c.Type == vg.CloseComp:
			b.WriteByte('Z')
			continue
		case c.Type == vg.MoveComp:
			b.WriteByte('M')
		case c.Type == vg.LineComp:
			b.WriteByte('L')
		case len(c.Control) == 1:
			b.WriteByte('Q')
		default:
			b.WriteByte('C')
		}
		for _, pt := range c.Control {
			point(b, pt)
			b.WriteByte(' ')
		}
		point(b, c.Pos)
	}
	if m.width == 0 {
		b.WriteString(`" fill="`)
		writeColour(b, m.colour, alone)
	} else {
		b.WriteString(`" fill="none" stroke="`)
		writeColour(b, m.colour, alone)
		b.WriteString(`" stroke-width="`)
		num(b, m.width)
		if len(m.dash) > 0 {
			b.WriteString(`" stroke-dasharray="`)
			for i, d := range m.dash {
				if i > 0 {
					b.WriteByte(' ')
				}
				num(b, d)
			}
		}
	}
	b.WriteString("\"/>\n")
}

func writeColour(b *bytes.Buffer, c Colour, alone bool) {
	const digits = "0123456789abcdef"
	if !alone {
		b.WriteString("var(")
		b.WriteString(c.Var)
		b.WriteByte(',')
	}
	b.WriteByte('#')
	for _, v := range []byte{c.Light.R, c.Light.G, c.Light.B} {
		b.WriteByte(digits[v>>4])
		b.WriteByte(digits[v&15])
	}
	if !alone {
		b.WriteByte(')')
	}
}

func point(b *bytes.Buffer, p vg.Point) {
	num(b, p.X)
	b.WriteByte(' ')
	num(b, p.Y)
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
